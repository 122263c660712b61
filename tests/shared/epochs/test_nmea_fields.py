"""Columns of sentences' fields, and which fields cannot be read."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.nmea_fields import COLUMNS, GGA, KINDS, PARSERS, RMC, ZDA, Fields


def fields_of(*sentences):
    """Fields of sentences given without ``$`` and checksum."""
    text = "".join(f"${one}*" for one in sentences).encode()
    buffer = np.frombuffer(text + bytes(64), np.uint8)
    start = np.flatnonzero(buffer == ord("$"))
    end = np.flatnonzero(buffer == ord("*"))
    return Fields(buffer, np.flatnonzero(buffer == ord(",")), start, end)


def test_fields_are_numbered_from_one_and_may_be_missing():
    fields = fields_of("GPX,ab,,c", "GPX,d")
    assert_array_equal(fields.text(1), [b"ab", b"d"])
    assert_array_equal(fields.span(2)[1], [0, 0])
    assert_array_equal(fields.letter(3), [ord("c"), 0])
    assert_array_equal(fields.letter(1), [255, ord("d")])
    fields.need(3)
    assert_array_equal(fields.bad, [False, True])


@pytest.mark.parametrize(
    ("text", "value"),
    [("12", 12.0), ("-0.25", -0.25), ("+3.5", 3.5), (".5", 0.5), ("7.", 7.0), ("", np.nan)],
)
def test_numbers(text, value):
    fields = fields_of(f"GPX,{text},")
    assert_array_equal(fields.number(1), [value])
    assert not fields.bad.any()


@pytest.mark.parametrize("text", ["1x", "1.2.3", "-", ".", "1-2", "9" * 18, "1" * 41])
def test_what_is_no_number_cannot_be_read(text):
    fields = fields_of(f"GPX,{text},")
    fields.number(1)
    assert fields.bad.all()


@pytest.mark.parametrize(("text", "bad"), [("32767", False), ("32768", True), ("1.5", True)])
def test_integers_fit_their_column(text, bad):
    fields = fields_of(f"GPX,{text}")
    assert fields.integer(1)[0] == (-1 if bad else int(text))
    assert fields.bad[0] == bad


@pytest.mark.parametrize(
    ("text", "seconds"), [("000000", 0.0), ("235960.5", 86400.5), ("070227.25", 25347.25)]
)
def test_times_of_day(text, seconds):
    fields = fields_of(f"GPX,{text}")
    assert fields.time(1)[0] == seconds and not fields.bad.any()


@pytest.mark.parametrize(
    "text", ["240000", "006000", "000061", "-000001", "10000", "10000.00", "1000000.0", "10000000"]
)
def test_times_that_no_clock_shows(text):
    fields = fields_of(f"GPX,{text}")
    fields.time(1)
    assert fields.bad.all()


@pytest.mark.parametrize(
    ("text", "degrees"), [("5530.0,N", 55.5), ("5530.0,S", -55.5), ("00006.0,N", 0.1)]
)
def test_angles(text, degrees):
    fields = fields_of(f"GPX,{text}")
    assert fields.angle(1, 90, b"NS")[0] == pytest.approx(degrees, abs=1e-15)
    assert not fields.bad.any()


@pytest.mark.parametrize("text", ["5560.0,N", "9000.1,N", "5530.0,E", "5530.0,", "-5530.0,N"])
def test_angles_out_of_range_or_without_a_side(text):
    fields = fields_of(f"GPX,{text}")
    fields.angle(1, 90, b"NS")
    assert fields.bad.all()


def test_metres_have_no_other_unit():
    fields = fields_of("GPX,1.5,M", "GPX,1.5,", "GPX,1.5,f")
    assert_array_equal(fields.metres(1), [1.5, 1.5, 1.5])
    assert_array_equal(fields.bad, [False, False, True])


@pytest.mark.parametrize(
    ("text", "days"), [("01,01,1970", 0), ("29,02,2024", 19782), ("14,05,2025", 20222)]
)
def test_dates_of_zda(text, days):
    fields = fields_of(f"GPZDA,070227.00,{text},00,00")
    assert PARSERS[ZDA](fields)["days"][0] == days and not fields.bad.any()


@pytest.mark.parametrize("text", ["29,02,2025", "31,04,2025", "00,01,2025", "01,13,2025"])
def test_dates_that_no_calendar_has(text):
    fields = fields_of(f"GPZDA,070227.00,{text},00,00")
    PARSERS[ZDA](fields)
    assert fields.bad.all()


def test_years_of_two_digits():
    fields = fields_of("GPRMC,1,V,,,,,,,010170", "GPRMC,1,V,,,,,,,010180", "GPRMC,1,V,,,,,,,010179")
    days = PARSERS[RMC](fields)["days"]
    years = days.astype("M8[D]").astype("M8[Y]").astype(int) + 1970
    assert_array_equal(years, [2070, 1980, 2079])


def test_every_kind_has_its_columns():
    assert [KINDS[kind] for kind in COLUMNS] == list(KINDS[1:]) and set(PARSERS) == set(COLUMNS)
    own = {"start", "line", "talker"}
    for kind, columns in COLUMNS.items():
        table = PARSERS[kind](fields_of(f"GP{KINDS[kind]}" + "," * 15))
        assert set(table) == set(columns) - own
    assert np.dtype(COLUMNS[GGA]["quality"]) == np.int16
