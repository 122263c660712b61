"""NMEA 0183 against published sentences, and a real receiver's log against two parsers that others
maintain."""

import io
import json
import os
import re
import subprocess
import sys
import tarfile
from pathlib import Path

import numpy as np
import pynmea2
import pytest

from curbwright.shared.epochs.nmea import SENTENCE_REASON_NAMES, checksum, read_log

# Right ones. “code corpus”: unit tests and comments of public repositories, read as stored. “gpsd”:
# the gpsd project's NMEA.txt. “memory”: widely published examples, from memory. “made here”: no
# published sentence with RTK quality was at hand.
RIGHT = [
    ("$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47", "memory"),
    (
        "$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
        "memory, body in the code corpus",
    ),
    ("$GPGGA,092725.00,4717.11399,N,00833.91590,E,1,08,1.01,499.6,M,48.0,M,,*5B", "code corpus"),
    ("$GPGGA,201229.00,6026.86958,N,02217.14119,E,1,08,0.96,66.1,M,18.7,M,,*6C", "code corpus"),
    (
        "$GPRMC,201230.00,A,6026.86949,N,02217.14087,E,0.689,,150722,,,A*72",
        "code corpus; empty course",
    ),
    (
        "$GPGGA,210210.000,5347.5779,N,00754.1630,E,0,00,0.0,52.8,M,0.0,M,,0000*59",
        "code corpus; quality 0 with a position",
    ),
    (
        "$GPRMC,210209.000,V,5347.5779,N,00754.1630,E,000.0,000.0,300717,,,N*77",
        "code corpus; status V",
    ),
    ("$GPGGA,053740.000,2503.6319,N,12136.0099,E,1,08,1.1,63.8,M,15.2,M,,0000*64", "code corpus"),
    (
        "$GNGGA,123519.00,4807.038,N,01131.000,E,1,08,0.9,545.4,M,47.0,M,,*7F",
        "code corpus; talker GN",
    ),
    (
        "$GPRMC,103215,A,4949.4096,N,1232.0580,W,9.4,273.4,051213,1.0,E,A*33",
        "code corpus; longitude without a leading nought",
    ),
    ("$GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00*74", "gpsd"),
    ("$GPGRS,024603.00,1,-1.8,-2.7,0.3,,,,,,,,,*6C", "gpsd"),
    ("$GPBWC,225444,4917.24,N,12309.57,W,051.9,T,031.6,M,001.3,N,004*29", "gpsd"),
    ("$GPBWC,081837,,,,,,T,,M,,N,*13", "gpsd; mostly empty"),
    ("$GPGST,024603.00,3.2,6.6,4.7,47.3,5.8,5.6,22.0*58", "memory"),
    ("$GPGST,172814.0,0.006,0.023,0.020,273.6,0.023,0.020,0.031*6A", "memory"),
    (
        "$GPGGA,172814.0,3723.46587704,N,12202.26957864,W,2,6,1.2,18.893,M,-25.669,M,2.0,0031*4F",
        "memory; negative N, age and station",
    ),
    ("$GPVTG,054.7,T,034.4,M,005.5,N,010.2,K*48", "memory"),
    ("$GPZDA,201530.00,04,07,2002,00,00*60", "memory"),
    (
        "$GNGGA,101112.00,5130.0000000,N,00007.5000000,W,4,18,0.7,45.123,M,46.789,M,1.0,0123*76",
        "made here",
    ),
    ("$GNGST,101112.00,0.012,0.011,0.008,35.0,0.010,0.009,0.016*79", "made here"),
    ("$GNRMC,101112.00,A,5130.0000000,N,00007.5000000,W,2.6,0.0,010624,,,R*43", "made here"),
    ("$GNZDA,101112.00,01,06,2024,00,00*79", "made here"),
]
# Printed with a wrong checksum in gpsd's list, and what it should be; a value above 7F cannot come
# of 7-bit text.
WRONG = [
    ("$GPBOD,099.3,T,105.6,M,POINTB,*01", "48"),
    ("$GPBOD,097.0,T,103.2,M,POINTB,POINTA*52", "4A"),
    ("$GPRMB,A,0.66,L,003,004,4917.24,N,12309.57,W,001.3,052.5,000.5,V*0B", "20"),
    ("$GPAPB,A,A,0.10,R,N,V,V,011,M,DEST,011,M,011,M*82", "3C"),
    ("$GPBWC,220516,5130.02,N,00046.34,W,213.8,T,218.0,M,0004.6,N,EGLM*11", "21"),
]
# Decimal degrees by dd + mm.mmmm/60, ellipsoidal height by h = H + N: reckoned from the sentences
# above.
DECODED = [
    ("GPGGA,123519,", 48.1173, 11.516666667, 545.4, 46.9, 592.3, 1),
    ("GPGGA,172814.0", 37.3910979507, -122.0378263107, 18.893, -25.669, -6.776, 2),
    ("GPGGA,201229", 60.4478263333, 22.2856865, 66.1, 18.7, 84.8, 1),
    ("GNGGA,101112", 51.5, -0.125, 45.123, 46.789, 91.912, 4),
]


def read(*lines, **options):
    return read_log(io.BytesIO("".join(line + "\r\n" for line in lines).encode()), **options)


@pytest.mark.parametrize(("line", "source"), RIGHT, ids=lambda value: value[:14])
def test_right_checksums(line, source):
    body, printed = line[1:].split("*")
    assert checksum(body.encode()) == printed
    log = read("$GNZDA,101112.00,01,06,2024,00,00*79", line)
    assert not len(log.rejected) and sum(log.sentences.values()) == 2, source


@pytest.mark.parametrize(("line", "right"), WRONG, ids=lambda value: value[:14])
def test_wrong_checksums(line, right):
    body, printed = line[1:].split("*")
    assert checksum(body.encode()) == right != printed
    log = read(line)
    assert [SENTENCE_REASON_NAMES[reason] for reason in log.rejected.reason] == ["checksum"]
    assert not len(read(f"${body}*{right}").rejected)


@pytest.mark.parametrize(
    ("begin", "latitude", "longitude", "altitude", "separation", "height", "quality"),
    DECODED,
    ids=lambda value: str(value)[:14],
)
def test_decoded(begin, latitude, longitude, altitude, separation, height, quality):
    line = next(line for line, _ in RIGHT if line[1:].startswith(begin))
    epochs = read("$GNZDA,101112.00,01,06,2024,00,00*79", line).epochs
    assert epochs.latitude[0] == pytest.approx(latitude, abs=5e-10) and epochs.longitude[
        0
    ] == pytest.approx(longitude, abs=5e-10)
    assert (epochs.altitude[0], epochs.separation[0], epochs.quality[0]) == (
        altitude,
        separation,
        quality,
    )
    assert epochs.height[0] == pytest.approx(height, abs=1e-9)


def test_minutes_are_not_hundredths():
    """gpsd: 4533.35 is 45 degrees 33.35 minutes, and .35 of a minute is 21 seconds."""
    body = "GPGGA,123519,4533.35,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    epochs = read(
        "$GNZDA,101112.00,01,06,2024,00,00*79", f"${body}*{checksum(body.encode())}"
    ).epochs
    assert epochs.latitude[0] == pytest.approx(45 + 33 / 60 + 21 / 3600, abs=1e-12)


def test_gst_sigmas_keep_the_trace():
    """Both published GST: semi-axes and axes along north and east have one trace, within rounding;
    the orientation fits neither."""
    for line, place in (
        ("$GPGST,024603.00,3.2,6.6,4.7,47.3,5.8,5.6,22.0*58", 0.06),
        ("$GPGST,172814.0,0.006,0.023,0.020,273.6,0.023,0.020,0.031*6A", 6e-4),
    ):
        fields = line.split(",")
        epochs = read("$GNZDA,101112.00,01,06,2024,00,00*79", line, _gga_at(fields[1])).epochs
        assert epochs.sigma_horizontal[0] == pytest.approx(
            np.hypot(float(fields[3]), float(fields[4])), abs=2 * place
        )
        assert epochs.sigma_latitude[0] == float(fields[6]) and epochs.sigma_altitude[0] == float(
            fields[8].split("*")[0]
        )


def _gga_at(clock):
    body = f"GPGGA,{clock},4533.35,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,"
    return f"${body}*{checksum(body.encode())}"


# --- a real log
# ------------------------------------------------------------------------------------------------

# free software, CeCILL-C; the log is read where it lies
CARRIER, CARRIED = "tracklib==0.8.4.2", "data/log_gnss_17042021-13-07-14.ubx"
PARSER = """
import importlib, json, sys
from unittest.mock import MagicMock
# what its import asks for and its parser does not use
for name in ("progressbar", "rtree", "requests"):
    try:
        importlib.import_module(name)
    except ImportError:
        sys.modules[name] = MagicMock()
sys.path.insert(0, sys.argv[1])
from tracklib.io.track_reader import TrackReader
track = TrackReader.readFromNMEA(sys.argv[2])
value = track.getObsAnalyticalFeature
rows = [
    (o.position.lat, o.position.lon, o.position.hgt, str(o.timestamp))
    + (value("nb_sats", i), value("hdop", i))
    for i, o in enumerate(track)
]
print("ROWS", json.dumps(rows))
"""


@pytest.fixture(scope="module")
def carrier(tmp_path_factory):
    """The package that carries a log, unpacked; fetched once for each clone."""
    kept = Path(__file__).resolve().parents[2] / ".pytest_cache" / "d" / "carried"
    kept.mkdir(parents=True, exist_ok=True)
    name = CARRIER.split("==")[0]
    if not list(kept.glob(f"{name}-*.tar.gz")):
        done = subprocess.run(
            [
                sys.executable,
                "-m",
                "pip",
                "--disable-pip-version-check",
                "download",
                "--quiet",
                "--no-deps",
                "--no-binary",
                name,
                "--dest",
                str(kept),
                CARRIER,
            ],
            capture_output=True,
            text=True,
        )
        if done.returncode:
            message = f"{CARRIER} cannot be fetched: {done.stderr[-400:]}"
            if os.environ.get("CI"):
                pytest.fail(message)
            pytest.skip(message)
    folder = tmp_path_factory.mktemp("carrier")
    with tarfile.open(next(kept.glob(f"{name}-*.tar.gz"))) as archive:
        for member in archive.getmembers():
            if (
                member.isfile()
                and re.match(r"[^/]+/(tracklib/|data/log_gnss)", member.name)
                and ".." not in member.name
            ):
                target = folder / member.name
                target.parent.mkdir(parents=True, exist_ok=True)
                target.write_bytes(archive.extractfile(member).read())
    return next(folder.iterdir())


@pytest.fixture(scope="module")
def log_bytes(carrier):
    return (carrier / CARRIED).read_bytes()


@pytest.mark.one_host
def test_a_real_log_is_read_without_loss(log_bytes):
    """A receiver's own log, a megabyte with its binary frames, against pynmea2: every sentence,
    every GGA field."""
    texts = re.findall(rb"\$[A-Z]{2}[A-Z]{3},[\x20-\x23\x25-\x7e]*?\*[0-9A-F]{2}", log_bytes)
    messages = [pynmea2.parse(text.decode(), check=True) for text in texts]
    log = read_log(io.BytesIO(log_bytes))
    assert not len(log.rejected) and log.size == len(log_bytes)
    assert sum(log.sentences.values()) == len(messages) > 10_000
    assert log.size - log.rubbish == sum(len(text) for text in texts) + log_bytes.count(
        b"\r"
    ) + log_bytes.count(b"\n")
    for kind in ("GGA", "RMC", "ZDA", "GST"):
        assert log.sentences[kind] == sum(message.sentence_type == kind for message in messages)
    epochs, found = log.epochs, [message for message in messages if message.sentence_type == "GGA"]
    dated = {
        message.timestamp: message.datetime
        for message in messages
        if message.sentence_type == "RMC"
    }
    assert len(epochs) == len(found) == 1231 and np.isfinite(epochs.latitude).sum() > 1000
    for row, message in enumerate(found):
        there = message.lat != ""
        assert (
            np.isfinite(epochs.latitude[row]) == there and epochs.quality[row] == message.gps_qual
        )
        assert epochs.satellites[row] == int(message.num_sats) and epochs.hdop[row] == float(
            message.horizontal_dil
        )
        if there:
            assert (epochs.latitude[row], epochs.longitude[row]) == (
                message.latitude,
                message.longitude,
            )
            assert (epochs.altitude[row], epochs.separation[row]) == (
                message.altitude,
                float(message.geo_sep),
            )
        assert epochs.seconds[row] == dated[message.timestamp].timestamp()


@pytest.mark.long  # a third reader of what pynmea2 has read above
def test_a_real_log_is_read_as_its_carrier_reads_it(carrier, log_bytes, tmp_path):
    """The carrier's own parser goes by lines and stumbles over binary frames, so it is given the
    sentences alone."""
    sentences = tmp_path / "sentences.nmea"
    sentences.write_bytes(
        b"\r\n".join(re.findall(rb"\$[A-Z]{5},[\x20-\x23\x25-\x7e]*?\*[0-9A-F]{2}", log_bytes))
        + b"\r\n"
    )
    environment = dict(os.environ, MPLBACKEND="agg", MPLCONFIGDIR=str(tmp_path))
    done = subprocess.run(
        [sys.executable, "-c", PARSER, str(carrier), str(sentences)],
        capture_output=True,
        text=True,
        env=environment,
        cwd=tmp_path,
    )
    assert done.returncode == 0, done.stderr[-2000:]
    rows = json.loads(done.stdout.split("ROWS ", 1)[1])
    epochs = read_log(io.BytesIO(log_bytes)).epochs
    there = np.flatnonzero(np.isfinite(epochs.latitude))  # those without a position it leaves out
    assert len(rows) == len(there) > 1000
    for row, (latitude, longitude, height, moment, satellites, hdop) in zip(there.tolist(), rows):
        assert epochs.latitude[row] == pytest.approx(latitude, abs=1e-11) and epochs.longitude[
            row
        ] == pytest.approx(longitude, abs=1e-11)
        assert (epochs.altitude[row], epochs.satellites[row], epochs.hdop[row]) == (
            height,
            satellites,
            hdop,
        )
        day, clock = moment.split()[:2]
        day = "-".join(reversed(day.split("/")))
        assert str(np.datetime64(round(epochs.seconds[row] * 1000), "ms")).startswith(
            f"{day}T{clock[:8]}"
        )
