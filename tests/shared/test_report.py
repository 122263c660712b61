"""The report of a comparison: one file that needs nothing else, says everything, and takes any text."""
import builtins
import re

import pytest
from comparisons import comparison

from curbwright.shared.report import ReportContext, write_report

NASTY = '<script>alert("1")</script> & "quay"'


def written(tmp_path, made=None, name="report.html", **more):
    made = comparison() if made is None else made
    count = max(made.edge_statistics.status.size, made.existing_statistics.status.size)
    names = tuple(f"{NASTY} {row}" for row in range(count))
    values = {"edges": NASTY, "existing": "legacy", "edge_labels": names, "existing_labels": names, "edge_crs": "EPSG:32631", "existing_crs": "EPSG:32631",
              "made": "2026-05-04 10:00", "notes": (NASTY,)}
    path = tmp_path / name
    write_report(str(path), made, ReportContext(**{**values, **more}))
    return path.read_text(encoding="utf-8")


@pytest.fixture
def without_matplotlib(monkeypatch):
    real = builtins.__import__

    def refuse(name, *rest, **more):
        if name.split(".")[0] == "matplotlib":
            raise ImportError("not here")
        return real(name, *rest, **more)
    monkeypatch.setattr(builtins, "__import__", refuse)


def test_one_file_without_script_or_network(tmp_path):
    page = written(tmp_path)
    assert page.startswith("<!DOCTYPE html>") and page.rstrip().endswith("</html>")
    assert "<script" not in page.lower()
    # names of XML vocabularies are no addresses that anything loads
    loaded = re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?(?!#)([^"')\s>]+)""", page)
    assert [address for address in loaded if not address.startswith("#")] == []
    assert re.search(r"@page\b", page)


def test_texts_of_the_data_are_escaped(tmp_path):
    page = written(tmp_path)
    assert "alert(" in page and "&lt;script&gt;alert(" in page and "&amp;" in page


def test_same_comparison_same_bytes(tmp_path):
    assert written(tmp_path, name="a.html") == written(tmp_path, name="b.html")


@pytest.mark.parametrize("more", [{}, {"removed": False}, {"significant": False}, {"empty": True}, {"count": 1}, {"count": 400}],
                         ids=["plain", "shift kept", "no shift", "nothing matched", "one line", "many lines"])
def test_every_comparison_has_a_report(tmp_path, more):
    page = written(tmp_path, comparison(**more))
    for words in ("Signature", "stake-out", "EPSG:32631", "2026-05-04 10:00"):
        assert words in page


def test_tables_where_there_is_no_matplotlib(tmp_path, without_matplotlib):
    page = written(tmp_path)
    assert "Signature" in page and "<table" in page


def test_long_lists_are_capped(tmp_path):
    short, long = written(tmp_path), written(tmp_path, comparison(count=4000))
    assert len(long) < 60 * len(short)
