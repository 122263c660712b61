"""Walks along lines of a file: the halves, the noise and its memory, what losses explain."""

from dataclasses import fields, replace

import numpy as np
import pytest
from numpy.testing import assert_allclose
from osgeo import ogr

from curbwright.sample_project.simulation import Disturbances
from curbwright.shared.reconstruction.reconstruct import Settings
from curbwright.tests.benchmarks.real_accuracy import ROWS, figures, measure_real
from curbwright.tests.benchmarks.real_walks import (
    corners_seen,
    explained_stretches,
    stretches,
    through,
    walk_at,
    walks_along,
)

SQUARE = [(0, 0), (24, 0), (24, 16), (0, 16), (0, 0)]


def file_of(folder, lines):
    """Path of a file with lines, lists of places."""
    path = str(folder / "lines.gpkg")
    source = ogr.GetDriverByName("GPKG").CreateDataSource(path)
    layer = source.CreateLayer("edges", geom_type=ogr.wkbLineString)
    for places in lines:
        feature = ogr.Feature(layer.GetLayerDefn())
        line = ogr.Geometry(ogr.wkbLineString)
        for x, y in places:
            line.AddPoint_2D(float(x), float(y))
        feature.SetGeometry(line)
        layer.CreateFeature(feature)
    layer = source = None
    return path


@pytest.fixture
def lines(tmp_path):
    return file_of(
        tmp_path, [SQUARE if number % 2 else [(0, 0), (100 + number, 0)] for number in range(6)]
    )


def test_halves_share_no_line(lines):
    tune, judge = stretches(lines, "tune"), stretches(lines, "judge")
    assert [one.sort for one in tune] == ["straight"] * 3
    assert [one.sort for one in judge] == ["corners"] * 3
    assert len(stretches(lines)) == 6


def test_noise_has_a_memory_of_half_a_second(lines):
    truth = stretches(lines, "tune")[0]
    off = []
    for seed in range(12):
        rng = np.random.default_rng(seed)
        walk = walk_at(truth, rng, "plumb", "C1", 0.0, 8.0, 1.0, Disturbances.none())
        off.append(walk.y - walk.true_y)
    off = np.array([one[:640] - one[:640].mean() for one in off])
    step, second = ((off[:, k:] - off[:, :-k]).std() for k in (1, 8))
    assert off.std() == pytest.approx(0.012, rel=0.1)
    assert step < 0.8 * second


def test_walks_are_repeatable_and_rates_add_epochs(lines):
    truths = stretches(lines)
    slow, again, fast = (walks_along(truths, 3, rate) for rate in (1.0, 1.0, 4.0))
    assert all((a.x == b.x).all() for a, b in zip(slow, again))
    assert sum(map(len, fast)) > 3.5 * sum(map(len, slow))


def test_a_walk_without_losses_is_one_piece_that_shows_its_corners(lines):
    truth = stretches(lines, "judge")[0]
    walk = walk_at(truth, np.random.default_rng(1), "plumb", "C1", 0.0, 1, 1, Disturbances.none())
    assert_allclose(explained_stretches(walk, 1.0, 1.0), [walk.true_chainage[[0, -1]]])
    assert len(corners_seen(walk)) == len(truth.corners) > 1


def test_rounded_logs_lie_on_a_grid(lines):
    truth = stretches(lines, "tune")[0]
    walk = walk_at(truth, np.random.default_rng(1), "plumb", "C1", 0.0, rounded=True)
    assert np.abs(walk.z * 10 - np.round(walk.z * 10)).max() < 1e-6


def test_polyline_samples_do_not_cross_groups():
    xy = np.array([[0, 0], [1, 0], [5, 0], [6, 0.0]])
    points, weight = through(xy, np.array([0, 0, 1, 1]))
    assert weight.sum() == pytest.approx(2.0)
    assert not ((points[:, 0] > 1) & (points[:, 0] < 5)).any()


JOGS = [(0, 0), (12, 0), (12, 0.6), (15, 0.6), (15, 0), (26, 0), (26, 9), (24, 11), (8, 11), (0, 7)]


def thinned(walk, share):
    """Every so manieth epoch of a walk."""
    columns = {
        column.name: getattr(walk, column.name)[::share]
        for column in fields(walk)
        if isinstance(getattr(walk, column.name), np.ndarray)
    }
    return replace(walk, **columns)


def edges_over_raw(walks, rate):
    """RMSE of the edges of walks over that of their good epochs, and pieces a walk."""
    scores, _, _ = measure_real(walks, Settings(doubtful="keep", station_spacing=1.0), rate, 1.0)
    found = dict(zip((title for title, _ in ROWS), figures(scores)))
    return found["edges / raw"], found["pieces a capture"]


def test_a_fast_stream_tells_the_same_line_no_worse_than_the_slow_one_in_it(tmp_path):
    # jogs of 0.6 m, chamfers and long sides, another slant each
    turns = [np.array([[np.cos(a), -np.sin(a)], [np.sin(a), np.cos(a)]]) for a in range(8)]
    path = file_of(tmp_path, [(np.array(JOGS) @ turn).tolist() for turn in turns])
    fast = walks_along(stretches(path, seed=2), 2, 8.0, disturbances=Disturbances.none())
    slow = [thinned(walk, 8) for walk in fast]
    ratios, pieces = zip(edges_over_raw(fast, 8.0), edges_over_raw(slow, 1.0))
    assert ratios[0] < ratios[1] and ratios[0] < 0.9
    assert pieces[0] <= pieces[1]
