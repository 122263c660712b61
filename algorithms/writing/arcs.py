"""Arcs of curves, found again in lines that were put together from the vertices along them."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCircularString, QgsCompoundCurve, QgsLineString, QgsPoint

from ..reading.line_layer import CURVE_STEP

FEWEST = 3  # vertices that tell an arc


@dataclass(frozen=True)
class Arc:
    """An arc of a geometry: numbers of its first and its last vertex once the geometry is put into
    chords, and the point between that the geometry has, (4,)."""

    first: int
    last: int
    middle: np.ndarray


def arcs_of(geometry):
    """Arcs of a geometry of lines.

    Parameters
    ----------
    geometry : QgsGeometry

    Returns
    -------
    list of Arc
        By the vertices of all parts of `geometry.constGet().segmentize(CURVE_STEP)`.
    """
    whole, out, first = geometry.constGet(), [], 0
    parts = [whole] if not hasattr(whole, "numGeometries") else list(geometry.constParts())
    for part in parts:
        chords = part.segmentize(CURVE_STEP).points()
        at = 0
        for curve in _curves(part):
            points = curve.points()
            if isinstance(curve, QgsCircularString):
                for start in range(0, len(points) - 2, 2):
                    end = _next(chords, points[start + 2], at)
                    out.append(Arc(first + at, first + end, _vertex(points[start + 1])))
                    at = end
            else:
                for point in points[1:]:
                    at = _next(chords, point, at)
        first += len(chords)
    return out


def _curves(part):
    if isinstance(part, QgsCompoundCurve):
        return [part.curveAt(number) for number in range(part.nCurves())]
    return [part]


def _next(chords, point, after):
    """Number of the next vertex at a point; the same one where none is."""
    for number in range(after + 1, len(chords)):
        if chords[number].x() == point.x() and chords[number].y() == point.y():
            return number
    return after


def _vertex(point):
    return np.array([point.x(), point.y(), point.z(), point.m()])


class ArcVertices:
    """Vertices that lie along arcs, by their very places.

    A line whose vertices follow on each other as along an arc is that arc there, or a part of it.
    """

    def __init__(self):
        self._members, self._arcs = {}, []

    def add(self, arcs, xy, shift=None):
        """Take in the arcs of a geometry.

        Parameters
        ----------
        arcs : list of Arc
        xy : ndarray of float, shape (v, 2)
            Places of all vertices of the geometry, as the lines have them.
        shift : ndarray of float, shape (2,), optional
            Added to the points between; without it they are told by the vertices.
        """
        for arc in arcs:
            middle = None
            if shift is not None:
                middle = arc.middle.copy()
                middle[:2] += shift
            self._arcs.append((arc.last - arc.first, middle))
            for number in range(arc.first, arc.last + 1):
                key = np.ascontiguousarray(xy[number]).tobytes()
                member = len(self._arcs) - 1, number - arc.first
                self._members.setdefault(key, []).append(member)

    def find(self, xy):
        """Arcs along a line.

        Parameters
        ----------
        xy : ndarray of float, shape (v, 2)

        Returns
        -------
        list of tuple
            First and last vertex of the line, and the point between, (4,), where the whole of an
            arc is there and its own point is known; else None.
        """
        if not self._members:
            return []
        members = [self._members.get(place.tobytes(), ()) for place in np.ascontiguousarray(xy)]
        found, at = [], 0
        while at < len(members) - 1:
            last, arc, begin, end = max(
                (self._along(members, at, *member, step) for member in members[at]
                 for step in (1, -1)),
                default=(at, -1, 0, 0),
            )  # fmt: skip
            if last - at + 1 < FEWEST:
                at += 1
                continue
            size, middle = self._arcs[arc]
            found.append((at, last, middle if abs(end - begin) == size else None))
            at = last
        return found

    @staticmethod
    def _along(members, at, arc, place, step):
        """Last vertex up to which a line goes along an arc from one vertex on, the arc, and the
        places on it."""
        last, here = at, place
        while last + 1 < len(members) and (arc, here + step) in members[last + 1]:
            last, here = last + 1, here + step
        return last, arc, place, here


def curve_of(vertices, arcs, has_z, has_m):
    """A compound curve of vertices.

    Parameters
    ----------
    vertices : ndarray of float, shape (v, 4)
    arcs : list of tuple
        From `ArcVertices.find`.
    has_z, has_m : bool

    Returns
    -------
    QgsCompoundCurve
    """
    out, at = QgsCompoundCurve(), 0

    def straight(some):
        x, y, z, m = (axis.tolist() for axis in some.T)
        out.addCurve(QgsLineString(x, y, z if has_z else [], m if has_m else []))

    for first, last, middle in arcs:
        if first > at:
            straight(vertices[at : first + 1])
        between = vertices[(first + last) // 2] if middle is None else middle
        arc = QgsCircularString()
        arc.setPoints([
            _point(one, has_z, has_m) for one in (vertices[first], between, vertices[last])
        ])  # fmt: skip
        out.addCurve(arc)
        at = last
    if at < len(vertices) - 1 or not arcs:
        straight(vertices[at:])
    return out


def _point(vertex, has_z, has_m):
    point = QgsPoint(float(vertex[0]), float(vertex[1]))
    if has_z:
        point.addZValue(float(vertex[2]))
    if has_m:
        point.addMValue(float(vertex[3]))
    return point
