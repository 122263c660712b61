"""Means and gross errors of small groups against publications, libraries and simulated noise."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal
from scipy import stats

from curbwright.sample_project import simulation as sim
from curbwright.shared.arrays.ragged import offsets_of
from curbwright.shared.epochs.group_statistics import (
    SMALL_SAMPLE,
    correlated_share,
    gross_errors,
    weighted_mean,
)


def test_weighted_mean_against_numpy_and_scipy():
    rng = np.random.default_rng(3)
    sizes = [2, 3, 7, 20]
    offsets = offsets_of(sizes)
    values, sigma = (
        rng.normal(6_200_000.0, 0.01, offsets[-1]),
        rng.uniform(0.004, 0.02, offsets[-1]),
    )
    mean, internal, unit = weighted_mean(values, sigma, offsets)
    equal, _, equal_unit = weighted_mean(values, np.full(len(values), 0.01), offsets)
    for group, (low, high) in enumerate(zip(offsets[:-1], offsets[1:])):
        own = values[low:high]
        assert mean[group] == pytest.approx(
            np.average(own, weights=sigma[low:high] ** -2), abs=1e-8
        )
        assert internal[group] == pytest.approx(np.sum(sigma[low:high] ** -2) ** -0.5)
        # with equal sigmas the external standard error is that of the mean (scipy.stats.sem)
        assert 0.01 / np.sqrt(high - low) * np.sqrt(equal_unit[group]) == pytest.approx(
            stats.sem(own), rel=1e-6
        )
        assert equal[group] == pytest.approx(own.mean(), abs=1e-8)
        # and with weights, that of a straight fit of a constant with its covariance scaled
        # (numpy.polyfit)
        _, covariance = np.polyfit(
            np.zeros(high - low), own - own[0], 0, w=1 / sigma[low:high], cov=True
        )
        assert internal[group] * np.sqrt(unit[group]) == pytest.approx(
            covariance[0, 0] ** 0.5, rel=1e-6
        )


def test_hampel_identifier_by_hand():
    # worked by hand: median 10.01, MAD 0.01; only 10.50 stands off (references, section 6)
    values = np.array([10.00, 10.02, 9.99, 10.50, 10.01, 10.00, 10.03])
    # the plain identifier minds no small numbers
    flag, away = gross_errors(
        values, np.zeros(7), np.array([0, 7]), 3.0 / SMALL_SAMPLE[7] / (1 + 2 / 7)
    )
    assert_array_equal(np.flatnonzero(flag), [3])
    assert away[3] == pytest.approx(0.49)


def test_hampel_with_equal_values_needs_its_floor():
    values = np.array([1.0, 1.0, 1.0, 1.0, 1.004, 1.2])
    assert np.flatnonzero(
        gross_errors(values, np.full(6, 0.005), np.array([0, 6]), 3.0)[0]
    ).tolist() == [5]
    assert np.flatnonzero(
        gross_errors(values, np.full(6, 1e-12), np.array([0, 6]), 3.0)[0]
    ).tolist() == [
        4,
        5,
    ]


@pytest.mark.parametrize("size", [3, 4, 5, 8])
def test_factors_for_few_values_take_the_bias_away(size):
    # the factors are from memory; this is what they are for
    rng = np.random.default_rng(size)
    values = rng.normal(0, 1, (200_000, size))
    mad = np.median(np.abs(values - np.median(values, axis=1, keepdims=True)), axis=1)
    assert SMALL_SAMPLE[size] * 1.4826 * mad.mean() == pytest.approx(1.0, abs=0.01)


def test_correlated_share_is_that_of_simulated_noise():
    assert_allclose(
        correlated_share([0.0, 60.0, 300.0]),
        [1.0, 2 * np.exp(-1), 2 * (4 + np.exp(-5)) / 25],
        rtol=1e-4,
    )
    rng = np.random.default_rng(5)
    means = [sim.gauss_markov(121, rng, 1.0, 60.0).mean() for _ in range(4000)]
    assert np.var(means) == pytest.approx(float(correlated_share(120.0)), rel=0.06)
