"""Crowds: places where very many lines coincide, such as hundreds of walks of one edge, or edges
that all meet in one point.

Comparing all lines there with each other would take time and memory that grow with the square of
their number. In a crowd a few lines represent all, and the others are compared only with these.
"""

import numpy as np

from ..arrays.ragged import (
    group_index,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    stretch_starts,
)
from ..tuning import CROWDS, OVERLAPS
from .rays import Candidates, Index
from .squares import cells_of, numbered, steps_of


def crowded(rays):
    """Mask of the stations in squares in which more than `CROWDS.most` parts have stations.

    Parameters
    ----------
    rays : Rays

    Returns
    -------
    ndarray of bool, shape (stations,)
    """
    cell = cells_of(rays.x, rays.y, CROWDS.side)
    first = np.unique(numbered(cell, rays.part), return_index=True)[1]
    return (np.bincount(cell[first]) > CROWDS.most)[cell]


def meet_own(lines, rays, owner, at, number, reach, progress=lambda share: None):
    """Where stations of paths meet the pieces of their own path.

    Parameters
    ----------
    lines : Lines
        The pieces.
    rays : Rays
        Stations along the paths.
    owner : ndarray of int, shape (stations of pieces,)
        Path that each station of the pieces belongs to, negative for none.
    at : Rays
        The stations of the pieces.
    number : ndarray of int, shape (parts,)
        Path of each part of `rays`.
    reach : float
        Metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Candidates
        In crowds, pieces of other paths are not even inspected.
    """
    index = Index(lines)
    if crowded(at).any():
        index = index.in_lanes(*_owners(index, at, owner), number)
    met = index.meet(rays, reach, progress)
    return met.take(owner[at.at(met.part, met.chainage)] == number[rays.part[met.station]])


def _owners(index, rays, owner):
    """Pairs of a segment of an index and a path that stations along it belong to: segments,
    paths."""
    low, high = _stations_along(index, rays)
    offsets = offsets_of(high + 1 - low)
    segment = group_index(offsets)
    path = owner[low[segment] + place_in_group(offsets)]
    there = path >= 0
    wide = int(owner.max(initial=0)) + 1
    pair = np.unique(segment[there] * wide + path[there])
    return pair // wide, pair % wide


def leading(rays, group):
    """Mask of the stations of pieces that represent all in a crowd, and of all stations elsewhere.

    Parameters
    ----------
    rays : Rays
        Of pieces, the longest first.
    group : ndarray of int, shape (pieces,)
        Pieces of different groups never represent each other.

    Returns
    -------
    ndarray of bool, shape (stations,)

    Notes
    -----
    A square in which more than `CROWDS.most` pieces have stations is a crowd. Its pieces are
    grouped by direction, by the distance of their tangent from the middle of the square, and by
    height, in steps below which a difference is never called one (`OVERLAPS.min_difference`,
    `min_difference_up`). The longest piece of each group leads. So each piece has a leading one
    that is, as far as this shows, the same edge, and the number of leading pieces does not depend
    on that of all pieces.
    """
    some, out = np.flatnonzero(crowded(rays)), np.ones(len(rays), bool)
    if not len(some):
        return out
    cell = cells_of(rays.x, rays.y, CROWDS.side)
    in_cell = numbered(cell, rays.part)
    turned = np.where(rays.along_y[some] < 0, -1.0, 1.0)  # the sense of direction does not matter
    along_x, along_y = turned * rays.along_x[some], turned * rays.along_y[some]
    middle = [CROWDS.side * (np.floor(axis[some] / CROWDS.side) + 0.5) for axis in (rays.x, rays.y)]
    aside = (rays.x[some] - middle[0]) * along_y - (rays.y[some] - middle[1]) * along_x
    alike = cell[some]
    for number in (
        group[rays.part[some]] - group.min(),
        steps_of(np.degrees(np.arctan2(along_y, along_x)), CROWDS.direction),
        steps_of(aside, OVERLAPS.min_difference),
        steps_of(rays.z[some], OVERLAPS.min_difference_up),
    ):
        alike = numbered(alike, number)
    lead = np.unique(alike, return_index=True)[1]  # the first, which is of the longest piece
    leads = np.zeros(int(in_cell.max()) + 1, bool)
    leads[in_cell[some[lead]]] = True
    out[some] = leads[in_cell[some]]
    return out


def meet_pieces(lines, rays, group, reach, progress=lambda share: None):
    """Where stations of pieces meet other pieces; in a crowd, where they meet leading pieces, and
    where the stations of leading pieces meet all.

    Parameters
    ----------
    lines : Lines
        The pieces, one part each, the longest first.
    rays : Rays
        Their stations.
    group : ndarray of int, shape (pieces,)
    reach : float
        Metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Candidates
        They include all places where a piece that comes back to a crowd meets itself.
    """
    leads = leading(rays, group)
    index = Index(lines)
    if leads.all():
        return index.meet(rays, reach, progress)
    followers = np.flatnonzero(~leads)
    fine, ahead = index.finer(), np.flatnonzero(leads)
    met = [fine.meet(rays, reach, lambda share: progress(0.4 * share), ahead)]
    few = index.of_segments(_near_stations(index, rays, leads)).finer()
    found = few.meet(rays, reach, lambda share: progress(0.4 + 0.4 * share), followers)
    met.append(found.take(rays.part[found.station] != found.part))
    back = _coming_back(rays, followers)
    for number, piece in enumerate(back.tolist()):
        progress(0.8 + 0.2 * number / len(back))
        own = np.zeros(len(lines.line), bool)
        own[piece] = True
        mine = followers[rays.part[followers] == piece]
        met.append(Index(lines, own).meet(rays, reach, progress=lambda share: None, some=mine))
    joined = [
        np.concatenate([getattr(one, name) for one in met])
        for name in ("station", "part", "chainage", "same", "offset", "z")
    ]
    order = np.lexsort((joined[2], joined[3], joined[1], joined[0]))
    return Candidates(*(column[order] for column in joined))


def _near_stations(index, rays, leads):
    """Mask of the segments of an index at stations of leading pieces."""
    ahead = np.append(0, np.cumsum(leads))
    low, high = _stations_along(index, rays)
    return ahead[high + 1] > ahead[low]


def _stations_along(index, rays):
    """First and last station along each segment of an index, extended by one at either end so that
    no ray slips through between two stretches."""
    last = np.diff(rays.first)[index.part] - 1
    start, weight = rays.first[index.part], rays.weight[rays.first[index.part]]
    low, high = (
        start + np.clip((chainage / weight).astype(np.int64) + more, 0, last)
        for chainage, more in ((index.chainage, -1), (index.chainage + index.length, 1))
    )
    return low, high


def _coming_back(rays, some):
    """Pieces, of those with stations `some`, that come near a place a second time, in order."""
    found = []
    for east, north in ((0.0, 0.0), (0.5, 0.0), (0.0, 0.5), (0.5, 0.5)):
        cell = cells_of(
            rays.x[some] + east * CROWDS.side, rays.y[some] + north * CROWDS.side, CROWDS.side
        )
        of = numbered(cell, rays.part[some])
        order = np.lexsort((rays.chainage[some], of))
        offsets = offsets_from_starts(stretch_starts(of[order]))
        first, last = offsets[:-1], offsets[1:] - 1
        along = rays.chainage[some[order]]
        again = along[last] - along[first] > CROWDS.longest_visit * CROWDS.side
        found.append(rays.part[some[order[first[again]]]])
    return np.unique(np.concatenate(found))
