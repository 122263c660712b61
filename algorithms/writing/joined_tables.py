"""What joined edges, changes at their ends and islands hold: fields, and columns of them."""

from dataclasses import dataclass

import numpy as np

from ..host.fields import NewField
from ..host.figures import translate
from . import sinks

EDGE_FIELDS = (
    NewField("edge_id", "LongLong", "Number of the line, from 1."),
    NewField("parts", "Int", "How many edges it consists of."),
    NewField("sources", "QString", "These edges, in order."),
    NewField("reversed", "QString", "Those of them that run backwards in it."),
    NewField("moved", "Double", "Maximum distance that an end was moved.", "m"),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField("sigma_cross", "Double", "Uncertainty across the line, 1-sigma.", "m"),
    NewField("sigma_up", "Double", "Uncertainty of its heights, 1-sigma.", "m"),
    NewField("closed", "Bool", "True for a ring."),
    NewField(
        "start_reason", "QString", "Why the line starts there; the words of “Reconstruct edges”."
    ),
    NewField("end_reason", "QString", "Why it ends there."),
)
CHANGE_FIELDS = (
    NewField("change_id", "Int", "Number of the change, from 1."),
    NewField(
        "what",
        "QString",
        "`joined`, `extended` (to a corner), `closed` (to a ring) or `left_open` (an "
        "end near another edge that was not joined).",
    ),
    NewField("edge_id", "LongLong", "The line that the change belongs to."),
    NewField("edges", "QString", "The edges that meet there."),
    NewField("ends", "QString", "Which of their ends."),
    NewField("gap", "Double", "Distance between both ends before.", "m"),
    NewField("deflection", "Double", "Change of direction from one edge to the other.", "degrees"),
    NewField("moved", "Double", "Distance that the ends were moved in plan.", "m"),
    NewField("moved_up", "Double", "Distance that they were moved in height.", "m"),
    NewField("why", "QString", "The reason in words."),
)
POLYGON_FIELDS = (
    NewField("edge_id", "LongLong", "The closed line that the polygon is made of."),
    NewField("sources", "QString", "The edges of that line."),
    NewField("area", "Double", "Area on the ground.", "m²"),
    NewField("length", "Double", "Length of the ring on the ground.", "m"),
)


def tr(text):
    return translate("JoinedTables", text)


def sources_of(layer, joined):
    """Names of the edges that each joined edge is made of, and of those that run backwards in
    it: two lists of text."""
    names = np.array(layer.labels, dtype=object)[joined.part]
    own = list(zip(joined.part_offsets[:-1].tolist(), joined.part_offsets[1:].tolist()))
    return (
        [", ".join(names[a:b]) for a, b in own],
        [", ".join(names[a:b][joined.reversed[a:b]]) for a, b in own],
    )


def edge_columns(layer, joined, values, stopped):
    """Columns of `EDGE_FIELDS`.

    Parameters
    ----------
    layer : EdgeLines
        The edges that were joined.
    joined : Joined
    values : JoinedValues
    stopped : list of ndarray of str, shape (edges,)
        Why each edge of the layer starts and ends.
    """
    return [
        sinks.cells(np.arange(1, len(joined) + 1)),
        sinks.cells(np.diff(joined.part_offsets)),
        *sources_of(layer, joined),
        *(
            sinks.cells(column)
            for column in (
                values.moved,
                values.length,
                values.sigma,
                values.sigma_up,
                joined.closed,
            )
        ),
        *_reasons(joined, stopped),
    ]


def _reasons(joined, stopped):
    """Why each joined edge starts and ends, two lists; None for a ring, and where it is unknown."""
    starts, ends = stopped
    first, last = joined.part_offsets[:-1], joined.part_offsets[1:] - 1
    for at, along, against in ((first, starts, ends), (last, ends, starts)):
        part = joined.part[at]
        texts = np.where(joined.reversed[at], against[part], along[part])
        yield [
            None if closed or not text else str(text)
            for closed, text in zip(joined.closed.tolist(), texts)
        ]


def island_columns(islands, sources, values):
    """Columns of `POLYGON_FIELDS`."""
    return [
        sinks.cells(islands.edge + 1),
        [sources[edge] for edge in islands.edge.tolist()],
        sinks.cells(islands.area),
        sinks.cells(values.length[islands.edge]),
    ]


def change_columns(layer, changes):
    """Columns of `CHANGE_FIELDS`."""
    from ...shared.lines.join_changes import WHAT_NAMES

    members = [
        changes.ends[start:stop].tolist()
        for start, stop in zip(changes.offsets[:-1].tolist(), changes.offsets[1:].tolist())
    ]
    names = layer.labels
    side = (tr("start"), tr("end"))
    ends = [f"{names[end // 2]} {side[end % 2]}" for some in members for end in some]
    texts = [
        ends[start:stop]
        for start, stop in zip(changes.offsets[:-1].tolist(), changes.offsets[1:].tolist())
    ]
    edges = [list(dict.fromkeys(names[end // 2] for end in some)) for some in members]
    beside = [names[edge] if edge >= 0 else None for edge in changes.beside.tolist()]
    for some, other in zip(edges, beside):
        if other is not None and other not in some:
            some.append(other)
    number = [None if edge < 0 else edge + 1 for edge in changes.edge.tolist()]
    why = [
        _words(_Change(*row))
        for row in zip(
            changes.what.tolist(),
            changes.why.tolist(),
            texts,
            beside,
            changes.gap.tolist(),
            changes.deflection.tolist(),
            changes.moved.tolist(),
            changes.moved_up.tolist(),
        )
    ]
    return (
        range(1, len(changes) + 1),
        sinks.text_cells(changes.what, WHAT_NAMES),
        number,
        [", ".join(some) for some in edges],
        [", ".join(some) for some in texts],
        *(
            sinks.cells(column)
            for column in (changes.gap, changes.deflection, changes.moved, changes.moved_up)
        ),
        why,
    )


@dataclass(frozen=True)
class _Change:
    """One change: what and why by code, the ends in words, the edge next to them, metres and
    degrees."""

    what: int
    why: int
    ends: list
    beside: str
    gap: float
    deflection: float
    moved: float
    up: float


def _words(change):
    """What was done at a place, or why not, in words."""
    from ...shared.lines import end_pairs, join_changes

    if change.what == join_changes.LEFT_OPEN:
        return _words_of_open_ends(change)
    text = {
        end_pairs.DIRECT: tr(
            "ends {:.3f} m apart, within the tolerance, deflection {:.0f} degrees; moved by {:.3f}"
            " m at most"
        ),
        end_pairs.CORNER: tr(
            "tangents {:.3f} m apart meet in a corner of {:.0f} degrees; moved by {:.3f} m at most"
        ),
    }[change.why].format(change.gap, change.deflection, change.moved)
    text += tr(", in height by {:.3f} m").format(change.up) if change.up == change.up else ""
    return tr("ring closed: ") + text if change.what == join_changes.CLOSED else text


def _words_of_open_ends(change):
    """Why ends were left open, in words."""
    from ...shared.lines import end_pairs

    if change.why == end_pairs.JUNCTION:
        return tr("junction: {} could each go with more than one of the others").format(
            " / ".join(change.ends)
        )
    first, other, third = (*change.ends, "", "")[:3]
    text = {
        end_pairs.TAKEN: tr(
            "T junction: {0} is near {1}, which fits {2} better and is joined with it"
        ),
        end_pairs.ON_EDGE: tr(
            "{0} lies {3:.3f} m from edge {4}, between its ends: a T junction, or one walk next to"
            " another"
        ),
        end_pairs.KEPT_BREAK: tr(
            "{0} and {1} would be joined, but one of them broke off for a reason that is to be kept"
        ),
        end_pairs.OTHER_GROUP: tr(
            "{0} and {1} would be joined, but the fields that must agree differ"
        ),
        end_pairs.HEIGHTS: tr("{0} and {1} would be joined, but their heights differ too much"),
        end_pairs.BACK: tr(
            "{0} and {1} are {3:.3f} m apart, but one runs back along the other: a repeat pass?"
        ),
        end_pairs.GAP: tr(
            "{0} and {1} go straight on, but {3:.3f} m apart: farther than the tolerance"
        ),
        end_pairs.OVERLAP: tr(
            "{0} and {1} run {3:.3f} m next to each other: merge repeat passes first"
        ),
        end_pairs.CROSSED: tr("{0} and {1} would be joined, but edge {4} lies between them"),
        end_pairs.RING: tr("{0} and {1} would close a ring, which is not asked for"),
    }[change.why]
    return text.format(first, other, third, change.gap, change.beside)
