"""Two CRS that a rough operation joins: every algorithm that brings layers together says so."""

import numpy as np
import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsVectorLayer,
)
from walkedlayers import Log, run

pytestmark = pytest.mark.usefixtures("provider")
BASEMAP, REALISATION, ENSEMBLE = "EPSG:6341", "EPSG:9000", "EPSG:4326"
E0, N0 = 440_000.0, 3_700_000.0  # UTM zone 12N, Arizona


def moved(geometry, source, target):
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(source),
        QgsCoordinateReferenceSystem(target),
        QgsCoordinateTransformContext(),
    )
    assert geometry.transform(way) == 0
    return geometry


def layer_of(shapes, crs, name, kind="LineString", surveyed_in=None):
    """Shapes in metres of the basemap's zone; `surveyed_in`, the CRS that the coordinates really
    are in, whatever the layer's label says."""
    layer = QgsVectorLayer(f"{kind}?crs={crs}", name, "memory")
    for shape in shapes:
        text = ", ".join(" ".join(map(str, (E0 + x, N0 + y, *z))) for x, y, *z in shape)
        geometry = QgsGeometry.fromWkt(f"{kind} ({text})")
        if surveyed_in or crs != BASEMAP:
            moved(geometry, BASEMAP, surveyed_in or crs)
        feature = QgsFeature(layer.fields())
        feature.setGeometry(geometry)
        assert layer.dataProvider().addFeatures([feature])[0]
    return layer


SHAPES = [[(20.0 * k, 0), (20.0 * k, 15)] for k in range(8)]
SHAPES += [[(0, 30 + 20.0 * k), (40, 30 + 20.0 * k)] for k in range(8)]


@pytest.fixture
def layers(provider):
    """Nothing moved: edges in ITRF2014, labelled WGS 84, and a basemap in NAD83(2011)."""
    return (
        layer_of(SHAPES, ENSEMBLE, "edges", surveyed_in=REALISATION),
        layer_of(SHAPES, BASEMAP, "old"),
    )


def assert_warned(texts, times=1):
    told = [text for text in texts if "are joined by the operation" in text]
    assert len(told) == times, texts
    assert all("2 m" in text and "realisation" in text and "WGS 84" in text for text in told)


def test_the_comparison_warns_and_repeats_it_beside_the_shift(layers, tmp_path):
    log, report = Log(), tmp_path / "report.html"
    result = run(
        "compareedges",
        {"INPUT": layers[0], "EXISTING": layers[1], "OUTPUT": "memory:", "REPORT": str(report)},
        log,
    )
    # by which nothing moved
    assert np.hypot(result["SHIFT_EAST"], result["SHIFT_NORTH"]) > 0.5
    assert_warned(log.warnings, 2)
    page = report.read_text(encoding="utf-8")
    lead, shift = page.index("As a whole"), page.rindex("Test value")
    assert page.count("are joined by the operation") == 3
    assert lead < page.index("are joined by the operation") < shift
    assert page.find("are joined by the operation", shift) > 0


@pytest.mark.parametrize(
    ("name", "given", "times"),
    [
        ("estimateshift", ("INPUT", "EXISTING", "OUTPUT"), 2),
        ("updatebasemap", ("EDGES", "EXISTING", "UPDATED"), 1),
    ],
)
def test_shift_and_update_warn(layers, name, given, times):
    log = Log()
    run(name, dict(zip(given, (*layers, "memory:"))), log)
    assert_warned(log.warnings, times)


def test_curb_height_warns(layers):
    log = Log()
    curbs = [[[(x + aside, y, up) for x, y in shape] for shape in SHAPES[:8]]
             for aside, up in ((0.0, 10.1), (0.2, 10.0))]  # fmt: skip
    edges = layer_of(curbs[0], ENSEMBLE, "edges", "LineStringZ")
    flow = layer_of(curbs[1], BASEMAP, "flow", "LineStringZ")
    run("curbheight", {"INPUT": edges, "FLOW_LINE": flow, "OUTPUT": "memory:",
                       "MAX_DISTANCE": 2.0}, log)  # fmt: skip
    assert_warned(log.warnings)


def test_check_points_warn(layers):
    log = Log()
    points = layer_of([[(20.0 * k, 5.0)] for k in range(8)], BASEMAP, "checks", "Point")
    run(
        "checkaccuracy",
        {"INPUT": layers[0], "CHECK_POINTS": points, "OUTPUT": "memory:", "SEARCH_DISTANCE": 3.0},
        log,
    )
    assert_warned(log.warnings)


def test_places_to_revisit_warn(layers):
    edges = QgsVectorLayer(f"LineString?crs={ENSEMBLE}&field=sigma_cross:double", "edges", "memory")
    features = []
    for feature in layers[0].getFeatures():
        row = QgsFeature(edges.fields())
        row.setGeometry(feature.geometry())
        row.setAttributes([0.5])
        features.append(row)
    assert edges.dataProvider().addFeatures(features)[0]
    outputs = dict.fromkeys(("OUTPUT", "EXISTING_STATUS"), "memory:")
    status = run("compareedges", {"INPUT": layers[0], "EXISTING": layers[1], **outputs})
    log = Log()
    run(
        "revisits",
        {"EDGES": edges, "EXISTING_STATUS": status["EXISTING_STATUS"], "OUTPUT": "memory:"},
        log,
    )
    assert_warned(log.warnings)


def test_one_datum_is_not_warned_of():
    log = Log()
    edges, old = layer_of(SHAPES, "EPSG:6318", "edges"), layer_of(SHAPES, BASEMAP, "old")
    run("compareedges", {"INPUT": edges, "EXISTING": old, "OUTPUT": "memory:"}, log)
    assert not any("joined by" in text for text in log.warnings)
