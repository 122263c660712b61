"""What many tests of the batch begin with."""

import hashlib
import pickle
import shutil
from pathlib import Path

import pytest
from batchruns import process
from networkwatch import without_network  # noqa: F401 (a fixture of all tests here)
from otherprocess import Twins

from curbwright.algorithms import processcaptures
from curbwright.shared.reconstruction import reconstruct
from curbwright.shared.report import plots

_FITTED = {}  # shares of the work and the result, pickled, by table and settings


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


@pytest.fixture(scope="session")
def twins(tmp_path_factory):
    """Processes with QGIS and the provider that may be killed: see `otherprocess.Twins`."""
    made = Twins(tmp_path_factory.mktemp("profile of twins"))
    yield made
    made.end()


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


@pytest.fixture
def fitted_anew():
    """Asked for by tests in which a table that was fitted before is to be fitted again."""


@pytest.fixture(autouse=True)
def fitted_once(request, monkeypatch):
    """A table that was fitted before with the same settings, in whatever test below, is not fitted
    again, which takes most of a run of the main job and a third of one of the batch: what the tests
    here are about is how a table is made and what becomes of its result. The shares of the work are
    told as they were. With processes that share the work it is done."""
    if "fitted_anew" in request.fixturenames:
        return
    whole = reconstruct.reconstruct

    def known(table, settings, progress, *, pool, **others):
        if pool:
            return whole(table, settings, progress, pool=pool, **others)
        key = hashlib.sha256(pickle.dumps((table, settings, others))).digest()
        if key in _FITTED:
            shares, result = _FITTED[key]
            for share in shares:
                progress(share)
            return pickle.loads(result)  # noqa: S301 (our own, of this process)
        shares = []

        def told(share):
            shares.append(share)
            progress(share)

        result = whole(table, settings, told, **others)
        _FITTED[key] = shares, pickle.dumps(result)
        return result

    monkeypatch.setattr(reconstruct, "reconstruct", known)
