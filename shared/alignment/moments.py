"""Weighted moments of positions, from which lines and circles are fitted without looking at the
positions again."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import group_index


@dataclass(frozen=True)
class Moments:
    """Weighted sums over groups of positions; all arrays have shape (groups,).

    `w` is the sum of weights, `x`, `y` the weighted mean; the others are sums about that mean, with
    ``z = x**2 + y**2``: `xx`, `xy`, `yy`, `xz`, `yz`, `zz`. About their own mean, sums of far
    positions lose no digits.
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
        index = np.flatnonzero(index) if index.dtype == bool else index
        return Moments(*(column.take(index) for column in self.columns()))

    def times(self, factor):
        """All sums times a factor; with -1, to take positions away by addition."""
        return Moments(
            self.w * factor, self.x, self.y, *(column * factor for column in self.columns()[3:])
        )

    def columns(self):
        return self.w, self.x, self.y, self.xx, self.xy, self.yy, self.xz, self.yz, self.zz

    @classmethod
    def of(cls, x, y, weight, offsets):
        """Moments of consecutive groups of positions; a group without positions has zeros."""
        number = np.diff(offsets)
        some = number > 0
        if not some.all():
            out = [np.zeros(len(number)) for _ in range(9)]
            if some.any():
                for column, values in zip(
                    out, cls.of(x, y, weight, np.append(offsets[:-1][some], offsets[-1])).columns()
                ):
                    column[some] = values
            return cls(*out)
        first = offsets[:-1]
        owner = group_index(offsets)
        add = lambda values: np.add.reduceat(values, first)  # noqa: E731
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

    @classmethod
    def concatenate(cls, parts):
        return cls(
            *(np.concatenate(columns) for columns in zip(*(part.columns() for part in parts)))
        )

    def line_sum(self):
        """Least sum of squared distances from a straight line."""
        return np.maximum((self.xx + self.yy) / 2 - distance((self.xx - self.yy) / 2, self.xy), 0.0)

    def line_direction(self):
        """Unit direction of that line, either way: its x and y."""
        angle = 0.5 * np.arctan2(2 * self.xy, self.xx - self.yy)
        return np.cos(angle), np.sin(angle)

    def circle(self):
        """Kasa's circle: x and y of its centre, its radius, and the sum of squares, divided by the
        gradient (as in Pratt 1987).

        Not finite where the positions are on one line or fewer than three.
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
        """Sums about other places: of x, y, xx, xy, yy, z, xz, yz, zz; `x`, `y` have shape
        (groups,)."""
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
        """Moments of both groups together."""
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
