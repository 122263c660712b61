"""What must be walked again, from what the other algorithms listed: places with what and why in
words, in walking order."""

from pathlib import Path

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsProcessingContext,
    QgsProcessingException,
    QgsProcessingOutputLayerDefinition,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from .base.outputs import Outputs
from .base.revisit_parameters import RevisitParameters
from .batch.result_folder import GEOPACKAGE
from .host.feedback import raise_if_cancelled
from .host.quotes import quoted
from .host.watching import open_file
from .reading.layer_stream import file_behind
from .reading.transforms import transform
from .writing import sinks, styles
from .writing.revisit_tables import (
    GPX_FIELDS,
    PLACE_FIELDS,
    REASON_FIELDS,
    place_columns,
    reason_columns,
)
from .writing.targets import local_path

# layer of the results of a batch that each parameter takes
OF_FOLDER = {
    "EDGES": "edges",
    "GAPS": "gaps",
    "REJECTED": "rejected",
    "DISAGREEMENTS": "disagreements",
    "PASSES": "passes",
    "EXISTING_STATUS": "existing_status",
}
# without which a layer says nothing, though it may be what it should
NEEDED_FIELDS = {"STATIONS": ("edge_id", "chainage"), "PASSES": ("source_id",)}
FAR_START = 1e5  # m; nobody begins a walk so far from its first place
WGS84 = "EPSG:4326"  # that GPX is written in


class Revisits(RevisitParameters):
    NAME = "revisits"
    GROUP = "linework"
    TITLE = QT_TRANSLATE_NOOP("Revisits", "List places to revisit")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "Revisits", "What must be walked again, and why, as points in walking order."
    )
    TAGS = QT_TRANSLATE_NOOP(
        "Revisits",
        "revisit,again,missing,gap,rejected,uncertain,check,to"
        " do,waypoint,gpx,field,walk,route,order,completeness,curb,kerb,edge"
        ",as-built",
    )
    HELP = QT_TRANSLATE_NOOP(
        "Revisits",
        "Gathers from the lists of the other algorithms what somebody must go back for, and"
        " puts it in walking order. Give any of the layers, one at least; they may have"
        " different CRSs. All limits are in metres on the ground.\n\nWhat counts (field kind):"
        " “gap”, a gap of at least the least length and pause; “no_edge”, an existing line, or"
        " the part of one, without an edge; “rejected”, so many rejected epochs in a row, by"
        " their time and within one capture; “disagreement”, walks that differ; “uncertain” and"
        " “uncertain_up”, an edge, or stations in a row, over the limits in plan and in height;"
        " “pass_off”, a walk that lies off the others as a whole by more than these limits;"
        " “broken_off”, an end of an edge that broke off where no gap tells of it; “left_open”,"
        " ends that could not be joined; “displaced”, an existing line elsewhere.\n\nFindings"
        " within the cluster distance become one place that names them all. A place lies at a"
        " finding, at the middle of its stretch (of stations at the worst), or, on an existing"
        " line with an edge along part of it, at the maximum distance from the edges (if these"
        " are given). Each finding that passes a limit is in exactly one place; the log counts"
        " what does not pass.\n\nWalking order: from the start on to the nearest place, then"
        " pieces of the way are turned round as long as that makes it shorter (2-opt). Without"
        " a start, it begins at the more western end. Distances are straight: fences, walls and"
        " roads are not known. Use the order as a suggestion, and cross roads where it is safe."
        " The order of the rows does not matter.\n\nPlaces: order, name (number and what), cmt (all"
        " kinds, in brief), desc (what and why, in words), kind (the one that weighs most),"
        " kinds, reasons (number of findings), metres and seconds (the maximum of them),"
        " epochs (rejected), edge_id, capture, leg (straight from the place before). Reasons: a"
        " table of all findings, with the order of their place, the layer and feature they come"
        " from, and how far away the place is.\n\nGPX: name, cmt and desc are the names that"
        " GPX has for them. Write the places to a file that ends in .gpx, and they become"
        " waypoints in WGS 84 with these three fields; or export the layer as GPX with"
        " EPSG:4326 and only these fields selected. Waypoints are for finding the place, not"
        " for measuring.\n\nSafety: places to revisit are often where traffic, parked vehicles"
        " or walls were in the way the first time. Follow the law and the road owner's rules:"
        " permits, traffic control, high-visibility clothing, training. Face the traffic, have"
        " somebody watch it, do not look at a screen while you walk, and leave out a place that"
        " cannot be reached safely. The list is of mapping grade, as are the layers it is made"
        " from.",
    )
    FIELD_TABLES = {"OUTPUT": PLACE_FIELDS, "REASONS": REASON_FIELDS}

    NEEDS = ("numpy", "scipy", "shapely")

    def inputs(self):
        """Parameter, what writes it, geometry, fields of which one must be there, further
        fields."""
        reconstruct, merge = self.tr("“Reconstruct edges”"), self.tr("“Merge repeat passes”")
        return (
            (
                self.EDGES,
                reconstruct,
                "line",
                ("sigma_cross", "sigma_up", "start_reason", "end_reason"),
                ("edge_id", "capture", "captures"),
            ),
            (
                self.GAPS,
                reconstruct,
                "line",
                (),
                ("metres", "seconds", "reason", "capture", "after_edge", "before_edge"),
            ),
            (self.REJECTED, reconstruct, "point", ("reason",), ()),
            (
                self.STATIONS,
                reconstruct,
                "point",
                ("sigma_cross", "sigma_up"),
                ("edge_id", "chainage"),
            ),
            (
                self.DISAGREEMENTS,
                merge,
                "line",
                ("reason",),
                ("length", "detail", "edge_id", "capture"),
            ),
            (self.PASSES, merge, "table", ("offset_mean", "up_mean"), ("source_id", "capture")),
            (
                self.EXISTING_STATUS,
                self.tr("“Compare edges with existing linework”"),
                "line",
                ("status",),
                ("matched_share", "visited_share", "offset_mean"),
            ),
            (
                self.CHANGES,
                self.tr("“Join edge ends”"),
                "point",
                ("what",),
                ("gap", "why", "edges"),
            ),
        )

    # Checks

    def checkParameterValues(self, parameters, context):
        fine, message = super().checkParameterValues(parameters, context)
        if not fine:
            return fine, message
        missing = self._missing(parameters)
        return not missing, missing

    def _with_folder(self, parameters):
        """The parameters, with the lists of the folder where no layer is chosen; those without rows
        are left out.

        Raises
        ------
        QgsProcessingException
            If there are no results in the folder, or they cannot be read.
        """
        if not self.wanted(parameters, self.FOLDER):
            return parameters
        folder = local_path(self.parameterAsFile(parameters, self.FOLDER, QgsProcessingContext()))
        file = Path(folder) / GEOPACKAGE
        results = open_file(file) if file.is_file() else None
        if results is None:
            raise QgsProcessingException(
                self.tr(
                    "“{}”: there is no {} in “{}” that can be read. Choose the folder that"
                    " “Process captures of a project” wrote."
                ).format(self.label(self.FOLDER), GEOPACKAGE, folder)
            )
        of_folder = {}
        for name, own in OF_FOLDER.items():
            layer = results.GetLayerByName(own)
            if layer is not None and layer.GetFeatureCount():
                of_folder[name] = f"{file}|layername={own}"
        given = {name for name in OF_FOLDER if self.wanted(parameters, name)}
        return {
            **parameters,
            **{name: value for name, value in of_folder.items() if name not in given},
        }

    def _missing(self, parameters):
        """What must be given and is not, in words; empty where all is there."""
        try:
            parameters = self._with_folder(parameters)
        except QgsProcessingException as error:
            return str(error)
        if not any(self.wanted(parameters, name) for name, *_ in self.inputs()):
            return self.tr("No layer is given. Choose one at least, for example in “{}”.").format(
                self.label(self.GAPS)
            )
        if self.wanted(parameters, self.PASSES) and not self.wanted(parameters, self.EDGES):
            return self.tr(
                "“{}” has no positions. Choose in “{}” the layer whose walks were merged."
            ).format(self.label(self.PASSES), self.label(self.EDGES))
        return ""

    def prepareAlgorithm(self, parameters, context, feedback):
        # In the main thread, where the layer lives; the rest may run in another one.
        parameters = self._with_folder(parameters)
        self.file = (
            file_behind(
                self.parameterAsVectorLayer(parameters, self.REJECTED, context),
                parameters.get(self.REJECTED),
            )
            if self.wanted(parameters, self.REJECTED)
            else None
        )
        return super().prepareAlgorithm(parameters, context, feedback)

    def work(self, parameters, context, feedback):
        from ..shared.lines.revisits import places_to_revisit
        from .reading.findings.found import Findings
        from .reading.findings.layers import into_one_frame

        missing = self._missing(parameters)  # scripts may run without the check of parameters
        if missing:
            raise QgsProcessingException(missing)
        parameters = self._with_folder(parameters)
        limits = self._limits(parameters, context)
        read, epochs = self._read(parameters, context, feedback)
        frame, crs = into_one_frame(list(read.values()), context.transformContext(), feedback)
        feedback.setProgress(50)
        start = self._start(parameters, context, frame, crs)
        found = Findings()
        self._find(read, epochs, limits, found, self.progress(feedback, 50, 75))
        places = places_to_revisit(
            found.x,
            found.y,
            self.parameterAsDouble(parameters, self.CLUSTER, context),
            start,
            found.scale,
            self.progress(feedback, 75, 90),
        )
        feedback.setProgress(90)
        self._say(read, found, places, feedback)
        out = Outputs(self, parameters, context, feedback)
        return self._write(frame, crs, found, places, out)

    def _limits(self, parameters, context):
        from .reading.findings.found import RevisitLimits

        def number(name):
            return self.parameterAsDouble(parameters, name, context)

        def words(name):
            return tuple(filter(None, self.parameterAsEnumStrings(parameters, name, context)))

        return RevisitLimits(
            gap=number(self.MIN_GAP),
            gap_seconds=number(self.MIN_GAP_SECONDS),
            sigma=number(self.MAX_SIGMA),
            sigma_up=number(self.MAX_SIGMA_UP),
            rejected=self.parameterAsInt(parameters, self.MIN_REJECTED, context),
            rejected_length=number(self.MIN_REJECTED_LENGTH),
            length=number(self.MIN_LENGTH),
            open_gap=number(self.MIN_OPEN),
            reasons=words(self.BREAK_REASONS),
            disagreements=words(self.DISAGREEMENT_REASONS),
            statuses=words(self.STATUSES),
        )

    def _read(self, parameters, context, feedback):
        """Layers by parameter; fields with time and captures of rejected epochs."""
        from .reading.findings.layers import Wanted, epoch_fields, read_layer

        read, epochs = {}, None
        given = [one for one in self.inputs() if self.wanted(parameters, one[0])]
        for number, (name, made_by, geometry, one_of, further) in enumerate(given):
            raise_if_cancelled(feedback)
            source, file = self.source(parameters, context, name), None
            if name == self.REJECTED:
                epochs = epoch_fields(
                    source,
                    self.parameterAsString(parameters, self.TIME_FIELD, context),
                    list(filter(None, self.field_names(parameters, self.CAPTURE_FIELDS, context))),
                    (self.label(self.TIME_FIELD), self.label(self.CAPTURE_FIELDS)),
                    feedback,
                )
                file, further = self.file, (epochs[0], *epochs[1])
                feedback.pushInfo(
                    self.tr("Rejected epochs: time from “{}”, capture from {}.").format(
                        epochs[0],
                        ", ".join(quoted(text) for text in epochs[1]) or self.tr("no field"),
                    )
                )
            needed = NEEDED_FIELDS.get(name, ())
            wanted = Wanted(self.label(name), made_by, geometry, one_of, further, needed)
            read[name] = read_layer(source, wanted, feedback, file)
            feedback.setProgress(40 * (number + 1) / len(given))
        return read, epochs

    def _start(self, parameters, context, frame, crs):
        """Start of the walk in the frame, None without one."""
        if not self.wanted(parameters, self.START):
            return None
        given = self.parameterAsPointCrs(parameters, self.START, context)
        if "[" in str(parameters[self.START]) and not given.isValid():
            raise QgsProcessingException(
                self.tr("“{}”: the CRS of “{}” is not known. Give one that is, or none.").format(
                    self.label(self.START), parameters[self.START]
                )
            )
        point = self.parameterAsPoint(parameters, self.START, context, crs)
        east, north, _ = frame.local(np.array([point.x()]), np.array([point.y()]))
        if not np.isfinite(east[0] + north[0]):
            raise QgsProcessingException(
                self.tr(
                    "“{}” lies outside the range of {}. Choose a point near the data, with its CRS."
                ).format(self.label(self.START), crs.userFriendlyIdentifier())
            )
        away = np.hypot(east[0], north[0])
        if away > FAR_START:
            raise QgsProcessingException(
                self.tr(
                    "“{}” lies {:.0f} km from the data. Choose a point near the data, with its CRS."
                ).format(self.label(self.START), away / 1000)
            )
        return float(east[0]), float(north[0])

    def _find(self, read, fields, limits, found, progress):
        from .reading.findings import changes, edges, epochs, existing, gaps, passes

        merged, breaks = read.get(self.EDGES), read.get(self.GAPS)
        rims = edges.rims_of(breaks) if breaks is not None else np.zeros((0, 2))
        steps = {
            self.EDGES: (edges.find_poor_edges, rims),
            self.GAPS: (gaps.find_gaps,),
            self.REJECTED: (epochs.find_spells, *(fields or ())),
            self.STATIONS: (edges.find_poor_stations,),
            self.DISAGREEMENTS: (passes.find_disagreements,),
            self.PASSES: (passes.find_passes, merged),
            self.EXISTING_STATUS: (existing.find_existing, merged),
            self.CHANGES: (changes.find_open_ends,),
        }
        for number, (name, layer) in enumerate(read.items()):
            progress(number / len(read))
            find, *given = steps[name]
            find(layer, *given, limits, found)

    def _say(self, read, found, places, feedback):
        from .reading.findings.found import KINDS

        for layer in read.values():
            counts = np.bincount(
                [kind for kind, of in zip(found.kind, found.layer) if of is layer],
                minlength=len(KINDS),
            ).tolist()
            feedback.pushInfo(
                self.tr("{} (“{}”). Rows: {}, findings: {}.").format(
                    layer.label, layer.name, len(layer.ids), sum(counts)
                )
            )
            for kind, count in zip(KINDS, counts):
                if count:
                    feedback.pushInfo(f"    {kind}: {count}")
            for of, text, doubtful in found.passed_over:
                if of is layer and doubtful:
                    feedback.pushWarning(self.tr("“{}”: left out: {}.").format(layer.name, text))
                elif of is layer:
                    feedback.pushInfo(self.tr("    left out: {}").format(text))
        feedback.pushInfo(
            self.tr(
                "Places to revisit: {}, findings: {}, {:.0f} m straight from one to the next."
            ).format(len(places), len(found), self._walk(places))
        )
        if not len(found):
            feedback.pushWarning(
                self.tr(
                    "Nothing passes the limits, so there is no place to revisit. If that is too"
                    " good to be true, look at what was left out (above), and lower the limits."
                )
            )

    @staticmethod
    def _walk(places):
        return float(np.nansum(places.leg))

    # Results

    def _is_gpx(self, parameters):
        value = parameters.get(self.OUTPUT)
        value = value.sink if isinstance(value, QgsProcessingOutputLayerDefinition) else value
        value = value.staticValue() if hasattr(value, "staticValue") else value
        return isinstance(value, str) and value.lower().endswith(".gpx")

    def _write(self, frame, crs, found, places, out):
        """Make both sinks, then fill them."""
        raise_if_cancelled(out.feedback)
        out.results = {
            self.PLACES: len(places),
            self.FOUND: len(found),
            self.WALK: self._walk(places),
        }
        x, y = np.zeros(0), np.zeros(0)
        if len(places.at):
            x, y = frame.layer(np.array(found.x)[places.at], np.array(found.y)[places.at])
        table, fields, style, own = place_columns(found, places), PLACE_FIELDS, None, crs
        if self._is_gpx(out.parameters):
            fields, own = GPX_FIELDS, QgsCoordinateReferenceSystem(WGS84)
            x, y = self._into_gpx(crs, own, x, y, out.context)
        else:
            style = styles.REVISITS
        out.add(
            self.OUTPUT,
            fields,
            (QgsWkbTypes.Type.Point, own),
            style,
            sinks.point_geometries(x, y),
            [table[new.name] for new in fields],
        )
        if out.wanted(self.REASONS):
            form = QgsWkbTypes.Type.NoGeometry, QgsCoordinateReferenceSystem()
            columns = reason_columns(found, places)
            out.add(self.REASONS, REASON_FIELDS, form, None, None, columns)
        out.write()
        return out.results

    def _into_gpx(self, crs, own, x, y, context):
        """Positions as GPX has them."""
        if not crs.isValid():
            raise QgsProcessingException(
                self.tr(
                    "The layers have no CRS, so their places cannot be written as GPX. Assign it"
                    " (Layer Properties, Source), or write another format."
                )
            )
        return transform(QgsCoordinateTransform(crs, own, context.transformContext()), x, y)
