"""Edits saved into PostGIS, a GeoPackage and a Shapefile: whole, or not at all."""

import sqlite3
from contextlib import closing

import pytest
from qgis.core import (
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsProcessingException,
    QgsVectorFileWriter,
    QgsVectorLayer,
)

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.host.fields import NewField, is_null
from curbwright.algorithms.writing import edit_saving
from curbwright.algorithms.writing.edit_buffer import LayerEdits, apply_edits

pytestmark = pytest.mark.usefixtures("provider")
ROWS = ("('a', 'LINESTRING(0 0, 1 0)')", "('b', 'LINESTRING(0 5, 1 5)')")


class InPostgis:
    """A table in a database of its own."""

    def __init__(self, request, folder):
        self.database = request.getfixturevalue("postgis").new_database()
        self.database.run(
            "create table streets (id serial primary key, name text not null,"
            " geom geometry(LineString, 32631));"
            + "".join(
                "insert into streets (name, geom) select name, st_setsrid(st_geomfromtext(wkt),"
                f" 32631) from (values {row}) as t (name, wkt);"
                for row in ROWS
            )
        )
        self.layer = self.database.layer("streets", kind="LineString", srid=32631)

    def break_at_insert(self, monkeypatch):
        """The connection is lost when the first row is inserted, long after the others changed."""
        self.database.run(
            "create function die() returns trigger language plpgsql as $$ begin perform"
            " pg_terminate_backend(pg_backend_pid()); perform pg_sleep(1); return new; end $$;"
            " create trigger dying before insert on streets for each row execute function die()"
        )

    def content(self):
        columns = "select * from streets order by id"
        names = self.database.run(
            "select column_name from information_schema.columns where table_name = 'streets'"
        )
        return sorted(names), self.database.run(columns)


class InGeopackage:
    """A layer of a GeoPackage."""

    driver, ending = "GPKG", "gpkg"

    def __init__(self, request, folder):
        memory = QgsVectorLayer("LineString?crs=EPSG:32631&field=name:string", "streets", "memory")
        for row in ROWS:
            name, wkt = eval(row)
            feature = QgsFeature(memory.fields())
            feature.setAttributes([name])
            feature.setGeometry(QgsGeometry.fromWkt(wkt))
            memory.dataProvider().addFeature(feature)
        options = QgsVectorFileWriter.SaveVectorOptions()
        options.driverName = self.driver
        self.path = folder / f"streets.{self.ending}"
        QgsVectorFileWriter.writeAsVectorFormatV3(
            memory, str(self.path), QgsCoordinateTransformContext(), options
        )
        self.layer = QgsVectorLayer(str(self.path), "streets", "ogr")

    def break_at_insert(self, monkeypatch):
        with closing(sqlite3.connect(self.path)) as database:
            database.execute(
                "create trigger full before insert on streets begin"
                " select raise(abort, 'the disk is full'); end"
            )

    def content(self):
        layer = QgsVectorLayer(str(self.path), "again", "ogr")
        return layer.fields().names(), [
            [row.id(), row.geometry().asWkt(), *map(str, row.attributes())]
            for row in layer.getFeatures()
        ]


class InShapefile(InGeopackage):
    """A Shapefile, which knows no transaction; nothing in it can be made to refuse a row."""

    driver, ending = QgsVectorFileWriter.driverForExtension("shp"), "shp"

    def break_at_insert(self, monkeypatch):
        def refuse(*_):
            raise edit_saving._RefusedError("the disk is full")

        monkeypatch.setattr(edit_saving, "in_layer", refuse)


@pytest.fixture(params=[InPostgis, InGeopackage, InShapefile])
def stored(request, tmp_path):
    return request.param(request, tmp_path)


def some_edits(layer):
    """The first line moved and marked, a new one, the second one gone, two fields more."""
    first, second = sorted(row.id() for row in layer.getFeatures())
    fields = layer.fields()
    for name in ("update", "update_edges"):
        fields.append(NewField(name, "QString", length=80).field())

    def feature(wkt, name, *values):
        out = QgsFeature(fields)
        out.setGeometry(QgsGeometry.fromWkt(wkt))
        out.setAttribute("name", name)
        for field, value in zip(("update", "update_edges"), values):
            out.setAttribute(field, value)
        return out

    changed = feature("LineString(0 1, 1 1)", "a", "replaced", "7,8")
    for key in layer.primaryKeyAttributes():
        changed.setAttribute(key, layer.getFeature(first)[key])
    return LayerEdits(
        title="as one",
        fields=fields,
        changed={first: changed},
        added=[feature("LineString(0 9, 1 9)", "c", "added", "9")],
        deleted=[second],
    )


def test_everything_is_saved(stored):
    apply_edits(stored.layer, some_edits(stored.layer), keep_open=False)
    assert not stored.layer.isEditable()
    edges = edit_saving.own_name(stored.layer.fields(), "update_edges")
    rows = {row["name"]: row for row in stored.layer.getFeatures()}
    assert sorted(rows) == ["a", "c"]
    assert "(0 1, 1 1)" in rows["a"].geometry().asWkt()
    assert [(rows[name]["update"], rows[name][edges]) for name in "ac"] == [
        ("replaced", "7,8"),
        ("added", "9"),
    ]
    assert not any(is_null(row[0]) for row in rows.values())  # the new row has an id of its own
    assert "c" in str(stored.content())


def test_a_failure_half_way_leaves_all_as_it_was(stored, monkeypatch):
    stored.break_at_insert(monkeypatch)
    before, edits = stored.content(), some_edits(stored.layer)
    with pytest.raises(QgsProcessingException, match="streets.*as it was"):
        apply_edits(stored.layer, edits, keep_open=False)
    assert stored.content() == before


def test_a_cancel_at_any_look_leaves_all_as_it_was(stored, monkeypatch):
    """Each time a transaction is rolled back; the host must live on."""
    monkeypatch.setattr(edit_saving, "AT_ONCE", 1)
    before, edits = stored.content(), some_edits(stored.layer)
    for last in range(1, 5):
        looks = []

        def look(last=last, looks=looks):
            looks.append(1)
            if len(looks) == last:
                raise CancelledError

        layer = QgsVectorLayer(
            stored.layer.source(), stored.layer.name(), stored.layer.providerType()
        )
        with pytest.raises(CancelledError):
            edit_saving.save_edits(layer, edits, look)
        assert stored.content() == before


def test_a_line_that_is_gone_meanwhile_leaves_all_as_it_was(stored):
    edits = some_edits(stored.layer)
    edits.changed[777] = next(iter(edits.changed.values()))
    before = stored.content()
    with pytest.raises(QgsProcessingException, match="as it was.*1 of its lines are gone"):
        apply_edits(stored.layer, edits, keep_open=False)
    assert stored.content() == before


@pytest.mark.parametrize("open_in_project", [False, True])
def test_what_was_deleted_comes_back_under_its_key(stored, open_in_project):
    """Tables that refer to the line by its key still do. A key that is taken is not taken away."""
    layer, before = stored.layer, stored.content()
    row = QgsFeature(next(iter(layer.getFeatures())))
    title = {"title": "as one", "fields": layer.fields()}
    apply_edits(layer, LayerEdits(**title, deleted=[row.id()]), keep_open=False)
    assert stored.content() != before
    apply_edits(layer, LayerEdits(**title, returned=[row]), keep_open=open_in_project)
    assert not open_in_project or layer.commitChanges(), layer.commitErrors()
    if layer.primaryKeyAttributes():
        assert stored.content() == before
    apply_edits(layer, LayerEdits(**title, returned=[row]), keep_open=False)
    assert layer.featureCount() == 3
