"""Logs through the host: files in, epochs out, and the main job on them without a word about
fields."""

import os
from pathlib import Path

import numpy as np
import processing
import pytest
from nmealogs import gga, gst, rmc, sentence, unix
from otherprocess import STARTED, run_code
from qgis.core import (
    QgsApplication,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QCoreApplication, QDate, QDateTime, Qt
from walkedlayers import Log, run, table

from curbwright.algorithms.host.fields import is_null
from curbwright.algorithms.readnmealog import EPOCH_FIELDS, capture_names
from curbwright.algorithms.writing import sinks
from curbwright.sample_project.host import Host

pytestmark = pytest.mark.usefixtures("provider")
ROOT = Path(__file__).resolve().parents[2]
SAMPLE = ROOT / "sample_project" / "data" / "tern_ness_walk.nmea"


@pytest.fixture
def write(tmp_path):
    """Writes a log and hands its path back."""

    def make(*pieces, name="walk.nmea"):
        path = tmp_path / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_bytes(b"".join(pieces))
        return str(path)

    return make


def walked(begin=0, epochs=120, rate=5, day="140525"):
    """A log of a walk along an L at some epochs a second, with a centimetre of noise."""
    rng, pieces = np.random.default_rng(begin), []
    for number in range(epochs):
        seconds, along = 25_347 + begin + number / rate, 1.2 * number / rate
        clock = f"{int(seconds) // 3600:02}{int(seconds) // 60 % 60:02}{seconds % 60:05.2f}"
        north = 56.7758383 + (min(along, 15.0) + rng.normal(0, 0.005)) / 1856.0
        east = 0.2734080 + (max(along - 15.0, 0.0) + rng.normal(0, 0.005)) / 1042.0
        pieces += [
            gga(
                clock,
                f"55{north:010.7f},N",
                f"003{east:010.7f},E",
                rest=f"25,0.5,{4 + rng.normal(0, 0.01):.4f},M,41.237,M,1.0,0042",
            ),
            gst(clock),
            rmc(clock, day),
        ]
    return pieces


def read(files, log=None, **parameters):
    return run("readnmealog", {"INPUT": files, "OUTPUT": "memory:", **parameters}, log)


# --- what comes out
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("target", ["memory", "gpkg"])
@pytest.mark.parametrize(
    ("height", "crs", "z"),
    [("ellipsoidal", "EPSG:4979", 45.4582), ("orthometric", "EPSG:4326", 4.2212)],
)
def test_epochs(write, tmp_path, target, height, crs, z):
    path = write(
        rmc("070227.20", "140525"),
        gga("070227.25"),
        gst("070227.25"),
        sentence("GNGGA,,,,,,0,00,99.99,,,,,,"),
    )
    result = read(
        [path],
        HEIGHT=height,
        OUTPUT="memory:" if target == "memory" else str(tmp_path / "out.gpkg"),
    )
    layer = (
        result["OUTPUT"] if target == "memory" else QgsVectorLayer(result["OUTPUT"], "out", "ogr")
    )
    assert layer.crs().authid() == crs and layer.wkbType() == QgsWkbTypes.Type.PointZ
    names = [name for name in layer.fields().names() if name != "fid"]
    assert names == [new.name for new in EPOCH_FIELDS]
    first, second = layer.getFeatures()
    point = next(first.geometry().vertices())
    assert (point.x(), point.y()) == pytest.approx((3.004556800, 55.946263972), abs=1e-9)
    assert point.z() == pytest.approx(z, abs=1e-9)
    row = dict(zip(layer.fields().names(), first.attributes()))
    assert row["unix_seconds"] == unix("2025-05-14T07:02:27.250")
    assert row["observed"].toString("yyyy-MM-dd hh:mm:ss") == "2025-05-14 07:02:27"
    if target == "memory":
        assert row["observed"] == QDateTime(2025, 5, 14, 7, 2, 27, 250, Qt.TimeSpec.UTC)
    expected = {
        "capture": "walk.nmea",
        "line": 2,
        "fix_quality": 4,
        "satellites": 25,
        "hdop": 0.5,
        "correction_age": 1.0,
        "station": "0042",
        "h_ellipsoidal": pytest.approx(45.4582),
        "h_orthometric": 4.2212,
        "geoid_separation": 41.237,
        "sigma_lat": 0.010,
        "sigma_lon": 0.009,
        "sigma_h": pytest.approx(np.hypot(0.010, 0.009)),
        "sigma_up": 0.016,
    }
    assert {name: row[name] for name in expected} == expected
    row = dict(zip(layer.fields().names(), second.attributes()))
    assert not second.hasGeometry() or second.geometry().isEmpty()
    assert row["fix_quality"] == 0 and row["satellites"] == 0 and row["line"] == 4
    assert all(
        is_null(row[name])
        for name in ("observed", "unix_seconds", "h_ellipsoidal", "station", "sigma_h")
    )


@pytest.mark.one_host
def test_times_do_not_depend_on_the_zone(write, tmp_path):
    """QGIS up to 3.36 writes a date-time without its zone: the digits must be those of UTC wherever
    it runs."""
    path = write(*walked(epochs=4))
    code = f"""{STARTED}
import processing
processing.run("curbwright:readnmealog", {{"INPUT": [sys.argv[1]], "OUTPUT": sys.argv[2]}})
"""
    done = run_code(code, tmp_path / "profile", path, tmp_path / "zone.gpkg", TZ="Asia/Kolkata")
    from osgeo import ogr

    dataset = ogr.Open(str(tmp_path / "zone.gpkg"))
    assert dataset is not None, done.stderr[-2000:]
    rows = [
        (feature["observed"].replace("/", "-")[:19], feature["unix_seconds"])
        for feature in dataset.GetLayer(0)
    ]
    assert [text for text, _ in rows] == ["2025-05-14 07:02:27"] * 4
    assert [seconds - unix("2025-05-14T07:02:27") for _, seconds in rows] == pytest.approx(
        [0.0, 0.2, 0.4, 0.6], abs=1e-6
    )


def test_several_files_and_their_names(write):
    files = [
        write(*walked(0, 10), name="one/log.txt"),
        write(*walked(100, 10), name="two/log.txt"),
        write(*walked(0, 10), name="three.nmea"),
    ]
    log = Log()
    rows = table(read([*files, files[0]], log)["OUTPUT"])
    assert [row["capture"] for row in rows] == ["one/log.txt"] * 10 + ["two/log.txt"] * 10 + [
        "three.nmea"
    ] * 10
    # repeated epochs stay
    assert [row["unix_seconds"] for row in rows[:10]] == [row["unix_seconds"] for row in rows[20:]]
    assert sum(text.startswith("Log “") for text in log.infos) == 3
    assert any("“three.nmea” holds the same epochs" in text for text in log.warnings)


def test_a_copy_of_a_log_is_said_and_a_link_is_the_same_log(write, tmp_path):
    first, log = write(*walked(0, 10), name="first.nmea"), Log()
    link = tmp_path / "link.nmea"
    link.symlink_to(first)
    copy = write(*walked(0, 10), name="copy.nmea")
    assert len(table(read([first, link, copy], log)["OUTPUT"])) == 20
    assert any("“copy.nmea” holds the same epochs as “first.nmea”" in w for w in log.warnings)


def test_capture_names():
    assert capture_names(
        [Path("/a/b/log"), Path("/a/c/log"), Path("/x/b/log"), Path("/x/other")]
    ) == ["a/b/log", "c/log", "x/b/log", "other"]
    assert capture_names([]) == []


@pytest.mark.parametrize("form", ["list", "text", "semicolons"])
def test_ways_to_name_files(write, form):
    one, two = write(*walked(0, 3), name="a;b.nmea"), write(*walked(9, 3), name="c d.nmea")
    value, count = {"list": ([one, two], 6), "text": (one, 3), "semicolons": (f"{two};{two}", 3)}[
        form
    ]
    assert read(value)["EPOCHS"] == count


@pytest.mark.parametrize(
    "given",
    ["2025-05-13", QDate(2025, 5, 13), QDateTime(2025, 5, 13, 0, 0, 0)],
    ids=["text", "date", "date-time"],
)
def test_date_where_the_log_has_none(write, given):
    path = write(gga("235959.00"), gga("000000.00"))
    rows = table(read([path], DATE=given)["OUTPUT"])
    assert [row["unix_seconds"] for row in rows] == [
        unix("2025-05-13T23:59:59"),
        unix("2025-05-14T00:00:00"),
    ]


# --- nothing is lost
# ------------------------------------------------------------------------------------------------


def test_rejected_sentences_are_listed(write):
    good, log = walked(epochs=20), Log()
    path = write(
        *good,
        b"\xb5\x62\x01\n",
        good[0].replace(b"55", b"54", 1),
        good[3][:-5] + b"\r\n",
        good[6][1:],
        good[9].replace(b"4,25", b"x,25"),
        sentence("GNGGA,070227.00,9956.7,N,00300.2,E,4,25,0.5,4.2,M,41.2,M,,"),
        good[12][:30],
    )
    result = read([path], log, REJECTED="memory:")
    rows = table(result["REJECTED"])
    assert [(row["kind"], row["reason"]) for row in rows] == [
        ("GGA", reason)
        for reason in ("checksum", "no_checksum", "no_start", "checksum", "unreadable", "cut_off")
    ]
    assert [row["line"] for row in rows] == [62, 63, 64, 65, 66, 67]
    assert rows[0]["sentence"].startswith("$GNGGA,070227.00,54") and {
        row["capture"] for row in rows
    } == {"walk.nmea"}
    assert (result["EPOCHS"], result["REJECTED_SENTENCES"], result["SENTENCES"]) == (20, 6, 66)
    assert (
        "sentences rejected: 6 (checksum 2, no_checksum 1, cut_off 1, no_start 1, unreadable 1), of"
        " them GGA: 6." in "\n".join(log.warnings)
    )
    # the lost start leaves its talker outside
    assert "bytes, 3 of them outside sentences" not in log.text
    assert read([path], WITHOUT_CHECKSUM=True)["EPOCHS"] == 21


def test_positions_of_rmc_alone_are_told(write):
    log = Log()
    assert read([write(*walked(epochs=3), rmc("080000.00", "140525"))], log)["EPOCHS"] == 3
    assert "positions that stand in RMC alone: 1" in "\n".join(log.warnings)


def test_no_separation_is_told(write):
    log = Log()
    layer = read(
        [write(rmc("070227.00", "140525"), gga("070227.00", rest="25,0.5,4.2212,M,,,1.0,0042"))],
        log,
    )["OUTPUT"]
    point = next(next(layer.getFeatures()).geometry().vertices())
    assert np.isnan(point.z()) and "“orthometric”" in "\n".join(log.warnings)


# --- the next step
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("target", ["memory", "gpkg"])
def test_the_main_job_finds_every_field(write, tmp_path, target):
    files = [
        write(*walked(0, 200), name="first.nmea"),
        write(*walked(100, 200), name="second.nmea"),
    ]
    out = read(files, OUTPUT="memory:" if target == "memory" else str(tmp_path / "epochs.gpkg"))[
        "OUTPUT"
    ]
    log = Log()
    result = run("reconstructedges", {"INPUT": out, "OUTPUT": "memory:", "KEPT": "memory:"}, log)
    for line in (
        "Time: field “unix_seconds” (found by name).",
        "Capture: field “capture” (found by name).",
        "Fix: field “fix_quality” (found by name).",
        "Horizontal accuracy: field “sigma_h” (found by name).",
        "Vertical accuracy: field “sigma_up” (found by name).",
    ):
        assert line in log.infos
    assert log.warnings == []
    edges = table(result["OUTPUT"])
    assert {edge["capture"] for edge in edges} == {"first.nmea", "second.nmea"} and len(edges) == 2
    for edge in edges:
        # 15 m north, then east: 1.2 m/s over 39.8 s
        assert edge["length"] == pytest.approx(47.8, abs=0.15)
        assert edge["sigma_up"] < 0.02
    seconds = sorted(row["unix_seconds"] for row in table(result["KEPT"]))
    assert np.diff(seconds[:50]) == pytest.approx(0.2, abs=1e-6)  # the tenths have come through
    assert result["OUTPUT"].crs().authid() == "EPSG:4979"


def test_the_sample_log_gives_the_edges_of_its_layer():
    """The same walk stands in the sample project as a layer in another CRS."""
    data = ROOT / "sample_project" / "data" / "tern_ness.gpkg"
    data = f"{data}|layername=captures_plumb|subset=capture = '2-14'"
    log = run(
        "reconstructedges",
        {"INPUT": read([str(SAMPLE)], HEIGHT="orthometric")["OUTPUT"], "OUTPUT": "memory:"},
    )
    layer = run("reconstructedges", {"INPUT": data, "OUTPUT": "memory:"})
    assert (log["EPOCHS_READ"], log["EPOCHS_KEPT"], log["EDGES"]) == (
        layer["EPOCHS_READ"],
        layer["EPOCHS_KEPT"],
        layer["EDGES"],
    )
    assert log["LENGTH"] == pytest.approx(layer["LENGTH"], abs=0.01)

    def ends(result):
        return [
            [round(point.z(), 2) for point in feature.geometry().vertices()][::1000]
            for feature in result["OUTPUT"].getFeatures()
        ]

    assert np.allclose(ends(log), ends(layer), atol=0.011)


# --- bad input
# ------------------------------------------------------------------------------------------------


@pytest.mark.timeout(60)
def test_what_never_ends_is_not_read(tmp_path):
    os.mkfifo(tmp_path / "pipe.log")
    for path in ("/dev/zero", tmp_path / "pipe.log"):
        with pytest.raises(QgsProcessingException, match="a folder or a device.*NMEA logs"):
            run("readnmealog", {"INPUT": [str(path)], "OUTPUT": "memory:"})


def test_errors_name_file_and_remedy(write, tmp_path):
    good, undated = write(*walked(epochs=3)), write(gga("070227.00"), name="undated.log")
    for files, parameters, message in (
        ([good, undated], {}, "undated.log.*UTC date.*“Date”"),
        ([good, str(tmp_path / "gone.log")], {}, "gone.log.*NMEA logs"),
        ([str(tmp_path)], {}, "cannot be read"),
        (
            [write(rmc("070227.00", "140525"), name="rmc.log")],
            {},
            "no GGA sentence in “rmc.log”.*RMC alone",
        ),
        ([write(b"\x00\xb5b" * 999, name="raw.ubx")], {}, "no GGA sentence in “raw.ubx”"),
        (
            [
                write(
                    rmc("070227.00", "140525"),
                    *[gga("070227.00")[:-5] + b"\r\n"] * 3,
                    name="bare.log",
                )
            ],
            {},
            "All 3 GGA.*no_checksum.*“Accept sentences",
        ),
        (
            [write(*[gga("070227.00").replace(b"5", b"6", 1)] * 3, name="bad.log")],
            {},
            "All 3 GGA.*“checksum”.*damaged",
        ),
        ([write(name="empty.log")], {}, "no GGA sentence in “empty.log”"),
    ):
        with pytest.raises(QgsProcessingException, match=message):
            read(files, **parameters)
    with pytest.raises(QgsProcessingException, match="“NMEA logs” is empty"):
        read([])


@pytest.mark.parametrize("form", ["gpkg", "csv"])
@pytest.mark.parametrize("percent", [0, 10, 40, 60, 85, 97])
def test_cancel_leaves_nothing_half(write, tmp_path, monkeypatch, percent, form):
    monkeypatch.setattr(sinks, "BLOCK", 10)
    path = write(*walked(epochs=200), *[gga("070227.00").replace(b"5", b"6", 1)] * 100)
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:readnmealog")
    log, context = Log(cancel_at=percent), QgsProcessingContext()
    if percent == 0:
        log.cancel()
    outputs = {name: str(tmp_path / f"{name}.{form}") for name in ("OUTPUT", "REJECTED")}
    results, fine = algorithm.run({"INPUT": [path], **outputs}, context, log)
    assert fine and log.isCanceled() and results == {}
    assert list(tmp_path.glob(f"*.{form}")) == [] and "not complete" not in log.text


def test_a_sink_that_cannot_be_made_stops_before_anything_is_written(write, tmp_path):
    (tmp_path / "a file").write_text("where a folder would be needed", encoding="utf-8")
    with pytest.raises(QgsProcessingException, match=r"rejected\.gpkg"):
        read(
            [write(*walked(epochs=3))],
            OUTPUT=str(tmp_path / "epochs.gpkg"),
            REJECTED=str(tmp_path / "a file" / "rejected.gpkg"),
        )
    assert list(QgsVectorLayer(str(tmp_path / "epochs.gpkg"), "epochs", "ogr").getFeatures()) == []


def test_progress_goes_by_bytes(write):
    seen, log = [], Log()
    log.progressChanged.connect(seen.append)
    read([write(*walked(epochs=3), b"\xb5" * 6_000_000)], log)
    reading = [percent for percent in seen if percent <= 40]
    assert len(reading) >= 3 and seen == sorted(seen) and seen[-1] == 100


def test_parameters():
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:readnmealog")
    defaults = {
        parameter.name(): parameter.defaultValue() for parameter in algorithm.parameterDefinitions()
    }
    assert defaults == {
        "INPUT": None,
        "HEIGHT": "ellipsoidal",
        "DATE": None,
        "WITHOUT_CHECKSUM": False,
        "OUTPUT": None,
        "REJECTED": None,
    }
    assert [output.name() for output in algorithm.outputDefinitions()] == [
        "OUTPUT",
        "REJECTED",
        "SENTENCES",
        "EPOCHS",
        "REJECTED_SENTENCES",
    ]


# --- elsewhere
# ------------------------------------------------------------------------------------------------


def test_loaded_layer_is_styled(write, qgis_new_project):
    results = processing.runAndLoadResults(
        "curbwright:readnmealog", {"INPUT": [write(*walked(epochs=3))], "OUTPUT": "memory:"}
    )
    layer = QgsProject.instance().mapLayer(results["OUTPUT"])
    looks = {}
    for rule in layer.renderer().rootRule().children():
        marker = rule.symbol().symbolLayer(0)
        looks[rule.label()] = (marker.shape(), marker.size(), marker.color().alpha())
    assert len(looks) == len(set(looks.values())) == 5  # by shape, for grey print


def test_each_quality_is_counted_in_its_class(write, qgis_new_project):
    times = [
        gga(f"0800{second:02}.00", quality=quality) for second, quality in enumerate("4510263")
    ]
    results = processing.runAndLoadResults(
        "curbwright:readnmealog",
        {"INPUT": [write(rmc("080000.00", "140525"), *times)], "OUTPUT": "memory:"},
    )
    layer = QgsProject.instance().mapLayer(results["OUTPUT"])
    counter = layer.countSymbolFeatures()
    assert counter.waitForFinished()
    QCoreApplication.processEvents()
    counts = {
        rule.label(): layer.featureCount(rule.ruleKey())
        for rule in layer.renderer().rootRule().children()
    }
    assert counts == {
        "RTK fixed": 1, "RTK float": 1, "Differential": 1, "Autonomous": 1, "Other or none": 3,
    }  # fmt: skip


@pytest.mark.long
def test_command_line(write, tmp_path):
    (tmp_path / "profile").mkdir()
    host = Host(tmp_path / "profile", plugin=ROOT)
    host.enable()
    files = [
        write(*walked(0, 20), name="first walk.nmea"),
        write(gga("235959.00"), gga("000000.00"), name="undated.nmea"),
    ]
    out, rejected = tmp_path / "out.gpkg", tmp_path / "rejected.csv"
    results = host.run(
        "curbwright:readnmealog",
        INPUT=files,
        DATE="2025-05-13",
        HEIGHT="orthometric",
        OUTPUT=out,
        REJECTED=rejected,
    )
    assert (results["EPOCHS"], results["SENTENCES"], results["REJECTED_SENTENCES"]) == (22, 62, 0)
    rows = table(QgsVectorLayer(str(out), "out", "ogr"))
    assert [row["capture"] for row in rows] == ["first walk.nmea"] * 20 + ["undated.nmea"] * 2
    assert rows[-1]["unix_seconds"] == unix("2025-05-14T00:00:00")
