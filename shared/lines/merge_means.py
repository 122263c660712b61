"""What the walks of one edge show at the stations of its path, and the weighted mean of it."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, group_sum, offsets_from_starts, stretch_starts
from ..tuning import OVERLAPS
from .crowds import meet_own
from .overlaps import fill_gaps
from .significance import beyond_chance, limit_of
from .squares import numbered


@dataclass(frozen=True)
class SeenPieces:
    """What pieces show at stations of paths, in the order of path, piece and station; arrays of
    shape (r,), metres.

    `offset`: + to the right of the path; `z`: height; `chainage`: along the piece; `same`: both run
    the same way; `out`, `out_up`: the piece disagrees with the others; `limit`, `limit_up`: what
    uncertainty explains; `from_others`, `up_from_others`: how far it is off.
    """

    station: np.ndarray
    piece: np.ndarray
    offset: np.ndarray
    z: np.ndarray
    chainage: np.ndarray
    same: np.ndarray
    out: np.ndarray
    out_up: np.ndarray
    limit: np.ndarray
    limit_up: np.ndarray
    from_others: np.ndarray
    up_from_others: np.ndarray


@dataclass(frozen=True)
class PieceSigmas:
    """1-sigma of the pieces, shape (p,), metres, and the confidence of tests."""

    plan: np.ndarray
    up: np.ndarray
    confidence: float


def see_pieces(stations, number, ways, sigmas, reach, progress):
    """Meet all pieces along paths and find those that disagree with the others.

    Parameters
    ----------
    stations : PathStations
    number : ndarray of int
        Path of each part of the stations' lines.
    ways : MergePaths
    sigmas : PieceSigmas
    reach : float
        Greatest distance of a piece from its path, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    SeenPieces
    """
    rays = stations.rays
    met = _nearest_of_piece(rays, number, ways, reach, lambda share: progress(0.7 * share))
    progress(0.7)
    group = rays.part[met.station] * len(ways.pieces) + met.part
    group, station, (offset, z, chainage), row = fill_gaps(
        group,
        met.station,
        rays.chainage[met.station],
        OVERLAPS.fill + OVERLAPS.spacing,
        (met.offset, met.z, met.chainage),
    )
    piece, same = met.part[row], met.same[row]
    cell = numbered(
        rays.part[station], np.floor(rays.chainage[station] / OVERLAPS.cell).astype(np.int64)
    )
    rows = _Rows(cell, station, piece, _straightness(rays, group, station, chainage))
    progress(0.8)
    out, limit, away = _disagreeing(
        rows, offset, sigmas.plan, OVERLAPS.min_difference, sigmas.confidence, True
    )
    progress(0.9)
    out_up, limit_up, away_up = _disagreeing(
        rows, z, sigmas.up, OVERLAPS.min_difference_up, sigmas.confidence, False
    )
    return SeenPieces(
        station=station,
        piece=piece,
        offset=offset,
        z=z,
        chainage=chainage,
        same=same,
        out=out,
        out_up=out_up & ~out,
        limit=limit,
        limit_up=limit_up,
        from_others=away,
        up_from_others=away_up,
    )


def _nearest_of_piece(rays, number, ways, reach, progress):
    """Where stations meet pieces of their own path, the nearest place of each piece."""
    met = meet_own(ways.pieces.lines, rays, ways.owner, ways.rays, number, reach, progress)
    order = np.lexsort((np.abs(met.offset), met.part, met.station))
    return met.take(order[stretch_starts(met.station[order], met.part[order])])


def _straightness(rays, group, station, chainage):
    """Minus the length of each piece over that of its path, shape (r,). A gross error makes a line
    longer, so of two walks the straighter one is followed."""
    here = np.flatnonzero((np.diff(group) == 0) & (np.diff(station) == 1))
    _, number = np.unique(group, return_inverse=True)
    count = number.max(initial=0) + 1
    gone = np.bincount(number[here], np.abs(chainage[here + 1] - chainage[here]), count)
    along = np.bincount(
        number[here], rays.chainage[station[here + 1]] - rays.chainage[station[here]], count
    )
    return -np.round(gone / np.maximum(along, 1e-9), 5)[number]


@dataclass(frozen=True)
class _Rows:
    """Cell, station, piece and straightness of what pieces show, shape (r,)."""

    cell: np.ndarray
    station: np.ndarray
    piece: np.ndarray
    straight: np.ndarray


def _disagreeing(seen, value, sigma, least, confidence, straightest):
    """Mask of the rows whose piece differs from the one followed in its cell by more than
    uncertainty explains, the difference allowed, and the difference.

    The weighted median of the pieces in a cell is followed; of two pieces the more precise one, or
    with `straightest` the straighter one.
    """
    out = np.zeros(len(value), bool)
    limit, away = np.full(len(value), np.nan), np.full(len(value), np.nan)
    rows = np.flatnonzero(np.isfinite(value))
    if not len(rows):
        return out, limit, away
    station, piece, value = seen.station[rows], seen.piece[rows], value[rows]
    of = numbered(seen.cell[rows], piece)
    count = int(of.max()) + 1
    pair, bonus = np.zeros((count, 2), np.int64), np.zeros(count)
    pair[of], bonus[of] = np.column_stack([seen.cell[rows], piece]), seen.straight[rows]
    mean, own = np.bincount(of, value) / np.bincount(of), sigma[pair[:, 1]]
    reference = _followed(pair, mean, own, bonus, straightest)
    # station by station where the piece that is followed has a value there, else from its mean
    wide = int(seen.piece.max()) + 1
    key = station * wide + piece
    ranked = np.argsort(key)
    wanted = station * wide + pair[reference[of], 1]
    found = ranked[np.minimum(np.searchsorted(key[ranked], wanted), len(rows) - 1)]
    difference = value - np.where(key[found] == wanted, value[found], mean[reference[of]])
    typical = np.bincount(of, difference) / np.bincount(of)
    allowed = limit_of(confidence, own, own[reference])
    called = beyond_chance(
        np.abs(typical) / allowed, int(np.count_nonzero(reference != np.arange(count))), confidence
    ) & (np.abs(typical) > least)
    out[rows], limit[rows], away[rows] = called[of], np.maximum(allowed, least)[of], difference
    return out, limit, away


def _followed(pair, mean, own, bonus, straightest):
    """Index of the pair of cell and piece that each one is compared with: the weighted median of
    its cell."""
    count = len(pair)
    place = np.empty(count)
    # the straighter piece ranks higher, and of equally straight ones the longer
    place[np.lexsort((-pair[:, 1], bonus))] = np.arange(1, count + 1)
    two = np.bincount(pair[:, 0])[pair[:, 0]] == 2
    weight = np.where(two & straightest, place, own**-2.0 * (1 + 1e-6 * place / count))
    order = np.lexsort((pair[:, 1], mean, pair[:, 0]))
    starts = offsets_from_starts(stretch_starts(pair[order, 0]))
    reached = np.flatnonzero(
        cumulative(weight[order], starts) + weight[order]
        >= np.repeat(group_sum(weight[order], starts), np.diff(starts)) / 2
    )
    chosen = order[reached[np.searchsorted(reached, starts[:-1])]]
    reference = np.empty(count, np.int64)
    reference[order] = np.repeat(chosen, np.diff(starts))
    return reference


# long: half of it is the description
def shares_of(seen, stations, lines, closed, use, sigma, blend):
    """Share that each row has in the mean of its station, 0 if it is not used; the shares at a
    station sum to 1.

    Weights are 1 / sigma**2 and grow from 0 over `blend` metres from where a walk begins or ends
    inside the path.

    Parameters
    ----------
    seen : SeenPieces
    stations : PathStations
    lines : Lines
        The paths.
    closed : ndarray of bool, shape (paths,)
    use : ndarray of bool, shape (r,)
        Rows that take part.
    sigma : ndarray of float, shape (p,)
        1-sigma of the pieces, metres.
    blend : float
        Metres.

    Returns
    -------
    ndarray of float, shape (r,)
    """
    rays = stations.rays
    path = rays.part[seen.station]
    follows = (
        use[1:]
        & use[:-1]
        & (np.diff(seen.piece) == 0)
        & (np.diff(seen.station) == 1)
        & (np.diff(path) == 0)
    )
    rows = np.flatnonzero(use)
    weight = np.zeros(len(use))
    if not len(rows):
        return weight
    starts = np.append(True, ~follows[rows[1:] - 1] | (np.diff(rows) > 1))
    offsets = offsets_from_starts(starts)
    first, last = rows[offsets[:-1]], rows[offsets[1:] - 1]
    length = lines.part_length()
    half = rays.weight[seen.station] / 2
    along = rays.chainage[seen.station]
    at_start, at_end = (
        seen.station[run] == bound[path[run]]
        for run, bound in ((first, rays.first[:-1]), (last, rays.first[1:] - 1))
    )
    # a walk that is on both sides of a ring's seam passes through it
    key = path[first] * (int(seen.piece.max()) + 1) + seen.piece[first]
    through = closed[path[first]] & np.isin(key, key[at_start]) & np.isin(key, key[at_end])
    open_start, open_end = (
        at_start & (~closed[path[first]] | through),
        at_end & (~closed[path[first]] | through),
    )
    begin = np.where(open_start, -np.inf, along[first] - half[first])
    end = np.where(open_end, np.inf, along[last] + half[last])
    run = group_index(offsets)
    near = np.minimum(along[rows] - begin[run], end[run] - along[rows])
    weight[rows] = (
        np.clip(near / min(blend, float(length.max())), 1e-6, 1.0) * sigma[seen.piece[rows]] ** -2.0
    )
    total = np.bincount(seen.station, weight, len(rays))
    return weight / np.where(total > 0, total, 1.0)[seen.station]


def fill_along(values, known, part, chainage):
    """Interpolate unknown values between the known ones on the same path.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
    known : ndarray of bool, shape (n,)
    part : ndarray of int, shape (n,)
        Path of each value, rising.
    chainage : ndarray of float, shape (n,)
        Rising along each path, metres.

    Returns
    -------
    ndarray of float, shape (n,)
        Constant beyond the first and last known value; NaN on a path that has none.
    """
    some = np.flatnonzero(known)
    if not len(some):
        return np.full(len(values), np.nan)
    along = chainage + part * 3 * (float(chainage.max()) + 10.0)
    out = np.interp(along, along[some], values[some])
    right, left = (
        np.clip(np.searchsorted(some, np.arange(len(values)), side), 0, len(some) - 1)
        for side in ("left", "right")
    )
    left, right = some[np.maximum(left - 1, 0)], some[right]
    left_own, right_own = part[left] == part, part[right] == part
    out = np.where(
        left_own & right_own,
        out,
        np.where(left_own, values[left], np.where(right_own, values[right], np.nan)),
    )
    return np.where(known, values, out)


def at_vertices(values, stations, shape):
    """Values of the stations before and after each vertex; at an end both are that of the only one.

    Parameters
    ----------
    values : ndarray of float, shape (n,)
        Of the stations.
    stations : PathStations
    shape : PathShape

    Returns
    -------
    before, after : ndarray of float, shape (v,)
    """
    before, after = (
        values[stations.last[np.maximum(shape.before, 0)]],
        values[stations.first[np.maximum(shape.after, 0)]],
    )
    return np.where(shape.before < 0, after, before), np.where(shape.after < 0, before, after)


def displaced_vertices(lines, shape, stations, offset):
    """Positions of the vertices after the offsets: corners where the moved legs meet, ends moved
    across.

    Parameters
    ----------
    lines : Lines
        The paths.
    shape : PathShape
    stations : PathStations
    offset : ndarray of float, shape (n,)
        Of the stations, + to the right, metres.

    Returns
    -------
    x, y : ndarray of float, shape (v,)
        Metres.
    """
    before, after = at_vertices(offset, stations, shape)
    back = np.where(shape.before >= 0, shape.before, shape.after)
    ahead = np.where(shape.after >= 0, shape.after, shape.before)
    nx, ny, mx, my = shape.uy[back], -shape.ux[back], shape.uy[ahead], -shape.ux[ahead]
    cosine = nx * mx + ny * my
    with np.errstate(invalid="ignore", divide="ignore"):
        # u · n = before, u · m = after
        p, q = (
            (before - cosine * after) / (1 - cosine**2),
            (after - cosine * before) / (1 - cosine**2),
        )
    # legs that turn back on each other do not meet
    plain = ~shape.corner | (cosine < -0.9)
    p, q = np.where(plain, before / 2, p), np.where(plain, after / 2, q)
    return lines.x + p * nx + q * mx, lines.y + p * ny + q * my


def heights_along(lines):
    """Heights of the vertices, unknown ones interpolated along their line.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    ndarray of float, shape (v,)
        Metres; 0 where a line has none.
    """
    part, along = group_index(lines.offsets), cumulative(lines.steps(), lines.offsets)
    return np.nan_to_num(fill_along(lines.z, np.isfinite(lines.z), part, along))


def far_from(known, rays, reach):
    """Mask of the stations without a known one within reach along their path.

    Parameters
    ----------
    known : ndarray of bool, shape (n,)
        Stations with a value.
    rays : Rays
    reach : float
        Metres.

    Returns
    -------
    ndarray of bool, shape (n,)
    """
    some = np.flatnonzero(known)
    if not len(some):
        return np.ones(len(known), bool)
    wide = 3 * (float(rays.chainage.max()) + reach + 10.0)
    at = rays.chainage + rays.part * wide
    place = np.searchsorted(at[some], at)
    gap = np.minimum(
        np.abs(at - at[some[np.minimum(place, len(some) - 1)]]),
        np.abs(at - at[some[np.maximum(place - 1, 0)]]),
    )
    return gap > reach
