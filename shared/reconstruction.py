"""The main job: streamed epochs to edges."""

from dataclasses import dataclass

import numpy as np

from .alignment import bend_at, element_leverage, fit_elements, project, savings_without
from .bandwidth import fit_adaptive, through, lessen_outliers, unit_normals
from .breaks import (
    BREAK_NAMES,
    END,
    NEW_CAPTURE,
    START,
    break_reasons,
    find_runs,
    find_turnings,
)
from .corners import find_corners
from .ragged import cumulative, group_index, group_max, group_sum, place_in_group, ranges
from .screening import LEAST_END_SPIKE, Reason, Settings, Stream, describe, height_off, off_ray, screen, shoved_aside, stand_off
from .spline import Spline, leverage
from .standing import collapse_standing
from .thinning import balance, thin

__all__ = ["BREAK_NAMES", "ROLE_NAMES", "Edges", "Gaps", "Reconstruction", "Settings", "describe", "reconstruct"]

ROLE_NAMES = ("", "single", "standing")
# Of the receiver's error, what stays the same over a minute of walking does not show in the residuals. Half of the
# reported variance is taken for it; where nothing is reported, 5 mm in plan and 8 mm in height (common
# practice, no source).
STEADY_SHARE = 0.5
STEADY_USUAL, STEADY_USUAL_UP = 0.005, 0.008
UP_TOLERANCE = 2.0  # heights are half as sure as positions
SAMPLE_SHARE = 1 / 16  # of the tolerance, spent on sampling the curve
MOST_SAMPLES = 64  # in one interval
ELEMENT_NOISE = 1.15
LATE_SIGMAS, LEAST_LATE_SPIKE = 5.0, 0.06  # m; how far off an epoch must be to be looked at once more
ALIGNED_PAIR = 2.0
SECOND_EPOCH = 4.0  # a pair must save so much more than one of the two
STRAIGHT_SAVING = 4.0  # enough where the line goes straight on
SPIKE_SAVING = 7.5  # squared sigmas; a real short side saves less on simulated walks, a spike a whole element
WEIGHTLESS = 1e4  # sigmas; an epoch without height stands for nothing in the profile
CORNER_TRUST = 0.25  # m between two ways to find a corner; over that the tangents are not to be trusted
RING_STEPS = 1.5  # usual steps between the two ends of a ring


@dataclass(frozen=True)
class Edges:
    """Edges as ragged arrays; vertices of edge ``e`` are ``offsets[e]`` to ``offsets[e + 1] - 1``.

    `x`, `y`, `z` in metres (z NaN where the layer has no heights); `started`, `ended` in the table's seconds; `length`,
    `rms_residual`, `max_residual`, `sigma_cross`, `sigma_up` in metres; `start_reason`, `end_reason` are places in
    `BREAK_NAMES`; `run` counts from 1 inside its capture.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    capture: np.ndarray
    run: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    epochs_used: np.ndarray
    epochs_rejected: np.ndarray
    length: np.ndarray
    rms_residual: np.ndarray
    max_residual: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray
    closed: np.ndarray
    start_reason: np.ndarray
    end_reason: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1


@dataclass(frozen=True)
class Gaps:
    """Where lines stop and go on. `x`, `y`, `z`, shape (g, 2): the two rims; `reason` are places in `BREAK_NAMES`."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    seconds: np.ndarray
    metres: np.ndarray
    reason: np.ndarray
    capture: np.ndarray
    after_edge: np.ndarray
    before_edge: np.ndarray

    def __len__(self):
        return len(self.seconds)


@dataclass(frozen=True)
class Reconstruction:
    """Edges, gaps, and what became of every epoch; arrays of shape (n,) by source row.

    Attributes
    ----------
    reason, amount
        As in `Screening`; reason 0 where the epoch is in an edge.
    role : uint8
        Place in `ROLE_NAMES`.
    height_used : bool
    edge : int
        Index of the edge, -1 where rejected.
    chainage, residual_cross, residual_up : float
        Metres, NaN where rejected; `residual_cross` is + to the right of the edge.
    edges : Edges
    gaps : Gaps
    stream : Stream
    corners : ndarray of float, shape (c, 2)
    """

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    residual_cross: np.ndarray
    residual_up: np.ndarray
    edges: Edges
    gaps: Gaps
    stream: Stream
    corners: np.ndarray


@dataclass(frozen=True)
class _Curves:
    """Samples of the fitted curves of all runs, and where each position lies among them."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    run: np.ndarray
    fast: np.ndarray
    of_position: np.ndarray


def reconstruct(table, settings=None, checkpoint=None):
    """Turn streamed epochs into edges.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1, between the stages. It may raise to stop the work.

    Returns
    -------
    Reconstruction
        Every row is either rejected with a reason or belongs to one edge.
    """
    settings = settings or Settings()
    checkpoint = checkpoint or (lambda share: None)
    checkpoint(0.0)
    screening = screen(table, settings)
    checkpoint(0.15)
    stream = screening.stream
    reason, amount = screening.reason.copy(), screening.amount.copy()
    positions = collapse_standing(table, screening)
    late = _late_spikes(positions, stream)
    _reject(positions, np.isfinite(late), Reason.SPIKE, late, reason, amount)
    positions = positions.take(~np.isfinite(late))
    turnings = find_turnings(positions, stream)
    back = turnings.walked_back > 0
    # where the last position before a turn for good was itself taken out, the one before it is the last
    turned = turnings.turned
    _reject(positions, back, Reason.BACKTRACK, turnings.walked_back, reason, amount)
    carried = _carry_back(turned, ~back)
    positions = positions.take(~back)
    offsets = find_runs(positions, stream, carried)
    run = group_index(offsets)
    step = np.append(np.hypot(np.diff(positions.x), np.diff(positions.y)), 0.0)
    if len(positions):
        step[offsets[1:] - 1] = 0.0
    extent = group_sum(step, offsets)
    # two epochs alone make a line that nothing confirms
    epochs = group_sum(np.diff(positions.offsets), offsets)
    short = (np.diff(offsets) < 2) | (epochs < 3) | (extent < max(settings.min_length, 1e-3))
    _reject(positions, short[run], Reason.TOO_SHORT, extent[run], reason, amount)
    runs_turned = carried[offsets[1:] - 1] if len(positions) else np.zeros(0, bool)
    positions = positions.take(~short[run])
    offsets = np.concatenate([[0], np.cumsum(np.diff(offsets)[~short])])
    runs_turned = runs_turned[~short]
    checkpoint(0.25)

    spacing = stream.spacing[positions.capture]
    corners = find_corners(positions.x, positions.y, positions.variance, offsets, spacing, settings.corner_angle)
    checkpoint(0.35)
    pieces = np.union1d(offsets, corners.before + 1)
    run_of = group_index(offsets)
    linked = np.diff(run_of) == 0
    variance = lessen_outliers(stand_off(positions.x, positions.y, linked, np.full(len(positions), 0.05))[0], positions.variance)
    elements = fit_elements(positions.x, positions.y, variance * ELEMENT_NOISE**2, offsets)
    checkpoint(0.5)
    plan = _plan(elements, positions, pieces)
    checkpoint(0.6)
    corner_xy = _meet(plan, corners)
    step = np.append(np.hypot(np.diff(plan.values[:, 0]), np.diff(plan.values[:, 1])), 0.0)
    at = corners.before
    step[at] = np.hypot(*(corner_xy - plan.values[at]).T) + np.hypot(*(plan.values[at + 1] - corner_xy).T)
    s_run = _chainage(step, offsets)
    profile, band_up, variance_up = _fit_heights(s_run, positions, offsets, spacing)
    checkpoint(0.75)
    curves = _sample(plan, profile, pieces, offsets, corners, corner_xy, s_run, settings.tolerance)
    edges_xyz, vertex_offsets, closed = _write_lines(curves, plan, offsets, spacing, stream, positions, settings)
    checkpoint(0.9)
    result = _account(table, screening, positions, offsets, plan, profile, curves, edges_xyz, vertex_offsets, closed,
                      (element_leverage(elements, positions.x, positions.y), variance), (leverage(band_up, profile.s, offsets), variance_up), reason, amount, runs_turned, corner_xy)
    checkpoint(1.0)
    return result


def _late_spikes(positions, stream):
    """Size of the spikes that only the shape of the run gives away; NaN elsewhere, shape (m,).

    Candidates stand off from their neighbours' predictions. They are spikes if tangents and arcs explain the
    run around them at much less cost without them.
    """
    m = len(positions)
    size_of = np.full(m, np.nan)
    if m < 6:
        return size_of
    x, y = positions.x, positions.y
    offsets = find_runs(positions, stream, np.zeros(m, bool))
    linked = np.diff(group_index(offsets)) == 0
    floor = np.maximum(LATE_SIGMAS * stream.noise[positions.capture], LEAST_LATE_SPIKE)
    spacing = stream.spacing[positions.capture]
    few = np.diff(positions.offsets) < 3  # many epochs at one place are no slip
    _, across, off = stand_off(x, y, linked, np.full(m, 0.05))
    single = np.flatnonzero((off > floor) & few & _turns_back(x, y))
    pair, shoved, _ = shoved_aside(x, y, linked, 2)
    # two epochs away from a place to which the walk returns: steps mean nothing there
    b, c = pair - 1, pair + 2
    away = np.minimum(np.hypot(x[pair] - x[b], y[pair] - y[b]), np.hypot(x[pair + 1] - x[c], y[pair + 1] - y[c]))
    shoved = np.where(np.hypot(x[c] - x[b], y[c] - y[b]) < 0.25 * spacing[pair], away, shoved)
    chosen = (shoved > floor[pair]) & few[pair] & few[pair + 1]
    pair, shoved = pair[chosen], shoved[chosen]
    # the last epoch of a run that lies off the rest: no neighbour confirms it, be it a slip or past a corner
    size = np.diff(offsets)
    rims = np.concatenate([offsets[:-1][size > 3], offsets[1:][size > 3] - 1])
    inward = np.repeat([1, -1], len(rims) // 2)
    beyond, next_one = (off_ray(x[k], y[k], x[k + inward], y[k + inward], x[k + inward] - x[k + 2 * inward], y[k + inward] - y[k + 2 * inward])
                        for k in (rims, rims + inward))
    chosen = (beyond > np.maximum(floor[rims], LEAST_END_SPIKE)) & (next_one < np.maximum(floor[rims], 0.5 * beyond)) & few[rims] & ~np.isin(rims, single)
    rims, beyond = rims[chosen], beyond[chosen]
    first = np.concatenate([single, rims, pair])
    length = np.concatenate([np.ones(len(single) + len(rims), np.int64), np.full(len(pair), 2)])
    size = np.concatenate([off[single], beyond, shoved])
    saved = savings_without(x, y, positions.variance * ELEMENT_NOISE**2, offsets, first, length)
    saved -= SECOND_EPOCH * (length - 1)
    # the surest candidate of those that touch or share neighbours; the others are looked at again without it
    aside = np.concatenate([across[single], np.zeros(len(rims)), shoved])
    straight_on, detour = _way_past(x, y, linked, first, length)
    saved[(straight_on & (aside > floor[first])) | (detour & (length > 1))] += SPIKE_SAVING - STRAIGHT_SAVING
    # two shoved aside still walk the way of the others; the short flank of a bay crosses it
    saved[(length > 1) & _same_way(x, y, first)] += ALIGNED_PAIR
    good = np.flatnonzero(saved > SPIKE_SAVING)
    best = np.zeros(m + 4)
    for k in (0, 1):
        np.maximum.at(best, first[good] + 2 + np.minimum(k, length[good] - 1), saved[good])
    rival = np.max([best[first[good] + 2 + d] for d in range(-2, 4)], axis=0) if good.size else saved[good]
    good = good[saved[good] >= rival]
    for k in (0, 1):
        rows = first[good] + np.minimum(k, length[good] - 1)
        size_of[rows] = size[good]
    return size_of


def _same_way(x, y, first):
    """True where the step inside a pair runs within 50 degrees of the steps before and after the pair."""
    m = len(x)
    dx, dy = np.diff(x), np.diff(y)
    inside = (first >= 2) & (first + 3 < m)
    k = np.clip(first, 2, max(m - 4, 2))
    agree = [dx[k] * dx[other] + dy[k] * dy[other] > np.cos(np.radians(50)) * np.hypot(dx[k], dy[k]) * np.hypot(dx[other], dy[other])
             for other in (k - 2, k + 2)]
    return inside & agree[0] & agree[1]


def _turns_back(x, y):
    """True where the path turns one way at a position and clearly the other way at a neighbour; not so on a tight curve."""
    turn = np.zeros(len(x))
    dx, dy = np.diff(x), np.diff(y)
    turn[1:-1] = np.arctan2(dx[:-1] * dy[1:] - dy[:-1] * dx[1:], dx[:-1] * dx[1:] + dy[:-1] * dy[1:])
    side = np.sign(turn)
    return np.minimum(np.append(turn[1:], 0.0) * side, np.append(0.0, turn[:-1]) * side) < -np.radians(5)


def _way_past(x, y, linked, first, length):
    """Compare the ways past and through a stretch with the usual steps beside it.

    Returns
    -------
    straight_on : ndarray of bool
        The way past is as long as the epochs were many: the line goes straight on.
    detour : ndarray of bool
        The way through is a good deal longer than so many steps.
    """
    m = len(x)
    a, b, c, d = first - 2, first - 1, first + length, first + length + 1
    inside = (a >= 0) & (d < m)
    a, d = np.maximum(a, 0), np.minimum(d, m - 1)
    b, c = np.maximum(b, 0), np.minimum(c, m - 1)
    broken = np.concatenate([[0], np.cumsum(~linked)])
    inside &= broken[d] == broken[a]
    expected = (np.hypot(x[b] - x[a], y[b] - y[a]) + np.hypot(x[d] - x[c], y[d] - y[c])) / 2 * (length + 1)
    way = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    return inside & (np.hypot(x[c] - x[b], y[c] - y[b]) > 0.9 * expected), inside & (way[c] - way[b] > 1.12 * expected)


def _reject(positions, mask, why, number, reason, amount):
    epochs = mask[group_index(positions.offsets)]
    rows = positions.rows[epochs]
    reason[rows] = why
    amount[rows] = number[group_index(positions.offsets)][epochs]


def _carry_back(flag, keep):
    """Move flags of places that are dropped to the last kept place before them; return them for the kept ones."""
    place = np.maximum.accumulate(np.where(keep, np.arange(len(keep)), -1)) if len(keep) else np.zeros(0, int)
    out = np.zeros(len(keep), bool)
    hit = place[flag & (place >= 0)] if len(keep) else place
    out[hit] = True
    return out[keep]


def _chainage(step, offsets):
    """Running length inside each group; equal places are set apart so that knots increase."""
    step = np.maximum(step, 1e-6)
    return cumulative(step, offsets)


def _plan(elements, positions, pieces):
    """Curves in plan: splines through the feet of the positions on their tangents and arcs, one for each piece."""
    xy = project(elements, positions.x, positions.y)
    step = np.append(np.hypot(np.diff(xy[:, 0]), np.diff(xy[:, 1])), 0.0)
    s = _chainage(step, pieces)
    if not len(s):
        return Spline(s, pieces, xy, xy, xy)
    owner = group_index(elements.offsets)
    first, last = pieces[:-1], pieces[1:] - 1
    # a bend fades over the element that it belongs to, as far as that lies inside the piece
    low, high = np.maximum(elements.offsets[owner[last]], first), np.minimum(elements.offsets[owner[first] + 1] - 1, last)
    return through(s, xy, pieces, bend_at(elements, owner[first], xy[first]), bend_at(elements, owner[last], xy[last]),
                   s[high] - s[first], s[last] - s[low])


def _meet(plan, corners):
    """Corners where the tangents of the two fitted pieces meet; the first estimate where they do not meet well."""
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
    strong = np.abs(sine) > 0.15 * np.hypot(*u.T) * np.hypot(*v.T)
    along = (d[:, 0] * v[:, 1] - d[:, 1] * v[:, 0]) / np.where(strong, sine, 1.0)
    point = plan.values[a] + along[:, None] * u
    good = strong & (np.hypot(*(point - estimate[usable]).T) < CORNER_TRUST)
    estimate[usable[good]] = point[good]
    return estimate


def _fit_heights(s, positions, offsets, spacing):
    """Height profile of all runs; NaN for runs without any height."""
    z, variance = positions.z.copy(), positions.variance_up.copy()
    known = np.isfinite(z) & np.isfinite(variance)
    run = group_index(offsets)
    any_height = np.zeros(len(offsets) - 1, bool)
    any_height[run[known]] = True
    if known.any():
        # unknown heights lie on the line between their neighbours and have no weight
        lift = s + run * 1e7  # keeps runs apart in one interpolation
        z[~known] = np.interp(lift[~known], lift[known], z[known])
        usual = np.median(variance[known])
        variance[~known] = usual * WEIGHTLESS**2
        base = np.zeros(len(offsets) - 1)
        place = np.flatnonzero(known)
        base[run[place][::-1]] = z[place][::-1]
        z -= base[run]
        z[~any_height[run]] = 0.0
        off = np.where(known, height_off(z, np.diff(run) == 0), 0.0)
        variance = lessen_outliers(off, variance)
        profile, band = fit_adaptive(s, z, variance, offsets, spacing)
        values = profile.values + base[run][:, None]
    else:
        zero = np.zeros((len(s), 1))
        profile, band, values = Spline(s, offsets, zero, zero, zero), np.ones(len(s)), zero
    values = np.where(any_height[run][:, None], values, np.nan)
    return Spline(s, offsets, values, profile.bend_after, profile.bend_before), band, np.where(known, variance, np.inf)


def _sample(plan, profile, pieces, offsets, corners, corner_xy, s_run, tolerance):
    """Sample the curves so densely that chords between samples stay within a small share of the tolerance."""
    m = len(plan.s)
    inside = np.ones(m, bool)
    inside[pieces[1:] - 1] = False
    bend = np.zeros(m)
    h = np.zeros(m)
    h[:-1] = np.diff(plan.s)
    bend[:-1] = np.maximum(np.hypot(*plan.bend_after[:-1].T), np.hypot(*plan.bend_before[1:].T))
    number = np.ones(m, np.int64)
    dense = np.ceil(h * np.sqrt(bend / (8 * tolerance * SAMPLE_SHARE)))
    number[inside] = np.clip(dense[inside], 1, MOST_SAMPLES).astype(np.int64)
    has_corner = np.zeros(m, bool)
    has_corner[corners.before] = True
    total = number + has_corner
    first = np.concatenate([[0], np.cumsum(total)])[:-1]
    size = int(total.sum())
    x, y, z = np.empty(size), np.empty(size), np.empty(size)
    fast = np.zeros(size, bool)

    x[first], y[first], z[first] = plan.values[:, 0], plan.values[:, 1], profile.values[:, 0]
    more = np.flatnonzero(number > 1)
    inner = ranges(first[more] + 1, number[more] - 1)
    knot = np.repeat(more, number[more] - 1)
    share = (inner - first[knot]) / number[knot]
    point = plan.at(knot, share)
    x[inner], y[inner] = point.T
    z[inner] = profile.at(knot, share)[:, 0]
    at = first[corners.before] + 1
    x[at], y[at] = corner_xy.T
    leg = np.hypot(*(corner_xy - plan.values[corners.before]).T)
    rest = s_run[corners.before + 1] - s_run[corners.before] if len(corners.before) else leg
    z[at] = profile.at(corners.before, np.clip(leg / np.maximum(rest, 1e-9), 0, 1))[:, 0] if len(at) else z[at]
    fast[at] = True
    fast[first[offsets[:-1]]] = True
    fast[first[offsets[1:] - 1]] = True
    run = np.repeat(group_index(offsets), total)
    return _Curves(x, y, z, run, fast, first)


def _write_lines(curves, plan, offsets, spacing, stream, positions, settings):
    """Thin the curves; close rings. Vertices, shape (v, 3), their offsets, and which edges are closed."""
    runs = len(offsets) - 1
    if not runs:
        return np.zeros((0, 3)), np.zeros(1, np.int64), np.zeros(0, bool)
    tolerance = settings.tolerance * (1 - SAMPLE_SHARE)
    fast = np.flatnonzero(curves.fast)
    same = curves.run[fast[1:]] == curves.run[fast[:-1]]
    sections = np.column_stack([fast[:-1], fast[1:]])[same]
    keep = thin(curves.x, curves.y, curves.z, curves.fast, sections, tolerance, UP_TOLERANCE * tolerance)
    vx, vy = balance(curves.x, curves.y, curves.z, keep, curves.fast, curves.run, tolerance, UP_TOLERANCE * tolerance)
    vertex = np.flatnonzero(keep)
    xyz = np.column_stack([vx, vy, curves.z[vertex]])
    number = np.bincount(curves.run[vertex], minlength=runs)
    vertex_offsets = np.concatenate([[0], np.cumsum(number)])

    start, end = offsets[:-1], offsets[1:] - 1
    a, b = plan.values[start], plan.values[end]
    apart = np.hypot(*(a - b).T)
    capture = positions.capture[start]
    extent = group_sum(np.append(np.hypot(np.diff(positions.x), np.diff(positions.y)), 0.0) * ~np.isin(np.arange(len(positions)), end), offsets)
    usual = spacing[start]
    closed = (apart <= np.minimum(RING_STEPS * usual, stream.distance_limit[capture])) & (extent > 6 * np.maximum(usual, apart)) & (np.diff(offsets) > 5)
    if closed.any():  # the step that closes the ring must go on in the direction of travel at both ends
        rows = np.flatnonzero(closed)
        out, back = xyz[vertex_offsets[rows + 1] - 1, :2] - xyz[vertex_offsets[rows + 1] - 2, :2], xyz[vertex_offsets[rows] + 1, :2] - xyz[vertex_offsets[rows], :2]
        gap = a[rows] - b[rows]
        onward = ((gap * out).sum(axis=1) > 0) & ((gap * back).sum(axis=1) > 0)
        closed[rows[~onward]] = False
        rows = np.flatnonzero(closed)
        xyz = np.insert(xyz, vertex_offsets[rows + 1], xyz[vertex_offsets[rows]], axis=0)
        vertex_offsets = vertex_offsets + np.concatenate([[0], np.cumsum(closed)])
    return xyz, vertex_offsets, closed


def _account(table, screening, positions, offsets, plan, profile, curves, xyz, vertex_offsets, closed, fit, fit_up,
             reason, amount, runs_turned, corner_xy):
    """Statistics per edge, gaps, and the place of each epoch."""
    size, runs = len(table), len(offsets) - 1
    rows, of_epoch = positions.rows, group_index(positions.offsets)
    run_of_epoch = group_index(offsets)[of_epoch]
    edge = np.full(size, -1, np.int64)
    chainage, cross, up = (np.full(size, np.nan) for _ in range(3))
    role = np.zeros(size, np.uint8)
    height_used = np.zeros(size, bool)
    scale = table.scale[rows]
    epochs = np.concatenate([[0], np.cumsum(np.bincount(run_of_epoch, minlength=runs))])
    run_scale = group_sum(scale, epochs) / np.maximum(np.diff(epochs), 1)

    # edges in the order of their start; ties by capture
    capture = positions.capture[offsets[:-1]]
    started, ended = positions.started[offsets[:-1]], positions.ended[offsets[1:] - 1]
    capture_start = np.full(int(table.capture.max()) + 1 if size else 0, np.inf)
    np.minimum.at(capture_start, capture, started)
    order = np.lexsort((started, capture, capture_start[capture]))
    number_of = np.empty(runs, np.int64)
    number_of[order] = np.arange(runs)

    legs = np.hypot(np.diff(xyz[:, 0]), np.diff(xyz[:, 1])) if len(xyz) else np.zeros(0)
    legs = np.append(legs, 0.0)[: len(xyz)]
    if runs:
        legs[vertex_offsets[1:] - 1] = 0.0
    length = group_sum(legs, vertex_offsets)
    steps = np.append(np.hypot(np.diff(curves.x), np.diff(curves.y)), 0.0)[: len(curves.x)]
    sample_offsets = np.concatenate([[0], np.cumsum(np.bincount(curves.run, minlength=runs))])
    if runs:
        steps[sample_offsets[1:] - 1] = 0.0
    way = cumulative(steps, sample_offsets)
    full = group_sum(steps, sample_offsets)
    open_length = np.where(closed, length - legs[vertex_offsets[1:] - 2] if runs else length, length)
    stretch = open_length / np.maximum(full, 1e-12) / run_scale

    edge[rows] = number_of[run_of_epoch]
    chainage[rows] = (way[curves.of_position] * stretch[group_index(offsets)])[of_epoch]
    normal = unit_normals(plan)[of_epoch]
    residual = np.column_stack([table.x[rows], table.y[rows]]) - plan.values[of_epoch]
    cross[rows] = (residual * normal).sum(axis=1) / run_scale[run_of_epoch]
    height_used[rows] = screening.height_ok[rows]
    up[rows] = np.where(np.isfinite(table.z[rows]), table.z[rows] - profile.values[of_epoch, 0], np.nan)
    role[rows] = np.where(np.diff(positions.offsets) > 1, 2, 1)[of_epoch]

    mean = lambda values: group_sum(values, epochs) / np.maximum(np.diff(epochs), 1)  # noqa: E731
    sigma_cross = _sigma(*fit, offsets, _steady(table.sigma_h[rows], STEADY_USUAL, epochs))
    sigma_up = _sigma(*fit_up, offsets, _steady(table.sigma_v[rows], STEADY_USUAL_UP, epochs))
    gaps, start_reason, end_reason, rejected = _gaps(table, screening, positions, offsets, plan, profile, order, number_of, runs_turned, run_scale, reason)
    run_number = _count_in_group(capture[order])

    arranged = ranges(vertex_offsets[:-1][order], np.diff(vertex_offsets)[order])
    edges = Edges(
        xyz[arranged, 0], xyz[arranged, 1], xyz[arranged, 2], np.concatenate([[0], np.cumsum(np.diff(vertex_offsets)[order])]),
        capture[order], run_number, started[order], ended[order], np.diff(epochs)[order], rejected[order], (length / run_scale)[order],
        np.sqrt(mean(cross[rows] ** 2))[order], group_max(np.abs(cross[rows]), epochs, 0.0)[order],
        sigma_cross[order], sigma_up[order], closed[order], start_reason[order], end_reason[order])
    return Reconstruction(reason, amount, role, height_used, edge, chainage, cross, up, edges, gaps, screening.stream, corner_xy)


def _steady(sigma, usual, epochs):
    """Variance of the slow part of the receiver's error, per run."""
    return group_sum(np.where(np.isfinite(sigma), STEADY_SHARE * sigma**2, usual**2), epochs) / np.maximum(np.diff(epochs), 1)


def _sigma(share, variance, offsets, steady):
    """1-sigma of each run's fitted line: mean variance of the fitted values, and the slow part."""
    if not len(share):
        return np.zeros(len(offsets) - 1)
    known = np.isfinite(variance)
    fitted = np.where(known, variance, 0.0) * share
    number = group_sum(known.astype(float), offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(group_sum(fitted, offsets) / number + steady)


def _count_in_group(values):
    """1, 2, 3... inside each stretch of equal values."""
    if not len(values):
        return np.zeros(0, np.int64)
    change = np.concatenate([[True], values[1:] != values[:-1]])
    return place_in_group(np.append(np.flatnonzero(change), len(values))) + 1


def _gaps(table, screening, positions, offsets, plan, profile, order, number_of, runs_turned, run_scale, reason):
    """Gaps between consecutive edges, the reasons at both ends of each edge, and rejected rows inside each edge."""
    runs = len(offsets) - 1
    in_time = screening.order
    place = np.zeros(len(table), np.int64)
    place[in_time] = np.arange(len(in_time))
    why = reason[in_time]
    counts = {r: np.concatenate([[0], np.cumsum(why == r)]) for r in (Reason.NOT_FIXED, Reason.POOR_ACCURACY, Reason.SPIKE)}
    lost = np.concatenate([[0], np.cumsum(why != Reason.KEPT)])
    first_row = positions.rows[positions.offsets[:-1]]
    last_row = positions.rows[positions.offsets[1:] - 1]
    start, end = offsets[:-1], offsets[1:] - 1
    from_place, to_place = place[first_row[start]] if runs else start, place[last_row[end]] if runs else end
    rejected = lost[to_place + 1] - lost[from_place] if runs else np.zeros(0, np.int64)

    start_reason, end_reason = np.full(runs, START, np.uint8), np.full(runs, END, np.uint8)
    a, b = order[:-1], order[1:]
    capture = positions.capture[start]
    same = capture[a] == capture[b] if runs else np.zeros(0, bool)
    pause = positions.started[start[b]] - positions.ended[end[a]] if runs else np.zeros(0)
    code = np.full(len(a), NEW_CAPTURE, np.uint8)
    i = np.flatnonzero(same)
    code[i] = break_reasons(counts, to_place[a[i]], from_place[b[i]], pause[i], screening.stream.time_limit[capture[a[i]]], runs_turned[a[i]])
    end_reason[a] = code
    start_reason[b] = code
    kept = np.flatnonzero(same | (pause >= 0))  # captures that overlap in time have no gap between them
    a, b = a[kept], b[kept]
    rim = lambda axis: np.column_stack([plan.values[end[a], axis], plan.values[start[b], axis]])  # noqa: E731
    x, y = rim(0), rim(1)
    gaps = Gaps(
        x, y, np.column_stack([profile.values[end[a], 0], profile.values[start[b], 0]]), pause[kept],
        np.hypot(x[:, 1] - x[:, 0], y[:, 1] - y[:, 0]) * 2 / (run_scale[a] + run_scale[b]), code[kept], capture[a], number_of[a], number_of[b])
    return gaps, start_reason, end_reason, rejected
