"""Check points and what is tested beside them: which goes with which, and what became of each."""

import numpy as np
from scipy.spatial import cKDTree

USED, BEYOND_END, NO_PARTNER, NO_POSITION = range(4)  # what became of a check point


STATE_NAMES = ("used", "beyond_end", "no_partner", "no_position")


def pair_points(tested, check, greatest):
    """Pair points with check points that are each other's nearest and within a distance.

    Parameters
    ----------
    tested : ndarray of float, shape (m, 2)
    check : ndarray of float, shape (n, 2)
        Metres in one frame; NaN for no position.
    greatest : float
        Search distance, metres.

    Returns
    -------
    ndarray of int64, shape (n,)
        Row of `tested` for each check point, -1 for none; no row occurs twice. Of several points in
        one place the first is taken.
    """
    partner = np.full(len(check), -1, np.int64)
    has_tested, has_check = _first_in_each_place(tested), _first_in_each_place(check)
    if not (has_tested.size and has_check.size):
        return partner
    distance, there = cKDTree(tested[has_tested]).query(check[has_check])
    back = cKDTree(check[has_check]).query(tested[has_tested])[1]
    mutual = (back[there] == np.arange(has_check.size)) & (distance <= greatest)
    partner[has_check[mutual]] = has_tested[there[mutual]]
    return partner


def _first_in_each_place(xy):
    """Rows with a position that no row before has: a tree of equal ones has but one leaf, which
    each query would go through."""
    rows = np.flatnonzero(np.isfinite(xy).all(axis=1))
    return rows[np.sort(np.unique(xy[rows], axis=0, return_index=True)[1])]


def pair_names(tested, check):
    """Pair rows by name.

    Parameters
    ----------
    tested, check : sequence of str
        Empty for none.

    Returns
    -------
    ndarray of int64, shape (n,)
        Row of `tested` for each name of `check`, -1 for none.

    Raises
    ------
    ValueError
        If a name occurs twice on one side; the message is that name.
    """
    rows = {}
    for row, name in enumerate(tested):
        if name and name in rows:
            raise ValueError(name)
        rows[name] = row
    rows.pop("", None)
    seen = set()
    for name in check:
        if name and name in seen:
            raise ValueError(name)
        seen.add(name)
    return np.array([rows.get(name, -1) for name in check], np.int64).reshape(len(check))
