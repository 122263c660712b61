"""Join edges at the ends that belong together.

See `end_pairs` for which ends those are. What is ambiguous, such as the three ends of a junction,
is left open and listed.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_of,
    place_in_group,
    ranges,
    stretch_starts,
)
from ..tuning import JOINS
from .end_pairs import (
    CORNER,
    DIRECT,
    JUNCTION,
    NOTHING,
    ON_EDGE,
    RING,
    TAKEN,
    EndProperties,
    JoinLimits,
    choose_pairs,
    exclude_crossed,
    find_ends,
    find_pairs,
    geometries_of,
)
from .lines import is_ring, points_at

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


@dataclass(frozen=True)
class Joined:
    """The joined edges.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices, metres.
    vertex : ndarray of int, shape (v,)
        Vertex of the input, unchanged; -1 for a new or moved one.
    offsets : ndarray of int, shape (edges + 1,)
    part : ndarray of int, shape (parts,)
        Edges of the input in the order in which they make up the result, each once.
    reversed : ndarray of bool, shape (parts,)
        True if the edge of the input is reversed in the result.
    part_offsets : ndarray of int, shape (edges + 1,)
        Where the parts of each edge start in `part`.
    closed : ndarray of bool, shape (edges,)
    changes : Changes
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    vertex: np.ndarray
    offsets: np.ndarray
    part: np.ndarray
    reversed: np.ndarray
    part_offsets: np.ndarray
    closed: np.ndarray
    changes: Changes

    def __len__(self):
        return len(self.closed)


def join_edges(
    lines, limits=None, sigma_up=None, group=None, kept=None, progress=lambda share: None
):
    """Join the ends of edges that belong together.

    Parameters
    ----------
    lines : Lines
        Each part is an edge. Their order is that of the results and decides between equals. `sigma`
        weights the two ends of a join.
    limits : JoinLimits, optional
    sigma_up : array_like of float, shape (edges,), optional
        Weights their heights; 0 if unknown.
    group : array_like of int, shape (edges,), optional
        Edges of different groups are not joined.
    kept : array_like of bool, shape (edges, 2), optional
        True at a start and at an end that must stay open.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Joined

    Raises
    ------
    ValueError
        If an edge has no length or shapes do not agree.
    """
    limits = JoinLimits() if limits is None else limits
    count = len(lines.offsets) - 1
    length = lines.part_length()
    properties = _properties(lines, sigma_up, group, kept)
    ends = find_ends(lines, limits, lambda share: progress(0.3 * share))
    pairs = find_pairs(ends, limits, properties)
    progress(0.4)
    shapes = geometries_of(lines)
    pairs = exclude_crossed(pairs, ends, shapes, progress)
    chosen = choose_pairs(pairs, 2 * count)
    partner = np.full(2 * count, -1)
    for own, other in ((pairs.i, pairs.j), (pairs.j, pairs.i)):
        partner[own[chosen]] = other[chosen]
    if not limits.close_rings:
        chosen = _without_rings(pairs, chosen, partner, length)
    progress(0.6)
    part, turned, part_offsets, closed = _chains(partner, length)
    closed |= is_ring(lines)[part[part_offsets[:-1]]]
    moves = _moves(ends, pairs, chosen, length)
    joined = _assemble(lines, length, moves, part, turned, part_offsets, closed)
    progress(0.9)
    edge_of = np.empty(count, np.int64)
    edge_of[part] = group_index(part_offsets)
    changes = _changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits)
    progress(1.0)
    return Joined(*joined, part, turned, part_offsets, closed, changes)


def _properties(lines, sigma_up, group, kept):
    """`EndProperties` from the checked arguments of `join_edges`."""
    length = lines.part_length()
    if (length <= 0).any():
        raise ValueError(f"{np.count_nonzero(length <= 0)} edges have no length")
    count = len(length)
    sigma_up = np.zeros(count) if sigma_up is None else np.asarray(sigma_up, float)
    group = np.zeros(count, np.int64) if group is None else np.asarray(group)
    kept = np.zeros((count, 2), bool) if kept is None else np.asarray(kept, bool)
    if sigma_up.shape != (count,) or group.shape != (count,) or kept.shape != (count, 2):
        raise ValueError(
            f"sigma_up, group and kept must have one row for each of {count} edges, got"
            f" {sigma_up.shape}, {group.shape} and {kept.shape}"
        )
    return EndProperties(
        sigma=np.repeat(lines.sigma[lines.line], 2),
        sigma_up=np.repeat(sigma_up, 2),
        group=np.repeat(group, 2),
        kept=kept.ravel(),
    )


def _without_rings(pairs, chosen, partner, length):
    """The choice with each ring of several edges opened where its ends fit worst. Changes
    `partner`, `pairs.valid` and `pairs.fail`."""
    part, _, part_offsets, closed = _chains(partner, length)
    chain = np.empty(len(length), np.int64)
    chain[part] = group_index(part_offsets)
    taken = np.flatnonzero(chosen)
    taken = taken[closed[chain[pairs.i[taken] // 2]]]
    of = chain[pairs.i[taken] // 2]
    order = np.lexsort((taken, pairs.cost[taken], of))
    taken, of = taken[order], of[order]
    worst = taken[np.append(np.diff(of) > 0, True)] if len(of) else taken
    chosen = chosen.copy()
    chosen[worst], pairs.valid[worst], pairs.fail[worst] = False, False, RING
    partner[pairs.i[worst]] = partner[pairs.j[worst]] = -1
    return chosen


def _chains(partner, length):
    """Edges in the order and direction in which they follow each other: edges, True if reversed,
    offsets of chains, True for rings.

    A chain runs the way that most of its length ran; a ring starts at its first edge.
    """
    count = len(length)
    seen = np.zeros(count, bool)
    part, turned, sizes, closed = [], [], [], []
    partner = partner.tolist()
    for first in range(count):
        if seen[first]:
            continue
        at, ring = 2 * first, False  # go back to the start of the chain
        while partner[at] >= 0:
            at = partner[at] ^ 1
            if at == 2 * first:
                ring = True
                break
        edges, ways = [], []
        while True:
            edges.append(at // 2)
            ways.append(bool(at & 1))
            seen[at // 2] = True
            onward = partner[at ^ 1]
            if onward < 0 or seen[onward // 2]:
                break
            at = onward
        ways = np.array(ways)
        sizes_of = length[edges]
        forth, against = sizes_of[~ways].sum(), sizes_of[ways].sum()
        if against > forth * (1 + 1e-9) or (
            abs(against - forth) <= 1e-9 * forth and ways[int(np.argmin(edges))]
        ):
            edges, ways = edges[::-1], ~ways[::-1]
        if ring:
            turn = int(np.argmin(edges))
            edges, ways = edges[turn:] + edges[:turn], np.roll(ways, -turn)
        part += edges
        turned += ways.tolist()
        sizes.append(len(edges))
        closed.append(ring)
    part, turned, closed = np.array(part, np.int64), np.array(turned, bool), np.array(closed, bool)
    part_offsets = offsets_of(np.array(sizes, np.int64))
    lowest = np.minimum.reduceat(part, part_offsets[:-1]) if len(sizes) else np.zeros(0, np.int64)
    order = np.argsort(lowest, kind="stable")
    places = ranges(part_offsets[:-1][order], np.diff(part_offsets)[order])
    return (
        part[places],
        turned[places],
        offsets_of(np.diff(part_offsets)[order]),
        closed[order],
    )


@dataclass(frozen=True)
class _Moves:
    """How ends move, shape (2 * edges,), metres.

    `to`, (m, 3): new place, NaN for an end that stays; `trim`: length taken off; `ahead`: length
    that is added, and `onward`, (m, 3), that extension as a vector.
    """

    to: np.ndarray
    trim: np.ndarray
    ahead: np.ndarray
    onward: np.ndarray


def _moves(ends, pairs, chosen, length):
    """Moves of all ends to the meeting points of the chosen pairs."""
    count = 2 * len(length)
    to = np.full((count, 3), np.nan)
    moves = np.zeros(count, bool)
    for end in (pairs.i, pairs.j):
        to[end[chosen]] = np.column_stack([pairs.x, pairs.y, pairs.z])[chosen]
        moves[end[chosen]] = True
    hook = np.where(moves, np.minimum(ends.hook, JOINS.max_blend_share * ends.length), 0.0)
    bx, by = (
        np.where(hook > 0, f - t * hook, p)
        for f, t, p in (
            (ends.from_x, ends.tangent_x, ends.x),
            (ends.from_y, ends.tangent_y, ends.y),
        )
    )
    along = np.where(
        moves, (to[:, 0] - bx) * ends.tangent_x + (to[:, 1] - by) * ends.tangent_y, 0.0
    )
    trim = np.minimum(hook + np.maximum(-along, 0.0), JOINS.max_blend_share * ends.length)
    ahead = np.maximum(along, 0.0)
    return _Moves(
        to,
        np.where(moves, trim, 0.0),
        ahead,
        ahead[:, None] * np.column_stack([ends.tangent_x, ends.tangent_y, ends.grade]),
    )


def _assemble(lines, length, moves, part, turned, part_offsets, closed):
    """Vertices of the joined edges: x, y, z, vertex of the input, offsets."""
    edges = len(length)
    moved = np.isfinite(moves.to[:, 0])
    spread = _Spread.of(lines, length, moves, moved)
    all_run, all_at, all_xyz, vertex = _vertices_left(lines, length, moves, moved, spread)
    for side in (0, 1):
        end = 2 * all_run + side
        share = np.clip(1 - np.abs(all_at - spread.at[end]) / spread.reach[end], 0.0, 1.0)
        share = share * moved[end]
        all_xyz = all_xyz + share[:, None] * spread.shift[end]
        vertex = np.where(
            share * (spread.aside[end] + np.abs(spread.shift[end, 2])) > 0, -1, vertex
        )
    offsets = np.searchsorted(all_run, np.arange(edges + 1))
    all_xyz, vertex, offsets = _put_meeting_points(all_xyz, vertex, offsets, moves.to, moved)
    # one after the other
    size = np.diff(offsets)
    taken = ranges(offsets[part], size[part])
    place = offsets_of(size[part])
    back = np.repeat(turned, size[part])
    within = place_in_group(place)
    taken = np.where(back, np.repeat(offsets[part] + size[part] - 1, size[part]) - within, taken)
    repeated = np.zeros(len(part), bool)
    repeated[1:] = True
    repeated[part_offsets[:-1]] = False
    keep = np.ones(len(taken), bool)
    keep[place[:-1][repeated]] = False
    number = group_sum(group_sum(keep.astype(np.int64), place), part_offsets)
    out = offsets_of(number)
    xyz, vertex = all_xyz[taken[keep]], vertex[taken[keep]]
    rings = np.flatnonzero(closed)
    xyz[out[1:][rings] - 1], vertex[out[1:][rings] - 1] = (
        xyz[out[:-1][rings]],
        vertex[out[:-1][rings]],
    )
    return (*xyz.T, vertex, out)


@dataclass(frozen=True)
class _Spread:
    """How the move of each end is spread along its edge, shape (2 * edges,), metres.

    `at`: chainage where the edge is trimmed; `reach`: length over which the move fades from there;
    `shift`, (m, 3): the move at the end; `aside`: its horizontal length.
    """

    at: np.ndarray
    reach: np.ndarray
    shift: np.ndarray
    aside: np.ndarray

    @classmethod
    def of(cls, lines, length, moves, moved):
        """The trimmed ends, and how they must shift."""
        run = np.repeat(np.arange(len(length)), 2)
        last = np.tile([False, True], len(length))
        at = np.where(last, length[run] - moves.trim, moves.trim)
        here = np.column_stack(points_at(lines, run, at)[:3])
        extended = moves.ahead >= JOINS.same
        shift = np.where(moved[:, None], moves.to - here - extended[:, None] * moves.onward, 0.0)
        shift[:, 2] = np.where(np.isfinite(shift[:, 2]), shift[:, 2], 0.0)
        aside = np.hypot(shift[:, 0], shift[:, 1])
        reach = np.maximum(aside / JOINS.kink_slope, np.abs(shift[:, 2]) / JOINS.grade_kink)
        left = length - moves.trim.reshape(-1, 2).sum(axis=1)
        reach = np.minimum(np.maximum(reach, JOINS.same), JOINS.max_blend_share * left[run])
        return cls(at=at, reach=reach, shift=shift, aside=aside)


def _vertices_left(lines, length, moves, moved, spread):
    """Vertices that are left, and new ones at trimmed ends and where a spread begins, in order:
    run, chainage, position, vertex of the input."""
    run = group_index(lines.offsets)
    chainage = cumulative(lines.steps(), lines.offsets)
    trim = moves.trim.reshape(-1, 2)
    end_run = np.repeat(np.arange(len(length)), 2)
    last = np.tile([False, True], len(length))
    inside = (chainage > trim[run, 0] + np.where(trim[run, 0] > 0, JOINS.same, -1)) & (
        chainage < (length - trim[:, 1])[run] - np.where(trim[run, 1] > 0, JOINS.same, -1)
    )
    begins = np.where(last, spread.at - spread.reach, spread.at + spread.reach)
    cut = np.flatnonzero(moves.trim > 0)
    bends = np.flatnonzero(moved & (spread.aside + np.abs(spread.shift[:, 2]) > JOINS.same))
    bends = bends[~_near_vertex(chainage, run, end_run[bends], begins[bends], lines.offsets)]
    new = np.concatenate([cut, bends])
    new_at = np.concatenate([spread.at[cut], begins[bends]])
    own = np.flatnonzero(inside)
    all_run = np.concatenate([run[own], end_run[new]])
    all_at = np.concatenate([chainage[own], new_at])
    new_xyz = np.column_stack(points_at(lines, end_run[new], new_at)[:3])
    all_xyz = np.concatenate([np.column_stack([lines.x, lines.y, lines.z])[own], new_xyz])
    vertex = np.concatenate([own, np.full(len(new), -1)])
    order = np.lexsort((vertex, all_at, all_run))
    return all_run[order], all_at[order], all_xyz[order], vertex[order]


def _near_vertex(chainage, run, of, at, offsets):
    """True where a chainage of a run lies within `JOINS.near_vertex` of one of its vertices."""
    lift = 1e7  # m; no edge is as long
    flat = chainage + lift * run
    place = np.searchsorted(flat, at + lift * of)
    before, after = np.clip(place - 1, offsets[of], None), np.clip(place, None, offsets[of + 1] - 1)
    return (
        np.minimum(np.abs(chainage[before] - at), np.abs(chainage[after] - at)) < JOINS.near_vertex
    )


def _put_meeting_points(xyz, vertex, offsets, to, moved):
    """The runs with the meeting points put in at the ends that move."""
    for side in (0, 1):
        rows = np.flatnonzero(moved[side::2])
        if not len(rows):
            continue
        goal = to[2 * rows + side]
        end = offsets[1:][rows] - 1 if side else offsets[:-1][rows]
        inner = end - 1 if side else end + 1
        # an end on the straight way to the meeting point is replaced by it
        way, own = goal[:, :2] - xyz[inner, :2], xyz[end, :2] - xyz[inner, :2]
        size = np.maximum(np.hypot(*way.T), 1e-12)
        off = np.abs(way[:, 0] * own[:, 1] - way[:, 1] * own[:, 0]) / size
        share = np.clip((own * way).sum(axis=1) / size**2, 0.0, 1.0)
        up = np.abs(xyz[inner, 2] + share * (goal[:, 2] - xyz[inner, 2]) - xyz[end, 2])
        apart = np.hypot(*(goal[:, :2] - xyz[end, :2]).T)
        same = (apart < 1e-9) & ~(np.abs(goal[:, 2] - xyz[end, 2]) > 1e-9)
        replace = (off < JOINS.same) & ~(up > 2 * JOINS.same) | (apart < JOINS.same)
        xyz[end[replace]] = goal[replace]
        vertex[end[replace & ~same]] = -1
        grow = ~replace
        place = (end + 1 if side else end)[grow]
        xyz = np.insert(xyz, place, goal[grow], axis=0)
        vertex = np.insert(vertex, place, -1)
        more = np.zeros(len(offsets) - 1, np.int64)
        more[rows[grow]] = 1
        offsets = offsets + offsets_of(more)
    return xyz, vertex, offsets


# parameters: everything that the joining has found
def _changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits):
    """All joins, and the ends that were left open though another edge is near: `Changes`."""
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
    rows += _left_open(ends, pairs, chosen, partner, shapes, limits)

    def columns(names, kind):
        return {name: np.array([row[name] for row in rows], kind) for name in names}

    return Changes(
        **columns(("what", "why", "beside", "edge"), np.int64),
        **columns(("x", "y", "z", "gap", "deflection", "moved", "moved_up"), float),
        ends=np.array([end for row in rows for end in row["ends"]], np.int64),
        offsets=offsets_of(np.array([len(row["ends"]) for row in rows], np.int64)),
    )


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
            listed[[other, partner[other]]] = False
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


def ring_area(x, y, offsets):
    """Area of rings by the shoelace formula, + if they run counter-clockwise.

    Parameters
    ----------
    x, y : ndarray of float, shape (v,)
        Vertices, metres; the last one of a ring is its first.
    offsets : ndarray of int, shape (rings + 1,)

    Returns
    -------
    ndarray of float, shape (rings,)
        Square metres.
    """
    first = np.repeat(offsets[:-1], np.diff(offsets))
    x, y = x - x[first], y - y[first]  # small numbers, so that no digits cancel
    cross = np.append(x[:-1] * y[1:] - x[1:] * y[:-1], 0.0)[: len(x)]
    cross[offsets[1:] - 1] = 0.0
    return group_sum(cross, offsets) / 2
