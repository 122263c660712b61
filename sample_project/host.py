"""Run Curbwright as users' scripts do: through QGIS's command line, with a profile of its own."""

import json
import os
import shutil
import subprocess
import sysconfig
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]


class HostError(RuntimeError):
    """The command line of QGIS failed; the text is what it said."""


class Host:
    """QGIS's command line with an empty profile, so that nothing of the user's is read or changed.

    Parameters
    ----------
    folder : path
        An existing folder for the profile, empty to begin with.
    plugin : path, optional
        A clone of Curbwright to use, whatever its folder is called. Without it the plugin is
        expected in the profile, at `plugins`.
    """

    def __init__(self, folder, plugin=None):
        self.folder = Path(folder).resolve()
        self.plugins = (
            self.folder / "QGIS" / "QGIS3" / "profiles" / "default" / "python" / "plugins"
        )
        # Debian 12's qgis_process script hands on an option of the desktop that the program
        # refuses.
        self.program = shutil.which("qgis_process.bin") or shutil.which("qgis_process")
        if self.program is None:
            raise HostError(
                "QGIS's command line, qgis_process, is not installed. On Debian: bash setup.sh"
            )
        self.environment = dict(
            os.environ, QT_QPA_PLATFORM="offscreen", XDG_DATA_HOME=str(self.folder)
        )
        self.environment.pop("QGIS_PLUGINPATH", None)
        self.environment.pop("QGIS_CUSTOM_CONFIG_PATH", None)
        # QGIS starts the system's Python: let it see the newer packages of the environment at work.
        self.environment["PYTHONPATH"] = sysconfig.get_paths()["purelib"]
        if plugin is not None:
            parent = self.folder / "plugins"
            parent.mkdir()
            (parent / "curbwright").symlink_to(Path(plugin).resolve(), target_is_directory=True)
            self.environment["QGIS_PLUGINPATH"] = str(parent)

    def call(self, *arguments):
        """What QGIS's command line writes to standard output, as text."""
        done = subprocess.run(
            [self.program, *arguments],
            env=self.environment,
            text=True,
            encoding="utf-8",
            capture_output=True,
            stdin=subprocess.DEVNULL,
        )
        if done.returncode != 0:
            raise HostError(f"{' '.join(arguments)}\n{done.stdout}\n{done.stderr}".strip())
        return done.stdout

    def enable(self):
        """Switch the plugin on in the profile; raises `HostError` where QGIS cannot load it."""
        self.call("plugins", "enable", "curbwright")
        plugins = json.loads(self.call("--json", "plugins"))["plugins"]
        if not plugins.get("curbwright", {}).get("loaded"):
            raise HostError("QGIS found Curbwright but did not load it.")

    def run(self, algorithm, **parameters):
        """Run an algorithm and return its results as a dict; lists are given value by value."""
        arguments = []
        for key, value in parameters.items():
            for single in value if isinstance(value, (list, tuple)) else [value]:
                arguments.append(f"{key}={single}")
        return json.loads(self.call("--json", "run", algorithm, "--", *arguments))["results"]
