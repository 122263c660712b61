"""Lines of a layer as ragged arrays, and places along them."""

from dataclasses import dataclass, replace
from typing import Optional

import numpy as np

from ..arrays.plane import steps
from ..arrays.ragged import (
    cumulative,
    group_sum,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    stretch_starts,
)


@dataclass(frozen=True)
class Lines:
    """Lines of a layer as ragged arrays; vertices of part ``p`` are ``offsets[p]`` to ``offsets[p +
    1] - 1``.

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
    scale : ndarray of float, shape (count,)
        Scale factor of the frame where the line lies, 1 if left out: lengths and offsets on the
        ground are those of the frame divided by it.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    offsets: np.ndarray
    line: np.ndarray
    count: int
    sigma: np.ndarray
    scale: Optional[np.ndarray] = None

    def __post_init__(self):
        if self.scale is None:
            object.__setattr__(self, "scale", np.ones(self.count))

    def __len__(self):
        return self.count

    # parameters: one for each column of a layer
    @classmethod
    def from_columns(
        cls, x, y, z=None, offsets=None, line=None, count=None, sigma=None, scale=None
    ):
        """Make lines from array_likes; without `line` each part is a line of its own.

        Raises
        ------
        ValueError
            If shapes do not fit, positions are not finite, offsets do not rise, a sigma is not 0
            or greater or a scale not greater than 0.
        """
        x, y = np.asarray(x, float), np.asarray(y, float)
        z = np.full(x.shape, np.nan) if z is None else np.asarray(z, float)
        offsets = np.asarray([0, len(x)] if offsets is None else offsets, np.int64)
        line = np.arange(len(offsets) - 1) if line is None else np.asarray(line, np.int64)
        count = (int(line.max()) + 1 if len(line) else 0) if count is None else int(count)
        sigma = (
            np.zeros(count)
            if sigma is None
            else np.broadcast_to(np.asarray(sigma, float), (count,)).copy()
        )
        if not x.shape == y.shape == z.shape or x.ndim != 1:
            raise ValueError(
                f"x, y and z must have one shape (v,), got {x.shape}, {y.shape} and {z.shape}"
            )
        if not (np.isfinite(x).all() and np.isfinite(y).all()):
            raise ValueError(
                f"{np.count_nonzero(~(np.isfinite(x) & np.isfinite(y)))} vertices have no finite"
                " position"
            )
        if offsets[0] != 0 or offsets[-1] != len(x) or (np.diff(offsets) < 0).any():
            raise ValueError("offsets must rise from 0 to the number of vertices")
        if (
            line.shape != (len(offsets) - 1,)
            or (np.diff(line) < 0).any()
            or (len(line) and not 0 <= line[0] <= line[-1] < count)
        ):
            raise ValueError("line must hold a rising row number below count for each part")
        if not (sigma >= 0).all():
            raise ValueError(f"{np.count_nonzero(~(sigma >= 0))} sigmas are not 0 m or greater")
        scale = np.ones(count) if scale is None else np.asarray(scale, float)
        if scale.shape != (count,) or not (scale > 0).all():
            raise ValueError("scale must hold a number greater than 0 for each row")
        return cls(x, y, z, offsets, line, count, sigma, scale)

    def steps(self):
        """Length of the segment that starts at each vertex, 0 at the last of a part, shape (v,),
        metres."""
        return steps(self.x, self.y, self.offsets)

    def part_length(self):
        """Length of each part in the frame, shape (parts,), metres."""
        return group_sum(self.steps(), self.offsets).astype(float)

    def length(self):
        """Length of each line on the ground, shape (count,), metres."""
        return np.bincount(self.line, self.part_length(), self.count) / self.scale

    def part_start(self):
        """Chainage of the start of each part along its line, parts laid end to end, shape (parts,),
        metres."""
        return cumulative(self.part_length(), offsets_from_starts(stretch_starts(self.line)))

    def vertices(self):
        """Vertices of each part, a list of arrays of shape (v, 3), metres."""
        xyz = np.column_stack([self.x, self.y, self.z])
        return [xyz[low:high] for low, high in zip(self.offsets[:-1], self.offsets[1:])]

    def of_parts(self, wanted):
        """The same rows with only some of their parts; `wanted` is bool, shape (parts,)."""
        size = np.diff(self.offsets)
        vertex = np.repeat(wanted, size)
        return replace(
            self,
            x=self.x[vertex],
            y=self.y[vertex],
            z=self.z[vertex],
            line=self.line[wanted],
            offsets=offsets_of(size[wanted]),
        )

    def moved(self, east, north):
        """The lines with a vector added to them."""
        return replace(self, x=self.x + east, y=self.y + north)

    def cut(self, longest):
        """The lines with vertices added, so that no segment is longer than `longest` metres."""
        step = self.steps()
        number = np.maximum(np.ceil(step / longest), 1).astype(np.int64)
        if not len(step) or number.max() == 1:
            return self
        first = np.repeat(np.arange(len(step)), number)
        grown = offsets_of(number)
        share = place_in_group(grown) / number[first]
        after = np.minimum(first + 1, len(step) - 1)
        x, y, z = (
            np.where(
                share > 0, values[first] + share * (values[after] - values[first]), values[first]
            )
            for values in (self.x, self.y, self.z)
        )
        return replace(self, x=x, y=y, z=z, offsets=grown[self.offsets])


def chainages(xyz):
    """Chainage of each vertex of one line.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3) or (v, 2)
        Metres.

    Returns
    -------
    ndarray of float, shape (v,)
        Metres in plan.
    """
    return offsets_of(np.hypot(*np.diff(xyz[:, :2], axis=0).T))


def place_at(xyz, chainage):
    """Position at a chainage of one line; beyond its ends, that of the end.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3)
        Metres.
    chainage : float or ndarray of float, shape (k,)

    Returns
    -------
    ndarray of float, shape (3,) or (k, 3)
    """
    along = chainages(xyz)
    return np.stack([np.interp(chainage, along, axis) for axis in xyz.T], axis=-1)


def is_closed(xyz):
    """Whether the last vertex of one line is its first in plan, to the last bit.

    Parameters
    ----------
    xyz : ndarray of float, shape (v, 3) or (v, 2)

    Returns
    -------
    bool
    """
    return np.array_equal(xyz[0, :2], xyz[-1, :2])


def is_ring(lines, gap=1e-6):
    """Mask of the parts whose ends lie less than a gap apart and that have four vertices or more.

    Parameters
    ----------
    lines : Lines
        No part is empty.
    gap : float
        Metres; by default such as rounding leaves where the last vertex is the first.

    Returns
    -------
    ndarray of bool, shape (parts,)
    """
    first, last = lines.offsets[:-1], lines.offsets[1:] - 1
    return (np.hypot(lines.x[first] - lines.x[last], lines.y[first] - lines.y[last]) < gap) & (
        last - first > 2
    )


def points_at(lines, part, chainage):
    """Positions at chainages along parts.

    Parameters
    ----------
    lines : Lines
    part : ndarray of int, shape (k,)
    chainage : ndarray of float, shape (k,)
        Along the part, metres.

    Returns
    -------
    x, y, z, along_x, along_y : ndarray of float, shape (k,)
        Position, and the unit vector of the segment that it lies on; that is 0, 0 at the end of a
        part whose last vertices repeat.
    """
    step = lines.steps()
    total = offsets_of(step)[:-1]
    # the parts lie end to end in `total`
    vertex = np.searchsorted(total, total[lines.offsets[part]] + chainage, "right") - 1
    vertex = np.clip(vertex, lines.offsets[part], lines.offsets[part + 1] - 2)
    share = (total[lines.offsets[part]] + chainage - total[vertex]) / np.maximum(
        step[vertex], 1e-300
    )
    share = np.clip(share, 0.0, 1.0)
    dx, dy = lines.x[vertex + 1] - lines.x[vertex], lines.y[vertex + 1] - lines.y[vertex]
    size = np.maximum(step[vertex], 1e-300)
    z = lines.z[vertex] + share * (lines.z[vertex + 1] - lines.z[vertex])
    return lines.x[vertex] + share * dx, lines.y[vertex] + share * dy, z, dx / size, dy / size
