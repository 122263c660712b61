"""Positions for the fit, from vertices and from epochs."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.samples import (
    sample_edges,
    sample_epochs,
    white_noise,
)
from curbwright.shared.tuning import SAMPLING


def moments(samples):
    """Weighted mean of a run and its total weight in observations for a tolerance of sqrt(3)
    metres."""
    weight = 1 / samples.variance
    return (
        weight,
        (weight * samples.x).sum() / weight.sum(),
        (weight * samples.y).sum() / weight.sum(),
    )


def test_vertices_and_middles():
    samples = sample_edges(
        np.array([0.0, 4, 4, 4]),
        np.array([0.0, 0, 0, 14]),
        np.array([1.0, 3, 3, np.nan]),
        np.array([0, 4]),
        3**0.5,
    )
    # 14 m in three panels of less than five
    assert_allclose(samples.x, [0, 2, 4, 4, 4, 4, 4, 4, 4])
    assert_allclose(np.diff(samples.y[2:]), 14 / 6)
    assert_allclose(samples.z[:3], [1, 2, 3]) and np.isnan(samples.z[3:])
    # half an observation to a panel, by Simpson's rule
    assert_allclose(1 / samples.variance, np.array([1, 4, 2, 4, 2, 4, 2, 4, 1]) / 12)
    assert not samples.closed[0]


def test_vertices_that_lie_close_share_an_observation():
    y = np.linspace(0, 4, 81)
    samples = sample_edges(np.zeros(81), y, y, np.array([0, 81]), 3**0.5)
    assert (1 / samples.variance).sum() == pytest.approx(2)  # one to two metres


def test_the_edges_own_uncertainty_counts_beside_the_tolerance():
    x, offsets = np.array([0.0, 4, 0, 4]), np.array([0, 2, 4])
    samples = sample_edges(x, x * 0, x, offsets, 0.01, np.array([0.0, 0.02]))
    assert_allclose(samples.variance[3:] / samples.variance[:3], (1e-4 / 3 + 4e-4) / (1e-4 / 3))


def test_rings_come_without_their_last_vertex():
    x, y = np.array([0, 6, 6, 0, 0, 0.0, 9]), np.array([0, 0, 4, 4, 0, 9.0, 9])
    samples = sample_edges(x, y, np.arange(7.0), np.array([0, 5, 7]), 0.01)
    assert_array_equal(samples.closed, [True, False])
    ring = slice(*samples.offsets[:2])
    assert (
        np.hypot(samples.x[ring][0] - samples.x[ring][-1], samples.y[ring][0] - samples.y[ring][-1])
        > 1
    )
    weight, mean_x, mean_y = moments(
        type(samples)(
            *(getattr(samples, name)[ring] for name in ("x", "y", "z", "variance")), None, None
        )
    )
    assert weight[0] == pytest.approx(weight[4])  # a corner as any other
    assert (mean_x, mean_y) == (pytest.approx(3), pytest.approx(2))


@pytest.mark.parametrize("steps", [4, 6, 9])
def test_chords_as_much_inside_as_outside_an_arc_have_its_radius_on_average(steps):
    # vertices moved out by two thirds of the sagitta, as the edges are written
    angle = np.linspace(0, np.pi / 2, steps + 1)
    sagitta = 5 * (1 - np.cos(angle[1] / 2))
    radius = 5 + 2 / 3 * sagitta
    x, y = radius * np.cos(angle), radius * np.sin(angle)
    samples = sample_edges(x, y, x, np.array([0, len(x)]), 0.01)
    weight = 1 / samples.variance
    mean = (weight * np.hypot(samples.x, samples.y)).sum() / weight.sum()
    assert abs(mean - 5) < 0.02 * sagitta


def test_order_of_travel_does_not_matter():
    rng = np.random.default_rng(4)
    x, y = np.cumsum(rng.uniform(0.1, 2.5 * SAMPLING.panel, 30)), rng.normal(0, 1, 30)
    there, back = (
        sample_edges(*(v[order] for v in (x, y, y)), np.array([0, 30]), 0.01)
        for order in (slice(None), slice(None, None, -1))
    )
    for name in ("x", "y", "variance"):
        assert_allclose(getattr(there, name), getattr(back, name)[::-1], rtol=1e-9, atol=1e-9)


def walked(rng, noise=0.012, count=200, radius=30.0):
    s = np.arange(count) * 1.2
    return (
        radius * np.sin(s / radius) + rng.normal(0, noise, count),
        radius * np.cos(s / radius) + rng.normal(0, noise, count),
        s,
    )


@pytest.mark.parametrize("noise", [0.006, 0.012, 0.03])
def test_noise_is_found_round_a_bend(noise):
    # the median of some 195 values is sure to about a tenth
    x, y, _ = walked(np.random.default_rng(2), noise)
    assert white_noise(x, y, np.array([0, 120, 200])) == pytest.approx(noise, rel=0.25)


def test_no_noise_from_a_few():
    assert white_noise(np.arange(5.0), np.zeros(5), np.array([0, 5])) == 0.01


def test_epochs_in_any_order_give_the_same():
    rng = np.random.default_rng(3)
    x, y, s = walked(rng)
    z, group, standing = (
        4 + 0.01 * s + rng.normal(0, 0.02, 200),
        np.repeat([0, 1], [120, 80]),
        np.zeros(200, bool),
    )
    standing[50:58] = True
    s = np.where(standing, s[50], s)
    shuffle = rng.permutation(200)
    one, noise, steps = sample_epochs(x, y, z, s, standing, group)
    other, other_noise, _ = sample_epochs(*(v[shuffle] for v in (x, y, z, s, standing, group)))
    assert noise == other_noise and (steps < 12).all()
    for name in ("x", "y", "z", "variance", "offsets", "closed"):
        assert_array_equal(getattr(one, name), getattr(other, name))
    assert_array_equal(np.diff(one.offsets), [113, 80])
    # standing counts once, but is surer
    where = int(np.argmin(one.variance))
    assert (
        where == 50
        and one.x[50] == pytest.approx(x[50:58].mean())
        and 0.1 < one.variance[50] / one.variance[0] < 0.5
    )
    assert np.sqrt(np.mean((one.z - 4 - 0.01 * np.concatenate([s[:51], s[58:]])) ** 2)) < 0.012


def test_heights_may_be_missing():
    x, y, s = walked(np.random.default_rng(5))
    z = np.where(np.arange(200) < 100, np.nan, 2.0)
    samples, *_ = sample_epochs(x, y, z, s, np.zeros(200, bool), np.repeat([0, 1], 100))
    assert np.isnan(samples.z[:100]).all() and samples.z[100:] == pytest.approx(2.0, abs=1e-9)


def test_two_lines_under_one_name_are_seen():
    x, y, s = walked(np.random.default_rng(6))
    _, _, steps = sample_epochs(
        np.concatenate([x, x + 80]),
        np.tile(y, 2),
        np.tile(y, 2),
        np.tile(s, 2),
        np.zeros(400, bool),
        np.zeros(400, int),
    )
    assert steps[0] > 70


def test_a_walk_all_round_is_a_ring():
    angle = np.arange(40) / 40 * 2 * np.pi
    samples, *_ = sample_epochs(
        6 * np.cos(angle),
        6 * np.sin(angle),
        angle,
        6 * angle,
        np.zeros(40, bool),
        np.zeros(40, int),
    )
    half, *_ = sample_epochs(
        6 * np.cos(angle / 2),
        6 * np.sin(angle / 2),
        angle,
        3 * angle,
        np.zeros(40, bool),
        np.zeros(40, int),
    )
    assert samples.closed[0] and not half.closed[0]
    # once round and a little more is no ring: the ends lie beside each other
    angle = np.arange(42) / 40 * 2 * np.pi
    past, *_ = sample_epochs(
        6 * np.cos(angle),
        6 * np.sin(angle),
        angle,
        6 * angle,
        np.zeros(42, bool),
        np.zeros(42, int),
    )
    assert not past.closed[0]
