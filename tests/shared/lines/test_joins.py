"""Joins: who goes with whom, how ends move, what stays; every edge in exactly one result, whatever
the order of rows."""

import numpy as np
import pytest
import shapely
from lineshapes import edges_of, shape_of, turn
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.lines import end_pairs, join_changes
from curbwright.shared.lines.end_pairs import JoinLimits
from curbwright.shared.lines.joins import join_edges, ring_area


def told(result):
    """What and why of each change, with the edges concerned."""
    c = result.changes
    return [
        (
            join_changes.WHAT_NAMES[c.what[k]],
            end_pairs.WHY_NAMES[c.why[k]],
            set((c.ends[c.offsets[k] : c.offsets[k + 1]] // 2).tolist()),
        )
        for k in range(len(c))
    ]


def turns(xyz):
    """Deflection at each inner vertex, degrees."""
    step = np.diff(xyz[:, :2], axis=0)
    heading = np.unwrap(np.arctan2(step[:, 1], step[:, 0]))
    return np.degrees(np.diff(heading))


# Two ends


def test_ends_straight_on_meet_between_them_without_a_kink():
    result = join_edges(edges_of([(0, 0), (10, 0)], [(10.1, 0.1), (20, 0.1)]))
    assert told(result) == [("joined", "direct", {0, 1})]
    shape = shape_of(result)
    assert np.abs(turns(shape)).max() <= 2.0 + 1e-9  # spread over as many metres as that takes
    # equal uncertainty: in the middle
    assert np.abs(shape - [10.05, 0.05, 0]).sum(axis=1).min() < 1e-9
    assert result.changes.moved[0] == pytest.approx(np.hypot(0.05, 0.05)) and result.changes.gap[
        0
    ] == pytest.approx(np.hypot(0.1, 0.1))
    assert_allclose(shape[[0, -1]], [(0, 0, 0), (20, 0.1, 0)])
    # the outer ends are vertices of the input; where the inner ones met there is a new one
    met = int(np.abs(shape - [10.05, 0.05, 0]).sum(axis=1).argmin())
    assert result.vertex[[0, met, -1]].tolist() == [0, -1, 3]


def test_the_better_end_moves_less():
    # weights 1 / sigma²: 1 to 4, so the meeting point is a fifth of the way from the better one
    result = join_edges(edges_of([(0, 0), (10, 0)], [(10.1, 0), (20, 0)], sigma=[0.01, 0.02]))
    c = result.changes
    assert (c.x[0], c.y[0]) == (pytest.approx(10.02), pytest.approx(0)) and c.moved[
        0
    ] == pytest.approx(0.08)
    # straight on, one vertex stands for both ends, and it is a new one
    assert result.vertex.tolist() == [0, -1, 3]


def test_directions_are_turned_to_that_of_the_greater_length():
    result = join_edges(edges_of([(10, 0), (0, 0)], [(10.1, 0), (40, 0)]))
    assert_array_equal(result.part, [0, 1])
    assert_array_equal(result.reversed, [True, False])
    assert_allclose(shape_of(result)[[0, -1], 0], [0, 40])


def test_tangents_are_extended_to_their_corner():
    result = join_edges(edges_of([(0, 0), (10, 0)], [(11, 1.2), (11, 9)]))
    assert told(result) == [("extended", "corner", {0, 1})]
    assert_allclose(shape_of(result)[:, :2], [(0, 0), (11, 0), (11, 9)], atol=1e-9)
    assert result.changes.moved[0] == pytest.approx(1.2) and result.changes.deflection[
        0
    ] == pytest.approx(90)
    assert (
        len(
            join_edges(
                edges_of([(0, 0), (10, 0)], [(11, 1.2), (11, 9)]), JoinLimits(max_extension=1.1)
            )
        )
        == 2
    )
    assert (
        len(
            join_edges(
                edges_of([(0, 0), (10, 0)], [(11, 1.2), (11, 9)]), JoinLimits(max_extension=0)
            )
        )
        == 2
    )


def test_ends_that_overshoot_are_cut_back_to_the_corner():
    result = join_edges(edges_of([(0, 0), (10.1, 0)], [(10, -0.15), (10, 9)]))
    assert_allclose(shape_of(result)[:, :2], [(0, 0), (10, 0), (10, 9)], atol=1e-9)


def test_heights_are_blended_and_follow_the_grade():
    result = join_edges(edges_of([(0, 0, 1), (10, 0, 1)], [(10.1, 0, 1.06), (20, 0, 1.06)]))
    shape = shape_of(result)
    grade = np.diff(shape[:, 2]) / np.diff(shape[:, 0])
    assert np.abs(np.diff(grade)).max() <= 0.02 + 1e-9 and (grade >= -1e-12).all()
    assert result.changes.moved_up[0] == pytest.approx(0.03)
    # a ramp of 5 % goes on to the corner
    result = join_edges(edges_of([(0, 0, 0), (10, 0, 0.5)], [(11, 1.2, 0.55), (11, 9, 0.55)]))
    assert shape_of(result)[1, 2] == pytest.approx(0.55, abs=1e-6)


def test_top_and_foot_of_a_curb_are_not_joined():
    shapes = [(0, 0, 1), (10, 0, 1)], [(10.1, 0, 0.87), (20, 0, 0.87)]
    result = join_edges(edges_of(*shapes))
    assert len(result) == 2 and told(result) == [("left_open", "heights", {0, 1})]
    assert len(join_edges(edges_of(*shapes), JoinLimits(max_height=0.15))) == 1


def test_one_edge_without_heights_takes_that_of_the_other_where_they_meet():
    result = join_edges(edges_of([(0, 0, np.nan), (10, 0, np.nan)], [(10.1, 0, 3), (20, 0, 3)]))
    assert len(result) == 1 and shape_of(result)[-1, 2] == 3 and np.isnan(shape_of(result)[0, 2])


# Who goes with whom


def test_the_ends_of_a_junction_stay_open_and_are_told():
    for shapes in (
        ([(0, 0), (10, 0)], [(10, 0), (20, 8)], [(10, 0), (20, -9)]),
        (
            [(0, 0), (10, 0)],
            [(10.05, 0.02), (20, 8)],
            [(10.04, -0.04), (20, -9)],
        ),
    ):
        result = join_edges(edges_of(*shapes))
        assert len(result) == 3 and told(result) == [("left_open", "junction", {0, 1, 2})]
        assert_array_equal(np.sort(result.vertex), np.arange(6))  # nothing moved


def test_a_clear_pair_at_a_junction_is_joined_and_the_third_is_told():
    result = join_edges(edges_of([(0, 0), (10, 0)], [(10.02, 0), (20, 0)], [(10, 0.2), (10, 9)]))
    assert len(result) == 2
    assert told(result) == [("joined", "direct", {0, 1}), ("left_open", "taken", {0, 1, 2})]


def test_an_end_on_the_middle_of_an_edge_is_told():
    result = join_edges(edges_of([(0, 0), (20, 0)], [(10, 0.1), (10, 9)]))
    assert (
        len(result) == 2
        and told(result) == [("left_open", "on_edge", {1})]
        and result.changes.beside[0] == 0
    )


def test_an_edge_may_be_joined_at_either_end():
    result = join_edges(edges_of([(0, 0), (10, 0)], [(10.2, 0), (20, 0)], [(20.01, 0), (30, 0)]))
    assert len(result) == 1 and len(result.part) == 3


@pytest.mark.parametrize(
    ("shapes", "why"),
    [
        pytest.param(([(0, 0), (10, 0)], [(10.05, 0.02), (0, 0.02)]), "back", id="walked back"),
        pytest.param(([(0, 0), (10, 0)], [(11, 0), (20, 0)]), "gap", id="gap straight on"),
        pytest.param(([(0, 0), (10, 0)], [(9, 0.01), (20, 0.01)]), "overlap", id="overlap"),
    ],
)
def test_what_does_not_fit_stays_open_and_is_told(shapes, why):
    result = join_edges(edges_of(*shapes))
    assert len(result) == 2 and why in [reason for _, reason, _ in told(result)]


def test_nothing_is_joined_through_another_edge():
    result = join_edges(edges_of([(0, 0), (10, 0)], [(11, 1.0), (11, 9)], [(10.5, -5), (10.5, 5)]))
    assert len(result) == 3 and ("left_open", "crossed", {0, 1}) in told(result)
    assert result.changes.beside[[why == "crossed" for _, why, _ in told(result)].index(True)] == 2


def test_forbidden_breaks_and_groups_stay_open():
    shapes = edges_of([(0, 0), (10, 0)], [(10.1, 0), (20, 0)])
    assert told(join_edges(shapes, kept=[[False, True], [False, False]])) == [
        ("left_open", "kept_break", {0, 1})
    ]
    assert len(join_edges(shapes, kept=[[True, False], [False, True]])) == 1  # other ends
    assert told(join_edges(shapes, group=[1, 2])) == [("left_open", "other_group", {0, 1})]


# Rings


def test_rings_close_and_end_where_they_start():
    square = [
        [(0.5, 0), (4.5, 0)],
        [(5, 0.5), (5, 4.5)],
        [(4.5, 5), (0.5, 5)],
        [(0, 4.5), (0, 0.5)],
    ]
    result = join_edges(edges_of(*square))
    assert len(result) == 1 and result.closed.all()
    assert [what for what, _, _ in told(result)].count("closed") == 1 and len(result.changes) == 4
    shape = shape_of(result)
    assert (shape[0] == shape[-1]).all() and len(shape) == 5
    assert ring_area(result.x, result.y, result.offsets)[0] == pytest.approx(25)
    open_ = join_edges(edges_of(*square), JoinLimits(close_rings=False))
    assert (
        len(open_) == 1
        and not open_.closed.any()
        and ("left_open", "ring") in [row[:2] for row in told(open_)]
    )


def test_one_edge_round_an_island_closes():
    ring = turn(6.0, 1, 359)
    result = join_edges(edges_of(ring))
    assert result.closed.all() and told(result) == [("closed", "direct", {0})]
    assert ring_area(result.x, result.y, result.offsets)[0] == pytest.approx(np.pi * 36, rel=2e-3)
    assert not join_edges(edges_of(ring), JoinLimits(close_rings=False)).closed.any()


def test_a_ring_stays_as_it_is():
    ring = turn(6.0, 0, 360)
    ring[-1] = ring[0]
    result = join_edges(edges_of(ring, [(0, 0), (5, 0)]))
    assert_array_equal(result.closed, [True, False])
    assert_array_equal(result.vertex[: len(ring) - 1], np.arange(len(ring) - 1))


@pytest.mark.parametrize("seed", range(3))
def test_ring_area_is_that_of_shapely(seed):
    rng = np.random.default_rng(seed)
    rings = []
    for _ in range(5):
        angle = np.sort(rng.uniform(0, 2 * np.pi, rng.integers(4, 40)))[:: rng.choice([-1, 1])]
        ring = rng.uniform(1, 9, (len(angle), 1)) * np.column_stack(
            [np.cos(angle), np.sin(angle)]
        ) + [6e5, 6.2e6]
        rings.append(np.concatenate([ring, ring[:1]]))
    offsets = np.concatenate([[0], np.cumsum([len(ring) for ring in rings])])
    area = ring_area(*np.concatenate(rings).T, offsets)
    expected = [
        shapely.area(shapely.polygons(ring))
        * (1 if shapely.is_ccw(shapely.linearrings(ring)) else -1)
        for ring in rings
    ]
    assert_allclose(area, expected, rtol=1e-9)


# Many


def scattered(seed, blocks=60):
    """Rounded rectangles cut into pieces with gaps, overlaps and noise, pieces in either direction;
    the number of rectangles."""
    rng = np.random.default_rng(seed)
    shapes = []
    for block in range(blocks):
        x, y = 60.0 * (block % 10), 60.0 * (block // 10)
        angle = rng.uniform(0, 2 * np.pi)
        turned = np.array([[np.cos(angle), np.sin(angle)], [-np.sin(angle), np.cos(angle)]])
        outline = shapely.get_coordinates(
            shapely.segmentize(
                shapely.buffer(shapely.box(-12, -8, 12, 8), 4.0, quad_segs=12).exterior, 2.0
            )
        )
        ring = shapely.linestrings(outline @ turned + [x, y])
        cuts = np.sort(
            rng.choice(np.arange(0, int(ring.length) - 8, 8), rng.integers(2, 6), replace=False)
        ) + rng.uniform(0, 3)
        for start, stop in zip(cuts, np.append(cuts[1:], cuts[0] + ring.length)):
            gap = rng.uniform(0, 0.15)
            low, high = start + gap / 2, stop - gap / 2
            at = np.concatenate([[low], np.arange(np.ceil(low), high, 0.7), [high]]) % ring.length
            xy = shapely.get_coordinates(shapely.line_interpolate_point(ring, at)) + rng.normal(
                0, 0.004, (1, 2)
            )
            shapes.append(np.column_stack([xy, 5 + 0.01 * xy[:, 0]])[:: rng.choice([-1, 1])])
    return shapes, blocks


@pytest.mark.parametrize("seed", range(4))
def test_every_edge_is_in_exactly_one_result_and_islands_are_found(seed):
    shapes, blocks = scattered(seed)
    given = edges_of(*shapes)
    result = join_edges(given)
    assert_array_equal(np.sort(result.part), np.arange(len(shapes)))
    assert result.closed.sum() >= 0.97 * blocks
    kept = result.vertex[result.vertex >= 0]
    assert len(np.unique(kept)) >= len(kept) - result.closed.sum()  # only a ring may show one twice
    for row, name in enumerate("xyz"):
        assert (getattr(result, name)[result.vertex >= 0] == getattr(given, name)[kept]).all(), row
    # nothing is lost: each source vertex lies within the greatest move of the result that it is in
    where = np.empty(len(shapes), np.int64)
    where[result.part] = np.repeat(np.arange(len(result)), np.diff(result.part_offsets))
    out = shapely.linestrings(
        np.column_stack([result.x, result.y]),
        indices=np.repeat(np.arange(len(result)), np.diff(result.offsets)),
    )
    off = shapely.distance(
        shapely.points(given.x, given.y), out[where[given.line[group_index(given.offsets)]]]
    )
    assert off.max() <= np.nanmax(result.changes.moved)


@pytest.mark.parametrize("seed", range(2))
def test_the_order_of_the_rows_and_the_directions_have_no_say(seed):
    shapes, _ = scattered(seed, 20)
    rng = np.random.default_rng(seed)
    shuffle = rng.permutation(len(shapes))
    first = join_edges(edges_of(*shapes))
    other = join_edges(
        edges_of(*[shapes[k] if rng.uniform() < 0.5 else shapes[k][::-1] for k in shuffle])
    )

    def sets(result, names):
        return {
            frozenset(names[part] for part in result.part[a:b].tolist())
            for a, b in zip(result.part_offsets[:-1], result.part_offsets[1:])
        }

    assert sets(first, np.arange(len(shapes))) == sets(other, shuffle)
    places = [
        np.round(np.column_stack([c.what, c.x, c.y, c.moved]), 6)
        for c in (first.changes, other.changes)
    ]
    assert_allclose(*(place[np.lexsort(place.T)] for place in places))


def test_coordinates_far_from_the_origin_change_nothing():
    shapes, _ = scattered(7, 10)
    here, there = (
        join_edges(edges_of(*shapes)),
        join_edges(edges_of(*[shape + [6e5, 6.2e6, 0] for shape in shapes])),
    )
    assert_array_equal(here.part, there.part)
    assert_allclose(here.x, there.x - 6e5, atol=1e-6)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        ({"group": [1]}, "one row for each of 2 edges"),
        ({"kept": [[True, False]]}, "one row for each"),
        ({"sigma_up": [0.1]}, "sigma_up"),
    ],
)
def test_bad_input_is_named(arguments, message):
    with pytest.raises(ValueError, match=message):
        join_edges(edges_of([(0, 0), (1, 0)], [(2, 0), (3, 0)]), **arguments)
    with pytest.raises(ValueError, match="1 edges have no length"):
        join_edges(edges_of([(0, 0), (0, 0)]))


def test_cancel():
    def look(share):
        if share > 0.3:
            raise RuntimeError

    with pytest.raises(RuntimeError):
        join_edges(edges_of([(0, 0), (1, 0)], [(2, 0), (3, 0)]), progress=look)


def test_a_hook_at_the_end_is_cut_off_before_the_corner():
    """A last vertex that lies far from the rest is a gross error: the leg goes straight on."""
    hooked = [(0, 0), (5, 0), (9.95, 0), (10.0, 0.09)]
    made = shape_of(join_edges(edges_of(hooked, [(11, 1.2), (11, 9)])))
    assert np.abs(made[made[:, 0] < 10.9, 1]).max() < 0.005
    assert_allclose(made[np.argmax(made[:, 0] - made[:, 1]), :2], [11, 0], atol=0.02)


def test_of_partners_that_are_nearly_as_good_none_is_taken():
    """However great the ratio of two costs of millimetres is, they are the same."""
    lean = 10 * np.radians(1)
    branches = [(0.001, 0.0), (10, lean)], [(0.006, 0.0), (10, -lean)]
    assert told(join_edges(edges_of([(-10, 0), (0, 0)], *branches))) == [
        ("left_open", "junction", {0, 1, 2})
    ]


def test_of_edges_in_between_the_first_is_named():
    between = [[(x, -1), (x, 1)] for x in (10.08, 10.12, 10.04)]
    changes = join_edges(edges_of([(0, 0), (10, 0)], [(10.2, 0), (20, 0)], *between)).changes
    crossed = changes.why == end_pairs.WHY_NAMES.index("crossed")
    assert changes.beside[crossed].tolist() == [2]


def test_a_ring_that_must_not_close_stays_open_where_its_ends_fit_worst():
    gap = 0.15
    sides = [
        [(0, 0), (10, 0)],
        [(10.02, 0), (10.02, 10)],
        [(10, 10), (0, 10)],
        [(0, 9.99), (0, gap)],
    ]
    result = join_edges(edges_of(*sides), JoinLimits(close_rings=False))
    assert len(result) == 1 and not result.closed[0]
    ends = shape_of(result)[[0, -1], :2]
    assert np.hypot(*ends.T).max() < gap + 0.01  # both at the origin, where the gap is


def test_vertices_that_keep_their_number_keep_every_digit():
    """Those that only change their height are new ones as well."""
    low = np.column_stack([np.arange(11.0), np.zeros(11), np.full(11, 3.0)])
    high = low + [10.0, 0.0, 0.06]
    given = edges_of(low, high)
    result = join_edges(given)
    assert len(result) == 1
    kept = result.vertex >= 0
    source = np.column_stack([given.x, given.y, given.z])[result.vertex[kept]]
    assert_array_equal(shape_of(result)[kept], source)
    assert 5 < np.count_nonzero(kept) < 20
