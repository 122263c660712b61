"""One capture fitted anew, with the bytes that the whole layer would give for it."""

from dataclasses import dataclass

import numpy as np

from ..epochs.screening import unusable
from ..epochs.settings import Settings
from ..epochs.stream import capture_medians, nominal_stream
from .reconstruct import reconstruct
from .results import Reconstruction


@dataclass(frozen=True)
class Refit:
    """One capture fitted anew.

    Attributes
    ----------
    rows : int, shape (q,)
        Rows of the table that the capture has, rising.
    result : Reconstruction
        By these rows; its capture has the code 0, its edges count from 0. `repairs` are the
        outcomes of those of this capture alone, `repair` their numbers in the table of repairs.
    repair : int, shape (k,)
    """

    rows: np.ndarray
    result: Reconstruction
    repair: np.ndarray


def nominal_of(table, settings=None):
    """Nominal values of a layer's streams, which the fit of each capture leans on.

    Measured without repairs, so that a repair of one capture changes no other one.

    Parameters
    ----------
    table : EpochTable
        Of the whole layer.
    settings : Settings, optional

    Returns
    -------
    NominalStream
        Six plain numbers and a tuple.
    """
    settings = settings or Settings()
    return nominal_stream(capture_medians(table, unusable(table, settings.max_h_accuracy)[-1]))


def refit_capture(table, capture, nominal, settings=None, repairs=None, numbers=True):
    """Fit one capture anew.

    Parameters
    ----------
    table : EpochTable
        Of the whole layer, or at least the rows of this capture.
    capture : int
        Its code.
    nominal : NominalStream
        Of the whole layer, from `nominal_of`.
    settings : Settings, optional
    repairs : PlacedRepairs, optional
        Those of other captures are passed over.
    numbers : bool, optional
        As in `reconstruct`.

    Returns
    -------
    Refit
        The edges and epochs are, to the last bit, those that `reconstruct` gives for this capture
        with the same repairs in the whole layer. There a capture before or after this one may make
        `new_capture` of the reason of its first start and its last end.

    Raises
    ------
    ValueError
        If the table has no row of this capture.
    """
    rows = np.flatnonzero(table.capture == capture)
    if not rows.size:
        raise ValueError(f"the table has no epoch of capture {capture}")
    own = None if repairs is None else repairs.of_captures(np.array([capture]))
    result = reconstruct(table.take(rows), settings, nominal=nominal, numbers=numbers, repairs=own)
    mine = np.zeros(0, np.int64) if own is None else np.flatnonzero(repairs.capture == capture)
    return Refit(rows, result, mine)
