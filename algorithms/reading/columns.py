"""Layers into arrays: by GDAL's Arrow stream where the layer is a file, else feature by feature.

Both ways give identical arrays. Only the columns that are wanted are read.
"""

from dataclasses import dataclass, field
from functools import partial

import numpy as np
from osgeo import gdal
from qgis.core import (
    QgsFeatureRequest,
    QgsFields,
    QgsProcessingException,
    QgsProcessingFeatureSource,
    QgsProcessingFeatureSourceDefinition,
    QgsProviderRegistry,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import Qt

from ..host.feedback import ROWS_PER_LOOK, looked_through, raise_if_cancelled
from ..host.fields import is_null, kind
from ..host.figures import translate
from ..host.watching import awaited, listening, open_file, started
from .arrow import Ragged, UnreadableError, batches, longest, shortened
from .wkb import points_of_ragged, points_of_wkb, vertices_of_line

AT_ONCE = 250_000  # points whose bytes are parsed at once
NO_VALIDITY_CHECK = QgsProcessingFeatureSource.Flag.FlagSkipGeometryValidityChecks
NO_FILTER = QgsFeatureRequest.FilterType.FilterNone
_JULIAN_1970 = 2440588  # Julian day number of 1970-01-01
_MS_A_DAY = 86_400_000


def tr(text):
    return translate("Columns", text)


class CannotStreamError(Exception):
    """The Arrow stream cannot give what is wanted; the features must be read one by one."""


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
        # each code as often as it stands there, in zeros: see `_Filling`
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


@dataclass(frozen=True)
class File:
    """The file behind a layer, whose stream can stand for the layer's features.

    Attributes
    ----------
    path : str
    layer_name : str or None
    layer_number : int or None
    subset : str
        Filter of the layer.
    own_fields : frozenset of str
        Fields that come from the file, not from joins or expressions.
    """

    path: str
    layer_name: str
    layer_number: int
    subset: str
    own_fields: frozenset


def is_whole(definition):
    """True where an input parameter asks for a whole layer: no selection, limit or filter."""
    return not isinstance(definition, QgsProcessingFeatureSourceDefinition) or not (
        definition.selectedFeaturesOnly
        or definition.featureLimit >= 0
        or getattr(definition, "filterExpression", "")
    )


def file_behind(layer, definition):
    """The file that can be streamed in place of a layer.

    Parameters
    ----------
    layer : QgsVectorLayer or None
        Looked at here alone: call this in the thread that the layer lives in.
    definition : object
        Value of the input parameter.

    Returns
    -------
    File or None
        None where only the features tell what the layer holds: no file, changes not yet saved, a
        selection...
    """
    if (
        layer is None
        or layer.providerType() != "ogr"
        or layer.isModified()
        or not is_whole(definition)
    ):
        return None
    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    subset = layer.subsetString()
    if (
        not parts.get("path")
        or "|" in parts["path"]
        or subset.lstrip().lower().startswith("select")
    ):
        return None
    # part of a file, or a file read in a special way
    if any(parts.get(key) for key in ("vsiPrefix", "openOptions", "geometryType")):
        return None
    fields = layer.fields()
    own = frozenset(
        fields.at(index).name()
        for index in range(len(fields))
        if fields.fieldOrigin(index) == QgsFields.FieldOrigin.OriginProvider
    )
    number = parts.get("layerId")
    return File(
        parts["path"],
        parts.get("layerName") or None,
        None if number is None else int(number),
        subset,
        own,
    )


def read_rows(source, file, names, feedback, progress):
    """Read geometry and some fields of a point or line source.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    file : File or None
        From `file_behind`.
    names : sequence of str
        Fields to read; each must be in the source.
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    Rows
        In the order of the source's features.

    Raises
    ------
    CancelledError
    """
    names = list(dict.fromkeys(names))
    points = QgsWkbTypes.geometryType(source.wkbType()) == QgsWkbTypes.GeometryType.PointGeometry
    if points and file is not None:
        try:
            return _read_stream(file, source, names, feedback, progress)
        except CannotStreamError:
            pass  # the features give the same, only more slowly
    return (_read_points if points else _read_lines)(source, names, feedback, progress)


# Arrow stream


def _read_stream(file, source, names, feedback, progress):
    fields = source.fields()
    kinds = {name: kind(fields.at(fields.lookupField(name))) for name in names}
    data, table = open_stream(file, kinds)
    expected = source.featureCount()  # less than 0 where nobody knows
    filling = _StreamFilling(table, kinds, max(expected, 1))
    names = [name for name, what in kinds.items() if what == "datetime"]
    # a look through all rows for zones takes as long as reading them
    zones = started(partial(_has_offsets, file.path, table.GetName(), names))
    try:
        for batch in batches(table, feedback, data):
            raise_if_cancelled(feedback)
            filling.add(batch)
            if 0 <= expected < filling.ids.used:
                raise CannotStreamError  # of a damaged file, batches come without end
            progress(min(filling.ids.used / max(expected, 1), 1.0))
        # a stream that breaks off ends like any other one
        short = 0 <= expected != filling.ids.used
        if awaited(zones, feedback) or short or filling.repeats():
            raise CannotStreamError
    except (RuntimeError, UnreadableError) as error:
        raise CannotStreamError from error
    finally:
        del data  # the table is no longer read: its dataset may go
    return filling.rows()


def open_stream(file, kinds):
    """The dataset and its table, set to give some fields; CannotStreamError where it cannot give
    them as the features do."""
    old_gdal = int(gdal.VersionInfo("VERSION_NUM")) < 3100000
    for name, what in kinds.items():
        # GDAL 3.6 reads True as False after a NULL
        if (
            name not in file.own_fields
            or what in ("time", "other")
            or (what == "bool" and old_gdal)
        ):
            raise CannotStreamError
    data = open_file(file.path)
    if data is None or (
        file.layer_name is None and file.layer_number is None and data.GetLayerCount() != 1
    ):
        raise CannotStreamError
    table = (
        data.GetLayerByName(file.layer_name)
        if file.layer_name
        else data.GetLayer(file.layer_number or 0)
    )
    if table is None or table.GetLayerDefn().GetGeomFieldCount() != 1:
        raise CannotStreamError
    definition = table.GetLayerDefn()
    in_file = {
        definition.GetFieldDefn(place).GetName() for place in range(definition.GetFieldCount())
    }
    for name, what in kinds.items():
        if name not in in_file and name != id_column(table):
            raise CannotStreamError
        if what == "datetime" and data.GetDriver().ShortName != "GPKG":
            raise CannotStreamError  # the stream drops the zone
    if file.subset and table.SetAttributeFilter(file.subset) != 0:
        raise CannotStreamError
    table.SetIgnoredFields([name for name in in_file if name not in kinds])
    return data, table


def id_column(table):
    """Name of the column with the feature ids of a layer of GDAL's, as its SQL takes it."""
    return table.GetFIDColumn() or "OGC_FID"


class _StreamFilling:
    """What a stream gives, batch by batch, into `Rows`.

    Parameters
    ----------
    table : ogr.Layer
    kinds : dict of str to str
        Kind of each field, by name.
    total : int
        Rows that are expected.
    """

    def __init__(self, table, kinds, total):
        self.kinds, self.id_column = kinds, id_column(table)
        self.geometry = table.GetGeometryColumn() or "wkb_geometry"
        self.ids, self.coordinates = _Filling(total), [_Filling(total) for _ in range(4)]
        self.values, self.masks = ({name: _Filling(total) for name in kinds} for _ in range(2))

    def add(self, batch):
        """Take one batch of the stream."""
        if self.geometry not in batch or self.id_column not in batch:
            raise CannotStreamError
        self.ids.add(batch[self.id_column][0])
        blobs, null = batch[self.geometry]
        x, y, z, _, parts = points_of_ragged(blobs.without(null))
        for filling, column in zip(self.coordinates, (x, y, z, parts)):
            filling.add(column)
        for name in self.kinds:
            column, missing = batch[name]
            self.values[name].add(column.texts() if isinstance(column, Ragged) else column)
            self.masks[name].add(missing)

    def repeats(self):
        """Whether rows share an id, as those of a view without row ids do: the features number
        theirs."""
        ids = self.ids.whole()
        return bool((np.diff(ids) <= 0).any()) and len(np.unique(ids)) < len(ids)

    def rows(self):
        """All that was taken; to be asked for once."""
        columns = {
            name: make_column(
                what,
                self.values.pop(name).whole(),
                self.masks.pop(name).whole().astype(bool, copy=False),
            )
            for name, what in self.kinds.items()
        }
        x, y, z, parts = (filling.whole() for filling in self.coordinates)
        return Rows(
            ids=self.ids.whole().astype(np.int64, copy=False),
            x=x,
            y=y,
            z=z,
            m=np.broadcast_to(np.nan, self.ids.used),
            parts=parts,
            part=np.zeros(self.ids.used, np.int64),
            columns=columns,
            way="arrow",
        )


class _Filling:
    """An array that is filled block by block: a list of blocks that are joined at the end would
    need twice the memory.

    It starts as zeros, which the system gives anyway: for other arrays numpy asks for huge pages,
    which take two to four times as long to come where a virtual machine gets its memory page by
    page, and no less time elsewhere.
    """

    def __init__(self, size):
        self.array, self.size, self.used = None, size, 0

    def add(self, block):
        end = self.used + len(block)
        kind = block.dtype if self.array is None else np.result_type(self.array.dtype, block.dtype)
        if self.array is None or kind != self.array.dtype or end > len(self.array):
            old, self.array = (
                self.array,
                np.zeros(max(self.size, end if self.array is None else 2 * end), kind),
            )
            if self.used:
                self.array[: self.used] = old[: self.used]
        self.array[self.used : end] = block
        self.used = end

    def whole(self):
        return np.zeros(0) if self.array is None else self.array[: self.used]


def quote(name):
    """A name as SQL has it."""
    return '"' + name.replace('"', '""') + '"'


def _has_offsets(path, table, names):
    """True where a date-time in a GeoPackage carries a zone other than UTC, as newer GDAL may
    write."""
    if not names:
        return False
    # those of 20 and 24 characters end in Z: one look at the length is half of the work
    zoned = " OR ".join(
        f"(length({quote(name)}) NOT IN (20, 24) AND length({quote(name)}) > 19 AND"
        f" substr({quote(name)}, -6, 1) IN ('+', '-'))"
        for name in names
    )
    data = open_file(path)
    query = data and data.ExecuteSQL(f"SELECT EXISTS(SELECT 1 FROM {quote(table)} WHERE {zoned})")
    if query is None:
        raise CannotStreamError
    try:
        return bool(query.GetNextFeature().GetFieldAsInteger(0))
    finally:
        data.ReleaseResultSet(query)


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


# Feature by feature


def iterate(source, request):
    """Features of a source as they are: a check of validity would drop the points that must be
    counted.

    Raises
    ------
    QgsProcessingException
        At the end, where there were fewer rows than the source had promised.
    """
    promised, read = source.featureCount(), 0
    for feature in source.getFeatures(request, NO_VALIDITY_CHECK):
        yield feature
        read += 1
    whole = request.limit() < 0 and request.filterType() == NO_FILTER
    if whole and 0 <= promised != read:
        _refuse_if_short(source, request, promised, read)


def _refuse_if_short(source, request, promised, read):
    """Raise where rows are missing: some providers count only roughly, and none says when it breaks
    off. So all is read once more; what is whole comes out the same, without an error."""
    with listening() as said:
        again = sum(1 for _ in source.getFeatures(request, NO_VALIDITY_CHECK))
    if said or again != read or not read:
        raise QgsProcessingException(
            tr(
                "Layer “{}” gave {} of {} rows and then broke off{}. Look whether its file is whole"
                " and its server can be reached, and run again."
            ).format(
                source.sourceName(), read, max(promised, again), f" ({said[0]})" if said else ""
            )
        )


def _walk(source, names, feedback, progress, take):
    """Hand every feature's geometry to `take`; return ids and lists of values, or None if
    cancelled."""
    indices = [source.fields().lookupField(name) for name in names]
    request = QgsFeatureRequest().setSubsetOfAttributes(indices)
    total = source.featureCount()
    ids, lists = [], [[] for _ in names]
    pairs = list(zip(indices, [values.append for values in lists]))
    for number, feature in enumerate(iterate(source, request)):
        if number % ROWS_PER_LOOK == 0:
            raise_if_cancelled(feedback)
            if total > 0:
                progress(min(number / total, 1.0))
        ids.append(feature.id())
        take(feature.geometry())
        for index, append in pairs:
            append(feature[index])
    return np.array(ids, np.int64), lists


def attributes_by_id(source, ids, feedback):
    """Attributes of rows by feature id, NULL as None.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    ids : list of int
        Rows that must be there.
    feedback : QgsProcessingFeedback

    Raises
    ------
    QgsProcessingException
        If the layer has changed since it was read.
    CancelledError
    """
    request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
    found = {
        row.id(): [None if is_null(value) else value for value in row.attributes()]
        for row in looked_through(iterate(source, request), feedback)
    }
    missing = sum(ident not in found for ident in ids)
    if missing:
        raise QgsProcessingException(
            tr(
                "Layer “{}” changed while it was read: {} of its rows are gone. Run again when"
                " nobody edits it."
            ).format(source.sourceName(), missing)
        )
    return found


def columns_of_lists(source, names, lists):
    """`Column`s by name from the values that the features of a source gave."""
    fields = source.fields()
    columns = {}
    for name, values in zip(names, lists):
        what = kind(fields.at(fields.lookupField(name)))
        columns[name] = _column_of_list(what, values)
    return columns


def _column_of_list(what, values):
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


def _read_points(source, names, feedback, progress):
    blobs, parsed = [], []

    def flush():
        parsed.append(points_of_wkb(blobs))
        blobs.clear()

    def take(geometry):
        blobs.append(b"" if geometry.isNull() else geometry.asWkb().data())
        if len(blobs) >= AT_ONCE:
            flush()

    walked = _walk(source, names, feedback, progress, take)
    if walked is None:
        return None
    flush()
    x, y, z, _, parts = (np.concatenate(column) for column in zip(*parsed))
    ids, lists = walked
    return Rows(
        ids,
        x,
        y,
        z,
        np.broadcast_to(np.nan, len(ids)),
        parts,
        np.zeros(len(ids), np.int64),
        columns_of_lists(source, names, lists),
    )


def _read_lines(source, names, feedback, progress):
    vertices, parts_of = [], []

    def take(geometry):
        points, part = vertices_of_line(geometry)
        vertices.append(points)
        parts_of.append(part)

    walked = _walk(source, names, feedback, progress, take)
    if walked is None:
        return None
    ids, lists = walked
    counts = np.array([len(points) for points in vertices], np.int64)
    rows = np.repeat(np.arange(len(ids)), counts)
    columns = {
        name: column.take(rows) for name, column in columns_of_lists(source, names, lists).items()
    }
    x, y, z, m = np.concatenate(vertices).T.copy() if vertices else np.zeros((4, 0))
    part = np.concatenate(parts_of) if parts_of else np.zeros(0, np.int64)
    usable = np.isfinite(x) & np.isfinite(y)
    return Rows(
        ids[rows],
        x,
        y,
        z,
        m,
        usable.astype(np.int64),
        part,
        columns,
        without_vertices=int(np.count_nonzero(counts == 0)),
    )


def sample(source, names, size=1000):
    """The first rows of some fields of a source or a layer as `Column`s, to judge fields by their
    values."""
    indices = [source.fields().lookupField(name) for name in names]
    request = (
        QgsFeatureRequest()
        .setSubsetOfAttributes(indices)
        .setFlags(QgsFeatureRequest.Flag.NoGeometry)
        .setLimit(size)
    )
    lists = [[] for _ in names]
    rows = (
        iterate(source, request)
        if isinstance(source, QgsProcessingFeatureSource)
        else source.getFeatures(request)
    )
    for feature in rows:
        for index, values in zip(indices, lists):
            values.append(feature[index])
    return columns_of_lists(source, names, lists)
