"""Short sides and bends that too few epochs tell, where a slip of the aim would look the same."""

import numpy as np

from ..alignment.chain import element_penalties
from ..alignment.moments import Moments, unconstrained_sums
from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_max, group_sum
from ..epochs.height_evidence import extrapolated_height
from ..tuning import CHAIN, HEIGHT_EVIDENCE, REJECTION

PAIR, THREE = 2, 3  # positions that tell a side by themselves, and that tell one where none is lost
# squared sigmas about the line of three that noise leaves in one case of a hundred (chi-square of
# one degree of freedom)
SCATTER = 6.6
FEW_FOR_END = 5  # positions of the side beside it that leave a pair at the end of a run unconfirmed
FEW_FOR_ARC = 4  # positions of an arc that must go over smoothly into what lies beside it
CONFIRMED = 3  # epochs of a position that confirm each other
LONG_FREE = 10  # positions of a free form that confirm each other
LONG_LINK = 0.1  # m
FAR_OFF = 0.25  # m
FAR_ON = 2.0  # usual steps; after a longer one it is as if epochs had been lost
SHARP = np.cos(np.radians(30.0))
LEAST_SINE = 0.3  # of the deflection of tangents that meet in a corner
END_SIGMAS = 4.0
SIGMAS = 3.0
SQUARE = np.radians(1.0)  # within which sides are built square, besides what the noise makes of it


def unconfirmed(chains, offsets, positions, variance, hole, bridged, turning, stream):
    """Find what no edge should be drawn from, since nothing confirms it.

    Parameters
    ----------
    chains : Chains
        Of the positions, none of which is left out.
    offsets, positions, stream
        As for `holes.holes_between`.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    hole : ndarray of bool, shape (m,)
        From `holes.holes_between`.
    bridged : ndarray of bool, shape (m,)
        Positions between which and the next one lay what was not confirmed. An element that holds
        both goes on over it; two do not.
    turning : ndarray of bool, shape (m,)
        Last positions of runs after which the walk turned back: an aim that slipped ahead looks
        like that.

    Returns
    -------
    together : ndarray of int, shape (m,)
        For the positions that should go, how many of them are all that tells a side or bend, or 1
        for those that each for itself are in doubt; 0 for those that stay.
    after : ndarray of bool, shape (m,)
        Positions after which the edge should break: what is left does not go on over them, or there
        is a piece that no position lies on.

    Notes
    -----
    Two positions always lie on a line, three on a circle: an observation without redundancy is not
    controlled, and a gross error of it goes into the result unseen (W. Baarda 1968, A testing
    procedure for use in geodetic networks). What may stand in for it is how curbs are built: a side
    of two positions counts as confirmed where it is square to a tangent of three and more beside
    it, or a splay, at 45 degrees between two of these (common practice, no source).
    """
    count = len(chains)
    if not count:
        return np.zeros(len(positions), np.int64), np.zeros(len(positions), bool)
    before, behind = _neighbours(chains)
    has_before, has_behind = before >= 0, behind >= 0
    inner, alone = has_before & has_behind, ~has_before & ~has_behind
    number, tangent, owner = np.diff(chains.bounds), chains.turn == 0, group_index(chains.bounds)
    free = (has_before & ~chains.smooth[before]) | (has_behind & ~chains.smooth)
    least_beside = np.minimum(
        np.where(has_before, number[before], number.max()),
        np.where(has_behind, number[behind], number.max()),
    )
    beside_hole = _beside_holes(chains, offsets, positions, hole, stream)
    chi = group_sum(chains.residual**2 / positions.variance, chains.bounds)
    few = (number <= np.where(beside_hole, THREE, PAIR)) | ((number == THREE) & (chi > SCATTER))
    moments = Moments.of(positions.x, positions.y, 1 / variance, chains.bounds)
    # a position of several epochs is confirmed by itself; a slip lasts for two at times
    single = group_max(np.diff(positions.offsets) < CONFIRMED, chains.bounds, False)

    side = few & (inner | (free & ~alone & (beside_hole | (least_beside <= FEW_FOR_END))))
    side &= tangent & single & (number > 0) & ~_regular(chains, moments, before, behind)
    bend = (number <= FEW_FOR_ARC) & (free | alone | (least_beside <= PAIR)) | (few & ~inner)
    # what lies beside such a side may look otherwise without it
    bend &= ~tangent & single & ~((has_before & side[before]) | (has_behind & side[behind]))
    # what lies so far off its own element is no part of it, and where they are few, the others may
    # not be either
    far = np.maximum(np.abs(chains.residual), _beyond(chains, positions)) > np.maximum(
        FAR_OFF, REJECTION.sigmas * np.sqrt(positions.variance)
    )
    wrong = group_max(far, chains.bounds, False) & (number <= FEW_FOR_END) | _short_free(
        chains, number
    )

    whole = side | bend | wrong
    together = np.where(whole, number, 0)[owner]
    each = far | _doubtful_ends(chains, offsets, positions, turning, stream)
    after = (whole & ~_of_one_kind(moments, tangent, before, behind))[owner]
    link = np.flatnonzero((number == 0) & (chains.length > LONG_LINK) & inner)
    overshot = _overshot(chains, positions, before[link], behind[link])
    each[overshot[overshot >= 0]] = True
    after[chains.bounds[link[overshot < 0]] - 1] = True
    after[chains.bounds[1:-1][_unmet(chains)] - 1] = True
    after[:-1] |= bridged[:-1] & (owner[1:] != owner[:-1]) & (np.diff(group_index(offsets)) == 0)
    return np.maximum(together, each), after


def _neighbours(chains):
    """The elements before and behind each one in its run, -1 where there is none; those of a closed
    run go round."""
    run, e = group_index(chains.offsets), np.arange(len(chains))
    first, last = chains.offsets[:-1][run], chains.offsets[1:][run] - 1
    closed = chains.closed[run] & (last > first)
    return np.where(e > first, e - 1, np.where(closed, last, -1)), np.where(
        e < last, e + 1, np.where(closed, first, -1)
    )


def _regular(chains, moments, before, behind):
    """Elements (mask) that stand square to a tangent of three positions and more beside them, or
    are a splay between two."""
    number = np.diff(chains.bounds)
    # variance, rad2
    direction = 1 / np.maximum(moments.xx + moments.yy - moments.line_sum(), 1e-12)
    e = np.arange(len(chains))
    (_, start), (_, end) = chains.at(np.zeros(len(e)), e), chains.at(chains.length, e)

    def joint(a, b, other):
        """Deflection from `a` to `b`, and whether it is one of the angles, beside a tangent."""
        turn = np.arctan2(
            end[a, 0] * start[b, 1] - end[a, 1] * start[b, 0], (end[a] * start[b]).sum(axis=1)
        )
        slack = SIGMAS * np.sqrt(direction + direction[other]) + SQUARE
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
    """Elements (mask) of free forms of a few positions: a curve may go through any of them."""
    free, run = chains.spline, group_index(chains.offsets)
    stretch = np.cumsum(np.append(True, (free[1:] != free[:-1]) | (run[1:] != run[:-1]))) - 1
    return free & (np.bincount(stretch, number)[stretch] < LONG_FREE)


def _doubtful_ends(chains, offsets, positions, turning, stream):
    """First and last positions (mask) of open runs where the walk turned back, far off their own
    element, or that heights speak against.

    Nothing beyond them tells where they ought to lie. On a slope the height goes on as it does over
    the next three positions.
    """
    out = np.zeros(len(positions), bool)
    long = ~chains.closed & (np.diff(offsets) > 3)
    for end, way in ((offsets[:-1][long], 1), (offsets[1:][long] - 1, -1)):
        height = positions.z[end]
        off = (
            np.abs(height - extrapolated_height(positions.x, positions.y, positions.z, end, way))
            / stream.noise_up[positions.capture[end]]
        )
        # a height that was left out says so already
        told = (
            np.isnan(height) | (off > HEIGHT_EVIDENCE.in_line * HEIGHT_EVIDENCE.extrapolated)
        ) & (positions.height_llr[end] > HEIGHT_EVIDENCE.telling)
        out[end] = (
            turning[end]
            | told
            | (np.abs(chains.residual[end]) > END_SIGMAS * np.sqrt(positions.variance[end]))
        )
    return out & (np.diff(positions.offsets) < CONFIRMED)


def _overshot(chains, positions, before, behind):
    """For each link the position beside it that lies beyond the corner at which the tangents
    `before` and `behind` would meet without it, else -1."""
    out = np.full(len(before), -1)
    bx, by, cx, cy = chains.ux[before], chains.uy[before], chains.ux[behind], chains.uy[behind]
    sine = bx * cy - by * cx
    good = (
        (chains.turn[before] == 0)
        & (chains.turn[behind] == 0)
        & (np.abs(sine) > LEAST_SINE)
        & (np.minimum(*(np.diff(chains.bounds)[e] for e in (before, behind))) > PAIR)
    )
    before, behind, bx, by, cx, cy, sine = (
        values[good] for values in (before, behind, bx, by, cx, cy, sine)
    )
    dx, dy = chains.x[behind] - chains.x[before], chains.y[behind] - chains.y[before]
    along = (dx * cy - dy * cx) / sine
    x, y = chains.x[before] + along * bx, chains.y[before] + along * by
    last, first = chains.bounds[before + 1] - 1, chains.bounds[behind]
    beyond = lambda place: (positions.x[place] - x) * bx + (positions.y[place] - y) * by  # noqa: E731
    ahead = lambda place: (positions.x[place] - x) * cx + (positions.y[place] - y) * cy  # noqa: E731
    late = (beyond(last) > FAR_OFF) & (beyond(last - 1) < 0) & (ahead(first) > 0)
    early = (ahead(first) < -FAR_OFF) & (ahead(first + 1) > 0) & (beyond(last) < 0)
    out[np.flatnonzero(good)] = np.where(late, last, np.where(early, first, -1))
    return out


def _unmet(chains):
    """Joints (mask) of a free form where it is two sides that do not meet: an element that turns
    sharply into the next one, both with positions."""
    number = np.diff(chains.bounds)
    out = (
        chains.spline[:-1]
        & chains.spline[1:]
        & (np.minimum(number[:-1], number[1:]) > 0)
        & (np.diff(group_index(chains.offsets)) == 0)
    )
    e = np.flatnonzero(out)
    (_, end), (_, start) = chains.at(chains.length[e], e), chains.at(np.zeros(len(e)), e + 1)
    out[e] = (start * end).sum(axis=1) < SHARP
    return out


def _of_one_kind(moments, tangent, before, behind):
    """Elements (mask) beside which one tangent or arc explains what lies before and behind at less
    cost than two."""
    inner = (before >= 0) & (behind >= 0)
    price = unconstrained_sums(moments, ~tangent) + element_penalties(~tangent)
    joined = moments.take(before) + moments.take(behind)
    together = np.minimum(
        joined.line_sum() + 2 * CHAIN.parameter_penalty,
        np.nan_to_num(joined.circle()[-1], nan=np.inf) + 3 * CHAIN.parameter_penalty,
    )
    return inner & (together < price[before] + price[behind])


def _beside_holes(chains, offsets, positions, hole, stream):
    """Elements (mask) in or beside which epochs were lost, or a step is as long as if they had
    been."""
    lost = hole.copy()
    step = distance(np.diff(positions.x), np.diff(positions.y))
    lost[:-1] |= (step > FAR_ON * stream.spacing[positions.capture[:-1]]) & (
        np.diff(group_index(offsets)) == 0
    )
    first = chains.bounds[:-1]
    return group_max(lost, chains.bounds, False) | (
        (np.diff(chains.bounds) > 0) & (first > 0) & lost[first - 1]
    )


def _beyond(chains, positions):
    """How far positions lie behind the start or the end of their tangent, metres; 0 for those of
    arcs and of closed runs."""
    owner = group_index(chains.bounds)
    open_tangent = (chains.turn == 0) & ~chains.closed[group_index(chains.offsets)]
    along = (positions.x - chains.start[owner, 0]) * chains.ux[owner] + (
        positions.y - chains.start[owner, 1]
    ) * chains.uy[owner]
    return np.where(open_tangent[owner], np.maximum(-along, along - chains.length[owner]), 0.0)
