"""New lines meet what they nearly meet, and cross nothing: by cases, and on random ground."""

import numpy as np
import pytest
import shapely
from lineshapes import dense, layer
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.additions import Ground
from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import UpdateSettings, plan_update

STREET = [[0, 0], [60, 0]]


def line(*xy):
    xy = np.array(xy, float)
    return np.column_stack([xy, np.full(len(xy), np.nan)])


def ground(*lines, blend=2.0):
    return Ground(np.array([shapely.LineString(one) for one in lines], object), blend)


@pytest.mark.parametrize(
    ("end", "meets"),
    [
        pytest.param((20, 0.2), (20, 0), id="short of it"),
        pytest.param((20, -0.2), (20, 0), id="beyond it"),
        pytest.param((59.9, 0.2), (60, 0), id="at its end"),
        pytest.param((20, 0.5), (20, 0.5), id="away from it"),
    ],
)
def test_an_end_meets_what_it_nearly_meets(end, meets):
    new = ground(STREET).meeting(line((20, 30), (20, 10), end))
    assert_allclose(new[-1, :2], meets, atol=1e-9)
    assert_array_equal(new[0, :2], (20, 30))
    assert not ground(STREET).crosses(new)


def test_a_ring_and_what_lies_alone_stay_as_they_are():
    ring = line((10, 0.1), (12, 3), (8, 3), (10, 0.1))
    alone = line((10, 20), (30, 20))
    assert ground(STREET).meeting(ring) is ring and ground(STREET).meeting(alone) is alone


def test_new_lines_meet_each_other():
    here = ground(STREET)
    first, second = line((5, 10), (30, 10)), line((30.1, 10.15), (50, 20))
    branch = line((15, 10.2), (15, 30))
    here.expect([shapely.LineString(one[:, :2]) for one in (branch, first, second)])
    drawn = []
    for number, one in enumerate((branch, first, second)):
        drawn.append(here.meeting(one, number))
        assert not here.crosses(drawn[-1], number)
        here.add(drawn[-1], number)
    assert_allclose(drawn[0][0, :2], (15, 10), atol=1e-9)  # inside a line that comes later
    assert_array_equal(drawn[2][0, :2], drawn[1][-1, :2])


def plan(existing, edges, **settings):
    compared = compare(edges, existing, ComparisonSettings(existing_sigma=0.05))
    return plan_update(compared, UpdateSettings(**settings))


def test_what_would_cross_is_held_back():
    existing = layer(STREET, [[0, 100], [60, 100]])
    across = [[30, -30], [30, 30]]
    edges = layer(
        dense(STREET), dense(across), dense([[0, 50], [60, 50]]), dense([[10, 40], [50, 70]])
    )
    found = plan(existing, edges)
    assert [added.edge for added in found.added] == [2]
    why = {held.edge: held.why for held in found.held}
    assert why[1] == why[3] == "it would cross another line, or itself"


def test_it_may_cross_a_line_that_is_gone():
    existing = layer([[0, 40], [0, -40]])
    found = plan(existing, layer(dense([[-20, 0], [20, 0]])))
    assert [added.edge for added in found.added] == [0]


@pytest.mark.parametrize("seed", range(8))
def test_on_random_ground_there_is_no_new_crossing_and_no_near_miss(seed):
    rng = np.random.default_rng(seed)
    streets = [[[0, y], [80, y]] for y in (0, 40, 80)]
    new = []
    for x in rng.permutation(np.arange(6, 78, 9)):
        low, high = rng.choice([0, 40]) + rng.uniform(-0.29, 0.29, 2) + [0, 40]
        new.append([[x, low], [x + rng.uniform(-2, 2), high]])
    new += [[[rng.uniform(0, 60), y], [rng.uniform(62, 80), y + rng.uniform(-5, 5)]]
            for y in (10, 30, 60)]  # fmt: skip
    found = plan(layer(*streets), layer(*(dense(one) for one in new)), retire=False)
    assert len(found.added) + len(found.held) == len(new) and len(found.added) >= 5
    drawn = [shapely.LineString(added.xyz[:, :2]) for added in found.added]
    all_lines = np.array([*map(shapely.LineString, streets), *drawn], object)
    ends = [shapely.Point(shape.coords[k]) for shape in drawn for k in (0, -1)]
    for number, shape in enumerate(drawn):
        assert shape.is_simple
        inner = shapely.LineString(
            [shape.interpolate(0.01), *map(shapely.Point, shape.coords[1:-1]),
             shape.interpolate(shape.length - 0.01)]
        )  # fmt: skip
        others = np.delete(all_lines, len(streets) + number)
        assert not shapely.crosses(inner, others).any()
    for end in ends:
        away = np.sort(shapely.distance(end, all_lines))[1]  # the first is its own line
        assert away < 1e-6 or away > 0.29


def test_an_edge_that_goes_on_at_both_ends_waits_once():
    existing = layer([[20, 0], [40, 0]])
    found = plan(existing, layer(dense([[0, 0.0], [60, 0.0]])), needs_decision=True)
    assert [held.edge for held in found.held if held.existing < 0] == [0]
