"""Sigmas of chains: correlated noise, lack of fit, and what is left of the slow error."""

from dataclasses import replace

import numpy as np
from scipy.special import erfcx

from ..alignment.correlated import Noise, correlated_sigmas
from ..arrays.ragged import MAD_TO_SIGMA, group_index, quick_median
from ..epochs.group_statistics import correlated_share
from ..epochs.noise import lags_of, process_of
from ..tuning import MEMORY, OCCUPATIONS, ROBUST, SEARCH, STANDING, STREAM


def with_memory(runs, chains, stream):
    """Chains whose sigmas include correlated noise and lack of fit, and their slow error.

    Parameters
    ----------
    runs : Runs
    chains : Chains
        Of these runs.
    stream : Stream

    Returns
    -------
    chains : Chains
    slow : ndarray of float, shape (m,)
        Variance at each position that the fit leaves of the receiver's slow error, over that of
        the error itself: long elements average it.

    Notes
    -----
    Differences of residuals within an element show the noise, whatever the true shape is. What the
    residuals hold beyond that noise is lack of fit: the chain is off the truth by as much.
    """
    if not len(chains):
        return chains, np.ones(0)
    positions, capture = runs.positions, runs.positions.capture
    seen = _variogram(positions, chains, stream)
    process = process_of(
        *seen, stream.interval, stream.noise, (stream.remembered, stream.memory_time)
    )
    noise = _noise_of(positions, stream, *process)
    fitted = positions.variance * (SEARCH.element_noise * stream.detail[capture]) ** 2
    residual = np.abs(chains.residual) / np.sqrt(fitted)
    weight = np.minimum(ROBUST.huber_sigmas / np.maximum(residual, 1e-9), 1.0) / fitted
    noises = noise, _slow_error(positions)
    sigmas = correlated_sigmas(chains, positions.x, positions.y, weight, noises)
    square, slow = sigmas[0] ** 2, sigmas[1] ** 2
    # an adjustment reduces the expected square of a residual by the variance of its fitted value
    total = noise.white + noise.remembered
    left = chains.residual**2 - (total - square)
    told = _independent(process, stream.interval)[capture]
    lacking = _lacking(left, total, weight, told, (group_index(chains.bounds), capture))
    # noise with a memory has a hand in which elements are chosen, which no covariance counts
    chosen = np.maximum(stream.detail[capture], 1.0) ** 2
    return replace(chains, sigma=np.sqrt(chosen * square + lacking)), np.minimum(slow, 1.0)


def _independent(process, interval):
    """Number of independent squares in one residual of each capture: squares are correlated by the
    square of the residuals' correlation."""
    _, share, time = process
    kept = np.exp(-2 * interval / time)
    return 1 / (1 + 2 * share**2 * kept / (1 - kept))


def _slow_error(positions):
    """The receiver's slow error at positions, with the variance 1."""
    one = np.ones(len(positions))
    kept = np.exp(-np.abs(_pauses(positions)) / OCCUPATIONS.correlation_time)
    return Noise(white=np.zeros(len(one)), remembered=one, kept=kept)


def _pauses(positions):
    """Seconds from the position before each one."""
    return positions.started - np.append(-np.inf, positions.ended[:-1])


def _lacking(left, noise, weight, told, groups):
    """Mean square of what chains are off the truth beyond noise, at each position, m2.

    Parameters
    ----------
    left, noise : ndarray of float, shape (m,)
        Square of the residual less what noise lets expect, and variance of the noise, m2.
    weight, told : ndarray of float, shape (m,)
        Of each position in means; number of independent values in it.
    groups : tuple of ndarray of int, shape (m,) each
        Element and capture of each position.

    Returns
    -------
    ndarray of float, shape (m,)

    Notes
    -----
    The mean of n independent values of `left` has the variance 2 noise**2 / n. A capture's mean
    counts by its own share in the sum of its square and that variance. Lacks of elements are taken
    for exponentially distributed about that of their capture; what an element's mean lets expect
    is then the mean of a normal distribution cut off at 0.
    """
    of_capture, uncertain = _mean_of_groups(left, noise, weight, told, groups[1])
    scale = np.maximum(of_capture, 0.0)
    scale = np.maximum(scale**3 / (scale**2 + uncertain), MEMORY.least_lack)
    of_element, uncertain = _mean_of_groups(left, noise, weight, told, groups[0])
    spread = np.sqrt(uncertain)
    middle = (of_element - uncertain / scale) / spread
    expected = middle + np.sqrt(2 / np.pi) / erfcx(-middle / np.sqrt(2))
    return MEMORY.unseen * spread * np.maximum(expected, 0.0)


def _mean_of_groups(left, noise, weight, told, group):
    """Mean of `left` over the group of each position, and the variance that noise gives it."""
    total = np.maximum(np.bincount(group, weight), 1e-300)
    mean, variance = (
        (np.bincount(group, weight * values) / total)[group] for values in (left, noise)
    )
    return mean, 2 * variance**2 / np.bincount(group, told)[group]


def _variogram(positions, chains, stream):
    """1-sigma of one residual from the median differences of residuals 1, 2, 4... epochs apart
    within an element, and the number of differences; shape (lags, captures) each."""
    count, capture = len(stream.interval), positions.capture
    element = group_index(chains.bounds)
    number = np.diff(chains.bounds)[element]
    single = np.diff(positions.offsets) == 1
    farthest = MEMORY.farthest * lags_of(stream.interval)
    values, numbers, lag = [], [], 1
    while lag <= farthest.max():
        good = (element[lag:] == element[:-lag]) & single[lag:] & single[:-lag]
        own = capture[lag:]
        good &= (number[lag:] > MEMORY.longer * lag) & (lag <= farthest[own])
        time = np.abs(positions.started[lag:] - positions.started[:-lag])
        good &= time < STREAM.lag_time_ratio * lag * stream.interval[own]
        off = np.abs(chains.residual[lag:] - chains.residual[:-lag])[good] / np.sqrt(2)
        values.append(MAD_TO_SIGMA * quick_median(off, own[good], count))
        numbers.append(np.bincount(own[good], minlength=count))
        lag *= 2
    return np.stack(values), np.stack(numbers)


def _noise_of(positions, stream, variance, share, time):
    """The noise of positions, which is smaller for means of several epochs."""
    capture = positions.capture
    variance, share, time = variance[capture], share[capture], time[capture]
    number = np.diff(positions.offsets)
    lean = np.where(number > 1, STANDING.lean**2, 0.0)
    nominal = np.minimum(stream.memory[capture], number) / number + lean
    # variance beyond the nominal one comes from the receiver's reported accuracy
    worse = np.maximum(positions.variance - nominal * stream.noise[capture] ** 2, 0.0)
    return Noise(
        white=((1 - share) / number + lean) * variance + worse,
        remembered=share * variance * correlated_share(positions.ended - positions.started, time),
        kept=np.exp(-np.abs(_pauses(positions)) / time),
    )
