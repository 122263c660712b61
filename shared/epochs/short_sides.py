"""How common short sides are in a layer, and gross errors that look like them."""

import numpy as np

from ..arrays.plane import distance
from ..tuning import SHORT_SIDES

_LEG = 2  # exact: steps of a leg; its three epochs show whether it is straight


def count_short_sides(x, y, seconds, capture, near, spacing, noise):
    """Count excursions of one or two epochs between straight legs that are certainly short sides,
    and those that are certainly gross errors.

    Parameters
    ----------
    x, y, seconds : ndarray of float, shape (n,)
        Epochs by capture and time; metres, seconds.
    capture : ndarray of int, shape (n,)
    near : ndarray of bool, shape (n - 1,)
        Steps of one capture without a pause.
    spacing, noise : ndarray of float, shape (captures,)
        Metres; NaN where unknown.

    Returns
    -------
    sides, slips : ndarray of int, shape (captures,)
        Sides: the legs are not collinear, or the walker advanced too little meanwhile. Slips (gross
        errors of the aim): the legs are collinear, and the walk went on at its pace.
    """
    sides, slips = np.zeros((2, len(noise)), np.int64)
    if len(x) <= 2 * _LEG + 2:
        return sides, slips
    limit = np.maximum(SHORT_SIDES.sigmas * noise, SHORT_SIDES.off)
    places = _off_the_step_before(x, y, near)
    for number in (1, 2):
        first = _off_both_legs(x, y, places, number, near, limit[capture], spacing[capture])
        side, slip = _told_apart(x, y, seconds, first, number, limit[capture[first]])
        sides += np.bincount(capture[first[side]], minlength=len(sides))
        slips += np.bincount(capture[first[slip]], minlength=len(slips))
    return sides, slips


def _off_the_step_before(x, y, near):
    """Epochs that lie off the line of the step before them: a cheap necessary condition."""
    dx, dy = np.diff(x), np.diff(y)
    off = np.abs(dx[:-1] * dy[1:] - dy[:-1] * dx[1:])
    off = off > SHORT_SIDES.off / 2 * distance(dx[:-1], dy[:-1])  # exact: half is on the safe side
    return np.flatnonzero(off & near[:-1] & near[1:]) + 2


def _off_both_legs(x, y, first, number, near, limit, spacing):
    """First epochs of excursions of `number` epochs off straight legs on either side."""
    first = first[(first > _LEG) & (first < len(x) - number - _LEG)]
    last = first + number - 1
    good = np.ones(len(first), bool)
    for step in range(-_LEG - 1, number + _LEG):
        good &= near[first + step]
    first, last = first[good], last[good]
    least = SHORT_SIDES.least_step * spacing[first]
    before, after = (first - 3, first - 1), (last + 3, last + 1)
    good = np.ones(len(first), bool)
    for start in (first - 3, first - 2, last + 1, last + 2):
        good &= distance(x[start + 1] - x[start], y[start + 1] - y[start]) > least
    bent = np.maximum(_across(x, y, *before, first - 2), _across(x, y, *after, last + 2))
    good &= bent < SHORT_SIDES.bent_share * limit[first]
    for place in range(number):
        for leg in (before, after):
            good &= _across(x, y, *leg, first + place) > limit[first]
        good &= _off_curve(x, y, first + place) > limit[first]
    return first[good]


def _told_apart(x, y, seconds, first, number, limit):
    """Masks of the excursions that are short sides, and of those that are gross errors."""
    a, b, c, d = first - 3, first - 1, first + number, first + number + 2
    ux, uy, vx, vy = x[b] - x[a], y[b] - y[a], x[d] - x[c], y[d] - y[c]
    lengths = distance(ux, uy), distance(vx, vy)
    pace = sum(lengths) / (seconds[b] - seconds[a] + seconds[d] - seconds[c])
    headway = distance(x[c] - x[b], y[c] - y[b]) / (pace * (seconds[c] - seconds[b]))
    aside = np.maximum(_across(x, y, a, b, c), _across(x, y, d, c, b))
    least = np.cos(np.radians(SHORT_SIDES.onward)) * lengths[0] * lengths[1]
    onward = (aside < limit) & (ux * vx + uy * vy > least)
    slow = headway < SHORT_SIDES.headway
    return ~onward | slow, onward & ~slow & (headway < 2 - SHORT_SIDES.headway)


def _across(x, y, a, b, i):
    """Distance of epochs `i` from lines through `a` and `b`, metres."""
    dx, dy = x[b] - x[a], y[b] - y[a]
    return np.abs(dx * (y[i] - y[a]) - dy * (x[i] - x[a])) / np.maximum(distance(dx, dy), 1e-9)


def _off_curve(x, y, i):
    """Distance of epochs from the cubic through four neighbours, metres: small on any curve."""
    off_x, off_y = (
        (4 * (v[i - 1] + v[i + 1]) - v[i - 2] - v[i + 2]) / 6 - v[i]  # exact: Lagrange's cubic
        for v in (x, y)
    )
    return distance(off_x, off_y)
