"""What must be walked again: findings in a row made one, findings near each other made one place,
and places put in walking order."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..tuning import REVISITS


@dataclass(frozen=True)
class Places:
    """Places in walking order, from what was found.

    Attributes
    ----------
    place : ndarray of int, shape (n,)
        Place of each finding, 0 for the first to walk to.
    at : ndarray of int, shape (places,)
        Finding that each place lies at.
    leg : ndarray of float, shape (places,)
        Straight on the ground from the place before, metres; that of the first is from the start,
        NaN without one.
    """

    place: np.ndarray
    at: np.ndarray
    leg: np.ndarray

    def __len__(self):
        return len(self.at)


def _axes(*arrays):
    """Arrays of one length, as floats, finite.

    Raises
    ------
    ValueError
    """
    arrays = [np.asarray(array, float) for array in arrays]
    if any(array.ndim != 1 or array.shape != arrays[0].shape for array in arrays):
        raise ValueError(
            "positions must have one shape (n,), got"
            f" {', '.join(str(array.shape) for array in arrays)}"
        )
    lost = ~np.all([np.isfinite(array) for array in arrays], axis=0)
    if lost.any():
        raise ValueError(f"{np.count_nonzero(lost)} positions are not finite")
    return arrays


def in_a_row(group, along, step):
    """Find what follows each other.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Capture or edge: nothing runs from one into the next.
    along : array_like of float, shape (n,)
        Seconds or chainage.
    step : float
        Greatest difference of `along` between two that follow each other.

    Returns
    -------
    order : ndarray of int, shape (n,)
        All of them, sorted by group and `along`.
    offsets : ndarray of int, shape (rows + 1,)
        Where each row starts in `order`.

    Raises
    ------
    ValueError
        If `step` is not positive or a place is not finite.
    """
    group, (along,) = np.asarray(group), _axes(along)
    if not step > 0:
        raise ValueError(f"step must be greater than 0, got {step}")
    order = np.lexsort((along, group))
    if not len(order):
        return order, np.zeros(1, np.int64)
    apart = (np.diff(group[order]) != 0) | (np.diff(along[order]) > step * (1 + 1e-9))
    return order, np.concatenate([[0], np.flatnonzero(apart) + 1, [len(order)]])


def nominal_interval(group, seconds):
    """Estimate the interval of a stream of which only some epochs are there: the lowest tenth of
    the times between them.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Capture of each epoch.
    seconds : array_like of float, shape (n,)

    Returns
    -------
    float
        Seconds, at most `REVISITS.max_interval`.
    """
    group, seconds = np.asarray(group), np.asarray(seconds, float)
    order = np.lexsort((seconds, group))
    between = np.diff(seconds[order])[np.diff(group[order]) == 0]
    between = between[between > 0]
    if not len(between):
        return REVISITS.max_interval
    return min(
        float(np.sort(between)[int(REVISITS.interval_share * (len(between) - 1))]),
        REVISITS.max_interval,
    )


def gather(x, y, reach, progress=lambda share: None):
    """Make one place of findings near each other.

    The finding with the most others within reach is a place, then that of the rest, and so on; each
    finding goes to the nearest place. So every place lies at a finding (on an edge, and not between
    two), all findings of a place are within reach of it, and no two places are.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres.
    reach : float
        Metres; with 0 only what lies on one spot is gathered.

    Returns
    -------
    place : ndarray of int, shape (n,)
    at : ndarray of int, shape (places,)
        Finding that each place lies at. Places are sorted from west to east.

    Raises
    ------
    ValueError
        If `reach` is negative or a position is not finite.
    """
    x, y = _axes(x, y)
    if not reach >= 0:
        raise ValueError(f"reach must be 0 m or greater, got {reach}")
    if not len(x):
        return np.zeros(0, np.int64), np.zeros(0, np.int64)
    near, points = reach + REVISITS.same, np.column_stack([x, y])
    tree = cKDTree(points)
    # places, not rows, decide between equals; rounded, so that the last digits of a transformation
    # do not
    west, south = np.round(x, 3), np.round(y, 3)
    open_, at = np.ones(len(x), bool), []
    for number, finding in enumerate(
        np.lexsort((south, west, -tree.query_ball_point(points, near, return_length=True))).tolist()
    ):
        if number % REVISITS.block == 0:
            progress(number / len(x))
        if open_[finding]:
            at.append(finding)
            open_[tree.query_ball_point(points[finding], near)] = False
    at = np.array(at)
    at = at[np.lexsort((south[at], west[at]))]
    return cKDTree(points[at]).query(points)[1].astype(np.int64), at


def walking_order(x, y, start=None, progress=lambda share: None):
    """Order in which to walk to places: always on to the nearest one, then turned round piece by
    piece as long as that makes the way shorter.

    Nearest neighbour and 2-opt (G. A. Croes, A method for solving traveling-salesman problems,
    Operations Research 6, 1958) on a way that does not come back; only pairs of the
    `REVISITS.neighbours` nearest are tried. Such ways are some 5 to 8 % longer than the shortest
    (D. S. Johnson and L. A. McGeoch, The traveling salesman problem: a case study in local
    optimization, 1997, has 5 %, from memory; places at random here gave 8 % more than the length
    expected of the shortest).

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres.
    start : tuple of float, optional
        Where the walk begins. Without it, it may begin at any place, and begins at the more western
        end.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of int, shape (n,)
        The same places in the same order, however they are sorted.
    """
    x, y = _axes(x, y)
    given = np.lexsort((np.round(y, 3), np.round(x, 3)))
    x, y = x[given], y[given]
    if not len(x):
        return given
    if start is None:
        # an end of the walk is likely to lie out there
        first = int(np.argmax(np.round(np.hypot(x - x.mean(), y - y.mean()), 3)))
    else:
        first, (begin_x, begin_y) = len(x), _axes([start[0]], [start[1]])
        x, y = np.append(x, begin_x), np.append(y, begin_y)
    way = _shortened(
        x,
        y,
        _nearest_next(x, y, first, lambda share: progress(0.5 * share)),
        start is not None,
        lambda share: progress(0.5 + 0.5 * share),
    )
    if start is not None:
        return given[way[1:]]
    return given[way if way[0] <= way[-1] else way[::-1]]


def _nearest_next(x, y, first, progress):
    """From `first` always on to the nearest place that is left."""
    left = np.delete(np.arange(len(x)), first)
    way = [first]
    while len(left):
        if len(way) % REVISITS.block == 0:
            progress(len(way) / len(x))
        nearest = int(np.argmin((x[left] - x[way[-1]]) ** 2 + (y[left] - y[way[-1]]) ** 2))
        way.append(int(left[nearest]))
        left = np.delete(left, nearest)
    return np.array(way)


# long: the moves and their gains share one set of arrays
def _shortened(x, y, way, fixed, progress):
    """2-opt on an open way; the first place stays the first where it is `fixed`. How much there is
    to do shows as it goes."""
    size = len(way)
    if size < 3:
        return way
    points = np.column_stack([x, y])
    near = cKDTree(points).query(points, min(REVISITS.neighbours, size - 1) + 1)[1][:, 1:]
    one = np.repeat(np.arange(size), near.shape[1])
    pairs = np.unique(np.sort(np.column_stack([one, near.ravel()]), axis=1), axis=0)
    pairs = pairs[pairs[:, 0] != pairs[:, 1]]

    def distance(a, b):
        return np.hypot(x[a] - x[b], y[a] - y[b])

    def moves(way, pairs, place):
        """For each pair, and for the pieces after and before them: first and last place to turn
        round, and metres won."""
        low, high = np.sort(place[pairs], axis=1).T
        after, last = low + 1, high
        joined = np.where(
            last + 1 < size,
            distance(way[np.minimum(after, size - 1)], way[np.minimum(last + 1, size - 1)]),
            0.0,
        )
        parted = np.where(
            last + 1 < size, distance(way[last], way[np.minimum(last + 1, size - 1)]), 0.0
        )
        won_after = distance(way[low], way[after]) + parted - distance(way[low], way[last]) - joined
        first, before = low, high - 1
        joined = np.where(first > 0, distance(way[np.maximum(first - 1, 0)], way[before]), 0.0)
        parted = np.where(first > 0, distance(way[np.maximum(first - 1, 0)], way[first]), 0.0)
        won_before = (
            distance(way[before], way[high]) + parted - distance(way[first], way[high]) - joined
        )
        if fixed:
            won_before = np.where(first > 0, won_before, -1.0)
        return np.stack([after, first]), np.stack([last, before]), np.stack([won_after, won_before])

    place = np.empty(size, np.int64)
    place[way] = np.arange(size)
    turn = 0
    while True:
        won = moves(way, pairs, place)[2]
        promising = np.argsort(-won.ravel(), kind="stable")[
            : np.count_nonzero(won > REVISITS.min_gain)
        ]
        if not len(promising):
            return way
        for side, pair in zip(
            *(index.tolist() for index in np.unravel_index(promising, won.shape))
        ):
            if turn % REVISITS.block == 0:
                progress(1 - 0.9 ** (turn / REVISITS.block))
            turn += 1
            # as the way is by now
            start, stop, gain = (
                values[side, 0] for values in moves(way, pairs[pair : pair + 1], place)
            )
            if gain > REVISITS.min_gain:
                way[start : stop + 1] = way[start : stop + 1][::-1].copy()
                place[way[start : stop + 1]] = np.arange(start, stop + 1)


def places_to_revisit(x, y, reach, start=None, scale=None, progress=lambda share: None):
    """Gather findings to places, and put these in walking order.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres in a local frame that is true to scale.
    reach : float
        Findings within so many metres of a place become one with it.
    start : tuple of float, optional
        Where the walk begins.
    scale : array_like of float, shape (n,), optional
        Scale factor of the frame at each finding; legs are divided by it.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Places

    Raises
    ------
    ValueError
        If positions are not finite or `reach` is negative.
    """
    x, y = _axes(x, y)
    scale = np.ones(len(x)) if scale is None else np.asarray(scale, float)
    place, at = gather(x, y, reach, lambda share: progress(0.2 * share))
    way = walking_order(x[at], y[at], start, lambda share: progress(0.2 + 0.8 * share))
    number = np.empty(len(way), np.int64)
    number[way] = np.arange(len(way))
    at = at[way]
    before = [
        np.concatenate([[np.nan if start is None else start[axis]], values[at]])[:-1]
        for axis, values in enumerate((x, y))
    ]
    leg = np.hypot(x[at] - before[0], y[at] - before[1]) / scale[at] if len(at) else np.zeros(0)
    return Places(number[place], at, leg)
