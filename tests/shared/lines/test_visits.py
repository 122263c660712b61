"""What nobody visited is not gone: surveyed area, shares, verdicts with and without the shift."""

import numpy as np
import pytest
from lineshapes import lines_of
from numpy.testing import assert_allclose

from curbwright.sample_project import basemaps
from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import DISPLACED, STATUS_NAMES, ComparisonSettings
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.rays import stations_along
from curbwright.shared.lines.update import RETIRED, UNCHANGED, UpdateSettings, plan_update
from curbwright.shared.lines.update_decisions import ACCEPT
from curbwright.shared.lines.visits import Survey, places_along, visited_stations

STREET = [(0.0, 0.0), (100.0, 0.0)]


def along(y, start=0.0, stop=100.0):
    return [(start, y), (stop, y)]


def judged(edges, existing, survey, **settings):
    return compare(
        lines_of(*edges), lines_of(*existing), ComparisonSettings(**settings), survey=survey
    )


def names(statistics):
    return [STATUS_NAMES[code] for code in statistics.status.tolist()]


def test_only_existing_ignores_where_anyone_walked():
    """Fault: a survey of one street called the rest of the town gone."""
    result = judged([STREET], [along(0.05), along(8.0), along(40.0), along(400.0)], Survey(15.0))
    assert names(result.existing_statistics) == [
        "agrees",
        "only_existing",
        "not_visited",
        "not_visited",
    ]
    assert_allclose(result.existing_statistics.visited_share, [1, 1, 0, 0], atol=0.02)
    assert_allclose(result.visited_length, 200.0, atol=4.0)
    without = judged([STREET], [along(0.05), along(8.0), along(40.0), along(400.0)], None)
    assert names(without.existing_statistics) == ["agrees", *3 * ["only_existing"]]


def test_correctness_is_of_what_was_visited():
    edges, existing = [along(0.0)], [along(0.1), along(0.1, 200.0, 500.0)]
    whole = judged(edges, existing, None)
    assert whole.buffer.correctness == pytest.approx(0.25, abs=0.01)
    seen = judged(edges, existing, Survey(reach=15.0))
    assert seen.buffer.correctness == pytest.approx(1.0)
    assert seen.buffer.completeness == whole.buffer.completeness
    # of 100 m with an edge and 300 m without, 60 m of the latter lie in the surveyed area
    area = Survey(inside=lambda x, y: x < 260.0)
    assert judged(edges, existing, area).buffer.correctness == pytest.approx(100 / 160, abs=0.01)
    # what lies in the buffer counts as visited, though the area leaves it out
    none = Survey(inside=lambda x, y: x > 1e6)
    assert judged(edges, existing, none).buffer.correctness == pytest.approx(1.0)
    gone = judged([along(900.0)], [along(0.1)], Survey(reach=15.0))
    assert not gone.visited_length and np.isnan(gone.buffer.correctness)


def test_status_codes_stay_and_the_new_one_comes_last():
    assert STATUS_NAMES == (
        "agrees", "displaced", "only_new", "only_existing", "partly", "not_visited"
    )  # fmt: skip


@pytest.mark.parametrize("reach", [5.0, 15.0, 40.0])
def test_a_line_visited_in_part_is_judged_on_that_part(reach):
    result = judged([along(0.0, 0.0, 200.0)], [along(0.04, 0.0, 400.0)], Survey(reach))
    statistics = result.existing_statistics
    assert_allclose(statistics.visited_share, (200 + reach) / 400, atol=0.01)
    assert_allclose(statistics.matched_share, 200 / (200 + reach), atol=0.01)
    assert names(statistics) == ["agrees"]
    assert names(judged([along(0.0, 0.0, 200.0)], [along(0.04, 0.0, 400.0)], None)
                 .existing_statistics) == ["partly"]  # fmt: skip


def test_polygons_decide_in_place_of_the_reach():
    def west(x, y):
        return x < 60.0

    existing = [along(0.05), along(500.0), along(8.0)]
    result = judged([STREET], existing, Survey(15.0, inside=west))
    # an edge along a line shows that somebody walked there
    assert names(result.existing_statistics) == ["agrees", "only_existing", "only_existing"]
    assert_allclose(result.existing_statistics.visited_share, [1.0, 0.6, 0.6], atol=0.02)

    def nowhere(x, y):
        return np.zeros(len(x), bool)

    result = judged([STREET], existing, Survey(15.0, inside=nowhere))
    assert names(result.existing_statistics) == ["agrees", "not_visited", "not_visited"]


def test_epochs_count_as_visits():
    x = np.arange(0.0, 100.0)
    survey = Survey(15.0, np.append(x, np.nan), np.append(np.full(100, 300.0), 300.0))
    result = judged([STREET], [along(300.5), along(350.0)], survey)
    assert names(result.existing_statistics) == ["only_existing", "not_visited"]


def test_no_edges_no_visits_and_no_length():
    result = judged([], [along(0.0)], Survey(15.0))
    assert names(result.existing_statistics) == ["not_visited"]
    assert result.visited_length == 0
    result = judged([STREET], [[(0.0, 0.0), (0.0, 0.0)]], Survey(15.0))
    assert result.existing_statistics.visited_share.tolist() == [0.0]


@pytest.mark.parametrize("reach", [0.0, -1.0, np.nan, np.inf])
def test_reach_must_be_a_length(reach):
    with pytest.raises(ValueError, match="reach"):
        Survey(reach)


def test_what_was_not_visited_is_not_retired():
    existing = [along(0.02), along(8.0), along(200.0), along(-8.0, 0.0, 300.0)]
    result = judged([STREET], existing, Survey(15.0), existing_sigma=0.05)
    assert names(result.existing_statistics)[1:] == ["only_existing", "not_visited",
                                                     "only_existing"]  # fmt: skip
    plan = plan_update(result, UpdateSettings())
    assert plan.what.tolist() == [UNCHANGED, RETIRED, UNCHANGED, UNCHANGED]
    assert [(held.existing, "38 %" in held.why) for held in plan.held] == [(3, True)]
    decided = plan_update(result, UpdateSettings(), line_decision=[0, 0, 0, ACCEPT])
    assert decided.what.tolist() == [UNCHANGED, RETIRED, UNCHANGED, RETIRED]


def test_a_moved_island_says_how_far_and_where_to():
    island = np.array([(0, 0), (10, 0), (10, 4), (0, 4), (0, 0)], float)
    moved = island + [0.3, -0.4]
    far = [along(50.0 + 9 * number) for number in range(5)]
    result = judged([moved, *far], [island, *far], Survey(15.0), existing_sigma=0.05)
    for statistics in (result.existing_statistics, result.edge_statistics):
        assert names(statistics)[0] == "displaced"
        assert_allclose(statistics.moved[0], 0.5, atol=0.02)
        # from the existing line to the edge, in both layers
        assert_allclose(statistics.moved_azimuth[0], np.degrees(np.arctan2(0.3, -0.4)), atol=2)
        assert_allclose(statistics.moved[1:], 0.0, atol=1e-9)
    result = judged([STREET], [along(50.0)], None)
    assert np.isnan(result.existing_statistics.moved).all()


@pytest.mark.one_host
@pytest.mark.one_in(3)
@pytest.mark.parametrize("seed", range(3))
def test_both_verdicts_are_those_of_runs_of_their_own(seed):
    basemap = basemaps.make_basemap(np.random.default_rng(seed), cells=60)
    edges, existing = (
        Lines.from_columns(layer.x, layer.y, layer.z, layer.offsets, layer.line, len(layer))
        for layer in (basemap.edges, basemap.existing)
    )
    found = {}
    for remove in (True, False):
        result = compare(edges, existing, ComparisonSettings(remove_shift=remove))
        both = result.existing_statistics, result.edge_statistics
        own = result.displaced_without_shift if remove else result.displaced_with_shift
        assert own == tuple(result.count(statistics, DISPLACED) for statistics in both)
        found[remove] = result
    for one, other in ((found[True], found[False]), (found[False], found[True])):
        # candidates are found anew where the shift is taken out: a few lines may differ
        for name in ("displaced_with_shift", "displaced_without_shift"):
            assert_allclose(getattr(one, name), getattr(other, name), rtol=0.1, atol=2)
    assert found[True].displaced_with_shift[0] > 2 * found[True].displaced_without_shift[0]


def test_half_a_line_beside_a_walk_is_visited():
    """A parallel walk along the first 100 of 200 m, 9 m aside: 15 m reach on by 12 m."""
    stations = stations_along(lines_of([[0, 0], [200, 0]], [[0, 40], [200, 40]]), 0.5)
    walked = places_along(lines_of([[0, 9], [100, 9]]), 15.0)
    visited = visited_stations(stations, *walked, 15.0)
    assert_allclose(np.bincount(stations.part, stations.weight * visited), [112, 0], atol=0.8)


@pytest.mark.parametrize("reach", [1.0, 15.0, 60.0])
def test_points_along_stand_for_the_line(reach):
    """The reach is kept to the part in 128 that the docstring gives, and never exceeded."""
    x, y = places_along(lines_of([[0, 0], [500, 0]]), reach)
    probe = np.linspace(100, 400, 1001)
    for aside, expected in ((reach * 1.0001, False), (reach * (1 - 1 / 120), True)):
        near = np.hypot(probe[:, None] - x, aside - y).min(axis=1) <= reach
        assert (near == expected).all()


def test_no_walk_no_visit():
    stations = stations_along(lines_of([[0, 0], [10, 0]]), 1.0)
    none = np.array([np.nan])
    assert not visited_stations(stations, none, none, 15.0).any()
