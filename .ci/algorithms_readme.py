"""Write algorithms/README.md from what the algorithms say of themselves: parameters with help,
outputs and fields. ``.venv/bin/python .ci/algorithms_readme.py`` writes it; with ``--check`` it
only tells whether the file is stale.
"""

import importlib.util
import os
import sys
from contextlib import contextmanager
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
TARGET = ROOT / "algorithms" / "README.md"
HEAD = """# Parameters, outputs and fields

Made by `.ci/algorithms_readme.py` from the help and the field tables of the algorithms: change
those, not this file.
How to use the algorithms stands in [GUIDE.md](GUIDE.md).

"""
GROUPS = ("epochstoedges", "linework", "comparison")  # in the order of the work
FIRST = ("reconstructedges", "readnmealog", "screenepochs")  # of their group, the others by name
TYPES = {
    "Int": "integer",
    "LongLong": "integer",
    "Double": "number",
    "QString": "text",
    "Bool": "yes or no",
    "QDateTime": "date and time",
}


def cell(text):
    """A text that can stand in a table."""
    return str(text).replace("|", "\\|").replace("\n", " ").strip() or "–"


def table(head, rows):
    """Lines of a table; nothing where it has no rows."""
    if not rows:
        return []
    line = "| {} |".format
    return [
        line(" | ".join(head)),
        line(" | ".join("---" for _ in head)),
        *(line(" | ".join(map(cell, row))) for row in rows),
        "",
    ]


def default_of(parameter):
    """The default in words."""
    from qgis.core import QgsProcessingParameterDefinition

    optional = parameter.flags() & QgsProcessingParameterDefinition.Flag.FlagOptional
    value = parameter.defaultValue()
    if parameter.type() == "enum":
        options = parameter.options()
        chosen = value if isinstance(value, (list, tuple)) else [value]
        return ", ".join(
            one if isinstance(one, str) else options[one] for one in chosen if one not in (None, "")
        )
    if parameter.type() == "boolean":
        return "yes" if value else "no"
    if value in (None, "", []):
        return "none" if optional else ""
    return f"{value:g}" if isinstance(value, float) else value


def parameter_row(parameter):
    """Name, label, help and default of one parameter."""
    options = parameter.options() if parameter.type() == "enum" else []
    words = " Values: {}.".format(
        "; ".join(f"{number} {text}" for number, text in enumerate(options))
    )
    return (
        f"`{parameter.name()}`",
        parameter.description(),
        parameter.help() + (words if options else ""),
        default_of(parameter),
    )


def outputs_of(algorithm):
    """What is written: each output, and the fields of its rows."""
    lines = []
    outputs = {one.name(): one for one in algorithm.parameterDefinitions() if one.isDestination()}
    for name, output in outputs.items():
        fields = algorithm.FIELD_TABLES.get(name)
        lines += [f"**`{name}`, {output.description()}.** {output.help()}", ""]
        if fields is not None:
            lines += fields_of(fields, name in algorithm.WITH_SOURCE_FIELDS)
    for name, fields in algorithm.FIELD_TABLES.items():
        if name not in outputs:
            lines += [f"**Layer `{name}`**", "", *fields_of(fields, False)]
    return lines


def fields_of(fields, with_source):
    """The table of a layer's fields."""
    head = ["Every field of the source"] if with_source else []
    if with_source:
        head = ["Every field of the source" + (", then:" if fields else "."), ""]
    return head + table(
        ("field", "type", "meaning", "unit"),
        [
            (f"`{one.name}`", TYPES[one.type_name], one.meaning, one.unit if one.unit else "–")
            for one in fields
        ],
    )


def section(algorithm):
    """All about one algorithm."""
    shown = [one for one in algorithm.parameterDefinitions() if not one.isDestination()]
    numbers = [
        (f"`{one.name()}`", one.description())
        for one in algorithm.outputDefinitions()
        if one.type() == "outputNumber"
    ]
    return [
        f"### {algorithm.displayName()}",
        "",
        f"`curbwright:{algorithm.name()}`",
        "",
        algorithm.shortHelpString(),
        "",
        *table(("parameter", "label", "meaning", "default"), map(parameter_row, shown)),
        *outputs_of(algorithm),
        *table(("number returned", "meaning"), numbers),
    ]


def order(algorithm):
    name = algorithm.name()
    return GROUPS.index(algorithm.groupId()), FIRST.index(name) if name in FIRST else 9, name


def text(algorithms):
    """The whole file.

    Parameters
    ----------
    algorithms : iterable of Algorithm
        Those of the provider, models left out.
    """
    algorithms = sorted(algorithms, key=order)
    lines, group = [], None
    lines += table(
        ("algorithm", "does"),
        [
            (
                f"[{one.displayName()}](#{one.displayName().lower().replace(' ', '-')})",
                one.shortDescription(),
            )
            for one in algorithms
        ],
    )
    for algorithm in algorithms:
        if algorithm.group() != group:
            group = algorithm.group()
            lines += [f"## {group}", ""]
        lines += section(algorithm)
    return HEAD + "\n".join(lines).rstrip() + "\n"


@contextmanager
def start_host():
    """The algorithms of the provider, ready to be asked, while the host runs."""
    os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
    sys.path[:0] = ["/usr/share/qgis/python/plugins", "/usr/share/qgis/python"]
    from qgis.core import QgsApplication

    application = QgsApplication([], False)
    application.initQgis()
    spec = importlib.util.spec_from_file_location(
        "curbwright", ROOT / "__init__.py", submodule_search_locations=[str(ROOT)]
    )
    sys.modules["curbwright"] = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(sys.modules["curbwright"])
    provider = importlib.import_module("curbwright.plugin.provider")
    made = []
    for kind in provider.ALGORITHMS:
        made.append(kind())
        made[-1].initAlgorithm()
    yield made
    made.clear()
    application.exitQgis()


def main():
    """Start the host, write or check the file; 1 where it was stale and not written."""
    with start_host() as algorithms:
        new = text(algorithms)
    stale = not TARGET.is_file() or TARGET.read_text(encoding="utf-8") != new
    if stale and "--check" not in sys.argv:
        TARGET.write_text(new, encoding="utf-8")
        stale = False
    return int(stale)


if __name__ == "__main__":
    sys.exit(main())
