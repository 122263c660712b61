"""Which epochs can be used, and why the others cannot."""

from dataclasses import dataclass
from typing import Optional

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import places_around, split_groups
from ..tuning import SCREENING
from .predictions import height_distance
from .reasons import Reason
from .settings import Settings
from .spike_blocks import mark_blocks, mark_strides
from .spikes import Path, mark_along_track, mark_end_pairs, mark_ends, mark_single
from .stream import Stream, capture_medians, nominal_stream, stream_of


@dataclass(frozen=True)
class Screening:
    """Result of `screen`; arrays of shape (n,) unless said otherwise.

    Attributes
    ----------
    reason : uint8
        A `Reason`.
    amount : float
        The number that goes with the reason: the accuracy in metres, the size of the spike in
        metres, the number of points of a multi-point.
    height_ok : bool
        False if the height is missing or was dropped as a spike.
    order : int, shape (m,)
        All rows with a time, sorted by capture and time; ties by content.
    stream : Stream
    kept : int
        Rows that are kept, in the order of `order`.
    reference : int, optional
        Rows from which nominal accuracies are taken, if these are not the kept ones.
    """

    reason: np.ndarray
    amount: np.ndarray
    height_ok: np.ndarray
    order: np.ndarray
    stream: Stream
    kept: np.ndarray
    reference: Optional[np.ndarray] = None


def time_order(table, rows):
    """Sort rows by capture and time, ties by content so that the order of the rows never
    matters.

    Parameters
    ----------
    table : EpochTable
    rows : ndarray of int, shape (m,)

    Returns
    -------
    ndarray of int, shape (m,)
        The same rows.
    """

    def number(values):
        return np.where(np.isfinite(values), values, np.inf)

    def content(rows):
        return (
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
    """Reasons that follow from a single row or its repeated time.

    Parameters
    ----------
    table : EpochTable
    max_h_accuracy : float
        Maximum reported 1-sigma that is accepted, metres.

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
    # the last one set counts, so the strongest reason comes last
    for test, why, number in (
        (poor, Reason.POOR_ACCURACY, table.sigma_h),
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


def screen(table, settings=None, progress=None, nominal=None):
    """Find the epochs that can be used.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    progress : callable, optional
        Called with the share of work done, 0 to 1; it may raise to stop the work.
    nominal : NominalStream, optional
        Nominal values of the layer's streams, if the table is a part of it; by default from the
        table.

    Returns
    -------
    Screening

    Notes
    -----
    Each epoch is tested in this order: position, time, fix, accuracy, repeated time, spike. A spike
    is an epoch that deviates from all of its predictions: straight on from the two epochs before,
    straight back from the two after, across between its neighbours, and along the cubic through two
    epochs on either side; and the path must turn out and back again. A corner fails the third and
    fourth test but passes the first two; a tight curve turns one way only.
    """
    settings = settings or Settings()
    progress = progress or (lambda share: None)
    progress(0.0)
    usable = unusable(table, settings.max_h_accuracy)
    progress(0.2)  # exact: share of the time
    medians = capture_medians(table, usable[-1])
    stream = stream_of(medians, nominal or nominal_stream(medians), settings)
    progress(0.4)  # exact: share of the time
    # exact: the rest of the time
    return screen_stream(table, usable, stream, lambda share: progress(0.4 + 0.6 * share))


def screen_stream(table, usable, stream, progress, spared=None):
    """As `screen`, with the stream given.

    Parameters
    ----------
    table : EpochTable
    usable : tuple of ndarray
        Result of `unusable` for the table; its arrays are changed in place.
    stream : Stream
    progress : callable
        As in `screen`.
    spared : Spared, optional
        Rows that these tests may not reject.

    Returns
    -------
    Screening
    """
    reason, amount, order, kept = usable
    parts = split_groups(table.capture[kept], SCREENING.block)
    left = []
    for number, (low, high) in enumerate(parts):
        progress(0.9 * number / len(parts))  # exact: share of the time
        left.append(_reject_spikes(table, kept[low:high], stream, reason, amount))
    kept = np.concatenate(left)
    if spared is not None:
        kept = _with_spared(usable, spared)
    progress(0.9)  # exact: share of the time
    height_ok = np.isfinite(table.z) & (reason == Reason.KEPT)
    _drop_height_spikes(table, kept, stream, height_ok)
    return Screening(
        reason=reason, amount=amount, height_ok=height_ok, order=order, stream=stream, kept=kept
    )


def _with_spared(usable, spared):
    """Kept rows, including spared spikes, which took no part in the tests of their neighbours."""
    reason, amount, _, kept = usable
    hit = reason[kept] == Reason.SPIKE
    back = kept[hit & ~spared.spare(kept, hit, Reason.SPIKE)]
    reason[back], amount[back] = Reason.KEPT, np.nan
    return kept[reason[kept] == Reason.KEPT]


def _reject_spikes(table, kept, stream, reason, amount):
    """Mark spikes; return the rows that remain, in order.

    A spike spoils the tests of its neighbours, so all are tested again without it. Ends of a
    stretch have neighbours on one side only and come last.
    """
    # all epochs; twice those around the spikes found; the ends; those around the spikes found there
    near = around = None
    for ends in (False, False, False, True, False):
        if not kept.size:
            break
        if ends:
            near = _at_ends(table, kept, stream)
            around = places_around(np.flatnonzero(near), kept.size, SCREENING.context)
        everything = near is None
        rows = np.arange(kept.size) if everything else np.flatnonzero(around)
        some = kept[rows]
        size_of = np.full(some.size, np.nan)
        path = _path(table, some, rows, stream)
        if ends:
            mark_ends(path, size_of)
        else:
            _mark_inner(path, size_of)
        hit = np.isfinite(size_of) if everything else np.isfinite(size_of) & near[rows]
        reason[some[hit]] = Reason.SPIKE
        amount[some[hit]] = size_of[hit]
        stay = np.ones(kept.size, bool)
        stay[rows[hit]] = False
        near, around = (
            places_around(rows[hit], kept.size, reach, table.capture[kept])[stay]
            for reach in (SCREENING.reach, SCREENING.reach + SCREENING.context)
        )
        kept = kept[stay]
    return kept


def _at_ends(table, kept, stream):
    """Mask of the first and last epochs of stretches without a pause."""
    capture = table.capture[kept]
    apart = (np.diff(capture) != 0) | (
        np.diff(table.seconds[kept]) > stream.time_limit[capture[1:]]
    )
    return np.append(True, apart) | np.append(apart, True)


def _path(table, some, rows, stream):
    """The epochs `some` as a path; `rows`: their places among all kept ones, of which neighbours
    are linked."""
    x, y, t, capture = table.x[some], table.y[some], table.seconds[some], table.capture[some]
    dt = np.diff(t)
    linked = (np.diff(capture) == 0) & (dt <= stream.time_limit[capture[1:]]) & (np.diff(rows) == 1)
    pace = stream.uneven * stream.spacing / np.maximum(stream.interval, 1e-9)
    floor = np.maximum(SCREENING.spike_sigmas * stream.noise, SCREENING.least_spike)
    still = np.maximum(SCREENING.still_sigmas * stream.noise, SCREENING.least_still)
    return Path(
        x=x,
        y=y,
        linked=linked,
        step=distance(np.diff(x), np.diff(y)),
        nominal=np.maximum(pace[capture[1:]] * dt, 1e-9),
        floor=floor[capture],
        still=still[capture],
    )


def _mark_inner(path, size_of):
    """Mark all spikes but those at ends; earlier tests take precedence."""
    pace = path.step / path.nominal
    mark_end_pairs(path.x, path.y, path.linked, pace, path.floor, path.still, size_of)
    for length in (1, 2):
        mark_strides(path, length, size_of)
    mark_along_track(path, size_of)
    for length in (2, 3):
        mark_blocks(path, length, size_of)
    mark_single(path, size_of)


def _drop_height_spikes(table, kept, stream, height_ok):
    """Clear `height_ok` where a height deviates from its neighbours while the position does
    not."""
    for _ in range(SCREENING.height_rounds):
        rows = kept[height_ok[kept]]
        if rows.size < 3:
            return
        t, capture = table.seconds[rows], table.capture[rows]
        limit = SCREENING.height_pause * stream.time_limit[capture[1:]]
        linked = (np.diff(capture) == 0) & (np.diff(t) <= limit)
        hit = height_distance(table.z[rows], linked) > np.maximum(
            SCREENING.spike_sigmas * stream.noise_up[capture], SCREENING.least_height_spike
        )
        if not hit.any():
            return
        height_ok[rows[hit]] = False
