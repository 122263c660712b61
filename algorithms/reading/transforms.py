"""Many positions from one reference system to another one."""

import contextlib

import numpy as np
from numpy.polynomial.chebyshev import cheb2poly, chebvander
from osgeo import gdal, ogr, osr
from qgis.core import (
    QgsCsException,
    QgsGeometry,
)

BLOCK = 200_000  # points transformed at once; between blocks the cancel button is looked at
MANY = 50_000  # points beyond which a projection is replaced by a polynomial
DEGREES = (4, 6, 8)
CLOSE = 1e-6  # m by which the polynomial may be off
AT_ONCE = 1 << 15  # points worked on at once: fewer cost calls, more leave the processor's caches
_LINE_HEAD = np.dtype([("order", "u1"), ("type", "<u4"), ("count", "<u4")])


class NoWayError(ValueError):
    """PROJ knows no way from one reference system to the other one."""


class Way:
    """From one reference system to another one on the same datum, by GDAL's PROJ.

    QGIS takes the same way, but looks a CRS that is not in its list up among all that PROJ knows
    first, which takes 0.1 s.

    Parameters
    ----------
    source, target : osr.SpatialReference

    Raises
    ------
    NoWayError
    """

    def __init__(self, source, target):
        self.target = _in_plane(target)
        try:
            with _quiet():
                self._way = osr.CoordinateTransformation(_in_plane(source), self.target)
        except (RuntimeError, ValueError) as error:  # where GDAL was told to raise
            raise NoWayError from error
        if getattr(self._way, "this", None) is None:  # else it gives an empty shell
            raise NoWayError

    def moved(self, line):
        """The well-known binary of a line, moved; None where one of its vertices cannot be."""
        geometry = ogr.CreateGeometryFromWkb(line)
        with _quiet():
            return (
                bytes(geometry.ExportToWkb(ogr.wkbNDR))
                if taken_in(geometry.Transform, self._way)
                else None
            )


@contextlib.contextmanager
def _quiet():
    """What GDAL would print is told by what it returns."""
    gdal.PushErrorHandler("CPLQuietErrorHandler")
    try:
        yield
    finally:
        gdal.PopErrorHandler()


def _in_plane(reference):
    """The reference system without its heights, east before north."""
    reference = reference.Clone()
    # from GDAL 3.6 on; lines without heights do not need it
    if reference.IsCompound() and hasattr(reference, "StripVertical"):
        reference.StripVertical()
    reference.SetAxisMappingStrategy(osr.OAMS_TRADITIONAL_GIS_ORDER)
    return reference


def transform(way, x, y, check_cancel=lambda: None):
    """Transform many points; NaN where one has no finite position or cannot be transformed.

    All vertices go through one line's geometry: QGIS's own call for arrays cannot be used from
    Python, and GDAL's makes a tuple of each.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    out = np.full((2, len(x)), np.nan)
    rows = np.flatnonzero(np.isfinite(x) & np.isfinite(y))
    for start in range(0, len(rows), BLOCK):
        check_cancel()
        some = rows[start : start + BLOCK]
        out[:, some] = _transform_block(way, np.column_stack([x[some], y[some]]))
    return out[0], out[1]


def transform_smoothly(way, x, y, check_cancel=lambda: None, into=None):
    """As `transform`, several times as fast for many points of one region, between a projection and
    the true frame on its own datum.

    The result is written into the two arrays `into` where these are given and a polynomial serves;
    they may be `x` and `y` themselves.

    Inside the box around the points such a way is an analytic function; a polynomial of low degree
    through Chebyshev's nodes follows it (any text on approximation). Where it is off by more than
    `CLOSE` between the nodes, the way itself is taken.
    """
    x, y = np.asarray(x, float), np.asarray(y, float)
    polynomial = _polynomial(way, x, y) if len(x) >= MANY else None
    if polynomial is None:
        return transform(way, x, y, check_cancel)
    # where one coordinate is NaN, so are both of the result
    middle, half, terms = polynomial
    out = np.empty((2, len(x))) if into is None else into
    for here in blocks(len(x), check_cancel):
        u, v = (x[here] - middle[0]) / half[0], (y[here] - middle[1]) / half[1]
        for axis, c in zip(out, terms):
            axis[here] = _value_of(c, u, v)
    return out[0], out[1]


def blocks(size, check_cancel):
    """Slices of `size` points, with a look at the cancel button now and then."""
    for start in range(0, size, AT_ONCE):
        if start % BLOCK < AT_ONCE:
            check_cancel()
        yield slice(start, start + AT_ONCE)


def _polynomial(way, x, y):
    """Middle and half of the box around points, and the coefficients, (d, d) each, of both axes;
    None where no polynomial is close enough."""
    if not (np.isfinite(x) & np.isfinite(y)).any():
        return None
    with np.errstate(invalid="ignore"):
        low, high = (
            np.array([np.fmin.reduce(x), np.fmin.reduce(y)]),
            np.array([np.fmax.reduce(x), np.fmax.reduce(y)]),
        )
    middle, half = (low + high) / 2, (high - low) / 2
    if not (np.isfinite(half).all() and (half > 0).all()):
        return None

    def nodes(number):
        """Chebyshev's nodes, the grid of them, and the transformed places, (2, number, number), u
        along the rows."""
        own = np.cos(np.pi * (np.arange(number) + 0.5) / number)
        u, v = np.meshgrid(own, own, indexing="ij")
        moved = transform(way, (middle[0] + half[0] * u).ravel(), (middle[1] + half[1] * v).ravel())
        return own, u, v, np.reshape(moved, (2, number, number))

    _, u, v, exact = nodes(2 * DEGREES[-1] + 3)
    if not np.isfinite(exact).all():
        return None
    # of the unit that is no metre
    close = CLOSE * min(1.0, np.ptp(exact, axis=(1, 2)).max() / (2 * half.max()))
    for degree in DEGREES:
        own, _, _, values = nodes(degree + 1)
        powers = _from_nodes(own, degree)
        middles = values.mean(axis=(1, 2))  # taken off meanwhile: they would cost digits
        # not by `@`, whose last digits depend on which process calls the linear algebra
        terms = list(np.einsum("ik,akl,jl->aij", powers, values - middles[:, None, None], powers))
        for c, level in zip(terms, middles):
            c[0, 0] += level
        if all((np.abs(_value_of(c, u, v) - axis) <= close).all() for c, axis in zip(terms, exact)):
            return middle, half, terms
    return None


def _value_of(terms, u, v):
    """Values of a polynomial in two variables; `terms`, (d, d), lowest power first, of `u` along
    the rows.

    Horner's scheme in place: numpy's `polyval2d` gives the same digits, but takes memory anew for
    each power, which costs three times as long here.
    """
    shape = (-1, *np.ones(np.ndim(u), int))
    rows = terms[-1].reshape(shape) + u * 0.0
    for of_power in terms[-2::-1]:
        rows *= u
        rows += of_power.reshape(shape)
    out = rows[-1] + v * 0.0
    for row in rows[-2::-1]:
        out *= v
        out += row
    return out


def _from_nodes(nodes, degree):
    """Matrix from values at Chebyshev's nodes to the terms of the polynomial through them, lowest
    power first.

    By the discrete orthogonality of Chebyshev's polynomials (any text on approximation): a solver
    would start a thread, which then waits for more work on a processor that others need.
    """
    sums = chebvander(nodes, degree).T * (2 / len(nodes))
    sums[0] /= 2
    powers = np.zeros((degree + 1, degree + 1))
    for number, one in enumerate(np.eye(degree + 1)):
        terms = cheb2poly(one)
        powers[: len(terms), number] = terms
    return np.einsum("ik,kj->ij", powers, sums)


def _transform_block(way, points):
    """Transform one block, shape (k, 2) to (2, k); a block that fails is halved until the culprit
    is alone."""
    padded = np.concatenate([points, points[-1:]])  # a line needs two vertices
    line = (
        np.array([(1, 2, len(padded))], _LINE_HEAD).tobytes()
        + np.ascontiguousarray(padded, "<f8").tobytes()
    )
    line = way.moved(line) if isinstance(way, Way) else _moved_by_host(way, line)
    if line is not None:
        moved = np.frombuffer(line, "<f8", 2 * len(padded), 9).reshape(-1, 2)[:-1]
        moved = np.where(np.isfinite(moved).all(axis=1, keepdims=True), moved, np.nan)
        return moved.T
    if len(points) == 1:
        return np.full((2, 1), np.nan)
    half = len(points) // 2
    return np.concatenate(
        [_transform_block(way, points[:half]), _transform_block(way, points[half:])], axis=1
    )


def _moved_by_host(way, line):
    """As `Way.moved`, by a QgsCoordinateTransform."""
    geometry = QgsGeometry()
    geometry.fromWkb(line)
    try:
        return geometry.asWkb().data() if geometry.transform(way) == 0 else None
    except QgsCsException:
        return None


def taken_in(call, argument):
    """Whether a call of GDAL's took its argument in, whichever way it tells."""
    try:
        return call(argument) == 0
    except RuntimeError:  # where GDAL was told to raise
        return False
