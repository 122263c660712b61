"""Imports the clone as the package ``curbwright``, whatever its folder is called; nothing else,
since processes that tests start begin with it."""

import importlib.util
import sys
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]

_spec = importlib.util.spec_from_file_location(
    "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
)
sys.modules["curbwright"] = importlib.util.module_from_spec(_spec)
_spec.loader.exec_module(sys.modules["curbwright"])
