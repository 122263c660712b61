"""One capture fitted again, with the same bytes as in its whole layer."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..epochs.screening import unusable
from ..epochs.settings import Settings
from ..epochs.stream import capture_medians, nominal_stream
from ..epochs.table import EpochTable
from ..tuning import REPAIR_LIMITS
from .breaks import END
from .reconstruct import reconstruct
from .results import EpochOutcomes, Gaps, Reconstruction, Stations


@dataclass(frozen=True)
class Refit:
    """One capture fitted again.

    Attributes
    ----------
    rows : int, shape (q,)
        The capture's rows in the table, rising.
    result : Reconstruction
        By these rows; the capture has the code 0, and edges count from 0. `result.repairs` holds
        the outcomes of this capture's repairs only.
    repair : int, shape (k,)
        Numbers of these repairs in the table of repairs.
    """

    rows: np.ndarray
    result: Reconstruction
    repair: np.ndarray


def nominal_of(table, settings=None, grid=None):
    """Nominal values of a layer's streams, as the fit of each capture needs them.

    They are measured without repairs, so that a repair of one capture changes no other one.

    Parameters
    ----------
    table : EpochTable
        Of the whole layer.
    settings : Settings, optional
    grid : array_like of float, shape (2, 2), optional
        As `reconstruct` takes it.

    Returns
    -------
    NominalStream
        Plain numbers and tuples.
    """
    kept = unusable(table, (settings or Settings()).max_h_accuracy)[-1]
    return nominal_stream(capture_medians(table, kept), grid)


def refit_capture(table, capture, nominal, settings=None, repairs=None):
    """Fit one capture again.

    Parameters
    ----------
    table : EpochTable
        Of the whole layer, or at least the rows of this capture.
    capture : int
        Its code.
    nominal : NominalStream
        Of the whole layer, from `nominal_of`.
    settings : Settings, optional
    repairs : PlacedRepairs, optional
        Those of other captures are ignored.

    Returns
    -------
    Refit
        Edges and epochs are, to the last bit, those of `reconstruct` for this capture in the whole
        layer with the same repairs; only the reason of its first start and of its last end may be
        `new_capture` there.

    Raises
    ------
    ValueError
        If the table has no row of this capture.
    """
    rows = np.flatnonzero(table.capture == capture)
    if not rows.size:
        raise ValueError(f"the table has no epoch of capture {capture}")
    own = None if repairs is None else repairs.of_captures(np.array([capture]))
    part, few = table.take(rows), len(rows) < REPAIR_LIMITS.alone
    fitted = _with_company(part) if few else part
    result = reconstruct(fitted, settings, nominal=nominal, repairs=own)
    result = _without_company(result, len(rows)) if few else result
    mine = np.zeros(0, np.int64) if own is None else np.flatnonzero(repairs.capture == capture)
    return Refit(rows, result, mine)


def _with_company(table):
    """A small capture followed by another one, a straight walk: some tests need a minimum number of
    epochs in all captures together, which any layer has."""
    count = REPAIR_LIMITS.alone
    step = np.arange(count, dtype=float)
    last = np.max(table.seconds, where=np.isfinite(table.seconds), initial=0.0)
    company = EpochTable.from_columns(
        step, np.zeros(count), step, last + 1 + step, np.full(count, 1)
    )
    return EpochTable(
        **{
            column.name: np.concatenate([getattr(part, column.name) for part in (table, company)])
            for column in fields(EpochTable)
        }
    )


def _without_company(result, size):
    """The result for the first `size` rows, which are the first capture."""
    mine = np.flatnonzero(result.edges.capture == 0)
    edges = result.edges.take(mine)
    if len(mine):
        edges.end_reason[-1] = END
    columns = {column.name: getattr(result, column.name) for column in fields(EpochOutcomes)}
    inner = result.gaps.before_edge < len(mine)
    gaps = Gaps(
        **{column.name: getattr(result.gaps, column.name)[inner] for column in fields(Gaps)}
    )
    at = result.stations
    if at is not None:
        own = at.edge < len(mine)
        at = Stations(**{column.name: getattr(at, column.name)[own] for column in fields(Stations)})
    return replace(
        result,
        **{name: None if one is None else one[:size] for name, one in columns.items()},
        edges=edges,
        gaps=gaps,
        stations=at,
        stream=result.stream.take(np.zeros(1, np.int64)),
    )
