"""The main job on each capture layer of a run."""

import time

from qgis.core import QgsCoordinateTransform, QgsProcessingException

from ..host.feedback import CancelledError, raise_if_cancelled
from ..host.quotes import quoted
from ..reading.operations import warn_of_operation
from ..reading.transforms import transform
from . import history
from .capture import words_of
from .copies import Copies
from .fits import Fits
from .gathering import Part
from .kept import KeptEpochs
from .repairs import BatchRepairs
from .stage import Stage

GATHERED = {"OUTPUT": "edges", "GAPS": "gaps", "REJECTED": "rejected"}  # layers by output


class MainJobs:
    """The main job on all layers, one after the other.

    Parameters
    ----------
    run : Run

    Attributes
    ----------
    parts : dict of str to list of Part
        What the layers gave, by layer of the results.
    rejected_times : list of tuple
        Values of `COMMON_FIELDS` of each row of `rejected`.
    walked : list of tuple of ndarray
        x and y of places where somebody walked, of each layer, in the CRS of the results; only
        where lines are compared.
    edge_count, gap_count : int
    length : float
        Of all edges, metres on the ground.
    kept : KeptEpochs or None
        None where they are not wanted. This and what follows are there from `work` on.
    fits : Fits
    repairs : BatchRepairs
    """

    def __init__(self, run):
        self.run, self.feedback, self.tr = run, run.feedback, run.tr
        self.captures = run.algorithm.captures
        self.parts = {name: [] for name in GATHERED.values()}
        self.rejected_times, self.walked = [], []
        self.edge_count, self.gap_count, self.length = 0, 0, 0.0
        self.kept = self.fits = self.repairs = None
        self.copies = Copies()

    def work(self):
        """Do them; kept epochs are written as they come."""
        self._open(self.run.folder)
        total, before = max(sum(capture.weight for capture in self.captures), 1), 0
        share = self.run.asked.layers_end / total
        for number, capture in enumerate(self.captures, 1):
            raise_if_cancelled(self.feedback)
            stage = Stage(self.feedback, share * before, share * (before + capture.weight))
            before += capture.weight
            self.feedback.pushInfo("")
            self.feedback.pushInfo(
                self.tr("Layer {} of {}: “{}”").format(number, len(self.captures), capture.name)
            )
            start = time.monotonic()
            if not capture.error:
                self._reconstruct(capture, stage)
            capture.seconds, capture.warnings = time.monotonic() - start, stage.warnings
            if capture.error:
                self.feedback.pushWarning(
                    self.tr("Layer “{}” failed: {}").format(capture.name, capture.error)
                )
        if self.kept is not None:
            self.kept.close()
        self._refuse_if_all_failed()

    def release(self):
        """Let go of layers and context."""
        if self.kept is not None:
            self.kept.release()
        self.kept = self.fits = self.run = None
        self.parts = {}

    def _open(self, folder):
        """What the last run left, and what takes the kept epochs."""
        self.fits, self.repairs = Fits(folder.old), BatchRepairs(folder.old)
        if self.run.asked.epochs:
            added = self.run.algorithm.KEPT_FIELDS
            self.kept = KeptEpochs(folder.new, folder.old, self.captures, added, self.run)

    def _refuse_if_all_failed(self):
        if all(capture.error for capture in self.captures):
            raise QgsProcessingException(
                self.tr("No layer was processed. Failed: {}. {}").format(
                    len(self.captures),
                    " ".join(
                        f"{quoted(capture.name)}: {capture.error}" for capture in self.captures
                    ),
                )
            )

    def _reconstruct(self, capture, stage):
        """Edges of one layer; an error is noted there."""
        parts, child = {}, capture.child

        def open_part(name, fields, geometry_type, crs):
            parts[name] = self._part(capture, name, fields, geometry_type, crs)
            return parts[name]

        def copy_kept():
            return self.kept.copy(capture, self.fits, self.edge_count)

        child.open_part, child.copy_kept, child.fits = open_part, copy_kept, self.fits
        child.given = given = self.repairs.of(capture.name)
        try:
            capture.numbers = child.work(capture.settings, self.run.context, stage)
        except CancelledError:
            raise
        except Exception as error:  # whatever is wrong with one layer, the others go on
            capture.error = words_of(error)
            return
        finally:
            child.open_part = child.copy_kept = None
        self._take(capture, parts, given, stage)

    def _part(self, capture, name, fields, geometry_type, crs):
        """What takes the rows of one output of a layer; numbers go on from those before it."""
        shift = {
            "edge_id": self.edge_count,
            "after_edge": self.edge_count,
            "before_edge": self.edge_count,
            "gap_id": self.gap_count,
        }
        own = {}
        if name != "REJECTED":
            own = {key: amount for key, amount in shift.items() if key in fields.names()}
        part = Part(fields, geometry_type, crs, capture.name, own)
        if name == "KEPT":
            part.stream = self.kept.taking(capture, part)
        return part

    def _take(self, capture, parts, given, stage):
        """Take what a capture gave, and count it."""
        child = capture.child
        if self.kept is not None:
            self.kept.finish()
        if self.fits.last_taken_over:
            stage.pushInfo(self.tr("Nothing has changed: the fit of the last run was taken over."))
        if given.repairs is not None:
            child.source_crs = capture.layer.crs()
            done = child.repaired(self.run.crs, self.run.context.transformContext())
            self.repairs.take(capture.name, given, *done)
        self._warn_of_way(capture, stage)
        self._warn_of_copies(capture, parts["OUTPUT"].rows, stage)
        if "REJECTED" in parts:
            seconds, walks = child.times_of(parts["REJECTED"].rows)
            self.rejected_times += [
                (moment, f"{capture.name}: {walk}") for moment, walk in zip(seconds, walks)
            ]
        capture.reasons = child.rejected_by_reason()
        capture.sigma = history.sigma_of(parts["OUTPUT"].rows)
        if self.run.asked.compare:
            self.walked.append(self._walked(capture))
        child.release()
        for output, name in GATHERED.items():
            if output in parts:
                self.parts[name].append(parts[output])
        capture.gaps = len(parts["GAPS"].rows)
        self.edge_count += capture.numbers["EDGES"]
        self.gap_count += capture.gaps
        self.length += capture.numbers["LENGTH"]

    def _way(self, capture):
        """From the CRS of a capture to that of the results."""
        context = self.run.context.transformContext()
        return QgsCoordinateTransform(capture.layer.crs(), self.run.crs, context)

    def _warn_of_way(self, capture, stage):
        warn_of_operation(self._way(capture), (capture.name, self.tr("results")), stage)
        if not capture.layer.crs().isValid() and self.run.crs.isValid():
            stage.pushWarning(
                self.tr(
                    "“{}” has no CRS: its coordinates are taken as those of the results."
                ).format(capture.name)
            )

    def _warn_of_copies(self, capture, edges, stage):
        for other, number in self.copies.of(capture.name, edges, self._way(capture)):
            stage.pushWarning(
                self.tr(
                    "“{}” and “{}” hold the same walks: {} of {} edges have the same capture, times"
                    " and place in both. They are double in the results; leave one of the layers"
                    " out."
                ).format(other, capture.name, number, len(edges))
            )

    def _walked(self, capture):
        """Places where the epochs of a capture lie, thinned, in the CRS of the results."""
        x, y = capture.child.walked(self.run.asked.reach)
        way = self._way(capture)
        return transform(way, x, y) if way.isValid() and not way.isShortCircuited() else (x, y)
