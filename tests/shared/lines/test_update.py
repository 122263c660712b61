"""A basemap brought up to date: what moved is where the edges are, all else is as it was."""

import numpy as np
import pytest
import shapely
from lineshapes import dense, layer
from numpy.testing import assert_allclose, assert_array_equal
from updates import FRONT, MOVED, names, plan, updated

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import UpdateSettings, plan_update


def test_a_line_that_moved_lies_where_the_edge_is():
    existing = layer(FRONT, [[0, 100], [60, 100]])
    found = plan(existing, layer(dense(MOVED), dense([[0, 100], [60, 100]])))
    assert names(found) == ["replaced", "unchanged"]
    assert_allclose(found.parts[0][0][:, 1], 0.6, atol=1e-9)
    assert_allclose(found.parts[0][0][[0, -1], 0], [0, 60], atol=1e-9)
    assert 1 not in found.parts


def test_a_line_without_a_length_is_left_alone():
    existing = layer(FRONT, [[60, 0], [60, 0], [60, 0]])
    found = plan(existing, layer(dense(MOVED)))
    assert names(found) == ["replaced", "unchanged"] and list(found.parts) == [0]


def test_it_can_be_stopped_at_every_line():
    apart = [[[0, 20 * row], [60, 20 * row]] for row in range(12)]
    moved = [dense(np.array(one) + (0, 0.6)) for one in apart]
    compared = compare(layer(*moved), layer(*apart), ComparisonSettings(existing_sigma=0.05))
    looks = []
    found = plan_update(compared, progress=looks.append)
    assert len(found.parts) == 12 and looks == sorted(looks)
    assert len(looks) > 4 * 12  # beside rings, pieces, drawing, checks


def test_only_the_stretch_that_was_walked_is_replaced():
    existing = layer([[0, 0], [100, 0]])
    found = plan(existing, layer(dense([[30, 0.8], [70, 0.8]])), blend=4.0)
    assert names(found) == ["partly"]
    line = found.parts[0][0][:, :2]
    assert_array_equal(line[[0, -1]], [[0, 0], [100, 0]])
    shape = shapely.LineString(line)
    for x, y in ((10, 0.0), (25.9, 0.0), (28, 0.4), (30.5, 0.8), (50, 0.8), (69.5, 0.8), (75, 0.0)):
        assert shape.distance(shapely.Point(x, y)) < 0.02, (x, y)


def test_new_edges_are_added_and_lines_that_are_gone_retired():
    existing = layer(FRONT, [[0, 50], [60, 50]])
    edges = layer(dense(FRONT), dense([[0, -40], [60, -40]]))
    found = plan(existing, edges)
    assert names(found) == ["unchanged", "retired"]
    assert [added.edge for added in found.added] == [1]
    assert_array_equal(found.added[0].xyz[:, :2], dense([[0, -40], [60, -40]]))
    assert not plan(existing, edges, add_new=False).added
    assert names(plan(existing, edges, retire=False)) == ["unchanged", "unchanged"]


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
