"""Edges against existing linework: offsets, status, statistics, shift and a report."""

import json
from dataclasses import replace

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .base.comparison import ComparisonAlgorithm, say_shift
from .base.outputs import Outputs
from .batch import history
from .host.figures import printed
from .host.versions import producer
from .reading.line_pair import read_pair
from .writing import sinks, styles
from .writing.comparison_tables import (
    LINE_FIELDS,
    STATION_FIELDS,
    SUMMARY_FIELDS,
    line_columns,
    station_columns,
    summary_rows,
)


class CompareEdges(ComparisonAlgorithm):
    NAME = "compareedges"
    TITLE = QT_TRANSLATE_NOOP("CompareEdges", "Compare edges with existing linework")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "CompareEdges",
        "What agrees with an existing basemap, what moved and by how much, what is new, what is"
        " gone.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "CompareEdges",
        "compare,change,offset,displacement,conflation,matching,basemap,curb,kerb,edge,"
        "linework,shift,accuracy,hausdorff,buffer"
        ",conflate,as-built,map update,change detection,kerbline",
    )
    CAUTION_LAST = False
    HELP = QT_TRANSLATE_NOOP(
        "CompareEdges",
        "Compares edges with the lines of an existing layer, along the lines and not feature by"
        " feature: one edge may lie along several existing lines, and the other way round."
        " Parallel neighbours are told apart; directions, vertices and parts do not"
        " matter.\n\nOffsets are measured at stations along the existing lines, perpendicular"
        " to them, + where the edge lies to the right of the existing line in its own"
        " direction, in metres on the ground.\n\nStatus of a line: “agrees” (no offset beyond"
        " the combined uncertainty of both), “displaced” (beyond it), “only_new” (an edge"
        " without a counterpart), “only_existing” (an existing line without one), “partly”"
        " (less than four fifths of it are of one kind), “not_visited” (an existing line where"
        " nobody surveyed: outside the surveyed area, or farther from all edges than its reach)."
        " A line that was visited in part is judged on that part.\n\nAn offset counts as a"
        " displacement only beyond z · √(sigma of the edge² + sigma of the existing lines²),"
        " with z of the normal distribution at the confidence asked for (1.96 at 0.95):"
        " perpendicular offsets are one-dimensional. Among many lines a few pass that limit by"
        " chance, so a line is"
        " only called displaced as far as chance finds stay below 1 − confidence of all so"
        " called (Benjamini and Hochberg 1995).\n\nShift: SHIFT_EAST and SHIFT_NORTH say where"
        " the existing layer lies as seen from the edges. Subtract them from the existing lines"
        " to bring these onto the edges; they are what “Estimate shift” adds to the edges."
        " Lines that really moved do not count in it. With “Remove the shift” a significant one"
        " is taken out before anything is judged, so that a datum shift is told apart from real"
        " change; geometries stay as they are. The log says first how many lines are displaced"
        " with the shift left in, and without it.\n\nCompleteness and correctness by the simple"
        " buffer method of Goodchild and Hunter (1997), with the search distance as half width:"
        " the share of the edges within the buffer round the existing lines, and of the"
        " existing lines, as far as they were visited, within that round the edges."
        "\n\nBoth layers may have any CRS; the"
        " existing lines are brought to the edges by the project's own transformation, which"
        " the log names. Results come back in each layer's CRS, stations in that of the"
        " existing lines.",
    )
    FOUND_FIELDS = ("SIGMA_FIELD",)
    FIELD_TABLES = {
        "OUTPUT": LINE_FIELDS,
        "EXISTING_STATUS": LINE_FIELDS,
        "STATIONS": STATION_FIELDS,
        "SUMMARY": SUMMARY_FIELDS,
    }
    WITH_SOURCE_FIELDS = (
        "OUTPUT",
        "EXISTING_STATUS",
    )

    INPUT, EXISTING, MAX_OFFSET, STATION_SPACING = (
        "INPUT",
        "EXISTING",
        "MAX_OFFSET",
        "STATION_SPACING",
    )
    SIGMA_FIELD, EXISTING_SIGMA, REMOVE_SHIFT, CONFIDENCE = (
        "SIGMA_FIELD",
        "EXISTING_SIGMA",
        "REMOVE_SHIFT",
        "CONFIDENCE",
    )
    OUTPUT, EXISTING_STATUS, STATIONS, SUMMARY, REPORT = (
        "OUTPUT",
        "EXISTING_STATUS",
        "STATIONS",
        "SUMMARY",
        "REPORT",
    )
    as_compared = ""  # parameters that an update must share
    places = None  # x and y of epochs in the CRS of the edges, where a batch has them
    NUMBERS = (
        ("SHIFT_EAST", QT_TRANSLATE_NOOP("CompareEdges", "Shift of the existing lines, east (m)")),
        (
            "SHIFT_NORTH",
            QT_TRANSLATE_NOOP("CompareEdges", "Shift of the existing lines, north (m)"),
        ),
        ("RMSE", QT_TRANSLATE_NOOP("CompareEdges", "RMSE of the offsets (m)")),
        ("MATCHED_LENGTH", QT_TRANSLATE_NOOP("CompareEdges", "Matched length (m)")),
        ("COMPLETENESS", QT_TRANSLATE_NOOP("CompareEdges", "Completeness (0 to 1)")),
        ("CORRECTNESS", QT_TRANSLATE_NOOP("CompareEdges", "Correctness (0 to 1)")),
        (
            "DISPLACED_WITH_SHIFT",
            QT_TRANSLATE_NOOP("CompareEdges", "Existing lines displaced, the shift left in"),
        ),
        (
            "DISPLACED_WITHOUT_SHIFT",
            QT_TRANSLATE_NOOP("CompareEdges", "Existing lines displaced, the shift taken out"),
        ),
    )

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        line = [QgsProcessing.SourceType.TypeVectorLine]
        self.add_layer(
            self.INPUT,
            self.tr("Edges"),
            line,
            self.tr(
                "The new lines, of the higher accuracy: edges as reconstructed, or any other lines."
            ),
        )
        self.add_layer(
            self.EXISTING,
            self.tr("Existing lines"),
            line,
            self.tr("The linework that is being judged, in any CRS."),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.MAX_OFFSET,
            self.tr("Search distance (m)"),
            2.0,
            self.tr(
                "Lines farther apart than this are not the same thing. Take it greater than the"
                " moves expected, but not so great that the next line comes into reach."
            ),
            minimum=0.001,
        )
        self.add_distance(
            self.STATION_SPACING,
            self.tr("Distance between stations (m)"),
            1.0,
            self.tr(
                "Maximum distance between two stations along a line. Each line has four at least."
            ),
            minimum=0.01,
        )
        self.add_field(
            self.SIGMA_FIELD,
            self.tr("Uncertainty of the edges"),
            self.INPUT,
            self.tr(
                "Field with the uncertainty of each edge across its direction, 1-sigma in metres."
                " Left empty, a field “sigma_cross” is taken where there is one, else the edges"
                " count as free of error."
            ),
        )
        self.add_distance(
            self.EXISTING_SIGMA,
            self.tr("Uncertainty of the existing lines (m)"),
            0.10,
            self.tr(
                "How well the existing lines were digitised, across their direction, 1-sigma in"
                " metres, without a shift of the whole layer."
            ),
        )
        self.add(
            QgsProcessingParameterBoolean(self.REMOVE_SHIFT, self.tr("Remove the shift"), True),
            self.tr(
                "Takes a shift of the whole existing layer, where it is significant, out before"
                " offsets are judged. Without it the shift is only reported."
            ),
        )
        self.add_survey()
        self.add_confidence()

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Compared edges"),
            kinds.TypeVectorLine,
            self.tr("The edges with status and statistics."),
        )
        self.add_sink(
            self.EXISTING_STATUS,
            self.tr("Status of existing lines"),
            kinds.TypeVectorLine,
            self.tr("The existing lines with status and statistics."),
            optional=True,
        )
        self.add_sink(
            self.STATIONS,
            self.tr("Stations"),
            kinds.TypeVectorPoint,
            self.tr("Points along the existing lines with signed offset and height difference."),
            optional=True,
        )
        self.add_sink(
            self.SUMMARY,
            self.tr("Summary"),
            kinds.TypeVector,
            self.tr("A table of counts, lengths and statistics of the layers as wholes."),
            optional=True,
            shown=False,
        )
        self.add_report(
            self.tr("A page to print and sign: what was compared, how, and what was found.")
        )
        self.add_marked_numbers()

    def prepareAlgorithm(self, parameters, context, feedback):
        self.titles = [
            self.title(parameters, name, context) for name in (self.INPUT, self.EXISTING)
        ]
        self.block = self.title_block(parameters, context)
        layer = self.parameterAsVectorLayer(parameters, self.INPUT, context)
        self.runs = history.runs_beside(layer)
        self.as_compared = self._shared_parameters(parameters, context)
        return super().prepareAlgorithm(parameters, context, feedback)

    def _shared_parameters(self, parameters, context):
        """Parameters that an update must share, as text, for a review to pass them on."""
        existing, area = (
            self.parameterAsVectorLayer(parameters, name, context)
            for name in (self.EXISTING, "AREA")
        )
        said = {
            "EXISTING": "" if existing is None else existing.id(),
            "EXISTING_SOURCE": "" if existing is None else existing.source(),
            "AREA": "" if area is None else area.source(),
            self.REMOVE_SHIFT: str(self.parameterAsBool(parameters, self.REMOVE_SHIFT, context)),
        }
        for name in (self.MAX_OFFSET, self.EXISTING_SIGMA, self.CONFIDENCE, "REACH"):
            said[name] = str(self.parameterAsDouble(parameters, name, context))
        return json.dumps(said)

    def properties_of(self, name):
        lines = name in (self.OUTPUT, self.EXISTING_STATUS)
        return {styles.AS_COMPARED: self.as_compared} if lines else {}

    def work(self, parameters, context, feedback):
        from ..shared.lines.comparison import compare
        from ..shared.lines.comparison_results import ComparisonSettings

        edges, existing = (
            self.source(parameters, context),
            self.source(parameters, context, self.EXISTING),
        )
        settings = ComparisonSettings(
            **self.numbers(
                parameters,
                context,
                max_offset=self.MAX_OFFSET,
                station_spacing=self.STATION_SPACING,
                existing_sigma=self.EXISTING_SIGMA,
                confidence=self.CONFIDENCE,
            ),
            remove_shift=self.parameterAsBool(parameters, self.REMOVE_SHIFT, context),
        )
        pair = read_pair(
            edges,
            existing,
            self.parameterAsString(parameters, self.SIGMA_FIELD, context),
            self.label(self.SIGMA_FIELD),
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 15),
        )
        survey, self.surveyed = self.survey(pair, edges, parameters, context, feedback, self.places)
        result = compare(
            pair.edges, pair.existing, settings, self.progress(feedback, 15, 70), survey
        )
        notes = pair.notes + self._say(result, tuple(self.titles), pair.crs_warning, feedback)
        out = Outputs(self, parameters, context, feedback)
        out.results = {
            "SHIFT_EAST": result.shift.east,
            "SHIFT_NORTH": result.shift.north,
            "RMSE": result.layer.offset_rmse,
            "MATCHED_LENGTH": result.layer.matched_length,
            "COMPLETENESS": result.buffer.completeness,
            "CORRECTNESS": result.buffer.correctness,
            "DISPLACED_WITH_SHIFT": result.displaced_with_shift[0],
            "DISPLACED_WITHOUT_SHIFT": result.displaced_without_shift[0],
        }
        self._write(edges, existing, pair, result, out)
        report = self.report_targets(parameters, context)
        if report:
            progress = self.progress(feedback, 98, 100)
            out.results.update(self._report(report, edges, existing, pair, result, notes, progress))
        return out.results

    # Log

    def _say(self, result, names, crs_warning, feedback):
        """Counts, statistics and the shift, in the log; returns what the report must say too."""
        feedback.pushInfo(self.verdict(result))
        self._say_layers(result, names, feedback)
        if not len(result.stations):
            text = self.tr(
                "No line of “{}” runs along one of “{}” within {:.4g} m. If they should, check the"
                " CRS of both layers, and raise “{}” where the shift is greater."
            ).format(names[0], names[1], result.settings.max_offset, self.label(self.MAX_OFFSET))
            feedback.pushWarning(text)
            return [text]
        self._say_offsets(result, feedback)
        said = self._say_shift(result, names, feedback)
        if crs_warning:
            feedback.pushWarning(crs_warning)  # again, beside the shift
        return said

    def verdict(self, result):
        """How many existing lines are displaced, with the shift left in and without it."""
        counts = result.displaced_with_shift[0], result.displaced_without_shift[0]
        if not result.shift.significant:
            return self.tr(
                "Displaced existing lines: {}. There is no significant shift of the whole layer."
            ).format(counts[1])
        return self.tr(
            "Displaced existing lines: {} with the shift of the whole layer left in, {} with it"
            " taken out. {}"
        ).format(
            *counts,
            (self.tr("It was taken out.") if result.shift_removed else self.tr("It was left in.")),
        )

    def _say_layers(self, result, names, feedback):
        """Lines of both layers by status."""
        from ..shared.lines.comparison_results import NOT_VISITED, STATUS_NAMES

        for name, statistics, length, share in (
            (names[0], result.edge_statistics, result.edge_length, result.edge_matched_share),
            (
                names[1],
                result.existing_statistics,
                result.existing_length,
                result.existing_matched_share,
            ),
        ):
            there = statistics.length > 0
            counts = np.bincount(statistics.status[there], minlength=len(STATUS_NAMES)).tolist()
            feedback.pushInfo(
                self.tr("“{}”: lines {}, {:.2f} m, of which {} matched. {}").format(
                    name,
                    int(np.count_nonzero(there)),
                    length,
                    printed(f"{100 * share:.1f} %") if np.isfinite(share) else self.tr("none"),
                    ", ".join(
                        f"{status}: {count}" for status, count in zip(STATUS_NAMES, counts) if count
                    ),
                )
            )
        visited, status = result.visited_length, result.existing_statistics.status
        unseen = (status == NOT_VISITED) & (result.existing_statistics.length > 0)
        feedback.pushInfo(
            self.tr(
                "Visited: {:.2f} of {:.2f} m of “{}”. Lines not visited, of which nothing is"
                " said: {}."
            ).format(visited, result.existing_length, names[1], int(np.count_nonzero(unseen)))
        )

    def _say_offsets(self, result, feedback):
        """Statistics of the offsets."""
        layer = result.layer
        feedback.pushInfo(
            self.tr(
                "Offsets at {} stations{}: mean {:+.3f} m, RMSE {:.3f} m, 95 % within {:.3f} m,"
                " maximum {:.3f} m; area between the lines {:.3f} m² per metre."
            ).format(
                layer.stations,
                self.tr(" without the shift") if result.shift_removed else "",
                layer.offset_mean,
                layer.offset_rmse,
                layer.offset_p95,
                layer.offset_max,
                layer.area_per_metre,
            )
        )
        shares = (
            self.tr("unknown") if np.isnan(share) else printed(f"{100 * share:.1f} %")
            for share in (result.buffer.completeness, result.buffer.correctness)
        )
        feedback.pushInfo(
            self.tr("Completeness {}, correctness {} (buffer of {:.4g} m).").format(
                *shares, result.buffer.width
            )
        )

    def _say_shift(self, result, names, feedback):
        """The shift, and what it means for the offsets; returns what the report must say too."""
        said = []
        text, doubtful = say_shift(result.shift, *names, self.tr)
        (feedback.pushWarning if doubtful else feedback.pushInfo)(text)
        if doubtful:
            said.append(text)
        if result.settings.remove_shift and not result.shift_removed:
            said.append(self.tr("There is no significant shift, so none was removed."))
            feedback.pushInfo(said[-1])
        elif not result.settings.remove_shift and result.shift.significant:
            said.append(
                self.tr(
                    "The shift is still in the offsets: lines that only share it may count as"
                    " displaced. “{}” takes it out."
                ).format(self.label(self.REMOVE_SHIFT))
            )
            feedback.pushWarning(said[-1])
        if result.shift_removed:
            feedback.pushInfo(
                self.tr(
                    "RMSE with the shift {:.3f} m, without it {:.3f} m; typical offset {:.3f} and"
                    " {:.3f} m."
                ).format(
                    result.before.offset_rmse,
                    result.after.offset_rmse,
                    result.before.typical,
                    result.after.typical,
                )
            )
        return said

    # Results

    def _write(self, edges, existing, pair, result, out):
        """Make all sinks, then fill them."""
        self.progress(out.feedback, 70, 98)(0.0)
        ids, other_ids = pair.edge_ids, pair.existing_ids
        sides = [
            (
                out.add_source(self.OUTPUT, self.INPUT, edges, ids, LINE_FIELDS, styles.COMPARED),
                line_columns(result.edge_statistics, ids, other_ids),
            )
        ]
        if out.wanted(self.EXISTING_STATUS):
            pass_on = out.add_source(
                self.EXISTING_STATUS,
                self.EXISTING,
                existing,
                other_ids,
                LINE_FIELDS,
                styles.EXISTING_STATUS,
            )
            columns = line_columns(result.existing_statistics, other_ids, ids)
            sides.append((pass_on, columns))
        if out.wanted(self.STATIONS):
            self._add_stations(existing, pair, result, out)
        if out.wanted(self.SUMMARY):
            form = QgsWkbTypes.Type.NoGeometry, QgsCoordinateReferenceSystem()
            columns = list(zip(*summary_rows(result)))
            out.add(self.SUMMARY, SUMMARY_FIELDS, form, None, None, columns)
        for number, (pass_on, columns) in enumerate(sides):
            pass_on(columns, self.progress(out.feedback, 70 + 8 * number, 78 + 8 * number))
        out.write()
        out.feedback.setProgress(98)

    def _add_stations(self, existing, pair, result, out):
        """The layer of stations, in the CRS of the existing lines."""
        stations, flat = result.stations, not QgsWkbTypes.hasZ(existing.wkbType())
        x, y = pair.positions_in_existing_crs(stations.x, stations.y)
        kind = QgsWkbTypes.Type.Point if flat else QgsWkbTypes.Type.PointZ
        out.add(
            self.STATIONS,
            STATION_FIELDS,
            (kind, existing.sourceCrs()),
            styles.STATIONS,
            sinks.point_geometries(x, y, None if flat else stations.z / pair.height_unit),
            station_columns(stations, pair),
        )

    def _context(self, edges, existing, pair, notes):
        """What the report says besides the numbers."""
        from ..shared.report import ReportContext

        return ReportContext(
            edges=self.titles[0],
            existing=self.titles[1],
            edge_labels=tuple(pair.edge_labels),
            existing_labels=tuple(pair.existing_labels),
            edge_crs=self.crs_title(edges),
            existing_crs=self.crs_title(existing),
            made=self.now(),
            dates=self.captured_between(edges),
            parameters=(self.named_by(pair),),
            notes=tuple(notes),
            producer=producer(),
            surveyed=self.surveyed,
            crs_warning=pair.crs_warning,
            transformed=pair.transformed,
        )

    def _report(self, asked, edges, existing, pair, result, notes, progress):
        from ..shared.report import write_report

        said = replace(
            self._context(edges, existing, pair, notes), block=self.block, history=tuple(self.runs)
        )
        return self.write_report(
            asked, lambda path: write_report(path, result, said, progress), looks=True
        )
