"""The report of an update of existing linework: what changed, by how much, who decided, and what
was held back."""

from dataclasses import dataclass

import numpy as np

from ..language import counted, marked, tr, whole
from .changes import find_changes
from .inputs import checksum, transformed_row
from .page import (
    BLANK,
    GREATEST,
    LIST_LIMIT,
    TitleBlock,
    appendix,
    capped,
    displacement,
    ending,
    facts,
    first_page,
    identifier,
    number,
    paragraphs,
    section,
    table,
    text,
    towards,
    unbroken,
    words,
    write_page,
)
from .update_map import update_figure

WORDS = {
    "unchanged": marked("as it was"),
    "shifted": marked("moved by the shift alone"),
    "followed": marked("an end followed a neighbour"),
    "partly": marked("replaced in part"),
    "replaced": marked("replaced"),
    "added": marked("added"),
    "retired": marked("marked as retired"),
    "deleted": marked("deleted"),
}


@dataclass(frozen=True)
class Change:
    """A change of one line.

    Lengths and figures are in metres, the azimuth in degrees, NaN for none. `existing_id` is empty
    for an added line, `decided_by` if nobody decided. `existing`, `edge`: rows of the lines in the
    comparison, -1 for none.
    """

    what: str
    existing_id: str
    edge_ids: str
    length_before: float
    length_after: float
    moved: float
    moved_azimuth: float
    offset_max: float
    decided_by: str
    reason: str
    existing: int = -1
    edge: int = -1


@dataclass(frozen=True)
class UpdateContext:
    """Contents of the report. Texts may hold anything: they are escaped.

    Attributes
    ----------
    existing, edges, crs : str
        Names of the layers and of the CRS.
    made : str
        Date and time.
    unchanged : int
        Number of lines that did not change.
    changes : sequence of Change
    held : sequence of tuple of str
        Existing line, edge (each empty for none), and why it was held back.
    shift : tuple of float
        Added to every existing line, east and north, metres.
    settings : sequence of tuple of str
        Name of each setting, and its value in words.
    rule : str
        Value of `decided_by` if a rule decided; empty if none can.
    block : TitleBlock
    edges_crs : str
        CRS of the edges.
    transformed : str
        How the existing lines were transformed to compare them with the edges, and how well; empty
        if they were not.
    producer : str
        Program and version.
    """

    existing: str
    edges: str
    crs: str
    made: str
    unchanged: int
    changes: tuple
    held: tuple
    shift: tuple
    settings: tuple
    rule: str = ""
    block: TitleBlock = BLANK
    edges_crs: str = ""
    transformed: str = ""
    producer: str = "Curbwright"


def write_update_report(path, context, compared=None, plan=None):
    """Write the report as one HTML file.

    Parameters
    ----------
    path : path
    context : UpdateContext
    compared : Comparison, optional
        Of the edges with the existing lines. It gives the changes the numbers of the comparison's
        own report; without it they are numbered as they are listed.
    plan : UpdatePlan, optional
        Shown on the map; without it there is none. It needs `compared`.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    changes = None if compared is None else find_changes(compared)
    listed = _numbered(context, changes)
    drawn = "" if plan is None else update_figure(compared, plan, changes)
    body = [
        first_page(
            section(tr("In short"), f'<div class="lead">{paragraphs(_lead(context))}</div>'),
            drawn,
            section(tr("The greatest changes"), _greatest(listed)),
        ),
        section(tr("What changed"), _counts(context)),
        section(tr("Changes"), *_changes(context, listed)),
        section(tr("Held back"), *_held(context, plan, changes)),
        ending(
            [
                tr("Stretches that nobody walked keep the accuracy that they had."),
                tr(
                    "The table of changes takes this update back as long as the lines are as it"
                    " left them."
                ),
            ]
        ),
        appendix(
            section(tr("What was used"), facts(_inputs(context, compared))),
            section(
                tr("Settings"), facts([(text(name), text(said)) for name, said in context.settings])
            ),
        ),
    ]
    write_page(
        path,
        tr("Update of existing linework"),
        tr("{} by {}").format(text(context.existing), text(context.edges)),
        "\n".join(part for part in body if part),
        context.block,
        context.made,
    )


def _inputs(context, compared):
    """Rows on the inputs, and on the program."""
    rows = [(tr("Existing lines"), f"{text(context.existing)}<br>{tr('CRS')} {text(context.crs)}")]
    of_edges = text(context.edges)
    if context.edges_crs:
        of_edges += f"<br>{tr('CRS')} {text(context.edges_crs)}"
    rows.append((tr("Edges"), of_edges))
    if compared is not None:
        sums = checksum(compared.edges), checksum(compared.existing)
        said = tr("edges {}, existing lines {}").format(*sums)
        rows.append((tr("Checksums of the geometries"), said))
    rows.append(transformed_row(context.transformed))
    rows.append((tr("Updated"), text(context.made)))
    rows.append((tr("Program"), text(context.producer)))
    return rows


def _of(context, *what):
    """The changes of some kinds."""
    return [change for change in context.changes if change.what in what]


def _numbered(context, changes):
    """The changes other than the shift, each with its number: those of the comparison first, by
    their numbers, then the others, the farthest moved first."""
    listed = [change for change in context.changes if change.what != "shifted"]
    listed.sort(key=lambda change: -np.nan_to_num(change.moved))
    if changes is None:
        return list(enumerate(listed, start=1))
    numbers = [_number_of(changes, change.existing, change.edge) for change in listed]
    order = sorted(range(len(listed)), key=lambda place: numbers[place] or len(changes) + 1)
    return [(numbers[place], listed[place]) for place in order]


def _number_of(changes, existing, edge):
    """Number of the change that a line belongs to; 0 for none."""
    number_of = changes.existing_number[existing] if existing >= 0 else 0
    return int(number_of or (changes.edge_number[edge] if edge >= 0 else 0))


def _lead(context):
    """The answer in three sentences."""
    redrawn = _of(context, "replaced", "partly")
    added, gone = _of(context, "added"), _of(context, "retired", "deleted")
    length = sum(change.length_after for change in added)
    what = (
        counted(
            len(redrawn),
            marked("{} line was redrawn as displaced"),
            marked("{} lines were redrawn as displaced"),
        ),
        counted(
            len(added),
            marked("{} line was added ({} m)"),
            marked("{} lines were added ({} m)"),
            number(length, 1),
        ),
        counted(
            len(gone), marked("{} line was taken as gone"), marked("{} lines were taken as gone")
        ),
    )
    shift = tr("No shift was taken out of the layer.")
    if any(context.shift):
        shift = tr(
            "The whole layer was moved by {} m towards {}: a significant shift was taken out."
        ).format(*displacement(*context.shift))
    return [", ".join(what) + ".", shift, _deciders(context)]


def _deciders(context):
    """Who decided on the changes, and how many cases wait for a decision."""
    deciders = [change.decided_by for change in context.changes if change.decided_by]
    ruled = deciders.count(context.rule)
    counts = whole(len(deciders) - ruled), whole(len(context.changes))
    if ruled:
        said = tr(
            "A person decided on {} of {} changes, a rule on {} ({}); the others follow from the"
            " settings"
        ).format(*counts, whole(ruled), text(context.rule))
    else:
        said = tr(
            "A person decided on {} of {} changes; the others follow from the settings"
        ).format(*counts)
    if not context.held:
        return said + "."
    waits = counted(
        len(context.held),
        marked("{} case waits for a person"),
        marked("{} cases wait for a person"),
    )
    return f"{said}; {waits}."


def _greatest(listed):
    """The changes of the first page."""
    if not listed:
        return paragraphs([tr("Nothing is redrawn, added or gone.")])
    rows = [
        [
            f"{place or '–'}",
            words(tr(WORDS[change.what])),
            identifier(change.existing_id or "–"),
            identifier(change.edge_ids or "–"),
            number(max(change.length_before, change.length_after), 1),
            number(change.moved, 2),
            unbroken(towards(change.moved_azimuth)),
        ]
        for place, change in listed[:GREATEST]
    ]
    return table(
        [tr("No."), tr("What"), tr("Existing line"), tr("Edge"), tr("Length (m)"),
         tr("Moved (m)"), tr("Towards")],
        rows,
        (4, 5),
    )  # fmt: skip


def _counts(context):
    """Numbers and lengths of lines by what became of them, and why."""
    rows = [[text(tr(WORDS["unchanged"])), whole(context.unchanged), "", "", ""]]
    for what in list(WORDS)[1:]:
        changes = _of(context, what)
        if changes:
            before, after = (
                sum(getattr(change, name) for change in changes)
                for name in ("length_before", "length_after")
            )
            after = np.nan if what == "deleted" else after
            why = "; ".join(dict.fromkeys(change.reason for change in changes))
            rows.append(
                [
                    words(tr(WORDS[what])),
                    whole(len(changes)),
                    number(before, 1),
                    number(after, 1),
                    text(why),
                ]
            )
    head = [tr("What became of it"), tr("Lines"), tr("Length before (m)")]
    head += [tr("Length after (m)"), tr("Why")]
    return table(head, rows, range(1, 4))


def _changes(context, listed):
    """The list of changes; lines that were only shifted are not listed."""
    if not listed:
        nothing = tr("Nothing but the shift changed.") if any(context.shift) else tr("None.")
        return [paragraphs([nothing])]
    rows = [
        [
            f"{place or '–'}",
            identifier(change.existing_id or tr("new")),
            words(tr(WORDS[change.what])),
            number(change.length_before, 1),
            number(change.length_after, 1),
            number(change.moved, 2),
            unbroken(towards(change.moved_azimuth)),
            number(change.offset_max, 2),
            identifier(change.edge_ids),
            words(change.decided_by or tr("settings")),
        ]
        for place, change in listed
    ]
    head = [tr("No."), tr("Line"), tr("What"), tr("Before (m)"), tr("After (m)"), tr("Moved (m)")]
    head += [tr("Towards"), tr("Max. offset (m)"), tr("Edges"), tr("Decided by")]
    rows, note = capped(rows, tr("changes"))
    return [table(head, rows, (3, 4, 5, 7)), note]


def _held(context, plan, changes):
    """The list of what waits for a person."""
    if not context.held:
        return [paragraphs([tr("Nothing was held back.")])]
    numbers = [0] * len(context.held)
    if plan is not None:
        numbers = [_number_of(changes, held.existing, held.edge) for held in plan.held]
    rows = [
        [
            f"{place or '–'}",
            identifier(line or tr("none")),
            identifier(edge or tr("none")),
            text(why),
        ]
        for place, (line, edge, why) in zip(numbers, context.held)
    ]
    note = ""
    if len(rows) > LIST_LIMIT:
        note = tr("The first {} of {} are listed.").format(LIST_LIMIT, whole(len(rows)))
    listed = table([tr("No."), tr("Line"), tr("Edge"), tr("Why")], rows[:LIST_LIMIT])
    return [listed, paragraphs([note], "note") if note else ""]
