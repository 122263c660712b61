"""Corners between short sides: the likeliest chain of sides and arcs through a free form."""

from dataclasses import dataclass

import numpy as np

from ..alignment.moments import circle_of, line_sum_of
from ..alignment.search import add_position
from ..arrays.plane import distance
from ..arrays.ragged import group_index, places_around
from ..tuning import CHAIN, CORNERS, SEARCH, SIDES
from .corners import CHI_SQUARE_999, Corners


def with_side_corners(corners, positions, variance, offsets, free, corner_angle):
    """Add corners between sides of few positions.

    Parameters
    ----------
    corners : Corners
        That longer sides show; these stay.
    positions : Positions
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    free : ndarray of bool, shape (m,)
        Positions of free forms, where corners are sought.
    corner_angle : float
        Minimum deflection, degrees.

    Returns
    -------
    Corners
        In order of `before`.

    Notes
    -----
    A side of two positions turns a corner at either end, and to which side each position belongs is
    told by all sides together. So the chain of spans is sought that costs least (a dynamic
    programme, Bellman 1961): sides, arcs and single positions, and what the joints of two sides
    add. A corner costs less where it is square, as most of them are.
    """
    place, bounds = _windows(free, group_index(offsets))
    if not place.size:
        return corners
    firm = np.isin(place, corners.before)
    origin = place[bounds[:-1]][group_index(bounds)]  # far coordinates would cost digits
    from_x, from_y = positions.x[origin], positions.y[origin]
    x, y, variance = positions.x[place] - from_x, positions.y[place] - from_y, variance[place]
    spans = _Spans.of(x, y, variance, np.union1d(bounds, np.flatnonzero(firm) + 1))
    joints = _Joints.of(spans, x, y, variance, np.radians(corner_angle))
    left, right = _cheapest(spans, joints, bounds, firm)
    gap = np.flatnonzero((left >= 0) & (right >= 0) & ~firm)
    met = left[gap], right[gap], gap
    few = np.minimum(spans.sides[met[0]], spans.sides[met[1]]) == min(SIDES.side_lengths)
    angle = joints.angle[met]
    good = joints.sharp[met] & (~few | (np.abs(angle) >= np.radians(SIDES.short_angle)))
    gap, left, along = gap[good], left[gap][good], joints.along[met][good]
    side = left, gap + 1 - spans.sides[left]
    return _together(
        corners,
        Corners(
            before=place[gap],
            x=from_x[gap] + spans.x[side] + along * spans.ux[side],
            y=from_y[gap] + spans.y[side] + along * spans.uy[side],
            angle=angle[good],
        ),
    )


def _windows(free, run):
    """Positions of free forms and those next to them, shape (n,), and the bounds of stretches."""
    near = places_around(np.flatnonzero(free), len(free), SIDES.context, run)
    place = np.flatnonzero(near)
    new = (np.diff(place) > 1) | (np.diff(run[place]) != 0)
    return place, np.concatenate([[0], np.flatnonzero(new) + 1, [len(place)]])


def _together(*several):
    """All corners in order of `before`."""
    before = np.concatenate([one.before for one in several])
    order = np.argsort(before, kind="stable")
    x, y, angle = (
        np.concatenate([getattr(one, name) for one in several])[order]
        for name in ("x", "y", "angle")
    )
    return Corners(before[order], x, y, angle)


@dataclass(frozen=True)
class _Spans:
    """Spans of positions, each as one side, one arc or a lone position.

    `cost`, (kinds, n), by kind and first position, squared sigmas, infinite where there is none;
    `size`, (kinds,), in positions. The first kinds are sides of so many positions as `sides` says;
    of these `x`, `y` is the middle, `ux`, `uy` the direction of travel, `turn_variance` its
    variance in rad2 and `weight` the sum of weights, shape (sides, n) each.
    """

    cost: np.ndarray
    size: np.ndarray
    sides: np.ndarray
    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    turn_variance: np.ndarray
    weight: np.ndarray

    @classmethod
    def of(cls, x, y, variance, pieces):
        """All spans, none over a bound of `pieces`."""
        n, weight = len(x), 1 / variance
        left = np.repeat(pieces[1:], np.diff(pieces)) - np.arange(n)
        sums, room = np.zeros((9, n)), np.empty((5, n))
        sides, arcs, lines = [], [], []
        for length in range(1, max(SIDES.side_lengths + SIDES.arc_lengths) + 1):
            live, ahead = max(n - length + 1, 0), min(length - 1, n)
            own = sums[:, :live]
            add_position(
                own, room[:, :live], x[ahead:], x[:live], y[ahead:], y[:live], weight[ahead:]
            )
            there = np.where(left[:live] >= length, 0.0, np.inf)
            if length in SIDES.side_lengths:
                line, chi = _lines(own, x, y, ahead)
                lines.append([np.append(values, np.ones(n - live)) for values in line])
                chi = np.where(chi <= CHI_SQUARE_999[max(length - 2, 1)], chi, np.inf)
                sides.append(np.append(chi + there, np.full(n - live, np.inf)))
            if length in SIDES.arc_lengths:
                chi = circle_of(own, SEARCH.radii) + there
                arcs.append(np.append(chi, np.full(n - live, np.inf)))
        return cls(
            np.concatenate(
                [
                    np.array(sides) + 2 * CHAIN.parameter_penalty,
                    np.array(arcs) + SIDES.arc_penalty,
                    np.full((1, n), SEARCH.tangent_penalty),
                ]
            ),
            np.array([*SIDES.side_lengths, *SIDES.arc_lengths, 1]),
            np.array(SIDES.side_lengths),
            *(np.array(values) for values in zip(*lines)),
        )


def _lines(sums, x, y, ahead):
    """Middle, direction of travel, its variance and sum of weights of lines through spans, by their
    raw sums; and the sums of squares."""
    w, sx, sy, xx, xy, yy = sums[:6]
    live, mx, my = len(w), sx / w, sy / w
    a, b, c = xx - sx * mx, xy - sx * my, yy - sy * my
    angle = 0.5 * np.arctan2(2 * b, a - c)
    ux, uy = np.cos(angle), np.sin(angle)
    back = ux * (x[ahead:] - x[:live]) + uy * (y[ahead:] - y[:live]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    spread = np.maximum((a + c) / 2 + distance((a - c) / 2, b), 1e-9)
    chi = line_sum_of(sums) if ahead > 1 else np.zeros(live)  # two positions lie on a line
    return (x[:live] + mx, y[:live] + my, ux, uy, 1 / spread, w), chi


@dataclass(frozen=True)
class _Joints:
    """Joints of two sides, by the kinds of the one before and of the one behind and by the last
    position of the former; arrays of shape (sides, sides, n).

    `cost`, squared sigmas; `sharp` where there is a corner, `along` metres from the middle of the
    side before to it, `angle` by which it turns, radians.
    """

    cost: np.ndarray
    sharp: np.ndarray
    along: np.ndarray
    angle: np.ndarray

    @classmethod
    def of(cls, spans, x, y, variance, corner_angle):
        """Joints of all sides that end where another one begins."""
        n, sides = len(x), len(spans.sides)
        following = np.minimum(np.arange(n) + 1, n - 1)
        begin = np.maximum(np.arange(n) + 1 - spans.sides[:, None], 0)
        row = np.arange(sides)[:, None]
        fields = spans.x, spans.y, spans.ux, spans.uy, spans.turn_variance, spans.weight
        one = tuple(values[row, begin][:, None] for values in fields)
        other = tuple(values[:, following][None] for values in fields)
        (ax, ay, au, av, *_), (bx, by, bu, bv, *_) = one, other
        sine = au * bv - av * bu
        angle = np.arctan2(sine, au * bu + av * bv)
        along = ((bx - ax) * bv - (by - ay) * bu) / np.where(np.abs(sine) < 1e-6, 1e-6, sine)
        px, py = ax + along * au, ay + along * av
        next_x, next_y = x[following], y[following]
        before = (px - x) * au + (py - y) * av
        after = (next_x - px) * bu + (next_y - py) * bv
        bend, slack = np.abs(angle), CORNERS.meet_slack + CORNERS.meet_sigmas * np.sqrt(variance)
        longest = CORNERS.detour_share * distance(next_x - x, next_y - y) + CORNERS.detour
        sharp = (bend >= corner_angle) & (bend < np.radians(CORNERS.sharpest))
        sharp &= (before > -slack) & (after > -slack) & (before + after < longest)
        outside = np.minimum(before, 0.0) ** 2 + np.minimum(after, 0.0) ** 2
        corner = outside / variance + _square(bend, one[4] + other[4]) - SIDES.corner_saving
        onward = _onward(one, other, (x + next_x) / 2, (y + next_y) / 2)
        cost = np.where(bend < corner_angle, onward, CHAIN.unmet_penalty)
        return cls(np.where(sharp, corner, cost), sharp, along, angle)


def _onward(one, other, x, y):
    """Squared sigmas by which two sides, given by their fields, do not meet half way between their
    positions, at `x`, `y`."""
    across, spread = 0.0, 0.0
    for sign, (mx, my, ux, uy, turn_variance, weight) in ((1, one), (-1, other)):
        across = across + sign * (ux * (y - my) - uy * (x - mx))
        spread = spread + 1 / weight + (ux * (x - mx) + uy * (y - my)) ** 2 * turn_variance
    return np.minimum(across**2 / spread, CHAIN.unmet_penalty)


def _square(angle, variance):
    """Squared sigmas that a corner costs by its angle, of which the variance is given: some corners
    are square, the others turn by one angle as likely as by another."""
    variance = variance + np.radians(SIDES.square_sigma) ** 2
    density = np.exp(-((angle - np.pi / 2) ** 2) / variance / 2) / np.sqrt(2 * np.pi * variance)
    ratio = density * np.radians(CORNERS.sharpest)
    return -2 * np.log(1 - SIDES.square_share + SIDES.square_share * ratio)


def _cheapest(spans, joints, bounds, firm):
    """The kinds of the sides that end at and begin behind each position in the cheapest chain of
    each window, shape (n,); -1 where there is none.

    Windows lie between `bounds`; at corners that are `firm` (mask) all but two sides costs more.
    """
    sides, size = len(spans.sides), np.diff(bounds)
    order = np.argsort(-size, kind="stable")  # then windows that go on stand side by side
    first, size = bounds[:-1][order], size[order]
    total = np.full((int(size[0]) + 1, len(spans.size), len(size)), np.inf)
    came = np.zeros(total.shape, np.int8)
    for place in range(int(size[0])):
        begin = first[: int(np.searchsorted(-size, -place, "left"))] + place
        on = np.arange(len(begin))
        way, source = np.zeros((len(spans.size), len(on))), np.zeros(total.shape[1:2] + on.shape)
        if place:
            before = total[place, :, on].T
            source[:] = before.argmin(axis=0)
            way[:] = before.min(axis=0)
            other = before[sides:].argmin(axis=0) + sides
            met = before[:sides, None] + joints.cost[:, :, begin - 1]
            apart = before[other, on] + SIDES.firm_penalty * firm[begin - 1]
            way[:sides] = np.minimum(met.min(axis=0), apart)
            source[:sides] = np.where(way[:sides] < apart, met.argmin(axis=0), other)
        way += spans.cost[:, begin]
        for kind, length in enumerate(spans.size):
            there = min(place + length, len(total) - 1)
            inside = on[size[on] >= place + length]
            total[there, kind, inside] = way[kind, inside]
            came[there, kind, inside] = source[kind, inside]
    return _sides_of(spans, first, size, total, came)


def _sides_of(spans, first, size, total, came):
    """As `_cheapest`, by the costs of all ways to each place and the kinds before the last ones."""
    ends, begins = np.full((2, spans.cost.shape[1]), -1)
    at, place = np.arange(len(size)), size
    kind = total[place, :, at].argmin(axis=1)
    while len(at):
        side = kind < len(spans.sides)
        ends[first[at[side]] + place[side] - 1] = kind[side]
        back = place - spans.size[kind]
        inner = side & (back > 0)
        begins[first[at[inner]] + back[inner] - 1] = kind[inner]
        kind, place = came[place, kind, at], back
        at, kind, place = at[place > 0], kind[place > 0].astype(int), place[place > 0]
    return ends, begins
