"""Numbers as times. Origins and their worked values: 1970 is serial day 25569 of spreadsheets and
MJD 40587; FILETIME of 1970 is 116444736000000000 ([MS-DTYP]); System.DateTime ticks of 1970 are
621355968000000000; JD 2451545.0 is 2000-01-01T12:00 (IAU)."""

import numpy as np
import pytest

from curbwright.shared.epochs.number_times import without_wild
from curbwright.shared.epochs.times import parse_times

UNIX = 1777888800.0 + np.arange(300.0)  # 2026-05-04T10:00:00Z on
DATES = UNIX.astype("M8[s]").astype(object)


def digits(form):
    return np.array([int(one.strftime(form)) for one in DATES])


WHOLE = UNIX.astype(np.int64)


@pytest.mark.parametrize(
    ("numbers", "kind"),
    [
        (digits("%Y%m%d%H%M%S"), "yyyymmddhhmmss"),
        (digits("%Y%m%d%H%M%S").astype(float), "yyyymmddhhmmss"),
        (digits("%Y%m%d%H%M%S") * 1000, "yyyymmddhhmmssfff"),
        (UNIX / 86400 + 25569, "1899-12-30"),
        (UNIX / 86400 + 40587, "modified Julian"),
        (UNIX / 86400 + 2440587.5, "Julian"),
        (UNIX / 86400 + 719529, "year 0"),
        (WHOLE * 10**7 + 116444736000000000, "since 1601"),
        (WHOLE * 10**7 + 621355968000000000, "year 1"),
        (WHOLE * 10**9, "nanoseconds"),
        (WHOLE * 10**6, "microseconds"),
        (WHOLE * 1000, "milliseconds"),
        (WHOLE, "seconds"),
    ],
    ids=lambda value: value if isinstance(value, str) else "",
)
@pytest.mark.parametrize("as_text", [False, True])
def test_dates_as_numbers(numbers, kind, as_text):
    values = np.array([repr(one) for one in numbers.tolist()]) if as_text else numbers
    seconds, said = parse_times(values)
    assert kind in said
    np.testing.assert_allclose(seconds, UNIX, rtol=0, atol=1e-4)


@pytest.mark.parametrize(
    "numbers", [digits("%H%M%S"), (UNIX / 86400) % 1, UNIX % 604800], ids=["hhmmss", "days", "week"]
)
def test_times_without_a_date_go_on(numbers):
    np.testing.assert_allclose(np.diff(parse_times(numbers)[0]), 1.0, atol=1e-4)


def test_a_day_that_begins_anew_goes_on():
    clock = (UNIX + 50300.0) % 86400
    assert clock[-1] < clock[0]
    np.testing.assert_allclose(np.diff(parse_times(clock)[0]), 1.0)


@pytest.mark.parametrize("wild", [0.0, 1e18, -1e300, 1.0, 1e12, 4e9])
def test_one_wild_value_among_good_ones(wild):
    numbers = UNIX.copy()
    numbers[7] = wild
    seconds, kind = parse_times(numbers)
    assert kind == "seconds" and np.flatnonzero(np.isnan(seconds)).tolist() == [7]
    assert (np.delete(seconds, 7) == np.delete(UNIX, 7)).all()


@pytest.mark.parametrize("numbers", [WHOLE * 10**7, UNIX / 86400 + 30000])
def test_what_could_be_several_dates_is_not_read(numbers):
    assert np.isnan(parse_times(numbers)[0]).all()


def test_plain_seconds_stay_plain():
    for numbers in (np.arange(0.0, 500.0), np.arange(0.0, 86400.0, 60.0), 46146.0 + UNIX % 1000):
        seconds, kind = parse_times(numbers)
        assert kind == "seconds" and (seconds == numbers).all()


def test_dates_of_text_that_lie_decades_away_are_none():
    seconds = np.append(UNIX, [0.0, 315964800.0, 253402300799.0])
    assert np.isnan(without_wild(seconds)).sum() == 3
