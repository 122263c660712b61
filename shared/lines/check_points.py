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
from scipy.spatial import cKDTree

from ..arrays.ragged import MAD_TO_SIGMA
from ..language import marked, number, tr
from ..tuning import CHECK_POINTS

# As printed in the NSSDA, so that its results come out to the last digit.
NSSDA_RADIUS = 2.4477  # sqrt(-2 ln 0.05): 95 % radius over the standard deviation of one axis
NSSDA_RMSE_R = 1.7308  # sqrt(-ln 0.05): 95 % radius over the radial RMSE
NSSDA_LINEAR = 1.9600  # 95 % of a normal distribution, two-sided
NSSDA_LEAST_RATIO = 0.6  # of RMSEmin to RMSEmax, below which the approximation is not allowed
NSSDA_LEAST_POINTS = 20
ASPRS_LEAST_POINTS = 30


USED, BEYOND_END, NO_PARTNER, NO_POSITION = range(4)  # what became of a check point
STATE_NAMES = ("used", "beyond_end", "no_partner", "no_position")


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


# Results in words


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
        sentences=tuple(_sentences_of_points(found)),
        cautions=tuple(_cautions_of_points(found)),
    )


def _sentences_of_points(found):
    """Results for points in the wording of the standards."""
    nssda_h, up = found.nssda_h, found.up
    sentences = []
    if nssda_h.case == "none":
        sentences.append(
            tr(
                "The NSSDA gives no horizontal accuracy here: RMSE east and north are {} and {}"
                " metres, a ratio of {}, and its approximation ends at 0.6. The radius that holds"
                " 95 % of normal errors with these RMSEs is {} metres."
            ).format(
                number(found.east.rmse, 3),
                number(found.north.rmse, 3),
                number(nssda_h.ratio, 2),
                number(nssda_h.exact, 3),
            )
        )
    else:
        sentences.append(
            tr("Tested {} metres horizontal accuracy at 95 % confidence level.").format(
                number(nssda_h.value, 3)
            )
        )
    if up:
        sentences.append(_nssda_v_sentence(found))
    stated = _asprs(
        marked(
            "Tested horizontal positional accuracy, RMSE_H: {} metres (fit to check points {},"
            " check points {})."
        ),
        found.rmse_r,
        found.survey_h,
        found.rmse_h,
    )
    sentences.append(
        tr("{} This meets a {} horizontal positional accuracy class.").format(
            stated, _class(found.rmse_h)
        )
    )
    if up:
        sentences.append(_asprs_v_sentence(found))
        sentences.append(
            tr("Tested three-dimensional positional accuracy, RMSE_3D: {} metres.").format(
                number(found.rmse_3d, 3)
            )
        )
    return sentences


def _nssda_v_sentence(found):
    return tr("Tested {} metres vertical accuracy at 95 % confidence level.").format(
        number(found.nssda_v, 3)
    )


def _asprs_v_sentence(found):
    stated = _asprs(
        marked(
            "Tested vertical positional accuracy, RMSE_V: {} metres (fit to check points {}, check"
            " points {})."
        ),
        found.up.rmse,
        found.survey_v,
        found.rmse_v,
    )
    return tr("{} This meets a {} vertical positional accuracy class.").format(
        stated, _class(found.rmse_v)
    )


def _cautions_of_points(found):
    """Reasons to doubt the results for points."""
    cautions = _few(found.east.count, found.up)
    if found.nssda_h.case == "unequal":
        cautions.append(
            tr(
                "RMSE east and north differ (ratio {}): the NSSDA's approximation, 2.4477 × ½ (RMSE"
                " east + RMSE north), is optimistic then; the exact radius is {} metres."
            ).format(number(found.nssda_h.ratio, 2), number(found.nssda_h.exact, 3))
        )
    cautions += _biased(
        ((marked("east"), found.east), (marked("north"), found.north), (marked("up"), found.up))
    )
    cautions += _poor_check(found.rmse_r, found.survey_h, marked("horizontal"))
    cautions += _poor_check(found.up.rmse, found.survey_v, marked("vertical")) if found.up else []
    return cautions


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
        sentences=tuple(_sentences_of_lines(found)),
        cautions=tuple(_cautions_of_lines(found)),
    )


def _sentences_of_lines(found):
    """Results for lines in the wording of the standards."""
    share = found.survey_h / np.sqrt(2)
    sentences = [
        (
            tr(
                "Tested {} metres accuracy across the line at 95 % confidence level (1.9600 × RMSE:"
                " an offset across a line is one value, so the factor of the normal distribution is"
                " the right one)."
            ).format(number(found.across_95, 3))
        ),
        (
            tr(
                "RMSE across the line with the error of the check points: {} metres (fit {}, check"
                " points {} in one direction)."
            ).format(number(found.rmse_across, 3), number(found.across.rmse, 3), number(share, 3))
        ),
    ]
    if found.up:
        sentences += [_nssda_v_sentence(found), _asprs_v_sentence(found)]
    return sentences


def _cautions_of_lines(found):
    """Reasons to doubt the results for lines."""
    cautions = [
        tr(
            "Offsets across a line show nothing of the error along it: this is no horizontal"
            " accuracy after the NSSDA, and no RMSE_H after ASPRS. Both need well-defined points,"
            " such as corners and ramp ends."
        )
    ]
    cautions += _few(found.across.count, found.up)
    cautions += _biased(((marked("across"), found.across), (marked("up"), found.up)))
    cautions += _poor_check(found.across.rmse, found.survey_h / np.sqrt(2), marked("horizontal"))
    cautions += _poor_check(found.up.rmse, found.survey_v, marked("vertical")) if found.up else []
    return cautions


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


def _asprs(sentence, fit, survey, total):
    """A sentence of ASPRS Edition 2 with its three figures."""
    stated = number(survey, 3) if survey > 0 else tr("0.000, not stated")
    return tr(sentence).format(number(total, 3), number(fit, 3), stated)


def _class(total):
    """The smallest class in whole centimetres: class “X-cm” means RMSE <= X cm."""
    return f"{max(int(np.ceil(round(100 * total, 6))), 1)}-cm"


def _few(count, of_up):
    """Cautions where there are fewer points than the standards ask for."""
    counts = [(count, marked("Check points: {}."))]
    if of_up and of_up.count != count:
        counts.append((of_up.count, marked("Check points with a height: {}.")))
    said = []
    for found, what in counts:
        if found < NSSDA_LEAST_POINTS:
            rule = tr(
                "The NSSDA asks for at least {}, ASPRS Edition 2 for at least {}: too few to state"
                " an accuracy after either."
            ).format(NSSDA_LEAST_POINTS, ASPRS_LEAST_POINTS)
        elif found < ASPRS_LEAST_POINTS:
            rule = tr("ASPRS Edition 2 asks for at least {}: enough for the NSSDA only.").format(
                ASPRS_LEAST_POINTS
            )
        else:
            continue
        said.append(f"{tr(what).format(found)} {rule}")
    return said


def _biased(components):
    """Cautions about means that cannot be chance: beyond `CHECK_POINTS.bias_limit` of their own
    standard deviations."""
    said = []
    for name, of in components:
        if (
            of
            and of.count > 2
            and abs(of.mean) > CHECK_POINTS.bias_limit * of.sd / np.sqrt(of.count)
            and abs(of.mean) > CHECK_POINTS.min_spread
        ):
            said.append(
                tr(
                    "Mean {}: {} metres (standard deviation {}). This is no chance: a systematic"
                    " shift is in the data. Both standards take errors to have no bias; the mean is"
                    " part of the RMSE."
                ).format(tr(name), number(of.mean, 3, True), number(of.sd, 3))
            )
    return said


def _poor_check(fit, survey, what):
    """Cautions about the check points: ASPRS Edition 2 asks for twice the accuracy of the product
    (from memory)."""
    if not survey > 0:
        return [
            tr(
                "The {} accuracy of the check points is not stated: it counts as zero, which"
                " flatters the result."
            ).format(tr(what))
        ]
    if 2 * survey > fit:
        return [
            tr(
                "The check points ({} RMSE {} metres) are not twice as accurate as what is tested"
                " ({}): much of the error found may be their own."
            ).format(tr(what), number(survey, 3), number(fit, 3))
        ]
    return []


# Pairs


def pair_points(tested, check, greatest):
    """Pair points with check points that are each other's nearest and within a distance.

    Parameters
    ----------
    tested : ndarray of float, shape (m, 2)
    check : ndarray of float, shape (n, 2)
        Metres in one frame; NaN for no position.
    greatest : float
        Search distance, metres.

    Returns
    -------
    ndarray of int64, shape (n,)
        Row of `tested` for each check point, -1 for none; no row occurs twice. Of several points in
        one place the first is taken.
    """
    partner = np.full(len(check), -1, np.int64)
    has_tested, has_check = _first_in_each_place(tested), _first_in_each_place(check)
    if not (has_tested.size and has_check.size):
        return partner
    distance, there = cKDTree(tested[has_tested]).query(check[has_check])
    back = cKDTree(check[has_check]).query(tested[has_tested])[1]
    mutual = (back[there] == np.arange(has_check.size)) & (distance <= greatest)
    partner[has_check[mutual]] = has_tested[there[mutual]]
    return partner


def _first_in_each_place(xy):
    """Rows with a position that no row before has: a tree of equal ones has but one leaf, which
    each query would go through."""
    rows = np.flatnonzero(np.isfinite(xy).all(axis=1))
    return rows[np.sort(np.unique(xy[rows], axis=0, return_index=True)[1])]


def pair_names(tested, check):
    """Pair rows by name.

    Parameters
    ----------
    tested, check : sequence of str
        Empty for none.

    Returns
    -------
    ndarray of int64, shape (n,)
        Row of `tested` for each name of `check`, -1 for none.

    Raises
    ------
    ValueError
        If a name occurs twice on one side; the message is that name.
    """
    rows = {}
    for row, name in enumerate(tested):
        if name and name in rows:
            raise ValueError(name)
        rows[name] = row
    rows.pop("", None)
    seen = set()
    for name in check:
        if name and name in seen:
            raise ValueError(name)
        seen.add(name)
    return np.array([rows.get(name, -1) for name in check], np.int64).reshape(len(check))
