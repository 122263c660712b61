"""The whole comparison: simulated basemaps, brute force, degenerate input, significance."""

import dataclasses
import itertools
from functools import cache

import numpy as np
import pytest
import shapely
from lineshapes import lines_of, statuses, straight
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import basemaps
from curbwright.shared.lines.comparison import compare
from curbwright.shared.lines.comparison_results import (
    AGREES,
    DISPLACED,
    ONLY_EXISTING,
    ONLY_NEW,
    STATUS_NAMES,
    ComparisonSettings,
)
from curbwright.shared.lines.lines import Lines
from curbwright.shared.tuning import override


def lines_from(layer):
    return Lines.from_columns(layer.x, layer.y, layer.z, layer.offsets, layer.line, len(layer))


@cache
def made_basemap(seed, **made):
    return basemaps.make_basemap(np.random.default_rng(seed), **made)


def compared(seed, options=None, **made):
    basemap = made_basemap(seed, **{"cells": 120, **made})
    return basemap, compare(
        lines_from(basemap.edges),
        lines_from(basemap.existing),
        ComparisonSettings(remove_shift=True, **(options or {})),
    )


def verdicts(basemap, result):
    """Pairs of true and found status of all lines of both layers."""
    return [
        (true, STATUS_NAMES[found])
        for layer, statistics in (
            (basemap.edges, result.edge_statistics),
            (basemap.existing, result.existing_statistics),
        )
        for true, found in zip(layer.status, statistics.status.tolist())
    ]


# What issue and design ask for: shift (0.35, -0.20), 30 mm, a tenth moved by 1 to 2 m, a tenth
# missing, some demolished


@pytest.mark.one_host
@pytest.mark.one_in(5)  # each sigma with a seed of its own
@pytest.mark.parametrize("seed", range(4))
@pytest.mark.parametrize("existing_sigma", [0.10, 0.03])
def test_simulated_basemaps(seed, existing_sigma):
    basemap, result = compared(seed, {"existing_sigma": existing_sigma})
    assert np.hypot(result.shift.east - 0.35, result.shift.north + 0.20) < 0.010
    assert result.shift_removed
    found = verdicts(basemap, result)
    assert np.mean([true == status for true, status in found]) >= 0.97
    assert not [pair for pair in found if pair == ("agrees", "displaced")]
    assert result.layer.typical < 0.04  # the noise, without the lines that moved


@pytest.mark.one_host
@pytest.mark.parametrize("kind", basemaps.KINDS)
def test_every_kind_of_neighbourhood(kind, request):
    right = [
        true == found
        for seed in range(3 if request.config.getoption("--long") else 1)
        for true, found in verdicts(*compared(seed, kinds=(kind,), cells=40))
    ]
    assert np.mean(right) >= 0.97


def test_a_third_that_moved_spoils_nothing():
    basemap, result = compared(5, moved=1 / 3)
    assert np.hypot(result.shift.east - 0.35, result.shift.north + 0.20) < 0.010
    assert not [pair for pair in verdicts(basemap, result) if pair == ("agrees", "displaced")]


@pytest.mark.one_host
@pytest.mark.parametrize("seed", range(2))
def test_offsets_of_the_whole_against_brute_force(seed):
    """Each matched station's offset against shapely's intersection of its perpendicular with the
    whole edge: 1 mm asked, 1e-6 held."""
    basemap, result = compared(seed, cells=40)
    edges = lines_from(basemap.edges).moved(*result.shift.known[:2])
    s = result.stations
    geometry = [
        shapely.multilinestrings(
            [
                shapely.linestrings(
                    np.column_stack([edges.x, edges.y])[edges.offsets[p] : edges.offsets[p + 1]]
                )
                for p in np.flatnonzero(edges.line == row)
            ]
        )
        for row in range(len(edges))
    ]
    rng = np.random.default_rng(seed)
    for k in rng.choice(len(s), 500, replace=False):
        at, right = np.array([s.x[k], s.y[k]]), np.array([s.east[k], s.north[k]])
        hits = shapely.get_coordinates(
            shapely.intersection(
                shapely.linestrings([at - 2.1 * right, at + 2.1 * right]), geometry[s.edge[k]]
            )
        )
        assert np.abs((hits - at) @ right - s.offset[k]).min() < 1e-6
        # and the station lies on its line, at its chainage
        rows = np.flatnonzero(result.existing.line == s.existing[k])
        own = [
            shapely.linestrings(
                np.column_stack([result.existing.x, result.existing.y])[
                    result.existing.offsets[p] : result.existing.offsets[p + 1]
                ]
            )
            for p in rows
        ]
        before = sum(shapely.length(line) for line in own[: s.part[k]])
        assert_allclose(
            shapely.get_coordinates(
                shapely.line_interpolate_point(own[s.part[k]], s.chainage[k] - before)
            )[0],
            at,
            atol=1e-6,
        )


def test_statistics_follow_from_the_stations():
    _, result = compared(1, cells=40)
    s = result.stations
    for statistics, line in (
        (result.existing_statistics, s.existing),
        (result.edge_statistics, s.edge),
    ):
        for row in range(0, len(statistics), 7):
            own = s.offset[line == row]
            assert statistics.stations[row] == own.size
            if own.size:
                assert_allclose(statistics.offset_rmse[row], np.sqrt(np.mean(own**2)))
                assert_allclose(statistics.offset_p95[row], np.percentile(np.abs(own), 95))
    assert result.layer.matched_length == pytest.approx(
        result.existing_statistics.matched_length.sum()
    )
    assert_allclose(result.layer.offset_rmse, np.sqrt(np.average(s.offset**2, weights=s.weight)))


def test_a_survey_of_a_corner_of_a_basemap():
    """What lies elsewhere is counted, gets its status, and changes nothing."""
    rng = np.random.default_rng(8)
    shapes = [straight(15.0 * k) for k in range(6)] + [
        np.array([[60.0 + 12 * k, 0], [60.0 + 12 * k, 35]]) for k in range(6)
    ]
    edges = lines_of(*(shape + rng.normal(0, 0.02, 2) for shape in shapes))
    far = [
        np.array([[x, y], [x + 30, y + 10]])
        for x in range(1000, 9000, 500)
        for y in range(0, 5000, 500)
    ]
    few, many = (
        compare(edges, lines_of(*shapes)),
        compare(edges, lines_of(*far[::2], *shapes, *far[1::2])),
    )
    some = slice(len(far[::2]), len(far[::2]) + len(shapes))
    assert_allclose(many.existing_statistics.offset_mean[some], few.existing_statistics.offset_mean)
    assert (many.edge_statistics.partner == few.edge_statistics.partner + some.start).all()
    assert (many.shift.east, many.shift.used_length) == (few.shift.east, few.shift.used_length)
    rest = np.delete(np.arange(len(many.existing_statistics)), np.r_[some])
    assert (
        many.existing_statistics.status[rest] == ONLY_EXISTING
    ).all() and not many.existing_statistics.stations[rest].any()
    assert many.buffer.completeness == few.buffer.completeness
    assert many.buffer.correctness == pytest.approx(
        few.buffer.correctness * few.existing_length / many.existing_length
    )


# Significance


@pytest.mark.parametrize(
    ("offset", "edge_sigma", "existing_sigma", "status"),
    [
        (0.19, 0.0, 0.10, AGREES),
        (0.20, 0.0, 0.10, DISPLACED),
        (0.20, 0.05, 0.10, AGREES),
        (0.23, 0.05, 0.10, DISPLACED),
        (0.05, 0.02, 0.02, AGREES),
        (0.06, 0.02, 0.02, DISPLACED),
        (0.001, 0.0, 0.0, DISPLACED),
        (0.0, 0.0, 0.0, AGREES),
    ],
)
def test_a_displacement_counts_beyond_the_uncertainty_of_both(
    offset, edge_sigma, existing_sigma, status
):
    result = compare(
        lines_of(straight(offset), sigma=[edge_sigma]),
        lines_of(straight(0.0)),
        ComparisonSettings(existing_sigma=existing_sigma),
    )
    assert statuses(result) == ([status], [status])
    assert (result.stations.displaced == (status == DISPLACED)).all()
    assert_allclose(
        result.stations.limit, max(1.959964 * np.hypot(edge_sigma, existing_sigma), 1e-5), rtol=1e-6
    )


def test_more_confidence_finds_less():
    edges, existing = lines_of(straight(0.22)), lines_of(straight(0.0))
    found = [
        statuses(compare(edges, existing, ComparisonSettings(confidence=confidence)))[0][0]
        for confidence in (0.9, 0.95, 0.99)
    ]
    assert found == [DISPLACED, DISPLACED, AGREES]


def test_chance_finds_among_many_lines_are_not_displacements():
    """Every line off by chance alone, with the uncertainty as stated: one in twenty passes the
    single limit."""
    rng = np.random.default_rng(3)
    existing = lines_of(*(straight(20.0 * k) for k in range(400)))
    edges = lines_of(*(straight(20.0 * k + rng.normal(0, 0.1)) for k in range(400)))
    result = compare(edges, existing)
    assert (
        5
        < np.count_nonzero(
            np.abs(result.existing_statistics.offset_mean) > result.existing_statistics.limit
        )
        < 40
    )
    assert np.count_nonzero(result.existing_statistics.status == DISPLACED) <= 1


# Degenerate input


def test_identical_layers_agree():
    shapes = [
        straight(0.0),
        straight(0.4),
        [[0, 10], [20, 10], [20, 30], [0, 30], [0, 10]],
        [[[60, 0], [60, 20]], [[60, 20], [80, 20]]],
    ]
    result = compare(lines_of(*shapes), lines_of(*shapes), ComparisonSettings(remove_shift=True))
    assert statuses(result) == ([AGREES] * 4, [AGREES] * 4)
    assert result.layer.offset_rmse < 1e-12 and not result.shift_removed
    assert (result.edge_matched_share, result.existing_matched_share) == (
        pytest.approx(1),
        pytest.approx(1),
    )
    assert (result.buffer.completeness, result.buffer.correctness) == (
        pytest.approx(1),
        pytest.approx(1),
    )


EMPTY = ((), (None,), (None, None))


@pytest.mark.parametrize(
    ("edges", "existing"),
    [
        *itertools.product(EMPTY, EMPTY),
        *itertools.product(EMPTY, [(straight(0.0),)]),
        *itertools.product([(straight(0.0),)], EMPTY),
        ((straight(0.0),), (straight(500.0),)),
    ],
)
@pytest.mark.parametrize("remove", [False, True])
def test_nothing_to_match_is_said_as_it_is(edges, existing, remove):
    result = compare(lines_of(*edges), lines_of(*existing), ComparisonSettings(remove_shift=remove))
    assert statuses(result) == ([ONLY_NEW] * len(edges), [ONLY_EXISTING] * len(existing))
    assert (
        len(result.stations) == 0
        and result.layer.matched_length == 0
        and np.isnan(result.layer.offset_rmse)
    )
    assert result.shift.reason and not result.shift.significant and not result.shift_removed
    assert np.isnan(result.buffer.completeness) == (not result.edge_length)
    assert result.buffer.completeness == 0 or not result.edge_length


def test_rows_without_geometry_do_not_move_the_others():
    whole = compare(lines_of(straight(0.1), straight(9.0)), lines_of(straight(0.0), straight(9.3)))
    gaps = compare(
        lines_of(None, straight(0.1), None, straight(9.0)),
        lines_of(straight(0.0), None, [[5, 5], [5, 5]], straight(9.3)),
    )
    assert gaps.edge_statistics.partner.tolist() == [-1, 0, -1, 3]
    assert_allclose(gaps.edge_statistics.offset_mean[[1, 3]], whole.edge_statistics.offset_mean)
    assert_array_equal(
        gaps.existing_statistics.stations,
        [whole.existing_statistics.stations[0], 0, 0, whole.existing_statistics.stations[1]],
    )


def test_heights_where_both_have_them():
    def z(height, y):
        return np.column_stack([straight(y), [height, height + 1.0]])

    result = compare(lines_of(z(5.2, 0.1)), lines_of(z(5.0, 0.0)))
    assert_allclose(result.stations.up, 0.2)
    assert result.existing_statistics.up_mean[0] == pytest.approx(
        0.2
    ) and result.layer.up_rmse == pytest.approx(0.2)
    flat = compare(lines_of(straight(0.1)), lines_of(z(5.0, 0.0)))
    assert np.isnan(flat.stations.up).all() and np.isnan(flat.layer.up_mean)


def test_lengths_and_offsets_are_true_where_the_frame_stretches():
    edges, existing = lines_of(straight(0.5)), lines_of(straight(0.0))
    plain = compare(edges, existing)

    def stretch(lines):
        return Lines.from_columns(
            1.001 * lines.x, 1.001 * lines.y, None, lines.offsets, lines.line, 1, scale=[1.001]
        )

    wide = compare(stretch(edges), stretch(existing), ComparisonSettings(station_spacing=1.001))
    assert_allclose(wide.stations.offset, plain.stations.offset[: len(wide.stations)])
    assert wide.edge_length == pytest.approx(
        plain.edge_length
    ) and wide.layer.matched_length == pytest.approx(plain.layer.matched_length)


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("max_offset", 0),
        ("max_offset", np.nan),
        ("station_spacing", -1),
        ("station_spacing", np.inf),
        ("existing_sigma", -0.1),
        ("existing_sigma", np.nan),
        ("confidence", 0),
        ("confidence", 1),
        ("confidence", 95),
    ],
)
def test_bad_settings_are_named(name, value):
    with pytest.raises(ValueError, match=name):
        ComparisonSettings(**{name: value})


def test_progress_rises_and_the_work_can_be_stopped():
    class StopError(Exception):
        pass

    shares = []
    edges, existing = (
        lines_of(*(straight(5.0 * k) for k in range(30))),
        lines_of(*(straight(5.0 * k + 0.1) for k in range(30))),
    )
    compare(edges, existing, ComparisonSettings(remove_shift=True), shares.append)
    assert shares == sorted(shares) and shares[0] == 0 and shares[-1] == 1
    for at in shares[:: len(shares) // 5]:

        def stop(share, at=at):
            if share >= at:
                raise StopError

        with pytest.raises(StopError):
            compare(edges, existing, ComparisonSettings(remove_shift=True), stop)


# Cancel


def assert_the_same(one, other):
    """To the last bit."""
    for field in dataclasses.fields(one):
        a, b = getattr(one, field.name), getattr(other, field.name)
        if dataclasses.is_dataclass(a):
            assert_the_same(a, b)
        else:
            assert_array_equal(a, b, field.name)


@pytest.mark.one_host
@pytest.mark.one_in(2)
@pytest.mark.parametrize("removed", [True, False])
def test_looks_come_block_by_block_and_blocks_change_nothing(removed):
    """However many lines there are, no more than a block of them, or the longest, is worked on
    between two looks at cancel."""
    basemap = basemaps.make_basemap(np.random.default_rng(3), cells=60)
    edges, existing = lines_from(basemap.edges), lines_from(basemap.existing)
    results, looks = [], []
    for block in (10**7, 400, 200):
        shares = []
        with override(MATCHING__block=block, COMPARISON__block=block):
            results.append(
                compare(edges, existing, ComparisonSettings(remove_shift=removed), shares.append)
            )
        assert shares == sorted(shares) and shares[0] == 0.0 and shares[-1] == 1.0
        looks.append(np.histogram(shares, [0.0, 0.05, 0.25, 0.5, 0.61, 0.75, 0.8, 1.0 + 1e-9])[0])
    for other in results[1:]:
        assert_the_same(results[0], other)
    rows = len(results[0].stations)
    longest = int(results[0].existing_statistics.stations.max())
    blocks = rows / (200 + longest)
    indexes, met, _, matched, farthest, _, buffers = looks[2]
    # a round of the existing lines, and about as much for the edges: sections, distances and ranks
    # each; five places in each interval; vertices
    assert (
        indexes > blocks
        and met > blocks
        and matched > 6 * blocks
        and farthest > 10 * blocks
        and buffers > 2 * blocks
    )
    assert looks[2].sum() > 1.5 * looks[1].sum() > 3 * looks[0].sum()


@pytest.mark.parametrize("after", [0, 3, 10, 20, 30])
def test_a_look_may_stop_the_work(after):
    basemap = basemaps.make_basemap(np.random.default_rng(3), cells=20)
    count = itertools.count()

    def look(share):
        if next(count) == after:
            raise KeyboardInterrupt

    with pytest.raises(KeyboardInterrupt):
        compare(lines_from(basemap.edges), lines_from(basemap.existing), ComparisonSettings(), look)
    assert next(count) == after + 1
