"""The weighted mean along a path: where it lies, where walks come and go, and at corners."""

import numpy as np
import pytest
from mergedwalks import at, level, merge, shape, states
from numpy.testing import assert_allclose


def test_two_walks_are_averaged_by_their_weights():
    # weights 1 / sigma**2: (0 * 4 + 0.02 * 1) / 5; variance of a weighted mean 1 / (sum of weights)
    result = merge(
        level(0.0), level(0.02, z=3.03)[::-1], sigma=[0.005, 0.01], sigma_up=[0.01, 0.02]
    )
    assert states(result) == ["merged"] and result.edges.passes.tolist() == [2]
    y, z = at(result.edges, 0, np.linspace(1, 39, 20))
    assert_allclose(y, 0.02 / 5, atol=1e-9)
    assert_allclose(z, 3.0 + 0.03 / 5, atol=1e-9)
    assert result.edges.sigma[0] == pytest.approx((1 / (1 / 0.005**2 + 1 / 0.01**2)) ** 0.5)
    assert result.edges.sigma_up[0] == pytest.approx((1 / (1 / 0.01**2 + 1 / 0.02**2)) ** 0.5)
    assert result.edges.length[0] == pytest.approx(40.0) and result.edges.shared[
        0
    ] == pytest.approx(40.0)


def test_partial_overlap_fades_in_and_out():
    result = merge(level(0.0, (0.0, 30.0)), level(0.02, (20.0, 60.0)), blend=2.0, tolerance=1e-5)
    assert states(result) == ["merged"]
    line = shape(result.edges, 0)
    assert line[0, 0] == pytest.approx(0.0) and line[-1, 0] == pytest.approx(60.0)
    y, _ = at(result.edges, 0, np.array([10.0, 19.0, 25.0, 31.0, 50.0]))
    # as it is where one walk alone saw it
    assert_allclose(y, [0.0, 0.0, 0.01, 0.02, 0.02], atol=1e-4)
    x = np.arange(15.0, 40.0, 0.1)
    steps = np.abs(np.diff(at(result.edges, 0, x)[0]))
    # the difference over the blend length, and what the tolerance lets
    assert steps.max() <= 0.02 * 0.1 / 2.0 * 1.5
    assert result.edges.shared[0] == pytest.approx(10.0, abs=0.5)
    assert_allclose(np.sort(result.passes.shared), 10.0, atol=0.5)


def test_a_corner_stays_one_sharp_corner():
    one, other = (
        [(0, 0, 1), (20, 0, 1), (20, 15, 1)],
        [
            (0.0, 0.012, 1),
            (20.008, 0.012, 1),
            (20.008, 15, 1),
        ],
    )
    result = merge(one, other[::-1])
    line = shape(result.edges, 0)
    assert len(line) == 3
    assert_allclose(line[1], (20.004, 0.006, 1.0), atol=1e-6)  # where the mean legs meet
