"""What no algorithm does: compute with numbers that are none, or write over what it reads."""

from math import isfinite, nan

from qgis.core import (
    QgsProcessingOutputLayerDefinition,
    QgsProcessingParameterNumber,
    QgsProperty,
)

from ..host.figures import translate
from ..writing import targets
from .reports import Reports

INPUT_TYPES = ("source", "vector", "multilayer", "layer", "file", "raster")
HIGHEST = 1e12  # of a number given; more than any length or time, and its powers stay numbers
HIGHEST_COUNT = 2**31 - 1  # the host reads what is more as 0


class Refusals(Reports):
    """Base of `Algorithm`: why a run is refused before it begins."""

    def _check_numbers(self, parameters, context):
        """Refuse numbers that are none, and those out of bounds: the host's own check compares with
        limits, which NaN passes, and sees neither what is data-defined nor what a model
        computes."""
        for definition in self.parameterDefinitions():
            given = parameters.get(definition.name())
            if definition.type() not in ("number", "distance") or given is None:
                continue
            if isinstance(given, QgsProperty):  # the host takes the default for one that fails
                value, _ = given.valueAsDouble(context.expressionContext(), nan)
            else:
                value = self.parameterAsDouble(parameters, definition.name(), context)
            named = self.label(definition.name()), definition.name(), value
            if not isfinite(value):
                return False, translate(
                    "Algorithm", "“{}” ({}) must be a number, but is {}."
                ).format(*named)
            highest = HIGHEST
            if definition.dataType() == QgsProcessingParameterNumber.Type.Integer:
                highest = HIGHEST_COUNT
            low, high = max(definition.minimum(), -highest), min(definition.maximum(), highest)
            if not low <= value <= high:
                return False, translate(
                    "Algorithm", "“{}” ({}) must be a number from {:g} to {:g}, but is {:g}."
                ).format(*named[:2], low, high, value)
        return True, ""

    def harm(self, parameters, context):
        """Why the run may not write where it is asked to: over what it reads, over another of its
        outputs, or over what is none of its results; empty where it may. To be asked in the main
        thread, where layers live."""
        for definition in self.destinationParameterDefinitions():
            text = targets.text_of_target(parameters.get(definition.name()), context)
            why = targets.harm_of_name(self.label(definition.name()), text)
            if why:
                return why
        written = self.written(parameters, context)
        if not written:
            return ""
        read = [
            (self.label(definition.name()), place)
            for definition in self.parameterDefinitions()
            if definition.type() in INPUT_TYPES
            for place in targets.places_of_value(parameters.get(definition.name()), context)
        ]
        why = targets.harm_of(written, read)
        why = why or targets.harm_to_edits(written, context.project())
        for definition in self.destinationParameterDefinitions():
            text = targets.text_of_target(parameters.get(definition.name()), context)
            why = why or targets.harm_to_layer(self.label(definition.name()), text)
        for label, path, is_sink in self._files_written(parameters, context):
            why = why or targets.harm_to_file(label, path, is_sink)
        return why

    def written(self, parameters, context):
        """Labels and places of all outputs that are no temporary ones."""
        found = []
        for definition in self.destinationParameterDefinitions():
            text = targets.text_of_target(parameters.get(definition.name()), context)
            if definition.type() in targets.SINKS:
                place = targets.place_of_sink(text)
            else:
                place = targets.file_place(targets.local_path(text)) if text else None
            if place is not None:
                found.append((self.label(definition.name()), place))
        return found

    def _files_written(self, parameters, context):
        """Label and path of each output that is a file alone, and whether it is one of rows."""
        for definition in self.destinationParameterDefinitions():
            if self._adds_rows(parameters, definition.name()):
                continue
            text = targets.text_of_target(parameters.get(definition.name()), context)
            is_sink = definition.type() in targets.SINKS
            path = targets.path_of_sink(text) if is_sink else targets.local_path(text)
            if path and (is_sink or definition.type() in targets.FILES):
                yield self.label(definition.name()), path, is_sink

    @staticmethod
    def _adds_rows(parameters, name):
        """True where rows are added to a layer that is there already."""
        value = parameters.get(name)
        return isinstance(value, QgsProcessingOutputLayerDefinition) and value.useRemapping()
