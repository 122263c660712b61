"""Lines: what is refused, lengths, places along them."""

import numpy as np
import pytest
from lineshapes import arc, lines_of, straight
from numpy.testing import assert_allclose

from curbwright.shared.lines.lines import Lines, is_closed, points_at


@pytest.mark.parametrize(
    ("columns", "message"),
    [
        ({"x": [0, 1], "y": [0]}, "one shape"),
        ({"x": [0, np.nan], "y": [0, 0]}, "1 vertices have no finite position"),
        ({"x": [0, 1], "y": [0, 0], "offsets": [0, 3]}, "offsets"),
        ({"x": [0, 1], "y": [0, 0], "offsets": [0, 1, 0, 2]}, "offsets"),
        ({"x": [0, 1], "y": [0, 0], "line": [1], "count": 1}, "line"),
        ({"x": [0, 1], "y": [0, 0], "sigma": [-0.1]}, "sigma"),
        ({"x": [0, 1], "y": [0, 0], "sigma": [np.nan]}, "sigma"),
        ({"x": [0, 1], "y": [0, 0], "scale": [1.0, 1.0]}, "scale"),
        ({"x": [0, 1], "y": [0, 0], "scale": [np.nan]}, "scale"),
    ],
)
def test_bad_lines_are_named(columns, message):
    with pytest.raises(ValueError, match=message):
        Lines.from_columns(**columns)


def test_lengths_of_parts_and_lines():
    lines = lines_of(
        [[[0, 0], [3, 4]], [[10, 0], [10, 1]]], None, [[0, 0], [0, 0]], [[5, 5], [5, 5], [6, 5]]
    )
    assert_allclose(lines.part_length(), [5, 1, 0, 1])
    assert_allclose(lines.length(), [6, 0, 0, 1])
    assert_allclose(lines.part_start(), [0, 5, 0, 0])


def test_points_at_the_ends_and_over_vertices_that_repeat():
    lines = lines_of([[0, 0], [1, 0], [1, 0], [1, 2]])
    x, y, _, along_x, along_y = points_at(lines, np.zeros(4, int), np.array([0, 0.5, 1.5, 3.0]))
    assert_allclose(np.column_stack([x, y]), [[0, 0], [0.5, 0], [1, 0.5], [1, 2]])
    assert_allclose(np.column_stack([along_x, along_y]), [[1, 0], [1, 0], [0, 1], [0, 1]])


def test_cutting_keeps_lines_where_they_are():
    lines = lines_of(straight(0, (0, 10)), arc(20, 0, 2, 5))
    cut = lines.cut(0.7)
    assert cut.steps().max() <= 0.7
    assert_allclose(cut.length(), lines.length())
    assert lines.cut(100.0) is lines
    assert set(zip(lines.x, lines.y)) <= set(zip(cut.x, cut.y))


def test_vertices_of_parts():
    lines = lines_of([[[0, 0], [3, 4]], [[1, 1], [2, 1], [1, 1]]], None)
    parts = lines.vertices()
    assert [part[:, :2].tolist() for part in parts] == [
        [[0, 0], [3, 4]],
        [[1, 1], [2, 1], [1, 1]],
    ]
    assert [is_closed(part) for part in parts] == [False, True]
