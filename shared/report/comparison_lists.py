"""Lists of a comparison: the greatest changes, and the lines by status."""

from dataclasses import dataclass

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
from . import maps
from .comparison_words import title
from .page import (
    GREATEST,
    LIST_LIMIT,
    capped,
    identifier,
    number,
    paragraphs,
    percent,
    section,
    table,
    text,
    towards,
    unbroken,
)


def greatest_changes(changes, context):
    """The changes of the first page.

    Parameters
    ----------
    changes : Changes
    context : ReportContext

    Returns
    -------
    str
        Markup.
    """
    if not len(changes):
        return paragraphs([tr("Nothing is displaced, new or gone.")])

    rows = [
        [
            f"{place + 1}",
            _with_key(changes.status[place]),
            _name(changes.existing[place], context.existing_labels),
            _name(changes.edge[place], context.edge_labels),
            number(changes.length[place], 1),
            number(changes.moved[place], 2),
            unbroken(towards(changes.azimuth[place])),
        ]
        for place in range(min(GREATEST, len(changes)))
    ]
    head = [
        tr("No."),
        tr("What"),
        tr("Existing line"),
        tr("Edge"),
        tr("Length (m)"),
        tr("Moved (m)"),
        tr("Towards"),
    ]
    return table(head, rows, (4, 5))


def _with_key(status):
    """Title of a status with its sample of line."""
    return unbroken(f"{title(status)} {maps.key(maps.SCHEME[status])}")


def _first_upper(words):
    return words[:1].upper() + words[1:]


def lines_by_status(comparison, context, changes):
    """All lines of both layers, by status.

    Parameters
    ----------
    comparison : Comparison
    context : ReportContext
    changes : Changes

    Returns
    -------
    str
        Markup.
    """
    existing = _Side(
        comparison.existing_statistics,
        context.existing_labels,
        changes.existing_number,
        tr("existing lines"),
        tr("Edge"),
        context.edge_labels,
    )
    edges = _Side(
        comparison.edge_statistics,
        context.edge_labels,
        changes.edge_number,
        tr("edges"),
        tr("Existing line"),
        context.existing_labels,
    )
    parts, nowhere = [], np.zeros(len(context.existing_labels), bool)
    for side, statuses, listed in (
        (existing, (DISPLACED, PARTLY, ONLY_EXISTING, NOT_VISITED), nowhere),
        (edges, (DISPLACED, PARTLY, ONLY_NEW), _paired(comparison)),
    ):
        for status in statuses:
            parts += _list(side, status, listed)
        parts += _agreeing(side.statistics, side.labels, side.what)
    return section(tr("Lines by status"), *parts)


@dataclass(frozen=True)
class _Side:
    """The lines of one layer: statistics, labels, numbers of their changes, and the words for
    them; the heading and the labels of the other layer's lines."""

    statistics: object
    labels: tuple
    numbers: np.ndarray
    what: str
    other: str
    other_labels: tuple


def _paired(comparison):
    """Mask of the edges that appear in the list of existing lines: each is its partner's partner
    and has the same status."""
    edges, existing = comparison.edge_statistics, comparison.existing_statistics
    paired = np.zeros(len(edges), bool)
    some = np.flatnonzero(edges.partner >= 0)
    line = edges.partner[some]
    paired[some] = (existing.partner[line] == some) & (existing.status[line] == edges.status[some])
    return paired


def _list(side, status, listed):
    """The lines of one status, those with the greatest changes first; `listed`: mask of those that
    appear in another list."""
    statistics, what = side.statistics, side.what
    rows = np.flatnonzero((statistics.status == status) & (statistics.length > 0))
    if not rows.size:
        return []
    heading = (
        f"<h3>{maps.key(maps.SCHEME[status])} {_first_upper(what)}: {title(status)}"
        f" ({whole(len(rows))})</h3>"
    )
    also = int(np.count_nonzero(listed[rows]))
    elsewhere = (
        paragraphs([tr("{} of them stand with their existing lines.").format(whole(also))], "note")
        if also
        else ""
    )
    rows = rows[~listed[rows]]
    if not rows.size:
        return [heading, elsewhere]
    alone = status in (ONLY_NEW, ONLY_EXISTING, NOT_VISITED)
    size = statistics.length if alone else np.nan_to_num(statistics.offset_p95)
    rows = rows[np.argsort(-size[rows], kind="stable")]
    shown, sentence = capped(rows, tr("{} with the status “{}”").format(what, title(status)))
    head, cells = ALONE if alone else MATCHED
    body = [
        [
            f"{side.numbers[row] or '–'}",
            identifier(side.labels[row]),
            *([] if alone else [_name(statistics.partner[row], side.other_labels)]),
            *cells(statistics, row),
        ]
        for row in shown.tolist()
    ]
    made = table(
        [tr("No."), tr("Identifier"), *([] if alone else [side.other]), *map(tr, head)],
        body,
        (2,) if alone else (3, 4, 5, 6, 8, 9, 10),
        "narrow" if alone else None,
    )
    return [heading, made, sentence, elsewhere]


def _name(row, labels):
    """Name of a line of the other layer, a dash for none."""
    return identifier(labels[row]) if row >= 0 else "–"


def _cells_alone(statistics, row):
    """Cells of a line without a counterpart."""
    return [number(statistics.length[row], 1)]


def _cells_matched(statistics, row):
    """Cells of a line with a counterpart."""
    return [
        number(statistics.length[row], 1),
        percent(statistics.visited_share[row]),
        percent(statistics.matched_share[row]),
        number(statistics.moved[row]),
        unbroken(towards(statistics.moved_azimuth[row])),
        number(statistics.offset_p95[row]),
        number(statistics.offset_max[row]),
        number(statistics.limit[row]),
    ]


# heads of the columns of a list, and the function that fills them
ALONE = (marked("Length (m)"),), _cells_alone
MATCHED = (
    (
        marked("Length (m)"),
        marked("Visited"),
        marked("Matched"),
        marked("Moved (m)"),
        marked("Towards"),
        "95 % (m)",
        marked("Maximum (m)"),
        marked("Limit (m)"),
    ),
    _cells_matched,
)


def _agreeing(statistics, labels, what):
    """The lines that agree, only by name."""
    rows = np.flatnonzero((statistics.status == AGREES) & (statistics.length > 0)).tolist()
    if not rows:
        return []
    most = 3 * LIST_LIMIT
    rest = (
        tr(" … and {} more, which stand in the layers.").format(whole(len(rows) - most))
        if len(rows) > most
        else ""
    )
    listed = ", ".join(text(labels[row]) for row in rows[:most])
    return [
        (
            f"<h3>{maps.key(maps.SCHEME[AGREES])} {_first_upper(what)}: {title(AGREES)}"
            f" ({whole(len(rows))})</h3>"
        ),
        f'<p class="ids">{listed}{rest}</p>',
    ]
