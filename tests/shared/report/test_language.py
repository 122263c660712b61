"""Reports speak the language that is handed in, and nothing of them stays in English."""

import re
import threading
from html.parser import HTMLParser

import pytest
import reportpages
import test_captures
import test_policy as pages
from comparisons import comparison

from curbwright.shared.language import counted, localised, marked, number, speaking, tr, whole
from curbwright.shared.report import plots

SAME = "1,234.5", "en"  # numbers and the language itself
# what is the same everywhere: units, symbols, proper names of standards' quantities
SYMBOLS = {"m", "mm", "km", "sigma", "CRS", "F", "Curbwright", "quay", "legacy", "EPSG", "QGIS"}


def bracketed(context, text):
    """A language of its own: every text in brackets, numbers the German way."""
    return {"1,234.5": "1.234,5", "en": "xx"}.get(text, f"⟦{text}⟧")


class Texts(HTMLParser):
    """The texts of a page, one after the other, without the style sheet."""

    def __init__(self, page):
        super().__init__()
        self.inside, self.texts = [], []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.inside.append(tag)

    def handle_endtag(self, tag):
        while self.inside and self.inside.pop() != tag:
            pass

    def handle_data(self, data):
        if "style" not in self.inside:
            self.texts.append(data)


def left_in_english(page):
    """Words that stand outside all brackets."""
    told = "\n".join(Texts(page).texts)
    before = None
    while before != told:
        before, told = told, re.sub(r"⟦[^⟦⟧]*⟧", " ", told)
    return set(re.findall(r"[A-Za-z]+", told)) - SYMBOLS


def all_of_a_batch(folder, word):
    """A page of captures with former runs."""
    runs = [(number, word, 1, 0, 9, 8, 1.5, 0.01, 0.02, 0.03) for number in range(1, 24)]
    return test_captures.written(
        folder, history=tuple(runs), folder=word, layers=(), settings=(), results=()
    )


@pytest.mark.parametrize(
    ("maker", "plotted"),
    [
        (pages.comparison, True),
        (pages.comparison, False),
        (pages.points, True),
        (pages.lines, False),
        (pages.captures, False),
        (pages.update, False),
        (all_of_a_batch, True),
    ],
)
def test_nothing_of_a_page_stays_in_english(tmp_path, monkeypatch, maker, plotted):
    monkeypatch.setattr(reportpages, "NASTY", "quay")
    if not plotted:
        monkeypatch.setattr(plots, "available", lambda: False)
    with speaking(bracketed):
        page = maker(tmp_path, "quay")
    assert '<html lang="xx">' in page
    assert left_in_english(page) == set()
    assert tr("Edge") == "Edge"  # the block is over


def test_numbers_have_the_marks_of_the_language(tmp_path):
    assert localised("1,234.5") == "1,234.5" and number(-1234.5, 1) == "−1,234.5"
    with speaking(bracketed):
        assert localised("1,234.5") == "1.234,5" and whole(12345) == "12.345"
        page = reportpages.written(tmp_path, comparison(count=30))
    assert re.search(r">\d,\d{3}<", page) and not re.search(r">\d\.\d{3}<", page)


def test_the_plural_is_a_text_of_its_own():
    words = marked("{} line ({} m)"), marked("{} lines ({} m)")
    assert counted(1, *words, "2") == "1 line (2 m)" and counted(0, *words, "0") == "0 lines (0 m)"
    with speaking(bracketed):
        assert counted(2000, *words, "2") == "⟦2.000 lines (2 m)⟧"


def test_each_thread_speaks_its_own_language():
    heard = []
    with speaking(bracketed):
        thread = threading.Thread(target=lambda: heard.append(tr("Edge")))
        thread.start()
        thread.join()
        assert tr("Edge") == "⟦Edge⟧"
    assert heard == ["Edge"]
