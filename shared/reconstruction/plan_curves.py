"""Fitted curves of runs, their samples, and the lines written from them."""

from dataclasses import dataclass

import numpy as np

from ..alignment.search import curvature_at, element_leverage, project
from ..arrays.plane import distance
from ..arrays.ragged import apart, cumulative, group_index, group_sum, on_grid, ranges
from ..arrays.spline import Spline, interpolate, unit_normals
from ..arrays.thinning import balance, thin

UP_TOLERANCE = 2.0  # heights are half as sure as positions
SAMPLE_SHARE = 1 / 16  # of the tolerance, spent on sampling the curve
MOST_SAMPLES = 64  # in one interval
IN_LINE = 1e-9  # m
AT_ONCE = 1 << 16  # samples whose heights are looked up together; bounds the memory
# m between two ways to find a corner; over that the tangents are not to be trusted
CORNER_TRUST = 0.25


@dataclass(frozen=True)
class Plan:
    """Fitted curves of all runs in plan, as nodes in the order of travel.

    Arrays of shape (nodes,): `x`, `y`; `s` chainage from the start of the run, never falling;
    `bend` curvature of the piece to the next node, 1/m, + to the left, an arc or a straight line;
    `held`: ends and corners, which stay as they are. `offsets`, shape (runs + 1,); `node`, shape
    (m,), the node at each position's foot; `normal`, shape (m, 2), unit normal there, to the right
    of the direction of travel; `closed`, shape (runs,): the last node is where the first one is.
    `sigma`, shape (m,), 1-sigma of the curve across, of the white noise alone; `corners`, shape (c,
    2), and `corner_run`, shape (c,), the runs that they belong to.
    """

    x: np.ndarray
    y: np.ndarray
    s: np.ndarray
    bend: np.ndarray
    held: np.ndarray
    offsets: np.ndarray
    node: np.ndarray
    normal: np.ndarray
    closed: np.ndarray
    sigma: np.ndarray
    corners: np.ndarray
    corner_run: np.ndarray

    @property
    def run(self):
        return group_index(self.offsets)

    @property
    def chainage(self):
        """Of the positions' feet, (m,)."""
        return self.s[self.node]

    @property
    def length(self):
        """Of the runs, (runs,)."""
        return self.s[self.offsets[1:] - 1] if len(self.offsets) > 1 else np.zeros(0)


@dataclass(frozen=True)
class Curves:
    """Samples of the fitted curves of all runs: chords between them stay within a small share of
    the tolerance."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    run: np.ndarray
    held: np.ndarray


def plan_of_chains(chains, offsets, corner_angle):
    """Nodes of chains of tangents and arcs: the joints and the feet of the positions. Corners of at
    least `corner_angle` (degrees) are held."""
    count, m, runs = len(chains), len(chains.chainage), len(offsets) - 1
    if not m:
        none = np.zeros(0)
        return Plan(
            none,
            none,
            none,
            none,
            none > 0,
            np.zeros(runs + 1, np.int64),
            none.astype(int),
            none.reshape(0, 2),
            chains.closed,
            none,
            none.reshape(0, 2),
            none.astype(int),
        )
    element = np.arange(count)
    of_run = group_index(chains.offsets)
    owner = group_index(chains.bounds)
    start = chains.bounds[:-1] + element + of_run
    node = np.arange(m) + owner + 1 + of_run[owner]
    last = chains.offsets[1:] - 1
    end = chains.bounds[last + 1] + last + 1 + np.arange(runs)
    size = m + count + runs
    x, y, s, bend, held = (np.zeros(size) for _ in range(5))
    before = cumulative(chains.length, chains.offsets)
    feet, direction = chains.at(chains.chainage - before[owner], owner)
    x[start], y[start] = chains.start.T
    x[node], y[node] = feet.T
    x[end], y[end] = chains.end[last].T
    s[start], s[node], s[end] = before, chains.chainage, on_grid(before[last] + chains.length[last])
    bend[start], bend[node] = chains.curvature, chains.curvature[owner]
    # corners: between an element and the one before it
    previous = element - 1
    first = chains.offsets[:-1]
    previous[first] = np.where(chains.closed, last, first)
    _, leave = chains.at(np.zeros(count), element)
    _, arrive = chains.at(chains.length, element)
    arrive = arrive[previous]
    sine, cosine = (
        arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0],
        (arrive * leave).sum(axis=1),
    )
    corner = ~chains.smooth[previous] & (
        np.abs(np.arctan2(sine, cosine)) >= np.radians(corner_angle)
    )
    corner[first] &= chains.closed
    held[start[corner]] = 1
    held[start[first]] = held[end] = 1
    normal = np.column_stack([direction[:, 1], -direction[:, 0]])
    return Plan(
        x,
        y,
        s,
        bend,
        held > 0,
        np.concatenate([[0], end + 1]),
        node,
        normal,
        chains.closed,
        chains.sigma,
        chains.start[corner],
        of_run[corner],
    )


def running_length(step, offsets):
    """Running length inside each group; equal places are set apart so that knots increase."""
    return cumulative(np.maximum(step, 1e-6), offsets)


def _splines(elements, positions, pieces, offsets):
    """Curves in plan: splines through the feet of the positions on their tangents and arcs, one for
    each piece.

    At the ends of runs they bend as their elements do; towards corners they are straight.
    """
    xy = project(elements, positions.x, positions.y)
    step = np.append(distance(np.diff(xy[:, 0]), np.diff(xy[:, 1])), 0.0)
    s = running_length(step, pieces)
    if not len(s):
        return Spline(s, pieces, xy, xy, xy)
    owner = group_index(elements.offsets)
    first, last = pieces[:-1], pieces[1:] - 1
    # a bend fades over the element that it belongs to, as far as that lies inside the piece
    low, high = (
        np.maximum(elements.offsets[owner[last]], first),
        np.minimum(elements.offsets[owner[first] + 1] - 1, last),
    )
    bend_first = (
        curvature_at(elements, owner[first], xy[first]) * np.isin(first, offsets[:-1])[:, None]
    )
    bend_last = (
        curvature_at(elements, owner[last], xy[last]) * np.isin(last + 1, offsets[1:])[:, None]
    )
    return interpolate(s, xy, pieces, bend_first, bend_last, s[high] - s[first], s[last] - s[low])


def _meet(plan, corners):
    """Corners where the tangents of the two fitted pieces meet; the first estimate where they do
    not meet well."""
    estimate = np.column_stack([corners.x, corners.y])
    if not len(corners.before):
        return estimate
    a, b = corners.before, corners.before + 1
    piece = group_index(plan.offsets)
    size = np.diff(plan.offsets)
    usable = np.flatnonzero((size[piece[a]] > 1) & (size[piece[b]] > 1))
    a, b = a[usable], b[usable]
    u, v = plan.tangent_before(a), plan.tangent_after(b)
    sine = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    d = plan.values[b] - plan.values[a]
    strong = np.abs(sine) > 0.15 * distance(*u.T) * distance(*v.T)
    along = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / np.where(strong, sine, 1.0)
    point = plan.values[a] + along[:, None] * u
    good = strong & (distance(*(point - estimate[usable]).T) < CORNER_TRUST)
    estimate[usable[good]] = point[good]
    return estimate


def plan_of_splines(elements, positions, variance, offsets, corners, tolerance):
    """Nodes of splines through the feet of the positions on tangents and arcs fitted one by one,
    with sharp corners between them.

    Nothing but these feet shapes the curve; where tangents and arcs do not go over into each other,
    it still does.
    """
    runs, m = len(offsets) - 1, len(positions)
    pieces = np.union1d(offsets, corners.before + 1)
    plan = _splines(elements, positions, pieces, offsets)
    corner_xy = _meet(plan, corners)
    inside = np.ones(m, bool)
    inside[pieces[1:] - 1] = False
    bend = np.zeros(m)
    h = np.zeros(m)
    h[:-1] = np.diff(plan.s)
    bend[:-1] = np.maximum(
        distance(*plan.curvature_after[:-1].T), distance(*plan.curvature_before[1:].T)
    )
    number = np.ones(m, np.int64)
    number[inside] = _parts(h, bend, tolerance)[inside]
    has_corner = np.zeros(m, bool)
    has_corner[corners.before] = True
    total = number + has_corner
    node = np.concatenate([[0], np.cumsum(total)])[:-1]
    size = int(total.sum())
    x, y, held = np.empty(size), np.empty(size), np.zeros(size, bool)
    x[node], y[node] = plan.values.T
    more = np.flatnonzero(number > 1)
    inner = ranges(node[more] + 1, number[more] - 1)
    knot = np.repeat(more, number[more] - 1)
    x[inner], y[inner] = plan.at(knot, (inner - node[knot]) / number[knot]).T
    at = node[corners.before] + 1
    x[at], y[at] = corner_xy.T
    held[at] = True
    bounds = np.concatenate([[0], np.cumsum(group_sum(total, offsets))])
    held[bounds[:-1]] = held[bounds[1:] - 1] = True
    step = np.append(distance(np.diff(x), np.diff(y)), 0.0)[:size]
    step[bounds[1:] - 1] = 0.0
    sigma = np.sqrt(element_leverage(elements, positions.x, positions.y) * variance)
    return Plan(
        x,
        y,
        cumulative(step, bounds),
        np.zeros(size),
        held,
        bounds,
        node,
        unit_normals(plan),
        np.zeros(runs, bool),
        sigma,
        corner_xy,
        group_index(offsets)[corners.before],
    )


def unroll(plan, offsets, pad):
    """The plan without the positions that were put before and after each run to go on round a ring.

    `offsets` are those of the positions with the additional ones, `pad`, shape (runs,), how many of
    these there are on either side; a run with some becomes a ring.
    """
    number = np.diff(offsets) - 2 * pad
    real = ranges(offsets[:-1] + pad, number)
    run = np.repeat(np.arange(len(number)), number)
    first = plan.node[offsets[:-1] + pad]
    last = np.where(
        pad > 0,
        plan.node[np.minimum(offsets[:-1] + pad + number, len(plan.node) - 1)],
        plan.offsets[1:] - 1,
    )
    size = last - first + 1
    index = ranges(first, size)
    bounds = np.concatenate([[0], np.cumsum(size)])
    x, y, s, held = (
        plan.x[index],
        plan.y[index],
        plan.s[index] - np.repeat(plan.s[first], size),
        plan.held[index],
    )
    held[bounds[:-1]] = held[bounds[1:] - 1] = True
    rim = np.zeros(len(x), bool)
    rim[bounds[:-1]] = rim[bounds[1:] - 1] = True
    corner = np.flatnonzero(held & ~rim)
    corners = np.column_stack([x[corner], y[corner]])
    ring = np.flatnonzero(pad > 0)
    x[bounds[1:][ring] - 1], y[bounds[1:][ring] - 1] = x[bounds[:-1][ring]], y[bounds[:-1][ring]]
    return Plan(
        x,
        y,
        s,
        plan.bend[index],
        held,
        bounds,
        plan.node[real] - first[run] + bounds[:-1][run],
        plan.normal[real],
        pad > 0,
        plan.sigma[real],
        corners,
        group_index(bounds)[corner],
    )


def mix_plans(plan, other, offsets, runs, free):
    """The plan with the curve of `other` at some positions.

    Parameters
    ----------
    plan, other : Plan
        `other` has only the runs whose numbers are `runs`.
    offsets : ndarray of int, shape (all runs + 1,)
        Of the positions.
    runs : ndarray of int
    free : ndarray of bool, shape (m,)
        Positions that take the curve of `other`, all in `runs`. Between one of these and another
        one, the way is straight.
    """
    run = group_index(offsets)
    begin, end = offsets[:-1], offsets[1:] - 1
    inside = np.flatnonzero(np.isin(run, runs))  # positions of `other`, in its order

    def take(one, positions, own, wanted):
        """Nodes to take, feet of wanted positions and what lies between two of them; the position
        before each node."""
        foot = np.zeros(len(one.x), bool)
        foot[one.node] = True
        count = np.cumsum(foot) - 1
        # of the first foot of its run
        ahead = count < np.searchsorted(one.node, one.offsets[:-1])[one.run]
        before = np.where(ahead, begin[own] - 1, positions[np.maximum(count, 0)])
        after = np.where(foot, before, np.minimum(before + 1, end[own]))
        return np.flatnonzero(wanted[np.maximum(before, begin[own])] & wanted[after]), before

    kept_run, new_run = plan.run, runs[other.run]
    kept, kept_before = take(plan, np.arange(len(run)), kept_run, ~free)
    new, new_before = take(other, inside, new_run, free)
    owner = np.concatenate([kept_run[kept], new_run[new]])
    before = np.concatenate([kept_before[kept], new_before[new]])
    rank = np.concatenate([kept, new])
    source = np.concatenate([np.zeros(len(kept), int), np.ones(len(new), int)])
    order = np.lexsort((rank, before, owner))
    owner, rank, source = owner[order], rank[order], source[order]
    index = rank + source * len(plan.x)
    x, y, s, bend, held = (
        np.concatenate([getattr(plan, name), getattr(other, name)])[index]
        for name in ("x", "y", "s", "bend", "held")
    )
    bounds = np.concatenate([[0], np.cumsum(np.bincount(owner, minlength=len(offsets) - 1))])
    joined = np.diff(owner) == 0
    along = joined & (np.diff(source) == 0) & (np.diff(rank) == 1)
    bend[:-1][~along] = 0.0
    step = np.append(
        np.where(along, np.diff(s), np.where(joined, distance(np.diff(x), np.diff(y)), 0.0)), 0.0
    )
    held[bounds[:-1]] = held[bounds[1:] - 1] = True
    ring = np.flatnonzero(plan.closed)
    x[bounds[1:][ring] - 1], y[bounds[1:][ring] - 1] = x[bounds[:-1][ring]], y[bounds[:-1][ring]]
    at = np.full(len(plan.x) + len(other.x), -1)
    at[index] = np.arange(len(index))
    node = at[plan.node]
    changed = np.flatnonzero(free[inside])
    node[inside[changed]] = at[len(plan.x) + other.node[changed]]
    normal, sigma = plan.normal.copy(), plan.sigma.copy()
    normal[inside[changed]], sigma[inside[changed]] = other.normal[changed], other.sigma[changed]
    corner = held.copy()
    corner[bounds[:-1]] = corner[bounds[1:] - 1] = False
    corner = np.flatnonzero(corner)
    return Plan(
        x,
        y,
        cumulative(step, bounds),
        bend,
        held,
        bounds,
        node,
        normal,
        plan.closed,
        sigma,
        np.column_stack([x[corner], y[corner]]),
        owner[corner],
    )


def _parts(chord, bend, tolerance):
    """Into how many parts arcs are cut: the chord of each stays within a share of the tolerance
    (sagitta c^2 / 8 r)."""
    return np.clip(
        np.ceil(chord * np.sqrt(np.abs(bend) / (8 * tolerance * SAMPLE_SHARE))), 1, MOST_SAMPLES
    ).astype(np.int64)


def sample(plan, profile, tolerance):
    """Sample the curves so densely that chords between samples stay within a small share of the
    tolerance.

    Parameters
    ----------
    plan : Plan
    profile : heights.Profile
        Heights over the chainage of the positions.
    tolerance : float
        Metres.

    Returns
    -------
    Curves
    """
    if not len(plan.x):
        none = np.zeros(0)
        return Curves(none, none, none, none.astype(int), none > 0)
    run = plan.run
    node = np.flatnonzero(~_in_line(plan, profile))
    run, bend = run[node], plan.bend[node]
    x, y, s = plan.x[node], plan.y[node], plan.s[node]
    inside = np.append(run[1:] == run[:-1], False)
    dx, dy, ds = (np.where(inside, np.diff(values, append=0.0), 0.0) for values in (x, y, s))
    chord = distance(dx, dy)
    number = _parts(chord, bend, tolerance)
    number[chord == 0] = 1
    first = np.concatenate([[0], np.cumsum(number)])[:-1]
    total = int(number.sum())
    owner = np.repeat(np.arange(len(node)), number)
    x, y, s = x[owner], y[owner], s[owner]
    held = np.zeros(total, bool)
    held[first] = plan.held[node]
    inner = np.flatnonzero(np.arange(total) != first[owner])
    of = owner[inner]
    share = (inner - first[of]) / number[of]
    # along an arc of half angle a: from the chord's middle sin(t) / sin(a), up (cos(t) - cos(a)) /
    # sin(a) half chords
    half = np.arcsin(np.clip(bend[of] * chord[of] / 2, -1.0, 1.0))
    sine = np.sin(half)
    safe = np.where(np.abs(sine) < 1e-9, 1.0, sine)
    turn = half * (2 * share - 1)
    along = np.where(sine == safe, (1 + np.sin(turn) / safe) / 2, share)
    up = np.where(sine == safe, (np.cos(turn) - np.cos(half)) / safe / 2, 0.0)
    x[inner] += along * dx[of] + up * dy[of]
    y[inner] += along * dy[of] - up * dx[of]
    s[inner] += share * ds[of]
    run, heights_of = run[owner], _heights(plan, profile)
    z = np.concatenate(
        [
            heights_of(s[some], run[some], node[owner[some]])
            for some in (slice(low, low + AT_ONCE) for low in range(0, total, AT_ONCE))
        ]
    )
    return Curves(*_insert_breaks(plan, profile, x, y, z, s, run, held))


def _in_line(plan, profile):
    """Nodes (mask) on the straight way, in plan and in height, between those before and after them:
    no line has a vertex there."""
    out = np.zeros(len(plan.x), bool)
    p = np.arange(1, len(plan.node) - 1)
    k = plan.node[p]
    run = plan.run[plan.node]
    p = p[
        (run[p - 1] == run[p + 1]) & (plan.bend[k - 1] == 0) & (plan.bend[k] == 0) & ~plan.held[k]
    ]
    k = plan.node[p]
    dx, dy = plan.x[k + 1] - plan.x[k - 1], plan.y[k + 1] - plan.y[k - 1]
    ax, ay = plan.x[k] - plan.x[k - 1], plan.y[k] - plan.y[k - 1]
    off = np.abs(dx * ay - dy * ax) / np.maximum(distance(dx, dy), IN_LINE)
    # where a spline doubles back, the turning point counts
    onward = ax * (dx - ax) + ay * (dy - ay) >= 0
    s, z = plan.chainage, profile.values[:, 0]
    share = (s[p] - s[p - 1]) / np.maximum(s[p + 1] - s[p - 1], IN_LINE)
    up = np.abs(z[p] - z[p - 1] - share * (z[p + 1] - z[p - 1]))
    out[k[onward & (off < IN_LINE) & ~(up > IN_LINE)]] = True
    return out


def _insert_breaks(plan, profile, x, y, z, s, run, held):
    """Samples where the grade breaks between two positions."""
    first = np.searchsorted(plan.node, plan.offsets[:-1])
    last = np.append(first[1:], len(plan.node)) - 1
    interval, share = profile.break_interval, profile.break_share
    of_run = np.searchsorted(first, interval, "right") - 1
    use = (share > 0) & (interval < last[of_run])
    interval, share, of_run, height = (
        interval[use],
        share[use],
        of_run[use],
        profile.break_height[use],
    )
    if not interval.size:
        return x, y, z, run, held
    chainage = plan.chainage
    at = chainage[interval] + share * (chainage[interval + 1] - chainage[interval])
    lift = apart(plan.length)  # one order for all runs
    place = np.clip(
        np.searchsorted(on_grid(s) + lift[run], on_grid(at) + lift[of_run], "right"), 1, len(s) - 1
    )
    gap = s[place] - s[place - 1]
    part = np.clip((at - s[place - 1]) / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
    inside = (gap > 0) & (run[place] == of_run) & (run[place - 1] == of_run)
    place, part, height, of_run = place[inside], part[inside], height[inside], of_run[inside]
    between = lambda values: values[place - 1] + part * (values[place] - values[place - 1])  # noqa: E731
    put = lambda values, new: np.insert(values, place, new)  # noqa: E731
    return (
        put(x, between(x)),
        put(y, between(y)),
        put(z, height),
        put(run, of_run),
        put(held, False),
    )


def _heights(plan, profile):
    """Function from chainages, their runs and the nodes before them to heights; between the last
    position and the end of a ring on the way to its start."""
    m = len(plan.node)
    foot = np.zeros(len(plan.x), bool)
    foot[plan.node] = True
    position = np.cumsum(foot) - 1  # the last one up to each node
    first = np.searchsorted(plan.node, plan.offsets[:-1])  # positions of each run
    last = np.append(first[1:], m) - 1
    chainage, z = plan.chainage, profile.values[:, 0]
    of_runs = first, last, plan.closed, plan.length, chainage[first]

    def heights_of(s, run, node):
        own_first, own_last, ring, length, begin = (values.take(run) for values in of_runs)
        before = np.minimum(np.maximum(position[node], own_first), own_last)
        beyond = before == own_last
        after = np.where(beyond, np.where(ring, own_first, before), before + 1)
        # the step that closes a ring goes over its end, which is its start
        ahead = ring & (s < begin)
        before, after = np.where(ahead, own_last, before), np.where(ahead, own_first, after)
        beyond |= ahead
        here = chainage.take(before)
        gap = (
            np.where(
                beyond,
                np.where(ring, length + begin, length),
                chainage.take(np.minimum(after, m - 1)),
            )
            - here
        )
        way = s + np.where(ahead, length, 0.0) - here
        share = np.clip(way / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
        out = z[before] + share * (z[after] - z[before])
        inside = ~beyond & (gap > 0)
        out[inside] = profile.at(before[inside], share[inside])[:, 0]
        return out

    return heights_of


def write_lines(curves, plan, tolerance):
    """Thin the curves; close rings. Vertices, shape (v, 3), and their offsets, shape (runs +
    1,)."""
    runs = len(plan.offsets) - 1
    if not len(plan.x):
        return np.zeros((0, 3)), np.zeros(runs + 1, np.int64)
    tolerance = tolerance * (1 - SAMPLE_SHARE)
    held = np.flatnonzero(curves.held)
    same = curves.run[held[1:]] == curves.run[held[:-1]]
    sections = np.column_stack([held[:-1], held[1:]])[same]
    keep = thin(
        curves.x, curves.y, curves.z, curves.held, sections, tolerance, UP_TOLERANCE * tolerance
    )
    vx, vy = balance(
        curves.x,
        curves.y,
        keep,
        curves.held,
        curves.run,
        tolerance,
    )
    vertex = np.flatnonzero(keep)
    xyz = np.column_stack([vx, vy, curves.z[vertex]])
    number = np.bincount(curves.run[vertex], minlength=runs)
    offsets = np.concatenate([[0], np.cumsum(number)])
    ring = np.flatnonzero(plan.closed)
    xyz[offsets[ring + 1] - 1] = xyz[offsets[ring]]
    return xyz, offsets
