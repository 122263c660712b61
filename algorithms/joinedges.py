"""Ends of edges that belong together, joined or extended to their corner; rings closed."""

from dataclasses import dataclass

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterEnum,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.reconstruction.breaks import BREAK_NAMES
from .base.algorithm import Algorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .reading.edge_lines import attributes_of, read_edge_lines
from .reading.layer_frame import chosen_field
from .writing import sinks, styles
from .writing.common_values import DECISION, common_value
from .writing.joined_tables import (
    CHANGE_FIELDS,
    EDGE_FIELDS,
    POLYGON_FIELDS,
    change_columns,
    edge_columns,
    island_columns,
    sources_of,
)

START_REASON, END_REASON = "start_reason", "end_reason"  # as `reconstructedges` writes them


@dataclass(frozen=True)
class _Made:
    """What was joined, its values, and why the edges that went in start and end."""

    result: object
    values: object
    stopped: list


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
        from ..shared.lines.joined_edges import values_of
        from ..shared.lines.joins import join_edges

        source = self.source(parameters, context)
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
            self._limits(parameters, context),
            layer.sigma_up,
            self._groups(layer, groups),
            kept,
            self.progress(feedback, 25, 80),
        )
        values = values_of(layer.lines, layer.sigma_up, result)
        self._say(source.sourceName(), layer, result, values, feedback)
        out = Outputs(self, parameters, context, feedback)
        return self._write(source, layer, _Made(result, values, stopped), out)

    def _limits(self, parameters, context):
        from ..shared.lines.end_pairs import JoinLimits

        return JoinLimits(
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

    def _say(self, name, layer, result, values, feedback):
        from ..shared.lines.end_pairs import WHY_NAMES
        from ..shared.lines.join_changes import WHAT_NAMES

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
                float(values.length.sum()),
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

    def _write(self, source, layer, made, out):
        """Make all sinks, then fill them."""
        result = made.result
        rows = attributes_of(source, layer, out.feedback)
        attributes = self._common_attributes(source.fields().names(), rows, result)
        xyz = layer.to_layer(result.x, result.y, result.z, result.vertex)
        raise_if_cancelled(out.feedback)
        self._count(layer, result, made.values, out)
        kinds = QgsWkbTypes.Type
        columns = edge_columns(layer, result, made.values, made.stopped)
        out.add(
            self.OUTPUT,
            out.fields(self.OUTPUT, source, EDGE_FIELDS),
            (kinds.LineStringZ, layer.crs),
            styles.JOINED,
            sinks.LineGeometries(*xyz, result.offsets),
            [*zip(*attributes), *columns],
        )
        if out.wanted(self.CHANGES):
            changes = result.changes
            out.add(
                self.CHANGES,
                CHANGE_FIELDS,
                (kinds.PointZ, layer.crs),
                styles.CHANGES,
                sinks.point_geometries(*layer.to_layer(changes.x, changes.y, changes.z)),
                change_columns(layer, changes),
            )
        if out.wanted(self.POLYGONS):
            self._add_islands(layer, made, xyz, out)
        out.write(start=84, step=5)
        out.feedback.setProgress(99)
        return out.results

    def _add_islands(self, layer, made, xyz, out):
        """The layer of islands; rings that bound none are named."""
        from ..shared.lines.joined_edges import find_islands

        islands = find_islands(made.result, made.values.scale)
        sources, _ = sources_of(layer, made.result)
        if len(islands.unsound):
            out.feedback.pushWarning(
                self.tr(
                    "Rings that cross or touch themselves and make no island: {} (edges {})."
                    " Their lines are in “{}”."
                ).format(
                    len(islands.unsound),
                    "; ".join(sources[edge] for edge in islands.unsound.tolist()[:10]),
                    self.label(self.OUTPUT),
                )
            )
        out.add(
            self.POLYGONS,
            POLYGON_FIELDS,
            (QgsWkbTypes.Type.PolygonZ, layer.crs),
            styles.ISLANDS,
            sinks.polygon_geometries(*(axis[islands.vertex] for axis in xyz), islands.offsets),
            island_columns(islands, sources, made.values),
        )

    def _count(self, layer, result, values, out):
        """The numbers that are returned."""
        from ..shared.lines.join_changes import CLOSED, EXTENDED, JOINED, LEFT_OPEN

        counts = np.bincount(result.changes.what, minlength=4).tolist()
        out.results = {
            self.EDGES_READ: len(layer),
            self.EDGES: len(result),
            self.JOINED: counts[JOINED],
            self.EXTENDED: counts[EXTENDED],
            self.CLOSED: counts[CLOSED],
            self.LEFT_OPEN: counts[LEFT_OPEN],
            self.LENGTH: float(values.length.sum()),
        }

    @staticmethod
    def _common_attributes(names, rows, result):
        """Attributes that all parts of an edge have in common; see `common_value`."""
        of_decision = [place for place, name in enumerate(names) if name.lower() == DECISION]
        out = []
        for parts in np.split(result.part, result.part_offsets[1:-1]):
            some = [rows[part] for part in parts]
            decisions = [row[place] for row in some for place in of_decision]
            out.append(
                [common_value(name, values, decisions) for name, values in zip(names, zip(*some))]
            )
        return out
