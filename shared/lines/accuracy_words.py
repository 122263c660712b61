"""Positional accuracy in the wording of the standards, and reasons to doubt it."""

import numpy as np

from ..language import marked, number, tr
from ..tuning import CHECK_POINTS

# that the standards ask for; both from memory
NSSDA_LEAST_POINTS = 20
ASPRS_LEAST_POINTS = 30


def sentences_of_points(found):
    """Results for points in the wording of the standards.

    Parameters
    ----------
    found : Accuracy
        Against points.

    Returns
    -------
    list of str
    """
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


def cautions_of_points(found):
    """Reasons to doubt the results for points.

    Parameters
    ----------
    found : Accuracy
        Against points.

    Returns
    -------
    list of str
    """
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


def sentences_of_lines(found):
    """Results for lines in the wording of the standards.

    Parameters
    ----------
    found : Accuracy
        Against lines.

    Returns
    -------
    list of str
    """
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


def cautions_of_lines(found):
    """Reasons to doubt the results for lines.

    Parameters
    ----------
    found : Accuracy
        Against lines.

    Returns
    -------
    list of str
    """
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
