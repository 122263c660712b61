"""The numbers behind one line."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.review import evidence
from curbwright.shared.tuning import override


@pytest.fixture
def corner():
    """10 m east, then 10 m north."""
    x, y = np.array([0.0, 10, 10]), np.array([0.0, 0, 10])
    return evidence.make_axis(x, y, np.array([1.0, 2, 3]), [0, 3])


def test_projection_gives_chainage_and_side(corner):
    chainage, across = evidence.project(
        corner, np.array([4.0, 4, 12, 9, -3]), np.array([-1.0, 2, 5, 5, 4])
    )
    assert_allclose(chainage, [4, 4, 15, 15, 0])
    assert_allclose(across, [1, -2, 2, -1, -5])


def test_projection_does_not_depend_on_blocks(corner):
    rng = np.random.default_rng(1)
    x, y = rng.uniform(-2, 12, (2, 999))
    whole = evidence.project(corner, x, y)
    with override(REVIEW__block=7):
        assert_array_equal(evidence.project(corner, x, y), whole)


def test_projected_places_lie_on_the_line(corner):
    rng = np.random.default_rng(2)
    x, y = rng.uniform(-2, 12, (2, 200))
    chainage, across = evidence.project(corner, x, y)
    px, py, _ = evidence.place_at(corner, chainage)
    assert_allclose(np.hypot(x - px, y - py), np.abs(across), atol=1e-12)


def test_parts_follow_each_other_without_a_step():
    x, y = np.array([0.0, 3, 100, 104]), np.zeros(4)
    axis = evidence.make_axis(x, y, np.full(4, np.nan), [0, 2, 4])
    assert axis.length == 7
    chainage, across = evidence.project(axis, np.array([50.0]), np.array([0.0]))
    assert_allclose(chainage, [3]) and abs(across[0]) == 47  # never on the step between parts


def test_heights_are_those_over_the_line(corner):
    assert_allclose(
        evidence.height_above(corner, np.array([5.0, 20]), np.array([1.6, 3])), [0.1, 0]
    )


def test_rejected_epochs_far_from_the_line_are_left_out():
    table = evidence.Epochs(
        kept=np.array([True, False, False, True]),
        word=np.array(["single", "spike", "spike", "doubtful"]),
        chainage=np.array([5.0, 1, 2, 0]),
        across=np.array([9.0, 1, 9, np.nan]),
        up=np.zeros(4),
        height=np.zeros(4),
        rows=np.arange(4),
    )
    shown = evidence.behind(table)
    assert_array_equal(shown.rows, [3, 1, 0])
