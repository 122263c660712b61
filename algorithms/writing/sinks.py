"""Arrays and source features into sinks."""

import contextlib
import gc
import json
import struct
from itertools import repeat
from pathlib import Path

import numpy as np
from osgeo import gdal
from qgis.core import (
    QgsFeature,
    QgsFeatureRequest,
    QgsFeatureSink,
    QgsGeometry,
    QgsPoint,
    QgsProcessingException,
    QgsVectorFileWriter,
    QgsWkbTypes,
)
from qgis.PyQt import sip
from qgis.PyQt.QtCore import QDateTime, Qt

from ..host.feedback import ROWS_PER_LOOK, raise_if_cancelled
from ..host.fields import is_null
from ..host.figures import translate
from ..host.watching import listening, open_file
from ..reading.features import iterate
from ..reading.wkb import point_of_vertex

BLOCK = 5000  # features handed to a sink at once
FILTER_SHARE = 0.2  # below this share it is quicker to ask for the features one by one
# rows of a GeoPackage between two closings of the file, each of which takes about 0.2 s
PIECE = 30_000
# GDAL 3.10 makes the first index of a layer ten times as fast as it adds to one; 3.6 takes the same
# for both.
FIRST_PIECE = 500_000 if int(gdal.VersionInfo("VERSION_NUM")) >= 3100000 else PIECE
OF_SEVERAL_FILES = (".shp", ".tab", ".mif")


def tr(text):
    return translate("Writing", text)


@contextlib.contextmanager
def without_collector():
    """No search for cycles meanwhile; also a decorator.

    Python looks through all of the host's objects each time that some thousand new ones were made,
    which takes a third of the time of writing; features and their values hold no cycles.
    """
    on = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        if on:
            gc.enable()


class LineGeometries:
    """A LineStringZ for each line of ragged arrays, to be iterated over.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (v,)
    offsets : ndarray of int, shape (lines + 1,)

    Attributes
    ----------
    placed : bool
        All vertices have a place, so that none need be looked at again.

    Notes
    -----
    Own well-known binary (ISO, little endian, type 1002) is far quicker than point objects.
    """

    def __init__(self, x, y, z, offsets):
        self.placed = bool(np.isfinite(x).all() and np.isfinite(y).all())
        self.flat = np.ascontiguousarray(np.column_stack([x, y, z]), "<f8")
        self.offsets = offsets

    def __iter__(self):
        for start, stop in zip(self.offsets[:-1].tolist(), self.offsets[1:].tolist()):
            head = struct.pack("<BII", 1, 1002, stop - start)
            geometry = QgsGeometry()
            geometry.fromWkb(head + self.flat[start:stop].tobytes())
            yield geometry


def polygon_geometries(x, y, z, offsets):
    """Yield a PolygonZ of one ring for each ring of ragged arrays (ISO WKB, type 1003)."""
    flat = np.ascontiguousarray(np.column_stack([x, y, z]), "<f8")
    for start, stop in zip(offsets[:-1].tolist(), offsets[1:].tolist()):
        geometry = QgsGeometry()
        geometry.fromWkb(
            struct.pack("<BIII", 1, 1003, 1, stop - start) + flat[start:stop].tobytes()
        )
        yield geometry


def point_geometries(x, y, z=None):
    """Yield a Point, or a PointZ where `z` is given, for each position; arrays of shape (n,)."""
    flat = np.ascontiguousarray(np.column_stack([x, y] if z is None else [x, y, z]), "<f8")
    head = struct.pack("<BI", 1, 1 if z is None else 1001)
    for row in flat:
        geometry = QgsGeometry()
        geometry.fromWkb(head + row.tobytes())
        yield geometry


def utc_cells(seconds, dated=True):
    """A column of QDateTimes in UTC from seconds since 1970, None for NaN, and for all where they
    count from elsewhere.

    QGIS up to 3.36 drops zone and milliseconds when it writes a file and 3.38 and newer keep both,
    but the digits up to the second are those of UTC either way: hence no rounding up to the next
    second.
    """
    seconds = np.asarray(seconds, dtype=float)
    finite = np.isfinite(seconds) & dated
    make, zone = QDateTime.fromMSecsSinceEpoch, Qt.TimeSpec.UTC
    milliseconds = np.rint(np.where(finite, seconds, 0.0) * 1000).astype(np.int64)
    return [
        make(moment, zone) if known else None
        for moment, known in zip(milliseconds.tolist(), finite.tolist())
    ]


def cells(values):
    """A column as a list of plain Python values, None for NaN."""
    values = np.asarray(values)
    if values.dtype.kind == "f":
        return [None if value != value else value for value in values.tolist()]
    return values.tolist()


def text_cells(codes, names):
    """A column of texts given by code."""
    names = list(names)
    return [names[code] for code in np.asarray(codes).tolist()]


class PiecewiseSink(QgsFeatureSink):
    """A layer of a GeoPackage, written in pieces.

    When its file is closed, rows are committed and put into the spatial index, which nobody can
    stop: 7 s for a million of them with GDAL 3.6. Closing and opening the file now and then does
    the same work in steps.

    Parameters
    ----------
    path : path
    name : str
        Of the layer; empty for the one that is called like the file.
    fields, geometry_type, crs, context
        As `QgsVectorFileWriter.create` takes them.
    new : bool
        True to make the layer, in a new file or in one that is there; False where it is there and
        is empty.
    """

    def __init__(self, path, name, fields, geometry_type, crs, context, new):
        super().__init__()
        self.path, self.layer = Path(path), (fields, geometry_type, crs, context)
        self.options = QgsVectorFileWriter.SaveVectorOptions()
        self.options.driverName, self.options.layerName, self.options.fileEncoding = (
            "GPKG",
            name,
            "UTF-8",
        )
        self.writer, self.error, self.pending, self.limit = None, "", 0, FIRST_PIECE
        actions = QgsVectorFileWriter.ActionOnExistingFile
        if new:
            self._open(
                actions.CreateOrOverwriteLayer
                if self.path.exists()
                else actions.CreateOrOverwriteFile
            )
        self.options.actionOnExistingFile = actions.AppendToLayerNoNewFields

    def _open(self, action):
        self.options.actionOnExistingFile = action
        fields, geometry_type, crs, context = self.layer
        with listening() as said:
            self.writer = QgsVectorFileWriter.create(
                str(self.path), fields, geometry_type, crs, context, self.options
            )
        if self.writer.hasError() != QgsVectorFileWriter.WriterError.NoError:
            self.error = said[0] if said else self.writer.errorMessage()

    def addFeatures(self, features, flags=QgsFeatureSink.Flag.FastInsert):
        if self.pending >= self.limit:
            self.close()
        if self.error:
            return False
        if self.writer is None:
            self._open(self.options.actionOnExistingFile)
        if self.error:
            return False
        self.pending += len(features)
        with listening() as said:
            if not self.writer.addFeatures(features, flags):
                self.error = said[0] if said else self.writer.errorMessage()
        return not self.error

    def lastError(self):
        return self.error

    def close(self):
        """Let the file go, with all that was added; what goes wrong then is the last error."""
        if self.writer is not None:
            with listening() as said:  # rows are committed now
                writer, self.writer = self.writer, None
                sip.delete(writer)
            self.pending, self.limit = 0, PIECE
            self.error = self.error or "; ".join(said[:2])


def in_pieces(sink, destination, fields, geometry_type, crs, context):
    """The sink to write to for a sink just made: one that works in pieces where the destination is
    a new GeoPackage, else the same."""
    if destination.lower().endswith(".gpkg") and Path(destination).is_file():
        return PiecewiseSink(destination, "", fields, geometry_type, crs, context, False)
    return sink


def discard(destination):
    """Take away a file, or a layer of a GeoPackage, that was not finished, once its sink is gone;
    False where that cannot be done."""
    path, _, layer = destination.partition("|layername=")
    if not Path(path).is_file():
        return False
    try:
        if layer:
            dataset = open_file(path, update=True)
            numbers = (
                [
                    number
                    for number in range(dataset.GetLayerCount())
                    if dataset.GetLayer(number).GetName() == layer
                ]
                if dataset is not None
                else []
            )
            return bool(numbers) and dataset.DeleteLayer(numbers[0]) == gdal.CE_None
        if path.lower().endswith(OF_SEVERAL_FILES):
            return gdal.IdentifyDriverEx(path, gdal.OF_VECTOR).Delete(path) == gdal.CE_None
        Path(path).unlink()
    except (OSError, RuntimeError):  # RuntimeError: where GDAL was told to raise
        return False
    return True


def has_place(geometry):
    """Whether all vertices of a geometry have a place.

    The extent is quick to ask for, but that of some flat arcs in degrees is no number on QGIS 3.40.
    """
    box = geometry.boundingBox()
    if np.isfinite(box.width() + box.height()):
        return True
    sums = [vertex.x() + vertex.y() for vertex in geometry.vertices()]
    if not sums and isinstance(geometry.constGet(), QgsPoint):
        # a point is called empty where one of both is no number; none is written where both are
        return np.isnan(geometry.constGet().x()) and np.isnan(geometry.constGet().y())
    return all(np.isfinite(sums))


class Writer:
    """Collects features and hands them to a sink in blocks, with every answer checked.

    Parameters
    ----------
    sink : QgsFeatureSink
    failure : callable
        Takes what went wrong in words, and gives the error to raise.

    Attributes
    ----------
    kept : list of int or None
        Places of the attributes that are written; None for all.
    written : int
        Rows handed on so far.
    maps : list of int
        Places of attributes that are written as JSON text.
    flags : list of int
        Places of yes and no that are written as 1 and 0.
    placed : bool
        True where all geometries are known to have a place.
    unsure : bool
        True where even points may be without a place.
    unplaced : int
        Geometries that no place can be told of; their rows are written without them.
    """

    def __init__(self, sink, failure):
        self.sink, self.failure, self.block, self.kept = sink, failure, [], None
        self.written = self.unplaced = 0
        self.maps, self.flags, self.placed, self.unsure = [], [], False, False

    def add(self, feature):
        if self.kept is not None:
            attributes = feature.attributes()
            feature.setAttributes([attributes[place] for place in self.kept])
        for place in self.maps:
            value = feature.attribute(place)
            if not is_null(value):
                feature.setAttribute(place, json.dumps(value, ensure_ascii=False, default=str))
        for place in self.flags:
            value = feature.attribute(place)
            if not is_null(value):
                feature.setAttribute(place, int(value))
        self.block.append(feature)
        if len(self.block) >= BLOCK:
            self.flush()

    def flush(self):
        if not self.block:
            return
        self._take_out_unplaced()
        with listening() as said:
            fine = self.sink.addFeatures(self.block, QgsFeatureSink.Flag.FastInsert)
        if not fine:
            raise self.failure(said[0] if said else self.sink.lastError())
        self.written += len(self.block)
        self.block = []

    def _take_out_unplaced(self):
        """Leave out geometries with a vertex whose place is no number: a file of them could not be
        closed."""
        points = self.block[0].geometry().type() == QgsWkbTypes.GeometryType.PointGeometry
        if self.placed or (points and not self.unsure):
            return  # of points most outputs have none, and looking at each takes time
        for feature in self.block:
            if feature.hasGeometry() and not has_place(feature.geometry()):
                feature.clearGeometry()
                self.unplaced += 1

    def close(self):
        """Hand on what is left and let the sink go, which is when some of them write."""
        if self.sink is None:
            return
        self.flush()
        said = let_go(self.sink)
        self.sink = None
        if said:
            raise self.failure(said)

    def drop(self):
        """Let the sink go, whatever it has written."""
        self.block = []
        if self.sink is not None:
            let_go(self.sink)
            self.sink = None


def let_go(sink):
    """End a sink, so that a file is closed now, even where an exception holds on to the sink;
    what went wrong, in words."""
    if isinstance(sink, PiecewiseSink):
        sink.close()
        return sink.lastError()
    if not isinstance(sink, QgsFeatureSink):
        return ""  # rows that are kept in this process
    with listening() as said:
        if not sink.flushBuffer():
            said.append(sink.lastError())
        sip.delete(sink)
    return "; ".join(said[:2])


@without_collector()
def write_lines(writer, fields, geometries, columns, feedback=None):
    """Write geometries (None for a table) with their attributes, given column by column;
    CancelledError where `feedback` says so."""
    writer.placed = getattr(geometries, "placed", False)
    for number, (geometry, attributes) in enumerate(
        zip(repeat(None) if geometries is None else geometries, zip(*columns))
    ):
        if feedback is not None and number % ROWS_PER_LOOK == 0:
            raise_if_cancelled(feedback)
        feature = QgsFeature(fields)
        if geometry is not None:
            feature.setGeometry(geometry)
        feature.setAttributes(list(attributes))
        writer.add(feature)
    if feedback is not None:
        raise_if_cancelled(feedback)
    writer.close()


def row_geometry_type(source):
    """Geometry type for rows passed on: that of a point source, or the points of a line source."""
    kind = source.wkbType()
    if QgsWkbTypes.geometryType(kind) == QgsWkbTypes.GeometryType.PointGeometry:
        return kind
    point = QgsWkbTypes.Type.Point
    if QgsWkbTypes.hasZ(kind):
        point = QgsWkbTypes.addZ(point)
    return QgsWkbTypes.addM(point) if QgsWkbTypes.hasM(kind) else point


@without_collector()
def pass_on(source, ids, is_line, plain, targets, feedback, progress):
    """Read the source once more and hand its rows on with further attributes.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    ids : ndarray of int64, shape (n,)
        Feature id of each row, as read the first time.
    is_line : bool
        True where rows are vertices of lines.
    plain : bool
        True where the source is a whole layer, without selection, limit or filter.
    targets : list of tuple
        (writer, wanted, columns): `wanted`, bool (n,), says which rows go there; `columns` are
        lists of attributes, one value for each row that is wanted, in row order.
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done.

    Raises
    ------
    QgsProcessingException
        If the layer has changed since it was read.
    CancelledError
    """
    rows = _RowsPassedOn(ids, targets, len(source.fields()))
    if not rows.expected:
        for writer, _, _ in targets:
            writer.close()
        progress(1.0)
        return
    request = QgsFeatureRequest()
    find = _first_rows(ids)
    if plain and not is_line and rows.expected < FILTER_SHARE * len(ids):
        some = rows.chosen_by_id()
        request.setFilterFids(list(some))

        def find(_, ident):
            return some.get(ident)

    put = rows.put_vertices if is_line else rows.put
    for seen, feature in enumerate(iterate(source, request)):
        if seen % ROWS_PER_LOOK == 0:
            raise_if_cancelled(feedback)
            progress(rows.written / rows.expected)
        row = find(seen, feature.id())
        if row is not None:
            put(feature, row)
    for writer, _, _ in targets:
        raise_if_cancelled(feedback)
        writer.close()
    progress(1.0)
    if rows.written != rows.expected:
        raise QgsProcessingException(
            tr(
                "Layer “{}” changed while it was read. Rows expected: {}, found: {}. Run again"
                " when nobody edits it."
            ).format(source.sourceName(), rows.expected, rows.written)
        )


class _RowsPassedOn:
    """Which rows go to which target, with which attributes.

    Parameters
    ----------
    ids, targets
        As `pass_on` takes them.
    old : int
        Number of the source's own fields.
    """

    def __init__(self, ids, targets, old):
        self.ids, self.old, self.written = ids, old, 0
        target_of, place = np.full(len(ids), -1, np.int64), np.zeros(len(ids), np.int64)
        for number, (_, wanted, _) in enumerate(targets):
            target_of[wanted] = number
            place[wanted] = np.arange(np.count_nonzero(wanted))
        self.chosen = np.flatnonzero(target_of >= 0)
        self.expected = self.chosen.size
        self.target_of, self.place = target_of.tolist(), place.tolist()
        self.writers = [writer for writer, _, _ in targets]
        self.widths = [old + len(columns) for _, _, columns in targets]
        self.tables = [list(zip(*columns)) for _, _, columns in targets]

    def chosen_by_id(self):
        """Rows that go anywhere, by feature id."""
        return dict(zip(self.ids[self.chosen].tolist(), self.chosen.tolist()))

    def put(self, feature, row):
        """Hand a feature on where its row is wanted."""
        number = self.target_of[row]
        if number < 0:
            return
        feature.resizeAttributes(self.widths[number])
        for index, value in enumerate(self.tables[number][self.place[row]], self.old):
            feature.setAttribute(index, value)
        self.writers[number].add(feature)
        self.written += 1

    def put_vertices(self, feature, row):
        """Hand on those vertices of a line whose rows are wanted; `row` is that of the first."""
        ident, geometry, first = feature.id(), feature.geometry(), row
        while row < len(self.ids) and self.ids[row] == ident:
            if self.target_of[row] >= 0:
                point = QgsFeature(feature)
                point.setGeometry(point_of_vertex(geometry, row - first))
                self.put(point, row)
            row += 1


def _first_rows(ids):
    """Function from the place of a feature in the reading order, and its id, to its first row."""
    starts = (
        np.flatnonzero(np.append(True, ids[1:] != ids[:-1])) if len(ids) else np.zeros(0, np.int64)
    )
    in_order = list(zip(ids[starts].tolist(), starts.tolist()))
    by_id = {}

    def look_up(seen, ident):
        if not by_id and seen < len(in_order) and in_order[seen][0] == ident:
            return in_order[seen][1]
        if not by_id:  # lines without vertices, or another order than the first time
            by_id.update(in_order)
        return by_id.get(ident)

    return look_up
