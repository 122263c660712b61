"""The report of a check against check points."""

from dataclasses import dataclass

import numpy as np

from ..lines.check_points import BEYOND_END, NO_PARTNER, NO_POSITION, USED
from . import plots
from .page import (
    BLANK,
    TitleBlock,
    appendix,
    bullets,
    capped,
    ending,
    facts,
    figure,
    number,
    paragraphs,
    section,
    table,
    text,
    write_page,
)

_STATES = {
    USED: "used",
    BEYOND_END: "beyond the end of a line",
    NO_PARTNER: "without partner",
    NO_POSITION: "without position",
}


@dataclass(frozen=True)
class CheckContext:
    """What the report says besides the statistics. Texts may hold anything: they are escaped.

    Attributes
    ----------
    tested, check : str
        Names of the layers.
    crs, check_crs : str
    made : str
        Date and time.
    search_distance : float
        Metres; infinite where pairs were made by identifier.
    labels : sequence of str, length n
        Identifiers of the check points.
    state : ndarray of int, shape (n,)
        Place in `check_points.STATE_NAMES`.
    tested_ids : sequence of str or None, length n
    d_east, d_north, d_up, offset : ndarray of float, shape (n,)
        Metres, NaN where there is none.
    outlier : ndarray of bool, shape (n,)
    producer : str
    block : TitleBlock
    """

    tested: str
    check: str
    crs: str
    check_crs: str
    made: str
    search_distance: float
    labels: tuple
    state: np.ndarray
    tested_ids: tuple
    d_east: np.ndarray
    d_north: np.ndarray
    d_up: np.ndarray
    offset: np.ndarray
    outlier: np.ndarray
    producer: str = "Curbwright"
    block: TitleBlock = BLANK


def write_check_report(path, accuracy, context):
    """Write the report as one HTML file.

    Parameters
    ----------
    path : path
    accuracy : Accuracy
    context : CheckContext

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    body = [
        section(
            "In short",
            f'<div class="lead">{paragraphs(text(one) for one in accuracy.sentences)}</div>',
            bullets([text(one) for one in accuracy.cautions]),
        ),
        section("Statistics", _statistics(accuracy), _plot(accuracy, context)),
        section("Check points", _list(accuracy, context)),
        ending(
            [
                "Outliers are part of all figures. A point may be left out only where a cause is"
                " found, and then the reason belongs into the report."
            ]
        ),
        appendix(
            section("Method and standards", bullets(_method(accuracy))),
            section("What was compared", _compared(accuracy, context)),
        ),
    ]
    write_page(
        path,
        "Accuracy against check points",
        f"{text(context.tested)} against {text(context.check)}",
        "\n".join(part for part in body if part),
        context.block,
        context.made,
    )


def _compared(accuracy, context):
    counts = np.bincount(context.state, minlength=len(_STATES)).tolist()

    def stated(value):
        return f"{number(value)} m" if value > 0 else "not stated"

    return facts(
        [
            (
                "Tested " + ("lines" if accuracy.against_lines else "points"),
                f"{text(context.tested)}<br>CRS {text(context.crs)}",
            ),
            ("Check points", f"{text(context.check)}<br>CRS {text(context.check_crs)}"),
            (
                "Counts",
                ", ".join(
                    f"{counts[state]:,} {words}"
                    for state, words in _STATES.items()
                    if counts[state] or state == USED
                ),
            ),
            (
                "Paired by",
                (
                    f"nearness, within {number(context.search_distance, 2)} m"
                    if np.isfinite(context.search_distance)
                    else "identifier"
                ),
            ),
            (
                "Accuracy of the check points",
                (
                    f"horizontal RMSE (radial) {stated(accuracy.survey_h)}, vertical RMSE"
                    f" {stated(accuracy.survey_v)}"
                ),
            ),
            ("Made", f"{text(context.made)}, {text(context.producer)}"),
        ]
    )


def _statistics(accuracy):
    columns = [
        (name, of)
        for name, of in (
            ("east", accuracy.east),
            ("north", accuracy.north),
            ("across", accuracy.across),
            ("up", accuracy.up),
        )
        if of
    ]
    rows = [["Count", *(f"{of.count:,}" for _, of in columns)]]
    for label, name, sign in (
        ("Mean (m)", "mean", True),
        ("Median (m)", "median", True),
        ("Standard deviation, n − 1 (m)", "sd", False),
        ("RMSE (m)", "rmse", False),
        ("Minimum (m)", "least", True),
        ("Maximum (m)", "greatest", True),
    ):
        rows.append([label, *(number(getattr(of, name), 3, sign) for _, of in columns)])
    made = table(
        [
            (
                "Tested minus check"
                if not accuracy.against_lines
                else "Offset across the line, height"
            ),
            *(name for name, _ in columns),
        ],
        rows,
        range(1, len(columns) + 1),
    )
    whole = [
        ("RMSE radial", accuracy.rmse_r),
        ("NSSDA horizontal accuracy, 95 %", accuracy.nssda_h.value if accuracy.nssda_h else np.nan),
        (
            "Exact 95 % radius of normal errors",
            accuracy.nssda_h.exact if accuracy.nssda_h else np.nan,
        ),
        ("Accuracy across the line, 95 %", accuracy.across_95),
        ("RMSE across, check points included", accuracy.rmse_across),
        ("NSSDA vertical accuracy, 95 %", accuracy.nssda_v),
        ("ASPRS RMSE_H, check points included", accuracy.rmse_h),
        ("ASPRS RMSE_V, check points included", accuracy.rmse_v),
        ("ASPRS RMSE_3D", accuracy.rmse_3d),
    ]
    return made + table(
        ["All together", "m"],
        [[label, number(value)] for label, value in whole if np.isfinite(value)],
        (1,),
        "narrow keep",
    )


def _plot(accuracy, context):
    used = context.state == USED
    if not plots.available():
        return (
            '<p class="note">The plot needs the Python package matplotlib, which is not installed'
            " here.</p>"
        )
    if accuracy.against_lines:
        offset, limit = context.offset[used], accuracy.across_95
        return figure(
            plots.histogram(
                offset,
                np.ones(len(offset)),
                None,
                limit,
                "check points",
                "offset across the line (m)",
                "95 %",
            ),
            "Offsets across the lines, + where the check point lies to the right. What lies outside"
            " the axis is counted in the last bar.",
            "single",
        )
    radius = (
        accuracy.nssda_h.value if np.isfinite(accuracy.nssda_h.value) else accuracy.nssda_h.exact
    )
    label = "NSSDA 95 %" if np.isfinite(accuracy.nssda_h.value) else "95 % radius"
    return figure(
        plots.scatter(
            context.d_east[used], context.d_north[used], context.outlier[used], radius, label
        ),
        "Horizontal errors, tested minus check.",
        "single",
    )


def _list(accuracy, context):
    size = (
        np.abs(context.offset)
        if accuracy.against_lines
        else np.hypot(context.d_east, context.d_north)
    )
    size = np.where(context.state == USED, np.nan_to_num(size), -1.0)
    order = np.lexsort((-size, ~context.outlier))
    shown, sentence = capped(order, "check points")

    def value(values, row):
        return number(values[row], 3, True) if context.state[row] == USED else "–"

    columns = (
        [("Across (m)", context.offset)]
        if accuracy.against_lines
        else [("East (m)", context.d_east), ("North (m)", context.d_north)]
    )
    columns.append(("Up (m)", context.d_up))
    rows = [
        [
            text(context.labels[row]),
            text(context.tested_ids[row] or "–"),
            *(value(values, row) for _, values in columns),
            "outlier" if context.outlier[row] else _STATES[int(context.state[row])],
        ]
        for row in shown.tolist()
    ]
    return (
        table(
            ["Check point", "Tested", *(name for name, _ in columns), "State"],
            rows,
            range(2, 2 + len(columns)),
            "",
        )
        + sentence
    )


def _method(accuracy):
    said = [
        "Errors are tested minus check, metres on the ground along the axes of the tested layer's"
        " CRS. RMSE divides by the number of points; the mean is not removed."
    ]
    if accuracy.against_lines:
        said.append(
            "Each check point is compared with the nearest place on the nearest line, + where the"
            " check point lies to the right of the line. That is one signed value, so the factor of"
            " the normal distribution applies (1.9600), not the radial ones (2.4477, 1.7308)."
            " Points beyond the end of a line are set aside."
        )
    else:
        said.append(
            "NSSDA (FGDC-STD-007.3-1998): horizontal accuracy at 95 % is 1.7308 RMSEr where RMSE"
            " east and north are equal, and 2.4477 × ½ (RMSE east + RMSE north) where the smaller"
            " is at least 0.6 of the greater. Below that the standard gives no value."
        )
    said += [
        (
            "Vertical accuracy at 95 % after the NSSDA is 1.9600 RMSE. At least 20 well-defined"
            " check points from an independent source of higher accuracy are asked for."
        ),
        (
            "ASPRS Positional Accuracy Standards, Edition 2, Version 2 (2024): the RMSE of the"
            " product is √(fit² + check points²); RMSE_3D is √(RMSE_H² + RMSE_V²). At least 30"
            " check points are asked for, twice as accurate as the product."
        ),
        (
            "Outliers: farther from the median than three robust standard deviations (1.4826 times"
            " the median deviation, 1 mm at least) in any component."
        ),
    ]
    return said
