"""The main job: streamed epochs to edges."""

from copy import copy
from dataclasses import dataclass, fields, replace
from functools import partial

import numpy as np

from .alignment import ELEMENT_NOISE, fit_elements
from .breaks import BREAK_NAMES, END, NEW_CAPTURE, START, break_reasons, find_runs, find_turnings, may_leave_out
from .chains import Chains, Limits, fit_chains, ring_start
from .confirmation import unconfirmed
from .corners import find_corners
from .curves import mix_plans, plan_of_chains, plan_of_splines, running_length, sample, unroll, write_lines
from .distance import distance, steps
from .heights import fit_heights
from .holes import holes_between, open_holes
from .parts import Threads, run_parts
from .ragged import (
    apart,
    cumulative,
    group_index,
    group_max,
    group_min,
    group_sum,
    join_offsets,
    on_grid,
    place_in_group,
    ranges,
)
from .rings import find_rings
from .screening import (
    Medians,
    Reason,
    Settings,
    Stream,
    capture_medians,
    describe,
    lessen_outliers,
    places_around,
    screen_stream,
    stream_of,
    unusable,
    usual_stream,
)
from .slips import find_slips
from .standing import Positions, collapse_standing

__all__ = ["BREAK_NAMES", "ROLE_NAMES", "Edges", "Gaps", "Reconstruction", "Settings", "describe", "reconstruct"]

ROLE_NAMES = ("", "single", "standing")
# Of the receiver's error, what stays the same over a minute of walking does not show in the residuals. Half of the
# reported variance is taken for it; where nothing is reported, 5 mm in plan and 8 mm in height (common
# practice, no source).
STEADY_SHARE = 0.5
STEADY_USUAL, STEADY_USUAL_UP = 0.005, 0.008
BESIDE = 4  # positions on either side of a slip that are looked at once more
CONTEXT = 12  # positions beyond these that have a say, so that no end of what is cut out passes for the end of a run
CONFIRMED_ROUNDS = 4  # what is left may lie otherwise without what was taken out
PADDING = 8  # positions of a ring that are looked at twice
LEAST_PART = 40_000  # epochs below which a part is not worth a process
LEAST_REST = 10_000  # likewise of what is fitted again, which takes longer
LOOKED = 40_000  # epochs whose streams are looked at together
CHUNK = 250_000  # epochs fitted together, whole captures or whole runs
AT_WORK = 500_000  # epochs in all parts that are fitted side by side; both bound the memory


@dataclass(frozen=True)
class Edges:
    """Edges as ragged arrays; vertices of edge ``e`` are ``offsets[e]`` to ``offsets[e + 1] - 1``.

    `x`, `y`, `z` in metres (z NaN where the layer has no heights); `started`, `ended` in the table's seconds; `length`,
    `rms_residual`, `max_residual`, `sigma_cross`, `sigma_up` in metres; `start_reason`, `end_reason` are places in
    `BREAK_NAMES`; `run` counts from 1 inside its capture; `by_elements`: its curve is of tangents and arcs, else
    a spline.
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

    `x`, `y`, `z` on the line written, metres; `edge`; `chainage` in ground metres; `slope` along the edge, m/m, + rising;
    `sigma_cross`, `sigma_up` in metres, 1-sigma of the edge there, what the receiver keeps for a minute included.
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
    """Where lines stop and go on. `x`, `y`, `z`, shape (g, 2): the two rims; `reason` are places in `BREAK_NAMES`."""

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


@dataclass(frozen=True)
class _Part:
    """Runs of some captures. Vertices flat in `xyz`, `vertices` of them in each run, and likewise `corners`, (c, 2), and `stations`, (k, 7), in the
    order of `Stations` without the edge; other arrays have shape (runs,), `rims` (runs, 2, 3)."""

    xyz: np.ndarray
    vertices: np.ndarray
    corners: np.ndarray
    corner_number: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    first_row: np.ndarray
    last_row: np.ndarray
    rims: np.ndarray
    turned: np.ndarray
    lost: np.ndarray
    scale: np.ndarray
    epochs_used: np.ndarray
    length: np.ndarray
    rms_residual: np.ndarray
    max_residual: np.ndarray
    sigma_cross: np.ndarray
    sigma_up: np.ndarray
    closed: np.ndarray
    by_elements: np.ndarray
    stations: np.ndarray
    station_number: np.ndarray

    def placed(self, captures, source):
        """The same runs by the captures and rows of a whole table; `source` gives its rows for those of the part."""
        return replace(self, capture=captures[self.capture], first_row=source(self.first_row), last_row=source(self.last_row))


@dataclass(frozen=True)
class _Rows:
    """What becomes of each source row, filled in part by part; arrays of shape (n,)."""

    reason: np.ndarray
    amount: np.ndarray
    role: np.ndarray
    height_used: np.ndarray
    run: np.ndarray
    chainage: np.ndarray
    cross: np.ndarray
    up: np.ndarray

    @classmethod
    def empty(cls, size):
        """Rows of which nothing is known."""
        return cls(np.zeros(size, np.uint8), np.full(size, np.nan), np.zeros(size, np.uint8), np.zeros(size, bool),
                   np.full(size, -1, np.int64), *(np.full(size, np.nan) for _ in range(3)))

    def put(self, here, part):
        """Put the rows of a part in their place, runs numbered as there."""
        for column in fields(self):
            getattr(self, column.name)[here] = getattr(part, column.name)

    def number_on(self, parts, places, first):
        """Number the runs of parts on, from `first`; `places` are the parts' rows."""
        for part, here in zip(parts, places):
            self.run[here] += np.where(self.run[here] >= 0, first, 0)
            first += len(part.capture)

    def reject(self, positions, mask, why, number):
        """Give the epochs of the masked positions their reason and amount."""
        owner = group_index(positions.offsets)
        epochs = mask[owner]
        rows = positions.rows[epochs]
        self.reason[rows] = why
        self.amount[rows] = number[owner][epochs]


def reconstruct(table, settings=None, checkpoint=None, usual=None, pool=None):
    """Turn streamed epochs into edges.

    Parameters
    ----------
    table : EpochTable
    settings : Settings, optional
    checkpoint : callable, optional
        Called with the share of work done, 0 to 1, between the stages. It may raise to stop the work.
    usual : Usual, optional
        What the streams of the layer are like, where the table holds a part of its captures only; see `usual_stream`. Found from
        the table where left out.
    pool : Pool, optional
        Processes that share the work. They end with it: the pool is not to be used again.

    Returns
    -------
    Reconstruction
        Every row is either rejected with a reason or belongs to one edge.

    Notes
    -----
    Screening, collapsing of standing epochs, breaks, tangents and arcs with their corners, splines through them,
    thinning. What the streams are usually like is found over the whole layer; then whole captures are taken some hundred
    thousand epochs at a time, and after them the runs in which something was not confirmed, of all captures together.
    No capture has a say in another one's edges but by what is usual.
    """
    settings = settings or Settings()
    checkpoint = checkpoint or (lambda share: None)
    checkpoint(0.0)
    shares = _Shares(table)
    looking = shares.split(-(-len(table) // LOOKED))
    looked = run_parts(partial(_look, settings=settings), looking, lambda share: checkpoint(0.15 * share), Threads(pool.size) if pool else None)
    medians = looking.scatter(looked)
    stream = stream_of(medians, usual or usual_stream(medians), settings)
    shares = shares.split(_parts_of(len(table), pool.size if pool else 1, LEAST_PART))
    rows, height_ok = _Rows.empty(len(table)), np.zeros(len(table), bool)
    fitted = run_parts(partial(_fit, settings=settings), _Given(shares, stream), lambda share: checkpoint(0.15 + 0.7 * share), pool,
                       partial(shares.put, rows, height_ok))
    drawn, order, left = (list(kind) for kind in zip(*fitted))
    rows.number_on(drawn, [shares.rows(number) for number in range(len(shares))], 0)
    left = [runs for runs in left if runs is not None]
    if left:
        # few runs of each part: together they take less time
        rest = _Rest(table, height_ok, _Runs.concatenate(left), stream, pool.size if pool else 1)
        again = run_parts(partial(_fit_rest, settings=settings), rest, lambda share: checkpoint(0.85 + 0.1 * share), pool, partial(rest.put, rows))
        rows.number_on(again, [runs.positions.rows for runs in rest.runs], sum(len(part.capture) for part in drawn))
        drawn += again
    if pool:
        pool.close()  # what follows needs the memory
    checkpoint(0.95)
    whole = _Part(*(np.concatenate([getattr(part, column.name) for part in drawn]) for column in fields(_Part)))
    result = _finish(table, np.concatenate(order), stream, rows, whole, settings.station_spacing > 0)
    checkpoint(1.0)
    return result


def _parts_of(epochs, workers, least):
    """Number of parts for so many epochs: whole rounds of the workers, so that none is left alone with the last part."""
    count = -(-epochs // min(CHUNK, AT_WORK // workers))
    return -(-count // workers) * workers if count > workers else max(count, min(workers, epochs // least), 1)


class _Shares:
    """The table in parts of whole captures, about as large as each other, first in one; a sequence of `EpochTable`."""

    def __init__(self, table):
        self.table = table
        codes = table.capture
        self.order = None if (np.diff(codes) >= 0).all() else np.argsort(codes, kind="stable")
        codes = codes if self.order is None else codes[self.order]
        starts = np.flatnonzero(np.diff(codes, prepend=-1))
        self.codes, self.ends = codes[starts], np.append(starts, len(table))
        self._cut(1)

    def _cut(self, count):
        self.captures = np.unique(np.searchsorted(self.ends, np.linspace(0, len(self.table), max(count, 1) + 1), "left"))
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
        here = slice(*self.bounds[number:number + 2]) if len(self.bounds) > 1 else slice(0, 0)
        return here if self.order is None else self.order[here]

    def __getitem__(self, number):
        return self.table.take(self.rows(number))

    def own(self, number):
        """Captures of a part."""
        return self.codes[self.captures[number]:self.captures[number + 1]] if len(self.bounds) > 1 else self.codes

    def scatter(self, parts):
        """Medians of the table's captures from those of the parts; nothing for codes without a row."""
        count = int(self.codes[-1]) + 1 if len(self.codes) else 0
        value, number = np.full((5, count), np.nan), np.zeros((5, count), np.int64)
        for place, part in enumerate(parts):
            value[:, self.own(place)], number[:, self.own(place)] = part.value, part.number
        return Medians(value, number)

    def put(self, rows, height_ok, number, result):
        """Put a part's rows in their place; its runs, its rows by capture and time, and its runs that are to be fitted again, by the numbers of
        the whole table."""
        own, part, ordered, usable, again = result
        here = self.rows(number)
        rows.put(here, own)
        height_ok[here] = usable
        captures = self.own(number)
        whole = (lambda places: places + here.start) if self.order is None else (lambda places: here[places])
        return part.placed(captures, whole), whole(ordered), None if again is None else again.placed(captures, whole)


class _Rest:
    """Runs that are to be fitted again, in parts of about as many epochs each, with what is needed of the table; a sequence."""

    def __init__(self, table, height_ok, runs, stream, workers):
        self.table, self.height_ok, self.stream = table, height_ok, stream
        last = runs.positions.offsets[runs.offsets[1:]]  # epochs up to the end of each run
        count = _parts_of(last[-1], workers, LEAST_REST)
        cuts = np.unique(np.searchsorted(last, np.linspace(0, last[-1], count + 1)[1:]) + 1)
        self.runs = [runs.pick(np.arange(low, high)) for low, high in zip(np.append(0, cuts[:-1]), cuts)]

    def __len__(self):
        return len(self.runs)

    def __getitem__(self, number):
        runs = self.runs[number]
        source = runs.positions.rows
        own, capture = np.unique(runs.positions.capture, return_inverse=True)
        positions = replace(runs.positions, rows=np.arange(len(source)), capture=capture)
        return self.table.take(source), self.height_ok[source], replace(runs, positions=positions), self.stream.take(own)

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


def _fit(part, checkpoint, settings):
    """Rows and runs of the captures of a part; its rows by capture and time; whether rows have a usable height; the runs that are to be
    fitted again."""
    table, stream = part
    checkpoint(0.0)
    screening = screen_stream(table, unusable(table, settings.max_h_accuracy), stream, lambda share: checkpoint(0.1 * share))
    rows = _Rows.empty(len(table))
    rows.reason[:], rows.amount[:] = screening.reason, screening.amount
    drawn, again = _fit_part(table, screening, rows, settings, lambda share: checkpoint(0.1 + 0.9 * share))
    return rows, drawn, screening.order, screening.height_ok, again


def _fit_part(table, screening, rows, settings, checkpoint):
    """Runs of the captures of a part, and those that are to be fitted again; fills `rows`, run numbers from 0."""
    stream = screening.stream
    runs = _runs_of(table, screening, rows, settings)
    checkpoint(0.3)
    chains, again = None, None
    if settings.curve_model != "spline":
        runs, chains = _chains_of(runs, stream, rows, lambda share: checkpoint(0.3 + 0.35 * share))
        runs, chains, again = _confirm(runs, chains, _turning_points(runs, rows, screening.order), stream, rows)
        runs, chains = _long_and_confirmed(runs, chains, rows, settings)
    plan, by_elements = _plan(runs, chains, stream, settings)
    del chains  # what is not needed any more makes room
    return _draw(table, screening.height_ok, rows, runs, plan, by_elements, stream, settings, lambda share: checkpoint(0.65 + 0.35 * share)), again


def _runs_of(table, screening, rows, settings):
    """The runs of a part; rings start at a joint."""
    positions, offsets, turned = _find_runs(table, screening, rows, settings)
    spacing = screening.stream.spacing[positions.capture]
    variance = lessen_outliers(positions.x, positions.y, np.diff(group_index(offsets)) == 0, np.full(len(positions), 0.05), positions.variance)
    closed, order = find_rings(positions.x, positions.y, variance, offsets, spacing)
    if closed.any():
        order = order[ring_start(positions.x[order], positions.y[order], variance[order], offsets, closed)]
        positions, variance = positions.sort(order), variance[order]
    return _Runs(positions, variance, np.zeros(len(positions), bool), offsets, closed, turned, np.zeros(len(turned), bool))


def _fit_rest(part, checkpoint, settings):
    """Rows and runs of what is fitted again, until nothing is left that no other epoch confirms."""
    table, height_ok, runs, stream = part
    checkpoint(0.0)
    rows, done = _Rows.empty(len(table)), []
    for left in range(CONFIRMED_ROUNDS - 1, -1, -1):
        runs, chains = _chains_of(runs, stream, rows, lambda share: None)
        again = None
        if left:
            runs, chains, again = _confirm(runs, chains, np.zeros(len(runs.positions), bool), stream, rows, left == 1)
        done.append((runs, chains))
        checkpoint(0.6 * (1 - left / CONFIRMED_ROUNDS))
        if again is None:
            break
        runs = again
    runs, chains = (kind.concatenate(parts) for kind, parts in zip((_Runs, Chains), zip(*done)))
    runs, chains = _long_and_confirmed(runs, chains, rows, settings)
    plan, by_elements = _plan(runs, chains, stream, settings)
    return rows, _draw(table, height_ok, rows, runs, plan, by_elements, stream, settings, lambda share: checkpoint(0.6 + 0.4 * share))


def _draw(table, height_ok, rows, runs, plan, by_elements, stream, settings, checkpoint):
    """The lines of runs, and what is to be said of them and of their epochs."""
    positions, offsets = runs.positions, runs.offsets
    closing = plan.length - plan.chainage[offsets[1:] - 1] + plan.chainage[offsets[:-1]] if len(offsets) > 1 else None
    heights = fit_heights(running_length(np.diff(plan.chainage, append=0.0), offsets), positions, offsets, stream.spacing[positions.capture], plan.closed, closing)
    checkpoint(0.4)
    xyz, vertex_offsets = write_lines(sample(plan, heights.profile, settings.tolerance), plan, settings.tolerance)
    checkpoint(0.9)
    return _describe_runs(table, height_ok, rows, runs, plan, heights, xyz, vertex_offsets, by_elements, settings)


@dataclass(frozen=True)
class _Runs:
    """Runs of positions; `variance`, (m,), is raised for doubtful ones; `bridged`, (m,): between it and the next one lay what nothing confirmed. Of shape
    (runs,): `closed`, `turned` and `lost`, whether it ends in a turn for good or at a hole that leaves open how the edge goes on."""

    positions: Positions
    variance: np.ndarray
    bridged: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray
    turned: np.ndarray
    lost: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1

    def take(self, positions, runs):
        """Some positions (mask) of some runs (mask), in which all of them lie."""
        number = group_sum(positions.astype(np.int64), self.offsets)[runs]
        bridged = _last_kept(self.bridged, positions, self.offsets, self.closed) if self.bridged.any() else self.bridged
        return _Runs(self.positions.take(positions), self.variance[positions], bridged[positions], np.concatenate([[0], np.cumsum(number)]),
                     self.closed[runs], self.turned[runs], self.lost[runs])

    @classmethod
    def concatenate(cls, parts):
        """The runs of all parts."""
        joined = {name: np.concatenate([getattr(part, name) for part in parts]) for name in ("variance", "bridged", "closed", "turned", "lost")}
        return cls(positions=Positions.concatenate([part.positions for part in parts]), offsets=join_offsets([part.offsets for part in parts]), **joined)

    def placed(self, captures, source):
        """The same runs by the captures and rows of a whole table, as in `_Part`."""
        return replace(self, positions=replace(self.positions, capture=captures[self.positions.capture], rows=source(self.positions.rows)))

    def pick(self, runs):
        """Some runs, in the order of their numbers."""
        size = np.diff(self.offsets)[runs]
        index = ranges(self.offsets[:-1][runs], size)
        return _Runs(self.positions.sort(index), self.variance[index], self.bridged[index], np.concatenate([[0], np.cumsum(size)]), self.closed[runs],
                     self.turned[runs], self.lost[runs])

    def cut(self, after):
        """The runs broken after some positions (mask).

        A ring that is broken starts where it was broken first.
        """
        m, size = len(self.positions), np.diff(self.offsets)
        run = group_index(self.offsets)
        broken = group_max(after, self.offsets, False)
        rings = np.flatnonzero(broken & self.closed)
        order = np.arange(m)
        if rings.size:
            first = self.offsets[:-1][rings]
            place = group_min(np.where(after, np.arange(m), m), self.offsets, m)[rings].astype(np.int64) + 1 - first
            index = ranges(first, size[rings])
            order[index] = np.repeat(first, size[rings]) + (index - np.repeat(first - place, size[rings])) % np.repeat(size[rings], size[rings])
        ends = after[order]
        ends[self.offsets[1:][size > 0] - 1] = True
        offsets = np.concatenate([[0], np.flatnonzero(ends) + 1])
        source = run[offsets[:-1]]
        last = np.append(source[1:] != source[:-1], True)[: len(source)]
        return _Runs(self.positions.sort(order), self.variance[order], self.bridged[order], offsets, (self.closed & ~broken)[source],
                     self.turned[source] & last, np.where(last, self.lost[source], True))


def _confirm(runs, chains, turning, stream, rows, last=False):
    """Runs that other epochs confirm throughout, and their chains; and the rest, without what nothing confirms and broken where a hole leaves the
    way open, for another fit (None where there are none). With `last`, the rest breaks at what is taken out.

    Where the rest may, by the limits of time and distance, it goes on over what is taken out.
    """
    hole = holes_between(chains.closed, runs.offsets, runs.positions, stream)
    together, after = unconfirmed(chains, runs.offsets, runs.positions, runs.variance, hole, runs.bridged, turning, stream)
    drop = together > 0
    after |= open_holes(chains, hole)
    if not (drop | after).any():
        return runs, chains, None
    rows.reject(runs.positions, drop, Reason.UNCONFIRMED, together)
    after |= drop & (last | ~may_leave_out(runs.positions, stream, runs.offsets, drop))
    changed = group_max(drop | after, runs.offsets, False)
    inside = changed[group_index(runs.offsets)]
    part, keep = replace(runs, bridged=runs.bridged | drop).pick(np.flatnonzero(changed)), ~drop[inside]
    after = _last_kept(after[inside], keep, part.offsets, part.closed)
    again = part.take(keep, group_max(keep, part.offsets, False)).cut(after[keep])
    rest = np.flatnonzero(~changed)
    return runs.pick(rest), chains.take_runs(rest), again if len(again) else None


def _long_and_confirmed(runs, chains, rows, settings):
    """The runs that are long enough, and their chains."""
    extent = _extent(runs.positions, runs.offsets)
    confirmed = chains.confirmed() & _long_enough(runs.positions, runs.offsets, extent, settings)
    doubtful = ~confirmed[group_index(runs.offsets)]
    rows.reject(runs.positions, doubtful, Reason.TOO_SHORT, extent[group_index(runs.offsets)])
    if doubtful.any():
        runs, chains = runs.take(~doubtful, confirmed), chains.take_runs(np.flatnonzero(confirmed))
    return runs, chains


def _turning_points(runs, rows, order):
    """Last positions (mask) of open runs after which the walk turned back; `order`: rows by capture and time."""
    order = order[(rows.reason[order] == Reason.KEPT) | (rows.reason[order] > Reason.POOR_ACCURACY)]  # the others say nothing
    place = np.zeros(len(rows.reason), np.int64)
    place[order] = np.arange(len(order))
    back = np.append(rows.reason[order] == Reason.BACKTRACK, [False])
    positions, last = runs.positions, runs.offsets[1:] - 1
    out = np.zeros(len(positions), bool)
    out[last] = ~runs.closed & (runs.turned | back[place[positions.rows[positions.offsets[last + 1] - 1]] + 1])
    return out


def _chains_of(runs, stream, rows, checkpoint):
    """The chains of runs, and the runs without the slips that they leave out."""
    positions, offsets = runs.positions, runs.offsets
    chains = fit_chains(positions.x, positions.y, positions.variance, offsets, Limits(), runs.closed, checkpoint,
                        may_leave_out(positions, stream, offsets), runs.variance / positions.variance, positions.odds)
    slip = chains.slip & may_leave_out(positions, stream, offsets, chains.slip)
    rows.reject(positions, slip, Reason.SPIKE, np.abs(chains.residual))
    if slip.any():
        runs, chains = runs.take(~slip, np.ones(len(runs), bool)), chains.take(~slip)
    return runs, chains


def _last_kept(flag, keep, offsets, closed):
    """Flags (mask) of positions moved to the last kept one of their run that is not behind them; in a closed run once round, if need be."""
    run = group_index(offsets)
    place = np.maximum.accumulate(np.where(keep, np.arange(len(keep)), -1))
    last = group_max(np.where(keep, np.arange(len(keep)), -1), offsets, -1).astype(np.int64)[run]
    place = np.where(place < offsets[:-1][run], np.where(closed[run], last, -1), place)
    out = np.zeros(len(keep), bool)
    out[place[flag & (place >= 0)]] = True
    return out


def _extent(positions, offsets):
    """Metres from position to position, all along each run."""
    return group_sum(steps(positions.x, positions.y, offsets), offsets)


def _long_enough(positions, offsets, extent, settings):
    """Runs (mask) of two positions, three epochs and the least length at least: two epochs alone make a line that nothing confirms."""
    return (np.diff(offsets) > 1) & (group_sum(np.diff(positions.offsets), offsets) > 2) & (extent >= max(settings.min_length, 1e-3))


def _plan(runs, chains, stream, settings):
    """Curves in plan by the model that the settings name, and which of the runs (mask) are chains of elements."""
    if chains is None:
        every = np.ones(len(runs), bool)
        return _fit_splines(runs, np.flatnonzero(every), stream, settings), ~every
    plan = plan_of_chains(chains, runs.offsets, settings.corner_angle)
    free = chains.spline[group_index(chains.bounds)] & (settings.curve_model == "automatic")
    mixed = group_max(free, runs.offsets, False)
    if mixed.any():
        which = np.flatnonzero(mixed)
        plan = mix_plans(plan, _fit_splines(runs, which, stream, settings), runs.offsets, which, free)
    return plan, ~mixed


def _fit_splines(runs, which, stream, settings):
    """Splines for the runs whose numbers are `which`."""
    positions, variance, offsets, closed = runs.positions, runs.variance, runs.offsets, runs.closed
    number = np.diff(offsets)[which]
    # a ring goes on into itself for some positions, so that it has neighbours at its seam
    pad = np.where(closed[which], np.minimum(PADDING, number), 0)
    size = number + 2 * pad
    lap = np.repeat(number, size)
    index = np.repeat(offsets[:-1][which], size) + (ranges(-pad, size) % lap)
    part, variance = positions.sort(index), variance[index]
    bounds = np.concatenate([[0], np.cumsum(size)])
    corners = find_corners(part.x, part.y, part.variance, bounds, stream.spacing[part.capture], settings.corner_angle)
    elements = fit_elements(part.x, part.y, variance * ELEMENT_NOISE**2, bounds)
    return unroll(plan_of_splines(elements, part, variance, bounds, corners, settings.tolerance), bounds, pad)


def _find_runs(table, screening, rows, settings):
    """Positions in runs that are long enough, offsets of the runs, and which of them end in a turn for good."""
    stream = screening.stream
    positions = collapse_standing(table, screening)
    slip = find_slips(positions, stream)
    hit = np.isfinite(slip)
    if hit.any():  # a slip beside a slip is seen once the first one is out
        rows.reject(positions, hit, Reason.SPIKE, slip)
        beside, around = (places_around(np.flatnonzero(hit), len(hit), reach, positions.capture)[~hit] for reach in (BESIDE, BESIDE + CONTEXT))
        positions = positions.take(~hit)
        again = np.full(len(positions), np.nan)
        again[around] = find_slips(positions.take(around), stream)
        again[~beside] = np.nan
        rows.reject(positions, np.isfinite(again), Reason.SPIKE, again)
        positions = positions.take(~np.isfinite(again))
    turnings = find_turnings(positions, stream)
    back = turnings.walked_back > 0
    rows.reject(positions, back, Reason.BACKTRACK, turnings.walked_back)
    # where the last position before a turn for good is itself taken out, the one before it is the last
    turned = _last_kept(turnings.turned, ~back, np.array([0, len(back)]), np.zeros(1, bool))[~back]
    positions = positions.take(~back)
    offsets = find_runs(positions, stream, turned)
    run = group_index(offsets)
    extent = _extent(positions, offsets)
    short = ~_long_enough(positions, offsets, extent, settings)
    rows.reject(positions, short[run], Reason.TOO_SHORT, extent[run])
    run_turned = turned[offsets[1:] - 1]
    return positions.take(~short[run]), np.concatenate([[0], np.cumsum(np.diff(offsets)[~short])]), run_turned[~short]


def _describe_runs(table, height_ok, rows, of_runs, plan, heights, xyz, vertex_offsets, by_elements, settings):
    """Statistics of each run, and the place of each of its epochs."""
    positions, offsets, runs = of_runs.positions, of_runs.offsets, len(of_runs)
    source, of_epoch = positions.rows, group_index(positions.offsets)
    run_of_epoch = group_index(offsets)[of_epoch]
    epochs = np.concatenate([[0], np.cumsum(np.bincount(run_of_epoch, minlength=runs))])
    used = np.diff(epochs)
    mean = lambda values: group_sum(values, epochs) / np.maximum(used, 1)  # noqa: E731
    scale = mean(table.scale[source])

    length = group_sum(steps(*xyz[:, :2].T, vertex_offsets), vertex_offsets)
    # chainage runs along the line written, which is a little shorter than the curve
    stretch = length / np.maximum(plan.length, 1e-12) / scale
    chainage = plan.chainage * stretch[group_index(offsets)]

    feet = np.column_stack([plan.x[plan.node], plan.y[plan.node]])
    residual = np.column_stack([table.x[source], table.y[source]]) - feet[of_epoch]
    cross = (residual * plan.normal[of_epoch]).sum(axis=1) / scale[run_of_epoch]
    rows.run[source] = run_of_epoch
    rows.chainage[source] = chainage[of_epoch]
    rows.cross[source] = cross
    rows.up[source] = table.z[source] - heights.profile.values[of_epoch, 0]
    rows.height_used[source] = height_ok[source]
    rows.role[source] = np.where(np.diff(positions.offsets) > 1, 2, 1)[of_epoch]

    steady = [mean(np.where(np.isfinite(sigma), STEADY_SHARE * sigma**2, usual**2))
              for sigma, usual in ((table.sigma_h[source], STEADY_USUAL), (table.sigma_v[source], STEADY_USUAL_UP))]
    fitted = plan.sigma**2, np.where(np.isfinite(heights.sigma), heights.sigma**2, np.nan)
    stations, number = _stations(chainage, heights.slope, fitted, steady, offsets, xyz, vertex_offsets, scale, plan.closed, settings.station_spacing)
    start, end = _first_and_last(positions, offsets)
    places = np.column_stack([feet, heights.profile.values])
    return _Part(
        xyz, np.diff(vertex_offsets), plan.corners[np.argsort(plan.corner_run, kind="stable")], np.bincount(plan.corner_run, minlength=runs),
        positions.capture[start], positions.started[start], positions.ended[end],
        source[positions.offsets[:-1]][start], source[positions.offsets[1:] - 1][end], np.stack([places[start], places[end]], axis=1), of_runs.turned, of_runs.lost,
        scale, used, length / scale, np.sqrt(mean(cross**2)), group_max(np.abs(cross), epochs, 0.0),
        *(_sigma(*both, offsets) for both in zip(fitted, steady)), plan.closed, by_elements, stations, number)


def _stations(chainage, slope, fitted, steady, offsets, xyz, vertex_offsets, scale, closed, spacing):
    """Stations of each run, (k, 7), and how many there are in each; a ring has none at its end, which is its start."""
    runs = len(offsets) - 1
    if not spacing or not runs:
        return np.zeros((0, 7)), np.zeros(runs, np.int64)
    vertex_run = group_index(vertex_offsets)
    along = cumulative(steps(*xyz[:, :2].T, vertex_offsets), vertex_offsets) / scale[vertex_run]
    length = along[vertex_offsets[1:] - 1]
    whole = np.floor(length / spacing + 1e-9).astype(np.int64)
    rest = length - whole * spacing > 1e-3
    # a rest shorter than a millimetre, or the end of a ring, is no station of its own
    number = whole + 1 + (rest & ~closed) - (~rest & closed)
    number = np.maximum(number, 1)
    run = np.repeat(np.arange(runs), number)
    place = ranges(np.zeros(runs, np.int64), number)
    at = np.minimum(place * spacing, length[run])
    lift = apart(length)  # one order for all runs
    where = on_grid(at) + lift[run]
    vertex, share = _between(where, on_grid(along) + lift[vertex_run], vertex_offsets, run)
    x, y, z = (axis[vertex] + share * (axis[vertex + 1] - axis[vertex]) for axis in xyz.T)
    before, share = _between(where, on_grid(chainage) + lift[group_index(offsets)], offsets, run)
    sigma = [np.sqrt(variance[before] + share * (variance[before + 1] - variance[before]) + slow[run]) for variance, slow in zip(fitted, steady)]
    return np.column_stack([x, y, z, at, slope[before], *sigma]), number


def _between(where, knots, offsets, run):
    """The last knot of their run before places, but for its last one, and the share of the way to the next one, 0 to 1."""
    before = np.clip(np.searchsorted(knots, where, "right") - 1, offsets[:-1][run], offsets[1:][run] - 2)
    length = knots[before + 1] - knots[before]
    return before, np.clip((where - knots[before]) / np.where(length > 0, length, 1.0), 0.0, 1.0)


def _first_and_last(positions, offsets):
    """Positions walked first and last in each run; those of a ring lie anywhere in it."""
    run = group_index(offsets)
    first, last = np.lexsort((positions.started, run)), np.lexsort((positions.ended, run))
    return first[offsets[:-1]], last[offsets[1:] - 1]


def _sigma(fitted, steady, offsets):
    """1-sigma of each run's fitted line: mean variance of the fitted values, and the slow part."""
    known = np.isfinite(fitted)
    number = group_sum(known.astype(float), offsets)
    with np.errstate(invalid="ignore", divide="ignore"):
        return np.sqrt(group_sum(np.where(known, fitted, 0.0), offsets) / number + steady)


def _finish(table, order_of_rows, stream, rows, part, wanted_stations):
    """Edges in the order of their start, the gaps between them, and the rows' edges."""
    runs = len(part.capture)
    captures = int(table.capture.max()) + 1 if len(table) else 0
    capture_start = np.full(captures, np.inf)
    np.minimum.at(capture_start, part.capture, part.started)
    order = np.lexsort((part.started, part.capture, capture_start[part.capture]))
    number_of = np.full(runs + 1, -1, np.int64)  # the last one is for rows without a run
    number_of[order] = np.arange(runs)
    edge = number_of[rows.run]
    gaps, start_reason, end_reason, rejected = _find_gaps(order_of_rows, stream, rows.reason, part, order)

    in_order = lambda values, number: values[ranges((np.cumsum(number) - number)[order], number[order])]  # noqa: E731
    x, y, z = in_order(part.xyz, part.vertices).T
    edges = Edges(
        x, y, z, np.concatenate([[0], np.cumsum(part.vertices[order])]), part.capture[order], _count_in_group(part.capture[order]),
        part.started[order], part.ended[order], part.epochs_used[order], rejected, part.length[order], part.rms_residual[order],
        part.max_residual[order], part.sigma_cross[order], part.sigma_up[order], part.closed[order], start_reason, end_reason, part.by_elements[order])
    number = part.station_number[order]
    x, y, z, *rest = in_order(part.stations, part.station_number).T
    stations = Stations(x, y, z, np.repeat(np.arange(runs), number), *rest) if wanted_stations else None
    return Reconstruction(rows.reason, rows.amount, rows.role, rows.height_used, edge, rows.chainage, rows.cross, rows.up, edges, gaps,
                          stream, in_order(part.corners, part.corner_number), stations)


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
    """Gaps between consecutive edges, the reasons at both ends of each edge, and rejected rows inside each edge.

    All in the order of the edges.
    """
    runs = len(order)
    why = reason[order_of_rows]
    lost = {r: np.flatnonzero(why == r) for r in (Reason.NOT_FIXED, Reason.POOR_ACCURACY, Reason.SPIKE)}
    first, last = _places(np.stack([part.first_row[order], part.last_row[order]]), order_of_rows)
    out = np.flatnonzero(why)
    rejected = np.searchsorted(out, last) - np.searchsorted(out, first)  # neither end is one of them

    start_reason, end_reason = np.full(runs, START, np.uint8), np.full(runs, END, np.uint8)
    capture = part.capture[order]
    a, b = np.arange(runs - 1), np.arange(1, runs)
    same = capture[a] == capture[b]
    pause = part.started[order][b] - part.ended[order][a]
    rims = np.stack([part.rims[order][a, 1], part.rims[order][b, 0]], axis=1)
    step = distance(rims[:, 1, 0] - rims[:, 0, 0], rims[:, 1, 1] - rims[:, 0, 1])
    code = np.full(len(a), NEW_CAPTURE, np.uint8)
    code[same] = break_reasons(lost, last[a][same], first[b][same], pause[same], stream.time_limit[capture[a][same]],
                               part.turned[order][a][same], part.lost[order][a][same])
    end_reason[a], start_reason[b] = code, code
    kept = same | (pause >= 0)  # captures that overlap in time have no gap between them
    a, b, rims = a[kept], b[kept], rims[kept]
    metres = step[kept] / ((part.scale[order][a] + part.scale[order][b]) / 2)
    gaps = Gaps(rims[:, :, 0], rims[:, :, 1], rims[:, :, 2], pause[kept], metres, code[kept], capture[a], a, b)
    return gaps, start_reason, end_reason, rejected
