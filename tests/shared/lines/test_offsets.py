"""Statistics of offsets against plain numpy, distances against shapely."""

import numpy as np
import pytest
import shapely
from lineshapes import arc, lines_of, straight, wiggle
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.offsets import (
    by_line,
    distance_to_stretch,
    of_layer,
    translations,
    weighted_percentile,
)


def test_statistics_of_lines_are_those_of_numpy():
    rng = np.random.default_rng(1)
    line = np.repeat([0, 2, 3, 5], [7, 1, 40, 2])
    offset, up = rng.normal(0.1, 0.2, 50), rng.normal(0, 0.1, 50)
    up[[3, 7, 10]] = np.nan
    shuffle = rng.permutation(50)
    found = by_line(line[shuffle], 6, offset[shuffle], up[shuffle])
    assert_array_equal(found["stations"], [7, 0, 1, 40, 0, 2])
    for k in range(6):
        own, heights = offset[line == k], up[line == k][np.isfinite(up[line == k])]
        if not own.size:
            assert all(np.isnan(values[k]) for name, values in found.items() if name != "stations")
            continue
        assert_allclose(found["offset_mean"][k], own.mean())
        assert_allclose(found["offset_median"][k], np.median(own))
        assert_allclose(found["offset_rmse"][k], np.sqrt(np.mean(own**2)))
        assert_allclose(found["offset_p95"][k], np.percentile(np.abs(own), 95))
        assert_allclose(found["offset_max"][k], np.abs(own).max())
        assert_allclose(found["offset_sd"][k], own.std(ddof=1) if len(own) > 1 else np.nan)
        assert_allclose(found["up_mean"][k], heights.mean() if heights.size else np.nan)
        assert_allclose(
            found["up_rmse"][k], np.sqrt(np.mean(heights**2)) if heights.size else np.nan
        )


def test_statistics_of_a_layer_with_equal_weights_are_those_of_numpy():
    rng = np.random.default_rng(2)
    offset = rng.normal(0.1, 0.2, 51)
    layer = of_layer(offset, np.full(51, np.nan), np.full(51, 0.7), 3.0)
    assert_allclose(
        [
            layer.offset_mean,
            layer.offset_median,
            layer.offset_sd,
            layer.offset_rmse,
            layer.offset_max,
            layer.area_per_metre,
        ],
        [
            offset.mean(),
            np.median(offset),
            offset.std(ddof=1),
            np.sqrt(np.mean(offset**2)),
            np.abs(offset).max(),
            np.abs(offset).mean(),
        ],
    )
    assert (
        layer.matched_length == pytest.approx(51 * 0.7)
        and layer.stations == 51
        and np.isnan(layer.up_mean)
    )


def test_a_long_line_weighs_as_much_as_the_short_ones_it_could_be_cut_into():
    values, weight = np.array([0.0, 1.0, 2.0]), np.array([2.0, 1.0, 1.0])
    assert (
        weighted_percentile(values, weight, 0.25)
        == weighted_percentile(np.array([0.0, 0.0, 1.0, 2.0]), np.ones(4), 0.25)
        == 0
    )
    layer = of_layer(values, values, weight, np.nan)
    assert layer.offset_mean == layer.up_mean == 0.75
    assert layer.offset_rmse == layer.up_rmse == pytest.approx(np.sqrt(5 / 4))


def test_no_stations_give_no_statistics():
    layer = of_layer(np.zeros(0), np.zeros(0), np.zeros(0), np.nan)
    assert (
        layer.stations == 0
        and layer.matched_length == 0
        and np.isnan(layer.offset_rmse)
        and np.isnan(layer.area_per_metre)
    )
    assert_array_equal(by_line(np.zeros(0, int), 2, np.zeros(0), np.zeros(0))["stations"], [0, 0])


def test_the_move_of_a_line_is_found_where_it_can_be_seen():
    rng = np.random.default_rng(3)
    angle = rng.uniform(0, 6.3, 200)
    east, north, line = np.cos(angle), np.sin(angle), np.repeat([0, 1], 100)
    true = np.array([[0.7, -1.2], [0.0, 0.3]])
    offset = (np.column_stack([east, north]) * true[line]).sum(axis=1)
    move, seen = translations(line, 3, east, north, offset, np.ones(200))
    assert_allclose(move[:2], true, atol=1e-9)
    assert_array_equal(seen, [True, True, False])
    move, seen = translations(np.zeros(5, int), 1, np.zeros(5), np.ones(5), np.ones(5), np.ones(5))
    assert not seen[0] and not move.any()


@pytest.mark.parametrize("seed", range(4))
def test_distance_to_a_stretch_is_that_to_the_line_where_the_nearest_place_lies_in_it(seed):
    rng = np.random.default_rng(seed)
    lines = lines_of(wiggle(rng, 30), arc(6, 0.3, 0.3 + 2 * np.pi, 50))
    ring = shapely.linestrings(np.column_stack([lines.x, lines.y])[lines.offsets[1] :])
    walk = shapely.linestrings(np.column_stack([lines.x, lines.y])[: lines.offsets[1]])
    for part, geometry in enumerate((walk, ring)):
        at = rng.uniform(0, shapely.length(geometry), 200)
        points = shapely.get_coordinates(shapely.line_interpolate_point(geometry, at)) + rng.normal(
            0, 0.3, (200, 2)
        )
        nearest = shapely.line_locate_point(geometry, shapely.points(points))
        found = distance_to_stretch(
            lines, *points.T, np.full(200, part), nearest, np.full(200, 2.0)
        )
        assert_allclose(found, shapely.distance(geometry, shapely.points(points)), atol=1e-9)


def test_a_stretch_goes_round_the_seam_of_a_ring():
    ring = lines_of([[0, 0], [10, 0], [10, 10], [0, 10], [0, 0]])
    # opposite sides of the seam at (0, 0)
    found = distance_to_stretch(
        ring,
        np.array([-0.1, 0.5]),
        np.array([0.5, -0.1]),
        np.array([0, 0]),
        np.array([0.2, 39.8]),
        np.array([1.0, 1.0]),
    )
    assert_allclose(found, 0.1)


@pytest.mark.parametrize("seed", range(4))
def test_hausdorff_of_a_pair_is_shapelys(seed):
    rng = np.random.default_rng(seed)
    base = np.column_stack([np.linspace(0, 60, 25), np.cumsum(rng.normal(0, 0.3, 25))])
    edge = base + np.column_stack([np.zeros(25), 0.3 + 0.2 * np.sin(np.linspace(0, 9, 25))])
    result = compare(lines_of(edge), lines_of(base), ComparisonSettings(station_spacing=0.5))
    whole = shapely.hausdorff_distance(
        shapely.linestrings(edge), shapely.linestrings(base), densify=0.001
    )
    assert result.existing_statistics.hausdorff[0] == pytest.approx(whole, abs=0.01)
    assert result.edge_statistics.hausdorff[0] == pytest.approx(whole, abs=0.01)


def test_area_between_lines_a_metre():
    result = compare(lines_of(straight(0.5)), lines_of(straight(0.0)))
    assert result.layer.area_per_metre == pytest.approx(0.5)
