"""Which epochs are kept, and why the others are not."""

import numpy as np
import pytest
from epochwalks import STEP, along, moved, table_of, take, trial, wander
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs import screening
from curbwright.shared.epochs.screening import (
    HUBER,
    REASON_NAMES,
    Reason,
    Settings,
    describe,
    lessen_outliers,
    screen,
    time_order,
    unusable,
)
from curbwright.shared.epochs.table import EpochTable

STABLE = settings(deadline=None, derandomize=True, max_examples=60)


def straight(count, noise=0.006, seed=0):
    return along([("line", 10_000.0)], noise, seed, until=(count - 0.5) * STEP)


def spikes(table):
    return np.flatnonzero(screen(table).reason == Reason.SPIKE).tolist()


# --- words
# ------------------------------------------------------------------------------------------------


def test_names_are_those_of_the_outputs():
    assert REASON_NAMES == (
        "",
        "no_position",
        "no_time",
        "not_fixed",
        "poor_accuracy",
        "repeat",
        "spike",
        "height_spike",
        "backtrack",
        "too_short",
        "unconfirmed",
    )
    assert [REASON_NAMES[reason] for reason in Reason if reason] == [
        reason.name.lower() for reason in Reason if reason
    ]


@pytest.mark.parametrize(
    ("reason", "amount", "words"),
    [
        (Reason.KEPT, np.nan, ""),
        (Reason.NO_POSITION, 1, "no usable position"),
        (Reason.NO_POSITION, 3, "3 points"),
        (Reason.NO_TIME, np.nan, "no time"),
        (Reason.NOT_FIXED, np.nan, "not RTK fixed"),
        (Reason.POOR_ACCURACY, 0.0712, "0.071 m"),
        (Reason.REPEAT, np.nan, "same time"),
        (Reason.SPIKE, 0.456, "0.46 m"),
        (Reason.HEIGHT_SPIKE, 0.3, "0.30 m"),
        (Reason.BACKTRACK, 2.5, "2.50 m"),
        (Reason.TOO_SHORT, 0.21, "0.21 m"),
    ],
)
def test_each_reason_in_words(reason, amount, words):
    (text,) = describe([reason], [amount])
    assert words in text and "nan" not in text
    assert bool(text) == (reason != Reason.KEPT)


# --- order and repeats
# ----------------------------------------------------------------------------------------------


def test_order_is_by_capture_and_time():
    table = table_of(
        np.zeros(6), np.zeros(6), seconds=[3.0, 1.0, 2.0, 1.0, 3.0, 2.0], capture=[1, 1, 0, 0, 0, 1]
    )
    assert_array_equal(time_order(table, np.arange(6)), [3, 2, 4, 1, 5, 0])
    assert_array_equal(time_order(table, np.array([0, 2, 5])), [2, 5, 0])


@STABLE
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


# --- what the stream is like
# ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("interval", [0.1, 0.2, 1.0, 2.0, 5.0])
def test_interval_spacing_and_limits(interval):
    s = np.arange(200) * 1.25 * interval
    stream = screen(table_of(s, 0 * s, seconds=np.arange(200) * interval)).stream
    assert stream.interval[0] == pytest.approx(interval)
    assert stream.spacing[0] == pytest.approx(1.25 * interval)
    assert stream.time_limit[0] == pytest.approx(max(3.5 * interval, 2.0))
    assert stream.distance_limit[0] == pytest.approx(max(3.5 * 1.25 * interval, 2.0))


def test_standing_and_lost_epochs_do_not_shorten_the_spacing():
    x, y = straight(100, 0.004)
    stood = np.r_[0:50, [50] * 60, 51:100]
    lost = np.delete(np.arange(len(stood)), np.arange(5, 40, 3))
    rng = np.random.default_rng(1)
    table = table_of(
        x[stood] + rng.normal(0, 0.004, len(stood)), y[stood] + rng.normal(0, 0.004, len(stood))
    )
    stream = screen(take(table, lost)).stream
    assert stream.spacing[0] == pytest.approx(STEP, rel=0.02)
    assert stream.interval[0] == 1.0


@pytest.mark.parametrize("noise", [0.004, 0.008, 0.02])
@pytest.mark.parametrize("shape", ["straight", "bend"])
def test_noise_is_found(noise, shape):
    parts = [("line", 900.0)] if shape == "straight" else [("arc", 60.0, 340.0)]
    x, y = along(parts, noise, 3)
    z = 5 + np.random.default_rng(9).normal(0, 1.5 * noise, len(x))
    stream = screen(table_of(x, y, z=z)).stream
    assert stream.noise[0] == pytest.approx(noise, rel=0.15)
    assert stream.noise_up[0] == pytest.approx(1.5 * noise, rel=0.15)


def test_each_capture_has_its_own_stream():
    quiet, rough = straight(200, 0.006, 1), straight(200, 0.012, 2)
    x, y = np.r_[quiet[0], rough[0]], np.r_[quiet[1], rough[1]]
    stream = screen(
        table_of(
            x,
            y,
            seconds=np.r_[np.arange(200.0), np.arange(200) * 2.0],
            capture=np.repeat([0, 2], 200),
        )
    ).stream
    assert_allclose(stream.interval[[0, 2]], [1.0, 2.0])  # no row has code 1
    assert stream.noise[0] < 0.75 * stream.noise[2]


def test_rounded_coordinates_do_not_pass_for_perfect():
    x = np.arange(50) * STEP
    assert screen(table_of(x, 0 * x)).stream.noise[0] == pytest.approx(screening.SMALLEST_NOISE)


@pytest.mark.parametrize("count", [0, 1, 2, 4])
def test_too_few_epochs_to_tell(count):
    x, y = straight(10)
    stream = screen(take(table_of(x, y), np.arange(count))).stream
    assert len(stream.interval) == min(count, 1)
    assert np.isfinite(stream.spacing).all() and np.isfinite(stream.noise).all()
    assert_allclose(stream.time_limit, [3.5] * min(count, 1))


def test_limits_of_the_user_replace_those_of_the_stream():
    x, y = straight(30)
    stream = screen(table_of(x, y), Settings(max_time_gap=7.0, max_distance_gap=3.0)).stream
    assert_array_equal(stream.time_limit, [7.0])
    assert_array_equal(stream.distance_limit, [3.0])
    assert not stream.own_time_limit


# --- spikes
# ------------------------------------------------------------------------------------------------


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
def test_repeated_look_equals_a_look_at_everything(made, monkeypatch):
    # Only what lies near a spike is tested again: the same comes out when all epochs are.
    tables = [trial(21, 12)[0]] if made == "walks" else [wander(seed, 400) for seed in range(60)]
    near = [screen(table).reason for table in tables]
    monkeypatch.setattr(screening, "REACH", 10**7)
    for table, reason in zip(tables, near):
        assert_array_equal(screen(table).reason, reason)


@STABLE
@given(st.lists(st.integers(0, 30), max_size=5), st.integers(1, 31), st.integers(0, 40))
def test_places_around(places, size, reach):
    places = [place for place in places if place < size]
    expected = [any(abs(k - place) <= reach for place in places) for k in range(size)]
    assert_array_equal(screening.places_around(np.array(places, int), size, reach), expected)


# --- heights
# ------------------------------------------------------------------------------------------------


def test_height_off_by_hand():
    z = np.array([0.0, 0.0, 1.0, 0.0, 0.0, 0.2, 0.4, 0.6])
    assert_allclose(
        screening.height_off(z, np.ones(7, bool)), [0, 0, 1.0, 0, 0, 0, 0, 0], atol=1e-12
    )
    assert_array_equal(screening.height_off(z, np.zeros(7, bool)), 0)
    assert_array_equal(screening.height_off(z[:2], np.ones(1, bool)), 0)


def test_heights_are_ok_where_there_are_any():
    x, y = straight(30)
    z = np.full(30, 4.0)
    z[3] = np.nan
    z[12] += 0.6
    fixed = np.arange(30) != 20
    result = screen(table_of(x, y, z=z, fixed=fixed))
    assert_array_equal(np.flatnonzero(~result.height_ok), [3, 12, 20])
    assert_array_equal(np.flatnonzero(result.reason), [20])


# --- predictions
# ------------------------------------------------------------------------------------------------


def test_distances_from_rays_by_hand():
    off = screening.off_ray(
        np.array([1.0, -1.0, 2.0]), np.array([1.0, 1.0, 0.0]), 0.0, 0.0, 3.0, 0.0
    )
    assert_allclose(off, [1.0, np.sqrt(2), 0.0])


def test_nothing_stands_off_a_straight_or_a_circle():
    for parts in ([("line", 30.0)], [("arc", 8.0, 300.0)]):
        x, y = along(parts)
        linked, still, every = np.ones(len(x) - 1, bool), np.full(len(x), 0.05), np.arange(len(x))
        assert screening.stand_off(x, y, linked, still, np.zeros(len(x)))[0].max() < 1e-6
        # the cubic misses a circle by little
        assert screening.off_cubic(x, y, linked, still, every)[2:-2].max() < 0.02


def test_what_is_no_farther_off_than_anyone_asks_is_not_looked_at():
    table, _ = trial(5, 4)
    rows = unusable(table, 0.05)[-1]
    x, y = table.x[rows], table.y[rows]
    linked, still = np.diff(table.capture[rows]) == 0, np.full(len(x), 0.05)
    off, across = screening.stand_off(x, y, linked, still, np.zeros(len(x)))
    assert (off <= across).all() and np.count_nonzero(off > 0.01) > 5
    far, same = screening.stand_off(x, y, linked, still, np.full(len(x), 0.01))
    assert_array_equal(far, np.where(off > 0.01, off, 0.0))
    assert_array_equal(same, across)


def test_outliers_lose_weight():
    x, y = np.arange(40) * STEP, np.zeros(40)
    variance = np.full(40, 0.01**2)
    limit = 1.3 * HUBER * 0.01
    y[[5, 15, 25, 35]] += limit * np.array([0.0, 0.99, 2.0, 10.0])
    factor = lessen_outliers(x, y, np.ones(39, bool), np.full(40, 0.05), variance) / variance
    assert_allclose(factor[[5, 15, 25, 35]], [1, 1, 4, 100])
    assert_allclose(np.delete(factor, [5, 15, 25, 35]), 1.0)
