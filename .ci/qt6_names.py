"""Find names of Qt and of the host that are not there with Qt 6, without a QGIS of that kind.

    .venv/bin/python .ci/qt6_names.py [FILE...]

The type checker reads the plugin against PyQt6's own stubs and those of QGIS, both from PyPI, in
which enums have their full names alone. What it says of attributes of their classes and modules
counts; types are not judged.
"""

import ast
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
STUBS = ROOT / ".venv" / "stubs"
PACKAGES = "PyQt6==6.11.*", "qgis-stubs==0.5.*"
READ = "__init__.py", "algorithms", "plugin", "sample_project"
QT = "QtCore", "QtGui", "QtWidgets", "QtPrintSupport", "QtSvg", "QtTest", "QtXml", "QtNetwork"
# the host has these in both modules, with either Qt (its pull requests 55658 and 57467)
MOVED = "QAction", "QActionGroup", "QShortcut"
# classes that the host has from Python or from sip, of which its stubs know nothing
ADDED = "QgsProcessingException", "QgsCsException", "QgsEditError", "QgsProviderConnectionException"
OPTIONS = (
    "--explicit-package-bases", "--namespace-packages", "--check-untyped-defs",
    "--ignore-missing-imports", "--no-error-summary", "--no-site-packages", "--no-incremental",
)  # fmt: skip


def fetch():
    """The stubs in a folder of their own: nothing may import them, Qt's libraries are not there."""
    wanted, mark = "\n".join(PACKAGES), STUBS / "packages"
    if mark.is_file() and mark.read_text() == wanted:
        return
    shutil.rmtree(STUBS, ignore_errors=True)
    command = [sys.executable, "-m", "pip", "--disable-pip-version-check", "--quiet", "install"]
    command += ["--no-deps", "--target", str(STUBS), *PACKAGES]
    subprocess.run(command, check=True)
    mark.write_text(wanted)


class FullNames(ast.NodeTransformer):
    """Take short names of enum values out of classes, and make aliases of enums what they are."""

    def __init__(self, compatible):
        self.compatible = compatible  # by enum: its values' names in former releases
        self.inside = []

    def visit_ClassDef(self, node):
        self.inside.append(node.name)
        self.generic_visit(node)
        for name in self.compatible.get(".".join(self.inside), ()):
            node.body += ast.parse(f"{name} = ...").body
        node.body = node.body or ast.parse("...").body
        self.inside.pop()
        return node

    def visit_AnnAssign(self, node):
        kind = ast.unparse(node.annotation)
        alias = re.fullmatch(r"typing\.Type\[(Qgis\.\w+)\]", kind)
        if alias:
            return ast.parse(f"{node.target.id} = {alias[1]}").body
        return None if kind.startswith(("Qgis.", "Qgs")) else node


def former_names(module, text):
    """Names that values of enums had, by the enum: QgsX.Flag.FlagY is Qgis.XFlag.Y now."""
    aliases = {
        f"{owner.name}.{node.target.id}": alias[1]
        for owner in ast.walk(module)
        if isinstance(owner, ast.ClassDef)
        for node in owner.body
        if isinstance(node, ast.AnnAssign)
        and (alias := re.fullmatch(r"typing\.Type\[(Qgis\.\w+)\]", ast.unparse(node.annotation)))
    }
    found = {}
    for owner, name in re.findall(r"^(\w+\.\w+)\.(\w+) = Qgis\.\w+\.\w+$", text, re.MULTILINE):
        found.setdefault(aliases.get(owner, owner), set()).add(name)
    return found


def lay_out(folder):
    """The stubs as the plugin imports them; the classes in them, see `Classes`."""
    classes = Classes()
    shutil.copytree(STUBS / "PyQt6", folder / "PyQt6", ignore=shutil.ignore_patterns("*.so", "Qt6"))
    host, binding = folder / "qgis", folder / "qgis" / "PyQt"
    binding.mkdir(parents=True)
    (host / "__init__.pyi").touch()
    (binding / "__init__.pyi").write_text("from PyQt6 import sip as sip\n")
    for name in QT:
        text = f"from PyQt6.{name} import *\n"
        if name == "QtWidgets":
            text += f"from PyQt6.QtGui import {', '.join(f'{one} as {one}' for one in MOVED)}\n"
        (binding / f"{name}.pyi").write_text(text)
        classes.take(ast.parse((folder / "PyQt6" / f"{name}.pyi").read_text(encoding="utf-8")))
    for name in ("core", "gui"):
        text = (STUBS / "qgis-stubs" / f"_{name}.pyi").read_text(encoding="utf-8")
        module = ast.parse(text.replace("PyQt5", "PyQt6"))
        patches = (STUBS / "qgis-stubs" / name / "__init__.py").read_text(encoding="utf-8")
        named = FullNames(former_names(module, patches)).visit(module)
        classes.take(named)
        (host / f"_{name}.pyi").write_text(ast.unparse(ast.fix_missing_locations(named)))
        extra = "".join(f"class {one}(Exception): ...\n" for one in ADDED if name == "core")
        extra += "NULL: object\n" if name == "core" else ""
        (host / f"{name}.pyi").write_text(f"from qgis._{name} import *\n{extra}")
    return classes


def name_of(statement):
    """What a statement of a class gives a name to, as text."""
    if hasattr(statement, "name"):
        return statement.name
    targets = getattr(statement, "targets", None) or [getattr(statement, "target", statement)]
    return ast.unparse(targets[0])


class Classes:
    """Classes of Qt and of the host: their names of values and functions, and what they are made
    of."""

    def __init__(self):
        self.members, self.above = {}, {}

    def take(self, module):
        for node in ast.walk(module):
            if not isinstance(node, ast.ClassDef):
                continue
            self.above.setdefault(node.name, set()).update(
                ast.unparse(base).split(".")[-1] for base in node.bases
            )
            self.members.setdefault(node.name, set()).update(name_of(one) for one in node.body)

    def below(self, name):
        """A class, and all that are made of it."""
        found, wanted = {name}, [name]
        while wanted:
            one = wanted.pop()
            more = {kind for kind, above in self.above.items() if one in above} - found
            found |= more
            wanted += more
        return found

    def lacks(self, sentence):
        """Whether a sentence of the checker is about a name that Qt or the host does not have: the
        host often gives more than the base class that it promises."""
        found = re.search(
            r'"(?:type\[)?([\w.]+)\]?"(?: of "[^"]*")? has no attr\w+ "(\w+)"', sentence
        )
        if found is None:
            return False
        owner, name = found[1], found[2]
        if owner.startswith(("qgis", "PyQt6")):
            return True
        kind = owner.split(".")[-1]
        return kind in self.members and not any(
            name in self.members.get(one, ()) for one in self.below(kind)
        )


def own_classes():
    """Names of the plugin's classes, which may be those of others as well."""
    files = [file for one in READ for file in (ROOT / one).rglob("*.py")]
    return {
        found
        for file in files
        for found in re.findall(r"^class (\w+)", file.read_text(encoding="utf-8"), re.MULTILINE)
    }


def check(paths, here=ROOT):
    """What is said of names in some files.

    Parameters
    ----------
    paths : sequence of str
        Files and folders.
    here : Path
        Where they lie.

    Returns
    -------
    list of str
    """
    with tempfile.TemporaryDirectory(prefix="curbwright-qt6") as name:
        folder = Path(name)
        classes = lay_out(folder)
        settings = folder / "mypy.ini"
        quiet = "".join(f"[mypy-{one}]\nignore_errors = True\n" for one in ("qgis.*", "PyQt6.*"))
        settings.write_text(f"[mypy]\nmypy_path = {folder}\n{quiet}")
        command = [sys.executable, "-m", "mypy", "--config-file", str(settings), *OPTIONS, *paths]
        done = subprocess.run(command, cwd=here, capture_output=True, text=True)
    if done.returncode not in (0, 1):
        raise SystemExit(done.stdout + done.stderr)
    for name in own_classes():
        classes.members.pop(name, None)
    return [line for line in done.stdout.splitlines() if classes.lacks(line)]


def main():
    """Check, print, and end with 1 where a name is not there."""
    fetch()
    found = check(sys.argv[1:] or READ)
    print("\n".join(found) or "Every name of Qt and of the host is there with Qt 6.")
    raise SystemExit(1 if found else 0)


if __name__ == "__main__":
    main()
