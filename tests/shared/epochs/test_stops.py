"""Which epochs are grouped into stops, and why the others are in none."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import MOVING, TOO_FEW, Reason
from curbwright.shared.epochs.settings import OccupationSettings
from curbwright.shared.epochs.stops import Outcome, find_stops
from curbwright.shared.epochs.table import EpochTable


def stops(x, seconds=None, capture=None, scale=None, **chosen):
    """Stop, reason and amount of each epoch of a walk along x."""
    n = len(x)
    table = EpochTable.from_columns(
        x,
        np.zeros(n),
        seconds=np.arange(float(n)) if seconds is None else seconds,
        capture=capture,
        scale=scale,
    )
    outcome = Outcome(np.zeros(n, np.uint8), np.full(n, np.nan))
    found = find_stops(table, np.arange(n), outcome, OccupationSettings(**chosen))
    return found, outcome.reason, outcome.amount


def test_nothing_has_no_stops():
    found, _, _ = stops(np.zeros(0))
    assert found.shape == (0,) and found.dtype == np.int64


def test_stops_are_numbered_in_their_order():
    walk = np.arange(1.0, 9.0)
    x = np.concatenate([np.zeros(8), walk, np.full(8, 9.0), 9.0 + walk])
    found, reason, _ = stops(x)
    # the running median takes one or two epochs of the way for standing, never one of the stop
    assert_array_equal(found[:8], 0)
    assert_array_equal(found[16:24], 1)
    assert_array_equal(found[10:13], -1)
    assert_array_equal(reason[found < 0], MOVING)
    assert_array_equal(reason[found >= 0], Reason.KEPT)


@pytest.mark.parametrize(("min_dwell", "count"), [(5.0, 1), (20.0, 0)])
def test_a_stop_on_a_walk_must_last(min_dwell, count):
    walk = np.arange(30.0)
    found, _, _ = stops(np.concatenate([walk, np.full(10, 30.0), 31.0 + walk]), min_dwell=min_dwell)
    assert found.max() == count - 1


def test_who_creeps_on_is_not_standing():
    # 20 mm a second: no step tells, the distance does
    found, _, _ = stops(0.02 * np.arange(300), min_dwell=0.0)
    for stop in range(found.max() + 1):
        assert np.ptp(np.flatnonzero(found == stop)) * 0.02 < 0.6


def test_an_epoch_astray_does_not_cut_a_stop():
    x = np.zeros(21)
    x[10] = 7.0
    found, reason, amount = stops(x)
    assert_array_equal(np.delete(found, 10), 0)
    # a running median hides it from the grouping; `average` rejects it as gross
    assert found[10] == 0 and reason[10] == Reason.KEPT and np.isnan(amount[10])


def test_an_epoch_that_starts_off_the_only_point_went_astray():
    x = np.concatenate([np.full(3, 5.0), np.zeros(20)])
    found, reason, amount = stops(x, seconds=np.r_[0:3, 100:120].astype(float), min_epochs=4)
    assert_array_equal(found[3:], 0)
    assert_array_equal(reason[:3], Reason.SPIKE)
    assert amount[:3] == pytest.approx(5.0)


def test_captures_of_too_few_epochs_say_how_many():
    found, reason, amount = stops(np.zeros(12), capture=np.repeat([0, 1], [9, 3]), min_epochs=5)
    assert_array_equal(found, [0] * 9 + [-1] * 3)
    assert_array_equal(reason[9:], TOO_FEW)
    assert_array_equal(amount[9:], 3)


def test_radius_is_of_the_ground():
    x = np.repeat([0.0, 0.2], 10)
    apart, _, _ = stops(x, min_dwell=0.0)
    wide, _, _ = stops(x, scale=np.full(20, 2.0), min_dwell=0.0)
    assert apart.max() == 1 and wide.max() == 0


def test_order_of_reasons_is_that_of_the_calls():
    outcome = Outcome(np.zeros(3, np.uint8), np.full(3, np.nan))
    outcome.reject(np.array([0, 2]), Reason.SPIKE, np.array([0.5, 0.7]))
    outcome.reject(np.array([2]), MOVING)
    assert_array_equal(outcome.reason, [Reason.SPIKE, Reason.KEPT, MOVING])
    assert_array_equal(outcome.amount, [0.5, np.nan, 0.7])
