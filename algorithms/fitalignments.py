"""Edges as tangents, circular arcs and corners: true arcs, and what handbooks tell about each
element."""

from dataclasses import dataclass

import numpy as np
from qgis.core import (
    QgsFeature,
    QgsFeatureRequest,
    QgsProcessing,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.arrays.ragged import group_index, group_max, group_sum, offsets_of
from .base.algorithm import Algorithm
from .base.outputs import Outputs
from .host.feedback import looked_through, raise_if_cancelled
from .host.fields import NewField, fields_of
from .reading.edge_samples import EdgeChoices, read_edges
from .reading.features import iterate
from .reading.layer_frame import chosen_field
from .reading.layer_stream import file_behind
from .writing import sinks, styles
from .writing.compound_curves import compound_curves

# m, greatest distance of the arcs written from those fitted, whatever the CRS makes of circles
KEPT_TRUE = 0.001
UP_TOLERANCE = 2.0  # heights are half as sure as positions
LEG = 0.25  # m of either side that show a corner, but no more than a third of it
ALIGNMENT_FIELDS = (
    NewField("part", "Int", "Part of a multi-part line, from 1."),
    NewField("elements", "Int", "Number of elements."),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField(
        "rms_residual",
        "Double",
        "RMS of the distances of the vertices or epochs from the alignment.",
        "m",
    ),
    NewField("max_residual", "Double", "Maximum of these distances.", "m"),
    NewField("sigma_cross", "Double", "Uncertainty across the alignment, 1-sigma.", "m"),
    NewField("closed", "Bool", "True for a ring."),
)
ELEMENT_FIELDS = (
    NewField("edge_id", "LongLong", "The edge that the element belongs to."),
    NewField("part", "Int", "Part of a multi-part line, from 1."),
    NewField("position", "Int", "Place in the edge: 1, 2, 3 and so on along it."),
    NewField("element", "QString", "`tangent`, `arc`, `corner` or `spline`."),
    NewField("length", "Double", "Length on the ground.", "m"),
    NewField("bearing", "Double", "Direction at its start, clockwise from grid north.", "degrees"),
    NewField("radius", "Double", "Radius of an arc, on the ground.", "m"),
    NewField("radius_sigma", "Double", "Uncertainty of the radius, 1-sigma.", "m"),
    NewField(
        "deflection", "Double", "Change of direction along the element, + to the right.", "degrees"
    ),
    NewField("chord", "Double", "Straight distance between both ends of an arc.", "m"),
    NewField("sagitta", "Double", "Middle ordinate of an arc.", "m"),
    NewField(
        "tangent_length",
        "Double",
        "From an end of an arc to the intersection of its end tangents.",
        "m",
    ),
    NewField(
        "external_distance", "Double", "From that intersection to the middle of the arc.", "m"
    ),
    NewField("centre_x", "Double", "Centre of an arc, in the layer's CRS.", "of the CRS"),
    NewField("centre_y", "Double", "Centre of an arc, in the layer's CRS.", "of the CRS"),
)


class FitAlignments(Algorithm):
    NAME = "fitalignments"
    TITLE = QT_TRANSLATE_NOOP("FitAlignments", "Fit tangents and arcs")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "FitAlignments",
        "Edges as tangents, circular arcs and corners, with radii, their uncertainty and the"
        " parts of each curve.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "FitAlignments",
        "alignment,tangent,arc,curve,circle,radius,fit,curb"
        " return,kerb,corner,deflection,chord,sagitta,bearing,compound curve,cad,dxf"
        ",vectorise,vectorize,as-built,kerbline",
    )
    HELP = QT_TRANSLATE_NOOP(
        "FitAlignments",
        "Curbs are built of tangents, circular arcs and corners. This finds them: as few"
        " elements as explain an edge, adjusted together with the joints between them (common"
        " direction, or a corner).\n\nInput: edges as lines, each part of a multi-part line by"
        " itself; or the “Kept epochs” of “Reconstruct edges”, which tell more, since their"
        " noise is found from the data. For lines the tolerance takes the place of the noise;"
        " uncertainties then follow it and are rough.\n\nAlignments: CompoundCurveZ in the"
        " layer's CRS with true arcs, one feature for each edge or part: part, elements"
        " (tangents and arcs, without corners), length, rms_residual and max_residual (of the"
        " input from the elements), sigma_cross (1-sigma across: of the fit, and of the edge or"
        " the receiver's slow drift where that is known), closed. Attributes of lines are kept;"
        " fields with the name of a new one get “_source”. Heights follow the input; where they"
        " need a point of their own (a ramp), a tangent or arc is written in two.\n\nElements: one"
        " feature for each tangent, arc and corner in order along its edge. bearing: degrees"
        " clockwise from the layer's grid north, of the direction of travel where the element"
        " starts (of a corner: of the leg that leaves). deflection: degrees, + to the right, as"
        " deflection angles of route surveys and all offsets here are counted; of an arc its"
        " central angle. chord: long chord 2R sin(D/2); sagitta: middle ordinate R (1 −"
        " cos(D/2)); tangent_length: R tan(D/2); external_distance: R (1/cos(D/2) − 1); the"
        " last two are NULL from 180 degrees on. radius_sigma is 1-sigma. A corner has length 0"
        " and is drawn by the first {} m of its two legs. Write it as CSV to have it as a"
        " table.\n\nAll lengths and radii are metres on the ground. A projected CRS keeps"
        " circles round; in degrees they are no circles, and in web Mercator only nearly, so"
        " there an arc is written as several that lie within 1 mm of it, and the log says so."
        " To draw, reproject the input to a projected CRS first.\n\nTo hand arcs on as DXF,"
        " export with “Force 2D output”: the host then writes them as bulges, which stay arcs."
        " With heights it writes 3D polylines, in which other programs show the chord instead"
        " of the arc.\n\nThe result is of mapping grade: it is no boundary survey, and not for"
        " stake-out without a licensed surveyor.",
    )
    HELP_VALUES = (LEG,)
    FIELD_TABLES = {"OUTPUT": ALIGNMENT_FIELDS, "ELEMENTS": ELEMENT_FIELDS}
    WITH_SOURCE_FIELDS = ("OUTPUT",)

    INPUT, EDGE_FIELDS, TOLERANCE, MIN_RADIUS, MAX_RADIUS = (
        "INPUT",
        "EDGE_FIELDS",
        "TOLERANCE",
        "MIN_RADIUS",
        "MAX_RADIUS",
    )
    OUTPUT, ELEMENTS = "OUTPUT", "ELEMENTS"
    EDGES, TANGENTS, ARCS, CORNERS, LENGTH = "EDGES", "TANGENTS", "ARCS", "CORNERS", "LENGTH"
    NEEDS = ("numpy", "scipy")

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        kinds = QgsProcessing.SourceType
        self.add_layer(
            self.INPUT,
            self.tr("Edges or kept epochs"),
            [kinds.TypeVectorLine, kinds.TypeVectorPoint],
            self.tr(
                "Edges as lines, in any CRS, with or without Z; or kept epochs as points, with the"
                " fields edge_id and chainage (role and height_used are minded where they are"
                " there), rows in any order."
            ),
        )
        self.add_field(
            self.EDGE_FIELDS,
            self.tr("Fields that tell the edges of epochs apart"),
            self.INPUT,
            self.tr(
                "Of kept epochs only. Left empty, it is edge_id. Where layers were merged and"
                " edge_id repeats, choose the other field or fields as well."
            ),
            several=True,
            advanced=True,
        )

    def add_settings(self):
        """Limits and choices."""
        self.add_distance(
            self.TOLERANCE,
            self.tr("Tolerance (m)"),
            0.01,
            self.tr(
                "Typical distance allowed between an edge and its elements: for lines, as"
                " much as they were thinned or digitised with. Greater means fewer elements. For"
                " epochs the noise is found from the data instead. Heights are kept within twice"
                " the tolerance."
            ),
            minimum=0.0005,
        )
        self.add_distance(
            self.MIN_RADIUS,
            self.tr("Minimum radius of an arc (m)"),
            0.5,
            self.tr("A tighter curve becomes a corner, or several tangents."),
            minimum=0.01,
        )
        self.add_distance(
            self.MAX_RADIUS,
            self.tr("Maximum radius of an arc (m)"),
            400.0,
            self.tr("A flatter curve becomes a tangent, or several."),
            minimum=0.1,
        )

    def add_outputs(self):
        """What is written and returned."""
        kinds = QgsProcessing.SourceType
        self.add_sink(
            self.OUTPUT,
            self.tr("Alignments"),
            kinds.TypeVectorLine,
            self.tr("The edges as curves with true arcs and heights, in the layer's CRS."),
        )
        self.add_sink(
            self.ELEMENTS,
            self.tr("Elements"),
            kinds.TypeVectorLine,
            self.tr(
                "Tangents, arcs and corners one by one, with length, bearing, radius and what"
                " else belongs to them."
            ),
            optional=True,
        )
        self.add_numbers(
            (self.EDGES, self.tr("Number of alignments")),
            (self.TANGENTS, self.tr("Tangents")),
            (self.ARCS, self.tr("Arcs")),
            (self.CORNERS, self.tr("Corners")),
            (self.LENGTH, self.tr("Total length (m)")),
        )

    def checkParameterValues(self, parameters, context):
        fine, why = super().checkParameterValues(parameters, context)
        if fine:
            why = self.why_not_less(parameters, context, self.MIN_RADIUS, self.MAX_RADIUS)
        return fine and not why, why

    def prepareAlgorithm(self, parameters, context, feedback):
        self.file = file_behind(
            self.parameterAsVectorLayer(parameters, self.INPUT, context), parameters.get(self.INPUT)
        )
        return super().prepareAlgorithm(parameters, context, feedback)

    def work(self, parameters, context, feedback):
        from ..shared.alignment.element_table import describe_elements
        from ..shared.alignment.fit import FitOptions, fit_chains
        from ..shared.alignment.fitted_chains import merge_splines

        source = self.source(parameters, context)
        tolerance, least, greatest = (
            self.parameterAsDouble(parameters, name, context)
            for name in (self.TOLERANCE, self.MIN_RADIUS, self.MAX_RADIUS)
        )
        chosen = self.field_names(parameters, self.EDGE_FIELDS, context)
        for name in chosen:  # lines need none: see them all
            if name.strip():
                chosen_field(source, name, self.label(self.EDGE_FIELDS))
        layer = read_edges(
            source,
            EdgeChoices(
                self.file,
                chosen,
                self.label(self.INPUT),
                self.label(self.EDGE_FIELDS),
            ),
            tolerance,
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 30),
        )
        samples = layer.samples
        chains = fit_chains(
            samples.x,
            samples.y,
            samples.variance,
            samples.offsets,
            samples.closed,
            FitOptions(least, greatest),
            self.progress(feedback, 30, 75),
        )
        chains = merge_splines(chains)
        raise_if_cancelled(feedback)
        run = run_of_elements(chains)
        table = describe_elements(chains, layer.grid_north(*layer.to_layer(*chains.start.T, run)))
        raise_if_cancelled(feedback)
        statistics = run_statistics(chains, samples, layer.sigma)
        raise_if_cancelled(feedback)
        self._say(source.sourceName(), layer, chains, table, statistics, tolerance, feedback)
        fitted = _Fitted(chains, table, statistics, tolerance)
        return self._write(source, layer, fitted, Outputs(self, parameters, context, feedback))

    def _say(self, name, layer, chains, table, statistics, tolerance, feedback):
        from ..shared.alignment.element_table import ARC, KINDS

        counts = np.bincount(table.kind, minlength=len(KINDS)).tolist()
        feedback.pushInfo(
            self.tr("Alignments: {} from “{}”, {:.2f} m on the ground, {} of them closed.").format(
                len(chains.closed),
                name,
                float(statistics["length"].sum()),
                int(np.count_nonzero(chains.closed)),
            )
        )
        feedback.pushInfo(
            self.tr("Elements: tangents {}, arcs {}, corners {}.").format(*counts[:3])
        )
        if counts[3]:
            feedback.pushWarning(
                self.tr(
                    "Stretches that are neither tangent nor arc, and are written as free lines"
                    " (element “spline”): {}."
                ).format(counts[3])
            )
        arcs = table.kind == ARC
        if arcs.any():
            feedback.pushInfo(
                self.tr("Radii from {:.2f} to {:.2f} m, median 1-sigma {:.3f} m.").format(
                    table.radius[arcs].min(),
                    table.radius[arcs].max(),
                    float(np.nanmedian(table.radius_sigma[arcs])),
                )
            )
        worst = statistics["max_residual"]
        feedback.pushInfo(
            self.tr(
                "Distance of the input from the elements: median RMS {:.1f} mm, maximum {:.1f} mm."
            ).format(1000 * float(np.median(statistics["rms_residual"])), 1000 * float(worst.max()))
        )
        far = int(np.count_nonzero(worst > 2 * tolerance + 3 * layer.sigma))
        if layer.is_line and far:
            feedback.pushWarning(
                self.tr(
                    "Edges that depart from their elements somewhere by more than twice “{}” and"
                    " three times their own uncertainty: {}. Look at their max_residual; raise the"
                    " tolerance where the edges are rougher."
                ).format(self.label(self.TOLERANCE), far)
            )
        if not np.isfinite(layer.samples.z).any():
            feedback.pushWarning(self.tr("The input has no heights: the Z values are NaN."))

    def _write(self, source, layer, fitted, out):
        """Make the sinks and fill them."""
        chains, table, feedback = fitted.chains, fitted.table, out.feedback
        curve = Curves(layer, chains, chains.feet, UP_TOLERANCE * fitted.tolerance)
        self._say_split(layer, curve, feedback)
        raise_if_cancelled(feedback)
        out.results = self._numbers(fitted)
        own = () if layer.own_id and layer.is_line else (NewField("edge_id", "LongLong"),)
        added = [
            *own,
            *(NewField(name, what) for name, what, _ in layer.carried),
            *ALIGNMENT_FIELDS,
        ]
        fields = out.fields(self.OUTPUT, source, added) if layer.is_line else fields_of(added)
        form = QgsWkbTypes.Type.CompoundCurveZ, layer.crs
        writer = out.writer(self.OUTPUT, fields, *form, styles.ALIGNMENTS)
        if out.wanted(self.ELEMENTS):
            columns = self._element_columns(layer, table)
            elements = curve.elements(table)
            out.add(self.ELEMENTS, ELEMENT_FIELDS, form, styles.ELEMENTS, elements, columns)
        columns = [
            *([layer.edge_id.tolist()] if own else []),
            *(values for _, _, values in layer.carried),
            layer.part.tolist(),
            *(sinks.cells(fitted.statistics[new.name]) for new in ALIGNMENT_FIELDS[1:]),
        ]
        if layer.is_line:
            rows = list(curve.alignments()), list(zip(*columns))
            self._write_lines(source, layer, fields, rows, writer, feedback)
        else:
            sinks.write_lines(writer, fields, curve.alignments(), columns, feedback)
        out.write(start=88)
        feedback.setProgress(99)
        return out.results

    def _say_split(self, layer, curve, feedback):
        """Say where circles of the ground could not be written as one arc each."""
        if curve.split:
            feedback.pushWarning(
                self.tr(
                    "Circles of the ground are no circles in the layer's CRS ({0}). Elements that"
                    " are written in pieces, within {2:.0f} mm of them: {1}. Radii, lengths and"
                    " centres in the table hold. To draw, reproject the input to a projected CRS"
                    " first."
                ).format(layer.crs.userFriendlyIdentifier(), curve.split, 1000 * KEPT_TRUE)
            )

    def _numbers(self, fitted):
        """The numbers that are returned."""
        from ..shared.alignment.element_table import ARC, CORNER, TANGENT

        kind = fitted.table.kind
        return {
            self.EDGES: len(fitted.chains.closed),
            self.TANGENTS: int(np.count_nonzero(kind == TANGENT)),
            self.ARCS: int(np.count_nonzero(kind == ARC)),
            self.CORNERS: int(np.count_nonzero(kind == CORNER)),
            self.LENGTH: float(fitted.statistics["length"].sum()),
        }

    def _write_lines(self, source, layer, fields, rows, writer, feedback):
        """Alignments of lines, with the attributes of their rows; `rows` holds their geometries and
        their own attributes."""
        geometries, attributes = rows
        runs = {}
        for run, ident in enumerate(layer.ids.tolist()):
            runs.setdefault(ident, []).append(run)
        written = 0
        request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
        for row in looked_through(iterate(source, request), feedback):
            for run in runs.get(row.id(), ()):
                feature = QgsFeature(fields)
                feature.setGeometry(geometries[run])
                feature.setAttributes([*row.attributes(), *attributes[run]])
                writer.add(feature)
                written += 1
        writer.close()
        if written != len(geometries):
            raise QgsProcessingException(
                self.tr(
                    "Layer “{}” changed while it was read. Lines expected: {}, found: {}. Run"
                    " again when nobody edits it."
                ).format(source.sourceName(), len(geometries), written)
            )

    @staticmethod
    def _element_columns(layer, table):
        from ..shared.alignment.element_table import KINDS

        centre = layer.to_layer(*table.centre.T, table.run)
        return (
            layer.edge_id[table.run].tolist(),
            layer.part[table.run].tolist(),
            table.position.tolist(),
            sinks.text_cells(table.kind, KINDS),
            *(
                sinks.cells(column)
                for column in (
                    table.length,
                    table.bearing,
                    table.radius,
                    table.radius_sigma,
                    table.deflection,
                    table.chord,
                    table.sagitta,
                    table.tangent_length,
                    table.external,
                    *centre,
                )
            ),
        )


def run_of_elements(chains):
    """Number of the run that each element belongs to, shape (elements,)."""
    return group_index(chains.offsets)


def run_statistics(chains, samples, sigma):
    """Columns of `ALIGNMENT_FIELDS` by name; `sigma`, shape (runs,), is what the fit does not show
    of the uncertainty, metres."""
    from ..shared.alignment.element_table import run_lengths

    weight, offsets = 1 / samples.variance, samples.offsets

    def mean(values):
        return group_sum(weight * values, offsets) / group_sum(weight, offsets)

    return {
        "elements": np.diff(chains.offsets),
        "length": run_lengths(chains),
        "rms_residual": np.sqrt(mean(chains.residual**2)),
        "max_residual": group_max(np.abs(chains.residual), offsets, 0.0),
        "sigma_cross": np.sqrt(mean(chains.sigma**2) + sigma**2),
        "closed": chains.closed,
    }


@dataclass(frozen=True)
class _Fitted:
    """What was fitted: chains of elements, their table, statistics of each run, and the tolerance
    in metres."""

    chains: object
    table: object
    statistics: dict
    tolerance: float


class Curves:
    """Geometries of chains in the layer's CRS.

    Parameters
    ----------
    layer : EdgeLayer
    chains : Chains
    feet : ndarray of float, shape (m, 2)
        Of the positions on the curves.
    up_tolerance : float
        Metres between the heights of the positions and those written.
    """

    def __init__(self, layer, chains, feet, up_tolerance):
        from ..shared.alignment.tracing import grade_breaks, min_pieces, pieces_kept_true

        self.layer, self.chains = layer, chains
        self.run = run_of_elements(chains)
        self.feet = feet
        self.pieces = pieces_kept_true(chains, layer.to_layer, layer.to_ground, KEPT_TRUE)
        self.split = int(np.count_nonzero(self.pieces > min_pieces(chains)))
        self.breaks = grade_breaks(chains, layer.samples.z, up_tolerance)

    def _geometries(self, element, low, high, features, ring=None):
        from ..shared.alignment.tracing import heights_at, trace

        path = trace(self.chains, element, low, high, self.feet, self.pieces, self.breaks)
        run = self.run[element[group_index(path.offsets)]]
        x, y = self.layer.to_layer(path.x, path.y, run)
        z = (
            heights_at(self.chains, run, path.chainage, self.layer.samples.z)
            / self.layer.frame.height_unit
        )
        if ring is not None:  # what starts a ring ends it, to the last bit
            rows = np.flatnonzero(ring & (np.diff(features) > 0))
            start, end = path.offsets[features[:-1][rows]], path.offsets[features[1:][rows]] - 1
            for column in (x, y, z):
                column[end] = column[start]
        return compound_curves(x, y, z, path.offsets, path.arc, features)

    def alignments(self):
        """One geometry for each run."""
        some = np.flatnonzero(self.chains.length > 0)
        features = np.searchsorted(some, self.chains.offsets)
        return self._geometries(
            some, np.zeros(len(some)), self.chains.length[some], features, self.chains.closed
        )

    def elements(self, table):
        """One geometry for each row of an `ElementTable`; of a corner, the ends of its legs."""
        from ..shared.alignment.element_table import CORNER

        corner, length = table.kind == CORNER, self.chains.length
        back, ahead = (np.minimum(LEG, length[of] / 3) for of in (table.element, table.onward))
        number = 1 + corner
        row = np.repeat(np.arange(len(table)), number)
        features = offsets_of(number)
        leaving = np.zeros(len(row), bool)
        leaving[features[:-1][corner] + 1] = True
        arriving = corner[row] & ~leaving
        element = np.where(leaving, table.onward[row], table.element[row])
        low = np.where(arriving, length[element] - back[row], 0.0)
        high = np.where(leaving, ahead[row], length[element])
        return self._geometries(element, low, high, features)
