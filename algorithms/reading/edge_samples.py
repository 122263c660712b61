"""Edges into positions for the fit of tangents and arcs: lines by their vertices, or kept epochs in
order along their edge."""

from dataclasses import dataclass, replace

import numpy as np
from qgis.core import QgsProcessingException, QgsWkbTypes
from qgis.PyQt.QtCore import QCoreApplication

from ..host.feedback import cancel_check
from ..host.fields import kind, spelling
from . import roles
from .columns import read_rows, sample
from .frames import Frame, FrameError, make_frame
from .line_layer import read_linework

EDGE_ID, CHAINAGE, SIGMA = "edge_id", "chainage", "sigma_cross"  # as `reconstructedges` writes them
WORST_SIGMA = 1.0  # m, of an edge
MIXED = 5.0  # m that neighbours may lie farther apart than their chainages say


def tr(text):
    return QCoreApplication.translate("EdgeSource", text)


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
        step = 1e-5 if self.crs.isValid() and self.crs.isGeographic() else 1.0
        (west, south, _), (east, north, _) = (
            self.frame.local(x, y - step),
            self.frame.local(x, y + step),
        )
        return np.degrees(np.arctan2(east - west, north - south))


def read_edges(source, file, edge_fields, tolerance, labels, transform_context, feedback, progress):
    """Read edges from a line or point source.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    file : File or None
        The file that may be streamed in its place.
    edge_fields : list of str
        Fields that tell the edges of epochs apart; empty for `edge_id`.
    tolerance : float
        Metres; see `edgesamples.sample_edges`.
    labels : dict of str to str
        Labels of the parameters INPUT and EDGE_FIELDS, for messages.
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
        return _read_epochs(
            source, file, edge_fields, labels, transform_context, feedback, progress
        )
    raise QgsProcessingException(
        tr(
            "Layer “{}” holds neither lines nor points ({}). Choose a layer of edges, or of kept"
            " epochs as “Reconstruct edges” writes them, in “{}”."
        ).format(source.sourceName(), QgsWkbTypes.displayString(source.wkbType()), labels["INPUT"])
    )


def _local(source, x, y, transform_context, feedback):
    """Frame, and local coordinates and scale of positions; those that are lost are NaN."""
    try:
        frame = make_frame(source.sourceCrs(), x, y, None, transform_context)
    except FrameError as error:
        raise QgsProcessingException(
            tr("Layer “{}” cannot be used: {}.").format(source.sourceName(), error)
        ) from error
    for sentence in frame.said:
        (feedback.pushInfo if source.sourceCrs().isValid() else feedback.pushWarning)(sentence)

    return frame, *frame.local(x, y, cancel_check(feedback))


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

    name, fields = source.sourceName(), source.fields()
    wanted = [
        fields.at(place).name()
        for place in (fields.lookupField(EDGE_ID), fields.lookupField(SIGMA))
        if place >= 0
    ]
    read = read_linework(source, wanted, feedback, lambda share: progress(0.7 * share))
    if not len(read.ids):
        raise QgsProcessingException(
            tr(
                "Layer “{}” is empty: there is no edge to read. If a filter or “selected features"
                " only” is set, check it."
            ).format(name)
        )
    frame, east, north, scale = _local(
        source, read.x.copy(), read.y.copy(), transform_context, feedback
    )
    there = np.isfinite(east) & np.isfinite(north)
    if not there.all():
        feedback.pushWarning(
            tr(
                "Layer “{}”: {} vertices have no position, or one outside the range of the CRS;"
                " they are left out."
            ).format(name, int(np.count_nonzero(~there)))
        )
    lines = len(read.feature)
    part_of = np.arange(lines) - np.searchsorted(read.feature, read.feature) + 1
    line = np.repeat(np.arange(lines), np.diff(read.offsets))[there]
    east, north, scale, z = (
        east[there],
        north[there],
        scale[there],
        read.z[there] * frame.height_unit,
    )
    offsets = np.concatenate([[0], np.cumsum(np.bincount(line, minlength=lines))])
    step = np.append(np.hypot(np.diff(east), np.diff(north)) * (np.diff(line) == 0), 0.0)[
        : len(east)
    ]
    long = np.bincount(line, step, lines) > 1e-3
    without = len(read.ids) - len(np.unique(read.feature[long]))
    if without:
        feedback.pushWarning(
            tr("Layer “{}”: {} rows have no geometry, or no length; they are left out.").format(
                name, without
            )
        )
    if not long.any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no row holds a line with a length, so there is nothing to fit. Check"
                " its geometry, or choose another layer."
            ).format(name)
        )
    kept, size = long[line], np.diff(offsets)[long]
    offsets = np.concatenate([[0], np.cumsum(size)])
    x, y, anchor, own_scale = _grounded(east[kept], north[kept], scale[kept], offsets)
    feature, part = read.feature[long], part_of[long]
    edge_id, own = _edge_ids(read, fields, name, feedback)
    sigma = _known_sigma(read, fields, feedback)[feature]
    progress(1.0)
    return EdgeLayer(
        _begun_at_joints(sample_edges(x, y, z[kept], offsets, tolerance, sigma)),
        anchor,
        own_scale,
        frame,
        source.sourceCrs(),
        True,
        read.ids[feature],
        edge_id[feature],
        own,
        part,
        (),
        sigma,
    )


def _edge_ids(read, fields, name, feedback):
    """Number of each feature, and whether it is that of the layer's own field."""
    numbers = np.arange(1, len(read.ids) + 1)
    place = fields.lookupField(EDGE_ID)
    if place < 0:
        return numbers, False
    column = read.columns[fields.at(place).name()]
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
        ).format(name, fields.at(place).name())
    )
    return numbers, False


def _known_sigma(read, fields, feedback):
    """Uncertainty that the features bring along, 0 where they say nothing."""
    place = fields.lookupField(SIGMA)
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
    feedback.pushInfo(
        tr("Uncertainty of the edges: field “{}”; it counts in addition to the tolerance.").format(
            fields.at(place).name()
        )
    )
    return np.where(np.isfinite(sigma) & (sigma >= 0), sigma, 0.0)


def _read_epochs(source, file, edge_fields, labels, transform_context, feedback, progress):
    from ...shared.alignment.samples import sample_epochs

    name, fields = source.sourceName(), source.fields()
    edge_fields = [text for text in edge_fields if text] or [EDGE_ID]
    for field in (*edge_fields, CHAINAGE):
        if fields.lookupField(field) < 0:
            raise QgsProcessingException(
                tr(
                    "Layer “{}” has no field “{}”, so its epochs cannot be put in order along"
                    " edges. Use the “Kept epochs” of “Reconstruct edges”, or its edges; fields"
                    " that tell edges apart may be chosen in “{}”. The layer has: {}."
                ).format(
                    name,
                    field,
                    labels["EDGE_FIELDS"],
                    ", ".join(fields.names()) or tr("no fields at all"),
                )
            )
    edge_fields, chainage_field = (
        [spelling(fields, field) for field in edge_fields],
        spelling(fields, CHAINAGE),
    )
    if kind(fields.at(fields.lookupField(CHAINAGE))) not in ("int", "double"):
        raise QgsProcessingException(
            tr(
                "Layer “{}”: field “{}” holds no numbers, but the epochs' order along the edge in"
                " metres is needed. Use the “Kept epochs” of “Reconstruct edges”."
            ).format(name, chainage_field)
        )
    kinds = {field.name(): kind(field) for field in fields if kind(field) not in ("other", "time")}
    columns = sample(source, list(kinds))
    for problem in roles.vocabulary().problems:
        feedback.pushWarning(problem)
    found = {
        part: "".join(roles.find(part, kinds, columns).names[:1])
        for part in (roles.CAPTURE, roles.H_ACCURACY)
    }
    extra = {
        field: spelling(fields, field)
        for field in ("role", "height_used")
        if fields.lookupField(field) >= 0
    }
    rows = read_rows(
        source,
        file,
        [*edge_fields, chainage_field, *(text for text in found.values() if text), *extra.values()],
        feedback,
        lambda share: progress(0.7 * share),
    )
    if not len(rows):
        raise QgsProcessingException(
            tr(
                "Layer “{}” is empty: there is no epoch to read. If a filter or “selected features"
                " only” is set, check it."
            ).format(name)
        )
    frame, east, north, scale = _local(
        source, rows.x.copy(), rows.y.copy(), transform_context, feedback
    )
    chainage = rows.columns[chainage_field].numbers()
    code, missing = np.zeros(len(rows), np.int64), np.zeros(len(rows), bool)
    for field in edge_fields:
        codes, different = rows.columns[field].factor()
        code, missing = code * len(different.values) + codes, missing | rows.columns[field].missing
    usable = np.isfinite(east) & np.isfinite(north) & np.isfinite(chainage) & ~missing
    if kinds[edge_fields[0]] == "int" and len(edge_fields) == 1:
        # 0 is what “Reconstruct edges” gives to epochs without an edge
        usable &= rows.columns[edge_fields[0]].values > 0
    groups, first, group, counts = np.unique(
        code[usable], return_index=True, return_inverse=True, return_counts=True
    )
    usable[np.flatnonzero(usable)[counts[group] < 2]] = False
    if not usable.all():
        feedback.pushWarning(
            tr(
                "{} epochs without position, edge or chainage, or alone on their edge, were left"
                " out."
            ).format(int(np.count_nonzero(~usable)))
        )
    if not usable.any():
        raise QgsProcessingException(
            tr(
                "Layer “{}”: no edge has two epochs with position and chainage, so there is nothing"
                " to fit. Use the “Kept epochs” of “Reconstruct edges”."
            ).format(name)
        )
    groups, first, group, counts = np.unique(
        code[usable], return_index=True, return_inverse=True, return_counts=True
    )
    order = np.argsort(group, kind="stable")
    take = np.flatnonzero(usable)[order]
    group = group[order]
    x, y, anchor, own_scale = _grounded(
        east[take], north[take], scale[take], np.concatenate([[0], np.cumsum(counts)])
    )
    z = rows.z[take] * frame.height_unit
    if "height_used" in extra:
        flag = rows.columns[extra["height_used"]]
        z = np.where((flag.values.astype(bool) | flag.missing)[take], z, np.nan)
    standing = (
        (rows.columns[extra["role"]].texts() == "standing")[take]
        if "role" in extra
        else np.zeros(len(take), bool)
    )
    samples, noise, steps = sample_epochs(x, y, z, chainage[take], standing, group)
    worst = int(np.argmax(steps))
    if steps[worst] > MIXED:
        raise QgsProcessingException(
            tr(
                "Layer “{}”: where field “{}” is “{}”, epochs that are neighbours by their chainage"
                " lie {:.1f} m farther apart than that: several lines have one name, as in layers"
                " that were merged. Choose all fields that tell the edges apart in “{}”."
            ).format(
                name,
                "”, “".join(edge_fields),
                " / ".join(
                    rows.columns[field]
                    .take(np.flatnonzero(usable)[first[worst : worst + 1]])
                    .texts()[0]
                    for field in edge_fields
                ),
                steps[worst],
                labels["EDGE_FIELDS"],
            )
        )
    feedback.pushInfo(
        tr(
            "Epochs: {} in {} edges; noise across the edge found from the data: {:.1f} mm"
            " (1-sigma)."
        ).format(len(take), len(groups), 1000 * noise)
    )
    at = np.flatnonzero(usable)[first]
    only = rows.columns[edge_fields[0]]
    own_id = len(edge_fields) == 1 and only.kind == "int"
    carried = [
        (
            field if field.lower() != EDGE_ID else EDGE_ID + "_source",
            "QString",
            rows.columns[field].take(at).texts().tolist(),
        )
        for field in (() if own_id else edge_fields)
    ]
    if found[roles.CAPTURE] and found[roles.CAPTURE] not in edge_fields:
        carried.append(
            ("capture", "QString", rows.columns[found[roles.CAPTURE]].take(at).texts().tolist())
        )
    sigma = _steady_sigma(rows, found[roles.H_ACCURACY], take, group, len(groups))
    progress(1.0)
    return EdgeLayer(
        _begun_at_joints(samples),
        anchor,
        own_scale,
        frame,
        source.sourceCrs(),
        False,
        np.zeros(len(groups), np.int64),
        only.values[at] if own_id else np.arange(1, len(groups) + 1),
        own_id,
        np.ones(len(groups), np.int64),
        tuple(carried),
        sigma,
    )


def _steady_sigma(rows, field, take, group, runs):
    """What is left of the receiver's error over a minute and no fit shows, 1-sigma of each run in
    metres; as `reconstruct` takes it."""
    from ...shared.tuning import STANDING

    reported = roles.as_numbers(rows.columns[field])[take] if field else np.full(len(take), np.nan)
    square = np.where(
        np.isfinite(reported), STANDING.correlated_share * reported**2, STANDING.correlated_sigma**2
    )
    return np.sqrt(np.bincount(group, square, runs) / np.bincount(group, minlength=runs))
