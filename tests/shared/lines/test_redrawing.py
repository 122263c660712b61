"""Lines drawn anew: those that end on others still do, and parts go their own way."""

import numpy as np
import shapely
from lineshapes import dense, layer, lines_of
from numpy.testing import assert_allclose, assert_array_equal
from updates import FRONT, MOVED, names, plan, updated


def test_a_line_that_ends_on_a_moved_one_still_does():
    branch = [[25, 0], [25, -30]]
    existing = layer(FRONT, branch)
    found = plan(existing, layer(dense(MOVED), dense([[25, -3], [25, -30]])))
    assert names(found) == ["replaced", "followed"]
    front, branch = updated(existing, found)
    assert_allclose(branch[0], [25, 0.6], atol=1e-6)
    assert (np.hypot(*(front - branch[0]).T) < 1e-6).any()


def test_a_replaced_branch_ends_on_the_line_that_did_not_move():
    """The edge's end lies a centimetre beside the front: the branch ends on the front itself."""
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense(FRONT), dense([[25.5, 0.01], [25.5, -30]])))
    assert names(found) == ["unchanged", "replaced"]
    assert shapely.LineString(FRONT).distance(shapely.Point(found.parts[1][0][0, :2])) == 0.0


def test_parts_of_one_line_are_redrawn_each_by_itself():
    existing = lines_of([FRONT, [[0, 50], [60, 50]], [[0, 90], [60, 90]]], sigma=np.array([0.01]))
    edges = layer(*(dense([[0, y], [60, y]]) for y in (0.0, 50.6, 90.0)))
    found = plan(existing, edges, replace_all=True)
    first, moved, last = found.parts[0]
    assert_array_equal(first[:, :2], FRONT)
    assert_allclose(moved[:, 1], 50.6, atol=1e-9)
    assert_array_equal(last[:, :2], [[0, 90], [60, 90]])
