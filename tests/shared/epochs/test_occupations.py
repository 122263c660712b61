"""Spot points: means, spreads, sigmas, and which epochs are left out."""

import numpy as np
import pytest
from epochwalks import STEP, along, moved, take
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.epochs.occupations import average, describe_reasons
from curbwright.shared.epochs.reasons import MOVING, OCCUPATION_REASONS
from curbwright.shared.epochs.settings import OccupationSettings
from curbwright.shared.epochs.table import EpochTable


def spots(epochs=10, points=4, noise=0.008, seed=1, **columns):
    """Points 30 m apart, each a capture of its own, one epoch a second; heights 3 m."""
    rng = np.random.default_rng(seed)
    n = epochs * points
    capture = np.repeat(np.arange(points), epochs)
    x, y, z = (
        30.0 * capture + rng.normal(0, noise, n),
        rng.normal(0, noise, n),
        3.0 + rng.normal(0, 1.5 * noise, n),
    )
    seconds = 120.0 * capture + np.tile(np.arange(float(epochs)), points)
    return EpochTable.from_columns(
        x, y, **{"z": z, "seconds": seconds, "capture": capture, **columns}
    )


def names(result):
    return [OCCUPATION_REASONS[code] for code in result.reason]


def check(table, result):
    """What must hold of every result."""
    points, used = result.points, result.reason == 0
    assert_array_equal(used, result.point >= 0)
    assert np.isfinite(result.east[used]).all() and np.isnan(result.east[~used]).all()
    assert_array_equal(np.bincount(result.point[used], minlength=len(points)), points.epochs)
    assert [bool(text) for text in describe_reasons(result.reason, result.amount)] == (
        ~used
    ).tolist()
    assert not any("nan" in text for text in describe_reasons(result.reason, result.amount))
    assert (
        (points.epochs >= 2).all()
        and (points.ended >= points.started).all()
        and (points.rejected >= 0).all()
    )
    assert np.isfinite(points.sigma_east).all() and (points.sigma_east > 0).all()
    assert_allclose(
        table.x[used] - points.x[result.point[used]],
        result.east[used] * table.scale[used],
        atol=1e-9,
    )


# Points


@pytest.mark.parametrize("epochs", [2, 3, 5, 30, 300])
def test_spot_points(epochs):
    table = spots(epochs)
    result = average(table)
    check(table, result)
    points = result.points
    assert len(points) == 4 and points.capture.tolist() == [0, 1, 2, 3]
    for point in range(4):
        own = (result.point == point) & (result.reason == 0)
        assert points.x[point] == pytest.approx(table.x[own].mean(), abs=1e-9) and points.z[
            point
        ] == pytest.approx(table.z[own].mean(), abs=1e-9)
        assert points.sd_east[point] == pytest.approx(table.x[own].std(ddof=1)) and points.sd_up[
            point
        ] == pytest.approx(table.z[own].std(ddof=1))
        distance = np.hypot(table.x[own] - table.x[own].mean(), table.y[own] - table.y[own].mean())
        assert points.rms_horizontal[point] == pytest.approx(
            np.sqrt(np.mean(distance**2))
        ) and points.max_horizontal[point] == pytest.approx(distance.max())
    assert (result.reason != 0).mean() < 0.03
    assert_allclose(points.ended - points.started, epochs - 1.0, atol=2.0)


def test_weights_follow_the_accuracy_reported():
    table = spots(2, 1, 0.0, sigma_h=[0.005, 0.01], sigma_v=[0.02, 0.01])
    table = moved(table, x=np.array([0.0, 0.01]), z=np.array([3.0, 3.02]))
    points = average(table).points
    assert points.x[0] == pytest.approx(0.01 / 5) and points.z[0] == pytest.approx(
        3.0 + 0.02 * 4 / 5
    )


def test_one_gross_epoch_of_three():
    table = spots(3, 2)
    x = table.x.copy()
    x[1] += 0.3
    result = average(moved(table, x=x))
    check(moved(table, x=x), result)
    assert names(result) == ["", "spike", "", "", "", ""] and result.amount[1] == pytest.approx(
        0.3, abs=0.03
    )
    assert result.points.epochs.tolist() == [2, 3] and result.points.rejected.tolist() == [1, 0]
    assert abs(result.points.x[0]) < 0.02


@pytest.mark.parametrize("seed", range(20))
def test_three_good_epochs_are_kept(seed):
    result = average(spots(3, 10, seed=seed))
    assert (result.reason != 0).sum() <= 1


@pytest.mark.parametrize("at", [0, 4, 9])
@pytest.mark.parametrize("size", [0.06, 0.5, 20.0])
def test_a_gross_epoch_anywhere(at, size):
    table = spots(10, 2, 0.005)
    y = table.y.copy()
    y[at] -= size
    result = average(moved(table, y=y))
    check(moved(table, y=y), result)
    assert np.flatnonzero(result.reason).tolist() == [at] and names(result)[at] == "spike"
    assert len(result.points) == 2


def test_a_gross_height_leaves_the_epoch_out():
    table = spots(8, 1)
    z = table.z.copy()
    z[3] += 0.4
    result = average(moved(table, z=z))
    assert names(result)[3] == "height_spike" and (result.reason != 0).sum() == 1
    assert abs(result.points.z[0] - 3.0) < 0.03


def test_reasons_of_single_rows():
    table = spots(
        6,
        1,
        fixed=[True, False, True, True, True, True],
        sigma_h=[0.01, 0.01, 0.2, 0.01, 0.01, 0.01],
    )
    seconds, x = table.seconds.copy(), table.x.copy()
    seconds[3], x[4] = np.nan, np.nan
    table = moved(table, seconds=seconds, x=x)
    result = average(table)
    check(table, result)
    assert names(result) == ["", "not_fixed", "poor_accuracy", "no_time", "no_position", ""]
    # without the one that has no time
    assert result.points.epochs.tolist() == [2] and result.points.rejected.tolist() == [3]


def test_repeated_times():
    table = spots(4, 1)
    table = moved(table, seconds=np.array([0.0, 1.0, 1.0, 2.0]))
    assert sorted(names(average(table))) == ["", "", "", "repeat"]


def test_too_few_epochs():
    table = spots(2, 3, seconds=[0.0, 1, 100, 101, 200, 201])
    table = take(table, np.array([0, 2, 3, 4, 5]))
    result = average(table)
    check(table, result)
    assert names(result) == ["too_few", "", "", "", ""] and result.amount[0] == 1
    assert not len(average(table, OccupationSettings(min_epochs=3)).points)
    assert set(names(average(table, OccupationSettings(min_epochs=3)))) == {"too_few"}


def test_two_epochs_far_apart_are_no_point():
    table = spots(2, 1, 0.0)
    result = average(moved(table, x=np.array([0.0, 0.6])))
    assert not len(result.points) and (result.reason >= MOVING).all()


def test_trigger_released_at_one_place():
    table = spots(3, 1, seconds=[0.0, 40.0, 95.0])
    assert average(table).points.epochs.tolist() == [3]
    # who sets a limit wants the break
    assert not len(average(table, OccupationSettings(max_time_gap=10.0)).points)


def walk_with_stops(stands=((20, 12), (45, 8)), noise=0.008, seed=2):
    """A walk of one capture, standing still at some steps for some seconds."""
    x, y = along([("line", 10_000.0)], until=70 * STEP)
    rows = np.concatenate([np.repeat(step, dict(stands).get(step, 0) + 1) for step in range(70)])
    rng = np.random.default_rng(seed)
    return EpochTable.from_columns(
        x[rows] + rng.normal(0, noise, len(rows)),
        y[rows] + rng.normal(0, noise, len(rows)),
        np.full(len(rows), 4.0),
        np.arange(float(len(rows))),
    ), [(x[step], y[step]) for step, _ in stands]


def test_stops_on_a_walk():
    table, places = walk_with_stops()
    result = average(table)
    check(table, result)
    points = result.points
    assert len(points) == 2
    for point, (x, y) in enumerate(places):
        assert np.hypot(points.x[point] - x, points.y[point] - y) < 0.012
    assert points.epochs[0] == pytest.approx(13, abs=1) and points.epochs[1] == pytest.approx(
        9, abs=1
    )
    assert set(names(result)) == {"", "moving"}
    assert len(average(table, OccupationSettings(min_dwell=10.0)).points) == 1


def test_a_plain_walk_has_no_stops():
    table, _ = walk_with_stops(())
    result = average(table)
    assert not len(result.points) and set(names(result)) == {"moving"}


def test_several_stops_under_one_name():
    table = spots(6, 3, capture=np.zeros(18, int))
    result = average(table)
    assert result.points.epochs.tolist() == [6, 6, 6]
    assert_allclose(result.points.x, [0.0, 30.0, 60.0], atol=0.015)


@pytest.mark.parametrize("seed", range(3))
def test_order_of_rows_does_not_matter(seed):
    table, _ = walk_with_stops(seed=seed)
    both = EpochTable.from_columns(
        *(
            np.concatenate([getattr(one, name) for one in (table, spots(5, 3))])
            for name in ("x", "y", "z", "seconds")
        ),
        capture=np.concatenate([table.capture, spots(5, 3).capture + 1]),
    )
    shuffle = np.random.default_rng(seed).permutation(len(both))
    straight, shuffled = average(both), average(take(both, shuffle))
    assert_array_equal(straight.reason[shuffle], shuffled.reason)
    assert_array_equal(straight.point[shuffle], shuffled.point)
    assert_allclose(straight.points.x, shuffled.points.x, atol=1e-12)
    assert_allclose(straight.points.sigma_east, shuffled.points.sigma_east)


@pytest.mark.parametrize("seed", range(4))
def test_every_row_is_in_one_place_whatever_goes_wrong(seed):
    rng = np.random.default_rng(seed)
    truth = sim.random_truth(sim.SHAPES[seed], rng)
    walks = [
        sim.walk(
            truth,
            rng,
            sort,
            "",
            5000.0 * number,
            disturbances=sim.Disturbances(stands_per_metre=1 / 30),
        )
        for number, sort in enumerate(sim.SORTS * 2)
    ]

    def column(name):
        return np.concatenate([getattr(walk, name) for walk in walks])

    table = EpochTable.from_columns(
        column("x"),
        column("y"),
        column("z"),
        column("seconds"),
        np.repeat(np.arange(4), [len(walk) for walk in walks]),
        column("fix") == sim.FIXED,
        column("h_acc"),
        column("v_acc"),
    )
    result = average(table)
    check(table, result)
    assert len(result.points) > 3
    # each stop against the truth of its epochs: they stand at one true place
    true_x, true_y = column("true_x"), column("true_y")
    for point in range(len(result.points)):
        own = result.point == point
        assert np.ptp(true_x[own]) < 0.6 and np.ptp(true_y[own]) < 0.6


def test_points_without_heights():
    table = moved(spots(5, 2), z=np.full(10, np.nan))
    points = average(table).points
    assert (
        np.isnan(points.z).all()
        and np.isnan(points.sigma_up).all()
        and np.isfinite(points.sigma_east).all()
    )


def test_nothing_in_gives_nothing_out():
    result = average(EpochTable.from_columns([], []))
    assert not len(result.points) and not len(result.reason)
    result = average(EpochTable.from_columns([np.nan], [1.0]))
    assert names(result) == ["no_position"]


# Sigma


def test_sigma_holds_on_simulated_stops():
    """The 95 % band of points of 3 to 60 epochs holds the truth 90 to 98 % of the time."""
    rng = np.random.default_rng(11)
    hits, up, reported = [], [], 0.007
    for epochs in (3, 10, 60):
        n, points = epochs * 150, 150
        error = np.concatenate(
            [
                np.column_stack(
                    [
                        sim.gauss_markov(epochs, rng, sim.CORRELATED_SIGMA, sim.CORRELATION_TIME)
                        for _ in range(3)
                    ]
                )
                for _ in range(points)
            ]
        )
        # on a plumb pole standing still: white noise of 5 mm, a lean of 1.5 mm that stays
        error += rng.normal(0, 0.005, (n, 3)) + np.repeat(
            rng.normal(0, 0.0015, (points, 3)), epochs, axis=0
        )
        error[:, 2] *= 1.5
        capture = np.repeat(np.arange(points), epochs)
        table = EpochTable.from_columns(
            30.0 * capture + error[:, 0],
            error[:, 1],
            error[:, 2],
            np.tile(np.arange(float(epochs)), points) + 600.0 * capture,
            capture,
            None,
            np.full(n, reported),
            np.full(n, 1.5 * reported),
        )
        p = average(table).points
        hits += [
            np.abs(p.x - 30.0 * p.capture) < 1.96 * p.sigma_east,
            np.abs(p.y) < 1.96 * p.sigma_north,
        ]
        up.append(np.abs(p.z) < 1.96 * p.sigma_up)
    assert 0.90 < np.mean(np.concatenate(hits)) < 0.98
    assert 0.90 < np.mean(np.concatenate(up)) < 0.985


def test_more_epochs_help_until_the_slow_part_is_left():
    sigma = [np.median(average(spots(n, 30)).points.sigma_east) for n in (2, 8, 30, 300)]
    assert sigma[0] > sigma[1] > sigma[2] > sigma[3]
    assert sigma[2] > 0.7 * 0.005  # half a minute of it leaves most of the 5 mm


def test_double_spread_and_double_accuracy_double_the_sigma():
    one = spots(12, 10, sigma_h=np.full(120, 0.008), sigma_v=np.full(120, 0.012))
    middle = 30.0 * one.capture
    two = moved(
        one,
        x=middle + 2 * (one.x - middle),
        y=2 * one.y,
        z=3 + 2 * (one.z - 3),
        sigma_h=2 * one.sigma_h,
        sigma_v=2 * one.sigma_v,
    )
    a, b = (
        average(one, OccupationSettings(radius=0.5)).points,
        average(two, OccupationSettings(radius=0.5)).points,
    )
    assert_allclose(b.sigma_east, 2 * a.sigma_east, rtol=0.02)
    assert_allclose(b.sigma_up, 2 * a.sigma_up, rtol=0.02)


def test_lengths_are_on_the_ground():
    table = spots(10, 2)
    wide = moved(table, x=2 * table.x, y=2 * table.y, scale=np.full(len(table), 2.0))
    a, b = average(table).points, average(wide).points
    assert_allclose(b.sd_east, a.sd_east)
    assert_allclose(b.sigma_north, a.sigma_north)
    assert_allclose(b.x, 2 * a.x)


@pytest.mark.parametrize(("turn", "noise"), [(0.0, 0.004), (0.6, 0.002), (0.02, 0.012)])
def test_a_grid_of_rounding_makes_no_gross_errors(turn, noise):
    """A grid of 18 by 11 mm, as five decimals of an arc minute make one, turned as a map's."""
    rng = np.random.default_rng(3)
    n, grid = 1000, np.array([0.0185, 0.0111])
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    true = rng.uniform(-0.5, 0.5, 2) * grid
    x, y = (np.round((true + rng.normal(0, noise, (n, 2))) / grid) * grid @ turned).T
    z = np.round(5.046 + rng.normal(0, 1.5 * noise, n), 1)
    points = average(EpochTable.from_columns(x, y, z=z, seconds=np.arange(float(n)))).points
    assert points.epochs.tolist() == [n]
    east, north = np.array([points.x[0], points.y[0]]) - true @ turned
    assert np.hypot(east, north) < 3 * np.hypot(points.sigma_east[0], points.sigma_north[0])
    assert abs(points.z[0] - 5.046) < 3 * points.sigma_up[0]


@pytest.mark.parametrize("rate", [1, 8])
def test_spots_of_any_rate_on_a_grid_lose_no_epoch_and_have_an_honest_sigma(rate):
    """Noise with a memory of half a second and one of a minute, rounded as above."""
    rng, grid = np.random.default_rng(11), np.array([0.0185, 0.0111, 0.1])
    points, n = 40, 30 * rate

    def noise(size):
        slow = sim.gauss_markov(n, rng, 0.005, 60.0, 1 / rate)
        return size * (slow + sim.gauss_markov(n, rng, 0.006, 0.5, 1 / rate))

    true = np.array([[30.0 * k, 0.0, 5.0] for k in range(points)]) + rng.uniform(size=(points, 3))
    seen = [place + np.column_stack([noise(f) for f in (1, 1, 1.5)]) for place in true]
    x, y, z = (np.round(np.concatenate(seen) / grid) * grid).T
    capture = np.repeat(np.arange(points), n)
    seconds = np.tile(np.arange(n) / rate, points) + 3600.0 * capture
    accuracy = {"sigma_h": np.full(len(x), 0.007), "sigma_v": np.full(len(x), 0.0105)}
    table = EpochTable.from_columns(x, y, z=z, seconds=seconds, capture=capture, **accuracy)
    result = average(table)
    assert np.mean(result.reason > 0) < 0.005
    found = result.points
    for axis, value, sigma in (
        (0, found.x, found.sigma_east),
        (1, found.y, found.sigma_north),
        (2, found.z, found.sigma_up),
    ):
        off = (value - true[found.capture, axis]) / sigma
        assert 0.6 < np.sqrt(np.mean(off**2)) < 1.25


def test_a_gross_epoch_on_a_grid_is_found():
    rng = np.random.default_rng(4)
    grid = np.array([0.0185, 0.0111])
    xy = np.round(rng.normal(0, 0.005, (60, 2)) / grid) * grid
    xy[20] += [0.3, 0.1]
    result = average(EpochTable.from_columns(*xy.T, seconds=np.arange(60.0)))
    assert_array_equal(np.flatnonzero(result.reason), [20])


def test_stops_that_lie_in_one_cell_each_are_no_surer_than_the_cell():
    """Nothing that stands still shows the grid: the layer's other epochs do."""
    rng, step, points = np.random.default_rng(6), 0.1, 60
    true = np.array([30.0 * np.arange(points), np.zeros(points)]).T + rng.uniform(size=(points, 2))
    true[:, 0] -= 0.3 * (true[:, 0] - np.round(true[:, 0] / step) * step)  # not near a rim
    seen = np.round(np.repeat(true, 10, axis=0) / step) * step
    capture = np.repeat(np.arange(points), 10)
    seconds = 120.0 * capture + np.tile(np.arange(10.0), points)
    table = EpochTable.from_columns(*seen.T, seconds=seconds, capture=capture)
    blind, told = average(table).points, average(table, step=step).points
    off = np.concatenate([told.x - true[:, 0], told.y - true[:, 1]])
    for found, low, high in ((blind, 2.5, 99.0), (told, 0.6, 1.1)):
        sigma = np.concatenate([found.sigma_east, found.sigma_north])
        assert low < np.sqrt(np.mean((off / sigma) ** 2)) < high
