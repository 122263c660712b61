"""Matching: rays against brute force, and which of two neighbours a line is taken for."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from lineshapes import arc, lines_of, mates, statuses, straight
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import (
    AGREES,
    DISPLACED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
    ComparisonSettings,
)
from curbwright.shared.lines.matching import one_way

# Offsets


@given(st.floats(0, 6.28), st.floats(-1.9, 1.9), st.booleans(), st.booleans())
def test_sign_and_size_of_offsets_whatever_the_direction(heading, offset, turned, edge_turned):
    """+ to the right of the existing line in its own direction, by whatever way the edge was
    drawn."""
    along, right = (
        np.array([np.cos(heading), np.sin(heading)]),
        np.array([np.sin(heading), -np.cos(heading)]),
    )
    base = np.array([[0.0], [30.0]]) * along
    edge = base + offset * right
    result = compare(
        lines_of(edge[::-1] if edge_turned else edge), lines_of(base[::-1] if turned else base)
    )
    assert_allclose(result.stations.offset, -offset if turned else offset, atol=1e-9)
    assert result.existing_statistics.matched_share[0] == pytest.approx(1)
    assert result.edge_statistics.matched_share[0] == pytest.approx(1)


# Who belongs to whom


@pytest.mark.parametrize("apart", [0.3, 0.4, 0.5])
@pytest.mark.parametrize("shift", [0.0, 0.12, -0.12])
@pytest.mark.parametrize("turned", [False, True])
def test_curb_and_gutter_each_find_their_own(apart, shift, turned):
    existing = lines_of(straight(0.0), straight(apart)[::-1] if turned else straight(apart))
    edges = lines_of(straight(apart + shift, step=3.0), straight(shift, step=7.0))
    result = compare(edges, existing)
    assert mates(result) == [1, 0]
    assert_allclose(np.abs(result.stations.offset), abs(shift), atol=1e-9)


def test_a_shift_as_great_as_the_distance_between_neighbours_does_not_swap_them():
    existing = lines_of(
        straight(0.0),
        straight(0.4),
        *(np.array([[60.0 + k, 0.0], [60.0 + k, 30.0]]) for k in (0.0, 0.4)),
    )
    edges = existing.moved(-0.36, 0.37)
    for remove in (False, True):
        result = compare(edges, existing, ComparisonSettings(remove_shift=remove))
        assert mates(result) == [0, 1, 2, 3]
        assert result.shift.east == pytest.approx(
            0.36, abs=1e-6
        ) and result.shift.north == pytest.approx(-0.37, abs=1e-6)
        assert statuses(result)[0] == ([AGREES] * 4 if remove else [DISPLACED] * 4)


def test_a_new_neighbour_is_new_and_no_displaced_one():
    result = compare(lines_of(straight(0.02), straight(0.42)), lines_of(straight(0.0)))
    assert statuses(result) == ([AGREES, ONLY_NEW], [AGREES])
    result = compare(lines_of(straight(0.02)), lines_of(straight(0.4), straight(0.0)))
    assert statuses(result) == ([AGREES], [ONLY_EXISTING, AGREES])


def test_gaps_of_an_edge_are_not_filled_by_its_neighbour():
    pieces = [straight(0.02, (a, b)) for a, b in ((0, 28), (30, 63), (65, 100))]
    result = compare(lines_of(*pieces, straight(0.42, (0, 100))), lines_of(straight(0.0, (0, 100))))
    assert statuses(result) == ([AGREES] * 3 + [ONLY_NEW], [AGREES])
    assert result.existing_statistics.partners[0] == 3


@pytest.mark.parametrize("width", [0.8, 1.2, 1.8])
def test_the_two_sides_of_a_narrow_island_are_kept_apart(width):
    ring = np.array([[0, 0], [12, 0], [12, width], [0, width], [0, 0]], float)
    result = compare(lines_of(ring + [0.05, 0.05]), lines_of(ring[::-1]))
    assert statuses(result) == ([AGREES], [AGREES])
    assert np.abs(result.stations.offset).max() == pytest.approx(0.05)


def test_an_island_beside_a_curb():
    island = np.vstack(
        [
            arc(1, np.pi / 2, 3 * np.pi / 2, 9, (5, 0)),
            arc(1, -np.pi / 2, np.pi / 2, 9, (25, 0)),
            [[5, 1]],
        ]
    )
    curb = straight(-2.2, (-10, 40))
    moved_curb = straight(-1.2, (-10, 40))  # nearer to the island than to where it was
    result = compare(
        lines_of(curb, island),
        lines_of(island + 0.03, moved_curb),
        ComparisonSettings(max_offset=2),
    )
    assert mates(result) == [1, 0]
    assert statuses(result) == ([DISPLACED, AGREES], [AGREES, DISPLACED])


def test_one_edge_along_several_existing_lines_and_the_other_way_round():
    one, several = (
        lines_of(straight(0.1, (0, 90))),
        lines_of(straight(0.0, (0, 30)), straight(0.0, (60, 30)), straight(0.0, (60, 90))),
    )
    there, back = compare(one, several), compare(several, one)
    assert there.edge_statistics.partners[0] == 3 and statuses(there) == ([AGREES], [AGREES] * 3)
    assert back.existing_statistics.partners[0] == 3 and statuses(back) == ([AGREES] * 3, [AGREES])
    assert there.edge_statistics.matched_share[0] == pytest.approx(1)


def test_multi_part_lines_rings_and_curves():
    circle = arc(8, 0, 2 * np.pi, 181)
    coarse = arc(8, 1.0, 1.0 + 2 * np.pi, 46)[::-1]  # starts elsewhere, runs the other way
    broken = [arc(8.1, 0.2, 2.0, 30, (40, 0)), arc(8.1, 2.0, 4.4, 30, (40, 0))]
    whole = arc(8.0, 4.4, 0.2, 100, (40, 0))
    result = compare(lines_of(circle, broken), lines_of(whole, coarse))
    assert mates(result) == [1, 0]
    assert statuses(result) == ([AGREES] * 2, [AGREES] * 2)
    assert_allclose(result.edge_statistics.matched_share, 1, atol=0.02)
    # chords lie inside
    assert np.abs(result.existing_statistics.offset_mean[0]) == pytest.approx(0.1, abs=0.004)


def test_lines_that_cross_or_touch_are_not_matched():
    result = compare(lines_of([[20, -10], [20, 10]], [[40, 0], [40, 20]]), lines_of(straight(0.0)))
    assert statuses(result) == ([ONLY_NEW] * 2, [ONLY_EXISTING])
    assert len(result.stations) == 0


def test_part_of_a_line_is_partly():
    result = compare(lines_of(straight(0.0, (0, 20))), lines_of(straight(0.0, (0, 40))))
    assert statuses(result) == ([AGREES], [PARTLY])
    assert result.existing_statistics.matched_share[0] == pytest.approx(0.5)
    rebuilt = np.array([[0, 0], [20, 0], [21, 1.0], [40, 1.0]])
    result = compare(lines_of(rebuilt), lines_of(straight(0.0)))
    assert statuses(result) == ([PARTLY], [PARTLY])


def test_a_repeated_walk_agrees_as_well():
    result = compare(lines_of(straight(0.03), straight(-0.04)[::-1]), lines_of(straight(0.0)))
    assert statuses(result) == ([AGREES, AGREES], [AGREES])


def test_a_corner_moved_as_a_whole_is_displaced_though_one_leg_shows_no_offset():
    corner = np.array([[0, 0], [30, 0], [30, 20]], float)
    result = compare(lines_of(corner), lines_of(corner + [1.5, 0]))
    assert statuses(result) == ([DISPLACED], [DISPLACED])
    rebuilt = np.array([[0, 0], [31.5, 0], [31.5, 20]], float)  # one leg rebuilt, the other left
    assert statuses(compare(lines_of(rebuilt), lines_of(corner))) == ([PARTLY], [PARTLY])


@pytest.mark.parametrize("seed", range(3))
def test_neither_order_of_rows_nor_direction_nor_vertices_matter(seed):
    rng = np.random.default_rng(seed)
    shapes = [
        straight(0.0),
        straight(0.45),
        arc(12, 0, 2, 40, (60, 0)),
        arc(12.4, 0, 2, 40, (60, 0)),
        straight(8.0, slope=0.2),
    ]
    edges = [shape + rng.normal(0, 0.01, 2) for shape in shapes]
    before = compare(lines_of(*edges), lines_of(*shapes))
    order = rng.permutation(len(shapes))
    turned = [shapes[k][::-1] for k in order]
    after = compare(lines_of(*edges), lines_of(*turned))
    assert (
        [order[k] for k in after.edge_statistics.partner]
        == before.edge_statistics.partner.tolist()
        == list(range(5))
    )
    assert_allclose(
        after.existing_statistics.offset_mean,
        -before.existing_statistics.offset_mean[order],
        atol=1e-9,
    )


def test_one_way_keeps_the_direction_that_covers_more_then_the_nearer():
    own, other = np.zeros(6, int), np.array([0, 0, 0, 1, 1, 1])
    same = np.array([True, True, False, True, False, False])
    kept = one_way(
        own, other, same, np.array([5.0, 5, 6, 5, 2, 3]), np.array([1.5, 1.5, 0.1, 0.2, 1.0, 1.0])
    )
    assert_array_equal(kept, [True, True, False, True, False, False])
    assert len(one_way(own[:0], other[:0], same[:0], np.zeros(0), np.zeros(0))) == 0
