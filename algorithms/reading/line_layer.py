"""Layers of lines into ragged arrays."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsFeatureRequest, QgsGeometry, QgsWkbTypes

from ..host.feedback import raise_if_cancelled
from .columns import BLOCK, columns_of_lists, iterate
from .wkb import vertices_of_line

CURVE_STEP = 0.005  # radians between the vertices put along arcs: 3e-6 of the radius off them


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
    CancelledError
    """
    indices = [source.fields().lookupField(name) for name in names]
    request = QgsFeatureRequest().setSubsetOfAttributes(indices)
    total = max(source.featureCount(), 1)
    ids, lists, feature_of, vertices = [], [[] for _ in names], [], []
    for number, feature in enumerate(iterate(source, request)):
        if number % BLOCK == 0:
            raise_if_cancelled(feedback)
            progress(min(number / total, 1.0))
        ids.append(feature.id())
        for index, values in zip(indices, lists):
            values.append(feature[index])
        geometry = feature.geometry()
        if not geometry.isNull() and QgsWkbTypes.isCurvedType(geometry.wkbType()):
            geometry = QgsGeometry(geometry.constGet().segmentize(CURVE_STEP))
        points, part = vertices_of_line(geometry)
        for one in np.split(points, np.flatnonzero(np.diff(part)) + 1):
            if len(one):
                vertices.append(one)
                feature_of.append(number)
    x, y, z, _ = np.concatenate(vertices).T.copy() if vertices else np.zeros((4, 0))
    offsets = np.concatenate([[0], np.cumsum([len(one) for one in vertices])]).astype(np.int64)
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
