"""Numbers as times: seconds, parts of seconds, days and digits of a date, told apart by what they
can be."""

import numpy as np

from ..tuning import TIMES

DAY, WEEK = 86400.0, 604800.0  # exact: seconds

# exact: seconds between 1970 and the origins of counts of days and of ticks of 100 ns.
# Days since 1899-12-30: [MS-OAUT] 2.2.25, the DATE of OLE, and so spreadsheets. Modified Julian
# days, JD - 2400000.5: IAU 1997, resolution B1; 1970 is MJD 40587. Ticks since 1601: [MS-DTYP]
# 2.3.3, FILETIME; ticks since the year 1: ECMA-335, System.DateTime.
_DAYS = (  # least and greatest number, number of 1970-01-01, words
    (7305.0, 32874.0, 0.0, "days since 1970"),
    (32874.0, 47892.0, 25569.0, "days since 1899-12-30, as in spreadsheets"),
    (58440.0, 88069.0, 40587.0, "modified Julian days"),
    (722815.0, 767011.0, 719529.0, "days since the year 0"),
    (2444239.5, 2488069.5, 2440587.5, "Julian days"),
)
# exact: as above. Ticks of today since the year 1 would be nanoseconds of 1990, before all that is
# read.
_TICKS = (  # ticks in a second, ticks from the origin to 1970, words
    (1e7, 621355968000000000.0, "ticks of 100 ns since the year 1"),
    (1e9, 0.0, "nanoseconds since 1970"),
    (1e7, 116444736000000000.0, "ticks of 100 ns since 1601"),
    (1e6, 0.0, "microseconds since 1970"),
    (1e3, 0.0, "milliseconds since 1970"),
)
# exact: powers of ten
_CALENDARS = (  # digits beside yyyymmddhhmmss: further ones as a power of ten, words
    (1e3, "digits yyyymmddhhmmssfff"),
    (1.0, "digits yyyymmddhhmmss"),
    (1e-2, "digits yyyymmddhhmm"),
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
        Since 1970, or from an origin of their own where they can be no date; NaN where absent or
        unreadable.
    kind : str
        The reading taken, in words for a log.

    Notes
    -----
    One number stands for the column: the median of their sizes, so that one that is wild changes
    nothing. Read are dates from 1980 to 2099 alone; numbers that could be dates of several kinds
    there are not read.
    """
    if values.dtype.kind in "bu":
        values = values.astype(float)
    present = np.isfinite(values)
    if absent is not None:
        present &= ~absent
    known = values[present]
    seconds = np.full(len(values), np.nan)
    if not len(known):
        return seconds, "seconds"
    read, kind = _read(known)
    seconds[present] = without_wild(read)
    return seconds, kind


def without_wild(seconds):
    """NaN for times that lie decades from the others.

    Parameters
    ----------
    seconds : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of float, shape (n,)
        The same array where there is none.
    """
    finite = np.isfinite(seconds)
    if not finite.any():
        return seconds
    with np.errstate(invalid="ignore"):
        wild = np.abs(seconds - _upper_median(seconds[finite])) > TIMES.wild
    return np.where(wild, np.nan, seconds) if wild.any() else seconds


def _upper_median(values):
    place = len(values) // 2
    return float(np.partition(values, place)[place])


def _read(known):
    """Seconds of numbers that are there, and what they are."""
    middle = _upper_median(np.abs(known))
    for factor, kind in _CALENDARS:
        found = _of_digits(known, factor, middle, kind)
        if found is not None:
            return found
    if middle > TIMES.milliseconds:
        return _of_ticks(known, middle)
    return _of_days(known, middle) or _of_clock(known) or _of_seconds(known)


def _of_ticks(known, middle):
    """Parts of seconds from the origin that gives a date of today's kind; NaN where none does."""
    for ticks, origin, kind in _TICKS:
        if TIMES.earliest <= (middle - origin) / ticks <= TIMES.latest:
            # whole numbers beyond the precision of a float are taken from their origin first
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
    """Seconds of digits yyyymmddhhmmss, times a factor; None where most numbers are none."""
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
    year, month, day = date // 10000, date // 100 % 100, date % 100
    hour, minute, second = clock // 10000, clock // 100 % 100, clock % 100
    fine = (year >= 1970) & (year < 2200) & (month >= 1) & (month <= 12) & (day >= 1)
    fine &= (hour < 24) & (minute < 60) & (second < 60)
    first = np.where(fine, (year - 1970) * 12 + month - 1, 0).astype("M8[M]")
    days = first.astype("M8[D]").astype(np.int64) + day - 1
    fine &= days < (first + 1).astype("M8[D]").astype(np.int64)
    return fine, days * DAY + hour * 3600 + minute * 60 + second


def _of_days(known, middle):
    """Seconds of days and parts of a day; None where the numbers cannot be such."""
    if known.dtype.kind != "f" or middle > TIMES.most_days or len(known) < TIMES.few:
        return None
    # seconds have milliseconds at most, as a rule, and no clock has steps of so small a part of one
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
        return _unrolled(known * DAY), "days, or parts of a day, from an origin of their own"
    return np.full(len(known), np.nan), "days"


# exact: digits of a clock
def _of_clock(known):
    """Seconds of digits hhmmss; None where the numbers can be plain seconds as well."""
    if len(known) < TIMES.few or known.min() < 0 or known.max() >= 240000:
        return None
    whole = np.floor(known).astype(np.int64)
    second, minute = whole % 100, whole // 100 % 100
    if (second > 59).any() or (minute > 59).any() or np.unique(second).size < TIMES.few:
        return None
    if np.ptp(whole // 100) < 2:
        return None  # within a minute, or over one full minute: both readings give the same times
    clock = whole // 10000 * 3600 + minute * 60 + second + (known - whole)
    return _unrolled(clock), "digits hhmmss, without a date"


def _of_seconds(known):
    """Seconds, those of a day or a week running over."""
    return _unrolled(known.astype(float)), "seconds"


def _unrolled(seconds):
    """Seconds of a day or a week, in the order of the rows, that go on where they begin anew."""
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
