"""What joined edges are like: lengths, uncertainties, moves, islands."""

import numpy as np
import pytest
import shapely
from lineshapes import edges_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.end_pairs import JoinLimits
from curbwright.shared.lines.joined_edges import find_islands, values_of
from curbwright.shared.lines.joins import join_edges

SQUARE = [(0, 0), (4, 0), (4, 3), (0, 3), (0, 0)]
BOW_TIE = [(10, 0), (14, 3), (14, 0), (10, 3), (10, 0)]


def test_lengths_are_those_of_the_ground():
    edges = edges_of([(0, 0), (10, 0)], [(0, 50), (30, 50)], scale=[1.0, 1.5])
    values = values_of(edges, np.zeros(2), join_edges(edges))
    assert_allclose(values.length, [10, 20])
    assert_allclose(values.scale, [1.0, 1.5])
    assert_array_equal(values.moved, [0, 0])


def test_sigma_is_the_root_of_the_mean_square_over_the_length():
    edges = edges_of([(0, 0), (10, 0)], [(10.1, 0), (40.1, 0)], sigma=[0.01, 0.02])
    joined = join_edges(edges)
    values = values_of(edges, np.zeros(2), joined)
    assert_allclose(values.sigma, np.sqrt((10 * 0.01**2 + 30 * 0.02**2) / 40))
    assert np.isnan(values.sigma_up).all()  # 0 is not known
    assert values.moved == pytest.approx(joined.changes.moved.max())


@pytest.mark.parametrize("turned", [False, True])
def test_an_island_runs_counter_clockwise_whichever_way_it_was_walked(turned):
    edges = edges_of(SQUARE[::-1] if turned else SQUARE)
    joined = join_edges(edges)
    islands = find_islands(joined, np.array([2.0]))
    assert_allclose(islands.area, 12 / 2.0**2)
    assert_array_equal(islands.offsets, [0, 5])
    ring = shapely.linearrings(np.column_stack([joined.x, joined.y])[islands.vertex])
    assert shapely.is_ccw(ring)


def test_rings_that_cross_themselves_and_open_edges_bound_nothing():
    edges = edges_of(BOW_TIE, SQUARE, [(0, 20), (9, 20)])
    joined = join_edges(edges, JoinLimits(close_rings=False))
    islands = find_islands(joined, np.ones(len(joined)))
    assert_array_equal(islands.edge, [1])
    assert_array_equal(islands.unsound, [0])
    assert_array_equal(islands.offsets, [0, 5])


def test_no_ring_gives_no_island():
    islands = find_islands(join_edges(edges_of([(0, 0), (9, 0)])), np.ones(1))
    assert not len(islands.edge) and not len(islands.vertex) and not len(islands.unsound)
    assert_array_equal(islands.offsets, [0])
