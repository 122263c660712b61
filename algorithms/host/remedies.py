"""How to get a Python package on the system that QGIS runs on.

Names of packages and programs are those of the systems' own documentation, from memory; tried on
Debian 12 and 13 alone.
"""

import os
import sys
import sysconfig
from dataclasses import dataclass
from pathlib import Path

from .figures import translate

DEBIAN, UBUNTU = "debian", "ubuntu"
# first release of each whose shapely is 2.0
SHAPELY_2_SINCE = {DEBIAN: (13,), UBUNTU: (23, 10)}
OF_DISTRIBUTION = {  # by ID of os-release: the command, and how a package of Python is called there
    "fedora": "sudo dnf install python3-{}",
    "arch": "sudo pacman -S python-{}",
}
# of shapely, beside a numpy that is older than 2: a newer shapely would bring numpy 2, which the
# system's scipy cannot bear
BESIDE_OLD_NUMPY = "shapely==2.0.*"


def tr(text):
    return translate("Dependencies", text)


@dataclass(frozen=True)
class System:
    """What a remedy depends on.

    Attributes
    ----------
    platform : str
        As `sys.platform`.
    python : str
        Path of a Python program that has the packages of QGIS; empty where it is not known.
    distribution : str
        ID of os-release, that of Debian for all that is made like it.
    release : tuple of int
        Of `distribution`; empty where it is not known, or another one is made like it.
    system_python : bool
        QGIS uses the Python that the system's own packages belong to.
    managed : bool
        That Python is externally managed: pip refuses without being told to (PEP 668).
    with_pip : bool
        pip is there.
    flatpak : str
        Id of the application; empty where QGIS runs without Flatpak.
    conda : bool
        The Python is one of an environment of conda.
    """

    platform: str
    python: str = ""
    distribution: str = ""
    release: tuple = ()
    system_python: bool = False
    managed: bool = False
    with_pip: bool = True
    flatpak: str = ""
    conda: bool = False


def this_system():
    """The `System` at hand."""
    from importlib.util import find_spec

    stated = _os_release(Path("/etc/os-release"))
    name, likes = stated.get("ID", ""), stated.get("ID_LIKE", "").split()
    known = name in (DEBIAN, UBUNTU, *OF_DISTRIBUTION)
    like = [one for one in likes if one in (UBUNTU, DEBIAN, *OF_DISTRIBUTION)]
    library = sysconfig.get_path("stdlib") or ""
    return System(
        platform=sys.platform,
        python=_python(sys.platform, Path(sys.prefix), Path(sys.executable or "")),
        distribution=name if known else DEBIAN if UBUNTU in like else (like or [""])[0],
        release=_release(stated.get("VERSION_ID", "")) if known else (),
        system_python=sys.prefix == "/usr",
        managed=Path(library, "EXTERNALLY-MANAGED").exists(),
        with_pip=find_spec("pip") is not None,
        flatpak=os.environ.get("FLATPAK_ID", ""),
        conda=Path(sys.prefix, "conda-meta").is_dir(),
    )


def _os_release(path):
    try:
        lines = path.read_text("utf-8", "replace").splitlines()
    except OSError:
        return {}
    pairs = (line.split("=", 1) for line in lines if "=" in line)
    return {key.strip(): value.strip().strip("\"'") for key, value in pairs}


def _release(text):
    parts = text.split(".")
    return tuple(int(part) for part in parts) if all(part.isdigit() for part in parts) else ()


def _python(platform, prefix, executable):
    """The program of the Python inside QGIS, whose own executable may be QGIS itself."""
    if platform == "win32":
        return ""  # the shell that comes with QGIS finds it
    places = (prefix / "bin" / "python3", executable.parent / "bin" / "python3", executable)
    for place in places:
        if place.name.startswith("python") and place.exists():
            return str(place)
    return ""


def remedy(name, least, system):
    """What to do to get a package, in a sentence or two.

    Parameters
    ----------
    name : str
        Of the package, for import and pip.
    least : str
        Oldest version that will do.
    system : System

    Returns
    -------
    str
    """
    wanted = f"{name}>={least}"
    if system.flatpak:
        said = tr(
            "QGIS runs in a Flatpak, which has a Python of its own and sees nothing that the system"
            " has installed. In a terminal: “flatpak run --command=python3 {} -m pip install --user"
            " '{}'”."
        ).format(system.flatpak, wanted)
    elif system.conda:
        said = tr(
            "In a terminal where the environment of QGIS is active:"
            " “conda install -c conda-forge '{}'”."
        ).format(wanted)
    elif system.platform == "win32":
        said = tr(
            "Open the OSGeo4W Shell, which stands beside QGIS in the start menu, and run “python -m"
            ' pip install --user "{}"”.'
        ).format(wanted)
    elif system.platform == "darwin":
        said = tr("In a terminal: “{} -m pip install --user '{}'”.").format(
            f'"{system.python}"' if system.python else tr("QGIS.app/Contents/MacOS/bin/python3"),
            wanted,
        )
    elif system.system_python:
        said = _of_distribution(name, wanted, system)
    else:
        said = _by_pip(wanted, system)
    return said + " " + tr("Then start QGIS again.")


def _of_distribution(name, wanted, system):
    """For the Python of the system: its own package, where that is new enough."""
    if system.distribution in OF_DISTRIBUTION:
        return _in_terminal(OF_DISTRIBUTION[system.distribution].format(name))
    if system.distribution not in (DEBIAN, UBUNTU):
        return tr(
            "Install “{}” for Python 3 with the package manager of your distribution; where it has"
            " none, or an older one: “{}”."
        ).format(name, _pip(wanted, system))
    package = _in_terminal(f"sudo apt install python3-{name}")
    since = SHAPELY_2_SINCE[system.distribution]
    if name != "shapely" or system.release >= since:
        return package
    other = _by_pip(BESIDE_OLD_NUMPY, system)
    if system.release:
        return tr("The package of this release is too old.") + " " + other
    return package + " " + tr("If that one is older than 2.0:") + " " + other


def _in_terminal(command):
    return tr("In a terminal: “{}”.").format(command)


def _by_pip(wanted, system):
    said = _in_terminal(_pip(wanted, system))
    if system.with_pip:
        return said
    if system.distribution in (DEBIAN, UBUNTU) and system.system_python:
        return _in_terminal("sudo apt install python3-pip") + " " + said
    return said + " " + tr("It needs pip, which is missing here.")


def _pip(wanted, system):
    """The command; it installs for one person and leaves the packages of the system alone."""
    leave = " --break-system-packages" if system.managed else ""
    return f"{system.python or 'python3'} -m pip install --user{leave} '{wanted}'"
