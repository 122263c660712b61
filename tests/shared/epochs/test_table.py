"""The table of epochs: neutral values where columns are left out, named errors where they do not
fit."""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.table import EpochTable

COLUMNS = ("x", "y", "z", "seconds", "capture", "fixed", "sigma_h", "sigma_v", "scale", "parts")


def test_columns_left_out_are_neutral():
    table = EpochTable.from_columns([1.0, 2.0], [3.0, 4.0])
    assert len(table) == 2
    for name in ("z", "seconds", "sigma_h", "sigma_v"):
        assert np.isnan(getattr(table, name)).all(), name
    assert_array_equal(table.capture, [0, 0])
    assert_array_equal(table.fixed, [True, True])
    assert_array_equal(table.scale, [1.0, 1.0])
    assert_array_equal(table.parts, [1, 1])


def test_rows_without_position_have_no_part():
    table = EpochTable.from_columns([1.0, np.nan, 2.0, np.inf], [1.0, 1.0, np.nan, 1.0])
    assert_array_equal(table.parts, [1, 0, 0, 0])
    assert_array_equal(np.isnan(table.x), [False, True, False, True])


@pytest.mark.parametrize("name", ["x", "y", "z", "seconds", "sigma_h", "sigma_v"])
@pytest.mark.parametrize("value", [np.inf, -np.inf, np.nan])
def test_infinite_numbers_are_absent(name, value):
    columns = {"x": [0.0, 1.0], "y": [0.0, 1.0], name: [0.5, value]}
    assert_array_equal(np.isnan(getattr(EpochTable.from_columns(**columns), name)), [False, True])


@pytest.mark.parametrize("name", ["sigma_h", "sigma_v"])
def test_sigmas_that_are_not_positive_are_absent(name):
    table = EpochTable.from_columns([0.0] * 3, [0.0] * 3, **{name: [0.0, -0.01, 0.01]})
    assert_array_equal(np.isnan(getattr(table, name)), [True, True, False])


def test_no_rows():
    table = EpochTable.from_columns([], [])
    assert len(table) == 0
    for name in COLUMNS:
        assert getattr(table, name).shape == (0,)


def test_integers_and_lists_are_taken():
    table = EpochTable.from_columns(
        [1, 2], (3, 4), z=np.array([5, 6]), seconds=range(2), capture=[0, 7], fixed=[1, 0]
    )
    assert table.z.dtype == float and table.seconds.dtype == float
    assert_array_equal(table.fixed, [True, False])


def test_columns_are_copies():
    x = np.array([0.0, np.inf])
    EpochTable.from_columns(x, [0.0, 0.0])
    assert_array_equal(x, [0.0, np.inf])


@pytest.mark.parametrize("name", [name for name in COLUMNS if name != "x"])
def test_other_length_is_named(name):
    columns = {"x": [0.0, 1.0], "y": [0.0, 1.0], name: [1, 1, 1]}
    with pytest.raises(ValueError, match=rf"^{name} must have shape"):
        EpochTable.from_columns(**columns)


def test_two_dimensions_are_refused():
    with pytest.raises(ValueError, match=r"^x must have shape"):
        EpochTable.from_columns(np.zeros((2, 2)), np.zeros((2, 2)))


def test_negative_capture_is_refused():
    with pytest.raises(ValueError, match="capture"):
        EpochTable.from_columns([0.0], [0.0], capture=[-1])


def test_table_cannot_be_changed():
    table = EpochTable.from_columns([0.0], [0.0])
    with pytest.raises(AttributeError):
        table.x = np.ones(1)
