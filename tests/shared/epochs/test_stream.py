"""What the stream of each capture is like."""

import dataclasses

import numpy as np
import pytest
from epochwalks import STEP, along, straight, table_of, table_of_captures, take
from numpy.testing import assert_allclose, assert_array_equal, assert_array_less
from scipy.signal import lfilter

from curbwright.shared.epochs.rounding import SIGMA
from curbwright.shared.epochs.screening import screen
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.epochs.stream import capture_medians, nominal_stream, stream_of
from curbwright.shared.tuning import BENDS, STREAM, override


@pytest.mark.parametrize("interval", [0.1, 0.2, 1.0, 2.0, 5.0])
def test_interval_spacing_and_limits(interval):
    s = np.arange(200) * 1.25 * interval
    stream = screen(table_of(s, 0 * s, seconds=np.arange(200) * interval)).stream
    assert stream.interval[0] == pytest.approx(interval)
    assert stream.spacing[0] == pytest.approx(1.25 * interval)
    assert stream.time_limit[0] == pytest.approx(max(3.5 * interval, 2.0))
    assert stream.distance_limit[0] == pytest.approx(max(3.5 * 1.25 * interval, 2.0))


def test_standing_and_lost_epochs_do_not_shorten_the_spacing():
    x, y = straight(100, 0.004)
    stood = np.r_[0:50, [50] * 60, 51:100]
    lost = np.delete(np.arange(len(stood)), np.arange(5, 40, 3))
    rng = np.random.default_rng(1)
    table = table_of(
        x[stood] + rng.normal(0, 0.004, len(stood)), y[stood] + rng.normal(0, 0.004, len(stood))
    )
    stream = screen(take(table, lost)).stream
    assert stream.spacing[0] == pytest.approx(STEP, rel=0.02)
    assert stream.interval[0] == 1.0


@pytest.mark.parametrize("noise", [0.004, 0.008, 0.02])
@pytest.mark.parametrize("shape", ["straight", "bend"])
def test_noise_is_found(noise, shape):
    parts = [("line", 900.0)] if shape == "straight" else [("arc", 60.0, 340.0)]
    x, y = along(parts, noise, 3)
    z = 5 + np.random.default_rng(9).normal(0, 1.5 * noise, len(x))
    stream = screen(table_of(x, y, z=z)).stream
    assert stream.noise[0] == pytest.approx(noise, rel=0.15)
    assert stream.noise_up[0] == pytest.approx(1.5 * noise, rel=0.15)


@pytest.mark.parametrize("interval", [0.25, 0.125])
def test_tight_loops_of_a_fast_stream_are_no_noise(interval):
    """Loops of a metre and less at walking pace: a second away the walk has turned by a radian."""
    loops = [("arc", radius, turn) for radius, turn in ((1.0, 300.0), (0.8, -250.0)) * 6]
    x, y = along(loops, 0.008, 5, step=1.2 * interval)
    seconds = np.arange(len(x)) * interval
    assert screen(table_of(x, y, seconds=seconds)).stream.noise[0] < 0.04
    with override(STREAM__growth=100.0, STREAM__memory_way=100.0):
        assert screen(table_of(x, y, seconds=seconds)).stream.noise[0] > 0.1


def test_each_capture_has_its_own_stream():
    quiet, rough = straight(200, 0.006, 1), straight(200, 0.012, 2)
    x, y = np.r_[quiet[0], rough[0]], np.r_[quiet[1], rough[1]]
    stream = screen(
        table_of(
            x,
            y,
            seconds=np.r_[np.arange(200.0), np.arange(200) * 2.0],
            capture=np.repeat([0, 2], 200),
        )
    ).stream
    assert_allclose(stream.interval[[0, 2]], [1.0, 2.0])  # no row has code 1
    assert stream.noise[0] < 0.75 * stream.noise[2]


def test_rounded_coordinates_do_not_pass_for_perfect():
    x = np.arange(50) * STEP
    assert screen(table_of(x, 0 * x)).stream.noise[0] == pytest.approx(STREAM.least_noise)


@pytest.mark.parametrize("count", [0, 1, 2, 4])
def test_too_few_epochs_to_tell(count):
    x, y = straight(10)
    stream = screen(take(table_of(x, y), np.arange(count))).stream
    assert len(stream.interval) == min(count, 1)
    assert np.isfinite(stream.spacing).all() and np.isfinite(stream.noise).all()
    assert_allclose(stream.time_limit, [3.5] * min(count, 1))


def test_limits_of_the_user_replace_those_of_the_stream():
    x, y = straight(30)
    stream = screen(table_of(x, y), Settings(max_time_gap=7.0, max_distance_gap=3.0)).stream
    assert_array_equal(stream.time_limit, [7.0])
    assert_array_equal(stream.distance_limit, [3.0])
    assert not stream.own_time_limit


def uneven_walk(count=400, long=2.4):
    """Steps of half a metre, in which one in five is long, and a walk in them."""
    rng = np.random.default_rng(1)
    steps = np.where(rng.random(count) < 0.2, long, 0.5)
    return np.cumsum(steps), rng.normal(0, 0.008, count)


def test_an_uneven_streams_own_steps_break_no_line():
    stream = screen(table_of(*uneven_walk())).stream
    assert stream.uneven[0] == pytest.approx(2.4 / (STREAM.even * 0.5), rel=0.02)
    assert stream.distance_limit[0] == pytest.approx(STREAM.beyond * 2.4, rel=0.02)
    assert_array_equal(screen(table_of(*straight(200))).stream.uneven, [1.0])


def test_few_steps_are_as_uneven_as_those_of_the_layer():
    x, y = uneven_walk()
    few = slice(0, 12)
    table, _ = table_of_captures([{"x": x, "y": y}, {"x": x[few], "y": y[few]}])
    stream = screen(table).stream
    assert stream.uneven[1] == pytest.approx(stream.uneven[0], rel=0.02)


def layer_of(parts, number, interval=1.0):
    """Walks along these parts as captures of one layer, and their streams."""
    walks = []
    for seed in range(number):
        x, y = along([("line", 0.07 * seed), *parts], 0.008, seed)
        walks.append({"x": x, "y": y})
    table, rows = table_of_captures(walks)
    within = np.concatenate([np.arange(float(part.stop - part.start)) for part in rows])
    seconds = 3600.0 * table.capture + interval * within
    return dataclasses.replace(table, seconds=seconds), rows


ZIGZAG = [part for turn in (50, -50) * 20 for part in (("line", 6.0), ("corner", turn))]


def test_many_corners_and_bends_in_a_layer_let_it_show_more_detail():
    few = screen(layer_of([("line", 60.0), ("corner", 90.0), ("line", 60.0)], 20)[0]).stream
    many, fast = (screen(layer_of([*ZIGZAG, ("line", 6.0)], 20, dt)[0]).stream for dt in (1, 0.25))
    one = screen(layer_of(ZIGZAG[:25], 1)[0]).stream
    assert_array_equal(few.detail, 1.0)
    assert_allclose(many.detail, BENDS.noise)
    assert_array_less(many.detail, fast.detail)
    assert BENDS.noise < one.detail[0] < 1.0  # a single capture says less
    assert_allclose(many.telling, BENDS.noise**2)


def test_noise_with_a_memory_is_no_detail_in_a_fast_stream_without_bends():
    rng = np.random.default_rng(4)
    walks = []
    for _ in range(6):
        noise = 0.01 * lfilter([np.sqrt(1 - 0.78**2)], [1.0, -0.78], rng.normal(size=(2, 800)))
        walks.append({"x": 0.125 * np.arange(800.0) + noise[0], "y": noise[1]})
    table, _ = table_of_captures(walks)
    table = dataclasses.replace(table, seconds=0.125 * np.arange(4800.0) + 60.0 * table.capture)
    stream = screen(table).stream
    assert_allclose(stream.detail, stream.memory ** (BENDS.memory_power / 2))
    assert (stream.detail > 1.1).all()


def test_positions_on_a_coarse_grid_are_no_better_than_it():
    """A straight walk in one row of cells seems perfect; its stairs are no corners."""
    table = table_of(*straight(60, 0.004))
    medians = capture_medians(table, np.arange(len(table)))
    plain = stream_of(medians, nominal_stream(medians), Settings())
    bent = dataclasses.replace(nominal_stream(medians), bent=1.0)
    fine, coarse = (
        stream_of(medians, dataclasses.replace(bent, grid=((side, 0.0), (0.0, side))), Settings())
        for side in (0.001, 0.1)
    )
    assert fine.noise == plain.noise < coarse.noise
    assert coarse.noise == pytest.approx(SIGMA * 0.1)
    assert fine.detail != 1 and coarse.detail == 1
    assert_array_equal(coarse.cells, 0.1 * np.eye(2)[None])
