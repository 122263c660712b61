"""Layers of walks."""

import numpy as np
import pytest
from linelayers import line_layer
from qgis.core import QgsCoordinateTransformContext, QgsProcessingException
from walkedlayers import Log, source_of

from curbwright.algorithms.reading.walks import read_walks, walk_fields

pytestmark = pytest.mark.usefixtures("provider")

LABELS = ("Uncertainty", "Uncertainty of heights", "Never merge across")
FIELDS = (
    ("Edge_ID", "integer"),
    ("captures", "string"),
    ("sigma_cross", "double"),
    ("side", "string"),
)
SIDE = np.array([(0.0, 0.0), (10.0, 0.0)])


def source(values, shapes=None):
    shapes = [SIDE + (0.0, row) for row in range(len(values))] if shapes is None else shapes
    layer = line_layer(shapes, "walks", "MultiLineString", fields=FIELDS, values=values)
    made = source_of(layer)
    made.layer = layer  # which must outlive it
    return made


def read(made, **chosen):
    fields = walk_fields(made, ("", ""), chosen.get("groups", []), LABELS)
    context = QgsCoordinateTransformContext()
    return read_walks(made, fields, context, Log(), lambda share: None)


def test_fields_are_found_in_any_case():
    found = walk_fields(source([(1, "a", 0.01, "l")]), ("", ""), ["SIDE"], LABELS)
    assert (found.sigma, found.sigma_up, found.edge_id) == ("sigma_cross", "", "Edge_ID")
    assert found.groups == ["side"] and found.capture == "captures"
    assert found.wanted == ["sigma_cross", "side", "Edge_ID", "captures"]


def test_a_unit_behind_the_name_of_an_uncertainty_counts():
    shapes, fields = [SIDE, SIDE + 5.0], (("sigma_mm", "double"),)
    layer = line_layer(shapes, "walks", "MultiLineString", fields=fields, values=[(10.0,), (20.0,)])
    found = walk_fields(source_of(layer), ("sigma_mm", ""), [], LABELS)
    walks = read_walks(
        source_of(layer), found, QgsCoordinateTransformContext(), Log(), lambda share: None
    )
    assert np.allclose(walks.lines.sigma, [0.01, 0.02])


def test_a_chosen_field_that_is_not_there():
    made = source([(1, "a", 0.01, "l")])
    with pytest.raises(QgsProcessingException, match="no field “height”.*“Never merge across”"):
        walk_fields(made, ("", ""), ["height"], LABELS)


def test_walks_are_called_by_capture_where_numbers_repeat():
    layer = read(source([(1, "a", 0.01, "l"), (1, "b", 0.02, "r")]), groups=["side"])
    assert layer.labels == ["a 1", "b 1"] and layer.captures == ["a", "b"]
    assert np.allclose(layer.lines.sigma, [0.01, 0.02]) and np.isnan(layer.sigma_up).all()
    assert layer.group[0] != layer.group[1]


def test_parts_are_walks_of_their_own():
    layer = read(source([(4, "a", 0.01, "l")], [[SIDE, SIDE + (0.0, 5.0)]]))
    assert layer.labels == ["4/1", "4/2"] and layer.captures == ["a", "a"]
    assert np.allclose(layer.lines.length().sum(), 20.0, rtol=1e-3)
    x, y, _ = layer.to_layer(layer.lines.x, layer.lines.y, layer.lines.z)
    assert np.allclose(np.column_stack([x, y]), layer.raw[:, :2], atol=1e-6)
