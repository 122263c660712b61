"""What the report of a run says of it."""

import re
from dataclasses import replace

from qgis.core import QgsProcessingException
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.language import speaking
from ..host.feedback import raise_if_cancelled
from ..host.fields import is_null
from ..host.figures import printed
from ..host.moments import days_in_words
from ..host.versions import versions
from . import history, records
from .control import sentence
from .edge_map import edges_in_frame

NOT_SETTINGS = "LAYERS", "FOLDER", "REPORT_PDF"  # named elsewhere on the page, or by themselves
OF_LAYER = "EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED", "EDGES", "LENGTH"


def write(run, path):
    """Write the report of a run.

    Parameters
    ----------
    run : Run
        With its layers written.
    path : Path

    Raises
    ------
    QgsProcessingException
        If it cannot be written.
    CancelledError
    """
    from ...shared.report import write_captures_report

    def progress(share):
        raise_if_cancelled(run.feedback)

    said, compared = _said(run), run.stages.compared or (None, None)
    try:
        with speaking(QCoreApplication.translate):
            write_captures_report(path, said, *compared, progress)
    except OSError as error:
        raise QgsProcessingException(
            run.tr("The report cannot be written to “{}”: {}.").format(
                path, error.strerror or error
            )
        ) from error


def _said(run):
    from ...shared.report import CapturesContext

    crs, order = run.crs, list(records.RESULTS)
    return CapturesContext(
        run.algorithm.folder.name,
        crs.userFriendlyIdentifier() if crs.isValid() else run.tr("none (plane metres)"),
        run.started,
        tuple(_layers(run)),
        tuple(_stages(run)),
        tuple(sorted(run.results, key=lambda result: order.index(result[0]))),
        tuple(_settings(run)),
        tuple(versions()),
        control=tuple(_days(run)),
        history=tuple(history.by_run(run.history)),
        block=_block(run),
        edges=_edges_for_map(run),
        repairs=run.main.repairs.for_report(),
    )


def _layers(run):
    """What came of each capture layer."""
    from ...shared.report import LayerRow

    for capture in run.algorithm.captures:
        numbers = [0 if capture.error else capture.numbers[key] for key in OF_LAYER]
        yield LayerRow(capture.name, capture.error, *numbers, capture.warnings)


def _stages(run):
    """Pairs of title and words: what came of each stage, and of what people changed."""
    for row in run.stage_rows:
        if row.error:
            yield run.stage_title(row.name), run.tr("failed: {}").format(row.error)
        elif row.said:
            yield run.stage_title(row.name), row.said
    by_hand, repairs = run.carried.words(), run.main.repairs
    if by_hand:
        yield run.tr("Changes made by hand"), by_hand
    if repairs.rows:
        yield run.tr("Repairs"), repairs.words()


def _days(run):
    """What control says of each day."""
    from ...shared.report import DayRow

    for day in run.days:
        yield DayRow(
            wrong=sentence(day) if day.wrong else "",
            name=day.name,
            number=day.number,
            east=day.east,
            north=day.north,
            up=day.up,
            layers=", ".join(day.layers),
        )


def _settings(run):
    """Pairs of label and value in words; what was left empty comes last."""
    algorithm, empty = run.algorithm, []
    for name, value in algorithm.settings:
        if name in (*NOT_SETTINGS, *algorithm.TITLE_BLOCK):
            continue
        if value in ("", "None"):
            empty.append(re.sub(r" \([^()]*\)", "", algorithm.label(name)))
        else:
            yield algorithm.label(name), _in_words(run, name, value)
    if empty:
        yield run.tr("left empty"), "; ".join(empty)


def _in_words(run, name, value):
    """The value of a setting, given as text, for people."""
    kind = run.algorithm.parameterDefinition(name).type()
    if kind == "boolean":
        return run.tr("yes") if value == "True" else run.tr("no")
    if kind == "enum" and value.isdigit():  # else an expression
        return run.algorithm.choices[name][int(value)]
    if kind in ("number", "distance"):
        return printed(value)
    if name == run.algorithm.EXISTING and run.stages.existing_title:
        return run.stages.existing_title
    return value


def _block(run):
    """The title block, with the days on which the captures were walked."""
    fields, _, features = run.made["edges"]
    times = [fields.lookupField(name) for name in ("started_unix", "ended_unix")]
    ends = [[row[at] for row in features if not is_null(row[at])] for at in times]
    captured = days_in_words(min(ends[0]), max(ends[1])) if all(ends) else ""
    return replace(run.algorithm.block, captured=captured)


def _edges_for_map(run):
    """The edges, where no map of a comparison stands in the report."""
    if run.stages.compared:
        return None
    return edges_in_frame(run.made["edges"][2], run.crs, run.context.transformContext())
