"""Lengths of steps in the plane."""

import numpy as np


def distance(dx, dy):
    """Length of steps, as `numpy.hypot` and several times as fast; squares overflow from 1e154 on,
    far beyond any survey."""
    return np.sqrt(dx * dx + dy * dy)


def steps(x, y, offsets):
    """Length of the step from each place to the next one of its group, shape (n,); 0 from the last
    one. No group is empty."""
    out = np.append(distance(np.diff(x), np.diff(y)), 0.0)[: len(x)]
    out[offsets[1:] - 1] = 0.0
    return out
