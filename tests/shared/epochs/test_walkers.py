"""Captures that hold several walks at once."""

import numpy as np
import pytest

from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.epochs.walkers import split_walkers
from curbwright.shared.tuning import override


@pytest.fixture(autouse=True)
def blocks():
    """Tables of several blocks, as long ones are."""
    with override(EXECUTION__block=50):
        yield


def line(n, y, seconds, seed=1):
    noise = np.random.default_rng(seed).normal(0, 0.01, (2, n))
    return (
        np.arange(n) * 1.2 + noise[0],
        np.full(n, float(y)) + noise[1],
        seconds + np.arange(float(n)),
    )


def table_of(*walks, capture=None):
    x, y, t = (np.concatenate(columns) for columns in zip(*walks))
    return EpochTable.from_columns(x, y, None, t, capture)


@pytest.mark.parametrize("apart", [6.0, 40.0])
@pytest.mark.parametrize("later", [0.0, 0.4, 13.0])
@pytest.mark.parametrize("order", ["one after the other", "by time", "shuffled"])
def test_two_walkers_under_one_name(apart, later, order):
    table = table_of(line(80, 0, 0), line(80, apart, later, 2), capture=[3] * 160)
    rows = np.arange(160)
    if order == "by time":
        rows = np.argsort(table.seconds, kind="stable")
    elif order == "shuffled":
        rows = np.random.default_rng(5).permutation(160)
    number = split_walkers(EpochTable(**{k: v[rows] for k, v in vars(table).items()}))
    assert set(number[rows < 80].tolist()) != set(number[rows >= 80].tolist())
    assert len(set(number.tolist())) == 2


@pytest.mark.parametrize("back", [5.0, 30.0, 600.0])
def test_a_clock_set_back_inside_a_capture(back):
    x, y, t = line(120, 0, 1000)
    t[60:] -= back
    number = split_walkers(EpochTable.from_columns(x, y, None, t))
    if back == 600.0:  # the two parts do not meet in time: the pause between them is a gap
        assert number is None
        return
    assert number[:60].tolist() == [0] * 60 and number[60:].tolist() == [1] * 60


def test_one_walk_is_left_alone():
    x, y, t = line(200, 0, 0)
    y[::7] += 4.0  # spikes
    t[50:] += 300.0  # a pause
    for rows in (np.arange(200), np.arange(200)[::-1], np.random.default_rng(1).permutation(200)):
        assert split_walkers(EpochTable.from_columns(x[rows], y[rows], None, t[rows])) is None
    late = t.copy()
    late[[20, 21]] = late[[21, 20]]  # one row that came late
    assert split_walkers(EpochTable.from_columns(x, y, None, late)) is None
    # the rows of every other epoch first
    rows = np.concatenate([np.arange(0, 200, 2), np.arange(1, 200, 2)])
    assert split_walkers(EpochTable.from_columns(x[rows], y[rows], None, t[rows])) is None


def test_a_vehicle_is_left_alone():
    n = 100
    assert (
        split_walkers(EpochTable.from_columns(np.arange(n) * 14.0, np.zeros(n), None, np.arange(n)))
        is None
    )


def test_other_captures_keep_theirs():
    table = table_of(
        line(60, 0, 0), line(60, 9, 0, 2), line(60, 50, 0, 3), capture=[1] * 120 + [0] * 60
    )
    assert len(table) == 180
    number = split_walkers(table)
    assert set(number[120:].tolist()) == {0} and set(number[:120].tolist()) == {0, 1}
