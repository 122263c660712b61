"""Reports printed by the host: every page is there, in its order, and nothing is called done that
is not."""

import re
import shutil
import subprocess

import pytest
from qgis.PyQt.QtGui import QGuiApplication, QPageSize

from curbwright.algorithms.writing import printing
from curbwright.algorithms.writing.page_boxes import Box, NewPage
from curbwright.algorithms.writing.printing import PrintError, paginate, print_report
from curbwright.shared.report.page import (
    TitleBlock,
    appendix,
    bullets,
    ending,
    figure,
    first_page,
    identifier,
    paragraphs,
    section,
    table,
    text,
    write_page,
)

pytestmark = pytest.mark.usefixtures("qgis_app")

SVG = '<svg viewBox="0 0 200 100"><path d="M0 0L200 100" stroke="#000000"/></svg>'
BLOCK = TitleBlock(project="Quay <works> & more", area="East side")


class Brick(Box):
    """A box of a height, that may be broken at whole numbers or not at all."""

    def __init__(self, height, keep=False, loose=False):
        self.height, self.keep_with_next, self.loose = height, keep, loose

    def split(self, room):
        room = int(room)
        if not self.loose or not 2 <= room <= self.height - 2:
            return None
        return Brick(room), Brick(self.height - room, loose=True)


def heights(pages):
    return [[box.height for box, _ in page] for page in pages]


@pytest.mark.parametrize(
    ("boxes", "expected"),
    [
        ([Brick(4), Brick(4), Brick(4)], [[4, 4], [4]]),
        ([Brick(7), Brick(1, keep=True), Brick(3)], [[7], [1, 3]]),  # no heading alone
        ([Brick(6), Brick(23, loose=True)], [[6, 4], [10], [9]]),
        ([Brick(9), Brick(5, loose=True)], [[9], [5]]),  # no row alone
        ([Brick(2), NewPage(), Brick(2), NewPage(), NewPage()], [[2], [2]]),
        ([Brick(2), Brick(30)], [[2], [30]]),  # higher than a page: cut off, never endless
        ([], []),
    ],
)
def test_boxes_are_shared_out_among_pages(boxes, expected):
    assert heights(paginate(boxes, 10.0)) == expected


def written(tmp_path, rows=60):
    path = tmp_path / "report.html"
    listed = [[f"row {row}", "1.0", "word " * 6] for row in range(rows)]
    body = [
        first_page(section("Verdict", f'<div class="lead">{paragraphs(["Fine."])}</div>')),
        section("Pictures", figure(SVG, "a drawing", "single")),
        f'<div class="pair">{figure(SVG, "left")}{figure(SVG, "right")}</div>',
        section("List", table(["Name", "m", "Why"], listed, (1,))),
        section("Cautions", bullets([text('<img src="x"><b>quay</b> & co')])),
        ending(),
        appendix(section("Settings", table((), [("a", "b")]))),
    ]
    write_page(path, "A report", "of everything", "\n".join(body), BLOCK, "today")
    return path


def pages_of(path):
    """Text of each page; skips where nothing on this machine reads a PDF."""
    program = shutil.which("pdftotext")
    if program is None:
        pytest.skip("needs pdftotext")
    done = subprocess.run([program, "-layout", str(path), "-"], capture_output=True, check=True)
    return done.stdout.decode("utf-8").split("\f")[:-1]


def test_names_have_room_in_a_table_of_many_columns(tmp_path):
    name = "Kerb 17, Old Harbour Road carriageway"
    head = ["No.", "Identifier", *["Zugeordnet (m)"] * 8]
    rows = [["1", identifier(name), *["1,234.567"] * 8]] * 3
    page, target = tmp_path / "page.html", tmp_path / "page.pdf"
    write_page(page, "Names", "of lines", section("Names", table(head, rows, range(2, 10))))
    print_report(page, target, QPageSize(QPageSize.PageSizeId.Letter))
    (text,) = pages_of(target)
    assert text.count("1,234.567") == 8 * len(rows)  # no column runs off the page
    assert text.count("Kerb 17, Old Harbour") == len(rows)  # not a word to a line


@pytest.mark.parametrize(
    ("paper", "size"),
    [(QPageSize.PageSizeId.A4, (595, 842)), (QPageSize.PageSizeId.Letter, (612, 792))],
)
def test_every_page_is_printed_in_its_order(tmp_path, paper, size):
    target = tmp_path / "report.pdf"
    shares = []
    count = print_report(written(tmp_path), target, QPageSize(paper), shares.append)
    content = target.read_bytes()
    assert content.startswith(b"%PDF")
    box = re.search(rb"/MediaBox \[0 0 ([\d.]+) ([\d.]+)\]", content)
    assert [float(side) for side in box.groups()] == pytest.approx(size, abs=1.5)
    assert shares[-1] == 1.0
    pages = pages_of(target)
    assert len(pages) == count > 2
    for number, page in enumerate(pages, start=1):
        assert f"Page {number} of {count}" in page
        assert "A report · today · Quay <works> & more" in page
    assert "Verdict" in pages[0] and "Pictures" in pages[1]  # the first page stands alone
    told = "\n".join(pages)
    assert all(re.search(rf"\brow {row}\b", told) for row in range(60))
    # a table that goes on has its head again; no signature alone on a page
    assert all("Why" in page for page in pages if re.search(r"\brow \d", page))
    assert '<img src="x"><b>quay</b> & co' in told  # what comes from the data is text
    signed = next(page for page in pages if "Signature" in page)
    assert "Checked by" in signed and "Only check points" in signed


def test_the_same_page_takes_the_same_pages(tmp_path):
    source = written(tmp_path)
    assert print_report(source, tmp_path / "a.pdf") == print_report(source, tmp_path / "b.pdf")


def test_a_place_that_cannot_be_written_to_is_told(tmp_path):
    with pytest.raises(PrintError, match="cannot be written"):
        print_report(written(tmp_path, 3), tmp_path / "missing" / "report.pdf")


def test_a_file_that_is_not_whole_is_told(tmp_path):
    (tmp_path / "cut.pdf").write_bytes(b"%PDF-1.4 and no more")
    with pytest.raises(PrintError, match="not whole"):
        printing._check(tmp_path / "cut.pdf")


def test_a_host_without_fonts_says_so(tmp_path, monkeypatch):
    class Empty:
        def families(self):
            return []

    monkeypatch.setattr(printing, "QFontDatabase", Empty)
    with pytest.raises(PrintError, match="no fonts"):
        print_report(written(tmp_path, 3), tmp_path / "report.pdf")
    assert not (tmp_path / "report.pdf").exists()
    assert QGuiApplication.instance() is not None
