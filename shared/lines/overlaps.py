"""Where walks overlap: pieces of edges that do not overlap themselves, and which stations of one
piece lie on another.

Two lines within reach of each other need not be two walks of one edge: the top and the foot of a
curb are a centimetre or two apart in plan. They are if they agree within their uncertainty, in plan
and in height, over most of the length that they share.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA, group_index, offsets_of, place_in_group
from ..tuning import OVERLAPS
from .matching import one_way, sections
from .significance import beyond_chance, limit_of
from .squares import numbered


@dataclass(frozen=True)
class Laid:
    """Stations that lie on another piece; arrays of shape (r,), in the order of stations.

    `station`: of the one piece; `other`: the other piece; `chainage`: along it; `same`: both run
    the same way; `offset`: of the other from the station, + to the right of the station's piece;
    `up`: other minus station; `fine`: the two pieces are taken for walks of one edge. Metres.
    """

    station: np.ndarray
    other: np.ndarray
    chainage: np.ndarray
    same: np.ndarray
    offset: np.ndarray
    up: np.ndarray
    fine: np.ndarray

    def __len__(self):
        return len(self.station)

    def take(self, rows):
        """Some of the rows: indices or bool, shape (k,)."""
        return Laid(**{name: column[rows] for name, column in vars(self).items()})


def lay_on_each_other(pieces, rays, met, min_overlap, confidence):
    """Find the stations that lie on another piece, and the pieces that are walks of one edge.

    Parameters
    ----------
    pieces : Pieces
    rays : Rays
    met : Candidates
        Of the stations of all pieces, among all pieces.
    min_overlap : float
        Length that two walks must share, metres.
    confidence : float

    Returns
    -------
    laid : Laid
    sigma, sigma_up : ndarray of float, shape (p,)
        1-sigma of the pieces; estimated from the differences if they have none.

    Notes
    -----
    Differences are averaged over cells of `OVERLAPS.cell` and tested against the combined
    uncertainty of both pieces, so that of all cells called different no more than 1 - `confidence`
    are so by chance. Less than `OVERLAPS.min_difference` or `OVERLAPS.min_difference_up` is never
    called a difference.
    """
    met, own, label = _overlapping(pieces, rays, met, min_overlap)
    up = met.z - rays.z[met.station]
    sigma, sigma_up = (
        _known(pieces.sigma, met.offset, OVERLAPS.min_difference * 2),
        _known(pieces.sigma_up, up, OVERLAPS.min_difference_up * 2),
    )
    differs = np.zeros(len(met), bool)
    cell = numbered(label, np.floor(rays.chainage[met.station] / OVERLAPS.cell).astype(np.int64))
    for difference, one, least in (
        (met.offset, sigma, OVERLAPS.min_difference),
        (up, sigma_up, OVERLAPS.min_difference_up),
    ):
        both = np.hypot(one[own], one[met.part])
        differs |= different(cell, difference, both, least, confidence)[0][cell]
    pair = numbered(np.minimum(own, met.part), np.maximum(own, met.part))
    weight = rays.weight[met.station]
    fine = np.bincount(pair, weight * differs) <= OVERLAPS.max_differing_share * np.bincount(
        pair, weight
    )
    laid = Laid(
        station=met.station,
        other=met.part,
        chainage=met.chainage,
        same=met.same,
        offset=met.offset,
        up=up,
        fine=fine[pair] if len(pair) else np.zeros(0, bool),
    )
    return _filled(laid, label, rays), sigma, sigma_up


def _overlapping(pieces, rays, met, min_overlap):
    """Candidates in sections that are long enough, the piece of each one's station, and the number
    of its section."""
    own = rays.part[met.station]
    rows = np.flatnonzero((own != met.part) & (pieces.group[own] == pieces.group[met.part]))
    met, own = met.take(rows), own[rows]
    low, high = np.minimum(own, met.part), np.maximum(own, met.part)
    kept = one_way(low, high, met.same, rays.weight[met.station], np.abs(met.offset))
    met, own = met.take(kept), own[kept]
    label = sections(rays, met)
    length = pieces.lines.part_length()
    covered = np.bincount(label, rays.weight[met.station])[label] if len(label) else np.zeros(0)
    # a shorter overlap counts if it is most of the shorter piece
    shorter = np.minimum(length[own], length[met.part])
    enough = covered >= np.minimum(min_overlap, OVERLAPS.short_piece_share * shorter)
    return met.take(enough), own[enough], label[enough]


def different(cell, difference, sigma, least, confidence):
    """Find the cells whose mean difference is more than uncertainty explains.

    Parameters
    ----------
    cell : ndarray of int, shape (n,)
        Numbers from 0 without a gap.
    difference, sigma : ndarray of float, shape (n,)
        Metres; unknown ones are NaN and do not count.
    least : float
        Less is never called a difference, metres.
    confidence : float

    Returns
    -------
    called : ndarray of bool, shape (cells,)
    mean, limit : ndarray of float, shape (cells,)
    """
    count = int(cell.max()) + 1 if len(cell) else 0
    known = np.isfinite(difference)
    number = np.bincount(cell[known], minlength=count)
    with np.errstate(invalid="ignore", divide="ignore"):
        mean = np.bincount(cell[known], difference[known], count) / number
        limit = limit_of(confidence, np.bincount(cell[known], sigma[known], count) / number)
    ratio = np.nan_to_num(np.abs(mean) / limit)
    called = beyond_chance(ratio, int(np.count_nonzero(number)), confidence) & (
        np.nan_to_num(np.abs(mean)) > least
    )
    return called, mean, np.maximum(limit, least)


def _known(sigma, difference, widest):
    """Sigmas of the pieces; unknown ones get the median of the others or, if none is known, an
    estimate from the differences."""
    out = np.where(np.isfinite(sigma), sigma, np.nan)
    if np.isfinite(out).any():
        return np.where(np.isfinite(out), out, np.nanmedian(out))
    near = np.abs(difference[np.abs(difference) < widest])
    typical = MAD_TO_SIGMA * np.median(near) / np.sqrt(2) if len(near) else OVERLAPS.min_sigma
    return np.full(len(sigma), np.clip(typical, OVERLAPS.min_sigma, OVERLAPS.max_sigma))


def _filled(laid, label, rays):
    """Stations of short gaps inside overlaps added: next to corners, rays miss."""
    _, station, (chainage, offset, up), row = fill_gaps(
        label,
        laid.station,
        rays.chainage[laid.station],
        OVERLAPS.fill + OVERLAPS.spacing,
        (laid.chainage, laid.offset, laid.up),
    )
    filled = Laid(
        station=station,
        other=laid.other[row],
        chainage=chainage,
        same=laid.same[row],
        offset=offset,
        up=up,
        fine=laid.fine[row],
    )
    return filled.take(np.lexsort((filled.chainage, filled.other, filled.station)))


def fill_gaps(group, station, along, longest, values):
    """Add rows for stations that are missing between two of one group.

    Parameters
    ----------
    group, station : ndarray of int, shape (n,)
    along : ndarray of float, shape (n,)
        Chainage of the stations, metres.
    longest : float
        Longest gap that is filled, metres.
    values : tuple of ndarray of float, shape (n,)
        Columns to interpolate.

    Returns
    -------
    group, station : ndarray of int, shape (m,)
        In the order of groups and stations.
    values : tuple of ndarray, shape (m,)
    row : ndarray of int, shape (m,)
        Input row that each row is, or follows.
    """
    if not len(station):
        return group, station, values, np.zeros(0, np.int64)
    order = np.lexsort((station, group))
    step = np.append(np.diff(station[order]), 1)
    gap = np.append((np.diff(group[order]) == 0) & (np.diff(along[order]) <= longest), False)
    number = np.where(gap, np.maximum(step, 1), 1)
    offsets = offsets_of(number)
    first, place = group_index(offsets), place_in_group(offsets)
    share = place / number[first]
    a, b = order[first], order[np.minimum(first + 1, len(order) - 1)]
    with np.errstate(invalid="ignore"):
        between = tuple(
            np.where(share > 0, column[a] + share * (column[b] - column[a]), column[a])
            for column in values
        )
    return group[a], station[a] + place, between, a


def runs_of(flag, chainage, weight, length, closed):
    """Runs of flagged stations of a piece: first and last station, and the chainages where they
    begin and end.

    Parameters
    ----------
    flag : ndarray of bool, shape (n,)
    chainage : ndarray of float, shape (n,)
        Metres.
    weight, length : float
        Length that a station stands for, and that of the piece, metres.
    closed : bool
        The piece is a ring: a run may go on past the seam, and its last station is then n or more.

    Returns
    -------
    list of tuple
        (first, last, start, stop), places counted from 0; `stop` may be past `length`.
    """
    if not flag.any():
        return []
    n = len(flag)
    if flag.all():
        return [(0, n - 1, 0.0, length)]
    edge = np.diff(np.concatenate([[0], flag.astype(np.int8), [0]]))
    first, last = np.flatnonzero(edge == 1), np.flatnonzero(edge == -1) - 1
    out = [
        (
            a,
            b,
            chainage[a] - weight / 2 if a else 0.0,
            chainage[b] + weight / 2 if b < n - 1 else length,
        )
        for a, b in zip(first.tolist(), last.tolist())
    ]
    if closed and flag[0] and flag[-1]:
        head, tail = out.pop(0), out.pop()
        out.append((tail[0], head[1] + n, tail[2], head[3] + length))
    return out
