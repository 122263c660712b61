"""The noise of a stream across its line: its size and its correlation in time."""

from functools import cache

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import ranges
from ..tuning import MEMORY, STREAM

DEGREES = 2, 1  # exact: of the polynomials that are taken out of windows, across and up


def lags_of(interval, spacing=None):
    """Epochs between which the noise of each capture is measured.

    Parameters
    ----------
    interval : ndarray of float, shape (captures,)
        Seconds; NaN if unknown.
    spacing : ndarray of float, shape (captures,), optional
        Metres; NaN if unknown.

    Returns
    -------
    ndarray of int, shape (captures,)
        The power of two nearest to `STREAM.memory_time`, or to `STREAM.memory_way` if that is
        shorter; 1 for slower streams.
    """
    with np.errstate(divide="ignore", invalid="ignore"):
        epochs = np.nan_to_num(STREAM.memory_time / interval, nan=1.0, posinf=1.0)
        if spacing is not None:
            epochs = np.fmin(epochs, STREAM.memory_way / spacing)
    octave = np.rint(np.log2(np.maximum(epochs, 1.0)))
    return np.minimum(2 ** octave.astype(np.int64), STREAM.fastest)


def lagged_residuals(x, y, z, seconds, near, lag, interval):
    """Distances that show the noise, from neighbours some epochs away.

    Parameters
    ----------
    x, y, z, seconds : ndarray of float, shape (n,)
        Epochs by capture and time; metres, seconds.
    near : ndarray of bool, shape (n - 1,)
        Steps of one capture without a pause.
    lag : ndarray of int, shape (n,)
        Epochs between each one and its neighbours; 0: it is left out.
    interval : ndarray of float, shape (n,)
        Of the stream, seconds.

    Returns
    -------
    across, cubic, up : tuple of (ndarray of float, ndarray of int)
        Distances from the chord of the two neighbours, from the cubic through four, and in height
        from the chord, scaled to the noise of one epoch, metres; and the epochs that they belong
        to.
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


def window_variograms(x, y, z, seconds, near, capture, stream):
    """Half the mean square of differences of residuals in straight windows.

    Parameters
    ----------
    x, y, z, seconds : ndarray of float, shape (n,)
        Epochs by capture and time; metres, seconds.
    near : ndarray of bool, shape (n - 1,)
        Steps of one capture without a pause.
    capture : ndarray of int, shape (n,)
    stream : tuple of ndarray, shape (captures,) each
        Interval (s), spacing, and 1-sigma of the noise across and up (m).

    Returns
    -------
    ndarray of float, shape (2 * STREAM.window_lags, captures)
        Across and up, over an eighth, a quarter... of `lags_of`, up without the limit of the way;
        m2, NaN if unknown.
    ndarray of int, same shape
        Number of windows behind each value.

    Notes
    -----
    A window holds `STREAM.window` times `lags_of` epochs. It counts if a parabola across, and a
    straight grade up, leave no more than noise: then it contains no corner and no gross error.
    Heights show memories of any length, since windows are not chosen by them alone.
    """
    interval, spacing = stream[:2]
    # slower streams do not show what lasts so briefly
    lags, brisk = (
        np.where(interval < STREAM.window_interval, lags_of(interval, way), 0)
        for way in (None, spacing)
    )
    same = lags == brisk
    total = np.zeros((2, STREAM.window_lags, len(lags)))
    number = np.zeros(total.shape, np.int64)
    for some, axes in (
        (np.where(same, lags, 0), (0, 1)),
        (np.where(same, 0, brisk), (0,)),
        (np.where(same, 0, lags), (1,)),
    ):
        for lag, start in _windows(near, some[capture]):
            length, own = STREAM.window * lag, capture[start]
            lasted = seconds[start + length - 1] - seconds[start]
            brief = lasted < STREAM.window_time_ratio * length * interval[own]
            start, own = start[brief], own[brief]
            index = start[:, None] + np.arange(length)
            places = (values[index] - values[start][:, None] for values in (x, y, z))
            for axis, rest, of in _straight(*places, own, stream):
                if axis in axes:
                    _add_differences(rest, of, lag, total[axis], number[axis])
    with np.errstate(invalid="ignore"):
        mean = total / np.where(number > 0, number, np.nan)
    return tuple(rows.reshape(2 * STREAM.window_lags, len(lags)) for rows in (mean, number))


def _straight(x, y, z, own, stream):
    """Yield each axis, 0 across and 1 up, the residuals of the windows that count on it, and their
    captures; `x`, `y`, `z`: shape (windows, n); `own`: capture of each window."""
    _, spacing, noise, noise_up = stream
    length = x.shape[1]
    across, way = _across(x, y)
    walked = way > STREAM.window_headway * length * spacing[own]
    across, z, own = across[walked], z[walked], own[walked]
    rest = across @ _projection(length, DEGREES[0])
    bent = np.sqrt(np.mean(rest**2, axis=1))
    fine = bent < STREAM.window_sigmas * noise[own]
    yield 0, rest[fine], own[fine]
    # round a corner the ground rises at another grade
    level = (bent < STREAM.window_sigmas_plan * noise[own]) & np.isfinite(z).all(axis=1)
    own = own[level]
    rest = z[level] @ _projection(length, DEGREES[1])
    fine = np.sqrt(np.mean(rest**2, axis=1)) < STREAM.window_sigmas_up * noise_up[own]
    yield 1, rest[fine], own[fine]


def _windows(near, lag):
    """Yield each lag and the first epochs of the windows of streams with that lag; `lag`: by epoch,
    0 for none."""
    offsets = np.append(0, np.flatnonzero(~near) + 1)
    size = np.diff(np.append(offsets, len(lag)))
    of_piece = lag[offsets] if len(lag) else np.zeros(0, np.int64)
    for one in np.unique(of_piece[of_piece > 0]):
        length = STREAM.window * one
        count = np.where(of_piece == one, size // length, 0)
        yield one, np.repeat(offsets, count) + length * ranges(np.zeros_like(count), count)


def _add_differences(rest, group, lag, total, number):
    """Add half the mean squares of differences of residuals, shape (windows, n), over all lags to
    those of their captures, and count the windows."""
    for row in range(STREAM.window_lags):
        apart = lag * 2**row >> STREAM.short_octaves
        if apart:
            square = np.mean((rest[:, apart:] - rest[:, :-apart]) ** 2, axis=1) / 2
            total[row] += np.bincount(group, square, total.shape[1])
            number[row] += np.bincount(group, minlength=total.shape[1])


def _across(x, y):
    """Distances of the positions in windows, shape (windows, n), from the line through the means of
    their first and last quarter, and the length of that line over the whole window."""
    quarter = max(x.shape[1] // 4, 1)
    dx, dy = (v[:, -quarter:].mean(axis=1) - v[:, :quarter].mean(axis=1) for v in (x, y))
    way = np.maximum(np.hypot(dx, dy), 1e-9)
    return (dx[:, None] * y - dy[:, None] * x) / way[:, None], way * 4 / 3  # exact: of quarters


@cache
def _projection(length, degree):
    """Projection that removes a polynomial of some degree from `length` values, shape (length,
    length)."""
    t = np.linspace(-1.0, 1.0, length)
    base = np.linalg.qr(np.vander(t, degree + 1))[0]
    return np.eye(length) - base @ base.T


def process_of_layer(groups, degree):
    """Fit white noise plus a first-order Gauss-Markov process to differences in windows.

    Parameters
    ----------
    groups : list of tuple
        For captures whose windows last alike: `values`, shape (STREAM.window_lags,), as from
        `window_variograms`, in any unit, NaN if unknown; `windows`, same shape, number of windows
        behind each value; `unit`, duration of their lag, seconds; `lag`, number of its epochs.
    degree : int
        Degree of the polynomial that was removed from the windows.

    Returns
    -------
    share, time : float
        Share of the variance that is correlated, and the time constant, seconds; close to the
        nominal ones if there are few windows.
    """
    share, time = _grid(MEMORY.most_share)
    misfit = (np.log(time / STREAM.nominal_memory) / MEMORY.log_time_sigma) ** 2
    misfit += ((share - MEMORY.nominal_share) / MEMORY.share_sigma) ** 2
    apart = 2.0 ** (np.arange(STREAM.window_lags) - STREAM.short_octaves)  # units
    for values, windows, unit, lag in groups:
        known = np.isfinite(values) & (values > 0) & (lag * apart >= 1)
        if known.any():
            remembered = _expected_remembered(time[:, 0] / unit, degree)[known]
            white = _expected(_projection(STREAM.window * lag, degree), lag * apart[known])
            expected = (1 - share) * white[:, None, None] + share * remembered[:, :, None]
            weight = windows[known] * STREAM.window / np.maximum(apart[known], 1.0) / 2
            off = np.log(values[known])[:, None, None] - np.log(expected)
            level = np.tensordot(weight, off, 1) / weight.sum()
            misfit = misfit + np.tensordot(weight, (off - level) ** 2, 1)
    best = np.unravel_index(np.argmin(misfit), misfit.shape)
    return float(share[best]), float(time[best])


def _expected_remembered(time, degree):
    """Expected half mean squares of differences in windows, for a process of variance 1, shape
    (STREAM.window_lags, times); `time`: time constants in the unit of the lags."""
    short = 1 << STREAM.short_octaves
    length = STREAM.window * short
    t = np.arange(length) / short
    project = _projection(length, degree)
    lags = 2 ** np.arange(STREAM.window_lags)
    apart = np.abs(t[:, None] - t)
    return np.column_stack(
        [_expected(project @ np.exp(-apart / one) @ project, lags) for one in time]
    )


def _expected(covariance, lags):
    """Expected half mean squares of differences over lags, for values with a covariance matrix."""
    own, out = np.diagonal(covariance), []
    for lag in np.asarray(lags, int):
        out.append(np.mean(own[lag:] + own[:-lag] - 2 * np.diagonal(covariance, lag)) / 2)
    return np.array(out)


def memory_factors(process, interval):
    """Ratio of the variance of a mean of many epochs to that with white noise.

    Parameters
    ----------
    process : tuple of float
        Share of the variance that is correlated, and its time constant, seconds.
    interval : ndarray of float, shape (captures,)
        Seconds.

    Returns
    -------
    ndarray of float, shape (captures,)
        One plus twice the sum of the correlations at all lags, over the variance that chords of
        `STREAM.memory_time` show; 1 for streams that are not faster than that.

    Notes
    -----
    With the correlation r, the distance from the chord of neighbours at the lag h has the variance
    ``1.5 sigma^2 (1 - 4/3 r(h) + 1/3 r(2 h))``.
    """
    share, time = process
    out = np.ones(len(interval))
    fast = lags_of(interval) > 1
    kept = np.exp(-interval[fast] / time)
    measured = _chord_variance(STREAM.memory_time, share, time)
    out[fast] = (1 + 2 * share * kept / (1 - kept)) / measured
    return np.maximum(out, 1.0)


def brisk_factors(process, interval, spacing):
    """Ratio of the noise between epochs `STREAM.memory_time` apart to that between those of
    `lags_of`, which are nearer in time where the walk is fast.

    Parameters
    ----------
    process : tuple of float
        As of `memory_factors`.
    interval, spacing : ndarray of float, shape (captures,)
        Seconds and metres.

    Returns
    -------
    ndarray of float, shape (captures,)
        1 where the time decides.
    """
    lag = lags_of(interval, spacing)
    brisk = lag < lags_of(interval)
    measured = _chord_variance(lag * interval, *process)
    ratio = np.sqrt(_chord_variance(STREAM.memory_time, *process) / measured)
    return np.where(brisk, np.maximum(ratio, 1.0), 1.0)


def _chord_variance(lag, share, time):
    """Variance of the distance from the chord of neighbours at a lag, over that of white noise."""
    near, far = np.exp(-lag / time), np.exp(-2 * lag / time)
    return 1 - share * (4 * near - far) / 3


def process_of(values, numbers, interval, noise, layer):
    """Fit white noise plus a first-order Gauss-Markov process to differences of residuals.

    Parameters
    ----------
    values : ndarray of float, shape (lags, captures)
        1-sigma of one residual, from differences of residuals 1, 2, 4... epochs apart, metres; NaN
        if unknown.
    numbers : ndarray of int, shape (lags, captures)
        Number of differences.
    interval : ndarray of float, shape (captures,)
        Seconds.
    noise : ndarray of float, shape (captures,)
        Prior 1-sigma, which counts where there are few differences, metres.
    layer : tuple of ndarray of float, shape (captures,) each
        Prior of the correlated share and of the time constant (s): those of the layer.

    Returns
    -------
    variance, share, time : ndarray of float, shape (captures,)
        Variance of one residual, m2; its correlated share; the time constant, seconds.

    Notes
    -----
    Half the mean square of the differences over a lag is a variogram, here ``variance (1 - share
    exp(-lag / time))``: the exponential model with a nugget. Shares and time constants are tried on
    a grid. The best ones minimise the weighted squares of logarithmic misfits plus squared
    deviations from the prior.
    """
    share, time = (values.ravel() for values in _grid(MEMORY.most_share))
    known = np.isfinite(values) & (values > 0) & np.isfinite(interval)
    apart = np.where(np.isfinite(interval), interval, 1.0)
    lag = apart * 2.0 ** np.arange(len(values))[:, None]
    # differences within a memory of each other are not independent
    independent = numbers * apart / np.maximum(lag, 2 * STREAM.nominal_memory)
    weight = np.where(known, independent / MEMORY.log_variance, 0.0)
    seen = 2 * np.log(np.where(known, values, 1.0))
    mean, best = (np.zeros(len(interval), kind) for kind in (float, np.int64))
    for first in range(0, len(interval), MEMORY.together):
        some = slice(first, first + MEMORY.together)
        w = weight[:, some, None]
        off = seen[:, some, None] - np.log(1 - share * np.exp(-lag[:, some, None] / time))
        # `sum` would add the lags of a single capture in another order
        total = np.add.accumulate(w, axis=0)[-1]
        level = (w * off).sum(axis=0) / np.maximum(total, 1e-12)
        misfit = (w * (off - level) ** 2).sum(axis=0)
        misfit += (np.log(time / layer[1][some, None]) / MEMORY.log_time_spread) ** 2
        misfit += ((share - layer[0][some, None]) / MEMORY.share_spread) ** 2
        best[some] = misfit.argmin(axis=1)
        mean[some] = np.take_along_axis(level, best[some, None], axis=1)[:, 0]
    number = np.where(known, numbers, 0).max(axis=0, initial=0)
    own = number / (number + MEMORY.prior_values)
    variance = np.exp(own * mean + (1 - own) * 2 * np.log(noise))
    return variance, share[best], time[best]


def _grid(most_share):
    """Shares and time constants that are tried, shape (times, shares) each."""
    steps = STREAM.memory_steps
    return np.meshgrid(
        np.linspace(0, most_share, steps),
        np.geomspace(STREAM.least_memory, STREAM.most_memory, steps),
    )
