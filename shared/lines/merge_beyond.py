"""What no merged edge shows: walks that leave it beyond reach and come back, remnants between two
edges, and what an overlap bridged. So every place of the source is in reach of an edge or
listed."""

import numpy as np
import shapely

from ..arrays.ragged import cumulative, group_index, offsets_of
from .lines import Lines
from .merge_records import Made, Stretch, as_walked, listed_of, pass_of, stations_of_piece
from .merge_results import REST, SINGLE
from .overlaps import runs_of
from .rays import Index


def list_parted(ways, edges, max_offset):
    """List walks that leave an edge beyond reach and come back to it, and remnants.

    Parameters
    ----------
    ways : MergePaths
    edges : list of MadeEdge
        Those of all paths first.
    max_offset : float
        How far apart two walks of one edge may lie, metres.

    Returns
    -------
    Made
    """
    made = Made()
    for number, path in enumerate(ways.paths):
        start, stop = path.attached
        if edges[number].state == REST and start == stop >= 0:
            stretch = Stretch(*path.chain[0])
            made.listed.append(
                _listed_beside(ways, stretch, edges, (start, number), "parted", max_offset)
            )
    for piece, start, stop, attached in ways.remnants:
        _add_remnant(made, ways, Stretch(piece, start, stop), edges, max(attached), max_offset)
    return made


def list_far(ways, edges, max_offset, tolerance, progress):
    """List what an overlap bridged and no edge shows.

    Parameters
    ----------
    ways : MergePaths
    edges : list of MadeEdge
        Those of all paths first.
    max_offset : float
        How far apart two walks of one edge may lie, metres.
    tolerance : float
        Maximum distance between the weighted mean and the line written, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Made
    """
    made, rays = Made(), ways.rays
    far = _beyond_edges(ways, edges, max_offset + tolerance, progress)
    for piece in np.unique(rays.part[far]).tolist():
        rows = stations_of_piece(rays, piece)
        for first, _, start, stop in runs_of(
            far[rows],
            rays.chainage[rows],
            float(rays.weight[rows.start]),
            float(ways.length[piece]),
            bool(ways.pieces.closed[piece]),
        ):
            edge = int(ways.owner[rows.start + first % (rows.stop - rows.start)])
            _add_remnant(made, ways, Stretch(piece, start, stop), edges, edge, max_offset)
    return made


def _beyond_edges(ways, edges, reach, progress):
    """Mask of the stations of merged pieces that stand for a place beyond reach of all edges but
    the unchanged ones."""
    rays, lines = ways.rays, ways.pieces.lines
    far = np.zeros(len(rays), bool)
    changed = [number for number, edge in enumerate(edges) if edge.state != SINGLE]
    pieces = np.unique(rays.part[(ways.owner >= 0) & np.isin(ways.owner, changed)])
    if not changed or not len(pieces):
        return far
    shapes = [edges[number].xyz for number in changed]
    offsets = offsets_of([len(one) for one in shapes])
    index = Index(Lines.from_columns(*np.concatenate(shapes)[:, :2].T, None, offsets))
    of_vertex, along = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)
    stations = np.flatnonzero(np.isin(rays.part, pieces))
    vertices = np.flatnonzero(np.isin(of_vertex, pieces))
    away = index.nearest(
        np.concatenate([rays.x[stations], lines.x[vertices]]),
        np.concatenate([rays.y[stations], lines.y[vertices]]),
        reach,
        progress,
    )
    beyond = np.concatenate([stations, rays.at(of_vertex[vertices], along[vertices])])[
        np.isinf(away)
    ]
    far[beyond[ways.owner[beyond] >= 0]] = True  # remnants are listed already
    return far


def _add_remnant(made, ways, stretch, edges, beside, max_offset):
    """List a stretch that is in no edge, and its pass; `beside`: number of the edge next to it."""
    made.passes.append(pass_of(ways, stretch, -1, "remnant"))
    made.listed.append(_listed_beside(ways, stretch, edges, (beside, -1), "remnant", max_offset))


def _listed_beside(ways, stretch, edges, numbers, reason, max_offset):
    """The disagreement of a stretch next to an edge; `numbers`: of that one and of the one it is
    in."""
    xyz, target = as_walked(ways.pieces, stretch), edges[numbers[0]].xyz
    with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
        away = shapely.distance(shapely.points(xyz[:, :2]), shapely.linestrings(target[:, :2]))
    return listed_of(
        ways.pieces,
        stretch,
        numbers,
        reason,
        offset=away * _side(target, xyz),
        up=np.zeros(0),
        allowed=(max_offset, np.nan),
    )


def _side(line, points):
    """+1 where points lie to the right of the nearest segment of a line, -1 to its left."""
    a, d = line[:-1, :2], np.diff(line[:, :2], axis=0)
    to = points[:, None, :2] - a[None]
    share = np.clip((to * d).sum(axis=2) / np.maximum((d * d).sum(axis=1), 1e-24), 0, 1)
    off = np.hypot(*(to - share[:, :, None] * d).transpose(2, 0, 1))
    nearest = off.argmin(axis=1)
    own = to[np.arange(len(points)), nearest]
    return np.where(d[nearest, 0] * own[:, 1] - d[nearest, 1] * own[:, 0] <= 0, 1.0, -1.0)
