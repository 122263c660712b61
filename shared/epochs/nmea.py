"""Epochs from logs of NMEA 0183 sentences, read in blocks.

A block is searched as one array of bytes, so that sentences are found wherever they are: after a
logger's time stamp, between a receiver's binary frames, after CR and LF, LF alone or nothing. There
is no Python loop over sentences.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from ..tuning import NMEA
from .nmea_dates import date_sentences, days_of, match_times, whole_milliseconds
from .nmea_fields import COLUMNS, GGA, GST, KINDS, PARSERS, RMC, ZDA, Fields

_DOLLAR, _STAR, _COMMA, _LF, _CR, _PROPRIETARY, _LETTER_G = b"$*,\n\rPG"
# exact: codes of printable characters; all others cannot stand inside a sentence
_ENDS = np.ones(256, bool)
# exact: as above
_ENDS[32:127] = False
_ENDS[[_DOLLAR, _STAR]] = True
# exact: codes of digits and capital letters
_WORD = np.zeros(256, bool)
# exact: as above
_WORD[[*range(48, 58), *range(65, 91)]] = True
# exact: value of a hexadecimal digit by its code, 255 for no digit
_HEX = np.full(256, 255, np.uint8)
# exact: as above
for _digits, _start in ((b"0123456789", 0), (b"ABCDEF", 10), (b"abcdef", 10)):
    _HEX[list(_digits)] = np.arange(_start, _start + len(_digits))
_FOLLOWING = 8  # exact: room for the star, the checksum and the ends of a line


class SentenceReason(IntEnum):
    """Why a sentence was rejected."""

    CHECKSUM = 0
    NO_CHECKSUM = 1
    CUT_OFF = 2
    NO_START = 3
    UNREADABLE = 4


SENTENCE_REASON_NAMES = tuple(reason.name.lower() for reason in SentenceReason)


@dataclass(frozen=True)
class Epochs:
    """One row for each GGA sentence, in the order of the file.

    Attributes
    ----------
    line : ndarray of int64, shape (n,)
        Line of the file, from 1.
    seconds : ndarray of float, shape (n,)
        UTC since 1970. Here and below, NaN if the receiver left the field empty.
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
        From the GST sentence of the same time, 1-sigma, metres; NaN for none. The orientation of
        the error ellipse is not used, as manufacturers measure it from different axes.
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
        Place in the file, bytes.
    line : ndarray of int64
    kind : ndarray of int8
        Place in `KINDS`.
    reason : ndarray of int8
        A `SentenceReason`.
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
    """Contents of a log.

    Attributes
    ----------
    epochs : Epochs
    rejected : Rejected
    sentences : dict of str to int
        Number of valid sentences by kind (`KINDS`); those called other are not needed here.
    size, rubbish : int
        Bytes of the log, and those that belong to no sentence: binary frames, loggers' own text.
    dated_by : str
        ``RMC``, ``ZDA``, ``RMC and ZDA``, ``given``, or empty if no time needed a date.
    unmatched : int
        GST sentences without a GGA of the same time.
    rmc_only : int
        Valid positions of RMC at times without GGA. They have neither height nor quality and are
        not used.
    redated : int
        Dates that disagree with the running time and are taken as wrong.
    """

    epochs: Epochs
    rejected: Rejected
    sentences: dict
    size: int
    rubbish: int
    dated_by: str
    unmatched: int
    rmc_only: int
    redated: int = 0


def checksum(text):
    """Checksum of a sentence.

    Parameters
    ----------
    text : bytes
        The bytes between ``$`` and ``*``.

    Returns
    -------
    str
        The exclusive or of the bytes, as two hexadecimal digits.
    """
    value = 0
    for byte in text:
        value ^= byte
    return f"{value:02X}"


def read_log(stream, day=None, without_checksum=False, progress=None, block=None):
    """Read a log.

    Parameters
    ----------
    stream : binary file
        Read from its present position to its end.
    day : datetime.date, optional
        Date of the first time in the log, used only if neither RMC nor ZDA has one.
    without_checksum : bool
        Accept sentences without a checksum. A wrong checksum is never accepted.
    progress : callable, optional
        Called after each block with the number of bytes read; it may raise to stop the work.
    block : int, optional
        Bytes read at once; `NMEA.block` by default.

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
    is read is not a number or out of range. Every ``GGA,`` in the log is in an epoch, in a rejected
    sentence or inside another valid sentence.

    Dates come from the RMC or ZDA sentence that is nearest in time, before or after. Between them
    time only increases: where the time of day falls, midnight has passed, except for sentences up
    to a minute late.
    """
    finder = _Finder(without_checksum)
    carried, read = b"", 0
    while True:
        piece = stream.read(block or NMEA.block)
        read += len(piece)
        last = not piece
        carried = finder.take(carried + piece, last)
        if progress is not None:
            progress(read)
        if last:
            return finder.finish(read, day)


class _Finder:
    """Finds sentences block by block and collects their values."""

    def __init__(self, without_checksum):
        self.without_checksum = without_checksum
        self.offset, self.lines, self.covered, self.others, self.outside = 0, 0, 0, 0, 0
        self.tables = {kind: [] for kind in (GGA, GST, RMC, ZDA)}
        self.rejected = []

    def take(self, data, last):
        """Read the sentences that start in `data`; returns the end of it that may continue in the
        next block."""
        cut = len(data) if last else max(len(data) - NMEA.longest, 0)
        if not cut:
            return data
        buffer = np.frombuffer(data + bytes(2 * NMEA.longest), np.uint8)
        newlines = np.flatnonzero(buffer[:cut] == _LF)
        commas = np.flatnonzero(buffer == _COMMA)
        start, end, kind, reason, size = self._sentences(buffer, commas, cut)
        for one, parse in PARSERS.items():
            rows = np.flatnonzero((kind == one) & (reason < 0))
            if rows.size:
                fields = Fields(buffer, commas, start[rows], end[rows])
                table = parse(fields)
                reason[rows[fields.bad]] = SentenceReason.UNREADABLE
                table["start"] = start[rows] + self.offset
                table["line"] = self.lines + 1 + np.searchsorted(newlines, start[rows])
                # exact: two bytes as one number
                table["talker"] = (
                    buffer[start[rows] + 1].astype(np.int32) * 256 + buffer[start[rows] + 2]
                )
                self.tables[one].append(
                    {name: values[~fields.bad] for name, values in table.items()}
                )
        self.others += int(np.count_nonzero((kind == 0) & (reason < 0)))
        lost, lost_size = self._lost_starts(buffer, cut, start, size)
        bad = reason >= 0
        no_start = np.full(len(lost), SentenceReason.NO_START, np.int8)
        self._reject(newlines, start[bad], size[bad], kind[bad], reason[bad])
        self._reject(newlines, lost, lost_size, np.full(len(lost), GGA, np.int8), no_start)
        self.outside -= int(size.sum() + lost_size.sum())
        self.outside += cut - len(newlines) - int(np.count_nonzero(buffer[:cut] == _CR))
        if len(start):
            self.covered = self.offset + int(start[-1] + size[-1])
        self.lines += len(newlines)
        self.offset += cut
        return data[cut:]

    def _reject(self, newlines, start, size, kind, reason):
        """Record sentences of this block that cannot be used."""
        if len(start):
            line = self.lines + 1 + np.searchsorted(newlines, start)
            self.rejected.append((start + self.offset, size, line, kind, reason))

    def _sentences(self, buffer, commas, cut):
        """Sentences that start before `cut`: start, end of their fields, kind, reason (-1 for
        none), size."""
        ends = np.flatnonzero(_ENDS[buffer])
        dollar = np.flatnonzero(buffer[ends] == _DOLLAR)
        dollar = dollar[ends[dollar] < cut]
        start = ends[dollar]
        word = _WORD[buffer[start + 1]]
        for step in (2, 3, 4):  # the shortest addresses, proprietary ones, have four letters
            word &= _WORD[buffer[start + step]]
        start, end = start[word], ends[dollar[word] + 1]
        long = end - start > NMEA.longest - _FOLLOWING
        end[long] = start[long] + NMEA.longest - _FOLLOWING
        kind = _kinds(buffer, start)
        reason, size = self._checked(buffer, start, end, long)
        # binary frames contain dollar signs too: without any comma it was no sentence
        doubtful = np.flatnonzero((reason >= 0) & (kind == 0))
        none = np.searchsorted(commas, start[doubtful]) == np.searchsorted(commas, end[doubtful])
        real = np.ones(len(start), bool)
        real[doubtful[none]] = False
        return start[real], end[real], kind[real], reason[real], size[real]

    # exact: values of hexadecimal digits
    def _checked(self, buffer, start, end, long):
        """Reason (-1 for none) and size of sentences from their ends and checksums; `long`: those
        that are cut off."""
        high, low = _HEX[buffer[end + 1]], _HEX[buffer[end + 2]]
        starred = (buffer[end] == _STAR) & ~long
        summed = starred & (high < 16) & (low < 16)
        before = np.zeros(len(buffer) + 1, np.uint8)  # exclusive or of all bytes before each
        np.bitwise_xor.accumulate(buffer, out=before[1:])
        ended = ((buffer[end] == _LF) | (buffer[end] == _CR)) & ~long
        reason = np.full(len(start), SentenceReason.CUT_OFF, np.int8)
        reason[summed] = np.where(
            (before[end] ^ before[start + 1]) == (high * 16 + low), -1, SentenceReason.CHECKSUM
        )[summed]
        reason[ended] = -1 if self.without_checksum else SentenceReason.NO_CHECKSUM
        return reason, end - start + np.where(summed, 3, starred)

    def _lost_starts(self, buffer, cut, start, size):
        """Start and size of the rests of sentences: what follows a ``GGA,`` outside all
        sentences."""
        places = np.flatnonzero(buffer[: -NMEA.longest] == _LETTER_G)
        for step, letter in enumerate(b"GA,", 1):
            places = places[buffer[places + step] == letter]
        place = np.searchsorted(start, places, "right") - 1
        inside = (start + size)[place] > places if len(start) else np.zeros(len(places), bool)
        lost = ~((place >= 0) & inside) & (places + self.offset >= self.covered) & (places < cut)
        if not lost.any():
            return np.zeros(0, np.int64), np.zeros(0, np.int64)
        ends = np.union1d(np.flatnonzero(_ENDS[buffer]), places)
        places = places[lost]
        return places, np.minimum(
            ends[np.searchsorted(ends, places, "right")] - places, NMEA.longest
        )

    def finish(self, size, day):
        """The result: a log of `size` bytes, dated and matched."""
        tables = {kind: _joined(self.tables[kind], COLUMNS[kind]) for kind in COLUMNS}
        gga, gst, rmc, zda = (tables[kind] for kind in (GGA, GST, RMC, ZDA))
        seconds, dated_by = date_sentences(gga, gst, rmc, zda, day)
        columns = [np.concatenate(parts) for parts in zip(*self.rejected)] or [
            np.zeros(0, kind) for kind in (np.int64, np.int64, np.int64, np.int8, np.int8)
        ]
        order = np.argsort(columns[0], kind="stable")
        sentences = (self.others, *(len(table["start"]) for table in (gga, gst, rmc, zda)))
        times = whole_milliseconds(seconds[0])
        valid = rmc["valid"] & np.isfinite(seconds[2])
        alone = np.setdiff1d(whole_milliseconds(seconds[2][valid]), times)
        matched = np.isin(whole_milliseconds(seconds[1]), times[np.isfinite(seconds[0])])
        return Log(
            epochs=_epochs(gga, gst, seconds),
            rejected=Rejected(*(column[order] for column in columns)),
            sentences=dict(zip(KINDS, sentences)),
            size=size,
            rubbish=self.outside,
            dated_by=dated_by,
            unmatched=int(np.count_nonzero(~matched)),
            rmc_only=len(alone),
            redated=sum(
                int(
                    np.count_nonzero(
                        (table["days"] >= 0) & (days_of(own) != table["days"]) & np.isfinite(own)
                    )
                )
                for table, own in zip((rmc, zda), seconds[2:])
            ),
        )


# exact: letters of an address, as one number
def _kinds(buffer, start):
    """Kind of each sentence, shape (n,) of int8, from the last three letters of its address."""
    code = sum(
        buffer[start + place].astype(np.int32) << shift
        for place, shift in ((3, 16), (4, 8), (5, 0))
    )
    kind = np.zeros(len(start), np.int8)
    for number, name in enumerate(KINDS[1:], 1):
        kind[code == int.from_bytes(name.encode(), "big")] = number
    # with a damaged comma the kind is unknown
    kind[_WORD[buffer[start + 6]] | (buffer[start + 1] == _PROPRIETARY)] = 0
    return kind


def _epochs(gga, gst, seconds):
    """Epochs from GGA sentences, with the sigmas of the GST sentences of the same time."""
    match = match_times(seconds[0], gga["talker"], seconds[1], gst["talker"])
    found = match >= 0

    def sigma(name):
        if not len(gst["start"]):
            return np.full(len(match), np.nan)
        return np.where(found, gst[name][match], np.nan)

    names = ("latitude", "longitude", "quality", "satellites", "hdop")
    names += ("altitude", "separation", "age", "station")
    return Epochs(
        line=gga["line"],
        seconds=seconds[0],
        sigma_latitude=sigma("sigma_latitude"),
        sigma_longitude=sigma("sigma_longitude"),
        sigma_altitude=sigma("sigma_altitude"),
        **{name: gga[name] for name in names},
    )


def _joined(tables, columns):
    """The tables of all blocks as one; their columns are released one by one."""
    return {
        name: np.concatenate([table.pop(name) for table in tables]) if tables else np.zeros(0, kind)
        for name, kind in columns.items()
    }


# exact: a line of a log
def read_texts(stream, rejected, longest=200):
    """Text of each rejected sentence, one line of printable characters.

    Parameters
    ----------
    stream : binary file
        The log, from its beginning.
    rejected : Rejected
    longest : int
        Maximum number of characters of a text.

    Yields
    ------
    str
    """
    for start, length in zip(rejected.start.tolist(), rejected.length.tolist()):
        stream.seek(start)
        text = stream.read(min(length, longest)).decode("latin-1")
        yield "".join(
            letter if " " <= letter <= "~" else f"\\x{ord(letter):02x}" for letter in text
        )[:longest]
