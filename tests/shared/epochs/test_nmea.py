"""Logs of NMEA 0183 sentences: what is found, what is rejected, dates, sigmas; the same as pynmea2
reads."""

import io
import re
from datetime import date

import numpy as np
import pynmea2
import pytest
from nmealogs import gga, gst, random_log, read, rmc, sentence, unix, zda
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.nmea import (
    KINDS,
    SENTENCE_REASON_NAMES,
    Epochs,
    Rejected,
    read_log,
    read_texts,
)
from curbwright.shared.epochs.nmea_dates import UndatedError
from curbwright.shared.tuning import NMEA

DATE = rmc("070227.00", "140525")


def reasons(log):
    return [
        (KINDS[kind], SENTENCE_REASON_NAMES[reason])
        for kind, reason in zip(log.rejected.kind.tolist(), log.rejected.reason.tolist())
    ]


def assert_same(one, other):
    for name in Epochs.__dataclass_fields__:
        assert_array_equal(getattr(one.epochs, name), getattr(other.epochs, name), name)
    for name in Rejected.__dataclass_fields__:
        assert_array_equal(getattr(one.rejected, name), getattr(other.rejected, name), name)
    for name in ("sentences", "size", "rubbish", "dated_by", "unmatched", "rmc_only"):
        assert getattr(one, name) == getattr(other, name), name


# --- fields
# ------------------------------------------------------------------------------------------------


def test_one_epoch():
    log = read(gga("070227.25", "5530.0000000,S", "00307.5000000,W"), gst("070227.25"), DATE)
    epochs = log.epochs
    assert (epochs.latitude[0], epochs.longitude[0]) == (-55.5, -3.125)
    assert epochs.seconds[0] == unix("2025-05-14T07:02:27.250")
    assert (
        epochs.quality[0],
        epochs.satellites[0],
        epochs.hdop[0],
        epochs.age[0],
        epochs.station[0],
    ) == (4, 25, 0.5, 1.0, b"0042")
    assert (epochs.altitude[0], epochs.separation[0]) == (4.2212, 41.237)
    assert epochs.height[0] == pytest.approx(45.4582, abs=1e-9)  # h = H + N
    assert (epochs.sigma_latitude[0], epochs.sigma_longitude[0], epochs.sigma_altitude[0]) == (
        0.010,
        0.009,
        0.016,
    )
    # root of 0.010² + 0.009²
    assert epochs.sigma_horizontal[0] == pytest.approx(0.0134536, abs=1e-7)
    assert log.sentences == {"other": 0, "GGA": 1, "GST": 1, "RMC": 1, "ZDA": 0}
    assert not len(log.rejected) and log.rubbish == 0 and log.dated_by == "RMC"


def test_empty_fields_are_empty():
    epochs = read(
        sentence("GNGGA,,,,,,0,00,99.99,,,,,,"), sentence("GPGGA,070227.00,,,,,,,,,,,,,"), DATE
    ).epochs
    assert (
        np.isnan(epochs.latitude).all()
        and np.isnan(epochs.height).all()
        and np.isnan(epochs.age).all()
    )
    assert np.isnan(epochs.seconds[0]) and epochs.seconds[1] == unix("2025-05-14T07:02:27")
    assert epochs.quality.tolist() == [0, -1] and epochs.satellites.tolist() == [0, -1]
    assert epochs.hdop[0] == 99.99 and epochs.station.tolist() == [b"", b""]


@pytest.mark.parametrize(
    "text",
    [
        "0",
        "7",
        "-0.0001",
        "+12.5",
        ".5",
        "5.",
        "0123456789.012345",
        "299999999.1234567",
        "0.00000000000000000001234",
        "-299.999",
    ],
)
def test_numbers_are_the_nearest_doubles(text):
    epochs = read(gga("070227.00", rest=f"25,0.5,{text},M,41.237,M,1.0,0042"), DATE).epochs
    assert epochs.altitude[0] == pytest.approx(float(text), rel=1e-15, abs=1e-17)
    if len(text) <= 16:
        assert epochs.altitude[0] == float(text)


@pytest.mark.parametrize(
    "body",
    [
        pytest.param("GNGGA,070227.00,5556.7,N,00300.2,E", id="too few fields"),
        pytest.param("GNGGA,250227.00,5556.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="hour 25"),
        pytest.param(
            "GNGGA,070260.00,5556.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,".replace(
                "070260", "070262"
            ),
            id="second 62",
        ),
        pytest.param("GNGGA,07:02:27,5556.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="colons"),
        pytest.param("GNGGA,070227.00,5560.0,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="minute 60"),
        pytest.param(
            "GNGGA,070227.00,9100.0,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="latitude 91"
        ),
        pytest.param(
            "GNGGA,070227.00,5556.7,N,18100.2,E,4,25,0.5,4.2,M,41.2,M,,", id="longitude 181"
        ),
        pytest.param("GNGGA,070227.00,-5556.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="negative"),
        pytest.param(
            "GNGGA,070227.00,5556.7,E,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="latitude east"
        ),
        pytest.param("GNGGA,070227.00,5556.7,,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="no side"),
        pytest.param("GNGGA,070227.00,5556.7.1,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="two dots"),
        pytest.param("GNGGA,070227.00,5556.7,N,00300.2,E,x,25,0.5,4.2,M,41.2,M,,", id="quality x"),
        pytest.param(
            "GNGGA,070227.00,5556.7,N,00300.2,E,4,2.5,0.5,4.2,M,41.2,M,,", id="satellites 2.5"
        ),
        pytest.param("GNGGA,070227.00,5556.7,N,00300.2,E,4,25,-,4.2,M,41.2,M,,", id="a bare sign"),
        pytest.param("GNGGA,070227.00,5556.7,N,00300.2,E,4,25,0.5,4.2e1,M,41.2,M,,", id="exponent"),
        pytest.param("GNGGA,070227.00,5556.7,N,00300.2,E,4,25,0.5,4.2,F,41.2,M,,", id="feet"),
        pytest.param("GNGST,070227.00,0.1,0.1,0.1,1.0,0.1,nan,0.1", id="sigma nan"),
        pytest.param("GNGST,070227.00,0.1,0.1,0.1,1.0,0.1,-0.1,0.1", id="sigma below 0"),
        pytest.param(
            "GNGGA,70227.00,5556.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,", id="a digit missing"
        ),
        pytest.param("GNRMC,070227.00,A,5556.7,N,00300.2,E,,,310225,,,R", id="31 February"),
        pytest.param("GNRMC,070227.00,A,5556.7,N,00300.2,E,,,141325,,,R", id="month 13"),
        pytest.param("GNZDA,070227.00,32,05,2025,00,00", id="day 32"),
    ],
)
def test_unreadable(body):
    log = read(DATE, sentence(body), gga("070228.00"))
    assert reasons(log) == [(body[2:5], "unreadable")]
    assert len(log.epochs) == 1 and np.isfinite(log.epochs.seconds[0])


def test_other_talkers_and_makers():
    log = read(
        DATE,
        *(gga("070227.00", talker=talker) for talker in ("GP", "GN", "GL", "GA", "GB", "GI", "BD")),
        sentence("PXGGA,070227.00,1,2"),
        sentence("PABC,1"),
        sentence("GNTXT,GGA,1"),
    )
    assert len(log.epochs) == 7 and log.sentences["other"] == 3 and not len(log.rejected)


# --- framing and rejection
# ------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("piece", "kind", "reason"),
    [
        pytest.param(
            gga("070227.00").replace(b"4.22", b"4.23"), "GGA", "checksum", id="a changed digit"
        ),
        pytest.param(gga("070227.00")[:-5] + b"\r\n", "GGA", "no_checksum", id="no checksum"),
        pytest.param(gga("070227.00")[:-3] + b"\r\n", "GGA", "cut_off", id="half a checksum"),
        pytest.param(gga("070227.00")[:-4] + b"\r\n", "GGA", "cut_off", id="a bare asterisk"),
        pytest.param(
            gga("070227.00")[:40] + gst("070227.00"), "GGA", "cut_off", id="the next one begins"
        ),
        pytest.param(
            gga("070227.00")[:40] + b"\x00\xb5b", "GGA", "cut_off", id="a binary frame begins"
        ),
        pytest.param(gga("070227.00")[1:], "GGA", "no_start", id="dollar lost"),
        pytest.param(
            gga("070227.00").replace(b"GNGGA", b"\x03NGGA"), "GGA", "no_start", id="talker spoilt"
        ),
        pytest.param(gst("070227.00").replace(b"0.012", b"0.013"), "GST", "checksum", id="GST"),
        pytest.param(
            gga("070227.00").replace(b"GNGGA", b"GNGXA"), "other", "checksum", id="kind spoilt"
        ),
        pytest.param(
            gga("070227.00").replace(b"GGA,", b"GGA;"), "GGA", "checksum", id="comma spoilt"
        ),
        pytest.param(sentence("GNGGA"), "GGA", "unreadable", id="no fields"),
        pytest.param(b"$GNGGA," + b"1" * 3000 + b"\r\n", "GGA", "cut_off", id="far too long"),
    ],
)
def test_rejected(piece, kind, reason):
    log = read(DATE, piece, gga("070228.00"))
    assert reasons(log) == [(kind, reason)] and len(log.epochs) == 1
    assert log.rejected.line.tolist() == [2]
    assert log.rejected.start.tolist() == [
        len(DATE) + piece.index(b"GGA") if reason == "no_start" else len(DATE)
    ]


def test_the_last_line_breaks_off():
    whole = gga("070228.00")
    for length in range(6, len(whole) - 2):
        log = read(DATE, gga("070227.00"), whole[:length])
        assert reasons(log) == [("GGA", "cut_off")] and len(log.epochs) == 1, length
    assert len(read(DATE, gga("070227.00"), whole[:-2]).epochs) == 2  # all but the end of the line


def test_sentences_without_checksum_can_be_taken():
    pieces = (
        DATE,
        gga("070227.00")[:-5] + b"\r\n",
        gga("070228.00")[:-5] + b"\n",
        gga("070229.00").replace(b"4.22", b"4.23"),
        gga("070230.00")[:-5],
    )
    assert reasons(read(*pieces)) == [("GGA", "no_checksum")] * 2 + [
        ("GGA", "checksum"),
        ("GGA", "cut_off"),
    ]
    log = read(*pieces, without_checksum=True)
    assert reasons(log) == [("GGA", "checksum"), ("GGA", "cut_off")] and len(log.epochs) == 2


def test_checksums_in_small_letters():
    line = next(
        line
        for line in (gga(f"0702{second:02}.00") for second in range(60))
        if re.search(rb"\*.?[A-F]", line)
    )
    assert len(read(DATE, line[:-4] + line[-4:].lower()).epochs) == 1


@pytest.mark.parametrize(
    "before",
    [
        b"",
        b"\r\n",
        b"\xb5b\x02\x15$",
        b"07:02:27.5 > ",
        b"\\s:rx,c:1747206147*4A\\",
        b"garbage,",
        b"\n" * 5000,
    ],
    ids=repr,
)
def test_sentences_are_found_behind_anything(before):
    log = read(DATE, before, gga("070227.00"), before, gga("070228.00"))
    assert len(log.epochs) == 2 and not len(log.rejected)
    assert log.rubbish == 2 * len(before.strip(b"\r\n"))
    assert log.epochs.line.tolist() == [2 + before.count(b"\n"), 3 + 2 * before.count(b"\n")]


def test_texts_can_be_read_again():
    log_bytes = (
        DATE
        + b"\xb5$GNGGA,\t1\r\n"
        + gga("070227.00").replace(b"4.22", b"4.23")
        + b"$GNGGA,"
        + b"1" * 400
    )
    log = read(log_bytes)
    texts = list(read_texts(io.BytesIO(log_bytes), log.rejected, 90))
    assert (
        texts[0] == "$GNGGA,"
        and texts[1].startswith("$GNGGA,070227.00,5556")
        and texts[2] == "$GNGGA," + "1" * 83
    )
    assert list(
        read_texts(
            io.BytesIO(b"GGA,\xb5"), Rejected(*(np.array([value]) for value in (0, 5, 1, 1, 3)))
        )
    ) == ["GGA,\\xb5"]


@pytest.mark.parametrize("seed", range(8))
def test_every_gga_is_an_epoch_or_rejected(seed):
    log_bytes = random_log(np.random.default_rng(seed))
    log = read(log_bytes)
    texts = list(read_texts(io.BytesIO(log_bytes), log.rejected, 2000))
    # a cut one and the rest of the next may be one piece
    lost = sum(text.count("GGA,") for text in texts)
    assert len(log.epochs) + lost == log_bytes.count(b"GGA,")
    assert lost > 3 and len(log.epochs) > 100
    assert len(set(reasons(log))) >= 4
    order = np.argsort(log.rejected.start)
    assert_array_equal(order, np.arange(len(order)))
    ends = log.rejected.start + log.rejected.length
    assert (ends[:-1] <= log.rejected.start[1:]).all()
    newlines = np.flatnonzero(np.frombuffer(log_bytes, np.uint8) == 10)
    assert_array_equal(log.rejected.line, 1 + np.searchsorted(newlines, log.rejected.start))


@pytest.mark.one_in(3)
@pytest.mark.parametrize(
    "block", [pytest.param(1, marks=pytest.mark.long), 7, 100, 1023, 1024, 1025, 1500, 4096, 50_000]
)
def test_the_size_of_blocks_changes_nothing(block):
    log_bytes = (
        random_log(np.random.default_rng(42), epochs=60)
        + b"NGGA,1,GGA," * 150
        + b"GGA,"
        + b"1" * 3000
        + b"\n"
        + b"\n".join([b"NGGA,2,GGA,"] * 300)
    )
    assert_same(read_log(io.BytesIO(log_bytes), block=block), read(log_bytes))


def test_a_log_is_never_held_whole():
    asked = []

    class Stream(io.BytesIO):
        def read(self, size=-1):
            asked.append(size)
            return super().read(size)

    seen = []
    log = read_log(Stream(DATE + gga("070227.00") * 60_000), progress=seen.append)
    assert len(log.epochs) == 60_000
    assert set(asked) == {NMEA.block}
    assert seen == sorted(seen) and len(seen) >= 3 and seen[-1] == log.size


def test_cancelling():
    def stop(read):
        raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        read(DATE, gga("070227.00"), progress=stop)


def test_nothing_at_all():
    for piece in (b"", b"\n", b"$", b"$GNGG", b"\x00" * 5000):
        log = read(piece)
        assert not len(log.epochs) and not len(log.rejected) and log.dated_by == ""


# --- dates
# ------------------------------------------------------------------------------------------------


def times(*pieces, **options):
    return (
        np.array(read(*pieces, **options).epochs.seconds.round(3) * 1000, "M8[ms]")
        .astype(str)
        .tolist()
    )


@pytest.mark.parametrize(
    ("pieces", "expected"),
    [
        pytest.param(
            [rmc("235959.00", "311224"), gga("235959.00"), gga("000000.00"), gga("000001.00")],
            ["2024-12-31T23:59:59", "2025-01-01T00:00:00", "2025-01-01T00:00:01"],
            id="midnight after the date",
        ),
        pytest.param(
            [gga("235959.00"), gga("000000.00"), zda("000001.00", "01,01,2025")],
            ["2024-12-31T23:59:59", "2025-01-01T00:00:00"],
            id="midnight before the date",
        ),
        pytest.param(
            [
                gga("235959.00"),
                rmc("235959.00", "280224"),
                gga("000000.00"),
                rmc("000000.00", "290224"),
            ],
            ["2024-02-28T23:59:59", "2024-02-29T00:00:00"],
            id="leap day",
        ),
        pytest.param(
            [
                zda("120000.00", "01,06,2024"),
                *(gga(f"{hour % 24:02}0000.00") for hour in range(13, 70, 8)),
            ],
            [
                "2024-06-01T13:00:00",
                "2024-06-01T21:00:00",
                "2024-06-02T05:00:00",
                "2024-06-02T13:00:00",
                "2024-06-02T21:00:00",
                "2024-06-03T05:00:00",
                "2024-06-03T13:00:00",
                "2024-06-03T21:00:00",
            ],
            id="one date for three days",
        ),
        pytest.param(
            [
                gga("080000.00"),
                rmc("080000.00", "010624"),
                gga("090000.00"),
                rmc("090000.00", "050624"),
                gga("090001.00"),
            ],
            ["2024-06-01T08:00:00", "2024-06-05T09:00:00", "2024-06-05T09:00:01"],
            id="a pause of days",
        ),
        pytest.param(
            [
                rmc("080000.00", "010624"),
                gga("080000.00"),
                gga("090000.00"),
                rmc("090000.00", "050624"),
            ],
            ["2024-06-01T08:00:00", "2024-06-05T09:00:00"],
            id="a pause of days, date behind",
        ),
        pytest.param(
            [rmc("160000.00", "010624"), gga("160000.00"), gga("060000.00")],
            ["2024-06-01T16:00:00", "2024-06-02T06:00:00"],
            id="switched off over night",
        ),
        pytest.param(
            [rmc("000000.00", "020624"), gga("235959.90"), gga("000000.00")],
            ["2024-06-01T23:59:59.900", "2024-06-02T00:00:00"],
            id="late by midnight",
        ),
        pytest.param(
            [rmc("080000.00", "010624"), gga("080001.00"), gga("080000.50")],
            ["2024-06-01T08:00:01", "2024-06-01T08:00:00.500"],
            id="late",
        ),
        pytest.param(
            [gga("235960.00"), zda("235960.00", "31,12,2016")],
            ["2017-01-01T00:00:00"],
            id="leap second",
        ),
        pytest.param(
            [rmc("070227.00", "", "V", ",,,"), gga("070227.00"), rmc("070228.00", "140525")],
            ["2025-05-14T07:02:27"],
            id="no date yet",
        ),
        pytest.param(
            [rmc("070227.00", "000000"), gga("070227.00"), rmc("070228.00", "140525")],
            ["2025-05-14T07:02:27"],
            id="noughts",
        ),
        pytest.param(
            [rmc("123519", "230394"), gga("123519")], ["1994-03-23T12:35:19"], id="last century"
        ),
    ],
)
def test_dates(pieces, expected):
    assert [text.rstrip("0").rstrip(".") if "." in text else text for text in times(*pieces)] == [
        text.rstrip("0").rstrip(".") if "." in text else text
        for text in np.array(expected, "M8[ms]").astype(str).tolist()
    ]


def test_without_any_date():
    pieces = gga("235959.00"), gga("000000.00"), gst("000000.00")
    with pytest.raises(UndatedError, match="RMC.*ZDA"):
        read(*pieces)
    log = read(*pieces, day=date(2025, 5, 13))
    assert log.epochs.seconds.tolist() == [unix("2025-05-13T23:59:59"), unix("2025-05-14T00:00:00")]
    assert log.dated_by == "given" and np.isfinite(log.epochs.sigma_horizontal).tolist() == [
        False,
        True,
    ]
    # the log knows better
    assert read(DATE, *pieces, day=date(2000, 1, 1)).epochs.seconds[0] == unix(
        "2025-05-14T23:59:59"
    )
    # no time, no date needed
    assert np.isnan(read(sentence("GNGGA,,,,,,0,00,99.99,,,,,,")).epochs.seconds).all()


# --- sigmas, other positions
# ----------------------------------------------------------------------------------------


def test_gst_goes_by_time_and_talker():
    log = read(
        DATE,
        gst("070227.00", "1,1,1", "GP"),
        gst("070227.00", "2,2,2", "GN"),
        gga("070227.00", talker="GN"),
        gga("070228.00", talker="GN"),
        gga("070229.0", talker="GN"),
        gst("070229.000", "3,3,3", "GL"),
        gst("070231.00", "4,4,4"),
    )
    assert log.epochs.sigma_altitude.tolist()[::2] == [2.0, 3.0] and np.isnan(
        log.epochs.sigma_altitude[1]
    )
    assert log.unmatched == 1


def test_gst_of_another_day_is_not_taken():
    log = read(
        zda("070227.00", "14,05,2025"),
        gga("070227.00"),
        gga("080000.00"),
        gga("060000.00"),
        gst("070227.00"),
        zda("070227.00", "15,05,2025"),
    )
    assert np.isnan(log.epochs.sigma_horizontal).all() and log.unmatched == 1


def test_positions_of_rmc_alone_are_counted():
    log = read(
        rmc("070227.00", "140525"),
        gga("070227.00"),
        rmc("070228.00", "140525"),
        rmc("070229.00", "140525", "V"),
        rmc("070230.00", "140525", "A", ",,,"),
    )
    assert len(log.epochs) == 1 and log.rmc_only == 1


# --- against a maintained parser
# ------------------------------------------------------------------------------------


@pytest.mark.parametrize("seed", [1, 2])
def test_it_reads_what_pynmea2_reads(seed):
    log_bytes = random_log(np.random.default_rng(seed), epochs=300)
    epochs, found, sigmas = read(log_bytes).epochs, [], {}
    for text in re.findall(
        rb"\$[A-Z]{2}(?:GGA|GST),[\x20-\x23\x25-\x7e]*?\*[0-9A-Fa-f]{2}", log_bytes
    ):
        try:
            message = pynmea2.parse(text.decode(), check=True)
        except (pynmea2.ParseError, ValueError):
            continue
        if message.sentence_type == "GST":
            sigmas.setdefault((message.talker, message.timestamp), message)
        else:
            found.append(message)
    assert len(found) == len(epochs) > 200
    for row, message in enumerate(found):
        assert (epochs.latitude[row], epochs.longitude[row]) == (
            message.latitude,
            message.longitude,
        )
        assert (epochs.quality[row], epochs.satellites[row]) == (
            message.gps_qual,
            int(message.num_sats),
        )
        assert (epochs.hdop[row], epochs.altitude[row]) == (
            float(message.horizontal_dil),
            message.altitude,
        )
        assert (epochs.separation[row], epochs.age[row]) == (
            float(message.geo_sep),
            float(message.age_gps_data),
        )
        assert epochs.station[row].decode() == message.ref_station_id
        seconds = (
            message.timestamp.hour * 3600
            + message.timestamp.minute * 60
            + message.timestamp.second
            + message.timestamp.microsecond / 1e6
        )
        assert epochs.seconds[row] - unix("2025-05-14T00:00:00") == pytest.approx(seconds, abs=1e-6)
        mine = sigmas.get((message.talker, message.timestamp))
        assert epochs.sigma_latitude[row] == (
            mine.std_dev_latitude if mine else pytest.approx(np.nan, nan_ok=True)
        )
        assert epochs.sigma_altitude[row] == (
            mine.std_dev_altitude if mine else pytest.approx(np.nan, nan_ok=True)
        )
