"""A basemap brought up to date: what moved is where the edges are, all else is as it was."""

import numpy as np
import pytest
import shapely
from lineshapes import dense, layer, lines_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.comparison import ComparisonSettings, compare
from curbwright.shared.lines.update import WHAT_NAMES, UpdateSettings, plan_update
from curbwright.shared.lines.update_decisions import ACCEPT, HOLD, REJECT
from curbwright.shared.lines.visits import Survey


def plan(existing, edges, remove_shift=False, **settings):
    compared = compare(
        edges, existing, ComparisonSettings(existing_sigma=0.05, remove_shift=remove_shift)
    )
    return plan_update(compared, UpdateSettings(**settings))


def names(found):
    return [WHAT_NAMES[what] for what in found.what]


def updated(existing, found):
    """The lines afterwards."""
    parts = [
        np.column_stack([existing.x, existing.y])[low:high] + found.shift
        for low, high in zip(existing.offsets[:-1], existing.offsets[1:])
    ]
    return [
        found.parts[row][0][:, :2] if row in found.parts else parts[row]
        for row in range(len(parts))
    ]


FRONT = [[0, 0], [60, 0]]
MOVED = [[0, 0.6], [60, 0.6]]


def test_a_line_that_moved_lies_where_the_edge_is():
    existing = layer(FRONT, [[0, 100], [60, 100]])
    found = plan(existing, layer(dense(MOVED), dense([[0, 100], [60, 100]])))
    assert names(found) == ["replaced", "unchanged"]
    assert_allclose(found.parts[0][0][:, 1], 0.6, atol=1e-9)
    assert_allclose(found.parts[0][0][[0, -1], 0], [0, 60], atol=1e-9)
    assert 1 not in found.parts


def test_it_can_be_stopped_at_every_line():
    apart = [[[0, 20 * row], [60, 20 * row]] for row in range(12)]
    moved = [dense(np.array(one) + (0, 0.6)) for one in apart]
    compared = compare(layer(*moved), layer(*apart), ComparisonSettings(existing_sigma=0.05))
    looks = []
    found = plan_update(compared, progress=looks.append)
    assert len(found.parts) == 12 and looks == sorted(looks)
    assert len(looks) > 4 * 12  # beside rings, pieces, drawing, checks


def test_neighbours_follow_to_the_shared_end():
    side = [[60, 0], [60, 40]]
    existing = layer(FRONT, side)
    found = plan(existing, layer(dense(MOVED), dense([[60, 3], [60, 40]])))
    assert names(found) == ["replaced", "followed"]
    front, back = updated(existing, found)
    assert_array_equal(front[-1], back[0])
    assert_allclose(back[0], [60, 0.6], atol=1e-9)
    assert_array_equal(back[-1], [60, 40])


def test_two_moved_sides_meet_in_their_corner():
    existing = layer(FRONT, [[60, 0], [60, 40]])
    found = plan(existing, layer(dense([[0, 0.6], [59.8, 0.6]]), dense([[60.7, 0.9], [60.7, 40]])))
    front, side = updated(existing, found)
    assert_allclose(front[-1], [60.7, 0.6], atol=1e-6)
    assert_array_equal(front[-1], side[0])


def test_a_line_that_ends_on_a_moved_one_still_does():
    branch = [[25, 0], [25, -30]]
    existing = layer(FRONT, branch)
    found = plan(existing, layer(dense(MOVED), dense([[25, -3], [25, -30]])))
    assert names(found) == ["replaced", "followed"]
    front, branch = updated(existing, found)
    assert_allclose(branch[0], [25, 0.6], atol=1e-6)
    assert (np.hypot(*(front - branch[0]).T) < 1e-6).any()


def test_a_replaced_branch_ends_on_the_line_that_did_not_move():
    """The edge's end lies a centimetre beside the front: the branch ends on the front itself."""
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense(FRONT), dense([[25.5, 0.01], [25.5, -30]])))
    assert names(found) == ["unchanged", "replaced"]
    assert shapely.LineString(FRONT).distance(shapely.Point(found.parts[1][0][0, :2])) == 0.0


def test_what_would_have_to_follow_too_far_holds_the_line_back():
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense([[0, 1.5], [60, 1.5]])), follow=1.0)
    assert names(found)[0] == "unchanged"
    assert [held.existing for held in found.held] == [0]
    assert "1.50 m" in found.held[0].why


def test_only_the_stretch_that_was_walked_is_replaced():
    existing = layer([[0, 0], [100, 0]])
    found = plan(existing, layer(dense([[30, 0.8], [70, 0.8]])), blend=4.0)
    assert names(found) == ["partly"]
    line = found.parts[0][0][:, :2]
    assert_array_equal(line[[0, -1]], [[0, 0], [100, 0]])
    shape = shapely.LineString(line)
    for x, y in ((10, 0.0), (25.9, 0.0), (28, 0.4), (30.5, 0.8), (50, 0.8), (69.5, 0.8), (75, 0.0)):
        assert shape.distance(shapely.Point(x, y)) < 0.02, (x, y)


def test_an_island_stays_a_ring():
    angle = np.linspace(0, 2 * np.pi, 25)
    ring = np.column_stack([8 * np.cos(angle), 4 * np.sin(angle)])
    ring[-1] = ring[0]
    walked = dense(np.roll(ring[:-1], 7, axis=0), 0.4) + [0.7, -0.4]
    walked = np.vstack([walked, walked[:1]])
    found = plan(layer(ring), layer(walked))
    assert names(found) == ["replaced"]
    line = found.parts[0][0][:, :2]
    assert_array_equal(line[0], line[-1])
    assert shapely.hausdorff_distance(shapely.LineString(line), shapely.LineString(walked)) < 0.03
    assert shapely.LineString(line).is_ring


@pytest.mark.parametrize("way", [1, -1])
@pytest.mark.parametrize(("open_by", "near"), [(0, 0.03), (3, 0.1)])
def test_an_island_walked_from_where_it_is_drawn_from(way, open_by, near):
    """The walk starts and ends beside the start of the ring: closed, or a metre short, where the
    chord cuts 9 cm off the island's tip."""
    angle = np.linspace(0, 2 * np.pi, 41)
    ring = np.column_stack([8 * np.cos(angle), 4 * np.sin(angle)])
    ring[-1] = ring[0]
    walked = dense(ring, 0.4) + [0.6, 0.3]
    walked = walked[: len(walked) - open_by][::way]
    found = plan(layer(ring), layer(walked))
    assert names(found) == ["replaced"]
    line = shapely.LineString(found.parts[0][0][:, :2])
    assert line.is_ring
    assert shapely.hausdorff_distance(line, shapely.LineString(ring + [0.6, 0.3])) < near


def test_a_line_that_is_gone_is_retired_though_its_end_followed():
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense(MOVED)))
    assert names(found) == ["replaced", "retired"]


def test_one_edge_along_three_lines_is_cut_where_they_meet():
    existing = layer([[0, 0], [20, 0]], [[20, 0], [45, 0]], [[60, 0], [45, 0]])
    found = plan(existing, layer(dense([[60, 0.5], [0, 0.5]])))
    assert names(found) == ["replaced"] * 3
    a, b, c = updated(existing, found)
    assert_array_equal(a[-1], b[0])
    assert_array_equal(b[-1], c[-1])
    assert_allclose([a[-1], b[-1], c[0]], [[20, 0.5], [45, 0.5], [60, 0.5]], atol=1e-9)


def test_new_edges_are_added_and_lines_that_are_gone_retired():
    existing = layer(FRONT, [[0, 50], [60, 50]])
    edges = layer(dense(FRONT), dense([[0, -40], [60, -40]]))
    found = plan(existing, edges)
    assert names(found) == ["unchanged", "retired"]
    assert [added.edge for added in found.added] == [1]
    assert_array_equal(found.added[0].xyz[:, :2], dense([[0, -40], [60, -40]]))
    assert not plan(existing, edges, add_new=False).added
    assert names(plan(existing, edges, retire=False)) == ["unchanged", "unchanged"]


@pytest.mark.parametrize("aside", [0.0, 0.05, 0.6])
@pytest.mark.parametrize("way", [1, -1])
def test_an_edge_that_goes_on_beyond_its_line_is_added_from_there(aside, way):
    """In place, a little aside (not displaced), and displaced."""
    existing = layer(FRONT)
    edges = layer(dense([[0, aside], [90, aside]])[::way])
    found = plan(existing, edges)
    assert names(found) == (["replaced"] if aside > 0.5 else ["unchanged"])
    (added,) = found.added
    (front,) = updated(existing, found)
    xy = added.xyz[::way, :2]
    assert_allclose(xy[[0, -1]], [front[-1], [90, aside]], atol=1e-9)
    assert shapely.LineString(xy).length == pytest.approx(30, abs=0.01)
    again = plan(layer(front, added.xyz[:, :2]), edges)
    assert set(names(again)) == {"unchanged"} and not again.added


def test_an_edge_that_turns_off_its_line_is_added_from_where_it_does():
    existing = layer(FRONT)
    found = plan(existing, layer(dense([[0, 0.02], [30, 0.02], [30, 25]])))
    (added,) = found.added
    assert shapely.LineString(FRONT).distance(shapely.Point(added.xyz[0, :2])) < 1e-9
    assert_allclose(added.xyz[[0, -1], :2], [[30, 0], [30, 25]], atol=0.6)
    assert not plan(existing, layer(dense([[0, 0.02], [30, 0.02], [30, 1.5]]))).added


def test_what_goes_on_waits_for_the_same_decision():
    compared = compare(layer(dense([[0, 0], [90, 0]])), layer(FRONT), ComparisonSettings())
    found = plan_update(compared, UpdateSettings(), edge_decision=np.array([HOLD]))
    assert not found.added and [held.edge for held in found.held] == [0]


def test_decisions_are_kept_to():
    existing, edges = (
        layer(FRONT, [[0, 50], [60, 50]]),
        layer(dense(MOVED), dense([[0, 50.6], [60, 50.6]])),
    )
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05))
    decisions = np.array([ACCEPT, HOLD])
    found = plan_update(compared, UpdateSettings(), edge_decision=decisions)
    assert names(found) == ["replaced", "unchanged"]
    assert [(held.existing, held.edge) for held in found.held] == [(1, 1)]
    waiting = plan_update(compared, UpdateSettings(needs_decision=True))
    assert names(waiting) == ["unchanged", "unchanged"] and len(waiting.held) == 2
    one = plan_update(compared, UpdateSettings(needs_decision=True), line_decision=decisions)
    assert names(one) == ["replaced", "unchanged"]


def test_a_line_that_would_cross_another_is_held():
    existing = layer(FRONT, [[20, 0.4], [40, 0.4]])
    edges = layer(dense([[0, 0.0], [15, 0.0], [25, 0.7], [60, 0.7]]), dense([[20, 0.4], [40, 0.4]]))
    found = plan(existing, edges)
    assert names(found)[0] == "unchanged"
    assert any("cross" in held.why for held in found.held)


def test_what_agrees_is_redrawn_on_request():
    existing, edges = layer(FRONT), layer(dense([[0, 0.05], [60, 0.05]]))
    assert names(plan(existing, edges)) == ["unchanged"]
    found = plan(existing, edges, replace_all=True)
    assert names(found) == ["replaced"]
    assert_allclose(found.parts[0][0][:, 1], 0.05, atol=1e-9)


def test_a_neighbour_that_would_have_to_follow_too_far_keeps_its_end():
    """The line that moved runs back to the shared end over the length of the transition."""
    existing = layer(FRONT, [[60, 0], [60, 40]])
    edges = layer(dense([[0, 1.5], [60, 1.5]]), dense([[60, 3], [60, 40]]))
    found = plan(existing, edges, follow=1.0, blend=4.0)
    front, side = updated(existing, found)
    assert_array_equal(front[-1], [60, 0])
    assert_array_equal(side, [[60, 0], [60, 40]])
    shape = shapely.LineString(front)
    for x, y in ((0, 1.5), (30, 1.5), (55.9, 1.5), (58, 0.75)):
        assert shape.distance(shapely.Point(x, y)) < 0.02, (x, y)


def test_the_other_end_keeps_its_place_as_well():
    existing = layer(FRONT, [[0, 0], [0, 40]])
    edges = layer(dense([[0, 1.5], [60, 1.5]]), dense([[0, 3], [0, 40]]))
    front, side = updated(existing, plan(existing, edges, follow=1.0, blend=4.0))
    assert_array_equal(front[0], [0, 0])
    assert_array_equal(side, [[0, 0], [0, 40]])


@pytest.mark.parametrize(
    ("decision", "needed", "why"),
    [
        (REJECT, False, "a person rejected it"),
        (HOLD, False, "a person holds it back"),
        (0, True, "it waits for a decision"),
    ],
)
def test_nothing_is_retired_against_a_decision(decision, needed, why):
    existing, edges = layer(FRONT, [[0, 50], [60, 50]]), layer(dense(FRONT))
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05))
    settings = UpdateSettings(needs_decision=needed)
    found = plan_update(compared, settings, line_decision=np.array([0, decision]))
    assert names(found) == ["unchanged", "unchanged"]
    assert [(held.existing, held.edge, held.why) for held in found.held] == [(1, -1, why)]
    accepted = plan_update(compared, settings, line_decision=np.array([0, ACCEPT]))
    assert names(accepted) == ["unchanged", "retired"] and not accepted.held


def test_a_line_that_was_visited_in_part_is_not_retired_by_itself():
    def beginning(x, y):
        return x <= 30

    existing, edges = layer(FRONT, [[0, 8], [60, 8]]), layer(dense(FRONT))
    survey = Survey(20.0, inside=beginning)
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05), survey=survey)
    found = plan_update(compared, UpdateSettings())
    assert names(found) == ["unchanged", "unchanged"]
    (held,) = found.held
    assert (held.existing, held.edge) == (1, -1) and "% of it was visited" in held.why
    seen = compared.existing_statistics.visited_share[1]
    assert 0.4 < seen < 0.6 and f"{100 * seen:.0f} %" in held.why


def test_a_new_edge_waits_for_its_decision():
    compared = compare(
        layer(dense(FRONT), dense([[0, -40], [60, -40]])), layer(FRONT), ComparisonSettings()
    )
    found = plan_update(compared, UpdateSettings(), edge_decision=np.array([0, REJECT]))
    assert not found.added and not found.adopted[1]
    assert [(held.existing, held.edge) for held in found.held] == [(-1, 1)]


def test_what_goes_on_across_another_line_is_held():
    existing = layer(FRONT, [[80, -10], [80, 10]])
    edges = layer(dense([[0, 0], [100, 0]]), dense([[80, -10], [80, 10]]))
    found = plan(existing, edges)
    assert names(found) == ["unchanged", "unchanged"] and not found.added
    assert [(held.existing, held.edge) for held in found.held] == [(-1, 0)]
    assert "cross" in found.held[0].why


def test_an_island_walked_halfway_round_is_redrawn_there_alone():
    ring = np.array([[0, 0], [30, 0], [30, 20], [0, 20], [0, 0]], float)
    edges = layer(dense([[0.6, 5], [0.6, 0.6], [30, 0.6]]))
    found = plan(layer(ring), edges)
    line = shapely.LineString(found.parts[0][0][:, :2])
    assert names(found) == ["partly"] and line.is_ring and line.is_simple
    for x, y in ((15, 0.6), (30, 15), (15, 20)):
        assert line.distance(shapely.Point(x, y)) < 0.02, (x, y)


def test_parts_of_one_line_are_redrawn_each_by_itself():
    existing = lines_of([FRONT, [[0, 50], [60, 50]], [[0, 90], [60, 90]]], sigma=np.array([0.01]))
    edges = layer(*(dense([[0, y], [60, y]]) for y in (0.0, 50.6, 90.0)))
    found = plan(existing, edges, replace_all=True)
    first, moved, last = found.parts[0]
    assert_array_equal(first[:, :2], FRONT)
    assert_allclose(moved[:, 1], 50.6, atol=1e-9)
    assert_array_equal(last[:, :2], [[0, 90], [60, 90]])


def test_an_empty_basemap_gets_all_edges():
    found = plan(layer(), layer(dense(FRONT), dense(MOVED)))
    assert len(found.what) == 0 and [added.edge for added in found.added] == [0, 1]
    assert found.adopted.all() and not found.held


@pytest.mark.parametrize(("name", "value"), [("blend", -1.0), ("follow", np.nan)])
def test_bad_settings_are_named(name, value):
    with pytest.raises(ValueError, match=name):
        UpdateSettings(**{name: value})


# --- whole towns


def town(seed, blocks=6):
    """Blocks of four sides that share their corners, a branch that ends on one side of each, and
    islands; true lines, the drawn ones, and which of them moved."""
    rng = np.random.default_rng(seed)
    drawn, true = [], []
    for k in range(blocks):
        origin = np.array([120.0 * (k % 3), 120.0 * (k // 3)]) + rng.uniform(0, 10, 2)
        size = rng.uniform(30, 60, 2)
        corners = origin + np.array([[0, 0], [1, 0], [1, 1], [0, 1]]) * size
        move = rng.uniform(-0.7, 0.7, 2) if rng.random() < 0.5 else np.zeros(2)
        sides = [np.array([corners[i], corners[(i + 1) % 4]]) for i in range(4)]
        middle = sides[0].mean(axis=0)
        sides.append(np.array([middle, middle - [0, rng.uniform(8, 20)]]))
        drawn += sides
        true += [side + move for side in sides]
    return layer(*drawn), layer(*(dense(line) for line in true)), true


def ends_of(lines):
    return np.array([line[k] for line in lines for k in (0, -1)])


@pytest.mark.one_in(4)
@pytest.mark.parametrize("seed", range(8))
def test_towns_keep_their_junctions_and_change_no_more(seed):
    existing, edges, true = town(seed)
    found = plan(existing, edges)
    after = updated(existing, found)
    before = updated(existing, plan(existing, existing))
    # junctions: what was together is together
    pairs = np.argwhere(
        np.triu(np.hypot(*(ends_of(before)[:, None] - ends_of(before)).T) < 1e-6, 1)
    )
    assert len(pairs)
    for a, b in pairs:
        assert_array_equal(ends_of(after)[a], ends_of(after)[b])
    for row in range(4, len(after), 5):  # branches end on the first side of their block
        assert shapely.LineString(after[row - 4]).distance(shapely.Point(after[row][0])) < 1e-9
    # where things lie; walks and ends of branches say nothing of how far a line goes on
    for line, truth in zip(after, true):
        way = (truth[1] - truth[0]) / np.hypot(*(truth[1] - truth[0]))
        longer = shapely.LineString([truth[0] - way, truth[1] + way])
        assert shapely.distance(shapely.points(line), longer).max() < 0.12
    # once more changes nothing
    again = plan(layer(*after), edges)
    assert set(names(again)) == {"unchanged"} and not again.added and not again.parts


def test_the_order_of_rows_decides_nothing():
    existing, edges, _ = town(3)
    order = np.random.default_rng(1).permutation(existing.count)
    lines = updated(existing, plan(existing, existing))
    shuffled = layer(*(lines[k] for k in order))
    one, other = plan(existing, edges), plan(shuffled, edges)
    assert_array_equal(one.what[order], other.what)
    for row, former in enumerate(order):
        if former in one.parts:
            assert_allclose(other.parts[row][0], one.parts[former][0], atol=1e-9)
