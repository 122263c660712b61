"""The report of an updated basemap."""

import math

import pytest

from curbwright.shared.report.basemap import Change, UpdateContext, write_update_report
from curbwright.shared.report.page import LIST_LIMIT

NAN = math.nan


def change(what="replaced", ident="7", moved=0.6, by=""):
    return Change(what, ident, "3,4", 60.0, 60.5, moved, 12.0, 0.71, by, "displaced")


def page_of(tmp_path, changes=(), held=(), shift=(0.0, 0.0), rule=""):
    path = tmp_path / "update.html"
    context = UpdateContext(
        existing="old <map>",
        edges="walks",
        crs="EPSG:32631",
        made="today",
        unchanged=5,
        changes=changes,
        held=held,
        shift=shift,
        settings=(("Search distance", "2"),),
        rule=rule,
    )
    write_update_report(path, context)
    return path.read_text(encoding="utf-8")


def test_nothing_changed(tmp_path):
    page = page_of(tmp_path)
    assert "0 lines were redrawn" in page and "No shift was taken out" in page
    assert "Nothing was held back" in page and "old &lt;map&gt;" in page


def test_the_farthest_moved_comes_first_and_who_decided_is_told(tmp_path):
    rows = (change(ident="near", moved=0.1), change(ident="lost", moved=NAN),
            change(ident="far", moved=0.9, by="Ada"), change("shifted", "quiet"))  # fmt: skip
    page = page_of(tmp_path, rows, shift=(-0.35, 0.2))
    assert page.index(">far<") < page.index(">near<") < page.index(">lost<")
    assert ">quiet<" not in page  # counted alone
    assert "-0.350 m east" in page.replace("−", "-") and "+0.200 m north" in page
    assert "decided on 1 of 4 changes" in page


def test_what_a_rule_decided_is_not_somebodys(tmp_path):
    rule = "clear case: matched over 90%"
    changes = (change(by=rule), change(by=rule), change(by="Ada"), change())
    page = page_of(tmp_path, changes, rule=rule)
    assert f"Somebody decided on 1 of 4 changes, a rule on 2 ({rule})" in page


def test_lengths_of_what_was_deleted_and_added(tmp_path):
    page = page_of(tmp_path, (change("deleted"), change("added", "")))
    assert "1 line was added (60.5 m), 1 line was taken as gone" in page
    assert ">new<" in page


@pytest.mark.parametrize("number", [1, LIST_LIMIT + 5])
def test_what_was_held_back_has_its_reason(tmp_path, number):
    page = page_of(tmp_path, held=(("1", "", "it would cross <itself>"),) * number)
    assert page.count("it would cross &lt;itself&gt;") == min(number, LIST_LIMIT)
    assert (f"The first {LIST_LIMIT} of {number}" in page) == (number > LIST_LIMIT)
