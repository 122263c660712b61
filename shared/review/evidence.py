"""The numbers behind one line, against its chainage: epochs, heights, uncertainty, and offsets from
the existing linework."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..tuning import REVIEW

# roles of kept epochs, as `Epochs.word` has them; all other words are reasons of rejected ones
KEPT_ROLES = ("single", "standing", "doubtful")


@dataclass(frozen=True)
class Axis:
    """The line along which chainage is measured; arrays of shape (v,), metres on the ground.

    Attributes
    ----------
    x, y : ndarray of float
        Vertices in a frame true to scale.
    z : ndarray of float
        NaN if unknown.
    chainage : ndarray of float
        0 at the first vertex; parts of a line follow each other without a gap.
    starts : ndarray of bool
        True at the first vertex of each part.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    chainage: np.ndarray
    starts: np.ndarray

    @property
    def length(self):
        """Chainage of the end, metres; 0 without a vertex."""
        return float(self.chainage[-1]) if len(self.chainage) else 0.0


@dataclass(frozen=True)
class Epochs:
    """Epochs behind a line; arrays of shape (n,), in order of chainage.

    Attributes
    ----------
    kept : ndarray of bool
        False for rejected ones.
    word : ndarray of str
        Role of a kept epoch, reason of a rejected one.
    chainage, across, up, height : ndarray of float
        Metres; `across` is + to the right of the line, NaN where unknown.
    rows : ndarray of int
        Row of each epoch in its source table.
    """

    kept: np.ndarray
    word: np.ndarray
    chainage: np.ndarray
    across: np.ndarray
    up: np.ndarray
    height: np.ndarray
    rows: np.ndarray

    def __len__(self):
        return len(self.kept)


@dataclass(frozen=True)
class Band:
    """1-sigma along a line; arrays of shape (b,), metres."""

    chainage: np.ndarray
    across: np.ndarray
    up: np.ndarray


@dataclass(frozen=True)
class Offsets:
    """Stations of a comparison along a line; arrays of shape (s,), metres.

    `offset`: + if the edge lies to the right of the existing line; `allowed`: what uncertainty
    explains; `beyond`: True where the offset exceeds it.
    """

    chainage: np.ndarray
    offset: np.ndarray
    allowed: np.ndarray
    beyond: np.ndarray


def make_axis(x, y, z, offsets):
    """Axis of a line of one or several parts.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices in a frame true to scale, metres.
    offsets : ndarray of int, shape (parts + 1,)
        Where each part starts.

    Returns
    -------
    Axis
    """
    starts = np.zeros(len(x), bool)
    starts[np.asarray(offsets)[:-1][np.diff(offsets) > 0]] = True
    step = np.zeros(len(x))
    step[1:] = np.where(starts[1:], 0.0, distance(np.diff(x), np.diff(y)))
    return Axis(x, y, z, np.cumsum(step), starts)


def project(axis, x, y):
    """Project positions onto the line.

    Parameters
    ----------
    axis : Axis
        With at least two vertices.
    x, y : ndarray of float, shape (n,)
        Finite, in the axis' frame.

    Returns
    -------
    chainage : ndarray of float, shape (n,)
    across : ndarray of float, shape (n,)
        Distance, + to the right of the line's direction, - to the left.
    """
    first = np.flatnonzero(~axis.starts[1:])  # segments, without those between parts
    dx, dy = axis.x[first + 1] - axis.x[first], axis.y[first + 1] - axis.y[first]
    square = np.maximum(dx**2 + dy**2, np.finfo(float).tiny)
    chainage, across = np.empty(len(x)), np.empty(len(x))
    block = max(REVIEW.block // max(len(first), 1), 1)
    for start in range(0, len(x), block):
        part = slice(start, start + block)
        px = x[part, None] - axis.x[first]
        py = y[part, None] - axis.y[first]
        share = np.clip((px * dx + py * dy) / square, 0.0, 1.0)
        apart = (px - share * dx) ** 2 + (py - share * dy) ** 2
        best = np.argmin(apart, axis=1)
        row = np.arange(len(best))
        at = share[row, best]
        chainage[part] = axis.chainage[first[best]] + at * np.sqrt(square[best])
        left = dx[best] * py[row, best] - dy[best] * px[row, best] > 0
        across[part] = np.sqrt(apart[row, best]) * np.where(left, -1.0, 1.0)
    return chainage, across


def place_at(axis, chainage):
    """Positions on the line.

    Parameters
    ----------
    axis : Axis
    chainage : array_like of float, shape (n,)
        Metres; clipped to the line.

    Returns
    -------
    x, y, z : ndarray of float, shape (n,)
    """
    # where parts meet, two vertices share a chainage: the first of the later part would be skipped
    return tuple(np.interp(chainage, axis.chainage, values) for values in (axis.x, axis.y, axis.z))


def steady_band(axis, sigma, sigma_up):
    """Band of a line with the same uncertainty throughout.

    Parameters
    ----------
    axis : Axis
    sigma, sigma_up : float
        Metres; NaN where unknown.

    Returns
    -------
    Band
    """
    return Band(np.array([0.0, axis.length]), np.full(2, sigma), np.full(2, sigma_up))


def behind(table, near=None):
    """Sort the epochs of a line by chainage, and drop rejected ones that lie far from it.

    Parameters
    ----------
    table : Epochs
        In any order.
    near : float, optional
        Distance across up to which a rejected epoch belongs to the line, metres; `REVIEW.near` by
        default.

    Returns
    -------
    Epochs
    """
    near = REVIEW.near if near is None else near
    with np.errstate(invalid="ignore"):
        wanted = table.kept | (np.abs(table.across) <= near)
    rows = np.flatnonzero(wanted & np.isfinite(table.chainage))
    rows = rows[np.lexsort((table.rows[rows], table.chainage[rows]))]
    return Epochs(**{name: column[rows] for name, column in vars(table).items()})


def height_above(axis, chainage, height):
    """Heights minus those of the line.

    Parameters
    ----------
    axis : Axis
    chainage, height : ndarray of float, shape (n,)

    Returns
    -------
    ndarray of float, shape (n,)
        Metres; NaN where either is unknown.
    """
    return height - place_at(axis, chainage)[2]
