"""Files written in pieces are those written at once."""

import gc
import math
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from qgis.core import (
    NULL,
    QgsFeature,
    QgsGeometry,
    QgsLineString,
    QgsPoint,
    QgsProcessingException,
    QgsRectangle,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import Qt
from walkedlayers import layer_of, reconstruct, table, walk

from curbwright.algorithms.batch import gathering
from curbwright.algorithms.host.fields import NewField, fields_of
from curbwright.algorithms.writing import sinks

pytestmark = pytest.mark.usefixtures("provider")


def contents(path, name):
    """Attributes and geometries of a layer, the ids in its spatial index, and how many rows the
    file says there are."""
    layer = QgsVectorLayer(f"{path}|layername={name}", name, "ogr")
    assert layer.isValid(), path
    shapes = [feature.geometry().asWkt(6) for feature in layer.getFeatures()]
    with closing(sqlite3.connect(str(path))) as database:
        index = [
            tuple(round(value, 3) for value in row)
            for row in database.execute(f'SELECT * FROM "rtree_{name}_geom" ORDER BY id')
        ]
    return table(layer), shapes, index, layer.extent().toString(3)


def test_the_same_in_pieces(tmp_path, monkeypatch):
    outputs = ("OUTPUT", "GAPS", "REJECTED", "KEPT", "STATIONS")
    openings = []
    opened = sinks.PiecewiseSink._open

    def count(self, action):
        openings.append(self.path.stem)
        opened(self, action)

    monkeypatch.setattr(sinks.PiecewiseSink, "_open", count)
    for folder, piece in (("whole", 10**6), ("pieces", 20)):
        (tmp_path / folder).mkdir()
        for name, value in (("PIECE", piece), ("FIRST_PIECE", piece), ("BLOCK", 10)):
            monkeypatch.setattr(sinks, name, value)
        reconstruct(
            layer_of(walk(captures=3)),
            **{name: str(tmp_path / folder / f"{name}.gpkg") for name in outputs},
        )
    for name in outputs:
        one, other = (
            contents(tmp_path / folder / f"{name}.gpkg", name) for folder in ("whole", "pieces")
        )
        assert one == other
        assert len(one[0]) == len(one[2]) > 0
    assert openings.count("KEPT") > 5 and openings.count("OUTPUT") == 2


@pytest.mark.parametrize("piece", [3, 10**6])
def test_every_kind_of_value_survives_pieces(tmp_path, monkeypatch, piece):
    monkeypatch.setattr(sinks, "PIECE", piece)
    monkeypatch.setattr(sinks, "FIRST_PIECE", piece)
    source = layer_of(walk(captures=1))
    fields = fields_of(
        (
            NewField("a text", "QString"),
            NewField("yes", "Bool"),
            NewField("long", "LongLong"),
            NewField("real", "Double"),
            NewField("when", "QDateTime"),
        )
    )
    values = [["ä “b”", True, 2**40, 0.1, sinks.utc_cells([1.7e9])[0]], [NULL] * 5]
    features = []
    for number, one in enumerate(source.getFeatures()):
        feature = QgsFeature(fields)
        if number % 3:
            feature.setGeometry(one.geometry())
        feature.setAttributes(values[number % 2])
        features.append(feature)
    for name in ("first", "second layer"):
        writer = gathering.LayerWriter(
            tmp_path / "all.gpkg",
            name,
            fields,
            source.wkbType(),
            source.crs(),
            source.transformContext(),
        )
        for start in range(0, len(features), 2):
            writer.add(features[start : start + 2])
        writer.close()
    for name in ("first", "second layer"):
        rows, shapes, index, _ = contents(tmp_path / "all.gpkg", name)
        assert len(rows) == len(features) and [row["fid"] for row in rows] == list(
            range(1, len(rows) + 1)
        )
        assert [list(row.values())[1:4] for row in rows] == [
            values[number % 2][:3] for number in range(len(rows))
        ]
        assert [
            row["when"].toSecsSinceEpoch() if row["when"] != NULL else None for row in rows[:2]
        ] == [1_700_000_000, None]
        assert [shape for shape in shapes if shape and "EMPTY" not in shape] == [
            feature.geometry().asWkt(6) for feature in features if feature.hasGeometry()
        ]
        assert len(index) == sum(number % 3 > 0 for number in range(len(rows)))


def test_a_file_that_is_gone_between_two_pieces_is_an_error(tmp_path, monkeypatch):
    monkeypatch.setattr(sinks, "PIECE", 2)
    monkeypatch.setattr(sinks, "FIRST_PIECE", 2)
    source = layer_of(walk(captures=1))
    features = list(source.getFeatures())
    writer = gathering.LayerWriter(
        tmp_path / "all.gpkg",
        "kept",
        source.fields(),
        source.wkbType(),
        source.crs(),
        source.transformContext(),
    )
    writer.add(features[:2])
    writer.sink.close()
    Path(tmp_path / "all.gpkg").write_bytes(b"no GeoPackage any more")
    with pytest.raises(QgsProcessingException, match="layer “kept” cannot be written: .+"):
        writer.add(features[2:4])


def test_discard(tmp_path):
    for name in ("a.gpkg", "b.shp", "b.dbf", "b.shx", "c.csv", "kept.txt"):
        (tmp_path / name).write_text("x")
    reconstruct(layer_of(walk()), OUTPUT=str(tmp_path / "b.shp"))
    assert (
        sinks.discard(str(tmp_path / "a.gpkg"))
        and sinks.discard(str(tmp_path / "b.shp"))
        and sinks.discard(str(tmp_path / "c.csv"))
    )
    assert [path.name for path in tmp_path.iterdir()] == ["kept.txt"]
    assert not sinks.discard("output_1234") and not sinks.discard(
        str(tmp_path / "kept.txt|layername=x")
    )


def test_cells_of_times():
    moments = sinks.utc_cells(np.array([0.0, np.nan, 1.7e9 + 0.25, -1.5, np.inf]))
    assert [moment if moment is None else moment.toMSecsSinceEpoch() for moment in moments] == [
        0,
        None,
        1_700_000_000_250,
        -1500,
        None,
    ]
    assert moments[0].timeSpec() == Qt.TimeSpec.UTC


@pytest.mark.parametrize("before", [True, False])
def test_the_collector_goes_on_as_before(before):
    seen = []

    @sinks.without_collector()
    def fail():
        with sinks.without_collector():
            seen.append(gc.isenabled())
        seen.append(gc.isenabled())
        raise ZeroDivisionError

    (gc.enable if before else gc.disable)()
    try:
        with pytest.raises(ZeroDivisionError):
            fail()
        assert seen == [False, False] and gc.isenabled() is before
    finally:
        gc.enable()


class FlatArc:
    """What QGIS 3.40 says of some flat arcs in degrees, which it once cost their geometry."""

    def boundingBox(self):
        return QgsRectangle(-1.0, math.nan, 10.6, math.nan)

    def vertices(self):
        return iter([QgsPoint(10.60078, 55.93500), QgsPoint(10.60079, 55.93501)])


def test_a_geometry_whose_vertices_are_numbers_has_a_place():
    assert sinks.has_place(FlatArc())
    line = QgsGeometry(QgsLineString([0.0, 1.0], [0.0, 1.0]))
    assert sinks.has_place(line) and sinks.has_place(QgsGeometry())
    for wrong in (math.nan, math.inf):
        assert not sinks.has_place(QgsGeometry(QgsLineString([0.0, wrong], [0.0, 1.0])))


@pytest.mark.parametrize("wrong", [math.nan, math.inf])
def test_lines_from_arrays_know_whether_all_have_a_place(wrong):
    x, offsets = np.array([0.0, 1.0, 5.0, 6.0]), np.array([0, 2, 4])
    lines = sinks.LineGeometries(x, x, np.full(4, math.nan), offsets)
    assert lines.placed  # an unknown height is none of its business
    ends = [[(one.x(), one.y()) for one in line.vertices()] for line in lines]
    assert ends == [[(0.0, 0.0), (1.0, 1.0)], [(5.0, 5.0), (6.0, 6.0)]]
    assert not sinks.LineGeometries(x, np.append(x[:3], wrong), x, offsets).placed


def test_rows_whose_line_has_no_place_are_written_without_it_and_counted():
    layer = QgsVectorLayer("LineString?field=name:string", "lines", "memory")
    writer = sinks.Writer(layer.dataProvider(), QgsProcessingException)
    for end in (1.0, math.nan, 2.0):
        feature = QgsFeature(layer.fields())
        feature.setGeometry(QgsGeometry(QgsLineString([0.0, end], [0.0, 1.0])))
        writer.add(feature)
    writer.flush()
    assert writer.written == 3 and writer.unplaced == 1
    assert [row.hasGeometry() for row in layer.getFeatures()] == [True, False, True]
