"""Packages are loaded in threads that end together with their state of Python."""

import sys
import threading

import pytest

from curbwright.shared.parallel import imports

CODE = "import threading\nTHREAD = threading.current_thread()\n"


class Elsewhere(threading.Thread):
    """Loads in a thread that is neither the main one nor made for it."""

    def __init__(self, *names):
        super().__init__()
        self.names = names

    def run(self):
        imports.load(*self.names)


@pytest.fixture
def package(tmp_path, monkeypatch):
    """Name of a module that tells which thread loaded it."""
    (tmp_path / "told_by_thread.py").write_text(CODE)
    monkeypatch.syspath_prepend(str(tmp_path))
    yield "told_by_thread"
    sys.modules.pop("told_by_thread", None)


def test_the_main_thread_loads_itself(package):
    imports.load(package)
    assert sys.modules[package].THREAD is threading.main_thread()


def test_another_thread_has_it_loaded_by_one_of_its_own(package):
    thread = Elsewhere(package)
    thread.start()
    thread.join()
    found = sys.modules[package].THREAD
    assert found is not thread and found is not threading.main_thread()
    assert not found.is_alive()


def test_what_cannot_be_imported_is_left_to_who_needs_it(package):
    imports.load("no_such_package_of_that_name", package)
    assert package in sys.modules
