"""Styles for result layers, set when QGIS loads them."""
from pathlib import Path

from qgis.core import QgsProcessingLayerPostProcessorInterface

STYLES = Path(__file__).parents[1] / "plugin" / "styles"


class StyleOnLoad(QgsProcessingLayerPostProcessorInterface):
    """Loads a QML style. QGIS does not own it: made once at import, in the main thread, and kept here."""

    def __init__(self, name):
        super().__init__()
        self.path = str(STYLES / name)

    def postProcessLayer(self, layer, context, feedback):
        message, done = layer.loadNamedStyle(self.path)
        if not done:
            feedback.pushWarning(message)


EDGES, GAPS = StyleOnLoad("edges.qml"), StyleOnLoad("gaps.qml")
REJECTED, KEPT = StyleOnLoad("rejected.qml"), StyleOnLoad("kept.qml")


def style_on_load(context, destination, styler):
    """Have a result styled if QGIS is going to load it."""
    if context.willLoadLayerOnCompletion(destination):
        context.layerToLoadOnCompletionDetails(destination).setPostProcessor(styler)
