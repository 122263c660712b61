"""Dropouts: bridged where the edge goes on as it was, open where nothing shows how."""

import numpy as np
import pytest
from epochwalks import check, moved, off_line, table_of, take
from numpy.testing import assert_array_equal

from curbwright.shared.reconstruction.reconstruct import (
    BREAK_NAMES,
    Settings,
    reconstruct,
)

NOISE = 0.006


def bay(flank, seed=0):
    """Epochs every metre along 20 m, a flank to the left, and 20 m on; which of them stand on the
    flank."""
    way = np.arange(0.0, 40.0 + flank, 1.0) + 0.3
    x = np.where(way < 20, way, np.where(way < 20 + flank, 20.0, way - flank))
    y = np.clip(way - 20, 0.0, flank)
    rng = np.random.default_rng(seed)
    return table_of(
        x + rng.normal(0, NOISE, len(x)), y + rng.normal(0, NOISE, len(x))
    ), np.flatnonzero((way > 20) & (way < 20 + flank))


def without(table, rows, fix=False):
    """The table without some rows, or with a lost solution there."""
    if fix:
        fixed = table.fixed.copy()
        fixed[rows] = False
        return moved(table, fixed=fixed)
    return take(table, np.setdiff1d(np.arange(len(table)), rows))


@pytest.mark.one_in(3)
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("fix", "reason"), [(False, "lost_epochs"), (True, "not_fixed")])
def test_a_side_of_the_two_epochs_beside_a_hole_is_no_side(fix, reason, seed):
    table, flank = bay(3.0, seed)
    assert len(flank) == 3
    lost = without(table, flank[1:2], fix)
    result = reconstruct(lost)
    check(lost, result, Settings())
    assert len(result.edges) == 2 and len(result.gaps) == 1
    assert (
        BREAK_NAMES[result.gaps.reason[0]]
        == BREAK_NAMES[result.edges.end_reason[0]]
        == BREAK_NAMES[result.edges.start_reason[1]]
        == reason
    )
    # what is drawn lies on what was seen
    seen = np.column_stack([table.x, table.y])[:20]
    first = result.edges.offsets[1]
    assert off_line(np.column_stack([result.edges.x, result.edges.y])[:first], seen).max() < 0.05


@pytest.mark.parametrize("seed", range(4))
def test_a_side_of_one_epoch_beside_a_hole_is_no_side_either(seed):
    table, flank = bay(3.0, seed)
    edges = reconstruct(without(table, flank[1:])).edges
    assert len(edges) == 2
    assert (np.minimum(np.abs(edges.y), np.abs(edges.y - 3.0)) < 0.05).all()  # nothing across


@pytest.mark.parametrize("seed", range(4))
def test_a_side_that_more_epochs_show_is_followed_across_the_hole(seed):
    table, flank = bay(5.0, seed)
    assert len(flank) == 5
    for gone in (flank[2:3], flank[1:2], flank[3:4]):
        assert len(reconstruct(without(table, gone)).edges) == 1


@pytest.mark.parametrize(
    "gone", [10, 19, 20], ids=["on a straight", "before a corner", "behind a corner"]
)
def test_dropouts_on_long_sides_and_where_these_meet_are_bridged(gone):
    x, y = np.r_[np.arange(20.0), np.full(20, 19.5)], np.r_[np.zeros(20), np.arange(20.0) + 0.5]
    rng = np.random.default_rng(gone)
    table = table_of(x + rng.normal(0, NOISE, 40), y + rng.normal(0, NOISE, 40))
    edges = reconstruct(without(table, [gone])).edges
    assert len(edges) == 1
    assert np.hypot(edges.x - 19.5, edges.y).min() < 0.03  # the corner


def test_a_ring_that_is_open_at_a_hole_is_no_ring():
    # a square island of 6 m with one short side cut off its corner, where an epoch is lost
    corners = np.array([(0, 0), (6, 0), (6, 4), (4, 6), (0, 6), (0, 0.0)])
    step = np.hypot(*np.diff(corners, axis=0).T)
    s = np.arange(0.4, step.sum(), 0.9)
    x, y = (np.interp(s, np.r_[0, np.cumsum(step)], axis) for axis in corners.T)
    rng = np.random.default_rng(3)
    table = table_of(x + rng.normal(0, NOISE, len(x)), y + rng.normal(0, NOISE, len(x)))
    whole = reconstruct(table).edges
    assert_array_equal(whole.closed, [True])
    side = np.flatnonzero((s > 10.05) & (s < 10 + np.hypot(2, 2)))
    edges = reconstruct(without(table, side[1:2])).edges
    assert len(side) == 3 and not edges.closed.any()
    start, end = (np.array([edges.x[k], edges.y[k]]) for k in (0, edges.offsets[1] - 1))
    assert 1.0 < np.hypot(*(start - end)) < 3.5  # the dropout alone is missing
    assert edges.length.sum() == pytest.approx(
        whole.length.sum() - np.hypot(*(start - end)), abs=0.5
    )
