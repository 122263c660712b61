"""What reconstructed edges, gaps, epochs and stations hold: fields, and columns of them."""

import numpy as np

from ...shared.epochs.reasons import REASON_NAMES, Reason, describe
from ...shared.reconstruction.repairs import decided_words
from ..host.fields import NewField
from ..host.figures import translate
from . import sinks

# Name, type, and where a Shapefile needs them said, width and decimals.
EDGE_FIELDS = (
    NewField("edge_id", "Int", "Number of the edge, from 1."),
    NewField(
        "capture",
        "QString",
        "The capture that the edge belongs to; several capture fields are joined by “ / ”.",
    ),
    NewField("run", "Int", "Which stretch of its capture the edge is, from 1."),
    NewField(
        "started",
        "QDateTime",
        "Time of the first epoch, UTC; empty where the times are seconds from an unknown origin.",
    ),
    NewField("ended", "QDateTime", "Time of the last epoch, UTC; likewise."),
    NewField(
        "started_unix",
        "Double",
        "Time of the first epoch as a number, which every version of QGIS stores and reads alike.",
        "s since 1970",
        length=20,
        decimals=3,
    ),
    NewField(
        "ended_unix",
        "Double",
        "Time of the last epoch as a number.",
        "s since 1970",
        length=20,
        decimals=3,
    ),
    NewField("epochs_used", "Int", "Epochs that the edge was fitted to."),
    NewField("epochs_rejected", "Int", "Epochs between its first and last one that were rejected."),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField(
        "rms_residual",
        "Double",
        "RMS of the distances of its epochs from the edge, across it.",
        "m",
    ),
    NewField("max_residual", "Double", "Maximum of these distances.", "m"),
    NewField(
        "sigma_cross", "Double", "Uncertainty of the edge across its direction, 1-sigma.", "m"
    ),
    NewField(
        "sigma_up", "Double", "Uncertainty of its heights, 1-sigma; empty without heights.", "m"
    ),
    NewField("closed", "Bool", "True for a ring."),
    NewField(
        "start_reason",
        "QString",
        "Why the edge starts there: `start`, `end`, `paused`, `not_fixed`, "
        "`new_capture`, `spike`, `poor_accuracy`, `jump`, `turned_back`, "
        "`lost_epochs`, `break_asked`.",
    ),
    NewField("end_reason", "QString", "Why the edge ends there; the same words."),
    NewField(
        "curve_model",
        "QString",
        "`elements` where the edge consists of tangents and arcs, `spline` where some "
        "of it is of free form.",
    ),
)
GAP_FIELDS = (
    NewField("gap_id", "Int", "Number of the gap, from 1."),
    NewField("capture", "QString", "The capture that the gap belongs to."),
    NewField(
        "after_edge", "Int", "`edge_id` of the edge before the gap; empty where there is none."
    ),
    NewField(
        "before_edge", "Int", "`edge_id` of the edge behind the gap; empty where there is none."
    ),
    NewField(
        "seconds",
        "Double",
        "Time from the last epoch of one edge to the first epoch of the next.",
        "s",
    ),
    NewField("metres", "Double", "Distance between these two epochs on the ground.", "m"),
    NewField("reason", "QString", "Why the line breaks there; the words of `start_reason`."),
)
REJECTED_FIELDS = (
    NewField(
        "reason",
        "QString",
        "Why the epoch was rejected: `no_position`, `no_time`, `not_fixed`, "
        "`poor_accuracy`, `repeat`, `spike`, `height_spike`, `backtrack`, `too_short`, "
        "`unconfirmed`, `left_out`.",
    ),
    NewField("detail", "QString", "The same in words, with the amount where there is one."),
)
KEPT_FIELDS = (
    NewField("edge_id", "Int", "The edge that the epoch belongs to."),
    NewField("chainage", "Double", "Distance from the start of the edge, along it.", "m"),
    NewField(
        "residual_cross",
        "Double",
        "Distance of the epoch from the edge across it, + to the right.",
        "m",
    ),
    NewField("residual_up", "Double", "Height of the epoch above the edge.", "m"),
    NewField(
        "role",
        "QString",
        "`single`, `standing` for epochs at rest that count as one position, or `doubtful` where"
        " nothing confirms where the line runs.",
    ),
    NewField("height_used", "Bool", "False where the height alone was rejected as a spike."),
    NewField(
        "overruled",
        "QString",
        "The reason that would have rejected the epoch, had a repair not taken it back in; empty"
        " elsewhere.",
    ),
    NewField("taken_back", "QString", "Who took it back in, when and why."),
)
# fields of results: those of a former one are not taken for what a crew entered
WRITTEN = {
    definition.name
    for some in (EDGE_FIELDS, GAP_FIELDS, REJECTED_FIELDS, KEPT_FIELDS)
    for definition in some
}
STATION_FIELDS = (
    NewField("edge_id", "Int", "The edge that the station lies on."),
    NewField("chainage", "Double", "Distance from the start of the edge, along it.", "m"),
    NewField("slope", "Double", "Longitudinal slope, + rising; height over length.", "m/m"),
    NewField("sigma_cross", "Double", "Uncertainty across the edge there, 1-sigma.", "m"),
    NewField("sigma_up", "Double", "Uncertainty of the height there, 1-sigma.", "m"),
)


def tr(text):
    return translate("EdgeTables", text)


def edge_columns(layer, edges):
    """Columns of `EDGE_FIELDS`."""
    from ...shared.reconstruction.reconstruct import BREAK_NAMES

    started, ended = edges.started + layer.origin, edges.ended + layer.origin
    return (
        range(1, len(edges) + 1),
        sinks.text_cells(edges.capture, layer.captures),
        sinks.cells(edges.run),
        sinks.utc_cells(started, layer.dated),
        sinks.utc_cells(ended, layer.dated),
        sinks.cells(started),
        sinks.cells(ended),
        sinks.cells(edges.epochs_used),
        sinks.cells(edges.epochs_rejected),
        sinks.cells(edges.length),
        sinks.cells(edges.rms_residual),
        sinks.cells(edges.max_residual),
        sinks.cells(edges.sigma_cross),
        sinks.cells(edges.sigma_up),
        sinks.cells(edges.closed),
        sinks.text_cells(edges.start_reason, BREAK_NAMES),
        sinks.text_cells(edges.end_reason, BREAK_NAMES),
        sinks.text_cells(edges.by_elements.astype(int), ("spline", "elements")),
    )


def station_columns(at):
    """Columns of `STATION_FIELDS`."""
    return (
        sinks.cells(at.edge + 1),
        *(sinks.cells(column) for column in (at.chainage, at.slope, at.sigma_cross, at.sigma_up)),
    )


def gap_columns(layer, gaps):
    """Columns of `GAP_FIELDS`."""
    from ...shared.reconstruction.reconstruct import BREAK_NAMES

    def number(edge):
        return [value + 1 if value >= 0 else None for value in edge.tolist()]

    return (
        range(1, len(gaps) + 1),
        sinks.text_cells(gaps.capture, layer.captures),
        number(gaps.after_edge),
        number(gaps.before_edge),
        sinks.cells(gaps.seconds),
        sinks.cells(gaps.metres),
        sinks.text_cells(gaps.reason, BREAK_NAMES),
    )


def rejected_columns(result, repairs):
    """Columns of `REJECTED_FIELDS`; `repairs` are those that were given, or None."""
    rows = result.reason != Reason.KEPT
    details = describe(result.reason[rows], result.amount[rows])
    for place, words in _decided(result, rows, repairs):
        details[place] += words
    return sinks.text_cells(result.reason[rows], REASON_NAMES), details


def _decided(result, rows, repairs):
    """Places among some rows (mask) of those that were left out or taken back in, and who
    decided that, when and why."""
    done = result.repairs
    if done is None:
        return []
    mine = rows[done.rows]
    places = np.cumsum(rows)[done.rows[mine]] - 1
    return zip(places.tolist(), decided_words(repairs, done.repair[mine]))


def kept_columns(result, repairs):
    """Columns of `KEPT_FIELDS`; `repairs` are those that were given, or None."""
    from ...shared.reconstruction.reconstruct import ROLE_NAMES

    rows = result.reason == Reason.KEPT
    return (
        sinks.cells(result.edge[rows] + 1),
        sinks.cells(result.chainage[rows]),
        sinks.cells(result.residual_cross[rows]),
        sinks.cells(result.residual_up[rows]),
        sinks.text_cells(result.role[rows], ROLE_NAMES),
        sinks.cells(result.height_used[rows]),
        *_overruled_columns(result, rows, repairs),
    )


def _overruled_columns(result, rows, repairs):
    """Reasons that were overruled, and who did it."""
    count = int(np.count_nonzero(rows))
    if result.overruled is None:
        return [None] * count, [None] * count
    why = [REASON_NAMES[code] or None for code in result.overruled[rows].tolist()]
    who = [None] * count
    for place, words in _decided(result, rows, repairs):
        who[place] = tr("taken back in{}").format(words)
    return why, who
