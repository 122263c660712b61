"""Edges into positions for the fit of tangents and arcs: lines by their vertices, or kept epochs in
order along their edge."""

from dataclasses import dataclass, replace

import numpy as np
from qgis.core import QgsProcessingException, QgsWkbTypes

from ...shared.arrays.ragged import group_index, offsets_of
from ...shared.epochs.accuracies import possible
from ..host.fields import kind, spelling
from ..host.figures import translate
from . import role_words, roles
from .coordinate_steps import sigmas_of_lines, widened
from .features import sample
from .frames import Frame, short_step
from .layer_frame import (
    locate,
    locate_lines,
    names_of,
    part_numbers,
    refuse_empty,
    refuse_without_length,
    reported_sigma,
    sigma_field,
)
from .layer_rows import read_rows

EDGE_ID, CHAINAGE, SIGMA = "edge_id", "chainage", "sigma_cross"  # as `reconstructedges` writes them
SHORTEST = 1e-3  # m; what is shorter has no direction
MIXED = 5.0  # m that neighbours may lie farther apart than their chainages say


def tr(text):
    return translate("EdgeSource", text)


@dataclass(frozen=True)
class EdgeChoices:
    """What the user chose.

    Attributes
    ----------
    file : File or None
        The file that may be streamed in the source's place.
    edge_fields : list of str
        Fields that tell the edges of epochs apart; empty for ``edge_id``.
    label, edge_fields_label : str
        Labels of the parameters that choose the layer and these fields, for messages.
    """

    file: object
    edge_fields: list
    label: str
    edge_fields_label: str


@dataclass(frozen=True)
class EdgeLayer:
    """Edges of a layer.

    Attributes
    ----------
    samples : Samples
        In ground metres from `anchor`.
    anchor : ndarray of float, shape (runs, 2)
        Local coordinates of each run's own origin.
    scale : ndarray of float, shape (runs,)
        Of the frame where the run lies: local metres to a metre on the ground.
    frame : Frame
    crs : QgsCoordinateReferenceSystem
    is_line : bool
    ids : ndarray of int64, shape (runs,)
        Feature id of each run's line; of epochs 0.
    edge_id : ndarray of int64, shape (runs,)
    own_id : bool
        True where `edge_id` are the values of the layer's own field.
    part : ndarray of int64, shape (runs,)
        Of a line of several parts, from 1.
    carried : tuple of tuple
        Name, QMetaType name and value of each run, of the fields that runs of epochs have in
        common.
    sigma : ndarray of float, shape (runs,)
        1-sigma across that the edges already have or, of epochs, that no fit shows, metres.
    """

    samples: object
    anchor: np.ndarray
    scale: np.ndarray
    frame: Frame
    crs: object
    is_line: bool
    ids: np.ndarray
    edge_id: np.ndarray
    own_id: bool
    part: np.ndarray
    carried: tuple
    sigma: np.ndarray

    def to_layer(self, x, y, run):
        """Positions in the layer's CRS from ground metres of the runs."""
        scale, (east, north) = self.scale[run], self.anchor[run].T
        return self.frame.layer(east + scale * x, north + scale * y)

    def to_ground(self, x, y, run):
        """The inverse of `to_layer`."""
        east, north, _ = self.frame.local(np.asarray(x, float).copy(), np.asarray(y, float).copy())
        return (east - self.anchor[run, 0]) / self.scale[run], (
            north - self.anchor[run, 1]
        ) / self.scale[run]

    def grid_north(self, x, y):
        """Direction of grid north at positions in the layer's CRS, degrees clockwise from the
        frame's own north."""
        step = short_step(self.crs)
        (west, south, _), (east, north, _) = (
            self.frame.local(x, y - step),
            self.frame.local(x, y + step),
        )
        return np.degrees(np.arctan2(east - west, north - south))


def read_edges(source, choices, tolerance, transform_context, feedback, progress):
    """Read edges from a line or point source.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    choices : EdgeChoices
    tolerance : float
        Metres; see `samples.sample_edges`.
    transform_context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    progress : callable
        Called with the share that is done, 0 to 1.

    Returns
    -------
    EdgeLayer

    Raises
    ------
    QgsProcessingException
        If the layer cannot be used; the text names layer, field and remedy.
    CancelledError
    """
    what = QgsWkbTypes.geometryType(source.wkbType())
    if what == QgsWkbTypes.GeometryType.LineGeometry:
        return _read_lines(source, tolerance, transform_context, feedback, progress)
    if what == QgsWkbTypes.GeometryType.PointGeometry:
        return _read_epochs(source, choices, transform_context, feedback, progress)
    raise QgsProcessingException(
        tr(
            "Layer “{}” holds neither lines nor points ({}). Choose a layer of edges, or of kept"
            " epochs as “Reconstruct edges” writes them, in “{}”."
        ).format(source.sourceName(), QgsWkbTypes.displayString(source.wkbType()), choices.label)
    )


def _begun_at_joints(samples):
    """The same with rings that start where one element ends and the next begins."""
    from ...shared.alignment.fit import ring_start

    order = ring_start(samples.x, samples.y, samples.variance, samples.offsets, samples.closed)
    return replace(
        samples, **{name: getattr(samples, name)[order] for name in ("x", "y", "z", "variance")}
    )


def _grounded(x, y, scale, offsets):
    """Ground metres from each run's first position; those positions, and the mean scale of each
    run."""
    first, size = offsets[:-1], np.diff(offsets)
    anchor = np.column_stack([x[first], y[first]])
    own = np.add.reduceat(scale, first) / size
    return (
        (x - np.repeat(anchor[:, 0], size)) / np.repeat(own, size),
        (y - np.repeat(anchor[:, 1], size)) / np.repeat(own, size),
        anchor,
        own,
    )


def _read_lines(source, tolerance, transform_context, feedback, progress):
    from ...shared.alignment.samples import sample_edges

    fields = source.fields()
    wanted = [name for name in (spelling(fields, EDGE_ID), spelling(fields, SIGMA)) if name]
    read, located = locate_lines(
        source, wanted, transform_context, feedback, lambda share: progress(0.7 * share)
    )
    there, lines = located.there, len(read.feature)
    line = group_index(read.offsets)[there]
    east, north, scale = located.x[there], located.y[there], located.scale[there]
    long = _lengths(line, east, north, lines) > SHORTEST
    refuse_without_length(source, len(np.unique(read.feature[long])), len(read.ids), feedback)
    kept, size = long[line], np.bincount(line, minlength=lines)[long]
    offsets = offsets_of(size)
    x, y, anchor, own_scale = _grounded(east[kept], north[kept], scale[kept], offsets)
    z = (read.z[there] * located.frame.height_unit)[kept]
    feature = read.feature[long]
    edge_id, own = _edge_ids(read, spelling(fields, EDGE_ID), source.sourceName(), feedback)
    sigma = reported_sigma(
        read,
        sigma_field(fields, SIGMA),
        feedback,
        tr("Uncertainty of the edges: field “{}”; it counts in addition to the tolerance."),
    )[feature]
    across, _ = sigmas_of_lines(source, read, located.frame.height_unit, feedback.pushInfo)
    sigma = widened(sigma, across)
    progress(1.0)
    return EdgeLayer(
        samples=_begun_at_joints(sample_edges(x, y, z, offsets, tolerance, sigma)),
        anchor=anchor,
        scale=own_scale,
        frame=located.frame,
        crs=source.sourceCrs(),
        is_line=True,
        ids=read.ids[feature],
        edge_id=edge_id[feature],
        own_id=own,
        part=part_numbers(read.feature)[long],
        carried=(),
        sigma=sigma,
    )


def _lengths(line, x, y, lines):
    """Length of each line in the frame; `line` tells where each vertex belongs."""
    step = np.hypot(np.diff(x), np.diff(y)) * (np.diff(line) == 0)
    return np.bincount(line, np.append(step, 0.0)[: len(x)], lines)


def _edge_ids(read, field, name, feedback):
    """Number of each feature, and whether it is that of the layer's own field."""
    numbers = np.arange(1, len(read.ids) + 1)
    if not field:
        return numbers, False
    column = read.columns[field]
    if (
        column.kind == "int"
        and not column.missing.any()
        and len(np.unique(column.values)) == len(column.values)
    ):
        return column.values, True
    feedback.pushInfo(
        tr(
            "Layer “{}”: field “{}” does not tell the edges apart (it is empty, repeats, or is no"
            " whole number), so they are numbered anew."
        ).format(name, field)
    )
    return numbers, False


def _read_epochs(source, choices, transform_context, feedback, progress):
    from ...shared.alignment.samples import sample_epochs

    fields = _epoch_fields(source, choices.edge_fields, choices.edge_fields_label, feedback)
    rows = read_rows(
        source, choices.file, fields.wanted, feedback, lambda share: progress(0.7 * share)
    )
    refuse_empty(source, rows, tr("epoch"))
    located = locate(source, rows.x.copy(), rows.y.copy(), transform_context, feedback)
    chainage = rows.columns[fields.chainage].numbers()
    usable, code = _usable_epochs(source, rows, located, chainage, fields.edge, feedback)
    _, first, group, counts = np.unique(
        code[usable], return_index=True, return_inverse=True, return_counts=True
    )
    order = np.argsort(group, kind="stable")
    take, group, at = np.flatnonzero(usable)[order], group[order], np.flatnonzero(usable)[first]
    x, y, anchor, own_scale = _grounded(
        located.x[take],
        located.y[take],
        located.scale[take],
        offsets_of(counts),
    )
    z, standing = _heights_and_roles(rows, fields, take, located.frame.height_unit)
    samples, noise, steps = sample_epochs(x, y, z, chainage[take], standing, group)
    worst = int(np.argmax(steps))
    if steps[worst] > MIXED:
        _refuse_mixed(source, rows, fields.edge, at[worst], steps[worst], choices.edge_fields_label)
    feedback.pushInfo(
        tr(
            "Epochs: {}, edges: {}; noise across the edge found from the data: {:.1f} mm (1-sigma)."
        ).format(len(take), len(at), 1000 * noise)
    )
    own_id = len(fields.edge) == 1 and rows.columns[fields.edge[0]].kind == "int"
    progress(1.0)
    return EdgeLayer(
        samples=_begun_at_joints(samples),
        anchor=anchor,
        scale=own_scale,
        frame=located.frame,
        crs=source.sourceCrs(),
        is_line=False,
        ids=np.zeros(len(at), np.int64),
        edge_id=rows.columns[fields.edge[0]].values[at] if own_id else np.arange(1, len(at) + 1),
        own_id=own_id,
        part=np.ones(len(at), np.int64),
        carried=_carried(rows, fields, at, own_id),
        sigma=_steady_sigma(rows, fields.h_accuracy, take, group, len(at)),
    )


@dataclass(frozen=True)
class _EpochFields:
    """Fields of kept epochs as the layer spells them; empty where there is none.

    `edge` holds several, `extra` those of ``role`` and ``height_used`` that are there.
    """

    edge: list
    chainage: str
    capture: str
    h_accuracy: str
    extra: dict

    @property
    def wanted(self):
        """All that are to be read."""
        found = [name for name in (self.capture, self.h_accuracy) if name]
        return [*self.edge, self.chainage, *found, *self.extra.values()]


def _epoch_fields(source, edge_fields, label, feedback):
    fields = source.fields()
    edge_fields = [text for text in edge_fields if text] or [EDGE_ID]
    for field in (*edge_fields, CHAINAGE):
        if fields.lookupField(field) < 0:
            raise QgsProcessingException(
                tr(
                    "Layer “{}” has no field “{}”, so its epochs cannot be put in order along"
                    " edges. Use the “Kept epochs” of “Reconstruct edges”, or its edges; fields"
                    " that tell edges apart may be chosen in “{}”. The layer has: {}."
                ).format(source.sourceName(), field, label, names_of(source))
            )
    chainage = spelling(fields, CHAINAGE)
    if kind(fields.at(fields.lookupField(CHAINAGE))) not in ("int", "double"):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no numbers, but the epochs' order along the edge in"
                " metres is needed. Use the “Kept epochs” of “Reconstruct edges”."
            ).format(source.sourceName(), chainage)
        )
    kinds = {field.name(): kind(field) for field in fields if kind(field) not in ("other", "time")}
    columns = sample(source, list(kinds))
    for problem in role_words.vocabulary().problems:
        feedback.pushWarning(problem)
    capture, h_accuracy = (
        "".join(roles.find(part, kinds, columns).names[:1])
        for part in (roles.CAPTURE, roles.H_ACCURACY)
    )
    extra = {name: spelling(fields, name) for name in ("role", "height_used")}
    return _EpochFields(
        edge=[spelling(fields, field) for field in edge_fields],
        chainage=chainage,
        capture=capture,
        h_accuracy=h_accuracy,
        extra={name: own for name, own in extra.items() if own},
    )


def _usable_epochs(source, rows, located, chainage, edge_fields, feedback):
    """Epochs with position, chainage and an edge of two epochs at least, shape (n,), and a code of
    each one's edge."""
    code, missing = np.zeros(len(rows), np.int64), np.zeros(len(rows), bool)
    for field in edge_fields:
        codes, different = rows.columns[field].factor()
        code, missing = code * len(different.values) + codes, missing | rows.columns[field].missing
    usable = located.there & np.isfinite(chainage) & ~missing
    if len(edge_fields) == 1 and rows.columns[edge_fields[0]].kind == "int":
        # 0 is what “Reconstruct edges” gives to epochs without an edge
        usable &= rows.columns[edge_fields[0]].values > 0
    _, group, counts = np.unique(code[usable], return_inverse=True, return_counts=True)
    usable[np.flatnonzero(usable)[counts[group] < 2]] = False
    if not usable.all():
        feedback.pushWarning(
            tr(
                "Epochs left out, without position, edge or chainage, or alone on their edge: {}."
            ).format(int(np.count_nonzero(~usable)))
        )
    if not usable.any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no edge has two epochs with position and chainage, so there is nothing"
                " to fit. Use the “Kept epochs” of “Reconstruct edges”."
            ).format(source.sourceName())
        )
    return usable, code


def _heights_and_roles(rows, fields, take, height_unit):
    """Heights in metres, NaN where they were not used, and whether the epoch is one at rest."""
    z = rows.z[take] * height_unit
    if "height_used" in fields.extra:
        flag = rows.columns[fields.extra["height_used"]]
        z = np.where((flag.values.astype(bool) | flag.missing)[take], z, np.nan)
    if "role" not in fields.extra:
        return z, np.zeros(len(take), bool)
    return z, (rows.columns[fields.extra["role"]].texts() == "standing")[take]


def _refuse_mixed(source, rows, edge_fields, row, step, label):
    raise QgsProcessingException(
        tr(
            "Layer “{}”: where field “{}” is “{}”, epochs that are neighbours by their chainage"
            " lie {:.1f} m farther apart than that: several lines have one name, as in layers"
            " that were merged. Choose all fields that tell the edges apart in “{}”."
        ).format(
            source.sourceName(),
            "”, “".join(edge_fields),
            " / ".join(rows.columns[field].take([row]).texts()[0] for field in edge_fields),
            step,
            label,
        )
    )


def _carried(rows, fields, at, own_id):
    """Name, type and values of the fields that the epochs of an edge have in common."""
    carried = [
        (
            field if field.lower() != EDGE_ID else EDGE_ID + "_source",
            "QString",
            rows.columns[field].take(at).texts().tolist(),
        )
        for field in (() if own_id else fields.edge)
    ]
    if fields.capture and fields.capture not in fields.edge:
        carried.append(
            ("capture", "QString", rows.columns[fields.capture].take(at).texts().tolist())
        )
    return tuple(carried)


def _steady_sigma(rows, field, take, group, runs):
    """What is left of the receiver's error over a minute and no fit shows, 1-sigma of each run in
    metres; as `reconstruct` takes it."""
    from ...shared.tuning import ACCURACIES, STANDING

    reported = np.full(len(take), np.nan)
    if field:
        reported = roles.as_metres(rows.columns[field], field)[take]
    square = np.where(
        possible(reported) & (reported < ACCURACIES.beyond),
        STANDING.correlated_share * reported**2,
        STANDING.correlated_sigma**2,
    )
    return np.sqrt(np.bincount(group, square, runs) / np.bincount(group, minlength=runs))
