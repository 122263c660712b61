"""Edges and stations whose uncertainty is too great, and ends that broke off."""

import numpy as np

from ....shared.arrays.ragged import group_index
from ...host.figures import translate
from .found import BROKEN_OFF, UNCERTAIN, UNCERTAIN_UP, Where
from .gaps import break_words
from .layers import placed

ON_THE_RIM = 0.02  # m between an end of an edge and the rim of its gap
SPACING = 1.0  # m, of stations where nothing tells it


def tr(text):
    return translate("Findings", text)


def find_poor_edges(layer, rims, limits, found):
    """Edges over the limits of uncertainty, and their ends that broke off with no gap (`rims`,
    shape (k, 2)) to say so."""
    lines = layer.lines()
    where, length = placed(lines)
    edge, capture = layer.texts("edge_id"), layer.texts("capture")
    if (capture == "").all():
        capture = layer.texts("captures")
    for what, name, limit, text in (
        (
            UNCERTAIN,
            "sigma_cross",
            limits.sigma,
            tr("Edge of {:.1f} m with a poor position ({:.3f} m 1-sigma across): walk it again"),
        ),
        (
            UNCERTAIN_UP,
            "sigma_up",
            limits.sigma_up,
            tr("Edge of {:.1f} m with poor heights ({:.3f} m 1-sigma): walk it again"),
        ),
    ):
        sigma = layer.numbers(name)
        rows = np.flatnonzero(sigma > limit)
        found.add(
            what,
            layer,
            rows,
            where.of(rows),
            [text.format(*both) for both in zip(length[rows].tolist(), sigma[rows].tolist())],
            metres=length[rows],
            edge_id=edge[rows].tolist(),
            capture=capture[rows].tolist(),
        )
    _find_broken_off(layer, lines, rims, limits, (edge, capture), found)


def _find_broken_off(layer, lines, rims, limits, names, found):
    """Ends that broke off and that no gap tells of; `names` are edge and capture of each row."""
    rows, ends, ring = _ends(lines)
    at_gaps = 0
    for name, vertex, side in (
        ("start_reason", ends[0], tr("start")),
        ("end_reason", ends[1], tr("end")),
    ):
        reason = layer.texts(name)[rows]
        open_ = ~ring & np.isin(reason, limits.reasons)
        told = _at_rims(lines, vertex, rims)
        at_gaps += np.count_nonzero(open_ & told)
        some = np.flatnonzero(open_ & ~told)
        own = rows[some]
        found.add(
            BROKEN_OFF,
            layer,
            own,
            Where(lines.x[vertex[some]], lines.y[vertex[some]], lines.scale[own]),
            [
                tr("The edge broke off at its {} ({}): go on from here").format(
                    side, break_words(why)
                )
                for why in reason[some].tolist()
            ],
            edge_id=names[0][own].tolist(),
            capture=names[1][own].tolist(),
        )
    found.leave(layer, tr("ends that broke off at gaps, which are judged as gaps: {}"), at_gaps)


def _ends(lines):
    """Rows that have a line, the first and the last vertex of each, and whether it is a ring."""
    _, first = np.unique(lines.line, return_index=True)
    if not len(first):
        return first, (first, first), np.zeros(0, bool)
    last = np.append(first[1:], len(lines.line)) - 1
    ends = lines.offsets[first], lines.offsets[last + 1] - 1
    ring = np.hypot(*(axis[ends[0]] - axis[ends[1]] for axis in (lines.x, lines.y))) < 1e-6
    return lines.line[first], ends, ring


def _at_rims(lines, vertex, rims):
    """True for vertices that lie on the rim of a gap."""
    if not len(rims) or not len(vertex):
        return np.zeros(len(vertex), bool)
    from scipy.spatial import cKDTree

    positions = np.column_stack([lines.x[vertex], lines.y[vertex]])
    distance, _ = cKDTree(rims).query(positions, distance_upper_bound=ON_THE_RIM)
    return distance <= ON_THE_RIM


def rims_of(layer):
    """Both ends of every gap, shape (k, 2)."""
    lines = layer.lines()
    vertex = np.concatenate([lines.offsets[:-1], lines.offsets[1:] - 1])
    return np.column_stack([lines.x[vertex], lines.y[vertex]])


def find_poor_stations(layer, limits, found):
    """Stations over the limits of uncertainty; those in a row along an edge are one finding, at the
    worst of them."""
    chainage, (code, different) = layer.numbers("chainage"), layer.columns["edge_id"].factor()
    order = np.lexsort((chainage, code))
    step = np.diff(chainage[order])[np.diff(code[order]) == 0]
    step = step[step > 0]
    spacing = float(np.median(step)) if len(step) else SPACING
    edges = different.texts()
    for what, name, limit, text in (
        (
            UNCERTAIN,
            "sigma_cross",
            limits.sigma,
            tr(
                "Poor position over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma"
                " across): walk this stretch again"
            ),
        ),
        (
            UNCERTAIN_UP,
            "sigma_up",
            limits.sigma_up,
            tr(
                "Poor heights over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma): walk"
                " this stretch again"
            ),
        ),
    ):
        sigma = layer.numbers(name)
        over = sigma > limit
        found.leave(
            layer,
            tr("stations over the limit without a chainage: {}"),
            np.count_nonzero(over & ~np.isfinite(chainage)),
            True,
        )
        some = np.flatnonzero(over & np.isfinite(chainage))
        worst, start, stop = _rows_of_stations(layer, some, code, chainage, sigma, spacing)
        metres = stop - start + spacing
        found.add(
            what,
            layer,
            worst,
            layer.at(worst),
            [
                text.format(*values)
                for values in zip(metres.tolist(), start.tolist(), sigma[worst].tolist())
            ],
            metres=metres,
            edge_id=edges[code[worst]].tolist(),
        )


def _rows_of_stations(layer, some, code, chainage, sigma, spacing):
    """Stations that follow each other along an edge: the worst of each row, and the chainages of
    its first and last one."""
    from ....shared.lines.revisits import in_a_row
    from ....shared.tuning import REVISITS

    some = some[np.lexsort((np.round(layer.y[some], 4), np.round(layer.x[some], 4)))]
    order, offsets = in_a_row(code[some], chainage[some], REVISITS.in_a_row * spacing)
    row = group_index(offsets)
    by_sigma = np.lexsort((np.arange(len(order)), -sigma[some[order]], row))
    worst = some[order[by_sigma[offsets[:-1]]]]
    return worst, chainage[some[order[offsets[:-1]]]], chainage[some[order[offsets[1:] - 1]]]
