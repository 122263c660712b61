"""Layers of a GeoPackage shown in the project: styled, in one group, and renewed where they are
shown already."""

import os
from collections import deque

from qgis.core import (
    QgsDataProvider,
    QgsProcessingContext,
    QgsProcessingLayerPostProcessorInterface,
    QgsProviderRegistry,
)

from ..writing.styles import STYLES

_kept = deque(maxlen=400)  # see styling.py: what styles a layer must outlive the run


class PlaceOnLoad(QgsProcessingLayerPostProcessorInterface):
    """Styles a layer and, before QGIS 3.32 which does that itself, puts it into a group."""

    def __init__(self, style, group):
        super().__init__()
        self.style, self.group = style, group

    def postProcessLayer(self, layer, context, feedback):
        if self.style:
            message, done = layer.loadNamedStyle(str(STYLES / self.style))
            if not done:
                feedback.pushWarning(message)
        if self.group:
            into_group(context.project(), layer, self.group)


def into_group(project, layer, name):
    """Move a layer of the project into a group, made at the top where it is missing."""
    root = project.layerTreeRoot()
    node = root.findLayer(layer.id())
    group = root.findGroup(name) or root.insertGroup(0, name)
    if node is not None and node.parent() != group:
        group.addLayer(layer)
        node.parent().removeChildNode(node)


def shown_layers(project, path):
    """Layers of the project that come from a file, by their name in it."""
    shown = {}
    for layer in project.mapLayers().values() if project is not None else ():
        if layer.providerType() == "ogr":
            parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
            if parts.get("path") and os.path.realpath(parts["path"]) == os.path.realpath(path):
                shown.setdefault(parts.get("layerName") or "", []).append(layer)
    return shown


def show(context, path, results, former, group):
    """Show results: renew the layers that the project has, have the others loaded, drop those that
    are no more. For the main thread.

    Parameters
    ----------
    context : QgsProcessingContext
    path : str
        The GeoPackage.
    results : list of tuple of str
        Layer in the file, title, style (None for a table); top of the group first.
    former : collection of str
        Names of results that may be shown from earlier.
    group : str
    """
    project = context.project()
    shown = shown_layers(project, path)
    names = {name for name, _, _ in results}
    for name, layers in shown.items():
        if name in names:
            for layer in layers:
                layer.setDataSource(
                    layer.source(), layer.name(), "ogr", QgsDataProvider.ProviderOptions()
                )
                layer.triggerRepaint()
        elif name in former:
            project.removeMapLayers([layer.id() for layer in layers])
    by_host = hasattr(QgsProcessingContext.LayerDetails, "groupName")
    for place, (name, title, style) in enumerate(results):
        if name in shown:
            continue
        details = QgsProcessingContext.LayerDetails(title, project, name)
        if by_host:
            details.groupName, details.layerSortKey = group, len(results) - place
        placer = PlaceOnLoad(style, "" if by_host else group)
        _kept.append(placer)
        details.setPostProcessor(placer)
        context.addLayerToLoadOnCompletion(f"{path}|layername={name}", details)
