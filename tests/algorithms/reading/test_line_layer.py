"""Layers of lines into ragged arrays: parts, arcs, heights that cannot be, and other kinds."""

import numpy as np
import pytest
from linelayers import ORIGIN, line_layer, straight
from numpy.testing import assert_allclose, assert_array_equal
from qgis.core import QgsGeometry, QgsProcessingException
from walkedlayers import Log, layer_of, source_of, walk

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.reading.line_layer import CURVE_STEP, read_linework

pytestmark = pytest.mark.usefixtures("provider")


def read(layer, names=(), log=None):
    return read_linework(source_of(layer), list(names), log or Log(), lambda _: None)


def test_parts_are_lines_of_their_own():
    shapes = [[straight(0.0), straight(5.0)], None, straight(9.0)]
    found = read(line_layer(shapes, kind="MultiLineString", fields=(("a", "integer"),),
                            values=[[1], [2], [3]]), ["a"])  # fmt: skip
    assert len(found.ids) == 3 and found.feature.tolist() == [0, 0, 2]
    assert found.offsets.tolist() == [0, 2, 4, 6]
    assert_allclose(found.y - ORIGIN[1], [0, 0, 5, 5, 9, 9])
    assert np.isnan(found.z).all() and found.columns["a"].values.tolist() == [1, 2, 3]


def test_arcs_are_chords_that_hardly_leave_them():
    text = "CompoundCurve (CircularString (10 0, 0 10, -10 0), (-10 0, -30 0))"
    found = read(line_layer([QgsGeometry.fromWkt(text)], kind="CompoundCurve"))
    arc = np.column_stack([found.x, found.y])[:-1]
    assert_allclose(np.hypot(*arc.T), 10.0, atol=1e-9)
    middle = (arc[1:] + arc[:-1]) / 2
    assert (10.0 - np.hypot(*middle.T)).max() < 10.0 * CURVE_STEP**2 / 8 * 1.01


def test_heights_beyond_all_land_count_as_none():
    log = Log()
    line = np.column_stack([straight(0.0), [3.0, -99999.0]])
    found = read(line_layer([line], kind="LineStringZ"), log=log)
    assert_array_equal(found.z, [3.0, np.nan])
    assert "vertices with heights that cannot be: 1, for example -99999." in log.warnings[0]


def test_other_kinds_are_named():
    with pytest.raises(QgsProcessingException, match="“quay walk” holds no lines"):
        read(layer_of(walk(captures=1)))


def test_it_can_be_stopped():
    log = Log()
    log.cancel()
    with pytest.raises(CancelledError):
        read(line_layer([straight(0.0)]), log=log)
