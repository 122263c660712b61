"""The shift between layers through the host: numbers, moved lines, words."""

import math
import re

import numpy as np
import pytest
from linelayers import ORIGIN, line_layer, shapes_of, straight, upright
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsGeometry,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsWkbTypes,
)
from walkedlayers import Log, run

from curbwright.algorithms.estimateshift import MODELS
from curbwright.algorithms.writing.moved_lines import with_vertices
from curbwright.sample_project import basemaps

pytestmark = pytest.mark.usefixtures("provider")


def estimate(moving, fixed, log=None, **parameters):
    return run(
        "estimateshift",
        {"INPUT": moving, "EXISTING": fixed, "OUTPUT": "memory:", **parameters},
        log,
    )


def vertices(layer):
    return np.array(
        [(v.x(), v.y()) for feature in layer.getFeatures() for v in feature.geometry().vertices()]
    )


GRID = [straight(15.0 * k, (0, 40)) for k in range(8)] + [
    upright(60 + 15.0 * k, (0, 40)) for k in range(8)
]


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:estimateshift")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {"INPUT", "EXISTING", "MAX_OFFSET", "MODEL", "OUTPUT"}
    assert definitions["MAX_OFFSET"].defaultValue() == 2 and definitions["MODEL"].options() == [
        "translation",
        "rigid",
        "similarity",
    ]
    assert {output.name() for output in own.outputDefinitions()} >= {
        "SHIFT_EAST",
        "SHIFT_NORTH",
        "ROTATION",
        "SCALE",
        "SIGMA_EAST",
        "SIGMA_NORTH",
        "SIGMA_ROTATION",
        "SIGMA_SCALE",
        "SIGNIFICANT",
        "USED_LENGTH",
    }
    assert all(len(parameter.help()) > 20 for parameter in definitions.values())
    assert (
        len(own.shortHelpString()) > 400
        and own.tags()
        and not own.icon().isNull()
        and own.canExecute() == (True, "")
    )


@pytest.fixture(scope="module")
def basemap_layers(provider):
    made = basemaps.make_basemap(np.random.default_rng(6), 60, moved=0.2)
    return [
        line_layer(shapes_of(side), name, "MultiLineStringZ")
        for side, name in ((made.edges, "edges"), (made.existing, "old"))
    ]


@pytest.mark.parametrize("model", MODELS)
def test_a_shifted_basemap_both_ways(basemap_layers, model):
    edges, old = basemap_layers
    there, back = estimate(edges, old, MODEL=model), estimate(old, edges, MODEL=model)
    assert (there["SHIFT_EAST"], there["SHIFT_NORTH"]) == (
        pytest.approx(0.35, abs=0.01),
        pytest.approx(-0.20, abs=0.01),
    )
    assert (back["SHIFT_EAST"], back["SHIFT_NORTH"]) == (
        pytest.approx(-0.35, abs=0.01),
        pytest.approx(0.20, abs=0.01),
    )
    for result in (there, back):
        assert (
            result["SIGNIFICANT"] is True
            and 0 < result["SIGMA_EAST"] < 0.005
            and result["USED_LENGTH"] > 1000
        )
        assert abs(result["ROTATION"]) < 0.005 and abs(result["SCALE"] - 1) < 1e-4
    moved = vertices(there["OUTPUT"]) - vertices(edges)
    assert_allclose(moved, np.broadcast_to([0.35, -0.20], moved.shape), atol=0.02)
    if model == "translation":
        assert (
            math.isnan(there["SIGMA_ROTATION"]) and there["ROTATION"] == 0 and there["SCALE"] == 1
        )


@pytest.mark.parametrize(("model", "factor"), [("rigid", 1.0), ("similarity", 1.0005)])
def test_a_turned_layer_is_turned_back(model, factor):
    angle, centre = math.radians(0.2), np.array([80.0, 60.0])
    turn = factor * np.array(
        [[math.cos(angle), math.sin(angle)], [-math.sin(angle), math.cos(angle)]]
    )
    old = line_layer([(shape - centre) @ turn + centre + [0.1, 0.05] for shape in GRID], "old")
    log = Log()
    result = estimate(line_layer(GRID), old, log, MODEL=model)
    assert result["ROTATION"] == pytest.approx(0.2, abs=1e-4) and result["SCALE"] == pytest.approx(
        factor, abs=1e-6
    )
    # across its line every moved line lies on the old one
    for moved, fixed in zip(result["OUTPUT"].getFeatures(), old.getFeatures()):
        assert moved.geometry().hausdorffDistance(fixed.geometry()) < 0.002
    findings, summary = log.text.split("Done:")
    assert (
        re.search(r"Rotation \+0\.(200|1999)", findings)
        and "about 600" in findings
        and ("Scale factor" in findings) == (model == "similarity")
    )
    assert f"Scale factor: {factor:.6f}" in summary
    assert "factor: nan" not in summary


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857"])
def test_another_crs_moves_by_as_many_metres(crs):
    result = estimate(
        line_layer(GRID, crs=crs), line_layer([shape + [0.4, 0.3] for shape in GRID], "old")
    )
    assert result["OUTPUT"].crs().authid() == crs
    again = estimate(result["OUTPUT"], line_layer([shape + [0.4, 0.3] for shape in GRID], "old"))
    assert abs(again["SHIFT_EAST"]) < 1e-4 and abs(again["SHIFT_NORTH"]) < 1e-4
    assert math.hypot(result["SHIFT_EAST"], result["SHIFT_NORTH"]) == pytest.approx(0.5, abs=1e-3)


@pytest.mark.parametrize("oblique", [False, True])
def test_all_lines_one_way(oblique):
    turn = np.array([[0.8, 0.6], [-0.6, 0.8]]) if oblique else np.eye(2)
    shapes = [straight(15.0 * k) @ turn for k in range(8)]
    log = Log()
    result = estimate(
        line_layer(shapes),
        line_layer([shape + np.array([0.5, 0.25]) @ turn for shape in shapes], "old"),
        log,
    )
    assert math.isnan(result["SHIFT_EAST"]) and math.isnan(result["SHIFT_NORTH"]) == oblique
    assert (
        result["SHIFT_ACROSS"] == pytest.approx(-0.25, abs=1e-3) and result["SIGNIFICANT"] is True
    )
    assert result["UNDETERMINED_AZIMUTH"] == pytest.approx(
        math.degrees(math.atan2(0.8, 0.6)) if oblique else 90, abs=0.1
    )
    assert any("undetermined" in text for text in log.warnings)
    # moved across the lines, and not along them
    moved = vertices(result["OUTPUT"]) - vertices(line_layer(shapes))
    assert_allclose(moved @ turn.T, np.broadcast_to([0, 0.25], moved.shape), atol=1e-3)


def test_no_shift_is_not_significant():
    log = Log()
    result = estimate(line_layer(GRID), line_layer(GRID, "old"), log)
    assert result["SIGNIFICANT"] is False and abs(result["SHIFT_EAST"]) < 1e-6
    assert any("not significant" in text for text in log.warnings)


def test_nothing_in_reach_is_passed_on_as_it_is():
    log = Log()
    layer = line_layer(GRID)
    result = estimate(layer, line_layer([shape + 500 for shape in GRID], "old"), log)
    assert (
        math.isnan(result["SHIFT_EAST"])
        and result["SIGNIFICANT"] is False
        and result["USED_LENGTH"] == 0
    )
    assert_allclose(vertices(result["OUTPUT"]), vertices(layer), atol=1e-6)
    assert "it cannot be determined" in log.text and "is passed on as it is" in log.text


def test_an_unknown_model_is_refused():
    with pytest.raises(QgsProcessingException, match="MODEL"):
        estimate(line_layer(GRID), line_layer(GRID, "old"), MODEL="affine")


X, Y = ORIGIN


@pytest.mark.parametrize(
    "wkt",
    [
        f"LineString ({X} {Y}, {X + 1} {Y})",
        f"LineStringZ ({X} {Y} 5, {X + 1} {Y} 6)",
        f"LineStringZM ({X} {Y} 5 1, {X + 1} {Y} 6 2, {X} {Y} 5 9)",
        f"MultiLineString (({X} {Y}, {X + 1} {Y}), ({X} {Y}, {X + 1} {Y}, {X} {Y + 2}))",
        f"MultiLineStringM (({X} {Y} 3, {X + 1} {Y} 4))",
        f"CircularString ({X} {Y}, {X + 10} {Y + 10}, {X + 20} {Y})",
        (
            f"CompoundCurveZ (CircularStringZ ({X} {Y} 1, {X + 10} {Y + 10} 2, {X + 20} {Y} 3),"
            f" ({X + 20} {Y} 3, {X + 40} {Y} 4))"
        ),
    ],
)
def test_geometries_keep_all_but_their_positions(wkt):
    old = QgsGeometry.fromWkt(wkt)
    xy = np.array([(v.x(), v.y()) for v in old.vertices()]) + [0.5, -0.25]
    new = with_vertices(old, xy)
    expected = QgsGeometry(old)
    expected.translate(0.5, -0.25)
    assert new.wkbType() == old.wkbType() and QgsWkbTypes.displayString(new.wkbType())
    assert new.asWkt(6) == expected.asWkt(6)
    assert old.asWkt(6) == QgsGeometry.fromWkt(wkt).asWkt(6)


def test_fields_and_rows_without_geometry_are_passed_on():
    layer = line_layer(
        [*GRID, None], fields=(("code", "integer"),), values=[(k,) for k in range(17)]
    )
    result = estimate(layer, line_layer([shape + [0.2, 0.1] for shape in GRID], "old"))
    assert [feature["code"] for feature in result["OUTPUT"].getFeatures()] == list(range(17))
    assert [feature.hasGeometry() for feature in result["OUTPUT"].getFeatures()] == [True] * 16 + [
        False
    ]


@pytest.mark.parametrize("percent", [0, 20, 45, 66])
def test_cancel(basemap_layers, percent):
    log = Log(cancel_at=percent)
    if not percent:
        log.cancel()
    context = QgsProcessingContext()
    context.setProject(QgsProject.instance())
    algorithm = QgsApplication.processingRegistry().createAlgorithmById("curbwright:estimateshift")
    results, fine = algorithm.run(
        {"INPUT": basemap_layers[0], "EXISTING": basemap_layers[1], "OUTPUT": "memory:"},
        context,
        log,
    )
    assert fine and results == {}
