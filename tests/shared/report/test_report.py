"""The report of a comparison: one file that needs nothing else, says everything, and takes any
text."""

import dataclasses
import re
from types import SimpleNamespace

import numpy as np
import pytest
from comparisons import comparison
from reportpages import Nesting, checked, written

from curbwright.shared.lines.comparison_results import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    PARTLY,
    ComparisonSettings,
)
from curbwright.shared.report import (
    ReportContext,
    changes,
    maps,
    plots,
    write_report,
)
from curbwright.shared.report.comparison import checksum
from curbwright.shared.report.comparison_words import (
    counts_in_words,
    limit_in_words,
    offsets_of,
    verdict,
)
from curbwright.shared.report.page import CAUTIONS, number, text


def test_one_file_without_script_or_network(plain):
    assert plain.startswith("<!DOCTYPE html>") and plain.rstrip().endswith("</html>")
    assert "<script" not in plain.lower()
    # names of XML vocabularies are no addresses that anything loads
    loaded = re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?(?!#)([^"')\s>]+)""", plain)
    assert [address for address in loaded if not address.startswith("#")] == []
    assert re.search(r"@page\b", plain)


def test_same_comparison_same_bytes(tmp_path, plain):
    assert written(tmp_path, name="again.html") == plain


@pytest.mark.parametrize(
    "more",
    [{}, {"removed": False}, {"significant": False}, {"empty": True}, {"count": 1}, {"count": 400}],
    ids=["plain", "shift kept", "no shift", "nothing matched", "one line", "many lines"],
)
def test_every_comparison_has_a_report(tmp_path, monkeypatch, plain, more):
    if "significant" in more:  # its figures are those of a shift that is kept
        monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, comparison(**more)) if more else plain
    for words in ("Signature", "stake-out", "EPSG:32631", "2026-05-04 10:00"):
        assert words in page


def test_tables_where_there_is_no_matplotlib(tmp_path, without_matplotlib):
    page = written(tmp_path)
    assert "Signature" in page and "<table" in page and "matplotlib, which is not installed" in page
    # the two plots as tables, to which all of the matched length belongs
    shares = [
        float(share)
        for share in re.findall(
            r">([\d.]+) %</td></tr>",
            page.split("<h2>Offsets</h2>")[1].split("Share of the matched length")[0],
        )
    ]
    assert len(shares) > 5 and sum(shares) == pytest.approx(100.0, abs=0.05 * len(shares))
    assert "matplotlib" in checked(tmp_path)


# --- both kinds of report


@pytest.mark.parametrize(
    "make",
    [
        None,
        checked,
        lambda folder: checked(folder, True),
        lambda folder: written(folder, comparison(empty=True)),
    ],
    ids=["comparison", "check of points", "check of lines", "nothing matched"],
)
@pytest.mark.parametrize("plotted", [True, False], ids=["plots", "tables"])
def test_pages_are_well_formed_and_ask_for_nothing(tmp_path, monkeypatch, plain, make, plotted):
    if not plotted:
        monkeypatch.setattr(plots, "available", lambda: False)
    page = plain if plotted and make is None else (make or written)(tmp_path)
    read = Nesting(page)
    assert read.wrong == [] and read.open == []
    # plots side by side share clips and markers by an id made of their content: the same id is the
    # same thing
    defined = re.findall(r'<(?:path|clipPath|pattern) id="([^"]+)"([^>]*>\s*<[^>]*>)', page)
    assert len({name for name, _ in defined}) == len(set(defined)) == len(set(read.ids))
    assert read.used <= set(read.ids)
    assert not read.tags & {
        "script",
        "link",
        "img",
        "iframe",
        "object",
        "embed",
        "foreignobject",
        "image",
    }
    assert not re.search(r"@import|https?://|<!DOCTYPE svg|<\?xml", page)
    assert "NaN" not in page and re.search(r">\s*[+−-]?(nan|inf)\b", page) is None


@pytest.mark.parametrize(
    "make",
    [written, checked, lambda folder: checked(folder, True)],
    ids=["comparison", "check of points", "check of lines"],
)
def test_every_page_warns_and_can_be_signed(tmp_path, monkeypatch, make):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = make(tmp_path)
    for words in (
        *map(text, CAUTIONS),
        "<div>Name</div>",
        "<div>Date</div>",
        "<div>Signature</div>",
    ):
        assert words in page or words.replace("&#x27;", "'") in page


def test_what_nobody_visited_has_its_own_line_list_and_look(tmp_path, monkeypatch, plain):
    monkeypatch.setattr(plots, "available", lambda: False)
    made = comparison()
    status = made.existing_statistics.status
    row = int(np.flatnonzero(status == ONLY_EXISTING)[0])
    assert "was not visited" not in plain
    status[row] = NOT_VISITED
    page = written(tmp_path, made)
    assert "1 was not visited" in page
    assert "Existing lines: not visited (1)" in page and "Existing lines: not visited" not in plain
    assert "outside the surveyed area" in page
    # told apart by width and dash, whatever colours one sees
    assert len({style[1:] for style in maps.SCHEME.values()}) == len(maps.SCHEME)
    assert maps.stroke(maps.SCHEME[NOT_VISITED]) in maps.status_map(made)[0]


def test_both_verdicts_stand_beside_the_shift(tmp_path, monkeypatch, plain):
    words = "Displaced with the shift left in: 9 existing lines; with it taken out: 2."
    # as a distance and a direction: 0.3 m east and 0.2 m south
    shift = "lies 0.361 m towards SE (124°) of the edges"
    first = plain.index("Of 21 existing lines")
    assert first < plain.index(shift) < plain.index(words) < plain.index("Lines that agree")
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, comparison(significant=False, removed=False))
    assert "Displaced with the shift" not in page


def test_inputs_and_program_are_told(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, producer="Curbwright 9.9", transformed="A to <B>, by “C”: 1 m")
    assert ">Curbwright 9.9<" in page and ">A to &lt;B&gt;, by “C”: 1 m<" in page
    assert "nothing: both layers have one CRS" in written(tmp_path)


def test_a_displaced_line_and_its_edge_are_listed_once(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    made = comparison()
    page = written(tmp_path, made)
    edges, existing = made.edge_statistics, made.existing_statistics
    lists = page.split("<h2>Lines by status</h2>")[1].split("</section>")[0]
    moved = np.flatnonzero(existing.status == DISPLACED)
    paired = [row for row in moved if edges.partner[existing.partner[row]] == row]
    both = [row for row in paired if edges.status[existing.partner[row]] == DISPLACED]
    assert both and f"{len(both)} of them stand with their existing lines." in lists
    of_edges = lists.split("Edges: displaced")[1].split("<h3>")[0]
    assert of_edges.count("<tr>") == max(
        0, 1 + np.count_nonzero(edges.status == DISPLACED) - len(both)
    ) * (np.count_nonzero(edges.status == DISPLACED) > len(both))


def test_a_rough_operation_stands_beside_the_shift(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, crs_warning="<u>joined roughly")
    assert "<u>" not in page and page.count("joined roughly") == 2
    first, second = (page.index("joined roughly"), page.rindex("joined roughly"))
    assert page.index("As a whole the existing layer") < first < page.index("An offset counts")
    assert second > page.index("<h2>Shift of the whole layer</h2>")
    assert written(tmp_path, comparison(empty=True), crs_warning="roughly").count("roughly") == 2


def test_numbers_of_the_comparison_are_those_printed(plain):
    made = comparison()
    for value in (
        made.layer.offset_rmse,
        made.layer.offset_p95,
        made.before.offset_rmse,
        made.after.offset_rmse,
        made.shift.sigma_east,
    ):
        assert f">{number(value)}<" in plain
    assert ">+0.300<" in plain and ">−0.200<" in plain  # the shift, with its signs


def test_agreeing_and_moved_lines_have_figures_of_their_own(plain):
    made, page = comparison(), plain
    stations, status = made.stations, made.existing_statistics.status
    offsets = page.split("<h2>Offsets</h2>")[1].split("</table>")[0]
    for one in (AGREES, DISPLACED):
        mine = status[stations.existing] == one
        rmse = np.sqrt(np.average(stations.offset[mine] ** 2, weights=stations.weight[mine]))
        assert f">{number(rmse)}<" in offsets
        assert f">{np.count_nonzero(mine):,}<" in offsets
    agreeing = number(offsets_of(made, AGREES).typical)
    assert f"Lines that agree lie typically {agreeing} m apart" in page
    assert re.search(r"3 displaced lines moved by [\d.]+ (m|to [\d.]+ m)\.", page)
    # nothing is printed twice
    titles = re.findall(r"<h[23][^>]*>(.*?)</h[23]>", page)
    assert len(titles) == len(set(titles))


def test_the_first_page_holds_verdict_map_and_greatest_changes(plain):
    page = plain
    titles = "<h2>In short", "<svg role", "<h2>The greatest changes", "<h2>Result by status"
    places = [page.index(words) for words in titles]
    assert places == sorted(places)
    assert page.index("Signature") < page.index("Appendix") < page.index("<h2>Method and standards")


def test_the_same_lines_have_the_same_checksum():
    one, other = comparison(), comparison(count=8)
    assert checksum(one.edges) == checksum(comparison().edges) != checksum(other.edges)
    moved = dataclasses.replace(one.edges, x=one.edges.x + 1e-6)
    assert checksum(moved) != checksum(one.edges)


@pytest.mark.parametrize("side", ["edge_labels", "existing_labels"])
def test_a_label_too_few_is_told(tmp_path, side):
    with pytest.raises(ValueError, match=side):
        written(tmp_path, **{side: ("one",)})


def test_a_look_before_each_figure_and_none_of_the_file_where_it_stops(tmp_path):
    shares = []
    result = comparison()
    context = ReportContext(
        "new",
        "old",
        [str(row) for row in range(len(result.edge_statistics))],
        [str(row) for row in range(len(result.existing_statistics))],
        "",
        "",
        "",
    )
    write_report(tmp_path / "whole.html", result, context, shares.append)
    assert shares == sorted(shares) and shares[-1] == 1.0
    assert len(shares) > (tmp_path / "whole.html").read_text(encoding="utf-8").count("<figure")

    def stop(share):
        if share > 0.5:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        write_report(tmp_path / "half.html", result, context, stop)
    assert not (tmp_path / "half.html").exists()


def test_the_first_page_says_what_a_shift_moved():
    """Nothing is said of distances where there are none, nor of a shift that is none."""
    moved, still, empty = (
        verdict(comparison(**more)) for more in ({}, {"significant": False}, {"empty": True})
    )
    assert (len(moved), len(still), len(empty)) == (3, 3, 2)
    assert len(moved[1]) > len(still[1])
    assert "no other datum" in verdict(comparison(), "It is no other datum.")[1]


def test_what_moved_beside_a_line_matched_in_part_is_on_the_first_page():
    """A long line that was walked in part is no displaced one, and yet something moved."""
    words = "lie beside displaced parts of existing lines"
    made = comparison()
    assert words not in counts_in_words(made)
    status = made.existing_statistics.status
    status[status == DISPLACED] = PARTLY
    assert words in counts_in_words(made)


def test_a_line_has_the_number_of_its_first_change():
    assert changes._numbers(np.array([3, 1, 3, -1, 1]), 5).tolist() == [0, 2, 0, 1, 0]


@pytest.mark.parametrize(("greatest", "said"), [(0.104, "0.10 m."), (0.12, "0.12 m at most")])
def test_a_limit_that_differs_from_line_to_line_is_said_twice(greatest, said):
    judged = SimpleNamespace(settings=ComparisonSettings(), sigma_assumed=False)
    assert said in limit_in_words(judged, 0.10, greatest)
