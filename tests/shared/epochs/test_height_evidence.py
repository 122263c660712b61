"""What heights say about gross errors of the aim."""

import numpy as np
import pytest
from epochwalks import along, table_of_captures
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.height_evidence import extrapolated_height, height_llr
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.tuning import HEIGHT_EVIDENCE

SIGMA_UP = 0.02
CORNER = [("line", 20.4), ("corner", 90.0), ("line", 20.0)]
SLIP = 20  # row of the epoch that slips, the last one before the corner


def llr(z, step=1.0, capture=None):
    z = np.asarray(z, float)
    capture = np.zeros(len(z), int) if capture is None else capture
    return height_llr(
        step * np.arange(len(z)), np.zeros(len(z)), z, capture, np.full(capture.max() + 1, SIGMA_UP)
    )


def noise(size, seed=1):
    return np.random.default_rng(seed).normal(0, SIGMA_UP, size)


@pytest.mark.parametrize("slope", [0.0, 0.04, -0.04])
def test_noise_and_slopes_say_nothing_against_an_epoch(slope):
    result = llr(noise(500) + slope * np.arange(500))
    assert np.mean(result > 0) < 0.01


@pytest.mark.parametrize("at", [0, 1, 2, 20, 37, 38, 39])
def test_one_that_hits_another_height_stands_out_alone(at):
    z = noise(40)
    z[at] += 0.3
    assert_array_equal(np.flatnonzero(llr(z) > 3), [at])
    assert llr(z)[at] == HEIGHT_EVIDENCE.other


def test_two_stand_out_together():
    z = noise(40)
    z[20:22] -= 0.3
    assert_array_equal(np.flatnonzero(llr(z) > 3), [20, 21])


def test_a_dropped_curb_is_walked_down_and_up():
    # Down by 125 mm over 1.5 m, and a flat part as long as a driveway is wide, at a step of 1.1 m.
    s = 1.1 * np.arange(60)
    z = np.interp(s, [20.0, 21.5, 26.0, 27.5], [0.0, -0.125, -0.125, 0.0])
    assert np.all(llr(z + noise(60), step=1.1) < 3)


def test_without_heights_nothing_is_said():
    assert_array_equal(llr(np.full(30, np.nan)), 0.0)
    assert_array_equal(llr([0.0, 0.5, 0.0]), 0.0)


def test_captures_have_no_say_in_each_other():
    low, high = noise(20, 1), 5.0 + noise(20, 2)
    both = llr(np.r_[low, high], capture=np.repeat([0, 1], 20))
    assert_array_equal(both, np.r_[llr(low), llr(high)])
    assert np.all(both < 3) and np.all(both >= HEIGHT_EVIDENCE.same)


def test_order_from_the_other_end_says_the_same():
    z = noise(60)
    z[[3, 30, 58]] += 0.4
    assert_array_equal(llr(z)[::-1], llr(z[::-1]))


@pytest.mark.parametrize(("end", "way"), [(0, 1), (9, -1)])
def test_heights_go_on_along_the_line_over_the_next_three(end, way):
    x, z = 2.0 * np.arange(10), 0.1 * np.arange(10)
    z[end] = 7.0  # has no say in what is expected of it
    found = extrapolated_height(x, np.zeros(10), z, np.array([end]), way)
    assert found == pytest.approx([0.1 * end])
    # no farther than the line over the three is long
    x[end] -= way * 100.0
    far = extrapolated_height(x, np.zeros(10), z, np.array([end]), way)
    assert far == pytest.approx([0.1 * (end + way - 2 * way)])


def _beside_a_corner(rise, seed):
    """Columns of a walk with an epoch one step before a corner, shoved by 0.3 m towards the
    inside."""
    x, y = along(CORNER, 0.008, seed, step=1.0, heading=0.0)
    z = np.random.default_rng(seed).normal(0, SIGMA_UP, len(x))
    x[SLIP], y[SLIP], z[SLIP] = x[SLIP] - 0.2, y[SLIP] + 0.25, z[SLIP] + rise
    return {"x": x, "y": y, "z": z}


def test_heights_help_to_tell_a_slip_beside_a_corner():
    found = {}
    for rise in (0.0, 0.3):
        table, walks = table_of_captures([_beside_a_corner(rise, seed) for seed in range(30)])
        reason = reconstruct(table).reason
        found[rise] = sum(
            reason[rows][SLIP] == Reason.SPIKE and np.count_nonzero(reason[rows]) == 1
            for rows in walks
        )
    assert found[0.3] >= 27 and found[0.3] >= found[0.0]


@pytest.mark.parametrize(
    ("shape", "most"),
    [
        ([("line", 60.0)], 0),
        (CORNER, 0),
        (
            [("line", 20.3), ("corner", 90.0), ("line", 2.5), ("corner", -90.0), ("line", 20.2)],
            4,
        ),  # so few epochs hold a short side
        ([("line", 15.0), ("arc", 1.5, 180.0), ("line", 15.0)], 4),  # or a tight nose
    ],
)
def test_a_bad_height_alone_costs_no_epoch(shape, most):
    walks = []
    for seed in range(20):
        x, y = along(shape, 0.008, seed, step=1.0)
        z = np.random.default_rng(seed).normal(0, SIGMA_UP, len(x))
        z[8 + seed] += 0.5
        walks.append({"x": x, "y": y, "z": z})
    table, _ = table_of_captures(walks)
    assert np.count_nonzero(reconstruct(table).reason) <= most
