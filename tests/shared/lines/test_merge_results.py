"""What a merge of walks returns: edges, passes and disagreements, each by its arrays."""

import dataclasses

import numpy as np
from mergedwalks import bump, level, merge

from curbwright.shared.lines.merge_results import PASS_STATES, REASONS, STATES


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
