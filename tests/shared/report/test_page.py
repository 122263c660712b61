"""Parts of a page: any text, numbers as people read them, lists that end."""

import re

import numpy as np
import pytest
from comparisons import comparison
from hypothesis import given
from hypothesis import strategies as st
from reportpages import Nesting, written

from curbwright.shared.lines.comparison_results import DISPLACED, ONLY_EXISTING, ONLY_NEW
from curbwright.shared.report import TitleBlock, plots
from curbwright.shared.report.page import (
    LIST_LIMIT,
    MANY,
    WHOLE_ROWS,
    capped,
    displacement,
    number,
    table,
    text,
    towards,
)


def test_texts_of_the_data_are_escaped(plain):
    assert "alert(" in plain and "&lt;script&gt;alert(" in plain and "&amp;" in plain


def test_each_text_is_escaped_and_printed(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    fields = ["edges", "existing", "edge_crs", "existing_crs"]
    fields += ["made", "dates", "producer", "surveyed"]
    page = written(tmp_path, **{field: f"<i title='x'>{field}</i>" for field in fields})
    assert "<i title" not in page
    for field in fields:
        assert f"&lt;i title=&#x27;x&#x27;&gt;{field}&lt;/i&gt;" in page, field


def test_parameters_and_notes_are_escaped_and_printed(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, parameters=(("<u>name", "<u>value"),), notes=("<u>note",))
    assert "<u>" not in page
    for word in ("name", "value", "note"):
        assert f"&lt;u&gt;{word}" in page


def test_the_title_block_takes_any_text_and_leaves_room(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, dates="2026-05-01")
    assert "<small>Project</small></td>" in page
    assert "<small>Captured</small>2026-05-01</td>" in page
    block = TitleBlock(project="</style><b>pier", area='"; } body { display: none', author="<i>")
    page = written(tmp_path, block=block)
    assert "<b>" not in page.replace("<b>No.", "") and "<i>" not in page
    assert "<small>Project</small>&lt;/style&gt;&lt;b&gt;pier</td>" in page
    style = page.split("<style>")[1].split("</style>")[0]
    running = re.search(r"content: \"([^\"]*)\"; font", style).group(1)
    read = re.sub(r"\\([0-9a-f]+) ", lambda code: chr(int(code.group(1), 16)), running)
    head = "Comparison with existing linework · 2026-05-04 10:00 · "
    assert read.startswith(head + '</style><b>pier · "; } body {')
    assert style.count("}") - style.count("{") == 0


@pytest.mark.parametrize(
    ("value", "printed"),
    [
        (-0.0001, "0.000"),
        (1234.5, "1,234.500"),
        (-2.5, "−2.500"),
        (float("nan"), "–"),
        (float("inf"), "–"),
    ],
)
def test_numbers_read_well(value, printed):
    assert number(value) == printed


def test_controls_in_names_do_no_harm():
    assert text("a\x00b\nc\u202ed") == "a b c d"


@pytest.mark.parametrize(
    ("azimuth", "said"),
    [
        (0.0, "N (0°)"),
        (143.0, "SE (143°)"),
        (359.0, "N (359°)"),
        (359.6, "N (0°)"),
        (-90.0, "W (270°)"),
    ],
)
def test_directions_read_well(azimuth, said):
    assert towards(azimuth).replace("\N{NO-BREAK SPACE}", " ") == said
    assert towards(float("nan")) == "–"


def test_long_lists_are_capped_and_say_so(tmp_path, monkeypatch, plain):
    monkeypatch.setattr(plots, "available", lambda: False)  # the lists are what is asked for
    made = comparison(count=1000)
    page = written(tmp_path, made)
    assert "are listed; the others" not in plain
    for status, words, where in (
        (DISPLACED, "displaced", "existing lines"),
        (ONLY_NEW, "only new", "edges"),
        (ONLY_EXISTING, "only existing", "existing lines"),
    ):
        count = int(
            np.count_nonzero(
                (made.edge_statistics if where == "edges" else made.existing_statistics).status
                == status
            )
        )
        assert count > LIST_LIMIT
        assert (
            f"The first {LIST_LIMIT} of {count} {where} with the status “{words}” are listed"
            in page
        )
    tables = re.findall(
        r"<h3>.*?(?=<h3>|</section>)", page.split("<h2>Lines by status</h2>")[1], flags=re.DOTALL
    )
    assert max(part.count("<tr") for part in tables) == LIST_LIMIT + 1  # with the head
    assert re.search(r" … and [\d,]+ more, which stand in the layers", page)


@given(st.text())
def test_no_text_ends_an_element_or_an_attribute(value):
    page = f'<p title="{text(value)}">{text(value)}</p>'
    read = Nesting(page)
    assert read.open == [] and read.wrong == [] and read.tags == {"p"}


@given(st.floats(-1e9, 1e9), st.integers(0, 4))
def test_numbers_come_back_from_what_is_printed(value, decimals):
    printed = number(value, decimals).replace(",", "").replace("−", "-")
    assert float(printed) == pytest.approx(value, abs=0.51 * 10.0**-decimals)
    assert not re.fullmatch(r"-0(\.0*)?", printed)


@given(st.floats(-1e4, 1e4), st.floats(-1e4, 1e4))
def test_a_displacement_is_a_distance_and_a_direction(east, north):
    distance, direction = displacement(east, north)
    assert float(distance.replace(",", "")) == pytest.approx(np.hypot(east, north), abs=6e-4)
    azimuth = float(re.search(r"\((\d+)°\)", direction).group(1))
    assert 0 <= azimuth < 360
    if np.hypot(east, north) > 1e-6:
        across = east * np.cos(np.radians(azimuth)) - north * np.sin(np.radians(azimuth))
        assert abs(across) <= np.hypot(east, north) * np.sin(np.radians(0.51))


def test_a_table_of_many_columns_has_smaller_letters():
    def kind(count):
        return re.search("<table[^>]*>", table(["head"] * count, [["cell"] * count])).group(0)

    assert "many" in kind(MANY + 1) and "many" not in kind(MANY)


def test_lists_end_at_their_limit_and_say_so():
    assert capped(list("abc"), "lines", 3) == (["a", "b", "c"], "")
    rows, said = capped(list("abcd"), "lines", 3)
    assert rows == ["a", "b", "c"] and "The first 3 of 4 lines are listed" in said


def test_short_tables_stay_on_one_page():
    rows = [["a", "1"]] * WHOLE_ROWS
    short, longer = table(["x", "y"], rows, (1,)), table(["x", "y"], [*rows, ["b", "2"]], (1,))
    assert short.startswith('<table class="keep">') and longer.startswith("<table>")
    assert short.count("<tr") == WHOLE_ROWS + 1 and short.count('class="n"') == WHOLE_ROWS + 1
    assert table([], [["sum", "3"]], total=True).count('class="sum"') == 1
