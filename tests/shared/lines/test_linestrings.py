"""Single lines as line strings of shapely."""

import numpy as np
import pytest
from numpy.testing import assert_allclose

from curbwright.shared.lines.linestrings import nearest_place, shapes_of


def test_shapes_of_parts():
    parts = [np.array([[0, 0, 1.0], [3, 4, 1.0]]), np.array([[1, 1.0], [2, 1], [1, 1]])]
    assert [shape.length for shape in shapes_of(parts)] == [5, 2]
    assert shapes_of([]).shape == (0,)
    assert shapes_of([np.array([[3.0, 4.0, 1.0]])])[0].length == 0  # the others are no numbers


@pytest.mark.parametrize(
    ("place", "nearest"), [((3, 2), (3, 0)), ((-2, 1), (0, 0)), ((9, 12), (6, 8))]
)
def test_the_nearest_place_of_a_line(place, nearest):
    line = np.array([[0, 0, 1.0], [6, 0, np.nan], [6, 8, 3.0]])
    assert_allclose(nearest_place(line, np.array(place, float)), nearest, atol=1e-12)
