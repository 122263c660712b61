"""Checking accuracy through the host: published numbers, pairs, lines, units, CRS, report and bad
input."""

import numpy as np
import processing
import pytest
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
)
from walkedlayers import Log, run, table

pytestmark = pytest.mark.usefixtures("provider")

# ASPRS Positional Accuracy Standards, Edition 1 (2014), Annex D, from memory; see
# tests/checks/test_accuracy_standards.py.
NAMES = ["GCP1", "GCP2", "GCP3", "GCP4", "GCP5"]
MAP = [
    (359584.394, 5142449.934, 477.127),
    (359872.190, 5147939.180, 412.406),
    (359893.089, 5136979.824, 487.292),
    (359927.194, 5151084.129, 393.591),
    (372737.074, 5151675.999, 451.305),
]
CHECK = [
    (359584.534, 5142450.004, 477.198),
    (359872.290, 5147939.280, 412.396),
    (359893.072, 5136979.894, 487.190),
    (359927.264, 5151083.979, 393.691),
    (372736.944, 5151675.879, 451.218),
]
UTM = "EPSG:32631"


def points(rows, names=None, crs=UTM, kind="PointZ", title="check"):
    layer = QgsVectorLayer(f"{kind}?crs={crs}&field=name:string", title, "memory")
    features = []
    for number, xyz in enumerate(rows):
        feature = QgsFeature(layer.fields())
        if xyz is not None:
            feature.setGeometry(QgsGeometry(QgsPoint(*xyz)))
        feature.setAttributes([names[number] if names else f"P{number + 1}"])
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


def lines(*shapes, names=None, crs=UTM, kind="LineStringZ", title="edges"):
    layer = QgsVectorLayer(f"{kind}?crs={crs}&field=name:string", title, "memory")
    features = []
    for number, shape in enumerate(shapes):
        feature = QgsFeature(layer.fields())
        feature.setGeometry(
            QgsGeometry.fromWkt(shape)
            if isinstance(shape, str)
            else QgsGeometry.fromPolyline([QgsPoint(*at) for at in shape])
        )
        feature.setAttributes([names[number] if names else f"L{number + 1}"])
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


def check(tested, points_layer, log=None, **more):
    return run(
        "checkaccuracy",
        {"INPUT": tested, "CHECK_POINTS": points_layer, "OUTPUT": "memory:", **more},
        log,
    )


def far(rows, crs):
    """Rows of UTM in another CRS."""
    way = QgsCoordinateTransform(
        QgsCoordinateReferenceSystem(UTM), QgsCoordinateReferenceSystem(crs), QgsProject.instance()
    )
    moved = []
    for x, y, z in rows:
        point = QgsPoint(x, y, z)
        point.transform(way)
        moved.append((point.x(), point.y(), z))
    return moved


def scattered(count=24, seed=2):
    """Tested points and check points in UTM round a place on its central meridian, where the grid
    is 0.9996 of the ground."""
    rng = np.random.default_rng(seed)
    at = np.column_stack(
        [
            500000 + rng.uniform(-200, 200, count),
            6200000 + rng.uniform(-200, 200, count),
            rng.uniform(2, 5, count),
        ]
    )
    errors = rng.normal(0, (0.03, 0.025, 0.04), (count, 3))
    return at + errors * (0.9996, 0.9996, 1.0), at, errors


@pytest.mark.parametrize("by", ["nearness", "identifiers"])
def test_annex_d(by):
    more = {"ID_FIELD": "name", "CHECK_ID_FIELD": "name"} if by == "identifiers" else {}
    log = Log()
    order = [3, 0, 4, 1, 2]
    tested = points([MAP[row] for row in order], [NAMES[row] for row in order], title="map")
    result = check(tested, points(CHECK, NAMES), log, **more)
    # Published figures have three decimals and are those of the grid; ground metres differ by the
    # zone's scale (0.9996 to 1.0001).
    published = {
        "MEAN_EAST": -0.033,
        "MEAN_NORTH": 0.006,
        "MEAN_UP": 0.006,
        "RMSE_EAST": 0.102,
        "RMSE_NORTH": 0.106,
        "RMSE_UP": 0.081,
        "RMSE_R": 0.147,
        "NSSDA_H": 0.255,
        "NSSDA_V": 0.160,
    }
    assert {name: result[name] for name in published} == pytest.approx(published, abs=6e-4)
    assert result["POINTS"] == 5 and result["RMSE_ACROSS"] is None
    rows = table(result["OUTPUT"])
    assert [row["name"] for row in rows] == NAMES and {row["state"] for row in rows} == {"used"}
    assert [round(row["d_east"], 3) for row in rows] == pytest.approx(
        [-0.140, -0.100, 0.017, -0.070, 0.130], abs=1e-9
    )
    assert [round(row["d_north"], 3) for row in rows] == pytest.approx(
        [-0.070, -0.100, -0.070, 0.150, 0.120], abs=1e-9
    )
    assert [round(row["d_up"], 3) for row in rows] == [-0.071, 0.010, 0.102, -0.100, 0.087]
    assert any("too few" in text for text in log.warnings)
    assert any(
        text.startswith("Tested 0.255 metres horizontal accuracy at 95 % confidence level")
        for text in log.infos
    )


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:32632", "EPSG:2263"])
def test_errors_are_ground_metres_whatever_the_crs(crs):
    tested, truth, errors = scattered()
    home = check(points(tested), points(truth))
    away = check(points(tested), points(far(truth, "EPSG:4326"), crs="EPSG:4326"))
    for name, value in (
        ("RMSE_EAST", np.sqrt(np.mean(errors[:, 0] ** 2))),
        ("RMSE_NORTH", np.sqrt(np.mean(errors[:, 1] ** 2))),
        ("RMSE_UP", np.sqrt(np.mean(errors[:, 2] ** 2))),
    ):
        assert home[name] == pytest.approx(value, abs=2e-6)
        assert away[name] == pytest.approx(value, abs=2e-6)
    if crs == "EPSG:2263":
        return  # in New York: see below
    there = check(points(far(tested, crs), crs=crs), points(truth))
    assert there["RMSE_R"] == pytest.approx(home["RMSE_R"], abs=1e-5)
    # both have true north up, as UTM has on its central meridian
    if crs in ("EPSG:4326", "EPSG:3857"):
        assert there["RMSE_EAST"] == pytest.approx(home["RMSE_EAST"], abs=2e-5)


def test_feet():
    # EPSG:2263 counts US survey feet, 0.3048006096 m by definition; its grid is within 1e-4 of the
    # ground there.
    at = [(980000.0 + 50 * number, 200000.0 + 30 * number, 10.0) for number in range(6)]
    result = check(
        points([(x + 1.0, y - 0.5, z) for x, y, z in at], crs="EPSG:2263"),
        points(at, crs="EPSG:2263"),
    )
    assert result["MEAN_EAST"] == pytest.approx(0.3048006, rel=2e-4)
    assert result["MEAN_NORTH"] == pytest.approx(-0.1524003, rel=2e-4)


def test_states_cover_every_check_point():
    log = Log()
    tested = points([(500000.1, 6200000, 1), (500010, 6200000, 1)])
    result = check(
        tested,
        points([(500000, 6200000, 1), (500010, 6200050, 1), None, (500010.3, 6200000, 1)]),
        log,
        SEARCH_DISTANCE=2,
    )
    rows = table(result["OUTPUT"])
    assert [row["state"] for row in rows] == ["used", "no_partner", "no_position", "used"]
    assert result["POINTS"] == 2
    assert rows[1]["d_east"] in (None, rows[2]["d_east"])  # NULL both
    assert any(
        "Check points without a partner, which are set aside: 1" in text for text in log.warnings
    ) and any("without a position" in text for text in log.warnings)


def test_identifiers_pair_whatever_the_distance():
    tested, truth = (
        points([(500100.0, 6200000, 1), (500000, 6200000, 1)], ["a", "b"]),
        points([(500000.0, 6200000, 1)], ["a"]),
    )
    result = check(tested, truth, ID_FIELD="name", CHECK_ID_FIELD="NAME")
    assert result["MEAN_EAST"] == pytest.approx(100 / 0.9996, abs=1e-3)


def test_outliers_are_flagged_and_stay():
    tested, truth, _ = scattered(30)
    tested[4, 0] += 0.5
    log = Log()
    result = check(points(tested), points(truth), log)
    flagged = [row["name"] for row in table(result["OUTPUT"]) if row["outlier"]]
    assert "P5" in flagged and len(flagged) <= 3 and result["OUTLIERS"] == len(flagged)
    # 0.5 / sqrt(30) = 0.091, less what the point's own error takes away
    assert result["RMSE_EAST"] > 0.08
    assert any("Outliers among the check points" in text for text in log.warnings)


def test_check_points_own_error_counts():
    tested, truth, _ = scattered(40)
    result = check(points(tested), points(truth), CHECK_SIGMA_H=0.02, CHECK_SIGMA_V=0.03)
    assert result["RMSE_H"] == pytest.approx(np.hypot(result["RMSE_R"], 0.02))
    assert result["RMSE_V"] == pytest.approx(np.hypot(result["RMSE_UP"], 0.03))
    assert result["RMSE_3D"] == pytest.approx(np.hypot(result["RMSE_H"], result["RMSE_V"]))


def test_points_without_height():
    tested, truth, _ = scattered(25)
    result = check(points(tested[:, :2], kind="Point"), points(truth))
    assert result["RMSE_UP"] is None and result["NSSDA_V"] is None and result["NSSDA_H"] > 0


# --- lines

LINE = [(500000.0, 6200000.0, 3.0), (500100.0, 6200000.0, 4.0)]


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:3857"])
def test_offset_across_a_line(crs):
    at = [
        (500010.0 + 10 * number, 6200000.0 + way, 3.1 + 0.1 * number)
        for number, way in enumerate([0.1, -0.2, 0.05, -0.05, 0.0])
    ]
    log = Log()
    result = check(lines(far(LINE, crs), crs=crs), points([*at, (499999.5, 6200000.2, 3.0)]), log)
    rows = table(result["OUTPUT"])
    # + where the check point lies to the right of the line, which runs east: to the south
    expected = np.array([-0.1, 0.2, -0.05, 0.05, 0.0]) / 0.9996
    assert [row["offset"] for row in rows[:5]] == pytest.approx(expected, abs=2e-4)
    assert [row["d_north"] for row in rows[:5]] == pytest.approx(expected, abs=2e-4)
    assert [row["d_east"] for row in rows[:5]] == pytest.approx([0] * 5, abs=2e-4)
    assert [row["d_up"] for row in rows[:5]] == pytest.approx([0.0] * 5, abs=1e-4)
    assert [row["chainage"] for row in rows[:5]] == pytest.approx(
        np.arange(10, 60, 10) / 0.9996, abs=1e-3
    )
    assert [row["state"] for row in rows] == ["used"] * 5 + ["beyond_end"]
    assert (
        result["ACROSS_95"] == pytest.approx(1.96 * result["RMSE_ACROSS"])
        and result["NSSDA_H"] is None
        and result["RMSE_H"] is None
    )
    assert any("nothing of the error along it" in text for text in log.warnings) and any(
        "beyond the end" in text for text in log.warnings
    )


def test_curves_and_parts():
    arc = "COMPOUNDCURVE (CIRCULARSTRING (500000 6200000, 500010 6200010, 500020 6200000))"
    result = check(
        lines(arc, kind="CompoundCurve"),
        points([(500010, 6200010.1, 0), (500010 + 10.1 * 0.6, 6200000 + 10.1 * 0.8, 0)]),
    )
    # A circle of 10 m walked clockwise: outside is left
    assert [row["offset"] for row in table(result["OUTPUT"])] == pytest.approx(
        [-0.1, -0.1], abs=3e-4
    )
    several = "MULTILINESTRING ((500000 6200000, 500010 6200000), (500020 6200000, 500030 6200000))"
    result = check(
        lines(several, kind="MultiLineString"),
        points([(500005, 6200000.1, 0), (500015, 6200000, 0), (500025, 6199999.9, 0)]),
        SEARCH_DISTANCE=6,
    )
    assert [row["state"] for row in table(result["OUTPUT"])] == ["used", "beyond_end", "used"]


def test_lines_by_identifier():
    result = check(
        lines(LINE, [(x, y + 1, z) for x, y, z in LINE], names=["low", "high"]),
        points([(500050, 6200000.1, 3.5)], ["high"]),
        ID_FIELD="name",
        CHECK_ID_FIELD="name",
    )
    row = table(result["OUTPUT"])[0]
    assert row["tested_id"] == "high" and row["offset"] == pytest.approx(0.9 / 0.9996, abs=1e-3)


# --- report, style, bad input


def test_points_compared_with_themselves_are_warned_of():
    at = scattered()[1]
    log = Log()
    check(points(at), points(at), log)
    assert any("compared with itself" in text for text in log.warnings)
    log = Log()
    check(points(scattered()[0]), points(at), log)
    assert not any("compared with itself" in text for text in log.warnings)


def test_check_points_with_east_and_north_exchanged_are_refused():
    at = scattered()[1]
    by = {"ID_FIELD": "name", "CHECK_ID_FIELD": "name"}
    with pytest.raises(QgsProcessingException, match="“check”.*exchanged"):
        check(points(at), points(at[:, [1, 0, 2]]), **by)


def test_report(tmp_path):
    tested, truth, _ = scattered(30)
    tested[3, :2] += 0.3  # both axes alike: the NSSDA's formula ends where they differ too much
    path = tmp_path / "a report.html"
    result = check(
        points(tested, title="<script>alert(1)</script> & edges"),
        points(truth, ["<b>A&B</b>"] + [f"C{n}" for n in range(29)]),
        REPORT=str(path),
        CHECK_ID_FIELD=None,
        AUTHOR="Survey & map section",
    )
    page = path.read_text(encoding="utf-8")
    assert result["REPORT"] == str(path)
    assert "<script" not in page and "&lt;script&gt;alert(1)&lt;/script&gt; &amp; edges" in page
    for words in (
        "Tested",
        "horizontal accuracy at 95 % confidence level",
        "outlier",
        "Signature",
        "stake-out",
        "FGDC-STD-007.3-1998",
        "<small>Author</small>Survey &amp; map section</td>",
        # what was tested is called as all reports call lines: by the field that tells it apart
        '<span class="id">P4</span>',
        "tested by field “name”",
        "Checksums of the geometries",
        "Curbwright 0.",
    ):
        assert words in page


def test_loaded_layer_is_styled(qgis_new_project):
    project = QgsProject.instance()
    tested, truth, _ = scattered()
    layers = [points(tested, title="tested"), points(truth)]
    project.addMapLayers(layers)
    results = processing.runAndLoadResults(
        "curbwright:checkaccuracy",
        {"INPUT": layers[0], "CHECK_POINTS": layers[1], "OUTPUT": "memory:"},
    )
    renderer = project.mapLayer(results["OUTPUT"]).renderer()
    assert renderer.type() == "RuleRenderer"
    # told apart by form, not by colour alone
    forms = [rule.symbol().symbolLayer(0).shape() for rule in renderer.rootRule().children()]
    assert len(set(forms)) == len(forms) == 4


@pytest.mark.parametrize(
    ("make", "pieces"),
    [
        (lambda: (points(MAP), points([])), ["“check” is empty"]),
        (
            lambda: (points(MAP), points([(0.0, 0.0, 0.0)])),
            ["No check point of “check”", "CRS", "Search distance"],
        ),
        (lambda: (points(MAP), points(CHECK, crs="")), ["“check” has no CRS", "Assign"]),
    ],
    ids=["no check point", "far away", "no CRS"],
)
def test_bad_input(make, pieces, tmp_path):
    tested, check_points = make()
    with pytest.raises(QgsProcessingException) as raised:
        check(tested, check_points, OUTPUT=str(tmp_path / "out.gpkg"))
    for piece in pieces:
        assert piece in str(raised.value)
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    ("more", "pieces"),
    [
        (
            {"ID_FIELD": "nope", "CHECK_ID_FIELD": "name"},
            ["“map” has no field “nope”", "It has: name"],
        ),
        ({"ID_FIELD": "name", "CHECK_ID_FIELD": "nope"}, ["“check” has no field “nope”"]),
        ({"ID_FIELD": "name"}, ["Give both"]),
    ],
)
def test_bad_fields(more, pieces):
    with pytest.raises(QgsProcessingException) as raised:
        check(points(MAP, title="map"), points(CHECK), **more)
    for piece in pieces:
        assert piece in str(raised.value)


def test_identifiers_must_be_unique():
    with pytest.raises(QgsProcessingException, match="“GCP1” stands for several"):
        check(
            points(MAP, ["GCP1"] * 5, title="map"),
            points(CHECK, NAMES),
            ID_FIELD="name",
            CHECK_ID_FIELD="name",
        )
    with pytest.raises(QgsProcessingException, match="No check point of “check” has an identifier"):
        check(
            points(MAP, title="map"), points(CHECK, NAMES), ID_FIELD="name", CHECK_ID_FIELD="name"
        )


def test_cancel():
    log = Log()
    log.cancel()
    assert check(points(MAP), points(CHECK), log) == {}
