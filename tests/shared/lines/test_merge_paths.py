"""Paths along which walks of one edge are averaged: which walk leads, where another one goes on,
and what closes to a ring."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from lineshapes import arc, lines_of
from mergedwalks import at, bump, level, merge, reasons, shape, states
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.merge_paths import MergePath, trace_path, with_ends_moved
from curbwright.shared.tuning import PASSES


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


@pytest.mark.parametrize("astray", [0, 1, 2])
@pytest.mark.parametrize("size", [0.09, 0.4])
def test_of_three_walks_the_two_that_agree_are_followed(astray, size):
    shapes = [level(0.0, (-1.0, 41.0)), level(0.004, (-0.5, 40.5)), level(0.002)]
    shapes[astray] = np.concatenate(
        [shapes[astray][:1], bump(size, shapes[astray][0, 1])[1:-1], shapes[astray][1:]]
    )
    result = merge(*shapes)
    assert states(result) == ["merged", "apart" if size < 0.15 else "rest"]
    assert (np.abs(at(result.edges, 0, np.linspace(0, 40, 200))[0]) < 0.02).all()
    # where it comes and goes, a detour beyond reach is within it
    assert set(reasons(result)) - {"plan"} == (set() if size < 0.15 else {"parted"})
    assert np.abs(result.disagreements.offset_max).max() == pytest.approx(size, abs=0.01)


# By themselves

vectors = st.tuples(*[st.floats(-0.3, 0.3)] * 3).map(np.array)


@given(vectors, vectors, st.floats(0.1, 60.0))
def test_ends_are_moved_and_the_middle_stays(start, end, reach):
    line = level(0.0, (0.0, 40.0), step=4.0)
    moved = with_ends_moved(line, reach, start=start, end=end)
    half = min(reach, 40.0)
    assert_allclose(moved[0] - line[0] - start, np.clip(1 - 40 / half, 0, 1) * end, atol=1e-9)
    assert_allclose(moved[-1] - line[-1] - end, np.clip(1 - 40 / half, 0, 1) * start, atol=1e-9)
    if reach < 18.0:
        rows = [tuple(row) for row in moved.tolist()]
        assert (20.0, 0.0, 3.0) in rows
    # no vertex goes farther than the two vectors together
    assert np.abs(moved[:, 1]).max() <= abs(start[1]) + abs(end[1]) + 1e-9


def test_a_vector_without_a_height_leaves_the_heights():
    moved = with_ends_moved(level(0.0), 5.0, start=np.array([0.0, 0.2, np.nan]))
    assert moved[0, 1] == pytest.approx(0.2) and (moved[:, 2] == 3.0).all()


def test_a_path_goes_from_piece_to_piece():
    lines = lines_of(level(0.0, (0.0, 20.0)), level(0.02, (15.0, 50.0))[::-1])
    path = MergePath([(0, 0.0, 18.0), (1, 32.0, 0.0)], False, [-1, -1])
    line = trace_path(lines, np.zeros(2, bool), path)
    assert line[0].tolist() == [0.0, 0.0, 3.0] and line[-1].tolist() == [50.0, 0.02, 3.0]
    assert (np.diff(line[:, 0]) > 0).all()
    # the step between them is spread over the bridge
    assert_allclose(np.interp(18.0 - PASSES.bridge, line[:, 0], line[:, 1]), 0.0, atol=1e-9)
    assert_allclose(np.interp(18.0, line[:, 0], line[:, 1]), 0.02, atol=1e-9)


def test_the_path_of_a_ring_ends_where_it_begins():
    ring = arc(6.0, 0.0, 2 * np.pi, 40)
    ring[-1] = ring[0]
    lines = lines_of(np.column_stack([ring, np.full(len(ring), 2.0)]))
    length = float(lines.part_length()[0])
    line = trace_path(lines, np.ones(1, bool), MergePath([(0, 5.0, 5.0 + length)], True, [-1, -1]))
    assert line[0].tolist() == line[-1].tolist()
    assert np.hypot(*np.diff(line[:, :2], axis=0).T).sum() == pytest.approx(length, rel=2e-3)
