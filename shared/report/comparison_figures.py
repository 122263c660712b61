"""Tables and figures of a comparison: counts, offsets, shift, map, offsets along edges."""

import numpy as np

from ..lines.comparison import (
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
    TITLES,
    limit_in_words,
    limits,
    metres,
    offsets_of,
    present,
    shift_in_words,
)
from .page import facts, figure, number, paragraphs, percent, section, table, text

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
        row = [f"{TITLES[status]} {maps.key(maps.SCHEME[status])}", MEANINGS[status]]
        for statistics, absent in (
            (edges, (ONLY_EXISTING, NOT_VISITED)),
            (existing, (ONLY_NEW,)),
        ):
            row += (
                ["", ""]
                if status in absent
                else [
                    f"{comparison.count(statistics, status):,}",
                    number(comparison.length_of(statistics, status), 1),
                ]
            )
        rows.append(row)
    rows.append(
        [
            "all",
            "",
            f"{present(edges):,}",
            number(comparison.edge_length, 1),
            f"{present(existing):,}",
            number(comparison.existing_length, 1),
        ]
    )
    head = ["Status", "Meaning", "Edges", "m", "Existing", "m"]
    return table(head, rows, (2, 3, 4, 5), total=True) + _overall(comparison)


def _overall(comparison):
    """Shares and lengths of the layers as wholes."""
    overlay = comparison.buffer
    return facts(
        [
            (
                "Length with a counterpart",
                (
                    f"edges {percent(comparison.edge_matched_share, 1)}, existing lines"
                    f" {percent(comparison.existing_matched_share, 1)}"
                ),
            ),
            (
                "Existing lines visited",
                (
                    f"{metres(comparison.visited_length, 1)} of"
                    f" {metres(comparison.existing_length, 1)}"
                ),
            ),
            (
                "Completeness",
                (
                    f"{percent(overlay.completeness, 1)} of the edges lie within"
                    f" {metres(overlay.width)} of an existing line"
                ),
            ),
            (
                "Correctness",
                (
                    f"{percent(overlay.correctness, 1)} of the existing lines, as far as they were"
                    f" visited, lie within {metres(overlay.width)} of an edge"
                ),
            ),
            (
                "Area between the lines",
                f"{number(comparison.layer.area_per_metre, 3)} m² for each metre of matched line",
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
        Markup; empty where there is nothing to draw.
    """
    svg, tolerance = maps.status_map(comparison, changes)
    if not svg:
        return ""
    statistics = comparison.edge_statistics, comparison.existing_statistics
    legend = [
        (maps.SCHEME[status], TITLES[status])
        for status in (AGREES, DISPLACED, PARTLY, ONLY_NEW, ONLY_EXISTING, NOT_VISITED)
        if any(comparison.count(side, status) for side in statistics)
    ]
    legend.append((maps.BEHIND, "existing line of another status"))
    samples = "".join(f"<span>{maps.key(style)} {words}</span> " for style, words in legend)
    where = (
        "existing lines as given, the shift still in them"
        if comparison.shift_removed
        else "existing lines as the layer shows them"
    )
    numbers = (
        " Numbers are those of the lists; the"
        f" {maps.MOST_NUMBERS} greatest changes have theirs on the map."
        if len(changes) > maps.MOST_NUMBERS
        else " Numbers are those of the lists."
        if len(changes)
        else ""
    )
    caption = (
        f'<span class="keys">{samples}</span><br>Edges where they were surveyed, {where}; lines are'
        f" simplified by up to {metres(tolerance)}. North is that of the edges' CRS.{numbers}"
    )
    return figure(svg, caption)


_STATISTICS = (
    ("Stations", "stations", None),
    ("Matched length (m)", "matched_length", 1),
    ("Mean (m)", "offset_mean", 3),
    ("Median (m)", "offset_median", 3),
    ("Standard deviation (m)", "offset_sd", 3),
    ("RMSE (m)", "offset_rmse", 3),
    ("95 % within (m)", "offset_p95", 3),
    ("Maximum (m)", "offset_max", 3),
    ("Hausdorff distance (m)", "hausdorff", 3),
    ("Robust spread (m)", "typical", 3),
    ("Height, mean (m)", "up_mean", 3),
    ("Height, RMSE (m)", "up_rmse", 3),
)
_SIGNED = {"offset_mean", "offset_median", "up_mean"}


def _statistics(columns):
    """Statistics of stretches side by side, each a name and its `LayerStatistics`."""
    rows = []
    for label, name, decimals in _STATISTICS:
        values = [getattr(layer, name) for _, layer in columns]
        if not np.isfinite(values).any():
            continue  # heights that nothing has
        rows.append(
            [
                label,
                *(
                    f"{value:,}" if decimals is None else number(value, decimals, name in _SIGNED)
                    for value in values
                ),
            ]
        )
    return table(
        ["Offsets by status of the existing line", *(name for name, _ in columns)],
        rows,
        range(1, len(columns) + 1),
        "keep",
    )


def _columns(comparison):
    """What has statistics of its own: lines that agree, lines that moved, and all together."""
    columns = [
        (TITLES[status], offsets_of(comparison, status)) for status in (AGREES, DISPLACED, PARTLY)
    ]
    columns = [(name, layer) for name, layer in columns if layer.stations]
    left_in, taken_out = comparison.before, comparison.after
    if comparison.shift_removed:
        return [*columns, ("all", comparison.layer), ("all, shift left in", left_in)]
    if comparison.shift.significant:
        return [*columns, ("all", comparison.layer), ("all, shift taken out", taken_out)]
    return [*columns, ("all", comparison.layer)]


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
    if plots.available():
        histogram = plots.histogram(stations.offset, stations.weight, before, typical)
        progress(0.5)
        curve = plots.cumulative(stations.offset, stations.weight, before)
        parts.append(
            '<div class="pair">'
            + figure(
                histogram,
                "Offsets by length. What lies outside the axis is counted in the last bar.",
            )
            + figure(curve, "Share of the matched length within an offset, with the line of 95 %.")
            + "</div>"
        )
    else:
        parts.append(_offset_tables(stations))
    return section("Offsets", *parts)


def _offset_tables(stations):
    """The two plots as tables."""
    bins = plots.histogram_bins(stations.offset, stations.weight)
    length, _ = np.histogram(
        np.clip(stations.offset, bins[0], bins[-1]), bins, weights=stations.weight
    )
    rows = [
        [
            f"{number(low, 3, True)} to {number(high, 3, True)}",
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
        table(["Offset (m)", "Length (m)", "Share"], rows, (1, 2))
        + table(["Share of the matched length", "lies within (m)"], shares, (1,))
        + '<p class="note">Plots need the Python package matplotlib, which is not installed'
        " here.</p>"
    )


def shift_table(comparison, crs_warning):
    """The shift of the whole layer with its test; what makes it doubtful stands beside it.

    Parameters
    ----------
    comparison : Comparison
    crs_warning : str
        What makes the shift doubtful; empty for nothing.

    Returns
    -------
    str
        Markup.
    """
    shift = comparison.shift
    doubt = [text(crs_warning)] if crs_warning else []
    if shift.reason:
        return section(
            "Shift of the whole layer", paragraphs([text(shift_in_words(comparison)), *doubt])
        )
    rows = _shift_rows(shift)
    test = (
        f"Test value {number(shift.statistic, 2)}, limit {number(shift.critical, 2)} at"
        f" {percent(shift.confidence, 1)} confidence (F, {shift.degrees[0]:,} and"
        f" {shift.degrees[1]:,} degrees of freedom):"
        f" {'significant' if shift.significant else 'not significant'}. Estimated from"
        f" {shift.used_lines:,} lines, {metres(shift.used_length, 0)} of"
        f" {metres(shift.offered_length, 0)}; what really moved has little or no weight."
    )
    parts = [
        table(["Existing layer minus edges", "m", "1-sigma"], rows, (1, 2)) if rows else "",
        paragraphs([test], "note"),
        paragraphs(doubt) if doubt else "",
    ]
    return section("Shift of the whole layer", *parts)


def _shift_rows(shift):
    """What was estimated, each with its sigma."""
    rows = []
    if shift.determined:
        rows += [
            ["East", number(shift.east, 3, True), number(shift.sigma_east)],
            ["North", number(shift.north, 3, True), number(shift.sigma_north)],
        ]
    elif np.isfinite(shift.across):
        rows.append(
            [
                f"Across azimuth {number(shift.undetermined_azimuth, 0)}°",
                number(shift.across, 3, True),
                number(shift.sigma_across),
            ]
        )
        rows.append(
            [f"Along azimuth {number(shift.undetermined_azimuth, 0)}°", "undetermined", "–"]
        )
    if shift.model != "translation":
        rows.append(
            [
                "Rotation (″)",
                number(np.degrees(shift.rotation) * 3600, 1, True),
                number(np.degrees(shift.sigma_rotation) * 3600, 1),
            ]
        )
    if shift.model == "similarity":
        rows.append(
            [
                "Scale (ppm)",
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
                    f"<b>No. {label}</b> Edge {name}: maximum {number(offset[top], 3, True)} m at"
                    f" {number(chainage[top], 1)} m. Hatched: within the limit.",
                )
            )
        rows.append(
            [
                f"{label}",
                name,
                f"{number(chainage[0], 1)} to {number(chainage[-1], 1)}",
                number(float(np.median(offset)), 3, True),
                number(offset[top], 3, True),
                number(chainage[top], 1),
            ]
        )
    return section("Offsets along the worst edges", _along(figures, rows))


def _along(figures, rows):
    """The figures side by side, or what they would show as a table."""
    if figures:
        return f'<div class="pair">{"".join(figures)}</div>'
    return table(
        ["No.", "Edge", "Matched from, to (m)", "Median (m)", "Maximum (m)", "at (m)"],
        rows,
        (2, 3, 4, 5),
    )
