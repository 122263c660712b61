"""Pieces of edges along a line: islands stay rings."""

import numpy as np
import pytest
import shapely
from lineshapes import dense, layer
from numpy.testing import assert_array_equal
from updates import names, plan


def test_an_island_stays_a_ring():
    angle = np.linspace(0, 2 * np.pi, 25)
    ring = np.column_stack([8 * np.cos(angle), 4 * np.sin(angle)])
    ring[-1] = ring[0]
    walked = dense(np.roll(ring[:-1], 7, axis=0), 0.4) + [0.7, -0.4]
    walked = np.vstack([walked, walked[:1]])
    found = plan(layer(ring), layer(walked))
    assert names(found) == ["replaced"]
    line = found.parts[0][0][:, :2]
    assert_array_equal(line[0], line[-1])
    assert shapely.hausdorff_distance(shapely.LineString(line), shapely.LineString(walked)) < 0.03
    assert shapely.LineString(line).is_ring


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("open_by", "near"), [(0, 0.03), (3, 0.1)])
def test_an_island_walked_from_where_it_is_drawn_from(way, open_by, near):
    """The walk starts and ends beside the start of the ring: closed, or a metre short, where the
    chord cuts 9 cm off the island's tip."""
    angle = np.linspace(0, 2 * np.pi, 41)
    ring = np.column_stack([8 * np.cos(angle), 4 * np.sin(angle)])
    ring[-1] = ring[0]
    walked = dense(ring, 0.4) + [0.6, 0.3]
    walked = walked[: len(walked) - open_by][::way]
    found = plan(layer(ring), layer(walked))
    assert names(found) == ["replaced"]
    line = shapely.LineString(found.parts[0][0][:, :2])
    assert line.is_ring
    assert shapely.hausdorff_distance(line, shapely.LineString(ring + [0.6, 0.3])) < near


def test_an_island_walked_halfway_round_is_redrawn_there_alone():
    ring = np.array([[0, 0], [30, 0], [30, 20], [0, 20], [0, 0]], float)
    edges = layer(dense([[0.6, 5], [0.6, 0.6], [30, 0.6]]))
    found = plan(layer(ring), edges)
    line = shapely.LineString(found.parts[0][0][:, :2])
    assert names(found) == ["partly"] and line.is_ring and line.is_simple
    for x, y in ((15, 0.6), (30, 15), (15, 20)):
        assert line.distance(shapely.Point(x, y)) < 0.02, (x, y)
