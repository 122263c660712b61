"""Results of several algorithms and layers gathered into the layers of one GeoPackage: one CRS, all
fields, the name of the source."""

from dataclasses import dataclass, field

import numpy as np
from qgis.core import (
    QgsCoordinateTransform,
    QgsCsException,
    QgsFeature,
    QgsField,
    QgsFields,
    QgsGeometry,
    QgsProcessingException,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtGui import QTransform

from ..host import fields as fields_module
from ..host.feedback import looked_through, raise_if_cancelled
from ..host.fields import is_null, kind
from ..host.figures import translate
from ..reading.frames import make_frame
from ..writing.checks import missing_of_file
from ..writing.sinks import BLOCK, PiecewiseSink, has_place
from ..writing.staging import NotWrittenError

LAYER = "layer"  # the field that says where a row came from


def tr(text):
    return translate("Gathering", text)


@dataclass
class Part:
    """Rows that one algorithm wrote to one output; to the algorithm it is a sink.

    Attributes
    ----------
    fields : QgsFields
    geometry_type : QgsWkbTypes.Type
    crs : QgsCoordinateReferenceSystem
    label : str or callable
        Name of the source layer, or a function that tells it from a feature. Empty where the rows
        have a field `layer` themselves.
    shifts : dict of str to int
        Added to the numbers in these fields, where they are greater than 0.
    stream : callable or None
        Takes the features as they come; without it they are kept in `rows`.
    """

    fields: QgsFields
    geometry_type: object
    crs: object
    label: object = ""
    shifts: dict = field(default_factory=dict)
    stream: object = None
    rows: list = field(default_factory=list)

    def addFeatures(self, features, flags=None):
        if self.stream is None:
            self.rows.extend(features)
        else:
            self.stream(features)
        return True


def without_sinks(algorithm_class):
    """A subclass of an algorithm that writes into parts instead of sinks.

    Set `open_part` of an instance, a function of output name, fields, geometry type and CRS that
    gives the `Part`, or have `collect_parts` keep them. Call `begin` in the main thread and `work`
    anywhere; both raise what the algorithm raises.
    """

    class WithoutSinks(algorithm_class):
        open_part = None

        def collect_parts(self):
            parts = {}  # by name of the output, as they are opened

            def open_part(name, *of):
                parts[name] = Part(*of)
                return parts[name]

            self.open_part = open_part
            return parts

        def sink(self, parameters, name, context, fields, geometry_type, crs, style):
            return self.open_part(name, QgsFields(fields), geometry_type, crs), name

        def begin(self, parameters, context, feedback):
            self.initAlgorithm()
            fine, message = self.checkParameterValues(parameters, context)
            if not fine:
                raise QgsProcessingException(message)
            if not self.prepareAlgorithm(parameters, context, feedback):
                raise QgsProcessingException(
                    tr("“{}” could not be prepared.").format(self.displayName())
                )
            return self

    WithoutSinks.__name__ = algorithm_class.__name__
    return WithoutSinks


def all_fields(several, carries_layer=False):
    """Fields that hold the rows of all parts, `layer` first.

    Parameters
    ----------
    several : sequence of QgsFields
    carries_layer : bool
        The field `layer` of the parts is the one that is meant, not a field of the user's that
        happens to be called so.

    Returns
    -------
    fields : QgsFields
        Of one name in different types it becomes a wider number, or text.
    places : list of list of int
        For each part, the place of each of its fields.
    """
    found, places = {LAYER: fields_module.field(LAYER, "QString")}, []
    for some in several:
        own = {one.name().lower() for one in some}
        row = []
        for one in some:
            name = one.name()
            of_database = name.lower() in fields_module.KEPT_BY_DATABASES
            if of_database or (name.lower() == LAYER and not carries_layer):
                name = f"{name}_source"
                while name.lower() in own:
                    name += "_2"
            key = name.lower()
            new = QgsField(one)
            new.setName(found[key].name() if key in found else name)
            found[key] = _common(found[key], new) if key in found else new
            row.append(key)
        places.append(row)
    order = {key: place for place, key in enumerate(found)}
    fields = QgsFields()
    for one in found.values():
        fields.append(one)
    return fields, [[order[key] for key in row] for row in places]


def with_columns(fields, features, new, values, feedback):
    """Rows with further fields; fields of these names that were there give way.

    Parameters
    ----------
    fields : QgsFields
    features : list of QgsFeature
    new : sequence of NewField
    values : sequence of sequence
        One row of values for each feature.
    feedback : QgsFeedback

    Returns
    -------
    fields : QgsFields
    features : list of QgsFeature
    """
    names = {one.name for one in new}
    kept = [place for place, one in enumerate(fields) if one.name().lower() not in names]
    wider = QgsFields()
    for one in (*(fields.at(place) for place in kept), *fields_module.fields_of(new)):
        wider.append(one)
    rows = []
    for feature, own in looked_through(zip(features, values), feedback):
        row = QgsFeature(wider, feature.id())
        row.setGeometry(feature.geometry())
        attributes = feature.attributes()
        row.setAttributes([attributes[place] for place in kept] + list(own))
        rows.append(row)
    return wider, rows


def _common(one, other):
    if one.type() == other.type():
        if 0 < one.length() < other.length() or other.length() == 0:
            return other
        return one
    kinds = {kind(one), kind(other)}
    name = "LongLong" if kinds == {"int"} else "Double" if kinds <= {"int", "double"} else "QString"
    return fields_module.field(one.name(), name)


def as_kind(value, wanted):
    """A value as a field of another type takes it."""
    if is_null(value):
        return None
    if wanted == "double":
        return float(value)
    if wanted == "text" and not isinstance(value, str):
        return (
            value.toString("yyyy-MM-ddTHH:mm:ss.zzz")
            if hasattr(value, "toSecsSinceEpoch")
            else value.toString("yyyy-MM-dd")
            if hasattr(value, "toJulianDay")
            else str(value)
        )
    return value


def height_unit(crs, context):
    """Metres in a unit of the heights of a CRS."""
    if not crs.isValid():
        return 1.0
    return make_frame(crs, np.zeros(1), np.zeros(1), None, context).height_unit


class Rows:
    """Turns the features of a part into those of the result.

    Parameters
    ----------
    part : Part
    fields : QgsFields
    places : list of int
        Of the part's fields among `fields`.
    geometry_type : QgsWkbTypes.Type
    crs : QgsCoordinateReferenceSystem
        Of the result; not valid where there is none at all.
    context : QgsCoordinateTransformContext

    Attributes
    ----------
    lost : int
        Points that have no place in the result's CRS; their rows stay, without geometry. A line
        without place is an error.
    """

    def __init__(self, part, fields, places, geometry_type, crs, context):
        self.part, self.fields, self.places = part, fields, places
        self.has_z, self.has_m = QgsWkbTypes.hasZ(geometry_type), QgsWkbTypes.hasM(geometry_type)
        self.multi = QgsWkbTypes.isMultiType(geometry_type)
        self.point = (
            QgsWkbTypes.geometryType(geometry_type) == QgsWkbTypes.GeometryType.PointGeometry
        )
        names = part.fields.names()
        self.shifts = [
            (names.index(name), amount) for name, amount in part.shifts.items() if amount
        ]
        self.converted = [
            (place, kind(fields.at(to)))
            for place, to in enumerate(places)
            if part.fields.at(place).type() != fields.at(to).type()
        ]
        self.way, self.factor, self.lost = None, 1.0, 0
        if (
            part.crs.isValid()
            and crs.isValid()
            and part.crs != crs
            and geometry_type != QgsWkbTypes.Type.NoGeometry
        ):
            self.way = QgsCoordinateTransform(part.crs, crs, context)
            self.factor = height_unit(part.crs, context) / height_unit(crs, context)
        self.as_it_is = self.way is None and part.geometry_type == geometry_type

    def __call__(self, feature):
        values = feature.attributes()
        for place, amount in self.shifts:
            if not is_null(values[place]) and values[place] > 0:
                values[place] += amount
        for place, wanted in self.converted:
            values[place] = as_kind(values[place], wanted)
        out = QgsFeature(self.fields)
        row = [None] * len(self.fields)
        for place, value in zip(self.places, values):
            row[place] = value
        if self.part.label:
            row[0] = self.part.label(feature) if callable(self.part.label) else self.part.label
        out.setAttributes(row)
        if feature.hasGeometry():
            out.setGeometry(
                feature.geometry() if self.as_it_is else self._placed(feature.geometry())
            )
        return out

    def _placed(self, geometry):
        if self.way is not None and not geometry.isEmpty():
            try:
                geometry.transform(self.way)
                lost = not has_place(geometry)
            except QgsCsException:
                lost = True
            if lost and not self.point:
                raise QgsProcessingException(
                    tr("A line has no place in {}. Choose another CRS for the results.").format(
                        self.way.destinationCrs().userFriendlyIdentifier()
                    )
                )
            if lost:
                self.lost += 1
                return QgsGeometry()
            if self.factor != 1.0:
                geometry.get().transform(QTransform(), 0.0, self.factor)
        inner = geometry.get()
        if self.has_z and not inner.is3D():
            inner.addZValue(float("nan"))
        if self.has_m and not inner.isMeasure():
            inner.addMValue(float("nan"))
        if self.multi:
            geometry.convertToMultiType()
        return geometry


def common_type(types):
    """The geometry type that holds all of several ones of a kind."""
    types = list(types)
    result = QgsWkbTypes.flatType(types[0])
    if any(QgsWkbTypes.isMultiType(one) for one in types):
        result = QgsWkbTypes.multiType(result)
    if any(QgsWkbTypes.hasZ(one) for one in types):
        result = QgsWkbTypes.addZ(result)
    return QgsWkbTypes.addM(result) if any(QgsWkbTypes.hasM(one) for one in types) else result


class LayerWriter:
    """Writes one layer of a GeoPackage; the file is made where it is missing."""

    def __init__(self, path, name, fields, geometry_type, crs, context):
        self.path, self.name, self.written = path, name, 0
        self.sink = PiecewiseSink(path, name, fields, geometry_type, crs, context, True)
        self._check(not self.sink.lastError())

    def _check(self, fine):
        if not fine:
            raise NotWrittenError(
                tr("The layer “{}” cannot be written: {}.").format(self.name, self.sink.lastError())
            )

    def add(self, features):
        self._check(self.sink.addFeatures(features))
        self.written += len(features)

    def close(self):
        """Let the file go, whatever was written."""
        self.sink.close()

    def finish(self, feedback):
        """Let the file go, and see that it holds all that was written.

        Raises
        ------
        QgsProcessingException
        CancelledError
        """
        self.sink.close()
        self._check(not self.sink.lastError())
        why = missing_of_file(self.path, self.name, self.written, feedback)
        if why:
            raise NotWrittenError(
                tr("The layer “{}” cannot be written: {}.").format(self.name, why)
            )


def gathered(parts, crs, context, feedback, carries_layer=False):
    """Fields, geometry type and features of several parts as one layer.

    Raises
    ------
    CancelledError
    """
    fields, places = all_fields([part.fields for part in parts], carries_layer)
    geometry_type = common_type(part.geometry_type for part in parts)
    features, lost = [], 0
    for part, own in zip(parts, places):
        rows = Rows(part, fields, own, geometry_type, crs, context)
        features += map(rows, looked_through(part.rows, feedback))
        lost += rows.lost
    return fields, geometry_type, features, lost


def write_layer(writer, features, feedback):
    """Write features in blocks and close the layer; returns how many they are.

    Parameters
    ----------
    writer : LayerWriter
    features : list of QgsFeature
    feedback : QgsProcessingFeedback

    Raises
    ------
    CancelledError
    """
    try:
        for start in range(0, len(features), BLOCK):
            raise_if_cancelled(feedback)
            writer.add(features[start : start + BLOCK])
        raise_if_cancelled(feedback)
        writer.finish(feedback)
    finally:
        writer.close()
    return len(features)


def memory_layer(name, fields, geometry_type, features, crs, feedback):
    """A layer in memory, and the id that each feature has in it.

    Raises
    ------
    CancelledError
    """
    layer = QgsVectorLayer(QgsWkbTypes.displayString(geometry_type), name, "memory")
    layer.setCrs(crs)
    layer.dataProvider().addAttributes(list(fields))
    layer.updateFields()
    ids = []
    for start in range(0, len(features), BLOCK):
        raise_if_cancelled(feedback)
        some = [QgsFeature(one) for one in features[start : start + BLOCK]]
        done, added = layer.dataProvider().addFeatures(some)
        if not done:
            raise QgsProcessingException(
                tr("The edges cannot be handed on: {}.").format(layer.dataProvider().lastError())
            )
        ids += [one.id() for one in added]
    layer.updateExtents()
    return layer, ids
