"""Epochs that were taken into a layer twice, the second time with other times."""

import numpy as np

from ..arrays.ragged import overlapping
from ..tuning import COPIES


# exact: odd numbers that mix the bits of two coordinates, and bits of a word
def _digest(table, rows):
    """One whole number for the position of each of some rows, the same for the same position to the
    last bit."""
    east, north = (axis.take(rows).view(np.uint64) for axis in (table.x, table.y))
    mixed = east * np.uint64(0x9E3779B97F4A7C15) ^ north * np.uint64(0xC2B2AE3D27D4EB4F)
    return mixed ^ (mixed >> np.uint64(29))


def copied(table):
    """How much of a table repeats positions of it, to the last bit, at another time.

    Parameters
    ----------
    table : EpochTable

    Returns
    -------
    share : float
        Share of the epochs that are copies of others, 0 to 0.5; 0 where the copies do not have one
        shift in time between them, as a walk to and fro has.
    shift : float
        The shift of their times, seconds; NaN where there are none.

    Notes
    -----
    Of many epochs a part is looked at that the position itself chooses, so that a copy is chosen
    with its original. Standing receivers repeat a position next to each other, which is no copy.
    """
    usable = np.flatnonzero(
        np.isfinite(table.x) & np.isfinite(table.y) & np.isfinite(table.seconds)
    )
    if len(usable) < 2 * COPIES.few:
        return 0.0, np.nan
    parts = np.uint64(max(1, len(usable) // COPIES.sampled))
    digests, rows = [], []
    for here in overlapping(len(usable), 0):
        digest = _digest(table, usable[here])
        chosen = digest % parts == 0
        digests.append(digest[chosen])
        rows.append(usable[here][chosen])
    digest, seconds = np.concatenate(digests), table.seconds[np.concatenate(rows)]
    order = np.lexsort((seconds, digest))
    digest, seconds = digest[order], seconds[order]
    step = np.diff(seconds)[digest[1:] == digest[:-1]]
    step = step[step > COPIES.same_shift]
    if len(step) < COPIES.few:
        return 0.0, np.nan
    shift = float(np.median(step))
    alike = np.count_nonzero(np.abs(step - shift) <= COPIES.same_shift)
    if alike < COPIES.few or 2 * alike < len(step):
        return 0.0, np.nan
    return alike / len(digest), shift
