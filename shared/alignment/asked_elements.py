"""Elements that a person asked for: corners, smooth (tangential) joints, one tangent or arc for a
stretch."""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, offsets_of, stretch_starts
from ..tuning import REPAIR_LIMITS, ROBUST
from .chain import (
    CandidateChains,
    inner_joints,
    joints_of,
    of_runs,
    put_runs,
    reassign_and_adjust,
    sharp_joints,
    total_cost,
)
from .moments import Moments
from .primitives import fit_independent
from .proposals import Proposals, Replacements, compare, put_in

FREE, TANGENT, ARC = range(3)


@dataclass(frozen=True)
class AskedElements:
    """What is asked of the elements of runs; arrays of shape (m,).

    Attributes
    ----------
    starts : bool
        An element must begin at the position.
    corner : bool
        An element must begin at the position, with a corner before it.
    smooth : bool
        The joint next to the position must be tangential.
    kind : uint8
        `TANGENT` or `ARC` if all positions up to the next start must be one such element, else
        `FREE`.
    """

    starts: np.ndarray
    corner: np.ndarray
    smooth: np.ndarray
    kind: np.ndarray

    # parameters: kinds of what may be asked for
    @classmethod
    def of(cls, positions, offsets, stretch, arc, corners, smooth):
        """Translate what is asked into starts of elements.

        Parameters
        ----------
        positions : Positions
        offsets : ndarray of int, shape (runs + 1,)
        stretch : ndarray of int, shape (m,)
            Number of the stretch that is to be one element, -1 for none.
        arc : ndarray of bool, shape (m,)
            Whether that element is to be an arc, else a tangent.
        corners, smooth : ndarray of int
            Positions at which a corner, or a smooth joint, is asked for.

        Returns
        -------
        AskedElements
            Starts are at least `REPAIR_LIMITS.fewest` positions apart: those without room are left
            out, so that a stretch may take in a single position next to it.
        """
        run = group_index(offsets)
        m = len(run)
        rim = stretch_starts(stretch, run)
        rim &= (stretch >= 0) | (np.append(-1, stretch[:-1])[:m] >= 0)
        bounds = [_bound_at(positions, offsets, run, place) for place in corners.tolist()]
        is_corner = np.zeros(m, bool)
        is_corner[bounds] = True
        starts = _with_room(is_corner | rim, is_corner, offsets, run)
        piece = np.cumsum(starts | stretch_starts(run))
        size = np.bincount(piece)
        inside = np.bincount(piece, stretch >= 0)
        kind = np.where(arc & (stretch >= 0), ARC, TANGENT)
        of_piece = np.zeros(len(size), np.int64)
        np.maximum.at(of_piece, piece[stretch >= 0], kind[stretch >= 0])
        full = 2 * inside[piece] > size[piece]
        out = np.zeros(m, bool)
        out[smooth] = True
        return cls(
            starts=starts,
            corner=is_corner & starts,
            smooth=out,
            kind=np.where(full, of_piece[piece], FREE).astype(np.uint8),
        )

    def take(self, places):
        """What is asked at some positions, given by a slice or an array of int."""
        return AskedElements(
            **{column.name: getattr(self, column.name)[places] for column in fields(self)}
        )

    def part(self, low, high):
        """What is asked at positions `low` to before `high`; None if nothing is."""
        part = self.take(slice(low, high))
        asked = (part.starts, part.smooth, part.kind)
        return part if any(one.any() for one in asked) else None

    def corners_of(self, chains):
        """Elements (mask) of fitted chains that begin at a corner asked for: the nearest one within
        `REPAIR_LIMITS.reach` positions, since outliers may have been removed meanwhile."""
        run, out = group_index(chains.offsets), np.zeros(len(chains), bool)
        inner = np.append(False, run[1:] == run[:-1])[: len(chains)]
        inner &= ~np.append(False, chains.smooth[:-1])[: len(chains)]
        for place in np.flatnonzero(self.corner).tolist():  # few: they are made by hand
            off = np.where(inner, np.abs(chains.bounds[:-1] - place), REPAIR_LIMITS.reach + 1)
            if len(off) and off.min() <= REPAIR_LIMITS.reach:
                out |= off == off.min()
        return out


def _bound_at(positions, offsets, run, place):
    """First position behind a corner asked for at `place`: the next one if the position lies nearer
    to the line through those before it, else the position itself."""
    low, high = offsets[run[place]], offsets[run[place] + 1]
    before = np.arange(max(place - REPAIR_LIMITS.side, low), place)
    behind = np.arange(place + 1, min(place + 1 + REPAIR_LIMITS.side, high))
    if len(before) < REPAIR_LIMITS.fewest or len(behind) < REPAIR_LIMITS.fewest:
        return place if len(before) > len(behind) else min(place + 1, high - 1)
    off = [_off_line(positions.x, positions.y, side, place) for side in (before, behind)]
    return place + 1 if off[0] <= off[1] else place


def _off_line(x, y, side, place):
    """Distance of a position from the line through the mean of others, parallel to their chord."""
    dx, dy = x[side[-1]] - x[side[0]], y[side[-1]] - y[side[0]]
    off = dx * (y[place] - y[side].mean()) - dy * (x[place] - x[side].mean())
    return abs(off) / max(float(distance(dx, dy)), 1e-9)


def _with_room(wanted, corner, offsets, run):
    """The wanted starts (mask) that leave `REPAIR_LIMITS.fewest` positions on either side; corners
    have precedence."""
    out = np.zeros(len(wanted), bool)
    for some in (wanted & corner, wanted & ~corner):
        for place in np.flatnonzero(some).tolist():  # few: they are made by hand
            low, high = offsets[run[place]], offsets[run[place] + 1]
            taken = np.flatnonzero(out[low:high]) + low
            rims = np.concatenate([[low, high], taken])
            out[place] = np.abs(rims - place).min() >= REPAIR_LIMITS.fewest
    return out


# --- runs in pieces -----------------------------------------------------------------------------


def pieces_of(asked, offsets):
    """Cut runs at all starts.

    Parameters
    ----------
    asked : AskedElements
    offsets : ndarray of int, shape (runs + 1,)

    Returns
    -------
    bounds : ndarray of int, shape (pieces + 1,)
        Positions of the pieces.
    of_run : ndarray of int, shape (runs + 1,)
        Pieces of the runs.
    """
    starts = np.flatnonzero(asked.starts)
    number = np.bincount(group_index(offsets)[starts], minlength=len(offsets) - 1)
    return np.sort(np.concatenate([offsets, starts])), offsets_of(number + 1)


def joined(candidate, asked, of_run, closed, places):
    """Join the chains of pieces to chains of whole runs.

    Parameters
    ----------
    candidate : CandidateChains
        Of the pieces.
    asked : AskedElements
    of_run : ndarray of int, shape (runs + 1,)
        Pieces of the runs.
    closed : ndarray of bool, shape (runs,)
    places : tuple of ndarray of float, shape (m,)
        x and y.

    Returns
    -------
    candidate : CandidateChains
        Joints between pieces are corners.
    may : ndarray of bool, shape (elements,)
        Elements after which the joint may become tangential: one of the two is an arc, both have
        about the same direction there, and no corner is asked for.
    """
    whole = replace(candidate, offsets=candidate.offsets[of_run], closed=closed, moments=None)
    ends = np.zeros(len(whole), bool)  # last elements of pieces that another one follows
    several = np.repeat(np.diff(of_run) > 1, np.diff(of_run))
    ends[candidate.offsets[1:][several] - 1] = True
    first, second = inner_joints(whole)
    next_to = np.zeros(len(whole), np.int64)
    next_to[first] = second
    inner = np.zeros(len(whole), bool)
    inner[first] = True
    # the start of a ring is where its first element begins
    corner = asked.corner[np.minimum(whole.bounds[next_to], len(asked.corner) - 1)]
    sharp = sharp_joints(whole.primitives, *places, whole.bounds, whole.offsets, closed)
    may = ends & inner & (whole.arc | whole.arc[next_to]) & ~sharp & ~corner
    return replace(whole, smooth=whole.smooth & ~ends), may


def one_element_each(candidate, asked, x, y, weight):
    """Replace the chains of pieces that are to be one tangent or arc by that element.

    Parameters
    ----------
    candidate : CandidateChains
        Of the pieces.
    asked : AskedElements
    x, y, weight : ndarray of float, shape (m,)

    Returns
    -------
    candidate : CandidateChains
    mine : ndarray of bool, shape (m,)
        Positions of these pieces.
    """
    first = candidate.bounds[candidate.offsets[:-1]]
    size = candidate.bounds[candidate.offsets[1:]] - first
    kind = np.where(size > 0, asked.kind[np.minimum(first, len(x) - 1)], FREE)
    which = np.flatnonzero(kind != FREE)
    mine = np.repeat(kind != FREE, size)
    if not which.size:
        return candidate, mine
    bounds = offsets_of(size[which])
    px, py, pw = x[mine], y[mine], weight[mine]
    moments = Moments.of(px, py, pw, bounds)
    primitives = fit_independent(
        moments, kind[which] == ARC, px, py, bounds[:-1], bounds[1:], candidate.radii
    )
    count = len(which)
    part = CandidateChains(
        bounds=bounds,
        offsets=np.arange(count + 1),
        arc=primitives.is_arc,
        smooth=np.zeros(count, bool),
        primitives=primitives,
        closed=np.zeros(count, bool),
        chi=np.zeros(count),
        radii=candidate.radii,
    )
    return put_runs(candidate, part, which), mine


def smoothed(candidate, asked, x, y, weight):
    """Make joints tangential where that is asked for; an arc replaces the corner of two tangents.

    Parameters
    ----------
    candidate : CandidateChains
    asked : AskedElements
    x, y, weight : ndarray of float, shape (m,)

    Returns
    -------
    CandidateChains
    """
    for place in np.flatnonzero(asked.smooth).tolist():  # few: they are made by hand
        first, second = inner_joints(candidate)
        run = np.searchsorted(candidate.bounds[candidate.offsets], place, "right")
        own = np.searchsorted(candidate.bounds[candidate.offsets], candidate.bounds[first], "right")
        off = np.abs(candidate.bounds[second] - place)
        off = np.where((own == run) & ~candidate.smooth[first], off, len(x))
        if not len(off) or off.min() > REPAIR_LIMITS.reach:
            continue
        a, b = first[np.argmin(off)], second[np.argmin(off)]
        if candidate.arc[a] or candidate.arc[b]:
            smooth = candidate.smooth.copy()
            smooth[a] = True
            candidate = replace(candidate, smooth=smooth)
        elif b == a + 1:
            candidate = _rounded(candidate, a, x, y, weight)
    return candidate


def _rounded(candidate, element, x, y, weight):
    """Chains with an arc between a tangent and the next one, of the size that costs least;
    unchanged if no arc fits."""
    candidate = candidate.with_moments(x, y, weight)
    bound, number = candidate.bounds[element + 1], np.diff(candidate.bounds)[element : element + 2]
    size = np.array(REPAIR_LIMITS.smooth_arc)
    size = size[size < number.min()]
    if not size.size:
        return candidate
    first = np.full(len(size), element)
    start = np.column_stack(
        [np.full(len(size), candidate.bounds[element]), bound - size, bound + size]
    )
    before = element > 0 and candidate.smooth[element - 1]
    after = np.full(len(size), candidate.smooth[element + 1])
    yes = np.ones(len(size), bool)
    proposals = Proposals.of(
        first,
        2,
        start,
        np.column_stack([~yes, yes, ~yes]),
        np.column_stack([yes, yes, after]),
        yes & before,
    )
    compared = compare(candidate, x, y, weight, proposals)
    arcs = np.add.reduceat(compared.new.arc.astype(int), compared.new.offsets[:-1])
    old = np.add.reduceat(compared.old.arc.astype(int), compared.old.offsets[:-1])
    saving = np.where(arcs > old[compared.which], compared.saving, -np.inf)
    best = int(np.argmax(saving))
    if not np.isfinite(saving[best]):
        return candidate
    found = Replacements.of(compared, np.array([best]), saving, np.arange(len(saving)))
    return put_in(candidate, found)[0]


def as_asked(problem, candidate, weight):
    """Chains of whole runs, with the elements asked for, from the chains of their pieces.

    Parameters
    ----------
    problem : fit._Problem
        Of which `asked`, `x`, `y`, `variance`, `offsets` and `closed` are used.
    candidate : CandidateChains
        Of the pieces, see `pieces_of`.
    weight : ndarray of float, shape (m,)
        Of the last adjustment; 0 for rejected positions.

    Returns
    -------
    candidate : CandidateChains
    weight : ndarray of float, shape (m,)

    Notes
    -----
    A corner couples no parameters: pieces that meet in corners are adjusted as the whole run would
    be. An element asked for is fitted to its positions and adjusted with its neighbours, then
    again with Huber's weights (1964), which all other elements already have.
    """
    asked, x, y = problem.asked, problem.x, problem.y
    candidate, mine = one_element_each(candidate, asked, x, y, weight)
    _, of_run = pieces_of(asked, problem.offsets)
    whole, may = joined(candidate, asked, of_run, problem.closed, (x, y))
    run = group_index(problem.offsets)
    plain = np.where(mine & (weight > 0), 1 / problem.variance, weight)
    weight = plain.copy()
    # one run at a time: they are few, and all others keep every digit
    for number in np.unique(run[asked.starts | asked.smooth | (asked.kind != FREE)]).tolist():
        number = np.array([number])
        part, place, element = of_runs(whole, number)
        own, xy = asked.take(place), (x[place], y[place])
        if own.starts.any():
            part = _joined_smoothly(part, may[element], *xy, plain[place])
        part, weight[place] = _adjusted(part, own, xy, plain[place], problem.variance[place])
        whole = put_runs(whole, part, number)
        grown = len(whole) - len(may)  # arcs that replaced corners
        if grown:
            may = np.insert(may, np.full(grown, element[-1] + 1), False)
    return whole, weight


def _joined_smoothly(candidate, may, x, y, weight):
    """Chain of a run, adjusted, with tangential joints after the elements that `may` have one
    (mask), where that costs less and leaves the joint in its place."""
    best = reassign_and_adjust(replace(candidate, moments=None), x, y, weight, 1)
    cost = total_cost(best, x, y).sum()
    for element in np.flatnonzero(may).tolist():  # few: between what was asked for
        smooth = best.smooth.copy()
        smooth[element] = True
        trial = reassign_and_adjust(replace(best, smooth=smooth, moments=None), x, y, weight, 1)
        less = total_cost(trial, x, y).sum()
        if less < cost and _stays(trial, element, x, y):
            best, cost = trial, less
    return best


def _stays(candidate, element, x, y):
    """Whether the joint after an element lies within a step of the two positions around it."""
    first, second, joints = joints_of(candidate, x, y)
    place = int(np.flatnonzero(first == element)[0])
    a, b = candidate.bounds[element + 1] - 1, candidate.bounds[second[place]]
    off = distance(joints.x[place] - (x[a] + x[b]) / 2, joints.y[place] - (y[a] + y[b]) / 2)
    return bool(off <= distance(x[b] - x[a], y[b] - y[a]))


def _adjusted(candidate, asked, places, weight, variance):
    """Chain of a run with the smooth joints asked for, adjusted with Huber's weights where elements
    are asked for; and the weights."""
    x, y = places
    part = smoothed(candidate, asked, x, y, weight)
    if part is candidate and not (asked.starts.any() or asked.kind.any()):
        return candidate, weight
    part = reassign_and_adjust(replace(part, moments=None), x, y, weight, 1)
    signed = part.primitives.signed_distance(x, y, group_index(part.bounds))
    residual = np.abs(signed) / np.sqrt(variance)
    lighter = np.minimum(ROBUST.huber_sigmas / np.maximum(residual, 1e-9), 1.0)
    weight = np.where(asked.kind != FREE, weight * lighter, weight)
    part = reassign_and_adjust(replace(part, moments=None), x, y, weight, 1, warm=True)
    return part, weight


def without_asked(free, candidate, asked):
    """Free forms except those that conflict with what is asked for.

    Parameters
    ----------
    free : ndarray of bool, shape (elements,)
        Elements whose positions a free form explains better.
    candidate : CandidateChains
    asked : AskedElements

    Returns
    -------
    ndarray of bool, shape (elements,)
        Without the stretches that hold an element asked for, or one next to a corner or a smooth
        joint asked for.
    """
    near = (asked.kind != FREE) | asked.corner | asked.smooth
    near[:-1] |= asked.corner[1:]
    held = np.zeros(len(free), bool)
    held[group_index(candidate.bounds)[near]] = True
    stretch = np.cumsum(stretch_starts(free, group_index(candidate.offsets))) - 1
    return free & (np.bincount(stretch, held & free)[stretch] == 0)
