"""The local frame: true lengths, the way back, the layer's own datum, and positions that no CRS can
hold."""

import numpy as np
import pytest
from numpy.testing import assert_allclose
from osgeo import osr
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCoordinateTransformContext,
    QgsDistanceArea,
    QgsPointXY,
)

from curbwright.algorithms.reading import frames, transforms

pytestmark = pytest.mark.usefixtures("provider")

# longitude and latitude of a place inside each CRS's area of use
PLACES = {
    "EPSG:4326": (9.0, 55.94),
    "EPSG:3857": (9.0, 55.94),
    "EPSG:32632": (9.0, 55.94),
    "EPSG:2263": (-74.0, 40.7),
    "EPSG:27700": (-2.0, 53.0),
    "EPSG:3031": (10.0, -75.0),
    "EPSG:28355": (147.0, -42.0),
    "EPSG:4269": (-120.0, 38.0),
    "EPSG:27572": (2.34, 46.8),
    "EPSG:4807": (2.34, 46.8),
    "EPSG:4275": (2.34, 46.8),
    "EPSG:7415": (5.0, 52.0),
}


def crs_of(name):
    crs = QgsCoordinateReferenceSystem(name)
    assert crs.isValid()
    return crs


def positions(crs, place, spread, seed=3, count=60):
    """Positions in `crs` within `spread` metres of a place, and the geographic CRS on the same
    datum."""
    rng = np.random.default_rng(seed)
    reference = frames._spatial_reference(crs)
    geographic = osr.SpatialReference()
    geographic.CopyGeogCSFrom(reference)
    geographic_crs = frames._crs_of(geographic)
    # some count in gon, some from another prime meridian
    unit = np.degrees(geographic.GetAngularUnits())
    lon = (
        place[0] + rng.uniform(-1, 1, count) * spread / (111320.0 * np.cos(np.radians(place[1])))
    ) / unit
    lat = (place[1] + rng.uniform(-1, 1, count) * spread / 111320.0) / unit
    if geographic.GetAttrValue("PRIMEM", 0) not in ("Greenwich", None):
        lon = lon - 2.5969213  # gon from Greenwich to Paris (EPSG 8903)
    if crs.isGeographic():
        return lon, lat
    return transforms.transform(
        QgsCoordinateTransform(geographic_crs, crs, QgsCoordinateTransformContext()),
        lon,
        lat,
    )


def ellipsoidal_length(crs, x, y):
    """Length on the ellipsoid between neighbours, by the host's own measure."""
    measure = QgsDistanceArea()
    measure.setSourceCrs(crs, QgsCoordinateTransformContext())
    assert measure.setEllipsoid(crs.ellipsoidAcronym())
    points = [QgsPointXY(*pair) for pair in zip(x.tolist(), y.tolist())]
    return np.array(
        [
            measure.convertLengthMeasurement(
                measure.measureLine(a, b), frames.QgsUnitTypes.DistanceUnit.DistanceMeters
            )
            for a, b in zip(points[:-1], points[1:])
        ]
    )


@pytest.mark.parametrize("name", PLACES)
def test_lengths_are_those_on_the_ellipsoid(name):
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 300.0)
    assert np.isfinite(x).all()
    east, north, scale = frames.make_frame(crs, x.copy(), y.copy()).local(x, y)
    local = np.hypot(np.diff(east), np.diff(north)) / ((scale[1:] + scale[:-1]) / 2)
    # 1 mm in 100 m is demanded; a tenth of that is met by far
    assert_allclose(local, ellipsoidal_length(crs, x, y), rtol=1e-6, atol=1e-5)


@pytest.mark.parametrize(
    ("name", "away"),
    [  # a UTM zone's own coordinates are meant for 200 km at most
        ("EPSG:4326", 20e3),
        ("EPSG:4326", 100e3),
        ("EPSG:4326", 300e3),
        ("EPSG:32632", 20e3),
        ("EPSG:32632", 100e3),
    ],
)
def test_a_wide_layer_does_not_pay_for_its_width(name, away):
    crs = crs_of(name)
    lon, lat = PLACES["EPSG:4326"]
    here = positions(crs, (lon, lat), 50.0)
    degrees = away / (111320.0 * np.cos(np.radians(lat)))
    sides = [
        positions(crs, (lon + sign * degrees, lat + 0.3 * sign * away / 111320.0), 50.0, seed=9)
        for sign in (-1, 1)
    ]
    x, y = (np.concatenate([here[axis], sides[0][axis], sides[1][axis]]) for axis in (0, 1))
    east, north, scale = frames.make_frame(crs, x.copy(), y.copy()).local(x, y)
    rows = np.r_[0:59, 60:119, 120:179]  # not from one place to the next
    local = np.hypot(np.diff(east), np.diff(north)) / ((scale[1:] + scale[:-1]) / 2)
    true = ellipsoidal_length(crs, x, y)
    assert_allclose(local[rows], true[rows], rtol=1e-5, atol=1e-5)


@pytest.mark.parametrize("name", PLACES)
def test_way_back(name):
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 5000.0)
    frame = frames.make_frame(crs, x.copy(), y.copy())
    east, north, _ = frame.local(x, y)
    back = frame.layer(east, north)
    unit = 1e-9 if crs.isGeographic() else 1e-4
    assert_allclose(back, [x, y], rtol=0, atol=unit)


def test_the_datum_is_the_layers_own():
    for name in PLACES:
        crs = crs_of(name)
        x, y = positions(crs, PLACES[name], 100.0)
        frame = frames.make_frame(crs, x, y)
        local = frame.to_local.target
        own = osr.SpatialReference()
        own.CopyGeogCSFrom(frames._spatial_reference(crs))
        assert local.IsSameGeogCS(own)


@pytest.mark.parametrize("name", PLACES)
def test_the_host_goes_the_same_way(name):
    """GDAL's transformation, and QGIS's own between the same reference systems."""
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 5000.0)
    frame = frames.make_frame(crs, x.copy(), y.copy())
    true = frames._crs_of(frame.to_local.target)
    for way, at, there in (
        (frame.to_local, (crs, true), (x, y)),
        (frame.to_layer, (true, crs), transforms.transform(frame.to_local, x, y)),
    ):
        host = QgsCoordinateTransform(*at, QgsCoordinateTransformContext())
        assert_allclose(
            transforms.transform(way, *there),
            transforms.transform(host, *there),
            rtol=1e-14,
            atol=1e-8,
        )


class OlderGeometry:
    """A geometry of GDAL before 3.5, which wrote big-endian unless told otherwise."""

    def __init__(self, geometry):
        self._geometry = geometry
        self.Transform = geometry.Transform

    def ExportToWkb(self, order=transforms.ogr.wkbXDR):
        return self._geometry.ExportToWkb(order)


@pytest.mark.parametrize("name", ["EPSG:32632", "EPSG:7415"])
def test_older_gdal_goes_the_same_way(name, monkeypatch):
    """Before 3.6 it could not take the heights off a compound CRS either.

    The method of GDAL's own class is not replaced: Python 3.11.2 went on calling the function that
    had stood in for it when that was gone already, which ended the process now and then.
    """
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 5000.0)
    expected = frames.make_frame(crs, x.copy(), y.copy()).local(x, y)
    read, made = transforms.ogr.CreateGeometryFromWkb, []

    def read_older(line):
        made.append(OlderGeometry(read(line)))
        return made[-1]

    monkeypatch.setattr(transforms.ogr, "CreateGeometryFromWkb", read_older)
    monkeypatch.delattr(osr.SpatialReference, "StripVertical", raising=False)
    assert_allclose(
        frames.make_frame(crs, x.copy(), y.copy()).local(x, y), expected, rtol=0, atol=1e-9
    )
    assert made


@pytest.mark.parametrize("count", [60, transforms.MANY])
def test_in_place_is_the_same(count):
    crs = crs_of("EPSG:32632")
    x, y = positions(crs, PLACES["EPSG:32632"], 5000.0, count=count)
    x[3] = np.nan
    frame = frames.make_frame(crs, x, y)
    apart = frame.local(x.copy(), y.copy())
    for one, other in zip(apart, frame.local(x, y, in_place=True)):
        np.testing.assert_array_equal(one, other)


@pytest.mark.parametrize("name", ["EPSG:25832", "EPSG:3857", "EPSG:3035"])
def test_a_working_crs_gives_the_same_lengths(name):
    crs = crs_of("EPSG:32632")
    x, y = positions(crs, PLACES["EPSG:32632"], 300.0)
    frame = frames.make_frame(crs, x.copy(), y.copy(), crs_of(name))
    east, north, scale = frame.local(x, y)
    local = np.hypot(np.diff(east), np.diff(north)) / ((scale[1:] + scale[:-1]) / 2)
    # web Mercator on the ellipsoid and equal-area projections stretch by direction
    assert_allclose(local, ellipsoidal_length(crs, x, y), rtol=5e-6, atol=1e-5)
    assert_allclose(frame.layer(east, north), [x, y], atol=1e-4)
    assert abs(np.median(east)) < 500  # small numbers keep their digits


@pytest.mark.parametrize("name", ["EPSG:4326", "EPSG:2263"])
def test_a_working_crs_in_other_units_is_refused(name):
    with pytest.raises(frames.FrameError, match=r"not a projected CRS in metres"):
        frames.make_frame(crs_of("EPSG:32632"), np.array([5e5]), np.array([6e6]), crs_of(name))


def test_a_working_crs_on_another_datum_is_said():
    frame = frames.make_frame(
        crs_of("EPSG:4275"), np.array([2.0, 2.1]), np.array([46.0, 46.1]), crs_of("EPSG:32631")
    )
    assert any("another datum" in sentence for sentence in frame.said)


def test_antimeridian():
    x = np.array([179.9999, -179.9999, 179.9998, -179.9998])
    y = np.array([-17.0, -17.0, -17.0001, -17.0001])
    east, _, _ = frames.make_frame(crs_of("EPSG:4326"), x.copy(), y.copy()).local(x, y)
    assert np.ptp(east) < 50  # not once round the earth


@pytest.mark.parametrize(
    "bad",
    [(np.inf, 55.0), (9.0, -np.inf), (np.nan, 55.0), (9.0, 91.0), (400.0, 55.0), (1e300, 1e300)],
)
@pytest.mark.parametrize("name", ["EPSG:4326", "EPSG:32632"])
def test_impossible_positions_become_nan(name, bad):
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 100.0)
    good_x, good_y, _ = frames.make_frame(crs, x.copy(), y.copy()).local(x, y)
    if name == "EPSG:32632":
        bad = tuple(value * 1e9 for value in bad)
    x, y = np.append(x, bad[0]), np.append(y, bad[1])
    frame = frames.make_frame(crs, x, y)
    east, north, scale = frame.local(x, y)
    assert np.isnan([east[-1], north[-1]]).all()
    assert np.isfinite(scale).all()
    assert_allclose(np.diff(east[:-1]), np.diff(good_x), atol=1e-3)
    assert_allclose(np.diff(north[:-1]), np.diff(good_y), atol=1e-3)


def test_no_position_at_all():
    for name in ("EPSG:4326", "EPSG:32632", None):
        crs = crs_of(name) if name else QgsCoordinateReferenceSystem()
        x = np.full(3, np.nan)
        east, north, scale = frames.make_frame(crs, x, x.copy()).local(x, x)
        assert np.isnan(east).all() and np.isnan(north).all() and (scale == 1).all()


@pytest.mark.parametrize("width", [3.0, 80.0])
def test_without_crs_plane_metres(width):
    x, y = np.array([0.0, width]), np.array([0.0, 1.0])
    frame = frames.make_frame(QgsCoordinateReferenceSystem(), x, y)
    east, north, scale = frame.local(x, y)
    assert np.ptp(east) == width and (scale == 1).all()
    assert_allclose(frame.layer(east, north), [x, y], atol=1e-12)
    assert "no CRS" in frame.said[0]


def test_without_crs_degrees_are_refused():
    with pytest.raises(frames.FrameError, match="look like degrees"):
        frames.make_frame(
            QgsCoordinateReferenceSystem(), np.array([9.0, 9.001]), np.array([55.0, 55.001])
        )


def test_geocentric_is_refused():
    with pytest.raises(frames.FrameError, match="geocentric"):
        frames.make_frame(crs_of("EPSG:4978"), np.array([3.5e6]), np.array([5e5]))


def test_unit_of_heights():
    metre = frames.make_frame(crs_of("EPSG:7415"), np.array([1e5]), np.array([4.5e5]))
    assert metre.height_unit == 1.0
    # NAD83 / Arkansas North (ftUS) + NAVD88 height (ftUS)
    foot = frames.make_frame(crs_of("EPSG:8712"), np.array([1.3e6]), np.array([2e5]))
    # US survey foot, by its definition of 1893
    assert_allclose(foot.height_unit, 1200 / 3937, rtol=1e-9)
    plain = frames.make_frame(crs_of("EPSG:2263"), np.array([9.8e5]), np.array([2e5]))
    assert plain.height_unit == 1.0 and "taken as metres" in plain.said[0]


@pytest.mark.parametrize("name", PLACES)
def test_many_positions_go_the_same_way(name):
    """PROJ's own result, which a polynomial stands for where there are many positions; those
    without a place stay so."""
    crs = crs_of(name)
    x, y = positions(crs, PLACES[name], 20_000.0, count=transforms.MANY)
    x[7] = y[8] = np.nan
    x[9] = np.inf
    made = frames.make_frame(crs, x.copy(), y.copy())
    # one infinite position makes an infinite box
    assert transforms._polynomial(made.to_local, x, y) is None
    x[9] = np.nan
    assert transforms._polynomial(made.to_local, x, y) is not None
    east, north, scale = made.local(x, y)
    assert_allclose(
        np.stack([east, north]),
        transforms.transform(made.to_local, x, y),
        rtol=0,
        atol=transforms.CLOSE,
    )
    assert np.flatnonzero(np.isnan(east)).tolist() == [7, 8, 9] and (scale[7:10] == 1).all()
    back, exact = (
        np.stack(made.layer(east, north)),
        np.stack(transforms.transform(made.to_layer, east, north)),
    )
    unit = np.nanmax(np.ptp(exact[:, 10:], axis=1)) / np.ptp(east[10:])  # of the layer in a metre
    assert_allclose(back, exact, rtol=0, atol=transforms.CLOSE * unit)


def test_a_plane_ends_where_no_survey_is():
    x, y = np.array([0.0, 10.0, 1e300, 5.0]), np.array([0.0, 5.0, 1.0, -1e12])
    made = frames.make_frame(QgsCoordinateReferenceSystem(), x, y)
    east, _, scale = made.local(x, y)
    assert np.isfinite(east).tolist() == [True, True, False, False] and (scale == 1).all()


@pytest.mark.parametrize(("crs", "x", "y"), [("EPSG:4326", 8.0, 54.0), ("EPSG:32632", 4.5e5, 6e6)])
def test_the_turn_of_an_axis_is_where_a_metre_along_it_leads(crs, x, y):
    crs = QgsCoordinateReferenceSystem(crs)
    frame = frames.make_frame(crs, np.array([x, x + 1e-3]), np.array([y, y]))
    turn = frames.axis_turn(frame, crs, np.array([x]), np.array([y]))
    ends = np.array([x, x + 10 * frames.short_step(crs)])
    east, north, _ = frame.local(ends, np.array([y, y]))
    assert turn == pytest.approx([np.arctan2(np.diff(north), np.diff(east))[0]], abs=1e-5)
    assert 5.0 < np.hypot(np.diff(east), np.diff(north))[0] < 12.0


def test_longitudes_may_count_to_360():
    x, y = np.array([190.0, 190.001]), np.array([10.0, 10.0])
    east, _, _ = frames.make_frame(crs_of("EPSG:4326"), x.copy(), y.copy()).local(x, y)
    assert np.diff(east) == pytest.approx([109.6], abs=0.1)
