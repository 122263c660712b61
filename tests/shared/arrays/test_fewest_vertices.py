"""The fewest vertices within a tolerance; `thin`, which halves, is what they are compared with."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_array_equal
from test_thinning import arc, assert_is_near, distances, random_curves, sections_of

from curbwright.shared import tuning
from curbwright.shared.arrays.fewest_vertices import fewest
from curbwright.shared.arrays.thinning import thin


def ends_of(count):
    ends = np.zeros(count, bool)
    ends[[0, -1]] = True
    return ends


def fewest_chords(x, y, tolerance):
    """Number of chords that a line through samples needs, by trying all of them."""
    cost = np.full(len(x), np.inf)
    cost[0] = 0
    for last in range(1, len(x)):
        for first in range(last):
            off, _ = distances(x, y, 0 * x, [first, last])
            if off <= tolerance:
                cost[last] = min(cost[last], cost[first] + 1)
    return int(cost[-1])


@given(st.integers(0, 10_000), st.floats(0.001, 0.5), st.floats(0.001, 0.5))
def test_tolerance_is_kept_in_plan_and_height(seed, tolerance, up_tolerance):
    x, y, z, keep = random_curves(seed)
    chosen = fewest(x, y, z, keep, sections_of(keep), tolerance, up_tolerance)
    assert_is_near((x, y, z, keep), chosen, tolerance, up_tolerance)


def test_there_are_fewer_than_halving_takes():
    taken = np.zeros(2, int)
    with tuning.override(THINNING__bow=0.0):
        for seed in range(20):
            x, y, z, keep = random_curves(seed)
            args = x, y, z, keep, sections_of(keep), 0.02, 0.04
            taken += [np.count_nonzero(fewest(*args)), np.count_nonzero(thin(*args))]
    assert taken[0] < 0.87 * taken[1]


@pytest.mark.parametrize("seed", range(4))
def test_none_is_more_than_trying_all_chords_takes(seed):
    x, y, z, _ = random_curves(seed, count=40)
    with tuning.override(THINNING__bow=0.0, THINNING__fine=1e-6):
        chosen = fewest(x, y, z * np.nan, ends_of(40), np.array([[0, 39]]), 0.05, 1.0)
    assert np.count_nonzero(chosen) - 1 == fewest_chords(x, y, 0.05)


@pytest.mark.parametrize("radius", [1.5, 7.62, 250.0])
@pytest.mark.parametrize("degrees", [30.0, 90.0, 300.0])
def test_an_arc_has_about_the_fewest_chords_of_equal_length(radius, degrees):
    # a chord over the angle a leaves the arc by r (1 - cos(a / 2))
    needed = np.ceil(np.radians(degrees) / (2 * np.arccos(1 - 0.01 / radius)))
    x, y = arc(radius, degrees, 1e-5)
    with tuning.override(THINNING__bow=0.1):
        chosen = fewest(x, y, x * np.nan, ends_of(len(x)), np.array([[0, len(x) - 1]]), 0.01, 1.0)
    assert np.count_nonzero(chosen) - 1 <= np.ceil(1.08 * needed)  # of whole samples, 8 a chord
    if needed > 1:
        length = np.diff(np.flatnonzero(chosen))
        assert np.ptp(length) <= 0.15 * length.mean() + 1


def test_nearer_chords_cost_vertices():
    x, y = arc(20.0, 120.0, 1e-5)
    args = x, y, 0 * x, ends_of(len(x)), np.array([[0, len(x) - 1]]), 0.01, 0.02
    number = []
    for bow in (0.1, 2.0, 10.0):
        with tuning.override(THINNING__bow=bow):
            number.append(np.count_nonzero(fewest(*args)))
    assert number[0] < number[1] < number[2]


def test_sections_at_once_equal_each_alone():
    parts = [random_curves(seed, count) for seed, count in ((1, 50), (2, 3), (3, 200), (4, 80))]
    x, y, z, keep = (np.concatenate(columns) for columns in zip(*parts))
    offsets = np.concatenate([[0], np.cumsum([len(part[0]) for part in parts])])
    sections = np.concatenate([sections_of(part[3]) + first for part, first in zip(parts, offsets)])
    with tuning.override(THINNING__tile=60):
        whole = fewest(x, y, z, keep, sections, 0.02, 0.03)
    for part, first, last in zip(parts, offsets[:-1], offsets[1:]):
        assert_array_equal(whole[first:last], fewest(*part, sections_of(part[3]), 0.02, 0.03))


def test_sections_of_any_length_are_cut_where_they_must():
    x, y, z, keep = random_curves(5, 300, 0)
    args = x, y, z, keep, sections_of(keep), 0.02, 0.04
    with tuning.override(THINNING__longest=20):
        cut = fewest(*args)
    assert distances(x, y, z, np.flatnonzero(cut))[0] <= 0.02 * (1 + 1e-9)
    more = np.count_nonzero(cut) - np.count_nonzero(fewest(*args))
    assert 0 <= more <= 1 + len(x) / 20


def test_input_is_left_alone_and_nothing_between_needs_nothing():
    x, y, z, keep = random_curves(1)
    before = keep.copy()
    fewest(x, y, z, keep, sections_of(keep), 0.001, 0.001)
    assert_array_equal(keep, before)
    line, all_of = np.arange(4.0), np.ones(4, bool)
    for sections in (sections_of(all_of), np.zeros((0, 2), int)):
        assert_array_equal(fewest(line, line, line, all_of, sections, 0.01, 0.01), all_of)


def test_height_alone_keeps_a_vertex():
    x = np.linspace(0, 10, 101)
    z = np.where(x > 5, 5 - x, 0.0)
    ends = ends_of(101)
    chosen = fewest(x, 0 * x, z, ends, sections_of(ends), 0.01, 0.02)
    assert_array_equal(np.flatnonzero(chosen), [0, 50, 100])


def test_a_curve_that_doubles_back_keeps_its_far_side():
    angle = np.linspace(0, 2 * np.pi, 401)
    out_and_back = np.concatenate([np.linspace(0, 5, 51), np.linspace(4.9, -3, 80)])
    for x, y in ((5 * np.cos(angle), 5 * np.sin(angle)), (out_and_back, 0 * out_and_back)):
        ends = ends_of(len(x))
        chosen = fewest(x, y, 0 * x, ends, sections_of(ends), 0.01, 0.01)
        assert distances(x, y, 0 * x, np.flatnonzero(chosen))[0] <= 0.01 * (1 + 1e-9)
