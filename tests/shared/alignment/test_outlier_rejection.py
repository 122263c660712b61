"""Outliers of the aim that tangents and arcs give away."""

import numpy as np
from fittedruns import OPEN, SIGMA, check, kinds, runs
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from curbwright.shared.alignment.fit import FitOptions, fit_chains
from curbwright.shared.alignment.outlier_rejection import AskedMask, outlying
from curbwright.shared.tuning import REJECTION, override


def test_a_slip_is_left_out_where_it_may_be():
    parts = OPEN["block"][0]
    x, y, variance, offsets = runs([parts], SIGMA, 1)
    y[10] += 0.6
    kept = fit_chains(x, y, variance, offsets)
    assert not kept.outlier.any()
    chains = fit_chains(
        x, y, variance, offsets, options=FitOptions(may_reject=np.ones(len(x), bool))
    )
    check(chains, x, y, offsets)
    assert_array_equal(np.flatnonzero(chains.outlier), [10])
    assert kinds(chains) == "TATAT" and np.abs(chains.residual[10]) > 0.3
    rest = chains.take(~chains.outlier)
    check(rest, np.delete(x, 10), np.delete(y, 10), np.array([0, len(x) - 1]))
    never = np.ones(len(x), bool)
    never[10] = False
    assert not fit_chains(x, y, variance, offsets, options=FitOptions(may_reject=never)).outlier[10]


def test_only_what_chains_would_reject_is_asked_for():
    parts = [OPEN["block"][0], OPEN["block"][0]]
    x, y, variance, offsets = runs(parts, SIGMA, 1)
    places = [10, offsets[1] + 10]
    y[places] += 0.6
    asked = []

    def first_only(some):
        asked.extend(some.tolist())
        return some < offsets[1]

    for together in (1 << 20, 20):  # in one call, and each run in its own
        asked.clear()
        mask = AskedMask(np.arange(len(x)) != 12, first_only)
        with override(FIT__together=together):
            chains = fit_chains(x, y, variance, offsets, options=FitOptions(may_reject=mask))
        assert np.flatnonzero(chains.outlier).tolist() == places[:1]
        assert set(places) <= set(asked) and 12 not in asked and len(set(asked)) < 12


@given(st.integers(0, 10**6), st.floats(0.5, 9.0))
def test_what_is_far_off_its_element_and_alone_is_outlying(seed, off):
    """Residuals in sigmas: noise on one element of 30 positions, and one of them far off."""
    rng = np.random.default_rng(seed)
    residual, sigma = np.abs(rng.normal(0, 0.3, 30)), np.full(30, 0.02)
    at = int(rng.integers(30))
    residual[at] = REJECTION.sigmas * off + REJECTION.min_distance / 0.02
    found = outlying(residual, sigma, np.zeros(30, int), np.array([0, 30]))
    assert not np.delete(found, at).any()
    assert found[at] or off < 1
    # beside another one as far off it is no outlier
    residual[(at + 1) % 30 if at < 29 else at - 1] = residual[at]
    assert not outlying(residual, sigma, np.zeros(30, int), np.array([0, 30])).any()


def test_an_element_that_explains_nothing_gives_no_outlier_away():
    residual = np.tile([9.0, 0.1], 10)
    residual[7] = 200.0
    found = outlying(residual, np.full(20, 0.02), np.zeros(20, int), np.array([0, 20]))
    assert not found.any()


def test_a_neighbour_in_another_run_counts_for_nothing():
    residual, run = np.full(20, 0.1), np.repeat([0, 1], 10)
    residual[[9, 10]] = 300.0
    bounds = np.array([0, 10, 20])
    found = outlying(residual, np.full(20, 0.02), run, bounds)
    assert np.flatnonzero(found).tolist() == [9, 10]
    assert not outlying(residual, np.full(20, 0.02), np.zeros(20, int), bounds).any()
