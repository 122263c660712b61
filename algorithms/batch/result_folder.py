"""A folder whose results are replaced as a whole: new ones are made beside the old ones and moved
over them at the end, or into them where layers of an open project hold the old ones."""

import contextlib
import errno
import os
import sqlite3
from contextlib import closing
from pathlib import Path

from qgis.core import QgsProcessingException

from ..host.feedback import raise_if_cancelled
from ..host.figures import translate
from ..host.watching import open_file
from ..reading.repair_rows import NEEDED, REPAIRS
from ..writing.staging import NotWrittenError, disk_is_full
from .live_replace import OF_LAYERS, SHARED, held, replace_tables, writable
from .ready_project import PROJECT, PROJECTS, STYLE, STYLES

GEOPACKAGE, REPORT = "curbwright.gpkg", "report.html"
WORK, LOCK, FORMER = ".curbwright", "lock", "former.html"
OWN_PAGE = b'<meta name="generator" content="Curbwright"'
# the table, and the section in it, that name the layers of a run
RUN_LOG, RESULT = "run_log", "result"
FITS = "fits"  # what was fitted to each layer, for the next run
KEPT_ROWS = "kept_rows"  # where the kept epochs of each layer stand, for the next run
RUN_STATE = "run_state"  # what a run wrote, so that the next one sees what was changed since
WORK_FILES = (  # all that runs make in the hidden folder
    LOCK,
    REPORT,
    FORMER,
    *(GEOPACKAGE + end for end in ("", "-wal", "-shm", "-journal")),
)
PAGES = 2000  # of a database copied between two looks at the cancel button
STEPS = 50_000  # of SQLite's machine between two of them


def tr(text):
    return translate("ResultFolder", text)


class ResultFolder:
    """Results of one run; use it as a context manager.

    The new GeoPackage grows in a hidden folder inside, which is on the same file system, so that
    `replace` only renames. Where somebody has the old one open, its tables are replaced inside in
    one transaction instead. What a run that was killed left there is cleared by the next one; a
    lock, which the system lifts when its process ends, keeps two runs apart.

    Two files cannot be replaced at once. The old report goes first and the new one comes last, so
    that a report never lies beside the GeoPackage of another run, and a run that is killed in
    between is completed by the next one, or undone where the GeoPackage had not been moved.

    Parameters
    ----------
    folder : path
        Made where it is missing.

    Raises
    ------
    QgsProcessingException
        If the folder cannot be written, another run is at work in it, or the GeoPackage there is
        being edited.
    """

    def __init__(self, folder):
        self.folder = Path(folder)
        self.work = self.folder / WORK
        self.old, self.new = self.folder / GEOPACKAGE, self.work / GEOPACKAGE
        self.report, self.new_report, self.former_report = (
            self.folder / REPORT,
            self.work / REPORT,
            self.work / FORMER,
        )
        self._lock, self._completed = None, False
        self._watched = None  # a connection to the old file, and its state when that was read
        self.own, self.others = set(), []  # tables of the old file that runs wrote, and all others

    def refuse_others(self):
        """Raise where something that no run made stands where a run would put its results."""
        why = ""
        if self.work.is_symlink():
            why = tr("“{}” is a link to another folder.").format(self.work)
        elif self.work.exists() and not self.work.is_dir():
            why = tr("“{}” is a file.").format(self.work)
        for path in (self.old, self.report):
            if path.exists() and not path.is_file():
                why = tr("“{}” is a folder.").format(path)
        if not why and not is_own_report(self.report) and not self.old.exists():
            why = tr("“{}” is a page that no run of this algorithm wrote.").format(self.report)
        if why:
            raise QgsProcessingException(
                tr("{} Move it away, or choose another folder for the results.").format(why)
            )

    def __enter__(self):
        self.refuse_others()
        try:
            self.work.mkdir(parents=True, exist_ok=True)
            self._lock = (self.work / LOCK).open("a+b")
        except OSError as error:
            raise QgsProcessingException(
                tr("The folder “{}” cannot be written to: {}. Choose another one.").format(
                    self.folder, error.strerror or error
                )
            ) from error
        try:
            _take(self._lock)
            self._complete()
            self._clear()
            settle(self.old)
        except BaseException:
            self._lock.close()
            raise
        return self

    def __exit__(self, kind, error, trace):
        self._unwatch()
        full = error is not None and disk_is_full(self.folder)
        try:
            self._leave()
        finally:
            if isinstance(error, (sqlite3.Error, OSError, RuntimeError, NotWrittenError)) or (
                full and isinstance(error, QgsProcessingException)
            ):
                raise self._failure(error, full) from error

    def _failure(self, error, full):
        """The error of a run that could not write its results."""
        why = str(error) or type(error).__name__
        if full and "full" not in why:
            why += " " + tr("The disk is full.")
        return QgsProcessingException(
            tr(
                "The results could not be written to “{}”: {} Make sure that there is room there"
                " and that the files there can be read and written to, or choose another folder."
                " What was there before is as it was."
            ).format(self.folder, why if why.endswith(".") else f"{why}.")
        )

    def _leave(self):
        """Clear away what was not moved, and let other runs in."""
        waiting = self._report_waits()
        if not waiting:
            self._clear()
        self._lock.close()
        if not waiting:
            # What cannot be removed now is cleared by the next run; what others put there stays.
            with contextlib.suppress(OSError):
                (self.work / LOCK).unlink()
                self.work.rmdir()

    def _report_waits(self):
        """True where the GeoPackage was moved and its report was not: the GeoPackage is begun first
        and moved first."""
        return self.new_report.exists() and (not self.new.exists() or self._same_run())

    def _same_run(self):
        """True where the tables of the new GeoPackage are in the old one already."""
        try:
            both = [_said(path) for path in (self.old, self.new) if path.exists()]
        except sqlite3.Error:
            return False  # cut off while it was written
        return len(both) == 2 and both[0] is not None and both[0] == both[1]

    def _complete(self):
        """Finish, or undo, what a run that was killed while it moved its results left."""
        if self._report_waits():
            _move(self.new_report, self.report)
            self._completed = True
        elif self.former_report.exists() and not self.report.exists():
            _move(self.former_report, self.report)

    def _clear(self):
        for name in WORK_FILES:
            path = self.work / name
            if name != LOCK and (path.is_file() or path.is_symlink()):
                path.unlink()

    def begin(self, names, feedback):
        """Start the new GeoPackage with whatever is in the old one that no run wrote.

        Parameters
        ----------
        names : collection of str
            Layers that may be written.
        feedback : QgsProcessingFeedback

        Raises
        ------
        QgsProcessingException
            If the old file is no GeoPackage, or holds a layer of such a name that no run wrote.
        CancelledError
        """
        if self._completed:
            feedback.pushInfo(
                tr(
                    "The last run was cut off while it moved its results; its report has been put"
                    " in place."
                )
            )
        if not self.old.exists():
            return

        own, others = self.own, self.others = self._copy(names, feedback)
        if not others:
            return
        feedback.pushInfo(
            tr("Kept from “{}”, as no run wrote them: {}.").format(GEOPACKAGE, ", ".join(others))
        )
        self._drop(own, feedback)

    def _copy(self, names, feedback):
        """Copy the old GeoPackage where it holds layers that no run wrote; the names of those that
        runs wrote, and of those others."""
        try:
            with closing(sqlite3.connect(str(self.old))) as database:
                own, others = _tables(database)
                clash = sorted(set(others) & set(names))
                if clash:
                    raise QgsProcessingException(
                        tr(
                            "“{}” holds layers that no run of this algorithm wrote, but that have"
                            " the names of results: {}. Rename them, or choose another folder."
                        ).format(self.old, ", ".join(clash))
                    )
                if others:
                    with closing(sqlite3.connect(str(self.new))) as copy:
                        database.backup(
                            copy, pages=PAGES, progress=lambda *_: raise_if_cancelled(feedback)
                        )
                        copy.execute("PRAGMA journal_mode=DELETE").fetchall()
        except sqlite3.Error as error:
            raise QgsProcessingException(
                tr(
                    "“{}” cannot be read as a GeoPackage: {}. Move it away, or choose another"
                    " folder."
                ).format(self.old, error)
            ) from error
        return own, others

    def _drop(self, own, feedback):
        """Take the layers that runs wrote out of the copy."""
        dataset = open_file(self.new, update=True)
        for index in reversed(range(dataset.GetLayerCount())):
            raise_if_cancelled(feedback)
            if dataset.GetLayer(index).GetName() in own:
                dataset.DeleteLayer(index)
        del dataset
        with closing(sqlite3.connect(str(self.new))) as database:
            database.set_progress_handler(feedback.isCanceled, STEPS)
            try:
                database.execute("VACUUM")
            except sqlite3.OperationalError:
                raise_if_cancelled(feedback)
                raise

    def replace(self):
        """Move the new results over the old ones.

        Raises
        ------
        QgsProcessingException
            If somebody is writing into the old ones, or has changed them since `watch`; they are
            as they were.
        """
        if self._unwatch():
            raise QgsProcessingException(
                tr(
                    "“{}” was changed while the run was at work. What it holds is as it was; run"
                    " again."
                ).format(self.old)
            )
        free = settle(self.old)
        if self.report.exists():
            _move(self.report, self.former_report)
        try:
            if not (free and self._renamed()):
                self._into_the_old_one()
        except QgsProcessingException:
            if self.former_report.exists():
                _move(self.former_report, self.report)
            raise
        try:
            os.replace(self.new_report, self.report)
        except OSError as error:
            raise QgsProcessingException(
                tr(
                    "The new results are in “{}”, but their report cannot be moved to “{}”: {}. The"
                    " next run will move it."
                ).format(self.old, self.report, error.strerror or error)
            ) from error

    def watch(self):
        """From now on nobody may change the old GeoPackage, or `replace` refuses; the names of the
        layers in it that a run wrote."""
        database = sqlite3.connect(str(self.old))
        self._watched = database, _version(database)
        return _tables(database)[0]

    def _unwatch(self):
        """Let the old GeoPackage go; True where it was changed meanwhile."""
        if self._watched is None:
            return False
        (database, before), self._watched = self._watched, None
        with closing(database):
            return _version(database) != before

    def _renamed(self):
        """Move the new GeoPackage over the old one; False where the system holds that one."""
        try:
            os.replace(self.new, self.old)
        except PermissionError:
            if not self.old.exists():
                raise
            return False
        except OSError as error:
            raise _cannot_be_replaced(self.old, error.strerror or error) from error
        return True

    def _into_the_old_one(self):
        """Replace the tables in the old GeoPackage, which is open somewhere."""
        with closing(sqlite3.connect(str(self.new))) as database:
            tables = sorted({name for some in _tables(database) for name in some})
        own_way = {*self.others, *SHARED, *(table for table, _ in OF_LAYERS)}
        names = [name for name in tables if name not in own_way]
        try:
            replace_tables(self.old, self.new, self.own, names)
        except sqlite3.Error as error:
            raise _is_edited(self.old, str(error)) from error
        self.new.unlink()


def is_own_report(path):
    """True for a report of Curbwright, and where there is none."""
    if not path.is_file():
        return not path.exists()
    with path.open("rb") as file:
        return OWN_PAGE in file.read(2048)


def _move(source, place):
    """Rename a file over another one, or say why that cannot be done."""
    try:
        os.replace(source, place)
    except OSError as error:
        which = source if place.parent.name == WORK else place
        raise _cannot_be_replaced(which, error.strerror or error) from error


def _cannot_be_replaced(path, why):
    return QgsProcessingException(
        tr(
            "“{}” cannot be replaced: {}. If it is open in QGIS or in another program, remove its"
            " layers there or close the program, and run again. What it holds is as it was."
        ).format(path, why)
    )


def _is_edited(path, why):
    return QgsProcessingException(
        tr(
            "“{}” is being edited in QGIS or in another program{}. Save or end the editing there,"
            " remove its layers if that does not help, and run again. What it holds is as it was."
        ).format(path, f" ({why})" if why else "")
    )


def settle(path):
    """Bring what a write-ahead log still holds into a GeoPackage, and take the log away if nobody
    else has the file open.

    A log that stayed would be applied by SQLite to a file that takes the place of the old one.

    Returns
    -------
    bool
        True where another file may take its place; False where others have it open.

    Raises
    ------
    QgsProcessingException
        If somebody is writing into the file.
    """
    if not path.exists():
        return True
    log, journal = (path.with_name(path.name + end) for end in ("-wal", "-journal"))
    if log.exists():
        try:
            with closing(sqlite3.connect(str(path), timeout=1.0)) as database:
                database.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchall()
                database.execute("PRAGMA journal_mode=DELETE").fetchall()
        except sqlite3.Error:
            pass  # others have it open: whether they write is seen next
    if log.exists() or journal.exists():
        why = writable(path)
        if why:
            raise _is_edited(path, why)
    return not (log.exists() or journal.exists() or held(path))


def _version(database):
    """A number that another one follows when another connection has written."""
    return database.execute("PRAGMA data_version").fetchone()[0]


def _said(path):
    """What a run said about itself; None where there is none."""
    with closing(sqlite3.connect(str(path))) as database:
        tables, _ = _tables(database)
        return (
            database.execute(f"SELECT section, name, value FROM {RUN_LOG}").fetchall()
            if RUN_LOG in tables
            else None
        )


def _repairs_in(database, tables):
    """The table of repairs where a person has begun one in results that had none."""
    if REPAIRS not in tables:
        return ()
    columns = {row[1].lower() for row in database.execute(f"PRAGMA table_info({REPAIRS})")}
    return (REPAIRS,) if set(NEEDED) <= columns else ()


def _tables(database):
    """Names of the layers that a run wrote, and of all other tables that are not the format's
    own."""
    tables = [
        name
        for (name,) in database.execute(
            "SELECT name FROM sqlite_master WHERE type = 'table' ORDER BY name"
        )
    ]
    own = set()
    if RUN_LOG in tables:
        columns = {row[1] for row in database.execute(f"PRAGMA table_info({RUN_LOG})")}
        if {"section", "name"} <= columns:
            own = {
                RUN_LOG,
                *({RUN_STATE, FITS, KEPT_ROWS} & set(tables)),
                *_repairs_in(database, tables),
                *(
                    name
                    for (name,) in database.execute(
                        f"SELECT name FROM {RUN_LOG} WHERE section = ?", (RESULT,)
                    )
                ),
            }
    others = [
        name
        for name in tables
        if name not in own
        and not name.lower().startswith(("gpkg_", "rtree_", "sqlite_", "idx_"))
        and not _made_by_runs(database, name)
    ]
    return own, others


def _made_by_runs(database, table):
    """True for the tables of styles and projects where people have put nothing into them."""
    by_people = {
        STYLES: f"SELECT 1 FROM {STYLES} WHERE styleName <> '{STYLE}'",
        PROJECTS: f"SELECT 1 FROM {PROJECTS} WHERE name <> '{PROJECT}'",
    }
    return table in by_people and database.execute(by_people[table]).fetchone() is None


def _take(file):
    """Lock a file without waiting."""
    try:
        if os.name == "nt":
            import msvcrt

            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError as error:
        if error.errno in (errno.ENOLCK, errno.ENOTSUP, errno.EOPNOTSUPP, errno.ENOSYS):
            return  # some network drives know no locks
        raise QgsProcessingException(
            tr(
                "Another run is writing into “{}”. Wait until it has ended, or choose another"
                " folder."
            ).format(Path(file.name).parents[1])
        ) from error
