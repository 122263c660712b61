"""The zip keeps the rules of the plugin repository, as it publishes them.

Sources: “How to add your plugin to this repository” (requirements) and “PyQGIS Developer Cookbook:
Releasing your plugin” (metadata), both by the QGIS project; the limits and the required fields as
the repository's own check of uploads has them, published with its source (QGIS-Plugins-Website).
Whether links answer is left to the repository: nothing here uses a network.
"""

import configparser
import importlib.util
import re
import sys
import zipfile
from pathlib import Path, PurePosixPath

import pytest
from otherprocess import run_code

ROOT = Path(__file__).resolve().parents[2]
REQUIRED = (
    "name", "description", "version", "qgisMinimumVersion", "author", "email", "about", "tracker",
    "repository",
)  # fmt: skip
LINKS = ("homepage", "tracker", "repository")
CATEGORIES = ("Raster", "Vector", "Database", "Mesh", "Web")
MOST = 25_000_000  # bytes of the zip
FORBIDDEN = {"__MACOSX", ".git", "__pycache__"}
PLACEHOLDER = "example.org"
# Each kind of file that is not text, by its first bytes: data and pictures, nothing that runs.
KNOWN = {
    ".png": b"\x89PNG",
    ".qm": b"\x3c\xb8\x64\x18",
    ".gpkg": b"SQLite format 3\0",
    ".qgz": b"PK\x03\x04",
    ".nmea": b"$G",  # with a binary frame in between, as receivers write them
}
FIND_PAGES = """
import sys
from pathlib import Path
from urllib.parse import unquote, urlparse
plugins = Path(sys.argv[1])
sys.path[:0] = [str(plugins), "/usr/share/qgis/python/plugins", "/usr/share/qgis/python"]
from qgis.core import QgsApplication
application = QgsApplication([], False)
application.initQgis()
import curbwright
plugin = curbwright.classFactory(None)
plugin.initProcessing()
for algorithm in plugin.provider.algorithms():
    if not hasattr(algorithm, "FIELD_TABLES"):
        continue  # the model explains itself
    page = Path(unquote(urlparse(algorithm.helpUrl()).path))
    print("PAGE", algorithm.name(), page.is_file() and plugins in page.parents, page.name)
plugin.unload()
"""


def module(name):
    """A tool of .ci."""
    spec = importlib.util.spec_from_file_location(name, ROOT / ".ci" / f"{name}.py")
    made = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(made)
    return made


@pytest.fixture(scope="module")
def path(tmp_path_factory):
    target = tmp_path_factory.mktemp("zip") / "curbwright.zip"
    module("package").build(target)
    return target


@pytest.fixture(scope="module")
def archive(path):
    with zipfile.ZipFile(path) as opened:
        yield opened


@pytest.fixture(scope="module")
def metadata(archive):
    # with interpolation and the case of the keys as they are: so the repository reads it
    parser = configparser.ConfigParser()
    parser.optionxform = str
    parser.read_string(archive.read("curbwright/metadata.txt").decode("utf-8"))
    return dict(parser["general"])


def test_one_folder_with_what_must_be_there(path, archive):
    names = archive.namelist()
    assert path.stat().st_size < MOST
    assert {name.split("/")[0] for name in names} == {"curbwright"}
    assert "curbwright".isidentifier()
    needed = {f"curbwright/{name}" for name in ("__init__.py", "metadata.txt", "LICENSE")}
    assert needed <= set(names)
    assert b"GNU GENERAL PUBLIC LICENSE" in archive.read("curbwright/LICENSE")


def test_no_caches_no_paths_that_lead_out(archive):
    for name in archive.namelist():
        assert not FORBIDDEN & set(name.split("/")) and not name.endswith((".pyc", ".pyo"))
        assert ".." not in name and "\\" not in name and name.isascii()
        assert not name.startswith("/") and not re.match("[A-Za-z]:", name)


def test_no_binaries(archive):
    for name in archive.namelist():
        content, suffix = archive.read(name), PurePosixPath(name).suffix
        if suffix in KNOWN:
            assert content.startswith(KNOWN[suffix]), name
        else:
            assert b"\0" not in content, name
            content.decode("utf-8")  # raises where it is no text


def test_metadata(metadata):
    assert {key for key in REQUIRED if not metadata.get(key, "").strip()} == set()
    assert re.fullmatch(r"\d+(\.\d+)+", metadata["version"])
    assert metadata["category"] in CATEGORIES
    assert "/" not in metadata["author"] and "@" in metadata["email"]
    assert "plugin" not in metadata["name"].lower()
    assert "\n" not in metadata["description"] and "<" not in metadata["about"]
    for flag in ("experimental", "deprecated", "hasProcessingProvider"):
        assert metadata[flag] in ("True", "False", "yes", "no")


def test_what_else_must_be_installed_is_said(metadata):
    sys.path.insert(0, str(ROOT))
    source = (ROOT / "algorithms" / "host" / "dependencies.py").read_text("utf-8")
    for package in re.findall(r'^    "(\w+)": \(\(', source, re.MULTILINE):
        assert package in metadata["about"]


def test_icon(archive, metadata):
    icon = archive.read(f"curbwright/{metadata['icon']}")
    assert b"<svg" in icon[:400] and len(icon) < 20_000


def test_links_are_real_or_said_to_be_filled_in(metadata, capsys):
    left = [key for key in (*LINKS, "email") if PLACEHOLDER in metadata[key]]
    for key in LINKS:
        assert re.match(r"https://[\w.-]+\.\w+(/|$)", metadata[key])
        assert metadata[key] not in ("http://bugs", "http://repo", "http://homepage")
    assert module("package").to_fill_in() == left
    developers = (ROOT / "DEVELOPERS.md").read_text("utf-8")
    assert [key for key in left if f"`{key}`" not in developers] == []


def test_change_log(metadata):
    version = metadata["version"]
    changes = (ROOT / "plugin" / "help" / "changes.md").read_text("utf-8")
    headings = re.findall(r"^## (.*)$", changes, re.MULTILINE)
    assert headings[0] == version
    assert metadata["changelog"].split()[0] == version


@pytest.mark.one_host
def test_each_dialogue_opens_a_page_of_the_zip(archive, tmp_path):
    plugins = tmp_path / "some plugins"
    archive.extractall(plugins)
    done = run_code(FIND_PAGES, tmp_path / "profile", plugins)
    found = [line.split() for line in done.stdout.splitlines() if line.startswith("PAGE")]
    assert len(found) >= 15, done.stderr
    assert [one for one in found if one[2:] != ["True", f"{one[1]}.html"]] == []
