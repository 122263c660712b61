"""What merged edges, their walks and their disagreements hold: fields, and columns of them."""

from ..host.fields import NewField, is_null
from ..host.figures import translate
from ..reading.features import attributes_by_id
from . import sinks
from .common_values import DECISION, common_value

EDGE_FIELDS = (
    NewField("edge_id", "Int", "Number of the edge, from 1."),
    NewField(
        "state",
        "QString",
        "`single` (walked once), `merged`, `rest` (what remains of a walk next to a "
        "merged edge), `apart` (a stretch that disagrees, to look at and delete).",
    ),
    NewField("passes", "Int", "Number of walks."),
    NewField("captures", "QString", "Their captures."),
    NewField("sources", "QString", "The edges that were merged."),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField("shared_length", "Double", "Length that at least two walks share.", "m"),
    NewField("sigma_cross", "Double", "Uncertainty across the edge, 1-sigma.", "m"),
    NewField("sigma_up", "Double", "Uncertainty of its heights, 1-sigma.", "m"),
    NewField(
        "repeatability", "Double", "RMS of the differences between two walks, across the edge.", "m"
    ),
    NewField("repeatability_up", "Double", "RMS of the differences between two walks, up.", "m"),
    NewField("closed", "Bool", "True for a ring."),
)
PASS_FIELDS = (
    NewField("edge_id", "Int", "The merged edge."),
    NewField("source_id", "LongLong", "Feature id of the walk."),
    NewField("source", "QString", "What the walk is called."),
    NewField("capture", "QString", "Its capture."),
    NewField(
        "state",
        "QString",
        "What became of the walk: the states of the edges, `remnant` (too short for an "
        "edge of its own) or `copy`.",
    ),
    NewField("from_chainage", "Double", "Where the shared stretch begins, along the walk.", "m"),
    NewField("to_chainage", "Double", "Where it ends.", "m"),
    NewField("direction", "QString", "`along` or `against` the direction of the edge."),
    NewField("shared_length", "Double", "Length that it shares with other walks.", "m"),
    NewField(
        "offset_mean",
        "Double",
        "Mean offset from the mean of the others, + to the right of the edge.",
        "m",
    ),
    NewField("offset_rms", "Double", "RMS of the offsets from each of the others.", "m"),
    NewField("up_mean", "Double", "Mean difference in height from the mean of the others.", "m"),
    NewField("up_rms", "Double", "RMS of the differences in height from each of the others.", "m"),
)
DISAGREEMENT_FIELDS = (
    NewField("disagreement_id", "Int", "Number of the disagreement, from 1."),
    NewField(
        "reason",
        "QString",
        "`plan`, `height`, `other_edge` (the walks differ over most of what they "
        "share), `parted`, `remnant`.",
    ),
    NewField("edge_id", "Int", "The edge that the walk disagrees with."),
    NewField("own_edge_id", "Int", "The edge that the stretch became."),
    NewField("source_id", "LongLong", "Feature id of the walk."),
    NewField("source", "QString", "What the walk is called."),
    NewField("capture", "QString", "Its capture."),
    NewField("length", "Double", "Length of the stretch on the ground.", "m"),
    NewField("offset_mean", "Double", "Mean offset, + to the right of the edge.", "m"),
    NewField("offset_max", "Double", "Maximum amount of the offsets.", "m"),
    NewField("up_mean", "Double", "Mean difference in height.", "m"),
    NewField("up_max", "Double", "Maximum amount of the differences in height.", "m"),
    NewField("allowed", "Double", "The offset that uncertainty explains.", "m"),
    NewField("allowed_up", "Double", "The difference in height that uncertainty explains.", "m"),
    NewField("detail", "QString", "The disagreement in words."),
)
# What a field of several walks becomes; any other keeps its value where all have the same, else it
# is empty.
TOGETHER = {
    "started": min,
    "started_unix": min,
    "ended": max,
    "ended_unix": max,
    "epochs_used": sum,
    "epochs_rejected": sum,
    "max_residual": max,
}
REASON_FIELDS = ("start_reason", "end_reason")


def tr(text):
    return translate("MergeTables", text)


def carried_fields(source):
    """Places of the source's fields that the merged edges keep."""
    taken = {new.name for new in EDGE_FIELDS} | {"fid"}
    return [
        place for place, field in enumerate(source.fields()) if field.name().lower() not in taken
    ]


def edge_columns(layer, edges, of_edge):
    """Columns of `EDGE_FIELDS`; `of_edge` holds the walks of each edge."""
    from ...shared.lines.merge_results import STATES

    def texts(values):
        return [
            ", ".join(dict.fromkeys(values[part] for part in sorted(set(parts)) if values[part]))
            for parts in of_edge
        ]

    return (
        range(1, len(edges) + 1),
        sinks.text_cells(edges.state, STATES),
        sinks.cells(edges.passes),
        texts(layer.captures),
        texts(layer.labels),
        *(
            sinks.cells(column)
            for column in (
                edges.length,
                edges.shared,
                edges.sigma,
                edges.sigma_up,
                edges.repeatability,
                edges.repeatability_up,
                edges.closed,
            )
        ),
    )


def carried_columns(source, carried, layer, edges, of_edge, feedback):
    """Source fields of each edge, put together from its walks."""
    if not carried:
        return []
    rows = attributes_by_id(source, layer.ids.tolist(), feedback)
    names = [source.fields().at(place).name().lower() for place in carried]
    reasons = {name: place for name, place in zip(names, carried) if name in REASON_FIELDS}
    walks = [[int(layer.lines.line[part]) for part in sorted(set(parts))] for parts in of_edge]

    def of_edges(place):
        """Values of a field, for each edge those of its walks."""
        values = [rows[ident][place] for ident in layer.ids.tolist()]
        return [[values[row] for row in some] for some in walks]

    decided = [of_edges(place) for name, place in zip(names, carried) if name == DECISION]
    columns = []
    for name, place in zip(names, carried):
        if name in REASON_FIELDS and len(reasons) == 2:
            columns.append(_reasons(REASON_FIELDS.index(name), reasons, rows, layer, edges))
        else:
            decisions = decided[0] if decided else [()] * len(walks)
            columns.append(
                [_together(name, *of_edge) for of_edge in zip(of_edges(place), decisions)]
            )
    return columns


def _reasons(side, places, rows, layer, edges):
    """Why each edge starts (side 0) or ends (side 1): as the walk says that has that end."""
    out = []
    for part, end in edges.ends[:, side].tolist():
        row = rows[int(layer.ids[layer.lines.line[part]])] if part >= 0 else None
        out.append(row[places[REASON_FIELDS[end]]] if row is not None else None)
    for edge, part in enumerate(edges.unchanged.tolist()):
        if part >= 0:
            out[edge] = rows[int(layer.ids[layer.lines.line[part]])][places[REASON_FIELDS[side]]]
    return out


def pass_columns(layer, passes):
    """Columns of `PASS_FIELDS`."""
    from ...shared.lines.merge_results import PASS_STATES

    line = layer.lines.line[passes.part]
    return (
        [edge + 1 if edge >= 0 else None for edge in passes.edge.tolist()],
        layer.ids[line].tolist(),
        [layer.labels[part] for part in passes.part.tolist()],
        [layer.captures[part] for part in passes.part.tolist()],
        sinks.text_cells(passes.state, PASS_STATES),
        sinks.cells(passes.start),
        sinks.cells(passes.stop),
        ["along" if same else "against" for same in passes.same.tolist()],
        *(
            sinks.cells(column)
            for column in (
                passes.shared,
                passes.offset_mean,
                passes.offset_rms,
                passes.up_mean,
                passes.up_rms,
            )
        ),
    )


def disagreement_columns(layer, listed):
    """Columns of `DISAGREEMENT_FIELDS`."""
    from ...shared.lines.merge_results import REASONS

    line = layer.lines.line[listed.part]

    def edge(values):
        return [value + 1 if value >= 0 else None for value in values.tolist()]

    return (
        range(1, len(listed) + 1),
        sinks.text_cells(listed.reason, REASONS),
        edge(listed.edge),
        edge(listed.own),
        layer.ids[line].tolist(),
        [layer.labels[part] for part in listed.part.tolist()],
        [layer.captures[part] for part in listed.part.tolist()],
        *(
            sinks.cells(column)
            for column in (
                listed.length,
                listed.offset_mean,
                listed.offset_max,
                listed.up_mean,
                listed.up_max,
                listed.allowed,
                listed.allowed_up,
            )
        ),
        [
            _detail(REASONS[reason], length, offset, up, allowed, allowed_up)
            for reason, length, offset, up, allowed, allowed_up in zip(
                listed.reason.tolist(),
                listed.length.tolist(),
                listed.offset_max.tolist(),
                listed.up_mean.tolist(),
                listed.allowed.tolist(),
                listed.allowed_up.tolist(),
            )
        ],
    )


def _detail(reason, length, offset, up, allowed, allowed_up):
    side = tr("right") if offset > 0 else tr("left")
    away = tr("up to {:.3f} m to the {}").format(abs(offset), side)
    if reason == "plan":
        return tr("{:.1f} m lie {} of the edge, where {:.3f} m are explained: kept apart.").format(
            length, away, allowed
        )
    if reason == "height":
        return tr(
            "{:.1f} m lie {:+.3f} m in height from the edge, where {:.3f} m are explained: left"
            " out of its height."
        ).format(length, up, allowed_up)
    if reason == "parted":
        return tr("{:.1f} m leave the edge, {}, and come back: kept as an edge of its own.").format(
            length, away
        )
    if reason == "remnant":
        return tr("{:.1f} m next to the edge, {}: too short for an edge of its own.").format(
            length, away
        )
    text = tr("{:.1f} m run along the edge, {}").format(length, away)
    return (text + tr(", {:+.3f} m in height").format(up) if up == up else text) + tr(
        ": another edge."
    )


def _together(name, values, decisions):
    """One value for several walks; None where they differ."""
    known = [value for value in values if not is_null(value)]
    function = TOGETHER.get(name)
    if function is not None and known:
        try:
            return function(known)
        except TypeError:  # a field of that name that holds texts
            pass
    return common_value(name, values, decisions)
