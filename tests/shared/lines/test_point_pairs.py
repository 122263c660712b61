"""Pairs of tested positions and check points."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.lines import point_pairs
from curbwright.shared.lines.point_pairs import pair_names, pair_points


def test_points_pair_with_each_others_nearest():
    check = np.array([(0.0, 0.0), (10.0, 0.0), (20.0, 0.0), (np.nan, 0.0)])
    tested = np.array([(10.1, 0.0), (0.3, 0.0), (0.2, 0.1), (np.nan, 1.0), (23.0, 0.0)])
    assert_array_equal(pair_points(tested, check, 1.0), [2, 0, -1, -1])
    assert_array_equal(pair_points(tested, check, 2.9), [2, 0, -1, -1])
    assert_array_equal(pair_points(tested, check, 3.0), [2, 0, 4, -1])
    assert_array_equal(pair_points(np.zeros((0, 2)), check, 1.0), [-1] * 4)


def test_no_tested_point_is_used_twice():
    rng = np.random.default_rng(1)
    partner = pair_points(rng.uniform(0, 10, (40, 2)), rng.uniform(0, 10, (200, 2)), 50.0)
    used = partner[partner >= 0]
    assert 0 < len(used) == len(set(used.tolist()))


def test_of_points_in_one_place_the_first_is_paired(monkeypatch):
    class Tree(point_pairs.cKDTree):
        """Counts what is held."""

        def __init__(self, xy):
            held.append(len(xy))
            super().__init__(xy)

    held = []
    monkeypatch.setattr(point_pairs, "cKDTree", Tree)
    tested = np.repeat([(5.0, 0.0), (0.0, 0.0)], 500, axis=0)
    check = np.repeat([(0.1, 0.0), (5.1, 0.0)], 300, axis=0)
    partner = pair_points(tested, check, 1.0)
    assert_array_equal(np.flatnonzero(partner >= 0), [0, 300])
    assert partner[[0, 300]].tolist() == [500, 0]
    assert held == [2, 2]  # work by places, not by points


def test_names():
    assert_array_equal(pair_names(["b", "", "a", ""], ["a", "c", "", "b"]), [2, -1, -1, 0])
    for tested, check in ((["a", "a"], ["a"]), (["a"], ["a", "a"])):
        with pytest.raises(ValueError, match=r"^a$"):
            pair_names(tested, check)
