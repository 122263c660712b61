"""Paths along tangents and arcs as compound curves."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.algorithms.writing.compound_curves import compound_curves

pytestmark = pytest.mark.usefixtures("provider")


def made(paths, arc, features):
    """`paths` are lists of (x, y, z)."""
    flat = np.concatenate([np.array(path, float) for path in paths])
    offsets = np.concatenate([[0], np.cumsum([len(path) for path in paths])])
    return list(compound_curves(*flat.T, offsets, np.array(arc), np.array(features)))


STRAIGHT = [(0, 0, 1), (10, 0, 2)]
TURN = [(10, 0, 2), (10 + 5 * np.sin(0.7), 5 - 5 * np.cos(0.7), 2.5), (15, 5, 3)]
ON = [(15, 5, 3), (15, 20, 4)]


def test_tangents_and_arcs_become_parts_of_one_curve():
    (curve,) = made([STRAIGHT, TURN, ON], [False, True, False], [0, 3])
    # QGIS 3.40 writes “CompoundCurve Z”, 3.22 “CompoundCurveZ”
    assert curve.asWkt(0).replace(" Z", "Z").startswith("CompoundCurveZ (")
    parts = [curve.constGet().curveAt(k) for k in range(curve.constGet().nCurves())]
    assert [part.wktTypeStr().replace(" ", "") for part in parts] == [
        "LineStringZ",
        "CircularStringZ",
        "LineStringZ",
    ]
    assert curve.constGet().length() == pytest.approx(10 + 5 * np.pi / 2 + 15)
    assert curve.constGet().endPoint().z() == 4.0


def test_straight_paths_in_a_row_are_one_part():
    (curve,) = made([STRAIGHT, [(10, 0, 2), (20, 5, 2), (30, 5, 2)]], [False, False], [0, 2])
    assert curve.constGet().nCurves() == 1
    assert curve.constGet().curveAt(0).numPoints() == 4


def test_each_path_begins_where_the_one_before_ends_to_the_last_bit():
    off = [(15.0000001, 5, 3), (15, 20, 4)]
    (curve,) = made([TURN, off], [True, False], [0, 2])
    first, second = (curve.constGet().curveAt(k) for k in range(2))
    end, start = first.endPoint(), second.startPoint()
    assert (end.x(), end.y(), end.z()) == (start.x(), start.y(), start.z()) == (15.0, 5.0, 3.0)


def test_features_have_their_own_paths_and_may_have_none():
    one, none, other = made([STRAIGHT, TURN, ON], [False, True, False], [0, 2, 2, 3])
    assert none.isEmpty() and not one.isEmpty()
    assert_allclose([one.constGet().nCurves(), other.constGet().nCurves()], [2, 1])
