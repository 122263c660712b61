"""Tables of one GeoPackage put in place of those of another that is in use, whole or not at all.

A file that layers of an open project hold cannot be renamed over: they would go on with the old
one, and what is edited there would be lost with it. Its tables are replaced inside, in one
transaction, which open connections see as soon as it is committed.
"""

import glob
import os
import sqlite3
from contextlib import closing
from pathlib import Path

from ..host.quotes import sql_name

PROCESSES = Path("/proc")
WAIT = 10.0  # s for others to end what they are writing
# tables of the format that have rows for each layer, with the column that names it
OF_LAYERS = (
    ("gpkg_contents", "table_name"),
    ("gpkg_geometry_columns", "table_name"),
    ("gpkg_extensions", "table_name"),
    ("gpkg_data_columns", "table_name"),
    ("gpkg_metadata_reference", "table_name"),
    ("gpkg_ogr_contents", "table_name"),
    ("layer_styles", "f_table_name"),
)
# tables whose rows are added to what is there, by their key
SHARED = ("gpkg_spatial_ref_sys", "gpkg_metadata", "gpkg_data_column_constraints", "qgis_projects")
INDEX_PARTS = ("node", "parent", "rowid")  # of a spatial index


def held(path):
    """Whether a file is open somewhere, by this process or another one.

    Parameters
    ----------
    path : path

    Returns
    -------
    bool
        False on Windows too, where a file that is open cannot be renamed over and that tells; True
        where the system does not say. Files that are open in processes of other people cannot be
        seen.
    """
    if os.name == "nt":
        return False
    if not PROCESSES.is_dir():
        return True
    wanted = os.stat(path)
    # Not Path.glob, which ends with an error where a process ends meanwhile.
    for link in glob.iglob(str(PROCESSES / "[0-9]*" / "fd" / "*")):
        try:
            found = os.stat(link)
        except OSError:
            continue  # closed meanwhile, or of somebody else
        if (found.st_dev, found.st_ino) == (wanted.st_dev, wanted.st_ino):
            return True
    return False


def writable(path, wait=1.0):
    """Why nobody else can write into a database now; empty where that can be done.

    Parameters
    ----------
    path : path
    wait : float
        Seconds.

    Returns
    -------
    str
    """
    try:
        with closing(sqlite3.connect(str(path), timeout=wait, isolation_level=None)) as database:
            database.execute("BEGIN IMMEDIATE")
            database.execute("ROLLBACK")
    except sqlite3.Error as error:
        return str(error)
    return ""


def replace_tables(path, source, former, names):
    """Replace tables of a GeoPackage by those of another one, in one transaction.

    Parameters
    ----------
    path, source : path
        The GeoPackage in use, and the one with the new tables.
    former : collection of str
        Tables that go, whether or not there are new ones of the name.
    names : collection of str
        Tables that come from `source`.

    Raises
    ------
    sqlite3.Error
        If somebody else is writing for longer than `WAIT`, or a table cannot be made; all is as it
        was.
    """
    with closing(sqlite3.connect(str(path), timeout=WAIT, isolation_level=None)) as database:
        database.execute("ATTACH ? AS fresh", (str(source),))
        database.execute("BEGIN IMMEDIATE")
        try:
            for name in sorted({*former, *names}):
                _drop(database, name)
            _forget(database, {*former, *names})
            for name in sorted(names):
                _make(database, name)
            for table in SHARED:
                _copy_rows(database, table, "")
            for table, column in OF_LAYERS:
                _of_layers(database, table, column, names)
            database.execute("COMMIT")
        except BaseException:
            database.execute("ROLLBACK")
            raise


def _objects(database, schema, kind, table):
    """Names and texts of the indexes or triggers of a table."""
    return database.execute(
        f"SELECT name, sql FROM {schema}.sqlite_master"
        " WHERE type = ? AND lower(tbl_name) = lower(?) AND sql IS NOT NULL",
        (kind, table),
    ).fetchall()


def _indexes(database, schema, name):
    """Spatial indexes of a table: name and text."""
    return database.execute(
        f"SELECT name, sql FROM {schema}.sqlite_master WHERE type = 'table'"
        " AND sql LIKE 'CREATE VIRTUAL TABLE%' AND substr(name, 1, ?) = ?"
        f" AND substr(name, ?) IN (SELECT column_name FROM {schema}.gpkg_geometry_columns"
        " WHERE table_name = ?)",
        (len(name) + 7, f"rtree_{name}_", len(name) + 8, name),
    ).fetchall()


def _has(database, schema, name):
    found = database.execute(
        f"SELECT 1 FROM {schema}.sqlite_master WHERE type = 'table' AND lower(name) = lower(?)",
        (name,),
    )
    return found.fetchone() is not None


def _drop(database, name):
    """A table with its triggers first: those of the format call functions that only hosts know."""
    for trigger, _ in _objects(database, "main", "trigger", name):
        database.execute(f"DROP TRIGGER main.{sql_name(trigger)}")
    for index, _ in _indexes(database, "main", name):
        database.execute(f"DROP TABLE main.{sql_name(index)}")
    database.execute(f"DROP TABLE IF EXISTS main.{sql_name(name)}")


def _make(database, name):
    """A table as it is in the new file, with its spatial index, which is copied, not built."""
    (made,) = database.execute(
        "SELECT sql FROM fresh.sqlite_master WHERE type = 'table' AND name = ?", (name,)
    ).fetchone()
    database.execute(made)
    database.execute(f"INSERT INTO main.{sql_name(name)} SELECT * FROM fresh.{sql_name(name)}")
    for index, text in _indexes(database, "fresh", name):
        database.execute(text)
        for part in INDEX_PARTS:
            rows = sql_name(f"{index}_{part}")
            database.execute(f"DELETE FROM main.{rows}")
            database.execute(f"INSERT INTO main.{rows} SELECT * FROM fresh.{rows}")
    for kind in ("index", "trigger"):
        for _, text in _objects(database, "fresh", kind, name):
            database.execute(text)


def _forget(database, names):
    """Take the rows about layers out of the tables of the format."""
    for table, column in OF_LAYERS:
        if _has(database, "main", table) and (
            table != "layer_styles" or _has(database, "fresh", table)
        ):
            database.executemany(
                f"DELETE FROM main.{table} WHERE lower({column}) = lower(?)",
                [(name,) for name in names],
            )


def _of_layers(database, table, column, names):
    wanted = ", ".join("'" + name.lower().replace("'", "''") + "'" for name in names)
    _copy_rows(database, table, f"WHERE lower({column}) IN ({wanted})")


def _copy_rows(database, table, where):
    """Rows of a table of the format from the new file, with the columns that both have."""
    if not _has(database, "fresh", table):
        return
    if not _has(database, "main", table):
        (made,) = database.execute(
            "SELECT sql FROM fresh.sqlite_master WHERE type = 'table' AND name = ?", (table,)
        ).fetchone()
        database.execute(made)
    own, new = (
        [row[1] for row in database.execute(f"PRAGMA {schema}.table_info({table})")]
        for schema in ("main", "fresh")
    )
    columns = [name for name in new if name in own and (table, name) != ("layer_styles", "id")]
    said = ", ".join(map(sql_name, columns))
    database.execute(
        f"INSERT OR REPLACE INTO main.{table} ({said}) SELECT {said} FROM fresh.{table} {where}"
    )
