"""What the result layers of other algorithms say should be looked at again, brought into one
frame."""

from dataclasses import dataclass, field

import numpy as np
from qgis.core import QgsCoordinateTransform, QgsFeatureRequest, QgsProcessingException, QgsWkbTypes
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.epochs.times import parse_times
from ...shared.lines.lines import Lines, points_at
from ...shared.lines.rays import stations_along
from ..host.fields import kind, spelling
from . import roles
from .columns import columns_of_lists, iterate, read_rows, sample
from .frames import FrameError, make_frame, transform
from .line_layer import read_linework

# The names that `kind` may have, the one that weighs most first: it gives a place its name.
KINDS = (
    "gap",
    "no_edge",
    "rejected",
    "disagreement",
    "uncertain",
    "uncertain_up",
    "pass_off",
    "broken_off",
    "left_open",
    "displaced",
)
(
    GAP,
    NO_EDGE,
    REJECTED,
    DISAGREEMENT,
    UNCERTAIN,
    UNCERTAIN_UP,
    PASS_OFF,
    BROKEN_OFF,
    LEFT_OPEN,
    DISPLACED,
) = range(len(KINDS))
NOTHING_LOST = ("repeat", "backtrack")  # rejected, but the place was seen
ON_THE_RIM = 0.02  # m between an end of an edge and the rim of its gap
SPACING = 1.0  # m, of the stations at which a line is held against the edges


def tr(text):
    return QCoreApplication.translate("Findings", text)


@dataclass(frozen=True)
class Limits:
    """What the user can choose; metres and seconds."""

    gap: float
    gap_seconds: float
    sigma: float
    sigma_up: float
    rejected: int
    length: float
    open_gap: float
    reasons: tuple
    disagreements: tuple
    statuses: tuple


@dataclass
class Layer:
    """A result layer as read. Lines have `offsets` and `feature` (row of each part); points have
    one position a row; tables have none."""

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
        """`Lines` of all parts that have a length or at least two vertices."""
        there = np.isfinite(self.x) & np.isfinite(self.y)
        size = np.add.reduceat(there, self.offsets[:-1]) if len(self.feature) else np.zeros(0, int)
        whole = size > 1
        vertex = there & np.repeat(whole, np.diff(self.offsets))
        line = self.feature[whole]
        row = np.repeat(line, size[whole])
        count = len(self.ids)
        number = np.bincount(row, minlength=count)
        scale = np.where(
            number > 0, np.bincount(row, self.scale[vertex], count) / np.maximum(number, 1), 1.0
        )
        return Lines.from_columns(
            self.x[vertex],
            self.y[vertex],
            None,
            np.concatenate([[0], np.cumsum(size[whole])]),
            line,
            count,
            None,
            scale,
        )


@dataclass
class Findings:
    """What was found; lists of one length. `rows` are feature ids, `metres`, `seconds` and `epochs`
    are None where they say nothing."""

    kind: list = field(default_factory=list)
    x: list = field(default_factory=list)
    y: list = field(default_factory=list)
    scale: list = field(default_factory=list)
    metres: list = field(default_factory=list)
    seconds: list = field(default_factory=list)
    epochs: list = field(default_factory=list)
    edge_id: list = field(default_factory=list)
    capture: list = field(default_factory=list)
    layer: list = field(default_factory=list)
    row: list = field(default_factory=list)
    detail: list = field(default_factory=list)
    passed_over: list = field(default_factory=list)

    def __len__(self):
        return len(self.kind)

    def add(
        self,
        what,
        layer,
        rows,
        x,
        y,
        scale,
        detail,
        metres=None,
        seconds=None,
        epochs=None,
        edge_id=None,
        capture=None,
    ):
        """Add findings of one kind: columns of one length; what has no position is counted and left
        out."""
        count = len(rows)
        there = np.isfinite(x) & np.isfinite(y)
        if not there.all():
            self.leave(
                layer,
                tr("{} rows without a position, which would have counted"),
                np.count_nonzero(~there),
                True,
            )
        columns = {
            "kind": [what] * count,
            "x": x,
            "y": y,
            "scale": scale,
            "metres": metres,
            "seconds": seconds,
            "epochs": epochs,
            "edge_id": edge_id,
            "capture": capture,
            "layer": [layer] * count,
            "row": layer.ids[rows],
            "detail": detail,
        }
        for name, values in columns.items():
            values = (
                [None] * count
                if values is None
                else values.tolist()
                if isinstance(values, np.ndarray)
                else values
            )
            getattr(self, name).extend(value for value, good in zip(values, there.tolist()) if good)

    def leave(self, layer, text, number, doubtful=False):
        """Remember how many rows were passed over, and why; `doubtful` where something may be
        missing for it."""
        if number:
            self.passed_over.append((layer, text.format(int(number)), doubtful))


# Reading


def read_layer(source, label, made_by, geometry, one_of, names, feedback, file=None):
    """Read a result layer.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    label, made_by : str
        Label of the parameter, and what writes such layers, for messages.
    geometry : str
        ``line``, ``point`` or ``table``.
    one_of : sequence of str
        Of these fields one at least must be there.
    names : sequence of str
        Further fields; read where they are there.
    feedback : QgsProcessingFeedback
    file : File, optional
        That may be streamed in the source's place.

    Returns
    -------
    Layer

    Raises
    ------
    QgsProcessingException
        If the geometry is another one, or no field of `one_of` is there; it names layer, fields and
        remedy.
    CancelledError
    """
    fields, what = source.fields(), QgsWkbTypes.geometryType(source.wkbType())
    if (
        geometry != "table"
        and what
        != {
            "line": QgsWkbTypes.GeometryType.LineGeometry,
            "point": QgsWkbTypes.GeometryType.PointGeometry,
        }[geometry]
    ):
        raise QgsProcessingException(
            tr("Layer “{}” ({}) cannot be “{}”, which are {}. Choose what {} writes.").format(
                source.sourceName(),
                QgsWkbTypes.displayString(source.wkbType()),
                label,
                tr("lines") if geometry == "line" else tr("points"),
                made_by,
            )
        )
    spelt = {
        name: fields.at(fields.lookupField(name)).name()
        for name in (*one_of, *names)
        if fields.lookupField(name) >= 0
    }
    if one_of and not set(spelt) & set(one_of):
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field {}, so it cannot be “{}”. Choose what {} writes. It"
                " has: {}."
            ).format(
                source.sourceName(),
                tr(" or ").join(f"“{name}”" for name in one_of),
                label,
                made_by,
                ", ".join(fields.names()) or tr("no fields at all"),
            )
        )
    there = list(dict.fromkeys(spelt.values()))
    if geometry == "line":
        read = read_linework(source, there, feedback, lambda share: None)
        shape = read.x.copy(), read.y.copy(), None, read.offsets, read.feature
    elif geometry == "point":
        read = read_rows(source, file, there, feedback, lambda share: None)
        shape = read.x.copy(), read.y.copy()
    else:
        read, shape = _read_table(source, there), ()
    return Layer(
        source, label, read.ids, {name: read.columns[own] for name, own in spelt.items()}, *shape
    )


def _read_table(source, names):
    lists, ids = [[] for _ in names], []
    for feature in iterate(source, QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)):
        ids.append(feature.id())
        for values, name in zip(lists, names):
            values.append(feature[name])
    return Layer(source, "", np.array(ids, np.int64), columns_of_lists(source, names, lists))


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
    crs = placed[0].source.sourceCrs()
    for layer in placed[1:]:
        own = layer.source.sourceCrs()
        if own.isValid() != crs.isValid():
            without, other = (layer, placed[0]) if crs.isValid() else (placed[0], layer)
            raise QgsProcessingException(
                tr(
                    "Layer “{}” has no CRS but layer “{}” has one, so they cannot be brought"
                    " together. Assign the CRS of “{}” (Layer Properties, Source)."
                ).format(without.name, other.name, without.name)
            )
        if own != crs:
            way = QgsCoordinateTransform(own, crs, transform_context)
            if not way.isValid():
                raise QgsProcessingException(
                    tr("Layer “{}” cannot be brought from {} to {}. Reproject it first.").format(
                        layer.name, own.userFriendlyIdentifier(), crs.userFriendlyIdentifier()
                    )
                )
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
    fields, name = source.fields(), source.sourceName()
    for text, label in ((time, labels[0]), *((text, labels[1]) for text in captures)):
        if text and fields.lookupField(text) < 0:
            raise QgsProcessingException(
                tr("Layer “{}” has no field “{}” (parameter “{}”). It has: {}.").format(
                    name, text, label, ", ".join(fields.names()) or tr("no fields at all")
                )
            )
    kinds = {one.name(): kind(one) for one in fields}
    columns = sample(source, [one for one, what in kinds.items() if what not in ("other", "time")])
    chosen = {roles.TIME: [time] if time else [], roles.CAPTURE: list(captures)}
    for (part, names), label, called in zip(chosen.items(), labels, (tr("time"), tr("capture"))):
        if names:
            continue
        try:
            taken = roles.find(part, kinds, columns)
        except roles.UndecidedError as undecided:
            raise QgsProcessingException(
                tr("Layer “{}”: the fields {} could each be the {}. Choose one in “{}”.").format(
                    name, tr(" and ").join(f"“{one}”" for one in undecided.names), called, label
                )
            ) from undecided
        names += taken.names
        if taken.rivals:
            feedback.pushWarning(
                tr(
                    "{}: the fields {} are equally good, so none is taken. Choose one in “{}”."
                ).format(label, tr(" and ").join(f"“{one}”" for one in taken.rivals), label)
            )
    if not chosen[roles.TIME]:
        raise QgsProcessingException(
            tr(
                "Layer “{}” has no field that looks like a time, so nobody can tell which epochs"
                " follow each other. Choose one in “{}”. It has: {}."
            ).format(name, labels[0], ", ".join(fields.names()) or tr("no fields at all"))
        )
    time, captures = chosen[roles.TIME][0], chosen[roles.CAPTURE]
    return spelling(fields, time), [spelling(fields, text) for text in captures]


# Finding


def middles(lines):
    """Middle of the longest part of each row, on the line: row, x, y; rows without one are left
    out."""
    length = lines.part_length()
    order = np.lexsort((-length, lines.line))
    part = order[np.append(True, np.diff(lines.line[order]) > 0)] if len(order) else order
    x, y, *_ = points_at(lines, part, length[part] / 2)
    return lines.line[part], x, y


def _placed(lines):
    """For each row the middle, the scale and the length on the ground."""
    x, y = np.full((2, lines.count), np.nan)
    row, x_of, y_of = middles(lines)
    x[row], y[row] = x_of, y_of
    return x, y, lines.scale, lines.length()


def _known(values):
    return [None if value != value else value for value in np.asarray(values, float).tolist()]


def break_words(reason):
    """Why a line broke off, in words."""
    return {
        "paused": tr("the walk paused"),
        "not_fixed": tr("no fixed solution"),
        "spike": tr("spikes"),
        "poor_accuracy": tr("poor accuracy"),
        "jump": tr("a jump"),
        "lost_epochs": tr("too few epochs tell how the edge goes on"),
        "new_capture": tr("another capture began"),
        "turned_back": tr("the walk turned back"),
        "start": tr("the capture starts"),
        "end": tr("the capture ends"),
    }.get(reason, reason or tr("reason unknown"))


def find_gaps(layer, limits, found):
    x, y, scale, length = _placed(layer.lines())
    metres, seconds, reason = (
        layer.numbers("metres"),
        layer.numbers("seconds"),
        layer.texts("reason"),
    )
    metres = np.where(np.isfinite(metres), metres, np.where(np.isfinite(x), length, np.nan))
    wanted = np.isin(reason, limits.reasons) | (reason == "")
    great = ~(metres < limits.gap) & ~(seconds < limits.gap_seconds)
    found.leave(layer, tr("{} gaps whose reason is no cause to go back"), np.count_nonzero(~wanted))
    found.leave(layer, tr("{} gaps below the limits"), np.count_nonzero(wanted & ~great))
    rows = np.flatnonzero(wanted & great)
    edges = [
        ", ".join(text for text in pair if text)
        for pair in zip(
            layer.texts("after_edge")[rows].tolist(), layer.texts("before_edge")[rows].tolist()
        )
    ]
    detail = [
        tr("Gap of {:.1f} m{} ({}): walk it from rim to rim").format(
            size, tr(", {:.0f} s").format(pause) if pause == pause else "", break_words(why)
        )
        for size, pause, why in zip(
            metres[rows].tolist(), seconds[rows].tolist(), reason[rows].tolist()
        )
    ]
    found.add(
        GAP,
        layer,
        rows,
        x[rows],
        y[rows],
        scale[rows],
        detail,
        _known(metres[rows]),
        _known(seconds[rows]),
        None,
        edges,
        layer.texts("capture")[rows].tolist(),
    )


def find_spells(layer, time, captures, limits, found):
    """Rejected epochs in a row."""
    from ...shared.arrays.ragged import group_max, group_min
    from ...shared.lines.revisits import in_a_row, usual_interval
    from ...shared.tuning import REVISITS

    column = layer.columns[time]
    values = (
        column.numbers()
        if column.kind in ("int", "double")
        else column.values
        if column.kind in ("date", "datetime")
        else column.texts()
    )
    seconds = parse_times(values)[0] if len(values) else np.zeros(0)
    reason = layer.texts("reason")
    seen = np.isin(reason, NOTHING_LOST)
    usable = np.isfinite(seconds) & np.isfinite(layer.x) & np.isfinite(layer.y)
    found.leave(
        layer,
        tr("{} epochs rejected at places that were seen (repeat, backtrack)"),
        np.count_nonzero(seen),
    )
    found.leave(
        layer,
        tr("{} epochs without a time or a position, which are in no row"),
        np.count_nonzero(~usable & ~seen),
        True,
    )
    some = np.flatnonzero(usable & ~seen)
    # for epochs of one time
    some = some[np.lexsort((np.round(layer.y[some], 4), np.round(layer.x[some], 4)))]
    capture = np.array(
        (
            [
                " / ".join(texts)
                for texts in zip(*(layer.texts(name)[some].tolist() for name in captures))
            ]
            if captures
            else [""] * len(some)
        ),
        dtype=str,
    )
    _, code = np.unique(capture, return_inverse=True)
    order, offsets = in_a_row(
        code, seconds[some], REVISITS.in_a_row * usual_interval(code, seconds[some])
    )
    epoch = some[order]
    size = np.diff(offsets)
    long = np.flatnonzero(size >= limits.rejected)
    found.leave(
        layer, tr("{} epochs in rows shorter than the limit"), size.sum() - size[long].sum()
    )
    extent = np.hypot(
        *(
            group_max(axis[epoch], offsets) - group_min(axis[epoch], offsets)
            for axis in (layer.x, layer.y)
        )
    )[long]
    middle = epoch[offsets[long] + size[long] // 2]
    lasted = seconds[epoch[offsets[long + 1] - 1]] - seconds[epoch[offsets[long]]]
    metres = extent / layer.scale[middle]
    detail = []
    for number, start, stop, pause, reach in zip(
        size[long].tolist(),
        offsets[long].tolist(),
        offsets[long + 1].tolist(),
        lasted.tolist(),
        metres.tolist(),
    ):
        names, counts = np.unique(reason[epoch[start:stop]], return_counts=True)
        told = ", ".join(
            f"{name or tr('no reason')} {count}"
            for name, count in zip(names.tolist(), counts.tolist())
        )
        detail.append(
            tr(
                "{} epochs rejected in a row, {:.0f} s over {:.1f} m ({}): walk this stretch again"
            ).format(number, pause, reach, told)
        )
    found.add(
        REJECTED,
        layer,
        middle,
        layer.x[middle],
        layer.y[middle],
        layer.scale[middle],
        detail,
        metres,
        lasted,
        size[long],
        None,
        capture[order][offsets[long] + size[long] // 2].tolist(),
    )


def find_poor_edges(layer, rims, limits, found):
    """Edges over the limits of uncertainty, and their ends that broke off with no gap (`rims`,
    shape (k, 2)) to say so."""
    lines = layer.lines()
    x, y, scale, length = _placed(lines)
    edge, capture = layer.texts("edge_id"), layer.texts("capture")
    if (capture == "").all():
        capture = layer.texts("captures")
    for what, name, limit, text in (
        (
            UNCERTAIN,
            "sigma_cross",
            limits.sigma,
            tr("Edge of {:.1f} m with a poor position ({:.3f} m 1-sigma across): walk it again"),
        ),
        (
            UNCERTAIN_UP,
            "sigma_up",
            limits.sigma_up,
            tr("Edge of {:.1f} m with poor heights ({:.3f} m 1-sigma): walk it again"),
        ),
    ):
        sigma = layer.numbers(name)
        rows = np.flatnonzero(sigma > limit)
        detail = [
            text.format(*values) for values in zip(length[rows].tolist(), sigma[rows].tolist())
        ]
        found.add(
            what,
            layer,
            rows,
            x[rows],
            y[rows],
            scale[rows],
            detail,
            length[rows],
            None,
            None,
            edge[rows].tolist(),
            capture[rows].tolist(),
        )
    _, first = np.unique(lines.line, return_index=True)
    last = np.append(first[1:], len(lines.line)) - 1 if len(first) else first
    rows = lines.line[first] if len(first) else first
    ends = [lines.offsets[first], lines.offsets[last + 1] - 1] if len(first) else [first, first]
    ring = np.hypot(*(axis[ends[0]] - axis[ends[1]] for axis in (lines.x, lines.y))) < 1e-6
    at_gaps = 0
    for name, vertex, side in (
        ("start_reason", ends[0], tr("start")),
        ("end_reason", ends[1], tr("end")),
    ):
        reason = layer.texts(name)[rows]
        open_ = ~ring & np.isin(reason, limits.reasons)
        told = np.zeros(len(vertex), bool)
        if len(rims) and len(vertex):
            from scipy.spatial import cKDTree

            told = (
                cKDTree(rims).query(
                    np.column_stack([lines.x[vertex], lines.y[vertex]]),
                    distance_upper_bound=ON_THE_RIM,
                )[0]
                <= ON_THE_RIM
            )
        at_gaps += np.count_nonzero(open_ & told)
        some = np.flatnonzero(open_ & ~told)
        detail = [
            tr("The edge broke off at its {} ({}): go on from here").format(side, break_words(why))
            for why in reason[some].tolist()
        ]
        found.add(
            BROKEN_OFF,
            layer,
            rows[some],
            lines.x[vertex[some]],
            lines.y[vertex[some]],
            scale[rows[some]],
            detail,
            None,
            None,
            None,
            edge[rows[some]].tolist(),
            capture[rows[some]].tolist(),
        )
    found.leave(layer, tr("{} ends that broke off at gaps, which are judged as gaps"), at_gaps)


def rims_of(layer):
    """Both ends of every gap, shape (k, 2)."""
    lines = layer.lines()
    vertex = np.concatenate([lines.offsets[:-1], lines.offsets[1:] - 1])
    return np.column_stack([lines.x[vertex], lines.y[vertex]])


def find_poor_stations(layer, limits, found):
    """Stations over the limits of uncertainty; those in a row along an edge are one finding, at the
    worst of them."""
    from ...shared.lines.revisits import in_a_row
    from ...shared.tuning import REVISITS

    chainage, (code, different) = layer.numbers("chainage"), layer.columns["edge_id"].factor()
    order = np.lexsort((chainage, code))
    step = np.diff(chainage[order])[np.diff(code[order]) == 0]
    step = step[step > 0]
    spacing = float(np.median(step)) if len(step) else SPACING
    edges = different.texts()
    for what, name, limit, text in (
        (
            UNCERTAIN,
            "sigma_cross",
            limits.sigma,
            tr(
                "Poor position over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma"
                " across): walk this stretch again"
            ),
        ),
        (
            UNCERTAIN_UP,
            "sigma_up",
            limits.sigma_up,
            tr(
                "Poor heights over {:.1f} m from chainage {:.1f} m (up to {:.3f} m 1-sigma): walk"
                " this stretch again"
            ),
        ),
    ):
        sigma = layer.numbers(name)
        over = sigma > limit
        found.leave(
            layer,
            tr("{} stations over the limit without a chainage"),
            np.count_nonzero(over & ~np.isfinite(chainage)),
            True,
        )
        some = np.flatnonzero(over & np.isfinite(chainage))
        some = some[np.lexsort((np.round(layer.y[some], 4), np.round(layer.x[some], 4)))]
        order, offsets = in_a_row(code[some], chainage[some], REVISITS.in_a_row * spacing)
        row = np.repeat(np.arange(len(offsets) - 1), np.diff(offsets))
        by_sigma = np.lexsort((np.arange(len(order)), -sigma[some[order]], row))
        worst = some[order[by_sigma[offsets[:-1]]]]
        start, stop = chainage[some[order[offsets[:-1]]]], chainage[some[order[offsets[1:] - 1]]]
        metres = stop - start + spacing
        detail = [
            text.format(*values)
            for values in zip(metres.tolist(), start.tolist(), sigma[worst].tolist())
        ]
        found.add(
            what,
            layer,
            worst,
            layer.x[worst],
            layer.y[worst],
            layer.scale[worst],
            detail,
            metres,
            None,
            None,
            edges[code[worst]].tolist(),
        )


def find_disagreements(layer, limits, found):
    x, y, scale, length = _placed(layer.lines())
    reason, words = layer.texts("reason"), layer.texts("detail")
    wanted = np.isin(reason, limits.disagreements)
    found.leave(
        layer, tr("{} disagreements whose reason is no cause to go back"), np.count_nonzero(~wanted)
    )
    rows = np.flatnonzero(wanted)
    metres = np.where(np.isfinite(layer.numbers("length")), layer.numbers("length"), length)[rows]
    detail = [
        tr("Walks differ over {:.1f} m ({}): walk it once more{}").format(
            size, why, f" ({text.rstrip('.')})" if text else ""
        )
        for size, why, text in zip(metres.tolist(), reason[rows].tolist(), words[rows].tolist())
    ]
    found.add(
        DISAGREEMENT,
        layer,
        rows,
        x[rows],
        y[rows],
        scale[rows],
        detail,
        metres,
        None,
        None,
        layer.texts("edge_id")[rows].tolist(),
        layer.texts("capture")[rows].tolist(),
    )


def find_passes(layer, edges, limits, found):
    """Walks that lie off the others as wholes; the places are the middles of the edges that were
    merged."""
    offset, up, source = (
        layer.numbers("offset_mean"),
        layer.numbers("up_mean"),
        layer.numbers("source_id"),
    )
    rows = np.flatnonzero((np.abs(offset) > limits.sigma) | (np.abs(up) > limits.sigma_up))
    place = {ident: row for row, ident in enumerate(edges.ids.tolist())}
    of_edge = [
        place.get(int(ident), -1) if ident == ident else -1 for ident in source[rows].tolist()
    ]
    if -1 in of_edge:
        raise QgsProcessingException(
            tr(
                "Layer “{}” names rows in “source_id” that “{}” does not have ({} of {}). Choose as"
                " “{}” the layer whose walks were merged."
            ).format(layer.name, edges.name, of_edge.count(-1), len(of_edge), edges.label)
        )
    of_edge = np.array(of_edge, np.int64)
    x, y, scale, length = _placed(edges.lines())
    detail = [
        tr(
            "This walk lies {:+.3f} m across{} from the others: check base and antenna height, and"
            " walk it once more"
        ).format(across, tr(" and {:+.3f} m up").format(height) if height == height else "")
        for across, height in zip(offset[rows].tolist(), up[rows].tolist())
    ]
    found.add(
        PASS_OFF,
        layer,
        rows,
        x[of_edge],
        y[of_edge],
        scale[of_edge],
        detail,
        length[of_edge],
        None,
        None,
        edges.texts("edge_id")[of_edge].tolist(),
        layer.texts("capture")[rows].tolist(),
    )


def find_existing(layer, edges, limits, found):
    """Existing lines without an edge; of those that have one in part, the station farthest from all
    edges (where these are given) is the place."""
    lines = layer.lines()
    x, y, scale, length = _placed(lines)
    status, share = layer.texts("status"), layer.numbers("matched_share")
    without = length * (1 - np.where(np.isfinite(share), share, 0.0))
    no_edge = np.isin(status, ("only_existing", "partly")) & np.isin(status, limits.statuses)
    short = no_edge & (without < limits.length) & np.isfinite(x)
    found.leave(
        layer,
        tr("{} lines with less than the minimum length without an edge"),
        np.count_nonzero(short),
    )
    rows = np.flatnonzero(no_edge & ~short)
    if edges is not None:
        part = np.isin(np.arange(len(layer.ids)), rows[status[rows] == "partly"])
        far = _farthest(lines, part, edges.lines())
        x[far[0]], y[far[0]] = far[1:]
    detail = [
        tr(
            "No edge along {:.1f} m of an existing line of {:.1f} m: walk it, or see whether it is"
            " gone"
        ).format(*sizes)
        for sizes in zip(without[rows].tolist(), length[rows].tolist())
    ]
    found.add(NO_EDGE, layer, rows, x[rows], y[rows], scale[rows], detail, without[rows])
    moved = (status == "displaced") & ("displaced" in limits.statuses)
    rows, offset = np.flatnonzero(moved), layer.numbers("offset_mean")
    detail = [
        tr("Existing line of {:.1f} m displaced{}: see whether it was moved").format(
            size, tr(" by {:+.2f} m").format(off) if off == off else ""
        )
        for size, off in zip(length[rows].tolist(), offset[rows].tolist())
    ]
    found.add(DISPLACED, layer, rows, x[rows], y[rows], scale[rows], detail, length[rows])


def _farthest(lines, wanted, edges):
    """Station farthest from all edges of each wanted row: rows, x, y."""
    import shapely

    rays = stations_along(lines, SPACING, wanted[lines.line])
    if not len(rays) or not len(edges.line):
        return np.zeros(0, np.int64), np.zeros(0), np.zeros(0)
    part = np.repeat(np.arange(len(edges.line)), np.diff(edges.offsets))
    tree = shapely.STRtree(shapely.linestrings(np.column_stack([edges.x, edges.y]), indices=part))
    distance = tree.query_nearest(
        shapely.points(rays.x, rays.y), return_distance=True, all_matches=False
    )[1]
    row = lines.line[rays.part]
    order = np.lexsort((np.round(rays.y, 3), np.round(rays.x, 3), -np.round(distance, 3), row))
    best = order[np.append(True, np.diff(row[order]) > 0)]
    return row[best], rays.x[best], rays.y[best]


def find_open_ends(layer, limits, found):
    what, gap, words = layer.texts("what"), layer.numbers("gap"), layer.texts("why")
    left = what == "left_open"
    found.leave(
        layer,
        tr("{} ends left open nearer to each other than the limit"),
        np.count_nonzero(left & (gap < limits.open_gap)),
    )
    rows = np.flatnonzero(left & ~(gap < limits.open_gap))
    detail = [
        tr("Ends left open{}: see how the edges meet{}").format(
            tr(" over {:.2f} m").format(size) if size == size else "", f" ({text})" if text else ""
        )
        for size, text in zip(gap[rows].tolist(), words[rows].tolist())
    ]
    found.add(
        LEFT_OPEN,
        layer,
        rows,
        layer.x[rows],
        layer.y[rows],
        layer.scale[rows],
        detail,
        _known(gap[rows]),
        None,
        None,
        layer.texts("edges")[rows].tolist(),
    )
