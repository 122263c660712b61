"""Lines of an updated basemap in the layer's own type and digits."""

from types import SimpleNamespace

import numpy as np
import pytest
from lineshapes import lines_of
from qgis.core import QgsCoordinateReferenceSystem, QgsGeometry

from curbwright.algorithms.writing.basemap import BasemapGeometry

pytestmark = pytest.mark.usefixtures("qgis_app")
EAST = 500_000.1


def basemap(wkt, shift=(0.0, 0.0)):
    """One line and what brings it back, in a frame that lies `EAST` to the west."""
    geometry = QgsGeometry.fromWkt(wkt)
    parts = [[(p.x() - EAST, p.y(), p.z()) for p in part.vertices()] for part in geometry.parts()]
    pair = SimpleNamespace(
        existing=lines_of(parts),
        edges=lines_of(),
        height_unit=1.0,
        positions_in_existing_crs=lambda x, y: (x + EAST, y),
    )
    source = SimpleNamespace(
        wkbType=geometry.wkbType, sourceCrs=lambda: QgsCoordinateReferenceSystem("EPSG:32631")
    )
    return geometry, BasemapGeometry(pair, source, np.array(shift)), pair


def vertices(geometry):
    return [(p.x(), p.y()) for p in geometry.vertices()]


LINE = "LineString(500010.123 7, 500020.456 8.25, 500030.789 9)"


def test_no_shift_gives_the_geometry_itself():
    geometry, rows, _ = basemap(LINE)
    assert rows.shifted(0, geometry) is geometry


def test_a_shift_is_the_same_for_every_vertex():
    geometry, rows, _ = basemap(LINE, (0.25, -0.5))
    moved = np.array(vertices(rows.shifted(0, geometry))) - np.array(vertices(geometry))
    np.testing.assert_allclose(moved, [[0.25, -0.5]] * 3, atol=1e-9)
    arc = QgsGeometry.fromWkt("CompoundCurve(CircularString(0 0, 1 1, 2 0))")
    assert rows.shifted(0, arc).asWkt(6).startswith("CompoundCurve (CircularString")


def test_vertices_that_stay_keep_their_digits():
    geometry, rows, pair = basemap(LINE)
    lines = pair.existing
    drawn = np.column_stack([lines.x, lines.y, lines.z])
    drawn[1, 1] += 0.4
    new = vertices(rows.redrawn(0, geometry, [drawn]))
    assert [new[0], new[2]] == [vertices(geometry)[0], vertices(geometry)[2]]
    assert new[1][1] == pytest.approx(8.65)


@pytest.mark.parametrize(
    "wkt",
    [
        LINE,
        "LineStringZ(500010 7 1, 500020 8 2)",
        "LineStringM(500010 7 1, 500020 8 2)",
        "MultiLineString((500010 7, 500020 8), (500030 7, 500040 8))",
    ],
)
def test_new_lines_have_the_type_of_the_layer(wkt):
    geometry, rows, _ = basemap(wkt)
    new = rows.line(np.array([[1, 2, 3], [4, 5, 6.0]]))
    assert new.wkbType() == geometry.wkbType()
    assert vertices(new) == [(1 + EAST, 2), (4 + EAST, 5)]
