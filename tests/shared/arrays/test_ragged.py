"""Ragged helpers against plain loops."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays import ragged
from curbwright.shared.tuning import override

numbers = st.floats(-1e6, 1e6)
groups = st.lists(st.lists(numbers, max_size=6), max_size=8)


def flat(lists):
    values = np.array([value for one in lists for value in one], dtype=float)
    return values, np.concatenate([[0], np.cumsum([len(one) for one in lists])]).astype(np.int64)


def joined(lists):
    return np.array([value for one in lists for value in one])


@given(st.lists(st.integers(-3, 3), max_size=12))
def test_rows_by_value(values):
    found = ragged.rows_by_value(np.array(values, np.int64))
    assert list(found) == sorted(set(values))
    for value, rows in found.items():
        assert rows.tolist() == [row for row, one in enumerate(values) if one == value]


def test_the_first_place_of_each_group():
    owner = np.array([0, 0, 0, 2, 2, 5])
    assert_array_equal(ragged.first_of_each(np.array([1, 2, 3, 4, 5]), owner), [1, 3, 5])
    assert_array_equal(ragged.first_of_each(np.array([4]), owner), [4])
    assert_array_equal(ragged.first_of_each(np.zeros(0, np.int64), owner), [])


@given(st.lists(st.booleans(), max_size=12))
def test_offsets_from_starts(starts):
    starts = [True] + starts
    expected = [k for k, start in enumerate(starts) if start] + [len(starts)]
    assert_array_equal(ragged.offsets_from_starts(starts), expected)


@given(st.lists(st.tuples(st.integers(0, 2), st.booleans()), max_size=12))
def test_stretch_starts(keys):
    expected = [k == 0 or keys[k] != keys[k - 1] for k in range(len(keys))]
    number, flag = np.array(keys, int).reshape(-1, 2).T
    assert_array_equal(ragged.stretch_starts(number, flag.astype(bool)), expected)


def test_offsets_of_nothing():
    assert_array_equal(ragged.offsets_from_starts([]), [0])


def test_first_place_must_start_a_group():
    with pytest.raises(ValueError, match="first place"):
        ragged.offsets_from_starts([False, True])


@given(st.lists(st.integers(0, 9), max_size=12))
def test_offsets_of_sizes(sizes):
    found = ragged.offsets_of(np.array(sizes, np.int32))
    assert_array_equal(found, [sum(sizes[:k]) for k in range(len(sizes) + 1)])
    assert found.dtype == np.int64


@pytest.mark.parametrize(
    ("sizes", "kind"),
    [([True, False, True], np.int64), ([3, 0, 2], np.int64), ([0.5, 1.25], np.float64)],
)
def test_offsets_of_keeps_the_kind(sizes, kind):
    found = ragged.offsets_of(np.array(sizes))
    assert found.dtype == kind and found[0] == 0 and found[-1] == sum(sizes)


@given(groups)
def test_indices(lists):
    _, offsets = flat(lists)
    assert_array_equal(
        ragged.group_index(offsets),
        joined([[number] * len(one) for number, one in enumerate(lists)]),
    )
    assert_array_equal(ragged.place_in_group(offsets), joined([range(len(one)) for one in lists]))


@given(st.lists(st.tuples(st.integers(0, 50), st.integers(0, 6)), max_size=8))
def test_ranges(parts):
    starts, lengths = [start for start, _ in parts], [length for _, length in parts]
    assert_array_equal(
        ragged.ranges(starts, lengths),
        joined([range(start, start + length) for start, length in parts]),
    )


@given(groups)
def test_reductions(lists):
    values, offsets = flat(lists)
    assert_allclose(ragged.group_sum(values, offsets), [sum(one) for one in lists], atol=1e-8)
    assert_array_equal(
        ragged.group_max(values, offsets), [max(one, default=-np.inf) for one in lists]
    )
    assert_array_equal(
        ragged.group_min(values, offsets), [min(one, default=np.inf) for one in lists]
    )
    assert_array_equal(
        ragged.group_max(values, offsets, 0.0), [max(one, default=0.0) for one in lists]
    )


@given(groups)
def test_sum_of_rows(lists):
    values, offsets = flat(lists)
    both = ragged.group_sum(np.column_stack([values, -2 * values]), offsets)
    assert both.shape == (len(lists), 2)
    assert_allclose(both[:, 1], -2 * both[:, 0], atol=1e-8)


@given(
    st.lists(st.lists(numbers | st.sampled_from([np.nan, np.inf]), max_size=6), max_size=8),
    st.randoms(use_true_random=False),
)
def test_median_of_finite_values_in_any_order(lists, random):
    pairs = [(value, number) for number, one in enumerate(lists) for value in one]
    random.shuffle(pairs)
    values, group = (
        np.array([value for value, _ in pairs], float),
        np.array([number for _, number in pairs], np.int64),
    )
    finite = [[value for value in one if np.isfinite(value)] for one in lists]
    expected = [np.median(one) if one else np.nan for one in finite]
    assert_allclose(ragged.group_median(values, group, len(lists)), expected)
    assert_allclose(ragged.quick_median(values, group, len(lists)), expected, rtol=1e-6, atol=1e-6)


@given(groups)
def test_running_max(lists):
    values, offsets = flat(lists)
    expected = joined([np.maximum.accumulate(one) if one else [] for one in lists])
    # all groups share one accumulate, lifted above each other: 48 values up to 1e6 leave 1e-8
    assert_allclose(ragged.running_max(values, offsets), expected, rtol=0, atol=1e-7)


@given(groups)
def test_cumulative(lists):
    values, offsets = flat(lists)
    expected = joined(
        [np.concatenate([[0.0], np.cumsum(one)[:-1]]) if one else [] for one in lists]
    )
    assert_allclose(ragged.cumulative(values, offsets), expected, rtol=0, atol=1e-7)
    first = offsets[:-1][np.diff(offsets) > 0]
    assert_array_equal(ragged.cumulative(values, offsets)[first], 0.0)


@given(st.lists(st.tuples(st.integers(0, 30), st.integers(0, 8)), max_size=12))
def test_inside_any(stretches):
    low = np.array([first for first, _ in stretches], np.int64)
    high = np.array([min(first + length, 30) for first, length in stretches], np.int64)
    expected = np.zeros(30, bool)
    for first, last in zip(low, np.maximum(low, high)):
        expected[first:last] = True
    assert_array_equal(ragged.inside_any(low, np.maximum(low, high), 30), expected)


@given(st.lists(st.integers(0, 5), max_size=10), st.integers(0, 7))
def test_group_index_of_empty_groups_and_from_any_first_place(sizes, first):
    offsets = first + np.concatenate([[0], np.cumsum(sizes, dtype=np.int64)])
    assert_array_equal(ragged.group_index(offsets), np.repeat(np.arange(len(sizes)), sizes))


@given(st.lists(st.integers(0, 30), max_size=5), st.integers(1, 31), st.integers(0, 40))
def test_places_around(places, size, reach):
    places = [place for place in places if place < size]
    expected = [any(abs(k - place) <= reach for place in places) for k in range(size)]
    assert_array_equal(ragged.places_around(np.array(places, int), size, reach), expected)


def test_groups_stay_whole():
    group = np.repeat([0, 1, 2, 5, 6], [3, 4, 1, 9, 2])
    for most in (1, 4, 8, 100):
        bounds = ragged.split_groups(group, most)
        assert (
            [low for low, _ in bounds[1:]] == [high for _, high in bounds[:-1]]
            and bounds[0][0] == 0
            and bounds[-1][1] == len(group)
        )
        assert all(group[low - 1] != group[low] for low, _ in bounds[1:])
    assert ragged.split_groups(group[:0], 4) == [(0, 0)]


@pytest.mark.parametrize("overlap", [1, 2])
def test_neighbours_lie_together_in_one_block(overlap):
    with override(EXECUTION__block=4):
        for size in range(14):
            found = [
                (at.start + k, at.start + k + overlap)
                for at in ragged.overlapping(size, overlap)
                for k in range(len(range(size)[at]) - overlap)
            ]
            assert found == [(k, k + overlap) for k in range(size - overlap)]


@given(st.lists(st.integers(0, 5), min_size=1, max_size=30), st.data())
def test_groups_of_few_places_and_of_many(sizes, data):
    offsets = ragged.offsets_of(sizes)
    if offsets[-1]:
        places = data.draw(st.lists(st.integers(0, int(offsets[-1]) - 1), max_size=12))
        found = ragged.groups_at(offsets, np.array(places, np.int64))
        assert_array_equal(found, ragged.group_index(offsets)[np.array(places, np.int64)])
