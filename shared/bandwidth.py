"""How far the smoothing may reach at each place: far on tangents, hardly at all on tight curves."""

import numpy as np

from .ragged import group_index, group_median
from .spline import KERNEL_AT_ZERO, Spline, local_spacing, smooth, stiffness_for

LEVELS = 5
NARROWEST = 0.5  # of the usual spacing: next to no smoothing
WIDEST = 15.0  # m; half a minute of walking is as long as the drift of the receiver lets neighbours agree
AGREEMENT = 1.2  # sigmas by which a wider fit may leave the narrower ones
HUBER = 2.5  # sigmas beyond which an observation loses weight


def lessen_outliers(off, variance):
    """Raise the variance of observations that stand off from their neighbours' predictions (Huber 1964)."""
    # a prediction from four neighbours is itself uncertain: 1.3 sigmas of one observation
    return variance * np.maximum(off / (1.3 * HUBER * np.sqrt(variance)), 1.0) ** 2


def fit_adaptive(s, y, variance, offsets, spacing):
    """Smoothing spline whose bandwidth follows the shape.

    Parameters
    ----------
    s : ndarray of float, shape (n,)
        Knots, metres, increasing inside each piece.
    y : ndarray of float, shape (n,)
        Observations, such as heights.
    variance : ndarray of float, shape (n,)
        Of the white noise, m2.
    offsets : ndarray of int, shape (pieces + 1,)
    spacing : ndarray of float, shape (n,)
        Usual spacing of the capture that each knot belongs to, metres.

    Returns
    -------
    spline : Spline
        Of one column.
    bandwidth : ndarray of float, shape (n,)
        Metres.

    Notes
    -----
    Intersection of confidence intervals (Goldenshluger and Nemirovski 1997, On spatial adaptive estimation
    of nonparametric regression, Mathematical Methods of Statistics 6): fits of growing bandwidth are
    compared at each knot, and the widest one that still lies within the confidence intervals of all
    narrower ones is taken.
    """
    n = len(s)
    y = np.asarray(y, float)[:, None]
    if not n:
        return Spline(s, offsets, y, y, y), np.zeros(0)
    group = group_index(offsets)
    h = local_spacing(s, offsets)
    narrow = NARROWEST * spacing
    ratio = np.maximum(WIDEST / narrow, 1.0) ** (1 / (LEVELS - 1))
    # One stiffness in all of a piece: where it changed along a curve it would itself bend the line.
    usual = group_median(variance, group, len(offsets) - 1)[group]

    low, high = np.full(n, -np.inf), np.full(n, np.inf)
    alive = np.ones(n, bool)
    level = np.zeros(n)
    fits = np.empty((LEVELS, n))
    for k in range(LEVELS):
        band = narrow * ratio**k
        fits[k] = smooth(s, y, variance, stiffness_for(band, usual, spacing), offsets, twice=True).values[:, 0]
        value = _neighbourly(fits[k] - fits[0], group)
        sd = np.sqrt(usual * np.minimum(h * KERNEL_AT_ZERO / band, 0.2))
        low = np.maximum(low, value - AGREEMENT * sd)
        high = np.minimum(high, value + AGREEMENT * sd)
        alive &= low <= high
        level[alive] = k
    level = _calm(level, group)
    below = np.minimum(level.astype(np.int64), LEVELS - 2)
    share = level - below
    knots = np.arange(n)
    chosen = (1 - share) * fits[below, knots] + share * fits[below + 1, knots]
    # the curve between the knots: the natural cubic spline through the chosen values
    return _shape(s, chosen[:, None], offsets), narrow * ratio**level


def through(s, values, offsets, bend_first, bend_last, reach_first, reach_last):
    """The cubic spline through values, with given second derivatives at the ends of each piece.

    Parameters
    ----------
    s : ndarray of float, shape (n,)
    values : ndarray of float, shape (n, k)
    offsets : ndarray of int, shape (pieces + 1,)
    bend_first, bend_last : ndarray of float, shape (pieces, k)
        Second derivative at the first and last knot of each piece, 1/m.
    reach_first, reach_last : ndarray of float, shape (pieces,)
        Lengths over which these fade, metres: each ends at a knot. Where it is 0 the end is straight.

    Notes
    -----
    A natural spline is straight at its ends, which would pull an arc outward there. A bend that fades linearly is
    taken off first and put back afterwards.
    """
    group = group_index(offsets)
    trend, bend = np.zeros_like(values), np.zeros_like(values)
    for rim, given, reach in ((offsets[:-1], bend_first, reach_first), (offsets[1:] - 1, bend_last, reach_last)):
        curved = np.flatnonzero((given.any(axis=1) & (reach > 0))[group])
        owner = group[curved]
        t = np.abs(s[curved] - s[rim][owner])
        fade = reach[owner]
        way = np.where(t < fade, t * t / 2 - t**3 / (6 * fade), fade * fade / 3 + (t - fade) * fade / 2)
        trend[curved] += way[:, None] * given[owner]
        bend[curved] += np.maximum(1 - t / fade, 0.0)[:, None] * given[owner]
    rest = _shape(s, values - trend, offsets)
    # the trend is a cubic between knots, as it fades out at one of them
    return Spline(s, offsets, values, rest.bend_after + bend, rest.bend_before + bend)


def _shape(s, values, offsets):
    """The natural cubic spline through values at the knots."""
    n = len(s)
    curve = smooth(s, values, np.full(n, 1e-14), np.ones(n), offsets)
    return Spline(s, offsets, values, curve.bend_after, curve.bend_before)


def unit_normals(spline):
    """Unit normals at the knots, to the right of the direction of travel, shape (n, 2)."""
    n = len(spline.s)
    last = np.asarray(spline.offsets[1:]) - 1
    tangent = np.zeros((n, 2))
    knots = np.setdiff1d(np.arange(n), last, assume_unique=True)
    tangent[knots] = spline.tangent_after(knots)
    ends = last[np.diff(spline.offsets) > 1]
    tangent[ends] = spline.tangent_before(ends)
    length = np.maximum(np.hypot(tangent[:, 0], tangent[:, 1]), 1e-12)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]]) / length[:, None]


def _shifted(values, group):
    """Values of the neighbours before and after; a knot's own where the piece ends."""
    joined = np.diff(group) == 0
    left, right = values.copy(), values.copy()
    left[1:][joined] = values[:-1][joined]
    right[:-1][joined] = values[1:][joined]
    return left, right


def _neighbourly(values, group):
    """Means over five knots with weights 1 2 3 2 1: a bias is shared by neighbours, noise is not."""
    for _ in range(2):
        left, right = _shifted(values, group)
        values = (left + values + right) / 3
    return values


def _calm(level, group):
    """Even out the levels: a knot alone decides nothing, and a narrow one draws its neighbours along."""
    left, right = _shifted(level, group)
    level = np.maximum(np.minimum(left, right), np.minimum(np.maximum(left, right), level))
    for _ in range(2):
        left, right = _shifted(level, group)
        level = np.minimum(level, (left + 2 * level + right) / 4 + 0.25)
    return level
