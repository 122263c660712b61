"""The main job on walks whose answer is plain: what joins, what breaks and why, what is left of
each epoch."""

import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from epochwalks import STEP, along, check, line, moved, off_line, table_of, take
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import (
    BREAK_NAMES,
    ROLE_NAMES,
    Settings,
    reconstruct,
)

TESTS = Path(__file__).resolve().parents[2]
SHARED = TESTS.parent / "shared"
# but for what needs the packages of the partitions' command
CORE = sorted(
    ".".join(path.relative_to(SHARED).with_suffix("").parts)
    for path in SHARED.rglob("*.py")
    if path.name != "__init__.py" and path.parent.name != "partitions"
)


def names(codes):
    return [BREAK_NAMES[code] for code in codes]


def straight(count, noise=0.0, seed=0):
    return along([("line", 10_000.0)], noise, seed, until=(count - 0.5) * STEP)


def run(table, **settings):
    result = reconstruct(table, Settings(**settings))
    check(table, result, Settings(**settings))
    return result


# --- the interpreter
# ------------------------------------------------------------------------------------------------


def test_core_imports_without_qgis():
    code = f"""
import sys
sys.modules.update(qgis=None, osgeo=None, processing=None, PyQt5=None, PyQt6=None)
import importlib
import clone
for name in {CORE}:
    importlib.import_module(f"curbwright.shared.{{name}}")
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import reconstruct
table = EpochTable.from_columns(range(9), [0.0] * 9, seconds=range(9))
assert len(reconstruct(table).edges) == 1
"""
    assert len(CORE) > 50
    subprocess.run([sys.executable, "-c", code], check=True, cwd=TESTS)


def test_words_of_the_outputs():
    assert BREAK_NAMES[:7] == (
        "start",
        "end",
        "paused",
        "not_fixed",
        "new_capture",
        "spike",
        "poor_accuracy",
    )
    assert len(set(BREAK_NAMES)) == len(BREAK_NAMES)
    assert ROLE_NAMES == ("", "single", "standing", "doubtful")


# --- one straight walk
# ----------------------------------------------------------------------------------------------


def test_straight_walk_without_noise():
    x, y = straight(50)
    result = run(table_of(x, y))
    edges = result.edges
    assert len(edges) == 1 and len(result.gaps) == 0
    assert_array_equal(result.reason, 0)
    assert_array_equal(edges.offsets, [0, 2])
    assert_allclose(line(edges, 0), [[x[0], y[0], 5.0], [x[-1], y[-1], 5.0]], atol=1e-6)
    assert_allclose(edges.length, 49 * STEP, atol=1e-6)
    assert_allclose(result.chainage, np.arange(50) * STEP, atol=1e-6)
    assert_allclose(result.residual_cross, 0, atol=1e-6)
    assert_allclose(result.residual_up, 0, atol=1e-6)
    assert (edges.started[0], edges.ended[0], edges.epochs_used[0], edges.epochs_rejected[0]) == (
        0.0,
        49.0,
        50,
        0,
    )
    assert (edges.capture[0], edges.run[0], edges.closed[0]) == (0, 1, False)
    assert names(edges.start_reason) == ["start"] and names(edges.end_reason) == ["end"]
    assert_array_equal(result.role, 1)
    assert result.height_used.all()


def test_residuals_are_positive_to_the_right():
    # Walking east, one epoch 30 mm to the south lies to the right.
    x, y = np.arange(40) * STEP, np.zeros(40)
    y[20] = -0.03
    result = run(table_of(x, y))
    assert result.residual_cross[20] == pytest.approx(0.03, abs=0.004)
    assert np.abs(np.delete(result.residual_cross, 20)).max() < 0.005
    result = run(table_of(-x, y))
    assert result.residual_cross[20] == pytest.approx(-0.03, abs=0.004)


def test_residual_up_is_positive_above_the_edge():
    x, y = straight(40)
    z = np.full(40, 5.0)
    z[20] += 0.04
    result = run(table_of(x, y, z=z))
    assert result.residual_up[20] == pytest.approx(0.04, abs=0.008)


@pytest.mark.parametrize("slope", [0.0, 0.06, -0.08])
def test_heights_follow_a_slope(slope):
    x, y = straight(60)
    z = 12.0 + slope * STEP * np.arange(60) + np.random.default_rng(4).normal(0, 0.015, 60)
    result = run(table_of(x, y, z=z))
    ends = line(result.edges, 0)[[0, -1], 2]
    assert_allclose(ends, [12.0, 12.0 + slope * STEP * 59], atol=0.03)
    assert 0.003 < result.edges.sigma_up[0] < 0.02


def test_noise_is_smoothed():
    x, y = straight(120, noise=0.012, seed=1)
    true_x, true_y = straight(120)
    result = run(table_of(x, y))
    truth = np.column_stack([true_x, true_y])
    assert len(result.edges) == 1
    assert np.sqrt(np.mean(off_line(truth, line(result.edges, 0)) ** 2)) < 0.004
    assert result.edges.rms_residual[0] == pytest.approx(0.012, rel=0.2)


# --- rejected
# ------------------------------------------------------------------------------------------------


def bad_rows():
    """One straight walk with one row of each plain reason."""
    x, y = straight(40)
    columns = {
        "sigma_h": np.full(40, 0.008),
        "fixed": np.ones(40, bool),
        "seconds": np.arange(40.0),
        "parts": np.ones(40, int),
    }
    x[3] = np.nan
    columns["parts"][[3, 6]] = 0, 2
    columns["seconds"][9] = np.nan
    columns["fixed"][12] = False
    columns["sigma_h"][15] = 0.07
    x[18] += 0.8
    columns["seconds"][21] = 20.0
    return table_of(x, y, **columns)


def test_one_row_for_each_reason():
    result = run(bad_rows())
    expected = np.zeros(40, int)
    expected[[3, 6, 9, 12, 15, 18, 21]] = [
        Reason.NO_POSITION,
        Reason.NO_POSITION,
        Reason.NO_TIME,
        Reason.NOT_FIXED,
        Reason.POOR_ACCURACY,
        Reason.SPIKE,
        Reason.REPEAT,
    ]
    # of two rows with one time either one may be the repeat, but always the same one
    repeat = np.flatnonzero(result.reason == Reason.REPEAT)
    assert repeat.tolist() in ([20], [21])
    expected[21], expected[repeat[0]] = 0, Reason.REPEAT
    assert_array_equal(result.reason, expected)
    assert len(result.edges) == 1
    assert result.edges.epochs_used[0] == 33
    assert result.edges.epochs_rejected[0] == 6  # the row without time lies nowhere


def test_accuracy_at_the_limit_is_taken():
    x, y = straight(20)
    sigma = np.full(20, 0.05)
    assert_array_equal(run(table_of(x, y, sigma_h=sigma)).reason, 0)
    assert_array_equal(
        run(table_of(x, y, sigma_h=sigma), max_h_accuracy=0.049).reason, Reason.POOR_ACCURACY
    )


@pytest.mark.parametrize(
    ("change", "why"),
    [
        ({"fixed": np.zeros(30, bool)}, Reason.NOT_FIXED),
        ({"seconds": np.full(30, np.nan)}, Reason.NO_TIME),
        ({"sigma_h": np.full(30, 1.0)}, Reason.POOR_ACCURACY),
        ({"parts": np.full(30, 2)}, Reason.NO_POSITION),
        ({"x": np.full(30, np.nan)}, Reason.NO_POSITION),
    ],
    ids=lambda value: value.name if isinstance(value, Reason) else "",
)
def test_all_rejected(change, why):
    x, y = straight(30)
    result = run(moved(table_of(x, y), **change))
    assert len(result.edges) == 0 and len(result.gaps) == 0
    assert_array_equal(result.reason, why)


@pytest.mark.parametrize("count", [0, 1, 2])
def test_too_few_for_an_edge(count):
    x, y = straight(30)
    result = run(take(table_of(x, y), np.arange(count)))
    assert len(result.edges) == 0
    assert_array_equal(result.reason, [Reason.TOO_SHORT] * count)


def test_single_epochs_of_many_captures():
    x, y = straight(30)
    result = run(table_of(x, y, capture=np.arange(30)))
    assert len(result.edges) == 0
    assert_array_equal(result.reason, Reason.TOO_SHORT)


def test_shortest_edge_is_for_the_user_to_say():
    x, y = along([("line", 3.0)], step=0.3)
    assert len(run(table_of(x, y), min_length=2.0).edges) == 1
    assert_array_equal(run(table_of(x, y), min_length=4.0).reason, Reason.TOO_SHORT)


# --- heights
# ------------------------------------------------------------------------------------------------


def test_no_heights_at_all():
    x, y = straight(40, 0.01)
    plain, flat = run(table_of(x, y, z=np.full(40, np.nan))), run(table_of(x, y))
    assert np.isnan(plain.edges.z).all() and np.isfinite(flat.edges.z).all()
    assert np.isnan(plain.residual_up).all() and not plain.height_used.any()
    assert_array_equal(plain.reason, 0)
    assert plain.edges.length[0] == pytest.approx(flat.edges.length[0], abs=1e-6)


def test_some_heights():
    x, y = straight(40)
    z = np.full(40, np.nan)
    z[::5] = 3.0 + 0.05 * STEP * np.arange(0, 40, 5)
    result = run(table_of(x, y, z=z))
    assert_array_equal(result.height_used, np.isfinite(z))
    assert_allclose(line(result.edges, 0)[0, 2], 3.0, atol=0.02)
    assert_allclose(
        np.interp(
            35 * STEP, np.hypot(result.edges.x - x[0], result.edges.y - y[0]), result.edges.z
        ),
        z[35],
        atol=0.02,
    )


def test_captures_with_and_without_heights():
    x, y = straight(40)
    z = np.where(np.arange(40) < 20, 4.0, np.nan)
    result = run(table_of(x, y, z=z, capture=np.arange(40) // 20))
    assert_allclose(line(result.edges, 0)[:, 2], 4.0, atol=1e-6)
    assert np.isnan(line(result.edges, 1)[:, 2]).all()


@pytest.mark.parametrize("size", [0.3, -0.5, 8.0])
def test_height_spike_keeps_the_position(size):
    x, y = straight(50, 0.005)
    z = 5 + np.random.default_rng(2).normal(0, 0.01, 50)
    z[25] += size
    result = run(table_of(x, y, z=z))
    assert_array_equal(result.reason, 0)
    assert_array_equal(np.flatnonzero(~result.height_used), [25])
    assert np.abs(result.edges.z - 5).max() < 0.03
    assert result.residual_up[25] == pytest.approx(size, abs=0.05)


def test_dropped_kerb_is_no_spike():
    # 120 mm down over 1.5 m, 3 m along, and up again: common practice, no source.
    x, y = straight(60)
    s = np.arange(60) * STEP
    z = 5 + np.interp(s, [30, 31.5, 34.5, 36], [0, -0.12, -0.12, 0])
    result = run(table_of(x, y, z=z))
    assert result.height_used.all()
    assert result.edges.z.min() == pytest.approx(4.88, abs=0.03)


# --- what is bridged and what breaks
# --------------------------------------------------------------------------------


@pytest.mark.parametrize("lost", [1, 2])
@pytest.mark.parametrize("how", ["not_fixed", "poor", "missing"])
def test_short_loss_is_bridged(lost, how):
    x, y = straight(60, 0.006, 3)
    rows = np.arange(30, 30 + lost)
    table = table_of(
        x,
        y,
        fixed=~np.isin(np.arange(60), rows) if how == "not_fixed" else None,
        sigma_h=np.where(np.isin(np.arange(60), rows), 0.2, 0.008) if how == "poor" else None,
    )
    if how == "missing":
        table = take(table, np.delete(np.arange(60), rows))
    result = run(table)
    assert len(result.edges) == 1 and len(result.gaps) == 0
    assert result.edges.epochs_used[0] == 60 - lost


@pytest.mark.parametrize(
    ("change", "name"),
    [
        pytest.param(
            {"fixed": np.r_[np.ones(25, bool), np.zeros(10, bool), np.ones(25, bool)]},
            "not_fixed",
            id="float spell",
        ),
        pytest.param(
            {"sigma_h": np.r_[np.full(25, 0.01), np.full(10, 0.2), np.full(25, 0.01)]},
            "poor_accuracy",
            id="poor spell",
        ),
        pytest.param(None, "paused", id="nothing recorded while walking on"),
    ],
)
def test_long_loss_breaks_the_line(change, name):
    x, y = straight(60, 0.006, 3)
    table = table_of(x, y, **change) if change else take(table_of(x, y), np.r_[0:25, 35:60])
    result = run(table)
    assert len(result.edges) == 2
    assert names(result.edges.end_reason) == [name, "end"] and names(result.edges.start_reason) == [
        "start",
        name,
    ]
    gaps = result.gaps
    assert len(gaps) == 1 and names(gaps.reason) == [name]
    assert gaps.seconds[0] == 11.0
    assert gaps.metres[0] == pytest.approx(11 * STEP, abs=0.03)
    assert_allclose([gaps.x[0, 0], gaps.y[0, 0]], line(result.edges, 0)[-1, :2], atol=1e-6)
    assert_allclose([gaps.x[0, 1], gaps.y[0, 1]], line(result.edges, 1)[0, :2], atol=1e-6)
    assert_array_equal(result.edges.run, [1, 2])


def test_pause_and_going_on_from_the_same_place_leaves_nothing_out():
    x, y = straight(60, 0.006, 3)
    t = np.arange(60.0)
    t[30:] += 40.0
    result = run(table_of(x, y, seconds=t))
    assert len(result.edges) == 1


def test_pause_with_a_move_aside_breaks():
    # Trigger released, walked on round an obstacle for 20 s, 5 m farther and 2 m aside.
    x, y = straight(60, 0.006, 3)
    t = np.arange(60.0)
    t[30:] += 20.0
    x[30:] += 4.0
    y[30:] += 3.0
    result = run(table_of(x, y, seconds=t))
    assert len(result.edges) == 2
    assert names(result.gaps.reason) == ["paused"]


def test_jump_without_a_pause_breaks():
    x, y = straight(60, 0.006, 3)
    y[30:] += 12.0
    result = run(table_of(x, y))
    assert len(result.edges) == 2
    assert names(result.gaps.reason) == ["jump"]
    assert result.gaps.seconds[0] == 1.0


def test_new_capture_breaks():
    x, y = straight(60, 0.006, 3)
    result = run(table_of(x, y, capture=np.repeat([3, 1], 30)))
    assert_array_equal(result.edges.capture, [3, 1])  # in the order of time
    assert_array_equal(result.edges.run, [1, 1])
    assert names(result.gaps.reason) == ["new_capture"]
    assert names(result.edges.end_reason) == ["new_capture", "end"]


def test_captures_at_one_time_have_no_gap():
    x, y = straight(60)
    result = run(
        table_of(
            np.r_[x[:30], x[:30]],
            np.r_[y[:30], y[:30] + 5],
            seconds=np.tile(np.arange(30.0), 2),
            capture=np.repeat([0, 1], 30),
        )
    )
    assert len(result.edges) == 2 and len(result.gaps) == 0


@pytest.mark.parametrize(("limit", "edges"), [(4.9, 2), (5.1, 1)])
def test_time_limit_of_the_user(limit, edges):
    x, y = straight(60)
    t = np.arange(60.0)
    t[30:] += 4.0
    x[30:], y[30:] = x[30:] + 3 * STEP * np.cos(0.3), y[30:] + 3 * STEP * np.sin(0.3)
    result = run(table_of(x, y, seconds=t), max_time_gap=limit, max_distance_gap=20.0)
    assert len(result.edges) == edges
    assert_array_equal(result.stream.time_limit, [limit])


@pytest.mark.parametrize(("limit", "edges"), [(4.7, 2), (4.9, 1)])
def test_distance_limit_of_the_user(limit, edges):
    x, y = straight(60)
    x[30:], y[30:] = x[30:] + 3 * STEP * np.cos(0.3), y[30:] + 3 * STEP * np.sin(0.3)
    result = run(table_of(x, y), max_distance_gap=limit)
    assert len(result.edges) == edges
    assert_array_equal(result.stream.distance_limit, [limit])


def test_limits_follow_the_stream():
    # Ten positions a second, and one in five seconds: the same walk, the same two lines.
    for interval in (0.1, 5.0):
        count = int(120 / STEP / interval) if interval > 1 else 900
        s = np.arange(count) * STEP * interval
        s[count // 2 :] += 60 * max(interval, 1.0)
        t = np.arange(count) * interval
        t[count // 2 :] += 50 * max(interval, 1.0)
        result = run(table_of(s, 0 * s, seconds=t))
        assert len(result.edges) == 2, interval
        assert result.stream.interval[0] == pytest.approx(interval)
        assert result.stream.spacing[0] == pytest.approx(STEP * interval)


def test_way_back_of_a_few_steps_is_taken_out():
    x = np.r_[np.arange(30), 28, 27, 26, 27, 28, 29, np.arange(30, 60)] * STEP
    y = np.random.default_rng(5).normal(0, 0.006, len(x))
    result = run(table_of(x, y))
    assert len(result.edges) == 1
    assert result.edges.length[0] == pytest.approx(59 * STEP, abs=0.1)
    back = np.flatnonzero(result.reason == Reason.BACKTRACK)
    assert 3 <= len(back) <= 8 and (back >= 29).all() and (back <= 36).all()
    assert off_line(np.column_stack([x, y]), line(result.edges, 0)).max() < 0.03


def test_turning_for_good_starts_another_edge():
    x = np.r_[np.arange(30), np.arange(28, -1, -1)] * STEP
    y = np.random.default_rng(5).normal(0, 0.006, len(x))
    result = run(table_of(x, y))
    assert len(result.edges) == 2
    assert names(result.edges.end_reason) == ["turned_back", "end"]
    assert_allclose(result.edges.length, 28.5 * STEP, atol=STEP)


def test_closed_ring():
    x, y = along(
        [("line", 12.0), ("arc", 3.0, 90.0), ("line", 6.0), ("arc", 3.0, 90.0)] * 2,
        0.006,
        closed=True,
    )
    result = run(table_of(x, y))
    edges = result.edges
    assert len(edges) == 1 and edges.closed[0]
    vertices = line(edges, 0)
    assert_array_equal(vertices[0], vertices[-1])
    assert edges.length[0] == pytest.approx(36 + 6 * np.pi, abs=0.15)


def test_open_horseshoe_is_not_closed():
    x, y = along([("line", 12.0), ("arc", 3.0, 180.0), ("line", 12.0)], 0.006)
    assert not run(table_of(x, y)).edges.closed.any()


# --- standing
# ------------------------------------------------------------------------------------------------


def test_standing_epochs_become_one_position():
    x, y = straight(60)
    stood = np.r_[0:30, [30] * 20, 31:60]
    rng = np.random.default_rng(7)
    table = table_of(
        x[stood] + rng.normal(0, 0.008, len(stood)), y[stood] + rng.normal(0, 0.008, len(stood))
    )
    result = run(table)
    assert len(result.edges) == 1
    assert_array_equal(result.reason, 0)
    assert ROLE_NAMES[2] == "standing"
    assert_array_equal(result.role == 2, np.isin(np.arange(len(stood)), np.arange(30, 50)))
    assert len(np.unique(result.chainage[30:50])) == 1
    assert result.edges.epochs_used[0] == len(stood)
    assert result.edges.length[0] == pytest.approx(59 * STEP, abs=0.05)


# --- shapes
# ------------------------------------------------------------------------------------------------


def test_square_corner_is_found_and_kept():
    x, y = along([("line", 20.5), ("corner", 90.0), ("line", 20.5)], 0.006, 1, heading=0.0)
    result = run(table_of(x, y))
    assert result.corners.shape == (1, 2)
    assert_allclose(result.corners[0], [20.5, 0.0], atol=0.03)
    assert np.hypot(*(line(result.edges, 0)[:, :2] - result.corners[0]).T).min() < 1e-9
    assert len(run(table_of(x, y), corner_angle=120.0).corners) == 0


@pytest.mark.parametrize("tolerance", [0.002, 0.01, 0.1])
def test_written_line_keeps_the_tolerance(tolerance):
    # Without noise the fitted curve is the walk itself, so that every epoch shows how far the
    # written line is off.
    x, y = along(
        [("line", 20.0), ("arc", 6.0, 90.0), ("line", 10.0), ("arc", 50.0, -60.0), ("line", 20.0)],
        step=0.5,
    )
    fine, coarse = run(table_of(x, y), tolerance=1e-4), run(table_of(x, y), tolerance=tolerance)
    assert off_line(line(fine.edges, 0), line(coarse.edges, 0)).max() <= tolerance + 1e-4
    assert len(coarse.edges.x) < len(fine.edges.x)


@pytest.mark.parametrize("radius", [3.0, 5.0, 9.0, 60.0])
def test_curb_return_is_not_pulled_in(radius):
    degrees = min(90.0, np.degrees(40 / radius))
    parts = [("line", 25.0), ("arc", radius, degrees), ("line", 25.0)]
    x, y = along(parts, 0.008, 2, step=1.0)
    fine_x, fine_y = along(parts, step=0.05)
    result = run(table_of(x, y))
    assert len(result.edges) == 1
    walked = (len(x) - 1) * 20 + 1  # the last step of a metre ends before the line does
    off = off_line(np.column_stack([fine_x, fine_y])[:walked], line(result.edges, 0))
    assert np.sqrt(np.mean(off**2)) < 0.012 and off.max() < 0.06


def test_scale_of_the_frame():
    # A frame that stretches by 1.7: what is said in ground metres does not change. (Tolerances
    # count in the frame.)
    x, y = straight(60, 0.005, 1)
    true, stretched = run(table_of(x, y)), run(table_of(x, y, scale=np.full(60, 1.7)))
    assert_allclose(stretched.edges.length * 1.7, true.edges.length)
    assert_allclose(stretched.chainage * 1.7, true.chainage)
    assert_allclose(stretched.residual_cross * 1.7, true.residual_cross)


def test_easting_and_northing_lose_nothing():
    x, y = straight(300, 0.008, 1)
    shift = np.array([500_000.0, 6_000_000.0])
    here, there = run(table_of(x, y)), run(table_of(x + shift[0], y + shift[1]))
    assert_allclose(line(there.edges, 0)[:, :2] - shift, line(here.edges, 0)[:, :2], atol=1e-6)
    assert_allclose(there.residual_cross, here.residual_cross, atol=1e-6)


# --- settings and progress
# ---------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("max_h_accuracy", 0.0),
        ("max_h_accuracy", -1.0),
        ("max_h_accuracy", np.nan),
        ("max_time_gap", -0.1),
        ("max_time_gap", np.nan),
        ("max_distance_gap", -0.1),
        ("max_distance_gap", np.nan),
        ("corner_angle", 0.0),
        ("corner_angle", 180.1),
        ("corner_angle", np.nan),
        ("tolerance", 0.0),
        ("tolerance", np.nan),
        ("min_length", -0.1),
        ("min_length", np.nan),
    ],
)
def test_settings_out_of_range_are_named(name, value):
    with pytest.raises(ValueError, match=rf"^{name} must be .* got {value}"):
        Settings(**{name: value})


def test_defaults():
    assert Settings() == Settings(0.05, 0.0, 0.0, 30.0, 0.01, 0.5)


def test_shares_of_the_work_rise_from_0_to_1():
    x, y = straight(60)
    for table in (
        table_of(x, y),
        table_of(x, y, capture=np.arange(60) // 20),
        EpochTable.from_columns([], []),
    ):
        shares = []
        reconstruct(table, progress=shares.append)
        assert shares[0] == 0.0 and shares[-1] == 1.0
        assert (np.diff(shares) >= 0).all()
        assert len(shares) >= 4


def test_progress_can_stop_the_work():
    class CancelledError(Exception):
        pass

    x, y = straight(60)
    count = []
    reconstruct(table_of(x, y), progress=count.append)
    for stop in range(len(count)):
        seen = []

        def cancel(share, seen=seen, stop=stop):
            seen.append(share)
            if len(seen) > stop:
                raise CancelledError

        with pytest.raises(CancelledError):
            reconstruct(table_of(x, y), progress=cancel)
        assert len(seen) == stop + 1


# --- coarse grids
# ------------------------------------------------------------------------------------


def walks_on_a_grid(step, angle, turn=0.0, count=12, size=60):
    """Straight walks at an angle to the axes of a turned grid, and how far places are from them."""
    rng = np.random.default_rng([int(1e3 * angle), int(1e3 * step)])
    ahead = np.array([np.cos(angle), np.sin(angle)])
    start = rng.uniform(0, 1, (count, 1, 2)) + np.arange(count)[:, None, None] * [0.0, 300.0]
    way = np.cumsum(rng.normal(1.0, 0.05, (count, size)), axis=1)
    places = start + way[..., None] * ahead + rng.normal(0, 0.006, (count, size, 2))
    turned = np.array([[np.cos(turn), np.sin(turn)], [-np.sin(turn), np.cos(turn)]])
    x, y = (np.round(places.reshape(-1, 2) / step) * step @ turned).T
    capture = np.repeat(np.arange(count), size)
    seconds = np.tile(np.arange(float(size)), count)
    table = EpochTable.from_columns(x, y, seconds=seconds, capture=capture)

    def off(edges):
        of_vertex = edges.capture[np.repeat(np.arange(len(edges)), np.diff(edges.offsets))]
        there = np.column_stack([edges.x, edges.y]) @ turned.T - start[of_vertex, 0]
        return there @ [-ahead[1], ahead[0]]

    return table, step * turned, off


@pytest.mark.parametrize("angle", [0.0, 0.002, 0.02, 0.1, 0.4])
@pytest.mark.parametrize(("step", "turn"), [(0.05, 0.0), (0.11, 0.3)])
def test_straight_walks_on_a_coarse_grid_are_one_line_each(step, turn, angle):
    table, grid, off = walks_on_a_grid(step, angle, turn)
    result = reconstruct(table, grid=grid)
    assert len(result.edges) == 12 and not result.reason.any()
    assert np.diff(result.edges.offsets).mean() < 2.2
    error = off(result.edges)
    # where one row holds a whole walk, nothing shows where in it that was
    assert np.sqrt(np.mean(error**2)) < (0.35 if angle < 0.01 else 0.15) * step
    if (step, angle) == (0.11, 0.02):  # what the grid is told for
        assert len(reconstruct(table).edges) > 60


def test_corners_on_a_coarse_grid_stay():
    x, y = along([("line", 20.0), ("corner", 90.0), ("line", 15.3)], 0.006, 4)
    result = reconstruct(
        table_of(np.round(x / 0.05) * 0.05, np.round(y / 0.05) * 0.05), grid=0.05 * np.eye(2)
    )
    assert len(result.edges) == 1 and len(result.corners) == 1
    assert abs(np.hypot(*(result.corners[0] - [x[0], y[0]])) - 20.0) < 0.1


def test_no_grid_changes_nothing():
    table, grid, _ = walks_on_a_grid(0.02, 0.4)
    plain, told = reconstruct(table).edges, reconstruct(table, grid=0 * grid).edges
    assert_array_equal(plain.x, told.x)
    assert_array_equal(plain.sigma_cross, told.sigma_cross)
