"""Sigmas of chains of fast streams, correlated noise and lack of fit included."""

from dataclasses import replace

import numpy as np

from ..alignment.correlated import Noise, correlated_sigma
from ..arrays.ragged import MAD_TO_SIGMA, group_index, quick_median
from ..epochs.group_statistics import correlated_share
from ..epochs.noise import lags_of, process_of
from ..tuning import MEMORY, ROBUST, SEARCH, STANDING, STREAM


def with_memory(runs, chains, stream):
    """Chains whose sigmas include correlated noise and lack of fit.

    Parameters
    ----------
    runs : Runs
    chains : Chains
        Of these runs.
    stream : Stream

    Returns
    -------
    Chains
        Unchanged for streams of 1 Hz and slower.

    Notes
    -----
    Differences of residuals within an element show the noise, whatever the true shape is. What the
    residuals hold beyond that noise is lack of fit: the chain is off the truth by as much. Since a
    few epochs of an element do not determine it, it is a weighted mean of the element's own value
    and its capture's.
    """
    fast = (lags_of(stream.interval) > 1)[runs.positions.capture[runs.offsets[:-1]]]
    if not fast.any():
        return chains
    which = np.flatnonzero(fast)
    sigma = chains.sigma.copy()
    inside = fast[group_index(runs.offsets)]
    sigma[inside] = _sigma(runs.positions.take(inside), chains.take_runs(which), stream)
    return replace(chains, sigma=sigma)


def _sigma(positions, chains, stream):
    """1-sigma of chains at each position."""
    capture, count = positions.capture, len(stream.interval)
    seen = _variogram(positions, chains, stream)
    process = process_of(
        *seen, stream.interval, stream.noise, (stream.remembered, stream.memory_time)
    )
    noise = _noise_of(positions, stream, *process)
    fitted = positions.variance * (SEARCH.element_noise * stream.detail[capture]) ** 2
    residual = np.abs(chains.residual) / np.sqrt(fitted)
    weight = np.minimum(ROBUST.huber_sigmas / np.maximum(residual, 1e-9), 1.0) / fitted
    square = correlated_sigma(chains, positions.x, positions.y, weight, noise) ** 2
    # an adjustment reduces the expected square of a residual by the variance of its fitted value
    left = chains.residual**2 - (noise.white + noise.remembered - square)
    total = np.maximum(np.bincount(capture, weight, count), 1e-300)
    of_capture = (np.bincount(capture, weight * left, count) / total)[capture]
    element, elements = group_index(chains.bounds), len(chains.bounds) - 1
    total = np.maximum(np.bincount(element, weight, elements), 1e-300)
    of_element = (np.bincount(element, weight * left, elements) / total)[element]
    told = np.diff(chains.bounds)[element] / stream.memory[capture]
    own = told / (told + MEMORY.lean_on_capture)
    lacking = np.maximum(own * of_element + (1 - own) * of_capture, 0.0)
    return np.sqrt(square + lacking)


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
    pause = positions.started - np.append(-np.inf, positions.ended[:-1])
    return Noise(
        white=((1 - share) / number + lean) * variance + worse,
        remembered=share * variance * correlated_share(positions.ended - positions.started, time),
        kept=np.exp(-np.abs(pause) / time),
    )
