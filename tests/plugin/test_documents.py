"""Links of the documents: each leads to a file, or to a heading, that is there."""

import re
from pathlib import Path

import pytest

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
DOCUMENTS = [
    *sorted(ROOT.glob("*.md")),
    *(
        path
        for room in ("algorithms", "shared", "tests")
        for path in sorted((ROOT / room).rglob("*.md"))
    ),
]
LINK = re.compile(r"\]\(([^)\s]+)\)")


def anchors(text):
    """What the headings of a document are called in links."""
    return {
        re.sub(r"[^\w\- ]", "", heading.lower()).replace(" ", "-")
        for heading in re.findall(r"^#+ (.*)$", text, re.MULTILINE)
    }


def broken(path):
    """Links of a document that lead nowhere."""
    text, out = path.read_text(encoding="utf-8"), []
    for link in LINK.findall(re.sub(r"`[^`\n]*`", "", text)):
        if re.match(r"[a-z]+:", link):
            continue  # not for a test to fetch
        name, _, anchor = link.partition("#")
        target = path.parent / name if name else path
        lost = not target.exists()
        if lost or (anchor and anchor not in anchors(target.read_text(encoding="utf-8"))):
            out.append(link)
    return out


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(path):
    assert broken(path) == []


def test_a_broken_link_is_found(tmp_path):
    document = tmp_path / "a.md"
    document.write_text("# One thing\n[b](b.md) [c](#one-thing) [d](#other) [e](a.md#one-thing)\n")
    assert broken(document) == ["b.md", "#other"]
