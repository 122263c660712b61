"""One layer of edges as lines: into ground metres, in an order of their own, and back."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsWkbTypes

from ...shared.arrays.ragged import group_index, offsets_of
from ...shared.lines.lines import Lines
from ..host.figures import translate
from .coordinate_steps import sigmas_of_lines, widened
from .features import attributes_by_id
from .frames import Frame
from .layer_frame import (
    locate_lines,
    part_numbers,
    refuse_other_kinds,
    refuse_without_length,
    reported_sigma,
    sigma_field,
)
from .line_pair import label_fields, labels_of

SIGMA_CROSS, SIGMA_UP = "sigma_cross", "sigma_up"  # as `reconstructedges` writes them
SHORTEST = 1e-3  # m; what is shorter has no direction


def tr(text):
    return translate("EdgeLines", text)


@dataclass(frozen=True)
class EdgeLines:
    """Edges of a line layer; each part of a multi-part line is an edge.

    Attributes
    ----------
    lines : Lines
        Local metres, `scale` by edge. Edges come in the order of the field that names them, else in
        that of where they lie: the order of the rows does not matter.
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
    refuse_other_kinds(source, [QgsWkbTypes.GeometryType.LineGeometry], label)
    fields, naming = source.fields(), label_fields(source)
    sigmas = [sigma_field(fields, name) for name in (SIGMA_CROSS, SIGMA_UP)]
    wanted = dict.fromkeys([*names, *naming, *filter(None, sigmas)])
    read, located = locate_lines(
        source, list(wanted), transform_context, feedback, lambda share: progress(0.7 * share)
    )
    part = group_index(read.offsets)
    usable = _usable(part, located, len(read.feature))
    refuse_without_length(source, len(np.unique(read.feature[usable])), len(read.ids), feedback)
    order = _order(read, located, part, usable, naming)
    vertex, offsets = _vertices(part, located.there & usable[part], order, len(usable))
    row = read.feature[order]
    labels, labelled_by = _labels(read, naming, order)
    of_rounding = sigmas_of_lines(source, read, located.frame.height_unit, feedback.pushInfo)
    cross, up = (
        widened(reported_sigma(read, name, feedback)[row], own)
        for name, own in zip(sigmas, of_rounding)
    )
    progress(1.0)
    return EdgeLines(
        lines=_lines(read, located, vertex, offsets, cross),
        x=read.x[vertex],
        y=read.y[vertex],
        z=read.z[vertex],
        row=row,
        ids=read.ids,
        labels=labels,
        labelled_by=labelled_by,
        columns=read.columns,
        sigma_up=up,
        frame=located.frame,
        crs=source.sourceCrs(),
    )


def _lines(read, located, vertex, offsets, sigma):
    """`Lines` of some vertices in the frame."""
    return Lines.from_columns(
        located.x[vertex],
        located.y[vertex],
        read.z[vertex] * located.frame.height_unit,
        offsets,
        sigma=sigma,
        scale=np.add.reduceat(located.scale[vertex], offsets[:-1]) / np.diff(offsets),
    )


def _usable(part, located, parts):
    """True for parts with two vertices and a length of more than a millimetre."""
    there = located.there
    follows = (
        np.append(False, (np.diff(part) == 0) & there[1:] & there[:-1]) if len(part) else there
    )
    east, north = (np.diff(axis, prepend=0.0) for axis in (located.x, located.y))
    step = np.where(follows, np.hypot(east, north), 0.0)
    return (np.bincount(part[there], minlength=parts) > 1) & (
        np.bincount(part, step, parts) > SHORTEST
    )


def _vertices(part, kept, order, parts):
    """Vertices that are kept, part by part in an order of the parts, and their offsets."""
    place = np.empty(parts, np.int64)
    place[order] = np.arange(len(order))
    vertex = np.flatnonzero(kept)
    vertex = vertex[np.argsort(place[part[vertex]], kind="stable")]
    size = np.bincount(place[part[vertex]], minlength=len(order))
    return vertex, offsets_of(size)


def _labels(read, naming, order):
    """What each edge is called, and in words by what; parts of one row are numbered."""
    texts, labelled_by = labels_of(read.ids, read.columns, naming)
    number = part_numbers(read.feature)
    several = np.bincount(read.feature, minlength=len(read.ids)) > 1
    labels = [
        f"{texts[row]}/{number[edge]}" if several[row] else texts[row]
        for row, edge in zip(read.feature[order].tolist(), order.tolist())
    ]
    return labels, labelled_by


def _order(read, located, part, usable, naming):
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
    there = located.there
    at = np.flatnonzero(there)
    first = at[np.searchsorted(part[at], some)]
    last = at[np.searchsorted(part[at], some, "right") - 1]
    size = np.bincount(part[there], minlength=len(usable))[some]
    # to the millimetre, so that the last digits of a transformation cannot decide
    return some[
        np.lexsort(
            (
                size,
                *(
                    np.round(1000 * axis[of])
                    for axis in (located.y, located.x)
                    for of in (last, first)
                ),
            )
        )
    ]


def attributes_of(source, edges, feedback):
    """Attributes of each edge's row, a list for each edge; see `attributes_by_id`."""
    wanted = edges.ids[edges.row].tolist()
    found = attributes_by_id(source, wanted, feedback)
    return [found[ident] for ident in wanted]
