"""What compared lines, stations and the summary hold: fields, and columns or rows of them."""

import numpy as np

from ..host.fields import NewField
from . import sinks

LINE_FIELDS = (
    NewField(
        "status",
        "QString",
        "`agrees`, `displaced`, `partly` (matched over a part of its length), "
        "`only_new` (an edge without an existing line), `only_existing` (an existing "
        "line without an edge), `not_visited` (an existing line where nobody surveyed).",
    ),
    NewField("line_id", "LongLong", "Feature id of the line."),
    NewField(
        "partner_id",
        "LongLong",
        "Feature id of the line of the other layer that most of it was matched with.",
    ),
    NewField("partners", "Int", "How many lines of the other layer it was matched with."),
    NewField("stations", "Int", "Stations that were matched."),
    NewField(
        "offset_mean",
        "Double",
        "Mean of the signed offsets, + to the right of the existing line.",
        "m",
    ),
    NewField("offset_median", "Double", "Their median.", "m"),
    NewField("offset_sd", "Double", "Their standard deviation.", "m"),
    NewField("offset_rmse", "Double", "Their root mean square.", "m"),
    NewField("offset_p95", "Double", "What 95 % of their amounts do not exceed.", "m"),
    NewField("offset_max", "Double", "The maximum of their amounts.", "m"),
    NewField("hausdorff", "Double", "Hausdorff distance between the matched parts.", "m"),
    NewField("matched_share", "Double", "Share of the visited length that was matched, 0 to 1."),
    NewField(
        "displaced_share",
        "Double",
        "Share of the matched length whose offset is greater than `allowed`, 0 to 1.",
    ),
    NewField(
        "up_mean", "Double", "Mean of the differences in height, edge minus existing line.", "m"
    ),
    NewField("up_rmse", "Double", "Their root mean square.", "m"),
    NewField("allowed", "Double", "The offset that the uncertainty of both layers explains.", "m"),
    NewField("visited_share", "Double", "Share of the length that was visited, 0 to 1."),
    NewField(
        "moved",
        "Double",
        "How far the line moved as a whole, from the existing line to the edge: the rigid best fit"
        " of its offsets.",
        "m",
    ),
    NewField(
        "moved_azimuth",
        "Double",
        "In which direction, from north of the edges' CRS towards east.",
        "degrees",
    ),
)
STATION_FIELDS = (
    NewField("existing_id", "LongLong", "Feature id of the existing line."),
    NewField("edge_line_id", "LongLong", "Feature id of the edge."),
    NewField("chainage", "Double", "Along the existing line.", "m"),
    NewField("edge_chainage", "Double", "Along the edge.", "m"),
    NewField(
        "offset",
        "Double",
        "Signed offset of the edge as judged, + to the right of the existing line.",
        "m",
    ),
    NewField("offset_before", "Double", "The same with the shift of the whole layer.", "m"),
    NewField("up", "Double", "Difference in height, edge minus existing line.", "m"),
    NewField("allowed", "Double", "The offset that uncertainty explains there.", "m"),
    NewField("displaced", "Bool", "True where the offset is greater than that."),
)
SUMMARY_FIELDS = (
    NewField(
        "subject",
        "QString",
        "`edges`, `existing`, `offsets`, `offsets_before` and `offsets_after` (with and"
        " without the shift), `shift`.",
    ),
    NewField("measure", "QString", "Name of the measure."),
    NewField("value", "Double", "Its value."),
    NewField("unit", "QString", "Its unit."),
)
OFFSET_MEASURES = (
    "stations",
    "matched_length",
    "offset_mean",
    "offset_median",
    "offset_sd",
    "offset_rmse",
    "offset_p95",
    "offset_max",
    "hausdorff",
    "up_mean",
    "up_rmse",
    "area_per_metre",
    "typical",
)
SHIFT_MEASURES = (
    "east",
    "north",
    "sigma_east",
    "sigma_north",
    "across",
    "sigma_across",
    "used_length",
)


def line_columns(statistics, ids, other_ids):
    """Columns of `LINE_FIELDS`."""
    from ...shared.lines.comparison_results import STATUS_NAMES

    s = statistics
    names = [
        STATUS_NAMES[code] if length > 0 else None
        for code, length in zip(s.status.tolist(), s.length.tolist())
    ]
    partner = [int(other_ids[row]) if row >= 0 else None for row in s.partner.tolist()]
    return (
        names,
        ids.tolist(),
        partner,
        *(
            sinks.cells(column)
            for column in (
                s.partners,
                s.stations,
                s.offset_mean,
                s.offset_median,
                s.offset_sd,
                s.offset_rmse,
                s.offset_p95,
                s.offset_max,
                s.hausdorff,
                s.matched_share,
                s.displaced_share,
                s.up_mean,
                s.up_rmse,
                s.limit,
                s.visited_share,
                s.moved,
                s.moved_azimuth,
            )
        ),
    )


def station_columns(stations, pair):
    """Columns of `STATION_FIELDS`."""
    s = stations
    return (
        pair.existing_ids[s.existing].tolist(),
        pair.edge_ids[s.edge].tolist(),
        *(
            sinks.cells(column)
            for column in (
                s.chainage,
                s.edge_chainage,
                s.offset,
                s.offset_before,
                s.up,
                s.limit,
                s.displaced,
            )
        ),
    )


def summary_rows(result):
    """Rows of the summary: subject, measure, value (None where undefined), unit."""
    rows = [*_line_rows(result), *_offset_rows(result), *_shift_rows(result)]
    return [
        (subject, measure, float(value) if np.isfinite(value) else None, unit)
        for subject, measure, value, unit in rows
    ]


def _line_rows(result):
    """Rows of the summary on the lines of both layers."""
    from ...shared.lines.comparison_results import STATUS_NAMES

    for subject, statistics, length, share in (
        ("edges", result.edge_statistics, result.edge_length, result.edge_matched_share),
        (
            "existing",
            result.existing_statistics,
            result.existing_length,
            result.existing_matched_share,
        ),
    ):
        there = statistics.length > 0
        yield subject, "lines", int(np.count_nonzero(there)), ""
        yield subject, "length", length, "m"
        yield subject, "matched_share", share, ""
        layer = 0 if subject == "existing" else 1
        yield subject, "displaced_with_shift", result.displaced_with_shift[layer], ""
        yield subject, "displaced_without_shift", result.displaced_without_shift[layer], ""
        for code, status in enumerate(STATUS_NAMES):
            some = there & (statistics.status == code)
            yield subject, f"lines_{status}", int(np.count_nonzero(some)), ""
            yield subject, f"length_{status}", float(statistics.length[some].sum()), "m"


def _offset_rows(result):
    """Rows of the summary on the offsets, as judged, before and after the shift is removed."""
    for subject, layer in (
        ("offsets", result.layer),
        ("offsets_before", result.before),
        ("offsets_after", result.after),
    ):
        for measure in OFFSET_MEASURES:
            yield subject, measure, getattr(layer, measure), "" if measure == "stations" else "m"


def _shift_rows(result):
    """Rows of the summary on the shift and the buffer overlay."""
    shift, buffer = result.shift, result.buffer
    for measure in SHIFT_MEASURES:
        yield "shift", measure, getattr(shift, measure), "m"
    yield "existing", "visited_length", result.visited_length, "m"
    yield "shift", "undetermined_azimuth", shift.undetermined_azimuth, "degrees"
    yield "shift", "significant", int(shift.significant), ""
    yield "shift", "removed", int(result.shift_removed), ""
    yield "buffer", "half_width", buffer.width, "m"
    yield "buffer", "completeness", buffer.completeness, ""
    yield "buffer", "correctness", buffer.correctness, ""
    yield "buffer", "edges_x95", buffer.edges_x95, "m"
    yield "buffer", "existing_x95", buffer.existing_x95, "m"
