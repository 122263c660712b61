"""All capture layers of a project in one run: one GeoPackage and one report, replaced as a
whole."""

from dataclasses import replace
from pathlib import Path

from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsProcessingException,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QCoreApplication, QThread

from .base.algorithm import Algorithm
from .base.reports import PRINTED
from .batch.basemap import CLEAR_TOO, NO
from .batch.capture import Capture
from .batch.carry_over import REVIEW_FIELDS, REVIEWED, SUPERSEDED_FIELDS
from .batch.gathering import LAYER, without_sinks
from .batch.given import layers_given, opened
from .batch.history import HISTORY_FIELDS
from .batch.intake import layer_key, once, sentences, take_in
from .batch.keeps_epochs import KeepsEpochs
from .batch.loading import Result, places, renew, show, shown_layers
from .batch.parameters import OF_MAIN_JOB, BatchParameters
from .batch.ready_project import store
from .batch.records import LOG_FIELDS, RESULTS, SUMMARY_FIELDS
from .batch.result_folder import (
    FITS,
    GEOPACKAGE,
    REPORT,
    RUN_LOG,
    RUN_STATE,
    WORK,
    WORK_FILES,
    ResultFolder,
)
from .batch.run import Run
from .batch.titles import title_of
from .compareedges import CompareEdges
from .fitalignments import FitAlignments
from .host.feedback import raise_if_cancelled
from .host.fields import NewField
from .host.quotes import quoted
from .mergepasses import MergePasses
from .reading.findings.epochs import COMMON_FIELDS
from .reading.repair_rows import REPAIR_FIELDS
from .reconstructedges import ReconstructEdges
from .revisits import Revisits
from .updatebasemap import UpdateBasemap
from .writing import targets
from .writing.edge_tables import KEPT_FIELDS
from .writing.presentation import About
from .writing.styles import Look

# algorithm and output that each layer is of; the others the batch makes itself
MADE_BY = {
    "edges": (ReconstructEdges, "OUTPUT"),
    "gaps": (ReconstructEdges, "GAPS"),
    "rejected": (ReconstructEdges, "REJECTED"),
    "kept": (ReconstructEdges, "KEPT"),
    "merged": (MergePasses, "OUTPUT"),
    "passes": (MergePasses, "PASSES"),
    "disagreements": (MergePasses, "DISAGREEMENTS"),
    "alignments": (FitAlignments, "OUTPUT"),
    "elements": (FitAlignments, "ELEMENTS"),
    "comparison": (CompareEdges, "OUTPUT"),
    "existing_status": (CompareEdges, "EXISTING_STATUS"),
    "stations": (CompareEdges, "STATIONS"),
    "comparison_summary": (CompareEdges, "SUMMARY"),
    "updated": (UpdateBasemap, "UPDATED"),
    "changes": (UpdateBasemap, "CHANGES"),
    "held": (UpdateBasemap, "HELD"),
    "revisits": (Revisits, "OUTPUT"),
    "revisit_reasons": (Revisits, "REASONS"),
}
OF_LAYER = NewField(LAYER, "QString", "The capture layer that a row comes from.")
# these have the fields of the edges that they were made of as well
CARRY = ("merged", "alignments", "comparison")
CARRIED = (*ReconstructEdges.FIELD_TABLES["OUTPUT"], *MergePasses.FIELD_TABLES["OUTPUT"])
TABLES = (*RESULTS, FITS, RUN_STATE)  # of the GeoPackage, written by each run
# files of the hidden folder; what belongs to the GeoPackage there goes with it
OF_WORK = [name for name in WORK_FILES if not name.startswith(f"{GEOPACKAGE}-")]


class Reconstruction(KeepsEpochs, without_sinks(ReconstructEdges)):
    """The main job on one layer."""


class Comparison(without_sinks(CompareEdges)):
    """Keeps what the report needs in place of writing one."""

    compared = None

    def _report(self, asked, edges, existing, pair, result, notes, progress):
        self.compared = result, self._context(edges, existing, pair, notes)
        return {}


class ProcessCaptures(BatchParameters, Algorithm):
    MAIN_JOB, COMPARING, UPDATING = ReconstructEdges, CompareEdges, UpdateBasemap
    NAME = "processcaptures"
    RENEWS = False  # the tables are renewed by `loading`
    TITLE = QT_TRANSLATE_NOOP("ProcessCaptures", "Process captures of a project")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "ProcessCaptures",
        "All capture layers at once: edges, alignments, comparison, one GeoPackage and one report.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "ProcessCaptures",
        "batch,project,nightly,unattended,all"
        " layers,chain,workflow,curb,kerb,edge,gnss,rtk,epochs,report,geopackage,survey"
        ",kerbline,map update,as-built,vectorise",
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
        " of these); always repairs, summary (what came of each layer and stage), history (one row"
        " per run"
        " and layer, kept from run to run) and run_log (versions, parameters, counts: what is"
        " needed to repeat the result). All in one CRS. Each row"
        " says in “layer” which capture layer it comes from; edge_id counts through all layers."
        " Fields that only some layers have are empty for the others.\n\nA layer that fails is"
        " named with its error, in the log, the summary and the report; the others go on. If"
        " none is left, the run fails. A stage that fails leaves the edges as they are and is"
        " named likewise. With “Fail if a layer or stage fails” the run then ends with an"
        " error, once all others are written.\n\nWith control points each capture day is"
        " checked by the spot points taken on it, and a day that is off is named first, in the"
        " log and in the report.\n\nWhat was fitted to a"
        " layer is kept in the GeoPackage; a layer whose epochs, settings and versions are those of"
        " the last run is not fitted again, with the same result.\n\n"
        "New results take the place of the old ones only when all are"
        " complete; a run that fails, is cancelled or cut off leaves the old ones as they were,"
        " and the next run clears what it left. Other layers in the same GeoPackage stay. Where"
        " the results are open in a project, here or in another process, their tables are replaced"
        " inside the GeoPackage and the project shows the new ones; only somebody who has edits"
        " that are not saved stops the run with a message.\n\nWhat people changed in the results is"
        " carried over: decisions, edited fields and lines go to the new line that carries on from"
        " the old one (the same capture and time, or for lines of several walks the same place,"
        " within 5 cm over 80 % of its length), rows that were deleted are taken out again, rows"
        " that were added are added. A change that has no place in the new results is kept in"
        " the layer superseded, with the reason, which no run empties.\n\nThe layer repairs takes"
        " what a person decided about single epochs and stretches, one row each: an epoch left out"
        " or taken back in, a corner or none, a break, a gap bridged, a tangent, an arc or a free"
        " form. Every run carries them out again, says of each what became of it (applied, lost,"
        " no_effect), and keeps all rows; deleting one undoes it. Epochs are never"
        " altered.\n\nIn an open project the"
        " results are loaded, styled, into the group “Curbwright”, the comparison and the places to"
        " revisit on, all else off; those that are there already are renewed and keep their style."
        " The GeoPackage also holds the styles of its layers and a project, “curbwright”, with all"
        " of them.\n\nThe field parameters are names that hold for all layers; a layer without such"
        " a field fails. Left empty, fields are found layer by layer. All lengths are metres,"
        " whatever the CRS.\n\nThe result is of mapping grade: it is no boundary survey, and not"
        " for stake-out without a licensed surveyor.",
    )
    KEPT_FIELDS = KEPT_FIELDS
    STAGES = {  # what may follow the main job
        "merge": without_sinks(MergePasses),
        "fit": without_sinks(FitAlignments),
        "compare": Comparison,
        "revisit": without_sinks(Revisits),
        "update": without_sinks(UpdateBasemap),
    }
    FIELD_TABLES = {
        ", ".join(REVIEWED): REVIEW_FIELDS,
        "rejected": COMMON_FIELDS,
        "superseded": SUPERSEDED_FIELDS,
        "repairs": REPAIR_FIELDS,
        "summary": SUMMARY_FIELDS,
        "history": HISTORY_FIELDS,
        "run_log": LOG_FIELDS,
    }

    NEEDS = ("numpy", "scipy", "shapely")

    def clear_rule(self, parameters, context):
        """What is clear without a person; None where only what was accepted is taken over."""
        from ..shared.lines.clear_cases import ClearRule

        if self.parameterAsEnum(parameters, self.UPDATE_BASEMAP, context) != CLEAR_TOO:
            return None
        return ClearRule(
            self.parameterAsDouble(parameters, self.CLEAR_MATCHED, context),
            self.parameterAsDouble(parameters, self.CLEAR_SIGMA, context),
        )

    # Checks and preparation, in the main thread

    def _taken_in(self, parameters, context, folder):
        """What the folder or pattern given holds, None where none was given."""
        text = self.parameterAsString(parameters, self.INTAKE, context).strip()
        if not text:
            return None
        used = {}
        for name in (self.EXISTING, self.CONTROL, "AREA"):
            layer = self.parameterAsVectorLayer(parameters, name, context)
            if layer is not None:
                used[layer_key(layer)] = self.label(name)
        for _, layer in layers_given(parameters.get(self.LAYERS), context):
            if layer is not None:
                used[layer_key(layer)] = ""
        return take_in(text, folder, used)

    def checkParameterValues(self, parameters, context):
        pairs = layers_given(parameters.get(self.LAYERS), context)
        found = [one for one, layer in pairs if layer is not None]
        folder = targets.local_path(self.parameterAsString(parameters, self.FOLDER, context))
        try:
            intake = self._taken_in(parameters, context, folder)
        except QgsProcessingException as error:
            return False, str(error)
        if not pairs and not (intake and intake.layers):
            return False, self._nothing_to_do(parameters, context, intake)
        if pairs and not found and not (intake and intake.layers):
            return False, self.tr(
                "None of the layers can be opened: {}. Check paths and layer names in “{}”."
            ).format(", ".join(str(one) for one, _ in pairs), self.label(self.LAYERS))
        fine, message = super().checkParameterValues({**parameters, self.LAYERS: found}, context)
        if not fine:
            return fine, message
        wanted = self.parameterAsEnum(parameters, self.UPDATE_BASEMAP, context) != NO
        if wanted and not self.wanted(parameters, self.EXISTING):
            return False, self.tr("“{}” needs “{}”.").format(
                self.label(self.UPDATE_BASEMAP), self.label(self.EXISTING)
            )
        path = Path(folder) / GEOPACKAGE
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

    def written(self, parameters, context):
        """The layers of the GeoPackage and the report; what else lies in the folder stays."""
        printed = targets.local_path(targets.text_of_target(parameters.get(PRINTED), context))
        own = [(self.label(PRINTED), targets.file_place(printed))] if printed else []
        folder = targets.local_path(targets.text_of_target(parameters.get(self.FOLDER), context))
        if not folder:
            return own
        label, folder = self.label(self.FOLDER), Path(folder)
        package = targets.file_place(folder / GEOPACKAGE)
        return [
            *own,
            *((label, replace(package, layer=name.lower())) for name in TABLES),
            (label, targets.file_place(folder / REPORT)),
            *((label, targets.file_place(folder / WORK / name)) for name in OF_WORK),
        ]

    def _nothing_to_do(self, parameters, context, intake):
        if intake is None:
            return self.tr("Give “{}” or “{}”: there is no capture to process.").format(
                self.label(self.LAYERS), self.label(self.INTAKE)
            )
        return self.tr("Nothing in “{}” can be epochs. {}").format(
            self.parameterAsString(parameters, self.INTAKE, context),
            "; ".join(f"{quoted(name)}: {why}" for name, why in intake.passed),
        )

    def _all_given(self, parameters, context, feedback):
        """As `layers_given`, and what was taken in, which is said."""
        pairs = layers_given(parameters.get(self.LAYERS), context)
        intake = self._taken_in(parameters, context, self.folder)
        if intake is None:
            return pairs
        said = sentences(self.parameterAsString(parameters, self.INTAKE, context), intake)
        for sentence in said:
            feedback.pushInfo(sentence)
        if not intake.layers:
            feedback.pushWarning(said[0])
        return pairs + opened(intake.layers, context)

    def prepareAlgorithm(self, parameters, context, feedback):
        self.finished = None
        # once: a temporary folder is another one each time it is asked for
        self.folder = Path(
            targets.local_path(
                self.parameterAsFileOutput(parameters, self.FOLDER, context)
                or self.parameterAsString(parameters, self.FOLDER, context)
            )
        ).absolute()
        if not targets.text_of_target(parameters.get(self.FOLDER), context):
            feedback.pushWarning(
                self.tr(
                    "The results are in a temporary folder. QGIS deletes it when it is left, with"
                    " all decisions and repairs. To keep them, name a folder in “{}”."
                ).format(self.label(self.FOLDER))
            )
        self.load = self.parameterAsBool(parameters, self.LOAD_RESULTS, context)
        self.block = self.title_block(parameters, context)
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
        for given, layer in once(self._all_given(parameters, context, feedback), feedback):
            capture = Capture(given, layer)
            capture.prepare(
                Reconstruction,
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
        with ResultFolder(self.folder) as folder:
            run = Run(self, parameters, context, feedback, folder)
            try:
                folder.begin(RESULTS, feedback)
                run.work()
                self._store(folder, run, feedback)
                printed = self.print_report(
                    folder.new_report, self.report_targets(parameters, context).get(PRINTED)
                )
                raise_if_cancelled(feedback)
                folder.replace()
                feedback.settled = True
            finally:
                run.release()  # before the folder clears away what is still open
        if run.stages.verdict:
            feedback.pushInfo(run.stages.verdict)
        self.finished = [(name, count) for name, count in run.results if name != RUN_LOG]
        done = [capture for capture in self.captures if not capture.error]
        feedback.pushInfo(
            self.tr(
                "Layers processed: {}, failed: {}. Edges: {}, {:.2f} m on the ground. Results: {}."
            ).format(
                len(done),
                len(self.captures) - len(done),
                run.main.edge_count,
                run.main.length,
                self.folder,
            )
        )
        feedback.setProgress(100)
        if self.parameterAsBool(parameters, self.STRICT, context):
            self._refuse_failures(run)
        return {
            self.FOLDER: str(self.folder),
            self.GEOPACKAGE: str(folder.old),
            self.EDGE_LAYER: f"{folder.old}|layername=edges",
            self.REPORT: str(folder.report),
            **printed,
            self.LAYERS_DONE: len(done),
            self.LAYERS_FAILED: len(self.captures) - len(done),
            self.EDGES: run.main.edge_count,
            self.LENGTH: run.main.length,
            self.DAYS_OFF: run.days_off,
        }

    def left_by_failure(self):
        if self.finished:
            return ""  # said already, with where the results are
        return self.tr("The run failed; the results of the last one are as they were.")

    def _refuse_failures(self, run):
        """Raise where something failed; what was done is in its place by now."""
        failed = [
            f"{quoted(name)}: {error}"
            for name, error in (
                *((capture.name, capture.error) for capture in self.captures),
                *((row.name, row.error) for row in run.stage_rows),
            )
            if error
        ]
        if failed:
            raise QgsProcessingException(
                self.tr(
                    "Not everything was done ({} failed). The results of the others are in “{}”. {}"
                ).format(len(failed), self.folder, " ".join(failed))
            )

    def postProcessAlgorithm(self, context, feedback):
        if (
            self.finished
            and context.project() is not None
            and QThread.currentThread() == QCoreApplication.instance().thread()
        ):
            path = str(self.folder / GEOPACKAGE)
            if not self.load:
                renew(context.project(), path)
                return super().postProcessAlgorithm(context, feedback)
            results = self.results([name for name, _ in self.finished], self.now())
            show(context, path, results, RESULTS, self.closing)
        return super().postProcessAlgorithm(context, feedback)

    def _store(self, folder, run, feedback):
        names = [name for name, _ in run.results if name != RUN_LOG]
        title = self.tr("Curbwright: {}").format(self.folder.name)
        store(folder.new, self.results(names, run.started), run.crs, title, feedback)

    def results(self, names, when):
        """Layers of a run as they are shown, from the top of the tree.

        Parameters
        ----------
        names : collection of str
        when : str
            Date and time of the run.

        Returns
        -------
        list of Result
        """
        found, makers = [], {}
        for name, place in places(names).items():
            maker, output = MADE_BY.get(name, (ProcessCaptures, name))
            if maker not in makers:
                makers[maker] = maker()
                makers[maker].initAlgorithm()
            about = About(
                title_of(name, self.tr),
                self._meaning(makers[maker], output),
                makers[maker].displayName(),
                ", ".join(capture.name for capture in self.captures if not capture.error),
                when,
            )
            own = (*maker.FIELD_TABLES.get(output, ()), *(REVIEW_FIELDS * (name in REVIEWED)))
            own += COMMON_FIELDS * (name == "rejected")
            carried = CARRIED if name in CARRY else ()  # what is said last about a field holds
            # the basemap has a schema of its own
            of_layer = () if maker is UpdateBasemap else (OF_LAYER,)
            look = Look(RESULTS.get(name), (*of_layer, *carried, *own), about)
            found.append(Result(name, about.title, look, place))
        return found

    @staticmethod
    def _meaning(algorithm, output):
        """What a layer is: the help of the output that it is, or what the algorithm does."""
        definition = algorithm.parameterDefinition(output)
        return definition.help() if definition is not None else algorithm.shortDescription()
