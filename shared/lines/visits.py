"""What of the existing lines was visited, and so may be said to have no counterpart."""

from dataclasses import dataclass, field
from typing import Callable, Optional

import numpy as np

from ..tuning import VISITED
from .rays import stations_along
from .visited import places_along, visited_stations


def _nowhere():
    return np.zeros(0)


@dataclass(frozen=True)
class Survey:
    """Where anyone looked, in the frame of the lines; metres.

    Attributes
    ----------
    reach : float
        Distance from an edge, or from a further place, within which the ground counts as surveyed.
    x, y : ndarray of float, shape (n,)
        Further places where somebody walked, such as epochs; those that are not finite are passed
        over.
    inside : callable, optional
        Called with x and y of places; returns a mask of those in the polygons of the surveyed area.
        Where it is given, it decides in place of the reach.

    Raises
    ------
    ValueError
        If `reach` is not greater than 0.
    """

    reach: float = 15.0
    x: np.ndarray = field(default_factory=_nowhere)
    y: np.ndarray = field(default_factory=_nowhere)
    inside: Optional[Callable] = None

    def __post_init__(self):
        if not (self.reach > 0 and np.isfinite(self.reach)):
            raise ValueError(f"reach must be greater than 0 m, got {self.reach}")


@dataclass(frozen=True)
class Visits:
    """What was visited of each existing line; arrays of shape (lines,).

    `length` in metres on the ground, `share` of the line's length, 0 to 1.
    """

    length: np.ndarray
    share: np.ndarray


def visits_of(survey, edges, existing, side):
    """Find out what was visited of every existing line.

    Parameters
    ----------
    survey : Survey or None
        None where all of the lines count as visited.
    edges, existing : Lines
    side : matching.Side
        Stations of the existing lines near the edges, and what they are matched with.

    Returns
    -------
    Visits

    Notes
    -----
    A stretch with a counterpart counts as visited wherever it lies: somebody walked along it.
    """
    length = existing.length()
    if survey is None:
        return Visits(length, np.where(length > 0, 1.0, 0.0))
    x, y = places_along(edges, survey.reach)
    x, y = np.concatenate([x, survey.x]), np.concatenate([y, survey.y])
    seen = visited_stations(side.rays, x, y, survey.reach, survey.inside)
    seen[side.matched] = True
    visited = _length_of(existing, side.rays, seen)
    rest = np.diff(side.rays.first) == 0
    if survey.inside is None:
        rest &= _may_be_near(existing, x, y, survey.reach)
    rays = stations_along(existing, VISITED.spacing_share * survey.reach, rest)
    seen = visited_stations(rays, x, y, survey.reach, survey.inside)
    visited = np.minimum(visited + _length_of(existing, rays, seen), length)
    return Visits(visited, visited / np.where(length > 0, length, 1.0))


def _length_of(lines, rays, seen):
    """Length of each line that stations stand for, on the ground, shape (count,)."""
    line = lines.line[rays.part]
    return np.bincount(line, rays.weight * seen / lines.scale[line], lines.count)


def _may_be_near(lines, x, y, reach):
    """Parts whose bounding box comes within reach of that of all places, shape (parts,)."""
    filled = np.flatnonzero(np.diff(lines.offsets) > 0)
    out = np.zeros(len(lines.line), bool)
    good = np.isfinite(x) & np.isfinite(y)
    if not filled.size or not good.any():
        return out
    starts, near = lines.offsets[:-1][filled], np.ones(len(filled), bool)
    for own, places in ((lines.x, x[good]), (lines.y, y[good])):
        near &= np.minimum.reduceat(own, starts) <= places.max() + reach
        near &= np.maximum.reduceat(own, starts) >= places.min() - reach
    out[filled] = near
    return out
