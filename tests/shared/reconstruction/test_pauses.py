"""Pauses inside runs, along which an edge may have gone unseen."""

import numpy as np
import pytest
from epochwalks import STEP, table_of
from numpy.testing import assert_allclose

from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, Settings, reconstruct

DOUBTFUL = list(ROLE_NAMES).index("doubtful")
SIDE = STEP * np.arange(20.0)


def walked(x, y):
    """Two sides of 20 epochs with a pause of half a minute between, and noise of 6 mm."""
    rng = np.random.default_rng(0)
    x, y = (np.asarray(axis, float) + rng.normal(0, 0.006, 40) for axis in (x, y))
    seconds = np.arange(40.0)
    seconds[20:] += 30.0
    settings = Settings(doubtful="keep", station_spacing=0.5)
    return reconstruct(table_of(x, y, seconds=seconds), settings)


@pytest.mark.parametrize(("gap", "doubtful"), [(0.0, []), (1.2, []), (2.4, [19, 20])])
def test_what_a_pause_may_have_left_out_is_doubtful(gap, doubtful):
    result = walked(np.r_[SIDE, SIDE[-1] + gap + SIDE], np.zeros(40))
    assert len(result.edges) == 1
    assert np.flatnonzero(result.role == DOUBTFUL).tolist() == doubtful


def test_the_sigma_of_what_a_pause_left_out_grows_with_its_length():
    sigma = []
    for gap in (2.0, 3.4):
        result = walked(np.r_[SIDE, SIDE[-1] + gap + SIDE], np.zeros(40))
        stations = result.stations
        here = np.abs(stations.chainage - SIDE[-1] - gap / 2) < 0.3
        sigma.append(stations.sigma_cross[here].max())
    assert_allclose(sigma, [0.04 * 2.0**0.75, 0.04 * 3.4**0.75], rtol=0.1)


@pytest.mark.parametrize("turn", [75.0, 90.0])
def test_a_corner_that_a_pause_left_out_breaks_the_line(turn):
    """A return or a driveway may lie there; two straight sides do not tell."""
    angle, onward = np.radians(turn), 1.6 + SIDE
    result = walked(
        np.r_[-1.6 - SIDE[::-1], onward * np.cos(angle)],
        np.r_[np.zeros(20), onward * np.sin(angle)],
    )
    assert len(result.edges) == 2 and len(result.gaps) == 1
