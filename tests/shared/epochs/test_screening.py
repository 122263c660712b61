"""Which epochs are kept, and why the others are not."""

import numpy as np
import pytest
from epochwalks import along, moved, straight, table_of, take, trial, wander
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.screening import screen, time_order
from curbwright.shared.epochs.stream import capture_medians, nominal_stream
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.tuning import override


def spikes(table):
    return np.flatnonzero(screen(table).reason == Reason.SPIKE).tolist()


def test_order_is_by_capture_and_time():
    table = table_of(
        np.zeros(6), np.zeros(6), seconds=[3.0, 1.0, 2.0, 1.0, 3.0, 2.0], capture=[1, 1, 0, 0, 0, 1]
    )
    assert_array_equal(time_order(table, np.arange(6)), [3, 2, 4, 1, 5, 0])
    assert_array_equal(time_order(table, np.array([0, 2, 5])), [2, 5, 0])


@given(st.permutations(range(8)))
def test_ties_are_settled_by_content(order):
    # Four pairs of one time: the fixed one, the more accurate one, then the one that lies farther
    # west goes first.
    table = EpochTable.from_columns(
        [0.0, 1.0, 0.0, 1.0, 0.0, 1.0, 2.0, 2.0],
        np.zeros(8),
        seconds=[0, 0, 1, 1, 2, 2, 3, 3],
        fixed=[False, True] + [True] * 6,
        sigma_h=[0.01, 0.01, 0.02, 0.01, 0.01, 0.01, np.nan, 0.01],
    )
    found = np.array(order)[time_order(take(table, order), np.arange(8))]
    assert_array_equal(found, [1, 0, 3, 2, 4, 5, 7, 6])


def test_of_repeats_the_best_is_kept():
    x, y = straight(20)
    table = table_of(
        np.r_[x, x[10], x[10]],
        np.r_[y, y[10], y[10]],
        seconds=np.r_[np.arange(20.0), 10.0, 10.0],
        sigma_h=np.r_[np.full(20, 0.02), 0.01, 0.03],
    )
    reason = screen(table).reason
    assert_array_equal(np.flatnonzero(reason == Reason.REPEAT), [10, 21])
    other = moved(table, capture=np.r_[np.zeros(20, int), 1, 2])
    assert not (screen(other).reason == Reason.REPEAT).any()


def test_what_is_rejected_already_is_no_repeat():
    x, y = straight(20)
    table = table_of(
        np.r_[x, x[10]],
        np.r_[y, y[10]],
        seconds=np.r_[np.arange(20.0), 10.0],
        fixed=np.arange(21) != 10,
    )
    assert_array_equal(np.flatnonzero(screen(table).reason), [10])


def test_strongest_reason_is_given():
    nothing = {"x": [np.nan], "y": [0.0], "seconds": [np.nan], "fixed": [False], "sigma_h": [1.0]}
    better = [
        ("x", [0.0], Reason.NO_TIME),
        ("seconds", [0.0], Reason.NOT_FIXED),
        ("fixed", [True], Reason.POOR_ACCURACY),
        ("sigma_h", [0.01], Reason.KEPT),
    ]
    assert screen(EpochTable.from_columns(**nothing)).reason[0] == Reason.NO_POSITION
    for name, values, reason in better:
        nothing[name] = values
        assert screen(EpochTable.from_columns(**nothing)).reason[0] == reason


def test_amounts():
    x, y = straight(20)
    sigma = np.full(20, 0.01)
    sigma[4] = 0.08
    table = table_of(x, y, sigma_h=sigma, parts=np.r_[np.ones(19, int), 5])
    result = screen(table)
    assert result.amount[4] == 0.08 and result.amount[19] == 5
    assert np.isnan(result.amount[result.reason == 0]).all()


def test_kept_rows_are_in_order():
    table, _ = trial(2, 3)
    result = screen(table)
    assert_array_equal(np.sort(result.kept), np.flatnonzero(result.reason == 0))
    assert (np.diff(table.capture[result.kept]) >= 0).all()
    inside = np.diff(table.capture[result.kept]) == 0
    assert (np.diff(table.seconds[result.kept])[inside] > 0).all()


@pytest.mark.parametrize("size", [0.15, 0.3, 1.0, 20.0, -0.4])
@pytest.mark.parametrize("at", [2, 10, 20, 37])
def test_spike_on_a_straight(size, at):
    x, y = straight(40)
    y[at] += size / np.cos(0.3)
    result = screen(table_of(x, y))
    assert_array_equal(np.flatnonzero(result.reason), [at])
    assert result.reason[at] == Reason.SPIKE
    assert result.amount[at] == pytest.approx(abs(size), rel=0.25)


def test_spikes_one_beside_another_in_turn():
    x, y = straight(60)
    for at, size in ((10, 0.5), (15, -0.7), (20, 0.4), (30, 3.0), (45, 0.25)):
        y[at] += size
    assert spikes(table_of(x, y)) == [10, 15, 20, 30, 45]


def test_two_epochs_shoved_aside_together():
    x, y = straight(40)
    y[[20, 21]] += 2.5
    assert spikes(table_of(x, y)) == [20, 21]


@pytest.mark.parametrize("at", [0, 39])
def test_spike_at_the_end(at):
    # Square to the way: the step to it is longer than usual, which round a corner it would not be.
    x, y = straight(40)
    x[at], y[at] = x[at] - 0.9 * np.sin(0.3), y[at] + 0.9 * np.cos(0.3)
    assert spikes(table_of(x, y)) == [at]


SHAPES = {
    "straight": [("line", 60.0)],
    "corner": [("line", 20.0), ("corner", 90.0), ("line", 20.0)],
    "sharp corner": [("line", 20.0), ("corner", -130.0), ("line", 20.0)],
    "bay": [
        ("line", 30.0),
        ("corner", 90.0),
        ("line", 2.5),
        ("corner", -90.0),
        ("line", 15.0),
        ("corner", -90.0),
        ("line", 2.5),
        ("corner", 90.0),
        ("line", 30.0),
    ],
    "curb return of 3 m": [("line", 20.0), ("arc", 3.0, 90.0), ("line", 20.0)],
    "curb return of 6 m": [("line", 20.0), ("arc", 6.0, -90.0), ("line", 20.0)],
    "nose of 1.5 m": [("line", 15.0), ("arc", 1.5, 180.0), ("line", 15.0)],
    "bend of 40 m": [("arc", 40.0, 120.0)],
    "reverse bend": [("arc", 12.0, 60.0), ("arc", 12.0, -60.0)] * 2,
}


@pytest.mark.one_in(4)
@pytest.mark.parametrize("name", SHAPES)
@pytest.mark.parametrize("step", [0.6, 1.0, 1.2])
@pytest.mark.parametrize("noise", [0.0, 0.008])
def test_no_shape_passes_for_spikes(name, step, noise):
    for seed in range(5):
        x, y = along(SHAPES[name], noise, seed, step=step)
        assert spikes(table_of(x, y)) == []


def test_pauses_and_stands_are_no_spikes():
    x, y = straight(60)
    stood = np.r_[0:30, [30] * 15, 31:60]
    rng = np.random.default_rng(1)
    table = table_of(
        x[stood] + rng.normal(0, 0.006, 74),
        y[stood] + rng.normal(0, 0.006, 74),
        seconds=np.arange(74) + 30.0 * (np.arange(74) > 50),
    )
    assert spikes(table) == []


def test_long_steps_among_short_ones_are_no_spikes():
    found = 0
    for seed in range(6):
        rng = np.random.default_rng(seed)
        way = np.cumsum(0.1 * 25 ** rng.random(300))  # steps of 0.1 to 2.5 m
        y = 4 * np.abs((way / 8) % 2 - 1) + rng.normal(0, 0.008, 300)
        found += len(spikes(table_of(way, y)))
    assert found <= 6  # of 1,800


def test_spikes_are_found_where_they_were_made():
    # Simulated walks know their slips. Screening looks for what is plain; the rest is left to the
    # shape of the run.
    table, walks = trial(11, 12)
    reason = screen(table).reason
    made = np.concatenate([walk.is_spike for walk in walks])
    good = np.concatenate([walk.is_good for walk in walks])
    assert made.sum() > 8
    assert np.count_nonzero(reason[good] == Reason.SPIKE) <= 0.002 * good.sum()
    assert np.count_nonzero(reason[made] != 0) >= 0.6 * made.sum()


@pytest.mark.parametrize("made", ["walks", "anything"])
def test_repeated_look_equals_a_look_at_everything(made):
    # Only what lies near a spike is tested again: the same comes out when all epochs are.
    tables = [trial(21, 12)[0]] if made == "walks" else [wander(seed, 400) for seed in range(25)]
    near = [screen(table).reason for table in tables]
    with override(SCREENING__reach=10**7):
        for table, reason in zip(tables, near):
            assert_array_equal(screen(table).reason, reason)


def test_captures_of_four_are_screened_as_in_their_layer():
    sizes, rng = [60, *[4] * 12], np.random.default_rng(2)
    x, y = (np.concatenate(axis) for axis in zip(*(straight(size, seed=size) for size in sizes)))
    capture = np.repeat(np.arange(13), sizes)
    y[60:] += rng.choice([0.0, 2.0], 48, p=[0.7, 0.3])
    table = table_of(x, y, capture=capture, seconds=np.arange(108.0) + 3600 * capture)
    nominal = nominal_stream(capture_medians(table, np.arange(108)))
    whole = screen(table)
    assert (whole.reason[60:] == Reason.SPIKE).any()
    for number in range(13):
        rows = np.flatnonzero(capture == number)
        alone = screen(take(table, rows), nominal=nominal)
        assert_array_equal(alone.reason, whole.reason[rows], f"capture {number}")


def test_heights_are_ok_where_there_are_any():
    x, y = straight(30)
    z = np.full(30, 4.0)
    z[3] = np.nan
    z[12] += 0.6
    fixed = np.arange(30) != 20
    result = screen(table_of(x, y, z=z, fixed=fixed))
    assert_array_equal(np.flatnonzero(~result.height_ok), [3, 12, 20])
    assert_array_equal(np.flatnonzero(result.reason), [20])
