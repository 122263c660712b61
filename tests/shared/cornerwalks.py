"""Walks along sides between corners, as positions that nothing has rejected yet."""

from dataclasses import replace

import numpy as np
from epochwalks import table_of

from curbwright.shared.epochs.screening import screen
from curbwright.shared.epochs.standing import collapse_standing


def walked(corners, spacing=1.0, start=0.4, noise=0.005, seed=1):
    """Epochs a step apart along the sides between corners, with level heights."""
    corners = np.asarray(corners, float)
    way = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    s = np.arange(start, way[-1], spacing)
    rng = np.random.default_rng(seed)
    x, y = (np.interp(s, way, axis) + rng.normal(0, noise, len(s)) for axis in corners.T)
    return x, y


def positions_of(x, y, seconds=None):
    """Positions and streams of epochs that no screening has seen."""
    table = table_of(x, y, seconds=np.arange(float(len(x))) if seconds is None else seconds)
    # whatever the screening would reject: it is judged here
    screening = replace(screen(table), kept=np.arange(len(table)))
    return collapse_standing(table, screening), screening.stream
