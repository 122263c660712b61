"""Places counted by squares, and pairs of numbers numbered."""

import numpy as np


def numbered(first, second):
    """Number the pairs of two arrays of ints from 0, in order and without gaps.

    Parameters
    ----------
    first, second : ndarray of int, shape (n,)
        0 or greater.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    wide = int(second.max()) + 1 if len(second) else 1
    return np.unique(first * wide + second, return_inverse=True)[1].reshape(-1)


def steps_of(values, step):
    """Number of the interval that each value lies in.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    step : float

    Returns
    -------
    ndarray of int, shape (n,)
        0 for values that are not finite, 1 for the lowest interval.
    """
    known = np.isfinite(values)
    out = np.zeros(len(values), np.int64)
    if known.any():
        number = np.floor(values[known] / step)
        out[known] = (number - number.min()).astype(np.int64) + 1
    return out


def cells_of(x, y, side):
    """Number of the square that each place lies in, from 0 without gaps.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres.
    side : float
        Metres.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    return numbered(steps_of(x, side), steps_of(y, side))
