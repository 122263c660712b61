"""A day whose base or antenna height was wrong is found, and no other one."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.day_control import Spots, check_days
from curbwright.shared.tuning import DAY_CONTROL

CONTROL = np.array([[0, 0, 5], [200, 0, 6], [0, 300, 4], [400, 400, 5.5]], float)


def spots_of(days, seed, sigma=0.008, shifts=None):
    """Every control point once a day, with noise and the day's own shift."""
    rng = np.random.default_rng(seed)
    shifts = shifts or {}
    parts = [
        CONTROL + rng.normal(0, sigma, CONTROL.shape) + np.array(shifts.get(day, (0, 0, 0)))
        for day in range(days)
    ]
    n = days * len(CONTROL)
    return Spots(
        xyz=np.concatenate(parts),
        sigma=np.full(n, sigma),
        sigma_up=np.full(n, sigma),
        day=np.repeat(np.arange(days), len(CONTROL)),
    )


def test_the_day_with_the_wrong_base_is_named():
    found = check_days(spots_of(4, 1, shifts={2: (0.35, -0.20, 0.0)}), CONTROL, 1.0)
    assert_array_equal(found.off, [False, False, True, False])
    assert not found.off_up.any()
    assert_allclose([found.east[2], found.north[2]], [0.35, -0.20], atol=0.015)
    assert_array_equal(found.number, 4)


def test_the_day_with_the_wrong_antenna_height_is_named():
    found = check_days(spots_of(3, 2, shifts={0: (0.0, 0.0, 0.10)}), CONTROL, 1.0)
    assert_array_equal(found.off_up, [True, False, False])
    assert not found.off.any()


@pytest.mark.one_in(3)
@pytest.mark.parametrize("sigma", [0.004, 0.008, 0.03])
def test_good_days_are_seldom_called_off(sigma):
    """At 95 % over the days of a run at most one run in twenty; 400 runs of three days."""
    wrong = sum(check_days(spots_of(3, seed, sigma), CONTROL, 1.0).off.any() for seed in range(400))
    assert wrong / 400 < 0.06


def test_one_control_point_is_enough_to_warn():
    spots = spots_of(1, 5, shifts={0: (0.0, 0.12, 0.0)})
    found = check_days(spots, CONTROL[:1], 1.0)
    assert_array_equal(found.number, [1])
    assert found.off[0]


def test_days_without_control_stay_unknown():
    spots = spots_of(2, 6)
    spots.xyz[4:, 0] += 50.0
    found = check_days(spots, CONTROL, 1.0)
    assert_array_equal(found.number, [4, 0])
    assert np.isnan(found.east[1]) and not found.off[1] and not found.off_up[1]
    assert_array_equal(found.control, [0, 1, 2, 3, -1, -1, -1, -1])


def test_missing_heights_and_sigmas():
    spots = spots_of(1, 7)
    spots.xyz[:, 2] = np.nan
    spots.sigma[:] = np.nan
    found = check_days(spots, CONTROL, 1.0)
    assert np.isnan(found.up[0]) and not found.off_up[0] and not found.off[0]


def test_nothing_to_check():
    none = Spots(np.zeros((0, 3)), np.zeros(0), np.zeros(0), np.zeros(0, int))
    assert len(check_days(none, CONTROL, 1.0).number) == 0


def test_a_bad_search_distance_is_named():
    with pytest.raises(ValueError, match="search_distance"):
        check_days(spots_of(1, 1), CONTROL, 0.0)


def test_scatter_greater_than_what_is_stated_counts_with_n_less_one():
    few, step = DAY_CONTROL.few, np.arange(DAY_CONTROL.few) * 100.0
    control = np.column_stack([step, np.zeros(few), np.zeros(few)])
    off = 0.05 * np.resize([1.0, -1.0, 0.4], few)
    spots = Spots(
        xyz=control + np.column_stack([off, off, off]),
        sigma=np.full(few, 1e-4),
        sigma_up=np.full(few, 1e-4),
        day=np.zeros(few, int),
    )
    found = check_days(spots, control, 1.0)
    expected = np.sqrt(np.var(off, ddof=1) / few + DAY_CONTROL.steady**2)
    assert_allclose([found.sigma[0], found.sigma_up[0]], expected)
