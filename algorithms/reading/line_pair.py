"""Two layers of lines, edges and existing ones, brought into one frame."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsProcessingException

from ...shared.arrays.plane import turned
from ...shared.lines.lines import Lines
from ..host.feedback import cancel_check
from ..host.fields import kind
from ..host.figures import translate
from .coordinate_steps import sigmas_of_lines
from .edge_sigmas import chosen_sigma_field, sigma_of_edges
from .frames import Frame, FrameError, axis_turn, make_frame
from .layer_frame import (
    kept_offsets,
    lost_vertices,
    refuse_mixed_crs,
    row_scale,
    way_into,
)
from .line_layer import read_linework
from .operations import in_words, operation_of, warning_of
from .pair_check import doubts
from .places import area_doubt, middle_of, refuse_exchanged, width_doubt
from .transforms import transform

LABEL_NAMES = (  # of fields that may tell rows apart, the best first
    "edge_id",
    "line_id",
    "identifier",
    "ident",
    "id",
    "name",
    "label",
    "ref",
    "code",
    "objectid",
    "gid",
)


def tr(text):
    return translate("LinePairs", text)


@dataclass(frozen=True)
class LinePair:
    """Edges and existing lines in one local frame.

    Attributes
    ----------
    edges, existing : Lines
    edge_ids, existing_ids : ndarray of int64
        Feature id of each row.
    edge_labels, existing_labels : list of str
        What a row is called in reports: the value of a field of `LABEL_NAMES` that tells all rows
        apart, else its feature id.
    labelled_by : tuple of str
        In words, what the labels of either layer are.
    frame : Frame
        Of the edges' CRS.
    turn : float
        Radians counter-clockwise from the frame's axes to those of the edges' CRS, which the lines
        are given along: a shift is told in the directions that people find in the layer.
    to_existing : QgsCoordinateTransform or None
        From the edges' CRS to that of the existing lines, where they differ.
    height_unit : float
        Metres in a unit of the existing lines' heights.
    notes : list of str
        What was left out and assumed, for the report; it has been said in the log.
    crs_warning : str
        What is to be said of the operation that joins the two CRS, where it may shift everything;
        it has been said in the log, and belongs beside any shift. Empty where it is good enough.
    transformed : str
        What was done to the existing lines and how well, in words; empty where nothing was.
    """

    edges: Lines
    existing: Lines
    edge_ids: np.ndarray
    existing_ids: np.ndarray
    edge_labels: list
    existing_labels: list
    labelled_by: tuple
    frame: Frame
    turn: float
    to_existing: QgsCoordinateTransform
    height_unit: float
    notes: list
    crs_warning: str = ""
    transformed: str = ""

    def positions_in_edge_crs(self, x, y):
        """Coordinates of the lines in the edges' CRS."""
        return self.frame.layer(*turned(x, y, self.turn))

    def positions_in_existing_crs(self, x, y):
        """Coordinates of the lines in the existing lines' CRS."""
        x, y = self.positions_in_edge_crs(x, y)
        return (x, y) if self.to_existing is None else transform(self.to_existing, x, y)

    def local(self, x, y):
        """Positions in the edges' CRS as coordinates of the lines."""
        east, north, _ = self.frame.local(x, y)
        return turned(east, north, -self.turn)


def _turn_of(crs, frame, x, y):
    """Direction of the CRS's x axis in the frame, radians, where most of the data lies."""
    there = np.isfinite(x) & np.isfinite(y)
    if not there.any():
        return 0.0
    turn = float(axis_turn(frame, crs, *(np.array([np.median(axis[there])]) for axis in (x, y)))[0])
    return turn if np.isfinite(turn) else 0.0


def read_pair(
    edge_source, existing_source, sigma_field, sigma_label, transform_context, feedback, progress
):
    """Read two line sources.

    Parameters
    ----------
    edge_source, existing_source : QgsProcessingFeatureSource
    sigma_field : str
        Field of the edges with their uncertainty, 1-sigma metres; empty to look for
        ``sigma_cross``, None for no use of it, where neither layer need be one of edges.
    sigma_label : str
        Label of the parameter that chooses it, for messages.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    LinePair

    Raises
    ------
    QgsProcessingException
        If a layer cannot be used; the text names layer, field and remedy.
    CancelledError
    """
    log = _Log(feedback)
    sources = edge_source, existing_source
    refuse_mixed_crs(*sources)
    field = chosen_sigma_field(edge_source, sigma_field, sigma_label)
    named = [label_fields(source) for source in sources]
    read = _read_both(sources, (field, named), feedback, progress)
    joined = _join(sources, read, transform_context, log)
    called = field, edge_source.sourceName(), sigma_label
    sigma = sigma_of_edges(read[0], called, sigma_field is not None, log)
    if sigma_field is not None:
        of_rounding = sigmas_of_lines(edge_source, read[0], joined.edges.height_unit, log.say)
        sigma = np.hypot(sigma, of_rounding[0])
    edges = _lines(read[0], joined.edges, sigma, edge_source.sourceName(), log)
    existing = _lines(
        read[1],
        joined.existing,
        np.zeros(len(read[1].ids)),
        existing_source.sourceName(),
        log,
    )
    for doubt in doubts(sources, edges, existing, roles=sigma_field is not None):
        log.say(doubt, True)
    progress(1.0)
    labels = [
        labels_of(linework.ids, linework.columns, found) for linework, found in zip(read, named)
    ]
    return _pair(read, joined, (edges, existing), labels, log)


def _pair(read, joined, lines, labels, log):
    """Both layers as they were read, joined and labelled: `LinePair`."""
    return LinePair(
        edges=lines[0],
        existing=lines[1],
        edge_ids=read[0].ids,
        existing_ids=read[1].ids,
        edge_labels=labels[0][0],
        existing_labels=labels[1][0],
        labelled_by=(labels[0][1], labels[1][1]),
        frame=joined.frame,
        turn=joined.turn,
        to_existing=joined.to_existing,
        height_unit=joined.existing.height_unit,
        notes=log.notes,
        crs_warning=joined.crs_warning,
        transformed=joined.transformed,
    )


class _Log:
    """Says sentences and keeps them for the report."""

    def __init__(self, feedback):
        self.feedback, self.notes = feedback, []

    def say(self, text, warn=False):
        (self.feedback.pushWarning if warn else self.feedback.pushInfo)(text)
        self.notes.append(text)


@dataclass(frozen=True)
class _Side:
    """Vertices of one layer along the axes of the edges' CRS, and metres in a unit of height."""

    x: np.ndarray
    y: np.ndarray
    scale: np.ndarray
    height_unit: float


@dataclass(frozen=True)
class _Joined:
    """Both layers in one frame; see `LinePair`."""

    edges: _Side
    existing: _Side
    frame: Frame
    turn: float
    to_existing: QgsCoordinateTransform
    crs_warning: str
    transformed: str


def _read_both(sources, wanted, feedback, progress):
    """Linework of both layers; raises where both are empty."""
    field, named = wanted
    read = [
        read_linework(
            sources[0],
            [name for name in dict.fromkeys((field, *named[0])) if name],
            feedback,
            lambda share: progress(0.4 * share),
        ),
        read_linework(sources[1], named[1], feedback, lambda share: progress(0.4 + 0.4 * share)),
    ]
    if not any(len(linework.ids) for linework in read):
        raise QgsProcessingException(
            tr(
                "Layers “{}” and “{}” are both empty: there is nothing to compare. If filters or"
                " “selected features only” are set, check them."
            ).format(*(source.sourceName() for source in sources))
        )
    return read


def _join(sources, read, transform_context, log):
    """Bring both layers into one frame."""
    crs, cancel = sources[0].sourceCrs(), cancel_check(log.feedback)
    x, y = ([getattr(linework, axis).copy() for linework in read] for axis in "xy")
    to_existing, unit, crs_warning, transformed = None, None, "", ""
    for source, linework in zip(sources, read):
        middle = middle_of(linework.x, linework.y)
        refuse_exchanged(source, middle, transform_context)
        outside = area_doubt(source, linework.x, linework.y, middle, transform_context)
        if outside:
            log.say(outside, True)
    try:
        if crs != sources[1].sourceCrs():
            x[1], y[1], unit, crs_warning = _into_edge_crs(
                sources, x[1], y[1], transform_context, log
            )
            transformed = in_words(way_into(crs, sources[1], transform_context))
            to_existing = QgsCoordinateTransform(crs, sources[1].sourceCrs(), transform_context)
        both_x, both_y = np.concatenate(x), np.concatenate(y)
        frame = make_frame(crs, both_x, both_y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layers “{}” and “{}” cannot be compared: {}.").format(
                *(source.sourceName() for source in sources), error
            )
        ) from error
    for sentence in frame.said:
        log.say(sentence, not crs.isValid())
    east, north, scale = frame.local(both_x, both_y, cancel)
    doubt = width_doubt(sources[0].sourceName(), east, north)
    if doubt:
        log.say(doubt, True)
    turn = _turn_of(crs, frame, both_x, both_y)
    east, north = turned(east, north, -turn)
    cut = len(x[0])
    units = frame.height_unit, frame.height_unit if unit is None else unit
    edges, existing = (
        _Side(east[here], north[here], scale[here], unit)
        for here, unit in zip((slice(None, cut), slice(cut, None)), units)
    )
    return _Joined(edges, existing, frame, turn, to_existing, crs_warning, transformed)


def _into_edge_crs(sources, x, y, transform_context, log):
    """Existing lines in the CRS of the edges, metres in a unit of their own heights, and a warning
    of the operation."""
    edge_crs, own_crs = (source.sourceCrs() for source in sources)
    names = [source.sourceName() for source in sources]
    # its own range of coordinates, and the unit of its heights
    own = make_frame(own_crs, x, y, None, transform_context)
    for sentence in own.said:
        log.say(tr("Layer “{}”: {}").format(names[1], sentence))
    way = way_into(edge_crs, sources[1], transform_context)
    x, y = transform(way, x, y, cancel_check(log.feedback))
    log.say(
        tr("Layer “{}” is compared in the CRS of “{}”: {} to {}, by: {}.").format(
            names[1],
            names[0],
            own_crs.userFriendlyIdentifier(),
            edge_crs.userFriendlyIdentifier(),
            _operation(way),
        )
    )
    warning = warning_of(operation_of(way), tuple(reversed(names)))
    if warning:
        log.say(warning, True)
    return x, y, own.height_unit, warning


def label_fields(source):
    """Fields of a source that may tell its rows apart, the best first."""
    fields = source.fields()
    places = [fields.lookupField(name) for name in LABEL_NAMES]
    return [
        fields.at(place).name()
        for place in dict.fromkeys(places)
        if place >= 0 and kind(fields.at(place)) in ("int", "text")
    ]


def labels_of(ids, columns, names):
    """What each row is called, and in words by what: the first of some fields whose values tell all
    rows apart, else the feature id."""
    for name in names:
        texts = columns[name].texts().tolist()
        if not columns[name].missing.any() and len(set(texts)) == len(texts):
            return texts, tr("field “{}”").format(name)
    return [str(one) for one in ids.tolist()], tr("feature id")


def _operation(way):
    """The coordinate operation in words, as the project's settings chose it."""
    details = way.instantiatedCoordinateOperationDetails()
    return details.name or way.coordinateOperation() or tr("the only one there is")


def _lines(read, side, sigma, name, log):
    """`Lines` of what was read; vertices without a position are left out."""
    there = np.isfinite(side.x) & np.isfinite(side.y)
    lost = lost_vertices(name, there)
    if lost:
        log.say(lost, True)
    filled, offsets = kept_offsets(read.offsets, there)
    line, count = read.feature[filled], len(read.ids)
    lines = Lines.from_columns(
        side.x[there],
        side.y[there],
        read.z[there] * side.height_unit,
        offsets,
        line,
        count,
        sigma,
        row_scale(line, offsets, side.scale[there], count),
    )
    empty = int(np.count_nonzero(lines.length() <= 0))
    if empty:
        log.say(
            tr("Layer “{}”: rows with no geometry, or no length, which get no status: {}.").format(
                name, empty
            ),
            True,
        )
    return lines
