"""Curb heights: known heights found again, the nearest flow line, uncertainty, ranges."""

import numpy as np
import pytest
from lineshapes import edges_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.cross_section import SectionPart
from curbwright.shared.lines.curb_heights import (
    HIGH,
    LOW,
    NO_HEIGHT,
    WITHIN,
    HeightRange,
    height_statistics,
    measure_heights,
)
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.parallels import derive_parallels


def measure(tops, flows, low=0.10, high=0.15, sigma=0.012, **how):
    sigmas = np.full(len(tops), sigma), np.full(len(flows), sigma)
    return measure_heights(tops, flows, HeightRange(low, high), sigmas, **how)


def arc(radius):
    angle = np.linspace(0, np.pi / 2, 40)
    return np.column_stack([radius * np.cos(angle), radius * np.sin(angle), 3 + 0.1 * angle])


def test_what_was_derived_is_measured_again():
    tops = edges_of([(0, 20, 4.0), (40, 20, 5.2)], arc(8.0))
    made = derive_parallels(tops, [SectionPart("flow line", 0.3, -0.13)])
    flows = Lines.from_columns(made.x, made.y, made.z, made.offsets)
    for turned in (
        flows,
        edges_of(
            *[
                np.column_stack([flows.x, flows.y, flows.z])[a:b][::-1]
                for a, b in zip(flows.offsets[:-1], flows.offsets[1:])
            ]
        ),
    ):
        found = measure(tops, turned, spacing=0.5)
        assert_allclose(found.height, 0.13, atol=0.001)
        # + to the right of the top, whichever way the flow line runs
        assert_allclose(found.distance, 0.3, atol=0.001)
        assert (found.state == WITHIN).all() and not found.certain.any()
        assert_array_equal(np.bincount(found.top), found.stations)


def test_the_range_and_the_uncertainty():
    # a curb that drops to 6 mm over the middle third; 1-sigma of the difference of two heights of
    # 12 mm each is 17 mm
    top = edges_of(
        [(0, 0, 0.13), (10, 0, 0.13), (12, 0, 0.006), (18, 0, 0.006), (20, 0, 0.18), (30, 0, 0.18)]
    )
    found = measure(top, edges_of([(0, -0.02, 0), (30, -0.02, 0)]))

    def at(low, high):
        return (found.chainage > low) & (found.chainage < high)

    assert (
        (found.state[at(0, 10)] == WITHIN).all()
        and (found.state[at(12.5, 17.5)] == LOW).all()
        and (found.state[at(21, 30)] == HIGH).all()
    )
    assert_allclose(found.sigma, np.hypot(0.012, 0.012))
    assert found.certain[at(12.5, 17.5)].all()  # 94 mm below the range, 5.5 sigma
    assert not found.certain[at(21, 30)].any()  # 30 mm above it, 1.8 sigma
    statistics = height_statistics(found)
    assert (
        statistics.measured[0] == len(found)
        and statistics.outside[0] == np.isin(found.state, (LOW, HIGH)).sum()
    )
    assert statistics.least[0] == pytest.approx(0.006) and statistics.greatest[0] == pytest.approx(
        0.18
    )
    assert statistics.mean[0] == pytest.approx(found.height.mean()) and statistics.sd[
        0
    ] == pytest.approx(found.height.std(ddof=1))


def test_twice_the_sigma_of_both_is_twice_the_sigma():
    tops, flows = edges_of([(0, 0, 0.13), (10, 0, 0.13)]), edges_of([(0, -0.02, 0), (30, -0.02, 0)])
    assert_allclose(
        measure(tops, flows, sigma=0.02).sigma, 2 * measure(tops, flows, sigma=0.01).sigma
    )


def test_the_nearest_flow_line_counts_and_only_within_reach():
    tops = edges_of([(0, 0, 1.0), (10, 0, 1.0)], [(0, 50, 1.0), (10, 50, 1.0)])
    flows = edges_of([(0, 0.5, 0.5), (10, 0.5, 0.5)], [(0, -0.3, 0.9), (10, -0.3, 0.9)])
    found = measure(tops, flows)
    assert (found.flow == 1).all() and (found.top == 0).all()
    assert_allclose(found.height, 0.1)
    assert_array_equal(found.stations, [10, 10])
    statistics = height_statistics(found)
    assert (
        statistics.measured[1] == 0
        and np.isnan(statistics.mean[1])
        and np.isnan(statistics.sigma[1])
    )
    assert (
        len(measure(tops, flows, reach=0.2)) == 0
        and height_statistics(measure(tops, flows, reach=0.2)).measured.sum() == 0
    )


def test_without_heights_there_is_none():
    found = measure(
        edges_of([(0, 0, 1.0), (10, 0, 1.0)]), edges_of([(0, -0.3, np.nan), (10, -0.3, np.nan)])
    )
    assert (
        (found.state == NO_HEIGHT).all()
        and not found.certain.any()
        and height_statistics(found).measured[0] == 0
    )


@pytest.mark.parametrize("seed", range(2))
def test_noise_is_certain_as_rarely_as_it_should(seed):
    # heights at the lower limit with noise of the sigma told: beyond 1.96 sigma below it in 2.5 of
    # 100, and never above
    rng = np.random.default_rng(seed)
    count = 3000
    tops = [
        np.array([(0, 10.0 * k, 0.10 + rng.normal(0, 0.012)), (4, 10.0 * k, 0.0)])
        for k in range(count)
    ]
    flows = [
        np.array([(0, 10.0 * k - 0.02, rng.normal(0, 0.012)), (4, 10.0 * k - 0.02, 0.0)])
        for k in range(count)
    ]
    for top, flow in zip(tops, flows):
        top[1, 2], flow[1, 2] = top[0, 2], flow[0, 2]
    found = measure(edges_of(*tops), edges_of(*flows), high=0.30)
    share = height_statistics(found).certain.astype(bool).mean()
    assert 0.015 < share < 0.035


@pytest.mark.parametrize(
    ("how", "message"),
    [
        ({"low": 0.2}, "low must be less"),
        ({"spacing": 0.0}, "spacing and reach"),
        ({"reach": -1.0}, "spacing and reach"),
    ],
)
def test_bad_input_is_named(how, message):
    some = edges_of([(0, 0, 0), (1, 0, 0)])
    with pytest.raises(ValueError, match=message):
        measure(some, some, **how)
    with pytest.raises(ValueError, match="a sigma for each of 1 and 1 lines"):
        measure_heights(some, some, HeightRange(0.1, 0.2), ([0.1, 0.2], [0.1]))


def test_the_ends_of_the_range_are_inside():
    states = HeightRange(0.10, 0.15).state(np.array([0.10, 0.15, 0.0999, 0.1501, np.nan]))
    assert_array_equal(states, [WITHIN, WITHIN, LOW, HIGH, NO_HEIGHT])
