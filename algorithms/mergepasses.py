"""Several walks of one edge merged to one weighted edge, with the repeatability found and what the
walks disagree about."""

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .base.algorithm import Algorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.fields import fields_of
from .host.figures import finite_or_none
from .reading.walks import read_walks, walk_fields
from .writing import sinks, styles
from .writing.merge_tables import (
    DISAGREEMENT_FIELDS,
    EDGE_FIELDS,
    PASS_FIELDS,
    carried_columns,
    carried_fields,
    disagreement_columns,
    edge_columns,
    pass_columns,
)

WORSE = 1.5  # times what the sigmas let expect, from which the differences deserve a warning


class MergePasses(Algorithm):
    NAME = "mergepasses"
    TITLE = QT_TRANSLATE_NOOP("MergePasses", "Merge repeat passes")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "MergePasses",
        "Two or more walks of one edge to one weighted edge, with the repeatability and a list"
        " of disagreements.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "MergePasses",
        "merge,repeat,pass,walk,average,weighted,mean,repeatability,precision,conflation,"
        "overlap,duplicate,curb,kerb,edge,survey"
        ",conflate,gps line cleaning",
    )
    HELP = QT_TRANSLATE_NOOP(
        "MergePasses",
        "Walks of one edge, in either direction, overlapping in part or going round a ring more"
        " than once, become one edge at their weighted mean; heights too. Merge the layers"
        " first where the walks lie in several. Rows may come in any order.\n\nTwo lines count"
        " as walks of one edge where they lie within the maximum offset of each other and"
        " agree within their uncertainty, in plan and in height, over more than half of what"
        " they share. So the top and the foot of a curb, a centimetre or two apart in plan,"
        " stay two edges as long as both have heights; without heights, name a field that says"
        " which edge was walked in “Fields that tell edges apart”.\n\nWeights are 1/sigma²."
        " Where a walk begins or ends inside the edge it gains or loses its weight over the"
        " blend length, so that there is no step; what one walk alone saw stays as it is."
        " Corners are where the merged legs meet, one sharp corner however many walks there"
        " are. Of two sigmas of like size one goes down to 0.71, of three to 0.58: what the"
        " receiver's error keeps over a minute is independent too between walks at other times."
        " What all walks share (base position, antenna height, a pole out of plumb) is not in"
        " it and does not go down.\n\nDisagreements are not averaged away. Where walks differ"
        " by more than their uncertainty at the confidence asked for (and by more than 30 mm in"
        " plan or 50 mm up, which the foot of a pole explains), the edge follows those that"
        " agree; of two walks the straighter one, since an outlier makes a line longer, and in"
        " height the surer one. In plan the other stretch stays as it was walked, as an edge of"
        " its own (“apart”) that leaves the merged edge and comes back to it: a mean of the two"
        " would lie where nobody walked, and a greater sigma would hide it. Look, and delete"
        " the wrong one. Heights that differ are only listed: two lines in one place would help"
        " nobody.\n\nEdges: every source field (kept where all walks have the same"
        " value; times and counts are put together), and edge_id, state, passes, captures,"
        " sources, length, shared_length (seen by two or more), sigma_cross, sigma_up,"
        " repeatability and repeatability_up (RMS of the differences between two walks, without"
        " disagreements), closed. state: “single” (no partner: passed on unchanged), “merged”,"
        " “rest” (what one walk shows beyond the others), “apart”. An edge runs the way that"
        " most of its walks ran.\n\nPasses: for each walk its edge, state (also “copy”, a"
        " vertex by vertex repetition that is no further walk, and “remnant”), chainages,"
        " direction, shared length, mean offset from the mean of the others (+ to the right of"
        " the edge) and RMS from each of them, the same in height.\n\nDisagreements: reason"
        " “plan”, “height”, “other_edge” (within reach, yet another edge), “parted” (went"
        " farther off than the maximum offset and came back), “remnant” (under a metre, no"
        " edge of its own), with how much and how much is allowed. Every stretch of the input"
        " is in an edge or in this list.\n\nAll lengths are metres on the ground, whatever the"
        " CRS. The result is of mapping grade: it is no boundary survey, and not for stake-out"
        " without a licensed surveyor.",
    )
    FOUND_FIELDS = ("SIGMA_FIELD", "SIGMA_UP_FIELD")
    FIELD_TABLES = {
        "OUTPUT": EDGE_FIELDS,
        "PASSES": PASS_FIELDS,
        "DISAGREEMENTS": DISAGREEMENT_FIELDS,
    }
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, GROUP_FIELDS, SIGMA_FIELD, SIGMA_UP_FIELD = (
        "INPUT",
        "GROUP_FIELDS",
        "SIGMA_FIELD",
        "SIGMA_UP_FIELD",
    )
    MAX_OFFSET, MIN_OVERLAP, BLEND, TOLERANCE, CONFIDENCE = (
        "MAX_OFFSET",
        "MIN_OVERLAP",
        "BLEND",
        "TOLERANCE",
        "CONFIDENCE",
    )
    OUTPUT, PASSES, DISAGREEMENTS = "OUTPUT", "PASSES", "DISAGREEMENTS"
    REPEATABILITY, REPEATABILITY_UP, MERGED, EDGES = (
        "REPEATABILITY",
        "REPEATABILITY_UP",
        "MERGED",
        "EDGES",
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
                "Edges as reconstructed, all walks in one layer, in any CRS, with or without Z, in"
                " any order and direction."
            ),
        )
        self.add_field(
            self.GROUP_FIELDS,
            self.tr("Fields that tell edges apart"),
            self.INPUT,
            self.tr(
                "Edges that differ in one of these fields are never merged, for example top, face"
                " and flow line of a curb. Left empty, position and height decide."
            ),
            several=True,
        )
        self.add_field(
            self.SIGMA_FIELD,
            self.tr("Uncertainty across"),
            self.INPUT,
            self.tr(
                "Uncertainty of each edge across its direction, 1-sigma in metres. Left empty,"
                " “sigma_cross” is taken where it is there, else all walks count alike and the"
                " uncertainty is found from their differences."
            ),
        )
        self.add_field(
            self.SIGMA_UP_FIELD,
            self.tr("Uncertainty of heights"),
            self.INPUT,
            self.tr(
                "Uncertainty of the heights of each edge, 1-sigma in metres. Left empty, “sigma_up”"
                " is taken where it is there, else all walks count alike."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.MAX_OFFSET,
            self.tr("Maximum offset between two walks (m)"),
            0.15,
            self.tr(
                "How far apart two walks of one edge may lie to be looked at together. Repeat walks"
                " fall within a few centimetres of each other; less than the distance to the next"
                " curb."
            ),
            minimum=0.001,
        )
        self.add_distance(
            self.MIN_OVERLAP,
            self.tr("Minimum overlap (m)"),
            2.0,
            self.tr(
                "Shorter overlaps are no repeated walk, unless they are most of a short edge: the"
                " end of one edge and the start of the next are left as they are."
            ),
            minimum=0.1,
        )
        self.add_distance(
            self.BLEND,
            self.tr("Blend length (m)"),
            2.0,
            self.tr(
                "Over this length a walk gains its weight where it begins inside the edge, and"
                " loses it where it ends."
            ),
            advanced=True,
            minimum=0.1,
        )
        self.add_distance(
            self.TOLERANCE,
            self.tr("Tolerance of the line written (m)"),
            0.003,
            self.tr(
                "Maximum distance between the mean and the line that is written; twice as much in"
                " height. Smaller means more vertices."
            ),
            advanced=True,
            minimum=0.0001,
        )
        self.add_number(
            self.CONFIDENCE,
            self.tr("Confidence (0 to 1)"),
            0.95,
            self.tr(
                "Of the tests whether walks differ by more than uncertainty. Of all stretches"
                " called different, no more than 1 − confidence are so by chance (false discovery"
                " rate, Benjamini and Hochberg 1995)."
            ),
            low=0.5,
            high=0.9999,
            decimals=4,
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Merged edges"),
            kinds.TypeVectorLine,
            self.tr("All edges, merged and not, as lines with heights in the layer's CRS."),
        )
        self.add_sink(
            self.PASSES,
            self.tr("Passes"),
            kinds.TypeVector,
            self.tr("A table of all walks: which edge each went into, and how far off it lies."),
            optional=True,
            shown=False,
        )
        self.add_sink(
            self.DISAGREEMENTS,
            self.tr("Disagreements"),
            kinds.TypeVectorLine,
            self.tr(
                "Stretches, as walked, that differ from other walks by more than uncertainty,"
                " with how much and why."
            ),
            optional=True,
        )
        self.add_numbers(
            (self.REPEATABILITY, self.tr("RMS between two walks, across (m)")),
            (self.REPEATABILITY_UP, self.tr("RMS between two walks, up (m)")),
            (self.MERGED, self.tr("Merged edges")),
            (self.EDGES, self.tr("Number of edges")),
        )

    def work(self, parameters, context, feedback):
        from ..shared.lines.passes import MergeSettings, merge_passes

        source = self.source(parameters, context)
        settings = MergeSettings(
            **self.numbers(
                parameters,
                context,
                max_offset=self.MAX_OFFSET,
                min_overlap=self.MIN_OVERLAP,
                blend=self.BLEND,
                tolerance=self.TOLERANCE,
                confidence=self.CONFIDENCE,
            )
        )
        fields = walk_fields(
            source,
            [
                self.parameterAsString(parameters, name, context)
                for name in (self.SIGMA_FIELD, self.SIGMA_UP_FIELD)
            ],
            self.field_names(parameters, self.GROUP_FIELDS, context),
            [
                self.label(name)
                for name in (self.SIGMA_FIELD, self.SIGMA_UP_FIELD, self.GROUP_FIELDS)
            ],
        )
        layer = read_walks(
            source, fields, context.transformContext(), feedback, self.progress(feedback, 0, 30)
        )
        result = merge_passes(
            layer.lines,
            layer.sigma_up,
            layer.group,
            settings,
            self.progress(feedback, 30, 85),
        )
        self._say(layer, result, settings, feedback)
        return self._write(source, layer, result, Outputs(self, parameters, context, feedback))

    def _say(self, layer, result, settings, feedback):
        """What was merged, how well walks repeat each other, and what to look at."""
        self._say_edges(layer, result, settings, feedback)
        self._say_repeatability(result, feedback)
        self._say_doubts(result, feedback)
        if not np.isfinite(layer.lines.z).any():
            feedback.pushWarning(
                self.tr(
                    "No edge has a height: edges that lie one above the other, as the top and the"
                    " foot of a curb, cannot be told apart. If there are any, choose the field that"
                    " says which is which in “{}”."
                ).format(self.label(self.GROUP_FIELDS))
            )

    def _say_edges(self, layer, result, settings, feedback):
        """Edges by state."""
        from ..shared.lines.merge_results import STATES

        edges = result.edges
        merged = int(np.count_nonzero(edges.state == STATES.index("merged")))
        feedback.pushInfo(
            self.tr("Edges: {} from {} of “{}”, {:.2f} m from {:.2f} m. {}.").format(
                len(edges),
                len(layer.lines.line),
                layer.name,
                float(edges.length.sum()),
                float(layer.lines.length().sum()),
                ", ".join(
                    f"{STATES[code]}: {count}"
                    for code, count in enumerate(
                        np.bincount(edges.state, minlength=len(STATES)).tolist()
                    )
                    if count
                ),
            )
        )
        if not merged:
            feedback.pushWarning(
                self.tr(
                    "No two edges of “{}” are walks of one edge within {:.4g} m. If they should be,"
                    " raise “{}”, lower “{}”, and look at “{}”."
                ).format(
                    layer.name,
                    settings.max_offset,
                    self.label(self.MAX_OFFSET),
                    self.label(self.MIN_OVERLAP),
                    self.label(self.DISAGREEMENTS),
                )
            )

    def _say_repeatability(self, result, feedback):
        """The differences found between walks, and those that their uncertainties explain."""
        for found, expected, what in (
            (result.repeatability, result.expected, self.tr("across")),
            (result.repeatability_up, result.expected_up, self.tr("up")),
        ):
            if not np.isfinite(found):
                continue
            feedback.pushInfo(
                self.tr(
                    "RMS between two walks {}: {:.1f} mm; their uncertainties predict {:.1f} mm."
                ).format(what, 1000 * found, 1000 * expected)
            )
            if found > WORSE * expected:
                feedback.pushWarning(
                    self.tr(
                        "The walks differ {} {:.1f} times as much as their uncertainties say: these"
                        " are too good, and so are those of the merged edges. Look for a base, an"
                        " antenna height or a habit of walking that differs between them (mean"
                        " offsets in “{}”)."
                    ).format(what, found / expected, self.label(self.PASSES))
                )

    def _say_doubts(self, result, feedback):
        """Copies and disagreements."""
        from ..shared.lines.merge_results import PASS_STATES, REASONS

        copies = int(np.count_nonzero(result.passes.state == PASS_STATES.index("copy")))
        if copies:
            feedback.pushWarning(
                self.tr(
                    "Edges that repeat another one vertex by vertex: {}. Copies are no further"
                    " walks and got no weight. Was a layer merged with itself?"
                ).format(copies)
            )
        if len(result.disagreements):
            counts = np.bincount(result.disagreements.reason, minlength=len(REASONS)).tolist()
            feedback.pushWarning(
                self.tr("Disagreements: {} ({}). They were not averaged; “{}” lists them.").format(
                    len(result.disagreements),
                    ", ".join(
                        f"{REASONS[code]}: {count}" for code, count in enumerate(counts) if count
                    ),
                    self.label(self.DISAGREEMENTS),
                )
            )

    # Results

    def _write(self, source, layer, result, out):
        """Make all sinks, then fill them."""
        raise_if_cancelled(out.feedback)
        edges = result.edges
        out.results = {
            self.REPEATABILITY: finite_or_none(result.repeatability),
            self.REPEATABILITY_UP: finite_or_none(result.repeatability_up),
            self.MERGED: int(np.count_nonzero(edges.state == 1)),
            self.EDGES: len(edges),
        }
        carried = carried_fields(source)
        fields = fields_of(EDGE_FIELDS)
        for place in carried:
            fields.append(source.fields().at(place))
        of_edge = [[] for _ in range(len(edges))]
        for edge, part in zip(result.passes.edge.tolist(), result.passes.part.tolist()):
            if edge >= 0:
                of_edge[edge].append(part)
        line = QgsWkbTypes.Type.LineStringZ, source.sourceCrs()
        out.add(
            self.OUTPUT,
            fields,
            line,
            styles.MERGED,
            sinks.LineGeometries(*layer.back(edges), edges.offsets),
            [
                *edge_columns(layer, edges, of_edge),
                *carried_columns(source, carried, layer, edges, of_edge, out.feedback),
            ],
        )
        if out.wanted(self.PASSES):
            columns = pass_columns(layer, result.passes)
            form = QgsWkbTypes.Type.NoGeometry, source.sourceCrs()
            out.add(self.PASSES, PASS_FIELDS, form, None, None, columns)
        if out.wanted(self.DISAGREEMENTS):
            listed = result.disagreements
            xyz = layer.to_layer(listed.x, listed.y, listed.z)
            out.add(
                self.DISAGREEMENTS,
                DISAGREEMENT_FIELDS,
                line,
                styles.DISAGREEMENTS,
                sinks.LineGeometries(*xyz, listed.offsets),
                disagreement_columns(layer, listed),
            )
        out.write(start=88, step=4)
        out.feedback.setProgress(99)
        return out.results
