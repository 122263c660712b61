"""Spot points from epochs taken standing still: weighted means, their spread, and gross epochs left
out."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    MAD_TO_SIGMA,
    group_index,
    group_max,
    group_median,
    group_sum,
    offsets_from_starts,
    running_max,
)
from ..tuning import OCCUPATIONS, STANDING, STREAM
from .reasons import REASON_NAMES, Reason, describe
from .screening import time_order, unusable
from .stream import time_limits

MOVING, TOO_FEW = len(REASON_NAMES), len(REASON_NAMES) + 1
OCCUPATION_REASONS = (*REASON_NAMES, "moving", "too_few")
# What makes the median absolute deviation of 2, 3... normal values unbiased (Croux and Rousseeuw
# 1992, Time-efficient algorithms for two highly robust estimators of scale; from memory); n / (n -
# 0.8) beyond.
SMALL_SAMPLE = np.array([1.0, 1.0, 1.196, 1.495, 1.363, 1.206, 1.200, 1.140, 1.129, 1.107])


@dataclass(frozen=True)
class Settings:
    """What the user can choose: metres, seconds, numbers.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_h_accuracy: float = 0.05
    min_epochs: int = 2
    radius: float = 0.15
    max_time_gap: float = 0.0
    min_dwell: float = 5.0

    def __post_init__(self):
        for name in ("max_h_accuracy", "radius"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        for name in ("max_time_gap", "min_dwell"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} must be 0 or greater, got {getattr(self, name)}")
        if not self.min_epochs >= 2:
            raise ValueError(f"min_epochs must be 2 or more, got {self.min_epochs}")


@dataclass(frozen=True)
class Points:
    """Averaged points in order of captures and time; arrays of shape (p,), metres and seconds.

    `x`, `y`, `z` weighted means (z NaN without heights); `started`, `ended` of the first and last
    epoch used; `epochs` used and `rejected` in that time; `sd_east`, `sd_north`, `sd_up` standard
    deviations of one epoch (divided by n - 1); `rms_horizontal`, `max_horizontal` distances of the
    epochs from the mean; `sigma_east`, `sigma_north`, `sigma_up` 1-sigma of the mean. East and
    north are the frame's. `scale` of the frame.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    epochs: np.ndarray
    rejected: np.ndarray
    sd_east: np.ndarray
    sd_north: np.ndarray
    sd_up: np.ndarray
    rms_horizontal: np.ndarray
    max_horizontal: np.ndarray
    sigma_east: np.ndarray
    sigma_north: np.ndarray
    sigma_up: np.ndarray

    def __len__(self):
        return len(self.x)


@dataclass(frozen=True)
class Occupations:
    """Points, and what became of every epoch; arrays of shape (n,) by source row.

    `reason` is a place in `OCCUPATION_REASONS`, 0 for epochs that were used; `amount` the number
    that it rests on; `point` that the epoch belongs to, -1 for none; `east`, `north`, `up` epoch
    minus point, metres, NaN where it was not used. `noise`, `noise_up`: 1-sigma of one epoch over
    the layer, metres.
    """

    points: Points
    reason: np.ndarray
    amount: np.ndarray
    point: np.ndarray
    east: np.ndarray
    north: np.ndarray
    up: np.ndarray
    noise: float
    noise_up: float


def average(table, settings=None, checkpoint=lambda share: None):
    """Average epochs taken standing still.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable
        Called with the share that is done, 0 to 1; may raise to stop the work.

    Returns
    -------
    Occupations
        Every row is used for one point or rejected with a reason. The order of rows does not
        matter.
    """
    settings = settings or Settings()
    reason, amount, _, kept = unusable(table, settings.max_h_accuracy)
    checkpoint(0.2)
    group = _stops(table, kept, reason, amount, settings)
    checkpoint(0.5)
    kept, group = _without_gross(table, kept, group, reason, amount, settings)
    checkpoint(0.8)
    result = _describe(table, kept, group, reason, amount)
    checkpoint(1.0)
    return result


def describe_reasons(reason, amount):
    """A sentence for each rejected epoch; empty for those that were used.

    Parameters
    ----------
    reason : array_like of int, shape (n,)
    amount : array_like of float, shape (n,)

    Returns
    -------
    list of str
    """
    own = {
        Reason.SPIKE: "{:.3f} m from the middle of its stop",
        Reason.HEIGHT_SPIKE: "height {:.3f} m from the middle of its stop",
        MOVING: "taken on the way, not standing still",
        TOO_FEW: "one of {:.0f}, too few for a point",
    }
    plain = describe(np.where(np.asarray(reason) < MOVING, reason, 0), amount)
    return [
        own[why].format(number) if why in own else text
        for why, number, text in zip(
            np.asarray(reason).tolist(), np.asarray(amount).tolist(), plain
        )
    ]


def weighted_mean(values, sigma, offsets):
    """Weighted mean of each group of consecutive values, with both of its standard errors.

    Parameters
    ----------
    values, sigma : ndarray of float, shape (n,)
        Values and their 1-sigma.
    offsets : ndarray of int, shape (groups + 1,)

    Returns
    -------
    mean : ndarray of float, shape (groups,)
    internal : ndarray of float, shape (groups,)
        From the sigmas alone: 1 / sqrt(sum of w), w = 1 / sigma**2.
    unit : ndarray of float, shape (groups,)
        Variance of unit weight, sum of w r**2 over n - 1; NaN for a single value. The external
        standard error, from the spread, is ``internal * sqrt(unit)``; with equal sigmas it is the
        standard deviation over the root of n.
    """
    weight = sigma**-2.0
    total, number = group_sum(weight, offsets), np.diff(offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        # about the first value of each group, so that large coordinates cost no digits
        base = (
            values[np.minimum(offsets[:-1], max(len(values) - 1, 0))]
            if len(values)
            else np.zeros(len(number))
        )
        mean = base + group_sum(weight * (values - np.repeat(base, number)), offsets) / total
        square = group_sum(weight * (values - np.repeat(mean, number)) ** 2, offsets)
        return mean, 1 / np.sqrt(total), np.where(number > 1, square / (number - 1.0), np.nan)


def gross(values, scale_floor, offsets, limit):
    """Values that stand off from the median of their group: the Hampel identifier, |x - median| >
    limit * 1.4826 * MAD, wider by 2 / n for few values.

    Parameters
    ----------
    values : ndarray of float, shape (n,) or (n, k)
        Of k axes at once, the distance counts and one scale is taken from the deviations on all
        axes.
    scale_floor : ndarray of float, shape (n,)
        Least scale for each value: equal or rounded values have a MAD of 0.
    offsets : ndarray of int, shape (groups + 1,)
    limit : float

    Returns
    -------
    flag : ndarray of bool, shape (n,)
    away : ndarray of float, shape (n,)
        Distance from the median.

    Notes
    -----
    The MAD of few values is corrected for its bias, and no group's scale is less than the middle of
    all groups of three or more.
    """
    values = values[:, None] if values.ndim == 1 else values
    group, number = group_index(offsets), np.diff(offsets)
    deviation = np.column_stack(
        [np.abs(column - group_median(column, group, len(number))[group]) for column in values.T]
    )
    count = deviation.shape[1]
    scale = MAD_TO_SIGMA * group_median(deviation.ravel(), np.repeat(group, count), len(number))
    with np.errstate(invalid="ignore", divide="ignore"):
        scale *= np.where(
            number < len(SMALL_SAMPLE),
            SMALL_SAMPLE[np.minimum(number, len(SMALL_SAMPLE) - 1)],
            number / (number - 0.8),
        )
    # the MAD of three values may be anything: what is usual among the groups is not gross in one
    if (number > 2).any():
        scale = np.maximum(scale, np.median(scale[number > 2]))
    away = np.sqrt((deviation**2).sum(axis=1))
    return (
        away
        > limit
        * (1 + OCCUPATIONS.small_sample / np.maximum(number, 1))[group]
        * np.maximum(scale[group], scale_floor),
        away,
    )


def slow_share(duration):
    """How much of the variance of an error correlated over `OCCUPATIONS.correlation_time` is left in a mean
    over a duration.

    2 (r - 1 + exp(-r)) / r**2 with r = duration / correlation time, the variance of the time
    average of a first-order Gauss-Markov process (any textbook on random processes; from memory): 1
    at once, 0.74 over one correlation time, 0.32 over five.
    """
    r = np.maximum(np.asarray(duration, float) / OCCUPATIONS.correlation_time, 1e-4)
    return np.minimum(2 * (r + np.expm1(-r)) / r**2, 1.0)


def _time_limit(table, kept, settings):
    """Longest pause inside a run, for each capture."""
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


def _stops(table, kept, reason, amount, settings):
    """Stop of each kept row, numbered in their order, -1 for rows that are in none (they get their
    reason)."""
    size = len(kept)
    if not size:
        return np.zeros(0, np.int64)
    x, y, t, capture = (column[kept] for column in (table.x, table.y, table.seconds, table.capture))
    scale = table.scale[kept]
    near = (np.diff(capture) == 0) & (np.diff(t) <= _time_limit(table, kept, settings)[capture[1:]])
    runs = offsets_from_starts(np.append(True, ~near))
    # one or two epochs astray do not end a stop: a running median of five
    first, last = np.repeat(runs[:-1], np.diff(runs)), np.repeat(runs[1:] - 1, np.diff(runs))
    window = np.clip(np.arange(size)[:, None] + np.arange(-2, 3), first[:, None], last[:, None])
    mx, my = np.median(x[window], axis=1) / scale, np.median(y[window], axis=1) / scale
    step = np.hypot(np.diff(mx), np.diff(my))
    still = near & (
        step
        <= np.minimum(
            np.maximum(OCCUPATIONS.still_pace * np.diff(t), OCCUPATIONS.still_step), settings.radius
        )
    )
    start = np.append(True, ~still)
    away = np.hypot(
        *(axis - axis[np.flatnonzero(start)][np.cumsum(start) - 1] for axis in (mx, my))
    )
    # who creeps on is not standing
    creep = running_max(np.floor(away / (2 * settings.radius)), offsets_from_starts(start))
    start[1:] |= np.diff(creep) > 0.5
    offsets = offsets_from_starts(start)
    number, of = _joined(offsets, mx, my, capture, t, near, settings)
    run = group_index(runs)
    duration = np.zeros(number)
    bounds = np.full((2, number), np.nan)
    inside = of >= 0
    np.fmin.at(bounds[0], of[inside], t[inside])
    np.fmax.at(bounds[1], of[inside], t[inside])
    duration = bounds[1] - bounds[0]
    epochs = np.bincount(of[inside], minlength=number)
    # a stop on a walk must last; where hardly anything else was recorded, two epochs are enough
    beside = np.bincount(run)[run]
    mostly = (
        np.bincount(of[inside], epochs[of[inside]] >= OCCUPATIONS.mostly * beside[inside], number)
        > 0.5 * epochs
    )
    good = (epochs >= settings.min_epochs) & (
        mostly
        | (
            (duration >= settings.min_dwell)
            & (epochs >= max(settings.min_epochs, OCCUPATIONS.least_on_the_way))
        )
    )
    out = np.where(inside & good[np.maximum(of, 0)], of, -1)
    _explain(table, kept, out, x / scale, y / scale, reason, amount, settings)
    used = np.unique(out[out >= 0])
    renumber = np.full(number + 1, -1)
    renumber[used] = np.arange(len(used))
    return renumber[out]


def _joined(offsets, mx, my, capture, t, near, settings):
    """Put stops of one capture that follow each other at one place together, as where a trigger was
    released or an epoch went astray in between.

    Returns
    -------
    number : int
        Of stops.
    of : ndarray of int, shape (n,)
        Stop of each epoch; an epoch alone between two parts of one stop is in none.
    """
    size = np.diff(offsets)
    group = group_index(offsets)
    cx, cy = group_median(mx, group, len(size)), group_median(my, group, len(size))
    # an epoch alone is left out of the chain where others are more; among nothing but single epochs
    # it is all there is
    single = (size < 2) & (np.bincount(capture[offsets[:-1]], size >= 2)[capture[offsets[:-1]]] > 0)
    chain = np.flatnonzero(~single)
    own = capture[offsets[:-1]]
    follow = (np.diff(own[chain]) == 0) & (
        np.hypot(np.diff(cx[chain]), np.diff(cy[chain])) <= settings.radius
    )
    follow &= offsets[:-1][chain[1:]] - offsets[1:][chain[:-1]] <= OCCUPATIONS.astray
    if settings.max_time_gap:  # who sets a limit wants the break
        follow &= (
            t[offsets[:-1][chain[1:]]] - t[offsets[1:][chain[:-1]] - 1] <= settings.max_time_gap
        )
    stop = np.full(len(size), -1)
    stop[chain] = np.cumsum(np.append(True, ~follow)[: len(chain)]) - 1
    # those alone that lie at the stop before or after them belong to it
    beside = near[offsets[1:-1] - 1] & (np.hypot(np.diff(cx), np.diff(cy)) <= settings.radius)
    alone = stop.copy()
    alone[1:] = np.where(single[1:] & beside, stop[:-1], alone[1:])
    alone[:-1] = np.where(single[:-1] & (alone[:-1] < 0) & beside, stop[1:], alone[:-1])
    stop = alone
    return int(stop.max(initial=-1)) + 1, stop[group]


def _explain(table, kept, stop, x, y, reason, amount, settings):
    """Reasons of the epochs that are in no stop."""
    capture = table.capture[kept]
    count = int(capture.max()) + 1
    inside = stop >= 0
    left = ~inside
    pairs = np.unique(np.column_stack([capture[inside], stop[inside]]), axis=0)
    stops = np.bincount(pairs[:, 0], minlength=count)
    many, rest = (
        np.bincount(capture[inside], minlength=count),
        np.bincount(capture[left], minlength=count),
    )
    # in a capture of one point, what is not at it went astray
    astray = left & (stops == 1)[capture] & (rest < many)[capture]
    if astray.any():
        cx, cy = (
            group_median(np.where(inside, x, np.nan), capture, count),
            group_median(np.where(inside, y, np.nan), capture, count),
        )
        reason[kept[astray]] = Reason.SPIKE
        amount[kept[astray]] = np.hypot(x - cx[capture], y - cy[capture])[astray]
    few = left & ~astray & (np.bincount(capture, minlength=count) < settings.min_epochs)[capture]
    reason[kept[few]], amount[kept[few]] = (
        TOO_FEW,
        np.bincount(capture, minlength=count)[capture[few]],
    )
    reason[kept[left & ~astray & ~few]] = MOVING


def _sigmas(reported, usual):
    """Reported 1-sigma of each epoch; unknown ones are as good as the middle of the others, or
    equal."""
    known = np.isfinite(reported)
    return np.where(known, reported, np.median(reported[known]) if known.any() else usual)


def _without_gross(table, kept, stop, reason, amount, settings):
    """Leave out epochs that stand off from their stop, then stops that are left with too few."""
    kept, stop = kept[stop >= 0], stop[stop >= 0]
    order = np.argsort(stop, kind="stable")
    kept, stop = kept[order], stop[order]
    for _ in range(OCCUPATIONS.rounds):
        if not len(kept):
            break
        offsets = np.searchsorted(stop, np.arange(stop.max() + 2))
        scale = table.scale[kept]
        xy = np.column_stack([table.x[kept] / scale, table.y[kept] / scale])
        xy -= xy[offsets[:-1][np.minimum(stop, len(offsets) - 2)]]
        floor, floor_up = (
            np.fmax(np.nan_to_num(sigma[kept]), least)
            for sigma, least in (
                (table.sigma_h, OCCUPATIONS.least_scale),
                (table.sigma_v, OCCUPATIONS.least_scale_up),
            )
        )
        off, away = gross(xy, floor, offsets, OCCUPATIONS.spike_limit)
        off |= away > settings.radius
        off &= np.diff(offsets)[stop] > 2  # of two, nothing tells which one is wrong
        z = table.z[kept]
        known = np.isfinite(z)
        up_offsets = np.concatenate(
            [[0], np.cumsum(np.bincount(stop[known], minlength=len(offsets) - 1))]
        )
        off_up, away_up = np.zeros(len(kept), bool), np.full(len(kept), np.nan)
        off_up[known], away_up[known] = gross(
            z[known], floor_up[known], up_offsets, OCCUPATIONS.height_limit
        )
        off_up[known] &= np.diff(up_offsets)[stop[known]] > 2
        off_up &= ~off
        for flag, why, number in (
            (off, Reason.SPIKE, away),
            (off_up, Reason.HEIGHT_SPIKE, away_up),
        ):
            reason[kept[flag]], amount[kept[flag]] = why, number[flag]
        fine = ~(off | off_up)
        if fine.all():
            break
        kept, stop = kept[fine], stop[fine]
    few = (
        np.bincount(stop, minlength=1)[stop] < settings.min_epochs
        if len(stop)
        else np.zeros(0, bool)
    )
    reason[kept[few]], amount[kept[few]] = (
        TOO_FEW,
        (np.bincount(stop)[stop[few]] if few.any() else np.nan),
    )
    kept, stop = kept[~few], stop[~few]
    return kept, np.unique(stop, return_inverse=True)[1].reshape(-1)


def _describe(table, kept, stop, reason, amount):
    """Means, spreads and sigmas."""
    count = int(stop.max()) + 1 if len(stop) else 0
    offsets = np.searchsorted(stop, np.arange(count + 1))
    scale = table.scale[kept]
    size = np.diff(offsets)
    t = table.seconds[kept]
    started, ended = t[offsets[:-1]], t[offsets[1:] - 1]
    left = slow_share(ended - started)
    mean, sd, sigma, noise = {}, {}, {}, {}
    rest = {axis: np.full(len(table), np.nan) for axis in "xyz"}
    spreads = {}
    for axis, reported, usual in (
        ("x", table.sigma_h, STANDING.correlated_sigma),
        ("y", table.sigma_h, STANDING.correlated_sigma),
        ("z", table.sigma_v, STANDING.correlated_sigma_up),
    ):
        value = getattr(table, axis)[kept]
        known = np.isfinite(value)
        bounds = np.concatenate([[0], np.cumsum(np.bincount(stop[known], minlength=count))]).astype(
            np.int64
        )
        own = stop[known]
        told = reported[kept][known]
        weight_sigma = _sigmas(told, usual)
        number = np.diff(bounds)
        middle, internal, unit = weighted_mean(value[known], weight_sigma, bounds)
        # spreads on the ground
        unit = unit / (np.square(scale[offsets[:-1]]) if axis != "z" else 1.0)
        middle = np.where(number > 0, middle, np.nan)
        away = (value[known] - middle[own]) / (scale[known] if axis != "z" else 1.0)
        rest[axis][kept[known]] = away
        mean[axis] = middle
        with np.errstate(invalid="ignore", divide="ignore"):
            plain = group_sum(away, bounds) / number
            sd[axis] = np.where(
                number > 1,
                np.sqrt(group_sum((away - plain[own]) ** 2, bounds) / (number - 1)),
                np.nan,
            )
            steady = (
                group_sum(
                    np.where(np.isfinite(told), STANDING.correlated_share * told**2, usual**2),
                    bounds,
                )
                / number
            )
        spreads[axis] = (
            number,
            internal,
            unit,
            steady,
            float(np.mean(weight_sigma**2)) if len(weight_sigma) else usual**2,
        )
    for axes in (("x", "y"), ("z",)):
        # the spread of the whole layer steadies that of points of a few epochs
        freedom = sum(np.maximum(spreads[axis][0] - 1, 0) for axis in axes)
        total = sum(
            np.nan_to_num(spreads[axis][2]) * np.maximum(spreads[axis][0] - 1, 0) for axis in axes
        )
        usual_square = spreads[axes[0]][4]
        floor = STREAM.least_noise**2 / usual_square
        pooled = max(float(total.sum() / max(freedom.sum(), 1)), floor)
        unit = np.maximum(
            (total + OCCUPATIONS.layer_freedom * pooled) / (freedom + OCCUPATIONS.layer_freedom),
            floor,
        )
        noise[axes[0]] = float(np.sqrt(pooled * usual_square)) if freedom.sum() else np.nan
        for axis in axes:
            number, internal, _, steady, _ = spreads[axis]
            with np.errstate(invalid="ignore"):
                lean = np.where(number > 1, STANDING.lean**2, 0.0) * unit * usual_square
                sigma[axis] = np.where(
                    number > 0, np.sqrt(unit * internal**2 + lean + left * steady), np.nan
                )
    distance = np.hypot(rest["x"][kept], rest["y"][kept])
    points = Points(
        mean["x"],
        mean["y"],
        mean["z"],
        table.capture[kept][offsets[:-1]],
        started,
        ended,
        size,
        _others_between(table, kept, offsets),
        sd["x"],
        sd["y"],
        sd["z"],
        np.sqrt(group_sum(distance**2, offsets) / np.maximum(size, 1)),
        group_max(distance, offsets, 0.0),
        sigma["x"],
        sigma["y"],
        sigma["z"],
    )
    point = np.full(len(table), -1, np.int64)
    point[kept] = stop
    return Occupations(
        points, reason, amount, point, rest["x"], rest["y"], rest["z"], noise["x"], noise["z"]
    )


def _others_between(table, kept, offsets):
    """Epochs of the same capture between the first and the last one of each point that were not
    used for it."""
    order = time_order(table, np.flatnonzero(np.isfinite(table.seconds)))
    place = np.full(len(table), -1)
    place[order] = np.arange(len(order))
    first, last = kept[offsets[:-1]], kept[offsets[1:] - 1]
    return place[last] - place[first] + 1 - np.diff(offsets)


__all__ = [
    "OCCUPATION_REASONS",
    "Occupations",
    "Points",
    "Settings",
    "average",
    "describe_reasons",
    "gross",
    "slow_share",
    "weighted_mean",
]
