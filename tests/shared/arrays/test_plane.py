"""Lengths of steps, beside NumPy's own."""

import numpy as np
from numpy.testing import assert_allclose

from curbwright.shared.arrays.plane import distance, steps


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
