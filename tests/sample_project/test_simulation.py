"""Simulated edges and walks: the geometry is exact, the noise is what it says, nothing is left to
chance."""

import dataclasses
import math

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim


@pytest.fixture(scope="module")
def trial():
    return sim.trial_set(7)


def column(walks, name):
    return np.concatenate([getattr(walk, name) for walk in walks])


# --- geometry
# ------------------------------------------------------------------------------------------------


def test_curb_return_by_hand():
    # 10 m east, left on a radius of 5 m through 90 degrees, 20 m north: tangent points and centre
    # (10, 5) by hand.
    truth = sim.chain("block", [("line", 10.0), ("arc", 5.0, 90.0), ("line", 20.0)])
    assert truth.length == pytest.approx(30.0 + 2.5 * math.pi)
    quarter = 2.5 * math.pi
    assert_allclose(
        truth.at([0.0, 10.0, 10.0 + quarter, truth.length])[:, :2],
        [[0, 0], [10, 0], [15, 5], [15, 25]],
        atol=1e-12,
    )
    middle = truth.at(10.0 + quarter / 2)[:2]
    assert_allclose(middle, [10.0 + 5.0 * math.sin(math.pi / 4), 5.0 - 5.0 * math.cos(math.pi / 4)])
    arc = truth.at(10.0 + np.linspace(0.0, quarter, 50))[:, :2]
    assert_allclose(np.hypot(*(arc - [10.0, 5.0]).T), 5.0)
    assert truth.corners.shape == (0, 3)


def test_square_bay_corners_by_hand():
    truth = sim.chain(
        "bay",
        [("line", 4.0), ("corner", -90.0), ("line", 2.0), ("corner", 90.0), ("line", 12.0)],
        start=(100.0, 50.0),
    )
    assert_allclose(truth.corners[:, :2], [[104.0, 50.0], [104.0, 48.0]], atol=1e-12)
    assert_allclose(truth.corner_chainage, [4.0, 6.0])
    assert_allclose(truth.at(truth.length)[:2], [116.0, 48.0], atol=1e-12)


def test_corner_before_any_element_is_refused():
    with pytest.raises(ValueError, match="corner"):
        sim.chain("bay", [("corner", 90.0)])


@pytest.mark.parametrize("kind", sim.SHAPES)
@pytest.mark.parametrize("seed", range(4))
def test_random_edges(kind, seed):
    truth = sim.random_truth(kind, np.random.default_rng(seed), (300.0, -20.0))
    s = np.linspace(0.0, truth.length, 20001)
    xy = truth.at(s)[:, :2]
    chords = np.hypot(*np.diff(xy, axis=0).T)
    # corners are cut by up to one step
    assert chords.sum() == pytest.approx(truth.length, rel=2e-4)
    assert (chords <= s[1] * (1 + 1e-9)).all()  # no jump anywhere
    assert_allclose(xy[0], [300.0, -20.0])
    radii = 1.0 / np.abs(truth.curvatures[truth.curvatures != 0.0])
    deflections = np.degrees(np.abs(truth.turns[truth.turns != 0.0]))
    if kind == "block":
        assert ((radii >= 3.0) & (radii <= 9.0)).all() and len(radii) >= 2
    elif kind == "island":
        assert ((radii >= 1.0) & (radii <= 2.5)).all() and len(radii) == 2
        assert_allclose(xy[-1], xy[0], atol=1e-9)
        assert truth.length == pytest.approx(2.0 * math.pi * radii[0] + truth.lengths[::2].sum())
        assert_allclose(truth.at(truth.length + 3.0), truth.at(3.0), atol=1e-9)
    elif kind == "bay":
        assert_allclose(deflections, 90.0)
        assert len(deflections) % 4 == 0
    elif kind == "bend":
        assert ((radii >= 20.0) & (radii <= 250.0)).all() and len(radii) >= 1
    elif kind == "zigzag":
        assert ((deflections >= 35.0) & (deflections <= 90.0)).all()
    else:
        assert len(radii) == len(deflections) == 0


@pytest.mark.parametrize("sagitta", [0.001, 0.01])
@pytest.mark.parametrize("kind", ["block", "island", "bend"])
def test_polyline_keeps_its_sagitta_and_needs_it(kind, sagitta):
    # Chord sagitta r (1 - cos(theta / 2)): the middle of every chord of an arc against the arc
    # itself.
    truth = sim.random_truth(kind, np.random.default_rng(3))
    points, chainage = truth.polyline(sagitta)
    middle = truth.at((chainage[1:] + chainage[:-1]) / 2)[:, :2]
    gap = np.hypot(*(middle - (points[1:, :2] + points[:-1, :2]) / 2).T)
    assert gap.max() <= sagitta * (1 + 1e-9)
    assert gap.max() > 0.5 * sagitta
    assert_allclose(points, truth.at(chainage), atol=1e-9)


def test_polyline_past_the_end_of_a_lap():
    truth = sim.chain("island", sim.island_parts(10.0, 1.5), closed=True)
    points, chainage = truth.polyline(between=(-2.0, truth.length + 4.0))
    assert (
        chainage[0] == -2.0 and chainage[-1] == truth.length + 4.0 and (np.diff(chainage) > 0).all()
    )
    assert_allclose(points[0, :2], [-2.0, 0.0], atol=1e-9)
    assert_allclose(points[-1, :2], [4.0, 0.0], atol=1e-9)


def test_dropped_kerb_and_ground_plane():
    truth = sim.chain(
        "straight", [("line", 40.0)], ground=(5.0, 0.01, 0.5), drops=[(10.0, 3.0, 0.12, 1.5)]
    )
    heights = truth.at([0.0, 10.0, 10.75, 11.5, 14.5, 16.0, 40.0])[:, 2]
    assert_allclose(heights, [5.0, 5.1, 5.1075 - 0.06, 5.115 - 0.12, 5.145 - 0.12, 5.16, 5.4])
    assert {10.0, 11.5, 14.5, 16.0} <= set(truth.polyline()[1])


# --- walks
# ------------------------------------------------------------------------------------------------


def test_same_seed_same_walks_and_another_seed_others():
    first, again, other = sim.trial_set(3, 6), sim.trial_set(3, 6), sim.trial_set(4, 6)
    for a, b in zip(first, again):
        for item in dataclasses.fields(sim.Walk):
            if item.name != "truth":
                assert_array_equal(getattr(a, item.name), getattr(b, item.name))
        assert_array_equal(a.truth.points, b.truth.points)
    assert len(column(first, "x")) != len(column(other, "x"))


def test_trial_set_is_of_the_size_and_mix_asked_for(trial):
    assert len(trial) == 80 and 8000 < sum(map(len, trial)) < 10000
    kinds = [walk.kind for walk in trial]
    assert [kinds.count(kind) for kind in sim.TRIAL_MIX] == [24, 14, 14, 14, 6, 8]
    assert sorted(walk.capture for walk in trial) == [walk.capture for walk in trial]
    ends = [np.nanmax(walk.seconds) for walk in trial]
    assert all(np.nanmin(walk.seconds) > end for walk, end in zip(trial[1:], ends))


def test_noise_across_the_track_and_up(trial):
    # 80 captures of about 100 epochs: white part known to 1 %, correlated part to 10 %, so the sum
    # to 2 %; band is 3 sigma.
    good = column(trial, "is_good")
    cross = np.sqrt(np.mean(np.concatenate([walk.cross_error for walk in trial])[good] ** 2))
    assert cross == pytest.approx(0.0124, rel=0.06)
    level = good & ~column(trial, "is_height_spike")
    up = np.sqrt(np.mean((column(trial, "z") - column(trial, "true_z"))[level] ** 2))
    assert up == pytest.approx(0.0186, rel=0.06)


def test_receiver_error_is_correlated_over_a_minute():
    error = sim.gauss_markov(400_000, np.random.default_rng(5), 0.005, 60.0)
    assert error.std() == pytest.approx(0.005, rel=0.05)
    for lag in (1, 30, 60, 120):
        assert np.corrcoef(error[:-lag], error[lag:])[0, 1] == pytest.approx(
            math.exp(-lag / 60.0), abs=0.05
        )
    by_hand = np.random.default_rng(1).normal(0.0, 1.0, 50)
    for k in range(1, 50):
        by_hand[k] = math.exp(-0.5) * by_hand[k - 1] + math.sqrt(1 - math.exp(-1.0)) * by_hand[k]
    assert_allclose(sim.gauss_markov(50, np.random.default_rng(1), 1.0, 2.0), by_hand, rtol=1e-9)


def test_pace():
    truth = sim.chain("block", [("line", 200.0), ("arc", 3.0, 90.0), ("line", 200.0)])
    pace = []
    for seed in range(20):
        walk = sim.walk(truth, np.random.default_rng(seed), disturbances=sim.Disturbances.none())
        assert_array_equal(np.diff(walk.seconds), 1.0)
        pace.append(
            np.interp(
                [100.0, 202.4, 300.0],
                walk.true_chainage[:-1] + np.diff(walk.true_chainage) / 2,
                np.diff(walk.true_chainage),
            )
        )
    straight, tight, after = np.array(pace).T
    for speed in (straight, after):
        assert speed.min() > 1.05 and speed.max() < 1.42
    assert (tight / straight).max() < 0.85 and (tight / straight).min() > 0.4


def test_stops_and_pauses():
    truth = sim.chain("straight", [("line", 3000.0)])
    none = dataclasses.asdict(sim.Disturbances.none())
    stands = sim.walk(
        truth,
        np.random.default_rng(1),
        disturbances=sim.Disturbances(**{**none, "stands_per_metre": 0.01}),
    )
    assert_array_equal(np.diff(stands.seconds), 1.0)
    still = np.diff(stands.true_chainage) == 0.0
    assert 20 * 5 < still.sum() < 45 * 30
    rates = sim.Disturbances(**{**none, "pauses_per_metre": 0.02})
    assert (
        sim.walk(truth, np.random.default_rng(1), "plumb", disturbances=rates).seconds.size > 2000
    )
    aimed = sim.walk(truth, np.random.default_rng(1), "aimed", disturbances=rates)
    gap, step = np.diff(aimed.seconds), np.diff(aimed.true_chainage)
    pauses = gap > 1.0
    assert 40 < pauses.sum() < 80
    # two pauses may run into one another
    assert (step[pauses] < 1.5).any() and step[pauses].max() < 25.0
    intervals = sim.seen_intervals(aimed)
    over = (gap > 3.5) & (step > 4.5)
    assert len(intervals) == over.sum() + 1 > 5
    assert np.diff(intervals).sum() == pytest.approx(np.ptp(aimed.true_chainage) - step[over].sum())


def test_what_goes_wrong_is_labelled(trial):
    fix, good, spike = column(trial, "fix"), column(trial, "is_good"), column(trial, "is_spike")
    away = np.hypot(
        column(trial, "x") - column(trial, "true_x"), column(trial, "y") - column(trial, "true_y")
    )
    up = np.abs(column(trial, "z") - column(trial, "true_z"))
    assert set(fix) == {1, 4, 5}
    assert (fix[good] == 4).all() and not spike[good].any()
    assert away[good].max() < 0.08
    assert (fix[spike] == 4).all() and away[spike].min() > 0.12 and 2.0 < away[spike].max() < 5.3
    assert up[column(trial, "is_height_spike")].min() > 0.05
    assert np.nanmedian(away[fix == 5]) > 0.1
    assert np.nanmin(away[fix == 1]) > 0.5
    h_acc = column(trial, "h_acc")
    assert (
        h_acc[good].min() >= 0.004 and h_acc[good].max() <= 0.010 and h_acc[fix != 4].min() > 0.05
    )
    assert np.isnan(column(trial, "seconds")).any() and np.isnan(column(trial, "x")).any()
    repeat = column(trial, "is_repeat")
    assert repeat.any() and not good[repeat].any()
    x, seconds = column(trial, "x"), column(trial, "seconds")
    assert_array_equal(x[1:][repeat[1:]], x[:-1][repeat[1:]])
    assert_array_equal(seconds[1:][repeat[1:]], seconds[:-1][repeat[1:]])


def test_backwards_and_part_way():
    truth = sim.chain("straight", [("line", 100.0)])
    walk = sim.walk(
        truth, np.random.default_rng(2), between=(80.0, 20.0), disturbances=sim.Disturbances.none()
    )
    assert walk.true_chainage[0] == 80.0 and 20.0 <= walk.true_chainage[-1] < 21.5
    assert (np.diff(walk.true_chainage) < 0).all()
    (seen,) = sim.seen_intervals(walk)
    assert_array_equal(seen, walk.true_chainage[[0, -1]])


def test_unknown_sort_is_refused():
    with pytest.raises(ValueError, match="sort"):
        sim.walk(sim.chain("straight", [("line", 9.0)]), np.random.default_rng(0), "guessed")


def test_seen_corners_need_both_legs():
    truth = sim.chain(
        "bay", [("line", 20.0), ("corner", 90.0), ("line", 20.0), ("corner", 90.0), ("line", 20.0)]
    )
    walk = sim.walk(truth, np.random.default_rng(0), disturbances=sim.Disturbances.none())
    assert_array_equal(sim.seen_corners(walk), [True, True])
    s = walk.true_chainage
    one_side = dataclasses.replace(walk, is_good=walk.is_good & ~((s > 20.0) & (s < 26.0)))
    assert_array_equal(sim.seen_corners(one_side), [False, True])
    gap = dataclasses.replace(walk, is_good=walk.is_good & ~((s > 36.0) & (s < 43.0)))
    assert_array_equal(sim.seen_corners(gap), [True, False])
    thin = dataclasses.replace(walk, is_good=walk.is_good & ~((s > 21.5) & (s < 24.0)))
    assert sim.seen_intervals(thin).shape == (1, 2)
