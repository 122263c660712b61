"""Coordinates that were rounded before they were read: found, said and counted in uncertainties."""

import numpy as np
import pytest
from linelayers import UTM, line_layer
from numpy.testing import assert_allclose
from qgis.core import QgsCoordinateTransformContext, QgsGeometry, QgsPoint
from walkedlayers import ORIGIN, Log, layer_of, run, source_of, walk

from curbwright.algorithms.reading.coordinate_steps import (
    cell_of_epochs,
    position_step,
    sides_of,
    step_of_epochs,
    widened,
)
from curbwright.algorithms.reading.edge_lines import read_edge_lines
from curbwright.algorithms.reading.edge_samples import EdgeChoices, read_edges
from curbwright.algorithms.reading.line_pair import read_pair
from curbwright.algorithms.reading.walks import read_walks, walk_fields
from curbwright.shared.epochs.rounding import SIGMA

pytestmark = pytest.mark.usefixtures("provider")
CONTEXT = QgsCoordinateTransformContext()
STEP = 0.02
FIELDS = (("edge_id", "integer"), ("sigma_cross", "double"), ("sigma_up", "double"))
LABELS = ("Uncertainty", "Uncertainty of heights", "Never merge across")


def edges(step, number=12):
    """Edges of four vertices at odd places."""
    rng = np.random.default_rng(4)
    shapes = []
    for row in range(number):
        x = np.cumsum(rng.uniform(2.0, 20.0, 4))
        shape = np.column_stack([x, 5.0 * row + rng.uniform(-1, 1, 4), rng.uniform(3, 5, 4)])
        shapes.append(np.round(shape / step) * step if step else shape)
    values = [(row, 0.006, 0.009) for row in range(number)]
    layer = line_layer(shapes, "edges", "LineStringZ", UTM, FIELDS, values)
    made = source_of(layer)
    made.layer = layer  # which must outlive it
    return made


def sigmas_read(source, log):
    """Uncertainties across and up as each way of reading edges gives them."""

    def nowhere(_):
        pass

    walks = read_walks(source, walk_fields(source, ("", ""), [], LABELS), CONTEXT, log, nowhere)
    lines = read_edge_lines(source, [], "Edges", CONTEXT, log, nowhere)
    pair = read_pair(source, edges(0), "", "Uncertainty", CONTEXT, log, nowhere)
    choices = EdgeChoices(None, [], "Edges", "Fields of the edge")
    samples = read_edges(source, choices, 0.01, CONTEXT, log, nowhere)
    across = [walks.lines.sigma, lines.lines.sigma, pair.edges.sigma, samples.sigma]
    return across, [walks.sigma_up, lines.sigma_up]


@pytest.mark.parametrize("step", [0, STEP])
def test_each_way_of_reading_edges_counts_their_rounding(step):
    log = Log()
    across, up = sigmas_read(edges(step), log)
    for found in across:
        assert_allclose(found, np.hypot(0.006, SIGMA * step), rtol=1e-3)
    for found in up:
        assert_allclose(found, np.hypot(0.009, SIGMA * step), rtol=1e-3)
    assert sum("coordinates are rounded" in text for text in log.infos) == (4 if step else 0)


def test_degrees_are_rounded_by_their_greater_side():
    rng = np.random.default_rng(2)
    x, y = np.round(10 + rng.uniform(0, 1e-2, 90), 7), np.round(55 + rng.uniform(0, 1e-2, 90), 7)
    layer = line_layer([], crs="EPSG:4326")
    found = position_step(source_of(layer), x, y, 0.005, 10)
    assert found == pytest.approx(111_000e-7, rel=1e-3)


def test_lines_drawn_at_regular_places_are_not_rounded():
    places = np.arange(0.0, 40.0, 2.5)
    shapes = [np.column_stack([places, 3.0 * row + 0 * places]) for row in range(30)]
    source = source_of(line_layer(shapes))
    x, y = np.concatenate(shapes).T
    assert position_step(source, x, y, 0.005, 10) == 0.0


def test_unknown_stays_unknown():
    found = widened(np.array([0.0, np.nan, 0.003]), 0.004)
    assert_allclose(found, [0.0, np.nan, 0.005])


def test_epochs_on_a_coarse_grid_are_told_and_widen_what_is_made_of_them():
    rows = [{**row, "x": 1.03 * row["x"]} for row in walk(captures=2, epochs=60)]

    def rounded(x, y, z):
        east, north = (round(c / 0.05) * 0.05 for c in (ORIGIN[0] + x, ORIGIN[1] + y))
        return QgsGeometry(QgsPoint(east, north, z))

    log = Log()
    plain, coarse = (
        run("reconstructedges", {"INPUT": layer_of(rows, place=place), "OUTPUT": "memory:"}, log)
        for place in (None, rounded)
    )
    assert sum("rounded to steps of 0.05 m" in text for text in log.warnings) == 1
    plain, coarse = (
        [edge["sigma_cross"] for edge in made["OUTPUT"].getFeatures()] for made in (plain, coarse)
    )
    assert max(plain) < SIGMA * 0.05 < min(coarse)
    assert step_of_epochs(source_of(layer_of([])), np.zeros(0), np.zeros(0), Log()) == 0.0


@pytest.mark.parametrize("coarse", [(True, True), (False, True), (False, False)])
def test_the_cell_of_epochs_in_a_frame(coarse):
    """Steps of a degree along one axis or both, in a frame that turns and stretches."""

    class Frame:
        @staticmethod
        def local(x, y):
            return 70_000.0 * x + 2_000.0 * y, 111_000.0 * y, np.ones(len(x))

    rng, step = np.random.default_rng(6), 1e-6
    x, y = (np.cumsum(rng.normal(1e-5, 3e-6, 300)) + start for start in (10.0, 54.0))
    x, y = (np.round(v / step) * step if on else v for v, on in zip((x, y), coarse))
    layer = line_layer([], crs="EPSG:4326")
    cell = cell_of_epochs(source_of(layer), x, y)
    if not any(coarse):
        assert cell is None and sides_of(cell, Frame) is None
        return
    wanted = np.array([[70_000.0, 0.0], [2_000.0, 111_000.0]]) * step * np.array(coarse)[:, None]
    assert_allclose(sides_of(cell, Frame), wanted, rtol=1e-4, atol=1e-9)


def test_a_walk_along_coarse_cells_is_one_line():
    """Stairs of 0.1 m, one every four epochs, of a layer that is read and fitted."""
    rows = [
        {**row, "x": 100.0 * (k // 60) + 1.03 * (k % 60), "fix": 4, "h_acc": 0.008}
        for k, row in enumerate(walk(captures=2, epochs=60))
    ]

    def stairs(x, _, z):
        east, north = (round(c / 0.1) * 0.1 for c in (ORIGIN[0] + x, ORIGIN[1] + 0.024 * x))
        return QgsGeometry(QgsPoint(east, north, z))

    made = run("reconstructedges", {"INPUT": layer_of(rows, place=stairs), "OUTPUT": "memory:"})
    lines = [edge.geometry() for edge in made["OUTPUT"].getFeatures()]
    assert len(lines) == 2
    for line in lines:
        off = [v.y() - ORIGIN[1] - 0.024 * (v.x() - ORIGIN[0]) for v in line.vertices()]
        assert np.abs(off).max() < 0.03
