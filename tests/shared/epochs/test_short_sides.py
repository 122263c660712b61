"""How many short sides and gross errors are certain."""

import numpy as np
import pytest
from epochwalks import along, straight, table_of_captures
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.screening import unusable
from curbwright.shared.epochs.short_sides import count_short_sides
from curbwright.shared.epochs.stream import capture_medians, nominal_stream, stream_of
from curbwright.shared.reconstruction.reconstruct import Settings
from curbwright.shared.tuning import SHORT_SIDES

JOG = [("line", 20.0), ("corner", 90.0), ("line", 0.8), ("corner", -90.0), ("line", 20.0)]
RECESS = [
    *(("line", 20.0), ("corner", 90.0), ("line", 0.9), ("corner", -70.0), ("line", 1.5)),
    *(("corner", -40.0), ("line", 1.0), ("corner", 60.0), ("line", 20.0)),
]


def counted(x, y, capture=None):
    capture = np.zeros(len(x), np.int64) if capture is None else capture
    count = capture[-1] + 1
    return count_short_sides(
        x,
        y,
        np.arange(float(len(x))),
        capture,
        np.diff(capture) == 0,
        np.full(count, 1.2),
        np.full(count, 0.006),
    )


@pytest.mark.parametrize(("size", "off"), [(1, -0.25), (1, 0.3), (1, 4.0), (2, -0.6), (2, 3.0)])
def test_a_slip_on_a_straight_is_one(size, off):
    x, y = straight(40)
    y[20 : 20 + size] += off
    assert [values[0] for values in counted(x, y)] == [0, 1]


@pytest.mark.parametrize("parts", [JOG, RECESS], ids=["jog", "recess"])
def test_a_short_side_is_one(parts):
    """It depends on where the epochs fall whether it is seen; no place makes it a slip."""
    seen = 0
    for more in np.linspace(0.0, 1.2, 15):
        x, y = along([("line", more), *parts], 0.006)
        sides, slips = counted(x, y)
        assert slips[0] == 0
        seen += sides[0] > 0
    assert seen > 1


@pytest.mark.parametrize(
    "parts",
    [
        [("line", 60.0)],
        [("line", 20.0), ("arc", 3.0, 90.0), ("line", 20.0)],
        [("line", 20.0), ("arc", 12.0, -120.0), ("line", 20.0)],
        [("line", 20.0), ("corner", 90.0), ("line", 9.0), ("corner", -60.0), ("line", 20.0)],
    ],
    ids=["straight", "return", "bend", "corners"],
)
def test_long_sides_and_curves_are_neither(parts):
    for seed in range(20):
        x, y = along([("line", 0.06 * seed), *parts], 0.006, seed)
        assert_array_equal(counted(x, y), [[0], [0]])


def test_captures_count_for_themselves():
    parts = [straight(30, seed=seed) for seed in range(6)]
    for number, (_, y) in enumerate(parts):
        y[5 + number] += 0.5 * (number % 3)
    x, y = (np.concatenate(axis) for axis in zip(*parts))
    together = counted(x, y, np.repeat(np.arange(6), 30))
    alone = [np.concatenate(one) for one in zip(*(counted(*part) for part in parts))]
    assert_array_equal(together, alone)
    assert together[1].tolist() == [0, 1, 1, 0, 1, 1]


@pytest.mark.parametrize("count", [0, 1, 5, 7])
def test_few_epochs_show_nothing(count):
    x, y = straight(count) if count else (np.zeros(0), np.zeros(0))
    limits = np.full(1, 1.2), np.full(1, 0.006)
    capture, near = np.zeros(count, int), np.ones(max(count - 1, 0), bool)
    found = count_short_sides(x, y, np.arange(float(count)), capture, near, *limits)
    assert_array_equal(found, [[0], [0]])


def stream_with(slips):
    walks = []
    for number in range(max(slips, 1)):
        x, y = straight(40, seed=number)
        y[20] += 0.8 * (slips > 0)
        walks.append({"x": x, "y": y})
    table, _ = table_of_captures(walks)
    medians = capture_medians(table, unusable(table, 0.05)[-1])
    nominal = nominal_stream(medians)
    return stream_of(medians, nominal, Settings()), nominal


def test_a_layer_speaks_the_more_clearly_the_more_it_shows():
    stream, nominal = stream_with(0)
    assert nominal.sides_per_slip == SHORT_SIDES.usual
    assert_array_equal(stream.slips, 0.0)
    said = [stream_with(slips)[0].slips[0] for slips in (0, 1, 3, 10, 60)]
    assert (np.diff(said) > 0).all()
    assert said[-1] == SHORT_SIDES.most
