"""The report of all captures of a project: what came of each layer, and the comparison where there
is one."""

from dataclasses import dataclass

from ..language import counted, marked, tr, whole
from ..lines.comparison import AGREES
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
# of repairs: what they are, and what became of them, by the words of the table
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


@dataclass(frozen=True)
class CapturesContext:
    """What the report says. Texts may hold anything: they are escaped.

    Attributes
    ----------
    folder : str
        Name of the folder of the results.
    crs : str
        CRS of the results.
    made : str
        Date and time.
    layers : sequence of tuple
        Name, error (empty where there is none), epochs read, kept and rejected, edges, length in
        metres, number of warnings.
    stages : sequence of tuple of str
        What followed, and what came of it or went wrong.
    results : sequence of tuple
        Name of each layer written, and its number of rows.
    settings : sequence of tuple of str
        What it is called, and its value in words.
    versions : sequence of tuple of str
    edges : Lines, optional
        The edges, for the map where nothing is compared.
    control : sequence of tuple
        Days checked by control points, those that are off first: what is wrong (empty where
        nothing is), day, number of control points, mean of spot minus control east, north and up
        in metres, layers.
    history : sequence of tuple
        Runs so far, the last one being this: number, when, layers done and failed, epochs read and
        kept, km, sigma, repeatability and greatest difference from control points in metres, NaN
        for none.
    block : TitleBlock
    repairs : sequence of tuple of str
        What a person decided: kind, value, layer, capture, when it acts, who decided, when, why,
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
            _compared(comparison, context),
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
    """The answer in three sentences: what is wrong or that nothing is, what came of the layers,
    what the comparison found."""
    said = _control_in_short(captures, comparison is not None)
    done = [layer for layer in captures.layers if not layer[1]]
    counts = tr("{} of {} layers were processed: {} edges, {} m on the ground.").format(
        whole(len(done)),
        whole(len(captures.layers)),
        whole(sum(layer[5] for layer in done)),
        number(sum(layer[6] for layer in done), 1),
    )
    failed = len(captures.layers) - len(done)
    if failed:
        counts = " ".join((counts, counted(failed, *_FAILED)))
    said.append(counts)
    if comparison is not None:
        said += map(text, verdict(comparison, crs_warning)[:ON_FIRST_PAGE])
    else:
        read, rejected = (sum(layer[place] for layer in done) for place in (2, 4))
        said.append(
            tr("Of {} epochs {} ({}) were rejected; warnings: {}.").format(
                whole(read),
                whole(rejected),
                percent(rejected / max(read, 1), 1),
                whole(sum(layer[7] for layer in captures.layers)),
            )
        )
    return section(tr("In short"), f'<div class="lead">{paragraphs(said)}</div>')


def _control_in_short(captures, named):
    """What the control points say: the days that are off, by name where no other part of the first
    page names them."""
    off = [day for day in captures.control if day[0]]
    if not captures.control:
        return []
    if not off:
        return [tr("No day is off by more than chance.")]
    if named:
        return [text(day[0]) for day in off[:GREATEST]]
    days = whole(len(off)), whole(len(captures.control))
    return [tr("Days that are off the control points by more than chance: {} of {}.").format(*days)]


def _matters(captures):
    """What wants a look first where nothing was compared: what failed, days that are off, and the
    layers of which most was rejected."""
    rows = [[tr("layer failed"), text(layer[0]), text(layer[1])]
            for layer in captures.layers if layer[1]]  # fmt: skip
    rows += [[tr("day is off"), text(day[1]), text(day[0])] for day in captures.control if day[0]]
    done = [layer for layer in captures.layers if not layer[1] and layer[4]]
    done.sort(key=lambda layer: -layer[4] / max(layer[2], 1))
    rows += [
        [
            tr("epochs rejected"),
            text(layer[0]),
            tr("{} of {} ({}); warnings: {}").format(
                whole(layer[4]),
                whole(layer[2]),
                percent(layer[4] / max(layer[2], 1), 1),
                whole(layer[7]),
            ),
        ]
        for layer in done
    ]
    if not rows:
        return ""
    head = [tr("What"), tr("Where"), tr("Finding")]
    return section(tr("What matters most"), table(head, rows[:GREATEST]))


def _compared(comparison, context):
    """What the comparison says in sentences, beyond the verdict."""
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
        Markup; empty where there is nothing to draw.
    """
    if edges is None:
        return ""
    shapes, _ = maps.geometries(edges)
    svg, tolerance = maps.line_map([(maps.SCHEME[AGREES], shapes)], (), tr("Map of the edges"))
    said = tr("The edges, simplified by up to {} m. North is that of their CRS.")
    return figure(svg, said.format(number(tolerance, 2))) if svg else ""


def _control(captures):
    """Capture days against control points: what is off comes first of all."""
    if not captures.control:
        return ""
    rows = [
        [
            text(name),
            tr("off") if said else tr("fine") if count else tr("not checked"),
            whole(count),
            *(number(shift, 3, True) for shift in shifts),
            text(layers),
        ]
        for said, name, count, *shifts, layers in captures.control
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
    done = [layer for layer in captures.layers if not layer[1]]
    rows = [
        [
            text(name),
            tr("failed") if error else tr("done"),
            *(
                ("–",) * 5
                if error
                else (whole(read), whole(kept), whole(rejected), whole(edges), number(length, 1))
            ),
            whole(warnings),
        ]
        for name, error, read, kept, rejected, edges, length, warnings in captures.layers
    ]
    if len(done) > 1:
        rows.append(
            [
                tr("all"),
                "",
                *(whole(sum(layer[place] for layer in done)) for place in (2, 3, 4, 5)),
                number(sum(layer[6] for layer in done), 1),
                whole(sum(layer[7] for layer in captures.layers)),
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
    failed = [f"{text(layer[0])}: {text(layer[1])}" for layer in captures.layers if layer[1]]
    return section(
        tr("Captures"),
        table(head, rows, range(2, 8), None, len(done) > 1),
        f"<h3>{tr('Why layers failed')}</h3>{bullets(failed)}" if failed else "",
    )


def _stages(captures):
    """What followed."""
    if not captures.stages:
        return ""
    said = [f"{text(name)}: {text(result)}" for name, result in captures.stages]
    return section(tr("What followed"), bullets(said))


def _repairs(repairs):
    """What a person decided, and what became of it."""
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
    """A word of the table of repairs as people say it; one that is not known as it is."""
    return tr(_REPAIRS[word]) if word in _REPAIRS else text(word)


def _results(captures):
    """What was written."""
    rows = [[text(name), whole(count)] for name, count in captures.results]
    return section(
        tr("What was written"),
        facts([(tr("CRS"), text(captures.crs))]),
        table([tr("Layer"), tr("Rows")], rows, (1,), "narrow"),
    )
