"""Captures found in a folder or by a pattern."""

import shutil

import numpy as np
import pytest
from batchruns import moved, process, rows_of
from linelayers import line_layer
from qgis.core import QgsProcessingException, QgsVectorFileWriter
from walkedlayers import Log, layer_of, to_file, walk

from curbwright.algorithms.batch.intake import take_in

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")
SHAPEFILE = QgsVectorFileWriter.driverForExtension("shp")
ADD = QgsVectorFileWriter.ActionOnExistingFile.CreateOrOverwriteLayer


@pytest.fixture
def days(tmp_path):
    """A folder as people leave it."""
    folder = tmp_path / "days"
    (folder / "later").mkdir(parents=True)
    one = walk(captures=1)
    to_file(layer_of(one), folder / "b.gpkg", layerName="tuesday")
    to_file(
        layer_of(moved(one, 20.0)), folder / "b.gpkg", layerName="Monday", actionOnExistingFile=ADD
    )
    table = layer_of([], geometry="None", name="notes")
    to_file(table, folder / "b.gpkg", layerName="notes", actionOnExistingFile=ADD)
    to_file(layer_of(moved(one, 40.0)), folder / "a.shp", SHAPEFILE)
    to_file(layer_of(moved(one, 60.0)), folder / "later" / "c.gpkg")
    (folder / "notes.txt").write_text("rain", encoding="utf-8")
    (folder / ".hidden.gpkg").write_bytes(b"")
    return folder


def test_a_folder_is_taken_in(tmp_path, days):
    log = Log()
    results = process([], tmp_path / "out", log, INTAKE=str(days))
    assert results["LAYERS_DONE"] == 3 and results["LAYERS_FAILED"] == 0
    names = list(dict.fromkeys(row["layer"] for row in rows_of(tmp_path / "out", "edges")))
    assert names == ["a", "Monday (b.gpkg)", "tuesday (b.gpkg)"]
    said = "\n".join(log.infos)
    assert "layers 3, files 2" in said
    assert "“notes.txt” (no vector layer" in said
    assert "“b.gpkg, notes” (a table without geometry)" in said
    assert "a.dbf" not in said and "hidden" not in said


@pytest.mark.one_host
def test_the_same_as_layers_given_one_by_one(tmp_path, days):
    process([], tmp_path / "found", INTAKE=str(days))
    layers = [f"{days}/a.shp", *(f"{days}/b.gpkg|layername={one}" for one in ("Monday", "tuesday"))]
    process(layers, tmp_path / "given")
    for name in ("edges", "gaps", "rejected", "kept"):
        assert rows_of(tmp_path / "found", name) == rows_of(tmp_path / "given", name)


def test_a_pattern_beside_layers(tmp_path, days):
    given = f"{days}/b.gpkg|layername=tuesday"
    process(given, tmp_path / "out", INTAKE=f"{days}/**/*.gpkg")
    names = dict.fromkeys(row["layer"] for row in rows_of(tmp_path / "out", "edges"))
    # the one that is given is not taken twice
    assert list(names) == ["tuesday (b.gpkg)", "Monday (b.gpkg)", "c"]


def test_results_and_what_is_used_are_not_taken(tmp_path, days):
    lines = line_layer([np.array([(0.0, 0.0), (50.0, 0.0)])], name="basemap")
    to_file(lines, days / "basemap.gpkg")
    log = Log()
    for _ in range(2):
        results = process([], days, log, INTAKE=str(days), EXISTING=f"{days}/basemap.gpkg")
        assert results["LAYERS_DONE"] == 3 and results["LAYERS_FAILED"] == 0
    assert any("basemap.gpkg" in text and "Existing lines" in text for text in log.infos)
    assert not any("curbwright.gpkg” (" in text for text in log.infos)
    other = tmp_path / "other"
    other.mkdir()
    shutil.copy(days / "curbwright.gpkg", other / "old.gpkg")
    intake = take_in(str(other), tmp_path / "out", {})
    assert intake.layers == () and intake.passed == (("old.gpkg", "results of a run"),)


@pytest.mark.parametrize(
    ("parameters", "said"),
    [
        ({}, "there is no capture"),
        ({"INTAKE": "/nowhere"}, "no folder, no file and no file pattern"),
    ],
)
def test_nothing_to_do_is_said(tmp_path, parameters, said):
    with pytest.raises(QgsProcessingException, match=said):
        process([], tmp_path / "out", **parameters)


def test_a_folder_without_epochs_is_said(tmp_path):
    (tmp_path / "in").mkdir()
    (tmp_path / "in" / "notes.txt").write_text("rain", encoding="utf-8")
    with pytest.raises(QgsProcessingException, match="can be epochs.*notes.txt"):
        process([], tmp_path / "out", INTAKE=str(tmp_path / "in"))
    log = Log()
    process([layer_of(walk())], tmp_path / "out", log, INTAKE=str(tmp_path / "in"))
    assert any("layers 0, files 0" in text for text in log.warnings)


def test_of_a_track_its_points_are_taken_once(tmp_path):
    moments = [f"<time>2026-05-04T10:00:{second:02}Z</time>" for second in range(3)]
    points = "".join(f'<trkpt lat="54.0" lon="8.0">{moment}</trkpt>' for moment in moments)
    text = f'<gpx version="1.1" xmlns="http://www.topografix.com/GPX/1/1"><trk><trkseg>{points}'
    (tmp_path / "walk.gpx").write_text(f"{text}</trkseg></trk></gpx>", encoding="utf-8")
    intake = take_in(str(tmp_path), tmp_path / "out", {})
    assert len(intake.layers) == 1 and "track_points" in intake.layers[0]
    assert {why for _, why in intake.passed} == {"of a GPX file the track points are taken"}
