"""Which stretch of one line is which stretch of another."""
from dataclasses import dataclass

import numpy as np

from .ragged import group_index


@dataclass(frozen=True)
class Lines:
    """Lines of a layer as ragged arrays; vertices of part ``p`` are ``offsets[p]`` to ``offsets[p + 1] - 1``.

    Attributes
    ----------
    x, y, z : ndarray of float, shape (v,)
        Metres in a local frame that is true to scale; z NaN where there is no height.
    offsets : ndarray of int, shape (parts + 1,)
    line : ndarray of int, shape (parts,)
        Row of the layer that the part belongs to, rising. Rows without geometry have no part.
    count : int
        Rows of the layer.
    sigma : ndarray of float, shape (count,)
        Uncertainty across the line, 1-sigma metres; 0 where nothing is known.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    line: np.ndarray
    count: int
    sigma: np.ndarray

    def __len__(self):
        return self.count

    @property
    def line_of_vertex(self):
        """Row of the layer of each vertex, shape (v,)."""
        return self.line[group_index(self.offsets)]
