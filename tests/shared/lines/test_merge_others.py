"""Walks next to an edge that is not theirs are listed."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from mergedwalks import level, merge, reasons, shape, states
from numpy.testing import assert_allclose

from curbwright.shared.lines.merge_others import main_paths


def test_parallel_curbs_within_reach_stay_two():
    result = merge(level(0.0), level(0.004), level(0.1), level(0.103))
    assert states(result) == ["merged"] * 2
    assert reasons(result) == ["other_edge"] * len(result.disagreements) and len(
        result.disagreements
    )
    assert_allclose(np.abs(result.disagreements.offset_mean), 0.1, atol=5e-3)
    assert (result.disagreements.allowed < 0.05).all()


@given(st.lists(st.lists(st.integers(-2, 4), min_size=1, max_size=9), min_size=1, max_size=6))
def test_the_main_path_of_a_piece_has_most_of_its_stations(owners):
    part = np.repeat(np.arange(len(owners)), [len(one) for one in owners])
    ways = SimpleNamespace(
        pieces=owners, rays=SimpleNamespace(part=part), owner=np.concatenate(owners)
    )
    expected = [max(sorted(set(one)), key=one.count) for one in owners]
    assert main_paths(ways).tolist() == [max(path, -1) for path in expected]


@pytest.mark.parametrize("ways", [(1, 1, 1), (-1, -1, 1), (1, -1, -1), (-1, 1, 1)])
def test_a_walk_is_listed_once_next_to_an_edge_to_the_side_it_lies_on(ways):
    walks = [level(0.0), level(0.003), level(0.006)]
    walks = [walk[::way] for walk, way in zip(walks, ways)]
    result = merge(*walks, level(0.1, (0.0, 39.0)), level(90.0))
    assert states(result).count("merged") == 1 and reasons(result) == ["other_edge"]
    listed = result.disagreements
    edge = shape(result.edges, listed.edge[0])
    right = -1 if edge[0, 0] < edge[-1, 0] else 1  # the walk lies to the north
    assert right == -np.sign(sum(ways))
    assert listed.part[0] == 3 and result.edges.unchanged[listed.own[0]] == 3
    assert listed.offset_mean[0] == pytest.approx(0.1 * right, abs=8e-3)
    assert listed.length[0] == pytest.approx(39.0, abs=0.5)
