"""One capture layer of a run, and what came of it."""

from qgis.core import QgsProcessingException, QgsVectorLayer


class Capture:
    """One capture layer and what came of it.

    Attributes
    ----------
    name : str
    error : str
        Why it failed; empty where it did not.
    child : ReconstructEdges
        Ready to work; None where the layer cannot be used at all.
    numbers : dict
        What the main job returned.
    """

    def __init__(self, given, layer):
        self.given, self.layer, self.error, self.child, self.numbers = given, layer, "", None, {}
        self.gaps = self.warnings = 0
        self.seconds = 0.0
        self.reasons, self.sigma = (), None  # rejected epochs by reason; median of the edges
        self.name = layer.name() if layer is not None else str(given)

    def prepare(self, make_child, settings, with_epochs, context, feedback, tr):
        if not isinstance(self.layer, QgsVectorLayer) or not self.layer.isValid():
            self.error = (
                tr("it cannot be opened. Check its path and the name of the layer.")
                if self.layer is None
                else tr("it is no vector layer.")
            )
            return
        self.settings = {**settings, "INPUT": self.layer, "OUTPUT": "memory:", "GAPS": "memory:"}
        if with_epochs:
            self.settings.update(KEPT="memory:", REJECTED="memory:")
        child = make_child()
        try:
            child.begin(self.settings, context, feedback)
        except QgsProcessingException as error:
            self.error = str(error)
            return
        self.child, self.name = child, child.title(self.settings, "INPUT", context)
        if context.temporaryLayerStore().mapLayer(self.layer.id()) is not None:
            # opened by its path it is called like the file, whichever of its layers it is
            self.layer.setName(self.name)

    @property
    def weight(self):
        """Of its part of the work; there is a little to do even for an empty layer."""
        return 1000 + max(self.layer.featureCount(), 0) if self.child is not None else 0


def words_of(error):
    """What went wrong, with the kind of error where it was not foreseen."""
    return (
        str(error)
        if isinstance(error, QgsProcessingException)
        else f"{type(error).__name__}: {error}"
    )
