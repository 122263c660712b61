"""Says which Python packages are missing or too old, and how to get them."""

import importlib
import importlib.metadata
import importlib.util

from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from . import remedies
from .figures import translate

# import name: (least version, what it is needed for)
PACKAGES = {
    "numpy": ((1, 20), QT_TRANSLATE_NOOP("Dependencies", "arrays")),
    "scipy": ((1, 6), QT_TRANSLATE_NOOP("Dependencies", "fitting edges")),
    "shapely": ((2, 0), QT_TRANSLATE_NOOP("Dependencies", "geometry in bulk")),
}

# what only the least version and later ones have: some packages of Linux do not know their version
SIGNS = {"shapely": "from_ragged_array"}


def tr(text):
    return translate("Dependencies", text)


def _numbers(version):
    """The first numbers of a version; none where it says that it is unknown."""
    numbers = []
    for part in str(version).split(".")[:3] if "unknown" not in str(version) else ():
        digits = "".join(character for character in part if character.isdigit())
        if not digits:
            break
        numbers.append(int(digits))
    return tuple(numbers)


def remedy(name):
    """What to do to get a package on this system, in a sentence or two."""
    return remedies.remedy(name, _text(PACKAGES[name][0]), remedies.this_system())


def _text(version):
    return ".".join(str(number) for number in version)


def check(name):
    """Import one package.

    Returns
    -------
    version : str or None
        None where the package cannot be used.
    problem : str
        A sentence on what is wrong and how to put it right; empty where all is well.
    """
    least = PACKAGES[name][0]
    try:
        module = importlib.import_module(name)
    except ImportError as error:  # also a library that a present package cannot load
        said = (str(error).strip().splitlines() or [type(error).__name__])[0]
        return None, tr("The Python package “{}” ({}) cannot be loaded: {}. {}").format(
            name, tr(PACKAGES[name][1]), said.rstrip("."), remedy(name)
        )
    version = str(getattr(module, "__version__", ""))
    numbers, sign = _numbers(version), SIGNS.get(name)
    if not (numbers >= least or (not numbers and sign and hasattr(module, sign))):
        return None, tr(
            "The Python package “{}” is version {}; Curbwright needs {} or newer. {}"
        ).format(name, version or tr("unknown"), _text(least), remedy(name))
    return version, ""


def missing(names):
    """Those packages of `names` that are not installed, or too old: told without loading them,
    since that takes time that nobody has when QGIS starts."""
    return [name for name in names if not _installed(name)]


def _installed(name):
    try:
        if importlib.util.find_spec(name) is None:
            return False
        version = _numbers(importlib.metadata.version(name))
    except importlib.metadata.PackageNotFoundError:
        return True  # nothing tells its version before it is loaded
    except (ImportError, ValueError):
        return False
    return not version or version >= PACKAGES[name][0]


def problems(names):
    """The sentences of all packages of `names` that cannot be used."""
    return [problem for problem in (check(name)[1] for name in names) if problem]


def report(names):
    """A line for each package of `names`: its version, or what is wrong with it.

    Returns
    -------
    complete : bool
    lines : list of str
    """
    checked = [(name, *check(name)) for name in names]
    lines = [
        problem or tr("{} {}: present").format(name, version) for name, version, problem in checked
    ]
    return not any(problem for _, _, problem in checked), lines
