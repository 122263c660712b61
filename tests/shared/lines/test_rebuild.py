"""A line drawn anew from pieces of edges, of the old line, and transitions."""

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.lines import chainages, place_at
from curbwright.shared.lines.rebuild import Piece, rebuild, with_vertex
from curbwright.shared.tuning import UPDATE

STAY = np.zeros(3)


def line(*xy, z=np.nan):
    return np.array([[x, y, z] for x, y in xy], float)


OLD = line((0, 0), (40, 0), (100, 0))


def test_nothing_moves_nothing_changes():
    assert_array_equal(rebuild(OLD, [], STAY, STAY, 2.0), OLD)


def test_chainages_and_places():
    bent = line((0, 0), (3, 4), (3, 10))
    assert_allclose(chainages(bent), [0, 5, 11])
    assert_allclose(place_at(bent, np.array([-1.0, 8.0, 99.0]))[:, :2], [[0, 0], [3, 7], [3, 10]])


def test_a_piece_lies_between_transitions():
    edge = line((30, 1), (50, 1.2), (70, 1))
    along = chainages(edge)[-1]
    new = rebuild(OLD, [Piece(30, 70, edge, 0.0, along)], STAY, STAY, 4.0)
    assert_allclose(new[:, :2], [[0, 0], [26, 0], [30, 1], [50, 1.2], [70, 1], [74, 0], [100, 0]])


def test_an_edge_is_turned_round():
    edge = line((70, 1), (50, 1.2), (30, 1))
    new = rebuild(OLD, [Piece(30, 70, edge, chainages(edge)[-1], 0.0)], STAY, STAY, 4.0)
    assert_allclose(new[2:5, :2], [[30, 1], [50, 1.2], [70, 1]])


def test_a_piece_over_the_whole_line_leaves_nothing_of_it():
    edge = line((0, 1), (100, 1))
    move = np.array([0, 1, 0.0])
    new = rebuild(OLD, [Piece(0, 100, edge, 0.0, 100.0)], move, move, 2.0)
    assert_allclose(new[:, :2], [[0, 1], [100, 1]])


def test_without_a_transition_the_step_stands_at_the_rims():
    edge = line((30, 1), (70, 1))
    old, move = line((0, 0), (10, 0), (100, 0)), np.array([0, 0.5, 0])
    with np.errstate(all="raise"):
        new = rebuild(old, [Piece(30, 70, edge, 0.0, 40.0)], move, STAY, 0.0)
    assert_allclose(new[:, :2], [[0, 0.5], [10, 0], [30, 1], [70, 1], [100, 0]])


def test_an_end_that_moves_takes_the_line_along_over_the_transition():
    new = rebuild(OLD, [], np.array([0, 0.5, 0]), STAY, 10.0)
    assert_allclose(new[:, :2], [[0, 0.5], [10, 0], [40, 0], [100, 0]])


def test_transitions_that_would_overlap_are_one():
    short = line((0, 0), (2, 0), (4, 0))
    up, down = np.array([0, 1, 0.0]), np.array([0, -1, 0.0])
    assert_allclose(rebuild(short, [], up, down, 10.0)[:, 1], [1, 0, -1], atol=1e-12)


@pytest.mark.parametrize(("old_z", "edge_z", "z"), [(5, 7, 7), (5, np.nan, 5), (np.nan, 7, np.nan)])
def test_heights_of_the_layer_that_has_them(old_z, edge_z, z):
    edge = line((30, 1), (70, 1), z=edge_z)
    old = line((0, 0), (100, 0), z=old_z)
    new = rebuild(old, [Piece(30, 70, edge, 0.0, 40.0)], STAY, STAY, 4.0)
    on_edge = new[np.isclose(new[:, 1], 1)]
    assert len(on_edge) == 2
    assert_array_equal(on_edge[:, 2], [z, z])


def test_a_vertex_more_where_another_line_ends():
    sloping = np.array([[0, 0, 1], [10, 0, 2]], float)
    grown = with_vertex(sloping, np.array([4.0, 0.0]))
    assert_allclose(grown, [[0, 0, 1], [4, 0, 1.4], [10, 0, 2]])
    assert with_vertex(grown, np.array([4.0, 0.0])) is grown
    assert shapely.LineString(grown[:, :2]).length == 10


def test_no_vertex_is_written_twice_and_the_end_stays():
    """The piece ends a hair before the end of the line, where nothing of the old line is left."""
    edge = line((0, 0.5), (100, 0.5))
    moved = np.array([0.0, 0.5, 0.0])
    new = rebuild(OLD, [Piece(0.0, 100.0 - 1e-9, edge, 0.0, 100.0 - 1e-9)], moved, moved, 2.0)
    assert_array_equal(new[-1, :2], [100.0, 0.5])
    assert (np.hypot(*np.diff(new[:, :2], axis=0).T) > 1e-4).all()


@pytest.mark.parametrize("aside", [0.02, 0.1, 0.15])
@pytest.mark.parametrize("gap", [0.0, 0.05, 3.0])
def test_two_edges_that_do_not_meet_leave_no_step(aside, gap):
    old = line((0, 0), (40, 0))
    first, second = line((0, 0.5), (20, 0.5)), line((20 + gap, 0.5 + aside), (40, 0.5 + aside))
    pieces = [
        Piece(0.0, 20.0, first, 0.0, 20.0),
        Piece(20.0 + gap, 40.0, second, 0.0, 20.0 - gap),
    ]
    moves = np.array([0, 0.5, 0.0]), np.array([0, 0.5 + aside, 0.0])
    new = rebuild(old, pieces, *moves, blend=2.0)
    step = np.diff(new[:, :2], axis=0)
    assert (step[:, 0] > 0).all()
    assert np.abs(step[:, 1] / step[:, 0]).max() < 1.01 * UPDATE.steepness
    assert_allclose(new[[0, -1], 1], [0.5, 0.5 + aside])


def test_an_end_that_lies_aside_of_the_edge_is_led_there_over_a_transition():
    old, edge = line((0, 0), (40, 0)), line((0, 0.5), (40, 0.5))
    new = rebuild(old, [Piece(0.0, 40.0, edge, 0.0, 40.0)], np.array([0, 0.6, 0.0]),
                  np.array([0, 0.5, 0.0]), blend=2.0)  # fmt: skip
    assert_allclose(new[0, :2], [0, 0.6])
    assert np.abs(np.interp([1.1, 20, 39], new[:, 0], new[:, 1]) - 0.5).max() < 1e-9


def test_two_pieces_give_way_by_half_of_the_transition_each():
    left, right = line((20, 0.3), (50, 0.3)), line((50, -0.1), (80, -0.1))
    pieces = [Piece(20, 50, left, 0.0, 30.0), Piece(50, 80, right, 0.0, 30.0)]
    new = rebuild(OLD, pieces, STAY, STAY, 10.0)
    room = 0.4 / UPDATE.steepness
    for rim in ([50 - room / 2, 0.3], [50 + room / 2, -0.1]):
        assert np.hypot(*(new[:, :2] - rim).T).min() < 1e-6
