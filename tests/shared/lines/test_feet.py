"""Feet of check points on lines."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines import feet as looked_up
from curbwright.shared.lines.feet import feet_on_lines


def feet(check, *lines, **more):
    vertices = [
        np.column_stack([np.array(line, float), np.zeros(len(line))])[:, :3] for line in lines
    ]
    offsets = np.cumsum([0, *map(len, vertices)])
    return feet_on_lines(
        np.array(check, float).reshape(-1, 2), *np.concatenate(vertices).T, offsets, **more
    )


def test_right_is_positive():
    found = feet([(3, -0.2), (3, 0.3)], [(0, 0, 1.0), (10, 0, 2.0)])
    assert_allclose(found.offset, [0.2, -0.3])
    assert_allclose(found.chainage, 3.0)
    assert_allclose(found.z, 1.3)
    # the other way round
    assert_allclose(feet([(3, -0.2), (3, 0.3)], [(10, 0), (0, 0)]).offset, [-0.2, 0.3])


def test_nearest_line_within_the_distance():
    found = feet(
        [(5, 0.4), (5, 5.0), (np.nan, 0)], [(0, 0), (10, 0)], [(0, 1), (10, 1)], greatest=0.5
    )
    assert_array_equal(found.line, [0, -1, -1])
    assert np.isnan(found.offset[1:]).all()
    assert feet([(5, 0.5)], [(0, 0), (10, 0)], greatest=0.5).line[0] == 0  # not farther


def test_beyond_the_end():
    line = [(0, 0), (5, 0), (10, 0)]
    found = feet([(-0.1, 0.1), (10.2, 0), (0, 0.1), (10, -0.1), (5, 0.3)], line)
    assert_array_equal(found.beyond_end, [True, True, False, False, False])
    ring = [(0, 0), (10, 0), (10, 10), (0, 10), (0, 0)]
    assert not feet([(-0.1, -0.1)], ring).beyond_end.any()
    # vertices that repeat make no end
    twice = [(0, 0), *line, (5, 0), (5, 0)]
    assert_array_equal(
        feet([(-0.1, 0.1), (10.2, 0), (5, 0.3)], twice).beyond_end, [True, False, False]
    )
    assert_array_equal(feet([(-0.1, 0), (10.2, 0)], [*line, line[-1]]).beyond_end, [True, True])


@pytest.mark.parametrize("degrees", [0, 37, 180, 251])
def test_side_at_a_sharp_corner(degrees):
    # A hairpin: one of the two segments that meet at the vertex puts the point on the wrong side.
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turn = np.array([(c, s), (-s, c)])
    line, check = (
        np.array([(0, 0), (10, 0), (0, 1.0)]) @ turn,
        np.array([(11, 0.8), (11, -0.8)]) @ turn,
    )
    # The line turns left: all that is beyond the corner lies to its right.
    assert (feet(check, line).offset > 0).all()
    assert (feet(check, line[::-1]).offset < 0).all()


def test_feet_agree_with_a_search_over_all_segments():
    rng = np.random.default_rng(6)
    lines = [
        np.cumsum(rng.normal(0, 1, (30, 2)), axis=0) + rng.uniform(0, 30, 2) for _ in range(12)
    ]
    check = rng.uniform(0, 30, (300, 2))
    found = feet(check, *lines)
    expected = np.full(len(check), np.inf)
    for line in lines:
        a, d = line[:-1], np.diff(line, axis=0)
        share = np.clip(((check[:, None] - a) * d).sum(-1) / (d**2).sum(-1), 0, 1)
        expected = np.minimum(
            expected, np.hypot(*(check[:, None] - a - share[..., None] * d).T).min(axis=0)
        )
    assert_allclose(np.abs(found.offset), expected, atol=1e-9)
    assert_allclose(np.hypot(found.x - check[:, 0], found.y - check[:, 1]), expected, atol=1e-9)


def test_lines_by_name():
    found = feet(
        [(5, 0.9), (5, 0.1), (5, 0)],
        [(0, 0), (10, 0)],
        [(0, 1), (10, 1)],
        names=(["low", "high"], ["low", "high", "none"]),
    )
    assert_array_equal(found.line, [0, 1, -1])
    assert_allclose(found.offset[:2], [-0.9, 0.9])


@pytest.mark.parametrize(
    "line",
    [[(0, 0), (0, 0)], [(np.nan, 0), (1, 0)], [(1, 1)]],
    ids=["no length", "no position", "one vertex"],
)
def test_lines_without_extent_are_passed_over(line):
    found = feet([(0.5, 0.2)], line, [(0, 1), (1, 1)])
    assert_array_equal(found.line, [1])
    assert_array_equal(feet([(0.5, 0.2)], line).line, [-1])


def test_feet_of_hundreds_of_points_in_one_place_are_those_of_a_plain_search(monkeypatch):
    """On hundreds of walks of one edge, at its middle and where it ends."""
    rng = np.random.default_rng(8)
    side = rng.normal(0, 0.004, 300)
    lines = [[(0, a), (6, a + 0.4), (12.0 + b, a + 0.5)] for a, b in zip(side, side[::-1])]
    check = np.concatenate([
        rng.normal(0, 0.01, (200, 2)) + (12, 0.5), rng.normal(0, 0.01, (200, 2)) + (6, 0.4),
        rng.uniform(0, 12, (50, 2)),
    ])  # fmt: skip
    beside, found = [], looked_up.bundles

    def watched(*given):
        for bundle in found(*given):
            beside.append(len(bundle.place))
            yield bundle

    monkeypatch.setattr(looked_up, "bundles", watched)
    few = feet(check, *lines)
    monkeypatch.setattr(looked_up, "bundles", lambda *given: iter(()))
    every = feet(check, *lines)
    assert sum(beside) > 380  # of these only what lies beside them was looked at
    for name, values in vars(every).items():
        assert_array_equal(getattr(few, name), values)


def test_a_cancel_is_heard_between_check_points():
    class StoppedError(Exception):
        pass

    def stop(share):
        if share > 0.3:
            raise StoppedError

    with pytest.raises(StoppedError):
        feet(np.random.default_rng(2).uniform(0, 9, (1500, 2)), [(0, 0), (9, 9)], progress=stop)
