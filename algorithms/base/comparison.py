"""What the algorithms that compare edges with other data have in common."""

import numpy as np
from qgis.core import QgsProcessing, QgsProcessingException

from ..host.figures import printed, translate
from ..host.moments import days_in_words
from ..reading.survey_area import read_survey, survey_words
from .algorithm import Algorithm


class ComparisonAlgorithm(Algorithm):
    """Base of the algorithms that compare edges with other data.

    `NUMBERS` holds names and labels of the numbers that they return, the labels marked for
    translation.
    """

    GROUP = "comparison"
    NEEDS = ("numpy", "scipy", "shapely")
    NUMBERS = ()

    def add_survey(self):
        """The parameters that say where anyone looked."""
        self.add_layer(
            "AREA",
            self.tr("Surveyed area"),
            [QgsProcessing.SourceType.TypeVectorPolygon],
            self.tr(
                "Polygons, in any CRS, within which somebody looked for everything. Existing"
                " stretches outside are “not_visited”, never “only_existing”. Left empty, the area"
                " is what lies within “{}”."
            ).format(self.tr("Reach of the survey (m)")),
            optional=True,
        )
        self.add_distance(
            "REACH",
            self.tr("Reach of the survey (m)"),
            15.0,
            self.tr(
                "Without a surveyed area given, the ground within this distance of any edge counts"
                " as surveyed."
            ),
            minimum=0.001,
        )

    def add_confidence(self):
        """The confidence of all tests of a comparison."""
        self.add_number(
            self.CONFIDENCE,
            self.tr("Confidence (0 to 1)"),
            0.95,
            self.tr("Of the tests whether an offset, or the shift, is more than uncertainty."),
            low=0.5,
            high=0.9999,
            decimals=4,
            advanced=True,
        )

    @staticmethod
    def captured_between(edges):
        """First and last time of the edges in words, where they have the fields that “Reconstruct
        edges” writes; else empty."""
        places = [edges.fields().lookupField(name) for name in ("started_unix", "ended_unix")]
        if min(places) < 0:
            return ""
        ends = edges.minimumValue(places[0]), edges.maximumValue(places[1])
        if not all(isinstance(end, (int, float)) for end in ends):
            return ""
        return days_in_words(*ends)

    def named_by(self, pair, key_field=""):
        """A row of a report's settings: what lines are called by."""
        edges, existing = pair.labelled_by
        if key_field:
            existing = self.tr("field “{}”").format(key_field)
        return (
            self.tr("Identifiers"),
            self.tr("edges by {}, existing lines by {}").format(edges, existing),
        )

    def survey(self, pair, edges, parameters, context, feedback, places=None):
        """Where anyone looked: a `Survey`, and the same in words.

        `places` are x and y of epochs in the CRS of the edges.
        """
        area = self.parameterAsSource(parameters, "AREA", context)
        if area is None and self.wanted(parameters, "AREA"):
            raise QgsProcessingException(self.invalidSourceError(parameters, "AREA"))
        reach = self.parameterAsDouble(parameters, "REACH", context)
        survey = read_survey(pair, edges, area, reach, places, context.transformContext(), feedback)
        words = survey_words(reach, area, places is not None)
        feedback.pushInfo(self.tr("Surveyed area: {}.").format(words))
        return survey, words

    def add_marked_numbers(self):
        """The numbers of `NUMBERS`, after all parameters."""
        self.add_numbers(*((name, self.tr(label)) for name, label in self.NUMBERS))


def say_shift(shift, edges, existing, tr):
    """The shift in words: a sentence, and True where it deserves a warning."""
    if shift.reason:
        why = translate("Report", shift.reason)
        return tr("Shift: it cannot be determined: {}.").format(why), True
    if np.isfinite(shift.undetermined_azimuth):
        text = tr(
            "Shift: all lines run one way (azimuth {:.0f}°), so the component along them is"
            " undetermined. Across them, to the right of that direction, “{}” lies {:+.3f}{} m"
            " from “{}”: {}."
        ).format(
            shift.undetermined_azimuth,
            existing,
            shift.across,
            printed(f" ± {shift.sigma_across:.3f}") if np.isfinite(shift.sigma_across) else "",
            edges,
            tr("significant") if shift.significant else tr("not significant"),
        )
        return text, True
    return (
        tr(
            "Shift: “{}” lies {:+.3f} ± {:.3f} m east and {:+.3f} ± {:.3f} m north of “{}” ({} at"
            " {:.0f} % confidence, from {:.0f} m, lines: {})."
        ).format(
            existing,
            shift.east,
            shift.sigma_east,
            shift.north,
            shift.sigma_north,
            edges,
            tr("significant") if shift.significant else tr("not significant"),
            100 * shift.confidence,
            shift.used_length,
            shift.used_lines,
        ),
        False,
    )
