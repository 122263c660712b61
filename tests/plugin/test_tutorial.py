"""The tutorial: its pictures are there, small, and show the windows as they are now, as far as that
can be told without a screen; its words stand in those windows."""

import hashlib
import importlib.util
import json
import re
from pathlib import Path

import pytest
from qgis.PyQt.QtGui import QImage

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
HELP = ROOT / "plugin" / "help"
SEEN = json.loads((HELP / "pictures" / "tutorial.json").read_text("utf-8"))
SOURCE = (HELP / "tutorial.md").read_text("utf-8")
AGAIN = "run .venv/bin/python .ci/tutorial_pictures.py"
# of the host: in menus that open on a click, which no picture shows
HOST = {"Make Permanent…", "OK", "Panels"}
MOST = 800_000  # bytes of all pictures


def checksum(path):
    return hashlib.sha256(path.read_bytes()).hexdigest()


def emphasised():
    """The words in italics, each step of a menu by itself."""
    plain = re.sub(r"!\[[^\]]*\]\([^)]*\)|\*\*[^*]*\*\*", "", SOURCE)
    return {
        part for text in re.findall(r"\*([^*]+)\*", plain)
        for part in " ".join(text.split()).split(" > ")
    }  # fmt: skip


def test_each_picture_is_there_and_small():
    used = set(re.findall(r"\]\(pictures/([^)]+)\)", SOURCE))
    assert used == set(SEEN["pictures"]), AGAIN
    assert used == {path.name for path in (HELP / "pictures").glob("tutorial_*.png")}
    paths = [HELP / "pictures" / name for name in used]
    for path in paths:
        assert checksum(path) == SEEN["pictures"][path.name], AGAIN
        image = QImage(str(path))
        assert image.format() == QImage.Format.Format_Indexed8 and 500 < image.width() < 1400
    assert sum(path.stat().st_size for path in paths) < MOST


def test_the_pictures_are_of_this_sample():
    for name, known in SEEN["sample"].items():
        assert checksum(ROOT / "sample_project" / name) == known, AGAIN


def test_the_dialogues_still_have_these_labels(provider):
    for name, labels in SEEN["labels"].items():
        own = provider.algorithm(name).create()
        assert [one.description() for one in own.parameterDefinitions()] == labels, (name, AGAIN)


def test_the_words_stand_in_the_windows():
    shown = {word.split(" [")[0].rstrip(":") for word in SEEN["words"]}
    shown |= {label.split(" (")[0] for some in SEEN["labels"].values() for label in some}
    shown |= {label for some in SEEN["labels"].values() for label in some}
    missing = {word for word in emphasised() if word not in shown | HOST | {"Tern Ness"}}
    assert missing == set()


def test_our_words_are_still_those_of_the_code():
    spec = importlib.util.spec_from_file_location("translations", ROOT / ".ci" / "translations.py")
    translations = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(translations)
    texts = {text for some in translations.collect().values() for text in some}
    ours = {word for word in emphasised() if word not in HOST} & set(SEEN["ours"])
    assert len(ours) > 10
    assert set(SEEN["ours"]) <= texts, AGAIN


def test_the_pictures_taken_are_those_shown():
    session = (ROOT / ".ci" / "tutorial_session.py").read_text("utf-8")
    taken = {f"tutorial_{name}.png" for name in re.findall(r'shoot\("(\w+)"', session)}
    assert taken | {"tutorial_report.png"} == set(SEEN["pictures"])
