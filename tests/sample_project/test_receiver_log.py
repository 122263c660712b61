"""The sample project's log: built anew it is what is committed, and it holds the walk that the
layer holds."""

import re
from pathlib import Path

import numpy as np
import pynmea2
from numpy.testing import assert_allclose, assert_array_equal
from osgeo import gdal

from curbwright.sample_project import build, port, receiver_log
from curbwright.shared.epochs.nmea import KINDS, SENTENCE_REASON_NAMES, read_log
from curbwright.shared.epochs.times import parse_times

DATA = Path(__file__).resolve().parents[2] / "sample_project" / "data"


def read(path):
    with open(path, "rb") as stream:
        return read_log(stream)


def test_it_is_the_one_committed(tmp_path):
    build.build(tmp_path / "tern_ness.gpkg")
    again, committed = tmp_path / build.LOG, DATA / build.LOG
    # another PROJ may round a tenth of a millimetre the other way, which changes a checksum too
    one, other = (
        re.sub(rb"\d{4,5}\.\d{7}|\*..\r", b"", path.read_bytes()) for path in (again, committed)
    )
    assert one == other
    assert_allclose(
        read(again).epochs.latitude, read(committed).epochs.latitude, rtol=0.0, atol=4e-9
    )
    assert_allclose(
        read(again).epochs.longitude, read(committed).epochs.longitude, rtol=0.0, atol=4e-9
    )
    assert committed.stat().st_size < 100_000 and b"invented" in committed.read_bytes()


def test_it_holds_the_walk():
    log = read(DATA / build.LOG)
    walk = next(
        one.walk
        for one in port.captures()
        if (one.edge, one.day) == (receiver_log.EDGE, receiver_log.DAY)
    )
    assert_array_equal(log.epochs.seconds, walk.seconds)
    there = np.isfinite(walk.x)
    assert_array_equal(np.isfinite(log.epochs.latitude), there)
    assert_allclose(log.epochs.altitude[there], walk.z[there], rtol=0.0, atol=6e-5)
    assert_allclose(log.epochs.sigma_horizontal, walk.h_acc, rtol=0.0, atol=8e-5)
    assert_array_equal(log.epochs.quality[there], walk.fix[there])
    assert [
        (KINDS[kind], SENTENCE_REASON_NAMES[reason])
        for kind, reason in zip(log.rejected.kind, log.rejected.reason)
    ] == [("ZDA", "checksum"), ("GGA", "cut_off")]
    dataset = gdal.OpenEx(str(DATA / "tern_ness.gpkg"), gdal.OF_VECTOR)
    layer = dataset.GetLayerByName("captures_plumb")
    layer.SetAttributeFilter(f"capture = '{walk.capture}'")
    seconds = parse_times([feature["utc"] for feature in layer])[0]
    assert_array_equal(log.epochs.seconds, seconds)


def test_its_sentences_are_right():
    sentences = re.findall(
        rb"\$GN[A-Z]{3},[\x20-\x23\x25-\x7e]*?\*..", (DATA / build.LOG).read_bytes()
    )
    kinds = [pynmea2.parse(text.decode(), check=True).sentence_type for text in sentences]
    assert {kind: kinds.count(kind) for kind in ("GGA", "GST", "RMC", "ZDA")} == {
        "GGA": 146,
        "GST": 146,
        "RMC": 146,
        "ZDA": 4,
    }
