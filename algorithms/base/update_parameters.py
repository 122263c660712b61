"""What “Update existing linework” asks for."""

from qgis.core import (
    QgsProcessing,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterString,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .comparison import ComparisonAlgorithm

REPLACE_OPTIONS = (
    QT_TRANSLATE_NOOP("UpdateBasemap", "What is displaced"),
    QT_TRANSLATE_NOOP("UpdateBasemap", "All that is matched"),
)
RETIRE_OPTIONS = (
    QT_TRANSLATE_NOOP("UpdateBasemap", "Mark them"),
    QT_TRANSLATE_NOOP("UpdateBasemap", "Delete them"),
    QT_TRANSLATE_NOOP("UpdateBasemap", "Keep them"),
)
MARK, DELETE, KEEP = range(3)
LIFECYCLE_OPTIONS = (
    QT_TRANSLATE_NOOP("UpdateBasemap", "Write those that are there"),
    QT_TRANSLATE_NOOP("UpdateBasemap", "Add those that are missing"),
    QT_TRANSLATE_NOOP("UpdateBasemap", "Leave them alone"),
)
WRITE_LIFECYCLE, ADD_LIFECYCLE, LEAVE_LIFECYCLE = range(3)


class UpdateParameters(ComparisonAlgorithm):
    """The parameters and outputs of an update."""

    FOUND_FIELDS = ("SIGMA_FIELD",)
    EXISTING, EDGES, MAX_OFFSET, SIGMA_FIELD = "EXISTING", "EDGES", "MAX_OFFSET", "SIGMA_FIELD"
    EXISTING_SIGMA, CONFIDENCE, REMOVE_SHIFT = "EXISTING_SIGMA", "CONFIDENCE", "REMOVE_SHIFT"
    REPLACE, ADD_NEW, RETIRE, NEEDS_DECISION = "REPLACE", "ADD_NEW", "RETIRE", "NEEDS_DECISION"
    DECISIONS = "DECISIONS"
    BLEND, FOLLOW, FIELD_MAP, KEY_FIELD = "BLEND", "FOLLOW", "FIELD_MAP", "KEY_FIELD"
    IN_PLACE, UNDO, LIFECYCLE = "IN_PLACE", "UNDO", "LIFECYCLE"
    UPDATED, CHANGES, HELD, REPORT = "UPDATED", "CHANGES", "HELD", "REPORT"
    NUMBERS = (
        ("UNCHANGED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines unchanged")),
        ("SHIFTED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines only shifted")),
        ("FOLLOWED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines whose ends followed a neighbour")),
        ("PARTLY", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines replaced in part")),
        ("REPLACED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines replaced")),
        ("ADDED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines added")),
        ("RETIRED", QT_TRANSLATE_NOOP("UpdateBasemap", "Lines retired")),
        ("HELD_BACK", QT_TRANSLATE_NOOP("UpdateBasemap", "Held back")),
    )

    def add_inputs(self):
        """Layers that are read."""
        line = [QgsProcessing.SourceType.TypeVectorLine]
        self.add_layer(
            self.EXISTING,
            self.tr("Existing lines"),
            line,
            self.tr("The linework that is brought up to date, in any CRS."),
        )
        self.add_layer(
            self.EDGES,
            self.tr("Edges"),
            line,
            self.tr("The new lines, of the higher accuracy. Not needed to take changes back."),
            optional=True,
        )

    def add_settings(self):
        """Limits and choices."""
        self._add_comparison()
        self._add_choices()
        self._add_fields()
        self._add_ways()

    def _add_comparison(self):
        self.add_distance(
            self.MAX_OFFSET,
            self.tr("Search distance (m)"),
            2.0,
            self.tr("Lines farther apart than this are not the same thing."),
            minimum=0.001,
        )
        self.add_field(
            self.SIGMA_FIELD,
            self.tr("Uncertainty of the edges"),
            self.EDGES,
            self.tr(
                "Field with the uncertainty of each edge, 1-sigma in metres. Left empty, a field"
                " “sigma_cross” is taken where there is one."
            ),
        )
        self.add_distance(
            self.EXISTING_SIGMA,
            self.tr("Uncertainty of the existing lines (m)"),
            0.10,
            self.tr("How well they were digitised, across their direction, 1-sigma in metres."),
        )
        self.add_confidence()
        self.add(
            QgsProcessingParameterBoolean(self.REMOVE_SHIFT, self.tr("Remove the shift"), True),
            self.tr(
                "Takes a significant shift of the whole layer out of every existing line, so that"
                " replaced and untouched lines fit together. Without it nothing is shifted."
            ),
        )
        self.add_survey()

    def _add_choices(self):
        tr = self.tr
        self.add_choice(
            self.REPLACE,
            tr("Replace"),
            [tr(text) for text in REPLACE_OPTIONS],
            tr("Only what is displaced, or every stretch that an edge runs along."),
        )
        self.add(
            QgsProcessingParameterBoolean(self.ADD_NEW, tr("Add new edges"), True),
            tr("Adds edges that have no counterpart."),
        )
        self.add_choice(
            self.RETIRE,
            tr("Lines that are gone"),
            [tr(t) for t in RETIRE_OPTIONS],
            tr("Mark them as retired, delete them, or keep them as they are."),
        )
        self.add(
            QgsProcessingParameterBoolean(self.NEEDS_DECISION, tr("Only accepted changes"), False),
            tr("Takes over only what carries the decision “accept”; all else is held back."),
        )
        self.add_layer(
            self.DECISIONS,
            tr("Decisions on existing lines"),
            [QgsProcessing.SourceType.TypeVector],
            tr(
                "The “Status of existing lines” of a comparison with these lines: what people"
                " decided there is kept to. Its field “line_id” says which line is meant."
            ),
            optional=True,
            advanced=True,
        )
        for name, label, default, text in (
            (self.BLEND, tr("Length of transitions (m)"), 2.0,
             tr("Where an edge ends and the old line goes on.")),
            (self.FOLLOW, tr("Maximum distance that ends follow (m)"), 1.0,
             tr("How far the ends of untouched neighbours may go along with a moved line.")),
        ):  # fmt: skip
            self.add_distance(name, label, default, text)

    def _add_fields(self):
        """How the fields of the existing lines are filled."""
        tr = self.tr
        self.add(
            QgsProcessingParameterString(
                self.FIELD_MAP, tr("Field mapping for added lines"), "", False, True
            ),
            tr(
                "“target: source; …”: which field of the edges fills which field of the existing"
                " layer. Left empty, fields of the same name are taken."
            ),
            advanced=True,
        )
        self.add_field(
            self.KEY_FIELD,
            tr("Id of the existing lines"),
            self.EXISTING,
            tr("What the table of changes calls a line. Left empty, its feature id."),
            advanced=True,
        )
        self.add_choice(
            self.LIFECYCLE,
            tr("Validity and status fields"),
            [tr(text) for text in LIFECYCLE_OPTIONS],
            tr(
                "A new line gets the day in a field like “valid_from”, a line that is gone gets it"
                " in one like “valid_to” and the word “retired” in a text field “status”. They are"
                " found by name, and the log says which. Missing ones, “valid_from” and"
                " “valid_to”, are added where asked."
            ),
            advanced=True,
        )

    def _add_ways(self):
        """Whether the layer itself is changed, or changes are taken back."""
        tr = self.tr
        self.add(
            QgsProcessingParameterBoolean(
                self.IN_PLACE, tr("Change the existing layer itself"), False
            ),
            tr(
                "Puts the changes into the layer's edit buffer as well, as one step that can be"
                " undone. A layer of the open project stays in edit mode until you save; any other"
                " is saved at once, or left as it was: a cancel takes back what was saved so far."
            ),
            advanced=True,
        )
        self.add_layer(
            self.UNDO,
            tr("Changes to take back"),
            [QgsProcessing.SourceType.TypeVector],
            tr("A former table of changes: the existing lines are given back as they were."),
            optional=True,
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.UPDATED,
            self.tr("Updated lines"),
            kinds.TypeVectorLine,
            self.tr("The existing lines again, and what is new."),
        )
        self.add_sink(
            self.CHANGES,
            self.tr("Changes"),
            kinds.TypeVectorLine,
            self.tr("Each change, with the geometry before and what it takes to undo it."),
            optional=True,
        )
        self.add_sink(
            self.HELD,
            self.tr("Held back"),
            kinds.TypeVectorLine,
            self.tr("What waits for a person, with the reason."),
            optional=True,
        )
        self.add_report(
            self.tr(
                "A page to print and sign: what changed, by how much, who decided, and what was"
                " held back. None is written when changes are taken back."
            )
        )
        self.add_marked_numbers()
