"""Times of the common kinds as seconds since 1970-01-01 UTC."""

import re
from datetime import datetime, timezone

import numpy as np

from ..language import marked, tr
from .number_times import days_of_date, seconds_of_numbers
from .slash_dates import DAY_FIRST, KINDS, UNDECIDED, iso_of_slashed, slash_maxima, slash_order

ISO_TEXT = marked("ISO 8601 text")
AS_TEXT = ", as text"  # after how numbers in a field of text were read
_ZONE = re.compile(r"(?:\s*(Z|UTC|GMT)|\s*([+-])([01]\d|2[0-3]):?([0-5]\d)?)$", re.IGNORECASE)
# a sign after a clock time starts a zone, one inside a date does not
_CLOCK = re.compile(r"\d(?:T|\s)\s*\d", re.IGNORECASE)
_ISO = re.compile(
    r"(\d{4})-?(\d{2})-?(\d{2})(?:[T ]\s*(\d{2}):?(\d{2})(?::?(\d{2})(?:[.,](\d+))?)?)?$",
    re.IGNORECASE,
)
_WHOLE = re.compile(r"\s*[-+]?\d{1,18}\s*$")
_YEAR_FIRST = re.compile(r"(\d{4})/(\d{1,2})/(\d{1,2})(?:[T, ]\s*(\d:)?(.*))?$", re.IGNORECASE)
_DOTTED = re.compile(r"(\d{1,2})\.(\d{1,2})\.(\d{4})(?:[T, ]\s*(\d:)?(.*))?$", re.IGNORECASE)


# exact: lengths of texts, seconds in an hour and a minute
def _seconds_of_text(text):
    """Seconds since 1970 of one text in ISO 8601 or with a date as dd.mm.yyyy or yyyy/mm/dd, in UTC
    if no zone is given; NaN if it is none of these."""
    text = text.strip()
    dotted, slashed = _DOTTED.match(text), _YEAR_FIRST.match(text)
    if dotted or slashed:
        parts = dotted.group(3, 2, 1, 4, 5) if dotted else slashed.groups()
        year, month, day, hour, rest = parts
        clock = ("0" + hour if hour else "") + (rest or "")
        text = f"{year}-{month:0>2}-{day:0>2}" + (f" {clock}" if clock else "")
    offset = 0
    zone = _ZONE.search(text) if len(text) > 10 else None
    if zone and (zone.group(1) or _CLOCK.search(text[: zone.start()])):
        text = text[: zone.start()].rstrip()
        if zone.group(2):
            offset = int(zone.group(3)) * 3600 + int(zone.group(4) or 0) * 60
            offset = -offset if zone.group(2) == "-" else offset
    match = _ISO.match(text)
    if match is None:
        return np.nan
    year, month, day, hour, minute, second, fraction = match.groups()
    leap = 1 if second == "60" else 0  # a leap second, by ISO 8601
    try:
        whole = datetime(
            int(year),
            int(month),
            int(day),
            int(hour or 0),
            int(minute or 0),
            int(second or 0) - leap,
            tzinfo=timezone.utc,
        )
    except ValueError:
        return np.nan
    return whole.timestamp() + leap + (float("0." + fraction) if fraction else 0.0) - offset


# exact: codes of characters and their places, months, days, hours and seconds of the calendar
def _plain_iso(texts):
    """Seconds of texts of the common form ``YYYY-MM-DDThh:mm:ss[.fff][Z]`` in bulk, and a mask of
    the texts of that form."""
    width = texts.dtype.itemsize // 4
    codes = np.ascontiguousarray(texts).view(np.uint32).reshape(len(texts), width)
    if width < 19:
        return np.full(len(texts), np.nan), np.zeros(len(texts), bool)
    digits = codes.astype(np.int64) - 48
    is_digit = (digits >= 0) & (digits <= 9)
    places = [0, 1, 2, 3, 5, 6, 8, 9, 11, 12, 14, 15, 17, 18]
    plain = is_digit[:, places].all(axis=1) & (codes[:, 4] == 45) & (codes[:, 7] == 45)
    plain &= (
        ((codes[:, 10] == 84) | (codes[:, 10] == 32) | (codes[:, 10] == 116))
        & (codes[:, 13] == 58)
        & (codes[:, 16] == 58)
    )

    def number(first, last):
        return sum(digits[:, k] * 10 ** (last - k) for k in range(first, last + 1))

    year, month, day = number(0, 3), number(5, 6), number(8, 9)
    hour, minute, second = number(11, 12), number(14, 15), number(17, 18)
    dated, days = days_of_date(year, month, day, 1, 10000)
    plain &= dated & (hour < 24) & (minute < 60) & (second < 60)
    fraction = np.zeros(len(texts))
    if width > 19:
        fraction, ended_well = _fractions(codes, digits, is_digit)
        plain &= ended_well
    return days * 86400.0 + hour * 3600 + minute * 60 + second + fraction, plain


# exact: codes of characters and their places
def _iso_of_dotted(texts):
    """The texts with ``dd.mm.yyyy`` at their start converted to ``yyyy-mm-dd`` in bulk; dates with
    dots always have the day first."""
    codes, dotted = _codes_of_dates(texts, (2, 5), ".")
    if not dotted.any():
        return texts
    codes = codes.copy()
    codes[dotted, :10] = codes[dotted][:, [6, 7, 8, 9, 5, 3, 4, 2, 0, 1]]
    codes[np.ix_(dotted, [4, 7])] = 45
    if codes.shape[1] > 10:
        codes[dotted & (codes[:, 10] == 44), 10] = 84
    return codes.view(texts.dtype)[:, 0]


# exact: codes of characters and their places
def _iso_of_year_first(texts):
    """The texts with ``yyyy/mm/dd`` at their start converted to ``yyyy-mm-dd`` in bulk: with the
    year first nothing is in doubt (common practice of solution files, no source)."""
    codes, slashed = _codes_of_dates(texts, (4, 7), "/")
    if not slashed.any():
        return texts
    codes = codes.copy()
    codes[np.ix_(slashed, [4, 7])] = 45
    return codes.view(texts.dtype)[:, 0]


# exact: codes of digits, characters of a date
def _codes_of_dates(texts, marked, mark):
    """Codes of the characters of texts, shape (n, width), and which texts begin with a date: ten
    characters, all digits but for a mark at two places. No codes where all texts are shorter."""
    width = texts.dtype.itemsize // 4
    if width < 10 or not len(texts):
        return None, np.zeros(len(texts), bool)
    codes = np.ascontiguousarray(texts).view(np.uint32).reshape(len(texts), width)
    first, second = marked
    dated = (codes[:, first] == ord(mark)) & (codes[:, second] == ord(mark))
    digits = [place for place in range(10) if place not in marked]
    return codes, dated & ((codes[:, digits] - 48) <= 9).all(axis=1)


def _has_slash(texts):
    """True if any text contains a slash."""
    codes = np.ascontiguousarray(texts).view(np.uint32)
    return bool((codes == ord("/")).any())


# exact: codes of characters and their places
def _fractions(codes, digits, is_digit):
    """Fractions of seconds after the 19 characters of a time, and a mask of the texts in which
    nothing but a fraction and a Z follows; both of shape (n,)."""
    width = codes.shape[1]
    fraction = np.zeros(len(codes))
    dotted = (codes[:, 19] == 46) | (codes[:, 19] == 44)
    running = dotted.copy()
    ended = np.where(dotted, 20, 19)
    for at in range(20, width):  # over the characters of the widest text, not over epochs
        running &= is_digit[:, at]
        fraction[running] += digits[running, at] * 10.0 ** (19 - at)
        ended[running] = at + 1
    padded = np.concatenate([codes, np.zeros((len(codes), 2), codes.dtype)], axis=1)
    rows = np.arange(len(codes))
    last, after = padded[rows, ended], padded[rows, ended + 1]
    zulu = ((last == 90) | (last == 122)) & (after == 0)
    return fraction, (~dotted | (ended > 20)) & ((last == 0) | zulu)


def parse_times(values):
    """Seconds since 1970-01-01 UTC from numbers, date-times or ISO 8601 text.

    Parameters
    ----------
    values : array_like, shape (n,)
        Numbers (seconds, milli-, micro- or nanoseconds since 1970, ticks of 100 ns, days, or digits
        of a date, see `number_times`), ``datetime64`` (taken as UTC), or text in ISO 8601, its date
        also as dd.mm.yyyy or with slashes, with or without zone (UTC by default). None, NaN, NaT
        and masked values are absent.

    Returns
    -------
    seconds : ndarray of float, shape (n,)
        NaN if absent or unreadable.
    kind : str
        How they were read, a text for `kind_in_words`. `slash_dates.UNDECIDED` if dates with
        slashes may have the day or the month first: the seconds then assume the day first, which is
        enough to judge whether a field holds times.

    Notes
    -----
    Numbers above `TIMES.milliseconds` are parts of seconds: as seconds they would lie past the year
    5138. Smaller numbers are seconds from any origin, such as a receiver's own running seconds,
    unless they can be days or digits of a clock.
    """
    mask = np.ma.getmaskarray(values) if np.ma.isMaskedArray(values) else None
    values = np.asarray(np.ma.getdata(values))
    if values.dtype == object:
        values = _of_one_kind(values.tolist())
    if values.dtype.kind == "S":
        values = np.char.decode(values, "utf-8", "replace")
    if values.dtype.kind == "M":
        seconds, kind = _from_dates(values), marked("date-time")
    elif values.dtype.kind in "iufb":
        seconds, kind = seconds_of_numbers(values, mask)
    else:
        seconds, kind = _from_texts(values, mask)
    if mask is not None:
        seconds[mask] = np.nan
    return seconds, kind


# exact: codes of characters, lengths of zones and of a date
def zoned(texts):
    """Which texts name a zone at their end: Z, UTC, GMT or a sign with hours.

    Parameters
    ----------
    texts : ndarray of str, shape (n,)

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    texts = np.asarray(texts, dtype=str)
    width = max(texts.dtype.itemsize // 4, 1)
    codes = np.ascontiguousarray(texts).view(np.uint32).reshape(len(texts), width)
    length, rows = np.count_nonzero(codes, axis=1), np.arange(len(texts))

    def from_end(place):
        return codes[rows, np.maximum(length - place, 0)]

    last = from_end(1)
    padded = np.flatnonzero((last == ord(" ")) | (codes[:, 0] == ord(" ")))
    letter = last | 32  # lower case
    named = (letter == ord("z")) | (letter == ord("c")) | (letter == ord("t"))
    signed = np.zeros(len(texts), bool)
    for place in (3, 5, 6):  # +hh, +hhmm, +hh:mm
        sign = from_end(place)
        signed |= ((sign == ord("+")) | (sign == ord("-"))) & (length - place > 12)
    found = (length > 10) & (named | signed)
    if padded.size:
        bare = np.char.strip(texts[padded])
        found[padded] = zoned(np.where(bare == "", "-", bare))
    return found


def kind_in_words(kind):
    """How times were read, in the language of the page.

    Parameters
    ----------
    kind : str
        As `parse_times` gives it.

    Returns
    -------
    str
    """
    numbers, as_text, _ = kind.partition(AS_TEXT)
    return tr("{}, as text").format(tr(numbers)) if as_text else tr(numbers)


def _of_one_kind(cells):
    """Python objects as an array of numbers or date-times, if all are such, else of texts."""
    absent = [cell is None or cell != cell for cell in cells]
    present = [cell for cell, gone in zip(cells, absent) if not gone]
    if all(isinstance(cell, (int, float, np.integer, np.floating)) for cell in present):
        return np.array(
            [np.nan if gone else float(cell) for cell, gone in zip(cells, absent)], dtype=float
        )
    if all(isinstance(cell, (datetime, np.datetime64)) for cell in present):
        return np.array(
            [np.datetime64("NaT") if gone else _utc(cell) for cell, gone in zip(cells, absent)],
            dtype="M8[us]",
        )
    return np.array(["" if gone else str(cell) for cell, gone in zip(cells, absent)], dtype=str)


def _from_dates(values):
    """Seconds of ``datetime64``, NaN for NaT."""
    unit, ticks = ("ms", 1e3) if values.dtype == "M8[ms]" else ("us", 1e6)  # exact: units
    seconds = np.divide(
        values.astype(f"M8[{unit}]", copy=False).view(np.int64), ticks, out=np.zeros(values.shape)
    )
    seconds[np.isnat(values)] = np.nan
    return seconds


def _from_texts(values, mask):
    """Seconds of texts, read as ISO 8601 or, if none is, as numbers; and how they were read."""
    kind = ISO_TEXT
    iso = _iso_of_dotted(values)
    if iso is not values:
        values, kind = iso, marked("text, dates as day.month.year")
    order = ""
    if _has_slash(values):
        iso = _iso_of_year_first(values)
        if iso is not values:
            values, kind = iso, marked("text, dates as year/month/day")
        order = slash_order(slash_maxima(values))
    if order:
        # undecided dates are still times: a caller that uses them must ask
        values = iso_of_slashed(values, DAY_FIRST if order == UNDECIDED else order)
        kind = KINDS[order]
    seconds, plain = _plain_iso(values) if len(values) else (np.zeros(0), np.zeros(0, bool))
    rest = np.flatnonzero(~plain)
    if not len(rest):
        return seconds, kind
    different, index = np.unique(values[rest], return_inverse=True)
    read = np.array([_seconds_of_text(text) for text in different.tolist()], dtype=float)
    if np.isnan(read).all() and not plain.any():
        numbers, absent = _numbers(different.tolist())
        if not absent.all():
            absent = absent[index]
            if mask is not None:
                absent |= mask[rest]
            seconds[rest], kind = seconds_of_numbers(numbers[index], absent)
            return seconds, kind + AS_TEXT
    seconds[rest] = read[index]
    return seconds, kind


def _utc(moment):
    """A date-time as ``datetime64`` in UTC."""
    if isinstance(moment, np.datetime64):
        return moment.astype("M8[us]")
    if moment.tzinfo is not None:
        moment = moment.astimezone(timezone.utc).replace(tzinfo=None)
    return np.datetime64(moment, "us")


def _numbers(texts):
    """Texts as numbers (of ints if all are, as a float does not hold 17 digits), and a mask of
    those that are none."""
    absent = np.ones(len(texts), bool)
    if all(_WHOLE.match(text) for text in texts if text.strip()):
        numbers = np.zeros(len(texts), np.int64)
        read = int
    else:
        numbers, read = np.zeros(len(texts)), float
    for place, text in enumerate(texts):
        try:
            numbers[place] = read(text)
            absent[place] = False
        except ValueError:
            continue  # stays absent
    return numbers, absent | ~np.isfinite(numbers)
