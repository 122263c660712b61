"""Whatever comes from the data is text: a parser sees the same page, whatever things are called."""

import xml.etree.ElementTree as ElementTree
from functools import cache
from html.parser import HTMLParser
from pathlib import Path

import pytest
import reportpages as pages

from curbwright.shared.language import CONTEXT, speaking
from curbwright.shared.report import (
    CapturesContext,
    DayRow,
    LayerRow,
    plots,
    write_captures_report,
)
from curbwright.shared.report.basemap import Change, UpdateContext, write_update_report
from curbwright.shared.report.page import POLICY

HOSTILE = (
    '<script>alert("1")</script>',
    '"><img src=x onerror=alert(1)>',
    "' onmouseover='alert(1)",
    "javascript:alert(1)",
    "</style><script>alert(1)</script>",
    "</title><svg/onload=alert(1)>",
    "-->]]><a href=//x>",
    "{{7*7}}${7*7}<%= 7 %>",
    "\u202e\u0000\x1b[31m\r\n<b>",
    "http://example.invalid/x.js",
    "&lt;script&gt;&#x3c;img src=x&#62;&amp;quot;",
    "}body{background:url(javascript:alert(1))}/*",
    "x" * 400 + "<b>",
    "\u200f\u2066\u05d0<i>\u2069",
    '`onload=alert(1)` \\"><p>',
    "&#0;&NewLine;java&Tab;script:alert(1)",
)
EMPTY = {"meta", "br", "link", "img", "hr", "input"}
CALM = "quay"
GERMAN = Path(__file__).resolve().parents[3] / "plugin" / "i18n" / "curbwright_de.ts"


def english(context, text):
    return text


def german(context, text):
    return words().get(text, text)


@cache
def words():
    """The German texts of the core, as they are shipped."""
    (found,) = [
        one for one in ElementTree.parse(GERMAN).iter("context") if one.findtext("name") == CONTEXT
    ]
    return {one.findtext("source"): one.findtext("translation") for one in found.iter("message")}


class Shape(HTMLParser):
    """The elements of a page with their attributes, and its text.

    Ids and what refers to them differ with the content; of these attributes the name counts.
    """

    def __init__(self, page):
        super().__init__()
        self.elements, self.texts, self.values = [], [], []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.elements.append((tag, tuple(name for name, _ in attrs)))
        self.values += [(name, value or "") for name, value in attrs]

    handle_startendtag = handle_starttag

    def handle_endtag(self, tag):
        self.elements.append(("/", tag))

    def handle_comment(self, data):
        self.elements.append(("comment",))

    def handle_decl(self, decl):
        self.elements.append(("declaration", decl))

    def handle_data(self, data):
        self.texts.append(data)


def captures(folder, word):
    path = folder / "captures.html"
    write_captures_report(
        path,
        CapturesContext(
            folder=word, crs=word, made=word,
            layers=(
                LayerRow(word, "", 9, 8, 1, 2, 10.0, 0),
                LayerRow(f"{word} 2", word, 0, 0, 0, 0, 0.0, 1),
            ),
            stages=((word, word),), results=((word, 3),), settings=((word, word),),
            versions=((word, word),),
            control=(DayRow(word, word, 2, 0.1, 0.1, 0.1, word),),
        ),
        None,
        None,
        lambda share: None,
    )  # fmt: skip
    return path.read_text(encoding="utf-8")


def update(folder, word):
    path = folder / "update.html"
    write_update_report(
        path,
        UpdateContext(
            existing=word, edges=word, crs=word, made=word, unchanged=1,
            changes=(Change("replaced", word, word, 60.0, 60.5, 0.5, 12.0, 0.7, word, word),),
            held=((word, word, word),), shift=(0.1, 0.2), settings=((word, word),),
        ),
    )  # fmt: skip
    return path.read_text(encoding="utf-8")


def comparison(folder, word):
    return pages.written(
        folder, existing=word, edge_crs=word, existing_crs=word, made=word, dates=word,
        producer=word, surveyed=word, crs_warning=word, parameters=((word, word),),
    )  # fmt: skip


def points(folder, word):
    return pages.checked(folder)


def lines(folder, word):
    return pages.checked(folder, True)


@pytest.fixture
def page_of(tmp_path, monkeypatch):
    monkeypatch.setattr(plots, "available", lambda: False)  # no text of the data in plots

    def make(maker, word):
        monkeypatch.setattr(pages, "NASTY", word)
        return maker(tmp_path, word)

    return make


@pytest.mark.parametrize("language", [english, german])
@pytest.mark.parametrize("maker", [comparison, points, lines, captures, update])
def test_hostile_names_change_no_element_and_no_attribute(page_of, maker, language):
    with speaking(language):
        calm, *hostile = [Shape(page_of(maker, word)) for word in (CALM, *HOSTILE)]
    assert ("lang", "de" if language is german else "en") in calm.values
    for word, shape in zip(HOSTILE, hostile):
        assert shape.elements == calm.elements, word
        told = "".join(shape.texts)
        seen = "".join(one if one.isprintable() else " " for one in word)
        assert seen in told
        for name, value in shape.values:
            assert not name.startswith("on") and "script" not in value.lower()
            assert name not in ("src", "action", "formaction", "srcdoc", "style") or not value
            assert name != "href" or value.startswith("#")


@pytest.mark.parametrize("maker", [comparison, points, lines, captures, update])
def test_every_page_forbids_all_but_itself_before_anything_else(page_of, maker):
    shape = Shape(page_of(maker, HOSTILE[0]))
    assert [one for one in shape.elements if one[0] == "meta"][:2] == [
        ("meta", ("charset",)),
        ("meta", ("http-equiv", "content")),
    ]
    assert ("content", POLICY) in shape.values
    first = [one[0] for one in shape.elements].index
    assert first("meta") < first("title") < first("style") < first("body")
    for rule in ("default-src 'none'", "base-uri 'none'", "form-action 'none'"):
        assert rule in POLICY
    assert "script-src" not in POLICY and "unsafe-eval" not in POLICY and "*" not in POLICY
