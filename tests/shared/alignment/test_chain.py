"""Chains while they are sought: what is adjusted once more."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.alignment.chain import adjust_changed, first_candidate, reassign_and_adjust
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
