"""Layers of edges as lines: the same whatever the order of the rows, and back into the layer."""

import numpy as np
import pytest
from linelayers import UTM, line_layer, straight, upright
from numpy.testing import assert_allclose, assert_array_equal
from qgis.core import QgsCoordinateTransformContext, QgsProcessingException
from walkedlayers import Log, layer_of, source_of, walk

from curbwright.algorithms.reading.edge_lines import attributes_of, read_edge_lines

pytestmark = pytest.mark.usefixtures("provider")
CONTEXT = QgsCoordinateTransformContext()
FIELDS = (("edge_id", "integer"), ("sigma_cross", "double"))
SHAPES = [straight(0.0), upright(50.0), [straight(10.0, (0, 5)), straight(10.0, (8, 20))]]
VALUES = [[7, 0.01], [3, 0.02], [5, None]]


def read(shapes=SHAPES, values=VALUES, fields=FIELDS, crs=UTM, log=None):
    layer = line_layer(shapes, kind="MultiLineString", fields=fields, values=values, crs=crs)
    source = source_of(layer)
    source.layer = layer  # which must outlive it
    edges = read_edge_lines(source, ["edge_id"], "Edges", CONTEXT, log or Log(), lambda _: None)
    return source, edges


def test_each_part_is_an_edge_in_the_order_of_the_naming_field():
    _, edges = read()
    assert edges.labels == ["3", "5/1", "5/2", "7"] and "edge_id" in edges.labelled_by
    assert_allclose(edges.lines.length() / edges.lines.scale, [40, 5, 12, 40], rtol=1e-3)
    assert_allclose(edges.lines.sigma, [0.02, 0, 0, 0.01])  # 0 where unknown


@pytest.mark.parametrize("named", [True, False])
def test_the_order_of_rows_has_no_say(named):
    fields, values = (FIELDS, VALUES) if named else ((), None)
    names = ["edge_id"] if named else []
    found = []
    for order in ([0, 1, 2], [2, 0, 1]):
        layer = line_layer(
            [SHAPES[row] for row in order], kind="MultiLineString", fields=fields,
            values=[values[row] for row in order] if named else None,
        )  # fmt: skip
        source = source_of(layer)
        found.append(read_edge_lines(source, names, "Edges", CONTEXT, Log(), lambda _: None))
    for name in ("x", "y", "z"):
        assert_array_equal(*(getattr(one, name) for one in found))
        assert_array_equal(*(getattr(one.lines, name) for one in found))


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326"])
def test_positions_go_back_into_the_layer(crs):
    _, edges = read(crs=crs)
    step = 1e-3 if crs == UTM else 1e-8
    x, y, _ = edges.to_layer(edges.lines.x, edges.lines.y, edges.lines.z)
    assert_allclose((x, y), (edges.x, edges.y), rtol=0, atol=step)
    # exactly what was read, where it is that vertex
    x, y, _ = edges.to_layer(
        edges.lines.x + 1.0, edges.lines.y, edges.lines.z, np.arange(len(edges.x))
    )
    assert_array_equal((x, y), (edges.x, edges.y))


def test_attributes_come_edge_by_edge():
    source, edges = read()
    rows = attributes_of(source, edges, Log())
    assert [row[0] for row in rows] == [3, 5, 5, 7] and rows[1][1] is None


def test_rows_without_a_length_are_left_out_and_told():
    log = Log()
    _, edges = read(
        [straight(0.0), None, straight(4.0, (3, 3.0001))], [[1, 0], [2, 0], [3, 0]], log=log
    )
    assert edges.labels == ["1"] and any("no length: 2." in text for text in log.warnings)


def test_points_are_refused():
    layer = layer_of(walk(captures=1))
    with pytest.raises(QgsProcessingException, match="“quay walk” holds no lines.*in “Edges”"):
        read_edge_lines(source_of(layer), [], "Edges", CONTEXT, Log(), lambda _: None)
