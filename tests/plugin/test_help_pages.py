"""The help pages: as the algorithms are now, links that lead somewhere, nothing from outside."""

import importlib.util
import sys
from html.parser import HTMLParser
from pathlib import Path
from urllib.parse import unquote, urlparse

import pytest

ROOT = Path(__file__).resolve().parents[2]
HELP = ROOT / "plugin" / "help"


@pytest.fixture(scope="module")
def builder():
    sys.path.insert(0, str(ROOT / ".ci"))
    try:
        spec = importlib.util.spec_from_file_location("help_pages", ROOT / ".ci" / "help_pages.py")
        module = importlib.util.module_from_spec(spec)
        spec.loader.exec_module(module)
    finally:
        sys.path.remove(str(ROOT / ".ci"))
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


def test_a_page_cannot_name_what_the_dialogue_does_not_have(builder, algorithms):
    assert builder.filled("{=TOLERANCE}", _named(algorithms, "reconstructedges")) == "0.01"
    with pytest.raises(SystemExit, match="NOT_THERE"):
        builder.filled("{NOT_THERE}", algorithms[0])


def _named(algorithms, name):
    return next(one for one in algorithms if one.name() == name)
