"""Pauses across which the sides on both sides show how the edge goes on."""

import numpy as np
import pytest
from epochwalks import STEP, line, off_line, table_of, table_of_captures
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, Settings, reconstruct

KEEP = Settings(doubtful="keep", station_spacing=0.5)
DOUBTFUL = list(ROLE_NAMES).index("doubtful")
SIDE = STEP * np.arange(20.0)


def walked(x, y, settings=KEEP):
    """Two sides of 20 epochs with a pause of half a minute between, and noise of 6 mm."""
    rng = np.random.default_rng(0)
    x, y = (np.asarray(axis, float) + rng.normal(0, 0.006, 40) for axis in (x, y))
    seconds = np.arange(40.0)
    seconds[20:] += 30.0
    return reconstruct(table_of(x, y, seconds=seconds), settings)


def round_corner(before, after, turn=90.0):
    """Sides that would meet in a corner at the origin, which begin so far from it."""
    angle = np.radians(turn)
    onward = after + SIDE
    return (
        np.r_[-before - SIDE[::-1], onward * np.cos(angle)],
        np.r_[np.zeros(20), onward * np.sin(angle)],
    )


@pytest.mark.parametrize("turn", [60.0, 90.0, -90.0])
def test_a_corner_that_was_left_out_is_drawn_and_doubtful(turn):
    result = walked(*round_corner(1.6, 1.6, turn))
    assert len(result.edges) == 1 and len(result.gaps) == 0
    assert off_line(np.zeros((1, 2)), line(result.edges, 0))[0] < 0.05
    assert_array_equal(10 + np.flatnonzero(result.role[10:30] == DOUBTFUL), [19, 20])


def test_sides_of_one_line_are_joined_however_the_steps_beside_lie():
    x = np.r_[SIDE, SIDE[-1] + 3.9 + SIDE]
    y = np.zeros(40)
    assert len(walked(x, y).edges) == 1
    assert len(walked(x, y + 0.5 * (x > SIDE[-1])).edges) == 2


@pytest.mark.parametrize(
    ("x", "y"),
    [
        pytest.param(*round_corner(0.4, 3.9), id="a side would go on farther than it is long"),
        pytest.param(*round_corner(2.5, 2.5, 120.0), id="a corner far ahead"),
        pytest.param(*round_corner(-1.2, 2.5), id="a corner before the end of its side"),
        pytest.param(np.r_[SIDE, SIDE[-1] + 1.0 + SIDE], np.repeat([0, 2.5], 20), id="parallels"),
    ],
)
def test_where_sides_tell_nothing_the_line_breaks(x, y):
    assert 1.5 * STEP < np.hypot(x[20] - x[19], y[20] - y[19]) < 3.5 * STEP
    result = walked(x, y)
    assert len(result.edges) == 2 and len(result.gaps) == 1


def test_a_bent_side_tells_nothing():
    x, y = round_corner(1.6, 1.6)
    y[16:20] += np.array([0.0, 0.3, 0.1, 0.4])
    assert len(walked(x, y).edges) == 2


def test_a_pause_over_both_limits_breaks_whatever_the_sides():
    result = walked(np.r_[SIDE, SIDE[-1] + 4.4 + SIDE], np.zeros(40))
    assert len(result.edges) == 2 and result.gaps.metres[0] > 3.5 * STEP


def test_what_the_user_asks_for_holds():
    x, y = round_corner(1.6, 1.6)
    assert len(walked(x, y, settings=Settings(doubtful="keep", max_time_gap=3.5)).edges) == 2
    assert len(walked(x, y, settings=Settings(doubtful="leave_out")).edges) == 2


def test_the_sigma_of_what_a_pause_left_out_grows_with_its_length():
    sigma = []
    for gap in (2.0, 3.4):
        result = walked(np.r_[SIDE, SIDE[-1] + gap + SIDE], np.zeros(40))
        stations = result.stations
        here = np.abs(stations.chainage - SIDE[-1] - gap / 2) < 0.3
        sigma.append(stations.sigma_cross[here].max())
    assert_allclose(sigma, [0.04 * 2.0**0.75, 0.04 * 3.4**0.75], rtol=0.1)


def test_a_short_side_serves_where_a_longer_one_is_bent():
    """Three positions behind a square corner."""
    x, y = round_corner(1.2, 1.2)
    x[:17], y[:17] = x[16] - 0.3, y[16] - STEP * np.arange(17.0, 0.0, -1.0)
    assert len(walked(x, y).edges) == 1


def test_at_eight_epochs_a_second_sides_are_as_long():
    along = np.arange(0.0, 6.0, 1 / 8)
    walks = []
    for bent in (False, True):
        rng = np.random.default_rng(4)
        x = np.r_[-1.0 - along[::-1], np.zeros(len(along))]
        y = np.r_[np.zeros(len(along)), 1.0 + along]
        if bent:  # two metres before the pause the side turns by 30 degrees
            far = np.maximum(-1.5 - x, 0) * (x < -1.5)
            y = y - 0.58 * far
        seconds = np.r_[np.arange(len(along)), np.arange(len(along)) + len(along) + 240] / 8.0
        walks.append(
            {
                "x": x + rng.normal(0, 0.006, len(x)),
                "y": y + rng.normal(0, 0.006, len(x)),
                "seconds": seconds + 3600.0 * bent,
            }
        )
    table, _ = table_of_captures(walks)
    result = reconstruct(table, KEEP)
    assert np.bincount(result.edges.capture).tolist() == [1, 2]
