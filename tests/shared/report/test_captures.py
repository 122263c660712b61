"""The report of all captures: every layer, day and run stands in it, as it was said."""

import numpy as np
import pytest
from comparisons import comparison

from curbwright.shared.lines.lines import Lines
from curbwright.shared.report import ReportContext, plots
from curbwright.shared.report.captures import (
    CapturesContext,
    DayRow,
    LayerRow,
    write_captures_report,
)
from curbwright.shared.report.trend import RUNS

NASTY = "<i>quay</i>"
DONE = LayerRow(NASTY, "", 1200, 1100, 100, 7, 431.25, 2)
OTHER = LayerRow("lane", "", 800, 790, 10, 3, 68.5, 0)
FAILED = LayerRow("lost", f"no position in {NASTY}", 0, 0, 0, 0, 0.0, 1)


def run_number(number, sigma=0.008):
    return (number, f"day {number}", 2, 0, 2000, 1890, 0.5, sigma, np.nan, 0.012)


def written(tmp_path, result=None, context=None, **more):
    values = {
        "folder": NASTY,
        "crs": "EPSG:32631",
        "made": "2026-05-04 10:00",
        "layers": (DONE,),
        "stages": (),
        "results": (("edges", 10), ("gaps", 3)),
        "settings": (("Tolerance (m)", "0.01"),),
        "versions": (("QGIS", "3.40"),),
    }
    path = tmp_path / "captures.html"
    write_captures_report(path, CapturesContext(**{**values, **more}), result, context)
    page = path.read_text(encoding="utf-8")
    assert "<i>" not in page and "Signature" in page and "stake-out" in page
    return page


def test_every_layer_is_counted_and_what_failed_is_said(tmp_path):
    page = written(tmp_path, layers=(DONE, OTHER, FAILED), stages=(("Merged", NASTY),))
    assert "Layers processed: 2 of 3. Edges: 10, 499.8 m" in page
    assert "Of 2,000 epochs 110 (5.5 %) were rejected; warnings: 3." in page
    assert "1 layer failed; “Captures” says why." in page
    captures = page.split("<h2>Captures")[1].split("</section>")[0]
    assert "<li>lost: no position in &lt;i&gt;quay&lt;/i&gt;</li>" in captures
    for total in ("2,000", "1,890", "110"):  # read, kept and rejected of both
        assert f">{total}<" in page
    assert "What followed" in page and "Merged: &lt;i&gt;quay" in page
    one = written(tmp_path)
    assert (
        "Layers processed: 1 of 1. Edges: " in one
        and "What followed" not in one
        and ">all<" not in one
    )


def test_days_that_are_off_lead(tmp_path):
    off = DayRow(f"{NASTY} lies 80 mm east", "2026-05-04", 5, 0.08, -0.01, 0.0, "lane")
    fine = DayRow("", "2026-05-05", 4, 0.002, 0.001, 0.003, "quay")
    days = (off, fine, DayRow("", "2026-05-06", 0, np.nan, np.nan, np.nan, "yard"))
    page = written(tmp_path, control=days)
    in_short, matters = "by more than chance: 1 of 3.", "<h2>What matters most"
    places = [page.index(words) for words in (in_short, "Layers processed", matters)]
    assert places == sorted(places) and page.count("lies 80 mm east") == 1
    for words in (">off<", ">fine<", ">not checked<", ">+0.080<", ">−0.010<"):
        assert words in page
    assert "No day is off by more than chance." in written(tmp_path, control=days[1:])


@pytest.mark.parametrize("plotted", [True, False])
def test_the_last_runs_are_listed(tmp_path, monkeypatch, plotted):
    if not plotted:
        monkeypatch.setattr(plots, "available", lambda: False)
    runs = tuple(run_number(number) for number in range(1, RUNS + 4))
    page = written(tmp_path, history=runs)
    assert f"The last {RUNS} of {len(runs)} runs." in page
    assert ">day 4<" in page and ">day 3<" not in page
    assert ("<figure" in page) == (plotted and plots.available())
    assert "From run to run" not in written(tmp_path, history=runs[:1])


def test_the_first_page_answers_in_the_order_of_all_reports(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    made = comparison(count=8)
    labels = [
        [str(row) for row in range(len(statistics))]
        for statistics in (made.edge_statistics, made.existing_statistics)
    ]
    context = ReportContext("new", "legacy", *labels, "", "", "")
    page = written(
        tmp_path, made, context, control=(DayRow("", "today", 1, 0.0, 0.0, 0.0, "quay"),)
    )
    order = ("<h2>In short", "No day is off", "Layers processed", "existing lines (",
             "<svg role", "<h2>The greatest changes", "<h2>Control points", "<h2>Captures",
             "<h2>Comparison with existing lines in short", "<h2>Result by status", "Signature",
             "Appendix", "<h2>What was written", "<h2>Settings")  # fmt: skip
    places = [page.index(words) for words in order]
    assert places == sorted(places)


def test_without_a_comparison_the_map_shows_the_edges_and_a_table_what_matters(tmp_path):
    edges = Lines.from_columns([0.0, 50.0], [0.0, 20.0])
    page = written(tmp_path, layers=(OTHER, DONE, FAILED), edges=edges)
    order = "<h2>In short", "Map of the edges", "<h2>What matters most", "<h2>Captures"
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    matters = page.split("<h2>What matters most")[1].split("</table>")[0]
    # what failed, then the layers of which most was rejected
    assert matters.index("lost") < matters.index("&lt;i&gt;quay") < matters.index("lane")
    assert "100 of 1,200 (8.3 %)" in matters
    assert "Map of the edges" not in written(tmp_path, layers=(OTHER,))
