"""Where the stream of positions is cut, and what is said of it."""

from dataclasses import replace

import numpy as np
import pytest
from epochwalks import STEP, table_of, table_of_captures
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import offsets_of
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.standing import Positions
from curbwright.shared.epochs.stream import Stream
from curbwright.shared.reconstruction.breaks import (
    BREAK_NAMES,
    break_reasons,
    find_runs,
    find_turnings,
    limits_exceeded,
    may_leave_out,
)
from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, Settings, reconstruct


def positions_at(x, y=None, seconds=None, capture=None):
    x = np.asarray(x, float)
    n = len(x)
    y = np.zeros(n) if y is None else np.asarray(y, float)
    seconds = np.arange(float(n)) if seconds is None else np.asarray(seconds, float)
    capture = np.zeros(n, int) if capture is None else np.asarray(capture)
    return Positions(
        np.arange(n),
        np.arange(n + 1),
        x,
        y,
        np.zeros(n),
        np.full(n, 1e-4),
        np.full(n, 1e-4),
        seconds,
        seconds,
        capture,
        np.zeros(n),
    )


def stream(time_limit=3.5, distance_limit=4.2, own=True, spacing=STEP, noise=0.008, captures=2):
    def full(value):
        return np.full(captures, float(value))

    return Stream(
        interval=full(1),
        spacing=full(spacing),
        uneven=full(1),
        noise=full(noise),
        noise_up=full(noise),
        memory=full(1),
        memory_up=full(1),
        memory_smooth=full(1),
        remembered=full(0),
        memory_time=full(0.5),
        slips=full(0),
        detail=full(1),
        cells=np.zeros((captures, 2, 2)),
        time_limit=full(time_limit),
        distance_limit=full(distance_limit),
        own_time_limit=own,
    )


def runs(positions, of, turned=()):
    mask = np.zeros(len(positions), bool)
    mask[list(turned)] = True
    return find_runs(positions, of, mask).tolist()


# --- pauses, distances, captures
# ------------------------------------------------------------------------------------


def test_an_even_walk_is_one_run():
    assert runs(positions_at(np.arange(10) * STEP), stream()) == [0, 10]


def test_no_positions():
    assert runs(positions_at([]), stream()) == [0]
    assert len(find_turnings(positions_at([]), stream()).turned) == 0


@pytest.mark.parametrize(("step", "offsets"), [(4.19, [0, 8]), (4.21, [0, 4, 8])])
def test_distance(step, offsets):
    x = np.r_[np.arange(4), 3 + step / STEP + np.arange(4)] * STEP
    assert runs(positions_at(x), stream()) == offsets


@pytest.mark.parametrize(("pause", "offsets"), [(3.5, [0, 8]), (3.6, [0, 4, 8])])
def test_pause_by_the_limit_of_the_user(pause, offsets):
    seconds = np.r_[np.arange(4), 3 + pause + np.arange(4)]
    assert runs(positions_at(np.arange(8) * STEP, seconds=seconds), stream(own=False)) == offsets


def test_by_the_streams_own_limit_only_a_pause_with_a_move_cuts():
    seconds = np.r_[np.arange(4), 60 + np.arange(4)]
    on = np.arange(8) * STEP
    assert runs(positions_at(on, seconds=seconds), stream()) == [0, 8]
    # 4.2 m straight on
    assert runs(positions_at(on + 3.0 * (np.arange(8) > 3), seconds=seconds), stream()) == [0, 4, 8]
    aside = 2.2 * (np.arange(8) > 3)
    assert runs(positions_at(on, aside, seconds=seconds), stream()) == [0, 4, 8]
    assert runs(positions_at(on, aside), stream()) == [0, 8]


@pytest.mark.parametrize(
    ("ahead", "aside", "cuts"),
    [(0.9, 0.0, False), (1.2, 0.0, True), (0.1, 0.4, False), (0.1, 0.7, True)],
)
def test_in_a_fast_stream_a_pause_may_leave_out_no_nose(ahead, aside, cuts):
    """8 epochs a second at a metre a second; what lies within half a metre is hardly left out."""
    seconds, on = np.r_[np.arange(4), 80 + np.arange(4)] / 8, np.arange(4) / 8
    positions = positions_at(np.r_[on, on[-1] + ahead + on], np.repeat([0, aside], 4), seconds)
    fast = replace(
        stream(time_limit=2, distance_limit=2, spacing=1 / 8), interval=np.full(2, 1 / 8)
    )
    assert runs(positions, fast) == ([0, 4, 8] if cuts else [0, 8])


def test_over_both_limits_always_cuts():
    rng = np.random.default_rng(8)
    for own in (True, False):
        x = np.cumsum(rng.choice([STEP, 0.0, 3.0, 6.0], 300))
        seconds = np.cumsum(rng.choice([1.0, 3.0, 5.0, 90.0], 300))
        positions = positions_at(x, rng.normal(0, 1.0, 300).cumsum(), seconds)
        offsets = runs(positions, stream(own=own))
        step, pause = np.hypot(np.diff(positions.x), np.diff(positions.y)), np.diff(seconds)
        borders = np.zeros(299, bool)
        borders[np.array(offsets[1:-1]) - 1] = True
        assert borders[(step > 4.2) & (pause > 3.5)].all()
        assert borders[step > 4.2].all()
        assert not borders[(step <= 4.2) & (pause <= 3.5)].any()


@pytest.mark.parametrize(
    ("gone", "ring", "may"),
    [
        ([10, 11, 0, 1], True, False),  # five steps of 1.3 m in a row, at once
        ([10, 11, 0, 1], False, True),  # both ends of a line
        ([11, 0], True, True),
        ([3, 4, 5, 6], True, False),  # and where the walk began and ended
        (range(12), True, True),  # nothing is left to join
    ],
)
def test_what_is_left_out_at_the_seam_of_a_ring_leaves_no_step_over_both_limits(gone, ring, may):
    """Two equal runs round a circle of 12 positions, walked from the fifth of them on."""
    angle = 2 * np.pi * np.arange(24) / 12
    radius = 1.3 / (2 * np.sin(np.pi / 12))
    seconds = np.roll(np.arange(12.0), 4)
    positions = positions_at(
        radius * np.cos(angle), radius * np.sin(angle), np.append(seconds, seconds + 100)
    )
    mask = np.zeros(24, bool)
    mask[list(gone)] = mask[12 + np.array(gone)] = True
    found = may_leave_out(positions, stream(), np.array([0, 12, 24]), np.full(2, ring), mask)
    assert_array_equal(found, ~mask | may)
    assert may_leave_out(positions, stream(), np.array([0, 12, 24]), np.full(2, ring)).all()


def test_another_capture_cuts():
    assert runs(positions_at(np.arange(8) * STEP, capture=[0, 0, 0, 1, 1, 1, 1, 1]), stream()) == [
        0,
        3,
        8,
    ]
    other, paused, far = limits_exceeded(
        positions_at(np.arange(3) * STEP, capture=[0, 1, 1]), stream()
    )
    assert_array_equal(other, [True, False])
    assert not paused.any() and not far.any()


def test_each_capture_has_its_own_limits():
    of = stream()
    of.distance_limit[1] = 10.0
    x = np.r_[0, 1, 2, 7, 8, 9] * 1.0
    assert runs(positions_at(x), of) == [0, 3, 6]
    assert runs(positions_at(x, capture=np.ones(6, int)), of) == [0, 6]


def test_a_turn_for_good_cuts_behind_its_position():
    assert runs(positions_at(np.arange(6) * STEP), stream(), turned=[2]) == [0, 3, 6]
    assert runs(positions_at(np.arange(6) * STEP), stream(), turned=[5]) == [0, 6]


# --- turning back
# ------------------------------------------------------------------------------------------------


def turnings(places, y=None, **more):
    found = find_turnings(positions_at(np.asarray(places) * STEP, y), stream(**more))
    return found.walked_back / STEP, np.flatnonzero(found.turned).tolist()


def test_straight_on():
    back, turned = turnings(np.arange(10))
    assert not back.any() and turned == []


def test_a_short_way_back():
    back, turned = turnings([0, 1, 2, 3, 4, 3, 2, 3, 4, 5, 6])
    assert_allclose(back, [0, 0, 0, 0, 0, 1, 2, 1, 0, 0, 0], atol=1e-6)
    assert turned == []


def stood_at(positions, place, epochs):
    """Positions of which one was observed by several epochs."""
    number = np.ones(len(positions), int)
    number[place] = epochs
    return replace(positions, rows=np.arange(number.sum()), offsets=offsets_of(number))


@pytest.mark.parametrize("way", [1, -1])
def test_of_an_overshoot_and_a_stand_the_longer_one_is_kept(way):
    """A walk overshoots a spot by 0.2 m in one epoch, and somebody stands there and walks on."""
    x = way * np.array([0, 1.2, 2.4, 3.6, 3.8, 3.6, 4.8, 6.0, 7.2])
    passed = find_turnings(positions_at(x), stream())
    assert_array_equal(np.flatnonzero(passed.walked_back), [5])
    stood = find_turnings(stood_at(positions_at(x), 5, 20), stream())
    assert_array_equal(np.flatnonzero(stood.walked_back), [4])
    assert stood.walked_back[4] == pytest.approx(0.2) and not stood.turned.any()
    # two captures do not know of each other
    both = Positions.concatenate(
        [stood_at(positions_at(x), 5, 20), positions_at(x, capture=np.ones(len(x), int))]
    )
    assert_array_equal(np.flatnonzero(find_turnings(both, stream()).walked_back), [4, 14])


@pytest.mark.parametrize("rate", [1, 4, 8, 20])
@pytest.mark.parametrize("metres", [1.2, 3.6])
def test_a_way_back_is_the_same_at_any_rate(rate, metres):
    """Somebody goes back, stands for a second, and walks on: one edge, as at one epoch a second."""
    rng = np.random.default_rng(3)
    step = STEP / rate
    there, back = np.arange(0, 24, step), np.arange(24, 24 - metres, -step)
    stood = np.full(rate, 24 - metres)
    x = np.concatenate([there, back, stood, np.arange(24 - metres, 48, step)])
    x, y = x + rng.normal(0, 0.004, len(x)), rng.normal(0, 0.004, len(x))
    table = table_of(x, y, seconds=np.arange(len(x)) / rate)
    result = reconstruct(table, Settings(doubtful="keep"))
    assert len(result.edges) == 1
    assert result.edges.length[0] == pytest.approx(48.0, abs=1.5 * STEP)
    again = (back[0] - metres < x) & (x < 24) & (np.arange(len(x)) > len(there) + len(back))
    assert_array_equal(result.reason[: len(there) - 2], Reason.KEPT)
    assert np.mean(result.reason[again] == Reason.BACKTRACK) > 0.8


@pytest.mark.parametrize(("turn", "number"), [(100, 1), (130, 1), (180, 2)])
def test_settling_at_a_corner_is_no_turn(turn, number):
    """Somebody slows down, pokes 0.2 m beyond the corner, stands there, and goes on at a sharp
    angle; only who comes back along the way there has turned."""
    rng = np.random.default_rng(4)
    there = np.append(np.arange(0, 15, STEP), [15.3, 15.6])
    ux, uy = np.cos(np.radians(turn)), np.sin(np.radians(turn))
    onward = np.append([0.1, 0.8], np.arange(1.5, 15, STEP))
    x = np.concatenate([there, np.full(8, 15.6 - 0.2 * ux), 15.6 + onward * ux])
    y = np.concatenate([0 * there, np.full(8, -0.2 * uy), onward * uy])
    table = table_of(x + rng.normal(0, 0.004, len(x)), y + rng.normal(0, 0.004, len(x)))
    result = reconstruct(table, Settings(doubtful="keep"))
    assert len(result.edges) == number
    assert not result.reason[len(there) : len(there) + 8].any()


@pytest.mark.parametrize("rate", [1, 10, 20])
def test_stops_at_short_intervals_lead_nowhere_back(rate):
    """Somebody slows down every few metres, overshoots by up to 0.06 m, stands and walks on."""
    rng, walks = np.random.default_rng(6), []
    for _ in range(12):
        way, ends = [np.zeros(1)], np.cumsum(rng.uniform(2.5, 5.0, 8))
        for end in ends:
            ahead = [way[-1][-1]]
            while end - ahead[-1] > 0.01:
                left = end - ahead[-1]
                ahead.append(
                    ahead[-1] + min(STEP / rate * np.interp(left, [0, 0.8], [0.3, 1]), left)
                )
            stand = np.full(int(rng.uniform(3, 8) * rate), end)
            way += [ahead[1:-1], [end + rng.uniform(0, 0.06)], stand]
        x = np.concatenate(way)
        noise = rng.normal(0, 0.006, (2, len(x)))
        walks.append({"x": x + noise[0], "y": noise[1], "seconds": np.arange(len(x)) / rate})
    table, rows = table_of_captures(walks)
    capture = np.repeat(np.arange(len(rows)), [part.stop - part.start for part in rows])
    table = replace(table, seconds=table.seconds + 3600.0 * capture)
    result = reconstruct(table, Settings(doubtful="keep"))
    assert len(result.edges) == len(walks)
    assert np.mean(result.reason > 0) < 0.03


def test_a_stand_before_the_way_back_leaves_it_as_it_is():
    x = np.array([0, 1.2, 2.4, 3.6, 3.8, 3.6, 4.8, 6.0, 7.2])
    stood = find_turnings(stood_at(positions_at(x), 4, 20), stream())
    assert_array_equal(np.flatnonzero(stood.walked_back), [5])


def test_a_long_way_back_is_another_walk():
    places = np.r_[np.arange(20), np.arange(18, -1, -1)]
    back, turned = turnings(places)
    assert not back.any()
    assert turned == [19]


def test_to_and_fro_for_good():
    places = np.r_[np.arange(20), np.arange(18, 4, -1), np.arange(6, 30)]
    back, turned = turnings(places)
    assert turned == [19, 33] and not back.any()


def test_a_sharp_corner_is_no_way_back():
    # 140 degrees, and a way back beside the way out, 2 m off.
    angle = np.radians(140)
    x = np.r_[np.arange(10), 9 + np.arange(1, 10) * np.cos(angle)]
    y = np.r_[np.zeros(10), np.arange(1, 10) * np.sin(angle)] * STEP
    back, turned = turnings(x, y)
    assert not back.any() and turned == []
    back, turned = turnings(np.r_[np.arange(10), np.arange(9, -1, -1)], np.repeat([0.0, 2.0], 10))
    assert not back.any() and turned == []


def test_a_pause_parts_the_ways():
    places, seconds = np.r_[np.arange(6), 0, -1, 0, 1, 2], np.arange(11.0)
    found = find_turnings(positions_at(places * STEP, seconds=seconds), stream())
    assert not found.walked_back[:6].any()  # the jump of five steps is a border, and no way back


# --- reasons
# ------------------------------------------------------------------------------------------------


def reason(rejected, last=2, first=6, pause=10.0, turned=False, lost=False):
    places = {
        code: np.array(sorted(place for place, why in rejected.items() if why == code), int)
        for code in Reason
    }
    found = break_reasons(
        places,
        np.array([last]),
        np.array([first]),
        np.array([pause]),
        np.array([3.5]),
        np.array([turned]),
        np.array([lost]),
    )
    return BREAK_NAMES[found[0]]


@pytest.mark.parametrize(
    ("rejected", "more", "name"),
    [
        ({}, {}, "paused"),
        ({}, {"pause": 3.5}, "jump"),
        ({}, {"pause": 3.5, "lost": True}, "lost_epochs"),
        ({4: Reason.SPIKE}, {"pause": 3.5, "lost": True}, "lost_epochs"),
        ({4: Reason.NOT_FIXED}, {"pause": 3.5, "lost": True}, "not_fixed"),
        ({4: Reason.NOT_FIXED}, {}, "not_fixed"),
        ({4: Reason.SPIKE}, {}, "spike"),
        ({5: Reason.POOR_ACCURACY}, {}, "poor_accuracy"),
        ({3: Reason.SPIKE, 4: Reason.NOT_FIXED, 5: Reason.POOR_ACCURACY}, {}, "not_fixed"),
        ({3: Reason.SPIKE, 5: Reason.POOR_ACCURACY}, {}, "poor_accuracy"),
        ({4: Reason.NOT_FIXED}, {"pause": 1.0}, "not_fixed"),
        ({1: Reason.NOT_FIXED, 7: Reason.NOT_FIXED}, {}, "paused"),
        ({4: Reason.NOT_FIXED}, {"turned": True}, "turned_back"),
        ({4: Reason.REPEAT}, {}, "paused"),
    ],
)
def test_reasons(rejected, more, name):
    assert reason(rejected, **more) == name


def test_a_time_limit_of_the_user_breaks_even_where_nobody_moved():
    from curbwright.shared.epochs.table import EpochTable
    from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct

    x = np.concatenate([np.arange(20.0), np.full(4, 19.0), np.arange(20.0, 40.0)])
    seconds = np.arange(44.0)
    seconds[22:] += 100.0
    table = EpochTable.from_columns(x, np.zeros(44), seconds=seconds)
    assert len(reconstruct(table).edges) == 1
    assert len(reconstruct(table, Settings(max_time_gap=5.0)).edges) == 2


def test_noise_of_a_fast_stream_turns_no_walk_about():
    """20 Hz at a metre a second, with a stand of ten seconds: steps are as short as their noise."""
    rng = np.random.default_rng(2)
    way = np.concatenate([np.arange(0, 10, 0.05), np.full(200, 10.0), np.arange(10, 20, 0.05)])
    x, y = way + rng.normal(0, 0.011, len(way)), rng.normal(0, 0.011, len(way))
    table = table_of(x, y, seconds=np.arange(len(way)) / 20)
    result = reconstruct(table, Settings())
    assert np.mean(result.reason > 0) < 0.01
    assert len(result.edges) == 1
    stood = result.role[220:380]
    assert np.mean(stood == ROLE_NAMES.index("standing")) > 0.9


def test_a_long_way_back_of_a_fast_stream_is_another_walk():
    rng = np.random.default_rng(2)
    way = np.concatenate([np.arange(0, 10, 0.05), np.arange(10, 2, -0.05)])
    x, y = way + rng.normal(0, 0.008, len(way)), rng.normal(0, 0.008, len(way))
    result = reconstruct(table_of(x, y, seconds=np.arange(len(way)) / 20), Settings())
    assert len(result.edges) == 2
