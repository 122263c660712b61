"""Chains while they are sought: what is adjusted once more."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.alignment.chain import (
    adjust_changed,
    find_joints,
    first_candidate,
    reassign_and_adjust,
)
from curbwright.shared.alignment.primitives import Primitives
from curbwright.shared.alignment.search import fit_elements
from curbwright.shared.arrays.ragged import group_index, group_max

RADII = 0.5, 400.0


def settled():
    """Courses of the fixed epochs of some walks, adjusted; their positions and weights."""
    walks = [walk for walk in trial_set(3)[:12] if (walk.fix == 4).sum() > 20]
    kept = [
        np.flatnonzero((walk.fix == 4) & np.isfinite(walk.x) & ~walk.is_spike) for walk in walks
    ]
    x, y = (
        np.concatenate(
            [
                getattr(walk, axis)[rows]
                - walk.x[rows[0]] * (axis == "x")
                - walk.y[rows[0]] * (axis == "y")
                for walk, rows in zip(walks, kept)
            ]
        )
        for axis in "xy"
    )
    offsets = np.concatenate([[0], np.cumsum([len(rows) for rows in kept])])
    weight = np.full(len(x), 1 / 0.012**2)
    candidate = first_candidate(
        fit_elements(x, y, 1 / weight, offsets, geometric=False),
        x,
        y,
        offsets,
        np.zeros(len(walks), bool),
        RADII,
    )
    return (
        reassign_and_adjust(
            reassign_and_adjust(candidate, x, y, weight), x, y, weight, 1, warm=True
        ),
        x,
        y,
        weight,
    )


def test_other_weights_move_what_they_reach_and_nothing_else():
    candidate, x, y, weight = settled()
    position = len(x) // 2
    lighter = weight.copy()
    lighter[position] *= 0.01
    some = adjust_changed(
        candidate, x, y, lighter, group_max(lighter != weight, candidate.bounds, False)
    )
    whole = reassign_and_adjust(candidate, x, y, lighter, 1, warm=True)
    own = group_index(candidate.bounds)[position]
    assert candidate.smooth.any() and candidate.arc.any()
    moved = np.flatnonzero(
        (some.primitives.x != candidate.primitives.x)
        | (some.primitives.ux != candidate.primitives.ux)
        | (some.chi != candidate.chi)
    )
    # the element itself, and what smooth joints link to it
    joined = np.concatenate([[0], np.cumsum(~candidate.smooth[:-1])])
    joined += group_index(candidate.offsets) * len(candidate)
    assert own in moved and set(moved) <= set(np.flatnonzero(joined == joined[own]))
    for name in ("x", "y", "ux", "uy", "curvature"):
        assert_array_equal(
            getattr(some.primitives, name)[moved], getattr(whole.primitives, name)[moved]
        )
        # the rest had nearly come to rest
        assert_allclose(getattr(some.primitives, name), getattr(whole.primitives, name), atol=1e-3)
    assert_array_equal(
        adjust_changed(candidate, x, y, weight, np.zeros(len(candidate), bool)).primitives.x,
        candidate.primitives.x,
    )


def crossing_pairs(rng, count):
    """Pairs of elements that cross near places of their own, every third element an arc: elements,
    the first one of each pair, and the positions before and after the joint."""
    heading = rng.uniform(-np.pi, np.pi, (count, 2))
    heading[:, 1] = heading[:, 0] + rng.uniform(0.5, 2.0, count)
    ux, uy = np.cos(heading), np.sin(heading)
    away = rng.uniform(0.5, 2.0, (count, 2)) * (-1, 1)
    x, y = (rng.normal(0, 50, (count, 1)) + away * u for u in (ux, uy))
    curvature = np.where(np.arange(2 * count) % 3 == 0, rng.uniform(-0.2, 0.2, 2 * count), 0.0)
    elements = Primitives(x.ravel(), y.ravel(), ux.ravel(), uy.ravel(), curvature)
    return elements, np.arange(0, 2 * count, 2), np.stack([x.T, y.T], axis=1)


def test_a_corner_does_not_depend_on_how_long_others_move():
    elements, first, (before, after) = crossing_pairs(np.random.default_rng(1), 60)
    smooth = np.zeros(60, bool)
    together = find_joints(elements, first, first + 1, smooth, before, after)
    assert np.count_nonzero(together.met) > 40
    for k in range(60):
        at = slice(k, k + 1)
        alone = find_joints(
            elements, first[at], first[at] + 1, smooth[at], before[:, at], after[:, at]
        )
        for name in ("x", "y", "ux", "uy", "angle", "met"):
            assert_array_equal(getattr(alone, name)[0], getattr(together, name)[k])


def test_tangents_that_are_next_to_parallel_meet_nowhere():
    """Tangents 1 m apart, at an angle of 0, 0.005 and 0.05 rad: the last two intersect where both
    have come so far to the side, 1 m / tan(angle) away."""
    angle, at = np.array([0.0, 0.005, 0.05]), np.array([0, 2, 4])
    zero, heading = np.zeros(6), np.column_stack([np.zeros(3), angle]).ravel()
    tangents = Primitives(zero, np.arange(6) % 2.0, np.cos(heading), np.sin(heading), zero)
    for near in (False, True):
        x = 1 / np.tan(angle[2]) if near else 0.0
        place = np.full(3, -x), np.full(3, 0.5)
        joints = find_joints(tangents, at, at + 1, np.zeros(3, bool), place, place)
        assert np.isfinite(np.stack([joints.x, joints.y])).all()
        assert_array_equal(joints.met, [False, False, near])
        assert_allclose((joints.x[2], joints.y[2]), (-1 / np.tan(0.05), 0.0), atol=1e-12)


def test_a_corner_lies_on_both_elements():
    elements, first, (before, after) = crossing_pairs(np.random.default_rng(2), 60)
    joints = find_joints(elements, first, first + 1, np.zeros(60, bool), before, after)
    met = np.flatnonzero(joints.met)
    assert len(met) > 40
    for element in (first[met], first[met] + 1):
        off = elements.signed_distance(joints.x[met], joints.y[met], element)
        assert_allclose(off, 0.0, atol=1e-6)
