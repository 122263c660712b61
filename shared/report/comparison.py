"""The report of a comparison of edges with existing linework: its order and its first page."""

import hashlib
from dataclasses import dataclass, replace

import numpy as np

from . import comparison_figures as figures
from .changes import find_changes
from .comparison_lists import greatest_changes, lines_by_status
from .comparison_words import method, metres, own_cautions, present, verdict
from .page import (
    BLANK,
    TitleBlock,
    appendix,
    bullets,
    ending,
    facts,
    paragraphs,
    percent,
    section,
    text,
    write_page,
)


@dataclass(frozen=True)
class ReportContext:
    """What the report says besides the numbers. Texts may hold anything: they are escaped.

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
        Dates of the capture, empty where not known.
    parameters : tuple of (str, str)
        Further settings to print: name and value.
    notes : tuple of str
        What was said on the way and bears on the result, such as rows that were left out.
    producer : str
        Program and version.
    surveyed : str
        What counts as surveyed, in words; empty where all does.
    crs_warning : str
        What is to be said beside the shift of the operation that joins the two CRS.
    block : TitleBlock
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

    def title_block(self):
        """The title block with the dates of the capture, where none are given in it."""
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
    first, following, looked_up = report_sections(comparison, context, progress)
    body = [*first, *following, ending(own_cautions(comparison)), appendix(*looked_up)]
    write_page(
        path,
        "Comparison with existing linework",
        f"{text(context.edges)} against {text(context.existing)}",
        "\n".join(part for part in body if part),
        context.title_block(),
        context.made,
    )


def report_sections(comparison, context, progress=lambda share: None, lead="In short"):
    """Make what stands on the page, section by section: the first page, the sections that follow,
    the appendix.

    Parameters
    ----------
    comparison : Comparison
    context : ReportContext
    progress : callable
        Called with the share that is done; may raise.
    lead : str
        Title of the first section.

    Returns
    -------
    first, following, looked_up : list of str
        Markup.

    Raises
    ------
    ValueError
        If there is not one identifier for each line.
    """
    _check_labels(comparison, context)
    changes = find_changes(comparison)
    said = paragraphs(map(text, verdict(comparison, context.crs_warning)))
    progress(0.0)
    first = [
        section(lead, f'<div class="lead">{said}</div>'),
        figures.status_figure(comparison, changes),
        section("The greatest changes", greatest_changes(changes, context)),
    ]
    progress(0.3)
    following = [
        section("Result by status", figures.summary(comparison)),
        figures.offset_figures(comparison, lambda done: progress(0.3 + 0.2 * done)),
        figures.shift_table(comparison, context.crs_warning),
        figures.along_worst(comparison, context, changes, lambda done: progress(0.5 + 0.4 * done)),
    ]
    progress(0.9)
    following.append(lines_by_status(comparison, context, changes))
    looked_up = [
        section("Method and standards", bullets(method(comparison))),
        section("What was compared, and how", _compared(comparison, context)),
    ]
    progress(1.0)
    return first, following, looked_up


def _check_labels(comparison, context):
    """There must be one identifier for each line."""
    for name, labels, lines in (
        ("edge_labels", context.edge_labels, comparison.edges),
        ("existing_labels", context.existing_labels, comparison.existing),
    ):
        if len(labels) != lines.count:
            raise ValueError(
                f"{name} must hold one text for each of the {lines.count} lines, got {len(labels)}"
            )


def _compared(comparison, context):
    settings = comparison.settings
    rows = [
        (
            "Edges (surveyed)",
            (
                f"{text(context.edges)}<br>{present(comparison.edge_statistics):,} lines,"
                f" {metres(comparison.edge_length, 1)}, CRS {text(context.edge_crs)}"
            ),
        ),
        (
            "Existing lines (judged)",
            (
                f"{text(context.existing)}<br>{present(comparison.existing_statistics):,} lines,"
                f" {metres(comparison.existing_length, 1)}, CRS {text(context.existing_crs)}"
            ),
        ),
        ("Captured", text(context.dates)) if context.dates else None,
        (
            "Checksums of the geometries",
            f"edges {checksum(comparison.edges)}, existing lines {checksum(comparison.existing)}",
        ),
        ("Compared", f"{text(context.made)}, {text(context.producer)}"),
        ("Search distance", metres(settings.max_offset)),
        ("Station spacing", metres(settings.station_spacing)),
        (
            "Uncertainty of existing lines",
            f"{metres(settings.existing_sigma, 3)}, 1-sigma across the line",
        ),
        (
            "Uncertainty of edges",
            "not given, taken as 0" if comparison.sigma_assumed else "line by line, from the layer",
        ),
        ("Surveyed area", text(context.surveyed)) if context.surveyed else None,
        ("Confidence", percent(settings.confidence, 1)),
        (
            "Remove shift",
            (
                ("yes" if comparison.shift_removed else "asked for, but none is significant")
                if settings.remove_shift
                else "no"
            ),
        ),
        *((text(name), text(value)) for name, value in context.parameters),
    ]
    notes = bullets([text(note) for note in context.notes]) if context.notes else ""
    return facts([row for row in rows if row]) + notes


def checksum(lines):
    """The first sixteen digits of the SHA-256 of the vertices of a layer, as they were compared:
    whoever compares the same lines again gets the same digits.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    str
    """
    total = hashlib.sha256()
    for values in (lines.offsets, lines.x, lines.y, lines.z):
        total.update(np.ascontiguousarray(values, dtype="<f8").tobytes())
    return total.hexdigest()[:16]
