"""Every tuned number says what it is and where it comes from, is used, and can be tried anew."""

import ast
from dataclasses import FrozenInstanceError, dataclass, fields, replace
from pathlib import Path

import pytest

from curbwright.shared import tuning

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
NUMBERS = [
    (f"{name}.{column.name}", stage, column)
    for name, stage in tuning.stages().items()
    for column in fields(stage)
]


@dataclass(frozen=True)
class Trial:
    limit: float = tuning.tuned(6.0, "sigma", "What is farther is rejected.", "from memory")
    epochs: int = tuning.tuned(5, "epochs", "Epochs that are enough.", "from memory")


@pytest.fixture
def trial(monkeypatch):
    stage = Trial()
    monkeypatch.setattr(tuning, "TRIAL", stage, raising=False)
    return stage


def test_each_number_says_what_it_is():
    assert len(NUMBERS) > 400
    for name, stage, column in NUMBERS:
        # `tuned` is the one way to write a number
        assert set(column.metadata) == {"unit", "meaning", "origin"}, name
        for text in column.metadata.values():
            assert isinstance(text, str) and text.strip() == text and text, name
        assert len(column.metadata["meaning"].split()) > 2, name
        values = column.default if isinstance(column.default, tuple) else (column.default,)
        assert values and all(type(value) in (int, float) for value in values), name
        assert getattr(stage, column.name) == column.default, name


def test_every_number_is_used():
    used = set()
    for folder in ("shared", "algorithms", "plugin"):
        for path in (ROOT / folder).rglob("*.py"):
            text = path.read_text(encoding="utf-8")
            if not any(name in text for name in tuning.stages()) and path.stem != "tuning":
                continue
            for node in ast.walk(ast.parse(text)):
                if isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name):
                    used.add((node.value.id, node.attr))
    unused = [
        f"{name}.{column.name}"
        for name, stage in tuning.stages().items()
        for column in fields(stage)
        if not {(name, column.name), ("self", column.name)} & used
    ]
    assert unused == []


def test_stages_are_frozen_and_hold_their_defaults():
    for name, stage in tuning.stages().items():
        assert vars(stage) == vars(type(stage)()), name
        assert name.replace("_", "").lower() == type(stage).__name__.lower()
        for column in fields(stage):
            with pytest.raises(FrozenInstanceError):
                setattr(stage, column.name, 0)


def test_override_is_seen_and_taken_back(trial):
    assert tuning.stages()["TRIAL"] is trial
    with tuning.override(TRIAL__limit=5.0, TRIAL__epochs=7):
        assert tuning.TRIAL is trial and (trial.limit, trial.epochs) == (5.0, 7)
    assert trial == Trial()
    seen = []
    with pytest.raises(ZeroDivisionError), tuning.override(TRIAL__limit=0.0):
        seen.append(1 / trial.limit)
    assert seen == [] and trial == Trial()


@pytest.mark.parametrize(
    ("name", "told"),
    [
        ("OTHER__limit", "no stage “OTHER”; there are .*TRIAL"),
        ("TRIAL__reach", "TRIAL has no “reach”; it has limit, epochs"),
        ("TRIAL", "TRIAL has no “”; it has limit, epochs"),
    ],
)
def test_override_tells_what_there_is(trial, name, told):
    with pytest.raises(ValueError, match=told), tuning.override(TRIAL__limit=1.0, **{name: 2.0}):
        pass
    assert trial == Trial()


def test_every_number_can_be_tried():
    for name, stage, column in NUMBERS:
        with tuning.override(**{name.replace(".", "__"): -17}):
            assert getattr(stage, column.name) == -17, name
            other = replace(type(stage)(), **{column.name: -17})
            assert vars(stage) == vars(other), name
        assert getattr(stage, column.name) == column.default, name
