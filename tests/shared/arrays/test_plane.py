"""Lengths of steps, beside NumPy's own."""

import numpy as np
from numpy.testing import assert_allclose

from curbwright.shared.arrays.plane import (
    distance,
    ray_distance,
    segment_distance,
    steps,
    turn_angle,
    turned,
)


def test_as_numpy_has_it():
    dx, dy = np.random.default_rng(1).normal(0, 1, (2, 1000)) * 10.0 ** np.random.default_rng(
        2
    ).integers(-9, 8, (2, 1000))
    assert_allclose(distance(dx, dy), np.hypot(dx, dy), rtol=1e-15)
    assert distance(3.0, -4.0) == 5.0 and distance(0.0, 0.0) == 0.0
    assert np.isnan(distance(np.array([np.nan]), np.array([1.0]))).all()


def test_steps_stay_in_their_group():
    x, y = np.array([0.0, 3.0, 3.0, 9.0, 9.0]), np.array([0.0, 4.0, 5.0, 0.0, 2.0])
    assert steps(x, y, np.array([0, 3, 5])).tolist() == [5.0, 1.0, 0.0, 2.0, 0.0]
    assert steps(x[:0], y[:0], np.array([0])).size == 0


def test_distances_from_rays_by_hand():
    off = ray_distance(np.array([1.0, -1.0, 2.0]), np.array([1.0, 1.0, 0.0]), 0.0, 0.0, 3.0, 0.0)
    assert_allclose(off, [1.0, np.sqrt(2), 0.0])


def test_distances_from_segments_by_hand():
    x, y = np.array([1.0, -1.0, 6.0, 2.0]), np.array([1.0, 1.0, 4.0, 0.0])
    assert_allclose(segment_distance(x, y, 0.0, 0.0, 3.0, 0.0), [1.0, np.sqrt(2), 5.0, 0.0])
    # a segment of no length is a point
    assert_allclose(segment_distance(3.0, 4.0, 0.0, 0.0, 0.0, 0.0), 5.0)


def test_turns_are_positive_to_the_left():
    x, y = np.array([0.0, 1.0, 1.0, 1.0, 2.0]), np.array([0.0, 0.0, 1.0, -1.0, 0.0])
    start, middle, ends = np.zeros(3, int), np.ones(3, int), np.array([2, 3, 4])
    assert_allclose(turn_angle(x, y, start, middle, ends), [np.pi / 2, -np.pi / 2, 0.0])


def test_vectors_are_turned_to_the_left():
    x, y = turned(np.array([1.0, 0.0]), np.array([0.0, 2.0]), np.pi / 2)
    assert_allclose(np.column_stack([x, y]), [(0.0, 1.0), (-2.0, 0.0)], atol=1e-15)
    assert_allclose(turned(*turned(3.0, 4.0, 0.7), -0.7), (3.0, 4.0))
