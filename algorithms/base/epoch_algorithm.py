"""Algorithms that read epochs: their parameters, checks and log."""

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessing,
    QgsProcessingException,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterCrs,
    QgsProcessingParameterField,
    QgsProcessingParameterString,
    QgsUnitTypes,
)

from ...shared.epochs.fix_values import fixed_words
from ...shared.epochs.reasons import REASON_NAMES, Reason
from ...shared.tuning import PLAUSIBILITY, SCREENING
from ..host.figures import printed
from ..reading import role_words, roles
from ..reading.epoch_fields import Choices, found_in_words
from ..reading.epoch_layer import read_epochs
from ..reading.layer_stream import file_behind, is_whole
from ..reading.plausible_table import refuse_other_unit
from ..writing.sinks import pass_on
from .algorithm import Algorithm


class EpochAlgorithm(Algorithm):
    """Base of the algorithms whose input is a layer of epochs."""

    INPUT = "INPUT"
    TIME_FIELD = "TIME_FIELD"
    CAPTURE_FIELDS = "CAPTURE_FIELDS"
    FIX_FIELD = "FIX_FIELD"
    FIXED_VALUES = "FIXED_VALUES"
    H_ACCURACY_FIELD = "H_ACCURACY_FIELD"
    V_ACCURACY_FIELD = "V_ACCURACY_FIELD"
    MAX_H_ACCURACY = "MAX_H_ACCURACY"
    MAX_TIME_GAP = "MAX_TIME_GAP"
    MAX_DISTANCE_GAP = "MAX_DISTANCE_GAP"
    WORKING_CRS = "WORKING_CRS"
    TAKE_AS_STREAM = "TAKE_AS_STREAM"
    NEEDS = ("numpy", "scipy")
    FOUND_FIELDS = (TIME_FIELD, CAPTURE_FIELDS, FIX_FIELD, H_ACCURACY_FIELD, V_ACCURACY_FIELD)

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        self.add_input(
            self.tr(
                "Streamed epochs as points, in any CRS, with or without Z, rows in any order; or"
                " lines, with M as the time of each vertex or in the order of their vertices; or"
                " polygons, each ring of which is a capture."
            ),
        )
        self.add_fields()

    def add_input(self, help_text):
        """The layer of epochs: points, or lines and polygons vertex by vertex."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.INPUT,
            self.tr("Epochs"),
            [kinds.TypeVectorPoint, kinds.TypeVectorLine, kinds.TypeVectorPolygon],
            help_text,
        )

    def add_fields(self):
        """The parameters that say which field is what."""
        self.add(
            self._field_of_input(self.TIME_FIELD, self.tr("Time")),
            self.tr(
                "Time of each epoch: a date-time, ISO 8601 text with or without a zone (UTC is"
                " assumed without one), or a number: seconds or milliseconds since 1970, days, or"
                " digits of a date. Left empty, it is found from names, types and values; the log"
                " says what was taken, and"
                " why. Names and words of many languages are known; add your own in a table “{}” in"
                " the folder of the QGIS profile (its form: algorithms/GUIDE.md). Of lines M is the"
                " time; where M is none, the order of the vertices stands for it."
            ).format(role_words.OWN_TABLE),
        )
        self.add(
            self._field_of_input(self.CAPTURE_FIELDS, self.tr("Capture"), True),
            self.tr(
                "Field or fields that tell one capture (one walk along one edge) from another. A"
                " line never runs from one capture into the next. Left empty, it is found by name;"
                " without one the layer is one capture, broken by time and distance."
            ),
        )
        self._add_fix_fields()
        self.add(
            self._field_of_input(self.H_ACCURACY_FIELD, self.tr("Horizontal accuracy")),
            self.tr(
                "Horizontal accuracy that the receiver reported, 1-sigma in metres. Left empty, it"
                " is found by name; without one, epochs are not screened by accuracy."
            ),
        )
        self.add(
            self._field_of_input(self.V_ACCURACY_FIELD, self.tr("Vertical accuracy")),
            self.tr(
                "Vertical accuracy that the receiver reported, 1-sigma in metres. Left empty, it is"
                " found by name. It weights the heights."
            ),
        )

    def _add_fix_fields(self):
        self.add(
            self._field_of_input(self.FIX_FIELD, self.tr("Fix")),
            self.tr(
                "State of the solution: NMEA quality codes, words, or a yes-no field. Left empty,"
                " it is found from names and values. Where there is none, all epochs are taken as"
                " fixed, with a warning."
            ),
        )
        self.add(
            QgsProcessingParameterString(
                self.FIXED_VALUES,
                self.tr("Values that mean fixed"),
                "",
                False,
                True,
            ),
            self.tr(
                "Values of the fix field that mean a fixed solution, separated by commas, in any"
                " case. Left empty, they are the usual words: NMEA quality 4 and the words for a"
                " fixed solution in many languages, as the table of names and words has them. A"
                " list of your own counts alone."
            ),
            advanced=True,
            left_empty=self.tr("usual words"),
        )

    def _field_of_input(self, name, label, several=False):
        return QgsProcessingParameterField(
            name,
            label,
            parentLayerParameterName=self.INPUT,
            type=QgsProcessingParameterField.DataType.Any,
            allowMultiple=several,
            optional=True,
        )

    def add_take_as_stream(self):
        """Leave to take lines as a stream that do not look like one."""
        self.add(
            QgsProcessingParameterBoolean(
                self.TAKE_AS_STREAM,
                self.tr("Take drawn lines as a stream"),
                False,
                True,  # else models made before there was this parameter would not run
            ),
            self.tr(
                "Lines without times that look drawn, with vertices at corners and long steps"
                " between, stop the run with a question, since a map taken for epochs gives edges"
                " that look right and are not. Set this to take them all the same."
            ),
            advanced=True,
        )

    def add_accuracy_limit(self):
        """The accuracy beyond which an epoch is rejected."""
        self.add_distance(
            self.MAX_H_ACCURACY,
            self.tr("Maximum reported horizontal accuracy (m)"),
            0.05,
            self.tr(
                "Epochs whose reported horizontal accuracy (1-sigma, metres) is greater are"
                " rejected as “poor_accuracy”."
            ),
            minimum=0.0001,
        )

    def add_limits(self):
        """The limits of screening, which `limits` reads."""
        self.add_accuracy_limit()
        self.add_number(
            self.MAX_TIME_GAP,
            self.tr("Maximum pause within an edge (seconds); 0: automatic"),
            0.0,
            self.tr(
                "A longer pause ends the edge. 0: found from the stream's own interval, capture by"
                " capture."
            ),
            low=0.0,
            decimals=2,
            advanced=True,
        )
        self.add_distance(
            self.MAX_DISTANCE_GAP,
            self.tr("Maximum step within an edge (m); 0: automatic"),
            0.0,
            self.tr(
                "A longer step between two epochs ends the edge. 0: found from the stream's own"
                " spacing, capture by capture."
            ),
            advanced=True,
        )

    def limits(self, parameters, context):
        """What `add_limits` asks for, as keywords of the core's `Settings`."""
        return self.numbers(
            parameters,
            context,
            max_h_accuracy=self.MAX_H_ACCURACY,
            max_time_gap=self.MAX_TIME_GAP,
            max_distance_gap=self.MAX_DISTANCE_GAP,
        )

    def add_working_crs(self):
        """The CRS that is computed in."""
        self.add(
            QgsProcessingParameterCrs(self.WORKING_CRS, self.tr("Working CRS"), None, True),
            self.tr(
                "Projected CRS in metres to compute in. Left empty, a frame of the layer's own is"
                " used that is true to scale where the data lies, on the layer's own datum. Lengths"
                " are lengths on the ground either way, and results come back in the layer's CRS."
            ),
            advanced=True,
        )

    def found_field(self, name, layer):
        part = {
            self.TIME_FIELD: roles.TIME,
            self.CAPTURE_FIELDS: roles.CAPTURE,
            self.FIX_FIELD: roles.FIX,
            self.H_ACCURACY_FIELD: roles.H_ACCURACY,
            self.V_ACCURACY_FIELD: roles.V_ACCURACY,
        }.get(name)
        return found_in_words(layer, part) if part else super().found_field(name, layer)

    # Checks and reading

    def checkParameterValues(self, parameters, context):
        fine, message = super().checkParameterValues(parameters, context)
        if not fine:
            return fine, message
        try:
            fixed_words(self.parameterAsString(parameters, self.FIXED_VALUES, context) or "4")
        except ValueError:
            return False, self.tr(
                "“{}” names no value. Give at least one value, for example “4, fixed”, or"
                " leave it empty."
            ).format(self.label(self.FIXED_VALUES))
        if self.parameterDefinition(self.WORKING_CRS) is not None:
            crs = self.parameterAsCrs(parameters, self.WORKING_CRS, context)
            if crs.isValid() and (
                crs.isGeographic()
                or "+proj=geocent" in crs.toProj()
                or crs.mapUnits() != QgsUnitTypes.DistanceUnit.DistanceMeters
            ):
                return False, self.tr(
                    "“{}”: {} is not a projected CRS in metres. Choose one, or leave it empty."
                ).format(self.label(self.WORKING_CRS), crs.userFriendlyIdentifier())
        return True, ""

    def prepareAlgorithm(self, parameters, context, feedback):
        # In the main thread, where the layer lives; the rest may run in another one.
        self.file = file_behind(
            self.parameterAsVectorLayer(parameters, self.INPUT, context), parameters.get(self.INPUT)
        )
        return super().prepareAlgorithm(parameters, context, feedback)

    def epochs(self, source, parameters, context, feedback, progress):
        """Read the input; see `epoch_layer.read_epochs`."""
        text = self.parameterAsString
        choices = Choices(
            text(parameters, self.TIME_FIELD, context),
            self.field_names(parameters, self.CAPTURE_FIELDS, context),
            text(parameters, self.FIX_FIELD, context),
            text(parameters, self.FIXED_VALUES, context),
            text(parameters, self.H_ACCURACY_FIELD, context),
            text(parameters, self.V_ACCURACY_FIELD, context),
            {
                roles.TIME: self.label(self.TIME_FIELD),
                roles.CAPTURE: self.label(self.CAPTURE_FIELDS),
                roles.FIX: self.label(self.FIX_FIELD),
                roles.H_ACCURACY: self.label(self.H_ACCURACY_FIELD),
                roles.V_ACCURACY: self.label(self.V_ACCURACY_FIELD),
                "take_as_stream": self.label(self.TAKE_AS_STREAM),
                "fixed_values": self.label(self.FIXED_VALUES),
            },
            self.parameterAsBool(parameters, self.TAKE_AS_STREAM, context),
        )
        working = (
            self.parameterAsCrs(parameters, self.WORKING_CRS, context)
            if self.parameterDefinition(self.WORKING_CRS) is not None
            else QgsCoordinateReferenceSystem()
        )
        layer = read_epochs(
            source, self.file, choices, working, context.transformContext(), feedback, progress
        )
        limit = self.parameterAsDouble(parameters, self.MAX_H_ACCURACY, context)
        refuse_other_unit(layer.table, layer.h_field, limit, self.label(self.MAX_H_ACCURACY))
        return layer

    def pass_rows(self, source, layer, row_sinks, parameters, feedback, progress):
        """Fill the sinks made by `Outputs.add_rows`."""
        table = layer.table
        unsure = not (np.isfinite(table.x).all() and np.isfinite(table.y).all())
        for writer, _, _ in row_sinks:
            writer.unsure = unsure
        pass_on(
            source,
            layer.ids,
            layer.is_line,
            is_whole(parameters.get(self.INPUT)),
            row_sinks,
            feedback,
            progress,
        )

    # Log

    def say_counts(self, layer, reason, feedback):
        """Epochs read, fixed, kept and rejected by reason."""
        total, kept = len(reason), int(np.count_nonzero(reason == Reason.KEPT))
        feedback.pushInfo(self.tr("Epochs read: {} from “{}”.").format(total, layer.name))
        feedback.pushInfo(
            self.tr("RTK fixed: {}.").format(int(np.count_nonzero(layer.table.fixed)))
        )
        feedback.pushInfo(self.tr("Kept: {}. Rejected: {}.").format(kept, total - kept))
        counts = np.bincount(reason, minlength=len(REASON_NAMES))
        for why in np.argsort(-counts, kind="stable").tolist():
            if why != Reason.KEPT and counts[why]:
                feedback.pushInfo(f"    {REASON_NAMES[why]}: {counts[why]}")
        self._warn_of_counts(layer, counts, feedback)
        return kept

    def _warn_of_counts(self, layer, counts, feedback):
        """Say what to look at where most epochs were rejected, or many for one time."""
        total = int(counts.sum())
        why = Reason(1 + int(np.argmax(counts[1:])))
        if counts[Reason.KEPT] < total / 2 and counts[why]:
            pass
        elif counts[Reason.REPEAT] > SCREENING.many_repeats * total:
            why = Reason.REPEAT
        else:
            return
        feedback.pushWarning(
            self.tr("Layer “{}”: {} of {} epochs were rejected, {} of them as “{}”. {}").format(
                layer.name,
                total - int(counts[Reason.KEPT]),
                total,
                int(counts[why]),
                REASON_NAMES[why],
                self._remedy(layer, why),
            )
        )

    def say_stream(self, stream, table, feedback):
        """Interval and spacing found, and the limits that follow from them or were given."""
        used = np.flatnonzero(np.bincount(table.capture, np.isfinite(table.seconds)))
        if not len(used):
            return

        def span(values, decimals):
            low, high = float(np.min(values[used])), float(np.max(values[used]))
            texts = [printed(f"{value:.{decimals}f}") for value in (low, high)]
            return texts[0] if texts[0] == texts[1] else " – ".join(texts)

        feedback.pushInfo(
            self.tr("Captures: {}. Stream: one epoch in {} s, {} m apart.").format(
                len(used), span(stream.interval, 2), span(stream.spacing, 2)
            )
        )
        if np.median(stream.spacing[used]) > PLAUSIBILITY.longest_step:
            feedback.pushWarning(
                self.tr(
                    "Epochs are {} m apart: nobody walks so fast, and edges drawn through them"
                    " would be straight lines between far places. Check the field in “{}”, and the"
                    " times."
                ).format(span(stream.spacing, 2), self.label(self.CAPTURE_FIELDS))
            )
        feedback.pushInfo(
            self.tr("Limits: an edge breaks at pauses over {} s and at steps over {} m.").format(
                span(stream.time_limit, 2), span(stream.distance_limit, 2)
            )
        )

    def say_without_heights(self, layer, sentence, feedback):
        """Say that no epoch has a height, and where heights may stand."""
        if np.isfinite(layer.table.z).any():
            return
        if layer.height_field:
            sentence += " " + self.tr(
                "Field “{}” may hold heights: where it does, bring it into the points first, with"
                " “Set Z value”, or as the Z field where a text file is opened."
            ).format(layer.height_field)
        feedback.pushWarning(sentence)

    def refuse_if_nothing_usable(self, layer, reason):
        """Raise where no epoch at all can be used, or none since most have one time; too few of
        them is no reason to stop."""
        counts = np.bincount(reason, minlength=len(REASON_NAMES))
        one_time = counts[Reason.REPEAT] > counts[Reason.TOO_SHORT]
        if counts[Reason.KEPT] or (counts[Reason.TOO_SHORT] and not one_time):
            return
        top = int(np.argmax(counts))
        raise QgsProcessingException(
            self.tr("Layer “{}”: all {} epochs were rejected, {} of them as “{}”. {}").format(
                layer.name,
                len(reason),
                int(counts[top]),
                REASON_NAMES[top],
                self._remedy(layer, Reason(top)),
            )
        )

    def _remedy(self, layer, why):
        if why == Reason.NOT_FIXED:
            return self.tr(
                "Check “{}” (field “{}” was used) and “{}”, or capture with a fixed solution."
            ).format(self.label(self.FIX_FIELD), layer.fix_field, self.label(self.FIXED_VALUES))
        if why == Reason.POOR_ACCURACY:
            least = np.nanmin(layer.table.sigma_h)  # infinite where none can be one
            return self.tr(
                "The best value of field “{}” is {:.4g}. If it is in metres, raise “{}”; if it is"
                " in another unit, bring it into metres, or choose another field in “{}”."
            ).format(
                layer.h_field,
                least,
                self.label(self.MAX_H_ACCURACY),
                self.label(self.H_ACCURACY_FIELD),
            )
        if why == Reason.NO_POSITION:
            return self.tr(
                "Check the geometry: rows must hold single points, as the layer says, and its CRS"
                " must be the right one."
            )
        if why == Reason.NO_TIME:
            return self.tr("Choose the field that holds the time in “{}”.").format(
                self.label(self.TIME_FIELD)
            )
        if why == Reason.REPEAT:
            return self.tr(
                "They have the time of another epoch of their capture. Choose a field with a time"
                " for each epoch in “{}”, or one that tells walks apart in “{}”."
            ).format(self.label(self.TIME_FIELD), self.label(self.CAPTURE_FIELDS))
        if why == Reason.TOO_SHORT and _on_one_spot(layer.table):
            return self.tr(
                "All positions lie within {:g} m of each other: check the CRS of the layer, and the"
                " transformation that the project sets for it."
            ).format(PLAUSIBILITY.one_spot)
        if why == Reason.TOO_SHORT:
            return self.tr("Check the field in “{}”: it parts what belongs together.").format(
                self.label(self.CAPTURE_FIELDS)
            )
        return self.tr("Look at the reasons above and loosen the limits.")


def _on_one_spot(table):
    """Whether all positions lie where nobody can have walked an edge."""
    there = np.isfinite(table.x) & np.isfinite(table.y)
    if not there.any():
        return False
    return bool(max(np.ptp(table.x[there]), np.ptp(table.y[there])) < PLAUSIBILITY.one_spot)
