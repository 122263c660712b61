"""The help pages: as the algorithms are now, links that lead somewhere, nothing from outside."""

import importlib.util
import sys
from dataclasses import replace
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlparse

import pytest

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
HELP = ROOT / "plugin" / "help"


@pytest.fixture(scope="module")
def builder():
    sys.path.insert(0, str(ROOT / ".ci"))
    try:
        module = load("help_pages")
    finally:
        sys.path.remove(str(ROOT / ".ci"))
    return module


def load(name):
    """A script of .ci as a module."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    module = importlib.util.module_from_spec(spec)
    sys.modules[name] = module  # where its dataclasses look
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def algorithms(provider):
    made = [algorithm.create() for algorithm in provider.algorithms()]
    return [one for one in made if hasattr(one, "FIELD_TABLES")]  # models left out


class Links(HTMLParser):
    """What a page refers to."""

    def __init__(self, page):
        super().__init__()
        self.found, self.tags = [], set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.tags.add(tag)
        self.found += [value for name, value in attrs if name in ("href", "src")]


def test_pages_are_those_of_the_sources(builder, algorithms):
    made = builder.pages(algorithms)
    assert {path.name for path in HELP.glob("*.html")} == set(made)
    stale = [name for name, page in made.items() if (HELP / name).read_text("utf-8") != page]
    assert stale == [], "run .venv/bin/python .ci/help_pages.py"


def test_the_first_page_begins_with_the_tutorial():
    page = (HELP / "index.html").read_text("utf-8")
    assert page.count("tutorial.html") == 1
    assert page.index("tutorial.html") < page.index("<h2>")


def test_links_lead_somewhere_and_nothing_comes_from_outside():
    for path in HELP.glob("*.html"):
        links = Links(path.read_text("utf-8"))
        assert not links.tags & {"script", "iframe", "object", "form"}
        for target in links.found:
            assert not urlparse(target).scheme, (path.name, target)
            assert (HELP / unquote(urlparse(target).path)).is_file(), (path.name, target)
            assert not urlparse(target).fragment, (path.name, target)  # no heading has an id


def test_the_dialogue_finds_the_page_of_each_algorithm(algorithms):
    for algorithm in algorithms:
        page = Path(unquote(urlparse(algorithm.helpUrl()).path))
        assert page == HELP / f"{algorithm.name()}.html" and page.is_file()
        said = page.read_text("utf-8")
        for title in ("When to use it", "What it cannot do", "Parameters", "What comes out"):
            assert f">{title}</h2>" in said, (algorithm.name(), title)


def test_each_algorithm_has_a_picture_of_its_sample_as_it_is_now(algorithms):
    pictures = load("help_pictures")
    assert set(pictures.PICTURES) == {one.name() for one in algorithms}
    again = "bash sample_project/run.sh FOLDER; .venv/bin/python .ci/help_pictures.py FOLDER"
    for name, picture in pictures.PICTURES.items():
        drawn = (HELP / "pictures" / f"{name}.svg").read_text("utf-8")
        assert f"made from {pictures.origin(picture)} " in drawn, (name, again)


def test_a_picture_of_another_place_or_sample_is_stale(monkeypatch, tmp_path):
    pictures = load("help_pictures")
    picture = pictures.PICTURES["compareedges"]
    known = pictures.origin(picture)
    assert pictures.origin(replace(picture, width=1.0)) != known
    (tmp_path / "other.gpkg").write_bytes(b"another sample")
    monkeypatch.setattr(pictures, "SAMPLE", tmp_path / "other.gpkg")
    assert pictures.origin(picture) != known


def test_dead_links_are_found():
    page = '<a href="gone.html">x</a><img src="https://example.org/x.png"><script></script>'
    links = Links(page)
    assert links.found == ["gone.html", "https://example.org/x.png"] and "script" in links.tags
    assert not (HELP / links.found[0]).is_file() and urlparse(links.found[1]).scheme


def test_a_page_cannot_name_what_the_dialogue_does_not_have(builder, algorithms):
    assert builder.filled("{=TOLERANCE}", _named(algorithms, "reconstructedges")) == "0.01"
    with pytest.raises(SystemExit, match="NOT_THERE"):
        builder.filled("{NOT_THERE}", algorithms[0])


def _named(algorithms, name):
    return next(one for one in algorithms if one.name() == name)
