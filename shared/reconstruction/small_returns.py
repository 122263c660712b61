"""Returns of small radius between two epochs, corners that were cut: only the times show them."""

from dataclasses import replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import cumulative, group_index
from ..tuning import SMALL_RETURNS


def with_small_returns(curves, runs, held=None):
    """Replace corners by arcs where the time was too short for the way round the corner.

    Parameters
    ----------
    curves : PlanCurves
    runs : Runs
        Whose curves these are.
    held : ndarray of bool, shape (m,), optional
        Positions next to which corners stay.

    Returns
    -------
    curves : PlanCurves
    beside : ndarray of bool, shape (m,)
        Positions on either side of such an arc, which only the times confirm.

    Notes
    -----
    No position shows what lies between the last one on one side and the first one on the next. A
    walker is not faster round the corner than on the steps before and after. If the way by the
    corner is too long for that pace, an arc tangential to both sides shortens it; the excess gives
    its radius, at most that of the arc that touches a side at its position.
    """
    beside = np.zeros(len(runs.positions), bool)
    node, place = _lone_corners(curves)
    if held is not None:
        free = ~(held[place] | held[place + 1])
        node, place = node[free], place[free]
    before, behind = curves.node[place], curves.node[place + 1]
    ax, ay = curves.x[node] - curves.x[before], curves.y[node] - curves.y[before]
    bx, by = curves.x[behind] - curves.x[node], curves.y[behind] - curves.y[node]
    one, other = distance(ax, ay), distance(bx, by)
    turn = np.arctan2(ax * by - ay * bx, ax * bx + ay * by)
    half = np.abs(turn) / 2
    known = (np.minimum(one, other) > 0) & (half > 0) & (half < np.radians(SMALL_RETURNS.most) / 2)
    expected = _expected_way(runs, place)
    known &= np.isfinite(expected)
    tangent = np.tan(np.where(known, half, 1.0))
    # per metre of leg: how much shorter the arc is, and how far inside the corner its middle lies
    shorter, inside = 2 * (1 - half / tangent), np.sqrt(1 + 1 / tangent**2) - 1 / tangent
    leg = np.where(known, (one + other - expected) / np.where(known, shorter, 1.0), 0.0)
    leg = np.minimum(leg, (1 - 1e-6) * np.minimum(one, other))  # between the feet
    cut = np.flatnonzero(leg * inside > SMALL_RETURNS.least_inside)
    if not cut.size:
        return curves, beside
    beside[place[cut]] = beside[place[cut] + 1] = True
    one, other, leg = one[cut], other[cut], leg[cut]
    arriving = np.column_stack([ax[cut] / one, ay[cut] / one])
    leaving = np.column_stack([bx[cut] / other, by[cut] / other])
    curvature = np.sign(turn[cut]) * tangent[cut] / leg
    return _rounded(curves, node[cut], leg, (arriving, leaving), curvature), beside


def _lone_corners(curves):
    """Nodes at corners between two straight pieces, and the position before each; there is no other
    node between that position's foot and the next one's."""
    foot = np.zeros(len(curves.x), bool)
    foot[curves.node] = True
    node = np.flatnonzero(curves.held & ~foot)
    node = node[(node > 0) & (node < len(foot) - 1)]
    straight = (curves.curvature[node - 1] == 0) & (curves.curvature[node] == 0)
    run = curves.run
    inside = (run[node - 1] == run[node]) & (run[node + 1] == run[node])
    node = node[foot[node - 1] & foot[node + 1] & straight & inside]
    return node, np.searchsorted(curves.node, node) - 1


def _expected_way(runs, place):
    """Metres walked from positions to the next ones at the pace of the steps before and after; NaN
    if neither pace is known."""
    positions, run = runs.positions, group_index(runs.offsets)
    time = positions.started[1:] - positions.ended[:-1]
    linked = (np.diff(run) == 0) & (time > 0)
    step = distance(np.diff(positions.x), np.diff(positions.y))
    pace = np.where(linked, step, np.nan) / np.where(linked, time, 1.0)
    near = np.column_stack([place - 1, place + 1])
    there = (near >= 0) & (near < len(pace))
    near = np.where(there, pace[np.where(there, near, 0)], np.nan)
    low, high = np.fmin(*near.T), np.fmax(*near.T)
    # if the paces differ much, the lesser one is that of a stop
    alike = low * SMALL_RETURNS.alike > high
    time = np.where(linked[place], time[place], np.nan)
    return np.where(alike, (low + high) / 2, high) * time


def _rounded(curves, node, leg, ways, curvature):
    """Curves with arcs instead of corners.

    `node`, (q,): the corners; `leg`, (q,): distance from there to both ends of the arc; `ways`, (q,
    2) each: unit directions before and after; `curvature`, (q,), 1/m.
    """
    count = np.ones(len(curves.x), np.int64)
    count[node] = 2
    source = np.repeat(np.arange(len(count)), count)
    first = np.cumsum(count) - count
    x, y, held, curved = (
        values[source] for values in (curves.x, curves.y, curves.held, curves.curvature)
    )
    begin, end = first[node], first[node] + 1
    for at, sign, way in ((begin, -1, ways[0]), (end, 1, ways[1])):
        x[at] += sign * leg * way[:, 0]
        y[at] += sign * leg * way[:, 1]
        held[at] = False
    curved[begin] = curvature
    bounds = np.append(first, len(source))[curves.offsets]
    arc = np.abs(2 * np.arctan(leg * curvature) / curvature)
    saved = np.zeros(len(source))
    saved[end] = 2 * leg - arc
    # runs without such an arc keep every digit
    along = curves.s[source] - cumulative(saved, bounds)
    along[begin] -= leg
    along[end] += arc - leg
    stay = ~np.isin(curves.corner_node, node)
    return replace(
        curves,
        x=x,
        y=y,
        s=along,
        curvature=curved,
        held=held,
        offsets=bounds,
        node=first[curves.node],
        corners=curves.corners[stay],
        corner_run=curves.corner_run[stay],
    )
