"""Which values can be the accuracy of a fixed solution."""

import numpy as np
import pytest

from curbwright.shared.epochs.accuracies import (
    beyond_fixed,
    length_of_text,
    not_in_metres,
    possible,
    says_none,
    scatter,
)
from curbwright.shared.tuning import override


@pytest.mark.parametrize(
    ("text", "metres"),
    [
        ("0.012", 0.012),
        ("0,012", 0.012),
        (" ±12 mm ", 0.012),
        ("1,2cm", 0.012),
        ("+/- 0.012 metres", 0.012),
        ("1.2e-2", 0.012),
        ("-1", -1.0),
        ("inf", np.inf),
        ("0.04 ft", 0.012192),
        ("good", np.nan),
        ("1,234,5", np.nan),
        ("3 satellites", np.nan),
    ],
)
def test_lengths_as_people_write_them(text, metres):
    np.testing.assert_equal(round(length_of_text(text), 9), metres)


@pytest.mark.parametrize(("text", "metres"), [("8", 0.008), ("8 cm", 0.08), ("1e1", 0.01)])
def test_a_number_without_a_unit_is_in_that_of_its_field(text, metres):
    assert length_of_text(text, 0.001) == pytest.approx(metres)


def test_what_receivers_write_for_nothing_is_no_accuracy():
    assert possible(np.array([0.01, 0.0, -1.0, np.inf, np.nan])).tolist() == [True] + [False] * 4
    assert says_none(" N/A") and not says_none("good")


@pytest.mark.parametrize("sigma", [0.003, 0.02, 0.5])
def test_scatter_is_that_of_one_value_on_any_slope(sigma):
    values = 0.3 * np.arange(4000) + np.random.default_rng(1).normal(0, sigma, 4000)
    assert scatter(values, np.ones(3999, bool)) == pytest.approx(sigma, rel=0.06)


def test_scatter_is_the_same_block_by_block():
    rng = np.random.default_rng(4)
    values, linked = rng.normal(0, 1, 500), rng.random(499) < 0.9
    values[rng.integers(0, 500, 20)] = np.nan
    whole = scatter(values, linked)
    for block in (1, 7, 499, 500):
        with override(EXECUTION__block=block):
            assert scatter(values, linked) == whole


@pytest.mark.parametrize(("factor", "other"), [(1.0, False), (100.0, True), (1000.0, True)])
def test_other_units_are_plain(factor, other):
    assert not_in_metres(np.full(20, factor * 0.012), noise=0.008) == other


@pytest.mark.parametrize("number", [1, 2, 7, 8])
def test_the_quick_question_never_passes_over_what_the_median_tells(number):
    rng = np.random.default_rng(number)
    told = 0
    for _ in range(60):
        sigma = rng.choice([0.01, 0.3, 0.8, 30.0, np.nan, np.inf, -1.0], number)
        plain = not_in_metres(sigma, noise=0.0)
        told += plain
        assert beyond_fixed(sigma, possible(sigma)) or not plain
    assert told
    assert not beyond_fixed(np.full(number, 0.3), np.ones(number, bool))
    assert not beyond_fixed(np.full(number, 30.0), np.zeros(number, bool))
