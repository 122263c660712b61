"""Lengths of steps in the plane."""

import numpy as np


def distance(dx, dy):
    """Length of steps, as `numpy.hypot` and several times as fast; between positions of a survey no square overflows or vanishes."""
    return np.sqrt(dx * dx + dy * dy)
