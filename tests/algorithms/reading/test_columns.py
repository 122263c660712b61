"""Columns: what rows of any source gave, as arrays."""

import pytest

from curbwright.algorithms.reading.columns import column_of_list


@pytest.mark.parametrize("values", [[], ["b", "b", "", "a", "b"], [""], ["é"]])
def test_factor_numbers_the_values(values):
    column = column_of_list("text", values)
    codes, different = column.factor()
    assert different.texts()[codes].tolist() == values
    assert sorted(set(values)) == different.texts().tolist()
