"""Layers of a GeoPackage shown in the project: styled, in their groups, and renewed where they are
shown already."""

import os
from dataclasses import dataclass

from qgis.core import QgsDataProvider, QgsProcessingContext, QgsProviderRegistry
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..host.figures import translate
from ..writing.layer_tree import Place, renew_legend
from ..writing.styles import attach

GROUP = "Curbwright"
# groups in that of the run, and their layers, as they stand in the tree
SUBGROUPS = {
    QT_TRANSLATE_NOOP("Loading", "Comparison"): (
        "comparison",
        "existing_status",
        "stations",
        "comparison_summary",
        "changes",
        "updated",
    ),
    QT_TRANSLATE_NOOP("Loading", "Edges"): ("merged", "edges", "alignments", "elements"),
    QT_TRANSLATE_NOOP("Loading", "Evidence"): (
        "disagreements",
        "gaps",
        "rejected",
        "kept",
        "passes",
        "summary",
    ),
    QT_TRANSLATE_NOOP("Loading", "To do"): (
        "superseded",
        "held",
        "repairs",
        "revisits",
        "revisit_reasons",
    ),
}
OTHERS = "Evidence"  # where a layer stands that is named nowhere
ANSWER = ("comparison", "existing_status", "revisits", "held")  # what is on


def places(names):
    """Where the layers of a run stand in the tree; what was asked for is on, all else off.

    Parameters
    ----------
    names : collection of str
        Of the layers written.

    Returns
    -------
    dict of str to Place
        By name, as they stand in the tree.
    """
    named = {name for some in SUBGROUPS.values() for name in some}
    on = set(ANSWER)
    if "comparison" not in names:  # then the edges are the answer
        on.add("merged" if "merged" in names else "edges")
    found = {}
    for number, (group, some) in enumerate(SUBGROUPS.items()):
        title = translate("Loading", group)
        if group == OTHERS:
            some += tuple(sorted(set(names) - named))
        for order, name in enumerate(some):
            if name in names:
                found[name] = Place(GROUP, (title, number), order, name in on)
    return found


def shown_layers(project, path):
    """Layers of the project that come from a file, by their name in it."""
    shown = {}
    for layer in project.mapLayers().values() if project is not None else ():
        if layer.providerType() == "ogr":
            parts = QgsProviderRegistry.instance().decodeUri("ogr", layer.source())
            if parts.get("path") and os.path.realpath(parts["path"]) == os.path.realpath(path):
                shown.setdefault(parts.get("layerName") or "", []).append(layer)
    return shown


@dataclass(frozen=True)
class Result:
    """A layer to be shown.

    Attributes
    ----------
    name : str
        In the file.
    title : str
    look : Look
    place : Place
    """

    name: str
    title: str
    look: object
    place: object


def renew(project, path):
    """Have the layers of a file that the project shows read it again. For the main thread."""
    for layers in shown_layers(project, path).values():
        for layer in layers:
            layer.dataProvider().reloadData()
            layer.triggerRepaint()


def show(context, path, results, former, closing=None):
    """Show results: renew the layers that the project has, have the others loaded, drop those that
    are no more. For the main thread.

    Parameters
    ----------
    context : QgsProcessingContext
    path : str
        The GeoPackage.
    results : list of Result
    former : collection of str
        Names of results that may be shown from earlier.
    closing : list of str, optional
        Lines for the end of the log, once layers are loaded.
    """
    project = context.project()
    shown = shown_layers(project, path)
    names = {result.name for result in results}
    for name, layers in shown.items():
        if name in names:
            for layer in layers:
                layer.setDataSource(
                    layer.source(), layer.name(), "ogr", QgsDataProvider.ProviderOptions()
                )
                layer.triggerRepaint()
                renew_legend(project, layer)
        elif name in former:
            project.removeMapLayers([layer.id() for layer in layers])
    for result in results:
        if result.name in shown:
            continue
        details = QgsProcessingContext.LayerDetails(result.title, project, result.name)
        details.forceName = True  # whatever QGIS is told to call layers of files that stay
        attach(details, result.look, result.place, closing=closing)
        context.addLayerToLoadOnCompletion(f"{path}|layername={result.name}", details)
