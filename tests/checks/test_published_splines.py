"""Our smoothing spline beside scipy's, and what is published about both."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose
from scipy import interpolate

from curbwright.shared.arrays.spline import smooth

needs_reference = pytest.mark.skipif(
    not hasattr(interpolate, "make_smoothing_spline"), reason="scipy older than 1.10"
)


def deterministic():
    """x = linspace(0, 10, 41), y = sin x + 0.02 (-1)^i, sigma 0.02: no random numbers (computed, no
    publication)."""
    x = np.linspace(0, 10, 41)
    return x, np.sin(x) + 0.02 * (-1.0) ** np.arange(41)


def rms(values):
    return float(np.sqrt(np.mean(np.square(values))))


@needs_reference
@given(st.integers(0, 10_000), st.integers(5, 80), st.floats(-3, 4))
def test_equals_scipy_at_the_knots_between_them_and_in_derivatives(seed, count, log_stiffness):
    # Both minimise sum(w (y - f)^2) + lam integral(f''^2) with w = 1 / sigma^2 (SciPy reference,
    # make_smoothing_spline).
    rng = np.random.default_rng(seed)
    s = np.cumsum(rng.uniform(0.3, 2.0, count))
    y = np.column_stack([s + rng.normal(0, 0.1, count), np.cos(s / 3) + rng.normal(0, 0.1, count)])
    variance, stiffness = rng.uniform(0.005, 0.02, count), 10.0**log_stiffness
    ours = smooth(s, y, variance, np.full(count, stiffness), np.array([0, count]))
    share, knots = 0.37, np.arange(count - 1)
    between = s[:-1] + share * np.diff(s)
    for axis in (0, 1):
        theirs = interpolate.make_smoothing_spline(s, y[:, axis], 1 / variance, stiffness)
        assert_allclose(ours.values[:, axis], theirs(s), rtol=0, atol=1e-6)
        assert_allclose(
            ours.at(knots, np.full(count - 1, share))[:, axis], theirs(between), rtol=0, atol=1e-6
        )
        assert_allclose(ours.tangent_after(knots)[:, axis], theirs(s, 1)[:-1], rtol=0, atol=1e-5)
        assert_allclose(
            ours.tangent_before(knots + 1)[:, axis], theirs(s, 1)[1:], rtol=0, atol=1e-5
        )
        assert_allclose(ours.curvature_after[1:-1, axis], theirs(s, 2)[1:-1], rtol=0, atol=1e-4)


@needs_reference
def test_several_pieces_equal_scipy_piece_by_piece():
    x, y = deterministic()
    offsets = np.array([0, 10, 25, 41])
    ours = smooth(x, y[:, None], np.full(41, 0.02**2), np.full(41, 3.0), offsets)
    for first, last in zip(offsets[:-1], offsets[1:]):
        theirs = interpolate.make_smoothing_spline(
            x[first:last], y[first:last], np.full(last - first, 2500.0), 3.0
        )
        assert_allclose(ours.values[first:last, 0], theirs(x[first:last]), atol=1e-8)


@needs_reference
def test_twicing_is_scipy_run_twice():
    x, y = deterministic()
    once = interpolate.make_smoothing_spline(x, y, np.full(41, 2500.0), 20.0)
    again = interpolate.make_smoothing_spline(x, y - once(x), np.full(41, 2500.0), 20.0)
    ours = smooth(
        x, y[:, None], np.full(41, 0.02**2), np.full(41, 20.0), np.array([0, 41]), twice=True
    )
    assert_allclose(ours.values[:, 0], once(x) + again(x), atol=1e-8)


def test_straight_line_in_straight_line_out():
    # With lam = 1e6 the line must come back within 1e-6 (computed, no publication).
    x, _ = deterministic()
    line = (3.0 - 0.7 * x)[:, None]
    assert (
        np.abs(
            smooth(x, line, np.ones(41), np.full(41, 1e6), np.array([0, 41])).values - line
        ).max()
        < 1e-6
    )


def at_discrepancy(x, y, total, twice):
    """The fit whose weighted residual sum is `total`, by bisection over the stiffness."""
    low, high = -8.0, 8.0
    for _ in range(60):
        middle = (low + high) / 2
        fit = smooth(
            x,
            y[:, None],
            np.full(len(x), 0.02**2),
            np.full(len(x), 10.0**middle),
            np.array([0, len(x)]),
            twice,
        )
        if np.square((y - fit.values[:, 0]) / 0.02).sum() < total:
            low = middle
        else:
            high = middle
    return fit.values[:, 0]


def test_discrepancy_principle_on_the_deterministic_data():
    # Reinsch 1967 and Morozov 1966: the residual sum equals the number of observations. FITPACK at
    # s = m = 41 leaves 3.5 mm to the sine (computed with SciPy 1.17); Reinsch's own spline pays at
    # the ends, where the sine does not go straight, and twicing wins that back.
    x, y = deterministic()
    assert rms(y - np.sin(x)) == pytest.approx(0.02)
    inner = slice(4, -4)
    fitpack = interpolate.splev(x, interpolate.splrep(x, y, w=np.full(41, 50.0), s=41))
    assert rms(fitpack - np.sin(x)) == pytest.approx(0.003469, abs=1e-4)
    once, twice = at_discrepancy(x, y, 41, False), at_discrepancy(x, y, 41, True)
    for fit in (once, twice):
        assert np.square((y - fit) / 0.02).sum() == pytest.approx(41, rel=1e-3)
    assert rms((twice - np.sin(x))[inner]) < rms((once - np.sin(x))[inner])
    assert rms((twice - np.sin(x))[inner]) < rms((fitpack - np.sin(x))[inner]) + 0.002
