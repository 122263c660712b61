"""Holes that lost epochs leave, where nothing tells how the edge goes on."""

import numpy as np

from ..arrays.ragged import group_index

LOST = 1.5  # usual intervals; a longer one has lost an epoch


def holes_between(closed, offsets, positions, stream):
    """Find where epochs were lost inside runs.

    Parameters
    ----------
    closed : ndarray of bool, shape (runs,)
    offsets : ndarray of int, shape (runs + 1,)
    positions : Positions
    stream : Stream

    Returns
    -------
    ndarray of bool, shape (m,)
        True at a position between which and the next one of its run epochs are missing.
    """
    out = np.zeros(len(positions), bool)
    run = group_index(offsets)
    before = np.flatnonzero(np.diff(run) == 0)
    pause = positions.started[before + 1] - positions.ended[before]
    capture = positions.capture[before]
    # in a ring lie positions of several laps; what is longer than a pause may be is no hole there
    out[before] = (pause > LOST * stream.interval[capture]) & (
        ~closed[run[before]] | (pause <= stream.time_limit[capture])
    )
    return out


def open_holes(chains, hole):
    """Find holes across which no line should be drawn.

    Parameters
    ----------
    chains : Chains
        Of the positions, none of which is left out.
    hole : ndarray of bool, shape (m,)
        From `holes_between`.

    Returns
    -------
    ndarray of bool, shape (m,)
        True at a position after which its run should break.

    Notes
    -----
    A hole in a tangent or an arc is bridged by it, and one at a corner by the two sides that meet
    there. But a side that is made of nothing else than the position at a rim of a hole, or those at
    both, was not seen: one of them may lie on it, or before its corner, or beside it, and a line
    drawn there can be as wrong as the side is long. So it is where the sides before and after the
    hole do not meet (common practice, no source).
    """
    out = np.zeros(len(hole), bool)
    before = np.flatnonzero(hole)
    element, number = group_index(chains.bounds), np.diff(chains.bounds)
    one, other = element[before], element[before + 1]
    lone = np.minimum(number[one], number[other]) == 1
    out[before[np.where(one == other, number[one] == 2, lone | (other > one + 1))]] = True
    return out
