"""What was read of a layer: positions, and an array for each field that was wanted."""

from dataclasses import dataclass, field

import numpy as np
from qgis.core import (
    QgsProcessingException,
)
from qgis.PyQt.QtCore import Qt

from ..host.fields import is_null, kind
from ..host.figures import translate
from .arrow import longest, shortened

_JULIAN_1970 = 2440588  # Julian day number of 1970-01-01
_MS_A_DAY = 86_400_000


def tr(text):
    return translate("Columns", text)


@dataclass(frozen=True)
class Column:
    """One field of all rows; arrays of shape (n,).

    Attributes
    ----------
    kind : str
        As `fields.kind` has it.
    values : ndarray
        bool, int64, float64, ``datetime64[ms]`` (the digits as stored) or text as UTF-8 bytes.
    missing : ndarray of bool
        True where the field is NULL, NaN or empty; `values` is then 0, NaN, NaT or empty.
    """

    kind: str
    values: np.ndarray
    missing: np.ndarray

    def numbers(self):
        """The values as floats, NaN where missing; only for bool, int and double. Not to be
        changed: doubles are not copied."""
        if self.kind == "double":
            return self.values  # NaN where missing already
        numbers = self.values.astype(float)
        numbers[self.missing] = np.nan
        return numbers

    def texts(self):
        """The values as an array of str, empty where missing."""
        if self.values.dtype.kind == "S":
            try:
                return self.values.astype(str)  # plain ASCII: six times as fast as decoding
            except UnicodeDecodeError:
                return np.char.decode(self.values, "utf-8", "replace")
        if self.kind == "bool":
            texts = np.where(self.values, "true", "false")
        else:
            texts = self.values.astype(str)
        return np.where(self.missing, "", texts)

    def factor(self):
        """Number the different values.

        Returns
        -------
        codes : ndarray of int64, shape (n,)
        different : Column
            The different values, sorted; ``different.texts()[codes]`` are the texts of the rows.
        """
        values = self.values
        size = len(values)
        if not size:
            return np.zeros(0, np.int64), self
        # Neighbouring rows mostly agree: sort only the first of each run of equal values.
        change = np.ones(size, bool)
        unlike = values[1:] != values[:-1]
        change[1:] = unlike | (self.missing[1:] != self.missing[:-1])
        first = np.flatnonzero(change)
        shown, absent = values[first], self.missing[first]
        unique, index = np.unique(shown[~absent], return_inverse=True)
        codes = np.zeros(len(first), np.int64)
        with_gap = bool(absent.any())
        codes[~absent] = index + with_gap  # a missing value sorts first
        filler = np.zeros(int(with_gap), values.dtype)
        different = Column(
            self.kind,
            np.concatenate([filler, unique]),
            np.arange(len(unique) + with_gap) < with_gap,
        )
        # each code as often as it stands there, in zeros: see `layer_stream._Filling`
        out = np.zeros(size, np.int64)
        out[first] = np.diff(codes, prepend=0)
        return np.cumsum(out, out=out), different

    def take(self, rows):
        return Column(self.kind, self.values[rows], self.missing[rows])


def refuse_no_numbers(column, layer, field_name, label):
    """Raise where a column that must hold metres is of a kind that holds no numbers.

    Parameters
    ----------
    column : Column
    layer, field_name, label : str
        Of the layer, the field and the parameter, for the message.

    Raises
    ------
    QgsProcessingException
    """
    if column.kind in ("bool", "date", "datetime", "time"):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no numbers, but “{}” needs metres. Choose a numeric"
                " field, or leave it empty."
            ).format(layer, field_name, label)
        )


@dataclass(frozen=True)
class Rows:
    """What was read of a layer; arrays of shape (n,).

    Attributes
    ----------
    ids : ndarray of int64
        Feature id of each row: a point feature has one row, a line feature one for each vertex.
    x, y, z, m : ndarray of float
        As stored; NaN where absent. `m` is read of lines only: NaN, and read-only, for points.
    parts : ndarray of int
        Number of points in the geometry: 0 for none, more than 1 for a multi-point (then without
        position).
    part : ndarray of int64
        Number of the part of a multi-part line that the vertex belongs to, from 0.
    columns : dict of str to Column
    way : str
        ``arrow`` or ``features``.
    without_vertices : int
        Number of line features that have no vertex, and so no row.
    """

    ids: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    m: np.ndarray
    parts: np.ndarray
    part: np.ndarray
    columns: dict = field(default_factory=dict)
    way: str = "features"
    without_vertices: int = 0

    def __len__(self):
        return len(self.ids)


def make_column(what, values, missing):
    """Bring one field's values, an array that nobody else needs, into the form that `Column`
    promises."""
    if what == "bool":
        values, neutral = values.astype(bool, copy=False), False
    elif what == "int":
        values, neutral = values.astype(np.int64, copy=False), 0
    elif what == "double":
        values, neutral = values.astype(float, copy=False), np.nan
        missing = missing | np.isnan(values)
    elif what in ("date", "datetime"):
        values, neutral = values.astype("M8[ms]", copy=False), np.datetime64("NaT")
        missing = missing | np.isnat(values)
    else:
        values, neutral = (values if values.dtype.kind == "S" else np.zeros(len(values), "S1")), b""
        missing = missing | (values == b"")
    if missing.any():
        values[missing] = neutral
    return Column(what, values, missing)


def columns_of_lists(source, names, lists):
    """`Column`s by name from the values that the features of a source gave."""
    fields = source.fields()
    columns = {}
    for name, values in zip(names, lists):
        what = kind(fields.at(fields.lookupField(name)))
        columns[name] = column_of_list(what, values)
    return columns


def column_of_list(what, values):
    """A `Column` of the kind `what` from values as features give them."""
    missing = np.fromiter(map(is_null, values), bool, len(values))
    if what in ("bool", "int", "double"):
        filled = [0 if gone else value for value, gone in zip(values, missing.tolist())]
        array = np.array(filled, {"bool": bool, "int": np.int64, "double": float}[what])
    elif what in ("date", "datetime"):
        array = np.fromiter(
            (
                0 if gone else milliseconds_of(value)
                for value, gone in zip(values, missing.tolist())
            ),
            np.int64,
            len(values),
        )
        array = array.view("M8[ms]")
    else:
        limit = longest(len(values))
        texts = [
            b"" if gone else shortened(_text(value).encode("utf-8", "replace"), limit)
            for value, gone in zip(values, missing.tolist())
        ]
        array = np.array(texts, "S") if texts else np.zeros(0, "S1")
    return make_column(what, array, missing)


def _text(value):
    if isinstance(value, str):
        return value
    if hasattr(value, "toString"):  # QTime and the like
        return value.toString(Qt.DateFormat.ISODateWithMs).replace(".000", "")
    return str(value)


NOT_A_TIME = np.datetime64("NaT").astype(np.int64).item()


def milliseconds_of(value):
    """Milliseconds since 1970 of a QDate or QDateTime.

    Digits without a zone are taken as UTC: QGIS up to 3.36 reads a UTC time of a file as a local
    one, and a local time that does not exist (the hour that summer time skips) still holds its
    digits.
    """
    if not hasattr(value, "time"):
        return (value.toJulianDay() - _JULIAN_1970) * _MS_A_DAY if value.isValid() else NOT_A_TIME
    if value.timeSpec() in (Qt.TimeSpec.LocalTime, Qt.TimeSpec.UTC):
        day, time = value.date(), value.time()
        if not day.isValid() or not time.isValid():
            return NOT_A_TIME
        return (day.toJulianDay() - _JULIAN_1970) * _MS_A_DAY + time.msecsSinceStartOfDay()
    return value.toMSecsSinceEpoch() if value.isValid() else NOT_A_TIME
