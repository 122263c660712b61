"""One output of a run, from the making of its sink until it is in its place."""

from pathlib import Path

from qgis.core import QgsProcessingException

from ..host.figures import translate
from ..host.watching import in_background
from . import checks
from .sinks import discard
from .staging import Staged, StagedLayer, unwritten
from .targets import inner_layer, shape_of


class Opened:
    """An output that is being written.

    Parameters
    ----------
    label : str
        What people call it.
    target : str
        Where it goes, as text.
    path : Path or None
        The file alone that it becomes; it is then written beside its place.
    adds_rows : bool
        Rows are added to a layer that is there already.

    Attributes
    ----------
    writer : Writer or None
        That fills it.
    destination : str
        As the host calls it.
    staged : Staged or None
    """

    def __init__(self, label, target, path=None, adds_rows=False):
        self.label, self.target, self.adds_rows = label, target, adds_rows
        self.staged = None if adds_rows else _staged(label, target, path)
        self.writer, self.destination, self.in_memory, self.made = None, "", False, ""

    def failure(self, why):
        """The error of an output that could not be written."""
        if self.staged is not None or self.in_memory:
            return unwritten(self.label, self.target or self.destination, why)
        return QgsProcessingException(
            translate(
                "Opened",
                "“{}” could not be written to “{}”: {}. Make sure that the place can be reached and"
                " written to, or choose another one.",
            ).format(self.label, self.target or self.destination, why)
        )

    def check(self, feedback):
        """Close it, and see that all of it is there.

        Raises
        ------
        QgsProcessingException
            If it is not.
        CancelledError
        """
        if self.writer is None:
            return
        self.writer.close()
        if self.writer.unplaced:
            feedback.pushWarning(
                translate(
                    "Opened",
                    "“{}”: geometries with vertices that are no numbers: {}. Their rows are"
                    " written without geometry. Repair them in the source.",
                ).format(self.label, self.writer.unplaced)
            )
        if self.in_memory or self.adds_rows:
            return
        inner, rows = inner_layer(self.destination), self.writer.written
        if self.staged is not None:
            why = checks.missing_of_file(self.made or self.staged.path, "", rows, feedback)
        elif inner:
            why = checks.missing_of_file(*inner, rows, feedback)
        elif Path(self.destination).is_file():
            why = checks.missing_of_file(self.destination, "", rows, feedback)
        else:
            why = checks.missing_of_layer(self.destination, rows)
        if why:
            raise self.failure(why)

    @property
    def is_copied(self):
        """True where it is put into its place row by row."""
        return isinstance(self.staged, StagedLayer)

    def settle(self, feedback):
        """Have the system write all of it.

        Raises
        ------
        QgsProcessingException
            If that cannot be done.
        CancelledError
        """
        if self.staged is not None:
            in_background(self.staged.settle, feedback)

    def commit(self, feedback):
        """Put it into its place."""
        if self.staged is not None:
            self.staged.commit(feedback)

    def discard(self):
        """Take away what was begun; False where that cannot be done."""
        if self.writer is not None:
            self.writer.drop()
        if self.staged is not None:
            return self.staged.discard()
        return self.in_memory or (not self.adds_rows and discard(self.destination))


def _staged(label, target, path):
    """Where an output is written until it is whole; None for what is no file and no layer of a
    GeoPackage."""
    if path is not None:
        return Staged(label, path)
    inner = inner_layer(target)
    if inner and inner[0].suffix.lower() == ".gpkg":
        return StagedLayer(label, *inner, shape_of(target))
    return None
