"""Arithmetic on ragged arrays: flat values plus ``offsets`` that say where each group starts.

The layout is that of Apache Arrow (Columnar Format, "Variable-size List Layout") and of
``shapely.to_ragged_array``: group ``g`` holds the flat places ``offsets[g]`` to ``offsets[g + 1] -
1``.
"""

import numpy as np

from ..tuning import EXECUTION, RUNNING

# exact: the normal distribution's standard deviation over its median absolute deviation
MAD_TO_SIGMA = 1.4826022185056018


def offsets_from_starts(is_start):
    """Offsets of groups from a mask of their first places.

    Parameters
    ----------
    is_start : array_like of bool, shape (n,)
        True where a group starts.

    Returns
    -------
    ndarray of int64, shape (groups + 1,)

    Raises
    ------
    ValueError
        If the first place starts no group.
    """
    is_start = np.asarray(is_start, dtype=bool)
    if is_start.size and not is_start[0]:
        raise ValueError("the first place must start a group")
    return np.append(np.flatnonzero(is_start), is_start.size).astype(np.int64)


def stretch_starts(*columns):
    """Mask of the places where a stretch of equal values starts.

    Parameters
    ----------
    *columns : ndarray, shape (n,)

    Returns
    -------
    ndarray of bool, shape (n,)
        True at the first place, and where any column differs from its value at the place before.
    """
    out = np.ones(len(columns[0]), bool)
    out[1:] = np.logical_or.reduce([column[1:] != column[:-1] for column in columns])
    return out


def rows_by_value(values):
    """Rows of an array by their value.

    Parameters
    ----------
    values : ndarray, shape (n,)

    Returns
    -------
    dict of value to ndarray of int
        Values and rows rising.
    """
    order = np.argsort(values, kind="stable")
    starts = np.flatnonzero(stretch_starts(values[order]))
    return dict(zip(values[order[starts]].tolist(), np.split(order, starts[1:])))


def offsets_of(sizes):
    """Offsets of groups from their sizes: a running total that starts at 0.

    Parameters
    ----------
    sizes : array_like, shape (groups,)
        Members of each group; a mask counts as ones and zeros.

    Returns
    -------
    ndarray, shape (groups + 1,)
        int64 for whole numbers and masks, float for floats.
    """
    return np.concatenate([[0], np.cumsum(sizes)])


def group_index(offsets):
    """Group number of every flat place.

    Parameters
    ----------
    offsets : array_like of int, shape (groups + 1,)
        They may start at any number.

    Returns
    -------
    ndarray of int, shape (n,)
    """
    offsets = np.asarray(offsets)
    size = int(offsets[-1] - offsets[0])
    # how many groups start at each place, summed up: a quarter of the time that np.repeat takes
    out = np.bincount(offsets[1:-1] - offsets[0], minlength=size + 1)[:size]
    return np.cumsum(out, out=out)


def groups_at(offsets, places):
    """Group number of some flat places.

    Parameters
    ----------
    offsets : ndarray of int, shape (groups + 1,)
        From 0.
    places : ndarray of int, shape (q,)
        In any order.

    Returns
    -------
    ndarray of int, shape (q,)
        As ``group_index(offsets)[places]``, but quicker for few places.
    """
    if 16 * len(places) < offsets[-1]:  # exact: the result is the same either way
        return np.searchsorted(offsets, places, "right") - 1
    return group_index(offsets).take(places)


def join_offsets(parts):
    """Offsets of the groups of several ragged arrays, one array's after the other.

    Parameters
    ----------
    parts : sequence of ndarray of int
        Offsets of each array.

    Returns
    -------
    ndarray of int, shape (groups of all + 1,)
    """
    return offsets_of(np.concatenate([np.diff(offsets) for offsets in parts]))


def place_in_group(offsets):
    """Place of every flat value inside its own group.

    Parameters
    ----------
    offsets : array_like of int, shape (groups + 1,)

    Returns
    -------
    ndarray of int, shape (n,)
        From 0 in each group.
    """
    return np.arange(offsets[-1]) - np.asarray(offsets)[group_index(offsets)]


def ranges(starts, lengths):
    """Concatenate ``arange(start, start + length)`` for all groups.

    Parameters
    ----------
    starts, lengths : array_like of int, shape (groups,)

    Returns
    -------
    ndarray of int64, shape (sum of lengths,)
    """
    starts, lengths = np.asarray(starts, np.int64), np.asarray(lengths, np.int64)
    if not lengths.all():
        starts, lengths = starts[lengths > 0], lengths[lengths > 0]
    if not lengths.size:
        return np.zeros(0, np.int64)
    # steps of one, and a leap to each start, summed up
    ends = np.cumsum(lengths)
    out = np.ones(int(ends[-1]), np.int64)
    out[0] = starts[0]
    out[ends[:-1]] = np.diff(starts) - lengths[:-1] + 1
    return np.cumsum(out, out=out)


def overlapping(size, overlap=1):
    """Slices that cover an array block by block, each with the first places of the next one: what
    is asked of neighbours is then asked of each block by itself, in memory that is used again.

    Parameters
    ----------
    size : int
        Places of the array.
    overlap : int
        Places that a block has of the next one.

    Yields
    ------
    slice
        None for an array of `overlap` places or fewer.
    """
    for start in range(0, size - overlap, EXECUTION.block):
        yield slice(start, start + EXECUTION.block + overlap)


def inside_any(low, high, size):
    """Mask of the places inside at least one of several stretches.

    Parameters
    ----------
    low, high : ndarray of int, shape (q,)
        First place of each stretch and the one after its last.
    size : int

    Returns
    -------
    ndarray of bool, shape (size,)
    """
    change = np.bincount(low, minlength=size + 1) - np.bincount(high, minlength=size + 1)
    return np.cumsum(change)[:size] > 0


def first_of_each(places, owner):
    """The first of some flat places in each group.

    Parameters
    ----------
    places : ndarray of int, shape (q,)
        Rising.
    owner : ndarray of int, shape (n,)
        Group number of every flat place, as `group_index` gives it.

    Returns
    -------
    ndarray of int, shape (groups that hold a place,)
    """
    return places[stretch_starts(owner[places])]


def _reduce(function, values, offsets, empty):
    values, offsets = np.asarray(values), np.asarray(offsets)
    kind = np.result_type(values.dtype, type(empty))
    # reduceat would repeat a neighbour's value for an empty group
    filled = offsets[1:] > offsets[:-1]
    if filled.size and filled.all():
        return function.reduceat(values, offsets[:-1], axis=0).astype(kind, copy=False)
    out = np.full((len(offsets) - 1, *values.shape[1:]), empty, dtype=kind)
    if filled.any():
        out[filled] = function.reduceat(values, offsets[:-1][filled], axis=0)
    return out


def group_sum(values, offsets):
    """Sum of each group; 0 for an empty one.

    Parameters
    ----------
    values : array_like, shape (n, ...)
    offsets : array_like of int, shape (groups + 1,)

    Returns
    -------
    ndarray, shape (groups, ...)
    """
    return _reduce(np.add, values, offsets, 0)


def group_max(values, offsets, empty=-np.inf):
    """Maximum of each group.

    Parameters
    ----------
    values : array_like, shape (n, ...)
    offsets : array_like of int, shape (groups + 1,)
    empty : float
        For an empty group.

    Returns
    -------
    ndarray, shape (groups, ...)
    """
    return _reduce(np.maximum, values, offsets, empty)


def group_min(values, offsets, empty=np.inf):
    """Minimum of each group.

    Parameters
    ----------
    values : array_like, shape (n, ...)
    offsets : array_like of int, shape (groups + 1,)
    empty : float
        For an empty group.

    Returns
    -------
    ndarray, shape (groups, ...)
    """
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
    start = offsets_of(number)[:-1]
    out = np.full(count, np.nan)
    some = number > 0
    low, high = start[some] + (number[some] - 1) // 2, start[some] + number[some] // 2
    out[some] = (sorted_values[low] + sorted_values[high]) / 2
    return out


# exact: bits and signs of single-precision floats
def quick_median(values, group, count):
    """As `group_median`, but in single precision (seven digits) and several times as fast.

    Parameters
    ----------
    values, group, count
        As in `group_median`; fastest when groups are in order.

    Returns
    -------
    ndarray of float, shape (count,)

    Notes
    -----
    Group and value are packed into one integer, so that one partition finds the middle ones of all
    groups, in less time than a sort: read as integers, the bits of single-precision floats (IEEE
    754) sort like the values once the bits of negative numbers are inverted.
    """
    keep = np.isfinite(values)
    if not keep.all():
        values, group = values[keep], group[keep]
    key = values.astype(np.float32).view(np.int32).astype(np.int64)
    # IEEE 754 stores sign and magnitude: invert the magnitude of negative numbers
    key ^= (key >> 31) & 0x7FFFFFFF
    key += 1 << 31
    key += np.left_shift(group, 32, dtype=np.int64)
    number = np.bincount(group, minlength=count)
    start = offsets_of(number)[:-1]
    out = np.full(count, np.nan)
    some = number > 0
    middle = start[some] + np.stack([(number[some] - 1) // 2, number[some] // 2])
    if middle.size:
        key.partition(middle.ravel())
    bits = key[middle] & 0xFFFFFFFF
    bits -= 1 << 31
    bits ^= (bits >> 31) & 0x7FFFFFFF
    out[some] = bits.astype(np.int32).view(np.float32).astype(float).mean(axis=0)
    return out


def on_grid(values):
    """Values rounded to whole numbers of `RUNNING.step`.

    Running sums over all groups at once are taken in whole steps of this size. They are then exact,
    and the last digits of a group's values do not depend on the groups before it.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Metres.

    Returns
    -------
    ndarray of float, shape (n,)
    """
    return np.rint(np.asarray(values, dtype=float) / RUNNING.step) * RUNNING.step


def apart(length):
    """Shifts that lay groups end to end on one axis, without overlap.

    Parameters
    ----------
    length : ndarray of float, shape (groups,)
        Each group's values lie between 0 and its length.

    Returns
    -------
    ndarray of float, shape (groups,)
        Whole numbers: adding them loses no digits of multiples of `RUNNING.step`.
    """
    return offsets_of(np.ceil(length) + 1.0)[:-1]


def running_max(values, offsets):
    """Running maximum that restarts in each group.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Metres.
    offsets : array_like of int, shape (groups + 1,)

    Returns
    -------
    ndarray of float, shape (n,)
        In whole numbers of `RUNNING.step`.
    """
    values = on_grid(values)
    if not values.size:
        return values
    # one accumulate serves all groups once each lies entirely above the one before
    low = group_min(values, offsets, 0.0)
    lifted = (apart(group_max(values, offsets, 0.0) - low) - low)[group_index(offsets)]
    return np.maximum.accumulate(values + lifted) - lifted


def cumulative(values, offsets):
    """Running sum that starts at 0 in each group: ``out[i]`` is the sum of the values before ``i``.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Metres.
    offsets : array_like of int, shape (groups + 1,)

    Returns
    -------
    ndarray of float, shape (n,)
        In whole numbers of `RUNNING.step`.
    """
    steps = np.rint(np.asarray(values, dtype=float) / RUNNING.step).astype(np.int64)
    total = np.cumsum(steps) - steps
    return (total - total[np.asarray(offsets)[group_index(offsets)]]) * RUNNING.step


def running_sum(values, offsets):
    """Running sum, the own value included, that restarts in each group.

    Parameters
    ----------
    values : array_like of float, shape (..., n)
    offsets : array_like of int, shape (groups + 1,)

    Returns
    -------
    ndarray of float, shape (..., n)

    Notes
    -----
    By doubling: sums over 2, 4, 8... neighbours (Hillis and Steele 1986, Data parallel algorithms,
    Communications of the ACM 29), so that no group affects another's digits.
    """
    out = np.array(values, dtype=float)
    place = place_in_group(offsets)
    reach, longest = 1, int(np.diff(offsets).max(initial=0))
    while reach < longest:
        out[..., reach:] += np.where(place[reach:] >= reach, out[..., :-reach], 0.0)
        reach *= 2
    return out


def split_groups(group, most):
    """Split a sequence of groups into parts of whole groups with about `most` members each.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        Members of a group are contiguous.
    most : int

    Returns
    -------
    list of tuple of int
        First member of each part and the one after its last; one empty part if there are no
        members.
    """
    starts = offsets_from_starts(stretch_starts(group))
    bounds, first = [], 0
    while first < len(starts) - 1:
        last = max(int(np.searchsorted(starts, starts[first] + most, "right")) - 1, first + 1)
        if len(group) - starts[first] <= most:
            last = len(starts) - 1
        bounds.append((int(starts[first]), int(starts[last])))
        first = last
    return bounds or [(0, 0)]


def places_around(places, size, reach, group=None):
    """Mask of the places at most `reach` from one of `places`.

    Parameters
    ----------
    places : ndarray of int, shape (q,)
    size : int
        Number of all places.
    reach : int
    group : ndarray of int, shape (size,), optional
        Sorted; if given, only places of the same group count as near.

    Returns
    -------
    ndarray of bool, shape (size,)
    """
    low, high = np.maximum(places - reach, 0), np.minimum(places + reach + 1, size)
    if group is not None:
        low = np.maximum(low, np.searchsorted(group, group[places], "left"))
        high = np.minimum(high, np.searchsorted(group, group[places], "right"))
    return inside_any(low, high, size)
