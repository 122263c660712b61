"""Rigid motions are found again, whatever the shape shows of them."""

from types import SimpleNamespace

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.lines.rigid_moves import rigid_moves


def stations(x, y, right_east, right_north, motion):
    """Stations with the offsets that a small motion gives: east, north, rotation in the middle."""
    east, north, rotation = motion
    dx, dy = x - x.mean(), y - y.mean()
    move_x, move_y = east - rotation * dy, north + rotation * dx
    return SimpleNamespace(
        x=x,
        y=y,
        east=right_east,
        north=right_north,
        offset=right_east * move_x + right_north * move_y,
        weight=np.ones(len(x)),
    )


def island(motion, count=60):
    angle = np.arange(count) / count * 2 * np.pi
    # an ellipse: a circle would show no rotation
    x, y = 6 * np.cos(angle), 3 * np.sin(angle)
    nx, ny = np.cos(angle) / 6, np.sin(angle) / 3
    size = np.hypot(nx, ny)
    return stations(x, y, nx / size, ny / size, motion)


def straight(motion, azimuth=0.0, count=40):
    along = np.linspace(-20, 20, count)
    east, north = np.sin(np.radians(azimuth)), np.cos(np.radians(azimuth))
    return stations(
        along * east,
        along * north,
        np.full(count, north),
        np.full(count, -east),
        motion,
    )


@pytest.mark.parametrize("motion", [(0.3, -0.4, 0.0), (-1.1, 0.2, 0.004), (0.0, 0.0, 0.01)])
def test_an_island_shows_all_of_its_motion(motion):
    found = rigid_moves(island(motion), np.zeros(60, int), 1)
    assert_allclose([found.east[0], found.north[0], found.rotation[0]], motion, atol=1e-9)
    assert found.left[0] < 1e-9


def test_moved_and_azimuth_are_what_people_say():
    found = rigid_moves(island((0.3, -0.4, 0.0)), np.zeros(60, int), 1)
    assert_allclose(found.moved, 0.5)
    assert_allclose(found.azimuth, 180 - np.degrees(np.arctan(0.75)))
    west = rigid_moves(island((-0.3, 0.0, 0.0)), np.zeros(60, int), 1)
    assert_allclose(west.azimuth, 270.0)


@pytest.mark.parametrize("azimuth", [0.0, 30.0, 90.0, 250.0])
def test_a_straight_line_shows_what_lies_across(azimuth):
    """Moved along itself as well, which nothing shows: that part stays 0."""
    direction = np.radians(azimuth)
    across = np.array([np.cos(direction), -np.sin(direction)])
    motion = 0.25 * across + 3.0 * np.array([np.sin(direction), np.cos(direction)])
    found = rigid_moves(straight((*motion, 0.002), azimuth), np.zeros(40, int), 1)
    assert_allclose([found.east[0], found.north[0]], 0.25 * across, atol=1e-9)
    assert_allclose(found.rotation, 0.002, atol=1e-9)


def test_a_rebuilt_stretch_has_no_say():
    moved = island((0.5, 0.0, 0.0))
    moved.offset[10:22] += 1.5
    found = rigid_moves(moved, np.zeros(60, int), 1)
    assert_allclose([found.east[0], found.north[0]], [0.5, 0.0], atol=0.02)


def test_lines_are_independent_and_rows_without_stations_stay_unknown():
    parts = [island((0.2, 0.1, 0.0)), straight((0.0, 0.3, 0.0), 90.0), island((0.0, 0.0, 0.0))]
    together = SimpleNamespace(
        **{
            name: np.concatenate([getattr(part, name) for part in parts])
            for name in ("x", "y", "east", "north", "offset", "weight")
        }
    )
    line = np.repeat([0, 2, 3], [60, 40, 60])
    order = np.random.default_rng(1).permutation(160)
    shuffled = SimpleNamespace(**{k: v[order] for k, v in vars(together).items()})
    found = rigid_moves(together, line, 4)
    again = rigid_moves(shuffled, line[order], 4)
    assert_allclose(found.moved, [np.hypot(0.2, 0.1), np.nan, 0.3, 0.0], atol=1e-9)
    assert_allclose(again.moved, found.moved, atol=1e-9)
    assert np.isnan(found.azimuth[1])
    for place, (part, own) in enumerate(zip(parts, (0, 2, 3))):
        alone = rigid_moves(part, np.zeros(len(part.x), int), 1)
        assert_allclose(alone.moved[0], found.moved[own], atol=1e-9, err_msg=str(place))


def test_nothing_gives_nothing():
    none = SimpleNamespace(
        **dict.fromkeys(("x", "y", "east", "north", "offset", "weight"), np.zeros(0))
    )
    assert len(rigid_moves(none, np.zeros(0, int), 0).moved) == 0
    assert np.isnan(rigid_moves(none, np.zeros(0, int), 2).moved).all()


def test_moves_of_a_layer_are_worked_out_once():
    """Each line asks for its own: 100,000 of them must not go through 100,000 each."""
    x = np.arange(0.0, 10.0)
    given = stations(x, 0 * x, 0 * x, 0 * x - 1.0, (0.0, 0.3, 0.0))
    moves = rigid_moves(given, np.zeros(10, int), 1)
    assert moves.moved is moves.moved and moves.azimuth is moves.azimuth
