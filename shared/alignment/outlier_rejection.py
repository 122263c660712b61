"""Outliers of the aim that fitted chains reveal: positions that cost elements of their own, or lie
far off the chain."""

from collections.abc import Callable
from dataclasses import dataclass
from typing import Union

import numpy as np

from ..arrays.ragged import group_index, group_sum, ranges
from ..tuning import HEIGHT_EVIDENCE, LOCAL_SEARCH, REJECTION
from .chain import joints_of
from .proposals import Conditions, Context, Trial, find_replacements, put_in, worth_trying


@dataclass(frozen=True)
class AskedMask:
    """A mask of positions that is worked out where it is asked for: chains ask about few.

    Attributes
    ----------
    possible : ndarray of bool, shape (m,)
        Positions that may be in it.
    ask : callable
        Called with numbers of possible positions, ndarray of int, shape (q,): whether they are
        (mask), each by itself.
    first : int
        Number that the first position has in these calls.
    """

    possible: np.ndarray
    ask: Callable
    first: int = 0

    def __getitem__(self, places):
        """The mask at some positions, shape (q,), or the part of it that a slice gives."""
        if isinstance(places, slice):
            return AskedMask(self.possible[places], self.ask, self.first + places.start)
        out = self.possible[places]
        if out.any():
            out[out] = self.ask(self.first + places[out])
        return out

    def __and__(self, mask):
        """The same, limited to a mask of shape (m,)."""
        return AskedMask(self.possible & mask, self.ask, self.first)

    def any(self):
        """Whether any position may be in it."""
        return self.possible.any()


@dataclass(frozen=True)
class RejectionEvidence:
    """What is known of positions that may be outliers; arrays of shape (m,).

    `sigma`: 1-sigma across, m; `may_reject`: positions that may be rejected (mask, or `AskedMask`);
    `height_llr`: evidence of heights for an outlier, twice a log-likelihood ratio, squared sigmas.
    """

    sigma: np.ndarray
    may_reject: Union[np.ndarray, AskedMask]
    height_llr: np.ndarray


def reject_outliers(candidate, x, y, weight, evidence):
    """Reject positions of very short elements where the chain costs less without them.

    Parameters
    ----------
    candidate : CandidateChains
        Adjusted.
    x, y, weight : ndarray of float, shape (m,)
    evidence : RejectionEvidence

    Returns
    -------
    candidate : CandidateChains
    weight : ndarray of float, shape (m,)
        0 where a position is rejected.

    Notes
    -----
    An outlier of the aim needs elements of its own, and two corners. It is rejected if that costs
    more than `REJECTION.penalty` for each position, less the evidence of heights.
    """
    candidate = candidate.with_moments(x, y, weight)
    context = Context(candidate, x, y, weight)
    trials = (trial for move in REJECTING_MOVES for trial in move(context, evidence.may_reject))
    proposals, dropped = worth_trying(context, trials)
    if proposals is None:
        return candidate, weight

    def judge(compared, pairs):
        return _saving(candidate, x, y, weight, evidence, compared, pairs)

    asked = REJECTION.penalty - evidence.height_llr[dropped[1]]
    conditions = Conditions(dropped, np.bincount(dropped[0], asked, len(proposals)), judge)
    found = find_replacements(candidate, x, y, weight, proposals, conditions)
    if found.low.size:
        weight = weight.copy()
        weight[dropped[1][np.isin(dropped[0], found.number)]] = 0.0
        candidate, _ = put_in(candidate, found)
    return candidate, weight


def drop_short_element(context, may_reject):
    """Three elements, the middle one of one or two positions, become one, or two that meet inside
    the middle one; one or both of its positions are dropped.

    Parameters
    ----------
    context : Context
    may_reject : ndarray of bool, shape (m,), or AskedMask

    Yields
    ------
    Trial
    """
    arc, bounds = context.candidate.arc, context.candidate.bounds
    inside = _between_longer(context)
    for size in (1, 2):
        short = np.flatnonzero(inside & (context.number == size))
        for drop in ((0,), (1,), (0, 1))[: 3 if size == 2 else 1]:
            some = short[np.all([may_reject[bounds[short] + k] for k in drop], axis=0)]
            first, at = some - 1, bounds[some]
            gone = [at + k for k in drop]
            for kind in (False, True):
                yield Trial(first, 3, [bounds[first]], [kind], drop=gone)
            for k in range(size + 1):
                kinds = [arc[first], arc[some + 1]]
                yield Trial(first, 3, [bounds[first], at + k], kinds, drop=gone)


def drop_one_of_two(context, may_reject):
    """Of an element of two positions one is dropped; the other one and the position next to the
    pair, on either side, become a short tangent.

    Parameters
    ----------
    context : Context
    may_reject : ndarray of bool, shape (m,), or AskedMask

    Yields
    ------
    Trial
    """
    arc, bounds = context.candidate.arc, context.candidate.bounds
    pair = np.flatnonzero(_between_longer(context) & (context.number == 2))
    for k in (0, 1):
        some = pair[may_reject[bounds[pair] + k]]
        for low in (bounds[some] - 1, bounds[some]):
            yield Trial(
                some - 1,
                3,
                [bounds[some - 1], low, low + 3],
                [arc[some - 1], False, arc[some + 1]],
                drop=[bounds[some] + k],
            )


def drop_at_corner_of_arc(context, may_reject):
    """The last position before a corner at an arc is dropped, or the first one after it: an arc
    usually joins tangentially.

    Parameters
    ----------
    context : Context
    may_reject : ndarray of bool, shape (m,), or AskedMask

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    arc, bounds = candidate.arc, candidate.bounds
    joint = np.flatnonzero(
        context.has_after[:-1]
        & ~candidate.smooth[:-1]
        & (arc[1:] | arc[:-1])
        & (np.minimum(number[1:], number[:-1]) > 2)
    )
    for at in (bounds[joint + 1] - 1, bounds[joint + 1]):
        may = may_reject[at]
        some, at = joint[may], at[may]
        for k in (0, 1):
            kinds = [arc[some], arc[some + 1]]
            yield Trial(some, 2, [bounds[some], at + k], kinds, drop=[at])


def drop_at_end(context, may_reject):
    """The first or last position of a run is dropped if the run begins or ends with a short arc
    next to a corner: no edge does.

    Parameters
    ----------
    context : Context
    may_reject : ndarray of bool, shape (m,), or AskedMask

    Yields
    ------
    Trial
    """
    candidate, number = context.candidate, context.number
    arc, bounds, smooth = candidate.arc, candidate.bounds, candidate.smooth
    several = _several_elements(candidate)
    for end, joint, at in (
        (candidate.offsets[:-1][several], 0, 0),
        (candidate.offsets[1:][several] - 1, -1, -1),
    ):
        short = (number[end] <= LOCAL_SEARCH.shared) & (number[end] > 2)
        end = end[arc[end] & ~smooth[end + joint] & short]
        rim = bounds[end] if at == 0 else bounds[end + 1] - 1
        may = may_reject[rim]
        end, rim = end[may], rim[may]
        for kind in (False, True):
            yield Trial(end, 1, [bounds[end]], [kind], drop=[rim])


REJECTING_MOVES = drop_short_element, drop_one_of_two, drop_at_corner_of_arc, drop_at_end


def _between_longer(context):
    """Elements (mask) between two neighbours of more than two positions each."""
    number, inside = context.number, context.has_before & context.has_after
    inside[1:-1] &= np.minimum(number[:-2], number[2:]) > 2
    return inside


def _several_elements(candidate):
    """Open runs (mask) of several elements and enough positions to judge their ends."""
    size = candidate.bounds[candidate.offsets[1:]] - candidate.bounds[candidate.offsets[:-1]]
    return (np.diff(candidate.offsets) > 1) & ~candidate.closed & (size >= REJECTION.confirming_run)


def _saving(candidate, x, y, weight, evidence, compared, dropped):
    """What proposals save, less the penalty of the positions that they drop, squared sigmas."""
    total = len(compared.low)
    proposal, position = dropped
    asked = REJECTION.penalty - evidence.height_llr[position]
    saving = compared.saving - np.bincount(proposal, asked, total)
    # positions that would newly lie off the line are charged as well, however small their weight
    number = candidate.bounds[compared.high] - candidate.bounds[compared.low]
    window = np.repeat(np.arange(total), number)

    def is_outlying(part, places):
        residual = part.primitives.signed_distance(x[places], y[places], group_index(part.bounds))
        return np.abs(residual) > np.maximum(
            REJECTION.min_distance, REJECTION.sigmas * evidence.sigma[places]
        )

    old = compared.old
    was, would = is_outlying(old, compared.old_places), is_outlying(compared.new, compared.places)
    was = was[ranges(old.bounds[old.offsets[:-1]][compared.which], number)]
    saving -= REJECTION.penalty * np.bincount(window, (compared.weight > 0) & would & ~was, total)
    # a position near the line is no outlier, however small the noise seems to be
    at = position + compared.shift[proposal]
    owner = np.searchsorted(compared.new.bounds, at, "right") - 1
    residual = np.abs(compared.new.primitives.signed_distance(x[position], y[position], owner))
    floor = np.maximum(REJECTION.min_distance, REJECTION.sigmas / np.sqrt(weight[position]))
    saving[proposal[residual < floor]] = -np.inf
    return saving


def unconfirmed_ends(candidate, x, y, weight, evidence):
    """Positions at the ends of runs that turn a corner which nothing else confirms.

    Parameters
    ----------
    candidate : CandidateChains
    x, y, weight : ndarray of float, shape (m,)
    evidence : RejectionEvidence

    Returns
    -------
    drop : ndarray of bool, shape (m,)
    empty : ndarray of bool, shape (elements,)
        Elements that would be left empty.

    Notes
    -----
    A single position beyond a corner looks like an outlier of the aim. So do two whose line does
    not meet the next element, and two with evidence of heights against them.
    """
    bounds, llr = candidate.bounds, evidence.height_llr
    first, second, joints = joints_of(candidate, x, y)
    apart = np.zeros(len(candidate), bool)
    apart[first], apart[second] = ~joints.met, apart[second] | ~joints.met
    number = np.diff(bounds)
    drop, empty = np.zeros(len(x), bool), np.zeros(len(candidate), bool)
    several = _several_elements(candidate)
    for end, inner, joint in (
        (candidate.offsets[:-1][several], 1, 0),
        (candidate.offsets[1:][several] - 1, -1, -1),
    ):
        neighbour = end + inner
        other_height = (
            np.maximum(llr[bounds[end]], llr[np.maximum(bounds[end + 1] - 1, 0)])
            > HEIGHT_EVIDENCE.telling
        )
        pick = (
            (number[end] <= 2)
            & ((number[neighbour] > 2) | (other_height & (number[neighbour] == 2)))
            & ~candidate.smooth[end + joint]
        )
        end, neighbour = end[pick], neighbour[pick]
        index = ranges(bounds[end], number[end])
        owner = np.repeat(np.arange(len(end)), number[end])
        residual = candidate.primitives.signed_distance(x[index], y[index], neighbour[owner])
        off = np.abs(residual) > np.maximum(
            REJECTION.sigmas * evidence.sigma[index], REJECTION.min_distance
        )
        alone = (np.bincount(owner, off & (weight[index] > 0), len(end)) <= 1) | apart[end]
        alone |= np.bincount(owner, off * llr[index], len(end)) > HEIGHT_EVIDENCE.telling
        off_alone = off & alone[owner]
        off_alone[off_alone] = ~evidence.may_reject[index[off_alone]]
        alone &= np.bincount(owner, off_alone, len(end)) == 0
        empty[end[alone]] = True
        drop[index[off & alone[owner]]] = True
    return drop, empty


def outlying(residual, sigma, run, bounds):
    """Positions far off an element that fits its other positions, and much farther off than both
    neighbours.

    Parameters
    ----------
    residual : ndarray of float, shape (m,)
        Distance of each position from its element, in sigmas.
    sigma : ndarray of float, shape (m,)
        1-sigma across, metres.
    run : ndarray of int, shape (m,)
    bounds : ndarray of int, shape (elements + 1,)

    Returns
    -------
    ndarray of bool, shape (m,)
    """
    joined = np.diff(run) == 0
    neighbour = np.zeros(len(residual))
    neighbour[:-1] = np.where(joined, residual[1:], 0.0)
    neighbour[1:] = np.maximum(neighbour[1:], np.where(joined, residual[:-1], 0.0))
    far = (residual > np.maximum(REJECTION.sigmas, REJECTION.min_distance / sigma)) & (
        residual > REJECTION.neighbour_factor * neighbour
    )
    owner = group_index(bounds)
    others = np.maximum(np.diff(bounds) - np.bincount(owner, far, len(bounds) - 1), 1)
    explained = group_sum(np.where(far, 0.0, residual**2), bounds) / others < REJECTION.explained**2
    return far & explained[owner]
