"""Gross errors that only the shape of the run shows: near corners, on curves, at ends."""

import numpy as np
import pytest
from epochwalks import along, table_of, table_of_captures, trial
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.screening import screen
from curbwright.shared.epochs.standing import collapse_standing
from curbwright.shared.reconstruction.outliers import find_outliers
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.tuning import override

NOISE = 0.008
SHAPES = {
    "straight": [("line", 60.0)],
    "corner": [("line", 20.4), ("corner", 90.0), ("line", 20.0)],
    "corner of 60 degrees": [("line", 20.4), ("corner", -60.0), ("line", 20.0)],
    "bay": [
        ("line", 30.3),
        ("corner", 90.0),
        ("line", 2.5),
        ("corner", -90.0),
        ("line", 15.2),
        ("corner", -90.0),
        ("line", 2.5),
        ("corner", 90.0),
        ("line", 30.0),
    ],
    "curb return of 4 m": [("line", 20.0), ("arc", 4.0, 90.0), ("line", 20.0)],
    "nose of 1.5 m": [("line", 15.0), ("arc", 1.5, 180.0), ("line", 15.0)],
    "curve of 40 m": [("arc", 40.0, 120.0)],
    "reverse curve": [("arc", 12.0, 60.0), ("arc", 12.0, -60.0)] * 2,
}


def outliers(table):
    screening = screen(table)
    positions = collapse_standing(table, screening)
    size = find_outliers(positions, screening.stream)
    return (
        positions.rows[positions.offsets[:-1]][np.isfinite(size)].tolist(),
        size[np.isfinite(size)],
    )


@pytest.mark.parametrize("name", SHAPES)
def test_no_shape_passes_for_outliers(name):
    walks = [dict(zip("xy", along(SHAPES[name], NOISE, seed, step=1.0))) for seed in range(20)]
    table, _ = table_of_captures(walks)
    wrong, rows = len(outliers(table)[0]), len(table)
    assert wrong <= 0.002 * rows  # noise alone looks like that now and then


@pytest.mark.one_in(3)
@pytest.mark.parametrize("name", ["straight", "corner", "curb return of 4 m", "curve of 40 m"])
@pytest.mark.parametrize("size", [0.12, 0.2, 0.5])
def test_single_outliers_are_found_by_one_of_the_two_looks(name, size):
    walks, moved = [], []
    for seed in range(20):
        x, y = along(SHAPES[name], NOISE, seed, step=1.0)
        at = 6 + seed % (len(x) - 12)
        way = np.array([x[at + 1] - x[at - 1], y[at + 1] - y[at - 1]])
        way /= np.hypot(*way)
        side = -1 if seed % 2 else 1
        x[at], y[at] = x[at] - side * size * way[1], y[at] + side * size * way[0]
        walks.append({"x": x, "y": y})
        moved.append(at)
    table, own = table_of_captures(walks)
    all_reasons = reconstruct(table).reason
    found = unsure = 0
    for rows, at in zip(own, moved):
        reason = all_reasons[rows]
        found += reason[at] == Reason.SPIKE
        unsure += np.count_nonzero(reason == Reason.UNCONFIRMED)
        assert np.count_nonzero((reason != Reason.KEPT) & (reason != Reason.UNCONFIRMED)) <= 3
    assert found >= 14
    # a small one may make a curve look like short sides, which are left open then
    assert unsure <= 15


def test_sizes_are_distances():
    x, y = along([("line", 40.0)], 0.004, 1, step=1.0, heading=0.0)
    y[20] += 0.095  # too small for screening, large beside this noise
    rows, size = outliers(table_of(x, y))
    assert rows == [20]
    assert size[0] == pytest.approx(0.095, abs=0.02)


def test_standing_at_a_place_is_no_outlier():
    x, y = along([("line", 40.0)], 0.0, 1, step=1.0, heading=0.0)
    y[20] += 0.09
    stood = np.r_[0:20, [20] * 6, 21:40]
    rng = np.random.default_rng(3)
    table = table_of(x[stood] + rng.normal(0, 0.004, 45), y[stood] + rng.normal(0, 0.004, 45))
    assert outliers(table)[0] == []


@pytest.mark.parametrize("count", [0, 1, 3, 5, 6, 7])
def test_few_positions(count):
    x, y = along([("line", 40.0)], NOISE, 1, step=1.0)
    rows, _ = outliers(table_of(x[:count], y[:count]))
    assert rows == []


def test_runs_do_not_touch():
    # What lies before a run, or in another capture, must not make its first positions doubtful.
    x, y = along([("line", 60.0)], NOISE, 1, step=1.0)
    other = table_of(
        np.r_[x, x[-1] + 3 + np.arange(20)],
        np.r_[y, y[-1] - 0.5 * (np.arange(20) % 2)],
        capture=np.repeat([0, 1], [60, 20]),
    )
    assert not [row for row in outliers(other)[0] if row < 60]
    lone = table_of(x, y)
    assert outliers(lone)[0] == [row for row in outliers(other)[0] if row < 60]


def test_few_positions_are_looked_at_as_among_many():
    # Short captures whose ends and heights are off, alone and in their layer, whatever lies beside.
    rng = np.random.default_rng(5)
    x, y = along([("line", 60.0)], NOISE, 1, step=1.0)
    walks = [{"x": x, "y": y, "z": rng.normal(0, 0.01, 60)}]
    for number in range(60):
        count = 4 + number % 5
        x, y = along([("line", 10.0)], NOISE, number, step=1.0, until=count - 0.5)
        walks.append({"x": x, "y": y, "z": rng.normal(0, 0.01, count)})
        first = rng.integers(0, count - 1)
        walks[-1]["y"][first : first + 2] += rng.choice([0.15, 0.3, 0.6], 2)
        walks[-1]["z"][first : first + 2] += 0.12 * (number % 3)
    table, _ = table_of_captures(walks)
    screening = screen(table)
    positions = collapse_standing(table, screening)
    whole = find_outliers(positions, screening.stream)
    assert np.isfinite(whole[positions.capture > 0]).sum() > 10
    for capture in np.unique(positions.capture):
        own = positions.capture == capture
        alone = find_outliers(positions.take(own), screening.stream)
        assert_array_equal(alone, whole[own], f"capture {capture}")


def test_second_look_equals_a_look_at_everything():
    table, _ = trial(31, 18)
    near = reconstruct(table)
    with override(OUTLIERS__retested=10**6):
        assert_array_equal(reconstruct(table).reason, near.reason)


def test_of_neighbours_the_one_that_is_off_goes():
    # Next to a corner an outlier makes its neighbours look like outliers as well; heights tell
    # which one it is.
    walks, moved = [], []
    for seed in range(40):
        x, y = along(
            [("line", 20.4), ("corner", 90.0), ("line", 20.0)], NOISE, seed, step=1.0, heading=0.0
        )
        rng = np.random.default_rng(seed)
        z = rng.normal(0, 0.02, len(x))
        at = 19 + seed % 4
        angle = rng.uniform(0, 2 * np.pi)
        x[at], y[at], z[at] = (
            x[at] + 0.4 * np.cos(angle),
            y[at] + 0.4 * np.sin(angle),
            z[at] + (0.25 if seed % 2 else -0.25),
        )
        walks.append({"x": x, "y": y, "z": z})
        moved.append(at)
    table, own = table_of_captures(walks)
    all_reasons = reconstruct(table).reason
    right = wrong = unsure = 0
    for rows, at in zip(own, moved):
        reason = all_reasons[rows]
        gone = np.flatnonzero((reason != Reason.KEPT) & (reason != Reason.UNCONFIRMED))
        right += at in gone
        wrong += np.count_nonzero(gone != at)
        unsure += np.count_nonzero(reason == Reason.UNCONFIRMED)
    assert right >= 30 and wrong <= 2 and unsure <= 4
