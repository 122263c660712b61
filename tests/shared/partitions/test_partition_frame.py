"""The frame: ground metres from every CRS, against PROJ's own factors and geodesics."""

import numpy as np
import pytest

pyproj = pytest.importorskip("pyproj", reason="bash setup.sh cluster")

from curbwright.shared.partitions.frame import Frame, centre_of, horizontal, spread  # noqa: E402
from curbwright.shared.tuning import PARTITIONS  # noqa: E402


@pytest.mark.parametrize(("metres", "allowed"), [(0.0, 1e-9), (200e3, 1e-8), (1000e3, 1e-6)])
@pytest.mark.parametrize("latitude", [0.0, 54.0, -70.0])
def test_scale_is_that_of_proj(metres, allowed, latitude):
    projection = pyproj.Proj(proj="tmerc", lat_0=latitude, lon_0=9, k=1, ellps="WGS84")
    lon, lat = projection(np.full(3, metres), np.array([-2e5, 0.0, 2e5]), inverse=True)
    east, _, scale = Frame("EPSG:4326", (9.0, latitude)).local(lon, lat)
    np.testing.assert_allclose(east, metres, atol=1e-6)
    np.testing.assert_allclose(
        scale, projection.get_factors(lon, lat).meridional_scale, rtol=allowed
    )


@pytest.mark.parametrize("crs", ["EPSG:4326", "EPSG:3857", "EPSG:25832", "EPSG:2263", "EPSG:4979"])
def test_lengths_are_those_of_geodesics(crs):
    """Against pyproj.Geod (C. F. F. Karney, Algorithms for geodesics, J. Geodesy 87, 2013), 1 mm in
    100 m as the contract has it."""
    lon, lat = np.array([9.0, 9.001]), np.array([54.0, 54.0007])
    x, y = pyproj.Transformer.from_crs(
        horizontal(crs)[1], horizontal(crs)[0], always_xy=True
    ).transform(lon, lat)
    frame = Frame(crs, (9.2, 54.1))
    east, north, scale = frame.local(x, y)
    truth = horizontal(crs)[0].get_geod().inv(lon[0], lat[0], lon[1], lat[1])[2]
    assert np.hypot(*np.diff([east, north])[:, 0]) / scale.mean() == pytest.approx(truth, rel=1e-5)
    np.testing.assert_allclose(
        frame.back(east, north),
        [x, y],
        rtol=0,
        atol=1e-11 if frame.text in ("EPSG:4326", "EPSG:4979") else 1e-4,
    )


def test_no_position_stays_none():
    east, north, scale = Frame("EPSG:4326", (9.0, 54.0)).local(
        np.array([9.0, np.nan, np.inf, 9.0, 500.0]), np.array([54.0, 54.0, 54.0, 95.0, 0.0])
    )
    assert (
        np.isfinite(east).tolist()
        == np.isfinite(north).tolist()
        == [True, False, False, False, False]
    )
    assert scale[1:].tolist() == [1.0] * 4


def test_the_centre_is_where_most_epochs_are():
    lon, lat = (
        np.append(np.linspace(9, 9.1, 1001), [0.0, -120.0]),
        np.append(np.full(1001, 54.0), [0.0, 80.0]),
    )
    assert centre_of([spread("EPSG:4326", lon, lat)]) == pytest.approx(
        (9.05, 54.0), abs=PARTITIONS.cell
    )


def test_the_centre_is_the_same_however_the_epochs_are_parted():
    rng = np.random.default_rng(0)
    lon, lat = rng.normal(9, 0.5, 1000), rng.normal(54, 0.5, 1000)
    whole = centre_of([spread("EPSG:4326", lon, lat)])
    assert (
        centre_of(
            [
                spread("EPSG:4326", lon[part], lat[part])
                for part in np.array_split(rng.permutation(1000), 7)
            ]
        )
        == whole
    )


def test_the_antimeridian_is_no_border():
    lon = np.concatenate([np.linspace(179.9, 180, 500), np.linspace(-180, -179.9, 500)])
    longitude, _ = centre_of([spread("EPSG:4326", lon, np.full(1000, -17.0))])
    assert abs(abs(longitude) - 180) < 2 * PARTITIONS.cell


def test_no_positions_have_a_centre_too():
    assert centre_of([spread("EPSG:4326", np.full(3, np.nan), np.zeros(3))]) == (0.0, 0.0)


def test_what_is_too_wide_is_refused():
    with pytest.raises(ValueError, match="too wide"):
        centre_of([spread("EPSG:4326", np.linspace(-30, 30, 100), np.full(100, 10.0))])


@pytest.mark.parametrize(
    ("crs", "unit"),
    [
        ("EPSG:25832", 1.0),
        ("EPSG:2263", 1.0),
        ("EPSG:2263+6360", 1200 / 3937),
        ("EPSG:4979", 1.0),
        ("EPSG:25832+8228", 0.3048),
    ],
)
def test_units_of_heights(crs, unit):
    """EPSG: unit 9003 is 1200/3937 m, unit 9002 is 0.3048 m. A plane CRS says nothing of
    heights."""
    assert horizontal(crs)[2] == pytest.approx(unit, rel=1e-12)


@pytest.mark.parametrize(
    "crs", ["EPSG:4978", "EPSG:5703", 'LOCAL_CS["site",UNIT["metre",1]]', "nowhere"]
)
def test_what_is_no_map_is_refused(crs):
    with pytest.raises(ValueError, match="CRS"):
        horizontal(crs)
