"""What deserves a look: one place a line, worst first, whatever the kinds."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.review import worklist
from curbwright.shared.review.worklist import Kind
from curbwright.shared.tuning import REVIEW


def test_each_line_has_one_place_that_of_its_worst_finding():
    findings = [
        worklist.over_limit(Kind.UNCERTAIN, np.arange(4), [0.06, 0.01, np.nan, 0.06], 0.03),
        worklist.moved_lines(np.array([0, 1]), np.array([1.2, np.nan]), np.array([0.1, -0.3]), 0.1),
        worklist.stated(Kind.NEW, np.array([4]), np.array([2.0]), REVIEW.length),
    ]
    made = worklist.make_worklist(findings, 6)
    assert_array_equal(
        made.kind, [Kind.MOVED, Kind.MOVED, Kind.NOTHING, Kind.UNCERTAIN, Kind.NEW, Kind.NOTHING]
    )
    assert_allclose(made.ratio, [12, 3, 0, 2, 1, 0])
    assert_allclose(made.amount, [1.2, 0.3, np.nan, 0.06, 2.0, np.nan])
    assert_array_equal(made.others, [1, 0, 0, 0, 0, 0])
    assert_array_equal(made.order, [0, 1, 3, 4, 2, 5])  # equal ones keep the order of the layer


@pytest.mark.parametrize("seed", range(3))
def test_order_is_that_of_the_scale_and_holds_every_line_once(seed):
    rng = np.random.default_rng(seed)
    subject = rng.integers(0, 500, 2000)
    made = worklist.make_worklist(
        [worklist.stated(Kind.NEW, subject, rng.uniform(0, 99, 2000), 10.0)], 500
    )
    assert_array_equal(np.sort(made.order), np.arange(500))
    assert (np.diff(made.ratio[made.order]) <= 0).all()
    assert made.others.sum() == 2000 - np.unique(subject).size
    best = np.zeros(500)
    np.maximum.at(best, subject, np.zeros(2000) + 1)
    assert_array_equal(made.kind > 0, best > 0)


def test_a_finding_of_no_line_is_refused():
    with pytest.raises(ValueError, match="0 to 1"):
        worklist.make_worklist([worklist.stated(Kind.GONE, np.array([2]), [1.0], 1.0)], 2)


def test_a_day_is_measured_in_plan_or_height_by_its_own_limit():
    # 95 % of one day: 2.4477 sigma in plan (Rayleigh), 1.96 sigma in height (normal)
    found = worklist.days_off(
        np.arange(3), [0.10, 0.01, 0.5], [0.02, -0.09, np.nan], [0.02] * 3, [0.01] * 3
    )
    assert_allclose(found.amount, [0.10, 0.09, 0.5])
    assert_allclose(found.limit, [0.0489549, 0.03, 0.0489549], atol=1e-6)


def ends_of(*lines):
    return np.array([[line[0], line[-1]] for line in lines], float)


def test_only_open_ends_beside_each_other_are_found():
    ends = ends_of(
        [(0, 0, 1), (10, 0, 1)],
        [(10.1, 0, 1), (20, 0, 1)],  # 0.1 m beside the first
        [(20, 0, 1), (30, 0, 1)],  # meets the second
        [(30, 0.1, 1.2), (40, 0, 1)],  # beside the third in plan, 0.2 m higher
        [(40.3, 0, np.nan), (50, 0, np.nan)],  # height unknown: counts
        [(60, 0, 1), (60, 0.05, 1)],  # a ring that is closed
    )
    found = worklist.open_ends(ends, [False] * 5 + [True], reach=0.5)
    assert_array_equal(found.subject, [0, 1, 3, 4])
    assert_allclose(found.amount, [0.1, 0.1, 0.3, 0.3])
    assert_allclose(found.ratio, [1.8, 1.8, 1.4, 1.4])
    assert len(worklist.open_ends(ends[:1], [False]).subject) == 0


def test_epochs_go_to_the_line_of_their_capture_that_is_nearest_in_time():
    line_group, started, ended = np.array([1, 0, 0]), [0.0, 100.0, 0.0], [50.0, 150.0, 40.0]
    group = np.array([0, 0, 0, 0, 1, 2, 0])
    seconds = np.array([10.0, 60.0, 80.0, 999.0, -5.0, 3.0, np.nan])
    found = worklist.nearest_in_time(group, seconds, line_group, np.array(started), np.array(ended))
    assert_array_equal(found, [2, 2, 1, 1, 0, -1, -1])


def test_numbers_of_the_parts_are_added_up():
    total = worklist.number_of_each(np.array([0, 2, 2, 5]), np.array([0, 1, 2, -1, 1]), [1.0, 2, 4])
    assert_allclose(total, [3, 0, 6])
