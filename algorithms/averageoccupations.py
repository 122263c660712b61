"""Spot points: epochs taken standing still, averaged with weights, spread and uncertainty."""

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.epochs.reasons import Reason
from .base.epoch_algorithm import EpochAlgorithm
from .base.outputs import Outputs
from .host.feedback import raise_if_cancelled
from .host.fields import NewField
from .host.figures import printed
from .writing import sinks, styles

POINT_FIELDS = (
    NewField("point_id", "Int", "Number of the point, from 1."),
    NewField("capture", "QString", "The capture that the point belongs to."),
    NewField("started", "QDateTime", "Time of the first epoch used, UTC."),
    NewField("ended", "QDateTime", "Time of the last epoch used, UTC."),
    NewField(
        "started_unix",
        "Double",
        "Time of the first epoch used as a number.",
        "s since 1970",
        length=20,
        decimals=3,
    ),
    NewField(
        "ended_unix",
        "Double",
        "Time of the last epoch used as a number.",
        "s since 1970",
        length=20,
        decimals=3,
    ),
    NewField("duration", "Double", "From the first to the last epoch used.", "s"),
    NewField("epochs", "Int", "Epochs that were averaged."),
    NewField("rejected", "Int", "Epochs of the stop that were rejected."),
    NewField("sd_east", "Double", "Standard deviation of a single epoch, east.", "m"),
    NewField("sd_north", "Double", "Standard deviation of a single epoch, north.", "m"),
    NewField("sd_up", "Double", "Standard deviation of a single epoch, up.", "m"),
    NewField(
        "rms_horizontal",
        "Double",
        "RMS of the horizontal distances of the epochs from the point.",
        "m",
    ),
    NewField("max_horizontal", "Double", "Maximum of these distances.", "m"),
    NewField(
        "sigma_east",
        "Double",
        "Uncertainty of the mean, east, 1-sigma, with the part of the receiver's error "
        "that only minutes average out.",
        "m",
    ),
    NewField("sigma_north", "Double", "The same, north.", "m"),
    NewField(
        "sigma_h", "Double", "The same, radial: the root of the sum of the squares of both.", "m"
    ),
    NewField("sigma_up", "Double", "The same, up.", "m"),
)
REJECTED_FIELDS = (
    NewField(
        "reason",
        "QString",
        "Why the epoch was not averaged: the reasons of “Reconstruct edges”, `moving`, `too_few`.",
    ),
    NewField("detail", "QString", "The same in words, with the amount where there is one."),
)
USED_FIELDS = (
    NewField("point_id", "Int", "The point that the epoch was averaged into."),
    NewField("residual_east", "Double", "Epoch minus point, east.", "m"),
    NewField("residual_north", "Double", "Epoch minus point, north.", "m"),
    NewField("residual_up", "Double", "Epoch minus point, up.", "m"),
)
WIDE = 3.0  # times the layer's noise, from which the spread of a point deserves a warning


class AverageOccupations(EpochAlgorithm):
    NAME = "averageoccupations"
    TITLE = QT_TRANSLATE_NOOP("AverageOccupations", "Average occupations")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "AverageOccupations",
        "Spot points from epochs taken standing still: weighted mean, spread, number of epochs"
        " and uncertainty.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "AverageOccupations",
        "spot point,occupation,average,mean,weighted,standing,stop,dwell,control,check"
        " point,gnss,rtk,epochs,standard deviation,outlier,survey"
        ",stakeout check,as-built",
    )
    HELP = QT_TRANSLATE_NOOP(
        "AverageOccupations",
        "Turns epochs that were taken standing still into one point for each stop. A stop is"
        " identified by capture, time and place: epochs of one capture that follow each other and"
        " stay within the radius. A capture may hold one spot point or several stops, or a walk"
        " with stops on it; a trigger released and pressed again at one place does not end a"
        " stop. Where a point was occupied again at another time under another name, or after"
        " other places, it is a point of its own: that is your check.\n\nLeft out, each epoch"
        " with its reason: no position, no time, not fixed, poor accuracy, repeated time, taken"
        " on the way (“moving”), too few at one place (“too_few”), and gross ones, which deviate"
        " from the median of their stop by more than 3.4 (in height 3) robust standard"
        " deviations (Hampel identifier: 1.4826 times the median absolute deviation, with wider"
        " limits for few epochs). Of two epochs nothing tells which one is wrong: look at their"
        " spread. Every row read is either used or rejected.\n\nPoints: PointZ in the layer's"
        " CRS at the weighted mean (weights 1/sigma² from the accuracy fields, else equal),"
        " with capture, started, ended, duration (s), epochs (used), rejected (others of the"
        " same capture in that time); sd_east, sd_north, sd_up: standard deviation of one epoch"
        " (n − 1); rms_horizontal, max_horizontal: distances of the epochs from the mean;"
        " sigma_east, sigma_north, sigma_up: 1-sigma of the mean, sigma_h the radial one. East"
        " and north are true ones.\n\nsigma is more than the spread over the root of n. Of the"
        " receiver's error half the reported variance (5 mm in plan and 8 mm up where nothing"
        " is reported) stays the same over a minute and averages out only over minutes: 74 % of"
        " it is left after one, 32 % after five. A pole leans one way for a while, too. A wrong"
        " base, a wrong antenna height or a pole out of plumb is in no sigma: occupy again at"
        " another time, with another set-up.\n\nAll settings are in metres, whatever the"
        " layer's CRS. Rows may come in any order. The result is of mapping grade: it is no"
        " boundary survey, and not for stake-out without a licensed surveyor.",
    )
    FIELD_TABLES = {"POINTS": POINT_FIELDS, "REJECTED": REJECTED_FIELDS, "USED": USED_FIELDS}
    WITH_SOURCE_FIELDS = (
        "REJECTED",
        "USED",
    )

    MIN_EPOCHS, RADIUS, MIN_DWELL = "MIN_EPOCHS", "RADIUS", "MIN_DWELL"
    POINTS, REJECTED, USED = "POINTS", "REJECTED", "USED"
    EPOCHS_READ, EPOCHS_USED, EPOCHS_REJECTED, NUMBER = (
        "EPOCHS_READ",
        "EPOCHS_USED",
        "EPOCHS_REJECTED",
        "NUMBER_OF_POINTS",
    )

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        self.add_input(
            self.tr(
                "Epochs as points, in any CRS, with or without Z, rows in any order; or lines, with"
                " M as the time of each vertex or in the order of their vertices; or polygons, each"
                " ring of which is a capture."
            ),
        )
        self.add_fields()

    def add_settings(self):
        """Limits and choices."""
        self.add_accuracy_limit()
        self.add_number(
            self.MIN_EPOCHS,
            self.tr("Minimum number of epochs"),
            2,
            self.tr(
                "A point needs at least this many epochs after gross ones are left out; with fewer"
                " they are rejected as “too_few”."
            ),
            low=2,
        )
        self.add_distance(
            self.RADIUS,
            self.tr("Radius of a stop (m)"),
            0.15,
            self.tr(
                "Epochs of one stop lie within this distance of its middle. More than the noise,"
                " less than a step."
            ),
            minimum=0.01,
        )
        self.add_number(
            self.MIN_DWELL,
            self.tr("Minimum duration of a stop on a walk (seconds)"),
            5.0,
            self.tr(
                "Where a capture also holds the way, standing still for less is not taken for a"
                " point. Captures of a spot alone do not mind it."
            ),
            low=0.0,
            decimals=1,
        )
        self.add_number(
            self.MAX_TIME_GAP,
            self.tr("Maximum pause within a stop (seconds)"),
            0.0,
            self.tr(
                "After a longer pause a stop at the same place is a point of its own. 0: pauses at"
                " one place do not matter."
            ),
            low=0.0,
            decimals=1,
            advanced=True,
        )
        self.add_working_crs()
        self.add_take_as_stream()

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.POINTS,
            self.tr("Averaged points"),
            kinds.TypeVectorPoint,
            self.tr("One point with height for each stop, in the layer's CRS."),
        )
        self.add_sink(
            self.REJECTED,
            self.tr("Rejected epochs"),
            kinds.TypeVectorPoint,
            self.tr(
                "Epochs that were not used, with every source field, the reason, and the detail"
                " in words."
            ),
            optional=True,
        )
        self.add_sink(
            self.USED,
            self.tr("Epochs used"),
            kinds.TypeVectorPoint,
            self.tr(
                "Epochs that were used, with every source field, their point and the residuals"
                " in metres."
            ),
            optional=True,
            shown=False,
        )
        self.add_numbers(
            (self.EPOCHS_READ, self.tr("Epochs read")),
            (self.EPOCHS_USED, self.tr("Epochs used")),
            (self.EPOCHS_REJECTED, self.tr("Epochs rejected")),
            (self.NUMBER, self.tr("Number of points")),
        )

    def work(self, parameters, context, feedback):
        from ..shared.epochs.occupations import average
        from ..shared.epochs.settings import OccupationSettings

        source = self.source(parameters, context)
        settings = OccupationSettings(
            **self.numbers(
                parameters,
                context,
                max_h_accuracy=self.MAX_H_ACCURACY,
                radius=self.RADIUS,
                max_time_gap=self.MAX_TIME_GAP,
                min_dwell=self.MIN_DWELL,
            ),
            min_epochs=self.parameterAsInt(parameters, self.MIN_EPOCHS, context),
        )
        layer = self.epochs(source, parameters, context, feedback, self.progress(feedback, 0, 40))
        result = average(layer.table, settings, self.progress(feedback, 40, 70), layer.step)
        self._say(layer, result, settings, feedback)
        return self._write(source, layer, result, Outputs(self, parameters, context, feedback))

    def _say(self, layer, result, settings, feedback):
        """Counts, and what the points are like."""
        self._say_reasons(layer, result.reason, feedback)
        if not len(result.points):
            feedback.pushWarning(
                self.tr(
                    "Layer “{}” gives no point: nobody stood still for {} epochs within {:.4g} m."
                    " Raise “{}”, lower “{}” or “{}”; for walked edges use “Reconstruct edges”."
                ).format(
                    layer.name,
                    settings.min_epochs,
                    settings.radius,
                    self.label(self.RADIUS),
                    self.label(self.MIN_EPOCHS),
                    self.label(self.MIN_DWELL),
                )
            )
            return
        self._say_points(result, feedback)
        self.say_without_heights(
            layer, self.tr("No epoch has a height: the Z values of the points are NaN."), feedback
        )

    def _say_reasons(self, layer, reason, feedback):
        """Epochs used and rejected by reason; raises where none at all could be looked at."""
        from ..shared.epochs.reasons import MOVING, OCCUPATION_REASONS, TOO_FEW

        counts = np.bincount(reason, minlength=len(OCCUPATION_REASONS))
        if counts[[0, MOVING, TOO_FEW]].sum() == 0:
            top = int(np.argmax(counts))
            raise QgsProcessingException(
                self.tr("Layer “{}”: all {} epochs were rejected, {} of them as “{}”. {}").format(
                    layer.name,
                    len(reason),
                    int(counts[top]),
                    OCCUPATION_REASONS[top],
                    self._remedy(layer, Reason(top)),
                )
            )
        feedback.pushInfo(
            self.tr("Epochs read: {} from “{}”. Used: {}. Rejected: {}.").format(
                len(reason), layer.name, int(counts[0]), len(reason) - int(counts[0])
            )
        )
        for why in np.argsort(-counts, kind="stable").tolist():
            if why and counts[why]:
                feedback.pushInfo(f"    {OCCUPATION_REASONS[why]}: {counts[why]}")

    def _say_points(self, result, feedback):
        """Spread and uncertainty of the points."""
        points = result.points
        feedback.pushInfo(
            self.tr(
                "Points: {}, of {} to {} epochs. One epoch spreads by {} in each direction and {}"
                " in height (1-sigma)."
            ).format(
                len(points),
                int(points.epochs.min()),
                int(points.epochs.max()),
                _millimetres(result.noise, self.tr),
                _millimetres(result.noise_up, self.tr),
            )
        )
        up = points.sigma_up[np.isfinite(points.sigma_up)]
        feedback.pushInfo(
            self.tr(
                "Median uncertainty of the points (1-sigma): {:.1f} mm east, {:.1f} mm north,"
                " {} up."
            ).format(
                1000 * float(np.median(points.sigma_east)),
                1000 * float(np.median(points.sigma_north)),
                _millimetres(np.median(up) if up.size else np.nan, self.tr),
            )
        )
        wide = np.flatnonzero(points.rms_horizontal > WIDE * np.sqrt(2) * result.noise)
        if len(wide):
            feedback.pushWarning(
                self.tr(
                    "Points that spread by more than {1:.0f} times the typical noise: {0} (such"
                    " as point {2}). Look at their epochs."
                ).format(len(wide), WIDE, ", ".join(str(place + 1) for place in wide[:10].tolist()))
            )

    def _write(self, source, layer, result, out):
        """Make the sinks and fill them."""
        points, used = result.points, result.reason == 0
        out.results = {
            self.EPOCHS_READ: len(used),
            self.EPOCHS_USED: int(np.count_nonzero(used)),
            self.EPOCHS_REJECTED: int(np.count_nonzero(~used)),
            self.NUMBER: len(points),
        }
        targets = self._row_targets(result, used, out)
        raise_if_cancelled(out.feedback)
        places = layer.frame.layer(points.x, points.y)
        out.add(
            self.POINTS,
            POINT_FIELDS,
            (QgsWkbTypes.Type.PointZ, source.sourceCrs()),
            styles.OCCUPATIONS,
            sinks.point_geometries(*places, points.z / layer.frame.height_unit),
            self._columns(layer, points),
        )
        rows = out.add_rows(source, targets)
        out.write()
        progress = self.progress(out.feedback, 75, 100)
        self.pass_rows(source, layer, rows, out.parameters, out.feedback, progress)
        return out.results

    def _row_targets(self, result, used, out):
        """Which epochs go to which output; see `Outputs.add_rows`."""
        from ..shared.epochs.occupations import describe_reasons
        from ..shared.epochs.reasons import OCCUPATION_REASONS

        targets = []
        if out.wanted(self.REJECTED):
            columns = (
                sinks.text_cells(result.reason[~used], OCCUPATION_REASONS),
                describe_reasons(result.reason[~used], result.amount[~used]),
            )
            targets.append((self.REJECTED, ~used, REJECTED_FIELDS, columns, styles.NOT_AVERAGED))
        if out.wanted(self.USED):
            columns = tuple(
                sinks.cells(column[used])
                for column in (result.point + 1, result.east, result.north, result.up)
            )
            targets.append((self.USED, used, USED_FIELDS, columns, styles.KEPT))
        return targets

    @staticmethod
    def _columns(layer, points):
        started, ended = points.started + layer.origin, points.ended + layer.origin
        return (
            range(1, len(points) + 1),
            sinks.text_cells(points.capture, layer.captures),
            sinks.utc_cells(started, layer.dated),
            sinks.utc_cells(ended, layer.dated),
            *(
                sinks.cells(column)
                for column in (
                    started,
                    ended,
                    ended - started,
                    points.epochs,
                    points.rejected,
                    points.sd_east,
                    points.sd_north,
                    points.sd_up,
                    points.rms_horizontal,
                    points.max_horizontal,
                    points.sigma_east,
                    points.sigma_north,
                    np.hypot(points.sigma_east, points.sigma_north),
                    points.sigma_up,
                )
            ),
        )


def _millimetres(value, tr):
    return (
        printed(f"{1000 * float(value):.1f} mm") if np.isfinite(value) else tr("an unknown amount")
    )
