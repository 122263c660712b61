"""What is said of packages that are missing, too old or broken."""

import sys
import types

import pytest

from curbwright.algorithms.host import dependencies


@pytest.mark.parametrize(
    ("version", "numbers"),
    [("2.0.1", (2, 0, 1)), ("1.26.4rc1", (1, 26, 4)), ("2", (2,)), ("2.1.dev0", (2, 1)), ("", ()),
     ("0+unknown", ())],  # Debian's shapely 2.2
)  # fmt: skip
def test_numbers_of_versions(version, numbers):
    assert dependencies._numbers(version)[:2] == numbers[:2]


def test_what_is_here_is_fine():
    complete, lines = dependencies.report(dependencies.PACKAGES)
    assert complete and len(lines) == len(dependencies.PACKAGES)
    assert all(line.endswith("present") for line in lines)
    assert dependencies.problems(["numpy", "scipy"]) == []


def test_missing(monkeypatch):
    monkeypatch.setitem(sys.modules, "shapely", None)
    (problem,) = dependencies.problems(["numpy", "shapely"])
    assert "“shapely”" in problem and dependencies.remedy("shapely") in problem
    complete, lines = dependencies.report(["scipy", "shapely"])
    assert not complete and problem in lines


def test_too_old(monkeypatch):
    old = types.ModuleType("shapely")
    old.__version__ = "1.8.5.post1"
    monkeypatch.setitem(sys.modules, "shapely", old)
    (problem,) = dependencies.problems(["shapely"])
    assert "version 1.8.5" in problem and "2.0 or newer" in problem


@pytest.mark.parametrize("new_enough", [True, False])
def test_a_version_that_is_unknown(monkeypatch, new_enough):
    packed = types.ModuleType("shapely")
    packed.__version__ = "0+unknown"
    if new_enough:
        packed.from_ragged_array = len
    monkeypatch.setitem(sys.modules, "shapely", packed)
    monkeypatch.setattr(dependencies.importlib.util, "find_spec", lambda name: object())
    monkeypatch.setattr(dependencies.importlib.metadata, "version", lambda name: "0+unknown")
    assert dependencies.missing(["shapely"]) == []
    assert (dependencies.problems(["shapely"]) == []) == new_enough


def test_present_but_cannot_be_loaded(monkeypatch):
    """A DLL that is not found raises ImportError itself; the first line of its text helps, the rest
    does not."""

    def fail(name):
        raise ImportError("DLL load failed while importing _flapack: not found.\nlong advice\n")

    monkeypatch.setattr(dependencies.importlib, "import_module", fail)
    (problem,) = dependencies.problems(["scipy"])
    assert "DLL load failed while importing _flapack: not found. " in problem
    assert "long advice" not in problem
