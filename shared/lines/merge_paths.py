"""Paths along which the walks of one edge are averaged.

The longest walk leads; where it ends and another one continues, that one takes over. Every station
of every piece belongs to one path.
"""

import heapq
from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, offsets_of, place_in_group
from ..tuning import OVERLAPS, PASSES
from .lines import chainages
from .overlaps import extract, runs_of
from .rays import Rays


class MergePath:
    """A path along pieces.

    `chain`: list of (piece, from, to), chainages in metres; `closed`: it is a ring; `attached`:
    numbers of the paths that its start and end branch off from, -1 for none.
    """

    def __init__(self, chain, closed, attached):
        self.chain, self.closed, self.attached = chain, closed, attached


@dataclass(frozen=True)
class _Passed:
    """A stretch of a main path that another path passes by.

    `link`: number of the link of its chain; `start` and `stop`: chainages there, metres, where the
    other one leaves it and comes back.
    """

    link: int
    start: float
    stop: float

    @property
    def low(self):
        return min(self.start, self.stop)

    @property
    def high(self):
        return max(self.start, self.stop)


class MergePaths:
    """Assigns every station of every piece to one path, the longest pieces first.

    Parameters
    ----------
    pieces : Pieces
    rays : Rays
        Their stations.
    laid : Laid
        Stations that lie on another walk of the same edge.
    """

    def __init__(self, pieces, rays, laid):
        self.pieces, self.rays, self.laid = pieces, rays, laid
        self.length = pieces.lines.part_length()
        self.owner = np.full(len(rays), -1, np.int64)
        self.by_other = np.lexsort((laid.chainage, laid.other))
        self.other_first = np.searchsorted(laid.other[self.by_other], np.arange(len(pieces) + 1))
        self.sorted_chainage = laid.chainage[self.by_other]
        self.station_first = np.searchsorted(laid.station, np.arange(len(rays) + 1))
        self.paths, self.remnants = [], []

    def weight(self, piece):
        """Length of a piece that each of its stations stands for, metres."""
        return self.rays.weight[self.rays.first[piece]]

    def rows_on(self, piece, low, high):
        """Rows of `laid` that lie on a stretch of a piece."""
        first, stop = self.other_first[piece], self.other_first[piece + 1]
        a, b = np.searchsorted(self.sorted_chainage[first:stop], [low, high])
        return self.by_other[first + a : first + b]

    def take(self, path, piece, start, stop):
        """Assign a stretch of a piece, and the stations that lie on it, to a path."""
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
                self.owner[stations[self.owner[stations] < 0]] = path

    def find(self, progress):
        """Start paths from all pieces, the longest first; what others leave of a piece is queued by
        its own length."""
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
                if done % PASSES.progress_step == 0:
                    progress(done / (done + len(waiting)))
            else:
                for run in runs:
                    heapq.heappush(
                        waiting, (-round(float(run[3] - run[2]), 6), piece, run[0], run[1])
                    )

    def start_from(self, piece, first, last, start, stop):
        """Make a path from the stations `first` to `last` of a piece, chainage `start` to `stop`,
        and extend it; what is too short and branches off is a remnant."""
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
        if stop - start < PASSES.min_edge and max(attached) >= 0:
            self.remnants.append((piece, start, stop, attached))
            self.owner[base + np.arange(first, last + 1) % number] = -2
            return
        path = len(self.paths)
        made = MergePath([(piece, start, stop)], ring and whole, attached)
        self.paths.append(made)
        self.take(path, piece, start, stop)
        self.owner[base + np.arange(first, last + 1) % number] = path
        for side in (1, 0):
            if made.closed:
                break
            self.go_on(path, made, side)

    def go_on(self, path, made, side):
        """Extend a path along other pieces beyond one end (1 its end, 0 its start)."""

        def turned(chain):
            return [(piece, b, a) for piece, a, b in reversed(chain)]

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
            for row in self.rows_on(piece, b - PASSES.end_reach, b + PASSES.end_reach).tolist():
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
            if beyond >= 0 and beyond == path:
                closing = self.closes(chain, ahead, onward)
                if closing is not None:
                    to, made.closed = closing, True
            chain = [*chain, (other, from_, to)]
            made.chain = chain if side else turned(chain)
            self.take(path, other, from_, to)
            made.attached[side] = int(beyond)
            if made.closed:
                made.attached = [-1, -1]
                return

    def tail(self, row, other, sense, end):
        """How a piece continues beyond the end of the leading one: length, piece, from, to, the
        station beyond, its owner, and the direction; None where it does not."""
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
        if (to - from_) * onward <= PASSES.min_continuation:
            return None
        return (to - from_) * onward, other, float(from_), float(to), station, beyond, onward

    # long: one change of two paths at once
    def prefer_majority(self):
        """Where one walk leads a path astray and several others leave it together, let those
        lead."""
        for path, made in enumerate(self.paths):
            main = made.attached[0]
            if main < 0 or made.attached[1] != main or made.closed:
                continue
            passed = self._passed_by(made, self.paths[main])
            if passed is not None and self._outnumbers(path, main, passed):
                self._let_lead(path, main, passed)

    def _passed_by(self, made, main):
        """The stretch of the main path that lies between the ends of a path beside it; None where
        it is not in one link of its chain, or where an end does not lie beside it."""
        (first, start, onward), (last, back, stop) = made.chain[0], made.chain[-1]
        begin = self.place_beside(first, start, np.sign(start - onward), main)
        end = self.place_beside(last, stop, np.sign(stop - back), main)
        if begin is None or end is None or begin[0] != end[0]:
            return None
        return _Passed(begin[0], begin[1], end[1])

    def _outnumbers(self, path, main, passed):
        """Whether more walks follow a path than the stretch of the main path beside it."""
        many = len(np.unique(self.rays.part[self.owner == path]))
        if many < 2:
            return False
        piece = self.paths[main].chain[passed.link][0]
        stations = self.laid.station[self._rows_between(piece, passed)]
        beside = np.unique(self.rays.part[stations[self.owner[stations] == main]])
        return many > len(np.union1d(beside, [piece]))

    def _rows_between(self, piece, passed):
        """Rows of `laid` on a stretch, without those at its ends, which belong to both ways."""
        return self.rows_on(piece, passed.low + OVERLAPS.spacing, passed.high - OVERLAPS.spacing)

    def _let_lead(self, path, main, passed):
        """Exchange a path and the stretch of the main path beside it, with their stations."""
        made, chain = self.paths[path], self.paths[main].chain
        piece, begin, end = chain[passed.link]
        start, stop, way = passed.start, passed.stop, made.chain
        if (stop - start) * (end - begin) < 0:  # they run against each other
            start, stop = stop, start
            way = [(one, high, low) for one, low, high in reversed(way)]
        self.paths[main].chain = [
            *chain[: passed.link],
            (piece, begin, start),
            *way,
            (piece, stop, end),
            *chain[passed.link + 1 :],
        ]
        made.chain = [(piece, start, stop)]
        mine = self.owner == path
        stations = np.arange(self.rays.first[piece], self.rays.first[piece + 1])
        chainage = self.rays.chainage[stations]
        inside = stations[(chainage >= passed.low) & (chainage <= passed.high)]
        laid = self.laid.station[self._rows_between(piece, passed)]
        for some in (inside, laid):
            self.owner[some[self.owner[some] == main]] = path
        self.owner[mine] = main

    def place_beside(self, piece, at, sense, path):
        """Link of a path's chain, and the chainage on it, next to the end of a piece that branches
        off; None where it is not clear."""
        at = at + sense * self.weight(piece) / 2
        at = at % self.length[piece] if self.pieces.closed[piece] else at

        def inside(link, chainage):
            return min(link[1:]) <= chainage <= max(link[1:])

        for number, link in enumerate(path.chain):
            if link[0] == piece and inside(link, at):
                return number, float(at)
        station = int(self.rays.at(np.array([piece]), np.array([at]))[0])
        for row in range(self.station_first[station], self.station_first[station + 1]):
            for number, link in enumerate(path.chain):
                if self.laid.other[row] == link[0] and inside(link, self.laid.chainage[row]):
                    return number, float(self.laid.chainage[row])
        return None

    def closes(self, chain, station, onward):
        """Chainage at which the last piece comes back to the start of the chain; None where it does
        not."""
        piece, a, b = chain[0]
        sense = 1 if b > a else -1
        for row in range(self.station_first[station], self.station_first[station + 1]):
            if (
                self.laid.other[row] == piece
                and onward * (1 if self.laid.same[row] else -1) == sense
                and abs(self.laid.chainage[row] - a) <= PASSES.end_reach
            ):
                return float(
                    self.rays.chainage[station] - onward * sense * (self.laid.chainage[row] - a)
                )
        return None


def trace_path(lines, closed, path):
    """Vertices along the chain of a path.

    Parameters
    ----------
    lines : Lines
        The pieces.
    closed : ndarray of bool, shape (p,)
        Pieces that are rings.
    path : MergePath

    Returns
    -------
    ndarray of float, shape (n, 3)
        Metres.
    """
    out = None
    for piece, start, stop in path.chain:
        xyz = extract(lines, piece, start, stop, bool(closed[piece]))
        if out is None:
            out = xyz
        else:
            led = with_ends_moved(out, PASSES.bridge, end=xyz[0] - out[-1])
            out = np.concatenate([led[:-1], xyz])
    if path.closed:
        if len(path.chain) > 1:
            out = with_ends_moved(out, PASSES.bridge, end=out[0] - out[-1])
        out[-1] = out[0]
    step = np.append(True, np.hypot(*np.diff(out[:, :2], axis=0).T) > 1e-6)
    step[-1] = True
    if len(out) > 2 and np.hypot(*(out[-1] - out[np.flatnonzero(step[:-1])[-1]])[:2]) <= 1e-6:
        step[np.flatnonzero(step[:-1])[-1]] = False
    return out[step]


def with_ends_moved(xyz, reach, start=None, end=None):
    """A line whose ends are moved by vectors that fade linearly over `reach` from each end.

    Parameters
    ----------
    xyz : ndarray of float, shape (n, 3)
        Metres.
    reach : float
        Metres.
    start, end : ndarray of float, shape (3,), optional
        Vectors, metres; NaN in height for none.

    Returns
    -------
    ndarray of float, shape (m, 3)
    """
    along = chainages(xyz)
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


@dataclass(frozen=True)
class PathStations:
    """Stations along paths: inside segments, where they stand for a length, and at vertices that
    are not corners.

    `segment`: that each station lies on; `local`: how far along it, metres; `first`, `last`: first
    and last station inside each segment.
    """

    rays: Rays
    segment: np.ndarray
    local: np.ndarray
    first: np.ndarray
    last: np.ndarray


@dataclass(frozen=True)
class PathShape:
    """Segments and vertices of paths.

    Of each segment: the `vertex` that it starts at, its `length` in metres, its unit direction
    `ux`, `uy`. Of each vertex: the segments `before` and `after` it (-1 for none; the first and
    last vertex of a ring have both), and whether it is a `corner`.
    """

    vertex: np.ndarray
    length: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    before: np.ndarray
    after: np.ndarray
    corner: np.ndarray


def shape_of(lines, closed):
    """Segments and corners of paths.

    Parameters
    ----------
    lines : Lines
        The paths.
    closed : ndarray of bool, shape (paths,)

    Returns
    -------
    PathShape
    """
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
    return PathShape(vertex, length, ux, uy, before, after, cosine < PASSES.corner_cosine)


# long: a third of it is the record of the stations
def stations_of(lines, shape, clear):
    """Stations along paths, clear of corners, where the legs of walks cross.

    Parameters
    ----------
    lines : Lines
        The paths.
    shape : PathShape
    clear : float
        Distance kept from corners, metres.

    Returns
    -------
    PathStations
    """
    start, stop = (
        np.where(shape.corner[shape.vertex + end], np.minimum(clear, shape.length / 3), 0.0)
        for end in (0, 1)
    )
    room = shape.length - start - stop
    number = np.maximum(np.ceil(room / OVERLAPS.spacing), 1).astype(np.int64)
    first = offsets_of(number)
    segment = group_index(first)
    local = start[segment] + (place_in_group(first) + 0.5) * (room / number)[segment]
    vertex = shape.vertex[segment]
    share = local / shape.length[segment]
    of_vertex, chainage = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)

    def place(values):
        return values[vertex] + share * (values[vertex + 1] - values[vertex])

    smooth = np.flatnonzero((shape.before >= 0) & (shape.after >= 0) & ~shape.corner)
    ux, uy = (
        axis[shape.before[smooth]] + axis[shape.after[smooth]] for axis in (shape.ux, shape.uy)
    )
    size = np.hypot(ux, uy)

    def both(inside, at):
        return np.concatenate([inside, at])

    part, along = (
        both(of_vertex[vertex], of_vertex[smooth]),
        both(chainage[vertex] + local, chainage[smooth]),
    )
    order = np.lexsort((along, part))
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    # no segment starts at the last vertex of a ring: it lies at the end of the one before
    last = np.zeros(len(of_vertex), bool)
    last[lines.offsets[1:] - 1] = True
    on = np.where(last[smooth], shape.before[smooth], shape.after[smooth])
    rays = Rays(
        part=part[order],
        chainage=along[order],
        weight=both((shape.length / number)[segment], np.zeros(len(smooth)))[order],
        x=both(place(lines.x), lines.x[smooth])[order],
        y=both(place(lines.y), lines.y[smooth])[order],
        z=both(place(lines.z), lines.z[smooth])[order],
        along_x=both(shape.ux[segment], ux / size)[order],
        along_y=both(shape.uy[segment], uy / size)[order],
        first=np.searchsorted(part[order], np.arange(len(lines.offsets))),
    )
    return PathStations(
        rays=rays,
        segment=both(segment, on)[order],
        local=both(local, np.where(last[smooth], shape.length[on], 0.0))[order],
        first=rank[first[:-1]],
        last=rank[first[1:] - 1],
    )
