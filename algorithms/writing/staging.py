"""Files that are written beside their place and moved there when they are complete.

What was there before stays until then, and a run that fails, is cancelled or killed leaves nothing
that looks like a result.
"""

import contextlib
import os
import shutil
import tempfile
from pathlib import Path

from qgis.core import QgsProcessingException
from qgis.PyQt.QtCore import QCoreApplication

from .targets import CONTAINERS, FAMILIES, JOURNALS

PREFIX = ".curbwright-"  # of the hidden folders
FULL = 1 << 16  # bytes; a disk with less is taken for full


def tr(text):
    return QCoreApplication.translate("Staging", text)


class NotWrittenError(QgsProcessingException):
    """Something could not be written; what was there before is as it was."""


def disk_is_full(folder):
    """True where there is no room on the disk of a folder."""
    try:
        return shutil.disk_usage(os.path.realpath(folder)).free < FULL
    except OSError:
        return False


def cause(why, folder):
    """Why something could not be written: what was said, and that the disk is full where it is."""
    why = str(why).strip().rstrip(".") or tr("no cause was given")
    if disk_is_full(folder) and "full" not in why and "space" not in why:
        why += "; " + tr("the disk is full")
    return why


def unwritten(label, path, why):
    """The error of an output that could not be written.

    Parameters
    ----------
    label : str
        What people call the output.
    path : path
    why : str
        The cause, as the system or the driver words it.
    """
    return NotWrittenError(
        tr(
            "“{}” could not be written to “{}”: {}. Make sure that there is room and that the place"
            " can be written to, or choose another one. What was there before is as it was."
        ).format(label, path, cause(why, Path(path).parent))
    )


class Staged:
    """A file, with those that go with it, in a hidden folder beside its place.

    Parameters
    ----------
    label : str
        What people call the output, for messages.
    final : path
        Where the file will be; a link is followed, so that it stays.

    Attributes
    ----------
    path : Path
        Where to write it.

    Raises
    ------
    QgsProcessingException
        If nothing can be written there.
    """

    def __init__(self, label, final):
        self.label, self.final = label, Path(final)
        self.place = Path(os.path.realpath(final))
        try:
            self.folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=self.place.parent))
        except OSError as error:
            raise unwritten(label, final, error.strerror or error) from error
        self.path = self.folder / self.place.name

    def settle(self):
        """Have the system write all of it, which is where some of them say that it cannot.

        Raises
        ------
        QgsProcessingException
        """
        try:
            for path in self.folder.iterdir():
                with path.open("rb") as file:
                    os.fsync(file.fileno())
        except OSError as error:
            raise unwritten(self.label, self.final, error.strerror or error) from error

    def commit(self):
        """Move it to its place.

        Raises
        ------
        QgsProcessingException
            If something there cannot be replaced.
        """
        made = sorted(self.folder.iterdir(), key=lambda path: path.name == self.place.name)
        try:
            for path in made:
                target = self.place.with_name(path.name)
                if target.is_file():
                    shutil.copymode(target, path)
                os.replace(path, target)
            self._clear({path.name for path in made})
        except OSError as error:
            raise QgsProcessingException(
                tr(
                    "“{}” cannot take the place of “{}”: {}. If that is open in QGIS or in another"
                    " program, close it there and run again."
                ).format(self.label, self.final, error.strerror or error)
            ) from error
        self.discard()

    def _clear(self, made):
        """Take away what went with a former file of that name and would be taken for the new
        one's: journals, and indexes of a Shapefile."""
        suffix = self.place.suffix.lower()
        names = [self.place.name + end for end in JOURNALS] if suffix in CONTAINERS else []
        if suffix == ".shp":
            names += [self.place.with_suffix(end).name for end in FAMILIES[0]]
        for name in names:
            if name not in made:
                with contextlib.suppress(FileNotFoundError):
                    self.place.with_name(name).unlink()

    def discard(self):
        """Take away what has not been moved; True where nothing is left."""
        shutil.rmtree(self.folder, ignore_errors=True)
        return not self.folder.exists()
