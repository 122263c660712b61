"""A walk that is in a layer twice, with other times."""

from dataclasses import replace

import numpy as np
import pytest

from curbwright.shared.epochs import copies
from curbwright.shared.epochs.copies import copied
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.tuning import COPIES


def table(n=200, seed=1, seconds=None):
    rng = np.random.default_rng(seed)
    x, y = np.arange(n) * 0.5 + rng.normal(0, 0.01, n), rng.normal(0, 0.01, n)
    return EpochTable.from_columns(x, y, np.zeros(n), np.arange(n, dtype=float), np.zeros(n, int))


def both(one, other):
    return EpochTable.from_columns(
        *(np.append(getattr(one, name), getattr(other, name)) for name in ("x", "y", "z")),
        np.append(one.seconds, other.seconds),
        np.append(one.capture, other.capture),
    )


@pytest.mark.parametrize("sampled", [50_000, 40])
def test_a_copy_two_hours_later_is_found(monkeypatch, sampled):
    monkeypatch.setattr(copies, "COPIES", replace(COPIES, sampled=sampled))
    one = table(1000)
    share, shift = copied(both(one, replace(one, seconds=one.seconds + 7200)))
    assert shift == 7200
    assert share == pytest.approx(0.5)


def test_a_walk_alone_two_walks_and_one_given_twice_are_no_copies():
    one = table()
    assert copied(one)[0] == 0
    assert copied(both(one, replace(table(seed=2), seconds=one.seconds + 500)))[0] == 0
    assert copied(both(one, one))[0] == 0  # screened as repeats


def test_standing_and_a_walk_to_and_fro_are_no_copies():
    one = table()
    still = replace(one, x=np.full(200, 3.0), y=np.full(200, 4.0))
    assert copied(still)[0] == 0
    assert copied(both(one, replace(one, seconds=500.0 - one.seconds)))[0] == 0
