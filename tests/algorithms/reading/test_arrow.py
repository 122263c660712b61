"""Columns of Arrow batches: what GDAL's own features say, whatever the kind and wherever values are
missing."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from osgeo import ogr
from qgis.core import QgsFeedback

from curbwright.algorithms.reading.arrow import ROOM, Ragged, UnreadableError, batches, shortened

pytestmark = pytest.mark.skipif(
    not hasattr(ogr.Layer, "GetArrowStream"), reason="GDAL older than 3.6"
)
KINDS = {
    "count": ogr.OFTInteger,
    "big": ogr.OFTInteger64,
    "share": ogr.OFTReal,
    "name": ogr.OFTString,
    "day": ogr.OFTDate,
    "at": ogr.OFTDateTime,
}


class InBatches:
    """A layer that hands over few rows at once."""

    def __init__(self, layer, rows):
        self._layer, self._options = layer, [f"MAX_FEATURES_IN_BATCH={rows}"]

    def __getattr__(self, name):
        return getattr(self._layer, name)

    def GetArrowStream(self):
        return self._layer.GetArrowStream(self._options)


# many more rows than are handed over at once; by itself GDAL takes 65,536
@pytest.fixture(
    scope="module", params=[(2_000, 700), pytest.param((70_000, None), marks=pytest.mark.long)]
)
def table(request):
    rows, at_once = request.param
    rng = np.random.default_rng(3)
    data = ogr.GetDriverByName("Memory").CreateDataSource("")
    layer = data.CreateLayer("many", None, ogr.wkbPoint25D)
    for name, kind in KINDS.items():
        layer.CreateField(ogr.FieldDefn(name, kind))
    definition = layer.GetLayerDefn()
    for row in range(rows):
        feature = ogr.Feature(definition)
        if row % 9:
            feature.SetGeometry(
                ogr.CreateGeometryFromWkt(f"POINT Z ({row} 2 3)" if row % 2 else "POINT EMPTY")
            )
        for name, value in zip(
            KINDS,
            (
                row,
                -(2**40) - row,
                row / 7,
                "é" * (row % 5),
                "2026/05/04",
                "2026/05/04 10:00:01.250",
            ),
        ):
            if rng.random() < 0.8:
                feature.SetField(name, value)
        layer.CreateFeature(feature)
    yield layer if at_once is None else InBatches(layer, at_once)
    del layer, data


def test_columns_are_what_the_features_say(table):
    names = [*KINDS, "OGC_FID", "wkb_geometry"]
    parts = [
        {
            name: (values.texts() if isinstance(values, Ragged) else values.copy(), missing.copy())
            for name, (values, missing) in batch.items()
        }
        for batch in batches(table, QgsFeedback())
    ]
    assert len(parts) in (2, 3) and set(parts[0]) == set(names)
    missing = {name: np.concatenate([part[name][1] for part in parts]) for name in names}
    values = {name: np.concatenate([part[name][0] for part in parts]) for name in names}
    table.ResetReading()
    features = [table.GetNextFeature() for _ in range(table.GetFeatureCount())]
    for name in KINDS:
        assert_array_equal(
            missing[name], [not feature.IsFieldSetAndNotNull(name) for feature in features]
        )
    for name in ("count", "big", "share"):
        there = ~missing[name]
        assert_array_equal(
            values[name][there],
            np.array([feature.GetField(name) for feature in features], object)[there].astype(
                values[name].dtype
            ),
        )
    assert [text.decode() for text in values["name"].tolist()] == [
        feature.GetField("name") or "" for feature in features
    ]
    assert set(values["day"][~missing["day"]]) == {np.datetime64("2026-05-04")}
    assert set(values["at"][~missing["at"]]) == {np.datetime64("2026-05-04T10:00:01.250")}
    assert_array_equal(values["OGC_FID"], [feature.GetFID() for feature in features])
    assert_array_equal(
        missing["wkb_geometry"], [feature.GetGeometryRef() is None for feature in features]
    )


def test_what_is_not_read_here_is_said_at_once():
    data = ogr.GetDriverByName("Memory").CreateDataSource("")
    layer = data.CreateLayer("lists", None, ogr.wkbPoint)
    layer.CreateField(ogr.FieldDefn("several", ogr.OFTIntegerList))
    with pytest.raises(UnreadableError):
        next(batches(layer, QgsFeedback()))
    del layer, data


@pytest.mark.parametrize("lengths", [[], [0, 0], [2, 2, 2], [1, 0, 3]])
def test_texts_of_ragged_bytes(lengths):
    data = np.frombuffer(b"abcdefgh"[: sum(lengths)], np.uint8)
    ends = np.cumsum(lengths, dtype=int)
    expected = [b"abcdefgh"[end - length : end] for end, length in zip(ends.tolist(), lengths)]
    assert Ragged(data, np.array(lengths, np.int64)).texts().tolist() == expected


def test_null_rows_have_no_bytes_whatever_they_hold():
    blobs = Ragged(np.frombuffer(b"aabbbc", np.uint8), np.array([2, 3, 0, 1]))
    left = blobs.without(np.array([False, True, True, False]))
    assert left.data.tobytes() == b"aac" and left.lengths.tolist() == [2, 0, 0, 1]


def test_a_text_of_megabytes_in_one_row_takes_no_room_in_the_others():
    texts = [b"walk 1"] * 1000 + [
        b"x" * 8_000_000,
        b"x" * 7_999_999 + b"y",
        b"",
        "ä".encode() * 400,
    ]
    ragged = Ragged(
        np.frombuffer(b"".join(texts), np.uint8), np.array([len(text) for text in texts])
    )
    found = ragged.texts()
    assert found.nbytes <= ROOM
    assert found[:1000].tolist() == texts[:1000] and found[1002] == b""
    assert found[1000] != found[1001] and found[1000].startswith(b"xxx")
    assert found[1003].decode().startswith("ää")
    assert shortened(b"short", 9) == b"short"
