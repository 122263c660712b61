"""The work on one partition: survey, streams, edges. It runs in the workers.

All arguments and results are plain: texts, numbers, dicts, arrays. So a worker need not share any
class with the calling process.
"""

import json
import platform
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import pyarrow as pa
import pyarrow.parquet as pq
import pyproj
import scipy
import shapely
from pyproj import CRS

from ..epochs.reasons import REASON_NAMES, Reason, describe
from ..epochs.screening import unusable
from ..epochs.settings import Settings
from ..epochs.stream import NominalStream, capture_medians
from ..epochs.table import EpochTable
from ..reconstruction.breaks import BREAK_NAMES, END, NEW_CAPTURE, START
from ..reconstruction.reconstruct import ROLE_NAMES, reconstruct
from . import geoparquet
from .columns import read_columns
from .frame import Frame, horizontal, spread
from .partition_repairs import place_repairs, plain_outcomes

EDGE_FIELDS = (
    ("edge_id", pa.int64()),
    ("capture", pa.string()),
    ("run", pa.int32()),
    ("started", pa.timestamp("ms", "UTC")),
    ("ended", pa.timestamp("ms", "UTC")),
    ("started_unix", pa.float64()),
    ("ended_unix", pa.float64()),
    ("epochs_used", pa.int32()),
    ("epochs_rejected", pa.int32()),
    ("length", pa.float64()),
    ("rms_residual", pa.float64()),
    ("max_residual", pa.float64()),
    ("sigma_cross", pa.float64()),
    ("sigma_up", pa.float64()),
    ("closed", pa.bool_()),
    ("start_reason", pa.string()),
    ("end_reason", pa.string()),
    ("curve_model", pa.string()),
)
GAP_FIELDS = (
    ("gap_id", pa.int64()),
    ("capture", pa.string()),
    ("after_edge", pa.int64()),
    ("before_edge", pa.int64()),
    ("seconds", pa.float64()),
    ("metres", pa.float64()),
    ("reason", pa.string()),
)
EPOCH_FIELDS = (
    ("edge_id", pa.int64()),
    ("reason", pa.string()),
    ("detail", pa.string()),
    ("chainage", pa.float64()),
    ("residual_cross", pa.float64()),
    ("residual_up", pa.float64()),
    ("role", pa.string()),
    ("height_used", pa.bool_()),
)


def versions():
    """List the versions that must agree on all workers, so that results do not depend on which
    worker did what.

    Returns
    -------
    dict of str to str
    """
    return {
        "Python": platform.python_version(),
        "numpy": np.__version__,
        "scipy": scipy.__version__,
        "shapely": shapely.__version__,
        "GEOS": shapely.geos_version_string,
        "pyarrow": pa.__version__,
        "pyproj": pyproj.__version__,
        "PROJ": pyproj.proj_version_str,
    }


def folder_keys(name):
    """Find columns that are given by names of folders, as ``capture=7/part.parquet``.

    Parameters
    ----------
    name : str
        Path inside the data set.

    Returns
    -------
    dict of str to str
        From column to value.
    """
    pairs = (part.split("=", 1) for part in name.split("/")[:-1] if "=" in part)
    return {key: value for key, value in pairs if key}


def names_of(path, name):
    """Names of all columns of a file, those of its folders included.

    Parameters
    ----------
    path : path
    name : str
        Its path inside the data set.

    Returns
    -------
    list of str
    """
    schema = pq.read_schema(path)
    return [*schema.names, *(key for key in folder_keys(name) if key not in schema.names)]


def _read(job, name, whole=False):
    """The table of a file, and its geometry column as from `geoparquet.geo_of`."""
    path = Path(job["source"], name)
    schema = pq.read_schema(path)
    geo = geoparquet.geo_of(schema)
    if job["crs"]:
        geo[2]["crs"] = CRS.from_user_input(job["crs"]).to_json_dict()
    keys = {key: value for key, value in folder_keys(name).items() if key not in schema.names}
    wanted = list(
        dict.fromkeys(
            [geo[1], *(column for columns in job["taken"].values() for column in columns)]
        )
    )
    absent = [column for column in wanted if column not in schema.names and column not in keys]
    if absent:
        raise ValueError(
            f"it has no column “{absent[0]}”, which other files have. Give all files the same"
            f" columns, or choose another one. It has: {', '.join([*schema.names, *keys])}"
        )
    with pq.ParquetFile(path) as file:
        table = file.read(
            schema.names if whole else [column for column in wanted if column in schema.names]
        )
    for key, value in keys.items():
        table = table.append_column(key, pa.repeat(pa.scalar(value), len(table)))
    return table, geo


def _columns(job, table, geo):
    """Coordinates and columns of a table."""
    return geoparquet.points(table[geo[1]], geo[2]["encoding"]), read_columns(
        table, job["taken"], job["fixed_values"]
    )


def _crs_of(geo):
    """CRS of a file as text: PROJJSON, or the default's name if the file gives none."""
    crs = geo[2].get("crs", geoparquet.DEFAULT_CRS)
    if crs is None:
        raise ValueError(
            "its CRS is unknown (“crs” is null). Name it with --crs, for example --crs EPSG:25832"
        )
    return crs if isinstance(crs, str) else json.dumps(crs, sort_keys=True)


def survey(job, name):
    """Find what must be known of every file before the work can begin.

    Parameters
    ----------
    job : dict
        As `runner.run` makes it.
    name : str
        Path of the file inside the data set.

    Returns
    -------
    dict
        `crs` as text; `rows`; `captures` (sorted texts) and their numbers of `epochs`; `spread` as
        from `frame.spread`; `first` and `last` time, NaN for none, and the `kind` of times;
        `versions`.
    """
    table, geo = _read(job, name)
    crs = _crs_of(geo)
    (x, y, _, parts), columns = _columns(job, table, geo)
    alone = parts == 1
    known = columns.seconds[np.isfinite(columns.seconds)]
    return {
        "crs": crs,
        "rows": len(table),
        "captures": pa.array(columns.captures.tolist(), pa.large_string()),
        "epochs": np.bincount(columns.capture, minlength=len(columns.captures)),
        "spread": spread(crs, x[alone], y[alone]),
        "first": float(known.min()) if len(known) else np.nan,
        "last": float(known.max()) if len(known) else np.nan,
        "kind": columns.kind,
        "versions": versions(),
    }


@dataclass(frozen=True)
class _Loaded:
    """All epochs of the captures that belong to a partition, from whichever files."""

    epochs: EpochTable
    captures: np.ndarray  # texts, by code
    table: pa.Table  # None if not wanted
    geo: tuple
    frame: Frame


def _load(job, unit, whole=False):
    """Read a partition: its file without the captures that belong to earlier files, and the rows of
    its own captures from later files."""
    frame = Frame(job["crs_text"], tuple(job["centre"]))
    sources = [(unit["name"], unit["without"], True)]
    sources += [(name, texts, False) for name, texts in unit["further"]]
    kept, tables = [], []
    for name, texts, leave_out in sources:
        table, geo = _read(job, name, whole)
        points, columns = _columns(job, table, geo)
        listed = (
            np.isin(columns.captures, np.array(texts, dtype=object))
            if len(texts)
            else np.zeros(len(columns.captures), bool)
        )
        rows = np.flatnonzero((listed != leave_out)[columns.capture])
        kept.append(_rows_of(points, columns, rows))
        if whole:
            tables.append(table.take(rows) if len(rows) < len(table) else table)
        if name == unit["name"]:
            first = geo
    joined = {name: np.concatenate([part[name] for part in kept]) for name in kept[0]}
    captures, codes = _factor(joined.pop("text"))
    x, y, scale = frame.local(joined.pop("x"), joined.pop("y"))
    z, seconds = joined.pop("z") * frame.height_unit, joined.pop("seconds") - job["origin"]
    return _Loaded(
        epochs=EpochTable.from_columns(x, y, z, seconds, capture=codes, scale=scale, **joined),
        captures=captures,
        table=pa.concat_tables(tables, promote_options="permissive") if whole else None,
        geo=first,
        frame=frame,
    )


def _rows_of(points, columns, rows):
    """Some rows of a file, by the names of the table's columns; `text`: of the capture."""
    x, y, z, parts = points
    none = np.full(len(x), np.nan)
    return {
        "x": x[rows],
        "y": y[rows],
        "z": z[rows],
        "parts": parts[rows],
        "seconds": columns.seconds[rows],
        "fixed": columns.fixed[rows],
        "sigma_h": (none if columns.sigma_h is None else columns.sigma_h)[rows],
        "sigma_v": (none if columns.sigma_v is None else columns.sigma_v)[rows],
        "text": columns.captures[columns.capture[rows]],
    }


def _factor(texts):
    """Sorted texts and codes of an array of object."""
    if not len(texts):
        return np.zeros(0, object), np.zeros(0, np.int64)
    return np.unique(texts, return_inverse=True)


def streams(job, unit):
    """Find the medians of the streams of a partition's captures.

    Parameters
    ----------
    job : dict
    unit : dict
        Partition, as `runner.run` makes it.

    Returns
    -------
    value, number : ndarray, shape (5, captures)
        The arrays of `Medians`.
    """
    epochs = _load(job, unit).epochs
    medians = capture_medians(epochs, unusable(epochs, job["settings"]["max_h_accuracy"])[-1])
    return medians.value, medians.number


def fit(job, unit):
    """Reconstruct the captures of a partition and write their edges, gaps and, on request, epochs.

    Parameters
    ----------
    job : dict
    unit : dict
        Partition, as `runner.run` makes it.

    Returns
    -------
    dict
        Counts `epochs`, `reasons` (by reason), `edges`, `vertices`, `gaps`; `length` in metres;
        `repairs`: number, state and why of each that names one of the captures.
    """
    loaded = _load(job, unit, job["write_epochs"])
    numbers, placed = place_repairs(job["repairs"], loaded.captures.tolist(), job["origin"])
    result = reconstruct(
        loaded.epochs,
        Settings(**job["settings"]),
        nominal=NominalStream(*job["nominal"]),
        repairs=placed,
    )
    base = np.asarray(unit["base"], np.int64)
    ids = base[result.edges.capture] + result.edges.run
    folder, edges = Path(job["target"]), result.edges
    # captures are next to each other in a file by chance
    gaps = result.gaps.reason != NEW_CAPTURE
    _write_lines(
        folder / "edges" / unit["out"],
        loaded,
        (edges.x, edges.y, edges.z),
        edges.offsets,
        _arrays(EDGE_FIELDS, _edge_columns(job, loaded, edges, ids)),
    )
    rims = tuple(rim[gaps].ravel() for rim in (result.gaps.x, result.gaps.y, result.gaps.z))
    _write_lines(
        folder / "gaps" / unit["out"],
        loaded,
        rims,
        np.arange(0, 2 * np.count_nonzero(gaps) + 1, 2),
        _arrays(GAP_FIELDS, _gap_columns(loaded, result.gaps, ids, gaps)),
    )
    if job["write_epochs"]:
        _write_epochs(folder / "epochs" / unit["out"], loaded, result, ids)
    counts = np.bincount(result.reason, minlength=len(REASON_NAMES)).tolist()
    return {
        "epochs": len(loaded.epochs),
        "reasons": dict(zip(("kept", *REASON_NAMES[1:]), counts)),
        "edges": len(result.edges),
        "vertices": len(result.edges.x),
        "length": float(result.edges.length.sum()),
        "gaps": int(np.count_nonzero(gaps)),
        "repairs": plain_outcomes(numbers, result.repairs),
    }


def _arrays(fields, columns):
    """Columns of a file by name, in the order and of the types of `fields`."""
    return {name: pa.array(columns[name], kind, from_pandas=True) for name, kind in fields}


def _write_lines(path, loaded, vertices, offsets, columns):
    """Write lines with their columns; `vertices`: x, y, z in the frame."""
    x, y, z = vertices
    x, y = loaded.frame.back(x, y)
    lines = geoparquet.lines(x, y, z / loaded.frame.height_unit, offsets)
    geographic = horizontal(loaded.frame.text)[0].is_geographic
    metadata = geoparquet.line_metadata(x, y, loaded.geo[2], geographic)
    geoparquet.write(pa.table({"geometry": lines, **columns}), metadata, path)


def _names(codes, names):
    """Names by code."""
    return np.array(names, dtype=object)[codes]


def _edge_columns(job, loaded, edges, ids):
    """Values of `EDGE_FIELDS`, by name."""
    started, ended = edges.started + job["origin"], edges.ended + job["origin"]
    moments = [
        (
            np.round(when * 1000).astype("M8[ms]")
            if job["dated"]
            else np.full(len(when), "NaT", "M8[ms]")
        )
        for when in (started, ended)
    ]
    # a capture starts and ends on its own, whatever others are in the file
    reasons = [
        np.where(why == NEW_CAPTURE, outer, why)
        for why, outer in ((edges.start_reason, START), (edges.end_reason, END))
    ]
    return {
        "edge_id": ids,
        "capture": loaded.captures[edges.capture],
        "run": edges.run,
        "started": moments[0],
        "ended": moments[1],
        "started_unix": started,
        "ended_unix": ended,
        "epochs_used": edges.epochs_used,
        "epochs_rejected": edges.epochs_rejected,
        "length": edges.length,
        "rms_residual": edges.rms_residual,
        "max_residual": edges.max_residual,
        "sigma_cross": edges.sigma_cross,
        "sigma_up": edges.sigma_up,
        "closed": edges.closed,
        "start_reason": _names(reasons[0], BREAK_NAMES),
        "end_reason": _names(reasons[1], BREAK_NAMES),
        "curve_model": _names(edges.by_elements.astype(int), ("spline", "elements")),
    }


def _gap_columns(loaded, gaps, ids, wanted):
    """Values of `GAP_FIELDS`, by name."""
    after = ids[gaps.after_edge[wanted]]
    return {
        "gap_id": after,
        "capture": loaded.captures[gaps.capture[wanted]],
        "after_edge": after,
        "before_edge": ids[gaps.before_edge[wanted]],
        "seconds": gaps.seconds[wanted],
        "metres": gaps.metres[wanted],
        "reason": _names(gaps.reason[wanted], BREAK_NAMES),
    }


def _write_epochs(path, loaded, result, ids):
    """Write every source column, then what became of the epoch; source columns named like a new one
    get the suffix “_source”."""
    rejected = result.reason != Reason.KEPT
    edge = np.append(ids, 0)[result.edge]
    reason = np.where(rejected, _names(result.reason, REASON_NAMES), None)
    detail = np.full(len(reason), None, object)
    detail[rejected] = describe(result.reason[rejected], result.amount[rejected])
    columns = {
        "edge_id": edge,
        "reason": reason,
        "detail": detail,
        "chainage": result.chainage,
        "residual_cross": result.residual_cross,
        "residual_up": result.residual_up,
        "role": np.where(rejected, None, _names(result.role, ROLE_NAMES)),
        "height_used": result.height_used,
    }
    geo, primary, _ = loaded.geo
    table = loaded.table
    new = {name for name, _ in EPOCH_FIELDS}
    renamed = {name: f"{name}_source" for name in table.column_names if name in new}
    table = table.rename_columns([renamed.get(name, name) for name in table.column_names])
    mask = {"edge_id": rejected, "height_used": rejected}
    for name, kind in EPOCH_FIELDS:
        column = pa.array(columns[name], kind, mask=mask.get(name), from_pandas=True)
        table = table.append_column(name, column)
    entries = {
        renamed.get(name, name): {
            key: value for key, value in entry.items() if key not in ("bbox", "covering")
        }
        for name, entry in geo["columns"].items()
    }
    geoparquet.write(
        table, {**geo, "primary_column": renamed.get(primary, primary), "columns": entries}, path
    )
