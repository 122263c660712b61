"""Where walks overlap: pieces of edges that do not overlap themselves, and which stations of one
piece lie on another.

Two lines within reach of each other need not be two walks of one edge: the top and the foot of a
curb are a centimetre or two apart in plan. They are if they agree within their uncertainty, in plan
and in height, over most of the length that they share.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA, group_index, offsets_of, place_in_group, ranges
from ..tuning import OVERLAPS
from .crowds import meet_pieces
from .lines import Lines, chainages, is_ring
from .matching import one_way, sections
from .rays import stations_along
from .significance import beyond_chance, limit_of
from .squares import numbered


@dataclass(frozen=True)
class Pieces:
    """Stretches of edges that do not overlap themselves, the longest first; their direction depends
    only on their shape.

    Attributes
    ----------
    lines : Lines
        One part each.
    part : ndarray of int, shape (p,)
        Part of the source that the piece comes from.
    backwards : ndarray of bool, shape (p,)
        True if the piece runs against its part.
    start : ndarray of float, shape (p,)
        Chainage along the part where the piece begins, or where it ends if it runs backwards;
        metres.
    whole, closed : ndarray of bool, shape (p,)
        True if it is all of its part; if it is a ring.
    sigma, sigma_up : ndarray of float, shape (p,)
        1-sigma, metres; NaN if unknown.
    group : ndarray of int, shape (p,)
        Pieces of different groups never belong together.
    copies : ndarray of int, shape (k, 2)
        Parts that repeat another one vertex by vertex, and the piece that represents both.
    """

    lines: Lines
    part: np.ndarray
    backwards: np.ndarray
    start: np.ndarray
    whole: np.ndarray
    closed: np.ndarray
    sigma: np.ndarray
    sigma_up: np.ndarray
    group: np.ndarray
    copies: np.ndarray

    def __len__(self):
        return len(self.part)


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


def cut_pieces(lines, sigma, sigma_up, group, reach, min_overlap, progress=lambda share: None):
    """Order and orient edges by their shape, leave copies out, and cut edges that overlap
    themselves.

    Parameters
    ----------
    lines : Lines
    sigma, sigma_up : ndarray of float, shape (parts,)
        1-sigma, metres; NaN if unknown.
    group : ndarray of int, shape (parts,)
        Parts of different groups never belong together.
    reach, min_overlap : float
        How far apart walks of one edge may lie, and the length that they must share, metres.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    pieces : Pieces
        Parts without length have none.
    rays : Rays
        Stations of the pieces.
    met : Candidates
        Where these meet pieces.
    """
    good = np.flatnonzero(lines.part_length() > 1e-6)
    flipped = _flipped(lines, good)
    order, key = _ranked(lines, good, flipped, group, sigma, sigma_up)
    good, flipped = good[order], flipped[order]
    stands_for = np.arange(len(good))
    first = {}
    for place, one in enumerate(key):
        stands_for[place] = first.setdefault(one, place)
    own = stands_for == np.arange(len(good))
    number = np.cumsum(own) - 1
    copies = np.column_stack([good[~own], number[stands_for[~own]]])
    good, flipped = good[own], flipped[own]
    made = _sorted(lines, good, flipped)
    pieces = Pieces(
        lines=made,
        part=good,
        backwards=flipped,
        start=np.zeros(len(good)),
        whole=np.ones(len(good), bool),
        closed=is_ring(made, OVERLAPS.ring_gap),
        sigma=sigma[good],
        sigma_up=sigma_up[good],
        group=group[good],
        copies=copies,
    )
    rays = stations_along(made, OVERLAPS.spacing)
    met = meet_pieces(made, rays, pieces.group, reach, lambda share: progress(0.9 * share))
    pieces, again = _cut_laps(pieces, rays, met, min_overlap)
    if again:
        rays = stations_along(pieces.lines, OVERLAPS.spacing)
        met = meet_pieces(pieces.lines, rays, pieces.group, reach)
    progress(1.0)
    return pieces, rays, met


def _flipped(lines, parts):
    """Mask of the parts that are reversed, so that their direction follows from their shape:
    western end first, rings counter-clockwise."""
    a, b = lines.offsets[parts], lines.offsets[parts + 1] - 1
    ax, ay, bx, by = lines.x[a], lines.y[a], lines.x[b], lines.y[b]
    out = (bx < ax) | ((bx == ax) & (by < ay))
    for row in np.flatnonzero(np.hypot(bx - ax, by - ay) < OVERLAPS.ring_gap):
        x, y = lines.x[a[row] : b[row] + 1] - ax[row], lines.y[a[row] : b[row] + 1] - ay[row]
        out[row] = np.sum(x[:-1] * y[1:] - x[1:] * y[:-1]) < 0
    return out


def _ranked(lines, parts, flipped, group, sigma, sigma_up):
    """Order of parts, the longest first, that does not depend on the order of rows, and a key that
    is equal for copies."""
    made = _sorted(lines, parts, flipped)
    length, first, last = made.part_length(), made.offsets[:-1], made.offsets[1:] - 1

    def number(values):
        return np.where(np.isfinite(values), values, -1.0)

    middle = np.bincount(group_index(made.offsets), made.x - made.y, len(parts))
    order = np.lexsort(
        (
            number(made.z[first]),
            number(sigma_up[parts]),
            number(sigma[parts]),
            group[parts],
            np.round(middle, 4),
            made.y[last],
            made.x[last],
            made.y[first],
            made.x[first],
            -np.round(length, 6),
        )
    )
    rounded = np.round(
        np.column_stack([made.x, made.y, number(made.z)]) / OVERLAPS.copy_tolerance
    ).astype(np.int64)
    key = [
        (int(group[parts[place]]), rounded[made.offsets[place] : made.offsets[place + 1]].tobytes())
        for place in order.tolist()
    ]
    return order, key


def _sorted(lines, parts, flipped):
    """`Lines` of some parts in the given order, reversed where `flipped`."""
    size = lines.offsets[parts + 1] - lines.offsets[parts]
    offsets = offsets_of(size)
    vertex, owner = place_in_group(offsets), group_index(offsets)
    vertex = np.where(flipped[owner], size[owner] - 1 - vertex, vertex) + np.repeat(
        lines.offsets[parts], size
    )
    return Lines(
        x=lines.x[vertex],
        y=lines.y[vertex],
        z=lines.z[vertex],
        offsets=offsets,
        line=np.arange(len(parts)),
        count=len(parts),
        sigma=np.zeros(len(parts)),
        scale=lines.scale[lines.line[parts]],
    )


def _cut_laps(pieces, rays, met, min_overlap):
    """Cut pieces that overlap themselves, such as a ring walked twice in one go; True if there were
    any."""
    rows = np.flatnonzero(rays.part[met.station] == met.part)
    own = rays.part[met.station[rows]]
    along, length = rays.chainage[met.station[rows]], pieces.lines.part_length()[own]
    apart = np.abs(along - met.chainage[rows])
    apart = np.where(pieces.closed[own], np.minimum(apart, length - apart), apart)
    rows = rows[(apart > OVERLAPS.lap_distance) & (met.chainage[rows] < along)]
    if not len(rows):
        return pieces, False
    kept = met.take(rows)
    label = sections(rays, kept)
    covered = np.bincount(label, rays.weight[kept.station])
    rows = rows[covered[label] >= max(min_overlap, OVERLAPS.lap_distance)]
    if not len(rows):
        return pieces, False
    cuts = {}
    own = rays.part[met.station[rows]]
    for piece in np.unique(own).tolist():
        mine = rows[own == piece]
        at, back, same = rays.chainage[met.station[mine]], met.chainage[mine], met.same[mine]
        start, found = 0.0, []
        while True:
            later = np.flatnonzero(back >= start)
            if not len(later):
                break
            one = later[0]  # the first place that was walked before
            cut = at[one] - (back[one] - start) if same[one] else (at[one] + back[one]) / 2
            if cut <= start + OVERLAPS.lap_distance / 2:
                break
            found.append(float(cut))
            start = found[-1]
        cuts[piece] = found
    return _cut_at(pieces, cuts), True


def _cut_at(pieces, cuts):
    """Pieces cut at chainages, a list for each piece that is cut."""
    lines, length = pieces.lines, pieces.lines.part_length()
    xyz, of, start, whole = [], [], [], []
    for piece in range(len(pieces)):
        bounds = [0.0, *cuts.get(piece, ()), float(length[piece])]
        for low, high in zip(bounds[:-1], bounds[1:]):
            xyz.append(extract(lines, piece, low, high, False))
            of.append(piece)
            start.append(float(length[piece]) - high if pieces.backwards[piece] else low)
            whole.append(len(bounds) == 2)
    of, whole = np.array(of), np.array(whole)
    size = np.array([len(one) for one in xyz])
    order = np.lexsort(
        (
            np.array(start),
            of,
            -np.round([float(chainages(one)[-1]) for one in xyz], 6),
        )
    )
    place = offsets_of(size)
    flat = np.concatenate(xyz)[ranges(place[:-1][order], size[order])]
    made = Lines(
        *flat.T.copy(),
        offsets=offsets_of(size[order]),
        line=np.arange(len(of)),
        count=len(of),
        sigma=np.zeros(len(of)),
        scale=lines.scale[of[order]],
    )
    # the first piece of each former one represents its copies
    renumbered = np.argsort(of[order], kind="stable")
    first = (
        renumbered[np.searchsorted(of[order][renumbered], pieces.copies[:, 1])]
        if len(pieces.copies)
        else pieces.copies[:, 1]
    )
    of = of[order]
    return replace(
        pieces,
        lines=made,
        part=pieces.part[of],
        backwards=pieces.backwards[of],
        start=np.array(start)[order],
        whole=whole[order],
        closed=pieces.closed[of] & whole[order],
        sigma=pieces.sigma[of],
        sigma_up=pieces.sigma_up[of],
        group=pieces.group[of],
        copies=np.column_stack([pieces.copies[:, 0], first]),
    )


def extract(lines, part, start, stop, closed):
    """Vertices of a part between two chainages, in reverse if `stop` is less than `start`; round a
    ring they may go past its seam.

    Parameters
    ----------
    lines : Lines
    part : int
    start, stop : float
        Metres.
    closed : bool
        The part is a ring.

    Returns
    -------
    ndarray of float, shape (n, 3)
        Metres.
    """
    rows = slice(lines.offsets[part], lines.offsets[part + 1])
    xyz = np.column_stack([lines.x[rows], lines.y[rows], lines.z[rows]])
    along = chainages(xyz)
    low, high = min(start, stop), max(start, stop)
    if closed and (low < 0 or high > along[-1]):
        turns = np.arange(np.floor(low / along[-1]), np.ceil(high / along[-1]))
        along = np.concatenate(
            [*(along[:-1] + turn * along[-1] for turn in turns), [along[-1] * (turns[-1] + 1)]]
        )
        xyz = np.concatenate([*(xyz[:-1] for _ in turns), xyz[-1:]])
    # ends must be those of the line to the last bit, though sums of lengths differ in it
    low, high = (
        (along[0] if low < along[0] + 1e-9 else low),
        (along[-1] if high > along[-1] - 1e-9 else high),
    )
    inner = np.flatnonzero((along > low + 1e-6) & (along < high - 1e-6))
    ends = [
        (
            xyz[np.searchsorted(along, value)]
            if value in (along[0], along[-1])
            else np.array([np.interp(value, along, column) for column in xyz.T])
        )
        for value in (low, high)
    ]
    out = np.concatenate([ends[:1], xyz[inner], ends[1:]])
    return out if stop >= start else out[::-1]


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
