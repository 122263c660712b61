"""The dialogue that asks which layers of the project are reviewed."""

from qgis.core import QgsMapLayerProxyModel, QgsProject, QgsVectorLayer
from qgis.gui import QgsMapLayerComboBox
from qgis.PyQt.QtWidgets import QDialog, QDialogButtonBox, QFormLayout, QLabel, QVBoxLayout

from ...algorithms.review import layers as parts
from .words import tr


def offered():
    """Parts that are asked for: title and kind of geometry."""
    point, line = QgsMapLayerProxyModel.Filter.PointLayer, QgsMapLayerProxyModel.Filter.LineLayer
    return {
        parts.LINES: (tr("Edges to review"), line),
        parts.EXISTING: (tr("Existing lines with their status"), line),
        parts.EDGES: (tr("Edges as walked, where those above were merged"), line),
        parts.KEPT: (tr("Kept epochs"), point),
        parts.REJECTED: (tr("Rejected epochs"), point),
        parts.STATIONS: (tr("Stations of the comparison"), point),
        parts.EDGE_STATIONS: (tr("Stations of the edges"), point),
        parts.DISAGREEMENTS: (tr("Disagreements of walks"), line),
        parts.UPDATED: (tr("Updated lines"), line),
        parts.CHANGES: (tr("Changes of the update"), line),
    }


def guesses(layers):
    """Layers by the part that their fields say they play; of several those that come from where the
    lines come from.

    Parameters
    ----------
    layers : iterable of QgsVectorLayer

    Returns
    -------
    dict of str to QgsVectorLayer
    """
    told = {}
    for layer in layers:
        if isinstance(layer, QgsVectorLayer) and layer.isValid():
            told.setdefault(parts.part_of(layer), []).append(layer)
    told.pop("", None)
    lines = told.get(parts.LINES, [])
    best = min(lines, key=parts.preference, default=None)  # of equal ones the first
    home = _home(best) if best is not None else None
    found = {
        part: next((one for one in some if _home(one) == home), some[0])
        for part, some in told.items()
    }
    if best is not None:
        found[parts.LINES] = best
    plain = [one for one in lines if parts.preference(one) == 2]
    plain = [one for one in plain if _home(one) == home] or plain
    if plain and best is not plain[0]:
        found[parts.EDGES] = plain[0]
    return found


def _home(layer):
    """File that a layer is in; what it is kept by where that is none."""
    provider = layer.providerType()
    return layer.source().split("|")[0] if provider == "ogr" else provider


def _fits(layer, part):
    return isinstance(layer, QgsVectorLayer) and layer.isValid() and parts.can_play(layer, part)


class ChooseLayers(QDialog):
    """One box for each part, with the layers that can play it; what can be told from the fields is
    chosen already."""

    def __init__(self, project=None, parent=None):
        super().__init__(parent)
        self.setWindowTitle(tr("Layers to review"))
        layers = list((project or QgsProject.instance()).mapLayers().values())
        guessed = guesses(layers)
        self.boxes, form = {}, QFormLayout()
        for part, (title, kind) in offered().items():
            box = QgsMapLayerComboBox(self)
            box.setFilters(kind)
            box.setAllowEmptyLayer(True)
            box.setExceptedLayerList([one for one in layers if not _fits(one, part)])
            box.setLayer(guessed.get(part))
            box.setMinimumContentsLength(24)
            box.layerChanged.connect(self._changed)
            self.boxes[part] = box
            form.addRow(title, box)
        buttons = QDialogButtonBox(
            QDialogButtonBox.StandardButton.Ok | QDialogButtonBox.StandardButton.Cancel, self
        )
        buttons.accepted.connect(self.accept)
        buttons.rejected.connect(self.reject)
        self.fine = buttons.button(QDialogButtonBox.StandardButton.Ok)
        layout = QVBoxLayout(self)
        note = QLabel(
            tr("Only the edges must be there; what else is given shows more of the evidence."), self
        )
        note.setWordWrap(True)
        layout.addWidget(note)
        layout.addLayout(form)
        layout.addWidget(buttons)
        self._changed()

    def _changed(self, layer=None):
        self.fine.setEnabled(self.boxes[parts.LINES].currentLayer() is not None)

    def chosen(self):
        """Layers by part, without those that were left empty."""
        return {
            part: box.currentLayer()
            for part, box in self.boxes.items()
            if box.currentLayer() is not None
        }
