"""Capture days against control points, in the run over all layers."""

import re

import numpy as np
import pytest
from test_processcaptures import UTM, process, rows_of, shapes_of
from walkedlayers import START, Log, layer_of, walk

pytestmark = pytest.mark.usefixtures("provider")


def spot(place, day=0, seed=7, epochs=12, shift=(0.0, 0.0, 0.0)):
    """Epochs of somebody who stands still."""
    noise = np.random.default_rng(seed).normal(0, 0.004, (3, epochs))
    x, y, z = np.array(place)[:, None] + np.array(shift)[:, None] + noise
    return [
        {
            "x": float(x[i]),
            "y": float(y[i]),
            "z": float(z[i]),
            "seconds": START + 86400.0 * day + 5000.0 + 100.0 * seed + i,
            "fix": 4,
            "h_acc": 0.008,
            "capture": f"spot {seed}",
        }
        for i in range(epochs)
    ]


KNOWN = ((-20.0, 5.0, 4.0), (-30.0, 60.0, 5.0), (-50.0, 20.0, 4.5))
WRONG = (0.31, -0.12, 0.2)  # base of the second day


def a_day(day, shift):
    rows = [{**row, "seconds": row["seconds"] + 86400.0 * day} for row in walk(seed=day + 1)]
    for number, place in enumerate(KNOWN):
        rows += spot(place, day, 10 * day + number + 20, shift=shift)
    return rows


def control_points(crs=UTM):
    points = layer_of(
        [dict(zip(("x", "y", "z"), place)) for place in KNOWN],
        fields=(("name", "string"),),
        values=lambda row: ["point"],
        name="control",
    )
    if crs == UTM:
        return points
    import processing

    return processing.run(
        "native:reprojectlayer", {"INPUT": points, "TARGET_CRS": crs, "OUTPUT": "memory:"}
    )["OUTPUT"]


@pytest.mark.parametrize("crs", [UTM, "EPSG:4326", "EPSG:32633"])
def test_a_day_with_a_wrong_base_is_named_first(tmp_path, crs):
    log = Log()
    results = process(
        [
            layer_of(a_day(0, (0.0, 0.0, 0.0)), name="monday"),
            layer_of(a_day(1, WRONG), name="tuesday"),
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
    assert shift == pytest.approx(WRONG, abs=0.006)
    assert any("2026-05-04" in info and "No shift beyond chance" in info for info in log.infos)
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert page.index("2026-05-05: ") < page.index("layers were processed")
    summary = {row["stage"]: row for row in rows_of(tmp_path, "summary")}
    assert summary["control"]["state"] == "done" and summary["control"]["warnings"] == 1


def test_control_leaves_the_results_as_they_are(tmp_path):
    layers = [layer_of(a_day(1, WRONG), name="tuesday")]
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
    assert any("“control” failed" in text for text in log.warnings)
    assert rows_of(tmp_path, "summary")[1]["error"]
