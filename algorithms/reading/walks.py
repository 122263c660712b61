"""A layer of walks: edges that may be the same edge walked more than once."""

from dataclasses import dataclass

import numpy as np
from qgis.core import QgsProcessingException

from ...shared.lines.lines import Lines
from ..host.fields import spelling
from ..host.figures import printed, translate
from . import roles
from .columns import refuse_no_numbers
from .coordinate_steps import sigmas_of_lines, widened
from .frames import Frame
from .layer_frame import (
    chosen_field,
    kept_offsets,
    locate_lines,
    part_numbers,
    refuse_without_length,
    row_scale,
)

# as edges have them
SIGMA, SIGMA_UP, EDGE_ID, CAPTURES = "sigma_cross", "sigma_up", "edge_id", ("captures", "capture")


def tr(text):
    return translate("Walks", text)


@dataclass(frozen=True)
class WalkFields:
    """Fields of a layer of walks as the layer spells them; empty for none.

    Attributes
    ----------
    sigma, sigma_up : str
        1-sigma, metres.
    groups : list of str
        Walks that differ in one of these are never merged.
    edge_id, capture : str
    labels : tuple of str
        Labels of the parameters of both uncertainties, for messages.
    """

    sigma: str
    sigma_up: str
    groups: list
    edge_id: str
    capture: str
    labels: tuple

    @property
    def wanted(self):
        """All that are to be read."""
        names = (self.sigma, self.sigma_up, *self.groups, self.edge_id, self.capture)
        return list(dict.fromkeys(name for name in names if name))


def walk_fields(source, sigmas, groups, labels):
    """The fields of a layer of walks.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    sigmas : tuple of str
        Fields with the uncertainty across and up, as chosen; empty to look for ``sigma_cross`` and
        ``sigma_up``.
    groups : list of str
        As chosen.
    labels : tuple of str
        Labels of the three parameters.

    Returns
    -------
    WalkFields

    Raises
    ------
    QgsProcessingException
        If a chosen field is not there.
    """
    fields = source.fields()
    across, up = (
        chosen_field(source, name, label) if name else spelling(fields, known)
        for name, label, known in zip(sigmas, labels, (SIGMA, SIGMA_UP))
    )
    return WalkFields(
        sigma=across,
        sigma_up=up,
        groups=[chosen_field(source, name, labels[2]) for name in groups if name.strip()],
        edge_id=spelling(fields, EDGE_ID),
        capture=next(filter(None, (spelling(fields, name) for name in CAPTURES)), ""),
        labels=labels[:2],
    )


@dataclass(frozen=True)
class WalkLayer:
    """Walks of a layer in its local frame; each part of a multi-part line is a walk.

    Attributes
    ----------
    name : str
        Of the layer, for messages.
    lines : Lines
    frame : Frame
    ids : ndarray of int64, shape (rows,)
        Feature ids.
    raw : ndarray of float, shape (v, 3)
        Vertices as they are in the layer.
    sigma_up : ndarray of float, shape (rows,)
        1-sigma, metres; NaN where it is unknown.
    group : ndarray of int64, shape (rows,)
        Walks of different groups are never merged.
    labels, captures : list of str
        Of each walk.
    """

    name: str
    lines: Lines
    frame: Frame
    ids: np.ndarray
    raw: np.ndarray
    sigma_up: np.ndarray
    group: np.ndarray
    labels: list
    captures: list

    def to_layer(self, x, y, z):
        return (*self.frame.layer(x, y), z / self.frame.height_unit)

    def back(self, edges):
        """Coordinates of edges in the layer's CRS; those that did not change to the last bit."""
        x, y, z = (column.copy() for column in self.to_layer(edges.x, edges.y, edges.z))
        for edge in np.flatnonzero(edges.unchanged >= 0).tolist():
            part = int(edges.unchanged[edge])
            rows, source = (
                slice(edges.offsets[edge], edges.offsets[edge + 1]),
                slice(self.lines.offsets[part], self.lines.offsets[part + 1]),
            )
            if rows.stop - rows.start == source.stop - source.start:
                x[rows], y[rows], z[rows] = self.raw[source].T
        return x, y, z


def read_walks(source, fields, transform_context, feedback, progress):
    """Read a layer of walks.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    fields : WalkFields
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    WalkLayer

    Raises
    ------
    QgsProcessingException
        If the layer cannot be used; the text names layer, field and remedy.
    CancelledError
    """
    read, located = locate_lines(
        source, fields.wanted, transform_context, feedback, lambda share: progress(0.7 * share)
    )
    name, count, there = source.sourceName(), len(read.ids), located.there
    filled, offsets = kept_offsets(read.offsets, there)
    line = read.feature[filled]
    sigma, sigma_up = (
        _sigma(read, field, name, label, feedback)
        for field, label in zip((fields.sigma, fields.sigma_up), fields.labels)
    )
    of_rounding = sigmas_of_lines(source, read, located.frame.height_unit, feedback.pushInfo)
    sigma, sigma_up = map(widened, (sigma, sigma_up), of_rounding)
    lines = Lines.from_columns(
        located.x[there],
        located.y[there],
        read.z[there] * located.frame.height_unit,
        offsets,
        line,
        count,
        np.nan_to_num(sigma),
        row_scale(line, offsets, located.scale[there], count),
    )
    refuse_without_length(source, int(np.count_nonzero(lines.length() > 0)), count, feedback)
    labels, captures = _labels(read, fields, line)
    progress(1.0)
    return WalkLayer(
        name=name,
        lines=lines,
        frame=located.frame,
        ids=read.ids,
        raw=np.column_stack([read.x, read.y, read.z])[there],
        sigma_up=sigma_up,
        group=_groups(read, fields.groups),
        labels=labels,
        captures=captures,
    )


def _groups(read, names):
    """One code for each combination of values of some fields, shape (rows,)."""
    group = np.zeros(len(read.ids), np.int64)
    for name in names:
        codes, different = read.columns[name].factor()
        group = group * len(different.values) + codes
    return group


def _labels(read, fields, line):
    """What each walk is called, and its capture; `line` is the row of each walk."""
    count = len(read.ids)
    texts = (
        read.columns[fields.edge_id].texts().tolist()
        if fields.edge_id
        else [str(ident) for ident in read.ids.tolist()]
    )
    captures = [""] * count
    if fields.capture:
        captures = read.columns[fields.capture].texts().tolist()
        if len(set(texts)) < count:  # layers that were merged number their edges anew
            texts = [f"{one} {text}".strip() for one, text in zip(captures, texts)]
    several = np.bincount(line, minlength=count)[line] > 1
    labels = [
        f"{texts[row]}/{part}" if many else texts[row]
        for row, part, many in zip(line.tolist(), part_numbers(line).tolist(), several.tolist())
    ]
    return labels, [captures[row] for row in line.tolist()]


def _sigma(read, field, name, label, feedback):
    """Uncertainty of each row, NaN where it is unknown."""
    if not field:
        feedback.pushInfo(
            tr(
                "{}: no field; all walks count alike, and the uncertainty follows from their"
                " differences."
            ).format(label)
        )
        return np.full(len(read.ids), np.nan)
    column = read.columns[field]
    refuse_no_numbers(column, name, field, label)
    sigma = roles.as_metres(column, field)
    wrong = np.flatnonzero(np.isnan(sigma) & ~column.missing | (sigma <= 0) | np.isinf(sigma))
    if wrong.size:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” must hold an uncertainty in metres, greater than 0, for"
                " “{}”, but holds “{}” (rows: {}). Choose another field, correct the values, or"
                " empty them."
            ).format(name, field, label, column.take(wrong[:1]).texts()[0], wrong.size)
        )
    known = np.isfinite(sigma)
    feedback.pushInfo(
        tr("{}: field “{}”, median {}; rows without a value: {}.").format(
            label,
            field,
            printed(f"{np.median(sigma[known]):.4f} m") if known.any() else tr("unknown"),
            int(np.count_nonzero(~known)),
        )
    )
    return sigma
