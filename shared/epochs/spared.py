"""Epochs that stay in whatever speaks against them, because a person said so."""

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
        The first `Reason` that would have rejected each of them, 0 where there is none yet; filled
        in while the work goes on.
    """

    mask: np.ndarray
    overruled: np.ndarray

    @classmethod
    def none(cls, size):
        """No row of a table of so many."""
        return cls(np.zeros(size, bool), np.zeros(size, np.uint8))

    def spare(self, rows, hit, why):
        """Those of suspected rows that are rejected; of the others the reason is kept.

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
