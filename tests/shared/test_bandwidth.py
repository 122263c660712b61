"""How far the smoothing of heights reaches, and curves through given values."""
import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.bandwidth import HUBER, WIDEST, fit_adaptive, lessen_outliers, through, unit_normals
from curbwright.shared.spline import Spline, smooth

NOISE = 0.015


def profile(shape, noise=NOISE, seed=0, count=200, spacing=1.0):
    s = np.arange(count) * spacing
    return s, shape(s) + np.random.default_rng(seed).normal(0, noise, count), shape(s)


def fit(s, z, noise=NOISE, offsets=None, spacing=1.0):
    n = len(s)
    return fit_adaptive(s, z, np.full(n, noise**2), np.array([0, n]) if offsets is None else offsets, np.full(n, spacing))


def rms(values):
    return np.sqrt(np.mean(values**2))


def slope(s):
    return 3.0 + 0.02 * s


def dropped(s):
    return 3.0 + np.interp(s, [90, 91.5, 95, 96.5], [0, -0.12, -0.12, 0])


def test_level_ground_is_smoothed_far():
    for seed in range(3):
        s, z, true = profile(slope, seed=seed)
        curve, band = fit(s, z)
        assert rms(curve.values[:, 0] - true) < 0.35 * NOISE
        assert np.median(band) > 0.6 * WIDEST
        assert (band <= WIDEST * (1 + 1e-9)).all() and (band > 0).all()


def test_dropped_kerb_is_kept():
    # 120 mm in 1.5 m: common practice, no source. Beside it the smoothing reaches far again.
    for seed in range(3):
        s, z, true = profile(dropped, seed=seed)
        curve, band = fit(s, z)
        assert np.abs(curve.values[:, 0] - true)[85:102].max() < 0.06
        assert band[88:99].min() < 2.5
        assert np.median(band[:70]) > 0.5 * WIDEST
        assert rms((curve.values[:, 0] - true)[:70]) < 0.4 * NOISE


def test_without_noise_a_line_is_exact():
    s, _, true = profile(slope, noise=0.0)
    curve, band = fit(s, true)
    assert_allclose(curve.values[:, 0], true, atol=1e-8)
    assert_allclose(band, WIDEST)


def test_pieces_do_not_touch():
    s, z, _ = profile(slope)
    step = z + 5.0 * (s >= 100)
    offsets = np.array([0, 100, 150, 200])
    both, _ = fit(s, step, offsets=offsets)
    for first, last in zip(offsets[:-1], offsets[1:]):
        alone, _ = fit(s[first:last], step[first:last])
        assert_allclose(both.values[first:last], alone.values, atol=1e-9)


@pytest.mark.parametrize("count", [0, 1, 2, 3])
def test_few_knots(count):
    s, z, _ = profile(slope, count=count)
    curve, band = fit(s, z)
    assert curve.values.shape == (count, 1) and band.shape == (count,)
    if count in (1, 2):
        assert_allclose(curve.values[:, 0], z, atol=1e-9)


def test_outliers_lose_weight():
    variance = np.full(4, 0.01**2)
    limit = 1.3 * HUBER * 0.01
    assert_allclose(lessen_outliers(np.array([0.0, limit, 2 * limit, 10 * limit]), variance), variance * [1, 1, 4, 100])


# --- through --------------------------------------------------------------------------------------------------------


def circle(radius, degrees, step):
    angle = np.arange(0.0, np.radians(degrees), step / radius)
    points = radius * np.column_stack([np.cos(angle), np.sin(angle)])
    return angle * radius, points, -points / radius**2


def test_curve_through_a_circle_is_a_circle_up_to_its_ends():
    radius = 6.0
    s, points, bend = circle(radius, 120, 1.0)
    ends = np.array([0, len(s)])
    curve = through(s, points, ends, bend[:1], bend[-1:], np.array([s[-1]]), np.array([s[-1]]))
    natural = through(s, points, ends, 0 * bend[:1], 0 * bend[-1:], np.ones(1), np.ones(1))
    assert_allclose(curve.values, points, atol=1e-9)
    assert_allclose(curve.bend_after[0], bend[0], atol=1e-6)
    assert_allclose(curve.bend_before[-1], bend[-1], atol=1e-6)
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
    both = through(np.r_[s, np.arange(6.0)], np.r_[points, line], offsets, np.array([bend[0], [0, 0]]), np.array([bend[-1], [0, 0]]),
                   np.array([3.0, 1.0]), np.array([3.0, 1.0]))
    alone = through(s, points, np.array([0, n]), bend[:1], bend[-1:], np.array([3.0]), np.array([3.0]))
    assert_allclose(both.bend_after[:n], alone.bend_after, atol=1e-9)
    assert_allclose(both.bend_after[n:], 0, atol=1e-9)


def test_normals_point_to_the_right():
    s = np.arange(5.0)
    east = Spline(s, np.array([0, 5]), np.column_stack([s, 0 * s]), np.zeros((5, 2)), np.zeros((5, 2)))
    assert_allclose(unit_normals(east), np.tile([0.0, -1.0], (5, 1)))
    s, points, _ = circle(4.0, 200, 0.3)  # counter-clockwise: right is outward
    n = len(s)
    curve = smooth(s, points, np.full(n, 1e-12), np.ones(n), np.array([0, n]))
    assert_allclose(unit_normals(curve)[3:-3], points[3:-3] / 4.0, atol=0.003)


def test_normal_of_a_lone_knot_is_none():
    lone = Spline(np.zeros(1), np.array([0, 1]), np.ones((1, 2)), np.zeros((1, 2)), np.zeros((1, 2)))
    assert_allclose(unit_normals(lone), 0)
