"""The steps of rounded coordinates, and what they leave in means and profiles."""

import numpy as np
import pytest
from epochwalks import table_of
from numpy.testing import assert_allclose

from curbwright.shared.epochs.rounding import (
    SIGMA,
    coordinate_step,
    grid_of,
    left_of_rounding,
    sharing_rounding,
    step_of,
)
from curbwright.shared.epochs.screening import screen
from curbwright.shared.tuning import STREAM


def test_a_rounded_value_has_the_sigma_of_a_uniform_one():
    values = np.random.default_rng(1).uniform(-1, 1, 100_000)
    assert np.std(values - np.round(values, 1)) == pytest.approx(SIGMA * 0.1, rel=0.02)


@pytest.mark.parametrize("turn", [0.0, 0.01, 0.9])
def test_grid_of_rounded_places(turn):
    rng = np.random.default_rng(2)
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    places = np.round(rng.normal(0, 1.0, (200, 2))) * [0.0185, 0.0111] @ turned
    sides = np.hypot(*grid_of(*np.diff(places, axis=0).T).T)
    assert_allclose(np.sort(sides), [0.0111, 0.0185], rtol=1e-6)


def test_continuous_values_have_next_to_no_step():
    rng = np.random.default_rng(3)
    for _ in range(50):
        dx, dy, dz = rng.normal(0, 0.01, (3, 200))
        assert np.abs(grid_of(dx, dy)).max() < 0.002
        assert step_of(dz) < 0.001


def test_few_steps_show_nothing():
    assert step_of(np.full(19, 0.1)) == 0
    assert step_of(np.full(20, 0.1)) == 0.1
    assert not grid_of(np.full(5, 0.1), np.zeros(5)).any()


@pytest.mark.parametrize("noise", [0.0, 0.1, 0.2, 0.3, 0.4])
def test_what_rounding_leaves_in_a_mean(noise):
    """Against simulated means of many values, at true values all over a step."""
    rng = np.random.default_rng(4)
    true = (np.arange(200) + 0.5) / 200
    values = np.round(true + rng.normal(0, noise, (20_000, 200)))
    bias = np.square(values.mean(axis=0) - true).mean() - noise**2 / 20_000
    left = left_of_rounding(1.0, values.std(axis=0)).mean()
    # one point's spread alone tells little of the noise: the cautious side
    assert 0.9 * bias - 1e-4 < left <= SIGMA**2 + 1e-9
    assert noise < 0.4 or left < 1e-3


def test_rounded_heights_are_no_better_than_their_rounding():
    n = 300
    rng = np.random.default_rng(5)
    z = 3.0 + 0.003 * np.arange(n) + rng.normal(0, 0.01, n)
    walk = np.arange(float(n)), rng.normal(0, 0.01, n)
    fine, rounded = (screen(table_of(*walk, z=heights)).stream for heights in (z, np.round(z, 1)))
    assert fine.noise_up[0] < 0.012
    assert fine.memory_up[0] == 1
    assert rounded.noise_up[0] >= SIGMA * 0.1 - 1e-6
    assert rounded.memory_up[0] > 3  # heights stay the same for several epochs


def test_outliers_among_equal_heights_are_no_rounding():
    z = np.full(60, 4.0)
    z[30] += 0.6
    stream = screen(table_of(np.arange(60.0), np.zeros(60), z=z)).stream
    assert stream.noise_up[0] < 0.01


@pytest.mark.parametrize("seed", range(5))
def test_an_even_slope_is_no_rounding(seed):
    z = 0.2 * np.arange(40) + np.random.default_rng(seed).normal(0, 0.015, 40)
    stream = screen(table_of(np.arange(40.0), np.zeros(40), z=z)).stream
    assert stream.noise_up[0] < 0.03


@pytest.mark.parametrize("step", [1.0, 0.1, 0.5])
def test_coordinates_lie_on_the_grid_that_they_were_rounded_to(step):
    along = 6.2e6 + np.cumsum(np.random.default_rng(4).normal(1.2, 0.05, 60))
    assert coordinate_step(np.rint(along / step) * step, 0.02) == pytest.approx(step, rel=1e-6)
    assert coordinate_step(along, 0.02) == 0.0


def test_minutes_of_four_decimals_are_a_grid_though_every_step_is_several():
    latitude = 55 + np.round(54 + np.arange(40) * 1.2 / 1855, 4) / 60
    assert coordinate_step(latitude, 2e-7) == pytest.approx(1e-4 / 60, rel=1e-6)


def test_a_walk_without_noise_is_on_no_grid():
    along = 5e5 + 1.2 * np.arange(60.0)
    assert coordinate_step(along, 0.02) == 0.0
    assert coordinate_step(np.delete(along, [5, 9, 20, 33]), 0.02) == 0.0
    assert coordinate_step(np.full(60, 5e5), 0.02) == 0.0


def test_vertices_of_lines_show_a_step_by_different_multiples_of_it():
    rng = np.random.default_rng(8)
    free = 6e5 + np.cumsum(rng.uniform(0.5, 30.0, 40))
    assert coordinate_step(free, 0.005, 10) == 0.0
    for step in (0.01, 0.05):
        found = coordinate_step(np.rint(free / step) * step, 0.005, 10)
        assert found == pytest.approx(step, rel=1e-6)
    even = 6e5 + np.tile(np.arange(0.0, 40.0, 2.5), 20)  # drawn so, not rounded
    assert coordinate_step(even, 0.005) > 0.0 and coordinate_step(even, 0.005, 10) == 0.0


@pytest.mark.parametrize("turn", [0.0, 0.03, 2.0])
def test_positions_in_a_long_row_of_cells_share_their_rounding_error(turn):
    cell, captures = 0.05, np.repeat([0, 1, 2], 30)
    along = np.tile(np.arange(30.0), 3)
    across = np.concatenate([np.zeros(30), np.arange(30) // 15 * cell, np.arange(30) * cell])
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    x, y = (np.column_stack([along, across]) @ turned).T
    cells = np.tile(cell * turned, (3, 1, 1))
    found = sharing_rounding(x, y, captures, cells)
    # a row, two rows of half the length, and a walk that stays in none
    assert_allclose(found, np.repeat([30.0, 15.0, 1.0], 30))
    assert_allclose(sharing_rounding(x, y, captures, 0 * cells), 1.0)
    # the same where only the coordinate across is coarse
    assert_allclose(sharing_rounding(x, y, captures, cells * [[0], [1]]), found)


def test_positions_in_short_rows_count_as_a_few():
    number = np.array([3, 8, 24])
    across = np.repeat(np.arange(3) * 0.1, number)
    x, cells = np.arange(35) * 0.1, np.tile(0.1 * np.eye(2), (1, 1, 1))
    found = sharing_rounding(x, across, np.zeros(35, int), cells)
    assert_allclose(found, np.repeat(np.maximum(number / STREAM.told_in_row, 1.0), number))
    most = sharing_rounding(np.arange(900.0), np.zeros(900), np.zeros(900, int), cells)
    assert_allclose(most, STREAM.most_sharing)
