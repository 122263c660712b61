"""The main job: streamed epochs to edges, gaps, rejected and kept epochs."""

from dataclasses import replace

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.epochs.reasons import Reason
from ..shared.epochs.settings import CURVE_MODELS, DOUBTFUL, Settings
from ..shared.reconstruction.repairs import KINDS, FoundRepairs
from .base.epoch_algorithm import EpochAlgorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.figures import printed
from .reading import repair_rows
from .reading.crew_attributes import crew_attributes, followed_by
from .reading.epoch_layer import SHARE_OF_READING
from .writing import sinks, styles
from .writing.edge_tables import (
    EDGE_FIELDS,
    GAP_FIELDS,
    KEPT_FIELDS,
    REJECTED_FIELDS,
    STATION_FIELDS,
    WRITTEN,
    edge_columns,
    gap_columns,
    kept_columns,
    rejected_columns,
    station_columns,
)

MANY_EPOCHS = 80_000  # from here on other processes save more time than they take to start
# Epochs that are left to read when they start: what they load takes a processor for as long as it
# takes to read these and to make a table of a million. Reading needs two processors by itself.
LEFT_TO_READ = 300_000


class ReconstructEdges(EpochAlgorithm):
    NAME = "reconstructedges"
    LOADS = ()  # the core loads what it needs where it runs, as a rule in other processes
    TITLE = QT_TRANSLATE_NOOP("ReconstructEdges", "Reconstruct edges")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "ReconstructEdges", "Turns streamed epochs into edges, with gaps, reasons and uncertainty."
    )
    TAGS = QT_TRANSLATE_NOOP(
        "ReconstructEdges",
        "curb,kerb,edge,line,linework,gnss,gps,rtk,epochs,points to"
        " path,stream,smooth,survey,track"
        ",vectorise,vectorize,digitise,kerbline,curbline,gps line cleaning,gps to line,as-built",
    )
    HELP = QT_TRANSLATE_NOOP(
        "ReconstructEdges",
        "Turns a layer of streamed RTK epochs into edges: one line for each stretch that was"
        " walked without a break.\n\nEpochs without position, time or fixed solution, of poor"
        " accuracy, and spikes are set aside, each with its reason. Standing still counts as"
        " one position. The line breaks at pauses, lost fixes and from capture to capture; a"
        " short loss inside one walk is bridged. What two or three epochs alone tell, as a"
        " short side at an odd angle, is left open and its epochs are “unconfirmed”: an outlier"
        " would look the same. The rest becomes tangents, arcs and sharp corners as far as the"
        " noise of the data tells, or a smooth curve where the edge has no such shape; a walk"
        " round an island closes. Lines are thinned within the tolerance.\n\nCurve model:"
        " “Tangents and arcs” adjusts all elements of an edge together, with common tangents"
        " where they join tangentially. “Spline” lays a smooth curve through what"
        " tangents and arcs fitted one by one say, and forces no such joints. “Automatic” takes"
        " for each edge what explains the epochs at less cost: the sum of squared residuals, in"
        " units of their variance, and 6 for each free parameter (a minimum description"
        " length).\n\nEdges: LineStringZ in the layer's CRS, with length on the ground,"
        " residuals and 1-sigma uncertainty in metres, and why each edge starts and ends; after"
        " these, each source field whose values hold along the edges, such as a class or a remark"
        " that the crew entered, with the most frequent value. Gaps:"
        " a line from rim to rim with the reason. Rejected epochs: every source field, reason"
        " and detail. Kept epochs: every source field, edge, chainage and residuals (+ to the"
        " right of the edge). Every row read is in exactly one of the two. Writing points"
        " takes longer than all the rest: the kept ones are off in the dialogue, and on the"
        " command line and in models nothing but the edges is written unless it is asked for."
        " Stations: points along the edges with height, longitudinal slope (+ rising in the"
        " direction of the edge) and the 1-sigma uncertainty there.\n\nAll settings are"
        " in metres, whatever the layer's CRS. Rows may come in any order. Lines with M as time"
        " are read vertex by vertex.\n\nThe result is of mapping grade: it is no boundary survey,"
        " and not for stake-out without a licensed surveyor.",
    )
    FIELD_TABLES = {
        "OUTPUT": EDGE_FIELDS,
        "GAPS": GAP_FIELDS,
        "REJECTED": REJECTED_FIELDS,
        "KEPT": KEPT_FIELDS,
        "STATIONS": STATION_FIELDS,
    }
    WITH_SOURCE_FIELDS = (
        "REJECTED",
        "KEPT",
    )

    CORNER_ANGLE, TOLERANCE, MIN_LENGTH = "CORNER_ANGLE", "TOLERANCE", "MIN_LENGTH"
    CURVE_MODEL, STATION_SPACING = "CURVE_MODEL", "STATION_SPACING"
    DOUBTFUL, REPAIRS = "DOUBTFUL", "REPAIRS"
    OUTPUT, GAPS, REJECTED, KEPT, STATIONS = "OUTPUT", "GAPS", "REJECTED", "KEPT", "STATIONS"
    EPOCHS_READ, EPOCHS_KEPT, EPOCHS_REJECTED = "EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED"
    EDGES, LENGTH = "EDGES", "LENGTH"

    def add_settings(self):
        """Limits and choices."""
        self.add_limits()
        self.add_number(
            self.CORNER_ANGLE,
            self.tr("Minimum deflection of a corner (degrees)"),
            30.0,
            self.tr(
                "Where the edge turns by more than this within a step it stays a sharp corner with"
                " a vertex of its own; less is treated as a curve."
            ),
            low=1.0,
            high=180.0,
            decimals=1,
        )
        self.add_distance(
            self.TOLERANCE,
            self.tr("Tolerance of the line written (m)"),
            0.01,
            self.tr(
                "Maximum distance between the fitted curve and the line that is written. Smaller"
                " means more vertices."
            ),
            minimum=0.0001,
        )
        self.add_distance(
            self.MIN_LENGTH,
            self.tr("Minimum length of an edge (m)"),
            0.5,
            self.tr("Shorter stretches make no edge; their epochs are rejected as “too_short”."),
        )
        self._add_choices()

    def _add_choices(self):
        """What else the user can choose."""
        self.add_choice(
            self.CURVE_MODEL,
            self.tr("Curve model"),
            [self.tr("Automatic"), self.tr("Tangents and arcs"), self.tr("Spline")],
            self.tr(
                "What edges are made of. Automatic: tangents and arcs wherever these explain the"
                " epochs, else a spline."
            ),
            advanced=True,
        )
        self.add_choice(
            self.DOUBTFUL,
            self.tr("Doubtful positions"),
            [self.tr("Keep and mark"), self.tr("Leave out")],
            self.tr(
                "What becomes of short sides and bends that too few epochs confirm. Keep and mark:"
                " they are drawn with a larger uncertainty, and their epochs carry the role"
                " “doubtful”. Leave out: the line breaks there. Half a metre from epoch to epoch"
                " shows jogs; a metre cannot show sides shorter than that, and two metres fail at"
                " corners."
            ),
            optional=True,
            advanced=True,
        )
        self.add_distance(
            self.STATION_SPACING,
            self.tr("Distance between stations (m)"),
            1.0,
            self.tr("Along the edges, from their start; used for the stations alone."),
            advanced=True,
            minimum=0.01,
        )
        self.add_repairs()
        self.add_working_crs()
        self.add_take_as_stream()

    def add_repairs(self):
        """What a person decided about single epochs and stretches."""
        self.add_layer(
            self.REPAIRS,
            self.tr("Repairs"),
            [QgsProcessing.SourceType.TypeVector],
            self.tr(
                "What a person decided, one row each: an epoch left out or taken back in, a corner"
                " or none, a break, a gap bridged (20 m at most), a tangent, an arc or a free form"
                " for a stretch. The layer “repairs” of a folder of results, or a table with its"
                " fields; epochs are named by capture and time. Epochs themselves are not altered."
            ),
            optional=True,
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Edges"),
            kinds.TypeVectorLine,
            self.tr("The edges, as lines with heights in the layer's CRS."),
        )
        self.add_sink(
            self.GAPS,
            self.tr("Gaps"),
            kinds.TypeVectorLine,
            self.tr(
                "Where one edge ends and the next one starts, with seconds, metres and the reason."
            ),
            optional=True,
        )
        self.add_sink(
            self.REJECTED,
            self.tr("Rejected epochs"),
            kinds.TypeVectorPoint,
            self.tr("Epochs that were not used, with the reason, and the detail in words."),
            optional=True,
        )
        self.add_sink(
            self.KEPT,
            self.tr("Kept epochs"),
            kinds.TypeVectorPoint,
            self.tr("Epochs that were used, with their edge, chainage and residuals in metres."),
            optional=True,
            shown=False,
        )
        self.add_sink(
            self.STATIONS,
            self.tr("Stations"),
            kinds.TypeVectorPoint,
            self.tr(
                "Points along the edges with chainage, height, longitudinal slope and 1-sigma"
                " uncertainty across and up."
            ),
            optional=True,
            shown=False,
        )
        self.add_numbers(
            (self.EPOCHS_READ, self.tr("Epochs read")),
            (self.EPOCHS_KEPT, self.tr("Epochs kept")),
            (self.EPOCHS_REJECTED, self.tr("Epochs rejected")),
            (self.EDGES, self.tr("Number of edges")),
            (self.LENGTH, self.tr("Total length (m)")),
        )

    def work(self, parameters, context, feedback):
        from ..shared.parallel.pool import Pool

        source = self.source(parameters, context)
        settings, count = self._settings(parameters, context), source.featureCount()
        size = None if count >= MANY_EPOCHS else 1
        with Pool(size, ("reconstruction.part",), later=True) as pool:
            progress = self._starting(pool, count, self.progress(feedback, 0, 35))
            layer = self.epochs(source, parameters, context, feedback, progress)
            self.repairs = self._repairs(layer, parameters, context, feedback)
            placed = self.repairs and self.repairs.placed(layer.captures, layer.origin)
            result = self._fitted(
                layer.table,
                settings,
                self.progress(feedback, 35, 80),
                pool,
                self.wanted(parameters, self.REJECTED) or self.wanted(parameters, self.KEPT),
                placed,
                layer.grid,
            ).with_rounding(layer.step)
        if pool.problem:
            feedback.pushInfo(
                self.tr("All was done in one process, since others could not be used: {}.").format(
                    pool.problem
                )
            )
        self.refuse_if_nothing_usable(layer, result.reason)
        self._say(layer, result, feedback)
        return self._write(source, layer, result, Outputs(self, parameters, context, feedback))

    @staticmethod
    def _starting(pool, count, progress):
        """Progress of reading `count` epochs that starts the processes of a pool shortly before all
        are read."""

        def reading(share):
            progress(share)
            if (1 - share / SHARE_OF_READING) * count <= LEFT_TO_READ:
                pool.start()

        reading(0.0)
        return reading

    def _settings(self, parameters, context):
        settings = Settings(
            **self.limits(parameters, context),
            **self.numbers(
                parameters,
                context,
                corner_angle=self.CORNER_ANGLE,
                tolerance=self.TOLERANCE,
                min_length=self.MIN_LENGTH,
                station_spacing=self.STATION_SPACING,
            ),
            curve_model=CURVE_MODELS[self.parameterAsEnum(parameters, self.CURVE_MODEL, context)],
            doubtful=DOUBTFUL[self.parameterAsEnum(parameters, self.DOUBTFUL, context)],
        )
        if self.wanted(parameters, self.STATIONS):
            return settings
        return replace(settings, station_spacing=0.0)

    def prepareAlgorithm(self, parameters, context, feedback):
        # in the main thread, where the layer lives
        self.input_title = self.title(parameters, self.INPUT, context)
        return super().prepareAlgorithm(parameters, context, feedback)

    def _repairs(self, layer, parameters, context, feedback):
        """Repairs that were given for this layer; None where there are none."""
        given = self.parameterAsSource(parameters, self.REPAIRS, context)
        if given is None:
            return None
        found = repair_rows.read_rows(given)
        mine = found.of_layer({layer.name, self.input_title})
        if not any(found.rows[number]["layer"] for number in mine):
            mine = self._by_time(found, mine, layer, feedback)
        if len(mine) < len(found.rows):
            feedback.pushInfo(
                self.tr("Repairs for other layers, passed over: {}.").format(
                    len(found.rows) - len(mine)
                )
            )
        for number in mine:
            problem = repair_rows.problem_of(found.rows[number])
            if problem:
                raise QgsProcessingException(
                    self.tr("“{}”, row {}: {}.").format(
                        self.label(self.REPAIRS), found.ids[number], problem
                    )
                )
        return repair_rows.repairs_of(found.rows[number] for number in mine) if mine else None

    def _by_time(self, found, mine, layer, feedback):
        """Numbers of repairs where none names this layer: those that name none, and those whose
        capture and time are found here."""
        others = [
            number
            for number, row in enumerate(found.rows)
            if number not in mine and not repair_rows.problem_of(row)
        ]
        repairs = repair_rows.repairs_of(found.rows[number] for number in others)
        lost = FoundRepairs.of(repairs.placed(layer.captures, layer.origin), layer.table).lost
        here = [number for number, gone in zip(others, lost.tolist()) if not gone]
        if here:
            feedback.pushWarning(
                self.tr(
                    "“{}”: no row is for a layer “{}”; rows taken whose capture and time are"
                    " found in it: {}."
                ).format(self.label(self.REPAIRS), self.input_title, len(here))
            )
        return sorted([*mine, *here])

    # parameters: those of `reconstruct`
    def _fitted(self, table, settings, progress, pool, numbers, repairs, grid):
        from ..shared.reconstruction.reconstruct import reconstruct

        return reconstruct(
            table, settings, progress, pool=pool, numbers=numbers, repairs=repairs, grid=grid
        )

    def _say_repairs(self, outcome, feedback):
        """What became of each repair."""
        from ..shared.reconstruction.repairs import APPLIED, STATES, why_words

        number = [int(np.count_nonzero(outcome.state == state)) for state in range(len(STATES))]
        feedback.pushInfo(
            self.tr("Repairs: {} applied, {} lost, {} without effect.").format(*number)
        )
        why = why_words(outcome.why)
        for k in np.flatnonzero(outcome.state != APPLIED).tolist():
            feedback.pushWarning(
                self.tr("Repair “{}” of capture “{}” at {} was not carried out: {}.").format(
                    KINDS[self.repairs.kind[k]],
                    self.repairs.capture[k],
                    repair_rows.in_words(float(self.repairs.time[k])),
                    why[k],
                )
            )

    def _say(self, layer, result, feedback):
        kept = self.say_counts(layer, result.reason, feedback)
        if result.repairs is not None:
            self._say_repairs(result.repairs, feedback)
        self.say_stream(result.stream, layer.table, feedback)
        standing = result.role == 2
        dropped = (result.reason == Reason.KEPT) & np.isfinite(layer.table.z) & ~result.height_used
        feedback.pushInfo(
            self.tr(
                "Epochs collapsed while standing still: {}. Heights dropped as spikes: {}."
            ).format(int(np.count_nonzero(standing)), int(np.count_nonzero(dropped)))
        )
        edges, gaps = result.edges, result.gaps
        feedback.pushInfo(
            self.tr("Edges: {}, {:.2f} m on the ground in all, {} vertices. Gaps: {}.").format(
                len(edges), float(edges.length.sum()), len(edges.x), len(gaps)
            )
        )
        if len(edges):
            feedback.pushInfo(
                self.tr("Edges of tangents and arcs: {}, splines: {}. Rings: {}.").format(
                    int(edges.by_elements.sum()),
                    int((~edges.by_elements).sum()),
                    int(edges.closed.sum()),
                )
            )
            up = edges.sigma_up[np.isfinite(edges.sigma_up)]
            feedback.pushInfo(
                self.tr("Median uncertainty (1-sigma): {:.1f} mm across, {} up.").format(
                    1000 * float(np.median(edges.sigma_cross)),
                    printed(f"{1000 * float(np.median(up)):.1f} mm")
                    if up.size
                    else self.tr("unknown"),
                )
            )
        if not kept:
            feedback.pushWarning(
                self.tr(
                    "Layer “{}” gives no edge: the usable epochs ({}) make no stretch of at least"
                    " the minimum length. Lower “{}”, or check that the layer holds a whole walk."
                ).format(
                    layer.name,
                    int(np.count_nonzero(result.reason == Reason.TOO_SHORT)),
                    self.label(self.MIN_LENGTH),
                )
            )
        self.say_without_heights(
            layer, self.tr("No epoch has a height: the Z values of the edges are NaN."), feedback
        )

    @sinks.without_collector()
    def _write(self, source, layer, result, out):
        """Make the sinks and fill them; everything that can fail for the data's sake has been
        done."""
        edges, gaps, kept = result.edges, result.gaps, result.reason == Reason.KEPT
        out.results = {
            self.EPOCHS_READ: len(kept),
            self.EPOCHS_KEPT: int(np.count_nonzero(kept)),
            self.EPOCHS_REJECTED: int(np.count_nonzero(~kept)),
            self.EDGES: len(edges),
            self.LENGTH: float(edges.length.sum()),
        }
        targets = self._row_targets(result, kept, out)
        raise_if_cancelled(out.feedback)
        line = QgsWkbTypes.Type.LineStringZ, source.sourceCrs()
        entered, values = crew_attributes(source, layer, result.edge, len(edges), WRITTEN)
        out.add(
            self.OUTPUT,
            followed_by(EDGE_FIELDS, entered),
            line,
            styles.EDGES,
            sinks.LineGeometries(*self._back(layer, edges.x, edges.y, edges.z), edges.offsets),
            (*edge_columns(layer, edges), *values),
        )
        if out.wanted(self.GAPS):
            xyz = self._back(layer, gaps.x.ravel(), gaps.y.ravel(), gaps.z.ravel())
            out.add(
                self.GAPS,
                GAP_FIELDS,
                line,
                styles.GAPS,
                sinks.LineGeometries(*xyz, np.arange(0, 2 * len(gaps) + 1, 2)),
                gap_columns(layer, gaps),
            )
        if result.stations is not None:
            at = result.stations
            out.add(
                self.STATIONS,
                STATION_FIELDS,
                (QgsWkbTypes.Type.PointZ, source.sourceCrs()),
                styles.EDGE_STATIONS,
                sinks.point_geometries(*self._back(layer, at.x, at.y, at.z)),
                station_columns(at),
            )
        rows = out.add_rows(source, targets)
        out.write()
        progress = self.progress(out.feedback, 82, 100)
        self.pass_rows(source, layer, rows, out.parameters, out.feedback, progress)
        return out.results

    def _row_targets(self, result, kept, out):
        """Which epochs go to which output; see `Outputs.add_rows`."""
        targets = []
        if out.wanted(self.REJECTED):
            columns = rejected_columns(result, self.repairs)
            targets.append((self.REJECTED, ~kept, REJECTED_FIELDS, columns, styles.REJECTED))
        if out.wanted(self.KEPT):
            columns = kept_columns(result, self.repairs)
            targets.append((self.KEPT, kept, KEPT_FIELDS, columns, styles.KEPT))
        return targets

    @staticmethod
    def _back(layer, x, y, z):
        """Local coordinates in the layer's CRS and in its unit of height."""
        return (*layer.frame.layer(x, y), z / layer.frame.height_unit)
