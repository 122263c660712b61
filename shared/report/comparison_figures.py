"""Tables and figures of a comparison: counts, offsets, shift, map, offsets along edges."""

import numpy as np

from ..language import marked, tr, whole
from ..lines.comparison_results import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
)
from . import maps, plots
from .comparison_words import (
    MEANINGS,
    limit_in_words,
    limits,
    metres,
    offsets_of,
    present,
    shift_in_words,
    title,
)
from .page import facts, figure, number, paragraphs, percent, section, table, text, unbroken

WORST = 6  # edges whose offsets are drawn along them


def summary(comparison):
    """Lines and lengths by status, and shares of the whole layers.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    str
        Markup.
    """
    edges, existing = comparison.edge_statistics, comparison.existing_statistics
    rows = []
    for status in (AGREES, DISPLACED, PARTLY, ONLY_NEW, ONLY_EXISTING, NOT_VISITED):
        key = maps.key(maps.SCHEME[status])
        row = [unbroken(f"{title(status)} {key}"), tr(MEANINGS[status])]
        for statistics, absent in (
            (edges, (ONLY_EXISTING, NOT_VISITED)),
            (existing, (ONLY_NEW,)),
        ):
            row += (
                ["", ""]
                if status in absent
                else [
                    whole(comparison.count(statistics, status)),
                    number(comparison.length_of(statistics, status), 1),
                ]
            )
        rows.append(row)
    rows.append(
        [
            tr("all"),
            "",
            whole(present(edges)),
            number(comparison.edge_length, 1),
            whole(present(existing)),
            number(comparison.existing_length, 1),
        ]
    )
    head = [tr("Status"), tr("Meaning"), tr("Edges"), "m", tr("Existing"), "m"]
    return table(head, rows, (2, 3, 4, 5), total=True) + _overall(comparison)


def _overall(comparison):
    """Shares and lengths of the layers as wholes."""
    overlay = comparison.buffer
    return facts(
        [
            (
                tr("Length with a counterpart"),
                (
                    tr("edges {}, existing lines {}").format(
                        percent(comparison.edge_matched_share, 1),
                        percent(comparison.existing_matched_share, 1),
                    )
                ),
            ),
            (
                tr("Existing lines visited"),
                (
                    tr("{} of {}").format(
                        metres(comparison.visited_length, 1), metres(comparison.existing_length, 1)
                    )
                ),
            ),
            (
                tr("Completeness"),
                (
                    tr("{} of the edges lie within {} of an existing line").format(
                        percent(overlay.completeness, 1), metres(overlay.width)
                    )
                ),
            ),
            (
                tr("Correctness"),
                (
                    tr(
                        "{} of the existing lines, as far as they were visited, lie within {} of an"
                        " edge"
                    ).format(percent(overlay.correctness, 1), metres(overlay.width))
                ),
            ),
            (
                tr("Area between the lines"),
                tr("{} m² for each metre of matched line").format(
                    number(comparison.layer.area_per_metre, 3)
                ),
            ),
        ]
    )


def status_figure(comparison, changes):
    """The map with its legend.

    Parameters
    ----------
    comparison : Comparison
    changes : Changes

    Returns
    -------
    str
        Markup; empty if there is nothing to draw.
    """
    svg, tolerance = maps.status_map(comparison, changes)
    if not svg:
        return ""
    statistics = comparison.edge_statistics, comparison.existing_statistics
    legend = [
        (maps.SCHEME[status], title(status))
        for status in (AGREES, DISPLACED, PARTLY, ONLY_NEW, ONLY_EXISTING, NOT_VISITED)
        if any(comparison.count(side, status) for side in statistics)
    ]
    legend.append((maps.BEHIND, tr("existing line of another status")))
    samples = "".join(f"<span>{maps.key(style)} {words}</span> " for style, words in legend)
    where = (
        tr("existing lines as given, the shift still in them")
        if comparison.shift_removed
        else tr("existing lines as the layer shows them")
    )
    numbers = (
        tr(
            "Numbers are those of the lists; the {} greatest changes have theirs on the map."
        ).format(maps.MOST_NUMBERS)
        if len(changes) > maps.MOST_NUMBERS
        else tr("Numbers are those of the lists.")
        if len(changes)
        else ""
    )
    said = tr(
        "Edges where they were surveyed, {}; lines are simplified by up to {}. North is that of the"
        " edges' CRS."
    ).format(where, metres(tolerance))
    caption = f'<span class="keys">{samples}</span><br>{said} {numbers}'
    return figure(svg, caption)


_STATISTICS = (
    (marked("Stations"), "stations", None),
    (marked("Matched length (m)"), "matched_length", 1),
    (marked("Mean (m)"), "offset_mean", 3),
    (marked("Median (m)"), "offset_median", 3),
    (marked("Standard deviation (m)"), "offset_sd", 3),
    (marked("RMSE (m)"), "offset_rmse", 3),
    (marked("95 % within (m)"), "offset_p95", 3),
    (marked("Maximum (m)"), "offset_max", 3),
    (marked("Hausdorff distance (m)"), "hausdorff", 3),
    (marked("Robust spread (m)"), "typical", 3),
    (marked("Height, mean (m)"), "up_mean", 3),
    (marked("Height, RMSE (m)"), "up_rmse", 3),
)
_SIGNED = {"offset_mean", "offset_median", "up_mean"}


def _statistics(columns):
    """Table of statistics side by side; `columns`: pairs of a name and `LayerStatistics`."""
    rows = []
    for label, name, decimals in _STATISTICS:
        values = [getattr(layer, name) for _, layer in columns]
        if not np.isfinite(values).any():
            continue  # no line has heights
        rows.append(
            [
                tr(label),
                *(
                    whole(value) if decimals is None else number(value, decimals, name in _SIGNED)
                    for value in values
                ),
            ]
        )
    return table(
        [tr("Offsets by status of the existing line"), *(name for name, _ in columns)],
        rows,
        range(1, len(columns) + 1),
        "keep",
    )


def _columns(comparison):
    """Names and statistics of the columns: lines that agree, that moved, and all together."""
    columns = [
        (title(status), offsets_of(comparison, status)) for status in (AGREES, DISPLACED, PARTLY)
    ]
    columns = [(name, layer) for name, layer in columns if layer.stations]
    left_in, taken_out = comparison.before, comparison.after
    if comparison.shift_removed:
        return [*columns, (tr("all"), comparison.layer), (tr("all, shift left in"), left_in)]
    if comparison.shift.significant:
        return [*columns, (tr("all"), comparison.layer), (tr("all, shift taken out"), taken_out)]
    return [*columns, (tr("all"), comparison.layer)]


def offset_figures(comparison, progress):
    """Statistics of the offsets, their histogram and cumulative curve.

    Parameters
    ----------
    comparison : Comparison
    progress : callable
        Called with the share of this part that is done; may raise.

    Returns
    -------
    str
        Markup.
    """
    stations = comparison.stations
    if not len(stations):
        return ""
    before = stations.offset_before if comparison.shift_removed else None
    typical, greatest = limits(comparison)
    parts = [
        _statistics(_columns(comparison)),
        paragraphs([text(limit_in_words(comparison, typical, greatest))]),
    ]
    progress(0.0)
    if plots.available():
        progress(0.2)  # the first time it has loaded the package
        histogram = plots.histogram(stations.offset, stations.weight, before, typical)
        progress(0.5)
        curve = plots.cumulative(stations.offset, stations.weight, before)
        parts.append(
            '<div class="pair">'
            + figure(
                histogram,
                tr("Offsets by length. What lies outside the axis is counted in the last bar."),
            )
            + figure(
                curve, tr("Share of the matched length within an offset, with the line of 95 %.")
            )
            + "</div>"
        )
    else:
        parts.append(_offset_tables(stations))
    return section(tr("Offsets"), *parts)


def _offset_tables(stations):
    """The two plots as tables."""
    bins = plots.histogram_bins(stations.offset, stations.weight)
    length, _ = np.histogram(
        np.clip(stations.offset, bins[0], bins[-1]), bins, weights=stations.weight
    )
    rows = [
        [
            tr("{} to {}").format(number(low, 3, True), number(high, 3, True)),
            number(metres, 1),
            percent(metres / stations.weight.sum(), 1),
        ]
        for low, high, metres in zip(bins[:-1], bins[1:], length)
    ]
    x, share = plots.cumulative_points(stations.offset, stations.weight)
    shares = [
        [percent(at), number(float(x[min(np.searchsorted(share, at - 1e-12), len(x) - 1)]))]
        for at in (0.5, 0.683, 0.9, 0.95, 0.99, 1.0)
    ]
    return (
        table([tr("Offset (m)"), tr("Length (m)"), tr("Share")], rows, (1, 2))
        + table([tr("Share of the matched length"), tr("lies within (m)")], shares, (1,))
        + paragraphs(
            [tr("Plots need the Python package matplotlib, which is not installed here.")], "note"
        )
    )


def shift_table(comparison, crs_warning):
    """The shift of the whole layer with its test.

    Parameters
    ----------
    comparison : Comparison
    crs_warning : str
        Reason to doubt the shift; empty for none.

    Returns
    -------
    str
        Markup.
    """
    shift = comparison.shift
    doubt = [text(crs_warning)] if crs_warning else []
    if shift.reason:
        return section(
            tr("Shift of the whole layer"), paragraphs([text(shift_in_words(comparison)), *doubt])
        )
    rows = _shift_rows(shift)
    test = tr(
        "Test value {}, limit {} at {} confidence (F, {} and {} degrees of freedom): {}. Estimated"
        " from {} lines, {} of {}; what really moved has little or no weight."
    ).format(
        number(shift.statistic, 2),
        number(shift.critical, 2),
        percent(shift.confidence, 1),
        whole(shift.degrees[0]),
        whole(shift.degrees[1]),
        tr("significant") if shift.significant else tr("not significant"),
        whole(shift.used_lines),
        metres(shift.used_length, 0),
        metres(shift.offered_length, 0),
    )
    parts = [
        table([tr("Existing layer minus edges"), "m", tr("1-sigma")], rows, (1, 2)) if rows else "",
        paragraphs([test], "note"),
        paragraphs(doubt) if doubt else "",
    ]
    return section(tr("Shift of the whole layer"), *parts)


def _shift_rows(shift):
    """Rows of the estimated parameters with their sigmas."""
    rows = []
    if shift.determined:
        rows += [
            [tr("East"), number(shift.east, 3, True), number(shift.sigma_east)],
            [tr("North"), number(shift.north, 3, True), number(shift.sigma_north)],
        ]
    elif np.isfinite(shift.across):
        rows.append(
            [
                tr("Across azimuth {}°").format(number(shift.undetermined_azimuth, 0)),
                number(shift.across, 3, True),
                number(shift.sigma_across),
            ]
        )
        rows.append(
            [
                tr("Along azimuth {}°").format(number(shift.undetermined_azimuth, 0)),
                tr("undetermined"),
                "–",
            ]
        )
    if shift.model != "translation":
        rows.append(
            [
                tr("Rotation (″)"),
                number(np.degrees(shift.rotation) * 3600, 1, True),
                number(np.degrees(shift.sigma_rotation) * 3600, 1),
            ]
        )
    if shift.model == "similarity":
        rows.append(
            [
                tr("Scale (ppm)"),
                number(1e6 * (shift.scale - 1), 1, True),
                number(1e6 * shift.sigma_scale, 1),
            ]
        )
    return rows


def worst_edges(comparison, changes):
    """Rows of the edges with the greatest offsets among those that changed, the worst first.

    Parameters
    ----------
    comparison : Comparison
    changes : Changes

    Returns
    -------
    list of int
    """
    statistics = comparison.edge_statistics
    rows = np.flatnonzero(
        (changes.edge_number > 0) & (statistics.stations >= 2) & np.isfinite(statistics.offset_p95)
    )
    return rows[np.argsort(-statistics.offset_p95[rows], kind="stable")][:WORST].tolist()


def along_worst(comparison, context, changes, progress):
    """Offsets along the edges that changed most, against chainage.

    Parameters
    ----------
    comparison : Comparison
    context : ReportContext
    changes : Changes
    progress : callable
        Called with the share of this part that is done; may raise.

    Returns
    -------
    str
        Markup.
    """
    worst = worst_edges(comparison, changes)
    if not worst:
        return ""
    stations, figures, rows = comparison.stations, [], []
    drawing = plots.available()
    for place, row in enumerate(worst):
        progress(place / len(worst))
        label = changes.edge_number[row]
        mine = np.flatnonzero(stations.edge == row)
        mine = mine[np.argsort(stations.edge_chainage[mine], kind="stable")]
        chainage, offset = stations.edge_chainage[mine], stations.offset[mine]
        top = int(np.argmax(np.abs(offset)))
        name = text(context.edge_labels[row])
        if drawing:
            svg = plots.along(
                chainage, offset, stations.limit[mine], 3 * comparison.settings.station_spacing
            )
            figures.append(
                figure(
                    svg,
                    tr(
                        "<b>No. {}</b> Edge {}: maximum {} m at {} m. Band: within the limit."
                    ).format(label, name, number(offset[top], 3, True), number(chainage[top], 1)),
                )
            )
        rows.append(
            [
                f"{label}",
                name,
                tr("{} to {}").format(number(chainage[0], 1), number(chainage[-1], 1)),
                number(float(np.median(offset)), 3, True),
                number(offset[top], 3, True),
                number(chainage[top], 1),
            ]
        )
    return section(tr("Offsets along the worst edges"), _along(figures, rows))


def _along(figures, rows):
    """The figures side by side or, without any, a table instead."""
    if figures:
        return f'<div class="pair">{"".join(figures)}</div>'
    return table(
        [
            tr("No."),
            tr("Edge"),
            tr("Matched from, to (m)"),
            tr("Median (m)"),
            tr("Maximum (m)"),
            tr("at (m)"),
        ],
        rows,
        (2, 3, 4, 5),
    )
