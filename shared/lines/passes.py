"""Several walks of one edge into one weighted edge.

The longest walk leads; where it ends and another one goes on, that one leads on. Along this line
all walks are met at stations, and the merged edge lies at the weighted mean of what they show
there. A walk gains and loses its weight gradually, so that there is no step where it begins or
ends. Corners are where the merged legs meet: two walks' corners a few millimetres apart make one
corner.

Where walks differ by more than their uncertainty explains, they are not averaged: the edge follows
those that agree (of two walks, the surer one), and the other walk's stretch stays as it is, as an
edge of its own.
"""

import heapq
from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, group_sum, offsets_from_starts, place_in_group
from ..arrays.thinning import thin
from .comparison import beyond_chance, limit_of
from .matching import Index, Lines, Rays
from .overlaps import (
    CELL,
    FILL,
    LEAST_PLAN,
    LEAST_UP,
    SPACING,
    cut_pieces,
    extract,
    fill_gaps,
    lay_on_each_other,
    numbered,
    runs_of,
)

CORNER = 30.0  # degrees of deflection that stay sharp
AT_END = 1.5  # m from the end of a walk, within which another one can take the lead
BRIDGE = 0.5  # m over which the lead passes from one walk to the next
REMNANT = 1.0  # m; less than this beside a merged edge makes no edge of its own
ALONG = 0.05  # m, by which a walk must go on to be followed
UP_TOLERANCE = 2.0  # heights are half as sure as positions
LOOK = 200  # edges between two looks at the cancel button
STATES = ("single", "merged", "rest", "apart")
PASS_STATES = ("single", "merged", "rest", "apart", "remnant", "copy")
REASONS = ("plan", "height", "other_edge", "parted", "remnant")
SINGLE, MERGED, REST, APART = range(4)


@dataclass(frozen=True)
class Settings:
    """What the user can choose; lengths in metres.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_offset: float = 0.15
    min_overlap: float = 2.0
    blend: float = 2.0
    tolerance: float = 0.003
    confidence: float = 0.95

    def __post_init__(self):
        for name in ("max_offset", "min_overlap", "blend", "tolerance"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        if not 0.5 <= self.confidence < 1:
            raise ValueError(
                f"confidence must be at least 0.5 and less than 1, got {self.confidence}"
            )


@dataclass(frozen=True)
class MergedEdges:
    """Edges that come out, as ragged arrays: vertices of edge ``e`` are ``offsets[e]`` to
    ``offsets[e + 1] - 1``.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Metres; z NaN where no walk has a height.
    offsets : ndarray of int, shape (e + 1,)
    state : ndarray of int, shape (e,)
        Place in `STATES`: without a partner, merged, what one walk shows beyond the others, a
        stretch that differs from the others.
    unchanged : ndarray of int, shape (e,)
        Part of the source whose vertices the edge has, in its direction; -1 for others.
    passes : ndarray of int, shape (e,)
        Walks that take part.
    shared : ndarray of float, shape (e,)
        Length that two walks or more show, metres.
    length : ndarray of float, shape (e,)
    sigma, sigma_up : ndarray of float, shape (e,)
        1-sigma, metres, mean over the length; NaN where unknown.
    repeatability, repeatability_up : ndarray of float, shape (e,)
        RMS of the differences between two walks, metres; NaN without a partner.
    closed : ndarray of bool, shape (e,)
    ends : ndarray of int, shape (e, 2, 2)
        Of start and end: part of the source that ends there, and which of its ends it is (0 start,
        1 end); -1 where none does.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    state: np.ndarray
    unchanged: np.ndarray
    passes: np.ndarray
    shared: np.ndarray
    length: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    repeatability: np.ndarray
    repeatability_up: np.ndarray
    closed: np.ndarray
    ends: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1


@dataclass(frozen=True)
class Passes:
    """What became of each walk; arrays of shape (k,).

    `edge` that comes out (-1 for none), `part` of the source, `state` a place in `PASS_STATES`;
    `start`, `stop` chainage along the source; `same` True where the walk ran in the direction of
    the edge; `shared` length beside other walks; `offset_mean` and `up_mean` of the walk from the
    mean of the others (+ to the right of the edge), `offset_rms`, `up_rms` from each of the others;
    metres, NaN where there are none.
    """

    edge: np.ndarray
    part: np.ndarray
    state: np.ndarray
    start: np.ndarray
    stop: np.ndarray
    same: np.ndarray
    shared: np.ndarray
    offset_mean: np.ndarray
    offset_rms: np.ndarray
    up_mean: np.ndarray
    up_rms: np.ndarray

    def __len__(self):
        return len(self.edge)


@dataclass(frozen=True)
class Disagreements:
    """Stretches of walks that differ from another by more than uncertainty, as walked; ragged `x`,
    `y`, `z`.

    `edge` that they differ from, `own` edge that they are in (-1 for none), `part` of the source,
    `reason` a place in `REASONS`; `length`, `offset_mean`, `offset_max` (+ where the stretch lies
    to the right of the edge), `up_mean`, `up_max`, `allowed`, `allowed_up` in metres.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    edge: np.ndarray
    own: np.ndarray
    part: np.ndarray
    reason: np.ndarray
    length: np.ndarray
    offset_mean: np.ndarray
    offset_max: np.ndarray
    up_mean: np.ndarray
    up_max: np.ndarray
    allowed: np.ndarray
    allowed_up: np.ndarray

    def __len__(self):
        return len(self.edge)


@dataclass(frozen=True)
class Merge:
    """Result of `merge_passes`. `repeatability` and `repeatability_up`: RMS of the differences
    between two walks, without the disagreements; `expected` and `expected_up`: what the sigmas of
    the walks let expect; metres, NaN where nothing is shared."""

    edges: MergedEdges
    passes: Passes
    disagreements: Disagreements
    repeatability: float
    repeatability_up: float
    expected: float
    expected_up: float


class _Axis:
    """A way along pieces: `chain` holds (piece, from, to) one after the other; `attached` the axes
    that its ends branch off from, -1 for none."""

    def __init__(self, chain, closed, attached):
        self.chain, self.closed, self.attached = chain, closed, attached


class _Ways:
    """Gives every station of every piece to one axis, the longest pieces first."""

    def __init__(self, pieces, rays, laid):
        self.pieces, self.rays, self.laid = pieces, rays, laid
        self.length = pieces.lines.part_length()
        self.owner = np.full(len(rays), -1, np.int64)
        self.by_other = np.lexsort((laid.chainage, laid.other))
        self.other_first = np.searchsorted(laid.other[self.by_other], np.arange(len(pieces) + 1))
        self.sorted_chainage = laid.chainage[self.by_other]
        self.station_first = np.searchsorted(laid.station, np.arange(len(rays) + 1))
        self.axes, self.remnants = [], []

    def weight(self, piece):
        return self.rays.weight[self.rays.first[piece]]

    def rows_on(self, piece, low, high):
        """Rows of `laid` that lie on a stretch of a piece."""
        first, stop = self.other_first[piece], self.other_first[piece + 1]
        a, b = np.searchsorted(self.sorted_chainage[first:stop], [low, high])
        return self.by_other[first + a : first + b]

    def take(self, axis, piece, start, stop):
        """Give a stretch of a piece, and what lies on it, to an axis."""
        low, high, length = min(start, stop), max(start, stop), self.length[piece]
        spans = [(low, high)]
        if self.pieces.closed[piece]:
            spans = [(low + turn * length, high + turn * length) for turn in (-1, 0, 1)]
        first, number = self.rays.first[piece], self.rays.first[piece + 1] - self.rays.first[piece]
        half = self.weight(piece) / 2
        for low, high in spans:
            a, b = (int(np.clip(np.round(bound / (2 * half)), 0, number)) for bound in (low, high))
            mine = np.arange(first + a, first + b)
            rows = self.rows_on(piece, low - half, high + half)
            for stations in (mine, self.laid.station[rows]):
                self.owner[stations[self.owner[stations] < 0]] = axis

    def find(self, checkpoint):
        waiting = [
            (
                -round(float(self.length[piece]), 6),
                piece,
                0,
                int(self.rays.first[piece + 1] - self.rays.first[piece]) - 1,
            )
            for piece in range(len(self.pieces))
        ]
        heapq.heapify(waiting)
        done = 0
        while waiting:
            _, piece, first, last = heapq.heappop(waiting)
            base, number = (
                self.rays.first[piece],
                int(self.rays.first[piece + 1] - self.rays.first[piece]),
            )
            stations = base + np.arange(first, last + 1) % number
            free = np.zeros(number, bool)
            free[stations - base] = self.owner[stations] < 0
            if not free.any():
                continue
            chainage, weight = self.rays.chainage[base : base + number], self.weight(piece)
            runs = runs_of(
                free, chainage, weight, float(self.length[piece]), bool(self.pieces.closed[piece])
            )
            if free[stations - base].all():
                run = next(run for run in runs if run[0] == first or free.all())
                self.start_from(piece, *run)
                done += 1
                if done % LOOK == 0:
                    checkpoint(done / (done + len(waiting)))
            else:
                for run in runs:
                    heapq.heappush(
                        waiting, (-round(float(run[3] - run[2]), 6), piece, run[0], run[1])
                    )

    def start_from(self, piece, first, last, start, stop):
        base, number = (
            self.rays.first[piece],
            int(self.rays.first[piece + 1] - self.rays.first[piece]),
        )
        ring = bool(self.pieces.closed[piece])
        whole = last - first + 1 == number
        before, after = (
            self.owner[base + place % number] if not whole and (ring or 0 <= place < number) else -1
            for place in (first - 1, last + 1)
        )
        attached = [int(before), int(after)]
        if stop - start < REMNANT and max(attached) >= 0:
            self.remnants.append((piece, start, stop, attached))
            self.owner[base + np.arange(first, last + 1) % number] = -2
            return
        axis = len(self.axes)
        made = _Axis([(piece, start, stop)], ring and whole, attached)
        self.axes.append(made)
        self.take(axis, piece, start, stop)
        self.owner[base + np.arange(first, last + 1) % number] = axis
        for side in (1, 0):
            if made.closed:
                break
            self.go_on(axis, made, side)

    def go_on(self, axis, made, side):
        """Follow other pieces beyond one end of the axis (1 its end, 0 its start)."""
        turned = lambda chain: [(piece, b, a) for piece, a, b in reversed(chain)]  # noqa: E731
        while True:
            chain = made.chain if side else turned(made.chain)
            piece, a, b = chain[-1]
            sense = 1 if b > a else -1
            if (
                self.pieces.closed[piece]
                or abs(b - (self.length[piece] if sense > 0 else 0.0)) > 1e-6
            ):
                return
            best, nearest = None, {}
            for row in self.rows_on(piece, b - AT_END, b + AT_END).tolist():
                other = int(self.rays.part[self.laid.station[row]])
                away = abs(self.laid.chainage[row] - b)
                if other not in nearest or away < nearest[other][0]:
                    nearest[other] = away, row
            for other in sorted(nearest):
                found = self.tail(nearest[other][1], other, sense, b)
                if found is not None and (best is None or found[0] > best[0] + 1e-6):
                    best = found
            if best is None:
                return
            _, other, from_, to, ahead, beyond, onward = best
            if beyond >= 0 and beyond == axis:
                closing = self.closes(chain, ahead, onward)
                if closing is not None:
                    to, made.closed = closing, True
            chain = [*chain, (other, from_, to)]
            made.chain = chain if side else turned(chain)
            self.take(axis, other, from_, to)
            made.attached[side] = int(beyond)
            if made.closed:
                made.attached = [-1, -1]
                return

    def tail(self, row, other, sense, end):
        """How far a piece goes on beyond the end of the one that leads: length, piece, from, to,
        the station beyond, its owner, and the sense."""
        base, number = (
            self.rays.first[other],
            int(self.rays.first[other + 1] - self.rays.first[other]),
        )
        station = int(self.laid.station[row])
        onward = sense if self.laid.same[row] else -sense
        weight = self.weight(other)
        from_ = self.rays.chainage[station] + onward * sense * (end - self.laid.chainage[row])
        place = station - base
        ahead = np.arange(place + 1, number) if onward > 0 else np.arange(place - 1, -1, -1)
        if self.pieces.closed[other]:
            ahead = (place + onward * np.arange(1, number)) % number
        free = self.owner[base + ahead] < 0
        count = len(free) if free.all() else int(np.argmin(free))
        if count == len(free) and not self.pieces.closed[other]:
            to, beyond, station = (float(self.length[other]) if onward > 0 else 0.0), -1, -1
        elif not count:
            return None
        else:
            to = self.rays.chainage[station] + onward * (count + 0.5) * weight
            station = int(base + ahead[min(count, len(ahead) - 1)])
            beyond = int(self.owner[station])
        if (to - from_) * onward <= ALONG:
            return None
        return (to - from_) * onward, other, float(from_), float(to), station, beyond, onward

    def prefer_majority(self):
        """Where one walk leads an edge astray and several others part from it together, let these
        lead."""
        for axis, made in enumerate(self.axes):
            main = made.attached[0]
            if main < 0 or made.attached[1] != main or made.closed:
                continue
            mine = np.flatnonzero(self.owner == axis)
            many = len(np.unique(self.rays.part[mine]))
            bounds = [
                self.place_beside(piece, at, sense, self.axes[main])
                for piece, at, sense in (
                    (
                        made.chain[0][0],
                        made.chain[0][1],
                        np.sign(made.chain[0][1] - made.chain[0][2]),
                    ),
                    (
                        made.chain[-1][0],
                        made.chain[-1][2],
                        np.sign(made.chain[-1][2] - made.chain[-1][1]),
                    ),
                )
            ]
            if many < 2 or None in bounds or bounds[0][0] != bounds[1][0]:
                continue
            link, start, stop = bounds[0][0], bounds[0][1], bounds[1][1]
            chain = self.axes[main].chain
            piece, a, b = chain[link]
            rows = self.rows_on(piece, min(start, stop) + SPACING, max(start, stop) - SPACING)
            beside = np.unique(
                self.rays.part[self.laid.station[rows[self.owner[self.laid.station[rows]] == main]]]
            )
            if many <= len(np.union1d(beside, [piece])):
                continue
            turned = (stop - start) * (b - a) < 0
            way = (
                [(one, high, low) for one, low, high in reversed(made.chain)]
                if turned
                else made.chain
            )
            start, stop = (stop, start) if turned else (start, stop)
            self.axes[main].chain = [
                *chain[:link],
                (piece, a, start),
                *way,
                (piece, stop, b),
                *chain[link + 1 :],
            ]
            made.chain = [(piece, start, stop)]
            stations = np.arange(self.rays.first[piece], self.rays.first[piece + 1])
            inside = stations[
                (self.rays.chainage[stations] >= min(start, stop))
                & (self.rays.chainage[stations] <= max(start, stop))
            ]
            self.owner[inside[self.owner[inside] == main]] = axis
            rows = self.laid.station[rows]
            self.owner[rows[self.owner[rows] == main]] = axis
            self.owner[mine] = main

    def place_beside(self, piece, at, sense, axis):
        """Link of an axis' chain, and the chainage on it, beside the end of a way that leaves it;
        None where it is not clear."""
        at = at + sense * self.weight(piece) / 2
        at = at % self.length[piece] if self.pieces.closed[piece] else at
        inside = lambda link, chainage: min(link[1:]) <= chainage <= max(link[1:])  # noqa: E731
        for number, link in enumerate(axis.chain):
            if link[0] == piece and inside(link, at):
                return number, float(at)
        station = int(self.rays.at(np.array([piece]), np.array([at]))[0])
        for row in range(self.station_first[station], self.station_first[station + 1]):
            for number, link in enumerate(axis.chain):
                if self.laid.other[row] == link[0] and inside(link, self.laid.chainage[row]):
                    return number, float(self.laid.chainage[row])
        return None

    def closes(self, chain, station, onward):
        """Chainage of the last piece where it comes back to the start of the chain; None where it
        does not."""
        piece, a, b = chain[0]
        sense = 1 if b > a else -1
        for row in range(self.station_first[station], self.station_first[station + 1]):
            if (
                self.laid.other[row] == piece
                and onward * (1 if self.laid.same[row] else -1) == sense
                and abs(self.laid.chainage[row] - a) <= AT_END
            ):
                return float(
                    self.rays.chainage[station] - onward * sense * (self.laid.chainage[row] - a)
                )
        return None


def _eased(xyz, reach, start=None, end=None):
    """A line whose ends are moved by vectors, less and less over `reach` metres from each; heights
    only where a vector has one."""
    along = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(xyz[:, :2], axis=0).T))])
    total = along[-1]
    reach = max(min(reach, total), 1e-9)
    for at in ([reach] if start is not None else []) + ([total - reach] if end is not None else []):
        if not (np.abs(along - at) < 1e-9).any():
            place = int(np.searchsorted(along, at))
            share = (at - along[place - 1]) / (along[place] - along[place - 1])
            xyz = np.insert(
                xyz, place, xyz[place - 1] + share * (xyz[place] - xyz[place - 1]), axis=0
            )
            along = np.insert(along, place, at)
    for vector, away in ((start, along), (end, total - along)):
        if vector is not None:
            xyz = xyz + np.clip(1 - away / reach, 0.0, 1.0)[:, None] * np.nan_to_num(vector)
    return xyz


def _trace(lines, closed, axis):
    """Vertices along the chain of an axis, shape (n, 3)."""
    out = None
    for piece, start, stop in axis.chain:
        xyz = extract(lines, piece, start, stop, bool(closed[piece]))
        if out is None:
            out = xyz
        else:
            out = np.concatenate([_eased(out, BRIDGE, end=xyz[0] - out[-1])[:-1], xyz])
    if axis.closed:
        if len(axis.chain) > 1:
            out = _eased(out, BRIDGE, end=out[0] - out[-1])
        out[-1] = out[0]
    step = np.append(True, np.hypot(*np.diff(out[:, :2], axis=0).T) > 1e-6)
    step[-1] = True
    if len(out) > 2 and np.hypot(*(out[-1] - out[np.flatnonzero(step[:-1])[-1]])[:2]) <= 1e-6:
        step[np.flatnonzero(step[:-1])[-1]] = False
    return out[step]


@dataclass(frozen=True)
class _Stations:
    """Stations along axes, `rays`: inside segments, where they stand for a length, and at the
    vertices that are no corner. `segment` that each lies on and how far along, `local`; `first` and
    `last` station inside each segment."""

    rays: Rays
    segment: np.ndarray
    local: np.ndarray
    first: np.ndarray
    last: np.ndarray


@dataclass(frozen=True)
class _Shape:
    """Segments of axes: `vertex` that each starts at, `length`, direction `ux`, `uy`; of each
    vertex the segment `before` and `after` (-1 for none, a ring's first and last vertex have both),
    and whether it is a `corner`."""

    vertex: np.ndarray
    length: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    before: np.ndarray
    after: np.ndarray
    corner: np.ndarray


def _shape_of(lines, closed):
    step = lines.steps()
    last = np.zeros(len(step), bool)
    last[lines.offsets[1:] - 1] = True
    vertex = np.flatnonzero(~last)
    dx, dy = lines.x[vertex + 1] - lines.x[vertex], lines.y[vertex + 1] - lines.y[vertex]
    length = np.maximum(step[vertex], 1e-12)
    ux, uy = dx / length, dy / length
    after, before = np.full(len(step), -1), np.full(len(step), -1)
    after[vertex] = np.arange(len(vertex))
    before[vertex + 1] = np.arange(len(vertex))
    a, b = lines.offsets[:-1][closed], lines.offsets[1:][closed] - 1
    before[a], after[b] = before[b], after[a]
    inner = (before >= 0) & (after >= 0)
    cosine = np.ones(len(step))
    cosine[inner] = ux[before[inner]] * ux[after[inner]] + uy[before[inner]] * uy[after[inner]]
    return _Shape(vertex, length, ux, uy, before, after, cosine < np.cos(np.radians(CORNER)))


def _stations_of(lines, shape, clear):
    """Stations in the segments, clear of corners, where walks' legs cross each other."""
    start, stop = (
        np.where(shape.corner[shape.vertex + end], np.minimum(clear, shape.length / 3), 0.0)
        for end in (0, 1)
    )
    room = shape.length - start - stop
    number = np.maximum(np.ceil(room / SPACING), 1).astype(np.int64)
    first = np.concatenate([[0], np.cumsum(number)])
    segment = group_index(first)
    local = start[segment] + (place_in_group(first) + 0.5) * (room / number)[segment]
    vertex = shape.vertex[segment]
    share = local / shape.length[segment]
    of_vertex, chainage = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)
    place = lambda values: values[vertex] + share * (values[vertex + 1] - values[vertex])  # noqa: E731
    smooth = np.flatnonzero((shape.before >= 0) & (shape.after >= 0) & ~shape.corner)
    ux, uy = (
        axis[shape.before[smooth]] + axis[shape.after[smooth]] for axis in (shape.ux, shape.uy)
    )
    size = np.hypot(ux, uy)
    both = lambda inside, at: np.concatenate([inside, at])  # noqa: E731
    part, along = (
        both(of_vertex[vertex], of_vertex[smooth]),
        both(chainage[vertex] + local, chainage[smooth]),
    )
    order = np.lexsort((along, part))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    # a ring's last vertex has no segment of its own after it: it is the end of the one before
    last = np.zeros(len(of_vertex), bool)
    last[lines.offsets[1:] - 1] = True
    on = np.where(last[smooth], shape.before[smooth], shape.after[smooth])
    rays = Rays(
        part[order],
        along[order],
        both((shape.length / number)[segment], np.zeros(len(smooth)))[order],
        both(place(lines.x), lines.x[smooth])[order],
        both(place(lines.y), lines.y[smooth])[order],
        both(place(lines.z), lines.z[smooth])[order],
        both(shape.ux[segment], ux / size)[order],
        both(shape.uy[segment], uy / size)[order],
        np.searchsorted(part[order], np.arange(len(lines.offsets))),
    )
    return _Stations(
        rays,
        both(segment, on)[order],
        both(local, np.where(last[smooth], shape.length[on], 0.0))[order],
        rank[first[:-1]],
        rank[first[1:] - 1],
    )


@dataclass(frozen=True)
class _Seen:
    """What pieces show at stations of axes, in the order of axis, piece and station; arrays of
    shape (r,).

    `offset` + to the right of the axis; `z` height; `chainage` along the piece; `out`, `out_up`:
    not of one mind with the others; `limit`, `limit_up` what would be explained; `from_others`,
    `up_from_others` how far off it is there, metres.
    """

    station: np.ndarray
    piece: np.ndarray
    offset: np.ndarray
    z: np.ndarray
    chainage: np.ndarray
    same: np.ndarray
    out: np.ndarray
    out_up: np.ndarray
    limit: np.ndarray
    limit_up: np.ndarray
    from_others: np.ndarray
    up_from_others: np.ndarray


def _see(lines, stations, number, ways, sigma, sigma_up, settings, checkpoint):
    """Meet all pieces along the axes and find those that are not of one mind; `number` is the axis
    of each line."""
    rays, pieces = stations.rays, ways.pieces
    met = Index(pieces.lines).meet(rays, 2 * settings.max_offset, checkpoint)
    own = ways.owner[ways.rays.at(met.part, met.chainage)] == number[rays.part[met.station]]
    met = met.take(own)
    order = np.lexsort((np.abs(met.offset), met.part, met.station))
    met = met.take(
        order[
            np.append(True, (np.diff(met.station[order]) != 0) | (np.diff(met.part[order]) != 0))[
                : len(order)
            ]
        ]
    )
    group = rays.part[met.station] * len(pieces) + met.part
    group, station, (offset, z, chainage), row = fill_gaps(
        group,
        met.station,
        rays.chainage[met.station],
        FILL + SPACING,
        (met.offset, met.z, met.chainage),
    )
    piece, same = met.part[row], met.same[row]
    cell = numbered(rays.part[station], np.floor(rays.chainage[station] / CELL).astype(np.int64))
    # how much longer than the axis each piece is: a slip makes a line longer, so of two walks the
    # straighter one is followed
    ahead = np.append((np.diff(group) == 0) & (np.diff(station) == 1), False)
    here = np.flatnonzero(ahead)
    _, number_of = np.unique(group, return_inverse=True)
    gone = np.bincount(
        number_of[here], np.abs(chainage[here + 1] - chainage[here]), number_of.max(initial=0) + 1
    )
    along = np.bincount(
        number_of[here],
        rays.chainage[station[here + 1]] - rays.chainage[station[here]],
        number_of.max(initial=0) + 1,
    )
    straight = -np.round(gone / np.maximum(along, 1e-9), 5)[number_of]
    out, limit, away = _not_of_one_mind(
        cell, station, piece, offset, sigma, straight, LEAST_PLAN, settings.confidence, True
    )
    out_up, limit_up, away_up = _not_of_one_mind(
        cell, station, piece, z, sigma_up, straight, LEAST_UP, settings.confidence, False
    )
    return _Seen(
        station,
        piece,
        offset,
        z,
        chainage,
        same,
        out,
        out_up & ~out,
        limit,
        limit_up,
        away,
        away_up,
    )


def _not_of_one_mind(cell, station, piece, value, sigma, straight, least, confidence, straightest):
    """Rows whose piece differs in their cell from the one that is followed there by more than
    uncertainty; what is allowed; by how much.

    The weighted median of the pieces of a cell is followed; of two pieces the surer one, or with
    `straightest` the straighter one.
    """
    out, limit, away = (
        np.zeros(len(value), bool),
        np.full(len(value), np.nan),
        np.full(len(value), np.nan),
    )
    rows = np.flatnonzero(np.isfinite(value))
    if not len(rows):
        return out, limit, away
    of = numbered(cell[rows], piece[rows])
    count = int(of.max()) + 1
    pair, bonus = np.zeros((count, 2), np.int64), np.zeros(count)
    pair[of], bonus[of] = np.column_stack([cell[rows], piece[rows]]), straight[rows]
    mean, own = np.bincount(of, value[rows]) / np.bincount(of), sigma[pair[:, 1]]
    place = np.empty(count)
    # the straighter, and of those alike the longer, ranks higher
    place[np.lexsort((-pair[:, 1], bonus))] = np.arange(1, count + 1)
    two = np.bincount(pair[:, 0])[pair[:, 0]] == 2
    weight = np.where(two & straightest, place, own**-2.0 * (1 + 1e-6 * place / count))
    order = np.lexsort((pair[:, 1], mean, pair[:, 0]))
    starts = offsets_from_starts(np.append(True, np.diff(pair[order, 0]) > 0))
    reached = np.flatnonzero(
        cumulative(weight[order], starts) + weight[order]
        >= np.repeat(group_sum(weight[order], starts), np.diff(starts)) / 2
    )
    chosen = order[reached[np.searchsorted(reached, starts[:-1])]]
    reference = np.empty(count, np.int64)
    reference[order] = np.repeat(chosen, np.diff(starts))
    # differences station by station, where the piece that is followed has a value too
    wide = int(piece.max()) + 1
    key = station[rows] * wide + piece[rows]
    ranked = np.argsort(key)
    wanted = station[rows] * wide + pair[reference[of], 1]
    found = ranked[np.minimum(np.searchsorted(key[ranked], wanted), len(rows) - 1)]
    difference = value[rows] - np.where(
        key[found] == wanted, value[rows][found], mean[reference[of]]
    )
    typical = np.bincount(of, difference) / np.bincount(of)
    allowed = limit_of(confidence, own, own[reference])
    called = beyond_chance(
        np.abs(typical) / allowed, int(np.count_nonzero(reference != np.arange(count))), confidence
    ) & (np.abs(typical) > least)
    out[rows], limit[rows], away[rows] = called[of], np.maximum(allowed, least)[of], difference
    return out, limit, away


def _shares(seen, stations, lines, closed, use, sigma, blend):
    """Share that each row has in the mean of its station, 0 where it is not used; they sum to 1 at
    each station that has any.

    Weights are 1 / sigma**2 and grow from 0 over `blend` metres from where a walk begins or ends
    inside the axis.
    """
    rays = stations.rays
    axis = rays.part[seen.station]
    follows = (
        use[1:]
        & use[:-1]
        & (np.diff(seen.piece) == 0)
        & (np.diff(seen.station) == 1)
        & (np.diff(axis) == 0)
    )
    rows = np.flatnonzero(use)
    weight = np.zeros(len(use))
    if not len(rows):
        return weight
    starts = np.append(True, ~follows[rows[1:] - 1] | (np.diff(rows) > 1))
    offsets = offsets_from_starts(starts)
    first, last = rows[offsets[:-1]], rows[offsets[1:] - 1]
    length = lines.part_length()
    half = rays.weight[seen.station] / 2
    along = rays.chainage[seen.station]
    at_start, at_end = (
        seen.station[run] == bound[axis[run]]
        for run, bound in ((first, rays.first[:-1]), (last, rays.first[1:] - 1))
    )
    # round a ring's seam a walk goes on where it is at both sides of it
    key = axis[first] * (int(seen.piece.max()) + 1) + seen.piece[first]
    through = closed[axis[first]] & np.isin(key, key[at_start]) & np.isin(key, key[at_end])
    open_start, open_end = (
        at_start & (~closed[axis[first]] | through),
        at_end & (~closed[axis[first]] | through),
    )
    begin = np.where(open_start, -np.inf, along[first] - half[first])
    end = np.where(open_end, np.inf, along[last] + half[last])
    run = group_index(offsets)
    near = np.minimum(along[rows] - begin[run], end[run] - along[rows])
    weight[rows] = (
        np.clip(near / min(blend, float(length.max())), 1e-6, 1.0) * sigma[seen.piece[rows]] ** -2.0
    )
    total = np.bincount(seen.station, weight, len(rays))
    return weight / np.where(total > 0, total, 1.0)[seen.station]


def _spread(values, known, rays):
    """Fill the stations that have no value from those beside them on the same axis; NaN where the
    axis has none at all."""
    out = np.full(len(values), np.nan)
    some = np.flatnonzero(known)
    if not len(some):
        return out
    wide = float(rays.chainage.max()) + 10.0
    out = np.interp(
        rays.chainage + rays.part * 3 * wide,
        rays.chainage[some] + rays.part[some] * 3 * wide,
        values[some],
    )
    nearest = lambda side: np.clip(
        np.searchsorted(some, np.arange(len(values)), side), 0, len(some) - 1
    )
    left, right = some[np.maximum(nearest("right") - 1, 0)], some[nearest("left")]
    left_own, right_own = rays.part[left] == rays.part, rays.part[right] == rays.part
    out = np.where(
        left_own & right_own,
        out,
        np.where(left_own, values[left], np.where(right_own, values[right], np.nan)),
    )
    return np.where(known, values, out)


def _at_vertices(values, stations, shape):
    """Values of the stations next to each vertex, before and after it; at an end both are that of
    the only one."""
    before, after = (
        values[stations.last[np.maximum(shape.before, 0)]],
        values[stations.first[np.maximum(shape.after, 0)]],
    )
    return np.where(shape.before < 0, after, before), np.where(shape.after < 0, before, after)


def _displaced(lines, shape, stations, offset):
    """Corners where the moved legs meet, and ends moved across; other vertices are stations
    themselves."""
    before, after = _at_vertices(offset, stations, shape)
    back = np.where(shape.before >= 0, shape.before, shape.after)
    ahead = np.where(shape.after >= 0, shape.after, shape.before)
    nx, ny, mx, my = shape.uy[back], -shape.ux[back], shape.uy[ahead], -shape.ux[ahead]
    cosine = nx * mx + ny * my
    with np.errstate(invalid="ignore", divide="ignore"):
        # u · n = before, u · m = after
        p, q = (
            (before - cosine * after) / (1 - cosine**2),
            (after - cosine * before) / (1 - cosine**2),
        )
    # a leg that turns back on itself meets the other nowhere
    plain = ~shape.corner | (cosine < -0.9)
    p, q = np.where(plain, before / 2, p), np.where(plain, after / 2, q)
    return lines.x + p * nx + q * mx, lines.y + p * ny + q * my


def merge_passes(lines, sigma_up=None, group=None, settings=None, checkpoint=lambda share: None):
    """Merge walks of the same edges.

    Parameters
    ----------
    lines : Lines
        Edges; `sigma` of each row 0 where it is unknown.
    sigma_up : ndarray of float, shape (count,), optional
        1-sigma of the heights, metres, NaN where unknown.
    group : ndarray of int, shape (count,), optional
        Rows of different groups are never merged.
    settings : Settings, optional
    checkpoint : callable
        Called with the share that is done, 0 to 1; may raise to stop the work.

    Returns
    -------
    Merge
        Every stretch of the input is in an edge or in a disagreement. The result does not depend on
        the order of rows; reversing a row leaves all places as they are. An edge runs the way that
        most of its walks ran.

    Notes
    -----
    Weights are 1 / sigma**2. The errors of walks at other times are independent of one another,
    those of the receiver that stay the same over a minute too: so the variance of a mean of walks
    with shares a is the sum of a**2 sigma**2, and three like walks have sigma / sqrt(3).
    """
    settings = settings or Settings()
    per_part = lambda values: values[lines.line]  # noqa: E731
    sigma = per_part(np.where(lines.sigma > 0, lines.sigma, np.nan))
    sigma_up = (
        np.full(len(lines.line), np.nan)
        if sigma_up is None
        else per_part(np.where(np.asarray(sigma_up) > 0, sigma_up, np.nan))
    )
    group = (
        np.zeros(len(lines.line), np.int64)
        if group is None
        else per_part(np.asarray(group, np.int64))
    )
    pieces, rays, met = cut_pieces(
        lines,
        sigma,
        sigma_up,
        group,
        settings.max_offset,
        settings.min_overlap,
        lambda share: checkpoint(0.3 * share),
    )
    laid, sigma, sigma_up = lay_on_each_other(
        pieces, rays, met, settings.min_overlap, settings.confidence
    )
    checkpoint(0.4)
    ways = _Ways(pieces, rays, laid.take(laid.fine))
    ways.find(lambda share: checkpoint(0.4 + 0.2 * share))
    ways.prefer_majority()
    result = _Finish(lines, pieces, rays, laid, ways, sigma, sigma_up, settings).run(
        lambda share: checkpoint(0.6 + 0.4 * share)
    )
    checkpoint(1.0)
    return result


class _Finish:
    """From axes to edges, passes and disagreements."""

    def __init__(self, lines, pieces, rays, laid, ways, sigma, sigma_up, settings):
        self.source, self.pieces, self.rays, self.laid, self.ways = lines, pieces, rays, laid, ways
        self.sigma, self.sigma_up, self.settings = sigma, sigma_up, settings
        self.has_z = (
            np.isfinite(pieces.lines.z[pieces.lines.offsets[:-1]])
            if len(pieces)
            else np.zeros(0, bool)
        )
        self.edges, self.passes, self.listed = [], [], []

    def run(self, checkpoint):
        ways, count = self.ways, len(self.ways.axes)
        taken = ways.owner >= 0
        wide = max(len(self.pieces), 1)
        busy = (
            np.bincount(
                np.unique(ways.owner[taken] * wide + self.rays.part[taken]) // wide, minlength=count
            )
            > 1
        )
        busy |= np.array([len(made.chain) > 1 for made in ways.axes], bool)
        merged = self.merge(np.flatnonzero(busy), lambda share: checkpoint(0.5 * share))
        for axis, made in enumerate(ways.axes):
            if axis % LOOK == 0:
                checkpoint(0.5 + 0.3 * axis / max(count, 1))
            if busy[axis]:
                self.edges.append(merged[axis])
            else:
                self.add_alone(axis, made)
        self.attach()
        self.list_apart()
        self.list_parted()
        self.list_far(checkpoint)
        self.list_others()
        for part, piece in self.pieces.copies.tolist():
            edge = max(int(np.bincount(ways.owner[rays_of(self.rays, piece)] + 2).argmax()) - 2, -1)
            self.add_pass(
                edge,
                piece,
                PASS_STATES.index("copy"),
                0.0,
                float(ways.length[piece]),
                True,
                part=part,
            )
        return self.collect()

    # Edges

    def scale_of(self, piece):
        return float(self.pieces.lines.scale[piece])

    def ends_of(self, axis):
        """Source part and its end at either end of the axis' chain, -1 where the axis begins or
        ends inside a walk."""
        out = np.full((2, 2), -1)
        for side, (piece, at) in enumerate(
            ()
            if axis.closed
            else ((axis.chain[0][0], axis.chain[0][1]), (axis.chain[-1][0], axis.chain[-1][2]))
        ):
            end = 0 if abs(at) < 1e-6 else 1 if abs(at - self.ways.length[piece]) < 1e-6 else -1
            if end >= 0 and self.pieces.whole[piece]:
                out[side] = self.pieces.part[piece], end ^ int(self.pieces.backwards[piece])
        return out

    def add_alone(self, axis, made):
        """An edge that one walk alone shows."""
        ((piece, start, stop),) = made.chain
        pieces = self.pieces
        whole = pieces.whole[piece] and stop - start >= self.ways.length[piece] - 1e-6
        xyz = extract(pieces.lines, piece, start, stop, bool(pieces.closed[piece]))
        ends, turn = self.ends_of(made), bool(pieces.backwards[piece])
        state = SINGLE if whole and max(made.attached) < 0 else REST
        self.edges.append(
            {
                "xyz": xyz[::-1] if turn else xyz,
                "state": state,
                "unchanged": int(pieces.part[piece]) if state == SINGLE else -1,
                "passes": 1,
                "shared": 0.0,
                "sigma": self.sigma[piece],
                "sigma_up": self.sigma_up[piece] if self.has_z[piece] else np.nan,
                "repeatability": np.nan,
                "repeatability_up": np.nan,
                "closed": bool(made.closed),
                "ends": ends[::-1] if turn else ends,
                "scale": self.scale_of(piece),
                "attached": made.attached[::-1] if turn else made.attached,
            }
        )
        self.add_pass(axis, piece, state, start, stop, True)

    def merge(self, busy, checkpoint):
        """Merged edges by axis."""
        if not len(busy):
            self.overall = (np.nan,) * 4
            self.seen = None
            return {}
        ways, settings = self.ways, self.settings
        traced = [_trace(self.pieces.lines, self.pieces.closed, ways.axes[axis]) for axis in busy]
        offsets = np.concatenate([[0], np.cumsum([len(one) for one in traced])])
        flat = np.concatenate(traced)
        lines = Lines(
            flat[:, 0].copy(),
            flat[:, 1].copy(),
            flat[:, 2].copy(),
            offsets,
            np.arange(len(busy)),
            len(busy),
            np.zeros(len(busy)),
        )
        closed = np.array([ways.axes[axis].closed for axis in busy])
        shape = _shape_of(lines, closed)
        stations = _stations_of(lines, shape, settings.max_offset)
        at = stations.rays
        seen = _see(lines, stations, busy, ways, self.sigma, self.sigma_up, settings, checkpoint)
        self.seen, self.stations, self.busy = seen, stations, busy

        share = _shares(seen, stations, lines, closed, ~seen.out, self.sigma, settings.blend)
        share_up = _shares(
            seen,
            stations,
            lines,
            closed,
            ~(seen.out | seen.out_up) & np.isfinite(seen.z),
            self.sigma_up,
            settings.blend,
        )
        total = lambda values: np.bincount(seen.station, values, len(at))  # noqa: E731
        there, there_up = total(share) > 0, total(share_up) > 0
        offset = _spread(total(share * seen.offset), there, at)
        base = _heights_along(lines)
        base_at = base[shape.vertex[stations.segment]] + stations.local / shape.length[
            stations.segment
        ] * (base[shape.vertex[stations.segment] + 1] - base[shape.vertex[stations.segment]])
        up = _spread(total(share_up * np.nan_to_num(seen.z)) - base_at, there_up, at)
        up[_far_from(there_up, at, settings.blend)] = np.nan
        x, y = _displaced(lines, shape, stations, np.nan_to_num(offset))
        z = base + sum(_at_vertices(up, stations, shape)) / 2
        along = cumulative(lines.steps(), lines.offsets)
        # corners, ends and stations in order along each axis
        extra = shape.corner | (shape.before < 0) | (shape.after < 0)
        part = np.concatenate([group_index(lines.offsets)[extra], at.part])
        order = np.lexsort((np.concatenate([along[extra], at.chainage]), part))
        xyz = np.column_stack(
            [
                np.concatenate([x[extra], at.x + offset * at.along_y]),
                np.concatenate([y[extra], at.y - offset * at.along_x]),
                np.concatenate([z[extra], base_at + up]),
            ]
        )[order]
        keep = np.concatenate([shape.corner[extra], np.zeros(len(at), bool)])[order]
        starts = np.searchsorted(part[order], np.arange(len(busy) + 1))
        keep[starts[:-1]] = keep[starts[1:] - 1] = True
        held = np.flatnonzero(keep)
        sections = np.column_stack([held[:-1], held[1:]])[
            part[order][held[:-1]] == part[order][held[1:]]
        ]
        keep = thin(*xyz.T, keep, sections, settings.tolerance, UP_TOLERANCE * settings.tolerance)

        figures = _figures(seen, stations, share, share_up, self.sigma, self.sigma_up, len(busy))
        self.overall = figures.pop("overall")
        per_pass = [[] for _ in busy]
        for one in _pass_figures(seen, stations, len(self.pieces)):
            per_pass[one["axis"]].append(one)
        out = {}
        for number, axis in enumerate(busy.tolist()):
            rows = slice(starts[number], starts[number + 1])
            line = xyz[rows][keep[rows]]
            made = ways.axes[axis]
            votes = per_pass[number]
            turn = sum(one["along"] * self.forward(one) for one in votes) < 0
            sign = -1.0 if turn else 1.0
            ends = self.ends_of(made)
            out[axis] = {
                "xyz": line[::-1] if turn else line,
                "state": MERGED,
                "unchanged": -1,
                "passes": len(votes),
                "closed": bool(made.closed),
                "ends": ends[::-1] if turn else ends,
                "attached": made.attached[::-1] if turn else made.attached,
                "scale": self.scale_of(made.chain[0][0]),
                "turned": turn,
                **{name: float(values[number]) for name, values in figures.items()},
            }
            for one in votes:
                rows = rays_of(self.rays, one["piece"])
                own = np.flatnonzero(ways.owner[rows] == axis)
                weight = float(self.rays.weight[rows.start])
                self.add_pass(
                    axis,
                    one["piece"],
                    MERGED,
                    own[0] * weight,
                    (own[-1] + 1) * weight,
                    self.forward(one) == sign,
                    shared=one["shared"],
                    figures=(
                        sign * one["offset_mean"],
                        one["offset_rms"],
                        one["up_mean"],
                        one["up_rms"],
                    ),
                )
        return out

    def forward(self, one):
        """1 where the walk, in its own direction, runs along the axis, -1 against it."""
        return (1 if one["same"] else -1) * (-1 if self.pieces.backwards[one["piece"]] else 1)

    def attach(self):
        """Let the ends of what branches off begin on the line that it leaves."""
        import shapely

        for number, edge in enumerate(self.edges):
            targets = [
                self.edges[axis]["xyz"] if axis >= 0 and axis != number else None
                for axis in edge["attached"]
            ]
            if any(target is not None for target in targets):
                edge["xyz"] = _onto(shapely, edge["xyz"], targets, self.settings)

    # Lists

    def add_pass(
        self, edge, piece, state, start, stop, same, shared=0.0, figures=(np.nan,) * 4, part=None
    ):
        pieces = self.pieces
        low, high = start, stop
        if pieces.backwards[piece]:
            low, high = self.ways.length[piece] - stop, self.ways.length[piece] - start
        scale = self.scale_of(piece)
        begin = pieces.start[piece]
        self.passes.append(
            (
                edge,
                int(pieces.part[piece]) if part is None else part,
                state,
                (begin + low) / scale,
                (begin + high) / scale,
                bool(same),
                shared / scale,
                *(value / scale if index < 2 else value for index, value in enumerate(figures)),
            )
        )

    def add_listed(self, xyz, edge, own, piece, reason, length, figures):
        self.listed.append(
            (
                xyz,
                edge,
                own,
                int(self.pieces.part[piece]),
                REASONS.index(reason),
                length / self.scale_of(piece),
                *figures,
            )
        )

    def list_apart(self):
        """Stretches that are not of one mind with the others: in plan, edges of their own; in
        height, listed."""
        import shapely

        seen = self.seen
        if seen is None:
            return
        rays = self.stations.rays
        blend = self.settings.blend
        for reason, flag in (("plan", seen.out), ("height", seen.out_up)):
            rows = np.flatnonzero(flag)
            if not len(rows):
                continue
            broken = (
                (np.diff(rows) > 1)
                | (np.diff(seen.piece[rows]) != 0)
                | (np.diff(seen.station[rows]) != 1)
                | (np.diff(rays.part[seen.station[rows]]) != 0)
            )
            for run in np.split(rows, np.flatnonzero(broken) + 1):
                piece, number = int(seen.piece[run[0]]), int(rays.part[seen.station[run[0]]])
                axis = int(self.busy[number])
                ring, size = bool(self.pieces.closed[piece]), float(self.ways.length[piece])
                low, high = sorted((seen.chainage[run[0]], seen.chainage[run[-1]]))
                if ring and high - low > size / 2:  # over the seam
                    low, high = high, low + size
                half = self.rays.weight[self.rays.first[piece]] / 2
                low, high = (
                    (low - half, high + half)
                    if ring
                    else (max(low - half, 0.0), min(high + half, size))
                )
                walked = extract(self.pieces.lines, piece, low, high, ring)
                turn = bool(self.pieces.backwards[piece])
                sign = -1.0 if self.edges[axis]["turned"] else 1.0
                offset, up = sign * seen.from_others[run], seen.up_from_others[run]
                own = -1
                if reason == "plan" and high - low >= REMNANT:
                    # the stretch as walked, and on either side of it the way from the merged edge
                    # and back to it
                    ends = (
                        (low - blend, high + blend)
                        if ring
                        else (max(low - blend, 0.0), min(high + blend, size))
                    )
                    xyz = extract(self.pieces.lines, piece, *ends, ring)
                    target = self.edges[axis]["xyz"]
                    xyz = _onto(
                        shapely,
                        xyz,
                        (
                            target if ring or ends[0] > 0.0 else None,
                            target if ring or ends[1] < size else None,
                        ),
                        self.settings,
                    )
                    own = len(self.edges)
                    self.edges.append(
                        {
                            "xyz": xyz[::-1] if turn else xyz,
                            "state": APART,
                            "unchanged": -1,
                            "passes": 1,
                            "shared": 0.0,
                            "sigma": self.sigma[piece],
                            "sigma_up": self.sigma_up[piece] if self.has_z[piece] else np.nan,
                            "repeatability": np.nan,
                            "repeatability_up": np.nan,
                            "closed": False,
                            "ends": np.full((2, 2), -1),
                            "scale": self.scale_of(piece),
                        }
                    )
                    self.add_pass(own, piece, APART, low, high, True)
                self.add_listed(
                    walked[::-1] if turn else walked,
                    axis,
                    own,
                    piece,
                    reason,
                    high - low,
                    (
                        *_mean_and_most(offset),
                        *_mean_and_most(up),
                        float(np.mean(seen.limit[run])),
                        _mean(seen.limit_up[run]),
                    ),
                )

    def list_parted(self):
        """Ways that leave a merged edge beyond reach and come back to it, and remnants."""
        import shapely

        for axis, made in enumerate(self.ways.axes):
            if self.edges[axis]["state"] == REST and made.attached[0] == made.attached[1] >= 0:
                piece, start, stop = made.chain[0]
                self._list_beside(shapely, piece, start, stop, made.attached[0], axis, "parted")
        for piece, start, stop, attached in self.ways.remnants:
            self.add_pass(-1, piece, PASS_STATES.index("remnant"), start, stop, True)
            self._list_beside(shapely, piece, start, stop, max(attached), -1, "remnant")

    def list_far(self, checkpoint):
        """What an overlap bridged and no edge shows: every place of the source is within reach of
        an edge, or listed."""
        import shapely

        made = [edge["xyz"] for edge in self.edges if edge["state"] != SINGLE]
        pieces = np.unique(
            self.rays.part[
                (self.ways.owner >= 0)
                & np.isin(
                    self.ways.owner,
                    [number for number, edge in enumerate(self.edges) if edge["state"] != SINGLE],
                )
            ]
        )
        if not made or not len(pieces):
            return
        offsets = np.concatenate([[0], np.cumsum([len(one) for one in made])])
        index = Index(Lines.from_columns(*np.concatenate(made)[:, :2].T, None, offsets))
        lines = self.pieces.lines
        of_vertex, along = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)
        stations, vertices = (
            np.flatnonzero(np.isin(self.rays.part, pieces)),
            np.flatnonzero(np.isin(of_vertex, pieces)),
        )
        reach = self.settings.max_offset + self.settings.tolerance
        away = index.nearest(
            np.concatenate([self.rays.x[stations], lines.x[vertices]]),
            np.concatenate([self.rays.y[stations], lines.y[vertices]]),
            reach,
            lambda share: checkpoint(0.8 + 0.1 * share),
        )
        beyond = np.concatenate([stations, self.rays.at(of_vertex[vertices], along[vertices])])[
            np.isinf(away)
        ]
        far = np.zeros(len(self.rays), bool)
        far[beyond[self.ways.owner[beyond] >= 0]] = True  # remnants are listed already
        for piece in np.unique(self.rays.part[far]).tolist():
            rows = rays_of(self.rays, piece)
            for first, _, start, stop in runs_of(
                far[rows],
                self.rays.chainage[rows],
                float(self.rays.weight[rows.start]),
                float(self.ways.length[piece]),
                bool(self.pieces.closed[piece]),
            ):
                edge = int(self.ways.owner[rows.start + first % (rows.stop - rows.start)])
                self.add_pass(-1, piece, PASS_STATES.index("remnant"), start, stop, True)
                self._list_beside(shapely, piece, start, stop, edge, -1, "remnant")

    def _list_beside(self, shapely, piece, start, stop, edge, own, reason):
        xyz = extract(self.pieces.lines, piece, start, stop, bool(self.pieces.closed[piece]))
        xyz = xyz[::-1] if self.pieces.backwards[piece] else xyz
        target = self.edges[edge]["xyz"]
        with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
            away = shapely.distance(
                shapely.points(xyz[:, :2]), shapely.linestrings(target[:, :2])
            ) * _side(target, xyz)
        self.add_listed(
            xyz,
            edge,
            own,
            piece,
            reason,
            stop - start,
            (*_mean_and_most(away), np.nan, np.nan, self.settings.max_offset, np.nan),
        )

    def list_others(self):
        """Pieces that lie beside one another within reach, but show two edges."""
        rows = np.flatnonzero(~self.laid.fine)
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        rows = rows[own > other]  # told once, by the shorter one
        own, other = self.rays.part[self.laid.station[rows]], self.laid.other[rows]
        main = lambda piece: (
            int(np.bincount(self.ways.owner[rays_of(self.rays, piece)] + 2).argmax()) - 2
        )
        pairs, number = np.unique(np.column_stack([own, other]), axis=0, return_counts=True)
        told = set()
        for pair in pairs[np.lexsort((pairs[:, 1], -number))].tolist():
            edges = [max(main(piece), -1) for piece in pair]
            # nothing where a third walk showed that they belong together; each walk once beside an
            # edge, however many walks that has
            if edges[0] == edges[1] or (pair[0], edges[1]) in told:
                continue
            told.add((pair[0], edges[1]))
            mine = rows[(own == pair[0]) & (other == pair[1])]
            stations = self.laid.station[mine]
            flag = np.zeros(self.rays.first[pair[0] + 1] - self.rays.first[pair[0]], bool)
            flag[stations - self.rays.first[pair[0]]] = True
            weight = float(self.rays.weight[self.rays.first[pair[0]]])
            for first, last, start, stop in runs_of(
                flag,
                self.rays.chainage[rays_of(self.rays, pair[0])],
                weight,
                float(self.ways.length[pair[0]]),
                bool(self.pieces.closed[pair[0]]),
            ):
                base = self.rays.first[pair[0]]
                part = mine[np.isin(stations, base + np.arange(first, last + 1) % len(flag))]
                sense = np.where(self.laid.same[part], 1.0, -1.0) * (
                    -1.0 if self.reverse_of(pair[1], edges[1]) else 1.0
                )
                # the other lies to the right by `offset`: this one to its left, in the direction of
                # its own edge
                offset, up = -self.laid.offset[part] * sense, -self.laid.up[part]
                xyz = extract(
                    self.pieces.lines, pair[0], start, stop, bool(self.pieces.closed[pair[0]])
                )
                self.add_listed(
                    xyz[::-1] if self.pieces.backwards[pair[0]] else xyz,
                    edges[1],
                    edges[0],
                    pair[0],
                    "other_edge",
                    stop - start,
                    (
                        *_mean_and_most(offset),
                        *_mean_and_most(up),
                        max(
                            float(
                                limit_of(
                                    self.settings.confidence,
                                    self.sigma[pair[0]],
                                    self.sigma[pair[1]],
                                )
                            ),
                            LEAST_PLAN,
                        ),
                        max(
                            float(
                                limit_of(
                                    self.settings.confidence,
                                    self.sigma_up[pair[0]],
                                    self.sigma_up[pair[1]],
                                )
                            ),
                            LEAST_UP,
                        ),
                    ),
                )

    def reverse_of(self, piece, edge):
        """True where a piece runs against the edge that it is in."""
        if edge < 0 or self.edges[edge]["state"] != MERGED:
            return bool(self.pieces.backwards[piece])
        for found, part, _, _, _, same, *_ in self.passes:
            if found == edge and part == self.pieces.part[piece]:
                return same == bool(self.pieces.backwards[piece])
        return False

    def collect(self):
        edges = self.edges
        column = lambda name, kind: np.array([edge[name] for edge in edges], kind)  # noqa: E731
        offsets = np.concatenate([[0], np.cumsum([len(edge["xyz"]) for edge in edges])]).astype(
            np.int64
        )
        x, y, z = (
            np.concatenate([edge["xyz"] for edge in edges]).T.copy() if edges else np.zeros((3, 0))
        )
        scale = column("scale", float)
        length = (
            np.array([np.hypot(*np.diff(edge["xyz"][:, :2], axis=0).T).sum() for edge in edges])
            / scale
            if edges
            else np.zeros(0)
        )
        merged = MergedEdges(
            x,
            y,
            z,
            offsets,
            column("state", np.int64),
            column("unchanged", np.int64),
            column("passes", np.int64),
            np.minimum(column("shared", float) / scale, length),
            length,
            *(
                column(name, float)
                for name in ("sigma", "sigma_up", "repeatability", "repeatability_up")
            ),
            column("closed", bool),
            np.array([edge["ends"] for edge in edges], np.int64).reshape(-1, 2, 2),
        )
        rows = sorted(
            self.passes, key=lambda row: (row[0] if row[0] >= 0 else len(edges), row[1], row[3])
        )
        kinds = (np.int64, np.int64, np.int64, float, float, bool, *[float] * 5)
        passes = Passes(
            *(np.array([row[index] for row in rows], kind) for index, kind in enumerate(kinds))
        )
        listed = sorted(self.listed, key=lambda row: (row[1], row[4], row[3], -row[5]))
        sizes = np.concatenate([[0], np.cumsum([len(row[0]) for row in listed])]).astype(np.int64)
        flat = np.concatenate([row[0] for row in listed]) if listed else np.zeros((0, 3))
        disagreements = Disagreements(
            *flat.T.copy(),
            sizes,
            *(
                np.array([row[index] for row in listed], np.int64 if index < 5 else float)
                for index in range(1, 12)
            ),
        )
        return Merge(merged, passes, disagreements, *self.overall)


def rays_of(rays, piece):
    return slice(rays.first[piece], rays.first[piece + 1])


def _mean(values):
    values = values[np.isfinite(values)]
    return float(values.mean()) if len(values) else np.nan


def _mean_and_most(values):
    """Mean, and the value farthest from 0 with its sign; NaN where there is none."""
    values = values[np.isfinite(values)]
    return (
        (float(values.mean()), float(values[np.argmax(np.abs(values))]))
        if len(values)
        else (np.nan, np.nan)
    )


def _side(line, points):
    """+1 where points lie to the right of the nearest segment of a line, -1 to its left."""
    a, d = line[:-1, :2], np.diff(line[:, :2], axis=0)
    to = points[:, None, :2] - a[None]
    share = np.clip((to * d).sum(axis=2) / np.maximum((d * d).sum(axis=1), 1e-24), 0, 1)
    off = np.hypot(*(to - share[:, :, None] * d).transpose(2, 0, 1))
    nearest = off.argmin(axis=1)
    own = to[np.arange(len(points)), nearest]
    return np.where(d[nearest, 0] * own[:, 1] - d[nearest, 1] * own[:, 0] <= 0, 1.0, -1.0)


def _onto(shapely, xyz, targets, settings):
    """A line whose ends lie on others (None for an end that stays); it comes away from them over
    the blend length, or a third of its own."""
    vectors = []
    for end, target in zip((xyz[0], xyz[-1]), targets):
        vectors.append(None)
        if target is not None:
            with np.errstate(invalid="ignore"):  # GEOS leaves the flag set
                along = float(
                    shapely.line_locate_point(
                        shapely.linestrings(target[:, :2]), shapely.points(end[:2])
                    )
                )
            steps = np.concatenate([[0.0], np.cumsum(np.hypot(*np.diff(target[:, :2], axis=0).T))])
            vector = np.array([np.interp(along, steps, column) for column in target.T]) - end
            # else there is nothing to come away from
            if np.hypot(*vector[:2]) <= 2 * settings.max_offset:
                vectors[-1] = vector
    length = float(np.hypot(*np.diff(xyz[:, :2], axis=0).T).sum())
    return _eased(xyz, min(settings.blend, length / 3), *vectors)


def _heights_along(lines):
    """Heights of the vertices, those unknown from their neighbours on the same line, 0 where a line
    has none; shape (v,)."""
    known = np.isfinite(lines.z)
    along = cumulative(lines.steps(), lines.offsets)
    part = group_index(lines.offsets)
    rays = Rays(part, along, along, lines.x, lines.y, lines.z, along, along, lines.offsets)
    return np.nan_to_num(_spread(lines.z, known, rays))


def _far_from(there, rays, reach):
    """Stations that have no known one within `reach` along their axis."""
    some = np.flatnonzero(there)
    if not len(some):
        return np.ones(len(there), bool)
    wide = 3 * (float(rays.chainage.max()) + reach + 10.0)
    at = rays.chainage + rays.part * wide
    place = np.searchsorted(at[some], at)
    gap = np.minimum(
        np.abs(at - at[some[np.minimum(place, len(some) - 1)]]),
        np.abs(at - at[some[np.maximum(place - 1, 0)]]),
    )
    return gap > reach


def _figures(seen, stations, share, share_up, sigma, sigma_up, count):
    """Sigmas, shared length and repeatability of each axis, and over all of them."""
    rays = stations.rays
    size = len(rays)
    out, overall = {}, []
    for names, values, part, own in (
        (("sigma", "repeatability"), seen.offset, share, sigma),
        (("sigma_up", "repeatability_up"), seen.z, share_up, sigma_up),
    ):
        used = part > 0
        station, piece, value = seen.station[used], seen.piece[used], values[used]
        n = np.bincount(station, minlength=size)
        variance = np.bincount(station, part[used] ** 2 * own[piece] ** 2, size)
        length = np.bincount(rays.part, rays.weight * (n > 0), count)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.bincount(station, value, size) / n
            out[names[0]] = np.sqrt(np.bincount(rays.part, rays.weight * variance, count) / length)
            rest = np.bincount(station, (value - mean[station]) ** 2, size)
            # of the differences of all pairs at a station, the squares sum to n times the squares
            # about the mean
            squares, pairs = (
                np.bincount(rays.part, rays.weight * n * rest, count),
                np.bincount(rays.part, rays.weight * n * (n - 1) / 2, count),
            )
            expected = np.bincount(
                rays.part,
                rays.weight * np.maximum(n - 1, 0) * np.bincount(station, own[piece] ** 2, size),
                count,
            )
            out[names[1]] = np.sqrt(squares / pairs)
            overall.append(
                (
                    float(np.sqrt(squares.sum() / pairs.sum())),
                    float(np.sqrt(expected.sum() / pairs.sum())),
                )
            )
        if names[0] == "sigma":
            out["shared"] = np.bincount(rays.part, rays.weight * (n > 1), count)
    out["overall"] = (overall[0][0], overall[1][0], overall[0][1], overall[1][1])
    return out


def _pass_figures(seen, stations, pieces):
    """What each piece shows beside the others on each axis, a list of dicts."""
    rays = stations.rays
    size = len(rays)
    key = rays.part[seen.station] * pieces + seen.piece
    different, of = np.unique(key, return_inverse=True)
    of, count = of.reshape(-1), len(different)
    weight = rays.weight[seen.station]
    moments = []
    for values, used in (
        (seen.offset, ~seen.out),
        (seen.z, ~(seen.out | seen.out_up) & np.isfinite(seen.z)),
    ):
        n = np.bincount(seen.station[used], minlength=size)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.bincount(seen.station[used], values[used], size) / n
            rest = np.bincount(
                seen.station[used], (values[used] - mean[seen.station[used]]) ** 2, size
            )
            use = used & (n[seen.station] > 1)
            many, away = n[seen.station[use]], values[use] - mean[seen.station[use]]
            own = lambda amount: np.bincount(of[use], weight[use] * amount, count)  # noqa: B023, E731
            shared = own(np.ones(len(many)))
            moments.append(
                (
                    shared,
                    own(many / (many - 1.0) * away) / shared,
                    np.sqrt(own(many * away**2 + rest[seen.station[use]]) / own(many - 1.0)),
                )
            )
    along = np.bincount(of, weight, count)
    same = np.bincount(of, weight * seen.same, count) > along / 2
    return [
        {
            "axis": int(different[row] // pieces),
            "piece": int(different[row] % pieces),
            "along": float(along[row]),
            "same": bool(same[row]),
            "shared": float(moments[0][0][row]),
            "offset_mean": float(moments[0][1][row]),
            "offset_rms": float(moments[0][2][row]),
            "up_mean": float(moments[1][1][row]),
            "up_rms": float(moments[1][2][row]),
        }
        for row in range(count)
    ]
