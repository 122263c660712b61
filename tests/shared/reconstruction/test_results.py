"""Tables of parts, joined and put in order."""

from dataclasses import fields

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.arrays.ragged import offsets_of
from curbwright.shared.epochs.reasons import Reason
from curbwright.shared.epochs.rounding import SIGMA
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.reconstruction.results import (
    DrawnRuns,
    EdgeEnds,
    Edges,
    EpochOutcomes,
    Stations,
)

COUNTS = {"vertices": [2, 4, 3], "stations": [1, 0, 2], "corners": [0, 2, 1]}


def drawn(names, kind=COUNTS):
    """Edges whose columns all hold the name of their edge."""
    names = np.asarray(names, float)
    vertices, stations, corners = (
        np.repeat(names, np.array(kind[each][: len(names)], int))
        for each in ("vertices", "stations", "corners")
    )
    place = np.arange(len(names))
    edges = {column.name: names.copy() for column in fields(Edges)}
    edges.update(x=vertices, y=-vertices, z=vertices + 0.5)
    edges["offsets"] = offsets_of(np.array(kind["vertices"][: len(names)], int))
    edges["capture"] = names.astype(int) % 2
    ends = {column.name: names.copy() for column in fields(EdgeEnds)}
    ends["first_row"], ends["last_row"] = 2 * place, 2 * place + 1
    of_stations = {column.name: stations.copy() for column in fields(Stations)}
    of_stations["edge"] = np.repeat(place, np.array(kind["stations"][: len(names)], int))
    return DrawnRuns(
        edges=Edges(**edges),
        ends=EdgeEnds(**ends),
        corners=np.column_stack([corners, -corners]),
        corner_edge=np.repeat(place, np.array(kind["corners"][: len(names)], int)),
        stations=Stations(**of_stations),
    )


def assert_each_has_its_own(result, names):
    """Every row belongs to the edge that its columns name."""
    names = np.asarray(names, float)
    assert len(result.edges) == len(names)
    owner = np.repeat(np.arange(len(names)), np.diff(result.edges.offsets))
    assert_array_equal(result.edges.x, names[owner])
    assert_array_equal(result.edges.y, -names[owner])
    assert_array_equal(result.edges.z, names[owner] + 0.5)
    for column in fields(Edges):
        if column.name not in ("x", "y", "z", "offsets", "capture"):
            assert_array_equal(getattr(result.edges, column.name), names, column.name)
    assert_array_equal(result.ends.scale, names)
    assert (np.diff(result.stations.edge) >= 0).all()
    assert_array_equal(result.stations.chainage, names[result.stations.edge])
    assert_array_equal(result.corners[:, 0], names[result.corner_edge])


def test_parts_are_joined_by_name():
    joined = DrawnRuns.concatenate([drawn([11, 12, 13]), drawn([]), drawn([14, 15])])
    assert_each_has_its_own(joined, [11, 12, 13, 14, 15])
    assert (len(joined.stations), len(joined.corners)) == (4, 5)


@pytest.mark.parametrize("order", [[0, 1, 2], [2, 0, 1], [1, 2, 0]])
def test_edges_in_another_order_keep_what_is_theirs(order):
    assert_each_has_its_own(
        drawn([11, 12, 13]).take(np.array(order)), np.array([11, 12, 13])[order]
    )


def test_no_edges_at_all():
    none = DrawnRuns.concatenate([drawn([]), drawn([])]).take(np.zeros(0, int))
    assert_each_has_its_own(none, [])
    assert len(Stations.none()) == 0 and Stations.none().edge.dtype.kind == "i"


def test_parts_know_the_rows_and_captures_of_the_whole_table():
    placed = drawn([10, 11, 12]).placed(np.array([7, 9]), lambda rows: rows + 100)
    assert_array_equal(placed.edges.capture, [7, 9, 7])
    assert_array_equal(placed.ends.first_row, [100, 102, 104])
    assert_array_equal(placed.ends.last_row, [101, 103, 105])


def test_edges_of_epochs_get_their_final_numbers():
    outcomes = EpochOutcomes.empty(7, numbers=False)
    places = [np.array([6, 0, 1]), slice(2, 2), slice(2, 6)]
    outcomes.edge[places[0]] = [0, -1, 1]
    outcomes.edge[places[2]] = [-1, 1, 0, 1]
    outcomes.number_edges(places, [2, 0, 2], np.array([3, 0, 2, 1]))
    assert_array_equal(outcomes.edge, [-1, 0, -1, 1, 2, 1, 3])


@pytest.mark.parametrize("numbers", [True, False])
def test_rows_of_a_part_and_what_is_rejected(numbers):
    class Positions:
        rows = np.array([4, 0, 2, 3])
        offsets = np.array([0, 1, 3, 4])

    part = EpochOutcomes.empty(5, numbers)
    part.reject(Positions, np.array([False, True, True]), Reason.SPIKE, np.array([1.0, 2.0, 3.0]))
    assert_array_equal(np.flatnonzero(part.reason == Reason.SPIKE), [0, 2, 3])
    whole = EpochOutcomes.empty(9, numbers)
    whole.put(slice(2, 7), part)
    assert_array_equal(whole.reason[2:7], part.reason)
    assert not whole.reason[[0, 1, 7, 8]].any()
    if numbers:
        assert_array_equal(whole.amount[2:7], [2.0, np.nan, 2.0, 3.0, np.nan])
    else:
        assert whole.amount is None and whole.residual_up is None


def test_lines_along_the_sides_of_coarse_cells_are_no_surer_than_the_cells():
    """Straight walks nearly along an axis, positions rounded to 0.05 m."""
    rng, step, count, size = np.random.default_rng(5), 0.05, 24, 40
    low = rng.uniform(0.0, 1.0, count)
    along = np.cumsum(rng.normal(1.0, 0.05, (count, size)), axis=1)
    across = low[:, None] + rng.normal(0, 0.004, (count, size)) + 100.0 * np.arange(count)[:, None]
    capture = np.repeat(np.arange(count), size)
    table = EpochTable.from_columns(
        np.round(along.ravel() / step) * step, np.round(across.ravel() / step) * step,
        seconds=1000.0 * capture + np.tile(np.arange(float(size)), count), capture=capture,
    )  # fmt: skip
    made = reconstruct(table, Settings(station_spacing=5.0))
    at = made.stations
    off = at.y - 100.0 * made.edges.capture[at.edge] - low[made.edges.capture[at.edge]]
    for found, least, most in ((made, 2.0, 99.0), (made.with_rounding(step), 0.6, 1.3)):
        assert least < np.sqrt(np.mean((off / found.stations.sigma_cross) ** 2)) < most
    assert (made.with_rounding(step).edges.sigma_cross > SIGMA * step).all()
    assert made.with_rounding(0.0) is made
