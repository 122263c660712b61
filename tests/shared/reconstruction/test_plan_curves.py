"""Samples of fitted curves: where nodes may be left out."""

from dataclasses import replace

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.profile import Profile
from curbwright.shared.reconstruction.plan_curves import (
    PlanCurves,
    sample,
    with_chords,
    write_lines,
)


def curves_of(x, y):
    """A path of straight pieces, each node the foot of a position."""
    x, y = np.asarray(x, float), np.asarray(y, float)
    s = np.concatenate([[0.0], np.cumsum(np.hypot(np.diff(x), np.diff(y)))])
    none = np.zeros(len(x))
    held = np.zeros(len(x), bool)
    held[[0, -1]] = True
    return PlanCurves(
        x=x,
        y=y,
        s=s,
        curvature=none,
        held=held,
        offsets=np.array([0, len(x)]),
        node=np.arange(len(x)),
        normal=np.zeros((len(x), 2)),
        closed=np.zeros(1, bool),
        sigma=none,
        corners=np.zeros((0, 2)),
        corner_run=np.zeros(0, int),
    )


def profile_of(curves, z):
    none = np.zeros((len(z), 1))
    return Profile(
        curves.s,
        curves.offsets,
        np.asarray(z, float)[:, None],
        none,
        none,
        np.zeros(0, np.int64),
        np.zeros(0),
        np.zeros(0),
    )


def line(curves, z, tolerance=0.01):
    return write_lines(sample(curves, profile_of(curves, z), tolerance), curves, tolerance)[0]


def test_nodes_in_line_are_no_samples():
    curves = curves_of(np.arange(50.0), np.arange(50.0) / 3)
    assert len(sample(curves, profile_of(curves, np.arange(50) * 0.02), 0.01).x) == 2
    assert_allclose(line(curves, np.arange(50) * 0.02), [[0, 0, 0], [49, 49 / 3, 0.98]], atol=1e-9)


@pytest.mark.parametrize("z", [[0.0, 0.0, 0.2, 0.0, 0.0], [np.nan] * 5])
def test_a_break_in_height_counts_and_no_height_does_not(z):
    curves = curves_of([0.0, 1.0, 2.0, 3.0, 4.0], [0.0] * 5)
    assert len(line(curves, z)) == (2 if np.isnan(z).all() else 5)


@pytest.mark.parametrize("back", [[0.0, 2.0, 1.5, 4.0], [0.0, 2.0, 0.0, 4.0]])
def test_where_a_line_doubles_back_the_turning_points_stay(back):
    curves = curves_of(back, [0.0] * 4)
    samples = sample(curves, profile_of(curves, [0.0] * 4), 0.01)
    assert_allclose(samples.x, back, atol=1e-12)


def test_arcs_that_turn_far_between_two_nodes_become_chords():
    x, y = np.cos([0.0, 0.4, 2.4]), np.sin([0.0, 0.4, 2.4])
    curves = replace(
        PlanCurves.empty(np.zeros(1, bool)),
        x=x,
        y=y,
        s=np.array([0.0, 0.4, 2.4]),
        curvature=np.array([1.0, 1.0, 0.0]),
        offsets=np.array([0, 3]),
    )
    assert_array_equal(with_chords(curves, np.radians(100)).curvature, [1.0, 0.0, 0.0])
    assert_array_equal(with_chords(curves, np.radians(120)).curvature, [1.0, 1.0, 0.0])
