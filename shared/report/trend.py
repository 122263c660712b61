"""Development from run to run: a chart, if it can be drawn, and a table of the last runs."""

import numpy as np

from ..language import tr, whole
from . import plots
from .page import figure, number, paragraphs, section, table, text, unbroken

DRAWN = 3  # number of runs from which on a curve is drawn
RUNS = 20  # number of runs listed in the report; the chart shows all


def runs_so_far(runs):
    """The section on former runs.

    Parameters
    ----------
    runs : sequence of tuple
        One per run, the last one for the present run: number, date and time, layers done and
        failed, epochs read and kept, km; sigma, repeatability and greatest difference from control
        points in metres, NaN for none.

    Returns
    -------
    str
        Markup; empty for fewer than two runs.
    """
    if len(runs) < 2:
        return ""
    chart = _chart(runs)
    rows = [
        [
            f"{run}",
            unbroken(text(made)),
            whole(done),
            whole(failed),
            whole(read),
            whole(kept),
            number(km, 3),
            *(number(1000 * value, 1) for value in millimetres),
        ]
        for run, made, done, failed, read, kept, km, *millimetres in runs[-RUNS:]
    ]
    head = [
        tr("Run"),
        tr("Started"),
        tr("Layers"),
        tr("Failed"),
        tr("Epochs read"),
        tr("Kept"),
        "km",
    ]
    head += [tr("Sigma (mm)"), tr("Repeatability (mm)"), tr("Off control (mm)")]
    said = tr("The last {} of {} runs.").format(RUNS, len(runs)) if len(runs) > RUNS else ""
    return section(
        tr("Runs so far"),
        chart,
        table(head, rows, range(2, 10)),
        paragraphs([said] if said else []),
    )


def _chart(runs):
    """The curves from run to run; empty if there are none or they cannot be drawn."""
    found = np.array([[run[0], *run[7:]] for run in runs], float)
    curves = [
        (label, values)
        for label, values in zip(
            (tr("median sigma"), tr("repeatability"), tr("off control")), found[:, 1:].T
        )
        if np.isfinite(values).any()
    ]
    if len(runs) < DRAWN or not (curves and plots.available()):
        return ""
    return figure(
        plots.runs(found[:, 0], curves),
        tr(
            "From run to run: median sigma of the edges (1-sigma, across), repeatability of merged"
            " walks, and the greatest difference of a layer from control points in plan."
        ),
    )
