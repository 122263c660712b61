"""Stops, where somebody stood still: epochs grouped into stops, and why the others are in none."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_index, group_median, offsets_from_starts, running_max
from ..tuning import OCCUPATIONS, STREAM
from .reasons import MOVING, TOO_FEW, Reason
from .stream import time_limits


@dataclass(frozen=True)
class Outcome:
    """Reason of each row of a table, and the amount that it states; arrays of shape (n,)."""

    reason: np.ndarray
    amount: np.ndarray

    def reject(self, rows, why, amount=None):
        """Give rows a reason.

        Parameters
        ----------
        rows : ndarray of int, shape (q,)
        why : int
            Place in `OCCUPATION_REASONS`.
        amount : ndarray of float, shape (q,), optional
            By default not changed.
        """
        self.reason[rows] = why
        if amount is not None:
            self.amount[rows] = amount


@dataclass(frozen=True)
class _Walk:
    """Usable epochs by capture and time; arrays of shape (m,).

    `x`, `y` in ground metres; `mx`, `my` the same as running medians; `t` in seconds; `near`, shape
    (m - 1,): the next epoch follows without a pause.
    """

    x: np.ndarray
    y: np.ndarray
    mx: np.ndarray
    my: np.ndarray
    t: np.ndarray
    capture: np.ndarray
    near: np.ndarray


def find_stops(table, kept, outcome, settings):
    """Group epochs into stops.

    Parameters
    ----------
    table : EpochTable
    kept : ndarray of int, shape (m,)
        Usable rows, by capture and time.
    outcome : Outcome
        Changed in place: rows in no stop get their reason.
    settings : OccupationSettings

    Returns
    -------
    ndarray of int, shape (m,)
        Stop of each kept row, numbered in order; -1 for none.
    """
    if not len(kept):
        return np.zeros(0, np.int64)
    walk, runs = _walk(table, kept, settings)
    offsets = offsets_from_starts(_starts(walk, settings))
    number, stop = _join(offsets, walk, settings)
    inside = stop >= 0
    good = _lasting(walk, runs, number, stop, settings)
    out = np.where(inside & good[np.maximum(stop, 0)], stop, -1)
    _explain(walk, kept, out, outcome, settings)
    used = np.unique(out[out >= 0])
    renumber = np.full(number + 1, -1)
    renumber[used] = np.arange(len(used))
    return renumber[out]


def _walk(table, kept, settings):
    """The kept epochs, and the offsets of their runs without a pause."""
    x, y, t, capture = (column[kept] for column in (table.x, table.y, table.seconds, table.capture))
    scale = table.scale[kept]
    limit = _time_limit(table, kept, settings)
    near = (np.diff(capture) == 0) & (np.diff(t) <= limit[capture[1:]])
    runs = offsets_from_starts(np.append(True, ~near))
    # a running median of five, so that one or two stray epochs do not end a stop
    first, last = np.repeat(runs[:-1], np.diff(runs)), np.repeat(runs[1:] - 1, np.diff(runs))
    window = np.clip(
        np.arange(len(kept))[:, None] + np.arange(-2, 3), first[:, None], last[:, None]
    )
    mx, my = np.median(x[window], axis=1) / scale, np.median(y[window], axis=1) / scale
    return _Walk(x / scale, y / scale, mx, my, t, capture, near), runs


def _time_limit(table, kept, settings):
    """Longest pause inside a run, for each capture, seconds."""
    count = int(table.capture.max()) + 1 if len(table) else 0
    if settings.max_time_gap:
        return np.full(count, settings.max_time_gap)
    pause, capture = np.diff(table.seconds[kept]), table.capture[kept][1:]
    pause[np.diff(table.capture[kept]) != 0] = np.nan
    interval = group_median(pause, capture, count)
    known = interval[np.isfinite(interval)]
    interval = np.where(
        np.isfinite(interval), interval, np.median(known) if len(known) else STREAM.interval
    )
    return time_limits(interval)


def _starts(walk, settings):
    """Mask of the epochs at which a stop, or a single epoch on the way, starts."""
    step = np.hypot(np.diff(walk.mx), np.diff(walk.my))
    still_step = np.maximum(OCCUPATIONS.still_pace * np.diff(walk.t), OCCUPATIONS.still_step)
    still = walk.near & (step <= np.minimum(still_step, settings.radius))
    start = np.append(True, ~still)
    away = np.hypot(
        *(axis - axis[np.flatnonzero(start)][np.cumsum(start) - 1] for axis in (walk.mx, walk.my))
    )
    # creeping on slowly is not standing
    creep = running_max(np.floor(away / (2 * settings.radius)), offsets_from_starts(start))
    start[1:] |= np.diff(creep) > 0.5
    return start


def _lasting(walk, runs, number, stop, settings):
    """Mask of the stops that count, shape (number,).

    A stop on a walk must last; if hardly anything else was recorded, two epochs are enough.
    """
    inside = stop >= 0
    own = stop[inside]
    bounds = np.full((2, number), np.nan)
    np.fmin.at(bounds[0], own, walk.t[inside])
    np.fmax.at(bounds[1], own, walk.t[inside])
    duration = bounds[1] - bounds[0]
    epochs = np.bincount(own, minlength=number)
    run = group_index(runs)
    in_run = np.bincount(run)[run]  # epochs of the run that each epoch is in
    of_run = epochs[own] >= OCCUPATIONS.mostly * in_run[inside]
    mostly = np.bincount(own, of_run, number) > 0.5 * epochs
    on_the_way = max(settings.min_epochs, OCCUPATIONS.least_on_the_way)
    return (epochs >= settings.min_epochs) & (
        mostly | ((duration >= settings.min_dwell) & (epochs >= on_the_way))
    )


def _join(offsets, walk, settings):
    """Join consecutive stops of one capture at one place, with a pause or a stray epoch between
    them.

    Returns
    -------
    number : int
        Number of stops.
    stop : ndarray of int, shape (m,)
        Stop of each epoch; a stray epoch between two parts of one stop is in none.
    """
    size = np.diff(offsets)
    group = group_index(offsets)
    first, end = offsets[:-1], offsets[1:]
    cx, cy = group_median(walk.mx, group, len(size)), group_median(walk.my, group, len(size))
    # single epochs are left out of the chain, unless the capture has nothing else
    own = walk.capture[first]
    single = (size < 2) & (np.bincount(own, size >= 2)[own] > 0)
    chain = np.flatnonzero(~single)
    follow = (np.diff(own[chain]) == 0) & (
        np.hypot(np.diff(cx[chain]), np.diff(cy[chain])) <= settings.radius
    )
    follow &= first[chain[1:]] - end[chain[:-1]] <= OCCUPATIONS.astray
    if settings.max_time_gap:  # a limit set by the user ends a stop
        pause = walk.t[first[chain[1:]]] - walk.t[end[chain[:-1]] - 1]
        follow &= pause <= settings.max_time_gap
    stop = np.full(len(size), -1)
    stop[chain] = np.cumsum(np.append(True, ~follow)[: len(chain)]) - 1
    # single epochs at the place of the stop before or after them belong to it
    next_to = walk.near[end[:-1] - 1] & (np.hypot(np.diff(cx), np.diff(cy)) <= settings.radius)
    alone = stop.copy()
    alone[1:] = np.where(single[1:] & next_to, stop[:-1], alone[1:])
    alone[:-1] = np.where(single[:-1] & (alone[:-1] < 0) & next_to, stop[1:], alone[:-1])
    return int(alone.max(initial=-1)) + 1, alone[group]


def _explain(walk, kept, stop, outcome, settings):
    """Give epochs in no stop their reason."""
    capture = walk.capture
    count = int(capture.max()) + 1
    inside = stop >= 0
    left = ~inside
    pairs = np.unique(np.column_stack([capture[inside], stop[inside]]), axis=0)
    stops = np.bincount(pairs[:, 0], minlength=count)
    many, rest = (
        np.bincount(capture[inside], minlength=count),
        np.bincount(capture[left], minlength=count),
    )
    # in a capture with one point, epochs elsewhere are gross errors
    astray = left & (stops == 1)[capture] & (rest < many)[capture]
    if astray.any():
        cx, cy = (
            group_median(np.where(inside, axis, np.nan), capture, count)
            for axis in (walk.x, walk.y)
        )
        away = np.hypot(walk.x - cx[capture], walk.y - cy[capture])
        outcome.reject(kept[astray], Reason.SPIKE, away[astray])
    epochs = np.bincount(capture, minlength=count)
    few = left & ~astray & (epochs < settings.min_epochs)[capture]
    outcome.reject(kept[few], TOO_FEW, epochs[capture[few]])
    outcome.reject(kept[left & ~astray & ~few], MOVING)
