"""The moves of the local search, each alone: what it proposes for a chain made by hand, that it is
taken where it is cheaper, and that it leaves the right elements alone."""

import numpy as np
import pytest
from epochwalks import along
from numpy.testing import assert_array_equal

from curbwright.shared.alignment import moves
from curbwright.shared.alignment.chain import (
    CandidateChains,
    reassign_and_adjust,
    total_cost,
)
from curbwright.shared.alignment.moments import Moments
from curbwright.shared.alignment.primitives import fit_independent
from curbwright.shared.alignment.proposals import Context, Proposals
from curbwright.shared.tuning import LOCAL_SEARCH

SIGMA = 0.01
RADII = 0.5, 400.0
LINE = [("line", 21.0)]
ARC = [("arc", 8.0, 120.0)]
CORNER = [("line", 10.5), ("corner", 70.0), ("line", 10.5)]
RETURN = [("line", 12.0), ("arc", 5.0, 80.0), ("line", 12.0)]
LINE_AND_ARC = [("line", 20.0), ("arc", 6.0, 60.0)]


class Chain:
    """One run with elements as given: `kinds`, a letter each (T tangent, A arc), from positions
    `starts` on; every joint of an arc smooth, but for those after elements `corners`."""

    def __init__(self, shape, starts, kinds, corners=(), seed=0):
        self.x, self.y = along(shape, SIGMA, seed, 1.0)
        self.weight = np.full(len(self.x), SIGMA**-2)
        bounds = np.array([*starts, len(self.x)])
        arc = np.array([kind == "A" for kind in kinds])
        smooth = arc | np.append(arc[1:], False)
        smooth[[*corners, -1]] = False
        moments = Moments.of(self.x, self.y, self.weight, bounds)
        # arcs through straight positions as well
        primitives = fit_independent(moments, arc, self.x, self.y, bounds, (0.5, 1e6))
        assert_array_equal(primitives.is_arc, arc)
        candidate = CandidateChains(
            bounds=bounds,
            offsets=np.array([0, len(arc)]),
            arc=arc,
            smooth=smooth,
            primitives=primitives,
            closed=np.array([False]),
            chi=np.zeros(len(arc)),
            radii=RADII,
        )
        candidate = reassign_and_adjust(candidate, *self.positions, times=1)
        self.candidate = candidate.with_moments(*self.positions)

    @property
    def positions(self):
        return self.x, self.y, self.weight

    def context(self, near=None):
        return Context(self.candidate, *self.positions, near)

    def cost(self, candidate):
        return total_cost(candidate, self.x, self.y)[0]


def kinds(candidate):
    return "".join(np.where(candidate.arc, "A", "T"))


def proposed(chain, move, near=None):
    """All that a move proposes: tuples of first element, elements removed, first positions of the
    new ones, and their kinds."""
    out = []
    for trial in move(chain.context(near)):
        if isinstance(trial, Proposals):
            ends = np.cumsum(trial.inserted)
            for first, removed, end, count in zip(trial.first, trial.removed, ends, trial.inserted):
                own = slice(end - count, end)
                letters = "".join(np.where(trial.arc[own], "A", "T"))
                out.append((first, removed, tuple(trial.start[own]), letters))
            continue
        arcs = [np.broadcast_to(one, trial.first.shape) for one in trial.arcs]
        for row, first in enumerate(trial.first):
            start = tuple(int(one[row]) for one in trial.start)
            letters = "".join("A" if one[row] else "T" for one in arcs)
            out.append((int(first), trial.removed, start, letters))
    return out


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


@pytest.mark.parametrize("move", moves.MOVES)
def test_nothing_is_proposed_away_from_what_is_near(move):
    chain = Chain([*RETURN, ("corner", 60.0), *RETURN], [0, 12, 19, 31, 43, 50], "TATTAT")
    near = np.zeros(6, bool)
    assert proposed(chain, move, near) == []
    near[5] = True
    every, some = proposed(chain, move), proposed(chain, move, near)
    assert set(some) <= set(every)
    assert all(first + removed > 5 for first, removed, *_ in some)


@pytest.mark.parametrize("move", moves.MOVES)
def test_a_move_knows_no_other_run(move):
    """Two runs one after the other: nothing is proposed across their end."""
    chain = Chain(RETURN, [0, 12, 19], "TAT")
    one, count = chain.candidate, len(chain.x)
    x, y = np.tile(chain.x, 2), np.tile(chain.y, 2)
    both = CandidateChains(
        bounds=np.append(one.bounds[:-1], one.bounds + count),
        offsets=np.array([0, 3, 6]),
        arc=np.tile(one.arc, 2),
        smooth=np.tile(one.smooth, 2),
        primitives=type(one.primitives).concatenate([one.primitives] * 2),
        closed=np.zeros(2, bool),
        chi=np.tile(one.chi, 2),
        radii=RADII,
    ).with_moments(x, y, np.tile(chain.weight, 2))
    twin = Chain(RETURN, [0, 12, 19], "TAT")
    alone = proposed(chain, move)
    twin.candidate, twin.x, twin.y, twin.weight = both, x, y, both.weight
    found = proposed(twin, move)
    moved = [
        (first + 3, removed, tuple(s + count for s in start), letters)
        for first, removed, start, letters in alone
    ]
    assert sorted(found) == sorted(alone + moved)


def test_rounds_are_limited(monkeypatch):
    shape = [("line", 10.0), ("corner", 70.0), ("line", 10.0)] * 3
    chain = Chain(shape, range(0, 60, 5), "T" * 12)
    monkeypatch.setattr(moves, "MOVES", (moves.merge_into_tangent,))
    few, more = (
        moves.improve(chain.candidate, *chain.positions, rounds=rounds) for rounds in (1, 3)
    )
    assert chain.cost(more) <= chain.cost(few) < chain.cost(chain.candidate)
    assert len(more) == 6
