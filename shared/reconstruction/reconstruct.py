"""The main job: streamed epochs to edges."""

from dataclasses import replace
from functools import partial

import numpy as np

from ..arrays.ragged import offsets_from_starts, place_in_group, stretch_starts
from ..epochs.reasons import describe
from ..epochs.screening import unusable
from ..epochs.settings import Settings
from ..epochs.stream import capture_medians, nominal_stream, stream_of
from ..parallel.pool import Loaded, Threads, run_parts
from ..tuning import EXECUTION
from .breaks import BREAK_NAMES
from .gaps import find_gaps
from .repair_outcomes import outcome_of
from .repairs import BREAK_HERE, FoundRepairs
from .results import (
    ROLE_NAMES,
    DrawnRuns,
    Edges,
    EpochOutcomes,
    Gaps,
    Reconstruction,
    Stations,
)
from .shares import CaptureShares, SharesWithStreams, part_count

__all__ = [
    "BREAK_NAMES",
    "ROLE_NAMES",
    "Edges",
    "Gaps",
    "Reconstruction",
    "Settings",
    "Stations",
    "describe",
    "reconstruct",
]


# long: the docstring names every parameter; the code has 30 lines
# parameters: all but the table have defaults; each is said by one caller or another
def reconstruct(
    table,
    settings=None,
    progress=None,
    nominal=None,
    pool=None,
    numbers=True,
    repairs=None,
    grid=None,
):
    """Turn streamed epochs into edges.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    progress : callable, optional
        Called with the share of work done, 0 to 1. It may raise to stop the work.
    nominal : NominalStream, optional
        Nominal values of the layer's streams, needed if the table holds only some of the layer's
        captures; see `nominal_stream`. By default found from the table.
    pool : Pool, optional
        Processes that share the work. The pool is closed and cannot be used again.
    numbers : bool, optional
        If False, `amount`, `chainage` and both residuals of the rows are None.
    repairs : PlacedRepairs, optional
        Decisions of a person, see `repairs.Repairs.placed`.
    grid : array_like of float, shape (2, 2), optional
        Coarse grid that positions were rounded to, see `nominal_stream`; `nominal` has its own.

    Returns
    -------
    Reconstruction
        Every row is either rejected with a reason or belongs to one edge.

    Notes
    -----
    Nominal values of the streams are found over the whole layer. Then whole captures are worked on,
    some hundred thousand epochs at a time (`part.fit`). Captures influence one another's edges only
    through the nominal values.
    """
    settings, progress = settings or Settings(), progress or _ignore
    streams, fits = 0.15, 0.95  # exact: shares of the work done by then
    progress(0.0)
    shares = CaptureShares(table)
    stream = _find_streams(
        shares, settings, (nominal, grid), lambda share: progress(streams * share), pool
    )
    shares = shares.split(part_count(len(table), pool.size if pool else 1))
    repairs = repairs if repairs is not None and len(repairs) else None
    epochs = EpochOutcomes.empty(len(table), numbers, repairs is not None)
    fitted = run_parts(
        Loaded("reconstruction.part", "fit", (settings, numbers)),
        SharesWithStreams(shares, stream, repairs),
        lambda share: progress(streams + (fits - streams) * share),
        pool,
        partial(shares.put, epochs),
    )
    if pool:
        pool.close()  # what follows needs the memory
    progress(fits)
    orders, drawn = zip(*fitted)
    drawn = _in_order_of_start(drawn, epochs, shares)
    found = None if repairs is None else FoundRepairs.of(repairs, table)
    result = _with_gaps(drawn, epochs, orders, stream, settings, found)
    if found is not None:
        outcome = outcome_of(found, table, result, settings)
        result = replace(result, repairs=outcome)
    progress(1.0)
    return result


def _ignore(share):
    """Progress that nobody reports."""


def _find_streams(shares, settings, layer, progress, pool):
    """Streams of all captures; `layer`: its nominal values, or None, and its grid."""
    parts = shares.split(-(-len(shares.table) // EXECUTION.stream_epochs))
    found = run_parts(
        partial(_medians_of, settings=settings),
        parts,
        progress,
        Threads(pool.size) if pool else None,
    )
    medians = parts.gather_medians(found)
    nominal, grid = layer
    return stream_of(medians, nominal or nominal_stream(medians, grid), settings)


def _medians_of(table, progress, settings):
    """Medians of the streams of a part."""
    progress(0.0)
    kept = unusable(table, settings.max_h_accuracy)[-1]
    progress(0.4)  # exact: share of the work
    return capture_medians(table, kept)


def _in_order_of_start(parts, epochs, shares):
    """The edges of all parts in order of capture and start; `epochs` get these numbers of edges."""
    drawn = DrawnRuns.concatenate(parts)
    edges = drawn.edges
    capture_start = np.full(int(edges.capture.max(initial=-1)) + 1, np.inf)
    np.minimum.at(capture_start, edges.capture, edges.started)
    order = np.lexsort((edges.started, edges.capture, capture_start[edges.capture]))
    number_of = np.empty(len(order), np.int64)
    number_of[order] = np.arange(len(order))
    places = [shares.rows(number) for number in range(len(shares))]
    epochs.number_edges(places, [len(part.edges) for part in parts], number_of)
    return drawn.take(order)


def _with_gaps(drawn, epochs, orders, stream, settings, found):
    """The result: all edges with the reasons of their ends, and the gaps between them."""
    # zeros: see DEVELOPERS.md
    order = np.concatenate(orders, out=np.zeros(sum(map(len, orders)), np.int64))
    asked = None if found is None else found.rows_of(BREAK_HERE)[0]
    gaps, columns = find_gaps(
        drawn.edges, drawn.ends, epochs.reason, order, stream.time_limit, asked
    )
    run = _count_in_stretch(drawn.edges.capture)
    return Reconstruction(
        **vars(epochs),
        edges=replace(drawn.edges, run=run, **columns),
        gaps=gaps,
        stream=stream,
        corners=drawn.corners,
        stations=drawn.stations if settings.station_spacing > 0 else None,
    )


def _count_in_stretch(values):
    """1, 2, 3... inside each stretch of equal values."""
    return place_in_group(offsets_from_starts(stretch_starts(values))) + 1
