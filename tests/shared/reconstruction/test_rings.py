"""Walks that come back to their start: which are rings, in what order their positions lie, and how
their edges close."""

import numpy as np
import pytest
from epochwalks import table_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.reconstruction.reconstruct import Settings, reconstruct
from curbwright.shared.reconstruction.rings import find_rings

SIGMA = 0.011
STEP = 0.9
ISLANDS = {
    "long": sim.island_parts(20.0, 2.0),
    "short": sim.island_parts(6.0, 1.0),
    "round": [("arc", 4.0, 360.0)],
    "square": [
        ("line", 5.0),
        ("corner", 90.0),
        ("line", 8.0),
        ("corner", 90.0),
        ("line", 10.0),
        ("corner", 90.0),
        ("line", 8.0),
        ("corner", 90.0),
        ("line", 5.0),
    ],
}


def walked(truth, first, last, seed=0, step=STEP, sigma=SIGMA):
    """Positions every `step` metres from chainage `first` to `last`: x, y, chainage."""
    s = first + np.arange(0.0, last - first, step)
    rng = np.random.default_rng(seed)
    x, y = (axis + rng.normal(0, sigma, len(s)) for axis in truth.at(s)[:, :2].T)
    return x, y, s


def find(*runs, step=STEP):
    x, y = (np.concatenate([run[k] for run in runs]) for k in (0, 1))
    offsets = np.concatenate([[0], np.cumsum([len(run[0]) for run in runs])])
    closed, order = find_rings(x, y, np.full(len(x), SIGMA**2), offsets, np.full(len(x), step))
    assert_array_equal(np.sort(order), np.arange(len(x)))
    for a, b in zip(offsets[:-1], offsets[1:]):
        assert_array_equal(np.sort(order[a:b]), np.arange(a, b))  # every run keeps its own
    return closed, order


@pytest.mark.parametrize("name", ISLANDS)
@pytest.mark.parametrize("beyond", [-0.8, -0.3, 0.0, 0.7, 2.5, 6.0])
@pytest.mark.parametrize("begin", [-1.5, 0.4, 3.1])
def test_a_lap_and_a_little_more_or_less_closes(name, beyond, begin):
    truth = sim.chain("x", ISLANDS[name], closed=True, heading=0.7)
    x, y, s = walked(truth, begin, begin + truth.length + beyond)
    closed, order = find((x, y))
    assert_array_equal(closed, [True])
    # what was walked twice lies between what was walked before: it goes round the ring once, never
    # back, noise apart
    steps = (np.diff(s[order]) + truth.length / 2) % truth.length - truth.length / 2
    assert (steps > -0.05).all() and steps.sum() < truth.length


@pytest.mark.parametrize("name", ISLANDS)
def test_the_other_way_round_as_well(name):
    truth = sim.chain("x", ISLANDS[name], closed=True)
    x, y, _ = walked(truth, 0.3, truth.length + 1.5)
    closed, _ = find((x[::-1], y[::-1]))
    assert closed[0]


OPEN = {
    "horseshoe": [("line", 15.0), ("arc", 3.0, 180.0), ("line", 15.0)],
    "narrow horseshoe": [("line", 15.0), ("arc", 0.6, 180.0), ("line", 15.0)],
    "three quarters": [("arc", 5.0, 270.0)],
    "nearly round": [("arc", 5.0, 325.0)],
    "straight": [("line", 40.0)],
    "loop with a tail": [("line", 20.0), ("arc", 4.0, 360.0)],
    "loop between tails": [("line", 20.0), ("arc", 4.0, 360.0), ("line", 20.0)],
    "spiral": [("arc", 5.0, 300.0), ("arc", 8.0, 200.0)],
    "back to the start from the side": [
        ("line", 10.0),
        ("corner", 120.0),
        ("line", 10.0),
        ("corner", 120.0),
        ("line", 9.0),
        ("corner", -90.0),
        ("line", 6.0),
    ],
}


@pytest.mark.parametrize("name", OPEN)
def test_what_does_not_close(name):
    truth = sim.chain("x", OPEN[name])
    x, y, _ = walked(truth, 0.0, truth.length)
    for run in ((x, y), (x[::-1], y[::-1])):
        closed, order = find(run)
        assert not closed[0]
        assert_array_equal(order, np.arange(len(x)))


def test_there_and_back_is_no_ring():
    truth = sim.chain("x", [("line", 30.0)])
    x, y, _ = walked(truth, 0.0, 30.0)
    closed, _ = find((np.append(x, x[::-1]), np.append(y, y[::-1])))
    assert not closed[0]


def test_a_second_lap_beside_the_first_is_no_ring():
    # The foot and the top of a curb, one walk: a hand's breadth beside is another line.
    inner, outer = (
        sim.chain("x", sim.island_parts(20.0, radius), start=(0.0, 2.0 - radius), closed=True)
        for radius in (2.0, 2.5)
    )
    a, b = walked(inner, 0.0, inner.length), walked(outer, 0.5, 9.0)
    closed, _ = find((np.append(a[0], b[0]), np.append(a[1], b[1])))
    assert not closed[0]


def test_two_laps_are_no_single_ring():
    truth = sim.chain("x", ISLANDS["long"], closed=True)
    closed, _ = find(walked(truth, 0.0, 2 * truth.length)[:2])
    assert not closed[0]


def test_runs_do_not_touch():
    truth = sim.chain("x", ISLANDS["long"], closed=True)
    ring, (x, y, _) = walked(truth, 0.0, truth.length + 3.0), walked(truth, 0.0, truth.length)
    half = len(x) // 2
    runs = [
        ring[:2],
        (x[:half], y[:half]),
        (x[half:], y[half:]),
        walked(sim.chain("x", OPEN["horseshoe"]), 0.0, 35.0)[:2],
        ring[:2],
    ]
    closed, order = find(*runs)
    assert_array_equal(closed, [True, False, False, False, True])
    alone = find(ring[:2])[1]
    assert_array_equal(order[: len(alone)], alone)
    assert_array_equal(order[-len(alone) :] - order[-len(alone) :].min(), alone)


@pytest.mark.parametrize("count", [0, 1, 2, 3, 5])
def test_few_positions(count):
    x, y, _ = walked(sim.chain("x", ISLANDS["round"], closed=True), 0.0, 30.0)
    closed, _ = find((x[:count], y[:count]))
    assert not closed.any()


def test_positions_at_one_place():
    closed, order = find((np.zeros(30), np.zeros(30)))
    assert not closed[0]
    assert_array_equal(order, np.arange(30))


def test_nothing():
    none = np.zeros(0)
    closed, order = find_rings(none, none, none, np.array([0]), none)
    assert closed.shape == order.shape == (0,)


# --- the edges of rings
# ----------------------------------------------------------------------------------------------


def seam(edges, number):
    """Degrees by which a closed edge turns at each of its vertices, the seam first."""
    part = slice(edges.offsets[number], edges.offsets[number + 1])
    d = np.diff(np.column_stack([edges.x[part], edges.y[part]]), axis=0)
    before = np.roll(d, 1, axis=0)
    return np.degrees(
        np.arctan2(before[:, 0] * d[:, 1] - before[:, 1] * d[:, 0], (before * d).sum(axis=1))
    )


@pytest.mark.one_in(3)
@pytest.mark.parametrize("name", ["long", "short", "round"])
@pytest.mark.parametrize("begin", [-1.5, 0.4, 3.1])
def test_edges_close_exactly_and_without_a_kink(name, begin):
    truth = sim.chain("x", ISLANDS[name], closed=True, heading=0.7)
    for seed in range(4):
        x, y, _ = walked(truth, begin, begin + truth.length + 1.2, seed, 0.7)
        edges = reconstruct(table_of(x, y)).edges
        assert len(edges) == 1 and edges.closed[0]
        for column in (edges.x, edges.y, edges.z):
            assert column[0] == column[-1]
        turned = seam(edges, 0)
        assert turned.sum() == pytest.approx(360.0, abs=1e-6)
        # never back; and at the seam no sharper than vertices of the tightest arc, which lie 10 mm
        # inside or outside of it
        radius = 1 / truth.curvatures.max()
        assert turned.min() > -1.0
        assert turned[0] < np.degrees(2 * np.arccos((radius - 0.01) / (radius + 0.01))) + 3.0
        assert edges.length[0] == pytest.approx(truth.length, abs=0.06)


def test_the_seam_lies_on_the_edge_as_all_else_does():
    truth = sim.chain("x", ISLANDS["long"], closed=True)
    off = []
    for seed in range(12):
        x, y, _ = walked(truth, 1.0, truth.length + 2.0, seed)
        edges = reconstruct(table_of(x, y)).edges
        s = np.linspace(0.0, truth.length, 4000)
        line = truth.at(s)[:, :2]
        off.append(np.hypot(*(line - [edges.x[0], edges.y[0]]).T).min())
    assert np.sqrt(np.mean(np.square(off))) < 0.012 and max(off) < 0.03


def test_the_row_order_of_a_ring_has_no_effect():
    truth = sim.chain("x", ISLANDS["long"], closed=True)
    x, y, _ = walked(truth, 1.0, truth.length + 2.0)
    shuffled = np.random.default_rng(1).permutation(len(x))
    one = reconstruct(table_of(x, y)).edges
    other = reconstruct(table_of(x[shuffled], y[shuffled], seconds=shuffled.astype(float))).edges
    assert_array_equal(one.x, other.x)
    assert_array_equal(one.y, other.y)
    assert one.closed[0] and other.closed[0]


def test_islands_walked_both_ways_are_the_same():
    truth = sim.chain("x", ISLANDS["long"], closed=True)
    x, y, _ = walked(truth, 1.0, truth.length + 2.0)
    one, other = reconstruct(table_of(x, y)).edges, reconstruct(table_of(x[::-1], y[::-1])).edges
    assert one.closed[0] and other.closed[0]
    assert one.length[0] == pytest.approx(other.length[0], abs=0.02)
    assert_allclose(
        [one.x.min(), one.x.max(), one.y.min(), one.y.max()],
        [other.x.min(), other.x.max(), other.y.min(), other.y.max()],
        atol=0.02,
    )


def test_a_line_closed_by_hand_is_a_ring():
    # The last position is the first one, also where that is a corner.
    s = np.append(np.arange(0.0, 48.0), 48.0)
    for start in (0.0, 3.3, 7.7):
        along = (s + start) % 48
        side, rest = (along // 12).astype(int), along % 12
        x = np.choose(side, [rest, 12 + 0 * rest, 12 - rest, 0 * rest])
        y = np.choose(side, [0 * rest, rest, 12 + 0 * rest, 12 - rest])
        x[-1], y[-1] = x[0], y[0]
        closed, order = find_rings(
            x, y, np.full(s.size, 1e-4), np.array([0, s.size]), np.ones(s.size)
        )
        assert closed.tolist() == [True]
        assert sorted(order.tolist()) == list(range(s.size))


@pytest.mark.parametrize(("limit", "closed"), [(0.0, True), (2.0, True), (1.5, False)])
def test_no_ring_closes_over_a_step_beyond_the_limit_that_was_set(limit, closed):
    angle = np.linspace(0, 2 * np.pi - 1.75 / 8, 40)  # steps of 1.25 m, and 1.75 m to close
    rng = np.random.default_rng(0)
    x, y = (8 * of(angle) + rng.normal(0, 0.006, 40) for of in (np.cos, np.sin))
    edges = reconstruct(table_of(x, y), Settings(max_distance_gap=limit)).edges
    assert edges.closed.tolist() == [closed]
