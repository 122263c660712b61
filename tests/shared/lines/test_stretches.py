"""Which edge runs along which piece of an existing line."""

import numpy as np
import pytest
from lineshapes import dense, layer
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.stretches import PartStations, find_stretches, stations_by_parts


def stretches(existing, *edges):
    existing = layer(*existing)
    compared = compare(layer(*edges), existing, ComparisonSettings(existing_sigma=0.05))
    return find_stretches(stations_by_parts(compared), existing)


LINE = [[0, 0], [100, 0]]


def test_a_walk_along_the_whole_line_is_one_stretch():
    found = stretches([LINE], dense([[0, 0.5], [100, 0.5]]))
    assert_array_equal(found.part, [0])
    assert_allclose([found.low[0], found.high[0]], [0, 100])
    assert found.at_start[0] and found.at_end[0]
    assert_allclose([found.edge_low[0], found.edge_high[0]], [0, 100], atol=1e-6)


def test_an_edge_that_runs_the_other_way_has_falling_chainages():
    found = stretches([LINE], dense([[100, 0.5], [0, 0.5]]))
    assert_allclose([found.edge_low[0], found.edge_high[0]], [100, 0], atol=1e-6)


def test_an_edge_along_the_middle_reaches_no_end():
    found = stretches([LINE], dense([[30, 0.5], [70, 0.5]]))
    assert not found.at_start[0] and not found.at_end[0]
    assert_allclose([found.low[0], found.high[0]], [30, 70], atol=1.0)


def test_a_break_of_the_walk_divides_the_stretch():
    found = stretches([LINE], dense([[0, 0.5], [40, 0.5]]), dense([[60, 0.5], [100, 0.5]]))
    assert_array_equal(found.edge_part, [0, 1])
    assert_array_equal(found.at_start, [True, False])
    assert_array_equal(found.at_end, [False, True])
    assert found.high[0] < 45 and found.low[1] > 55


@pytest.mark.parametrize("way", [1, -1])
def test_corners_do_not_divide_a_stretch(way):
    """At an inner or outer corner a station may find no counterpart across the line."""
    corners = np.array([[0, 0], [30, 0], [30, 20], [60, 20], [60, 0]], float)
    found = stretches([corners], dense((corners + [0.9, -0.7])[::way]))
    assert len(found) == 1 and found.at_start[0] and found.at_end[0]


def test_one_edge_along_two_lines_is_a_stretch_of_each():
    found = stretches([LINE, [[100, 0], [150, 0]]], dense([[0, 0.5], [150, 0.5]]))
    assert_array_equal(found.part, [0, 1])
    assert_array_equal(found.edge_part, [0, 0])
    assert found.edge_low[1] == pytest.approx(100, abs=1.0)


def test_no_edge_near_gives_none():
    found = stretches([LINE], dense([[0, 50], [100, 50]]))
    assert len(found) == 0 and len(found.take(np.zeros(0, bool))) == 0


def test_stations_without_a_counterpart_in_between_divide_a_stretch():
    chainage = np.array([0.5, 1.5, 2.5, 12.5, 13.5, 14.5])
    none = np.zeros(6, int)
    stations = PartStations(none, none, chainage, chainage, np.full(6, 0.5), np.zeros((6, 2)))
    found = find_stretches(stations, layer([[0, 0], [15, 0]]))
    assert_allclose([found.low, found.high], [[0, 12], [3, 15]])
