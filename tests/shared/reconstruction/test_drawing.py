"""What is drawn from fitted runs: stations, statistics, places of epochs."""

import numpy as np
import pytest
from epochwalks import STEP, along, line, table_of, table_of_captures
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.reconstruction.drawing import _between, _places_of_stations, _sigma
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct


@pytest.mark.parametrize(
    ("length", "closed", "expected"),
    [
        (10.0, False, [0, 4, 8, 10]),
        (8.0, False, [0, 4, 8]),
        (8.0005, False, [0, 4, 8]),  # less than a millimetre is left
        (8.002, False, [0, 4, 8, 8.002]),
        (8.0 - 1e-10, False, [0, 4, 8]),
        (10.0, True, [0, 4, 8]),
        (8.0, True, [0, 4]),  # a ring's end is its start
        (3.0, False, [0, 3]),
        (3.0, True, [0]),
    ],
)
def test_places_of_stations(length, closed, expected):
    run, place = _places_of_stations(np.array([length, 5.0]), np.array([closed, False]), 4.0)
    assert_array_equal(run, np.repeat([0, 1], [len(expected), 3]))
    assert_allclose(place[run == 0], expected, atol=1e-9)
    assert_array_equal(place[run == 1], [0, 4, 5])


def test_between_knots_of_the_own_run():
    knots, offsets = np.array([0.0, 1.0, 3.0, 10.0, 14.0]), np.array([0, 3, 5])
    where, run = np.array([0.0, 2.0, 3.5, 10.0, 12.0, 15.0]), np.array([0, 0, 0, 1, 1, 1])
    before, share = _between(where, knots, offsets, run)
    assert_array_equal(before, [0, 1, 1, 3, 3, 3])
    assert_allclose(share, [0.0, 0.5, 1.0, 0.0, 0.5, 1.0])


def test_sigma_is_the_mean_variance_and_the_slow_part():
    fitted = np.array([0.01, 0.03, np.nan, np.nan])
    sigma = _sigma(fitted, np.array([0.02, 0.04]), np.array([0, 3, 4]))
    assert sigma[0] == pytest.approx(np.sqrt(0.02 + 0.02))
    assert np.isnan(sigma[1])  # no height in the whole run


@pytest.fixture(scope="module")
def sloping():
    """A straight edge that rises, in a frame that is twice as large as the ground."""
    x, y = along([("line", 100.0)], 0.005, 3)
    z = 4.0 + 0.05 * x / 2
    table = table_of(x, y, z=z, scale=np.full(len(x), 2.0))
    return table, reconstruct(table, Settings(station_spacing=10.0))


def test_stations_lie_on_the_line_written(sloping):
    _, result = sloping
    stations, vertices = result.stations, line(result.edges, 0)
    length = result.edges.length[0]
    assert_allclose(stations.chainage, [*np.arange(0, length, 10.0), length], atol=1e-6)
    start, end = vertices[0], vertices[-1]
    share = stations.chainage / length
    on_line = start + share[:, None] * (end - start)
    assert_allclose(np.column_stack([stations.x, stations.y]), on_line[:, :2], atol=0.02)
    assert_allclose(stations.z, on_line[:, 2], atol=0.02)


@pytest.mark.parametrize(("slope", "scale"), [(0.05, 1.0), (-0.08, 1.0), (0.05, 1.8)])
def test_slope_is_height_over_ground_and_positive_where_the_edge_rises(slope, scale):
    """Web Mercator is 1.8 times as large as the ground at 56 degrees north."""
    x, y = along([("line", 100.0)], heading=0.0)
    table = table_of(scale * x, y, z=4.0 + slope * x, scale=np.full(len(x), scale))
    stations = reconstruct(table, Settings(station_spacing=10.0)).stations
    assert_allclose(stations.slope, slope, atol=1e-6)
    assert_allclose(np.diff(stations.z), slope * np.diff(stations.chainage), atol=1e-6)


def test_sides_across_the_slope_have_the_heights_of_the_ground():
    """Recesses of 1.5 m in ground that falls by 3 % across the walk."""
    into = [("corner", 90), ("line", 1.5), ("corner", -90), ("line", 2.0)]
    out = [("corner", -90), ("line", 1.5), ("corner", 90), ("line", 5.0)]
    x, y = along([("line", 5.0), *(6 * [*into, *out])], 0.003, 5, step=0.25, heading=0.0)
    noise = np.random.default_rng(5).normal(0.0, 0.015, len(x))
    table = table_of(x, y, z=4.0 + 0.03 * y + noise, seconds=0.25 * np.arange(len(x)))
    result = reconstruct(table, Settings(station_spacing=0.25))
    stations, vertices = result.stations, line(result.edges, 0)
    assert len(result.edges) == 1
    for points in (vertices, np.column_stack([stations.x, stations.y, stations.z])):
        off = points[:, 2] - 4.0 - 0.03 * points[:, 1]
        assert np.sqrt(np.mean(off**2)) < 0.006  # 0.011 and 0.015 by grades alone
    side = (stations.y > 0.5) & (stations.y < 1.0)
    uphill = np.sign(np.gradient(stations.y))[side]
    assert_allclose(np.mean(stations.slope[side] * uphill), 0.03, atol=0.008)
    at_epochs = table.z - result.residual_up - 4.0 - 0.03 * table.y
    assert np.sqrt(np.mean(at_epochs**2)) < 0.006


def test_levels_of_rounded_heights_cancel_along_a_grade_alone():
    """Heights rounded to 0.1 m: twelve walks that rise by 2 %, and twelve on level ground."""
    rng = np.random.default_rng(8)
    way = STEP * np.arange(90.0)
    rises = np.arange(24)[:, None] < 12
    true = np.where(rises, rng.uniform(0.0, 0.1, (24, 1)) + 0.02 * way, 0.02)
    noise = rng.normal(0, 0.005, (2, 24, 90))
    table, _ = table_of_captures(
        [{"x": way, "y": y, "z": np.round(z, 1)} for y, z in zip(noise[0], true + noise[1])]
    )
    edges = reconstruct(table, Settings()).edges
    assert_array_equal(edges.capture, np.arange(24))
    ends = edges.offsets[1:] - 1
    off = np.abs(edges.z[ends] - true[:, -1])
    assert (off < 1.96 * edges.sigma_up).mean() > 0.9
    assert (edges.sigma_up[:12] < 0.011).all()  # 0.0124 as if each level were an error of its own
    assert (edges.sigma_up[12:] > 0.1 / np.sqrt(12)).all()


def test_stations_are_most_certain_in_the_middle(sloping):
    stations = sloping[1].stations
    middle = len(stations) // 2
    for sigma in (stations.sigma_cross, stations.sigma_up):
        assert sigma[middle] < sigma[0] and sigma[middle] < sigma[-1]
    mean = sloping[1].edges.sigma_cross[0]
    assert stations.sigma_cross.min() < mean < stations.sigma_cross.max()


@pytest.mark.parametrize("odd", [1.0, 9999.0, 4294967.295])
def test_heights_that_count_for_nothing_leave_the_uncertainty_of_heights_alone(odd):
    """A receiver writes 0xFFFFFFFF mm, or nines, where it knows no vertical accuracy."""
    x, y = along([("line", 60.0)], 0.005, 3)
    sigma_v = np.full(len(x), 0.015)
    right = reconstruct(table_of(x, y, sigma_v=sigma_v), Settings()).edges.sigma_up
    sigma_v[20] = odd
    found = reconstruct(table_of(x, y, sigma_v=sigma_v), Settings()).edges.sigma_up
    assert_allclose(found, right, rtol=0.1)


@pytest.mark.parametrize("odd", [1.0, 9999.0])
def test_nor_do_they_count_where_somebody_stood(odd):
    """One position of several epochs, of which one reports a poor vertical accuracy."""
    x, y = along([("line", 60.0)], 0.005, 3)
    stood = np.sort(np.append(np.arange(len(x)), [30] * 9))
    x, y, sigma_v = x[stood], y[stood], np.full(len(stood), 0.015)
    right = reconstruct(table_of(x, y, sigma_v=sigma_v), Settings()).edges.sigma_up
    sigma_v[34] = odd
    found = reconstruct(table_of(x, y, sigma_v=sigma_v), Settings()).edges.sigma_up
    assert_allclose(found, right, rtol=0.1)


def test_lengths_are_those_on_the_ground(sloping):
    table, result = sloping
    walked = np.hypot(table.x[-1] - table.x[0], table.y[-1] - table.y[0])
    assert result.edges.length[0] == pytest.approx(walked / 2, abs=0.02)
    assert result.chainage.max() == pytest.approx(result.edges.length[0], abs=0.01)
    assert np.diff(result.chainage).mean() == pytest.approx(STEP / 2, rel=0.02)
    cross = result.residual_cross
    assert result.edges.rms_residual[0] == pytest.approx(np.sqrt(np.mean(cross**2)))
    assert result.edges.max_residual[0] == np.abs(cross).max()
