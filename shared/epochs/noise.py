"""The noise of a stream across its line: its size, and how long it remembers itself."""

import numpy as np

from ..arrays.plane import distance
from ..tuning import MEMORY, STREAM


def lags_of(interval):
    """Epochs between which the noise of each capture is measured.

    Parameters
    ----------
    interval : ndarray of float, shape (captures,)
        Seconds; NaN where unknown.

    Returns
    -------
    ndarray of int, shape (captures,)
        The power of two that comes nearest to `STREAM.memory_time`, 1 for slower streams.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        epochs = np.nan_to_num(STREAM.memory_time / interval, nan=1.0, posinf=1.0)
    octave = np.rint(np.log2(np.maximum(epochs, 1.0)))
    return np.minimum(2 ** octave.astype(np.int64), STREAM.fastest)


def lagged_residuals(x, y, z, seconds, near, lag, interval):
    """Distances that hold the noise, from neighbours some epochs away.

    Parameters
    ----------
    x, y, z, seconds : ndarray of float, shape (n,)
        Epochs by capture and time; metres, seconds.
    near : ndarray of bool, shape (n - 1,)
        Steps of one capture without a pause.
    lag : ndarray of int, shape (n,)
        Epochs to the neighbours of each one; 0: it is left out.
    interval : ndarray of float, shape (n,)
        Of the stream, seconds.

    Returns
    -------
    across, cubic, up : tuple of (ndarray of float, ndarray of int)
        Distances from the chord of the two neighbours, from the cubic through four, and the height
        over the chord, scaled to the noise of one epoch; and the epochs that they are of. Metres.
    """
    n = len(x)
    i = np.flatnonzero(lag > 0)
    k = lag[i]
    inside = (i - 2 * k >= 0) & (i + 2 * k < n)
    i, k = i[inside], k[inside]
    before, after, first, last = i - k, i + k, i - 2 * k, i + 2 * k
    pauses = np.append(0, np.cumsum(~near))
    good = pauses[last] == pauses[first]
    good &= seconds[last] - seconds[first] < STREAM.lag_time_ratio * 4 * k * interval[i]
    dx, dy = x[after] - x[before], y[after] - y[before]
    chord = np.maximum(distance(dx, dy), 1e-9)
    came = distance(x[i] - x[before], y[i] - y[before])
    went = distance(x[after] - x[i], y[after] - y[i])
    good &= (np.minimum(came, went) > STREAM.lag_step) & (
        np.abs(came - went) < STREAM.lag_uneven * chord
    )
    i, before, after, first, last, dx, dy, chord, came, went = (
        values[good] for values in (i, before, after, first, last, dx, dy, chord, came, went)
    )
    share = came / (came + went)
    factor = np.sqrt(1 + share**2 + (1 - share) ** 2)
    across = np.abs(dx * (y[i] - y[before]) - dy * (x[i] - x[before])) / chord / factor
    up = np.abs(z[i] - z[before] - share * (z[after] - z[before])) / factor
    off_x, off_y = (
        (4 * (v[before] + v[after]) - v[first] - v[last]) / 6 - v[i]  # exact: Lagrange's cubic
        for v in (x, y)
    )
    cubic = np.abs(dx * off_y - dy * off_x) / chord
    cubic /= np.sqrt(70 / 36)  # exact: its noise, in that of a value
    return (across, i), (cubic, i), (up, i)


def memory_factors(ratios, interval):
    """By how much the variance of a mean of many epochs exceeds that of white noise.

    Parameters
    ----------
    ratios : ndarray of float, shape (octaves,)
        Squared distances from the chord of neighbours half, a quarter... of `STREAM.memory_time`
        away, over those of neighbours a whole one away; NaN where unknown.
    interval : ndarray of float, shape (captures,)
        Seconds.

    Returns
    -------
    ndarray of float, shape (captures,)
        One and twice the sum of the correlations at all lags; 1 for white noise.

    Notes
    -----
    Of noise with the correlation r, the distance from the chord of neighbours at the lag h has the
    variance ``1.5 sigma^2 (1 - 4/3 r(h) + 1/3 r(2 h))``. A share of it is taken for white, the rest
    for a first-order Gauss-Markov process; share and time constant are those that explain the
    ratios best, on a grid, and of alike ones those next to the nominal time constant.
    """
    share, time = _white_and_remembered(np.asarray(ratios, float))
    lag = lags_of(interval)
    out = np.ones(len(lag))
    fast = (lag > 1) & (share > 0)
    if fast.any():
        kept = np.exp(-interval[fast] / time)
        measured = _chord_variance(STREAM.memory_time, share, time)
        out[fast] = (1 + 2 * share * kept / (1 - kept)) / measured
    return out


def _chord_variance(lag, share, time):
    """Variance of the distance from the chord of neighbours at a lag, over that of white noise."""
    near, far = np.exp(-lag / time), np.exp(-2 * lag / time)
    return 1 - share * (4 * near - far) / 3


def _white_and_remembered(ratios):
    """Share of the variance that has a memory, and its time constant, seconds."""
    known = np.flatnonzero(np.isfinite(ratios))
    if not known.size:
        return 0.0, STREAM.nominal_memory
    share, time = _grid(1.0)
    misfit = STREAM.nominal_weight * np.log(time / STREAM.nominal_memory) ** 2
    whole = _chord_variance(STREAM.memory_time, share, time)
    for octave in known:
        lag = STREAM.memory_time / 2.0 ** (octave + 1)
        misfit = misfit + (_chord_variance(lag, share, time) / whole - ratios[octave]) ** 2
    best = np.unravel_index(np.argmin(misfit), misfit.shape)
    return float(share[best]), float(time[best])


def process_of(values, numbers, interval, noise):
    """White noise and a first-order Gauss-Markov process that explain differences of residuals.

    Parameters
    ----------
    values : ndarray of float, shape (lags, captures)
        1-sigma of one residual, from differences of residuals 1, 2, 4... epochs apart, metres; NaN
        where unknown.
    numbers : ndarray of int, shape (lags, captures)
        Of differences.
    interval, noise : ndarray of float, shape (captures,)
        Seconds; 1-sigma to lean on where there are few differences, metres.

    Returns
    -------
    variance, share, time : ndarray of float, shape (captures,)
        Of one residual, m2; the share of it that is remembered; the time constant, seconds.

    Notes
    -----
    Half the mean square of the differences over a lag is a variogram, here ``variance (1 - share
    exp(-lag / time))``: the exponential model with a nugget. Shares and time constants are tried on
    a grid; the best one has the least squares of logarithms, each weighed by how well it is known,
    and leans on the nominal ones.
    """
    share, time = (values.ravel() for values in _grid(MEMORY.most_share))
    known = np.isfinite(values) & (values > 0) & np.isfinite(interval)
    apart = np.where(np.isfinite(interval), interval, 1.0)
    lag = apart * 2.0 ** np.arange(len(values))[:, None]
    # differences within one memory of each other say the same
    independent = numbers * apart / np.maximum(lag, 2 * STREAM.nominal_memory)
    weight = np.where(known, independent / MEMORY.log_variance, 0.0)
    seen = 2 * np.log(np.where(known, values, 1.0))
    nominal = (np.log(time / STREAM.nominal_memory) / MEMORY.log_time_sigma) ** 2
    nominal += ((share - MEMORY.nominal_share) / MEMORY.share_sigma) ** 2
    mean, best = (np.zeros(len(interval), kind) for kind in (float, np.int64))
    for first in range(0, len(interval), MEMORY.together):
        some = slice(first, first + MEMORY.together)
        w = weight[:, some, None]
        off = seen[:, some, None] - np.log(1 - share * np.exp(-lag[:, some, None] / time))
        level = (w * off).sum(axis=0) / np.maximum(w.sum(axis=0), 1e-12)
        misfit = (w * (off - level) ** 2).sum(axis=0) + nominal
        best[some] = misfit.argmin(axis=1)
        mean[some] = np.take_along_axis(level, best[some, None], axis=1)[:, 0]
    number = np.where(known, numbers, 0).max(axis=0, initial=0)
    own = number / (number + STREAM.layer_values)
    variance = np.exp(own * mean + (1 - own) * 2 * np.log(noise))
    return variance, share[best], time[best]


def _grid(most_share):
    """Shares and time constants that are tried, shape (times, shares) each."""
    steps = STREAM.memory_steps
    return np.meshgrid(
        np.linspace(0, most_share, steps),
        np.geomspace(STREAM.least_memory, STREAM.most_memory, steps),
    )
