"""Pauses inside runs, along which an edge may have gone unseen."""

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index
from .breaks import seen_steps


def unseen_ways(positions, stream, offsets):
    """Find steps across pauses inside runs, along which an edge may have gone unseen.

    Parameters
    ----------
    positions : Positions
        In the order along each run.
    stream : Stream
    offsets : ndarray of int, shape (runs + 1,)

    Returns
    -------
    ndarray of float, shape (m,)
        Length of such a step from or to each position, the longer one of two, metres; 0 without.
    """
    out = np.zeros(len(positions))
    capture = positions.capture[1:]
    pause = positions.started[1:] - positions.ended[:-1]
    step = distance(np.diff(positions.x), np.diff(positions.y))
    unseen = pause > stream.time_limit[capture]
    unseen &= (step > seen_steps(stream)[capture]) & (np.diff(group_index(offsets)) == 0)
    before = np.flatnonzero(unseen)
    out[before] = step[before]
    out[before + 1] = np.maximum(out[before + 1], step[before])
    return out
