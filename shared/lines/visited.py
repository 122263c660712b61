"""Where anyone looked: what of a layer lies in the area that was surveyed."""

import numpy as np
from scipy.spatial import cKDTree

from ..tuning import VISITED
from .rays import stations_along


def visited_stations(stations, seen_x, seen_y, reach, inside=None):
    """Tell which stations lie in the surveyed area.

    Parameters
    ----------
    stations : Rays
        Of the existing lines.
    seen_x, seen_y : ndarray of float, shape (n,)
        Places where somebody walked: epochs, or points along the edges; metres in the frame of the
        stations. Places that are not finite are passed over.
    reach : float
        Distance from those places within which the ground counts as surveyed, metres.
    inside : callable, optional
        Called with x and y of the stations; returns a mask of those that lie in the polygons of the
        surveyed area. Where it is given, it alone decides.

    Returns
    -------
    ndarray of bool, shape (stations,)

    Raises
    ------
    ValueError
        If `reach` is not greater than 0.
    """
    if inside is not None:
        return np.asarray(inside(stations.x, stations.y), bool)
    if not reach > 0:  # written so that NaN fails too
        raise ValueError(f"reach must be greater than 0 m, got {reach}")
    good = np.isfinite(seen_x) & np.isfinite(seen_y)
    if not good.any() or not len(stations):
        return np.zeros(len(stations), bool)
    tree = cKDTree(np.column_stack([seen_x[good], seen_y[good]]))
    distance, _ = tree.query(np.column_stack([stations.x, stations.y]), distance_upper_bound=reach)
    return np.isfinite(distance)


def places_along(lines, reach):
    """Points along lines, so dense that distances to them stand for distances to the lines.

    Parameters
    ----------
    lines : Lines
    reach : float
        Distance that will be asked about, metres.

    Returns
    -------
    x, y : ndarray of float, shape (n,)
        Metres. A point within `reach` of a line lies within ``reach * (1 + 1 / 128)`` of one of
        them where their spacing is an eighth of it: ``sqrt(1 + (1/16)**2)``.
    """
    rays = stations_along(lines, VISITED.spacing_share * reach)
    return np.concatenate([rays.x, lines.x]), np.concatenate([rays.y, lines.y])  # ends included


def thinned_places(x, y, reach):
    """Places of which no two share a square of an eighth of the reach.

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


def visited_share(stations, visited, line_of_part, count):
    """Share of each line that was visited.

    Parameters
    ----------
    stations : Rays
    visited : ndarray of bool, shape (stations,)
    line_of_part : ndarray of int, shape (parts,)
    count : int
        Rows of the layer.

    Returns
    -------
    ndarray of float, shape (count,)
        0 to 1; 0 for a row without a station.
    """
    line = line_of_part[stations.part]
    length = np.bincount(line, stations.weight, count)
    seen = np.bincount(line, stations.weight * visited, count)
    return seen / np.where(length > 0, length, 1.0)
