"""Squares and pairs of numbers."""

import numpy as np
from hypothesis import given
from hypothesis import strategies as st

from curbwright.shared.lines.squares import cells_of, numbered


@given(st.lists(st.tuples(st.integers(0, 5), st.integers(0, 5)), min_size=1))
def test_pairs_are_numbered_in_order_and_without_a_gap(pairs):
    first, second = np.array(pairs).T
    number = numbered(first, second)
    known = sorted(set(pairs))
    assert number.tolist() == [known.index(pair) for pair in pairs]


def test_squares_are_those_of_a_grid_and_numbered_without_a_gap():
    x, y = np.random.default_rng(4).uniform(-7, 7, (2, 500))
    cell = cells_of(x, y, 2.0)
    known = {}
    for number, place in zip(cell.tolist(), zip(np.floor(x / 2.0), np.floor(y / 2.0))):
        assert known.setdefault(number, place) == place
    assert sorted(known) == list(range(len(set(known.values()))))
