"""The noise of fast streams: its size and its memory."""

import numpy as np
import pytest
from epochwalks import table_of, table_of_captures
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project.simulation import gauss_markov
from curbwright.shared.epochs.noise import (
    brisk_factors,
    lagged_residuals,
    lags_of,
    memory_factors,
    process_of,
)
from curbwright.shared.epochs.screening import screen
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct
from curbwright.shared.tuning import MEMORY, STREAM

SIGMA = 0.012


def straight_walk(rate, remembered, seconds=600, seed=1, time=0.5):
    """A walk of 1 m/s due east; `remembered` share of the variance has a memory of `time`
    seconds."""
    rng = np.random.default_rng(seed)
    n = int(seconds * rate)

    def wobble():
        return SIGMA * (
            np.sqrt(remembered) * gauss_markov(n, rng, 1.0, time, 1 / rate)
            + np.sqrt(1 - remembered) * rng.normal(size=n)
        )

    t = np.arange(n) / rate
    return table_of(t + wobble() / 3, wobble(), z=wobble(), seconds=t)


def exact_factor(rate, remembered, time=0.5):
    a = np.exp(-1 / rate / time)
    # of the variance that neighbours a second away show
    measured = 1 - remembered * (4 * np.exp(-1 / time) - np.exp(-2 / time)) / 3
    return (1 + 2 * remembered * a / (1 - a)) / measured


def test_lags_reach_for_a_second():
    assert_array_equal(
        lags_of(np.array([np.nan, 2.0, 1.0, 0.5, 0.2, 0.125, 0.05])), [1, 1, 1, 2, 4, 8, 16]
    )


def test_lags_reach_for_less_where_the_walk_is_fast():
    interval, pace = np.array([0.5, 0.125, 0.125, 0.125, 0.125]), np.array([2, np.nan, 0.5, 2, 4])
    assert_array_equal(lags_of(interval, interval * pace), [1, 8, 8, 2, 1])


def test_the_noise_of_fast_walks_is_that_of_a_second():
    interval, share, time = np.array([0.05, 0.05]), 0.7, 0.5
    paces = np.array([1.0, 3.0])
    measured = [
        1 - share * (4 * np.exp(-lag / time) - np.exp(-2 * lag / time)) / 3 for lag in (1.0, 0.2)
    ]
    assert_allclose(
        brisk_factors((share, time), interval, interval * paces),
        [1.0, np.sqrt(measured[0] / measured[1])],
    )


@pytest.mark.parametrize("rate", [2, 4, 8, 10, 20])
def test_memory_is_found_at_any_rate(rate):
    stream = screen(straight_walk(rate, 0.7)).stream
    assert stream.noise[0] == pytest.approx(SIGMA, rel=0.2)
    assert stream.memory[0] == pytest.approx(exact_factor(rate, 0.7), rel=0.4)


@pytest.mark.parametrize("rate", [2, 8, 20])
def test_white_noise_has_none(rate):
    stream = screen(straight_walk(rate, 0.0)).stream
    assert stream.noise[0] == pytest.approx(SIGMA, rel=0.12)
    assert 1 <= stream.memory[0] < 2


def test_slow_streams_are_taken_for_white():
    assert_array_equal(screen(straight_walk(1, 0.7)).stream.memory, [1.0])


def test_what_neighbours_share_is_found_at_one_hertz():
    def correlation(stream):
        return stream.remembered[0] * np.exp(-1 / stream.memory_time[0])

    white, remembered = (screen(straight_walk(1, share, time=1.5)).stream for share in (0.0, 0.9))
    assert correlation(white) < 0.05
    assert 0.15 < correlation(remembered) < 0.9 * np.exp(-1 / 1.5)  # a part passes for bends


def test_slower_streams_show_no_such_memory():
    nominal = screen(straight_walk(1, 0.0, seconds=6)).stream
    slow = screen(straight_walk(0.5, 0.9, time=4.0)).stream
    assert slow.memory_time[0] == nominal.memory_time[0]


def test_factors_follow_the_correlations():
    intervals, share, time = np.array([0.5, 0.25, 0.125, 1.0, np.nan]), 0.8, 0.5
    exact = [exact_factor(1 / interval, share, time) for interval in intervals[:3]]
    assert_allclose(memory_factors((share, time), intervals), [*exact, 1, 1])
    assert_allclose(memory_factors((0.0, time), intervals), 1.0)


# windows of eight seconds hold little of three, and those that show less of it are taken
@pytest.mark.parametrize(("time", "least"), [(0.25, 0.15), (1.0, 0.6), (3.0, 0.9)])
@pytest.mark.parametrize("rate", [4, 20])
def test_windows_show_memories_of_seconds(rate, time, least):
    walks = (straight_walk(rate, 0.7, 600, seed, time) for seed in range(6))
    columns = ("x", "y", "z", "seconds")
    captures = [{name: getattr(walk, name) for name in columns} for walk in walks]
    stream = screen(table_of_captures(captures)[0]).stream
    assert least < stream.memory_time[0] < 1.6 * time
    assert stream.remembered[0] == pytest.approx(0.7, abs=0.22)


def test_bends_do_not_pass_for_memory():
    t = np.arange(0, 800, 0.125)
    rng = np.random.default_rng(3)
    # sides of 12 m, corners of 40 degrees to and fro
    heading = np.where(np.floor(t / 12) % 2 == 0, 0.0, np.radians(40))
    x, y = (np.cumsum(f(heading)) * 0.125 for f in (np.cos, np.sin))
    noise = SIGMA * rng.normal(size=(3, len(t)))
    stream = screen(table_of(x + noise[0], y + noise[1], z=noise[2], seconds=t)).stream
    assert stream.remembered[0] * stream.memory_time[0] < 0.15


def test_bends_of_a_fast_walk_pass_neither_for_noise_nor_for_memory():
    walk = straight_walk(10, 0.7)
    t = walk.seconds
    # two metres a second along sides of 8 m, corners of 30 degrees to and fro, on a slope
    turn = np.radians(30) * (np.floor(t / 4) % 2)
    x, y = (np.cumsum(f(turn)) * 0.2 for f in (np.cos, np.sin))
    walk = table_of(x + walk.x - t, y + walk.y, z=walk.z + 0.1 * (y - x / 4), seconds=t)
    stream = screen(walk).stream
    assert stream.noise[0] == pytest.approx(SIGMA, rel=0.25)
    assert stream.memory[0] == pytest.approx(exact_factor(10, 0.7), rel=0.5)


def test_layers_without_windows_have_nominal_noise():
    stream = screen(straight_walk(8, 0.7, 4)).stream
    assert stream.memory_time[0] == pytest.approx(STREAM.nominal_memory)
    assert stream.remembered[0] == pytest.approx(MEMORY.nominal_share)


def test_residuals_keep_to_their_stretch():
    n = 60
    x, t = np.arange(n) / 4.0, np.arange(n) / 4.0
    y = np.where(x > 7, 5.0, 0.0)
    near = np.ones(n - 1, bool)
    near[np.flatnonzero(np.diff(y))] = False
    found = lagged_residuals(x, y, 0 * x, t, near, np.full(n, 4), np.full(n, 0.25))
    for values, places in found:
        assert places.size > 10
        assert_allclose(values, 0.0, atol=1e-12)


@pytest.mark.parametrize(("share", "time"), [(0.0, 0.5), (0.5, 0.4), (0.7, 0.5), (0.9, 0.7)])
def test_the_process_is_that_of_its_variogram(share, time):
    interval = np.array([0.5, 0.25, 0.125])
    lag = interval * 2.0 ** np.arange(5)[:, None]
    values = SIGMA * np.sqrt(1 - share * np.exp(-lag / time))
    values[3:, 0] = np.nan  # no element was so long
    numbers = np.where(np.isfinite(values), 10_000, 0)
    usual = np.full(3, 0.7), np.full(3, 0.5)
    variance, found, kept = process_of(values, numbers, interval, np.full(3, 0.03), usual)
    assert_allclose(variance, SIGMA**2, rtol=0.1)
    assert_allclose(found, share, atol=0.17)
    if share:
        assert_allclose(kept, time, rtol=0.3)


def test_a_process_that_nothing_shows_leans_on_the_stream():
    nothing = np.full((3, 2), np.nan)
    variance, share, time = process_of(
        nothing,
        np.zeros((3, 2), int),
        np.array([0.5, np.nan]),
        np.array([0.01, 0.02]),
        (np.array([0.7, 0.2]), np.array([0.5, 2.0])),
    )
    assert_allclose(variance, [1e-4, 4e-4])
    assert_allclose(time, [0.5, 2.0], rtol=0.12)  # as its layer's, to the next value tried
    assert_allclose(share, [0.7, 0.2], atol=0.05)


def test_epochs_that_share_their_noise_count_for_fewer():
    slow, fast = (reconstruct(straight_walk(rate, 0.7, 90), Settings()).edges for rate in (1, 8))
    # eight times the epochs of the same noise do not make an edge that much surer
    assert fast.sigma_cross[0] > 0.8 * slow.sigma_cross[0]


def test_the_process_of_a_capture_alone_is_that_beside_others():
    rng = np.random.default_rng(1)
    values, numbers = rng.uniform(0.008, 0.012, (9, 40)), rng.integers(50, 500, (9, 40))
    columns = np.full(40, 0.01), np.full(40, 0.012), np.full(40, 0.5), np.full(40, 0.6)

    def process(some):
        interval, noise, *layer = (column[some] for column in columns)
        return process_of(values[:, some], numbers[:, some], interval, noise, layer)

    together = process(slice(None))
    alone = [process(slice(k, k + 1)) for k in range(40)]
    assert_array_equal(np.concatenate(alone, axis=1), together)
