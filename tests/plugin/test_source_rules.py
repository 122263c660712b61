"""Rules that an import test does not see: they are read from the syntax of every file."""

import ast
import enum
import re
from functools import cache
from pathlib import Path

import pytest
from qgis import core, gui
from qgis.PyQt import QtCore, QtGui, QtWidgets

ROOT = Path(__file__).resolve().parents[2]
FOLDERS = ("algorithms", "plugin", "shared")
FILES = [
    ROOT / "__init__.py",
    *(path for folder in FOLDERS for path in sorted((ROOT / folder).rglob("*.py"))),
]
ENUM_HELPER = "algorithms/host/fields.py"  # the one place that may name QVariant's types


@cache
def class_called(name):
    """The class of QGIS or Qt with that name, None where there is none."""
    for module in (core, gui, QtCore, QtGui, QtWidgets):
        if isinstance(getattr(module, name, None), type):
            return getattr(module, name)
    return None


def short_enum(node):
    """True for ``Class.Value``, which Qt 6 refuses, where ``Class.Enum.Value`` is meant."""
    if not (isinstance(node, ast.Attribute) and isinstance(node.value, ast.Name)):
        return False
    owner = class_called(node.value.id)
    if owner is None:
        return False
    value = getattr(owner, node.attr, None)
    return isinstance(value, (int, enum.Enum)) and not isinstance(value, bool)


# of events with Qt 5 alone; types of parameters are not known to `.ci/qt6_names.py`
GONE = {
    "delta", "globalPos", "globalX", "globalY", "localPos", "posF", "screenPos", "windowPos", "x",
    "y",
}  # fmt: skip


def gone_from_events(function):
    """What a handler asks of its event that Qt 6 does not have, unless it looks whether it is
    there."""
    if not function.name.endswith("Event") or len(function.args.args) < 2:
        return
    event = function.args.args[1].arg
    careful = {
        inner
        for node in ast.walk(function)
        if isinstance(node, ast.IfExp) and "hasattr" in ast.dump(node.test)
        for inner in ast.walk(node)
    }
    for node in ast.walk(function):
        if (
            isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Name)
            and (node.value.id, node.attr) in {(event, name) for name in GONE}
            and node not in careful
        ):
            yield node


# write times, numbers of rows and sizes of a page, which no language has a say in, and the reasons
# of `superseded`, which are data
PLAIN_NUMBERS = {
    "algorithms/reading/repair_rows.py",
    "algorithms/writing/page_layout.py",
    "algorithms/batch/carry_plan.py",
}
DECIMALS = re.compile(r"[.\d]*[efg%]")


def without_marks(tree, name):
    """Numbers with decimals in f-strings of what is said, which have a point in every language
    unless `printed` is given them, and texts of the host's that know nothing of numbers."""
    if not name.startswith(("algorithms/", "plugin/")) or name in PLAIN_NUMBERS:
        return
    careful = {
        inner
        for node in ast.walk(tree)
        if isinstance(node, ast.Call) and getattr(node.func, "id", "") == "printed"
        for inner in ast.walk(node)
    }
    for node in ast.walk(tree):
        if isinstance(node, ast.FormattedValue) and node.format_spec and node not in careful:
            spec = "".join(
                one.value for one in node.format_spec.values if isinstance(one, ast.Constant)
            )
            if DECIMALS.search(spec):
                yield node
        if (
            isinstance(node, ast.Call)
            and ast.unparse(node.func) == "QCoreApplication.translate"
            and name != "algorithms/host/figures.py"
        ):
            yield node


def breaches(tree, name):
    found = [(one.lineno, "number without marks") for one in without_marks(tree, name)]
    for node in ast.walk(tree):
        if isinstance(node, ast.FunctionDef):
            found += [(one.lineno, f"event.{one.attr}") for one in gone_from_events(node)]
        line = getattr(node, "lineno", 0)
        if short_enum(node):
            found.append((line, f"short enum {node.value.id}.{node.attr}"))
        if isinstance(node, ast.Attribute) and node.attr == "exec_":
            found.append((line, "exec_"))
        if isinstance(node, ast.ImportFrom) and (node.module or "").split(".")[0] in (
            "PyQt5",
            "PyQt6",
            "PySide2",
            "PySide6",
        ):
            found.append((line, f"from {node.module}"))
        if isinstance(node, ast.Import) and any(
            alias.name.split(".")[0] in ("PyQt5", "PyQt6") for alias in node.names
        ):
            found.append((line, "import of a binding"))
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Name)
            and node.func.id == "print"
        ):
            found.append((line, "print"))
        if isinstance(node, ast.Name) and node.id == "QVariant" and name != ENUM_HELPER:
            found.append((line, "QVariant outside the helper"))
        if isinstance(node, ast.ExceptHandler) and node.type is None:
            found.append((line, "bare except"))
        if (
            isinstance(node, ast.Call)
            and isinstance(node.func, ast.Attribute)
            and node.func.attr == "tr"
            and node.args
            and isinstance(node.args[0], ast.JoinedStr)
        ):
            found.append((line, "f-string that cannot be translated"))
        if (
            isinstance(node, ast.Assign)
            and any(isinstance(one, ast.Name) and one.id == "NUMBERS" for one in node.targets)
            and any(isinstance(pair.elts[1], ast.Constant) for pair in node.value.elts)
        ):
            found.append((line, "label that is not marked for translation"))
    return found


@cache
def tree_of(path):
    return ast.parse(path.read_text(encoding="utf-8"), feature_version=(3, 9))


def name_of(path):
    return path.relative_to(ROOT).as_posix()


def imported(nodes):
    """Names of the packages that statements among these nodes import from elsewhere."""
    found = set()
    for node in nodes:
        if isinstance(node, ast.Import):
            found |= {alias.name.split(".")[0] for alias in node.names}
        elif isinstance(node, ast.ImportFrom) and not node.level:
            found.add(node.module.split(".")[0])
    return found


def kept(found):
    """`found`: breaches by file; those that have any."""
    return {name: breaches for name, breaches in found.items() if breaches}


def test_rules():
    assert kept({name_of(path): breaches(tree_of(path), name_of(path)) for path in FILES}) == {}


@pytest.mark.parametrize(
    ("code", "breach"),
    [
        ("f'{x:.2f} m'", True),
        ("f'{x:.{n}f} m'", True),
        ("printed(f'{x:.2f} m')", False),
        ("f'{x:03d}'", False),
        ("QCoreApplication.translate('Any', 'Edges')", True),
    ],
)
def test_numbers_without_marks_are_found(code, breach):
    assert bool(list(without_marks(ast.parse(code), "plugin/some.py"))) == breach


def test_core_knows_no_qgis():
    core = [path for path in FILES if name_of(path).startswith("shared/")]
    assert len(core) > 80
    hosts = {"qgis", "osgeo", "processing", "PyQt5", "PyQt6"}
    assert kept({name_of(path): imported(ast.walk(tree_of(path))) & hosts for path in core}) == {}


def test_nothing_that_may_be_missing_is_imported_at_load():
    missing = {"scipy", "shapely", "matplotlib", "pyarrow"}
    plugin = [path for path in FILES if name_of(path).startswith(("algorithms/", "plugin/"))]
    assert len(plugin) > 80
    assert kept({name_of(path): imported(tree_of(path).body) & missing for path in plugin}) == {}


@pytest.mark.parametrize("code", ["import qgis.core", "from qgis.core import x", "import a, qgis"])
def test_imports_are_found(code):
    assert "qgis" in imported(ast.parse(code).body)
    assert imported(ast.parse("from . import qgis\nfrom .qgis import x").body) == set()


@pytest.mark.parametrize(
    ("code", "breach"),
    [
        ("x = Qt.UserRole", "short enum Qt.UserRole"),
        ("x = QgsProcessing.TypeVectorPoint", "short enum QgsProcessing.TypeVectorPoint"),
        ("dialog.exec_()", "exec_"),
        ("from PyQt5.QtCore import Qt", "from PyQt5.QtCore"),
        ("x = QVariant.Double", "short enum QVariant.Double"),
        ("import PyQt6", "import of a binding"),
        ("print(1)", "print"),
        ("def wheelEvent(self, e):\n    e.delta()", "event.delta"),
        ("def mouseMoveEvent(self, e):\n    e.globalPos()", "event.globalPos"),
        ("try:\n    f()\nexcept:\n    pass", "bare except"),
        ("self.tr(f'{x}')", "f-string that cannot be translated"),
        ("NUMBERS = (('RMSE', 'RMSE (m)'),)", "label that is not marked for translation"),
    ],
)
def test_the_walk_finds_breaches(code, breach):
    assert breach in [text for _, text in breaches(ast.parse(code), "some.py")]


@pytest.mark.parametrize(
    "code",
    [
        "x = Qt.ItemDataRole.UserRole",
        "QgsWkbTypes.displayString(1)",
        "QgsProcessing.SourceType.TypeVectorPoint",
        "dialog.exec()",
        "kind = QgsProcessing.SourceType",
        "QMetaType.Type",
        "Qgis.versionInt()",
        "def wheelEvent(self, e):\n    e.posF() if hasattr(e, 'posF') else e.position()",
        "def mouseMoveEvent(self, e):\n    e.position().x()",
    ],
)
def test_the_walk_leaves_good_code_alone(code):
    assert breaches(ast.parse(code), "some.py") == []
