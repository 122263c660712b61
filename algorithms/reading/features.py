"""Layers into arrays feature by feature: sources of every kind."""

import numpy as np
from qgis.core import (
    QgsFeatureRequest,
    QgsProcessingException,
    QgsProcessingFeatureSource,
)

from ..host.feedback import ROWS_PER_LOOK, looked_through, raise_if_cancelled
from ..host.fields import is_null
from ..host.figures import translate
from ..host.watching import listening
from .columns import Rows, columns_of_lists
from .wkb import points_of_wkb, vertices_of_line

AT_ONCE = 250_000  # points whose bytes are parsed at once
NO_VALIDITY_CHECK = QgsProcessingFeatureSource.Flag.FlagSkipGeometryValidityChecks
NO_FILTER = QgsFeatureRequest.FilterType.FilterNone


def tr(text):
    return translate("Features", text)


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
    """Hand every feature's geometry to `take`; ids and, by name, lists of values. Raises
    `CancelledError`."""
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


def read_points(source, names, feedback, progress):
    """`Rows` of a point source, one for each feature; as `layer_rows.read_rows` has the rest."""
    blobs, parsed = [], []

    def flush():
        parsed.append(points_of_wkb(blobs))
        blobs.clear()

    def take(geometry):
        blobs.append(b"" if geometry.isNull() else geometry.asWkb().data())
        if len(blobs) >= AT_ONCE:
            flush()

    ids, lists = _walk(source, names, feedback, progress, take)
    flush()
    x, y, z, _, parts = (np.concatenate(column) for column in zip(*parsed))
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


def read_lines(source, names, feedback, progress):
    """`Rows` of a line source, one for each vertex; as `layer_rows.read_rows` has the rest."""
    vertices, parts_of = [], []

    def take(geometry):
        points, part = vertices_of_line(geometry)
        vertices.append(points)
        parts_of.append(part)

    ids, lists = _walk(source, names, feedback, progress, take)
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
