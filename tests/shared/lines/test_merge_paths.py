"""Paths along which walks of one edge are averaged: which walk leads, where another one goes on,
and what closes to a ring."""

import numpy as np
import pytest
import shapely
from lineshapes import arc
from mergedwalks import at, level, merge, shape, states
from numpy.testing import assert_allclose, assert_array_equal


def test_one_long_walk_beside_short_ones():
    short = [level(0.006, (3.0 + 12 * k, 12.0 + 12 * k)) for k in range(3)]
    result = merge(level(0.0), *short, tolerance=1e-5)
    assert states(result) == ["merged"] and result.edges.passes.tolist() == [4]
    y, _ = at(result.edges, 0, np.array([1.0, 7.5, 13.5, 19.5, 38.0]))
    assert_allclose(y, [0.0, 0.003, 0.0, 0.003, 0.0], atol=2e-3)


def test_rings_walked_from_different_places():
    def ring(start, turn, shift):
        line = arc(5.0 + shift, start, start + turn * 2 * np.pi, 60)
        line[-1] = line[0]
        return line

    result = merge(ring(0.0, 1, 0.0), ring(2.0, -1, 0.01), arc(5.005, 1.0, 1.0 + 5.5, 50))
    assert states(result) == ["merged"] and result.edges.closed[0] and result.edges.passes[0] == 3
    line = shape(result.edges, 0)
    assert_array_equal(line[0], line[-1])
    # chords of sixty pieces lie up to 7 mm inside
    assert_allclose(np.hypot(*line[:, :2].T), 5.005, atol=8e-3)
    closed = shapely.Polygon(line[:, :2])
    assert closed.is_valid and closed.area == pytest.approx(np.pi * 5.005**2, rel=3e-3)


def test_half_rings_that_overlap_make_a_ring():
    result = merge(arc(6.0, 0.0, 4.0, 60), arc(6.01, 3.0, 7.3, 60))
    assert states(result) == ["merged"] and result.edges.closed[0]
    assert result.edges.length[0] == pytest.approx(2 * np.pi * 6.005, rel=3e-3)
