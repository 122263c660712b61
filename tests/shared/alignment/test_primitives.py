"""Tangents and arcs one by one: distances, feet, directions, and the best one through positions."""

import numpy as np
import pytest
from handmade import some_curve
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.moments import Moments
from curbwright.shared.alignment.primitives import Primitives, fit_independent, fit_lines


def test_distances_are_exact():
    primitives, rng = some_curve(), np.random.default_rng(1)
    owner = np.repeat(np.arange(6), 30)
    x, y = primitives.x[owner] + rng.normal(0, 4, 180), primitives.y[owner] + rng.normal(0, 4, 180)
    signed = primitives.signed_distance(x, y, owner)
    cx, cy = primitives.centre
    arc = primitives.curvature[owner] != 0
    radius = 1 / np.where(arc, primitives.curvature[owner], 1.0)  # + to the left
    around = np.sign(radius) * (np.abs(radius) - np.hypot(x - cx[owner], y - cy[owner]))
    straight = primitives.ux[owner] * (y - primitives.y[owner]) - primitives.uy[owner] * (
        x - primitives.x[owner]
    )
    assert_allclose(signed, np.where(arc, around, straight), atol=1e-9)


def test_feet_lie_square_below():
    primitives, rng = some_curve(2), np.random.default_rng(2)
    owner = np.repeat(np.arange(6), 20)
    x, y = primitives.x[owner] + rng.normal(0, 1, 120), primitives.y[owner] + rng.normal(0, 1, 120)
    fx, fy, ux, uy = primitives.at(primitives.along(x, y, owner), owner)
    assert_allclose((x - fx) * ux + (y - fy) * uy, 0, atol=1e-9)
    assert_allclose(
        ux * (y - fy) - uy * (x - fx), primitives.signed_distance(x, y, owner), atol=1e-9
    )
    assert_allclose(np.hypot(ux, uy), 1, rtol=1e-12)


def test_feet_and_directions_without_angles_are_the_same():
    primitives, rng = some_curve(4), np.random.default_rng(4)
    owner = np.repeat(np.arange(6), 50)
    x, y = primitives.x[owner] + rng.normal(0, 2, 300), primitives.y[owner] + rng.normal(0, 2, 300)
    fx, fy, ux, uy = primitives.at(primitives.along(x, y, owner), owner)
    assert_allclose(primitives.foot(x, y, owner), (fx, fy, ux, uy), atol=1e-9)
    signed, vx, vy = primitives.distance_and_direction(x, y, owner)
    assert_allclose(signed, primitives.signed_distance(x, y, owner), atol=1e-12)
    assert_allclose((vx, vy), (ux, uy), atol=1e-9)


def test_in_the_centre_of_an_arc_the_direction_is_that_of_its_point():
    primitives = some_curve(5)
    arc = np.flatnonzero(primitives.is_arc)
    x, y = (axis[arc] for axis in primitives.centre)
    signed, ux, uy = primitives.distance_and_direction(x, y, arc)
    assert_allclose(np.abs(signed), 1 / np.abs(primitives.curvature[arc]), rtol=1e-9)
    assert_allclose(np.hypot(ux, uy), 1.0, atol=1e-9)


def test_along_and_at_undo_each_other():
    primitives = some_curve(3)
    owner, s = np.repeat(np.arange(6), 5), np.tile([-2.0, -0.5, 0.0, 1.0, 3.0], 6)
    x, y, _, _ = primitives.at(s, owner)
    assert_allclose(primitives.along(x, y, owner), s, atol=1e-9)
    assert_allclose(primitives.signed_distance(x, y, owner), 0, atol=1e-9)


def test_straight_lines_are_those_of_total_least_squares():
    rng = np.random.default_rng(0)
    t, n = rng.uniform(-5, 5, 40), rng.normal(0, 0.1, 40)
    x, y = 3 + t * 0.6 - n * 0.8, 7 + t * 0.8 + n * 0.6
    guess = Primitives(*(np.array([v]) for v in (0.0, 0.0, -1.0, 0.0, 0.0)))
    line = fit_lines(Moments.of(x, y, np.ones(40), np.array([0, 40])), guess)
    direction = np.linalg.svd(np.column_stack([x - x.mean(), y - y.mean()]))[2][0]
    assert abs(direction @ [line.ux[0], line.uy[0]]) == pytest.approx(1, abs=1e-12)
    assert line.ux[0] < 0  # the way the first estimate goes
    assert_allclose([line.x[0], line.y[0]], [x.mean(), y.mean()])


@pytest.mark.parametrize("radius", [0.5, 8.0, 300.0])
@pytest.mark.parametrize("turn", [1.0, -1.0])
def test_exact_positions_give_back_their_circle_and_direction(radius, turn):
    angle = np.linspace(0.3, 2.0, 12)[:: int(turn)]
    x, y = 40.0 + radius * np.cos(angle), -7.0 + radius * np.sin(angle)
    bounds, every = np.array([0, 12]), np.ones(1, bool)
    moments = Moments.of(x, y, np.ones(12), bounds)
    found = fit_independent(moments, every, x, y, bounds[:-1], bounds[1:], (0.1, 1000.0))
    assert found.curvature[0] == pytest.approx(turn / radius, rel=1e-6)
    assert_allclose(np.ravel(found.centre), (40.0, -7.0), atol=1e-6 * max(radius, 1))
    # the way from the first position to the last one is forward
    along = found.along(x, y, np.zeros(12, int))
    assert (np.diff(along) > 0).all()
    assert_allclose(found.signed_distance(x, y, np.zeros(12, int)), 0, atol=1e-7)
    # a radius out of its limits is none
    assert not fit_independent(
        moments, every, x, y, bounds[:-1], bounds[1:], (radius * 2, radius * 3)
    ).is_arc[0]


def test_elements_are_put_together_and_taken():
    one, other = some_curve(1), some_curve(2)
    both = Primitives.concatenate([one, other])
    assert len(both) == 12
    for name in ("x", "y", "ux", "uy", "curvature"):
        assert_array_equal(getattr(both.take(np.arange(6, 12)), name), getattr(other, name))
        mixed = Primitives.where(np.arange(6) < 2, one, other)
        assert_array_equal(getattr(mixed, name)[:2], getattr(one, name)[:2])
        assert_array_equal(getattr(mixed, name)[2:], getattr(other, name)[2:])
