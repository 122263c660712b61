"""The status of lines from the stretches that are matched."""

from types import SimpleNamespace

import numpy as np
import pytest

from curbwright.shared.lines.comparison_results import AGREES, DISPLACED
from curbwright.shared.lines.line_status import displace_both


class Lines(SimpleNamespace):
    """What the rule reads of the statistics of one layer."""

    def __len__(self):
        return len(self.status)


def lines(status, partner, share=1.0, length=20.0):
    count = len(status)
    return Lines(
        status=np.array(status, np.uint8),
        partner=np.array(partner),
        matched_share=np.full(count, share),
        length=np.full(count, length),
    )


@pytest.mark.parametrize("which", [0, 1])
def test_of_two_counterparts_both_are_displaced_if_either_is(which):
    sides = [lines([AGREES, AGREES], [0, -1]) for _ in range(2)]
    sides[which].status[0] = DISPLACED
    displace_both(*sides)
    assert [side.status.tolist() for side in sides] == [[DISPLACED, AGREES]] * 2


@pytest.mark.parametrize("how", [{"partner": [1, -1]}, {"share": 0.1}, {"length": 40.0}])
def test_others_keep_their_own_status(how):
    edges = lines([DISPLACED, AGREES], [0, -1])
    existing = lines([AGREES, AGREES], **{"partner": [0, -1], **how})
    displace_both(edges, existing)
    assert edges.status.tolist() == [DISPLACED, AGREES]
    assert existing.status.tolist() == [AGREES, AGREES]
