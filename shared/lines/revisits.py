"""Places to walk again: findings grouped along lines and by nearness, and put in walking order."""

from dataclasses import dataclass

import numpy as np
from scipy.spatial import cKDTree

from ..arrays.ragged import offsets_from_starts
from ..tuning import REVISITS
from .two_opt import shortened


@dataclass(frozen=True)
class Places:
    """Places in walking order, made from findings.

    Attributes
    ----------
    place : ndarray of int, shape (n,)
        Number of each finding's place in walking order, from 0.
    at : ndarray of int, shape (places,)
        Finding at which each place lies.
    leg : ndarray of float, shape (places,)
        Straight-line distance on the ground from the place before, metres; for the first place from
        the start, NaN without one.
    """

    place: np.ndarray
    at: np.ndarray
    leg: np.ndarray

    def __len__(self):
        return len(self.at)


def _axes(*arrays):
    """Arrays as floats; ValueError unless they have one length and are finite."""
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
    """Group findings that follow each other into rows.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Capture or edge; a row never continues from one into another.
    along : array_like of float, shape (n,)
        Seconds or chainage.
    step : float
        Maximum difference of `along` between neighbours in a row.

    Returns
    -------
    order : ndarray of int, shape (n,)
        The findings sorted by group and `along`.
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
    return order, offsets_from_starts(np.append(True, apart))


def nominal_interval(group, seconds):
    """Estimate the interval of a stream from some of its epochs: a low quantile
    (`REVISITS.interval_share`) of the times between them.

    Parameters
    ----------
    group : array_like of int, shape (n,)
        Capture of each epoch.
    seconds : array_like of float, shape (n,)

    Returns
    -------
    float
        Seconds; at most `REVISITS.max_interval`.
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
    """Combine findings near each other into places.

    The finding with the most others within reach becomes a place, then the one with the most of the
    rest, and so on; each finding goes to its nearest place. So every place lies at a finding (on an
    edge, not between two), all findings of a place are within reach of it, and no two places are
    within reach of each other.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres.
    reach : float
        Metres; with 0, only findings at one spot are combined.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    place : ndarray of int, shape (n,)
        Place of each finding.
    at : ndarray of int, shape (places,)
        Finding at which each place lies; places are sorted from west to east.

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
    # positions, not the order of rows, decide between equals; rounded, so that the last digits of a
    # transformation do not
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
    """Order in which to walk to places, by nearest neighbour and 2-opt.

    Nearest neighbour and 2-opt (G. A. Croes, A method for solving traveling-salesman problems,
    Operations Research 6, 1958) on an open path; only pairs of the `REVISITS.neighbours` nearest
    places are tried. Such paths are some 5 to 8 % longer than the shortest (D. S. Johnson and L. A.
    McGeoch, The traveling salesman problem: a case study in local optimization, 1997, has 5 %, from
    memory; random places gave 8 % more than the expected length of the shortest).

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres.
    start : tuple of float, optional
        Where the walk begins. Without it, the walk may begin anywhere, and is listed from its
        western end.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    ndarray of int, shape (n,)
        The places in walking order, which does not depend on the order in which they are given.
    """
    x, y = _axes(x, y)
    given = np.lexsort((np.round(y, 3), np.round(x, 3)))
    x, y = x[given], y[given]
    if not len(x):
        return given
    if start is None:
        # an end of the walk is likely to be the outermost place
        first = int(np.argmax(np.round(np.hypot(x - x.mean(), y - y.mean()), 3)))
    else:
        first, (begin_x, begin_y) = len(x), _axes([start[0]], [start[1]])
        x, y = np.append(x, begin_x), np.append(y, begin_y)
    way = shortened(
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
    """Order of places from `first`, always going on to the nearest one left."""
    left = np.delete(np.arange(len(x)), first)
    way = [first]
    while len(left):
        if len(way) % REVISITS.block == 0:
            progress(len(way) / len(x))
        nearest = int(np.argmin((x[left] - x[way[-1]]) ** 2 + (y[left] - y[way[-1]]) ** 2))
        way.append(int(left[nearest]))
        left = np.delete(left, nearest)
    return np.array(way)


def places_to_revisit(x, y, reach, start=None, scale=None, progress=lambda share: None):
    """Combine findings into places and put these in walking order.

    Parameters
    ----------
    x, y : array_like of float, shape (n,)
        Metres in a local frame that is true to scale.
    reach : float
        Findings within this distance of a place belong to it, metres.
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
