"""Which epochs can be used, and why the others cannot."""

from dataclasses import dataclass, field, fields
from enum import IntEnum

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import inside_any, quick_median, split_groups

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
LEAST_SPIKE = 0.10  # m
LEAST_DOUBLE_SPIKE = 0.20  # m
LEAST_END_SPIKE = 0.15  # m
LEAST_HEIGHT_SPIKE = 0.15  # m; a dropped kerb of that height takes several epochs to go down
LEAST_STRIDE = 0.3  # m
LONG_STRIDE = 1.25  # times the longest step around
STANDING_PACE = 0.35  # of the usual pace; below that the steps around say nothing of the walk
SPIKE_SIGMAS = 6.0
CHUNK = 250_000  # epochs looked at together
HUBER = 2.5  # sigmas beyond which an observation loses weight
REACH = 8  # epochs on either side of a spike that are tested again without it
# epochs beyond these that have a say, so that no end of what is cut out passes for the end of a
# stretch
CONTEXT = 6
MAD_TO_SIGMA = 1.4826022185056018  # 1 / 0.6744897501960817, the normal's upper quartile


class Reason(IntEnum):
    """Why an epoch was rejected; KEPT where it was not."""

    KEPT = 0
    NO_POSITION = 1
    NO_TIME = 2
    NOT_FIXED = 3
    POOR_ACCURACY = 4
    REPEAT = 5
    SPIKE = 6
    HEIGHT_SPIKE = 7
    BACKTRACK = 8
    TOO_SHORT = 9
    UNCONFIRMED = 10


REASON_NAMES = ("", *(reason.name.lower() for reason in Reason if reason))


CURVE_MODELS = ("automatic", "elements", "spline")


@dataclass(frozen=True)
class Settings:
    """What the user can choose. Lengths in metres, times in seconds, angles in degrees.

    `curve_model` is one of `CURVE_MODELS`; with a `station_spacing` of 0 there are no stations.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_h_accuracy: float = 0.05
    max_time_gap: float = 0.0
    max_distance_gap: float = 0.0
    corner_angle: float = 30.0
    tolerance: float = 0.01
    min_length: float = 0.5
    curve_model: str = "automatic"
    station_spacing: float = 0.0

    def __post_init__(self):
        if self.curve_model not in CURVE_MODELS:
            raise ValueError(
                f"curve_model must be one of {', '.join(CURVE_MODELS)}, got {self.curve_model!r}"
            )
        for name in ("max_time_gap", "max_distance_gap", "min_length", "station_spacing"):
            if not getattr(self, name) >= 0:  # written so that NaN fails too
                raise ValueError(f"{name} must be 0 or greater, got {getattr(self, name)}")
        for name in ("max_h_accuracy", "tolerance"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        if not 0 < self.corner_angle <= 180:
            raise ValueError(
                f"corner_angle must be over 0 and at most 180 degrees, got {self.corner_angle}"
            )


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
class Screening:
    """Result of `screen`; arrays of shape (n,) unless said otherwise.

    Attributes
    ----------
    reason : uint8
        A `Reason`.
    amount : float
        The number that the reason rests on: the accuracy in metres, the size of the spike in
        metres, the number of points of a multi-point.
    height_ok : bool
        False where the height was dropped as a spike, or where there is none.
    order : int, shape (m,)
        All rows with a time, sorted by capture and time; ties by content.
    stream : Stream
    """

    reason: np.ndarray
    amount: np.ndarray
    height_ok: np.ndarray
    order: np.ndarray
    stream: Stream
    kept: np.ndarray = field(default=None)  # rows that are kept, in the order of `order`


def time_order(table, rows):
    """Sort rows by capture and time, ties by content so that the order of the rows never
    matters."""
    number = lambda values: np.where(np.isfinite(values), values, np.inf)  # noqa: E731
    content = lambda rows: (  # noqa: E731
        number(table.sigma_v[rows]),
        number(table.z[rows]),
        number(table.y[rows]),
        number(table.x[rows]),
        number(table.sigma_h[rows]),
        ~table.fixed[rows],
    )
    capture, seconds = table.capture[rows], table.seconds[rows]
    step, pause = np.diff(capture), np.diff(seconds)
    if not ((step > 0) | ((step == 0) & (pause >= 0))).all():
        return rows[np.lexsort((*content(rows), seconds, capture))]
    # as captures are recorded: only rows of one time need an order
    tie = np.flatnonzero((step == 0) & (pause == 0))
    tied = np.union1d(tie, tie + 1)
    some = rows[tied]
    order = rows.copy()
    order[tied] = some[np.lexsort((*content(some), seconds[tied], capture[tied]))]
    return order


def unusable(table, max_h_accuracy):
    """Reasons that a row alone or its repeated time decides.

    Parameters
    ----------
    table : EpochTable
    max_h_accuracy : float
        Greatest reported 1-sigma that is accepted, metres.

    Returns
    -------
    reason : ndarray of uint8, shape (n,)
    amount : ndarray of float, shape (n,)
    order : ndarray of int
        Rows that have a time, by capture and time.
    kept : ndarray of int
        Those of them that have no reason.
    """
    reason, amount = np.zeros(len(table), np.uint8), np.full(len(table), np.nan)
    position = np.isfinite(table.x) & np.isfinite(table.y) & (table.parts == 1)
    has_time = np.isfinite(table.seconds)
    with np.errstate(invalid="ignore"):
        poor = table.sigma_h > max_h_accuracy
    for test, why, number in (
        (
            poor,
            Reason.POOR_ACCURACY,
            table.sigma_h,
        ),  # the last to be set counts: strongest reason last
        (~table.fixed, Reason.NOT_FIXED, None),
        (~has_time, Reason.NO_TIME, None),
        (~position, Reason.NO_POSITION, table.parts),
    ):
        reason[test] = why
        amount[test] = np.nan if number is None else number[test]
    order = time_order(table, np.flatnonzero(has_time))
    kept = order[reason[order] == Reason.KEPT]
    same = np.append(
        False, (np.diff(table.seconds[kept]) == 0) & (np.diff(table.capture[kept]) == 0)
    )[: kept.size]
    reason[kept[same]] = Reason.REPEAT
    return reason, amount, order, kept[~same]


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
class Usual:
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


def screen(table, settings=None, checkpoint=None, usual=None):
    """Find the epochs that can be used.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1; may raise to stop it.
    usual : Usual, optional
        Of the layer that the captures of the table belong to; of the table itself where left out.

    Returns
    -------
    Screening

    Notes
    -----
    Each epoch is tested in this order: position, time, fix, accuracy, repeated time, spike. A spike
    is an epoch that stands off from all of its predictions: straight on from the two epochs before,
    straight back from the two after, across between its neighbours, and along the cubic through two
    epochs on either side; and the path must turn out and back again. A corner fails the third and
    fourth test but passes the first two; a tight curve turns one way only.
    """
    settings = settings or Settings()
    checkpoint = checkpoint or (lambda share: None)
    checkpoint(0.0)
    usable = unusable(table, settings.max_h_accuracy)
    checkpoint(0.2)
    medians = capture_medians(table, usable[-1])
    stream = stream_of(medians, usual or usual_stream(medians), settings)
    checkpoint(0.4)
    return screen_stream(table, usable, stream, lambda share: checkpoint(0.4 + 0.6 * share))


def screen_stream(table, usable, stream, checkpoint):
    """As `screen`, where it is known what the stream is like; `usable` is what `unusable` says of
    the table."""
    reason, amount, order, kept = usable
    parts = split_groups(table.capture[kept], CHUNK)
    left = []
    for number, (low, high) in enumerate(parts):
        checkpoint(0.9 * number / len(parts))
        left.append(_reject_spikes(table, kept[low:high], stream, reason, amount))
    kept = np.concatenate(left)
    checkpoint(0.9)
    height_ok = np.isfinite(table.z) & (reason == Reason.KEPT)
    _drop_height_spikes(table, kept, stream, height_ok)
    return Screening(reason, amount, height_ok, order, stream, kept)


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


def usual_stream(medians):
    """What the layer's streams are usually like.

    Parameters
    ----------
    medians : Medians

    Returns
    -------
    Usual
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
    return Usual(
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
        np.abs(dx[1:-1] * _from_cubic(y) - dy[1:-1] * _from_cubic(x))
        / chord[1:-1]
        / np.sqrt(70 / 36)
    )
    return (across[told], i), (off[even], np.flatnonzero(even) + 2), (up[told], i)


def off_ray(px, py, ox, oy, dx, dy):
    """Distance of points from rays that start at (ox, oy) and run along (dx, dy)."""
    length = np.maximum(distance(dx, dy), 1e-12)
    along = np.maximum(((px - ox) * dx + (py - oy) * dy) / length, 0.0)
    return distance(px - ox - along * dx / length, py - oy - along * dy / length)


def off_segment(px, py, ax, ay, bx, by):
    """Distance of points from segments."""
    dx, dy = bx - ax, by - ay
    square = np.maximum(dx * dx + dy * dy, 1e-24)
    share = np.clip(((px - ax) * dx + (py - ay) * dy) / square, 0.0, 1.0)
    return distance(px - ax - share * dx, py - ay - share * dy)


def _angle(x, y, a, b, c):
    """Signed turn of the path a, b, c in radians."""
    ux, uy, vx, vy = x[b] - x[a], y[b] - y[a], x[c] - x[b], y[c] - y[b]
    return np.arctan2(ux * vy - uy * vx, ux * vx + uy * vy)


def _reject_spikes(table, kept, stream, reason, amount):
    """Mark spikes; return the rows that remain, in order.

    A spike spoils the tests of its neighbours, so all are tested again without it. Ends of a
    stretch have neighbours on one side only and come last.
    """
    pace = stream.spacing / np.maximum(stream.interval, 1e-9)
    floors = np.maximum(SPIKE_SIGMAS * stream.noise, LEAST_SPIKE)
    stills = np.maximum(4 * stream.noise, 0.05)
    # all epochs first, then those around the spikes found; the ends, and those around what they
    # gave
    near = around = None
    for ends in (False, False, False, True, False):
        if kept.size < 5:
            break
        if ends:
            capture = table.capture[kept]
            apart = (np.diff(capture) != 0) | (
                np.diff(table.seconds[kept]) > stream.time_limit[capture[1:]]
            )
            near = np.append(True, apart) | np.append(apart, True)
            around = places_around(np.flatnonzero(near), kept.size, CONTEXT)
        everything = near is None
        rows = np.arange(kept.size) if everything else np.flatnonzero(around)
        some = kept[rows]
        x, y, t, capture = table.x[some], table.y[some], table.seconds[some], table.capture[some]
        dt = np.diff(t)
        linked = (
            (np.diff(capture) == 0) & (dt <= stream.time_limit[capture[1:]]) & (np.diff(rows) == 1)
        )
        step = distance(np.diff(x), np.diff(y))
        usual = np.maximum(pace[capture[1:]] * dt, 1e-9)
        floor, still = floors[capture], stills[capture]
        size_of = np.full(some.size, np.nan)
        if ends:
            _end_spikes(x, y, linked, step, usual, floor, still, size_of)
        elif some.size > 4:
            end_doubles(x, y, linked, step / usual, floor, still, size_of)
            for length in (1, 2):
                _strides(x, y, linked, step, usual, length, size_of)
            _slips_along(x, y, linked, step, usual, still, size_of)
            long_step = linked & (step > 1.5 * usual + 0.3)
            for length in (2, 3):
                _block_spikes(x, y, linked, long_step, floor, length, size_of)
            _single_spikes(x, y, linked, long_step, floor, still, size_of)
        hit = np.isfinite(size_of) if everything else np.isfinite(size_of) & near[rows]
        reason[some[hit]] = Reason.SPIKE
        amount[some[hit]] = size_of[hit]
        stay = np.ones(kept.size, bool)
        stay[rows[hit]] = False
        near, around = (
            places_around(rows[hit], kept.size, reach, table.capture[kept])[stay]
            for reach in (REACH, REACH + CONTEXT)
        )
        kept = kept[stay]
    return kept


def places_around(places, size, reach, group=None):
    """True at most `reach` places from one of `places`, shape (size,); where a sorted `group`,
    shape (size,), is given, in its own alone."""
    low, high = np.maximum(places - reach, 0), np.minimum(places + reach + 1, size)
    if group is not None:
        low = np.maximum(low, np.searchsorted(group, group[places], "left"))
        high = np.minimum(high, np.searchsorted(group, group[places], "right"))
    return inside_any(low, high, size)


def _slips_along(x, y, linked, step, usual, still, size_of):
    """Mark epochs that lie ahead of, or behind, their turn on the line, so that the path jumps back
    or forth.

    A step that runs against the one before and the one after it ends or starts at the slip: the
    other step there is the longer one. Without a long step it is a walk back, which is no spike.
    """
    dx, dy = np.diff(x), np.diff(y)
    back = (
        linked[:-1]
        & linked[1:]
        & (dx[:-1] * dx[1:] + dy[:-1] * dy[1:] < -0.7 * step[:-1] * step[1:])
    )
    i = np.flatnonzero(back[:-1] & back[1:] & (step[1:-1] > 2 * still[1:-2])) + 1
    ahead = (step[i - 1] > 1.4 * usual[i - 1]) & (step[i - 1] >= step[i + 1])
    behind = (step[i + 1] > 1.4 * usual[i + 1]) & ~ahead
    size_of[i[ahead]] = step[i[ahead]]
    size_of[i[behind] + 1] = step[i[behind]]


def _ends(linked, n, depth):
    """Ends of stretches with `depth` linked epochs behind them: arrays (way, k, first place of the
    step inward)."""
    link = np.concatenate([[False], linked, [False]])  # link[k]: between k - 1 and k
    for way in (1, -1):
        step_at = (lambda k: k) if way > 0 else (lambda k: k - 1)
        k = np.flatnonzero(~(link[:-1] if way > 0 else link[1:]))
        for inward in range(depth):
            far = k + way * (inward + 1)
            k = k[(far >= 0) & (far < n)]
            k = k[linked[step_at(k + way * inward)]]
        yield way, k, step_at


def _end_spikes(x, y, linked, step, usual, floor, still, size_of):
    """Mark the first or last epoch of a stretch where it lies off the rest.

    A corner one epoch from the end makes the same turn; but round a corner the step is shorter than
    usual, and to a spike it is longer. Where an epoch is lost between them that cannot be told, and
    the lone epoch goes.
    """
    for way, k, step_at in _ends(linked, len(x), 3):
        p, q, r = k + way, k + 2 * way, k + 3 * way
        off = off_ray(x[k], y[k], x[p], y[p], x[p] - x[q], y[p] - y[q])
        moving = step[step_at(p)] > still[k]
        off = np.where(moving, off, step[step_at(k)])
        pace, rest = (
            step[step_at(k)] / usual[step_at(k)],
            np.where(moving, step[step_at(p)] / usual[step_at(p)], 1.0),
        )
        lone = usual[step_at(k)] > 1.5 * usual[step_at(p)]
        hit = (off > np.maximum(floor[k], LEAST_END_SPIKE)) & ((pace > 1.12 * rest + 0.05) | lone)
        # two epochs past a corner confirm each other: then the next one is off the rest as well
        hit &= off_ray(x[p], y[p], x[q], y[q], x[q] - x[r], y[q] - y[r]) < np.maximum(
            floor[k], 0.5 * off
        )
        size_of[k[hit]] = off[hit]


def end_doubles(x, y, linked, pace, floor, still, size_of):
    """Mark the first or last two epochs of a stretch that were shoved aside together.

    The step behind them goes across the way while the steps before and after it agree.
    """
    for way, k, step_at in _ends(linked, len(x), 4):
        p, q, r, t = (k + way * depth for depth in (1, 2, 3, 4))
        ax, ay, bx, by = x[p] - x[k], y[p] - y[k], x[r] - x[q], y[r] - y[q]
        agree = ax * bx + ay * by > np.cos(np.radians(30)) * distance(ax, ay) * distance(bx, by)
        way_x, way_y = ax + bx, ay + by
        aside = np.abs((x[q] - x[p]) * way_y - (y[q] - y[p]) * way_x) / np.maximum(
            distance(way_x, way_y), 1e-9
        )
        hit = (
            agree
            & (aside > np.maximum(LEAST_DOUBLE_SPIKE, 1.5 * floor[k]))
            & (pace[step_at(p)] > 1.12 * pace[step_at(q)] + 0.05)
        )
        hit &= np.minimum(distance(ax, ay), distance(bx, by)) > still[k]
        # else q and r may be the ones aside
        hit &= off_ray(x[q], y[q], x[r], y[r], x[r] - x[t], y[r] - y[t]) < floor[k]
        size_of[k[hit]] = size_of[p[hit]] = aside[hit]


def _strides(x, y, linked, step, usual, length, size_of):
    """Mark blocks of `length` epochs between two strides, each longer than all steps around them.

    A corner or a short flank makes steps shorter, never longer; where the pace picks up, the steps
    after it are as long.
    """
    if len(x) < length + 4:
        return
    # 0 as well before the first step, which is the last place, and after the last
    pace = np.append(np.where(linked, step / usual, 0.0), 0.0)
    first = _linked_around(linked, length)  # of blocks that start at the third epoch, the fourth...
    first &= pace[1 : -length - 2] > LONG_STRIDE * pace[: -length - 3] + 0.05
    first &= pace[length + 1 : -2] > LONG_STRIDE * pace[length + 2 : -1] + 0.05
    first = np.flatnonzero(first) + 2
    last = first + length - 1
    around = [first - 3, first - 2, last + 1, last + 2, *(first + k for k in range(length - 1))]
    rest = np.max([pace[k] for k in around], axis=0)
    rest = np.where(rest < STANDING_PACE, 1.0, rest)
    went, came = pace[first - 1], pace[last]
    past = distance(x[last + 1] - x[first - 1], y[last + 1] - y[first - 1]) / np.maximum(
        usual[first - 1], 1e-9
    )
    off = np.min(
        [
            off_segment(
                x[first + k], y[first + k], x[first - 1], y[first - 1], x[last + 1], y[last + 1]
            )
            for k in range(length)
        ],
        axis=0,
    )
    hit = (
        (np.minimum(went, came) > LONG_STRIDE * rest + 0.05)
        & (past < 1.1 * (length + 1) * rest)
        & (off > LEAST_STRIDE)
    )
    first, off = first[hit], off[hit]
    for k in range(length):
        free = ~np.isfinite(size_of[first + k])
        size_of[first[free] + k] = off[free]


def lessen_outliers(x, y, linked, still, variance):
    """Raise the variance of observations that stand off from their neighbours' predictions (Huber
    1964); arguments as in `stand_off`."""
    # a prediction from four neighbours is itself uncertain: 1.3 sigmas of one observation
    usual = 1.3 * HUBER * np.sqrt(variance)
    return variance * np.maximum(stand_off(x, y, linked, still, usual)[0] / usual, 1.0) ** 2


def _neighbours(x, y, linked, still, i):
    """For inner places `i`: those two before and after (themselves where there are none), and
    whether these tell a direction.

    Returns
    -------
    p, q : ndarray of int
    before, after : ndarray of bool
        There is one.
    stood, stays : ndarray of bool
        The walk stood still in the step from there, and to there.
    """
    n = len(x)
    p, q = np.maximum(i - 2, 0), np.minimum(i + 2, n - 1)
    before, after = (i >= 2) & linked[p], (i + 2 < n) & linked[np.minimum(i + 1, n - 2)]
    return (
        p,
        q,
        before,
        after,
        distance(x[i - 1] - x[p], y[i - 1] - y[p]) < still[i],
        distance(x[i + 1] - x[q], y[i + 1] - y[q]) < still[i],
    )


def _least_off(x, y, i, across, p, q, before, after, stood, stays):
    """Least distance of epochs from what their neighbours predict: across, straight on from before,
    straight back from after."""
    off = across
    for there, far, sees, still in ((i - 1, p, before, stood), (i + 1, q, after, stays)):
        ray = np.where(
            still,
            distance(x[i] - x[there], y[i] - y[there]),
            off_ray(x[i], y[i], x[there], y[there], x[there] - x[far], y[there] - y[far]),
        )
        off = np.where(sees, np.minimum(off, ray), off)
    return off


def _from_cubic(
    values, i=slice(2, -2), near=(slice(1, -3), slice(3, -1)), far=(slice(-4), slice(4, None))
):
    """From values `i` to the cubics through their neighbours, the `near` and the `far` one before
    and after, evenly spaced; else of all values that have two on either side."""
    return (
        -values[far[0]] + 4 * values[near[0]] + 4 * values[near[1]] - values[far[1]]
    ) / 6 - values[i]


def stand_off(x, y, linked, still, least):
    """How far each epoch stands off from every prediction that its neighbours make.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres, in time order.
    linked : ndarray of bool, shape (n - 1,)
        False where one epoch does not tell anything about the next.
    still : ndarray of float, shape (n,)
        Step below which the walk stood still and its direction means nothing, metres.
    least : ndarray of float, shape (n,)
        Distance up to which nobody asks, metres.

    Returns
    -------
    off : ndarray of float, shape (n,)
        Least distance from the predictions before, after, across and along the cubic; 0 where it is
        no more than `least`, where the path does not turn out and back again, or where there are no
        neighbours.
    across : ndarray of float, shape (n,)
        Distance from the segment between the two neighbours alone, 0 where there are none.
    """
    n = len(x)
    result, beside = np.zeros(n), np.zeros(n)
    if n > 2:
        across = off_segment(x[1:-1], y[1:-1], x[:-2], y[:-2], x[2:], y[2:])
        beside[1:-1] = np.where(linked[:-1] & linked[1:], across, 0.0)
    i = np.flatnonzero(beside > least)
    across = beside[i]
    p, q, before, after, stood, stays = _neighbours(x, y, linked, still, i)
    off = _least_off(x, y, i, across, p, q, before, after, stood, stays)
    off = np.where(
        before & after,
        np.minimum(
            off, distance(*(_from_cubic(axis, i, (i - 1, i + 1), (p, q)) for axis in (x, y)))
        ),
        off,
    )
    here, out, home = (
        _angle(x, y, i - 1, i, i + 1),
        _angle(x, y, p, i - 1, i),
        _angle(x, y, i, i + 1, q),
    )
    against_out, against_home = (
        ~before | stood | (out * here < 0),
        ~after | stays | (home * here < 0),
    )
    out_and_back = (before | after) & against_out & against_home
    # beside a corner one of the two turns is hidden by the corner's own
    clear_out = before & against_out & (stood | (np.abs(out) > 0.25 * np.abs(here)))
    clear_home = after & against_home & (stays | (np.abs(home) > 0.25 * np.abs(here)))
    detour = distance(x[i] - x[i - 1], y[i] - y[i - 1]) + distance(x[i + 1] - x[i], y[i + 1] - y[i])
    out_and_back |= (
        (clear_out | clear_home)
        & before
        & after
        & (detour > 1.25 * distance(x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]))
    )
    result[i] = np.where(out_and_back & (off > least[i]), off, 0.0)
    return result, beside


def off_cubic(x, y, linked, still, i):
    """Distance of epochs `i` from the cubic through two neighbours on either side, across the way;
    else from their neighbours' predictions. 0 where a neighbour is missing. Whether the path turns
    out and back is not asked.

    Parameters
    ----------
    x, y, linked, still
        As in `stand_off`.
    i : ndarray of int, shape (q,)

    Returns
    -------
    ndarray of float, shape (q,)
    """
    n = len(x)
    result = np.zeros(len(i))
    inner = np.flatnonzero((i > 0) & (i < n - 1))
    inner = inner[linked[i[inner] - 1] & linked[i[inner]]]
    i = i[inner]
    p, q, before, after, stood, stays = _neighbours(x, y, linked, still, i)
    way_x, way_y = x[i + 1] - x[i - 1], y[i + 1] - y[i - 1]
    way = distance(way_x, way_y)
    good = before & after & (way > 3 * still[i])
    off_x, off_y = (_from_cubic(axis, i, (i - 1, i + 1), (p, q)) for axis in (x, y))
    aside = np.abs(off_x * way_y - off_y * way_x) / np.maximum(way, 1e-9)
    across = off_segment(x[i], y[i], x[i - 1], y[i - 1], x[i + 1], y[i + 1])
    off = _least_off(x, y, i, across, p, q, before, after, stood, stays)
    off = np.where(before & after, np.minimum(off, distance(off_x, off_y)), off)
    result[inner] = np.where(good, aside, off)
    return result


def _single_spikes(x, y, linked, long_step, floor, still, size_of):
    """Mark single epochs; of two neighbours the greater spike only, none beside a spike that is
    marked already."""
    n = len(x)
    off, across = stand_off(x, y, linked, still, floor)
    # far out and straight back in two steps that nobody walks, along the line or not
    step = distance(np.diff(x), np.diff(y))
    flung = np.zeros(n, bool)
    flung[1:-1] = long_step[:-1] & long_step[1:] & (across[1:-1] > 4 * floor[1:-1])
    flung[1:-1] &= distance(x[2:] - x[:-2], y[2:] - y[:-2]) < 0.75 * np.minimum(step[:-1], step[1:])
    # elsewhere only where all around is in order; what is not clear is left to the fit, which
    # weighs more epochs
    calm = np.zeros(n, bool)
    from_x, from_y = x[:-4], y[:-4]
    way_x, way_y = x[4:] - from_x, y[4:] - from_y
    way = np.maximum(distance(way_x, way_y), 1e-9)
    calm[2:-2] = linked[:-3] & linked[1:-2] & linked[2:-1] & linked[3:]
    for beside in (slice(1, -3), slice(3, -1)):
        calm[2:-2] &= (
            np.abs((x[beside] - from_x) * way_y - (y[beside] - from_y) * way_x) / way
            < 0.5 * floor[2:-2]
        )
    score = np.where(flung, across, np.where(calm & (off > floor), off, -1.0))
    # one before the end of a stretch: the last epoch must lie where the others lead
    for way in (1, -1):
        k = next(k for w, k, _ in _ends(linked, n, 3) if w == way)
        i, b, a = k + way, k + 2 * way, k + 3 * way
        aim_x, aim_y = x[b] - x[a], y[b] - y[a]
        led = off_ray(x[k], y[k], x[b], y[b], aim_x, aim_y)
        size = np.minimum(across[i], off_ray(x[i], y[i], x[b], y[b], aim_x, aim_y))
        sure = (size > floor[i]) & (led < 0.35 * size) & (distance(aim_x, aim_y) > still[i])
        score[i[sure]] = np.maximum(score[i[sure]], size[sure])
    marked = np.isfinite(size_of)
    beaten = marked.copy()
    beaten[1:] |= (score[:-1] > score[1:]) | marked[:-1]
    beaten[:-1] |= (score[1:] >= score[:-1]) | marked[1:]
    hit = (score > 0) & ~beaten
    size_of[hit] = score[hit]


def _linked_around(linked, length):
    """Whether blocks of `length` epochs have two linked epochs on either side; the first block
    starts at the third epoch."""
    blocks = len(linked) - length - 2
    return (
        np.logical_and.reduce([linked[k : k + blocks] for k in range(length + 3)])
        if blocks > 0
        else np.zeros(0, bool)
    )


def shoved_aside(x, y, linked, length, first=None):
    """How far blocks of `length` epochs were shoved across the way: one step in, the same step
    back.

    The step in is compared with the mean of the steps before and after it, likewise the step back.
    On a curve these means follow the turn, so that nothing is left over; pace changes along the way
    do not count.

    Only blocks that start at `first` where that is given, else all.

    Returns
    -------
    first : ndarray of int, shape (q,)
        First epoch of each block that has two linked epochs on either side.
    size, left_over : ndarray of float, shape (q,)
        Metres across the way; `left_over` is what the step back did not undo.
    """
    first = np.arange(2, len(x) - length - 1) if first is None else first
    first = first[_linked_around(linked, length)[first - 2]]
    dx, dy = np.diff(x), np.diff(y)
    last = first + length - 1

    def shove(step, before, after):
        return dx[step] - (dx[before] + dx[after]) / 2, dy[step] - (dy[before] + dy[after]) / 2

    in_x, in_y = shove(first - 1, first - 2, first)
    out_x, out_y = shove(last, last - 1, last + 1)
    way_x, way_y = x[last + 1] - x[first - 1], y[last + 1] - y[first - 1]
    way = np.maximum(distance(way_x, way_y), 1e-9)
    went, came = (in_y * way_x - in_x * way_y) / way, (out_y * way_x - out_x * way_y) / way
    size = np.where(went * came < 0, np.minimum(np.abs(went), np.abs(came)), 0.0)
    return first, size, np.abs(went + came)


def _block_spikes(x, y, linked, long_step, floor, length, size_of):
    """Mark blocks of `length` epochs that were shoved aside together."""
    # a real recess can be as short, but nobody walks into it in one step; smaller blocks are left
    # to the fit
    first = np.flatnonzero(long_step[1 : -length - 1] & long_step[length + 1 : -1]) + 2
    first, size, left_over = shoved_aside(x, y, linked, length, first)
    last = first + length - 1
    hit = (size > np.maximum(LEAST_DOUBLE_SPIKE, 1.5 * floor[first])) & (
        left_over < 0.35 * size + 0.5 * floor[first]
    )
    cosine = np.cos(np.radians(50))
    dx, dy = np.diff(x), np.diff(y)
    for other in (first - 2, last + 1):  # square corners are not for this test
        hit &= dx[first] * dx[other] + dy[first] * dy[other] > cosine * distance(
            dx[first], dy[first]
        ) * distance(dx[other], dy[other])
    hit &= ~np.isfinite(size_of[first - 1]) & ~np.isfinite(size_of[last + 1])
    for k in range(length):
        rows = first[hit] + k
        size_of[rows] = np.fmax(size_of[rows], size[hit])


def height_off(z, linked):
    """How far each height stands off from its neighbours and from what they predict; 0 where there
    are none."""
    n = len(z)
    result = np.zeros(n)
    if n < 3:
        return result
    before, here, after = z[:-2], z[1:-1], z[2:]
    off = np.maximum(
        np.maximum(np.minimum(before, after) - here, here - np.maximum(before, after)), 0.0
    )
    # straight on from the two before, and straight back from the two after
    off[1:] = np.where(
        linked[:-2], np.minimum(off[1:], np.abs(2 * z[1:-2] - z[:-3] - z[2:-1])), off[1:]
    )
    off[:-1] = np.where(
        linked[2:], np.minimum(off[:-1], np.abs(2 * z[2:-1] - z[3:] - z[1:-2])), off[:-1]
    )
    result[1:-1] = np.where(linked[:-1] & linked[1:], off, 0.0)
    return result


def _drop_height_spikes(table, kept, stream, height_ok):
    """Clear `height_ok` where a height stands off from its neighbours while the position does
    not."""
    for _ in range(3):
        rows = kept[height_ok[kept]]
        if rows.size < 3:
            return
        t, capture = table.seconds[rows], table.capture[rows]
        linked = (np.diff(capture) == 0) & (np.diff(t) <= 2 * stream.time_limit[capture[1:]])
        hit = height_off(table.z[rows], linked) > np.maximum(
            SPIKE_SIGMAS * stream.noise_up[capture], LEAST_HEIGHT_SPIKE
        )
        if not hit.any():
            return
        height_ok[rows[hit]] = False


_SENTENCES = {
    Reason.NO_TIME: "no time that can be read",
    Reason.NOT_FIXED: "the solution was not RTK fixed",
    Reason.REPEAT: "same time as another epoch of the capture",
}


def describe(reason, amount):
    """A sentence for each rejected epoch.

    Parameters
    ----------
    reason : array_like of int, shape (n,)
    amount : array_like of float, shape (n,)

    Returns
    -------
    list of str
        Empty text where the epoch was kept.
    """

    def sentence(why, number):
        if why == Reason.NO_POSITION:
            return (
                f"{number:.0f} points at one time, none of them certain"
                if number > 1
                else "no usable position"
            )
        if why == Reason.POOR_ACCURACY:
            return f"horizontal accuracy {number:.3f} m is over the limit"
        if why == Reason.SPIKE:
            return f"{number:.2f} m off the line of its neighbours"
        if why == Reason.HEIGHT_SPIKE:
            return f"height {number:.2f} m off its neighbours"
        if why == Reason.BACKTRACK:
            return f"walked back over {number:.2f} m of the edge that was already captured"
        if why == Reason.TOO_SHORT:
            return f"stands in a run of {number:.2f} m, too short for an edge"
        if why == Reason.UNCONFIRMED:
            return (
                f"one of {number:.0f} positions that alone tell a short side or bend"
                if number > 1
                else "nothing confirms where it lies"
            )
        return _SENTENCES.get(why, "")

    return [
        sentence(why, number)
        for why, number in zip(np.asarray(reason).tolist(), np.asarray(amount).tolist())
    ]
