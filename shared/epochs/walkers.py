"""Captures that hold more than one walk at a time: two receivers under one name, or a clock that
was set back."""

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import overlapping
from ..parallel.imports import load
from ..tuning import WALKERS
from .absurd_heights import in_time


def split_walkers(table):
    """Separate walks that share a capture and take place at the same time.

    Parameters
    ----------
    table : EpochTable

    Returns
    -------
    ndarray of int64, shape (n,) or None
        Number of each row's walk in its capture, from 0; None if each capture holds one walk.

    Notes
    -----
    There are two signs. If the time falls back while the positions continue, and times then repeat,
    the clock was set back there. If there are steps in time order that nobody can walk, each epoch
    is linked with the nearest of the next few that can be reached on foot, and linked epochs form a
    walk. A capture is split only if two such walks overlap in time and hold nearly all its epochs.
    """
    rows = np.flatnonzero(
        table.fixed & np.isfinite(table.seconds) & np.isfinite(table.x) & np.isfinite(table.y)
    )
    if len(rows) < WALKERS.few:
        return None
    pieces = _set_back(table, rows)
    own = table.capture if pieces is None else _joined(table.capture, pieces)
    apart = _at_once(table, rows, own)
    if pieces is None or apart is None:
        return apart if pieces is None else pieces
    both = _joined(pieces, apart)
    return both - _first_of(table.capture, both)[table.capture]


def _joined(codes, further):
    """One code for each pair of codes that occurs, in their order."""
    return np.unique(
        codes.astype(np.int64) * (int(further.max()) + 1) + further, return_inverse=True
    )[1].reshape(-1)


def _first_of(capture, codes):
    """Smallest code of each capture."""
    least = np.full(int(capture.max()) + 1, np.iinfo(np.int64).max)
    np.minimum.at(least, capture, codes)
    return least


def _set_back(table, rows):
    """Number of each row's walk, between the rows at which the clock was set back, in the order of
    the rows; None if it never was."""
    if in_time(table.capture, table.seconds, rows):
        return None
    capture, t = table.capture[rows], table.seconds[rows]
    same, dt = np.diff(capture) == 0, np.diff(t)
    falls = same & (dt < 0)
    if not falls.any() or np.count_nonzero(falls) > WALKERS.most_falls * len(rows):
        return None
    interval = np.median(dt[same & (dt > 0)]) if (same & (dt > 0)).any() else 0.0
    near = _reached(np.diff(table.x[rows]), np.diff(table.y[rows]), interval)
    back = []
    for place in np.flatnonzero(falls & near & (dt < -WALKERS.least_fall * interval)).tolist():
        # there are few: each fall is tested by itself
        after = slice(place + 1, place + 1 + WALKERS.repeated)
        repeats = (t[after] <= t[place]) & (capture[after] == capture[place])
        before = t[: place + 1][capture[: place + 1] == capture[place]]
        if np.count_nonzero(repeats) == WALKERS.repeated and t[place + 1] >= before.min():
            back.append(rows[place + 1])
    if not back:
        return None
    number = np.zeros(len(table), np.int64)
    number[back] = 1
    number = np.cumsum(number)
    return number - _first_of(table.capture, number)[table.capture]


def _reached(dx, dy, dt):
    """Mask of the steps that a walker can make in the time."""
    return distance(dx, dy) <= WALKERS.margin + WALKERS.pace * dt


def _at_once(table, rows, own):
    """Walks that take place at the same time in one capture `own`; None if there are none."""
    if not in_time(own, table.seconds, rows):
        rows = rows[np.lexsort((table.seconds[rows], own[rows]))]
    count = int(own[rows[-1]]) + 1
    jumps, steps = np.zeros((2, count))
    for here in overlapping(len(rows)):
        x, y, t, codes = (column[rows[here]] for column in (table.x, table.y, table.seconds, own))
        same = np.diff(codes) == 0
        jump = same & ~_reached(np.diff(x), np.diff(y), np.diff(t))
        low, high = codes[0], codes[-1] + 1
        jumps[low:high] += np.bincount(codes[1:] - low, jump, high - low)
        steps[low:high] += np.bincount(codes[1:] - low, same, high - low)
    suspect = (jumps >= WALKERS.few) & (jumps > WALKERS.jumps * steps)
    if not suspect.any():
        return None
    x, y, t, codes = table.x[rows], table.y[rows], table.seconds[rows], own[rows]
    some = np.flatnonzero(suspect[codes])
    walks = _linked(x[some], y[some], t[some], codes[some])
    return _numbered(table, own, rows[some], walks)


def _linked(x, y, t, codes):
    """Walk of each epoch: two epochs are linked if each is the nearest that can be reached on foot
    from the other, forward and backward in time."""
    load("scipy.sparse.csgraph")
    from scipy.sparse import coo_matrix
    from scipy.sparse.csgraph import connected_components

    size, reach = len(x), min(WALKERS.reach, len(x) - 1)
    ahead, behind = np.full((2, reach, size), np.inf)
    for lag in range(1, reach + 1):  # over neighbours, not over epochs
        dx, dy, dt = x[lag:] - x[:-lag], y[lag:] - y[:-lag], t[lag:] - t[:-lag]
        link = (codes[lag:] == codes[:-lag]) & (dt <= WALKERS.pause) & _reached(dx, dy, dt)
        cost = np.where(link, distance(dx, dy) + WALKERS.waiting * dt, np.inf)
        ahead[lag - 1, :-lag], behind[lag - 1, lag:] = cost, cost
    rows = np.arange(size)
    after = rows + 1 + np.argmin(ahead, axis=0)
    before = rows - 1 - np.argmin(behind, axis=0)
    linked = np.isfinite(ahead.min(axis=0))
    linked[linked] = before[after[linked]] == rows[linked]
    first, second = rows[linked], after[linked]
    graph = coo_matrix((np.ones(len(first), bool), (first, second)), shape=(size, size))
    return connected_components(graph, directed=False)[1]


def _numbered(table, own, rows, walks):
    """Number of each row's walk in its capture, from the walks of some rows in time order; None if
    no capture clearly holds two."""
    size = np.bincount(walks)
    real = size >= WALKERS.few
    _, start = np.unique(walks, return_index=True)
    t, codes = table.seconds[rows], own[rows]
    begins = t[start]
    ends = np.full(len(size), -np.inf)
    np.maximum.at(ends, walks, t)
    owner = codes[start]
    # walks of a capture by their start: one that starts before the one before it ends overlaps
    listed = np.flatnonzero(real)
    listed = listed[np.lexsort((begins[listed], owner[listed]))]
    follows = np.diff(owner[listed]) == 0
    overlap = follows & (begins[listed][1:] < ends[listed][:-1])
    covered = np.bincount(codes, real[walks]) / np.maximum(np.bincount(codes), 1)
    plain = np.zeros(int(own.max()) + 1, bool)
    plain[owner[listed][1:][overlap]] = True
    plain[: len(covered)] &= covered > WALKERS.covered
    if not plain.any():
        return None
    rank = np.zeros(len(size), np.int64)
    rank[listed] = np.arange(len(listed)) - np.searchsorted(owner[listed], owner[listed])
    number = np.full(len(table), -1, np.int64)
    known = real[walks] & plain[codes]
    number[rows[known]] = rank[walks[known]]
    number[~plain[own]] = 0
    return _filled(table, own, number)


def _filled(table, own, number):
    """Numbers of all rows; those without one get that of the row before in time."""
    order = np.lexsort((table.seconds, own))  # without a time last
    value = number[order]
    place = np.maximum.accumulate(np.where(value >= 0, np.arange(len(value)), 0))
    filled = value[place]
    filled[(filled < 0) | (own[order][place] != own[order])] = 0
    number[order] = filled
    return number
