"""Operations between CRS: which are good enough, and what is said of the others."""

import math

import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
)

from curbwright.algorithms.reading.operations import (
    Operation,
    _one_datum,
    in_words,
    operation_of,
    warning_of,
)

pytestmark = pytest.mark.usefixtures("qgis_app")


def operation(source, target):
    crs = (QgsCoordinateReferenceSystem(code) for code in (source, target))
    return operation_of(QgsCoordinateTransform(*crs, QgsCoordinateTransformContext()))


@pytest.mark.parametrize("code", ["EPSG:4326", "EPSG:25832", "EPSG:2263"])
def test_one_crs_needs_no_operation(code):
    assert operation(code, code) is None
    assert warning_of(None, ("a", "b")) == ""


@pytest.mark.parametrize(
    ("source", "target", "one"),
    [
        ("EPSG:3857", "EPSG:4326", True),
        ("EPSG:25832", "EPSG:4258", True),
        ("EPSG:4326", "EPSG:32632", True),
        ("EPSG:4326", "EPSG:25832", False),
        ("EPSG:4326", "EPSG:4277", False),
    ],
)
def test_a_conversion_on_one_datum_is_known_as_such(source, target, one):
    """Later PROJ states no accuracy of it."""
    crs = [QgsCoordinateReferenceSystem(code) for code in (source, target)]
    assert _one_datum(crs) is one


@pytest.mark.parametrize(
    ("source", "target"),
    [
        # on one datum nothing is lost
        ("EPSG:32631", "EPSG:32632"),
        ("EPSG:3857", "EPSG:4326"),
        ("EPSG:25832", "EPSG:4258"),
        # ITRF2014 to NAD83(2011), EPSG operation 8970, stated accuracy 0 m (EPSG dataset)
        ("EPSG:7789", "EPSG:6318"),
    ],
)
def test_good_operations_are_not_warned_of(source, target):
    found = operation(source, target)
    assert found.accuracy <= 0.1 and not found.doubtful
    assert warning_of(found, ("edges", "basemap")) == ""


@pytest.mark.parametrize(
    ("source", "target", "how"),
    [
        ("EPSG:32631", "EPSG:32632", "without loss"),
        ("EPSG:4326", "EPSG:6318", "stated accuracy 2 m"),
        ("EPSG:2263", "EPSG:6538", "no datum shift is applied (“ballpark”)"),
    ],
)
def test_reports_say_what_was_transformed_and_how_well(source, target, how):
    crs = [QgsCoordinateReferenceSystem(code) for code in (source, target)]
    said = in_words(QgsCoordinateTransform(*crs, QgsCoordinateTransformContext()))
    assert said.startswith(source) and f" to {target}" in said and said.endswith(how)
    same = QgsCoordinateTransform(crs[0], crs[0], QgsCoordinateTransformContext())
    assert in_words(same) == ""


def test_an_ensemble_against_a_realisation_is_asked_about():
    """WGS 84 against NAD83(2011): a metre or two apart by the EPSG dataset's own word (2 m)."""
    found = operation("EPSG:4326", "EPSG:6318")
    assert found.doubtful and found.accuracy == 2.0
    text = warning_of(found, ("edges", "basemap"))
    for part in ("“edges” and “basemap”", "2 m", "WGS 84", "realisation", "epoch"):
        assert part in text, text


def test_a_ballpark_operation_is_called_so():
    found = operation("EPSG:2263", "EPSG:6538")  # NAD83 against NAD83(2011), in New York
    assert found.ballpark and found.doubtful and math.isnan(found.accuracy)
    assert "ballpark" in warning_of(found, ("edges", "basemap"))


def test_better_operations_that_lack_a_grid_are_named():
    """The national grid of Great Britain by its own grid file is good to 0.1 m or 1 m."""
    found = operation("EPSG:27700", "EPSG:4326")
    if not found.better:
        pytest.skip("this machine has the grid")
    assert found.better[0][2] and all(accuracy < found.accuracy for _, accuracy, _ in found.better)
    assert found.better[0][2][0] in warning_of(found, ("edges", "basemap"))


@pytest.mark.parametrize(
    ("accuracy", "ballpark", "doubtful"),
    [
        (0.0, False, False),
        (0.1, False, False),
        (0.11, False, True),
        (math.nan, False, True),
        (0.0, True, True),
    ],
)
def test_what_is_doubtful(accuracy, ballpark, doubtful):
    made = Operation("op", accuracy, ballpark, (), ())
    assert made.doubtful is doubtful
    assert bool(warning_of(made, ("a", "b"))) is doubtful
