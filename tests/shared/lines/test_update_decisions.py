"""What a person decides about edges and existing lines is kept to."""

import numpy as np
import pytest
from lineshapes import dense, layer
from numpy.testing import assert_array_equal
from updates import FRONT, MOVED, names

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import UpdateSettings, plan_update
from curbwright.shared.lines.update_decisions import (
    ACCEPT,
    DECISIONS,
    HOLD,
    NONE,
    REJECT,
    UpdateDecisions,
    decisions_of,
)


def test_decisions_are_kept_to():
    existing, edges = (
        layer(FRONT, [[0, 50], [60, 50]]),
        layer(dense(MOVED), dense([[0, 50.6], [60, 50.6]])),
    )
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05))
    decisions = np.array([ACCEPT, HOLD])
    found = plan_update(compared, UpdateSettings(), edge_decision=decisions)
    assert names(found) == ["replaced", "unchanged"]
    assert [(held.existing, held.edge) for held in found.held] == [(1, 1)]
    waiting = plan_update(compared, UpdateSettings(needs_decision=True))
    assert names(waiting) == ["unchanged", "unchanged"] and len(waiting.held) == 2
    one = plan_update(compared, UpdateSettings(needs_decision=True), line_decision=decisions)
    assert names(one) == ["replaced", "unchanged"]


def test_what_goes_on_at_both_ends_waits_for_the_same_decision():
    compared = compare(layer(dense([[-30, 0], [90, 0]])), layer(FRONT), ComparisonSettings())
    assert len(plan_update(compared).added) == 2
    found = plan_update(compared, UpdateSettings(), edge_decision=np.array([HOLD]))
    assert not found.added and [held.edge for held in found.held] == [0]


def test_a_new_edge_waits_for_its_decision():
    compared = compare(
        layer(dense(FRONT), dense([[0, -40], [60, -40]])), layer(FRONT), ComparisonSettings()
    )
    found = plan_update(compared, UpdateSettings(), edge_decision=np.array([0, REJECT]))
    assert not found.added and not found.adopted[1]
    assert [(held.existing, held.edge) for held in found.held] == [(-1, 1)]


@pytest.mark.parametrize("needed", [False, True])
def test_what_was_accepted_may_change_and_what_nobody_decided_unless_it_must_be(needed):
    assert [DECISIONS[code] for code in (NONE, ACCEPT, HOLD, REJECT)] == [*DECISIONS]
    none = decisions_of(None, 2)
    decisions = UpdateDecisions(edge=none, line=none, needed=needed)
    assert_array_equal(decisions.allow(none), [not needed] * 2)
    assert_array_equal(decisions.allow(np.array([ACCEPT, HOLD, REJECT])), [True, False, False])
