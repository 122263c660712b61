"""Repairs for a run over partitions: read from a table, and given to the partitions whose captures
they name."""

import csv
from pathlib import Path

import numpy as np
import pyarrow.parquet as pq

from ..reconstruction.repairs import APPLIED, LOST, NO_CAPTURE, STATES, Repairs, why_words
from .geoparquet import SUFFIXES

COLUMNS = ("capture", "kind", "value", "time", "until", "decided_by", "decided_at", "remark")
NEEDED = ("capture", "kind", "time")


def read_repairs(path):
    """Read a table of repairs.

    Parameters
    ----------
    path : path
        CSV in UTF-8 with a header, or Parquet. Columns as in the plugin's layer `repairs`; others
        are ignored.

    Returns
    -------
    list of dict
        As `Repairs.from_rows` takes them.

    Raises
    ------
    ValueError
        If it cannot be read, or a row is not a repair; the message names file, row and column.
    """
    path = Path(path)
    try:
        if path.suffix.lower() in SUFFIXES:
            table = pq.read_table(path)
            names, rows = table.column_names, table.to_pylist()
        else:
            with open(path, newline="", encoding="utf-8-sig") as file:
                read = csv.DictReader(file)
                names, rows = read.fieldnames or [], list(read)
    except (OSError, UnicodeError, csv.Error) as error:
        raise ValueError(f"“{path}” cannot be read as a table of repairs: {error}") from error
    absent = [name for name in NEEDED if name not in names]
    if absent:
        raise ValueError(
            f"“{path}” has no column “{'”, “'.join(absent)}”. A table of repairs has the columns of"
            " the plugin's layer “repairs”"
        )
    rows = [_row(row, number, path) for number, row in enumerate(rows, 1)]
    try:
        Repairs.from_rows(rows)
    except ValueError as error:
        raise ValueError(f"“{path}”: {error}") from error
    return rows


def _row(row, number, path):
    """The columns of a repair, with numbers as floats and None for empty values."""
    out = {name: row.get(name) for name in COLUMNS}
    for name, value in out.items():
        if isinstance(value, str):
            value = value.strip() or None
        if name in ("time", "until") and value is not None:
            try:
                value = float(value)
            except ValueError:
                raise ValueError(
                    f"“{path}”: repair {number}: {name} must be a number of seconds, got {value!r}"
                ) from None
        elif value is not None:
            value = str(value)
        out[name] = value
    out["capture"] = out["capture"] or ""
    return out


def place_repairs(rows, captures, origin):
    """Repairs of some captures, by the codes and seconds of a table.

    Parameters
    ----------
    rows : list of dict
    captures : list of str
        Text of each code.
    origin : float

    Returns
    -------
    numbers : list of int
        Indices of these repairs among all.
    placed : PlacedRepairs or None
        None without repairs.
    """
    known = set(captures)
    numbers = [number for number, row in enumerate(rows) if row["capture"] in known]
    if not numbers:
        return [], None
    return numbers, Repairs.from_rows(rows[number] for number in numbers).placed(captures, origin)


def plain_outcomes(numbers, outcome):
    """What became of repairs, as plain values.

    Parameters
    ----------
    numbers : list of int
    outcome : RepairOutcome or None

    Returns
    -------
    list of tuple
        Number, state and why in words.
    """
    if outcome is None:
        return []
    states = [STATES[state] for state in np.asarray(outcome.state).tolist()]
    return list(zip(numbers, states, why_words(outcome.why)))


def outcomes_of(rows, parts):
    """What became of all repairs.

    Parameters
    ----------
    rows : list of dict
    parts : list of list of tuple
        From `plain_outcomes`, of each partition.

    Returns
    -------
    dict
        Number of repairs by state, and `not_applied`: those that were not, each with `row` (from
        1), `state` and `why`.
    """
    lost = STATES[LOST], why_words([NO_CAPTURE])[0]
    found = {number: (state, why) for part in parts for number, state, why in part}
    states = [found.get(number, lost) for number in range(len(rows))]
    counts = {state: sum(one == state for one, _ in states) for state in STATES}
    left = [
        {"row": number, **{name: row[name] for name in ("capture", "kind", "time")},
         "state": state, "why": why}
        for number, (row, (state, why)) in enumerate(zip(rows, states), 1)
        if state != STATES[APPLIED]
    ]  # fmt: skip
    return {**counts, "not_applied": left}
