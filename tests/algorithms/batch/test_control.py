"""Capture days against control points, in the run over all layers."""

import re

import pytest
from batchruns import process, rows_of, shapes_of
from controlleddays import KNOWN_SHIFT, UTM, a_day, control_points
from walkedlayers import Log, layer_of

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:32633"])
def test_a_day_with_a_wrong_base_is_named_first(tmp_path, crs):
    log = Log()
    results = process(
        [
            layer_of(a_day(0, (0.0, 0.0, 0.0)), name="monday"),
            layer_of(a_day(1, KNOWN_SHIFT), name="tuesday"),
        ],
        tmp_path,
        log,
        CONTROL=control_points(crs),
        TARGET_CRS=UTM,
        LIST_REVISITS=False,
    )
    assert results["DAYS_OFF"] == 1
    first = log.warnings[0]
    assert "2026-05-05" in first and "tuesday" in first and "monday" not in first
    shift = [float(word) for word in re.findall(r"([+-]\d\.\d{3}) m", first)]
    assert shift == pytest.approx(KNOWN_SHIFT, abs=0.006)
    assert any("2026-05-04" in info and "No shift beyond chance" in info for info in log.infos)
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    off = "Days that are off the control points by more than chance: 1 of 2."
    said = [page.index(words) for words in (off, "Layers processed", "2026-05-05: ")]
    assert said == sorted(said) and said[-1] < page.index("<h2>Captures")
    assert "days checked 2, off 1 (2026-05-05)" in page
    summary = {row["stage"]: row for row in rows_of(tmp_path, "summary")}
    assert summary["control"]["state"] == "done" and summary["control"]["warnings"] == 1


def test_control_leaves_the_results_as_they_are(tmp_path):
    layers = [layer_of(a_day(1, KNOWN_SHIFT), name="tuesday")]
    process(layers, tmp_path / "without")
    process(layers, tmp_path / "with", CONTROL=control_points())
    for name in ("edges", "gaps", "rejected", "kept", "revisits"):
        assert rows_of(tmp_path / "with", name) == rows_of(tmp_path / "without", name)
        assert shapes_of(tmp_path / "with", name) == shapes_of(tmp_path / "without", name)


def test_control_far_away_is_said(tmp_path):
    log = Log()
    far = layer_of(
        [{"x": 900.0, "y": 900.0, "z": 1.0}],
        fields=(("name", "string"),),
        values=lambda row: ["point"],
        name="control",
    )
    results = process([layer_of(a_day(0, (0, 0, 0)))], tmp_path, log, CONTROL=far)
    assert results["DAYS_OFF"] == 0
    assert any("Not checked" in text and "2026-05-04" in text for text in log.warnings)


def test_control_that_fails_leaves_the_edges(tmp_path):
    log = Log()
    nowhere = layer_of([], fields=(("name", "string"),), name="control")
    results = process([layer_of(a_day(0, (0, 0, 0)))], tmp_path, log, CONTROL=nowhere)
    assert results["EDGES"] > 0
    assert any("Stage “Control points” failed" in text for text in log.warnings)
    assert rows_of(tmp_path, "summary")[1]["error"]
