"""Numbers that are not heights, written where a receiver knew no height."""

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import overlapping
from ..tuning import HEIGHTS


def absurd_heights(table):
    """Find heights that no epoch of a walk can have.

    Parameters
    ----------
    table : EpochTable

    Returns
    -------
    ndarray of bool, shape (n,)
        True for heights beyond all land; for zeros among heights far from zero; and for blocks of
        heights that differ from the capture's other heights by steps that nobody walks.

    Notes
    -----
    One or two deviating heights are left to the search for height spikes, which knows the noise. If
    a capture's heights fall into several levels, that of the longest block is taken as right;
    blocks without any change from epoch to epoch, which are typical of placeholders, come last.
    """
    z = table.z
    with np.errstate(invalid="ignore"):
        absurd = (z < HEIGHTS.lowest) | (z > HEIGHTS.highest)
    absurd |= _noughts(np.where(absurd, np.nan, z) if absurd.any() else z)
    placed = np.isfinite(table.x) & np.isfinite(table.y)
    absurd &= placed
    rows = np.flatnonzero(np.isfinite(z) & ~absurd & np.isfinite(table.seconds) & placed)
    rows = _in_time(table, rows)
    if len(rows) > 1:
        absurd[rows[_apart(table, rows)]] = True
    return absurd


def _noughts(z):
    """Mask of the zeros, if there are several and the other heights are far from zero."""
    nought = z == 0
    if np.count_nonzero(nought) < HEIGHTS.few:
        return np.zeros(len(z), bool)
    other = np.abs(z[~nought & np.isfinite(z)])
    if not other.size:
        return np.zeros(len(z), bool)
    # exact: a median
    return nought if np.median(other) > HEIGHTS.off_nought else np.zeros(len(z), bool)


def _in_time(table, rows):
    """Rows sorted by capture and time."""
    if in_time(table.capture, table.seconds, rows):
        return rows
    return rows[np.lexsort((table.seconds[rows], table.capture[rows]))]


def in_time(codes, seconds, rows):
    """Whether rows are sorted by their code, such as that of their capture, and time.

    Parameters
    ----------
    codes, seconds : ndarray, shape (n,)
        Of all rows of a table.
    rows : ndarray of int, shape (m,)
        With a time each.

    Returns
    -------
    bool
    """
    for here in overlapping(len(rows)):
        step, pause = np.diff(codes[rows[here]]), np.diff(seconds[rows[here]])
        if not ((step > 0) | ((step == 0) & (pause >= 0))).all():
            return False
    return True


def _apart(table, rows):
    """Mask of the rows whose level is not that of their capture."""
    if not any(_jumps(table, rows[here])[0].any() for here in overlapping(len(rows))):
        return np.zeros(len(rows), bool)
    jump, same, climb = _jumps(table, rows)
    z = table.z[rows]
    first = np.flatnonzero(np.append(True, jump | ~same))
    size = np.diff(np.append(first, len(rows)))
    owner = table.capture[rows[first]]
    level = np.cumsum(np.append(0.0, np.where(jump, climb, 0.0)))[first]
    constant = np.minimum.reduceat(np.append((climb == 0) | jump | ~same, True), first)
    constant &= size >= HEIGHTS.few
    level -= level[_main(owner, size, constant)[np.unique(owner, return_inverse=True)[1]]]
    apart = np.abs(level) > HEIGHTS.least_step
    wrong = np.repeat(apart & (size >= HEIGHTS.few), size)
    apart = np.repeat(apart, size)
    _, index, number = np.unique(z[apart], return_inverse=True, return_counts=True)
    wrong[apart] |= (number >= HEIGHTS.few)[index]
    return wrong


def _jumps(table, rows):
    """Steps from row to row (mask) that nobody walks, those within a capture (mask), and how far
    each goes up."""
    x, y, z, t = (column[rows] for column in (table.x, table.y, table.z, table.seconds))
    same, climb = np.diff(table.capture[rows]) == 0, np.diff(z)
    walked = HEIGHTS.least_step + distance(np.diff(x), np.diff(y)) + HEIGHTS.climb * np.diff(t)
    return same & (np.abs(climb) > walked), same, climb


def _main(owner, size, constant):
    """The longest block of each capture, captures in order; constant blocks only if there are no
    others."""
    order = np.lexsort((size, ~constant, owner))
    return order[np.append(owner[order][1:] != owner[order][:-1], True)]
