"""What the tests of reports share."""

import builtins

import pytest
from reportpages import written


@pytest.fixture(scope="session")
def plain(tmp_path_factory):
    """The page of the comparison made by hand, written once for all tests that read it."""
    return written(tmp_path_factory.mktemp("plain"))


@pytest.fixture
def without_matplotlib(monkeypatch):
    real = builtins.__import__

    def refuse(name, *rest, **more):
        if name.split(".")[0] == "matplotlib":
            raise ImportError("not here")
        return real(name, *rest, **more)

    monkeypatch.setattr(builtins, "__import__", refuse)
