"""Layers into arrays by GDAL's Arrow stream: many times as fast where a layer is a whole file."""

from dataclasses import dataclass
from functools import partial

import numpy as np
from osgeo import gdal
from qgis.core import (
    QgsFields,
    QgsProcessingFeatureSourceDefinition,
    QgsProviderRegistry,
)

from ..host.feedback import raise_if_cancelled
from ..host.fields import kind
from ..host.quotes import sql_name
from ..host.watching import awaited, open_file, started
from .arrow import Ragged, UnreadableError, batches
from .columns import Rows, make_column
from .wkb import points_of_ragged


class CannotStreamError(Exception):
    """The Arrow stream cannot give what is wanted; the features must be read one by one."""


@dataclass(frozen=True)
class File:
    """The file behind a layer, whose stream can stand for the layer's features.

    Attributes
    ----------
    path : str
    layer_name : str or None
    layer_number : int or None
    subset : str
        Filter of the layer.
    own_fields : frozenset of str
        Fields that come from the file, not from joins or expressions.
    """

    path: str
    layer_name: str
    layer_number: int
    subset: str
    own_fields: frozenset


def is_whole(definition):
    """True where an input parameter asks for a whole layer: no selection, limit or filter."""
    return not isinstance(definition, QgsProcessingFeatureSourceDefinition) or not (
        definition.selectedFeaturesOnly
        or definition.featureLimit >= 0
        or getattr(definition, "filterExpression", "")
    )


def file_behind(layer, definition):
    """The file that can be streamed in place of a layer.

    Parameters
    ----------
    layer : QgsVectorLayer or None
        Looked at here alone: call this in the thread that the layer lives in.
    definition : object
        Value of the input parameter.

    Returns
    -------
    File or None
        None where only the features tell what the layer holds: no file, changes not yet saved, a
        selection...
    """
    if (
        layer is None
        or layer.providerType() != "ogr"
        or layer.isModified()
        or not is_whole(definition)
    ):
        return None
    parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
    subset = layer.subsetString()
    if (
        not parts.get("path")
        or "|" in parts["path"]
        or subset.lstrip().lower().startswith("select")
    ):
        return None
    # part of a file, or a file read in a special way
    if any(parts.get(key) for key in ("vsiPrefix", "openOptions", "geometryType")):
        return None
    fields = layer.fields()
    own = frozenset(
        fields.at(index).name()
        for index in range(len(fields))
        if fields.fieldOrigin(index) == QgsFields.FieldOrigin.OriginProvider
    )
    number = parts.get("layerId")
    return File(
        parts["path"],
        parts.get("layerName") or None,
        None if number is None else int(number),
        subset,
        own,
    )


def read_stream(file, source, names, feedback, progress):
    """`Rows` of a point layer from the file behind it; as `layer_rows.read_rows` has the rest.

    Raises
    ------
    CannotStreamError
        If the file does not give what the features give.
    CancelledError
    """
    fields = source.fields()
    kinds = {name: kind(fields.at(fields.lookupField(name))) for name in names}
    data, table = open_stream(file, kinds)
    expected = source.featureCount()  # less than 0 where nobody knows
    filling = _StreamFilling(table, kinds, max(expected, 1))
    names = [name for name, what in kinds.items() if what == "datetime"]
    # a look through all rows for zones takes as long as reading them
    zones = started(partial(_has_offsets, file.path, table.GetName(), names))
    try:
        for batch in batches(table, feedback, data):
            raise_if_cancelled(feedback)
            filling.add(batch)
            if 0 <= expected < filling.ids.used:
                raise CannotStreamError  # of a damaged file, batches come without end
            progress(min(filling.ids.used / max(expected, 1), 1.0))
        # a stream that breaks off ends like any other one
        short = 0 <= expected != filling.ids.used
        if awaited(zones, feedback) or short or filling.repeats():
            raise CannotStreamError
    except (RuntimeError, UnreadableError) as error:
        raise CannotStreamError from error
    finally:
        del data  # the table is no longer read: its dataset may go
    return filling.rows()


def open_stream(file, kinds):
    """The dataset and its table, set to give some fields; CannotStreamError where it cannot give
    them as the features do."""
    old_gdal = int(gdal.VersionInfo("VERSION_NUM")) < 3100000
    for name, what in kinds.items():
        # GDAL 3.6 reads True as False after a NULL
        if (
            name not in file.own_fields
            or what in ("time", "other")
            or (what == "bool" and old_gdal)
        ):
            raise CannotStreamError
    data = open_file(file.path)
    if data is None or (
        file.layer_name is None and file.layer_number is None and data.GetLayerCount() != 1
    ):
        raise CannotStreamError
    table = (
        data.GetLayerByName(file.layer_name)
        if file.layer_name
        else data.GetLayer(file.layer_number or 0)
    )
    if table is None or table.GetLayerDefn().GetGeomFieldCount() != 1:
        raise CannotStreamError
    definition = table.GetLayerDefn()
    in_file = {
        definition.GetFieldDefn(place).GetName() for place in range(definition.GetFieldCount())
    }
    for name, what in kinds.items():
        if name not in in_file and name != id_column(table):
            raise CannotStreamError
        if what == "datetime" and data.GetDriver().ShortName != "GPKG":
            raise CannotStreamError  # the stream drops the zone
    if file.subset and table.SetAttributeFilter(file.subset) != 0:
        raise CannotStreamError
    table.SetIgnoredFields([name for name in in_file if name not in kinds])
    return data, table


def id_column(table):
    """Name of the column with the feature ids of a layer of GDAL's, as its SQL takes it."""
    return table.GetFIDColumn() or "OGC_FID"


class _StreamFilling:
    """What a stream gives, batch by batch, into `Rows`.

    Parameters
    ----------
    table : ogr.Layer
    kinds : dict of str to str
        Kind of each field, by name.
    total : int
        Rows that are expected.
    """

    def __init__(self, table, kinds, total):
        self.kinds, self.id_column = kinds, id_column(table)
        self.geometry = table.GetGeometryColumn() or "wkb_geometry"
        self.ids, self.coordinates = _Filling(total), [_Filling(total) for _ in range(4)]
        self.values, self.masks = ({name: _Filling(total) for name in kinds} for _ in range(2))

    def add(self, batch):
        """Take one batch of the stream."""
        if self.geometry not in batch or self.id_column not in batch:
            raise CannotStreamError
        self.ids.add(batch[self.id_column][0])
        blobs, null = batch[self.geometry]
        x, y, z, _, parts = points_of_ragged(blobs.without(null))
        for filling, column in zip(self.coordinates, (x, y, z, parts)):
            filling.add(column)
        for name in self.kinds:
            column, missing = batch[name]
            self.values[name].add(column.texts() if isinstance(column, Ragged) else column)
            self.masks[name].add(missing)

    def repeats(self):
        """Whether rows share an id, as those of a view without row ids do: the features number
        theirs."""
        ids = self.ids.whole()
        return bool((np.diff(ids) <= 0).any()) and len(np.unique(ids)) < len(ids)

    def rows(self):
        """All that was taken; to be asked for once."""
        columns = {
            name: make_column(
                what,
                self.values.pop(name).whole(),
                self.masks.pop(name).whole().astype(bool, copy=False),
            )
            for name, what in self.kinds.items()
        }
        x, y, z, parts = (filling.whole() for filling in self.coordinates)
        return Rows(
            ids=self.ids.whole().astype(np.int64, copy=False),
            x=x,
            y=y,
            z=z,
            m=np.broadcast_to(np.nan, self.ids.used),
            parts=parts,
            part=np.zeros(self.ids.used, np.int64),
            columns=columns,
            way="arrow",
        )


class _Filling:
    """An array that is filled block by block: a list of blocks that are joined at the end would
    need twice the memory.

    It starts as zeros, which the system gives anyway: for other arrays numpy asks for huge pages,
    which take two to four times as long to come where a virtual machine gets its memory page by
    page, and no less time elsewhere.
    """

    def __init__(self, size):
        self.array, self.size, self.used = None, size, 0

    def add(self, block):
        end = self.used + len(block)
        kind = block.dtype if self.array is None else np.result_type(self.array.dtype, block.dtype)
        if self.array is None or kind != self.array.dtype or end > len(self.array):
            old, self.array = (
                self.array,
                np.zeros(max(self.size, end if self.array is None else 2 * end), kind),
            )
            if self.used:
                self.array[: self.used] = old[: self.used]
        self.array[self.used : end] = block
        self.used = end

    def whole(self):
        return np.zeros(0) if self.array is None else self.array[: self.used]


def _has_offsets(path, table, names):
    """True where a date-time in a GeoPackage carries a zone other than UTC, as newer GDAL may
    write."""
    if not names:
        return False
    # those of 20 and 24 characters end in Z: one look at the length is half of the work
    zoned = " OR ".join(
        f"(length({sql_name(name)}) NOT IN (20, 24) AND length({sql_name(name)}) > 19 AND"
        f" substr({sql_name(name)}, -6, 1) IN ('+', '-'))"
        for name in names
    )
    data = open_file(path)
    query = data and data.ExecuteSQL(
        f"SELECT EXISTS(SELECT 1 FROM {sql_name(table)} WHERE {zoned})"
    )
    if query is None:
        raise CannotStreamError
    try:
        return bool(query.GetNextFeature().GetFieldAsInteger(0))
    finally:
        data.ReleaseResultSet(query)
