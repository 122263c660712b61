"""Streamed lines that an app cut: one that begins where and when another one ended goes on with it.

Lines of one walk may be features of their own, without a field that says what belongs together.
"""

import numpy as np

from ...shared.tuning import STREAM

BEFORE = (
    4  # lines that ended last, among which the one before is sought: so many may stream at once
)


def ids_of_walks(rows, seconds, part, x, y):
    """Number of the walk of each vertex: the id of its first line.

    Parameters
    ----------
    rows : Rows
        Vertices of lines.
    seconds : ndarray of float, shape (n,)
        Time of each vertex, NaN for none.
    part : ndarray of int64, shape (n,)
        Part of each vertex; lines of several parts that do not follow on stay by themselves.
    x, y : ndarray of float, shape (n,)
        Metres.

    Returns
    -------
    ids : ndarray of int64, shape (n,)
    joined : int
        Lines that go on with another one.

    Notes
    -----
    One goes on with another where it begins at most `STREAM.lost_epochs` intervals, and spacings,
    of the layer after its end, and at least the least limits of a gap: a stream that paused for no
    longer would not be broken inside a line either.
    """
    first = np.flatnonzero(np.append(True, np.diff(rows.ids) != 0)) if len(rows) else []
    if len(first) < 2:
        return rows.ids, 0
    last = np.append(first[1:], len(rows)) - 1
    late, far = _limits(rows, seconds, x, y)
    turned = seconds[first] > seconds[last]  # drawn against the walk
    begin, end = np.where(turned, last, first), np.where(turned, first, last)
    alone = np.maximum.reduceat(part, first) > 0
    alone |= ~np.isfinite(seconds[begin] + seconds[end] + x[begin] + y[begin] + x[end] + y[end])
    before = _lines_before(seconds, (x, y), (begin, end), alone, (late, far))
    walk = rows.ids[first][_roots(before)]
    return np.repeat(walk, last - first + 1), int(np.count_nonzero(before >= 0))


def _limits(rows, seconds, x, y):
    """Seconds and metres from the end of a line to the beginning of one that goes on."""
    inside = np.diff(rows.ids) == 0
    pause = np.abs(np.diff(seconds))[inside]
    step = np.hypot(np.diff(x), np.diff(y))[inside]
    limits = STREAM.least_time_limit, STREAM.least_distance_limit
    return tuple(
        max(least, STREAM.lost_epochs * float(np.median(values[values > 0])))
        if (values > 0).any()
        else least
        for least, values in zip(limits, (pause, step))
    )


def _lines_before(seconds, position, ends, alone, limits):
    """Place of the line that each one goes on with, -1 for none; each has one successor at most."""
    (x, y), (begin, end), (late, far) = position, ends, limits
    usable = np.flatnonzero(~alone)
    in_time = usable[np.argsort(seconds[end[usable]], kind="stable")]
    place = np.searchsorted(seconds[end[in_time]], seconds[begin], "right") - 1
    best, found = np.full(len(begin), np.inf), np.full(len(begin), -1)
    for back in range(BEFORE):  # over neighbours in time, not over lines
        at = place - back
        other = in_time[np.maximum(at, 0)] if len(in_time) else np.zeros(len(begin), int)
        pause = seconds[begin] - seconds[end[other]]
        step = np.hypot(x[begin] - x[end[other]], y[begin] - y[end[other]])
        fits = (at >= 0) & ~alone & (other != np.arange(len(begin)))
        fits &= (pause >= 0) & (pause <= late) & (step <= far) & (step < best)
        best[fits], found[fits] = step[fits], other[fits]
    # the nearest one goes on where several would
    order = np.lexsort((best, found))
    repeated = np.append(False, (np.diff(found[order]) == 0) & (found[order][1:] >= 0))
    found[order[repeated]] = -1
    return found


def _roots(before):
    """First line of the chain that each line belongs to."""
    root = np.where(before < 0, np.arange(len(before)), before)
    for _ in range(int(np.ceil(np.log2(max(len(before), 2)))) + 1):
        root = root[root]
    return root
