"""One run over all capture layers: the main job on each, then what follows."""

import re
import time
from dataclasses import replace

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsProcessingException,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QCoreApplication

from ...shared.language import speaking
from ..host.feedback import CancelledError, cancel_check, raise_if_cancelled
from ..host.fields import fields_of, is_null
from ..host.figures import printed
from ..host.moments import days_in_words
from ..host.versions import versions
from ..reading.findings.epochs import COMMON_FIELDS
from ..reading.frames import transform
from ..reading.operations import warn_of_operation
from ..reading.repair_rows import REPAIRS
from . import gathering, history, records
from .basemap import BasemapUpdate
from .carry_over import REVIEWED, CarryOver, with_review
from .control import Control, sentence
from .edge_map import edges_in_frame
from .fits import Fits
from .gathering import Part
from .kept import KeptEpochs
from .repairs import BatchRepairs, lost_sentences
from .result_folder import RUN_LOG
from .stage import Stage

OF_COMPARISON = (
    "MAX_OFFSET",
    "STATION_SPACING",
    "EXISTING_SIGMA",
    "REMOVE_SHIFT",
    "AREA",
    "REACH",
)


NOT_SETTINGS = "LAYERS", "FOLDER", "REPORT_PDF"  # named elsewhere on the page, or by themselves
TABLE = QgsWkbTypes.Type.NoGeometry


class Capture:
    """One capture layer and what came of it.

    Attributes
    ----------
    name : str
    error : str
        Why it failed; empty where it did not.
    child : ReconstructEdges
        Ready to work; None where the layer cannot be used at all.
    numbers : dict
        What the main job returned.
    """

    def __init__(self, given, layer):
        self.given, self.layer, self.error, self.child, self.numbers = given, layer, "", None, {}
        self.gaps = self.warnings = 0
        self.seconds = 0.0
        self.reasons, self.sigma = (), None  # rejected epochs by reason; median of the edges
        self.name = layer.name() if layer is not None else str(given)

    def prepare(self, make_child, settings, with_epochs, context, feedback, tr):
        if not isinstance(self.layer, QgsVectorLayer) or not self.layer.isValid():
            self.error = (
                tr("it cannot be opened. Check its path and the name of the layer.")
                if self.layer is None
                else tr("it is no vector layer.")
            )
            return
        self.settings = {**settings, "INPUT": self.layer, "OUTPUT": "memory:", "GAPS": "memory:"}
        if with_epochs:
            self.settings.update(KEPT="memory:", REJECTED="memory:")
        child = make_child()
        try:
            child.begin(self.settings, context, feedback)
        except QgsProcessingException as error:
            self.error = str(error)
            return
        self.child, self.name = child, child.title(self.settings, "INPUT", context)
        if context.temporaryLayerStore().mapLayer(self.layer.id()) is not None:
            # opened by its path it is called like the file, whichever of its layers it is
            self.layer.setName(self.name)

    @property
    def weight(self):
        """Of its part of the work; there is a little to do even for an empty layer."""
        return 1000 + max(self.layer.featureCount(), 0) if self.child is not None else 0


class Run:
    """The state of one run: parts of results as they come, then the layers written."""

    def __init__(self, algorithm, parameters, context, feedback):
        self.algorithm, self.parameters, self.context, self.feedback = (
            algorithm,
            parameters,
            context,
            feedback,
        )
        self.tr, self.crs = algorithm.tr, algorithm.crs
        self.started = algorithm.now()

        def flag(name):
            return algorithm.parameterAsBool(parameters, name, context)

        self.merge, self.fit, self.revisit = (
            flag(algorithm.MERGE_PASSES),
            flag(algorithm.FIT_ALIGNMENTS),
            flag(algorithm.LIST_REVISITS),
        )
        self.epochs_too = flag(algorithm.WRITE_EPOCHS)
        self.compare = (
            not is_null(parameters.get(algorithm.EXISTING))
            and parameters.get(algorithm.EXISTING) != ""
        )
        self.update = algorithm.parameterAsEnum(parameters, algorithm.UPDATE_BASEMAP, context)
        self.parts = {"edges": [], "gaps": [], "rejected": []}
        self.rejected_times = []  # values of `COMMON_FIELDS` of each row of `rejected`
        # by the layer that tells of a place to revisit: source layer of each of its rows
        self.labels = {}
        self.made = {}  # layers ready to be written: fields, geometry type, features
        self.stage_rows, self.results, self.brought = [], [], []
        self.updated = {}  # numbers of the update of the basemap
        self.edge_count, self.gap_count, self.length = 0, 0, 0.0
        self.repeatability, self.history = {}, []  # of each layer; rows of all runs
        self.compared = self.kept = self.edges = self.carried = self.fits = self.repairs = None
        self.days, self.differences = [], {}  # what control says of each day, and of each layer
        self.existing_title = self.verdict = ""
        self.walked, self.reach = [], algorithm.parameterAsDouble(parameters, "REACH", context)
        self.following = self.merge + self.fit + self.compare + self.revisit
        self.layers_end = 55 if self.following else 80

    def release(self):
        """Let go of layers and context now: a reference cycle would keep them until after QGIS is
        gone."""
        if self.kept is not None:
            self.kept.release()
        self.edges = self.kept = self.context = self.parameters = self.fits = None
        self.made, self.parts = {}, {}
        for capture in self.algorithm.captures:
            capture.child = capture.layer = capture.settings = None

    # Before all else

    @property
    def days_off(self):
        """Number of days that control shows to be off."""
        return sum(day.wrong for day in self.days)

    def check_control(self):
        """Spot points of each day against control points; the edges do not depend on it."""
        algorithm, start, error, said = self.algorithm, time.monotonic(), "", ""
        if is_null(self.parameters.get(algorithm.CONTROL)) or not self.parameters.get(
            algorithm.CONTROL
        ):
            return
        stage = Stage(self.feedback, 0, 0)
        try:
            control = Control(
                algorithm.source(self.parameters, self.context, algorithm.CONTROL),
                algorithm.parameterAsDouble(
                    self.parameters, algorithm.CONTROL_DISTANCE, self.context
                ),
                self.crs,
                self.context,
                stage,
            )
            for capture in algorithm.captures:
                self._take_spots(control, capture)
            control.check()
            said = control.say()
            self.days, self.differences = control.days, control.of_layer
        except CancelledError:
            raise
        except Exception as failure:  # the edges can be made all the same
            error = self._failed("control", failure, stage)
        self.stage_rows.append(("control", error, said, stage.warnings, time.monotonic() - start))

    def _take_spots(self, control, capture):
        if capture.error:
            return
        raise_if_cancelled(self.feedback)
        try:
            control.add(capture, self.context)
        except QgsProcessingException as error:
            # reading it for its edges fails likewise, and then it is named as failed
            self.feedback.pushInfo(
                self.tr("Layer “{}” has no part in the control: {}").format(capture.name, error)
            )

    # Layer by layer

    def captures(self, folder):
        """The main job on each layer; kept epochs are written as they come."""
        captures = self.algorithm.captures
        self.feedback.pushInfo(
            self.tr("CRS of the results: {}.").format(
                self.crs.userFriendlyIdentifier()
                if self.crs.isValid()
                else self.tr("none (plane metres)")
            )
        )
        self.fits, self.repairs = Fits(folder.old), BatchRepairs(folder.old)
        total, before = max(sum(capture.weight for capture in captures), 1), 0
        if self.epochs_too:
            self.kept = KeptEpochs(
                folder.new, folder.old, captures, self.algorithm.KEPT_FIELDS, self
            )
        for number, capture in enumerate(captures, 1):
            raise_if_cancelled(self.feedback)
            stage = Stage(
                self.feedback,
                self.layers_end * before / total,
                self.layers_end * (before + capture.weight) / total,
            )
            before += capture.weight
            self.feedback.pushInfo("")
            self.feedback.pushInfo(
                self.tr("Layer {} of {}: “{}”").format(number, len(captures), capture.name)
            )
            start = time.monotonic()
            if not capture.error:
                self._capture(capture, stage)
            capture.seconds, capture.warnings = time.monotonic() - start, stage.warnings
            if capture.error:
                self.feedback.pushWarning(
                    self.tr("Layer “{}” failed: {}").format(capture.name, capture.error)
                )
        if self.kept is not None:
            self.kept.close()
            if self.kept.name:
                self.results.append((self.kept.name, self.kept.count))
        if all(capture.error for capture in captures):
            raise QgsProcessingException(
                self.tr("All {} layers failed. {}").format(
                    len(captures),
                    " ".join(f"“{capture.name}”: {capture.error}" for capture in captures),
                )
            )

    def _capture(self, capture, stage):
        parts = {}
        shift = {
            "edge_id": self.edge_count,
            "after_edge": self.edge_count,
            "before_edge": self.edge_count,
            "gap_id": self.gap_count,
        }

        def open_part(name, fields, geometry_type, crs):
            own = (
                {key: amount for key, amount in shift.items() if key in fields.names()}
                if name != "REJECTED"
                else {}
            )
            parts[name] = Part(fields, geometry_type, crs, capture.name, own)
            if name == "KEPT":
                parts[name].stream = self.kept.taking(capture, parts[name])
            return parts[name]

        def copy_kept():
            return self.kept.copy(capture, self.fits, self.edge_count)

        capture.child.open_part, capture.child.fits = open_part, self.fits
        capture.child.copy_kept = copy_kept
        capture.child.given = given = self.repairs.of(capture.name)
        try:
            capture.numbers = capture.child.work(capture.settings, self.context, stage)
        except CancelledError:
            raise
        except Exception as error:  # whatever is wrong with one layer, the others go on
            capture.error = words_of(error)
            return
        finally:
            capture.child.open_part = capture.child.copy_kept = None
        self._take(capture, parts, given, stage)

    def _take(self, capture, parts, given, stage):
        """Take what a capture gave, and count it."""
        if self.kept is not None:
            self.kept.finish()
        if self.fits.last_taken_over:
            stage.pushInfo(self.tr("Nothing has changed: the fit of the last run was taken over."))
        if given.repairs is not None:
            capture.child.source_crs = capture.layer.crs()
            done = capture.child.repaired(self.crs, self.context.transformContext())
            self.repairs.take(capture.name, given, *done)
        way = QgsCoordinateTransform(capture.layer.crs(), self.crs, self.context.transformContext())
        warn_of_operation(way, (capture.name, self.tr("results")), stage)
        if not capture.layer.crs().isValid() and self.crs.isValid():
            stage.pushWarning(
                self.tr(
                    "“{}” has no CRS: its coordinates are taken as those of the results."
                ).format(capture.name)
            )
        if "REJECTED" in parts:
            seconds, walks = capture.child.times_of(parts["REJECTED"].rows)
            self.rejected_times += [
                (time, f"{capture.name}: {walk}") for time, walk in zip(seconds, walks)
            ]
        capture.reasons = capture.child.rejected_by_reason()
        capture.sigma = history.sigma_of(parts["OUTPUT"].rows)
        if self.compare:
            self.walked.append(self._walked(capture))
        capture.child.release()
        for name, target in (("OUTPUT", "edges"), ("GAPS", "gaps"), ("REJECTED", "rejected")):
            if name in parts:
                self.parts[target].append(parts[name])
        capture.gaps = len(parts["GAPS"].rows)
        self.edge_count += capture.numbers["EDGES"]
        self.gap_count += capture.gaps
        self.length += capture.numbers["LENGTH"]

    def _walked(self, capture):
        """Places where the epochs of a capture lie, thinned, in the CRS of the results."""
        x, y = capture.child.walked(self.reach)
        way = QgsCoordinateTransform(capture.layer.crs(), self.crs, self.context.transformContext())
        return transform(way, x, y) if way.isValid() and not way.isShortCircuited() else (x, y)

    # What follows

    def stages(self):
        for name, parts in self.parts.items():
            if not parts:
                continue
            fields, kind, features, lost = gathering.gathered(
                parts, self.crs, self.context.transformContext(), self.feedback
            )
            self.say_lost(name, lost)
            if name == "rejected":
                fields, features = gathering.with_columns(
                    fields, features, COMMON_FIELDS, self.rejected_times, self.feedback
                )
            self.made[name] = fields, kind, features
        if not self.following:
            return
        fields, kind, features = self.made["edges"]
        self.edges, ids = gathering.memory_layer(
            "edges", fields, kind, features, self.crs, self.feedback
        )
        self._remember(ids, features)
        place, step = self.layers_end, 30 / self.following
        for wanted, name, do in (
            (self.merge, "merge", self._merge),
            (self.fit, "fit", self._fit),
            (self.compare, "compare", self._compare),
            (self.revisit, "revisit", self._revisit),
        ):
            if not wanted:
                continue
            raise_if_cancelled(self.feedback)
            stage = Stage(self.feedback, place, place + step)
            place, start, error, said = place + step, time.monotonic(), "", ""
            self.feedback.pushInfo("")
            self.feedback.pushInfo(self.tr("Stage “{}”").format(self._stage_title(name)))
            try:
                said = do(stage)
            except CancelledError:
                raise
            except Exception as failure:  # the edges are there all the same
                error = self._failed(name, failure, self.feedback)
            self.stage_rows.append((name, error, said, stage.warnings, time.monotonic() - start))

    def say_lost(self, name, lost):
        if lost:
            self.feedback.pushWarning(
                self.tr(
                    "“{}”: {} points have no place in the CRS of the results; their rows have no"
                    " geometry."
                ).format(name, lost)
            )

    def _remember(self, ids, features):
        """Which source layer each row of the edges at hand comes from, by feature id and by
        edge_id."""
        self.label_of_id = dict(zip(ids, (feature["layer"] for feature in features)))
        self.label_of_edge = {feature["edge_id"]: feature["layer"] for feature in features}

    def _follow(self, algorithm, stage, outputs, **parameters):
        """Run an algorithm on the edges; its results and its parts by the name of the output."""
        parts = {}

        def open_part(name, fields, geometry_type, crs):
            parts[name] = Part(fields, geometry_type, crs)
            return parts[name]

        algorithm.open_part = open_part
        parameters = {
            **({} if algorithm.name() == "revisits" else {"INPUT": self.edges}),
            **dict.fromkeys(outputs, "memory:"),
            **parameters,
        }
        algorithm.begin(parameters, self.context, stage)
        return algorithm.work(parameters, self.context, stage), parts

    def _gather(self, name, part, label="", carries_layer=True):
        part.label = label
        fields, kind, features, lost = gathering.gathered(
            [part], self.crs, self.context.transformContext(), self.feedback, carries_layer
        )
        self.say_lost(name, lost)
        self.made[name] = fields, kind, features
        return features

    def _merge(self, stage):
        numbers, parts = self._follow(
            self.algorithm.STAGES["merge"](), stage, ("OUTPUT", "PASSES", "DISAGREEMENTS")
        )
        labels = {}
        for row in parts["PASSES"].rows:
            if not is_null(row["edge_id"]):
                labels.setdefault(row["edge_id"], {})[self.label_of_id[row["source_id"]]] = None

        def of_row(row):
            return self.label_of_id[row["source_id"]]

        self.repeatability = history.repeatability_of(parts["PASSES"].rows, of_row)
        self._gather("passes", parts["PASSES"], of_row)
        self._gather("disagreements", parts["DISAGREEMENTS"], of_row)
        features = self._gather(
            "merged", parts["OUTPUT"], lambda row: ", ".join(labels.get(row["edge_id"], ()))
        )
        self.edges, ids = gathering.memory_layer(
            "merged", *self.made["merged"][:2], features, self.crs, self.feedback
        )
        self._remember(ids, features)
        return self.tr("{} edges, {} of them merged from several walks; {} disagreements").format(
            numbers["EDGES"], numbers["MERGED"], len(parts["DISAGREEMENTS"].rows)
        )

    def _fit(self, stage):
        tolerance = self.algorithm.parameterAsDouble(self.parameters, "TOLERANCE", self.context)
        numbers, parts = self._follow(
            self.algorithm.STAGES["fit"](), stage, ("OUTPUT", "ELEMENTS"), TOLERANCE=tolerance
        )
        self._gather("alignments", parts["OUTPUT"])
        self._gather(
            "elements", parts["ELEMENTS"], lambda row: self.label_of_edge.get(row["edge_id"]), False
        )
        return self.tr("{} tangents, {} arcs, {} corners").format(
            numbers["TANGENTS"], numbers["ARCS"], numbers["CORNERS"]
        )

    def _compare(self, stage):
        algorithm = self.algorithm.STAGES["compare"]()
        algorithm.places = self.places()
        given = {name: self.parameters[name] for name in OF_COMPARISON if name in self.parameters}
        _, parts = self._follow(
            algorithm,
            stage,
            ("OUTPUT", "EXISTING_STATUS", "STATIONS", "SUMMARY", "REPORT"),
            EXISTING=self.parameters[self.algorithm.EXISTING],
            **given,
        )
        self._gather("comparison", parts["OUTPUT"])
        self._gather("existing_status", parts["EXISTING_STATUS"], algorithm.titles[1], False)
        self._gather(
            "stations",
            parts["STATIONS"],
            lambda row: self.label_of_id.get(row["edge_line_id"]),
            False,
        )
        self.made["comparison_summary"] = (
            parts["SUMMARY"].fields,
            parts["SUMMARY"].geometry_type,
            parts["SUMMARY"].rows,
        )
        self.compared, self.existing_title = algorithm.compared, algorithm.titles[1]
        self.verdict = algorithm.verdict(self.compared[0])
        return ""  # the report has a part of its own on it

    def places(self):
        """x and y of the places where somebody walked, in the CRS of the edges."""
        x, y = (np.concatenate([np.zeros(0), *axis]) for axis in zip(*self.walked, ((), ())))
        return x, y

    def _revisit(self, stage):
        """Places from all that was found; each list is a layer whose rows have the numbers that
        they get in the GeoPackage."""
        given, layers = {}, []
        for parameter, name in (
            ("EDGES", "edges"),
            ("GAPS", "gaps"),
            ("DISAGREEMENTS", "disagreements"),
            ("PASSES", "passes"),
            ("EXISTING_STATUS", "existing_status"),
            ("REJECTED", "rejected"),
        ):
            fields, kind, features = self.made.get(name, (None, None, ()))
            if not features and name != "edges":
                continue
            if name == "rejected" and all(seconds is None for seconds, _ in self.rejected_times):
                continue
            layer, ids = gathering.memory_layer(
                name, fields, kind, features, self.crs, self.feedback
            )
            layers.append(layer)
            given[parameter] = layer
            self.labels[name] = dict(zip(ids, (feature["layer"] for feature in self.made[name][2])))
        numbers, parts = self._follow(
            self.algorithm.STAGES["revisit"](), stage, ("OUTPUT", "REASONS"), **given
        )

        def of_row(row):
            return self.labels[row["layer"]].get(row["source_id"])

        of_place = {}
        for row in parts["REASONS"].rows:
            of_place.setdefault(row["order"], {})[of_row(row)] = None
        self._gather(
            "revisits",
            parts["OUTPUT"],
            lambda row: ", ".join(label for label in of_place[row["order"]] if label),
            False,
        )
        self._gather("revisit_reasons", parts["REASONS"], of_row, False)
        return self.tr("{} places, {} findings").format(numbers["PLACES"], numbers["FOUND"])

    # Results

    def write(self, folder):
        """Write all layers, bring in what people changed, update the basemap by it, and sum up."""
        raise_if_cancelled(self.feedback)
        self._take_history(folder)
        self._take_repairs()
        for name in REVIEWED:
            if name in self.made:
                fields, kind, features = self.made[name]
                fields, features = with_review(fields, features, self.feedback)
                self.made[name] = fields, kind, features
        carry_over = CarryOver(folder, self.crs, self.context.transformContext(), self.feedback)
        start, middle = 85 if self.following else self.layers_end, 92 if self.update else 97
        carry_over.bring(self._write_layers(folder, start, middle))
        if self.update:
            self._update(folder)
        self._sum_up()
        carry_over.bring(self._write_layers(folder, 97, 98))
        self.carried, counts = carry_over.finish(self.algorithm.now())
        self.results = list({**dict(self.results), **counts}.items())
        self._report(folder)
        self._write_layer(
            folder,
            RUN_LOG,
            fields_of(records.LOG_FIELDS),
            TABLE,
            records.features_of(records.LOG_FIELDS, records.log_rows(self)),
        )
        self.fits.write(folder.new, cancel_check(self.feedback))
        if self.kept is not None and self.kept.name:
            self.kept.write_stretches()

    def _write_layers(self, folder, start, stop):
        """Write what was made and is not written yet; the names of all results written since the
        last call."""
        written = {name for name, _ in self.results}
        names = [name for name in records.RESULTS if name in self.made and name not in written]
        rest, done = sum(len(self.made[name][2]) for name in names) or 1, 0
        for name in names:
            count = self._write_layer(folder, name, *self.made[name])
            self.results.append((name, count))
            done += count
            self.feedback.setProgress(start + (stop - start) * min(done / rest, 1))
        fresh = [name for name, _ in self.results if name not in self.brought]
        self.brought += fresh
        return fresh

    def _write_layer(self, folder, name, fields, kind, features, crs=None):
        """Write one layer, in the CRS of the results unless it has its own."""
        if kind == TABLE:
            crs = QgsCoordinateReferenceSystem()
        elif crs is None:
            crs = self.crs
        writer = gathering.LayerWriter(
            folder.new, name, fields, kind, crs, self.context.transformContext()
        )
        return gathering.write_layer(writer, features, self.feedback)

    def _sum_up(self):
        """What came of each layer and stage."""
        rows = records.summary_rows(self.algorithm.captures, self.stage_rows)
        self.made["summary"] = (
            fields_of(records.SUMMARY_FIELDS),
            TABLE,
            records.features_of(records.SUMMARY_FIELDS, rows),
        )

    def _update(self, folder):
        """The existing lines brought up to date, in their own schema and CRS."""
        stage = Stage(self.feedback, 92, 97)
        start, error, said = time.monotonic(), "", ""
        self.feedback.pushInfo("")
        self.feedback.pushInfo(self.tr("Stage “{}”").format(self._stage_title("update")))
        update = BasemapUpdate(self, folder.new)
        try:
            if self.compared is None:
                raise QgsProcessingException(
                    self.tr("there is no comparison with the existing lines.")
                )
            rule = self.algorithm.clear_rule(self.parameters, self.context)
            said = update.work(self.algorithm.STAGES["update"](), rule, stage)
            self.made.update(update.made)
            self.updated = update.numbers
        except CancelledError:
            raise
        except Exception as failure:  # the edges and the comparison are there all the same
            error = self._failed("update", failure, self.feedback)
        self.stage_rows.append(("update", error, said, stage.warnings, time.monotonic() - start))

    def _take_repairs(self):
        """The repairs, with what became of each."""
        self.repairs.refuse_if_changed()
        failed = {capture.name for capture in self.algorithm.captures if capture.error}
        done = {capture.name for capture in self.algorithm.captures} - failed
        self.made[REPAIRS] = self.repairs.layer(
            self.crs, self.context.transformContext(), done, failed
        )
        if self.repairs.rows:
            self.feedback.pushInfo(self.tr("Repairs: {}.").format(self.repairs.words()))
        for said in lost_sentences(self.repairs):
            self.feedback.pushWarning(said)

    def _take_history(self, folder):
        """The rows that former runs left, and those of this one."""
        former = history.former_rows(folder.old)
        self.history = former + history.new_rows(
            history.next_number(former),
            self.started,
            self.algorithm.captures,
            self.repeatability,
            self.differences,
        )
        self.made[history.HISTORY] = (
            fields_of(history.HISTORY_FIELDS),
            TABLE,
            records.features_of(history.HISTORY_FIELDS, self.history),
        )

    def _failed(self, name, failure, feedback):
        """Say that a stage failed; returns why."""
        error = words_of(failure)
        feedback.pushWarning(
            self.tr("Stage “{}” failed: {}").format(self._stage_title(name), error)
        )
        return error

    def _stage_title(self, name):
        return {
            "control": self.tr("Control points"),
            "merge": self.tr("Repeat passes"),
            "fit": self.tr("Tangents and arcs"),
            "compare": self.tr("Comparison with existing lines"),
            "revisit": self.tr("Places to revisit"),
            "update": self.tr("Update of existing lines"),
        }[name]

    def _settings(self):
        """Settings in words; layers and folder are named elsewhere on the page."""
        empty = []
        for name, value in self.algorithm.settings:
            definition = self.algorithm.parameterDefinition(name)
            if name in (*NOT_SETTINGS, *self.algorithm.TITLE_BLOCK):
                continue
            if value in ("", "None"):
                empty.append(re.sub(r" \([^()]*\)", "", self.algorithm.label(name)))
                continue
            if definition.type() == "boolean":
                value = self.tr("yes") if value == "True" else self.tr("no")
            elif definition.type() == "enum" and value.isdigit():  # else an expression
                value = self.algorithm.choices[name][int(value)]
            elif definition.type() in ("number", "distance"):
                value = printed(value)
            elif name == self.algorithm.EXISTING and self.existing_title:
                value = self.existing_title
            yield self.algorithm.label(name), value
        if empty:
            yield self.tr("left empty"), "; ".join(empty)

    def _block(self):
        """The title block of the report, with the days on which the captures were walked."""
        fields, _, features = self.made["edges"]
        times = [fields.lookupField(name) for name in ("started_unix", "ended_unix")]
        ends = [[row[at] for row in features if not is_null(row[at])] for at in times]
        captured = days_in_words(min(ends[0]), max(ends[1])) if all(ends) else ""
        return replace(self.algorithm.block, captured=captured)

    def _edges_for_map(self):
        """The edges, where no map of a comparison stands in the report."""
        if self.compared:
            return None
        context = self.context.transformContext()
        return edges_in_frame(self.made["edges"][2], self.crs, context)

    def _report(self, folder):
        from ...shared.report import CapturesContext, DayRow, LayerRow, write_captures_report

        layers = []
        for capture in self.algorithm.captures:
            numbers = (
                [0] * 5
                if capture.error
                else [
                    capture.numbers[key]
                    for key in ("EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED", "EDGES", "LENGTH")
                ]
            )
            layers.append(LayerRow(capture.name, capture.error, *numbers, capture.warnings))
        by_hand = self.carried.words()
        said = CapturesContext(
            self.algorithm.folder.name,
            (
                self.crs.userFriendlyIdentifier()
                if self.crs.isValid()
                else self.tr("none (plane metres)")
            ),
            self.started,
            tuple(layers),
            tuple(
                (self._stage_title(name), self.tr("failed: {}").format(error) if error else words)
                for name, error, words, *_ in self.stage_rows
                if error or words
            )
            + ((((self.tr("Changes made by hand"), by_hand),)) if by_hand else ())
            + (((self.tr("Repairs"), self.repairs.words()),) if self.repairs.rows else ()),
            tuple(sorted(self.results, key=lambda result: list(records.RESULTS).index(result[0]))),
            tuple(self._settings()),
            tuple(versions()),
            control=tuple(
                DayRow(
                    wrong=sentence(day) if day.wrong else "",
                    name=day.name,
                    number=day.number,
                    east=day.east,
                    north=day.north,
                    up=day.up,
                    layers=", ".join(day.layers),
                )
                for day in self.days
            ),
            history=tuple(history.by_run(self.history)),
            block=self._block(),
            edges=self._edges_for_map(),
            repairs=self.repairs.for_report(),
        )
        try:
            with speaking(QCoreApplication.translate):
                write_captures_report(
                    folder.new_report,
                    said,
                    *(self.compared or (None, None)),
                    lambda share: raise_if_cancelled(self.feedback),
                )
        except OSError as error:
            raise QgsProcessingException(
                self.tr("The report cannot be written to “{}”: {}.").format(
                    folder.new_report, error.strerror or error
                )
            ) from error


def words_of(error):
    """What went wrong, with the kind of error where it was not foreseen."""
    return (
        str(error)
        if isinstance(error, QgsProcessingException)
        else f"{type(error).__name__}: {error}"
    )
