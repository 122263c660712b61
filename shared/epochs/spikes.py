"""Epochs that deviate from what their neighbours predict.

The tests of single epochs, of blocks and of ends mark what they find in an array `size_of`: the
distance in metres, NaN where nothing was found.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays.plane import distance, ray_distance, segment_distance, turn_angle
from ..tuning import ROBUST, SCREENING, SPIKES


@dataclass(frozen=True)
class Path:
    """Epochs in time order that are tested together.

    Attributes
    ----------
    x, y : float, shape (n,)
        Metres.
    linked : bool, shape (n - 1,)
        False where one epoch says nothing about the next.
    step, nominal : float, shape (n - 1,)
        Length of the step to the next epoch, and its length at the capture's pace, metres.
    floor : float, shape (n,)
        Distance beyond which an epoch is a spike, metres.
    still : float, shape (n,)
        Step below which the walk stood still and its direction is meaningless, metres.
    """

    x: np.ndarray
    y: np.ndarray
    linked: np.ndarray
    step: np.ndarray
    nominal: np.ndarray
    floor: np.ndarray
    still: np.ndarray

    def __len__(self):
        return len(self.x)

    @cached_property
    def long_step(self):
        """Steps, shape (n - 1,), that are too long for the capture's pace."""
        return self.linked & (self.step > SPIKES.long_step * self.nominal + SPIKES.long_step_more)


# --- predictions


@dataclass(frozen=True)
class _Neighbours:
    """The second neighbours of inner epochs; arrays of shape (q,).

    `p`, `q`: epochs two before and two after, if any; `before`, `after`: they exist and are linked;
    `stood`, `stays`: the walk stood still in the step from `p`, in the step to `q`, which then have
    no direction.
    """

    p: np.ndarray
    q: np.ndarray
    before: np.ndarray
    after: np.ndarray
    stood: np.ndarray
    stays: np.ndarray


def _neighbours(x, y, linked, still, i):
    """Second neighbours of the inner epochs `i`, shape (q,)."""
    n = len(x)
    p, q = np.maximum(i - 2, 0), np.minimum(i + 2, n - 1)
    return _Neighbours(
        p=p,
        q=q,
        before=(i >= 2) & linked[p],
        after=(i + 2 < n) & linked[np.minimum(i + 1, n - 2)],
        stood=distance(x[i - 1] - x[p], y[i - 1] - y[p]) < still[i],
        stays=distance(x[i + 1] - x[q], y[i + 1] - y[q]) < still[i],
    )


def _smallest_distance(x, y, i, across, near):
    """Smallest distance of epochs `i` from the predictions of their neighbours `near`: `across`,
    straight on from those before, straight back from those after; shape (q,)."""
    deviation = across
    for there, far, known, still in (
        (i - 1, near.p, near.before, near.stood),
        (i + 1, near.q, near.after, near.stays),
    ):
        ray = np.where(
            still,
            distance(x[i] - x[there], y[i] - y[there]),
            ray_distance(x[i], y[i], x[there], y[there], x[there] - x[far], y[there] - y[far]),
        )
        deviation = np.where(known, np.minimum(deviation, ray), deviation)
    return deviation


# exact: Lagrange's cubic at even spacing, and neighbours' places
def cubic_residuals(
    values, i=slice(2, -2), near=(slice(1, -3), slice(3, -1)), far=(slice(-4), slice(4, None))
):
    """Differences between the cubics through four neighbours, taken as evenly spaced, and values.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    i : ndarray of int, shape (q,), or slice
        By default all that have two values on either side.
    near, far : tuple of ndarray of int or of slice
        First and second neighbours, the one before and the one after.

    Returns
    -------
    ndarray of float, shape (q,)
        Lagrange's cubic, (-a + 4 b + 4 c - d) / 6, minus the value. White noise of 1 sigma gives it
        a noise of sqrt(70 / 36) sigma.
    """
    return (
        -values[far[0]] + 4 * values[near[0]] + 4 * values[near[1]] - values[far[1]]
    ) / 6 - values[i]


def prediction_distance(x, y, linked, still, least):
    """Distance of each epoch from all predictions of its neighbours.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one epoch says nothing about the next.
    still : ndarray of float, shape (n,)
        Step below which the walk stood still and its direction is meaningless, metres.
    least : ndarray of float, shape (n,)
        Distance up to which an epoch is not tested, metres.

    Returns
    -------
    deviation : ndarray of float, shape (n,)
        Smallest distance from the predictions before, after, across and along the cubic, metres; 0
        if it is not over `least`, if the path does not turn out and back again, or without
        neighbours.
    across : ndarray of float, shape (n,)
        Distance from the segment between the two neighbours, metres; 0 without neighbours.
    """
    n = len(x)
    result, across = np.zeros(n), np.zeros(n)
    if n > 2:
        to_segment = segment_distance(x[1:-1], y[1:-1], x[:-2], y[:-2], x[2:], y[2:])
        across[1:-1] = np.where(linked[:-1] & linked[1:], to_segment, 0.0)
    i = np.flatnonzero(across > least)
    near = _neighbours(x, y, linked, still, i)
    deviation = _smallest_distance(x, y, i, across[i], near)
    deviation = np.where(
        near.before & near.after,
        np.minimum(
            deviation,
            distance(
                *(cubic_residuals(axis, i, (i - 1, i + 1), (near.p, near.q)) for axis in (x, y))
            ),
        ),
        deviation,
    )
    turned = _turns_out_and_back(x, y, i, near)
    result[i] = np.where(turned & (deviation > least[i]), deviation, 0.0)
    return result, across


def _turns_out_and_back(x, y, i, near):
    """Mask of the epochs `i` to which the path turns out and back again, shape (q,)."""
    here, out, home = (
        turn_angle(x, y, i - 1, i, i + 1),
        turn_angle(x, y, near.p, i - 1, i),
        turn_angle(x, y, i, i + 1, near.q),
    )
    before, after = near.before, near.after
    against_out = ~before | near.stood | (out * here < 0)
    against_home = ~after | near.stays | (home * here < 0)
    found = (before | after) & against_out & against_home
    # next to a corner one of the two turns is hidden by the corner's own
    hidden = SPIKES.hidden_turn * np.abs(here)
    clear_out = before & against_out & (near.stood | (np.abs(out) > hidden))
    clear_home = after & against_home & (near.stays | (np.abs(home) > hidden))
    detour = distance(x[i] - x[i - 1], y[i] - y[i - 1]) + distance(x[i + 1] - x[i], y[i + 1] - y[i])
    return found | (
        (clear_out | clear_home)
        & before
        & after
        & (detour > SPIKES.detour * distance(x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]))
    )


def cubic_distance(x, y, linked, still, i):
    """Distance of epochs from the cubic through two neighbours on either side, across the way.

    Parameters
    ----------
    x, y, linked, still
        As in `prediction_distance`.
    i : ndarray of int, shape (q,)

    Returns
    -------
    ndarray of float, shape (q,)
        Metres; without a cubic, from the neighbours' other predictions, and 0 if a neighbour is
        missing. The path need not turn out and back.
    """
    n = len(x)
    result = np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < n - 1))
    inner = inner[linked[i[inner] - 1] & linked[i[inner]]]
    i = i[inner]
    near = _neighbours(x, y, linked, still, i)
    way_x, way_y = x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]
    way = distance(way_x, way_y)
    both = near.before & near.after
    residual_x, residual_y = (
        cubic_residuals(axis, i, (i - 1, i + 1), (near.p, near.q)) for axis in (x, y)
    )
    aside = np.abs(residual_x * way_y - residual_y * way_x) / np.maximum(way, 1e-9)
    across = segment_distance(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    deviation = _smallest_distance(x, y, i, across, near)
    deviation = np.where(both, np.minimum(deviation, distance(residual_x, residual_y)), deviation)
    result[inner] = np.where(both & (way > SPIKES.cubic_way * still[i]), aside, deviation)
    return result


def downweight_outliers(x, y, linked, still, variance):
    """Raise the variance of observations that deviate from their neighbours' predictions.

    Parameters
    ----------
    x, y, linked, still
        As in `prediction_distance`.
    variance : ndarray of float, shape (n,)
        Of each observation, m2.

    Returns
    -------
    ndarray of float, shape (n,)
        m2; as Huber's weights (1964, Robust estimation of a location parameter, Annals of
        Mathematical Statistics 35), squared.
    """
    limit = SCREENING.prediction_sigmas * ROBUST.huber_sigmas * np.sqrt(variance)
    deviation = prediction_distance(x, y, linked, still, limit)[0]
    return variance * np.maximum(deviation / limit, 1.0) ** 2


def height_distance(z, linked):
    """Distance of each height from its neighbours and from their predictions.

    Parameters
    ----------
    z : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one height says nothing about the next.

    Returns
    -------
    ndarray of float, shape (n,)
        Metres; 0 without neighbours.
    """
    n = len(z)
    result = np.zeros(n)
    if n < 3:
        return result
    before, here, after = z[:-2], z[1:-1], z[2:]
    deviation = np.maximum(
        np.maximum(np.minimum(before, after) - here, here - np.maximum(before, after)), 0.0
    )
    # straight on from the two before, and straight back from the two after
    deviation[1:] = np.where(
        linked[:-2],
        np.minimum(deviation[1:], np.abs(2 * z[1:-2] - z[:-3] - z[2:-1])),
        deviation[1:],
    )
    deviation[:-1] = np.where(
        linked[2:],
        np.minimum(deviation[:-1], np.abs(2 * z[2:-1] - z[3:] - z[1:-2])),
        deviation[:-1],
    )
    result[1:-1] = np.where(linked[:-1] & linked[1:], deviation, 0.0)
    return result


# --- blocks of epochs


def _linked_around(linked, length):
    """Mask of the blocks of `length` epochs with two linked epochs on either side; the first block
    starts at the third epoch."""
    blocks = len(linked) - length - 2
    return (
        np.logical_and.reduce([linked[k : k + blocks] for k in range(length + 3)])
        if blocks > 0
        else np.zeros(0, bool)
    )


def lateral_shifts(x, y, linked, length, first=None):
    """Shifts of blocks of epochs across the path: one step out, the same step back.

    Parameters
    ----------
    x, y, linked
        As in `prediction_distance`.
    length : int
        Epochs in a block.
    first : ndarray of int, optional
        Only blocks that start at these epochs.

    Returns
    -------
    first : ndarray of int, shape (q,)
        First epoch of each block that has two linked epochs on either side.
    size, left_over : ndarray of float, shape (q,)
        Metres across the path; `left_over`: what the step back did not undo.

    Notes
    -----
    The step out is compared with the mean of the steps before and after it, likewise the step back.
    On a curve these means follow the turn, so that nothing is left over; changes of pace along the
    path do not count.
    """
    first = np.arange(2, len(x) - length - 1) if first is None else first
    first = first[_linked_around(linked, length)[first - 2]]
    dx, dy = np.diff(x), np.diff(y)
    last = first + length - 1

    def shift(step, before, after):
        return dx[step] - (dx[before] + dx[after]) / 2, dy[step] - (dy[before] + dy[after]) / 2

    in_x, in_y = shift(first - 1, first - 2, first)
    out_x, out_y = shift(last, last - 1, last + 1)
    way_x, way_y = x[last + 1] - x[first - 1], y[last + 1] - y[first - 1]
    way = np.maximum(distance(way_x, way_y), 1e-9)
    went, came = (in_y * way_x - in_x * way_y) / way, (out_y * way_x - out_x * way_y) / way
    size = np.where(went * came < 0, np.minimum(np.abs(went), np.abs(came)), 0.0)
    return first, size, np.abs(went + came)


def mark_blocks(path, length, size_of):
    """Mark blocks of epochs that were shifted aside together.

    Parameters
    ----------
    path : Path
    length : int
        Epochs in a block.
    size_of : ndarray of float, shape (n,)
        Changed in place.

    Notes
    -----
    A real recess can be as short, but it is not entered in a single step. Smaller shifts are left
    to the fit.
    """
    x, y, floor = path.x, path.y, path.floor
    long_step = path.long_step
    first = np.flatnonzero(long_step[1 : -length - 1] & long_step[length + 1 : -1]) + 2
    first, size, left_over = lateral_shifts(x, y, path.linked, length, first)
    last = first + length - 1
    hit = (size > np.maximum(SPIKES.least_block, SPIKES.block_floors * floor[first])) & (
        left_over < SPIKES.block_left_over * size + SPIKES.block_slack * floor[first]
    )
    cosine = np.cos(np.radians(SPIKES.block_turn))
    dx, dy = np.diff(x), np.diff(y)
    for other in (first - 2, last + 1):  # square corners are not for this test
        hit &= dx[first] * dx[other] + dy[first] * dy[other] > cosine * distance(
            dx[first], dy[first]
        ) * distance(dx[other], dy[other])
    hit &= ~np.isfinite(size_of[first - 1]) & ~np.isfinite(size_of[last + 1])
    for k in range(length):
        rows = first[hit] + k
        size_of[rows] = np.fmax(size_of[rows], size[hit])


def mark_strides(path, length, size_of):
    """Mark blocks of epochs between two strides, each longer than all steps around them.

    Parameters
    ----------
    path : Path
    length : int
        Epochs in a block.
    size_of : ndarray of float, shape (n,)
        Changed in place.

    Notes
    -----
    A corner or a short flank makes steps shorter, never longer; where the pace picks up, the steps
    after it are as long.
    """
    x, y, nominal = path.x, path.y, path.nominal
    if len(path) < length + 4:
        return
    # an appended 0 stands for the steps before the first one (index -1) and after the last
    pace = np.append(np.where(path.linked, path.step / nominal, 0.0), 0.0)
    # of blocks that start at the third epoch, the fourth...
    first = _linked_around(path.linked, length)
    first &= pace[1 : -length - 2] > SPIKES.stride * pace[: -length - 3] + SPIKES.pace_slack
    first &= pace[length + 1 : -2] > SPIKES.stride * pace[length + 2 : -1] + SPIKES.pace_slack
    first = np.flatnonzero(first) + 2
    last = first + length - 1
    around = [first - 3, first - 2, last + 1, last + 2, *(first + k for k in range(length - 1))]
    rest = np.max([pace[k] for k in around], axis=0)
    rest = np.where(rest < SPIKES.standing_pace, 1.0, rest)
    went, came = pace[first - 1], pace[last]
    way = distance(x[last + 1] - x[first - 1], y[last + 1] - y[first - 1])
    past = way / np.maximum(nominal[first - 1], 1e-9)
    to_segment = [
        segment_distance(
            x[first + k], y[first + k], x[first - 1], y[first - 1], x[last + 1], y[last + 1]
        )
        for k in range(length)
    ]
    deviation = np.min(to_segment, axis=0)
    hit = (
        (np.minimum(went, came) > SPIKES.stride * rest + SPIKES.pace_slack)
        & (past < SPIKES.stride_past * (length + 1) * rest)
        & (deviation > SPIKES.least_stride)
    )
    first, deviation = first[hit], deviation[hit]
    for k in range(length):
        free = ~np.isfinite(size_of[first + k])
        size_of[first[free] + k] = deviation[free]


# --- single epochs


def mark_along_track(path, size_of):
    """Mark epochs that lie on the line but too far ahead or behind, so that the path jumps back and
    forth.

    Parameters
    ----------
    path : Path
    size_of : ndarray of float, shape (n,)
        Changed in place.

    Notes
    -----
    A step against the ones before and after it ends or starts at the spike, whose other step is the
    longer one. Without a long step it is a walk back, not a spike.
    """
    linked, step, nominal = path.linked, path.step, path.nominal
    dx, dy = np.diff(path.x), np.diff(path.y)
    back = (
        linked[:-1]
        & linked[1:]
        & (dx[:-1] * dx[1:] + dy[:-1] * dy[1:] < -SPIKES.against * step[:-1] * step[1:])
    )
    moved = step[1:-1] > SPIKES.against_still * path.still[1:-2]
    i = np.flatnonzero(back[:-1] & back[1:] & moved) + 1
    ahead = (step[i - 1] > SPIKES.jump * nominal[i - 1]) & (step[i - 1] >= step[i + 1])
    behind = (step[i + 1] > SPIKES.jump * nominal[i + 1]) & ~ahead
    size_of[i[ahead]] = step[i[ahead]]
    size_of[i[behind] + 1] = step[i[behind]]


def mark_single(path, size_of):
    """Mark single epochs: of two neighbours only the greater spike, and none next to a spike that
    is already marked.

    Parameters
    ----------
    path : Path
    size_of : ndarray of float, shape (n,)
        Changed in place.
    """
    deviation, across = prediction_distance(path.x, path.y, path.linked, path.still, path.floor)
    calm = _calm_around(path)
    score = np.where(
        _flung_out(path, across), across, np.where(calm & (deviation > path.floor), deviation, -1.0)
    )
    _score_before_ends(path, across, score)
    marked = np.isfinite(size_of)
    beaten = marked.copy()
    beaten[1:] |= (score[:-1] > score[1:]) | marked[:-1]
    beaten[:-1] |= (score[1:] >= score[:-1]) | marked[1:]
    hit = (score > 0) & ~beaten
    size_of[hit] = score[hit]


def _flung_out(path, across):
    """Mask of the epochs far out with two steps that are too long, out and straight back, along the
    line or not."""
    x, y, step, long_step = path.x, path.y, path.step, path.long_step
    out = np.zeros(len(path), bool)
    out[1:-1] = long_step[:-1] & long_step[1:] & (across[1:-1] > SPIKES.flung * path.floor[1:-1])
    out[1:-1] &= distance(x[2:] - x[:-2], y[2:] - y[:-2]) < SPIKES.flung_return * np.minimum(
        step[:-1], step[1:]
    )
    return out


def _calm_around(path):
    """Mask of the epochs whose neighbours are in order; doubtful cases are left to the fit, which
    uses more epochs."""
    x, y, linked = path.x, path.y, path.linked
    out = np.zeros(len(path), bool)
    from_x, from_y = x[:-4], y[:-4]
    way_x, way_y = x[4:] - from_x, y[4:] - from_y
    way = np.maximum(distance(way_x, way_y), 1e-9)
    out[2:-2] = linked[:-3] & linked[1:-2] & linked[2:-1] & linked[3:]
    # exact: places of the neighbours
    for neighbour in (slice(1, -3), slice(3, -1)):
        out[2:-2] &= (
            np.abs((x[neighbour] - from_x) * way_y - (y[neighbour] - from_y) * way_x) / way
            < SPIKES.calm * path.floor[2:-2]
        )
    return out


def _score_before_ends(path, across, score):
    """Raise the score of spikes next to the end of a stretch, if the end lies where the other
    epochs lead."""
    x, y = path.x, path.y
    for way, k, _ in _ends(path.linked, len(path), 3):
        i, b, a = k + way, k + 2 * way, k + 3 * way
        aim_x, aim_y = x[b] - x[a], y[b] - y[a]
        led = ray_distance(x[k], y[k], x[b], y[b], aim_x, aim_y)
        size = np.minimum(across[i], ray_distance(x[i], y[i], x[b], y[b], aim_x, aim_y))
        sure = (
            (size > path.floor[i])
            & (led < SPIKES.led * size)
            & (distance(aim_x, aim_y) > path.still[i])
        )
        score[i[sure]] = np.maximum(score[i[sure]], size[sure])


# --- ends of stretches


def _ends(linked, n, depth):
    """Ends of stretches with `depth` linked epochs behind them: triples of the direction inward (1
    or -1), the ends, and the offset from an epoch's index back to that of its step inward."""
    link = np.concatenate([[False], linked, [False]])  # link[k]: between k - 1 and k
    for way in (1, -1):
        back = 0 if way > 0 else 1
        k = np.flatnonzero(~(link[:-1] if way > 0 else link[1:]))
        for inward in range(depth):
            far = k + way * (inward + 1)
            k = k[(far >= 0) & (far < n)]
            k = k[linked[k + way * inward - back]]
        yield way, k, back


def mark_ends(path, size_of):
    """Mark the first or last epoch of a stretch if it lies off the rest.

    Parameters
    ----------
    path : Path
    size_of : ndarray of float, shape (n,)
        Changed in place.

    Notes
    -----
    A corner one epoch from the end makes the same turn; but round a corner the step is shorter than
    nominal, and to a spike it is longer. If an epoch is lost in between this cannot be known, and
    the lone epoch is rejected.
    """
    x, y, step, nominal, floor = path.x, path.y, path.step, path.nominal, path.floor
    for way, k, back in _ends(path.linked, len(path), 3):
        p, q, r = k + way, k + 2 * way, k + 3 * way
        last, before = k - back, p - back  # steps
        deviation = ray_distance(x[k], y[k], x[p], y[p], x[p] - x[q], y[p] - y[q])
        moving = step[before] > path.still[k]
        deviation = np.where(moving, deviation, step[last])
        pace = step[last] / nominal[last]
        rest = np.where(moving, step[before] / nominal[before], 1.0)
        lone = nominal[last] > SPIKES.lone * nominal[before]
        hit = (deviation > np.maximum(floor[k], SPIKES.least_end)) & (
            (pace > SPIKES.end_pace * rest + SPIKES.pace_slack) | lone
        )
        # two epochs past a corner confirm each other: then the next one lies off the rest as well
        hit &= ray_distance(x[p], y[p], x[q], y[q], x[q] - x[r], y[q] - y[r]) < np.maximum(
            floor[k], SPIKES.end_rest * deviation
        )
        size_of[k[hit]] = deviation[hit]


def mark_end_pairs(x, y, linked, pace, floor, still, size_of):
    """Mark the first or last two epochs of a stretch that were shifted aside together.

    Parameters
    ----------
    x, y, linked, floor, still
        As in `Path`.
    pace : ndarray of float, shape (n - 1,)
        Steps, relative to nominal ones or in any other unit.
    size_of : ndarray of float, shape (n,)
        Changed in place.

    Notes
    -----
    The step next to them goes across the path, while the steps before and after it agree.
    """
    for way, k, back in _ends(linked, len(x), 4):
        p, q, r, t = (k + way * depth for depth in (1, 2, 3, 4))
        ax, ay, bx, by = x[p] - x[k], y[p] - y[k], x[r] - x[q], y[r] - y[q]
        agree = ax * bx + ay * by > np.cos(np.radians(SPIKES.end_turn)) * distance(
            ax, ay
        ) * distance(bx, by)
        way_x, way_y = ax + bx, ay + by
        aside = np.abs((x[q] - x[p]) * way_y - (y[q] - y[p]) * way_x) / np.maximum(
            distance(way_x, way_y), 1e-9
        )
        hit = (
            agree
            & (aside > np.maximum(SPIKES.least_block, SPIKES.block_floors * floor[k]))
            & (pace[p - back] > SPIKES.end_pace * pace[q - back] + SPIKES.pace_slack)
        )
        hit &= np.minimum(distance(ax, ay), distance(bx, by)) > still[k]
        # else q and r may be the ones aside
        hit &= ray_distance(x[q], y[q], x[r], y[r], x[r] - x[t], y[r] - y[t]) < floor[k]
        size_of[k[hit]] = size_of[p[hit]] = aside[hit]
