"""The basemap brought up to date through the host: ids, attributes, junctions, undo."""

import re
from threading import Event

import numpy as np
import processing
import pytest
from qgis.core import (
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QDate, QDateTime, QTime
from towns import make_town
from walkedlayers import Log, run

from curbwright.algorithms import updatebasemap
from curbwright.algorithms.host.fields import is_null
from curbwright.algorithms.writing import edit_saving, styles

pytestmark = pytest.mark.usefixtures("provider")
E0, N0 = 500_000.0, 6_000_000.0


def layer_of(rows, fields=("name:string",), crs="EPSG:32631", kind="LineString", name="basemap"):
    """Rows of (list of coordinates, *values)."""
    uri = f"{kind}?crs={crs}" + "".join(f"&field={field}" for field in fields)
    layer = QgsVectorLayer(uri, name, "memory")
    features = []
    for xy, *values in rows:
        feature = QgsFeature(layer.fields())
        text = ", ".join(f"{x + E0:.4f} {y + N0:.4f}" for x, y in xy)
        geometry = QgsGeometry.fromWkt(f"LineString({text})")
        if kind.startswith("Multi"):
            geometry.convertToMultiType()
        feature.setGeometry(geometry)
        feature.setAttributes(list(values))
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


def walk(*corners, step=0.7):
    """Corners with vertices between them as a walk gives them."""
    out = []
    for a, b in zip(corners[:-1], corners[1:]):
        number = max(int(np.hypot(b[0] - a[0], b[1] - a[1]) / step), 1)
        out += [(a[0] + (b[0] - a[0]) * k / number, a[1] + (b[1] - a[1]) * k / number)
                for k in range(number)]  # fmt: skip
    return [*out, corners[-1]]


BASEMAP = [
    ([(0, 0), (60, 0)], "front"),
    ([(60, 0), (60, 40)], "side"),
    ([(25, 0), (25, -30)], "branch"),
    ([(0, 80), (60, 80)], "gone"),
    ([(0, 120), (60, 120)], "as it was"),
]
EDGES = [
    (walk((0, 0.6), (60, 0.6)), "Ada"),
    (walk((60, 3), (60, 40)), "Ada"),
    (walk((25, -3), (25, -30)), "Bo"),
    (walk((0, 120), (60, 120)), "Bo"),
    (walk((0, 200), (40, 200)), "new one"),
]


@pytest.fixture
def basemap_layer():
    return layer_of(BASEMAP)


@pytest.fixture
def edges_layer():
    return layer_of(EDGES, name="edges")


def update(existing, edges=None, log=None, **parameters):
    return run(
        "updatebasemap",
        {
            "EXISTING": existing,
            "EDGES": edges,
            "UPDATED": "memory:",
            "CHANGES": "memory:",
            "HELD": "memory:",
            "REACH": 50.0,  # what is gone lies farther from the edges than people look
            **parameters,
        },
        log,
    )


def rows_of(layer):
    """Name, what became of it and WKT of each row."""
    return [
        (row["name"], None if is_null(row["update"]) else row["update"], row.geometry().asWkt(6))
        for row in layer.getFeatures()
    ]


def content(layer, names):
    return [
        (
            [None if is_null(row[name]) else row[name] for name in names],
            bytes(row.geometry().asWkb()),
        )
        for row in layer.getFeatures()
    ]


def test_what_becomes_of_every_line(basemap_layer, edges_layer):
    result = update(basemap_layer, edges_layer)
    rows = rows_of(result["UPDATED"])
    assert [row[:2] for row in rows] == [
        ("front", "replaced"),
        ("side", "followed"),
        ("branch", "followed"),
        ("gone", "retired"),
        ("as it was", "unchanged"),
        ("new one", "added"),
    ]
    for name in ("UNCHANGED", "REPLACED", "ADDED", "RETIRED"):
        assert result[name] == 1
    assert result["FOLLOWED"] == 2 and result["HELD_BACK"] == 0 and result["SHIFTED"] == 0
    geometry = {row["name"]: QgsGeometry(row.geometry()) for row in result["UPDATED"].getFeatures()}
    assert geometry["front"].distance(geometry["side"]) == 0.0
    assert geometry["front"].distance(geometry["branch"]) < 1e-9
    before = {row["name"]: QgsGeometry(row.geometry()) for row in basemap_layer.getFeatures()}
    for name in ("gone", "as it was"):
        assert bytes(geometry[name].asWkb()) == bytes(before[name].asWkb())


def test_what_nobody_visited_is_not_retired(basemap_layer, edges_layer):
    result = update(basemap_layer, edges_layer, REACH=15.0)
    assert result["RETIRED"] == 0 and ("gone", "unchanged") in [
        row[:2] for row in rows_of(result["UPDATED"])
    ]


def test_every_change_is_a_row(basemap_layer, edges_layer):
    changes = list(update(basemap_layer, edges_layer)["CHANGES"].getFeatures())
    assert sorted(row["what"] for row in changes) == [
        "added", "followed", "followed", "replaced", "retired",
    ]  # fmt: skip
    front = next(row for row in changes if row["what"] == "replaced")
    assert front["existing_id"] == "1" and front["edge_ids"] == "1"
    assert front["moved"] == pytest.approx(0.6, abs=0.01)
    assert front["moved_azimuth"] % 360 == pytest.approx(0.0, abs=1.0)
    assert front["length_before"] == pytest.approx(60 / 0.9996, abs=0.01)


def test_once_more_changes_nothing(basemap_layer, edges_layer):
    first = update(basemap_layer, edges_layer)["UPDATED"]
    second = update(first, edges_layer)
    assert second["CHANGES"].featureCount() == 0 and second["HELD"].featureCount() == 0
    names = first.fields().names()
    assert second["UPDATED"].fields().names() == names
    assert content(second["UPDATED"], names) == content(first, names)


@pytest.mark.parametrize("retire", [0, 1])
@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.31, -0.22)])
def test_undo_gives_the_former_layer_back(edges_layer, retire, shift):
    rows = [([(x + shift[0], y + shift[1]) for x, y in xy], name) for xy, name in BASEMAP]
    layer = layer_of(rows)
    layer.dataProvider().addFeature(QgsFeature(layer.fields()))  # without a place
    result = update(layer, edges_layer, RETIRE=retire)
    assert result["CHANGES"].featureCount() >= 5
    back = update(result["UPDATED"], UNDO=result["CHANGES"])["UPDATED"]
    assert back.fields().names() == layer.fields().names()
    assert sorted(content(back, ["name"]), key=str) == sorted(content(layer, ["name"]), key=str)


def test_keys_that_tell_no_lines_apart_are_said(edges_layer):
    layer = layer_of([(xy, name if name != "gone" else None) for xy, name in BASEMAP[:4] * 2])
    log = Log()
    result = update(layer, edges_layer, log, KEY_FIELD="name")
    keys = {row["existing_id"] for row in result["CHANGES"].getFeatures()}
    keys |= {row["existing_id"] for row in result["HELD"].getFeatures()}
    assert {"4", "8"} <= keys and "NULL" not in keys
    assert any("“name”: lines without a value: 2" in text for text in log.warnings)
    assert any("value of another one: 3." in text for text in log.warnings)


def test_a_shift_is_taken_out_of_everything(edges_layer):
    """The whole basemap is half a metre off, nothing else moved: all lines come to the edges."""
    true = [(xy, name) for xy, name in BASEMAP if name != "gone"]
    layer = layer_of([([(x + 0.4, y - 0.3) for x, y in xy], name) for xy, name in true])
    edges = layer_of([(walk(*xy), name) for xy, name in true])
    result = update(layer, edges)
    assert result["SHIFTED"] == len(true)
    for row, (xy, _) in zip(result["UPDATED"].getFeatures(), true):
        found = np.array([(p.x() - E0, p.y() - N0) for p in row.geometry().vertices()])
        np.testing.assert_allclose(found, xy, atol=0.01)
    ends = [row.geometry().asPolyline() for row in result["UPDATED"].getFeatures()]
    assert ends[0][-1] == ends[1][0]
    assert update(layer, edges, REMOVE_SHIFT=False)["SHIFTED"] == 0


def test_decisions_in_either_layer(basemap_layer, edges_layer):
    decided = layer_of(
        [(xy, name, decision, "Chief") for (xy, name), decision in zip(
            EDGES, ("accept", "", "", "", "hold"))],
        ("name:string", "decision:string", "decided_by:string"),
        name="edges",
    )  # fmt: skip
    result = update(basemap_layer, decided)
    assert result["ADDED"] == 0 and result["HELD_BACK"] == 1
    front = next(row for row in result["CHANGES"].getFeatures() if row["what"] == "replaced")
    assert front["decided_by"] == "Chief"
    waiting = update(basemap_layer, edges_layer, NEEDS_DECISION=True)
    assert waiting["UNCHANGED"] == 5 and waiting["HELD_BACK"] == 3
    # on the status of the existing lines, as a comparison gives it
    fields = ("line_id:int", "decision:string", "decided_by:string")
    status = layer_of([(BASEMAP[0][0], 1, "reject", "Chief"), (BASEMAP[3][0], 4, "reject", "")],
                      fields, name="status")  # fmt: skip
    plain, kept = (
        update(basemap_layer, edges_layer, **more) for more in ({}, {"DECISIONS": status})
    )
    assert (plain["REPLACED"] + plain["PARTLY"], plain["RETIRED"]) == (1, 1)
    assert (kept["REPLACED"] + kept["PARTLY"], kept["RETIRED"]) == (0, 0)
    with pytest.raises(QgsProcessingException, match="“edges” has no field “line_id”"):
        update(basemap_layer, edges_layer, DECISIONS=edges_layer)
    log = Log()
    strange = layer_of([(BASEMAP[0][0], 77, "reject", "")], fields, name="status")
    update(basemap_layer, edges_layer, DECISIONS=strange, log=log)
    assert any("that “basemap” has not: 1." in text for text in log.warnings)
    wrong = layer_of([(*EDGES[0], "maybe")], ("name:string", "decision:string"), name="edges")
    with pytest.raises(QgsProcessingException, match="maybe"):
        update(basemap_layer, wrong)


def test_what_was_accepted_and_waits_all_the_same_is_warned_of():
    old = layer_of([([(0, 0), (60, 0)], "front")])
    new = layer_of(
        [
            (walk((0, 0), (60, 0)), "Ada", None),
            (walk((30, -20), (30, 20)), "Bo", "accept"),  # across the line
            (walk((50, 30), (70, 30)), "Bo", "hold"),
        ],
        ("name:string", "decision:string"),
        name="edges",
    )
    log = Log()
    result = update(old, new, log)
    assert (result["ADDED"], result["HELD_BACK"]) == (0, 2)
    assert "held back: 1 (a person holds it back)" in log.text
    (warning,) = [text for text in log.warnings if "Accepted, and held back" in text]
    assert "edge 2 (it would cross another line, or itself)" in warning


def test_the_report_says_what_changed(basemap_layer, tmp_path):
    edges = layer_of(
        [(xy, name, "accept" if y == 0.6 else "", "Chief <C>") for xy, name in EDGES
         for y in (xy[0][1],)],
        ("name:string", "decision:string", "decided_by:string"), name="walks & co",
    )  # fmt: skip
    path = tmp_path / "update.html"
    result = update(basemap_layer, edges, REPORT=str(path), TITLE="Spring sheet")
    assert result["REPORT"] == str(path)
    page = path.read_text(encoding="utf-8")
    assert "1 line was redrawn as displaced, 1 line was added (40.0 m), 1 line was" in page
    assert "Chief &lt;C&gt;" in page and "walks &amp; co" in page and "Signature" in page
    assert "<small>Project</small>Spring sheet</td>" in page
    assert "No shift was taken out" in page and "Nothing was held back" in page
    waiting = tmp_path / "waiting.html"
    update(basemap_layer, edges, REPORT=str(waiting), NEEDS_DECISION=True)
    assert "it waits for a decision" in waiting.read_text(encoding="utf-8")
    back = update(result["UPDATED"], UNDO=result["CHANGES"], REPORT=str(tmp_path / "none.html"))
    assert "REPORT" not in back and not (tmp_path / "none.html").exists()


def test_a_cancel_does_not_wait_for_the_report(basemap_layer, edges_layer, tmp_path, monkeypatch):
    log, gate, waited = Log(), Event(), []

    def endless(*_):
        log.cancel()
        waited.append(gate.wait(20))

    monkeypatch.setattr("curbwright.shared.report.basemap.write_update_report", endless)
    result = update(basemap_layer, edges_layer, log, REPORT=str(tmp_path / "report.html"))
    gone_on = bool(waited)
    gate.set()
    assert not gone_on and not result.get("REPORT") and not list(tmp_path.iterdir())


def test_fields_of_added_lines(basemap_layer):
    edges = layer_of(
        [(*row, "granite") for row in EDGES], ("walker:string", "stone:string"), name="edges"
    )
    fields = ("name:string", "material:string")
    layer = layer_of([(*row, "old") for row in BASEMAP], fields)
    result = update(layer, edges, FIELD_MAP="material: stone; name: walker")
    added = next(row for row in result["UPDATED"].getFeatures() if row["update"] == "added")
    assert (added["name"], added["material"]) == ("new one", "granite")
    with pytest.raises(QgsProcessingException, match=r"colour.*name, material"):
        update(layer, edges, FIELD_MAP="colour: stone")


def test_layers_of_other_kinds(edges_layer):
    for kind in ("MultiLineString", "LineStringZ", "CompoundCurve"):
        layer = layer_of(BASEMAP, kind=kind)
        result = update(layer, edges_layer)
        assert result["UPDATED"].wkbType() == layer.wkbType()
        assert result["REPLACED"] == 1 and result["UPDATED"].featureCount() == 6


def test_what_is_needed_is_said(basemap_layer):
    with pytest.raises(QgsProcessingException, match=r"Edges.*Changes to take back"):
        update(basemap_layer)
    with pytest.raises(QgsProcessingException, match="no table of changes"):
        update(basemap_layer, UNDO=basemap_layer)


@pytest.fixture
def stored_layer(tmp_path, basemap_layer):
    """The basemap in a GeoPackage."""
    path = str(tmp_path / "basemap.gpkg")
    options = QgsVectorFileWriter.SaveVectorOptions()
    done = QgsVectorFileWriter.writeAsVectorFormatV3(
        basemap_layer, path, QgsCoordinateTransformContext(), options
    )
    assert done[0] == QgsVectorFileWriter.WriterError.NoError
    return QgsVectorLayer(path, "stored", "ogr")


def test_in_place_is_one_undo_step(stored_layer, edges_layer, qgis_new_project):
    QgsProject.instance().addMapLayer(stored_layer)
    before = content(stored_layer, ["fid", "name"])
    result = update(stored_layer, edges_layer, IN_PLACE=True)
    assert stored_layer.isEditable() and stored_layer.undoStack().count() == 1
    after = sorted(
        (row["name"], row["update"]) for row in stored_layer.getFeatures() if row["update"]
    )
    assert ("front", "replaced") in after and ("new one", "added") in after
    geometry = {
        row["name"]: bytes(row.geometry().asWkb()) for row in result["UPDATED"].getFeatures()
    }
    for row in stored_layer.getFeatures():
        assert bytes(row.geometry().asWkb()) == geometry[row["name"]]
    stored_layer.undoStack().undo()
    assert content(stored_layer, ["fid", "name"]) == before
    assert stored_layer.fields().names() == ["fid", "name"]
    stored_layer.rollBack()


def test_in_place_of_a_file_is_saved(stored_layer, edges_layer):
    path = stored_layer.source()
    before = content(stored_layer, ["fid", "name"])
    result = update(path, edges_layer, IN_PLACE=True)
    saved = QgsVectorLayer(path, "saved", "ogr")
    assert saved.featureCount() == 6 and not saved.isEditable()
    assert [row["fid"] for row in saved.getFeatures()][:5] == [1, 2, 3, 4, 5]
    update(path, UNDO=result["CHANGES"], IN_PLACE=True)
    again = QgsVectorLayer(path, "again", "ogr")
    assert content(again, ["fid", "name"]) == before
    # nothing is still called retired, so that the next update finds the same
    own = ("update", "update_edges", "updated_at")
    assert all(is_null(row[name]) for row in again.getFeatures() for name in own)
    assert update(path, edges_layer)["RETIRED"] == result["RETIRED"] == 1


def test_what_was_updated_goes_back_though_its_states_were_emptied(stored_layer, edges_layer):
    path, before = stored_layer.source(), content(stored_layer, ["fid", "name"])
    result = update(path, edges_layer, IN_PLACE=True)
    saved = QgsVectorLayer(path, "saved", "ogr")
    place = saved.fields().lookupField("update")
    emptied = {row.id(): {place: None} for row in saved.getFeatures()}
    assert saved.dataProvider().changeAttributeValues(emptied)
    update(path, UNDO=result["CHANGES"], IN_PLACE=True)
    assert content(QgsVectorLayer(path, "again", "ogr"), ["fid", "name"]) == before


def test_a_cancel_after_the_changes_were_saved_takes_nothing_back(
    stored_layer, edges_layer, tmp_path, monkeypatch
):
    log, save, listed = Log(), updatebasemap.save_edits, tmp_path / "changes.gpkg"

    def then_cancelled(*given):
        save(*given)
        log.cancel()

    monkeypatch.setattr(updatebasemap, "save_edits", then_cancelled)
    update(stored_layer.source(), edges_layer, log, IN_PLACE=True, CHANGES=str(listed))
    assert QgsVectorLayer(stored_layer.source(), "saved", "ogr").featureCount() == 6
    assert QgsVectorLayer(str(listed), "changes", "ogr").featureCount() > 0


def test_a_cancel_while_changes_are_saved_takes_them_back(
    stored_layer, edges_layer, tmp_path, monkeypatch
):
    log, check, listed = Log(), edit_saving._check, tmp_path / "changes.gpkg"
    path = stored_layer.source()
    before = content(stored_layer, ["fid", "name"])

    def then_cancelled(*given):
        check(*given)
        log.cancel()

    monkeypatch.setattr(edit_saving, "AT_ONCE", 1)
    monkeypatch.setattr(edit_saving, "_check", then_cancelled)
    update(path, edges_layer, log, IN_PLACE=True, CHANGES=str(listed))
    assert content(QgsVectorLayer(path, "again", "ogr"), ["fid", "name"]) == before
    assert not listed.exists()


def test_a_cancel_at_the_end_changes_no_layer_of_the_project(
    stored_layer, edges_layer, tmp_path, monkeypatch, qgis_new_project
):
    log, put = Log(), updatebasemap.UpdateBasemap._put_in_place
    QgsProject.instance().addMapLayer(stored_layer)
    before, listed = content(stored_layer, ["fid", "name"]), tmp_path / "changes.gpkg"

    def then_cancelled(algorithm, *given):
        put(algorithm, *given)
        log.cancel()

    monkeypatch.setattr(updatebasemap.UpdateBasemap, "_put_in_place", then_cancelled)
    update(stored_layer, edges_layer, log, IN_PLACE=True, CHANGES=str(listed))
    assert not stored_layer.isEditable() and content(stored_layer, ["fid", "name"]) == before
    assert not listed.exists()


def test_a_cancel_between_rows_leaves_the_edit_buffer_as_it_was(
    stored_layer, edges_layer, tmp_path, monkeypatch, qgis_new_project
):
    """Once outputs are in their place they stay, and the log says so."""
    log, apply = Log(), updatebasemap.apply_edits
    QgsProject.instance().addMapLayer(stored_layer)
    stored_layer.startEditing()
    assert stored_layer.changeAttributeValue(1, 1, "renamed")
    before, listed = content(stored_layer, ["fid", "name"]), tmp_path / "changes.gpkg"

    def cancelled_after_two_rows(*given, look):
        looks = iter(range(2))

        def look_again():
            if next(looks, None) is None:
                log.cancel()
            look()

        return apply(*given, look=look_again)

    monkeypatch.setattr(edit_saving, "AT_ONCE", 1)
    monkeypatch.setattr(updatebasemap, "apply_edits", cancelled_after_two_rows)
    update(stored_layer, edges_layer, log, IN_PLACE=True, CHANGES=str(listed))
    assert stored_layer.isEditable() and stored_layer.undoStack().count() == 1
    assert content(stored_layer, ["fid", "name"]) == before and listed.exists()
    assert "“stored” is as it was" in log.text


def test_in_place_of_a_read_only_layer_is_refused(stored_layer, edges_layer, qgis_new_project):
    QgsProject.instance().addMapLayer(stored_layer)
    stored_layer.setReadOnly(True)
    with pytest.raises(QgsProcessingException, match="cannot be edited"):
        update(stored_layer, edges_layer, IN_PLACE=True)


def test_in_place_of_a_database_that_is_lost_half_way_fails_and_changes_nothing(
    postgis, basemap_layer, edges_layer
):
    database = postgis.new_database()
    database.run(
        "create table basemap (id serial primary key, name text, valid_to date,"
        " geom geometry(LineString, 32631))"
    )
    for row in basemap_layer.getFeatures():
        wkt = row.geometry().asWkt(6)
        database.run(
            f"insert into basemap (name, geom) values ('{row['name']}',"
            f" st_geomfromtext('{wkt}', 32631))"
        )
    everything = "select * from basemap order by id"
    columns = "select count(*) from information_schema.columns where table_name = 'basemap'"
    before = database.run(everything), database.run(columns)
    database.run(
        "create function die() returns trigger language plpgsql as $$ begin"
        " perform pg_terminate_backend(pg_backend_pid()); perform pg_sleep(1); return new; end $$;"
        " create trigger dying before insert on basemap for each row execute function die()"
    )
    layer = database.layer("basemap", kind="LineString", srid=32631)
    with pytest.raises(QgsProcessingException, match="basemap.*could not be saved; it is as it"):
        update(layer, edges_layer, IN_PLACE=True)
    assert (database.run(everything), database.run(columns)) == before
    database.run("drop trigger dying on basemap")
    layer = database.layer("basemap", kind="LineString", srid=32631)
    result = update(layer, edges_layer, IN_PLACE=True, KEY_FIELD="id")
    rows = database.run('select id, name, "update", valid_to is null from basemap order by id')
    assert rows[0] == ("1", "front", "replaced", "t") and rows[3] == ("4", "gone", "retired", "f")
    assert rows[5] == ("6", "new one", "added", "t") or rows[5][2] == "added"
    update(
        database.layer("basemap", kind="LineString", srid=32631),
        UNDO=result["CHANGES"],
        IN_PLACE=True,
    )
    former = "select id, name, valid_to, geom from basemap order by id"
    assert database.run(former) == before[0]


def test_edits_of_an_open_table_of_postgis_are_saved_at_once(
    postgis, basemap_layer, edges_layer, qgis_new_project
):
    """The host adds the fields, reads them, and saves nothing more where they are others."""
    database = postgis.new_database()
    database.run("create table basemap (id serial primary key, geom geometry(LineString, 32631))")
    for row in basemap_layer.getFeatures():
        wkt = row.geometry().asWkt(6)
        database.run(f"insert into basemap (geom) values (st_geomfromtext('{wkt}', 32631))")
    layer = database.layer("basemap", kind="LineString", srid=32631)
    QgsProject.instance().addMapLayer(layer)
    update(layer, edges_layer, IN_PLACE=True)
    assert layer.isEditable() and layer.commitChanges(), layer.commitErrors()
    assert ("replaced",) in database.run('select "update" from basemap')


@pytest.mark.parametrize("shape", ["shp", "gpkg"])
def test_in_place_of_files_once_more_changes_nothing(tmp_path, basemap_layer, edges_layer, shape):
    path = str(tmp_path / f"basemap.{shape}")
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName = {"shp": QgsVectorFileWriter.driverForExtension("shp"), "gpkg": "GPKG"}[
        shape
    ]
    QgsVectorFileWriter.writeAsVectorFormatV3(
        basemap_layer, path, QgsCoordinateTransformContext(), options
    )
    update(path, edges_layer, IN_PLACE=True)
    layer = QgsVectorLayer(path, "saved", "ogr")
    names = layer.fields().names()
    once = content(layer, names)
    second = update(path, edges_layer, IN_PLACE=True)
    again = QgsVectorLayer(path, "again", "ogr")
    assert second["CHANGES"].featureCount() == 0
    assert again.fields().names() == names and content(again, names) == once


# --- validity and state


def test_fields_of_validity_are_found_and_written(edges_layer):
    fields = ("name:string", "Valid_From:date", "endLifespanVersion:datetime", "status:string(20)")
    start = QDate(2001, 2, 3)
    layer = layer_of([(*row, start, None, "in use") for row in BASEMAP], fields)
    first = update(layer, edges_layer)
    rows = {row["name"]: row for row in first["UPDATED"].getFeatures()}
    today = QDateTime.currentDateTimeUtc().date()
    assert rows["gone"]["status"] == "retired" and rows["front"]["status"] == "in use"
    assert rows["gone"]["endLifespanVersion"].date() == today
    assert rows["gone"]["Valid_From"] == rows["front"]["Valid_From"] == start
    assert rows["new one"]["Valid_From"] == today and is_null(rows["new one"]["status"])
    back = update(first["UPDATED"], UNDO=first["CHANGES"])["UPDATED"]
    names = layer.fields().names()
    assert back.fields().names() == names and content(back, names) == content(layer, names)
    alone = update(layer, edges_layer, LIFECYCLE=2)["UPDATED"]
    assert {row["status"] for row in alone.getFeatures() if row["name"] != "new one"} == {"in use"}


def test_fields_of_validity_are_added_where_asked(basemap_layer, edges_layer):
    first = update(basemap_layer, edges_layer, LIFECYCLE=1)
    assert first["UPDATED"].fields().names() == [
        "name", "update", "update_edges", "updated_at", "valid_from", "valid_to",
    ]  # fmt: skip
    rows = {row["name"]: row for row in first["UPDATED"].getFeatures()}
    assert is_null(rows["new one"]["valid_to"]) and not is_null(rows["new one"]["valid_from"])
    assert is_null(rows["front"]["valid_from"]) and not is_null(rows["gone"]["valid_to"])
    back = update(first["UPDATED"], UNDO=first["CHANGES"])["UPDATED"]
    assert back.fields().names() == ["name"]


def test_lines_of_which_the_table_says_nothing_stay_and_are_counted(basemap_layer, edges_layer):
    first, log = update(basemap_layer, edges_layer), Log()
    changes = first["CHANGES"]
    gone = next(row.id() for row in changes.getFeatures() if row["what"] == "replaced")
    assert changes.dataProvider().deleteFeatures([gone])
    back = update(first["UPDATED"], log=log, UNDO=changes)["UPDATED"]
    kept = [text for text in log.warnings if "has no change:" in text]
    assert len(kept) == 1 and "has no change: 1." in kept[0]
    assert back.featureCount() == basemap_layer.featureCount()


def test_a_deleted_line_comes_back_with_values_of_every_kind(edges_layer):
    fields = ("name:string", "seen:datetime", "built:date", "width:double")
    seen = QDateTime(QDate(2020, 1, 2), QTime(3, 4, 5))
    rows = [(*row, seen, QDate(1999, 12, 31), 0.1 + 0.2) for row in BASEMAP]
    layer = layer_of(rows, fields)
    first = update(layer, edges_layer, RETIRE=1)
    back = update(first["UPDATED"], UNDO=first["CHANGES"])["UPDATED"]
    names = layer.fields().names()
    assert sorted(content(back, names), key=str) == sorted(content(layer, names), key=str)


# --- arcs


@pytest.mark.parametrize("shift", [(0.0, 0.0), (0.3, -0.2)])
def test_lines_that_are_not_redrawn_keep_their_arcs(edges_layer, shift):
    layer = layer_of([], kind="CompoundCurve")
    east, north = shift
    shapes = {
        "front": "CompoundCurve((0 0, 60 0))",
        "bow": "CompoundCurve((0 120, 20 120), CircularString(20 120, 30 125, 40 120), (40 120, 60"
        " 120))",
        "moved bow": "CompoundCurve(CircularString(0 80, 30 84, 60 80))",
    }
    rows = []
    for name, wkt in shapes.items():
        row = QgsFeature(layer.fields())
        geometry = QgsGeometry.fromWkt(wkt)
        geometry.translate(E0 + east, N0 + north)
        row.setGeometry(geometry)
        row.setAttributes([name])
        rows.append(row)
    layer.dataProvider().addFeatures(rows)
    bow, moved = (QgsGeometry.fromWkt(shapes[name]) for name in ("bow", "moved bow"))
    walks = [walk((0, 0.0), (60, 0.0))]
    for geometry, off in ((bow, 0.0), (moved, 0.7)):
        points = QgsGeometry(geometry.constGet().segmentize(0.001)).densifyByDistance(0.7)
        walks.append([(p.x(), p.y() + off) for p in points.vertices()])
    edges = layer_of([(xy, "Ada") for xy in walks], name="edges")
    log = Log()
    options = {"REMOVE_SHIFT": any(shift), "ADD_NEW": False}
    after = update(layer, edges, log=log, **options)["UPDATED"]
    found = {row["name"]: row for row in after.getFeatures()}
    assert found["bow"]["update"] == ("shifted" if any(shift) else "unchanged")
    assert found["bow"].geometry().asWkt(0).count("CircularString") == 1
    if not any(shift):
        before = {row["name"]: row.geometry() for row in layer.getFeatures()}
        for name in ("front", "bow"):
            assert bytes(found[name].geometry().asWkb()) == bytes(before[name].asWkb())
    assert found["moved bow"]["update"] in ("replaced", "partly")
    assert found["moved bow"].geometry().wkbType() == found["bow"].geometry().wkbType()
    assert any("Lines with arcs that were redrawn: 1." in text for text in log.infos)


def curves_of(shapes, name="made", kind="CompoundCurve"):
    """A layer of curves by name and WKT."""
    layer = layer_of([], kind=kind, name=name)
    for title, wkt in shapes.items():
        row = QgsFeature(layer.fields())
        geometry = QgsGeometry.fromWkt(wkt)
        geometry.translate(E0, N0)
        row.setGeometry(geometry)
        row.setAttributes([title])
        layer.dataProvider().addFeatures([row])
    return layer


def arcs_in(geometry):
    """Control points of the arcs of a geometry, near the origin."""
    text = QgsGeometry(geometry)
    text.translate(-E0, -N0)
    found = re.findall(r"CircularString \(([^)]*)\)", text.asWkt(3))
    return [[tuple(map(float, point.split())) for point in one.split(",")] for one in found]


def test_arcs_outside_the_redrawn_stretch_stay_and_those_of_edges_are_taken():
    """An S of two arcs, 180 m along; only its end was moved, by an edge that is a curve itself."""
    layer = curves_of({
        "bend": "CompoundCurve(CircularString(0 0, 20 10, 40 0), (40 0, 140 0),"
        " CircularString(140 0, 160 -10, 180 0))",
    })  # fmt: skip
    edges = curves_of(
        {"walk": "CompoundCurve((100 0.8, 140 0.8), CircularString(140 0.8, 160 -9.2, 180 0.8))"},
        name="edges",
    )
    result = update(layer, edges, REMOVE_SHIFT=False)
    (row,) = result["UPDATED"].getFeatures()
    assert row["update"] == "partly"
    kept, taken = arcs_in(row.geometry())
    assert kept == [(0, 0), (20, 10), (40, 0)]  # with the layer's own points
    assert taken[0] == pytest.approx((140, 0.8), abs=0.11)
    assert taken[-1] == pytest.approx((180, 0.8), abs=1)  # less the way to where the line ended
    # of one circle: what is cut at the rims has the radius of the edge's arc, 25 m, at (160, 15.8)
    for x, y in taken:
        assert np.hypot(x - 160, y - 15.8) == pytest.approx(25, abs=0.002)
    assert row.geometry().constGet().nCoordinates() < 20
    again = update(result["UPDATED"], edges, REMOVE_SHIFT=False)["UPDATED"]
    assert [bytes(one.geometry().asWkb()) for one in again.getFeatures()] == [
        bytes(row.geometry().asWkb())
    ]


def test_new_lines_are_curves_where_layer_and_edge_are():
    layer = curves_of({"front": "CompoundCurve((0 0, 60 0))"})
    edges = curves_of({"arc": "CompoundCurve(CircularString(0 40, 20 50, 40 40))"}, name="edges")
    result = update(layer, edges, REMOVE_SHIFT=False)["UPDATED"]
    added = [row for row in result.getFeatures() if row["update"] == "added"]
    assert [arcs_in(row.geometry())[0][::2] for row in added] == [[(0, 40), (40, 40)]]


# --- a whole town


@pytest.fixture(scope="module")
def town_layers():
    """Basemap with ids and attributes, and edges."""
    town = make_town(11)
    layers = []
    for lines, field in ((town.existing, "curb"), (town.edges, "walk")):
        xy = np.column_stack([lines.x, lines.y])
        rows = [
            (xy[low:high], 1000 + row, f"{field} {row}")
            for row, (low, high) in enumerate(zip(lines.offsets[:-1], lines.offsets[1:]))
        ]
        layers.append(layer_of(rows, ("id:integer", "note:string"), name=field))
    return layers


def test_a_town_keeps_ids_and_attributes_and_comes_back(town_layers):
    existing, edges = town_layers
    options = {"EXISTING_SIGMA": 0.03, "KEY_FIELD": "id", "FIELD_MAP": "note: note"}
    first = update(existing, edges, **options)
    rows = [(row["id"], row["note"], row["update"]) for row in first["UPDATED"].getFeatures()]
    former = [(row["id"], row["note"]) for row in existing.getFeatures()]
    assert [row[:2] for row in rows if row[2] != "added"] == former
    assert first["ADDED"] == 10 and first["RETIRED"] == 10 and first["REPLACED"] >= 18
    told = [row["existing_id"] for row in first["CHANGES"].getFeatures() if row["existing_id"]]
    assert len(told) == len(set(told)) == len(former)  # the shift is a change of each
    second = update(first["UPDATED"], edges, **options)
    assert second["CHANGES"].featureCount() == 0
    names = first["UPDATED"].fields().names()
    assert content(second["UPDATED"], names) == content(first["UPDATED"], names)
    back = update(first["UPDATED"], UNDO=first["CHANGES"])["UPDATED"]
    assert back.fields().names() == ["id", "note"]
    assert content(back, ["id", "note"]) == content(existing, ["id", "note"])


def test_loaded_layers_are_styled(qgis_new_project, basemap_layer, edges_layer):
    outputs = ("UPDATED", "CHANGES", "HELD")
    results = processing.runAndLoadResults(
        "curbwright:updatebasemap",
        {"EXISTING": basemap_layer, "EDGES": edges_layer, **dict.fromkeys(outputs, "memory:")},
    )
    loaded = [QgsProject.instance().mapLayer(results[name]) for name in outputs]
    attributes = [layer.renderer().classAttribute() for layer in loaded[:2]]
    assert attributes == ["update", "what"]
    held = basemap_layer.clone()
    assert held.loadNamedStyle(str(styles.STYLES / styles.HELD))[1]
    assert loaded[2].renderer().symbol().color() == held.renderer().symbol().color()
