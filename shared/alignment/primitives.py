"""Tangents and arcs in one form: a point, a direction and a curvature; their distances and fits."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance

COLUMNS = ("x", "y", "ux", "uy", "curvature")


@dataclass(frozen=True)
class Primitives:
    """Tangents and arcs in one form; all arrays have shape (elements,).

    `x`, `y` are a point of the element, m; `ux`, `uy` the unit direction of travel there;
    `curvature`, 1/m, is + to the left and 0 for a tangent.

    Notes
    -----
    The adjustment minimises ``f = n - curvature * (t**2 + n**2) / 2``, where t and n are the
    coordinates of a place along and across the direction at the point. For an arc this equals
    ``(r**2 - d**2) / (2 r)``, d being the distance from the centre; its least squares solution is
    Pratt's circle (1987, Direct least-squares fitting of algebraic surfaces, Computer Graphics 21).
    `signed_distance` is exact.

    Elements have another form, centre and radius, in two places. The search (`search.Elements`)
    gets it directly from moments, and discards most elements again. The result
    (`fitted_chains.Chains`) has it because it is what gets written. Both convert to this form
    (`chain.first_candidate`, `Chains.primitives`).
    """

    x: np.ndarray
    y: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    curvature: np.ndarray

    def __len__(self):
        return len(self.x)

    def take(self, index):
        """Some of the elements, given by a mask or by their numbers."""
        index = np.flatnonzero(index) if index.dtype == bool else index
        return Primitives(*self._of(index))

    def put(self, index, other):
        """Copy in which `other` replaces the elements at `index`."""
        columns = [getattr(self, name).copy() for name in COLUMNS]
        for column, name in zip(columns, COLUMNS):
            column[index] = getattr(other, name)
        return Primitives(*columns)

    @classmethod
    def concatenate(cls, parts):
        """The elements of all parts, in the order of the parts."""
        return cls(*(np.concatenate([getattr(part, name) for part in parts]) for name in COLUMNS))

    @classmethod
    def where(cls, mask, one, other):
        """Elements of `one` where the mask, shape (elements,), is True, else of `other`."""
        return cls(*(np.where(mask, getattr(one, name), getattr(other, name)) for name in COLUMNS))

    @property
    def is_arc(self):
        """Mask of arcs, shape (elements,)."""
        return self.curvature != 0

    @property
    def centre(self):
        """Centres of arcs, x and y; for tangents, their points."""
        arc = self.is_arc
        radius = np.where(arc, 1 / np.where(arc, self.curvature, 1.0), 0.0)
        return self.x - self.uy * radius, self.y + self.ux * radius

    def _of(self, owner):
        """x, y, ux, uy and curvature of elements `owner`; a slice stands for all elements."""
        columns = self.x, self.y, self.ux, self.uy, self.curvature
        if isinstance(owner, slice):
            return columns
        return tuple(column.take(owner) for column in columns)

    def signed_distance(self, x, y, owner):
        """Exact signed distances of places from elements.

        Parameters
        ----------
        x, y : ndarray of float, shape (q,)
            Metres.
        owner : ndarray of int, shape (q,), or slice
            Element of each place.

        Returns
        -------
        ndarray of float, shape (q,)
            Metres, + to the left.
        """
        own_x, own_y, ux, uy, curvature = self._of(owner)
        dx, dy = x - own_x, y - own_y
        n = ux * dy - uy * dx
        # f = (r^2 - d^2) / 2r, turned into r - d without cancellation
        f = n - curvature * (dx * dx + dy * dy) / 2
        return 2 * f / (1 + np.sqrt(np.maximum(1 - 2 * curvature * f, 0.0)))

    def distance_and_direction(self, x, y, owner):
        """Signed distances of places from elements, and the directions at their feet.

        Parameters
        ----------
        x, y, owner
            As in `signed_distance`.

        Returns
        -------
        signed : ndarray of float, shape (q,)
            Metres, + to the left.
        ux, uy : ndarray of float, shape (q,)
            Unit direction of travel; for a place at the centre of an arc, that at the arc's point.
        """
        own_x, own_y, ux, uy, curvature = self._of(owner)
        dx, dy = x - own_x, y - own_y
        t, n = ux * dx + uy * dy, ux * dy - uy * dx
        # vector from the centre to the place, in radii
        a, b = 1 - curvature * n, curvature * t
        length = np.sqrt(a * a + b * b)
        signed = (2 * n - curvature * (t * t + n * n)) / (1 + length)
        if not length.all():
            a = np.where(length > 0, a, 1.0)
        length = np.where(length > 0, length, 1.0)
        a, b = a / length, b / length
        return signed, a * ux - b * uy, a * uy + b * ux

    def directions(self, x, y):
        """Directions at the feet of one place for each element, as `distance_and_direction` gives
        them: ux and uy, shape (elements,)."""
        arc = np.flatnonzero(self.is_arc)
        ux, uy = self.ux.copy(), self.uy.copy()
        if arc.size:
            _, ux[arc], uy[arc] = self.distance_and_direction(x[arc], y[arc], arc)
        return ux, uy

    def foot(self, x, y, owner):
        """Feet of places on elements `owner` and the unit directions there: x, y, ux, uy."""
        signed, ux, uy = self.distance_and_direction(x, y, owner)
        return x + signed * uy, y - signed * ux, ux, uy

    def along(self, x, y, owner):
        """Distance along elements from their points to the feet of places, m; the shorter way round
        an arc."""
        own_x, own_y, ux, uy, curvature = self._of(owner)
        dx, dy = x - own_x, y - own_y
        t, n = ux * dx + uy * dy, ux * dy - uy * dx
        arc = curvature != 0
        angle = np.arctan2(curvature * t, 1 - curvature * n)
        return np.where(arc, angle / np.where(arc, curvature, 1.0), t)

    def at(self, s, owner):
        """Places and unit directions at distances `s`, m, along elements: x, y, ux, uy."""
        x, y, ux, uy, curvature = self._of(owner)
        half = curvature * s / 2
        c, d = np.cos(half), np.sin(half)
        chord = s * np.divide(d, half, out=np.ones_like(d), where=half != 0)
        vx, vy = ux * c - uy * d, uy * c + ux * d
        return x + chord * vx, y + chord * vy, vx * c - vy * d, vy * c + vx * d


def on_arc(cx, cy, radius, turn, x, y):
    """Feet of places on arcs given by centre and radius.

    Parameters
    ----------
    cx, cy, radius : ndarray of float, shape (q,)
        Metres.
    turn : ndarray of float, shape (q,)
        +1 for an arc to the left, -1 to the right.
    x, y : ndarray of float, shape (q,)

    Returns
    -------
    x, y, ux, uy : ndarray of float, shape (q,)
        The feet, and the unit directions of travel there.
    """
    rx, ry = x - cx, y - cy
    length = np.maximum(distance(rx, ry), 1e-9)
    rx, ry = rx / length, ry / length
    return cx + radius * rx, cy + radius * ry, -turn * ry, turn * rx


def fit_lines(moments, primitives):
    """Total least squares lines through the positions of elements.

    Parameters
    ----------
    moments : Moments
        Of the positions of each element.
    primitives : Primitives
        They give the sense of travel, and stay as they are where positions determine nothing.

    Returns
    -------
    Primitives
        Through the means of the positions, along the main axis of their moments (Pearson 1901).
    """
    ux, uy = moments.line_direction()
    # positions without extent determine no direction
    known = moments.xx + moments.yy > 1e-9 * moments.w
    ux, uy = np.where(known, ux, primitives.ux), np.where(known, uy, primitives.uy)
    back = ux * primitives.ux + uy * primitives.uy < 0
    some = moments.w > 0
    return Primitives(
        np.where(some, moments.x, primitives.x),
        np.where(some, moments.y, primitives.y),
        np.where(back, -ux, ux),
        np.where(back, -uy, uy),
        np.zeros(len(primitives)),
    )


def fit_independent(moments, arc, x, y, first, last, radii):
    """Lines and circles through the positions of elements, each element fitted alone.

    Parameters
    ----------
    moments : Moments
        Of the positions of each element.
    arc : ndarray of bool, shape (elements,)
        Elements to be fitted by Kasa's circle (1976); the others, and those without a circle
        within the limits, are fitted by a line.
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    first, last : ndarray of int, shape (elements,)
        First position of each element, and the one after its last.
    radii : tuple of float
        Minimum and maximum radius, metres.

    Returns
    -------
    Primitives
        Directed from the first to the last position of each element.
    """
    ux, uy = moments.line_direction()
    some = last > first
    a, b = np.minimum(first, len(x) - 1), np.maximum(last - 1, 0)
    back = ux * (x[b] - x[a]) + uy * (y[b] - y[a]) < 0
    ux, uy = np.where(back, -ux, ux), np.where(back, -uy, uy)
    px, py, curvature = moments.x.copy(), moments.y.copy(), np.zeros(len(moments))
    cx, cy, radius, _ = moments.circle()
    which = np.flatnonzero(
        arc & some & (last - first > 2) & (radius >= radii[0]) & (radius <= radii[1])
    )
    if which.size:
        middle = (first + last - 1)[which] // 2
        a, b = a[which], b[which]
        cx, cy, radius = cx[which], cy[which], radius[which]
        # the middle position of a left-hand arc lies to the right of its chord
        cross = (x[b] - x[a]) * (y[middle] - y[a]) - (y[b] - y[a]) * (x[middle] - x[a])
        turn = np.where(cross < 0, 1.0, -1.0)
        px[which], py[which], ux[which], uy[which] = on_arc(
            cx, cy, radius, turn, x[middle], y[middle]
        )
        curvature[which] = turn / radius
    return Primitives(px, py, ux, uy, curvature)
