"""Other elements for stretches of chains: where they may be proposed, what they save, and that they
are put in as compared."""

from dataclasses import astuple, replace

import numpy as np
import pytest
from handchains import ARC, CORNER, LINE, RETURN, Chain, kinds, proposed
from numpy.testing import assert_array_equal

from curbwright.shared import tuning
from curbwright.shared.alignment import moves
from curbwright.shared.alignment.proposals import (
    Compared,
    Conditions,
    Trial,
    best_of,
    compare,
    find_replacements,
    put_in,
    worth_trying,
)
from curbwright.shared.tuning import LOCAL_SEARCH


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
    alone = proposed(chain, move)
    found = proposed(chain.repeated(2), move)
    moved = [
        (first + 3, removed, tuple(s + len(chain.x) for s in start), letters)
        for first, removed, start, letters in alone
    ]
    assert sorted(found) == sorted(alone + moved)


def test_what_saves_is_put_in_as_it_was_compared():
    chain = Chain(LINE, [0, 8], "TT")  # one tangent would do
    proposals, dropped = worth_trying(chain.context(), moves.merge_into_tangent(chain.context()))
    assert len(proposals) == 1 and dropped.shape == (2, 0)
    compared = compare(chain.candidate, *chain.positions, proposals)
    found = find_replacements(chain.candidate, *chain.positions, proposals)
    assert found.number.tolist() == [0]
    made, _ = put_in(chain.candidate, found)
    assert kinds(made) == "T"
    saved = chain.cost(chain.candidate) - chain.cost(made)
    assert saved == pytest.approx(compared.saving[0], rel=1e-6)


def many_proposals(runs):
    """A chain with bounds at the wrong places, so many times, and all proposals for it."""
    shape = [*RETURN, ("corner", 60.0), *RETURN]
    chain = Chain(shape, [0, 12, 19, 28, 31, 43, 50], "TATTTAT").repeated(runs)
    trials = (trial for move in moves.MOVES for trial in move(chain.context()))
    proposals, _ = worth_trying(chain.context(), trials)
    return chain, proposals


@pytest.mark.parametrize("together", [1, 60])
def test_how_many_are_compared_at_once_changes_nothing(together):
    chain, proposals = many_proposals(3)
    assert len(proposals) > 20
    at_once = find_replacements(chain.candidate, *chain.positions, proposals)
    with tuning.override(LOCAL_SEARCH__together=together):
        in_turn = find_replacements(chain.candidate, *chain.positions, proposals)
    assert len(at_once.low) > 2
    for one, other in zip(astuple(at_once), astuple(in_turn)):
        assert_array_equal(one, other)


def test_what_gives_up_would_not_have_been_taken(monkeypatch):
    chain, proposals = many_proposals(1)
    none, free, left = np.zeros((2, 0), int), np.zeros(len(proposals)), []
    reassigned = Compared.reassigned

    def counted(compared):
        left.append(len(compared.low))
        return reassigned(compared)

    def judge(compared, _):
        return compared.saving

    def found(price):
        conditions = price if price is None else Conditions(none, price, judge)
        return find_replacements(chain.candidate, *chain.positions, proposals, conditions)

    monkeypatch.setattr(Compared, "reassigned", counted)
    taken = found(None), found(free)
    assert not len(found(free + 1e9).low)  # none can save what it would have to
    with tuning.override(LOCAL_SEARCH__behind=1e9):
        every = found(free)
    in_race, free_of_price, too_dear, all_of_them = left
    assert too_dear == 0 < in_race < free_of_price < all_of_them == len(proposals)
    assert len(every.low)
    for one in taken:
        assert_array_equal(one.number, every.number)
        assert_array_equal(one.start, every.start)


@pytest.mark.parametrize(("shape", "starts", "letters"), [(CORNER, [0, 11], "TT"), (ARC, [0], "A")])
def test_nothing_is_cheaper_than_what_is_right(shape, starts, letters):
    chain = Chain(shape, starts, letters)
    trials = [trial for move in moves.MOVES for trial in move(chain.context())]
    # without moments none is discarded before it is compared
    every = [replace(trial, groups=()) if isinstance(trial, Trial) else trial for trial in trials]
    proposals, _ = worth_trying(chain.context(), every)
    assert len(proposals)
    saving = compare(chain.candidate, *chain.positions, proposals).saving
    assert (saving < LOCAL_SEARCH.min_saving).all()


def test_of_proposals_that_overlap_the_best_is_taken():
    least = LOCAL_SEARCH.min_saving
    saving = least + np.array([3.0, 5.0, 4.0, 5.0, -1.0])
    low, high = np.array([0, 2, 4, 6, 9]), np.array([3, 5, 6, 8, 10])
    assert sorted(best_of(saving, low, high, 10)) == [1, 3]
    # of equals the first one
    assert best_of(saving[[1, 1]], low[[1, 1]], high[[1, 1]], 10).tolist() == [0]
    assert not len(best_of(saving - 10, low, high, 10))
