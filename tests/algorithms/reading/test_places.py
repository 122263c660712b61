"""Places that cannot be."""

import numpy as np
import pytest
from linelayers import ORIGIN, line_layer
from qgis.core import QgsCoordinateTransformContext, QgsGeometry, QgsPoint, QgsProcessingException
from walkedlayers import ORIGIN as WALKED
from walkedlayers import Log, layer_of, reconstruct, run, source_of, walk

from curbwright.algorithms.reading.places import (
    area_doubt,
    middle_of,
    refuse_exchanged,
    take_out_strays,
    width_doubt,
)

pytestmark = pytest.mark.usefixtures("provider")
ALONG = np.column_stack([np.arange(0.0, 60.0, 2.0), np.zeros(30)])


def strayed(x, y, offsets=None):
    """Places taken out of positions in a layer, and what was said."""
    log, x, y = Log(), np.array(x, float), np.array(y, float)
    layer = layer_of(walk(captures=1))  # a source dies with its layer
    take_out_strays(source_of(layer), x, y, offsets, log)
    return np.flatnonzero(np.isnan(x)).tolist(), log.warnings


def test_a_vertex_at_nought_far_from_all_others_is_no_position():
    x, y = 5e5 + np.arange(30.0), 6.2e6 + np.zeros(30)
    x[4] = y[4] = 0.0
    assert strayed(x, y)[0] == [4]
    assert "0, 0" in strayed(x, y)[1][0]


def test_nought_inside_or_next_to_the_layer_is_a_position():
    assert strayed(np.arange(-5.0, 5.0), np.zeros(10)) == ([], [])
    assert strayed(np.append(0.0, np.arange(900.0, 930.0)), np.zeros(31)) == ([], [])


@pytest.mark.parametrize("vertex", [0, 9, 29])
def test_a_vertex_far_from_its_neighbours_is_no_position(vertex):
    x, y = 5e5 + np.arange(60.0), 6.2e6 + np.zeros(60)
    x[vertex] += 1e6
    assert strayed(x, y, np.array([0, 30, 60]))[0] == [vertex]


def test_lines_far_apart_are_left_alone():
    x = np.append(np.arange(30.0), 1e6 + np.arange(30.0))
    assert strayed(x, np.zeros(60), np.array([0, 30, 60])) == ([], [])


def test_one_vertex_at_nought_does_not_make_a_line_round_the_earth():
    shapes = [ALONG + (0.0, 20.0 * k) for k in range(3)]
    shapes[1] = shapes[1].copy()
    shapes[1][7] = -np.array(ORIGIN)
    log = Log()
    parameters = {
        "INPUT": line_layer(shapes),
        "EXISTING": line_layer([one + (0.0, 0.1) for one in shapes[::2]], "basemap"),
        "OUTPUT": "memory:",
    }
    assert run("compareedges", parameters, log)["MATCHED_LENGTH"] < 200
    assert any("0, 0" in text for text in log.warnings)


def test_east_and_north_exchanged_are_refused():
    layer, context = layer_of(walk(captures=1)), QgsCoordinateTransformContext()
    source = source_of(layer)
    x, y = np.full(5, WALKED[0]), np.full(5, WALKED[1])
    refuse_exchanged(source, middle_of(x, y), context)
    with pytest.raises(QgsProcessingException, match="quay walk.*exchanged"):
        refuse_exchanged(source, middle_of(y, x), context)


def test_degrees_under_a_projected_crs_are_said():
    layer, context = layer_of(walk(captures=1)), QgsCoordinateTransformContext()
    source = source_of(layer)
    x, y = 3.0 + 1e-5 * np.arange(30), 55.9 + 1e-6 * np.arange(30)
    metres = 1e5 * (x - 3)  # at nought
    assert "as degrees do" in area_doubt(source, x, y, middle_of(x, y), context)
    assert "as degrees do" not in area_doubt(source, metres, y, middle_of(metres, y), context)


def test_a_layer_over_thousands_of_kilometres_is_said():
    def place(x, y, z):
        return QgsGeometry(
            QgsPoint((40.0 if x >= 90 else 9.0) + 1e-5 * (x % 100), 55 + 1e-5 * y, z)
        )

    log = Log()
    reconstruct(layer_of(walk(), crs="EPSG:4326", place=place), log)
    assert any("km from its middle" in text for text in log.warnings)
    assert width_doubt("near", np.array([4e5, np.nan]), np.zeros(2)) == ""


@pytest.mark.parametrize("kind", ["Polygon", "Point"])
def test_other_geometry_where_lines_are_due_is_refused(kind):
    from qgis.core import QgsVectorLayer

    other = QgsVectorLayer(f"{kind}?crs=EPSG:32632", "blocks", "memory")
    with pytest.raises(QgsProcessingException, match="“blocks” holds no lines"):
        run("compareedges", {"INPUT": line_layer([ALONG]), "EXISTING": other, "OUTPUT": "memory:"})
