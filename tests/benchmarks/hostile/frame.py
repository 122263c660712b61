"""Hostile cases: how they are written, run and judged.

A case is a function that takes a `Box`, runs algorithms in it on something hostile and judges what
came of that. The box judges by itself that files to be guarded are as they were, and that a run
which ended with an error left nothing that looks like a result. Modules called ``cases_*.py``
beside this one are found by their name.
"""

import hashlib
import importlib
import re
import traceback
from dataclasses import dataclass
from pathlib import Path

RIGHT, CLEAR = "right", "clear error"
UNCLEAR, SILENT, TRACEBACK = "unclear", "silent wrong", "traceback"
HANG, HALF, LOST = "hang", "half-written", "lost"
CLASSES = (RIGHT, CLEAR, UNCLEAR, SILENT, TRACEBACK, HANG, HALF, LOST)
GOOD = (RIGHT, CLEAR)
SKIPPED = "not tried here"
LIMIT = 60.0  # s that a case may take before it counts as hanging

CASES = {}  # by name
_FAILURE = re.compile(r"Traceback \(most recent|\b[A-Z][a-z]\w*(Error|Exception)\b: ?")


@dataclass(frozen=True)
class Case:
    """One hostile case.

    Attributes
    ----------
    name : str
        Of the function, with what it was given in brackets where it is one of several.
    group : str
        The class of faults it belongs to, a row of the table.
    function : callable
    arguments : tuple
    limit : float
        Seconds after which it counts as hanging.
    """

    name: str
    group: str
    function: object
    arguments: tuple = ()
    limit: float = LIMIT


def case(group, each=((),), limit=LIMIT):
    """Decorator: the function is a hostile case, or one for each tuple of further arguments."""

    def add(function):
        for arguments in each:
            arguments = arguments if isinstance(arguments, tuple) else (arguments,)
            said = ", ".join(getattr(one, "__name__", _printable(one)) for one in arguments)
            name = function.__name__ + (f"[{said}]" if said else "")
            if name in CASES:
                raise ValueError(f"two cases are called {name}")
            CASES[name] = Case(name, group, function, arguments, limit)
        return function

    return add


def _printable(value):
    """A value as short text in one line, for the name of a case."""
    text = str(value).encode("unicode_escape").decode()
    if len(text) <= 60:
        return text
    return f"{text[:40]}... {hashlib.sha256(text.encode()).hexdigest()[:6]}"


def load_cases():
    """All cases by name, in the order of modules and lines."""
    for path in sorted(Path(__file__).parent.glob("cases_*.py")):
        importlib.import_module(path.stem)
    return CASES


class VerdictError(Exception):
    """Ends a case: what class it is in, and why."""

    def __init__(self, kind, why=""):
        super().__init__(why)
        self.kind, self.why = kind, why


@dataclass
class Outcome:
    """What one run gave: `error` is None where it ended well."""

    results: dict
    error: str
    log: object

    @property
    def text(self):
        """All that was said."""
        return "\n".join([*self.log.infos, *self.log.warnings, *self.log.errors, self.error or ""])

    def __getitem__(self, name):
        return self.results[name]


class Box:
    """A folder of its own for one case, and what it takes to run and to judge.

    Parameters
    ----------
    folder : Path
        Empty.
    """

    def __init__(self, folder):
        self.folder, self.guarded, self.targets = Path(folder), {}, {}

    def guard(self, *paths):
        """From now on these files must stay as they are, else the case is “lost”."""
        for path in paths:
            self.guarded[str(path)] = _state(path)

    def target(self, *paths):
        """Files that a run which fails must not leave, or must leave as they were."""
        for path in paths:
            self.targets[str(path)] = _state(path)

    def run(self, algorithm, log=None, **parameters):
        """Run an algorithm of Curbwright.

        Returns
        -------
        Outcome
        """
        import walkedlayers
        from qgis.core import QgsProcessingException

        log = log or walkedlayers.Log()
        try:
            outcome = Outcome(walkedlayers.run(algorithm, parameters, log), None, log)
        except QgsProcessingException as error:
            outcome = Outcome({}, str(error), log)
        except Exception as error:
            raise VerdictError(TRACEBACK, f"{type(error).__name__}: {error}") from error
        said = _FAILURE.search("\n".join([*log.errors, *log.warnings, outcome.error or ""]))
        if said:
            raise VerdictError(
                TRACEBACK, (outcome.error or "")[-900:] or outcome.text[said.start() :][:300]
            )
        if outcome.error is not None:
            for path, before in self.targets.items():
                if _state(path) not in (before, None):
                    raise VerdictError(HALF, f"{Path(path).name} is left after: {outcome.error}")
        return outcome

    # Judging

    def refused(self, outcome, *patterns):
        """The run must have ended with an error in which each pattern is found."""
        if outcome.error is None:
            raise VerdictError(SILENT, f"was done: {outcome.results}"[:300])
        self._names(outcome.error, patterns)
        return CLEAR

    def warned(self, outcome, *patterns):
        """The run must have ended well with warnings in which each pattern is found."""
        self.done(outcome)
        if not outcome.log.warnings:
            raise VerdictError(SILENT, "no warning")
        self._names("\n".join(outcome.log.warnings), patterns)
        return RIGHT

    def done(self, outcome):
        """The run must have ended well."""
        if outcome.error is not None:
            raise VerdictError(UNCLEAR, f"refused: {outcome.error}")
        return RIGHT

    def right(self, fine, why):
        """What came out must be right."""
        if not fine:
            raise VerdictError(SILENT, why)
        return RIGHT

    def whole(self, fine, why):
        """What was written must be all there."""
        if not fine:
            raise VerdictError(HALF, why)
        return RIGHT

    @staticmethod
    def skip(why):
        """The case cannot be tried on this machine."""
        raise VerdictError(SKIPPED, why)

    @staticmethod
    def _names(text, patterns):
        missing = [pattern for pattern in patterns if not re.search(pattern, text, re.I | re.S)]
        if missing:
            raise VerdictError(UNCLEAR, f"{missing} not in: {text}")

    def harmed(self):
        """Names of guarded files that are not as they were."""
        return [path for path, before in self.guarded.items() if _state(path) != before]


def _state(path):
    """What a file or a folder holds; None where there is none."""
    path = Path(path)
    if path.is_dir():
        return {str(one.relative_to(path)): _state(one) for one in sorted(path.rglob("*"))
                if one.is_file()}  # fmt: skip
    return hashlib.sha256(path.read_bytes()).hexdigest() if path.is_file() else None


def judge(one, folder):
    """Run a case; its class and why. A case that is right may say with it what it measured."""
    box = Box(folder)
    try:
        said = one.function(box, *one.arguments) or RIGHT
        kind, why = said if isinstance(said, tuple) else (said, "")
    except VerdictError as verdict:
        kind, why = verdict.kind, verdict.why
    except Exception:
        kind, why = TRACEBACK, traceback.format_exc(limit=-4)
    harmed = box.harmed()
    return (LOST, f"not as before: {', '.join(harmed)}. {why}") if harmed else (kind, why)
