"""Edges into positions for the fit: from lines and from kept epochs, in ground metres and back."""

from types import SimpleNamespace

import numpy as np
import pytest
from linelayers import UTM, line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import QgsCoordinateTransformContext, QgsProcessingException
from walkedlayers import Log, layer_of, reconstruct, source_of, walk

from curbwright.algorithms.reading.columns import column_of_list
from curbwright.algorithms.reading.edge_samples import EdgeChoices, _steady_sigma, read_edges

pytestmark = pytest.mark.usefixtures("provider")
CONTEXT = QgsCoordinateTransformContext()


def read(layer, edge_fields=(), log=None):
    choices = EdgeChoices(None, list(edge_fields), "Edges", "Fields of the edge")
    return read_edges(source_of(layer), choices, 0.01, CONTEXT, log or Log(), lambda _: None)


@pytest.fixture(scope="module")
def made(provider):
    return reconstruct(layer_of(walk(captures=2)))


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:3857"])
def test_lines_are_as_long_on_the_ground_in_every_crs(crs):
    found = read(line_layer([straight(0.0), straight(9.0, (0, 25))], crs=crs))
    assert found.is_line and len(found.edge_id) == 2
    sizes = np.split(
        np.column_stack([found.samples.x, found.samples.y]), found.samples.offsets[1:-1]
    )
    reach = [np.hypot(*(one[-1] - one[0])) for one in sizes]
    # on the ground it is a little longer than in the zone's metres (scale 0.9997 here)
    assert_allclose(reach, [40.0, 25.0], rtol=1e-3)
    assert_allclose(reach[0] / reach[1], 1.6, rtol=1e-6)


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326"])
def test_ground_metres_go_back_into_the_layer(crs):
    found = read(line_layer([straight(0.0), straight(9.0)], crs=crs))
    run = np.repeat([0, 1], 5)
    x, y = np.linspace(0, 40, 10), np.linspace(-3, 3, 10)
    there = found.to_layer(x, y, run)
    assert_allclose(found.to_ground(*there, run), (x, y), atol=1e-6)
    assert np.abs(found.grid_north(*there)).max() < 3.0  # convergence, degrees


def test_kept_epochs_are_put_in_order_along_their_edges(made):
    log = Log()
    found = read(made["KEPT"], log=log)
    assert not found.is_line and found.own_id
    assert sorted(found.edge_id) == sorted(
        feature["edge_id"] for feature in made["OUTPUT"].getFeatures()
    )
    assert any("noise across the edge" in text for text in log.infos)
    lines = read(made["OUTPUT"])
    for column in ("x", "y"):
        assert np.isfinite(getattr(found.samples, column)).all()
    assert len(lines.edge_id) == len(found.edge_id)
    assert found.carried[0][0] == "capture"
    assert set(found.carried[0][2]) == {"walk 1", "walk 2"}


def test_edges_of_one_name_that_lie_apart_are_told(made):
    kept = made["KEPT"].clone()
    place = kept.fields().lookupField("edge_id")
    kept.dataProvider().changeAttributeValues(
        {feature.id(): {place: 1} for feature in kept.getFeatures()}
    )
    with pytest.raises(QgsProcessingException, match="farther apart.*in “Fields of the edge”"):
        read(kept)


def test_epochs_without_a_chainage_are_refused():
    with pytest.raises(QgsProcessingException, match="no field “edge_id”.*Kept epochs"):
        read(layer_of(walk(captures=1)))


def test_accuracies_are_in_the_unit_of_their_name_and_what_can_be_none_is_passed_over():
    def steady(name, kind, values):
        rows = SimpleNamespace(columns={name: column_of_list(kind, values)})
        take = np.arange(len(values))
        return _steady_sigma(rows, name, take, np.zeros(len(values), np.int64), 1)

    metres = steady("h_acc", "double", [0.01, 0.02])
    assert_allclose(steady("h_acc_mm", "double", [10.0, 20.0]), metres)
    assert_allclose(steady("h_acc", "text", ["1 cm", "0,02"]), metres)
    usual = steady("h_acc", "double", [None, None])
    assert_allclose(steady("h_acc", "double", [-1.0, 1e30]), usual)
