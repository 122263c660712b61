"""Fits of capture layers, kept from run to run: only what is new or changed is fitted again.

The key is a digest of all that the fit depends on: the epochs as they were read, whatever file,
filter or edit they came through, the settings and the versions. So nothing rests on times or sizes
of files, and the result is that of a whole run to the last digit. All else (rows, numbers, what
follows over all layers) is made anew each time.
"""

import hashlib
import io
import json
import sqlite3
import zlib
from contextlib import closing
from dataclasses import fields, is_dataclass

import numpy as np

from ..host.versions import versions
from .result_folder import FITS

LARGEST = 2**28  # bytes; what is larger is fitted again
PLAIN = "plain"  # name of the part that holds what is no array


class Fits:
    """Fits of the last run, and those that the next one may take over.

    Parameters
    ----------
    path : Path
        GeoPackage of the last run.

    Attributes
    ----------
    last : str
        Digest of the last fit asked for.
    last_taken_over : bool
        The last fit asked for is that of the last run.
    taken_over : int
        How many are.
    """

    def __init__(self, path):
        self.path, self.new = path, {}
        self.last, self.last_taken_over, self.taken_over = "", False, 0
        self.versions = json.dumps(versions())

    def fitted(self, table, settings, numbers, fit, repairs=()):
        """The fit of a layer: taken over where nothing changed, else made.

        Parameters
        ----------
        table : EpochTable
        settings : Settings
        numbers : bool
            As of `reconstruct`.
        fit : callable
            Makes the fit.
        repairs : sequence of dataclass of ndarray, optional
            What was repaired, and what is said of it; None among them counts for nothing.

        Returns
        -------
        Reconstruction
        """
        digest = self.last = self._digest(table, settings, numbers, repairs)
        made, parts = self._former(digest)
        self.last_taken_over = parts is not None
        if self.last_taken_over:
            self.new[digest] = made
            self.taken_over += 1
            return unpacked(parts)
        result = fit()
        made = packed(result)
        if len(made) <= LARGEST:
            self.new[digest] = made
        return result

    def _digest(self, table, settings, numbers, repairs):
        digest = hashlib.sha256(f"{self.versions}|{settings!r}|{bool(numbers)}".encode())
        for columns in (table, *(one for one in repairs if one is not None)):
            for column in fields(columns):
                values = np.ascontiguousarray(getattr(columns, column.name))
                digest.update(f"|{column.name} {values.dtype.str} {values.shape}|".encode())
                digest.update(values.view(np.uint8) if len(values) else b"")
        return digest.hexdigest()

    def _former(self, digest):
        """What the last run kept under a digest, as it is and uncompressed; None and None where
        there is nothing, or it is damaged (it carries a checksum)."""
        if not self.path.exists():
            return None, None
        with closing(sqlite3.connect(str(self.path))) as database:
            there = "SELECT 1 FROM sqlite_master WHERE type = 'table' AND name = ?"
            if not database.execute(there, (FITS,)).fetchone():
                return None, None
            found = database.execute(f"SELECT made FROM {FITS} WHERE digest = ?", (digest,))
            made = (found.fetchone() or (None,))[0]
        if not isinstance(made, bytes):
            return None, None
        try:
            return made, zlib.decompress(made)
        except zlib.error:
            return None, None

    def write(self, path, check=lambda: None):
        """Put the fits into a new GeoPackage.

        Parameters
        ----------
        path : Path
        check : callable
            Called before each; may raise.
        """
        with closing(sqlite3.connect(str(path))) as database, database:
            database.execute(f"DROP TABLE IF EXISTS {FITS}")
            database.execute(f"CREATE TABLE {FITS} (digest TEXT PRIMARY KEY, made BLOB NOT NULL)")
            for fit in sorted(self.new.items()):
                check()
                database.execute(f"INSERT INTO {FITS} VALUES (?, ?)", fit)


def packed(result):
    """A fit as bytes.

    Parameters
    ----------
    result : Reconstruction

    Returns
    -------
    bytes
    """
    arrays, plain, buffer = {}, {}, io.BytesIO()
    _collect(result, "", arrays, plain)
    arrays[PLAIN] = np.frombuffer(json.dumps(plain).encode(), np.uint8)
    np.savez(buffer, **arrays)
    return zlib.compress(buffer.getbuffer(), 1)


def _collect(value, path, arrays, plain):
    for column in fields(value):
        key, one = f"{path}{column.name}", getattr(value, column.name)
        if is_dataclass(one):
            _collect(one, f"{key}.", arrays, plain)
        elif isinstance(one, np.ndarray):
            arrays[key] = one
        else:
            plain[key] = one.item() if isinstance(one, np.generic) else one


def unpacked(parts):
    """The fit that `packed` turned into bytes.

    Parameters
    ----------
    parts : bytes
        Uncompressed.

    Returns
    -------
    Reconstruction
    """
    from ...shared.epochs.stream import Stream
    from ...shared.reconstruction.repairs import RepairOutcome
    from ...shared.reconstruction.results import Edges, Gaps, Reconstruction, Stations

    kinds = {
        "edges": Edges,
        "gaps": Gaps,
        "repairs": RepairOutcome,
        "stations": Stations,
        "stream": Stream,
    }
    # no pickled objects: the file may come from anywhere
    with np.load(io.BytesIO(parts), allow_pickle=False) as stored:
        values = {key: stored[key] for key in stored.files}
    values.update(json.loads(values.pop(PLAIN).tobytes().decode()))

    def build(kind, path):
        return kind(
            **{
                column.name: (
                    values[path + column.name]
                    if path + column.name in values
                    else build(kinds[column.name], f"{path}{column.name}.")
                )
                for column in fields(kind)
            }
        )

    return build(Reconstruction, "")
