"""Epochs that deviate from what their neighbours predict.

The tests of single epochs, of blocks and of ends mark what they find in an array `size_of`: the
distance in metres, NaN where nothing was found.
"""

from dataclasses import dataclass
from functools import cached_property

import numpy as np

from ..arrays.plane import distance, ray_distance
from ..tuning import SPIKES
from .predictions import prediction_distance


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
