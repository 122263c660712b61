"""The systematic shift between two layers of lines, and the one layer moved by it."""

import numpy as np
from qgis.core import (
    QgsProcessing,
    QgsProcessingOutputBoolean,
    QgsProcessingParameterEnum,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .base.comparison import ComparisonAlgorithm, say_shift
from .base.outputs import Outputs
from .reading.line_pair import read_pair
from .writing import styles
from .writing.moved_lines import write_moved

SPACING = 1.0  # m between stations
MODELS = ("translation", "rigid", "similarity")


class EstimateShift(ComparisonAlgorithm):
    NAME = "estimateshift"
    TITLE = QT_TRANSLATE_NOOP("EstimateShift", "Estimate shift")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "EstimateShift",
        "Robust systematic shift, rotation and scale between two line layers, with uncertainty"
        " and a test.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "EstimateShift",
        "shift,datum,offset,translation,rotation,helmert,similarity,rigid,georeference,align,"
        "conflation,basemap,curb,kerb,edge"
        ",conflate,map update,rubber sheet",
    )
    CAUTION_LAST = False
    HELP = QT_TRANSLATE_NOOP(
        "EstimateShift",
        "Estimates by how much one layer of lines as a whole lies off another, and moves it"
        " there.\n\nSHIFT_EAST and SHIFT_NORTH are what is added to the input to bring it onto"
        " the existing lines, in metres on the ground along the axes of the input's CRS. With"
        " “rigid” a rotation (degrees, counter-clockwise) and with “similarity” a scale factor"
        " come with it, both about the middle of the lines used, which the log names; the shift"
        " then holds at that point. The output is the input moved by all of it, fields and"
        " heights unchanged.\n\nOffsets are only seen across a line, so the estimate is a"
        " robust least squares on the normals: lines that really moved, up to a third of the"
        " length, do not count. Where all lines run one way the component along them cannot be"
        " determined: it is reported as undetermined (no number), and the output is moved across"
        " the lines only.\n\nSigmas are 1-sigma and count lines, not stations, as independent."
        " SIGNIFICANT says whether the whole is more than chance at 95 % confidence (F test).",
    )
    FIELD_TABLES = {"OUTPUT": ()}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, EXISTING, MAX_OFFSET, MODEL, OUTPUT = (
        "INPUT",
        "EXISTING",
        "MAX_OFFSET",
        "MODEL",
        "OUTPUT",
    )
    SIGNIFICANT = "SIGNIFICANT"
    DECIMALS = {"ROTATION": 4, "SIGMA_ROTATION": 4, "SCALE": 6, "SIGMA_SCALE": 6}
    NUMBERS = (
        ("SHIFT_EAST", QT_TRANSLATE_NOOP("EstimateShift", "Shift east (m)")),
        ("SHIFT_NORTH", QT_TRANSLATE_NOOP("EstimateShift", "Shift north (m)")),
        ("ROTATION", QT_TRANSLATE_NOOP("EstimateShift", "Rotation, counter-clockwise (degrees)")),
        ("SCALE", QT_TRANSLATE_NOOP("EstimateShift", "Scale factor")),
        ("SIGMA_EAST", QT_TRANSLATE_NOOP("EstimateShift", "Sigma of the shift east (m)")),
        ("SIGMA_NORTH", QT_TRANSLATE_NOOP("EstimateShift", "Sigma of the shift north (m)")),
        ("SIGMA_ROTATION", QT_TRANSLATE_NOOP("EstimateShift", "Sigma of the rotation (degrees)")),
        ("SIGMA_SCALE", QT_TRANSLATE_NOOP("EstimateShift", "Sigma of the scale factor")),
        (
            "SHIFT_ACROSS",
            QT_TRANSLATE_NOOP("EstimateShift", "Shift across lines that all run one way (m)"),
        ),
        ("SIGMA_ACROSS", QT_TRANSLATE_NOOP("EstimateShift", "Sigma of the shift across (m)")),
        (
            "UNDETERMINED_AZIMUTH",
            QT_TRANSLATE_NOOP("EstimateShift", "Undetermined direction (degrees from north)"),
        ),
        ("USED_LENGTH", QT_TRANSLATE_NOOP("EstimateShift", "Length used (m)")),
    )

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        line = [QgsProcessing.SourceType.TypeVectorLine]
        self.add_layer(
            self.INPUT,
            self.tr("Lines to be moved"),
            line,
            self.tr(
                "The layer whose shift is asked for, such as surveyed edges or a legacy basemap."
            ),
        )
        self.add_layer(
            self.EXISTING,
            self.tr("Lines to move them onto"),
            line,
            self.tr("The layer that stays where it is, in any CRS."),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.MAX_OFFSET,
            self.tr("Search distance (m)"),
            2.0,
            self.tr(
                "Lines farther apart than this do not count. It must be greater than the shift."
            ),
            minimum=0.001,
        )
        self.add(
            QgsProcessingParameterEnum(
                self.MODEL,
                self.tr("Model"),
                options=list(MODELS),
                defaultValue="translation",
                usesStaticStrings=True,
            ),
            self.tr(
                "translation: east and north. rigid: with a rotation. similarity: with a rotation"
                " and a scale factor."
            ),
        )

    def add_outputs(self):
        """What is written and returned."""
        self.add_sink(
            self.OUTPUT,
            self.tr("Moved lines"),
            QgsProcessing.SourceType.TypeVectorLine,
            self.tr("The input moved by the shift, in its own CRS."),
        )
        self.add_marked_numbers()
        self.addOutput(QgsProcessingOutputBoolean(self.SIGNIFICANT, self.tr("More than chance")))

    def work(self, parameters, context, feedback):
        from ..shared.lines.rays import Index, stations_along
        from ..shared.lines.shift import layer_shift
        from ..shared.tuning import CROWDS

        moving, fixed = (
            self.source(parameters, context),
            self.source(parameters, context, self.EXISTING),
        )
        reach = self.parameterAsDouble(parameters, self.MAX_OFFSET, context)
        model = self.parameterAsEnumString(parameters, self.MODEL, context)
        pair = read_pair(
            moving,
            fixed,
            None,
            "",
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 30),
        )
        index = Index(pair.edges)
        rays = stations_along(pair.existing, SPACING, index.near(pair.existing, reach))
        look = self.progress(feedback, 30, 60)
        met = index.meet(rays, reach, look, most=CROWDS.most_met)
        shift = layer_shift(
            pair.existing, rays, met, model, reach, 0.95, self.progress(feedback, 60, 75)
        )
        self._say(shift, pair, moving.sourceName(), fixed.sourceName(), feedback)
        out = Outputs(self, parameters, context, feedback)
        out.results = self._numbers(shift)
        fields = out.fields(self.OUTPUT, moving, ())
        writer = out.writer(self.OUTPUT, fields, moving.wkbType(), moving.sourceCrs(), styles.EDGES)

        def move(x, y):
            return pair.positions_in_edge_crs(*shift.move(*pair.local(x, y)))

        left = write_moved(moving, move, writer, feedback, self.progress(feedback, 75, 100))
        if left:
            feedback.pushWarning(
                self.tr(
                    "Vertices without a position in the frame, left where they were: {}."
                ).format(left)
            )
        return out.results

    def _numbers(self, shift):
        """The numbers that are returned."""
        return {
            "SHIFT_EAST": shift.east,
            "SHIFT_NORTH": shift.north,
            "ROTATION": float(np.degrees(shift.rotation)),
            "SCALE": shift.scale,
            "SIGMA_EAST": shift.sigma_east,
            "SIGMA_NORTH": shift.sigma_north,
            "SIGMA_ROTATION": float(np.degrees(shift.sigma_rotation)),
            "SIGMA_SCALE": shift.sigma_scale,
            "SHIFT_ACROSS": shift.across,
            "SIGMA_ACROSS": shift.sigma_across,
            "UNDETERMINED_AZIMUTH": shift.undetermined_azimuth,
            "USED_LENGTH": shift.used_length,
            self.SIGNIFICANT: shift.significant,
        }

    def _say(self, shift, pair, moving, fixed, feedback):
        text, doubtful = say_shift(shift, moving, fixed, self.tr)
        (feedback.pushWarning if doubtful else feedback.pushInfo)(text)
        if pair.crs_warning:
            feedback.pushWarning(pair.crs_warning)  # again, beside the shift
        if shift.reason:
            feedback.pushWarning(
                self.tr(
                    "“{}” is passed on as it is. If the layers show the same things, check the CRS"
                    " of both, or raise “{}”."
                ).format(moving, self.label(self.MAX_OFFSET))
            )
            return
        if shift.model != "translation":
            x, y = pair.positions_in_edge_crs(*(np.array([value]) for value in shift.origin))
            feedback.pushInfo(
                self.tr(
                    "Rotation {:+.6f} ± {:.6f} degrees, about {:.10g}, {:.10g} (CRS of “{}”)."
                ).format(
                    np.degrees(shift.rotation), np.degrees(shift.sigma_rotation), x[0], y[0], moving
                )
            )
        if shift.model == "similarity":
            feedback.pushInfo(
                self.tr("Scale factor {:.8f} ± {:.8f}, about the same point.").format(
                    shift.scale, shift.sigma_scale
                )
            )
        feedback.pushInfo(
            self.tr(
                "Test value {:.4g}, limit {:.4g} (F, {} and {} degrees of freedom). Noise of the"
                " offsets {:.3f} m. Used {:.2f} of {:.2f} m."
            ).format(
                shift.statistic,
                shift.critical,
                *shift.degrees,
                shift.noise,
                shift.used_length,
                shift.offered_length,
            )
        )
        if not shift.determined and not np.isfinite(shift.undetermined_azimuth):
            feedback.pushWarning(
                self.tr(
                    "The lines do not determine all of the model “{}”: what stays undetermined is"
                    " reported without a number and not applied. Try “translation”."
                ).format(shift.model)
            )
        if not shift.significant:
            feedback.pushWarning(
                self.tr(
                    "The shift is not significant: the moved lines may be no better than the input."
                )
            )
