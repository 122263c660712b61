"""Accuracies and other lengths as receivers and people write them, and which can be right."""

import re

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA, overlapping
from ..tuning import ACCURACIES

# exact: metres in a unit; the foot is the international one (NIST Handbook 44, appendix C)
UNITS = {
    "": 1.0,
    "m": 1.0,
    "meter": 1.0,
    "meters": 1.0,
    "metre": 1.0,
    "metres": 1.0,
    "dm": 0.1,
    "cm": 0.01,
    "mm": 0.001,
    "ft": 0.3048,
    "foot": 0.3048,
    "feet": 0.3048,
}
_LENGTH = re.compile(
    r"\s*(?:\+/-|±|~)?\s*([-+]?(?:\d+(?:[.,]\d*)?|[.,]\d+)(?:e[-+]?\d+)?)\s*([a-z]*)\.?\s*$",
    re.IGNORECASE,
)
# words for no value
_NONE = frozenset(("", "nan", "null", "none", "n/a", "na", "-", "--", "nil", "unknown"))


def length_of_text(text, unit=1.0):
    """A text as a length in metres, NaN if it is none.

    Parameters
    ----------
    text : str
        A number with a decimal point or comma; a unit of length may follow it.
    unit : float, optional
        Metres in the unit of a number that no unit follows.

    Returns
    -------
    float
        Also negative or infinite, as written.
    """
    found = _LENGTH.match(text)
    if found and found.group(2).lower() in UNITS:
        size = UNITS[found.group(2).lower()] if found.group(2) else unit
        return float(found.group(1).replace(",", ".")) * size
    try:
        return float(text) * unit
    except ValueError:
        return np.nan


def says_none(text):
    """Whether a text is a word for no value.

    Parameters
    ----------
    text : str

    Returns
    -------
    bool
    """
    return text.strip().lower() in _NONE


def possible(sigma):
    """Mask of the values that can be an accuracy.

    Parameters
    ----------
    sigma : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of bool, shape (n,)
        False for NaN, zero, negative and infinite values, which receivers write if they know none.
    """
    return np.isfinite(sigma) & (sigma > 0)


def scatter(values, linked):
    """Noise of one value of a series, from its second differences.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    linked : ndarray of bool, shape (n - 1,)
        True where a value follows the one before it in the same series.

    Returns
    -------
    float
        1-sigma; NaN if too few values follow each other.

    Notes
    -----
    The variance of x[i-1] - 2 x[i] + x[i+1] is six times that of one value.
    """
    blocks = [_second_differences(values[at], linked[at]) for at in overlapping(len(values), 2)]
    second = np.concatenate([np.zeros(0), *blocks])
    if len(second) < ACCURACIES.few:
        return np.nan
    return float(MAD_TO_SIGMA * np.median(second) / np.sqrt(6.0))  # exact: see the notes


def _second_differences(values, linked):
    """Sizes of the finite second differences inside a series; the last item of `linked` may be
    missing."""
    second = np.abs(np.diff(values, 2))
    return second[linked[: len(second)] & linked[1 : len(second) + 1] & np.isfinite(second)]


def beyond_fixed(sigma, of):
    """Whether the median of accuracies may be greater than any fixed solution's: a quick question
    before `not_in_metres`, which needs the noise.

    Parameters
    ----------
    sigma : ndarray of float, shape (n,)
    of : ndarray of bool, shape (n,)
        The possible ones of fixed epochs.

    Returns
    -------
    bool
        False where fewer than half of them are, or where there are none.
    """
    greater = np.count_nonzero((sigma > ACCURACIES.poorest_fixed) & of)
    return 0 < greater >= np.count_nonzero(of) / 2


def not_in_metres(sigma, noise):
    """Whether accuracies cannot be in metres, judged by the noise of the values that they describe.

    Parameters
    ----------
    sigma : ndarray of float, shape (n,)
        Of fixed epochs; NaN if unknown.
    noise : float
        1-sigma from epoch to epoch, metres; NaN if unknown.

    Returns
    -------
    bool
        True if their median is greater than any fixed solution's and many times the noise.
    """
    known = sigma[possible(sigma)]
    if not len(known):
        return False
    middle = float(np.median(known))
    return middle > ACCURACIES.poorest_fixed and middle > ACCURACIES.ratio * noise
