"""Sides and bends that too few epochs tell: drawn where the way curbs are built confirms them, else
left open."""

import numpy as np
import pytest
from epochwalks import along, check, moved, table_of, take
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import Reason, describe
from curbwright.shared.reconstruction.reconstruct import (
    BREAK_NAMES,
    Settings,
    reconstruct,
)

NOISE = 0.006
LONG = 20.3


def walk(side, first, then, seed=0, noise=NOISE):
    """Epochs every metre along 20 m, a side after a deflection, and 20 m more after another one;
    which of them stand on the side."""
    x, y = along(
        [("line", LONG), ("corner", first), ("line", side), ("corner", then), ("line", LONG)],
        noise,
        seed,
        step=1.0,
    )
    return table_of(x, y), np.flatnonzero(
        (np.arange(len(x)) > LONG) & (np.arange(len(x)) < LONG + side)
    )


def reconstructed(table, **settings):
    settings = Settings(**settings)
    result = reconstruct(table, settings)
    check(table, result, settings)
    return result


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(("first", "then"), [(70.0, -70.0), (60.0, 60.0), (-110.0, 75.0)])
def test_an_oblique_side_of_two_epochs_is_left_open(first, then, seed):
    table, side = walk(2.0, first, then, seed)
    assert len(side) == 2
    result = reconstructed(table)
    assert_array_equal(np.flatnonzero(result.reason), side)
    assert (result.reason[side] == Reason.UNCONFIRMED).all()
    assert len(result.edges) == 2 and [BREAK_NAMES[reason] for reason in result.gaps.reason] == [
        "lost_epochs"
    ]
    assert (
        describe(result.reason[side], result.amount[side])
        == ["one of 2 positions that alone tell a short side or bend"] * 2
    )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize(
    ("first", "then"), [(90.0, -90.0), (-90.0, -90.0), (90.0, 50.0), (45.0, 45.0), (-45.0, -45.0)]
)
def test_a_square_side_or_a_splay_of_two_epochs_is_drawn(first, then, seed):
    table, _ = walk(2.0, first, then, seed)
    result = reconstructed(table)
    assert len(result.edges) == 1 and not result.reason.any()
    assert len(result.corners) == 2


@pytest.mark.parametrize("seed", range(4))
def test_an_oblique_side_of_three_epochs_is_drawn_unless_one_was_lost(seed):
    table, side = walk(3.0, 70.0, -70.0, seed)
    assert len(side) == 3
    assert len(reconstructed(table).edges) == 1
    table, side = walk(4.0, 70.0, -70.0, seed)
    lost = take(table, np.setdiff1d(np.arange(len(table)), side[1:2]))
    result = reconstructed(lost)
    assert len(result.edges) == 2
    assert_array_equal(np.flatnonzero(result.reason == Reason.UNCONFIRMED), side[:3])


@pytest.mark.parametrize("seed", range(4))
def test_epochs_of_a_standing_walker_confirm_each_other(seed):
    table, side = walk(2.0, 70.0, -70.0, seed)
    stood = np.sort(np.r_[np.arange(len(table)), np.repeat(side, 3)])
    rng = np.random.default_rng(seed)
    x, y = table.x[stood], table.y[stood]
    again = np.diff(stood, prepend=-1) == 0
    x, y = x + again * rng.normal(0, NOISE, len(x)), y + again * rng.normal(0, NOISE, len(y))
    result = reconstructed(table_of(x, y))
    assert len(result.edges) == 1 and not result.reason.any()


@pytest.mark.parametrize("seed", range(6))
def test_two_outliers_that_agree_do_not_break_a_straight_edge(seed):
    # An outlier of two epochs looks like a side parallel to the edge; without it one tangent
    # explains all the rest.
    x, y = along([("line", 40.0)], NOISE, seed, step=1.0, heading=0.0)
    y[20:22] += 0.6
    result = reconstructed(table_of(x, y))
    assert len(result.edges) == 1
    assert set(np.flatnonzero(result.reason)) == {20, 21}
    assert np.abs(result.edges.y).max() < 0.03


@pytest.mark.parametrize("seed", range(4))
def test_noise_alone_makes_nothing_doubtful(seed):
    # Float solutions that a user lets pass lie half a metre off: far by any measure in metres, not
    # by their own accuracy.
    rng = np.random.default_rng(seed)
    x, y = np.arange(60.0), rng.normal(0, 0.2, 60)
    table = moved(table_of(x, y), sigma_h=np.full(60, 0.2))
    result = reconstructed(table, max_h_accuracy=0.5)
    assert np.count_nonzero(result.reason == Reason.UNCONFIRMED) <= 3


@pytest.mark.parametrize("at", [0, 7, 23, 41])
def test_a_ring_opens_where_nothing_confirms_it(at):
    # Wherever the walk begins on it, the ring breaks at the doubtful side alone.
    parts = [
        ("line", 12.3),
        ("corner", 90.0),
        ("line", 12.3),
        ("corner", 90.0),
        ("line", 10.0),
        ("corner", 60.0),
        ("line", 2.0),
        ("corner", 30.0),
        ("line", 11.3),
        ("corner", 90.0),
    ]
    x, y = along(parts, NOISE, 2, step=1.0)
    shape = np.column_stack([x, y])
    closed = np.vstack(
        [
            shape,
            shape[-1:]
            + (shape[:1] - shape[-1:])
            * np.linspace(0, 1, int(np.hypot(*(shape[0] - shape[-1]))) + 1)[1:, None],
        ]
    )[:-1]
    rolled = np.roll(closed, -at, axis=0)
    walked = np.vstack([rolled, rolled[:1] + 0.003])
    result = reconstructed(table_of(*walked.T))
    assert not result.edges.closed.any()
    assert 2 <= np.count_nonzero(result.reason == Reason.UNCONFIRMED) <= 3


def test_rows_may_come_in_any_order():
    table, _ = walk(2.0, 70.0, -70.0)
    result = reconstruct(table)
    order = np.random.default_rng(1).permutation(len(table))
    assert_array_equal(reconstruct(take(table, order)).reason, result.reason[order])


def sloping(slope, seed, count=40):
    """Epochs every metre along a straight line that rises or falls."""
    x, y = along([("line", float(count))], NOISE, seed, step=1.0, heading=0.0)
    return (
        x,
        y,
        5.0 + slope * np.arange(len(x)) + np.random.default_rng(seed).normal(0, 0.015, len(x)),
    )


@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("slope", [0.0, 0.12, -0.2])
def test_an_end_along_the_line_at_another_height_is_an_outlier(slope, seed):
    x, y, z = sloping(slope, seed)
    away = np.copysign(0.4, slope)  # farther than the slope itself goes
    x[-1], z[-1] = x[-1] + 0.8, z[-1] + away
    result = reconstructed(table_of(x, y, z=z))
    assert_array_equal(np.flatnonzero(result.reason), [len(x) - 1])
    x, y, z = sloping(slope, seed)
    x[0], z[0] = x[0] - 0.8, z[0] - away
    result = reconstructed(table_of(x, y, z=z))
    assert_array_equal(np.flatnonzero(result.reason), [0])
    assert describe(result.reason[:1], result.amount[:1]) == ["nothing confirms where it lies"]


@pytest.mark.parametrize("slope", [0.0, 0.06, -0.12, 0.25])
def test_slopes_cost_no_end(slope):
    for seed in range(20):
        x, y, z = sloping(slope, seed)
        assert not reconstructed(table_of(x, y, z=z)).reason.any()


def test_a_free_form_of_many_epochs_stays():
    # A spiral that tightens is neither tangent nor arc; splines and arcs follow it, and nothing of
    # it is doubtful.
    way = np.arange(0.0, 60.0)
    heading = way**2 / 600
    x, y = np.cumsum(np.cos(heading)), np.cumsum(np.sin(heading))
    rng = np.random.default_rng(5)
    for model in ("automatic", "elements"):
        result = reconstructed(
            table_of(x + rng.normal(0, NOISE, 60), y + rng.normal(0, NOISE, 60)), curve_model=model
        )
        assert len(result.edges) == 1
        assert np.count_nonzero(result.reason) <= 2


def test_an_epoch_beyond_a_corner_does_not_move_it():
    met = 0
    for seed in range(8):
        x, y = along(
            [("line", LONG), ("corner", 90.0), ("line", LONG)], NOISE, seed, step=1.0, heading=0.0
        )
        x[20] += 0.9
        result = reconstructed(table_of(x, y))
        assert {20} <= set(np.flatnonzero(result.reason)) <= {20, 21}
        assert result.edges.x.max() < LONG + 0.04
        met += len(result.edges) == 1 and np.hypot(*(result.corners - [LONG, 0.0]).T).min() < 0.03
    assert met >= 6  # else the corner is left open


@pytest.mark.parametrize("seed", range(4))
def test_the_last_epoch_before_a_turn_may_have_slipped_ahead(seed):
    rng = np.random.default_rng(seed)
    way = np.concatenate([np.arange(0.0, 30.0), [30.8], np.arange(29.0, 0.0, -1.0)])
    side = np.where(np.arange(len(way)) > 30, 0.9, 0.0)  # back along another edge
    result = reconstructed(
        table_of(way + rng.normal(0, NOISE, len(way)), side + rng.normal(0, NOISE, len(way)))
    )
    assert result.reason[30] in (Reason.SPIKE, Reason.UNCONFIRMED)
    assert result.edges.x.max() < 30.0
