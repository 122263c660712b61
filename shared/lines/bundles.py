"""Bundles: squares in which very many segments run beside one another.

A box along the axes lies loosely round a slanting segment, so among hundreds of lines in one place
each box meets nearly all others, and to find the nearest few means to inspect all. Here each square
is turned into the direction of its segments. Their boxes are then hardly wider than the lines, and
what lies close is found without a look at the others. Squares are moved apart, so one tree holds
many of them.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_index, offsets_of, ranges
from ..tuning import CROWDS, MATCHING
from .squares import cells_of

PAD = 1e-6  # m, against rounding


def _radius():
    """Of the circle round the middle of a square whose contents are known, metres."""
    return CROWDS.bundle_side / np.sqrt(2) + CROWDS.bundle_margin + PAD


def _apart():
    """From square to square in the tree, metres."""
    return 4 * _radius()


@dataclass(frozen=True)
class Bundle:
    """Some squares, whatever lies within `CROWDS.bundle_margin` of them, and the places in them.

    Attributes
    ----------
    place : ndarray of int, shape (p,)
        Numbers of the places, rising.
    square : ndarray of int, shape (p,)
        Square of each place.
    middle, along : ndarray of float, shape (squares, 2)
        Middle of each square, metres, and the direction that it is turned into, a unit vector.
    segment : ndarray of int, shape (k,)
        Segments of the index, as the tree holds them; one in several squares is repeated.
    aside : ndarray of float, shape (k,)
        How far the middle of the segment lies aside in its square, and added to it how far that
        one is from the first in the tree, metres; rising.
    tree : shapely.STRtree
    """

    place: np.ndarray
    square: np.ndarray
    middle: np.ndarray
    along: np.ndarray
    segment: np.ndarray
    aside: np.ndarray
    tree: object

    def turned(self, x, y, square):
        """Places as the tree has them, shape (n, 2)."""
        return _turned(x, y, self.middle[square], self.along[square], square)

    def spread(self, x, y, square, number):
        """Distance aside within which about so many segments lie, shape (n,), metres."""
        rows = self._beside(x, y, square, (-(number // 2), number - number // 2))
        return np.maximum((self.aside[rows[:, 1]] - self.aside[rows[:, 0]]) / 2, 1e-4)

    def beside(self, x, y, square):
        """Some segments whose middles lie near places, seen across: shape (n, 4)."""
        return self.segment[self._beside(x, y, square, (-2, -1, 0, 1))]

    def _beside(self, x, y, square, steps):
        """Rows of the squares' segments at some steps from the place that each place has among
        them, shape (n, steps)."""
        at = _apart() * square + self.turned(x, y, square)[:, 1]
        first, last = (
            np.searchsorted(self.aside, _apart() * (square + side)) for side in (-0.5, 0.5)
        )
        rows = np.searchsorted(self.aside, at)[:, None] + np.asarray(steps)
        return np.clip(rows, first[:, None], last[:, None] - 1)

    def crossed(self, ends, square):
        """Rays and the segments that they may meet: numbers of both.

        Parameters
        ----------
        ends : ndarray of float, shape (n, 2, 2)
            Of each ray, metres; both within the margin of its square.
        square : ndarray of int, shape (n,)
        """
        a, b = (self.turned(*ends[:, end].T, square) for end in (0, 1))
        return self._in_boxes(np.minimum(a, b), np.maximum(a, b))

    def around(self, x, y, square, distance):
        """Places and the segments that may lie within a distance, shape (n,), of each: numbers of
        both."""
        p, distance = self.turned(x, y, square), distance[:, None]
        return self._in_boxes(p - distance, p + distance)

    def _in_boxes(self, low, high):
        import shapely

        # what the tree asks of a line is its box
        i, k = self.tree.query(shapely.linestrings(np.stack([low - PAD, high + PAD], axis=1)))
        return i, self.segment[k]


def bundles(index, x, y, progress):
    """Find bundles among some places; a place lies in one bundle at most.

    Parameters
    ----------
    index : Index
        Its `tree` holds one box for each of its segments.
    x, y : ndarray of float, shape (n,)
        Metres.
    progress : callable
        Called with the share that is done; may raise.

    Yields
    ------
    Bundle
        Of so many squares that their segments fit into memory.
    """
    import shapely

    cell = cells_of(x, y, CROWDS.bundle_side)
    order = np.argsort(cell, kind="stable")
    offsets = offsets_of(np.bincount(cell))
    many = np.flatnonzero(np.diff(offsets) >= CROWDS.bundle_places)
    place = order[offsets[many]]
    middle = CROWDS.bundle_side * (
        np.floor(np.column_stack([x, y])[place] / CROWDS.bundle_side) + 0.5
    )
    start, size = 0, CROWDS.bundle_places
    while start < len(many):
        progress(start / len(many))
        some = slice(start, start + size)
        low, high = middle[some] - _radius(), middle[some] + _radius()
        i, k = index.tree.query(shapely.box(*low.T, *high.T))
        start += len(low)
        size = int(np.clip(size * MATCHING.hits // (4 * max(len(i), 1)), 1, MATCHING.block))
        held = _pieces(index, middle[some], i, k)
        if held is None:
            continue
        squares, *rest = held
        number = many[some][squares]
        first, count = offsets[number], np.diff(offsets)[number]
        here, own = order[ranges(first, count)], group_index(offsets_of(count))
        rising = np.argsort(here)
        yield Bundle(here[rising], own[rising], middle[some][squares], *rest)


def _pieces(index, middle, i, k):
    """What lies in squares of one direction that many segments have: which of them, and `along`,
    `segment`, `aside` and `tree` of a `Bundle` of these; None if there is none.

    `i`, `k`: pairs of a square and a segment that may lie in it.
    """
    import shapely

    number = np.bincount(i, minlength=len(middle))
    fine = number[i] >= CROWDS.bundle_segments
    i, k = i[fine], k[fine]
    # the stretch of the segment within the circle round the square
    along = index.step[k] / index.length[k][:, None]
    away = middle[i] - index.start[k]
    foot = (away * along).sum(axis=1)
    aside = away[:, 0] * along[:, 1] - away[:, 1] * along[:, 0]
    half = np.sqrt(np.maximum(_radius() ** 2 - aside**2, 0.0))
    low, high = np.maximum(foot - half, 0.0), np.minimum(foot + half, index.length[k])
    fine = (high > low) & (half > 0)
    i, k, along, low, high = (a[fine] for a in (i, k, along, low, high))
    axis = _axis(i, along, high - low, len(middle))
    ends = [index.start[k] + at[:, None] * along for at in (low, high)]
    ends = [_turned(*end.T, middle[i], axis[i], 0) for end in ends]
    number = np.bincount(i, minlength=len(middle))
    wide = np.bincount(i, np.abs(ends[1][:, 1] - ends[0][:, 1]), len(middle))
    squares = np.flatnonzero(
        (number >= CROWDS.bundle_segments) & (wide <= CROWDS.bundle_width * _radius() * number)
    )
    if not len(squares):
        return None
    renumbered = np.full(len(middle), -1)
    renumbered[squares] = np.arange(len(squares))
    fine = renumbered[i] >= 0
    i, k, (a, b) = renumbered[i[fine]], k[fine], (end[fine] for end in ends)
    aside = _apart() * i + (a[:, 1] + b[:, 1]) / 2
    order = np.argsort(aside, kind="stable")
    both = np.stack([a, b], axis=1)[order]
    both[:, :, 0] += (_apart() * i[order])[:, None]
    tree = shapely.STRtree(shapely.linestrings(both))
    return squares, axis[squares], k[order], aside[order], tree


def _axis(square, along, length, count):
    """The direction that most of what lies in each square has, whichever way it runs: unit vectors,
    shape (count, 2). Of doubled angles the sums (Mardia and Jupp 2000, Directional Statistics;
    from memory)."""
    x, y = along.T
    twice = np.arctan2(
        np.bincount(square, length * 2 * x * y, count),
        np.bincount(square, length * (x * x - y * y), count),
    )
    return np.column_stack([np.cos(twice / 2), np.sin(twice / 2)])


def _turned(x, y, middle, along, square):
    """Places turned into the directions of squares, shape (n, 2), and moved apart."""
    east, north = x - middle[:, 0], y - middle[:, 1]
    return np.column_stack([
        east * along[:, 0] + north * along[:, 1] + _apart() * square,
        north * along[:, 0] - east * along[:, 1],
    ])  # fmt: skip
