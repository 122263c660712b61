"""Existing lines without an edge, and displaced ones."""

import numpy as np

from ....shared.arrays.ragged import group_index
from ....shared.lines.rays import stations_along
from ...host.figures import translate
from .found import DISPLACED, NO_EDGE
from .layers import placed

SPACING = 1.0  # m, of the stations at which a line is compared with the edges


def tr(text):
    return translate("Findings", text)


def find_existing(layer, edges, limits, found):
    """Existing lines without an edge; of those that have one in part, the station farthest from all
    edges (where these are given) is the place."""
    lines = layer.lines()
    where, length = placed(lines)
    status, share = layer.texts("status"), layer.numbers("matched_share")
    visited = layer.numbers("visited_share")
    length_visited = length * np.where(np.isfinite(visited), visited, 1.0)
    without = length_visited * (1 - np.where(np.isfinite(share), share, 0.0))
    no_edge = np.isin(status, ("only_existing", "partly")) & np.isin(status, limits.statuses)
    short = no_edge & (without < limits.length) & np.isfinite(where.x)
    found.leave(
        layer,
        tr("lines with less than the minimum length without an edge: {}"),
        np.count_nonzero(short),
    )
    rows = np.flatnonzero(no_edge & ~short)
    if edges is not None:
        part = np.isin(np.arange(len(layer.ids)), rows[status[rows] == "partly"])
        far = _farthest(lines, part, edges.lines())
        where.x[far[0]], where.y[far[0]] = far[1:]
    detail = [
        tr(
            "No edge along {:.1f} m of an existing line of {:.1f} m: walk it, or see whether it is"
            " gone"
        ).format(*sizes)
        for sizes in zip(without[rows].tolist(), length[rows].tolist())
    ]
    found.add(NO_EDGE, layer, rows, where.of(rows), detail, metres=without[rows])
    moved = (status == "displaced") & ("displaced" in limits.statuses)
    rows, offset = np.flatnonzero(moved), layer.numbers("offset_mean")
    detail = [
        tr("Existing line of {:.1f} m displaced{}: see whether it was moved").format(
            size, tr(" by {:+.2f} m").format(off) if off == off else ""
        )
        for size, off in zip(length[rows].tolist(), offset[rows].tolist())
    ]
    found.add(DISPLACED, layer, rows, where.of(rows), detail, metres=length[rows])


def _farthest(lines, wanted, edges):
    """Station farthest from all edges of each wanted row: rows, x, y."""
    import shapely

    rays = stations_along(lines, SPACING, wanted[lines.line])
    if not len(rays) or not len(edges.line):
        return np.zeros(0, np.int64), np.zeros(0), np.zeros(0)
    part = group_index(edges.offsets)
    tree = shapely.STRtree(shapely.linestrings(np.column_stack([edges.x, edges.y]), indices=part))
    distance = tree.query_nearest(
        shapely.points(rays.x, rays.y), return_distance=True, all_matches=False
    )[1]
    row = lines.line[rays.part]
    order = np.lexsort((np.round(rays.y, 3), np.round(rays.x, 3), -np.round(distance, 3), row))
    best = order[np.append(True, np.diff(row[order]) > 0)]
    return row[best], rays.x[best], rays.y[best]
