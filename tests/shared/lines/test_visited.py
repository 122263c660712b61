"""What lies in the surveyed area, and what does not."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.rays import stations_along
from curbwright.shared.lines.visited import places_along, visited_share, visited_stations


def line_layer(*lines):
    xy = [np.asarray(line, float) for line in lines]
    count = len(lines)
    return Lines(
        x=np.concatenate([part[:, 0] for part in xy]),
        y=np.concatenate([part[:, 1] for part in xy]),
        z=np.full(sum(map(len, xy)), np.nan),
        offsets=np.concatenate([[0], np.cumsum([len(part) for part in xy])]),
        line=np.arange(count),
        count=count,
        sigma=np.zeros(count),
        scale=np.ones(count),
    )


def share_of(existing, edges, reach):
    stations = stations_along(existing, 0.5)
    visited = visited_stations(stations, *places_along(edges, reach), reach)
    return visited_share(stations, visited, existing.line, existing.count)


def test_half_a_line_beside_a_walk_is_visited():
    """A parallel walk along the first 100 of 200 m, 9 m aside: 15 m reach on by 12 m."""
    existing = line_layer([[0, 0], [200, 0]], [[0, 40], [200, 40]])
    share = share_of(existing, line_layer([[0, 9], [100, 9]]), 15.0)
    assert_allclose(share, [112 / 200, 0.0], atol=0.004)


@pytest.mark.parametrize("reach", [1.0, 15.0, 60.0])
def test_points_along_stand_for_the_line(reach):
    """The reach is kept to the part in 128 that the docstring gives, and never exceeded."""
    edges = line_layer([[0, 0], [500, 0]])
    x, y = places_along(edges, reach)
    probe = np.linspace(100, 400, 1001)
    for aside, expected in ((reach * 1.0001, False), (reach * (1 - 1 / 120), True)):
        near = np.hypot(probe[:, None] - x, aside - y).min(axis=1) <= reach
        assert (near == expected).all()


def test_polygons_alone_decide_where_they_are_given():
    existing = line_layer([[0, 0], [100, 0]])
    stations = stations_along(existing, 1.0)
    visited = visited_stations(
        stations, np.array([50.0]), np.array([0.0]), 15.0, inside=lambda x, y: x < 25
    )
    assert_allclose(visited_share(stations, visited, existing.line, 1), 0.25)


def test_no_walk_no_visit():
    stations = stations_along(line_layer([[0, 0], [10, 0]]), 1.0)
    none = np.array([np.nan])
    assert not visited_stations(stations, none, none, 15.0).any()


@pytest.mark.parametrize("reach", [0.0, -1.0, np.nan])
def test_bad_reach_is_named(reach):
    stations = stations_along(line_layer([[0, 0], [10, 0]]), 1.0)
    with pytest.raises(ValueError, match="reach"):
        visited_stations(stations, np.zeros(1), np.zeros(1), reach)
