"""Lines that are gone: retired if they were visited and nobody objects."""

import numpy as np
import pytest
from lineshapes import dense, layer
from updates import FRONT, MOVED, names, plan

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import UpdateSettings, plan_update
from curbwright.shared.lines.update_decisions import (
    ACCEPT,
    HOLD,
    REJECT,
)
from curbwright.shared.lines.visits import Survey


def test_a_line_that_is_gone_is_retired_though_its_end_followed():
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense(MOVED)))
    assert names(found) == ["replaced", "retired"]


@pytest.mark.parametrize(
    ("decision", "needed", "why"),
    [
        (REJECT, False, "a person rejected it"),
        (HOLD, False, "a person holds it back"),
        (0, True, "it waits for a decision"),
    ],
)
def test_nothing_is_retired_against_a_decision(decision, needed, why):
    existing, edges = layer(FRONT, [[0, 50], [60, 50]]), layer(dense(FRONT))
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05))
    settings = UpdateSettings(needs_decision=needed)
    found = plan_update(compared, settings, line_decision=np.array([0, decision]))
    assert names(found) == ["unchanged", "unchanged"]
    assert [(held.existing, held.edge, held.why) for held in found.held] == [(1, -1, why)]
    accepted = plan_update(compared, settings, line_decision=np.array([0, ACCEPT]))
    assert names(accepted) == ["unchanged", "retired"] and not accepted.held


def test_a_line_that_was_visited_in_part_is_not_retired_by_itself():
    def beginning(x, y):
        return x <= 30

    existing, edges = layer(FRONT, [[0, 8], [60, 8]]), layer(dense(FRONT))
    survey = Survey(20.0, inside=beginning)
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05), survey=survey)
    found = plan_update(compared, UpdateSettings())
    assert names(found) == ["unchanged", "unchanged"]
    (held,) = found.held
    assert (held.existing, held.edge) == (1, -1) and "% of it was visited" in held.why
    seen = compared.existing_statistics.visited_share[1]
    assert 0.4 < seen < 0.6 and f"{100 * seen:.0f} %" in held.why
