"""The evidence behind one line of a review, read from its layers."""

from dataclasses import dataclass

import numpy as np
from qgis.core import (
    QgsCoordinateTransform,
    QgsCsException,
    QgsExpression,
    QgsFeatureRequest,
    QgsProcessingException,
    QgsRectangle,
)

from ...shared.review import evidence as ground
from ...shared.tuning import REVIEW
from ..host.feedback import raise_if_cancelled
from ..host.fields import kind, spelling
from ..host.figures import translate
from ..reading.columns import columns_of_lists
from ..reading.layer_frame import locate, way_into
from ..reading.layer_rows import read_rows
from ..reading.line_layer import Linework
from ..reading.role_words import TIME, fold, vocabulary, words_of
from ..reading.transforms import transform
from ..reading.wkb import vertices_of_line
from . import layers as parts
from .reading import DAY, EDGE

AROUND = 10.0  # s before and after a walk in which its rejected epochs are looked for


def tr(text):
    return translate("LineEvidence", text)


@dataclass(frozen=True)
class LineEvidence:
    """What is known of one line.

    Attributes
    ----------
    row : int
        Of the review.
    axis : Axis
    x, y : ndarray of float
        Vertices of the axis in the layer's CRS.
    crs : QgsCoordinateReferenceSystem
    epochs : Epochs
        Their `rows` are those of `table`.
    table : EpochTable
    band : Band
    offsets : Offsets
    """

    row: int
    axis: ground.Axis
    x: np.ndarray
    y: np.ndarray
    crs: object
    epochs: ground.Epochs
    table: object
    band: ground.Band
    offsets: ground.Offsets

    def place(self, chainage):
        """Position on the line, in the layer's CRS."""
        return tuple(
            float(np.interp(chainage, self.axis.chainage, values)) for values in (self.x, self.y)
        )


@dataclass(frozen=True)
class EpochTable:
    """Epochs as they were read; lists and arrays of one length.

    `part` is `layers.KEPT` or `layers.REJECTED`, `ids` are feature ids there; `x` and `y` are in
    the CRS of the line; `edge` is the edge as walked that a kept epoch belongs to, -1 for none.
    Where the capture was fitted anew, `seconds` are those since 1970; else there are none.
    """

    part: np.ndarray
    ids: np.ndarray
    x: np.ndarray
    y: np.ndarray
    moment: list
    detail: list
    edge: np.ndarray
    seconds: object = None


def read_evidence(given, review, row, feedback):
    """Read what is known of one line.

    Parameters
    ----------
    given : dict of str to Snapshot
        By part.
    review : Review
    row : int
        An edge or an existing line.
    feedback : QgsProcessingFeedback

    Returns
    -------
    LineEvidence or None
        None for a day, for a line that is no longer there or that has no length.

    Raises
    ------
    QgsProcessingException
        If a layer cannot be brought into the CRS of the line.
    CancelledError
    """
    what = int(review.what[row])
    source = given.get(parts.LINES if what == EDGE else parts.EXISTING)
    if what == DAY or source is None:
        return None
    read = _line(source, int(review.fid[row]))
    if read is None or len(read.x) < 2:
        return None
    at = locate(source, read.x.copy(), read.y.copy(), source.transforms, feedback)
    axis = ground.make_axis(at.x, at.y, read.z * at.frame.height_unit, read.offsets)
    if not axis.length > 0:
        return None
    epochs, table = _no_epochs()
    if what == EDGE:
        epochs, table = _epochs(given, review, row, (source, read, at.frame, axis), feedback)
    band = _band(given, review, row, axis, feedback)
    offsets = _offsets(given, review, row, axis, feedback)
    return LineEvidence(row, axis, read.x, read.y, source.sourceCrs(), epochs, table, band, offsets)


def _line(source, fid):
    """One feature as ragged arrays, as `read_linework` gives many; None where it is gone."""
    for feature in source.getFeatures(QgsFeatureRequest(fid)):
        geometry = feature.geometry()
        points, part = vertices_of_line(geometry)
        edges = np.concatenate([[0], np.flatnonzero(np.diff(part)) + 1, [len(points)]])
        return Linework(
            np.array([fid]),
            np.zeros(len(edges) - 1, np.int64),
            points[:, 0].copy(),
            points[:, 1].copy(),
            points[:, 2].copy(),
            edges.astype(np.int64),
            columns_of_lists(source, [], []),
        )
    return None


def _no_epochs():
    none, words = np.zeros(0), np.zeros(0, dtype=object)
    ids = np.zeros(0, np.int64)
    return (
        ground.Epochs(np.zeros(0, bool), words, none, none, none, none, ids),
        EpochTable(words, ids, none, none, [], [], ids),
    )


def _epochs(given, review, row, line, feedback):
    """Kept and rejected epochs of an edge, in order of chainage."""
    both = [
        part
        for part in (
            _kept(given.get(parts.KEPT), review.sources[row], line, feedback),
            _rejected(given.get(parts.REJECTED), review, row, line, feedback),
        )
        if part is not None
    ]
    if not both:
        return _no_epochs()
    names = ("kept", "word", "chainage", "across", "up", "height")
    columns = {name: np.concatenate([part[name] for part in both]) for name in names}
    table = EpochTable(
        np.concatenate([part["part"] for part in both]),
        *(np.concatenate([part[name] for part in both]) for name in ("ids", "x", "y")),
        [text for part in both for text in part["moment"]],
        [text for part in both for text in part["detail"]],
        np.concatenate([part["edge"] for part in both]),
    )
    rows = np.arange(len(table.ids))
    return ground.behind(ground.Epochs(**columns, rows=rows)), table


def _kept(source, sources, line, feedback):
    """Kept epochs; those of a line that was made of one walk keep their chainage and residuals."""
    name = spelling(source.fields(), "edge_id") if source is not None else ""
    if not name or not sources:
        return None
    column = QgsExpression.quotedColumnRef(name)
    expression = f"{column} IN ({', '.join(map(str, sources))})"
    taken = _taken(source.filtered(expression), line, feedback)
    number = taken.pop("number")
    taken["kept"] = np.ones(len(taken["ids"]), bool)
    taken["part"] = np.full(len(taken["ids"]), parts.KEPT, dtype=object)
    taken["word"] = np.where(taken["role"] == "", ground.KEPT_ROLES[0], taken.pop("role"))
    taken["edge"] = np.nan_to_num(number("edge_id"), nan=-1).astype(np.int64)
    taken.pop("reason")
    if len(sources) == 1:  # as they were fitted: the line as written may lie off by the tolerance
        for name, column in (
            ("chainage", "chainage"),
            ("across", "residual_cross"),
            ("up", "residual_up"),
        ):
            own = number(column)
            taken[name] = np.where(np.isfinite(own), own, taken[name])
    return taken


def _rejected(source, review, row, line, feedback):
    """Rejected epochs of the captures of an edge, near it in time and place."""
    if source is None:
        return None
    fields = source.fields()
    layer, capture, moment = (
        spelling(fields, name) for name in ("layer", "capture", "epoch_unix_seconds")
    )
    choices = []
    for ident in review.sources[row]:
        if ident not in review.walks:
            continue
        of_layer, of_capture, started, ended = review.walks[ident]
        choice = [
            f"{QgsExpression.quotedColumnRef(name)} = {QgsExpression.quotedString(value)}"
            for name, value in ((layer, of_layer), (capture, of_capture))
            if name and value
        ]
        if moment and np.isfinite([started, ended]).all():
            name = QgsExpression.quotedColumnRef(moment)
            choice.append(f"{name} >= {started - AROUND!r} AND {name} <= {ended + AROUND!r}")
        choices.append("(" + " AND ".join(choice or ["TRUE"]) + ")")
    taken = _taken(source.filtered(" OR ".join(choices), _around(source, line)), line, feedback)
    taken.pop("number")
    taken.pop("role")
    size = len(taken["ids"])
    taken["kept"] = np.zeros(size, bool)
    taken["part"] = np.full(size, parts.REJECTED, dtype=object)
    taken["word"] = taken.pop("reason")
    taken["edge"] = np.full(size, -1, np.int64)
    return taken


def _around(source, line):
    """What lies near the line, in the CRS of a layer of epochs."""
    own, _, frame, axis = line
    near = REVIEW.near
    x, y = (np.array([values.min() - near, values.max() + near]) for values in (axis.x, axis.y))
    x, y = frame.layer(x[[0, 0, 1, 1]], y[[0, 1, 0, 1]])
    box = QgsRectangle(float(x.min()), float(y.min()), float(x.max()), float(y.max()))
    if own.sourceCrs() == source.sourceCrs():
        return box
    way = QgsCoordinateTransform(own.sourceCrs(), source.sourceCrs(), source.transforms)
    try:
        return way.transformBoundingBox(box)
    except QgsCsException as error:
        raise QgsProcessingException(
            tr(
                "The line cannot be brought into the CRS of layer “{}”, {}. Check which CRS is set"
                " for that layer."
            ).format(source.sourceName(), source.sourceCrs().authid() or tr("without a code"))
        ) from error


def _taken(source, line, feedback):
    """Epochs of a layer with their place along the line, as columns by name."""
    own, _, frame, axis = line
    fields = source.fields()
    moments = _moments(fields)
    names = [
        name
        for name in (
            *moments,
            *(
                spelling(fields, wanted)
                for wanted in (
                    "role", "reason", "detail", "edge_id", "chainage", "residual_cross",
                    "residual_up",
                )
            ),
        )
        if name
    ]  # fmt: skip
    rows = read_rows(source, None, names, feedback, lambda share: raise_if_cancelled(feedback))
    x, y = rows.x, rows.y
    if own.sourceCrs() != source.sourceCrs() and source.sourceCrs().isValid():
        x, y = transform(way_into(own.sourceCrs(), source, source.transforms), x, y)
    east, north, _ = frame.local(x.copy(), y.copy())
    there = np.isfinite(east) & np.isfinite(north)
    chainage, across = np.full((2, len(east)), np.nan)
    if there.any():
        chainage[there], across[there] = ground.project(axis, east[there], north[there])
    height = rows.z * frame.height_unit

    def text(name):
        column = rows.columns.get(spelling(fields, name))
        return column.texts() if column is not None else np.full(len(rows), "")

    def number(name):
        column = rows.columns.get(spelling(fields, name))
        return column.numbers() if column is not None else np.full(len(rows), np.nan)

    moment = np.full(len(rows), "", dtype=object)
    for name in moments:
        moment = np.where(moment == "", rows.columns[name].texts(), moment)
    return {
        "ids": rows.ids,
        "x": x,
        "y": y,
        "chainage": chainage,
        "across": across,
        "height": height,
        "up": ground.height_above(axis, chainage, height),
        "role": text("role").astype(object),
        "reason": text("reason").astype(object),
        "detail": text("detail").tolist(),
        "moment": moment.tolist(),
        "number": number,
    }


def _moments(fields):
    """Fields that say when: dates with times first, then those that are called so."""
    known = vocabulary()
    dates = [one.name() for one in fields if kind(one) == "datetime"]
    called = [
        one.name()
        for one in fields
        if fold(one.name().replace("_", "")) in known.of(TIME, "name")
        or {fold(word) for word in words_of(one.name())} & set(known.of(TIME, "word"))
    ]
    return list(dict.fromkeys(dates + called))


def _band(given, review, row, axis, feedback):
    """Uncertainty along the line, from stations where there are some, else that of the whole."""
    source, sources = given.get(parts.EDGE_STATIONS), review.sources[row]
    if source is not None and len(sources) == 1:
        name = QgsExpression.quotedColumnRef(spelling(source.fields(), "edge_id"))
        found = _numbers(
            source.filtered(f"{name} = {sources[0]}"),
            ("chainage", "sigma_cross", "sigma_up"),
            feedback,
        )
        if len(found) > 1:
            return ground.Band(*found[np.argsort(found[:, 0], kind="stable")].T)
    return ground.steady_band(axis, float(review.sigma[row]), float(review.sigma_up[row]))


def _offsets(given, review, row, axis, feedback):
    """Stations of the comparison that belong to the line."""
    source, ident = given.get(parts.STATIONS), int(review.line_id[row])
    empty = np.zeros(0)
    none = ground.Offsets(empty, empty, empty, np.zeros(0, bool))
    if source is None or ident < 0:
        return none
    of_edge = review.what[row] == EDGE
    name = spelling(source.fields(), "edge_line_id" if of_edge else "existing_id")
    chainage = "edge_chainage" if of_edge else "chainage"
    if not name or not spelling(source.fields(), chainage):
        return none
    found = _numbers(
        source.filtered(f"{QgsExpression.quotedColumnRef(name)} = {ident}"),
        (chainage, "offset", "allowed"),
        feedback,
    )
    found = found[np.argsort(found[:, 0], kind="stable")]
    with np.errstate(invalid="ignore"):
        beyond = np.abs(found[:, 1]) > found[:, 2]
    return ground.Offsets(*found.T, beyond)


def _numbers(source, names, feedback):
    """Columns of numbers of a layer of points, shape (n, names); without rows where a field is
    missing."""
    own = [spelling(source.fields(), name) for name in names]
    if not all(own):
        raise QgsProcessingException(
            tr("Layer “{}” has no field “{}”.").format(source.sourceName(), names[own.index("")])
        )
    rows = read_rows(source, None, own, feedback, lambda share: raise_if_cancelled(feedback))
    return np.column_stack([rows.columns[name].numbers() for name in own])
