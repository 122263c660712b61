"""What changed from run to run: a chart where it can be drawn, and the last runs."""

import numpy as np

from ..language import tr, whole
from . import plots
from .page import figure, number, paragraphs, section, table, text, unbroken

DRAWN = 3  # runs that make a curve
RUNS = 20  # listed in the report; the chart shows all


def runs_so_far(runs):
    """The section on former runs.

    Parameters
    ----------
    runs : sequence of tuple
        The last one being this: number, when, layers done and failed, epochs read and kept, km,
        sigma, repeatability and greatest difference from control points in metres, NaN for none.

    Returns
    -------
    str
        Markup; empty where there are not two.
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
    """The curves from run to run; empty where there are none, or nothing draws them."""
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
