"""Which epochs can be used, and why the others cannot."""

from dataclasses import dataclass, field

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import places_around, split_groups
from .reasons import Reason
from .settings import Settings
from .spikes import (
    LEAST_SPIKE,
    SPIKE_SIGMAS,
    _block_spikes,
    _end_spikes,
    _single_spikes,
    _slips_along,
    _strides,
    height_distance,
    mark_end_pairs,
)
from .stream import Stream, capture_medians, nominal_stream, stream_of

LEAST_HEIGHT_SPIKE = 0.15  # m; a dropped kerb of that height takes several epochs to go down


CHUNK = 250_000  # epochs looked at together


REACH = 8  # epochs on either side of a spike that are tested again without it


# epochs beyond these that have a say, so that no end of what is cut out passes for the end of a
# stretch
CONTEXT = 6


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


def screen(table, settings=None, checkpoint=None, usual=None):
    """Find the epochs that can be used.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1; may raise to stop it.
    usual : NominalStream, optional
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
    stream = stream_of(medians, usual or nominal_stream(medians), settings)
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
            mark_end_pairs(x, y, linked, step / usual, floor, still, size_of)
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


def _drop_height_spikes(table, kept, stream, height_ok):
    """Clear `height_ok` where a height stands off from its neighbours while the position does
    not."""
    for _ in range(3):
        rows = kept[height_ok[kept]]
        if rows.size < 3:
            return
        t, capture = table.seconds[rows], table.capture[rows]
        linked = (np.diff(capture) == 0) & (np.diff(t) <= 2 * stream.time_limit[capture[1:]])
        hit = height_distance(table.z[rows], linked) > np.maximum(
            SPIKE_SIGMAS * stream.noise_up[capture], LEAST_HEIGHT_SPIKE
        )
        if not hit.any():
            return
        height_ok[rows[hit]] = False
