"""Chains as they are handed on: their curves, parts of them, and free forms put together."""

import dataclasses

import numpy as np
import pytest
from fittedruns import OPEN, runs
from handmade import arc, chain, corner, tangent
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.fit import fit_chains
from curbwright.shared.alignment.fitted_chains import Chains, merge_splines
from curbwright.shared.arrays.ragged import group_index


def test_take_leaves_the_curves_as_they_are():
    x, y, variance, offsets = runs([OPEN["block"][0], OPEN["bay"][0]])
    chains = fit_chains(x, y, variance, offsets)
    keep = np.random.default_rng(0).random(len(x)) < 0.7
    part = chains.take(keep)
    for name in ("x", "y", "radius", "start", "end", "length", "offsets"):
        assert_array_equal(getattr(part, name), getattr(chains, name))
    assert_array_equal(part.chainage, chains.chainage[keep])
    assert_array_equal(part.residual, chains.residual[keep])
    assert_array_equal(group_index(part.bounds), group_index(chains.bounds)[keep])


def test_runs_can_be_taken_one_by_one():
    rng = np.random.default_rng(8)
    x = np.tile(np.arange(20.0), 3)
    y = np.concatenate(
        [rng.normal(0, 0.01, 20), 50 + rng.normal(0, 0.01, 20), 90 + 0.01 * np.arange(20.0) ** 2]
    )
    offsets = np.array([0, 20, 40, 60])
    whole = fit_chains(x, y, np.full(60, 1e-4), offsets)
    assert whole.confirmed().all()
    some = whole.take_runs(np.array([2, 0]))
    alone = fit_chains(
        x[np.r_[40:60, 0:20]], y[np.r_[40:60, 0:20]], np.full(40, 1e-4), np.array([0, 20, 40])
    )
    for name in ("offsets", "bounds", "turn", "smooth"):
        np.testing.assert_array_equal(getattr(some, name), getattr(alone, name), name)
    for name in ("start", "end", "length", "chainage", "residual", "sigma"):
        assert_allclose(getattr(some, name), getattr(alone, name), rtol=0, atol=1e-9)


BLOCK = [tangent(20), arc(5, 90), tangent(12), corner(-60), tangent(9)]


def test_elements_hold_together_by_their_own_curves():
    chains = chain(BLOCK, {"pieces": [tangent(5), arc(30, -40)], "bearing": 200})
    element = np.arange(len(chains))
    places, ahead = chains.at(chains.length, element)
    assert_allclose(places, chains.end, atol=1e-9)
    assert_allclose(chains.at(np.zeros(len(chains)), element)[0], chains.start, atol=1e-9)
    assert_allclose(np.hypot(*ahead.T), 1, atol=1e-12)
    assert_allclose(np.abs(chains.curvature[chains.turn != 0]), [1 / 5, 1 / 30])


def test_runs_go_apart_and_together_again():
    chains = chain(BLOCK, [tangent(3)], {"pieces": [arc(4, 360)], "closed": True})
    parts = [chains.take_runs(np.array([run])) for run in range(3)]
    again = Chains.concatenate(parts)
    for column in dataclasses.fields(Chains):
        assert_array_equal(getattr(again, column.name), getattr(chains, column.name), column.name)
    assert chains.take_runs(np.array([2, 0])).closed.tolist() == [True, False]
    assert not len(Chains.without_elements(np.zeros(2, bool)))


def test_a_free_form_becomes_one_element_along_its_feet():
    chains = chain([tangent(20), arc(5, 60), arc(8, -40), tangent(12)])
    owner = group_index(chains.bounds)
    before = np.concatenate([[0.0], np.cumsum(chains.length)])[owner]
    feet, _ = chains.at(chains.chainage - before, owner)
    free = np.array([False, True, True, False])
    chains = dataclasses.replace(chains, feet=feet, spline=free)
    made = merge_splines(chains)
    assert len(made) == 3 and made.spline.tolist() == [False, True, False]
    assert_array_equal(made.start[1], chains.start[1])
    assert_array_equal(made.end[1], chains.end[2])
    assert not made.smooth[:2].any() and made.turn[1] == 0
    # from foot to foot: a little less than along the arcs
    arcs = chains.length[1:3].sum()
    assert 0.97 * arcs < made.length[1] < arcs
    assert (np.diff(made.chainage) > 0).all()
    plain = chain(BLOCK)
    assert merge_splines(plain) is plain


@pytest.mark.parametrize(("positions", "confirmed"), [(1, False), (3, True)])
def test_few_positions_that_agree_on_nothing_confirm_nothing(positions, confirmed):
    chains = chain([tangent(5), corner(80), tangent(5)], positions=positions)
    assert chains.confirmed().tolist() == [confirmed]
