"""Edges from paths: unchanged where one walk alone shows them, else merged, with their ends led
onto what they branch off from."""

import numpy as np
import pytest
import shapely
from lineshapes import arc, straight
from mergedwalks import level, merge, shape, states
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.merge_edges import led_onto


def test_edges_without_partner_pass_through_unchanged():
    shapes = [arc(8.0, 0, 2, 9), straight(50.0)[::-1], arc(3.0, 0, 2 * np.pi, 20, (100, 0))]
    shapes[2][-1] = shapes[2][0]
    result = merge(*shapes)
    assert states(result) == ["single"] * 3 and not len(result.disagreements)
    for number, row in enumerate(result.edges.unchanged.tolist()):
        assert_array_equal(shape(result.edges, number)[:, :2], shapes[row])
    assert result.edges.closed.tolist() == [row == 2 for row in result.edges.unchanged]
    assert (
        np.isnan(result.repeatability)
        and np.isnan(result.edges.repeatability).all()
        and np.isnan(result.edges.z).all()
    )


def test_an_edge_runs_the_way_that_most_of_its_walks_ran():
    west, east = level(0.0)[::-1], level(0.01, (0.0, 15.0))
    line = shape(merge(west, east).edges, 0)
    assert line[0, 0] > line[-1, 0]
    result = merge(west, east)
    assert sorted(result.passes.same.tolist()) == [False, True]
    assert result.edges.ends[0].tolist() == [[0, 0], [0, 1]]


def test_a_branch_begins_on_the_edge_that_it_leaves():
    branch = np.array([(0, 0.01, 3), (20, 0.01, 3), (26, 6, 3), (30, 12, 3)], float)
    result = merge(level(0.0), branch)
    assert sorted(states(result)) == ["merged", "rest"] and not len(result.disagreements)
    rest = shape(result.edges, 1)
    start = rest[np.argmin(rest[:, 0])]
    merged = shapely.linestrings(shape(result.edges, 0)[:, :2])
    assert shapely.distance(merged, shapely.points(start[:2])) < 1e-6
    assert shapely.distance(shapely.linestrings(rest[:, :2]), shapely.points(30, 12)) < 1e-9


@pytest.mark.parametrize(("away", "moves"), [(0.1, True), (0.29, True), (0.31, False)])
def test_an_end_is_led_onto_what_is_near(away, moves):
    line = level(away, (10.0, 30.0))
    led = led_onto(line, (level(0.0, z=3.5), None), max_offset=0.15, blend=2.0)
    assert_array_equal(led[-1], line[-1])
    assert_allclose(led[0], (10.0, 0.0, 3.5) if moves else line[0], atol=1e-12)
    # the move has faded after the blend length
    assert_allclose(np.interp(12.0, led[:, 0], led[:, 1]), away, atol=1e-12)
