"""What no merged edge shows is listed: detours and what is too short for an edge."""

import numpy as np
import pytest
from mergedwalks import bump, level, merge, reasons, shape, states

from curbwright.shared.lines.merge_results import PASS_STATES


@pytest.mark.parametrize("side", [1, -1])
def test_a_detour_beyond_reach_is_listed_next_to_the_edge_that_it_leaves(side):
    result = merge(level(0.0), level(0.002), bump(0.4 * side, 0.001))
    assert states(result) == ["merged", "rest"] and reasons(result) == ["parted"]
    listed = result.disagreements
    assert (listed.edge[0], listed.own[0], listed.part[0]) == (0, 1, 2)
    # + to the right of the edge, which lies at 0.001 there
    right = -side if shape(result.edges, 0)[0, 0] < 1 else side
    assert listed.offset_max[0] == pytest.approx(0.4 * right, abs=5e-3)
    assert listed.allowed[0] == 0.15 and np.isnan(listed.up_max[0])


def test_a_short_hook_is_a_remnant_in_no_edge():
    hook = np.array([(5.0, 0.003, 3.0), (20.0, 0.003, 3.0), (20.0, 0.703, 3.0)])
    result = merge(level(0.0), level(0.002), hook)
    assert states(result) == ["merged"] and reasons(result) == ["remnant"]
    row = int(np.flatnonzero(result.passes.state == PASS_STATES.index("remnant"))[0])
    assert (result.passes.edge[row], result.passes.part[row]) == (-1, 2)
    assert 15.0 < result.passes.start[row] < result.passes.stop[row] == pytest.approx(15.7)
    listed = result.disagreements
    assert (listed.edge[0], listed.own[0], listed.part[0]) == (0, -1, 2)
    assert abs(listed.offset_max[0]) == pytest.approx(0.7, abs=5e-3)
