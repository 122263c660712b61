"""algorithms/README.md is what the algorithms say of themselves."""

import importlib.util
from pathlib import Path

import pytest

from curbwright.plugin.provider import ALGORITHMS

ROOT = Path(__file__).resolve().parents[2]
_spec = importlib.util.spec_from_file_location(
    "algorithms_readme", ROOT / ".ci" / "algorithms_readme.py"
)
algorithms_readme = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(algorithms_readme)


def made(provider):
    return [one for one in provider.algorithms() if hasattr(one, "FIELD_TABLES")]


def test_the_file_is_up_to_date(provider):
    assert len(made(provider)) == len(ALGORITHMS)
    written = algorithms_readme.TARGET.read_text(encoding="utf-8")
    assert written == algorithms_readme.text(made(provider)), (
        "run .venv/bin/python .ci/algorithms_readme.py"
    )


@pytest.mark.parametrize("kind", ALGORITHMS, ids=lambda kind: kind.NAME)
def test_nothing_is_left_unexplained(provider, kind):
    own = kind()
    own.initAlgorithm()
    sinks = {one.name() for one in own.parameterDefinitions() if one.type() == "sink"}
    assert sinks <= set(own.FIELD_TABLES)
    assert set(own.WITH_SOURCE_FIELDS) <= sinks
    for fields in own.FIELD_TABLES.values():
        assert [one.name for one in fields if not one.meaning] == []
    assert [one.name() for one in own.parameterDefinitions() if not one.help()] == []
    assert own.shortDescription() == own.SHORT_DESCRIPTION and len(own.SHORT_DESCRIPTION) > 20


def test_cells_cannot_break_a_table():
    lines = algorithms_readme.table(("a",), [("one | two\nthree",)])
    assert lines[2] == "| one \\| two three |"
