"""Walks along lines of a file: the halves, the noise and its memory, what losses explain."""

import numpy as np
import pytest
from osgeo import ogr

from curbwright.sample_project.simulation import Disturbances
from curbwright.tests.benchmarks.real_walks import (
    corners_seen,
    explained_pieces,
    stretches,
    through,
    walk_at,
    walks_along,
)

SQUARE = [(0, 0), (24, 0), (24, 16), (0, 16), (0, 0)]


@pytest.fixture
def lines(tmp_path):
    path = str(tmp_path / "lines.gpkg")
    source = ogr.GetDriverByName("GPKG").CreateDataSource(path)
    layer = source.CreateLayer("edges", geom_type=ogr.wkbLineString)
    for number in range(6):
        feature = ogr.Feature(layer.GetLayerDefn())
        line = ogr.Geometry(ogr.wkbLineString)
        for x, y in SQUARE if number % 2 else [(0, 0), (100 + number, 0)]:
            line.AddPoint_2D(float(x), float(y))
        feature.SetGeometry(line)
        layer.CreateFeature(feature)
    layer = source = None
    return path


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
    assert explained_pieces(walk, 1.0, 1.0) == 1
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
