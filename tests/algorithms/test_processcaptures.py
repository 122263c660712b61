"""All capture layers in one run: what comes out is what the single algorithms give, and former
results stay whole whatever happens."""

import hashlib
import os
import signal
import sqlite3
import time
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from batchruns import (
    UTM,
    in_degrees,
    layers_in,
    moved,
    process,
    rows_of,
    shapes_of,
    two_layers,
)
from linelayers import line_layer
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingAlgRunnerTask,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QCoreApplication
from walkedlayers import ORIGIN, Log, iso, layer_of, reconstruct, table, to_file, walk

from curbwright.algorithms import processcaptures, reconstructedges
from curbwright.algorithms.batch import gathering, result_folder

pytestmark = pytest.mark.usefixtures("provider")
# tests of what stands in the results, not of how they look
PLAIN = pytest.mark.usefixtures("without_figures", "without_styles")
STYLED = pytest.mark.usefixtures("without_figures")
FITTED = pytest.mark.usefixtures("without_figures", "without_styles", "fitted_anew")
ALWAYS = {"edges", "gaps", "rejected", "kept", "revisits", "revisit_reasons"}
ALWAYS |= {"summary", "history", "repairs", "run_log"}


@pytest.fixture
def former(former_run, tmp_path):
    """A folder with results of a former run: both layers, with merged passes."""
    return former_run(tmp_path / "out", two_layers, MERGE_PASSES=True)


def state(folder):
    """Names and contents of all files, hidden ones too."""
    return {
        path.relative_to(folder).as_posix(): hashlib.sha256(path.read_bytes()).hexdigest()
        for path in sorted(Path(folder).rglob("*"))
        if path.is_file()
    }


def add_own_layer(folder, name="my notes"):
    """A layer of the user's in the GeoPackage of the results."""
    options = QgsVectorFileWriter.SaveVectorOptions()
    options.driverName, options.layerName = "GPKG", name
    if (folder / "curbwright.gpkg").exists():
        options.actionOnExistingFile = (
            QgsVectorFileWriter.ActionOnExistingFile.CreateOrOverwriteLayer
        )
    notes = line_layer(
        [np.array([(0.0, 0.0), (5.0, 1.0)])],
        fields=(("note", "string"),),
        values=[["kerb is broken"]],
    )
    error = QgsVectorFileWriter.writeAsVectorFormatV3(
        notes, str(folder / "curbwright.gpkg"), QgsProject.instance().transformContext(), options
    )
    assert error[0] == QgsVectorFileWriter.WriterError.NoError, error


# What comes out


@STYLED
def test_as_the_single_runs(tmp_path):
    layers = two_layers()
    results = process(layers, tmp_path / "out")
    single = [reconstruct(layer) for layer in layers]
    assert layers_in(tmp_path / "out") == ALWAYS
    assert sorted(path.name for path in (tmp_path / "out").iterdir()) == [
        "curbwright.gpkg",
        "report.html",
    ]
    assert (results["LAYERS_DONE"], results["LAYERS_FAILED"]) == (2, 0)
    # each capture has a float spell too long to be bridged
    assert results["EDGES"] == sum(one["EDGES"] for one in single) == 8
    assert results["LENGTH"] == pytest.approx(sum(one["LENGTH"] for one in single), abs=1e-9)
    for name, output in (
        ("edges", "OUTPUT"),
        ("gaps", "GAPS"),
        ("rejected", "REJECTED"),
        ("kept", "KEPT"),
    ):
        rows = rows_of(tmp_path / "out", name)
        assert [row["layer"] for row in rows] == ["quay walk"] * single[0][
            output
        ].featureCount() + ["island walk"] * single[1][output].featureCount()
        assert (
            QgsVectorLayer(f"{results['GEOPACKAGE']}|layername={name}", name, "ogr").crs().authid()
            == UTM
        )
    edges, kept = rows_of(tmp_path / "out", "edges"), rows_of(tmp_path / "out", "kept")
    assert [row["edge_id"] for row in edges] == list(range(1, 9))
    expected = [row for one in single for row in table(one["OUTPUT"])]
    for name in (
        "capture",
        "run",
        "epochs_used",
        "length",
        "sigma_cross",
        "start_reason",
        "end_reason",
        "started_unix",
    ):
        assert (
            [row[name] for row in edges] == pytest.approx([row[name] for row in expected])
            if name in ("length", "sigma_cross")
            else [row[name] for row in edges] == [row[name] for row in expected]
        )
    used = {row["edge_id"]: 0 for row in edges}
    for row in kept:
        used[row["edge_id"]] += 1
    assert list(used.values()) == [row["epochs_used"] for row in edges]
    gaps = rows_of(tmp_path / "out", "gaps")
    assert [row["gap_id"] for row in gaps] == list(range(1, len(gaps) + 1))
    of_edge = {row["edge_id"]: row["layer"] for row in edges}
    assert all(
        of_edge[row["after_edge"]] == row["layer"] == of_edge[row["before_edge"]] for row in gaps
    )
    assert QgsVectorLayer(results["EDGE_LAYER"], "e", "ogr").featureCount() == 8


@PLAIN
def test_every_row_is_kept_or_rejected(former_run, tmp_path):
    former_run(tmp_path, two_layers)
    for layer in two_layers():
        of = [
            [row for row in rows_of(tmp_path, name) if row["layer"] == layer.name()]
            for name in ("kept", "rejected")
        ]
        assert sum(map(len, of)) == layer.featureCount()
        assert sorted(row["time"] for rows in of for row in rows) == sorted(
            row["time"] for row in table(layer)
        )


@PLAIN
def test_one_crs(tmp_path):
    """The walk in degrees lands where it was walked; other targets on request."""
    rows = walk(seed=3)
    process([layer_of(rows, name="metres"), in_degrees(rows, "degrees")], tmp_path)
    shapes = shapes_of(tmp_path, "edges")
    half = len(shapes) // 2
    for one, other in zip(shapes[:half], shapes[half:]):
        assert QgsGeometry.fromWkt(one).hausdorffDistance(QgsGeometry.fromWkt(other)) < 0.002
    process([in_degrees(rows, "degrees")], tmp_path, TARGET_CRS="EPSG:25832")
    assert (
        QgsVectorLayer(f"{tmp_path}/curbwright.gpkg|layername=kept", "k", "ogr").crs().authid()
        == "EPSG:25832"
    )
    process([in_degrees(rows, "degrees")], tmp_path)
    assert (
        QgsVectorLayer(f"{tmp_path}/curbwright.gpkg|layername=kept", "k", "ogr").crs().authid()
        == "EPSG:4326"
    )


@PLAIN
def test_crs_of_the_project(tmp_path, qgis_new_project):
    # a geographic one is no map to draw in
    for authid, expected in (("EPSG:25832", "EPSG:25832"), ("EPSG:4326", UTM)):
        QgsProject.instance().setCrs(QgsCoordinateReferenceSystem(authid))
        process([layer_of(walk(captures=1))], tmp_path)
        assert (
            QgsVectorLayer(f"{tmp_path}/curbwright.gpkg|layername=edges", "e", "ogr").crs().authid()
            == expected
        )


def test_heights_change_their_unit_with_the_crs():
    """1 US survey foot is 1200/3937 m (NIST Handbook 44, Appendix C)."""
    feet = QgsCoordinateReferenceSystem("EPSG:8770")
    context = QgsProject.instance().transformContext()
    if not feet.isValid():
        pytest.skip("this PROJ has no EPSG:8770")
    unit = gathering.height_unit(feet, context)
    assert unit == pytest.approx(1200 / 3937, rel=1e-9)
    part = gathering.Part(layer_of([]).fields(), QgsWkbTypes.Type.PointZ, feet)
    rows = gathering.Rows(
        part,
        *(lambda fields, places: (fields, places[0]))(*gathering.all_fields([part.fields])),
        QgsWkbTypes.Type.PointZ,
        QgsCoordinateReferenceSystem("EPSG:4269"),
        context,
    )
    feature = QgsFeature(part.fields)
    feature.setGeometry(QgsGeometry(QgsPoint(1_000_000, 300_000, 100.0)))
    assert rows(feature).geometry().constGet().z() == pytest.approx(100 * 1200 / 3937, rel=1e-9)


@PLAIN
def test_fields_of_layers_that_differ(tmp_path):
    rows = walk(captures=1)
    one = layer_of(
        rows,
        name="one",
        fields=(("time", "string"), ("fix", "integer"), ("note", "integer"), ("layer", "string")),
        values=lambda row: [iso(row["seconds"]), row["fix"], 7, "top"],
    )
    other = layer_of(
        moved(rows, 30.0),
        name="other",
        fields=(("time", "string"), ("fix", "string"), ("note", "double"), ("walker", "string")),
        values=lambda row: [iso(row["seconds"]), str(row["fix"]), 7.5, "A"],
    )
    process([one, other], tmp_path)
    kept = rows_of(tmp_path, "kept")
    firsts = {row["layer"]: row for row in reversed(kept)}
    assert set(firsts) == {"one", "other"}
    assert (firsts["one"]["fix"], firsts["other"]["fix"]) == ("4", "4")
    assert (firsts["one"]["note"], firsts["other"]["note"]) == (7.0, 7.5)
    assert firsts["one"]["layer_source"] == "top" and firsts["other"]["walker"] == "A"


@PLAIN
def test_layers_of_one_name(tmp_path):
    process([layer_of(walk(captures=1)), layer_of(moved(walk(captures=1), 30.0))], tmp_path)
    assert {row["layer"] for row in rows_of(tmp_path, "edges")} == {"quay walk", "quay walk (2)"}


@FITTED
def test_same_input_same_output(former_run, tmp_path):
    former_run(tmp_path / "a", two_layers)
    process(two_layers(), tmp_path / "b")
    for name in ("edges", "gaps", "rejected", "kept"):
        assert rows_of(tmp_path / "a", name) == rows_of(tmp_path / "b", name)
        assert shapes_of(tmp_path / "a", name) == shapes_of(tmp_path / "b", name)


def test_whole_chain(tmp_path):
    """Two layers hold walks of one edge; the existing line is that edge, moved by half a metre."""
    rows = [row for row in walk(seed=5, captures=1) if row["fix"] == 4]
    again = [{**row, "seconds": row["seconds"] + 90000, "x": row["x"] + 0.002} for row in rows]
    layers = [layer_of(rows, name="first day"), layer_of(again, name="second day")]
    existing = line_layer(
        [np.array([(0.0, 0.5), (15.0, 0.5)]), np.array([(200.0, 0.0), (220.0, 0.0)])],
        name="basemap",
        origin=ORIGIN,
        fields=(("layer", "string"),),
        values=[["roads"], ["roads"]],
    )
    log = Log()
    results = process(
        layers,
        tmp_path,
        log,
        MERGE_PASSES=True,
        FIT_ALIGNMENTS=True,
        EXISTING=existing,
        AREA_NAME="East side",
        STATION_SPACING=0.5,
        REPORT_PDF=str(tmp_path / "to sign.pdf"),
    )
    assert results["REPORT_PDF"] == str(tmp_path / "to sign.pdf")
    assert (tmp_path / "to sign.pdf").read_bytes().startswith(b"%PDF")
    assert layers_in(tmp_path) == set(processcaptures.RESULTS) - {
        "superseded",
        "updated",
        "changes",
        "held",
    }, log.text
    summary = rows_of(tmp_path, "summary")
    assert [(row["stage"], row["state"]) for row in summary] == [
        (stage, "done")
        for stage in ("reconstruct", "reconstruct", "merge", "fit", "compare", "revisit")
    ]
    merged = rows_of(tmp_path, "merged")
    assert len(merged) < results["EDGES"] and "first day, second day" in {
        row["layer"] for row in merged
    }
    assert {row["layer"] for row in rows_of(tmp_path, "passes")} == {"first day", "second day"}
    assert (
        len(rows_of(tmp_path, "alignments")) == len(rows_of(tmp_path, "comparison")) == len(merged)
    )
    assert (
        [row["layer"] for row in rows_of(tmp_path, "alignments")]
        == [row["layer"] for row in rows_of(tmp_path, "comparison")]
        == [row["layer"] for row in merged]
    )
    assert all(row["layer"] for name in ("elements", "stations") for row in rows_of(tmp_path, name))
    status = rows_of(tmp_path, "existing_status")
    assert [row["status"] for row in status] == ["displaced", "not_visited"]
    verdict = "Displaced existing lines: 1. There is no significant shift of the whole layer."
    assert log.infos.count(verdict) == 2  # where it is found, and at the end
    assert [(row["layer"], row["layer_source"]) for row in status] == [("basemap", "roads")] * 2
    assert np.abs([row["offset"] for row in rows_of(tmp_path, "stations")]) == pytest.approx(
        0.5, abs=0.03
    )
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    for piece in (
        "first day",
        "Result by status",
        "Captures of a project",
        "Comparison: Search distance (m)",
        "Automatic",
        "left empty",
        "<small>Area</small>East side</td>",
    ):
        assert piece in page
    assert "Project in the report" not in page  # it stands in the title block alone
    assert page.count("Checked by") == 1
    assert "MAX_OFFSET" not in page and "None" not in page  # settings in words
    titles = [
        "In short",
        "The greatest changes",
        "Captures",
        "Comparison with existing lines in short",
        "Cautions",
        "Method and standards",
        "What was written",
        "Settings",
    ]
    assert sorted(titles, key=lambda title: page.index(f">{title}<")) == titles


@PLAIN
def test_a_rough_operation_into_the_results_is_warned_of(tmp_path):
    log, layer = Log(), layer_of(walk(captures=1))
    process([layer], tmp_path, log, TARGET_CRS=QgsCoordinateReferenceSystem("EPSG:25832"))
    told = [text for text in log.warnings if "are joined by the operation" in text]
    assert len(told) == 1 and "“quay walk” and “results”" in told[0] and "WGS 84" in told[0]


@PLAIN
def test_what_lies_near_any_epoch_was_visited(tmp_path):
    """Nobody gets a fix beside the first existing line, but somebody walked there."""
    rows = walk(seed=5, captures=1)
    floats = [
        {**row, "fix": 5, "y": row["y"] + 200.0, "seconds": row["seconds"] + 9000} for row in rows
    ]
    spike = {**floats[0], "fix": 4, "y": 3000.0, "seconds": rows[5]["seconds"] + 0.5}
    existing = line_layer(
        [np.array([(0.0, y), (15.0, y)]) for y in (205.0, 250.0, 3005.0)],
        name="basemap",
        origin=ORIGIN,
    )
    parameters = {"EXISTING": existing, "WRITE_EPOCHS": False}
    process([layer_of([*rows, spike, *floats])], tmp_path, **parameters)
    status = [row["status"] for row in rows_of(tmp_path, "existing_status")]
    assert status == ["only_existing", "not_visited", "not_visited"]
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "what lies within 15 m of any epoch or edge" in page
    process([layer_of([*rows, spike, *floats])], tmp_path, **parameters, REACH=60.0)
    status = [row["status"] for row in rows_of(tmp_path, "existing_status")]
    assert status == ["only_existing", "only_existing", "not_visited"]


@PLAIN
def test_places_to_revisit_come_from_all_layers(tmp_path):
    """A pause of 20 m in one layer; seven float epochs in a row in the other, whose time field has
    another name."""
    paused = [row for row in walk(seed=1, captures=1, epochs=80) if row["fix"] == 4]
    paused = [
        {**row, "seconds": row["seconds"] + 300 * (index > 40), "x": row["x"] + 20 * (index > 40)}
        for index, row in enumerate(paused)
    ]
    floats = [
        {**row, "fix": 5 if 20 <= index < 27 else row["fix"]}
        for index, row in enumerate(moved(walk(seed=2, captures=1), 100.0))
    ]
    other = layer_of(
        floats,
        name="float walk",
        fields=(("unix_time", "double"), ("fix", "integer")),
        values=lambda row: [row["seconds"], row["fix"]],
    )
    process([layer_of(paused, name="paused walk"), other], tmp_path)
    places, reasons = rows_of(tmp_path, "revisits"), rows_of(tmp_path, "revisit_reasons")
    assert (
        {row["layer"] for row in places}
        == {row["layer"] for row in reasons}
        == {"paused walk", "float walk"}
    )
    assert [row["order"] for row in places] == list(range(1, len(places) + 1))
    found = {
        (row["layer"], row["kind"]): row
        for row in sorted(reasons, key=lambda row: row["metres"] or 0)
    }
    assert (
        found["float walk", "rejected"]["epochs"] >= 7
        and found["paused walk", "gap"]["metres"] > 15
    )
    gap = found["paused walk", "gap"]
    of_gap = {row["fid"]: row for row in rows_of(tmp_path, "gaps")}[gap["source_id"]]
    assert (gap["layer_source"], of_gap["layer"], of_gap["metres"]) == (
        "gaps",
        "paused walk",
        gap["metres"],
    )
    process([other], tmp_path, LIST_REVISITS=False, WRITE_EPOCHS=False)
    assert layers_in(tmp_path) == ALWAYS - {"rejected", "kept", "revisits", "revisit_reasons"}


@PLAIN
def test_lines_with_time_as_m(tmp_path):
    """Vertices share the id of their line; one of them is repeated six times."""
    rows = [row for row in walk(captures=2) if row["fix"] == 4]
    layer = QgsVectorLayer("LineStringZM?crs=" + UTM, "streamed line", "memory")
    features = []
    for capture in ("walk 1", "walk 2"):
        feature = QgsFeature(layer.fields())
        vertices = [
            (ORIGIN[0] + row["x"], ORIGIN[1] + row["y"], row["z"], row["seconds"])
            for row in rows
            if row["capture"] == capture
        ]
        feature.setGeometry(
            QgsGeometry.fromWkt(
                "LineStringZM ("
                + ", ".join(
                    " ".join(map(repr, vertex))
                    for vertex in [*vertices[:9], *[vertices[8]] * 6, *vertices[9:]]
                )
                + ")"
            )
        )
        features.append(feature)
    layer.dataProvider().addFeatures(features)
    results = process([layer, layer_of(moved(walk(), 200.0))], tmp_path)
    assert results["LAYERS_DONE"] == 2
    of_lines = [
        [row for row in rows_of(tmp_path, name) if row["layer"] == "streamed line"]
        for name in ("kept", "rejected")
    ]
    assert sum(map(len, of_lines)) == sum(
        len(feature.geometry().constGet()) for feature in features
    )
    assert [row["reason"] for row in of_lines[1]].count("repeat") == 12


@PLAIN
def test_temporary_folder(tmp_path):
    log = Log()
    results = process([layer_of(walk(captures=1))], "TEMPORARY_OUTPUT", log)
    assert any("temporary folder" in text for text in log.warnings)  # decisions would go with it
    assert (
        Path(results["GEOPACKAGE"]).parent
        == Path(results["FOLDER"])
        == Path(results["REPORT"]).parent
    )
    assert layers_in(results["FOLDER"]) == ALWAYS


@PLAIN
def test_run_log_tells_how_to_repeat_it(tmp_path):
    process(two_layers(), tmp_path, CORNER_ANGLE=35)
    log = {(row["section"], row["name"]): row["value"] for row in rows_of(tmp_path, "run_log")}
    assert log["parameter", "CORNER_ANGLE"] == "35" and log["parameter", "MAX_H_ACCURACY"] == "0.05"
    own = processcaptures.ProcessCaptures().create()  # owns the definitions
    definitions = {definition.name() for definition in own.parameterDefinitions()}
    assert {name for section, name in log if section == "parameter"} == definitions
    assert {name for section, name in log if section == "version"} >= {
        "Curbwright",
        "QGIS",
        "GDAL",
        "PROJ",
        "numpy",
        "scipy",
        "shapely",
    }
    assert {name: int(value) for (section, name), value in log.items() if section == "result"} == {
        name: len(rows_of(tmp_path, name)) for name in ALWAYS - {"run_log"}
    }
    assert log["count", "epochs_read"] == "240" and log["run", "crs"] == UTM


@PLAIN
def test_epochs_are_left_out_on_request(tmp_path):
    results = process(two_layers(), tmp_path, WRITE_EPOCHS=False)
    assert (
        layers_in(tmp_path) == ALWAYS - {"kept", "rejected"}
        and results["EDGES"] == 8
        and rows_of(tmp_path, "revisits")
    )


@PLAIN
def test_parameters_of_the_main_job_come_through(tmp_path):
    layer = two_layers()[0]
    parameters = {
        "CAPTURE_FIELDS": "capture;fix",
        "TIME_FIELD": "time",
        "FIXED_VALUES": "4",
        "CURVE_MODEL": 2,
    }
    process([layer], tmp_path, **parameters)
    expected = table(
        reconstruct(layer, **{**parameters, "CAPTURE_FIELDS": ["capture", "fix"]})["OUTPUT"]
    )
    assert [row["length"] for row in rows_of(tmp_path, "edges")] == pytest.approx(
        [row["length"] for row in expected]
    )
    assert {row["capture"] for row in expected} == {"walk 1 / 4", "walk 2 / 4"}
    assert {row["curve_model"] for row in rows_of(tmp_path, "edges")} == {"spline"}


# Layers and stages that fail


def broken_layers(tmp_path):
    bare = QgsVectorLayer("None?field=time:string", "bare table", "memory")
    floats = layer_of([{**row, "fix": 5} for row in walk()], name="float walk")
    return [layer_of([], name="empty walk"), bare, str(tmp_path / "missing.gpkg"), floats]


@PLAIN
def test_a_layer_that_fails_is_named_and_the_rest_go_on(former_run, tmp_path):
    log = Log()
    results = process([*broken_layers(tmp_path), *two_layers()], tmp_path / "out", log)
    assert (results["LAYERS_DONE"], results["LAYERS_FAILED"], results["EDGES"]) == (2, 4, 8)
    summary = {
        row["layer"]: row
        for row in rows_of(tmp_path / "out", "summary")
        if row["stage"] == "reconstruct"
    }
    assert [row["state"] for row in summary.values()] == ["failed"] * 4 + ["done"] * 2
    assert (
        "is empty" in summary["empty walk"]["error"]
        and "no point geometry" in summary["bare table"]["error"]
    )
    assert (
        "not_fixed" in summary["float walk"]["error"]
        and "cannot be opened" in summary[str(tmp_path / "missing.gpkg")]["error"]
    )
    page = (tmp_path / "out" / "report.html").read_text(encoding="utf-8")
    for name in ("empty walk", "bare table", "float walk"):
        assert any(f"“{name}” failed" in text for text in log.warnings) and f"<li>{name}: " in page
    former_run(tmp_path / "alone", two_layers)
    for name in ("edges", "kept", "gaps", "rejected"):
        assert rows_of(tmp_path / "out", name) == rows_of(tmp_path / "alone", name)


@PLAIN
def test_field_that_one_layer_lacks(tmp_path):
    other = layer_of(
        walk(),
        name="other names",
        fields=(("observed", "string"), ("fix", "integer")),
        values=lambda row: [iso(row["seconds"]), row["fix"]],
    )
    process([*two_layers(), other], tmp_path, TIME_FIELD="time")
    errors = {row["layer"]: row["error"] for row in rows_of(tmp_path, "summary")}
    assert "“time”" in errors["other names"] and "observed" in errors["other names"]


@PLAIN
def test_all_layers_failing_is_an_error(tmp_path, former):
    before = state(former)
    with pytest.raises(
        QgsProcessingException, match="No layer was processed. Failed: 4.*empty walk"
    ):
        process(broken_layers(tmp_path), former)
    assert state(former) == before
    with pytest.raises(QgsProcessingException, match="None of the layers can be opened"):
        process([str(tmp_path / "missing.gpkg")], former)


@PLAIN
def test_a_layer_that_fails_while_it_is_written_leaves_no_rows(tmp_path, monkeypatch):
    passed = reconstructedges.ReconstructEdges.pass_rows

    def fail_late(self, source, layer, *rest):
        passed(self, source, layer, *rest)
        if layer.name == "quay walk":
            raise MemoryError("no room")

    monkeypatch.setattr(reconstructedges.ReconstructEdges, "pass_rows", fail_late)
    results = process(two_layers(), tmp_path)
    assert (results["LAYERS_FAILED"], results["EDGES"]) == (1, 4)
    for name in ("edges", "gaps", "rejected", "kept"):
        assert {row["layer"] for row in rows_of(tmp_path, name)} == {"island walk"}
    assert rows_of(tmp_path, "summary")[0]["error"] == "MemoryError: no room"


@PLAIN
def test_a_stage_that_fails_leaves_the_edges(tmp_path):
    log = Log()
    process(
        two_layers(),
        tmp_path,
        log,
        EXISTING=line_layer([None], name="globe", crs="EPSG:4978"),
        FIT_ALIGNMENTS=True,
    )
    stages = {row["stage"]: row for row in rows_of(tmp_path, "summary")}
    assert (
        stages["compare"]["state"] == "failed"
        and "geocentric" in stages["compare"]["error"]
        and stages["fit"]["state"] == "done"
    )
    assert layers_in(tmp_path) == ALWAYS | {"alignments", "elements"}
    assert any("Comparison with existing lines” failed" in text for text in log.warnings)


# Former results


@STYLED
def test_a_rerun_replaces_its_own_results_only(tmp_path):
    process(two_layers(), tmp_path, FIT_ALIGNMENTS=True)
    add_own_layer(tmp_path)
    assert layers_in(tmp_path) == ALWAYS | {"alignments", "elements", "my notes"}
    process(two_layers()[:1], tmp_path)
    assert layers_in(tmp_path) == ALWAYS | {"my notes"}
    assert rows_of(tmp_path, "my notes")[0]["note"] == "kerb is broken" and shapes_of(
        tmp_path, "my notes"
    )
    assert {row["layer"] for row in rows_of(tmp_path, "edges")} == {"quay walk"}
    assert sorted(path.name for path in tmp_path.iterdir()) == ["curbwright.gpkg", "report.html"]


@PLAIN
def test_a_layer_of_the_users_called_like_a_result_is_not_touched(tmp_path):
    add_own_layer(tmp_path, "edges")
    before = state(tmp_path)
    with pytest.raises(QgsProcessingException, match="names of results: edges. Rename them"):
        process(two_layers(), tmp_path)
    assert state(tmp_path) == before


@PLAIN
def test_a_file_that_is_no_geopackage_is_not_touched(tmp_path):
    (tmp_path / "curbwright.gpkg").write_bytes(b"a letter" * 500)
    before = state(tmp_path)
    with pytest.raises(QgsProcessingException, match="cannot be read as a GeoPackage"):
        process(two_layers(), tmp_path)
    assert state(tmp_path) == before


@PLAIN
@pytest.mark.parametrize("percent", [1, 30, 60, 97])
def test_cancel_leaves_the_former_results(former, percent):
    before = state(former)
    log = Log(cancel_at=percent)
    results = process([layer_of(walk(seed=9))], former, log, MERGE_PASSES=True)
    assert "EDGES" not in results and log.highest < 100
    assert state(former) == before


@PLAIN
def test_a_cancel_while_the_report_is_printed_leaves_the_former_results(former, monkeypatch):
    before, log = state(former), Log()

    def cancelled(page, target, progress):
        Path(target).write_bytes(b"%PDF half of it")
        log.cancel()
        progress(0.5)

    monkeypatch.setattr("curbwright.algorithms.base.reports.print_report", cancelled)
    printed = former / "to sign.pdf"
    results = process([layer_of(walk(seed=9))], former, log, REPORT_PDF=str(printed))
    assert "EDGES" not in results and state(former) == before


@PLAIN
def test_a_cancel_after_the_results_are_in_place_takes_nothing_back(tmp_path, monkeypatch):
    log, replace = Log(), result_folder.ResultFolder.replace

    def then_cancelled(folder):
        replace(folder)
        log.cancel()

    monkeypatch.setattr(result_folder.ResultFolder, "replace", then_cancelled)
    printed = tmp_path / "to sign.pdf"
    results = process([layer_of(walk())], tmp_path, log, REPORT_PDF=str(printed))
    assert results["EDGES"] == len(rows_of(tmp_path)) > 0
    assert printed.read_bytes().startswith(b"%PDF")


@FITTED
def test_progress_only_goes_up(tmp_path):
    log, seen = Log(), []
    log.progressChanged.connect(seen.append)
    process(two_layers(), tmp_path, log, MERGE_PASSES=True, FIT_ALIGNMENTS=True)
    assert seen == sorted(seen) and seen[-1] == 100 and len(set(seen)) > 20


KILLED = """
import os, time
from walkedlayers import Log, layer_of, run, walk
import curbwright.algorithms.{module} as module
from curbwright.shared.report import plots
plots.available = bool  # no figures
original, calls = {place}, []
def stop(*arguments, **named):
    calls.append(1)
    if len(calls) < {call}:
        return original(*arguments, **named)
    if {after}:
        original(*arguments, **named)
    sys.stdout.write("half way\\n")
    sys.stdout.flush()
    time.sleep(60)
{place} = stop
layers = [layer_of(walk(seed=9), name="second")]
run("processcaptures", {{"LAYERS": layers, "FIT_ALIGNMENTS": True, "FOLDER": {folder!r}}}, Log())
"""


def killed(twins, folder, module, place, after, call=1, meanwhile=lambda: None):
    """Start a run and kill it at a call of a function, before or after it is carried out."""
    code = KILLED.format(module=module, place=place, after=after, call=call, folder=str(folder))
    with twins.twin(code) as running:
        for line in running.stdout:
            if line.strip() == "half way":
                break
        else:
            pytest.fail("the run ended before it could be killed")
        meanwhile()
        os.kill(running.pid, signal.SIGKILL)
    assert running.returncode == -signal.SIGKILL


@PLAIN
@pytest.mark.one_host
@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
@pytest.mark.parametrize(
    ("module", "place", "after"),
    [
        # earlier on, nothing of the former results was touched either
        pytest.param("batch.kept", "module.KeptEpochs.close", True, marks=pytest.mark.long),
        pytest.param("batch.gathering", "module.write_layer", True, marks=pytest.mark.long),
        ("batch.result_folder", "module.ResultFolder.replace", False),
    ],
    ids=["epochs written", "first layers written", "before the move"],
)
def test_a_killed_run_leaves_the_former_results_whole(former, twins, module, place, after):
    folder = former
    add_own_layer(folder)
    before = state(folder)

    def look():
        # it was at work
        assert (folder / ".curbwright" / "curbwright.gpkg").stat().st_size > 50_000
        with pytest.raises(QgsProcessingException, match="Another run is writing"):
            process(two_layers(), folder)

    killed(twins, folder, module, place, after, meanwhile=look)
    now = state(folder)
    assert {name: now[name] for name in before} == before
    assert any(name.startswith(".curbwright/") for name in now)
    assert {row["layer"] for row in rows_of(folder, "edges")} == {"quay walk", "island walk"}
    process(two_layers()[:1], folder)
    assert sorted(path.name for path in folder.iterdir()) == ["curbwright.gpkg", "report.html"]
    assert {row["layer"] for row in rows_of(folder, "edges")} == {
        "quay walk"
    } and "my notes" in layers_in(folder)


def layer_of_report(folder):
    """Names of layers in the report, of those that the tests use; None where there is no report."""
    page = folder / "report.html"
    return (
        {
            name
            for name in ("quay walk", "island walk", "second")
            if f">{name}<" in page.read_text(encoding="utf-8")
        }
        if page.exists()
        else None
    )


@PLAIN
@pytest.mark.one_host
@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
@pytest.mark.parametrize(
    ("call", "new", "had_report"),
    [
        pytest.param(1, False, True, marks=pytest.mark.long),
        (2, True, True),
        pytest.param(3, True, True, marks=pytest.mark.long),
        # one rename less
        pytest.param(1, True, False, marks=pytest.mark.long),
        pytest.param(2, True, False, marks=pytest.mark.long),
    ],
)
def test_a_run_killed_while_it_moves_its_results(former, twins, tmp_path, call, new, had_report):
    """Between two renames there is no report rather than that of another run, and the next run
    completes or undoes what it finds, even if it fails itself."""
    folder = former
    if not had_report:
        (folder / "report.html").unlink()
    killed(twins, folder, "batch.result_folder", "module.os.replace", True, call)
    edges = {row["layer"] for row in rows_of(folder, "edges")}
    assert edges == ({"second"} if new else {"quay walk", "island walk"})
    assert layer_of_report(folder) in (None, edges)
    with pytest.raises(QgsProcessingException, match="Failed: 4"):
        process(broken_layers(tmp_path), folder)
    assert {row["layer"] for row in rows_of(folder, "edges")} == edges == layer_of_report(folder)
    assert sorted(path.name for path in folder.iterdir()) == ["curbwright.gpkg", "report.html"]


@STYLED
def test_a_geopackage_that_the_system_holds_is_replaced_inside(former, monkeypatch):
    """As Windows answers where the file is open."""
    add_own_layer(former)
    replace = os.replace

    def held(source, place):
        if former / "curbwright.gpkg" == place:
            raise PermissionError(13, "it is being used by another process")
        replace(source, place)

    monkeypatch.setattr(result_folder.os, "replace", held)
    before = os.stat(former / "curbwright.gpkg").st_ino
    process(two_layers()[:1], former)
    assert os.stat(former / "curbwright.gpkg").st_ino == before
    assert {row["layer"] for row in rows_of(former, "edges")} == {"quay walk"}
    assert layer_of_report(former) == {"quay walk"}
    assert layers_in(former) == ALWAYS | {"my notes"}  # the merged edges are gone


@PLAIN
@pytest.mark.parametrize("name", ["report.html"])
def test_a_file_that_the_system_holds(former, monkeypatch, name):
    """As Windows answers where the file is open."""
    before, replace = state(former), os.replace

    def held(source, place):
        if former / name in (source, place):
            raise PermissionError(
                13, "The process cannot access the file because it is being used by another process"
            )
        replace(source, place)

    monkeypatch.setattr(result_folder.os, "replace", held)
    with pytest.raises(
        QgsProcessingException, match=name + "” cannot be replaced: .*remove its layers"
    ):
        process(two_layers()[:1], former)
    assert state(former) == before


@PLAIN
def test_a_new_report_that_cannot_be_moved_waits_for_the_next_run(former, monkeypatch):
    """As where a virus scanner looks at it just then."""
    replace = os.replace

    def held(source, place):
        if (source.parent.name, source.name) == (".curbwright", "report.html"):
            raise PermissionError(
                13, "The process cannot access the file because it is being used by another process"
            )
        replace(source, place)

    with monkeypatch.context() as patched:
        patched.setattr(result_folder.os, "replace", held)
        with pytest.raises(
            QgsProcessingException, match="new results are in .*The next run will move it"
        ):
            process(two_layers()[:1], former)
    assert layer_of_report(former) is None
    log = Log(cancel_at=1)
    process(two_layers(), former, log)
    assert (
        layer_of_report(former)
        == {row["layer"] for row in rows_of(former, "edges")}
        == {"quay walk"}
    )
    assert "report has been put in place" in log.text and sorted(
        path.name for path in former.iterdir()
    ) == ["curbwright.gpkg", "report.html"]


@PLAIN
def test_a_geopackage_that_is_edited(former):
    """A write-ahead log that is in use would be applied to the new file."""
    editor = sqlite3.connect(str(former / "curbwright.gpkg"), isolation_level=None)
    editor.execute("PRAGMA journal_mode=WAL")
    editor.execute("CREATE TABLE jottings (text TEXT)")
    editor.execute("BEGIN")
    editor.execute("INSERT INTO jottings VALUES ('half')")
    with pytest.raises(QgsProcessingException, match="is being edited"):
        process(two_layers()[:1], former)
    editor.execute("COMMIT")
    editor.close()
    process(two_layers()[:1], former)
    with closing(sqlite3.connect(str(former / "curbwright.gpkg"))) as database:
        assert database.execute("SELECT text FROM jottings").fetchall() == [("half",)]


@PLAIN
def test_folder_that_cannot_be_made(tmp_path):
    (tmp_path / "file").write_text("no folder")
    with pytest.raises(QgsProcessingException, match="cannot be written to"):
        process(two_layers(), tmp_path / "file" / "below")


# In the project


@pytest.mark.parametrize("cancel", [False, True])
def test_in_the_background_as_the_dialog_runs_it(tmp_path, qgis_new_project, cancel):
    """The task manager's thread; a cancel comes from the window's thread."""
    project = QgsProject.instance()
    layers = two_layers()
    project.addMapLayers(layers)
    context, log, ended = QgsProcessingContext(), Log(), []
    context.setProject(project)
    if cancel:
        started = time.monotonic()
        log.progressChanged.connect(lambda percent: log.cancel() if percent > 5 else None)
    algorithm = QgsApplication.processingRegistry().createAlgorithmById(
        "curbwright:processcaptures"
    )
    parameters = {
        "LAYERS": [layer.id() for layer in layers],
        "MERGE_PASSES": True,
        "FIT_ALIGNMENTS": True,
        "FOLDER": str(tmp_path),
    }
    task = QgsProcessingAlgRunnerTask(algorithm, parameters, context, log)
    task.executed.connect(lambda fine, results: ended.append((fine, results)))
    QgsApplication.taskManager().addTask(task)
    while not ended:
        QCoreApplication.processEvents()
        time.sleep(0.005)  # for the thread that does the work
    if cancel:
        assert (
            "EDGES" not in ended[0][1]
            and list(tmp_path.iterdir()) == []
            and time.monotonic() - started < 10
        )
        return
    assert ended[0][0] and ended[0][1]["EDGES"] == 8, log.text
    assert layers_in(tmp_path) >= ALWAYS | {"merged", "alignments"}
    # nothing was compared, nothing changed by hand; the run log is not shown
    assert len(context.layersToLoadOnCompletion()) == len(processcaptures.RESULTS) - 9


@STYLED
def test_results_are_shown_in_a_group_and_renewed(tmp_path, qgis_new_project):
    import processing

    project = QgsProject.instance()
    layers = two_layers()
    project.addMapLayers(layers)

    def shown():
        group = project.layerTreeRoot().findGroup("Curbwright")
        return {node.layer().name(): node.layer() for node in group.findLayers()} if group else {}

    def go(chosen, **parameters):
        processing.runAndLoadResults(
            "curbwright:processcaptures",
            {"LAYERS": chosen, "FOLDER": str(tmp_path), **parameters},
            feedback=Log(),
        )

    go(layers, FIT_ALIGNMENTS=True)
    first = shown()
    assert set(first) == {
        "Edges",
        "Gaps",
        "Rejected epochs",
        "Kept epochs",
        "Repairs",
        "Alignments",
        "Elements",
        "Places to revisit",
        "Reasons to revisit",
        "Summary",
        "Runs so far",
    }
    assert len(project.mapLayers()) == 2 + len(first)
    assert first["Kept epochs"].renderer().type() == "categorizedSymbol"
    assert (
        first["Edges"].renderer().symbol().symbolLayerCount() == 2
        and first["Edges"].featureCount() == 8
    )
    go(layers[:1])
    second = shown()
    assert set(second) == set(first) - {"Alignments", "Elements"} and len(
        project.mapLayers()
    ) == 2 + len(second)
    assert second["Edges"].featureCount() == 4 and len(list(second["Edges"].getFeatures())) == 4
    assert second["Edges"].renderer().symbol().symbolLayerCount() == 2
    second["Edges"].startEditing()
    with pytest.raises(QgsProcessingException, match="is being edited in this project"):
        process(layers, tmp_path)
    second["Edges"].rollBack()


@PLAIN
def test_nothing_is_shown_unless_asked_for(tmp_path, qgis_new_project):
    import processing

    processing.runAndLoadResults(
        "curbwright:processcaptures",
        {"LAYERS": [layer_of(walk())], "FOLDER": str(tmp_path), "LOAD_RESULTS": False},
        feedback=Log(),
    )
    assert QgsProject.instance().mapLayers() == {}


@PLAIN
def test_layers_by_path_and_in_one_text(tmp_path):
    to_file(layer_of(walk(captures=1)), tmp_path / "one.gpkg", layerName="monday")
    to_file(layer_of(moved(walk(captures=1), 30.0)), tmp_path / "two.gpkg")
    process(f"{tmp_path}/one.gpkg|layername=monday;{tmp_path}/two.gpkg", tmp_path / "out")
    assert {row["layer"] for row in rows_of(tmp_path / "out", "edges")} == {
        "monday (one.gpkg)",
        "two",
    }


def test_parameters_that_are_relied_on():
    own, main = (
        QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{name}")
        for name in ("processcaptures", "reconstructedges")
    )
    mine, theirs = (
        {definition.name(): definition for definition in one.parameterDefinitions()}
        for one in (own, main)
    )
    # repairs are those of the results folder
    outputs = {"INPUT", "OUTPUT", "GAPS", "REJECTED", "KEPT", "STATIONS", "REPAIRS"}
    assert set(mine) >= (set(theirs) - outputs) | {
        "LAYERS",
        "EXISTING",
        "MERGE_PASSES",
        "FIT_ALIGNMENTS",
        "FOLDER",
    }
    for name in (
        set(theirs)
        - outputs
        - {"TIME_FIELD", "CAPTURE_FIELDS", "FIX_FIELD", "H_ACCURACY_FIELD", "V_ACCURACY_FIELD"}
    ):
        assert mine[name].defaultValue() == theirs[name].defaultValue() and type(
            mine[name]
        ) is type(theirs[name]), name
    assert {output.name() for output in own.outputDefinitions()} == {
        "FOLDER",
        "GEOPACKAGE",
        "EDGE_LAYER",
        "REPORT",
        "REPORT_PDF",
        "LAYERS_DONE",
        "LAYERS_FAILED",
        "EDGES",
        "LENGTH",
        "DAYS_OFF",
    }
