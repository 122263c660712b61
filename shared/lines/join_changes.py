"""What was joined, and which ends were left open though another edge is near."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    offsets_of,
    stretch_starts,
)
from .end_pairs import (
    CORNER,
    DIRECT,
    JUNCTION,
    NOTHING,
    ON_EDGE,
    TAKEN,
)

JOINED, EXTENDED, CLOSED, LEFT_OPEN = range(4)
WHAT_NAMES = ("joined", "extended", "closed", "left_open")


@dataclass(frozen=True)
class Changes:
    """What was joined and what was left open, one row each.

    Attributes
    ----------
    what, why : ndarray of int, shape (n,)
        Places in `WHAT_NAMES` and `WHY_NAMES`.
    x, y, z : ndarray of float, shape (n,)
        Place, metres.
    ends : ndarray of int, shape (k,)
        The ends concerned, those of change ``c`` from ``offsets[c]`` to ``offsets[c + 1] - 1``.
    offsets : ndarray of int, shape (n + 1,)
    beside : ndarray of int, shape (n,)
        Edge that the end lies on, or that lies between both; -1 for none.
    edge : ndarray of int, shape (n,)
        Edge of the result; -1 if left open.
    gap, deflection : ndarray of float, shape (n,)
        Between both ends, metres and degrees; NaN unless there are two.
    moved, moved_up : ndarray of float, shape (n,)
        Greatest distance by which an end moved, in plan and in height, metres; NaN if none moved.
    """

    what: np.ndarray
    why: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    ends: np.ndarray
    offsets: np.ndarray
    beside: np.ndarray
    edge: np.ndarray
    gap: np.ndarray
    deflection: np.ndarray
    moved: np.ndarray
    moved_up: np.ndarray

    def __len__(self):
        return len(self.what)


# parameters: everything that the joining has found
def list_changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits):
    """All joins, and the ends that were left open though another edge is near.

    Parameters
    ----------
    ends : Ends
    pairs : Pairs
    chosen : ndarray of bool, shape (pairs,)
    partner : ndarray of int, shape (2 * edges,)
        End that each one is joined with, -1 for none.
    edge_of : ndarray of int, shape (edges,)
        Joined edge that each one is part of.
    closed : ndarray of bool, shape (joined edges,)
    shapes : ndarray of shapely geometries, shape (edges,)
    limits : JoinLimits

    Returns
    -------
    Changes
    """
    rows = _joins(ends, pairs, chosen, edge_of, closed)
    rows += _left_open(ends, pairs, chosen, partner, shapes, limits)

    def columns(names, kind):
        return {name: np.array([row[name] for row in rows], kind) for name in names}

    return Changes(
        **columns(("what", "why", "beside", "edge"), np.int64),
        **columns(("x", "y", "z", "gap", "deflection", "moved", "moved_up"), float),
        ends=np.array([end for row in rows for end in row["ends"]], np.int64),
        offsets=offsets_of(np.array([len(row["ends"]) for row in rows], np.int64)),
    )


def _joins(ends, pairs, chosen, edge_of, closed):
    """Rows of `Changes` for the pairs that were joined."""
    rows = []
    made = np.flatnonzero(chosen)
    edge = edge_of[pairs.i[made] // 2]
    closing = set()
    if closed.any():
        order = np.lexsort((made, pairs.cost[made], edge))
        last = np.append(np.diff(edge[order]) > 0, True)
        closing = set(made[order][last & closed[edge[order]]].tolist())
    for pair, own in zip(made.tolist(), edge.tolist()):
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        way = [
            (
                np.hypot(pairs.x[pair] - ends.x[e], pairs.y[pair] - ends.y[e]),
                abs(pairs.z[pair] - ends.z[e]),
            )
            for e in (i, j)
        ]
        what = CLOSED if pair in closing else EXTENDED if pairs.corner[pair] else JOINED
        up = [value for _, value in way if value == value]
        rows.append(
            {
                "what": what,
                "why": CORNER if pairs.corner[pair] else DIRECT,
                "x": pairs.x[pair],
                "y": pairs.y[pair],
                "z": pairs.z[pair],
                "ends": (i, j),
                "beside": -1,
                "edge": own,
                "gap": pairs.gap[pair],
                "deflection": pairs.deflection[pair],
                "moved": max(plan for plan, _ in way),
                "moved_up": max(up, default=np.nan),
            }
        )
    return rows


def _left_open(ends, pairs, chosen, partner, shapes, limits):
    """Rows of `Changes` for ends that were left open though another edge is near."""
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    rows, listed = [], np.zeros(len(ends.x), bool)

    def add(why, members, beside=-1, gap=np.nan, deflection=np.nan):
        some = list(members)
        z = ends.z[some][np.isfinite(ends.z[some])]
        rows.append(
            {
                "what": LEFT_OPEN,
                "why": why,
                "x": ends.x[some].mean(),
                "y": ends.y[some].mean(),
                "z": z.mean() if len(z) else np.nan,
                "ends": some,
                "beside": beside,
                "edge": -1,
                "gap": gap,
                "deflection": deflection,
                **dict.fromkeys(("moved", "moved_up"), np.nan),
            }
        )
        listed[some] = True

    junctions = _by_label(ends.crowd)
    free = partner < 0
    open_pairs = np.flatnonzero(pairs.valid & ~chosen & free[pairs.i] & free[pairs.j])
    if len(open_pairs):  # junctions: all ends that could be joined with each other
        i, j = pairs.i[open_pairs], pairs.j[open_pairs]
        graph = coo_matrix((np.ones(len(i)), (i, j)), (len(free), len(free)))
        _, label = connected_components(graph, directed=False)
        junctions += _by_label(np.where(np.isin(np.arange(len(label)), np.append(i, j)), label, -1))
    for some in junctions:
        add(JUNCTION, some)
    taken = np.flatnonzero(pairs.valid & ~chosen & (free[pairs.i] != free[pairs.j]))
    for pair in taken[np.lexsort((taken, pairs.cost[taken]))].tolist():
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        own, other = (i, j) if free[i] else (j, i)
        if not listed[own]:
            add(TAKEN, (own, other, int(partner[other])), gap=pairs.gap[pair])
    failed = np.flatnonzero(pairs.fail != NOTHING)
    for pair in failed[np.lexsort((failed, pairs.cost[failed]))].tolist():
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        if free[i] and free[j] and not (listed[i] or listed[j]):
            add(
                int(pairs.fail[pair]),
                (i, j),
                int(pairs.beside[pair]),
                pairs.gap[pair],
                pairs.deflection[pair],
            )
    for end, edge, gap in _on_edges(
        ends, np.flatnonzero(free & ends.open & ~listed), shapes, limits.tolerance
    ):
        add(ON_EDGE, (end,), edge, gap)
    return rows


def _by_label(label):
    """Lists of the places that share a label, in the order of labels; negative labels have none."""
    some = np.flatnonzero(label >= 0)
    some = some[np.argsort(label[some], kind="stable")]
    parts = np.split(some, np.flatnonzero(np.diff(label[some])) + 1)
    return [part.tolist() for part in parts if len(part)]


def _on_edges(ends, some, shapes, tolerance):
    """Ends that lie on the inside of another edge: end, nearest such edge, distance in metres."""
    import shapely

    if not len(some) or not tolerance > 0:
        return []
    points = shapely.points(ends.x[some], ends.y[some])
    row, edge = shapely.STRtree(shapes).query(points, predicate="dwithin", distance=tolerance)
    other = edge != some[row] // 2
    row, edge = row[other], edge[other]
    place, length = (
        shapely.line_locate_point(shapes[edge], points[row]),
        shapely.length(shapes[edge]),
    )
    between = (place > tolerance) & (place < length - tolerance)
    row, edge = row[between], edge[between]
    gap = shapely.distance(points[row], shapes[edge])
    order = np.lexsort((edge, gap, row))
    row, edge, gap = row[order], edge[order], gap[order]
    first = stretch_starts(row)
    return list(zip(some[row[first]].tolist(), edge[first].tolist(), gap[first].tolist()))
