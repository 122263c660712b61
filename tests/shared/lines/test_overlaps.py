"""Where walks lie on each other, and which of them are walks of one edge."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mergedwalks import at, level, merge, reasons, states
from numpy.testing import assert_allclose

from curbwright.shared.lines.overlaps import different, fill_gaps, runs_of


def test_top_and_foot_of_a_curb_are_told_apart_by_height():
    top, foot = [level(y, z=3.12) for y in (0.0, 0.004)], [level(y, z=3.0) for y in (0.018, 0.024)]
    result = merge(*top, *foot)
    assert states(result) == ["merged"] * 2 and result.edges.passes.tolist() == [2, 2]
    assert sorted(np.round(at(result.edges, k, 20.0)[1], 3) for k in (0, 1)) == [3.0, 3.12]
    # each walk of one beside the other edge
    assert reasons(result) == ["other_edge"] * 2 and sorted(result.disagreements.part.tolist()) in (
        [2, 3],
        [0, 1],
    )
    assert_allclose(np.abs(result.disagreements.up_mean), 0.12, atol=1e-6)
    flat = merge(*(one[:, :2] for one in (*top, *foot)))  # without heights nothing tells them apart
    assert states(flat) == ["merged"] and flat.edges.passes.tolist() == [4]
    # but for what was written down
    groups = merge(*(one[:, :2] for one in (*top, *foot)), group=[0, 0, 1, 1])
    assert states(groups) == ["merged"] * 2 and not len(groups.disagreements)


def test_neighbours_beyond_reach_are_left_alone():
    result = merge(level(0.0), level(0.3))
    assert states(result) == ["single"] * 2 and not len(result.disagreements)


def test_crossing_and_touching_lines_are_no_walks_of_one_edge():
    result = merge(
        level(0.0), np.array([(10.0, -10.0, 3.0), (12.0, 10.0, 3.0)]), level(0.01, (39.0, 70.0))
    )
    assert states(result) == ["single"] * 3


def test_a_walk_shorter_than_what_must_be_shared_counts_where_most_of_it_is():
    short = level(0.003, (10.0, 11.2))
    assert states(merge(level(0.0), short, min_overlap=2.0)) == ["merged"]
    assert merge(level(0.0), short, min_overlap=2.0).edges.passes.tolist() == [2]


# By themselves


@given(st.lists(st.booleans(), min_size=1, max_size=30), st.booleans())
def test_runs_hold_every_flagged_station_once(flags, closed):
    flag, count = np.array(flags), len(flags)
    runs = runs_of(flag, np.arange(count) + 0.5, 1.0, float(count), closed)
    held = np.concatenate([np.arange(a, b + 1) % count for a, b, *_ in runs] or [[]])
    assert sorted(held) == np.flatnonzero(flag).tolist()
    for first, last, start, stop in runs:
        assert stop - start == pytest.approx(last - first + 1)
    # round a ring two runs do not meet at the seam
    if closed and flag[0] and flag[-1] and not flag.all():
        assert sum(last >= count for _, last, *_ in runs) == 1


def test_gaps_between_stations_are_filled_by_interpolation():
    group, station = np.array([0, 0, 0, 1]), np.array([4, 6, 20, 7])
    along = station * 0.5
    got, at_station, (value,), row = fill_gaps(group, station, along, 2.0, (10.0 * along,))
    assert got.tolist() == [0, 0, 0, 0, 1] and at_station.tolist() == [4, 5, 6, 20, 7]
    assert_allclose(value, [20, 25, 30, 100, 35])
    assert row.tolist() == [0, 0, 1, 2, 3]


def test_cells_differ_by_more_than_chance_and_the_least():
    rng = np.random.default_rng(3)
    cell, sigma = np.repeat(np.arange(50), 10), np.full(500, 0.01)
    difference = np.repeat(rng.normal(0, 0.005, 50), 10)
    difference[cell == 7] = 0.2
    called, mean, limit = different(cell, difference, sigma, 0.03, 0.95)
    assert np.flatnonzero(called).tolist() == [7]
    assert mean[7] == pytest.approx(0.2) and (limit >= 0.03).all()
    unknown = np.where(cell == 7, np.nan, difference)
    assert not different(cell, unknown, sigma, 0.03, 0.95)[0].any()
    assert not different(cell, difference, sigma, 0.3, 0.95)[0].any()
