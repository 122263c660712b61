"""Smoothing splines over all runs of a layer at once."""

from dataclasses import dataclass

import numpy as np
from scipy.linalg import cho_solve_banded, cholesky_banded

from ..tuning import SPLINE
from .plane import distance
from .ragged import group_index


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
    curvature_after, curvature_before : float, shape (n, k)
        Second derivative just after and just before each knot, 1/m; they differ where the stiffness
        does.
    """

    s: np.ndarray
    offsets: np.ndarray
    values: np.ndarray
    curvature_after: np.ndarray
    curvature_before: np.ndarray

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
        h2 = ((self.s[interval + 1] - self.s[interval]) ** 2 / 6)[:, None]  # exact: of the cubic
        return (
            u * self.values[interval]
            + t * self.values[interval + 1]
            - h2
            * (
                (u - u**3) * self.curvature_after[interval]
                + (t - t**3) * self.curvature_before[interval + 1]
            )
        )

    def tangent_after(self, knot):
        """First derivative just after knots.

        Parameters
        ----------
        knot : int, shape (q,)
            Not the last of their piece.

        Returns
        -------
        ndarray of float, shape (q, k)
        """
        h = (self.s[knot + 1] - self.s[knot])[:, None]
        # exact: derivative of the cubic
        return (self.values[knot + 1] - self.values[knot]) / h - h / 6 * (
            2 * self.curvature_after[knot] + self.curvature_before[knot + 1]
        )

    def tangent_before(self, knot):
        """First derivative just before knots.

        Parameters
        ----------
        knot : int, shape (q,)
            Not the first of their piece.

        Returns
        -------
        ndarray of float, shape (q, k)
        """
        h = (self.s[knot] - self.s[knot - 1])[:, None]
        # exact: derivative of the cubic
        return (self.values[knot] - self.values[knot - 1]) / h + h / 6 * (
            self.curvature_after[knot - 1] + 2 * self.curvature_before[knot]
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
        Smooth the residuals as well and add the result (twicing, Tukey 1977, Exploratory Data
        Analysis). Arcs then hardly shrink: of a shape of wavenumber w, the fit loses
        ``(b w)**8`` instead of ``(b w)**4``, where b is the bandwidth.

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
    stiffness, offsets = np.asarray(stiffness, float), np.asarray(offsets)
    if not len(s):
        return Spline(s, offsets, y, y.copy(), y.copy())
    beam = _beam(s, variance, stiffness, offsets)
    moment = beam.moments(y)
    left_over = beam.loads(moment) * variance[:, None]
    if twice:
        again = beam.moments(left_over)
        moment += again
        left_over = beam.loads(again) * variance[:, None]
    values = y - left_over
    with np.errstate(divide="ignore", invalid="ignore"):
        softness = np.where(beam.inside, 1 / stiffness, 0.0)
    curvature_after = moment * softness[:, None]
    curvature_before = np.zeros_like(moment)
    curvature_before[1:] = moment[1:] * softness[:-1, None]
    return Spline(s, offsets, values, curvature_after, curvature_before)


@dataclass(frozen=True)
class _Beam:
    """Reinsch's system of all pieces; arrays of shape (n,).

    `inside`: the interval after the knot belongs to the piece; `a`, `b`, `c` the rows of Q',
    before, at and after each knot; `scale` that gives the matrix a unit diagonal; `factors` triples
    of first knot, the one after the last, and the Cholesky factor of the band between them.
    """

    inside: np.ndarray
    a: np.ndarray
    b: np.ndarray
    c: np.ndarray
    scale: np.ndarray
    factors: list

    def moments(self, data):
        """Bending moments that data of shape (n, k) give the beam, shape (n, k)."""
        a, c = self.a, self.c
        right = np.zeros_like(data)
        right[1:-1] = a[1:-1, None] * (data[:-2] - data[1:-1]) + c[1:-1, None] * (
            data[2:] - data[1:-1]
        )
        right *= self.scale[:, None]
        for start, stop, factor in self.factors:
            right[start:stop] = cho_solve_banded(
                (factor, False), right[start:stop], overwrite_b=True, check_finite=False
            )
        return right * self.scale[:, None]

    def loads(self, moment):
        """Q times the moments, shape (n, k): the force that each observation puts on the beam."""
        loads = self.b[:, None] * moment
        loads[:-1] += self.a[1:, None] * moment[1:]
        loads[1:] += self.c[:-1, None] * moment[:-1]
        return loads


def _beam(s, variance, stiffness, offsets):
    """The factored system of all pieces."""
    n = len(s)
    inside = np.ones(n, bool)
    inside[offsets[1:] - 1] = False
    h = np.ones(n)
    h[:-1] = np.diff(s)
    h[~inside] = 1.0
    if (h <= 0).any():
        raise ValueError(
            f"knots must increase inside each piece; {np.count_nonzero(h <= 0)} do not"
        )
    if not (variance > 0).all() or not np.isfinite(variance).all():
        raise ValueError("variance must be finite and greater than 0")
    if not (stiffness[inside] > 0).all():
        raise ValueError("stiffness must be greater than 0")
    interior = np.zeros(n, bool)
    interior[1:] = inside[:-1]
    interior &= inside
    before = np.ones(n)
    before[1:] = h[:-1]
    a = np.where(interior, 1 / before, 0.0)
    c = np.where(interior, 1 / h, 0.0)
    b = -(a + c)
    flexibility = np.zeros(n)
    flexibility[inside] = h[inside] / stiffness[inside]
    band = _band(a, b, c, variance, flexibility, interior)
    # unit diagonal: knots of very different spacing and stiffness stay well conditioned
    scale = 1 / np.sqrt(band[2])
    band[2] = 1.0
    band[1, 1:] *= scale[:-1] * scale[1:]
    band[0, 2:] *= scale[:-2] * scale[2:]
    return _Beam(inside, a, b, c, scale, _factors(band, offsets[1:]))


def _band(a, b, c, v, flexibility, interior):
    """R + Q' V Q in upper band storage, shape (3, n), with unit rows for end knots."""
    n = len(a)
    band = np.zeros((3, n))
    band[2] = 1.0
    band[2, 1:-1] = np.where(
        interior[1:-1],
        (flexibility[:-2] + flexibility[1:-1]) / 3
        + a[1:-1] ** 2 * v[:-2]
        + b[1:-1] ** 2 * v[1:-1]
        + c[1:-1] ** 2 * v[2:],
        1.0,
    )
    both = interior[:-1] & interior[1:]
    sixth = flexibility[:-1] / 6  # exact: mean product of two crossing hat functions
    band[1, 1:] = np.where(both, sixth, 0.0) + b[:-1] * v[:-1] * a[1:] + c[:-1] * v[1:] * b[1:]
    band[0, 2:] = c[:-2] * v[1:-1] * a[2:]
    return band


def _factors(band, ends):
    """Cholesky factors of whole pieces, about `SPLINE.block` knots at a time; `band` is used up."""
    n = band.shape[1]
    factors = []
    start = 0
    while start < n:
        stop = int(ends[np.searchsorted(ends, min(start + SPLINE.block, n))])
        factor = cholesky_banded(band[:, start:stop], check_finite=False, overwrite_ab=True)
        factors.append((start, stop, factor))
        start = stop
    return factors


def interpolate(s, values, offsets, curvature_first, curvature_last, reach_first, reach_last):
    """The cubic spline through values, with given second derivatives at the ends of each piece.

    Parameters
    ----------
    s : ndarray of float, shape (n,)
    values : ndarray of float, shape (n, k)
    offsets : ndarray of int, shape (pieces + 1,)
    curvature_first, curvature_last : ndarray of float, shape (pieces, k)
        Second derivative at the first and last knot of each piece, 1/m.
    reach_first, reach_last : ndarray of float, shape (pieces,)
        Lengths over which these fade, metres; each must end at a knot. With 0 the end is straight.

    Returns
    -------
    Spline

    Notes
    -----
    A natural spline is straight at its ends, which would pull an arc outward there. So a curvature
    that fades linearly is subtracted first and added again afterwards.
    """
    group = group_index(offsets)
    trend, curvature = np.zeros_like(values), np.zeros_like(values)
    for rim, given, reach in (
        (offsets[:-1], curvature_first, reach_first),
        (offsets[1:] - 1, curvature_last, reach_last),
    ):
        curved = np.flatnonzero((given.any(axis=1) & (reach > 0))[group])
        owner = group[curved]
        t = np.abs(s[curved] - s[rim][owner])
        fade = reach[owner]
        # exact: a curvature that fades linearly, integrated twice
        way = np.where(
            t < fade, t * t / 2 - t**3 / (6 * fade), fade * fade / 3 + (t - fade) * fade / 2
        )
        trend[curved] += way[:, None] * given[owner]
        curvature[curved] += np.maximum(1 - t / fade, 0.0)[:, None] * given[owner]
    rest = _natural(s, values - trend, offsets)
    # the trend is a cubic between knots, as it fades out at one of them
    return Spline(
        s, offsets, values, rest.curvature_after + curvature, rest.curvature_before + curvature
    )


def _natural(s, values, offsets):
    """The natural cubic spline through values at the knots."""
    n = len(s)
    curve = smooth(s, values, np.full(n, SPLINE.through_variance), np.ones(n), offsets)
    return Spline(s, offsets, values, curve.curvature_after, curve.curvature_before)


def unit_normals(spline):
    """Unit normals at the knots, to the right of the direction of travel.

    Parameters
    ----------
    spline : Spline
        Of two columns, x and y.

    Returns
    -------
    ndarray of float, shape (n, 2)
        0 for a piece of one knot.
    """
    n = len(spline.s)
    last = np.asarray(spline.offsets[1:]) - 1
    tangent = np.zeros((n, 2))
    knots = np.setdiff1d(np.arange(n), last, assume_unique=True)
    tangent[knots] = spline.tangent_after(knots)
    ends = last[np.diff(spline.offsets) > 1]
    tangent[ends] = spline.tangent_before(ends)
    length = np.maximum(distance(tangent[:, 0], tangent[:, 1]), 1e-12)
    return np.column_stack([tangent[:, 1], -tangent[:, 0]]) / length[:, None]
