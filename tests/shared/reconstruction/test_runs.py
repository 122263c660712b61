"""Runs of positions: taken, cut, put together."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.standing import Positions
from curbwright.shared.reconstruction.runs import Runs, last_kept


def runs_of(*sizes, closed=(), bridged=(), turned=()):
    """Runs whose positions are numbered through in x, one epoch each."""
    m, count = sum(sizes), len(sizes)
    place = np.arange(float(m))
    positions = Positions(
        **{
            **{name: place.copy() for name in ("x", "y", "z", "variance", "variance_up")},
            **{name: place.copy() for name in ("started", "ended", "height_llr")},
            "rows": np.arange(m),
            "offsets": np.arange(m + 1),
            "capture": np.zeros(m, int),
        }
    )
    return Runs(
        positions=positions,
        variance=place.copy(),
        doubtful=np.zeros(len(positions), bool),
        bridged=np.isin(np.arange(m), bridged),
        offsets=np.append(0, np.cumsum(sizes)).astype(int),
        closed=np.isin(np.arange(count), closed),
        turned=np.isin(np.arange(count), turned),
        lost=np.zeros(count, bool),
    )


def mask(size, *places):
    return np.isin(np.arange(size), places)


def pieces(runs):
    return [part.tolist() for part in np.split(runs.positions.x.astype(int), runs.offsets[1:-1])]


def test_take_and_pick():
    runs = runs_of(3, 2, 4, turned=[2])
    taken = runs.take(~mask(9, 1, 3, 4, 8), mask(3, 0, 2))
    assert pieces(taken) == [[0, 2], [5, 6, 7]]
    assert_array_equal(taken.turned, [False, True])
    assert_array_equal(taken.variance, taken.positions.x)
    picked = runs.pick(np.array([2, 0]))
    assert pieces(picked) == [[5, 6, 7, 8], [0, 1, 2]]
    assert_array_equal(picked.turned, [True, False])


def test_concatenated_parts_are_the_whole():
    runs = runs_of(3, 2, 4, closed=[1])
    joined = Runs.concatenate([runs.pick(np.array([0])), runs.pick(np.array([1, 2]))])
    assert pieces(joined) == pieces(runs)
    assert_array_equal(joined.closed, runs.closed)


def test_a_run_breaks_after_positions():
    cut = runs_of(5, 3, turned=[0]).cut(mask(8, 1, 3))
    assert pieces(cut) == [[0, 1], [2, 3], [4], [5, 6, 7]]
    assert_array_equal(cut.turned, [False, False, True, False])  # the walk turned at the end
    assert_array_equal(cut.lost, [True, True, False, False])


@pytest.mark.parametrize(
    ("after", "expected"),
    [([1], [[2, 3, 4, 0, 1]]), ([4], [[0, 1, 2, 3, 4]]), ([1, 3], [[2, 3], [4, 0, 1]])],
)
def test_a_ring_starts_where_it_was_broken_first(after, expected):
    cut = runs_of(5, 3, closed=[0]).cut(mask(8, *after))
    assert pieces(cut) == [*expected, [5, 6, 7]]
    assert not cut.closed.any()


def test_a_ring_that_is_not_broken_stays_one():
    cut = runs_of(5, 3, closed=[0, 1]).cut(mask(8, 1))
    assert_array_equal(cut.closed, [False, True])


def test_what_was_bridged_stays_so_when_its_position_goes():
    taken = runs_of(4, 3, bridged=[2]).take(~mask(7, 2), np.ones(2, bool))
    assert_array_equal(taken.bridged, [False, True, False, False, False, False])


@pytest.mark.parametrize("closed", [(), (0,)])
def test_flags_move_to_the_last_kept_position(closed):
    # the flag of the first position has nothing before it, but once round
    runs, keep = runs_of(3, 2, closed=closed), ~mask(5, 0, 4)
    flags = last_kept(mask(5, 0, 4), keep, runs.offsets, runs.closed)
    assert_array_equal(flags[keep], [False, bool(closed), True])
    assert not flags[~keep].any()
