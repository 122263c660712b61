"""Dropouts: lost epochs inside runs, and where they leave open how the edge goes on."""

import numpy as np

from ..arrays.ragged import group_index
from ..tuning import DROPOUTS


def find_dropouts(closed, offsets, positions, stream):
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
    # a ring holds positions of several laps: what exceeds the time limit is no dropout there
    out[before] = (pause > DROPOUTS.intervals * stream.interval[capture]) & (
        ~closed[run[before]] | (pause <= stream.time_limit[capture])
    )
    return out


def open_dropouts(chains, dropout):
    """Find dropouts across which no line should be drawn.

    Parameters
    ----------
    chains : Chains
        Of the positions, none of which is left out.
    dropout : ndarray of bool, shape (m,)
        From `find_dropouts`.

    Returns
    -------
    ndarray of bool, shape (m,)
        True at a position after which its run should break.

    Notes
    -----
    A dropout in a tangent or an arc is bridged by it, and one at a corner by the two sides that
    meet there. But a side that consists of nothing else than the position at a rim of a dropout, or
    those at both, was not seen: one of them may lie on it, or before its corner, or next to it, and
    a line drawn there can be as wrong as the side is long. The same holds where the sides before
    and after the dropout do not meet (common practice, no source).
    """
    out = np.zeros(len(dropout), bool)
    before = np.flatnonzero(dropout)
    element, number = group_index(chains.bounds), np.diff(chains.bounds)
    one, other = element[before], element[before + 1]
    lone = np.minimum(number[one], number[other]) == 1
    out[before[np.where(one == other, number[one] == 2, lone | (other > one + 1))]] = True
    return out
