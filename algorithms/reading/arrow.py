"""Batches of GDAL's Arrow stream as arrays, by the Arrow C data interface.

GDAL's own way to NumPy makes a Python object of each geometry, which takes half as long as reading;
here a column is a view of the stream's memory. The structures are those of Apache Arrow, "The Arrow
C data interface" (an ABI that does not change).
"""

import ctypes
import hashlib
from dataclasses import dataclass

import numpy as np

from ..host.watching import awaited, listening, started


class UnreadableError(Exception):
    """The stream holds a column of a kind that is not read here, or GDAL does not let it be
    reached."""


class _Schema(ctypes.Structure):
    pass


class _Array(ctypes.Structure):
    pass


_Schema._fields_ = [
    ("format", ctypes.c_char_p),
    ("name", ctypes.c_char_p),
    ("metadata", ctypes.c_void_p),
    ("flags", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("children", ctypes.POINTER(ctypes.POINTER(_Schema))),
]
_Array._fields_ = [
    ("length", ctypes.c_int64),
    ("null_count", ctypes.c_int64),
    ("offset", ctypes.c_int64),
    ("n_buffers", ctypes.c_int64),
    ("n_children", ctypes.c_int64),
    ("buffers", ctypes.POINTER(ctypes.c_void_p)),
    ("children", ctypes.POINTER(ctypes.POINTER(_Array))),
]
_PLAIN = {
    "c": "i1",
    "C": "u1",
    "s": "i2",
    "S": "u2",
    "i": "i4",
    "I": "u4",
    "l": "i8",
    "L": "u8",
    "f": "f4",
    "g": "f8",
}
_MOMENTS = {"tss": "M8[s]", "tsm": "M8[ms]", "tsu": "M8[us]", "tsn": "M8[ns]"}
_OFFSETS = {"u": "i4", "z": "i4", "U": "i8", "Z": "i8"}
_BITS, _DAYS = "b", "tdD"


LONGEST, ROOM = 256, 1 << 26  # bytes that any text may have, and that all of a batch may take
EMPTY = 1000  # batches without a row, one after the other, that no whole file gives


def longest(rows):
    """Bytes that a text may have: each row has room for the longest one."""
    return max(LONGEST, ROOM // max(rows, 1))


def shortened(text, limit):
    """A text of at most `limit` bytes: a longer one ends in a hash, so that different texts stay
    different.

    Parameters
    ----------
    text : bytes
        UTF-8.
    limit : int

    Returns
    -------
    bytes
    """
    if len(text) <= limit:
        return text
    mark = b"... " + hashlib.blake2b(text, digest_size=8).hexdigest().encode()
    return text[: limit - len(mark)].decode("utf-8", "ignore").encode() + mark


@dataclass(frozen=True)
class Ragged:
    """Bytes of each row: `data`, flat, shape (bytes,), and how many of them each row has, shape
    (n,)."""

    data: np.ndarray
    lengths: np.ndarray

    def without(self, rows):
        """The same with no bytes in some rows (mask)."""
        if not self.lengths[rows].any():
            return self
        return Ragged(self.data[~np.repeat(rows, self.lengths)], np.where(rows, 0, self.lengths))

    def texts(self):
        """An array of ``S``; long texts as `shortened` has them."""
        if not len(self.lengths):
            return np.zeros(0, "S1")
        limit = longest(len(self.lengths))
        long = self.lengths > limit
        if long.any():
            found = self.without(long).texts().astype(f"S{limit}")
            ends = np.cumsum(self.lengths)
            for row in np.flatnonzero(long).tolist():
                start = ends[row] - self.lengths[row]
                found[row] = shortened(self.data[start : ends[row]].tobytes(), limit)
            return found
        width = max(int(self.lengths.max()), 1)
        if (self.lengths == width).all():
            return np.frombuffer(self.data.tobytes(), f"S{width}")
        flat = np.zeros((len(self.lengths), width), np.uint8)
        flat[np.arange(width) < self.lengths[:, None]] = self.data
        return flat.view(f"S{width}")[:, 0]


def batches(table, feedback, data=None):
    """Yield the columns of each batch of a layer, by name.

    Parameters
    ----------
    table : osgeo.ogr.Layer
    feedback : QgsFeedback
    data : osgeo.gdal.Dataset
        Of the layer: held until a batch that is being read has come, whoever stops listening.

    Yields
    ------
    dict of str to tuple
        Values, an array or a `Ragged` for texts and geometries, and which of them are missing, a
        mask. They are views: good until the next batch is asked for.

    Raises
    ------
    UnreadableError
        As a rule before the first batch.
    CancelledError
    """
    if not hasattr(table, "GetArrowStream"):
        raise UnreadableError
    stream = table.GetArrowStream()
    schema = stream and stream.GetSchema()
    if not schema:
        raise UnreadableError
    top = _at(schema, _Schema)
    columns = [
        (column.name.decode(), column.format.decode())
        for column in (top.children[number].contents for number in range(top.n_children))
    ]
    if not all(
        kind in (*_PLAIN, *_OFFSETS, _BITS, _DAYS) or kind.split(":")[0] in _MOMENTS
        for _, kind in columns
    ):
        raise UnreadableError
    # the next one is read while what has been read is looked at
    empty, coming = 0, started(lambda: _next(stream, data))
    while (batch := awaited(coming, feedback)) is not None:
        coming = started(lambda: _next(stream, data))
        rows = _at(batch, _Array)
        empty = 0 if rows.length else empty + 1
        if rows.offset or empty > EMPTY:
            raise UnreadableError
        yield {
            name: _column(rows.children[number].contents, kind)
            for number, (name, kind) in enumerate(columns)
        }


def _next(stream, _):
    """The next batch, None at the end; UnreadableError where GDAL says that something is wrong, as
    it gives empty batches then and never ends."""
    with listening() as said:
        batch = stream.GetNextRecordBatch()
    if said:
        raise UnreadableError(said[0])
    return batch


def _at(proxy, structure):
    """The structure behind an object of GDAL's."""
    if not hasattr(proxy, "_getPtr"):
        raise UnreadableError
    return structure.from_address(int(proxy._getPtr()))


def _memory(address, kind, start, size):
    """Values of a buffer; `address` is None where there are none."""
    kind = np.dtype(kind)
    if not size or not address:
        return np.zeros(0, kind)
    return np.frombuffer(
        (ctypes.c_char * (size * kind.itemsize)).from_address(address + start * kind.itemsize), kind
    )


def _bits(address, start, size):
    """Values of a buffer that has one bit for each."""
    bits = np.unpackbits(_memory(address, np.uint8, 0, -(-(start + size) // 8)), bitorder="little")
    return bits[start : start + size].astype(bool)


def _column(column, kind):
    start, size, buffers = column.offset, column.length, column.buffers
    missing = (
        ~_bits(buffers[0], start, size)
        if column.null_count and buffers[0]
        else np.zeros(size, bool)
    )
    if kind == _BITS:
        return _bits(buffers[1], start, size), missing
    if kind in _OFFSETS:
        offsets = _memory(buffers[1], _OFFSETS[kind], start, size + 1)
        first, last = (int(offsets[0]), int(offsets[-1])) if size else (0, 0)
        return (
            Ragged(
                _memory(buffers[2], np.uint8, first, last - first),
                np.diff(offsets).astype(np.int64),
            ),
            missing,
        )
    if kind == _DAYS:
        return _memory(buffers[1], "i4", start, size).astype("M8[D]"), missing
    return (
        _memory(buffers[1], _MOMENTS.get(kind.split(":")[0]) or _PLAIN[kind], start, size),
        missing,
    )
