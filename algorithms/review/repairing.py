"""One capture fitted anew with the repairs that people asked for, before the next run does it."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCoordinateReferenceSystem, QgsProcessingException
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.epochs.reasons import REASON_NAMES, Reason, describe
from ...shared.epochs.settings import CURVE_MODELS, DOUBTFUL, Settings
from ...shared.language import speaking
from ...shared.review import evidence as ground
from ..host.feedback import raise_if_cancelled
from ..host.fields import is_null
from ..host.figures import translate
from ..reading import roles
from ..reading.epoch_fields import Choices
from ..reading.epoch_layer import read_epochs
from ..reading.layer_frame import way_into
from ..reading.repair_rows import in_order, in_words, problem_of, repairs_of, row_of
from ..reading.transforms import transform
from . import layers as parts
from .line_evidence import AROUND, EpochTable, LineEvidence

LIMITS = (
    "MAX_H_ACCURACY", "MAX_TIME_GAP", "MAX_DISTANCE_GAP", "CORNER_ANGLE", "TOLERANCE", "MIN_LENGTH",
)  # fmt: skip


def tr(text):
    return translate("Repairing", text)


@dataclass(frozen=True)
class CaptureLayer:
    """A capture layer as the run read it.

    Attributes
    ----------
    name : str
        As the results call it.
    source : Snapshot
    layer : EpochLayer
    settings : Settings
    nominal : NominalStream
    """

    name: str
    source: object
    layer: object
    settings: object
    nominal: object


@dataclass(frozen=True)
class Walk:
    """One edge as walked: where its epochs are sought in the capture layer."""

    layer: str
    capture: str
    started: float
    ended: float


@dataclass(frozen=True)
class Refitted:
    """A capture as it is with its repairs.

    Attributes
    ----------
    evidence : LineEvidence
        Of the edge that has most of the walk's time; None where nothing is left of it. Its table
        holds `seconds`.
    lines : list of ndarray, shape (v, 2)
        All edges of the capture, in the CRS of the results.
    gaps : tuple
        Before and after the edge: time of the last epoch before the gap and of the first one after
        it; None where no other edge of the capture lies there.
    sigma : float
        1-sigma across of the edge, metres.
    said : list of tuple
        Row of the repairs given, state, and why in words, of those of this capture.
    """

    evidence: object
    lines: list
    gaps: tuple
    sigma: float
    said: list


def run_settings(log, feedback):
    """Parameters and capture layers that the log of a run names.

    Parameters
    ----------
    log : Snapshot
        Table `run_log`.
    feedback : QgsProcessingFeedback

    Returns
    -------
    parameters, layers : dict of str to str
        By name.
    """
    found = {"parameter": {}, "layer": {}}
    names = [log.fields().lookupField(name) for name in ("section", "name", "value")]
    for feature in log.getFeatures():
        raise_if_cancelled(feedback)
        section, name, value = (feature[place] for place in names)
        if section in found:
            found[section][name] = "" if is_null(value) or value == "None" else value
    return found["parameter"], found["layer"]


def read_capture_layer(name, source, file, parameters, feedback):
    """Read a capture layer as the run did.

    Parameters
    ----------
    name : str
        As the results call it.
    source : Snapshot
    file : File or None
        From `layer_stream.file_behind`.
    parameters : dict of str to str
        From `run_settings`.
    feedback : QgsProcessingFeedback

    Returns
    -------
    CaptureLayer

    Raises
    ------
    QgsProcessingException
        If it cannot be read that way; the text names layer and field.
    CancelledError
    """
    from ...shared.reconstruction.refit import nominal_of

    of = parameters.get
    called = (roles.TIME, roles.CAPTURE, roles.FIX, roles.H_ACCURACY, roles.V_ACCURACY)
    labels = {part: part for part in (*called, "take_as_stream", "fixed_values")}
    choices = Choices(
        of("TIME_FIELD", ""),
        [one for one in of("CAPTURE_FIELDS", "").split(";") if one],
        of("FIX_FIELD", ""),
        of("FIXED_VALUES", ""),
        of("H_ACCURACY_FIELD", ""),
        of("V_ACCURACY_FIELD", ""),
        labels,
        of("TAKE_AS_STREAM", "False") == "True",
    )
    working = QgsCoordinateReferenceSystem(of("WORKING_CRS", ""))
    layer = read_epochs(
        source, file, choices, working, source.transforms, feedback,
        lambda share: raise_if_cancelled(feedback),
    )  # fmt: skip
    usual = Settings()
    settings = Settings(
        *(float(of(key) or getattr(usual, key.lower())) for key in LIMITS),
        CURVE_MODELS[int(of("CURVE_MODEL") or 0)],
        0.0,
        DOUBTFUL[int(of("DOUBTFUL") or 0)],
    )
    nominal = nominal_of(layer.table, settings, layer.grid)
    return CaptureLayer(name, source, layer, settings, nominal)


def rows_of(source, name):
    """Repairs of one capture layer, the later ones last, those not saved yet behind all others.

    Parameters
    ----------
    source : Snapshot or QgsVectorLayer
        Layer `repairs`.
    name : str
        Of the capture layer.

    Returns
    -------
    rows : list of dict
        Those that can be used.
    ids : list of int
        Their feature ids.
    """
    fields, rows, ids = source.fields(), [], []
    for feature in in_order(source):
        row = row_of(feature, fields)
        if (not row["layer"] or row["layer"] == name) and not problem_of(row):
            rows.append(row)
            ids.append(feature.id())
    return rows, ids


def refit(given, walk, rows, row, line, feedback):
    """Fit the capture of a walk anew.

    Parameters
    ----------
    given : CaptureLayer
    walk : Walk
    rows : list of dict
        Repairs, from `rows_of`.
    row : int
        Of the review, for the evidence.
    line : Snapshot
        The layer of results, whose CRS all is given in.
    feedback : QgsProcessingFeedback

    Returns
    -------
    Refitted

    Raises
    ------
    QgsProcessingException
        If the layer has no such capture.
    """
    from ...shared.reconstruction.refit import refit_capture

    layer = given.layer
    if walk.capture not in layer.captures:
        raise QgsProcessingException(
            tr("Layer “{}” has no capture “{}” any more.").format(layer.name, walk.capture)
        )
    placed = repairs_of(rows).placed(layer.captures, layer.origin)
    code = layer.captures.index(walk.capture)
    found = refit_capture(layer.table, code, given.nominal, given.settings, placed)
    raise_if_cancelled(feedback)
    result, said = found.result, _said_of(found)
    table = layer.table.take(found.rows)
    seconds = table.seconds + (layer.origin if np.isfinite(layer.origin) else 0.0)
    to_line = _Way(layer.frame, given.source, line)
    offsets, edges = result.edges.offsets, result.edges
    lines = [
        np.column_stack(to_line(edges.x[start:stop], edges.y[start:stop]))
        for start, stop in zip(offsets[:-1], offsets[1:])
    ]
    best = _most_of(walk, seconds, result.edge)
    if best < 0:
        return Refitted(None, lines, (None, None), np.nan, said)
    evidence = _evidence(result, table, seconds, best, (row, to_line, line, layer, found.rows))
    return Refitted(
        evidence,
        lines,
        _gaps_beside(seconds, result.edge, best),
        float(edges.sigma_cross[best]),
        said,
    )


def _said_of(found):
    """Of each repair its number, what became of it, and why in words."""
    from ...shared.reconstruction.repairs import STATES, why_words

    outcome = found.result.repairs
    if outcome is None:
        return []
    states = [STATES[state] for state in outcome.state]
    with speaking(QCoreApplication.translate):
        return list(zip(found.repair.tolist(), states, why_words(outcome.why)))


def _gaps_beside(seconds, edge, best):
    """Times around the gaps before and after an edge; None where the capture ends there."""
    own, others = seconds[edge == best], seconds[(edge >= 0) & (edge != best)]
    before, after = others[others < own.min()], others[others > own.max()]
    return (
        (float(before.max()), float(own.min())) if len(before) else None,
        (float(own.max()), float(after.min())) if len(after) else None,
    )


class _Way:
    """From the frame of a capture layer into the CRS of the results."""

    def __init__(self, frame, source, line):
        self.frame = frame
        same = source.sourceCrs() == line.sourceCrs() or not source.sourceCrs().isValid()
        self.way = None if same else way_into(line.sourceCrs(), source, source.transforms)

    def __call__(self, x, y):
        x, y = self.frame.layer(x, y)
        return (x, y) if self.way is None else transform(self.way, x, y)


def _most_of(walk, seconds, edge):
    """Edge that has most epochs of the time of a walk, -1 for none."""
    inside = edge >= 0
    if np.isfinite([walk.started, walk.ended]).all():
        with np.errstate(invalid="ignore"):
            inside &= (seconds >= walk.started - 0.5) & (seconds <= walk.ended + 0.5)
    return int(np.argmax(np.bincount(edge[inside]))) if inside.any() else -1


def _evidence(result, table, seconds, best, about):
    """The evidence of one edge of the refit, rejected epochs near it in time included."""
    row, to_line, line, layer, source_rows = about
    edges = result.edges
    part = slice(int(edges.offsets[best]), int(edges.offsets[best + 1]))
    x, y = edges.x[part], edges.y[part]
    axis = ground.make_axis(x, y, edges.z[part], [0, len(x)])
    kept = result.edge == best
    own = seconds[kept]
    with np.errstate(invalid="ignore"):
        near = (seconds >= own.min() - AROUND) & (seconds <= own.max() + AROUND)
    wanted = np.flatnonzero(kept | ((result.reason != Reason.KEPT) & near))
    chainage, across = result.chainage[wanted].copy(), result.residual_cross[wanted].copy()
    out = ~kept[wanted] & np.isfinite(table.x[wanted]) & np.isfinite(table.y[wanted])
    there = wanted[out]
    chainage[out], across[out] = ground.project(axis, table.x[there], table.y[there])
    up = result.residual_up[wanted].copy()
    up[out] = ground.height_above(axis, chainage[out], table.z[there])
    from ...shared.reconstruction.reconstruct import ROLE_NAMES

    word = np.where(
        kept[wanted],
        np.array(ROLE_NAMES, dtype=object)[result.role[wanted]],
        np.array(REASON_NAMES, dtype=object)[result.reason[wanted]],
    )
    place = to_line(table.x[wanted], table.y[wanted])
    about_epochs = EpochTable(
        np.where(kept[wanted], parts.KEPT, parts.REJECTED).astype(object),
        layer.ids[source_rows[wanted]],
        *place,
        [in_words(float(one)) if np.isfinite(one) else "" for one in seconds[wanted]],
        list(describe(result.reason[wanted], result.amount[wanted])),
        result.edge[wanted],
        seconds[wanted],
    )
    epochs = ground.Epochs(
        kept[wanted], word, chainage, across, up, table.z[wanted], np.arange(len(wanted))
    )
    lx, ly = to_line(x, y)
    empty = np.zeros(0)
    return LineEvidence(
        row,
        axis,
        lx,
        ly,
        line.sourceCrs(),
        ground.behind(epochs),
        about_epochs,
        ground.steady_band(axis, float(edges.sigma_cross[best]), float(edges.sigma_up[best])),
        ground.Offsets(empty, empty, empty, np.zeros(0, bool)),
    )
