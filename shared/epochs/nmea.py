"""Epochs from logs of NMEA 0183 sentences, read in blocks.

Field lists after the open list of the gpsd project (NMEA.txt), made without the paid standard; ZDA
from memory. A block is searched as one array of bytes, so that sentences are found wherever they
stand: behind a logger's time stamp, between a receiver's binary frames, after CR and LF, LF alone
or nothing. There is no Python loop over sentences.
"""

from dataclasses import dataclass
from datetime import date
from enum import IntEnum

import numpy as np

BLOCK = 1 << 21  # bytes read at once: the arrays made from a block take about ten times as much
LONGEST = 1024  # bytes; NMEA 0183 allows 82 (from memory), makers' own sentences are longer
DAY = 86400.0
# s: a sentence may be behind the one before it by so much; time that falls by more has passed
# midnight
LATE = 60.0
EPOCH = date(1970, 1, 1).toordinal()

_DOLLAR, _STAR, _COMMA, _DOT, _PLUS, _MINUS, _LF, _CR, _PROPRIETARY, _LETTER_G = b"$*,.+-\n\rPG"
_ENDS = np.ones(256, bool)  # bytes that cannot stand inside a sentence
_ENDS[32:127] = False
_ENDS[[_DOLLAR, _STAR]] = True
_WORD = np.zeros(256, bool)
_WORD[[*range(48, 58), *range(65, 91)]] = True
_HEX = np.full(256, 255, np.uint8)
for _digits, _start in ((b"0123456789", 0), (b"ABCDEF", 10), (b"abcdef", 10)):
    _HEX[list(_digits)] = np.arange(_start, _start + len(_digits))
_POWERS = 10 ** np.arange(19, dtype=np.int64)

KINDS = ("other", "GGA", "GST", "RMC", "ZDA")
_GGA, _GST, _RMC, _ZDA = 1, 2, 3, 4


class Reason(IntEnum):
    """Why a sentence was rejected."""

    CHECKSUM = 0
    NO_CHECKSUM = 1
    CUT_OFF = 2
    NO_START = 3
    UNREADABLE = 4


REASON_NAMES = tuple(reason.name.lower() for reason in Reason)


class UndatedError(ValueError):
    """A log has times of day and no date."""


@dataclass(frozen=True)
class Epochs:
    """One row for each GGA sentence, in the order of the file.

    Attributes
    ----------
    line : ndarray of int64, shape (n,)
        Line of the file, from 1.
    seconds : ndarray of float, shape (n,)
        UTC since 1970. NaN here and below where the receiver left the field empty.
    latitude, longitude : ndarray of float, shape (n,)
        Degrees, + to the north and to the east.
    quality, satellites : ndarray of int16, shape (n,)
        GGA quality (4 is RTK with fixed integers) and satellites used; -1 for an empty field.
    hdop : ndarray of float, shape (n,)
    altitude, separation : ndarray of float, shape (n,)
        Orthometric height H and geoid separation N, metres.
    age : ndarray of float, shape (n,)
        Age of the corrections, seconds.
    station : ndarray of bytes, shape (n,)
        Reference station, as written.
    sigma_latitude, sigma_longitude, sigma_altitude : ndarray of float, shape (n,)
        From the GST sentence of the same time, 1-sigma, metres; NaN where there is none. The
        orientation of the error ellipse is not used, as makers count it from different axes.
    """

    line: np.ndarray
    seconds: np.ndarray
    latitude: np.ndarray
    longitude: np.ndarray
    quality: np.ndarray
    satellites: np.ndarray
    hdop: np.ndarray
    altitude: np.ndarray
    separation: np.ndarray
    age: np.ndarray
    station: np.ndarray
    sigma_latitude: np.ndarray
    sigma_longitude: np.ndarray
    sigma_altitude: np.ndarray

    def __len__(self):
        return len(self.line)

    @property
    def height(self):
        """Ellipsoidal height h = H + N, metres, shape (n,)."""
        return self.altitude + self.separation

    @property
    def sigma_horizontal(self):
        """Radial 1-sigma, shape (n,): root of the trace of the horizontal covariance, the same in
        every orientation."""
        return np.hypot(self.sigma_latitude, self.sigma_longitude)


@dataclass(frozen=True)
class Rejected:
    """Sentences that were not used, in the order of the file; arrays of shape (r,).

    Attributes
    ----------
    start, length : ndarray of int64
        Where they stand in the file, bytes.
    line : ndarray of int64
    kind : ndarray of int8
        Place in `KINDS`.
    reason : ndarray of int8
        A `Reason`.
    """

    start: np.ndarray
    length: np.ndarray
    line: np.ndarray
    kind: np.ndarray
    reason: np.ndarray

    def __len__(self):
        return len(self.start)


@dataclass(frozen=True)
class Log:
    """What a log holds.

    Attributes
    ----------
    epochs : Epochs
    rejected : Rejected
    sentences : dict of str to int
        Sentences used, by kind (`KINDS`); those called other are right and say nothing that is
        needed here.
    size, rubbish : int
        Bytes of the log, and those of them that belong to no sentence: binary frames, loggers' own
        text.
    dated_by : str
        ``RMC``, ``ZDA``, ``RMC and ZDA``, ``given``, or empty where no time needed a date.
    unmatched : int
        GST sentences without a GGA of the same time.
    rmc_only : int
        Valid positions that RMC gives at a time without GGA. They have neither height nor quality
        and are no epochs.
    """

    epochs: Epochs
    rejected: Rejected
    sentences: dict
    size: int
    rubbish: int
    dated_by: str
    unmatched: int
    rmc_only: int


def checksum(text):
    """Checksum of the bytes between ``$`` and ``*``: their exclusive or, as two hexadecimal
    digits."""
    value = 0
    for byte in text:
        value ^= byte
    return f"{value:02X}"


def read_log(stream, day=None, without_checksum=False, look=None, block=BLOCK):
    """Read a log.

    Parameters
    ----------
    stream : binary file
        From where it stands to its end.
    day : datetime.date, optional
        Date of the first time in the log. Used only where neither RMC nor ZDA has one.
    without_checksum : bool
        Take sentences that end without a checksum. One that is there must be right either way.
    look : callable, optional
        Called after each block with the number of bytes read; may raise.
    block : int
        Bytes read at once.

    Returns
    -------
    Log

    Raises
    ------
    UndatedError
        If GGA sentences have times, nothing has a date, and `day` is not given.

    Notes
    -----
    A sentence is rejected if its checksum is wrong or missing, if it is cut off, or if a field that
    is read is no number or out of range. Every ``GGA,`` in the log is in an epoch, in a rejected
    sentence or inside another right sentence.

    Dates come from the RMC or ZDA sentence that is nearest in time, before or after. Between them
    time only goes on: where the time of day falls, midnight has passed, except for sentences up to
    a minute late.
    """
    finder = _Finder(without_checksum)
    carried, read = b"", 0
    while True:
        piece = stream.read(block)
        read += len(piece)
        last = not piece
        carried = finder.take(carried + piece, last)
        if look is not None:
            look(read)
        if last:
            return finder.finish(read, day)


class _Finder:
    """Finds sentences block by block and gathers their values."""

    def __init__(self, without_checksum):
        self.without_checksum = without_checksum
        self.offset, self.lines, self.covered, self.others, self.outside = 0, 0, 0, 0, 0
        self.tables = {kind: [] for kind in (_GGA, _GST, _RMC, _ZDA)}
        self.rejected = []

    def take(self, data, last):
        """Read the sentences that start in `data`; what may go on in the next block is handed
        back."""
        cut = len(data) if last else max(len(data) - LONGEST, 0)
        if not cut:
            return data
        buffer = np.frombuffer(data + bytes(2 * LONGEST), np.uint8)
        newlines = np.flatnonzero(buffer[:cut] == _LF)
        commas = np.flatnonzero(buffer == _COMMA)
        start, end, kind, reason, size = self._sentences(buffer, commas, cut)
        for one, parse in ((_GGA, _gga), (_GST, _gst), (_RMC, _rmc), (_ZDA, _zda)):
            rows = np.flatnonzero((kind == one) & (reason < 0))
            if rows.size:
                fields = _Fields(buffer, commas, start[rows], end[rows])
                table = parse(fields)
                reason[rows[fields.bad]] = Reason.UNREADABLE
                table["start"] = start[rows] + self.offset
                table["line"] = self.lines + 1 + np.searchsorted(newlines, start[rows])
                table["talker"] = (
                    buffer[start[rows] + 1].astype(np.int32) * 256 + buffer[start[rows] + 2]
                )
                self.tables[one].append(
                    {name: values[~fields.bad] for name, values in table.items()}
                )
        self.others += int(np.count_nonzero((kind == 0) & (reason < 0)))
        lost, lost_size = self._lost_starts(buffer, cut, start, size)
        for rows, sizes, kinds, reasons in (
            (start[reason >= 0], size[reason >= 0], kind[reason >= 0], reason[reason >= 0]),
            (
                lost,
                lost_size,
                np.full(len(lost), _GGA, np.int8),
                np.full(len(lost), Reason.NO_START, np.int8),
            ),
        ):
            if len(rows):
                self.rejected.append(
                    (
                        rows + self.offset,
                        sizes,
                        self.lines + 1 + np.searchsorted(newlines, rows),
                        kinds,
                        reasons,
                    )
                )
        self.outside -= int(size.sum() + lost_size.sum())
        self.outside += cut - len(newlines) - int(np.count_nonzero(buffer[:cut] == _CR))
        if len(start):
            self.covered = self.offset + int(start[-1] + size[-1])
        self.lines += len(newlines)
        self.offset += cut
        return data[cut:]

    def _sentences(self, buffer, commas, cut):
        """Sentences that start before `cut`: start, end of their fields, kind, reason (-1 for
        none), size."""
        ends = np.flatnonzero(_ENDS[buffer])
        dollar = np.flatnonzero(buffer[ends] == _DOLLAR)
        dollar = dollar[ends[dollar] < cut]
        start = ends[dollar]
        word = _WORD[buffer[start + 1]]
        for step in (2, 3, 4):  # the shortest addresses, makers' own, have four letters
            word &= _WORD[buffer[start + step]]
        start, end = start[word], ends[dollar[word] + 1]
        long = end - start > LONGEST - 8
        end[long] = start[long] + LONGEST - 8
        code = sum(
            buffer[start + place].astype(np.int32) << shift
            for place, shift in ((3, 16), (4, 8), (5, 0))
        )
        kind = np.zeros(len(start), np.int8)
        for number, name in enumerate(KINDS[1:], 1):
            kind[code == int.from_bytes(name.encode(), "big")] = number
        # a spoilt comma leaves the kind to be told
        kind[_WORD[buffer[start + 6]] | (buffer[start + 1] == _PROPRIETARY)] = 0
        high, low = _HEX[buffer[end + 1]], _HEX[buffer[end + 2]]
        starred = (buffer[end] == _STAR) & ~long
        summed = starred & (high < 16) & (low < 16)
        before = np.zeros(len(buffer) + 1, np.uint8)  # exclusive or of all bytes before each
        np.bitwise_xor.accumulate(buffer, out=before[1:])
        ended = ((buffer[end] == _LF) | (buffer[end] == _CR)) & ~long
        reason = np.full(len(start), Reason.CUT_OFF, np.int8)
        reason[summed] = np.where(
            (before[end] ^ before[start + 1]) == (high * 16 + low), -1, Reason.CHECKSUM
        )[summed]
        reason[ended] = -1 if self.without_checksum else Reason.NO_CHECKSUM
        size = end - start + np.where(summed, 3, starred)
        # binary frames hold dollar signs too: what has not one comma was no sentence
        doubtful = np.flatnonzero((reason >= 0) & (kind == 0))
        none = np.searchsorted(commas, start[doubtful]) == np.searchsorted(commas, end[doubtful])
        real = np.ones(len(start), bool)
        real[doubtful[none]] = False
        return start[real], end[real], kind[real], reason[real], size[real]

    def _lost_starts(self, buffer, cut, start, size):
        """Start and size of what follows a ``GGA,`` outside all sentences: the rest of one."""
        places = np.flatnonzero(buffer[:-LONGEST] == _LETTER_G)
        for step, letter in enumerate(b"GA,", 1):
            places = places[buffer[places + step] == letter]
        place = np.searchsorted(start, places, "right") - 1
        inside = (start + size)[place] > places if len(start) else np.zeros(len(places), bool)
        lost = ~((place >= 0) & inside) & (places + self.offset >= self.covered) & (places < cut)
        if not lost.any():
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        ends = np.union1d(np.flatnonzero(_ENDS[buffer]), places)
        places = places[lost]
        return places, np.minimum(ends[np.searchsorted(ends, places, "right")] - places, LONGEST)

    def finish(self, size, day):
        """The log, dated and matched."""
        gga, gst, rmc, zda = (
            _joined(self.tables[kind], columns)
            for kind, columns in (
                (_GGA, _GGA_COLUMNS),
                (_GST, _GST_COLUMNS),
                (_RMC, _RMC_COLUMNS),
                (_ZDA, _ZDA_COLUMNS),
            )
        )
        seconds, dated_by = _dated(gga, gst, rmc, zda, day)
        match = _match(seconds[0], gga["talker"], seconds[1], gst["talker"])
        found = match >= 0
        sigmas = [
            (
                np.where(found, gst[name][match], np.nan)
                if len(gst["start"])
                else np.full(len(match), np.nan)
            )
            for name in ("sigma_latitude", "sigma_longitude", "sigma_altitude")
        ]
        epochs = Epochs(
            gga["line"],
            seconds[0],
            *(
                gga[name]
                for name in (
                    "latitude",
                    "longitude",
                    "quality",
                    "satellites",
                    "hdop",
                    "altitude",
                    "separation",
                    "age",
                    "station",
                )
            ),
            *sigmas,
        )
        columns = [np.concatenate(parts) for parts in zip(*self.rejected)] or [
            np.zeros(0, kind) for kind in (np.int64, np.int64, np.int64, np.int8, np.int8)
        ]
        order = np.argsort(columns[0], kind="stable")
        sentences = dict(
            zip(KINDS, (self.others, *(len(table["start"]) for table in (gga, gst, rmc, zda))))
        )
        times = _milliseconds(seconds[0])
        valid = rmc["valid"] & np.isfinite(seconds[2])
        alone = np.setdiff1d(_milliseconds(seconds[2][valid]), times)
        unmatched = int(
            np.count_nonzero(~np.isin(_milliseconds(seconds[1]), times[np.isfinite(seconds[0])]))
        )
        return Log(
            epochs,
            Rejected(*(column[order] for column in columns)),
            sentences,
            size,
            self.outside,
            dated_by,
            unmatched,
            len(alone),
        )


# Fields


class _Fields:
    """Fields of sentences of one kind, numbered from 1; `bad` gathers the rows that cannot be read.

    Parameters
    ----------
    buffer : ndarray of uint8
        With room behind the last sentence.
    commas : ndarray of int64
        Where they stand in the buffer.
    start, end : ndarray of int64, shape (n,)
    """

    def __init__(self, buffer, commas, start, end):
        self.buffer, self.end = buffer, end
        self.commas = np.append(commas, len(buffer))
        self.first = np.searchsorted(commas, start)
        self.count = np.searchsorted(commas, end) - self.first
        self.bad = np.zeros(len(start), bool)

    def need(self, fields):
        self.bad |= self.count < fields

    def span(self, number):
        """Start and length of a field; length 0 where it is empty or missing."""
        there = self.count >= number
        place = np.where(there, self.first + number - 1, 0)
        start = np.where(there, self.commas[place] + 1, self.end)
        stop = np.where(
            self.count > number, self.commas[np.minimum(place + 1, len(self.commas) - 1)], self.end
        )
        return start, np.where(there, stop - start, 0)

    def letter(self, number):
        """The one character of a field; 0 where it is empty, 255 where it is longer."""
        start, length = self.span(number)
        return np.where(length == 0, 0, np.where(length == 1, self.buffer[start], 255))

    def text(self, number):
        start, length = self.span(number)
        width = max(int(length.max(initial=1)), 1)
        letters = np.zeros((len(start), width), np.uint8)
        for place in range(width):
            inside = length > place
            letters[inside, place] = self.buffer[start[inside] + place]
        return letters.view(f"S{width}")[:, 0]

    def digits(self, number):
        """A decimal number as whole number and count of decimals, and whether it is negative and
        whether it is empty.

        The quotient of the two, with not more than 15 digits, is the double nearest to the text.
        Decimals beyond 17 digits are dropped.
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
        whole, decimals, negative, empty = self.digits(number)
        value = whole / _POWERS[decimals]
        return np.where(empty, np.nan, np.where(negative, -value, value))

    def integer(self, number):
        """Whole numbers up to 32767, -1 where the field is empty."""
        whole, decimals, negative, empty = self.digits(number)
        bad = (decimals > 0) | negative | (whole > 32767)
        self.bad |= bad
        return np.where(empty | bad, -1, whole).astype(np.int16)

    def time(self, number):
        """Seconds of the day from hhmmss.ss."""
        whole, decimals, negative, empty = self.digits(number)
        clock, hour_minute = _POWERS[decimals] * 100, whole // (_POWERS[decimals] * 100)
        second = (whole - hour_minute * clock) / _POWERS[decimals]
        hour, minute = hour_minute // 100, hour_minute % 100
        # 60: a leap second
        self.bad |= ~empty & (negative | (hour > 23) | (minute > 59) | (second >= 61.0))
        return np.where(empty, np.nan, hour * 3600 + minute * 60 + second)

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
        """A number whose unit, in the next field, can only be M."""
        unit = self.letter(number + 1)
        self.bad |= (unit != 0) & (unit != ord("M"))
        return self.number(number)

    def days(self, year, month, day, empty):
        """Days since 1970, -1 where there is no date."""
        right = (month >= 1) & (month <= 12) & (day >= 1) & (year >= 1970) & (year < 2200)
        first = (np.where(right, (year - 1970) * 12 + month - 1, 0)).astype("M8[M]")
        days = first.astype("M8[D]").astype(np.int64) + day - 1
        right &= days < (first + 1).astype("M8[D]").astype(np.int64)
        self.bad |= ~empty & ~right
        return np.where(empty | ~right, -1, days).astype(np.int32)


def _gga(fields):
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


def _gst(fields):
    fields.need(8)
    return {
        "tod": fields.time(1),
        "sigma_latitude": fields.number(6),
        "sigma_longitude": fields.number(7),
        "sigma_altitude": fields.number(8),
    }


def _rmc(fields):
    fields.need(9)
    whole, decimals, negative, empty = fields.digits(9)
    fields.bad |= negative | (decimals > 0)
    year = whole % 100
    year = np.where(year < 80, 2000, 1900) + year
    # receivers that have just been started fill in noughts
    days = fields.days(year, whole // 100 % 100, whole // 10000, empty | (whole == 0))
    position = (fields.span(3)[1] > 0) & (fields.span(5)[1] > 0)
    return {"tod": fields.time(1), "valid": (fields.letter(2) == ord("A")) & position, "days": days}


def _zda(fields):
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
_GGA_COLUMNS = {
    **_COMMON,
    **dict.fromkeys(("latitude", "longitude", "hdop", "altitude", "separation", "age"), float),
    "quality": np.int16,
    "satellites": np.int16,
    "station": "S1",
}
_GST_COLUMNS = {
    **_COMMON,
    **dict.fromkeys(("sigma_latitude", "sigma_longitude", "sigma_altitude"), float),
}
_RMC_COLUMNS = {**_COMMON, "days": np.int32, "valid": bool}
_ZDA_COLUMNS = {**_COMMON, "days": np.int32}


def _joined(tables, columns):
    """The blocks' tables as one; the blocks are let go column by column."""
    return {
        name: np.concatenate([table.pop(name) for table in tables]) if tables else np.zeros(0, kind)
        for name, kind in columns.items()
    }


# Dates and pairs


def _dated(gga, gst, rmc, zda, day):
    """UTC since 1970 of the rows of all four tables, and what it was told by."""
    tables = (gga, gst, rmc, zda)
    counts = [len(table["start"]) for table in tables]
    start, tod = (np.concatenate([table[name] for table in tables]) for name in ("start", "tod"))
    order = np.argsort(start, kind="stable")
    del start
    order = order[np.isfinite(tod[order])]
    time = tod[order]
    step = np.diff(time, prepend=time[:1])
    # midnights passed
    count = np.cumsum((step < -LATE).astype(np.int8) - (step > DAY - LATE), dtype=np.int32)
    del step
    days = np.concatenate([np.full(counts[0] + counts[1], -1, np.int32), rmc["days"], zda["days"]])[
        order
    ]
    dated = np.flatnonzero(days >= 0)
    seconds, told = np.full(len(tod), np.nan), ""
    if dated.size:
        shift, known = days[dated] - count[dated], (time + count * DAY)[dated]
        for low in range(0, len(time), 100_000):  # in pieces, to spare memory
            piece = slice(low, low + 100_000)
            running = time[piece] + count[piece] * DAY
            after = np.searchsorted(dated, np.arange(low, low + len(running)))
            prior = np.maximum(after - (days[piece] < 0), 0)  # a dated sentence is its own
            after = np.minimum(after, len(dated) - 1)
            nearer = np.where(
                np.abs(running - known[prior]) <= np.abs(known[after] - running), prior, after
            )
            time[piece] = running + shift[nearer] * DAY
        told = " and ".join(
            name
            for name, table in (("RMC", rmc), ("ZDA", zda))
            if (table["days"][np.isfinite(table["tod"])] >= 0).any()
        )
    elif np.isfinite(gga["tod"]).any():
        if day is None:
            raise UndatedError("no RMC and no ZDA sentence has a date")
        time += (count + (day.toordinal() - EPOCH)) * DAY
        told = "given"
    else:
        time[:] = np.nan
    seconds[order] = time
    bounds = np.cumsum([0, *counts]).tolist()
    return [seconds[low:high] for low, high in zip(bounds[:-1], bounds[1:])], told


def _milliseconds(seconds):
    """Whole milliseconds, by which times are compared; a negative number of its own for NaN."""
    return np.where(
        np.isfinite(seconds), np.rint(np.where(np.isfinite(seconds), seconds, 0.0) * 1000.0), -1e13
    ).astype(np.int64)


def _match(seconds, talker, other_seconds, other_talker):
    """For each row the row of the other table with the same time, that of the same talker first; -1
    for none."""
    match = np.full(len(seconds), -1, np.int64)
    usable = np.flatnonzero(np.isfinite(other_seconds))
    if not usable.size:
        return match
    mine, others = _milliseconds(seconds), _milliseconds(other_seconds[usable])
    for own, theirs in (
        (mine * 65536 + talker, others * 65536 + other_talker[usable]),
        (mine, others),
    ):
        keys, first = np.unique(theirs, return_index=True)
        place = np.minimum(np.searchsorted(keys, own), len(keys) - 1)
        hit = (keys[place] == own) & (match < 0) & np.isfinite(seconds)
        match[hit] = usable[first[place[hit]]]
    return match


def read_texts(stream, rejected, longest=200):
    """Yield the text of each rejected sentence, one line of printable characters.

    Parameters
    ----------
    stream : binary file
        The log, from its beginning.
    rejected : Rejected
    longest : int
        Characters given at most.
    """
    for start, length in zip(rejected.start.tolist(), rejected.length.tolist()):
        stream.seek(start)
        text = stream.read(min(length, longest)).decode("latin-1")
        yield "".join(
            letter if " " <= letter <= "~" else f"\\x{ord(letter):02x}" for letter in text
        )[:longest]
