"""The first of the README's two commands: in the long run as it is typed, in the short run with
one QGIS for all algorithms in place of one each; `test_package.py` runs the main job by command."""

import importlib.util
import os
import re
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from osgeo import gdal, ogr
from otherprocess import PATHS, run_code
from qgis.PyQt.QtGui import QImage

ROOT = Path(__file__).resolve().parents[2]
DATA = ROOT / "sample_project" / "data" / "tern_ness.gpkg"
pytestmark = pytest.mark.timeout(900)  # the run as typed starts QGIS many times
IN_ONE_HOST = f"""{PATHS}
sys.path.insert(0, {str(ROOT / "sample_project")!r})
import run
from onehost import OneHost
run.Host = OneHost
run.main(sys.argv[1:])
"""


def run(*arguments, cwd):
    environment = {
        key: value for key, value in os.environ.items() if key not in ("QT_QPA_PLATFORM", "DISPLAY")
    }
    return subprocess.run(
        ["bash", str(ROOT / "sample_project" / "run.sh"), *map(str, arguments)],
        cwd=cwd,
        env=environment,
        capture_output=True,
        text=True,
    )


def counts(path):
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR)
    layers = [dataset.GetLayer(index) for index in range(dataset.GetLayerCount())]
    return {layer.GetName(): layer.GetFeatureCount() for layer in layers}


@pytest.fixture(scope="module")
def done(request, tmp_path_factory):
    folder, profile = tmp_path_factory.mktemp("run"), tmp_path_factory.mktemp("profile")
    before = DATA.read_bytes()
    if request.config.getoption("--long"):
        # from elsewhere, into a folder with a space
        result = run(folder / "the results", cwd=folder)
    else:
        result = run_code(IN_ONE_HOST, profile, folder / "the results")
    assert result.returncode == 0, result.stdout + result.stderr
    assert DATA.read_bytes() == before
    return folder / "the results", result.stdout


def test_every_epoch_is_kept_or_rejected(done):
    folder, _ = done
    read = sum(count for name, count in counts(DATA).items() if name.startswith("captures"))
    found = counts(folder / "tern_ness_edges.gpkg")
    assert set(found) == {"edges", "gaps", "rejected", "kept", "alignments", "elements"}
    assert found["kept"] + found["rejected"] == read
    assert found["kept"] > 0.8 * read
    assert found["edges"] > 0


def test_alignments_are_true_arcs(done):
    folder, text = done
    dataset = gdal.OpenEx(str(folder / "tern_ness_edges.gpkg"), gdal.OF_VECTOR)
    assert (
        ogr.GT_Flatten(dataset.GetLayerByName("alignments").GetGeomType()) == ogr.wkbCompoundCurve
    )
    assert (
        sum(
            feature.GetGeometryRef().GetGeometryRef(0) is not None
            for feature in dataset.GetLayerByName("alignments")
        )
        == counts(folder / "tern_ness_edges.gpkg")["edges"]
    )
    radii = [
        feature["radius"]
        for feature in dataset.GetLayerByName("elements")
        if feature["element"] == "arc"
    ]
    # the returns of 6 m, 9 m and 4 m that the port was built with (`port.py`), within 2 % or 50 mm
    for radius in (6.0, 9.0, 4.0):
        assert min(abs(found - radius) for found in radii) < max(0.02 * radius, 0.05)
    assert f"{len(radii)} arcs" in text


def test_the_table_says_what_stands_in_the_file(done):
    folder, text = done
    found = counts(folder / "tern_ness_edges.gpkg")
    rows = [re.split(r"\s{2,}", line.strip()) for line in text.splitlines()]
    totals = {cells[0]: cells[-1] for cells in rows}
    for name in ("kept", "rejected"):
        assert totals[name] == f"{found[name]:,}"
    for words in ("epochs read", "length", "not_fixed", "spike", "distance from the truth"):
        assert words in text


def test_the_map_shows_something(done):
    folder, _ = done
    image = QImage(str(folder / "tern_ness_edges.png"))
    image = image.convertToFormat(QImage.Format.Format_RGB32)
    width, height = image.width(), image.height()
    assert width > 1000
    bits = image.constBits()
    bits.setsize(4 * width * height)
    pixels = np.frombuffer(bits, np.uint8).reshape(height, width, 4)[..., 2::-1]  # red first
    lightness = (pixels.max(axis=2).astype(int) + pixels.min(axis=2)) / 2
    assert 0.5 < np.mean(lightness > 250) < 0.99
    # Edges are drawn in their own blue: on the overview, in both insets and in the legend.
    y, x = np.nonzero((pixels == (0x1D, 0x35, 0x57)).all(axis=2))
    assert set(((x > width / 3) + 2 * (y > 0.455 * height)).tolist()) == {0, 1, 2, 3}


@pytest.mark.one_host
@pytest.mark.parametrize(
    "arguments", [["in the way"], pytest.param(["one", "two"], marks=pytest.mark.long)]
)
def test_failure_is_told(arguments, tmp_path):
    (tmp_path / "in the way").write_text("a file")
    assert run(*arguments, cwd=tmp_path).returncode != 0


def test_edges_become_linework(done):
    folder, text = done
    found = counts(folder / "tern_ness_linework.gpkg")
    assert set(found) == {
        "joined",
        "changes",
        "islands",
        "parallels",
        "curb_heights",
        "height_stations",
    }
    read, made, islands, parallels, height = re.search(
        r"linework +(\d+) edges make (\d+): .* (\d+) islands; (\d+) parallels, derived kerb"
        r" ([\d.]+) m",
        text,
    ).groups()
    assert (
        int(read)
        == counts(folder / "tern_ness_edges.gpkg")["edges"]
        > int(made)
        == found["joined"]
        == found["curb_heights"]
    )
    assert int(islands) == found["islands"] >= 4 and int(parallels) == found[
        "parallels"
    ] == 2 * int(made)
    assert abs(float(height) - 0.12) < 0.001
    dataset = gdal.OpenEx(str(folder / "tern_ness_linework.gpkg"), gdal.OF_VECTOR)
    sources = [
        name
        for feature in dataset.GetLayerByName("joined")
        for name in feature["sources"].split(", ")
    ]
    assert len(sources) == len(set(sources)) == int(read)  # every edge is in exactly one


def test_the_comparison_finds_what_was_built_in(done):
    folder, text = done
    found = counts(folder / "tern_ness_comparison.gpkg")
    assert (
        set(found) == {"edges_compared", "basemap_status", "stations", "check_points"}
        and found["stations"] > 1000
    )
    east, north = map(
        float, re.search(r"lies ([+-][\d.]+) m east, ([+-][\d.]+) m north", text).groups()
    )
    assert abs(east - 0.35) < 0.01 and abs(north + 0.20) < 0.01
    left_in, taken_out = map(
        int, re.search(r"displaced lines +(\d+) with that shift left in, (\d+)", text).groups()
    )
    assert left_in > 4 * taken_out == 8
    # nobody came near the weighbridge's kerb: whether it is gone, the survey cannot tell
    assert re.search(r"lines moved +2 displaced", text) and re.search(
        r"lines demolished +1 not_visited, 1 only_existing", text
    )
    assert "displaced" not in re.search(r"lines unchanged.*", text).group()
    # at each edge by what really happened there
    assert re.search(r"edges moved +[0-9]+ displaced[^,]", text) and re.search(
        r"edges not drawn +[0-9]+ only_new[^,]", text
    )
    assert (
        re.search(r"edges unchanged +[0-9]+ agrees", text)
        and "displaced" not in re.search(r"edges unchanged.*", text).group()
    )
    page = (folder / "report.html").read_text(encoding="utf-8")
    assert "Signature" in page and "2 are displaced" in page
    assert (
        "edges (tern_ness_edges.gpkg) against basemap (tern_ness.gpkg)" in page
        and ">lane island 6</span></td>" in page
    )
    page = (folder / "accuracy.html").read_text(encoding="utf-8")
    assert "Tested 0.0" in page and "Signature" in page


def test_the_basemap_is_brought_up_to_date(done):
    folder, text = done
    found = counts(folder / "tern_ness_basemap.gpkg")
    former = counts(DATA)["basemap"]
    told = re.search(r"updated basemap +(.*)", text).group(1)
    number = {name: int(count) for name, count in re.findall(r"([a-z ]+) (\d+)", told)}
    number = {name.strip(): count for name, count in number.items()}
    assert found["basemap"] == former + number["added"] and number["added"] >= 4
    assert found["held"] == number["held back"]
    # the two lines that moved, and nothing else
    assert number["replaced"] + number["replaced in part"] == 2
    (before, after), (rest_before, rest_after) = (
        map(float, re.search(rf"{name} +([\d.]+) m +([\d.]+) m", text).groups())
        for name in ("redrawn lines", "all others")
    )
    assert after < before / 4 and rest_after < rest_before / 4
    assert "Signature" in (folder / "update.html").read_text(encoding="utf-8")


def test_the_log_gives_edges(done):
    folder, text = done
    found = counts(folder / "tern_ness_log.gpkg")
    assert (
        found["kept"] + found["rejected"] == found["epochs"] > 100
        and found["rejected_sentences"] == 2
    )
    epochs, off = re.search(r"NMEA log .* (\d+) epochs, .* RMSE ([\d.]+) mm", text).groups()
    assert int(epochs) == found["epochs"] and float(off) < 12.0


def test_the_repeated_walk_is_merged_and_spot_points_are_averaged(done):
    folder, text = done
    found = counts(folder / "tern_ness_merged.gpkg")
    assert set(found) == {"merged", "passes", "disagreements", "spot_points", "epochs_left_out"}
    edges = counts(folder / "tern_ness_edges.gpkg")["edges"]
    assert found["passes"] == edges > found["merged"] and found["spot_points"] == 5
    alone, merged = map(
        float, re.search(r"repeat passes .* ([\d.]+) mm alone, ([\d.]+) mm merged", text).groups()
    )
    assert merged < alone
    used, left, off, sigma = map(
        float,
        re.search(
            r"spot points .* of (\d+) epochs, (\d+) left out; ([\d.]+) mm .* expect ([\d.]+) mm",
            text,
        ).groups(),
    )
    assert used + left == counts(DATA)["spot_points"] and left == found["epochs_left_out"] == 4
    assert off < 2 * sigma


def test_what_must_be_walked_again_is_listed(done):
    folder, text = done
    found = counts(folder / "tern_ness_revisits.gpkg")
    places, findings = map(
        int, re.search(r"places to revisit +(\d+), .* (\d+) findings", text).groups()
    )
    assert found == {"revisits": places, "reasons": findings} and findings > places > 10
    dataset = gdal.OpenEx(str(folder / "tern_ness_revisits.gpkg"), gdal.OF_VECTOR)
    rows = [feature.items() for feature in dataset.GetLayerByName("revisits")]
    assert sum(row["reasons"] for row in rows) == findings
    reasons = [feature["kind"] for feature in dataset.GetLayerByName("reasons")]
    # a demolished line, two that were walked in part; the other demolished one was not visited
    assert reasons.count("no_edge") == 3
    assert reasons.count("gap") > 10
    # a layer is nothing without its dataset
    waypoints = gdal.OpenEx(str(folder / "tern_ness_revisits.gpx"), gdal.OF_VECTOR)
    assert [feature["name"] for feature in waypoints.GetLayerByName("waypoints")] == [
        row["name"] for row in rows
    ]


def numbers(text):
    return [float(number) for number in re.findall(r"-?\d+\.?\d*", text)]


def test_the_pictures_of_the_help_are_those_of_this_run(done, provider):
    """Drawn anew they are the same, but for a pixel where another processor rounds otherwise."""
    import processing

    spec = importlib.util.spec_from_file_location(
        "help_pictures", ROOT / ".ci" / "help_pictures.py"
    )
    drawing = importlib.util.module_from_spec(spec)
    sys.modules[spec.name] = drawing  # where its dataclasses look for their module
    spec.loader.exec_module(drawing)
    folder, stale = done[0], []
    processing.run(*drawing.moving(folder))
    assert {path.stem for path in drawing.TARGET.glob("*.svg")} == set(drawing.PICTURES)
    for name, picture in drawing.PICTURES.items():
        was = numbers((drawing.TARGET / f"{name}.svg").read_text("utf-8"))
        now = numbers(drawing.svg_of(picture, folder))
        if len(was) != len(now) or max(map(abs, map(float.__sub__, was, now))) > 1.0:
            stale.append(name)
    assert stale == [], "run .ci/help_pictures.py on a run of the sample project"
