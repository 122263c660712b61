"""Epochs taken standing still become the one position that they observed."""

import numpy as np
import pytest
from epochwalks import STEP, along, table_of, trial
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.epochs.screening import screen
from curbwright.shared.epochs.standing import collapse_standing, epoch_variance
from curbwright.shared.tuning import STANDING


def walk_with_stand(stand=20, noise=0.008, seed=3, count=60, at=30):
    x, y = along([("line", 10_000.0)], until=(count - 0.5) * STEP)
    rows = np.r_[0:at, [at] * stand, at + 1 : count]
    rng = np.random.default_rng(seed)
    return (
        x[rows] + rng.normal(0, noise, len(rows)),
        y[rows] + rng.normal(0, noise, len(rows)),
        (x[at], y[at]),
    )


def collapse(table):
    screening = screen(table)
    return collapse_standing(table, screening), screening


def test_walking_epochs_stay_single():
    x, y = along([("line", 100.0), ("arc", 3.0, 90.0), ("line", 20.0)], 0.01, 1)
    positions, _ = collapse(table_of(x, y))
    assert_array_equal(np.diff(positions.offsets), 1)
    assert_allclose(positions.x, x)
    assert_array_equal(positions.rows, np.arange(len(x)))


@pytest.mark.parametrize("stand", [2, 5, 20, 200])
def test_a_stand_is_one_position(stand):
    x, y, (true_x, true_y) = walk_with_stand(stand)
    positions, screening = collapse(table_of(x, y))
    sizes = np.diff(positions.offsets)
    assert sorted(sizes)[-2:] == [1, stand]
    at = int(np.argmax(sizes))
    assert_array_equal(
        positions.rows[positions.offsets[at] : positions.offsets[at + 1]], np.arange(30, 30 + stand)
    )
    assert (positions.started[at], positions.ended[at]) == (30.0, 29.0 + stand)
    # means of equal weights
    assert positions.x[at] == pytest.approx(x[30 : 30 + stand].mean(), abs=1e-9)
    assert (
        np.hypot(positions.x[at] - true_x, positions.y[at] - true_y)
        < 4 * 0.008 / np.sqrt(stand) + 1e-3
    )
    noise = screening.stream.noise[0]
    # the hand that leans one way does not average out
    assert positions.variance[at] == pytest.approx(noise**2 * (1 / stand + STANDING.lean**2))
    assert positions.variance[at - 1] == pytest.approx(noise**2)


def test_every_kept_row_is_in_one_position():
    table, _ = trial(4, 5)
    positions, screening = collapse(table)
    assert_array_equal(positions.rows, screening.kept)
    assert positions.offsets[0] == 0 and positions.offsets[-1] == len(screening.kept)
    assert (np.diff(positions.offsets) >= 1).all()
    of = group_index(positions.offsets)
    assert_array_equal(positions.capture[of], table.capture[positions.rows])
    assert (table.seconds[positions.rows] >= positions.started[of]).all() and (
        table.seconds[positions.rows] <= positions.ended[of]
    ).all()
    away = np.hypot(
        table.x[positions.rows] - positions.x[of], table.y[positions.rows] - positions.y[of]
    )
    assert away.max() < 2 * STANDING.extent
    assert (positions.variance > 0).all() and np.isfinite(positions.variance).all()


def test_creeping_is_cut():
    # 20 mm a second for two minutes: not one place.
    x = np.r_[np.arange(20) * STEP, 19 * STEP + np.arange(1, 121) * 0.02]
    positions, _ = collapse(table_of(x, 0 * x))
    for first, last in zip(positions.offsets[:-1], positions.offsets[1:]):
        assert np.ptp(x[positions.rows[first:last]]) < STANDING.extent + 0.03
    assert len(positions) >= 20 + 10


def test_slow_steps_are_not_taken_for_standing():
    x = np.arange(200) * 0.25  # 10 Hz or a very slow walk: near, and yet steps
    positions, _ = collapse(table_of(x, 0 * x))
    assert_array_equal(np.diff(positions.offsets), 1)


def test_captures_are_not_joined():
    x, y, _ = walk_with_stand(20)
    positions, _ = collapse(table_of(x, y, capture=(np.arange(len(x)) >= 40).astype(int)))
    assert sorted(np.diff(positions.offsets))[-2:] == [10, 10]


def test_better_epochs_weigh_more():
    x, y, _ = walk_with_stand(2, noise=0.0)
    x[31] += 0.03
    sigma = np.full(len(x), 0.008)
    sigma[31] = 0.04
    positions, screening = collapse(table_of(x, y, sigma_h=sigma))
    at = int(np.argmax(np.diff(positions.offsets)))
    variance = epoch_variance(sigma[30:32], np.zeros(2, int), screening.stream.noise)
    # the usual sigma is that of the whole capture
    variance[1] = screening.stream.noise[0] ** 2 + 0.04**2 - 0.008**2
    variance[0] = screening.stream.noise[0] ** 2
    assert positions.x[at] == pytest.approx(np.average(x[30:32], weights=1 / variance), abs=1e-9)


def test_heights_have_weights_of_their_own():
    x, y, _ = walk_with_stand(10, noise=0.004)
    z = np.full(len(x), 5.0)
    z[33] = np.nan
    z[36] = 9.0
    positions, screening = collapse(table_of(x, y, z=z))
    at = int(np.argmax(np.diff(positions.offsets)))
    assert positions.z[at] == pytest.approx(5.0, abs=1e-9)
    assert not screening.height_ok[36]
    assert positions.variance_up[at] == pytest.approx(
        screening.stream.noise_up[0] ** 2 * (1 / 8 + STANDING.lean**2)
    )


def test_no_height_at_all():
    x, y, _ = walk_with_stand(5)
    positions, _ = collapse(table_of(x, y, z=np.full(len(x), np.nan)))
    assert np.isnan(positions.z).all() and np.isinf(positions.variance_up).all()


def test_taking_some_positions():
    x, y, _ = walk_with_stand(10)
    positions, _ = collapse(table_of(x, y))
    keep = np.arange(len(positions)) % 3 == 0
    some = positions.take(keep)
    assert len(some) == keep.sum()
    assert_array_equal(some.x, positions.x[keep])
    for new, old in enumerate(np.flatnonzero(keep)):
        assert_array_equal(
            some.rows[some.offsets[new] : some.offsets[new + 1]],
            positions.rows[positions.offsets[old] : positions.offsets[old + 1]],
        )
    assert len(positions.take(np.zeros(len(positions), bool))) == 0


def test_epoch_variance_by_hand():
    sigma = np.array([0.01, 0.01, 0.03, np.nan, 0.02])
    variance = epoch_variance(sigma, np.array([0, 0, 0, 0, 1]), np.array([0.012, 0.02]))
    assert_allclose(variance, [0.012**2, 0.012**2, 0.012**2 + 0.03**2 - 0.01**2, 0.012**2, 0.02**2])


@pytest.mark.parametrize("count", [0, 1, 2])
def test_few_rows(count):
    positions, _ = collapse(table_of(np.arange(count) * STEP, np.zeros(count)))
    assert len(positions) == count
