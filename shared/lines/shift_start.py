"""A first approximation of the shift, which needs no counterparts."""

import numpy as np

from ..tuning import SHIFT


def start(east, north, offset, weight, reach):
    """A first approximation of the translation: the one that most candidates vote for.

    Every candidate votes for all shifts that would bring its two lines together. Votes are counted
    in a histogram of offsets for each direction of the normals; the score of a shift is the sum
    over the directions, each at the shift's component in it (a Hough transform). Neighbouring
    parallel lines are therefore not confused, since all pairs of true counterparts agree on one
    shift.

    Parameters
    ----------
    east, north : ndarray of float, shape (c,)
        Unit normals.
    offset : ndarray of float, shape (c,)
        What the shift must be along the normal, metres.
    weight : ndarray of float, shape (c,)
    reach : float
        Greatest shift that is tried, metres.

    Returns
    -------
    ndarray of float, shape (2,)
    """
    grid = max(SHIFT.grid, reach / SHIFT.max_grid)
    blur, bin_width = max(SHIFT.blur, 2.5 * grid), max(SHIFT.bin_width, grid / 2)
    angle = np.arctan2(north, east)
    flip = (angle < 0) | (angle >= np.pi)
    angle, offset = np.mod(angle, np.pi), np.where(flip, -offset, offset)
    direction = np.minimum(
        (angle * SHIFT.directions / np.pi).astype(np.int64), SHIFT.directions - 1
    )
    half = int(np.ceil((reach * 1.5 + 5 * blur) / bin_width))
    column = np.clip(np.rint(offset / bin_width).astype(np.int64) + half, 0, 2 * half)
    votes = np.bincount(
        direction * (2 * half + 1) + column, weight, SHIFT.directions * (2 * half + 1)
    ).reshape(SHIFT.directions, -1)
    total = votes.sum(axis=1)
    middle = np.bincount(direction, weight * angle, SHIFT.directions) / np.maximum(total, 1e-300)
    taps = np.arange(-round(4 * blur / bin_width), round(4 * blur / bin_width) + 1) * bin_width
    kernel = np.exp(-0.5 * (taps / blur) ** 2)
    axis = np.arange(-np.floor(reach / grid), np.floor(reach / grid) + 1) * grid
    shift_east, shift_north = np.meshgrid(axis, axis)
    score = np.zeros(shift_east.shape)
    for k in np.flatnonzero(total > 0).tolist():
        smooth = np.convolve(votes[k], kernel, "same")
        place = (
            np.rint(
                (np.cos(middle[k]) * shift_east + np.sin(middle[k]) * shift_north) / bin_width
            ).astype(np.int64)
            + half
        )
        score += smooth[np.clip(place, 0, 2 * half)]
    # of shifts that explain nearly the same, prefer the smallest
    score *= 1 - SHIFT.size_penalty * np.hypot(shift_east, shift_north) / reach
    best = np.unravel_index(np.argmax(score), score.shape)
    return np.array([shift_east[best], shift_north[best]])
