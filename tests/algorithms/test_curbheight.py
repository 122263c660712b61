"""Curb heights through the host: known heights from every CRS, fields, words, bad input."""

import numpy as np
import pytest
from linelayers import line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import (
    QgsApplication,
    QgsExpression,
    QgsExpressionContext,
    QgsFeature,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
)
from walkedlayers import Log, run, table

from curbwright.algorithms.writing import styles

pytestmark = pytest.mark.usefixtures("provider")
FIELDS = (("name", "string"), ("sigma_up", "double"))
TOP = np.array([(0, 0, 3.13), (20, 0, 3.13), (22, 0, 3.01), (30, 0, 3.01)])
FOOT = np.array([(30, -0.03, 3.0), (0, -0.03, 3.0)])


def layers(crs="EPSG:32632", flow_crs=None, sigma=0.012):
    return (
        line_layer(
            [TOP, TOP + [0, 50, 0]],
            "tops",
            "LineStringZ",
            crs,
            FIELDS,
            [("north", sigma), ("south", sigma)],
        ),
        line_layer([FOOT], "feet", "LineStringZ", flow_crs or crs, FIELDS, [("foot", sigma)]),
    )


def measure(tops, feet, log=None, **parameters):
    return run(
        "curbheight",
        {
            "INPUT": tops,
            "FLOW_LINE": feet,
            "OUTPUT": "memory:",
            "STATIONS": "memory:",
            **parameters,
        },
        log,
    )


def test_parameters():
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:curbheight")
    definitions = {parameter.name(): parameter for parameter in own.parameterDefinitions()}
    assert set(definitions) == {
        "INPUT",
        "FLOW_LINE",
        "MIN_HEIGHT",
        "MAX_HEIGHT",
        "MAX_DISTANCE",
        "STATION_SPACING",
        "SIGMA",
        "OUTPUT",
        "STATIONS",
    }
    # common practice, named in the help
    assert (definitions["MIN_HEIGHT"].defaultValue(), definitions["MAX_HEIGHT"].defaultValue()) == (
        0.10,
        0.15,
    )
    assert (
        "below the vertical noise" in own.shortHelpString()
        and "not for stake-out" in own.shortHelpString()
    )


def test_heights_at_stations_and_of_lines():
    log = Log()
    result = measure(*layers(), log)
    stations = table(result["STATIONS"])
    assert {row["top"] for row in stations} == {"north"} and {row["flow"] for row in stations} == {
        "foot"
    }
    high = [row for row in stations if row["chainage"] < 20]
    low = [row for row in stations if row["chainage"] > 22.2]
    assert all(
        row["state"] == "within"
        and row["height"] == pytest.approx(0.13, abs=1e-6)
        and not row["certain"]
        for row in high
    )
    assert (
        all(
            row["state"] == "low"
            and row["height"] == pytest.approx(0.01, abs=1e-6)
            and row["certain"]
            for row in low
        )
        and low
    )
    assert all(
        row["distance"] == pytest.approx(0.03, abs=1e-4)
        and row["sigma"] == pytest.approx(0.012 * 2**0.5)
        for row in stations
    )
    north, south = table(result["OUTPUT"])
    assert (
        north["name"] == "north"
        and north["measured"] == north["stations"] == len(stations)
        and north["outside"] == result["OUTSIDE"] > 0
    )
    assert (
        north["height_max"] == pytest.approx(0.13)
        and north["height_min"] == pytest.approx(0.01)
        and north["sigma_height"] == pytest.approx(0.017, abs=1e-4)
    )
    assert (
        south["measured"] == 0
        and south["stations"] == north["stations"]
        and not isinstance(south["height_mean"], float)
    )
    assert result["MEASURED"] == len(stations) and result["HEIGHT_MEAN"] == pytest.approx(
        np.mean([row["height"] for row in stations])
    )
    assert "Outside the range" in log.text


@pytest.mark.parametrize(
    ("crs", "flow_crs"),
    [
        ("EPSG:4326", None),
        ("EPSG:3857", None),
        ("EPSG:32632", "EPSG:4326"),
        ("EPSG:32631", "EPSG:32632"),
    ],
)
def test_the_same_from_every_crs(crs, flow_crs):
    home, there = (
        table(measure(*layers())["STATIONS"]),
        table(measure(*layers(crs, flow_crs))["STATIONS"]),
    )
    assert len(home) == len(there)
    for mine, theirs in zip(there, home):
        assert mine["state"] == theirs["state"]
        for name, off in (
            ("height", 1e-6),
            ("distance", 1e-4),
            ("chainage", 1e-3),
            ("sigma", 1e-9),
        ):
            assert mine[name] == pytest.approx(theirs[name], abs=off), name


def test_lines_without_a_sigma_take_the_usual_one():
    tops, feet = layers(sigma=None)
    assert_allclose(
        [row["sigma"] for row in table(measure(tops, feet, SIGMA=0.03)["STATIONS"])], 0.03 * 2**0.5
    )
    log = Log()
    assert_allclose(
        [row["sigma"] for row in table(measure(*layers(sigma=12.0), log)["STATIONS"])],
        0.015 * 2**0.5,
    )
    assert sum("cannot be the uncertainty" in text for text in log.warnings) == 2


def test_heights_that_no_curb_has_are_said():
    tops, feet = layers()
    high = line_layer([TOP * (1, 1, 1000.0)], "tops", "LineStringZ", "EPSG:32632")
    log = Log()
    measure(high, feet, log)
    assert any("which no curb is" in text and "“feet”" in text for text in log.warnings)
    log = Log()
    measure(tops, feet, log)
    assert not any("which no curb is" in text for text in log.warnings)


def test_layers_taken_for_each_other_and_far_apart():
    tops, feet = layers()
    log = Log()
    measure(feet, tops, log)
    assert any("taken for each other" in text for text in log.warnings)
    log = Log()
    result = measure(tops, line_layer([FOOT + [0, 500, 0]], "feet", "LineStringZ"), log)
    assert result["MEASURED"] == 0 and any(
        "No line of “feet” runs along one of “tops”" in text
        and "“Maximum distance of the flow line (m)”" in text
        for text in log.warnings
    )


def refused(*sides, **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        measure(*sides, **parameters)
    return str(raised.value)


def test_bad_input():
    tops, feet = layers()
    flat = line_layer([straight(0.0)], "flat")
    assert "“flat” holds no lines with heights" in refused(
        flat, feet
    ) and "“Flow lines”" in refused(tops, flat)
    assert "“Minimum nominal height (m)” must be less" in refused(tops, feet, MIN_HEIGHT=0.2)
    empty = line_layer([], "none", "LineStringZ")
    assert "both empty" in refused(empty, empty)


@pytest.mark.parametrize("percent", [1, 36, 78])
def test_cancel(percent):
    own = QgsApplication.processingRegistry().createAlgorithmById("curbwright:curbheight")
    context, log = QgsProcessingContext(), Log(cancel_at=percent)
    context.setProject(QgsProject.instance())
    tops, feet = layers()
    results, fine = own.run(
        {"INPUT": tops, "FLOW_LINE": feet, "OUTPUT": "memory:", "STATIONS": "memory:"}, context, log
    )
    assert fine and results == {}


def labels_of(layer, **values):
    """Labels of the rules of a layer's style that draw a row."""
    row, context = QgsFeature(layer.fields()), QgsExpressionContext()
    for name, value in values.items():
        row[name] = value
    context.setFeature(row)
    return [
        rule.label()
        for rule in layer.renderer().rootRule().children()
        if QgsExpression(rule.filterExpression()).evaluate(context)
    ]


@pytest.mark.parametrize("certainly", ["outside_certain", "outside_ce"])
def test_what_noise_explains_is_drawn_as_no_fault(certainly):
    """A curb as high as the limit is above it at every other station. A Shapefile keeps ten
    characters of a field's name."""
    tops = QgsVectorLayer(
        f"LineString?field=outside:integer&field={certainly}:integer&field=measured:integer",
        "tops",
        "memory",
    )
    stations = QgsVectorLayer("Point?field=state:string&field=certain:boolean", "at", "memory")
    for layer, name in ((tops, styles.CURB_HEIGHTS), (stations, styles.HEIGHT_STATIONS)):
        message, fine = layer.loadNamedStyle(str(styles.STYLES / name))
        assert fine, message
    doubt = "Outside the range, within the uncertainty"
    for outside, certain, label in (
        (3, 1, "Somewhere outside the range"),
        (3, 0, doubt),
        (0, 0, "Within the range"),
    ):
        found = labels_of(tops, **{"outside": outside, certainly: certain, "measured": 9})
        assert found == [label]
    for state, certain, label in (
        ("high", True, "Higher than the range"),
        ("low", True, "Lower than the range"),
        ("high", False, f"{doubt} (from 1:500)"),
        ("within", False, "Within the range (from 1:500)"),
        ("no_height", None, "Without height (from 1:500)"),
    ):
        assert labels_of(stations, state=state, certain=certain) == [label]
    looks = [
        (rule.symbol().symbolLayer(0).shape(), rule.symbol().symbolLayer(0).angle())
        for rule in stations.renderer().rootRule().children()
    ]
    assert len(set(looks)) == len(looks) == 5  # shape, not colour: grey print
