"""Corners between short sides of free forms."""

from dataclasses import fields

import numpy as np
import pytest
import shapely
from epochwalks import table_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import offsets_of
from curbwright.shared.epochs.standing import Positions
from curbwright.shared.reconstruction.corners import Corners
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct
from curbwright.shared.reconstruction.side_chains import with_side_corners

NOISE = 0.01  # m
NOOK = [(0, 0), (5, 0), (5, 1.8), (6.6, 1.8), (6.6, 0), (12, 0)]
JOG = [(0, 0), (6, 0), (6, 1.7), (12, 1.7)]
SHALLOW = [(0, 0), (5, 0), (6.4, 1.1), (11, 1.1)]
SQUARE = [(0, 0), (6, 0), (6, 6)]
NONE = Corners(np.zeros(0, np.int64), np.zeros(0), np.zeros(0), np.zeros(0))


def walked(corners, start=0.1, step=0.9, seed=1, noise=NOISE):
    """Epochs along straight sides."""
    corners = np.asarray(corners, float)
    way = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    s = np.arange(start, way[-1], step)
    rng = np.random.default_rng(seed)
    return np.column_stack([np.interp(s, way, axis) for axis in corners.T]) + rng.normal(
        0, noise, (len(s), 2)
    )


def positions_of(xy):
    """Positions of one epoch each."""
    n = len(xy)
    columns = {item.name: np.zeros(n) for item in fields(Positions)}
    own = {"rows": np.arange(n), "offsets": np.arange(n + 1), "x": xy[:, 0], "y": xy[:, 1]}
    return Positions(**{**columns, **own, "capture": np.zeros(n, int)})


def found(*walks, known=NONE, free=True):
    """Corners of runs one after the other."""
    xy = np.concatenate(walks)
    n = len(xy)
    offsets = offsets_of(np.array([len(one) for one in walks]))
    free = np.full(n, free)
    return with_side_corners(known, positions_of(xy), np.full(n, NOISE**2), offsets, free, 30.0)


def place(corners):
    return np.column_stack([corners.x, corners.y])


@pytest.mark.parametrize("shape", [NOOK, JOG, SQUARE])
@pytest.mark.parametrize("seed", range(4))
def test_sides_of_two_positions_meet_in_corners(shape, seed):
    """Those of a nook turn the same way at both ends, those of a jog do not."""
    corners = found(walked(shape, seed=seed))
    assert len(corners.before) == len(shape) - 2
    assert_allclose(place(corners), shape[1:-1], atol=0.06)
    assert_array_equal(np.abs(np.round(corners.angle / (np.pi / 2))), np.ones(len(shape) - 2))


def test_without_noise_corners_are_exact():
    corners = found(walked(NOOK, noise=0.0))
    assert_allclose(place(corners), NOOK[1:-1], atol=1e-9)
    assert_allclose(np.abs(corners.angle), np.pi / 2, atol=1e-9)


@pytest.mark.parametrize("step", [0.3, 0.4, 0.5])
def test_a_tight_curve_and_a_straight_line_have_none(step):
    turn = np.arange(0.0, 5.5, step)
    assert not len(found(np.column_stack([np.sin(turn), 1 - np.cos(turn)])).before)
    assert not len(found(walked([(0, 0), (20, 0)])).before)


def test_sides_of_two_that_turn_little_are_no_corner():
    assert not len(found(walked(SHALLOW)).before)


def test_corners_that_are_known_stay_and_are_not_sought_again():
    corners = found(walked(NOOK))
    known = Corners(corners.before[1:2], np.array([5.01]), np.array([1.79]), corners.angle[1:2])
    again = found(walked(NOOK), known=known)
    assert_array_equal(again.before, corners.before)
    assert_array_equal(again.x[1], 5.01)


def test_nothing_is_sought_where_no_form_is_free():
    assert found(walked(NOOK), free=False) is NONE


@pytest.mark.parametrize("count", range(1, 6))
def test_few_positions(count):
    assert len(found(walked(SQUARE)[:count]).before) <= 1


def test_several_runs_at_once_equal_each_alone_to_the_last_bit():
    walks = [walked(NOOK), walked(JOG, seed=2)[:9], walked(SQUARE, seed=3), walked(NOOK)[:2]]
    whole, alone = found(*walks), [found(one) for one in walks]
    first = np.cumsum([0, *map(len, walks)])
    assert_array_equal(
        whole.before, np.concatenate([one.before + at for one, at in zip(alone, first)])
    )
    for name in ("x", "y", "angle"):
        assert_array_equal(
            getattr(whole, name), np.concatenate([getattr(one, name) for one in alone])
        )


def test_far_away_and_turned_they_are_the_same():
    """A square corner is square whichever way it looks."""
    angle = np.radians(37.0)
    turn = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
    xy = walked(NOOK)
    here, there = found(xy), found(xy @ turn + [500_000.0, 6_000_000.0])
    assert_array_equal(here.before, there.before)
    assert_allclose(place(there) - [500_000.0, 6_000_000.0], place(here) @ turn, atol=1e-6)


NOOKS = [(0, 0), (14, 0), (14, 1.8), (15.6, 1.8), (15.6, 6), (17.2, 6), (17.2, 0), (30, 0)]


@pytest.mark.parametrize("seed", [0, 3])
def test_free_forms_have_the_corners_of_their_short_sides(seed):
    """A spline would swing out beyond them by a quarter of a metre."""
    x, y = walked(NOOKS, seed=seed).T
    edges = reconstruct(table_of(x, y), Settings(doubtful="keep")).edges
    vertices = shapely.multipoints(np.column_stack([edges.x, edges.y]))
    assert (shapely.distance(vertices, shapely.points(NOOKS[1:-1])) < 0.06).all()
