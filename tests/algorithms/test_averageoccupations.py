"""“Average occupations” as a user runs it: layers in, layers out."""

import numpy as np
import pytest
from qgis.core import QgsProcessingException, QgsProject, QgsVectorLayer, QgsWkbTypes
from walkedlayers import ORIGIN, START, Log, iso, layer_of, run, table, to_file

from curbwright.algorithms.averageoccupations import POINT_FIELDS, REJECTED_FIELDS, USED_FIELDS
from curbwright.algorithms.writing import styles
from curbwright.shared.epochs.reasons import OCCUPATION_REASONS

pytestmark = pytest.mark.usefixtures("provider")

PLACES = {"spot 1": (0.0, 0.0), "spot 2": (25.0, 4.0), "spot 3": (60.0, -8.0)}
GROSS = ("spot 2", 3)


def rows(epochs=8, seed=3, noise=0.006):
    """Epochs of three spot points, one of them gross, one float."""
    rng = np.random.default_rng(seed)
    made = []
    for number, (name, (x, y)) in enumerate(PLACES.items()):
        for epoch in range(epochs):
            east, north, up = rng.normal(0, noise, 3)
            if (name, epoch) == GROSS:
                east += 0.35
            made.append(
                {
                    "x": x + east,
                    "y": y + north,
                    "z": 4.0 + 1.5 * up,
                    "seconds": START + 300 * number + epoch,
                    "fix": 5 if (name, epoch) == ("spot 3", 0) else 4,
                    "h_acc": 0.008,
                    "capture": name,
                }
            )
    return made


def average(layer, log=None, **parameters):
    outputs = dict.fromkeys(("POINTS", "REJECTED", "USED"), "memory:")
    return run("averageoccupations", {"INPUT": layer, **outputs, **parameters}, log)


def places(layer):
    found = []
    for feature in layer.getFeatures():
        geometry = feature.geometry()
        found.append((geometry.constGet().x(), geometry.constGet().y(), geometry.constGet().z()))
    return np.array(found)


def test_three_spot_points():
    log = Log()
    result = average(layer_of(rows()), log)
    points = table(result["POINTS"])
    assert [new.name for new in POINT_FIELDS] == list(points[0]) and len(points) == result[
        "NUMBER_OF_POINTS"
    ] == 3
    assert result["POINTS"].wkbType() == QgsWkbTypes.Type.PointZ
    assert [row["capture"] for row in points] == list(PLACES) and [
        row["epochs"] for row in points
    ] == [8, 7, 7]
    # the float epoch of the third came before its first
    assert [row["rejected"] for row in points] == [0, 1, 0]
    np.testing.assert_allclose(
        places(result["POINTS"])[:, :2] - ORIGIN, list(PLACES.values()), atol=0.01
    )
    np.testing.assert_allclose(places(result["POINTS"])[:, 2], 4.0, atol=0.015)
    first = points[0]
    assert (
        first["duration"] == 7.0
        and first["started_unix"] == START
        and first["started"].toMSecsSinceEpoch() == START * 1000
    )
    assert 0.002 < first["sd_east"] < 0.012 and first["max_horizontal"] >= first["rms_horizontal"]
    assert (
        first["sigma_h"] == pytest.approx(np.hypot(first["sigma_east"], first["sigma_north"]))
        and 0.005 < first["sigma_east"] < 0.008
    )
    rejected, used = table(result["REJECTED"]), table(result["USED"])
    assert {(row["capture"], row["reason"]) for row in rejected} == {
        ("spot 2", "spike"),
        ("spot 3", "not_fixed"),
    }
    assert "0.3" in next(row["detail"] for row in rejected if row["reason"] == "spike")
    assert list(rejected[0])[-2:] == [new.name for new in REJECTED_FIELDS] and list(used[0])[
        -4:
    ] == [new.name for new in USED_FIELDS]
    assert (
        len(rejected) + len(used)
        == result["EPOCHS_READ"]
        == 24
        == result["EPOCHS_USED"] + result["EPOCHS_REJECTED"]
    )
    assert {row["capture"]: row["point_id"] for row in used} == {
        "spot 1": 1,
        "spot 2": 2,
        "spot 3": 3,
    }
    assert max(abs(row["residual_east"]) for row in used) < 0.03
    assert "Points: 3, of 7 to 8 epochs" in log.text and "spike: 1" in log.text


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857"])
def test_metres_whatever_the_crs(crs):
    from qgis.core import (
        QgsCoordinateReferenceSystem,
        QgsCoordinateTransform,
        QgsGeometry,
        QgsPoint,
    )

    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem("EPSG:32632"),
        QgsCoordinateReferenceSystem(crs),
        QgsProject.instance(),
    )

    def place(x, y, z):
        made = QgsGeometry(QgsPoint(ORIGIN[0] + x, ORIGIN[1] + y, z))
        made.transform(way)
        return made

    here, there = (
        table(average(layer)["POINTS"])
        for layer in (layer_of(rows()), layer_of(rows(), crs=crs, place=place))
    )
    for one, other in zip(here, there):
        assert other["epochs"] == one["epochs"]
        for name in ("sd_east", "sd_north", "rms_horizontal", "sigma_east", "sigma_up"):
            assert other[name] == pytest.approx(one[name], rel=0.02), name


def test_order_of_rows_and_files_do_not_matter(tmp_path):
    made = rows()
    shuffled = [made[k] for k in np.random.default_rng(1).permutation(len(made))]
    found = [
        average(layer)
        for layer in (
            layer_of(made),
            layer_of(shuffled),
            to_file(layer_of(shuffled), tmp_path / "spots.gpkg"),
        )
    ]
    first = places(found[0]["POINTS"])
    for other in found[1:]:
        np.testing.assert_allclose(places(other["POINTS"]), first, atol=1e-9)
        assert [row["sigma_east"] for row in table(other["POINTS"])] == pytest.approx(
            [row["sigma_east"] for row in table(found[0]["POINTS"])]
        )


def test_without_captures_time_and_place_tell():
    layer = layer_of(
        rows(),
        fields=(("time", "string"), ("fix", "integer")),
        values=lambda row: [iso(row["seconds"]), row["fix"]],
    )
    result = average(layer)
    assert [row["epochs"] for row in table(result["POINTS"])] == [8, 7, 7]
    np.testing.assert_allclose(
        places(result["POINTS"])[:, :2] - ORIGIN, list(PLACES.values()), atol=0.01
    )


def test_stops_on_a_walk():
    rng = np.random.default_rng(4)
    at = np.concatenate([np.arange(20.0), np.full(12, 20.0), np.arange(20.0, 40.0)]) * 1.2
    walk = [
        {
            "x": float(x + rng.normal(0, 0.006)),
            "y": float(rng.normal(0, 0.006)),
            "z": 3.0,
            "seconds": START + k,
            "fix": 4,
            "h_acc": 0.008,
            "capture": "walk",
        }
        for k, x in enumerate(at)
    ]
    result = average(layer_of(walk))
    (row,) = table(result["POINTS"])
    assert row["epochs"] == pytest.approx(13, abs=1) and {
        one["reason"] for one in table(result["REJECTED"])
    } == {"moving"}
    log = Log()
    assert average(layer_of(walk), log, MIN_DWELL=30)["NUMBER_OF_POINTS"] == 0
    assert any(
        "“quay walk” gives no point" in text and "Minimum duration of a stop" in text
        for text in log.warnings
    )


def test_the_least_number_of_epochs():
    result = average(layer_of(rows(3)), MIN_EPOCHS=3)
    # the third lost one to a float solution
    assert [row["capture"] for row in table(result["POINTS"])] == ["spot 1", "spot 2"]
    assert {row["reason"] for row in table(result["REJECTED"])} == {"too_few", "not_fixed"}


def test_without_heights():
    log = Log()
    from qgis.core import QgsGeometry, QgsPointXY

    layer = layer_of(
        rows(),
        "Point",
        place=lambda x, y, z: QgsGeometry.fromPointXY(QgsPointXY(ORIGIN[0] + x, ORIGIN[1] + y)),
    )
    points = table(average(layer, log)["POINTS"])
    assert all(
        row["sd_up"] is None or row["sd_up"] != row["sd_up"] or not row["sd_up"] for row in points
    ) and any("no epoch has a height" in text.lower() for text in log.warnings)


# Bad input


def refused(layer, tmp_path, **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        run(
            "averageoccupations",
            {
                "INPUT": layer,
                "POINTS": str(tmp_path / "points.gpkg"),
                "REJECTED": str(tmp_path / "rejected.gpkg"),
                **parameters,
            },
        )
    assert list(tmp_path.iterdir()) == []
    return str(raised.value)


def test_empty_layer(tmp_path):
    assert "“quay walk” is empty" in refused(layer_of([]), tmp_path)


@pytest.mark.parametrize(
    "parameter",
    ["TIME_FIELD", "CAPTURE_FIELDS", "FIX_FIELD", "H_ACCURACY_FIELD", "V_ACCURACY_FIELD"],
)
def test_field_that_is_not_there(tmp_path, parameter):
    message = refused(layer_of(rows()), tmp_path, **{parameter: "nope"})
    assert (
        "“quay walk” has no field “nope”" in message
        and "It has: time, fix, h_acc, capture." in message
    )


def test_nothing_fixed(tmp_path):
    message = refused(layer_of([{**row, "fix": 1} for row in rows()]), tmp_path)
    for piece in ("“quay walk”: all 24 epochs were rejected", "“not_fixed”", "field “fix”"):
        assert piece in message


def test_accuracy_in_millimetres(tmp_path):
    message = refused(layer_of([{**row, "h_acc": 8.0} for row in rows()]), tmp_path)
    assert "“poor_accuracy”" in message and "“h_acc” is 8" in message


@pytest.mark.parametrize("percent", [0, 20, 60])
def test_cancel(percent):
    log = Log(cancel_at=percent)
    if not percent:
        log.cancel()
    assert average(layer_of(rows()), log) == {}


# Looks


def test_every_reason_has_a_look_of_its_own():
    layer = QgsVectorLayer("Point?field=reason:string", "l", "memory")
    message, fine = layer.loadNamedStyle(str(styles.STYLES / styles.NOT_AVERAGED))
    assert fine, message
    looks = {}
    for category in layer.renderer().categories():
        marker = category.symbol().symbolLayer(0)
        looks[category.value()] = (marker.shape(), marker.size())  # shape, not colour: grey print
    # reasons of walked edges
    never = {"", "backtrack", "too_short", "unconfirmed", "left_out"}
    assert set(looks) == set(OCCUPATION_REASONS) - never and len(set(looks.values())) == len(looks)


def test_loaded_layers_are_styled(qgis_new_project):
    import processing

    layer = layer_of(rows())
    QgsProject.instance().addMapLayer(layer)
    results = processing.runAndLoadResults(
        "curbwright:averageoccupations",
        {"INPUT": layer, "POINTS": "memory:", "REJECTED": "memory:", "USED": "memory:"},
    )
    loaded = {
        key: QgsProject.instance().mapLayer(results[key]) for key in ("POINTS", "REJECTED", "USED")
    }
    assert {key: one.name() for key, one in loaded.items()} == {
        "POINTS": "Averaged points of quay walk",
        "REJECTED": "Rejected epochs of quay walk",
        "USED": "Epochs used of quay walk",
    }
    assert [loaded[key].renderer().type() for key in ("POINTS", "REJECTED", "USED")] == [
        "RuleRenderer",
        "categorizedSymbol",
        "categorizedSymbol",
    ]
    rules = loaded["POINTS"].renderer().rootRule().children()
    assert len({rule.symbol().symbolLayer(0).shape() for rule in rules}) == len(rules) == 2
