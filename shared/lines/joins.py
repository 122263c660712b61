"""Which ends of edges belong together, and the edges joined there.

Every open edge has two ends, each with a tangent that is estimated over the last metres. Two ends
within the tolerance meet in a point between them; two tangents that meet within a limit are
extended to their corner. An end takes one partner at most: the one that is the best for both, and
clearly better than any other. What is not clear, such as the three ends of a junction, is left open
and listed.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_from_starts,
    place_in_group,
    ranges,
)
from .matching import points_at

# Tangents
WINDOW = 3.0  # m before the end that tell its tangent, or the whole edge
STATIONS = 30
WINDOWS = (6, 10, 18, 30)  # stations of the shares of it that are tried, the longest that fits wins
# m, RMS of a stretch from its straight or parabola: about the tolerance that edges are thinned with
FIT = 0.01
LONGER = 1.2  # times as long as the straight must a parabola fit, for the end to count as curved
HOOK = 0.02  # m; a last vertex farther off what the rest shows is a slip of the hand
SAG = 0.05  # m that the tangent of a curved end may depart from the curve
GRADE_WINDOW = 1.0  # m; from a shorter stretch no grade is told

# Pairs
REVERSAL = 150.0  # degrees; beyond, one edge runs back along the other
CLEAR, CLEAR_BY = 1.5, 0.03  # times, and m: so much worse must the second best be
PER_DEGREE = 0.1 / 90  # m of distance that a degree of deflection counts for
PER_HEIGHT = 2.0  # times as much as a distance in plan counts one in height
CROSSED_FROM = 0.02  # m; shorter connections are not looked at for edges in between
RING_SHARE = 0.25  # a ring closes over a gap of this share of its length at most

# Blending
KINK = np.tan(np.radians(2.0))
GRADE_KINK = 0.02
MOST_BLEND = 0.45  # of an edge
SAME = 0.001  # m

JOINED, EXTENDED, CLOSED, LEFT_OPEN = range(4)
WHAT_NAMES = ("joined", "extended", "closed", "left_open")
(
    DIRECT,
    CORNER,
    JUNCTION,
    TAKEN,
    ON_EDGE,
    KEPT_BREAK,
    OTHER_GROUP,
    HEIGHTS,
    BACK,
    GAP,
    OVERLAP,
    CROSSED,
    RING,
) = range(13)
WHY_NAMES = (
    "direct",
    "corner",
    "junction",
    "taken",
    "on_edge",
    "kept_break",
    "other_group",
    "heights",
    "back",
    "gap",
    "overlap",
    "crossed",
    "ring",
)
_NOTHING = -1


@dataclass(frozen=True)
class Limits:
    """What is joined; lengths in metres, the angle in degrees.

    Attributes
    ----------
    tolerance : float
        Ends nearer than this are joined.
    max_extension : float
        How far a tangent is extended to a corner; 0 for never.
    min_corner : float
        Least deflection of a corner; a smaller one is a straight continuation.
    max_height : float
        Greatest difference of heights where two ends meet.
    close_rings : bool
    """

    tolerance: float = 0.25
    max_extension: float = 1.5
    min_corner: float = 20.0
    max_height: float = 0.10
    close_rings: bool = True


@dataclass(frozen=True)
class Ends:
    """Ends of edges, shape (2 * edges,): end ``2 e`` is the start of edge ``e``, ``2 e + 1`` its
    end.

    `x`, `y`, `z` as they lie, metres; `tangent_x`, `tangent_y` unit vector that leads away from the
    edge, through `from_x`, `from_y`; `grade` height gained per metre along it; `hook` metres at the
    end that do not follow the rest; `reach` metres that it may be extended by; `length` of the
    edge; `open` False for those of rings.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    tangent_x: np.ndarray
    tangent_y: np.ndarray
    from_x: np.ndarray
    from_y: np.ndarray
    grade: np.ndarray
    hook: np.ndarray
    reach: np.ndarray
    length: np.ndarray
    open: np.ndarray


@dataclass(frozen=True)
class Changes:
    """What was done and what was left; one row each.

    Attributes
    ----------
    what, why : ndarray of int, shape (n,)
        Places in `WHAT_NAMES` and `WHY_NAMES`.
    x, y, z : ndarray of float, shape (n,)
        Where, metres.
    ends : ndarray of int, shape (k,)
        The ends concerned, those of change ``c`` from ``offsets[c]`` to ``offsets[c + 1] - 1``.
    offsets : ndarray of int, shape (n + 1,)
    beside : ndarray of int, shape (n,)
        Edge that the end lies on, or that lies between; -1 where there is none.
    edge : ndarray of int, shape (n,)
        Edge of the result; -1 for what was left open.
    gap, deflection : ndarray of float, shape (n,)
        Between both ends, metres and degrees; NaN where there are not two.
    moved, moved_up : ndarray of float, shape (n,)
        Greatest distance of an end from where it lies now, metres in plan and in height; NaN where
        nothing moved.
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
    """Edges joined.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices, metres.
    vertex : ndarray of int, shape (v,)
        The vertex of the input that stays as it is; -1 for one that is new or moved.
    offsets : ndarray of int, shape (edges + 1,)
    part : ndarray of int, shape (parts,)
        Edges of the input in the order in which they make up the result; each is there once.
    reversed : ndarray of bool, shape (parts,)
    part_offsets : ndarray of int, shape (edges + 1,)
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
    lines, limits=None, sigma_up=None, group=None, kept=None, checkpoint=lambda share: None
):
    """Join the ends of edges that belong together.

    Parameters
    ----------
    lines : Lines
        Each part is an edge; in the order in which the results are to come, as the order decides
        between equals. `sigma` weights the two ends of a join.
    limits : Limits
    sigma_up : array_like of float, shape (edges,), optional
        Weights their heights; 0 where nothing is known.
    group : array_like of int, shape (edges,), optional
        Edges of different groups are not joined.
    kept : array_like of bool, shape (edges, 2), optional
        True at a start and at an end that must stay open.
    checkpoint : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Joined

    Raises
    ------
    ValueError
        If an edge has no length, or shapes do not fit.
    """
    limits = Limits() if limits is None else limits
    count = len(lines.offsets) - 1
    length = lines.part_length()
    if (length <= 0).any():
        raise ValueError(f"{np.count_nonzero(length <= 0)} edges have no length")
    sigma = lines.sigma[lines.line]
    sigma_up = np.zeros(count) if sigma_up is None else np.asarray(sigma_up, float)
    group = np.zeros(count, np.int64) if group is None else np.asarray(group)
    kept = np.zeros((count, 2), bool) if kept is None else np.asarray(kept, bool)
    if sigma_up.shape != (count,) or group.shape != (count,) or kept.shape != (count, 2):
        raise ValueError(
            f"sigma_up, group and kept must have one row for each of {count} edges, got"
            f" {sigma_up.shape}, {group.shape} and {kept.shape}"
        )
    ends = find_ends(lines, limits, lambda share: checkpoint(0.3 * share))
    pairs = _find_pairs(
        ends, limits, np.repeat(sigma, 2), np.repeat(sigma_up, 2), np.repeat(group, 2), kept.ravel()
    )
    checkpoint(0.4)
    shapes = _geometries(lines)
    pairs = _mind_edges_between(pairs, ends, shapes, checkpoint)
    chosen = _choose(pairs, 2 * count)
    partner = np.full(2 * count, -1)
    for own, other in ((pairs.i, pairs.j), (pairs.j, pairs.i)):
        partner[own[chosen]] = other[chosen]
    if not limits.close_rings:
        chosen = _without_rings(pairs, chosen, partner, length)
    checkpoint(0.6)
    part, turned, part_offsets, closed = _chains(partner, length)
    closed |= is_ring(lines)[part[part_offsets[:-1]]]
    moves = _moves(ends, pairs, chosen, length)
    joined = _assemble(lines, length, moves, part, turned, part_offsets, closed)
    checkpoint(0.9)
    edge_of = np.empty(count, np.int64)
    edge_of[part] = group_index(part_offsets)
    changes = _changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits)
    checkpoint(1.0)
    return Joined(*joined, part, turned, part_offsets, closed, changes)


# Ends and their tangents


def is_ring(lines):
    """True for parts whose last vertex is their first, shape (parts,)."""
    first, last = lines.offsets[:-1], lines.offsets[1:] - 1
    return (np.hypot(lines.x[first] - lines.x[last], lines.y[first] - lines.y[last]) < 1e-6) & (
        last - first > 2
    )


def find_ends(lines, limits, checkpoint=lambda share: None):
    """Ends of edges with their tangents.

    Notes
    -----
    Positions and heights are sampled at equal steps over the last metres, and polynomials of degree
    one and two in the chainage are fitted to shares of them that start at the end. The longest
    share that fits within `FIT` tells the tangent, so that a corner near the end is left out; a
    parabola is taken where it reaches clearly farther, as on an arc. The end itself has no say: the
    last vertices may lie centimetres apart and point anywhere.
    """
    length = lines.part_length()
    edge = np.repeat(np.arange(len(length)), 2)
    last = np.tile([False, True], len(length))
    vertex = np.where(last, lines.offsets[1:][edge] - 1, lines.offsets[:-1][edge])
    window = np.minimum(WINDOW, length[edge])
    tangent = np.empty((6, len(edge)))
    block = 20_000
    for start in range(0, len(edge), block):
        checkpoint(start / len(edge))
        some = slice(start, start + block)
        tangent[:, some] = _tangents(
            lines, edge[some], last[some], window[some], length[edge[some]]
        )
    tx, ty, fx, fy, grade, radius = tangent
    x, y, z = lines.x[vertex], lines.y[vertex], lines.z[vertex]
    off = np.abs((x - fx) * ty - (y - fy) * tx)
    hook = np.where(off > HOOK, window / STATIONS, 0.0)
    straight = hook == 0
    # where the end is sound, the tangent passes as near to it as to what the rest shows
    fx, fy = np.where(straight, (x + fx) / 2, fx), np.where(straight, (y + fy) / 2, fy)
    reach = np.minimum(np.minimum(limits.max_extension, length[edge]), np.sqrt(2 * SAG * radius))
    return Ends(x, y, z, tx, ty, fx, fy, grade, hook, reach, length[edge], ~is_ring(lines)[edge])


def _tangents(lines, edge, last, window, length):
    """Unit tangent outwards, a point on it, grade outwards and radius, shape (6, k)."""
    share = np.arange(STATIONS + 1) / STATIONS
    away = window[:, None] * share
    chainage = np.where(last[:, None], length[:, None] - away, away)
    x, y, z, _, _ = points_at(lines, np.repeat(edge, STATIONS + 1), chainage.ravel())
    xyz = np.stack([x, y, z], axis=-1).reshape(len(edge), STATIONS + 1, 3)
    origin = xyz[:, :1].copy()
    xyz = xyz - origin
    best = np.zeros((2, len(edge)), np.int64)
    found = {}
    for number, stop in enumerate(WINDOWS):
        u = share[1 : stop + 1]
        for degree in (1, 2):
            design = np.stack([u**power for power in range(degree + 1)], axis=1)
            fit = np.einsum("pk,nkc->npc", np.linalg.pinv(design), xyz[:, 1 : stop + 1])
            off = xyz[:, 1 : stop + 1, :2] - np.einsum("kp,npc->nkc", design, fit[:, :, :2])
            found[degree, number] = fit
            fits = np.sqrt((off**2).sum(axis=2).mean(axis=1)) <= FIT
            best[degree - 1][fits] = number
    reach = np.asarray(WINDOWS)[best]
    curved = reach[1] > LONGER * reach[0]
    fit = np.zeros((len(edge), 3, 3))
    for number in range(len(WINDOWS)):
        for degree, rows in ((1, ~curved & (best[0] == number)), (2, curved & (best[1] == number))):
            fit[rows, : degree + 1] = found[degree, number][rows]
    along, bend = -fit[:, 1, :2] / window[:, None], 2 * fit[:, 2, :2] / window[:, None] ** 2
    size = np.maximum(np.hypot(*along.T), 1e-12)
    curvature = np.abs(along[:, 0] * bend[:, 1] - along[:, 1] * bend[:, 0]) / size**3
    told = window * np.where(curved, reach[1], reach[0]) / STATIONS
    rise = np.stack([found[1, number][:, 1, 2] for number in range(len(WINDOWS))])[
        np.where(curved, best[1], best[0]), np.arange(len(edge))
    ]
    grade = np.where((told >= GRADE_WINDOW) & np.isfinite(rise), -rise / window, 0.0)
    with np.errstate(divide="ignore"):
        radius = np.where(curved, 1 / np.maximum(curvature, 1e-12), np.inf)
    base = origin[:, 0, :2] + fit[:, 0, :2]
    return np.stack([*(along.T / size), *base.T, grade, radius])


# Pairs


@dataclass(frozen=True)
class _Pairs:
    """Two ends each, ``i < j``, shape (k,): where they would meet, how far each goes there, and
    `fail`, what forbids it or `_NOTHING`."""

    i: np.ndarray
    j: np.ndarray
    corner: np.ndarray
    valid: np.ndarray
    fail: np.ndarray
    cost: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    gap: np.ndarray
    deflection: np.ndarray
    beside: np.ndarray


def _find_pairs(ends, limits, sigma, sigma_up, group, kept):
    """All pairs of ends in reach of each other, with what would become of them."""
    from scipy.spatial import cKDTree

    open_ends = np.flatnonzero(ends.open)
    reach = max(limits.tolerance, 2 * limits.max_extension)
    if len(open_ends) > 1 and reach > 0:
        near = cKDTree(np.column_stack([ends.x, ends.y])[open_ends]).query_pairs(
            reach, output_type="ndarray"
        )
    else:
        near = np.zeros((0, 2), np.int64)
    i, j = np.sort(open_ends[near], axis=1).T.reshape(2, -1)
    order = np.lexsort((j, i))
    i, j = i[order], j[order]
    gx, gy = ends.x[j] - ends.x[i], ends.y[j] - ends.y[i]
    gap = np.hypot(gx, gy)
    tix, tiy, tjx, tjy = ends.tangent_x[i], ends.tangent_y[i], ends.tangent_x[j], ends.tangent_y[j]
    cross, dot = tix * tjy - tiy * tjx, tix * tjx + tiy * tjy
    deflection = np.degrees(np.arctan2(np.abs(cross), -dot))
    # the corner: from_i + a t_i = from_j + b t_j
    fx, fy = ends.from_x[j] - ends.from_x[i], ends.from_y[j] - ends.from_y[i]
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (fx * tjy - fy * tjx) / cross
        b = (fx * tiy - fy * tix) / cross
    bent = (deflection >= limits.min_corner) & (deflection <= REVERSAL)
    trim = np.minimum(
        max(limits.tolerance, SAME), MOST_BLEND * np.minimum(ends.length[i], ends.length[j])
    )
    in_reach = bent & (a <= ends.reach[i]) & (b <= ends.reach[j]) & (a >= -trim) & (b >= -trim)
    corner = in_reach & (limits.max_extension > 0)
    near = gap <= limits.tolerance
    # a direct meeting: between the ends, nearer to the better one
    weight = np.where(
        (sigma[i] > 0) & (sigma[j] > 0),
        sigma[j] ** 2 / np.maximum(sigma[i] ** 2 + sigma[j] ** 2, 1e-300),
        0.5,
    )
    x = np.where(
        corner,
        ends.from_x[i] + np.where(corner, a, 0) * tix,
        weight * ends.x[i] + (1 - weight) * ends.x[j],
    )
    y = np.where(
        corner,
        ends.from_y[i] + np.where(corner, a, 0) * tiy,
        weight * ends.y[i] + (1 - weight) * ends.y[j],
    )
    zi, zj = (
        ends.z[e]
        + ends.grade[e]
        * ((x - ends.x[e]) * ends.tangent_x[e] + (y - ends.y[e]) * ends.tangent_y[e])
        for e in (i, j)
    )
    weight = np.where(
        (sigma_up[i] > 0) & (sigma_up[j] > 0),
        sigma_up[j] ** 2 / np.maximum(sigma_up[i] ** 2 + sigma_up[j] ** 2, 1e-300),
        0.5,
    )
    z = np.where(np.isnan(zi), zj, np.where(np.isnan(zj), zi, weight * zi + (1 - weight) * zj))
    step = np.where(np.isfinite(zi) & np.isfinite(zj), np.abs(zi - zj), 0.0)
    would = corner | near
    path = np.hypot(x - ends.x[i], y - ends.y[i]) + np.hypot(x - ends.x[j], y - ends.y[j])
    cost = path + PER_HEIGHT * step + PER_DEGREE * deflection
    fail = np.full(len(i), _NOTHING)
    own = i // 2 == j // 2
    small = own & (path > RING_SHARE * ends.length[i])
    back = near & (deflection > REVERSAL)
    fail[would & own & (not limits.close_rings)] = RING
    fail[would & (step > limits.max_height)] = HEIGHTS
    fail[back] = BACK
    fail[would & (group[i] != group[j])] = OTHER_GROUP
    fail[would & (kept[i] | kept[j])] = KEPT_BREAK
    # straight on, but too far apart or one beside the other
    along = (gx * (tix - tjx) + gy * (tiy - tjy)) / np.maximum(
        np.hypot(tix - tjx, tiy - tjy), 1e-12
    )
    aside = np.sqrt(np.maximum(gap**2 - along**2, 0.0))
    straight = (
        ~would
        & (deflection < limits.min_corner)
        & (aside <= limits.tolerance)
        & ~own
        & (limits.max_extension > 0)
    )
    fail[straight] = np.where(along[straight] > 0, GAP, OVERLAP)
    fail[straight & ((group[i] != group[j]) | kept[i] | kept[j])] = _NOTHING
    worth = (would | straight) & ~small
    valid = would & ~small & (fail == _NOTHING)
    cost = np.where(straight, gap, cost)
    return _Pairs(
        *(
            column[worth]
            for column in (
                i,
                j,
                corner,
                valid,
                fail,
                cost,
                x,
                y,
                z,
                gap,
                deflection,
                np.full(len(i), -1),
            )
        )
    )


def _geometries(lines):
    import shapely

    return shapely.linestrings(
        np.column_stack([lines.x, lines.y]), indices=group_index(lines.offsets)
    )


def _mind_edges_between(pairs, ends, shapes, checkpoint):
    """The same pairs, those that another edge lies between no longer valid."""
    import shapely

    looked = np.flatnonzero(pairs.valid)
    via = np.column_stack([pairs.x, pairs.y])[looked]
    first, second = (np.column_stack([ends.x, ends.y])[e[looked]] for e in (pairs.i, pairs.j))
    size = np.hypot(*(via - first).T) + np.hypot(*(second - via).T)
    some = size > CROSSED_FROM
    looked, via, first, second = looked[some], via[some], first[some], second[some]
    if not len(looked):
        return pairs
    tree = shapely.STRtree(shapes)
    paths = shapely.linestrings(np.stack([first, via, second], axis=1))
    block = 50_000
    for start in range(0, len(looked), block):
        checkpoint(0.4 + 0.2 * start / len(looked))
        path, edge = tree.query(paths[start : start + block], predicate="intersects")
        pair = looked[start + path]
        other = (edge != pairs.i[pair] // 2) & (edge != pairs.j[pair] // 2)
        # the lowest edge, so that the answer does not depend on the tree
        order = np.lexsort((-edge[other], pair[other]))
        pair, edge = pair[other][order], edge[other][order]
        pairs.beside[pair] = edge
        pairs.valid[pair] = False
        pairs.fail[pair] = CROSSED
    return pairs


def _choose(pairs, count):
    """True for pairs that are joined: both the best of either end, and clearly better than all
    others. In rounds, as ends leave."""
    chosen = np.zeros(len(pairs.i), bool)
    alive = np.flatnonzero(pairs.valid)
    while len(alive):
        end = np.concatenate([pairs.i[alive], pairs.j[alive]])
        pair, cost = np.tile(alive, 2), np.tile(pairs.cost[alive], 2)
        order = np.lexsort((pair, cost, end))
        end, pair, cost = end[order], pair[order], cost[order]
        offsets = offsets_from_starts(np.append(True, np.diff(end) > 0))
        first = offsets[:-1]
        rival = np.where(np.diff(offsets) > 1, cost[np.minimum(first + 1, len(cost) - 1)], np.inf)
        clear = rival > CLEAR * cost[first] + CLEAR_BY
        votes = np.bincount(pair[first][clear], minlength=len(pairs.i))
        take = np.flatnonzero(votes == 2)
        if not len(take):
            break
        chosen[take] = True
        gone = np.zeros(count, bool)
        gone[pairs.i[take]] = gone[pairs.j[take]] = True
        alive = alive[~(gone[pairs.i[alive]] | gone[pairs.j[alive]])]
    return chosen


def _without_rings(pairs, chosen, partner, length):
    """The same choice with each ring of several edges opened where its ends fit worst; changes
    `partner` and `pairs.fail`."""
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


# Chains of edges


def _chains(partner, length):
    """Edges in the order and direction in which they follow each other.

    A chain keeps the direction that the greater part of its length has, and starts, where it is a
    ring, at its first edge.
    """
    count = len(length)
    seen = np.zeros(count, bool)
    part, turned, sizes, closed = [], [], [], []
    partner = partner.tolist()
    for first in range(count):
        if seen[first]:
            continue
        at, ring = 2 * first, False  # the end that leads back
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
    part_offsets = np.concatenate([[0], np.cumsum(sizes)]).astype(np.int64)
    lowest = np.minimum.reduceat(part, part_offsets[:-1]) if len(sizes) else np.zeros(0, np.int64)
    order = np.argsort(lowest, kind="stable")
    places = ranges(part_offsets[:-1][order], np.diff(part_offsets)[order])
    return (
        part[places],
        turned[places],
        np.concatenate([[0], np.cumsum(np.diff(part_offsets)[order])]),
        closed[order],
    )


# The new vertices


@dataclass(frozen=True)
class _Moves:
    """Where ends go, shape (2 * edges,): `to` (m, 3), NaN for an end that stays; `trim` metres
    taken off; `ahead` metres that it is extended by, and `onward` (m, 3) that extension as a
    vector."""

    to: np.ndarray
    trim: np.ndarray
    ahead: np.ndarray
    onward: np.ndarray


def _moves(ends, pairs, chosen, length):
    count = 2 * len(length)
    to = np.full((count, 3), np.nan)
    moves = np.zeros(count, bool)
    for end in (pairs.i, pairs.j):
        to[end[chosen]] = np.column_stack([pairs.x, pairs.y, pairs.z])[chosen]
        moves[end[chosen]] = True
    hook = np.where(moves, np.minimum(ends.hook, MOST_BLEND * ends.length), 0.0)
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
    trim = np.minimum(hook + np.maximum(-along, 0.0), MOST_BLEND * ends.length)
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
    run = group_index(lines.offsets)
    chainage = cumulative(lines.steps(), lines.offsets)
    trim = moves.trim.reshape(-1, 2)
    # what is left of the ends after trimming, and how it must shift
    end_run = np.repeat(np.arange(edges), 2)
    last = np.tile([False, True], edges)
    at = np.where(last, length[end_run] - moves.trim, moves.trim)
    here = np.column_stack(points_at(lines, end_run, at)[:3])
    extended = moves.ahead >= SAME
    shift = np.where(moved[:, None], moves.to - here - extended[:, None] * moves.onward, 0.0)
    shift[:, 2] = np.where(np.isfinite(shift[:, 2]), shift[:, 2], 0.0)
    aside = np.hypot(shift[:, 0], shift[:, 1])
    spread = np.maximum(np.maximum(aside / KINK, np.abs(shift[:, 2]) / GRADE_KINK), SAME)
    left = length - trim.sum(axis=1)
    spread = np.minimum(spread, MOST_BLEND * left[end_run])
    # vertices that stay, and new ones where a trimmed end and a spread begin
    inside = (chainage > trim[run, 0] + np.where(trim[run, 0] > 0, SAME, -1)) & (
        chainage < (length - trim[:, 1])[run] - np.where(trim[run, 1] > 0, SAME, -1)
    )
    begins = np.where(last, at - spread, at + spread)
    cut = np.flatnonzero(moves.trim > 0)
    bends = np.flatnonzero(moved & (aside + np.abs(shift[:, 2]) > SAME))
    bends = bends[~_near_vertex(chainage, run, end_run[bends], begins[bends], lines.offsets)]
    new = np.concatenate([cut, bends])
    new_at = np.concatenate([at[cut], begins[bends]])
    nx, ny, nz, _, _ = points_at(lines, end_run[new], new_at)
    own = np.flatnonzero(inside)
    all_run = np.concatenate([run[own], end_run[new]])
    all_at = np.concatenate([chainage[own], new_at])
    all_xyz = np.concatenate(
        [np.column_stack([lines.x, lines.y, lines.z])[own], np.column_stack([nx, ny, nz])]
    )
    vertex = np.concatenate([own, np.full(len(new), -1)])
    order = np.lexsort((vertex, all_at, all_run))
    all_run, all_at, all_xyz, vertex = all_run[order], all_at[order], all_xyz[order], vertex[order]
    for side in (0, 1):
        end = 2 * all_run + side
        share = np.clip(1 - np.abs(all_at - at[end]) / spread[end], 0.0, 1.0) * moved[end]
        all_xyz = all_xyz + share[:, None] * shift[end]
        vertex = np.where(share * (aside[end] + np.abs(shift[end, 2])) > 0, -1, vertex)
    offsets = np.searchsorted(all_run, np.arange(edges + 1))
    all_xyz, vertex, offsets = _put_meeting_points(all_xyz, vertex, offsets, moves.to, moved)
    # one after the other
    size = np.diff(offsets)
    taken = ranges(offsets[part], size[part])
    place = np.concatenate([[0], np.cumsum(size[part])])
    back = np.repeat(turned, size[part])
    within = place_in_group(place)
    taken = np.where(back, np.repeat(offsets[part] + size[part] - 1, size[part]) - within, taken)
    repeated = np.zeros(len(part), bool)
    repeated[1:] = True
    repeated[part_offsets[:-1]] = False
    keep = np.ones(len(taken), bool)
    keep[place[:-1][repeated]] = False
    number = group_sum(group_sum(keep.astype(np.int64), place), part_offsets)
    out = np.concatenate([[0], np.cumsum(number)]).astype(np.int64)
    xyz, vertex = all_xyz[taken[keep]], vertex[taken[keep]]
    rings = np.flatnonzero(closed)
    xyz[out[1:][rings] - 1], vertex[out[1:][rings] - 1] = (
        xyz[out[:-1][rings]],
        vertex[out[:-1][rings]],
    )
    return (*xyz.T, vertex, out)


def _near_vertex(chainage, run, of, at, offsets):
    """True where a chainage of a run lies within a centimetre of one of its vertices."""
    lift = 1e7
    flat = chainage + lift * run
    place = np.searchsorted(flat, at + lift * of)
    before, after = np.clip(place - 1, offsets[of], None), np.clip(place, None, offsets[of + 1] - 1)
    return np.minimum(np.abs(chainage[before] - at), np.abs(chainage[after] - at)) < 0.01


def _put_meeting_points(xyz, vertex, offsets, to, moved):
    """The same runs, those ends that move ending in their meeting points."""
    for side in (0, 1):
        rows = np.flatnonzero(moved[side::2])
        if not len(rows):
            continue
        goal = to[2 * rows + side]
        end = offsets[1:][rows] - 1 if side else offsets[:-1][rows]
        inner = end - 1 if side else end + 1
        # an end that lies on the way from the vertex before to the meeting point is not needed
        way, own = goal[:, :2] - xyz[inner, :2], xyz[end, :2] - xyz[inner, :2]
        size = np.maximum(np.hypot(*way.T), 1e-12)
        off = np.abs(way[:, 0] * own[:, 1] - way[:, 1] * own[:, 0]) / size
        share = np.clip((own * way).sum(axis=1) / size**2, 0.0, 1.0)
        up = np.abs(xyz[inner, 2] + share * (goal[:, 2] - xyz[inner, 2]) - xyz[end, 2])
        apart = np.hypot(*(goal[:, :2] - xyz[end, :2]).T)
        same = (apart < 1e-9) & ~(np.abs(goal[:, 2] - xyz[end, 2]) > 1e-9)
        replace = (off < SAME) & ~(up > 2 * SAME) | (apart < SAME)
        xyz[end[replace]] = goal[replace]
        vertex[end[replace & ~same]] = -1
        grow = ~replace
        place = (end + 1 if side else end)[grow]
        xyz = np.insert(xyz, place, goal[grow], axis=0)
        vertex = np.insert(vertex, place, -1)
        more = np.zeros(len(offsets) - 1, np.int64)
        more[rows[grow]] = 1
        offsets = offsets + np.concatenate([[0], np.cumsum(more)])
    return xyz, vertex, offsets


# What was done, and what was left


def _changes(ends, pairs, chosen, partner, edge_of, closed, shapes, limits):
    """List of all joins, and of ends that were left open though another edge is near."""
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
            (
                what,
                CORNER if pairs.corner[pair] else DIRECT,
                pairs.x[pair],
                pairs.y[pair],
                pairs.z[pair],
                (i, j),
                -1,
                own,
                pairs.gap[pair],
                pairs.deflection[pair],
                max(plan for plan, _ in way),
                max(up, default=np.nan),
            )
        )
    rows += _left_open(ends, pairs, chosen, partner, shapes, limits)
    columns = list(zip(*rows)) if rows else [()] * 12
    what, why, x, y, z, members, beside, edge, gap, deflection, moved, up = columns
    size = [len(some) for some in members]
    whole, real = (
        (lambda values: np.array(values, np.int64)),
        (lambda values: np.array(values, float)),
    )
    return Changes(
        whole(what),
        whole(why),
        real(x),
        real(y),
        real(z),
        whole([end for some in members for end in some]),
        np.concatenate([[0], np.cumsum(size)]).astype(np.int64),
        whole(beside),
        whole(edge),
        real(gap),
        real(deflection),
        real(moved),
        real(up),
    )


def _left_open(ends, pairs, chosen, partner, shapes, limits):
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    rows, told = [], np.zeros(len(ends.x), bool)

    def tell(why, members, beside=-1, gap=np.nan, deflection=np.nan):
        some = list(members)
        z = ends.z[some][np.isfinite(ends.z[some])]
        rows.append(
            (
                LEFT_OPEN,
                why,
                ends.x[some].mean(),
                ends.y[some].mean(),
                z.mean() if len(z) else np.nan,
                tuple(some),
                beside,
                -1,
                gap,
                deflection,
                np.nan,
                np.nan,
            )
        )
        told[some] = True

    free = partner < 0
    open_pairs = np.flatnonzero(pairs.valid & ~chosen & free[pairs.i] & free[pairs.j])
    if len(open_pairs):  # junctions: all ends that could go with each other
        i, j = pairs.i[open_pairs], pairs.j[open_pairs]
        graph = coo_matrix((np.ones(len(i)), (i, j)), (len(free), len(free)))
        _, label = connected_components(graph, directed=False)
        members = np.unique(np.concatenate([i, j]))
        order = members[np.argsort(label[members], kind="stable")]
        for some in np.split(order, np.flatnonzero(np.diff(label[order])) + 1):
            tell(JUNCTION, some.tolist())
    taken = np.flatnonzero(pairs.valid & ~chosen & (free[pairs.i] != free[pairs.j]))
    for pair in taken[np.lexsort((taken, pairs.cost[taken]))].tolist():
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        own, other = (i, j) if free[i] else (j, i)
        if not told[own]:
            tell(TAKEN, (own, other, int(partner[other])), gap=pairs.gap[pair])
            told[[other, partner[other]]] = False
    failed = np.flatnonzero(pairs.fail != _NOTHING)
    for pair in failed[np.lexsort((failed, pairs.cost[failed]))].tolist():
        i, j = int(pairs.i[pair]), int(pairs.j[pair])
        if free[i] and free[j] and not (told[i] or told[j]):
            tell(
                int(pairs.fail[pair]),
                (i, j),
                int(pairs.beside[pair]),
                pairs.gap[pair],
                pairs.deflection[pair],
            )
    for end, edge, gap in _on_edges(
        ends, np.flatnonzero(free & ends.open & ~told), shapes, limits.tolerance
    ):
        tell(ON_EDGE, (end,), edge, gap)
    return rows


def _on_edges(ends, some, shapes, tolerance):
    """Ends that lie on another edge, between its ends: end, edge and distance of the nearest
    one."""
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
    first = np.append(True, np.diff(row) > 0) if len(row) else np.zeros(0, bool)
    return list(zip(some[row[first]].tolist(), edge[first].tolist(), gap[first].tolist()))


def ring_area(x, y, offsets):
    """Area of rings by the shoelace formula, + where they run counter-clockwise, shape (rings,),
    m².

    Parameters
    ----------
    x, y : ndarray of float, shape (v,)
        Vertices, the last one of a ring that of its start.
    offsets : ndarray of int, shape (rings + 1,)
    """
    first = np.repeat(offsets[:-1], np.diff(offsets))
    x, y = x - x[first], y - y[first]  # near zero, where no digits are lost
    cross = np.append(x[:-1] * y[1:] - x[1:] * y[:-1], 0.0)[: len(x)]
    cross[offsets[1:] - 1] = 0.0
    return group_sum(cross, offsets) / 2
