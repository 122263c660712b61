"""Which values mean an RTK fixed solution. (The NMEA codes themselves: tests/checks.)"""

import numpy as np
import pytest
from numpy.testing import assert_array_equal

from curbwright.shared.epochs.fix_values import fixed_words, is_fixed
from curbwright.shared.epochs.vocabulary import fixed_values

USUAL = fixed_values()  # of roles.csv


# The words are common practice, no source.
FIXED_WORDS = [
    "fixed",
    "Fixed",
    "FIXED",
    "RTK Fixed",
    "rtk_fixed",
    "RTK-FIXED",
    "  rtk   fix ",
    "Narrow_Int",
    "integer",
    "Fix",
    "R",
]
OTHER_WORDS = [
    "float",
    "Float",
    "RTK float",
    "rtk_float",
    "single",
    "autonomous",
    "DGPS",
    "no fix",
    "not fixed",
    "unfixed",
    "",
    " ",
    "none",
    "3d fix",
]


@pytest.mark.parametrize("word", FIXED_WORDS)
def test_words_for_fixed(word):
    assert_array_equal(is_fixed([word]), [True])
    assert_array_equal(is_fixed([word.swapcase()]), [True])


@pytest.mark.parametrize("word", OTHER_WORDS)
def test_other_words(word):
    assert_array_equal(is_fixed([word]), [False])
    assert_array_equal(is_fixed([word.swapcase()]), [False])


@pytest.mark.parametrize(
    "values",
    [
        pytest.param([4, 5], id="int"),
        pytest.param([4.0, 5.0], id="float"),
        pytest.param(np.array([4, 5], "u1"), id="byte"),
        pytest.param(["4", "5"], id="text"),
        pytest.param(["4.0", "5.0"], id="decimal text"),
        pytest.param([" 04 ", "05"], id="padded text"),
        pytest.param(np.array([4, 5], object), id="object"),
        pytest.param(np.array(["4", 5.0], object), id="mixed"),
    ],
)
def test_numbers_of_any_type(values):
    assert_array_equal(is_fixed(values), [True, False])


def test_absent_values_are_not_fixed():
    assert_array_equal(
        is_fixed(np.array([None, np.nan, 4, "fixed", ""], object)),
        [False, False, True, True, False],
    )
    assert_array_equal(is_fixed([np.nan, 4.0, np.inf]), [False, True, False])
    assert_array_equal(
        is_fixed(np.ma.masked_array([4, 4, 5], [True, False, False])), [False, True, False]
    )
    assert_array_equal(
        is_fixed(np.ma.masked_array(["fixed", "fixed"], [True, False])), [False, True]
    )


@pytest.mark.parametrize(
    "values", [[], np.empty(0, object), np.empty(0, int), np.ma.masked_array([], [])]
)
def test_no_values(values):
    found = is_fixed(values)
    assert found.shape == (0,) and found.dtype == bool


def test_values_of_the_user_replace_the_default():
    assert_array_equal(is_fixed([1, 4, 50], "50, 1"), [True, False, True])
    assert_array_equal(is_fixed(["gut", "fixed"], "Gut"), [True, False])
    # lists of the host come with semicolons
    assert_array_equal(is_fixed([2, 3, 4], "2;3"), [True, True, False])


@pytest.mark.parametrize("text", ["", " ", ",", " , ;"])
def test_no_value_is_refused(text):
    with pytest.raises(ValueError, match="fixed_values"):
        is_fixed([4], text)


def test_default_never_holds_float():
    words = fixed_words(USUAL)
    assert "4" in words
    assert not words & {"0", "1", "2", "3", "5", "6", "7", "8"}
    assert not any("float" in word for word in words)


def test_many_rows_keep_their_places():
    values = np.array(["RTK fixed", "RTK float", "4", "5", "single"])
    pick = np.random.default_rng(1).integers(0, 5, 10_000)
    assert_array_equal(is_fixed(values[pick]), np.array([True, False, True, False, False])[pick])
