"""Heights that are none."""

import numpy as np
import pytest

from curbwright.shared.epochs.absurd_heights import absurd_heights
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.tuning import override


@pytest.fixture(autouse=True)
def blocks():
    """Tables of several blocks, as long ones are."""
    with override(EXECUTION__block=50):
        yield


def walked(z, capture=None):
    n = len(z)
    return EpochTable.from_columns(np.arange(n) * 1.2, np.zeros(n), z, np.arange(n), capture)


def heights(n=200, seed=1):
    return 30 + 0.02 * np.arange(n) + np.random.default_rng(seed).normal(0, 0.01, n)


@pytest.mark.parametrize("value", [0.0, -9999.0, 1e4, 1e8, -1e300, 99.0])
@pytest.mark.parametrize("rows", [range(40, 60), range(130), range(90, 200), range(50, 190, 9)])
def test_a_number_in_place_of_heights(value, rows):
    z = heights()
    z[list(rows)] = value
    assert np.flatnonzero(absurd_heights(walked(z))).tolist() == list(rows)


def test_the_order_of_rows_does_not_matter():
    z = heights()
    z[40:60] = 99.0
    table, order = walked(z), np.random.default_rng(2).permutation(len(z))
    assert (absurd_heights(table.take(order)) == absurd_heights(table)[order]).all()


def test_real_heights_stay():
    z = heights()
    stairs = np.repeat(heights()[:50], 4) + np.minimum(0.9 * np.arange(200), 40)
    both = np.concatenate([z, stairs, z + 300])  # each capture has its own level
    table = walked(both, np.repeat([0, 1, 2], 200))
    assert not absurd_heights(table).any()
    assert not absurd_heights(walked(z - 31)).any()
    assert not absurd_heights(walked(np.full(200, np.nan))).any()
