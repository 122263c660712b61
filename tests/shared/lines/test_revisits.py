"""What must be walked again: rows, places and walking order."""

import time
from itertools import permutations

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.revisits import (
    gather,
    in_a_row,
    nominal_interval,
    places_to_revisit,
    walking_order,
)


def length(x, y, way):
    return float(np.hypot(np.diff(x[way]), np.diff(y[way])).sum())


def scattered(seed, size, width=100.0):
    return np.random.default_rng(seed).uniform(0, width, (2, size))


@pytest.mark.parametrize(
    ("group", "along", "rows"),
    [
        pytest.param([], [], [], id="nothing"),
        pytest.param([0], [5.0], [[5.0]], id="one"),
        pytest.param([0, 0, 0], [3.0, 1.0, 2.0], [[1.0, 2.0, 3.0]], id="in any order"),
        pytest.param([0, 0, 0], [1.0, 2.5, 4.1], [[1.0, 2.5], [4.1]], id="at the step and over it"),
        pytest.param(
            [0, 1, 0], [1.0, 2.0, 2.0], [[1.0, 2.0], [2.0]], id="never from one group to the next"
        ),
    ],
)
def test_what_follows_each_other(group, along, rows):
    order, offsets = in_a_row(group, along, 1.5)
    assert [
        np.asarray(along)[order[a:b]].tolist() for a, b in zip(offsets[:-1], offsets[1:])
    ] == rows


def test_interval_of_a_stream_with_holes():
    lost = np.concatenate([np.arange(5), np.arange(100, 110), [300, 340]]) * 0.2
    assert_allclose(nominal_interval(np.zeros(17, int), lost), 0.2, atol=1e-9)
    # epochs lost one by one do not tell: then the limit holds, and none of them follow each other
    assert (
        nominal_interval(np.zeros(4, int), [0.0, 7.0, 20.0, 40.0])
        == 2.0
        == nominal_interval([], [])
    )


@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("reach", [0.0, 2.0, 15.0])
def test_every_finding_is_in_one_place_within_reach(seed, reach):
    x, y = np.round(scattered(seed, 400), 0)  # some of them on one spot
    place, at = gather(x, y, reach)
    assert place.shape == x.shape and set(place.tolist()) == set(range(len(at)))
    assert_array_equal(place[at], np.arange(len(at)))  # each place is one of its own findings
    assert np.hypot(x - x[at[place]], y - y[at[place]]).max() <= reach + 1e-5
    apart = np.hypot(x[at][:, None] - x[at], y[at][:, None] - y[at])
    assert apart[np.triu_indices(len(at), 1)].min() > reach


@pytest.mark.one_in(3)
@pytest.mark.parametrize("seed", range(5))
@pytest.mark.parametrize("start", [None, (50.0, -10.0)])
def test_rows_have_no_say(seed, start):
    x, y = scattered(seed, 300)
    straight = places_to_revisit(x, y, 3.0, start)
    shuffle = np.random.default_rng(100 + seed).permutation(len(x))
    other = places_to_revisit(x[shuffle], y[shuffle], 3.0, start)
    assert_array_equal(other.place, straight.place[shuffle])
    assert_array_equal(shuffle[other.at], straight.at)
    assert_array_equal(other.leg, straight.leg)


@pytest.mark.one_in(4)
@pytest.mark.parametrize("seed", range(12))
def test_short_walks_are_nearly_the_shortest(seed):
    x, y = scattered(seed, 7)
    best = min(length(x, y, list(way)) for way in permutations(range(7)))
    assert length(x, y, walking_order(x, y)) <= 1.15 * best
    begin = np.array([[0.0], [0.0]])
    from_start = min(
        length(*np.column_stack([begin, [x, y]]), [0, *(1 + np.array(way))])
        for way in permutations(range(7))
    )
    assert (
        length(*np.column_stack([begin, [x, y]]), [0, *(1 + walking_order(x, y, (0.0, 0.0)))])
        <= 1.15 * from_start
    )


def test_places_along_an_edge_are_walked_along_it():
    # a ring walked almost round
    angle = np.random.default_rng(3).permutation(np.linspace(0, 5.5, 200))
    way = walking_order(30 * np.cos(angle), 30 * np.sin(angle))
    assert_allclose(np.abs(np.diff(angle[way])), 5.5 / 199)


@pytest.mark.one_host
def test_thousands_of_places_in_seconds():
    x, y = scattered(1, 3000, 1000.0)
    began = time.perf_counter()
    way = walking_order(x, y)
    assert time.perf_counter() - began < 20
    assert_array_equal(np.sort(way), np.arange(3000))
    # the shortest tour of n places on a square of area a is about 0.7124 sqrt(n a) long (Johnson
    # and McGeoch 1997, from memory); a way needs no way back
    assert length(x, y, way) < 1.12 * 0.7124 * np.sqrt(3000) * 1000.0


def test_it_starts_where_it_is_told():
    x, y = np.array([0.0, 10.0, 20.0]), np.zeros(3)
    assert walking_order(x, y, (21.0, 0.0)).tolist() == [2, 1, 0]
    assert walking_order(x, y).tolist() == [0, 1, 2]  # else from the west
    places = places_to_revisit(x, y, 1.0, (24.0, 3.0), np.full(3, 0.5))
    # 3-4-5 triangle; ground metres are local ones through the scale
    assert_allclose(places.leg, [10.0, 20.0, 20.0])
    assert np.isnan(places_to_revisit(x, y, 1.0).leg[0])


@pytest.mark.parametrize("size", [0, 1, 2])
@pytest.mark.parametrize("start", [None, (1.0, 1.0)])
def test_few_places(size, start):
    places = places_to_revisit(*scattered(0, size), 1.0, start)
    assert len(places) == len(places.place) == len(places.leg) == size and sorted(
        places.place.tolist()
    ) == list(range(size))


@pytest.mark.parametrize(
    ("call", "message"),
    [
        (lambda: gather([0.0], [np.nan], 1.0), "1 positions are not finite"),
        (lambda: gather([0.0, 1.0], [0.0], 1.0), "shape"),
        (lambda: gather([0.0], [0.0], -1.0), "reach"),
        (lambda: gather([0.0], [0.0], np.nan), "reach"),
        (lambda: in_a_row([0], [0.0], 0.0), "step"),
        (lambda: in_a_row([0], [np.inf], 1.0), "not finite"),
        (lambda: walking_order([0.0], [0.0], (np.nan, 0.0)), "not finite"),
    ],
)
def test_bad_input_is_named(call, message):
    with pytest.raises(ValueError, match=message):
        call()


def test_looks_come_as_the_work_goes_on():
    """Some every few hundred places, of a number of each part of the work that grows with it."""
    looks = []
    for count in (1000, 4000):
        shares = []
        places_to_revisit(
            *np.random.default_rng(1).uniform(0, 3000, (2, count)), 1.0, None, None, shares.append
        )
        assert shares == sorted(shares) and shares[-1] <= 1.0
        looks.append(np.histogram(shares, [0.0, 0.2, 0.6, 1.0])[0])
    assert (looks[1] >= [8, 7, 4]).all() and (looks[1] >= 2 * looks[0]).all()
