"""Segments of paths, and the stations on them."""

import numpy as np
import pytest
from lineshapes import lines_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.path_stations import shape_of, stations_of

RING = [(0.0, 0.0), (20.0, 0.0), (20.0, 15.0), (0.0, 15.0), (0.0, 0.0)]
BENT = [(0.0, 0.0), (10.0, 0.0), (20.0, 1.0), (20.0, 11.0)]


def test_corners_are_told_from_bends_and_ends():
    lines = lines_of(BENT, RING)
    shape = shape_of(lines, np.array([False, True]))
    assert shape.corner.tolist() == [False, False, True, False, *[True] * 5]
    assert shape.before[0] == -1 and shape.after[3] == -1  # an open path ends
    # the first and the last vertex of a ring are one
    assert shape.before[4] == shape.before[8] and shape.after[4] == shape.after[8]
    assert_allclose(np.hypot(shape.ux, shape.uy), 1.0)


@pytest.mark.parametrize("clear", [0.5, 2.0])
def test_stations_stand_for_the_whole_length_and_keep_clear_of_corners(clear):
    lines = lines_of(BENT, RING)
    found = stations_of(lines, shape_of(lines, np.array([False, True])), clear)
    rays = found.rays
    assert_allclose(np.bincount(rays.part, rays.weight), lines.part_length())
    for part, corners in enumerate(([(20.0, 1.0)], RING)):
        x, y = rays.x[rays.part == part], rays.y[rays.part == part]
        for corner in corners:
            assert np.hypot(x - corner[0], y - corner[1]).min() >= clear - 1e-9
    # the vertex that is no corner is a station, along the mean of its two directions
    at = int(np.argmin(np.hypot(rays.x - 10.0, rays.y)))
    assert rays.weight[at] == 0 and rays.x[at] == 10.0
    turn = np.arctan2(1.0, 10.0) / 2
    assert np.arctan2(rays.along_y[at], rays.along_x[at]) == pytest.approx(turn)


def test_stations_follow_each_other():
    lines = lines_of(BENT, RING)
    shape = shape_of(lines, np.array([False, True]))
    found = stations_of(lines, shape, 1.0)
    assert (np.diff(found.rays.chainage)[np.diff(found.rays.part) == 0] > 0).all()
    first = shape.vertex[found.segment]
    assert_allclose(found.rays.x, lines.x[first] + found.local * shape.ux[found.segment])
    inside = found.rays.weight > 0
    runs = [np.flatnonzero(inside & (found.segment == k)) for k in range(len(shape.vertex))]
    assert_array_equal(found.first, [rows[0] for rows in runs])
    assert_array_equal(found.last, [rows[-1] for rows in runs])
