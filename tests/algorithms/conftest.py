"""What many tests of the batch begin with."""

import shutil
from pathlib import Path

import pytest
from batchruns import process

from curbwright.algorithms import processcaptures
from curbwright.shared.report import plots


@pytest.fixture(scope="session")
def former_run(tmp_path_factory, provider):
    """Copies what a run left: ``former_run(folder, make, **parameters)``.

    Each run is made once, whatever test asks first; `make` returns the layers, and stands for them.
    """
    made = {}

    def copied(folder, make, **parameters):
        key = make, tuple(sorted(parameters.items())), processcaptures.store
        if key not in made:
            made[key] = tmp_path_factory.mktemp("former") / "out"
            process(make(), made[key], **parameters)
        return Path(shutil.copytree(made[key], folder, dirs_exist_ok=True))

    return copied


@pytest.fixture
def without_figures(monkeypatch):
    """Reports as where matplotlib is missing: what is tested is not in a figure, and each figure
    takes as long as a run."""
    monkeypatch.setattr(plots, "available", lambda: False)


def _nothing_stored(*_):
    pass


@pytest.fixture
def without_styles(monkeypatch):
    """Results without the styles and the project that a run stores beside them, which takes a third
    of its time: test_ready_project.py asks for those."""
    monkeypatch.setattr(processcaptures, "store", _nothing_stored)
