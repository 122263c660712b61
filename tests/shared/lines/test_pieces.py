"""Lines cut into pieces: laps, copies, and stretches between two chainages."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lineshapes import arc, lines_of
from mergedwalks import at, level, merge, states
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.merge_results import PASS_STATES
from curbwright.shared.lines.pieces import extract


def test_two_laps_in_one_go():
    result = merge(arc(6.0, 0.3, 0.3 + 4 * np.pi, 160))
    assert states(result) == ["merged"] and result.edges.passes[0] == 2
    assert result.edges.length[0] == pytest.approx(2 * np.pi * 6.0, rel=5e-3)
    assert set(result.passes.part) == {0} and len(result.passes) == 2


def test_copies_are_no_further_walks():
    result = merge(level(0.0), level(0.0)[::-1], level(0.01))
    assert result.edges.passes.tolist() == [2]
    assert sorted(PASS_STATES[code] for code in result.passes.state) == ["copy", "merged", "merged"]
    assert at(result.edges, 0, 20.0)[0] == pytest.approx(0.005)


@given(st.integers(0, 400), st.integers(0, 400))
def test_a_stretch_of_a_line_has_its_ends_and_length(start, stop):
    start, stop = start / 10, stop / 10
    lines = lines_of(level(0.0, step=5.0))
    piece = extract(lines, 0, start, stop, False)
    assert piece[0, 0] == pytest.approx(start, abs=1e-8)
    assert piece[-1, 0] == pytest.approx(stop, abs=1e-8)
    assert np.abs(np.diff(piece[:, 0])).sum() == pytest.approx(abs(stop - start), abs=1e-8)
    assert_array_equal(extract(lines, 0, stop, start, False), piece[::-1])


def test_a_stretch_of_a_ring_goes_on_past_the_seam():
    lines = lines_of(np.array([(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)], float))
    piece = extract(lines, 0, 35.0, 45.0, True)
    assert_allclose(piece[:, :2], [(0, 5), (0, 0), (5, 0)], atol=1e-9)
    assert_allclose(extract(lines, 0, -5.0, 5.0, True)[:, :2], piece[:, :2], atol=1e-9)
