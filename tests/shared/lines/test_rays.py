"""Stations, and rays and nearest distances against brute force."""

from dataclasses import fields, replace

import numpy as np
import pytest
import shapely
from lineshapes import arc, lines_of, straight, wiggle
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines import rays as looked_up
from curbwright.shared.lines.rays import Index, stations_along
from curbwright.shared.tuning import MATCHING


@pytest.mark.parametrize("spacing", [0.3, 1.0, 7.0])
def test_stations_share_each_part_out_evenly(spacing):
    lines = lines_of(
        straight(0, (0, 10.4)), [arc(5, 0, 3, 40), straight(3, (0, 0.5))], [[0, 0], [0, 0]]
    )
    rays = stations_along(lines, spacing)
    assert_array_equal(np.diff(rays.first) >= [4, 4, 4, 0], True)
    assert rays.first[-1] == rays.first[-2]  # no length, no station
    assert rays.weight.max() <= spacing + 1e-9
    assert_allclose(np.bincount(rays.part, rays.weight, 4), lines.part_length(), atol=1e-9)
    for part in range(3):
        own = rays.part == part
        line = shapely.linestrings(
            np.column_stack([lines.x, lines.y])[lines.offsets[part] : lines.offsets[part + 1]]
        )
        at = shapely.get_coordinates(shapely.line_interpolate_point(line, rays.chainage[own]))
        assert_allclose(np.column_stack([rays.x, rays.y])[own], at, atol=1e-9)
        assert_array_equal(rays.at(rays.part[own], rays.chainage[own]), np.flatnonzero(own))
    assert_allclose(np.hypot(rays.along_x, rays.along_y), 1)


@pytest.mark.parametrize("seed", range(5))
def test_rays_meet_what_brute_force_meets(seed):
    """Every offset against shapely's intersection of the ray with whole lines: equal to 1e-6 m."""
    rng = np.random.default_rng(seed)
    existing, edges = (lines_of(*(wiggle(rng) for _ in range(15))) for _ in range(2))
    rays, reach = stations_along(existing, 1.0), 3.0
    met = Index(edges).meet(rays, reach)
    geometries = [
        shapely.linestrings(np.column_stack([edges.x, edges.y])[a:b])
        for a, b in zip(edges.offsets[:-1], edges.offsets[1:])
    ]
    right = np.column_stack([rays.along_y, -rays.along_x])
    position = np.column_stack([rays.x, rays.y])
    ray = shapely.linestrings(
        np.stack([position - reach * right, position + reach * right], axis=1)
    )
    found = 0
    for part, geometry in enumerate(geometries):
        hit = shapely.intersects(ray, geometry)
        assert hit[met.station[met.part == part]].all()
        for station in np.flatnonzero(hit):
            hits = shapely.get_coordinates(shapely.intersection(ray[station], geometry))
            expected = np.sort((hits - position[station]) @ right[station])
            # crossings at an angle are no candidates
            direction = [
                direction_at(geometry, hit) @ [rays.along_x[station], rays.along_y[station]]
                for hit in hits
            ]
            keep = (
                np.abs(np.array(direction)[np.argsort((hits - position[station]) @ right[station])])
                >= np.cos(np.radians(40))
                if len(hits)
                else []
            )
            own = (met.station == station) & (met.part == part)
            assert_allclose(
                np.sort(met.offset[own]), expected[keep] if len(hits) else [], atol=1e-6
            )
            along = shapely.line_interpolate_point(geometry, met.chainage[own])
            assert_allclose(
                shapely.get_coordinates(along),
                position[station] + met.offset[own][:, None] * right[station],
                atol=1e-6,
            )
            found += np.count_nonzero(own)
    assert found > 20


def direction_at(geometry, point):
    xy = shapely.get_coordinates(geometry)
    segments = shapely.linestrings(np.stack([xy[:-1], xy[1:]], axis=1))
    k = int(np.argmin(shapely.distance(segments, shapely.points(point))))
    step = xy[k + 1] - xy[k]
    return step / np.hypot(*step)


def test_a_ray_through_a_vertex_meets_the_line_once():
    edges = lines_of([[0, 1], [5, 1], [10, 1]])
    existing = lines_of([[4.5, 0], [5.5, 0]])
    for spacing in (1.0, 0.2):
        met = Index(edges).meet(stations_along(existing, spacing), 2.0)
        assert_array_equal(met.station, np.arange(len(stations_along(existing, spacing))))


@pytest.mark.parametrize("farthest", [0.7, 3.0, 6.0, np.inf])  # two ways to look, by how far
def test_nearest_distance_is_shapelys(farthest):
    rng = np.random.default_rng(1)
    lines = lines_of(*(wiggle(rng) for _ in range(15)))
    points = rng.uniform(-30, 30, (300, 2))
    geometry = shapely.multilinestrings(
        [
            np.column_stack([lines.x, lines.y])[a:b]
            for a, b in zip(lines.offsets[:-1], lines.offsets[1:])
        ]
    )
    expected = shapely.distance(geometry, shapely.points(points))
    expected[expected > farthest] = np.inf
    assert np.isfinite(expected).any()
    assert_allclose(Index(lines).nearest(*points.T, farthest), expected, atol=1e-9)


def test_near_takes_in_all_that_could_be_met():
    edges = lines_of(straight(0.0), [[500, 500], [520, 500]])
    other = lines_of(
        straight(1.9),
        straight(2.1),
        [[519, 501], [519, 540]],
        [[200, 200], [201, 200]],
        None,
        [straight(90.0), straight(0.3)],
    )
    assert_array_equal(Index(edges).near(other, 2.0), [True, False, True, False, False, True])
    some = np.array([False, False, True, False, False, True])
    met = Index(other, some).meet(stations_along(edges, 1.0), 2.0)
    assert set(met.part.tolist()) == {5}  # numbered as in the whole layer
    assert not Index(lines_of()).near(other, 2.0).any()


def test_long_segments_in_any_direction_are_found():
    edges = lines_of([[-2000, -1000 + 0.5], [2000, 1000 + 0.5]])
    existing = lines_of([[-1000, -500], [1000, 500]])
    met = Index(edges).meet(stations_along(existing, 10.0), 2.0)
    assert len(met) == len(stations_along(existing, 10.0))
    assert_allclose(met.offset, -0.5 * np.cos(np.arctan2(1, 2)), atol=1e-9)


def test_a_pile_of_lines_behind_sparse_ones_is_looked_up_piece_by_piece(monkeypatch):
    """What sparse lines let expect of the next rays must not decide how much memory they take."""
    lines = lines_of(*(straight(20.0 * row) for row in range(40)), *[straight(900.0)] * 60)
    other = lines_of(straight(0.0), *(straight(900.0 + 1e-4 * row) for row in range(60)))
    plain = Index(other).meet(stations_along(lines, 1.0), 2.0)
    apart = Index(other).nearest(lines.x, lines.y, 2.0)
    monkeypatch.setattr(looked_up, "MATCHING", replace(MATCHING, hits=3_000, first_block=100))
    sizes, found_by = [], Index._found_by

    def counted(index, rays, own, reach):
        made = found_by(index, rays, own, reach)
        sizes.append((len(own), len(made[0])))
        return made

    monkeypatch.setattr(Index, "_found_by", counted)
    worked_on, met = [], Index._met
    monkeypatch.setattr(
        Index, "_met", lambda *given: (worked_on.append(len(given[4][0])), met(*given))[1]
    )
    index = Index(other)
    pieces = index.meet(stations_along(lines, 1.0), 2.0)
    for column in fields(pieces):
        assert_array_equal(getattr(pieces, column.name), getattr(plain, column.name))
    assert max(hits for _, hits in sizes) > 6_000 >= max(worked_on)
    assert_array_equal(index.nearest(lines.x, lines.y, 2.0), apart)
