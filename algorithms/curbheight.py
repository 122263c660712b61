"""The height of a curb between its top and its flow line, along the top."""

import numpy as np
from qgis.core import (
    QgsFeatureRequest,
    QgsProcessing,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .base.algorithm import Algorithm
from .base.outputs import Outputs
from .host.feedback import looked_through, raise_if_cancelled
from .host.fields import NewField, kind
from .reading.columns import columns_of_lists
from .reading.edge_lines import SIGMA_UP
from .reading.features import iterate
from .reading.layer_frame import MAX_SIGMA
from .reading.line_pair import read_pair
from .writing import sinks, styles

Z95 = 1.96  # two-sided 95 % of the normal distribution
NO_CURB = 1.0  # m; higher than any (common practice, no source)
LINE_FIELDS = (
    NewField("stations", "Int", "Stations along the top."),
    NewField("measured", "Int", "Stations with a height."),
    NewField("outside", "Int", "Stations outside the limits."),
    NewField(
        "outside_certain",
        "Int",
        "Stations outside the limits by more than their uncertainty explains.",
    ),
    NewField("height_mean", "Double", "Mean height of the curb.", "m"),
    NewField("height_min", "Double", "Minimum height.", "m"),
    NewField("height_max", "Double", "Maximum height.", "m"),
    NewField("height_sd", "Double", "Standard deviation of the heights.", "m"),
    NewField("distance_mean", "Double", "Mean distance of the flow line in plan.", "m"),
    NewField(
        "sigma_height",
        "Double",
        "Uncertainty of a height, 1-sigma, from `sigma_up` of both lines.",
        "m",
    ),
)
STATION_FIELDS = (
    NewField("top_id", "LongLong", "Feature id of the top."),
    NewField("flow_id", "LongLong", "Feature id of the flow line."),
    NewField("top", "QString", "What the top is called."),
    NewField("flow", "QString", "What the flow line is called."),
    NewField("chainage", "Double", "Along the top.", "m"),
    NewField("flow_chainage", "Double", "Along the flow line.", "m"),
    NewField("height", "Double", "Top minus flow line.", "m"),
    NewField(
        "distance", "Double", "Distance of the flow line in plan, + to the right of the top.", "m"
    ),
    NewField(
        "sigma", "Double", "Uncertainty of the height, 1-sigma, from `sigma_up` of both lines.", "m"
    ),
    NewField("state", "QString", "`within`, `low` or `high` of the limits."),
    NewField("certain", "Bool", "True where the height is outside by more than 1.96 sigma."),
)


class CurbHeight(Algorithm):
    NAME = "curbheight"
    GROUP = "linework"
    TITLE = QT_TRANSLATE_NOOP("CurbHeight", "Measure curb height")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "CurbHeight",
        "Height of the top above the flow line along the curb, with uncertainty, flagged"
        " outside a range.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "CurbHeight",
        "curb height,kerb,reveal,upstand,face,flow line,gutter,top of curb,dropped"
        " curb,station,chainage,clearance"
        ",kerbline,as-built,stakeout check",
    )
    HELP = QT_TRANSLATE_NOOP(
        "CurbHeight",
        "Measures how high a curb is (its reveal, or upstand) where both its top and its flow"
        " line were captured: at stations along the top, the height of the top less that of the"
        " flow line next to it, and their distance in plan, + where the flow line lies to the"
        " right of the top. Of several flow lines within reach the nearest counts; directions"
        " do not matter.\n\nStations: a point on the top with height, distance, sigma (1-sigma:"
        " root of sigma_up² of both), state (within, low, high; no_height where a line has"
        " none) and certain: true where the height lies outside the range by more than 1.96"
        " sigma, which chance explains once in twenty times at most. Tops: every field, then"
        " stations, measured (with a flow line and a height), outside, outside_certain,"
        " height_mean, height_min, height_max, height_sd, distance_mean, sigma_height"
        " (m).\n\nThe range of 0.10 to 0.15 m covers common practice: a vertical curb of 6 in"
        " (150 mm) in the US, where 4 to 9 in are seen, and 100 to 125 mm in the UK, 120 mm a"
        " common standard, with 25 mm or more for any raised kerb. Set it to what was"
        " built.\n\nFlush and nearly flush curbs are below the vertical noise: a dropped kerb"
        " of 6 mm, or the level change of 1/4 in (6.4 mm) that the 2010 ADA Standards (303) let"
        " pass, cannot be told from none with RTK heights of 15 to 20 mm each. Do not judge"
        " accessibility by this. A drop of the whole curb shows, and where it is. What both"
        " captures have in common (a wrong base height) cancels; what changed between them"
        " (another antenna height, another day's satellites) does not, and sigma does not know"
        " of it: check one place with a rule.\n\nThe result is of mapping grade: it is no"
        " as-built record, and not for stake-out without a licensed surveyor.",
    )
    FIELD_TABLES = {"OUTPUT": LINE_FIELDS, "STATIONS": STATION_FIELDS}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, FLOW_LINE, MIN_HEIGHT, MAX_HEIGHT, MAX_DISTANCE, STATION_SPACING, SIGMA = (
        "INPUT",
        "FLOW_LINE",
        "MIN_HEIGHT",
        "MAX_HEIGHT",
        "MAX_DISTANCE",
        "STATION_SPACING",
        "SIGMA",
    )
    OUTPUT, STATIONS, MEASURED, OUTSIDE, HEIGHT_MEAN = (
        "OUTPUT",
        "STATIONS",
        "MEASURED",
        "OUTSIDE",
        "HEIGHT_MEAN",
    )
    NEEDS = ("numpy", "scipy", "shapely")

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        kinds = QgsProcessing.SourceType
        line = [kinds.TypeVectorLine]
        self.add_layer(
            self.INPUT,
            self.tr("Tops of curb"),
            line,
            self.tr("Edges captured along the top of the curb, with Z, in any CRS."),
        )
        self.add_layer(
            self.FLOW_LINE,
            self.tr("Flow lines"),
            line,
            self.tr(
                "Edges captured along the foot of the curb or the flow line, with Z, in any CRS;"
                " heights of the same kind (ellipsoidal or orthometric) as those of the tops."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.MIN_HEIGHT,
            self.tr("Minimum nominal height (m)"),
            0.10,
            self.tr("Lower stations are flagged “low”."),
            minimum=-10.0,
        )
        self.add_distance(
            self.MAX_HEIGHT,
            self.tr("Maximum nominal height (m)"),
            0.15,
            self.tr("Higher stations are flagged “high”."),
            minimum=-10.0,
        )
        self.add_distance(
            self.MAX_DISTANCE,
            self.tr("Maximum distance of the flow line (m)"),
            0.6,
            self.tr(
                "Maximum distance between top and flow line in plan. A typical face leans back by"
                " 12 to 25 mm (from memory, 1 in 6 to 1 in 12); leave room for the noise of both,"
                " but none for the curb across a narrow island."
            ),
            minimum=0.01,
        )
        self.add_distance(
            self.STATION_SPACING,
            self.tr("Distance between stations (m)"),
            1.0,
            self.tr("Maximum distance between two stations along a top. Each has four at least."),
            minimum=0.01,
        )
        self.add_distance(
            self.SIGMA,
            self.tr("Uncertainty of heights (m)"),
            0.015,
            self.tr(
                "1-sigma in metres of the heights of lines without a value in a field “sigma_up”,"
                " as “Reconstruct edges” writes it."
            ),
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Tops with heights"),
            kinds.TypeVectorLine,
            self.tr("The tops, with statistics of the height along them."),
        )
        self.add_sink(
            self.STATIONS,
            self.tr("Stations of curb height"),
            kinds.TypeVectorPoint,
            self.tr("Points along the tops with height, distance, uncertainty and flag."),
            optional=True,
        )
        self.add_numbers(
            (self.MEASURED, self.tr("Stations measured")),
            (self.OUTSIDE, self.tr("Stations outside the range")),
            (self.HEIGHT_MEAN, self.tr("Mean height (m)")),
        )

    def checkParameterValues(self, parameters, context):
        fine, why = super().checkParameterValues(parameters, context)
        if fine:
            why = self.why_not_less(parameters, context, self.MIN_HEIGHT, self.MAX_HEIGHT)
        return fine and not why, why

    def work(self, parameters, context, feedback):
        from ..shared.lines.curb_heights import (
            HeightRange,
            height_statistics,
            measure_heights,
        )

        tops, flows = (
            self.source(parameters, context),
            self.source(parameters, context, self.FLOW_LINE),
        )
        for source, name in ((tops, self.INPUT), (flows, self.FLOW_LINE)):
            self._refuse_without_heights(source, name)
        number = self.parameterAsDouble
        low, high, reach, spacing, assumed = (
            number(parameters, name, context)
            for name in (
                self.MIN_HEIGHT,
                self.MAX_HEIGHT,
                self.MAX_DISTANCE,
                self.STATION_SPACING,
                self.SIGMA,
            )
        )
        pair = read_pair(
            tops,
            flows,
            None,
            "",
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 30),
        )
        sigmas = [
            self._sigma(source, ids, assumed, feedback)
            for source, ids in ((tops, pair.edge_ids), (flows, pair.existing_ids))
        ]
        heights = measure_heights(
            pair.edges,
            pair.existing,
            HeightRange(low, high, Z95),
            sigmas,
            spacing,
            reach,
            self.progress(feedback, 35, 75),
        )
        statistics = height_statistics(heights)
        self._say(tops.sourceName(), flows.sourceName(), heights, reach, feedback)
        out = Outputs(self, parameters, context, feedback)
        return self._write(tops, pair, heights, statistics, out)

    def _refuse_without_heights(self, source, name):
        form = source.wkbType()
        lines = QgsWkbTypes.geometryType(form) == QgsWkbTypes.GeometryType.LineGeometry
        if not lines or not QgsWkbTypes.hasZ(form):
            raise QgsProcessingException(
                self.tr(
                    "Layer “{}” holds no lines with heights ({}), but the height of a curb is"
                    " measured between two of them. Choose a layer of LineStringZ in “{}”."
                ).format(source.sourceName(), QgsWkbTypes.displayString(form), self.label(name))
            )

    def _sigma(self, source, ids, assumed, feedback):
        """1-sigma of the heights of each row, metres."""
        fields = source.fields()
        place = fields.lookupField(SIGMA_UP)
        if place < 0 or kind(fields.at(place)) not in ("int", "double"):
            return np.full(len(ids), assumed)
        name, found = fields.at(place).name(), {}
        request = (
            QgsFeatureRequest()
            .setFlags(QgsFeatureRequest.Flag.NoGeometry)
            .setSubsetOfAttributes([place])
        )
        for feature in looked_through(iterate(source, request), feedback):
            found[feature.id()] = feature[place]
        values = columns_of_lists(source, [name], [[found.get(ident) for ident in ids.tolist()]])[
            name
        ].numbers()
        if np.nanmax(values, initial=0.0) > MAX_SIGMA:
            feedback.pushWarning(
                self.tr(
                    "Layer “{}”: field “{}” holds values up to {:.4g}, which cannot be the"
                    " uncertainty of heights in metres: “{}” is taken instead."
                ).format(
                    source.sourceName(), name, float(np.nanmax(values)), self.label(self.SIGMA)
                )
            )
            return np.full(len(ids), assumed)
        return np.where(np.isfinite(values) & (values >= 0), values, assumed)

    def _say(self, tops, flows, heights, reach, feedback):
        """Stations met, and what their heights are."""
        there = np.isfinite(heights.height)
        feedback.pushInfo(
            self.tr(
                "Stations: {} along “{}”, {} of them with “{}” within {:.4g} m, {} with heights of"
                " both."
            ).format(
                int(heights.stations.sum()),
                tops,
                len(heights),
                flows,
                reach,
                int(np.count_nonzero(there)),
            )
        )
        if not len(heights):
            feedback.pushWarning(
                self.tr(
                    "No line of “{}” runs along one of “{}” within {:.4g} m. If they should, check"
                    " the CRS of both layers, or raise “{}”."
                ).format(flows, tops, reach, self.label(self.MAX_DISTANCE))
            )
            return
        if not there.any():
            feedback.pushWarning(
                self.tr(
                    "No station has heights of both lines: check the Z values of “{}” and “{}”."
                ).format(tops, flows)
            )
            return
        self._say_heights(tops, flows, heights, there, feedback)

    def _say_heights(self, tops, flows, heights, there, feedback):
        """Heights found, those outside the range, and doubts; `there`: stations that have one."""
        from ..shared.lines.curb_heights import HIGH, LOW

        height = heights.height[there]
        feedback.pushInfo(
            self.tr(
                "Height: mean {:.3f} m, from {:.3f} to {:.3f} m, median 1-sigma {:.3f} m; median"
                " distance in plan {:+.3f} m."
            ).format(
                float(height.mean()),
                float(height.min()),
                float(height.max()),
                float(np.median(heights.sigma[there])),
                float(np.median(heights.distance[there])),
            )
        )
        feedback.pushInfo(
            self.tr(
                "Outside the range: {} low, {} high, {} of them by more than 1.96 sigma."
            ).format(
                int(np.count_nonzero(heights.state == LOW)),
                int(np.count_nonzero(heights.state == HIGH)),
                int(np.count_nonzero(heights.certain)),
            )
        )
        if abs(float(np.median(height))) > NO_CURB:
            feedback.pushWarning(
                self.tr(
                    "Half of all heights are over {:g} m, which no curb is: the Z values of “{}”"
                    " and “{}” may be in another unit than metres, or above different surfaces."
                ).format(NO_CURB, tops, flows)
            )
        elif float(np.median(height)) < 0:
            feedback.pushWarning(
                self.tr(
                    "Most heights are negative: “{}” and “{}” may have been taken for each other."
                ).format(self.label(self.INPUT), self.label(self.FLOW_LINE))
            )

    def _write(self, tops, pair, heights, statistics, out):
        """Make the sinks and fill them."""
        raise_if_cancelled(out.feedback)
        there = np.isfinite(heights.height)
        out.results = {
            self.MEASURED: int(np.count_nonzero(there)),
            self.OUTSIDE: int(statistics.outside.sum()),
            self.HEIGHT_MEAN: float(heights.height[there].mean()) if there.any() else None,
        }
        pass_on = out.add_source(
            self.OUTPUT, self.INPUT, tops, pair.edge_ids, LINE_FIELDS, styles.CURB_HEIGHTS
        )
        if out.wanted(self.STATIONS):
            x, y = pair.positions_in_edge_crs(heights.x, heights.y)
            out.add(
                self.STATIONS,
                STATION_FIELDS,
                (QgsWkbTypes.Type.PointZ, tops.sourceCrs()),
                styles.HEIGHT_STATIONS,
                sinks.point_geometries(x, y, heights.z / pair.frame.height_unit),
                self._station_columns(pair, heights),
            )
        pass_on(self._line_columns(heights, statistics), self.progress(out.feedback, 78, 88))
        out.write()
        out.feedback.setProgress(99)
        return out.results

    @staticmethod
    def _line_columns(heights, statistics):
        s = statistics
        return [
            sinks.cells(column)
            for column in (
                heights.stations,
                s.measured,
                s.outside,
                s.certain,
                s.mean,
                s.least,
                s.greatest,
                s.sd,
                s.distance,
                s.sigma,
            )
        ]

    @staticmethod
    def _station_columns(pair, heights):
        from ..shared.lines.curb_heights import STATE_NAMES

        return (
            pair.edge_ids[heights.top].tolist(),
            pair.existing_ids[heights.flow].tolist(),
            [pair.edge_labels[row] for row in heights.top.tolist()],
            [pair.existing_labels[row] for row in heights.flow.tolist()],
            *(
                sinks.cells(column)
                for column in (
                    heights.chainage,
                    heights.flow_chainage,
                    heights.height,
                    heights.distance,
                    heights.sigma,
                )
            ),
            sinks.text_cells(heights.state, STATE_NAMES),
            sinks.cells(heights.certain),
        )
