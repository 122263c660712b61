"""Fields of NMEA 0183 sentences as columns of numbers, all sentences of a kind at once.

Field lists are those of the gpsd project (NMEA.txt); ZDA is from memory.
"""

import numpy as np

from .number_times import days_of_date

GGA, GST, RMC, ZDA = 1, 2, 3, 4  # exact: places in `KINDS`
KINDS = ("other", "GGA", "GST", "RMC", "ZDA")
_DOT, _PLUS, _MINUS = b".+-"
_POWERS = 10 ** np.arange(19, dtype=np.int64)  # exact: all that an int64 holds


class Fields:
    """Fields of sentences of one kind, numbered from 1; `bad` marks the rows that cannot be read.

    Parameters
    ----------
    buffer : ndarray of uint8
        Bytes of the log, with room after the last sentence.
    commas : ndarray of int64
        Places of the commas in the buffer.
    start, end : ndarray of int64, shape (n,)
        Place of each sentence's first byte, and of the one after its fields.
    """

    def __init__(self, buffer, commas, start, end):
        self.buffer, self.end = buffer, end
        self.commas = np.append(commas, len(buffer))
        self.first = np.searchsorted(commas, start)
        self.count = np.searchsorted(commas, end) - self.first
        self.bad = np.zeros(len(start), bool)

    def need(self, fields):
        """Mark sentences of fewer fields as unreadable."""
        self.bad |= self.count < fields

    def span(self, number):
        """Start and length of a field; length 0 if it is empty or missing."""
        there = self.count >= number
        place = np.where(there, self.first + number - 1, 0)
        start = np.where(there, self.commas[place] + 1, self.end)
        stop = np.where(
            self.count > number, self.commas[np.minimum(place + 1, len(self.commas) - 1)], self.end
        )
        return start, np.where(there, stop - start, 0)

    # exact: more than any letter
    def letter(self, number):
        """The only character of a field; 0 if it is empty, 255 if it is longer."""
        start, length = self.span(number)
        return np.where(length == 0, 0, np.where(length == 1, self.buffer[start], 255))

    def text(self, number):
        """A field as bytes, padded with zeros."""
        start, length = self.span(number)
        width = max(int(length.max(initial=1)), 1)
        letters = np.zeros((len(start), width), np.uint8)
        for place in range(width):
            inside = length > place
            letters[inside, place] = self.buffer[start[inside] + place]
        return letters.view(f"S{width}")[:, 0]

    # exact: codes of the digits, and digits that an int64 holds for certain
    def digits(self, number):
        """A decimal number: its digits as a whole number, the number of decimals, whether it is
        negative, and whether it is empty.

        With up to 15 digits, the whole number over the power of ten is the double nearest to the
        text. Decimals beyond 17 digits are dropped.
        """
        start, length = self.span(number)
        size = len(start)
        whole, decimals, digits = (
            np.zeros(size, np.int64),
            np.zeros(size, np.int64),
            np.zeros(size, np.int64),
        )
        dotted, negative, bad = np.zeros(size, bool), np.zeros(size, bool), length > 40
        # over the characters of the longest, not over sentences
        for place in range(min(int(length.max(initial=0)), 40)):
            inside = length > place
            letter = np.where(inside, self.buffer[start + place], 0)
            is_digit = inside & (letter >= 48) & (letter <= 57)
            taken = is_digit & ((digits < 17) | ~dotted)
            whole = np.where(taken, whole * 10 + letter - 48, whole)
            digits += taken
            decimals += taken & dotted
            dot = inside & (letter == _DOT)
            bad |= (
                inside
                & ~is_digit
                & ~dot
                & ~(((letter == _MINUS) | (letter == _PLUS)) & (place == 0))
            ) | (dot & dotted)
            dotted |= dot
            negative |= inside & (letter == _MINUS)
        empty = length == 0
        bad |= ~empty & ((digits == 0) | (digits - decimals > 17))
        self.bad |= bad
        return np.where(bad, 0, whole), np.where(bad, 0, decimals), negative, empty

    def number(self, number):
        """A decimal number, NaN if the field is empty."""
        whole, decimals, negative, empty = self.digits(number)
        value = whole / _POWERS[decimals]
        return np.where(empty, np.nan, np.where(negative, -value, value))

    # exact: what an int16 holds
    def integer(self, number):
        """A whole number up to 32767, -1 if the field is empty."""
        whole, decimals, negative, empty = self.digits(number)
        bad = (decimals > 0) | negative | (whole > 32767)
        self.bad |= bad
        return np.where(empty | bad, -1, whole).astype(np.int16)

    # exact: hhmmss, hours in a day, minutes in an hour, seconds in a minute
    def time(self, number):
        """Seconds of the day from hhmmss.ss."""
        whole, decimals, negative, empty = self.digits(number)
        clock, hour_minute = _POWERS[decimals] * 100, whole // (_POWERS[decimals] * 100)
        second = (whole - hour_minute * clock) / _POWERS[decimals]
        start, length = self.span(number)
        sixth = self.buffer[np.minimum(start + 6, len(self.buffer) - 1)]
        # exact: with fewer than six digits it is unknown which one is missing
        self.bad |= ~empty & (length != 6) & ~((length > 6) & (sixth == _DOT))
        hour, minute = hour_minute // 100, hour_minute % 100
        # 60: a leap second
        self.bad |= ~empty & (negative | (hour > 23) | (minute > 59) | (second >= 61.0))
        return np.where(empty, np.nan, hour * 3600 + minute * 60 + second)

    # exact: dddmm.mmm, minutes in a degree
    def angle(self, number, limit, letters):
        """Degrees from ddmm.mmmm (dddmm.mmmm) and the letter in the field behind it."""
        whole, decimals, negative, empty = self.digits(number)
        side = self.letter(number + 1)
        degrees = whole // (_POWERS[decimals] * 100)
        minutes = (whole - degrees * 100 * _POWERS[decimals]) / _POWERS[decimals]
        value = degrees + minutes / 60.0
        self.bad |= ~empty & (
            negative
            | (minutes >= 60.0)
            | (value > limit)
            | ((side != letters[0]) & (side != letters[1]))
        )
        return np.where(empty, np.nan, np.where(side == letters[1], -value, value))

    def metres(self, number):
        """A number in metres: the next field, its unit, must be M or empty."""
        unit = self.letter(number + 1)
        self.bad |= (unit != 0) & (unit != ord("M"))
        return self.number(number)

    # exact: the calendar, from the origin to where years of four digits stay far away
    def days(self, year, month, day, empty):
        """Days since 1970, -1 for no date."""
        fine, days = days_of_date(year, month, day, 1970, 2200)
        self.bad |= ~empty & ~fine
        return np.where(empty | ~fine, -1, days).astype(np.int32)


# exact: numbers of fields in the list; half circles in degrees
def parse_gga(fields):
    """Columns of GGA sentences.

    Parameters
    ----------
    fields : Fields

    Returns
    -------
    dict of str to ndarray, shape (n,)
        As in `COLUMNS`, without those common to all kinds.
    """
    fields.need(9)
    return {
        "tod": fields.time(1),
        "latitude": fields.angle(2, 90, b"NS"),
        "longitude": fields.angle(4, 180, b"EW"),
        "quality": fields.integer(6),
        "satellites": fields.integer(7),
        "hdop": fields.number(8),
        "altitude": fields.metres(9),
        "separation": fields.metres(11),
        "age": fields.number(13),
        "station": fields.text(14),
    }


# exact: numbers of fields in the list
def parse_gst(fields):
    """Columns of GST sentences; parameters and result as in `parse_gga`.

    Parameters
    ----------
    fields : Fields

    Returns
    -------
    dict of str to ndarray, shape (n,)
    """
    fields.need(8)
    sigmas = [fields.number(place) for place in (6, 7, 8)]
    for sigma in sigmas:
        fields.bad |= sigma < 0
    return {
        "tod": fields.time(1),
        "sigma_latitude": sigmas[0],
        "sigma_longitude": sigmas[1],
        "sigma_altitude": sigmas[2],
    }


# exact: numbers of fields in the list; ddmmyy, with years of two digits from 1980 on
def parse_rmc(fields):
    """Columns of RMC sentences; parameters and result as in `parse_gga`.

    Parameters
    ----------
    fields : Fields

    Returns
    -------
    dict of str to ndarray, shape (n,)
    """
    fields.need(9)
    whole, decimals, negative, empty = fields.digits(9)
    fields.bad |= negative | (decimals > 0)
    year = whole % 100
    year = np.where(year < 80, 2000, 1900) + year
    # receivers that were just started fill in zeros
    days = fields.days(year, whole // 100 % 100, whole // 10000, empty | (whole == 0))
    position = (fields.span(3)[1] > 0) & (fields.span(5)[1] > 0)
    return {"tod": fields.time(1), "valid": (fields.letter(2) == ord("A")) & position, "days": days}


# exact: numbers of fields in the list
def parse_zda(fields):
    """Columns of ZDA sentences; parameters and result as in `parse_gga`.

    Parameters
    ----------
    fields : Fields

    Returns
    -------
    dict of str to ndarray, shape (n,)
    """
    fields.need(4)
    (day, _, _, no_day), (month, _, _, no_month), (year, _, _, no_year) = (
        fields.digits(number) for number in (2, 3, 4)
    )
    return {
        "tod": fields.time(1),
        "days": fields.days(
            year, month, day, no_day | no_month | no_year | ((day == 0) & (month == 0))
        ),
    }


_COMMON = {"start": np.int64, "line": np.int64, "talker": np.int32, "tod": float}
# Columns of each kind of sentence; `tod` are seconds of the day, `days` days since 1970.
COLUMNS = {
    GGA: {
        **_COMMON,
        **dict.fromkeys(("latitude", "longitude", "hdop", "altitude", "separation", "age"), float),
        "quality": np.int16,
        "satellites": np.int16,
        "station": "S1",
    },
    GST: {
        **_COMMON,
        **dict.fromkeys(("sigma_latitude", "sigma_longitude", "sigma_altitude"), float),
    },
    RMC: {**_COMMON, "days": np.int32, "valid": bool},
    ZDA: {**_COMMON, "days": np.int32},
}
PARSERS = {GGA: parse_gga, GST: parse_gst, RMC: parse_rmc, ZDA: parse_zda}
