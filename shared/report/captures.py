"""The report of all captures of a project: what came of each layer, and the comparison if there is
one."""

from dataclasses import dataclass
from typing import NamedTuple

from ..language import counted, marked, tr, whole
from ..lines.comparison_results import AGREES
from . import maps
from .comparison import report_parts
from .comparison_words import own_cautions, verdict
from .page import (
    BLANK,
    GREATEST,
    TitleBlock,
    appendix,
    bullets,
    capped,
    ending,
    facts,
    figure,
    first_page,
    number,
    paragraphs,
    percent,
    section,
    table,
    text,
    write_page,
)
from .trend import runs_so_far

ON_FIRST_PAGE = 2  # sentences of the comparison: what has which status, and the shift
_FAILED = (
    marked("{} layer failed; “Captures” says why."),
    marked("{} layers failed; “Captures” says why."),
)
# words of the table of repairs: kinds and states
_REPAIRS = {
    "leave_out": marked("leave out the epoch"),
    "take_back": marked("take the epoch back in"),
    "corner": marked("corner here"),
    "smooth": marked("no corner here"),
    "break_here": marked("break the edge here"),
    "bridge": marked("bridge the gap"),
    "element tangent": marked("tangent along the stretch"),
    "element arc": marked("arc along the stretch"),
    "element spline": marked("free form along the stretch"),
    "applied": marked("carried out"),
    "lost": marked("its epoch is gone"),
    "no_effect": marked("not carried out"),
}


class LayerRow(NamedTuple):
    """What came of a layer of captures: counts, `length` in metres; `error` is empty for none."""

    name: str
    error: str
    read: int
    kept: int
    rejected: int
    edges: int
    length: float
    warnings: int


class DayRow(NamedTuple):
    """A day checked by `number` control points.

    `wrong`: what is wrong with it, empty for nothing; `east`, `north`, `up`: mean of spot minus
    control, metres; `layers`: names of its layers.
    """

    wrong: str
    name: str
    number: int
    east: float
    north: float
    up: float
    layers: str


@dataclass(frozen=True)
class CapturesContext:
    """Contents of the report. Texts may hold anything: they are escaped.

    Attributes
    ----------
    folder : str
        Name of the folder of the results.
    crs : str
        CRS of the results.
    made : str
        Date and time.
    layers : sequence of LayerRow
    stages : sequence of tuple of str
        Name of each further stage, and its result or error.
    results : sequence of tuple
        Name of each layer written, and its number of rows.
    settings : sequence of tuple of str
        Name of each setting, and its value in words.
    versions : sequence of tuple of str
        Name of each program, and its version.
    edges : Lines, optional
        The edges, for the map if nothing is compared.
    control : sequence of DayRow
        Days that are off first.
    history : sequence of tuple
        Runs so far, as `trend.runs_so_far` takes them.
    block : TitleBlock
    repairs : sequence of tuple of str
        Decisions of a person: kind, value, layer, capture, when it acts, who decided, when, why,
        state, and why it was not carried out.
    """

    folder: str
    crs: str
    made: str
    layers: tuple
    stages: tuple
    results: tuple
    settings: tuple
    versions: tuple
    edges: object = None
    control: tuple = ()
    history: tuple = ()
    block: TitleBlock = BLANK
    repairs: tuple = ()


def write_captures_report(
    path, captures, comparison=None, context=None, progress=lambda share: None
):
    """Write the report as one HTML file.

    Parameters
    ----------
    path : path
    captures : CapturesContext
    comparison : Comparison, optional
    context : ReportContext, optional
        Of the comparison.
    progress : callable
        Called with the share that is done, before the file is begun; may raise.

    Raises
    ------
    OSError
        If the file cannot be written.
    """
    said = [(text(name), text(value)) for name, value in (*captures.settings, *captures.versions)]
    own = [
        _control(captures),
        _layers(captures),
        _stages(captures),
        _repairs(captures.repairs),
    ]
    looked_up = _results(captures), section(tr("Settings"), facts(said))
    if comparison is None:
        body = [
            first_page(_lead(captures), edges_figure(captures.edges), _matters(captures)),
            *own,
            runs_so_far(captures.history),
            ending(),
            appendix(*looked_up),
        ]
    else:
        parts = report_parts(comparison, context, progress)
        body = [
            first_page(_lead(captures, comparison, context.crs_warning), parts.map, parts.greatest),
            *own,
            _compared(comparison),
            *parts.following,
            runs_so_far(captures.history),
            ending(own_cautions(comparison)),
            appendix(*parts.looked_up, *looked_up),
        ]
    write_page(
        path,
        tr("Captures of a project"),
        tr("Results in {}").format(text(captures.folder)),
        "\n".join(part for part in body if part),
        captures.block,
        captures.made,
    )


def _lead(captures, comparison=None, crs_warning=""):
    """The answer in three sentences: what is wrong, if anything; what came of the layers; what the
    comparison found."""
    said = _control_in_short(captures, comparison is not None)
    done = [layer for layer in captures.layers if not layer.error]
    counts = tr("Layers processed: {} of {}. Edges: {}, {} m on the ground.").format(
        whole(len(done)),
        whole(len(captures.layers)),
        whole(sum(layer.edges for layer in done)),
        number(sum(layer.length for layer in done), 1),
    )
    failed = len(captures.layers) - len(done)
    if failed:
        counts = " ".join((counts, counted(failed, *_FAILED)))
    said.append(counts)
    if comparison is not None:
        said += map(text, verdict(comparison, crs_warning)[:ON_FIRST_PAGE])
    else:
        read, rejected = (sum(layer.read for layer in done), sum(layer.rejected for layer in done))
        said.append(
            tr("Of {} epochs {} ({}) were rejected; warnings: {}.").format(
                whole(read),
                whole(rejected),
                percent(rejected / max(read, 1), 1),
                whole(sum(layer.warnings for layer in captures.layers)),
            )
        )
    return section(tr("In short"), f'<div class="lead">{paragraphs(said)}</div>')


def _control_in_short(captures, named):
    """Sentences on the control points: the days that are off, by name if `named`, which is needed
    where no other part of the first page names them."""
    off = [day for day in captures.control if day.wrong]
    if not captures.control:
        return []
    if not off:
        return [tr("No day is off by more than chance.")]
    if named:
        return [text(day.wrong) for day in off[:GREATEST]]
    days = whole(len(off)), whole(len(captures.control))
    return [tr("Days that are off the control points by more than chance: {} of {}.").format(*days)]


def _matters(captures):
    """What to inspect first if nothing was compared: layers that failed, days that are off, and the
    layers with the highest share of rejected epochs."""
    rows = [
        [tr("layer failed"), text(layer.name), text(layer.error)]
        for layer in captures.layers
        if layer.error
    ]
    rows += [
        [tr("day is off"), text(day.name), text(day.wrong)] for day in captures.control if day.wrong
    ]
    done = [layer for layer in captures.layers if not layer.error and layer.rejected]
    done.sort(key=lambda layer: -layer.rejected / max(layer.read, 1))
    rows += [
        [
            tr("epochs rejected"),
            text(layer.name),
            tr("{} of {} ({}); warnings: {}").format(
                whole(layer.rejected),
                whole(layer.read),
                percent(layer.rejected / max(layer.read, 1), 1),
                whole(layer.warnings),
            ),
        ]
        for layer in done
    ]
    if not rows:
        return ""
    head = [tr("What"), tr("Where"), tr("Finding")]
    return section(tr("What matters most"), table(head, rows[:GREATEST]))


def _compared(comparison):
    """Sentences on the comparison, beyond those of the first page."""
    said = paragraphs(map(text, verdict(comparison)[ON_FIRST_PAGE:]))
    if not said:
        return ""
    return section(tr("Comparison with existing lines in short"), f'<div class="lead">{said}</div>')


def edges_figure(edges):
    """A map of the edges of a run.

    Parameters
    ----------
    edges : Lines or None

    Returns
    -------
    str
        Markup; empty if there is nothing to draw.
    """
    if edges is None:
        return ""
    shapes, _ = maps.geometries(edges)
    svg, tolerance = maps.line_map([(maps.SCHEME[AGREES], shapes)], (), tr("Map of the edges"))
    said = tr("The edges, simplified by up to {} m. North is that of their CRS.")
    return figure(svg, said.format(number(tolerance, 2))) if svg else ""


def _control(captures):
    """Days of capture against control points, those that are off first."""
    if not captures.control:
        return ""
    rows = [
        [
            text(day.name),
            tr("off") if day.wrong else tr("fine") if day.number else tr("not checked"),
            whole(day.number),
            *(number(shift, 3, True) for shift in (day.east, day.north, day.up)),
            text(day.layers),
        ]
        for day in captures.control
    ]
    head = [
        tr("Day"),
        tr("State"),
        tr("Control points"),
        tr("East (m)"),
        tr("North (m)"),
        tr("Up (m)"),
        tr("Layers"),
    ]
    return section(
        tr("Control points"),
        table(head, rows, range(2, 6)),
    )


def _layers(captures):
    """What came of each layer."""
    done = [layer for layer in captures.layers if not layer.error]
    counts = ("read", "kept", "rejected", "edges")
    rows = [
        [
            text(layer.name),
            tr("failed") if layer.error else tr("done"),
            *(
                ("–",) * 5
                if layer.error
                else (*(whole(getattr(layer, name)) for name in counts), number(layer.length, 1))
            ),
            whole(layer.warnings),
        ]
        for layer in captures.layers
    ]
    if len(done) > 1:
        rows.append(
            [
                tr("all"),
                "",
                *(whole(sum(getattr(layer, name) for layer in done)) for name in counts),
                number(sum(layer.length for layer in done), 1),
                whole(sum(layer.warnings for layer in captures.layers)),
            ]
        )
    head = [
        tr("Layer"),
        tr("State"),
        tr("Epochs read"),
        tr("Kept"),
        tr("Rejected"),
        tr("Edges"),
        tr("Length (m)"),
        tr("Warnings"),
    ]
    failed = [
        f"{text(layer.name)}: {text(layer.error)}" for layer in captures.layers if layer.error
    ]
    return section(
        tr("Captures"),
        table(head, rows, range(2, 8), None, len(done) > 1),
        f"<h3>{tr('Why layers failed')}</h3>{bullets(failed)}" if failed else "",
    )


def _stages(captures):
    """Stages that followed."""
    if not captures.stages:
        return ""
    said = [f"{text(name)}: {text(result)}" for name, result in captures.stages]
    return section(tr("What followed"), bullets(said))


def _repairs(repairs):
    """Decisions of a person, and what became of them."""
    if not repairs:
        return ""
    shown, note = capped(repairs, tr("repairs"))
    rows = [
        [
            _repair_words(f"{kind} {value}".strip()),
            *map(text, (layer, capture, at)),
            text(", ".join(part for part in (who, when, why) if part)),
            ": ".join(filter(None, (_repair_words(state), text(reason)))),
        ]
        for kind, value, layer, capture, at, who, when, why, state, reason in shown
    ]
    head = [tr("Repair"), tr("Layer"), tr("Capture"), tr("At"), tr("Decided"), tr("State")]
    return section(tr("Repairs"), table(head, rows, ()), note)


def _repair_words(word):
    """A word of the table of repairs in plain words; unknown ones as they are."""
    return tr(_REPAIRS[word]) if word in _REPAIRS else text(word)


def _results(captures):
    """Layers that were written."""
    rows = [[text(name), whole(count)] for name, count in captures.results]
    return section(
        tr("What was written"),
        facts([(tr("CRS"), text(captures.crs))]),
        table([tr("Layer"), tr("Rows")], rows, (1,), "narrow"),
    )
