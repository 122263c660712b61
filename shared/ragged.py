"""Arithmetic on ragged arrays: flat values plus ``offsets`` that say where each group starts.

The layout is that of Apache Arrow (Columnar Format, "Variable-size List Layout") and of
``shapely.to_ragged_array``: group ``g`` holds the flat places ``offsets[g]`` to ``offsets[g + 1] - 1``.
"""

import numpy as np


def offsets_from_starts(is_start):
    """Offsets, shape (groups + 1,), from a mask, shape (n,), that is True where a group starts."""
    is_start = np.asarray(is_start, dtype=bool)
    if is_start.size and not is_start[0]:
        raise ValueError("the first place must start a group")
    return np.append(np.flatnonzero(is_start), is_start.size).astype(np.int64)


def group_index(offsets):
    """Group number of every flat place, shape (n,)."""
    return np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))


def place_in_group(offsets):
    """Place of every flat value inside its own group, from 0, shape (n,)."""
    return np.arange(offsets[-1]) - np.repeat(offsets[:-1], np.diff(offsets))


def ranges(starts, lengths):
    """Concatenate ``arange(start, start + length)`` for all groups."""
    starts, lengths = np.asarray(starts, np.int64), np.asarray(lengths, np.int64)
    offsets = np.concatenate([[0], np.cumsum(lengths)])
    return np.arange(offsets[-1]) + np.repeat(starts - offsets[:-1], lengths)


def _reduce(function, values, offsets, empty):
    values, offsets = np.asarray(values), np.asarray(offsets)
    out = np.full((len(offsets) - 1, *values.shape[1:]), empty, dtype=np.result_type(values.dtype, type(empty)))
    filled = np.diff(offsets) > 0  # reduceat would repeat a neighbour's value for an empty group
    if filled.any():
        out[filled] = function.reduceat(values, offsets[:-1][filled], axis=0)
    return out


def group_sum(values, offsets):
    """Sum of each group; 0 for an empty one."""
    return _reduce(np.add, values, offsets, 0)


def group_max(values, offsets, empty=-np.inf):
    """Greatest value of each group."""
    return _reduce(np.maximum, values, offsets, empty)


def group_min(values, offsets, empty=np.inf):
    """Least value of each group."""
    return _reduce(np.minimum, values, offsets, empty)


def group_median(values, group, count):
    """Median of the finite values of each group.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    group : ndarray of int, shape (n,)
        Group of each value, in any order.
    count : int
        Number of groups.

    Returns
    -------
    ndarray of float, shape (count,)
        NaN for a group without a finite value.
    """
    keep = np.isfinite(values)
    values, group = values[keep], group[keep]
    order = np.lexsort((values, group))
    sorted_values = values[order]
    number = np.bincount(group, minlength=count)
    start = np.concatenate([[0], np.cumsum(number)[:-1]])
    out = np.full(count, np.nan)
    some = number > 0
    low, high = start[some] + (number[some] - 1) // 2, start[some] + number[some] // 2
    out[some] = (sorted_values[low] + sorted_values[high]) / 2
    return out


def running_max(values, offsets):
    """Running maximum that starts anew in each group, shape (n,)."""
    values = np.asarray(values, dtype=float)
    if not values.size:
        return values.copy()
    # One accumulate serves all groups once each lies wholly above the one before.
    low = group_min(values, offsets, 0.0)
    span = group_max(values, offsets, 0.0) - low
    lift = np.concatenate([[0.0], np.cumsum(span + 1.0)[:-1]]) - low
    lifted = np.repeat(lift, np.diff(offsets))
    return np.maximum.accumulate(values + lifted) - lifted


def cumulative(values, offsets):
    """Running sum that starts at 0 in each group: ``out[i]`` is the sum of the values before ``i``."""
    total = np.concatenate([[0.0], np.cumsum(values)])
    first = total[np.asarray(offsets[:-1])]
    return total[:-1] - np.repeat(first, np.diff(offsets))
