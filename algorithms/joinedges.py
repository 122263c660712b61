"""Ends of edges that belong together, joined or extended to their corner; rings closed."""

import struct
from dataclasses import dataclass

import numpy as np
from qgis.core import (
    QgsGeometry,
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.reconstruction.breaks import BREAK_NAMES
from .base.algorithm import Algorithm
from .base.common_values import common_value
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.fields import NewField
from .reading.edge_lines import attributes_of, read_edge_lines
from .reading.layer_frame import chosen_field
from .writing import sinks, styles

EDGE_FIELDS = (
    NewField("edge_id", "LongLong", "Number of the line, from 1."),
    NewField("parts", "Int", "How many edges it consists of."),
    NewField("sources", "QString", "These edges, in order."),
    NewField("reversed", "QString", "Those of them that run backwards in it."),
    NewField("moved", "Double", "Maximum distance that an end was moved.", "m"),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField("sigma_cross", "Double", "Uncertainty across the line, 1-sigma.", "m"),
    NewField("sigma_up", "Double", "Uncertainty of its heights, 1-sigma.", "m"),
    NewField("closed", "Bool", "True for a ring."),
    NewField(
        "start_reason", "QString", "Why the line starts there; the words of “Reconstruct edges”."
    ),
    NewField("end_reason", "QString", "Why it ends there."),
)
CHANGE_FIELDS = (
    NewField("change_id", "Int", "Number of the change, from 1."),
    NewField(
        "what",
        "QString",
        "`joined`, `extended` (to a corner), `closed` (to a ring) or `left_open` (an "
        "end near another edge that was not joined).",
    ),
    NewField("edge_id", "LongLong", "The line that the change belongs to."),
    NewField("edges", "QString", "The edges that meet there."),
    NewField("ends", "QString", "Which of their ends."),
    NewField("gap", "Double", "Distance between both ends before.", "m"),
    NewField("deflection", "Double", "Change of direction from one edge to the other.", "degrees"),
    NewField("moved", "Double", "Distance that the ends were moved in plan.", "m"),
    NewField("moved_up", "Double", "Distance that they were moved in height.", "m"),
    NewField("why", "QString", "The reason in words."),
)
POLYGON_FIELDS = (
    NewField("edge_id", "LongLong", "The closed line that the polygon is made of."),
    NewField("sources", "QString", "The edges of that line."),
    NewField("area", "Double", "Area on the ground.", "m²"),
    NewField("length", "Double", "Length of the ring on the ground.", "m"),
)
START_REASON, END_REASON = "start_reason", "end_reason"  # as `reconstructedges` writes them


class JoinEdges(Algorithm):
    NAME = "joinedges"
    GROUP = "linework"
    TITLE = QT_TRANSLATE_NOOP("JoinEdges", "Join edge ends")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "JoinEdges",
        "Ends that belong together joined or extended to their corner, rings closed, every"
        " change listed.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "JoinEdges",
        "join,snap,connect,extend,close,ring,island,corner,end,edge,curb,kerb,polygon,"
        "linework,clean,gap"
        ",gps line cleaning,kerbline",
    )
    HELP = QT_TRANSLATE_NOOP(
        "JoinEdges",
        "Joins the ends of edges that belong together. Two ends nearer than the tolerance meet"
        " in a point between them; two tangents that meet within the maximum extension are"
        " extended to their corner; an edge that comes back to its start is closed (first"
        " vertex = last vertex). Everything is measured in metres on the ground, whatever the"
        " layer's CRS, and the order of the rows does not matter.\n\nAn end joins one other end at"
        " most: the one that is the best for both by distance, direction and height, and"
        " clearly better than any other (half as far again and 3 cm more). Where that is not"
        " clear, as with three ends of a junction, all stay open, and the changes say so."
        " Nothing is joined that runs back on itself (over 150 degrees), whose heights differ"
        " too much, or with another edge in between. An edge that overlaps its continuation is"
        " left as it is: merge repeat passes first.\n\nWhy the ends are moved and no connecting"
        " piece is put in between: two captures of one end differ by their noise, and a"
        " connecting piece would make a jog of it. The meeting point lies between the ends by"
        " their uncertainty (sigma_cross², where both edges have one; in the middle otherwise)."
        " What an end has to shift aside is spread over as many metres of its edge as keep each"
        " kink within 2 degrees, beyond the difference in direction that the ends have, and a"
        " step in height over as many as keep the change of grade within 2 %; on short edges"
        " over no more than 45 % of their length, so there a kink can be greater. All other"
        " vertices stay as they were read, to the last digit.\n\nA tangent is estimated over"
        " the last 3 m as far as they are straight, or curve evenly; the last vertices, which may"
        " lie centimetres apart, do not count. Of a curved end the extension is limited to"
        " where the tangent leaves the curve by 5 cm, and no edge is extended by more than its"
        " own length. Heights go on with the grade of the last metres.\n\nJoined edges:"
        " LineStringZ with parts (number of edges in it), sources (which ones, in order),"
        " reversed (which of them were turned round; the direction is that of the greater"
        " length), moved (m, the maximum move of an end), length (m on the ground),"
        " sigma_cross and sigma_up (root of the mean square by length), closed, start_reason"
        " and end_reason. Every edge is in exactly one of them. Further fields are kept where"
        " all parts have the same value, and are empty otherwise; fields with the name of a new"
        " one get “_source”.\n\nChanges: a point for each join: what (joined, extended, closed),"
        " the edges and their ends, gap before, deflection (degrees), moved and moved_up (m),"
        " and why in words; and for each end that was left open though another edge is near"
        " (left_open).\n\nA join is a guess about what nobody captured: look at the changes."
        " The result is of mapping grade: it is no boundary survey, and not for stake-out"
        " without a licensed surveyor.",
    )
    FIELD_TABLES = {"OUTPUT": EDGE_FIELDS, "CHANGES": CHANGE_FIELDS, "POLYGONS": POLYGON_FIELDS}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, TOLERANCE, MAX_EXTENSION, MIN_CORNER_ANGLE, MAX_HEIGHT_STEP = (
        "INPUT",
        "TOLERANCE",
        "MAX_EXTENSION",
        "MIN_CORNER_ANGLE",
        "MAX_HEIGHT_STEP",
    )
    CLOSE_RINGS, KEEP_BREAKS, GROUP_FIELDS = "CLOSE_RINGS", "KEEP_BREAKS", "GROUP_FIELDS"
    OUTPUT, CHANGES, POLYGONS = "OUTPUT", "CHANGES", "POLYGONS"
    EDGES_READ, EDGES, JOINED, EXTENDED, CLOSED, LEFT_OPEN, LENGTH = (
        "EDGES_READ",
        "EDGES",
        "JOINED",
        "EXTENDED",
        "CLOSED",
        "LEFT_OPEN",
        "LENGTH",
    )
    NEEDS = ("numpy", "scipy", "shapely")

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.INPUT,
            self.tr("Edges"),
            [kinds.TypeVectorLine],
            self.tr(
                "Edges as “Reconstruct edges” writes them, or any other lines, in any CRS, with or"
                " without Z. Each part of a multi-part line is an edge."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.TOLERANCE,
            self.tr("Join ends nearer than (m)"),
            0.25,
            self.tr(
                "Two ends nearer to each other than this are joined. Take it less than the"
                " narrowest thing that is to stay open. 0: only ends that touch."
            ),
        )
        self.add_distance(
            self.MAX_EXTENSION,
            self.tr("Maximum extension to a corner (m)"),
            1.5,
            self.tr(
                "Tangents are extended by so much at most to the corner in which they meet. 0:"
                " never."
            ),
        )
        self.add_number(
            self.MIN_CORNER_ANGLE,
            self.tr("Minimum deflection of a corner (degrees)"),
            20.0,
            self.tr(
                "Where two ends deflect by less they go straight on, and are joined within the"
                " tolerance only: where flat tangents meet is uncertain."
            ),
            low=5.0,
            high=90.0,
            advanced=True,
        )
        self.add_distance(
            self.MAX_HEIGHT_STEP,
            self.tr("Maximum difference in height (m)"),
            0.10,
            self.tr(
                "Ends whose heights differ by more where they would meet are not joined: one may be"
                " the top of a curb and the other one its foot. 0.10 m is three times the noise of"
                " two RTK heights, and less than a typical curb. Edges without heights are not held"
                " back."
            ),
            advanced=True,
        )
        self.add(
            QgsProcessingParameterBoolean(self.CLOSE_RINGS, self.tr("Close rings"), True),
            self.tr(
                "An edge, or several joined ones, that come back to their start become a ring."
                " Otherwise they stay open where they fit worst."
            ),
        )
        self._add_choices()

    def _add_choices(self):
        """What else the user can choose."""
        self.add(
            QgsProcessingParameterEnum(
                self.KEEP_BREAKS,
                self.tr("Breaks to keep"),
                list(BREAK_NAMES),
                allowMultiple=True,
                defaultValue=None,
                optional=True,
                usesStaticStrings=True,
            ),
            self.tr(
                "Ends that broke off for these reasons (fields start_reason and end_reason, as"
                " “Reconstruct edges” writes them) stay open, whatever lies near: for example"
                " “paused” where walkers pause at driveways. Nothing chosen: no break is kept."
            ),
        )
        self.add_field(
            self.GROUP_FIELDS,
            self.tr("Fields that must agree"),
            self.INPUT,
            self.tr(
                "Edges are joined only where all these fields have the same value, for example the"
                " capture, the day, or what was walked (top, flow line). Empty values agree with"
                " each other. Left empty, any edges are joined."
            ),
            several=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Joined edges"),
            kinds.TypeVectorLine,
            self.tr("The edges, joined where they belong together."),
        )
        self.add_sink(
            self.CHANGES,
            self.tr("Changes at ends"),
            kinds.TypeVectorPoint,
            self.tr(
                "Every join with the distance moved, and every end near another edge that was"
                " left open, with the reason."
            ),
            optional=True,
        )
        self.add_sink(
            self.POLYGONS,
            self.tr("Islands"),
            kinds.TypeVectorPolygon,
            self.tr(
                "Closed rings as PolygonZ, with area (m² on the ground, in plan). Rings within"
                " rings make no holes."
            ),
            optional=True,
            shown=False,
        )
        self.add_numbers(
            (self.EDGES_READ, self.tr("Edges read")),
            (self.EDGES, self.tr("Number of joined edges")),
            (self.JOINED, self.tr("Ends joined")),
            (self.EXTENDED, self.tr("Extended to corners")),
            (self.CLOSED, self.tr("Rings closed")),
            (self.LEFT_OPEN, self.tr("Left open")),
            (self.LENGTH, self.tr("Total length (m)")),
        )

    def work(self, parameters, context, feedback):
        from ..shared.lines.end_pairs import JoinLimits
        from ..shared.lines.joins import join_edges

        source = self.source(parameters, context)
        limits = JoinLimits(
            **self.numbers(
                parameters,
                context,
                tolerance=self.TOLERANCE,
                max_extension=self.MAX_EXTENSION,
                min_corner=self.MIN_CORNER_ANGLE,
                max_height=self.MAX_HEIGHT_STEP,
            ),
            close_rings=self.parameterAsBool(parameters, self.CLOSE_RINGS, context),
        )
        groups = [
            chosen_field(source, name, self.label(self.GROUP_FIELDS))
            for name in self.field_names(parameters, self.GROUP_FIELDS, context)
            if name.strip()
        ]
        breaks = [
            name
            for name in self.parameterAsEnumStrings(parameters, self.KEEP_BREAKS, context)
            if name
        ]
        reasons = [self._reason_field(source, name, breaks) for name in (START_REASON, END_REASON)]
        layer = read_edge_lines(
            source,
            [*groups, *(name for name in reasons if name)],
            self.label(self.INPUT),
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 25),
        )
        stopped = [
            layer.columns[name].texts()[layer.row] if name else np.full(len(layer), "")
            for name in reasons
        ]
        kept = np.column_stack([np.isin(texts, breaks) for texts in stopped])
        result = join_edges(
            layer.lines,
            limits,
            layer.sigma_up,
            self._groups(layer, groups),
            kept,
            self.progress(feedback, 25, 80),
        )
        table = self._edge_columns(layer, result, stopped)
        self._say(source.sourceName(), layer, result, table, feedback)
        out = Outputs(self, parameters, context, feedback)
        return self._write(source, layer, result, table, out)

    def _reason_field(self, source, name, breaks):
        """Field that says why edges break off; needed only where breaks are to be kept."""
        if source.fields().lookupField(name) < 0 and not breaks:
            return ""
        return chosen_field(source, name, self.label(self.KEEP_BREAKS))

    @staticmethod
    def _groups(layer, names):
        """Number of the combination of values that each edge has."""
        code = np.zeros(len(layer), np.int64)
        for name in names:
            codes, different = layer.columns[name].factor()
            _, code = np.unique(
                code * (len(different.values) + 1) + codes[layer.row], return_inverse=True
            )
        return code

    def _edge_columns(self, layer, result, stopped):
        """Columns of `EDGE_FIELDS` by name."""
        from ..shared.arrays.ragged import group_sum

        lines, part, offsets = layer.lines, result.part, result.part_offsets
        weight = lines.length()[part]
        scale = group_sum(weight * lines.scale[part], offsets) / group_sum(weight, offsets)
        step = np.append(np.hypot(np.diff(result.x), np.diff(result.y)), 0.0)
        step[result.offsets[1:] - 1] = 0.0

        def mean(sigma):
            known = sigma[part] > 0
            with np.errstate(invalid="ignore"):
                return np.sqrt(
                    group_sum(np.where(known, weight * sigma[part] ** 2, 0), offsets)
                    / group_sum(np.where(known, weight, 0), offsets)
                )

        moved = np.zeros(len(result))
        made = result.changes.edge >= 0
        np.maximum.at(moved, result.changes.edge[made], result.changes.moved[made])
        names = np.array(layer.labels, dtype=object)[part]
        own = list(zip(offsets[:-1].tolist(), offsets[1:].tolist()))
        first, last = part[offsets[:-1]], part[offsets[1:] - 1]
        turned = result.reversed
        reason = [
            [
                None if closed or not text else str(text)
                for closed, text in zip(result.closed.tolist(), np.where(back, against, along))
            ]
            for back, along, against in (
                (turned[offsets[:-1]], stopped[0][first], stopped[1][first]),
                (turned[offsets[1:] - 1], stopped[1][last], stopped[0][last]),
            )
        ]
        return {
            "edge_id": np.arange(1, len(result) + 1),
            "parts": np.diff(offsets),
            "sources": [", ".join(names[a:b]) for a, b in own],
            "reversed": [", ".join(names[a:b][turned[a:b]]) for a, b in own],
            "moved": moved,
            "length": group_sum(step, result.offsets) / scale,
            "sigma_cross": mean(lines.sigma),
            "sigma_up": mean(layer.sigma_up),
            "closed": result.closed,
            "start_reason": reason[0],
            "end_reason": reason[1],
            "scale": scale,
        }

    def _say(self, name, layer, result, table, feedback):
        from ..shared.lines.end_pairs import WHY_NAMES
        from ..shared.lines.joins import WHAT_NAMES

        changes = result.changes
        counts = np.bincount(changes.what, minlength=len(WHAT_NAMES)).tolist()
        feedback.pushInfo(
            self.tr(
                "Edges: {} from “{}” (called by {}) make {}, {:.2f} m on the ground, {} of them"
                " closed."
            ).format(
                len(layer),
                name,
                layer.labelled_by,
                len(result),
                float(table["length"].sum()),
                int(np.count_nonzero(result.closed)),
            )
        )
        feedback.pushInfo(
            self.tr(
                "Ends joined: {}. Extended to corners: {}. Rings closed: {}. Left open: {}."
            ).format(*counts)
        )
        why = np.bincount(changes.why[changes.edge < 0], minlength=len(WHY_NAMES)).tolist()
        for code, number in enumerate(why):
            if number:
                feedback.pushInfo(f"    {WHY_NAMES[code]}: {number}")
        made = changes.edge >= 0
        if made.any():
            feedback.pushInfo(
                self.tr("Moves of ends: median {:.3f} m, maximum {:.3f} m.").format(
                    float(np.median(changes.moved[made])), float(changes.moved[made].max())
                )
            )
        if not np.isfinite(layer.z).any():
            feedback.pushWarning(
                self.tr(
                    "The edges have no heights: the Z values are NaN, and heights do not hold ends"
                    " apart."
                )
            )

    # Results

    def _write(self, source, layer, result, table, out):
        """Make all sinks, then fill them."""
        rows = attributes_of(source, layer, out.feedback)
        attributes = self._common_attributes(source.fields().names(), rows, result)
        xyz = layer.to_layer(result.x, result.y, result.z, result.vertex)
        raise_if_cancelled(out.feedback)
        self._count(layer, result, table, out)
        kinds = QgsWkbTypes.Type
        out.add(
            self.OUTPUT,
            out.fields(self.OUTPUT, source, EDGE_FIELDS),
            (kinds.LineStringZ, layer.crs),
            styles.JOINED,
            sinks.line_geometries(*xyz, result.offsets),
            [*zip(*attributes), *self._in_order(table)],
        )
        if out.wanted(self.CHANGES):
            changes = result.changes
            out.add(
                self.CHANGES,
                CHANGE_FIELDS,
                (kinds.PointZ, layer.crs),
                styles.CHANGES,
                sinks.point_geometries(*layer.to_layer(changes.x, changes.y, changes.z)),
                self._change_columns(layer, changes),
            )
        if out.wanted(self.POLYGONS):
            rings, area, offsets, vertices = self._islands(result, table, out.feedback)
            out.add(
                self.POLYGONS,
                POLYGON_FIELDS,
                (kinds.PolygonZ, layer.crs),
                styles.ISLANDS,
                polygon_geometries(*(axis[vertices] for axis in xyz), offsets),
                [
                    sinks.cells(rings + 1),
                    [table["sources"][ring] for ring in rings.tolist()],
                    sinks.cells(area),
                    sinks.cells(table["length"][rings]),
                ],
            )
        out.write(start=84, step=5)
        out.feedback.setProgress(99)
        return out.results

    def _count(self, layer, result, table, out):
        """The numbers that are returned."""
        from ..shared.lines.joins import CLOSED, EXTENDED, JOINED, LEFT_OPEN

        counts = np.bincount(result.changes.what, minlength=4).tolist()
        out.results = {
            self.EDGES_READ: len(layer),
            self.EDGES: len(result),
            self.JOINED: counts[JOINED],
            self.EXTENDED: counts[EXTENDED],
            self.CLOSED: counts[CLOSED],
            self.LEFT_OPEN: counts[LEFT_OPEN],
            self.LENGTH: float(table["length"].sum()),
        }

    @staticmethod
    def _in_order(table):
        """Columns of `EDGE_FIELDS` in their order."""
        return [
            *(sinks.cells(table[new.name]) for new in EDGE_FIELDS[:2]),
            table["sources"],
            table["reversed"],
            *(
                sinks.cells(table[name])
                for name in ("moved", "length", "sigma_cross", "sigma_up", "closed")
            ),
            table["start_reason"],
            table["end_reason"],
        ]

    @staticmethod
    def _common_attributes(names, rows, result):
        """Attributes that all parts of an edge have in common; see `common_value`."""
        return [
            [
                common_value(name, values)
                for name, values in zip(names, zip(*(rows[part] for part in parts)))
            ]
            for parts in np.split(result.part, result.part_offsets[1:-1])
        ]

    def _islands(self, result, table, feedback):
        """Rings that bound an area: which ones, area in m² on the ground, and their vertices,
        counter-clockwise as polygons have them."""
        import shapely

        from ..shared.arrays.ragged import ranges
        from ..shared.lines.joins import ring_area

        size = np.diff(result.offsets)
        rings = np.flatnonzero(result.closed & (size > 3))
        vertices = ranges(result.offsets[rings], size[rings])
        offsets = np.concatenate([[0], np.cumsum(size[rings])])
        shapes = (
            shapely.polygons(
                shapely.linearrings(
                    np.column_stack([result.x, result.y])[vertices],
                    indices=np.repeat(np.arange(len(rings)), size[rings]),
                )
            )
            if len(rings)
            else np.zeros(0, object)
        )
        sound = shapely.is_valid(shapes)
        if not sound.all():
            feedback.pushWarning(
                self.tr(
                    "{} rings cross or touch themselves and make no island: edges {}. Their lines"
                    " are in “{}”."
                ).format(
                    int(np.count_nonzero(~sound)),
                    "; ".join(table["sources"][ring] for ring in rings[~sound].tolist()[:10]),
                    self.label(self.OUTPUT),
                )
            )
        area = ring_area(result.x[vertices], result.y[vertices], offsets)
        within = np.arange(len(vertices)) - np.repeat(offsets[:-1], size[rings])
        turned = np.repeat(result.offsets[1:][rings] - 1, size[rings]) - within
        vertices = np.where(np.repeat(area < 0, size[rings]), turned, vertices)[
            np.repeat(sound, size[rings])
        ]
        rings, area = rings[sound], np.abs(area[sound])
        return (
            rings,
            area / table["scale"][rings] ** 2,
            np.concatenate([[0], np.cumsum(size[rings])]),
            vertices,
        )

    def _change_columns(self, layer, changes):
        from ..shared.lines.joins import WHAT_NAMES

        members = [
            changes.ends[start:stop].tolist()
            for start, stop in zip(changes.offsets[:-1].tolist(), changes.offsets[1:].tolist())
        ]
        names = layer.labels
        side = (self.tr("start"), self.tr("end"))
        ends = [f"{names[end // 2]} {side[end % 2]}" for some in members for end in some]
        texts = [
            ends[start:stop]
            for start, stop in zip(changes.offsets[:-1].tolist(), changes.offsets[1:].tolist())
        ]
        edges = [list(dict.fromkeys(names[end // 2] for end in some)) for some in members]
        beside = [names[edge] if edge >= 0 else None for edge in changes.beside.tolist()]
        for some, other in zip(edges, beside):
            if other is not None and other not in some:
                some.append(other)
        number = [None if edge < 0 else edge + 1 for edge in changes.edge.tolist()]
        why = [
            _words(_Change(*row), self.tr)
            for row in zip(
                changes.what.tolist(),
                changes.why.tolist(),
                texts,
                beside,
                changes.gap.tolist(),
                changes.deflection.tolist(),
                changes.moved.tolist(),
                changes.moved_up.tolist(),
            )
        ]
        return (
            range(1, len(changes) + 1),
            sinks.text_cells(changes.what, WHAT_NAMES),
            number,
            [", ".join(some) for some in edges],
            [", ".join(some) for some in texts],
            *(
                sinks.cells(column)
                for column in (changes.gap, changes.deflection, changes.moved, changes.moved_up)
            ),
            why,
        )


@dataclass(frozen=True)
class _Change:
    """One change: what and why by code, the ends in words, the edge next to them, metres and
    degrees."""

    what: int
    why: int
    ends: list
    beside: str
    gap: float
    deflection: float
    moved: float
    up: float


def _words(change, tr):
    """What was done at a place, or why not, in words."""
    from ..shared.lines import end_pairs, joins

    if change.what == joins.LEFT_OPEN:
        return _words_of_open_ends(change, tr)
    text = {
        end_pairs.DIRECT: tr(
            "ends {:.3f} m apart, within the tolerance, deflection {:.0f} degrees; moved by {:.3f}"
            " m at most"
        ),
        end_pairs.CORNER: tr(
            "tangents {:.3f} m apart meet in a corner of {:.0f} degrees; moved by {:.3f} m at most"
        ),
    }[change.why].format(change.gap, change.deflection, change.moved)
    text += tr(", in height by {:.3f} m").format(change.up) if change.up == change.up else ""
    return tr("ring closed: ") + text if change.what == joins.CLOSED else text


def _words_of_open_ends(change, tr):
    """Why ends were left open, in words."""
    from ..shared.lines import end_pairs

    if change.why == end_pairs.JUNCTION:
        return tr("junction: {} could each go with more than one of the others").format(
            " / ".join(change.ends)
        )
    first, other, third = (*change.ends, "", "")[:3]
    text = {
        end_pairs.TAKEN: tr(
            "T junction: {0} is near {1}, which fits {2} better and is joined with it"
        ),
        end_pairs.ON_EDGE: tr(
            "{0} lies {3:.3f} m from edge {4}, between its ends: a T junction, or one walk next to"
            " another"
        ),
        end_pairs.KEPT_BREAK: tr(
            "{0} and {1} would be joined, but one of them broke off for a reason that is to be kept"
        ),
        end_pairs.OTHER_GROUP: tr(
            "{0} and {1} would be joined, but the fields that must agree differ"
        ),
        end_pairs.HEIGHTS: tr("{0} and {1} would be joined, but their heights differ too much"),
        end_pairs.BACK: tr(
            "{0} and {1} are {3:.3f} m apart, but one runs back along the other: a repeat pass?"
        ),
        end_pairs.GAP: tr(
            "{0} and {1} go straight on, but {3:.3f} m apart: farther than the tolerance"
        ),
        end_pairs.OVERLAP: tr(
            "{0} and {1} run {3:.3f} m next to each other: merge repeat passes first"
        ),
        end_pairs.CROSSED: tr("{0} and {1} would be joined, but edge {4} lies between them"),
        end_pairs.RING: tr("{0} and {1} would close a ring, which is not asked for"),
    }[change.why]
    return text.format(first, other, third, change.gap, change.beside)


def polygon_geometries(x, y, z, offsets):
    """Yield a PolygonZ of one ring for each ring of ragged arrays (ISO WKB, type 1003)."""
    flat = np.ascontiguousarray(np.column_stack([x, y, z]), "<f8")
    for start, stop in zip(offsets[:-1].tolist(), offsets[1:].tolist()):
        geometry = QgsGeometry()
        geometry.fromWkb(
            struct.pack("<BIII", 1, 1003, 1, stop - start) + flat[start:stop].tobytes()
        )
        yield geometry
