"""The map of an updated basemap: every line by what became of it."""

import numpy as np
import shapely

from ..language import marked, tr
from ..lines.comparison_results import AGREES, DISPLACED, ONLY_EXISTING, ONLY_NEW, PARTLY
from ..lines.update import PARTLY_REPLACED, REPLACED, RETIRED
from . import maps
from .page import figure, number

# style and words by kind, in the order in which they are drawn
KINDS = {
    "former": (maps.BEHIND, marked("what was replaced")),
    "rest": (maps.SCHEME[AGREES], marked("as it was, or moved by the shift alone")),
    "held": (maps.SCHEME[PARTLY], marked("held back")),
    "added": (maps.SCHEME[ONLY_NEW], marked("added")),
    "gone": (maps.SCHEME[ONLY_EXISTING], marked("taken as gone")),
    "redrawn": (maps.SCHEME[DISPLACED], marked("redrawn")),
}


def update_figure(compared, plan, changes):
    """The map with its legend.

    Parameters
    ----------
    compared : Comparison
    plan : UpdatePlan
    changes : Changes

    Returns
    -------
    str
        Markup; empty if there is nothing to draw.
    """
    shapes = _shapes(compared, plan)
    numbers = [
        (place + 1, np.concatenate(found))
        for place in range(min(maps.MOST_NUMBERS, len(changes)))
        if (found := _of_change(shapes, changes, place))
    ]
    svg, tolerance = maps.line_map(
        [(style, shapes[kind][0]) for kind, (style, _) in KINDS.items()],
        numbers,
        tr("Map of the update"),
    )
    if not svg:
        return ""
    samples = "".join(
        f"<span>{maps.key(style)} {tr(words)}</span> "
        for kind, (style, words) in KINDS.items()
        if len(shapes[kind][0])
    )
    said = tr(
        "Lines as they are now; simplified by up to {} m. North is that of the edges' CRS. Numbers"
        " are those of the lists, and those of a comparison with the same settings."
    ).format(number(tolerance, 2))
    return figure(svg, f'<span class="keys">{samples}</span><br>{said}')


def _shapes(compared, plan):
    """By kind: lines, and the rows of the existing lines and edges that they stem from (-1 for
    none)."""
    existing, row = maps.geometries(compared.existing)
    edges, edge = maps.geometries(compared.edges)
    there = shapely.transform(existing, lambda xy: xy + plan.shift)
    held = np.isin(row, [one.existing for one in plan.held])
    held_edge = np.isin(edge, [one.edge for one in plan.held if one.existing < 0])
    what = plan.what[row]
    anew = np.isin(row, list(plan.parts))
    changed = np.isin(what, (PARTLY_REPLACED, REPLACED))
    drawn = [(at, xyz) for at, parts in plan.parts.items() for xyz in parts]
    now = np.array([shapely.linestrings(xyz[:, :2]) for _, xyz in drawn], object)
    now_row = np.array([at for at, _ in drawn], int)
    redrawn = np.isin(plan.what[now_row], (PARTLY_REPLACED, REPLACED))
    added = np.array([shapely.linestrings(one.xyz[:, :2]) for one in plan.added], object)
    added_edge = np.array([one.edge for one in plan.added], int)
    gone, rest = what == RETIRED, ~(anew | changed | held | (what == RETIRED))

    def of_lines(shapes, rows):
        return shapes, rows, np.full(len(shapes), -1)

    return {
        "former": of_lines(there[changed], np.full(np.count_nonzero(changed), -1)),
        "rest": of_lines(
            np.append(there[rest], now[~redrawn]), np.append(row[rest], now_row[~redrawn])
        ),
        "held": (
            np.append(there[held], edges[held_edge]),
            np.append(row[held], np.full(np.count_nonzero(held_edge), -1)),
            np.append(np.full(np.count_nonzero(held), -1), edge[held_edge]),
        ),
        "added": (added, np.full(len(added), -1), added_edge),
        "gone": of_lines(there[gone], row[gone]),
        "redrawn": of_lines(now[redrawn], now_row[redrawn]),
    }


def _of_change(shapes, changes, place):
    """Lines at which the number of a change may stand: redrawn, added, gone or held."""
    found = []
    for kind in ("redrawn", "added", "gone", "held"):
        lines, row, edge = shapes[kind]
        mine = (row >= 0) & (row == changes.existing[place])
        mine |= (edge >= 0) & (edge == changes.edge[place])
        if mine.any():
            found.append(lines[mine])
    return found
