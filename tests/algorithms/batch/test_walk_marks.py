"""What tells one walk from another in results."""

import pytest
from qgis.PyQt.QtCore import QVariant

from curbwright.algorithms.batch.walk_marks import ENDED, STARTED, walk_mark

WALK = {"capture": "walk 1", STARTED: 1000.0001, ENDED: 1060.25}


def test_the_same_walk_has_one_mark_to_the_millisecond():
    mark = walk_mark(WALK.get, (STARTED, ENDED))
    assert mark == ("walk 1", 1000.0, 1060.25)
    assert walk_mark({**WALK, STARTED: 1000.0004}.get, (STARTED, ENDED)) == mark
    for other in ({"capture": "walk 2"}, {STARTED: 1000.002}, {ENDED: 1061.0}):
        assert walk_mark({**WALK, **other}.get, (STARTED, ENDED)) != mark


@pytest.mark.parametrize("missing", [None, QVariant()])
def test_a_walk_without_a_time_has_none(missing):
    assert walk_mark({**WALK, ENDED: missing}.get, (STARTED, ENDED)) is None
    assert walk_mark({**WALK, ENDED: missing}.get, (STARTED,)) is not None
