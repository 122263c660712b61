"""Keep the translations of the plugin: ``.venv/bin/python .ci/translations.py``

Collects every text marked for translation in `plugin/`, `algorithms/` and `shared/`, and the labels
of the legends in `plugin/styles/`, into
plugin/i18n/curbwright_LANGUAGE.ts (Qt Linguist's format), keeps what is translated, leaves out what
is gone, and compiles the files by Qt's `lrelease` (Debian: qttools5-dev-tools) where that is
installed. With ``--check`` it only tells what is missing or stale.

Contexts are those that the code asks for: the one that `tr` of a module, own or imported, of a
class or of `QT_TRANSLATE_NOOP` names; else “Algorithm”, the base of all, whose `tr` looks there
last.
"""

import ast
import shutil
import string
import subprocess
import sys
import xml.etree.ElementTree as ElementTree
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "plugin" / "i18n"
LANGUAGES = ("de",)
FALLBACK, LEGEND = "Algorithm", "Legend"
SPEAKING = {"tr", "marked"}  # functions whose argument is a text
LRELEASE = ("lrelease", "/usr/lib/qt5/bin/lrelease", "/usr/lib/qt6/bin/lrelease")


def own_context(body):
    """Context that a function `tr` among some statements names; None without one."""
    named = {
        target.id: _literal(node.value)
        for node in body
        if isinstance(node, ast.Assign)
        for target in node.targets
        if isinstance(target, ast.Name)
    }
    for node in body:
        if isinstance(node, ast.FunctionDef) and node.name == "tr":
            for call in ast.walk(node):
                if _called(call) == "translate":
                    first = call.args[0]
                    return _literal(first) or named.get(getattr(first, "id", ""))
    return None


def _called(node):
    """Name of the function that a node calls; empty where it calls none."""
    if not isinstance(node, ast.Call):
        return ""
    return getattr(node.func, "attr", getattr(node.func, "id", ""))


def _literal(node):
    return node.value if isinstance(node, ast.Constant) and isinstance(node.value, str) else None


def imported_context(path, tree):
    """Context of the function `tr`, or of `marked` beside it, that a module imports; None without
    one."""
    for node in tree.body:
        if isinstance(node, ast.ImportFrom) and {one.name for one in node.names} & SPEAKING:
            beside = path.parents[node.level - 1].joinpath(*node.module.split("."))
            text = beside.with_suffix(".py").read_text(encoding="utf-8")
            return own_context(ast.parse(text).body)
    return None


def texts_of(path):
    """Yield context and text of everything that is marked in a module."""
    tree = ast.parse(path.read_text(encoding="utf-8"))
    context = own_context(tree.body) or imported_context(path, tree)
    yield from _texts(tree, context or FALLBACK)


def _texts(node, context):
    """Likewise below a node whose `tr` has a context."""
    if isinstance(node, ast.ClassDef):
        context = own_context(node.body) or context
    name = _called(node)
    if name in SPEAKING and node.args and _literal(node.args[0]) is not None:
        yield context, node.args[0].value
    if name in ("translate", "QT_TRANSLATE_NOOP") and len(node.args) > 1:
        named, text = map(_literal, node.args[:2])
        if named is not None and text is not None:
            yield named, text
    for child in ast.iter_child_nodes(node):
        yield from _texts(child, context)


def labels_of(folder):
    """Labels of the symbols in all styles, which `algorithms/writing/legend.py` translates."""
    return {
        element.get("label")
        for path in folder.glob("*.qml")
        for element in ElementTree.parse(path).getroot().find("renderer-v2").iter()
        if element.tag in ("category", "range", "rule") and element.get("label")
    }


def collect():
    """All texts of the plugin.

    Returns
    -------
    dict of str to list of str
        By context, sorted, each once.
    """
    found = {}
    for folder in ("algorithms", "plugin", "shared"):
        for path in sorted((ROOT / folder).rglob("*.py")):
            for context, text in texts_of(path):
                found.setdefault(context, set()).add(text)
    found[LEGEND] = labels_of(ROOT / "plugin" / "styles")
    return {context: sorted(found[context]) for context in sorted(found)}


def read(path):
    """Translations of a file by context and text; empty where there is no file."""
    if not path.is_file():
        return {}
    root = ElementTree.parse(path).getroot()
    return {
        (context.findtext("name"), message.findtext("source")): message.findtext("translation")
        or ""
        for context in root.iter("context")
        for message in context.iter("message")
    }


def write(path, language, texts, translated):
    """Write a file of translations; what has none is marked as unfinished."""
    root = ElementTree.Element("TS", version="2.1", language=language, sourcelanguage="en")
    for context, sources in texts.items():
        element = ElementTree.SubElement(root, "context")
        ElementTree.SubElement(element, "name").text = context
        for source in sources:
            message = ElementTree.SubElement(element, "message")
            ElementTree.SubElement(message, "source").text = source
            translation = ElementTree.SubElement(message, "translation")
            translation.text = translated.get((context, source)) or None
            if not translation.text:
                translation.set("type", "unfinished")
    ElementTree.indent(root, " ")
    body = ElementTree.tostring(root, encoding="unicode")
    path.write_text(
        f'<?xml version="1.0" encoding="utf-8"?>\n<!DOCTYPE TS>\n{body}\n', encoding="utf-8"
    )


def places(text):
    """Placeholders of a text, sorted; a text that is no format has none."""
    try:
        return sorted(f"{name}:{form}" for _, name, form, _ in string.Formatter().parse(text)
                      if name is not None)  # fmt: skip
    except ValueError:
        return []


def faults(texts, translated):
    """What is wrong with the translations of one language, in words."""
    said = []
    for context, sources in texts.items():
        for source in sources:
            translation = translated.get((context, source), "")
            if not translation:
                said.append(f"untranslated ({context}): {source}")
            elif places(translation) != places(source):
                said.append(f"other placeholders ({context}): {source}")
            elif (source != source.strip()) != (translation != translation.strip()):
                said.append(f"other blanks at the ends ({context}): {source}")
    known = {(context, source) for context, sources in texts.items() for source in sources}
    said += [f"gone ({context}): {source}" for context, source in translated if
             (context, source) not in known]  # fmt: skip
    return said


def compile_file(path):
    """Compile a file where Qt's tool is at hand; True where it was."""
    program = next(filter(None, map(shutil.which, LRELEASE)), None)
    if program is None:
        return False
    subprocess.run([program, "-silent", str(path), "-qm", str(path.with_suffix(".qm"))], check=True)
    return True


def main():
    """Write or check all languages; 1 where something is wrong in a check."""
    texts, wrong = collect(), 0
    for language in LANGUAGES:
        path = FOLDER / f"curbwright_{language}.ts"
        translated = read(path)
        said = faults(texts, translated)
        if "--check" in sys.argv:
            print("\n".join(said))
            wrong += len(said)
            continue
        FOLDER.mkdir(exist_ok=True)
        write(path, language, texts, translated)
        compiled = compile_file(path)
        print(f"{path.name}: {len(said)} to look at; {'' if compiled else 'not '}compiled.")
    return int(bool(wrong))


if __name__ == "__main__":
    sys.exit(main())
