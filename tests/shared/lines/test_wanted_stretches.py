"""What is redrawn: what moved, or all that is matched; not what is held back."""

from lineshapes import dense, layer
from numpy.testing import assert_allclose
from updates import FRONT, MOVED, names, plan

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update_decisions import (
    UpdateDecisions,
    decisions_of,
)
from curbwright.shared.lines.update_layers import layers_of
from curbwright.shared.lines.wanted_stretches import find_wanted, hold_back


def test_what_agrees_is_redrawn_on_request():
    existing, edges = layer(FRONT), layer(dense([[0, 0.05], [60, 0.05]]))
    assert names(plan(existing, edges)) == ["unchanged"]
    found = plan(existing, edges, replace_all=True)
    assert names(found) == ["replaced"]
    assert_allclose(found.parts[0][0][:, 1], 0.05, atol=1e-9)


def nothing():
    pass


def test_lines_that_are_held_back_leave_the_others():
    existing = layer(FRONT, [[0, 50], [60, 50]])
    edges = layer(dense(MOVED), dense([[0, 50.6], [60, 50.6]]))
    layers = layers_of(compare(edges, existing, ComparisonSettings(existing_sigma=0.05)))
    free = UpdateDecisions(decisions_of(None, 2), decisions_of(None, 2), needed=False)
    wanted, held = find_wanted(layers, free, replace_all=False)
    assert set(wanted.part.tolist()) == {0, 1} and not held
    left, held = hold_back(layers, wanted, {0: "a reason"}, nothing)
    assert set(left.part.tolist()) == {1}
    assert [(one.existing, one.edge, one.why) for one in held] == [(0, 0, "a reason")]


def test_a_pair_that_waits_is_told_once_however_many_stretches_it_has():
    """The edge is torn open in the middle: one pair, two stretches."""
    edges = layer([dense([[0, 0.6], [25, 0.6]]), dense([[35, 0.6], [60, 0.6]])])
    layers = layers_of(compare(edges, layer(FRONT), ComparisonSettings(existing_sigma=0.05)))
    waiting = UpdateDecisions(decisions_of(None, 1), decisions_of(None, 1), needed=True)
    wanted, held = find_wanted(layers, waiting, replace_all=False)
    assert len(layers.stretches) == 2 and not len(wanted)
    assert [(one.existing, one.edge) for one in held] == [(0, 0)]
