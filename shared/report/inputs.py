"""What a report states about its inputs, so that anyone can check that they are unchanged."""

import hashlib

import numpy as np

from ..language import tr
from .page import text

DIGITS = 16


def checksum(lines):
    """The first sixteen digits of the SHA-256 of the vertices of a layer as they were compared: the
    same lines always give the same digits.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    str
    """
    return checksum_of(lines.offsets, lines.x, lines.y, lines.z)


def checksum_of(*columns):
    """As `checksum`, for columns of numbers.

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
    """The row of a table of facts on the transformation between both CRS.

    Parameters
    ----------
    words : str
        What was transformed, and how well; empty if both layers have the same CRS.

    Returns
    -------
    tuple of (str, str)
        Markup.
    """
    return tr("Transformed"), text(words) if words else tr("nothing: both layers have one CRS")
