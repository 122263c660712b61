"""Limits of offsets, and displacements that are more than chance."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.lines.significance import beyond_chance, limit_of


@pytest.mark.parametrize(
    ("confidence", "factor"), [(0.5, 0.6745), (0.9, 1.6449), (0.95, 1.9600), (0.99, 2.5758)]
)
def test_the_limit_is_that_of_one_normal_value(confidence, factor):
    """LE factors (normal quantiles; ISO 19157, values recomputed), never the circular 2.4477."""
    assert limit_of(confidence, 1.0) == pytest.approx(factor, abs=5e-5)
    assert limit_of(confidence, 0.3, 0.4) == pytest.approx(0.5 * factor, abs=5e-5)


def test_benjamini_and_hochberg_by_hand():
    """p of 1.96 is 0.05, of 2.5758 0.01: with one line in one the limit is the single one, with one
    in ten it is not."""
    assert_array_equal(beyond_chance(np.array([1.001]), 1, 0.95), [True])
    assert_array_equal(
        beyond_chance(np.array([1.2, 0, 0, 0, 0, 0, 0, 0, 0, 0]), 10, 0.95), [False] + [False] * 9
    )
    assert_array_equal(
        beyond_chance(np.array([1.5, 1.5, 1.3, 0, 0]), 5, 0.95), [True, True, True, False, False]
    )
    assert_array_equal(beyond_chance(np.array([np.nan, 5.0]), 2, 0.95), [False, True])
    assert len(beyond_chance(np.zeros(0), 0, 0.95)) == 0
