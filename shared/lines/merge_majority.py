"""Where one walk leads a path astray and several others leave it together, those lead."""

from dataclasses import dataclass

import numpy as np

from ..tuning import OVERLAPS


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


def prefer_majority(ways):
    """Exchange each path that more walks follow than the stretch of the main path beside it with
    that stretch.

    Parameters
    ----------
    ways : MergePaths
        As found; changed in place.
    """
    for path, made in enumerate(ways.paths):
        main = made.attached[0]
        if main < 0 or made.attached[1] != main or made.closed:
            continue
        passed = _passed_by(ways, made, ways.paths[main])
        if passed is not None and _outnumbers(ways, path, main, passed):
            _let_lead(ways, path, main, passed)


def _passed_by(ways, made, main):
    """The stretch of the main path that lies between the ends of a path beside it; None where
    it is not in one link of its chain, or where an end does not lie beside it."""
    (first, start, onward), (last, back, stop) = made.chain[0], made.chain[-1]
    begin = _place_beside(ways, first, start, np.sign(start - onward), main)
    end = _place_beside(ways, last, stop, np.sign(stop - back), main)
    if begin is None or end is None or begin[0] != end[0]:
        return None
    return _Passed(begin[0], begin[1], end[1])


def _place_beside(ways, piece, at, sense, path):
    """Link of a path's chain, and the chainage on it, next to the end of a piece that branches
    off; None where it is not clear."""
    at = at + sense * ways.weight(piece) / 2
    at = at % ways.length[piece] if ways.pieces.closed[piece] else at

    def inside(link, chainage):
        return min(link[1:]) <= chainage <= max(link[1:])

    for number, link in enumerate(path.chain):
        if link[0] == piece and inside(link, at):
            return number, float(at)
    station = int(ways.rays.at(np.array([piece]), np.array([at]))[0])
    for row in ways.rows_of(station):
        for number, link in enumerate(path.chain):
            if ways.laid.other[row] == link[0] and inside(link, ways.laid.chainage[row]):
                return number, float(ways.laid.chainage[row])
    return None


def _outnumbers(ways, path, main, passed):
    """Whether more walks follow a path than the stretch of the main path beside it."""
    many = len(np.unique(ways.rays.part[ways.owner == path]))
    if many < 2:
        return False
    piece = ways.paths[main].chain[passed.link][0]
    stations = ways.laid.station[_rows_between(ways, piece, passed)]
    beside = np.unique(ways.rays.part[stations[ways.owner[stations] == main]])
    return many > len(np.union1d(beside, [piece]))


def _rows_between(ways, piece, passed):
    """Rows of `laid` on a stretch, without those at its ends, which belong to both ways."""
    return ways.rows_on(piece, passed.low + OVERLAPS.spacing, passed.high - OVERLAPS.spacing)


def _let_lead(ways, path, main, passed):
    """Exchange a path and the stretch of the main path beside it, with their stations."""
    made, chain = ways.paths[path], ways.paths[main].chain
    piece, begin, end = chain[passed.link]
    start, stop, way = passed.start, passed.stop, made.chain
    if (stop - start) * (end - begin) < 0:  # they run against each other
        start, stop = stop, start
        way = [(one, high, low) for one, low, high in reversed(way)]
    ways.paths[main].chain = [
        *chain[: passed.link],
        (piece, begin, start),
        *way,
        (piece, stop, end),
        *chain[passed.link + 1 :],
    ]
    made.chain = [(piece, start, stop)]
    mine = ways.owner == path
    stations = np.arange(ways.rays.first[piece], ways.rays.first[piece + 1])
    chainage = ways.rays.chainage[stations]
    inside = stations[(chainage >= passed.low) & (chainage <= passed.high)]
    laid = ways.laid.station[_rows_between(ways, piece, passed)]
    for some in (inside, laid):
        ways.owner[some[ways.owner[some] == main]] = path
    ways.owner[mine] = main
