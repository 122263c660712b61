"""Vertices along the chain of a path, and ends that are moved to meet others."""

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from lineshapes import arc, lines_of
from mergedwalks import level
from numpy.testing import assert_allclose

from curbwright.shared.lines.merge_paths import MergePath
from curbwright.shared.lines.path_tracing import trace_path, with_ends_moved
from curbwright.shared.tuning import PASSES

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


def test_the_step_where_a_ring_of_two_pieces_closes_is_spread():
    upper, lower = arc(6.0, 0.0, np.pi, 60), arc(6.0, np.pi, 2 * np.pi, 60)
    lower[:, 0] += 0.05 * np.linspace(0, 1, len(lower))  # ends 5 cm beyond the start
    lines = lines_of(*(np.column_stack([one, np.full(len(one), 2.0)]) for one in (upper, lower)))
    ends = lines.part_length().tolist()
    path = MergePath([(0, 0.0, ends[0]), (1, 0.0, ends[1])], True, [-1, -1])
    line = trace_path(lines, np.zeros(2, bool), path)
    assert line[0].tolist() == line[-1].tolist()
    away = shapely.distance(shapely.Point(line[-2, :2]), shapely.LineString(lower))
    assert 0.005 < away < 0.05  # on the way from the one to the other
