"""What the walks of one edge show at the stations of its path, and the weighted mean of it."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import cumulative, group_index, group_sum, offsets_from_starts
from ..tuning import OVERLAPS
from .overlaps import fill_gaps, numbered
from .rays import Index, Rays
from .significance import beyond_chance, limit_of


@dataclass(frozen=True)
class _Seen:
    """What pieces show at stations of axes, in the order of axis, piece and station; arrays of
    shape (r,).

    `offset` + to the right of the axis; `z` height; `chainage` along the piece; `out`, `out_up`:
    not of one mind with the others; `limit`, `limit_up` what would be explained; `from_others`,
    `up_from_others` how far off it is there, metres.
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


def _see(lines, stations, number, ways, sigma, sigma_up, settings, progress):
    """Meet all pieces along the axes and find those that are not of one mind; `number` is the axis
    of each line."""
    rays, pieces = stations.rays, ways.pieces
    met = Index(pieces.lines).meet(rays, 2 * settings.max_offset, progress)
    own = ways.owner[ways.rays.at(met.part, met.chainage)] == number[rays.part[met.station]]
    met = met.take(own)
    order = np.lexsort((np.abs(met.offset), met.part, met.station))
    met = met.take(
        order[
            np.append(True, (np.diff(met.station[order]) != 0) | (np.diff(met.part[order]) != 0))[
                : len(order)
            ]
        ]
    )
    group = rays.part[met.station] * len(pieces) + met.part
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
    # how much longer than the axis each piece is: a slip makes a line longer, so of two walks the
    # straighter one is followed
    ahead = np.append((np.diff(group) == 0) & (np.diff(station) == 1), False)
    here = np.flatnonzero(ahead)
    _, number_of = np.unique(group, return_inverse=True)
    gone = np.bincount(
        number_of[here], np.abs(chainage[here + 1] - chainage[here]), number_of.max(initial=0) + 1
    )
    along = np.bincount(
        number_of[here],
        rays.chainage[station[here + 1]] - rays.chainage[station[here]],
        number_of.max(initial=0) + 1,
    )
    straight = -np.round(gone / np.maximum(along, 1e-9), 5)[number_of]
    out, limit, away = _not_of_one_mind(
        cell,
        station,
        piece,
        offset,
        sigma,
        straight,
        OVERLAPS.min_difference,
        settings.confidence,
        True,
    )
    out_up, limit_up, away_up = _not_of_one_mind(
        cell,
        station,
        piece,
        z,
        sigma_up,
        straight,
        OVERLAPS.min_difference_up,
        settings.confidence,
        False,
    )
    return _Seen(
        station,
        piece,
        offset,
        z,
        chainage,
        same,
        out,
        out_up & ~out,
        limit,
        limit_up,
        away,
        away_up,
    )


def _not_of_one_mind(cell, station, piece, value, sigma, straight, least, confidence, straightest):
    """Rows whose piece differs in their cell from the one that is followed there by more than
    uncertainty; what is allowed; by how much.

    The weighted median of the pieces of a cell is followed; of two pieces the surer one, or with
    `straightest` the straighter one.
    """
    out, limit, away = (
        np.zeros(len(value), bool),
        np.full(len(value), np.nan),
        np.full(len(value), np.nan),
    )
    rows = np.flatnonzero(np.isfinite(value))
    if not len(rows):
        return out, limit, away
    of = numbered(cell[rows], piece[rows])
    count = int(of.max()) + 1
    pair, bonus = np.zeros((count, 2), np.int64), np.zeros(count)
    pair[of], bonus[of] = np.column_stack([cell[rows], piece[rows]]), straight[rows]
    mean, own = np.bincount(of, value[rows]) / np.bincount(of), sigma[pair[:, 1]]
    place = np.empty(count)
    # the straighter, and of those alike the longer, ranks higher
    place[np.lexsort((-pair[:, 1], bonus))] = np.arange(1, count + 1)
    two = np.bincount(pair[:, 0])[pair[:, 0]] == 2
    weight = np.where(two & straightest, place, own**-2.0 * (1 + 1e-6 * place / count))
    order = np.lexsort((pair[:, 1], mean, pair[:, 0]))
    starts = offsets_from_starts(np.append(True, np.diff(pair[order, 0]) > 0))
    reached = np.flatnonzero(
        cumulative(weight[order], starts) + weight[order]
        >= np.repeat(group_sum(weight[order], starts), np.diff(starts)) / 2
    )
    chosen = order[reached[np.searchsorted(reached, starts[:-1])]]
    reference = np.empty(count, np.int64)
    reference[order] = np.repeat(chosen, np.diff(starts))
    # differences station by station, where the piece that is followed has a value too
    wide = int(piece.max()) + 1
    key = station[rows] * wide + piece[rows]
    ranked = np.argsort(key)
    wanted = station[rows] * wide + pair[reference[of], 1]
    found = ranked[np.minimum(np.searchsorted(key[ranked], wanted), len(rows) - 1)]
    difference = value[rows] - np.where(
        key[found] == wanted, value[rows][found], mean[reference[of]]
    )
    typical = np.bincount(of, difference) / np.bincount(of)
    allowed = limit_of(confidence, own, own[reference])
    called = beyond_chance(
        np.abs(typical) / allowed, int(np.count_nonzero(reference != np.arange(count))), confidence
    ) & (np.abs(typical) > least)
    out[rows], limit[rows], away[rows] = called[of], np.maximum(allowed, least)[of], difference
    return out, limit, away


def _shares(seen, stations, lines, closed, use, sigma, blend):
    """Share that each row has in the mean of its station, 0 where it is not used; they sum to 1 at
    each station that has any.

    Weights are 1 / sigma**2 and grow from 0 over `blend` metres from where a walk begins or ends
    inside the axis.
    """
    rays = stations.rays
    axis = rays.part[seen.station]
    follows = (
        use[1:]
        & use[:-1]
        & (np.diff(seen.piece) == 0)
        & (np.diff(seen.station) == 1)
        & (np.diff(axis) == 0)
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
        seen.station[run] == bound[axis[run]]
        for run, bound in ((first, rays.first[:-1]), (last, rays.first[1:] - 1))
    )
    # round a ring's seam a walk goes on where it is at both sides of it
    key = axis[first] * (int(seen.piece.max()) + 1) + seen.piece[first]
    through = closed[axis[first]] & np.isin(key, key[at_start]) & np.isin(key, key[at_end])
    open_start, open_end = (
        at_start & (~closed[axis[first]] | through),
        at_end & (~closed[axis[first]] | through),
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


def _spread(values, known, rays):
    """Fill the stations that have no value from those beside them on the same axis; NaN where the
    axis has none at all."""
    out = np.full(len(values), np.nan)
    some = np.flatnonzero(known)
    if not len(some):
        return out
    wide = float(rays.chainage.max()) + 10.0
    out = np.interp(
        rays.chainage + rays.part * 3 * wide,
        rays.chainage[some] + rays.part[some] * 3 * wide,
        values[some],
    )
    nearest = lambda side: np.clip(
        np.searchsorted(some, np.arange(len(values)), side), 0, len(some) - 1
    )
    left, right = some[np.maximum(nearest("right") - 1, 0)], some[nearest("left")]
    left_own, right_own = rays.part[left] == rays.part, rays.part[right] == rays.part
    out = np.where(
        left_own & right_own,
        out,
        np.where(left_own, values[left], np.where(right_own, values[right], np.nan)),
    )
    return np.where(known, values, out)


def _at_vertices(values, stations, shape):
    """Values of the stations next to each vertex, before and after it; at an end both are that of
    the only one."""
    before, after = (
        values[stations.last[np.maximum(shape.before, 0)]],
        values[stations.first[np.maximum(shape.after, 0)]],
    )
    return np.where(shape.before < 0, after, before), np.where(shape.after < 0, before, after)


def _displaced(lines, shape, stations, offset):
    """Corners where the moved legs meet, and ends moved across; other vertices are stations
    themselves."""
    before, after = _at_vertices(offset, stations, shape)
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
    # a leg that turns back on itself meets the other nowhere
    plain = ~shape.corner | (cosine < -0.9)
    p, q = np.where(plain, before / 2, p), np.where(plain, after / 2, q)
    return lines.x + p * nx + q * mx, lines.y + p * ny + q * my


def _heights_along(lines):
    """Heights of the vertices, those unknown from their neighbours on the same line, 0 where a line
    has none; shape (v,)."""
    known = np.isfinite(lines.z)
    along = cumulative(lines.steps(), lines.offsets)
    part = group_index(lines.offsets)
    rays = Rays(part, along, along, lines.x, lines.y, lines.z, along, along, lines.offsets)
    return np.nan_to_num(_spread(lines.z, known, rays))


def _far_from(there, rays, reach):
    """Stations that have no known one within `reach` along their axis."""
    some = np.flatnonzero(there)
    if not len(some):
        return np.ones(len(there), bool)
    wide = 3 * (float(rays.chainage.max()) + reach + 10.0)
    at = rays.chainage + rays.part * wide
    place = np.searchsorted(at[some], at)
    gap = np.minimum(
        np.abs(at - at[some[np.minimum(place, len(some) - 1)]]),
        np.abs(at - at[some[np.maximum(place - 1, 0)]]),
    )
    return gap > reach


def _figures(seen, stations, share, share_up, sigma, sigma_up, count):
    """Sigmas, shared length and repeatability of each axis, and over all of them."""
    rays = stations.rays
    size = len(rays)
    out, overall = {}, []
    for names, values, part, own in (
        (("sigma", "repeatability"), seen.offset, share, sigma),
        (("sigma_up", "repeatability_up"), seen.z, share_up, sigma_up),
    ):
        used = part > 0
        station, piece, value = seen.station[used], seen.piece[used], values[used]
        n = np.bincount(station, minlength=size)
        variance = np.bincount(station, part[used] ** 2 * own[piece] ** 2, size)
        length = np.bincount(rays.part, rays.weight * (n > 0), count)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.bincount(station, value, size) / n
            out[names[0]] = np.sqrt(np.bincount(rays.part, rays.weight * variance, count) / length)
            rest = np.bincount(station, (value - mean[station]) ** 2, size)
            # of the differences of all pairs at a station, the squares sum to n times the squares
            # about the mean
            squares, pairs = (
                np.bincount(rays.part, rays.weight * n * rest, count),
                np.bincount(rays.part, rays.weight * n * (n - 1) / 2, count),
            )
            expected = np.bincount(
                rays.part,
                rays.weight * np.maximum(n - 1, 0) * np.bincount(station, own[piece] ** 2, size),
                count,
            )
            out[names[1]] = np.sqrt(squares / pairs)
            overall.append(
                (
                    float(np.sqrt(squares.sum() / pairs.sum())),
                    float(np.sqrt(expected.sum() / pairs.sum())),
                )
            )
        if names[0] == "sigma":
            out["shared"] = np.bincount(rays.part, rays.weight * (n > 1), count)
    out["overall"] = (overall[0][0], overall[1][0], overall[0][1], overall[1][1])
    return out


def _pass_figures(seen, stations, pieces):
    """What each piece shows beside the others on each axis, a list of dicts."""
    rays = stations.rays
    size = len(rays)
    key = rays.part[seen.station] * pieces + seen.piece
    different, of = np.unique(key, return_inverse=True)
    of, count = of.reshape(-1), len(different)
    weight = rays.weight[seen.station]
    moments = []
    for values, used in (
        (seen.offset, ~seen.out),
        (seen.z, ~(seen.out | seen.out_up) & np.isfinite(seen.z)),
    ):
        n = np.bincount(seen.station[used], minlength=size)
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.bincount(seen.station[used], values[used], size) / n
            rest = np.bincount(
                seen.station[used], (values[used] - mean[seen.station[used]]) ** 2, size
            )
            use = used & (n[seen.station] > 1)
            many, away = n[seen.station[use]], values[use] - mean[seen.station[use]]
            own = lambda amount: np.bincount(of[use], weight[use] * amount, count)  # noqa: B023, E731
            shared = own(np.ones(len(many)))
            moments.append(
                (
                    shared,
                    own(many / (many - 1.0) * away) / shared,
                    np.sqrt(own(many * away**2 + rest[seen.station[use]]) / own(many - 1.0)),
                )
            )
    along = np.bincount(of, weight, count)
    same = np.bincount(of, weight * seen.same, count) > along / 2
    return [
        {
            "axis": int(different[row] // pieces),
            "piece": int(different[row] % pieces),
            "along": float(along[row]),
            "same": bool(same[row]),
            "shared": float(moments[0][0][row]),
            "offset_mean": float(moments[0][1][row]),
            "offset_rms": float(moments[0][2][row]),
            "up_mean": float(moments[1][1][row]),
            "up_rms": float(moments[1][2][row]),
        }
        for row in range(count)
    ]
