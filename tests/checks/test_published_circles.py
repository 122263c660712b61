"""Arcs fitted to published points."""
import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.alignment import fit_elements, project

# Gander, Golub and Strebel 1994, Least-squares fitting of circles and ellipses, BIT 34:558-578. Points and result are
# from memory; the result reproduces to every printed digit.
GANDER = np.array([(1, 7), (2, 6), (5, 8), (7, 7), (9, 5), (3, 7)], float)
# SciPy Cookbook, "Least squares circle" (notebook in the repository scipy/scipy-cookbook).
COOKBOOK_FULL = np.array([(9, 34), (35, 10), (-13, 6), (10, -14), (23, 27), (0, -10)], float)
COOKBOOK_ARC = np.array([(36, 14), (36, 10), (19, 28), (18, 31), (33, 18), (26, 26)], float)

# Points; centre and radius of the geometric fit, and half a unit of their last digit; sum of squared distances.
CASES = [
    pytest.param(GANDER, (4.7398, 2.9835, 4.7142), 6e-5, 1.2276, id="Gander, Golub, Strebel"),
    pytest.param(COOKBOOK_FULL, (10.50009, 9.65995, 23.33353), 6e-6, 7.711852, id="cookbook, full circle"),
    pytest.param(COOKBOOK_ARC, (9.88757, 3.68750, 27.35044), 6e-6, 4.042522, id="cookbook, short arc"),
]


def walked(points, centre):
    """The points in the order in which one would walk them: a fit does not depend on it, a search does."""
    angle = np.arctan2(points[:, 1] - centre[1], points[:, 0] - centre[0])
    return points[np.argsort((angle - angle[0]) % (2 * np.pi))] if np.ptp(angle) > np.pi else points[np.argsort(angle)]


# So rough are the points that one arc is cheaper than one tangent or two only with a variance to match.
VARIANCE = {4.7142: 0.25}


def fit(points, variance=1.0):
    """One element through all points."""
    return fit_elements(*points.T, np.full(len(points), variance), np.array([0, len(points)]))


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_geometric_fit(points, geometric, digits, square_sum):
    variance = VARIANCE.get(geometric[2], 1.0)
    found = fit(walked(points, geometric), variance)
    assert len(found) == 1 and found.is_arc[0]
    assert_allclose([found.x[0], found.y[0], found.radius[0]], geometric, rtol=0, atol=digits)
    assert found.chi[0] * variance == pytest.approx(square_sum, abs=6e-5)


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_feet_lie_on_the_circle(points, geometric, digits, square_sum):
    points = walked(points, geometric)
    feet = project(fit(points, VARIANCE.get(geometric[2], 1.0)), *points.T)
    assert_allclose(np.hypot(*(feet - geometric[:2]).T), geometric[2], rtol=0, atol=3 * digits)
    assert (np.hypot(*(points - feet).T) ** 2).sum() == pytest.approx(square_sum, abs=6e-5)


def test_all_at_once_equal_each_alone():
    parts = [walked(*case.values[:2]) for case in CASES]
    points = np.concatenate(parts)
    variance = np.repeat([VARIANCE.get(case.values[1][2], 1.0) for case in CASES], 6)
    together = fit_elements(*points.T, variance, np.array([0, 6, 12, 18]))
    assert len(together) == 3
    for k, part in enumerate(parts):
        alone = fit(part, variance[6 * k])
        for name in ("x", "y", "radius", "chi"):
            assert_allclose(getattr(together, name)[k], getattr(alone, name)[0], rtol=1e-7, err_msg=name)


@pytest.mark.parametrize(("points", "geometric", "digits", "square_sum"), CASES)
def test_far_from_the_origin(points, geometric, digits, square_sum):
    # Easting and northing of a UTM zone cost no digits.
    shift = np.array([500_000.0, 6_000_000.0])
    here = fit(walked(points, geometric))
    there = fit(walked(points, geometric) + shift)
    assert_allclose([there.x - shift[0], there.y - shift[1], there.radius], [here.x, here.y, here.radius], rtol=0, atol=1e-6)


def test_weights_count_as_repeats():
    points = walked(COOKBOOK_ARC, (9.88757, 3.68750))
    twice = np.concatenate([points[:1], points])
    weighted = fit_elements(*points.T, np.array([0.5, 1, 1, 1, 1, 1]), np.array([0, 6]))
    repeated = fit(twice)
    for name in ("x", "y", "radius", "chi"):
        assert_allclose(getattr(weighted, name), getattr(repeated, name), rtol=1e-5, err_msg=name)
