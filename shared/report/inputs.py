"""What a report says of its inputs, so that anyone can tell whether they are still the same."""

import hashlib

import numpy as np

from ..language import tr
from .page import text

DIGITS = 16


def checksum(lines):
    """The first sixteen digits of the SHA-256 of the vertices of a layer, as they were compared:
    whoever compares the same lines again gets the same digits.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    str
    """
    return checksum_of(lines.offsets, lines.x, lines.y, lines.z)


def checksum_of(*columns):
    """Likewise, of columns of numbers.

    Parameters
    ----------
    *columns : array_like of float

    Returns
    -------
    str
    """
    total = hashlib.sha256()
    for values in columns:
        total.update(np.ascontiguousarray(values, dtype="<f8").tobytes())
    return total.hexdigest()[:DIGITS]


def transformed_row(words):
    """The row of a table of facts on what was transformed, and how well.

    Parameters
    ----------
    words : str
        Empty where both layers have one CRS.

    Returns
    -------
    tuple of (str, str)
        Markup.
    """
    return tr("Transformed"), text(words) if words else tr("nothing: both layers have one CRS")
