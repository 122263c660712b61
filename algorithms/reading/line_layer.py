"""Layers of lines into ragged arrays."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsFeatureRequest, QgsGeometry, QgsProcessingException, QgsWkbTypes

from ...shared.tuning import HEIGHTS
from ..host.feedback import ROWS_PER_LOOK, raise_if_cancelled
from ..host.figures import translate
from .columns import columns_of_lists
from .features import iterate
from .places import take_out_strays
from .wkb import vertices_of_line

CURVE_STEP = 0.005  # radians between the vertices put along arcs: 3e-6 of the radius off them

_LINE, _UNKNOWN = (
    QgsWkbTypes.GeometryType.LineGeometry,
    QgsWkbTypes.GeometryType.UnknownGeometry,
)


def tr(text):
    return translate("LineLayer", text)


@dataclass(frozen=True)
class Linework:
    """Lines as they are stored: vertices flat, parts of multi-part lines as lines of their own.

    Attributes
    ----------
    ids : ndarray of int64, shape (features,)
        Feature ids in reading order.
    feature : ndarray of int64, shape (lines,)
        Place in `ids` that each line comes from; features without geometry have no line.
    x, y, z : ndarray of float, shape (v,)
        In the layer's CRS; z is NaN where there is none.
    offsets : ndarray of int64, shape (lines + 1,)
    columns : dict of str to Column
        One value a feature.
    """

    ids: np.ndarray
    feature: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    columns: dict


def _refuse_other_kinds(source):
    """Raise where a layer says that it holds no lines."""
    if QgsWkbTypes.geometryType(source.wkbType()) in (_LINE, _UNKNOWN):
        return
    raise QgsProcessingException(
        tr(
            "Layer “{}” holds no lines ({}). Choose a layer of lines; the outlines of polygons can"
            " be made lines with “Polygons to lines” of QGIS."
        ).format(source.sourceName(), QgsWkbTypes.displayString(source.wkbType()))
    )


def _take_out_heights(source, z, feedback):
    """Make NaN, in place, of heights that lie beyond all land."""
    with np.errstate(invalid="ignore"):
        absurd = (z < HEIGHTS.lowest) | (z > HEIGHTS.highest)
    if absurd.any():
        feedback.pushWarning(
            tr(
                "Layer “{}”: vertices with heights that cannot be: {}, for example {:.6g}."
                " They count as having no height."
            ).format(source.sourceName(), np.count_nonzero(absurd), z[np.flatnonzero(absurd)[0]])
        )
        z[absurd] = np.nan


def read_linework(source, names, feedback, progress):
    """Read a line source, arcs as chords.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    names : sequence of str
        Fields to read.
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done.

    Returns
    -------
    Linework

    Raises
    ------
    QgsProcessingException
        If the layer is one of points, polygons or a bare table, or a row is; the text names it.
    CancelledError
    """
    _refuse_other_kinds(source)
    ids, lists, feature_of, vertices = _rows_and_vertices(source, names, feedback, progress)
    progress(1.0)
    x, y, z, _ = np.concatenate(vertices).T.copy() if vertices else np.zeros((4, 0))
    offsets = np.concatenate([[0], np.cumsum([len(one) for one in vertices])]).astype(np.int64)
    take_out_strays(source, x, y, offsets, feedback)
    _take_out_heights(source, z, feedback)
    progress(1.0)
    return Linework(
        np.array(ids, np.int64),
        np.array(feature_of, np.int64),
        x,
        y,
        z,
        offsets,
        columns_of_lists(source, names, lists),
    )


def _rows_and_vertices(source, names, feedback, progress):
    """Ids of all rows, a list of values for each field, and of each line its row and vertices."""
    indices = [source.fields().lookupField(name) for name in names]
    request = QgsFeatureRequest().setSubsetOfAttributes(indices)
    total = max(source.featureCount(), 1)
    ids, lists, feature_of, vertices, others = [], [[] for _ in names], [], [], 0
    for number, feature in enumerate(iterate(source, request)):
        if number % ROWS_PER_LOOK == 0:
            raise_if_cancelled(feedback)
            progress(min(number / total, 1.0))
        ids.append(feature.id())
        for index, values in zip(indices, lists):
            values.append(feature[index])
        geometry = feature.geometry()
        if not geometry.isNull() and geometry.type() != _LINE:
            others += 1  # a layer may hold what its type does not say
            continue
        if not geometry.isNull() and QgsWkbTypes.isCurvedType(geometry.wkbType()):
            geometry = QgsGeometry(geometry.constGet().segmentize(CURVE_STEP))
        points, part = vertices_of_line(geometry)
        for one in np.split(points, np.flatnonzero(np.diff(part)) + 1):
            if len(one):
                vertices.append(one)
                feature_of.append(number)
    if others:
        raise QgsProcessingException(
            tr(
                "Layer “{}” says that it holds lines, but has another geometry in {} of its {}"
                " rows. Take out those rows, or choose another layer."
            ).format(source.sourceName(), others, len(ids))
        )
    return ids, lists, feature_of, vertices
