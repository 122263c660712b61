"""What the time between positions says of detours and of gross errors, and how doubtful positions
are kept."""

from dataclasses import replace

import numpy as np
import pytest
from cornerwalks import positions_of, walked
from epochwalks import table_of, table_of_captures

from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.reconstruction.headway import (
    headway_evidence,
    local_pace,
    outlier_evidence,
    rim_evidence,
    stretches,
    stride_evidence,
)
from curbwright.shared.reconstruction.reconstruct import ROLE_NAMES, Settings, reconstruct
from curbwright.shared.reconstruction.refit import nominal_of, refit_capture
from curbwright.shared.tuning import HEADWAY

KEEP = Settings(doubtful="keep", station_spacing=1.0)
LEAVE_OUT = Settings(doubtful="leave_out")


def evidence_of(x, y, first, last):
    positions, stream = positions_of(x, y)
    assert len(positions) == len(x)
    offsets = np.array([0, len(x)])
    return headway_evidence(positions, stream, offsets, np.array([first]), np.array([last]))[0]


def test_a_slip_keeps_its_headway_and_a_jog_does_not():
    x, y = walked([(0, 0), (30, 0)])
    slipped = y.copy()
    slipped[12] += 0.9
    assert evidence_of(x, slipped, 12, 12) > 3
    jx, jy = walked([(0, 0), (12, 0), (12, 0.6), (12.6, 0.6), (12.6, 0), (30, 0)])
    place = int(np.argmax(jy))
    assert evidence_of(jx, jy, place, place) < 0.3


def test_sides_that_lie_askew_are_no_haste():
    """Who walks round a bay at a slower pace, between epochs that cut its corners, walks no faster
    than the straight way between these."""
    x, y = walked([(0, 0), (10, 0), (11.5, 2.6), (14, 2.6), (14, 0), (24, 0)], start=0.1)
    inside = np.flatnonzero(y > 0.5)
    assert len(inside) > 3
    for first in inside[:-1]:
        assert evidence_of(x, y, first, first + 1) < 1


def test_haste_alone_speaks_at_an_end():
    x, y = walked([(0, 0), (20, 0)])
    assert evidence_of(x, y, len(x) - 1, len(x) - 1) < 1
    y[-1] += 1.2
    assert evidence_of(x, y, len(x) - 1, len(x) - 1) > 5


def test_a_slip_at_the_rim_of_a_run_is_too_far_from_the_next():
    """Nobody walks from the end of a run to the next one faster than along both."""
    x, y = walked([(0, 0), (40, 0)])
    slipped = y.copy()
    slipped[20] += 3.6
    jx, jy = walked([(0, 0), (20, 0), (20, 5), (30, 5)])
    for ways, rims, above, below in (
        ((x, slipped), [20], 6.0, np.inf),  # three steps in the time of one, on either side
        ((x, y), [20, 21], -np.inf, 1.0),
        ((jx, jy), [20, 21], -np.inf, 3.0),  # a corner at the rim takes its time
    ):
        positions, _ = positions_of(*ways)
        evidence = rim_evidence(positions, np.array([0, 21, len(positions)]))
        assert above < evidence[rims].min() and evidence[rims].max() < below
        assert not np.delete(evidence, [0, 20, 21, len(positions) - 1]).any()


def test_a_rim_beside_one_place_tells_nothing():
    """Where the epoch between two visits of one place was rejected, the run has no pace."""
    positions, _ = positions_of(*walked([(0, 0), (30, 0)], noise=0))
    positions = positions.take(np.isin(np.arange(len(positions)), (0, 2, 4)))
    level = {"y": np.zeros(3), "height_llr": np.zeros(3)}
    positions = replace(positions, x=np.array([0.0, 1.0, 1.0]), **level)
    with np.errstate(divide="raise", invalid="raise"):
        assert not rim_evidence(positions, np.array([0, 3])).any()


def test_a_slip_after_a_lost_epoch_is_no_end_of_an_edge():
    """From the epoch before both it is as far as one walks meanwhile, to the next one it is not."""
    turn = np.arange(-30.0, 31.0) / 16
    noise = np.random.default_rng(1).normal(0, 0.008, (2, len(turn)))
    x, y = 16 * np.cos(turn) + noise[0], -16 * np.sin(turn) + noise[1]
    x[36], y[36] = 13.5, -3.0  # 2 m inside the bend and as far behind
    kept = np.delete(np.arange(len(x)), 35)
    result = reconstruct(table_of(x[kept], y[kept], seconds=kept * 1.0), KEEP)
    assert result.reason[35] == Reason.UNCONFIRMED
    assert np.abs(np.hypot(result.edges.x, result.edges.y) - 16).max() < 0.1


def test_nothing_is_known_where_time_was_lost():
    x, y = walked([(0, 0), (30, 0)])
    seconds = np.arange(float(len(x)))
    seconds[13:] += 10
    y[12] += 0.6
    positions, stream = positions_of(x, y, seconds)
    one = np.array([12])
    assert headway_evidence(positions, stream, np.array([0, len(x)]), one, one)[0] == 0


def test_local_pace_leaves_out_what_is_judged():
    x, y = walked([(0, 0), (30, 0)], noise=0)
    x[13:] += 4
    positions, _ = positions_of(x, y)
    pace = local_pace(positions, np.array([0, len(x)]), np.array([12]), np.array([13]))
    assert pace[0] == pytest.approx(1.0)


def test_local_pace_is_the_median_of_the_steps_that_are_near():
    rng = np.random.default_rng(5)
    x, y = np.cumsum(rng.uniform(0.5, 1.5, 40)), np.zeros(40)
    positions, _ = positions_of(x, y)
    judged = np.arange(40)
    pace = local_pace(positions, np.array([0, 3, 40]), judged, judged)
    for place in judged:
        low, high = (0, 3) if place < 3 else (3, 40)
        reach = HEADWAY.reach
        steps = np.diff(x[max(low, place - reach) : min(high, place + reach + 1)])
        if len(steps) < HEADWAY.few:
            assert np.isnan(pace[place])
        else:
            assert pace[place] == pytest.approx(np.median(steps))


def test_heights_add_to_the_evidence():
    x, y = walked([(0, 0), (30, 0)])
    y[12] += 0.6
    positions, stream = positions_of(x, y)
    offsets, one = np.array([0, len(x)]), np.array([12])
    both = outlier_evidence(positions, stream, offsets, one, one)
    assert both[0] == pytest.approx(
        min(headway_evidence(positions, stream, offsets, one, one)[0], 9.0)
        + positions.height_llr[12]
    )


def test_stretches_end_with_their_group():
    first, last = stretches(np.array([1, 1, 1, 0, 1, 1], bool), np.array([0, 0, 1, 1, 1, 2]))
    assert first.tolist() == [0, 2, 4, 5]
    assert last.tolist() == [1, 2, 4, 5]


OBLIQUE = [(0, 0), (14.2, 0), (14.7, 1.4), (29, 1.4)]


def test_what_nothing_confirms_is_drawn_and_marked():
    x, y = walked(OBLIQUE, noise=0.006)
    kept, left = (reconstruct(table_of(x, y), settings) for settings in (KEEP, LEAVE_OUT))
    assert len(left.edges) > 1 or (left.reason == Reason.UNCONFIRMED).any()
    assert len(kept.edges) == 1
    assert (kept.reason == 0).all()
    doubtful = kept.role == ROLE_NAMES.index("doubtful")
    assert 0 < doubtful.sum() < 7
    assert abs(x[doubtful] - 14.5).max() < 2


def test_the_sigma_of_what_is_doubtful_is_larger():
    x, y = walked(OBLIQUE, noise=0.006)
    stations = reconstruct(table_of(x, y), KEEP).stations
    near = np.abs(stations.x - 14.5) < 1
    largest = stations.sigma_cross[near].max()
    assert largest > 0.03
    assert stations.sigma_cross[stations.x < 10].max() < 0.02
    # half as large a walk, whose epochs lie half as far from each other
    stations = reconstruct(table_of(0.5 * x, 0.5 * y), KEEP).stations
    near = np.abs(stations.x - 7.25) < 1
    assert 0.02 < stations.sigma_cross[near].max() < 0.75 * largest


def test_a_single_slip_still_goes():
    x, y = walked([(0, 0), (40, 0)])
    y[17] += 0.5
    result = reconstruct(table_of(x, y), KEEP)
    assert np.flatnonzero(result.reason).tolist() == [17]
    assert len(result.edges) == 1
    assert np.abs(result.edges.y).max() < 0.03


def test_an_unknown_choice_is_refused():
    with pytest.raises(ValueError, match="doubtful must be one of keep, leave_out"):
        Settings(doubtful="maybe")


def test_haste_speaks_against_all_of_a_short_run():
    """Who makes two metres in a second, where all others make one, did not walk there."""
    x, y = walked([(0, 0), (40, 0)])
    seconds = np.arange(float(len(x)))
    x[20:] += 4.0
    seconds[20:] += 60.0
    y[20:22] += 1.9
    last = 22
    seconds[last + 1 :] += 60.0
    x[last + 1 :] += 9.0
    positions, stream = positions_of(x, y, seconds)
    offsets = np.array([0, 20, last + 1, len(x)])
    run = np.array([20]), np.array([last])
    assert headway_evidence(positions, stream, offsets, *run)[0] > 5
    y[20:22] -= 1.9
    positions, stream = positions_of(x, y, seconds)
    assert headway_evidence(positions, stream, offsets, *run)[0] < 1


def layer_with(slips):
    """A walk on which two epochs in a row lie aside, and after it others, on each of which the aim
    slips once."""
    x, y = walked([(0, 0), (40, 0)])
    x[15:17] += 0.6
    y[15:17] += 0.5
    walks = [{"x": x, "y": y}]
    for number in range(slips):
        x, y = walked([(0, 0), (40, 0)], seed=number)
        y[15 + number % 10] += 0.8
        walks.append({"x": x, "y": y + 50.0 * (number + 1)})
    return table_of_captures(walks)


def test_where_a_layer_shows_slips_and_no_short_sides_two_together_go():
    first = []
    for slips in (0, 40):
        table, rows = layer_with(slips)
        result = reconstruct(table, KEEP)
        first.append(result.reason[rows[0]] > 0)
        alone = refit_capture(table, 0, nominal_of(table), KEEP).result
        assert alone.reason.tolist() == result.reason[rows[0]].tolist()
        assert alone.edges.x.tolist() == result.edges.x[: len(alone.edges.x)].tolist()
    assert not first[0].any()
    assert np.flatnonzero(first[1]).tolist() == [15, 16]


def test_a_step_faster_than_all_others_nearby_speaks_for_a_slip():
    x, y = walked([(0, 0), (30, 0)])
    pair = np.array([12]), np.array([13])

    def evidence(x, y):
        positions, stream = positions_of(x, y)
        return stride_evidence(positions, stream, np.array([0, len(x)]), *pair)[0]

    assert evidence(x, y) < 1
    slipped = y.copy()
    slipped[12:14] += 1.5
    assert evidence(x, slipped) > 6
    jx, jy = walked([(0, 0), (12, 0), (12, 1.5), (30, 1.5)])
    assert evidence(jx, jy) < 1


def test_a_whole_run_is_compared_with_the_usual_pace():
    x, y = walked([(0, 0), (30, 0)])
    x[3:] += 1.2
    positions, stream = positions_of(x, y)
    offsets, first, last = np.array([0, 2, 5, len(x)]), np.array([0, 2, 5]), np.array([1, 4, 29])
    hasty, within, rest = stride_evidence(positions, stream, offsets, first, last)
    assert within > 6 and max(hasty, rest) < 1


def test_two_that_slip_together_go_where_the_layer_shows_slips():
    """Beside them the walk goes on at its pace, but the step to them is too long for it."""
    x, y = walked([(0, 0), (400, 0)], spacing=1.2, noise=0.008)
    for single in range(20, 300, 40):  # these show that aims slip here
        y[single] += 0.8
    y[310:312] += 1.1
    kept = reconstruct(table_of(x, y), KEEP).edge >= 0
    assert not kept[310:312].any()
    assert kept.sum() == len(x) - 9
