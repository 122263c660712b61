"""Epochs that no test may reject, because a person took them back in."""

from dataclasses import dataclass

import numpy as np

from .reasons import Reason


@dataclass(frozen=True)
class Spared:
    """Rows that no test rejects; arrays of shape (n,).

    Attributes
    ----------
    mask : bool
        The rows.
    overruled : uint8
        The first `Reason` that would have rejected each of them, 0 for none so far; filled in by
        `spare`.
    """

    mask: np.ndarray
    overruled: np.ndarray

    @classmethod
    def none(cls, size):
        """No spared rows, in a table of `size` rows."""
        return cls(np.zeros(size, bool), np.zeros(size, np.uint8))

    def spare(self, rows, hit, why):
        """Mask of the rows that a test may reject; for spared ones the reason is noted instead.

        Parameters
        ----------
        rows : ndarray of int, shape (m,)
        hit : ndarray of bool, shape (m,)
            Rows that a test rejects.
        why : Reason

        Returns
        -------
        ndarray of bool, shape (m,)
        """
        own = hit & self.mask[rows]
        some = rows[own]
        self.overruled[some[self.overruled[some] == Reason.KEPT]] = why
        return hit & ~own
