"""Tangents of ends, and the pairs that ends make."""

import numpy as np
import pytest
from lineshapes import edges_of, shape_of, turn
from numpy.testing import assert_allclose

from curbwright.shared.lines.end_pairs import JoinLimits, find_ends
from curbwright.shared.lines.joins import join_edges


@pytest.mark.parametrize("slip", [(0.02, 0.025), (0.0, 0.03), (0.03, -0.02)])
def test_the_last_two_vertices_do_not_tell_the_tangent(slip):
    # the last two vertices lie 3 cm apart and point anywhere; without that a corner of (11, 0)
    result = join_edges(
        edges_of([(0, 0), (4, 0), (10, 0), (10 + slip[0], slip[1])], [(11, 1.2), (11, 9)])
    )
    corner = shape_of(result)[np.argmin(np.hypot(*(shape_of(result)[:, :2] - [11, 0]).T))]
    assert np.hypot(*(corner[:2] - [11, 0])) < 0.02


def test_a_corner_just_before_the_end_is_no_part_of_the_tangent():
    ends = find_ends(edges_of([(0, 0), (10, 0), (10, 1.0)]), JoinLimits())
    assert_allclose([ends.tangent_x[1], ends.tangent_y[1]], [0, 1], atol=0.02)


@pytest.mark.parametrize("radius", [1.5, 4.0, 12.0])
def test_the_tangent_of_an_arc_is_that_at_its_end(radius):
    # thinned as edges are: chords within 10 mm of the circle, r (1 - cos(theta / 2))
    step = 2 * np.degrees(np.arccos(1 - 0.01 / radius))
    made = turn(radius, 0, 90, step=np.radians(step) * radius)
    ends = find_ends(edges_of(made), JoinLimits(max_extension=5.0))
    found = np.degrees(np.arctan2(ends.tangent_y[1], ends.tangent_x[1]))
    assert abs(found - 180) < 4.0
    # and it is extended only as far as the tangent stays within about 5 cm of the circle: a² / 2r;
    # a parabola takes a tight one for flatter
    assert 0.04 < ends.reach[1] ** 2 / 2 / radius < 0.07
