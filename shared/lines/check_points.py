"""Positional accuracy against check points after NSSDA and ASPRS Edition 2, with outliers and
cautions.

Errors are *tested minus check*, in metres, and the mean is not removed: a shift is an error like
any other.

Against lines, only the offset across the line shows. It is one signed value per point, so the
factor of the one-dimensional normal distribution applies (1.9600), never those of the radius
(2.4477, 1.7308).

Sources: FGDC-STD-007.3-1998, Part 3: National Standard for Spatial Data Accuracy (NSSDA), section
3.2 and Appendix 3-A; ASPRS Positional Accuracy Standards for Digital Geospatial Data, Edition 2,
Version 2, 2024. The formulas of both are given from memory; every constant follows from its
definition, as the tests show.
"""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import MAD_TO_SIGMA
from ..tuning import CHECK_POINTS
from .accuracy_words import (
    cautions_of_lines,
    cautions_of_points,
    sentences_of_lines,
    sentences_of_points,
)

# As printed in the NSSDA, so that its results come out to the last digit.
NSSDA_RADIUS = 2.4477  # sqrt(-2 ln 0.05): 95 % radius over the standard deviation of one axis
NSSDA_RMSE_R = 1.7308  # sqrt(-ln 0.05): 95 % radius over the radial RMSE
NSSDA_LINEAR = 1.9600  # 95 % of a normal distribution, two-sided
NSSDA_LEAST_RATIO = 0.6  # of RMSEmin to RMSEmax, below which the approximation is not allowed


@dataclass(frozen=True)
class Spread:
    """Statistics of one signed component, metres.

    Attributes
    ----------
    count : int
    mean, median : float
    sd : float
        With n - 1; NaN for fewer than two values.
    rmse : float
        With n, mean not removed.
    least, greatest : float
        Signed extremes.
    """

    count: int
    mean: float
    median: float
    sd: float
    rmse: float
    least: float
    greatest: float


@dataclass(frozen=True)
class Horizontal95:
    """NSSDA's horizontal accuracy, metres.

    Attributes
    ----------
    value : float
        Accuracy_r at 95 % confidence; NaN where the standard has no formula (`case` is ``none``).
    case : str
        ``equal``: 1.7308 RMSEr. ``unequal``: 2.4477 times half the sum of both. ``none``: ratio
        under 0.6.
    ratio : float
        Of the smaller RMSE to the greater; 1 where both are zero.
    exact : float
        95 % radius of a normal distribution without mean that has these RMSEs; holds for any ratio.
    """

    value: float
    case: str
    ratio: float
    exact: float


@dataclass(frozen=True)
class Accuracy:
    """Everything computed from one comparison with check points; metres, NaN if not applicable.

    Attributes
    ----------
    against_lines : bool
    east, north : Spread or None
        Of points; None against lines.
    across : Spread or None
        Offsets across lines; None against points.
    up : Spread or None
        None without heights.
    survey_h, survey_v : float
        RMSE of the survey of the check points: radial and vertical.
    rmse_r : float
        Radial RMSE of the fit, sqrt(RMSEe^2 + RMSEn^2) (ASPRS: RMSE_H1).
    nssda_h : Horizontal95 or None
    nssda_v : float
        1.9600 RMSEu.
    across_95 : float
        1.9600 times the RMSE across.
    rmse_h, rmse_v, rmse_3d : float
        With the error of the check points, as ASPRS Edition 2 combines them.
    rmse_across : float
        Likewise for lines, with survey_h / sqrt(2), its component in any one direction.
    sentences : tuple of str
        Results in the wording of the standards.
    cautions : tuple of str
        Reasons to doubt the results, in words.
    """

    against_lines: bool
    east: Spread
    north: Spread
    across: Spread
    up: Spread
    survey_h: float
    survey_v: float
    rmse_r: float
    nssda_h: Horizontal95
    nssda_v: float
    across_95: float
    rmse_h: float
    rmse_v: float
    rmse_3d: float
    rmse_across: float
    sentences: tuple
    cautions: tuple


# Statistics


def rmse(values):
    """Root mean square: divided by n, mean not removed; NaN for no values.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Metres.

    Returns
    -------
    float
        Metres.
    """
    values = np.asarray(values, float)
    return float(np.sqrt(np.mean(values**2))) if values.size else np.nan


def spread(values):
    """`Spread` of the finite values, or None if there are none.

    Parameters
    ----------
    values : array_like of float, shape (n,)
        Metres; NaN counts as absent.

    Returns
    -------
    Spread or None
    """
    values = np.asarray(values, float)
    values = values[np.isfinite(values)]
    if not values.size:
        return None
    sd = float(np.std(values, ddof=1)) if values.size > 1 else np.nan
    return Spread(
        values.size,
        float(values.mean()),
        float(np.median(values)),
        sd,
        rmse(values),
        float(values.min()),
        float(values.max()),
    )


def combined(fit, survey):
    """RMSE of a product with the error of its check points: sqrt(fit^2 + survey^2) (ASPRS Edition
    2; from memory).

    Parameters
    ----------
    fit, survey : float
        RMSE of the fit and of the check points' own survey, metres.

    Returns
    -------
    float
        Metres.
    """
    return float(np.hypot(fit, survey))


def radius_95(sigma_x, sigma_y):
    """Radius of the circle that holds 95 % of a normal distribution without mean and correlation.

    Parameters
    ----------
    sigma_x, sigma_y : float
        Standard deviations, in the unit of the result.

    Returns
    -------
    float

    Raises
    ------
    ValueError
        If a standard deviation is negative or not finite.

    Notes
    -----
    With g = cos^2 t / sx^2 + sin^2 t / sy^2 the share inside r is the mean over t of (1 - exp(-r^2
    g / 2)) / (g sx sy): the density in polar coordinates, integrated over the radius. The integrand
    is periodic in t, so that equal steps converge faster than any power; r is found by bisection.
    """
    if not (np.isfinite(sigma_x) and np.isfinite(sigma_y) and sigma_x >= 0 and sigma_y >= 0):
        raise ValueError(
            f"standard deviations must be finite and not negative, got {sigma_x} and {sigma_y}"
        )
    wide, narrow = max(sigma_x, sigma_y), min(sigma_x, sigma_y)
    if wide == 0:
        return 0.0
    ratio = max(narrow / wide, 1e-3)  # thinner makes no difference in six digits
    angle = np.linspace(0.0, np.pi, 20_000, endpoint=False)
    g = np.cos(angle) ** 2 + (np.sin(angle) / ratio) ** 2
    low, high = 1.9, 2.5  # between the factor of a line, 1.9600, and that of a circle, 2.4477
    for _ in range(50):
        middle = (low + high) / 2
        if np.mean(-np.expm1(-(middle**2) * g / 2) / (g * ratio)) < 0.95:
            low = middle
        else:
            high = middle
    return wide * (low + high) / 2


def nssda_horizontal(rmse_x, rmse_y):
    """Horizontal accuracy at 95 % confidence after the NSSDA.

    Parameters
    ----------
    rmse_x, rmse_y : float
        Metres.

    Returns
    -------
    Horizontal95
    """
    exact = radius_95(rmse_x, rmse_y)  # validates the values
    greater, smaller = max(rmse_x, rmse_y), min(rmse_x, rmse_y)
    ratio = smaller / greater if greater > 0 else 1.0
    if ratio >= CHECK_POINTS.equal_ratio:
        return Horizontal95(NSSDA_RMSE_R * float(np.hypot(rmse_x, rmse_y)), "equal", ratio, exact)
    if ratio >= NSSDA_LEAST_RATIO:
        return Horizontal95(NSSDA_RADIUS * 0.5 * (rmse_x + rmse_y), "unequal", ratio, exact)
    return Horizontal95(np.nan, "none", ratio, exact)


def nssda_vertical(rmse_z):
    """Vertical accuracy at 95 % confidence after the NSSDA: 1.9600 RMSE.

    Parameters
    ----------
    rmse_z : float
        Metres.

    Returns
    -------
    float
        Metres.
    """
    return NSSDA_LINEAR * rmse_z


def outliers(*components, limit=None):
    """Mask of the points that stand off from the others in any component.

    Parameters
    ----------
    *components : array_like of float, shape (n,)
        Errors in metres; NaN counts as absent.
    limit : float, optional
        In robust standard deviations; `CHECK_POINTS.outlier_limit` by default.

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    Hampel identifier: farther from the median than `limit` times 1.4826 times the median absolute
    deviation, or than `limit` times `CHECK_POINTS.min_spread`. Some 0.3 % of good points are
    flagged per component as well: they are to be inspected, and no statistic leaves them out.
    """
    limit = CHECK_POINTS.outlier_limit if limit is None else limit
    flagged = np.zeros(np.shape(components[0]), bool)
    for values in components:
        values = np.asarray(values, float)
        finite = np.isfinite(values)
        if not finite.any():
            continue
        away = np.abs(values - np.median(values[finite]))
        sigma = max(MAD_TO_SIGMA * float(np.median(away[finite])), CHECK_POINTS.min_spread)
        flagged |= finite & (away > limit * sigma)
    return flagged


# Assessments


def assess_points(east, north, up=None, survey_h=0.0, survey_v=0.0):
    """Accuracy of points against check points.

    Parameters
    ----------
    east, north : array_like of float, shape (n,)
        Tested minus check, metres.
    up : array_like of float, shape (n,), optional
        NaN if either has no height.
    survey_h, survey_v : float
        RMSE of the check points' own survey, radial and vertical, metres; 0 if unknown.

    Returns
    -------
    Accuracy

    Raises
    ------
    ValueError
        If there is no pair, the shapes differ, or a value is not finite.
    """
    east, north, up = _checked(east, north, up, survey_h, survey_v)
    of_east, of_north, of_up = spread(east), spread(north), spread(up)
    rmse_r = float(np.hypot(of_east.rmse, of_north.rmse))
    nssda_h = nssda_horizontal(of_east.rmse, of_north.rmse)
    rmse_h = combined(rmse_r, survey_h)
    rmse_v = combined(of_up.rmse, survey_v) if of_up else np.nan
    nssda_v = nssda_vertical(of_up.rmse) if of_up else np.nan
    found = Accuracy(
        against_lines=False,
        east=of_east,
        north=of_north,
        across=None,
        up=of_up,
        survey_h=survey_h,
        survey_v=survey_v,
        rmse_r=rmse_r,
        nssda_h=nssda_h,
        nssda_v=nssda_v,
        across_95=np.nan,
        rmse_h=rmse_h,
        rmse_v=rmse_v,
        rmse_3d=float(np.hypot(rmse_h, rmse_v)) if of_up else np.nan,
        rmse_across=np.nan,
        sentences=(),
        cautions=(),
    )
    return replace(
        found,
        sentences=tuple(sentences_of_points(found)),
        cautions=tuple(cautions_of_points(found)),
    )


def assess_lines(across, up=None, survey_h=0.0, survey_v=0.0):
    """Accuracy of lines against check points that lie on them.

    Parameters
    ----------
    across : array_like of float, shape (n,)
        Signed offset of each check point across the line, metres.
    up, survey_h, survey_v
        As in `assess_points`.

    Returns
    -------
    Accuracy
        Without NSSDA's horizontal accuracy and RMSE_H: both need two components, and a line shows
        only one.

    Raises
    ------
    ValueError
        As `assess_points`.
    """
    across, _, up = _checked(across, across, up, survey_h, survey_v)
    of_across, of_up = spread(across), spread(up)
    found = Accuracy(
        against_lines=True,
        east=None,
        north=None,
        across=of_across,
        up=of_up,
        survey_h=survey_h,
        survey_v=survey_v,
        rmse_r=np.nan,
        nssda_h=None,
        nssda_v=nssda_vertical(of_up.rmse) if of_up else np.nan,
        across_95=NSSDA_LINEAR * of_across.rmse,
        rmse_h=np.nan,
        rmse_v=combined(of_up.rmse, survey_v) if of_up else np.nan,
        rmse_3d=np.nan,
        rmse_across=combined(of_across.rmse, survey_h / np.sqrt(2)),
        sentences=(),
        cautions=(),
    )
    return replace(
        found,
        sentences=tuple(sentences_of_lines(found)),
        cautions=tuple(cautions_of_lines(found)),
    )


def _checked(first, second, up, survey_h, survey_v):
    """The errors as arrays of floats of one shape, after validation."""
    first, second = np.asarray(first, float), np.asarray(second, float)
    up = np.full(first.shape, np.nan) if up is None else np.asarray(up, float)
    if first.ndim != 1 or first.shape != second.shape or first.shape != up.shape:
        raise ValueError(
            f"errors must be one-dimensional and of one length, got shapes {first.shape},"
            f" {second.shape} and {up.shape}"
        )
    if not first.size:
        raise ValueError("no pair of a tested position and a check point")
    if not (np.isfinite(first).all() and np.isfinite(second).all()):
        raise ValueError("horizontal errors must be finite")
    for name, value in (("survey_h", survey_h), ("survey_v", survey_v)):
        if not (np.isfinite(value) and value >= 0):
            raise ValueError(f"{name} must be finite and not negative, got {value}")
    return first, second, up
