"""Rows of the layer `kept` taken over from the last run as they stand in its GeoPackage.

Writing a point through the host costs more than fitting it. Where neither the rows of a capture
layer nor anything that its kept epochs depend on is another, nor anybody changed the layer `kept`
since, SQL copies them; `edge_id`, which counts through all layers, moves along.
"""

import hashlib
import marshal
import sqlite3
from contextlib import closing
from pathlib import Path
from typing import NamedTuple

from osgeo import gdal
from qgis.core import QgsCoordinateTransform, QgsProcessingException

from ..host.figures import translate
from ..host.quotes import sql_name
from ..host.watching import open_file
from . import run_state
from .result_folder import KEPT_ROWS

AT_ONCE = 20_000  # rows between two looks at the cancel button
BYTES = 2**24  # of a file between two of them


class Stretch(NamedTuple):
    """Where the rows of a capture layer stand in `kept`.

    Attributes
    ----------
    name : str
        Of the capture layer.
    mark : str
        Digest of all that they depend on but for the number of edges before.
    first, count : int
        Number of the first row, and how many there are.
    edges : int
        Edges of the layers before.
    """

    name: str
    mark: str
    first: int
    count: int
    edges: int


def rows_digest(capture, check):
    """Digest of all that the features of a capture layer hold; empty where only they can tell.

    Parameters
    ----------
    capture : Capture
    check : callable
        Called now and then; raises to stop.

    Returns
    -------
    str
    """
    file, layer = capture.child.file, capture.layer
    if file is None or file.subset or len(file.own_fields) != len(layer.fields()):
        return ""
    dataset = open_file(file.path)
    if dataset is None:
        return ""
    digest = hashlib.sha256()
    if dataset.GetDriver().ShortName == "GPKG":
        table = file.layer_name or dataset.GetLayer(file.layer_number or 0).GetName()
        del dataset
        try:
            _digest_table(file.path, table, digest, check)
        except sqlite3.Error:
            return ""
        return digest.hexdigest()
    paths, dataset = dataset.GetFileList() or [], None
    for path in sorted(paths):
        with Path(path).open("rb") as opened:
            while block := opened.read(BYTES):
                check()
                digest.update(block)
    digest.update(f"|{file.layer_name}|{file.layer_number}".encode())
    return digest.hexdigest() if paths else ""


def _digest_table(path, table, digest, check):
    address = Path(path).absolute().as_uri() + "?mode=ro"
    with closing(sqlite3.connect(address, uri=True)) as database:
        found = database.execute(f"SELECT * FROM {sql_name(table)} ORDER BY rowid")
        digest.update(repr(found.description).encode())
        while some := found.fetchmany(AT_ONCE):
            check()
            # 2: without references, so that equal rows have equal bytes
            digest.update(marshal.dumps(some, 2))


def fields_said(fields):
    """All that fields are written by."""
    return [(one.name(), one.typeName(), one.length(), one.precision()) for one in fields]


class FormerKept:
    """The layer `kept` of the last run.

    Parameters
    ----------
    path, target : Path
        GeoPackages of the last run and of this one.
    check : callable
        Called now and then; raises to stop.
    """

    LAYER = "kept"

    def __init__(self, path, target, check):
        self.path, self.target, self.check = path, target, check
        self.database, self.version, self.stretches = None, None, {}

    def stretch(self, name, mark):
        """The `Stretch` of a capture layer whose rows may be copied; None where there is none."""
        if self.database is None:
            if not self.path.exists():
                return None
            self.database = sqlite3.connect(str(self.path))
        # another number where anybody has written since
        version = self.database.execute("PRAGMA data_version").fetchone()[0]
        if version != self.version:
            self.stretches, self.version = self._untouched(), version
        found = self.stretches.get(name)
        return found if found is not None and found.mark == mark else None

    def _untouched(self):
        """What the last run wrote, by the name of the layer; empty where anybody changed it."""
        tables = "SELECT name FROM sqlite_master WHERE type = 'table'"
        if not {self.LAYER, KEPT_ROWS} <= {name for (name,) in self.database.execute(tables)}:
            return {}
        changes = run_state.changes(self.path, self.check, (self.LAYER,))
        if not changes or changes[0]:
            return {}
        there = {row[1] for row in self.database.execute(f"PRAGMA table_info({self.LAYER})")}
        if not set(changes[0].columns) <= there:
            return {}
        rows = self.database.execute(f"SELECT name, mark, first, count, edges FROM {KEPT_ROWS}")
        return {row[0]: Stretch(*row) for row in rows}

    def _count(self, database):
        return database.execute(f"SELECT count(*) FROM {self.LAYER}").fetchone()[0]

    def copy(self, stretch, columns, edge_column, edges):
        """Copy rows to the end of `kept` of the new GeoPackage, which nobody has open.

        Parameters
        ----------
        stretch : Stretch
        columns : list of str
            Those that the rows fill; any other one stays empty.
        edge_column : str
            The column that holds the number of the edge.
        edges : int
            Edges of the layers before, in this run.

        Raises
        ------
        QgsProcessingException
            If they do not all get there.
        """
        self.check()
        with closing(sqlite3.connect(str(self.target))) as database:
            before = self._count(database)
        column = sql_name(edge_column)
        moved = f"CASE WHEN {column} > 0 THEN {column} + {edges - stretch.edges} ELSE {column} END"
        last = stretch.first + stretch.count - 1
        # by GDAL, whose SQLite knows the functions that the triggers of the spatial index call
        dataset = open_file(self.target, update=True)
        layer = dataset.GetLayerByName(self.LAYER)
        key, filled = sql_name(layer.GetFIDColumn()), [layer.GetGeometryColumn(), *columns]
        values = [moved if name == edge_column else sql_name(name) for name in filled]
        old = str(self.path).replace("'", "''")
        for text in (
            f"ATTACH '{old}' AS former",
            f"INSERT INTO {self.LAYER} ({', '.join(map(sql_name, filled))})"
            f" SELECT {', '.join(values)} FROM former.{self.LAYER}"
            f" WHERE {key} BETWEEN {stretch.first} AND {last} ORDER BY {key}",
            "DETACH former",
        ):
            done = dataset.ExecuteSQL(text)
            if done is not None:
                dataset.ReleaseResultSet(done)
        del layer, dataset
        with closing(sqlite3.connect(str(self.target))) as database:
            there = self._count(database)
        if there != before + stretch.count:
            raise QgsProcessingException(
                translate("KeptEpochs", "The kept epochs of “{}” cannot be taken over: {}.").format(
                    stretch.name, gdal.GetLastErrorMsg()
                )
            )

    def close(self):
        """Let the file go."""
        if self.database is not None:
            self.database.close()
        self.database = None


def mark_of(capture, fit, run, target, check):
    """Digest of all that the kept epochs of a capture layer depend on; empty where it cannot be
    told.

    Parameters
    ----------
    capture : Capture
    fit : str
        Digest of its fit.
    run : Run
    target : tuple
        Those fields of `kept` that its rows fill, and the geometry type.
    check : callable
        Called now and then; raises to stop.
    """
    rows = rows_digest(capture, check)
    if not rows:
        return ""
    layer = capture.layer
    way = QgsCoordinateTransform(layer.crs(), run.crs, run.context.transformContext())
    fields, kind = target
    said = (
        fit,
        rows,
        capture.name,
        layer.dataProvider().encoding(),
        fields_said(layer.fields()),
        fields_said(fields),
        int(layer.wkbType()),
        int(kind),
        layer.crs().toWkt(),
        run.crs.toWkt(),
        way.coordinateOperation(),
        way.instantiatedCoordinateOperationDetails().proj if way.isValid() else "",
    )
    return hashlib.sha256(repr(said).encode()).hexdigest()


def write_stretches(path, stretches):
    """Put where the rows of each layer stand into a new GeoPackage."""
    with closing(sqlite3.connect(str(path))) as database, database:
        database.execute(f"DROP TABLE IF EXISTS {KEPT_ROWS}")
        database.execute(
            f"CREATE TABLE {KEPT_ROWS} (name TEXT PRIMARY KEY, mark TEXT, first INTEGER,"
            " count INTEGER, edges INTEGER)"
        )
        database.executemany(f"INSERT INTO {KEPT_ROWS} VALUES (?, ?, ?, ?, ?)", stretches)
