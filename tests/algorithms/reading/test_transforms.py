"""Positions from system to system: PROJ's own way, or a polynomial as near as one can measure."""

import numpy as np
import pytest
from numpy.polynomial.polynomial import polyval2d
from numpy.testing import assert_allclose, assert_array_equal
from osgeo import osr
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
)

from curbwright.algorithms.reading import transforms
from curbwright.algorithms.reading.frames import make_frame

pytestmark = pytest.mark.usefixtures("provider")


def crs_of(name):
    crs = QgsCoordinateReferenceSystem(name)
    assert crs.isValid()
    return crs


def test_no_way_is_an_error():
    moon, earth = osr.SpatialReference(), osr.SpatialReference()
    assert (
        moon.ImportFromProj4("+proj=longlat +R=1737400 +no_defs") == earth.ImportFromEPSG(4326) == 0
    )
    with pytest.raises(transforms.NoWayError):
        transforms.Way(earth, moon)


def test_one_bad_point_spoils_no_other():
    """A block that PROJ refuses is halved until the culprit stands alone."""
    way = QgsCoordinateTransform(
        crs_of("EPSG:4326"), crs_of("EPSG:3857"), QgsCoordinateTransformContext()
    )
    x, y = np.linspace(0, 1, 33), np.linspace(50, 51, 33)
    x[17], y[17] = 10.0, 1e40
    east, north = transforms.transform(way, x, y)
    assert np.isnan(east[17]) and np.isnan(north[17])
    assert np.isfinite(np.delete(east, 17)).all()


def test_no_polynomial_where_none_is_close():
    """A continent's width takes PROJ's own way, and so does a box that the true frame does not
    reach."""
    rng = np.random.default_rng(4)
    for reach in (40.0, 89.0):
        x, y = rng.uniform(-reach, reach, (2, transforms.MANY))
        made = make_frame(crs_of("EPSG:4326"), x.copy(), y.copy())
        assert transforms._polynomial(made.to_local, x, y) is None
        east, _ = transforms.transform(made.to_local, x, y)
        seen = np.isfinite(made.local(x, y)[0])
        assert_allclose(made.local(x, y)[0][seen], east[seen], rtol=0, atol=0)


@pytest.mark.parametrize("width", [10.0, 300.0])
def test_a_long_narrow_box_has_a_polynomial_too(width):
    rng = np.random.default_rng(6)
    x, y = (
        500_000 + rng.uniform(-10_000, 10_000, transforms.MANY),
        6_200_000 + rng.uniform(0, width, transforms.MANY),
    )
    made = make_frame(crs_of("EPSG:32632"), x, y)
    assert transforms._polynomial(made.to_local, x, y) is not None
    assert_allclose(
        made.local(x, y)[:2],
        transforms.transform(made.to_local, x, y),
        rtol=0,
        atol=transforms.CLOSE,
    )


def test_a_polynomial_has_the_digits_of_numpys():
    rng = np.random.default_rng(2)
    for degree in transforms.DEGREES:
        terms = rng.normal(0, 1, (degree + 1, degree + 1))
        u, v = rng.uniform(-1, 1, (2, 9, 5))
        u[3, 2] = v[4, 1] = np.nan
        assert_array_equal(transforms._value_of(terms, u, v), polyval2d(u, v, terms))


@pytest.mark.parametrize("half", [0.2, 0.5, 1.0])
def test_the_way_back_to_degrees_is_as_near_in_metres(half):
    """What is near in degrees is 100 km away."""
    rng = np.random.default_rng(8)
    x, y = 9 + rng.uniform(-half, half, transforms.MANY), 55 + rng.uniform(-half, half, 50_000)
    made = make_frame(crs_of("EPSG:4326"), x.copy(), y.copy())
    east, north, _ = made.local(x, y)
    back, exact = (
        np.stack(made.layer(east, north)),
        np.stack(transforms.transform(made.to_layer, east, north)),
    )
    metres = np.array([[111_320.0 * np.cos(np.radians(54.0))], [111_320.0]])
    assert_allclose(back * metres, exact * metres, rtol=0, atol=2 * transforms.CLOSE)
