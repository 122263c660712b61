"""Gaps between edges that follow each other."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.reconstruction.breaks import BREAK_NAMES
from curbwright.shared.reconstruction.gaps import find_gaps, places_in
from curbwright.shared.reconstruction.results import EdgeEnds


class Edges:
    """What is needed of edges: captures and times."""

    def __init__(self, capture, started, ended):
        self.capture, self.started, self.ended = map(np.asarray, (capture, started, ended))

    def __len__(self):
        return len(self.capture)


def ends_of(first_row, last_row, scale=1.0, turned=(), lost=()):
    count, place = len(first_row), np.arange(len(first_row))
    # each edge runs ten metres eastwards, four metres on from the one before
    start = np.column_stack([14.0 * place, 0.0 * place, 5.0 + place])
    return EdgeEnds(
        first_row=np.array(first_row),
        last_row=np.array(last_row),
        rims=np.stack([start, start + [10.0, 3.0, 0.0]], axis=1),
        turned=np.isin(place, turned),
        lost=np.isin(place, lost),
        scale=np.full(count, scale),
    )


def names(codes):
    return [BREAK_NAMES[code] for code in codes]


def test_a_gap_between_two_edges():
    edges = Edges([0, 0], [0.0, 20.0], [4.0, 24.0])
    reason = np.zeros(12, np.uint8)
    reason[[2, 5, 6]] = Reason.SPIKE, Reason.NOT_FIXED, Reason.NOT_FIXED
    gaps, columns = find_gaps(
        edges, ends_of([0, 7], [4, 11], scale=2.0), reason, np.arange(12), np.array([3.0])
    )
    assert (names(columns["start_reason"]), names(columns["end_reason"])) == (
        ["start", "not_fixed"],
        ["not_fixed", "end"],
    )
    assert_array_equal(columns["epochs_rejected"], [1, 0])
    assert len(gaps) == 1 and names(gaps.reason) == ["not_fixed"]
    assert_array_equal(gaps.x, [[10.0, 14.0]])
    assert_array_equal(gaps.y, [[3.0, 0.0]])
    assert_array_equal(gaps.z, [[5.0, 6.0]])
    assert_allclose(gaps.metres, 5.0 / 2.0)  # on the ground
    assert (gaps.seconds[0], gaps.after_edge[0], gaps.before_edge[0]) == (16.0, 0, 1)


@pytest.mark.parametrize(
    ("seconds", "turned", "lost", "name"),
    [
        (2.0, (), (), "jump"),
        (9.0, (), (), "paused"),
        (9.0, (), (0,), "lost_epochs"),
        (2.0, (0,), (0,), "turned_back"),
    ],
)
def test_without_rejected_epochs_pause_and_walk_decide(seconds, turned, lost, name):
    edges = Edges([0, 0], [0.0, 4.0 + seconds], [4.0, 20.0])
    ends = ends_of([0, 5], [4, 9], turned=turned, lost=lost)
    gaps, columns = find_gaps(edges, ends, np.zeros(10, np.uint8), np.arange(10), np.array([3.0]))
    assert names(gaps.reason) == names(columns["end_reason"][:1]) == [name]


def test_captures_that_overlap_in_time_have_no_gap():
    edges = Edges([0, 1, 2], [0.0, 3.0, 30.0], [4.0, 8.0, 34.0])
    ends = ends_of([0, 4, 8], [3, 7, 11])
    gaps, columns = find_gaps(edges, ends, np.zeros(12, np.uint8), np.arange(12), np.full(3, 3.0))
    assert names(columns["end_reason"]) == ["new_capture", "new_capture", "end"]
    assert names(columns["start_reason"]) == ["start", "new_capture", "new_capture"]
    assert_array_equal(gaps.after_edge, [1])
    assert_array_equal(gaps.seconds, [22.0])


def test_no_edges_and_one_edge():
    none = Edges(*(np.zeros(0, kind) for kind in (int, float, float)))
    ends = EdgeEnds(
        first_row=np.zeros(0, int),
        last_row=np.zeros(0, int),
        rims=np.zeros((0, 2, 3)),
        turned=np.zeros(0, bool),
        lost=np.zeros(0, bool),
        scale=np.zeros(0),
    )
    reason = np.full(3, Reason.NOT_FIXED, np.uint8)
    gaps, columns = find_gaps(none, ends, reason, np.arange(3), np.array([3.0]))
    assert len(gaps) == 0 and all(len(values) == 0 for values in columns.values())
    one = Edges([0], [0.0], [4.0])
    gaps, columns = find_gaps(one, ends_of([0], [2]), reason * 0, np.arange(3), np.array([3.0]))
    assert len(gaps) == 0
    assert names(columns["start_reason"]) == ["start"] and names(columns["end_reason"]) == ["end"]


@pytest.mark.parametrize("order", [[1, 4, 5, 9], [9, 1, 5, 4]])
def test_places_in_an_order(order):
    rows = np.array([[4, 9], [1, 5]])
    assert_array_equal(np.array(order)[places_in(np.array(order), rows)], rows)
