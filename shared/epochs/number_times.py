"""Numbers as times: seconds, parts of seconds, days and digits of a date, distinguished by their
size and steps."""

import numpy as np

from ..language import marked
from ..tuning import TIMES

SECONDS = marked("seconds")
DAY, WEEK = 86400.0, 604800.0  # exact: seconds

# exact: seconds between 1970 and the origins of counts of days and of ticks of 100 ns.
# Days since 1899-12-30: [MS-OAUT] 2.2.25, the DATE of OLE, and so spreadsheets. Modified Julian
# days, JD - 2400000.5: IAU 1997, resolution B1; 1970 is MJD 40587. Ticks since 1601: [MS-DTYP]
# 2.3.3, FILETIME; ticks since the year 1: ECMA-335, System.DateTime.
_DAYS = (  # least and greatest number, number of 1970-01-01, words
    (7305.0, 32874.0, 0.0, marked("days since 1970")),
    (32874.0, 47892.0, 25569.0, marked("days since 1899-12-30, as in spreadsheets")),
    (58440.0, 88069.0, 40587.0, marked("modified Julian days")),
    (722815.0, 767011.0, 719529.0, marked("days since the year 0")),
    (2444239.5, 2488069.5, 2440587.5, marked("Julian days")),
)
# exact: as above. Present ticks since the year 1 would be nanoseconds of 1990, so they come first.
_TICKS = (  # ticks in a second, ticks from the origin to 1970, words
    (1e7, 621355968000000000.0, marked("ticks of 100 ns since the year 1")),
    (1e9, 0.0, marked("nanoseconds since 1970")),
    (1e7, 116444736000000000.0, marked("ticks of 100 ns since 1601")),
    (1e6, 0.0, marked("microseconds since 1970")),
    (1e3, 0.0, marked("milliseconds since 1970")),
)
# exact: powers of ten
_CALENDARS = (  # digits beside yyyymmddhhmmss: further ones as a power of ten, words
    (1e3, marked("digits yyyymmddhhmmssfff")),
    (1.0, marked("digits yyyymmddhhmmss")),
    (1e-2, marked("digits yyyymmddhhmm")),
)


def seconds_of_numbers(values, absent=None):
    """Seconds of numbers.

    Parameters
    ----------
    values : ndarray of int, float or bool, shape (n,)
    absent : ndarray of bool, shape (n,), optional

    Returns
    -------
    seconds : ndarray of float, shape (n,)
        Since 1970, or from an origin of their own if they cannot be dates; NaN if absent or
        unreadable.
    kind : str
        How they were read, a text marked for translation.

    Notes
    -----
    The median of their sizes represents the column, so that a single wild value changes nothing.
    Only dates from 1980 to 2099 are read, and no two kinds of numbers overlap there.
    """
    if values.dtype.kind in "bu":
        values = values.astype(float)
    present = np.isfinite(values)
    if absent is not None:
        present &= ~absent
    known = values[present]
    seconds = np.full(len(values), np.nan)
    if not len(known):
        return seconds, SECONDS
    read, kind = _read(known)
    seconds[present] = without_wild(read)
    return seconds, kind


def without_wild(seconds):
    """Times, with NaN in place of those decades from the others.

    Parameters
    ----------
    seconds : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of float, shape (n,)
        The same array if there are none.
    """
    seconds = np.asarray(seconds, float)  # whole ones have no infinity to begin with
    with np.errstate(invalid="ignore"):
        reach = np.fmax.reduce(seconds, initial=-np.inf) - np.fmin.reduce(seconds, initial=np.inf)
    if reach <= TIMES.wild:  # less than nothing where there is no time
        return seconds
    finite = np.isfinite(seconds)
    if not finite.any():
        return seconds
    with np.errstate(invalid="ignore"):
        wild = np.abs(seconds - _upper_median(seconds[finite])) > TIMES.wild
    return np.where(wild, np.nan, seconds) if wild.any() else seconds


def _upper_median(values):
    """Median of values, the upper one of two."""
    place = len(values) // 2
    return float(np.partition(values, place)[place])


def _read(known):
    """Seconds of numbers, all present, and how they were read."""
    middle = _upper_median(np.abs(known))
    for factor, kind in _CALENDARS:
        found = _of_digits(known, factor, middle, kind)
        if found is not None:
            return found
    if middle > TIMES.milliseconds:
        return _of_ticks(known, middle)
    return _of_days(known, middle) or _of_clock(known) or _of_seconds(known)


def _of_ticks(known, middle):
    """Seconds of ticks, from the origin that gives dates between `TIMES.earliest` and
    `TIMES.latest`; NaN if none does."""
    for ticks, origin, kind in _TICKS:
        if TIMES.earliest <= (middle - origin) / ticks <= TIMES.latest:
            # subtract the origin in whole numbers, which a float cannot hold exactly
            shift = known.dtype.type(origin) if known.dtype.kind == "i" else origin
            return (known - shift) / ticks, kind
    ticks, _, kind = next(
        unit
        for limit, unit in (
            (TIMES.nanoseconds, _TICKS[1]),
            (TIMES.microseconds, _TICKS[3]),
            (TIMES.milliseconds, _TICKS[4]),
        )
        if middle > limit
    )
    early = middle / ticks < TIMES.earliest  # a clock that has not been set, from 1970 on
    return (known / ticks if early else np.full(len(known), np.nan)), kind


# exact: digits of a date and a time, and their ranges
def _of_digits(known, factor, middle, kind):
    """Seconds of digits yyyymmddhhmmss times a factor; None if most numbers are no such digits."""
    year = middle / factor / 1e10
    if not 1980 <= year < 2100:
        return None
    if known.dtype.kind == "i" and factor >= 1:
        whole, rest = np.divmod(known, np.int64(factor))
        fraction = rest / factor
    else:
        numbers = known / factor
        whole = np.floor(numbers + 1e-6)
        fraction = np.maximum(numbers - whole, 0.0)
        whole = whole.astype(np.int64)
    fine, seconds = seconds_of_digits(whole)
    if np.count_nonzero(fine) < TIMES.most * len(known):
        return None
    return np.where(fine, seconds + fraction, np.nan), kind


# exact: digits of a date and a time, and their ranges
def seconds_of_digits(whole):
    """Seconds since 1970 of digits yyyymmddhhmmss.

    Parameters
    ----------
    whole : ndarray of int64, shape (n,)

    Returns
    -------
    fine : ndarray of bool, shape (n,)
        Whether there is such a date and time.
    seconds : ndarray of float, shape (n,)
    """
    date, clock = np.divmod(whole, 1000000)
    hour, minute, second = clock // 10000, clock // 100 % 100, clock % 100
    fine, days = days_of_date(date // 10000, date // 100 % 100, date % 100, 1970, 2200)
    fine &= (hour < 24) & (minute < 60) & (second < 60)
    return fine, days * DAY + hour * 3600 + minute * 60 + second


# exact: the calendar
def days_of_date(year, month, day, first_year, end_year):
    """Days since 1970 of dates of the Gregorian calendar.

    Parameters
    ----------
    year, month, day : ndarray of int64, shape (n,)
    first_year, end_year : int
        Years before the first one, and from the second one on, are no dates.

    Returns
    -------
    fine : ndarray of bool, shape (n,)
        Whether there is such a date.
    days : ndarray of int64, shape (n,)
        Of no meaning if not.
    """
    fine = (year >= first_year) & (year < end_year) & (month >= 1) & (month <= 12) & (day >= 1)
    first = np.where(fine, (year - 1970) * 12 + month - 1, 0).astype("M8[M]")
    days = first.astype("M8[D]").astype(np.int64) + day - 1
    return fine & (days < (first + 1).astype("M8[D]").astype(np.int64)), days


def _of_days(known, middle):
    """Seconds of days and parts of a day; None if the numbers cannot be days."""
    if known.dtype.kind != "f" or middle > TIMES.most_days or len(known) < TIMES.few:
        return None
    # seconds usually have no more than milliseconds, and no clock has such small steps
    uneven = np.abs(known * 1000 - np.round(known * 1000)) > 1e-3  # exact: a millisecond
    steps = np.diff(np.sort(known))
    steps = steps[steps > 0]
    if (
        np.count_nonzero(uneven) < TIMES.most * len(known) / 2
        or not len(steps)
        or np.median(steps) > TIMES.day_step
    ):
        return None
    for least, greatest, origin, kind in _DAYS:
        if least <= middle < greatest:
            return (known - origin) * DAY, kind
    if middle <= 366:  # exact: days of a year
        kind = marked("days, or parts of a day, from an origin of their own")
        return _unrolled(known * DAY), kind
    return np.full(len(known), np.nan), marked("days")


# exact: digits of a clock
def _of_clock(known):
    """Seconds of digits hhmmss; None if the numbers can be plain seconds as well."""
    if len(known) < TIMES.few or known.min() < 0 or known.max() >= 240000:
        return None
    whole = np.floor(known).astype(np.int64)
    second, minute = whole % 100, whole // 100 % 100
    if (second > 59).any() or (minute > 59).any() or np.unique(second).size < TIMES.few:
        return None
    if np.ptp(whole // 100) < 2:
        return None  # over at most one full minute both readings give the same times
    clock = whole // 10000 * 3600 + minute * 60 + second + (known - whole)
    return _unrolled(clock), marked("digits hhmmss, without a date")


def _of_seconds(known):
    """Seconds, unrolled if they are those of a day or a week."""
    return _unrolled(known.astype(float)), SECONDS


def _unrolled(seconds):
    """Seconds of a day or a week, in the order of the rows, without the jumps back to 0."""
    greatest = seconds.max()
    if seconds.min() < 0 or greatest > WEEK:
        return seconds
    period = DAY if greatest <= DAY else WEEK
    step = np.diff(seconds)
    margin = period - TIMES.turn
    falls, rises = step < -margin, step > margin
    if not falls.any() or np.count_nonzero(falls) > TIMES.most_turns:
        return seconds
    turns = np.cumsum(falls.astype(np.int64) - rises)
    return seconds + period * np.append(0, turns)
