"""Where anyone looked: surveyed areas of the comparison, of the update and of revisits."""

import numpy as np
import pytest
from linelayers import ORIGIN, UTM, line_layer, straight
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsProcessingException,
    QgsVectorLayer,
)
from walkedlayers import Log, run, table

from curbwright.algorithms.writing import styles

pytestmark = pytest.mark.usefixtures("provider")


def area_layer(*boxes, crs=UTM, kind="MultiPolygon", name="blocks"):
    """Rectangles of (west, south, east, north), metres from the origin."""
    layer = QgsVectorLayer(f"{kind}?crs={crs}", name, "memory")
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(UTM),
        QgsCoordinateReferenceSystem(crs),
        QgsCoordinateTransformContext(),
    )
    for west, south, east, north in boxes:
        corners = [(west, south), (east, south), (east, north), (west, north), (west, south)]
        text = ", ".join(f"{x + ORIGIN[0]} {y + ORIGIN[1]}" for x, y in corners)
        geometry = QgsGeometry.fromWkt(f"Polygon (({text}))")
        assert geometry.transform(way) == 0
        feature = QgsFeature(layer.fields())
        feature.setGeometry(geometry)
        assert layer.dataProvider().addFeatures([feature])[0]
    return layer


def compare(edges, existing, log=None, **parameters):
    outputs = dict.fromkeys(("OUTPUT", "EXISTING_STATUS", "SUMMARY"), "memory:")
    return run("compareedges", {"INPUT": edges, "EXISTING": existing, **outputs, **parameters}, log)


def rows(result, name="EXISTING_STATUS"):
    return table(result[name])


def statuses(result):
    return [row["status"] for row in rows(result)]


EXISTING = [straight(0.02), straight(8.0), straight(60.0), straight(400.0)]


def test_only_existing_ignores_where_anyone_walked():
    log = Log()
    edges, old = line_layer([straight(0.0)]), line_layer(EXISTING, "old")
    result = compare(edges, old, log)
    assert statuses(result) == ["agrees", "only_existing", "not_visited", "not_visited"]
    assert [round(row["visited_share"], 2) for row in rows(result)] == [1, 1, 0, 0]
    assert "Lines not visited, of which nothing is said: 2" in log.text
    summary = {(row["subject"], row["measure"]): row["value"] for row in rows(result, "SUMMARY")}
    assert summary["existing", "lines_not_visited"] == 2
    assert summary["existing", "visited_length"] == pytest.approx(80 / 0.9997, rel=1e-3)
    assert statuses(compare(edges, old, REACH=70.0))[2:] == ["only_existing", "not_visited"]
    assert statuses(compare(edges, old, REACH=3.0))[1] == "not_visited"


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:32631"])
def test_an_area_in_any_crs_decides(crs):
    area = area_layer((-10, -10, 30, 30), (-10, 390, 50, 410), crs=crs)
    log = Log()
    result = compare(line_layer([straight(0.0)]), line_layer(EXISTING, "old"), log, AREA=area)
    assert statuses(result) == ["agrees", "only_existing", "not_visited", "only_existing"]
    shares = [row["visited_share"] for row in rows(result)]
    np.testing.assert_allclose(shares, [1, 30 / 40, 0, 1], atol=0.03)
    assert "Surveyed area: the polygons of “blocks”" in log.text


@pytest.mark.parametrize(
    ("area", "words"),
    [
        (lambda: area_layer(), "“blocks” holds no polygon"),
        (lambda: area_layer((0, 0, 1, 1), crs=""), "has no CRS"),
    ],
)
def test_an_area_that_cannot_be_used_is_named(area, words):
    with pytest.raises(QgsProcessingException, match=words):
        compare(line_layer([straight(0.0)]), line_layer(EXISTING, "old"), AREA=area())


def test_how_far_lines_moved_stands_in_both_layers():
    island = np.array([(0, 0), (10, 0), (10, 4), (0, 4), (0, 0)], float) + [0, 100]
    far = [straight(10.0 * number) for number in range(6)]
    result = compare(
        line_layer([island + [0.3, -0.4], *far]),
        line_layer([island, *far], "old"),
        EXISTING_SIGMA=0.05,
        REMOVE_SHIFT=False,
    )
    for name in ("OUTPUT", "EXISTING_STATUS"):
        moved = rows(result, name)[0]
        assert moved["status"] == "displaced"
        assert moved["moved"] == pytest.approx(0.5, abs=0.02)
        assert moved["moved_azimuth"] == pytest.approx(143.1, abs=2.0)


@pytest.mark.parametrize("style", [styles.COMPARED, styles.EXISTING_STATUS])
def test_labels_say_how_far_a_displaced_line_moved(style):
    layer = QgsVectorLayer(
        "LineString?field=status:string&field=moved:double&field=moved_azimuth:double",
        "l",
        "memory",
    )
    message, fine = layer.loadNamedStyle(str(styles.STYLES / style))
    # both layers may be on: the edges say it, and the existing lines on request
    assert fine and layer.labelsEnabled() == (style == styles.COMPARED), message
    from qgis.core import QgsExpression, QgsExpressionContext, QgsExpressionContextUtils

    expression = QgsExpression(layer.labeling().settings().fieldName)
    assert layer.labeling().settings().isExpression and not expression.hasParserError()
    for values, text in (
        (("displaced", 0.42, 135.2), "0.42 m, 135°"),
        (("displaced", 0.42, None), "0.42 m"),
        (("agrees", 0.42, 135.0), None),
        (("displaced", None, None), None),
    ):
        feature = QgsFeature(layer.fields())
        feature.setAttributes(list(values))
        context = QgsExpressionContext(QgsExpressionContextUtils.globalProjectLayerScopes(layer))
        context.setFeature(feature)
        assert expression.evaluate(context) == text


def test_the_default_takes_the_shift_out_and_says_both_verdicts_first(tmp_path):
    shapes = [straight(10.0 * number) for number in range(6)]
    shapes += [shape[:, ::-1] + [60, 0] for shape in shapes]
    old = [shape + [0.4, -0.5] for shape in shapes]
    log, report = Log(), tmp_path / "report.html"
    result = compare(line_layer(shapes), line_layer(old, "old"), log, REPORT=str(report))
    assert set(statuses(result)) == {"agrees"}
    first = next(number for number, text in enumerate(log.infos) if "Displaced" in text)
    assert log.infos[first] == (
        "Displaced existing lines: 12 with the shift of the whole layer left in, 0 with it taken"
        " out. It was taken out."
    )
    assert not any("lines," in text for text in log.infos[:first])
    page = report.read_text(encoding="utf-8")
    verdicts = "Displaced with the shift left in: 12 existing lines; with it taken out: 0."
    assert page.index(verdicts) < page.index("<svg")
    assert "within 15 m of any edge" in page
    log = Log()
    result = compare(line_layer(shapes), line_layer(old, "old"), log, REMOVE_SHIFT=False)
    assert set(statuses(result)) == {"displaced"}
    assert any("12 with the shift" in text and "left in." in text for text in log.infos)
    log = Log()
    compare(line_layer(shapes), line_layer(shapes, "old"), log)
    assert any("There is no significant shift" in text for text in log.infos)


def test_update_retires_only_what_was_visited():
    edges, old = line_layer([straight(0.0)]), line_layer(EXISTING, "old")
    outputs = dict.fromkeys(("UPDATED", "CHANGES", "HELD"), "memory:")
    outputs["REMOVE_SHIFT"] = False
    result = run("updatebasemap", {"EXISTING": old, "EDGES": edges, **outputs})
    assert [row["update"] for row in table(result["UPDATED"])] == [
        "unchanged",
        "retired",
        "unchanged",
        "unchanged",
    ]
    area = area_layer((-10, -10, 20, 30))
    result = run("updatebasemap", {"EXISTING": old, "EDGES": edges, "AREA": area, **outputs})
    assert result["RETIRED"] == 0
    held = table(result["HELD"])
    assert len(held) == 1 and "50 % of it was visited" in held[0]["why"]


def test_places_to_revisit_leave_out_what_was_not_visited():
    existing = [straight(0.02), straight(8.0), straight(60.0), straight(8.5, (100.0, 160.0))]
    edges = line_layer([straight(0.0)], fields=(("sigma_cross", "double"),), values=[(0.01,)])
    area = area_layer((-10, -10, 50, 30), (100, 0, 112, 30))
    status = compare(edges, line_layer(existing, "old"), AREA=area)["EXISTING_STATUS"]
    found = run(
        "revisits",
        {"EDGES": edges, "EXISTING_STATUS": status, "OUTPUT": "memory:", "REASONS": "memory:"},
    )
    reasons = [row for row in table(found["REASONS"]) if row["kind"] == "no_edge"]
    assert sorted(row["source_id"] for row in reasons) == [2, 4]
    # of the line that was visited in part, the visited metres
    metres = sorted(row["metres"] for row in reasons)
    np.testing.assert_allclose(metres, [12, 40], atol=1.0)  # to half a station
