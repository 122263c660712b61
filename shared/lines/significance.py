"""Which offsets exceed what uncertainty and chance explain."""

import numpy as np
from scipy.special import ndtr, ndtri

from ..tuning import COMPARISON


def limit_of(confidence, *sigmas):
    """Greatest offset that uncertainty explains.

    A perpendicular offset is a single normal value, so the factor is that of the normal
    distribution (1.9600 at 0.95), not that of the circular error.

    Parameters
    ----------
    confidence : float
        Between 0 and 1.
    *sigmas : array_like of float, shape (n,)
        1-sigma of the quantities that are combined, metres.

    Returns
    -------
    ndarray of float, shape (n,)
        Metres; `COMPARISON.min_limit` at least.
    """
    return np.maximum(
        ndtri((1 + confidence) / 2) * np.sqrt(sum(np.square(sigma) for sigma in sigmas)),
        COMPARISON.min_limit,
    )


def beyond_chance(ratio, tested, confidence):
    """Mask of the displacements that remain after a test for many lines at once.

    One line in twenty exceeds a limit at 0.95 by chance. Of the lines called displaced, no more
    than that share may be chance finds (false discovery rate, Benjamini and Hochberg 1995, J. R.
    Stat. Soc. B 57). For one line this is the limit itself; for many lines of which few moved it is
    stricter.

    Parameters
    ----------
    ratio : ndarray of float, shape (count,)
        Typical offset of each line over its limit at `confidence`; 0 or NaN for lines that are not
        called displaced.
    tested : int
        Number of lines that could have been called so.
    confidence : float

    Returns
    -------
    ndarray of bool, shape (count,)
    """
    ratio = np.where(np.isnan(ratio), 0.0, ratio)
    if not len(ratio):
        return np.zeros(0, bool)
    with np.errstate(invalid="ignore"):
        chance = np.where(ratio > 0, 2 * ndtr(-ratio * ndtri((1 + confidence) / 2)), 1.0)
    ranked = np.sort(chance)
    fine = np.flatnonzero(
        ranked <= (1 - confidence) * np.arange(1, len(ranked) + 1) / max(tested, 1)
    )
    return (ratio > 1) & (chance <= (ranked[fine[-1]] if len(fine) else -1.0))
