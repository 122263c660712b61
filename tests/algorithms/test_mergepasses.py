"""“Merge repeat passes” as a user runs it: layers in, layers out."""

import numpy as np
import pytest
from linelayers import UTM, line_layer, straight
from numpy.testing import assert_allclose
from qgis.core import QgsGeometry, QgsProcessingException, QgsProject, QgsVectorLayer, QgsWkbTypes
from walkedlayers import Log, run, table

from curbwright.algorithms.mergepasses import DISAGREEMENT_FIELDS, EDGE_FIELDS, PASS_FIELDS
from curbwright.algorithms.writing import styles
from curbwright.shared.lines.merge_results import REASONS, STATES

pytestmark = pytest.mark.usefixtures("provider")

FIELDS = (
    ("edge_id", "integer"),
    ("capture", "string"),
    ("sigma_cross", "double"),
    ("sigma_up", "double"),
    ("started_unix", "double"),
    ("epochs_used", "integer"),
    ("start_reason", "string"),
    ("end_reason", "string"),
    ("kind", "string"),
    ("fid", "integer"),
)


def level(y, x=(0.0, 40.0), z=3.0):
    return np.column_stack([straight(y, x), [z, z]])


def values(number, kind="top", sigma=0.006):
    return [
        number,
        f"walk {number}",
        sigma,
        0.01,
        1000.0 * number,
        10 * number,
        f"start {number}",
        f"end {number}",
        kind,
        7,
    ]


def walks(crs=UTM, name="walked edges", **change):
    """Two walks of one edge, the second backwards; an edge alone; and one beside the first two that
    only one field tells apart."""
    shapes = [level(0.0), level(0.02)[::-1], level(30.0), level(0.01)]
    rows = [values(1), values(2), values(3), values(4, "foot")]
    return line_layer(
        shapes, name, "LineStringZ", crs, change.get("fields", FIELDS), change.get("rows", rows)
    )


def merge(layer, log=None, **parameters):
    outputs = dict.fromkeys(("OUTPUT", "PASSES", "DISAGREEMENTS"), "memory:")
    return run("mergepasses", {"INPUT": layer, **outputs, **parameters}, log)


def lines(layer):
    return [
        np.array([(v.x(), v.y(), v.z()) for v in geometry.vertices()])
        for geometry in [QgsGeometry(feature.geometry()) for feature in layer.getFeatures()]
    ]


def test_two_walks_become_one_edge():
    log = Log()
    result = merge(walks(), log, GROUP_FIELDS=["kind"])
    rows = table(result["OUTPUT"])
    assert result["EDGES"] == len(rows) == 3 and result["MERGED"] == 1
    assert (
        result["OUTPUT"].wkbType() == QgsWkbTypes.Type.LineStringZ
        and result["OUTPUT"].crs().authid() == UTM
    )
    assert list(rows[0])[: len(EDGE_FIELDS)] == [new.name for new in EDGE_FIELDS]
    assert set(list(rows[0])[len(EDGE_FIELDS) :]) == {
        "capture",
        "started_unix",
        "epochs_used",
        "start_reason",
        "end_reason",
        "kind",
    }
    merged = next(row for row in rows if row["state"] == "merged")
    assert (
        merged["passes"] == 2
        and merged["captures"] == "walk 1, walk 2"
        and merged["sources"] == "1, 2"
        and merged["kind"] == "top"
    )
    assert merged["sigma_cross"] == pytest.approx(0.006 / 2**0.5) and merged[
        "sigma_up"
    ] == pytest.approx(0.01 / 2**0.5)
    assert merged["repeatability"] == pytest.approx(0.02, rel=1e-3) == result["REPEATABILITY"]
    assert result["REPEATABILITY_UP"] == pytest.approx(0.0, abs=1e-6)
    assert merged["started_unix"] == 1000.0 and merged["epochs_used"] == 30
    assert not merged["capture"]  # two walks, two captures
    alone = next(row for row in rows if row["captures"] == "walk 3")
    assert (
        alone["state"] == "single"
        and alone["capture"] == "walk 3"
        and (alone["start_reason"], alone["end_reason"]) == ("start 3", "end 3")
    )
    passes = table(result["PASSES"])
    assert [new.name for new in PASS_FIELDS] == list(passes[0]) and len(passes) == 4
    assert {
        row["source"]: row["direction"] for row in passes if row["edge_id"] == merged["edge_id"]
    } in ({"1": "along", "2": "against"}, {"1": "against", "2": "along"})
    assert sum(row["shared_length"] for row in passes) == pytest.approx(80.0, abs=0.1)
    assert not result["DISAGREEMENTS"].featureCount()
    assert "RMS between two walks across: 20.0 mm; their uncertainties predict 8.5 mm" in log.text
    assert any("2.4 times as much" in text and "Passes" in text for text in log.warnings)


def test_ends_keep_their_reasons():
    row = next(
        row
        for row in table(merge(walks(), GROUP_FIELDS=["kind"])["OUTPUT"])
        if row["state"] == "merged"
    )
    # the line leads whose end is the edge's, whichever way it was walked
    assert (row["start_reason"], row["end_reason"]) in (
        ("start 1", "end 1"),
        ("end 1", "start 1"),
        ("start 2", "end 2"),
        ("end 2", "start 2"),
    )


def test_an_edge_alone_passes_through_to_the_last_bit():
    odd = np.array([(0.1234567, 30.0, 1.1), (7.7, 31.3, 2.2), (19.0, 28.8, 3.3)])
    layer = line_layer(
        [odd, level(0.0)], "two", "LineStringZ", "EPSG:4326", (("name", "string"),), [["a"], ["b"]]
    )
    result = merge(layer)
    assert {row["state"] for row in table(result["OUTPUT"])} == {"single"}
    before, after = (
        sorted(map(tuple, np.concatenate(lines(one)).tolist())) for one in (layer, result["OUTPUT"])
    )
    assert before == after
    assert result["REPEATABILITY"] is None and result["MERGED"] == 0


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32632", "EPSG:2272"])
def test_metres_whatever_the_crs(crs):
    if crs == "EPSG:2272":  # feet, of another place: the lines as they are in feet
        foot = 1200 / 3937
        shapes = [
            np.column_stack([line[:, :2] / foot, line[:, 2] / foot])
            for line in (level(0.0), level(0.02)[::-1])
        ]
        layer = line_layer(
            shapes,
            "feet",
            "LineStringZ",
            None,
            (("sigma_cross", "double"),),
            [[0.006]] * 2,
            origin=(2_700_000.0, 250_000.0),
        )
        from qgis.core import QgsCoordinateReferenceSystem

        layer.setCrs(QgsCoordinateReferenceSystem(crs))
    else:
        layer = line_layer(
            [level(0.0), level(0.02)[::-1]],
            "walks",
            "LineStringZ",
            crs,
            (("sigma_cross", "double"),),
            [[0.006]] * 2,
        )
    result = merge(layer)
    (row,) = table(result["OUTPUT"])
    # UTM is 0.9996 and a little more of the ground here, feet of a Lambert zone much the same
    assert row["length"] == pytest.approx(40.0, abs=0.03) and row["repeatability"] == pytest.approx(
        0.02, rel=2e-3
    )
    assert row["sigma_cross"] == pytest.approx(0.006 / 2**0.5)


def test_disagreements_are_listed_in_words():
    bump = np.array(
        [
            (0, 0.004, 3),
            (14, 0.004, 3),
            (15, 0.09, 3),
            (19, 0.09, 3),
            (20, 0.004, 3),
            (40, 0.004, 3),
        ],
        float,
    )
    log = Log()
    result = merge(
        line_layer(
            [level(0.0), bump], "two walks", "LineStringZ", UTM, FIELDS, [values(1), values(2)]
        ),
        log,
    )
    (row,) = table(result["DISAGREEMENTS"])
    assert list(row) == [new.name for new in DISAGREEMENT_FIELDS]
    assert (
        row["reason"] == "plan"
        and row["source"] == "2"
        and row["capture"] == "walk 2"
        and row["edge_id"] == 1
        and row["own_edge_id"] == 2
    )
    assert (
        "to the left of the edge" in row["detail"]
        and "kept apart" in row["detail"]
        and abs(row["offset_max"]) == pytest.approx(0.09, abs=0.006)
    )
    states = [one["state"] for one in table(result["OUTPUT"])]
    assert states == ["merged", "apart"]
    assert any("Disagreements: 1 (plan: 1)" in text for text in log.warnings)


def test_top_and_foot_stay_two_edges():
    layer = line_layer(
        [level(0.0, z=3.12), level(0.005, z=3.12), level(0.018), level(0.02)],
        "curb",
        "LineStringZ",
        UTM,
        FIELDS,
        [values(k) for k in range(1, 5)],
    )
    result = merge(layer)
    assert [row["state"] for row in table(result["OUTPUT"])] == ["merged"] * 2
    details = [row["detail"] for row in table(result["DISAGREEMENTS"])]
    assert details and all(
        "0.120 m in height" in text and "another edge" in text for text in details
    )


def test_the_order_of_rows_does_not_matter():
    rows = [
        (level(0.0), values(1)),
        (level(0.02)[::-1], values(2)),
        (level(30.0), values(3)),
        (level(0.01), values(4, "foot")),
    ]
    found = []
    for order in ([0, 1, 2, 3], [3, 1, 0, 2], [2, 0, 3, 1]):
        layer = line_layer(
            [rows[k][0] for k in order],
            "walks",
            "LineStringZ",
            UTM,
            FIELDS,
            [rows[k][1] for k in order],
        )
        result = merge(layer, GROUP_FIELDS=["kind"])
        found.append(
            (
                sorted(str(np.round(line, 6).tolist()) for line in lines(result["OUTPUT"])),
                result["REPEATABILITY"],
            )
        )
    assert found[0] == found[1] == found[2]


def test_multi_part_and_flat_lines():
    log = Log()
    layer = line_layer(
        [[straight(0.0), straight(9.0)], straight(0.01), None],
        "parts",
        "MultiLineString",
        UTM,
        (("edge_id", "integer"),),
        [[5], [6], [7]],
    )
    result = merge(layer, log)
    assert sorted(row["sources"] for row in table(result["OUTPUT"])) == ["5/1, 6", "5/2"]
    assert any("rows left out, with no geometry, or no length: 1." in text for text in log.warnings)
    assert any(
        "No edge has a height" in text and "Fields that tell edges apart" in text
        for text in log.warnings
    )
    assert "the uncertainty follows from their differences" in log.text


def test_copies_are_named():
    log = Log()
    merge(line_layer([level(0.0), level(0.0), level(0.01)], "twice", "LineStringZ"), log)
    assert any("repeat another one vertex by vertex: 1." in text for text in log.warnings)


def test_nothing_to_merge_is_said():
    log = Log()
    merge(line_layer([level(0.0), level(20.0)], "far apart", "LineStringZ"), log)
    assert any(
        "No two edges of “far apart”" in text and "Maximum offset between two walks (m)" in text
        for text in log.warnings
    )


# Bad input


def refused(layer, tmp_path, **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        run("mergepasses", {"INPUT": layer, "OUTPUT": str(tmp_path / "out.gpkg"), **parameters})
    assert list(tmp_path.iterdir()) == []
    return str(raised.value)


def test_empty_layer(tmp_path):
    assert "“none” is empty" in refused(line_layer([], "none", "LineStringZ"), tmp_path)
    assert "“dots”" in refused(line_layer([np.array([(1.0, 1.0), (1.0, 1.0)])], "dots"), tmp_path)


@pytest.mark.parametrize(
    ("parameter", "label"),
    [
        ("SIGMA_FIELD", "Uncertainty across"),
        ("SIGMA_UP_FIELD", "Uncertainty of heights"),
        ("GROUP_FIELDS", "Fields that tell edges apart"),
    ],
)
def test_field_that_is_not_there(tmp_path, parameter, label):
    message = refused(walks(), tmp_path, **{parameter: "nope"})
    for piece in ("“walked edges” has no field “nope”", f"“{label}”", "edge_id, capture"):
        assert piece in message


@pytest.mark.parametrize("wrong", [-0.01, 0.0])
def test_sigma_that_cannot_be(tmp_path, wrong):
    rows = [values(1), values(2, sigma=wrong), values(3), values(4)]
    message = refused(walks(rows=rows), tmp_path)
    for piece in (
        "“walked edges”",
        "“sigma_cross”",
        "greater than 0",
        "(rows: 1)",
        "Uncertainty across",
    ):
        assert piece in message


def test_sigma_of_words(tmp_path):
    message = refused(walks(), tmp_path, SIGMA_FIELD="kind")
    assert "“kind” must hold an uncertainty in metres" in message and "“top”" in message


def test_missing_sigma_is_no_error():
    rows = [values(1), values(2, sigma=None), values(3), values(4, "foot")]
    result = merge(walks(rows=rows), GROUP_FIELDS=["kind"])
    merged = next(row for row in table(result["OUTPUT"]) if row["state"] == "merged")
    assert merged["sigma_cross"] == pytest.approx(0.006 / 2**0.5)


@pytest.mark.parametrize("percent", [0, 31, 60])
def test_cancel(percent):
    log = Log(cancel_at=percent)
    if not percent:
        log.cancel()
    assert merge(walks(), log) == {}
    assert log.highest < 100


# Looks


@pytest.mark.parametrize(
    ("style", "field", "shown"),
    [(styles.MERGED, "state", STATES), (styles.DISAGREEMENTS, "reason", REASONS)],
)
def test_every_state_has_a_look_of_its_own(style, field, shown):
    layer = QgsVectorLayer(f"LineString?field={field}:string", "l", "memory")
    message, fine = layer.loadNamedStyle(str(styles.STYLES / style))
    assert fine, message
    looks = {}
    for category in layer.renderer().categories():
        stroke = category.symbol().symbolLayer(0)
        looks[category.value()] = (
            category.symbol().symbolLayerCount(),
            stroke.width(),
            tuple(stroke.customDashVector()) if stroke.useCustomDashPattern() else (),
        )
    # width and dash, not colour: grey print
    assert set(looks) == set(shown) and len(set(looks.values())) == len(looks)


def test_loaded_layers_are_styled(qgis_new_project):
    import processing

    layer = walks()
    QgsProject.instance().addMapLayer(layer)
    results = processing.runAndLoadResults(
        "curbwright:mergepasses",
        {"INPUT": layer, "OUTPUT": "memory:", "PASSES": "memory:", "DISAGREEMENTS": "memory:"},
    )
    loaded = {
        key: QgsProject.instance().mapLayer(results[key])
        for key in ("OUTPUT", "PASSES", "DISAGREEMENTS")
    }
    assert {key: layer.name() for key, layer in loaded.items()} == {
        "OUTPUT": "Merged edges of walked edges",
        "PASSES": "Passes of walked edges",
        "DISAGREEMENTS": "Disagreements of walked edges",
    }
    assert [loaded[key].renderer().classAttribute() for key in ("OUTPUT", "DISAGREEMENTS")] == [
        "state",
        "reason",
    ]


def test_to_a_file(tmp_path):
    path = str(tmp_path / "out.gpkg")
    run("mergepasses", {"INPUT": walks(), "OUTPUT": path, "GROUP_FIELDS": ["kind"]})
    layer = QgsVectorLayer(path, "out", "ogr")
    assert layer.featureCount() == 3 and layer.wkbType() == QgsWkbTypes.Type.LineStringZ
    assert_allclose(sorted(row["length"] for row in table(layer)), 40.0, atol=0.03)
