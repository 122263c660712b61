"""Tangents and arcs through the host: true arcs in files, numbers on the ground from every CRS,
words, bad input."""

import math
import re

import numpy as np
import processing
import pytest
from linelayers import ORIGIN, UTM, line_layer
from numpy.testing import assert_allclose
from osgeo import gdal
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsCurvePolygon,
    QgsDxfExport,
    QgsFeature,
    QgsGeometry,
    QgsMapSettings,
    QgsPoint,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingFeatureSourceDefinition,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QFile, QIODevice
from walkedlayers import Log, reconstruct, run, table, to_file

from curbwright.algorithms import fitalignments
from curbwright.algorithms.writing import styles
from curbwright.shared.alignment.element_table import KINDS

pytestmark = pytest.mark.usefixtures("provider")
COMPOUND = QgsWkbTypes.Type.CompoundCurveZ


def fit(layer, log=None, **parameters):
    return run(
        "fitalignments",
        {"INPUT": layer, "OUTPUT": "memory:", "ELEMENTS": "memory:", **parameters},
        log,
    )


def course(*pieces, start=(0.0, 0.0), bearing=90.0, step=0.4):
    """Vertices on tangents (length), arcs (radius, deflection) and corners (None, deflection),
    degrees + to the right; close together on arcs."""
    at, heading, points = np.array(start, float), math.radians(bearing), [np.array(start, float)]
    for piece in pieces:
        ahead = np.array([math.sin(heading), math.cos(heading)])
        if not isinstance(piece, tuple):
            at = at + piece * ahead
            points.append(at)
            continue
        radius, turn = piece[0], math.radians(piece[1])
        if radius is not None:
            number = max(int(abs(turn) * radius / step), 8)
            right = math.copysign(1, turn) * np.array([ahead[1], -ahead[0]])
            centre = at + radius * right
            for share in np.arange(1, number + 1) / number:
                angle = -share * turn
                away = -radius * right
                points.append(
                    centre
                    + [
                        math.cos(angle) * away[0] - math.sin(angle) * away[1],
                        math.sin(angle) * away[0] + math.cos(angle) * away[1],
                    ]
                )
            at = points[-1]
        heading += turn
    return np.array(points)


RETURN = course(30.0, (6.0, 90.0), 25.0, (None, -60.0), 12.0, (9.0, -120.0), 20.0)
ISLAND = course(18.0, (1.5, -180.0), 18.0, (1.5, -180.0), step=0.15)


def elements_of(result, edge=None):
    rows = table(result["ELEMENTS"])
    return [row for row in rows if edge is None or row["edge_id"] == edge]


def value(cell):
    return math.nan if not isinstance(cell, (int, float)) else float(cell)


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:fitalignments")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "INPUT",
        "EDGE_FIELDS",
        "TOLERANCE",
        "MIN_RADIUS",
        "MAX_RADIUS",
        "OUTPUT",
        "ELEMENTS",
    }
    assert [
        definitions[name].defaultValue() for name in ("TOLERANCE", "MIN_RADIUS", "MAX_RADIUS")
    ] == [0.01, 0.5, 400]
    assert {output.name() for output in own.outputDefinitions()} >= {
        "OUTPUT",
        "ELEMENTS",
        "EDGES",
        "TANGENTS",
        "ARCS",
        "CORNERS",
        "LENGTH",
    }
    assert "Force 2D output" in own.shortHelpString() and "+ to the right" in own.shortHelpString()


def test_elements_of_a_line():
    log = Log()
    result = fit(line_layer([RETURN]), log)
    rows = elements_of(result)
    assert [row["element"] for row in rows] == [
        "tangent",
        "arc",
        "tangent",
        "corner",
        "tangent",
        "arc",
        "tangent",
    ]
    assert [row["position"] for row in rows] == list(range(1, 8)) and {
        row["edge_id"] for row in rows
    } == {1}
    # of the UTM zone here, to three digits in what follows: the line was drawn in the zone's metres
    scale = 0.99974
    assert_allclose(
        [row["length"] for row in rows],
        np.array([30, 3 * math.pi, 25, 0, 12, 6 * math.pi, 20]) / scale,
        atol=0.03,
    )
    assert_allclose([row["deflection"] for row in rows], [0, 90, 0, -60, 0, -120, 0], atol=0.3)
    assert_allclose([row["bearing"] for row in rows], [90, 90, 180, 120, 120, 120, 0], atol=0.2)
    assert_allclose(
        [value(row["radius"]) for row in rows],
        [math.nan, 6 / scale, *[math.nan] * 3, 9 / scale, math.nan],
        atol=0.02,
    )
    arc = rows[1]
    assert arc["tangent_length"] == pytest.approx(6, abs=0.04) and arc["chord"] == pytest.approx(
        6 * math.sqrt(2), abs=0.04
    )
    assert arc["sagitta"] == pytest.approx(6 * (1 - math.sqrt(0.5)), abs=0.02) and arc[
        "external_distance"
    ] == pytest.approx(6 * (math.sqrt(2) - 1), abs=0.02)
    assert 0 < arc["radius_sigma"] < 0.1
    assert (arc["centre_x"] - ORIGIN[0], arc["centre_y"] - ORIGIN[1]) == (
        pytest.approx(30, abs=0.02),
        pytest.approx(-6, abs=0.02),
    )
    feature = table(result["OUTPUT"])[0]
    assert (
        feature["elements"] == 6
        and feature["part"] == 1
        and feature["closed"] is False
        and feature["edge_id"] == 1
    )
    assert (
        feature["length"]
        == pytest.approx(sum(row["length"] for row in rows))
        == pytest.approx(result["LENGTH"])
    )
    assert (
        feature["rms_residual"] < 0.005
        and feature["max_residual"] < 0.015
        and feature["sigma_cross"] > 0
    )
    assert (result["EDGES"], result["TANGENTS"], result["ARCS"], result["CORNERS"]) == (1, 4, 2, 1)
    assert (
        "tangents 4, arcs 2, corners 1" in log.text
        and re.search(r"Radii from [56]\.\d\d to [89]\.\d\d m", log.text)
        and "no heights" in log.text
    )


def parts_of(geometry):
    curve = geometry.constGet()
    return [
        (type(curve.curveAt(k)).__name__, curve.curveAt(k).numPoints())
        for k in range(curve.nCurves())
    ]


def test_true_arcs_survive_a_geopackage(tmp_path):
    result = fit(
        line_layer([RETURN, ISLAND]),
        OUTPUT=str(tmp_path / "a.gpkg"),
        ELEMENTS=str(tmp_path / "e.gpkg"),
    )
    layer, elements = (QgsVectorLayer(result[name], name, "ogr") for name in ("OUTPUT", "ELEMENTS"))
    assert layer.wkbType() == elements.wkbType() == COMPOUND and layer.crs().authid() == UTM
    first, ring = (feature.geometry() for feature in layer.getFeatures())
    # the corner does not end a part of straight lines
    assert parts_of(first) == [
        ("QgsLineString", 2),
        ("QgsCircularString", 3),
        ("QgsLineString", 3),
        ("QgsCircularString", 3),
        ("QgsLineString", 2),
    ]
    scale = 0.99974
    for geometry_, row in zip((first, ring), table(layer)):
        # arcs as arcs: chords would be shorter
        assert geometry_.length() == pytest.approx(row["length"] * scale, rel=3e-5)
    rows = elements_of({"ELEMENTS": elements})
    for feature, row in zip(elements.getFeatures(), rows):
        if row["element"] != "corner":
            assert feature.geometry().length() == pytest.approx(row["length"] * scale, rel=3e-5)
    # an island: 18 m by 3 m with round ends
    assert (
        ring.constGet().startPoint() == ring.constGet().endPoint()
        and table(layer)[1]["closed"] is True
    )
    polygon = QgsCurvePolygon()
    polygon.setExteriorRing(ring.constGet().clone())
    assert polygon.area() == pytest.approx(18 * 3 + math.pi * 1.5**2, rel=2e-3)
    # exactly that of its own elements, by the formulas of sectors and trapezoids
    assert polygon.area() == pytest.approx(
        sum(
            area_share(feature.geometry())
            for feature, row in zip(elements.getFeatures(), rows)
            if row["edge_id"] == 2 and row["element"] != "corner"
        ),
        rel=1e-5,
    )


def area_share(geometry_):
    """Area between a curve of one tangent or arc and the origin, + to the left; of an arc with the
    segment of its circle."""
    (ax, ay), (bx, by) = (
        (vertex.x() - ORIGIN[0], vertex.y() - ORIGIN[1])
        for vertex in (geometry_.constGet().startPoint(), geometry_.constGet().endPoint())
    )
    area, chord = (ax * by - ay * bx) / 2, math.hypot(bx - ax, by - ay)
    part = geometry_.constGet().curveAt(0)
    if part.numPoints() == 3:
        middle = part.pointN(1)
        mx, my = middle.x() - ORIGIN[0] - (ax + bx) / 2, middle.y() - ORIGIN[1] - (ay + by) / 2
        sagitta = math.hypot(mx, my)
        radius = sagitta / 2 + chord**2 / 8 / sagitta
        angle = 4 * math.atan2(2 * sagitta, chord)
        area += math.copysign(
            radius**2 / 2 * (angle - math.sin(angle)), mx * (by - ay) - my * (bx - ax)
        )
    return area


# CRSs

FEET = "EPSG:2263"  # US survey feet


@pytest.mark.one_in(2)
@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32631", "EPSG:25832"])
def test_the_same_numbers_and_the_same_place_from_every_crs(crs):
    flat = [
        np.column_stack([shape, np.full(len(shape), 3.0)])
        for shape in (RETURN, ISLAND, course(60.0, (60.0, 40.0), 80.0))
    ]
    home, log = fit(line_layer(flat, kind="LineStringZ")), Log()
    there = fit(line_layer(flat, kind="LineStringZ", crs=crs), log)
    assert there["OUTPUT"].crs().authid() == crs and there["OUTPUT"].wkbType() == COMPOUND
    expected, found = elements_of(home), elements_of(there)
    assert [row["element"] for row in found] == [row["element"] for row in expected]
    for name in ("length", "radius", "chord", "sagitta", "tangent_length", "external_distance"):
        assert_allclose(
            [value(row[name]) for row in found],
            [value(row[name]) for row in expected],
            rtol=2e-5,
            atol=5e-4,
            err_msg=name,
        )
    assert_allclose(
        [row["deflection"] for row in found], [row["deflection"] for row in expected], atol=0.01
    )
    # brought home, the curves lie where those of the UTM zone lie
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(crs),
        QgsCoordinateReferenceSystem(UTM),
        QgsCoordinateTransformContext(),
    )
    for mine, theirs in zip(there["OUTPUT"].getFeatures(), home["OUTPUT"].getFeatures()):
        vertices = dense(mine.geometry())
        assert vertices.transform(way) == 0
        other = dense(theirs.geometry())
        # 1 mm each, and chords
        assert (
            max(other.distance(QgsGeometry(QgsPoint(v.x(), v.y()))) for v in vertices.vertices())
            < 0.0022
        )
    projected = crs in ("EPSG:32631", "EPSG:25832")
    single = [
        parts_of(feature.geometry()) == parts_of(other.geometry())
        for feature, other in zip(there["OUTPUT"].getFeatures(), home["OUTPUT"].getFeatures())
    ]
    assert all(single) if projected else not all(single)
    assert ("Circles of the ground are no circles" in log.text) == (not projected)
    assert (
        not any("Circles" in text for text in log.warnings)
        or "reproject the input to a projected CRS" in log.text
    )


def dense(geometry_):
    return QgsGeometry(geometry_.constGet().segmentize(0.002))


def test_grid_bearings_are_those_of_the_layers_crs():
    # a line due north by the grid of zone 32 points elsewhere by the grid of zone 31
    shape = np.array([(0.0, 0), (0, 100)])
    for crs in (UTM, "EPSG:32631", "EPSG:4326"):
        layer = line_layer([shape], crs=crs)
        found = elements_of(fit(layer))[0]["bearing"]
        first, last = (
            np.array([v.x(), v.y()])
            for v in (list(next(layer.getFeatures()).geometry().vertices())[k] for k in (0, -1))
        )
        dx, dy = last - first
        if crs == "EPSG:4326":
            dx *= math.cos(math.radians(first[1]))
        expected = math.degrees(math.atan2(dx, dy)) % 360
        assert abs((found - expected + 180) % 360 - 180) < 0.01, crs


def test_us_survey_feet():
    # the zone of Long Island; 20 ft of tangent, a return of 15 ft, 30 ft of tangent
    foot = 1200 / 3937
    shape = course(20.0, (15.0, -90.0), 30.0, step=1.2) + [1_000_000.0, 200_000.0]
    made = QgsGeometry.fromWkt(
        "LineString (" + ", ".join(f"{x!r} {y!r}" for x, y in shape.tolist()) + ")"
    )
    rows = elements_of(fit(line_layer([made], crs=FEET)))
    assert [row["element"] for row in rows] == ["tangent", "arc", "tangent"]
    assert_allclose([row["length"] / foot for row in rows], [20, 7.5 * math.pi, 30], atol=0.12)
    assert rows[1]["radius"] / foot == pytest.approx(15, abs=0.08) and rows[1][
        "centre_x"
    ] == pytest.approx(1_000_020, abs=0.08)


def test_a_wide_layer_costs_nothing():
    # 150 km to either side the frame itself is off by 0.3 ‰, 2 mm in a radius of 6 m and 9 mm in 30
    # m
    far = [RETURN + [150_000.0, 0], RETURN - [150_000.0, 0]]
    both = fit(line_layer(far))
    for edge, shape in enumerate(far, 1):
        alone = elements_of(fit(line_layer([shape])))
        for name in ("length", "radius"):
            assert_allclose(
                [value(row[name]) for row in elements_of(both, edge)],
                [value(row[name]) for row in alone],
                rtol=2e-6,
                atol=1e-4,
                err_msg=name,
            )


def test_a_layer_without_a_crs_is_a_plane():
    log = Log()
    rows = elements_of(fit(line_layer([RETURN], crs=""), log))
    assert rows[0]["length"] == pytest.approx(30, abs=0.02) and "plane metres" in log.text


# Heights


def test_a_dropped_curb_is_kept_on_a_tangent_and_on_an_arc():
    shape = course(*[0.5] * 60, (20.0, 80.0), *[0.5] * 40, step=0.5)
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(shape, axis=0).T))])
    z = (
        4
        + 0.01 * along
        - np.interp(
            along, [10, 11.5, 14.5, 16, 40, 41.5, 44.5, 46], [0, 0.12, 0.12, 0, 0, 0.12, 0.12, 0]
        )
    )
    result = fit(line_layer([np.column_stack([shape, z])], kind="LineStringZ"))
    assert [row["element"] for row in elements_of(result)] == ["tangent", "arc", "tangent"]
    curve = next(result["OUTPUT"].getFeatures()).geometry()
    fine = dense(curve)  # the owner of the vertices
    drawn = np.array([(v.x(), v.y(), v.z()) for v in fine.vertices()])
    at = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(drawn[:, :2], axis=0).T))])
    assert np.abs(np.interp(along, at, drawn[:, 2]) - z).max() < 0.03
    assert parts_of(curve)[0] == ("QgsLineString", 6)
    radii = [
        radius_of(curve.constGet().curveAt(1), k)
        for k in range(0, curve.constGet().curveAt(1).numPoints() - 1, 2)
    ]
    assert len(radii) > 1 and np.ptp(radii) < 1e-4  # in several pieces, but of one circle


def radius_of(part, k):
    a, b, c = (
        complex(part.pointN(k + i).x() - ORIGIN[0], part.pointN(k + i).y() - ORIGIN[1])
        for i in range(3)
    )
    return abs((a - b) * (b - c) * (c - a)) / 2 / abs(((b - a).conjugate() * (c - a)).imag)


# Corners


def test_a_corner_is_drawn_by_its_legs():
    result = fit(line_layer([RETURN]))
    (corner,) = [
        feature for feature in result["ELEMENTS"].getFeatures() if feature["element"] == "corner"
    ]
    vertices = np.array([(v.x(), v.y()) for v in corner.geometry().vertices()]) - ORIGIN
    assert len(vertices) == 3 and corner["length"] == 0
    assert_allclose(np.hypot(*np.diff(vertices, axis=0).T), 0.25, rtol=1e-3)
    assert_allclose(vertices[1], course(30.0, (6.0, 90.0), 25.0)[-1], atol=0.02)


# Epochs


def epoch_layer(
    shape,
    noise=0.01,
    seed=3,
    name="kept",
    crs=UTM,
    fields=(("edge_id", "integer"), ("chainage", "double")),
    edges=1,
):
    """Epochs a metre apart along vertices, as `reconstructedges` keeps them."""
    rng = np.random.default_rng(seed)
    layer = QgsVectorLayer(
        f"PointZ?crs={crs}" + "".join(f"&field={field}:{kind}" for field, kind in fields),
        name,
        "memory",
    )
    s = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(shape, axis=0).T))])
    features = []
    for edge in range(edges):
        at = np.arange(0, s[-1], 1.1)
        xy = (
            np.column_stack([np.interp(at, s, column) for column in shape.T])
            + rng.normal(0, noise, (len(at), 2))
            + [0, 40.0 * edge]
        )
        for k in rng.permutation(len(at)).tolist():
            feature = QgsFeature(layer.fields())
            feature.setGeometry(
                QgsGeometry(QgsPoint(ORIGIN[0] + xy[k, 0], ORIGIN[1] + xy[k, 1], 5.0))
            )
            feature.setAttributes(
                [
                    {"edge_id": edge + 1, "chainage": float(at[k])}.get(field, f"walk {edge + 1}")
                    for field, _ in fields
                ]
            )
            features.append(feature)
    layer.dataProvider().addFeatures(features)
    return layer


LONG = course(40.0, (12.0, 90.0), 40.0, step=0.3)


def test_epochs_in_any_order():
    log = Log()
    result = fit(
        epoch_layer(
            LONG,
            edges=2,
            fields=(("edge_id", "integer"), ("chainage", "double"), ("capture", "string")),
        ),
        log,
    )
    rows = elements_of(result, 2)
    assert [row["element"] for row in rows] == ["tangent", "arc", "tangent"]
    assert (
        rows[1]["radius"] == pytest.approx(12, abs=3 * rows[1]["radius_sigma"] + 0.01)
        and 0.005 < rows[1]["radius_sigma"] < 0.1
    )
    features = table(result["OUTPUT"])
    assert [feature["edge_id"] for feature in features] == [1, 2] and [
        feature["capture"] for feature in features
    ] == ["walk 1", "walk 2"]
    assert all(0.006 < feature["rms_residual"] < 0.013 for feature in features)
    noise = float(re.search(r"found from the data: ([\d.]+) mm", log.text).group(1))
    assert 8 < noise < 12.5
    assert all(
        v.z() == pytest.approx(5, abs=1e-6)
        for feature in result["OUTPUT"].getFeatures()
        for v in feature.geometry().vertices()
    )


def test_what_reconstruct_edges_keeps():
    from walkedlayers import layer_of, walk

    done = reconstruct(layer_of(walk(captures=3)))
    result = fit(done["KEPT"])
    edges = {row["edge_id"]: row for row in table(done["OUTPUT"])}
    found = table(result["OUTPUT"])
    assert [row["edge_id"] for row in found] == sorted(edges)
    for row in found:
        assert (
            row["length"] == pytest.approx(edges[row["edge_id"]]["length"], abs=0.05)
            and row["capture"] == edges[row["edge_id"]]["capture"]
        )
    # the first edge of each walk goes round a square corner
    turned, then = elements_of(result, 3)[1:]
    assert (turned["element"], then["element"]) == ("corner", "tangent") and turned[
        "deflection"
    ] == pytest.approx(-90, abs=1)


def test_merged_layers_are_seen_and_told_apart():
    layer = epoch_layer(
        LONG, edges=2, fields=(("edge_id", "integer"), ("chainage", "double"), ("sheet", "string"))
    )
    layer.dataProvider().changeAttributeValues(
        {feature.id(): {0: 7} for feature in layer.getFeatures()}
    )
    with pytest.raises(
        QgsProcessingException,
        match=(
            "“kept”.*“edge_id” is “7”.*several lines have one name.*“Fields that tell the edges of"
            " epochs apart”"
        ),
    ):
        fit(layer)
    result = fit(layer, EDGE_FIELDS=["edge_id", "sheet"])
    assert [
        (row["edge_id"], row["edge_id_source"], row["sheet"]) for row in table(result["OUTPUT"])
    ] == [(1, "7", "walk 1"), (2, "7", "walk 2")]


# Attributes, parts, rows without geometry


def test_attributes_parts_and_rows_without_geometry():
    layer = line_layer(
        [[RETURN, RETURN + [0, 100]], None, ISLAND + [0, 300], np.array([(0.0, 0), (0, 0)])],
        kind="MultiLineString",
        fields=(("edge_id", "integer"), ("capture", "string"), ("length", "double")),
        values=[(11, "a", 1.0), (12, "b", 2.0), (13, "c", 3.0), (14, "d", 4.0)],
    )
    log = Log()
    result = fit(layer, log)
    rows = table(result["OUTPUT"])
    assert [
        (row["edge_id"], row["part"], row["capture"], row["length_source"]) for row in rows
    ] == [(11, 1, "a", 1.0), (11, 2, "a", 1.0), (13, 1, "c", 3.0)]
    assert {(row["edge_id"], row["part"]) for row in elements_of(result)} == {
        (11, 1),
        (11, 2),
        (13, 1),
    }
    assert (
        "rows left out, with no geometry, or no length: 2" in log.text
        and "length → length_source" in log.text
    )
    assert rows[0]["length"] == pytest.approx(rows[1]["length"], abs=1e-3)


def test_edge_ids_that_repeat_are_numbered_anew():
    log = Log()
    layer = line_layer([RETURN, ISLAND], fields=(("edge_id", "integer"),), values=[(4,), (4,)])
    rows = table(fit(layer, log)["OUTPUT"])
    assert [(row["edge_id"], row["edge_id_source"]) for row in rows] == [
        (1, 4),
        (2, 4),
    ] and "numbered anew" in log.text


def test_the_edges_own_uncertainty_counts():
    plain, known = (
        fit(line_layer([RETURN], fields=(("sigma_cross", "double"),), values=[(sigma,)]))
        for sigma in (None, 0.02)
    )
    assert (
        table(known["OUTPUT"])[0]["sigma_cross"] > 0.02 > table(plain["OUTPUT"])[0]["sigma_cross"]
    )
    assert elements_of(known)[1]["radius_sigma"] > elements_of(plain)[1]["radius_sigma"]


def test_an_uncertainty_in_millimetres_is_not_used():
    layer = line_layer([RETURN], fields=(("sigma_cross", "double"),), values=[(8.5,)])
    log = Log()
    assert (
        elements_of(fit(layer, log))[1]["radius"]
        == elements_of(fit(line_layer([RETURN])))[1]["radius"]
    )
    assert any(
        "“sigma_cross” holds values up to 8.5" in text and "bring it into metres" in text
        for text in log.warnings
    )


def test_selected_features_only(qgis_new_project):
    layer = line_layer([RETURN, ISLAND])
    QgsProject.instance().addMapLayer(layer)
    layer.selectByIds([list(layer.getFeatures())[1].id()])
    result = fit(QgsProcessingFeatureSourceDefinition(layer.id(), True))
    assert result["EDGES"] == 1 and table(result["OUTPUT"])[0]["closed"] is True


def test_curved_input_is_read_along_its_arcs():
    x, y = ORIGIN
    made = QgsGeometry.fromWkt(
        f"CompoundCurve (({x} {y}, {x + 20} {y}), CircularString ({x + 20} {y},"
        f" {x + 20 + 8 * math.sqrt(0.5)} {y + 8 - 8 * math.sqrt(0.5)}, {x + 28} {y + 8}), ({x + 28}"
        f" {y + 8}, {x + 28} {y + 30}))"
    )
    rows = elements_of(fit(line_layer([made], kind="CompoundCurve")))
    assert [row["element"] for row in rows] == ["tangent", "arc", "tangent"] and rows[1][
        "radius"
    ] == pytest.approx(8 / 0.99974, abs=0.01)
    assert rows[1]["deflection"] == pytest.approx(-90, abs=0.2)


def test_limits_of_the_radius():
    layer = line_layer([LONG])
    assert [row["element"] for row in elements_of(fit(layer, MAX_RADIUS=10))].count("arc") == 0
    assert [row["element"] for row in elements_of(fit(layer, MIN_RADIUS=13))].count("arc") == 0


# Files and other programs


def test_elements_as_a_table(tmp_path):
    path = tmp_path / "elements.csv"
    fit(line_layer([RETURN]), ELEMENTS=str(path))
    lines = path.read_text(encoding="utf-8").splitlines()
    assert (
        lines[0].split(",")[:4] == ["edge_id", "part", "position", "element"]
        and len(lines) == 8
        and not any("Curve" in line for line in lines)
    )


def dxf(layer, path, flat):
    """What the host writes, as (code, value) pairs of the entities."""
    export, settings = QgsDxfExport(), QgsMapSettings()
    export.addLayers([QgsDxfExport.DxfLayer(layer)])
    settings.setLayers([layer])
    settings.setExtent(layer.extent())
    settings.setDestinationCrs(layer.crs())
    export.setMapSettings(settings)
    export.setExtent(layer.extent())
    export.setDestinationCrs(layer.crs())
    export.setSymbologyScale(500)
    export.setForce2d(flat)
    file = QFile(str(path))
    assert file.open(QIODevice.OpenModeFlag.WriteOnly)
    assert export.writeToFile(file, "UTF-8") == QgsDxfExport.ExportResult.Success
    file.close()
    text = path.read_text(encoding="utf-8").splitlines()
    pairs = [(int(code), content.strip()) for code, content in zip(text[::2], text[1::2])]
    return pairs[pairs.index((2, "ENTITIES")) :]


def test_the_hosts_dxf_keeps_arcs_as_bulges_in_two_dimensions(tmp_path):
    along = np.concatenate([[0], np.cumsum(np.hypot(*np.diff(LONG, axis=0).T))])
    layer = fit(line_layer([np.column_stack([LONG, 2.0 + 0.02 * along])], kind="LineStringZ"))[
        "OUTPUT"
    ]
    pairs = dxf(layer, tmp_path / "flat.dxf", True)
    assert (0, "LWPOLYLINE") in pairs
    # DXF reference, group 42: tangent of a quarter of the central angle, + counter-clockwise
    entity = pairs[pairs.index((0, "LWPOLYLINE")) + 1 :]
    entity = entity[: [code for code, _ in entity].index(0)]
    bulges = [
        float(content) for code, content in entity if code == 42 and abs(float(content)) > 1e-9
    ]
    assert len(bulges) == 1 and bulges[0] == pytest.approx(
        -math.tan(math.radians(90 / 4)), abs=2e-3
    )
    length = next(feature.geometry().length() for feature in layer.getFeatures())
    assert length_read(tmp_path / "flat.dxf") == pytest.approx(length, rel=1e-3)
    # with heights the host writes 3D polylines, which know no bulges: readers such as GDAL take the
    # chord of the arc
    assert (100, "AcDb3dPolyline") in dxf(layer, tmp_path / "solid.dxf", False)
    assert length_read(tmp_path / "solid.dxf") < length - 1.5


def length_read(path):
    data = gdal.OpenEx(str(path))  # each needs the one before
    layer = data.GetLayer(0)
    feature = layer.GetNextFeature()
    return feature.GetGeometryRef().Length()


# Bad input


@pytest.mark.parametrize(
    ("layer", "message"),
    [
        (lambda: line_layer([]), "“edges” is empty.*filter"),
        (
            lambda: line_layer([None, np.array([(1.0, 1), (1, 1)])]),
            "“edges”: no row holds a line with a length",
        ),
        (
            lambda: QgsVectorLayer(f"Polygon?crs={UTM}", "blocks", "memory"),
            "“blocks” holds neither lines nor points .Polygon.*“Edges or kept epochs”",
        ),
        (
            lambda: epoch_layer(LONG, fields=(("edge_id", "integer"), ("s", "string"))),
            "“kept” has no field “chainage”.*Kept epochs.*The layer has: edge_id, s",
        ),
        (
            lambda: epoch_layer(LONG, fields=(("edge", "string"), ("chainage", "double"))),
            "“kept” has no field “edge_id”.*“Fields that tell the edges of epochs apart”",
        ),
        (
            lambda: epoch_layer(LONG, fields=(("edge_id", "integer"), ("chainage", "string"))),
            "“kept”: field “chainage” holds no numbers",
        ),
        (
            lambda: QgsVectorLayer(
                f"Point?crs={UTM}&field=edge_id:integer&field=chainage:double", "kept", "memory"
            ),
            "“kept” is empty",
        ),
    ],
)
def test_bad_input_is_named(layer, message, tmp_path):
    with pytest.raises(QgsProcessingException, match=message):
        fit(layer(), OUTPUT=str(tmp_path / "a.gpkg"), ELEMENTS=str(tmp_path / "e.gpkg"))
    assert list(tmp_path.iterdir()) == []


def test_radii_the_wrong_way_round():
    with pytest.raises(
        QgsProcessingException,
        match="“Minimum radius of an arc .m.” must be less than “Maximum radius",
    ):
        fit(line_layer([RETURN]), MIN_RADIUS=50, MAX_RADIUS=5)


def test_single_epochs_are_counted():
    layer = epoch_layer(LONG, edges=1)
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry(QgsPoint(*ORIGIN, 0)))
    feature.setAttributes([99, 0.0])
    layer.dataProvider().addFeatures([feature])
    log = Log()
    assert fit(layer, log)["EDGES"] == 1 and any(
        "without position, edge or chainage, or alone on their edge: 1" in text
        for text in log.warnings
    )


@pytest.mark.parametrize("percent", [0, 20, 40, 74])
@pytest.mark.parametrize("kind", ["lines", "epochs"])
def test_cancel(kind, percent):
    log = Log(cancel_at=percent)
    if not percent:
        log.cancel()
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:fitalignments")
    layer = line_layer([RETURN] * 3) if kind == "lines" else epoch_layer(LONG, edges=3)
    results, fine = algorithm.run(
        {"INPUT": layer, "OUTPUT": "memory:", "ELEMENTS": "memory:"}, context, log
    )
    assert fine and results == {}


def test_progress_reaches_the_end():
    log = Log()
    fit(line_layer([RETURN]), log)
    assert log.highest >= 99


def test_a_layer_that_changes_meanwhile(monkeypatch):
    layer = line_layer([RETURN, ISLAND])
    usual = fitalignments.iterate

    def one_less(source, request):
        return list(usual(source, request))[:1]

    monkeypatch.setattr(fitalignments, "iterate", one_less)
    with pytest.raises(
        QgsProcessingException,
        match="“edges” changed while it was read. Lines expected: 2, found: 1",
    ):
        fit(layer)


# Styles


def test_loaded_layers_are_styled_by_kind(qgis_new_project):
    project = QgsProject.instance()
    layer = line_layer([RETURN])
    project.addMapLayer(layer)
    results = processing.runAndLoadResults(
        "curbwright:fitalignments", {"INPUT": layer, "OUTPUT": "memory:", "ELEMENTS": "memory:"}
    )
    alignments, elements = (project.mapLayer(results[name]) for name in ("OUTPUT", "ELEMENTS"))
    names = alignments.name(), elements.name()
    assert names == ("Alignments of edges", "Elements of edges")
    assert (
        alignments.renderer().type() == "singleSymbol"
        and elements.renderer().type() == "categorizedSymbol"
    )
    categories = elements.renderer().categories()
    assert {category.value() for category in categories} == set(KINDS)
    looks = {
        (
            category.symbol().symbolLayer(0).width(),
            category.symbol().symbolLayer(0).useCustomDashPattern(),
        )
        for category in categories
    }
    assert len(looks) == len(KINDS)  # by width and dash, for grey print


@pytest.mark.parametrize("style", [styles.ALIGNMENTS, styles.ELEMENTS])
def test_style_files_load(style):
    layer = QgsVectorLayer(f"CompoundCurveZ?crs={UTM}&field=element:string", "l", "memory")
    message, fine = layer.loadNamedStyle(str(styles.STYLES / style))
    assert fine, message


def test_from_a_file_as_from_memory(tmp_path):
    layer = epoch_layer(LONG, edges=2)
    memory, file = fit(layer), fit(to_file(layer, tmp_path / "kept.gpkg"))
    for one, other in zip(memory["OUTPUT"].getFeatures(), file["OUTPUT"].getFeatures()):
        assert one.geometry().asWkb() == other.geometry().asWkb()
