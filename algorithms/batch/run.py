"""One run over all capture layers: the main job on each, then what follows."""

import time
from collections import namedtuple

import numpy as np
from qgis.core import QgsCoordinateReferenceSystem, QgsProcessingException, QgsWkbTypes

from ..host.feedback import CancelledError, cancel_check, raise_if_cancelled
from ..host.fields import fields_of
from ..reading.findings.epochs import COMMON_FIELDS
from ..reading.repair_rows import REPAIRS
from . import gathering, history, page, records
from .asked import SUMMED_UP, UPDATED, Asked
from .basemap import BasemapUpdate
from .capture import words_of
from .carry_over import REVIEWED, CarryOver, with_review
from .control import Control
from .main_jobs import MainJobs
from .repairs import lost_sentences
from .result_folder import RUN_LOG
from .stage import Stage
from .stages import Stages

TABLE = QgsWkbTypes.Type.NoGeometry

# What came of a stage: its error and its result in words, one of them empty.
StageRow = namedtuple("StageRow", "name error said warnings seconds")


class Run:
    """The state of one run: parts of results as they come, then the layers written.

    Parameters
    ----------
    algorithm : ProcessCaptures
        With its captures ready to work.
    parameters, context, feedback
        As the host gives them.
    folder : ResultFolder

    Attributes
    ----------
    asked : Asked
    started : str
        Date and time.
    main : MainJobs
    stages : Stages
    made : dict of str to tuple
        Layers ready to be written: fields, geometry type, features, and a CRS where it is another
        than that of the results.
    stage_rows : list of StageRow
    results : list of tuple
        Name and number of rows of each layer written.
    days, differences
        What control says of each day, and of each layer.
    updated : dict of str to int
        What the update of the basemap returned.
    carried : CarryOver or None
        What people had changed in the last results; known when the layers are written.
    history : list of tuple
        Rows of all runs.
    """

    def __init__(self, algorithm, parameters, context, feedback, folder):
        self.algorithm, self.parameters = algorithm, parameters
        self.context, self.feedback, self.folder = context, feedback, folder
        self.tr, self.crs, self.started = algorithm.tr, algorithm.crs, algorithm.now()
        self.asked = Asked.of(algorithm, parameters, context)
        self.made, self.updated, self.carried, self.history = {}, {}, None, []
        self.stage_rows, self.results, self.brought = [], [], []
        self.days, self.differences = [], {}
        self.main, self.stages = MainJobs(self), Stages(self)

    def release(self):
        """Let go of layers and context now: a reference cycle would keep them until after QGIS is
        gone."""
        self.main.release()
        self.stages.release()
        self.context = self.parameters = None
        self.made = {}
        for capture in self.algorithm.captures:
            capture.child = capture.layer = capture.settings = None

    def number(self, name):
        """A parameter that is a number."""
        return self.algorithm.parameterAsDouble(self.parameters, name, self.context)

    @property
    def days_off(self):
        """Number of days that control shows to be off."""
        return sum(day.wrong for day in self.days)

    def work(self):
        """Do all that is asked for, into the folder's new files."""
        if self.algorithm.wanted(self.parameters, self.algorithm.CONTROL):
            self._guarded("control", Stage(self.feedback, 0, 0), self._check_control)
        self._say_crs()
        self.main.work()
        self._gather_main()
        self.stages.work()
        self._write()

    # Stages

    def follow(self, name, stage, do):
        """Do one stage, under its title in the log.

        Parameters
        ----------
        name : str
        stage : Stage
        do : callable
            Takes the stage, and returns what came of it in words.
        """
        raise_if_cancelled(self.feedback)
        self.feedback.pushInfo("")
        self.feedback.pushInfo(self.tr("Stage “{}”").format(self.stage_title(name)))
        self._guarded(name, stage, do)

    def _guarded(self, name, stage, do):
        """Do one stage. Where it fails, that is said and noted: what is there already is of use all
        the same."""
        start, error, said = time.monotonic(), "", ""
        try:
            said = do(stage)
        except CancelledError:
            raise
        except Exception as failure:
            error = words_of(failure)
            stage.pushWarning(
                self.tr("Stage “{}” failed: {}").format(self.stage_title(name), error)
            )
        seconds = time.monotonic() - start
        self.stage_rows.append(StageRow(name, error, said, stage.warnings, seconds))

    def stage_title(self, name):
        """Title of a stage, for people."""
        return {
            "control": self.tr("Control points"),
            "merge": self.tr("Repeat passes"),
            "fit": self.tr("Tangents and arcs"),
            "compare": self.tr("Comparison with existing lines"),
            "revisit": self.tr("Places to revisit"),
            "update": self.tr("Update of existing lines"),
        }[name]

    def _check_control(self, stage):
        """Spot points of each day against control points; the edges do not depend on it."""
        algorithm = self.algorithm
        control = Control(
            algorithm.source(self.parameters, self.context, algorithm.CONTROL),
            self.number(algorithm.CONTROL_DISTANCE),
            self.crs,
            self.context,
            stage,
        )
        for capture in algorithm.captures:
            if not capture.error:
                raise_if_cancelled(self.feedback)
                self._take_spots(control, capture)
        control.check()
        said = control.say()
        self.days, self.differences = control.days, control.of_layer
        return said

    def _take_spots(self, control, capture):
        try:
            control.add(capture, self.context)
        except QgsProcessingException as error:
            # reading it for its edges fails likewise, and then it is named as failed
            self.feedback.pushInfo(
                self.tr("Layer “{}” has no part in the control: {}").format(capture.name, error)
            )

    def _update(self, stage):
        """The existing lines brought up to date, in their own schema and CRS."""
        if self.stages.compared is None:
            raise QgsProcessingException(self.tr("there is no comparison with the existing lines."))
        update = BasemapUpdate(self, self.folder.new)
        rule = self.algorithm.clear_rule(self.parameters, self.context)
        said = update.work(self.algorithm.STAGES["update"](), rule, stage)
        self.made.update(update.made)
        self.updated = update.numbers
        return said

    # Layers of the results

    def _say_crs(self):
        name = self.tr("none (plane metres)")
        if self.crs.isValid():
            name = self.crs.userFriendlyIdentifier()
        self.feedback.pushInfo(self.tr("CRS of the results: {}.").format(name))

    def _gather_main(self):
        """The layers that the main job gave."""
        if self.main.kept is not None and self.main.kept.name:
            self.results.append((self.main.kept.name, self.main.kept.count))
        for name, parts in self.main.parts.items():
            if parts:
                self._gather(name, parts)
        if "rejected" in self.made:
            fields, kind, features = self.made["rejected"]
            fields, features = gathering.with_columns(
                fields, features, COMMON_FIELDS, self.main.rejected_times, self.feedback
            )
            self.made["rejected"] = fields, kind, features

    def gather(self, name, part, label="", carries_layer=True):
        """Take the rows of one output as a layer of the results.

        Parameters
        ----------
        name : str
            Of the layer.
        part : Part
        label : str or callable
            As `Part.label`.
        carries_layer : bool
            As `gathering.all_fields` has it.
        """
        part.label = label
        self._gather(name, [part], carries_layer)

    def _gather(self, name, parts, carries_layer=False):
        fields, kind, features, lost = gathering.gathered(
            parts, self.crs, self.context.transformContext(), self.feedback, carries_layer
        )
        self.say_lost(name, lost)
        self.made[name] = fields, kind, features

    def say_lost(self, name, lost):
        """Warn where rows of a layer have no place in the CRS of the results."""
        if lost:
            self.feedback.pushWarning(
                self.tr(
                    "“{}”: points without a place in the CRS of the results: {}. Their rows have"
                    " no geometry."
                ).format(name, lost)
            )

    def places(self):
        """x and y of the places where somebody walked, in the CRS of the edges."""
        x, y = (np.concatenate([np.zeros(0), *axis]) for axis in zip(*self.main.walked, ((), ())))
        return x, y

    # Writing

    def _write(self):
        """Write all layers, bring in what people changed, update the basemap by it, and sum up."""
        raise_if_cancelled(self.feedback)
        self._take_history()
        self._take_repairs()
        for name in REVIEWED:
            if name in self.made:
                fields, kind, features = self.made[name]
                fields, features = with_review(fields, features, self.feedback)
                self.made[name] = fields, kind, features
        asked, transforms = self.asked, self.context.transformContext()
        carry_over = CarryOver(self.folder, self.crs, transforms, self.feedback)
        carry_over.bring(self._write_layers(asked.stages_end, asked.layers_written))
        if asked.update:
            self.follow("update", Stage(self.feedback, asked.layers_written, UPDATED), self._update)
        self._sum_up()
        carry_over.bring(self._write_layers(UPDATED, SUMMED_UP))
        self.carried, counts = carry_over.finish(self.algorithm.now())
        self.results = list({**dict(self.results), **counts}.items())
        page.write(self, self.folder.new_report)
        self._write_layer(RUN_LOG, *self._table(records.LOG_FIELDS, records.log_rows(self)))
        self.main.fits.write(self.folder.new, cancel_check(self.feedback))
        if self.main.kept is not None and self.main.kept.name:
            self.main.kept.write_stretches()

    def _write_layers(self, start, stop):
        """Write what was made and is not written yet; the names of all results written since the
        last call."""
        written = {name for name, _ in self.results}
        names = [name for name in records.RESULTS if name in self.made and name not in written]
        rest, done = sum(len(self.made[name][2]) for name in names) or 1, 0
        for name in names:
            count = self._write_layer(name, *self.made[name])
            self.results.append((name, count))
            done += count
            self.feedback.setProgress(start + (stop - start) * min(done / rest, 1))
        fresh = [name for name, _ in self.results if name not in self.brought]
        self.brought += fresh
        return fresh

    def _write_layer(self, name, fields, kind, features, crs=None):
        """Write one layer, in the CRS of the results unless it has its own."""
        if kind == TABLE:
            crs = QgsCoordinateReferenceSystem()
        elif crs is None:
            crs = self.crs
        writer = gathering.LayerWriter(
            self.folder.new, name, fields, kind, crs, self.context.transformContext()
        )
        return gathering.write_layer(writer, features, self.feedback)

    @staticmethod
    def _table(definitions, rows):
        """A layer without places."""
        return fields_of(definitions), TABLE, records.features_of(definitions, rows)

    def _sum_up(self):
        """What came of each layer and stage."""
        rows = records.summary_rows(self.algorithm.captures, self.stage_rows)
        self.made["summary"] = self._table(records.SUMMARY_FIELDS, rows)

    def _take_repairs(self):
        """The repairs, with what became of each."""
        repairs, captures = self.main.repairs, self.algorithm.captures
        repairs.refuse_if_changed()
        failed = {capture.name for capture in captures if capture.error}
        done = {capture.name for capture in captures} - failed
        transforms = self.context.transformContext()
        self.made[REPAIRS] = repairs.layer(self.crs, transforms, done, failed)
        if repairs.rows:
            self.feedback.pushInfo(self.tr("Repairs: {}.").format(repairs.words()))
        for said in lost_sentences(repairs):
            self.feedback.pushWarning(said)

    def _take_history(self):
        """The rows that former runs left, and those of this one."""
        added = history.fields_added(self.folder.old)
        former = history.former_rows(self.folder.old, added)
        own = history.new_rows(
            history.next_number(former),
            self.started,
            self.algorithm.captures,
            self.stages.repeatability,
            self.differences,
        )
        self.history = former + [(*row, *(None,) * len(added)) for row in own]
        self.made[history.HISTORY] = self._table((*history.HISTORY_FIELDS, *added), self.history)
