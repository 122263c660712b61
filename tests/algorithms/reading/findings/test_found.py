"""Findings and what they are made of."""

import numpy as np
import pytest

from curbwright.algorithms.reading.findings.found import GAP, KINDS, TOLD, Findings, Where, known
from curbwright.algorithms.reading.findings.layers import ResultLayer


def result_layer(ids=(7, 8, 9), **shape):
    return ResultLayer(None, "Gaps", np.array(ids), {}, **shape)


def where(x):
    x = np.asarray(x, float)
    return Where(x, np.zeros(len(x)), np.ones(len(x)))


def test_what_has_no_position_is_counted_and_left_out():
    found, layer = Findings(), result_layer()
    rows = np.array([0, 1, 2])
    told = {"metres": np.array([1.0, 2.0, 3.0]), "edge_id": ["a", "b", "c"]}
    found.add(GAP, layer, rows, where([5.0, np.nan, 6.0]), ["first", "second", "third"], **told)
    assert len(found) == 2 and found.row == [7, 9] and found.detail == ["first", "third"]
    assert found.metres == [1.0, 3.0] and found.edge_id == ["a", "c"]
    assert found.seconds == [None, None] and found.kind == [GAP, GAP]
    assert {len(getattr(found, name)) for name in TOLD} == {2}
    (of, text, doubtful) = found.passed_over[0]
    assert of is layer and "without a position" in text and text.endswith(": 1") and doubtful


def test_nothing_else_can_be_told():
    with pytest.raises(TypeError, match="length"):
        Findings().add(GAP, result_layer(), np.array([0]), where([1.0]), ["x"], length=[2.0])


def test_nothing_passed_over_is_not_named():
    found = Findings()
    found.leave(result_layer(), "{} gaps", 0)
    assert found.passed_over == []


def test_some_of_many_places():
    some = where([1.0, 2.0, 3.0]).of(np.array([2, 0]))
    assert some.x.tolist() == [3.0, 1.0] and len(some.scale) == 2
    assert known([1.0, np.nan]) == [1.0, None] and KINDS[GAP] == "gap"


def test_parts_of_one_vertex_are_no_lines():
    layer = result_layer(
        x=np.array([0.0, 3.0, 0.0, np.nan, 1.0, 2.0]),
        y=np.array([0.0, 4.0, 0.0, 0.0, 0.0, 0.0]),
        scale=np.array([1.0, 1.0, 1.0, 1.0, 2.0, 2.0]),
        offsets=np.array([0, 2, 4, 6]),
        feature=np.array([0, 1, 2]),
    )
    lines = layer.lines()
    assert lines.line.tolist() == [0, 2] and lines.offsets.tolist() == [0, 2, 4]
    assert lines.scale.tolist() == [1.0, 1.0, 2.0]
    assert np.allclose(lines.length(), [5.0, 0.0, 0.5])
