"""Sums over groups of positions, beside the same sums taken one by one."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.moments import Moments

OFFSETS = np.array([0, 5, 5, 6, 20, 40])


def positions(seed=0, count=40, spread=8.0, shift=(0.0, 0.0)):
    rng = np.random.default_rng(seed)
    x, y = rng.normal(0, spread, (2, count))
    return x + shift[0], y + shift[1], rng.uniform(0.2, 3.0, count)


def by_hand(x, y, weight, about=None):
    """w, mean, and sums about the mean (or another place) of one group."""
    w = weight.sum()
    mx, my = (
        (np.average(x, weights=weight), np.average(y, weights=weight)) if about is None else about
    )
    dx, dy = x - mx, y - my
    z = dx * dx + dy * dy
    return [w, mx, my] + [
        (weight * value).sum() for value in (dx * dx, dx * dy, dy * dy, dx * z, dy * z, z * z)
    ]


def groups(offsets=OFFSETS):
    return [slice(a, b) for a, b in zip(offsets[:-1], offsets[1:])]


def test_sums_of_each_group():
    x, y, weight = positions()
    moments = Moments.of(x, y, weight, OFFSETS)
    assert len(moments) == 5
    for k, own in enumerate(groups()):
        if own.start < own.stop:
            assert_allclose(
                [column[k] for column in moments.columns()],
                by_hand(x[own], y[own], weight[own]),
                rtol=1e-10,
                atol=1e-10,
            )


def test_nothing_sums_up_to_nothing():
    x, y, weight = positions()
    empty = Moments.of(x, y, weight, OFFSETS).take(np.array([1]))
    assert_array_equal(np.concatenate(empty.columns()), 0)
    assert len(Moments.of(x[:0], y[:0], weight[:0], np.array([0]))) == 0
    assert_array_equal(
        np.concatenate(Moments.of(x[:0], y[:0], weight[:0], np.array([0, 0])).columns()), 0
    )


def test_weight_nought_counts_for_nothing():
    x, y, weight = positions()
    weight[[0, 3]] = 0.0
    rest = np.array([1, 2, 4])
    found = Moments.of(x[:5], y[:5], weight[:5], np.array([0, 5]))
    assert_allclose(
        np.concatenate(found.columns()), by_hand(x[rest], y[rest], weight[rest]), rtol=1e-10
    )
    nothing = Moments.of(x[:2], y[:2], np.zeros(2), np.array([0, 2]))
    assert np.isfinite(np.concatenate(nothing.columns())).all() and nothing.w[0] == 0


def test_a_group_may_come_in_any_order():
    x, y, weight = positions()
    shuffled = np.random.default_rng(3).permutation(40)
    whole = np.array([0, 40])
    one, other = (
        Moments.of(x, y, weight, whole),
        Moments.of(x[shuffled], y[shuffled], weight[shuffled], whole),
    )
    assert_allclose(
        np.concatenate(one.columns()), np.concatenate(other.columns()), rtol=1e-10, atol=1e-9
    )


def test_two_groups_together():
    x, y, weight = positions(1)
    a, b = (
        Moments.of(x[:15], y[:15], weight[:15], np.array([0, 15])),
        Moments.of(x[15:], y[15:], weight[15:], np.array([0, 25])),
    )
    assert_allclose(np.concatenate((a + b).columns()), by_hand(x, y, weight), rtol=1e-10, atol=1e-9)
    none = Moments.of(x[:0], y[:0], weight[:0], np.array([0, 0]))
    assert_allclose(
        np.concatenate((a + none).columns()), np.concatenate(a.columns()), rtol=1e-12, atol=1e-12
    )
    assert_allclose(
        np.concatenate((none + a).columns()), np.concatenate(a.columns()), rtol=1e-10, atol=1e-10
    )


def test_positions_taken_away_again():
    x, y, weight = positions(2)
    whole, part = (
        Moments.of(x, y, weight, np.array([0, 40])),
        Moments.of(x[30:], y[30:], weight[30:], np.array([0, 10])),
    )
    rest = whole + part.times(-1.0)
    assert_allclose(
        np.concatenate(rest.columns()), by_hand(x[:30], y[:30], weight[:30]), rtol=1e-9, atol=1e-8
    )


@pytest.mark.parametrize("about", [(0.0, 0.0), (3.0, -20.0)])
def test_sums_about_another_place(about):
    x, y, weight = positions(4)
    moments = Moments.of(x, y, weight, OFFSETS)
    found = moments.about(np.full(5, about[0]), np.full(5, about[1]))
    for k, own in enumerate(groups()):
        _, _, _, xx, xy, yy, xz, yz, zz = by_hand(x[own], y[own], weight[own], about)
        sx, sy = (
            (weight[own] * (x[own] - about[0])).sum(),
            (weight[own] * (y[own] - about[1])).sum(),
        )
        assert_allclose(
            [column[k] for column in found],
            [sx, sy, xx, xy, yy, xx + yy, xz, yz, zz],
            rtol=1e-10,
            atol=1e-8,
        )


def test_far_positions_lose_no_digits():
    # Easting and northing of a UTM zone: fourth powers of them would leave nothing of a few metres.
    x, y, weight = positions(5)
    x, y = np.round(x, 3), np.round(y, 3)
    here, there = (
        Moments.of(x, y, weight, OFFSETS),
        Moments.of(x + 500_000.0, y + 6_000_000.0, weight, OFFSETS),
    )
    for a, b in zip(here.columns()[3:], there.columns()[3:]):
        assert_allclose(b, a, rtol=1e-6, atol=1e-6)


def test_take_and_concatenate():
    moments = Moments.of(*positions(), OFFSETS)
    back = Moments.concatenate([moments.take(np.array([0, 1])), moments.take(np.array([2, 3, 4]))])
    for a, b in zip(moments.columns(), back.columns()):
        assert_array_equal(a, b)


def test_moments_of_some_groups_are_those_of_all():
    rng = np.random.default_rng(4)
    x, y, weight = rng.normal(size=(3, 40))
    offsets, which = np.array([0, 7, 9, 9, 31, 40]), np.array([1, 2, 4])
    every = Moments.of(x, y, weight**2, offsets)
    some = Moments.of_some(x, y, weight**2, offsets, which)
    for whole, part in zip(every.take(which).columns(), some.columns()):
        assert (whole == part).all()
    other = Moments.of(y, x, weight**2, offsets)
    for whole, put in zip(every.columns(), other.put(which, some).columns()):
        assert (put[which] == whole[which]).all()
    assert (other.put(which, some).w[[0, 3]] == other.w[[0, 3]]).all()
