"""One layer of edges as lines: into ground metres, in an order of their own, and back."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsFeatureRequest, QgsProcessingException, QgsWkbTypes
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.lines.lines import Lines
from ..host.feedback import cancel_check, raise_if_cancelled
from ..host.fields import is_null, kind
from ..writing.sinks import BLOCK
from .columns import iterate
from .frames import Frame, FrameError, make_frame
from .line_layer import read_linework
from .line_pair import label_fields, labels_of

SIGMA_CROSS, SIGMA_UP = "sigma_cross", "sigma_up"  # as `reconstructedges` writes them
WORST_SIGMA = 1.0  # m, of an edge


def tr(text):
    return QCoreApplication.translate("EdgeLines", text)


@dataclass(frozen=True)
class EdgeLines:
    """Edges of a line layer; each part of a multi-part line is an edge.

    Attributes
    ----------
    lines : Lines
        Local metres, `scale` by edge. Edges come in the order of the field that names them, else in
        that of where they lie: the order of the rows has no say.
    x, y, z : ndarray of float, shape (v,)
        The same vertices in the layer's CRS and unit of height.
    row : ndarray of int, shape (edges,)
        Place in `ids` of each edge's feature.
    ids : ndarray of int64, shape (rows,)
        Feature ids in reading order.
    labels : list of str
        What each edge is called.
    labelled_by : str
        In words, what that is.
    columns : dict of str to Column
        One value a row.
    sigma_up : ndarray of float, shape (edges,)
        1-sigma, metres; 0 where unknown, as `lines.sigma`.
    frame : Frame
    crs : QgsCoordinateReferenceSystem
    """

    lines: Lines
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    row: np.ndarray
    ids: np.ndarray
    labels: list
    labelled_by: str
    columns: dict
    sigma_up: np.ndarray
    frame: Frame
    crs: object

    def __len__(self):
        return len(self.row)

    def to_layer(self, x, y, z, vertex=None):
        """Positions and heights in the layer's CRS; where `vertex` is not -1, exactly those of that
        vertex as it was read."""
        x, y = self.frame.layer(x, y)
        z = z / self.frame.height_unit
        if vertex is not None:
            own = vertex >= 0
            x, y, z = (
                np.where(own, read[vertex], made)
                for read, made in ((self.x, x), (self.y, y), (self.z, z))
            )
        return x, y, z


def field_name(source, name, label):
    """The name of a field as the layer spells it; an error that names layer and parameter where
    there is none."""
    fields = source.fields()
    place = fields.lookupField(name)
    if place < 0:
        raise QgsProcessingException(
            tr("Layer “{}” has no field “{}” (parameter “{}”). It has: {}.").format(
                source.sourceName(),
                name,
                label,
                ", ".join(fields.names()) or tr("no fields at all"),
            )
        )
    return fields.at(place).name()


def read_edge_lines(source, names, label, transform_context, feedback, progress):
    """Read a layer of edges.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    names : sequence of str
        Fields that are wanted.
    label : str
        Label of the parameter that chose the layer, for messages.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    EdgeLines

    Raises
    ------
    QgsProcessingException
        If the layer cannot be used; the text names layer and remedy.
    CancelledError
    """
    name, fields = source.sourceName(), source.fields()
    if QgsWkbTypes.geometryType(source.wkbType()) != QgsWkbTypes.GeometryType.LineGeometry:
        raise QgsProcessingException(
            tr("Layer “{}” holds no lines ({}). Choose a layer of edges in “{}”.").format(
                name, QgsWkbTypes.displayString(source.wkbType()), label
            )
        )
    naming = label_fields(source)
    sigmas = [
        fields.at(fields.lookupField(sigma)).name()
        for sigma in (SIGMA_CROSS, SIGMA_UP)
        if fields.lookupField(sigma) >= 0
        and kind(fields.at(fields.lookupField(sigma))) in ("int", "double")
    ]
    read = read_linework(
        source,
        list(dict.fromkeys([*names, *naming, *sigmas])),
        feedback,
        lambda share: progress(0.7 * share),
    )
    if not len(read.ids):
        raise QgsProcessingException(
            tr(
                "Layer “{}” is empty: there is no edge to read. If a filter or “selected features"
                " only” is set, check it."
            ).format(name)
        )
    x, y = read.x.copy(), read.y.copy()
    try:
        frame = make_frame(source.sourceCrs(), x, y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layer “{}” cannot be used: {}.").format(name, error)
        ) from error
    for sentence in frame.said:
        (feedback.pushInfo if source.sourceCrs().isValid() else feedback.pushWarning)(sentence)

    east, north, scale = frame.local(x, y, cancel_check(feedback))
    there = np.isfinite(east) & np.isfinite(north)
    if not there.all():
        feedback.pushWarning(
            tr(
                "Layer “{}”: {} vertices have no position, or one outside the range of the CRS;"
                " they are left out."
            ).format(name, int(np.count_nonzero(~there)))
        )
    parts = len(read.feature)
    part = np.repeat(np.arange(parts), np.diff(read.offsets))
    follows = (
        np.append(False, (np.diff(part) == 0) & there[1:] & there[:-1]) if len(part) else there
    )
    step = np.where(follows, np.hypot(np.diff(east, prepend=0.0), np.diff(north, prepend=0.0)), 0.0)
    usable = (np.bincount(part[there], minlength=parts) > 1) & (
        np.bincount(part, step, parts) > 1e-3
    )
    without = len(read.ids) - len(np.unique(read.feature[usable]))
    if without:
        feedback.pushWarning(
            tr("Layer “{}”: {} rows have no geometry, or no length; they are left out.").format(
                name, without
            )
        )
    if not usable.any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no row holds a line with a length. Check its geometry, or choose"
                " another layer."
            ).format(name)
        )
    texts, labelled_by = labels_of(read.ids, read.columns, naming)
    order = _order(read, east, north, there, part, usable, naming)
    wanted = np.flatnonzero(there & usable[part])
    place = np.empty(parts, np.int64)
    place[order] = np.arange(len(order))
    wanted = wanted[np.argsort(place[part[wanted]], kind="stable")]
    size = np.bincount(place[part[wanted]], minlength=len(order))
    offsets = np.concatenate([[0], np.cumsum(size)])
    row = read.feature[order]
    number = np.arange(parts) - np.searchsorted(read.feature, read.feature) + 1
    several = np.bincount(read.feature, minlength=len(read.ids)) > 1
    labels = [
        f"{texts[one]}/{number[edge]}" if several[one] else texts[one]
        for one, edge in zip(row.tolist(), order.tolist())
    ]
    z = read.z[wanted]
    lines = Lines.from_columns(
        east[wanted],
        north[wanted],
        z * frame.height_unit,
        offsets,
        sigma=_sigma(read, fields, SIGMA_CROSS, feedback)[row],
        scale=np.add.reduceat(scale[wanted], offsets[:-1]) / size,
    )
    progress(1.0)
    return EdgeLines(
        lines,
        read.x[wanted],
        read.y[wanted],
        z,
        row,
        read.ids,
        labels,
        labelled_by,
        read.columns,
        _sigma(read, fields, SIGMA_UP, feedback)[row],
        frame,
        source.sourceCrs(),
    )


def _order(read, east, north, there, part, usable, naming):
    """Usable parts in the order of the field that names their rows; without one, from west to
    east."""
    some = np.flatnonzero(usable)
    telling = [
        column
        for column in map(read.columns.get, naming)
        if not column.missing.any() and len(np.unique(column.values)) == len(column.values)
    ]
    if telling:
        return some[np.lexsort((some, telling[0].values[read.feature[some]]))]
    at = np.flatnonzero(there)
    first = at[np.searchsorted(part[at], some)]
    last = at[np.searchsorted(part[at], some, "right") - 1]
    size = np.bincount(part[there], minlength=len(usable))[some]
    # to the millimetre, so that the last digits of a transformation cannot decide
    return some[
        np.lexsort(
            (size, *(np.round(1000 * axis[of]) for axis in (north, east) for of in (last, first)))
        )
    ]


def _sigma(read, fields, name, feedback):
    """Uncertainty that the rows bring along, 0 where they say nothing."""
    place = fields.lookupField(name)
    if place < 0 or kind(fields.at(place)) not in ("int", "double"):
        return np.zeros(len(read.ids))
    sigma = read.columns[fields.at(place).name()].numbers()
    if np.nanmax(sigma, initial=0.0) > WORST_SIGMA:
        feedback.pushWarning(
            tr(
                "Field “{}” holds values up to {:.4g}, which cannot be the uncertainty of an edge"
                " in metres: it is not used. If it is in another unit, bring it into metres."
            ).format(fields.at(place).name(), float(np.nanmax(sigma)))
        )
        return np.zeros(len(read.ids))
    return np.where(np.isfinite(sigma) & (sigma >= 0), sigma, 0.0)


def attributes_of(source, edges, feedback):
    """Attributes of each edge's row, a list for each edge, NULL as None.

    Raises
    ------
    QgsProcessingException
        If the layer has changed since it was read.
    CancelledError
    """
    found = {}
    for number, feature in enumerate(
        iterate(source, QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry))
    ):
        if number % BLOCK == 0:
            raise_if_cancelled(feedback)
        found[feature.id()] = [None if is_null(value) else value for value in feature.attributes()]
    wanted = edges.ids[edges.row].tolist()
    missing = sum(ident not in found for ident in wanted)
    if missing:
        raise QgsProcessingException(
            tr(
                "Layer “{}” changed while it was read: {} of its rows are gone. Run again when"
                " nobody edits it."
            ).format(source.sourceName(), missing)
        )
    return [found[ident] for ident in wanted]
