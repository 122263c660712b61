"""Imports the clone as the package ``curbwright``, whatever its folder is called, and registers the
provider."""

import gc
import importlib.util
import os
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")

_spec = importlib.util.spec_from_file_location(
    "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
)
sys.modules["curbwright"] = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sys.modules["curbwright"])


@pytest.fixture(scope="session")
def provider(qgis_processing):
    """The provider, registered as QGIS's command line does it."""
    from qgis.core import QgsApplication

    plugin = sys.modules["curbwright"].classFactory(None)
    plugin.initProcessing()
    assert plugin.provider is not None, "another plugin has taken the id"
    yield QgsApplication.processingRegistry().providerById("curbwright")
    plugin.unload()
    # Errors that tests expect hold on to frames, and so to layers, in cycles: QGIS crashes when
    # these are collected after its end.
    gc.collect()
