"""What stands off from its neighbours, alone or in blocks."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs import spike_blocks, spikes


def path_of(x, y, linked=None):
    """A path at one epoch a second and one metre a second, with 6 mm of noise."""
    n = len(x)
    return spikes.Path(
        x=np.asarray(x, float),
        y=np.asarray(y, float),
        linked=np.ones(n - 1, bool) if linked is None else linked,
        step=np.hypot(np.diff(x), np.diff(y)),
        nominal=np.ones(n - 1),
        floor=np.full(n, 0.1),
        still=np.full(n, 0.05),
    )


def found(mark, path, *arguments):
    size_of = np.full(len(path), np.nan)
    mark(path, *arguments, size_of)
    return {int(k): float(size_of[k]) for k in np.flatnonzero(np.isfinite(size_of))}


def walk(count=20):
    return np.arange(float(count)), np.zeros(count)


def test_a_single_spike_is_marked_with_its_distance():
    x, y = walk()
    y[9] = 0.4
    assert found(spikes.mark_single, path_of(x, y)) == {9: pytest.approx(0.4)}
    # two in turn: none is marked where the other one spoils what its neighbours predict...
    y[10] = -0.3
    assert found(spikes.mark_single, path_of(x, y)) == {}


def test_of_two_that_are_flung_out_the_greater_one_is_marked():
    # ...but for those that two long steps give away; the smaller one is tested again without it
    x, y = walk()
    y[9], y[11] = 5.0, 6.0
    assert found(spikes.mark_single, path_of(x, y)) == {11: pytest.approx(6.0)}


def test_a_spike_one_before_the_end_needs_an_end_that_lies_in_line():
    x, y = walk()
    y[18] = 0.5
    assert found(spikes.mark_single, path_of(x, y)) == {18: pytest.approx(0.5)}
    y[19] = 0.5  # as round a corner
    assert found(spikes.mark_single, path_of(x, y)) == {}


@pytest.mark.parametrize("length", [2, 3])
def test_blocks_that_were_shifted_aside(length):
    x, y = walk()
    y[8 : 8 + length] = 2.0
    path = path_of(x, y)
    assert found(spike_blocks.mark_blocks, path, length) == dict.fromkeys(
        range(8, 8 + length), pytest.approx(2.0)
    )
    first, size, left_over = spike_blocks.lateral_shifts(x, y, path.linked, length, np.array([8]))
    assert_array_equal(first, [8])
    assert_allclose([size[0], left_over[0]], [2.0, 0.0], atol=1e-12)
    # beside an epoch that is a spike already, the step may be that one's
    for beside in (7, 8 + length):
        size_of = np.full(20, np.nan)
        size_of[beside] = 1.0
        spike_blocks.mark_blocks(path, length, size_of)
        assert np.flatnonzero(np.isfinite(size_of)).tolist() == [beside]


def test_a_recess_that_is_entered_in_one_long_step_but_not_left_is_no_block():
    x, y = walk()
    y[8:] = 2.0
    for length in (2, 3):
        assert found(spike_blocks.mark_blocks, path_of(x, y), length) == {}


def test_blocks_need_links_on_either_side():
    x, y = walk()
    y[8:10] = 2.0
    linked = np.ones(19, bool)
    linked[10] = False
    first, _, _ = spike_blocks.lateral_shifts(x, y, linked, 2)
    assert 8 not in first and 13 in first


@pytest.mark.parametrize("length", [1, 2])
def test_epochs_between_two_strides(length):
    x, y = walk()
    y[8 : 8 + length] = 1.5
    assert list(found(spike_blocks.mark_strides, path_of(x, y), length)) == list(
        range(8, 8 + length)
    )
    # where the pace picks up, the steps after it are as long
    faster = np.concatenate([np.arange(10.0), 10.0 + 1.8 * np.arange(10)])
    assert found(spike_blocks.mark_strides, path_of(faster, 0 * faster), length) == {}


@pytest.mark.parametrize(("jump", "at"), [(2.5, 9), (-2.5, 9)])
def test_epochs_ahead_of_or_behind_their_turn(jump, at):
    x, y = walk()
    x[at] += jump
    assert list(found(spikes.mark_along_track, path_of(x, y))) == [at]


def test_a_walk_back_is_no_spike():
    x = np.concatenate([np.arange(10.0), np.arange(8.0, 0.0, -1.0), np.arange(1.0, 12.0)])
    assert found(spikes.mark_along_track, path_of(x, 0 * x)) == {}


@pytest.mark.parametrize("at", [0, 19])
def test_ends_off_the_rest(at):
    x, y = walk()
    y[at] = 1.0  # the step to it is longer than the nominal one
    assert found(spikes.mark_ends, path_of(x, y)) == {at: pytest.approx(1.0)}
    x[at], y[at] = x[at - 1 if at else 1], 0.7  # round a corner it is shorter
    assert found(spikes.mark_ends, path_of(x, y)) == {}


@pytest.mark.parametrize("ends", [[0, 1], [18, 19]])
def test_pairs_at_ends(ends):
    x, y = walk()
    y[ends] = 0.9
    path, size_of = path_of(x, y), np.full(20, np.nan)
    spikes.mark_end_pairs(
        path.x, path.y, path.linked, path.step / path.nominal, path.floor, path.still, size_of
    )
    assert np.flatnonzero(np.isfinite(size_of)).tolist() == ends
    assert_allclose(size_of[ends], 0.9)


def test_stretches_that_are_too_short_are_left_alone():
    x, y = walk(5)
    y[2] = 0.5
    path = path_of(x, y, np.array([True, False, True, False]))
    for mark in (spikes.mark_ends, spikes.mark_along_track, spikes.mark_single):
        assert found(mark, path) == {}
    assert found(spike_blocks.mark_strides, path_of(*walk(4)), 1) == {}
