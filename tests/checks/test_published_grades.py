"""Grades and their breaks beside scipy's splines and textbook least squares."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from scipy import interpolate, stats

from curbwright.shared.alignment.grades import fit_grades, refit

NOISE = 0.017


def ground(seed, count=200):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.6, 1.6, count))
    z = 0.4 * np.sin(x / 15) + rng.normal(0, NOISE, count)
    return x, z, rng.uniform(0.3, 3, count) / NOISE**2


@pytest.mark.parametrize("seed", range(3))
def test_joint_fit_is_the_least_squares_spline_of_fitpack(seed):
    # scipy.interpolate.LSQUnivariateSpline, k=1 (FITPACK's fpcurf, Dierckx 1993, Curve and Surface
    # Fitting with Splines)
    x, z, weight = ground(seed)
    inner = x[10] + (x[-10] - x[10]) * np.linspace(0, 1, 15)
    spline = interpolate.LSQUnivariateSpline(x, z, inner, w=np.sqrt(weight), k=1)
    at = np.r_[x[0], inner, x[-1]]
    grades = refit(x, z, weight, at, np.zeros(len(at), int))
    height, slope, _ = grades.along(x[:-1], np.zeros(len(x) - 1, int))
    assert_allclose(height, spline(x[:-1]), atol=1e-9)
    assert_allclose(slope, spline.derivative()(x[:-1] + 1e-9), atol=1e-7)


@pytest.mark.parametrize("seed", range(3))
def test_breaks_found_are_a_least_squares_spline_that_explains_more_than_fitpack_finds(seed):
    # UnivariateSpline puts its knots by itself (s: the residual sum to reach); it takes as many or
    # leaves more.
    x, z, _ = ground(seed)
    weight = np.full(len(x), NOISE**-2.0)
    grades = fit_grades(x, z, weight, np.array([0, len(x)]))
    left = np.sum(weight * (z - grades.along(x, np.zeros(len(x), int))[0]) ** 2)
    again = interpolate.LSQUnivariateSpline(
        x, z, grades.at[1:-1], w=np.full(len(x), 1 / NOISE), k=1
    )
    assert left == pytest.approx(again.get_residual(), rel=1e-6)
    theirs = interpolate.UnivariateSpline(x, z, w=np.full(len(x), 1 / NOISE), k=1, s=left * 1.001)
    assert len(theirs.get_knots()) >= len(grades.at)


def test_one_grade_is_the_regression_line():
    # scipy.stats.linregress, with its standard errors (Draper and Smith, Applied Regression
    # Analysis, ch. 1)
    rng = np.random.default_rng(4)
    x = np.arange(0.0, 60.0, 1.2)
    z = 0.03 * x + rng.normal(0, NOISE, len(x))
    line = stats.linregress(x, z)
    grades = refit(x, z, np.full(len(x), NOISE**-2.0), x[[0, -1]], np.zeros(2, int))
    assert_allclose(grades.value, line.intercept + line.slope * x[[0, -1]], atol=1e-12)
    residual = np.sqrt(np.sum((z - line.intercept - line.slope * x) ** 2) / (len(x) - 2))
    assert_allclose(
        np.sqrt(grades.variance[0]) * residual / NOISE, line.intercept_stderr, rtol=1e-9
    )
    spread = grades.variance.sum() - 2 * grades.next_covariance[0]
    assert_allclose(np.sqrt(spread) / np.ptp(x) * residual / NOISE, line.stderr, rtol=1e-9)
