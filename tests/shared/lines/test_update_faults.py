"""Redrawn lines that cannot stay so are held back, each with its reason."""

import numpy as np
import pytest
from lineshapes import dense, layer
from updates import FRONT, MOVED, names, plan

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update_faults import find_faults
from curbwright.shared.lines.update_layers import layers_of


def test_a_line_that_would_cross_another_is_held():
    existing = layer(FRONT, [[20, 0.4], [40, 0.4]])
    edges = layer(dense([[0, 0.0], [15, 0.0], [25, 0.7], [60, 0.7]]), dense([[20, 0.4], [40, 0.4]]))
    found = plan(existing, edges)
    assert names(found)[0] == "unchanged"
    assert any("cross" in held.why for held in found.held)


def test_what_would_have_to_follow_too_far_holds_the_line_back():
    existing = layer(FRONT, [[25, 0], [25, -30]])
    found = plan(existing, layer(dense([[0, 1.5], [60, 1.5]])), follow=1.0)
    assert names(found)[0] == "unchanged"
    assert [held.existing for held in found.held] == [0]
    assert "1.50 m" in found.held[0].why


def nothing():
    pass


@pytest.mark.parametrize(
    ("drawn", "why"),
    [
        ([[0, 0.6], [60, 0.6]], None),
        ([[0, 0.6], [60, 0.6], [60, 5], [30, -5]], "cross itself"),
        ([[0, 0.6]], "nothing would be left"),
        ([[0, 0.6], [np.nan, 0.6]], "nothing would be left"),
    ],
)
def test_what_is_no_line_or_crosses_itself_is_found(drawn, why):
    layers = layers_of(compare(layer(dense(MOVED)), layer(FRONT), ComparisonSettings()))
    xyz = np.column_stack([drawn, np.zeros(len(drawn))])
    found = find_faults(layers, layers.stretches, {0: xyz}, 1.0, nothing)
    assert (why in found[0]) if why else not found
    none = layers.stretches.take(np.zeros(0, np.int64))
    assert not find_faults(layers, none, {0: xyz}, 1.0, nothing)  # a line without a stretch


def test_a_redrawn_line_is_held_back_for_one_that_only_follows():
    """Whichever of both comes first: only the redrawn one can be held back."""
    rows = [[30, 5], [30, 0.5]], FRONT  # the first has no edge
    for follower, redrawn in ((0, 1), (1, 0)):
        existing = layer(rows[follower], rows[redrawn])
        layers = layers_of(compare(layer(dense(MOVED)), existing, ComparisonSettings()))
        assert set(layers.stretches.part.tolist()) == {redrawn}
        drawn = {
            follower: np.array([[30.0, 5.0, 0.0], [30.0, 0.3, 0.0]]),
            redrawn: np.array([[0.0, 0.6, 0.0], [60.0, 0.6, 0.0]]),
        }
        found = find_faults(layers, layers.stretches, drawn, 1.0, nothing)
        assert list(found) == [redrawn] and "cross another" in found[redrawn]
