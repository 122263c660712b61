"""Junctions: ends at one place, and ends that lie on another line."""

import numpy as np
import pytest
import shapely
from lineshapes import layer
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.nodes import corner_of, find_nodes
from curbwright.shared.tuning import UPDATE


def nodes(*lines):
    shapes = np.array([shapely.LineString(line) for line in lines], dtype=object)
    return find_nodes(layer(*lines), shapes)


FRONT, SIDE = [[0, 0], [60, 0]], [[60, 0], [60, 40]]


def test_ends_at_one_place_are_one_node():
    found = nodes(FRONT, SIDE)
    assert len(found) == 3 and found.of_end[0, 1] == found.of_end[1, 0]
    assert_array_equal(found.host, -1)


def test_a_ring_starts_and_ends_at_one_node():
    found = nodes([[0, 0], [5, 0], [5, 5], [0, 0]])
    assert len(found) == 1 and found.of_end[0, 0] == found.of_end[0, 1]


def test_an_end_on_another_line_has_it_as_host():
    found = nodes(FRONT, [[25, 0], [25, -30]])
    node = found.of_end[1, 0]
    assert found.host[node] == 0 and found.host_chainage[node] == pytest.approx(25.0)
    assert found.host[found.of_end[1, 1]] == -1


def test_the_nearest_of_two_hosts_counts():
    near, far = UPDATE.touch * 0.2, UPDATE.touch * 0.8
    found = nodes(FRONT, [[0, far + near], [60, far + near]], [[25, near], [25, -30]])
    assert found.host[found.of_end[2, 0]] == 0


@pytest.mark.parametrize(("gap", "count"), [(0.5, 3), (2.0, 4)])
def test_touch_decides(gap, count):
    side = [[60, UPDATE.touch * gap], [60, 40]]
    assert len(nodes(FRONT, side)) == count


def test_no_lines_no_nodes():
    assert len(nodes()) == 0


# --- corners

ALONG = np.array([[0, 0, 0], [59, 0, 0]], float)


def test_two_edges_meet_in_their_corner_beyond_their_ends():
    up = np.array([[60, 1, 0], [60, 40, 0]], float)
    corner = corner_of(ALONG, up, (np.array([59.0, 0.0]), np.array([60.0, 1.0])), 2.0)
    assert_allclose(corner, [60, 0], atol=1e-9)


def test_no_corner_of_edges_that_run_alike_or_meet_too_far_away():
    flat = np.array([[60, 1, 0], [100, 3, 0]], float)
    places = np.array([59.0, 0.0]), np.array([60.0, 1.0])
    assert corner_of(ALONG, flat, places, 2.0) is None
    far = np.array([[70, 1, 0], [70, 40, 0]], float)
    assert corner_of(ALONG, far, (places[0], np.array([70.0, 1.0])), 2.0) is None
