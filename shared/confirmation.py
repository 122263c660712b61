"""Short sides and bends that too few epochs tell, where a slip of the aim would look the same."""

import numpy as np

from .holes import holes_between
from .moments import Moments
from .ragged import group_index, group_max

PAIR, THREE = 2, 3  # positions that tell a side by themselves, and that tell one where none is lost
FEW_FOR_END = 5  # positions of the side beside it that leave a pair at the end of a run unconfirmed
FEW_FOR_ARC = 4  # positions of an arc that must go over smoothly into what lies beside it
CONFIRMED = 3  # epochs of a position that confirm each other
LONG_LINK = 0.1  # m
SIGMAS = 3.0
SQUARE = np.radians(1.0)  # within which sides are built square, besides what the noise makes of it


def unconfirmed(chains, offsets, positions, variance, stream):
    """Find what no edge should be drawn from, since nothing confirms it.

    Parameters
    ----------
    chains : Chains
        Of the positions, none of which is left out.
    offsets : ndarray of int, shape (runs + 1,)
    positions : Positions
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    stream : Stream

    Returns
    -------
    drop : ndarray of bool, shape (m,)
        Positions of such sides and bends.
    after : ndarray of bool, shape (m,)
        Positions after which the edge has a piece that no position lies on.

    Notes
    -----
    Two positions always lie on a line, three on a circle: an observation without redundancy is not controlled, and a gross error of it
    goes into the result unseen (W. Baarda 1968, A testing procedure for use in geodetic networks). What may stand in for it is how
    curbs are built: a side of two positions counts as confirmed where it is square to a tangent of three and more beside it, or a splay, at 45
    degrees between two of these (common practice, no source).
    """
    m, count = len(positions), len(chains)
    drop, after = np.zeros(m, bool), np.zeros(m, bool)
    if not count:
        return drop, after
    number, run = np.diff(chains.bounds), group_index(chains.offsets)
    first, last = chains.offsets[:-1][run], chains.offsets[1:][run] - 1
    e = np.arange(count)
    closed = chains.closed[run] & (last > first)
    before, behind = np.where(e > first, e - 1, np.where(closed, last, -1)), np.where(e < last, e + 1, np.where(closed, first, -1))
    has_before, has_behind = before >= 0, behind >= 0
    tangent = chains.turn == 0
    smooth_before, smooth_behind = has_before & chains.smooth[before], has_behind & chains.smooth

    moments = Moments.of(positions.x, positions.y, 1 / variance, chains.bounds)
    spread = moments.xx + moments.yy - moments.line_sum()
    direction = 1 / np.maximum(spread, 1e-12)  # variance of a tangent's direction, rad2
    (_, start), (_, end) = chains.at(np.zeros(count), e), chains.at(chains.length, e)

    def deflection(a, b):
        return np.arctan2(end[a, 0] * start[b, 1] - end[a, 1] * start[b, 0], (end[a] * start[b]).sum(axis=1))

    def is_angle(turn, other, wanted):
        return np.abs(np.abs(turn) - wanted) < SIGMAS * np.sqrt(direction + direction[other]) + SQUARE

    turn_before, turn_behind = deflection(before, e), deflection(e, behind)
    firm_before, firm_behind = (has & tangent[other] & (number[other] > PAIR) for has, other in ((has_before, before), (has_behind, behind)))
    square = firm_before & is_angle(turn_before, before, np.pi / 2) | firm_behind & is_angle(turn_behind, behind, np.pi / 2)
    splay = firm_before & firm_behind & (turn_before * turn_behind > 0)
    splay &= is_angle(turn_before, before, np.pi / 4) & is_angle(turn_behind, behind, np.pi / 4)

    lost = holes_between(chains, offsets, positions, stream)
    beside_hole = group_max(lost, chains.bounds, False)
    rim = chains.bounds[:-1] > 0
    beside_hole[rim] |= lost[chains.bounds[:-1][rim] - 1] & (number[rim] > 0)

    inner = has_before & has_behind
    alone = ~has_before & ~has_behind
    least_beside = np.minimum(np.where(has_before, number[before], m), np.where(has_behind, number[behind], m))
    free = (has_before & ~smooth_before) | (has_behind & ~smooth_behind)
    few = number <= np.where(beside_hole, THREE, PAIR)
    side = few & (inner | (free & (beside_hole | (least_beside <= FEW_FOR_END)))) & ~square & ~splay
    bend = (number <= FEW_FOR_ARC) & (free | (least_beside <= PAIR)) | few & ~inner
    # a position of several epochs is confirmed by itself; a slip lasts for two at times
    several = group_max(np.diff(positions.offsets) < CONFIRMED, chains.bounds, False)
    unsure = np.where(tangent, side, bend) & (number > 0) & ~alone & several & ~chains.spline
    drop[:] = unsure[group_index(chains.bounds)]
    link = np.flatnonzero((number == 0) & (chains.length > LONG_LINK) & inner)
    after[chains.bounds[link] - 1] = True
    return drop, after
