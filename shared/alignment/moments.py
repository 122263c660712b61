"""Weighted moments of positions, and the best-fit lines and circles that follow from them.

`Moments` are central (about the mean of their positions) and additive; the local search and the
adjustment work with them alone. The dynamic programme has too many spans for that: it keeps raw
sums about each span's first position, adds one position to all spans at a time, and fits by
`line_sum_of` and `circle_of`. Both forms hold the same formulas but round differently, so neither
can replace the other without changing the last digits of results.
"""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index, offsets_of, ranges


@dataclass(frozen=True)
class Moments:
    """Weighted sums over groups of positions; all arrays have shape (groups,).

    `w` is the sum of weights, `x`, `y` the weighted mean; the others are sums about that mean, with
    ``z = x**2 + y**2``: `xx`, `xy`, `yy`, `xz`, `yz`, `zz`. Sums about the mean lose no digits,
    however far from the origin the positions lie.
    """

    w: np.ndarray
    x: np.ndarray
    y: np.ndarray
    xx: np.ndarray
    xy: np.ndarray
    yy: np.ndarray
    xz: np.ndarray
    yz: np.ndarray
    zz: np.ndarray

    def __len__(self):
        return len(self.w)

    def take(self, index):
        """Moments of some groups, given by a mask or by their numbers."""
        index = np.flatnonzero(index) if index.dtype == bool else index
        return Moments(*(column.take(index) for column in self.columns()))

    def times(self, factor):
        """All sums multiplied by a factor; adding the result of -1 removes positions."""
        return Moments(
            self.w * factor, self.x, self.y, *(column * factor for column in self.columns()[3:])
        )

    def columns(self):
        """All nine arrays, in the order of the attributes."""
        return self.w, self.x, self.y, self.xx, self.xy, self.yy, self.xz, self.yz, self.zz

    @classmethod
    def of(cls, x, y, weight, offsets):
        """Moments of consecutive groups of positions.

        Parameters
        ----------
        x, y, weight : ndarray of float, shape (m,)
            Metres, and one over the variance.
        offsets : ndarray of int, shape (groups + 1,)

        Returns
        -------
        Moments
            Zeros for a group without positions.
        """
        number = np.diff(offsets)
        some = number > 0
        if not some.all():
            out = [np.zeros(len(number)) for _ in range(9)]  # exact: one per column
            if some.any():
                for column, values in zip(
                    out, cls.of(x, y, weight, np.append(offsets[:-1][some], offsets[-1])).columns()
                ):
                    column[some] = values
            return cls(*out)
        first = offsets[:-1]
        owner = group_index(offsets)

        def add(values):
            return np.add.reduceat(values, first)

        w = add(weight)
        bx, by = x[first], y[first]
        dx, dy = x - bx.take(owner), y - by.take(owner)
        mx, my = add(weight * dx) / np.maximum(w, 1e-300), add(weight * dy) / np.maximum(w, 1e-300)
        dx -= mx.take(owner)
        dy -= my.take(owner)
        wx, wy = weight * dx, weight * dy
        z = dx * dx + dy * dy
        return cls(
            w,
            bx + mx,
            by + my,
            *map(add, (wx * dx, wx * dy, wy * dy, wx * z, wy * z, weight * z * z)),
        )

    def put(self, index, other):
        """Copy in which `other` replaces the groups at `index`."""
        columns = [column.copy() for column in self.columns()]
        for column, values in zip(columns, other.columns()):
            column[index] = values
        return Moments(*columns)

    @classmethod
    def of_some(cls, x, y, weight, offsets, which):
        """As `of`, for the groups whose numbers are `which`."""
        number = np.diff(offsets)[which]
        index = ranges(offsets[:-1][which], number)
        return cls.of(x.take(index), y.take(index), weight.take(index), offsets_of(number))

    @classmethod
    def concatenate(cls, parts):
        """The groups of all parts, in the order of the parts."""
        return cls(
            *(np.concatenate(columns) for columns in zip(*(part.columns() for part in parts)))
        )

    def line_sum(self):
        """Minimum sum of weighted squared distances from a straight line, shape (groups,).

        The smaller eigenvalue of the scatter matrix (Pearson 1901, On lines and planes of closest
        fit to systems of points in space, Philosophical Magazine 2).
        """
        return np.maximum((self.xx + self.yy) / 2 - distance((self.xx - self.yy) / 2, self.xy), 0.0)

    def line_direction(self):
        """Unit direction of the best-fit line, x and y; its sense is arbitrary."""
        angle = 0.5 * np.arctan2(2 * self.xy, self.xx - self.yy)
        return np.cos(angle), np.sin(angle)

    def circle(self):
        """Kasa's circles (1976, A circle fitting procedure and its error analysis, IEEE
        Transactions on Instrumentation and Measurement 25).

        Returns
        -------
        x, y, radius : ndarray of float, shape (groups,)
            Metres; not finite if the positions are collinear or fewer than three.
        total : ndarray of float, shape (groups,)
            Weighted algebraic sum of squares over the squared gradient, which approximates the sum
            of squared distances (as in Pratt 1987).
        """
        det = self.xx * self.yy - self.xy**2
        trace = self.xx + self.yy
        with np.errstate(divide="ignore", invalid="ignore"):
            a, b = (
                (self.xz * self.yy - self.yz * self.xy) / det / 2,
                (self.yz * self.xx - self.xz * self.xy) / det / 2,
            )
            square = a * a + b * b + trace / self.w
            total = (self.zz - trace**2 / self.w - 2 * a * self.xz - 2 * b * self.yz) / (4 * square)
            return self.x + a, self.y + b, np.sqrt(square), np.maximum(total, 0.0)

    def about(self, x, y):
        """Sums of x, y, xx, xy, yy, z, xz, yz, zz about other origins `x`, `y`, shape (groups,)."""
        hx, hy = self.x - x, self.y - y
        trace = self.xx + self.yy
        square = hx * hx + hy * hy
        lever = trace + self.w * square
        tx, ty = self.xx * hx + self.xy * hy, self.xy * hx + self.yy * hy
        return (
            self.w * hx,
            self.w * hy,
            self.xx + self.w * hx * hx,
            self.xy + self.w * hx * hy,
            self.yy + self.w * hy * hy,
            lever,
            self.xz + 2 * tx + hx * lever,
            self.yz + 2 * ty + hy * lever,
            self.zz
            + 4 * (hx * self.xz + hy * self.yz)
            + 4 * (hx * tx + hy * ty)
            + 2 * square * trace
            + self.w * square * square,
        )

    def __add__(self, other):
        """Moments of the positions of both, group by group."""
        w = self.w + other.w
        some = np.where(np.abs(w) < 1e-12, 1.0, w)
        x, y = (
            self.x + (other.x - self.x) * other.w / some,
            self.y + (other.y - self.y) * other.w / some,
        )
        a, b = self.about(x, y), other.about(x, y)
        return Moments(
            w, x, y, a[2] + b[2], a[3] + b[3], a[4] + b[4], a[6] + b[6], a[7] + b[7], a[8] + b[8]
        )


def unconstrained_sums(moments, arc):
    """Minimum sums of squares of elements that need not join their neighbours.

    Parameters
    ----------
    moments : Moments
    arc : ndarray of bool, shape (groups,)
        Elements that may be arcs: the better of line and Kasa's circle counts for them, the line
        for the others.

    Returns
    -------
    ndarray of float, shape (groups,)
        Squared sigmas.
    """
    least = moments.line_sum()
    which = np.flatnonzero(arc)
    if which.size:
        circle = moments.take(which).circle()[-1]
        least[which] = np.where(np.isfinite(circle), np.minimum(circle, least[which]), least[which])
    return least


def line_sum_of(sums):
    """Sum of squared distances from total least squares lines, computed from raw sums.

    Parameters
    ----------
    sums : ndarray of float, shape (6 or more, spans)
        Weighted sums of 1, x, y, xx, xy, yy about any nearby origin.

    Returns
    -------
    ndarray of float, shape (spans,)
        In units of variance, as `Moments.line_sum`.
    """
    w, x, y, xx, xy, yy = sums[:6]
    mx, my = x / w, y / w
    sxx, syy, sxy = xx - x * mx, yy - y * my, xy - x * my
    return np.maximum((sxx + syy) / 2 - distance((sxx - syy) / 2, sxy), 0.0)


def circle_of(sums, radii):
    """Sum of squared distances from Kasa's circles, computed from raw sums.

    Parameters
    ----------
    sums : ndarray of float, shape (9, spans)
        Weighted sums of 1, x, y, xx, xy, yy, xz, yz, zz about any nearby origin, with z = xx + yy.
    radii : tuple of float
        Minimum and maximum radius, metres.

    Returns
    -------
    ndarray of float, shape (spans,)
        In units of variance, as the total of `Moments.circle`; infinite if the radius is out of
        range.
    """
    w, x, y, xx, xy, yy, xz, yz, zz = sums
    mx, my = x / w, y / w
    z = (xx + yy) / w
    sxx, syy, sxy = xx / w - mx * mx, yy / w - my * my, xy / w - mx * my
    dxz, dyz = xz / w - mx * z, yz / w - my * z
    var = (
        zz / w
        - z * z
        + 4 * (mx * mx * sxx + my * my * syy + 2 * mx * my * sxy)
        - 4 * (mx * dxz + my * dyz)
    )
    dxz = dxz - 2 * mx * sxx - 2 * my * sxy
    dyz = dyz - 2 * mx * sxy - 2 * my * syy
    det = sxx * syy - sxy * sxy
    with np.errstate(divide="ignore", invalid="ignore"):
        a, b = (dxz * syy - dyz * sxy) / det / 2, (dyz * sxx - dxz * sxy) / det / 2
        square = a * a + b * b + sxx + syy
        circle = np.maximum(var - 2 * a * dxz - 2 * b * dyz, 0.0) / (4 * square) * w
    radius = np.sqrt(square)
    usable = (radius >= radii[0]) & (radius <= radii[1]) & np.isfinite(circle)
    return np.where(usable, circle, np.inf)
