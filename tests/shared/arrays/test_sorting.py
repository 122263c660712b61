"""Columns sorted at once."""

import numpy as np
import pytest

from curbwright.shared.arrays.sorting import sort_columns


@pytest.mark.parametrize("rows", range(18))
def test_each_column_is_sorted_for_itself(rows):
    rng = np.random.default_rng(rows)
    values = rng.integers(0, 9, (rows, 200)).astype(float)  # with equals
    values[rng.random(values.shape) < 0.2] = np.inf
    found = values.copy()
    sort_columns(found)
    assert np.array_equal(found, np.sort(values, axis=0))


def test_every_order_of_noughts_and_ones_is_sorted():
    """Then any values are (the 0-1 principle: Knuth, The Art of Computer Programming, volume 3,
    section 5.3.4, theorem Z)."""
    rows = 12
    values = (np.arange(1 << rows) >> np.arange(rows)[:, None] & 1).astype(float)
    ones = values.sum(axis=0)
    sort_columns(values)
    assert (np.diff(values, axis=0) >= 0).all() and (values.sum(axis=0) == ones).all()
