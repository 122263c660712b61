"""Places that cannot be, kinds of geometry that lie, names of fields and layers given twice."""

import math
import sqlite3

import numpy as np
from frame import case
from linelayers import line_layer
from qgis.core import QgsFeature, QgsGeometry, QgsPoint, QgsVectorFileWriter, QgsVectorLayer
from walkedlayers import FIELDS, ORIGIN, iso, layer_of, table, to_file, walk

PLACES, KINDS, NAMES = "places", "kinds of geometry", "names and layers"
ALONG = np.column_stack([np.arange(0.0, 60.0, 2.0), np.zeros(30)])
FAR = {
    "compareedges": ("INPUT", "EXISTING", "OUTPUT"),
    "estimateshift": ("INPUT", "EXISTING", "OUTPUT"),
    "updatebasemap": ("EDGES", "EXISTING", "UPDATED"),
    "mergepasses": ("INPUT", None, "OUTPUT"),
    "joinedges": ("INPUT", None, "OUTPUT"),
    "fitalignments": ("INPUT", None, "OUTPUT"),
    "offsetedges": ("INPUT", None, "OUTPUT"),
}


def lines(strays=(), name="edges", origin=ORIGIN, crs="EPSG:32632", apart=0.0):
    """Five straight edges, 20 m apart; `strays` are places of vertices at 0, 0."""
    shapes = [ALONG + (0.0, 20.0 * k + apart) for k in range(5)]
    for line, vertex in strays:
        shapes[line] = shapes[line].copy()
        shapes[line][vertex] = -np.array(origin)
    return line_layer(shapes, name, crs=crs, origin=origin)


def run_on(box, algorithm, layer, other=None):
    first, second, output = FAR[algorithm]
    given = {first: layer, output: "memory:"}
    if second:
        given[second] = other or lines(name="basemap", apart=0.1)
    return box.run(algorithm, **given)


@case(PLACES, each=tuple((name, vertex) for name in FAR for vertex in (0, 14, 29)), limit=20)
def one_vertex_at_nought(box, algorithm, vertex):
    outcome = run_on(box, algorithm, lines([(1, vertex)]))
    return box.warned(outcome, "positions 0, 0, far from all others: 1")


@case(PLACES, each=tuple(name for name in FAR if FAR[name][1]), limit=20)
def one_vertex_at_nought_of_the_other_layer(box, algorithm):
    outcome = run_on(box, algorithm, lines(), lines([(1, 14)], "basemap", apart=0.1))
    return box.warned(outcome, "“basemap”: positions 0, 0, far from all others: 1")


@case(PLACES, each=tuple(FAR), limit=20)
def one_vertex_far_away(box, algorithm):
    shapes = [ALONG + (0.0, 20.0 * k) for k in range(5)]
    shapes[2] = shapes[2].copy()
    shapes[2][7] += 2e6
    return box.warned(
        run_on(box, algorithm, line_layer(shapes, origin=ORIGIN)), "vertices more than"
    )


@case(PLACES, each=(1, 4))
def epochs_at_nought(box, several):
    rows = walk(captures=1)

    def place(x, y, z):
        there = not 9.0 < x < 9.0 + 1.2 * several
        return QgsGeometry(QgsPoint(*((ORIGIN[0] + x, ORIGIN[1] + y, z) if there else (0, 0, 0))))

    outcome = box.run("reconstructedges", INPUT=layer_of(rows, place=place), OUTPUT="memory:",
                      REJECTED="memory:")  # fmt: skip
    box.warned(outcome, "positions 0, 0")
    reasons = [row["reason"] for row in table(outcome["REJECTED"])]
    return box.right(reasons.count("no_position") == several, f"{reasons}")


@case(PLACES, each=tuple(FAR))
def east_and_north_exchanged(box, algorithm):
    layer = lines(origin=ORIGIN[::-1])
    return box.refused(run_on(box, algorithm, layer), "“edges”", "exchanged")


@case(PLACES, each=("reconstructedges", "screenepochs"))
def east_and_north_of_epochs_exchanged(box, algorithm):
    layer = layer_of(
        walk(), place=lambda x, y, z: QgsGeometry(QgsPoint(ORIGIN[1] + y, ORIGIN[0] + x, z))
    )
    return box.refused(box.run(algorithm, INPUT=layer, OUTPUT="memory:"), "quay walk", "exchanged")


@case(PLACES, each=(40.0, 120.0, -171.0))
def epochs_over_thousands_of_kilometres(box, longitude):
    def place(x, y, z):
        east = (longitude if x >= 90 else 9.0) + (x % 100) * 1e-5
        return QgsGeometry(QgsPoint(east, 55 + 1e-5 * y, z))

    outcome = box.run("reconstructedges", OUTPUT="memory:",
                      INPUT=layer_of(walk(), crs="EPSG:4326", place=place))  # fmt: skip
    return box.warned(outcome, "km from its middle", "parts")


@case(PLACES, each=("mergepasses", "joinedges", "compareedges"))
def lines_over_thousands_of_kilometres(box, algorithm):
    shapes = [ALONG + (1.5e6 * k, 0.0) for k in range(3)]
    outcome = run_on(box, algorithm, line_layer(shapes, origin=ORIGIN))
    return box.warned(outcome, "km from its middle")


@case(PLACES)
def a_walk_over_the_antimeridian(box):
    def place(x, y, z):
        return QgsGeometry(QgsPoint((180 + (x - 12) * 1e-5 + 180) % 360 - 180, 1e-5 * y, z))

    rows = walk(captures=1)
    outcome = box.run("reconstructedges", OUTPUT="memory:",
                      INPUT=layer_of(rows, crs="EPSG:4326", place=place))  # fmt: skip
    box.done(outcome)
    longest = max(row["length"] for row in table(outcome["OUTPUT"]))
    return box.right(10 < longest < 80, f"{longest}")


# uncertainties of edges

SIGMAS = "uncertainties of edges"


def with_sigma(values, kind="double", name="sigma_cross"):
    shapes = [ALONG + (0.0, 20.0 * k) for k in range(5)]
    return line_layer(shapes, fields=[(name, kind)], values=[[one] for one in values])


@case(SIGMAS, each=(-1.0, float("inf"), 1e300))
def one_odd_uncertainty_in_the_comparison(box, odd):
    outcome = run_on(box, "compareedges", with_sigma([0.01, odd, 0.01, 0.01, 0.01]))
    if outcome.error:
        return box.refused(outcome, "sigma_cross", "metres")
    return box.right(odd == 1e300 and "sigma_cross" in outcome.text, outcome.text)


@case(SIGMAS, each=(12.0, 1.5))
def uncertainties_in_another_unit(box, value):
    outcome = run_on(box, "compareedges", with_sigma([value] * 5))
    return box.refused(outcome, "sigma_cross", "in metres")


@case(SIGMAS, each=(0.3, 0.8))
def uncertainties_that_hide_half_a_metre(box, value):
    return box.warned(
        run_on(box, "compareedges", with_sigma([value] * 5)), "sigma_cross", "do not count"
    )


@case(SIGMAS, each=("0,012", "12 mm", "0.012 m"))
def uncertainties_as_text(box, text):
    return box.done(run_on(box, "compareedges", with_sigma([text] * 5, "string")))


@case(SIGMAS, each=("good", "?"))
def words_for_uncertainties(box, text):
    outcome = run_on(box, "compareedges", with_sigma([text] * 5, "string"))
    return box.refused(outcome, "sigma_cross", text.replace("?", "[?]"))


@case(SIGMAS)
def uncertainties_of_nought(box):
    return box.warned(run_on(box, "compareedges", with_sigma([0.0] * 5)), "sigma_cross", "0 in all")


@case(
    SIGMAS,
    each=tuple((name, odd) for name in ("joinedges", "fitalignments") for odd in (-1.0, 500.0)),
)
def one_odd_uncertainty_elsewhere(box, algorithm, odd):
    outcome = run_on(box, algorithm, with_sigma([0.01, odd, 0.01, 0.01, 0.01]))
    return box.warned(outcome, "sigma_cross", r": 1\. For these")


# kinds of geometry

POLYGON = "Polygon ((0 0, 60 0, 60 40, 0 40, 0 0), (10 10, 50 10, 50 30, 10 30, 10 10))"


def of_kind(kind):
    if kind == "points":
        return layer_of(walk(captures=1))
    if kind == "table":
        return QgsVectorLayer("None?field=edge_id:integer", "table", "memory")
    layer = QgsVectorLayer(f"{kind}?crs=EPSG:32632", "blocks", "memory")
    feature = QgsFeature(layer.fields())
    shape = QgsGeometry.fromWkt(POLYGON)
    shape.translate(*ORIGIN)
    if kind == "MultiPolygon":
        shape.convertToMultiType()
    feature.setGeometry(shape)
    assert layer.dataProvider().addFeatures([feature])[0]
    return layer


@case(
    KINDS,
    each=tuple(
        (name, kind) for name in FAR for kind in ("Polygon", "MultiPolygon", "points", "table")
    ),
)
def other_geometry_where_lines_are_due(box, algorithm, kind):
    outcome = run_on(box, algorithm, of_kind(kind))
    return box.refused(outcome, "holds no|no lines|no CRS|no field|neither|is empty|source layer")


@case(KINDS, each=tuple(name for name in FAR if FAR[name][1]))
def polygons_for_the_other_layer(box, algorithm):
    return box.refused(
        run_on(box, algorithm, lines(), of_kind("Polygon")), "blocks", "holds no lines"
    )


@case(KINDS)
def rings_of_a_streamed_polygon(box):
    def ring(radius, n):
        turns = [2 * math.pi * (i % n) / n for i in range(n + 1)]
        return ", ".join(f"{radius * math.cos(t)} {radius * math.sin(t)}" for t in turns)

    layer = QgsVectorLayer("Polygon?crs=EPSG:32632", "rings", "memory")
    feature = QgsFeature(layer.fields())
    shape = QgsGeometry.fromWkt(f"Polygon (({ring(30, 180)}), ({ring(10, 60)}))")
    shape.translate(*ORIGIN)
    feature.setGeometry(shape)
    layer.dataProvider().addFeatures([feature])
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:")
    box.done(outcome)
    lengths = sorted(row["length"] for row in table(outcome["OUTPUT"]))
    good = len(lengths) == 2 and abs(lengths[0] - 62.8) < 2 and abs(lengths[1] - 188.5) < 2
    return box.right(good, f"{lengths}")


def lying(box, layer, says):
    path = box.folder / "lie.gpkg"
    to_file(layer, path)
    data = sqlite3.connect(path)
    data.execute("UPDATE gpkg_geometry_columns SET geometry_type_name = ?", (says,))
    data.commit()
    data.close()
    return QgsVectorLayer(str(path), "lie", "ogr")


@case(KINDS, each=tuple(FAR))
def points_that_say_they_are_lines(box, algorithm):
    layer = lying(box, layer_of(walk(captures=1)), "LINESTRING")
    return box.refused(run_on(box, algorithm, layer), "“lie”", "another geometry|no field")


@case(KINDS, each=("reconstructedges", "screenepochs"))
def lines_that_say_they_are_points(box, algorithm):
    shapes, fields = [ALONG + (0.0, 5.0 * k) for k in range(4)], [("time", "string")]
    layer = line_layer(shapes, fields=fields, values=[[iso(1777888800.0 + k)] for k in range(4)])
    outcome = box.run(algorithm, INPUT=lying(box, layer, "POINT"), OUTPUT="memory:")
    return box.refused(outcome, "“lie”", "no_position", "single points")


@case(KINDS, each=("reconstructedges", "screenepochs"))
def a_table_where_epochs_are_due(box, algorithm):
    outcome = box.run(algorithm, INPUT=of_kind("table"), OUTPUT="memory:")
    return box.refused(outcome, "table", "geometry|no position")


@case(KINDS)
def a_view_without_row_ids(box):
    path = box.folder / "view.gpkg"
    to_file(layer_of(walk()), path)
    data = sqlite3.connect(path)
    data.execute("CREATE VIEW seen AS SELECT geom, time, fix, h_acc, capture FROM view")
    data.execute(
        "INSERT INTO gpkg_contents (table_name, data_type, identifier, srs_id)"
        " VALUES ('seen', 'features', 'seen', 32632)"
    )
    data.execute("INSERT INTO gpkg_geometry_columns VALUES ('seen', 'geom', 'POINT', 32632, 1, 0)")
    data.commit()
    data.close()
    layer = QgsVectorLayer(f"{path}|layername=seen", "seen", "ogr")
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", KEPT="memory:",
                      REJECTED="memory:")  # fmt: skip
    box.done(outcome)
    rows = outcome["KEPT"].featureCount() + outcome["REJECTED"].featureCount()
    return box.right(rows == 120, f"{rows} rows")


@case(KINDS)
def date_times_in_a_shapefile(box):
    from qgis.PyQt.QtCore import QDateTime, Qt

    layer = layer_of(
        walk(captures=1),
        fields=(("time", "datetime"), ("fix", "integer")),
        values=lambda row: [
            QDateTime.fromMSecsSinceEpoch(int(row["seconds"] * 1000), Qt.TimeSpec.UTC),
            row["fix"],
        ],
    )
    driver = QgsVectorFileWriter.driverForExtension("shp")
    path = to_file(layer, box.folder / "w.shp", driver)
    outcome = box.run("reconstructedges", OUTPUT="memory:", INPUT=path)
    if outcome.error:
        return box.refused(outcome, "“time”|time")
    return box.right(outcome["EDGES"] > 0, "no edge")


# names and layers

TAKEN = ("geom", "GEOM", "fid", "FID", "ogc_fid", "geometry", "layer", "reason", "edge_id", "role")


def with_field(name):
    return layer_of(
        walk(captures=1),
        fields=(*FIELDS, (name, "string")),
        values=lambda row: [iso(row["seconds"]), row["fix"], row["h_acc"], row["capture"], "own"],
    )


@case(NAMES, each=TAKEN)
def a_source_field_called(box, name):
    outputs = {"KEPT": str(box.folder / "k.gpkg"), "REJECTED": str(box.folder / "r.gpkg")}
    outcome = box.run("reconstructedges", INPUT=with_field(name), OUTPUT="memory:", **outputs)
    box.done(outcome)
    kept, rejected = (QgsVectorLayer(str(box.folder / f"{one}.gpkg"), one, "ogr") for one in "kr")
    whole = kept.featureCount() + rejected.featureCount() == 60
    own = any("own" in row.values() for row in table(kept))
    return box.right(whole and own, f"{kept.featureCount()} {rejected.featureCount()} {own}")


@case(NAMES, each=("geom", "fid"))
def a_source_field_in_the_batch_called(box, name):
    outcome = box.run("processcaptures", LAYERS=[with_field(name)], FOLDER=str(box.folder / "out"),
                      WRITE_EPOCHS=True)  # fmt: skip
    box.done(outcome)
    return box.right(outcome["EDGES"] > 0 and "failed: 0" in outcome.text, outcome.text)


@case(NAMES, each=("path", "layer", "layer name", "memory"))
def a_layer_given_twice_to_the_batch(box, how):
    layer = layer_of(walk(captures=1))
    path = str(box.folder / "day.gpkg")
    to_file(layer, path)
    given = {
        "path": [path, path],
        "layer": [QgsVectorLayer(path, "one", "ogr"), QgsVectorLayer(path, "two", "ogr")],
        "layer name": [path, f"{path}|layername=day"],
        "memory": [layer, layer],
    }[how]
    once = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:")
    outcome = box.run("processcaptures", LAYERS=given, FOLDER=str(box.folder / "out"))
    box.warned(outcome, "more than once")
    return box.right(outcome["EDGES"] == once["EDGES"], f"{outcome['EDGES']} edges")


@case(NAMES, each=("joinedges", "mergepasses"))
def blanks_in_a_list_of_fields_of(box, algorithm):
    shapes = [ALONG + (0.0, 20.0 * k) for k in range(2)]
    layer = line_layer(shapes, fields=[("kind", "string")], values=[["a"], ["a"]])
    name = "GROUP_FIELDS"
    return box.done(box.run(algorithm, INPUT=layer, OUTPUT="memory:", **{name: "kind; "}))
