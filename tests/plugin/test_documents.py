"""Links of the documents lead to a file, or to a heading, that is there; so do commands, whose
options are known to what they start."""

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
# what bash or Python is given first
SCRIPT = re.compile(r"(?:bash|\.venv/bin/python|[ `]python) (?!-)([^\s`]+)([^`\n#]*)")


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


def unknown(text):
    """Commands of a document whose script, or an option of it, is not there."""
    out = []
    for script, rest in SCRIPT.findall(text):
        place = ROOT / script
        code = place / "__main__.py" if place.is_dir() else place
        known = code.read_text(encoding="utf-8") if code.is_file() else None
        if script == "tests/run.sh":  # its options are pytest's, and those of conftest.py
            known += (ROOT / "tests" / "conftest.py").read_text(encoding="utf-8")
        options = re.findall(r"(?<= )--[a-z-]+", rest)
        if known is None or not all(re.search(rf"{option}(?![\w-])", known) for option in options):
            out.append(script + rest.rstrip())
    return out


def test_commands_are_there():
    texts = [(ROOT / name).read_text(encoding="utf-8") for name in ("README.md", "DEVELOPERS.md")]
    assert sum(len(SCRIPT.findall(text)) for text in texts) > 20
    assert [unknown(text) for text in texts] == [[], []]


def test_a_command_that_is_not_there_is_found():
    text = "    bash tests/run.sh --long\n`.venv/bin/python tests/benchmarks/accuracy.py --seeds 1`"
    assert unknown(text) == []
    text = "`bash tests/go.sh` or `sudo bash tests/run.sh --lang`, `.venv/bin/python .ci/no.py`"
    assert unknown(text) == ["tests/go.sh", "tests/run.sh --lang", ".ci/no.py"]


@pytest.mark.parametrize("path", DOCUMENTS, ids=lambda path: path.relative_to(ROOT).as_posix())
def test_links_lead_somewhere(path):
    assert broken(path) == []


def test_a_broken_link_is_found(tmp_path):
    document = tmp_path / "a.md"
    document.write_text("# One thing\n[b](b.md) [c](#one-thing) [d](#other) [e](a.md#one-thing)\n")
    assert broken(document) == ["b.md", "#other"]
