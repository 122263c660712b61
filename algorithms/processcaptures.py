"""All capture layers of a project in one run: one GeoPackage and one report, replaced as a
whole."""

import configparser
import platform
import time
from pathlib import Path

import numpy as np
from osgeo import gdal, osr
from qgis.core import (
    Qgis,
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsProcessing,
    QgsProcessingException,
    QgsProcessingFeedback,
    QgsProcessingOutputFile,
    QgsProcessingOutputHtml,
    QgsProcessingOutputNumber,
    QgsProcessingOutputVectorLayer,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterCrs,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameterString,
    QgsProcessingUtils,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, Qt, QThread

from ..shared.epochs.reasons import Reason
from .base.algorithm import Algorithm
from .batch import gathering
from .batch.gathering import Part, Rows, without_sinks
from .batch.loading import show, shown_layers
from .batch.result_folder import GEOPACKAGE, RESULT, RUN_LOG, ResultFolder
from .compareedges import CompareEdges
from .fitalignments import FitAlignments
from .host.feedback import CancelledError, raise_if_cancelled
from .host.fields import NewField, fields_of, is_null, with_new_fields
from .mergepasses import MergePasses
from .reconstructedges import KEPT_FIELDS, ReconstructEdges
from .revisits import Revisits
from .writing import styles
from .writing.sinks import BLOCK, cells, row_geometry_type

GROUP = "Curbwright"
METADATA = Path(__file__).parents[1] / "metadata.txt"
# All layers that a run may write, as they stand in the group, with their styles.
RESULTS = {
    "revisits": styles.REVISITS,
    "comparison": styles.COMPARED,
    "existing_status": styles.EXISTING_STATUS,
    "stations": styles.STATIONS,
    "disagreements": styles.DISAGREEMENTS,
    "alignments": styles.ALIGNMENTS,
    "elements": styles.ELEMENTS,
    "merged": styles.MERGED,
    "edges": styles.EDGES,
    "gaps": styles.GAPS,
    "rejected": styles.REJECTED,
    "kept": styles.KEPT,
    "passes": None,
    "revisit_reasons": None,
    "comparison_summary": None,
    "summary": None,
    RUN_LOG: None,
}
SUMMARY_FIELDS = (
    NewField("layer", "QString", "The capture layer; empty for what concerns all."),
    NewField("stage", "QString", "`reconstruct`, or the step that followed."),
    NewField("state", "QString", "`done` or `failed`."),
    NewField("error", "QString", "Why it failed; empty where it did not."),
    NewField("epochs_read", "LongLong", "Epochs read."),
    NewField("epochs_kept", "LongLong", "Epochs kept."),
    NewField("epochs_rejected", "LongLong", "Epochs rejected."),
    NewField("edges", "LongLong", "Edges made."),
    NewField("gaps", "LongLong", "Gaps found."),
    NewField("length", "Double", "Total length of the edges on the ground.", "m"),
    NewField("warnings", "Int", "Number of warnings in the log."),
    NewField("seconds", "Double", "Time taken.", "s"),
)
LOG_FIELDS = (
    NewField("section", "QString", "`run`, `version`, `parameter`, `layer` or `count`."),
    NewField("name", "QString", "Name of the value."),
    NewField("value", "QString", "The value as text."),
)
OF_FIELDS = ("TIME_FIELD", "CAPTURE_FIELDS", "FIX_FIELD", "H_ACCURACY_FIELD", "V_ACCURACY_FIELD")
OF_MAIN_JOB = (
    "TIME_FIELD",
    "CAPTURE_FIELDS",
    "FIX_FIELD",
    "FIXED_VALUES",
    "H_ACCURACY_FIELD",
    "V_ACCURACY_FIELD",
    "MAX_H_ACCURACY",
    "MAX_TIME_GAP",
    "MAX_DISTANCE_GAP",
    "CORNER_ANGLE",
    "TOLERANCE",
    "MIN_LENGTH",
    "CURVE_MODEL",
    "WORKING_CRS",
)
# what tells which rejected epochs follow each other
EPOCH_TIMES = (
    NewField("reason", "QString"),
    NewField("unix_seconds", "Double"),
    NewField("walk", "QString"),
)
SOME_DAY = 1.7e9  # s, for times whose day is not known
OF_COMPARISON = ("MAX_OFFSET", "STATION_SPACING", "EXISTING_SIGMA", "REMOVE_SHIFT")


class Stage(QgsProcessingFeedback):
    """Feedback of one part of the work: its progress is a stretch of the whole, its warnings are
    counted."""

    def __init__(self, whole, start, stop):
        super().__init__(False)
        self.whole, self.start, self.stop, self.warnings = whole, start, stop, 0
        # Direct: the thread at work has no event loop that would deliver a cancel from the window's
        # thread.
        self.progressChanged.connect(self._pass, Qt.ConnectionType.DirectConnection)
        whole.canceled.connect(self.cancel, Qt.ConnectionType.DirectConnection)
        if whole.isCanceled():
            self.cancel()

    def _pass(self, percent):
        self.whole.setProgress(self.start + (self.stop - self.start) * percent / 100)

    def pushInfo(self, text):
        self.whole.pushInfo(text)

    def pushWarning(self, text):
        self.warnings += 1
        self.whole.pushWarning(text)

    def reportError(self, text, fatalError=False):
        self.whole.reportError(text, False)


class Reconstruction(without_sinks(ReconstructEdges)):
    """Keeps time and capture of the epochs rejected, which have fields of other names and types in
    each layer."""

    read = rejected = None

    def epochs(self, *arguments):
        self.read = super().epochs(*arguments)
        return self.read

    def _rejected_columns(self, result):
        self.rejected = np.flatnonzero(result.reason != Reason.KEPT)
        return super()._rejected_columns(result)

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


class Comparison(without_sinks(CompareEdges)):
    """Keeps what the report needs in place of writing one."""

    compared = None

    def _report(self, path, edges, existing, pair, result, notes, progress):
        from ..shared.report import ReportContext

        self.compared = (
            result,
            ReportContext(
                *self.titles,
                tuple(pair.edge_labels),
                tuple(pair.existing_labels),
                self.crs_title(edges),
                self.crs_title(existing),
                self.now(),
                self._captured(edges),
                (),
                tuple(notes),
            ),
        )


class ProcessCaptures(Algorithm):
    NAME = "processcaptures"
    TITLE = QT_TRANSLATE_NOOP("ProcessCaptures", "Process captures of a project")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "ProcessCaptures",
        "All capture layers at once: edges, alignments, comparison, one GeoPackage and one report.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "ProcessCaptures",
        "batch,project,nightly,unattended,all"
        " layers,chain,workflow,curb,kerb,edge,gnss,rtk,epochs,report,geopackage,survey",
    )
    HELP = QT_TRANSLATE_NOOP(
        "ProcessCaptures",
        "Takes every capture layer of a project from epochs to edges, and on request on to"
        " merged passes, tangents and arcs, and the comparison with existing linework:"
        " “Reconstruct edges”, “Merge repeat passes”, “Fit tangents and arcs”, “Compare edges"
        " with existing linework”, one after the other. Made to be run again every evening, by"
        " hand or unattended.\n\nInto the folder go curbwright.gpkg and report.html. Layers of"
        " the GeoPackage: edges, gaps, rejected, kept; with “Merge repeat passes” merged,"
        " passes and disagreements (edges stay as they were walked, what follows takes the"
        " merged ones); with “Fit tangents and arcs” alignments and elements, fitted to the"
        " edges; with existing lines comparison, existing_status, stations and"
        " comparison_summary; revisits and revisit_reasons (“List places to revisit”, from all"
        " of these); always summary (what came of each layer and stage) and run_log (versions,"
        " parameters, counts: what is needed to repeat the result). All in one CRS. Each row"
        " says in “layer” which capture layer it comes from; edge_id counts through all layers."
        " Fields that only some layers have are empty for the others.\n\nA layer that fails is"
        " named with its error, in the log, the summary and the report; the others go on. If"
        " none is left, the run fails. A stage that fails leaves the edges as they are and is"
        " named likewise.\n\nNew results take the place of the old ones only when all are"
        " complete; a run that fails, is cancelled or cut off leaves the old ones as they were,"
        " and the next run clears what it left. Other layers in the same GeoPackage stay. A"
        " GeoPackage that is being edited, or that Windows holds because it is open, stops the"
        " run with a message.\n\nIn an open project the results are loaded, styled, into the"
        " group “Curbwright”; those that are there already are renewed and keep their"
        " style.\n\nThe field parameters are names that hold for all layers; a layer without"
        " such a field fails. Left empty, fields are found layer by layer. All lengths are"
        " metres, whatever the CRS.\n\nThe result is of mapping grade: it is no boundary"
        " survey, and not for stake-out without a licensed surveyor.",
    )
    FIELD_TABLES = {"summary": SUMMARY_FIELDS, "run_log": LOG_FIELDS}

    LAYERS, EXISTING, MERGE_PASSES, FIT_ALIGNMENTS = (
        "LAYERS",
        "EXISTING",
        "MERGE_PASSES",
        "FIT_ALIGNMENTS",
    )
    LIST_REVISITS, WRITE_EPOCHS, TARGET_CRS, LOAD_RESULTS, FOLDER = (
        "LIST_REVISITS",
        "WRITE_EPOCHS",
        "TARGET_CRS",
        "LOAD_RESULTS",
        "FOLDER",
    )
    GEOPACKAGE, EDGE_LAYER, REPORT = "GEOPACKAGE", "EDGE_LAYER", "REPORT"
    LAYERS_DONE, LAYERS_FAILED, EDGES, LENGTH = "LAYERS_DONE", "LAYERS_FAILED", "EDGES", "LENGTH"
    NEEDS = ("numpy", "scipy", "shapely")

    def initAlgorithm(self, config=None):
        kinds = QgsProcessing.SourceType
        self.add(
            QgsProcessingParameterMultipleLayers(
                self.LAYERS, self.tr("Capture layers"), kinds.TypeVectorAnyGeometry
            ),
            self.tr(
                "Layers of streamed epochs: points, or lines, with M as the time of each vertex or"
                " in the order of their vertices; in any CRS each, rows in any order."
            ),
        )
        for source, names in ((ReconstructEdges(), OF_MAIN_JOB), (CompareEdges(), OF_COMPARISON)):
            source.initAlgorithm()
            if source.name() == "compareedges":
                self._add_stages()
            for name in names:
                definition = source.parameterDefinition(name)
                if name in OF_FIELDS:
                    several = name == "CAPTURE_FIELDS"
                    label = (
                        self.tr("{} (names of fields)")
                        if several
                        else self.tr("{} (name of the field)")
                    ).format(definition.description())
                    self.add(
                        QgsProcessingParameterString(name, label, "", False, True),
                        self.tr("Name of the field in all layers{}. {}").format(
                            self.tr(", several separated by semicolons") if several else "",
                            definition.help(),
                        ),
                        advanced=True,
                    )
                else:
                    copy = definition.clone()
                    if names is OF_COMPARISON:
                        copy.setFlags(copy.flags() | copy.Flag.FlagAdvanced)
                        copy.setDescription(self.tr("Comparison: {}").format(copy.description()))
                        copy.setHelp(
                            self.tr("Of the comparison with existing lines. {}").format(copy.help())
                        )
                    self.addParameter(copy)
        self.add(
            QgsProcessingParameterBoolean(
                self.LIST_REVISITS, self.tr("List places to revisit"), True
            ),
            self.tr(
                "Points in walking order where something is missing or doubtful, from all that was"
                " found, with the default limits of “List places to revisit”."
            ),
            advanced=True,
        )
        self.add(
            QgsProcessingParameterBoolean(
                self.WRITE_EPOCHS, self.tr("Write kept and rejected epochs"), True
            ),
            self.tr(
                "The layers “kept” and “rejected”. Writing points takes longer than all the rest."
            ),
            advanced=True,
        )
        self.add(
            QgsProcessingParameterCrs(self.TARGET_CRS, self.tr("CRS of the results"), None, True),
            self.tr(
                "Left empty, it is the project's CRS where that is projected, else that of the"
                " first layer. Positions are transformed as the project says; heights stay on their"
                " datum."
            ),
            advanced=True,
        )
        self.add(
            QgsProcessingParameterBoolean(
                self.LOAD_RESULTS, self.tr("Show the results in the project"), True
            ),
            self.tr(
                "Loads the layers into the group “Curbwright” of the open project, or renews them"
                " there."
            ),
        )
        self.add(
            QgsProcessingParameterFolderDestination(self.FOLDER, self.tr("Folder for the results")),
            self.tr(
                "Where curbwright.gpkg and report.html are written; results of a former run there"
                " are replaced."
            ),
        )
        self.addOutput(QgsProcessingOutputFile(self.GEOPACKAGE, self.tr("GeoPackage")))
        self.addOutput(
            QgsProcessingOutputVectorLayer(self.EDGE_LAYER, self.tr("Edges"), kinds.TypeVectorLine)
        )
        self.addOutput(QgsProcessingOutputHtml(self.REPORT, self.tr("Report")))
        for name, label in (
            (self.LAYERS_DONE, self.tr("Layers processed")),
            (self.LAYERS_FAILED, self.tr("Layers that failed")),
            (self.EDGES, self.tr("Number of edges")),
            (self.LENGTH, self.tr("Total length (m)")),
        ):
            self.addOutput(QgsProcessingOutputNumber(name, label))

    def _add_stages(self):
        self.add(
            QgsProcessingParameterBoolean(self.MERGE_PASSES, self.tr("Merge repeat passes"), False),
            self.tr(
                "Walks of one edge, within one layer or in several, become one edge; what follows"
                " takes the merged edges."
            ),
        )
        self.add(
            QgsProcessingParameterBoolean(
                self.FIT_ALIGNMENTS, self.tr("Fit tangents and arcs"), False
            ),
            self.tr(
                "The edges as tangents, arcs and corners, with the tolerance of the line written."
            ),
        )
        self.add(
            QgsProcessingParameterFeatureSource(
                self.EXISTING,
                self.tr("Existing lines"),
                [QgsProcessing.SourceType.TypeVectorLine],
                None,
                True,
            ),
            self.tr(
                "Linework to compare the edges with, in any CRS. Left empty, nothing is compared."
            ),
        )

    # Checks and preparation, in the main thread

    def _layers_given(self, parameters, context):
        """Pairs of what was given and the layer that it is, None where it cannot be opened."""
        value = parameters.get(self.LAYERS)
        given = (
            list(value) if isinstance(value, (list, tuple)) else [] if value is None else [value]
        )
        if (
            len(given) == 1
            and isinstance(given[0], str)
            and QgsProcessingUtils.mapLayerFromString(given[0], context) is None
        ):
            given = [part for part in given[0].split(";") if part]
        return [
            (
                one,
                (
                    QgsProcessingUtils.mapLayerFromString(one, context)
                    if isinstance(one, str)
                    else one
                ),
            )
            for one in given
        ]

    def checkParameterValues(self, parameters, context):
        pairs = self._layers_given(parameters, context)
        found = [one for one, layer in pairs if layer is not None]
        if pairs and not found:
            return False, self.tr(
                "None of the layers can be opened: {}. Check paths and layer names in “{}”."
            ).format(", ".join(str(one) for one, _ in pairs), self.label(self.LAYERS))
        fine, message = super().checkParameterValues({**parameters, self.LAYERS: found}, context)
        if not fine:
            return fine, message
        path = Path(self.parameterAsString(parameters, self.FOLDER, context)) / GEOPACKAGE
        edited = [
            layer.name()
            for layers in shown_layers(context.project(), str(path)).values()
            for layer in layers
            if layer.isEditable()
        ]
        if edited:
            return False, self.tr(
                "“{}” is being edited in this project ({}). Save or end the editing, and run again."
            ).format(path.name, ", ".join(edited))
        return True, ""

    def prepareAlgorithm(self, parameters, context, feedback):
        self.finished = None
        # once: a temporary folder is another one each time it is asked for
        self.folder = Path(
            self.parameterAsFileOutput(parameters, self.FOLDER, context)
            or self.parameterAsString(parameters, self.FOLDER, context)
        ).absolute()
        self.load = self.parameterAsBool(parameters, self.LOAD_RESULTS, context)
        self.settings = [
            (
                definition.name(),
                definition.valueAsPythonString(
                    parameters.get(definition.name(), definition.defaultValue()), context
                ).strip("'"),
            )
            for definition in self.parameterDefinitions()
        ]
        self.captures, taken = [], set()
        for given, layer in self._layers_given(parameters, context):
            capture = Capture(given, layer)
            capture.prepare(
                {name: parameters[name] for name in OF_MAIN_JOB if name in parameters},
                self.parameterAsBool(parameters, self.WRITE_EPOCHS, context),
                context,
                feedback,
                self.tr,
            )
            name, number = capture.name, 2
            while capture.name in taken:
                capture.name, number = f"{name} ({number})", number + 1
            taken.add(capture.name)
            self.captures.append(capture)
        self.crs = self._target(parameters, context)
        return super().prepareAlgorithm(parameters, context, feedback)

    def _target(self, parameters, context):
        chosen = self.parameterAsCrs(parameters, self.TARGET_CRS, context)
        if chosen.isValid():
            return QgsCoordinateReferenceSystem(chosen)
        project = (
            context.project().crs()
            if context.project() is not None
            else QgsCoordinateReferenceSystem()
        )
        if project.isValid() and not project.isGeographic():
            return QgsCoordinateReferenceSystem(project)
        found = [
            capture.layer.crs()
            for capture in self.captures
            if capture.child is not None and capture.layer.crs().isValid()
        ]
        return QgsCoordinateReferenceSystem(found[0]) if found else QgsCoordinateReferenceSystem()

    # The work

    def work(self, parameters, context, feedback):
        run = _Run(self, parameters, context, feedback)
        with ResultFolder(self.folder) as folder:
            try:
                folder.begin(RESULTS, feedback)
                run.captures(folder)
                run.stages()
                run.write(folder)
                raise_if_cancelled(feedback)
                folder.replace()
            finally:
                run.release()  # before the folder clears away what is still open
        self.finished = [(name, count) for name, count in run.results if name != RUN_LOG]
        done = [capture for capture in self.captures if not capture.error]
        feedback.pushInfo(
            self.tr(
                "Layers processed: {}, failed: {}. Edges: {}, {:.2f} m on the ground. Results: {}."
            ).format(
                len(done), len(self.captures) - len(done), run.edge_count, run.length, self.folder
            )
        )
        feedback.setProgress(100)
        return {
            self.FOLDER: str(self.folder),
            self.GEOPACKAGE: str(folder.old),
            self.EDGE_LAYER: f"{folder.old}|layername=edges",
            self.REPORT: str(folder.report),
            self.LAYERS_DONE: len(done),
            self.LAYERS_FAILED: len(self.captures) - len(done),
            self.EDGES: run.edge_count,
            self.LENGTH: run.length,
        }

    def postProcessAlgorithm(self, context, feedback):
        if (
            self.finished
            and self.load
            and context.project() is not None
            and QThread.currentThread() == QCoreApplication.instance().thread()
        ):
            written = dict(self.finished)
            # an empty layer is no sight, but one that is shown already has to be renewed
            results = [
                (name, self._title(name), style)
                for name, style in RESULTS.items()
                if name in written
            ]
            show(context, str(self.folder / GEOPACKAGE), results, RESULTS, GROUP)
        return {}

    def _title(self, name):
        return {
            "comparison": self.tr("Compared edges"),
            "existing_status": self.tr("Status of existing lines"),
            "stations": self.tr("Stations"),
            "disagreements": self.tr("Disagreements"),
            "alignments": self.tr("Alignments"),
            "elements": self.tr("Elements"),
            "merged": self.tr("Merged edges"),
            "edges": self.tr("Edges"),
            "gaps": self.tr("Gaps"),
            "rejected": self.tr("Rejected epochs"),
            "kept": self.tr("Kept epochs"),
            "passes": self.tr("Passes"),
            "revisits": self.tr("Places to revisit"),
            "revisit_reasons": self.tr("Reasons to revisit"),
            "comparison_summary": self.tr("Summary of the comparison"),
            "summary": self.tr("Summary"),
        }[name]


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
        self.name = layer.name() if layer is not None else str(given)

    def prepare(self, settings, with_epochs, context, feedback, tr):
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
        child = Reconstruction()
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


class _Run:
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
        self.parts = {"edges": [], "gaps": [], "rejected": []}
        self.rejected_times = []  # reason, seconds and walk of each row of `rejected`
        # by the layer that tells of a place to revisit: source layer of each of its rows
        self.labels = {}
        self.made = {}  # layers ready to be written: fields, geometry type, features
        self.stage_rows, self.results = [], []
        self.edge_count, self.gap_count, self.length = 0, 0, 0.0
        self.compared = self.kept = self.edges = None
        self.existing_title = ""
        self.following = self.merge + self.fit + self.compare + self.revisit
        self.layers_end = 55 if self.following else 80

    def release(self):
        """Let go of layers and context now: a reference cycle would keep them until after QGIS is
        gone."""
        if self.kept is not None:
            self.kept.release()
        self.edges = self.kept = self.context = self.parameters = None
        self.made, self.parts = {}, {}
        for capture in self.algorithm.captures:
            capture.child = capture.layer = capture.settings = None

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
        total, before = max(sum(capture.weight for capture in captures), 1), 0
        if self.epochs_too:
            self.kept = _Kept(folder.new, captures, self)
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
        parts, shift = (
            {},
            {
                "edge_id": self.edge_count,
                "after_edge": self.edge_count,
                "before_edge": self.edge_count,
                "gap_id": self.gap_count,
            },
        )

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

        capture.child.open_part = open_part
        try:
            capture.numbers = capture.child.work(capture.settings, self.context, stage)
        except CancelledError:
            raise
        except Exception as error:  # whatever is wrong with one layer, the others go on
            capture.error = _words(error)
            return
        finally:
            capture.child.open_part = None
        if not capture.layer.crs().isValid() and self.crs.isValid():
            stage.pushWarning(
                self.tr(
                    "“{}” has no CRS: its coordinates are taken as those of the results."
                ).format(capture.name)
            )
        if self.revisit and "REJECTED" in parts:
            seconds, walks = capture.child.times_of(parts["REJECTED"].rows)
            place = parts["REJECTED"].fields.indexOf("reason")
            self.rejected_times += [
                (row.attribute(place), time, f"{capture.name}: {walk}")
                for row, time, walk in zip(parts["REJECTED"].rows, seconds, walks)
            ]
        capture.child.read = None
        for name, target in (("OUTPUT", "edges"), ("GAPS", "gaps"), ("REJECTED", "rejected")):
            if name in parts:
                self.parts[target].append(parts[name])
        capture.gaps = len(parts["GAPS"].rows)
        self.edge_count += capture.numbers["EDGES"]
        self.gap_count += capture.gaps
        self.length += capture.numbers["LENGTH"]

    # What follows

    def stages(self):
        for name, parts in self.parts.items():
            if not parts:
                continue
            fields, kind, features, lost = gathering.gathered(
                parts, self.crs, self.context.transformContext(), self.feedback
            )
            self._say_lost(name, lost)
            self.made[name] = fields, kind, features
        if not self.following:
            return
        fields, kind, features = self.made["edges"]
        self.edges, ids = gathering.memory_layer("edges", fields, kind, features, self.crs)
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
            self.feedback.pushInfo(self.tr("Stage “{}”").format(name))
            try:
                said = do(stage)
            except CancelledError:
                raise
            except Exception as failure:  # the edges are there all the same
                error = _words(failure)
                self.feedback.pushWarning(self.tr("Stage “{}” failed: {}").format(name, error))
            self.stage_rows.append((name, error, said, stage.warnings, time.monotonic() - start))

    def _say_lost(self, name, lost):
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
        self._say_lost(name, lost)
        self.made[name] = fields, kind, features
        return features

    def _merge(self, stage):
        numbers, parts = self._follow(
            without_sinks(MergePasses)(), stage, ("OUTPUT", "PASSES", "DISAGREEMENTS")
        )
        labels = {}
        for row in parts["PASSES"].rows:
            if not is_null(row["edge_id"]):
                labels.setdefault(row["edge_id"], {})[self.label_of_id[row["source_id"]]] = None

        def of_row(row):
            return self.label_of_id[row["source_id"]]

        self._gather("passes", parts["PASSES"], of_row)
        self._gather("disagreements", parts["DISAGREEMENTS"], of_row)
        features = self._gather(
            "merged", parts["OUTPUT"], lambda row: ", ".join(labels.get(row["edge_id"], ()))
        )
        self.edges, ids = gathering.memory_layer(
            "merged", *self.made["merged"][:2], features, self.crs
        )
        self._remember(ids, features)
        return self.tr("{} edges, {} of them merged from several walks; {} disagreements").format(
            numbers["EDGES"], numbers["MERGED"], len(parts["DISAGREEMENTS"].rows)
        )

    def _fit(self, stage):
        tolerance = self.algorithm.parameterAsDouble(self.parameters, "TOLERANCE", self.context)
        numbers, parts = self._follow(
            without_sinks(FitAlignments)(), stage, ("OUTPUT", "ELEMENTS"), TOLERANCE=tolerance
        )
        self._gather("alignments", parts["OUTPUT"])
        self._gather(
            "elements", parts["ELEMENTS"], lambda row: self.label_of_edge.get(row["edge_id"]), False
        )
        return self.tr("{} tangents, {} arcs, {} corners").format(
            numbers["TANGENTS"], numbers["ARCS"], numbers["CORNERS"]
        )

    def _compare(self, stage):
        algorithm = Comparison()
        given = {name: self.parameters[name] for name in OF_COMPARISON if name in self.parameters}
        numbers, parts = self._follow(
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
        return self.tr("{:,.1f} m matched, RMSE {:.3f} m").format(
            numbers["MATCHED_LENGTH"], numbers["RMSE"]
        )

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
            if name == "rejected":
                if not any(seconds is not None for _, seconds, _ in self.rejected_times):
                    continue
                fields, features = fields_of(EPOCH_TIMES), self._timed(features)
                given.update(TIME_FIELD="unix_seconds", CAPTURE_FIELDS=["walk"])
            layer, ids = gathering.memory_layer(name, fields, kind, features, self.crs)
            layers.append(layer)
            given[parameter] = layer
            self.labels[name] = dict(zip(ids, (feature["layer"] for feature in self.made[name][2])))
        numbers, parts = self._follow(
            without_sinks(Revisits)(), stage, ("OUTPUT", "REASONS"), **given
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

    def _timed(self, features):
        timed, fields = [], fields_of(EPOCH_TIMES)
        for feature, values in zip(features, self.rejected_times):
            row = QgsFeature(fields)
            row.setGeometry(feature.geometry())
            row.setAttributes(list(values))
            timed.append(row)
        return timed

    # Results

    def write(self, folder):
        context, none, table = (
            self.context.transformContext(),
            QgsCoordinateReferenceSystem(),
            QgsWkbTypes.Type.NoGeometry,
        )
        raise_if_cancelled(self.feedback)
        place, rest = (
            (85 if self.following else self.layers_end),
            sum(len(features) for _, _, features in self.made.values()) or 1,
        )
        self.made["summary"] = (
            fields_of(SUMMARY_FIELDS),
            table,
            self._features(SUMMARY_FIELDS, self._summary()),
        )
        done = 0
        for name in RESULTS:
            if name in self.made:
                fields, kind, features = self.made[name]
                crs = none if kind == table else self.crs
                self.results.append(
                    (
                        name,
                        gathering.write_layer(
                            folder.new, name, fields, kind, features, crs, context, self.feedback
                        ),
                    )
                )
                done += len(features)
                self.feedback.setProgress(place + (98 - place) * min(done / rest, 1))
        self._report(folder)
        gathering.write_layer(
            folder.new,
            RUN_LOG,
            fields_of(LOG_FIELDS),
            table,
            self._features(LOG_FIELDS, self._log()),
            none,
            context,
            self.feedback,
        )

    @staticmethod
    def _features(definitions, rows):
        fields, features = fields_of(definitions), []
        for row in rows:
            feature = QgsFeature(fields)
            feature.setAttributes(list(row))
            features.append(feature)
        return features

    def _summary(self):
        rows = []
        for capture in self.algorithm.captures:
            of = capture.numbers.get if not capture.error else {}.get
            rows.append(
                (
                    capture.name,
                    "reconstruct",
                    "failed" if capture.error else "done",
                    capture.error or None,
                    of("EPOCHS_READ"),
                    of("EPOCHS_KEPT"),
                    of("EPOCHS_REJECTED"),
                    of("EDGES"),
                    None if capture.error else capture.gaps,
                    of("LENGTH"),
                    capture.warnings,
                    round(capture.seconds, 3),
                )
            )
        for name, error, _, warnings, seconds in self.stage_rows:
            rows.append(
                (
                    None,
                    name,
                    "failed" if error else "done",
                    error or None,
                    *(None,) * 6,
                    warnings,
                    round(seconds, 3),
                )
            )
        return rows

    def _versions(self):
        import scipy
        import shapely

        parser = configparser.ConfigParser(interpolation=None)
        parser.read(METADATA, encoding="utf-8")
        proj = ".".join(
            str(number())
            for number in (
                osr.GetPROJVersionMajor,
                osr.GetPROJVersionMinor,
                osr.GetPROJVersionMicro,
            )
        )
        return [
            ("Curbwright", parser["general"]["version"]),
            ("QGIS", Qgis.version()),
            ("GDAL", gdal.__version__),
            ("PROJ", proj),
            ("Python", platform.python_version()),
            ("numpy", np.__version__),
            ("scipy", scipy.__version__),
            ("shapely", shapely.__version__),
        ]

    def _log(self):
        rows = [
            ("run", "algorithm", f"curbwright:{self.algorithm.name()}"),
            ("run", "started", self.started),
            ("run", "finished", self.algorithm.now()),
            ("run", "crs", self.crs.authid() or self.crs.toWkt()),
        ]
        rows += [("version", *pair) for pair in self._versions()]
        rows += [("parameter", *pair) for pair in self.algorithm.settings]
        for capture in self.algorithm.captures:
            rows.append(
                (
                    "layer",
                    capture.name,
                    capture.layer.source() if capture.layer is not None else str(capture.given),
                )
            )
        rows += [
            ("count", name, str(value))
            for name, value in (
                ("layers", len(self.algorithm.captures)),
                ("layers_failed", sum(bool(capture.error) for capture in self.algorithm.captures)),
                *(
                    (
                        key.lower(),
                        sum(
                            capture.numbers.get(key, 0)
                            for capture in self.algorithm.captures
                            if not capture.error
                        ),
                    )
                    for key in ("EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED")
                ),
                ("edges", self.edge_count),
                ("length", self.length),
            )
        ]
        return rows + [(RESULT, name, str(count)) for name, count in self.results]

    def _stage_title(self, name):
        return {
            "merge": self.tr("Repeat passes"),
            "fit": self.tr("Tangents and arcs"),
            "compare": self.tr("Comparison with existing lines"),
            "revisit": self.tr("Places to revisit"),
        }[name]

    def _settings(self):
        """Settings in words; layers and folder are named elsewhere on the page."""
        for name, value in self.algorithm.settings:
            definition = self.algorithm.parameterDefinition(name)
            if name in (self.algorithm.LAYERS, self.algorithm.FOLDER):
                continue
            if definition.type() == "boolean":
                value = self.tr("yes") if value == "True" else self.tr("no")
            elif definition.type() == "enum" and value.isdigit():  # else an expression
                value = definition.options()[int(value)]
            elif name == self.algorithm.EXISTING and self.existing_title:
                value = self.existing_title
            yield (
                definition.description(),
                (self.tr("left empty") if value in ("", "None") else value),
            )

    def _report(self, folder):
        from ..shared.report import CapturesContext, write_captures_report

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
            layers.append((capture.name, capture.error, *numbers, capture.warnings))
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
            ),
            tuple(sorted(self.results, key=lambda result: list(RESULTS).index(result[0]))),
            tuple(self._settings()),
            tuple(self._versions()),
        )
        try:
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


class _Kept:
    """Kept epochs of all layers, written as they come, since they may be many.

    All layers' fields are known beforehand, so that the table is made once.
    """

    name = "kept"

    def __init__(self, path, captures, run):
        self.path, self.run, self.writer, self.count, self.lost, self.undone = (
            path,
            run,
            None,
            0,
            0,
            [],
        )
        kinds = QgsWkbTypes.GeometryType
        self.captures = [
            capture
            for capture in captures
            if capture.child is not None
            and QgsWkbTypes.geometryType(capture.layer.wkbType())
            in (kinds.PointGeometry, kinds.LineGeometry)
        ]
        if not self.captures:
            self.name = ""
            return
        own = [with_new_fields(capture.layer.fields(), KEPT_FIELDS)[0] for capture in self.captures]
        self.fields, self.places = gathering.all_fields(own)
        self.kind = gathering.common_type(
            row_geometry_type(capture.layer) for capture in self.captures
        )
        self.writer = gathering.LayerWriter(
            path, self.name, self.fields, self.kind, run.crs, run.context.transformContext()
        )

    def taking(self, capture, part):
        """A function that writes features of a layer."""
        rows = Rows(
            part,
            self.fields,
            self.places[self.captures.index(capture)],
            self.kind,
            self.run.crs,
            self.run.context.transformContext(),
        )
        self.undone.append((capture, rows))

        def take(features):
            for start in range(0, len(features), BLOCK):
                raise_if_cancelled(self.run.feedback)
                block = [rows(feature) for feature in features[start : start + BLOCK]]
                self.writer.add(block)

        return take

    def release(self):
        if self.writer is not None:
            self.writer.close()
        self.writer = self.run = None
        for _, rows in self.undone:
            rows.part.stream = None

    def close(self):
        """Finish the table, and take out again what layers wrote that failed later."""
        if self.writer is None:
            return
        self.writer.close()
        self.run._say_lost(
            self.name, sum(rows.lost for capture, rows in self.undone if not capture.error)
        )
        dataset = gdal.OpenEx(str(self.path), gdal.OF_VECTOR | gdal.OF_UPDATE)
        for capture, _ in self.undone:
            if capture.error:
                text = capture.name.replace("'", "''")
                dataset.ExecuteSQL(
                    f'DELETE FROM "{self.name}" WHERE "{gathering.LAYER}" = \'{text}\''
                )
        self.count = dataset.GetLayerByName(self.name).GetFeatureCount()
        del dataset


def _words(error):
    """What went wrong, with the kind of error where it was not foreseen."""
    return (
        str(error)
        if isinstance(error, QgsProcessingException)
        else f"{type(error).__name__}: {error}"
    )
