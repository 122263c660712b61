"""Result layers of other algorithms, read and brought into one frame."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsFeatureRequest, QgsProcessingException, QgsWkbTypes

from ....shared.arrays.ragged import offsets_of
from ....shared.lines.lines import Lines, points_at
from ...host.feedback import looked_through
from ...host.fields import kind, spelling
from ...host.figures import translate
from ...host.quotes import quoted
from .. import roles
from ..columns import columns_of_lists
from ..features import iterate, sample
from ..frames import FrameError, make_frame
from ..layer_frame import chosen_field, names_of, refuse_mixed_crs, row_scale, way_into
from ..layer_rows import read_rows
from ..line_layer import read_linework
from ..operations import warn_of_operation
from ..transforms import transform
from .epochs import COMMON_TIME, COMMON_WALK
from .found import Where

GEOMETRIES = {
    "line": QgsWkbTypes.GeometryType.LineGeometry,
    "point": QgsWkbTypes.GeometryType.PointGeometry,
}


def tr(text):
    return translate("Findings", text)


@dataclass(frozen=True)
class Wanted:
    """What a result layer must be.

    Attributes
    ----------
    label, made_by : str
        Label of the parameter, and what writes such layers, for messages.
    geometry : str
        ``line``, ``point`` or ``table``.
    one_of : tuple of str
        Of these fields one at least must be there.
    further : tuple of str
        Read where they are there.
    needed : tuple of str
        Those of all these fields that must be there.
    """

    label: str
    made_by: str
    geometry: str
    one_of: tuple
    further: tuple
    needed: tuple = ()


@dataclass
class ResultLayer:
    """A result layer as read. Lines have `offsets` and `feature` (row of each part); points have
    one position a row; tables have none. Positions are those of the layer's CRS until
    `into_one_frame` makes local ones of them."""

    source: object
    label: str
    ids: np.ndarray
    columns: dict
    x: np.ndarray = None
    y: np.ndarray = None
    scale: np.ndarray = None
    offsets: np.ndarray = None
    feature: np.ndarray = None

    @property
    def name(self):
        return self.source.sourceName()

    def numbers(self, name):
        """A field as floats, NaN where it is empty or not there."""
        return (
            roles.as_numbers(self.columns[name])
            if name in self.columns
            else np.full(len(self.ids), np.nan)
        )

    def texts(self, name):
        """A field as texts, empty where it is empty or not there."""
        return self.columns[name].texts() if name in self.columns else np.full(len(self.ids), "")

    def lines(self):
        """`Lines` of all parts that have at least two vertices."""
        there = np.isfinite(self.x) & np.isfinite(self.y)
        size = np.add.reduceat(there, self.offsets[:-1]) if len(self.feature) else np.zeros(0, int)
        whole = size > 1
        vertex = there & np.repeat(whole, np.diff(self.offsets))
        line, count = self.feature[whole], len(self.ids)
        offsets = offsets_of(size[whole])
        return Lines.from_columns(
            self.x[vertex],
            self.y[vertex],
            None,
            offsets,
            line,
            count,
            None,
            row_scale(line, offsets, self.scale[vertex], count),
        )

    def at(self, rows):
        """Where rows of points lie."""
        return Where(self.x[rows], self.y[rows], self.scale[rows])


def read_layer(source, wanted, feedback, file=None):
    """Read a result layer.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    wanted : Wanted
    feedback : QgsProcessingFeedback
    file : File, optional
        That may be streamed in the source's place.

    Returns
    -------
    ResultLayer

    Raises
    ------
    QgsProcessingException
        If the geometry is another one, no field of `one_of` is there, or one of `needed` is not;
        it names layer, fields and remedy.
    CancelledError
    """
    _refuse_geometry(source, wanted)
    spelt = _spelt(source, wanted, feedback)
    names = list(dict.fromkeys(spelt.values()))
    if wanted.geometry == "line":
        read = read_linework(source, names, feedback, lambda share: None)
        shape = {"x": read.x.copy(), "y": read.y.copy()}
        shape.update(offsets=read.offsets, feature=read.feature)
    elif wanted.geometry == "point":
        read = read_rows(source, file, names, feedback, lambda share: None)
        shape = {"x": read.x.copy(), "y": read.y.copy()}
    else:
        read, shape = _read_table(source, names, feedback), {}
    columns = {name: read.columns[own] for name, own in spelt.items()}
    return ResultLayer(source, wanted.label, read.ids, columns, **shape)


def _spelt(source, wanted, feedback):
    """The wanted fields that are there, as the layer spells them."""
    fields = source.fields()
    spelt = {name: spelling(fields, name) for name in (*wanted.one_of, *wanted.further)}
    spelt = {name: own for name, own in spelt.items() if own}
    if wanted.one_of and not set(spelt) & set(wanted.one_of):
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field {}, so it cannot be “{}”. Choose what {} writes. It"
                " has: {}."
            ).format(
                source.sourceName(),
                tr(" or ").join(quoted(name) for name in wanted.one_of),
                wanted.label,
                wanted.made_by,
                names_of(source),
            )
        )
    if not spelt:
        feedback.pushWarning(
            tr(
                "Layer “{}” has none of the fields {}: all of its rows count as “{}”. Check that it"
                " is what {} writes."
            ).format(
                source.sourceName(),
                ", ".join(quoted(name) for name in wanted.further),
                wanted.label,
                wanted.made_by,
            )
        )
    lacking = [name for name in wanted.needed if name not in spelt]
    if lacking:
        raise QgsProcessingException(
            tr("Layer “{}” has no field “{}”, so it cannot be “{}”. It has: {}.").format(
                source.sourceName(), lacking[0], wanted.label, names_of(source)
            )
        )
    return spelt


def _refuse_geometry(source, wanted):
    what = QgsWkbTypes.geometryType(source.wkbType())
    if wanted.geometry == "table" or what == GEOMETRIES[wanted.geometry]:
        return
    raise QgsProcessingException(
        tr("Layer “{}” ({}) cannot be “{}”, which are {}. Choose what {} writes.").format(
            source.sourceName(),
            QgsWkbTypes.displayString(source.wkbType()),
            wanted.label,
            tr("lines") if wanted.geometry == "line" else tr("points"),
            wanted.made_by,
        )
    )


def _read_table(source, names, feedback):
    lists, ids = [[] for _ in names], []
    request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
    for feature in looked_through(iterate(source, request), feedback):
        ids.append(feature.id())
        for values, name in zip(lists, names):
            values.append(feature[name])
    return ResultLayer(source, "", np.array(ids, np.int64), columns_of_lists(source, names, lists))


def into_one_frame(layers, transform_context, feedback):
    """Bring all layers that have positions into one local frame, in place.

    Returns
    -------
    frame : Frame
    crs : QgsCoordinateReferenceSystem
        Of the first layer; the frame leads back to it.

    Raises
    ------
    QgsProcessingException
        If one has no CRS and another has one, or no frame can be made.
    """
    placed = [layer for layer in layers if layer.x is not None]
    first = placed[0].source
    crs = first.sourceCrs()
    for layer in placed[1:]:
        refuse_mixed_crs(first, layer.source)
        if layer.source.sourceCrs() != crs:
            way = way_into(crs, layer.source, transform_context)
            warn_of_operation(way, (layer.name, first.sourceName()), feedback)
            layer.x, layer.y = transform(way, layer.x, layer.y)
    x, y = (np.concatenate([getattr(layer, axis) for layer in placed]) for axis in "xy")
    # so that the order of the rows does not reach the frame's last digit
    order = np.lexsort((y, x))
    x, y = x[order], y[order]
    try:
        frame = make_frame(crs, x, y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layer “{}” cannot be used: {}.").format(placed[0].name, error)
        ) from error
    for sentence in frame.said:
        (feedback.pushInfo if crs.isValid() else feedback.pushWarning)(sentence)
    own = [np.empty(len(x)) for _ in range(3)]
    for values, made in zip(own, frame.local(x, y)):
        values[order] = made
    stop = np.cumsum([len(layer.x) for layer in placed])
    for layer, *made in zip(placed, *(np.split(values, stop[:-1]) for values in own)):
        layer.x, layer.y, layer.scale = made
    return frame, crs


def epoch_fields(source, time, captures, labels, feedback):
    """Fields with time and capture of rejected epochs, as chosen or else found.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    time : str
    captures : list of str
    labels : tuple of str
        Labels of both parameters.
    feedback : QgsProcessingFeedback

    Returns
    -------
    time : str
    captures : list of str

    Raises
    ------
    QgsProcessingException
        If a chosen field is not there, or none can be the time, or several can.
    """
    if not time and not captures and {COMMON_TIME, COMMON_WALK} <= set(source.fields().names()):
        return COMMON_TIME, [COMMON_WALK]  # of several layers, whose own fields differ
    kinds = {one.name(): kind(one) for one in source.fields()}
    columns = sample(source, [one for one, what in kinds.items() if what not in ("other", "time")])
    chosen = {
        roles.TIME: [chosen_field(source, time, labels[0])] if time else [],
        roles.CAPTURE: [chosen_field(source, text, labels[1]) for text in captures if text.strip()],
    }
    for (part, names), label, called in zip(chosen.items(), labels, (tr("time"), tr("capture"))):
        if not names:
            names += _found_fields(source, part, (kinds, columns), label, called, feedback)
    if not chosen[roles.TIME]:
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field that looks like a time, so nobody can tell which epochs"
                " follow each other. Choose one in “{}”. It has: {}."
            ).format(source.sourceName(), labels[0], names_of(source))
        )
    return chosen[roles.TIME][0], chosen[roles.CAPTURE]


def _found_fields(source, part, sampled, label, called, feedback):
    """Fields of one part, from names, types and values."""
    try:
        taken = roles.find(part, *sampled)
    except roles.UndecidedError as undecided:
        raise QgsProcessingException(
            tr("Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.").format(
                source.sourceName(),
                tr(" and ").join(quoted(one) for one in undecided.names),
                called,
                label,
            )
        ) from undecided
    if taken.rivals:
        feedback.pushWarning(
            tr("{}: the fields {} are equally good, so none is taken. Choose one in “{}”.").format(
                label, tr(" and ").join(quoted(one) for one in taken.rivals), label
            )
        )
    return taken.names


def middles(lines):
    """Middle of the longest part of each row, on the line: row, x, y; rows without one are left
    out."""
    length = lines.part_length()
    order = np.lexsort((-length, lines.line))
    part = order[np.append(True, np.diff(lines.line[order]) > 0)] if len(order) else order
    x, y, *_ = points_at(lines, part, length[part] / 2)
    return lines.line[part], x, y


def placed(lines):
    """Of each row the place of its middle, shape (rows,), and its length on the ground."""
    x, y = np.full((2, lines.count), np.nan)
    row, x_of, y_of = middles(lines)
    x[row], y[row] = x_of, y_of
    return Where(x, y, lines.scale), lines.length()
