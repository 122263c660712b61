"""Joined ends through the host: fields, changes, islands, every CRS, words, bad input."""

import numpy as np
import pytest
from linelayers import ORIGIN, UTM, line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsGeometry,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from walkedlayers import Log, run, table, to_file

from curbwright.algorithms.host.fields import is_null
from curbwright.algorithms.writing import styles

pytestmark = pytest.mark.usefixtures("provider")
FIELDS = (
    ("edge_id", "integer"),
    ("capture", "string"),
    ("sigma_cross", "double"),
    ("sigma_up", "double"),
    ("start_reason", "string"),
    ("end_reason", "string"),
)
SHAPES = [
    [(0, 0, 3.0), (20, 0, 3.0)],
    [(20.1, 0.02, 3.02), (40, 0.02, 3.02)],  # straight on
    [(41.2, 1.2, 3.02), (41.2, 30, 3.02)],  # round a corner
    [(60, 0.2, 1), (60, 10, 1), (50, 10, 1), (50, 0, 1), (59.8, 0, 1)],
]  # an island
VALUES = [
    (7, "a", 0.01, 0.02, "start", "paused"),
    (8, "a", 0.01, 0.02, "paused", "end"),
    (9, "b", 0.02, None, "start", "not_fixed"),
    (3, "c", 0.01, 0.02, "start", "end"),
]


def layer_of(shapes=SHAPES, values=VALUES, **how):
    return line_layer(
        [np.array(shape, float) for shape in shapes],
        kind="LineStringZ",
        fields=FIELDS,
        values=values,
        **how,
    )


def join(layer, log=None, **parameters):
    return run(
        "joinedges",
        {
            "INPUT": layer,
            "OUTPUT": "memory:",
            "CHANGES": "memory:",
            "POLYGONS": "memory:",
            **parameters,
        },
        log,
    )


def by_sources(result):
    return {row["sources"]: row for row in table(result["OUTPUT"])}


def vertices(layer, row):
    geometry = next(
        feature for feature in layer.getFeatures() if feature["sources"] == row
    ).geometry()
    return np.array([(v.x() - ORIGIN[0], v.y() - ORIGIN[1], v.z()) for v in geometry.vertices()])


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:joinedges")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "INPUT",
        "TOLERANCE",
        "MAX_EXTENSION",
        "MIN_CORNER_ANGLE",
        "MAX_HEIGHT_STEP",
        "CLOSE_RINGS",
        "KEEP_BREAKS",
        "GROUP_FIELDS",
        "OUTPUT",
        "CHANGES",
        "POLYGONS",
    }
    assert [
        definitions[name].defaultValue()
        for name in ("TOLERANCE", "MAX_EXTENSION", "MIN_CORNER_ANGLE", "MAX_HEIGHT_STEP")
    ] == [0.25, 1.5, 20, 0.10]
    assert "not for stake-out" in own.shortHelpString()


def test_edges_changes_and_islands():
    log = Log()
    result = join(layer_of(), log)
    rows = by_sources(result)
    assert set(rows) == {"7, 8, 9", "3"}
    row = rows["7, 8, 9"]
    assert row["parts"] == 3 and row["reversed"] == "" and row["closed"] is False
    assert (row["start_reason"], row["end_reason"]) == ("start", "not_fixed") and is_null(
        row["capture"]
    )
    assert (
        rows["3"]["capture"] == "c"
        and rows["3"]["edge_id_source"] == 3
        and rows["3"]["closed"] is True
    )
    scale = 0.99974
    assert row["length"] == pytest.approx((41.2 + 29.98) / scale, abs=0.01)
    expected = np.sqrt((20 * 1e-4 + 19.9 * 1e-4 + 28.8 * 4e-4) / 68.7)
    assert row["sigma_cross"] == pytest.approx(expected, rel=1e-4) and row[
        "sigma_up"
    ] == pytest.approx(0.02)
    assert row["moved"] == pytest.approx(1.2 / scale, abs=0.02)
    shape = vertices(result["OUTPUT"], "7, 8, 9")
    assert_allclose(shape[0], (0, 0, 3), atol=1e-9)
    assert np.hypot(*(shape[:, :2] - [41.2, 0.02]).T).min() < 0.002
    # rings: first = last to the last digit, area by the shoelace formula on the ground
    ring = vertices(result["OUTPUT"], "3")
    assert (ring[0] == ring[-1]).all()
    polygon = next(result["POLYGONS"].getFeatures())
    assert (
        polygon.geometry().wkbType() == QgsWkbTypes.Type.PolygonZ
        and polygon.geometry().isGeosValid()
    )
    assert polygon["area"] == pytest.approx(
        100 / scale**2, rel=1e-4
    ) and polygon.geometry().area() == pytest.approx(100, rel=1e-5)
    changes = table(result["CHANGES"])
    assert sorted(change["what"] for change in changes) == ["closed", "extended", "joined"]
    joined = next(change for change in changes if change["what"] == "joined")
    assert (joined["edges"], joined["ends"]) == ("7, 8", "7 end, 8 start") and joined[
        "gap"
    ] == pytest.approx(0.102, abs=1e-3)
    assert "0.102 m apart" in joined["why"] and joined["moved_up"] == pytest.approx(0.01)
    assert (
        result["EDGES_READ"],
        result["EDGES"],
        result["JOINED"],
        result["EXTENDED"],
        result["CLOSED"],
        result["LEFT_OPEN"],
    ) == (4, 2, 1, 1, 1, 0)
    assert result["LENGTH"] == pytest.approx(sum(row["length"] for row in rows.values()))
    assert "4 from “edges” (called by field “edge_id”) make 2" in log.text and not log.warnings


def test_breaks_that_the_user_keeps():
    result = join(layer_of(), KEEP_BREAKS=["paused"])
    assert set(by_sources(result)) == {"7", "8, 9", "3"}
    assert [
        change["why"] for change in table(result["CHANGES"]) if change["what"] == "left_open"
    ] == [
        "7 end and 8 start would be joined, but one of them broke off for a reason that is to be"
        " kept"
    ]


def test_fields_that_must_agree():
    assert set(by_sources(join(layer_of(), GROUP_FIELDS=["capture"]))) == {"7, 8", "9", "3"}
    assert set(by_sources(join(layer_of(), GROUP_FIELDS=["capture", "end_reason"]))) == {
        "7",
        "8",
        "9",
        "3",
    }


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32631", "EPSG:2263"])
def test_the_same_from_every_crs(crs):
    # the foot zone lies elsewhere: there the layer is drawn in feet of its own plane, below
    if crs == "EPSG:2263":
        foot, corner = 1200 / 3937, np.array([1_000_000.0, 200_000.0])
        wkt = [
            "LineString Z ("
            + ", ".join(
                f"{float(x / foot + corner[0])!r} {float(y / foot + corner[1])!r} {z}"
                for x, y, z in shape
            )
            + ")"
            for shape in SHAPES
        ]
        there = join(
            line_layer(
                [QgsGeometry.fromWkt(text) for text in wkt],
                kind="LineStringZ",
                crs=crs,
                fields=FIELDS,
                values=VALUES,
            )
        )
    else:
        there = join(layer_of(crs=crs))
    home = join(layer_of())
    mine, theirs = by_sources(there), by_sources(home)
    assert set(mine) == set(theirs) and there["OUTPUT"].crs().authid() == crs
    rtol = 3e-4 if crs == "EPSG:2263" else 1e-6  # drawn in the zone's feet, not on the ground
    for sources, row in mine.items():
        for name in ("length", "moved", "sigma_cross"):
            assert row[name] == pytest.approx(theirs[sources][name], rel=rtol, abs=1e-4), name
    for column in ("gap", "moved", "moved_up", "deflection"):
        assert_allclose(
            [row[column] for row in table(there["CHANGES"])],
            [row[column] for row in table(home["CHANGES"])],
            rtol=1e-3,
            atol=2e-4,
        )
    assert table(there["POLYGONS"])[0]["area"] == pytest.approx(
        table(home["POLYGONS"])[0]["area"], rel=2 * rtol
    )
    # what did not move lies where it lay, to the last digit
    before = (
        {
            (v.x(), v.y())
            for feature in layer_of(crs=crs).getFeatures()
            for v in feature.geometry().vertices()
        }
        if crs != "EPSG:2263"
        else set()
    )
    after = {
        (v.x(), v.y())
        for feature in there["OUTPUT"].getFeatures()
        for v in feature.geometry().vertices()
    }
    assert crs == "EPSG:2263" or len(before & after) >= 5
    if crs == "EPSG:32631":
        way = QgsCoordinateTransform(
            QgsCoordinateReferenceSystem(crs),
            QgsCoordinateReferenceSystem(UTM),
            QgsCoordinateTransformContext(),
        )
        for feature, other in zip(there["OUTPUT"].getFeatures(), home["OUTPUT"].getFeatures()):
            shape = QgsGeometry(feature.geometry())
            shape.transform(way)
            assert shape.hausdorffDistance(other.geometry()) < 1e-3


def test_the_order_of_rows_has_no_say():
    names = ("sources", "reversed", "length", "edge_id", "moved")
    first = [tuple(row[name] for name in names) for row in table(join(layer_of())["OUTPUT"])]
    other = [
        tuple(row[name] for name in names)
        for row in table(join(layer_of(SHAPES[::-1], VALUES[::-1]))["OUTPUT"])
    ]
    assert [row[:2] for row in first] == [row[:2] for row in other]
    assert_allclose([row[2:] for row in first], [row[2:] for row in other], rtol=1e-12)


def test_parts_of_a_line_are_edges_of_their_own(tmp_path):
    layer = line_layer(
        [
            [np.array([(0.0, 0), (20, 0)]), np.array([(20.1, 0), (40, 0)])],
            np.array([(0.0, 30), (9, 30)]),
        ],
        kind="MultiLineString",
    )
    log = Log()
    result = join(to_file(layer, tmp_path / "multi.gpkg"), log, OUTPUT=str(tmp_path / "out.gpkg"))
    rows = table(QgsVectorLayer(result["OUTPUT"], "o", "ogr"))
    assert [row["sources"] for row in rows] == ["1/1, 1/2", "2"]
    assert any("no heights" in text for text in log.warnings)


def test_touching_rings_make_no_island():
    eight = [(0, 0, 0), (10, 10, 0), (10, 0, 0), (0, 10, 0), (0, 0.1, 0)]
    log = Log()
    result = join(layer_of([eight], VALUES[:1]), log)
    assert by_sources(result)["7"]["closed"] is True and result["POLYGONS"].featureCount() == 0
    assert any("make no island: 1 (edges 7)" in text for text in log.warnings)


# Bad input


def refused(layer, **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        join(layer, **parameters)
    return str(raised.value)


def test_empty_layers_points_and_rows_without_lines():
    assert "“edges” is empty" in refused(line_layer([]))
    assert "no row holds a line with a length" in refused(line_layer([None, np.zeros((2, 2))]))
    log = Log()
    join(line_layer([None, straight(0.0), np.full((2, 2), 3.0)]), log)
    assert any("rows left out, with no geometry, or no length: 2" in text for text in log.warnings)
    assert "holds no lines" in refused(QgsVectorLayer("Polygon?crs=EPSG:32632", "blocks", "memory"))


def test_fields_that_are_not_there():
    assert "“edges” has no field “nope” (parameter “Fields that must agree”)" in refused(
        layer_of(), GROUP_FIELDS=["nope"]
    )
    layer = line_layer([straight(0.0)], fields=(("note", "string"),), values=[("x",)])
    message = refused(layer, KEEP_BREAKS=["paused"])
    assert (
        "has no field “start_reason” (parameter “Breaks to keep”)" in message and "note" in message
    )


def test_a_layer_without_a_crs_is_a_plane():
    log = Log()
    assert by_sources(join(layer_of(crs=""), log))["7, 8, 9"]["length"] == pytest.approx(
        71.18, abs=0.01
    )
    assert any("plane metres" in text for text in log.warnings)


@pytest.mark.parametrize("percent", [1, 30, 70, 84])
def test_cancel(percent):
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:joinedges")
    context, log = QgsProcessingContext(), Log(cancel_at=percent)
    context.setProject(QgsProject.instance())
    results, fine = own.run(
        {"INPUT": layer_of(), "OUTPUT": "memory:", "CHANGES": "memory:"}, context, log
    )
    assert fine and results == {}


def test_the_styles_load():
    for kind, name in (
        ("LineString?field=parts:integer", styles.JOINED),
        ("Point?field=what:string", styles.CHANGES),
        ("Polygon", styles.ISLANDS),
    ):
        layer = QgsVectorLayer(kind, "l", "memory")
        message, fine = layer.loadNamedStyle(str(styles.STYLES / name))
        assert fine, message
    layer = QgsVectorLayer("Point?field=what:string", "l", "memory")
    layer.loadNamedStyle(str(styles.STYLES / styles.CHANGES))
    looks = [category.symbol().symbolLayer(0).shape() for category in layer.renderer().categories()]
    assert len(set(looks)) == len(looks) == 4  # shape, not colour: grey print
