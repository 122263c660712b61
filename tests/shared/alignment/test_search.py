"""Runs as chains of tangents and arcs. (Circle fits on published points: tests/checks.)"""

import numpy as np
import pytest
from epochwalks import along
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.search import (
    curvature_at,
    element_leverage,
    fit_elements,
    project,
    savings_without,
)
from curbwright.shared.tuning import SEARCH, override

SMALL = 0.002  # m; what noise is taken for where there is none


def fit(x, y, sigma=SMALL, offsets=None):
    return fit_elements(
        x, y, np.full(len(x), sigma**2), np.array([0, len(x)]) if offsets is None else offsets
    )


@pytest.mark.parametrize("radius", [3.0, 5.0, 9.0, 20.0, 60.0])
@pytest.mark.parametrize("side", [1, -1])
@pytest.mark.parametrize("step", [0.5, 1.0])
def test_tangent_arc_tangent(radius, side, step):
    degrees = 90.0 if radius < 15 else 60.0
    x, y = along(
        [("line", 20.0), ("arc", radius, side * degrees), ("line", 20.0)], step=step, heading=0.0
    )
    elements = fit(x, y)
    assert len(elements) == 3
    assert_array_equal(elements.is_arc, [False, True, False])
    assert elements.radius[1] == pytest.approx(radius, rel=0.005)
    assert_allclose(
        [elements.x[1], elements.y[1]], [20.0, side * radius], atol=0.02 + 0.005 * radius
    )
    assert_allclose([elements.ux[0], elements.uy[0]], [1, 0], atol=1e-3)
    assert_allclose(
        [elements.ux[2], elements.uy[2]],
        [np.cos(np.radians(degrees)), side * np.sin(np.radians(degrees))],
        atol=1e-3,
    )
    # each tangent point lies between the last position of one element and the first of the next, or
    # beside it
    expected = np.array([20.0, 20.0 + radius * np.radians(degrees)]) / step
    assert_allclose(elements.offsets[1:-1], expected, atol=1.6)


@pytest.mark.parametrize("count", [2, 3, 40, 383, 384, 385, 768, 1000])
def test_a_straight_is_one_tangent_whatever_the_blocks(count):
    x, y = along([("line", 5000.0)], step=1.0, until=count - 0.5)
    elements = fit(x, y)
    assert len(elements) == 1 and not elements.is_arc[0]
    assert elements.chi[0] < 1e-6


@pytest.mark.parametrize("count", [384, 400, 768, 1000])
def test_a_bend_is_one_arc_whatever_the_blocks(count):
    x, y = along([("arc", 200.0, 340.0)], step=1.0, until=count - 0.5)
    elements = fit(x, y)
    assert len(elements) == 1 and elements.is_arc[0]
    assert elements.radius[0] == pytest.approx(200.0, rel=1e-4)


@pytest.mark.parametrize("before", [SEARCH.block + beyond for beyond in (-24, -6, -3, 0, 3, 6, 16)])
def test_borders_of_blocks_leave_no_trace(before):
    # The same curb return, farther and farther along the run, so that the border of the first block
    # falls before, in and after it: the same elements. A position beside a tangent point fits both
    # as well and may go to either.
    parts = [("line", 400.0), ("arc", 6.0, 90.0), ("line", 40.0)]
    rng = np.random.default_rng(5)
    noise_x, noise_y = rng.normal(0, 0.006, (2, 600))
    found = []
    for skip in (0.0, 400.0 - before):
        x, y = along(parts, step=1.0, until=449.0)
        first = int(skip)
        x, y = x[first:] + noise_x[first : len(x)], y[first:] + noise_y[first : len(y)]
        elements = fit(x, y, 1.15 * 0.006)
        assert len(elements) == 3
        found.append((project(elements, x, y), len(x) - elements.offsets[1:3]))
    assert_allclose(found[0][1], found[1][1], atol=1)
    shared = len(found[1][0])
    assert np.hypot(*(found[0][0][-shared:] - found[1][0]).T).max() < 0.006


def cost(elements):
    return (
        elements.chi.sum()
        + np.where(elements.is_arc, SEARCH.arc_penalty, SEARCH.tangent_penalty).sum()
    )


@pytest.mark.parametrize("sigma", [0.006, 0.012])
def test_noise_makes_hardly_any_elements(sigma):
    more = 0
    for seed in range(60):
        x, y = along([("line", 150.0)], sigma, seed, step=1.0)
        elements = fit(x, y, 1.15 * sigma)
        points = np.column_stack([x, y])
        single = (
            np.linalg.svd(points - points.mean(axis=0), compute_uv=False)[1] ** 2
            / (1.15 * sigma) ** 2
            + SEARCH.tangent_penalty
        )
        assert cost(elements) <= single * (1 + 1e-9)  # never dearer than the one tangent that it is
        more += len(elements) > 1
    assert more <= 4


@pytest.mark.parametrize("sigma", [0.006, 0.012])
def test_curb_returns_in_noise(sigma):
    radii = []
    for seed in range(20):
        x, y = along([("line", 40.0), ("arc", 5.0, 90.0), ("line", 40.0)], sigma, seed, step=0.8)
        elements = fit(x, y, 1.15 * sigma)
        arcs = np.flatnonzero(elements.is_arc & (elements.radius < 20))
        assert len(arcs) == 1 and len(elements) <= 5
        radii.append(elements.radius[arcs[0]])
    # Kasa's circle alone would be too small on average
    assert np.mean(radii) == pytest.approx(5.0, abs=0.1)
    assert np.abs(np.array(radii) - 5.0).max() < 0.6


def test_runs_do_not_touch():
    # One straight cut into runs: one tangent for each, none across a border.
    x, y = along([("line", 100.0)], step=1.0)
    offsets = np.array([0, 1, 3, 50, len(x)])
    assert_array_equal(fit(x, y, offsets=offsets).offsets, offsets)


def test_runs_at_once_equal_each_alone():
    shapes = [
        [("line", 30.0), ("arc", 4.0, 90.0), ("line", 10.0)],
        [("line", 12.0)],
        [("arc", 30.0, 100.0), ("line", 20.0)],
        [("line", 1.5)],
    ]
    runs = [along(parts, 0.006, seed, step=1.0) for seed, parts in enumerate(shapes)]
    x, y = (np.concatenate(axis) for axis in zip(*runs))
    offsets = np.concatenate([[0], np.cumsum([len(run[0]) for run in runs])])
    whole = fit(x, y, 0.006, offsets)
    alone = [fit(*run, 0.006) for run in runs]
    assert_array_equal(
        whole.offsets,
        np.concatenate([[0], *(one.offsets[1:] + first for one, first in zip(alone, offsets))]),
    )
    assert_allclose(whole.chi, np.concatenate([one.chi for one in alone]), rtol=1e-6, atol=1e-9)


def test_searched_in_parts():
    x, y = along([("line", 30.0), ("arc", 4.0, 90.0), ("line", 10.0)] * 6, 0.006, 1, step=1.0)
    offsets = np.array([0, 50, 90, 150, len(x)])
    whole = fit(x, y, 0.006, offsets)
    shares = []
    with override(SEARCH__searched_together=60):
        parts = fit_elements(x, y, np.full(len(x), 0.006**2), offsets, shares.append)
    assert_array_equal(whole.offsets, parts.offsets)
    assert_allclose(whole.radius, parts.radius, rtol=1e-9)
    assert len(shares) > 2 and (np.diff(shares) > 0).all() and shares[0] >= 0 and shares[-1] < 1


@pytest.mark.parametrize("count", [0, 1, 2, 3, 4])
def test_few_positions(count):
    x, y = along([("line", 10.0)], step=1.0)
    elements = fit(x[:count], y[:count])
    assert len(elements) == min(count, 1)
    assert elements.offsets[-1] == count
    assert_allclose(
        project(elements, x[:count], y[:count]), np.column_stack([x, y])[:count], atol=1e-9
    )


def test_positions_at_one_place():
    elements = fit(np.zeros(9), np.zeros(9))
    assert np.isfinite(project(elements, np.zeros(9), np.zeros(9))).all()


def test_easting_and_northing_lose_nothing():
    x, y = along([("line", 30.0), ("arc", 4.0, 90.0), ("line", 30.0)], 0.006, 1, step=1.0)
    here, there = fit(x, y, 0.006), fit(x + 500_000.0, y + 6_000_000.0, 0.006)
    assert_array_equal(here.offsets, there.offsets)
    assert_allclose(there.radius, here.radius, rtol=1e-6)
    feet = project(there, x + 500_000.0, y + 6_000_000.0) - [500_000.0, 6_000_000.0]
    assert_allclose(feet, project(here, x, y), rtol=0, atol=1e-6)


def test_feet_are_the_nearest_places():
    x, y = along([("line", 30.0), ("arc", 4.0, 90.0), ("line", 30.0)], 0.01, 1, step=1.0)
    elements = fit(x, y, 0.01)
    feet = project(elements, x, y)
    owner = np.repeat(np.arange(len(elements)), np.diff(elements.offsets))
    arc = elements.is_arc[owner]
    away = np.hypot(feet[:, 0] - elements.x[owner], feet[:, 1] - elements.y[owner])
    assert_allclose(away[arc], elements.radius[owner][arc])
    across = (feet[:, 0] - elements.x[owner]) * elements.uy[owner] - (
        feet[:, 1] - elements.y[owner]
    ) * elements.ux[owner]
    assert_allclose(across[~arc], 0, atol=1e-9)
    signed = np.column_stack([x, y]) - feet
    assert_allclose(np.bincount(owner, (signed**2).sum(axis=1)) / 0.01**2, elements.chi, rtol=1e-6)
    assert_allclose(
        (signed * np.column_stack([elements.ux, elements.uy])[owner]).sum(axis=1)[~arc],
        0,
        atol=1e-9,
    )


def test_bend_points_to_the_centre():
    x, y = along([("line", 20.0), ("arc", 5.0, 90.0), ("line", 20.0)], step=0.5, heading=0.0)
    elements = fit(x, y)
    on_arc = np.array([[20.0, 0.0], [25.0, 5.0]])
    assert_allclose(
        curvature_at(elements, np.array([1, 1]), on_arc), [[0, 0.2], [-0.2, 0]], atol=0.002
    )
    assert_array_equal(curvature_at(elements, np.array([0, 2]), on_arc), 0)


def test_leverage_is_the_share_in_the_own_foot():
    # Raise one position across the line by a little; what its foot gains is its leverage.
    for parts, kinds in (([("line", 11.5)], 2), ([("arc", 20.0, 40.0)], 3)):
        x, y = along(parts, step=1.0, heading=0.0)
        elements = fit(x, y)
        assert len(elements) == 1 and elements.is_arc[0] == (kinds == 3)
        share = element_leverage(elements, x, y)
        # as many as the element has parameters
        assert share.sum() == pytest.approx(kinds, abs=0.02)
        feet = project(elements, x, y)
        for k in (0, 3, len(x) // 2, len(x) - 1):
            normal = (
                np.array([0.0, 1.0])
                if kinds == 2
                else np.array([x[k] - elements.x[0], y[k] - elements.y[0]]) / elements.radius[0]
            )
            up = 1e-5 * normal
            raised = project(
                fit(x + up[0] * (np.arange(len(x)) == k), y + up[1] * (np.arange(len(x)) == k)),
                x,
                y,
            )
            # feet of the unmoved positions: the raised one's own shift along the line does not
            # count
            assert ((raised[k] - feet[k]) @ normal) / 1e-5 == pytest.approx(share[k], abs=0.03)


def test_leverage_of_short_elements():
    x = np.array([0.0, 5.0, 6.0, 10.0, 11.0, 12.0])
    elements = fit(x, 0 * x, offsets=np.array([0, 1, 3, 6]))
    assert_allclose(element_leverage(elements, x, 0 * x), [1, 1, 1, 5 / 6, 1 / 3, 5 / 6])
    assert element_leverage(fit(x[:0], x[:0]), x[:0], x[:0]).shape == (0,)


def test_savings_tell_a_slip_from_a_corner():
    # A slip breaks one tangent in three; without it two elements are saved. A corner is there
    # without any one epoch.
    x, y = along([("line", 30.0)], step=1.0, heading=0.0)
    y[15] += 0.3
    variance, offsets = np.full(len(x), 0.008**2), np.array([0, len(x)])
    saved = savings_without(x, y, variance, offsets, np.array([15, 10]), np.array([1, 1]))
    assert saved[0] == pytest.approx(2 * SEARCH.tangent_penalty, abs=1e-6)
    assert saved[1] == pytest.approx(0, abs=1e-6)
    x, y = along([("line", 15.3), ("corner", 90.0), ("line", 15.0)], step=1.0, heading=0.0)
    saved = savings_without(
        x, y, np.full(len(x), 0.008**2), np.array([0, len(x)]), np.array([15, 16]), np.array([1, 1])
    )
    assert (saved < 1e-6).all()
    assert savings_without(x, y, variance, offsets, np.zeros(0, int), np.zeros(0, int)).shape == (
        0,
    )
