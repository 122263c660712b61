"""Whole simulated towns brought up to date."""

import numpy as np
import pytest
import shapely
from lineshapes import lines_of
from numpy.testing import assert_array_equal
from towns import BASEMAP_NOISE, make_town

from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import ComparisonSettings
from curbwright.shared.lines.update import (
    FOLLOWED,
    PARTLY_REPLACED,
    REPLACED,
    RETIRED,
    SHIFTED,
    UNCHANGED,
    plan_update,
)

SEEDS = [0, *(pytest.param(seed, marks=pytest.mark.long) for seed in range(1, 20))]


def plan(edges, existing):
    settings = ComparisonSettings(existing_sigma=BASEMAP_NOISE, remove_shift=True)
    return plan_update(compare(edges, existing, settings))


def lines_before(existing):
    xy = np.column_stack([existing.x, existing.y])
    return [xy[low:high] for low, high in zip(existing.offsets[:-1], existing.offsets[1:])]


class Case:
    """A town, the plan of its update, and the lines before (shifted) and afterwards."""

    def __init__(self, seed):
        self.town = make_town(seed)
        self.plan = plan(self.town.edges, self.town.existing)
        self.before = [line + self.plan.shift for line in lines_before(self.town.existing)]
        self.after = [
            self.plan.parts[row][0][:, :2] if row in self.plan.parts else line
            for row, line in enumerate(self.before)
        ]

    def rows(self, *what):
        return np.flatnonzero(np.isin(self.plan.what, what))

    def again(self):
        """The plan of a second run, on the lines as they are after the first one."""
        left = [line for row, line in enumerate(self.after) if self.plan.what[row] != RETIRED]
        added = [new.xyz[:, :2] for new in self.plan.added]
        return plan(self.town.edges, lines_of(*left, *added))


@pytest.fixture(scope="module", params=SEEDS)
def case(request):
    return Case(request.param)


def shapes(lines):
    return np.array([shapely.LineString(line) for line in lines], dtype=object)


def ends(lines):
    """Ends of lines that are no rings, (2 n, 2)."""
    return np.array([line[k] for line in lines for k in (0, -1)])


def offsets(line, truth, rim=1.0):
    """Distances from a true line of places along a line, without those about its ends."""
    shape = shapely.LineString(line)
    at = shapely.line_interpolate_point(shape, np.arange(rim, shape.length - rim, 0.25))
    return shapely.distance(at, shapely.LineString(truth))


def rmse(values):
    return float(np.sqrt(np.mean(np.concatenate(values) ** 2)))


def test_the_shift_is_found(case):
    assert np.hypot(*(case.plan.shift + case.town.shift)) < 0.012


def test_what_moved_is_replaced_what_is_new_added_what_is_gone_retired(case):
    town = case.town
    assert_array_equal(case.rows(RETIRED), np.flatnonzero(town.gone))
    assert len(case.plan.added) == len(town.new)
    replaced = np.isin(case.plan.what, [REPLACED, PARTLY_REPLACED])
    assert replaced[town.moved].all()
    assert replaced[~town.moved].mean() < 0.05  # the test of displacement errs at 95 %
    assert not case.plan.held


def rms_of_replaced(case):
    """RMSE across of the edges, and of the lines that were replaced by them."""
    town, rows = case.town, case.rows(REPLACED)
    edges = dict(zip(town.edges_of, lines_before(town.edges)))
    return tuple(
        rmse([offsets(lines[row], town.present[row]) for row in rows])
        for lines in (edges, case.after)
    )


def test_replaced_stretches_are_as_accurate_as_the_edges(case):
    own, drawn = rms_of_replaced(case)
    assert drawn < 1.1 * own


def test_all_else_moved_by_the_shift_alone(case):
    assert not len(case.rows(UNCHANGED))
    assert not set(case.rows(SHIFTED).tolist()) & set(case.plan.parts)
    for row in case.rows(FOLLOWED):
        away = offsets(case.after[row], case.before[row], rim=3.1)
        assert away.max(initial=0.0) < 1e-9  # beyond BLEND and FOLLOW


def kept_junctions(case):
    """Number of shared ends and of ends on lines that are so afterwards, and were before."""
    before, after = ends(case.before), ends(case.after)
    a, b = shapely.STRtree(shapely.points(before)).query(
        shapely.points(before), predicate="dwithin", distance=1e-6
    )
    a, b = a[a < b], b[a < b]
    kept = (after[a] == after[b]).all(axis=1)
    on = np.array(
        [  # service roads end on the first side of a block
            shapely.LineString(case.after[row - 4]).distance(shapely.Point(case.after[row][0]))
            < 1e-9
            for row in range(4, len(case.after), 6)
        ]
    )
    return int(kept.sum() + on.sum()), len(kept) + len(on)


def crossings(lines):
    """Pairs of lines that cross."""
    lines = shapes(lines)
    return set(zip(*shapely.STRtree(lines).query(lines, predicate="crosses").tolist()))


def dangles(lines):
    """Numbers of ends that meet nothing."""
    points = shapely.points(ends(lines))
    at, _ = shapely.STRtree(shapes(lines)).query(points, "dwithin", distance=1e-6)
    return set(np.flatnonzero(np.bincount(at, minlength=len(points)) == 1).tolist())


def test_junctions_stay_junctions(case):
    kept, all_of_them = kept_junctions(case)
    assert kept == all_of_them > len(case.before) / 2


def test_no_new_dangle_and_no_new_crossing(case):
    assert crossings(case.after) <= crossings(case.before)
    assert dangles(case.after) == dangles(case.before)
    assert shapely.is_simple(shapes(case.after)).all()


def test_the_second_run_changes_nothing(case):
    again = case.again()
    assert_array_equal(again.shift, 0)
    assert set(again.what.tolist()) == {UNCHANGED}
    assert not (again.added or again.held or again.parts)
