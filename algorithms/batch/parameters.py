"""What “Process captures of a project” asks for."""

from qgis.core import (
    QgsProcessing,
    QgsProcessingOutputFile,
    QgsProcessingOutputHtml,
    QgsProcessingOutputVectorLayer,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterCrs,
    QgsProcessingParameterFolderDestination,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameterString,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..host.figures import translate
from .basemap import OF_UPDATE
from .stages import OF_COMPARISON

UPDATE_OPTIONS = (
    QT_TRANSLATE_NOOP("ProcessCaptures", "No"),
    QT_TRANSLATE_NOOP("ProcessCaptures", "What was accepted"),
    QT_TRANSLATE_NOOP("ProcessCaptures", "What was accepted, and clear cases"),
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
    "DOUBTFUL",
    "WORKING_CRS",
    "TAKE_AS_STREAM",
)


class BatchParameters:
    """Part of the batch: its parameters, those that it takes over from others, and its outputs.

    Attributes
    ----------
    MAIN_JOB, COMPARING, UPDATING : type
        Algorithms whose parameters are taken over.
    """

    MAIN_JOB = COMPARING = UPDATING = None

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
    INTAKE = "INTAKE"
    UPDATE_BASEMAP, CLEAR_MATCHED, CLEAR_SIGMA = "UPDATE_BASEMAP", "CLEAR_MATCHED", "CLEAR_SIGMA"
    CONTROL, CONTROL_DISTANCE, STRICT = "CONTROL", "CONTROL_DISTANCE", "STRICT"
    GEOPACKAGE, EDGE_LAYER, REPORT = "GEOPACKAGE", "EDGE_LAYER", "REPORT"
    LAYERS_DONE, LAYERS_FAILED, EDGES, LENGTH = "LAYERS_DONE", "LAYERS_FAILED", "EDGES", "LENGTH"
    DAYS_OFF = "DAYS_OFF"

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        kinds = QgsProcessing.SourceType
        self.add(
            QgsProcessingParameterMultipleLayers(
                self.LAYERS, self.tr("Capture layers"), kinds.TypeVectorAnyGeometry, None, True
            ),
            self.tr(
                "Layers of streamed epochs: points, or lines, with M as the time of each vertex or"
                " in the order of their vertices; in any CRS each, rows in any order."
            ),
        )
        self.add(
            QgsProcessingParameterString(
                self.INTAKE, self.tr("Folder or file pattern"), "", False, True
            ),
            self.tr(
                "Beside the layers, or in their place: a folder whose files are taken, or a pattern"
                " like “days/**/*.gpkg”. All layers of points and lines are taken, those of a"
                " GeoPackage one by one, by path and name. What cannot be epochs is named in the"
                " log and passed over, as is what this run uses otherwise; results in the folder"
                " for the results are never taken."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        main_job, comparison = self.MAIN_JOB(), self.COMPARING()
        main_job.initAlgorithm()
        comparison.initAlgorithm()
        for name in OF_MAIN_JOB:
            if name in OF_FIELDS:
                self._add_field_name(main_job, name)
            else:
                self._take_over(main_job, [name])
        self._add_stages()
        self._take_over(
            comparison,
            OF_COMPARISON,
            self.tr("Comparison: {}"),
            self.tr("Of the comparison with existing lines. {}"),
        )
        self._add_update()
        self._add_control()
        self._add_choices()

    def _add_choices(self):
        """What is written and shown."""
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
                self.STRICT, self.tr("Fail if a layer or stage fails"), False
            ),
            self.tr(
                "For unattended runs: where a layer cannot be opened or fails, or a stage fails,"
                " the run ends with an error (exit code not 0) after the results of all others have"
                " been written."
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

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add(
            QgsProcessingParameterFolderDestination(self.FOLDER, self.tr("Folder for the results")),
            self.tr(
                "Where curbwright.gpkg and report.html are written; results of a former run there"
                " are replaced."
            ),
        )
        self.add_printed_report()
        self.add_title_block()
        self.addOutput(QgsProcessingOutputFile(self.GEOPACKAGE, self.tr("GeoPackage")))
        self.addOutput(
            QgsProcessingOutputVectorLayer(self.EDGE_LAYER, self.tr("Edges"), kinds.TypeVectorLine)
        )
        self.addOutput(QgsProcessingOutputHtml(self.REPORT, self.tr("Report")))
        self.add_numbers(
            (self.LAYERS_DONE, self.tr("Layers processed")),
            (self.LAYERS_FAILED, self.tr("Layers that failed")),
            (self.EDGES, self.tr("Number of edges")),
            (self.LENGTH, self.tr("Total length (m)")),
            (self.DAYS_OFF, self.tr("Days shifted against control points")),
        )

    def _take_over(self, source, names, label="{}", help_text="{}"):
        """Offer parameters of another algorithm; under labels of their own they are advanced."""
        for name in names:
            copy = source.parameterDefinition(name).clone()
            copy.setDescription(label.format(copy.description()))
            self.add(copy, help_text.format(copy.help()), advanced=label != "{}")
            if name in source.choices:
                self.choices[name] = source.choices[name]

    def _add_field_name(self, source, name):
        """A field by its name, which holds for all layers."""
        several = name == "CAPTURE_FIELDS"
        label = self.tr("{} fields") if several else self.tr("{} field")
        self.add(
            QgsProcessingParameterString(name, label.format(source.label(name)), "", False, True),
            self.tr("Name of the field in all layers{}. {}").format(
                self.tr(", several separated by semicolons") if several else "",
                source.parameterDefinition(name).help(),
            ),
            advanced=True,
            left_empty=translate("Algorithm", "automatic"),
        )

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
        self.add_layer(
            self.EXISTING,
            self.tr("Existing lines"),
            [QgsProcessing.SourceType.TypeVectorLine],
            self.tr(
                "Linework to compare the edges with, in any CRS. Left empty, nothing is compared."
            ),
            optional=True,
        )

    def _add_update(self):
        tr = self.tr
        self.add_choice(
            self.UPDATE_BASEMAP,
            tr("Update the existing lines"),
            [tr(text) for text in UPDATE_OPTIONS],
            tr(
                "Writes the existing lines once more, in their own fields and CRS, with what is"
                " taken over from the edges: what a person accepted in a field “decision” of the"
                " results of the last run, or what is clear as well. All else is held back for a"
                " person. The existing layer itself is not changed."
            ),
        )
        self.add_number(
            self.CLEAR_MATCHED,
            tr("Clear case: minimum matched share (0 to 1)"),
            0.9,
            tr(
                "A line that is displaced, by more than the uncertainty of both layers explains, is"
                " a clear case where more than this share of its visited length has an edge, and"
                " every edge is as sure as below."
            ),
            low=0.0,
            high=1.0,
            decimals=2,
            advanced=True,
        )
        self.add_distance(
            self.CLEAR_SIGMA,
            tr("Clear case: maximum uncertainty (m)"),
            0.020,
            tr("Of every edge along the line, 1-sigma, across."),
            advanced=True,
            minimum=0.0001,
        )
        source = self.UPDATING()
        source.initAlgorithm()
        self._take_over(source, OF_UPDATE, tr("Update: {}"))

    def _add_control(self):
        self.add_layer(
            self.CONTROL,
            self.tr("Control points"),
            [QgsProcessing.SourceType.TypeVectorPoint],
            self.tr(
                "Points with known coordinates, in any CRS, heights in Z. Where somebody stood"
                " still on one of them, each capture day (UTC) is checked by it: a wrong base or"
                " antenna height moves all of a day. A day that is off is named first. Left empty,"
                " nothing is checked."
            ),
            optional=True,
        )
        self.add_distance(
            self.CONTROL_DISTANCE,
            self.tr("Search distance of control points (m)"),
            1.0,
            self.tr(
                "A spot point that is farther from the nearest control point is none of it. More"
                " than the shift that is feared, less than the points are apart."
            ),
            advanced=True,
            minimum=0.001,
        )
