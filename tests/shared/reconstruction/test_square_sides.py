"""Which positions beside short sides slipped: the side stands square to its legs."""

import numpy as np
import pytest
from cornerwalks import positions_of, walked

from curbwright.shared.reconstruction.square_sides import settle_square_sides

BAY = [(0, 0), (12.3, 0), (12.3, 2.5), (30, 2.5)]
FIRST = 13  # the first epoch on the side; the next one is on it as well


def bay(corners=BAY):
    """A walk into a bay at 1 Hz with the pace of one metre a second."""
    return walked(corners, start=0.1, noise=0.004)


def settled(x, y, suspected):
    """Found, and vouched for, of a walk of which some epochs are suspected."""
    positions, _ = positions_of(x, y)
    assert len(positions) == len(x)
    found = np.isin(np.arange(len(x)), suspected)
    out = settle_square_sides(positions, np.zeros(len(x), int), np.full(len(x), 0.08), found)
    assert not (out.found & out.vouched).any()
    new = out.found & ~found
    assert (np.isfinite(out.off) == new).all()
    return np.flatnonzero(out.found), np.flatnonzero(out.vouched), out.off


def test_the_one_beside_a_square_side_goes():
    x, y = bay()
    x[FIRST] += 0.6  # beyond the leg's end: then the next one stands square
    found, vouched, off = settled(x, y, [FIRST + 1])
    assert found.tolist() == [FIRST] and FIRST + 1 in vouched
    assert off[FIRST] == pytest.approx(0.6, abs=0.3)  # how far it has come is known by its pace


def test_one_on_its_side_is_none():
    x, y = bay()
    found, vouched, _ = settled(x, y, [FIRST])
    assert found.size == 0 and FIRST in vouched


def test_a_second_one_that_is_off_alike_goes_as_well():
    x, y = bay()
    for k in (FIRST, FIRST + 1):
        x[k], y[k] = x[k] + 0.6, y[k] + 0.3
    assert settled(x, y, [FIRST])[0].tolist() == [FIRST, FIRST + 1]
    x[FIRST + 1] -= 1.5  # off to the other side
    assert settled(x, y, [FIRST])[0].tolist() == [FIRST]


@pytest.mark.parametrize(
    ("corners", "why"),
    [
        ([(0, 0), (12.3, 0), (13.8, 2.5), (30, 2.5)], "an oblique side"),
        ([(0, 0), (12.3, 0), (12.3, 2.5), (20, 9)], "legs that are not parallel"),
        ([(0, 0), (30, 0)], "no side"),
    ],
)
def test_others_are_as_they_were(corners, why):
    x, y = bay(corners)
    for suspected in ([FIRST], [FIRST, FIRST + 1]):
        found, vouched, _ = settled(x, y, suspected)
        assert found.tolist() == suspected and vouched.size == 0, why


def test_whichever_way_it_is_walked_or_turned():
    x, y = bay()
    x[FIRST] += 0.6
    for angle in (0.0, 1.0, 2.5, -2.0):
        c, s = np.cos(angle), np.sin(angle)
        for mirror in (1, -1):
            tx, ty = c * x - s * mirror * y, s * x + c * mirror * y
            assert settled(tx, ty, [FIRST + 1])[0].tolist() == [FIRST]
            last = len(x) - 1
            back = settled(tx[::-1], ty[::-1], [last - FIRST - 1])[0]
            assert back.tolist() == [last - FIRST]


def test_short_runs_and_their_ends_do_no_harm():
    x, y = bay()
    for length in range(3, len(x)):
        found = settled(x[:length], y[:length], [length - 2])[0]
        assert found.size <= 1
