"""Reading: both ways give the same arrays, whatever the rows hold."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal
from osgeo import gdal, ogr, osr
from qgis.core import (
    QgsFeature,
    QgsGeometry,
    QgsProcessingFeatureSourceDefinition,
    QgsProcessingFeedback,
    QgsProject,
    QgsVectorLayer,
    QgsVectorLayerJoinInfo,
)
from walkedlayers import layer_of, source_of, to_file, walk

from curbwright.algorithms.host import fields
from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.reading import layer_stream
from curbwright.algorithms.reading.layer_rows import read_rows

pytestmark = pytest.mark.usefixtures("provider")
NAMES = ["at", "day", "name", "count", "big", "share", "seen"]


def read(layer, names, definition=None, force_loop=False):
    file = None if force_loop else layer_stream.file_behind(layer, definition or layer)
    return read_rows(
        source_of(layer, definition), file, names, QgsProcessingFeedback(), lambda share: None
    )


def same(left, right):
    for name in ("ids", "x", "y", "z", "m", "parts", "part"):
        assert_array_equal(getattr(left, name), getattr(right, name), name)
    assert left.columns.keys() == right.columns.keys()
    for name, column in left.columns.items():
        other = right.columns[name]
        assert column.kind == other.kind
        assert column.values.dtype.kind == other.values.dtype.kind
        assert_array_equal(column.values, other.values, name)
        assert_array_equal(column.missing, other.missing, name)


def odd_file(path, driver="GPKG", wkb_type=ogr.wkbPoint25D):
    """A file with NULLs, an absent and an empty geometry, non-ASCII text and extreme numbers."""
    reference = osr.SpatialReference()
    reference.ImportFromEPSG(32632)
    data = ogr.GetDriverByName(driver).CreateDataSource(str(path))
    layer = data.CreateLayer("odd", reference, wkb_type)
    kinds = dict(
        zip(
            NAMES,
            (
                ogr.OFTDateTime,
                ogr.OFTDate,
                ogr.OFTString,
                ogr.OFTInteger,
                ogr.OFTInteger64,
                ogr.OFTReal,
                ogr.OFTInteger,
            ),
        )
    )
    for name, kind in kinds.items():
        definition = ogr.FieldDefn(name, kind)
        if name == "seen":
            definition.SetSubType(ogr.OFSTBoolean)
        layer.CreateField(definition)
    rows = (
        (
            "POINT Z (1 2 3)",
            ("2026/05/04 10:00:01.250+00", "2026/05/04", "Kråkøy—縁石", 1, 2**40, 0.5, 1),
        ),
        (None, (None, None, None, None, None, None, None)),
        (
            "POINT EMPTY",
            ("2026/03/08 02:30:00+00", "1969/12/31", "", -5, -(2**40), float("inf"), 0),
        ),
        (
            "POINT Z (4 5 -6.5)",
            (
                "1969/12/31 23:59:59+00",
                None,
                "a much longer text than the others",
                None,
                7,
                -1e-300,
                1,
            ),
        ),
        (None, ("2100/02/28 00:00:00+00", "2100/02/28", "é", 9, None, 3.0, None)),
        ("POINT Z (7 8 9)", (None, "2026/05/04", "plain", 2, 1, None, 1)),
    )
    for wkt, values in rows:
        feature = ogr.Feature(layer.GetLayerDefn())
        if wkt:
            feature.SetGeometry(ogr.CreateGeometryFromWkt(wkt))
        for name, value in zip(NAMES, values):
            if value is not None:
                feature.SetField(name, value)
        assert layer.CreateFeature(feature) == 0
    layer = data = None
    return QgsVectorLayer(f"{path}|layername=odd", "odd", "ogr")


@pytest.fixture
def odd_layer(tmp_path):
    return odd_file(tmp_path / "odd.gpkg")


needs_stream = pytest.mark.skipif(
    not hasattr(ogr.Layer, "GetArrowStream"), reason="GDAL older than 3.6"
)
OLD_GDAL = int(gdal.VersionInfo("VERSION_NUM")) < 3100000


@needs_stream
@pytest.mark.parametrize(
    "names", [NAMES[:-1], ["name"], [], ["fid", "share"]], ids=["all", "text", "none", "fid"]
)
def test_stream_and_features_agree(odd_layer, names):
    stream, loop = read(odd_layer, names), read(odd_layer, names, force_loop=True)
    assert (stream.way, loop.way) == ("arrow", "features")
    assert len(stream) == 6
    same(stream, loop)


def test_values_are_those_of_the_file(odd_layer):
    rows = read(odd_layer, NAMES)
    assert_array_equal(rows.x, [1, np.nan, np.nan, 4, np.nan, 7])
    assert_array_equal(rows.z, [3, np.nan, np.nan, -6.5, np.nan, 9])
    assert_array_equal(rows.parts, [1, 0, 0, 1, 0, 1])
    at = rows.columns["at"]
    assert_array_equal(
        at.values[[0, 2, 3, 4]],
        np.array(
            ["2026-05-04T10:00:01.250", "2026-03-08T02:30:00", "1969-12-31T23:59:59", "2100-02-28"],
            "M8[ms]",
        ),
    )
    assert_array_equal(at.missing, [False, True, False, False, False, True])
    assert rows.columns["name"].texts().tolist() == [
        "Kråkøy—縁石",
        "",
        "",
        "a much longer text than the others",
        "é",
        "plain",
    ]
    assert_array_equal(rows.columns["name"].missing, [False, True, True, False, False, False])
    assert_array_equal(rows.columns["big"].values, [2**40, 0, -(2**40), 7, 0, 1])
    assert_array_equal(rows.columns["share"].numbers(), [0.5, np.nan, np.inf, -1e-300, 3.0, np.nan])
    assert_array_equal(rows.columns["seen"].values, [True, False, False, True, False, True])
    assert_array_equal(rows.columns["seen"].missing, [False, True, False, False, True, False])


@pytest.mark.skipif(not OLD_GDAL, reason="GDAL 3.10 streams booleans rightly")
def test_booleans_of_old_gdal_come_feature_by_feature(odd_layer):
    assert read(odd_layer, ["seen"]).way == "features"


@needs_stream
@pytest.mark.parametrize("driver", ["GeoJSON", "FlatGeobuf"])
def test_other_file_formats_agree(tmp_path, driver):
    suffix = {"GeoJSON": "geojson", "FlatGeobuf": "fgb"}[driver]
    layer = to_file(layer_of(walk()), tmp_path / f"walk.{suffix}", driver)
    names = ["time", "fix", "h_acc", "capture"]
    # such times are not streamed but from a GeoPackage
    if fields.kind(layer.fields().field("time")) == "datetime":
        assert read(layer, ["time"]).way == "features"
        names.remove("time")
    stream = read(layer, names)
    assert stream.way == "arrow"
    same(stream, read(layer, names, force_loop=True))


@needs_stream
def test_filter_of_the_layer_is_honoured(odd_layer):
    assert odd_layer.setSubsetString('"count" > 0')
    stream = read(odd_layer, ["name", "count"])
    assert stream.way == "arrow"
    assert stream.columns["count"].values.tolist() == [1, 9, 2]
    same(stream, read(odd_layer, ["name", "count"], force_loop=True))


@needs_stream
def test_only_the_wanted_columns_are_read(odd_layer, monkeypatch):
    ignored = []
    original = ogr.Layer.SetIgnoredFields
    monkeypatch.setattr(
        ogr.Layer,
        "SetIgnoredFields",
        lambda self, names: ignored.extend(names) or original(self, names),
    )
    read(odd_layer, ["share"])
    assert sorted(ignored) == sorted(set(NAMES) - {"share"})


def test_selection_is_read_feature_by_feature(odd_layer):
    odd_layer.selectByIds([1, 4])
    definition = QgsProcessingFeatureSourceDefinition(odd_layer.id(), selectedFeaturesOnly=True)
    QgsProject.instance().addMapLayer(odd_layer, False)
    try:
        rows = read(odd_layer, ["name"], definition)
    finally:
        QgsProject.instance().takeMapLayer(odd_layer)
    assert (rows.way, rows.ids.tolist()) == ("features", [1, 4])


def test_edits_not_yet_saved_are_seen(odd_layer):
    assert odd_layer.startEditing()
    index = odd_layer.fields().lookupField("name")
    assert odd_layer.changeAttributeValue(1, index, "changed")
    added = QgsFeature(odd_layer.fields())
    added.setGeometry(QgsGeometry.fromWkt("PointZ (11 12 13)"))
    assert odd_layer.addFeature(added)
    rows = read(odd_layer, ["name"])
    odd_layer.rollBack()
    assert rows.way == "features"
    assert len(rows) == 7
    assert "changed" in rows.columns["name"].texts().tolist()


def test_edit_mode_without_changes_still_streams(odd_layer):
    assert odd_layer.startEditing()
    way = read(odd_layer, ["name"]).way
    odd_layer.rollBack()
    assert way == "arrow"


def test_expression_fields_and_joins_are_read_feature_by_feature(odd_layer):
    odd_layer.addExpressionField('"share" * 2', fields.field("double_share", "Double"))
    rows = read(odd_layer, ["double_share"])
    assert rows.way == "features"
    assert rows.columns["double_share"].values[0] == 1.0
    assert read(odd_layer, ["share"]).way == "arrow"
    other_layer = QgsVectorLayer("None?field=key:integer&field=note:string", "notes", "memory")
    feature = QgsFeature(other_layer.fields())
    feature.setAttributes([9, "joined"])
    other_layer.dataProvider().addFeatures([feature])
    join = QgsVectorLayerJoinInfo()
    join.setJoinLayer(other_layer)
    join.setJoinFieldName("key")
    join.setTargetFieldName("count")
    join.setPrefix("n_")
    assert odd_layer.addJoin(join)
    rows = read(odd_layer, ["n_note"])
    assert rows.way == "features"
    assert rows.columns["n_note"].texts().tolist() == ["", "", "", "", "joined", ""]


@needs_stream
def test_time_with_an_offset_is_not_streamed(odd_layer, tmp_path):
    data = gdal.OpenEx(str(tmp_path / "odd.gpkg"), gdal.OF_VECTOR | gdal.OF_UPDATE)
    data.ExecuteSQL("UPDATE odd SET at = '2026-05-04T12:00:00+02:00' WHERE fid = 4")
    data = None
    layer = QgsVectorLayer(f"{tmp_path / 'odd.gpkg'}|layername=odd", "odd", "ogr")
    assert read(layer, ["at"]).way == "features"
    assert read(layer, ["name"]).way == "arrow"


def test_one_type_of_a_file_of_mixed_geometries(tmp_path):
    path = tmp_path / "mixed.gpkg"
    odd_file(path, wkb_type=ogr.wkbUnknown)
    data = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE)
    table = data.GetLayer(0)
    feature = ogr.Feature(table.GetLayerDefn())
    feature.SetGeometry(ogr.CreateGeometryFromWkt("LINESTRING (0 0, 1 1)"))
    assert table.CreateFeature(feature) == 0
    table = data = None
    whole_layer = QgsVectorLayer(f"{path}|layername=odd", "odd", "ogr")
    same(read(whole_layer, ["name"]), read(whole_layer, ["name"], force_loop=True))
    points_layer = QgsVectorLayer(f"{path}|layername=odd|geometrytype=Point25D", "odd", "ogr")
    rows = read(points_layer, ["name"])
    assert len(rows) == points_layer.featureCount()
    assert rows.way == "features"  # the stream would bring the line along


def test_cancel_stops_reading(odd_layer):
    feedback = QgsProcessingFeedback()
    feedback.cancel()
    for file in (layer_stream.file_behind(odd_layer, odd_layer), None):
        with pytest.raises(CancelledError):
            read_rows(source_of(odd_layer), file, ["name"], feedback, lambda share: None)


def test_an_array_filled_block_by_block():
    filling = layer_stream._Filling(4)
    assert len(filling.whole()) == 0
    # more than was said, and of another kind
    for block in (np.array([1, 2]), np.array([3], np.int64), np.array([4.5, np.nan, 6.0])):
        filling.add(block)
    assert_array_equal(filling.whole(), [1, 2, 3, 4.5, np.nan, 6])
    texts = layer_stream._Filling(3)
    for block in (np.array([b"a"]), np.array([b"longer", b""])):
        texts.add(block)
    assert texts.whole().tolist() == [b"a", b"longer", b""]
