"""Where one walk leads astray, those that agree are followed."""

import numpy as np
import pytest
from mergedwalks import at, bump, level, merge, reasons, states


@pytest.mark.parametrize("astray", [0, 1, 2])
@pytest.mark.parametrize("size", [0.09, 0.4])
def test_of_three_walks_the_two_that_agree_are_followed(astray, size):
    shapes = [level(0.0, (-1.0, 41.0)), level(0.004, (-0.5, 40.5)), level(0.002)]
    shapes[astray] = np.concatenate(
        [shapes[astray][:1], bump(size, shapes[astray][0, 1])[1:-1], shapes[astray][1:]]
    )
    result = merge(*shapes)
    assert states(result) == ["merged", "apart" if size < 0.15 else "rest"]
    assert (np.abs(at(result.edges, 0, np.linspace(0, 40, 200))[0]) < 0.02).all()
    # where it comes and goes, a detour beyond reach is within it
    assert set(reasons(result)) - {"plan"} == (set() if size < 0.15 else {"parted"})
    assert np.abs(result.disagreements.offset_max).max() == pytest.approx(size, abs=0.01)
