"""One frame for a whole data set: metres, true to scale at its centre, on the data's own datum."""

from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from pyproj import CRS, Transformer
from pyproj.crs import ProjectedCRS
from pyproj.crs.coordinate_operation import TransverseMercatorConversion
from pyproj.exceptions import CRSError

from ..tuning import PARTITIONS


@lru_cache(maxsize=8)
def horizontal(text):
    """Horizontal part of a CRS, the geographic CRS that it is based on, and the unit of heights in
    metres.

    Parameters
    ----------
    text : str
        PROJJSON, or anything else that PROJ understands.

    Returns
    -------
    crs, geographic : pyproj.CRS
    height_unit : float

    Raises
    ------
    ValueError
        If it is not a CRS with a datum and two horizontal axes.
    """
    try:
        crs = CRS.from_user_input(text)
    except CRSError as error:
        raise ValueError(f"its CRS cannot be understood ({error})") from error
    name, height_unit = crs.name, 1.0
    if crs.is_compound:
        crs, upright = crs.sub_crs_list[:2]
        height_unit = upright.axis_info[0].unit_conversion_factor
    if crs.is_bound:
        crs = crs.source_crs
    if crs.is_geocentric or crs.geodetic_crs is None or not (crs.is_geographic or crs.is_projected):
        raise ValueError(
            f"its CRS “{name}” is neither geographic nor projected. Reproject it, or name its CRS"
            " with --crs"
        )
    if len(crs.axis_info) == 3:
        height_unit = crs.axis_info[2].unit_conversion_factor
        crs = crs.to_2d()
    geographic = crs if crs.is_geographic else crs.geodetic_crs
    return crs, geographic.to_2d() if len(geographic.axis_info) == 3 else geographic, height_unit


def _degrees(geographic):
    """The unit of a geographic CRS in degrees."""
    return np.degrees(geographic.axis_info[0].unit_conversion_factor)


def _transform(transformer, x, y):
    """Transformed positions; NaN where there is no position before or after."""
    x, y = transformer.transform(
        np.where(np.isfinite(x), x, np.nan), np.where(np.isfinite(y), y, np.nan), errcheck=False
    )
    lost = ~(np.isfinite(x) & np.isfinite(y))
    x[lost] = y[lost] = np.nan
    return x, y


def in_range(text, x, y):
    """Replace positions by NaN if they lie outside a geographic CRS or have only one coordinate.

    Parameters
    ----------
    text : str
        The CRS, as in `horizontal`.
    x, y : ndarray of float, shape (n,)

    Returns
    -------
    x, y : ndarray of float, shape (n,)
    """
    crs, geographic, _ = horizontal(text)
    with np.errstate(invalid="ignore"):
        good = np.isfinite(x) & np.isfinite(y)
        if crs.is_geographic:
            unit = _degrees(geographic)
            good &= (np.abs(y) * unit <= 90) & (np.abs(x) * unit <= 360)
    return np.where(good, x, np.nan), np.where(good, y, np.nan)


def spread(text, x, y):
    """Count the positions in cells of longitude and of latitude of `PARTITIONS.cell`.

    Parameters
    ----------
    text : str
        The CRS, as in `horizontal`.
    x, y : ndarray of float, shape (n,)

    Returns
    -------
    list of (ndarray of int, ndarray of int)
        Numbers of the cells of longitude (from -180 degrees) and of latitude (from -90), and the
        number of positions in each.
    """
    crs, geographic, _ = horizontal(text)
    lon, lat = in_range(text, x, y)
    if not crs.is_geographic:
        lon, lat = _transform(_way(crs, geographic), lon, lat)
    good = np.isfinite(lon)
    unit = _degrees(geographic)
    east = np.floor(((lon[good] * unit + 180) % 360) / PARTITIONS.cell).astype(np.int64)
    north = np.floor((lat[good] * unit + 90) / PARTITIONS.cell).astype(np.int64)
    return [np.unique(cells, return_counts=True) for cells in (east, north)]


def centre_of(spreads):
    """Median position of a data set, to half a cell.

    Parameters
    ----------
    spreads : list
        The `spread` of each of its parts.

    Returns
    -------
    longitude, latitude : float
        Degrees.

    Raises
    ------
    ValueError
        If the data set is too wide for one frame.
    """
    east, north = (
        np.bincount(
            np.concatenate([part[axis][0] for part in spreads]),
            np.concatenate([part[axis][1] for part in spreads]),
        ).astype(np.int64)
        for axis in (0, 1)
    )
    if not east.sum():
        return 0.0, 0.0
    angle = np.radians(PARTITIONS.cell * (np.arange(len(east)) + 0.5) - 180)
    # mean direction, which works across the antimeridian
    middle = np.degrees(np.arctan2((np.sin(angle) * east).sum(), (np.cos(angle) * east).sum()))
    off = (np.degrees(angle) - middle + 180) % 360 - 180
    order = np.argsort(off, kind="stable")
    lon = round(float(middle + _median(off[order], east[order]) + 180) % 360 - 180, 3)
    lat = round(float(_median(PARTITIONS.cell * (np.arange(len(north)) + 0.5) - 90, north)), 3)
    # on the sphere, along the parallel of the centre: near enough for a coarse limit
    away = np.abs((np.degrees(angle) - lon + 180) % 360 - 180)
    metres = np.radians(away) * 6.371e6 * np.cos(np.radians(lat))
    far = int(east[metres > PARTITIONS.widest].sum())
    if far > PARTITIONS.far_share * east.sum():
        raise ValueError(
            f"{far:,} of {int(east.sum()):,} positions lie more than"
            f" {PARTITIONS.widest / 1000:,.0f} km west or east of the middle ({lon:.2f},"
            f" {lat:.2f} degrees): too wide for one frame. Run it"
            " in regions, each from a folder of its own"
        )
    return lon, lat


def _median(values, number):
    """Lower median of values that each occur `number` times."""
    reached = np.cumsum(number)
    return values[np.searchsorted(reached, (reached[-1] + 1) // 2)]


@lru_cache(maxsize=8)  # making one takes as long as fitting a capture
def _local_crs(text, centre):
    """Transverse Mercator with scale 1 on the meridian of the centre, on the datum of a CRS."""
    return ProjectedCRS(
        TransverseMercatorConversion(centre[1], centre[0], 0.0, 0.0, 1.0),
        geodetic_crs=horizontal(text)[1],
    )


@lru_cache(maxsize=16)
def _way(source, target):
    """Transformer between two CRS; east before north, as in WKB, whatever the CRS says."""
    return Transformer.from_crs(source, target, always_xy=True)


@dataclass(frozen=True)
class Frame:
    """Transformation from a CRS to the local frame and back.

    Parameters
    ----------
    text : str
        The CRS, as in `horizontal`.
    centre : tuple of float
        Longitude and latitude in degrees, from the prime meridian of the CRS.
    """

    text: str
    centre: tuple

    @property
    def local_crs(self):
        """Transverse Mercator with scale 1 on the meridian of the centre."""
        return _local_crs(self.text, self.centre)

    @property
    def height_unit(self):
        """Unit of the heights in metres."""
        return horizontal(self.text)[2]

    def local(self, x, y):
        """Local coordinates and point scale factors.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)

        Returns
        -------
        x, y, scale : ndarray of float, shape (n,)
            NaN, with scale 1, where there is no position.

        Notes
        -----
        The scale is cosh(E / R) (J. P. Snyder, Map Projections: A Working Manual, USGS PP 1395,
        1987, eq. 8-4 rewritten in E), R the Gaussian mean radius at the point's latitude.
        """
        crs, geographic, _ = horizontal(self.text)
        east, north = _transform(_way(crs, self.local_crs), *in_range(self.text, x, y))
        a, b = geographic.ellipsoid.semi_major_metre, geographic.ellipsoid.semi_minor_metre
        e2 = 1 - (b / a) ** 2
        latitude = np.radians(self.centre[1]) + north / (a * (1 - e2 / 2))
        scale = np.cosh(east * (1 - e2 * np.sin(latitude) ** 2) / b)
        lost = np.isnan(scale)
        scale[lost] = 1.0
        return east, north, scale

    def back(self, x, y):
        """Positions in the CRS from local coordinates, shape (n,) each."""
        return _transform(_way(self.local_crs, horizontal(self.text)[0]), x, y)
