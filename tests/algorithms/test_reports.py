"""What reports call layers and lines, and what else an algorithm tells them, through the host."""

import re
import sqlite3
import sys
from contextlib import closing

import pytest
from linelayers import line_layer, straight
from qgis.core import (
    QgsFeature,
    QgsGeometry,
    QgsPoint,
    QgsProcessingException,
    QgsProject,
    QgsVectorFileWriter,
    QgsVectorLayer,
)
from walkedlayers import Log, run

from curbwright.algorithms.base import reports as base
from curbwright.algorithms.batch.history import NAMES

pytestmark = pytest.mark.usefixtures("provider")

NAMED = (("name", "string"), ("started_unix", "double"), ("ended_unix", "double"))


def edges(names=("north", "south", "gone"), title="edges"):
    """Two edges with a counterpart in `old`, one without, and a row without geometry."""
    day = 1747120000.0  # 2025-05-13 07:06:40 UTC
    return line_layer(
        [straight(0.0), straight(30.0), straight(60.0), None],
        title,
        fields=NAMED,
        values=[
            (names[0], day, day + 60),
            (names[1], day + 100, day + 86400),
            (names[2], None, None),
            ("no shape", None, None),
        ],
    )


def old():
    return line_layer(
        [straight(0.05), straight(30.9)],
        "old lines",
        fields=(("name", "string"),),
        values=[("A-1",), ("A-1",)],
    )


def report(tmp_path, first, second):
    path = tmp_path / "report.html"
    run(
        "compareedges",
        {"INPUT": first, "EXISTING": second, "OUTPUT": "memory:", "REPORT": str(path)},
    )
    return path.read_text(encoding="utf-8")


def test_lines_are_called_by_a_field_that_tells_them_apart(tmp_path):
    page = report(tmp_path, edges(), old())
    # both existing ones are called A-1
    assert "edges by field “name”, existing lines by feature id" in page
    assert re.search(
        r"<h3>[^\n]*Edges: only new \(1\)</h3>.*?<span class=\"id\">gone</span>",
        page,
        flags=re.DOTALL,
    )
    assert "A-1" not in page


def test_rows_without_geometry_count_nowhere(tmp_path):
    page = report(tmp_path, edges(), old())
    assert "Of 3 edges, 1 is not in the existing layer" in page and "no shape" not in page


def test_dates_of_the_capture(tmp_path):
    assert "2025-05-13 07:06 – 2025-05-14 07:06 UTC" in report(tmp_path, edges(), old())
    # without dates the title block leaves room for them
    page = report(tmp_path, old(), edges())
    assert "<small>Captured</small></td>" in page and page.count("Captured") == 1


def test_layer_of_a_file_is_called_by_its_own_name(tmp_path):
    path = str(tmp_path / "port.gpkg")
    for number, layer in enumerate((edges(title="kerbs"), old())):
        choices = QgsVectorFileWriter.SaveVectorOptions()
        choices.layerName = layer.name()
        if number:
            choices.actionOnExistingFile = (
                QgsVectorFileWriter.ActionOnExistingFile.CreateOrOverwriteLayer
            )
        assert (
            QgsVectorFileWriter.writeAsVectorFormatV3(
                layer, path, QgsProject.instance().transformContext(), choices
            )[0]
            == 0
        )
    page = report(tmp_path, f"{path}|layername=kerbs", f"{path}|layername=old lines")
    assert "<p>kerbs (port.gpkg) against old lines (port.gpkg)</p>" in page
    assert "<p>kerbs against old lines</p>" in report(tmp_path, edges(title="kerbs"), old())


def test_a_report_that_cannot_be_written_is_told(tmp_path):
    points = QgsVectorLayer("Point?crs=EPSG:32632", "checks", "memory")
    feature = QgsFeature()
    feature.setGeometry(QgsGeometry(QgsPoint(600010.0, 6200000.0)))
    points.dataProvider().addFeatures([feature])
    taken = tmp_path / "taken.html"
    taken.mkdir()
    for name, parameters in (
        ("compareedges", {"EXISTING": old()}),
        ("checkaccuracy", {"CHECK_POINTS": points}),
    ):
        with pytest.raises(QgsProcessingException) as raised:
            run(name, {"INPUT": edges(), "OUTPUT": "memory:", "REPORT": str(taken), **parameters})
        assert "taken.html" in str(raised.value) and "Choose another file for “Report”" in str(
            raised.value
        )


def test_a_report_is_printed_where_asked_also_without_the_page(tmp_path):
    path, log = tmp_path / "report.pdf", Log()
    given = {"INPUT": edges(), "EXISTING": old(), "OUTPUT": "memory:"}
    result = run("compareedges", {**given, "REPORT_PDF": str(path)}, log)
    assert result["REPORT_PDF"] == str(path) and path.read_bytes().startswith(b"%PDF")
    assert "REPORT" not in result
    assert re.search(r"Report printed. Pages: \d", log.text)
    assert [one.name for one in tmp_path.iterdir()] == ["report.pdf"]


def test_a_report_that_is_not_printed_is_never_called_done(tmp_path, monkeypatch):
    def refuse(page, target, progress):
        target.write_bytes(b"half of it")
        raise base.PrintError("no ink")

    monkeypatch.setattr(base, "print_report", refuse)
    page, path, log = tmp_path / "report.html", tmp_path / "report.pdf", Log()
    path.write_bytes(b"%PDF of an earlier run")
    given = {"INPUT": edges(), "EXISTING": old(), "OUTPUT": "memory:", "REPORT": str(page)}
    result = run("compareedges", {**given, "REPORT_PDF": str(path)}, log)
    assert result["REPORT"] == str(page) and page.exists()
    assert "REPORT_PDF" not in result and path.read_bytes() == b"%PDF of an earlier run"
    told = "\n".join(log.warnings)
    assert "“Report as PDF” was not printed" in told and "no ink" in told
    assert "Print the HTML file from a browser instead." in told
    assert {one.name for one in tmp_path.iterdir()} == {"report.html", "report.pdf"}


def test_where_no_page_was_asked_for_the_log_says_what_to_do(tmp_path, monkeypatch):
    for name in [one for one in sys.modules if one.endswith((".page_boxes", ".page_layout"))]:
        monkeypatch.delitem(sys.modules, name)
    monkeypatch.setitem(sys.modules, "qgis.PyQt.QtSvg", None)  # as on hosts without it
    log, path = Log(), tmp_path / "report.pdf"
    given = {"INPUT": edges(), "EXISTING": old(), "OUTPUT": "memory:"}
    assert "REPORT_PDF" not in run("compareedges", {**given, "REPORT_PDF": str(path)}, log)
    told = "\n".join(log.warnings)
    assert "lacks the module that draws SVG (QtSvg). Run again with “Report”" in told
    assert not path.exists()


def test_the_trend_over_the_runs_stands_in_the_comparison_of_their_edges(tmp_path):
    path = str(tmp_path / "curbwright.gpkg")
    choices = QgsVectorFileWriter.SaveVectorOptions()
    choices.layerName = "edges"
    context = QgsProject.instance().transformContext()
    QgsVectorFileWriter.writeAsVectorFormatV3(edges(), path, context, choices)
    with closing(sqlite3.connect(path)) as database:
        names = ", ".join(f'"{name}"' for name in NAMES)
        database.execute(f"CREATE TABLE history ({names})")
        for number in (1, 2):
            row = [number, f"day {number}", "quay", "done", 9, 8, 1, "", 2, 1.5, 0.01, *[None] * 5]
            places = ", ".join("?" * len(row))
            database.execute(f"INSERT INTO history VALUES ({places})", row)
        database.commit()
    page = report(tmp_path, f"{path}|layername=edges", old())
    assert "<h2>Runs so far" in page and ">day 1<" in page and ">day 2<" in page
    assert "<h2>Runs so far" not in report(tmp_path, edges(), old())


def test_no_other_file_is_taken_for_a_printed_report(tmp_path):
    path = tmp_path / "letter.pdf"
    path.write_text("Dear harbour master")
    given = {"INPUT": edges(), "EXISTING": old(), "OUTPUT": "memory:", "REPORT_PDF": str(path)}
    with pytest.raises(QgsProcessingException, match="is no PDF"):
        run("compareedges", given)
    assert path.read_text() == "Dear harbour master"
