"""What a person changed in results outlives the next run: it is carried over, or kept aside with
the reason, and never lost silently."""

import json
import sqlite3
from contextlib import closing

import numpy as np
import pytest
from batchruns import moved, opened, process, rows_of
from linelayers import line_layer
from osgeo import gdal
from qgis.core import (
    NULL,
    QgsFeature,
    QgsGeometry,
    QgsProcessingException,
    QgsProject,
)
from qgis.PyQt.QtCore import QByteArray, QDate
from walkedlayers import ORIGIN, Log, iso, layer_of, walk

from curbwright.algorithms.batch import carry_over, run_state
from curbwright.algorithms.host import fields

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")


def two_layers():
    return [
        layer_of(walk(seed=1), name="quay walk"),
        layer_of(moved(walk(seed=2), 50.0), name="island walk"),
    ]


def features(folder, name="edges"):
    return list(opened(folder, name).getFeatures())


def key(row):
    """What an edge was walked as."""
    return row["layer"], row["capture"], row["started_unix"]


def superseded(folder):
    with closing(sqlite3.connect(str(folder / "curbwright.gpkg"))) as database:
        there = database.execute("SELECT 1 FROM gpkg_contents WHERE table_name = 'superseded'")
        if not there.fetchall():
            return []
    return rows_of(folder, "superseded")


class Editing:
    """Changes of a layer that are saved at the end."""

    def __init__(self, folder, name="edges"):
        self.layer = opened(folder, name)

    def __enter__(self):
        assert self.layer.startEditing()
        self.rows = list(self.layer.getFeatures())
        return self

    def __exit__(self, kind, *_):
        assert kind is not None or self.layer.commitChanges(), self.layer.commitErrors()

    def set(self, row, /, **values):
        for name, value in values.items():
            place = self.layer.fields().lookupField(name)
            assert place >= 0
            assert self.layer.changeAttributeValue(row.id(), place, value)

    def delete(self, row):
        assert self.layer.deleteFeature(row.id())

    def shape(self, row, geometry):
        assert self.layer.changeGeometry(row.id(), geometry)

    def add(self, geometry, **values):
        row = QgsFeature(self.layer.fields())
        row.setGeometry(geometry)
        for name, value in values.items():
            row.setAttribute(name, value)
        assert self.layer.addFeature(row)


def reviewed(folder):
    """One edge each is decided on, edited, bent, deleted and added; the keys of those rows."""
    with Editing(folder) as edit:
        decided, renamed, bent, gone = edit.rows[:4]
        edit.set(decided, decision="accept", remark="seen on site", decided_by="A. Wright")
        edit.set(decided, decided_at="2026-05-05T08:00:00")
        edit.set(renamed, end_reason="gate")
        shape = QgsGeometry(bent.geometry())
        shape.translate(0.0, 0.02)
        edit.shape(bent, shape)
        edit.delete(gone)
        edit.add(
            QgsGeometry.fromWkt(f"LineStringZ ({ORIGIN[0]} 6200900 4, {ORIGIN[0]} 6200910 4)"),
            layer="by hand", capture="tape",
        )  # fmt: skip
        return [key(row) for row in (decided, renamed, bent, gone)], shape.asWkt(3)


def check_reviewed(folder, keys, shape):
    rows = {key(row): row for row in features(folder)}
    decided, renamed, bent, gone = keys
    assert [rows[decided][name] for name in ("decision", "remark", "decided_by")] == [
        "accept",
        "seen on site",
        "A. Wright",
    ]
    assert rows[decided]["decided_at"].toString("yyyy-MM-dd HH:mm") == "2026-05-05 08:00"
    assert rows[renamed]["end_reason"] == "gate"
    assert rows[bent].geometry().asWkt(3) == shape
    assert gone not in rows
    assert sum(row["capture"] == "tape" for row in rows.values()) == 1


@pytest.fixture
def out(former_run, tmp_path):
    return former_run(tmp_path / "out", two_layers)


def test_results_have_empty_fields_for_a_review(out):
    for row in rows_of(out):
        assert [row[one.name] for one in carry_over.REVIEW_FIELDS] == [None] * 4
    assert all(not one for one in run_state.changes(out / "curbwright.gpkg"))
    log = Log()
    process(two_layers(), out, log)
    assert "by hand" not in log.text and superseded(out) == []


def test_a_rerun_does_not_undo_the_review(out):
    """With the layers open, twice, as every evening."""
    before = len(rows_of(out))
    held = [opened(out, name) for name in ("gaps", "kept")]
    keys, shape = reviewed(out)
    for _ in range(2):
        log = Log()
        process(two_layers(), out, log)
        check_reviewed(out, keys, shape)
        assert len(rows_of(out)) == before  # one deleted, one added
        assert "5 carried over (edited 3, deleted 1, added 1)" in log.text
        assert superseded(out) == []
    told = {(row["section"], row["name"]): row["value"] for row in rows_of(out, "run_log")}
    assert told["count", "changes_edited"] == "3" and told["result", "edges"] == str(before)
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "Changes made by hand: 5 carried over" in page
    assert held


def test_the_review_outlives_reordered_layers_and_other_settings(out):
    keys, shape = reviewed(out)
    process(two_layers()[::-1], out, TOLERANCE=0.005, WRITE_EPOCHS=False, MERGE_PASSES=True)
    check_reviewed(out, keys, shape)
    assert superseded(out) == []
    process(two_layers(), out)
    check_reviewed(out, keys, shape)
    assert superseded(out) == []


def test_a_review_outlives_another_crs(out):
    keys, _ = reviewed(out)
    process(two_layers(), out, TARGET_CRS="EPSG:4326")
    rows = {key(row): row for row in features(out)}
    assert rows[keys[0]]["decision"] == "accept" and keys[3] not in rows
    assert superseded(out) == []
    (added,) = (row for row in rows.values() if row["capture"] == "tape")
    assert added.geometry().boundingBox().xMaximum() < 180
    process(two_layers(), out)
    rows = {key(row): row for row in features(out)}
    assert rows[keys[0]]["decision"] == "accept" and keys[3] not in rows


def test_what_was_walked_anew_is_kept_aside(out):
    """The capture has another time; its reviewed edges are of the old walk."""
    keys, _ = reviewed(out)
    quay, island = two_layers()
    again = layer_of(moved(walk(seed=7), 0.0, seconds=86400.0), name="quay walk")
    log = Log()
    process([again, island], out, log)
    rows = {key(row): row for row in rows_of(out)}
    assert not set(keys) & set(rows)
    assert all(row["decision"] == NULL for row in rows.values())
    kept = superseded(out)
    assert [row["change"] for row in kept] == ["edited"] * 3 + ["deleted"]
    assert {row["result"] for row in kept} == {"edges"} and {row["layer"] for row in kept} == {
        "quay walk"
    }
    assert all("walked anew" in row["reason"] for row in kept)
    assert json.loads(kept[0]["row"])["remark"] == "seen on site"
    assert all(row.geometry().length() > 1 for row in features(out, "superseded"))
    assert any("kept in “superseded”" in text for text in log.warnings)
    assert sum(row["capture"] == "tape" for row in rows.values()) == 1
    for layers in ([quay, island], [quay]):  # never emptied
        process(layers, out)
        assert [row["reason"] for row in superseded(out)] == [row["reason"] for row in kept]
        assert len(superseded(out)) == 4


def test_what_lies_elsewhere_now_is_kept_aside(out):
    keys, _ = reviewed(out)
    shifted = [{**row, "x": row["x"] + 0.31, "y": row["y"] + 0.31} for row in walk(seed=1)]
    process([layer_of(shifted, name="quay walk"), two_layers()[1]], out)
    kept = superseded(out)
    assert len(kept) == 4 and key(rows_of(out)[3]) in keys
    assert any("the new line lies up to 0.3" in row["reason"] for row in kept)


def test_a_capture_that_is_left_out_and_comes_back(out):
    """Its decisions are kept aside meanwhile, then taken back once, and what was deleted goes."""
    (decided, _, _, gone), _ = reviewed(out)
    process(two_layers()[1:], out)
    kept = superseded(out)
    assert {row["reason"] for row in kept} == {"its capture is not part of the new results"}
    assert len(kept) == 4
    log = Log()
    process(two_layers(), out, log)
    rows = {key(row): row for row in rows_of(out)}
    assert (rows[decided]["decision"], rows[decided]["remark"]) == ("accept", "seen on site")
    assert gone not in rows
    assert sum(bool(row["returned_at"]) for row in superseded(out)) == 2
    assert any("2 taken back from “superseded”" in text for text in log.infos)
    with Editing(out) as edit:
        edit.set(next(row for row in edit.rows if key(row) == decided), decision=NULL, remark=NULL)
    process(two_layers(), out)
    assert not any(row["decision"] for row in rows_of(out))  # a person took it back


def test_a_review_outlives_another_name_of_the_layer(out):
    keys, shape = reviewed(out)
    layers = two_layers()
    for layer in layers:
        layer.setName(layer.name() + ", final")
    process(layers, out)
    check_reviewed(out, [(f"{layer}, final", *rest) for layer, *rest in keys], shape)
    assert superseded(out) == []


def test_an_edge_that_is_broken_in_two(tmp_path):
    """The decision goes to both parts; a shape that was edited takes the place of both."""
    rows = [row for row in walk(seed=4, captures=2) if row["fix"] == 4]
    process([layer_of(rows, name="quay walk")], tmp_path, MAX_TIME_GAP=60, MAX_DISTANCE_GAP=60)
    first = rows_of(tmp_path)
    with Editing(tmp_path) as edit:
        one, other = edit.rows[0], edit.rows[-1]
        edit.set(one, decision="hold")
        shape = QgsGeometry(other.geometry())
        shape.translate(0.01, 0.0)
        edit.shape(other, shape)
    process([layer_of(rows, name="quay walk")], tmp_path, MAX_TIME_GAP=2, MAX_DISTANCE_GAP=2)
    plain = tmp_path / "plain"
    process([layer_of(rows, name="quay walk")], plain, MAX_TIME_GAP=2, MAX_DISTANCE_GAP=2)
    now = features(tmp_path)
    assert len(first) == 2 and len(rows_of(plain)) > len(first)
    assert (
        sum(row["decision"] == "hold" for row in now)
        == sum(row["capture"] == one["capture"] for row in rows_of(plain))
        >= 2
    )
    (bent,) = (row for row in now if row["capture"] == other["capture"])
    assert bent.geometry().asWkt(3) == shape.asWkt(3)
    assert superseded(tmp_path) == []
    process([layer_of(rows, name="quay walk")], tmp_path, MAX_TIME_GAP=2, MAX_DISTANCE_GAP=2)
    assert len(features(tmp_path)) == len(now)


@pytest.mark.one_host
def test_reviews_of_merged_edges_and_of_the_comparison(tmp_path):
    rows = [row for row in walk(seed=5, captures=1) if row["fix"] == 4]
    again = moved(rows, 0.002, seconds=90000.0)
    layers = [layer_of(rows, name="first day"), layer_of(again, name="second day")]
    existing = line_layer(
        [np.array([(0.0, 0.5), (15.0, 0.5)]), np.array([(200.0, 0.0), (220.0, 0.0)])],
        name="basemap",
        origin=ORIGIN,
    )
    chosen = {"MERGE_PASSES": True, "FIT_ALIGNMENTS": True, "EXISTING": existing}
    process(layers, tmp_path, **chosen)
    for name in ("merged", "comparison", "existing_status", "alignments"):
        with Editing(tmp_path, name) as edit:
            if name != "alignments":
                edit.set(edit.rows[0], decision="reject", remark=name)
            edit.delete(edit.rows[-1])
    counts = {name: len(rows_of(tmp_path, name)) for name in ("merged", "alignments")}
    third = layer_of(moved(rows, -0.001, seconds=200000.0), name="third day")
    process([*layers, third], tmp_path, **chosen)
    assert superseded(tmp_path) == []
    for name in ("merged", "comparison", "existing_status"):
        found = [row for row in rows_of(tmp_path, name) if row["decision"]]
        assert [(row["decision"], row["remark"]) for row in found] == [("reject", name)], name
    assert {name: len(rows_of(tmp_path, name)) for name in counts} == counts
    process(layers, tmp_path)  # without the stages
    assert {row["result"] for row in superseded(tmp_path)} == {
        "merged",
        "comparison",
        "existing_status",
        "alignments",
    }
    assert {row["reason"] for row in superseded(tmp_path)} == {
        "the layer is not part of the new results"
    }
    process([*layers, third], tmp_path, **chosen)  # with them again
    for name in ("merged", "comparison", "existing_status"):
        found = [row for row in rows_of(tmp_path, name) if row["decision"]]
        assert [(row["decision"], row["remark"]) for row in found] == [("reject", name)], name
    assert len(rows_of(tmp_path, "merged")) == counts["merged"]


def test_points_and_tables_that_were_changed(out):
    """Carried over where the new results have the same row, else kept aside."""
    for name in ("revisits", "summary", "kept"):
        with Editing(out, name) as edit:
            text = {"revisits": "desc", "summary": "error", "kept": "role"}[name]
            edit.set(edit.rows[0], **{text: "seen"})
            edit.delete(edit.rows[1])
    counts = {name: len(rows_of(out, name)) for name in ("revisits", "kept")}
    process(two_layers(), out)
    assert rows_of(out, "revisits")[0]["desc"] == rows_of(out, "kept")[0]["role"] == "seen"
    assert {name: len(rows_of(out, name)) for name in counts} == counts
    (kept,) = superseded(out)  # its time was another one
    assert (kept["result"], json.loads(kept["row"])["error"]) == ("summary", "seen")
    again = layer_of(walk(seed=8), name="quay walk")
    process([again, two_layers()[1]], out)
    told = superseded(out)[1:]
    assert {row["result"] for row in told} == {"revisits", "kept"}
    assert all(row["shape"].startswith("Point") for row in told)


def test_a_column_that_was_added(out):
    with Editing(out) as edit:
        assert edit.layer.addAttribute(fields.field("material", "QString"))
        edit.set(edit.rows[1], material="granite")
    for _ in range(2):
        process(two_layers(), out)
        assert [row["material"] for row in rows_of(out)] == [None, "granite", *[None] * 6]


def test_a_column_that_was_added_keeps_its_type(out):
    kinds = {"inspected": "QDate", "picture": "QByteArray", "still_empty": "Double"}
    with Editing(out) as edit:
        for name, kind in kinds.items():
            assert edit.layer.addAttribute(fields.field(name, kind))
        edit.set(edit.rows[1], inspected=QDate(2026, 5, 4), picture=QByteArray(b"a\x00\xff"))
    types = [opened(out, "edges").fields().field(name).type() for name in kinds]
    for _ in range(2):
        process(two_layers(), out)
        layer = opened(out, "edges")
        assert [layer.fields().field(name).type() for name in kinds] == types
        row = list(layer.getFeatures())[1]
        assert row["inspected"] == QDate(2026, 5, 4)
        assert bytes(row["picture"]) == b"a\x00\xff"


def test_what_a_person_wrote_into_a_field_that_the_results_have_otherwise(tmp_path):
    """A field of the captures that they have no more is made for it; where they have one of that
    name and another type, or in other capitals, it is kept aside."""
    known = (("time", "string"), ("fix", "integer"), ("h_acc", "double"), ("capture", "string"))

    def layers(kind=None, value=None):
        more, last = ((("surface", kind),), [value]) if kind else ((), [])
        return [
            layer_of(
                walk(seed=1),
                fields=(*known, *more),
                values=lambda row: [
                    iso(row["seconds"]), row["fix"], row["h_acc"], row["capture"], *last
                ],
            )
        ]  # fmt: skip

    process(layers("string", "asphalt"), tmp_path)
    with Editing(tmp_path) as edit:
        assert edit.layer.addAttribute(fields.field("Curb", "QString"))
        edit.set(edit.rows[1], surface="granite", Curb="dropped")
    process(layers(), tmp_path)
    rows = rows_of(tmp_path)
    assert [row["surface"] for row in rows] == [None, "granite", *[None] * (len(rows) - 2)]
    assert rows[1]["Curb"] == "dropped" and superseded(tmp_path) == []
    for _ in range(2):
        process(layers("integer", 7), tmp_path)
        assert {row["surface"] for row in rows_of(tmp_path)} == {7}
        (kept,) = superseded(tmp_path)
        assert json.loads(kept["row"])["surface"] == "granite" and "“surface”" in kept["reason"]
        assert rows_of(tmp_path)[1]["Curb"] == "dropped"


def test_views_and_columns_of_the_history_that_a_person_added(out):
    with Editing(out, "history") as edit:
        assert edit.layer.addAttribute(fields.field("weather", "QString"))
        edit.set(edit.rows[0], weather="rain")
    with closing(sqlite3.connect(str(out / "curbwright.gpkg"))) as database, database:
        database.execute("CREATE VIEW waiting AS SELECT * FROM edges WHERE decision IS NULL")
        database.execute(
            "INSERT INTO gpkg_contents (table_name, identifier, data_type, srs_id)"
            " SELECT 'waiting', 'waiting', data_type, srs_id FROM gpkg_contents"
            " WHERE table_name = 'edges'"
        )
        database.execute(
            "INSERT INTO gpkg_geometry_columns SELECT 'waiting', column_name, geometry_type_name,"
            " srs_id, z, m FROM gpkg_geometry_columns WHERE table_name = 'edges'"
        )
    for runs in (4, 6):
        process(two_layers(), out)
        assert [row["weather"] for row in rows_of(out, "history")] == ["rain", *[None] * (runs - 1)]
        assert opened(out, "waiting").featureCount() == len(rows_of(out))


def test_a_layer_of_the_results_that_is_gone_is_made_anew(out):
    """Nobody took its lines out one by one."""
    before = rows_of(out)
    dataset = gdal.OpenEx(str(out / "curbwright.gpkg"), gdal.OF_UPDATE)
    dataset.ExecuteSQL("ALTER TABLE edges RENAME TO edges_of_may")
    del dataset
    log = Log()
    process(two_layers(), out, log)
    assert rows_of(out) == before == rows_of(out, "edges_of_may")
    assert any("“edges” was not in the results" in text for text in log.warnings)


def test_what_somebody_wrote_into_superseded_stops_no_run(out):
    reviewed(out)
    process(two_layers()[1:], out)
    with Editing(out, "superseded") as edit:
        edit.set(edit.rows[0], row="seen, see the map")
    for _ in range(2):
        process(two_layers(), out)
    assert rows_of(out, "superseded")[0]["row"] == "seen, see the map"


def test_triggers_of_a_person_are_named_where_they_go(out):
    with closing(sqlite3.connect(str(out / "curbwright.gpkg"))) as database, database:
        database.execute("CREATE TABLE seen (remark TEXT)")
        database.execute(
            "CREATE TRIGGER note AFTER UPDATE ON edges BEGIN"
            " INSERT INTO seen VALUES (new.remark); END"
        )
    logs = [Log(), Log()]
    for log in logs:
        process(two_layers(), out, log)
    named = [any("“note”" in text for text in log.warnings) for log in logs]
    assert named == [True, False]


def test_results_of_before_say_that_nothing_is_known(out):
    with closing(sqlite3.connect(str(out / "curbwright.gpkg"))) as database, database:
        database.execute("DROP TABLE run_state")
    log = Log()
    process(two_layers(), out, log)
    assert any("cannot be recognised" in text for text in log.warnings)


def test_an_edit_that_is_saved_while_the_run_is_at_work(out, monkeypatch):
    """It would be neither carried over nor kept."""
    original = carry_over.run_state.changes

    def late(*arguments):
        found = original(*arguments)
        with Editing(out) as edit:
            edit.delete(edit.rows[0])
        return found

    with monkeypatch.context() as patched:
        patched.setattr(carry_over.run_state, "changes", late)
        with pytest.raises(QgsProcessingException, match="was changed while the run was at work"):
            process(two_layers(), out)
    process(two_layers(), out)
    assert len(rows_of(out)) == 7


def test_edited_by_hand_and_run_again_with_the_project_open(out, qgis_new_project):
    QgsProject.instance().addMapLayers([opened(out, name) for name in ("edges", "gaps", "kept")])
    (edges,) = QgsProject.instance().mapLayersByName("edges")
    keys, shape = reviewed(out)
    process(two_layers(), out)
    check_reviewed(out, keys, shape)
    assert {key(row) for row in edges.getFeatures()} == {key(row) for row in features(out)}
