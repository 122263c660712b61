"""Times of any usual kind as seconds since 1970."""

import calendar
from datetime import date, datetime, timedelta, timezone

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs import times
from curbwright.shared.epochs.times import parse_times, zoned

MAY_4 = 1777888800.0  # 2026-05-04T10:00:00Z
MICROSECOND = 1e-6


def seconds(*texts):
    return parse_times(list(texts))[0]


def test_the_reference_itself():
    assert datetime(2026, 5, 4, 10, tzinfo=timezone.utc).timestamp() == MAY_4


# --- text
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "2026-05-04T10:00:00Z",
        "2026-05-04T10:00:00",
        "2026-05-04 10:00:00",
        "2026-05-04t10:00:00z",
        "2026-05-04T10:00",
        "2026-05-04T10:00Z",
        "2026-05-04T10:00:00.000Z",
        "2026-05-04T10:00:00,000",
        " 2026-05-04T10:00:00Z ",
        "2026-05-04 10:00:00 UTC",
        "2026-05-04 10:00:00 GMT",
        "2026-05-04T12:00:00+02:00",
        "2026-05-04T12:00:00+0200",
        "2026-05-04T12:00:00+02",
        "2026-05-04 12:00:00 +02:00",
        "2026-05-04T06:30:00-03:30",
        "2026-05-04T10:00:00+00:00",
        "2026-05-04T10:00:00-00:00",
        "2026-05-05T00:00:00+14:00",
        "20260504T100000Z",
        "20260504T100000",
        "20260504T1000Z",
        "20260504T120000+0200",
        "20260504T120000+02",
        "20260504T063000-0330",
        "2026/05/04 10:00:00",
        "2026/05/04 10:00:00.000",
        "2026/05/04T10:00:00Z",
        "2026/5/4 10:00:00",
        "2026/05/04 12:00:00+02:00",
    ],
)
def test_forms_of_one_instant(text):
    assert_array_equal(seconds(text), [MAY_4])
    # beside a text of another form, so that both ways of reading are taken in one call
    assert_array_equal(
        seconds("2026-05-04T10:00:01Z", text, "2026-05-04T10:00:02.5Z"),
        [MAY_4 + 1, MAY_4, MAY_4 + 2.5],
    )


@pytest.mark.parametrize(
    "text",
    [
        "",
        " ",
        "yesterday",
        "10:00:00",
        "2026-05",
        "2026-13-01T00:00:00Z",
        "2026-00-10T00:00:00Z",
        "2026-02-29T00:00:00Z",
        "2026-04-31T00:00:00Z",
        "2026-05-32T00:00:00Z",
        "2026-05-00T00:00:00Z",
        "2026-05-04T24:01:00Z",
        "2026-05-04T10:60:00Z",
        "2026-05-04T10:00:61Z",
        "0000-01-01T00:00:00Z",
        "2026-05-04T10:00:00.Z",
        "2026-05-04T10:00:00Zulu",
        "2026-05-04T10:00:00ZZ",
        "2026-05-04T10:00:00+2:00",
        "2026-05-04T10:00:00+99:99",
        "2026.05.04 10:00:00",
        "04.05.26 10:00:00",
        "2026-05-04T10:00:00.12a",
        "1900-02-29T00:00:00",
    ],
)
def test_texts_that_are_no_time(text):
    read, kind = parse_times(["2026-05-04T10:00:00Z", text])
    assert_array_equal(read, [MAY_4, np.nan])
    assert kind == "ISO 8601 text"


def test_date_alone_is_midnight():
    assert_array_equal(seconds("2026-05-04", "20260504"), [MAY_4 - 36000] * 2)


@pytest.mark.parametrize("year", [1600, 1900, 1970, 1999, 2000, 2023, 2024, 2100])
def test_month_lengths(year):
    # The last day of each month is read, the day after it is not; both in bulk and one by one.
    for month in range(1, 13):
        last = calendar.monthrange(year, month)[1]
        good, bad = (
            f"{year:04d}-{month:02d}-{last:02d}T23:59:59",
            f"{year:04d}-{month:02d}-{last + 1:02d}T00:00:00",
        )
        expected = (datetime(year, month, last, 23, 59, 59) - datetime(1970, 1, 1)).total_seconds()
        assert_array_equal(
            seconds(good, bad, good + " UTC", bad + " UTC"), [expected, np.nan, expected, np.nan]
        )


@pytest.mark.parametrize("tail", ["", "Z", "+00:00", ".5", ".5Z"])
def test_leap_second(tail):
    # ISO 8601-1 lets 60 stand for a positive leap second; 2016-12-31 had the last one (IERS
    # Bulletin C 52). Unix time has no number of its own for it and counts it as the second that
    # follows.
    after = datetime(2017, 1, 1, tzinfo=timezone.utc).timestamp()
    assert_array_equal(
        seconds("2016-12-31T23:59:60" + tail), [after + (0.5 if ".5" in tail else 0.0)]
    )


iso_moments = st.datetimes(datetime(1, 1, 2), datetime(9999, 12, 30))
zones = st.one_of(
    st.none(),
    st.just(timezone.utc),
    st.integers(-14 * 60, 14 * 60).map(lambda m: timezone(timedelta(minutes=m))),
)


@given(
    iso_moments,
    zones,
    st.sampled_from(["T", " "]),
    st.sampled_from(["auto", "seconds", "milliseconds", "microseconds"]),
)
@example(datetime(2026, 5, 4, 10), None, "T", "auto")
@example(datetime(2026, 5, 4, 10, 0, 0, 1), timezone.utc, "T", "auto")
@example(datetime(1969, 12, 31, 23, 59, 59, 999999), timezone.utc, " ", "milliseconds")
def test_reads_what_python_reads(moment, zone, separator, precision):
    text = moment.replace(tzinfo=zone).isoformat(separator, precision)
    expected = datetime.fromisoformat(text)
    expected = expected if expected.tzinfo else expected.replace(tzinfo=timezone.utc)
    whole = (expected - datetime(1970, 1, 1, tzinfo=timezone.utc)).total_seconds()
    # rtol: one step of float64, which is 5e-7 s in 2100 and 3e-5 s in 9999
    assert_allclose(seconds(text), [whole], rtol=2.5e-16, atol=MICROSECOND)


@given(
    st.lists(
        st.tuples(
            iso_moments,
            st.integers(0, 9),
            st.sampled_from(["", "Z", "z"]),
            st.sampled_from(["T", "t", " "]),
        ),
        min_size=1,
        max_size=20,
    )
)
def test_bulk_and_one_by_one_agree(rows):
    texts = []
    for moment, digits, zone, separator in rows:
        fraction = f"{moment.microsecond:06d}123"[:digits]
        texts.append(
            moment.strftime(f"{moment.year:04d}-%m-%d{separator}%H:%M:%S")
            + ("." + fraction if digits else "")
            + zone
        )
    bulk, plain = times._plain_iso(np.array(texts))
    assert plain.all()
    assert_allclose(
        bulk, [times._seconds_of_text(text) for text in texts], rtol=2.5e-16, atol=MICROSECOND
    )


two_digits = st.integers(0, 99)
# of the right form, whatever the numbers; to draw from a regular expression takes ten times as long
in_form = st.builds(
    "{:04d}-{:02d}-{:02d}{}{:02d}:{:02d}:{:02d}{}{}".format,
    st.integers(0, 9999),
    two_digits | st.integers(1, 12),
    two_digits | st.integers(1, 28),
    st.sampled_from("T "),
    two_digits | st.integers(0, 24),
    two_digits | st.integers(0, 60),
    two_digits | st.integers(0, 60),
    st.sampled_from(["", ".", ".5", ".00", ".999"]),
    st.sampled_from(["", "Z"]),
)


@pytest.mark.one_host
@given(st.lists(st.text("0123456789-:T .,Zz+", max_size=26) | in_form, min_size=1, max_size=10))
def test_bulk_never_reads_what_one_by_one_refuses(texts):
    bulk, plain = times._plain_iso(np.array(texts))
    single = np.array([times._seconds_of_text(text) for text in texts])
    assert_allclose(bulk[plain], single[plain], rtol=2.5e-16, atol=MICROSECOND)


def test_fractions_of_any_length():
    texts = ["2026-05-04T10:00:00." + "123456789012"[:digits] for digits in range(1, 13)]
    expected = [MAY_4 + float("0." + "123456789012"[:digits]) for digits in range(1, 13)]
    assert_allclose(seconds(*texts), expected, rtol=0, atol=5e-7)


# --- numbers
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("factor", "kind"),
    [(1, "seconds"), (1000, "milliseconds since 1970"), (1_000_000, "microseconds since 1970")],
)
@pytest.mark.parametrize("dtype", [float, np.int64, object, str])
def test_numbers_are_told_apart_by_size(factor, kind, dtype):
    values = np.array([int(MAY_4 * factor) + factor * k for k in range(3)]).astype(dtype)
    read, found = parse_times(values)
    assert_array_equal(read, MAY_4 + np.arange(3))
    assert found == (f"{kind}, as text" if dtype is str else kind)


def test_running_seconds_of_a_receiver():
    read, kind = parse_times([0.0, 0.2, 0.4, 604799.8])
    assert_array_equal(read, [0.0, 0.2, 0.4, 604799.8])
    assert kind == "seconds"


@pytest.mark.parametrize("dtype", ["M8[s]", "M8[ms]", "M8[us]", "M8[ns]"])
def test_datetime64(dtype):
    values = np.array(["2026-05-04T10:00:00", "NaT", "1969-12-31T23:59:59"], dtype)
    read, kind = parse_times(values)
    assert_array_equal(read, [MAY_4, np.nan, -1.0])
    assert kind == "date-time"


def test_datetime64_keeps_the_fraction():
    assert_allclose(
        parse_times(np.array(["2026-05-04T10:00:00.125"], "M8[ms]"))[0],
        [MAY_4 + 0.125],
        rtol=0,
        atol=1e-7,
    )


def test_datetimes_with_and_without_zone():
    east = timezone(timedelta(hours=2))
    values = np.array(
        [
            datetime(2026, 5, 4, 12, tzinfo=east),
            datetime(2026, 5, 4, 10),
            None,
            np.datetime64("2026-05-04T10:00:01"),
        ],
        object,
    )
    read, kind = parse_times(values)
    assert_array_equal(read, [MAY_4, MAY_4, np.nan, MAY_4 + 1])
    assert kind == "date-time"


def test_dates_are_midnight():
    assert_array_equal(
        parse_times(np.array([date(2026, 5, 4), None], object))[0], [MAY_4 - 36000, np.nan]
    )


# --- absent
# ------------------------------------------------------------------------------------------------


def test_absent_values():
    assert_array_equal(
        parse_times([np.nan, 1.0, np.inf, -np.inf])[0], [np.nan, 1.0, np.nan, np.nan]
    )
    assert_array_equal(parse_times(np.array([None, 5, np.nan], object))[0], [np.nan, 5.0, np.nan])
    assert_array_equal(
        parse_times(np.array([None, "2026-05-04T10:00:00Z", np.nan, ""], object))[0],
        [np.nan, MAY_4, np.nan, np.nan],
    )


@pytest.mark.parametrize(
    "data",
    [
        np.array([MAY_4, MAY_4]),
        np.array([int(MAY_4)] * 2),
        np.array(["2026-05-04T10:00:00Z"] * 2),
        np.array(["2026-05-04T10:00:00"] * 2, "M8[ms]"),
        np.array([str(int(MAY_4))] * 2),
    ],
    ids=["float", "int", "text", "datetime64", "number as text"],
)
def test_masked_values_are_absent(data):
    assert_array_equal(parse_times(np.ma.masked_array(data, [False, True]))[0], [MAY_4, np.nan])


def test_masked_values_do_not_decide_the_unit():
    assert_array_equal(
        parse_times(np.ma.masked_array([1.0, 2e12], [False, True]))[0], [1.0, np.nan]
    )


@pytest.mark.parametrize(
    "values",
    [
        [],
        np.empty(0, object),
        np.empty(0, str),
        np.empty(0, "M8[ms]"),
        np.ma.masked_array([], [], dtype=float),
    ],
    ids=["list", "object", "text", "datetime64", "masked"],
)
def test_no_values(values):
    assert parse_times(values)[0].shape == (0,)


@pytest.mark.parametrize(
    "values",
    [
        np.array([None, None], object),
        [np.nan, np.nan],
        ["", "x"],
        np.array(["NaT", "NaT"], "M8[s]"),
        np.ma.masked_array([1.0, 2.0], [True, True]),
        np.ma.masked_array([np.nan, 2.0], [False, True]),
        np.ma.masked_array(["a", "b"], [True, True]),
    ],
    ids=["none", "nan", "text", "nat", "masked", "masked and nan", "masked text"],
)
@pytest.mark.filterwarnings("error")
def test_nothing_to_read(values):
    assert_array_equal(parse_times(values)[0], [np.nan, np.nan])


def test_bytes_are_text():
    assert_array_equal(parse_times(np.array([b"2026-05-04T10:00:00Z", b""]))[0], [MAY_4, np.nan])


def test_input_is_left_alone():
    values = np.array([1.7e12, np.inf])
    parse_times(values)
    assert_array_equal(values, [1.7e12, np.inf])


@pytest.mark.parametrize(
    ("text", "iso"),
    [
        ("04.05.2026 10:00:03", "2026-05-04T10:00:03"),
        ("04.05.2026 10:00:03.25", "2026-05-04T10:00:03.25"),
        ("4.5.2026 9:00:03", "2026-05-04T09:00:03"),
        ("31.12.2026", "2026-12-31"),
        ("04.05.2026, 10:00:03+02:00", "2026-05-04T08:00:03"),
    ],
)
def test_dates_with_dots_have_the_day_first(text, iso):
    seconds, _ = parse_times(np.array([text, text]))
    assert seconds.tolist() == parse_times(np.array([iso, iso]))[0].tolist()
    assert np.isfinite(seconds).all()


def test_dates_with_dots_that_are_none():
    assert np.isnan(parse_times(np.array(["05.13.2026 10:00:03", "1.2.3", "10.11.12"]))[0]).all()


def test_which_texts_name_a_zone():
    bare = ["2026-05-04T10:00:00", "2026-05-04 10:00", "2026-05-04", "", "20260504100000"]
    named = ["2026-05-04T10:00:00Z", "2026-05-04 10:00 UTC", "2026-05-04T10:00+02", "x"]
    named[3] = "2026-05-04T10:00:00.5-0330 "
    assert zoned(np.array(bare)).tolist() == [False] * 5
    assert zoned(np.array(named)).tolist() == [True] * 4
