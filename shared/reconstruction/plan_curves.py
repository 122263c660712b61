"""Fitted curves of runs in plan, their samples, and the lines written from them."""

from dataclasses import dataclass, replace
from typing import Optional

import numpy as np

from ..alignment.search import curvature_at, element_leverage
from ..arrays.fewest_vertices import fewest
from ..arrays.plane import distance
from ..arrays.ragged import apart, cumulative, group_index, group_sum, offsets_of, on_grid, ranges
from ..arrays.spline import Spline, interpolate, unit_normals
from ..arrays.thinning import balance
from ..tuning import PLAN_CURVES


@dataclass(frozen=True)
class PlanCurves:
    """Fitted curves of all runs in plan, as nodes in order of travel.

    Attributes
    ----------
    x, y : float, shape (nodes,)
        Metres.
    s : float, shape (nodes,)
        Chainage from the start of the run, never decreasing, metres.
    curvature : float, shape (nodes,)
        Of the arc or straight line to the next node, 1/m, + to the left.
    held : bool, shape (nodes,)
        Ends and corners, which thinning must keep.
    offsets : int, shape (runs + 1,)
    node : int, shape (m,)
        The node at each position's foot.
    normal : float, shape (m, 2)
        Unit normal there, to the right of the direction of travel.
    closed : bool, shape (runs,)
        The last node is at the place of the first one.
    sigma : float, shape (m,)
        1-sigma of the curve across its direction, metres, without the receiver's slow error.
    corners : float, shape (c, 2)
        Metres.
    corner_run : int, shape (c,)
        Run of each corner.
    slow : float, shape (m,), optional
        Share that the curve keeps of the variance of the receiver's slow error; all if left out.
    """

    x: np.ndarray
    y: np.ndarray
    s: np.ndarray
    curvature: np.ndarray
    held: np.ndarray
    offsets: np.ndarray
    node: np.ndarray
    normal: np.ndarray
    closed: np.ndarray
    sigma: np.ndarray
    corners: np.ndarray
    corner_run: np.ndarray
    slow: Optional[np.ndarray] = None

    @property
    def run(self):
        """Run of each node, (nodes,)."""
        return group_index(self.offsets)

    @property
    def rims(self):
        """First and last node of each run (mask), (nodes,)."""
        return _rims(self.offsets)

    @property
    def corner_node(self):
        """The node at each corner, (c,); of a ring's seam, the last one."""
        held = np.flatnonzero(self.held)
        node = np.concatenate([held, np.zeros(len(self.corners), np.int64)])
        is_corner = np.arange(len(node)) >= len(held)
        run = np.concatenate([self.run[held], self.corner_run])
        x, y = np.concatenate([np.column_stack([self.x, self.y])[held], self.corners]).T
        # two runs may have a corner at one place; each corner comes next after its node
        order = np.lexsort((is_corner, y, x, run))
        last = np.maximum.accumulate(np.where(is_corner[order], 0, np.arange(len(order))))
        out = np.empty(len(node), np.int64)
        out[order] = node[order[last]]
        return out[len(held) :]

    @property
    def chainage(self):
        """Of the positions' feet, (m,)."""
        return self.s[self.node]

    @property
    def feet(self):
        """Of the positions, (m, 2)."""
        return np.column_stack([self.x[self.node], self.y[self.node]])

    @property
    def length(self):
        """Of the runs, (runs,)."""
        return self.s[self.offsets[1:] - 1] if len(self.offsets) > 1 else np.zeros(0)

    def across(self, x, y):
        """Distances of places from the positions' feet across the curve, + to the right, (m,)."""
        feet = self.feet
        return (x - feet[:, 0]) * self.normal[:, 0] + (y - feet[:, 1]) * self.normal[:, 1]

    @classmethod
    def empty(cls, closed):
        """Curves of runs without a position.

        Parameters
        ----------
        closed : ndarray of bool, shape (runs,)

        Returns
        -------
        PlanCurves
        """
        none, places = np.zeros(0), np.zeros(0, np.int64)
        return cls(
            x=none,
            y=none,
            s=none,
            curvature=none,
            held=none > 0,
            offsets=np.zeros(len(closed) + 1, np.int64),
            node=places,
            normal=none.reshape(0, 2),
            closed=closed,
            sigma=none,
            corners=none.reshape(0, 2),
            corner_run=places,
        )


@dataclass(frozen=True)
class Samples:
    """Samples of the fitted curves of all runs, so dense that chords between them keep a small
    share of the tolerance; arrays of shape (samples,).

    Attributes
    ----------
    x, y, z : float
        Metres.
    run : int
    held : bool
        Ends and corners.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    run: np.ndarray
    held: np.ndarray


# --- tangents and arcs --------------------------------------------------------------------------


def curves_of_chains(chains, offsets, corner_angle, asked=None):
    """Curves of chains of tangents and arcs, with nodes at joints and at the feet of positions.

    Parameters
    ----------
    chains : Chains
    offsets : ndarray of int, shape (runs + 1,)
        Of the positions.
    corner_angle : float
        Deflection from which a joint that is not tangential is a corner, degrees.
    asked : AskedElements, optional
        Its corners are corners whatever their deflection.

    Returns
    -------
    PlanCurves
    """
    count, m, runs = len(chains), len(chains.chainage), len(offsets) - 1
    if not m:
        return PlanCurves.empty(chains.closed)
    of_run, owner = group_index(chains.offsets), group_index(chains.bounds)
    first, last = chains.offsets[:-1], chains.offsets[1:] - 1
    # nodes at the start of each element, at each foot, and at the end of each run
    start = chains.bounds[:-1] + np.arange(count) + of_run
    node = np.arange(m) + owner + 1 + of_run[owner]
    end = chains.bounds[last + 1] + last + 1 + np.arange(runs)
    size = m + count + runs
    x, y, s, curvature = (np.zeros(size) for _ in range(4))
    held = np.zeros(size, bool)
    before = cumulative(chains.length, chains.offsets)
    feet, direction = chains.at(chains.chainage - before[owner], owner)
    x[start], y[start] = chains.start.T
    x[node], y[node] = feet.T
    x[end], y[end] = chains.end[last].T
    s[start], s[node], s[end] = before, chains.chainage, on_grid(before[last] + chains.length[last])
    curvature[start], curvature[node] = chains.curvature, chains.curvature[owner]
    corner = _corners_of(chains, corner_angle)
    if asked is not None:
        corner |= asked.corners_of(chains)
    held[start[corner]] = held[start[first]] = held[end] = True
    return PlanCurves(
        x=x,
        y=y,
        s=s,
        curvature=curvature,
        held=held,
        offsets=np.append(0, end + 1),
        node=node,
        normal=np.column_stack([direction[:, 1], -direction[:, 0]]),
        closed=chains.closed,
        sigma=chains.sigma,
        corners=chains.start[corner],
        corner_run=of_run[corner],
    )


def with_chords(curves, widest):
    """Replace arcs that turn far from one node to the next by chords.

    Parameters
    ----------
    curves : PlanCurves
    widest : float
        Maximum turn of an arc between two nodes, radians.

    Returns
    -------
    PlanCurves
    """
    turn = np.abs(curves.curvature) * np.diff(curves.s, append=0.0)
    return replace(curves, curvature=np.where(turn > widest, 0.0, curves.curvature))


def _corners_of(chains, corner_angle):
    """Elements (mask) with a corner at their start."""
    element, first = np.arange(len(chains)), chains.offsets[:-1]
    previous = element - 1
    previous[first] = np.where(chains.closed, chains.offsets[1:] - 1, first)
    _, leave = chains.at(np.zeros(len(chains)), element)
    _, arrive = chains.at(chains.length, element)
    arrive = arrive[previous]
    sine = arrive[:, 0] * leave[:, 1] - arrive[:, 1] * leave[:, 0]
    cosine = (arrive * leave).sum(axis=1)
    sharp = np.abs(np.arctan2(sine, cosine)) >= np.radians(corner_angle)
    corner = ~chains.smooth[previous] & sharp
    corner[first] &= chains.closed
    return corner


# --- splines ------------------------------------------------------------------------------------


def running_length(step, offsets):
    """Running length inside each group, with a minimum step so that knots increase.

    Parameters
    ----------
    step : ndarray of float, shape (m,)
        Distance from each place to the next one, metres.
    offsets : ndarray of int, shape (groups + 1,)

    Returns
    -------
    ndarray of float, shape (m,), metres
    """
    return cumulative(np.maximum(step, PLAN_CURVES.shortest_step), offsets)


def _splines(elements, xy, pieces, offsets):
    """Splines in plan through the feet of positions, one per piece.

    At the ends of runs they have the curvature of their element, at corners none.
    """
    step = np.append(distance(np.diff(xy[:, 0]), np.diff(xy[:, 1])), 0.0)
    s = running_length(step, pieces)
    if not len(s):
        return Spline(s, pieces, xy, xy, xy)
    owner = group_index(elements.offsets)
    first, last = pieces[:-1], pieces[1:] - 1
    # an end's curvature fades over its element, as far as that lies inside the piece
    low = np.maximum(elements.offsets[owner[last]], first)
    high = np.minimum(elements.offsets[owner[first] + 1] - 1, last)
    at_start, at_end = np.isin(first, offsets[:-1]), np.isin(last + 1, offsets[1:])
    curved_first = curvature_at(elements, owner[first], xy[first]) * at_start[:, None]
    curved_last = curvature_at(elements, owner[last], xy[last]) * at_end[:, None]
    return interpolate(
        s, xy, pieces, curved_first, curved_last, s[high] - s[first], s[last] - s[low]
    )


def _meet(spline, corners):
    """Places of corners, where the tangents of the two pieces meet; the first estimate if their
    intersection is weak or far from it."""
    estimate = np.column_stack([corners.x, corners.y])
    if not len(corners.before):
        return estimate
    a, b = corners.before, corners.before + 1
    piece, size = group_index(spline.offsets), np.diff(spline.offsets)
    usable = np.flatnonzero((size[piece[a]] > 1) & (size[piece[b]] > 1))
    a, b = a[usable], b[usable]
    u, v = spline.tangent_before(a), spline.tangent_after(b)
    sine = u[:, 0] * v[:, 1] - u[:, 1] * v[:, 0]
    d = spline.values[b] - spline.values[a]
    strong = np.abs(sine) > PLAN_CURVES.min_sine * distance(*u.T) * distance(*v.T)
    along = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / np.where(strong, sine, 1.0)
    point = spline.values[a] + along[:, None] * u
    good = strong & (distance(*(point - estimate[usable]).T) < PLAN_CURVES.corner_trust)
    estimate[usable[good]] = point[good]
    return estimate


def curves_of_splines(elements, feet, positions, variance, offsets, corners, tolerance):
    """Curves of splines through the feet of positions, with sharp corners between them.

    Parameters
    ----------
    elements : Elements
        Of the positions, from `alignment.search.fit_elements`.
    feet : ndarray of float, shape (m, 2)
        Of the positions on these elements, or means over several ones.
    positions : Positions
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    corners : Corners
    tolerance : float
        Metres.

    Returns
    -------
    PlanCurves
        All open.
    """
    runs, m = len(offsets) - 1, len(positions)
    pieces = np.union1d(offsets, corners.before + 1)
    spline = _splines(elements, feet, pieces, offsets)
    corner_xy = _meet(spline, corners)
    number = _parts_of_intervals(spline, pieces, tolerance)
    has_corner = np.zeros(m, bool)
    has_corner[corners.before] = True
    total = number + has_corner
    node = offsets_of(total)[:-1]
    size = int(total.sum())
    x, y, held = np.empty(size), np.empty(size), np.zeros(size, bool)
    x[node], y[node] = spline.values.T
    more = np.flatnonzero(number > 1)
    inner = ranges(node[more] + 1, number[more] - 1)
    knot = np.repeat(more, number[more] - 1)
    x[inner], y[inner] = spline.at(knot, (inner - node[knot]) / number[knot]).T
    at = node[corners.before] + 1
    x[at], y[at] = corner_xy.T
    held[at] = True
    bounds = offsets_of(group_sum(total, offsets))
    held[bounds[:-1]] = held[bounds[1:] - 1] = True
    step = np.append(distance(np.diff(x), np.diff(y)), 0.0)[:size]
    step[bounds[1:] - 1] = 0.0
    return PlanCurves(
        x=x,
        y=y,
        s=cumulative(step, bounds),
        curvature=np.zeros(size),
        held=held,
        offsets=bounds,
        node=node,
        normal=unit_normals(spline),
        closed=np.zeros(runs, bool),
        sigma=np.sqrt(element_leverage(elements, positions.x, positions.y) * variance),
        corners=corner_xy,
        corner_run=group_index(offsets)[corners.before],
    )


def _parts_of_intervals(spline, pieces, tolerance):
    """Number of parts into which the interval after each knot is cut, by the greater curvature at
    its ends; 1 for the last knot of a piece."""
    m = len(spline.s)
    chord, curvature, number = np.zeros(m), np.zeros(m), np.ones(m, np.int64)
    chord[:-1] = np.diff(spline.s)
    after, before = (
        distance(*spline.curvature_after[:-1].T),
        distance(*spline.curvature_before[1:].T),
    )
    curvature[:-1] = np.maximum(after, before)
    inside = np.ones(m, bool)
    inside[pieces[1:] - 1] = False
    number[inside] = _parts(chord, curvature, tolerance)[inside]
    return number


def unroll(curves, offsets, pad):
    """Remove the positions that were repeated before and after a ring to give it no ends.

    Parameters
    ----------
    curves : PlanCurves
    offsets : ndarray of int, shape (runs + 1,)
        Of the positions, repeated ones included.
    pad : ndarray of int, shape (runs,)
        Number of repeated positions on either side; runs that have some become rings.

    Returns
    -------
    PlanCurves
    """
    number = np.diff(offsets) - 2 * pad
    real = ranges(offsets[:-1] + pad, number)
    run = np.repeat(np.arange(len(number)), number)
    first = curves.node[offsets[:-1] + pad]
    beyond = curves.node[np.minimum(offsets[:-1] + pad + number, len(curves.node) - 1)]
    last = np.where(pad > 0, beyond, curves.offsets[1:] - 1)
    size = last - first + 1
    index = ranges(first, size)
    bounds = offsets_of(size)
    x, y, held = curves.x[index], curves.y[index], curves.held[index]
    corner = np.flatnonzero(held & ~_rims(bounds))
    held |= _rims(bounds)
    corners = np.column_stack([x[corner], y[corner]])
    _close(x, y, bounds, pad > 0)
    return PlanCurves(
        x=x,
        y=y,
        s=curves.s[index] - np.repeat(curves.s[first], size),
        curvature=curves.curvature[index],
        held=held,
        offsets=bounds,
        node=curves.node[real] - first[run] + bounds[:-1][run],
        normal=curves.normal[real],
        closed=pad > 0,
        sigma=curves.sigma[real],
        corners=corners,
        corner_run=group_index(bounds)[corner],
    )


def _rims(bounds):
    """First and last node (mask) of each run."""
    out = np.zeros(bounds[-1], bool)
    out[bounds[:-1]] = out[bounds[1:] - 1] = True
    return out


def _close(x, y, bounds, closed):
    """Move the last node of each ring to the place of its first one, in place."""
    ring = np.flatnonzero(closed)
    first, last = bounds[:-1][ring], bounds[1:][ring] - 1
    x[last], y[last] = x[first], y[first]


# --- both in one run ----------------------------------------------------------------------------


def mix_curves(curves, other, offsets, runs, free, corners=False):
    """Replace the curve at some positions by that of another model.

    Parameters
    ----------
    curves, other : PlanCurves
        `other` has only the runs with the numbers `runs`.
    offsets : ndarray of int, shape (all runs + 1,)
        Of the positions.
    runs : ndarray of int
    free : ndarray of bool, shape (m,)
        Positions that take the curve of `other`, all in `runs`. Between such a position and one of
        the other kind the curve is straight.
    corners : bool, optional
        Include corners of `other` on these straight pieces.

    Returns
    -------
    PlanCurves
    """
    run = group_index(offsets)
    inside = np.flatnonzero(np.isin(run, runs))  # positions of `other`, in its order
    kept = _taken_nodes(curves, np.arange(len(run)), curves.run, offsets, ~free)
    new = _taken_nodes(other, inside, runs[other.run], offsets, free, corners)
    owner, source, rank = _in_order(kept, new)
    index = rank + source * len(curves.x)
    x, y, s, curvature, held = (
        np.concatenate([getattr(curves, name), getattr(other, name)])[index]
        for name in ("x", "y", "s", "curvature", "held")
    )
    bounds = offsets_of(np.bincount(owner, minlength=len(offsets) - 1))
    joined = np.diff(owner) == 0
    along = joined & (np.diff(source) == 0) & (np.diff(rank) == 1)
    curvature[:-1][~along] = 0.0
    straight = np.where(joined, distance(np.diff(x), np.diff(y)), 0.0)
    step = np.append(np.where(along, np.diff(s), straight), 0.0)
    held |= _rims(bounds)
    _close(x, y, bounds, curves.closed)
    at = np.full(len(curves.x) + len(other.x), -1)
    at[index] = np.arange(len(index))
    node, normal, sigma = at[curves.node], curves.normal.copy(), curves.sigma.copy()
    changed = np.flatnonzero(free[inside])
    here = inside[changed]
    node[here] = at[len(curves.x) + other.node[changed]]
    normal[here], sigma[here] = other.normal[changed], other.sigma[changed]
    corner = np.flatnonzero(held & ~_rims(bounds))
    return PlanCurves(
        x=x,
        y=y,
        s=cumulative(step, bounds),
        curvature=curvature,
        held=held,
        offsets=bounds,
        node=node,
        normal=normal,
        closed=curves.closed,
        sigma=sigma,
        corners=np.column_stack([x[corner], y[corner]]),
        corner_run=owner[corner],
    )


@dataclass(frozen=True)
class _TakenNodes:
    """Nodes taken from one of two curves, the run of each (`owner`), and the position before it;
    arrays of shape (taken nodes,)."""

    node: np.ndarray
    owner: np.ndarray
    before: np.ndarray


def _taken_nodes(curves, positions, own, offsets, wanted, corners=False):
    """Nodes at the feet of wanted positions and between two of these; with `corners`, also corners
    between a wanted position and another one.

    `positions` of the curves and `own`, the run of each node, are numbered as in all runs.
    """
    begin, end = offsets[:-1], offsets[1:] - 1
    foot = np.zeros(len(curves.x), bool)
    foot[curves.node] = True
    count = np.cumsum(foot) - 1
    # nodes before the first foot of their run
    ahead = count < np.searchsorted(curves.node, curves.offsets[:-1])[curves.run]
    before = np.where(ahead, begin[own] - 1, positions[np.maximum(count, 0)])
    after = np.where(foot, before, np.minimum(before + 1, end[own]))
    here, there = wanted[np.maximum(before, begin[own])], wanted[after]
    corner = corners & curves.held & ~foot & (before < after) & (here | there)
    node = np.flatnonzero((here & there) | corner)
    return _TakenNodes(node, own[node], before[node])


def _in_order(kept, new):
    """Nodes of both curves in order along the runs: run, curve (0 or 1) and node of that curve."""
    source = np.repeat([0, 1], [len(kept.node), len(new.node)])
    owner, before, rank = (
        np.concatenate([getattr(kept, name), getattr(new, name)])
        for name in ("owner", "before", "node")
    )
    # a kept foot comes before a new corner after it, whatever the numbers of their nodes
    order = np.lexsort((rank, source, before, owner))
    return owner[order], source[order], rank[order]


# --- samples ------------------------------------------------------------------------------------


def _parts(chord, curvature, tolerance):
    """Number of parts into which arcs are cut so that the sagitta of each, c^2 / 8 r, keeps a share
    of the tolerance."""
    sagitta = tolerance * PLAN_CURVES.sample_share
    parts = np.ceil(chord * np.sqrt(np.abs(curvature) / (8 * sagitta)))  # exact: see above
    return np.clip(parts, 1, PLAN_CURVES.most_samples).astype(np.int64)


def sample(curves, profile, tolerance):
    """Sample the curves so densely that chords between samples keep a small share of the tolerance.

    Parameters
    ----------
    curves : PlanCurves
    profile : Profile
        Heights over the chainage of the positions.
    tolerance : float
        Metres.

    Returns
    -------
    Samples
    """
    if not len(curves.x):
        none = np.zeros(0)
        return Samples(none, none, none, none.astype(int), none > 0)
    node = np.flatnonzero(~_in_line(curves, profile))
    run, x, y, s = curves.run[node], curves.x[node], curves.y[node], curves.s[node]
    inside = np.append(run[1:] == run[:-1], False)
    dx, dy, ds = (np.where(inside, np.diff(values, append=0.0), 0.0) for values in (x, y, s))
    chord = distance(dx, dy)
    number = _parts(chord, curves.curvature[node], tolerance)
    number[chord == 0] = 1
    first = offsets_of(number)[:-1]
    total = int(number.sum())
    owner = np.repeat(np.arange(len(node)), number)
    x, y, s = x[owner], y[owner], s[owner]
    held = np.zeros(total, bool)
    held[first] = curves.held[node]
    inner = np.flatnonzero(np.arange(total) != first[owner])
    of = owner[inner]
    share = (inner - first[of]) / number[of]
    along, up = _on_arc(curves.curvature[node][of], chord[of], share)
    x[inner] += along * dx[of] + up * dy[of]
    y[inner] += along * dy[of] - up * dx[of]
    s[inner] += share * ds[of]
    run, heights_of, block = run[owner], _heights(curves, profile), PLAN_CURVES.block
    z = np.concatenate(
        [
            heights_of(s[some], run[some], node[owner[some]])
            for some in (slice(low, low + block) for low in range(0, total, block))
        ]
    )
    return _with_breaks(curves, profile, Samples(x, y, z, run, held), s)


def _on_arc(curvature, chord, share):
    """Places on arcs relative to their chords: along and across them (+ to the right), in chords.

    For an arc of half angle a and a place at the angle t from its middle, these are, in half chords
    from the middle of the chord, sin(t) / sin(a) and (cos(t) - cos(a)) / sin(a).
    """
    half = np.arcsin(np.clip(curvature * chord / 2, -1.0, 1.0))
    sine = np.sin(half)
    safe = np.where(np.abs(sine) < 1e-9, 1.0, sine)
    turn = half * (2 * share - 1)
    along = np.where(sine == safe, (1 + np.sin(turn) / safe) / 2, share)
    return along, np.where(sine == safe, (np.cos(turn) - np.cos(half)) / safe / 2, 0.0)


def _in_line(curves, profile):
    """Nodes (mask) that lie on the straight line, in plan and in height, between their neighbours:
    no line needs a vertex there."""
    out = np.zeros(len(curves.x), bool)
    p = np.arange(1, len(curves.node) - 1)
    k = curves.node[p]
    run = curves.run[curves.node]
    straight = (curves.curvature[k - 1] == 0) & (curves.curvature[k] == 0)
    p = p[(run[p - 1] == run[p + 1]) & straight & ~curves.held[k]]
    k = curves.node[p]
    dx, dy = curves.x[k + 1] - curves.x[k - 1], curves.y[k + 1] - curves.y[k - 1]
    ax, ay = curves.x[k] - curves.x[k - 1], curves.y[k] - curves.y[k - 1]
    off = np.abs(dx * ay - dy * ax) / np.maximum(distance(dx, dy), PLAN_CURVES.in_line)
    # a node at which a spline doubles back is needed
    onward = ax * (dx - ax) + ay * (dy - ay) >= 0
    s, z = curves.chainage, profile.values[:, 0]
    share = (s[p] - s[p - 1]) / np.maximum(s[p + 1] - s[p - 1], PLAN_CURVES.in_line)
    up = np.abs(z[p] - z[p - 1] - share * (z[p + 1] - z[p - 1]))
    out[k[onward & (off < PLAN_CURVES.in_line) & ~(up > PLAN_CURVES.in_line)]] = True
    return out


def _with_breaks(curves, profile, samples, s):
    """Samples with further ones at grade breaks between positions; `s`: chainages of samples."""
    first = np.searchsorted(curves.node, curves.offsets[:-1])
    last = np.append(first[1:], len(curves.node)) - 1
    of_run = np.searchsorted(first, profile.break_interval, "right") - 1
    use = (profile.break_share > 0) & (profile.break_interval < last[of_run])
    if not use.any():
        return samples
    interval, share = profile.break_interval[use], profile.break_share[use]
    height, of_run, run = profile.break_height[use], of_run[use], samples.run
    chainage = curves.chainage
    at = chainage[interval] + share * (chainage[interval + 1] - chainage[interval])
    lift = apart(curves.length)  # one order for all runs
    place = np.searchsorted(on_grid(s) + lift[run], on_grid(at) + lift[of_run], "right")
    place = np.clip(place, 1, len(s) - 1)
    gap = s[place] - s[place - 1]
    part = np.clip((at - s[place - 1]) / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
    inside = (gap > 0) & (run[place] == of_run) & (run[place - 1] == of_run)
    place, part, height, of_run = place[inside], part[inside], height[inside], of_run[inside]

    def between(values):
        return values[place - 1] + part * (values[place] - values[place - 1])

    return Samples(
        x=np.insert(samples.x, place, between(samples.x)),
        y=np.insert(samples.y, place, between(samples.y)),
        z=np.insert(samples.z, place, height),
        run=np.insert(run, place, of_run),
        held=np.insert(samples.held, place, False),
    )


def _heights(curves, profile):
    """Function that gives heights for chainages, their runs and the nodes before them; a ring's
    profile goes on from its last position to its first."""
    m = len(curves.node)
    foot = np.zeros(len(curves.x), bool)
    foot[curves.node] = True
    position = np.cumsum(foot) - 1  # the last one up to each node
    first = np.searchsorted(curves.node, curves.offsets[:-1])  # positions of each run
    last = np.append(first[1:], m) - 1
    chainage, z = curves.chainage, profile.values[:, 0]
    of_runs = first, last, curves.closed, curves.length, chainage[first]

    def heights_of(s, run, node):
        own_first, own_last, ring, length, begin = (values.take(run) for values in of_runs)
        before = np.minimum(np.maximum(position[node], own_first), own_last)
        beyond = before == own_last
        after = np.where(beyond, np.where(ring, own_first, before), before + 1)
        # places before the first position of a ring lie on its closing step
        ahead = ring & (s < begin)
        before, after = np.where(ahead, own_last, before), np.where(ahead, own_first, after)
        beyond |= ahead
        here = chainage.take(before)
        end = np.where(ring, length + begin, length)
        gap = np.where(beyond, end, chainage.take(np.minimum(after, m - 1))) - here
        way = s + np.where(ahead, length, 0.0) - here
        share = np.clip(way / np.where(gap > 0, gap, 1.0), 0.0, 1.0)
        out = z[before] + share * (z[after] - z[before])
        inside = ~beyond & (gap > 0)
        out[inside] = profile.at(before[inside], share[inside])[:, 0]
        return out

    return heights_of


def write_lines(samples, curves, tolerance):
    """Thin the samples to the vertices of lines, and close rings.

    Parameters
    ----------
    samples : Samples
    curves : PlanCurves
    tolerance : float
        Metres.

    Returns
    -------
    xyz : ndarray of float, shape (v, 3)
        Vertices, metres.
    offsets : ndarray of int, shape (runs + 1,)
    """
    runs = len(curves.offsets) - 1
    if not len(curves.x):
        return np.zeros((0, 3)), np.zeros(runs + 1, np.int64)
    tolerance = tolerance * (1 - PLAN_CURVES.sample_share)
    tolerance_up = PLAN_CURVES.up_tolerance * tolerance
    x, y, z, run = samples.x, samples.y, samples.z, samples.run
    held = np.flatnonzero(samples.held)
    same = run[held[1:]] == run[held[:-1]]
    sections = np.column_stack([held[:-1], held[1:]])[same]
    keep = fewest(x, y, z, samples.held, sections, tolerance, tolerance_up)
    vx, vy = balance(x, y, keep, samples.held, run, tolerance)
    vertex = np.flatnonzero(keep)
    xyz = np.column_stack([vx, vy, z[vertex]])
    offsets = offsets_of(np.bincount(run[vertex], minlength=runs))
    ring = np.flatnonzero(curves.closed)
    xyz[offsets[ring + 1] - 1] = xyz[offsets[ring]]
    return xyz, offsets
