"""Epochs that stand off from what their neighbours predict."""

import numpy as np

from ..arrays.plane import distance, ray_distance, segment_distance, turn_angle

LEAST_SPIKE = 0.10  # m


LEAST_DOUBLE_SPIKE = 0.20  # m


LEAST_END_SPIKE = 0.15  # m


LEAST_STRIDE = 0.3  # m


LONG_STRIDE = 1.25  # times the longest step around


STANDING_PACE = 0.35  # of the usual pace; below that the steps around say nothing of the walk


SPIKE_SIGMAS = 6.0


HUBER = 2.5  # sigmas beyond which an observation loses weight


def _neighbours(x, y, linked, still, i):
    """For inner places `i`: those two before and after (themselves where there are none), and
    whether these tell a direction.

    Returns
    -------
    p, q : ndarray of int
    before, after : ndarray of bool
        There is one.
    stood, stays : ndarray of bool
        The walk stood still in the step from there, and to there.
    """
    n = len(x)
    p, q = np.maximum(i - 2, 0), np.minimum(i + 2, n - 1)
    before, after = (i >= 2) & linked[p], (i + 2 < n) & linked[np.minimum(i + 1, n - 2)]
    return (
        p,
        q,
        before,
        after,
        distance(x[i - 1] - x[p], y[i - 1] - y[p]) < still[i],
        distance(x[i + 1] - x[q], y[i + 1] - y[q]) < still[i],
    )


def _least_off(x, y, i, across, p, q, before, after, stood, stays):
    """Least distance of epochs from what their neighbours predict: across, straight on from before,
    straight back from after."""
    off = across
    for there, far, sees, still in ((i - 1, p, before, stood), (i + 1, q, after, stays)):
        ray = np.where(
            still,
            distance(x[i] - x[there], y[i] - y[there]),
            ray_distance(x[i], y[i], x[there], y[there], x[there] - x[far], y[there] - y[far]),
        )
        off = np.where(sees, np.minimum(off, ray), off)
    return off


def cubic_residuals(
    values, i=slice(2, -2), near=(slice(1, -3), slice(3, -1)), far=(slice(-4), slice(4, None))
):
    """From values `i` to the cubics through their neighbours, the `near` and the `far` one before
    and after, evenly spaced; else of all values that have two on either side."""
    return (
        -values[far[0]] + 4 * values[near[0]] + 4 * values[near[1]] - values[far[1]]
    ) / 6 - values[i]


def prediction_distance(x, y, linked, still, least):
    """How far each epoch stands off from every prediction that its neighbours make.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one epoch does not tell anything about the next.
    still : ndarray of float, shape (n,)
        Step below which the walk stood still and its direction means nothing, metres.
    least : ndarray of float, shape (n,)
        Distance up to which nobody asks, metres.

    Returns
    -------
    off : ndarray of float, shape (n,)
        Least distance from the predictions before, after, across and along the cubic; 0 where it is
        no more than `least`, where the path does not turn out and back again, or where there are no
        neighbours.
    across : ndarray of float, shape (n,)
        Distance from the segment between the two neighbours alone, 0 where there are none.
    """
    n = len(x)
    result, beside = np.zeros(n), np.zeros(n)
    if n > 2:
        across = segment_distance(x[1:-1], y[1:-1], x[:-2], y[:-2], x[2:], y[2:])
        beside[1:-1] = np.where(linked[:-1] & linked[1:], across, 0.0)
    i = np.flatnonzero(beside > least)
    across = beside[i]
    p, q, before, after, stood, stays = _neighbours(x, y, linked, still, i)
    off = _least_off(x, y, i, across, p, q, before, after, stood, stays)
    off = np.where(
        before & after,
        np.minimum(
            off, distance(*(cubic_residuals(axis, i, (i - 1, i + 1), (p, q)) for axis in (x, y)))
        ),
        off,
    )
    here, out, home = (
        turn_angle(x, y, i - 1, i, i + 1),
        turn_angle(x, y, p, i - 1, i),
        turn_angle(x, y, i, i + 1, q),
    )
    against_out, against_home = (
        ~before | stood | (out * here < 0),
        ~after | stays | (home * here < 0),
    )
    out_and_back = (before | after) & against_out & against_home
    # beside a corner one of the two turns is hidden by the corner's own
    clear_out = before & against_out & (stood | (np.abs(out) > 0.25 * np.abs(here)))
    clear_home = after & against_home & (stays | (np.abs(home) > 0.25 * np.abs(here)))
    detour = distance(x[i] - x[i - 1], y[i] - y[i - 1]) + distance(x[i + 1] - x[i], y[i + 1] - y[i])
    out_and_back |= (
        (clear_out | clear_home)
        & before
        & after
        & (detour > 1.25 * distance(x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]))
    )
    result[i] = np.where(out_and_back & (off > least[i]), off, 0.0)
    return result, beside


def cubic_distance(x, y, linked, still, i):
    """Distance of epochs `i` from the cubic through two neighbours on either side, across the way;
    else from their neighbours' predictions. 0 where a neighbour is missing. Whether the path turns
    out and back is not asked.

    Parameters
    ----------
    x, y, linked, still
        As in `prediction_distance`.
    i : ndarray of int, shape (q,)

    Returns
    -------
    ndarray of float, shape (q,)
    """
    n = len(x)
    result = np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < n - 1))
    inner = inner[linked[i[inner] - 1] & linked[i[inner]]]
    i = i[inner]
    p, q, before, after, stood, stays = _neighbours(x, y, linked, still, i)
    way_x, way_y = x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]
    way = distance(way_x, way_y)
    good = before & after & (way > 3 * still[i])
    off_x, off_y = (cubic_residuals(axis, i, (i - 1, i + 1), (p, q)) for axis in (x, y))
    aside = np.abs(off_x * way_y - off_y * way_x) / np.maximum(way, 1e-9)
    across = segment_distance(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    off = _least_off(x, y, i, across, p, q, before, after, stood, stays)
    off = np.where(before & after, np.minimum(off, distance(off_x, off_y)), off)
    result[inner] = np.where(good, aside, off)
    return result


def downweight_outliers(x, y, linked, still, variance):
    """Raise the variance of observations that stand off from their neighbours' predictions (Huber
    1964); arguments as in `prediction_distance`."""
    # a prediction from four neighbours is itself uncertain: 1.3 sigmas of one observation
    usual = 1.3 * HUBER * np.sqrt(variance)
    return (
        variance * np.maximum(prediction_distance(x, y, linked, still, usual)[0] / usual, 1.0) ** 2
    )


def _linked_around(linked, length):
    """Whether blocks of `length` epochs have two linked epochs on either side; the first block
    starts at the third epoch."""
    blocks = len(linked) - length - 2
    return (
        np.logical_and.reduce([linked[k : k + blocks] for k in range(length + 3)])
        if blocks > 0
        else np.zeros(0, bool)
    )


def lateral_shifts(x, y, linked, length, first=None):
    """How far blocks of `length` epochs were shoved across the way: one step in, the same step
    back.

    The step in is compared with the mean of the steps before and after it, likewise the step back.
    On a curve these means follow the turn, so that nothing is left over; pace changes along the way
    do not count.

    Only blocks that start at `first` where that is given, else all.

    Returns
    -------
    first : ndarray of int, shape (q,)
        First epoch of each block that has two linked epochs on either side.
    size, left_over : ndarray of float, shape (q,)
        Metres across the way; `left_over` is what the step back did not undo.
    """
    first = np.arange(2, len(x) - length - 1) if first is None else first
    first = first[_linked_around(linked, length)[first - 2]]
    dx, dy = np.diff(x), np.diff(y)
    last = first + length - 1

    def shove(step, before, after):
        return dx[step] - (dx[before] + dx[after]) / 2, dy[step] - (dy[before] + dy[after]) / 2

    in_x, in_y = shove(first - 1, first - 2, first)
    out_x, out_y = shove(last, last - 1, last + 1)
    way_x, way_y = x[last + 1] - x[first - 1], y[last + 1] - y[first - 1]
    way = np.maximum(distance(way_x, way_y), 1e-9)
    went, came = (in_y * way_x - in_x * way_y) / way, (out_y * way_x - out_x * way_y) / way
    size = np.where(went * came < 0, np.minimum(np.abs(went), np.abs(came)), 0.0)
    return first, size, np.abs(went + came)


def _ends(linked, n, depth):
    """Ends of stretches with `depth` linked epochs behind them: arrays (way, k, first place of the
    step inward)."""
    link = np.concatenate([[False], linked, [False]])  # link[k]: between k - 1 and k
    for way in (1, -1):
        step_at = (lambda k: k) if way > 0 else (lambda k: k - 1)
        k = np.flatnonzero(~(link[:-1] if way > 0 else link[1:]))
        for inward in range(depth):
            far = k + way * (inward + 1)
            k = k[(far >= 0) & (far < n)]
            k = k[linked[step_at(k + way * inward)]]
        yield way, k, step_at


def _slips_along(x, y, linked, step, usual, still, size_of):
    """Mark epochs that lie ahead of, or behind, their turn on the line, so that the path jumps back
    or forth.

    A step that runs against the one before and the one after it ends or starts at the slip: the
    other step there is the longer one. Without a long step it is a walk back, which is no spike.
    """
    dx, dy = np.diff(x), np.diff(y)
    back = (
        linked[:-1]
        & linked[1:]
        & (dx[:-1] * dx[1:] + dy[:-1] * dy[1:] < -0.7 * step[:-1] * step[1:])
    )
    i = np.flatnonzero(back[:-1] & back[1:] & (step[1:-1] > 2 * still[1:-2])) + 1
    ahead = (step[i - 1] > 1.4 * usual[i - 1]) & (step[i - 1] >= step[i + 1])
    behind = (step[i + 1] > 1.4 * usual[i + 1]) & ~ahead
    size_of[i[ahead]] = step[i[ahead]]
    size_of[i[behind] + 1] = step[i[behind]]


def _end_spikes(x, y, linked, step, usual, floor, still, size_of):
    """Mark the first or last epoch of a stretch where it lies off the rest.

    A corner one epoch from the end makes the same turn; but round a corner the step is shorter than
    usual, and to a spike it is longer. Where an epoch is lost between them that cannot be told, and
    the lone epoch goes.
    """
    for way, k, step_at in _ends(linked, len(x), 3):
        p, q, r = k + way, k + 2 * way, k + 3 * way
        off = ray_distance(x[k], y[k], x[p], y[p], x[p] - x[q], y[p] - y[q])
        moving = step[step_at(p)] > still[k]
        off = np.where(moving, off, step[step_at(k)])
        pace, rest = (
            step[step_at(k)] / usual[step_at(k)],
            np.where(moving, step[step_at(p)] / usual[step_at(p)], 1.0),
        )
        lone = usual[step_at(k)] > 1.5 * usual[step_at(p)]
        hit = (off > np.maximum(floor[k], LEAST_END_SPIKE)) & ((pace > 1.12 * rest + 0.05) | lone)
        # two epochs past a corner confirm each other: then the next one is off the rest as well
        hit &= ray_distance(x[p], y[p], x[q], y[q], x[q] - x[r], y[q] - y[r]) < np.maximum(
            floor[k], 0.5 * off
        )
        size_of[k[hit]] = off[hit]


def mark_end_pairs(x, y, linked, pace, floor, still, size_of):
    """Mark the first or last two epochs of a stretch that were shoved aside together.

    The step behind them goes across the way while the steps before and after it agree.
    """
    for way, k, step_at in _ends(linked, len(x), 4):
        p, q, r, t = (k + way * depth for depth in (1, 2, 3, 4))
        ax, ay, bx, by = x[p] - x[k], y[p] - y[k], x[r] - x[q], y[r] - y[q]
        agree = ax * bx + ay * by > np.cos(np.radians(30)) * distance(ax, ay) * distance(bx, by)
        way_x, way_y = ax + bx, ay + by
        aside = np.abs((x[q] - x[p]) * way_y - (y[q] - y[p]) * way_x) / np.maximum(
            distance(way_x, way_y), 1e-9
        )
        hit = (
            agree
            & (aside > np.maximum(LEAST_DOUBLE_SPIKE, 1.5 * floor[k]))
            & (pace[step_at(p)] > 1.12 * pace[step_at(q)] + 0.05)
        )
        hit &= np.minimum(distance(ax, ay), distance(bx, by)) > still[k]
        # else q and r may be the ones aside
        hit &= ray_distance(x[q], y[q], x[r], y[r], x[r] - x[t], y[r] - y[t]) < floor[k]
        size_of[k[hit]] = size_of[p[hit]] = aside[hit]


def _strides(x, y, linked, step, usual, length, size_of):
    """Mark blocks of `length` epochs between two strides, each longer than all steps around them.

    A corner or a short flank makes steps shorter, never longer; where the pace picks up, the steps
    after it are as long.
    """
    if len(x) < length + 4:
        return
    # 0 as well before the first step, which is the last place, and after the last
    pace = np.append(np.where(linked, step / usual, 0.0), 0.0)
    first = _linked_around(linked, length)  # of blocks that start at the third epoch, the fourth...
    first &= pace[1 : -length - 2] > LONG_STRIDE * pace[: -length - 3] + 0.05
    first &= pace[length + 1 : -2] > LONG_STRIDE * pace[length + 2 : -1] + 0.05
    first = np.flatnonzero(first) + 2
    last = first + length - 1
    around = [first - 3, first - 2, last + 1, last + 2, *(first + k for k in range(length - 1))]
    rest = np.max([pace[k] for k in around], axis=0)
    rest = np.where(rest < STANDING_PACE, 1.0, rest)
    went, came = pace[first - 1], pace[last]
    past = distance(x[last + 1] - x[first - 1], y[last + 1] - y[first - 1]) / np.maximum(
        usual[first - 1], 1e-9
    )
    off = np.min(
        [
            segment_distance(
                x[first + k], y[first + k], x[first - 1], y[first - 1], x[last + 1], y[last + 1]
            )
            for k in range(length)
        ],
        axis=0,
    )
    hit = (
        (np.minimum(went, came) > LONG_STRIDE * rest + 0.05)
        & (past < 1.1 * (length + 1) * rest)
        & (off > LEAST_STRIDE)
    )
    first, off = first[hit], off[hit]
    for k in range(length):
        free = ~np.isfinite(size_of[first + k])
        size_of[first[free] + k] = off[free]


def _block_spikes(x, y, linked, long_step, floor, length, size_of):
    """Mark blocks of `length` epochs that were shoved aside together."""
    # a real recess can be as short, but nobody walks into it in one step; smaller blocks are left
    # to the fit
    first = np.flatnonzero(long_step[1 : -length - 1] & long_step[length + 1 : -1]) + 2
    first, size, left_over = lateral_shifts(x, y, linked, length, first)
    last = first + length - 1
    hit = (size > np.maximum(LEAST_DOUBLE_SPIKE, 1.5 * floor[first])) & (
        left_over < 0.35 * size + 0.5 * floor[first]
    )
    cosine = np.cos(np.radians(50))
    dx, dy = np.diff(x), np.diff(y)
    for other in (first - 2, last + 1):  # square corners are not for this test
        hit &= dx[first] * dx[other] + dy[first] * dy[other] > cosine * distance(
            dx[first], dy[first]
        ) * distance(dx[other], dy[other])
    hit &= ~np.isfinite(size_of[first - 1]) & ~np.isfinite(size_of[last + 1])
    for k in range(length):
        rows = first[hit] + k
        size_of[rows] = np.fmax(size_of[rows], size[hit])


def _single_spikes(x, y, linked, long_step, floor, still, size_of):
    """Mark single epochs; of two neighbours the greater spike only, none beside a spike that is
    marked already."""
    n = len(x)
    off, across = prediction_distance(x, y, linked, still, floor)
    # far out and straight back in two steps that nobody walks, along the line or not
    step = distance(np.diff(x), np.diff(y))
    flung = np.zeros(n, bool)
    flung[1:-1] = long_step[:-1] & long_step[1:] & (across[1:-1] > 4 * floor[1:-1])
    flung[1:-1] &= distance(x[2:] - x[:-2], y[2:] - y[:-2]) < 0.75 * np.minimum(step[:-1], step[1:])
    # elsewhere only where all around is in order; what is not clear is left to the fit, which
    # weighs more epochs
    calm = np.zeros(n, bool)
    from_x, from_y = x[:-4], y[:-4]
    way_x, way_y = x[4:] - from_x, y[4:] - from_y
    way = np.maximum(distance(way_x, way_y), 1e-9)
    calm[2:-2] = linked[:-3] & linked[1:-2] & linked[2:-1] & linked[3:]
    for beside in (slice(1, -3), slice(3, -1)):
        calm[2:-2] &= (
            np.abs((x[beside] - from_x) * way_y - (y[beside] - from_y) * way_x) / way
            < 0.5 * floor[2:-2]
        )
    score = np.where(flung, across, np.where(calm & (off > floor), off, -1.0))
    # one before the end of a stretch: the last epoch must lie where the others lead
    for way in (1, -1):
        k = next(k for w, k, _ in _ends(linked, n, 3) if w == way)
        i, b, a = k + way, k + 2 * way, k + 3 * way
        aim_x, aim_y = x[b] - x[a], y[b] - y[a]
        led = ray_distance(x[k], y[k], x[b], y[b], aim_x, aim_y)
        size = np.minimum(across[i], ray_distance(x[i], y[i], x[b], y[b], aim_x, aim_y))
        sure = (size > floor[i]) & (led < 0.35 * size) & (distance(aim_x, aim_y) > still[i])
        score[i[sure]] = np.maximum(score[i[sure]], size[sure])
    marked = np.isfinite(size_of)
    beaten = marked.copy()
    beaten[1:] |= (score[:-1] > score[1:]) | marked[:-1]
    beaten[:-1] |= (score[1:] >= score[:-1]) | marked[1:]
    hit = (score > 0) & ~beaten
    size_of[hit] = score[hit]


def height_distance(z, linked):
    """How far each height stands off from its neighbours and from what they predict; 0 where there
    are none."""
    n = len(z)
    result = np.zeros(n)
    if n < 3:
        return result
    before, here, after = z[:-2], z[1:-1], z[2:]
    off = np.maximum(
        np.maximum(np.minimum(before, after) - here, here - np.maximum(before, after)), 0.0
    )
    # straight on from the two before, and straight back from the two after
    off[1:] = np.where(
        linked[:-2], np.minimum(off[1:], np.abs(2 * z[1:-2] - z[:-3] - z[2:-1])), off[1:]
    )
    off[:-1] = np.where(
        linked[2:], np.minimum(off[:-1], np.abs(2 * z[2:-1] - z[3:] - z[1:-2])), off[:-1]
    )
    result[1:-1] = np.where(linked[:-1] & linked[1:], off, 0.0)
    return result
