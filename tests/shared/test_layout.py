"""The rules of the house, read from the syntax of every file: who may import whom, how long lines
and functions may be, what a docstring must say, and where tuned numbers stand."""

import ast
import re
from functools import cache
from pathlib import Path

import pytest

pytestmark = pytest.mark.one_host

ROOT = Path(__file__).resolve().parents[2]
TREES = ("algorithms", "plugin", "sample_project", "shared", "tests")
LINE, FUNCTION, PARAMETERS = 100, 60, 7  # characters, lines, number

# What a room of a tree may import besides itself. "" is the top level of a tree.
ROOMS = {
    "shared": {
        "arrays": set(),
        "parallel": {"arrays"},
        "epochs": {"arrays", "parallel"},
        "alignment": {"arrays", "parallel", "epochs"},
        "reconstruction": {"arrays", "parallel", "epochs", "alignment"},
        "partitions": {"arrays", "parallel", "epochs", "alignment", "reconstruction"},
        "lines": {"arrays"},
        "report": {"arrays", "lines", "parallel"},
        "review": {"arrays"},
    },
    "algorithms": {
        "host": set(),
        "reading": {"host"},
        "writing": {"host", "reading"},
        "base": {"host", "reading", "writing"},
        "batch": {"host", "reading", "writing"},
        "review": {"host", "reading", "writing", "batch"},
        "": {"host", "reading", "writing", "base", "batch", "review"},
    },
}
ABOVE = {"shared": {"shared"}, "algorithms": {"shared", "algorithms"}}
ANYWHERE = {
    "shared": {"language", "tuning"},
    "algorithms": set(),
}  # modules at the top that rooms may import

# In these rooms every number that steers a result stands in shared/tuning.py.
TUNED_ROOMS = ("arrays", "epochs", "alignment", "reconstruction")
SMALL = {-2, -1, 0, 1, 2, 3, 4, 0.5}  # counts, axes, halves: they follow from the formula
DEGREES = {180, 360}
TINY = 1e-6  # powers of ten up to this are guards against division by zero and rounding
SHAPES = {"zeros", "ones", "empty", "full", "reshape", "broadcast_to", "eye"}
SETTINGS = "shared/epochs/settings.py"  # defaults of what the user chooses stand there

# Test files mirror the tree: that of ``shared/epochs/table.py`` is ``tests/shared/epochs/
# test_table.py``. These modules are tested in one that is called otherwise: with what they are part
# of, or because its name is taken (there is no `__init__.py` among test files).
MIRRORED = ("shared", "algorithms/reading", "algorithms/writing")
TESTED_IN = {
    "shared/alignment/asked_elements": "shared/reconstruction/test_repaired_runs",
    "shared/epochs/spared": "shared/reconstruction/test_repaired_runs",
    "shared/epochs/spike_blocks": "shared/epochs/test_spikes",
    "shared/epochs/vocabulary": "shared/epochs/test_fix_values",
    "shared/language": "shared/report/test_language",
    "shared/lines/accuracy_words": "shared/lines/test_check_points",
    "shared/lines/comparison_results": "shared/lines/test_comparison",
    "shared/lines/join_assembly": "shared/lines/test_joins",
    "shared/lines/join_changes": "shared/lines/test_joins",
    "shared/lines/merge_records": "shared/lines/test_merge_results",
    "shared/lines/merge_tables": "shared/lines/test_merge_results",
    "shared/lines/parallel_vertices": "shared/lines/test_parallels",
    "shared/lines/shift_results": "shared/lines/test_shift",
    "shared/lines/shift_start": "shared/lines/test_shift",
    "shared/lines/update_layers": "shared/lines/test_update",
    "shared/partitions/__main__": "shared/partitions/test_partitions_command",
    "shared/partitions/columns": "shared/partitions/test_partition_columns",
    "shared/partitions/command": "shared/partitions/test_partitions_command",
    "shared/partitions/engine": "shared/partitions/test_partition_engine",
    "shared/partitions/frame": "shared/partitions/test_partition_frame",
    "shared/partitions/geoparquet": "shared/partitions/test_geoparquet_points",
    "shared/partitions/results": "shared/partitions/test_partition_results",
    "shared/partitions/runner": "shared/partitions/test_partitioned_run",
    "shared/partitions/work": "shared/partitions/test_partition_work",
    "shared/reconstruction/part_repairs": "shared/reconstruction/test_repaired_runs",
    "shared/reconstruction/refit": "shared/reconstruction/test_repaired_runs",
    "shared/reconstruction/repair_outcomes": "shared/reconstruction/test_repaired_runs",
    "shared/reconstruction/repairs": "shared/reconstruction/test_repaired_runs",
    "shared/reconstruction/shapes": "shared/reconstruction/test_repaired_runs",
    "shared/lines/two_opt": "shared/lines/test_revisits",
    "shared/report/changes": "shared/report/test_report",
    "shared/report/comparison": "shared/report/test_report",
    "shared/report/comparison_figures": "shared/report/test_report",
    "shared/report/comparison_lists": "shared/report/test_report",
    "shared/report/comparison_words": "shared/report/test_report",
    "shared/report/inputs": "shared/report/test_report",
    "shared/report/page_style": "shared/report/test_page",
    "shared/report/trend": "shared/report/test_captures",
    "shared/report/update_map": "shared/report/test_basemap",
    "algorithms/reading/checked_layer": "algorithms/test_checkaccuracy",
    "algorithms/reading/decisions": "algorithms/writing/test_update_rows",
    "algorithms/reading/epoch_layer": "algorithms/test_reconstructedges",
    "algorithms/reading/features": "algorithms/reading/test_broken_sources",
    "algorithms/reading/findings/changes": "algorithms/test_listrevisits",
    "algorithms/reading/findings/edges": "algorithms/test_listrevisits",
    "algorithms/reading/findings/epochs": "algorithms/test_listrevisits",
    "algorithms/reading/findings/existing": "algorithms/test_listrevisits",
    "algorithms/reading/findings/gaps": "algorithms/test_listrevisits",
    "algorithms/reading/findings/layers": "algorithms/test_listrevisits",
    "algorithms/reading/findings/passes": "algorithms/test_listrevisits",
    "algorithms/reading/layer_stream": "algorithms/reading/test_layer_rows",
    "algorithms/reading/pair_check": "algorithms/test_wrong_layer",
    "algorithms/reading/plausible_table": "algorithms/test_odd_values",
    "algorithms/reading/role_words": "algorithms/reading/test_roles",
    "algorithms/reading/stream_check": "algorithms/test_wrong_layer",
    "algorithms/reading/survey_area": "algorithms/test_survey_area",
    "algorithms/writing/basemap": "algorithms/writing/test_written_basemap",
    "algorithms/writing/common_values": "algorithms/test_passing_on",
    "algorithms/writing/comparison_tables": "algorithms/test_compareedges",
    "algorithms/writing/decisions": "algorithms/writing/test_update_rows",
    "algorithms/writing/edge_tables": "algorithms/test_reconstructedges",
    "algorithms/writing/former_basemap": "algorithms/test_updatebasemap",
    "algorithms/writing/joined_tables": "algorithms/test_joinedges",
    "algorithms/writing/legend": "plugin/test_translations",
    "algorithms/writing/merge_tables": "algorithms/test_mergepasses",
    "algorithms/writing/moved_lines": "algorithms/test_estimateshift",
    "algorithms/writing/opened": "algorithms/writing/test_checks",
    "algorithms/writing/page_boxes": "algorithms/writing/test_printing",
    "algorithms/writing/page_layout": "algorithms/writing/test_printing",
    "algorithms/writing/revisit_tables": "algorithms/test_listrevisits",
    "algorithms/writing/update_words": "algorithms/test_updatebasemap",
}


def python_files(*trees):
    """Python files of the clone below these folders, and where all are asked for, the others."""
    beside = [] if trees else [ROOT / "__init__.py", *sorted((ROOT / ".ci").glob("*.py"))]
    return beside + [
        path
        for tree in trees or TREES
        for path in sorted((ROOT / tree).rglob("*.py"))
        if not any(part.startswith(".") for part in path.relative_to(ROOT).parts)
    ]


@cache
def text_of(path):
    return path.read_text(encoding="utf-8")


@cache
def tree_of(path):
    return ast.parse(text_of(path))


def name_of(path):
    return path.relative_to(ROOT).as_posix()


def functions(tree):
    return [n for n in ast.walk(tree) if isinstance(n, (ast.FunctionDef, ast.AsyncFunctionDef))]


def own_nodes(function):
    """Nodes of a function without those of functions and classes inside it."""
    waiting = list(function.body)
    while waiting:
        node = waiting.pop()
        yield node
        if not isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.ClassDef, ast.Lambda)):
            waiting.extend(ast.iter_child_nodes(node))


# --- each rule: a list of what breaks it ---------------------------------------------------------


def long_lines(text):
    return [
        f"line {number}: {len(line)} characters"
        for number, line in enumerate(text.splitlines(), 1)
        if len(line) > LINE
    ]


def _parameters(function):
    given = function.args
    names = [a.arg for a in given.posonlyargs + given.args + given.kwonlyargs]
    names += [a.arg for a in (given.vararg, given.kwarg) if a is not None]
    return [name for name in names if name not in ("self", "cls")]


def _has_reason(lines, node, word):
    """Whether a comment directly above a statement and its decorators gives a reason."""
    decorators = getattr(node, "decorator_list", ())
    first = min([node.lineno, *(d.lineno for d in decorators)])
    for number in range(first - 2, -1, -1):
        text = lines[number].strip()
        if text.startswith(f"# {word}: ") and len(text) > len(word) + 8:
            return True
        if not text.startswith("# "):
            return False
    return False


def large_functions(text, tree=None):
    lines, found = text.splitlines(), []
    for function in functions(tree or ast.parse(text)):
        length = function.end_lineno - function.lineno + 1
        number = len(_parameters(function))
        if length > FUNCTION and not _has_reason(lines, function, "long"):
            found.append(f"{function.name}: {length} lines")
        if number > PARAMETERS and not _has_reason(lines, function, "parameters"):
            found.append(f"{function.name}: {number} parameters")
    return found


def named_lambdas(tree):
    values = [
        node
        for node in ast.walk(tree)
        if isinstance(node, (ast.Assign, ast.AnnAssign, ast.NamedExpr))
        and isinstance(node.value, ast.Lambda)
    ]
    return [f"line {node.lineno}: a lambda with a name" for node in values]


def missing_sections(tree):
    """Sections that docstrings of public functions at module level lack, and public methods of
    public classes without a docstring."""
    found = [
        f"{owner.name}.{part.name}: no docstring"
        for owner in tree.body
        if isinstance(owner, ast.ClassDef) and not owner.name.startswith("_")
        for part in owner.body
        if isinstance(part, ast.FunctionDef)
        and not part.name.startswith("_")
        and not ast.get_docstring(part)
    ]
    for function in tree.body:
        if not isinstance(function, ast.FunctionDef) or function.name.startswith("_"):
            continue
        text = ast.get_docstring(function) or ""
        has = {
            above.strip()
            for above, line in zip(text.splitlines(), text.splitlines()[1:])
            if line.strip() and set(line.strip()) == {"-"}
        }
        nodes = list(own_nodes(function))
        if not text:
            found.append(f"{function.name}: no docstring")
        if _parameters(function) and "Parameters" not in has:
            found.append(f"{function.name}: no Parameters")
        yields = any(isinstance(n, (ast.Yield, ast.YieldFrom)) and n.value for n in nodes)
        returns = any(
            isinstance(node, ast.Return)
            and node.value is not None
            and not (isinstance(node.value, ast.Constant) and node.value.value is None)
            for node in nodes
        )
        if yields and "Yields" not in has:
            found.append(f"{function.name}: no Yields")
        if returns and not yields and "Returns" not in has:
            found.append(f"{function.name}: no Returns")
        if any(isinstance(n, ast.Raise) and n.exc is not None for n in nodes) and (
            "Raises" not in has
        ):
            found.append(f"{function.name}: no Raises")
    return found


def unsaid(tree):
    """Public functions at module level without a docstring; `tr` says itself what it does."""
    return [
        f"{node.name}: no docstring"
        for node in tree.body
        if isinstance(node, ast.FunctionDef)
        and not node.name.startswith("_")
        and node.name != "tr"
        and not ast.get_docstring(node)
    ]


def _numbers(tree):
    """Numbers as written, with their sign: pairs of node and value."""
    signed = {}
    for node in ast.walk(tree):
        if (
            isinstance(node, ast.UnaryOp)
            and isinstance(node.op, ast.USub)
            and isinstance(node.operand, ast.Constant)
        ):
            signed[id(node.operand)] = -1
    for node in ast.walk(tree):
        if isinstance(node, ast.Constant) and type(node.value) in (int, float):
            yield node, signed.get(id(node), 1) * node.value


def _is_constant(name):
    return isinstance(name, ast.Name) and name.id.strip("_").isupper()


def _plain_integers(node):
    """Integers that are an index, or one of several, as they stand."""
    if isinstance(node, ast.Constant):
        return {id(node)} if type(node.value) is int else set()
    if isinstance(node, (ast.Tuple, ast.List, ast.Slice, ast.UnaryOp)):
        return set().union(*map(_plain_integers, ast.iter_child_nodes(node)))
    return set()


def _structural(tree):
    """Ids of numbers that are places and sizes of arrays, exponents and shifts of bits."""
    found = set()
    for node in ast.walk(tree):
        if isinstance(node, ast.Subscript):
            found |= _plain_integers(node.slice)
        elif isinstance(node, ast.BinOp) and isinstance(node.op, (ast.Pow, ast.LShift, ast.RShift)):
            found |= _plain_integers(node.right)
        elif isinstance(node, ast.Call):
            called = node.func.attr if isinstance(node.func, ast.Attribute) else ""
            given = node.args if called in SHAPES else []
            given = given + [word.value for word in node.keywords if word.arg in ("axis", "shape")]
            found |= set().union(*map(_plain_integers, given))
    return found


def _exact_lines(tree, lines):
    """Numbers of the lines that say themselves that their numbers are exact, or are part of a
    statement below a comment that does."""
    found = {number for number, line in enumerate(lines, 1) if "  # exact: " in line}
    for node in ast.walk(tree):
        if isinstance(node, ast.stmt) and _has_reason(lines, node, "exact"):
            found |= set(range(node.lineno, node.end_lineno + 1))
    return found


def _is_guard(value):
    return 0 < abs(value) <= TINY and f"{abs(value):e}".startswith("1.000000e")


def bare_numbers(text, settings=False):
    """Numbers that steer a result, in formulas or under a name of their own at module level.

    Not counted: small whole numbers and halves, guards, places in arrays, full turns; small whole
    numbers with a name are cases of an enumeration; and whatever a comment calls exact, beside it
    or directly above the statement or function: ``# exact: minutes in a degree``. With `settings`
    defaults in class bodies are fine too.
    """
    tree, lines, found = ast.parse(text), text.splitlines(), []
    exact, structural = _exact_lines(tree, lines), _structural(tree)
    if settings:
        structural |= {
            id(inner)
            for node in ast.walk(tree)
            if isinstance(node, ast.ClassDef)
            for part in node.body
            if isinstance(part, ast.AnnAssign)
            for inner in ast.walk(part)
        }
    for node, value in _numbers(tree):
        small = value in SMALL or value in DEGREES or _is_guard(value)
        if not small and id(node) not in structural and node.lineno not in exact:
            found.append(f"line {node.lineno}: {value}")
    for node in tree.body:
        targets = node.targets if isinstance(node, ast.Assign) else [getattr(node, "target", None)]
        if isinstance(node, (ast.Assign, ast.AnnAssign)) and any(
            _is_constant(name) for target in targets for name in ast.walk(target)
        ):
            decimals = [n for n, value in _numbers(node) if isinstance(value, float)]
            found += [
                f"line {n.lineno}: a name outside tuning.py"
                for n in decimals
                if n.lineno not in exact
            ]
    return found


def copies_of_tuned_numbers(tree, stages):
    """Stages read while a module is imported: at its top level, in a class body, as a default."""
    found = []

    def visit(node, runs):
        if isinstance(node, (ast.FunctionDef, ast.AsyncFunctionDef, ast.Lambda)):
            for part in (*node.args.defaults, *node.args.kw_defaults):
                if part is not None:
                    visit(part, True)
            for part in getattr(node, "decorator_list", ()):
                visit(part, True)
            body = node.body if isinstance(node.body, list) else [node.body]
            for part in body:
                visit(part, False)
            return
        if (
            runs
            and isinstance(node, ast.Attribute)
            and isinstance(node.value, ast.Name)
            and node.value.id in stages
        ):
            found.append(f"line {node.lineno}: {node.value.id}.{node.attr} is read at import")
        for child in ast.iter_child_nodes(node):
            visit(child, runs)

    visit(tree, True)
    return found


# --- imports -------------------------------------------------------------------------------------


def module_of(path):
    """Dotted name of a module within the clone; a package is called by its folder."""
    parts = path.relative_to(ROOT).with_suffix("").parts
    return ".".join(parts[:-1] if parts[-1] == "__init__" else parts)


def imported(path, modules, tree=None):
    """Modules of the clone that a file imports, wherever in the file."""
    package = list(path.relative_to(ROOT).parent.parts)
    found = set()
    for node in ast.walk(tree or tree_of(path)):
        if isinstance(node, ast.Import):
            names = [a.name.split(".") for a in node.names if a.name.startswith("curbwright.")]
            found |= {".".join(name[1:]) for name in names}
        elif isinstance(node, ast.ImportFrom):
            if node.level:
                base = package[: len(package) - node.level + 1]
                base += node.module.split(".") if node.module else []
            elif (node.module or "").split(".")[0] == "curbwright":
                base = node.module.split(".")[1:]
            else:
                continue
            for alias in node.names:
                inner = ".".join([*base, alias.name])
                found.add(inner if inner in modules else ".".join(base))
    return {name for name in found if name in modules}


def room_of(module):
    """Tree and room of a module; the room is "" at the top level of its tree."""
    tree, *rest = module.split(".")
    return tree, rest[0] if len(rest) > 1 or (rest and rest[0] in ROOMS.get(tree, {})) else ""


def import_breaches(module, imports):
    """Imports that go upward or sideways."""
    tree, room = room_of(module)
    found = []
    for other in sorted(imports):
        there, beside = room_of(other)
        inside = there == tree and tree in ROOMS and beside != room
        everybody = beside == "" and other.split(".")[-1] in ANYWHERE.get(tree, ())
        upward = there not in ABOVE.get(tree, {there})
        if upward or (inside and not everybody and beside not in ROOMS[tree].get(room, ())):
            found.append(other)
    return found


def circles(graph):
    """Groups of modules that import each other, directly or by way of others (Tarjan)."""
    index, low, stack, found = {}, {}, [], []

    def visit(node):
        index[node] = low[node] = len(index)
        stack.append(node)
        for other in sorted(graph[node]):
            if other not in index:
                visit(other)
                low[node] = min(low[node], low[other])
            elif other in stack:
                low[node] = min(low[node], index[other])
        if low[node] == index[node]:
            group = stack[stack.index(node) :]
            del stack[stack.index(node) :]
            if len(group) > 1 or node in graph[node]:
                found.append(sorted(group))

    for node in sorted(graph):
        if node not in index:
            visit(node)
    return found


# --- the rules hold ------------------------------------------------------------------------------


def assert_kept(rule, found):
    """`found`: breaches of a rule by file."""
    assert {name: breaches for name, breaches in found.items() if breaches} == {}, rule


def by_file(paths, rule):
    return {name_of(path): rule(path) for path in paths}


def test_lines_are_short():
    assert_kept("long lines", by_file(python_files(), lambda path: long_lines(text_of(path))))


def test_functions_fit_on_a_screen():
    paths = python_files("shared", "algorithms", "plugin")
    assert_kept(
        "large functions",
        by_file(paths, lambda path: large_functions(text_of(path), tree_of(path))),
    )


def test_no_lambda_has_a_name():
    # as the formatter writes it; that of an argument has no space before it
    assigned = re.compile(r"=\s+\(*\s*lambda")
    paths = [path for path in python_files() if assigned.search(text_of(path))]
    assert_kept("named lambdas", by_file(paths, lambda path: named_lambdas(tree_of(path))))


def test_public_functions_of_the_core_are_documented():
    assert_kept(
        "docstrings",
        by_file(python_files("shared"), lambda path: missing_sections(tree_of(path))),
    )


def test_public_functions_of_the_plugin_say_what_they_do():
    assert_kept(
        "docstrings",
        by_file(python_files("algorithms", "plugin"), lambda path: unsaid(tree_of(path))),
    )


def test_tuned_numbers_stand_in_one_module():
    paths = [path for room in TUNED_ROOMS for path in python_files(f"shared/{room}")]
    assert len(paths) > 30
    assert_kept(
        "bare numbers",
        by_file(paths, lambda path: bare_numbers(text_of(path), name_of(path) == SETTINGS)),
    )


def test_nobody_keeps_a_copy_of_a_tuned_number():
    from curbwright.shared.tuning import stages

    assert_kept(
        "copies",
        by_file(
            [path for path in python_files("shared", "algorithms") if path.stem != "tuning"],
            lambda path: copies_of_tuned_numbers(tree_of(path), set(stages())),
        ),
    )


@pytest.fixture(scope="module")
def graph():
    paths = {module_of(path): path for path in python_files("shared", "algorithms", "plugin")}
    return {module: imported(path, paths) for module, path in paths.items()}


def test_imports_go_downward_only(graph):
    found = {module: import_breaches(module, imports) for module, imports in graph.items()}
    assert sum(len(imports) for imports in graph.values()) > 200
    assert_kept("imports", found)


def test_no_import_goes_in_circles(graph):
    assert_kept("circles", {group[0]: group for group in circles(graph)})


def test_every_room_has_its_folder():
    for tree, rooms in ROOMS.items():
        folders = {path.parent.name for path in (ROOT / tree).glob("*/__init__.py")}
        assert folders == set(rooms) - {""}
    assert {path.stem for path in (ROOT / "shared").glob("*.py")} == {
        "__init__",
        "language",
        "tuning",
    }


def test_every_module_has_its_test_file():
    modules = {
        name_of(path)[: -len(".py")]: path
        for path in python_files(*MIRRORED)
        if path.stem != "__init__"
    }
    assert len(modules) > 150 and set(TESTED_IN) <= set(modules)
    assert {
        name: test
        for name, path in modules.items()
        for test in [TESTED_IN.get(name) or f"{Path(name).parent}/test_{path.stem}"]
        if not (ROOT / "tests" / f"{test}.py").exists()
    } == {}


def test_test_files_have_names_of_their_own():
    """There is no `__init__.py` among them, so that two of one name cannot be loaded."""
    names = [path.name for path in python_files("tests") if path.name != "conftest.py"]
    assert sorted(names) == sorted(set(names))


# --- the rules find what they are for ------------------------------------------------------------


def test_a_long_line_is_found():
    assert long_lines("x" * 100 + "\n" + "y" * 101) == ["line 2: 101 characters"]


def body(lines):
    return "".join(f"    x{number} = {number}\n" for number in range(lines))


@pytest.mark.parametrize(
    ("code", "found"),
    [
        ("def f():\n" + body(59), []),
        ("def f():\n" + body(60), ["f: 61 lines"]),
        ("# long: one table of cases\ndef f():\n" + body(60), []),
        ("# long: one table\n# parameters: one each\n@once\ndef f():\n" + body(60), []),
        ("# long: \ndef f():\n" + body(60), ["f: 61 lines"]),
        ("# long: elsewhere\n\ndef f():\n" + body(60), ["f: 61 lines"]),
        ("class A:\n def f(self, a, b, c, d, e, f, g): pass", []),
        ("def f(a, b, c, d, e, *, f, g, h): pass", ["f: 8 parameters"]),
        ("# parameters: columns of a file\ndef f(a, b, c, d, e, *, f, g, h): pass", []),
        ("# long: no\ndef f(a, b, c, d, e, *, f, g, h): pass", ["f: 8 parameters"]),
    ],
)
def test_large_functions_are_found(code, found):
    assert large_functions(code) == found


@pytest.mark.parametrize("code", ["f = lambda: 0", "f: int = lambda: 0", "(f := lambda: 0)"])
def test_lambdas_with_a_name_are_found(code):
    assert named_lambdas(ast.parse(code)) and not named_lambdas(ast.parse("f(key=lambda: 0)"))


DOCUMENTED = '''
def f(a):
    """Do it.

    Parameters
    ----------
    a : int

    Returns
    -------
    int

    Raises
    ------
    ValueError
        If it cannot be done.
    """
    if a:
        raise ValueError(a)
    return a
'''


def test_missing_sections_are_found():
    assert missing_sections(ast.parse(DOCUMENTED)) == []
    for section in ("Parameters", "Returns", "Raises"):
        without = DOCUMENTED.replace(f"    {section}\n    {'-' * len(section)}\n", "")
        assert missing_sections(ast.parse(without)) == [f"f: no {section}"]
    assert missing_sections(ast.parse(DOCUMENTED.replace("return", "yield"))) == ["f: no Yields"]
    assert missing_sections(ast.parse("def f(): pass")) == ["f: no docstring"]
    assert missing_sections(ast.parse("def _f(a): return a")) == []
    methods = 'class A:\n    def f(self): pass\n    def _g(self): pass\n    def h(self): "H."'
    assert missing_sections(ast.parse(methods)) == ["A.f: no docstring"]
    inner = 'def f():\n    """Do it."""\n    def g():\n        return 1\n    g()'
    assert missing_sections(ast.parse(inner)) == []


def test_functions_that_say_nothing_are_found():
    code = 'def f():\n    pass\ndef g():\n    "G."\ndef _h():\n    pass\ndef tr(text):\n    pass'
    assert unsaid(ast.parse(code)) == ["f: no docstring"]


@pytest.mark.parametrize(
    ("code", "number"),
    [
        ("x = a[-1] * 0.5 + 2 * b", 0),
        ("x = a / (b + 1e-12)", 0),
        ("x = 6.0 * sigma", 1),
        ("x = -5", 1),
        ("x = 360  # exact: degrees in a turn", 0),
        ("x = f'{a:.3f} {b:10d}'", 0),
        ("SPIKE = 3.0", 1),
        ("SPIKE = 30.0", 2),
        ("SPIKE: float = 0.5", 1),
        ("TAU = 2.0 * pi  # exact: definition", 0),
        ("FIXED, FLOAT = 4, 3", 0),
        ("NAMES = ('a', 'b')", 0),
        ("x = 60 * a", 1),
        ("x = a[5, 7:9] + a**6 + (a << 16)", 0),
        ("x = a[n + 5]", 1),
        ("x = np.zeros((n, 6)) + a.sum(axis=6)", 0),
        ("x = np.clip(a, 5, 6)", 2),
        ("x = 1e-300 + 1e-15", 0),
        ("x = 2e-9", 1),
        ("x = 0.001", 1),
        ("# exact: the 0.999 quantile of chi square\nTABLE = [\n 10.83,\n 13.82]\ny = 7", 1),
        ("# exact: ASCII\n@once\ndef f():\n return 48 + 57", 0),
        ("# exact: \nx = 48", 1),
        ("class A:\n    limit: float = 7.5", 1),
    ],
)
def test_bare_numbers_are_found(code, number):
    assert len(bare_numbers(code)) == number


def test_settings_have_defaults():
    code = "class A:\n    limit: float = 7.5\n    def f(self):\n        return 5 * self.limit"
    assert bare_numbers(code, settings=True) == ["line 4: 5"]


@pytest.mark.parametrize(
    ("code", "number"),
    [
        ("A = STAGE.a", 1),
        ("def f(a=STAGE.a): pass", 1),
        ("def f(*, a=STAGE.a): pass", 1),
        ("class A:\n a = STAGE.a", 1),
        ("@f(STAGE.a)\ndef f(): pass", 1),
        ("def f(): return STAGE.a", 0),
        ("class A:\n def f(self): return STAGE.a", 0),
        ("f = g(lambda: STAGE.a)", 0),
        ("A = OTHER.a", 0),
    ],
)
def test_copies_are_found(code, number):
    assert len(copies_of_tuned_numbers(ast.parse(code), {"STAGE"})) == number


def test_imports_are_resolved():
    modules = {"shared.arrays.ragged", "shared.arrays", "shared.epochs.table", "shared.tuning"}
    path = ROOT / "shared" / "epochs" / "some.py"
    for code, found in [
        ("from ..arrays.ragged import f", {"shared.arrays.ragged"}),
        ("from ..arrays import ragged, other", {"shared.arrays.ragged", "shared.arrays"}),
        ("from .table import T", {"shared.epochs.table"}),
        ("def f():\n    from ..tuning import A", {"shared.tuning"}),
        ("from curbwright.shared.arrays.ragged import f", {"shared.arrays.ragged"}),
        ("import curbwright.shared.arrays.ragged", {"shared.arrays.ragged"}),
        ("import numpy\nfrom numpy import linalg", set()),
    ]:
        assert imported(path, modules, ast.parse(code)) == found, code


@pytest.mark.parametrize(
    ("module", "other", "fine"),
    [
        ("shared.epochs.table", "shared.arrays.ragged", True),
        ("shared.epochs.table", "shared.epochs.times", True),
        ("shared.epochs.table", "shared.tuning", True),
        ("shared.arrays.ragged", "shared.epochs.table", False),
        ("shared.lines.joins", "shared.epochs.table", False),
        ("shared.report.page", "shared.lines.joins", True),
        ("shared.tuning", "shared.arrays.ragged", False),
        ("shared.lines.joins", "algorithms.host.fields", False),
        ("algorithms.host.fields", "shared.arrays.ragged", True),
        ("algorithms.reading.columns", "algorithms.writing.sinks", False),
        ("algorithms.base.algorithm", "algorithms.batch.gathering", False),
        ("algorithms.reading.columns", "algorithms.joinedges", False),
        ("algorithms.joinedges", "algorithms.reading.columns", True),
        ("algorithms.joinedges", "algorithms.offsetedges", True),
        ("algorithms.joinedges", "plugin.provider", False),
        ("plugin.provider", "algorithms.joinedges", True),
    ],
)
def test_imports_that_go_upward_are_found(module, other, fine):
    assert import_breaches(module, {other}) == ([] if fine else [other])


def test_circles_are_found():
    assert circles({"a": {"b"}, "b": {"c"}, "c": set()}) == []
    assert circles({"a": {"b"}, "b": {"c"}, "c": {"b"}, "d": {"d"}}) == [["b", "c"], ["d"]]
