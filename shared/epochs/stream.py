"""Properties of each capture's stream: interval, spacing, noise, and the limits of a gap."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import MAD_TO_SIGMA, group_min, offsets_of, quick_median
from ..tuning import BENDS, MEMORY, SHORT_SIDES, STREAM
from .noise import (
    DEGREES,
    brisk_factors,
    lagged_residuals,
    lags_of,
    memory_factors,
    process_of_layer,
    window_variograms,
)
from .predictions import cubic_residuals
from .rounding import SIGMA
from .short_sides import count_short_sides

_CUBIC, _WINDOWS = 3, 5  # exact: the row of the cubic, and the first one of windows
_LONG, _BENT, _SIDES, _SLIPS = -5, -4, -3, -2  # exact: rows of `Medians`, the last three numbers


@dataclass(frozen=True)
class Stream:
    """Properties of each capture's stream; arrays of shape (captures,).

    Attributes
    ----------
    interval : float
        Median time between epochs, seconds.
    spacing : float
        Median distance between epochs while moving, metres.
    uneven : float
        How much longer the stream's own long steps are than an even pace makes them, 1 or more.
    noise, noise_up : float
        1-sigma of the noise that epochs a second apart do not share, across the line and in
        height, metres.
    memory, memory_up : float
        Ratio of the variance of a mean of many epochs to that with white noise, 1 or more, across
        the line and in height: rounded heights stay the same for a while, and so does their error.
    memory_smooth : float
        That in height without rounding.
    remembered, memory_time : float
        Share of the variance across the line that is correlated in time, and its time constant in
        seconds, for the whole layer.
    slips : float
        Evidence that short excursions are gross errors rather than short sides, beyond what is
        usual, squared sigmas.
    detail : float
        Factor on sigmas where tangents and arcs are chosen: less than 1 where the layer shows many
        corners and bends, more than 1 in fast streams of a layer that shows few.
    cells : float, shape (captures, 2, 2)
        Both sides of a cell of the grid that positions were rounded to, each as x and y, metres; 0
        where the grid is fine or unknown.
    time_limit, distance_limit : float
        A pause over both is a gap; seconds and metres.
    own_time_limit : bool
        True if the time limit comes from the stream, not from the user.
    """

    interval: np.ndarray
    spacing: np.ndarray
    uneven: np.ndarray
    noise: np.ndarray
    noise_up: np.ndarray
    memory: np.ndarray
    memory_up: np.ndarray
    memory_smooth: np.ndarray
    remembered: np.ndarray
    memory_time: np.ndarray
    slips: np.ndarray
    detail: np.ndarray
    cells: np.ndarray
    time_limit: np.ndarray
    distance_limit: np.ndarray
    own_time_limit: bool

    @property
    def stride(self):
        """Number of epochs in which the walk advances by more than the noise, 1 or more, shape
        (captures,)."""
        epochs = np.ceil(STREAM.clear_sigmas * self.noise / np.maximum(self.spacing, 1e-9))
        return np.clip(epochs, 1, STREAM.fastest).astype(np.int64)

    @property
    def crowding(self):
        """Ratio of the epoch rate to `STREAM.telling_rate`, beyond which further epochs do not make
        elements surer, 1 or more, shape (captures,)."""
        return np.maximum(1 / (STREAM.telling_rate * self.interval), 1.0)

    @property
    def telling(self):
        """Factor on the variances that decide on tangents and arcs, shape (captures,)."""
        return self.crowding * self.detail**2

    def take(self, captures):
        """The streams of some captures.

        Parameters
        ----------
        captures : ndarray of int, shape (q,)

        Returns
        -------
        Stream
            Arrays of shape (q,).
        """
        return replace(
            self,
            **{
                column.name: getattr(self, column.name)[captures]
                for column in fields(self)
                if column.name != "own_time_limit"
            },
        )


@dataclass(frozen=True)
class Medians:
    """Medians over the epochs of each capture; arrays of shape (rows, captures).

    Rows of both arrays, in order:

    - interval (s);
    - spacing while moving (m);
    - distance of an epoch from the chord of its neighbours across, from the cubic through four
      neighbours, and from the chord in height (m, scaled to the noise of one epoch); in fast
      streams the neighbours are a second away;
    - `STREAM.window_lags` rows across and as many up, only of fast streams: half the mean squares
      of differences in straight windows (m2) over an eighth of a second, a quarter...;
    - long steps: one in eight is longer (m);
    - epochs far off the cubic, certain short sides, certain gross errors: only their number;
    - step of rounded heights (m).
    """

    value: np.ndarray  # NaN for none
    number: np.ndarray  # of values behind each


@dataclass(frozen=True)
class NominalStream:
    """Nominal values of a whole layer's streams: used for captures that are too short, and as a
    prior for the others.

    `interval` in seconds, others in metres; `across`, `cubic`, `up`: medians as in `Medians`, NaN
    if unknown; `process`, `process_up`: correlated share of the noise and its time constant (s);
    `height_step`: of rounded heights, NaN if unknown; `bent`: share of epochs far off the cubic;
    `sides_per_slip`: number of short sides per gross error; `long`: long steps over the spacing;
    `grid`: both sides of a cell of the coarse grid that positions were rounded to, each as x and y,
    metres, 0 for none.
    """

    interval: float
    spacing: float
    across: float
    cubic: float
    up: float
    process: tuple
    process_up: tuple
    height_step: float
    bent: float
    sides_per_slip: float
    long: float = 1.0
    grid: tuple = ((0.0, 0.0), (0.0, 0.0))


def capture_medians(table, kept):
    """Medians of each capture's own stream.

    Parameters
    ----------
    table : EpochTable
    kept : ndarray of int
        Usable rows, by capture and time.

    Returns
    -------
    Medians

    Notes
    -----
    The distance of an epoch from the chord of its neighbours contains noise and curvature; the
    distance from the cubic through two neighbours on either side contains more noise and hardly any
    curvature. Both are scaled to one sigma; the smaller one is nearer to the noise.
    """
    count = int(table.capture.max()) + 1 if len(table) else 0
    x, y, z, t, capture = (
        column[kept] for column in (table.x, table.y, table.z, table.seconds, table.capture)
    )
    inside = np.diff(capture) == 0
    dt = np.diff(t)
    step = distance(np.diff(x), np.diff(y))
    interval = quick_median(dt[inside], capture[:-1][inside], count)
    own = interval[capture[:-1]]
    near = inside & (dt <= time_limits(own))
    moving = near & (step > STREAM.moving_pace * dt) & (step > STREAM.moving_step)
    # steps over a lost epoch are divided among the intervals that they cover
    per_interval = (step / np.maximum(np.round(dt / np.maximum(own, 1e-9)), 1.0))[moving]
    spacing = quick_median(per_interval, capture[:-1][moving], count)
    lags = lags_of(interval, spacing)
    nearest = _noise_residuals(x, y, z, near & (step > STREAM.moving_step), step)
    residuals = _a_second_away(nearest, (x, y, z, t), near, lags, interval, capture)
    columns = [
        (dt[inside], capture[:-1][inside]),
        (per_interval, capture[:-1][moving]),
        *((values, capture[at]) for values, at in residuals),
    ]
    value = [interval, spacing]
    value += [quick_median(values, group, count) for values, group in columns[2:]]
    number = [np.bincount(group, np.isfinite(values), count) for values, group in columns]
    value[2:4] = np.minimum(value[2:4], _most_noise(nearest, lags, capture))
    of_noise = MAD_TO_SIGMA * np.fmin(value[2], value[3])
    seen = interval, value[1], of_noise, MAD_TO_SIGMA * value[4]
    for row, of_windows in zip((value, number), window_variograms(x, y, z, t, near, capture, seen)):
        row.extend(of_windows)
    value.append(_long_steps(per_interval, capture[:-1][moving], spacing))
    number.append(number[1])
    off, at = residuals[1]
    bent = np.bincount(capture[at], off > BENDS.sigmas * of_noise[capture[at]], count)
    for counted in (bent, *count_short_sides(x, y, t, capture, near, value[1], of_noise)):
        value.append(np.full(count, np.nan))
        number.append(counted)
    for row, of_all in zip((value, number), _height_steps(np.abs(np.diff(z)), capture, count)):
        row.append(of_all)
    return Medians(value=np.stack(value), number=np.stack(number).astype(np.int64))


def _long_steps(step, capture, spacing):
    """Step of each capture that one in eight exceeds, from its median, shape (captures,)."""
    for _ in range(2):
        longer = step > spacing[capture]
        step, capture = step[longer], capture[longer]
        spacing = quick_median(step, capture, len(spacing))
    return spacing


def _most_noise(nearest, lags, capture):
    """Maximum medians across the line that count as noise, by capture, metres; infinite in slow
    streams.

    Noise with a memory grows with the root of the time, the distance of a curve from a chord or
    cubic with its square or fourth power. Tight curves would pass for noise a second away.
    """
    if (lags <= 1).all():
        return np.full(len(lags), np.inf)
    (across, i), (cubic, j), _ = nearest
    least = np.fmin(
        quick_median(across, capture[i], len(lags)), quick_median(cubic, capture[j], len(lags))
    )
    most = np.fmax(STREAM.growth * np.sqrt(lags) * least, STREAM.noise / MAD_TO_SIGMA)
    return np.where(lags > 1, most, np.inf)


def _height_steps(step, capture, count):
    """Smallest step other than 0 of each capture's heights, NaN unless it recurs or is tiny, and
    the number of steps."""
    some = np.flatnonzero((np.diff(capture) == 0) & (step > STREAM.same_height))
    step, capture = step[some], capture[:-1][some]
    number = np.bincount(capture, minlength=count)
    least = group_min(step, offsets_of(number), np.nan)
    ratio = step / least[capture]
    alike = np.bincount(capture, ratio < STREAM.same_step, count)
    # on an even slope steps are alike as well, but not multiples of the smallest
    odd = np.bincount(capture, np.abs(ratio - np.rint(ratio)) > STREAM.odd_step, count)
    known = (alike >= STREAM.recurring) & (odd <= STREAM.odd_share * number)
    known |= least < STREAM.least_noise
    return np.where(known, least, np.nan), number


def _a_second_away(residuals, epochs, near, lags, interval, capture):
    """The residuals, with those of fast streams from neighbours a second away; `epochs`: x, y, z,
    seconds."""
    if (lags <= 1).all():
        return residuals
    lag, interval = lags[capture], interval[capture]
    whole = lagged_residuals(*epochs, near, np.where(lag > 1, lag, 0), interval)
    slow = [(values[lag[at] <= 1], at[lag[at] <= 1]) for values, at in residuals]
    return [tuple(np.concatenate(columns) for columns in zip(*both)) for both in zip(slow, whole)]


def nominal_stream(medians, grid=None):
    """Nominal values of the layer's streams.

    Parameters
    ----------
    medians : Medians
    grid : array_like of float, shape (2, 2), optional
        Both sides of a cell of the grid that positions were rounded to, where that is coarse, each
        as x and y, metres; 0 along an axis that has none.

    Returns
    -------
    NominalStream
        Medians of the captures' medians, weighted by the numbers of values.
    """

    def median(row, least, otherwise):
        value, number = medians.value[row], medians.number[row]
        if number.sum() < least:
            return otherwise
        order = np.argsort(value, kind="stable")
        reached = np.cumsum(number[order])
        return float(value[order][np.searchsorted(reached, (reached[-1] + 1) // 2)])

    interval = median(0, STREAM.few, STREAM.interval)
    across = _process(medians, _WINDOWS, DEGREES[0], medians.value[1])
    up = _process(medians, _WINDOWS + STREAM.window_lags, DEGREES[1])
    return NominalStream(
        interval=interval,
        spacing=median(1, STREAM.few, STREAM.pace * interval),
        across=median(2, STREAM.few_for_noise, np.nan),
        cubic=median(3, STREAM.few_for_noise, np.nan),
        up=median(4, STREAM.few_for_noise, np.nan),
        process=_between_both(across, up),
        process_up=up,
        height_step=median(-1, STREAM.few_for_noise, np.nan),
        bent=_bent(medians),
        sides_per_slip=_sides_per_slip(medians),
        long=median(_LONG, STREAM.few_for_long, 1.0) / median(1, STREAM.few_for_long, 1.0),
        grid=NominalStream.grid if grid is None else tuple(map(tuple, np.asarray(grid).tolist())),
    )


def _bent(medians):
    """Share of the layer's epochs that lie far off the cubic through their neighbours, with the
    usual share as a prior."""
    bent, seen = (float(medians.number[row].sum()) for row in (_BENT, _CUBIC))
    return (bent + BENDS.unknown * BENDS.few) / (seen + BENDS.unknown)


def _sides_per_slip(medians):
    """Number of short sides per gross error: those that are certain in the layer, with the usual
    ratio as a prior."""
    sides, slips = (float(medians.number[row].sum()) for row in (_SIDES, _SLIPS))
    sides = max(sides - SHORT_SIDES.mistaken * slips, 0.0)
    return (sides + SHORT_SIDES.unknown * SHORT_SIDES.usual) / (slips + SHORT_SIDES.unknown)


def _between_both(across, up):
    """The process across, half-way to that of heights if these are correlated for longer.

    Windows were chosen for small residuals, so long-lasting noise that happens to look like a bend
    is left out and the memory across comes out too short; heights were not chosen in this way.
    """
    if not up[1] > across[1]:
        return across
    return (across[0] + up[0]) / 2, float(np.sqrt(across[1] * up[1]))


def _process(medians, first, degree, spacing=None):
    """Correlated share of the noise and its time constant, from the rows of windows; `spacing`: of
    captures whose windows are short where the walk was fast."""
    rows = slice(first, first + STREAM.window_lags)
    value, number = medians.value[rows], medians.number[rows]
    whole = number[STREAM.short_octaves]
    value, number = np.where(number > 0, value, 0.0), number * (whole > 0)
    interval = medians.value[0]
    lags = lags_of(interval, spacing)
    if not whole.any():
        return MEMORY.nominal_share, STREAM.nominal_memory
    groups, shorter = [], lags_of(interval) // lags
    for one in np.unique(shorter[whole > 0]):
        some = np.flatnonzero(shorter == one)
        windows = np.array([float(row.sum()) for row in number[:, some]])
        # normalise, as captures of one layer differ in the size of their noise
        size = (number * value[STREAM.short_octaves])[:, some].sum(axis=1)
        with np.errstate(invalid="ignore", divide="ignore"):
            ratios = (number * value)[:, some].sum(axis=1) / size
        own = whole[some]
        unit = float((own * lags[some] * np.nan_to_num(interval[some])).sum() / own.sum())
        groups.append((ratios, windows, unit, int(np.bincount(lags[some], own).argmax())))
    return process_of_layer(groups, degree)


def time_limits(interval):
    """Longest pause that breaks no line, from the interval of the stream.

    Parameters
    ----------
    interval : ndarray of float, any shape
        Seconds.

    Returns
    -------
    ndarray of float, same shape
        Seconds.
    """
    return np.maximum(STREAM.lost_epochs * interval, STREAM.least_time_limit)


def stream_of(medians, nominal, settings):
    """Interval, spacing, noise and limits of each capture; those of the layer if a capture has too
    few epochs.

    Parameters
    ----------
    medians : Medians
    nominal : NominalStream
    settings : Settings

    Returns
    -------
    Stream
    """
    interval, spacing = (
        np.where(medians.number[row] >= STREAM.few, medians.value[row], layer)
        for row, layer in enumerate((nominal.interval, nominal.spacing))
    )
    uneven = _uneven(medians, nominal)
    noise = _sigma(medians, 2, nominal.across, STREAM.noise)
    if np.isfinite(nominal.cubic):
        noise = np.minimum(noise, _sigma(medians, 3, nominal.cubic, STREAM.noise))
    noise = noise * brisk_factors(nominal.process, interval, spacing)
    count = len(interval)
    cells = np.tile(np.array(nominal.grid), (count, 1, 1))
    rounding = SIGMA * distance(*cells.T).max(axis=0)
    # stairs of a coarse grid look like corners
    memory = memory_factors(nominal.process, interval)
    detail = np.where(rounding > noise, 1.0, _detail(nominal.bent, interval, memory))
    noise = np.maximum(noise, rounding)
    time_limit = (
        np.full(count, float(settings.max_time_gap))
        if settings.max_time_gap
        else time_limits(interval)
    )
    distance_limit = (
        np.full(count, float(settings.max_distance_gap))
        if settings.max_distance_gap
        else np.maximum(_reach(uneven) * spacing, STREAM.least_distance_limit)
    )
    noise_up, memory_up, memory_smooth = _noise_up(medians, nominal, interval, spacing)
    slips = 2 * np.log(SHORT_SIDES.usual / nominal.sides_per_slip)
    return Stream(
        interval=interval,
        spacing=spacing,
        uneven=uneven,
        noise=noise,
        noise_up=noise_up,
        memory=memory,
        memory_up=memory_up,
        memory_smooth=memory_smooth,
        remembered=np.full(count, nominal.process[0]),
        memory_time=np.full(count, nominal.process[1]),
        slips=np.full(count, np.clip(slips, 0.0, SHORT_SIDES.most)),
        detail=detail,
        cells=cells,
        time_limit=time_limit,
        distance_limit=distance_limit,
        own_time_limit=not settings.max_time_gap,
    )


def _uneven(medians, nominal):
    """Long steps of each capture over its spacing, in those of an even pace, 1 or more; those of
    the layer if it has too few."""
    enough = medians.number[_LONG] >= STREAM.few_for_long
    long = np.where(enough, medians.value[_LONG] / medians.value[1], nominal.long)
    return np.fmax(long / STREAM.even, 1.0)


def _reach(uneven):
    """Limit of a step in spacings: an uneven stream's own steps break no line."""
    return np.maximum(STREAM.lost_epochs, STREAM.beyond * STREAM.even * uneven)


def _detail(bent, interval, memory):
    """Factor on the sigmas that decide on elements, shape (captures,), from the layer's share of
    epochs far off the cubic and the `memory` factors of the noise.

    Corners and bends make the noise look greater than it is, and where there are many, one more is
    likelier. Neighbours in fast streams share their noise, so that less can be told there, and
    where there are few, noise with a memory must not pass for bends.
    """
    many = np.clip((bent - BENDS.few) / (BENDS.many - BENDS.few), 0.0, 1.0)
    least = 1 / STREAM.telling_rate
    apart = np.clip((interval - least) / (BENDS.interval - least), 0.0, 1.0)
    remembered = BENDS.memory_power / 2 * (1 - many) * (1 - apart)
    return BENDS.noise ** (many * apart) * memory**remembered


def _noise_up(medians, nominal, interval, spacing):
    """Noise in height, and the factor of its correlation on variances of means, both at least as
    great as rounding makes them; and the factor without rounding."""
    noise = _sigma(medians, 4, nominal.up, STREAM.noise_up_ratio * STREAM.noise)
    noise *= brisk_factors(nominal.process_up, interval, spacing)
    step = medians.value[-1]
    rounding = SIGMA * np.where(np.isfinite(step), step, nominal.height_step)
    memory = memory_factors(nominal.process_up, interval)
    together = (medians.number[0] + 1) / np.maximum(medians.number[-1] + 1, 1)
    rounded = np.where(rounding > noise, np.maximum(memory, together), memory)
    return np.fmax(noise, rounding), rounded, memory


def _sigma(medians, row, layer, otherwise):
    """1-sigma of each capture, shape (captures,), from a row of its medians with the `layer`'s
    median as a prior; if that is NaN, the prior is `otherwise` (a sigma)."""
    layer = otherwise if np.isnan(layer) else MAD_TO_SIGMA * layer
    layer = max(layer, STREAM.least_noise)
    own = MAD_TO_SIGMA * medians.value[row]
    # geometric mean, weighted by the number of values: a median of a few is itself uncertain
    weight = medians.number[row] / (medians.number[row] + STREAM.layer_values)
    mixed = np.exp(
        weight * np.log(np.maximum(np.where(np.isfinite(own), own, layer), STREAM.least_noise))
        + (1 - weight) * np.log(layer)
    )
    return np.clip(mixed, layer / STREAM.most_ratio, layer * STREAM.most_ratio)


def _noise_residuals(x, y, z, good, step):
    """Distances that show the noise, scaled to that of one epoch, and the epochs that they belong
    to: across, from the cubic, up. `good`: steps between neighbours that moved on."""
    # computed for all places and selected afterwards: slices take no copies
    usable = good[:-1] & good[1:]
    i = np.flatnonzero(usable) + 1
    with np.errstate(divide="ignore", invalid="ignore"):  # where the walk stood still
        share = step[:-1] / (step[:-1] + step[1:])
        dx, dy = x[2:] - x[:-2], y[2:] - y[:-2]
        chord = np.maximum(distance(dx, dy), 1e-9)
        factor = np.sqrt(1 + share**2 + (1 - share) ** 2)
        across = np.abs(dx * (y[1:-1] - y[:-2]) - dy * (x[1:-1] - x[:-2])) / chord / factor
        up = np.abs(z[1:-1] - z[:-2] - share * (z[2:] - z[:-2])) / factor
    # the four-point rule assumes even spacing
    even = (usable & (np.abs(step[1:] - step[:-1]) < STREAM.uneven * chord))[1:-1]
    even &= (
        good[:-3]
        & good[3:]
        & (np.abs(step[:-3] - step[3:]) < STREAM.uneven * np.maximum(step[:-3], step[3:]))
    )
    # exact: noise of the cubic's residual, in that of one value
    from_cubic = (
        np.abs(dx[1:-1] * cubic_residuals(y) - dy[1:-1] * cubic_residuals(x))
        / chord[1:-1]
        / np.sqrt(70 / 36)
    )
    return (across[usable], i), (from_cubic[even], np.flatnonzero(even) + 2), (up[usable], i)
