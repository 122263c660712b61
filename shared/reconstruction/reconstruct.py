"""The main job: streamed epochs to edges."""

from copy import copy
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import place_in_group, ranges
from ..epochs.reasons import Reason, describe
from ..epochs.screening import unusable
from ..epochs.settings import Settings
from ..epochs.stream import Medians, Stream, capture_medians, nominal_stream, stream_of
from ..parallel.pool import Loaded, Threads, run_parts
from .breaks import BREAK_NAMES, END, NEW_CAPTURE, START, break_reasons
from .runs import Part, Rows, Runs

__all__ = [
    "BREAK_NAMES",
    "ROLE_NAMES",
    "Edges",
    "Gaps",
    "Reconstruction",
    "Settings",
    "describe",
    "reconstruct",
]

ROLE_NAMES = ("", "single", "standing")
LEAST_PART = 40_000  # epochs below which a part is not worth a process
LEAST_REST = 10_000  # likewise of what is fitted again, which takes longer
LOOKED = 80_000  # epochs whose streams are looked at together
CHUNK = 250_000  # epochs fitted together, whole captures or whole runs
AT_WORK = 500_000  # epochs in all parts that are fitted side by side; both bound the memory


@dataclass(frozen=True)
class Edges:
    """Edges as ragged arrays; vertices of edge ``e`` are ``offsets[e]`` to ``offsets[e + 1] - 1``.

    `x`, `y`, `z` in metres (z NaN where the layer has no heights); `started`, `ended` in the
    table's seconds; `length`, `rms_residual`, `max_residual`, `sigma_cross`, `sigma_up` in metres;
    `start_reason`, `end_reason` are places in `BREAK_NAMES`; `run` counts from 1 inside its
    capture; `by_elements`: its curve is of tangents and arcs, else a spline.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    capture: np.ndarray
    run: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    epochs_used: np.ndarray
    epochs_rejected: np.ndarray
    length: np.ndarray
    rms_residual: np.ndarray
    max_residual: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray
    closed: np.ndarray
    start_reason: np.ndarray
    end_reason: np.ndarray
    by_elements: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1


@dataclass(frozen=True)
class Stations:
    """Places along the edges; arrays of shape (k,).

    `x`, `y`, `z` on the line written, metres; `edge`; `chainage` in ground metres; `slope` along
    the edge, m/m, + rising; `sigma_cross`, `sigma_up` in metres, 1-sigma of the edge there, what
    the receiver keeps for a minute included.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    slope: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray

    def __len__(self):
        return len(self.x)


@dataclass(frozen=True)
class Gaps:
    """Where lines stop and go on. `x`, `y`, `z`, shape (g, 2): the two rims; `reason` are places in
    `BREAK_NAMES`."""

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    seconds: np.ndarray
    metres: np.ndarray
    reason: np.ndarray
    capture: np.ndarray
    after_edge: np.ndarray
    before_edge: np.ndarray

    def __len__(self):
        return len(self.seconds)


@dataclass(frozen=True)
class Reconstruction:
    """Edges, gaps, and what became of every epoch; arrays of shape (n,) by source row.

    Attributes
    ----------
    reason, amount
        As in `Screening`; reason 0 where the epoch is in an edge.
    role : uint8
        Place in `ROLE_NAMES`.
    height_used : bool
    edge : int
        Index of the edge, -1 where rejected.
    chainage, residual_cross, residual_up : float
        Metres, NaN where rejected; `residual_cross` is + to the right of the edge.
    edges : Edges
    gaps : Gaps
    stream : Stream
    corners : ndarray of float, shape (c, 2)
        In the order of the edges.
    stations : Stations
        None where the settings ask for none.
    """

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    edge: np.ndarray
    chainage: np.ndarray
    residual_cross: np.ndarray
    residual_up: np.ndarray
    edges: Edges
    gaps: Gaps
    stream: Stream
    corners: np.ndarray
    stations: Stations


def reconstruct(table, settings=None, checkpoint=None, usual=None, pool=None, numbers=True):
    """Turn streamed epochs into edges.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1, between the stages. It may raise to stop the
        work.
    usual : NominalStream, optional
        What the streams of the layer are like, where the table holds a part of its captures only;
        see `nominal_stream`. Found from the table where left out.
    pool : Pool, optional
        Processes that share the work. They end with it: the pool is not to be used again.
    numbers : bool, optional
        False where nobody asks for the numbers of each row: `amount`, `chainage` and both residuals
        are then None.

    Returns
    -------
    Reconstruction
        Every row is either rejected with a reason or belongs to one edge.

    Notes
    -----
    Screening, collapsing of standing epochs, breaks, tangents and arcs with their corners, splines
    through them, thinning. What the streams are usually like is found over the whole layer; then
    whole captures are taken some hundred thousand epochs at a time, and after them the runs in
    which something was not confirmed, of all captures together. No capture has a say in another
    one's edges but by what is usual.
    """
    settings = settings or Settings()
    checkpoint = checkpoint or (lambda share: None)
    checkpoint(0.0)
    shares = _Shares(table)
    looking = shares.split(-(-len(table) // LOOKED))
    looked = run_parts(
        partial(_look, settings=settings),
        looking,
        lambda share: checkpoint(0.15 * share),
        Threads(pool.size) if pool else None,
    )
    medians = looking.scatter(looked)
    stream = stream_of(medians, usual or nominal_stream(medians), settings)
    shares = shares.split(_parts_of(len(table), pool.size if pool else 1, LEAST_PART))
    rows, height_ok = Rows.empty(len(table), numbers), np.zeros(len(table), bool)
    fitted = run_parts(
        Loaded("reconstruction.part", "fit", (settings, numbers)),
        _Given(shares, stream),
        lambda share: checkpoint(0.15 + 0.7 * share),
        pool,
        partial(shares.put, rows, height_ok),
    )
    drawn, order, left = (list(kind) for kind in zip(*fitted))
    rows.number_on(drawn, [shares.rows(number) for number in range(len(shares))], 0)
    left = [runs for runs in left if runs is not None]
    if left:
        # few runs of each part: together they take less time
        rest = _Rest(table, height_ok, Runs.concatenate(left), stream, pool.size if pool else 1)
        again = run_parts(
            Loaded("reconstruction.part", "fit_rest", (settings, numbers)),
            rest,
            lambda share: checkpoint(0.85 + 0.1 * share),
            pool,
            partial(rest.put, rows),
        )
        rows.number_on(
            again,
            [runs.positions.rows for runs in rest.runs],
            sum(len(part.capture) for part in drawn),
        )
        drawn += again
    if pool:
        pool.close()  # what follows needs the memory
    checkpoint(0.95)
    whole = Part(
        *(np.concatenate([getattr(part, column.name) for part in drawn]) for column in fields(Part))
    )
    # zeros: see DEVELOPERS.md, Measure
    order = np.concatenate(order, out=np.zeros(sum(map(len, order)), np.int64))
    result = _finish(table, order, stream, rows, whole, settings.station_spacing > 0)
    checkpoint(1.0)
    return result


def _parts_of(epochs, workers, least):
    """Number of parts for so many epochs: whole rounds of the workers, so that none is left alone
    with the last part."""
    count = -(-epochs // min(CHUNK, AT_WORK // workers))
    return (
        -(-count // workers) * workers
        if count > workers
        else max(count, min(workers, epochs // least), 1)
    )


class _Shares:
    """The table in parts of whole captures, about as large as each other, first in one; a sequence
    of `EpochTable`."""

    def __init__(self, table):
        self.table = table
        codes = table.capture
        self.order = None if (codes[1:] >= codes[:-1]).all() else np.argsort(codes, kind="stable")
        codes = codes if self.order is None else codes[self.order]
        starts = np.flatnonzero(np.append(True, codes[1:] != codes[:-1])[: len(codes)])
        self.codes, self.ends = codes[starts], np.append(starts, len(table))
        self._cut(1)

    def _cut(self, count):
        self.captures = np.unique(
            np.searchsorted(self.ends, np.linspace(0, len(self.table), max(count, 1) + 1), "left")
        )
        self.bounds = self.ends[self.captures]

    def split(self, count):
        """The same in so many parts, or fewer."""
        other = copy(self)
        other._cut(count)
        return other

    def __len__(self):
        return max(len(self.bounds) - 1, 1)

    def rows(self, number):
        """Rows of a part."""
        here = slice(*self.bounds[number : number + 2]) if len(self.bounds) > 1 else slice(0, 0)
        return here if self.order is None else self.order[here]

    def __getitem__(self, number):
        return self.table.take(self.rows(number))

    def own(self, number):
        """Captures of a part."""
        return (
            self.codes[self.captures[number] : self.captures[number + 1]]
            if len(self.bounds) > 1
            else self.codes
        )

    def scatter(self, parts):
        """Medians of the table's captures from those of the parts; nothing for codes without a
        row."""
        count = int(self.codes[-1]) + 1 if len(self.codes) else 0
        value, number = np.full((5, count), np.nan), np.zeros((5, count), np.int64)
        for place, part in enumerate(parts):
            value[:, self.own(place)], number[:, self.own(place)] = part.value, part.number
        return Medians(value, number)

    def put(self, rows, height_ok, number, result):
        """Put a part's rows in their place; its runs, its rows by capture and time, and its runs
        that are to be fitted again, by the numbers of the whole table."""
        own, part, ordered, usable, again = result
        here = self.rows(number)
        rows.put(here, own)
        height_ok[here] = usable
        captures = self.own(number)
        whole = (
            (lambda places: places + here.start)
            if self.order is None
            else (lambda places: here[places])
        )
        return (
            part.placed(captures, whole),
            whole(ordered),
            None if again is None else again.placed(captures, whole),
        )


class _Rest:
    """Runs that are to be fitted again, in parts of about as many epochs each, with what is needed
    of the table; a sequence."""

    def __init__(self, table, height_ok, runs, stream, workers):
        self.table, self.height_ok, self.stream = table, height_ok, stream
        last = runs.positions.offsets[runs.offsets[1:]]  # epochs up to the end of each run
        count = _parts_of(last[-1], workers, LEAST_REST)
        cuts = np.unique(np.searchsorted(last, np.linspace(0, last[-1], count + 1)[1:]) + 1)
        self.runs = [
            runs.pick(np.arange(low, high)) for low, high in zip(np.append(0, cuts[:-1]), cuts)
        ]

    def __len__(self):
        return len(self.runs)

    def __getitem__(self, number):
        runs = self.runs[number]
        source = runs.positions.rows
        own, capture = np.unique(runs.positions.capture, return_inverse=True)
        positions = replace(runs.positions, rows=np.arange(len(source)), capture=capture)
        return (
            self.table.take(source),
            self.height_ok[source],
            replace(runs, positions=positions),
            self.stream.take(own),
        )

    def put(self, rows, number, result):
        """As `_Shares.put`, of the runs alone."""
        positions = self.runs[number].positions
        rows.put(positions.rows, result[0])
        return result[1].placed(np.unique(positions.capture), lambda places: positions.rows[places])


class _Given:
    """Parts of a table, each with the streams of its own captures; a sequence."""

    def __init__(self, shares, stream):
        self.shares, self.stream = shares, stream

    def __len__(self):
        return len(self.shares)

    def __getitem__(self, number):
        return self.shares[number], self.stream.take(self.shares.own(number))


def _look(table, checkpoint, settings):
    """What the captures of a part say of their streams."""
    checkpoint(0.0)
    kept = unusable(table, settings.max_h_accuracy)[-1]
    checkpoint(0.4)
    return capture_medians(table, kept)


def _finish(table, order_of_rows, stream, rows, part, wanted_stations):
    """Edges in the order of their start, the gaps between them, and the rows' edges."""
    runs = len(part.capture)
    captures = int(table.capture.max()) + 1 if len(table) else 0
    capture_start = np.full(captures, np.inf)
    np.minimum.at(capture_start, part.capture, part.started)
    order = np.lexsort((part.started, part.capture, capture_start[part.capture]))
    number_of = np.full(runs + 1, -1, np.int64)  # the last one is for rows without a run
    number_of[order] = np.arange(runs)
    # -1 is the last one
    edge = np.take(number_of, rows.run, mode="wrap", out=np.zeros(len(table), np.int64))
    gaps, start_reason, end_reason, rejected = _find_gaps(
        order_of_rows, stream, rows.reason, part, order
    )

    in_order = lambda values, number: values[
        ranges((np.cumsum(number) - number)[order], number[order])
    ]
    x, y, z = in_order(part.xyz, part.vertices).T
    edges = Edges(
        x,
        y,
        z,
        np.concatenate([[0], np.cumsum(part.vertices[order])]),
        part.capture[order],
        _count_in_group(part.capture[order]),
        part.started[order],
        part.ended[order],
        part.epochs_used[order],
        rejected,
        part.length[order],
        part.rms_residual[order],
        part.max_residual[order],
        part.sigma_cross[order],
        part.sigma_up[order],
        part.closed[order],
        start_reason,
        end_reason,
        part.by_elements[order],
    )
    number = part.station_number[order]
    x, y, z, *rest = in_order(part.stations, part.station_number).T
    stations = (
        Stations(x, y, z, np.repeat(np.arange(runs), number), *rest) if wanted_stations else None
    )
    return Reconstruction(
        rows.reason,
        rows.amount,
        rows.role,
        rows.height_used,
        edge,
        rows.chainage,
        rows.cross,
        rows.up,
        edges,
        gaps,
        stream,
        in_order(part.corners, part.corner_number),
        stations,
    )


def _count_in_group(values):
    """1, 2, 3... inside each stretch of equal values."""
    if not len(values):
        return np.zeros(0, np.int64)
    change = np.concatenate([[True], values[1:] != values[:-1]])
    return place_in_group(np.append(np.flatnonzero(change), len(values))) + 1


def _places(rows, order):
    """Places of some rows in an order of rows."""
    if (order[1:] > order[:-1]).all():
        return np.searchsorted(order, rows)
    place = np.empty(order.max() + 1, np.int64)
    place[order] = np.arange(len(order))
    return place[rows]


def _find_gaps(order_of_rows, stream, reason, part, order):
    """Gaps between consecutive edges, the reasons at both ends of each edge, and rejected rows
    inside each edge.

    All in the order of the edges.
    """
    runs = len(order)
    why = reason[order_of_rows]
    lost = {
        r: np.flatnonzero(why == r) for r in (Reason.NOT_FIXED, Reason.POOR_ACCURACY, Reason.SPIKE)
    }
    first, last = _places(np.stack([part.first_row[order], part.last_row[order]]), order_of_rows)
    out = np.flatnonzero(why)
    # neither end is one of them
    rejected = np.searchsorted(out, last) - np.searchsorted(out, first)

    start_reason, end_reason = np.full(runs, START, np.uint8), np.full(runs, END, np.uint8)
    capture = part.capture[order]
    a, b = np.arange(runs - 1), np.arange(1, runs)
    same = capture[a] == capture[b]
    pause = part.started[order][b] - part.ended[order][a]
    rims = np.stack([part.rims[order][a, 1], part.rims[order][b, 0]], axis=1)
    step = distance(rims[:, 1, 0] - rims[:, 0, 0], rims[:, 1, 1] - rims[:, 0, 1])
    code = np.full(len(a), NEW_CAPTURE, np.uint8)
    code[same] = break_reasons(
        lost,
        last[a][same],
        first[b][same],
        pause[same],
        stream.time_limit[capture[a][same]],
        part.turned[order][a][same],
        part.lost[order][a][same],
    )
    end_reason[a], start_reason[b] = code, code
    kept = same | (pause >= 0)  # captures that overlap in time have no gap between them
    a, b, rims = a[kept], b[kept], rims[kept]
    metres = step[kept] / ((part.scale[order][a] + part.scale[order][b]) / 2)
    gaps = Gaps(
        rims[:, :, 0],
        rims[:, :, 1],
        rims[:, :, 2],
        pause[kept],
        metres,
        code[kept],
        capture[a],
        a,
        b,
    )
    return gaps, start_reason, end_reason, rejected
