"""Well-known binary of every kind and company."""

import struct

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from qgis.core import QgsGeometry

from curbwright.algorithms.reading import wkb


def point(number, *values, order="<"):
    return struct.pack(f"{order}BI{len(values)}d", 1 if order == "<" else 0, number, *values)


@pytest.mark.parametrize(
    ("blob", "expected"),
    [
        pytest.param(point(1, 1, 2), (1, 2, np.nan, np.nan, 1), id="XY"),
        pytest.param(point(1001, 1, 2, 3), (1, 2, 3, np.nan, 1), id="XYZ"),
        pytest.param(point(2001, 1, 2, 4), (1, 2, np.nan, 4, 1), id="XYM"),
        pytest.param(point(3001, 1, 2, 3, 4), (1, 2, 3, 4, 1), id="XYZM"),
        pytest.param(point(0x80000001, 1, 2, 3), (1, 2, 3, np.nan, 1), id="old Z flag"),
        pytest.param(point(1001, 1, 2, 3, order=">"), (1, 2, 3, np.nan, 1), id="big endian"),
        pytest.param(point(1001, np.nan, np.nan, np.nan), (np.nan,) * 4 + (0,), id="empty"),
        pytest.param(point(1001, np.inf, 2, 3), (np.inf, 2, 3, np.nan, 1), id="infinite"),
        pytest.param(
            struct.pack("<BII", 1, 1004, 1) + point(1001, 1, 2, 3),
            (1, 2, 3, np.nan, 1),
            id="multi-point of one",
        ),
        pytest.param(
            struct.pack("<BII", 1, 4, 1) + point(1, 1, 2),
            (1, 2, np.nan, np.nan, 1),
            id="flat multi-point of one",
        ),
        pytest.param(
            struct.pack("<BII", 1, 1004, 2) + point(1001, 1, 2, 3) * 2,
            (np.nan,) * 4 + (2,),
            id="multi-point of two",
        ),
        pytest.param(struct.pack("<BII", 1, 4, 0), (np.nan,) * 4 + (0,), id="empty multi-point"),
        pytest.param(struct.pack("<BII2d", 1, 2, 1, 5.0, 6.0), (np.nan,) * 4 + (0,), id="a line"),
        pytest.param(b"", (np.nan,) * 4 + (0,), id="null"),
        pytest.param(None, (np.nan,) * 4 + (0,), id="None"),
    ],
)
@pytest.mark.parametrize("company", [0, 1, 3])
def test_points_of_wkb(blob, expected, company):
    other = point(1001, 7, 8, 9)
    blobs = [other] * company + [blob] + [other] * company
    for given in (blobs, np.array([*blobs, None], object)[:-1]):
        got = np.array(wkb.points_of_wkb(given))
        assert_array_equal(got[:, company], expected)
        rest = np.delete(got, company, axis=1)
        assert_array_equal(rest, np.tile([[7], [8], [9], [np.nan], [1]], 2 * company))


def test_points_of_no_rows():
    for empty in ([], np.zeros(0, "V29"), np.zeros(0, object)):
        assert [len(column) for column in wkb.points_of_wkb(empty)] == [0] * 5


@pytest.mark.parametrize(
    ("wkt", "expected", "parts"),
    [
        ("LineString (1 2, 3 4)", [(1, 2, np.nan, np.nan), (3, 4, np.nan, np.nan)], [0, 0]),
        ("LineStringZ (1 2 3, 4 5 6)", [(1, 2, 3, np.nan), (4, 5, 6, np.nan)], [0, 0]),
        ("LineStringM (1 2 9, 4 5 8)", [(1, 2, np.nan, 9), (4, 5, np.nan, 8)], [0, 0]),
        ("LineStringZM (1 2 3 9, 4 5 6 8)", [(1, 2, 3, 9), (4, 5, 6, 8)], [0, 0]),
        (
            "MultiLineStringZM ((1 2 3 9, 4 5 6 8), (7 8 9 1, 1 1 1 1, 2 2 2 2))",
            [(1, 2, 3, 9), (4, 5, 6, 8), (7, 8, 9, 1), (1, 1, 1, 1), (2, 2, 2, 2)],
            [0, 0, 1, 1, 1],
        ),
        (
            "CircularStringZM (0 0 0 1, 1 1 0 2, 2 0 0 3)",
            [(0, 0, 0, 1), (1, 1, 0, 2), (2, 0, 0, 3)],
            [0, 0, 0],
        ),
        ("LineString EMPTY", np.zeros((0, 4)), []),
    ],
)
def test_vertices_of_lines(wkt, expected, parts):
    points, part = wkb.vertices_of_line(QgsGeometry.fromWkt(wkt))
    assert_array_equal(points, expected)
    assert_array_equal(part, parts)
    for number, (x, y, _, _) in enumerate(points.tolist()):
        vertex = wkb.point_of_vertex(QgsGeometry.fromWkt(wkt), number).asPoint()
        assert (vertex.x(), vertex.y()) == (x, y)


def test_vertices_of_no_geometry():
    points, part = wkb.vertices_of_line(QgsGeometry())
    assert points.shape == (0, 4) and part.shape == (0,)
