"""Lines cut into pieces that can be walks of one edge: copies taken together, laps cut apart."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import group_index, offsets_of, place_in_group, ranges
from ..tuning import OVERLAPS
from .crowds import meet_pieces
from .lines import Lines, chainages, is_ring
from .matching import sections
from .rays import stations_along


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
