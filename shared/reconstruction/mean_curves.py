"""Curves of tangents and arcs, moved towards the means of all chains that may explain positions."""

from dataclasses import replace

import numpy as np

from ..alignment.mean_feet import with_mean_feet
from ..arrays.plane import distance
from ..arrays.ragged import cumulative, group_index, group_max, places_around
from ..tuning import MEAN_CURVES, MEAN_FEET, ROBUST, SEARCH


def towards_means(curves, chains, runs, stream, fixed):
    """Move curves across, towards the mean feet of their positions.

    Parameters
    ----------
    curves : PlanCurves
    chains : Chains
    runs : Runs
        Whose curves and chains these are.
    stream : Stream
    fixed : ndarray of bool, shape (m,)
        Positions whose feet stay.

    Returns
    -------
    PlanCurves
        Curves of layers that show few corners and bends keep every digit.

    Notes
    -----
    The chain that costs least is one of many. Where a layer shows many bends, the mean over all of
    them is nearer to the truth, and a place between that mean and the chain, whose elements join,
    is nearer than either. Long tangents stay as they are. Nodes between two feet move by what lies
    between the moves of these; corners go to where both sides meet after their moves.
    """
    across = _moves(curves, runs, stream, fixed | _on_long_tangents(chains))
    changed = group_max(across != 0, runs.offsets, False)[curves.run]
    if not changed.any():
        return curves
    x, y = _moved(curves, across)
    longer = distance(np.diff(x), np.diff(y)) - distance(np.diff(curves.x), np.diff(curves.y))
    longer = np.where(changed, np.append(longer, 0.0), 0.0)
    longer[curves.offsets[1:] - 1] = 0.0
    node = curves.corner_node
    return replace(
        curves,
        x=x,
        y=y,
        s=curves.s + cumulative(longer, curves.offsets),
        corners=np.column_stack([x[node], y[node]]),
    )


def _on_long_tangents(chains):
    """Positions (mask) on tangents that are straight for certain."""
    long = (chains.turn == 0) & (np.diff(chains.bounds) >= MEAN_CURVES.straight)
    return long[group_index(chains.bounds)]


def _moves(curves, runs, stream, fixed):
    """By how much the feet of positions move across, + to the right, metres, shape (m,)."""
    positions, detail = runs.positions, stream.detail[runs.positions.capture]
    share = MEAN_CURVES.share * (1 - detail)
    wanted = ~(fixed | _at_one_place(curves)) & (share > 0)
    if not wanted.any():
        return np.zeros(len(share))
    sigma = np.sqrt(runs.variance) * SEARCH.element_noise * detail**MEAN_FEET.detail_power
    feet, x, y = curves.feet, positions.x, positions.y
    wanted &= _off_together(curves.across(x, y) / sigma, runs.offsets)
    mean = with_mean_feet(feet, x, y, sigma**2, runs.offsets, wanted)
    off = curves.across(*mean.T)
    return share * np.sign(off) * np.maximum(np.abs(off) - MEAN_CURVES.least * sigma, 0.0)


def _off_together(residual, offsets):
    """Positions (mask) near those that lie off to one side together with their neighbours, from
    residuals in sigmas; means elsewhere would be next to the feet."""
    residual = np.clip(residual, -ROBUST.huber_sigmas, ROBUST.huber_sigmas)
    run = group_index(offsets)
    same = np.diff(run) == 0
    before, behind = residual.copy(), residual.copy()
    before[1:] = np.where(same, residual[:-1], residual[1:])
    behind[:-1] = np.where(same, residual[1:], residual[:-1])
    off = np.abs(before + 2 * residual + behind) > 4 * MEAN_CURVES.together
    return places_around(np.flatnonzero(off), len(off), MEAN_CURVES.reach, run)


def _at_one_place(curves):
    """Positions (mask) whose feet lie where that of a neighbour does: they lie beyond the end of
    their element, and nothing is known of its distance from them."""
    same = (np.diff(curves.chainage) == 0) & (np.diff(curves.run[curves.node]) == 0)
    out = np.zeros(len(curves.node), bool)
    out[1:] |= same
    out[:-1] |= same
    return out


def _moved(curves, across):
    """Places of all nodes after the feet have moved across."""
    before, after, share = _feet_around(curves)
    move = across[:, None] * curves.normal
    move = move[before] + share[:, None] * (move[after] - move[before])
    corner, meeting = _meetings(curves, across, before, after)
    move[corner] = meeting
    x, y = curves.x + move[:, 0], curves.y + move[:, 1]
    first, last = curves.offsets[:-1][curves.closed], curves.offsets[1:][curves.closed] - 1
    x[last], y[last] = x[first], y[first]
    return x, y


def _meetings(curves, across, before, after):
    """Nodes at corners, and by how much both sides' meeting place moves, shape (c, 2); without
    those where it would move past a foot."""
    corner = np.flatnonzero(curves.held & (before != after))
    before, after = before[corner], after[corner]
    one, other = curves.normal[before], curves.normal[after]
    sine = one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0]
    by = np.column_stack([across[before], across[after]]) / np.where(sine == 0, 1.0, sine)[:, None]
    move = by[:, :1] * other[:, ::-1] - by[:, 1:] * one[:, ::-1]
    move[:, 1] *= -1
    feet, place = curves.feet, np.column_stack([curves.x, curves.y])[corner] + move
    arriving = place - feet[before] - across[before, None] * one
    leaving = feet[after] + across[after, None] * other - place
    # along the curve, a quarter turn to the left of its normal
    good = (arriving[:, 1] * one[:, 0] - arriving[:, 0] * one[:, 1] > 0) & (
        leaving[:, 1] * other[:, 0] - leaving[:, 0] * other[:, 1] > 0
    )
    good &= np.abs(sine) > MEAN_CURVES.min_sine
    return corner[good], move[good]


def _feet_around(curves):
    """Positions before and after each node, and the share of the way between them; both are the
    position itself at its foot, and at the ends of open runs. Rings go on over their seam."""
    run, count = curves.run, len(curves.node)
    first = np.searchsorted(curves.node, curves.offsets[:-1])
    first, last = first[run], np.append(first[1:], count)[run] - 1
    foot = np.zeros(len(run), bool)
    foot[curves.node] = True
    before = np.cumsum(foot) - 1
    after = np.where(foot, before, before + 1)
    ahead, behind = before < first, after > last
    ring, lap = curves.closed[run], curves.length[run]
    before = np.where(ahead, np.where(ring, last, first), before)
    after = np.where(behind, np.where(ring, first, last), after)
    low = curves.chainage[before] - np.where(ahead & ring, lap, 0.0)
    way = curves.chainage[after] + np.where(behind & ring, lap, 0.0) - low
    share = np.where(way > 0, (curves.s - low) / np.where(way > 0, way, 1.0), 0.0)
    return before, after, np.clip(share, 0.0, 1.0)
