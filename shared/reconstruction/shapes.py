"""What the epochs of repaired captures were drawn as: by this, `repair_outcomes` tells whether the
result has a corner, a smooth joint or an element that was asked for."""

import numpy as np

from ..arrays.ragged import group_index

# indices in `repairs.ELEMENTS`; 0 if nothing is known
TANGENT, ARC, SPLINE = 1, 2, 3
KIND = 3  # exact: the bits of these
BEGINS = 4  # exact: bit of positions with which an element begins
CORNER = 8  # exact: bit of positions that have a corner at them or between them and the one before
FIRST = 16  # exact: bit of the first epoch of its position


def shapes_of(runs, chains, free, curves):
    """What each position was drawn as.

    Parameters
    ----------
    runs : Runs
        With m positions.
    chains : Chains
        Of these runs; None if all of them are splines.
    free : ndarray of bool, shape (m,)
        Positions that are part of a spline.
    curves : PlanCurves
        Of these runs.

    Returns
    -------
    ndarray of uint8, shape (m,)
        One of the kinds, and the bits `BEGINS` and `CORNER`.
    """
    out = np.full(len(free), SPLINE, np.uint8)
    if not len(free):
        return out
    if chains is not None:
        kind = np.where(chains.turn != 0, ARC, TANGENT)[group_index(chains.bounds)]
        out = np.where(free, SPLINE, kind).astype(np.uint8)
        first = chains.bounds[:-1][np.diff(chains.bounds) > 0]
        out[first] |= np.where(free[first], 0, BEGINS).astype(np.uint8)
    out[_behind_corners(curves, runs.offsets)] |= CORNER
    return out


def _behind_corners(curves, offsets):
    """The first position at or after each corner; for a corner at the start of a ring, its first
    position."""
    inner = np.flatnonzero(curves.held & ~curves.rims)
    place = np.searchsorted(curves.node, inner)
    own = group_index(offsets)[np.minimum(place, len(curves.node) - 1)] == curves.run[inner]
    start = curves.offsets[:-1][curves.corner_run]
    seam = (curves.corners[:, 0] == curves.x[start]) & (curves.corners[:, 1] == curves.y[start])
    return np.concatenate([place[own], offsets[:-1][curves.corner_run[seam]]])


def put_shapes(column, positions, shapes):
    """Write what positions were drawn as into the column of their epochs.

    Parameters
    ----------
    column : ndarray of uint8, shape (n,)
        By source row; changed in place.
    positions : Positions
    shapes : ndarray of uint8, shape (m,)
        From `shapes_of`.
    """
    column[positions.rows] = shapes[group_index(positions.offsets)]
    column[positions.rows[positions.offsets[:-1]]] |= FIRST
