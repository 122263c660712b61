"""Vertices along the chain of a path."""

import numpy as np

from ..tuning import PASSES
from .lines import chainages
from .pieces import extract


def trace_path(lines, closed, path):
    """Vertices along the chain of a path.

    Parameters
    ----------
    lines : Lines
        The pieces.
    closed : ndarray of bool, shape (p,)
        Pieces that are rings.
    path : MergePath

    Returns
    -------
    ndarray of float, shape (n, 3)
        Metres.
    """
    out = None
    for piece, start, stop in path.chain:
        xyz = extract(lines, piece, start, stop, bool(closed[piece]))
        if out is None:
            out = xyz
        else:
            led = with_ends_moved(out, PASSES.bridge, end=xyz[0] - out[-1])
            out = np.concatenate([led[:-1], xyz])
    if path.closed:
        if len(path.chain) > 1:
            out = with_ends_moved(out, PASSES.bridge, end=out[0] - out[-1])
        out[-1] = out[0]
    step = np.append(True, np.hypot(*np.diff(out[:, :2], axis=0).T) > 1e-6)
    step[-1] = True
    if len(out) > 2 and np.hypot(*(out[-1] - out[np.flatnonzero(step[:-1])[-1]])[:2]) <= 1e-6:
        step[np.flatnonzero(step[:-1])[-1]] = False
    return out[step]


def with_ends_moved(xyz, reach, start=None, end=None):
    """A line whose ends are moved by vectors that fade linearly over `reach` from each end.

    Parameters
    ----------
    xyz : ndarray of float, shape (n, 3)
        Metres.
    reach : float
        Metres.
    start, end : ndarray of float, shape (3,), optional
        Vectors, metres; NaN in height for none.

    Returns
    -------
    ndarray of float, shape (m, 3)
    """
    along = chainages(xyz)
    total = along[-1]
    reach = max(min(reach, total), 1e-9)
    for at in ([reach] if start is not None else []) + ([total - reach] if end is not None else []):
        if not (np.abs(along - at) < 1e-9).any():
            place = int(np.searchsorted(along, at))
            share = (at - along[place - 1]) / (along[place] - along[place - 1])
            xyz = np.insert(
                xyz, place, xyz[place - 1] + share * (xyz[place] - xyz[place - 1]), axis=0
            )
            along = np.insert(along, place, at)
    for vector, away in ((start, along), (end, total - along)):
        if vector is not None:
            xyz = xyz + np.clip(1 - away / reach, 0.0, 1.0)[:, None] * np.nan_to_num(vector)
    return xyz
