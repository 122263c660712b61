"""Dropouts: epochs lost inside runs, and where they leave the course of the edge unknown."""

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
        Epochs are missing between the position and the next one of its run.
    """
    out = np.zeros(len(positions), bool)
    run = group_index(offsets)
    before = np.flatnonzero(np.diff(run) == 0)
    pause = positions.started[before + 1] - positions.ended[before]
    capture = positions.capture[before]
    # neighbours in a ring may be of different laps: a pause over the time limit is no dropout there
    out[before] = (pause > DROPOUTS.intervals * stream.interval[capture]) & (
        ~closed[run[before]] | (pause <= stream.time_limit[capture])
    )
    return out


def open_dropouts(chains, dropout):
    """Find dropouts across which no line should be drawn.

    Parameters
    ----------
    chains : Chains
        Of all the positions.
    dropout : ndarray of bool, shape (m,)
        From `find_dropouts`.

    Returns
    -------
    ndarray of bool, shape (m,)
        The run should break after the position.

    Notes
    -----
    A dropout inside a tangent or an arc is bridged by it, and one at a corner by the two sides that
    meet there. But an element that holds only the position before the dropout, or the one after, or
    these two, is not confirmed: a line drawn there may be wrong by the length of that side. The
    same holds if the sides before and after the dropout do not meet (common practice, no source).
    """
    out = np.zeros(len(dropout), bool)
    before = np.flatnonzero(dropout)
    element, number = group_index(chains.bounds), np.diff(chains.bounds)
    one, other = element[before], element[before + 1]
    lone = np.minimum(number[one], number[other]) == 1
    out[before[np.where(one == other, number[one] == 2, lone | (other > one + 1))]] = True
    return out
