"""The existing lines brought up to date in a batch: by what people accepted, and by clear rules."""

import numpy as np
import pytest
from batchruns import opened, process, rows_of
from linelayers import line_layer
from qgis.core import QgsProcessingException, QgsProject, QgsVectorLayer
from test_carry_over import Editing, superseded
from walkedlayers import ORIGIN, Log, layer_of, walk

from curbwright.algorithms import processcaptures
from curbwright.algorithms.batch import ready_project
from curbwright.algorithms.host.fields import is_null

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")
ACCEPTED, CLEAR_TOO = 1, 2


@pytest.fixture(scope="module")
def walks():
    """Walks eastwards along two displaced lines and one that nobody had drawn."""
    rng, start, rows = np.random.default_rng(5), walk(captures=1)[0], []
    for number, north in enumerate((0.0, 60.0, 120.0)):
        noise = rng.normal(0, 0.006, (40, 3))
        rows += [
            {
                **start,
                "x": k + east,
                "y": north + across,
                "z": 4.0 + up,
                "seconds": start["seconds"] + 1000.0 * number + k,
                "capture": f"walk {number + 1}",
            }
            for k, (east, across, up) in enumerate(noise.tolist())
        ]
    return rows


@pytest.fixture
def walks_layer(walks):
    return layer_of(walks, name="quay")


@pytest.fixture
def basemap_layer():
    """Two lines, 0.6 m off, one near which somebody walked, and one far away."""
    rows = [
        ((0, 0.6), (39, 0.6)),
        ((0, 60.6), (39, 60.6)),
        ((0, 72), (39, 72)),
        ((900, 0), (910, 0)),
    ]
    return line_layer(
        [np.array(row, float) for row in rows],
        name="basemap",
        origin=ORIGIN,
        fields=(("name", "string"), ("layer", "string"), ("status", "string")),
        values=[[name, "roads", "in use"] for name in ("south", "north", "gone", "far")],
    )


SETTINGS = {
    "EXISTING_SIGMA": 0.05,
    "REMOVE_SHIFT": False,
    "WRITE_EPOCHS": False,
    "LIST_REVISITS": False,
}


def updated(folder):
    return {row["name"]: row["update"] for row in rows_of(folder, "updated")}


def decide(folder, layer, decision, by="A. Wright", **where):
    with Editing(folder, layer) as edit:
        ((key, value),) = where.items()
        found = [row for row in edit.rows if row[key] == value]
        assert found
        for row in found:
            edit.set(row, decision=decision, decided_by=by)


def edge_along(folder, north, layer="edges"):
    """edge_id of the edge that lies at some northing."""
    for row in opened(folder, layer).getFeatures():
        if abs(row.geometry().boundingBox().center().y() - ORIGIN[1] - north) < 1.0:
            return row["edge_id"]
    raise AssertionError(north)


def test_names_that_a_database_has_and_none_at_all_stop_nothing(tmp_path, walks, basemap_layer):
    unnamed = layer_of(walks, name="")
    basemap_layer.dataProvider().renameAttributes({0: "geom"})
    basemap_layer.updateFields()
    log = Log()
    process(
        [unnamed],
        tmp_path,
        log,
        EXISTING=basemap_layer,
        UPDATE_BASEMAP=CLEAR_TOO,
        MERGE_PASSES=True,
        **SETTINGS,
    )
    assert {row["state"] for row in rows_of(tmp_path, "summary")} == {"done"}
    assert {row["geom_source"] for row in rows_of(tmp_path, "updated")} >= {"south", "far"}
    assert any("geom → geom_source" in text for text in log.warnings)


def test_only_what_was_accepted_is_taken_over(tmp_path, walks_layer, basemap_layer):
    log = Log()
    settings = {**SETTINGS, "EXISTING": basemap_layer, "UPDATE_BASEMAP": ACCEPTED}
    process([walks_layer], tmp_path, log, **settings)
    assert set(updated(tmp_path).values()) == {"unchanged"}
    assert rows_of(tmp_path, "changes") == []
    waiting = {row["why"] for row in rows_of(tmp_path, "held")}
    assert waiting == {"it waits for a decision"}
    assert "Stage “Update of existing lines”" in log.infos and any(
        "Held back: " in text for text in log.infos
    )
    decide(tmp_path, "existing_status", "accept", name="south")
    decide(tmp_path, "existing_status", "accept", name="gone")
    decide(tmp_path, "comparison", "accept", edge_id=edge_along(tmp_path, 120.0))
    decide(tmp_path, "edges", "hold", edge_id=edge_along(tmp_path, 60.0))
    decide(tmp_path, "existing_status", "Accepted", name="far")  # none of the words
    process([walks_layer], tmp_path, log, **settings)
    assert any(
        "“existing_status”: rows whose decision" in text and ": 1, for example “Accepted”." in text
        for text in log.warnings
    )
    found = updated(tmp_path)
    assert found.pop("south") == "replaced" and found.pop("gone") == "retired"
    assert sorted(found.values()) == ["added", "unchanged", "unchanged"]
    assert {row["decided_by"] for row in rows_of(tmp_path, "changes")} == {"A. Wright"}
    held = rows_of(tmp_path, "held")
    assert [(row["existing_id"], row["why"]) for row in held] == [("2", "a person holds it back")]
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "Update of existing lines" in page and "replaced 1, replaced in part 0, added 1" in page
    counts = {row["name"]: row["value"] for row in rows_of(tmp_path, "run_log")}
    assert counts["basemap_replaced"] == "1" and counts["basemap_held_back"] == "1"
    stages = {row["stage"]: row["state"] for row in rows_of(tmp_path, "summary")}
    assert stages["update"] == "done"


def test_the_basemap_keeps_its_fields_its_ids_and_its_crs(tmp_path, walks_layer):
    existing = line_layer(
        [np.array([(0, 0.6), (39, 0.6)]), np.array([(0, 60.6), (39, 60.6)])],
        name="basemap",
        origin=ORIGIN,
        crs="EPSG:4326",
        fields=(("layer", "string"), ("fid", "integer")),
        values=[["roads", 17], ["roads", 23]],
    )
    settings = {**SETTINGS, "EXISTING": existing, "UPDATE_BASEMAP": CLEAR_TOO, "KEY_FIELD": "fid"}
    process([walks_layer], tmp_path, **settings)
    layer = opened(tmp_path, "updated")
    assert layer.crs().authid() == "EPSG:4326"
    assert opened(tmp_path, "changes").crs().authid() == "EPSG:4326"
    assert opened(tmp_path, "edges").crs().authid() == "EPSG:32632"
    assert layer.fields().names() == ["fid", "layer", "update", "update_edges", "updated_at"]
    rows = {row.id(): row for row in layer.getFeatures()}
    assert [(ident, rows[ident]["update"], rows[ident]["layer"]) for ident in (17, 23)] == [
        (17, "replaced", "roads"),
        (23, "replaced", "roads"),
    ]
    assert [row["existing_id"] for row in rows_of(tmp_path, "changes")] == ["17", "23"]


def test_clear_cases_need_nobody(tmp_path, walks_layer, basemap_layer):
    settings = {**SETTINGS, "EXISTING": basemap_layer, "UPDATE_BASEMAP": CLEAR_TOO}
    process([walks_layer], tmp_path, **settings)
    found = updated(tmp_path)
    assert [found[name] for name in ("south", "north", "gone", "far")] == [
        "replaced", "replaced", "unchanged", "unchanged",
    ]  # fmt: skip
    assert not any(word == "added" for word in found.values())
    told = {row["decided_by"] for row in rows_of(tmp_path, "changes")}
    assert told == {"clear case: matched over 90%, sigma below 0.020 m"}
    assert len(rows_of(tmp_path, "held")) == 2  # the new edge, and the line that is gone
    decide(tmp_path, "existing_status", "reject", name="south")
    process([walks_layer], tmp_path, **settings)
    found = updated(tmp_path)
    assert found["south"] == "unchanged" and found["north"] == "replaced"
    process([walks_layer], tmp_path, **settings, CLEAR_SIGMA=0.0005)
    assert set(updated(tmp_path).values()) == {"unchanged"}


def test_what_is_changed_by_hand_outlives_the_next_run(tmp_path, walks_layer, basemap_layer):
    settings = {**SETTINGS, "EXISTING": basemap_layer, "UPDATE_BASEMAP": CLEAR_TOO}
    process([walks_layer], tmp_path, **settings)
    with Editing(tmp_path, "updated") as edit:
        south, north, gone, _ = edit.rows
        edit.set(south, status="checked on site")
        edit.delete(gone)
    with Editing(tmp_path, "edges") as edit:  # a line bent by hand is the one that is taken over
        row = next(
            row for row in edit.rows
            if abs(row.geometry().boundingBox().center().y() - ORIGIN[1] - 60.0) < 1
        )  # fmt: skip
        shape = row.geometry()
        shape.translate(0.0, 0.04)
        edit.shape(row, shape)
    north_before = north.geometry().boundingBox().center().y()
    process([walks_layer], tmp_path, **settings)
    rows = {row["name"]: row for row in opened(tmp_path, "updated").getFeatures()}
    assert rows["south"]["status"] == "checked on site" and "gone" not in rows
    moved = rows["north"].geometry().boundingBox().center().y() - north_before
    assert moved == pytest.approx(0.04, abs=0.01)
    assert superseded(tmp_path) == []


def test_merged_walks_and_attributes_reach_the_basemap(tmp_path, walks, basemap_layer):
    rows = [{**row, "operator": "Ada"} for row in walks]
    again = [{**row, "seconds": row["seconds"] + 90000, "x": row["x"] + 0.002} for row in rows]
    days = [layer_of(rows, name="first day"), layer_of(again, name="second day")]
    settings = {**SETTINGS, "EXISTING": basemap_layer, "MERGE_PASSES": True}
    process(days, tmp_path, **settings, UPDATE_BASEMAP=ACCEPTED)
    new = edge_along(tmp_path, 120.0)
    decide(tmp_path, "edges", "accept", edge_id=new)
    decide(tmp_path, "merged", "accept", edge_id=edge_along(tmp_path, 60.0, "merged"))
    process(days, tmp_path, **settings, UPDATE_BASEMAP=ACCEPTED)
    found = updated(tmp_path)
    # one of two walks was accepted, which is not all of the merged edge
    assert found["north"] == "replaced" and "added" not in found.values()


def test_without_existing_lines_it_is_refused(tmp_path, walks_layer):
    with pytest.raises(QgsProcessingException, match="Update the existing lines.*needs"):
        process([walks_layer], tmp_path, UPDATE_BASEMAP=ACCEPTED)


def test_a_stage_that_fails_leaves_the_comparison(tmp_path, walks_layer, basemap_layer):
    log = Log()
    settings = {**SETTINGS, "EXISTING": basemap_layer, "UPDATE_BASEMAP": ACCEPTED}
    process([walks_layer], tmp_path, log, **settings, FIELD_MAP="colour: nothing")
    assert any(
        "Stage “Update of existing lines” failed" in text and "colour" in text
        for text in log.warnings
    )
    assert len(rows_of(tmp_path, "existing_status")) == 4
    assert {row["stage"]: row["state"] for row in rows_of(tmp_path, "summary")}[
        "update"
    ] == "failed"


def test_it_loads_styled_in_its_group(
    tmp_path, walks_layer, basemap_layer, qgis_new_project, monkeypatch
):
    import processing

    monkeypatch.setattr(processcaptures, "store", ready_project.store)
    project = QgsProject.instance()
    project.addMapLayers([walks_layer, basemap_layer])
    processing.runAndLoadResults(
        "curbwright:processcaptures",
        {
            "LAYERS": [walks_layer], "FOLDER": str(tmp_path), "EXISTING": basemap_layer,
            "UPDATE_BASEMAP": CLEAR_TOO, **SETTINGS,
        },
        feedback=Log(),
    )  # fmt: skip
    group = project.layerTreeRoot().findGroup("Curbwright")
    places = {
        node.layer().name(): (node.parent().name(), node.layer()) for node in group.findLayers()
    }
    assert places["Updated lines"][0] == places["Changes of existing lines"][0] == "Comparison"
    assert places["Held back"][0] == "To do"
    assert places["Updated lines"][1].renderer().classAttribute() == "update"
    stored = QgsVectorLayer(f"{tmp_path}/curbwright.gpkg|layername=changes", "changes", "ogr")
    assert stored.renderer().classAttribute() == "what"
    assert not is_null(stored.fields().lookupField("undo"))
