"""Styles for result layers, set when QGIS loads them."""

from collections import deque
from dataclasses import dataclass
from pathlib import Path

from qgis.core import QgsProcessingLayerPostProcessorInterface

from .layer_tree import put
from .legend import translate_legend
from .presentation import present

STYLES = Path(__file__).parents[2] / "plugin" / "styles"
EDGES, GAPS, REJECTED, KEPT, EDGE_STATIONS = (
    "edges.qml",
    "gaps.qml",
    "rejected.qml",
    "kept.qml",
    "edge_stations.qml",
)
CHECKED, EPOCHS = "checked.qml", "epochs.qml"
ALIGNMENTS, ELEMENTS = "alignments.qml", "elements.qml"
JOINED, CHANGES, ISLANDS, PARALLELS = "joined.qml", "changes.qml", "islands.qml", "parallels.qml"
CURB_HEIGHTS, HEIGHT_STATIONS = "curb_heights.qml", "height_stations.qml"
MERGED, DISAGREEMENTS = "merged.qml", "disagreements.qml"
OCCUPATIONS, NOT_AVERAGED = "occupations.qml", "not_averaged.qml"
REVISITS, REPAIRS = "revisits.qml", "repairs.qml"
COMPARED, EXISTING_STATUS, STATIONS = "compared.qml", "existing_status.qml", "stations.qml"
UPDATED, BASEMAP_CHANGES, HELD = "updated.qml", "basemap_changes.qml", "held.qml"

# properties of layers: what those that all began with are called; parameters of a comparison
ORIGIN, AS_COMPARED = "curbwright/origin", "curbwright/compared"

# What dresses a layer must outlive the run, as layers are loaded after it and the algorithm is gone
# by then. It cannot be used twice either: QGIS deletes it with the context of the run. So each run
# makes its own, and the last ones are kept.
_kept = deque(maxlen=400)


@dataclass(frozen=True)
class Look:
    """How a result presents itself.

    Attributes
    ----------
    style : str or None
        File name; a table has none.
    definitions : tuple of NewField
        Fields that the algorithm wrote.
    about : About, optional
    """

    style: object
    definitions: tuple = ()
    about: object = None


def dress(layer, look):
    """Style a layer, with its symbols named in the user's language, arrange its fields, and say
    what it is.

    Parameters
    ----------
    layer : QgsVectorLayer
    look : Look

    Returns
    -------
    str
        What is wrong with the style; empty where nothing is.
    """
    message, done = layer.loadNamedStyle(str(STYLES / look.style)) if look.style else ("", True)
    if look.style:
        translate_legend(layer)
    present(layer, look.definitions, look.about)
    return "" if done else message


class DressOnLoad(QgsProcessingLayerPostProcessorInterface):
    """Gives a layer its look and its place in the tree, and notes how it was made.

    `properties` are custom properties of the layer by name; `closing` are lines for the end of the
    log, which all layers of a run share: the dialogue writes the values returned after the run's
    own last word, and loads the layers then.
    """

    def __init__(self, look, place=None, properties=None, closing=None):
        super().__init__()
        self.look, self.place, self.closing = look, place, closing
        self.properties = properties or {}

    def postProcessLayer(self, layer, context, feedback):
        message = dress(layer, self.look)
        if message:
            feedback.pushWarning(message)
        for name, value in self.properties.items():
            if value:
                layer.setCustomProperty(name, value)
        if self.place is not None and context.project() is not None:
            put(context.project(), layer, self.place)
        while self.closing:
            feedback.pushInfo(self.closing.pop(0))


def attach(details, look, place=None, properties=None, closing=None):
    """Have a layer dressed and placed when QGIS loads it.

    Parameters
    ----------
    details : QgsProcessingContext.LayerDetails
    look : Look
    place : Place, optional
    properties : dict of str to str, optional
        Custom properties of the layer; empty ones are left out.
    closing : list of str, optional
        Lines for the end of the log.
    """
    dresser = DressOnLoad(look, place, properties, closing)
    _kept.append(dresser)
    details.setPostProcessor(dresser)
    if place is not None and hasattr(details, "groupName"):
        details.groupName, details.layerSortKey = place.group, -place.order
