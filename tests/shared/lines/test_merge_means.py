"""Weighted means of walks of one edge, and what they say of themselves."""

import dataclasses

import numpy as np
import pytest
import shapely
from hypothesis import given
from hypothesis import strategies as st
from mergedwalks import from_walks, reasons, states
from numpy.testing import assert_allclose

from curbwright.sample_project import simulation as sim
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.merge_means import fill_along, heights_along
from curbwright.shared.lines.passes import merge_passes


@pytest.fixture(scope="module")
def thrice():
    """Three walks of edges of all kinds: RMSE of one and of the merged ones across, of both in
    height, and the result."""
    rng = np.random.default_rng(7)
    walks, truths = [], []
    for number in range(18):
        truth = sim.random_truth(
            sim.SHAPES[number % 6], rng, (400.0 * (number % 6), 400.0 * (number // 6))
        )
        truths.append(truth)
        for turn in range(3):
            between = (truth.length * (1.01 if truth.closed else 1.0), 0.0) if turn == 1 else None
            walks.append(
                sim.walk(
                    truth, rng, "plumb", "", 7200.0 * len(walks), between, sim.Disturbances.none()
                )
            )
    lines, sigma_up = from_walks(walks)
    return truths, lines, merge_passes(lines, sigma_up)


def off_truth(truths, x, y, offsets):
    lines = [one.polyline(1e-4)[0][:, :2] for one in truths]
    truth = shapely.STRtree(
        shapely.linestrings(np.concatenate([np.stack([xy[:-1], xy[1:]], axis=1) for xy in lines]))
    )
    found = []
    for low, high in zip(offsets[:-1], offsets[1:]):
        line = shapely.linestrings(np.column_stack([x[low:high], y[low:high]]))
        found.append(
            truth.query_nearest(
                shapely.line_interpolate_point(line, np.arange(0.05, line.length, 0.1)),
                return_distance=True,
                all_matches=False,
            )[1]
        )
    return np.concatenate(found), np.repeat(
        np.arange(len(offsets) - 1), [len(one) for one in found]
    )


def test_three_walks_lose_at_least_the_white_share(thrice):
    truths, lines, result = thrice
    assert states(result) == ["merged"] * len(truths) and (result.edges.passes == 3).all()
    one = np.sqrt(np.mean(off_truth(truths, lines.x, lines.y, lines.offsets)[0] ** 2))
    off, edge = off_truth(truths, result.edges.x, result.edges.y, result.edges.offsets)
    three = np.sqrt(np.mean(off**2))
    slow = sim.CORRELATED_SIGMA
    print(
        f"cross-track RMSE {1000 * one:.2f} mm alone, {1000 * three:.2f} mm of three; white share"
        f" alone would leave {1000 * np.sqrt((one**2 - slow**2) / 3 + slow**2):.2f}, all of it"
        f" {1000 * one / np.sqrt(3):.2f}"
    )
    # the white share at least; and since the slow part of walks at other times is independent too,
    # nearly the root of three
    assert three < np.sqrt((one**2 - slow**2) / 3 + slow**2)
    assert three == pytest.approx(one / np.sqrt(3), rel=0.2)
    # what it says of itself holds: 90 to 98 % in the 95 % band, by edges that differ in sigma
    assert 0.88 < np.mean(off < 1.96 * result.edges.sigma[edge]) < 0.985
    assert result.repeatability == pytest.approx(result.expected, rel=0.25)
    assert len(result.disagreements) <= 5, reasons(result)


def test_double_sigma_in_double_sigma_out(thrice):
    _, lines, result = thrice
    again = merge_passes(
        dataclasses.replace(lines, sigma=2 * lines.sigma), np.full(len(lines), 0.02)
    )
    assert_allclose(again.edges.sigma, 2 * result.edges.sigma, rtol=1e-6)


# By themselves


@given(st.integers(0, 10**6))
def test_what_is_filled_in_lies_between_its_neighbours_on_the_same_path(seed):
    rng = np.random.default_rng(seed)
    part = np.repeat(np.arange(3), rng.integers(1, 9, 3))
    chainage = np.concatenate([np.cumsum(rng.uniform(0.1, 2, n)) for n in np.bincount(part)])
    values, known = rng.normal(0, 1, len(part)) + 100 * part, rng.random(len(part)) < 0.5
    filled = fill_along(values, known, part, chainage)
    for path in range(3):
        own, some = part == path, (part == path) & known
        if not some.any():
            assert np.isnan(filled[own]).all()
            continue
        # beyond the first and the last known one, theirs
        assert_allclose(filled[own], np.interp(chainage[own], chainage[some], values[some]))


def test_heights_come_from_the_same_line():
    z = [[np.nan, 1.0, np.nan, 3.0], [np.nan, np.nan], [7.0, np.nan]]
    x = np.concatenate([np.arange(len(one), dtype=float) for one in z])
    lines = Lines.from_columns(x, 0.0 * x, np.concatenate(z), [0, 4, 6, 8])
    assert_allclose(heights_along(lines), [1, 1, 2, 3, 0, 0, 7, 7])
