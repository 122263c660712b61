"""The table that keeps what each run found of each layer."""

import sqlite3
from contextlib import closing

import numpy as np
import pytest
from batchruns import process, rows_of, two_layers
from controlleddays import KNOWN_SHIFT, a_day, control_points
from walkedlayers import layer_of, walk

from curbwright.algorithms.batch import history
from curbwright.shared.report import plots

pytestmark = pytest.mark.usefixtures("provider", "without_styles")


def test_one_row_per_run_and_layer(tmp_path):
    out = tmp_path / "out"
    process(two_layers(), out, MERGE_PASSES=True)
    first = rows_of(out, "history")
    assert "Runs so far" not in (out / "report.html").read_text(encoding="utf-8")
    process([*two_layers(), str(tmp_path / "missing.gpkg")], out)
    rows = rows_of(out, "history")
    assert rows[:2] == first
    assert [(row["run"], row["state"]) for row in rows] == [
        (1, "done"),
        (1, "done"),
        (2, "done"),
        (2, "done"),
        (2, "failed"),
    ]
    summary = rows_of(out, "summary")
    for row, said in zip(rows[2:4], summary):
        assert row["layer"] == said["layer"]
        for name in ("epochs_read", "epochs_kept", "epochs_rejected", "edges"):
            assert row[name] == said[name]
        assert row["km"] == pytest.approx(said["length"] / 1000)
        counts = [part.rsplit(" ", 1) for part in row["reasons"].split(", ")]
        assert sum(int(count) for _, count in counts) == said["epochs_rejected"]
        assert {reason for reason, _ in counts} == {
            one["reason"] for one in rows_of(out, "rejected") if one["layer"] == row["layer"]
        }
        sigmas = [
            one["sigma_cross"] for one in rows_of(out, "edges") if one["layer"] == row["layer"]
        ]
        assert row["sigma_median"] == pytest.approx(np.median(sigmas))
    page = (out / "report.html").read_text(encoding="utf-8")
    assert "Runs so far" in page and "From run to run" not in page  # two runs make no curve


def test_repeatability_and_control(tmp_path):
    layers = [
        layer_of(a_day(1, KNOWN_SHIFT), name="tuesday"),
        layer_of(walk(seed=9), name="again"),
    ]
    process(layers, tmp_path, MERGE_PASSES=True, CONTROL=control_points())
    tuesday, again = rows_of(tmp_path, "history")
    assert 0.0 < tuesday["repeatability"] < 0.05 and 0.0 < again["repeatability"] < 0.05
    assert tuesday["control_points"] == 3
    found = [tuesday[f"control_{axis}"] for axis in ("east", "north", "up")]
    assert found == pytest.approx(KNOWN_SHIFT, abs=0.006)
    assert not again["control_points"]


def test_report_without_matplotlib(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    for _ in range(2):
        process([layer_of(walk())], tmp_path, LIST_REVISITS=False)
    page = (tmp_path / "report.html").read_text(encoding="utf-8")
    assert "Runs so far" in page and "From run to run" not in page


def test_history_of_an_older_version_is_kept(tmp_path):
    process([layer_of(walk())], tmp_path)
    with closing(sqlite3.connect(str(tmp_path / "curbwright.gpkg"))) as database, database:
        database.execute("ALTER TABLE history DROP COLUMN control_up")
    process([layer_of(walk())], tmp_path)
    rows = rows_of(tmp_path, "history")
    assert [row["run"] for row in rows] == [1, 2] and rows[0]["km"] == rows[1]["km"]


def test_runs_in_short():
    def row(**known):
        return tuple(known.get(name) for name in history.NAMES)

    rows = [
        row(run=1, started="a", layer="x", state="done", km=3.0, sigma_median=0.004),
        row(run=1, started="a", layer="y", state="done", km=1.0, sigma_median=0.008),
        row(run=1, started="a", layer="z", state="failed"),
        row(
            run=2,
            started="b",
            layer="x",
            state="done",
            km=1.0,
            repeatability=0.01,
            control_east=0.03,
            control_north=0.04,
        ),
    ]
    first, second = history.by_run(rows)
    assert first[:4] == (1, "a", 2, 1) and first[6] == 4.0
    assert first[7] == pytest.approx(0.005) and np.isnan(first[8:]).all()
    assert second[8:] == pytest.approx((0.01, 0.05)) and history.next_number(rows) == 3
