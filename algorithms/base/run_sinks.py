"""What algorithms read from and write rows into: sources and sinks."""

from pathlib import Path

from qgis.core import (
    Qgis,
    QgsProcessingException,
    QgsProcessingOutputLayerDefinition,
    QgsProviderRegistry,
)

from ..host.fields import as_database_takes, flags_as_numbers, maps_as_text
from ..host.figures import translate
from ..host.watching import listening
from ..writing import targets
from ..writing.layer_tree import Place
from ..writing.opened import Opened
from ..writing.presentation import About
from ..writing.sinks import Writer, in_pieces
from ..writing.styles import ORIGIN, Look, attach
from .refusals import Refusals


class RunSinks(Refusals):
    """Base of `Algorithm`: sources and sinks. Of the run it uses `begun`, its outputs, `told`, its
    feedback, `origin` and `result_group`, what its input and the group of its results are called,
    `closing`, the last lines of its log, and `FIELD_TABLES`."""

    def source(self, parameters, context, name="INPUT"):
        """The source of a parameter; an error names the layer that is none."""
        source = self.parameterAsSource(parameters, name, context)
        if source is None:
            raise QgsProcessingException(self.invalidSourceError(parameters, name))
        return source

    def title(self, parameters, name, context):
        """What people call a layer. To be asked in the main thread, where the layer lives.

        A layer of a file that was given by its path has the name of the file, whichever of its
        layers it is.
        """
        layer = self.parameterAsVectorLayer(parameters, name, context)
        if layer is None:
            return self.source(parameters, context, name).sourceName()
        parts = QgsProviderRegistry.instance().decodeUri(layer.providerType(), layer.source())
        inner, file = parts.get("layerName"), Path(parts.get("path") or "")
        return (
            f"{inner} ({file.name})"
            if inner and layer.name() == file.stem and inner != file.stem
            else layer.name()
        )

    def sink(self, parameters, name, context, fields, geometry_type, crs, style):
        """Make a sink, styled when it is loaded; returns it and its destination."""
        text = targets.text_of_target(parameters.get(name), context)
        adds_rows = self._adds_rows(parameters, name)
        if not adds_rows and targets.is_database(text):
            fields = self.database_fields(fields, name)
        maps, flags = [], []
        path = targets.path_of_sink(text)
        # older hosts write maps into no file, newer ones into data bases alone
        takes_maps = targets.is_database(text) and Qgis.versionInt() >= 34000
        if text and not adds_rows and not takes_maps:
            fields, maps = maps_as_text(fields)
        if not adds_rows and targets.has_no_flags(text):
            fields, flags = flags_as_numbers(fields)
        opened = Opened(self.label(name), text, path, adds_rows)
        self.begun.append(opened)
        sink, destination = self._open(
            opened, parameters, name, context, fields, geometry_type, crs
        )
        layer = context.temporaryLayerStore().mapLayer(destination)
        opened.in_memory = layer is not None and layer.providerType() == "memory"
        opened.destination = destination
        self._dress_on_load(context, name, destination, style)
        if not adds_rows:
            at = str(opened.staged.path) if opened.staged is not None else destination
            sink = in_pieces(sink, at, fields, geometry_type, crs, context.transformContext())
        opened.writer = Writer(sink, opened.failure)
        opened.writer.maps, opened.writer.flags = maps, flags
        return sink, destination

    def database_fields(self, fields, name, told=None):
        """Fields as a database takes them; a new name is said, to `told` where there is no call of
        the host's own."""
        fields, renamed = as_database_takes(fields)
        if renamed:
            (told or self.told).pushWarning(
                translate(
                    "Algorithm",
                    "“{}”: fields that cannot be called so in a database get another name: {}.",
                ).format(
                    self.label(name), ", ".join("{} → {}".format(*pair) for pair in renamed.items())
                )
            )
        return fields

    # parameters: those of the host's own call
    def _open(self, opened, parameters, name, context, fields, geometry_type, crs):
        """Have the host make a sink; its destination is where the result will be in the end."""
        given = parameters
        if opened.staged is not None:
            given = {**parameters, name: _with_sink(parameters[name], str(opened.staged.path))}
        try:
            with listening() as said:
                sink, at = self.parameterAsSink(given, name, context, fields, geometry_type, crs)
        except QgsProcessingException as error:
            raise opened.failure(said[0] if said else error) from error
        if sink is None:
            raise QgsProcessingException(self.invalidSinkError(parameters, name))
        if opened.staged is None:
            return sink, at
        opened.made = at
        if Path(at).name != opened.staged.path.name:  # the host has added what the driver asks for
            opened.staged.called(Path(at).name)
        destination = str(opened.staged.final)
        loaded = context.layersToLoadOnCompletion()
        if at in loaded:
            loaded[destination] = loaded.pop(at)
            context.setLayersToLoadOnCompletion(loaded)
        return sink, destination

    def _dress_on_load(self, context, name, destination, style):
        """Have a result styled, named after the input and put into the group of the run if QGIS is
        going to load it; where a model or a script named it, it is only styled."""
        if not context.willLoadLayerOnCompletion(destination):
            return
        details = context.layerToLoadOnCompletionDetails(destination)
        place, label = None, self.label(name)
        if details.name == label and self.origin:
            details.name = translate("Algorithm", "{} of {}").format(label, self.origin)
            outputs = [output.name() for output in self.destinationParameterDefinitions()]
            place = Place(self.result_group, order=outputs.index(name))
        about = About(
            details.name,
            self.parameterDefinition(name).help() or label,
            self.displayName(),
            self.origin or translate("Algorithm", "its input"),
            self.now(),
        )
        attach(
            details,
            Look(style, self.FIELD_TABLES.get(name, ()), about),
            place,
            {ORIGIN: self.origin, **self.properties_of(name)},
            self.closing,
        )

    def properties_of(self, name):
        """Custom properties of the layer of an output, beside its origin."""
        return {}

    def writer(self, sink, parameters, name):
        """What fills a sink that `sink` made."""
        for opened in self.begun:
            if opened.writer is not None and opened.writer.sink is sink:
                return opened.writer
        return Writer(
            sink, lambda _: QgsProcessingException(self.writeFeatureError(sink, parameters, name))
        )


def _with_sink(value, path):
    """The value of an output parameter, with another destination."""
    if not isinstance(value, QgsProcessingOutputLayerDefinition):
        return path
    other = QgsProcessingOutputLayerDefinition(path, value.destinationProject)
    other.destinationName, other.createOptions = value.destinationName, value.createOptions
    return other
