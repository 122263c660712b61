"""Results of one run recognised among those of another: which line carries on from which.

Runs number their rows anew, so that a number says nothing. What stays is the capture, the time at
which a line was walked, and where it lies.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from ..arrays.ragged import group_index, ranges
from ..tuning import COUNTERPARTS


@dataclass(frozen=True)
class ResultLines:
    """Lines of one run; arrays of shape (n,).

    Attributes
    ----------
    geometry : ndarray of shapely geometries
        In metres, of one frame for both runs; None or empty where there is none.
    capture : ndarray of str
        Source layer and capture; empty where unknown.
    started, ended : ndarray of float
        Seconds of one clock for both runs; NaN where unknown.
    """

    geometry: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray

    def __len__(self):
        return len(self.geometry)


@dataclass(frozen=True)
class Counterparts:
    """What the lines of two runs have to do with each other.

    Attributes
    ----------
    heir_of : ndarray of int, shape (new,)
        Former line that each new line carries on from, -1 where there is none.
    carried : ndarray of float, shape (former,)
        Share of each former line that its heirs cover, 0 to 1.
    moved : ndarray of float, shape (former,)
        Greatest distance of the former line from the nearest new line of its capture and time,
        metres; NaN where there is none.
    """

    heir_of: np.ndarray
    carried: np.ndarray
    moved: np.ndarray

    @property
    def kept(self):
        """Former lines (mask) that live on in the new ones."""
        return self.carried >= COUNTERPARTS.share


def find_counterparts(former, new, tolerance=None):
    """Find for each new line the former one that it carries on from.

    Parameters
    ----------
    former, new : ResultLines
    tolerance : float, optional
        How far a line may lie from its former self, metres; `COUNTERPARTS.tolerance` by default.

    Returns
    -------
    Counterparts

    Raises
    ------
    ValueError
        If `tolerance` is not greater than 0.

    Notes
    -----
    Two lines may be the same where their captures are equal and their times overlap; where either
    has no time, equal captures are enough, and where either has no capture, the place alone. A new
    line is the heir of the former one along which most of it lies, if that is
    `COUNTERPARTS.share` of it or more. One former line may have several heirs (it was broken), and
    one heir only one former line.
    """
    tolerance = COUNTERPARTS.tolerance if tolerance is None else tolerance
    if not tolerance > 0:  # written so that NaN fails too
        raise ValueError(f"tolerance must be greater than 0 m, got {tolerance}")
    i, j = _pairs(former, new, tolerance)
    on_former, _ = _shares(new.geometry, j, former.geometry, i, tolerance)
    heir_of = _best(j, i, on_former, len(new))
    inherited = heir_of[j] == i
    on_new, farthest = _shares(former.geometry, i, new.geometry, j, tolerance)
    carried = np.bincount(i[inherited], on_new[inherited], len(former))
    moved = np.full(len(former), np.inf)
    np.minimum.at(moved, i, farthest)
    moved[np.isinf(moved)] = np.nan
    return Counterparts(heir_of=heir_of, carried=np.minimum(carried, 1.0), moved=moved)


def _pairs(former, new, tolerance):
    """Former and new lines that may be the same, by capture and time, else by place."""
    there = [
        ~(shapely.is_missing(lines.geometry) | shapely.is_empty(lines.geometry))
        for lines in (former, new)
    ]
    names, code = np.unique(np.concatenate([former.capture, new.capture]), return_inverse=True)
    known = names[code] != ""
    own, other = np.split(code, [len(former)])
    known_own, known_other = np.split(known, [len(former)])
    order = np.flatnonzero(there[1] & known_other)
    order = order[np.argsort(other[order], kind="stable")]
    first, last = (np.searchsorted(other[order], own, side) for side in ("left", "right"))
    number = np.where(there[0] & known_own, last - first, 0)
    i = np.repeat(np.arange(len(former)), number)
    j = order[ranges(first, number)]
    timed = np.isfinite(former.started[i]) & np.isfinite(new.started[j])
    apart = (former.started[i] > new.ended[j]) | (new.started[j] > former.ended[i])
    i, j = i[~(timed & apart)], j[~(timed & apart)]
    if (known_own | ~there[0]).all() and (known_other | ~there[1]).all():
        return i, j
    boxes = shapely.box(*(shapely.bounds(former.geometry) + np.array([-1, -1, 1, 1]) * tolerance).T)
    near_i, near_j = shapely.STRtree(new.geometry).query(boxes)
    alone = ~(known_own[near_i] & known_other[near_j])
    return np.concatenate([i, near_i[alone]]), np.concatenate([j, near_j[alone]])


def _shares(of, own, along, other, tolerance):
    """Share of each line `of[own]` that lies within the tolerance of `along[other]`, and its
    greatest distance from that one, metres."""
    length = shapely.length(of[own])
    number = np.maximum(np.ceil(length / COUNTERPARTS.spacing), 2).astype(np.int64)
    offsets = np.concatenate([[0], np.cumsum(number)])
    pair = group_index(offsets)
    place = (ranges(np.zeros(len(number), np.int64), number) + 0.5) / number[pair]
    points = shapely.line_interpolate_point(_line(of)[own][pair], place, normalized=True)
    distance = shapely.distance(points, along[other][pair])
    inside = np.bincount(pair, distance <= tolerance, len(number)) / number
    farthest = np.zeros(len(number))
    np.maximum.at(farthest, pair, distance)
    return inside, farthest


def _line(geometry):
    """Multi-part lines as one line each, parts end to end, for places along them."""
    out = geometry.copy()
    several = np.flatnonzero(shapely.get_num_geometries(geometry) > 1)
    for row in several:
        out[row] = shapely.linestrings(shapely.get_coordinates(geometry[row]))
    return out


def _best(own, other, share, count):
    """For each of the lines the other one with the greatest share of it, the first of equals; -1
    where no share is enough."""
    order = np.lexsort((other, -share, own))
    order = order[share[order] >= COUNTERPARTS.share]
    out = np.full(count, -1, np.int64)
    out[own[order][::-1]] = other[order][::-1]
    return out
