"""Dates for times of day, and sentences of one time, on tables made by hand."""

from datetime import date

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.nmea_dates import (
    DAY,
    EPOCH,
    UndatedError,
    date_sentences,
    match_times,
    whole_milliseconds,
)
from curbwright.shared.tuning import override

MAY_14 = (date(2025, 5, 14).toordinal() - EPOCH) * DAY


def table(start, tod, days=None):
    out = {"start": np.array(start, np.int64), "tod": np.array(tod, float)}
    if days is not None:
        out["days"] = np.array(days, np.int32)
    return out


NONE = table([], [])
UNDATED = table([], [], [])


def test_the_given_day_is_that_of_the_first_time():
    gga = table([0, 10, 20], [86399.0, np.nan, 0.5])
    (seconds, *_), dated_by = date_sentences(gga, NONE, UNDATED, UNDATED, date(2025, 5, 14))
    assert_array_equal(seconds, [MAY_14 + 86399.0, np.nan, MAY_14 + DAY + 0.5])
    assert dated_by == "given"


@pytest.mark.parametrize("block", [1, 2, 100])
def test_dates_come_from_the_nearest_sentence_whatever_the_block(block):
    gga = table([0, 10, 30, 40], [100.0, 86390.0, 5.0, 7.0])
    rmc = table([20], [86395.0], [MAY_14 / DAY])
    with override(NMEA__dating_block=block):
        (seconds, _, dated, _), dated_by = date_sentences(gga, NONE, rmc, UNDATED, None)
    assert_array_equal(seconds, MAY_14 + np.array([100.0, 86390.0, DAY + 5.0, DAY + 7.0]))
    assert_array_equal(dated, [MAY_14 + 86395.0])
    assert dated_by == "RMC"


@pytest.mark.parametrize(("behind", "midnights"), [(59.0, 0), (61.0, 1)])
def test_a_sentence_may_be_a_minute_late(behind, midnights):
    gga = table([0, 10], [1000.0, 1000.0 - behind])
    (seconds, *_), _ = date_sentences(gga, NONE, UNDATED, UNDATED, date(2025, 5, 14))
    assert seconds[1] == MAY_14 + 1000.0 - behind + midnights * DAY


def test_times_without_any_date_are_refused():
    with pytest.raises(UndatedError, match="RMC.*ZDA"):
        date_sentences(table([0], [1.0]), NONE, UNDATED, UNDATED, None)


def test_nothing_needs_no_date():
    seconds, dated_by = date_sentences(NONE, table([0], [5.0]), UNDATED, UNDATED, None)
    assert [len(one) for one in seconds] == [0, 1, 0, 0] and np.isnan(seconds[1]).all()
    assert dated_by == ""


def test_whole_milliseconds_take_the_rounding_of_floats_away():
    assert_array_equal(whole_milliseconds(np.array([0.1 + 0.2, 0.3, 1.0004])), [300, 300, 1000])
    assert (whole_milliseconds(np.array([np.nan, np.nan])) < -(10**12)).all()


def test_the_same_talker_goes_before_another_one():
    seconds, talker = np.array([1.0, 2.0, np.nan, 4.0]), np.array([7, 7, 7, 7])
    other, of = np.array([1.0, 1.0, 2.0, np.nan]), np.array([9, 7, 9, 7])
    assert_array_equal(match_times(seconds, talker, other, of), [1, 2, -1, -1])
    assert_array_equal(match_times(seconds, talker, other[:0], of[:0]), [-1] * 4)


def walked(days, tod=None):
    """Seconds of GGA sentences once a second with a dated RMC of each; `days` from May 14."""
    n = len(days)
    tod = 36000.0 + np.arange(n) if tod is None else np.asarray(tod, float)
    rmc = table(2 * np.arange(n) + 1, tod % DAY, MAY_14 / DAY + np.asarray(days))
    (seconds, *_), _ = date_sentences(table(2 * np.arange(n), tod % DAY), NONE, rmc, UNDATED, None)
    return seconds - MAY_14 - tod


def test_the_date_of_a_cold_start_is_wrong():
    assert (walked([-9000] * 20 + [0] * 40) == 0).all()


def test_a_week_count_that_has_rolled_over_is_wrong():
    assert (walked([-7168] * 30 + [0] * 30) == 0).all()


def test_dates_that_jump_for_a_moment_are_wrong():
    days = np.zeros(60, int)
    days[[7, 8, 30]] = 1, 1, -400
    assert (walked(days) == 0).all()


def test_a_date_that_comes_late_at_midnight_is_wrong():
    tod = DAY - 30 + np.arange(60.0)
    assert (walked([0] * 33 + [1] * 27, tod) == 0).all()


def test_a_later_session_has_a_date_of_its_own():
    tod = np.append(36000.0 + np.arange(20), 50000.0 + np.arange(20))
    assert walked([0] * 20 + [3] * 20, tod).tolist() == [0] * 20 + [3 * DAY] * 20


def test_walks_of_two_days_at_nearly_one_time_of_day_keep_their_dates():
    """The second begins less than a minute before the first one ended, a day later."""
    clock = np.concatenate([36000.0 + np.arange(20), 36000.0 + np.arange(20)])
    days = np.repeat([MAY_14 / DAY, MAY_14 / DAY + 1], 20)
    gga, rmc = table(np.arange(40) * 20, clock), table(np.arange(40) * 20 + 10, clock, days)
    (seconds, _, dated, _), _ = date_sentences(gga, NONE, rmc, UNDATED, None)
    assert_array_equal(seconds, days * DAY + clock)
    assert_array_equal(dated, days * DAY + clock)


def test_one_late_sentence_of_another_date_begins_no_walk():
    clock = 36000.0 + np.arange(20.0)
    days = np.full(20, MAY_14 / DAY)
    clock[9], days[9] = 36005.0, MAY_14 / DAY + 1
    rmc = table(np.arange(20) * 20, clock, days)
    (_, _, dated, _), _ = date_sentences(NONE, NONE, rmc, UNDATED, None)
    assert_array_equal(dated, MAY_14 + clock)
