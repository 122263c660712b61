"""What a run wrote, kept beside its results, so that the next run sees what a person changed since.

One row for each layer in the table `run_state`, which is no layer: the columns that the run wrote,
and the number and a hash of each row. Of layers of lines the rows are kept whole, so that it is
known field by field what was changed, and where a line lay that was deleted.
"""

import hashlib
import json
import marshal
import sqlite3
import zlib
from contextlib import closing
from dataclasses import dataclass, field

import numpy as np

from ..host.quotes import sql_name
from .result_folder import RUN_STATE

SIZE = 8  # bytes of a hash
MOMENT = 19  # characters of a date and time up to the second
AT_ONCE = 20_000  # rows between two looks at the cancel button
# lengths of the envelope in a geometry of a GeoPackage, by its code (OGC 12-128r18, 2.1.3)
ENVELOPES = (0, 32, 48, 48, 64)
# beginnings of the names of triggers that the format and GDAL make
OF_FORMAT = (
    "rtree_",
    "gpkg_",
    "trigger_insert_feature_count_",
    "trigger_delete_feature_count_",
)
TABLES_OF_LAYERS = ("gpkg_contents", "gpkg_geometry_columns")  # of the format: what is a layer
LINES = ("LINESTRING", "MULTILINESTRING", "COMPOUNDCURVE", "MULTICURVE", "CURVE")
TABLE = f"""CREATE TABLE {RUN_STATE} (layer TEXT PRIMARY KEY, srs TEXT, columns TEXT NOT NULL,
 fids BLOB NOT NULL, hashes BLOB NOT NULL, rows BLOB)"""


@dataclass
class Row:
    """A row of a layer: values by column, and well-known binary."""

    fid: int
    values: dict
    wkb: bytes = None


@dataclass
class Changes:
    """What a person changed in a layer since the run that wrote it.

    Attributes
    ----------
    layer : str
    srs : str
        Definition of its CRS; empty where there is none.
    whole : bool
        True where the rows of the run are known, not only their hashes.
    columns : list of str
        Those that the run wrote.
    added_columns : list of str
        Those that a person added.
    is_gone : bool
        True where the layer itself is not there any more: nobody took its rows out one by one.
    moments : set of str
        Those that hold dates and times.
    edited : list of tuple
        (written, now): the row as the run wrote it, a `Row` or where only hashes are known the
        hash; and the `Row` as it is now.
    deleted : list
        Rows (hashes) as the run wrote them.
    added : list of Row
    """

    layer: str
    srs: str
    whole: bool
    columns: list
    added_columns: list = field(default_factory=list)
    is_gone: bool = False
    moments: set = field(default_factory=set)
    edited: list = field(default_factory=list)
    deleted: list = field(default_factory=list)
    added: list = field(default_factory=list)

    def of(self, written, now):
        """What is another in a row now: values by column, and whether its geometry is."""
        fields = {
            name: value
            for name, value in now.values.items()
            if self._as_told(name, value) != self._as_told(name, written.values.get(name))
        }
        return fields, written.wkb != now.wkb

    def _as_told(self, name, value):
        return moment(value) if name in self.moments else value

    def __bool__(self):
        return bool(self.edited or self.deleted or self.added or self.added_columns or self.is_gone)


def _nothing():
    """No cancel button."""


def remember(path, layers, check=_nothing, anew=True):
    """Write down what stands in layers of a GeoPackage.

    Parameters
    ----------
    path : path
    layers : sequence of str
    check : callable
        Called now and then; raises to stop.
    anew : bool
        Forget what was written down before; else these layers are further ones.
    """
    with closing(sqlite3.connect(str(path))) as database, database:
        if anew:
            database.execute(f"DROP TABLE IF EXISTS {RUN_STATE}")
            database.execute(TABLE)
        for layer in layers:
            table = _Table(database, layer)
            fids, hashes, rows = [], [], []
            for row, mark in table.marks(table.columns, check):
                fids.append(row[0])
                hashes.append(mark)
                if table.is_line:
                    rows.append([row[0], wkb_of(row[1]), *row[2:]])
            packed = [
                zlib.compress(data, 1)
                for data in (np.array(fids, "<i8").tobytes(), b"".join(hashes))
            ]
            whole = zlib.compress(json.dumps(rows, default=bytes.hex).encode(), 1)
            database.execute(
                f"INSERT INTO {RUN_STATE} VALUES (?, ?, ?, ?, ?, ?)",
                (layer, table.srs, json.dumps(table.columns), *packed,
                 whole if table.is_line else None),
            )  # fmt: skip


def changes(path, check=_nothing, layers=None):
    """What was changed in the layers of a GeoPackage since a run wrote them.

    Parameters
    ----------
    path : path
    check : callable
        Called now and then; raises to stop.
    layers : collection of str or None
        Those that are looked at; None for all.

    Returns
    -------
    list of Changes
        For each layer that is known; None where the file does not say what a run wrote.
    """
    with closing(sqlite3.connect(str(path))) as database:
        if not _exists(database, RUN_STATE):
            return None
        return [
            _changes_of(database, check, *row)
            for row in database.execute(f"SELECT * FROM {RUN_STATE} ORDER BY rowid").fetchall()
            if layers is None or row[0] in layers
        ]


def hashes_of(path, layer, columns, check=_nothing):
    """Numbers of the rows of a layer by the hash of what stands in these columns; empty where a
    column is missing."""
    with closing(sqlite3.connect(str(path))) as database:
        if not _exists(database, layer):
            return {}
        table, found = _Table(database, layer), {}
        if not set(columns) <= set(table.columns):
            return {}
        for row, mark in table.marks(columns, check):
            found.setdefault(mark, []).append(row[0])
        return found


def rows_of(path, layer):
    """All rows of a layer, a list of `Row`; empty where it is missing."""
    with closing(sqlite3.connect(str(path))) as database:
        if not _exists(database, layer):
            return []
        return _Table(database, layer).rows()


def srs_of(path, layer):
    """Definition of the CRS of a layer; empty where it has none."""
    with closing(sqlite3.connect(str(path))) as database:
        return _Table(database, layer).srs if _exists(database, layer) else ""


def own_triggers(path, layers):
    """Names of the triggers that a person has given to layers of a GeoPackage.

    Parameters
    ----------
    path : path
    layers : collection of str

    Returns
    -------
    list of str
        Without those that the format and GDAL make.
    """
    with closing(sqlite3.connect(str(path))) as database:
        found = database.execute(
            "SELECT name, tbl_name FROM sqlite_master WHERE type = 'trigger' ORDER BY name"
        ).fetchall()
    return [name for name, layer in found if layer in layers and not name.startswith(OF_FORMAT)]


def bring_views(old, new):
    """Make the views of a GeoPackage in another one, where they are missing; those that are layers
    are layers there.

    Parameters
    ----------
    old, new : path
    """
    with closing(sqlite3.connect(str(new))) as database, database:
        database.execute("ATTACH ? AS former", (str(old),))
        views = database.execute(
            "SELECT name, sql FROM former.sqlite_master WHERE type = 'view' AND lower(name) NOT IN"
            " (SELECT lower(name) FROM main.sqlite_master) ORDER BY rowid"
        ).fetchall()
        for name, text in views:
            database.execute(text)
            for table in TABLES_OF_LAYERS:
                database.execute(
                    f"INSERT OR IGNORE INTO main.{table} SELECT * FROM former.{table}"
                    " WHERE lower(table_name) = lower(?)",
                    (name,),
                )
        if views:
            database.execute(
                "INSERT OR IGNORE INTO main.gpkg_spatial_ref_sys"
                " SELECT * FROM former.gpkg_spatial_ref_sys"
            )


def wkb_of(blob):
    """The well-known binary in a geometry of a GeoPackage; None for none."""
    if blob is None:
        return None
    return bytes(blob[8 + ENVELOPES[blob[3] >> 1 & 7] :])


def _exists(database, table):
    found = database.execute(
        "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?", (table,)
    )
    return found.fetchone() is not None


class _Table:
    """A layer as it stands in the database."""

    def __init__(self, database, layer):
        self.database, self.layer = database, layer
        info = database.execute(f"PRAGMA table_info({sql_name(layer)})").fetchall()
        kinds = {name: kind for _, name, kind, *_ in info}
        (self.key,) = (name for _, name, _, _, _, key in info if key)
        shape = database.execute(
            "SELECT column_name, geometry_type_name, definition FROM gpkg_geometry_columns"
            " JOIN gpkg_spatial_ref_sys USING (srs_id) WHERE table_name = ?",
            (layer,),
        ).fetchone()
        self.geometry, kind, self.srs = shape if shape else ("", "", "")
        self.is_line = kind.upper() in LINES
        self.columns = [name for name in kinds if name not in (self.key, self.geometry)]
        self.moments = {name for name, kind in kinds.items() if kind.upper() == "DATETIME"}

    def _select(self, columns, told, where=""):
        """Rows (number, geometry, values); `told`: as they are compared."""
        said = [sql_name(self.key), sql_name(self.geometry) if self.geometry else "NULL"]
        for name in columns:
            short = told and name in self.moments
            said.append(f"substr({sql_name(name)}, 1, {MOMENT})" if short else sql_name(name))
        return self.database.execute(
            f"SELECT {', '.join(said)} FROM {sql_name(self.layer)} {where} ORDER BY 1"
        )

    def marks(self, columns, check):
        """Yield each row (number, geometry, values) as it is compared, with its hash."""
        dumps, digest = marshal.dumps, hashlib.blake2b
        found = self._select(columns, True)
        while some := found.fetchmany(AT_ONCE):
            check()
            for row in some:
                # 2: without references, so that equal rows have equal bytes
                yield row, digest(dumps(row[1:], 2), digest_size=SIZE).digest()

    def filled(self, columns):
        """Numbers of the rows that have anything in one of these columns."""
        if not columns:
            return set()
        where = " OR ".join(f"{sql_name(name)} IS NOT NULL" for name in columns)
        found = self.database.execute(
            f"SELECT {sql_name(self.key)} FROM {sql_name(self.layer)} WHERE {where}"
        )
        return {fid for (fid,) in found}

    def rows(self, fids=None):
        """All rows, or those of these numbers, as a list of `Row`."""
        if fids is None:
            found = self._select(self.columns, False)
        else:
            where = f"WHERE {sql_name(self.key)} IN ({', '.join(map(str, fids))})"
            found = self._select(self.columns, False, where)
        return [Row(row[0], dict(zip(self.columns, row[2:])), wkb_of(row[1])) for row in found]


def moment(value):
    """A date and time as far as all versions of the host write it alike: to the second."""
    return value[:MOMENT] if isinstance(value, str) else value


def _changes_of(database, check, layer, *told):
    srs, columns, fids, hashes, rows = told
    columns = json.loads(columns)
    found = Changes(layer, srs, rows is not None, columns)
    fids = np.frombuffer(zlib.decompress(fids), "<i8").tolist()
    hashes = zlib.decompress(hashes)
    marks = {
        fid: hashes[start : start + SIZE] for fid, start in zip(fids, range(0, len(hashes), SIZE))
    }
    written = (
        {
            row[0]: Row(row[0], dict(zip(columns, row[2:])), row[1] and bytes.fromhex(row[1]))
            for row in json.loads(zlib.decompress(rows))
        }
        if rows is not None
        else None
    )
    if not _exists(database, layer):
        found.is_gone = True
        return found
    table = _Table(database, layer)
    found.added_columns = [name for name in table.columns if name not in columns]
    there = [name for name in columns if name in table.columns]
    comparable = found.whole or len(there) == len(columns)
    filled = table.filled(found.added_columns)
    edited, added = {}, []
    for row, mark in table.marks(there, check):
        fid = row[0]
        former = marks.pop(fid, None)
        if former is None:
            added.append(fid)
        elif (comparable and mark != former) or fid in filled:
            edited[fid] = written[fid] if found.whole else former
    found.moments, found.added = table.moments, table.rows(added)
    found.edited = [(edited[now.fid], now) for now in table.rows(edited)]
    found.deleted = [written[fid] if found.whole else mark for fid, mark in marks.items()]
    return found
