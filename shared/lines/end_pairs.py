"""Which ends of edges belong together.

Every open edge has two ends, each with a tangent estimated over the last metres. Two ends within
the tolerance meet in a point between them; two tangents that meet within a limit are extended to
their corner. An end gets at most one partner: one where each is the best for the other, and clearly
better than any third.
"""

from dataclasses import dataclass, fields

import numpy as np
from scipy.spatial import cKDTree

from ..arrays.ragged import group_index, offsets_from_starts, stretch_starts
from ..tuning import JOINS
from .lines import is_ring, points_at
from .squares import cells_of

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
NOTHING = -1


@dataclass(frozen=True)
class JoinLimits:
    """What the user can choose; lengths in metres, the angle in degrees.

    Attributes
    ----------
    tolerance : float
        Ends nearer than this are joined.
    max_extension : float
        How far a tangent may be extended to a corner; 0 for not at all.
    min_corner : float
        Minimum deflection of a corner; a smaller one is a straight continuation.
    max_height : float
        Maximum difference of heights where two ends meet.
    close_rings : bool
        Join an edge's own ends as well.
    """

    tolerance: float = 0.25
    max_extension: float = 1.5
    min_corner: float = 20.0
    max_height: float = 0.10
    close_rings: bool = True


@dataclass(frozen=True)
class Ends:
    """Ends of edges, shape (2 * edges,): end ``2 e`` is the start of edge ``e``, ``2 e + 1`` its
    end; metres.

    `x`, `y`, `z`: position; `tangent_x`, `tangent_y`: unit vector away from the edge, on a line
    through `from_x`, `from_y`; `grade`: height gained per metre along it; `hook`: length at the end
    that does not follow the rest; `reach`: by which it may be extended; `length`: of the edge;
    `open`: False for ends of rings; `crowd`: number of the crowd that an open end is in, where too
    many ends meet to join any, -1 for none.
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
    crowd: np.ndarray


def find_ends(lines, limits, progress=lambda share: None):
    """Ends of edges with their tangents.

    Parameters
    ----------
    lines : Lines
        Each part is an edge.
    limits : JoinLimits
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Ends

    Notes
    -----
    Positions and heights are sampled at equal steps over the last metres, and polynomials of degree
    one and two in the chainage are fitted to shorter and longer stretches of them from the end. The
    longest stretch that fits within `JOINS.max_rms` determines the tangent, so that a corner near
    the end is left out; a parabola is used if it reaches clearly farther, as on an arc. The end
    itself is not used: the last vertices may lie centimetres apart and point anywhere.
    """
    length = lines.part_length()
    edge = np.repeat(np.arange(len(length)), 2)
    last = np.tile([False, True], len(length))
    vertex = np.where(last, lines.offsets[1:][edge] - 1, lines.offsets[:-1][edge])
    window = np.minimum(JOINS.window, length[edge])
    tangent = np.empty((6, len(edge)))
    block = JOINS.end_block
    for start in range(0, len(edge), block):
        progress(start / len(edge))
        some = slice(start, start + block)
        tangent[:, some] = _tangents(
            lines, edge[some], last[some], window[some], length[edge[some]]
        )
    tx, ty, fx, fy, grade, radius = tangent
    x, y, z = lines.x[vertex], lines.y[vertex], lines.z[vertex]
    off = np.abs((x - fx) * ty - (y - fy) * tx)
    hook = np.where(off > JOINS.hook, window / JOINS.stations, 0.0)
    straight = hook == 0
    # with a sound end, the tangent passes midway between the end and the fitted curve
    fx, fy = np.where(straight, (x + fx) / 2, fx), np.where(straight, (y + fy) / 2, fy)
    reach = np.minimum(
        np.minimum(limits.max_extension, length[edge]), np.sqrt(2 * JOINS.max_sagitta * radius)
    )
    is_open = ~is_ring(lines)[edge]
    crowd = _crowds(x, y, is_open, _reach(limits))
    return Ends(x, y, z, tx, ty, fx, fy, grade, hook, reach, length[edge], is_open, crowd)


def _tangents(lines, edge, last, window, length):
    """Outward unit tangent, a point on it, outward grade, and radius, shape (6, k)."""
    share = np.arange(JOINS.stations + 1) / JOINS.stations
    away = window[:, None] * share
    chainage = np.where(last[:, None], length[:, None] - away, away)
    x, y, z, _, _ = points_at(lines, np.repeat(edge, JOINS.stations + 1), chainage.ravel())
    xyz = np.stack([x, y, z], axis=-1).reshape(len(edge), JOINS.stations + 1, 3)
    origin = xyz[:, :1].copy()
    xyz = xyz - origin
    best = np.zeros((2, len(edge)), np.int64)
    found = {}
    for number, stop in enumerate(JOINS.shares):
        u = share[1 : stop + 1]
        for degree in (1, 2):
            design = np.stack([u**power for power in range(degree + 1)], axis=1)
            fit = np.einsum("pk,nkc->npc", np.linalg.pinv(design), xyz[:, 1 : stop + 1])
            off = xyz[:, 1 : stop + 1, :2] - np.einsum("kp,npc->nkc", design, fit[:, :, :2])
            found[degree, number] = fit
            fits = np.sqrt((off**2).sum(axis=2).mean(axis=1)) <= JOINS.max_rms
            best[degree - 1][fits] = number
    reach = np.asarray(JOINS.shares)[best]
    curved = reach[1] > JOINS.parabola_gain * reach[0]
    fit = np.zeros((len(edge), 3, 3))
    for number in range(len(JOINS.shares)):
        for degree, rows in ((1, ~curved & (best[0] == number)), (2, curved & (best[1] == number))):
            fit[rows, : degree + 1] = found[degree, number][rows]
    along, bend = -fit[:, 1, :2] / window[:, None], 2 * fit[:, 2, :2] / window[:, None] ** 2
    size = np.maximum(np.hypot(*along.T), 1e-12)
    curvature = np.abs(along[:, 0] * bend[:, 1] - along[:, 1] * bend[:, 0]) / size**3
    used = window * np.where(curved, reach[1], reach[0]) / JOINS.stations
    rise = np.stack([found[1, number][:, 1, 2] for number in range(len(JOINS.shares))])[
        np.where(curved, best[1], best[0]), np.arange(len(edge))
    ]
    grade = np.where((used >= JOINS.min_grade_window) & np.isfinite(rise), -rise / window, 0.0)
    with np.errstate(divide="ignore"):
        radius = np.where(curved, 1 / np.maximum(curvature, 1e-12), np.inf)
    base = origin[:, 0, :2] + fit[:, 0, :2]
    return np.stack([*(along.T / size), *base.T, grade, radius])


@dataclass(frozen=True)
class Pairs:
    """Pairs of ends ``i < j``, shape (k,).

    `corner`: they would meet in a corner; `valid`: they may be joined; `fail`: place in `WHY_NAMES`
    of what forbids it, or `NOTHING`; `cost`: of joining them, metres; `x`, `y`, `z`: where they
    would meet, metres; `gap`: between both, metres; `deflection`: degrees; `beside`: edge that lies
    between them, -1 for none.
    """

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

    def take(self, rows):
        """Some of the pairs; `rows` is bool, shape (k,)."""
        return Pairs(**{column.name: getattr(self, column.name)[rows] for column in fields(self)})


@dataclass(frozen=True)
class EndProperties:
    """Properties of each end that are given, shape (2 * edges,).

    `sigma`, `sigma_up`: 1-sigma of its position and height, metres, 0 if unknown; `group`: only
    ends of one group are joined; `kept`: it must stay open.
    """

    sigma: np.ndarray
    sigma_up: np.ndarray
    group: np.ndarray
    kept: np.ndarray


# long: one expression for each property of a pair
def find_pairs(ends, limits, properties):
    """Find all pairs of ends within reach of each other, and how they would be joined.

    Parameters
    ----------
    ends : Ends
    limits : JoinLimits
    properties : EndProperties

    Returns
    -------
    Pairs
    """
    i, j = _near_ends(ends, limits)
    gx, gy = ends.x[j] - ends.x[i], ends.y[j] - ends.y[i]
    gap = np.hypot(gx, gy)
    ti, tj = (np.stack([ends.tangent_x[e], ends.tangent_y[e]]) for e in (i, j))
    cross, dot = ti[0] * tj[1] - ti[1] * tj[0], ti[0] * tj[0] + ti[1] * tj[1]
    deflection = np.degrees(np.arctan2(np.abs(cross), -dot))
    a, corner = _corners(ends, limits, (i, j), (ti, tj), cross, deflection)
    near = gap <= limits.tolerance
    # a direct meeting point lies between the ends, nearer to the more precise one
    weight = _weight(properties.sigma, i, j)
    ahead = np.where(corner, a, 0)
    x = np.where(
        corner, ends.from_x[i] + ahead * ti[0], weight * ends.x[i] + (1 - weight) * ends.x[j]
    )
    y = np.where(
        corner, ends.from_y[i] + ahead * ti[1], weight * ends.y[i] + (1 - weight) * ends.y[j]
    )
    z, step = _meeting_height(ends, i, j, (x, y), _weight(properties.sigma_up, i, j))
    would, own = corner | near, i // 2 == j // 2
    path = np.hypot(x - ends.x[i], y - ends.y[i]) + np.hypot(x - ends.x[j], y - ends.y[j])
    cost = path + JOINS.cost_per_height * step + JOINS.cost_per_degree * deflection
    small = own & (path > JOINS.max_ring_gap_share * ends.length[i])
    apart = properties.group[i] != properties.group[j]
    kept = properties.kept[i] | properties.kept[j]
    fail = _failures(
        limits, would, own, step > limits.max_height, near & (deflection > JOINS.reversal)
    )
    fail[would & apart] = OTHER_GROUP
    fail[would & kept] = KEPT_BREAK
    # straight on, but too far apart or overlapping
    tx, ty = ti[0] - tj[0], ti[1] - tj[1]
    along = (gx * tx + gy * ty) / np.maximum(np.hypot(tx, ty), 1e-12)
    aside = np.sqrt(np.maximum(gap**2 - along**2, 0.0))
    straight = ~would & (deflection < limits.min_corner) & (aside <= limits.tolerance) & ~own
    straight &= limits.max_extension > 0
    fail[straight] = np.where(along[straight] > 0, GAP, OVERLAP)
    fail[straight & (apart | kept)] = NOTHING
    return Pairs(
        i=i,
        j=j,
        corner=corner,
        valid=would & ~small & (fail == NOTHING),
        fail=fail,
        cost=np.where(straight, gap, cost),
        x=x,
        y=y,
        z=z,
        gap=gap,
        deflection=deflection,
        beside=np.full(len(i), -1),
    ).take((would | straight) & ~small)


def _failures(limits, would, own, high, back):
    """What forbids each pair by its shape or heights, else `NOTHING`."""
    fail = np.full(len(would), NOTHING)
    fail[would & own & (not limits.close_rings)] = RING
    fail[would & high] = HEIGHTS
    fail[back] = BACK
    return fail


def _crowds(x, y, is_open, reach):
    """Number of the crowd that each open end is in, -1 for none: a square of `reach` metres with
    more than `JOINS.most_ends` open ends, where nothing is joined."""
    some, crowd = np.flatnonzero(is_open), np.full(len(x), -1)
    if len(some) > JOINS.most_ends and reach > 0:
        cell = cells_of(x[some], y[some], reach)
        many = (np.bincount(cell) > JOINS.most_ends)[cell]
        crowd[some[many]] = cell[many]
    return crowd


def _reach(limits):
    """Maximum distance between two ends that are joined, metres."""
    return max(limits.tolerance, 2 * limits.max_extension)


def _near_ends(ends, limits):
    """Pairs of open ends that may reach each other, ``i < j``, in order."""
    open_ends = np.flatnonzero(ends.open & (ends.crowd < 0))
    reach = _reach(limits)
    near = np.zeros((0, 2), np.int64)
    if len(open_ends) > 1 and reach > 0:
        places = np.column_stack([ends.x, ends.y])[open_ends]
        near = cKDTree(places).query_pairs(reach, output_type="ndarray")
    i, j = np.sort(open_ends[near], axis=1).T.reshape(2, -1)
    order = np.lexsort((j, i))
    return i[order], j[order]


def _corners(ends, limits, pair, tangents, cross, deflection):
    """Where the tangents meet, ``from_i + a t_i = from_j + b t_j``: a, and True if that is a corner
    within the limits."""
    (i, j), (ti, tj) = pair, tangents
    fx, fy = ends.from_x[j] - ends.from_x[i], ends.from_y[j] - ends.from_y[i]
    with np.errstate(divide="ignore", invalid="ignore"):
        a = (fx * tj[1] - fy * tj[0]) / cross
        b = (fx * ti[1] - fy * ti[0]) / cross
    bent = (deflection >= limits.min_corner) & (deflection <= JOINS.reversal)
    trim = np.minimum(
        max(limits.tolerance, JOINS.same),
        JOINS.max_blend_share * np.minimum(ends.length[i], ends.length[j]),
    )
    in_reach = bent & (a <= ends.reach[i]) & (b <= ends.reach[j]) & (a >= -trim) & (b >= -trim)
    return a, in_reach & (limits.max_extension > 0)


def _weight(sigma, i, j):
    """Weight of the first of two ends in their mean, 1/2 if a sigma is unknown."""
    return np.where(
        (sigma[i] > 0) & (sigma[j] > 0),
        sigma[j] ** 2 / np.maximum(sigma[i] ** 2 + sigma[j] ** 2, 1e-300),
        0.5,
    )


def _meeting_height(ends, i, j, place, weight):
    """Height of each meeting point, extrapolated along the grades, and how much both differ."""
    x, y = place
    zi, zj = (
        ends.z[e]
        + ends.grade[e]
        * ((x - ends.x[e]) * ends.tangent_x[e] + (y - ends.y[e]) * ends.tangent_y[e])
        for e in (i, j)
    )
    z = np.where(np.isnan(zi), zj, np.where(np.isnan(zj), zi, weight * zi + (1 - weight) * zj))
    return z, np.where(np.isfinite(zi) & np.isfinite(zj), np.abs(zi - zj), 0.0)


def geometries_of(lines):
    """Parts as geometries.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    ndarray of shapely.LineString, shape (parts,)
    """
    import shapely

    return shapely.linestrings(
        np.column_stack([lines.x, lines.y]), indices=group_index(lines.offsets)
    )


def exclude_crossed(pairs, ends, shapes, progress):
    """Mark pairs as invalid if another edge lies between them.

    Parameters
    ----------
    pairs : Pairs
        Changed in place.
    ends : Ends
    shapes : ndarray of shapely.LineString, shape (edges,)
    progress : callable
        Called with 0.4 to 0.6; may raise.

    Returns
    -------
    Pairs
        The same ones.
    """
    import shapely

    tested = np.flatnonzero(pairs.valid)
    via = np.column_stack([pairs.x, pairs.y])[tested]
    first, second = (np.column_stack([ends.x, ends.y])[e[tested]] for e in (pairs.i, pairs.j))
    size = np.hypot(*(via - first).T) + np.hypot(*(second - via).T)
    some = size > JOINS.min_crossing
    tested, via, first, second = tested[some], via[some], first[some], second[some]
    if not len(tested):
        return pairs
    tree = shapely.STRtree(shapes)
    paths = shapely.linestrings(np.stack([first, via, second], axis=1))
    block = JOINS.path_block
    for start in range(0, len(tested), block):
        progress(0.4 + 0.2 * start / len(tested))
        path, edge = tree.query(paths[start : start + block], predicate="intersects")
        pair = tested[start + path]
        other = (edge != pairs.i[pair] // 2) & (edge != pairs.j[pair] // 2)
        # name the lowest edge, so that the result does not depend on the tree
        order = np.lexsort((-edge[other], pair[other]))
        pair, edge = pair[other][order], edge[other][order]
        pairs.beside[pair] = edge
        pairs.valid[pair] = False
        pairs.fail[pair] = CROSSED
    return pairs


def choose_pairs(pairs, count):
    """Choose the pairs that are joined: each end is the best for the other, and clearly better than
    all others. It takes rounds, as joined ends leave.

    Parameters
    ----------
    pairs : Pairs
    count : int
        Number of ends.

    Returns
    -------
    ndarray of bool, shape (k,)
    """
    chosen = np.zeros(len(pairs.i), bool)
    alive = np.flatnonzero(pairs.valid)
    while len(alive):
        end = np.concatenate([pairs.i[alive], pairs.j[alive]])
        pair, cost = np.tile(alive, 2), np.tile(pairs.cost[alive], 2)
        order = np.lexsort((pair, cost, end))
        end, pair, cost = end[order], pair[order], cost[order]
        offsets = offsets_from_starts(stretch_starts(end))
        first = offsets[:-1]
        rival = np.where(np.diff(offsets) > 1, cost[np.minimum(first + 1, len(cost) - 1)], np.inf)
        clear = rival > JOINS.clear_ratio * cost[first] + JOINS.clear_margin
        votes = np.bincount(pair[first][clear], minlength=len(pairs.i))
        take = np.flatnonzero(votes == 2)
        if not len(take):
            break
        chosen[take] = True
        gone = np.zeros(count, bool)
        gone[pairs.i[take]] = gone[pairs.j[take]] = True
        alive = alive[~(gone[pairs.i[alive]] | gone[pairs.j[alive]])]
    return chosen
