"""What is advised, by the facts of a system."""

import subprocess
import sys
from pathlib import Path

import pytest

from curbwright.algorithms.host.remedies import (
    System,
    _os_release,
    _python,
    _release,
    remedy,
    this_system,
)

DEBIAN_13 = {"distribution": "debian", "release": (13,), "system_python": True, "managed": True}
DEBIAN_12 = {**DEBIAN_13, "release": (12,), "python": "/usr/bin/python3"}
JAMMY = {"distribution": "ubuntu", "release": (22, 4), "system_python": True}
NOBLE = {**JAMMY, "release": (24, 4), "managed": True}
LIKE_DEBIAN = {**DEBIAN_13, "release": ()}
BUNDLE = "/Applications/QGIS.app/Contents/MacOS/bin/python3"
APT, PIP = "sudo apt install python3-shapely", "pip install --user"
FLAG = "--break-system-packages"


@pytest.mark.parametrize(
    ("name", "system", "said", "unsaid"),
    [
        ("shapely", System("linux", **DEBIAN_13), [APT], [PIP]),
        ("shapely", System("linux", **NOBLE), [APT], [PIP]),
        ("scipy", System("linux", **DEBIAN_12), ["apt install python3-scipy"], [PIP]),
        # pip refuses there without the flag, and numpy must stay as it is
        ("shapely", System("linux", **DEBIAN_12), [f"{PIP} {FLAG} 'shapely==2.0.*'"], [APT]),
        # pip does not know the flag there yet
        ("shapely", System("linux", **JAMMY), [f"{PIP} 'shapely==2.0.*'"], [APT, FLAG]),
        ("shapely", System("linux", **DEBIAN_12, with_pip=False), ["apt install python3-pip"], []),
        ("shapely", System("linux", **LIKE_DEBIAN), [APT, "If that one is older", FLAG], []),
        ("shapely", System("linux", "", "fedora", (40,), True), ["dnf install"], [PIP, "apt"]),
        ("shapely", System("linux", "", "arch", (), True), ["pacman -S python-shapely"], ["apt"]),
        ("scipy", System("linux", "", "", (), True), ["package manager", PIP], ["apt"]),
        ("scipy", System("linux", "/opt/q/python3"), ["/opt/q/python3 -m pip"], ["apt", FLAG]),
        (
            "shapely",
            System("linux", **DEBIAN_12, flatpak="org.example.Map"),
            ["Flatpak", "--command=python3 org.example.Map -m pip"],
            ["apt", FLAG],
        ),
        ("scipy", System("win32"), ["OSGeo4W Shell", '"scipy>=2.0"'], ["apt", "python3", "'"]),
        ("scipy", System("win32", conda=True), ["conda install"], ["OSGeo4W"]),
        ("scipy", System("darwin", BUNDLE), [f'"{BUNDLE}" -m {PIP}'], ["apt", "OSGeo4W"]),
        ("scipy", System("darwin"), ["QGIS.app/Contents/MacOS/bin/python3 -m pip"], ["apt"]),
    ],
)
def test_the_remedy_fits_the_system(name, system, said, unsaid):
    text = remedy(name, "2.0", system)
    assert all(part in text for part in said) and not any(part in text for part in unsaid), text
    assert text.endswith("Then start QGIS again.")


def test_the_system_at_hand():
    system = this_system()
    assert system.platform == sys.platform and not system.flatpak
    if system.python:  # what is advised can be run
        done = subprocess.run([system.python, "-c", "print(1)"], capture_output=True, text=True)
        assert done.stdout == "1\n"


def test_what_the_system_says_of_itself(tmp_path):
    path = tmp_path / "os-release"
    path.write_text("# made up\nID=ferry\nID_LIKE=\"ubuntu debian\"\nVERSION_ID='4.2'\n")
    found = _os_release(path)
    assert found == {"ID": "ferry", "ID_LIKE": "ubuntu debian", "VERSION_ID": "4.2"}
    assert _release("4.2") == (4, 2) and _release("rolling") == _release("") == ()
    assert _os_release(tmp_path / "none") == {}


def test_the_python_of_a_bundle(tmp_path):
    """The program that runs is QGIS itself there."""
    host = tmp_path / "QGIS.app" / "Contents" / "MacOS"
    inner = host / "bin" / "python3"
    inner.parent.mkdir(parents=True)
    inner.touch()
    (host / "QGIS").touch()
    assert _python("darwin", tmp_path, host / "QGIS") == str(inner)
    assert _python("darwin", tmp_path, Path("")) == ""
    assert _python("win32", tmp_path, host / "QGIS") == ""
