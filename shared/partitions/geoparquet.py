"""GeoParquet files: points in, lines out, by versions 1.0.0 and 1.1.0 of the specification (OGC,
geoparquet.org)."""

import json
import os

import numpy as np
import pyarrow as pa
import pyarrow.compute as pc
import pyarrow.parquet as pq
import shapely

from ..arrays.ragged import ranges

VERSION = "1.1.0"
SUFFIXES = (".parquet", ".geoparquet", ".parq", ".pq")
DEFAULT_CRS = "OGC:CRS84"  # by the specification, if a file names none
# byte order and type of the usual points, and their whole length: plain, ISO Z, and Z by the older
# high bit
_COMMON = {
    (b"\x01\x01\x00\x00\x00", 21),
    (b"\x01\xe9\x03\x00\x00", 29),
    (b"\x01\x01\x00\x00\x80", 29),
}
_HEAD = np.dtype([("order", "u1"), ("type", "<u4"), ("count", "<u4")])
_LINE_Z = 1002


def geo_of(schema):
    """Read the ``geo`` entry of a file's metadata.

    Parameters
    ----------
    schema : pyarrow.Schema

    Returns
    -------
    geo : dict
        The entry.
    name : str
        Primary column.
    column : dict
        The entry's part on that column.

    Raises
    ------
    ValueError
        If the file is not GeoParquet with points.
    """
    text = (schema.metadata or {}).get(b"geo")
    if text is None:
        raise ValueError(
            "it is no GeoParquet: its metadata have no entry “geo”. Write it as GeoParquet 1.0"
            " or 1.1"
        )
    try:
        geo = json.loads(text)
        name = geo["primary_column"]
        column = geo["columns"][name]
        encoding, kinds = column["encoding"], column["geometry_types"]
    except (ValueError, KeyError, TypeError) as error:
        raise ValueError(
            f"its metadata entry “geo” is not that of GeoParquet 1.0 or 1.1 ({error!r})"
        ) from error
    if name not in schema.names:
        raise ValueError(
            f"its geometry column “{name}” is missing. It has: {', '.join(schema.names)}"
        )
    if encoding not in ("WKB", "point"):
        raise ValueError(
            f"its geometry column “{name}” is encoded as “{encoding}”; WKB or point is needed"
        )
    others = [kind for kind in kinds if kind.split()[0] not in ("Point", "MultiPoint")]
    if others:
        raise ValueError(
            f"its geometry column “{name}” holds {', '.join(others)}; points are needed"
        )
    return geo, name, column


def points(column, encoding):
    """Coordinates of a column of points.

    Parameters
    ----------
    column : pyarrow.ChunkedArray
        WKB, or structs of x, y and, with heights, z.
    encoding : str
        ``WKB`` or ``point``.

    Returns
    -------
    x, y, z : ndarray of float, shape (n,)
        NaN if absent, or if a geometry has several points.
    parts : ndarray of int64, shape (n,)
        Number of points.

    Raises
    ------
    ValueError
        If a geometry cannot be read, or is not a point.
    """
    read = _structs if encoding == "point" else _wkb
    chunks = [read(chunk) for chunk in column.chunks] or [np.zeros((4, 0))]
    x, y, z, parts = np.concatenate(chunks, axis=1)
    none = ~(np.isfinite(x) & np.isfinite(y)) & (parts == 1)
    # an empty point is written as NaN
    parts[none] = np.where(np.isnan(x[none]) & np.isnan(y[none]), 0, 1)
    return x, y, z, parts.astype(np.int64)


def _structs(array):
    """x, y, z and number of points of structs, shape (4, n)."""
    names = [field.name for field in array.type]
    out = np.full((4, len(array)), np.nan)
    for row, name in enumerate("xyz"):
        if name in names:
            out[row] = (
                pc.struct_field(array, name).cast(pa.float64()).to_numpy(zero_copy_only=False)
            )
    out[3] = array.is_valid().to_numpy(zero_copy_only=False)
    return out


def _wkb(array):
    """x, y, z and number of points of WKB, shape (4, n)."""
    out = np.full((4, len(array)), np.nan)
    out[3] = 0
    rows = np.flatnonzero(array.is_valid().to_numpy(zero_copy_only=False))
    present = array.drop_null().cast(pa.large_binary())
    if len(rows):
        plain = _common_points(present)
        out[:, rows] = _any_points(present) if plain is None else plain
    return out


def _common_points(array):
    """As `_wkb`, if all points have one of the common forms; None otherwise."""
    ends = np.frombuffer(array.buffers()[1], np.int64)[array.offset : array.offset + len(array) + 1]
    width = int(ends[1] - ends[0])
    if (np.diff(ends) != width).any() or width not in {length for _, length in _COMMON}:
        return None
    matrix = np.frombuffer(array.buffers()[2], np.uint8)[ends[0] : ends[-1]].reshape(-1, width)
    if (matrix[:, :5] != matrix[0, :5]).any() or (matrix[0, :5].tobytes(), width) not in _COMMON:
        return None
    values = np.ascontiguousarray(matrix[:, 5:]).view("<f8")
    out = np.full((4, len(matrix)), np.nan)
    out[: values.shape[1]] = values.T
    out[3] = 1
    return out


def _any_points(array):
    """As `_wkb`, for points of any form."""
    try:
        geometries = shapely.from_wkb(array.to_numpy(zero_copy_only=False))
    except shapely.errors.GEOSException as error:
        raise ValueError(f"a geometry cannot be read ({error})") from error
    kind, empty = shapely.get_type_id(geometries), shapely.is_empty(geometries)
    if ((kind != 0) & (kind != 4)).any():
        raise ValueError(
            f"a geometry is a {geometries[np.argmax((kind != 0) & (kind != 4))].geom_type}; points"
            " are needed"
        )
    parts = np.where(empty, 0, shapely.get_num_geometries(geometries))
    several = kind == 4
    geometries[several] = shapely.get_geometry(geometries[several], 0)
    geometries[parts != 1] = None
    return np.stack(
        [shapely.get_x(geometries), shapely.get_y(geometries), shapely.get_z(geometries), parts]
    )


def lines(x, y, z, offsets):
    """A column of LineString Z from ragged arrays, as ISO WKB, little endian.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (v,)
    offsets : ndarray of int, shape (lines + 1,)

    Returns
    -------
    pyarrow.BinaryArray
    """
    count = len(offsets) - 1
    heads = np.empty(count, _HEAD)
    heads["order"], heads["type"], heads["count"] = 1, _LINE_Z, np.diff(offsets)
    starts = (_HEAD.itemsize * np.arange(count + 1) + 24 * np.asarray(offsets, np.int64)).astype(
        np.int32
    )
    data, is_head = np.empty(starts[-1], np.uint8), np.zeros(starts[-1], bool)
    is_head[ranges(starts[:-1], np.full(count, _HEAD.itemsize))] = True
    data[is_head] = heads.view(np.uint8)
    data[~is_head] = np.ascontiguousarray(np.column_stack([x, y, z]), "<f8").view(np.uint8).ravel()
    return pa.Array.from_buffers(
        pa.binary(), count, [None, pa.py_buffer(starts), pa.py_buffer(data)]
    )


def line_metadata(x, y, source, geographic):
    """Make the ``geo`` entry of a file of lines.

    Parameters
    ----------
    x, y : ndarray of float, shape (v,)
        All vertices.
    source : dict
        Entry of the column from which the lines were made: its CRS, coordinate epoch and kind of
        edges are kept.
    geographic : bool
        True if the coordinates are degrees, which may lie on both sides of the antimeridian.

    Returns
    -------
    dict
    """
    entry = {key: source[key] for key in ("crs", "epoch", "edges") if key in source}
    column = {"encoding": "WKB", "geometry_types": ["LineString Z"], **entry}
    if len(x) and not (geographic and np.ptp(x) > 180):
        column["bbox"] = [float(x.min()), float(y.min()), float(x.max()), float(y.max())]
    return {"version": VERSION, "primary_column": "geometry", "columns": {"geometry": column}}


def write(table, geo, path):
    """Write a table and then rename it, so that nobody ever sees half of it.

    The folder must exist: workers left over from an abandoned run must not make it again.

    Parameters
    ----------
    table : pyarrow.Table
    geo : dict
        The ``geo`` entry of its metadata.
    path : pathlib.Path
    """
    table = table.replace_schema_metadata(
        {**(table.schema.metadata or {}), b"geo": json.dumps(geo)}
    )
    unfinished = path.with_name(f".{path.name}.{os.getpid()}")
    try:
        pq.write_table(table, unfinished, compression="zstd")
        os.replace(unfinished, path)
    finally:
        unfinished.unlink(missing_ok=True)
