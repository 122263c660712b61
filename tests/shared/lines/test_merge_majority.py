"""Where one walk leads astray, those that agree are followed."""

import numpy as np
import pytest
import shapely
from mergedwalks import at, bump, level, merge, reasons, shape, states


def with_bump(line, size):
    return np.concatenate([line[:1], bump(size, line[0, 1])[1:-1], line[1:]])


@pytest.mark.parametrize("astray", [0, 1, 2])
@pytest.mark.parametrize("size", [0.09, 0.4])
def test_of_three_walks_the_two_that_agree_are_followed(astray, size):
    shapes = [level(0.0, (-1.0, 41.0)), level(0.004, (-0.5, 40.5)), level(0.002)]
    shapes[astray] = with_bump(shapes[astray], size)
    result = merge(*shapes)
    assert states(result) == ["merged", "apart" if size < 0.15 else "rest"]
    assert (np.abs(at(result.edges, 0, np.linspace(0, 40, 200))[0]) < 0.02).all()
    # where it comes and goes, a detour beyond reach is within it
    assert set(reasons(result)) - {"plan"} == (set() if size < 0.15 else {"parted"})
    assert np.abs(result.disagreements.offset_max).max() == pytest.approx(size, abs=0.01)


def test_of_four_walks_that_part_two_and_two_the_longest_leads():
    shapes = [level(0.0, (-1.0, 41.0)), level(0.004, (-0.5, 40.5)), level(0.002), level(0.001)]
    for astray in (0, 1):
        shapes[astray] = with_bump(shapes[astray], 0.4)
    result = merge(*shapes)
    assert np.abs(at(result.edges, 0, np.array([17.0]))[0]) == pytest.approx(0.4, abs=0.02)


@pytest.mark.parametrize("west", [-5.0, 5.0])
def test_those_that_lead_may_run_against_the_walk_that_went_astray(west):
    # it goes on round a block, so that its ends say another direction than those of the others
    round_a_block = [(45.0, 0.0, 3.0), (45.0, 30.0, 3.0), (west, 30.0, 3.0)]
    long = np.concatenate([bump(0.4), round_a_block])
    result = merge(long, level(0.004, (-0.5, 40.5)), level(0.002))
    line = shapely.LineString(shape(result.edges, 0)[:, :2])
    x = np.linspace(1.0, 39.0, 100)
    assert shapely.distance(line, shapely.points(x, np.zeros(100))).max() < 0.02
    assert result.edges.length[0] == pytest.approx(45.5 + 30 + 45 - west, abs=0.1)
