"""Parallels through the host: fields, sides, every CRS, words, bad input."""

import numpy as np
import pytest
from linelayers import ORIGIN, line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsGeometry,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from walkedlayers import Log, run, table, to_file

from curbwright.algorithms.writing import styles
from curbwright.shared.lines.cross_section import parse_section

pytestmark = pytest.mark.usefixtures("provider")
SCALE = 0.99974  # of the UTM zone where the lines are drawn
SECTION = "flow line: 0.5 -0.15; back of curb: -0.25 0.02"
L = np.array([(0, 0, 3.0), (20, 0, 3.0), (20, 30, 3.0)])
RING = np.array([(5.0, 50, 1), (10, 50, 1), (10, 60, 1), (0, 60, 1), (0, 50, 1), (5, 50, 1)])


def derive(layer, log=None, **parameters):
    return run(
        "offsetedges", {"INPUT": layer, "SECTION": SECTION, "OUTPUT": "memory:", **parameters}, log
    )


def vertices(feature):
    geometry = feature.geometry()
    return np.array([(v.x() - ORIGIN[0], v.y() - ORIGIN[1], v.z()) for v in geometry.vertices()])


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:offsetedges")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "INPUT",
        "SECTION",
        "MIRROR",
        "MIRROR_FIELD",
        "TOLERANCE",
        "MITRE_LIMIT",
        "OUTPUT",
    }
    section = parse_section(definitions["SECTION"].defaultValue())
    assert [part.name for part in section] == ["flow line", "gutter lip", "back of curb"]
    # the gutter pan rises by no more than 1 : 20, the maximum counter slope next to an accessible
    # ramp (2010 ADA Standards 406.2)
    assert (section[1].height - section[0].height) / (
        section[1].offset - section[0].offset
    ) <= 1 / 20
    assert (
        "+ to the right" in own.shortHelpString() and "not for stake-out" in own.shortHelpString()
    )


def test_parallels_of_edges():
    log = Log()
    result = derive(
        line_layer(
            [L, RING],
            kind="LineStringZ",
            fields=(("edge_id", "integer"), ("capture", "string")),
            values=[(4, "a"), (9, "b")],
        ),
        log,
    )
    rows = table(result["OUTPUT"])
    assert [
        (row["source"], row["line"], row["offset"], row["height"], row["capture"]) for row in rows
    ] == [
        ("4", "flow line", 0.5, -0.15, "a"),
        ("4", "back of curb", -0.25, 0.02, "a"),
        ("9", "flow line", 0.5, -0.15, "b"),
        ("9", "back of curb", -0.25, 0.02, "b"),
    ]
    assert (
        [row["edge_id"] for row in rows] == [1, 2, 3, 4]
        and rows[0]["edge_id_source"] == 4
        and [row["closed"] for row in rows] == [False, False, True, True]
    )
    shapes = [vertices(feature) for feature in result["OUTPUT"].getFeatures()]
    d, b = 0.5 * SCALE, 0.25 * SCALE
    assert_allclose(shapes[0], [(0, -d, 2.85), (20 + d, -d, 2.85), (20 + d, 30, 2.85)], atol=2e-5)
    assert_allclose(shapes[1], [(0, b, 3.02), (20 - b, b, 3.02), (20 - b, 30, 3.02)], atol=2e-5)
    assert (shapes[2][0] == shapes[2][-1]).all() and shapes[2][0] == pytest.approx(
        (5, 50 - d, 0.85), abs=2e-5
    )
    assert rows[0]["length"] == pytest.approx(50 / SCALE + 1.0, abs=0.002)
    assert result["LENGTH"] == pytest.approx(sum(row["length"] for row in rows)) and (
        result["EDGES_READ"],
        result["LINES"],
        result["VANISHED"],
    ) == (2, 4, 0)
    assert (
        result["OUTPUT"].wkbType() == QgsWkbTypes.Type.LineStringZ
        and "Parallels: 4 (edges of “edges”: 2)" in log.text
    )


@pytest.mark.parametrize(
    ("kind", "values"),
    [
        ("string", ["left", " No "]),
        ("integer", [1, 0]),
        ("double", [-1.0, None]),
        ("string", ["TRUE", ""]),
        ("boolean", [True, False]),
    ],
)
def test_edges_walked_the_other_way(kind, values):
    layer = line_layer(
        [straight(0.0), straight(9.0)],
        fields=(("way", kind),),
        values=[(value,) for value in values],
    )
    ends = [
        shape[0, 1]
        for shape in map(
            vertices, derive(layer, SECTION="foot: 1 0", MIRROR_FIELD="way")["OUTPUT"].getFeatures()
        )
    ]
    assert_allclose(ends, [1, 8], atol=1e-3)
    both = [
        shape[0, 1]
        for shape in map(
            vertices,
            derive(layer, SECTION="foot: 1 0", MIRROR_FIELD="way", MIRROR=True)[
                "OUTPUT"
            ].getFeatures(),
        )
    ]
    assert_allclose(both, [-1, 10], atol=1e-3)
    assert_allclose(
        [
            shape[0, 1]
            for shape in map(
                vertices, derive(layer, SECTION="foot: 1 0", MIRROR=True)["OUTPUT"].getFeatures()
            )
        ],
        [1, 10],
        atol=1e-3,
    )


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32631"])
def test_the_same_from_every_crs(crs):
    home, there = (
        derive(line_layer([L, RING], kind="LineStringZ", crs=one)) for one in ("EPSG:32632", crs)
    )
    for mine, theirs in zip(table(there["OUTPUT"]), table(home["OUTPUT"])):
        assert (mine["source"], mine["line"]) == (theirs["source"], theirs["line"])
        assert mine["length"] == pytest.approx(theirs["length"], rel=1e-6)
    again = derive(line_layer([RING, L][::-1], kind="LineStringZ", crs=crs))
    assert [f.geometry().asWkt(9) for f in again["OUTPUT"].getFeatures()] == [
        f.geometry().asWkt(9) for f in there["OUTPUT"].getFeatures()
    ]


def test_us_survey_feet_and_heights_in_metres():
    foot = 1200 / 3937
    made = QgsGeometry.fromWkt("LineString Z (1000000 200000 3, 1000100 200000 3)")
    feature = next(
        derive(
            line_layer([made], kind="LineStringZ", crs="EPSG:2263"), SECTION="flow line: 0.5 -0.15"
        )["OUTPUT"].getFeatures()
    )
    first = feature.geometry().vertexAt(0)
    assert (200000 - first.y()) * foot == pytest.approx(
        0.5, abs=1e-4
    ) and first.z() == pytest.approx(2.85)


def test_what_vanishes_is_counted_and_named(tmp_path):
    log = Log()
    result = derive(
        to_file(
            line_layer(
                [RING, straight(0.0)], kind="LineString" if RING.shape[1] == 2 else "LineStringZ"
            ),
            tmp_path / "in.gpkg",
        ),
        log,
        SECTION="middle: -5.5 0; foot: 0.1 0",
        OUTPUT=str(tmp_path / "out.gpkg"),
    )
    assert result["VANISHED"] == 1 and result["LINES"] == 3
    assert any(
        "Parallels that vanished" in text and ": 1 (1 (middle))" in text for text in log.warnings
    )


# Bad input


def refused(layer, **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        derive(layer, **parameters)
    return str(raised.value)


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("flow line 0.5 -0.15", "“flow line 0.5 -0.15” is not “name: offset height”"),
        ("", "Cross-section"),
        ("a: 1 2; a: 2 2", "twice"),
        ("face: 20 -150", "more than 100 m"),
    ],
)
def test_sections_that_cannot_be_read(text, message):
    assert message in refused(line_layer([L], kind="LineStringZ"), SECTION=text)


def test_layers_and_fields_that_cannot_be_used():
    assert "“edges” is empty" in refused(line_layer([]))
    assert "has no field “nope” (parameter “Field that marks edges to mirror”)" in refused(
        line_layer([L], kind="LineStringZ"), MIRROR_FIELD="nope"
    )
    layer = line_layer([straight(0.0)], fields=(("way", "string"),), values=[("uphill",)])
    message = refused(layer, MIRROR_FIELD="way")
    assert "“edges”" in message and "“way”" in message and "“uphill”" in message
    assert "holds no lines" in refused(QgsVectorLayer("Polygon?crs=EPSG:32632", "blocks", "memory"))
    log = Log()
    result = derive(line_layer([straight(0.0)]), log)
    assert (
        any("no heights" in text for text in log.warnings)
        and np.isnan(vertices(next(result["OUTPUT"].getFeatures()))[:, 2]).all()
    )


@pytest.mark.parametrize("percent", [1, 30, 80])
def test_cancel(percent):
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:offsetedges")
    context, log = QgsProcessingContext(), Log(cancel_at=percent)
    context.setProject(QgsProject.instance())
    results, fine = own.run(
        {"INPUT": line_layer([L], kind="LineStringZ"), "SECTION": SECTION, "OUTPUT": "memory:"},
        context,
        log,
    )
    assert fine and results == {}


def test_the_style_loads():
    layer = QgsVectorLayer("LineString?field=offset:double", "l", "memory")
    message, fine = layer.loadNamedStyle(str(styles.STYLES / styles.PARALLELS))
    assert fine, message
    assert (
        len(
            {
                (
                    rule.symbol().symbolLayer(0).customDashVector()[0]
                    if rule.symbol().symbolLayer(0).useCustomDashPattern()
                    else 0
                )
                for rule in layer.renderer().rootRule().children()
            }
        )
        == 3
    )
