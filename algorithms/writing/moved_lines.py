"""Features of a layer of lines at other places, all else kept."""

import struct

import numpy as np
from qgis.core import QgsFeatureRequest, QgsGeometry, QgsPoint, QgsWkbTypes

from ..host.feedback import raise_if_cancelled
from ..reading.features import iterate
from .sinks import BLOCK


def write_moved(source, move, writer, feedback, progress):
    """Write all features of a source, moved.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    move : callable
        Takes x and y in the CRS of the source, gives those after the move; what is not finite stays
        where it is.
    writer : Writer
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done.

    Returns
    -------
    int
        Number of vertices that stayed where they were.

    Raises
    ------
    CancelledError
    """
    total, done, left, block = max(source.featureCount(), 1), 0, 0, []
    for feature in iterate(source, QgsFeatureRequest()):
        block.append(feature)
        if len(block) == BLOCK:
            done += BLOCK
            left += _write_block(block, move, writer, feedback)
            progress(done / total)
            block = []
    left += _write_block(block, move, writer, feedback)
    writer.close()
    return left


def _write_block(features, move, writer, feedback):
    raise_if_cancelled(feedback)
    vertices = [
        np.array([(v.x(), v.y()) for v in feature.geometry().vertices()], float).reshape(-1, 2)
        for feature in features
    ]
    flat = np.concatenate(vertices) if vertices else np.zeros((0, 2))
    moved = np.column_stack(move(*flat.T))
    lost = ~np.isfinite(moved).all(axis=1)
    moved[lost] = flat[lost]
    start = 0
    for feature, own in zip(features, vertices):
        if len(own):
            feature.setGeometry(with_vertices(feature.geometry(), moved[start : start + len(own)]))
        start += len(own)
        writer.add(feature)
    return int(np.count_nonzero(lost))


def with_vertices(geometry, xy):
    """A line geometry with other positions for its vertices; Z, M and arcs are kept.

    Parameters
    ----------
    geometry : QgsGeometry
    xy : ndarray of float, shape (v, 2)
    """
    kind = geometry.wkbType()
    if QgsWkbTypes.isCurvedType(kind):
        geometry = QgsGeometry(geometry)
        for number, (x, y) in enumerate(xy.tolist()):
            vertex = geometry.vertexAt(number)
            geometry.moveVertex(QgsPoint(x, y, vertex.z(), vertex.m(), vertex.wkbType()), number)
        return geometry
    blob = bytearray(geometry.asWkb().data())
    size = 2 + QgsWkbTypes.hasZ(kind) + QgsWkbTypes.hasM(kind)
    multi = QgsWkbTypes.isMultiType(kind)
    at, row = (9, 0) if multi else (0, 0)
    while row < len(xy):
        (count,) = struct.unpack_from("<I", blob, at + 5)
        flat = np.frombuffer(blob, "<f8", count * size, at + 9).reshape(count, size)
        flat[:, :2] = xy[row : row + count]  # a view of the bytes
        at, row = at + 9 + count * size * 8, row + count
    moved = QgsGeometry()
    moved.fromWkb(bytes(blob))
    return moved
