"""Places of junctions: lines that share an end do so afterwards."""

import numpy as np
import shapely
from lineshapes import dense, layer
from numpy.testing import assert_allclose, assert_array_equal
from updates import FRONT, MOVED, names, plan, updated

from curbwright.shared.lines.junction_targets import _beside


def test_neighbours_follow_to_the_shared_end():
    side = [[60, 0], [60, 40]]
    existing = layer(FRONT, side)
    found = plan(existing, layer(dense(MOVED), dense([[60, 3], [60, 40]])))
    assert names(found) == ["replaced", "followed"]
    front, back = updated(existing, found)
    assert_array_equal(front[-1], back[0])
    assert_allclose(back[0], [60, 0.6], atol=1e-9)
    assert_array_equal(back[-1], [60, 40])


def test_two_moved_sides_meet_in_their_corner():
    existing = layer(FRONT, [[60, 0], [60, 40]])
    found = plan(existing, layer(dense([[0, 0.6], [59.8, 0.6]]), dense([[60.7, 0.9], [60.7, 40]])))
    front, side = updated(existing, found)
    assert_allclose(front[-1], [60.7, 0.6], atol=1e-6)
    assert_array_equal(front[-1], side[0])


def test_one_edge_along_three_lines_is_cut_where_they_meet():
    existing = layer([[0, 0], [20, 0]], [[20, 0], [45, 0]], [[60, 0], [45, 0]])
    found = plan(existing, layer(dense([[60, 0.5], [0, 0.5]])))
    assert names(found) == ["replaced"] * 3
    a, b, c = updated(existing, found)
    assert_array_equal(a[-1], b[0])
    assert_array_equal(b[-1], c[-1])
    assert_allclose([a[-1], b[-1], c[0]], [[20, 0.5], [45, 0.5], [60, 0.5]], atol=1e-9)


def test_a_neighbour_that_would_have_to_follow_too_far_keeps_its_end():
    """The line that moved runs back to the shared end over the length of the transition."""
    existing = layer(FRONT, [[60, 0], [60, 40]])
    edges = layer(dense([[0, 1.5], [60, 1.5]]), dense([[60, 3], [60, 40]]))
    found = plan(existing, edges, follow=1.0, blend=4.0)
    front, side = updated(existing, found)
    assert_array_equal(front[-1], [60, 0])
    assert_array_equal(side, [[60, 0], [60, 40]])
    shape = shapely.LineString(front)
    for x, y in ((0, 1.5), (30, 1.5), (55.9, 1.5), (58, 0.75)):
        assert shape.distance(shapely.Point(x, y)) < 0.02, (x, y)


def test_the_other_end_keeps_its_place_as_well():
    existing = layer(FRONT, [[0, 0], [0, 40]])
    edges = layer(dense([[0, 1.5], [60, 1.5]]), dense([[0, 3], [0, 40]]))
    front, side = updated(existing, plan(existing, edges, follow=1.0, blend=4.0))
    assert_array_equal(front[0], [0, 0])
    assert_array_equal(side, [[0, 0], [0, 40]])


def test_a_place_beyond_the_end_of_its_edge_stays_and_one_beside_it_goes_there():
    edge = np.array([[0.0, 0.0, 3.0], [10.0, 0.0, 3.0]])
    for place, goes in (([12.0, 0.5], [12.0, 0.5]), ([5.0, 0.5], [5.0, 0.0])):
        assert_allclose(_beside(edge, np.array(place)), goes)
