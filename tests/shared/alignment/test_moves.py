"""The moves of the local search, each alone: what it proposes for a chain made by hand, that it is
taken where it is cheaper, and that it leaves the right elements alone."""

import pytest
from handchains import ARC, CORNER, LINE, LINE_AND_ARC, RETURN, Chain, kinds, proposed

from curbwright.shared.alignment import moves
from curbwright.shared.tuning import LOCAL_SEARCH


def improved(chain, move, monkeypatch):
    """The chain after the local search with this move alone; it must be cheaper."""
    monkeypatch.setattr(moves, "MOVES", (move,))
    out = moves.improve(chain.candidate, *chain.positions)
    assert chain.cost(out) < chain.cost(chain.candidate) - LOCAL_SEARCH.min_saving
    return out


# --- each move -----------------------------------------------------------------------------------


def test_two_tangents_merge_into_one(monkeypatch):
    chain = Chain(LINE, [0, 9], "TT")
    assert proposed(chain, moves.merge_into_tangent) == [(0, 2, (0,), "T")]
    assert kinds(improved(chain, moves.merge_into_tangent, monkeypatch)) == "T"


def test_three_merge_where_no_two_of_them_would_say():
    chain = Chain(LINE, [0, 9, 11], "TTT")
    assert (0, 3, (0,), "T") in proposed(chain, moves.merge_into_tangent)
    assert (0, 3, (0,), "A") in proposed(chain, moves.merge_into_arc)


def test_two_arcs_merge_into_one(monkeypatch):
    chain = Chain(ARC, [0, 8], "AA")
    assert proposed(chain, moves.merge_into_arc) == [(0, 2, (0,), "A")]
    assert kinds(improved(chain, moves.merge_into_arc, monkeypatch)) == "A"


def test_too_few_positions_make_no_arc():
    chain = Chain([("line", 2.5)], [0, 2], "TT")
    assert len(chain.x) == 3
    assert proposed(chain, moves.merge_into_arc) == []
    assert proposed(chain, moves.merge_into_tangent) == [(0, 2, (0,), "T")]


def test_the_middle_one_of_three_is_shared(monkeypatch):
    chain = Chain(CORNER, [0, 9, 13], "TTT")
    assert proposed(chain, moves.share_middle) == [(0, 3, (0, 11), "TT")]
    out = improved(chain, moves.share_middle, monkeypatch)
    assert kinds(out) == "TT" and list(out.bounds) == [0, 11, len(chain.x)]


def test_a_long_middle_one_is_not_shared():
    limit = LOCAL_SEARCH.shared
    for size, count in ((limit, 1), (limit + 1, 0)):
        chain = Chain([("line", 30.0)], [0, 9, 9 + size], "TTT")
        assert len(proposed(chain, moves.share_middle)) == count


def test_an_arc_becomes_a_tangent(monkeypatch):
    chain = Chain([("line", 15.0), ("corner", 60.0), ("line", 14.0)], [0, 15], "TA", corners=[0])
    assert (1, 1, (15,), "T") in proposed(chain, moves.change_kind)
    out = improved(chain, moves.change_kind, monkeypatch)
    assert kinds(out) == "TT"


def test_a_short_tangent_between_two_becomes_an_arc(monkeypatch):
    chain = Chain(RETURN, [0, 12, 19], "TTT")
    assert proposed(chain, moves.change_kind) == [(1, 1, (12,), "A")]
    out = improved(chain, moves.change_kind, monkeypatch)
    assert kinds(out) == "TAT"
    assert 1 / out.primitives.curvature[1] == pytest.approx(5.0, abs=0.1)


def test_two_neighbours_become_tangent_and_arc(monkeypatch):
    chain = Chain(LINE_AND_ARC, [0, 20], "TT")
    found = proposed(chain, moves.change_kinds)
    # twenty positions that lie straight are no arc
    assert found == [(0, 2, (0, 20), "TA")]
    assert kinds(improved(chain, moves.change_kinds, monkeypatch)) == "TA"


def test_and_their_bound_is_shifted_towards_the_longer_one(monkeypatch):
    chain = Chain([("line", 20.0), ("arc", 6.0, 90.0)], [0, 23], "TT")
    starts = {start for *_, start, _ in proposed(chain, moves.change_kinds_and_bound)}
    assert starts == {(0, 23 - LOCAL_SEARCH.far_bound), (0, 22)}
    out = improved(chain, moves.change_kinds_and_bound, monkeypatch)
    assert kinds(out) == "TA" and abs(int(out.bounds[1]) - 20) <= 1


def test_an_arc_and_a_tangent_are_straightened(monkeypatch):
    chain = Chain(CORNER, [0, 7, 13], "TAT")
    reach = LOCAL_SEARCH.near_bound
    found = proposed(chain, moves.straighten)
    assert {letters for *_, letters in found} == {"TT"}
    assert {start[1] for first, _, start, _ in found if first == 0} == set(
        range(7 - reach, 7 + reach + 1)
    )
    chain = Chain(CORNER, [0, 10], "TA", corners=[0], seed=2)
    # a long arc has too many positions to be given up
    assert proposed(chain, moves.straighten) == []
    short = [("line", 15.5), ("corner", 70.0), ("line", 6.0)]
    chain = Chain(short, [0, 15], "TA", corners=[0], seed=1)
    out = improved(chain, moves.straighten, monkeypatch)
    assert kinds(out) == "TT" and abs(int(out.bounds[1]) - 16) <= 1


def test_a_corner_is_rounded(monkeypatch):
    shape = [("line", 12.0), ("arc", 2.0, 80.0), ("line", 12.0)]
    chain = Chain(shape, [0, 13], "TT")
    assert proposed(chain, moves.round_corner) == [
        (0, 2, (0, 13 - k, 13 + k), "TAT") for k in LOCAL_SEARCH.corner_arc
    ]
    out = improved(chain, moves.round_corner, monkeypatch)
    assert kinds(out) == "TAT"
    assert 1 / out.primitives.curvature[1] == pytest.approx(2.0, abs=0.5)


def test_a_joint_becomes_smooth(monkeypatch):
    chain = Chain(LINE_AND_ARC, [0, 20], "TA", corners=[0])
    assert proposed(chain, moves.flip_joint) == [(0, 2, (0, 20), "TA")]
    out = improved(chain, moves.flip_joint, monkeypatch)
    assert kinds(out) == "TA" and out.smooth[0]


def test_a_smooth_joint_becomes_a_corner(monkeypatch):
    shape = [("line", 20.0), ("corner", 50.0), ("arc", 6.0, 90.0)]
    chain = Chain(shape, [0, 20], "TA")
    assert chain.candidate.smooth[0]
    out = improved(chain, moves.flip_joint, monkeypatch)
    assert kinds(out) == "TA" and not out.smooth[0]


# --- all of them ---------------------------------------------------------------------------------


def test_there_are_nine_and_their_order_stays():
    # equals are decided by it
    assert [move.__name__ for move in moves.MOVES] == [
        "merge_into_tangent",
        "merge_into_arc",
        "share_middle",
        "change_kind",
        "change_kinds",
        "change_kinds_and_bound",
        "straighten",
        "round_corner",
        "flip_joint",
    ]


@pytest.mark.parametrize("move", moves.MOVES)
@pytest.mark.parametrize(
    ("shape", "starts", "letters"),
    [
        (LINE, [0], "T"),
        (CORNER, [0, 11], "TT"),
        (RETURN, [0, 12, 19], "TAT"),
        (LINE_AND_ARC, [0, 20], "TA"),
    ],
)
def test_right_elements_stay(move, shape, starts, letters, monkeypatch):
    chain = Chain(shape, starts, letters)
    monkeypatch.setattr(moves, "MOVES", (move,))
    out = moves.improve(chain.candidate, *chain.positions)
    assert kinds(out) == letters and list(out.bounds) == list(chain.candidate.bounds)


def test_rounds_are_limited(monkeypatch):
    shape = [("line", 10.0), ("corner", 70.0), ("line", 10.0)] * 3
    chain = Chain(shape, range(0, 60, 5), "T" * 12)
    monkeypatch.setattr(moves, "MOVES", (moves.merge_into_tangent,))
    few, more = (
        moves.improve(chain.candidate, *chain.positions, rounds=rounds) for rounds in (1, 3)
    )
    assert chain.cost(more) <= chain.cost(few) < chain.cost(chain.candidate)
    assert len(more) == 6
