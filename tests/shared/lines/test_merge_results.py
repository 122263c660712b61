"""What a merge of walks returns: edges, passes and disagreements, each by its arrays."""

import dataclasses

import numpy as np
import pytest
from lineshapes import arc, straight
from mergedwalks import at, bump, level, merge, reasons, shape, states
from numpy.testing import assert_array_equal

from curbwright.shared.lines.merge_results import PASS_STATES, REASONS, STATES


def test_edges_without_partner_pass_through_unchanged():
    shapes = [arc(8.0, 0, 2, 9), straight(50.0)[::-1], arc(3.0, 0, 2 * np.pi, 20, (100, 0))]
    shapes[2][-1] = shapes[2][0]
    result = merge(*shapes)
    assert states(result) == ["single"] * 3 and not len(result.disagreements)
    for number, row in enumerate(result.edges.unchanged.tolist()):
        assert_array_equal(shape(result.edges, number)[:, :2], shapes[row])
    assert result.edges.closed.tolist() == [row == 2 for row in result.edges.unchanged]
    assert (
        np.isnan(result.repeatability)
        and np.isnan(result.edges.repeatability).all()
        and np.isnan(result.edges.z).all()
    )


def test_a_stretch_of_another_mind_is_kept_apart():
    result = merge(level(0.0), bump(0.09, 0.004))
    assert states(result) == ["merged", "apart"] and reasons(result) == ["plan"]
    y = at(result.edges, 0, np.linspace(0, 40, 200))[0]
    assert (np.abs(y) < 0.02).all()  # not half of 0.09
    apart = shape(result.edges, 1)
    assert apart[:, 1].max() == pytest.approx(0.094)
    # leaves the merged edge and comes back to it
    assert abs(apart[0, 1]) < 0.02 and abs(apart[-1, 1]) < 0.02
    listed = result.disagreements
    assert listed.edge.tolist() == [0] and listed.own.tolist() == [1]
    # to the left of an edge that runs east
    assert abs(listed.offset_max[0]) == pytest.approx(0.09, abs=0.006) and listed.offset_max[0] < 0
    assert 0 < listed.allowed[0] <= 0.035
    assert result.repeatability < 0.02  # without what is listed


def test_an_edge_runs_the_way_that_most_of_its_walks_ran():
    west, east = level(0.0)[::-1], level(0.01, (0.0, 15.0))
    line = shape(merge(west, east).edges, 0)
    assert line[0, 0] > line[-1, 0]
    result = merge(west, east)
    assert sorted(result.passes.same.tolist()) == [False, True]
    assert result.edges.ends[0].tolist() == [[0, 0], [0, 1]]


def test_all_arrays_of_a_result_are_of_one_length():
    result = merge(level(0.0), bump(0.09, 0.004), level(0.02, (0.0, 30.0)), level(90.0))
    assert len(result.edges) and len(result.passes) and len(result.disagreements)
    for table in (result.edges, result.passes, result.disagreements):
        for column in dataclasses.fields(table):
            values = getattr(table, column.name)
            if column.name in ("x", "y", "z"):
                assert len(values) == table.offsets[-1]
            elif column.name == "offsets":
                assert len(values) == len(table) + 1 and (np.diff(values) >= 2).all()
            else:
                assert len(values) == len(table), column.name
    for codes, names in (
        (result.edges.state, STATES),
        (result.passes.state, PASS_STATES),
        (result.disagreements.reason, REASONS),
    ):
        assert ((codes >= 0) & (codes < len(names))).all()
    assert set(result.passes.edge) <= set(range(-1, len(result.edges)))
    assert set(result.disagreements.own) <= set(range(-1, len(result.edges)))
