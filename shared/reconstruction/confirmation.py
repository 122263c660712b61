"""Which elements and ends of runs redundancy confirms, and which a gross error could imitate."""

from dataclasses import dataclass

import numpy as np

from ..alignment.chain import element_penalties
from ..alignment.moments import Moments, unconstrained_sums
from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_max, group_sum, stretch_starts
from ..epochs.height_evidence import extrapolated_height
from ..tuning import CHAIN, CONFIRMATION, HEIGHT_EVIDENCE, REJECTION

PAIR, THREE = 2, 3  # positions that define a line, and the fewest that check one


def unconfirmed(chains, runs, dropout, turning, stream):
    """Find positions that nothing confirms, and places where an edge should break.

    Parameters
    ----------
    chains : Chains
        Of the runs; no position is left out.
    runs : Runs
        A run continues over a place marked `bridged` only within one element.
    dropout : ndarray of bool, shape (m,)
        From `dropouts.find_dropouts`.
    turning : ndarray of bool, shape (m,)
        Last positions of runs after which the walk turned back; an aim that slipped ahead looks the
        same.
    stream : Stream

    Returns
    -------
    together : ndarray of int, shape (m,)
        0 for confirmed positions. For those of an unconfirmed element the number of its positions,
        for those that are unconfirmed by themselves 1.
    after : ndarray of bool, shape (m,)
        Positions after which the edge should break: without the unconfirmed positions its course is
        unknown, or a piece holds no position.

    Notes
    -----
    Two positions always lie on a line, three on a circle. An observation without redundancy is not
    controlled, and its gross error enters the result undetected (W. Baarda 1968, A testing
    procedure for use in geodetic networks). How curbs are built may replace redundancy: a side of
    two positions counts as confirmed if it is perpendicular to a tangent of three or more next to
    it, or a splay at 45 degrees between two such tangents (common practice, no source).
    """
    positions, offsets = runs.positions, runs.offsets
    if not len(chains):
        return np.zeros(len(positions), np.int64), np.zeros(len(positions), bool)
    links = _Neighbours.of(chains)
    moments = Moments.of(positions.x, positions.y, 1 / runs.variance, chains.bounds)
    number, owner = np.diff(chains.bounds), group_index(chains.bounds)
    far = _far_off(chains, positions)
    whole = _unconfirmed_elements(chains, runs, links, moments, dropout, stream)
    whole |= group_max(far, chains.bounds, False) & (number <= CONFIRMATION.few_at_end)
    whole |= _short_free(chains, number)

    together = np.where(whole, number, 0)[owner]
    each = far | _doubtful_ends(chains, offsets, positions, turning, stream)
    tangent = chains.turn == 0
    after = (whole & ~_of_one_kind(moments, tangent, links.before, links.behind))[owner]
    link = np.flatnonzero((number == 0) & (chains.length > CONFIRMATION.long_link) & links.inner)
    link = link[_leaves_the_way(chains, link, links)]
    overshot = _overshot(chains, positions, links.before[link], links.behind[link])
    each[overshot[overshot >= 0]] = True
    after[chains.bounds[link[overshot < 0]] - 1] = True
    after[chains.bounds[1:-1][_unmet(chains)] - 1] = True
    same_run = np.diff(group_index(offsets)) == 0
    after[:-1] |= runs.bridged[:-1] & (owner[1:] != owner[:-1]) & same_run
    return np.maximum(together, each), after


@dataclass(frozen=True)
class _Neighbours:
    """The elements before and behind each one in its run, cyclic in closed runs, -1 for none;
    arrays of shape (elements,). `inner` elements (mask) have both, `alone` ones none."""

    before: np.ndarray
    behind: np.ndarray

    @classmethod
    def of(cls, chains):
        """Neighbours in chains."""
        run, e = group_index(chains.offsets), np.arange(len(chains))
        first, last = chains.offsets[:-1][run], chains.offsets[1:][run] - 1
        closed = chains.closed[run] & (last > first)
        return cls(
            before=np.where(e > first, e - 1, np.where(closed, last, -1)),
            behind=np.where(e < last, e + 1, np.where(closed, first, -1)),
        )

    @property
    def inner(self):
        return (self.before >= 0) & (self.behind >= 0)

    @property
    def alone(self):
        return (self.before < 0) & (self.behind < 0)


def _unconfirmed_elements(chains, runs, links, moments, dropout, stream):
    """Tangents and arcs (mask of elements) that rest on too few positions."""
    positions, offsets = runs.positions, runs.offsets
    before, behind, inner, alone = links.before, links.behind, links.inner, links.alone
    has_before, has_behind = before >= 0, behind >= 0
    number, tangent = np.diff(chains.bounds), chains.turn == 0
    free = (has_before & ~chains.smooth[before]) | (has_behind & ~chains.smooth)
    fewest_next = np.minimum(
        np.where(has_before, number[before], number.max()),
        np.where(has_behind, number[behind], number.max()),
    )
    at_dropout = _at_dropouts(chains, offsets, positions, dropout, stream)
    chi = group_sum(chains.residual**2 / positions.variance, chains.bounds)
    few = (number <= np.where(at_dropout, THREE, PAIR)) | (
        (number == THREE) & (chi > CONFIRMATION.scatter)
    )
    # a position of several epochs is confirmed by these; gross errors sometimes last for two epochs
    single = np.diff(positions.offsets) < CONFIRMATION.epochs
    single = group_max(single, chains.bounds, False)

    weak_end = at_dropout | (fewest_next <= CONFIRMATION.few_at_end)
    side = few & (inner | (free & ~alone & weak_end))
    side &= tangent & single & (number > 0) & ~_regular(chains, moments, before, behind)
    arc = (number <= CONFIRMATION.few_for_arc) & (free | alone | (fewest_next <= PAIR))
    arc |= few & ~inner
    # an arc next to such a side may look different without it
    arc &= ~tangent & single & ~((has_before & side[before]) | (has_behind & side[behind]))
    return side | arc


def _far_off(chains, positions):
    """Positions (mask) too far off their own element, or too far beyond its ends, to be part of
    it."""
    limit = np.maximum(CONFIRMATION.far_off, REJECTION.sigmas * np.sqrt(positions.variance))
    return np.maximum(np.abs(chains.residual), _beyond(chains, positions)) > limit


def _regular(chains, moments, before, behind):
    """Elements (mask) that are perpendicular to a neighbouring tangent of three or more positions,
    or a splay between two such tangents."""
    number = np.diff(chains.bounds)
    # variance, rad2
    direction = 1 / np.maximum(moments.xx + moments.yy - moments.line_sum(), 1e-12)
    e = np.arange(len(chains))
    (_, start), (_, end) = chains.at(np.zeros(len(e)), e), chains.at(chains.length, e)

    def joint(a, b, other):
        """Deflection from `a` to `b`, and whether it is 90 and 45 degrees, next to a tangent."""
        turn = np.arctan2(
            end[a, 0] * start[b, 1] - end[a, 1] * start[b, 0], (end[a] * start[b]).sum(axis=1)
        )
        slack = CONFIRMATION.square_sigmas * np.sqrt(direction + direction[other])
        slack += np.radians(CONFIRMATION.square)
        firm = (other >= 0) & (chains.turn[other] == 0) & (number[other] > PAIR)
        return turn, *(
            firm & (np.abs(np.abs(turn) - angle) < slack) for angle in (np.pi / 2, np.pi / 4)
        )

    turn_before, square_before, splay_before = joint(before, e, before)
    turn_behind, square_behind, splay_behind = joint(e, behind, behind)
    return (
        square_before
        | square_behind
        | (splay_before & splay_behind & (turn_before * turn_behind > 0))
    )


def _short_free(chains, number):
    """Elements (mask) of free forms with few positions, which a spline fits wherever they lie."""
    free = chains.spline
    stretch = np.cumsum(stretch_starts(free, group_index(chains.offsets))) - 1
    return free & (np.bincount(stretch, number)[stretch] < CONFIRMATION.free_positions)


def _doubtful_ends(chains, offsets, positions, turning, stream):
    """First and last positions (mask) of open runs that are doubtful: the walk turned back there,
    they lie far off their element, or there is evidence of heights against them.

    Nothing beyond the end shows where they should lie. Heights are compared with those of the next
    three positions, extrapolated, so that slopes do not count.
    """
    out = np.zeros(len(positions), bool)
    long = ~chains.closed & (np.diff(offsets) > 3)
    for end, way in ((offsets[:-1][long], 1), (offsets[1:][long] - 1, -1)):
        height = positions.z[end]
        onward = extrapolated_height(positions.x, positions.y, positions.z, end, way)
        off = np.abs(height - onward) / stream.noise_up[positions.capture[end]]
        far = HEIGHT_EVIDENCE.in_line * HEIGHT_EVIDENCE.extrapolated
        # a height that was rejected is evidence already
        other_height = np.isnan(height) | (off > far)
        other_height &= positions.height_llr[end] > HEIGHT_EVIDENCE.telling
        limit = CONFIRMATION.end_sigmas * np.sqrt(positions.variance[end])
        out[end] = turning[end] | other_height | (np.abs(chains.residual[end]) > limit)
    return out & (np.diff(positions.offsets) < CONFIRMATION.epochs)


def _overshot(chains, positions, before, behind):
    """For each link, the position next to it that lies beyond the corner where the tangents before
    and behind would meet without the link, else -1."""
    out = np.full(len(before), -1)
    bx, by, cx, cy = chains.ux[before], chains.uy[before], chains.ux[behind], chains.uy[behind]
    sine = bx * cy - by * cx
    good = (
        (chains.turn[before] == 0)
        & (chains.turn[behind] == 0)
        & (np.abs(sine) > CONFIRMATION.min_sine)
        & (np.minimum(*(np.diff(chains.bounds)[e] for e in (before, behind))) > PAIR)
    )
    before, behind, bx, by, cx, cy, sine = (
        values[good] for values in (before, behind, bx, by, cx, cy, sine)
    )
    dx, dy = chains.x[behind] - chains.x[before], chains.y[behind] - chains.y[before]
    along = (dx * cy - dy * cx) / sine
    x, y = chains.x[before] + along * bx, chains.y[before] + along * by
    last, first = chains.bounds[before + 1] - 1, chains.bounds[behind]

    def past_corner(place, ux, uy):
        """Metres of positions past the corner in the direction of a tangent."""
        return (positions.x[place] - x) * ux + (positions.y[place] - y) * uy

    far = CONFIRMATION.far_off
    arriving, leaving = past_corner(last, bx, by), past_corner(first, cx, cy)
    late = (arriving > far) & (past_corner(last - 1, bx, by) < 0) & (leaving > 0)
    early = (leaving < -far) & (past_corner(first + 1, cx, cy) > 0) & (arriving < 0)
    out[np.flatnonzero(good)] = np.where(late, last, np.where(early, first, -1))
    return out


def _leaves_the_way(chains, link, links):
    """Links (mask) that turn off the elements before and behind. A link that goes straight on, as
    between two tangents that noise sets millimetres apart, stands for no side of the edge."""
    _, end = chains.at(chains.length[links.before[link]], links.before[link])
    _, start = chains.at(np.zeros(len(link)), links.behind[link])
    own = np.column_stack([chains.ux[link], chains.uy[link]])
    least = np.cos(np.radians(CONFIRMATION.straight_on))
    return ((end * own).sum(axis=1) < least) | ((start * own).sum(axis=1) < least)


def _unmet(chains):
    """Joints (mask) inside free forms at which one element with positions turns sharply into the
    next: two sides that do not meet."""
    number = np.diff(chains.bounds)
    out = (
        chains.spline[:-1]
        & chains.spline[1:]
        & (np.minimum(number[:-1], number[1:]) > 0)
        & (np.diff(group_index(chains.offsets)) == 0)
    )
    e = np.flatnonzero(out)
    (_, end), (_, start) = chains.at(chains.length[e], e), chains.at(np.zeros(len(e)), e + 1)
    out[e] = (start * end).sum(axis=1) < np.cos(np.radians(CONFIRMATION.sharp))
    return out


def _of_one_kind(moments, tangent, before, behind):
    """Elements (mask) whose neighbours cost less as one tangent or arc than as two."""
    inner = (before >= 0) & (behind >= 0)
    cost = unconstrained_sums(moments, ~tangent) + element_penalties(~tangent)
    joined = moments.take(before) + moments.take(behind)
    together = np.minimum(
        joined.line_sum() + 2 * CHAIN.parameter_penalty,
        np.nan_to_num(joined.circle()[-1], nan=np.inf) + 3 * CHAIN.parameter_penalty,
    )
    return inner & (together < cost[before] + cost[behind])


def _at_dropouts(chains, offsets, positions, dropout, stream):
    """Elements (mask) with a dropout, or a step as long as one, inside or before them."""
    lost = dropout.copy()
    step = distance(np.diff(positions.x), np.diff(positions.y))
    lost[:-1] |= (step > CONFIRMATION.long_step * stream.spacing[positions.capture[:-1]]) & (
        np.diff(group_index(offsets)) == 0
    )
    first = chains.bounds[:-1]
    return group_max(lost, chains.bounds, False) | (
        (np.diff(chains.bounds) > 0) & (first > 0) & lost[first - 1]
    )


def _beyond(chains, positions):
    """How far positions lie beyond the ends of their tangent, metres; 0 on arcs and in closed
    runs."""
    owner = group_index(chains.bounds)
    open_tangent = (chains.turn == 0) & ~chains.closed[group_index(chains.offsets)]
    along = (positions.x - chains.start[owner, 0]) * chains.ux[owner] + (
        positions.y - chains.start[owner, 1]
    ) * chains.uy[owner]
    return np.where(open_tangent[owner], np.maximum(-along, along - chains.length[owner]), 0.0)
