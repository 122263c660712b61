"""Whether what was written is there: every write is looked at to its end.

Drivers keep rows back until a file is closed, and the host says nothing of what goes wrong then. So
errors are heard while rows are handed on and while the file is closed, and what was written is
opened again and counted.
"""

import contextlib
import sqlite3
import struct
from pathlib import Path

from qgis.core import QgsProviderRegistry, QgsVectorLayer

from ..host.figures import translate
from ..host.quotes import sql_name
from ..host.watching import in_background, listening, open_file


def tr(text):
    return translate("Checks", text)


def missing_of_file(path, layer, rows, feedback):
    """What is wrong with a file that was written and closed; empty where nothing is.

    Parameters
    ----------
    path : path
    layer : str
        Name of the layer in it; empty for the only one.
    rows : int
        How many were written.
    feedback : QgsFeedback

    Returns
    -------
    str

    Raises
    ------
    CancelledError
    """
    path = Path(path)
    if not path.exists() and path.suffix.lower() == ".shp" and path.with_suffix(".dbf").exists():
        path = path.with_suffix(".dbf")  # a table without geometry
    if not path.exists():
        return _cause(tr("the file is not there"), [])
    found, said = in_background(lambda: _count(path, layer), feedback)
    if found is None:
        return _cause(tr("the file cannot be opened again"), said)
    if said or found < rows:
        return _cause(tr("it holds {} of {} rows").format(found, rows), said)
    return ""


def _count(path, layer):
    """Rows of a layer, each of them read, and what GDAL says of errors; None where it cannot be
    opened."""
    with listening() as said:
        try:
            if path.suffix.lower() == ".gpkg":
                if open_file(path) is None:  # GDAL cannot open all names that SQLite can
                    return None, said
                return _count_table(path, layer), said
            data = open_file(path)
            table = data and (data.GetLayerByName(layer) if layer else data.GetLayer(0))
            if table is None:
                return None, said
            # a filter, so that rows are read rather than taken from what a head promises
            table.SetAttributeFilter(f"{sql_name(table.GetFIDColumn() or 'FID')} >= 0")
            found = table.GetFeatureCount(1)
            if path.suffix.lower() == ".shp":
                said += _cut_short(path)
            complete = path.suffix.lower() != ".csv" or _ends_a_line(path)
            return found - (not complete), said
        except (OSError, RuntimeError, sqlite3.Error) as error:
            return None, [*said, str(error)]


def _count_table(path, layer):
    address = f"{path.resolve().as_uri()}?mode=ro"
    with contextlib.closing(sqlite3.connect(address, uri=True)) as base:
        if not layer:
            layer = base.execute(
                "SELECT table_name FROM gpkg_contents WHERE data_type IN ('features', 'attributes')"
            ).fetchone()[0]
        return base.execute(f"SELECT count(*) FROM {sql_name(layer)}").fetchone()[0]


def _cut_short(path):
    """What is wrong with the sizes of a Shapefile's parts, which readers do not look at.

    Source: Shapefile Technical Description, 1998: the length of .shp and .shx in 16-bit
    words, big endian, at byte 24. The dBASE III head: number of rows, lengths of head and row at
    bytes 4, 8 and 10, little endian.
    """
    wrong = []
    for suffix in (".shp", ".shx", ".dbf"):
        part = path.with_suffix(suffix)
        with part.open("rb") as file:
            head, size = file.read(32), file.seek(0, 2)
        if len(head) < 32:
            wanted = 32
        elif suffix == ".dbf":
            count, start, length = struct.unpack("<IHH", head[4:12])
            wanted = start + count * length
        else:
            wanted = 2 * struct.unpack(">I", head[24:28])[0]
        if size < wanted:
            wrong.append(tr("“{}” has {} of {} bytes").format(part.name, size, wanted))
    return wrong


def _ends_a_line(path):
    """True where the last line of a text file is complete."""
    with path.open("rb") as file:
        if not file.seek(0, 2):
            return False
        file.seek(-1, 2)
        return file.read(1) == b"\n"


def missing_of_layer(uri, rows):
    """As `missing_of_file`, of a layer of a data base; `uri` is provider and address, as the host
    has it."""
    provider, _, address = uri.partition(":")
    provider = {"postgis": "postgres"}.get(provider, provider)
    if provider not in QgsProviderRegistry.instance().providerList():
        provider, address = "ogr", uri
    # the host writes “provider://…”, and SpatiaLite takes the slashes for a part of the address
    layer = QgsVectorLayer(address.removeprefix("//"), "", provider)
    if not layer.isValid():
        return tr("it cannot be opened again")
    found = layer.dataProvider().featureCount()
    return tr("it holds {} of {} rows").format(found, rows) if 0 <= found < rows else ""


def _cause(what, said):
    """What is wrong and why, as far as anybody can say."""
    return "; ".join([what, *list(dict.fromkeys(said))[:2]])
