"""The comparison through the host: what goes in, what comes out, and what is said."""

import itertools
import json
import math
from pathlib import Path

import numpy as np
import processing
import pytest
from linelayers import ORIGIN, line_layer, shapes_of, straight, upright
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsGeometry,
    QgsPointXY,
    QgsProcessingException,
    QgsProcessingParameterDistance,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from walkedlayers import Log, run, table, to_file

from curbwright.algorithms.compareedges import LINE_FIELDS, STATION_FIELDS
from curbwright.algorithms.writing import styles
from curbwright.sample_project import basemaps
from curbwright.shared.lines.comparison_results import STATUS_NAMES

pytestmark = pytest.mark.usefixtures("provider")
OUTPUTS = ("OUTPUT", "EXISTING_STATUS", "STATIONS", "SUMMARY")


def compare(edges, existing, log=None, **parameters):
    return run(
        "compareedges",
        {"INPUT": edges, "EXISTING": existing, **dict.fromkeys(OUTPUTS, "memory:"), **parameters},
        log,
    )


def statuses(result):
    return tuple(
        [row["status"] for row in table(result[name])] for name in ("OUTPUT", "EXISTING_STATUS")
    )


@pytest.fixture(scope="module")
def basemap():
    return basemaps.make_basemap(np.random.default_rng(2), 40)


@pytest.fixture(scope="module")
def basemap_layers(provider, basemap):
    fields = (("code", "integer"), ("status", "string"))
    return [
        line_layer(
            shapes_of(side),
            name,
            "MultiLineStringZ",
            fields=fields,
            values=[(row, text) for row, text in enumerate(side.status)],
        )
        for side, name in ((basemap.edges, "edges"), (basemap.existing, "old map"))
    ]


@pytest.fixture(scope="module")
def basemap_result(basemap_layers, tmp_path_factory):
    log = Log()
    report = str(tmp_path_factory.mktemp("report") / "report.html")
    block = {"TITLE": "Quay <renewal>", "AREA_NAME": "East side", "AUTHOR": " "}
    return {**compare(*basemap_layers, log, REMOVE_SHIFT=True, REPORT=report, **block), "log": log}


# Names that others rely on


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:compareedges")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "INPUT",
        "EXISTING",
        "MAX_OFFSET",
        "STATION_SPACING",
        "SIGMA_FIELD",
        "EXISTING_SIGMA",
        "REMOVE_SHIFT",
        "CONFIDENCE",
        "AREA",
        "REACH",
        "OUTPUT",
        "EXISTING_STATUS",
        "STATIONS",
        "SUMMARY",
        "REPORT",
        "REPORT_PDF",
        *own.TITLE_BLOCK,
    }
    assert [
        definitions[name].defaultValue()
        for name in (
            "MAX_OFFSET",
            "STATION_SPACING",
            "EXISTING_SIGMA",
            "CONFIDENCE",
            "REACH",
            "REMOVE_SHIFT",
        )
    ] == [2, 1, 0.10, 0.95, 15, True]
    assert {output.name() for output in own.outputDefinitions()} >= {
        "SHIFT_EAST",
        "SHIFT_NORTH",
        "RMSE",
        "MATCHED_LENGTH",
    }
    for parameter in definitions.values():
        assert len(parameter.help()) > 20 and parameter.description()
        if isinstance(parameter, QgsProcessingParameterDistance):
            assert "(m)" in parameter.description() and parameter.parentParameterName() == ""
    assert (
        len(own.shortHelpString()) > 400
        and own.tags()
        and own.shortDescription()
        and not own.icon().isNull()
    )
    assert own.canExecute() == (True, "")


def test_fields(basemap_layers, basemap_result):
    statistics = {
        "stations",
        "offset_mean",
        "offset_median",
        "offset_sd",
        "offset_rmse",
        "offset_p95",
        "offset_max",
        "hausdorff",
        "matched_share",
        "up_mean",
        "up_rmse",
    }
    for name in ("OUTPUT", "EXISTING_STATUS"):
        names = basemap_result[name].fields().names()
        assert names == ["code", "status_source", *(new.name for new in LINE_FIELDS)]
        assert set(names) >= statistics | {"status"}
    assert basemap_result["STATIONS"].fields().names() == [new.name for new in STATION_FIELDS]
    kinds = [QgsWkbTypes.displayString(basemap_result[name].wkbType()) for name in OUTPUTS]
    assert kinds == ["MultiLineStringZ", "MultiLineStringZ", "PointZ", "NoGeometry"]
    assert all(basemap_result[name].crs().authid() == "EPSG:32632" for name in OUTPUTS[:3])


# A simulated basemap


def test_basemap(basemap, basemap_layers, basemap_result):
    assert basemap_result["SHIFT_EAST"] == pytest.approx(0.35, abs=0.01) and basemap_result[
        "SHIFT_NORTH"
    ] == pytest.approx(-0.20, abs=0.01)
    found = statuses(basemap_result)
    right = [
        true == status
        for side, of_layer in zip((basemap.edges, basemap.existing), found)
        for true, status in zip(side.status, of_layer)
    ]
    assert np.mean(right) >= 0.97
    for layer, name in zip(basemap_layers, ("OUTPUT", "EXISTING_STATUS")):
        rows = table(basemap_result[name])
        assert [row["code"] for row in rows] == list(range(layer.featureCount()))
        assert [row["line_id"] for row in rows] == [feature.id() for feature in layer.getFeatures()]
        for old, new in zip(layer.getFeatures(), basemap_result[name].getFeatures()):
            # judged without the shift, written where they are
            assert old.geometry().equals(new.geometry())


def test_numbers_tables_and_log_say_the_same(basemap_result):
    summary = {
        (row["subject"], row["measure"]): row["value"] for row in table(basemap_result["SUMMARY"])
    }
    rows, log = table(basemap_result["STATIONS"]), basemap_result["log"].text
    offsets = np.array([row["offset"] for row in rows])
    assert summary["offsets", "stations"] == len(rows)
    assert (
        summary["offsets", "offset_rmse"]
        == pytest.approx(basemap_result["RMSE"])
        == pytest.approx(np.sqrt(np.mean(offsets**2)), rel=0.05)
    )
    assert summary["offsets", "matched_length"] == pytest.approx(basemap_result["MATCHED_LENGTH"])
    assert (
        summary["shift", "east"] == pytest.approx(basemap_result["SHIFT_EAST"])
        and summary["shift", "removed"] == 1
    )
    assert summary["buffer", "completeness"] == pytest.approx(basemap_result["COMPLETENESS"])
    found = statuses(basemap_result)
    for subject, of_layer in zip(("edges", "existing"), found):
        for status in STATUS_NAMES:
            assert summary[subject, f"lines_{status}"] == of_layer.count(status)
    for piece in (
        "“edges”: ",
        "“old map”: ",
        "agrees: ",
        "not_visited: ",
        "Shift: “old map” lies +0.35",
        "significant at 95 %",
        "RMSE with the shift",
    ):
        assert piece in log
    per_line = {row["line_id"]: row for row in table(basemap_result["EXISTING_STATUS"])}
    for line, group in itertools.groupby(rows, key=lambda row: row["existing_id"]):
        own = np.array([row["offset"] for row in group])
        assert per_line[line]["stations"] == len(own) and per_line[line][
            "offset_mean"
        ] == pytest.approx(own.mean())


def test_report_is_written(basemap_result):
    text = Path(basemap_result["REPORT"]).read_text(encoding="utf-8")
    assert "<html" in text and "old map" in text and "EPSG:32632" in text
    for cell in ("<small>Project</small>Quay &lt;renewal&gt;", "<small>Area</small>East side"):
        assert f"<td>{cell}</td>" in text
    assert "<td><small>Author</small></td>" in text  # to be filled in by hand


def test_stations_lie_on_the_existing_lines_and_point_to_the_edges(basemap_layers, basemap_result):
    lines = {feature.id(): feature.geometry() for feature in basemap_layers[1].getFeatures()}
    edges = {feature.id(): feature.geometry() for feature in basemap_layers[0].getFeatures()}
    for feature in itertools.islice(basemap_result["STATIONS"].getFeatures(), 0, None, 37):
        point = feature.geometry()
        assert point.distance(lines[feature["existing_id"]]) < 1e-6
        edge = QgsGeometry(edges[feature["edge_line_id"]])
        edge.translate(basemap_result["SHIFT_EAST"], basemap_result["SHIFT_NORTH"])
        assert point.distance(edge) <= abs(feature["offset"]) * 1.001 + 1e-3


# Signs, frames and CRSs


@pytest.mark.parametrize("turned", [False, True])
def test_plus_is_to_the_right_of_the_existing_line(turned):
    base = straight(0.0)
    result = compare(
        line_layer([straight(-0.5)]),
        line_layer([base[::-1] if turned else base], "old"),
        REMOVE_SHIFT=False,
    )
    # measured in metres on the ground: the zone's scale is within 0.04 %
    assert_allclose(
        [row["offset"] for row in table(result["STATIONS"])], -0.5 if turned else 0.5, atol=1e-3
    )


SHAPES = [
    straight(0.0),
    upright(60.0),
    np.array([(80.0, 0), (100, 20), (130, 25)]),
    straight(30.0, (0, 25)),
]
NEW = [
    straight(0.15),
    upright(60.25),
    np.array([(80.1, 0), (100.1, 20), (130.1, 25)]),
    straight(31.2, (0, 25)),
]


@pytest.mark.one_in(3)
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:25832", "EPSG:32631"])
@pytest.mark.parametrize("side", ["edges", "existing"])
def test_any_crs_gives_the_same(crs, side):
    plain = compare(line_layer(NEW), line_layer(SHAPES, "old"))
    log = Log()
    other = compare(
        line_layer(NEW, crs=crs) if side == "edges" else line_layer(NEW),
        line_layer(SHAPES, "old", crs=crs if side == "existing" else "EPSG:32632"),
        log,
    )
    assert statuses(other) == statuses(plain)
    for name, field in itertools.product(
        ("OUTPUT", "EXISTING_STATUS"), ("offset_mean", "offset_max", "hausdorff", "matched_share")
    ):
        assert_allclose(
            [row[field] for row in table(other[name])],
            [row[field] for row in table(plain[name])],
            atol=1e-3,
        )
    assert other["MATCHED_LENGTH"] == pytest.approx(plain["MATCHED_LENGTH"], rel=1e-5)
    assert "is compared in the CRS of “edges”" in log.text and crs in log.text
    assert other["OUTPUT"].crs().authid() == (crs if side == "edges" else "EPSG:32632")
    assert other["STATIONS"].crs().authid() == (crs if side == "existing" else "EPSG:32632")
    # stations come back onto the existing lines
    lines = [feature.geometry() for feature in other["EXISTING_STATUS"].getFeatures()]
    unit = 1e-5 if crs == "EPSG:4326" and side == "existing" else 1.0
    assert (
        max(
            min(point.geometry().distance(line) for line in lines)
            for point in other["STATIONS"].getFeatures()
        )
        < 1e-3 * unit
    )


@pytest.mark.parametrize("crs", ["EPSG:32632", "EPSG:3857", "EPSG:4326"])
def test_the_shift_is_told_along_the_axes_of_the_layer(crs):
    """At the rim of a zone grid north is two degrees off true north: 0.35 m east would become 12 mm
    north."""
    origin = (760000.0, 6200000.0)
    shapes = [straight(12.0 * k, (0, 30)) for k in range(6)] + [
        upright(100 + 12.0 * k, (0, 30)) for k in range(6)
    ]
    edges = line_layer(shapes, crs=crs, origin=origin)
    move = np.array([0.35, -0.20])
    if crs == "EPSG:4326":  # a degree's length there, from the ellipsoid's radii of curvature
        latitude = math.radians(next(edges.getFeatures()).geometry().vertexAt(0).y())
        a, e2 = 6378137.0, 0.0066943799901413165
        w = math.sqrt(1 - e2 * math.sin(latitude) ** 2)
        move = np.degrees(move / [a / w * math.cos(latitude), a * (1 - e2) / w**3])
    if crs == "EPSG:3857":
        move = move * 1.78  # about the scale there: only the direction is looked at
    existing = line_layer(
        [QgsGeometry(feature.geometry()) for feature in edges.getFeatures()], "old", crs=crs
    )
    for feature in list(existing.getFeatures()):
        geometry = feature.geometry()
        geometry.translate(*move.tolist())
        existing.dataProvider().changeGeometryValues({feature.id(): geometry})
    result = compare(edges, existing)
    if crs == "EPSG:3857":
        assert result["SHIFT_NORTH"] / result["SHIFT_EAST"] == pytest.approx(
            -0.20 / 0.35, abs=0.004
        )
    else:
        assert (result["SHIFT_EAST"], result["SHIFT_NORTH"]) == (
            pytest.approx(0.35, abs=1e-3),
            pytest.approx(-0.20, abs=1e-3),
        )


def test_feet_are_brought_to_metres():
    centre = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:4326"),
        QgsCoordinateReferenceSystem("EPSG:2263"),
        QgsCoordinateTransformContext(),
    )
    at = centre.transform(QgsPointXY(-74.0, 40.65))

    def feet(shapes):
        return [shape / 0.3048006096 for shape in shapes]

    layers = []
    for shapes, name in ((NEW, "edges"), (SHAPES, "old")):
        layers.append(
            line_layer(
                [
                    QgsGeometry.fromPolylineXY(
                        [QgsPointXY(at.x() + x, at.y() + y) for x, y in shape]
                    )
                    for shape in feet(shapes)
                ],
                name,
                crs="EPSG:2263",
            )
        )
    result = compare(*layers, REMOVE_SHIFT=False)
    found = [abs(row["offset_mean"]) for row in table(result["OUTPUT"])]
    assert_allclose([found[0], found[1], found[3]], [0.15, 0.25, 1.2], atol=2e-3)
    assert table(result["OUTPUT"])[0]["stations"] == 40


# Uncertainty


def test_sigma_field_by_name_by_choice_and_with_gaps():
    shapes = [straight(0.25), straight(10.25)]
    old = line_layer([straight(0.0), straight(10.0)], "old")
    fields = (("sigma_cross", "double"), ("other", "double"))
    wide = line_layer(shapes, fields=fields, values=[(0.2, 0.01), (None, 0.01)])
    log = Log()
    found = compare(wide, old, log, REMOVE_SHIFT=False)
    assert statuses(found)[0] == ["agrees", "agrees"]
    assert "field “sigma_cross”, rows without a value: 1; for these 0.2 m is taken" in log.text
    log = Log()
    found = compare(wide, old, log, SIGMA_FIELD="OTHER", REMOVE_SHIFT=False)
    assert statuses(found)[0] == ["displaced", "displaced"]
    assert "field “other”" in log.text
    log = Log()
    result = compare(line_layer(shapes), old, log, REMOVE_SHIFT=False)
    assert (
        statuses(result)[0] == ["displaced", "displaced"]
        and "only that of the existing lines counts" in log.text
    )
    assert_allclose([row["allowed"] for row in table(result["OUTPUT"])], 1.959964 * 0.1, rtol=1e-6)


@pytest.mark.parametrize(
    ("kind", "value", "field", "message"),
    [
        ("string", "good", "acc", "edges.*“acc”.*metres.*“good”"),
        ("double", -0.1, "acc", "edges.*“acc”.*0 or greater.*-0.1"),
        ("double", 0.1, "nope", "edges.*no field “nope”.*acc"),
        ("date", None, "acc", "edges.*“acc”.*no numbers"),
    ],
)
def test_a_field_that_is_no_uncertainty_is_named(kind, value, field, message):
    edges = line_layer([straight(0.1)], fields=(("acc", kind),), values=[(value,)])
    with pytest.raises(QgsProcessingException, match=message):
        compare(edges, line_layer([straight(0.0)], "old"), SIGMA_FIELD=field)


# Degenerate input


def test_empty_existing_layer():
    log = Log()
    result = compare(line_layer([straight(0.0), straight(9.0)]), line_layer([], "old"), log)
    assert statuses(result) == (["only_new", "only_new"], [])
    assert (
        result["MATCHED_LENGTH"] == 0
        and math.isnan(result["SHIFT_EAST"])
        and math.isnan(result["RMSE"])
    )
    assert "No line of “edges” runs along one of “old”" in log.text and log.warnings


def test_empty_edges():
    result = compare(line_layer([]), line_layer([straight(0.0)], "old"))
    assert statuses(result) == ([], ["not_visited"])


def test_both_empty_is_refused():
    with pytest.raises(QgsProcessingException, match="“edges” and “old” are both empty"):
        compare(line_layer([]), line_layer([], "old"))


def test_no_overlap(tmp_path):
    log = Log()
    result = compare(
        line_layer([straight(0.0)]),
        line_layer([straight(5000.0)], "old"),
        log,
        REMOVE_SHIFT=True,
        REPORT=str(tmp_path / "r.html"),
    )
    assert statuses(result) == (["only_new"], ["not_visited"])
    # nothing was visited, so nothing is known of what the existing lines show
    assert result["COMPLETENESS"] == 0 and np.isnan(result["CORRECTNESS"])
    assert "check the CRS" in log.text
    assert (tmp_path / "r.html").stat().st_size > 1000


def test_existing_lines_outside_the_survey_are_pointed_out():
    log = Log()
    result = compare(
        line_layer([straight(0.0), upright(60.0)]),
        line_layer(
            [straight(0.05), upright(60.0), straight(300.0), upright(900.0), straight(20.0)], "old"
        ),
        log,
    )
    assert statuses(result)[1] == [
        "agrees",
        "agrees",
        "not_visited",
        "not_visited",
        "not_visited",
    ]
    assert "Surveyed area: what lies within 15 m of any edge." in log.text
    assert "Lines not visited, of which nothing is said: 3." in log.text


def test_rows_without_geometry_get_no_status():
    log = Log()
    result = compare(
        line_layer([None, straight(0.0), QgsGeometry.fromWkt("LineString EMPTY")]),
        line_layer([straight(0.05), None], "old"),
        log,
    )
    found = [
        [None if not isinstance(status, str) else status for status in side]
        for side in statuses(result)
    ]
    assert found == [[None, "agrees", None], ["agrees", None]]
    assert (
        "Layer “edges”: rows with no geometry, or no length, which get no status: 2." in log.text
        and "Layer “old”: rows with no geometry, or no length, which get no status: 1." in log.text
    )


def test_identical_layers(basemap_layers):
    result = compare(basemap_layers[0], basemap_layers[0], REMOVE_SHIFT=True)
    assert set(statuses(result)[0]) == {"agrees"} and result["RMSE"] < 1e-6
    assert abs(result["SHIFT_EAST"]) < 1e-6


def test_one_crs_missing_is_refused_and_two_are_plane():
    known, unknown = line_layer([straight(0.0)], "old"), line_layer([straight(0.1)], crs=None)
    with pytest.raises(
        QgsProcessingException, match="“edges” has no CRS but layer “old” has one.*Assign"
    ):
        compare(unknown, known)
    log = Log()
    result = compare(unknown, line_layer([straight(0.0)], "old", crs=None), log, REMOVE_SHIFT=False)
    assert statuses(result) == (["agrees"], ["agrees"]) and "plane metres" in log.text
    assert_allclose([row["offset"] for row in table(result["STATIONS"])], -0.1, atol=1e-6)


def test_lines_all_one_way():
    log = Log()
    shapes = [straight(10.0 * k) for k in range(8)]
    result = compare(
        line_layer([shape + [0, 0.3] for shape in shapes]),
        line_layer(shapes, "old"),
        log,
        REMOVE_SHIFT=True,
    )
    assert math.isnan(result["SHIFT_EAST"]) and result["SHIFT_NORTH"] == pytest.approx(
        -0.3, abs=1e-3
    )
    assert "along them is undetermined" in log.text and "azimuth 90" in log.text
    assert set(statuses(result)[0]) == {"agrees"}


# Geometry types, files, heights


def test_arcs_count_as_arcs():
    x, y = ORIGIN
    arc = QgsGeometry.fromWkt(
        f"CompoundCurve (CircularString ({x} {y}, {x + 10} {y + 10}, {x + 20} {y}), ({x + 20} {y},"
        f" {x + 40} {y}))"
    )
    angle = np.linspace(np.pi, 0, 200)
    edge = np.vstack(
        [np.column_stack([10 + 10.3 * np.cos(angle), 10.3 * np.sin(angle)]), [(40.0, 0.0)]]
    )
    result = compare(line_layer([edge]), line_layer([arc], "old", "CompoundCurve"))
    assert QgsWkbTypes.displayString(result["EXISTING_STATUS"].wkbType()) == "CompoundCurve"
    offsets = np.array([row["offset"] for row in table(result["STATIONS"])])
    assert_allclose(offsets[:25], -0.3, atol=5e-3)


def test_heights_and_their_units():
    def up(shape, z):
        return np.column_stack([shape, np.full(len(shape), z)])

    result = compare(
        line_layer([up(straight(0.1), 5.25)], kind="LineStringZ"),
        line_layer([up(straight(0.0), 5.0)], "old", "LineStringZ"),
    )
    assert_allclose([row["up"] for row in table(result["STATIONS"])], 0.25, atol=1e-9)
    assert table(result["OUTPUT"])[0]["up_mean"] == pytest.approx(0.25)
    assert {point.geometry().constGet().z() for point in result["STATIONS"].getFeatures()} == {5.0}
    flat = compare(
        line_layer([straight(0.1)]), line_layer([up(straight(0.0), 5.0)], "old", "LineStringZ")
    )
    assert not any(isinstance(row["up"], float) for row in table(flat["STATIONS"]))


def test_geopackages_in_and_out(basemap_layers, tmp_path):
    files = [
        to_file(layer, tmp_path / f"{name}.gpkg") for layer, name in zip(basemap_layers, ("a", "b"))
    ]
    outputs = {name: str(tmp_path / f"{name.lower()}.gpkg") for name in OUTPUTS}
    result = run(
        "compareedges", {"INPUT": files[0], "EXISTING": files[1], "REMOVE_SHIFT": True, **outputs}
    )
    for name, count in (
        ("OUTPUT", files[0].featureCount()),
        ("EXISTING_STATUS", files[1].featureCount()),
    ):
        layer = QgsVectorLayer(result[name], name, "ogr")
        assert layer.featureCount() == count
        assert {"status", "fid_source", "code"} <= set(layer.fields().names())
    assert QgsVectorLayer(result["STATIONS"], "s", "ogr").featureCount() > 1000
    assert not QgsVectorLayer(result["SUMMARY"], "s", "ogr").isSpatial()


def test_only_the_edges_need_be_asked_for(basemap_layers):
    result = run(
        "compareedges",
        {"INPUT": basemap_layers[0], "EXISTING": basemap_layers[1], "OUTPUT": "memory:"},
    )
    assert not {"EXISTING_STATUS", "STATIONS", "SUMMARY", "REPORT"} & set(result)


# Cancel, warnings, report, styles


@pytest.mark.parametrize("percent", [0, 10, 30, 60, 72])
def test_cancel(basemap_layers, percent):
    log = Log(cancel_at=percent)
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:compareedges")
    from qgis.core import QgsProcessingContext

    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    if not percent:
        log.cancel()
    results, fine = algorithm.run(
        {
            "INPUT": basemap_layers[0],
            "EXISTING": basemap_layers[1],
            "OUTPUT": "memory:",
            "STATIONS": "memory:",
        },
        context,
        log,
    )
    assert fine and results == {}


def test_a_shift_left_in_is_warned_of(basemap_layers):
    log = Log()
    compare(*basemap_layers, log, REMOVE_SHIFT=False)
    assert any(
        "The shift is still in the offsets" in text and "Remove the shift" in text
        for text in log.warnings
    )


def test_a_report_that_cannot_be_written_is_named(basemap_layers, tmp_path):
    taken = tmp_path / "taken.html"
    taken.mkdir()  # a folder of that name
    with pytest.raises(
        QgsProcessingException, match="“Report” cannot be written.*taken.html.*another file"
    ):
        compare(*basemap_layers, REPORT=str(taken))


@pytest.mark.parametrize("style", [styles.COMPARED, styles.EXISTING_STATUS])
def test_every_status_has_a_look_that_survives_grey_print(style):
    layer = QgsVectorLayer("LineString?field=status:string", "l", "memory")
    message, fine = layer.loadNamedStyle(str(styles.STYLES / style))
    assert fine, message
    looks = {}
    for category in layer.renderer().categories():
        line = category.symbol().symbolLayer(0)
        looks[category.value()] = (
            line.width(),
            tuple(line.customDashVector()) if line.useCustomDashPattern() else (),
        )
    possible = {
        "agrees",
        "displaced",
        "partly",
        *(("only_new",) if style == styles.COMPARED else ("only_existing", "not_visited")),
    }
    assert possible <= set(looks)
    # width and dash, not colour
    assert len({looks[status] for status in possible}) == len(possible)


def test_loaded_layers_are_styled(qgis_new_project, basemap):
    layers = [
        line_layer(shapes_of(side), name, "MultiLineStringZ")
        for side, name in ((basemap.edges, "edges"), (basemap.existing, "old"))
    ]
    QgsProject.instance().addMapLayers(layers)
    results = processing.runAndLoadResults(
        "curbwright:compareedges",
        {
            "INPUT": layers[0],
            "EXISTING": layers[1],
            "EXISTING_SIGMA": 0.05,
            "REMOVE_SHIFT": False,
            **dict.fromkeys(OUTPUTS, "memory:"),
        },
    )
    loaded = {name: QgsProject.instance().mapLayer(results[name]) for name in OUTPUTS}
    assert [loaded[name].name() for name in OUTPUTS] == [
        "Compared edges of edges",
        "Status of existing lines of edges",
        "Stations of edges",
        "Summary of edges",
    ]
    assert [loaded[name].renderer().type() for name in OUTPUTS[:3]] == [
        "categorizedSymbol",
        "categorizedSymbol",
        "RuleRenderer",
    ]
    # an update must judge alike: what it needs is noted on the lines
    noted = [loaded[name].customProperty(styles.AS_COMPARED) for name in OUTPUTS]
    assert noted[0] == noted[1] and noted[2:] == [None, None]
    said = json.loads(noted[0])
    assert (said["EXISTING"], said["EXISTING_SOURCE"]) == (layers[1].id(), layers[1].source())
    assert (said["EXISTING_SIGMA"], said["REMOVE_SHIFT"]) == ("0.05", "False")
