"""Whether a layer whose lines carry no times can be a stream at all: asked before it is taken as
one."""

import numpy as np
from qgis.core import QgsProcessingException

from ...shared.epochs.plausibility import judge_stream
from ..host.fields import spelling
from ..host.figures import translate

# Fields that our own lines have, and no stream.
OF_EDGES = ("edge_id", "sigma_cross")
OF_GAPS = ("gap_id", "reason")


def tr(text):
    return translate("StreamCheck", text)


def has_fields(source, names):
    """True where a layer has all of some fields, in any case."""
    return all(spelling(source.fields(), name) for name in names)


def part_offsets(ids, part):
    """Where each part of each line starts among its vertices, and their number at the end.

    Parameters
    ----------
    ids, part : ndarray of int64, shape (n,)
        Line and part of each vertex; vertices of a part stand together.

    Returns
    -------
    ndarray of int64, shape (parts + 1,)
    """
    first = np.append(True, (np.diff(ids) != 0) | (np.diff(part) != 0))[: len(ids)]
    return np.append(np.flatnonzero(first), len(ids))


def refuse_map(source, rows, located, choices, fix_field, feedback):
    """Raise where lines without times are no stream, unless the user insists.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    rows : Rows
        Its vertices.
    located : Located
    choices : Choices
        `take_as_stream` and the label of its parameter.
    fix_field : str
        Field with the state of the solution; empty for none.
    feedback : QgsProcessingFeedback
        Told where the layer is taken nevertheless.

    Raises
    ------
    QgsProcessingException
        The text names layer, what was found and the remedy.
    """
    verdict = judge_stream(
        located.x / located.scale, located.y / located.scale, part_offsets(rows.ids, rows.part)
    )
    own = next(
        (
            what
            for names, what in (
                (OF_EDGES, tr("its fields are those of edges that were reconstructed already")),
                (OF_GAPS, tr("its fields are those of gaps between edges")),
            )
            if has_fields(source, names)
        ),
        "",
    )
    if verdict.plausible and not own:
        return
    steps = (
        tr("{} steps between vertices, median {:.2f} m, 90th percentile {:.2f} m").format(
            verdict.steps, verdict.median, verdict.p90
        )
        if verdict.steps
        else tr("no steps between vertices")
    )
    fix = tr("fix in field “{}”").format(fix_field) if fix_field else tr("no fix")
    found = "; ".join(text for text in (own, tr("no time (M)"), fix, steps) if text)
    if choices.take_as_stream:
        feedback.pushWarning(
            tr("Layer “{}” does not look like a stream of epochs ({}); it is taken as one.").format(
                source.sourceName(), found
            )
        )
        return
    raise QgsProcessingException(
        tr(
            "Layer “{}”: is this a stream of epochs? It looks like drawn lines: {}. A stream has"
            " steps that are much alike. Choose the layer of epochs; or, if it is one, write the"
            " time into M, or set “{}” (TAKE_AS_STREAM)."
        ).format(source.sourceName(), found, choices.parameters["take_as_stream"])
    )
