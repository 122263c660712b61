"""Square corners: where two straight parts of a run meet."""

import numpy as np
import pytest
from epochwalks import along
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.reconstruction.corners import find_corners


def find(x, y, noise=0.008, corner_angle=30.0, offsets=None, spacing=1.0):
    n = len(x)
    return find_corners(
        x,
        y,
        np.full(n, noise**2),
        np.array([0, n]) if offsets is None else offsets,
        np.full(n, spacing),
        corner_angle,
    )


def walk(parts, noise=0.008, seed=0, step=1.0, phase=0.0):
    """Epochs along the parts, and their true corners."""
    truth = sim.chain("test", parts, heading=0.4)
    x, y = truth.at(np.arange(phase, truth.length, step))[:, :2].T
    rng = np.random.default_rng(seed)
    return x + rng.normal(0, noise, len(x)), y + rng.normal(0, noise, len(x)), truth.corners[:, :2]


BAY = [
    ("line", 30.3),
    ("corner", 90.0),
    ("line", 2.5),
    ("corner", -90.0),
    ("line", 15.2),
    ("corner", -90.0),
    ("line", 2.5),
    ("corner", 90.0),
    ("line", 30.0),
]


@pytest.mark.parametrize("degrees", [40.0, 60.0, 90.0, -90.0, 120.0, -125.0])
@pytest.mark.parametrize("phase", [0.0, 0.3, 0.5, 0.8])
def test_one_corner(degrees, phase):
    for seed in range(5):
        x, y, true = walk(
            [("line", 20.0), ("corner", degrees), ("line", 20.0)], seed=seed, phase=phase
        )
        corners = find(x, y)
        assert len(corners.before) == 1
        # the demand on corners seen from both sides
        assert np.hypot(corners.x[0] - true[0, 0], corners.y[0] - true[0, 1]) < 0.06
        assert np.degrees(corners.angle[0]) == pytest.approx(degrees, abs=3.0)


def test_exact_without_noise():
    x, y, true = walk([("line", 20.0), ("corner", 75.0), ("line", 20.0)], noise=0.0, phase=0.35)
    corners = find(x, y, noise=0.002)
    assert_allclose([corners.x[0], corners.y[0]], true[0], atol=1e-9)
    assert_allclose(np.degrees(corners.angle), [75.0])
    assert_array_equal(corners.before, [19])  # the corner lies between chainages 19.35 and 20.35


@pytest.mark.parametrize("phase", [0.1, 0.4, 0.7])
def test_bay_with_short_flanks(phase):
    found = 0
    for seed in range(6):
        x, y, true = walk(BAY, seed=seed, step=0.8, phase=phase)
        corners = find(x, y, spacing=0.8)
        assert (np.diff(corners.before) > 0).all()
        near = np.hypot(corners.x[:, None] - true[:, 0], corners.y[:, None] - true[:, 1])
        assert near.min(axis=1, initial=1.0).max(initial=0.0) < 0.10  # none but true ones
        found += np.count_nonzero(near.min(axis=0, initial=1.0) < 0.08)
    assert found >= 0.8 * 6 * 4


@pytest.mark.parametrize(("angle", "count"), [(30.0, 1), (44.0, 1), (50.0, 0), (90.0, 0)])
def test_least_angle(angle, count):
    x, y, _ = walk([("line", 20.0), ("corner", 47.0), ("line", 20.0)], noise=0.003)
    assert len(find(x, y, 0.003, angle).before) == count


@pytest.mark.parametrize(
    "parts",
    [
        [("line", 60.0)],
        [("line", 20.0), ("arc", 3.0, 90.0), ("line", 20.0)],
        [("line", 20.0), ("arc", 6.0, -90.0), ("line", 20.0)],
        [("line", 15.0), ("arc", 1.5, 180.0), ("line", 15.0)],
        [("arc", 20.0, 180.0)],
    ],
    ids=["straight", "return of 3 m", "return of 6 m", "nose of 1.5 m", "curve of 20 m"],
)
def test_no_corner_where_the_edge_is_round(parts):
    count = sum(
        len(find(*walk(parts, seed=seed, step=0.8, phase=0.1 * seed)[:2], spacing=0.8).before)
        for seed in range(10)
    )
    assert count <= 1


def test_runs_do_not_touch():
    # Two straight runs at right angles end to end: the border between them is no corner.
    x, y, _ = walk([("line", 20.0), ("corner", 90.0), ("line", 20.0)], phase=0.5)
    assert len(find(x, y).before) == 1
    assert len(find(x, y, offsets=np.array([0, 20, len(x)])).before) == 0


def test_several_runs_at_once_equal_each_alone():
    walks = [
        walk(BAY, seed=1, step=0.8),
        walk([("line", 20.0), ("corner", -70.0), ("line", 9.0)], seed=2, step=0.8),
        walk([("line", 20.0)], seed=3, step=0.8),
    ]
    x, y = np.concatenate([one[0] for one in walks]), np.concatenate([one[1] for one in walks])
    offsets = np.concatenate([[0], np.cumsum([len(one[0]) for one in walks])])
    whole = find(x, y, offsets=offsets, spacing=0.8)
    alone = [find(*one[:2], spacing=0.8) for one in walks]
    assert_array_equal(
        whole.before, np.concatenate([one.before + first for one, first in zip(alone, offsets)])
    )
    for name in ("x", "y", "angle"):
        assert_allclose(
            getattr(whole, name), np.concatenate([getattr(one, name) for one in alone]), rtol=1e-9
        )


@pytest.mark.parametrize("count", [0, 1, 2, 3, 4, 5])
def test_few_positions(count):
    x, y = along([("line", 2.0), ("corner", 90.0), ("line", 2.0)], step=1.0)
    corners = find(x[:count], y[:count])
    assert len(corners.before) == len(corners.x) == len(corners.angle) <= 1


def test_positions_at_one_place():
    assert len(find(np.zeros(12), np.zeros(12)).before) == 0


def test_moved_far_away():
    x, y, _ = walk(BAY, seed=4, step=0.8)
    here, there = find(x, y, spacing=0.8), find(x + 500_000.0, y + 6_000_000.0, spacing=0.8)
    assert_array_equal(here.before, there.before)
    assert_allclose(there.x - 500_000.0, here.x, atol=1e-6)
