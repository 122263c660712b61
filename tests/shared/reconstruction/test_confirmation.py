"""Sides and bends that too few epochs tell: drawn where the way curbs are built confirms them, else
left open."""

import numpy as np
import pytest
from epochwalks import along, check, moved, table_of, table_of_captures, take
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import Reason, describe
from curbwright.shared.epochs.table import EpochTable
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


def walks_of(*given, seeds=4, **more):
    """The same `walk` with several seeds as captures of one table: the table, the rows of each, and
    which of them stand on the side."""
    made = [walk(*given, seed, **more) for seed in range(seeds)]
    table, rows = table_of_captures([{"x": one.x, "y": one.y} for one, _ in made])
    return table, rows, made[0][1]


def edges_of(result):
    """Number of edges of each capture."""
    return np.bincount(result.edges.capture)


def reconstructed(table, **settings):
    settings = Settings(**settings)
    result = reconstruct(table, settings)
    check(table, result, settings)
    return result


@pytest.mark.parametrize(("first", "then"), [(70.0, -70.0), (60.0, 60.0), (-110.0, 75.0)])
def test_an_oblique_side_of_two_epochs_is_left_open(first, then):
    table, rows, side = walks_of(2.0, first, then)
    assert len(side) == 2
    result = reconstructed(table)
    doubtful = np.concatenate([np.arange(len(table))[one][side] for one in rows])
    assert_array_equal(np.flatnonzero(result.reason), doubtful)
    assert (result.reason[doubtful] == Reason.UNCONFIRMED).all()
    assert_array_equal(edges_of(result), 2)
    breaks = [BREAK_NAMES[reason] for reason in result.gaps.reason]
    assert [name for name in breaks if name != "new_capture"] == ["lost_epochs"] * len(rows)
    words = set(describe(result.reason[doubtful], result.amount[doubtful]))
    assert words == {"one of 2 positions that alone tell a short side or bend"}


@pytest.mark.parametrize(
    ("first", "then"), [(90.0, -90.0), (-90.0, -90.0), (90.0, 50.0), (45.0, 45.0), (-45.0, -45.0)]
)
def test_a_square_side_or_a_splay_of_two_epochs_is_drawn(first, then):
    table, rows, _ = walks_of(2.0, first, then)
    result = reconstructed(table)
    assert_array_equal(edges_of(result), 1)
    assert not result.reason.any()
    assert len(result.corners) == 2 * len(rows)


def test_an_oblique_side_of_three_epochs_is_drawn_unless_one_was_lost():
    table, _, side = walks_of(3.0, 70.0, -70.0)
    assert len(side) == 3
    assert_array_equal(edges_of(reconstructed(table)), 1)
    table, rows, side = walks_of(4.0, 70.0, -70.0)
    lost = [one.start + side[1] for one in rows]
    result = reconstructed(take(table, np.setdiff1d(np.arange(len(table)), lost)))
    assert_array_equal(edges_of(result), 2)
    doubtful = np.concatenate([one.start - number + side[:3] for number, one in enumerate(rows)])
    assert_array_equal(np.flatnonzero(result.reason == Reason.UNCONFIRMED), doubtful)


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


def test_two_outliers_that_agree_do_not_break_a_straight_edge():
    # An outlier of two epochs looks like a side parallel to the edge; without it one tangent
    # explains all the rest.
    walks = []
    for seed in range(6):
        x, y = along([("line", 40.0)], NOISE, seed, step=1.0, heading=0.0)
        y[20:22] += 0.6
        walks.append({"x": x, "y": y})
    table, rows = table_of_captures(walks)
    result = reconstructed(table)
    assert_array_equal(edges_of(result), 1)
    for one in rows:
        assert_array_equal(np.flatnonzero(result.reason[one]), [20, 21])
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


@pytest.mark.parametrize("slope", [0.0, 0.12, -0.2])
def test_an_end_along_the_line_at_another_height_is_an_outlier(slope):
    away = np.copysign(0.4, slope)  # farther than the slope itself goes
    for end, way in ((-1, 1), (0, -1)):
        walks = []
        for seed in range(4):
            x, y, z = sloping(slope, seed)
            x[end], z[end] = x[end] + way * 0.8, z[end] + way * away
            walks.append({"x": x, "y": y, "z": z})
        table, rows = table_of_captures(walks)
        result = reconstructed(table)
        outliers = np.array([np.arange(len(table))[one][end] for one in rows])
        assert_array_equal(np.flatnonzero(result.reason), outliers)
    words = set(describe(result.reason[outliers], result.amount[outliers]))
    assert words == {"nothing confirms where it lies"}


@pytest.mark.parametrize("slope", [0.0, 0.06, -0.12, 0.25])
def test_slopes_cost_no_end(slope):
    walks = [dict(zip("xyz", sloping(slope, seed))) for seed in range(20)]
    assert not reconstructed(table_of_captures(walks)[0]).reason.any()


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
    walks = []
    for seed in range(8):
        x, y = along(
            [("line", LONG), ("corner", 90.0), ("line", LONG)], NOISE, seed, step=1.0, heading=0.0
        )
        x[20] += 0.9
        walks.append({"x": x, "y": y})
    table, rows = table_of_captures(walks)
    result = reconstructed(table)
    assert result.edges.x.max() < LONG + 0.04
    near = np.hypot(*(result.corners - [LONG, 0.0]).T) < 0.03
    for one in rows:
        assert {20} <= set(np.flatnonzero(result.reason[one])) <= {20, 21}
    met = min(np.count_nonzero(near), np.count_nonzero(edges_of(result) == 1))
    assert met >= 6  # else the corner is left open


def test_the_last_epoch_before_a_turn_may_have_slipped_ahead():
    walks = []
    for seed in range(4):
        rng = np.random.default_rng(seed)
        way = np.concatenate([np.arange(0.0, 30.0), [30.8], np.arange(29.0, 0.0, -1.0)])
        side = np.where(np.arange(len(way)) > 30, 0.9, 0.0)  # back along another edge
        noise = rng.normal(0, NOISE, (2, len(way)))
        walks.append({"x": way + noise[0], "y": side + noise[1]})
    table, rows = table_of_captures(walks)
    result = reconstructed(table)
    assert {result.reason[one][30] for one in rows} <= {Reason.SPIKE, Reason.UNCONFIRMED}
    assert result.edges.x.max() < 30.0


@pytest.mark.parametrize("seed", [1, 2])
def test_a_long_straight_with_noise_that_wanders_stays_whole(seed):
    """Noise that is correlated over a minute makes tangents of a straight; the millimetres between
    them are no side that nobody saw."""
    rng, n = np.random.default_rng(seed), 700
    wander, noise = np.zeros(n), rng.normal(0, 0.004, (2, n))
    for epoch in range(1, n):
        wander[epoch] = 0.98 * wander[epoch - 1] + rng.normal(0, 0.002)
    x, y = 1.2 * np.arange(n) + noise[0], wander + noise[1]
    table = EpochTable.from_columns(x, y, None, np.arange(n))
    assert len(reconstruct(table, Settings(doubtful="leave_out")).edges) == 1
