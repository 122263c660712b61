"""What each run found of each layer, kept from run to run."""

import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
from qgis.core import QgsProviderRegistry

from ..host.fields import NewField, is_null
from ..host.figures import finite_or_none
from ..host.quotes import sql_name
from . import run_state
from .repairs import kinds_of_added

HISTORY = "history"
HISTORY_FIELDS = (
    NewField("run", "Int", "Number of the run, from 1."),
    NewField("started", "QString", "When the run was started, UTC."),
    NewField("layer", "QString", "The capture layer."),
    NewField("state", "QString", "`done` or `failed`."),
    NewField("epochs_read", "LongLong", "Epochs read."),
    NewField("epochs_kept", "LongLong", "Epochs kept."),
    NewField("epochs_rejected", "LongLong", "Epochs rejected."),
    NewField(
        "reasons",
        "QString",
        "Epochs rejected by reason, most frequent first: `not_fixed 12, spike 3`.",
    ),
    NewField("edges", "LongLong", "Edges made."),
    NewField("km", "Double", "Total length of the edges on the ground.", "km"),
    NewField(
        "sigma_median", "Double", "Median of `sigma_cross` of the edges (1-sigma, across).", "m"
    ),
    NewField(
        "repeatability",
        "Double",
        "RMS of the offsets between walks of one edge, by shared length; empty without merged"
        " passes.",
        "m",
    ),
    NewField("control_points", "Int", "Control points that were met; empty without control."),
    NewField("control_east", "Double", "Mean of spot point minus control point, east.", "m"),
    NewField("control_north", "Double", "The same, north.", "m"),
    NewField("control_up", "Double", "The same, up.", "m"),
)
NAMES = tuple(field.name for field in HISTORY_FIELDS)


def fields_added(path):
    """Fields that people added to the history.

    Parameters
    ----------
    path : Path
        GeoPackage of the last run.

    Returns
    -------
    list of NewField
    """
    rows = run_state.rows_of(path, HISTORY) if path.exists() else []
    return [NewField(name, kind, "") for name, kind in kinds_of_added(rows, NAMES).items()]


def former_rows(path, added=()):
    """Rows of `HISTORY_FIELDS` that former runs left in a GeoPackage, in their order.

    Parameters
    ----------
    path : Path
    added : sequence of NewField
        Further fields, whose values come last.

    Returns
    -------
    list of tuple
        Empty where there are none; None in fields that an older table has not got.
    """
    if not path.exists():
        return []
    with closing(sqlite3.connect(str(path))) as database:
        there = {row[1] for row in database.execute(f"PRAGMA table_info({HISTORY})")}
        if not {"run", "layer"} <= there:
            return []
        names = (*NAMES, *(one.name for one in added))
        wanted = ", ".join(sql_name(name) if name in there else "NULL" for name in names)
        return database.execute(f"SELECT {wanted} FROM {HISTORY} ORDER BY rowid").fetchall()


def runs_beside(layer):
    """The runs that the GeoPackage of a layer tells of.

    Parameters
    ----------
    layer : QgsVectorLayer or None

    Returns
    -------
    list of tuple
        As `by_run` has them; empty where no run of the batch wrote the file.
    """
    if layer is None:
        return []
    parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
    path = Path(parts.get("path") or "")
    if path.suffix.lower() != ".gpkg":
        return []
    try:
        return by_run(former_rows(path))
    except sqlite3.Error:
        return []  # locked, or no GeoPackage: the report stands without


def new_rows(number, started, captures, repeatability, differences):
    """Rows of `HISTORY_FIELDS` for the layers of this run.

    Parameters
    ----------
    number : int
        Of the run.
    started : str
    captures : sequence of Capture
    repeatability : dict of str to float
        By layer, metres.
    differences : dict of str to Difference
        By layer.

    Returns
    -------
    list of tuple
    """
    rows = []
    for capture in captures:
        head = number, started, capture.name
        if capture.error:
            rows.append((*head, "failed", *(None,) * (len(NAMES) - 4)))
            continue
        of, control = capture.numbers, differences.get(capture.name)
        rows.append(
            (
                *head,
                "done",
                of["EPOCHS_READ"],
                of["EPOCHS_KEPT"],
                of["EPOCHS_REJECTED"],
                ", ".join(f"{reason} {count}" for reason, count in capture.reasons),
                of["EDGES"],
                of["LENGTH"] / 1000,
                capture.sigma,
                repeatability.get(capture.name),
                *(
                    (control.number, control.east, control.north, finite_or_none(control.up))
                    if control is not None
                    else (None,) * 4
                ),
            )
        )
    return rows


def next_number(former):
    """Number of this run."""
    return 1 + max((row[0] for row in former if row[0] is not None), default=0)


def sigma_of(edges):
    """Median of the uncertainty across the edges, metres; None where there is none."""
    values = [row["sigma_cross"] for row in edges if not is_null(row["sigma_cross"])]
    return finite_or_none(np.median(values)) if values else None


def repeatability_of(passes, label):
    """RMS of the offsets between walks, by shared length, for each layer, metres.

    Parameters
    ----------
    passes : list of QgsFeature
        Rows of `passes`.
    label : callable
        Tells the layer of a row.

    Returns
    -------
    dict of str to float
    """
    sums = {}
    for row in passes:
        if not is_null(row["offset_rms"]) and not is_null(row["shared_length"]):
            total = sums.setdefault(label(row), [0.0, 0.0])
            total[0] += row["shared_length"] * row["offset_rms"] ** 2
            total[1] += row["shared_length"]
    return {
        name: float(np.sqrt(square / length)) for name, (square, length) in sums.items() if length
    }


def by_run(rows):
    """Each run in one row, for the report.

    Parameters
    ----------
    rows : list of tuple
        Of `HISTORY_FIELDS`.

    Returns
    -------
    list of tuple
        Number, when, layers done, layers failed, epochs read, epochs kept, km, sigma (mean of the
        layers' medians by length), repeatability (RMS by length), greatest difference from control
        points in plan; metres, NaN where there is none.
    """
    runs = {}
    for row in rows:
        record = dict(zip(NAMES, row))
        runs.setdefault(record["run"], []).append(record)
    return [_run_in_short(number, some) for number, some in runs.items()]


def _run_in_short(number, records):
    done = [record for record in records if record["state"] == "done"]

    def total(name):
        return sum(record[name] or 0 for record in done)

    def mean(name, power):
        some = [
            (record["km"], record[name] ** power)
            for record in done
            if record[name] is not None and record["km"]
        ]
        weight = sum(km for km, _ in some)
        return (sum(km * value for km, value in some) / weight) ** (1 / power) if some else np.nan

    control = [
        np.hypot(record["control_east"], record["control_north"])
        for record in done
        if record["control_east"] is not None and record["control_north"] is not None
    ]
    return (
        number,
        records[0]["started"] or "",
        len(done),
        len(records) - len(done),
        total("epochs_read"),
        total("epochs_kept"),
        total("km"),
        mean("sigma_median", 1),
        mean("repeatability", 2),
        float(max(control)) if control else np.nan,
    )
