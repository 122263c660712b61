"""Stretches that disagree with the others are not averaged, but listed and kept."""

import numpy as np
import pytest
from mergedwalks import at, bump, level, merge, reasons, shape, states
from numpy.testing import assert_allclose


def test_a_stretch_of_another_mind_is_kept_apart():
    result = merge(level(0.0), bump(0.09, 0.004))
    assert states(result) == ["merged", "apart"] and reasons(result) == ["plan"]
    y = at(result.edges, 0, np.linspace(0, 40, 200))[0]
    assert (np.abs(y) < 0.02).all()  # not half of 0.09
    apart = shape(result.edges, 1)
    assert apart[:, 1].max() == pytest.approx(0.094)
    # leaves the merged edge and comes back to it
    assert abs(apart[0, 1]) < 0.02 and abs(apart[-1, 1]) < 0.02
    listed = result.disagreements
    assert listed.edge.tolist() == [0] and listed.own.tolist() == [1]
    # to the left of an edge that runs east
    assert abs(listed.offset_max[0]) == pytest.approx(0.09, abs=0.006) and listed.offset_max[0] < 0
    assert 0 < listed.allowed[0] <= 0.035
    assert result.repeatability < 0.02  # without what is listed


def test_a_height_of_another_mind_is_not_averaged():
    # the last one is a little surer, so its height is the one taken
    high = np.array(
        [
            (0, 0.002, 3.0),
            (10, 0.002, 3.0),
            (11, 0.002, 3.2),
            (19, 0.002, 3.2),
            (20, 0.002, 3.0),
            (40, 0.002, 3.0),
        ]
    )
    result = merge(high, level(0.0), sigma_up=[0.01, 0.009])
    assert states(result) == ["merged"] and reasons(result) == ["height"]
    y, z = at(result.edges, 0, np.linspace(0, 40, 80))
    assert_allclose(z, 3.0, atol=0.055)
    assert_allclose(at(result.edges, 0, np.linspace(12, 18, 9))[1], 3.0, atol=0.01)
    assert_allclose(y, 0.001, atol=2e-3)
    assert result.disagreements.up_max[0] == pytest.approx(0.2, abs=0.01)


def test_what_disagrees_in_plan_is_not_told_of_again_for_its_height():
    high = [(16.0, 0.12, 3.0), (16.5, 0.12, 3.3), (17.5, 0.12, 3.3), (18.0, 0.12, 3.0)]
    off = np.insert(bump(0.12), 3, high, axis=0)
    assert set(reasons(merge(level(0.0), level(0.002), off))) == {"plan"}
