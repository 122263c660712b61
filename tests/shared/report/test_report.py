"""The report of a comparison: one file that needs nothing else, says everything, and takes any
text."""

import builtins
import dataclasses
import re
from html.parser import HTMLParser

import numpy as np
import pytest
from comparisons import comparison

from curbwright.shared.lines.check_points import (
    BEYOND_END,
    NO_PARTNER,
    USED,
    assess_lines,
    assess_points,
)
from curbwright.shared.lines.comparison import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
)
from curbwright.shared.report import (
    CheckContext,
    ReportContext,
    TitleBlock,
    maps,
    plots,
    write_check_report,
    write_report,
)
from curbwright.shared.report.changes import find_changes
from curbwright.shared.report.comparison import checksum
from curbwright.shared.report.comparison_words import offsets_of
from curbwright.shared.report.page import CAUTIONS, LIST_LIMIT, number, text, towards

NASTY = '<script>alert("1")</script> & "quay"'


def written(tmp_path, result=None, name="report.html", **more):
    result = comparison() if result is None else result
    count = max(result.edge_statistics.status.size, result.existing_statistics.status.size)
    names = tuple(f"{NASTY} {row}" for row in range(count))
    values = {
        "edges": NASTY,
        "existing": "legacy",
        "edge_labels": names,
        "existing_labels": names,
        "edge_crs": "EPSG:32631",
        "existing_crs": "EPSG:32631",
        "made": "2026-05-04 10:00",
        "notes": (NASTY,),
    }
    path = tmp_path / name
    write_report(str(path), result, ReportContext(**{**values, **more}))
    return path.read_text(encoding="utf-8")


def checked(tmp_path, lines=False, count=40, name="check.html"):
    rng = np.random.default_rng(4)
    east, north, up = rng.normal(0.0, 0.02, (3, count))
    state = np.full(count, USED)
    state[:2] = BEYOND_END, NO_PARTNER
    used = state == USED
    accuracy = (
        assess_lines(east[used], up[used])
        if lines
        else assess_points(east[used], north[used], up[used])
    )
    path = tmp_path / name
    write_check_report(
        path,
        accuracy,
        CheckContext(
            tested=NASTY,
            check=NASTY,
            crs=NASTY,
            check_crs=NASTY,
            made="2026-05-04 10:00",
            search_distance=1.0,
            labels=tuple(f"{NASTY} {row}" for row in range(count)),
            state=state,
            tested_ids=(NASTY, None, *[NASTY] * (count - 2)),
            d_east=east,
            d_north=north,
            d_up=up,
            offset=east,
            outlier=np.arange(count) == 5,
        ),
    )
    return path.read_text(encoding="utf-8")


@pytest.fixture(scope="module")
def plain(tmp_path_factory):
    """The page of the comparison made by hand, written once for all tests that read it."""
    return written(tmp_path_factory.mktemp("plain"))


class Nesting(HTMLParser):
    """Follows the elements of a page: what is still open, what closed out of turn, all ids and what
    refers to them."""

    EMPTY = {"meta", "br", "link", "img", "hr", "input"}

    def __init__(self, page):
        super().__init__()
        self.open, self.wrong, self.ids, self.used, self.tags = [], [], [], set(), set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.handle_startendtag(tag, attrs)
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name.startswith("on"):
                self.wrong.append(name)
            self.used.update(re.findall(r"url\(#([^)]+)\)", value or ""))
            if name in ("href", "src"):
                self.used.add(value.lstrip("#"))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)


@pytest.fixture
def without_matplotlib(monkeypatch):
    real = builtins.__import__

    def refuse(name, *rest, **more):
        if name.split(".")[0] == "matplotlib":
            raise ImportError("not here")
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)


def test_one_file_without_script_or_network(plain):
    assert plain.startswith("<!DOCTYPE html>") and plain.rstrip().endswith("</html>")
    assert "<script" not in plain.lower()
    # names of XML vocabularies are no addresses that anything loads
    loaded = re.findall(r"""(?:src|href|url)\s*[=(]\s*["']?(?!#)([^"')\s>]+)""", plain)
    assert [address for address in loaded if not address.startswith("#")] == []
    assert re.search(r"@page\b", plain)


def test_texts_of_the_data_are_escaped(plain):
    assert "alert(" in plain and "&lt;script&gt;alert(" in plain and "&amp;" in plain


def test_same_comparison_same_bytes(tmp_path, plain):
    assert written(tmp_path, name="again.html") == plain


@pytest.mark.parametrize(
    "more",
    [{}, {"removed": False}, {"significant": False}, {"empty": True}, {"count": 1}, {"count": 400}],
    ids=["plain", "shift kept", "no shift", "nothing matched", "one line", "many lines"],
)
def test_every_comparison_has_a_report(tmp_path, plain, more):
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


def test_long_lists_are_capped_and_say_so(tmp_path, monkeypatch, plain):
    monkeypatch.setattr(plots, "available", lambda: False)  # the lists are what is asked for
    made = comparison(count=1000)
    page = written(tmp_path, made)
    assert "are listed, the worst at the top" not in plain
    for status, words, where in (
        (DISPLACED, "displaced", "edges"),
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
            f"The {LIST_LIMIT} first of {count} {where} with the status “{words}” are listed"
            in page
        )
    tables = re.findall(
        r"<h3>.*?(?=<h3>|</section>)", page.split("<h2>Lines by status</h2>")[1], flags=re.DOTALL
    )
    assert max(part.count("<tr") for part in tables) == LIST_LIMIT + 1  # with the head
    assert re.search(r" … and [\d,]+ more, which stand in the layers", page)


# --- both kinds of report


@pytest.mark.parametrize(
    "make",
    [
        written,
        checked,
        lambda folder: checked(folder, True),
        lambda folder: written(folder, comparison(empty=True)),
    ],
    ids=["comparison", "check of points", "check of lines", "nothing matched"],
)
@pytest.mark.parametrize("plotted", [True, False], ids=["plots", "tables"])
def test_pages_are_well_formed_and_ask_for_nothing(tmp_path, monkeypatch, make, plotted):
    if not plotted:
        monkeypatch.setattr(plots, "available", lambda: False)
    page = make(tmp_path)
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


def test_each_text_is_escaped_and_printed(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    fields = ["edges", "existing", "edge_crs", "existing_crs"]
    fields += ["made", "dates", "producer", "surveyed"]
    page = written(tmp_path, **{field: f"<i title='x'>{field}</i>" for field in fields})
    assert "<i title" not in page
    for field in fields:
        assert f"&lt;i title=&#x27;x&#x27;&gt;{field}&lt;/i&gt;" in page, field


def test_what_nobody_visited_has_its_own_line_list_and_look(tmp_path, plain):
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


def test_both_verdicts_come_first(tmp_path, monkeypatch, plain):
    words = "Displaced: 9 existing lines with the shift of the whole layer left in, 2 with it taken"
    assert words in plain and plain.index(words) < plain.index("Of 21 existing lines")
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, comparison(significant=False, removed=False))
    assert "Displaced: 2 existing lines. The layer as a whole is not shifted" in page


def test_a_rough_operation_stands_beside_the_shift(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, crs_warning="<u>joined roughly")
    assert "<u>" not in page and page.count("joined roughly") == 2
    first, second = (page.index("joined roughly"), page.rindex("joined roughly"))
    assert page.index("As a whole the existing layer") < first < page.index("An offset counts")
    assert second > page.index("<h2>Shift of the whole layer</h2>")
    assert written(tmp_path, comparison(empty=True), crs_warning="roughly").count("roughly") == 2


def test_parameters_and_notes_are_escaped_and_printed(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)
    page = written(tmp_path, parameters=(("<u>name", "<u>value"),), notes=("<u>note",))
    assert "<u>" not in page
    for word in ("name", "value", "note"):
        assert f"&lt;u&gt;{word}" in page


def test_check_report_escapes_and_repeats(tmp_path):
    page = checked(tmp_path)
    assert "<script" not in page and page.count("&lt;script&gt;") > 40
    assert page == checked(tmp_path, name="again.html")
    assert "beyond the end of a line" in page and "without partner" in page


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


def test_agreeing_and_moved_lines_have_figures_of_their_own(tmp_path):
    made = comparison()
    stations, status = made.stations, made.existing_statistics.status
    page = written(tmp_path, made)
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


def test_the_first_page_holds_verdict_map_and_greatest_changes(tmp_path):
    made = comparison()
    page = written(tmp_path, made)
    titles = "<h2>In short", "<svg role", "<h2>The greatest changes", "<h2>Result by status"
    places = [page.index(words) for words in titles]
    assert places == sorted(places)
    assert page.index("Signature") < page.index("Appendix") < page.index("<h2>Method and standards")


def test_numbers_on_the_map_are_those_of_the_lists(tmp_path):
    made = comparison()
    changes = find_changes(made)
    page = written(tmp_path, made)
    on_map = set(map(int, re.findall(r'font-weight="600" fill="#1b242c">(\d+)<', page)))
    assert on_map == set(range(1, min(len(changes), maps.MOST_NUMBERS) + 1))
    listed = page.split("<h2>Lines by status</h2>")[1]
    for place in range(len(changes)):
        row = changes.edge[place] if changes.edge[place] >= 0 else changes.existing[place]
        label = text(f"{NASTY} {row}")
        assert f'<th scope="row">{place + 1}</th><td>{label}</td>' in listed


def test_the_title_block_takes_any_text_and_leaves_room(tmp_path):
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
    assert read.startswith('Comparison with existing linework · </style><b>pier · "; } body {')
    assert style.count("}") - style.count("{") == 0


@pytest.mark.parametrize(
    ("azimuth", "said"),
    [(0.0, "N (0°)"), (143.0, "SE (143°)"), (359.0, "N (359°)"), (-90.0, "W (270°)")],
)
def test_directions_read_well(azimuth, said):
    assert towards(azimuth).replace("\N{NO-BREAK SPACE}", " ") == said
    assert towards(float("nan")) == "–"


def test_the_same_lines_have_the_same_checksum():
    one, other = comparison(), comparison(count=8)
    assert checksum(one.edges) == checksum(comparison().edges) != checksum(other.edges)
    moved = dataclasses.replace(one.edges, x=one.edges.x + 1e-6)
    assert checksum(moved) != checksum(one.edges)


@pytest.mark.parametrize("side", ["edge_labels", "existing_labels"])
def test_a_label_too_few_is_told(tmp_path, side):
    with pytest.raises(ValueError, match=side):
        written(tmp_path, **{side: ("one",)})


# --- the map


def test_map_of_many_lines_keeps_their_shape():
    made = comparison(count=400)
    edges = made.edges
    rng = np.random.default_rng(5)
    # twenty times as many bent lines as the map has room for, on a square
    many = 8000
    x, y = rng.uniform(0.0, 3000.0, (2, many))
    shape = np.array([(0.0, 0.0), (6.0, 0.0), (12.0, 4.0), (18.0, 12.0), (24.0, 12.0)])
    flat = {
        "x": (x[:, None] + shape[:, 0]).ravel(),
        "y": (y[:, None] + shape[:, 1]).ravel(),
        "z": np.full(5 * many, np.nan),
    }
    lines = dataclasses.replace(
        edges,
        **flat,
        offsets=np.arange(0, 5 * many + 1, 5),
        line=np.arange(many) % edges.count,
        **({"scale": np.ones(edges.count)} if hasattr(edges, "scale") else {}),
    )
    svg, tolerance = maps.status_map(dataclasses.replace(made, edges=lines))
    # under half a millimetre on the map
    assert 0 < tolerance < 5 * 3000.0 / maps.HIGHEST
    assert svg.count("<path") >= 5 and len(svg) < 3e6


def test_lines_too_small_to_be_seen_are_dots():
    made = comparison(count=8)
    far = dataclasses.replace(
        made.existing,
        x=made.existing.x * 1.0,
        y=np.where(made.existing.line_of_vertex == 0, made.existing.y - 4e6, made.existing.y),
    )
    svg, _ = maps.status_map(dataclasses.replace(made, existing=far))
    for path in re.findall(r'<path d="(M\d[^"]*)"', svg)[:-2]:
        assert not re.search(r"l(?:M|$)", path)  # each line has a step


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
