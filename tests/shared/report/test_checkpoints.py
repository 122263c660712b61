"""The report of a check against check points."""

import re
from types import SimpleNamespace

import numpy as np
import pytest
from reportpages import checked

from curbwright.shared.lines.point_pairs import NO_PARTNER, USED
from curbwright.shared.report import checkpoints, plots


def test_check_report_escapes_and_repeats(tmp_path):
    page = checked(tmp_path)
    assert "<script" not in page and page.count("&lt;script&gt;") > 40
    assert page == checked(tmp_path, name="again.html")
    assert "beyond the end of a line" in page and "without partner" in page


@pytest.mark.parametrize("lines", [False, True])
def test_what_is_computed_is_what_is_printed(tmp_path, monkeypatch, lines):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = checked(tmp_path, lines)
    east, north, up = np.random.default_rng(4).normal(0.0, 0.02, (3, 40))[:, 2:]
    for values in (east, up) if lines else (east, north, up):
        assert f">{np.sqrt(np.mean(values**2)):.3f}<" in page
    assert f'<td class="n">{len(east)}</td>' in page
    assert ("RMSE radial" in page) == (not lines)
    assert ("Offset across the line" in page) == lines


def test_each_check_point_has_a_row_and_outliers_are_marked(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = checked(tmp_path)
    listed = re.findall(r'<th scope="row">[^<]*&quot; (\d+)</th>|quot;quay&quot; (\d+)<', page)
    assert {int(one or other) for one, other in listed} >= set(range(40))
    assert "outlier" in page


def test_outliers_come_first_then_the_greatest_errors_then_what_is_set_aside():
    context = SimpleNamespace(
        state=np.array([USED, USED, NO_PARTNER, USED]),
        d_east=np.array([0.03, 0.01, np.nan, 0.02]),
        d_north=np.array([0.0, 0.0, np.nan, 0.0]),
        outlier=np.array([False, True, False, False]),
    )
    order = checkpoints._order(SimpleNamespace(against_lines=False), context)
    assert order.tolist() == [1, 0, 3, 2]
