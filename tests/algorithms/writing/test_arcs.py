"""Arcs found again in lines that were put together from the vertices along them."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from qgis.core import QgsGeometry

from curbwright.algorithms.reading.line_layer import CURVE_STEP
from curbwright.algorithms.writing.arcs import ArcVertices, arcs_of, curve_of

pytestmark = pytest.mark.usefixtures("qgis_app")
CURVES = (
    "CircularString (0 0, 1 1, 2 0)",
    "CompoundCurve ((0 0, 5 0),CircularString (5 0, 7 2, 9 0, 11 -2, 13 0),(13 0, 20 0, 21 1))",
    "CompoundCurve (CircularString (0 0, 4 0, 0 0))",  # a full circle
    "MultiCurve (CompoundCurve ((0 9, 1 9),CircularString (1 9, 2 10, 3 9)),(0 5, 1 5))",
)


def chords(geometry):
    """Vertices of the geometry in chords, (v, 4), by parts."""
    parts = []
    for part in geometry.constParts():
        points = part.segmentize(CURVE_STEP).points()
        parts.append(np.array([(p.x(), p.y(), 0.0, np.nan) for p in points]))
    return parts


def found_in(geometry, vertices):
    along, parts = ArcVertices(), chords(geometry)
    along.add(arcs_of(geometry), np.concatenate(parts)[:, :2], np.zeros(2))
    return curve_of(vertices, along.find(vertices[:, :2]), has_z=False, has_m=False)


@pytest.mark.parametrize("wkt", CURVES)
def test_the_vertices_of_a_curve_give_the_curve_again(wkt):
    geometry = QgsGeometry.fromWkt(wkt)
    again = [found_in(geometry, part) for part in chords(geometry)]
    for part, one in zip(geometry.constParts(), again):
        # the same points, those between ends of arcs too; two arcs in a row are two curves
        own, new = ([(p.x(), p.y()) for p in curve.points()] for curve in (part, one))
        assert new == own
        length = [curve.length() for curve in (part, one)]
        assert length[1] == pytest.approx(length[0], abs=1e-12)


@settings(max_examples=25, deadline=None)
@given(data=st.data())
def test_parts_of_arcs_are_arcs_of_the_same_circle(data):
    geometry = QgsGeometry.fromWkt("CircularString (0 0, 20 20, 40 0)")
    (vertices,) = chords(geometry)
    low = data.draw(st.integers(0, len(vertices) - 4))
    high = data.draw(st.integers(low + 3, len(vertices)))
    some = vertices[low:high][:: data.draw(st.sampled_from([1, -1]))]
    around = np.vstack([[[-5.0, -5.0, 0, 0]], some, [[50.0, -5.0, 0, 0]]])
    curve = found_in(geometry, around)
    assert curve.nCurves() == 3
    middle = curve.curveAt(1)
    for point in middle.points():
        assert np.hypot(point.x() - 20, point.y()) == pytest.approx(20, abs=1e-9)
    ends = [middle.startPoint(), middle.endPoint()]
    assert [(p.x(), p.y()) for p in ends] == [tuple(some[0, :2]), tuple(some[-1, :2])]


def test_a_vertex_that_is_missing_or_moved_ends_the_arc():
    geometry = QgsGeometry.fromWkt("CircularString (0 0, 20 20, 40 0)")
    (vertices,) = chords(geometry)
    moved = vertices.copy()
    moved[100, 1] += 0.5
    assert kinds_of(found_in(geometry, moved)) == ["CircularString", "LineString", "CircularString"]
    assert kinds_of(found_in(geometry, vertices[::2])) == ["LineString"]  # no arc at all


def kinds_of(curve):
    return [curve.curveAt(number).geometryType() for number in range(curve.nCurves())]
