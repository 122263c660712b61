"""Styles for result layers, set when QGIS loads them."""

from collections import deque
from pathlib import Path

from qgis.core import QgsProcessingLayerPostProcessorInterface

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
REVISITS = "revisits.qml"
COMPARED, EXISTING_STATUS, STATIONS = "compared.qml", "existing_status.qml", "stations.qml"

# A styler must outlive the run, as the layers are loaded after it and the algorithm is gone by
# then. It cannot be used twice either: QGIS deletes it with the context of the run. So each run
# makes its own, and the last ones are kept.
_kept = deque(maxlen=200)


class StyleOnLoad(QgsProcessingLayerPostProcessorInterface):
    """Loads a QML style into a layer."""

    def __init__(self, name):
        super().__init__()
        self.path = str(STYLES / name)

    def postProcessLayer(self, layer, context, feedback):
        message, done = layer.loadNamedStyle(self.path)
        if not done:
            feedback.pushWarning(message)


def style_on_load(context, destination, name):
    """Have a result styled if QGIS is going to load it.

    Parameters
    ----------
    context : QgsProcessingContext
    destination : str
    name : str or None
        File name of the style; a table has none.
    """
    if name is not None and context.willLoadLayerOnCompletion(destination):
        styler = StyleOnLoad(name)
        _kept.append(styler)
        context.layerToLoadOnCompletionDetails(destination).setPostProcessor(styler)
