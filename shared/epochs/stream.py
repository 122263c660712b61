"""What the stream of each capture is like: interval, spacing, noise, and the limits of a gap."""

from dataclasses import dataclass, fields

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import quick_median
from .spikes import cubic_residuals

# Three and a half intervals let one or two epochs be lost inside a line: a spike, a float epoch.
LOST_EPOCHS = 3.5


SHORTEST_TIME_LIMIT = 2.0  # s; streams faster than 2 Hz lose several epochs in an ordinary hiccup


SHORTEST_DISTANCE_LIMIT = 2.0  # m


USUAL_INTERVAL = 1.0  # s, where a capture is too short to tell (common practice, no source)


USUAL_SPACING = 1.2  # m, an adult's walk in one second (common practice, no source)


# m, across the line, aim wobble included, where there are too few epochs to tell
USUAL_NOISE = 0.012


FEW = 5  # values from which a median counts as known, for interval and spacing


FEW_OFF = 8  # the same for the noise of the layer


SMALLEST_NOISE = 0.002  # m; rounded coordinates would otherwise pass for perfect ones


MAD_TO_SIGMA = 1.4826022185056018  # 1 / 0.6744897501960817, the normal's upper quartile


@dataclass(frozen=True)
class Stream:
    """What the stream of each capture is like; arrays of shape (captures,)."""

    interval: np.ndarray  # s between epochs, median
    spacing: np.ndarray  # m between epochs while moving, median
    noise: np.ndarray  # m, 1-sigma of the white part across the line
    noise_up: np.ndarray  # m, 1-sigma of the white part in height
    time_limit: np.ndarray  # s
    distance_limit: np.ndarray  # m
    own_time_limit: bool  # the time limit comes from the stream, not from the user

    def take(self, captures):
        """The streams of some captures, shape (q,) of int."""
        return Stream(
            *(getattr(self, column.name)[captures] for column in fields(Stream)[:-1]),
            self.own_time_limit,
        )


@dataclass(frozen=True)
class Medians:
    """What the epochs of each capture say of its stream; arrays of shape (5, captures).

    Rows of both: interval (s), spacing while moving (m), offset of an epoch across the chord of its
    neighbours and from the cubic through four of them, and the same across in height (m, scaled to
    the noise of one epoch).
    """

    value: np.ndarray  # NaN where there is nothing
    number: np.ndarray  # of values


@dataclass(frozen=True)
class NominalStream:
    """What the streams of a whole layer are like: for captures too short to tell, and for the
    others to lean on.

    `interval` in seconds, the others in metres; `across`, `cubic` and `up` are medians as in
    `Medians`, NaN where unknown.
    """

    interval: float
    spacing: float
    across: float
    cubic: float
    up: float


def capture_medians(table, kept):
    """What each capture says of its own stream.

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
    The distance of an epoch from the chord of its neighbours holds noise and curvature; the
    distance from the cubic through two neighbours on either side holds more noise and hardly any
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
    near = inside & (dt <= np.maximum(LOST_EPOCHS * own, SHORTEST_TIME_LIMIT))
    moving = near & (step > 0.2 * dt) & (step > 0.02)
    # steps over a lost epoch are divided among the intervals that they cover
    per_interval = (step / np.maximum(np.round(dt / np.maximum(own, 1e-9)), 1.0))[moving]
    off = _noise(x, y, z, near & (step > 0.02), step)
    columns = [
        (dt[inside], capture[:-1][inside]),
        (per_interval, capture[:-1][moving]),
        *((values, capture[at]) for values, at in off),
    ]
    return Medians(
        np.stack(
            [interval, *(quick_median(values, group, count) for values, group in columns[1:])]
        ),
        np.stack(
            [np.bincount(group, np.isfinite(values), count) for values, group in columns]
        ).astype(np.int64),
    )


def nominal_stream(medians):
    """What the layer's streams are usually like.

    Parameters
    ----------
    medians : Medians

    Returns
    -------
    NominalStream
        Medians of the captures' medians, each capture weighing as much as it has values.
    """

    def median(row, least, otherwise):
        value, number = medians.value[row], medians.number[row]
        if number.sum() < least:
            return otherwise
        order = np.argsort(value, kind="stable")
        reached = np.cumsum(number[order])
        return float(value[order][np.searchsorted(reached, (reached[-1] + 1) // 2)])

    interval = median(0, FEW, USUAL_INTERVAL)
    return NominalStream(
        interval,
        median(1, FEW, USUAL_SPACING * interval),
        *(median(row, FEW_OFF, np.nan) for row in (2, 3, 4)),
    )


def stream_of(medians, usual, settings):
    """Interval, spacing, noise and limits of each capture; those of the layer where a capture has
    too few epochs to tell."""
    interval, spacing = (
        np.where(medians.number[row] >= FEW, medians.value[row], layer)
        for row, layer in enumerate((usual.interval, usual.spacing))
    )

    def sigma(row, layer, otherwise):
        layer = otherwise if np.isnan(layer) else MAD_TO_SIGMA * layer
        layer = max(layer, SMALLEST_NOISE)
        own = MAD_TO_SIGMA * medians.value[row]
        # a median of a few values is itself uncertain: lean on the layer until there are some
        # twenty
        weight = medians.number[row] / (medians.number[row] + 20.0)
        mixed = np.exp(
            weight * np.log(np.maximum(np.where(np.isfinite(own), own, layer), SMALLEST_NOISE))
            + (1 - weight) * np.log(layer)
        )
        return np.clip(mixed, layer / 2, layer * 2)

    noise = sigma(2, usual.across, USUAL_NOISE)
    if np.isfinite(usual.cubic):
        noise = np.minimum(noise, sigma(3, usual.cubic, USUAL_NOISE))
    count = len(interval)
    time_limit = (
        np.full(count, float(settings.max_time_gap))
        if settings.max_time_gap
        else np.maximum(LOST_EPOCHS * interval, SHORTEST_TIME_LIMIT)
    )
    distance_limit = (
        np.full(count, float(settings.max_distance_gap))
        if settings.max_distance_gap
        else np.maximum(LOST_EPOCHS * spacing, SHORTEST_DISTANCE_LIMIT)
    )
    return Stream(
        interval,
        spacing,
        noise,
        sigma(4, usual.up, 1.5 * USUAL_NOISE),
        time_limit,
        distance_limit,
        not settings.max_time_gap,
    )


def _noise(x, y, z, good, step):
    """Offsets that hold the noise, scaled to that of one epoch, and the epochs that they are of:
    across, from the cubic, up.

    `good` are steps between neighbours that moved on.
    """
    # all places at once, of which those are taken that can tell: slices take no copies
    told = good[:-1] & good[1:]
    i = np.flatnonzero(told) + 1
    with np.errstate(divide="ignore", invalid="ignore"):  # where the walk stood still
        share = step[:-1] / (step[:-1] + step[1:])
        dx, dy = x[2:] - x[:-2], y[2:] - y[:-2]
        chord = np.maximum(distance(dx, dy), 1e-9)
        factor = np.sqrt(1 + share**2 + (1 - share) ** 2)
        across = np.abs(dx * (y[1:-1] - y[:-2]) - dy * (x[1:-1] - x[:-2])) / chord / factor
        up = np.abs(z[1:-1] - z[:-2] - share * (z[2:] - z[:-2])) / factor
    # the plain four-point rule wants even spacing
    even = (told & (np.abs(step[1:] - step[:-1]) < 0.3 * chord))[1:-1]
    even &= (
        good[:-3]
        & good[3:]
        & (np.abs(step[:-3] - step[3:]) < 0.3 * np.maximum(step[:-3], step[3:]))
    )
    off = (
        np.abs(dx[1:-1] * cubic_residuals(y) - dy[1:-1] * cubic_residuals(x))
        / chord[1:-1]
        / np.sqrt(70 / 36)
    )
    return (across[told], i), (off[even], np.flatnonzero(even) + 2), (up[told], i)
