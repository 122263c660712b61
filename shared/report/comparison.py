"""The report of a comparison of edges with existing linework."""

from dataclasses import dataclass

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
from .page import (
    LIST_LIMIT,
    bullets,
    capped,
    ending,
    facts,
    figure,
    number,
    paragraphs,
    percent,
    section,
    table,
    text,
    write_page,
)

WORST = 6  # edges whose offsets are drawn along them
TITLES = {
    AGREES: "agrees",
    DISPLACED: "displaced",
    PARTLY: "partly matched",
    ONLY_NEW: "only new",
    ONLY_EXISTING: "only existing",
    NOT_VISITED: "not visited",
}
MEANINGS = {
    AGREES: "has a counterpart, and lies no farther from it than the uncertainty of both allows",
    DISPLACED: "has a counterpart, but lies farther from it than the uncertainty of both allows",
    PARTLY: "less than four fifths of it are of one kind: matched in part, or displaced in part",
    ONLY_NEW: "an edge without a counterpart among the existing lines",
    ONLY_EXISTING: "an existing line without a counterpart among the edges",
    NOT_VISITED: "an existing line outside the surveyed area: nothing is said of it",
}


@dataclass(frozen=True)
class ReportContext:
    """What the report says besides the numbers. Texts may hold anything: they are escaped.

    Attributes
    ----------
    edges, existing : str
        Names of the layers.
    edge_labels, existing_labels : sequence of str
        Identifier of each row, as people find it in the layer.
    edge_crs, existing_crs : str
        CRS of the layers.
    made : str
        Date and time of the comparison.
    dates : str
        Dates of the capture, empty where not known.
    parameters : tuple of (str, str)
        Further settings to print: name and value.
    notes : tuple of str
        What was said on the way and bears on the result, such as rows that were left out.
    producer : str
        Program and version.
    surveyed : str
        What counts as surveyed, in words; empty where all does.
    crs_warning : str
        What is to be said beside the shift of the operation that joins the two CRS.
    """

    edges: str
    existing: str
    edge_labels: tuple
    existing_labels: tuple
    edge_crs: str
    existing_crs: str
    made: str
    dates: str = ""
    parameters: tuple = ()
    notes: tuple = ()
    producer: str = "Curbwright"
    surveyed: str = ""
    crs_warning: str = ""


def write_report(path, comparison, context, progress=lambda share: None):
    """Write the report as one HTML file.

    Parameters
    ----------
    path : path
    comparison : Comparison
    context : ReportContext
    progress : callable
        Called with the share that is done, before the file is begun; may raise.

    Raises
    ------
    ValueError
        If there is not one identifier for each line.
    OSError
        If the file cannot be written.
    """
    subtitle = f"{text(context.edges)} against {text(context.existing)} · {text(context.made)}"
    write_page(
        path,
        "Comparison with existing linework",
        subtitle,
        "\n".join(report_sections(comparison, context, progress)),
    )


def report_sections(comparison, context, progress=lambda share: None, lead="In short"):
    """Make what stands on the page, section by section, the signatures last.

    Parameters
    ----------
    comparison : Comparison
    context : ReportContext
    progress : callable
        Called with the share that is done; may raise.
    lead : str
        Title of the first section.

    Returns
    -------
    list of str
        Markup.

    Raises
    ------
    ValueError
        If there is not one identifier for each line.
    """
    for name, labels, lines in (
        ("edge_labels", context.edge_labels, comparison.edges),
        ("existing_labels", context.existing_labels, comparison.existing),
    ):
        if len(labels) != lines.count:
            raise ValueError(
                f"{name} must hold one text for each of the {lines.count} lines, got {len(labels)}"
            )
    worst, parts = _worst(comparison), []
    for share, make in (
        (
            0.0,
            lambda: section(
                lead,
                f'<div class="lead">{paragraphs(map(text, _lead(comparison, context)))}</div>',
            ),
        ),
        (0.0, lambda: section("What was compared", _compared(comparison, context))),
        (0.0, lambda: section("Result by status", _summary(comparison))),
        (0.0, lambda: _map(comparison, worst)),
        (0.3, lambda: _offsets(comparison, lambda done: progress(0.3 + 0.2 * done))),
        (0.5, lambda: _shift(comparison, context.crs_warning)),
        (
            0.5,
            lambda: _along(comparison, context, worst, lambda done: progress(0.5 + 0.4 * done)),
        ),
        (0.9, lambda: _lists(comparison, context)),
        (1.0, lambda: section("Method and standards", bullets(_method(comparison)))),
        (1.0, lambda: ending(_own_cautions(comparison))),
    ):
        progress(share)
        parts.append(make())
    return [part for part in parts if part]


# In words


def _metres(value, decimals=2):
    return f"{number(value, decimals)} m"


def _present(statistics):
    """Number of lines; rows without length are none."""
    return int(np.count_nonzero(statistics.length > 0))


def _counted(count, one, several):
    return f"{count:,} {one if count == 1 else several}"


def _lines(count, what="existing line"):
    return f"{count:,} {what}{'' if count == 1 else 's'}"


def _limits(comparison):
    """Median and maximum limit over the matched stations; NaN where there are none."""
    limit = comparison.stations.limit
    return (float(np.median(limit)), float(np.max(limit))) if len(limit) else (np.nan, np.nan)


def findings(comparison):
    """The answer in a few sentences of plain text.

    Parameters
    ----------
    comparison : Comparison

    Returns
    -------
    list of str
    """
    said = [_counts_in_words(comparison), _shift_in_words(comparison)]
    if len(comparison.stations):
        said.insert(0, _verdicts_in_words(comparison))
    typical, greatest = _limits(comparison)
    if np.isfinite(typical):
        said += [_limit_in_words(comparison, typical, greatest), _offsets_in_words(comparison)]
    return said


def _lead(comparison, context):
    """The findings; what makes the shift doubtful stands beside it."""
    said = findings(comparison)
    if context.crs_warning:
        said.insert(said.index(_shift_in_words(comparison)) + 1, context.crs_warning)
    return said


def _verdicts_in_words(comparison):
    """How many existing lines are displaced with the shift left in, and without it."""
    left_in, taken_out = comparison.displaced_with_shift[0], comparison.displaced_without_shift[0]
    if not comparison.shift.significant:
        return (
            f"Displaced: {_lines(taken_out)}. The layer as a whole is not shifted significantly, so"
            " there is one verdict only."
        )
    return (
        f"Displaced: {_lines(left_in)} with the shift of the whole layer left in, {taken_out:,}"
        " with it taken out. What follows has it"
        f" {'taken out' if comparison.shift_removed else 'left in'}."
    )


def _counts_in_words(comparison):
    """How many lines have each status."""
    existing, edges = comparison.existing_statistics, comparison.edge_statistics
    if not len(comparison.stations):
        return (
            f"Nothing matches: no edge lies within {number(comparison.settings.max_offset, 2)} m of"
            " an existing line that runs its way. Check the CRS of both layers before anything"
            " else."
        )
    parts = [
        _counted(comparison.count(existing, status), *words)
        for status, words in (
            (AGREES, ("agrees with the edges", "agree with the edges")),
            (DISPLACED, ("is displaced", "are displaced")),
            (PARTLY, ("matches in part", "match in part")),
            (ONLY_EXISTING, ("has no counterpart", "have no counterpart")),
            (NOT_VISITED, ("was not visited", "were not visited")),
        )
        if status != NOT_VISITED or comparison.count(existing, NOT_VISITED)
    ]
    new = _counted(
        comparison.count(edges, ONLY_NEW),
        "is not in the existing layer",
        "are not in the existing layer",
    )
    return (
        f"Of {_lines(_present(existing))} ({_metres(comparison.existing_length, 0)}),"
        f" {', '.join(parts[:-1])} and {parts[-1]}. Of {_lines(_present(edges), 'edge')},"
        f" {new}."
    )


def _limit_in_words(comparison, typical, greatest):
    """From which offset on a line counts as displaced."""
    confidence = comparison.settings.confidence
    level = percent(confidence, 1 if round(100 * confidence, 6) % 1 else 0)
    span = (
        f"{number(typical, 2)} m"
        if greatest - typical < 0.005
        else f"{number(typical, 2)} m typically, {number(greatest, 2)} m at most"
    )
    of_edges = (
        "none of the edges, since no uncertainty of theirs was given."
        if comparison.sigma_assumed
        else "that of each edge."
    )
    return (
        "An offset counts as a displacement only where it is greater than the combined"
        f" uncertainty of both layers at {level} confidence: {span}. It is made of the stated"
        " uncertainty of the existing lines (1-sigma"
        f" {number(comparison.settings.existing_sigma, 3)} m) and {of_edges}"
    )


def _offsets_in_words(comparison):
    """How great the offsets are."""
    layer = comparison.layer
    typical = f"typically {number(layer.typical)} m" + (
        f" ({number(comparison.before.typical)} m with the shift)"
        if comparison.shift_removed
        else ""
    )
    heights = (
        f"; heights: mean {number(layer.up_mean, 3, True)} m, RMSE {number(layer.up_rmse)} m."
        if np.isfinite(layer.up_rmse)
        else "."
    )
    return (
        f"{'With the shift taken out, offsets' if comparison.shift_removed else 'Offsets'} over"
        f" {_metres(layer.matched_length, 0)} of matched line: {typical}, RMSE"
        f" {number(layer.offset_rmse)} m, 95 % within {number(layer.offset_p95)} m, maximum"
        f" {number(layer.offset_max)} m{heights}"
    )


def _shift_in_words(comparison):
    shift = comparison.shift
    if shift.reason:
        return (
            f"Whether the existing layer as a whole is shifted cannot be determined: {shift.reason}"
        )
    if not shift.determined and np.isfinite(shift.across):
        seen = (
            f"The lines all run one way (azimuth {number(shift.undetermined_azimuth, 0)}°), so a"
            " shift along it is undetermined. Across it the existing layer lies"
            f" {number(shift.across, 3, True)} m to the right (1-sigma"
            f" {number(shift.sigma_across)} m)"
        )
    elif shift.determined:
        seen = (
            f"As a whole the existing layer lies {_towards(shift.east, 'east', 'west')} and"
            f" {_towards(shift.north, 'north', 'south')} of the edges (1-sigma"
            f" {number(shift.sigma_east)} and {number(shift.sigma_north)} m)"
        )
    else:
        return (
            "Whether the existing layer as a whole is shifted cannot be determined from these"
            " lines."
        )
    if not shift.significant:
        return (
            f"{seen}. That is no more than chance: there is no shift of the whole layer to"
            " speak of."
        )
    if comparison.shift_removed:
        return (
            f"{seen}. That is more than chance: a shift of the whole layer, which was taken out"
            " before anything was judged."
        )
    return (
        f"{seen}. That is more than chance: a shift of the whole layer. It was not taken out, so"
        " part of what counts as displaced below is the shift and no change of the place."
    )


def _towards(value, positive, negative):
    return f"{number(abs(value))} m to the {positive if value >= 0 else negative}"


# Tables and figures


def _compared(comparison, context):
    settings = comparison.settings
    rows = [
        (
            "Edges (surveyed)",
            (
                f"{text(context.edges)}<br>{_present(comparison.edge_statistics):,} lines,"
                f" {_metres(comparison.edge_length, 1)}, CRS {text(context.edge_crs)}"
            ),
        ),
        (
            "Existing lines (judged)",
            (
                f"{text(context.existing)}<br>{_present(comparison.existing_statistics):,} lines,"
                f" {_metres(comparison.existing_length, 1)}, CRS {text(context.existing_crs)}"
            ),
        ),
        ("Captured", text(context.dates)) if context.dates else None,
        ("Compared", f"{text(context.made)}, {text(context.producer)}"),
        ("Search distance", _metres(settings.max_offset)),
        ("Station spacing", _metres(settings.station_spacing)),
        (
            "Uncertainty of existing lines",
            f"{_metres(settings.existing_sigma, 3)}, 1-sigma across the line",
        ),
        (
            "Uncertainty of edges",
            "not given, taken as 0" if comparison.sigma_assumed else "line by line, from the layer",
        ),
        ("Surveyed area", text(context.surveyed)) if context.surveyed else None,
        ("Confidence", percent(settings.confidence, 1)),
        (
            "Remove shift",
            (
                ("yes" if comparison.shift_removed else "asked for, but none is significant")
                if settings.remove_shift
                else "no"
            ),
        ),
        *((text(name), text(value)) for name, value in context.parameters),
    ]
    notes = bullets([text(note) for note in context.notes]) if context.notes else ""
    return facts([row for row in rows if row]) + notes


def _summary(comparison):
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
            f"{_present(edges):,}",
            number(comparison.edge_length, 1),
            f"{_present(existing):,}",
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
                    f"{_metres(comparison.visited_length, 1)} of"
                    f" {_metres(comparison.existing_length, 1)}"
                ),
            ),
            (
                "Completeness",
                (
                    f"{percent(overlay.completeness, 1)} of the edges lie within"
                    f" {_metres(overlay.width)} of an existing line"
                ),
            ),
            (
                "Correctness",
                (
                    f"{percent(overlay.correctness, 1)} of the existing lines lie within"
                    f" {_metres(overlay.width)} of an edge"
                ),
            ),
            (
                "Area between the lines",
                f"{number(comparison.layer.area_per_metre, 3)} m² for each metre of matched line",
            ),
        ]
    )


def _map(comparison, worst):
    svg, tolerance = maps.status_map(comparison, worst)
    if not svg:
        return ""
    legend = [
        (maps.SCHEME[status], TITLES[status])
        for status in (AGREES, DISPLACED, PARTLY, ONLY_NEW, ONLY_EXISTING, NOT_VISITED)
    ]
    legend.append((maps.BEHIND, "existing line of another status"))
    samples = "".join(f"<span>{maps.key(style)} {words}</span> " for style, words in legend)
    where = (
        "existing lines as given, the shift still in them"
        if comparison.shift_removed
        else "existing lines as the layer shows them"
    )
    caption = (
        f'<span class="keys">{samples}</span><br>Edges where they were surveyed, {where}; lines are'
        f" simplified by up to {_metres(tolerance)}. North is that of the edges' CRS."
        + (" Numbers: edges whose offsets are drawn below." if len(worst) else "")
    )
    return section("Map", figure(svg, caption))


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
    """Statistics of whole layers side by side."""
    rows = []
    for label, name, decimals in _STATISTICS:
        values = [getattr(layer, name) for _, layer in columns]
        if (name.startswith("up") and not np.isfinite(values).any()) or (
            name == "hausdorff" and not np.isfinite(values).all()
        ):
            # heights that nothing has; a distance that is only taken of the lines as judged
            continue
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
        ["Offsets, weighted by length", *(name for name, _ in columns)],
        rows,
        range(1, len(columns) + 1),
    )


def _offsets(comparison, progress):
    stations = comparison.stations
    if not len(stations):
        return ""
    before = stations.offset_before if comparison.shift_removed else None
    parts = [_statistics([("as judged", comparison.layer)])]
    if plots.available():
        histogram = plots.histogram(
            stations.offset, stations.weight, before, _limits(comparison)[0]
        )
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


def _shift(comparison, crs_warning):
    shift = comparison.shift
    doubt = [text(crs_warning)] if crs_warning else []
    if shift.reason:
        return section(
            "Shift of the whole layer", paragraphs([text(_shift_in_words(comparison)), *doubt])
        )
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
    test = (
        f"Test value {number(shift.statistic, 2)}, limit {number(shift.critical, 2)} at"
        f" {percent(shift.confidence, 1)} confidence (F, {shift.degrees[0]:,} and"
        f" {shift.degrees[1]:,} degrees of freedom):"
        f" {'significant' if shift.significant else 'not significant'}. Estimated from"
        f" {shift.used_lines:,} lines, {_metres(shift.used_length, 0)} of"
        f" {_metres(shift.offered_length, 0)}; what really moved has little or no weight."
    )
    parts = [
        table(["Existing layer minus edges", "m", "1-sigma"], rows, (1, 2)) if rows else "",
        paragraphs([test], "note"),
        paragraphs(doubt) if doubt else "",
        _statistics([("with the shift", comparison.before), ("without it", comparison.after)]),
    ]
    return section("Shift of the whole layer, before and after", *parts)


def _worst(comparison):
    """Rows of the edges with the greatest offsets among those that are displaced or match in part,
    the worst first."""
    statistics = comparison.edge_statistics
    rows = np.flatnonzero(
        np.isin(statistics.status, (DISPLACED, PARTLY))
        & (statistics.stations >= 2)
        & np.isfinite(statistics.offset_p95)
    )
    return rows[np.argsort(-statistics.offset_p95[rows], kind="stable")][:WORST].tolist()


def _along(comparison, context, worst, progress):
    if not worst:
        return ""
    stations, figures, rows = comparison.stations, [], []
    drawing = plots.available()
    for label, row in enumerate(worst, 1):
        progress((label - 1) / len(worst))
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
                    f"<b>{label}</b> Edge {name}: maximum {number(offset[top], 3, True)} m at"
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
    if drawing:
        return section(
            "Offsets along the worst edges", f'<div class="pair">{"".join(figures)}</div>'
        )
    return section(
        "Offsets along the worst edges",
        table(
            ["", "Edge", "Matched from, to (m)", "Median (m)", "Maximum (m)", "at (m)"],
            rows,
            (2, 3, 4, 5),
        ),
    )


def _lists(comparison, context):
    parts = []
    for statistics, labels, what, statuses in (
        (comparison.edge_statistics, context.edge_labels, "edges", (DISPLACED, PARTLY, ONLY_NEW)),
        (
            comparison.existing_statistics,
            context.existing_labels,
            "existing lines",
            (DISPLACED, PARTLY, ONLY_EXISTING, NOT_VISITED),
        ),
    ):
        for status in statuses:
            parts += _list(statistics, labels, what, status)
        parts += _agreeing(statistics, labels, what)
    return section("Lines by status", *parts)


def _list(statistics, labels, what, status):
    rows = np.flatnonzero((statistics.status == status) & (statistics.length > 0))
    if not rows.size:
        return []
    alone = status in (ONLY_NEW, ONLY_EXISTING, NOT_VISITED)
    size = statistics.length if alone else np.nan_to_num(statistics.offset_p95)
    rows = rows[np.argsort(-size[rows], kind="stable")]
    shown, sentence = capped(rows, f"{what} with the status “{TITLES[status]}”")
    heading = (
        f"<h3>{maps.key(maps.SCHEME[status])} {what.capitalize()}: {TITLES[status]}"
        f" ({len(rows):,})</h3>"
    )
    if alone:
        made = table(
            ["Identifier", "Length (m)"],
            [[text(labels[row]), number(statistics.length[row], 1)] for row in shown.tolist()],
            (1,),
            "narrow",
        )
    else:
        made = table(
            [
                "Identifier",
                "Length (m)",
                "Visited",
                "Matched",
                "Moved (m)",
                "towards (°)",
                "Median (m)",
                "95 % (m)",
                "Maximum (m)",
                "Limit (m)",
            ],
            [
                [
                    text(labels[row]),
                    number(statistics.length[row], 1),
                    percent(statistics.visited_share[row]),
                    percent(statistics.matched_share[row]),
                    number(statistics.moved[row]),
                    number(statistics.moved_azimuth[row], 0),
                    number(statistics.offset_median[row], 3, True),
                    number(statistics.offset_p95[row]),
                    number(statistics.offset_max[row]),
                    number(statistics.limit[row]),
                ]
                for row in shown.tolist()
            ],
            range(1, 10),
            "",
        )
    return [heading, made, sentence]


def _agreeing(statistics, labels, what):
    rows = np.flatnonzero((statistics.status == AGREES) & (statistics.length > 0)).tolist()
    if not rows:
        return []
    most = 3 * LIST_LIMIT
    rest = (
        f" … and {len(rows) - most:,} more, which stand in the layers." if len(rows) > most else ""
    )
    listed = ", ".join(text(labels[row]) for row in rows[:most])
    return [
        (
            f"<h3>{maps.key(maps.SCHEME[AGREES])} {what.capitalize()}: {TITLES[AGREES]}"
            f" ({len(rows):,})</h3>"
        ),
        f'<p class="ids">{listed}{rest}</p>',
    ]


def _method(comparison):
    settings = comparison.settings
    return [
        (
            "Lines are matched along their length, not feature to feature: by direction, overlap"
            " and continuity, within the search distance. One edge may lie along several existing"
            " lines and the other way round; the direction of digitising does not matter."
        ),
        (
            f"Offsets are taken at stations no farther than {_metres(settings.station_spacing)}"
            " apart, perpendicular to the existing line, + where the edge lies to its right. All"
            " figures are metres on the ground; heights are the edge's minus the existing line's,"
            " where both have them."
        ),
        (
            "Significance: the limit at each station is the normal quantile at the chosen"
            " confidence times the combined 1-sigma of both lines, √(edge² + existing²). An offset"
            " is one signed value, so factors of the one-dimensional normal distribution apply"
            " (1.9600 at 95 %). Among many lines a few pass the limit by chance: lines are called"
            " displaced only as far as such finds stay below one minus the confidence of all so"
            " called (Y. Benjamini and Y. Hochberg, J. R. Stat. Soc. B 57, 1995)."
        ),
        (
            "Shift: robust least squares on the normals of the lines, so that lines which really"
            " moved do not spoil it; lines, not stations, count as independent."
        ),
        (
            "Completeness and correctness: simple buffer method (M. F. Goodchild and G. J. Hunter,"
            " A simple positional accuracy measure for linear features, IJGIS 11(3), 1997). In the"
            " terms of ISO 19157, what is only new is omission and what is only existing is"
            " commission of the existing layer, by length."
        ),
        (
            "Robust spread (“typically”): 1.4826 times the median offset without sign, which is"
            " what the RMSE would be without the lines that really moved."
        ),
        (
            "Moved: the shortest rigid motion (translation and rotation) that explains the offsets"
            " of a line best, from the existing line to the edge, with the azimuth from north of"
            " the edges' CRS towards east. A line that was visited in part is judged on that part."
        ),
        (
            "Area between the lines: mean offset without sign for each metre of matched existing"
            " line. Hausdorff distance: over the matched stretches, both lines densified."
        ),
    ]


def _own_cautions(comparison):
    said = [
        "“Only existing” means that no edge was found there although it lies in the surveyed area:"
        " the thing may be gone, or it was passed over. Look before lines are deleted. “Not"
        " visited” says nothing of a line."
    ]
    if comparison.sigma_assumed:
        said.append(
            "No uncertainty of the edges was given: it counts as zero, and offsets look more"
            " significant than they are."
        )
    said.append(
        f"The uncertainty of the existing lines ({number(comparison.settings.existing_sigma, 3)} m)"
        " is an assumption of whoever ran the comparison. Everything that is called displaced"
        " rests on it."
    )
    return said
