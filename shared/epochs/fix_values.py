"""Which values of a fix field mean an RTK fixed solution."""

import re
import unicodedata

import numpy as np

from .vocabulary import fixed_values as default_values

# a number and words with the same meaning: "4 (RTK fixed)", "4: fixed", "RTK fixed [4]"
_NUMBER_FIRST = re.compile(r"(\d+)[^\w]+(\D+?)[^\w]*$")
_NUMBER_LAST = re.compile(r"(\D+?)[^\w]+(\d+)[^\w]*$")


def _canonical(text):
    """Lower case, with underscores, hyphens and runs of blanks as one blank, without invisible
    characters; '4.0' as '4'."""
    text = str(text)
    if not text.isascii():  # zero-width spaces, byte-order and direction marks
        text = "".join(sign for sign in text if unicodedata.category(sign) != "Cf")
    text = text.replace("\0", " ").strip(" '\"\t")
    try:
        return f"{float(text):g}"
    except ValueError:
        return " ".join(text.lower().replace("_", " ").replace("-", " ").split())


def is_state(text, words):
    """Whether a value of a fix field is one of some words, or a number and words that both are.

    Parameters
    ----------
    text : str
    words : set of str
        As `fixed_words` gives them.

    Returns
    -------
    bool
    """
    text = _canonical(text)
    if text in words:
        return True
    found = _NUMBER_FIRST.match(text) or _NUMBER_LAST.match(text)
    return bool(found) and all(_canonical(half) in words for half in found.groups())


def fixed_words(fixed_values):
    """Split a comma-separated list of values into a set of comparable words.

    Parameters
    ----------
    fixed_values : str
        Values that mean fixed, separated by commas or semicolons.

    Returns
    -------
    set of str

    Raises
    ------
    ValueError
        If the list holds no value.
    """
    words = {
        _canonical(word) for word in str(fixed_values).replace(";", ",").split(",") if word.strip()
    }
    if not words:
        raise ValueError("fixed_values must name at least one value, for example '4, fixed'")
    return words


def is_fixed(values, fixed_values=None):
    """True where a value of the fix field means a fixed solution.

    Parameters
    ----------
    values : array_like, shape (n,)
        NMEA quality codes or words, in any case; None, NaN and masked values are not fixed.
    fixed_values : str, optional
        Comma-separated values that mean fixed; by default those of `roles.csv`.

    Returns
    -------
    ndarray of bool, shape (n,)

    Raises
    ------
    ValueError
        If `fixed_values` holds no value.

    Notes
    -----
    Quality codes follow NMEA 0183, sentence GGA, field 6: only 4 is fixed, 5 is float (field list
    of the gpsd project, NMEA.txt).
    """
    words = fixed_words(default_values() if fixed_values is None else fixed_values)
    mask = np.ma.getmaskarray(values) if np.ma.isMaskedArray(values) else None
    values = np.asarray(np.ma.getdata(values))
    if values.dtype == object:
        # a fix field holds only a few different values: each is compared once
        texts = np.array(
            ["" if value is None or value != value else str(value) for value in values.tolist()],
            dtype=str,
        )
        values = texts if len(texts) else np.empty(0, dtype=str)
    different, index = np.unique(values, return_inverse=True)
    hit = np.array(
        [str(value) != "" and is_state(value, words) for value in different.tolist()],
        dtype=bool,
    )
    fixed = hit[index] if len(values) else np.zeros(0, bool)
    return fixed if mask is None else fixed & ~mask
