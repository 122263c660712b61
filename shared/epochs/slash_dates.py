"""Dates with slashes: whether day or month comes first is decided by the layer's own values."""

import numpy as np

from ..language import marked

DAY_FIRST, MONTH_FIRST, UNDECIDED = "day/month/year", "month/day/year", "undecided"
KINDS = {  # as `times.parse_times` says how times were read
    DAY_FIRST: marked("text, dates as day/month/year"),
    MONTH_FIRST: marked("text, dates as month/day/year"),
    UNDECIDED: UNDECIDED,
}


def _parts(texts):
    """Texts of the first and second number, of the year and of what follows, and a mask of the
    texts that have this form."""
    head = np.char.partition(texts, "/")
    tail = np.char.partition(head[:, 2], "/")
    rest = np.char.replace(np.char.replace(tail[:, 2], "T", " "), ",", " ")
    rest = np.char.partition(rest, " ")
    first, second, year, clock = head[:, 0], tail[:, 0], rest[:, 0], np.char.strip(rest[:, 2])
    dated = np.char.isdigit(first) & np.char.isdigit(second) & np.char.isdigit(year)
    dated &= (np.char.str_len(first) <= 2) & (np.char.str_len(second) <= 2)
    return first, second, year, clock, dated & (np.char.str_len(year) == 4)


def slash_maxima(texts):
    """Greatest first and second number of the dates with slashes among texts; 0 without any.

    Parameters
    ----------
    texts : ndarray of str, shape (n,)

    Returns
    -------
    tuple of int
    """
    first, second, _, _, dated = _parts(np.char.strip(texts))
    if not dated.any():
        return 0, 0
    return int(first[dated].astype(int).max()), int(second[dated].astype(int).max())


def slash_order(maxima):
    """Whether day or month comes first in dates with slashes, from their greatest numbers.

    Parameters
    ----------
    maxima : tuple of int
        As `slash_maxima` gives them.

    Returns
    -------
    str
        Empty without such dates; `DAY_FIRST` or `MONTH_FIRST` if only one of the numbers exceeds
        12; otherwise `UNDECIDED`.
    """
    first, second = maxima
    if not first:
        return ""
    if (first > 12) == (second > 12):  # exact: months of a year
        return UNDECIDED
    return DAY_FIRST if first > 12 else MONTH_FIRST  # exact: months of a year


def iso_of_slashed(texts, order):
    """The texts with dates with slashes, also with 12-hour clock times, converted to ISO 8601.

    Parameters
    ----------
    texts : ndarray of str, shape (n,)
    order : str
        `DAY_FIRST` or `MONTH_FIRST`.

    Returns
    -------
    ndarray of str, shape (n,)
    """
    first, second, year, clock, dated = _parts(np.char.strip(texts))
    day, month = (first, second) if order == DAY_FIRST else (second, first)
    date = year
    for number in (month, day):
        date = np.char.add(np.char.add(date, "-"), np.char.zfill(number, 2))
    iso = np.where(clock == "", date, np.char.add(np.char.add(date, "T"), _of_day(clock)))
    return np.where(dated, iso, texts)


# exact: hours of half a day
def _of_day(clock):
    """Clock times of 12 or 24 hours as 24-hour times with two digits for the hour."""
    upper = np.char.upper(clock)
    after, before = np.char.endswith(upper, "PM"), np.char.endswith(upper, "AM")
    half = after | before
    bare = np.where(half, np.char.rstrip(upper, "APM "), clock)
    parts = np.char.partition(bare, ":")
    hour = parts[:, 0]
    counted = half & np.char.isdigit(hour)
    number = np.where(counted, hour, "0").astype(int) % 12 + 12 * after
    hour = np.where(counted, number.astype(str), hour)
    return np.char.add(np.char.add(np.char.zfill(hour, 2), parts[:, 1]), parts[:, 2])
