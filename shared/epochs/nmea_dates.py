"""Dates for NMEA 0183 sentences that give only a time of day, and pairs of sentences of the same
time."""

from datetime import date

import numpy as np

from ..arrays.ragged import offsets_from_starts, offsets_of, stretch_starts
from ..tuning import NMEA

DAY = 86400.0  # exact: seconds
EPOCH = date(1970, 1, 1).toordinal()  # exact: origin of the times


class UndatedError(ValueError):
    """A log has times of day and no date."""


def date_sentences(gga, gst, rmc, zda, day):
    """Times of the rows of four tables of sentences.

    Parameters
    ----------
    gga, gst, rmc, zda : dict of str to ndarray
        Columns as in `nmea_fields.COLUMNS`.
    day : datetime.date or None
        Date of the first time, used if neither RMC nor ZDA has one.

    Returns
    -------
    seconds : list of ndarray of float
        UTC since 1970 for each table, NaN for a sentence without time.
    dated_by : str
        ``RMC``, ``ZDA``, ``RMC and ZDA``, ``given``, or empty if no time needed a date.

    Raises
    ------
    UndatedError
        If GGA sentences have times, nothing has a date, and `day` is None.
    """
    tables = (gga, gst, rmc, zda)
    counts = [len(table["start"]) for table in tables]
    start, tod = (np.concatenate([table[name] for table in tables]) for name in ("start", "tod"))
    order = np.argsort(start, kind="stable")
    del start
    order = order[np.isfinite(tod[order])]
    time = tod[order]
    step = np.diff(time, prepend=time[:1])
    passed = step < -NMEA.late
    # number of midnights so far
    count = np.cumsum(passed.astype(np.int8) - (step > DAY - NMEA.late), dtype=np.int32)
    del step
    undated = np.full(counts[0] + counts[1], -1, np.int32)
    days = np.concatenate([undated, rmc["days"], zda["days"]])[order]
    seconds, dated_by = np.full(len(tod), np.nan), ""
    if (days >= 0).any():
        _date_by_nearest(time, count, days)
        dated_by = " and ".join(
            name
            for name, table in (("RMC", rmc), ("ZDA", zda))
            if (table["days"][np.isfinite(table["tod"])] >= 0).any()
        )
    elif np.isfinite(gga["tod"]).any():
        if day is None:
            raise UndatedError("no RMC and no ZDA sentence has a date")
        time += (count + (day.toordinal() - EPOCH)) * DAY
        dated_by = "given"
    else:
        time[:] = np.nan
    seconds[order] = time
    bounds = offsets_of(counts).tolist()
    return [seconds[low:high] for low, high in zip(bounds[:-1], bounds[1:])], dated_by


def _date_by_nearest(time, count, days):
    """Add to times of day, in place, the date of the dated sentence that is nearest in time.

    `count`: midnights passed; `days`: days since 1970, -1 for a sentence without date; in the order
    of the log.
    """
    dated = np.flatnonzero(days >= 0)
    running = time + count * DAY
    shift, known = days[dated] - count[dated], running[dated]
    # a session ends where time jumps
    session = np.cumsum(np.diff(running, prepend=running[:1]) > NMEA.session)[dated]
    session += _begun_on_another_day(shift, known)
    shift = _one_a_session(shift, session)
    del running, session
    for low in range(0, len(time), NMEA.dating_block):
        piece = slice(low, low + NMEA.dating_block)
        running = time[piece] + count[piece] * DAY
        after = np.searchsorted(dated, np.arange(low, low + len(running)))
        prior = np.maximum(after - (days[piece] < 0), 0)  # a dated sentence dates itself
        after = np.minimum(after, len(dated) - 1)
        nearer = np.where(
            np.abs(running - known[prior]) <= np.abs(known[after] - running), prior, after
        )
        time[piece] = running + shift[nearer] * DAY


def days_of(seconds):
    """Days since 1970 of times.

    Parameters
    ----------
    seconds : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of int64, shape (n,)
        -1 for NaN.
    """
    known = np.isfinite(seconds)
    return np.where(known, np.floor(np.where(known, seconds, 0.0) / DAY), -1).astype(np.int64)


def _begun_on_another_day(shift, known):
    """Number of the walk that each dated sentence belongs to, if walks of several days follow each
    other at nearly the same time of day: the time of day falls a little there, and all dates after
    it are later.

    `shift`: days by which dates are ahead of the running time; `known`: that time.
    """
    starts = offsets_from_starts(stretch_starts(shift))
    first, length = starts[:-1], np.diff(starts)
    begins = np.zeros(len(shift), np.int64)
    for place, before, after in zip(first[1:].tolist(), length[:-1].tolist(), length[1:].tolist()):
        later = 0 < shift[place] - shift[place - 1] <= 366  # exact: days in a year
        if later and known[place] < known[place - 1] and min(before, after) >= NMEA.few_dates:
            begins[place] = 1
    return np.cumsum(begins)


def _one_a_session(shift, session):
    """Days to add to the times of day of dated sentences, one number per session.

    Midnights show in the running time, so dates that differ in any other way are wrong: from a
    receiver that was just started or whose week count has rolled over (IS-GPS-200, 20.3.3.3.1.1:
    the week is sent modulo 1024), a sentence late at midnight, a glitch. Wrong dates at the start
    are too early; so the latest date that a fair share of the sentences have is taken.
    """
    starts = offsets_from_starts(stretch_starts(session)).tolist()
    out = shift.copy()
    for low, high in zip(starts[:-1], starts[1:]):
        some = shift[low:high]
        different, number = np.unique(some, return_counts=True)
        if len(different) == 1:
            continue
        fair = (number >= NMEA.few_dates) & (number >= NMEA.share_of_dates * len(some))
        latest = different[fair][-1] if fair.any() else different[::-1][np.argmax(number[::-1])]
        out[low:high] = latest
    return out


# exact: milliseconds in a second, and a time long before any other
def whole_milliseconds(seconds):
    """Times in whole milliseconds, for comparison.

    Parameters
    ----------
    seconds : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of int64, shape (n,)
        The same negative number for all NaN.
    """
    return np.where(
        np.isfinite(seconds), np.rint(np.where(np.isfinite(seconds), seconds, 0.0) * 1000.0), -1e13
    ).astype(np.int64)


# exact: more than the two letters of a talker as one number
def match_times(seconds, talker, other_seconds, other_talker):
    """For each row the row of the other table with the same time, preferably of the same talker.

    Parameters
    ----------
    seconds, talker : ndarray, shape (n,)
        Times, NaN where unknown, and the two letters of the talkers as one number.
    other_seconds, other_talker : ndarray, shape (q,)

    Returns
    -------
    ndarray of int64, shape (n,)
        -1 for none.
    """
    match = np.full(len(seconds), -1, np.int64)
    usable = np.flatnonzero(np.isfinite(other_seconds))
    if not usable.size:
        return match
    mine, others = whole_milliseconds(seconds), whole_milliseconds(other_seconds[usable])
    for own, theirs in (
        (mine * 65536 + talker, others * 65536 + other_talker[usable]),
        (mine, others),
    ):
        keys, first = np.unique(theirs, return_index=True)
        place = np.minimum(np.searchsorted(keys, own), len(keys) - 1)
        hit = (keys[place] == own) & (match < 0) & np.isfinite(seconds)
        match[hit] = usable[first[place[hit]]]
    return match
