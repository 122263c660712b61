"""The report of an updated basemap."""

import math
import re

import numpy as np
import pytest

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.update import plan_update
from curbwright.shared.report.basemap import Change, UpdateContext, write_update_report
from curbwright.shared.report.changes import find_changes
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
    assert "was moved by 0.403 m towards NW\N{NO-BREAK SPACE}(300°)" in page
    assert "A person decided on 1 of 4 changes" in page


def test_what_a_rule_decided_is_not_somebodys(tmp_path):
    rule = "clear case: matched over 90%"
    changes = (change(by=rule), change(by=rule), change(by="Ada"), change())
    page = page_of(tmp_path, changes, rule=rule)
    assert f"A person decided on 1 of 4 changes, a rule on 2 ({rule})" in page


def test_lengths_of_what_was_deleted_and_added(tmp_path):
    page = page_of(tmp_path, (change("deleted"), change("added", "")))
    assert "1 line was added (60.5 m), 1 line was taken as gone" in page
    assert ">new<" in page


@pytest.mark.parametrize("number", [1, LIST_LIMIT + 5])
def test_what_was_held_back_has_its_reason(tmp_path, number):
    page = page_of(tmp_path, held=(("1", "", "it would cross <itself>"),) * number)
    assert page.count("it would cross &lt;itself&gt;") == min(number, LIST_LIMIT)
    assert (f"The first {LIST_LIMIT} of {number}" in page) == (number > LIST_LIMIT)


def lines_of(*coordinates):
    """Lines of two vertices each, as x, y, x, y."""
    values = np.array(coordinates, float).reshape(-1, 2)
    return Lines.from_columns(
        *values.T, offsets=np.arange(0, len(values) + 1, 2), sigma=np.full(len(coordinates), 0.01)
    )


@pytest.fixture(scope="module")
def updated():
    """A kerb that moved, one that is new, one that is gone, one as it was; what came of them."""
    existing = lines_of((0, 0, 60, 0), (0, 40, 30, 40), (0, 80, 50, 80), (0, 120, 50, 120))
    edges = lines_of((0, 1, 60, 1), (70, 20, 90, 20), (0, 80, 50, 80), (0, 120.01, 50, 120.01))
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.02))
    return compared, plan_update(compared)


def test_the_first_page_is_in_the_order_of_the_comparisons(tmp_path, updated):
    compared, plan = updated
    rows = (
        Change("added", "", "new edge", 0.0, 20.0, NAN, NAN, NAN, "", "new", -1, 1),
        Change("replaced", "kerb", "e0", 60.0, 60.0, 1.0, 0.0, 1.0, "", "moved", 0, 0),
        Change("retired", "fence", "", 30.0, 30.0, NAN, NAN, NAN, "", "gone", 1, -1),
    )
    context = UpdateContext(
        existing="old", edges="walks", crs="EPSG:32631", made="today", unchanged=2, changes=rows,
        held=(), shift=(0.0, 0.0), settings=(("Search distance", "2"),),
    )  # fmt: skip
    path = tmp_path / "update.html"
    write_update_report(path, context, compared, plan)
    page = path.read_text(encoding="utf-8")
    order = ("<h2>In short", "Map of the update", "<h2>The greatest changes", "<h2>What changed",
             "<h2>Changes", "<h2>Held back", "Signature", "Appendix", "<h2>Settings")  # fmt: skip
    places = [page.index(words) for words in order]
    assert places == sorted(places)
    # numbers are those of the comparison, on the map as well
    changes = find_changes(compared)
    greatest = page.split("<h2>The greatest changes")[1].split("</table>")[0]
    for number, name in (
        (changes.existing_number[0], "kerb"),
        (changes.existing_number[1], "fence"),
        (changes.edge_number[1], "new edge"),
    ):
        assert number > 0
        row = re.search(rf'<th scope="row"[^>]*>{number}</th>.*?</tr>', greatest, re.DOTALL)[0]
        assert name in row
        assert f'fill="#1b242c">{number}</text>' in page
    for kind in ("redrawn", "added", "taken as gone"):
        assert f"{kind}</span>" in page
    assert "held back</span>" not in page  # the legend names what is on the map
