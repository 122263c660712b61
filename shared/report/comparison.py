"""The report of a comparison of edges with existing linework: its order and its first page."""

from dataclasses import dataclass, replace

from ..language import tr, whole
from . import comparison_figures as figures
from .changes import find_changes
from .comparison_lists import greatest_changes, lines_by_status
from .comparison_words import method, metres, own_cautions, present, verdict
from .inputs import checksum, transformed_row
from .page import (
    BLANK,
    TitleBlock,
    appendix,
    bullets,
    ending,
    facts,
    first_page,
    paragraphs,
    percent,
    section,
    text,
    write_page,
)
from .trend import runs_so_far


@dataclass(frozen=True)
class ReportContext:
    """Contents of the report besides the numbers. Texts may hold anything: they are escaped.

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
        Dates of the capture, empty if unknown.
    parameters : tuple of (str, str)
        Further settings to print: name and value.
    notes : tuple of str
        Warnings of the run that bear on the result, such as rows that were left out.
    producer : str
        Program and version.
    surveyed : str
        What counts as surveyed, in words; empty if everything does.
    crs_warning : str
        Warning about the transformation between both CRS, shown with the shift.
    block : TitleBlock
    transformed : str
        How the existing lines were transformed to the edges' CRS, and how well; empty if they were
        not.
    history : sequence of tuple
        Runs so far, as `trend.runs_so_far` takes them; may be empty.
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
    block: TitleBlock = BLANK
    history: tuple = ()
    transformed: str = ""

    def title_block(self):
        """The title block, with the dates of the capture if it gives none."""
        return self.block if self.block.captured else replace(self.block, captured=self.dates)


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
    parts = report_parts(comparison, context, progress)
    said = paragraphs(map(text, verdict(comparison, context.crs_warning)))
    body = [
        first_page(
            section(tr("In short"), f'<div class="lead">{said}</div>'), parts.map, parts.greatest
        ),
        *parts.following,
        runs_so_far(context.history),
        ending(own_cautions(comparison)),
        appendix(*parts.looked_up),
    ]
    write_page(
        path,
        tr("Comparison with existing linework"),
        tr("{} against {}").format(text(context.edges), text(context.existing)),
        "\n".join(part for part in body if part),
        context.title_block(),
        context.made,
    )


@dataclass(frozen=True)
class Parts:
    """Contents of the page, as markup: the map and the greatest changes of the first page, the
    sections that follow, and those of the appendix."""

    map: str
    greatest: str
    following: list
    looked_up: list


def report_parts(comparison, context, progress=lambda share: None):
    """Make the contents of the page, part by part.

    Parameters
    ----------
    comparison : Comparison
    context : ReportContext
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    Parts

    Raises
    ------
    ValueError
        If there is not one identifier for each line.
    """
    _check_labels(comparison, context)
    changes = find_changes(comparison)
    progress(0.0)
    drawn = figures.status_figure(comparison, changes)
    progress(0.3)
    following = [
        section(tr("Result by status"), figures.summary(comparison)),
        figures.offset_figures(comparison, lambda done: progress(0.3 + 0.2 * done)),
        figures.shift_table(comparison, context.crs_warning),
        figures.along_worst(comparison, context, changes, lambda done: progress(0.5 + 0.4 * done)),
    ]
    progress(0.9)
    following.append(lines_by_status(comparison, context, changes))
    looked_up = [
        section(tr("Method and standards"), bullets(method(comparison))),
        section(tr("What was compared, and how"), _compared(comparison, context)),
    ]
    progress(1.0)
    greatest = section(tr("The greatest changes"), greatest_changes(changes, context))
    return Parts(map=drawn, greatest=greatest, following=following, looked_up=looked_up)


def _check_labels(comparison, context):
    """Raise ValueError unless there is one identifier for each line."""
    for name, labels, lines in (
        ("edge_labels", context.edge_labels, comparison.edges),
        ("existing_labels", context.existing_labels, comparison.existing),
    ):
        if len(labels) != lines.count:
            raise ValueError(
                f"{name} must hold one text for each of the {lines.count} lines, got {len(labels)}"
            )


def _layer(name, statistics, length, crs):
    """Name, number of lines, length and CRS of a layer."""
    lines = tr("lines: {}, {}, CRS {}").format(
        whole(present(statistics)), metres(length, 1), text(crs)
    )
    return f"{text(name)}<br>{lines}"


def _compared(comparison, context):
    """The inputs and settings as a table, with notes."""
    rows = [
        (
            tr("Edges (surveyed)"),
            _layer(
                context.edges,
                comparison.edge_statistics,
                comparison.edge_length,
                context.edge_crs,
            ),
        ),
        (
            tr("Existing lines (judged)"),
            _layer(
                context.existing,
                comparison.existing_statistics,
                comparison.existing_length,
                context.existing_crs,
            ),
        ),
        (tr("Captured"), text(context.dates)) if context.dates else None,
        (
            tr("Checksums of the geometries"),
            tr("edges {}, existing lines {}").format(
                checksum(comparison.edges), checksum(comparison.existing)
            ),
        ),
        transformed_row(context.transformed),
        (tr("Compared"), text(context.made)),
        (tr("Program"), text(context.producer)),
        *_settings(comparison, context),
    ]
    notes = bullets([text(note) for note in context.notes]) if context.notes else ""
    return facts([row for row in rows if row]) + notes


def _settings(comparison, context):
    """The settings in words."""
    settings = comparison.settings
    return [
        (tr("Search distance"), metres(settings.max_offset)),
        (tr("Station spacing"), metres(settings.station_spacing)),
        (
            tr("Uncertainty of existing lines"),
            tr("{}, 1-sigma across the line").format(metres(settings.existing_sigma, 3)),
        ),
        (
            tr("Uncertainty of edges"),
            tr("not given, taken as 0")
            if comparison.sigma_assumed
            else tr("line by line, from the layer"),
        ),
        (tr("Surveyed area"), text(context.surveyed)) if context.surveyed else None,
        (tr("Confidence"), percent(settings.confidence, 1)),
        (
            tr("Remove shift"),
            (
                (
                    tr("yes")
                    if comparison.shift_removed
                    else tr("asked for, but none is significant")
                )
                if settings.remove_shift
                else tr("no")
            ),
        ),
        *((text(name), text(value)) for name, value in context.parameters),
    ]
