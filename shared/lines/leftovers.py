"""Pieces of an edge that run along no existing line, though other pieces of it do."""

from dataclasses import dataclass

import numpy as np
import shapely

from ..tuning import STRETCHES, UPDATE
from .lines import chainages, place_at
from .linestrings import nearest_place
from .rebuild import rebuild


@dataclass(frozen=True)
class Leftover:
    """A piece of an edge, from `low` to `high`, chainages of its part, metres.

    `before`, `after`: number of the stretch that ends at `low` and of the one that begins at
    `high`; -1 if the edge itself begins or ends there.
    """

    edge_part: int
    low: float
    high: float
    before: int
    after: int


def find_leftovers(stretches, lengths):
    """Find the pieces of each edge between and beyond its stretches.

    Parameters
    ----------
    stretches : Stretches
        All of them, whether they will be redrawn or not.
    lengths : ndarray of float, shape (edge parts,)
        Metres.

    Returns
    -------
    list of Leftover
        Those longer than `UPDATE.least_piece`, by edge and chainage. Edges without a stretch have
        none: they are new as a whole.
    """
    low = np.clip(np.minimum(stretches.edge_low, stretches.edge_high), 0.0, None)
    high = np.maximum(stretches.edge_low, stretches.edge_high)
    out, end, before, part = [], 0.0, -1, -1

    def close(beyond, after):
        if part >= 0 and beyond - end > UPDATE.least_piece:
            out.append(Leftover(part, end, beyond, before, after))

    for row in np.lexsort((low, stretches.edge_part)).tolist():
        if stretches.edge_part[row] != part:
            close(lengths[part], -1)
            part, end, before = int(stretches.edge_part[row]), 0.0, -1
        close(float(low[row]), row)
        if high[row] > end:
            end, before = float(high[row]), row
    close(lengths[part], -1)
    return out


def cut_out(xyz, low, high):
    """The piece of a line between two chainages.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3)
    low, high : float
        Metres.

    Returns
    -------
    ndarray of float, shape (w, 3)
        Both ends, and the vertices between them.
    """
    along = chainages(xyz)
    inside = xyz[(along > low + UPDATE.same_place) & (along < high - UPDATE.same_place)]
    return np.concatenate([place_at(xyz, low)[None], inside, place_at(xyz, high)[None]])


def length_away(xyz, tree, reach):
    """Length of a line that lies farther than `reach` from all others.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3)
    tree : shapely.STRtree
        The others.
    reach : float
        Metres.

    Returns
    -------
    float
        Metres, counted in steps of a quarter of `UPDATE.least_piece`.
    """
    step = UPDATE.least_piece / 4
    shape = shapely.LineString(xyz[:, :2])
    places = shapely.line_interpolate_point(shape, np.arange(step / 2, shape.length, step))
    near = np.unique(tree.query(places, predicate="dwithin", distance=reach)[0])
    return step * (len(places) - len(near))


def onto_lines(left, edge, stretches, lines, blend):
    """A leftover with its ends moved onto the lines that its edge runs along before and after it.

    Parameters
    ----------
    left : Leftover
    edge : ndarray of float, shape (v, 3)
        Vertices of the edge's part, metres.
    stretches : Stretches
        Those that the leftover was found between.
    lines : ndarray of shapely LineString, shape (parts,)
        Parts of the existing lines as they will be.
    blend : float
        Length over which the move of an end fades, metres.

    Returns
    -------
    ndarray of float, shape (w, 3)
    """
    low, high, moves = left.low, left.high, [np.zeros(3), np.zeros(3)]
    if left.before >= 0:
        low, moves[0] = _joint(lines[stretches.part[left.before]], edge, low)
    if left.after >= 0:
        high, moves[1] = _joint(lines[stretches.part[left.after]], edge, high)
    return rebuild(cut_out(edge, low, high), [], *moves, blend)


def _joint(line, edge, chainage):
    """Where an edge leaves a line: chainage, and the vector from there onto the line."""
    here, vertices = place_at(edge, chainage)[:2], shapely.get_coordinates(line)
    onto = nearest_place(vertices, here)
    ends = vertices[[0, -1]]
    end = ends[np.argmin(np.hypot(*(ends - here).T))]
    if np.hypot(*(end - onto)) <= STRETCHES.end_slack:  # no stub of the line beyond the joint
        onto = end
    shape = shapely.LineString(edge[:, :2])
    at = float(shapely.line_locate_point(shape, shapely.points(onto)))
    if abs(at - chainage) > 2 * STRETCHES.end_slack:
        at = chainage
    return at, np.append(onto - place_at(edge, at)[:2], 0.0)
