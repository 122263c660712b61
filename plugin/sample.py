"""A copy of the sample project, for whoever tries the plugin: what is worked on is never the one in
the plugin's own folder."""

import shutil
from pathlib import Path

SOURCE = Path(__file__).resolve().parents[1] / "sample_project"
FILES = ("tern_ness.qgz", "data/tern_ness.gpkg", "data/tern_ness_walk.nmea")
FOLDER = "tern_ness"
CAPTURES = "|layername=captures_plumb"  # that the first result is made of


def copy_to(parent):
    """Copy the sample project into a new folder.

    Parameters
    ----------
    parent : path
        An existing folder; the copy gets a folder of its own in it.

    Returns
    -------
    Path
        Of the copied project file.

    Raises
    ------
    OSError
        If a file cannot be read or written.
    """
    target, number = Path(parent) / FOLDER, 1
    while target.exists():  # nothing that is there is written over
        number += 1
        target = Path(parent) / f"{FOLDER}_{number}"
    for name in FILES:
        (target / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copyfile(SOURCE / name, target / name)
    return target / FILES[0]


def captures(project):
    """The layer that the dialogues are to offer first; None where the project has it no more."""
    layers = project.mapLayers().values()
    return next((layer for layer in layers if layer.source().endswith(CAPTURES)), None)
