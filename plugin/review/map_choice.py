"""Lines chosen on the map, by a tool of the panel's own or by the host's selection."""

from functools import partial

from qgis.PyQt.QtCore import QObject, pyqtSignal

from ...algorithms.review import layers as parts
from .map_link import ChooseTool


class MapChoice(QObject):
    """Tells which row of the review was chosen on the map.

    Parameters
    ----------
    canvas : QgsMapCanvas
    session : Session
    switch : QAction
        Turns the tool on and off.
    parent : QObject

    Signals
    -------
    chosen : int
        Row of the review.
    """

    chosen = pyqtSignal(int)

    def __init__(self, canvas, session, switch, parent):
        super().__init__(parent)
        self.canvas, self.session = canvas, session
        self.tool = ChooseTool(canvas, self._layers)
        self._followed = []  # layers by id, and what is connected to their selection
        switch.toggled.connect(self._switched)
        self.tool.chosen.connect(self._choose)
        self.tool.deactivated.connect(lambda: switch.setChecked(False))

    def _layers(self):
        layers = [self.session.layer(part) for part in parts.DECIDED]
        return [layer for layer in layers if layer is not None]

    def _switched(self, wanted):
        if wanted:
            self.canvas.setMapTool(self.tool)
        else:
            self.canvas.unsetMapTool(self.tool)

    def _choose(self, ident, fid):
        layer = self.session.project.mapLayer(ident)
        row = self.session.row_of(layer, fid) if layer is not None else -1
        if row >= 0:
            self.chosen.emit(row)

    def follow(self):
        """Features selected in the layers as they are now, by the host's own tools, choose."""
        self._leave()
        for layer in self._layers():
            slot = partial(self._selected, layer.id())
            layer.selectionChanged.connect(slot)
            self._followed.append((layer.id(), slot))

    def _leave(self):
        for ident, slot in self._followed:
            layer = self.session.project.mapLayer(ident)
            if layer is not None:
                layer.selectionChanged.disconnect(slot)
        self._followed = []

    def _selected(self, ident, selected, deselected, cleared):
        if len(selected) == 1:
            self._choose(ident, selected[0])

    def close(self):
        """End for good."""
        self._leave()
        self.canvas.unsetMapTool(self.tool)
        self.tool.deleteLater()
