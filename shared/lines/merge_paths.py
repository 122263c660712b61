"""Paths along which the walks of one edge are averaged.

The longest walk leads; where it ends and another one continues, that one takes over. Every station
of every piece belongs to one path.
"""

import heapq
from dataclasses import dataclass

import numpy as np

from ..tuning import PASSES
from .overlaps import runs_of


@dataclass
class MergePath:
    """A path along pieces.

    `chain`: list of (piece, from, to), chainages in metres; `closed`: it is a ring; `attached`:
    numbers of the paths that its start and end branch off from, -1 for none.
    """

    chain: list
    closed: bool
    attached: list


@dataclass(frozen=True)
class _Tail:
    """How a piece continues beyond the end of the leading one.

    `piece`; `start` and `stop`: chainages on it, metres; `onward`: 1 where they rise, else -1;
    `station`: the one beyond its end, and `owner`: the path of that, -1 for none.
    """

    piece: int
    start: float
    stop: float
    onward: int
    station: int
    owner: int

    @property
    def length(self):
        return (self.stop - self.start) * self.onward


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

    def rows_of(self, station):
        """Rows of `laid` of a station."""
        return range(self.station_first[station], self.station_first[station + 1])

    def number(self, piece):
        """Number of stations of a piece."""
        return int(self.rays.first[piece + 1] - self.rays.first[piece])

    def take(self, path, piece, start, stop):
        """Assign a stretch of a piece, and the stations that lie on it, to a path."""
        low, high, length = min(start, stop), max(start, stop), self.length[piece]
        spans = [(low, high)]
        if self.pieces.closed[piece]:
            spans = [(low + turn * length, high + turn * length) for turn in (-1, 0, 1)]
        first, number = self.rays.first[piece], self.number(piece)
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
            (-round(float(self.length[piece]), 6), piece, 0, self.number(piece) - 1)
            for piece in range(len(self.pieces))
        ]
        heapq.heapify(waiting)
        done = 0
        while waiting:
            _, piece, first, last = heapq.heappop(waiting)
            base, number = self.rays.first[piece], self.number(piece)
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
                self._start_from(piece, *run)
                done += 1
                if done % PASSES.progress_step == 0:
                    progress(done / (done + len(waiting)))
            else:
                for run in runs:
                    heapq.heappush(
                        waiting, (-round(float(run[3] - run[2]), 6), piece, run[0], run[1])
                    )

    def _start_from(self, piece, first, last, start, stop):
        """Make a path from the stations `first` to `last` of a piece, chainage `start` to `stop`,
        and extend it; what is too short and branches off is a remnant."""
        base, number = self.rays.first[piece], self.number(piece)
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
            self._extend(path, made, side)

    def _extend(self, path, made, side):
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
                found = self._tail(nearest[other][1], other, sense, b)
                if found is not None and (best is None or found.length > best.length + 1e-6):
                    best = found
            if best is None:
                return
            stop = best.stop
            if best.owner == path:
                closing = self._closing(chain, best)
                if closing is not None:
                    stop, made.closed = closing, True
            chain = [*chain, (best.piece, best.start, stop)]
            made.chain = chain if side else turned(chain)
            self.take(path, best.piece, best.start, stop)
            made.attached[side] = best.owner
            if made.closed:
                made.attached = [-1, -1]
                return

    def _tail(self, row, other, sense, end):
        """How a piece continues beyond the end of the leading one: `_Tail`; None where it does
        not."""
        base, number = self.rays.first[other], self.number(other)
        station = int(self.laid.station[row])
        onward = sense if self.laid.same[row] else -sense
        start = self.rays.chainage[station] + onward * sense * (end - self.laid.chainage[row])
        place = station - base
        ahead = np.arange(place + 1, number) if onward > 0 else np.arange(place - 1, -1, -1)
        if self.pieces.closed[other]:
            ahead = (place + onward * np.arange(1, number)) % number
        free = self.owner[base + ahead] < 0
        count = len(free) if free.all() else int(np.argmin(free))
        if count == len(free) and not self.pieces.closed[other]:
            stop, beyond, owner = (self.length[other] if onward > 0 else 0.0), -1, -1
        elif not count:
            return None
        else:
            stop = self.rays.chainage[station] + onward * (count + 0.5) * self.weight(other)
            beyond = int(base + ahead[min(count, len(ahead) - 1)])
            owner = int(self.owner[beyond])
        found = _Tail(other, float(start), float(stop), onward, beyond, owner)
        return found if found.length > PASSES.min_continuation else None

    def _closing(self, chain, tail):
        """Chainage at which the last piece comes back to the start of the chain; None where it does
        not."""
        piece, a, b = chain[0]
        sense = 1 if b > a else -1
        for row in self.rows_of(tail.station):
            if (
                self.laid.other[row] == piece
                and tail.onward * (1 if self.laid.same[row] else -1) == sense
                and abs(self.laid.chainage[row] - a) <= PASSES.end_reach
            ):
                back = tail.onward * sense * (self.laid.chainage[row] - a)
                return float(self.rays.chainage[tail.station] - back)
        return None
