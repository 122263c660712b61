"""Lines of one run recognised among those of another: which former line each one continues.

Every run numbers its rows afresh, so numbers cannot identify a line. Its capture, the time at which
it was walked, and its place can.
"""

from dataclasses import dataclass

import numpy as np
import shapely

from ..arrays.ragged import group_index, offsets_of, place_in_group, ranges
from ..tuning import COUNTERPARTS


@dataclass(frozen=True)
class ResultLines:
    """Lines of one run; arrays of shape (n,).

    Attributes
    ----------
    geometry : ndarray of shapely geometries
        In metres, in one frame for both runs; may be None or empty.
    capture : ndarray of str
        Source layer and capture; empty if unknown.
    started, ended : ndarray of float
        Seconds of one clock for both runs; NaN if unknown.
    """

    geometry: np.ndarray
    capture: np.ndarray
    started: np.ndarray
    ended: np.ndarray

    def __len__(self):
        return len(self.geometry)


@dataclass(frozen=True)
class Counterparts:
    """How the lines of two runs correspond.

    Attributes
    ----------
    heir_of : ndarray of int, shape (new,)
        Former line that each new line continues, -1 for none.
    along : ndarray of int, shape (former,)
        New line along which each former line lies as a whole, -1 for none; it need not be its heir.
    carried : ndarray of float, shape (former,)
        Share of each former line that its heirs cover, 0 to 1.
    moved : ndarray of float, shape (former,)
        Greatest distance of the former line from the nearest new line of its capture and time,
        metres; NaN where there is none.
    """

    heir_of: np.ndarray
    along: np.ndarray
    carried: np.ndarray
    moved: np.ndarray

    @property
    def kept(self):
        """Mask of the former lines that live on in the new ones."""
        return self.carried >= COUNTERPARTS.share


def find_counterparts(former, new, likeness=None):
    """Find the former line that each new line continues.

    Parameters
    ----------
    former, new : ResultLines
    likeness : callable, optional
        Takes rows of `former` and of `new`, and says of each pair how alike they are in what is
        told of them; 0 or less where they are two things, whatever their place.

    Returns
    -------
    Counterparts

    Notes
    -----
    Two lines may be the same if their captures are equal and their times overlap. If either has no
    time, equal captures are enough; if either has no capture, a common place is. A new line is the
    heir of the former one along which most of it lies, within `COUNTERPARTS.tolerance`, if that is
    `COUNTERPARTS.share` of it or more. A former line that was broken has several heirs; each heir
    has only one former line. Where several lines lie in one place, likeness comes before the share,
    and of heirs that lie along the whole former line only the most alike is one.
    """
    i, j = _pairs(former, new)
    alike = np.ones(len(i)) if likeness is None else likeness(i, j)
    i, j, alike = (some[alike > 0] for some in (i, j, alike))
    on_former, _ = _shares(new.geometry, j, former.geometry, i)
    heir_of = _best(j, i, (alike, on_former), len(new))
    on_new, farthest = _shares(former.geometry, i, new.geometry, j)
    if likeness is not None:
        same = (heir_of[j] == i) & (on_new >= COUNTERPARTS.share)
        twins = np.flatnonzero(same)[np.lexsort((j[same], -alike[same], i[same]))]
        heir_of[j[twins[1:][i[twins[1:]] == i[twins[:-1]]]]] = -1
    along = _best(i, j, (alike, on_new), len(former))
    inherited = heir_of[j] == i
    carried = np.bincount(i[inherited], on_new[inherited], len(former))
    moved = np.full(len(former), np.inf)
    np.minimum.at(moved, i, farthest)
    moved[np.isinf(moved)] = np.nan
    return Counterparts(heir_of, along, carried=np.minimum(carried, 1.0), moved=moved)


def _pairs(former, new):
    """Former and new lines that may be the same, by capture and time, else by place."""
    there = [
        ~(shapely.is_missing(lines.geometry) | shapely.is_empty(lines.geometry))
        for lines in (former, new)
    ]
    names, code = np.unique(np.concatenate([former.capture, new.capture]), return_inverse=True)
    known = names[code] != ""
    own, other = np.split(code, [len(former)])
    known_own, known_other = np.split(known, [len(former)])
    order, first, last = _at_one_time(former, new, (own, other), there[1] & known_other)
    number = np.where(there[0] & known_own, np.maximum(last - first, 0), 0)
    i = np.repeat(np.arange(len(former)), number)
    j = order[ranges(first, number)]
    timed = np.isfinite(former.started[i]) & np.isfinite(new.started[j])
    apart = (former.started[i] > new.ended[j]) | (new.started[j] > former.ended[i])
    i, j = i[~(timed & apart)], j[~(timed & apart)]
    by_number = np.lexsort((j, i))
    i, j = i[by_number], j[by_number]
    if (known_own | ~there[0]).all() and (known_other | ~there[1]).all():
        return i, j
    margin = COUNTERPARTS.tolerance * np.array([-1, -1, 1, 1])
    boxes = shapely.box(*(shapely.bounds(former.geometry) + margin).T)
    near_i, near_j = shapely.STRtree(new.geometry).query(boxes)
    alone = ~(known_own[near_i] & known_other[near_j])
    return np.concatenate([i, near_i[alone]]), np.concatenate([j, near_j[alone]])


def _at_one_time(former, new, codes, some):
    """New lines in an order of their own, and where in it those stand that may have the capture and
    the time of each former line: all pairs of a capture would be too many.

    `codes` are the captures of the former and of the new lines, `some` those new lines that count.
    """
    begun, ended = (
        [np.where(np.isfinite(one.started), one.started, -np.inf) for one in (former, new)],
        [
            np.where(np.isfinite(one.started) & ~np.isnan(one.ended), one.ended, np.inf)
            for one in (former, new)
        ],
    )
    moments, rank = np.unique(np.concatenate([*begun, *ended]), return_inverse=True)
    step = len(moments)
    capture = np.concatenate([*codes, *codes]).astype(np.int64)
    cuts = np.cumsum([len(former), len(new), len(former)])
    # one number that grows with the capture, and within it with the time
    start, new_start, end, new_end = np.split(capture * step + rank, cuts)
    order = np.flatnonzero(some)
    order = order[np.argsort(new_start[order], kind="stable")]
    first = np.searchsorted(np.maximum.accumulate(new_end[order]), start, "left")
    return order, first, np.searchsorted(new_start[order], end, "right")


def _shares(of, own, along, other):
    """Share of each line `of[own]` that lies within the tolerance of `along[other]`, and its
    greatest distance from that one, metres."""
    length = shapely.length(of[own])
    number = np.maximum(np.ceil(length / COUNTERPARTS.spacing), 2).astype(np.int64)
    offsets = offsets_of(number)
    pair = group_index(offsets)
    place = (place_in_group(offsets) + 0.5) / number[pair]
    points = shapely.line_interpolate_point(_line(of)[own][pair], place, normalized=True)
    distance = shapely.distance(points, along[other][pair])
    inside = np.bincount(pair, distance <= COUNTERPARTS.tolerance, len(number)) / number
    farthest = np.zeros(len(number))
    np.maximum.at(farthest, pair, distance)
    return inside, farthest


def _line(geometry):
    """Lines, those of several parts joined end to end, so that places can be measured along
    them."""
    out = geometry.copy()
    several = np.flatnonzero(shapely.get_num_geometries(geometry) > 1)
    for row in several:
        out[row] = shapely.linestrings(shapely.get_coordinates(geometry[row]))
    return out


def _best(own, other, ranks, count):
    """The other line that is most alike of each line, then the one with the greatest share, then
    the first; -1 if no share is large enough."""
    alike, share = ranks
    order = np.lexsort((other, -share, -alike, own))
    order = order[share[order] >= COUNTERPARTS.share]
    out = np.full(count, -1, np.int64)
    out[own[order][::-1]] = other[order][::-1]
    return out
