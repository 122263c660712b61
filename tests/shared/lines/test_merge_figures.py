"""What walks of one edge say of their mean: repeatability, and how far each is off the others."""

import numpy as np
import pytest
from mergedwalks import SIGMA, level, merge
from numpy.testing import assert_allclose


def test_repeatability_is_the_rms_of_differences_between_walks():
    result = merge(level(0.0), level(0.01), level(0.03, z=3.02))
    differences = [0.01, 0.03, 0.02]
    assert result.repeatability == pytest.approx(np.sqrt(np.mean(np.square(differences))))
    assert result.edges.repeatability[0] == pytest.approx(result.repeatability)
    assert result.repeatability_up == pytest.approx(np.sqrt((0 + 0.02**2 + 0.02**2) / 3))
    assert result.expected == pytest.approx(
        SIGMA * np.sqrt(2)
    ) and result.expected_up == pytest.approx(0.01 * np.sqrt(2))
    passes = result.passes
    # of each walk: the mean from the others' mean, the RMS from each of them; + to the right of the
    # edge, which runs east
    assert_allclose(passes.offset_mean, [0.02, 0.015 - 0.01, -0.025], atol=1e-9)
    assert_allclose(
        passes.offset_rms,
        np.sqrt([(0.01**2 + 0.03**2) / 2, (0.01**2 + 0.02**2) / 2, (0.03**2 + 0.02**2) / 2]),
        atol=1e-9,
    )
    assert_allclose(passes.up_mean, [-0.01, -0.01, 0.02], atol=1e-9)
    assert_allclose(passes.shared, 40.0)
