"""An open path through places made shorter by 2-opt.

Pieces of the path are reversed as long as that makes it shorter (G. A. Croes, A method for solving
traveling-salesman problems, Operations Research 6, 1958).
"""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..tuning import REVISITS


def shortened(x, y, way, fixed, progress):
    """Shorten a path; only pairs of the `REVISITS.neighbours` nearest places are tried.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Places, metres.
    way : ndarray of int, shape (n,)
        The places in the order of the path; changed in place.
    fixed : bool
        The first place stays where it is.
    progress : callable
        Called with the share that is done; may raise. The amount of work is not known beforehand,
        so the share approaches 1 slowly.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    if len(way) < 3:
        return way
    path = _Path.of(x, y, way, fixed)
    pairs, turn = _neighbours(x, y), 0
    while True:
        won = path.reversals(pairs).won
        promising = np.argsort(-won.ravel(), kind="stable")[
            : np.count_nonzero(won > REVISITS.min_gain)
        ]
        if not len(promising):
            return path.way
        for side, pair in zip(
            *(index.tolist() for index in np.unravel_index(promising, won.shape))
        ):
            if turn % REVISITS.block == 0:
                progress(1 - 0.9 ** (turn / REVISITS.block))
            turn += 1
            now = path.reversals(pairs[pair : pair + 1])  # the path may have changed since
            if now.won[side, 0] > REVISITS.min_gain:
                path.reverse(now.first[side, 0], now.last[side, 0])


def _neighbours(x, y):
    """Pairs of near places, shape (pairs, 2), each once."""
    points = np.column_stack([x, y])
    number = min(REVISITS.neighbours, len(points) - 1) + 1
    near = cKDTree(points).query(points, number)[1][:, 1:]
    one = np.repeat(np.arange(len(points)), near.shape[1])
    pairs = np.unique(np.sort(np.column_stack([one, near.ravel()]), axis=1), axis=0)
    return pairs[pairs[:, 0] != pairs[:, 1]]


@dataclass(frozen=True)
class _Reversals:
    """Of each pair of places the stretches after and before it that may be reversed, shape (2,
    pairs): the places of the path where they begin and end, and the metres that are won."""

    first: np.ndarray
    last: np.ndarray
    won: np.ndarray


@dataclass(frozen=True)
class _Path:
    """An open path. `way`: its places in order; `place`: where each of them is in it; both are
    changed in place."""

    x: np.ndarray
    y: np.ndarray
    way: np.ndarray
    place: np.ndarray
    fixed: bool

    @classmethod
    def of(cls, x, y, way, fixed):
        """The path through all places in an order."""
        place = np.empty(len(way), np.int64)
        place[way] = np.arange(len(way))
        return cls(x, y, way, place, fixed)

    def _distance(self, a, b):
        return np.hypot(self.x[a] - self.x[b], self.y[a] - self.y[b])

    def reversals(self, pairs):
        """What may be reversed so that each pair of places follow each other: `_Reversals`."""
        way, size, distance = self.way, len(self.way), self._distance
        low, high = np.sort(self.place[pairs], axis=1).T
        after, beyond = low + 1, np.minimum(high + 1, size - 1)
        open_end = high + 1 == size  # nothing is parted there
        joined = np.where(open_end, 0.0, distance(way[np.minimum(after, size - 1)], way[beyond]))
        parted = np.where(open_end, 0.0, distance(way[high], way[beyond]))
        won_after = distance(way[low], way[after]) + parted - distance(way[low], way[high]) - joined
        before, ahead = high - 1, np.maximum(low - 1, 0)
        open_start = low == 0
        joined = np.where(open_start, 0.0, distance(way[ahead], way[before]))
        parted = np.where(open_start, 0.0, distance(way[ahead], way[low]))
        won_before = (
            distance(way[before], way[high]) + parted - distance(way[low], way[high]) - joined
        )
        if self.fixed:
            won_before = np.where(open_start, -1.0, won_before)
        return _Reversals(
            first=np.stack([after, low]),
            last=np.stack([high, before]),
            won=np.stack([won_after, won_before]),
        )

    def reverse(self, first, last):
        """Reverse the stretch from one place of the path to another."""
        self.way[first : last + 1] = self.way[first : last + 1][::-1].copy()
        self.place[self.way[first : last + 1]] = np.arange(first, last + 1)
