"""Sources that say less, or other, than they seem to."""

import sqlite3
from contextlib import closing

import pytest
from qgis.core import QgsProcessingException, QgsVectorLayer
from qgis.PyQt.QtCore import QDate
from walkedlayers import FIELDS, START, Log, iso, layer_of, reconstruct, run, table, to_file, walk

from curbwright.algorithms.batch.intake import once

pytestmark = pytest.mark.usefixtures("provider")


def told(path, statement):
    with closing(sqlite3.connect(path)) as data:
        data.executescript(statement)


@pytest.mark.parametrize("name", ["geom", "GEOM", "fid"])
def test_a_source_field_that_a_geopackage_keeps_for_itself_gives_way(name, tmp_path):
    layer = layer_of(
        walk(captures=1),
        fields=(*FIELDS, (name, "string")),
        values=lambda row: [iso(row["seconds"]), row["fix"], row["h_acc"], row["capture"], "own"],
    )
    kept = str(tmp_path / "kept.gpkg")
    run("reconstructedges", {"INPUT": layer, "OUTPUT": "memory:", "KEPT": kept})
    rows = table(QgsVectorLayer(kept, "kept", "ogr"))
    assert len(rows) > 40 and {row[f"{name}_source"] for row in rows} == {"own"}


def test_a_view_without_row_ids_is_read(tmp_path):
    path = tmp_path / "view.gpkg"
    to_file(layer_of(walk()), path)
    told(
        path,
        "CREATE VIEW seen AS SELECT geom, time, fix, h_acc, capture FROM view;"
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id)"
        " VALUES ('seen', 'features', 'seen', 32632);"
        "INSERT INTO gpkg_geometry_columns VALUES ('seen', 'geom', 'POINT', 32632, 1, 0);",
    )
    result = reconstruct(QgsVectorLayer(f"{path}|layername=seen", "seen", "ogr"))
    assert result["KEPT"].featureCount() + result["REJECTED"].featureCount() == 120


def test_a_geometry_type_that_lies_is_named(tmp_path):
    path = tmp_path / "lie.gpkg"
    to_file(layer_of(walk(captures=1)), path)
    told(path, "UPDATE gpkg_geometry_columns SET geometry_type_name = 'LINESTRING'")
    lines = QgsVectorLayer(str(path), "lie", "ogr")
    with pytest.raises(
        QgsProcessingException, match="“lie”.*another geometry in 60 of its 60 rows"
    ):
        run("mergepasses", {"INPUT": lines, "OUTPUT": "memory:"})


def test_dates_alone_are_no_times():
    layer = layer_of(
        walk(captures=1),
        fields=(("time", "date"), ("fix", "integer")),
        values=lambda row: [QDate(2026, 5, 4), row["fix"]],
    )
    with pytest.raises(QgsProcessingException, match="“time” holds dates without a time of day"):
        reconstruct(layer)


@pytest.mark.parametrize("given", [" capture ", "capture; ", ["capture", ""]])
def test_blanks_in_a_list_of_fields_do_not_matter(given):
    log = Log()
    reconstruct(layer_of(walk()), log, CAPTURE_FIELDS=given)
    assert "Capture: field “capture” (as chosen)" in log.text


def spread(few):
    """Epochs of which so many are a capture; captures lie 30 m and a minute apart."""
    rows = walk(captures=1, epochs=120)
    for number, row in enumerate(rows):
        group = number // few
        row.update(x=1.2 * number + 30.0 * group, y=0.0, fix=4, h_acc=0.01)
        row.update(seconds=START + number + 60.0 * group, capture=f"walk {group}")
    return layer_of(rows)


def test_captures_of_two_epochs_are_captures():
    log = Log()
    assert reconstruct(spread(2), log)["EDGES"] == 0
    assert "Capture: field “capture” (found by name)" in log.text


def test_captures_of_one_epoch_are_named_and_their_steps_too():
    log = Log()
    reconstruct(spread(1), log)
    said = "\n".join(log.warnings)
    assert "“capture” has a name of captures" in said and "nobody walks so fast" in said


def test_the_same_layer_given_twice_is_taken_once(tmp_path):
    path = str(tmp_path / "day.gpkg")
    layer = layer_of(walk(captures=1))
    to_file(layer, path)
    named = QgsVectorLayer(f"{path}|layername=day", "named", "ogr")
    filtered = QgsVectorLayer(path, "some", "ogr")
    assert filtered.setSubsetString("fix = 4")
    pairs = [
        (one, one) for one in (QgsVectorLayer(path, "day", "ogr"), named, layer, layer, filtered)
    ]
    log = Log()
    assert once([*pairs, ("nowhere", None)], log) == [
        pairs[0],
        pairs[2],
        pairs[4],
        ("nowhere", None),
    ]
    assert len(log.warnings) == 2
