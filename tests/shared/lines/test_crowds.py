"""Very many lines in one place: the same result, and work that grows with their number."""

import numpy as np
import pytest
from lineshapes import layer, lines_of, straight
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines import crowds
from curbwright.shared.lines.crowds import leading, meet_own, meet_pieces
from curbwright.shared.lines.end_pairs import EndProperties, JoinLimits, find_ends, find_pairs
from curbwright.shared.lines.joins import join_edges
from curbwright.shared.lines.merge_results import MERGED
from curbwright.shared.lines.passes import merge_passes
from curbwright.shared.lines.rays import Index, stations_along
from curbwright.shared.tuning import CROWDS


def walks(number, seed=1, side=0.0, up=0.0):
    """Walks of one edge of 12 m, every third the other way, 3 mm and 5 mm off at random."""
    rng, found = np.random.default_rng(seed), []
    for turn in range(number):
        x = np.linspace(0.0, 12.0 + 0.01 * turn, 9)
        y = 0.4 * np.sin(x / 4) + side + rng.normal(0, 0.003)
        one = np.column_stack([x, y, 4.0 + up + rng.normal(0, 0.005) + 0.01 * x])
        found.append(one[::-1] if turn % 3 == 2 else one)
    return found


def star(number, reach=12.0):
    """Edges that all begin in one point."""
    at = np.linspace(0.0, reach, 5)
    return [
        np.column_stack([at * np.cos(turn), at * np.sin(turn), 4.0 + 0.0 * at])
        for turn in 2 * np.pi * np.arange(number) / number
    ]


def test_a_crowd_merges_to_the_edge_that_comparing_all_gives(monkeypatch):
    lines = layer(*walks(CROWDS.most + 12), sigma=0.006)
    few = merge_passes(lines)
    monkeypatch.setattr(crowds, "leading", lambda rays, group: np.ones(len(rays), bool))
    every = merge_passes(lines)
    assert few.edges.state.tolist() == every.edges.state.tolist() == [MERGED]
    assert few.edges.passes.tolist() == [CROWDS.most + 12]
    assert_array_equal(few.edges.offsets, every.edges.offsets)
    for name in ("x", "y", "z", "sigma"):
        assert_allclose(getattr(few.edges, name), getattr(every.edges, name), atol=1e-9)
    assert_allclose(few.repeatability, every.repeatability, rtol=1e-9)


@pytest.mark.parametrize("apart", [{"side": 0.09}, {"up": 0.12}])
def test_two_edges_in_one_crowd_stay_two(apart):
    number = CROWDS.most
    made = merge_passes(layer(*walks(number), *walks(number, seed=2, **apart), sigma=0.003)).edges
    assert made.state.tolist() == [MERGED, MERGED]
    assert made.passes.tolist() == [number, number]


def met(number):
    lines = lines_of(*walks(number))
    rays = stations_along(lines, 0.5)
    return len(meet_pieces(lines, rays, np.zeros(number, int), 0.15))


def test_what_hundreds_of_walks_of_one_edge_meet_grows_with_their_number():
    found = [met(number) for number in (60, 120, 240)]
    assert found[2] < 2.6 * found[1] < 2.6 * 2.6 * found[0]


def test_outside_crowds_all_stations_lead():
    rays = stations_along(lines_of(*walks(CROWDS.most)), 0.5)
    assert leading(rays, np.zeros(CROWDS.most, int)).all()


def test_a_walk_that_comes_back_to_a_crowd_meets_itself():
    """Two laps of a square in one go, among many walks of its first side."""
    square = np.array([(0, 0), (12, 0), (12, 12), (0, 12), (0, 0), (12, 0), (12, 9)], float)
    lines = lines_of(square, *(straight(0.001 * turn, (0, 12)) for turn in range(40)))
    rays = stations_along(lines, 0.5)
    group = np.zeros(41, int)
    found, every = meet_pieces(lines, rays, group, 0.15), Index(lines).meet(rays, 0.15)
    for candidates in (found, every):
        own = (rays.part[candidates.station] == 0) & (candidates.part == 0)
        away = np.abs(rays.chainage[candidates.station] - candidates.chainage)
        assert np.count_nonzero(own & (away > 40)) == 2 * 2 * (12 + 9)


def of_paths(number):
    """What stations of a star's lines meet of their own path, two lines a path, and a third one
    now and then of none."""
    lines = lines_of(*star(number))
    rays = stations_along(lines, 0.5)
    path = np.where(np.arange(number) % 7, np.arange(number) // 2, -1)
    owner = path[rays.part]
    return meet_own(lines, rays, owner, rays, path, 0.3), lines, rays, owner, path


@pytest.mark.parametrize("number", [CROWDS.most - 1, 3 * CROWDS.most])
def test_stations_of_a_path_meet_the_same_of_their_own_in_a_crowd(number):
    found, lines, rays, owner, path = of_paths(number)
    every = Index(lines).meet(rays, 0.3)
    own = owner[rays.at(every.part, every.chainage)] == path[rays.part[every.station]]
    own &= path[rays.part[every.station]] >= 0
    rows = np.flatnonzero(path[rays.part[found.station]] >= 0)
    for name in ("station", "part", "chainage", "same", "offset", "z"):
        assert_array_equal(getattr(found.take(rows), name), getattr(every.take(own), name))


def test_what_paths_of_a_star_look_at_grows_with_their_number(monkeypatch):
    looked, boxes = [], Index._boxes

    def counted(index, lines):
        found = boxes(index, lines)
        looked.append(len(found[0]))
        return found

    monkeypatch.setattr(Index, "_boxes", counted)
    sizes = []
    for number in (100, 200, 400):
        looked.clear()
        of_paths(number)
        sizes.append(sum(looked))
    assert sizes[2] < 2.2 * sizes[1] < 2.2 * 2.2 * sizes[0]


@pytest.mark.one_host
def test_a_station_in_a_crowd_meets_the_nearest():
    lines = lines_of(*(straight(0.003 * number, (0, 10)) for number in range(200)))
    rays = stations_along(lines, 0.5)
    every, few = (Index(lines).meet(rays, 1.0, most=most) for most in (None, 9))
    assert np.bincount(few.station).max() == 9 < np.bincount(every.station).max()
    for station in range(0, len(rays), 97):
        here, all_here = few.station == station, every.station == station
        assert_allclose(
            np.sort(np.abs(few.offset[here])), np.sort(np.abs(every.offset[all_here]))[:9]
        )


def test_distances_in_a_crowd_are_those_of_the_nearest():
    lines = lines_of(*star(300))
    x, y = np.random.default_rng(5).uniform(-8, 8, (2, 4000))
    index = Index(lines)
    near = index.nearest(x, y, 0.5)
    exact = index.nearest(x, y, 50.0)
    assert np.isinf(near[exact > 0.5]).all()
    assert_allclose(near[exact <= 0.5], exact[exact <= 0.5], atol=1e-12)


def test_thousands_of_ends_in_one_point_make_no_pairs_and_are_listed():
    lines, limits = lines_of(*star(260)), JoinLimits()
    ends = find_ends(lines, limits)
    nothing = np.zeros(520)
    of = EndProperties(nothing, nothing, np.zeros(520, int), np.zeros(520, bool))
    pairs = find_pairs(ends, limits, of)
    middle = np.hypot(ends.x, ends.y) < 1e-6
    assert np.count_nonzero(middle) == 260
    assert not (middle[pairs.i] | middle[pairs.j]).any()
    changes = join_edges(lines).changes
    sizes = np.diff(changes.offsets)
    assert 260 in sizes
