"""Corners that the times say were cut."""

from dataclasses import replace

import numpy as np
import pytest
import shapely
from epochwalks import table_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.epochs.screening import screen
from curbwright.shared.epochs.standing import collapse_standing
from curbwright.shared.reconstruction.plan_curves import PlanCurves
from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, Settings, reconstruct
from curbwright.shared.reconstruction.runs import Runs
from curbwright.shared.reconstruction.small_returns import with_small_returns

KEEP = Settings(doubtful="keep", station_spacing=1.0)
SHARP = np.array([(0.0, 0.0), (15.0, 0.0), (15.0, 15.0)])
CUT = np.array([(0.0, 0.0), (14.5, 0.0), (15.0, 0.5), (15.0, 15.0)])
STEP = 0.9  # m in one second: epochs stand on either side of the cut corner and none on it


def walked(corners, start=0.0, seed=1):
    """Epochs a step apart along straight sides."""
    way = np.append(0.0, np.cumsum(np.hypot(*np.diff(corners, axis=0).T)))
    s = np.arange(start, way[-1], STEP)
    rng = np.random.default_rng(seed)
    return [np.interp(s, way, axis) + rng.normal(0, 0.004, len(s)) for axis in corners.T]


def farthest(result, corners):
    """Greatest distance of the lines from the truth."""
    line = np.column_stack([result.edges.x, result.edges.y])
    return shapely.hausdorff_distance(
        shapely.linestrings(line), shapely.linestrings(corners), densify=0.01
    )


def doubtful(result):
    return result.role == ROLE_NAMES.index("doubtful")


def test_a_cut_corner_is_an_arc_and_marked():
    """The corner itself would lie 0.35 m off."""
    x, y = walked(CUT)
    result = reconstruct(table_of(x, y), KEEP)
    assert not len(result.corners)
    assert farthest(result, CUT) < 0.20
    assert_array_equal(np.flatnonzero(doubtful(result)), [16, 17])
    near = np.hypot(result.stations.x - 15, result.stations.y) < 1
    assert result.stations.sigma_cross[near].max() > 0.03


@pytest.mark.parametrize("hesitates", [0.0, 0.4, 3.0])
def test_a_corner_that_was_walked_round_stays(hesitates):
    """However long that took."""
    x, y = walked(SHARP, 0.2)
    seconds = np.arange(float(len(x)))
    seconds[np.argmax(y > 0.1) :] += hesitates
    result = reconstruct(table_of(x, y, seconds=seconds), KEEP)
    assert not doubtful(result).any()
    assert np.hypot(*(result.corners[:, :2] - (15, 0)).T).min() < 0.02


def test_positions_left_out_leave_the_corner():
    x, y = walked(CUT)
    result = reconstruct(table_of(x, y), Settings(doubtful="leave_out"))
    assert np.hypot(*(result.corners[:, :2] - (15, 0)).T).min() < 0.02


def test_walked_the_other_way_it_is_the_same_arc():
    x, y = walked(CUT)
    there, back = (reconstruct(table_of(x[::k], y[::k]), KEEP).edges for k in (1, -1))
    lines = [shapely.linestrings(np.column_stack([one.x, one.y])) for one in (there, back)]
    assert shapely.hausdorff_distance(*lines) < 0.01


def sharp_curves(legs, seconds):
    """Runs of four positions round a right angle each, with legs to the corner so long, as curves
    with a node at the corner; and the runs."""
    x, y, feet = [], [], []
    for k, leg in enumerate(legs):
        x += [100.0 * k - 1 - leg, 100.0 * k - leg, 100.0 * k, 100.0 * k, 100.0 * k]
        y += [0.0, 0.0, 0.0, leg, 1 + leg]
        feet += [5 * k, 5 * k + 1, 5 * k + 3, 5 * k + 4]
    x, y, feet, runs = np.array(x), np.array(y), np.array(feet), len(legs)
    table = table_of(x[feet], y[feet], seconds=seconds, capture=np.repeat(np.arange(runs), 4))
    positions = collapse_standing(table, replace(screen(table), kept=np.arange(len(table))))
    assert len(positions) == 4 * runs
    s = np.hypot(np.diff(x, prepend=0), np.diff(y, prepend=0)).reshape(runs, 5)
    s[:, 0] = 0
    held = np.tile([True, False, True, False, True], runs)
    curves = PlanCurves(
        x=x,
        y=y,
        s=np.cumsum(s, axis=1).ravel(),
        curvature=np.zeros(5 * runs),
        held=held,
        offsets=np.arange(0, 5 * runs + 1, 5),
        node=feet,
        normal=np.zeros((4 * runs, 2)),
        closed=np.zeros(runs, bool),
        sigma=np.zeros(4 * runs),
        corners=np.column_stack([x, y])[2::5],
        corner_run=np.arange(runs),
    )
    none = np.zeros(4 * runs, bool)
    made = Runs(
        positions=positions,
        variance=positions.variance,
        bridged=none,
        doubtful=none,
        offsets=np.arange(0, 4 * runs + 1, 4),
        closed=none[::4],
        turned=none[::4],
        lost=none[::4],
    )
    return curves, made


def times(*rounds):
    """A second a step, but so long round the corner."""
    return np.concatenate([1000.0 * k + np.cumsum([0, 1, t, 1]) for k, t in enumerate(rounds)])


def test_the_arc_is_as_long_as_there_was_time_and_touches_both_sides():
    """Round a right angle with legs of 0.6 m at 1 m/s in a second: 1.2 - 1 = (2 - pi/2) r."""
    curves, runs = sharp_curves([0.6], times(1.0))
    drawn, beside = with_small_returns(curves, runs)
    radius = 0.2 / (2 - np.pi / 2)
    assert beside.tolist() == [False, True, True, False]
    assert drawn.curvature.tolist() == [0, 0, pytest.approx(1 / radius), 0, 0, 0]
    assert_allclose(drawn.x[2:4], [-radius, 0], atol=1e-9)
    assert_allclose(drawn.y[2:4], [0, radius], atol=1e-9)
    assert drawn.s[-1] == pytest.approx(3.0)
    assert (np.diff(drawn.s) > 0).all()
    assert drawn.node.tolist() == [0, 1, 4, 5]
    assert not drawn.held[1:-1].any()
    assert len(drawn.corners) == len(drawn.corner_run) == 0


def test_no_arc_reaches_beyond_the_feet():
    curves, runs = sharp_curves([0.9], times(0.7))
    drawn, _ = with_small_returns(curves, runs)
    assert 1 / drawn.curvature.max() == pytest.approx(0.9, abs=1e-5)
    assert (np.diff(drawn.s) >= 0).all()


def test_the_others_keep_every_digit():
    curves, runs = sharp_curves([1 / 3, 0.6, 3 / 7], times(1.0, 1.0, 1.0))
    drawn, beside = with_small_returns(curves, runs)
    assert np.flatnonzero(beside).tolist() == [5, 6]
    of, before = group_index(drawn.offsets), group_index(curves.offsets)
    for k in (0, 2):
        for name in ("x", "y", "s", "held", "curvature"):
            assert_array_equal(getattr(drawn, name)[of == k], getattr(curves, name)[before == k])
    assert drawn.corner_run.tolist() == [0, 2]
    assert_array_equal(drawn.corners, curves.corners[[0, 2]])


def test_what_a_person_asked_for_stays():
    curves, runs = sharp_curves([0.6], times(1.0))
    held = np.array([False, True, False, False])
    drawn, beside = with_small_returns(curves, runs, held)
    assert drawn is curves
    assert not beside.any()


def test_a_stop_next_to_the_corner_is_no_pace():
    """A step of a tenth of the pace says nothing of the way round."""
    curves, runs = sharp_curves([0.45], np.cumsum([0.0, 10.0, 1.0, 1.0]))
    drawn, _ = with_small_returns(curves, runs)
    assert drawn is curves


def test_without_times_nothing_is_known():
    curves, runs = sharp_curves([0.6], times(1.0))
    still = replace(runs.positions, started=np.zeros(4), ended=np.zeros(4))
    drawn, _ = with_small_returns(curves, replace(runs, positions=still))
    assert drawn is curves
