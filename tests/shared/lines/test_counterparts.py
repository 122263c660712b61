"""Lines of one run are found again in the next one."""

import numpy as np
import pytest
import shapely
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.counterparts import ResultLines, _at_one_time, find_counterparts


def result(*rows):
    """Rows of (coordinates or None, capture, started, ended)."""
    geometry = np.array([None if row[0] is None else shapely.LineString(row[0]) for row in rows])
    return ResultLines(
        geometry=geometry,
        capture=np.array([row[1] for row in rows], dtype=str),
        started=np.array([row[2] for row in rows], float),
        ended=np.array([row[3] for row in rows], float),
    )


WALK = [[0, 0], [10, 0], [10, 20]]
OTHER = [[100, 0], [150, 0]]
NAN = float("nan")


def test_the_same_lines_in_another_order():
    former = result((WALK, "a", 0, 30), (OTHER, "b", 40, 90))
    new = result((OTHER, "b", 40, 90), (WALK, "a", 0, 30))
    found = find_counterparts(former, new)
    assert_array_equal(found.heir_of, [1, 0])
    assert_allclose(found.carried, 1.0)
    assert_allclose(found.moved, 0.0, atol=1e-9)
    assert found.kept.all()


def test_a_line_that_was_broken_has_two_heirs():
    former = result((OTHER, "b", 0, 50))
    new = result(([[100, 0], [120, 0]], "b", 0, 20), ([[121, 0], [150, 0]], "b", 21, 50))
    found = find_counterparts(former, new)
    assert_array_equal(found.heir_of, [0, 0])
    assert 0.95 < found.carried[0] <= 1.0


def test_two_lines_that_were_joined_have_one_heir_of_the_longer_one():
    former = result(([[100, 0], [145, 0]], "b", 0, 45), ([[145, 0], [150, 0]], "b", 45, 50))
    found = find_counterparts(former, result((OTHER, "b", 0, 50)))
    assert_array_equal(found.heir_of, [0])
    assert_array_equal(found.kept, [True, False])


@pytest.mark.parametrize(
    ("what", "row"),
    [
        ("capture", (WALK, "c", 0, 30)),
        ("time", (WALK, "a", 31, 60)),
        ("place", ([[0, 0.06], [10, 0.06], [10, 20]], "a", 0, 30)),
    ],
)
def test_what_differs_is_another_line(what, row):
    found = find_counterparts(result((WALK, "a", 0, 30)), result(row))
    if what == "place":
        # the long side is as it was, 20 of 30 m; too little to be the same line
        assert_allclose(found.moved, 0.06, atol=1e-3)
    else:
        assert np.isnan(found.moved).all()
    assert_array_equal(found.heir_of, [-1])
    assert not found.kept.any()


def test_where_times_or_captures_are_missing_the_rest_decides():
    former = result((WALK, "a", NAN, NAN), (OTHER, "", NAN, NAN), (None, "", NAN, NAN))
    new = result((OTHER, "b", 40, 90), (WALK, "a", 0, 30))
    assert_array_equal(find_counterparts(former, new).heir_of, [1, 0])


@pytest.mark.parametrize("seed", range(5))
def test_noise_within_the_tolerance_and_any_order(seed):
    rng = np.random.default_rng(seed)
    rows = [
        (
            np.cumsum(rng.normal(0, 3, (12, 2)), axis=0) + [50 * k, 0],
            f"c{k % 3}",
            100 * k,
            100 * k + 60,
        )
        for k in range(12)
    ]
    order = rng.permutation(12)
    new = result(*[(rows[k][0] + rng.uniform(-0.02, 0.02, 2), *rows[k][1:]) for k in order])
    assert_array_equal(find_counterparts(result(*rows), new).heir_of, order)


def test_of_one_capture_only_lines_of_one_time_are_paired():
    rng = np.random.default_rng(7)
    begun = rng.permutation(np.arange(300) * 10.0)
    begun[::50] = NAN
    code = rng.integers(0, 2, 300)
    rows = [(WALK, f"c{one}", at, at + 9.0) for one, at in zip(code, begun)]
    lines = result(*rows)
    order, first, last = _at_one_time(lines, lines, (code, code), np.ones(300, bool))
    for row, (start, stop) in enumerate(zip(first, last)):
        alike = np.isnan(begun[row]) | np.isnan(begun) | (begun == begun[row])
        assert set(np.flatnonzero(alike & (code == code[row]))) <= set(order[start:stop])
    timed = ~np.isnan(begun)
    begun[~timed] = 5000.0  # all have a time: none is paired with all others
    lines = result(*[(WALK, f"c{one}", at, at + 9.0) for one, at in zip(code, begun)])
    _, first, last = _at_one_time(lines, lines, (code, code), timed)
    assert_array_equal((last - first)[timed], 1)


def test_nothing_on_either_side():
    none = result()
    some = result((WALK, "a", 0, 30))
    assert len(find_counterparts(none, none).heir_of) == 0
    assert_array_equal(find_counterparts(none, some).heir_of, [-1])
    assert not find_counterparts(some, none).kept.any()


def test_of_former_lines_that_coincide_the_first_has_the_heir():
    found = find_counterparts(result(*[(WALK, "a", NAN, NAN)] * 2), result((WALK, "a", NAN, NAN)))
    assert_array_equal(found.heir_of, [0])
    assert_array_equal(found.kept, [True, False])
