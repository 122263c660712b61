"""What a run wants to know of the epochs of each layer beside the results of the main job."""

import numpy as np

from ...shared.epochs.reasons import REASON_NAMES, Reason
from ...shared.reconstruction.repairs import FoundRepairs
from ..writing.sinks import cells
from .repairs import places_of

# rejected epochs whose position is not where somebody walked
WRONG_PLACE = (Reason.SPIKE, Reason.NO_POSITION)
SOME_DAY = 1.7e9  # s, for times whose day is not known


class KeepsEpochs:
    """Mixed into `reconstructedges`. Keeps time and capture of the epochs rejected, which have
    fields of other names and types in each layer, and takes over a fit where nothing has changed.

    Attributes
    ----------
    fits : Fits
        Set before it works, as are the next two.
    copy_kept : callable
        Copies the kept epochs from the last run; False where they must be written.
    given : Given
    source_crs : QgsCoordinateReferenceSystem
        Set before `repaired` is asked for.
    """

    read = reason = rejected = fits = copy_kept = given = outcome = source_crs = None

    def epochs(self, *arguments):
        self.read = super().epochs(*arguments)
        return self.read

    # parameters: those of `reconstruct`
    def _fitted(self, table, settings, progress, pool, numbers, repairs, grid):
        main_job = super()._fitted

        def fit():
            return main_job(table, settings, progress, pool, numbers, repairs, grid)

        # the grid follows from the positions
        return self.fits.fitted(table, settings, numbers, fit, (repairs, self.repairs))

    def _repairs(self, *_):
        return self.given.repairs

    def _row_targets(self, result, kept, out):
        self.rejected = np.flatnonzero(~kept)
        if out.wanted(self.KEPT) and self.copy_kept():
            out.parameters = {**out.parameters, self.KEPT: None}
        return super()._row_targets(result, kept, out)

    def _say(self, layer, result, feedback):
        self.reason = result.reason
        super()._say(layer, result, feedback)

    def rejected_by_reason(self):
        """Pairs of reason and number of epochs, most frequent first."""
        counts = np.bincount(self.reason, minlength=len(REASON_NAMES)).tolist()
        return [
            (REASON_NAMES[why], counts[why])
            for why in sorted(range(len(counts)), key=lambda why: -counts[why])
            if why != Reason.KEPT and counts[why]
        ]

    def _say_repairs(self, outcome, feedback):
        self.outcome = outcome  # what became of them is said when all layers are done

    def repaired(self, crs, context):
        """What became of the repairs of this layer, and where they act, in the CRS of the
        results."""
        layer = self.read
        found = FoundRepairs.of(self.repairs.placed(layer.captures, layer.origin), layer.table)
        own = self.source_crs
        return self.outcome, places_of(found, self.reason, layer, own, crs, context)

    def release(self):
        """Let go of the epochs."""
        self.read = self.reason = self.fits = self.given = self.outcome = None

    def walked(self, reach):
        """Places where somebody walked, thinned to what the reach needs: x and y in the layer's
        CRS. Epochs that lie elsewhere than where they were taken tell nothing."""
        from ...shared.lines.visits import thinned_places

        table = self.read.table
        told = ~np.isin(self.reason, WRONG_PLACE)
        return self.read.frame.layer(*thinned_places(table.x[told], table.y[told], reach))

    def times_of(self, features):
        """Seconds since 1970 (None without) and capture of rejected epochs as they were written."""
        layer, rows = self.read, {}
        for row in self.rejected.tolist():
            rows.setdefault(int(layer.ids[row]), []).append(row)
        # vertices of a line share its id, and come in order
        in_order = {ident: iter(some) for ident, some in rows.items()}
        order = np.array([next(in_order[feature.id()]) for feature in features], np.int64)
        seconds = layer.table.seconds[order] + (
            layer.origin if layer.dated and np.isfinite(layer.origin) else SOME_DAY
        )
        return cells(seconds), [
            layer.captures[code] for code in layer.table.capture[order].tolist()
        ]
