"""What “List places to revisit” asks for."""

from qgis.core import (
    QgsProcessing,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFile,
    QgsProcessingParameterPoint,
)

from ...shared.reconstruction.breaks import BREAK_NAMES
from ..reading import roles
from ..reading.epoch_fields import found_in_words
from .algorithm import Algorithm

DISAGREEMENTS = ("plan", "height", "other_edge", "parted", "remnant")
STATUSES = ("only_existing", "partly", "displaced")


class RevisitParameters(Algorithm):
    """The parameters and outputs of a list of places to revisit."""

    FOUND_FIELDS = ("TIME_FIELD", "CAPTURE_FIELDS")
    GAPS, REJECTED, EDGES, STATIONS, DISAGREEMENTS, PASSES = (
        "GAPS",
        "REJECTED",
        "EDGES",
        "STATIONS",
        "DISAGREEMENTS",
        "PASSES",
    )
    EXISTING_STATUS, CHANGES = "EXISTING_STATUS", "CHANGES"
    TIME_FIELD, CAPTURE_FIELDS = "TIME_FIELD", "CAPTURE_FIELDS"
    MIN_GAP, MIN_GAP_SECONDS, MAX_SIGMA, MAX_SIGMA_UP, MIN_REJECTED, MIN_LENGTH, MIN_OPEN = (
        "MIN_GAP",
        "MIN_GAP_SECONDS",
        "MAX_SIGMA",
        "MAX_SIGMA_UP",
        "MIN_REJECTED",
        "MIN_LENGTH",
        "MIN_OPEN",
    )
    BREAK_REASONS, DISAGREEMENT_REASONS, STATUSES = (
        "BREAK_REASONS",
        "DISAGREEMENT_REASONS",
        "STATUSES",
    )
    MIN_REJECTED_LENGTH = "MIN_REJECTED_LENGTH"
    CLUSTER, START, FOLDER = "CLUSTER", "START", "FOLDER"
    OUTPUT, REASONS = "OUTPUT", "REASONS"
    PLACES, FOUND, WALK = "PLACES", "FOUND", "WALK"

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        self.add(
            QgsProcessingParameterFile(
                self.FOLDER,
                self.tr("Folder of results"),
                QgsProcessingParameterFile.Behavior.Folder,
                optional=True,
            ),
            self.tr(
                "The folder that “Process captures of a project” wrote: the lists in its"
                " curbwright.gpkg stand for the layers below that are left empty."
            ),
        )
        self._add_epochs_and_edges()
        self._add_lists()
        self._add_fields()

    def _add_epochs_and_edges(self):
        """What “Reconstruct edges” lists."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.GAPS,
            self.tr("Gaps"),
            [kinds.TypeVectorLine],
            self.tr("Gaps of “Reconstruct edges”."),
            optional=True,
        )
        self.add_layer(
            self.REJECTED,
            self.tr("Rejected epochs"),
            [kinds.TypeVectorPoint],
            self.tr(
                "Rejected epochs of “Reconstruct edges” or “Screen epochs”, with the time field"
                " of the source."
            ),
            optional=True,
        )
        self.add_layer(
            self.EDGES,
            self.tr("Edges"),
            [kinds.TypeVectorLine],
            self.tr(
                "Edges with sigma_cross, sigma_up, start_reason or end_reason. If passes are"
                " given, the edges that were merged."
            ),
            optional=True,
        )
        self.add_layer(
            self.STATIONS,
            self.tr("Stations along edges"),
            [kinds.TypeVectorPoint],
            self.tr(
                "Stations of “Reconstruct edges”, with the uncertainty along the edges. They"
                " tell where an edge is poor; an edge as a whole may still be within the"
                " limits."
            ),
            optional=True,
        )

    def _add_lists(self):
        """What the algorithms that follow it list."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.DISAGREEMENTS,
            self.tr("Disagreements"),
            [kinds.TypeVectorLine],
            self.tr("Disagreements of “Merge repeat passes”."),
            optional=True,
        )
        self.add_layer(
            self.PASSES,
            self.tr("Passes"),
            [kinds.TypeVector],
            self.tr(
                "The table of passes of “Merge repeat passes”. It has no positions: the edges"
                " that were merged must be given, too."
            ),
            optional=True,
        )
        self.add_layer(
            self.EXISTING_STATUS,
            self.tr("Status of existing lines"),
            [kinds.TypeVectorLine],
            self.tr("Existing lines with their status, of “Compare edges with existing linework”."),
            optional=True,
        )
        self.add_layer(
            self.CHANGES,
            self.tr("Changes at ends"),
            [kinds.TypeVectorPoint],
            self.tr("Changes of “Join edge ends”; ends left open count."),
            optional=True,
        )

    def found_field(self, name, layer):
        part = roles.TIME if name == self.TIME_FIELD else roles.CAPTURE
        return found_in_words(layer, part)

    def _add_fields(self):
        """Which field of the rejected epochs is what."""
        self.add_field(
            self.TIME_FIELD,
            self.tr("Time of rejected epochs"),
            self.REJECTED,
            self.tr(
                "Tells which rejected epochs follow each other. Left empty, it is found from names,"
                " types and values."
            ),
            advanced=True,
        )
        self.add_field(
            self.CAPTURE_FIELDS,
            self.tr("Capture of rejected epochs"),
            self.REJECTED,
            self.tr(
                "Epochs of different captures never follow each other. Left empty, it is found by"
                " name."
            ),
            several=True,
            advanced=True,
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.MIN_GAP,
            self.tr("Minimum length of a gap (m)"),
            1.0,
            self.tr("Shorter gaps are nothing to go back for."),
        )
        self.add_number(
            self.MIN_GAP_SECONDS,
            self.tr("Minimum duration of a gap (seconds)"),
            0.0,
            self.tr(
                "Gaps that took less time are nothing to go back for, however long they are. 0: the"
                " length decides alone."
            ),
            low=0.0,
            decimals=1,
            advanced=True,
        )
        self.add_number(
            self.MIN_REJECTED,
            self.tr("Rejected epochs in a row"),
            5,
            self.tr(
                "So many at least make a place. Epochs that repeat others, or walked back over what"
                " was captured, do not count."
            ),
            low=1,
        )
        self.add_distance(
            self.MIN_REJECTED_LENGTH,
            self.tr("Minimum length of a rejected stretch (m)"),
            1.0,
            self.tr(
                "Epochs rejected in a row over less ground are no stretch to walk again: whoever"
                " stood there passes on. 0: their number decides alone."
            ),
        )
        self._add_lengths()
        self._add_choices()

    def _add_lengths(self):
        """Limits in metres."""
        self.add_distance(
            self.MAX_SIGMA,
            self.tr("Maximum uncertainty across (m)"),
            0.03,
            self.tr(
                "Edges and stations with a greater sigma_cross (1-sigma) count, and walks that lie"
                " farther off the others."
            ),
            minimum=0.0001,
        )
        self.add_distance(
            self.MAX_SIGMA_UP,
            self.tr("Maximum uncertainty of heights (m)"),
            0.05,
            self.tr(
                "Edges and stations with a greater sigma_up (1-sigma) count, and walks that lie"
                " farther off the others in height."
            ),
            minimum=0.0001,
        )
        self.add_distance(
            self.MIN_LENGTH,
            self.tr("Minimum length without an edge (m)"),
            2.0,
            self.tr("Existing lines count only where so much of them has no edge."),
        )
        self.add_distance(
            self.MIN_OPEN,
            self.tr("Minimum distance of ends left open (m)"),
            0.25,
            self.tr(
                "Ends nearer to each other, or to the edge that they end on, can be sorted out at"
                " the desk. 0: all count. Those of a junction, whose distance is not told,"
                " always do."
            ),
            advanced=True,
        )
        self.add_distance(
            self.CLUSTER,
            self.tr("Cluster distance (m)"),
            5.0,
            self.tr(
                "Findings within this distance of a place become one with it. 0: only what lies on"
                " one spot."
            ),
        )

    def _add_choices(self):
        """What else the user can choose."""
        for name, label, options, default, help_text in (
            (
                self.BREAK_REASONS,
                self.tr("Break reasons that count"),
                BREAK_NAMES,
                ("paused", "not_fixed", "spike", "poor_accuracy", "jump", "lost_epochs"),
                self.tr(
                    "Of gaps and of ends that broke off. Where another capture begins, or the walk"
                    " turned back, usually nothing is missing. Gaps without a reason count."
                ),
            ),
            (
                self.DISAGREEMENT_REASONS,
                self.tr("Disagreements that count"),
                DISAGREEMENTS,
                ("plan", "height", "parted"),
                self.tr(
                    "“other_edge” is a neighbour rather than a walk that differs, “remnant” less"
                    " than a metre long."
                ),
            ),
            (
                self.STATUSES,
                self.tr("Statuses that count"),
                STATUSES,
                ("only_existing", "partly"),
                self.tr(
                    "Of existing lines. “displaced” puts a place at each line that lies elsewhere,"
                    " to see whether it was moved."
                ),
            ),
        ):
            self.add(
                QgsProcessingParameterEnum(
                    name, label, list(options), True, list(default), True, True
                ),
                help_text,
                advanced=True,
            )
        self.add(
            QgsProcessingParameterPoint(self.START, self.tr("Start of the walk"), None, True),
            self.tr(
                "Where you will begin, for example the car park. Left empty, the walk begins at one"
                " of its ends."
            ),
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Places to revisit"),
            kinds.TypeVectorPoint,
            self.tr(
                "Points in walking order, in the CRS of the first layer given. A file that ends"
                " in .gpx gets waypoints."
            ),
        )
        self.add_sink(
            self.REASONS,
            self.tr("Reasons to revisit"),
            kinds.TypeVector,
            self.tr("A table of all findings, each with the order of its place."),
            optional=True,
            shown=False,
        )
        self.add_numbers(
            (self.PLACES, self.tr("Number of places")),
            (self.FOUND, self.tr("Findings")),
            (self.WALK, self.tr("Straight-line distance between places (m)")),
        )
