"""Corners that the times say were cut: returns of small radius between two epochs."""

from dataclasses import replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import cumulative, group_index
from ..tuning import SMALL_RETURNS


def with_small_returns(curves, runs, held=None):
    """Draw an arc in place of a corner where the way round that takes longer than there was time.

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
        Positions on either side of such an arc: nothing but the time tells it.

    Notes
    -----
    Between the last position on one side and the first one on the next nobody saw the corner. Who
    walks round it is no faster there than on the steps before and after, rather slower; an arc
    that touches both sides shortens the way. By how much the way is too long gives its radius, up
    to the arc that touches a side where its position lies.
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
    # over a leg of one metre the arc is so much shorter, and so far inside the corner
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
    """Nodes at corners between straight ways, and the position before each: between its foot and
    that of the next one there is no other node."""
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
    """Metres that were walked between positions and the next ones at the pace of the steps before
    and after; NaN where neither is known."""
    positions, run = runs.positions, group_index(runs.offsets)
    time = positions.started[1:] - positions.ended[:-1]
    linked = (np.diff(run) == 0) & (time > 0)
    step = distance(np.diff(positions.x), np.diff(positions.y))
    pace = np.where(linked, step, np.nan) / np.where(linked, time, 1.0)
    near = np.column_stack([place - 1, place + 1])
    there = (near >= 0) & (near < len(pace))
    near = np.where(there, pace[np.where(there, near, 0)], np.nan)
    low, high = np.fmin(*near.T), np.fmax(*near.T)
    # a stop is no pace
    alike = low * SMALL_RETURNS.alike > high
    time = np.where(linked[place], time[place], np.nan)
    return np.where(alike, (low + high) / 2, high) * time


def _rounded(curves, node, leg, ways, curvature):
    """Curves with arcs in place of corners.

    `node` and `leg`, (q,): the corners, and the distances from there at which the arcs begin and
    end; `ways`, (q, 2) each: the unit directions before and after; `curvature`, (q,), 1/m.
    """
    count = np.ones(len(curves.x), np.int64)
    count[node] = 2
    source = np.repeat(np.arange(len(count)), count)
    first = np.cumsum(count) - count
    x, y, held, bend = (
        values[source] for values in (curves.x, curves.y, curves.held, curves.curvature)
    )
    begin, end = first[node], first[node] + 1
    gone = curves.x[node] + 1j * curves.y[node]
    for at, sign, way in ((begin, -1, ways[0]), (end, 1, ways[1])):
        x[at] += sign * leg * way[:, 0]
        y[at] += sign * leg * way[:, 1]
        held[at] = False
    bend[begin] = curvature
    bounds = np.append(first, len(source))[curves.offsets]
    arc = np.abs(2 * np.arctan(leg * curvature) / curvature)
    saved = np.zeros(len(source))
    saved[end] = 2 * leg - arc
    # runs without such an arc keep every digit
    along = curves.s[source] - cumulative(saved, bounds)
    along[begin] -= leg
    along[end] += arc - leg
    corners = curves.corners[:, 0] + 1j * curves.corners[:, 1]
    stay = ~np.isin(corners, gone)
    return replace(
        curves,
        x=x,
        y=y,
        s=along,
        curvature=bend,
        held=held,
        offsets=bounds,
        node=first[curves.node],
        corners=curves.corners[stay],
        corner_run=curves.corner_run[stay],
    )
