"""Values, names and places that no run may take in silence, one test for each fault found."""

from datetime import datetime, timezone
from pathlib import Path

import numpy as np
import pytest
from linelayers import line_layer, straight, upright
from osgeo import ogr
from qgis.core import (
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingException,
    QgsProperty,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from walkedlayers import ORIGIN, START, Log, layer_of, raw_point, run, to_file, walk

pytestmark = pytest.mark.usefixtures("provider")


def screened(layer, log=None, **parameters):
    log = log or Log()
    return run("screenepochs", {"INPUT": layer, "OUTPUT": "memory:", **parameters}, log), log


def timed(values, kind="double"):
    """A walk of one capture with a time made of the seconds of each row."""
    return layer_of(
        walk(captures=1),
        fields=(("time", kind), ("fix", "integer")),
        values=lambda row: [values(row["seconds"]), row["fix"]],
    )


# numbers as parameters


@pytest.mark.parametrize(
    ("algorithm", "name", "value"),
    [
        ("fitalignments", "TOLERANCE", 1e300),
        ("joinedges", "TOLERANCE", QgsProperty.fromExpression("0/0")),
        ("joinedges", "TOLERANCE", QgsProperty.fromExpression("-5")),
        ("revisits", "MIN_REJECTED", 1e12),
    ],
)
def test_a_number_out_of_bounds_is_refused_by_name(algorithm, name, value):
    lines = line_layer([straight(0.0)])
    given = {"EDGES": lines} if algorithm == "revisits" else {"INPUT": lines}
    with pytest.raises(QgsProcessingException, match=name):
        run(algorithm, {**given, "OUTPUT": "memory:", name: value})


def test_a_geocentric_working_crs_is_refused():
    with pytest.raises(QgsProcessingException, match="Working CRS"):
        screened(layer_of(walk()), WORKING_CRS="EPSG:4978")


# times


@pytest.mark.parametrize("same", [lambda s: START, lambda s: float(np.float32(s))])
def test_times_that_hardly_differ_are_asked_about(same):
    with pytest.raises(QgsProcessingException, match=r"repeat.*“Time"):
        run("reconstructedges", {"INPUT": timed(same), "TIME_FIELD": "time", "OUTPUT": "memory:"})


def test_two_walkers_that_cannot_be_told_apart_are_said():
    rows = walk(captures=1) + [{**row, "y": row["y"] + 4.0} for row in walk(2, captures=1)]
    _, log = screened(layer_of(sorted(rows, key=lambda row: row["seconds"])))
    assert any("repeat" in text and "“Capture" in text for text in log.warnings)


def test_dates_to_come_are_said():
    _, log = screened(timed(lambda s: s + 2082844800.0))  # since 1904
    assert any("yet to come" in text for text in log.warnings)


def test_numbers_that_may_be_seconds_of_gps_are_said():
    now = datetime.now(timezone.utc).timestamp()
    _, log = screened(timed(lambda s: s - START + now - 315964800.0 - 1e6))
    assert any("seconds of GPS" in text for text in log.warnings)
    _, log = screened(timed(lambda s: s - START + now - 1e6))
    assert not any("GPS" in text for text in log.warnings)


def test_a_clock_of_twelve_hours_without_am_is_said():
    def text(seconds):
        moment = datetime.fromtimestamp(seconds + 10770, timezone.utc)  # over 1 p.m.
        return moment.strftime("%Y-%m-%d %I:%M:%S")

    _, log = screened(timed(text, "string"))
    assert any("twelve hours" in text for text in log.warnings)


# places


@pytest.mark.parametrize(("decimals", "said"), [(0, True), (1, True), (3, False)])
def test_rounded_positions_are_said(decimals, said):
    def place(x, y, z):  # a pace that falls on different places of the grid
        east, north = ORIGIN[0] + 1.03 * x, ORIGIN[1] + 1.03 * y
        return QgsGeometry(QgsPoint(round(east, decimals), round(north, decimals), z))

    _, log = screened(layer_of(walk(captures=1), place=place))
    assert any("rounded" in text for text in log.warnings) == said


def test_positions_outside_the_area_of_their_crs_are_said():
    _, log = screened(layer_of(walk(captures=1), crs="EPSG:2263"))
    assert any("area of use" in text for text in log.warnings)
    _, log = screened(layer_of(walk(captures=1)))
    assert not any("area of use" in text for text in log.warnings)


@pytest.mark.parametrize("odd", [float("nan"), float("inf")])
def test_half_a_place_does_not_spoil_the_file(tmp_path, odd):
    """GDAL writes the extent of such points into a GeoPackage as words that it cannot read."""
    path = tmp_path / "rejected.gpkg"
    layer = layer_of(
        walk(captures=1),
        place=lambda x, y, z: raw_point(odd if x < 3.0 else ORIGIN[0] + x, ORIGIN[1] + y, z),
    )
    results, log = screened(layer, REJECTED=str(path))
    rows = list(QgsVectorLayer(str(path), "a", "ogr").getFeatures())
    assert len(rows) == results["EPOCHS_REJECTED"]
    assert {row.geometry().isEmpty() for row in rows if row["reason"] == "no_position"} == {True}
    assert any("vertices that are no numbers" in text for text in log.warnings)


@pytest.mark.parametrize("start", ["500,95 [EPSG:4326]", "1,2 [EPSG:999999]"])
def test_a_start_nowhere_near_is_refused(start):
    gaps = line_layer(
        [straight(0.0)],
        name="gaps",
        fields=(("reason", "string"), ("seconds", "double"), ("metres", "double")),
        values=[("paused", 9.0, 40.0)],
    )
    with pytest.raises(QgsProcessingException, match="Start of the walk"):
        run("revisits", {"GAPS": gaps, "START": start, "OUTPUT": "memory:"})


@pytest.mark.parametrize(
    ("polygon", "said"),
    [("0 0, 50 50, 50 0, 0 50, 0 0", "cross"), ("-9 -9, -8 -9, -8 -8, -9 -9", "surveyed area")],
)
def test_an_area_that_cannot_be_meant_is_said(polygon, said):
    area = QgsVectorLayer("Polygon?crs=EPSG:32632", "searched", "memory")
    feature, log = QgsFeature(), Log()
    feature.setGeometry(QgsGeometry.fromWkt(f"Polygon(({polygon}))"))
    feature.setGeometry(_moved(feature.geometry(), 600000.0, 6200000.0))
    area.dataProvider().addFeatures([feature])
    lines = {"INPUT": line_layer([straight(0.0)]), "EXISTING": line_layer([straight(0.3)])}
    run("compareedges", {**lines, "AREA": area, "OUTPUT": "memory:"}, log)
    assert any("searched" in text and said in text for text in log.warnings)


def _moved(geometry, east, north):
    geometry.translate(east, north)
    return geometry


# names of fields and of targets


@pytest.mark.parametrize("name", ["geom", "fid", "NAME"])
def test_a_field_that_a_geopackage_has_itself_is_passed_on(tmp_path, name):
    lines = line_layer(
        [straight(0.0)],
        fields=(("name", "string"), (name, "string")),
        values=[("kerb", "mine")],
    )
    edges, path = line_layer([straight(500.0)]), tmp_path / "updated.gpkg"
    log = Log()
    run("updatebasemap", {"EXISTING": lines, "EDGES": edges, "UPDATED": str(path)}, log)
    row = next(QgsVectorLayer(str(path), "a", "ogr").getFeatures())
    assert row[f"{name}_source"] == "mine"
    assert any(f"{name} → {name}_source" in text for text in log.warnings)


def test_a_field_that_is_not_there_is_refused_by_name():
    lines = line_layer([straight(0.0)])
    with pytest.raises(QgsProcessingException, match="odd"):
        run(
            "updatebasemap",
            {"EXISTING": lines, "EDGES": lines, "KEY_FIELD": "odd", "UPDATED": "memory:"},
        )
    with pytest.raises(QgsProcessingException, match="odd"):
        run("fitalignments", {"INPUT": lines, "EDGE_FIELDS": ["odd"], "OUTPUT": "memory:"})


@pytest.mark.parametrize(
    ("asked", "made"),
    [("a.json", "a.json.geojson"), ("a.SHP", "a.shp"), ("a.sqlite", "a.sqlite"), ("a.gpkg", None)],
)
def test_the_result_names_the_file_that_is_there(tmp_path, asked, made):
    results, _ = screened(layer_of(walk(captures=1)), OUTPUT=str(tmp_path / asked))
    assert Path(results["OUTPUT"]) == tmp_path / (made or asked)
    opened = QgsVectorLayer(results["OUTPUT"], "a", "ogr")
    assert opened.featureCount() == results["EPOCHS_KEPT"]


@pytest.mark.parametrize(
    "name", ["a\nb.gpkg", "a\0b.gpkg", "n" * 300 + ".gpkg", "100%20.gpkg", "a.zip/b.gpkg"]
)
def test_a_name_that_cannot_be_is_refused(tmp_path, name):
    with pytest.raises(QgsProcessingException, match="Kept epochs"):
        screened(layer_of(walk(captures=1)), OUTPUT=str(tmp_path / name))
    if name.startswith("a.zip"):
        with pytest.raises(QgsProcessingException, match="Kept epochs"):
            screened(layer_of(walk(captures=1)), OUTPUT=f"/vsizip/{tmp_path / name}")
    assert list(tmp_path.iterdir()) == []


def test_a_shapefile_in_capitals_does_not_harm_one_without(tmp_path):
    source = to_file(
        layer_of(walk(captures=1)),
        tmp_path / "walked.shp",
        QgsVectorFileWriter.driverForExtension("shp"),
    )
    before = {path.name: path.read_bytes() for path in tmp_path.iterdir()}
    with pytest.raises(QgsProcessingException, match="walked"):
        screened(source, OUTPUT=str(tmp_path / "walked.SHP"))
    assert {path.name: path.read_bytes() for path in tmp_path.iterdir()} == before


def test_parts_of_something_else_are_not_replaced(tmp_path):
    (tmp_path / "roads.dbf").write_bytes(b"mine")
    with pytest.raises(QgsProcessingException, match=r"roads\.dbf"):
        screened(layer_of(walk(captures=1)), OUTPUT=str(tmp_path / "roads.shp"))
    assert (tmp_path / "roads.dbf").read_bytes() == b"mine"


def test_a_file_address_is_no_folder_of_that_name(tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    lines = {"INPUT": line_layer([straight(0.0)]), "EXISTING": line_layer([straight(0.3)])}
    report = tmp_path / "report.html"
    results = run("compareedges", {**lines, "OUTPUT": "memory:", "REPORT": report.as_uri()})
    assert Path(results["REPORT"]) == report
    assert report.is_file()


# updates


def update(existing, edges, log=None, **parameters):
    return run(
        "updatebasemap",
        {
            "EXISTING": existing,
            "EDGES": edges,
            "REMOVE_SHIFT": False,
            "UPDATED": "memory:",
            "CHANGES": "memory:",
            **parameters,
        },
        log or Log(),
    )


@pytest.mark.parametrize("shapes", [[], [None]])
def test_edges_without_a_line_are_refused(shapes):
    edges = line_layer(shapes, name="odd")
    with pytest.raises(QgsProcessingException, match="“odd” holds no line"):
        update(line_layer([straight(0.0)]), edges)


@pytest.mark.parametrize(
    ("mapping", "said"), [("name: name; name: name", "second time"), ("number: name", "number")]
)
def test_a_mapping_of_fields_that_cannot_be_is_refused(mapping, said):
    fields, values = (("name", "string"), ("number", "integer")), [("kerb", 1)]
    existing = line_layer([straight(0.0)], fields=fields, values=values)
    edges = line_layer([straight(500.0)], fields=fields, values=values)
    with pytest.raises(QgsProcessingException, match=said):
        update(existing, edges, FIELD_MAP=mapping)


def test_the_table_of_changes_as_edges_is_said():
    existing = line_layer([straight(0.0)])
    changes, log = update(existing, line_layer([straight(0.5)]))["CHANGES"], Log()
    changes.setName("odd")
    update(existing, changes, log)
    assert any("“odd” is a table of changes" in text for text in log.warnings)


@pytest.mark.parametrize("change", ["emptied", "nonsense", "none", "one less"])
def test_changes_that_do_not_fit_are_not_taken_back_in_silence(change):
    made = update(
        line_layer([straight(0.0), straight(60.0)]), line_layer([straight(0.5), straight(60.5)])
    )
    provider = made["CHANGES"].dataProvider()
    rows = [row.id() for row in made["CHANGES"].getFeatures()]
    assert len(rows) == 2
    if change in ("emptied", "nonsense"):
        text = "" if change == "emptied" else '{"before": "00", "after": "x"}'
        undo = made["CHANGES"].fields().lookupField("undo")
        provider.changeAttributeValues({rows[0]: {undo: text}})
    else:
        provider.deleteFeatures(rows if change == "none" else rows[:1])
    given, log = {"EXISTING": made["UPDATED"], "UNDO": made["CHANGES"]}, Log()
    if change == "one less":
        run("updatebasemap", {**given, "UPDATED": "memory:"}, log)
        assert any("has no change: 1." in text for text in log.warnings)
        return
    with pytest.raises(QgsProcessingException, match="no change|row 1"):
        run("updatebasemap", {**given, "UPDATED": "memory:"}, log)


def test_what_has_no_geometry_is_not_shifted_and_no_row_more_comes_back():
    shapes = [straight(0.0), upright(0.0), straight(60.0), upright(60.0), None]
    edges = line_layer([straight(0.5), upright(0.5), straight(60.5), upright(60.5)])
    made, log = update(line_layer(shapes), edges, REMOVE_SHIFT=True), Log()
    assert (made["SHIFTED"], made["UNCHANGED"]) == (4, 1)
    given = {"EXISTING": made["UPDATED"], "UNDO": made["CHANGES"], "UPDATED": "memory:"}
    assert run("updatebasemap", given, log)["UPDATED"].featureCount() == 5
    assert not log.warnings


def test_a_moment_of_a_change_of_the_layers_own_is_a_moment():
    fields = (("name", "string"), ("updated_at", "datetime"))
    existing = line_layer([straight(0.0)], fields=fields, values=[("kerb", "2020-01-02T03:04:05")])
    made = update(existing, line_layer([straight(0.5)]))
    at = next(made["UPDATED"].getFeatures())["updated_at"]
    assert at.isValid() and at.date().year() > 2020
    back = run(
        "updatebasemap",
        {"EXISTING": made["UPDATED"], "UNDO": made["CHANGES"], "UPDATED": "memory:"},
    )
    assert next(back["UPDATED"].getFeatures())["updated_at"].date().year() == 2020


def test_a_field_that_takes_no_words_of_an_update_is_refused_by_name():
    fields = (("name", "string"), ("update_edges", "integer"))
    existing = line_layer([straight(0.0)], "basemap", fields=fields, values=[("kerb", 3)])
    with pytest.raises(QgsProcessingException, match="“basemap”: its own field “update_edges”"):
        update(existing, line_layer([straight(0.5)]))


@pytest.mark.parametrize("empty", [None, ""])
def test_a_fix_field_that_is_empty_counts_as_none(empty):
    layer = layer_of(
        walk(captures=1),
        fields=(("time", "double"), ("fix", "string")),
        values=lambda row: [row["seconds"], empty],
    )
    results, log = screened(layer)
    assert results["EPOCHS_KEPT"] > 50
    assert any("“fix” is empty in all rows" in text for text in log.warnings)


def test_a_line_without_a_place_does_not_spoil_the_file(tmp_path):
    nowhere = QgsGeometry.fromPolyline([QgsPoint(float("nan"), 1.0), QgsPoint(float("nan"), 2.0)])
    lines = {
        "INPUT": line_layer([straight(0.0), nowhere]),
        "EXISTING": line_layer([straight(0.3)]),
    }
    path, log = tmp_path / "compared.gpkg", Log()
    run("compareedges", {**lines, "OUTPUT": str(path)}, log)
    rows = list(QgsVectorLayer(str(path), "a", "ogr").getFeatures())
    assert [row.geometry().isEmpty() for row in rows] == [False, True]
    assert any(
        "“Compared edges”: geometries with vertices that are no numbers: 1." in text
        for text in log.warnings
    )


@pytest.mark.parametrize("names", [("date", "time"), ("Datum", "Uhrzeit")])
def test_a_date_and_a_clock_are_found_beside_other_text(names):
    def values(row):
        moment = datetime.fromtimestamp(row["seconds"], timezone.utc)
        return [f"{moment:%Y-%m-%d}", f"{moment:%H:%M:%S}", row["fix"], row["capture"]]

    fields = (*((name, "string") for name in names), ("fix", "integer"), ("capture", "string"))
    results, log = screened(layer_of(walk(), fields=fields, values=values))
    assert results["EPOCHS_KEPT"] > 100
    assert any("2026-05-04T10:00:00" in text for text in log.infos)


@pytest.mark.parametrize("which", ["INPUT", "CHECK_POINTS"])
def test_check_points_that_are_no_points_are_refused_by_name(which):
    polygon = QgsVectorLayer("Polygon?crs=EPSG:32632", "odd", "memory")
    feature = QgsFeature()
    feature.setGeometry(QgsGeometry.fromWkt("Polygon((0 0, 9 0, 9 9, 0 0))"))
    polygon.dataProvider().addFeatures([feature])
    points = layer_of(walk(captures=1), name="points")
    given = {"INPUT": points, "CHECK_POINTS": points, "OUTPUT": "memory:", which: polygon}
    with pytest.raises(QgsProcessingException, match="“odd” holds (neither|no points).*Polygon"):
        run("checkaccuracy", given)


def test_a_fix_field_of_words_is_no_empty_one():
    layer = layer_of(
        walk(captures=1),
        fields=(("time", "double"), ("fix", "string")),
        values=lambda row: [row["seconds"], "fixed" if row["fix"] == 4 else "float"],
    )
    results, log = screened(layer)
    assert results["EPOCHS_REJECTED"] >= 3
    assert not any("is empty" in text for text in log.warnings)


@pytest.mark.parametrize("name", ["kept.csv", "kept.geojson", "kept.gpkg"])
def test_a_field_of_maps_is_written_as_json(tmp_path, name):
    source = to_file(layer_of(walk(captures=1)), tmp_path / "walked.gpkg", layerName="walked")
    del source
    path = tmp_path / "walked.gpkg"
    data = ogr.Open(str(path), 1)
    rows = data.GetLayer(0)
    further = ogr.FieldDefn("further", ogr.OFTString)
    further.SetSubType(ogr.OFSTJSON)
    rows.CreateField(further)
    for row in list(rows):
        row.SetField("further", '{"a": 1}')
        rows.SetFeature(row)
    del row, rows, data
    layer = QgsVectorLayer(f"{path}|layername=walked", "walked", "ogr")
    results, _ = screened(layer, OUTPUT=str(tmp_path / name))
    opened = QgsVectorLayer(results["OUTPUT"], "a", "ogr")
    rows = [str(row["further"]) for row in opened.getFeatures()]
    assert len(rows) == results["EPOCHS_KEPT"]
    assert all("a" in text and "1" in text for text in rows)
