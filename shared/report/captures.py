"""The report of all captures of a project: what came of each layer, and the comparison where there
is one."""

from dataclasses import dataclass

import numpy as np

from . import plots
from .comparison import report_sections
from .comparison_words import own_cautions
from .page import (
    BLANK,
    TitleBlock,
    appendix,
    bullets,
    ending,
    facts,
    figure,
    number,
    paragraphs,
    section,
    table,
    text,
    write_page,
)

RUNS = 20  # listed in the report; the chart shows all


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
    settings = section("Settings", facts(said))
    own = [_layers(captures), _stages(captures), _repairs(captures.repairs)]
    if comparison is None:
        body = [
            _control(captures),
            *own,
            _history(captures.history),
            ending(),
            appendix(settings, _results(captures)),
        ]
    else:
        first, following, looked_up = report_sections(
            comparison, context, progress, "Comparison with existing lines in short"
        )
        body = [
            _control(captures),
            *first,
            *own,
            *following,
            _history(captures.history),
            ending(own_cautions(comparison)),
            appendix(*looked_up, settings, _results(captures)),
        ]
    write_page(
        path,
        "Captures of a project",
        f"Results in {text(captures.folder)}",
        "\n".join(part for part in body if part),
        captures.block,
        captures.made,
    )


def _control(captures):
    """Capture days against control points: what is off comes first of all."""
    if not captures.control:
        return ""
    wrong = [text(day[0]) for day in captures.control if day[0]]
    lead = wrong or ["No day is off by more than chance."]
    rows = [
        [
            text(name),
            "off" if said else "fine" if count else "not checked",
            f"{count:,}",
            *(number(shift, 3, True) for shift in shifts),
            text(layers),
        ]
        for said, name, count, *shifts, layers in captures.control
    ]
    head = ["Day", "State", "Control points", "East (m)", "North (m)", "Up (m)", "Layers"]
    return section(
        "Control points",
        f'<div class="lead">{paragraphs(lead)}</div>',
        table(head, rows, range(2, 6)),
    )


def _layers(captures):
    """What came of each layer."""
    failed = [layer for layer in captures.layers if layer[1]]
    done = [layer for layer in captures.layers if not layer[1]]
    lead = [
        f"{len(done)} of {len(captures.layers)} layers were processed:"
        f" {sum(layer[5] for layer in done):,} edges, {number(sum(layer[6] for layer in done), 1)}"
        " m on the ground."
    ]
    lead += [f"Layer {text(layer[0])} failed: {text(layer[1])}" for layer in failed]
    rows = [
        [
            text(name),
            "failed" if error else "done",
            *(
                ("–",) * 5
                if error
                else (f"{read:,}", f"{kept:,}", f"{rejected:,}", f"{edges:,}", number(length, 1))
            ),
            f"{warnings:,}",
        ]
        for name, error, read, kept, rejected, edges, length, warnings in captures.layers
    ]
    if len(done) > 1:
        rows.append(
            [
                "all",
                "",
                *(f"{sum(layer[place] for layer in done):,}" for place in (2, 3, 4, 5)),
                number(sum(layer[6] for layer in done), 1),
                f"{sum(layer[7] for layer in captures.layers):,}",
            ]
        )
    head = ["Layer", "State", "Epochs read", "Kept", "Rejected", "Edges", "Length (m)", "Warnings"]
    return section(
        "Captures",
        f'<div class="lead">{paragraphs(lead)}</div>',
        table(head, rows, range(2, 8), "", len(done) > 1),
    )


def _stages(captures):
    """What followed."""
    if not captures.stages:
        return ""
    said = [f"{text(name)}: {text(result)}" for name, result in captures.stages]
    return section("What followed", bullets(said))


def _repairs(repairs):
    """What a person decided, and what became of it."""
    if not repairs:
        return ""
    rows = [
        [
            text(f"{kind} {value}".replace("_", " ").strip()),
            *map(text, (layer, capture, at)),
            text(", ".join(part for part in (who, when, why) if part)),
            text(f"{state}: {reason}".replace("_", " ") if reason else state.replace("_", " ")),
        ]
        for kind, value, layer, capture, at, who, when, why, state, reason in repairs
    ]
    head = ["Repair", "Layer", "Capture", "At", "Decided", "State"]
    return section("Repairs", table(head, rows, ()))


def _history(runs):
    """What changed from run to run: a chart where it can be drawn, and the last runs."""
    if len(runs) < 2:
        return ""
    found = np.array([[run[0], *run[7:]] for run in runs], float)
    curves = [
        (label, values)
        for label, values in zip(("median sigma", "repeatability", "off control"), found[:, 1:].T)
        if np.isfinite(values).any()
    ]
    chart = ""
    if curves and plots.available():
        chart = figure(
            plots.runs(found[:, 0], curves),
            "From run to run: median sigma of the edges (1-sigma, across), repeatability of merged"
            " walks, and the greatest difference of a layer from control points in plan.",
        )
    rows = [
        [
            f"{run}",
            text(made),
            f"{done:,}",
            f"{failed:,}",
            f"{read:,}",
            f"{kept:,}",
            number(km, 3),
            *(number(1000 * value, 1) for value in millimetres),
        ]
        for run, made, done, failed, read, kept, km, *millimetres in runs[-RUNS:]
    ]
    head = ["Run", "Started", "Layers", "Failed", "Epochs read", "Kept", "km"]
    head += ["Sigma (mm)", "Repeatability (mm)", "Off control (mm)"]
    said = f"The last {RUNS} of {len(runs)} runs." if len(runs) > RUNS else ""
    return section(
        "Runs so far", chart, table(head, rows, range(2, 10)), paragraphs([said] if said else [])
    )


def _results(captures):
    """What was written."""
    rows = [[text(name), f"{count:,}"] for name, count in captures.results]
    return section(
        "What was written",
        facts([("CRS", text(captures.crs))]),
        table(["Layer", "Rows"], rows, (1,), "narrow keep"),
    )
