"""Two layers of lines, edges and existing ones, brought into one frame."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsProcessingException
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.lines.lines import Lines
from ..host.feedback import cancel_check
from ..host.fields import kind
from . import roles
from .frames import Frame, FrameError, make_frame, transform
from .line_layer import read_linework

SIGMA_NAME = "sigma_cross"  # as `reconstructedges` writes it
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
    return QCoreApplication.translate("LinePairs", text)


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

    def positions_in_edge_crs(self, x, y):
        """Coordinates of the lines in the edges' CRS."""
        return self.frame.layer(*_turned(x, y, self.turn))

    def positions_in_existing_crs(self, x, y):
        """Coordinates of the lines in the existing lines' CRS."""
        x, y = self.positions_in_edge_crs(x, y)
        return (x, y) if self.to_existing is None else transform(self.to_existing, x, y)

    def local(self, x, y):
        """Positions in the edges' CRS as coordinates of the lines."""
        east, north, _ = self.frame.local(x, y)
        return _turned(east, north, -self.turn)


def _turned(x, y, angle):
    cos, sin = np.cos(angle), np.sin(angle)
    return cos * x - sin * y, sin * x + cos * y


def _turn_of(crs, frame, x, y):
    """Direction of the CRS's x axis in the frame, radians, where most of the data lies."""
    there = np.isfinite(x) & np.isfinite(y)
    if not there.any():
        return 0.0
    middle_x, middle_y = float(np.median(x[there])), float(np.median(y[there]))
    step = 1e-5 if crs.isValid() and crs.isGeographic() else 1.0
    east, north, _ = frame.local(
        np.array([middle_x - step, middle_x + step]), np.array([middle_y, middle_y])
    )
    turn = np.arctan2(north[1] - north[0], east[1] - east[0])
    return float(turn) if np.isfinite(turn) else 0.0


def read_pair(
    edge_source, existing_source, sigma_field, sigma_label, transform_context, feedback, progress
):
    """Read two line sources.

    Parameters
    ----------
    edge_source, existing_source : QgsProcessingFeatureSource
    sigma_field : str
        Field of the edges with their uncertainty, 1-sigma metres; empty to look for
        ``sigma_cross``, None for no use of it.
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
    notes = []

    def say(text, warn=False):
        (feedback.pushWarning if warn else feedback.pushInfo)(text)
        notes.append(text)

    names = (edge_source.sourceName(), existing_source.sourceName())
    crs = edge_source.sourceCrs(), existing_source.sourceCrs()
    if crs[0].isValid() != crs[1].isValid():
        without, other = names if not crs[0].isValid() else names[::-1]
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no CRS but layer “{}” has one, so they cannot be brought together."
                " Assign the CRS of “{}” (Layer Properties, Source)."
            ).format(without, other, without)
        )
    field = _sigma_field(edge_source, sigma_field, sigma_label)
    named = [label_fields(source) for source in (edge_source, existing_source)]
    read = [
        read_linework(
            edge_source,
            [name for name in dict.fromkeys((field, *named[0])) if name],
            feedback,
            lambda share: progress(0.4 * share),
        ),
        read_linework(
            existing_source, named[1], feedback, lambda share: progress(0.4 + 0.4 * share)
        ),
    ]
    if not any(len(linework.ids) for linework in read):
        raise QgsProcessingException(
            tr(
                "Layers “{}” and “{}” are both empty: there is nothing to compare. If filters or"
                " “selected features only” are set, check them."
            ).format(*names)
        )
    x, y = zip(*((linework.x.copy(), linework.y.copy()) for linework in read))
    to_existing, unit = None, None
    try:
        if crs[0] != crs[1]:
            # its own range of coordinates, and the unit of its heights
            own = make_frame(crs[1], x[1], y[1], None, transform_context)
            unit = own.height_unit
            for sentence in own.said:
                say(tr("Layer “{}”: {}").format(names[1], sentence))
            way = QgsCoordinateTransform(crs[1], crs[0], transform_context)
            if not way.isValid():
                raise QgsProcessingException(
                    tr("Layer “{}” cannot be brought from {} to {}. Reproject it first.").format(
                        names[1], crs[1].userFriendlyIdentifier(), crs[0].userFriendlyIdentifier()
                    )
                )
            x, y = zip((x[0], y[0]), transform(way, x[1], y[1], cancel_check(feedback)))
            to_existing = QgsCoordinateTransform(crs[0], crs[1], transform_context)
            say(
                tr("Layer “{}” is compared in the CRS of “{}”: {} to {}, by: {}.").format(
                    names[1],
                    names[0],
                    crs[1].userFriendlyIdentifier(),
                    crs[0].userFriendlyIdentifier(),
                    _operation(way),
                )
            )
        both_x, both_y = np.concatenate(x), np.concatenate(y)
        frame = make_frame(crs[0], both_x, both_y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layers “{}” and “{}” cannot be compared: {}.").format(*names, error)
        ) from error
    for sentence in frame.said:
        say(sentence, not crs[0].isValid())
    unit = frame.height_unit if unit is None else unit
    east, north, scale = frame.local(both_x, both_y, cancel_check(feedback))
    turn = _turn_of(crs[0], frame, both_x, both_y)
    east, north = _turned(east, north, -turn)
    cut = len(x[0])
    sigma = _sigma(read[0], field, names[0], sigma_label, say, sigma_field is not None)
    edges = _lines(
        read[0], east[:cut], north[:cut], scale[:cut], frame.height_unit, sigma, names[0], say
    )
    existing = _lines(
        read[1],
        east[cut:],
        north[cut:],
        scale[cut:],
        unit,
        np.zeros(len(read[1].ids)),
        names[1],
        say,
    )
    progress(1.0)
    labels = [
        labels_of(linework.ids, linework.columns, found) for linework, found in zip(read, named)
    ]
    return LinePair(
        edges,
        existing,
        read[0].ids,
        read[1].ids,
        labels[0][0],
        labels[1][0],
        (labels[0][1], labels[1][1]),
        frame,
        turn,
        to_existing,
        unit,
        notes,
    )


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


def _sigma_field(source, chosen, label):
    if chosen is None:
        return ""
    fields = source.fields()
    if not chosen:
        place = fields.lookupField(SIGMA_NAME)
        return fields.at(place).name() if place >= 0 else ""
    place = fields.lookupField(chosen)
    if place < 0:
        raise QgsProcessingException(
            tr("Layer “{}” has no field “{}” (parameter “{}”). It has: {}.").format(
                source.sourceName(),
                chosen,
                label,
                ", ".join(fields.names()) or tr("no fields at all"),
            )
        )
    return fields.at(place).name()


def _sigma(read, field, name, label, say, used):
    """Uncertainty of every edge, and what is said about it."""
    if not field:
        if used:
            say(tr("Uncertainty of the edges: no field; only that of the existing lines counts."))
        return np.zeros(len(read.ids))
    column = read.columns[field]
    if column.kind in ("bool", "date", "datetime", "time"):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no numbers, but “{}” needs metres. Choose a numeric"
                " field, or leave it empty."
            ).format(name, field, label)
        )
    sigma = roles.as_numbers(column)
    wrong = np.flatnonzero(np.isnan(sigma) & ~column.missing | (sigma < 0) | np.isinf(sigma))
    if wrong.size:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” must hold an uncertainty in metres, 0 or greater, for “{}”,"
                " but holds “{}” ({} rows). Choose another field, correct the values, or leave it"
                " empty."
            ).format(name, field, label, column.take(wrong[:1]).texts()[0], wrong.size)
        )
    known = np.isfinite(sigma)
    if not known.all():
        usual = float(np.median(sigma[known])) if known.any() else 0.0
        say(
            tr(
                "Uncertainty of the edges: field “{}”, empty in {} rows, for which {:.4g} m is"
                " taken."
            ).format(field, int(np.count_nonzero(~known)), usual),
            True,
        )
        return np.where(known, sigma, usual)
    say(
        tr("Uncertainty of the edges: field “{}”, median {:.3f} m.").format(
            field, float(np.median(sigma)) if len(sigma) else np.nan
        )
    )
    return sigma


def _lines(read, x, y, scale, height_unit, sigma, name, say):
    """`Lines` of what was read; vertices without a position are left out."""
    there = np.isfinite(x) & np.isfinite(y)
    if not there.all():
        say(
            tr(
                "Layer “{}”: {} vertices have no position, or one outside the range of the CRS;"
                " they are left out."
            ).format(name, int(np.count_nonzero(~there))),
            True,
        )
    kept = np.concatenate([[0], np.cumsum(there)])
    offsets = kept[read.offsets]
    filled = np.diff(offsets) > 0
    line = read.feature[filled]
    x, y, z, scale = x[there], y[there], read.z[there] * height_unit, scale[there]
    offsets = np.append(offsets[:-1][filled], offsets[-1])
    count = len(read.ids)
    row = np.repeat(line, np.diff(offsets))
    number = np.bincount(row, minlength=count)
    mean = np.bincount(row, scale, count) / np.maximum(number, 1)
    lines = Lines.from_columns(
        x, y, z, offsets, line, count, sigma, np.where(number > 0, mean, 1.0)
    )
    empty = int(np.count_nonzero(lines.length() <= 0))
    if empty:
        say(
            tr("Layer “{}”: {} rows have no geometry, or no length; they get no status.").format(
                name, empty
            ),
            True,
        )
    return lines
