"""The sample project: built anew it is what is committed, and it holds what it says."""

import zipfile
from pathlib import Path

import numpy as np
import pytest
from numpy.testing import assert_allclose
from osgeo import gdal, ogr, osr
from qgis.core import QgsProject

from curbwright.sample_project import build, build_project, port
from curbwright.shared.epochs.fix_values import is_fixed
from curbwright.shared.epochs.times import parse_times

ROOT = Path(__file__).resolve().parents[2]
DATA, PROJECT = (
    ROOT / "sample_project" / "data" / "tern_ness.gpkg",
    ROOT / "sample_project" / "tern_ness.qgz",
)
CAPTURES = ("captures_plumb", "captures_aimed", "captures_geographic")
TIME = {"captures_plumb": "utc", "captures_aimed": "utc", "captures_geographic": "local_time"}
FIX = {
    "captures_plumb": "fix_quality",
    "captures_aimed": "solution",
    "captures_geographic": "fix_quality",
}


def read(path):
    """Layers of a file: (attributes, list of arrays of vertices) by name."""
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR)
    found = {}
    for index in range(dataset.GetLayerCount()):
        layer = dataset.GetLayer(index)
        rows, shapes = [], []
        for feature in layer:
            rows.append(feature.items())
            geometry = feature.GetGeometryRef()
            shapes.append(np.empty((0, 3)) if geometry is None else np.array(geometry.GetPoints()))
        found[layer.GetName()] = rows, shapes
    return found


@pytest.fixture(scope="module")
def committed():
    return read(DATA)


@pytest.fixture(scope="module")
def rebuilt(tmp_path_factory):
    return build.build(tmp_path_factory.mktemp("port") / "tern_ness.gpkg")


def column(rows, name):
    return np.array([row[name] for row in rows], dtype=object)


def distance_to(lines, xy):
    """Distance of points, shape (n, 2), from the nearest of some lines of vertices."""
    best = np.full(len(xy), np.inf)
    for line in lines:
        a, d = line[:-1, :2], np.diff(line[:, :2], axis=0)
        share = np.clip(((xy[:, None] - a) * d).sum(axis=-1) / (d**2).sum(axis=-1), 0.0, 1.0)
        best = np.minimum(
            best, np.hypot(*(xy[:, None] - a - share[..., None] * d).transpose(2, 0, 1)).min(axis=1)
        )
    return best


def test_rows_are_those_committed(rebuilt, committed):
    again = read(rebuilt)
    assert (
        list(again)
        == list(committed)
        == [
            *CAPTURES,
            "truth",
            "truth_corners",
            "basemap",
            "check_points",
            "spot_points",
            "streamed_lines",
        ]
    )
    for name, (rows, shapes) in committed.items():
        assert again[name][0] == rows
        for one, other in zip(again[name][1], shapes):
            assert_allclose(one, other, rtol=0.0, atol=2e-4)  # as rounded when written


def test_the_same_build_gives_the_same_bytes(rebuilt, tmp_path):
    assert build.build(tmp_path / "tern_ness.gpkg").read_bytes() == rebuilt.read_bytes()


def test_building_leaves_gdal_as_it_was(tmp_path):
    gdal.SetConfigOption("OGR_CURRENT_DATE", None)
    exceptions = gdal.GetUseExceptions()
    build.build(tmp_path / "tern_ness.gpkg")
    assert (
        gdal.GetConfigOption("OGR_CURRENT_DATE") is None and gdal.GetUseExceptions() == exceptions
    )


def test_it_is_small():
    assert DATA.stat().st_size + PROJECT.stat().st_size < 3e6


def test_truth_is_on_the_ground(committed):
    # On a zone's central meridian UTM is 0.9996 of the ground.
    rows, lines = committed["truth"]
    grid = np.array([np.hypot(*np.diff(line[:, :2], axis=0).T).sum() for line in lines])
    # chords are within 1 mm of the arcs
    assert_allclose(grid / column(rows, "ground_length").astype(float), 0.9996, rtol=3e-4)
    assert {row["kind"] for row in rows} == {"bend", "block", "bay", "zigzag", "island"}
    rings = [line for row, line in zip(rows, lines) if row["kind"] == "island"]
    assert len(rings) == 10 and all((ring[0] == ring[-1]).all() for ring in rings)
    corner_rows, corners = committed["truth_corners"]
    assert distance_to(lines, np.concatenate(corners)[:, :2]).max() < 1e-3
    assert len(corners) == 8 + 5 and {row["edge"] for row in corner_rows} == {
        "service road",
        "terminal footway",
    }


def test_the_roundabout_is_tangent_to_its_circle():
    # Entry arcs touch the outer circle of 20 m from inside the arms; the outer arcs must keep that
    # distance.
    for name, edge in port.edges().items():
        if name in ("roundabout north-west", "roundabout north-east", "roundabout south"):
            first, last = edge.joints[2], edge.joints[3]
            xy = edge.at(np.linspace(first, last, 30))[:, :2]
            assert_allclose(np.hypot(*(xy - port.ROUNDABOUT).T), 20.0, atol=1e-9)
            assert np.hypot(
                *(edge.at(np.linspace(0.0, edge.length, 500))[:, :2] - port.ROUNDABOUT).T
            ).min() == pytest.approx(20.0, abs=1e-3)


@pytest.mark.parametrize("name", CAPTURES)
def test_captures_lie_along_the_truth(committed, name):
    rows, shapes = committed[name]
    has = np.array([len(shape) == 1 for shape in shapes])
    xyz = np.concatenate([shape for shape in shapes if len(shape)])
    if name == "captures_geographic":
        assert (np.abs(xyz[:, 0] - 3.0) < 0.1).all() and (xyz[:, 1] > 55.0).all()
        home, away = osr.SpatialReference(), osr.SpatialReference()
        home.SetFromUserInput(port.CRS)
        away.SetFromUserInput("EPSG:4326")
        for reference in (home, away):
            reference.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
        xyz = np.array(osr.CoordinateTransformation(away, home).TransformPoints(xyz.tolist()))
    fixed = is_fixed(column(rows, FIX[name]))[has]
    away = distance_to(committed["truth"][1], xyz[:, :2])
    assert np.median(away[fixed]) < 0.012
    assert 0.8 < fixed.mean() < 1.0
    assert away[fixed].max() > 0.2  # spikes
    assert np.median(away[~fixed]) > 0.05
    seconds, _ = parse_times(column(rows, TIME[name]))
    day = np.datetime64("2025-05-13").astype("datetime64[s]").astype(float)
    known = np.isfinite(seconds)
    assert (seconds[known] > day + 6 * 3600).all() and (seconds[known] < day + 2 * 86400).all()
    sigma = column(rows, "h_sigma")[has].astype(float)
    assert sigma.min() >= 0.004 and np.median(sigma) < 0.01 and sigma[~fixed].min() > 0.05


def test_what_goes_wrong_in_the_field_is_there(committed):
    rows = [row for name in CAPTURES for row in committed[name][0]]
    shapes = [shape for name in CAPTURES for shape in committed[name][1]]
    assert sum(len(shape) == 0 for shape in shapes) >= 3
    for name in CAPTURES[:2]:
        assert any(row["utc"] is None for row in committed[name][0])
        assert set(column(committed[name][0], FIX[name])) in (
            {1, 4, 5},
            {"fixed", "float", "autonomous"},
        )
    keys = [(row["capture"], row.get("utc", row.get("local_time"))) for row in rows]
    assert len(set(keys)) < len(keys)  # rows sent twice
    assert {row["walker"] for row in rows} == {"walker A", "walker B", "walker C", "walker D"}
    assert {row["capture"][0] for row in rows} == {"1", "2"}
    seconds = parse_times(column(committed["captures_aimed"][0], "utc"))[0]
    capture = column(committed["captures_aimed"][0], "capture")
    pause = np.diff(seconds)[capture[1:] == capture[:-1]]
    assert (pause > 5.0).sum() >= 5
    repeat = [one for one in port.captures() if one.edge == "quay footway"]
    assert (
        len(repeat) == 2 and repeat[0].walker != repeat[1].walker and repeat[0].day != repeat[1].day
    )


def test_everything_is_said_to_be_invented():
    dataset = gdal.OpenEx(str(DATA), gdal.OF_VECTOR)
    contents = dataset.ExecuteSQL("SELECT description FROM gpkg_contents")
    said = [feature.GetField(0) for feature in contents]
    dataset.ReleaseResultSet(contents)
    assert len(said) == 9 and all(text.startswith("Invented.") for text in said)


def test_epoch_layers_are_points_with_height():
    dataset = gdal.OpenEx(str(DATA), gdal.OF_VECTOR)
    for name in CAPTURES:
        assert dataset.GetLayerByName(name).GetGeomType() == ogr.wkbPoint25D


# --- the project
# ------------------------------------------------------------------------------------------------


def test_project_opens(qgis_new_project):
    project = QgsProject.instance()
    assert project.read(str(PROJECT)), project.error()
    try:
        groups = {
            group.name(): [leaf.name() for leaf in group.findLayers()]
            for group in project.layerTreeRoot().findGroups()
        }
        assert groups == {
            "Truth": ["True corners", "True edges"],
            "Other surveys": ["Check points", "Legacy basemap"],
            "Captures": [
                "Plumb, one a second",
                "Aimed, with pauses",
                "Plumb, in degrees and local time",
                "Spot points",
                "Streamed lines, M as time",
            ],
        }
        assert len(project.mapLayers()) == 9
        for layer in project.mapLayers().values():
            assert layer.isValid() and layer.featureCount() > 0
            assert project.layerTreeRoot().findLayer(layer.id()) is not None  # or nothing is drawn
            assert layer.renderer().type() in ("categorizedSymbol", "singleSymbol")
        assert "invented" in project.title() and "invented" in project.metadata().abstract()
        assert project.crs().authid() == port.CRS
        extent = project.viewSettings().defaultViewExtent()
        assert 100.0 < extent.height() < extent.width() < 800.0
    finally:
        project.clear()


def _project_text(path):
    with zipfile.ZipFile(path) as archive:
        return archive.read("tern_ness.qgs").decode("utf-8")


def test_project_holds_relative_paths_and_nobodys_name():
    text = _project_text(PROJECT)
    assert text.count("./data/tern_ness.gpkg|layername=") >= 5
    assert str(ROOT) not in text and "saveUser" not in text
    assert "<author></author>" in text


def test_every_state_of_the_fix_has_a_symbol(committed):
    for name in CAPTURES:
        states = {value for value, _, _ in build_project.STATES[FIX[name]]}
        assert set(column(committed[name][0], FIX[name])) <= states


def test_project_can_be_built_again(qgis_app, tmp_path, monkeypatch):
    (tmp_path / "data").mkdir()
    (tmp_path / "data" / "tern_ness.gpkg").write_bytes(DATA.read_bytes())
    monkeypatch.setattr(build_project, "DATA", tmp_path / "data" / "tern_ness.gpkg")
    text = _project_text(build_project.build(tmp_path / "tern_ness.qgz"))
    assert str(tmp_path) not in text and text.count("./data/tern_ness.gpkg|layername=") >= 5
    names = {*CAPTURES, "truth", "truth_corners", "basemap", "check_points"}
    assert {f"tern_ness_{name}" for name in names} <= set(text.split('"'))


# --- other surveys
# ------------------------------------------------------------------------------------------------


def test_basemap_is_shifted_and_says_what_became_of_it(committed):
    rows, lines = committed["basemap"]
    fates = column(rows, "fate").tolist()
    assert fates.count("moved") == len(port.MOVED) and fates.count("demolished") == len(
        port.DEMOLISHED
    )
    assert {row["name"] for row in rows} == (set(port.edges()) - set(port.NOT_DRAWN)) | set(
        port.DEMOLISHED
    )
    truth = committed["truth"][1]
    back = np.concatenate(
        [line[:, :2] for line, fate in zip(lines, fates) if fate == "unchanged"]
    ) - np.multiply(port.BASEMAP_SHIFT, 0.9996)
    assert np.sqrt(np.mean(distance_to(truth, back) ** 2)) < 0.05
    assert all(line.shape[1] == 2 or not line[:, 2].any() for line in lines)


def test_check_points_are_enough_and_lie_on_edges(committed):
    rows, points = committed["check_points"]
    # 20 after the NSSDA, 30 after ASPRS Edition 2
    assert len(rows) >= 30 and len({row["name"] for row in rows}) == len(rows)
    away = distance_to(committed["truth"][1], np.concatenate(points)[:, :2])
    assert np.sqrt(np.mean(away**2)) < 2 * port.CHECK_SIGMA


def test_spot_points_stand_on_corners(committed):
    rows, points = committed["spot_points"]
    assert {row["point"] for row in rows} == {name for name, *_ in port.SPOTS}
    corners = np.concatenate(committed["truth_corners"][1])
    for name, _, _, _, epochs in port.SPOTS:
        xyz = np.concatenate([shape for row, shape in zip(rows, points) if row["point"] == name])
        assert len(xyz) == epochs
        middle = np.median(xyz, axis=0)
        assert np.hypot(*(corners[:, :2] - middle[:2]).T).min() < 0.02
    assert {row["fix_quality"] for row in rows} == {4, 5}


def test_streamed_lines_follow_their_edges_in_time(committed):
    dataset = gdal.OpenEx(str(DATA), gdal.OF_VECTOR)
    layer = dataset.GetLayerByName("streamed_lines")
    assert layer.GetGeomType() == ogr.wkbLineStringZM and layer.GetFeatureCount() == len(
        port.STREAMED
    )
    for feature in layer:
        line = feature.GetGeometryRef()
        vertices, seconds = (
            np.array(line.GetPoints()),
            np.array([line.GetM(number) for number in range(line.GetPointCount())]),
        )
        assert (
            (np.diff(seconds) >= 0).all()
            and seconds[0] > port.DAYS[2].timestamp()
            and seconds[-1] < seconds[0] + 3600.0
        )
        assert np.median(np.diff(seconds)) == 1.0
        assert np.median(distance_to(committed["truth"][1], vertices[:, :2])) < 0.012
