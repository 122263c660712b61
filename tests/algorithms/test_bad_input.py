"""Bad input: each a clear error or warning that names layer, field and remedy, and nothing half
written."""

import sqlite3
from contextlib import closing

import pytest
from qgis.core import (
    QgsApplication,
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingOutputLayerDefinition,
    QgsProperty,
    QgsRemappingSinkDefinition,
    QgsVectorLayer,
)
from qgis.PyQt.QtCore import QTime
from walkedlayers import Log, iso, layer_of, reconstruct, run, table, to_file, walk

from curbwright.algorithms.base import epoch_algorithm
from curbwright.algorithms.writing import sinks

pytestmark = pytest.mark.usefixtures("provider")
ALGORITHMS = ["reconstructedges", "screenepochs"]


@pytest.fixture(params=ALGORITHMS)
def refused(request, tmp_path):
    """Runs an algorithm that must refuse, and looks that no file was written; gives the message."""

    def attempt(layer, **parameters):
        outputs = {name: str(tmp_path / f"{name}.gpkg") for name in ("OUTPUT", "REJECTED")}
        with pytest.raises(QgsProcessingException) as raised:
            run(request.param, {"INPUT": layer, **outputs, **parameters})
        assert list(tmp_path.iterdir()) == []
        return str(raised.value)

    return attempt


def says(message, *pieces):
    for piece in pieces:
        assert piece in message, f"{piece!r} is not in {message!r}"


def with_values(
    changes, fields=(("time", "string"), ("fix", "string"), ("h_acc", "string"), ("note", "string"))
):
    """A walk whose rows are changed by functions of row and index."""
    rows = walk(captures=1)

    def values(row):
        index = rows.index(row)
        usual = {
            "time": iso(row["seconds"]),
            "fix": str(row["fix"]),
            "h_acc": str(row["h_acc"]),
            "note": "n",
        }
        usual.update({name: change(row, index) for name, change in changes.items()})
        return [usual[name] for name, _ in fields]

    return layer_of(rows, fields=fields, values=values)


def test_empty_layer(refused):
    says(refused(layer_of([])), "“quay walk” is empty", "filter")


def test_table_without_positions(refused):
    layer = QgsVectorLayer("None?field=time:string&field=x:double", "bare table", "memory")
    says(refused(layer), "“bare table” has no point geometry", "Create points layer from table")


def test_polygons_of_a_map(refused):
    layer = QgsVectorLayer("Polygon?crs=EPSG:32632", "blocks", "memory")
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt("Polygon ((0 0, 60 0, 60 40, 0 40, 0 0))"))
    layer.dataProvider().addFeatures([feature])
    says(refused(layer), "“blocks”: is this a stream of epochs?", "median", "TAKE_AS_STREAM")


def test_lines_with_a_time_field(refused):
    layer = QgsVectorLayer("LineStringZM?crs=EPSG:32632&field=time:string", "lines", "memory")
    feature = QgsFeature(layer.fields())
    feature.setGeometry(QgsGeometry.fromWkt("LineStringZM (0 0 0 1, 1 1 1 2)"))
    layer.dataProvider().addFeatures([feature])
    says(refused(layer, TIME_FIELD="time"), "“lines”", "“time”", "“Time”", "M values")


@pytest.mark.parametrize(
    "parameter",
    ["TIME_FIELD", "FIX_FIELD", "H_ACCURACY_FIELD", "V_ACCURACY_FIELD", "CAPTURE_FIELDS"],
)
def test_field_that_is_not_there(refused, parameter):
    labels = {
        "TIME_FIELD": "Time",
        "FIX_FIELD": "Fix",
        "H_ACCURACY_FIELD": "Horizontal accuracy",
        "V_ACCURACY_FIELD": "Vertical accuracy",
        "CAPTURE_FIELDS": "Capture",
    }
    says(
        refused(layer_of(walk()), **{parameter: "nope"}),
        "“quay walk” has no field “nope”",
        f"“{labels[parameter]}”",
        "It has: time, fix, h_acc, capture.",
    )


def test_no_field_of_time(refused):
    layer = layer_of(
        walk(),
        fields=(("fix", "integer"), ("note", "string")),
        values=lambda row: [row["fix"], "x"],
    )
    says(refused(layer), "“quay walk” has no field that looks like a time", "“Time”", "fix, note")


@pytest.mark.parametrize("value", ["noon", "10:00:00", "04/05/2026 10:00", "2026-13-45T00:00:00Z"])
def test_no_usable_time(refused, value):
    says(
        refused(with_values({"time": lambda row, index: value}), TIME_FIELD="time"),
        "“quay walk”",
        "“time”",
        f"“{value}”",
        "2026-05-04T10:00:00Z",
    )


def test_time_that_is_empty(refused):
    says(
        refused(with_values({"time": lambda row, index: None}), TIME_FIELD="time"),
        "“quay walk”",
        "“time” holds no time in any row",
    )


def test_time_of_day_is_no_time(refused):
    layer = layer_of(
        walk(),
        fields=(("clock", "time"),),
        values=lambda row: [QTime(10, 0, int(row["seconds"]) % 60)],
    )
    says(refused(layer, TIME_FIELD="clock"), "“quay walk”", "“clock”", "can be read")


def test_some_unreadable_times_are_counted_and_named():
    log = Log()
    layer = with_values({"time": lambda row, index: "at ten" if index < 3 else iso(row["seconds"])})
    result = reconstruct(layer, log)
    assert any(
        "Times in field “time” that cannot be read: 3, for example “at ten”." in text
        for text in log.warnings
    )
    assert sum(row["reason"] == "no_time" for row in table(result["REJECTED"])) == 3


def test_two_fields_of_time(refused):
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("timestamp", "string")),
        values=lambda row: [iso(row["seconds"]), iso(row["seconds"] * 1.1)],
    )
    says(refused(layer), "“quay walk”", "“time” and “timestamp”", "“Time”")


def test_two_fields_of_fix(refused):
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("fix", "integer"), ("solution", "string")),
        values=lambda row: [iso(row["seconds"]), row["fix"], "float"],
    )
    says(refused(layer), "“quay walk”", "“fix” and “solution”", "“Fix”")


def test_two_fields_of_accuracy_are_a_warning():
    log = Log()
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("hacc", "double"), ("hrms", "double")),
        values=lambda row: [iso(row["seconds"]), 0.01, 0.02],
    )
    assert reconstruct(layer, log)["EDGES"] > 0
    assert any(
        "“hacc” and “hrms”" in text and "“Horizontal accuracy”" in text for text in log.warnings
    )


def test_text_where_numbers_belong(refused):
    layer = with_values({"h_acc": lambda row, index: "good" if index != 17 else "0.01"})
    says(
        refused(layer, H_ACCURACY_FIELD="h_acc"),
        "“quay walk”",
        "“h_acc” holds text",
        "“Horizontal accuracy”",
        "“good”",
        "(rows: 59)",
        "metres",
    )


def test_words_for_no_number_are_no_number():
    layer = with_values(
        {"h_acc": lambda row, index: ["nan", " N/A", "NULL", "-"][index] if index < 4 else "0.01"}
    )
    result = reconstruct(layer, H_ACCURACY_FIELD="h_acc")
    assert "poor_accuracy" not in {row["reason"] for row in table(result["REJECTED"])}


def test_date_where_numbers_belong(refused):
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("day", "date")),
        values=lambda row: [iso(row["seconds"]), None],
    )
    says(
        refused(layer, V_ACCURACY_FIELD="day"),
        "“quay walk”",
        "“day” holds no numbers",
        "“Vertical accuracy”",
    )


def test_numbers_as_text_are_numbers():
    result = reconstruct(with_values({}))
    assert sum(row["reason"] == "poor_accuracy" for row in table(result["REJECTED"])) == 1


@pytest.mark.parametrize(
    ("changes", "parameters", "pieces"),
    [
        pytest.param(
            {"fix": lambda row, index: "5"},
            {},
            ("60 of them as “not_fixed”", "“Fix”", "“fix”", "Values that mean fixed"),
            id="float",
        ),
        pytest.param(
            {"h_acc": lambda row, index: "8"},
            {},
            ("57 of them as “poor_accuracy”", "“h_acc” is 8", "another unit"),
            id="millimetres",
        ),
    ],
)
def test_all_rejected(refused, changes, parameters, pieces):
    says(
        refused(with_values(changes), **parameters),
        "“quay walk”: all 60 epochs were rejected",
        *pieces,
    )


def test_all_without_position(refused):
    says(
        refused(layer_of([{**row, "x": None} for row in walk(captures=1)])),
        "all 60 epochs were rejected",
        "“no_position”",
        "geometry",
    )


def test_a_single_epoch_is_a_warning():
    log = Log()
    result = reconstruct(layer_of(walk(captures=1)[:1]), log)
    assert (
        result["EPOCHS_READ"],
        result["EDGES"],
        result["OUTPUT"].featureCount(),
        result["GAPS"].featureCount(),
    ) == (1, 0, 0, 0)
    assert [row["reason"] for row in table(result["REJECTED"])] == ["too_short"]
    assert any(
        "“quay walk” gives no edge" in text and "Minimum length" in text for text in log.warnings
    )


def test_no_crs():
    log = Log()
    result = reconstruct(layer_of(walk(), crs=None), log)
    assert result["EDGES"] > 0
    assert any("no CRS" in text and "plane metres" in text for text in log.warnings)


def test_no_crs_and_degrees(refused):
    layer = layer_of(
        walk(),
        crs=None,
        place=lambda x, y, z: QgsGeometry(QgsPoint(9 + x * 1e-5, 55 + y * 1e-5, z)),
    )
    says(refused(layer), "“quay walk”", "look like degrees", "Assign its CRS")


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:2263"])
def test_working_crs_that_is_not_metric(refused, crs):
    says(refused(layer_of(walk()), WORKING_CRS=crs), "Working CRS", "not a projected CRS in metres")


def test_no_fixed_values(refused):
    says(
        refused(layer_of(walk()), FIXED_VALUES=" , "),
        "Values that mean fixed",
        "at least one value",
    )


@pytest.mark.parametrize(
    ("parameter", "value"),
    [("MAX_H_ACCURACY", -1), ("MAX_TIME_GAP", -1), ("MAX_DISTANCE_GAP", -0.1)],
)
def test_numbers_out_of_range(refused, parameter, value):
    says(refused(layer_of(walk()), **{parameter: value}), parameter)


@pytest.mark.parametrize(
    ("parameter", "value"),
    [("TOLERANCE", 0), ("CORNER_ANGLE", 0), ("CORNER_ANGLE", 200), ("MIN_LENGTH", -1)],
)
def test_numbers_out_of_range_of_the_fit(parameter, value):
    with pytest.raises(QgsProcessingException, match=parameter):
        run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": "memory:", parameter: value})


def test_a_sink_that_cannot_be_made_stops_before_anything_is_written(tmp_path):
    (tmp_path / "a file").write_text("where a folder would be needed", encoding="utf-8")
    parameters = {
        "INPUT": layer_of(walk()),
        "OUTPUT": str(tmp_path / "edges.gpkg"),
        "KEPT": str(tmp_path / "a file" / "kept.gpkg"),
    }
    with pytest.raises(QgsProcessingException, match=r"kept\.gpkg"):
        run("reconstructedges", parameters)
    assert [path.name for path in tmp_path.iterdir()] == ["a file"]


@pytest.mark.parametrize("algorithm", ALGORITHMS)
@pytest.mark.parametrize("percent", [0, 20, 36, 60, 82, 95])
@pytest.mark.parametrize("form", ["gpkg", "shp", "csv"])
def test_cancel(algorithm, percent, form, tmp_path, monkeypatch):
    """Nothing half is left of files, whenever it comes."""
    monkeypatch.setattr(sinks, "BLOCK", 10)  # a look at the cancel button every ten rows
    created = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    log = Log(cancel_at=percent)
    if percent == 0:
        log.cancel()
    context = QgsProcessingContext()
    outputs = {
        name: str(tmp_path / f"{name}.{form}")
        for name in ("OUTPUT", "REJECTED", "KEPT")
        if name != "KEPT" or algorithm == "reconstructedges"
    }
    results, fine = created.run({"INPUT": layer_of(walk(captures=3)), **outputs}, context, log)
    assert fine and log.isCanceled()
    assert results == {} and list(tmp_path.iterdir()) == [] and "not complete" not in log.text


def test_cancel_leaves_the_other_layers_of_a_geopackage(tmp_path, monkeypatch):
    """A result that is one of several layers of a file is taken out of it; rows added to a layer
    that was there are named."""
    monkeypatch.setattr(sinks, "BLOCK", 10)
    to_file(layer_of(walk(seed=4), name="notes"), tmp_path / "all.gpkg", layerName="notes")
    created = QgsApplication.processingRegistry().createAlgorithmById("curbwright:reconstructedges")
    log = Log(cancel_at=90)
    results, _ = created.run(
        {
            "INPUT": layer_of(walk(captures=3)),
            "OUTPUT": "memory:",
            "KEPT": f"ogr:dbname='{tmp_path}/all.gpkg' table=\"kept\" (geom)",
        },
        QgsProcessingContext(),
        log,
    )
    assert results == {} and log.isCanceled() and "not complete" not in log.text
    with closing(sqlite3.connect(str(tmp_path / "all.gpkg"))) as database:
        assert [name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")] == [
            "notes"
        ]


def test_cancel_names_the_layer_that_rows_were_added_to(tmp_path, monkeypatch):
    monkeypatch.setattr(sinks, "BLOCK", 10)
    notes = to_file(layer_of(walk(seed=4), name="notes"), tmp_path / "notes.gpkg")
    target = QgsProcessingOutputLayerDefinition(f"{tmp_path}/notes.gpkg")
    added = QgsRemappingSinkDefinition()
    added.setDestinationFields(notes.fields())
    added.setDestinationWkbType(notes.wkbType())
    added.setDestinationCrs(notes.crs())
    added.setFieldMap({"capture": QgsProperty.fromField("capture")})
    target.setRemappingDefinition(added)
    created = QgsApplication.processingRegistry().createAlgorithmById("curbwright:screenepochs")
    log = Log(cancel_at=90)
    results, _ = created.run(
        {"INPUT": layer_of(walk(captures=3)), "OUTPUT": target, "REJECTED": "memory:"},
        QgsProcessingContext(),
        log,
    )
    assert results == {} and "while “Kept epochs” was written: it is not complete" in log.text
    assert notes.featureCount() >= 120  # its own rows are still there


def test_layer_that_changes_while_it_is_read(monkeypatch):
    """A row that is gone at the second reading is missed, not silently lost."""
    layer = layer_of(walk())
    original = epoch_algorithm.read_epochs

    def and_lose_one(*arguments):
        epochs = original(*arguments)
        assert layer.dataProvider().deleteFeatures([7])
        return epochs

    monkeypatch.setattr(epoch_algorithm, "read_epochs", and_lose_one)
    with pytest.raises(QgsProcessingException, match="“quay walk” changed while it was read"):
        reconstruct(layer)


def test_order_that_changes_while_it_is_read(monkeypatch):
    """Rows are known by their ids: another order of reading mixes nothing up."""
    layer = layer_of(walk())
    original = sinks.iterate
    monkeypatch.setattr(
        sinks, "iterate", lambda source, request: reversed(list(original(source, request)))
    )
    for row in table(reconstruct(layer)["REJECTED"]):
        assert (row["reason"] == "not_fixed") == (row["fix"] == 5)
