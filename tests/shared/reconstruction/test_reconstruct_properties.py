"""What holds of every result of the main job, whatever the table: by hypothesis, and on simulated
walks."""

import dataclasses

import numpy as np
import pytest
from epochwalks import (
    along,
    check,
    line,
    moved,
    off_line,
    table_of,
    table_of_walks,
    take,
    trial,
    wander,
)
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.epochs.group_statistics import correlated_share
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.screening import unusable
from curbwright.shared.epochs.settings import DOUBTFUL
from curbwright.shared.epochs.stream import capture_medians, nominal_stream
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.parallel.pool import Pool
from curbwright.shared.reconstruction.reconstruct import (
    Edges,
    Gaps,
    Settings,
    Stations,
    reconstruct,
)
from curbwright.shared.tuning import override

# each is fitted, most of them twice: half of the examples of the long run, a quarter of the others
MOST = settings.default.max_examples
EXAMPLES = MOST // 2 if MOST > 100 else MOST // 4
STABLE = settings(
    max_examples=EXAMPLES,
    suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large],
)
pytestmark = pytest.mark.filterwarnings("error::RuntimeWarning")

odd = st.sampled_from([np.nan, np.inf, -np.inf, 0.0, 1e6, -1e6, 0.1])
coordinate = st.one_of(st.integers(-3, 3).map(float), st.floats(-20, 20), odd)
row = st.tuples(
    coordinate,
    coordinate,
    st.one_of(st.floats(-5, 5), odd),
    st.one_of(st.integers(0, 12).map(float), st.floats(0, 100), odd),
    st.sampled_from([0, 0, 0, 1, 7]),
    st.sampled_from([True, True, True, False]),
    st.sampled_from([0.01, 0.01, 0.02, np.nan, 0.06, -1.0, 0.0]),
    st.sampled_from([0.02, np.nan]),
    st.sampled_from([1, 1, 1, 1, 0, 3]),
)
choices = st.builds(
    Settings,
    max_h_accuracy=st.sampled_from([0.05, 0.015]),
    max_time_gap=st.sampled_from([0.0, 0.0, 1.0, 5.0]),
    max_distance_gap=st.sampled_from([0.0, 0.0, 1.0, 50.0]),
    corner_angle=st.sampled_from([30.0, 5.0, 180.0]),
    tolerance=st.sampled_from([0.01, 1e-4, 5.0]),
    min_length=st.sampled_from([0.5, 0.0, 10.0]),
)


def table_from(rows):
    x, y, z, t, capture, fixed, sigma_h, sigma_v, parts = (
        (np.array(column) for column in zip(*rows)) if rows else [np.zeros(0)] * 9
    )
    return EpochTable.from_columns(x, y, z, t, capture, fixed, sigma_h, sigma_v, parts=parts)


tables = st.one_of(
    st.lists(row, max_size=40).map(table_from),
    st.builds(wander, st.integers(0, 10**6), st.integers(0, 150), st.sampled_from([0.0, 1e6])),
)


def same(left, right):
    """Exactly equal edges and gaps."""
    for kind in (Edges, Gaps):
        a, b = (getattr(result, kind.__name__.lower()) for result in (left, right))
        for column in dataclasses.fields(kind):
            assert_array_equal(getattr(a, column.name), getattr(b, column.name), column.name)


# --- any table
# ------------------------------------------------------------------------------------------------


@STABLE
@given(tables, choices)
def test_every_row_is_accounted_for(table, chosen):
    check(table, reconstruct(table, chosen), chosen)


@pytest.mark.one_host
@STABLE
@given(tables, st.randoms(use_true_random=False))
def test_order_of_rows_does_not_matter(table, random):
    shuffle = list(range(len(table)))
    random.shuffle(shuffle)
    straight, shuffled = reconstruct(table), reconstruct(take(table, shuffle))
    same(straight, shuffled)
    # of rows that are alike in all columns either one may be the repeat
    columns = np.array(
        [
            np.nan_to_num(getattr(table, column.name).astype(float), nan=1e9)
            for column in dataclasses.fields(EpochTable)
        ]
    ).T
    alike = (
        np.unique(columns, axis=0, return_inverse=True)[1].ravel()
        if len(table)
        else np.zeros(0, int)
    )
    for name in (
        "reason",
        "edge",
        "role",
        "chainage",
        "residual_cross",
        "residual_up",
        "height_used",
    ):
        one, two = getattr(straight, name)[shuffle], getattr(shuffled, name)
        number = alike[shuffle]
        assert_array_equal(one[np.lexsort((one, number))], two[np.lexsort((two, number))], name)


@pytest.mark.one_host
# up to a hundred parts an example, each of which takes as long as a table: fewer examples
@settings(STABLE, max_examples=EXAMPLES // 2)
@given(st.integers(0, 10**6), st.integers(1, 150), st.sampled_from(DOUBTFUL))
def test_captures_fitted_in_parts_are_the_same(seed, chunk, doubtful):
    table, chosen = wander(seed, 150), Settings(doubtful=doubtful, station_spacing=2.0)
    whole = reconstruct(table, chosen)
    with override(EXECUTION__part_epochs=chunk, EXECUTION__stream_epochs=chunk):
        parts = reconstruct(table, chosen)
    same_bytes(whole, parts)


def same_bytes(one, two):
    """No digit of an edge, a gap, a station or a row differs."""
    same(one, two)
    for name in (
        "reason",
        "amount",
        "edge",
        "role",
        "height_used",
        "chainage",
        "residual_cross",
        "residual_up",
        "corners",
    ):
        assert_array_equal(getattr(one, name), getattr(two, name), name)
    for column in dataclasses.fields(Stations) if one.stations is not None else ():
        assert_array_equal(
            getattr(one.stations, column.name), getattr(two.stations, column.name), column.name
        )


@pytest.mark.one_host
def test_without_numbers_all_else_is_the_same():
    table = table_of_walks(trial_set(9)[:20])
    full, short = reconstruct(table), reconstruct(table, numbers=False)
    assert (full.reason == Reason.UNCONFIRMED).any() and (full.reason == Reason.SPIKE).any()
    numbers = ("amount", "chainage", "residual_cross", "residual_up")
    assert all(getattr(short, name) is None for name in numbers)
    same_bytes(full, dataclasses.replace(short, **{name: getattr(full, name) for name in numbers}))


@pytest.mark.one_host
@pytest.mark.one_in(2)
@pytest.mark.parametrize("curve_model", ["automatic", "spline"])
def test_captures_of_walks_fitted_apart_are_the_same(curve_model):
    table = table_of_walks(trial_set(5)[:14])
    chosen = Settings(curve_model=curve_model, station_spacing=1.0)
    whole = reconstruct(table, chosen)
    with override(EXECUTION__part_epochs=600):
        same_bytes(whole, reconstruct(table, chosen))


@pytest.mark.one_host
def test_blocks_of_samples_change_nothing():
    table = table_of_walks(trial_set(8)[:12])
    whole = reconstruct(table)
    with override(THINNING__block=40, PLAN_CURVES__block=70):
        same_bytes(whole, reconstruct(table))


def test_processes_change_nothing():
    table = table_of_walks(trial_set(6)[:30])
    chosen = Settings(station_spacing=1.0)
    with override(EXECUTION__smallest_part=500, EXECUTION__stream_epochs=700), Pool(2) as pool:
        assert pool
        same_bytes(reconstruct(table, chosen), reconstruct(table, chosen, pool=pool))
        assert not pool and not pool.problem  # they ended with the work, and not before


@pytest.mark.one_host
def test_the_layer_s_nominal_stream_stands_for_the_rest_of_it():
    table = table_of_walks(trial_set(7)[:30])
    nominal = nominal_stream(capture_medians(table, unusable(table, Settings().max_h_accuracy)[-1]))
    whole = reconstruct(table)
    for captures in (np.arange(3), np.arange(15, 30)):
        rows = np.isin(table.capture, captures)
        alone = reconstruct(table.take(rows), nominal=nominal)
        assert_array_equal(alone.reason, whole.reason[rows])
        own = np.isin(whole.edges.capture, captures)
        assert_array_equal(alone.edges.length, whole.edges.length[own])
        assert_array_equal(
            alone.edges.x, whole.edges.x[np.repeat(own, np.diff(whole.edges.offsets))]
        )


@pytest.mark.one_host
@STABLE
@given(tables)
def test_rejected_rows_change_nothing(table):
    # Take away all that says nothing: rows without position, time or fixed solution, and poor ones.
    result = reconstruct(table)
    usable = np.flatnonzero((result.reason == 0) | (result.reason > 4))
    alone = reconstruct(take(table, usable))
    assert_array_equal(result.edges.offsets, alone.edges.offsets)
    assert_array_equal(result.edges.x, alone.edges.x)
    assert_array_equal(result.edges.y, alone.edges.y)
    assert_array_equal(result.reason[usable], alone.reason)


@pytest.mark.one_host
@STABLE
@given(tables)
def test_input_is_left_alone(table):
    before = [getattr(table, column.name).copy() for column in dataclasses.fields(EpochTable)]
    reconstruct(table)
    for column, values in zip(dataclasses.fields(EpochTable), before):
        assert_array_equal(getattr(table, column.name), values, column.name)


# --- simulated walks
# ------------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def walks():
    return trial(5, 6)


@pytest.fixture(scope="module")
def walked(walks):
    return reconstruct(walks[0])


def test_walks(walks, walked):
    check(walks[0], walked)
    assert len(walked.edges) >= 6
    assert len(np.unique(walked.reason)) >= 6


def test_same_again(walks, walked):
    same(walked, reconstruct(walks[0]))


def test_moving_the_walk_moves_the_edges(walks, walked):
    table, _ = walks
    there = reconstruct(moved(table, x=table.x + 500_000.0, y=table.y + 6_000_000.0))
    assert_array_equal(there.reason, walked.reason)
    assert_array_equal(there.edges.offsets, walked.edges.offsets)
    assert_allclose(there.edges.x - 500_000.0, walked.edges.x, rtol=0, atol=1e-6)
    assert_allclose(there.edges.y - 6_000_000.0, walked.edges.y, rtol=0, atol=1e-6)
    for name in ("length", "rms_residual", "max_residual", "sigma_cross", "sigma_up"):
        assert_allclose(getattr(there.edges, name), getattr(walked.edges, name), rtol=0, atol=1e-6)


def test_later_or_higher_is_the_same(walks, walked):
    table, _ = walks
    later = reconstruct(moved(table, seconds=table.seconds + 1024.0))
    assert_array_equal(later.reason, walked.reason)
    assert_array_equal(later.edges.x, walked.edges.x)
    assert_array_equal(later.edges.started, walked.edges.started + 1024.0)
    higher = reconstruct(moved(table, z=table.z + 800.0))
    assert_array_equal(higher.reason, walked.reason)
    assert_allclose(higher.edges.z - 800.0, walked.edges.z, rtol=0, atol=1e-6)


@pytest.mark.parametrize("degrees", [90.0, 33.0, 180.0])
def test_turning_the_walk_turns_the_edges(walks, walked, degrees):
    table, _ = walks
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    turned = reconstruct(moved(table, x=c * table.x - s * table.y, y=s * table.x + c * table.y))
    assert_array_equal(turned.reason, walked.reason)
    assert_allclose(turned.edges.length, walked.edges.length, rtol=0, atol=0.001)
    assert_allclose(turned.residual_cross, walked.residual_cross, rtol=0, atol=0.001)


def test_mirrored_walk(walks, walked):
    table, _ = walks
    mirrored = reconstruct(moved(table, y=-table.y))
    assert_array_equal(mirrored.reason, walked.reason)
    assert_allclose(mirrored.edges.length, walked.edges.length, rtol=0, atol=0.001)
    assert_allclose(mirrored.residual_cross, -walked.residual_cross, rtol=0, atol=0.001)


def test_captures_do_not_touch_each_other(walks, walked):
    # All captures were walked at one pace with one receiver, so that what the layer lends to short
    # captures (noise, nominal step) hardly differs from their own; the lines may differ by what
    # that does to the search, never by more.
    table, _ = walks
    for capture in range(6):
        rows = np.flatnonzero(table.capture == capture)
        alone = reconstruct(take(table, rows))
        reason = walked.reason[rows]
        assert np.count_nonzero(alone.reason != reason) <= 0.02 * len(rows)
        together = walked.edges.capture == capture
        assert alone.edges.length.sum() == pytest.approx(
            walked.edges.length[together].sum(), abs=0.5
        )


def test_codes_of_captures_do_not_matter(walks, walked):
    table, _ = walks
    result = reconstruct(moved(table, capture=3 * table.capture + 2))
    assert_array_equal(result.reason, walked.reason)
    assert_array_equal(result.edges.x, walked.edges.x)
    assert_array_equal(result.edges.capture, 3 * walked.edges.capture + 2)


@pytest.mark.parametrize("seed", range(4))
def test_walked_the_other_way(seed):
    # The same epochs in opposite order of time: the same line, but for what decides between equals.
    x, y = along(
        [("line", 30.0), ("arc", 6.0, 90.0), ("line", 25.0), ("arc", 40.0, -50.0), ("line", 20.0)],
        0.008,
        seed,
    )
    there = reconstruct(table_of(x, y))
    back = reconstruct(table_of(x[::-1], y[::-1]))
    assert len(there.edges) == len(back.edges) == 1
    assert_array_equal(there.reason, back.reason[::-1])
    assert there.edges.length[0] == pytest.approx(back.edges.length[0], abs=0.02)
    assert off_line(line(back.edges, 0), line(there.edges, 0)).max() < 0.02
    assert np.sqrt(np.mean((there.residual_cross + back.residual_cross[::-1]) ** 2)) < 0.005


def test_doubled_noise_doubles_sigma():
    x, y = along([("line", 150.0)], 0.01, 2)
    straight_x, straight_y = along([("line", 150.0)])
    sigma = np.full(len(x), 0.008)
    single = reconstruct(table_of(x, y, sigma_h=sigma)).edges
    double = reconstruct(table_of(2 * x - straight_x, 2 * y - straight_y, sigma_h=2 * sigma)).edges
    assert len(single) == len(double) == 1
    assert_allclose(double.sigma_cross, 2 * single.sigma_cross, rtol=0.03)
    assert_allclose(double.rms_residual, 2 * single.rms_residual, rtol=0.03)
    # half of the receiver's variance stays the same over a minute (common practice, no source)
    assert single.sigma_cross[0] > 0.008 * np.sqrt(0.5 * correlated_share(150.0))


def test_an_outlier_at_the_end_of_a_capture_is_nothing_to_the_next_one():
    table = wander(31, 400)  # of captures whose ends hold outliers
    whole = reconstruct(table)
    with override(EXECUTION__part_epochs=60):
        same_bytes(whole, reconstruct(table))
