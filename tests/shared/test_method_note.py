"""What the note on the method names must exist: functions, tuned numbers, tests and files; and the
numbers that it quotes must be those in use."""

import ast
import importlib
import math
import re
from pathlib import Path

import pytest

from curbwright.shared import tuning

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
NOTE = ROOT / "shared" / "METHOD.md"
ROOMS = sorted(path.parent.name for path in (ROOT / "shared").glob("*/__init__.py"))
PLACEHOLDER = "STAGE."  # as in `STAGE.number`, which stands for any of them


def names(text):
    """What a text has in backticks, one word each; every name once, sorted."""
    return sorted(set(re.findall(r"`([^`\s]+)`", text)))


def functions(text):
    """Names such as `room.module.function` and `room.module`."""
    return [name for name in names(text) if name.split(".")[0] in ROOMS]


def numbers(text):
    """Names such as `STAGE.number`."""
    return [
        name
        for name in names(text)
        if re.fullmatch(r"[A-Z][A-Z_]*\.\w+", name) and not name.startswith(PLACEHOLDER)
    ]


def named_tests(text):
    return [name for name in names(text) if re.fullmatch(r"test_\w+", name)]


def files(text):
    return [name for name in names(text) if re.fullmatch(r"(?:shared|tests)/[\w./]+", name)]


def quoted_numbers(text):
    """Numbers, some with a unit, that stand right before the name of a tuned number, with it."""
    pattern = r"(?<![\w.])(-?\d+(?:\.\d+)?)([^\d(`,;:.]{0,20})\(`([A-Z][A-Z_]*\.\w+)`"
    return [
        (float(number), name)
        for number, _, name in re.findall(pattern, re.sub(r"\s+", " ", text))
        if not name.startswith(PLACEHOLDER)
    ]


def is_in_use(number, name):
    """Whether a tuned number has a value, in its own unit, in percent or in degrees."""
    stage, field = name.split(".")
    value = getattr(tuning.stages()[stage], field)
    own = [value, abs(value), 100 * value, 1000 * value, math.degrees(value)]  # mm for metres
    return any(math.isclose(number, one) for one in own)


def is_plain(name):
    """Whether a tuned number is one number, not several."""
    stage, field = name.split(".")
    return isinstance(getattr(tuning.stages()[stage], field), (int, float))


def sections(text):
    """Sections by their headings."""
    parts = re.split(r"^## (.*)$", text, flags=re.MULTILINE)
    return dict(zip(parts[1::2], parts[2::2]))


def exists(name):
    """Whether there is a module, function, class or method of that name below shared/."""
    room, module, *rest = name.split(".")
    try:
        found = importlib.import_module(f"curbwright.shared.{room}.{module}")
    except ModuleNotFoundError:
        return False
    for part in rest:
        if not hasattr(found, part):
            return False
        found = getattr(found, part)
    return True


def is_tuned(name):
    stage, number = name.split(".")
    return hasattr(tuning.stages().get(stage), number)


def known_tests():
    found = set()
    for path in (ROOT / "tests").rglob("test_*.py"):
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8"))):
            if isinstance(node, ast.FunctionDef):
                found.add(node.name)
    return found


@pytest.fixture(scope="module")
def note():
    return NOTE.read_text(encoding="utf-8")


def test_functions_exist(note):
    found = functions(note)
    assert len(found) > 80  # a note that names nothing would pass as well
    assert [name for name in found if not exists(name)] == []


def test_tuned_numbers_exist(note):
    found = numbers(note)
    assert len(found) > 15
    assert [name for name in found if not is_tuned(name)] == []


def test_every_name_is_of_one_of_these_kinds(note):
    """A name that is no function, number, test or file would never be checked."""
    stages = [name for name in names(note) if name in tuning.stages()]
    known = {*functions(note), *numbers(note), *named_tests(note), *files(note), *stages}
    examples = {"room.module.function", f"{PLACEHOLDER}number", "shared/"}
    assert set(names(note)) - known == examples


def test_quoted_numbers_are_those_in_use(note):
    found = [(number, name) for number, name in quoted_numbers(note) if is_plain(name)]
    assert len(found) > 60
    assert [both for both in found if not is_in_use(*both)] == []


def test_each_equation_is_numbered_and_its_section_names_functions_and_tests(note):
    for title, text in sections(note).items():
        blocks = re.findall(r"(?:^    \S.*\n)+", text, re.MULTILINE)
        assert [one for one in blocks if not re.search(r"\(\d+\)$", one, re.MULTILINE)] == []
        assert not blocks or (functions(text) and named_tests(text)), title


def test_tests_exist(note):
    found = named_tests(note)
    assert len(found) > 80
    assert sorted(set(found) - known_tests()) == []


def test_files_exist(note):
    found = files(note)
    assert found
    assert [name for name in found if not (ROOT / name).exists()] == []


def test_equations_are_numbered_in_order(note):
    numbered = [int(number) for number in re.findall(r"^ .*\s\((\d+)\)$", note, re.MULTILINE)]
    assert numbered == list(range(1, len(numbered) + 1)) and len(numbered) > 25


@pytest.mark.parametrize(
    "name",
    ["alignment.search.no_such_function", "alignment.no_such_module.fit", "arrays.nothing"],
)
def test_a_name_that_is_gone_is_found(name):
    assert functions(f"by `{name}`") == [name]
    assert not exists(name)


@pytest.mark.parametrize(
    ("text", "fine"),
    [
        ("beyond 6 σ (`SCREENING.spike_sigmas`)", True),
        ("beyond 5 σ (`SCREENING.spike_sigmas`)", False),
        ("80 % (`COMPARISON.whole`) of it", True),
        ("0.8 degrees (`CHAIN.shallow_angle`)", False),
        ("8 degrees\n(`CHAIN.shallow_angle`; `a.b.c`)", True),
        ("-1 (`HEIGHT_EVIDENCE.same`)", True),
    ],
)
def test_quoted_numbers_are_read(text, fine):
    ((number, name),) = quoted_numbers(text)
    assert is_in_use(number, name) == fine


def test_a_number_that_is_gone_is_found():
    assert numbers("`SCREENING.no_such_number` of `STAGE.number`") == ["SCREENING.no_such_number"]
    assert not is_tuned("SCREENING.no_such_number")
    assert not is_tuned("NO_SUCH_STAGE.number")
