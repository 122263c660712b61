"""Which parts of the existing lines were visited: only there can a missing edge mean something."""

from dataclasses import dataclass, field
from typing import Callable, Optional

import numpy as np
from scipy.spatial import cKDTree

from ..tuning import VISITED
from .rays import stations_along


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
        Further places where somebody walked, such as epochs; those that are not finite are ignored.
    inside : callable, optional
        Called with x and y of places; returns a mask of those in the polygons of the surveyed area.
        If given, it decides instead of the reach.

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
    """Length and share of every existing line that was visited.

    Parameters
    ----------
    survey : Survey or None
        None if all of the lines count as visited.
    edges, existing : Lines
    side : matching.Side
        Stations of the existing lines near the edges, and what they are matched with.

    Returns
    -------
    Visits

    Notes
    -----
    A stretch with a counterpart always counts as visited: somebody walked along it.
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
    """Mask of the parts whose bounding box comes within reach of that of all places."""
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


def visited_stations(stations, seen_x, seen_y, reach, inside=None):
    """Mask of the stations that lie in the surveyed area.

    Parameters
    ----------
    stations : Rays
        Of the existing lines.
    seen_x, seen_y : ndarray of float, shape (n,)
        Places where somebody walked: epochs, or points along the edges; metres in the frame of the
        stations. Places that are not finite are ignored.
    reach, inside
        As in `Survey`.

    Returns
    -------
    ndarray of bool, shape (stations,)
    """
    if inside is not None:
        return np.asarray(inside(stations.x, stations.y), bool)
    good = np.isfinite(seen_x) & np.isfinite(seen_y)
    if not good.any() or not len(stations):
        return np.zeros(len(stations), bool)
    tree = cKDTree(np.column_stack([seen_x[good], seen_y[good]]))
    distance, _ = tree.query(np.column_stack([stations.x, stations.y]), distance_upper_bound=reach)
    return np.isfinite(distance)


def places_along(lines, reach):
    """Points along lines, dense enough for distances to them to stand for distances to the lines.

    Parameters
    ----------
    lines : Lines
    reach : float
        Distance that will be asked about, metres.

    Returns
    -------
    x, y : ndarray of float, shape (n,)
        Metres. A point within `reach` of a line lies within ``reach * sqrt(1 + (1 / 16)**2)`` of
        one of them, 0.2 % more, where their spacing is an eighth of it.
    """
    rays = stations_along(lines, VISITED.spacing_share * reach)
    return np.concatenate([rays.x, lines.x]), np.concatenate([rays.y, lines.y])  # ends included


def thinned_places(x, y, reach):
    """Some of the places: one in each square of an eighth of the reach.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Metres; those that are not finite are left out.
    reach : float
        Distance that will be asked about, metres.

    Returns
    -------
    x, y : ndarray of float, shape (m,)
    """
    good = np.isfinite(x) & np.isfinite(y)
    x, y = x[good], y[good]
    side = VISITED.spacing_share * reach
    square = np.column_stack([np.floor(x / side), np.floor(y / side)]).astype(np.int64)
    first = np.unique(square, axis=0, return_index=True)[1]
    return x[first], y[first]
