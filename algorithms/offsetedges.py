"""Parallels to edges from a cross-section: face, flow line, gutter lip, back of curb."""

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingException,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterString,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.lines.cross_section import parse_section
from .base.algorithm import Algorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.fields import NewField
from .host.figures import printed
from .reading.edge_lines import attributes_of, read_edge_lines
from .reading.layer_frame import chosen_field
from .writing import sinks, styles

PARALLEL_FIELDS = (
    NewField("edge_id", "LongLong", "The edge that the parallel was derived from."),
    NewField("source", "QString", "What that edge is called."),
    NewField("line", "QString", "Name of the line of the cross-section."),
    NewField("offset", "Double", "Its offset, + to the right of the edge.", "m"),
    NewField("height", "Double", "Its height above the edge.", "m"),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField("piece", "Int", "Number of the piece where the parallel consists of several, from 1."),
    NewField("closed", "Bool", "True for a ring."),
)
DEFAULT_SECTION = "flow line: 0.02 -0.15; gutter lip: 0.48 -0.13; back of curb: -0.15 0.00"
LEFT_WORDS = {"1", "true", "t", "yes", "y", "left", "l", "-1"}
RIGHT_WORDS = {"0", "false", "f", "no", "n", "right", "r", ""}


class OffsetEdges(Algorithm):
    NAME = "offsetedges"
    GROUP = "linework"
    TITLE = QT_TRANSLATE_NOOP("OffsetEdges", "Derive parallel edges")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "OffsetEdges",
        "Flow line, gutter lip, back of curb and the like, from a cross-section of offsets and"
        " heights.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "OffsetEdges",
        "offset,parallel,curb,kerb,gutter,flow line,lip,back of"
        " curb,face,cross-section,section,template,upstand"
        ",kerbline,as-built",
    )
    BRIEF_PARAGRAPHS = 2  # with the example
    HELP = QT_TRANSLATE_NOOP(
        "OffsetEdges",
        "Derives parallels of edges from a cross-section: one line for each “name: offset"
        " height” in it, separated by semicolons or new lines. Offsets are metres on the"
        " ground, + to the right of the edge in its own direction, − to the left; heights are"
        " metres, + above the edge. For example\n\n    flow line: 0.02 -0.15; gutter lip: 0.48"
        " -0.13; back of curb: -0.15 0\n\nfor the top of a curb that was walked with the"
        " carriageway on the right. This is the default, an example and no standard: a reveal"
        " of 6 in (150 mm), a face that leans back by 20 mm, a gutter pan of 18 in whose slope"
        " stays within 1 : 20 (the maximum counter slope next to an accessible ramp, 2010 ADA"
        " Standards 406.2), and a top 6 in wide; the widths are common practice. Measure the"
        " section on site, as each city has its own.\n\nEdges walked the other way round:"
        " mirror all of them, or choose a field that says which (true, yes, 1 or “left” where"
        " the section counts to the left).\n\nArcs become concentric arcs, with more vertices"
        " where they become wider. Corners are mitred outside, up to the limit, and rounded"
        " beyond it; inside they meet in a point. Elements that are smaller than the offset"
        " vanish, without loops; a parallel that falls apart so is several lines (piece 1, 2"
        " …), and one that nothing is left of is counted and named. Closed rings stay closed,"
        " with their seam where the edge has it.\n\nParallels: LineStringZ with source (the"
        " edge it comes from), line (its name in the section), offset, height, length (m on the"
        " ground), piece, closed, and every field of the edge; fields with the name of a new one"
        " get “_source”. Heights are those of the edge at the nearest place, plus the height"
        " given. Edges without heights give NaN.\n\nWhat is derived was not captured: it is as good"
        " as the section fits, and a dropped curb, a ramp or a worn gutter does not show. It is of"
        " mapping grade, no as-built record, and not for stake-out without a licensed surveyor.",
    )
    FIELD_TABLES = {"OUTPUT": PARALLEL_FIELDS}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, SECTION, MIRROR, MIRROR_FIELD, TOLERANCE, MITRE_LIMIT = (
        "INPUT",
        "SECTION",
        "MIRROR",
        "MIRROR_FIELD",
        "TOLERANCE",
        "MITRE_LIMIT",
    )
    OUTPUT, EDGES_READ, LINES, VANISHED, LENGTH = (
        "OUTPUT",
        "EDGES_READ",
        "LINES",
        "VANISHED",
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
                "Edges, in any CRS, with or without Z. Each part of a multi-part line is an edge."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add(
            QgsProcessingParameterString(
                self.SECTION, self.tr("Cross-section (m)"), DEFAULT_SECTION, True
            ),
            self.tr(
                "“name: offset height” for each line, separated by semicolons or new lines; metres,"
                " offset + to the right, height + above the edge. Decimal points; a decimal comma"
                " is understood."
            ),
        )
        self.add(
            QgsProcessingParameterBoolean(self.MIRROR, self.tr("Count offsets to the left"), False),
            self.tr(
                "For edges that were walked with the carriageway on the left: turns the"
                " cross-section over, of all edges."
            ),
        )
        self.add_field(
            self.MIRROR_FIELD,
            self.tr("Field that marks edges to mirror"),
            self.INPUT,
            self.tr(
                "Where it is true, yes, 1, −1 or “left”, offsets count to the other side; false,"
                " no, 0, “right” and empty leave them."
            ),
            advanced=True,
        )
        self.add_distance(
            self.TOLERANCE,
            self.tr("Tolerance of arcs (m)"),
            0.01,
            self.tr(
                "How far the edges' chords may lie off the curves that they stand for; arcs that"
                " become wider get as many vertices as it takes to keep it."
            ),
            advanced=True,
            minimum=0.0001,
        )
        self.add_number(
            self.MITRE_LIMIT,
            self.tr("Mitre limit (offsets)"),
            3.0,
            self.tr(
                "How far an outside corner may lie from that of the edge, as a multiple of the"
                " offset; sharper ones are rounded. 1: all are rounded."
            ),
            low=1.0,
            high=100.0,
            decimals=2,
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Parallel edges"),
            kinds.TypeVectorLine,
            self.tr("The parallels, as lines with heights."),
        )
        self.add_numbers(
            (self.EDGES_READ, self.tr("Edges read")),
            (self.LINES, self.tr("Number of parallels")),
            (self.VANISHED, self.tr("Parallels that vanished")),
            (self.LENGTH, self.tr("Total length (m)")),
        )

    def checkParameterValues(self, parameters, context):
        try:  # first, since the host only says that a text is missing
            parse_section(self.parameterAsString(parameters, self.SECTION, context))
        except ValueError as error:
            return False, self.tr(
                "“{}”: {}. Write “name: offset height” in metres for each line, separated by"
                " semicolons."
            ).format(self.label(self.SECTION), error)
        return super().checkParameterValues(parameters, context)

    def work(self, parameters, context, feedback):
        from ..shared.lines.parallels import derive_parallels, line_lengths

        source = self.source(parameters, context)
        section = parse_section(self.parameterAsString(parameters, self.SECTION, context))
        name = self.parameterAsString(parameters, self.MIRROR_FIELD, context)
        field = chosen_field(source, name, self.label(self.MIRROR_FIELD)) if name else ""
        layer = read_edge_lines(
            source,
            [field] if field else [],
            self.label(self.INPUT),
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 30),
        )
        mirrored = np.full(len(layer), self.parameterAsBool(parameters, self.MIRROR, context))
        if field:
            mirrored ^= self._turned_over(source.sourceName(), layer, field)
        made = derive_parallels(
            layer.lines,
            section,
            mirrored,
            self.parameterAsDouble(parameters, self.TOLERANCE, context),
            self.parameterAsDouble(parameters, self.MITRE_LIMIT, context),
            self.progress(feedback, 30, 80),
        )
        length = line_lengths(made.x, made.y, made.offsets) / layer.lines.scale[made.edge]
        self._say(source.sourceName(), layer, section, made, length, feedback)
        out = Outputs(self, parameters, context, feedback)
        return self._write(source, layer, section, made, length, out)

    def _turned_over(self, name, layer, field):
        texts = np.char.lower(np.char.strip(layer.columns[field].texts()))
        texts = np.array([text[:-2] if text.endswith(".0") else text for text in texts.tolist()])
        wrong = ~np.isin(texts, list(LEFT_WORDS | RIGHT_WORDS))
        if wrong.any():
            raise QgsProcessingException(
                self.tr(
                    "Layer “{}”: field “{}” must say yes or no, left or right for “{}”, but holds"
                    " “{}” (rows: {}). Choose another field, correct the values, or leave it"
                    " empty."
                ).format(
                    name,
                    field,
                    self.label(self.MIRROR_FIELD),
                    texts[wrong][0],
                    int(np.count_nonzero(wrong)),
                )
            )
        return np.isin(texts, list(LEFT_WORDS))[layer.row]

    def _say(self, name, layer, section, made, length, feedback):
        feedback.pushInfo(
            self.tr("Cross-section: {}.").format(
                "; ".join(
                    f"{part.name} {printed(f'{part.offset:+.3f}')} m,"
                    f" {printed(f'{part.height:+.3f}')} m"
                    for part in section
                )
            )
        )
        feedback.pushInfo(
            self.tr(
                "Parallels: {0} (edges of “{2}”: {1}), {3:.2f} m on the ground. Cleaned, as they"
                " ran into themselves: {4}."
            ).format(len(made), len(layer), name, float(length.sum()), made.mended)
        )
        split = np.count_nonzero(made.piece == 1)
        if split:
            feedback.pushInfo(
                self.tr("Parallels that fell apart into pieces: {}.").format(int(split))
            )
        if len(made.vanished):
            some = "; ".join(
                f"{layer.labels[edge]} ({section[part].name})"
                for edge, part in made.vanished[:10].tolist()
            )
            feedback.pushWarning(
                self.tr(
                    "Parallels that vanished, as their edges are narrower than the offset: {}"
                    " ({}{})."
                ).format(len(made.vanished), some, " …" if len(made.vanished) > 10 else "")
            )
        if not np.isfinite(layer.z).any():
            feedback.pushWarning(self.tr("The edges have no heights: the Z values are NaN."))

    def _write(self, source, layer, section, made, length, out):
        rows = attributes_of(source, layer, out.feedback)
        raise_if_cancelled(out.feedback)
        x, y, z = layer.to_layer(made.x, made.y, made.z)
        for ring in np.flatnonzero(made.closed).tolist():
            start, stop = made.offsets[ring], made.offsets[ring + 1] - 1
            x[stop], y[stop], z[stop] = x[start], y[start], z[start]
        out.results = {
            self.EDGES_READ: len(layer),
            self.LINES: len(made),
            self.VANISHED: len(made.vanished),
            self.LENGTH: float(length.sum()),
        }
        edge, part = made.edge.tolist(), made.part.tolist()
        carried = zip(*(rows[one] for one in edge)) if edge else [()] * len(source.fields())
        columns = [
            *carried,
            range(1, len(made) + 1),
            [layer.labels[one] for one in edge],
            [section[one].name for one in part],
            [section[one].offset for one in part],
            [section[one].height for one in part],
            sinks.cells(length),
            sinks.cells(made.piece + 1),
            sinks.cells(made.closed),
        ]
        out.add(
            self.OUTPUT,
            out.fields(self.OUTPUT, source, PARALLEL_FIELDS),
            (QgsWkbTypes.Type.LineStringZ, layer.crs),
            styles.PARALLELS,
            sinks.LineGeometries(x, y, z, made.offsets),
            columns,
        )
        out.write(start=88)
        out.feedback.setProgress(99)
        return out.results
