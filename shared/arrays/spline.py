"""Smoothing splines over all runs of a layer at once."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from .plane import distance
from .ragged import group_index

BLOCK = 1 << 17  # knots in one banded solve; keeps the working memory small


@dataclass(frozen=True)
class Spline:
    """Piecewise cubic curves with natural ends, one for each piece.

    Attributes
    ----------
    s : float, shape (n,)
        Knots: chainage along the piece, metres.
    offsets : int, shape (pieces + 1,)
    values : float, shape (n, k)
        Curve at the knots.
    bend_after, bend_before : float, shape (n, k)
        Second derivative just after and just before each knot; they differ where the stiffness
        does.
    """

    s: np.ndarray
    offsets: np.ndarray
    values: np.ndarray
    bend_after: np.ndarray
    bend_before: np.ndarray

    def at(self, interval, share):
        """Curve inside intervals.

        Parameters
        ----------
        interval : int, shape (q,)
            Knot at which the interval starts.
        share : float, shape (q,)
            Place inside it, 0 to 1.

        Returns
        -------
        ndarray of float, shape (q, k)
        """
        t = share[:, None]
        u = 1 - t
        h2 = ((self.s[interval + 1] - self.s[interval]) ** 2 / 6)[:, None]
        return (
            u * self.values[interval]
            + t * self.values[interval + 1]
            - h2
            * ((u - u**3) * self.bend_after[interval] + (t - t**3) * self.bend_before[interval + 1])
        )

    def tangent_after(self, knot):
        """First derivative just after knots that are not the last of their piece, shape (q, k)."""
        h = (self.s[knot + 1] - self.s[knot])[:, None]
        return (self.values[knot + 1] - self.values[knot]) / h - h / 6 * (
            2 * self.bend_after[knot] + self.bend_before[knot + 1]
        )

    def tangent_before(self, knot):
        """First derivative just before knots that are not the first of their piece, shape (q,
        k)."""
        h = (self.s[knot] - self.s[knot - 1])[:, None]
        return (self.values[knot] - self.values[knot - 1]) / h + h / 6 * (
            self.bend_after[knot - 1] + 2 * self.bend_before[knot]
        )


def smooth(s, y, variance, stiffness, offsets, twice=False):
    """Fit cubic smoothing splines to all pieces in one banded solve.

    Minimises, for each piece, ``sum((y - f(s))**2 / variance) + integral(stiffness * f''**2)``.

    Parameters
    ----------
    s : ndarray of float, shape (n,)
        Knots, strictly increasing inside each piece.
    y : ndarray of float, shape (n, k)
        Observations, all with the same variances.
    variance : ndarray of float, shape (n,)
        Finite and positive.
    stiffness : ndarray of float, shape (n,)
        Of the interval that follows each knot, constant inside it; the last one of a piece is not
        used.
    offsets : ndarray of int, shape (pieces + 1,)
    twice : bool
        Smooth what the fit left over once more and add it (twicing, Tukey 1977, Exploratory Data
        Analysis). An arc is then hardly pulled in: of a shape of wavenumber w, the fit loses ``(b
        w)**8`` instead of ``(b w)**4``, b being the bandwidth.

    Returns
    -------
    Spline

    Raises
    ------
    ValueError
        If knots do not increase, or a variance or stiffness is not positive.

    Notes
    -----
    Reinsch 1967, Smoothing by spline functions, Numerische Mathematik 10, written for the moment
    ``m = stiffness * f''``, which is piecewise linear as in a beam of varying stiffness:
    ``(R + Q' V Q) m = Q' y`` and ``f = y - V Q m``, where R holds the flexibilities ``h /
    stiffness``. With one stiffness it is Reinsch's system. Pieces are uncoupled because the rows of
    their end knots are left out.
    """
    s, y, variance = np.asarray(s, float), np.asarray(y, float), np.asarray(variance, float)
    n = len(s)
    if not n:
        return Spline(s, np.asarray(offsets), y, y.copy(), y.copy())
    inside = np.ones(n, bool)  # the interval after the knot belongs to the piece
    inside[np.asarray(offsets[1:]) - 1] = False
    h = np.ones(n)
    h[:-1] = np.diff(s)
    h[~inside] = 1.0
    flexibility = np.zeros(n)
    if (h <= 0).any():
        raise ValueError(
            f"knots must increase inside each piece; {np.count_nonzero(h <= 0)} do not"
        )
    if not (variance > 0).all() or not np.isfinite(variance).all():
        raise ValueError("variance must be finite and greater than 0")
    if not (np.asarray(stiffness)[inside] > 0).all():
        raise ValueError("stiffness must be greater than 0")
    flexibility[inside] = h[inside] / np.asarray(stiffness, float)[inside]
    interior = np.zeros(n, bool)
    interior[1:] = inside[:-1]
    interior &= inside
    before = np.ones(n)
    before[1:] = h[:-1]
    a = np.where(interior, 1 / before, 0.0)
    c = np.where(interior, 1 / h, 0.0)
    b = -(a + c)

    band = np.zeros((3, n))
    band[2] = 1.0
    v = variance
    band[2, 1:-1] = np.where(
        interior[1:-1],
        (flexibility[:-2] + flexibility[1:-1]) / 3
        + a[1:-1] ** 2 * v[:-2]
        + b[1:-1] ** 2 * v[1:-1]
        + c[1:-1] ** 2 * v[2:],
        1.0,
    )
    both = interior[:-1] & interior[1:]
    band[1, 1:] = (
        np.where(both, flexibility[:-1] / 6, 0.0) + b[:-1] * v[:-1] * a[1:] + c[:-1] * v[1:] * b[1:]
    )
    band[0, 2:] = c[:-2] * v[1:-1] * a[2:]
    # unit diagonal: knots of very different spacing and stiffness stay well conditioned
    scale = 1 / np.sqrt(band[2])
    band[2] = 1.0
    band[1, 1:] *= scale[:-1] * scale[1:]
    band[0, 2:] *= scale[:-2] * scale[2:]
    ends = np.asarray(offsets[1:])
    factors = []
    start = 0
    while start < n:  # whole pieces, about BLOCK knots at a time
        stop = int(ends[np.searchsorted(ends, min(start + BLOCK, n))])
        factors.append(
            (
                start,
                stop,
                cholesky_banded(band[:, start:stop], check_finite=False, overwrite_ab=True),
            )
        )
        start = stop

    def moments(data):
        right = np.zeros_like(data)
        right[1:-1] = a[1:-1, None] * (data[:-2] - data[1:-1]) + c[1:-1, None] * (
            data[2:] - data[1:-1]
        )
        right *= scale[:, None]
        for start, stop, factor in factors:
            right[start:stop] = cho_solve_banded(
                (factor, False), right[start:stop], overwrite_b=True, check_finite=False
            )
        return right * scale[:, None]

    moment = moments(y)
    left_over = _loads(moment, a, b, c) * v[:, None]
    if twice:
        again = moments(left_over)
        moment += again
        left_over = _loads(again, a, b, c) * v[:, None]
    values = y - left_over
    with np.errstate(divide="ignore", invalid="ignore"):
        softness = np.where(inside, 1 / np.asarray(stiffness, float), 0.0)
    bend_after = moment * softness[:, None]
    bend_before = np.zeros_like(moment)
    bend_before[1:] = moment[1:] * softness[:-1, None]
    return Spline(s, np.asarray(offsets), values, bend_after, bend_before)


def _loads(moment, a, b, c):
    """Q times the moments: the force that each observation puts on the beam."""
    loads = b[:, None] * moment
    loads[:-1] += a[1:, None] * moment[1:]
    loads[1:] += c[:-1, None] * moment[:-1]
    return loads


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
        Lengths over which these fade, metres: each ends at a knot. Where it is 0 the end is
        straight.

    Notes
    -----
    A natural spline is straight at its ends, which would pull an arc outward there. A bend that
    fades linearly is taken off first and put back afterwards.
    """
    group = group_index(offsets)
    trend, bend = np.zeros_like(values), np.zeros_like(values)
    for rim, given, reach in (
        (offsets[:-1], bend_first, reach_first),
        (offsets[1:] - 1, bend_last, reach_last),
    ):
        curved = np.flatnonzero((given.any(axis=1) & (reach > 0))[group])
        owner = group[curved]
        t = np.abs(s[curved] - s[rim][owner])
        fade = reach[owner]
        way = np.where(
            t < fade, t * t / 2 - t**3 / (6 * fade), fade * fade / 3 + (t - fade) * fade / 2
        )
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
    length = np.maximum(distance(tangent[:, 0], tangent[:, 1]), 1e-12)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]]) / length[:, None]
