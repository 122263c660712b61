"""What neighbours predict, and how far from it an epoch lies."""

import numpy as np
import pytest
from epochwalks import STEP, along, trial
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs import predictions
from curbwright.shared.epochs.predictions import downweight_outliers
from curbwright.shared.epochs.screening import unusable
from curbwright.shared.tuning import ROBUST, SCREENING


def test_height_off_by_hand():
    z = np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.2, 0.4, 0.6])
    assert_allclose(
        predictions.height_distance(z, np.ones(7, bool)), [0, 0, 1.0, 0, 0, 0, 0, 0], atol=1e-12
    )
    assert_array_equal(predictions.height_distance(z, np.zeros(7, bool)), 0)
    assert_array_equal(predictions.height_distance(z[:2], np.ones(1, bool)), 0)


def test_nothing_stands_off_a_straight_or_a_circle():
    for parts in ([("line", 30.0)], [("arc", 8.0, 300.0)]):
        x, y = along(parts)
        linked, still, every = np.ones(len(x) - 1, bool), np.full(len(x), 0.05), np.arange(len(x))
        assert (
            predictions.prediction_distance(x, y, linked, still, np.zeros(len(x)))[0].max() < 1e-6
        )
        # the cubic misses a circle by little
        assert predictions.cubic_distance(x, y, linked, still, every)[2:-2].max() < 0.02


def test_what_is_no_farther_off_than_anyone_asks_is_not_looked_at():
    table, _ = trial(5, 4)
    rows = unusable(table, 0.05)[-1]
    x, y = table.x[rows], table.y[rows]
    linked, still = np.diff(table.capture[rows]) == 0, np.full(len(x), 0.05)
    off, across = predictions.prediction_distance(x, y, linked, still, np.zeros(len(x)))
    assert (off <= across).all() and np.count_nonzero(off > 0.01) > 5
    far, same = predictions.prediction_distance(x, y, linked, still, np.full(len(x), 0.01))
    assert_array_equal(far, np.where(off > 0.01, off, 0.0))
    assert_array_equal(same, across)


def test_outliers_lose_weight():
    x, y = np.arange(40) * STEP, np.zeros(40)
    variance = np.full(40, 0.01**2)
    limit = SCREENING.prediction_sigmas * ROBUST.huber_sigmas * 0.01
    y[[5, 15, 25, 35]] += limit * np.array([0.0, 0.99, 2.0, 10.0])
    factor = downweight_outliers(x, y, np.ones(39, bool), np.full(40, 0.05), variance) / variance
    assert_allclose(factor[[5, 15, 25, 35]], [1, 1, 4, 100])
    assert_allclose(np.delete(factor, [5, 15, 25, 35]), 1.0)


def test_cubic_residuals_are_zero_on_a_cubic():
    t = np.arange(10.0)
    values = 0.3 * t**3 - t**2 + 4.0
    assert_allclose(predictions.cubic_residuals(values), 0.0, atol=1e-12)
    values[5] += 1.0
    residuals = predictions.cubic_residuals(values)
    assert_allclose(residuals[[1, 2, 3, 4, 5]], [-1 / 6, 4 / 6, -1.0, 4 / 6, -1 / 6], atol=1e-12)


@pytest.mark.parametrize(("at", "expected"), [(0, 0.0), (1, 0.5), (10, 0.5), (19, 0.0)])
def test_distance_from_the_cubic_is_across_the_way(at, expected):
    x, y = np.arange(20.0), np.zeros(20)
    x[at] += 0.2  # along the way: does not count
    y[at] += 0.5
    off = predictions.cubic_distance(x, y, np.ones(19, bool), np.full(20, 0.05), np.array([at]))
    assert off == pytest.approx([expected], abs=0.02)
