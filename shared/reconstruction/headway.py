"""Evidence of times: a detour takes time, a gross error of the aim does not."""

from functools import partial

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_sum, groups_at, offsets_of, ranges
from ..arrays.sorting import sort_columns
from ..tuning import HEADWAY


def _log_density(ratio):
    """Logarithm of the density of a pace relative to the local one: a normal density, mixed with a
    uniform one of slower paces."""
    spread, slow = HEADWAY.spread, HEADWAY.slow_share
    peak = np.exp(-(((ratio - 1) / spread) ** 2) / 2) / (spread * np.sqrt(2 * np.pi))
    return np.log((1 - slow) * peak + slow * (ratio < 1) + 1e-6)


def local_pace(positions, offsets, before, after):
    """Median pace of the steps near stretches of runs.

    Parameters
    ----------
    positions : Positions
    offsets : ndarray of int, shape (runs + 1,)
    before, after : ndarray of int, shape (q,)
        Positions before and after each stretch; steps between them do not count.

    Returns
    -------
    ndarray of float, shape (q,)
        m/s; NaN if there are fewer than `HEADWAY.few` steps.
    """
    out = np.full(len(before), np.nan)
    run = groups_at(offsets, before)
    first, last = offsets[:-1][run], offsets[1:][run] - 1
    around = np.arange(HEADWAY.reach)[:, None]
    pace_of = _paces(positions, 2 * HEADWAY.reach * len(before))
    for start in range(0, len(before), HEADWAY.block):
        some = slice(start, start + HEADWAY.block)
        step = np.concatenate([before[some] - 1 - around, after[some] + around])
        inside = (step >= first[some]) & (step < last[some])
        pace = np.where(inside, pace_of(step), np.inf)
        sort_columns(pace)  # infinity comes last; `np.nanmedian` takes ten times as long
        number = np.count_nonzero(pace < np.inf, axis=0)
        known = np.flatnonzero(number >= HEADWAY.few)
        number = number[known]
        middle = pace[(number - 1) // 2, known] + pace[number // 2, known]
        out[some][known] = middle / 2
    return out


def _paces(positions, asked):
    """Function that gives the pace of steps, m/s: infinite where no time passes, anything where
    there is no step. `asked`: number of steps that it will be asked for."""
    x, y, started, ended = positions.x, positions.y, positions.started, positions.ended

    def pace_of(step):
        step = np.clip(step, 0, len(x) - 1)
        end = np.minimum(step + 1, len(x) - 1)
        time = started.take(end) - ended.take(step)
        way = distance(x.take(end) - x.take(step), y.take(end) - y.take(step))
        return np.where(time > 0, way / np.maximum(time, 1e-9), np.inf)

    if asked < len(x):
        return pace_of
    time = started[1:] - ended[:-1]
    pace = distance(np.diff(x), np.diff(y)) / np.maximum(time, 1e-9)
    return partial(np.append(np.where(time > 0, pace, np.inf), np.inf).take, mode="clip")


def _sums(values, first, last):
    """Sums of the values from `first` to `last`, shape (q,)."""
    number = last - first + 1
    return group_sum(values[ranges(first, number)], offsets_of(number))


def _walked(positions, first, last):
    """Way from position to position, from `first` to `last`, metres, shape (q,)."""
    x, y, number = positions.x, positions.y, last - first
    if number.sum() > len(x):  # asked of many
        return _sums(distance(np.diff(x), np.diff(y)), first, last - 1)
    step = ranges(first, number)
    way = distance(x[step + 1] - x[step], y[step + 1] - y[step])
    return group_sum(way, offsets_of(number))


def stretches(mask, group):
    """Stretches of consecutive places in a mask.

    Parameters
    ----------
    mask : ndarray of bool, shape (m,)
    group : ndarray of int, shape (m,)
        Group of each place; a stretch ends with its group.

    Returns
    -------
    first, last : ndarray of int, shape (q,)
        First and last place of each stretch.
    """
    new = np.diff(group) != 0
    first = np.flatnonzero(mask & np.append(True, ~mask[:-1] | new)[: len(mask)])
    last = np.flatnonzero(mask & np.append(~mask[1:] | new, True)[: len(mask)])
    return first, last


def outlier_evidence(positions, stream, offsets, first, last):
    """Evidence of times and heights together for gross errors of the aim.

    Parameters
    ----------
    positions, stream, offsets, first, last
        As in `headway_evidence`.

    Returns
    -------
    ndarray of float, shape (q,)
        Squared sigmas.
    """
    times = headway_evidence(positions, stream, offsets, first, last)
    return np.clip(times, -HEADWAY.most_against, HEADWAY.most_for) + _sums(
        positions.height_llr, first, last
    )


def evidence_in_layer(positions, stream, offsets, first, last):
    """As `outlier_evidence`, with the prior of the layer for short excursions.

    Parameters
    ----------
    positions, stream, offsets, first, last
        As in `headway_evidence`.

    Returns
    -------
    ndarray of float, shape (q,)
        Squared sigmas.
    """
    evidence = outlier_evidence(positions, stream, offsets, first, last)
    return evidence + stream.slips[positions.capture[first]]


def stride_evidence(positions, stream, offsets, first, last):
    """By how much the fastest step into, through or out of stretches speaks for gross errors.

    Parameters
    ----------
    positions, stream, offsets, first, last
        As in `headway_evidence`.

    Returns
    -------
    ndarray of float, shape (q,)
        Squared sigmas; 0 where no step is faster than the fastest one nearby, or none is known.

    Notes
    -----
    Nobody walks faster along a short side than beside it; an aim that slips goes aside on top of
    the way that is walked meanwhile. Where no step is near, the stream's usual pace counts.
    """
    m, run, capture = len(positions), group_index(offsets), positions.capture[first]
    if not first.size:
        return np.zeros(0)
    dt = positions.started[1:] - positions.ended[:-1]
    known = (np.diff(run) == 0) & (dt > 0)
    pace = distance(np.diff(positions.x), np.diff(positions.y)) / np.where(known, dt, np.inf)
    pace = np.append(pace, 0.0)  # none after the last position, nor before the first
    low, high = first[:, None] - 1, last[:, None]
    around = np.arange(HEADWAY.reach)
    near = np.concatenate([low - 1 - around, high + 1 + around], axis=1)
    near = np.where((near >= 0) & (near < m), near, m - 1)
    usual = np.where(run[near] == run[first][:, None], pace[near], 0.0).max(axis=1)
    usual = np.where(usual > 0, usual, stream.spacing[capture] / stream.interval[capture])
    own = low + np.arange((high - low).max() + 1)
    own = np.where((own >= 0) & (own <= high), own, m - 1)
    ratio = pace[own].max(axis=1) / np.where(usual > 0, usual, np.inf)
    haste = _log_density(1.0) - _log_density(np.maximum(ratio, 1.0))
    return np.minimum(2 * haste, HEADWAY.most_for)


def rim_evidence(positions, offsets):
    """By how much the steps to first and last positions of runs speak for gross errors of these.

    Parameters
    ----------
    positions : Positions
    offsets : ndarray of int, shape (runs + 1,)

    Returns
    -------
    ndarray of float, shape (m,)
        Squared sigmas, with those of heights; 0 inside runs.

    Notes
    -----
    Two steps count: that from the next position of the run, and that across the break to the next
    run, if the latter is no longer too fast from the position inside. The fastest one of those
    nearby is the usual pace.
    """
    out = np.zeros(len(positions))
    first, last = offsets[:-1], offsets[1:] - 1
    long = np.flatnonzero(last - first > 1)
    for rim, far, way in ((first, last, 1), (last, first, -1)):
        rim, far = rim[long], far[long]
        steps = rim[:, None] + way * np.arange(1, HEADWAY.reach + 1)
        inside = way * (far[:, None] - steps) > 0
        steps = np.where(inside, steps, rim[:, None] + way)
        usual = np.where(inside, _pace_between(positions, steps, steps + way), 0.0).max(axis=1)
        usual[usual == 0] = np.inf  # without a pace nothing is known
        beside, across = rim + way, rim - way
        there = (across >= 0) & (across < len(positions))
        across = np.where(there, across, rim)
        there &= positions.capture[across] == positions.capture[rim]
        reached, cured = (
            np.where(there, _pace_between(positions, across, one), 0.0) for one in (rim, beside)
        )
        inward, reached, cured = (
            2 * (_log_density(1.0) - _log_density(np.maximum(pace / usual, 1.0)))
            for pace in (_pace_between(positions, rim, beside), reached, cured)
        )
        haste = inward + np.maximum(reached - cured, 0.0)
        out[rim] = np.minimum(haste, HEADWAY.most_for) + positions.height_llr[rim]
    return out


def _pace_between(positions, one, other):
    """Straight way between positions over the time between them, m/s; 0 where none passes."""
    early, late = np.minimum(one, other), np.maximum(one, other)
    time = positions.started[late] - positions.ended[early]
    way = distance(positions.x[late] - positions.x[early], positions.y[late] - positions.y[early])
    return np.where(time > 0, way / np.where(time > 0, time, 1.0), 0.0)


def _haste(positions, stream, offsets, first, last, starts, ends):
    """As `headway_evidence`, of stretches at the start or the end of their run (masks), or both:
    there only haste speaks."""
    out = np.zeros(len(first))
    if not first.size:
        return out
    low, high = np.where(starts, first, first - 1), np.where(ends, last, last + 1)
    pace = local_pace(positions, offsets, low, high)
    capture = positions.capture[first]
    usual = stream.spacing[capture] / stream.interval[capture]
    pace = np.where(np.isfinite(pace), pace, usual)
    time = positions.started[high] - positions.ended[low]
    steps = high - low
    interval = stream.interval[capture]
    known = np.isfinite(pace) & (pace > 0) & (time > 0) & (time < HEADWAY.late * steps * interval)
    ratio = _walked(positions, low, high) / np.where(known, pace * time, 1.0)
    hasty = known & (ratio > 1)
    out[hasty] = 2 * (_log_density(1.0) - _log_density(ratio[hasty]))
    return out


def headway_evidence(positions, stream, offsets, first, last):
    """Evidence of times for gross errors of the aim.

    Parameters
    ----------
    positions : Positions
    stream : Stream
    offsets : ndarray of int, shape (runs + 1,)
    first, last : ndarray of int, shape (q,)
        First and last position of stretches inside runs.

    Returns
    -------
    ndarray of float, shape (q,)
        Squared sigmas; 0 if nothing is known.

    Notes
    -----
    A walker who follows a detour makes less headway meanwhile; one whose aim slips walks on. So the
    ways from the position before to the one after, straight and through the stretch, are compared
    with the way expected at the local pace. At the ends of runs only a pace that is too fast is
    evidence.
    """
    out = np.zeros(len(first))
    run = groups_at(offsets, first)
    before, after = first - 1, last + 1
    starts, ends = before < offsets[:-1][run], after >= offsets[1:][run]
    rim = np.flatnonzero(starts | ends)
    out[rim] = _haste(positions, stream, offsets, first[rim], last[rim], starts[rim], ends[rim])
    which = np.flatnonzero(~starts & ~ends)
    before, after, first, last = before[which], after[which], first[which], last[which]
    pace = local_pace(positions, offsets, before, after)
    time = positions.started[after] - positions.ended[before]
    steps = after - before
    capture = positions.capture[first]
    known = np.isfinite(pace) & (pace > 0) & (time > 0)
    known &= time < HEADWAY.late * steps * stream.interval[capture]
    which, before, after, pace, time = (
        values[known] for values in (which, before, after, pace, time)
    )
    if not which.size:
        return out
    straight, walked, square = _ways(positions, before, after, offsets)
    expected = pace * time
    # corners between positions make the way longer, at most as long as along the sides of a recess
    walked = np.minimum(np.maximum(expected, walked), np.maximum(square, walked))
    out[which] = 2 * (_log_density(straight / expected) - _log_density(walked / expected))
    return out


def _ways(positions, before, after, offsets):
    """Ways from positions `before` to positions `after`, metres: straight, from position to
    position, and along the sides of a recess, parallel and perpendicular to the step before or
    after."""
    x, y = positions.x, positions.y
    straight = distance(x[after] - x[before], y[after] - y[before])
    ways = []
    run = groups_at(offsets, before)
    low, high = offsets[:-1][run], offsets[1:][run] - 1
    for a, b in ((np.maximum(before - 1, low), before), (after, np.minimum(after + 1, high))):
        ux, uy = x[b] - x[a], y[b] - y[a]
        length = distance(ux, uy)
        ux, uy = np.where(length > 0, ux, 1.0), np.where(length > 0, uy, 0.0)
        length = np.where(length > 0, length, 1.0)
        way = np.zeros(len(before))
        for k in range(int((after - before).max())):
            here = np.minimum(before + k, after)
            there = np.minimum(before + k + 1, after)
            dx, dy = x[there] - x[here], y[there] - y[here]
            way += (np.abs(ux * dx + uy * dy) + np.abs(ux * dy - uy * dx)) / length
        ways.append(way)
    return straight, _walked(positions, before, after), np.minimum(*ways)
