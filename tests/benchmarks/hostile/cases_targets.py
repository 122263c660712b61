"""Targets that are the source, or that hold what Curbwright did not make."""

import os

from frame import case
from walkedlayers import layer_of, to_file, walk

TARGET = "target is the source"


def walked(box, name="day.gpkg", driver="GPKG", **options):
    """A file of epochs that must stay as it is."""
    path = box.folder / name
    to_file(layer_of(walk()), path, driver, **options)
    box.guard(*sorted(box.folder.iterdir()))
    return path


@case(TARGET, each=("OUTPUT", "GAPS", "REJECTED", "KEPT", "STATIONS"))
def epochs_overwritten_by(box, output):
    path = walked(box)
    outputs = {"OUTPUT": "memory:", output: str(path)}
    return box.refused(box.run("reconstructedges", INPUT=str(path), **outputs), "day.gpkg")


@case(TARGET, each=("symbolic", "hard", "relative", "dots"))
def epochs_overwritten_through_another_spelling(box, spelling):
    path = walked(box)
    other = box.folder / "other.gpkg"
    if spelling == "symbolic":
        other.symlink_to(path)
    elif spelling == "hard":
        os.link(path, other)
    elif spelling == "relative":
        other = os.path.relpath(path)
    else:
        other = box.folder / ".." / box.folder.name / path.name
    outcome = box.run("reconstructedges", INPUT=str(path), OUTPUT=str(other))
    return box.refused(outcome, "Edges", "Choose")
