"""Blocks of epochs that were shifted aside together."""

import numpy as np

from ..arrays.plane import distance, segment_distance
from ..tuning import SPIKES


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
