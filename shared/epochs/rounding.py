"""The steps to which coordinates were rounded: of epochs taken standing still, of whole layers."""

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import overlapping, ranges
from ..tuning import OCCUPATIONS, PLAUSIBILITY, STREAM

SIGMA = 12**-0.5  # exact: 1-sigma of a rounded value, in steps
_NOISE = 16 * np.finfo(float).eps  # exact: rounding of floats, as a share of their size


def grid_of(dx, dy):
    """The grid to which positions were rounded, from the steps between them.

    Parameters
    ----------
    dx, dy : ndarray of float, shape (n,)
        Metres; the axes of the grid may be turned.

    Returns
    -------
    ndarray of float, shape (2, 2)
        Both sides of a cell, each as x and y, metres; 0 if no step recurs.

    Notes
    -----
    The smallest step between rounded positions recurs, and so does the smallest one across it.
    """
    size = np.hypot(dx, dy)
    moved = size > STREAM.same_height
    dx, dy, size = dx[moved], dy[moved], size[moved]
    out = np.zeros((2, 2))
    first = _least(size)
    if first is None:
        return out
    out[0] = dx[first], dy[first]
    across = np.abs(out[0, 0] * dy - out[0, 1] * dx) / size[first]
    aside = np.flatnonzero(across > STREAM.same_height)
    second = _least(across[aside])
    if second is not None:
        normal = np.array([-out[0, 1], out[0, 0]]) / size[first]
        out[1] = across[aside[second]] * normal
    return out


def step_of(values):
    """The step to which values were rounded, from the differences of consecutive ones.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Differences, metres.

    Returns
    -------
    float
        Metres; 0 if the smallest difference does not recur.
    """
    size = np.abs(values[np.isfinite(values)])
    size = size[size > STREAM.same_height]
    least = _least(size)
    return 0.0 if least is None else float(size[least])


def _least(size):
    """Index of the smallest of some sizes, None if it does not recur."""
    if len(size) < OCCUPATIONS.few_steps:
        return None
    order = np.argsort(size, kind="stable")[: STREAM.recurring]
    recurs = size[order[-1]] < STREAM.same_step * size[order[0]]
    return order[0] if recurs else None


def coordinate_step(values, least, multiples=0):
    """The step of the grid that coordinates lie on.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Along one axis of the layer's own CRS, in the order of the rows.
    least : float
        Smaller steps are not sought.
    multiples : int
        Number of different multiples of the step that must occur between values; 0: two of them,
        several times each, as between epochs of a walk.

    Returns
    -------
    float
        0 if they lie on no such grid.

    Notes
    -----
    Rounded values are whole multiples of a step, and so are their differences, which take several
    values. A walk without noise has only one difference, and its grid does not extend to the
    origin.
    """
    if _shorter_steps(values, least):
        return 0.0
    values = values[np.isfinite(values)]
    if len(values) < 2 * PLAUSIBILITY.few_steps:
        return 0.0
    noise = _NOISE * np.abs(values).max()
    moved = np.abs(np.diff(values))
    moved = moved[moved > noise]
    if len(moved) < 2 * PLAUSIBILITY.few_steps or not moved.min() >= least:
        return 0.0
    step = _common_measure(moved, least) if multiples else _shortest(moved, noise)
    if not step >= least:
        return 0.0
    reach = float(np.ptp(values))
    step = reach / max(round(reach / step), 1)  # sharper, from the whole range
    often = np.unique(np.rint(moved / step), return_counts=True)[1]
    if multiples and len(often) < multiples:
        return 0.0
    if not multiples and np.count_nonzero(often >= PLAUSIBILITY.few_steps) < 2:
        return 0.0
    off = np.abs(values / step - np.rint(values / step))
    # exact: rounded values lie within a tenth of a step
    return float(step) if np.quantile(off, 0.98) < 0.1 else 0.0


def _shorter_steps(values, least):
    """Whether steps shorter than `least` show at once that values lie on no grid: most coordinates
    were not rounded, which the first rows tell. Parameters as in `coordinate_step`."""
    reach = max(np.fmax.reduce(values, initial=0.0), -np.fmin.reduce(values, initial=0.0))
    if not np.isfinite(reach):
        return False
    for here in overlapping(len(values)):
        some = values[here]
        moved = np.abs(np.diff(some[np.isfinite(some)]))
        if ((moved > _NOISE * reach) & ~(moved >= least)).any():
            return True
    return False


def _shortest(moved, noise):
    """The least of some sizes and of the differences between them: of epochs, steps that are all
    several times as long."""
    between = np.diff(np.sort(moved))
    between = between[between > noise]
    return min(moved.min(), between.min() if len(between) else np.inf)


def _common_measure(moved, least):
    """The greatest size that all sizes are whole multiples of, by Euclid; 0 where it is less than
    `least`."""
    step = shortest = moved.min()
    while step >= least:
        rest = moved % step
        rest = np.minimum(rest, step - rest)
        rest = rest[rest > 0.1 * least]  # exact: a tenth of a step is no rounding
        if not len(rest):
            return shortest / round(shortest / step)  # what it lost on the way
        step, moved = rest.min(), np.append(rest, step)
    return 0.0


def sharing_rounding(x, y, capture, cells):
    """Number of positions that share one rounding error, for each position: those of a walk along a
    row of cells.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        In order of capture and time, metres.
    capture : ndarray of int, shape (m,)
    cells : ndarray of float, shape (captures, 2, 2)
        As in `stream.Stream`.

    Returns
    -------
    ndarray of float, shape (m,)
        1 to `STREAM.most_sharing`. Rows of less than `STREAM.row` cells count as up to
        `STREAM.told_in_row` positions, longer ones as one.

    Notes
    -----
    Along a straight line that leaves a row every few cells, rounding errors make a sawtooth that
    averages out. In a long row none does.
    """
    out = np.ones(len(x))
    if not cells.any():
        return out
    steps = np.column_stack([np.diff(x), np.diff(y)])
    own = cells[capture[:-1]]
    square = (own**2).sum(axis=2)
    gridded = (np.diff(capture) == 0)[:, None] & (square > 0)
    moved = (own * steps[:, None, :]).sum(axis=2) / np.where(square > 0, square, 1.0)  # in cells
    for axis in (0, 1):
        still = gridded[:, axis] & (np.abs(moved[:, axis]) < STREAM.odd_step)
        first = np.flatnonzero(still & ~np.append(False, still[:-1]))
        last = np.flatnonzero(still & ~np.append(still[1:], False)) + 1
        size = distance(x[last] - x[first], y[last] - y[first])
        number = last - first + 1
        long = size > STREAM.row * np.sqrt(square[first, axis])
        share = np.where(long, number, number / STREAM.told_in_row)
        row = ranges(first, number)
        out[row] = np.maximum(out[row], np.repeat(share, number))
    return np.minimum(out, STREAM.most_sharing)


def left_of_rounding(step, spread):
    """Variance that remains in the mean of many rounded values.

    Parameters
    ----------
    step : float
        Of the rounding, metres.
    spread : ndarray of float, any shape
        Standard deviation of one rounded value, metres.

    Returns
    -------
    ndarray of float, same shape
        m2.

    Notes
    -----
    Noise of several steps averages the rounding out, smaller noise does not: the bias of the mean
    falls with ``exp(-2 pi^2 s^2 / step^2)``, the first term of its Fourier series, where s is the
    standard deviation before rounding (Widrow's theory of quantization; from memory). Sheppard's
    correction gives s.
    """
    if step <= 0:
        return np.zeros_like(spread)
    before = np.maximum(np.nan_to_num(spread) ** 2 - (SIGMA * step) ** 2, 0.0)
    # exact: the square of that term
    return (SIGMA * step) ** 2 * np.exp(-4 * np.pi**2 * before / step**2)
