"""The report of a basemap that was brought up to date: what changed, by how much, who decided, and
what was held back."""

from dataclasses import dataclass

import numpy as np

from .page import (
    BLANK,
    LIST_LIMIT,
    TitleBlock,
    bullets,
    capped,
    ending,
    facts,
    number,
    paragraphs,
    section,
    table,
    text,
    towards,
    write_page,
)

WORDS = {
    "unchanged": "as it was",
    "shifted": "moved by the shift alone",
    "followed": "an end went along with a neighbour",
    "partly": "replaced over a part of its length",
    "replaced": "replaced",
    "added": "added",
    "retired": "marked as retired",
    "deleted": "deleted",
}


@dataclass(frozen=True)
class Change:
    """A change. `existing_id` is empty for an added line; lengths and figures in metres, the
    azimuth in degrees, NaN for none; `decided_by` is empty where nobody decided."""

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


@dataclass(frozen=True)
class UpdateContext:
    """What the report says. Texts may hold anything: they are escaped.

    Attributes
    ----------
    existing, edges, crs : str
        What they are called.
    made : str
        Date and time.
    unchanged : int
        Lines that are as they were.
    changes : sequence of Change
    held : sequence of tuple of str
        Existing line, edge (empty where there is none), and why it was held back.
    shift : tuple of float
        Added to every existing line, east and north, metres.
    settings : sequence of tuple of str
        What it is called, and its value in words.
    rule : str
        What stands in `decided_by` where a rule decided; empty where none could.
    block : TitleBlock
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


def write_update_report(path, context):
    """Write the report as one HTML file.

    Parameters
    ----------
    path : path
    context : UpdateContext

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    body = [
        section("In short", f'<div class="lead">{paragraphs(_lead(context))}</div>'),
        section("What changed", _counts(context)),
        section("Changes", *_changes(context)),
        section("Held back", *_held(context)),
        section("Settings", facts([(text(name), text(said)) for name, said in context.settings])),
        ending(
            [
                "Stretches that nobody walked keep the accuracy that they had.",
                "The table of changes takes this update back as long as the lines are as it left"
                " them.",
            ]
        ),
    ]
    write_page(
        path,
        "Update of existing linework",
        f"{text(context.existing)} by {text(context.edges)} · CRS {text(context.crs)}",
        "\n".join(part for part in body if part),
        context.block,
        context.made,
    )


def _of(context, *what):
    return [change for change in context.changes if change.what in what]


def _counted(count, one="line was", several="lines were"):
    return f"{count:,} {one if count == 1 else several}"


def _lead(context):
    """The answer in sentences."""
    redrawn = _of(context, "replaced", "partly")
    added, gone = _of(context, "added"), _of(context, "retired", "deleted")
    length = sum(change.length_after for change in added)
    out = [
        f"{_counted(len(redrawn))} redrawn as displaced,"
        f" {_counted(len(added))} added ({number(length, 1)} m),"
        f" {_counted(len(gone))} taken as gone."
    ]
    if any(context.shift):
        east, north = context.shift
        out.append(
            f"The whole layer was moved by {number(east, 3, True)} m east and"
            f" {number(north, 3, True)} m north: a significant shift was taken out."
        )
    else:
        out.append("No shift was taken out of the layer.")
    deciders = [change.decided_by for change in context.changes if change.decided_by]
    ruled = deciders.count(context.rule)
    decided = len(deciders) - ruled
    rule = f", a rule on {ruled:,} ({context.rule})" if ruled else ""
    out.append(
        f"Somebody decided on {decided:,} of {len(context.changes):,} changes{rule}; the others"
        " follow from the settings below."
    )
    if context.held:
        out.append(f"{_counted(len(context.held), 'case waits', 'cases wait')} for a person.")
    return out


def _counts(context):
    """Lines and lengths by what became of them."""
    rows = [[text(WORDS["unchanged"]), f"{context.unchanged:,}", "", ""]]
    for what in list(WORDS)[1:]:
        changes = _of(context, what)
        if changes:
            before, after = (
                sum(getattr(change, name) for change in changes)
                for name in ("length_before", "length_after")
            )
            after = np.nan if what == "deleted" else after
            rows.append(
                [text(WORDS[what]), f"{len(changes):,}", number(before, 1), number(after, 1)]
            )
    head = ["What became of it", "Lines", "Length before (m)", "Length after (m)"]
    return table(head, rows, range(1, 4))


def _changes(context):
    """The list of changes, the farthest moved first; what was only shifted is counted above."""
    listed = [change for change in context.changes if change.what != "shifted"]
    listed.sort(key=lambda change: -np.nan_to_num(change.moved))
    rows = [
        [
            text(change.existing_id or "new"),
            text(WORDS[change.what]),
            number(change.moved, 2),
            towards(change.moved_azimuth).replace("°)", "°\u2060)"),  # no line break before it
            number(change.offset_max, 2),
            text(change.edge_ids),
            text(change.decided_by or "settings"),
            text(change.reason),
        ]
        for change in listed
    ]
    if not rows:
        return [paragraphs(["Nothing but the shift changed." if any(context.shift) else "None."])]
    head = ["Line", "What", "Moved (m)", "Towards", "Max. offset (m)", "Edges",
            "Decided by", "Why"]  # fmt: skip
    rows, note = capped(rows, "changes")
    return [table(head, rows, (2, 4)), note]


def _held(context):
    """What waits for a person."""
    rows = [[text(line or "none"), text(edge or "none"), text(why)]
            for line, edge, why in context.held]  # fmt: skip
    if not rows:
        return [bullets(["Nothing was held back."])]
    note = f"The first {LIST_LIMIT} of {len(rows):,} are listed." if len(rows) > LIST_LIMIT else ""
    listed = table(["Line", "Edge", "Why"], rows[:LIST_LIMIT])
    return [listed, paragraphs([note], "note") if note else ""]
