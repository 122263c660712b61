"""Smoothing splines over many pieces at once. (Beside scipy's own spline: tests/checks.)"""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.arrays.spline import Spline, interpolate, smooth, unit_normals
from curbwright.shared.tuning import SPLINE


def case(seed, counts=(1, 2, 3, 40, 7)):
    """Random pieces: knots, observations, variances, stiffnesses (one per piece), offsets."""
    rng = np.random.default_rng(seed)
    offsets = np.concatenate([[0], np.cumsum(counts)])
    n = offsets[-1]
    s = np.concatenate([np.cumsum(rng.uniform(0.1, 2.0, count)) for count in counts])
    y = rng.normal(0, 1, (n, 2)) + np.column_stack([s, np.sin(s)])
    stiffness = rng.uniform(0.01, 100.0, len(counts))[group_index(offsets)]
    return s, y, rng.uniform(0.01, 4.0, n), stiffness, offsets


@pytest.mark.parametrize("twice", [False, True])
@pytest.mark.parametrize("seed", range(3))
def test_pieces_together_equal_each_alone(seed, twice):
    s, y, variance, stiffness, offsets = case(seed)
    whole = smooth(s, y, variance, stiffness, offsets, twice)
    for first, last in zip(offsets[:-1], offsets[1:]):
        part = slice(first, last)
        alone = smooth(
            s[part], y[part], variance[part], stiffness[part], np.array([0, last - first]), twice
        )
        for name in ("values", "curvature_after", "curvature_before"):
            assert_allclose(
                getattr(whole, name)[part], getattr(alone, name), rtol=1e-9, atol=1e-9, err_msg=name
            )


def test_more_knots_than_one_solve_takes():
    # Pieces that end before, at and after the borders of the blocks in which the system is solved.
    counts = [SPLINE.block - 30, 29, 2, SPLINE.block - 1, 40]
    s, y, variance, stiffness, offsets = case(5, counts)
    whole = smooth(s, y, variance, stiffness, offsets)
    for piece in (1, 2, 4):
        part = slice(offsets[piece], offsets[piece + 1])
        alone = smooth(
            s[part], y[part], variance[part], stiffness[part], np.array([0, counts[piece]])
        )
        assert_allclose(whole.values[part], alone.values, rtol=1e-9, atol=1e-9)


@given(st.floats(-8, 8), st.floats(-8, 3), st.integers(2, 60), st.booleans(), st.integers(0, 1000))
def test_a_straight_line_comes_back_straight(stiffness, variance, count, twice, seed):
    rng = np.random.default_rng(seed)
    s = np.cumsum(rng.uniform(0.3, 1.5, count))
    y = np.column_stack([3.0 * s - 1e3, -0.2 * s + 5e2])
    fit = smooth(
        s,
        y,
        np.full(count, 10.0**variance),
        np.full(count, 10.0**stiffness),
        np.array([0, count]),
        twice,
    )
    assert_allclose(fit.values, y, rtol=0, atol=1e-8)
    assert_allclose(fit.curvature_after, 0, atol=1e-7)
    middle = fit.at(np.arange(count - 1), np.full(count - 1, 0.3))
    assert_allclose(middle, 0.7 * y[:-1] + 0.3 * y[1:], rtol=0, atol=1e-7)


@given(st.integers(3, 40), st.integers(0, 1000))
def test_the_fit_is_the_minimum(count, seed):
    # Any other natural cubic spline costs more: its knot values are moved a little and it is
    # interpolated anew.
    s, y, variance, stiffness, offsets = case(seed, [count])
    fit = smooth(s, y, variance, stiffness, offsets)

    def cost(values):
        curve = smooth(s, values, np.full(count, 1e-12), stiffness, offsets)
        a, b, h = curve.curvature_after[:-1], curve.curvature_before[1:], np.diff(s)[:, None]
        bending = (h / 3 * (a * a + a * b + b * b)).sum(axis=0) * stiffness[0]
        return ((y - values) ** 2 / variance[:, None]).sum(axis=0) + bending

    least = cost(fit.values)
    for k in range(4):
        aside = np.random.default_rng(seed + k).normal(0, 0.1, y.shape)
        assert (cost(fit.values + aside) > least * (1 - 1e-7)).all()


def test_stiffness_between_nothing_and_all():
    s, y, variance, _, offsets = case(2, [30])
    loose = smooth(s, y, variance, np.full(30, 1e-12), offsets)
    assert_allclose(loose.values, y, atol=1e-6)
    stiff = smooth(s, y, variance, np.full(30, 1e9), offsets)
    for axis in (0, 1):  # the weighted straight line, which numpy weighs by 1 / sigma
        line = np.polyfit(s, y[:, axis], 1, w=1 / np.sqrt(variance))
        assert_allclose(stiff.values[:, axis], np.polyval(line, s), atol=1e-5)


@pytest.mark.parametrize("twice", [False, True])
def test_curve_is_smooth_inside_and_natural_at_the_ends(twice):
    s, y, variance, stiffness, offsets = case(1)
    fit = smooth(s, y, variance, stiffness, offsets, twice)
    piece = group_index(offsets)
    inner = np.flatnonzero((np.diff(piece, prepend=-1) == 0) & (np.diff(piece, append=99) == 0))
    assert_allclose(fit.tangent_after(inner), fit.tangent_before(inner), atol=1e-9)
    assert_allclose(fit.curvature_after[inner], fit.curvature_before[inner], atol=1e-9)
    assert_allclose(fit.curvature_after[offsets[:-1]], 0, atol=1e-12)
    assert_allclose(fit.curvature_before[offsets[1:] - 1], 0, atol=1e-12)


def test_derivatives_are_those_of_the_curve():
    s, y, variance, stiffness, offsets = case(3, [25])
    fit = smooth(s, y, variance, stiffness, offsets)
    knots, eps = np.arange(24), 1e-6
    h = np.diff(s)[:, None]
    assert_allclose(fit.at(knots, np.zeros(24)), fit.values[:-1])
    assert_allclose(fit.at(knots, np.ones(24)), fit.values[1:])
    rise = (fit.at(knots, np.full(24, eps)) - fit.values[:-1]) / (eps * h)
    assert_allclose(fit.tangent_after(knots), rise, atol=1e-4)
    rise = (fit.values[1:] - fit.at(knots, np.full(24, 1 - eps))) / (eps * h)
    assert_allclose(fit.tangent_before(knots + 1), rise, atol=1e-4)

    def at(share):
        return fit.at(knots, np.full(24, share))

    second = (at(0.51) - 2 * at(0.5) + at(0.49)) / (0.01 * h) ** 2
    assert_allclose(second, (fit.curvature_after[:-1] + fit.curvature_before[1:]) / 2, atol=1e-4)


def test_a_joint_of_no_stiffness_is_a_hinge():
    # Two straight legs with a soft interval between them: the fit keeps the legs straight and does
    # not round the knee.
    s = np.arange(20.0)
    y = np.column_stack([np.where(s < 10, 0.0, s - 9.5)])
    stiffness = np.full(20, 1e4)
    stiffness[9] = 1e-9
    fit = smooth(s, y, np.full(20, 1e-4), stiffness, np.array([0, 20]))
    assert_allclose(fit.values[:, 0], y[:, 0], atol=0.02)
    rounded = smooth(s, y, np.full(20, 1e-4), np.full(20, 1e4), np.array([0, 20]))
    assert np.abs(rounded.values[:, 0] - y[:, 0]).max() > 0.1


# --- how much is smoothed
# -------------------------------------------------------------------------------------------


def loss(radius, band, spacing, twice):
    """Share of a circle's radius that the fit takes away, far from the ends."""
    angle = np.arange(0.0, 60 * np.pi, spacing / radius)
    s, n = angle * radius, len(angle)
    y = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    variance = np.full(n, 1e-4)
    fit = smooth(s, y, variance, np.full(n, band**4 / (1e-4 * spacing)), np.array([0, n]), twice)
    middle = slice(n // 2 - 5, n // 2 + 5)
    return 1 - np.hypot(*fit.values[middle].T) / radius


@pytest.mark.parametrize(("radius", "band"), [(10.0, 4.0), (8.0, 4.0), (5.0, 3.0), (3.0, 2.4)])
def test_circle_shrinks_by_the_fourth_power_and_twice_by_the_eighth(radius, band):
    # The kernel of bandwidth b passes 1 / (1 + (b w)^4) of wavenumber w (Silverman 1984), here w =
    # 1 / radius; what is left over after twicing (Tukey 1977) is the square of what one pass loses.
    power = (band / radius) ** 4
    expected = power / (1 + power)
    # 2 %: knots 0.1 m apart stand for a continuous line
    assert_allclose(loss(radius, band, 0.1, twice=False), expected, rtol=0.02)
    assert_allclose(loss(radius, band, 0.1, twice=True), expected**2, rtol=0.04)


def test_usual_curb_return_is_hardly_pulled_in():
    # Epochs 1 m apart on a curb return of 5 m, bandwidth 1.5 m: (1.5 / 5)^8 of 5 m are 0.3 mm.
    assert np.abs(loss(5.0, 1.5, 1.0, twice=True) * 5.0).max() < 0.001


# --- interpolation
# ------------------------------------------------------------------------------------------------


def circle(radius, degrees, step):
    angle = np.arange(0.0, np.radians(degrees), step / radius)
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return angle * radius, points, -points / radius**2


def test_curve_through_a_circle_is_a_circle_up_to_its_ends():
    radius = 6.0
    s, points, bend = circle(radius, 120, 1.0)
    ends = np.array([0, len(s)])
    curve = interpolate(s, points, ends, bend[:1], bend[-1:], np.array([s[-1]]), np.array([s[-1]]))
    natural = interpolate(s, points, ends, 0 * bend[:1], 0 * bend[-1:], np.ones(1), np.ones(1))
    assert_allclose(curve.values, points, atol=1e-9)
    assert_allclose(curve.curvature_after[0], bend[0], atol=1e-6)
    assert_allclose(curve.curvature_before[-1], bend[-1], atol=1e-6)
    k = np.arange(len(s) - 1)

    def off(spline, share):
        return np.abs(np.hypot(*spline.at(k, np.full(len(k), share)).T) - radius)

    assert off(curve, 0.5).max() < 0.001
    assert off(natural, 0.5)[0] > 5 * off(curve, 0.5)[0]


def test_pieces_have_ends_of_their_own():
    s, points, bend = circle(5.0, 100, 0.8)
    line = np.column_stack([np.arange(6.0), np.zeros(6)])
    n = len(s)
    offsets = np.array([0, n, n + 6])
    both = interpolate(
        np.r_[s, np.arange(6.0)],
        np.r_[points, line],
        offsets,
        np.array([bend[0], [0, 0]]),
        np.array([bend[-1], [0, 0]]),
        np.array([3.0, 1.0]),
        np.array([3.0, 1.0]),
    )
    alone = interpolate(
        s, points, np.array([0, n]), bend[:1], bend[-1:], np.array([3.0]), np.array([3.0])
    )
    assert_allclose(both.curvature_after[:n], alone.curvature_after, atol=1e-9)
    assert_allclose(both.curvature_after[n:], 0, atol=1e-9)


def test_normals_point_to_the_right():
    s = np.arange(5.0)
    east = Spline(
        s, np.array([0, 5]), np.column_stack([s, 0 * s]), np.zeros((5, 2)), np.zeros((5, 2))
    )
    assert_allclose(unit_normals(east), np.tile([0.0, -1.0], (5, 1)))
    s, points, _ = circle(4.0, 200, 0.3)  # counter-clockwise: right is outward
    n = len(s)
    curve = smooth(s, points, np.full(n, 1e-12), np.ones(n), np.array([0, n]))
    assert_allclose(unit_normals(curve)[3:-3], points[3:-3] / 4.0, atol=0.003)


def test_normal_of_a_lone_knot_is_none():
    lone = Spline(
        np.zeros(1), np.array([0, 1]), np.ones((1, 2)), np.zeros((1, 2)), np.zeros((1, 2))
    )
    assert_allclose(unit_normals(lone), 0)


# --- arguments
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("change", "message"),
    [
        ({"s": [0.0, 1.0, 1.0]}, "knots"),
        ({"s": [0.0, 2.0, 1.0]}, "knots"),
        ({"variance": [1.0, 0.0, 1.0]}, "variance"),
        ({"variance": [1.0, np.nan, 1.0]}, "variance"),
        ({"variance": [1.0, np.inf, 1.0]}, "variance"),
        ({"stiffness": [1.0, 0.0, 1.0]}, "stiffness"),
        ({"stiffness": [1.0, np.nan, 1.0]}, "stiffness"),
    ],
)
def test_bad_arguments_are_named(change, message):
    arguments = {
        "s": [0.0, 1.0, 2.0],
        "y": np.zeros((3, 1)),
        "variance": [1.0] * 3,
        "stiffness": [1.0] * 3,
        "offsets": np.array([0, 3]),
    }
    with pytest.raises(ValueError, match=message):
        smooth(**{**arguments, **change})


def test_no_knots():
    fit = smooth(np.zeros(0), np.zeros((0, 2)), np.zeros(0), np.zeros(0), np.zeros(1, int))
    assert fit.values.shape == (0, 2)


def test_knots_fall_back_between_pieces_only():
    s = np.array([5.0, 6.0, 0.0, 1.0])
    fit = smooth(s, np.ones((4, 1)), np.ones(4), np.ones(4), np.array([0, 2, 4]))
    assert_array_equal(fit.values, np.ones((4, 1)))
