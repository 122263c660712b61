"""Files that are written beside their place and moved there when they are complete.

What was there before stays until then, and a run that fails, is cancelled or killed leaves nothing
that looks like a result. A layer of a GeoPackage that is there is written into a file of its own,
and taken over in one transaction.
"""

import contextlib
import os
import re
import shutil
import tempfile
from pathlib import Path

from osgeo import gdal, ogr
from qgis.core import QgsProcessingException
from qgis.PyQt.QtCore import QLockFile

from ..host.feedback import ROWS_PER_LOOK, raise_if_cancelled
from ..host.figures import translate
from ..host.watching import listening, open_file
from .targets import CONTAINERS, FAMILIES, JOURNALS

PREFIX = ".curbwright-"  # of the hidden folders
OWN = re.compile(re.escape(PREFIX) + r"[a-z0-9_]{8}")  # as tempfile names them
LOCK = ".in-use"  # a file in each of them, held while the run lives
FULL = 1 << 16  # bytes; a disk with less is taken for full


def tr(text):
    return translate("Staging", text)


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
        clear_abandoned(self.place.parent)
        try:
            self.folder = Path(tempfile.mkdtemp(prefix=PREFIX, dir=self.place.parent))
        except OSError as error:
            raise unwritten(label, final, error.strerror or error) from error
        self.lock = lock_of(self.folder)
        self.lock.tryLock(0)
        self.path = self.folder / self.place.name

    def called(self, name):
        """Take another name, as the host or a driver gives the file one.

        Parameters
        ----------
        name : str

        Raises
        ------
        QgsProcessingException
            If there is a file of that name, which nobody asked to replace.
        """
        self.place = self.place.with_name(name)
        if self.place.exists():
            raise unwritten(self.label, self.place, tr("it is there, and another name was given"))
        self.final, self.path = self.final.with_name(name), self.folder / name

    def made(self):
        """The files that were written, the one that gives its name to all of them last."""
        files = [path for path in self.folder.iterdir() if path.name != LOCK]
        return sorted(files, key=lambda path: (path.name == self.place.name, path.name))

    def settle(self):
        """Have the system write all of it, which is where some of them say that it cannot.

        Raises
        ------
        QgsProcessingException
        """
        try:
            for path in self.made():
                with path.open("rb") as file:
                    os.fsync(file.fileno())
        except OSError as error:
            raise unwritten(self.label, self.final, error.strerror or error) from error

    def commit(self, feedback):
        """Move it to its place, once it has settled.

        Parameters
        ----------
        feedback : QgsFeedback
            Not asked: names are changed at once.

        Raises
        ------
        QgsProcessingException
            If something there cannot be replaced.
        """
        made = self.made()
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
        self.lock.unlock()
        shutil.rmtree(self.folder, ignore_errors=True)
        return not self.folder.exists()


class StagedLayer(Staged):
    """A layer of a GeoPackage that holds others, written into a file of its own until it is whole.

    Parameters
    ----------
    label : str
        What people call the output, for messages.
    file : path
        The GeoPackage, whether it is there or not.
    layer, shape : str
        Name of the layer, and of its geometry column.
    """

    def __init__(self, label, file, layer, shape):
        super().__init__(label, file)
        self.layer, self.shape = layer, shape
        self.path = self.folder / "layer.gpkg"
        self.final = f"{file}|layername={layer}"

    def commit(self, feedback):
        """Take the layer over, in the place of a former one of its name; all of it or nothing.

        Raises
        ------
        QgsProcessingException
            If that cannot be done; the file is as it was.
        CancelledError
        """
        source, new = open_file(self.path), not self.place.exists()
        target = None
        with listening() as said:
            if new:
                target = gdal.GetDriverByName("GPKG").Create(
                    str(self.place), 0, 0, 0, gdal.GDT_Unknown
                )
            else:
                target = open_file(self.place, update=True)
            done = False
            try:
                if target is not None and target.StartTransaction() == ogr.OGRERR_NONE:
                    done = self._take_over(source.GetLayer(0), target, said, feedback)
                    done = done and not said and target.CommitTransaction() == ogr.OGRERR_NONE
            finally:
                if target is not None and not done:
                    target.RollbackTransaction()
                del source, target
                if new and not done:
                    self.place.unlink(missing_ok=True)
        if not done:
            raise unwritten(self.label, self.final, "; ".join(said[:2]))
        self.discard()

    def _take_over(self, source, target, said, feedback):
        """Copy all rows; True where all of them are there."""
        for number in range(target.GetLayerCount()):
            if target.GetLayer(number).GetName().lower() == self.layer.lower():
                if target.DeleteLayer(number) != ogr.OGRERR_NONE:
                    return False
                break
        options = [f"GEOMETRY_NAME={self.shape or 'geom'}", f"FID={source.GetFIDColumn() or 'fid'}"]
        layer = target.CreateLayer(
            self.layer, source.GetSpatialRef(), source.GetGeomType(), options
        )
        if layer is None:
            return False
        form = source.GetLayerDefn()
        for number in range(form.GetFieldCount()):
            if layer.CreateField(form.GetFieldDefn(number)) != ogr.OGRERR_NONE:
                return False
        copied, form = 0, layer.GetLayerDefn()
        for copied, row in enumerate(source, 1):
            if copied % ROWS_PER_LOOK == 0:
                raise_if_cancelled(feedback)
            own = ogr.Feature(form)
            own.SetFrom(row)
            own.SetFID(row.GetFID())
            if said or layer.CreateFeature(own) != ogr.OGRERR_NONE:
                return False
        return copied == source.GetFeatureCount()


def lock_of(folder):
    """What says that a hidden folder is in use, as long as the program lives that made it."""
    lock = QLockFile(str(folder / LOCK))
    lock.setStaleLockTime(0)  # never by its age: only where its program is gone
    return lock


def clear_abandoned(folder):
    """Take away hidden folders of runs that were killed: those of our own naming, with a lock that
    no living program of this machine holds. What is in doubt stays.

    Parameters
    ----------
    folder : path
        Where results are written.
    """
    try:
        with os.scandir(folder) as found:
            names = [one.name for one in found if OWN.fullmatch(one.name) and one.is_dir()]
    except OSError:
        return
    for name in names:
        own = Path(folder, name)
        lock = lock_of(own)
        if (own / LOCK).is_file() and not own.is_symlink() and lock.tryLock(0):
            lock.unlock()
            shutil.rmtree(own, ignore_errors=True)
