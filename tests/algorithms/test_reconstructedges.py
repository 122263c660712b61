"""The main job through the host: what goes in, what comes out, and that every row is accounted
for."""

from types import SimpleNamespace

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingFeatureSourceDefinition,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QDateTime, Qt
from walkedlayers import (
    FIELDS,
    ORIGIN,
    START,
    Log,
    iso,
    layer_of,
    raw_point,
    reconstruct,
    run,
    table,
    to_file,
    walk,
)

from curbwright.algorithms.base import epoch_algorithm
from curbwright.algorithms.host.fields import is_null
from curbwright.algorithms.reading.epoch_layer import SHARE_OF_READING
from curbwright.algorithms.reconstructedges import (
    EDGE_FIELDS,
    GAP_FIELDS,
    KEPT_FIELDS,
    REJECTED_FIELDS,
    ReconstructEdges,
)
from curbwright.shared.epochs.reasons import REASON_NAMES
from curbwright.shared.reconstruction.breaks import BREAK_NAMES

pytestmark = pytest.mark.usefixtures("provider")


def reasons_of(result):
    """Number of rejected rows by reason."""
    names, counts = np.unique(
        [row["reason"] for row in table(result["REJECTED"])], return_counts=True
    )
    return dict(zip(names.tolist(), counts.tolist()))


def lengths_of(result):
    return np.array(sorted(row["length"] for row in table(result["OUTPUT"])))


def vertices_of(layer):
    return [
        [(v.x(), v.y(), v.z()) for v in feature.geometry().vertices()]
        for feature in layer.getFeatures()
    ]


@pytest.fixture(scope="module")
def plain_walk(provider):
    return layer_of(walk())


@pytest.fixture(scope="module")
def plain_result(plain_walk):
    log = Log()
    return {**reconstruct(plain_walk, log), "log": log}


def test_fields_are_those_that_others_rely_on(plain_walk, plain_result):
    source = plain_walk.fields().names()
    names = {
        key: plain_result[key].fields().names() for key in ("OUTPUT", "GAPS", "REJECTED", "KEPT")
    }
    assert names["OUTPUT"] == [new.name for new in EDGE_FIELDS]
    # the names that design.md fixes for checks outside the project
    assert set(names["OUTPUT"]) >= {
        "edge_id",
        "capture",
        "run",
        "started",
        "ended",
        "epochs_used",
        "epochs_rejected",
        "length",
        "rms_residual",
        "max_residual",
        "sigma_cross",
        "sigma_up",
        "closed",
        "start_reason",
        "end_reason",
    }
    assert names["GAPS"] == [new.name for new in GAP_FIELDS]
    assert set(names["GAPS"]) >= {"seconds", "metres", "reason"}
    assert (
        names["REJECTED"]
        == source + [new.name for new in REJECTED_FIELDS]
        == [*source, "reason", "detail"]
    )
    assert names["KEPT"] == source + [new.name for new in KEPT_FIELDS]
    assert set(names["KEPT"]) >= {"edge_id", "chainage", "residual_cross", "residual_up", "role"}
    for key, kind in (
        ("OUTPUT", "LineStringZ"),
        ("GAPS", "LineStringZ"),
        ("REJECTED", "PointZ"),
        ("KEPT", "PointZ"),
    ):
        assert QgsWkbTypes.displayString(plain_result[key].wkbType()) == kind
        assert plain_result[key].crs() == plain_walk.crs()


def test_walk_becomes_its_edges(plain_result):
    edges = table(plain_result["OUTPUT"])
    assert len(edges) == plain_result["EDGES"] >= 2
    assert_allclose(sum(edge["length"] for edge in edges), plain_result["LENGTH"])
    assert [edge["edge_id"] for edge in edges] == list(range(1, len(edges) + 1))
    assert {edge["capture"] for edge in edges} == {"walk 1", "walk 2"}
    for edge in edges:
        assert edge["start_reason"] in BREAK_NAMES and edge["end_reason"] in BREAK_NAMES
        assert edge["closed"] in (False, 0)
        assert 0 < edge["rms_residual"] <= edge["max_residual"] < 0.05
        assert 0 < edge["sigma_cross"] < 0.03
        assert edge["started"].timeSpec() == Qt.TimeSpec.UTC
        assert edge["started"].toMSecsSinceEpoch() / 1000 == edge["started_unix"]
        assert edge["ended"].toMSecsSinceEpoch() / 1000 == edge["ended_unix"]
    # the edge lies where the L was walked, in the layer's CRS
    along = 1.2 * 52
    for x, y, _ in vertices_of(plain_result["OUTPUT"])[0]:
        off = min(abs(y - ORIGIN[1]), abs(x - ORIGIN[0] - 0.4 * along))
        assert off < 0.05


def test_every_row_is_in_one_of_the_two(plain_walk, plain_result):
    kept, rejected = table(plain_result["KEPT"]), table(plain_result["REJECTED"])

    def key(row):
        return (row["capture"], row["time"])

    assert sorted(map(key, kept + rejected)) == sorted(map(key, table(plain_walk)))
    assert plain_result["EPOCHS_READ"] == plain_walk.featureCount() == len(kept) + len(rejected)
    assert (plain_result["EPOCHS_KEPT"], plain_result["EPOCHS_REJECTED"]) == (
        len(kept),
        len(rejected),
    )
    assert {row["reason"] for row in rejected} <= set(REASON_NAMES[1:])
    assert {"not_fixed", "poor_accuracy", "spike"} <= {row["reason"] for row in rejected}
    assert all(row["detail"] for row in rejected)
    for row in rejected:
        if row["reason"] == "not_fixed":
            assert row["fix"] == 5
        if row["reason"] == "poor_accuracy":
            assert row["h_acc"] == 0.2
    edges = {edge["edge_id"]: edge for edge in table(plain_result["OUTPUT"])}
    for row in kept:
        assert row["capture"] == edges[row["edge_id"]]["capture"]
        assert -1e-6 <= row["chainage"] <= edges[row["edge_id"]]["length"] + 0.01
        assert abs(row["residual_cross"]) <= edges[row["edge_id"]]["max_residual"] + 1e-9
        assert row["role"] in ("single", "standing")
    assert {row["role"] for row in kept} == {"single", "standing"}
    for number, edge in edges.items():
        assert edge["epochs_used"] == sum(row["edge_id"] == number for row in kept)


def test_kept_points_are_the_source_points(plain_walk, plain_result):
    place = {
        (f["capture"], f["time"]): f.geometry().asWkb().data() for f in plain_walk.getFeatures()
    }
    for key in ("KEPT", "REJECTED"):
        for feature in plain_result[key].getFeatures():
            assert feature.geometry().asWkb().data() == place[feature["capture"], feature["time"]]


def test_gaps_run_from_rim_to_rim(plain_result):
    edges, gaps = vertices_of(plain_result["OUTPUT"]), vertices_of(plain_result["GAPS"])
    assert len(gaps) == len(edges) - 1
    for gap, row in zip(gaps, table(plain_result["GAPS"])):
        assert row["reason"] in BREAK_NAMES
        assert_allclose(gap[0], edges[row["after_edge"] - 1][-1], atol=0.02)
        assert_allclose(gap[1], edges[row["before_edge"] - 1][0], atol=0.02)
        assert_allclose(
            row["metres"], np.hypot(gap[1][0] - gap[0][0], gap[1][1] - gap[0][1]), rtol=1e-3
        )


def test_log_tells_what_was_done(plain_walk, plain_result):
    log = plain_result["log"]
    for piece in (
        "Time: field “time” (found by name)",
        "Capture: field “capture”",
        "Fix: field “fix”",
        "Horizontal accuracy: field “h_acc”",
        "Vertical accuracy: no field",
        f"Epochs read: {plain_walk.featureCount()} from “quay walk”",
        "RTK fixed: 114",
        "not_fixed: 6",
        "poor_accuracy: 2",
        "Limits",
        "Epochs collapsed while standing still",
        "Edges:",
        "Gaps:",
        "Median uncertainty",
    ):
        assert piece in log.text, piece
    assert log.warnings == [] and log.errors == []
    assert log.highest > 95


@pytest.mark.parametrize(("count", "when"), [(1_000_000, 0.7), (200_000, 0), (50_000_000, 0.994)])
def test_processes_start_shortly_before_all_is_read(count, when):
    """So that what they load does not slow the reading down, which needs two processors."""
    started, shares = [], []
    pool = SimpleNamespace(start=lambda: started.append(shares[-1]))
    progress = ReconstructEdges._starting(pool, count, shares.append)
    for share in np.linspace(0, SHARE_OF_READING, 1001)[1:]:
        progress(share)
    assert started[0] == pytest.approx(when * SHARE_OF_READING, abs=0.001)
    assert len(shares) == 1001


def test_outputs_not_asked_for_are_not_made(plain_walk, plain_result, monkeypatch):

    monkeypatch.setattr(
        epoch_algorithm,
        "pass_on",
        lambda source, ids, is_line, plain, targets, feedback, progress: (
            targets and pytest.fail("points written")
        ),
    )
    result = run("reconstructedges", {"INPUT": plain_walk, "OUTPUT": "memory:"})
    assert set(result) == {
        "OUTPUT",
        "EPOCHS_READ",
        "EPOCHS_KEPT",
        "EPOCHS_REJECTED",
        "EDGES",
        "LENGTH",
    }
    assert vertices_of(result["OUTPUT"]) == vertices_of(plain_result["OUTPUT"])


def test_file_to_file(plain_walk, plain_result, tmp_path):
    source_layer = to_file(plain_walk, tmp_path / "in.gpkg")
    paths = {
        key: str(tmp_path / f"{key.lower()}.gpkg") for key in ("OUTPUT", "GAPS", "REJECTED", "KEPT")
    }
    result = run("reconstructedges", {"INPUT": source_layer, **paths})
    for key, path in paths.items():
        assert result[key] == path
        opened = QgsVectorLayer(path, key, "ogr")
        assert opened.featureCount() == plain_result[key].featureCount()
        if key in ("OUTPUT", "GAPS"):
            assert_allclose(
                np.concatenate(vertices_of(opened)),
                np.concatenate(vertices_of(plain_result[key])),
                atol=1e-9,
            )
        else:
            assert "fid_source" in opened.fields().names()
            ids = [row["fid_source"] for row in table(opened)]
            assert len(set(ids)) == len(ids)
    assert reasons_of({"REJECTED": QgsVectorLayer(paths["REJECTED"], "r", "ogr")}) == reasons_of(
        plain_result
    )


@pytest.mark.parametrize("suffix", ["shp", "geojson", "fgb", "csv"])
def test_other_file_formats(plain_walk, plain_result, tmp_path, suffix):
    paths = {
        key: str(tmp_path / f"{key.lower()}.{suffix}")
        for key in ("OUTPUT", "GAPS", "REJECTED", "KEPT")
    }
    result = run("reconstructedges", {"INPUT": plain_walk, **paths})
    opened = {key: QgsVectorLayer(result[key], key, "ogr") for key in paths}
    for key, layer in opened.items():
        assert layer.featureCount() == plain_result[key].featureCount()
    unix = opened["OUTPUT"].fields().names()[5]  # a Shapefile cuts names at ten characters
    assert sorted(float(row[unix]) for row in table(opened["OUTPUT"])) == [
        row["started_unix"] for row in table(plain_result["OUTPUT"])
    ]


def test_a_second_run_on_its_own_result_replaces_its_fields(plain_result):
    log = Log()
    result = reconstruct(plain_result["KEPT"], log)
    names = result["KEPT"].fields().names()
    assert names == plain_result["KEPT"].fields().names()
    assert "Fields of a former run replaced in “Kept epochs”: edge_id, chainage" in log.text
    rows = table(result["KEPT"])
    assert all(is_null(row["residual_up"]) or abs(row["residual_up"]) < 1 for row in rows)
    assert {row["role"] for row in rows} <= {"single", "standing", "doubtful"}
    assert (
        result["KEPT"].featureCount() + result["REJECTED"].featureCount()
        == plain_result["KEPT"].featureCount()
    )


def test_clashing_names_differ_in_case_only():
    rows = walk(captures=1)
    fields = (
        ("time", "string"),
        ("fix", "integer"),
        ("Reason", "string"),
        ("EDGE_ID", "integer"),
        ("FID", "integer"),
    )
    layer = layer_of(
        rows, fields=fields, values=lambda row: [iso(row["seconds"]), row["fix"], "r", 7, 1]
    )
    result = reconstruct(layer)
    assert result["REJECTED"].fields().names() == [
        "time",
        "fix",
        "Reason_source",
        "EDGE_ID",
        "FID_source",
        "reason",
        "detail",
    ]
    assert {row["EDGE_ID_source"] for row in table(result["KEPT"])} == {7}


@pytest.mark.parametrize("seed", range(3))
def test_row_order_does_not_matter(plain_result, seed):
    rows = walk()
    shuffled = [rows[index] for index in np.random.default_rng(seed).permutation(len(rows))]
    result = reconstruct(layer_of(shuffled))
    assert vertices_of(result["OUTPUT"]) == vertices_of(plain_result["OUTPUT"])
    assert table(result["OUTPUT"]) == table(plain_result["OUTPUT"])
    assert table(result["GAPS"]) == table(plain_result["GAPS"])

    def reason(some):
        return {(row["capture"], row["time"]): row["reason"] for row in table(some["REJECTED"])}

    assert reason(result) == reason(plain_result)


TIMES = {
    "text with Z": ("string", lambda s: iso(s)),
    "text without zone": ("string", lambda s: iso(s, "")),
    "text with a blank": ("string", lambda s: iso(s, "").replace("T", " ")),
    "text with an offset": ("string", lambda s: iso(s + 7200, "+02:00")),
    "seconds": ("double", lambda s: s),
    "milliseconds": ("int8", lambda s: round(s * 1000)),
    "seconds as text": ("string", lambda s: f"{s:.3f}"),
    "date-time in UTC": (
        "datetime",
        lambda s: QDateTime.fromMSecsSinceEpoch(round(s * 1000), Qt.TimeSpec.UTC),
    ),
    "date-time with an offset": (
        "datetime",
        lambda s: QDateTime.fromMSecsSinceEpoch(round(s * 1000), Qt.TimeSpec.OffsetFromUTC, 7200),
    ),
    "date-time without zone": (
        "datetime",
        lambda s: QDateTime.fromString(iso(s, ""), Qt.DateFormat.ISODateWithMs),
    ),
}


@pytest.mark.parametrize("kind", TIMES)
@pytest.mark.parametrize("named", [True, False], ids=["chosen", "found"])
def test_time_of_any_kind(plain_result, kind, named):
    type_name, value = TIMES[kind]
    fields = (("utc", type_name), ("fix", "integer"), ("h_acc", "double"), ("capture", "string"))
    layer = layer_of(
        walk(),
        fields=fields,
        values=lambda row: [value(row["seconds"]), row["fix"], row["h_acc"], row["capture"]],
    )
    result = reconstruct(layer, **({"TIME_FIELD": "utc"} if named else {}))
    assert vertices_of(result["OUTPUT"]) == vertices_of(plain_result["OUTPUT"])
    for got, expected in zip(table(result["OUTPUT"]), table(plain_result["OUTPUT"])):
        assert got == expected
    assert reasons_of(result) == reasons_of(plain_result)


def test_seconds_from_an_unknown_origin_give_no_date(plain_result):
    log = Log()
    fields = (("seconds", "double"), ("fix", "integer"), ("h_acc", "double"), ("capture", "string"))
    layer = layer_of(
        walk(),
        fields=fields,
        values=lambda row: [row["seconds"] - START + 7.5, row["fix"], row["h_acc"], row["capture"]],
    )
    result = reconstruct(layer, log)
    assert vertices_of(result["OUTPUT"]) == vertices_of(plain_result["OUTPUT"])
    for got, expected in zip(table(result["OUTPUT"]), table(plain_result["OUTPUT"])):
        assert is_null(got["started"]) and is_null(got["ended"])
        assert got["started_unix"] == expected["started_unix"] - START + 7.5
    assert any("unknown origin" in text for text in log.warnings)


@pytest.fixture(scope="module")
def four_results(provider):
    """The same walk on the ground in four CRS, at a place where all of them are used."""
    local = QgsCoordinateReferenceSystem.fromProj(
        "+proj=tmerc +lat_0=40.7 +lon_0=-73.6 +k=1 +x_0=0 +y_0=0 +datum=WGS84 +units=m"
    )
    results = {}
    for name in ("EPSG:4326", "EPSG:3857", "EPSG:32618", "EPSG:2263"):
        way = QgsCoordinateTransform(
            local, QgsCoordinateReferenceSystem(name), QgsCoordinateTransformContext()
        )

        def place(x, y, z, way=way):
            geometry = QgsGeometry(QgsPoint(x + 37.0, y - 11.0))
            geometry.transform(way)
            moved = geometry.asPoint()
            return QgsGeometry(QgsPoint(moved.x(), moved.y(), z))

        results[name] = reconstruct(layer_of(walk(epochs=100), crs=name, place=place))
    return results


@pytest.mark.parametrize("name", ["EPSG:3857", "EPSG:32618", "EPSG:2263"])
def test_four_crs_give_the_same(four_results, name):
    one, other = four_results["EPSG:4326"], four_results[name]
    assert reasons_of(one) == reasons_of(other)
    assert other["OUTPUT"].crs().authid() == name
    left, right = table(one["OUTPUT"]), table(other["OUTPUT"])
    assert len(left) == len(right) >= 2
    for a, b in zip(left, right):
        assert abs(a["length"] - b["length"]) <= 1e-5 * a["length"]  # 1 mm in 100 m
        for key in (
            "capture",
            "run",
            "started",
            "epochs_used",
            "epochs_rejected",
            "start_reason",
            "end_reason",
        ):
            assert a[key] == b[key]
        for key in ("rms_residual", "max_residual", "sigma_cross", "sigma_up"):
            assert_allclose(a[key], b[key], atol=2e-5)
    for a, b in zip(table(one["KEPT"]), table(other["KEPT"])):
        assert_allclose(
            [a["residual_cross"], a["residual_up"], a["chainage"]],
            [b["residual_cross"], b["residual_up"], b["chainage"]],
            atol=1e-3,
        )
    for a, b in zip(table(one["GAPS"]), table(other["GAPS"])):
        assert_allclose(a["metres"], b["metres"], rtol=1e-5, atol=1e-4)


def test_length_is_that_on_the_ground(four_results):
    true = 1.2 * 92  # steps of the walk before it stands still
    for result in four_results.values():
        for edges in [
            [edge for edge in table(result["OUTPUT"]) if edge["capture"] == name]
            for name in ("walk 1", "walk 2")
        ]:
            gap = [
                row
                for row in table(result["GAPS"])
                if row["capture"] == edges[0]["capture"] and row["reason"] != "new_capture"
            ]
            walked = sum(edge["length"] for edge in edges) + sum(row["metres"] for row in gap)
            assert abs(walked - true) < 0.15  # the gap is measured straight, the rims are noisy


@pytest.mark.parametrize("crs", ["EPSG:25832", "EPSG:3857"])
def test_working_crs_changes_no_length(plain_walk, plain_result, crs):
    result = reconstruct(plain_walk, WORKING_CRS=crs)
    assert_allclose(lengths_of(result), lengths_of(plain_result), rtol=1e-5)
    assert reasons_of(result) == reasons_of(plain_result)
    assert result["OUTPUT"].crs() == plain_walk.crs()


def test_without_z():
    log = Log()
    result = reconstruct(
        layer_of(walk(), "Point", place=lambda x, y, z: QgsGeometry(QgsPoint(x, y))), log
    )
    assert result["EDGES"] >= 2
    assert all(np.isnan(z) for line in vertices_of(result["OUTPUT"]) for _, _, z in line)
    assert "No epoch has a height" in log.text and "may hold heights" not in log.text
    assert {row["residual_up"] for row in table(result["KEPT"])} <= {None} or all(
        not row["height_used"] for row in table(result["KEPT"])
    )
    assert QgsWkbTypes.displayString(result["KEPT"].wkbType()) == "Point"


def test_a_field_of_heights_is_named_where_the_points_have_none():
    log = Log()
    layer = layer_of(
        walk(captures=1),
        "Point",
        fields=(FIELDS[0], ("Elevation", "double")),
        place=lambda x, y, z: QgsGeometry(QgsPoint(x, y)),
        values=lambda row: [iso(row["seconds"]), row["z"]],
    )
    reconstruct(layer, log)
    assert any(
        "No epoch has a height" in text and "Field “Elevation” may hold heights" in text
        for text in log.warnings
    )


def test_accuracies_are_read_in_the_unit_of_their_name():
    rows = walk(captures=1)
    layer = layer_of(
        rows,
        fields=(FIELDS[0], ("HRMS (mm)", "int")),
        values=lambda row: [iso(row["seconds"]), 80 if row is rows[20] else 8],
    )
    result = reconstruct(layer)
    assert [row["reason"] for row in table(result["REJECTED"])].count("poor_accuracy") == 1
    assert result["EPOCHS_KEPT"] > 0.8 * len(rows)


def test_multi_points(plain_result):
    rows = walk()
    single = reconstruct(
        layer_of(
            rows,
            "MultiPointZ",
            place=lambda x, y, z: QgsGeometry.fromWkt(
                f"MultiPointZ (({ORIGIN[0] + x!r} {ORIGIN[1] + y!r} {z!r}))"
            ),
        )
    )
    assert_allclose(
        np.concatenate(vertices_of(single["OUTPUT"])),
        np.concatenate(vertices_of(plain_result["OUTPUT"])),
        atol=1e-6,
    )
    double = layer_of(
        rows,
        "MultiPointZ",
        place=lambda x, y, z: QgsGeometry.fromWkt(
            f"MultiPointZ (({ORIGIN[0] + x!r} {ORIGIN[1] + y!r} {z!r})"
            + (f", ({x!r} {y!r} {z!r}))" if z > 4.5 else ")")
        ),
    )
    result = reconstruct(double)
    several = sum(row["z"] > 4.5 for row in rows)
    details = [row["detail"] for row in table(result["REJECTED"]) if row["reason"] == "no_position"]
    assert len(details) == several > 0
    assert all(text.startswith("2 points") for text in details)


def test_null_empty_and_impossible_positions_are_counted():
    rows = walk()
    places = {
        5: None,
        6: QgsGeometry.fromWkt("PointZ EMPTY"),
        7: raw_point(np.nan, 1, 2),
        8: raw_point(np.inf, 1, 2),
        9: raw_point(1, -np.inf, 2),
    }
    layer = layer_of(rows)
    layer.dataProvider().changeGeometryValues(
        {index + 1: place or QgsGeometry() for index, place in places.items()}
    )
    log = Log()
    result = reconstruct(layer, log)
    assert reasons_of(result)["no_position"] == 5
    assert result["EPOCHS_READ"] == len(rows) == result["EPOCHS_KEPT"] + result["EPOCHS_REJECTED"]
    assert any(
        "range of the layer's CRS: 2. They count as having no position" in text
        for text in log.warnings
    )


def test_selected_features_only(qgis_new_project, plain_result):
    layer = layer_of(walk())
    QgsProject.instance().addMapLayer(layer)
    layer.selectByExpression("capture = 'walk 1'")
    result = reconstruct(
        QgsProcessingFeatureSourceDefinition(layer.id(), selectedFeaturesOnly=True)
    )
    assert result["EPOCHS_READ"] == layer.selectedFeatureCount() == 60
    assert {row["capture"] for row in table(result["KEPT"]) + table(result["REJECTED"])} == {
        "walk 1"
    }
    assert result["KEPT"].featureCount() + result["REJECTED"].featureCount() == 60


def test_several_capture_fields():
    fields = (("time", "string"), ("fix", "integer"), ("day", "integer"), ("walker", "string"))
    rows = walk(captures=4)
    layer = layer_of(
        rows,
        fields=fields,
        values=lambda row: [
            iso(row["seconds"]),
            row["fix"],
            int(row["capture"][-1]) % 2,
            "é" if row["capture"] in ("walk 1", "walk 2") else None,
        ],
    )
    for chosen in (["day", "walker"], "day;walker"):
        result = reconstruct(layer, CAPTURE_FIELDS=chosen)
        assert {row["capture"] for row in table(result["OUTPUT"])} == {
            "1 / é",
            "0 / é",
            "1 / ",
            "0 / ",
        }


def test_own_fix_values():
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("state", "string")),
        values=lambda row: [iso(row["seconds"]), {4: "Surely Fixed", 5: "doubtful"}[row["fix"]]],
    )
    result = reconstruct(
        layer, FIX_FIELD="state", FIXED_VALUES="surely fixed, 4", CAPTURE_FIELDS=[]
    )
    assert reasons_of(result)["not_fixed"] == 6


def test_yes_no_fix_field(tmp_path):
    layer = layer_of(
        walk(),
        fields=(("time", "string"), ("rtk_fixed", "bool")),
        values=lambda row: [iso(row["seconds"]), row["fix"] == 4],
    )
    for source in (layer, to_file(layer, tmp_path / "bool.gpkg")):
        assert reasons_of(reconstruct(source))["not_fixed"] == 6


def test_without_fix_field_it_is_said_loudly():
    log = Log()
    layer = layer_of(walk(), fields=(("time", "string"),), values=lambda row: [iso(row["seconds"])])
    result = reconstruct(layer, log)
    assert "not_fixed" not in reasons_of(result)
    assert any("ALL epochs are taken as fixed" in text for text in log.warnings)
    assert "Horizontal accuracy: no field found" in log.text
    assert "taken as one capture" in log.text


def line_layer(rows, geometry="LineStringZM"):
    """One line for each capture, M as Unix seconds."""
    layer = QgsVectorLayer(f"{geometry}?crs=EPSG:32632&field=note:string", "walked lines", "memory")
    features = []
    for capture in sorted({row["capture"] for row in rows}):
        own = [row for row in rows if row["capture"] == capture]
        feature = QgsFeature(layer.fields())
        points = [
            QgsPoint(ORIGIN[0] + row["x"], ORIGIN[1] + row["y"], row["z"], row["seconds"])
            for row in own
        ]
        lines = [points] if not geometry.startswith("Multi") else [points[:30], points[30:]]
        text = ", ".join(
            "(" + ", ".join(f"{p.x()!r} {p.y()!r} {p.z()!r} {p.m()!r}" for p in line) + ")"
            for line in lines
        )
        feature.setGeometry(
            QgsGeometry.fromWkt(
                f"MultiLineString ZM ({text})"
                if geometry.startswith("Multi")
                else f"LineString ZM {text}"
            )
        )
        feature.setAttributes([capture])
        features.append(feature)
    features.append(QgsFeature(layer.fields()))  # a line without geometry has no vertices
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


@pytest.mark.parametrize("geometry", ["LineStringZM", "MultiLineStringZM"])
def test_lines_are_read_vertex_by_vertex(geometry):
    rows = walk()
    result = reconstruct(line_layer(rows, geometry))
    assert (
        result["EPOCHS_READ"]
        == len(rows)
        == result["KEPT"].featureCount() + result["REJECTED"].featureCount()
    )
    expected = layer_of(
        [{**row, "fix": 4} for row in rows],
        fields=(("time", "string"), ("capture", "string")),
        values=lambda row: [iso(row["seconds"]), row["capture"]],
    )
    points = reconstruct(expected)
    assert_allclose(
        np.concatenate(vertices_of(result["OUTPUT"])),
        np.concatenate(vertices_of(points["OUTPUT"])),
        atol=1e-9,
    )
    # parts of one line that follow on in time are one walk
    assert {edge["capture"] for edge in table(result["OUTPUT"])} == {"1", "2"}
    assert {row["note"] for row in table(result["KEPT"])} == {"walk 1", "walk 2"}
    assert QgsWkbTypes.displayString(result["KEPT"].wkbType()) == "PointZM"
    placed = {
        (round(f.geometry().constGet().m(), 3))
        for key in ("KEPT", "REJECTED")
        for f in result[key].getFeatures()
    }
    assert placed == {round(row["seconds"], 3) for row in rows}


number = st.one_of(
    st.none(), st.floats(-50, 50), st.sampled_from([np.nan, np.inf, -np.inf, 0.0, 1e308])
)
epoch = st.fixed_dictionaries(
    {
        "x": number,
        "y": st.floats(-50, 50),
        "z": st.one_of(st.floats(-5, 5), st.just(np.nan)),
        "time": st.one_of(
            st.none(),
            st.integers(0, 200).map(lambda s: iso(START + s)),
            st.sampled_from(["", "noon", "2026-05-04"]),
        ),
        "fix": st.one_of(st.none(), st.sampled_from([4, 4, 4, 5, 0])),
        "h_acc": st.one_of(st.none(), st.floats(0, 0.2)),
        "capture": st.one_of(st.none(), st.sampled_from(["a", "b", "é"])),
    }
)


@settings(
    max_examples=settings.default.max_examples // 2,  # a run of the host each
    suppress_health_check=[HealthCheck.function_scoped_fixture, HealthCheck.too_slow],
)
@given(epochs=st.lists(epoch, min_size=1, max_size=40), straight=st.integers(0, 12))
def test_kept_and_rejected_are_what_was_read(epochs, straight):
    """Whatever the rows hold; a good stretch goes in so that there is something to keep."""
    good = [
        {
            "x": 100.0 + i,
            "y": 3.0,
            "z": 1.0,
            "time": iso(START + 500 + i),
            "fix": 4,
            "h_acc": 0.01,
            "capture": "good",
        }
        for i in range(straight + 2)
    ]
    rows = epochs + good
    layer = layer_of(
        rows,
        place=lambda x, y, z: raw_point(ORIGIN[0] + x, ORIGIN[1] + y, z),
        values=lambda row: [row["time"], row["fix"], row["h_acc"], row["capture"]],
    )
    names = {
        "TIME_FIELD": "time",
        "FIX_FIELD": "fix",
        "H_ACCURACY_FIELD": "h_acc",
        "CAPTURE_FIELDS": "capture",
    }
    result = reconstruct(layer, **names)
    kept, rejected = table(result["KEPT"]), table(result["REJECTED"])

    def key(row):
        return str([row[name] for name in ("time", "fix", "h_acc", "capture")])

    assert sorted(map(key, kept + rejected)) == sorted(map(key, table(layer)))
    assert result["EPOCHS_READ"] == len(rows) == result["EPOCHS_KEPT"] + result["EPOCHS_REJECTED"]
    assert all(row["reason"] in REASON_NAMES[1:] and row["detail"] for row in rejected)
    ids = {edge["edge_id"] for edge in table(result["OUTPUT"])}
    assert {row["edge_id"] for row in kept} == ids
    for line in vertices_of(result["OUTPUT"]):
        assert np.isfinite(np.array(line)[:, :2]).all()
    assert_array_equal(sorted(ids), np.arange(1, len(ids) + 1))


@pytest.mark.parametrize("from_file", [True, False])
def test_rejected_alone_are_asked_for_by_their_ids(
    plain_walk, plain_result, tmp_path, from_file, monkeypatch
):
    """Where few rows are wanted, the others are not read again."""
    from curbwright.algorithms.writing import sinks

    seen = []
    original = sinks.iterate
    monkeypatch.setattr(
        sinks,
        "iterate",
        lambda source, request: (
            seen.append(feature.id()) or feature for feature in original(source, request)
        ),
    )
    layer = to_file(plain_walk, tmp_path / "in.gpkg") if from_file else plain_walk
    result = run("reconstructedges", {"INPUT": layer, "OUTPUT": "memory:", "REJECTED": "memory:"})
    assert len(seen) == result["EPOCHS_REJECTED"] < 0.2 * result["EPOCHS_READ"]

    def pick(some):
        return sorted(
            (row["capture"], row["time"], row["reason"], row["detail"])
            for row in table(some["REJECTED"])
        )

    assert pick(result) == pick(plain_result)


# --- curve models and stations
# --------------------------------------------------------------------------------------


def round_nose(radius=2.0, straight=20.0, spacing=0.6, noise=0.008):
    """Rows of a walk along a tangent, round half a circle and back along a parallel tangent, rising
    by 2 %."""
    rng = np.random.default_rng(4)
    s = np.arange(0.0, 2 * straight + np.pi * radius, spacing)
    turn = np.clip((s - straight) / radius, 0.0, np.pi)
    beyond = np.maximum(s - straight - np.pi * radius, 0.0)
    x = np.minimum(s, straight) + radius * np.sin(turn) - beyond
    y = radius * (1 - np.cos(turn))
    xy = np.column_stack([x, y]) + rng.normal(0.0, noise, (len(s), 2))
    return [
        {
            "x": px,
            "y": py,
            "z": 5.0 + 0.02 * along,
            "seconds": START + i,
            "fix": 4,
            "h_acc": 0.008,
            "capture": "nose",
        }
        for i, ((px, py), along) in enumerate(zip(xy.tolist(), s.tolist()))
    ]


@pytest.mark.parametrize(("model", "name"), [(0, "elements"), (1, "elements"), (2, "spline")])
def test_curve_models(model, name):
    result = reconstruct(layer_of(round_nose()), CURVE_MODEL=model)
    (edge,) = table(result["OUTPUT"])
    assert edge["curve_model"] == name
    assert edge["length"] == pytest.approx(40.0 + 2 * np.pi, abs=0.7)
    (line,) = vertices_of(result["OUTPUT"])
    off = [
        abs(np.hypot(x - ORIGIN[0] - 20.0, y - ORIGIN[1] - 2.0) - 2.0)
        for x, y, _ in line
        if x - ORIGIN[0] > 20.3
    ]
    assert len(off) > 4 and max(off) < (0.03 if name == "elements" else 0.06)


def test_stations_lie_on_the_edges_at_their_chainage():
    result = reconstruct(layer_of(round_nose()), STATIONS="TEMPORARY_OUTPUT", STATION_SPACING=2.5)
    (edge,) = table(result["OUTPUT"])
    line = next(result["OUTPUT"].getFeatures()).geometry()
    rows = table(result["STATIONS"])
    chainages = [row["chainage"] for row in rows]
    assert_allclose(chainages[:-1], 2.5 * np.arange(len(rows) - 1), atol=1e-9)
    assert chainages[-1] == pytest.approx(edge["length"])
    for feature, row in zip(result["STATIONS"].getFeatures(), rows):
        point = feature.geometry()
        assert line.distance(point) < 1e-6
        assert row["edge_id"] == edge["edge_id"]
        assert 0.004 < row["sigma_cross"] < 0.02 and 0.0 < row["sigma_up"] < 0.03
        assert row["slope"] == pytest.approx(0.02, abs=0.004)
        assert point.constGet().z() == pytest.approx(5.0 + 0.02 * row["chainage"], abs=0.03)
    # surer in the middle of a tangent than at its end
    assert rows[4]["sigma_cross"] < rows[0]["sigma_cross"]
