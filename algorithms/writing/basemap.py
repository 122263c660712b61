"""Lines of a basemap that was brought up to date, in the layer's own type and digits."""

import numpy as np
from qgis.core import (
    QgsGeometry,
    QgsLineString,
    QgsMultiCurve,
    QgsMultiLineString,
    QgsWkbTypes,
)

from ..reading.line_layer import CURVE_STEP
from ..reading.wkb import vertices_of_line
from .arcs import ArcVertices, arcs_of, curve_of


class BasemapGeometry:
    """Brings planned lines back into the layer that they came from.

    Vertices that nothing moved keep the layer's own digits; so do those of lines that are only
    shifted, but for the shift, which is the same everywhere in a plane CRS: ends that were one
    stay one. Where the layer takes curves, lines that are drawn anew keep the arcs outside the
    stretch, and take those of the edges.

    Parameters
    ----------
    pair : LinePair
    source : QgsProcessingFeatureSource
        The existing lines.
    shift : ndarray of float, shape (2,)
        Added to every existing line, metres of the frame.
    """

    def __init__(self, pair, source, shift):
        self.pair, self.type = pair, source.wkbType()
        self.shift = np.asarray(shift, float)
        self.part_rows, self.edge_parts = map(_parts_of_rows, (pair.existing, pair.edges))
        self.delta = self._deltas(source.sourceCrs()) if self.shift.any() else None

    def _deltas(self, crs):
        """By how much each vertex is shifted in the layer's CRS, (v, 2)."""
        lines = self.pair.existing
        before = np.column_stack(self.pair.positions_in_existing_crs(lines.x, lines.y))
        after = np.column_stack(
            self.pair.positions_in_existing_crs(lines.x + self.shift[0], lines.y + self.shift[1])
        )
        delta = after - before
        if not (crs.isValid() and crs.isGeographic()):
            delta[:] = np.median(delta, axis=0)
        return delta

    def shifted(self, row, geometry):
        """The geometry of a row, moved by the shift alone."""
        if self.delta is None or geometry.isNull():
            return geometry
        own, curved = _vertices(geometry)
        here = self._vertices_of(row)
        if curved or len(own) != len(here):
            moved = QgsGeometry(geometry)
            moved.translate(*self.delta[here].mean(axis=0) if len(here) else (0.0, 0.0))
            return moved
        own[:, :2] += self.delta[here]
        return self._geometry(self._split(row, own))

    def redrawn(self, row, geometry, parts, edges=()):
        """The geometry of a row that was drawn anew.

        Parameters
        ----------
        row : int
        geometry : QgsGeometry
            As it was.
        parts : list of ndarray of float, shape (v, 3)
            Its new lines, metres of the frame.
        edges : iterable of tuple, optional
            Row and geometry of each edge that it was drawn from.

        Returns
        -------
        QgsGeometry
        """
        own, curved = _vertices(geometry)
        here = self._vertices_of(row)
        known, along = {}, self._arcs_of_edges(edges)
        if len(own) == len(here):
            lines = self.pair.existing
            local = np.column_stack([lines.x[here], lines.y[here]]) + self.shift
            if self.delta is not None:
                own[:, :2] += self.delta[here]
            known = {place.tobytes(): vertex for place, vertex in zip(local, own)}
            if curved:
                shift = np.zeros(2) if self.delta is None else self.delta[here].mean(axis=0)
                along.add(arcs_of(geometry), local, shift)
        return self._geometry(
            [self._in_layer(xyz, known) for xyz in parts], [along.find(xyz[:, :2]) for xyz in parts]
        )

    def line(self, xyz, edges=()):
        """The geometry of a new line; `edges` as for `redrawn`."""
        along = self._arcs_of_edges(edges)
        return self._geometry([self._in_layer(xyz, {})], [along.find(xyz[:, :2])])

    def _arcs_of_edges(self, edges):
        """Arcs of edges, where the layer takes any."""
        along = ArcVertices()
        if not QgsWkbTypes.isCurvedType(self.type):
            return along
        for row, geometry in edges:
            (own, curved), lines = _vertices(geometry), self.pair.edges
            parts = self.edge_parts.get(row, [])
            here = np.concatenate(
                [np.arange(lines.offsets[part], lines.offsets[part + 1]) for part in parts]
                or [np.zeros(0, int)]
            )
            if curved and len(own) == len(here):
                along.add(arcs_of(geometry), np.column_stack([lines.x[here], lines.y[here]]))
        return along

    def _in_layer(self, xyz, known):
        """Vertices in the layer's CRS and units, (v, 4); known ones as they were."""
        x, y = self.pair.positions_in_existing_crs(xyz[:, 0], xyz[:, 1])
        out = np.column_stack([x, y, xyz[:, 2] / self.pair.height_unit, np.full(len(xyz), np.nan)])
        for number, place in enumerate(np.ascontiguousarray(xyz[:, :2])):
            vertex = known.get(place.tobytes())
            if vertex is not None:
                out[number] = vertex
        return out

    def _vertices_of(self, row):
        """Numbers of a row's vertices among those of all lines."""
        offsets = self.pair.existing.offsets
        parts = self.part_rows.get(row, [])
        return np.concatenate(
            [np.arange(offsets[part], offsets[part + 1]) for part in parts] or [np.zeros(0, int)]
        )

    def _split(self, row, vertices):
        """Vertices of a row by parts."""
        offsets, parts = self.pair.existing.offsets, self.part_rows.get(row, [])
        size = [offsets[part + 1] - offsets[part] for part in parts]
        return np.split(vertices, np.cumsum(size)[:-1])

    def _geometry(self, parts, arcs=None):
        """A geometry of the layer's type; `arcs` of each part as `ArcVertices.find` has them."""
        has_z, has_m = QgsWkbTypes.hasZ(self.type), QgsWkbTypes.hasM(self.type)
        curved = QgsWkbTypes.isCurvedType(self.type)
        lines = QgsMultiCurve() if curved else QgsMultiLineString()
        for part, own in zip(parts, arcs or [()] * len(parts)):
            if curved:  # the host makes no such type of a line by itself
                lines.addGeometry(curve_of(part, own, has_z, has_m))
                continue
            x, y, z, m = (axis.tolist() for axis in part.T)
            lines.addGeometry(QgsLineString(x, y, z if has_z else [], m if has_m else []))
        geometry = QgsGeometry(lines)
        if not QgsWkbTypes.isMultiType(self.type) and len(parts) == 1:
            geometry = QgsGeometry(lines.geometryN(0).clone())
        coerced = geometry.coerceToType(self.type)
        return coerced[0] if len(coerced) == 1 else geometry


def _parts_of_rows(lines):
    """Numbers of the parts of each row, by row."""
    found = {}
    for part, line in enumerate(lines.line.tolist()):
        found.setdefault(line, []).append(part)
    return found


def _vertices(geometry):
    """Vertices (v, 4) of a geometry as they were read, and whether it is curved."""
    curved = QgsWkbTypes.isCurvedType(geometry.wkbType())
    if curved:
        geometry = QgsGeometry(geometry.constGet().segmentize(CURVE_STEP))
    vertices, _ = vertices_of_line(geometry)
    return vertices.copy(), curved
