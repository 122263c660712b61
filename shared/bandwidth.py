"""How far the smoothing may reach at each place: far on tangents, hardly at all on tight curves."""

import numpy as np

from .ragged import group_index, group_median
from .spline import KERNEL_AT_ZERO, Spline, local_spacing, smooth

LEVELS = 8
NARROWEST = 0.35  # of the usual spacing: next to no smoothing
WIDEST = 15.0  # m; half a minute of walking is as long as the drift of the receiver lets neighbours agree
AGREEMENT = 1.2  # sigmas by which a wider fit may leave the narrower ones
END_WINDOWS = (3, 4, 5, 7, 10)  # epochs
HUBER = 2.5  # sigmas beyond which an observation loses weight


def lessen_outliers(off, variance):
    """Raise the variance of observations that stand off from their neighbours' predictions (Huber 1964)."""
    # a prediction from four neighbours is itself uncertain: 1.3 sigmas of one observation
    return variance * np.maximum(off / (1.3 * HUBER * np.sqrt(variance)), 1.0) ** 2


def fit_adaptive(s, y, variance, offsets, spacing, across):
    """Smoothing spline whose bandwidth follows the shape.

    Parameters
    ----------
    s : ndarray of float, shape (n,)
        Knots, metres, increasing inside each piece.
    y : ndarray of float, shape (n, k)
        Observations: (x, y) or heights.
    variance : ndarray of float, shape (n,)
        Of the white noise, m2.
    offsets : ndarray of int, shape (pieces + 1,)
    spacing : ndarray of float, shape (n,)
        Usual spacing of the capture that each knot belongs to, metres.
    across : bool
        True to judge by the component across the line (k = 2), False for k = 1.

    Returns
    -------
    spline : Spline
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
    if not n:
        empty = np.zeros((0, y.shape[1]))
        return Spline(s, offsets, empty, empty, empty), np.zeros(0)
    group = group_index(offsets)
    h = local_spacing(s, offsets)
    narrow = NARROWEST * spacing
    ratio = np.maximum(WIDEST / narrow, 1.0) ** (1 / (LEVELS - 1))
    # One stiffness in all of a piece: where it changed along a curve it would itself bend the line.
    usual = (np.sqrt(group_median(variance, group, len(offsets) - 1))[group]) ** 2

    low, high = np.full(n, -np.inf), np.full(n, np.inf)
    alive = np.ones(n, bool)
    level = np.zeros(n)
    fits = []
    trend = _end_trend(s, y, usual, offsets)
    y = y - trend
    for k in range(LEVELS):
        band = narrow * ratio**k
        fit = smooth(s, y, variance, band**4 / (usual * spacing), offsets, twice=True)
        if k == 0:
            base, normal = fit.values, unit_normals(_shape(s, fit.values + trend, offsets)) if across else None
        fits.append(fit.values)
        value = fit.values - base
        value = _neighbourly((value * normal).sum(axis=1) if across else value[:, 0], group)
        sd = np.sqrt(usual * np.minimum(h * KERNEL_AT_ZERO / band, 0.2))
        low = np.maximum(low, value - AGREEMENT * sd)
        high = np.minimum(high, value + AGREEMENT * sd)
        alive &= low <= high
        level[alive] = k
    level = _calm(level, group)
    below = np.minimum(level.astype(np.int64), LEVELS - 2)
    share = (level - below)[:, None]
    fits = np.array(fits)
    knots = np.arange(n)
    chosen = (1 - share) * fits[below, knots] + share * fits[below + 1, knots]
    # the curve between the knots: the natural cubic spline through the chosen values
    return _shape(s, chosen, offsets, trend), narrow * ratio**level


def through(s, values, variance, offsets):
    """The cubic spline through values, with the curvature of its ends taken from parabolas (see `fit_adaptive`)."""
    trend = _end_trend(s, values, variance, offsets)
    return _shape(s, values - trend, offsets, trend)


def _shape(s, values, offsets, trend=None):
    """The cubic spline through values at the knots; natural ends on top of the trend."""
    n = len(s)
    curve = smooth(s, values, np.full(n, 1e-14), np.ones(n), offsets)
    if trend is None:
        return Spline(s, offsets, values, curve.bend_after, curve.bend_before)
    bend = smooth(s, trend, np.full(n, 1e-14), np.ones(n), offsets)
    return Spline(s, offsets, values + trend, curve.bend_after + bend.bend_after, curve.bend_before + bend.bend_before)


def _end_trend(s, y, variance, offsets):
    """A bend towards both ends of each piece that takes their curvature away.

    A natural spline is straight at its ends; on an arc that would pull the ends outward. The second derivative
    at each end comes from a parabola through the widest window of epochs that one explains
    (chi-square, about 99 %), shrunk towards zero where noise could make it (James and Stein 1961), and fades
    linearly over one and a half windows.

    Returns
    -------
    ndarray of float, shape (n, k)
    """
    trend = np.zeros_like(y)
    count = np.diff(offsets)
    group = group_index(offsets)
    for backward in (False, True):
        rim = offsets[1:] - 1 if backward else offsets[:-1]
        way = -1 if backward else 1
        bend = np.zeros((len(count), y.shape[1]))
        reach = np.ones(len(count))
        for window in END_WINDOWS:
            piece = np.flatnonzero(count >= window)
            if not piece.size:
                break
            index = rim[piece][:, None] + way * np.arange(window)
            t = np.abs(s[index] - s[rim[piece]][:, None])
            span = t[:, -1:]
            u = t / span
            design = np.stack([np.ones_like(u), u, u * u], axis=2)
            normal = np.einsum("pwi,pwj->pij", design, design)
            inverse = np.linalg.inv(normal + 1e-12 * np.eye(3))
            coefficient = np.einsum("pij,pwj,pwk->pik", inverse, design, y[index])
            residual = y[index] - np.einsum("pwi,pik->pwk", design, coefficient)
            sigma2 = variance[rim[piece]]
            freedom = (window - 3) * y.shape[1]
            explained = (residual**2).sum(axis=(1, 2)) / sigma2 <= freedom + 2.5 * np.sqrt(2 * freedom) + 1e-9
            estimate = 2 * coefficient[:, 2] / span**2
            noise = 4 * sigma2 * inverse[:, 2, 2] / span[:, 0] ** 4
            shrink = np.maximum(1 - 3 * noise * y.shape[1] / np.maximum((estimate**2).sum(axis=1), 1e-30), 0.0)
            use = explained | (window == END_WINDOWS[0])
            bend[piece[use]] = (estimate * shrink[:, None])[use]
            reach[piece[use]] = 1.5 * span[use, 0]
        t = np.abs(s - s[rim][group])
        fade = reach[group]
        inside = t * t / 2 - t**3 / (6 * fade)
        beyond = fade * fade / 3 + (t - fade) * fade / 2
        trend += np.where(t < fade, inside, beyond)[:, None] * bend[group]
    return trend


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
