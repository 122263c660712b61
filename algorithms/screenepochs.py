"""Screening alone: epochs that can be used, and the others with their reasons."""

import numpy as np
from qgis.core import QgsProcessing
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.epochs.reasons import REASON_NAMES, Reason, describe
from ..shared.epochs.screening import screen
from ..shared.epochs.settings import Settings
from .base.epoch_algorithm import EpochAlgorithm
from .base.outputs import Outputs
from .host.fields import NewField
from .writing import sinks, styles

KEPT_FIELDS = (
    NewField(
        "role", "QString", "`single`, or `standing` for epochs at rest that count as one position."
    ),
    NewField("height_used", "Bool", "False where the height alone was rejected as a spike."),
)
REJECTED_FIELDS = (
    NewField(
        "reason",
        "QString",
        "Why the epoch was rejected: `no_position`, `no_time`, `not_fixed`, "
        "`poor_accuracy`, `repeat`, `spike`, `height_spike`, `backtrack`.",
    ),
    NewField("detail", "QString", "The same in words, with the amount where there is one."),
)


class ScreenEpochs(EpochAlgorithm):
    NAME = "screenepochs"
    TITLE = QT_TRANSLATE_NOOP("ScreenEpochs", "Screen epochs")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "ScreenEpochs",
        "Parts the epochs that can be used from the others, with a reason for each of those.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "ScreenEpochs",
        "curb,kerb,gnss,gps,rtk,epochs,filter,quality,spike,outlier,fixed,accuracy,survey"
        ",gps line cleaning,gps cleaning",
    )
    CAUTION_LAST = False
    HELP = QT_TRANSLATE_NOOP(
        "ScreenEpochs",
        "Parts a layer of streamed epochs in two: those that can be used for edges, and the"
        " others, each with its reason (no position, no time, not fixed, poor accuracy,"
        " repeated time, spike) and the detail in words. Every row read is in exactly one of"
        " the two layers, with all its fields.\n\nKept epochs also say whether they were taken"
        " standing still (“role”) and whether their height is usable (“height_used”): a height"
        " that deviates from its neighbours is dropped without the position.\n\nThis is the"
        " first step of “Reconstruct edges”, which needs no screened layer. All settings are in"
        " metres, whatever the CRS.",
    )
    FIELD_TABLES = {"OUTPUT": KEPT_FIELDS, "REJECTED": REJECTED_FIELDS}
    WITH_SOURCE_FIELDS = (
        "OUTPUT",
        "REJECTED",
    )

    OUTPUT, REJECTED = "OUTPUT", "REJECTED"
    EPOCHS_READ, EPOCHS_KEPT, EPOCHS_REJECTED = "EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED"

    def add_settings(self):
        """Limits and choices."""
        self.add_limits()
        self.add_working_crs()
        self.add_take_as_stream()

    def add_outputs(self):
        """What is written and returned."""
        point = QgsProcessing.SourceType.TypeVectorPoint
        self.add_sink(
            self.OUTPUT,
            self.tr("Kept epochs"),
            point,
            self.tr("Epochs that can be used, with every source field."),
        )
        self.add_sink(
            self.REJECTED,
            self.tr("Rejected epochs"),
            point,
            self.tr(
                "Epochs that cannot be used, with every source field, the reason, and the detail in"
                " words."
            ),
            optional=True,
        )
        self.add_numbers(
            (self.EPOCHS_READ, self.tr("Epochs read")),
            (self.EPOCHS_KEPT, self.tr("Epochs kept")),
            (self.EPOCHS_REJECTED, self.tr("Epochs rejected")),
        )

    def work(self, parameters, context, feedback):
        from ..shared.epochs.standing import collapse_standing

        source = self.source(parameters, context)
        settings = Settings(**self.limits(parameters, context))
        layer = self.epochs(source, parameters, context, feedback, self.progress(feedback, 0, 40))
        progress = self.progress(feedback, 40, 60)
        screening = screen(layer.table, settings, lambda share: progress(0.7 * share))
        progress(0.7)
        positions = collapse_standing(layer.table, screening)
        progress(1.0)
        self.refuse_if_nothing_usable(layer, screening.reason)
        self.say_counts(layer, screening.reason, feedback)
        self.say_stream(screening.stream, layer.table, feedback)
        kept = screening.reason == Reason.KEPT
        counts = np.diff(positions.offsets)
        standing = np.zeros(len(kept), bool)
        standing[positions.rows[np.repeat(counts > 1, counts)]] = True
        feedback.pushInfo(
            self.tr(
                "Epochs taken standing still: {}, places: {}. Heights dropped as spikes: {}."
            ).format(
                int(np.count_nonzero(standing)),
                int(np.count_nonzero(counts > 1)),
                int(np.count_nonzero(kept & np.isfinite(layer.table.z) & ~screening.height_ok)),
            )
        )
        out = Outputs(self, parameters, context, feedback)
        out.results = {
            self.EPOCHS_READ: len(kept),
            self.EPOCHS_KEPT: int(np.count_nonzero(kept)),
            self.EPOCHS_REJECTED: int(np.count_nonzero(~kept)),
        }
        rows = out.add_rows(source, self._row_targets(screening, kept, standing, out))
        self.pass_rows(source, layer, rows, parameters, feedback, self.progress(feedback, 60, 100))
        return out.results

    def _row_targets(self, screening, kept, standing, out):
        """Which epochs go to which output; see `Outputs.add_rows`."""
        columns = (
            sinks.text_cells(standing[kept], ("single", "standing")),
            sinks.cells(screening.height_ok[kept]),
        )
        targets = [(self.OUTPUT, kept, KEPT_FIELDS, columns, styles.KEPT)]
        if out.wanted(self.REJECTED):
            columns = (
                sinks.text_cells(screening.reason[~kept], REASON_NAMES),
                describe(screening.reason[~kept], screening.amount[~kept]),
            )
            targets.append((self.REJECTED, ~kept, REJECTED_FIELDS, columns, styles.REJECTED))
        return targets
