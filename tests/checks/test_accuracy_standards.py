"""Accuracy statistics against values from publications and against closed forms."""

import numpy as np
import pytest
from scipy import optimize, stats

from curbwright.shared.arrays.ragged import MAD_TO_SIGMA
from curbwright.shared.lines import check_points

# ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 1 (2014), Annex D: five
# points, metres. Rows and results are from memory; all of them reproduce.
MAP = np.array(
    [
        (359584.394, 5142449.934, 477.127),
        (359872.190, 5147939.180, 412.406),
        (359893.089, 5136979.824, 487.292),
        (359927.194, 5151084.129, 393.591),
        (372737.074, 5151675.999, 451.305),
    ]
)
CHECK = np.array(
    [
        (359584.534, 5142450.004, 477.198),
        (359872.290, 5147939.280, 412.396),
        (359893.072, 5136979.894, 487.190),
        (359927.264, 5151083.979, 393.691),
        (372736.944, 5151675.879, 451.218),
    ]
)


@pytest.fixture(scope="module")
def annex_d():
    return check_points.assess_points(*(MAP - CHECK).T)


@pytest.mark.parametrize(
    ("axis", "mean", "sd", "rmse"),
    [("east", -0.033, 0.108, 0.102), ("north", 0.006, 0.119, 0.106), ("up", 0.006, 0.091, 0.081)],
)
def test_annex_d_by_axis(annex_d, axis, mean, sd, rmse):
    of = getattr(annex_d, axis)
    assert of.count == 5
    assert (round(of.mean, 3), round(of.sd, 3), round(of.rmse, 3)) == (mean, sd, rmse)


def test_annex_d_in_all(annex_d):
    assert round(annex_d.rmse_r, 3) == 0.147
    # as printed there, by 1.7308 RMSEr
    assert round(check_points.NSSDA_RMSE_R * annex_d.rmse_r, 3) == 0.255
    # by the approximation for unequal axes, which differ here by 5 %
    assert round(annex_d.nssda_h.value, 3) == 0.255
    assert annex_d.nssda_h.case == "unequal"
    assert round(annex_d.nssda_v, 3) == 0.160
    assert (
        annex_d.sentences[0] == "Tested 0.255 metres horizontal accuracy at 95 % confidence level."
    )
    assert annex_d.sentences[1] == "Tested 0.160 metres vertical accuracy at 95 % confidence level."


# RMSEmax = 1. Computed from the formulas of FGDC-STD-007.3-1998, Appendix 3-A (formulas from
# memory), and by numerical integration of the bivariate normal distribution.
@pytest.mark.parametrize(
    ("ratio", "approximation", "radial", "exact"),
    [
        (1, 2.4477, 2.4477, 2.4477),
        (0.9, 2.3253, 2.3286, 2.3318),
        (0.8, 2.2029, 2.2165, 2.2303),
        (0.7, 2.0805, 2.1127, 2.146),
        (0.6, 1.9582, 2.0184, 2.0813),
        (0.5, 1.8358, 1.9351, 2.0359),
        (0.2, 1.4686, 1.7651, 1.9704),
    ],
)
@pytest.mark.parametrize("turned", [False, True])
def test_unequal_axes(ratio, approximation, radial, exact, turned):
    axes = (1.0, ratio) if not turned else (ratio, 1.0)
    found = check_points.nssda_horizontal(*axes)
    assert found.ratio == ratio
    assert round(check_points.NSSDA_RADIUS * 0.5 * sum(axes), 4) == approximation
    # 1.7308 is rounded itself
    assert round(check_points.NSSDA_RMSE_R * np.hypot(*axes), 4) == pytest.approx(
        radial, abs=1.01e-4
    )
    assert round(found.exact, 4) == exact
    if ratio < 0.6:
        assert found.case == "none" and np.isnan(found.value)
    else:
        assert found.case == ("equal" if ratio == 1 else "unequal")
        assert round(found.value, 4) == pytest.approx(approximation, abs=1.01e-4)


def test_no_value_below_the_ratio_and_the_sentence_says_so():
    rng = np.random.default_rng(4)
    found = check_points.assess_points(rng.normal(0, 0.02, 40), rng.normal(0, 0.10, 40))
    assert np.isnan(found.nssda_h.value)
    assert (
        found.sentences[0].startswith("The NSSDA gives no horizontal accuracy here")
        and "0.6" in found.sentences[0]
    )
    assert f"{found.nssda_h.exact:.3f} metres" in found.sentences[0]


# ASPRS Edition 2: sqrt(fit^2 + survey^2). Formula from memory, values computed.
@pytest.mark.parametrize(
    ("fit", "survey", "product"),
    [
        (0.04, 0.02, 0.044721),
        (0.05, 0.02, 0.053852),
        (0.1, 0.02, 0.101980),
        (0.03, 0.01, 0.031623),
        (0.02, 0.014, 0.024413),
    ],
)
def test_error_of_the_check_points_adds_up(fit, survey, product):
    assert round(check_points.combined(fit, survey), 6) == product
    offsets = np.full(36, fit / np.sqrt(2))
    offsets[::2] *= -1
    found = check_points.assess_points(
        offsets, offsets[::-1], np.tile([fit, -fit], 18), survey, survey
    )
    assert round(found.rmse_h, 6) == product and round(found.rmse_v, 6) == product
    assert found.rmse_3d == pytest.approx(np.sqrt(2) * product, abs=2e-6)


def test_three_dimensional():
    # RMSE_3D of 0.040 and 0.030 is 0.050: a right-angled triangle.
    found = check_points.assess_points([0.04, -0.04], [0.0, 0.0], [0.03, -0.03])
    assert found.rmse_3d == pytest.approx(0.05, abs=1e-15)


# Closed forms of the normal and Rayleigh distributions; the printed values are those of
# FGDC-STD-007.3-1998 (from memory).
@pytest.mark.parametrize(
    ("constant", "exact", "printed"),
    [
        (check_points.NSSDA_RADIUS, np.sqrt(-2 * np.log(0.05)), 2.4477),
        (check_points.NSSDA_RMSE_R, np.sqrt(-np.log(0.05)), 1.7308),
        (check_points.NSSDA_LINEAR, stats.norm.ppf(0.975), 1.9600),
    ],
)
def test_constants(constant, exact, printed):
    assert constant == printed
    assert abs(exact - printed) < 5e-5


def test_factor_from_median_deviation_to_sigma():
    assert pytest.approx(1 / stats.norm.ppf(0.75), rel=1e-15) == MAD_TO_SIGMA


def test_radius_of_a_circle_and_of_a_line():
    assert check_points.radius_95(1.0, 1.0) == pytest.approx(2.447747, abs=1e-6)
    assert check_points.radius_95(1.0, 0.0) == pytest.approx(1.959964, abs=1e-5)
    assert check_points.radius_95(0.0, 0.0) == 0.0


@pytest.mark.one_in(2)
@pytest.mark.parametrize("ratio", [0.05, 0.3, 0.55, 0.85])
def test_radius_against_another_way_to_compute_it(ratio):
    # P(X^2 + r^2 Y^2 < R^2), the inner integral by the error function, the outer one by quadrature.
    from scipy.integrate import quad

    def inside(radius):
        def strip(x):
            return stats.norm.pdf(x) * (2 * stats.norm.cdf(np.sqrt(radius**2 - x**2) / ratio) - 1)

        return 2 * quad(strip, 0, radius, limit=200)[0]

    expected = optimize.brentq(lambda radius: inside(radius) - 0.95, 1.5, 3.0)
    assert check_points.radius_95(1.0, ratio) == pytest.approx(expected, abs=1e-6)


def test_hampel_by_hand():
    # Median 10.01, median deviation 0.01, limit 3 x 1.4826 x 0.01 = 0.0445: worked by hand.
    values = np.array([10.00, 10.02, 9.99, 10.50, 10.01, 10.00, 10.03])
    assert check_points.outliers(values).tolist() == [
        False,
        False,
        False,
        True,
        False,
        False,
        False,
    ]
    at_the_limit = np.append(values[[0, 1, 2, 4, 5, 6]], 10.01 + 0.044)
    assert not check_points.outliers(at_the_limit).any()


def test_offsets_across_lines_hold_95_percent_of_a_normal_distribution():
    rng = np.random.default_rng(8)
    offsets = rng.normal(0.0, 0.05, 200_000)
    found = check_points.assess_lines(offsets)
    # 3 sigma of a share of 200,000: 0.0015. The radial factors would hold 98.6 % and 91.7 %.
    assert np.mean(np.abs(offsets) <= found.across_95) == pytest.approx(0.95, abs=0.0015)
