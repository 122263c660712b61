"""Points or lines against check points: errors, accuracy after the standards, outliers."""

import math
from dataclasses import dataclass, replace

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from ..shared.language import speaking
from .base.comparison import ComparisonAlgorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.fields import NewField
from .host.versions import producer
from .reading.checked_layer import (
    Compared,
    Errors,
    compare_lines,
    compare_points,
    errors_of,
    labelled,
    locate_check_points,
)
from .reading.layer_frame import (
    chosen_field,
    refuse_other_kinds,
)
from .reading.layer_rows import read_rows
from .reading.line_pair import label_fields
from .writing import sinks, styles

SEVERAL, NOTHING = 3, 1e-6  # check points; m: two surveys never agree so well
FIELDS = (
    NewField(
        "state",
        "QString",
        "`used`, `beyond_end` (the nearest place is the end of a line), `no_partner`, "
        "`no_position`.",
    ),
    NewField(
        "tested_id",
        "QString",
        "What the check point was compared with: its identifier, else its feature id.",
    ),
    NewField("d_east", "Double", "Tested minus check, east.", "m"),
    NewField("d_north", "Double", "Tested minus check, north.", "m"),
    NewField("d_horizontal", "Double", "Horizontal distance between both.", "m"),
    NewField("d_up", "Double", "Tested minus check, up.", "m"),
    NewField(
        "offset",
        "Double",
        "Of lines: distance of the check point from the line, + where it lies to the right.",
        "m",
    ),
    NewField("chainage", "Double", "Of lines: where along the line it was compared.", "m"),
    NewField(
        "outlier", "Bool", "True where the robust rule flags the error; it stays in the statistics."
    ),
)


@dataclass(frozen=True)
class _Found:
    """What was compared, how far apart it is, and which check points are outliers."""

    compared: Compared
    errors: Errors
    outlier: np.ndarray


class CheckAccuracy(ComparisonAlgorithm):
    NAME = "checkaccuracy"
    TITLE = QT_TRANSLATE_NOOP("CheckAccuracy", "Check accuracy against check points")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "CheckAccuracy",
        "Accuracy of points or lines against check points, after NSSDA and ASPRS Edition 2.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "CheckAccuracy",
        "accuracy,check"
        " points,rmse,nssda,asprs,survey,curb,kerb,edge,quality,outlier,vertical,horizontal"
        ",stakeout check,setting-out check,as-built",
    )
    CAUTION_LAST = False
    HELP = QT_TRANSLATE_NOOP(
        "CheckAccuracy",
        "Compares tested points or lines with check points of higher accuracy, from an"
        " independent survey.\n\nPoints: each check point is paired with the tested point of"
        " the same identifier, or, without identifiers, with its nearest neighbour where each"
        " is the other's nearest. Horizontal accuracy after the NSSDA (with its approximation"
        " where RMSE east and north differ, and no value below a ratio of 0.6), RMSE_H, RMSE_V"
        " and RMSE_3D after ASPRS Edition 2 with the error of the check points.\n\nLines: each"
        " check point is compared with the nearest place on the nearest line. Only the offset"
        " across the line is seen (+ where the check point lies to the right of the line), so"
        " its 95 % value uses the factor 1.9600 and is no NSSDA horizontal accuracy. Check"
        " points that lie beyond the end of a line are set aside.\n\nErrors are tested minus"
        " check, in metres on the ground, along the axes of the tested layer's CRS. Outliers"
        " are flagged by a robust rule and stay in the statistics: look at them, and correct or"
        " explain them. Under 20 check points (NSSDA) and under 30 (ASPRS) a warning is"
        " given.\n\nStates of check points: used, beyond_end, no_partner, no_position.",
    )
    FIELD_TABLES = {"OUTPUT": FIELDS}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, CHECK_POINTS, SEARCH_DISTANCE = "INPUT", "CHECK_POINTS", "SEARCH_DISTANCE"
    CHECK_SIGMA_H, CHECK_SIGMA_V = "CHECK_SIGMA_H", "CHECK_SIGMA_V"
    ID_FIELD, CHECK_ID_FIELD = "ID_FIELD", "CHECK_ID_FIELD"
    OUTPUT, REPORT = "OUTPUT", "REPORT"
    NUMBERS = (
        ("POINTS", QT_TRANSLATE_NOOP("CheckAccuracy", "Check points used")),
        ("OUTLIERS", QT_TRANSLATE_NOOP("CheckAccuracy", "Outliers")),
        ("MEAN_EAST", QT_TRANSLATE_NOOP("CheckAccuracy", "Mean east (m)")),
        ("MEAN_NORTH", QT_TRANSLATE_NOOP("CheckAccuracy", "Mean north (m)")),
        ("MEAN_ACROSS", QT_TRANSLATE_NOOP("CheckAccuracy", "Mean across lines (m)")),
        ("MEAN_UP", QT_TRANSLATE_NOOP("CheckAccuracy", "Mean up (m)")),
        ("RMSE_EAST", QT_TRANSLATE_NOOP("CheckAccuracy", "RMSE east (m)")),
        ("RMSE_NORTH", QT_TRANSLATE_NOOP("CheckAccuracy", "RMSE north (m)")),
        ("RMSE_R", QT_TRANSLATE_NOOP("CheckAccuracy", "Radial RMSE (m)")),
        ("RMSE_ACROSS", QT_TRANSLATE_NOOP("CheckAccuracy", "RMSE across lines (m)")),
        ("RMSE_UP", QT_TRANSLATE_NOOP("CheckAccuracy", "RMSE up (m)")),
        ("NSSDA_H", QT_TRANSLATE_NOOP("CheckAccuracy", "NSSDA horizontal accuracy (m)")),
        ("ACROSS_95", QT_TRANSLATE_NOOP("CheckAccuracy", "Accuracy across lines, 95 % (m)")),
        ("NSSDA_V", QT_TRANSLATE_NOOP("CheckAccuracy", "NSSDA vertical accuracy (m)")),
        ("RMSE_H", QT_TRANSLATE_NOOP("CheckAccuracy", "ASPRS RMSE_H (m)")),
        ("RMSE_V", QT_TRANSLATE_NOOP("CheckAccuracy", "ASPRS RMSE_V (m)")),
        ("RMSE_3D", QT_TRANSLATE_NOOP("CheckAccuracy", "ASPRS RMSE_3D (m)")),
    )

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.INPUT,
            self.tr("Tested points or lines"),
            [kinds.TypeVectorPoint, kinds.TypeVectorLine],
            self.tr("What is to be judged: well-defined points, such as corners, or edges."),
        )
        self.add_layer(
            self.CHECK_POINTS,
            self.tr("Check points"),
            [kinds.TypeVectorPoint],
            self.tr(
                "Points of higher accuracy from an independent survey, in any CRS. For lines they"
                " must lie on the edge that the line shows."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.SEARCH_DISTANCE,
            self.tr("Search distance (m)"),
            1.0,
            self.tr(
                "What is farther from a check point is no partner of it. Take it well above the"
                " errors expected, or they are cut off. Not used where identifiers are given."
            ),
            minimum=0.001,
        )
        self.add_distance(
            self.CHECK_SIGMA_H,
            self.tr("Horizontal accuracy of the check points (m)"),
            0.0,
            self.tr(
                "Radial RMSE of the check points' own survey (for the same 1-sigma in east and"
                " north: 1.414 times that). It is added in quadrature. 0: not stated."
            ),
        )
        self.add_distance(
            self.CHECK_SIGMA_V,
            self.tr("Vertical accuracy of the check points (m)"),
            0.0,
            self.tr("RMSE of the heights of the check points' own survey, 1-sigma. 0: not stated."),
        )
        self.add_field(
            self.ID_FIELD,
            self.tr("Identifier of the tested points or lines"),
            self.INPUT,
            self.tr(
                "Field by which tested points or lines are paired with check points. Give both"
                " identifiers, or neither: then the nearest one counts."
            ),
        )
        self.add_field(
            self.CHECK_ID_FIELD,
            self.tr("Identifier of the check points"),
            self.CHECK_POINTS,
            self.tr("Field of the check points that holds the same identifiers."),
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Checked points"),
            kinds.TypeVectorPoint,
            self.tr("Every check point with its state, errors in metres and a flag for outliers."),
        )
        self.add_report(
            self.tr(
                "A page to print and sign: statistics, statements after the standards, and the list"
                " of check points."
            )
        )
        self.add_marked_numbers()

    def checkParameterValues(self, parameters, context):
        fine, message = super().checkParameterValues(parameters, context)
        if not fine:
            return fine, message
        given = [
            bool(self.parameterAsString(parameters, name, context))
            for name in (self.ID_FIELD, self.CHECK_ID_FIELD)
        ]
        if given[0] != given[1]:
            return False, self.tr("Give both “{}” and “{}”, or neither.").format(
                self.label(self.ID_FIELD), self.label(self.CHECK_ID_FIELD)
            )
        return True, ""

    def prepareAlgorithm(self, parameters, context, feedback):
        self.titles = [
            self.title(parameters, name, context) for name in (self.INPUT, self.CHECK_POINTS)
        ]
        self.block = self.title_block(parameters, context)
        return super().prepareAlgorithm(parameters, context, feedback)

    def work(self, parameters, context, feedback):
        from ..shared.lines import point_pairs  # late: needs packages that may be missing
        from ..shared.report import write_check_report

        tested, check = (
            self.source(parameters, context),
            self.source(parameters, context, self.CHECK_POINTS),
        )
        kinds = QgsWkbTypes.GeometryType
        either = [kinds.PointGeometry, kinds.LineGeometry]
        refuse_other_kinds(tested, either, self.label(self.INPUT))
        refuse_other_kinds(check, either[:1], self.label(self.CHECK_POINTS))
        number = self.parameterAsDouble
        survey = (
            number(parameters, self.CHECK_SIGMA_H, context),
            number(parameters, self.CHECK_SIGMA_V, context),
        )
        id_field = self._field(parameters, context, self.ID_FIELD, tested)
        check_id_field = self._field(parameters, context, self.CHECK_ID_FIELD, check)
        greatest = math.inf if id_field else number(parameters, self.SEARCH_DISTANCE, context)

        wanted = [check_id_field] if check_id_field else label_fields(check)
        rows = read_rows(check, None, wanted, feedback, self.progress(feedback, 0, 20))
        places = locate_check_points(tested, check, rows, context.transformContext(), feedback)
        names = rows.columns[check_id_field].texts().tolist() if check_id_field else None
        lines = QgsWkbTypes.geometryType(tested.wkbType()) == kinds.LineGeometry
        compared = (compare_lines if lines else compare_points)(
            tested, id_field, names, places, greatest, feedback, self.progress(feedback, 20, 60)
        )
        raise_if_cancelled(feedback)
        errors = errors_of(compared, places)

        self._say(tested, check, compared.state, feedback)
        if not (compared.state == point_pairs.USED).any():
            raise QgsProcessingException(self._nothing(tested, check, id_field))
        result, outlier = self._assess(compared, errors, lines, survey, feedback)
        found = _Found(compared, errors, outlier)
        results = self._write(check, rows, found, Outputs(self, parameters, context, feedback))
        report = self.report_targets(parameters, context)
        if report:
            labels, named_by = labelled(rows, check_id_field, wanted)
            inputs = self._inputs(compared, places, named_by)
            said = self._context(tested, check, found, places, greatest, labels, inputs)
            results.update(
                self.write_report(report, lambda path: write_check_report(path, result, said))
            )
        results.update(self._numbers(result, int(np.count_nonzero(outlier))))
        return results

    def _assess(self, compared, errors, lines, survey, feedback):
        """Statistics of the errors found, and which check points are outliers."""
        from ..shared.lines import check_points, point_pairs

        used = compared.state == point_pairs.USED
        wanted = (compared.offset, errors.up) if lines else (errors.east, errors.north, errors.up)
        columns = [column[used] for column in wanted]
        assess = check_points.assess_lines if lines else check_points.assess_points
        with speaking(QCoreApplication.translate):
            result = assess(*columns, *survey)
        plan = np.abs(np.array(columns[:1] if lines else columns[:2]))
        if used.sum() >= SEVERAL and np.nanmax(plan) < NOTHING:
            feedback.pushWarning(
                self.tr(
                    "All check points ({}) lie on what is tested, to the last digit: it seems to"
                    " be compared with itself, or with what it was made from. Check which layers"
                    " are chosen."
                ).format(int(used.sum()))
            )
        flagged = check_points.outliers(*columns)
        outlier = np.zeros(len(used), bool)
        outlier[used] = flagged
        for sentence in result.sentences:
            feedback.pushInfo(sentence)
        for caution in result.cautions:
            feedback.pushWarning(caution)
        if flagged.any():
            feedback.pushWarning(
                self.tr(
                    "Outliers among the check points (field “outlier”): {} of {}. They are part"
                    " of the statistics: look at each, and correct or explain it."
                ).format(int(np.count_nonzero(flagged)), int(np.count_nonzero(used)))
            )
        return result, outlier

    def _field(self, parameters, context, parameter, source):
        """Name of a chosen field as the layer spells it, empty where none was chosen."""
        name = self.parameterAsString(parameters, parameter, context)
        return chosen_field(source, name, self.label(parameter)) if name else ""

    # Results

    def _say(self, tested, check, state, feedback):
        from ..shared.lines import point_pairs

        counts = np.bincount(state, minlength=len(point_pairs.STATE_NAMES)).tolist()
        feedback.pushInfo(
            self.tr("Check points in “{}”: {}. Compared with “{}”: {}.").format(
                check.sourceName(), len(state), tested.sourceName(), counts[point_pairs.USED]
            )
        )
        for name, text in (
            (
                point_pairs.BEYOND_END,
                self.tr(
                    "Check points beyond the end of the nearest line, which are set aside: {}."
                ),
            ),
            (
                point_pairs.NO_PARTNER,
                self.tr("Check points without a partner, which are set aside: {}."),
            ),
            (
                point_pairs.NO_POSITION,
                self.tr(
                    "Check points without a position, or without one in the CRS of the tested"
                    " layer: {}."
                ),
            ),
        ):
            if counts[name]:
                feedback.pushWarning(text.format(counts[name]))

    def _nothing(self, tested, check, id_field):
        if id_field:
            return self.tr(
                "No check point of “{}” has an identifier that a feature of “{}” has too (fields of"
                " “{}” and “{}”). Choose other fields, or leave both empty."
            ).format(
                check.sourceName(),
                tested.sourceName(),
                self.label(self.CHECK_ID_FIELD),
                self.label(self.ID_FIELD),
            )
        return self.tr(
            "No check point of “{}” can be compared with “{}”. Check the CRS of both layers, or"
            " give a greater “{}”."
        ).format(check.sourceName(), tested.sourceName(), self.label(self.SEARCH_DISTANCE))

    def _write(self, check, rows, found, out):
        from ..shared.lines import point_pairs

        pass_on = out.add_source(
            self.OUTPUT, self.CHECK_POINTS, check, rows.ids, FIELDS, styles.CHECKED
        )
        compared, errors = found.compared, found.errors
        columns = [
            sinks.text_cells(compared.state, point_pairs.STATE_NAMES),
            compared.tested_id,
            *(
                sinks.cells(column)
                for column in (
                    errors.east,
                    errors.north,
                    errors.horizontal,
                    errors.up,
                    compared.offset,
                    compared.chainage,
                    found.outlier,
                )
            ),
        ]
        pass_on(columns, self.progress(out.feedback, 70, 95))
        return out.results

    @staticmethod
    def _numbers(result, flagged):
        """Every number; None (NULL) where it does not apply."""

        def of(spread, name):
            return getattr(spread, name) if spread else None

        east, north, across, up = result.east, result.north, result.across, result.up
        numbers = {
            "POINTS": (across or east).count,
            "OUTLIERS": flagged,
            "MEAN_EAST": of(east, "mean"),
            "MEAN_NORTH": of(north, "mean"),
            "MEAN_ACROSS": of(across, "mean"),
            "MEAN_UP": of(up, "mean"),
            "RMSE_EAST": of(east, "rmse"),
            "RMSE_NORTH": of(north, "rmse"),
            "RMSE_R": result.rmse_r,
            "RMSE_ACROSS": of(across, "rmse"),
            "RMSE_UP": of(up, "rmse"),
            "NSSDA_H": result.nssda_h.value if result.nssda_h else None,
            "ACROSS_95": result.across_95,
            "NSSDA_V": result.nssda_v,
            "RMSE_H": result.rmse_h,
            "RMSE_V": result.rmse_v,
            "RMSE_3D": result.rmse_3d,
        }
        return {
            name: None if value is None or value != value else value
            for name, value in numbers.items()
        }

    def _inputs(self, compared, places, named_by):
        """What the report says of its inputs."""
        from ..shared.report.inputs import checksum_of

        with speaking(QCoreApplication.translate):
            check = checksum_of(places.xy, places.z)
            return (
                (self.tr("Transformed"), places.transformed or self.tr("nothing")),
                (
                    self.tr("Checksums of the geometries"),
                    self.tr("tested {}, check points {}").format(compared.checksum, check),
                ),
                (
                    self.tr("Identifiers"),
                    self.tr("tested by {}, check points by {}").format(compared.named_by, named_by),
                ),
            )

    def _context(self, tested, check, found, places, greatest, labels, inputs):
        """What the report says besides the statistics."""
        from ..shared.report import CheckContext

        compared, errors = found.compared, found.errors
        return CheckContext(
            tested=self.titles[0],
            check=self.titles[1],
            crs=self.crs_title(tested),
            check_crs=self.crs_title(check),
            made=self.now(),
            search_distance=greatest,
            labels=labels,
            state=compared.state,
            tested_ids=compared.tested_label,
            d_east=errors.east,
            d_north=errors.north,
            d_up=errors.up,
            offset=compared.offset,
            outlier=found.outlier,
            producer=producer(),
            block=replace(self.block, captured=self.captured_between(tested)),
            xy=places.xy,
            lines=compared.lines,
            inputs=inputs,
        )
