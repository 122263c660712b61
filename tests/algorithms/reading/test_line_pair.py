"""Two layers of lines in one frame, whatever the CRS and unit of each."""

import numpy as np
import pytest
from linelayers import UTM, line_layer, straight, upright
from numpy.testing import assert_allclose
from qgis.core import QgsCoordinateTransformContext, QgsProcessingException
from walkedlayers import Log, source_of

from curbwright.algorithms.reading.line_pair import read_pair

pytestmark = pytest.mark.usefixtures("provider")
CONTEXT = QgsCoordinateTransformContext()
EDGES, EXISTING = [straight(0.0), upright(60.0)], [straight(0.3), upright(60.2), straight(90.0)]


def read(edges=None, existing=None, field="", log=None):
    edges = edges or line_layer(EDGES, "edges")
    existing = existing or line_layer(EXISTING, "basemap")
    return read_pair(
        source_of(edges), source_of(existing), field, "Uncertainty", CONTEXT, log or Log(),
        lambda _: None,
    )  # fmt: skip


@pytest.fixture(scope="module")
def same_crs(provider):
    return read()


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:32633", "EPSG:3857"])
def test_the_crs_of_either_layer_changes_nothing(same_crs, crs):
    """All on one datum: a transformation between datums has an accuracy of its own."""
    found = read(existing=line_layer(EXISTING, "basemap", crs=crs))
    for name in ("x", "y"):
        for side in ("edges", "existing"):
            there, here = (getattr(getattr(one, side), name) for one in (found, same_crs))
            assert_allclose(there, here, rtol=0, atol=1e-3)
    assert any("is compared in the CRS of “edges”" in text for text in found.notes)
    other = read(line_layer(EDGES, "edges", crs=crs))
    assert_allclose(
        other.edges.length() / other.edges.scale,
        same_crs.edges.length() / same_crs.edges.scale,
        rtol=1e-5,
    )


def test_both_lie_where_they_are_to_each_other(same_crs):
    edges, existing = same_crs.edges, same_crs.existing
    assert existing.y[0] - edges.y[0] == pytest.approx(0.3, abs=1e-3)
    assert existing.x[2] - edges.x[2] == pytest.approx(0.2, abs=1e-3)
    assert len(same_crs.edge_ids) == 2 and len(same_crs.existing_ids) == 3
    assert same_crs.labelled_by == ("feature id", "feature id")


def test_rows_are_called_by_the_field_that_tells_them_apart():
    named = line_layer(EDGES, "edges", fields=(("edge_id", "integer"),), values=[[7], [9]])
    twice = line_layer(EXISTING, "basemap", fields=(("id", "integer"),), values=[[1], [1], [2]])
    found = read(named, twice)
    assert found.edge_labels == ["7", "9"] and found.labelled_by[1] == "feature id"


def edges_with(*sigmas):
    return line_layer(
        EDGES, "edges", fields=(("sigma_cross", "double"),), values=[[one] for one in sigmas]
    )


def test_uncertainties_come_by_row():
    log = Log()
    assert_allclose(read(edges_with(0.01, 0.03), log=log).edges.sigma, [0.01, 0.03])
    assert any("median 0.020 m" in text for text in log.infos)
    assert_allclose(read(edges_with(0.01, None), log=log).edges.sigma, 0.01)
    assert "rows without a value: 1;" in log.warnings[-1]
    assert_allclose(read(edges_with(0.01, 0.03), field=None).edges.sigma, 0.0)


@pytest.mark.parametrize(
    ("sigmas", "said"), [((0.01, -0.02), "0 or greater.*“-0.02”"), ((8.0, 8.0), "median of 8")]
)
def test_uncertainties_that_cannot_be_are_refused(sigmas, said):
    with pytest.raises(QgsProcessingException, match=f"“edges”: field “sigma_cross”.*{said}"):
        read(edges_with(*sigmas))


def test_one_uncertainty_that_hides_every_move_is_warned_of():
    log = Log()
    three = [*EDGES, EDGES[0] + (0.0, 9.0)]
    fields = (("sigma_cross", "double"),)
    read(line_layer(three, "edges", fields=fields, values=[[0.01], [0.02], [999.0]]), log=log)
    assert any("999 m (1-sigma): 1." in text for text in log.warnings)


def test_two_empty_layers_are_refused():
    with pytest.raises(QgsProcessingException, match="“edges” and “basemap” are both empty"):
        read(line_layer([], "edges"), line_layer([], "basemap"))


def test_rows_without_a_length_are_told():
    found = read(existing=line_layer([*EXISTING, None], "basemap"))
    assert any("which get no status: 1." in text for text in found.notes)
    assert np.count_nonzero(found.existing.length() > 0) == 3


def test_the_existing_layer_s_own_crs_can_be_reached_again():
    found = read(existing=line_layer(EXISTING, "basemap", crs="EPSG:4326"))
    assert found.to_existing.destinationCrs().authid() == "EPSG:4326"
    assert found.to_existing.sourceCrs().authid() == UTM
