"""The report of a check against check points."""

from dataclasses import dataclass
from typing import Optional

import numpy as np
import shapely

from ..language import counted, marked, tr, whole
from ..lines.comparison_results import AGREES
from ..lines.point_pairs import BEYOND_END, NO_PARTNER, NO_POSITION, USED
from . import maps, plots
from .page import (
    BLANK,
    GREATEST,
    TitleBlock,
    appendix,
    bullets,
    capped,
    ending,
    facts,
    figure,
    first_page,
    identifier,
    number,
    paragraphs,
    section,
    table,
    text,
    towards,
    unbroken,
    write_page,
)

_STATES = {
    USED: marked("used"),
    BEYOND_END: marked("beyond the end of a line"),
    NO_PARTNER: marked("without partner"),
    NO_POSITION: marked("without position"),
}


@dataclass(frozen=True)
class CheckContext:
    """Contents of the report besides the statistics. Texts may hold anything: they are escaped.

    Attributes
    ----------
    tested, check : str
        Names of the layers.
    crs, check_crs : str
    made : str
        Date and time.
    search_distance : float
        Metres; infinite if pairs were made by identifier.
    labels : sequence of str, length n
        Identifiers of the check points.
    state : ndarray of int, shape (n,)
        Place in `point_pairs.STATE_NAMES`.
    tested_ids : sequence of str or None, length n
    d_east, d_north, d_up, offset : ndarray of float, shape (n,)
        Metres, NaN for none.
    outlier : ndarray of bool, shape (n,)
    producer : str
    block : TitleBlock
    xy : ndarray of float, shape (n, 2), optional
        Positions of the check points for the map, metres in a frame; NaN for none.
    lines : Lines, optional
        The tested lines in that frame.
    inputs : sequence of tuple of str
        Further facts about the inputs: name and words.
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
    xy: Optional[np.ndarray] = None
    lines: object = None
    inputs: tuple = ()


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
    order = _order(accuracy, context)
    stated = [tr("Statements after the standards"), bullets(map(text, accuracy.sentences))]
    if accuracy.cautions:
        stated += [f"<h3>{tr('Reservations')}</h3>", bullets(map(text, accuracy.cautions))]
    body = [
        first_page(
            section(
                tr("In short"),
                f'<div class="lead">{paragraphs(_verdict(accuracy, context))}</div>',
            ),
            _map(context, order),
            section(tr("The greatest errors"), _greatest(accuracy, context, order)),
        ),
        section(*stated),
        section(tr("Statistics"), _statistics(accuracy, _plot(accuracy, context))),
        section(tr("Check points"), _list(accuracy, context, order)),
        ending(
            [
                tr(
                    "Outliers are part of all figures. A point may be left out only where a cause"
                    " is found, and then the reason belongs into the report."
                )
            ]
        ),
        appendix(
            section(tr("What was compared"), _compared(accuracy, context)),
            section(tr("Method and standards"), bullets(_method(accuracy))),
        ),
    ]
    write_page(
        path,
        tr("Accuracy against check points"),
        tr("{} against {}").format(text(context.tested), text(context.check)),
        "\n".join(part for part in body if part),
        context.block,
        context.made,
    )


def _verdict(accuracy, context):
    """The answer in three sentences."""
    used = int(np.count_nonzero(context.state == USED))
    up = number(accuracy.up.rmse) if accuracy.up else "–"
    up95 = number(accuracy.nssda_v) if accuracy.up else "–"
    counts = whole(used), whole(len(context.state))
    if accuracy.against_lines:
        first = tr("Check points used: {} of {}. RMSE {} m across the lines, {} m in height.")
        second = tr("At 95 % confidence that is {} m across the lines and {} m in height.")
        flat, flat95 = accuracy.across.rmse, accuracy.across_95
    else:
        first = tr("Check points used: {} of {}. RMSE {} m in plan (radial), {} m in height.")
        second = tr("At 95 % confidence that is {} m in plan and {} m in height.")
        flat, of = accuracy.rmse_r, accuracy.nssda_h
        flat95 = of.value if np.isfinite(of.value) else of.exact
    off = counted(
        int(np.count_nonzero(context.outlier)),
        marked("{} check point is an outlier"),
        marked("{} check points are outliers"),
    )
    doubts = counted(
        len(accuracy.cautions), marked("{} reservation is stated on the next page"),
        marked("{} reservations are stated on the next page"),
    )  # fmt: skip
    return [
        first.format(*counts, number(flat), up),
        second.format(number(flat95), up95),
        f"{off}; {doubts}.",
    ]


def _order(accuracy, context):
    """Rows of the check points in the order in which they are numbered and listed: outliers first,
    then by size of error, those set aside last."""
    size = (
        np.abs(context.offset)
        if accuracy.against_lines
        else np.hypot(context.d_east, context.d_north)
    )
    size = np.where(context.state == USED, np.nan_to_num(size), -1.0)
    return np.lexsort((-size, ~context.outlier))


def _map(context, order):
    """The tested lines and the check points, the greatest errors with their numbers."""
    if context.xy is None:
        return ""
    used = context.state == USED
    there = np.isfinite(context.xy).all(axis=1)
    kinds = (
        ("aside", ~used, marked("check point set aside")),
        ("point", used & ~context.outlier, marked("check point")),
        ("outlier", context.outlier, marked("outlier")),
    )
    drawn = (
        [] if context.lines is None else [(maps.SCHEME[AGREES], maps.geometries(context.lines)[0])]
    )
    numbers = [
        (place + 1, shapely.points(context.xy[row : row + 1]))
        for place, row in enumerate(order[:GREATEST].tolist())
        if there[row] and used[row]
    ]
    svg, tolerance = maps.line_map(
        drawn,
        numbers,
        tr("Map of the check points"),
        [(mark, context.xy[some & there]) for mark, some, _ in kinds],
    )
    if not svg:
        return ""
    keys = [(maps.key(style), tr("tested line")) for style, _ in drawn]
    keys += [
        (maps.mark_key(mark), tr(words)) for mark, some, words in kinds if (some & there).any()
    ]
    samples = "".join(f"<span>{sample} {words}</span> " for sample, words in keys)
    said = tr(
        "Lines are simplified by up to {} m. North is up. Numbers are those of the lists."
    ).format(number(tolerance, 2))
    return figure(svg, f'<span class="keys">{samples}</span><br>{said}')


def _greatest(accuracy, context, order):
    """The errors of the first page."""
    rows = []
    for place, row in enumerate(order[:GREATEST].tolist()):
        if context.state[row] != USED:
            break
        east, north = context.d_east[row], context.d_north[row]
        flat = abs(context.offset[row]) if accuracy.against_lines else np.hypot(east, north)
        rows.append(
            [
                f"{place + 1}",
                identifier(context.labels[row]),
                identifier(context.tested_ids[row] or "–"),
                number(flat),
                unbroken(towards(np.degrees(np.arctan2(east, north)))),
                number(context.d_up[row], 3, True),
                tr("outlier") if context.outlier[row] else tr("used"),
            ]
        )
    across = tr("Across (m)") if accuracy.against_lines else tr("In plan (m)")
    head = [tr("No."), tr("Check point"), tr("Tested"), across, tr("Towards"), tr("Up (m)")]
    return table([*head, tr("State")], rows, (3, 5))


def _compared(accuracy, context):
    """The inputs and how they were paired, as a table."""
    counts = np.bincount(context.state, minlength=len(_STATES)).tolist()

    def stated(value):
        return f"{number(value)} m" if value > 0 else tr("not stated")

    return facts(
        [
            (
                tr("Tested lines") if accuracy.against_lines else tr("Tested points"),
                f"{text(context.tested)}<br>{tr('CRS')} {text(context.crs)}",
            ),
            (
                tr("Check points"),
                f"{text(context.check)}<br>{tr('CRS')} {text(context.check_crs)}",
            ),
            (
                tr("Counts"),
                ", ".join(
                    f"{whole(counts[state])} {tr(words)}"
                    for state, words in _STATES.items()
                    if counts[state] or state == USED
                ),
            ),
            (
                tr("Paired by"),
                (
                    tr("nearness, within {} m").format(number(context.search_distance, 2))
                    if np.isfinite(context.search_distance)
                    else tr("identifier")
                ),
            ),
            (
                tr("Accuracy of the check points"),
                (
                    tr("horizontal RMSE (radial) {}, vertical RMSE {}").format(
                        stated(accuracy.survey_h), stated(accuracy.survey_v)
                    )
                ),
            ),
            *((text(name), text(words)) for name, words in context.inputs),
            (tr("Checked"), text(context.made)),
            (tr("Program"), text(context.producer)),
        ]
    )


def _statistics(accuracy, plot):
    """Statistics of each component and of all together, with the plot beside them."""
    columns = [
        (name, of)
        for name, of in (
            (tr("east"), accuracy.east),
            (tr("north"), accuracy.north),
            (tr("across"), accuracy.across),
            (tr("up"), accuracy.up),
        )
        if of
    ]
    rows = [[tr("Count"), *(whole(of.count) for _, of in columns)]]
    for label, name, sign in (
        (tr("Mean (m)"), "mean", True),
        (tr("Median (m)"), "median", True),
        (tr("Standard deviation, n − 1 (m)"), "sd", False),
        (tr("RMSE (m)"), "rmse", False),
        (tr("Minimum (m)"), "least", True),
        (tr("Maximum (m)"), "greatest", True),
    ):
        rows.append([label, *(number(getattr(of, name), 3, sign) for _, of in columns)])
    made = table(
        [
            (
                tr("Tested minus check")
                if not accuracy.against_lines
                else tr("Offset across the line, height")
            ),
            *(name for name, _ in columns),
        ],
        rows,
        range(1, len(columns) + 1),
    )
    together = [
        (tr("RMSE radial"), accuracy.rmse_r),
        (
            tr("NSSDA horizontal accuracy, 95 %"),
            accuracy.nssda_h.value if accuracy.nssda_h else np.nan,
        ),
        (
            tr("Exact 95 % radius of normal errors"),
            accuracy.nssda_h.exact if accuracy.nssda_h else np.nan,
        ),
        (tr("Accuracy across the line, 95 %"), accuracy.across_95),
        (tr("RMSE across, check points included"), accuracy.rmse_across),
        (tr("NSSDA vertical accuracy, 95 %"), accuracy.nssda_v),
        (tr("ASPRS RMSE_H, check points included"), accuracy.rmse_h),
        (tr("ASPRS RMSE_V, check points included"), accuracy.rmse_v),
        (tr("ASPRS RMSE_3D"), accuracy.rmse_3d),
    ]
    stated = table(
        [tr("All together"), "m"],
        [[label, number(value)] for label, value in together if np.isfinite(value)],
        (1,),
        "keep",
    )
    return f'<div class="pair"><div>{made}{stated}</div><div>{plot}</div></div>'


def _plot(accuracy, context):
    """The plot of the errors, or a note if it cannot be drawn."""
    used = context.state == USED
    if not plots.available():
        return paragraphs(
            [tr("The plot needs the Python package matplotlib, which is not installed here.")],
            "note",
        )
    if accuracy.against_lines:
        offset, limit = context.offset[used], accuracy.across_95
        return figure(
            plots.histogram(
                offset,
                np.ones(len(offset)),
                None,
                limit,
                tr("check points"),
                tr("offset across the line (m)"),
                "95 %",
            ),
            tr(
                "Offsets across the lines, + where the check point lies to the right. What lies"
                " outside the axis is counted in the last bar."
            ),
            "single",
        )
    radius = (
        accuracy.nssda_h.value if np.isfinite(accuracy.nssda_h.value) else accuracy.nssda_h.exact
    )
    label = tr("NSSDA 95 %") if np.isfinite(accuracy.nssda_h.value) else tr("95 % radius")
    return figure(
        plots.scatter(
            context.d_east[used], context.d_north[used], context.outlier[used], radius, label
        ),
        tr("Horizontal errors, tested minus check."),
        "single",
    )


def _list(accuracy, context, order):
    """All check points with their errors."""
    shown, sentence = capped(order, tr("check points"))

    def value(values, row):
        return number(values[row], 3, True) if context.state[row] == USED else "–"

    columns = (
        [(tr("Across (m)"), context.offset)]
        if accuracy.against_lines
        else [(tr("East (m)"), context.d_east), (tr("North (m)"), context.d_north)]
    )
    columns.append((tr("Up (m)"), context.d_up))
    rows = [
        [
            f"{place}",
            identifier(context.labels[row]),
            identifier(context.tested_ids[row] or "–"),
            *(value(values, row) for _, values in columns),
            tr("outlier") if context.outlier[row] else tr(_STATES[int(context.state[row])]),
        ]
        for place, row in enumerate(shown.tolist(), start=1)
    ]
    head = [tr("No."), tr("Check point"), tr("Tested"), *(name for name, _ in columns), tr("State")]
    return table(head, rows, range(3, 3 + len(columns))) + sentence


def _method(accuracy):
    """Method and standards, a paragraph each."""
    said = [
        tr(
            "Errors are tested minus check, metres on the ground along the axes of the tested"
            " layer's CRS. RMSE divides by the number of points; the mean is not removed."
        )
    ]
    if accuracy.against_lines:
        said.append(
            tr(
                "Each check point is compared with the nearest place on the nearest line, + where"
                " the check point lies to the right of the line. That is one signed value, so the"
                " factor of the normal distribution applies (1.9600), not the radial ones (2.4477,"
                " 1.7308). Points beyond the end of a line are set aside."
            )
        )
    else:
        said.append(
            tr(
                "NSSDA (FGDC-STD-007.3-1998): horizontal accuracy at 95 % is 1.7308 RMSEr where"
                " RMSE east and north are equal, and 2.4477 × ½ (RMSE east + RMSE north) where the"
                " smaller is at least 0.6 of the greater. Below that the standard gives no value."
            )
        )
    said += [
        (
            tr(
                "Vertical accuracy at 95 % after the NSSDA is 1.9600 RMSE. At least 20 well-defined"
                " check points from an independent source of higher accuracy are asked for."
            )
        ),
        (
            tr(
                "ASPRS Positional Accuracy Standards, Edition 2, Version 2 (2024): the RMSE of the"
                " product is √(fit² + check points²); RMSE_3D is √(RMSE_H² + RMSE_V²). At least 30"
                " check points are asked for, twice as accurate as the product."
            )
        ),
        (
            tr(
                "Outliers: farther from the median than three robust standard deviations (1.4826"
                " times the median deviation, 1 mm at least) in any component."
            )
        ),
    ]
    return said
