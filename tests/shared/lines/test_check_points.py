"""Statistics of check points, outliers, and what is said about the result."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines import check_points
from curbwright.shared.lines.check_points import assess_lines, assess_points, outliers
from curbwright.shared.tuning import CHECK_POINTS


def normal(count, sigma=0.05, seed=3):
    return np.random.default_rng(seed).normal(0.0, sigma, count)


# --- statistics and sentences


def test_spread_by_hand():
    of = check_points.spread([3.0, np.nan, -1.0, 1.0])
    assert (of.count, of.mean, of.median, of.least, of.greatest) == (3, 1.0, 1.0, -1.0, 3.0)
    assert of.sd == pytest.approx(2.0) and of.rmse == pytest.approx(np.sqrt(11 / 3))
    assert check_points.spread([np.nan]) is None and check_points.spread([]) is None
    assert np.isnan(check_points.spread([1.0]).sd)


@pytest.mark.parametrize(
    ("count", "words"),
    [
        (19, "too few to state an accuracy after either"),
        (20, "enough for the NSSDA only"),
        (29, "enough for the NSSDA only"),
        (30, None),
    ],
)
def test_numbers_of_points(count, words):
    for found in (
        assess_points(normal(count), normal(count, seed=5), survey_h=0.005),
        assess_lines(normal(count), survey_h=0.005),
    ):
        said = [text for text in found.cautions if text.startswith("Check points:")]
        assert (words in said[0] and str(count) in said[0]) if words else not said


def test_too_few_heights_are_said_apart():
    up = normal(40)
    up[10:] = np.nan
    found = assess_points(normal(40), normal(40, seed=5), up, 0.005, 0.005)
    assert found.up.count == 10
    assert any("with a height: 10" in text for text in found.cautions)
    assert not any(text.startswith("Check points: ") for text in found.cautions)


def test_without_heights_nothing_vertical_is_said():
    found = assess_points(normal(40), normal(40, seed=5))
    assert found.up is None and np.isnan([found.nssda_v, found.rmse_v, found.rmse_3d]).all()
    assert not any("ertical" in text or "3D" in text for text in found.sentences)


def test_bias_is_said_and_stays_in_the_rmse():
    found = assess_points(normal(40, 0.01) + 0.3, normal(40, 0.01, 5))
    assert found.east.rmse > 0.29
    assert any(text.startswith("Mean east: +0.30") for text in found.cautions)
    assert not any(text.startswith("Mean north") for text in found.cautions)


@pytest.mark.parametrize(
    ("survey", "words"), [(0.0, "is not stated"), (0.06, "not twice as accurate"), (0.005, None)]
)
def test_poor_check_points_are_said(survey, words):
    found = assess_points(normal(40), normal(40, seed=5), survey_h=survey)
    said = [text for text in found.cautions if "check points" in text]
    assert any(words in text for text in said) if words else not said


def test_class_is_the_least_whole_centimetre():
    offsets = np.tile([0.03, -0.03], 20)
    # 3, 4, 5
    assert "5-cm horizontal" in assess_points(offsets, np.tile([0.04, -0.04], 20)).sentences[1]
    assert "6-cm horizontal" in assess_points(offsets, np.tile([0.0401, -0.0401], 20)).sentences[1]


def test_lines_get_no_horizontal_class():
    found = assess_lines(normal(40), normal(40, seed=6), 0.01, 0.02)
    assert found.nssda_h is None and np.isnan([found.rmse_h, found.rmse_r, found.rmse_3d]).all()
    assert found.across_95 == pytest.approx(1.96 * found.across.rmse)
    assert found.rmse_across == pytest.approx(np.sqrt(found.across.rmse**2 + 0.01**2 / 2))
    assert "across the line" in found.sentences[0] and "horizontal accuracy" not in " ".join(
        found.sentences
    )
    assert any("nothing of the error along it" in text for text in found.cautions)


@pytest.mark.parametrize(
    ("arguments", "message"),
    [
        (([], []), "no pair"),
        (([1.0], [1.0, 2.0]), "shapes"),
        (([np.nan], [0.0]), "finite"),
        (([1.0], [1.0], None, -1.0), "survey_h"),
        (([1.0], [1.0], None, 0.0, np.nan), "survey_v"),
    ],
)
def test_bad_input_is_named(arguments, message):
    with pytest.raises(ValueError, match=message):
        assess_points(*arguments)


# --- outliers


def test_outliers_in_any_component():
    east, north = normal(50, 0.02).clip(-0.04, 0.04), normal(50, 0.02, 5).clip(-0.04, 0.04)
    assert not outliers(east, north).any()
    east[7], north[11] = 0.5, -0.4
    assert_array_equal(np.flatnonzero(outliers(east, north)), [7, 11])


def test_a_third_of_outliers_is_still_found():
    values = normal(60, 0.02)
    values[:20] += 1.5
    assert_array_equal(np.flatnonzero(outliers(np.clip(values, -0.05, 2))), np.arange(20))


def test_rounded_values_are_no_outliers():
    values = np.zeros(20)
    values[3] = 0.002  # the median deviation is zero; twice the last digit is nothing
    assert not outliers(values).any()
    values[3] = 0.2
    assert_array_equal(np.flatnonzero(outliers(values)), [3])


def test_absent_values_are_no_outliers():
    assert not outliers(np.full(3, np.nan)).any()
    assert_array_equal(outliers([np.nan, 0.0, 0.0, 0.0, 9.0]), [False, False, False, False, True])


# --- accuracy


def test_radius_of_what_is_no_scatter():
    assert check_points.radius_95(0.0, 0.0) == 0.0
    for sigma in (-0.1, np.nan, np.inf):
        with pytest.raises(ValueError, match="finite and not negative"):
            check_points.radius_95(sigma, 0.1)


def test_equal_rmse_gives_the_factor_of_the_standard():
    """1.7308 RMSE_r (FGDC-STD-007.3-1998, appendix 3-A)."""
    found = check_points.nssda_horizontal(0.03, 0.03)
    assert found.case == "equal"
    assert_allclose(found.value, 1.7308 * 0.03 * 2**0.5, rtol=1e-4)


def test_a_mean_below_what_is_measured_is_no_bias():
    for off, said in ((0.9, False), (1.1, True)):
        same = np.full(30, off * CHECK_POINTS.min_spread)
        found = assess_points(same, same)
        assert any("systematic" in caution for caution in found.cautions) == said
