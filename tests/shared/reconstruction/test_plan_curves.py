"""Samples of fitted curves: where nodes may be left out."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.alignment.profile import Profile
from curbwright.shared.reconstruction.plan_curves import Plan, sample, write_lines


def plan_of(x, y):
    """A path of straight pieces, each node the foot of a position."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    s = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    none = np.zeros(len(x))
    held = np.zeros(len(x), bool)
    held[[0, -1]] = True
    return Plan(
        x,
        y,
        s,
        none,
        held,
        np.array([0, len(x)]),
        np.arange(len(x)),
        np.zeros((len(x), 2)),
        np.zeros(1, bool),
        none,
        np.zeros((0, 2)),
        np.zeros(0, int),
    )


def profile_of(plan, z):
    none = np.zeros((len(z), 1))
    return Profile(
        plan.s,
        plan.offsets,
        np.asarray(z, float)[:, None],
        none,
        none,
        np.zeros(0, np.int64),
        np.zeros(0),
        np.zeros(0),
    )


def line(plan, z, tolerance=0.01):
    return write_lines(sample(plan, profile_of(plan, z), tolerance), plan, tolerance)[0]


def test_nodes_in_line_are_no_samples():
    plan = plan_of(np.arange(50.0), np.arange(50.0) / 3)
    assert len(sample(plan, profile_of(plan, np.arange(50) * 0.02), 0.01).x) == 2
    assert_allclose(line(plan, np.arange(50) * 0.02), [[0, 0, 0], [49, 49 / 3, 0.98]], atol=1e-9)


@pytest.mark.parametrize("z", [[0.0, 0.0, 0.2, 0.0, 0.0], [np.nan] * 5])
def test_a_break_in_height_counts_and_no_height_does_not(z):
    plan = plan_of([0.0, 1.0, 2.0, 3.0, 4.0], [0.0] * 5)
    assert len(line(plan, z)) == (2 if np.isnan(z).all() else 5)


@pytest.mark.parametrize("back", [[0.0, 2.0, 1.5, 4.0], [0.0, 2.0, 0.0, 4.0]])
def test_where_a_line_doubles_back_the_turning_points_stay(back):
    plan = plan_of(back, [0.0] * 4)
    curves = sample(plan, profile_of(plan, [0.0] * 4), 0.01)
    assert_allclose(curves.x, back, atol=1e-12)
