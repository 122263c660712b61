"""Imports the clone as the package ``curbwright`` (`clone.py`), registers the provider, and tells
the short run from the long one.

The short run leaves out tests marked `long` and tries fewer examples of each property;
``bash tests/run.sh --long`` leaves out nothing. ``--few`` is for a second host, where the first one
has passed the short run: it tries fewer examples still, takes of the cases of one test the first
four and then every third, and leaves out tests marked `one_host`, whose answer is no other there.
"""

import gc
import os
import sys
import time
from collections import Counter
from contextlib import suppress
from types import TracebackType

import clone  # imports it as `curbwright`
import networkwatch
import pytest
from postgis import postgis  # noqa: F401 (a fixture)

if not (os.environ.get("DISPLAY") or os.environ.get("WAYLAND_DISPLAY")):
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")  # Qt ends the process without a screen

# Starts QGIS, so after the line above; registered by its own name it would start it before.
pytest_plugins = ("pytest_qgis.plugin",)

# Files that take longest, first, so that no worker is left with one of them at the end. All tests
# of a file go to one worker: they share what their fixtures made.
FIRST = (
    "test_processcaptures.py",
    "test_partitioned_run.py",
    "test_reconstruct_properties.py",
    "test_carry_over.py",
    "test_run.py",
    "test_review_repairs.py",
    "test_fits.py",
    "test_review_panel.py",
    "test_staging.py",
    "test_accuracy.py",
    "test_repaired_runs.py",
    "test_nmea_published.py",
    "test_report.py",
    "test_comparison.py",
    "test_package.py",
    "test_live_replace.py",
    "test_batch_basemap.py",
    "test_workers.py",
    "test_fit.py",
    "test_shift.py",
    "test_updatebasemap.py",
    "test_roles.py",
    "test_vertex_times.py",
    "test_reconstructedges.py",
    "test_reconstruct.py",
    "test_compareedges.py",
    "test_fitalignments.py",
    "test_part.py",
)


def pytest_addoption(parser):
    parser.addoption("--long", action="store_true", help="all tests, and many more examples")
    parser.addoption("--few", action="store_true", help="fewer examples, for a second host")


def pytest_configure(config):
    config.addinivalue_line("markers", "long: takes long; left out unless --long is given")
    config.addinivalue_line("markers", "one_host: left out on a second host, with --few")
    config.addinivalue_line(
        "markers", "one_in(n): of the cases of a test every n-th; all where --long is given"
    )
    from hypothesis import settings

    # It reads the constants of every module that is not installed, to try them as values. What
    # Debian installed is not ours either: a thousand files, and other examples on each host.
    with suppress(ImportError, AttributeError):  # of its own making, which may change
        from hypothesis.internal.conjecture import providers

        is_local = providers.is_local_module_file

        def is_ours(path):
            return path.startswith(str(clone.ROOT)) and is_local(path)

        providers.is_local_module_file = is_ours
    # Deadlines are the machine's business; the same examples every time are easier to work with.
    for name, examples in (("few", 10), ("short", 25), ("long", 500)):
        settings.register_profile(name, deadline=None, derandomize=True, max_examples=examples)
    chosen = [name for name in ("long", "few") if config.getoption(f"--{name}")]
    settings.load_profile(chosen[0] if chosen else "short")


def pytest_collection_modifyitems(config, items):
    place = {name: number for number, name in enumerate(FIRST)}
    items.sort(key=lambda item: place.get(item.path.name, len(place)))
    if config.getoption("--long") or any("::" in argument for argument in config.args):
        return  # a test that is named is run
    few = config.getoption("--few")
    cases, kept, left_out = Counter(), [], []
    for item in items:
        one_in = item.get_closest_marker("one_in")
        test = item.nodeid.split("[")[0]
        taken = one_in is None or cases[test] % one_in.args[0] == 0
        if few and one_in is None:
            taken = cases[test] < 4 or cases[test] % 3 == 0
        cases[test] += 1
        if item.get_closest_marker("long") or (few and item.get_closest_marker("one_host")):
            taken = False
        (kept if taken else left_out).append(item)
    if left_out:
        config.hook.pytest_deselected(items=left_out)
        items[:] = kept


def _wait_for_tasks(seconds=10.0):
    """Wait until the host has no task, or that long."""
    from qgis.core import QgsApplication
    from qgis.PyQt.QtCore import QCoreApplication

    end = time.monotonic() + seconds
    while QgsApplication.taskManager().countActiveTasks() and time.monotonic() < end:
        QCoreApplication.processEvents()
        time.sleep(0.01)


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_teardown(item, nextitem):
    """Let go of what the last test was given: QGIS ends next, and crashes where layers outlive it.
    Wait until the host has counted features of layers shown: it crashes where the project is
    cleared meanwhile."""
    if "qgis_new_project" in item.fixturenames:
        _wait_for_tasks()
    if nextitem is None:
        item.funcargs.clear()


@pytest.fixture(autouse=True, scope="session")
def qgis_show_map():
    """Nothing in place of pytest-qgis's own, which makes a folder for each test: we show no map."""


def _layer_tree_of_window():
    """QGIS 3.44 loads results into the tree of the window, of which the stand-in has none."""
    from qgis.core import QgsLayerTreeModel, QgsProject
    from qgis.gui import QgsLayerTreeView
    from qgis.utils import iface

    view = QgsLayerTreeView()
    view.setModel(QgsLayerTreeModel(QgsProject.instance().layerTreeRoot(), view))

    def layer_tree():
        return view

    iface.layerTreeView = layer_tree
    return view


@pytest.fixture(scope="session")
def provider(qgis_processing):
    """The provider, registered as QGIS's command line does it."""
    from qgis.core import QgsApplication

    plugin = sys.modules["curbwright"].classFactory(None)
    plugin.initProcessing()
    assert plugin.provider is not None, "another plugin has taken the id"
    networkwatch.listen_to_host()
    view = _layer_tree_of_window()
    yield QgsApplication.processingRegistry().providerById("curbwright")
    plugin.unload()
    networkwatch.stop()
    view.deleteLater()
    # Errors that tests expect hold on to frames, and so to layers, in cycles: QGIS crashes when
    # these are collected after its end. Errors that pass through QGIS leave their tracebacks there.
    gc.collect()
    for one in gc.get_objects():
        frame = one.tb_frame if isinstance(one, TracebackType) else None
        while frame is not None:
            with suppress(RuntimeError):  # it is at work
                frame.clear()
            frame = frame.f_back
