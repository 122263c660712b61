"""The dialogue that asks which layers of the project are reviewed."""

from qgis.core import QgsMapLayerProxyModel, QgsProject, QgsVectorLayer
from qgis.gui import QgsMapLayerComboBox
from qgis.PyQt.QtWidgets import QDialog, QDialogButtonBox, QFormLayout, QLabel, QVBoxLayout

from ...algorithms.review import layers as parts
from ...algorithms.writing.styles import ORIGIN
from .words import tr

BEHIND = (parts.EDGES, parts.KEPT, parts.REJECTED)  # parts that a comparison does not write


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


def shown_order(project):
    """Layers of a project from the top of its tree, where the newest stand, to the bottom."""
    shown = [node.layer() for node in project.layerTreeRoot().findLayers()]
    shown = [layer for layer in shown if layer is not None]
    ids = {layer.id() for layer in shown}
    return shown + [layer for ident, layer in project.mapLayers().items() if ident not in ids]


def beside(lines, layers):
    """Layers with the epochs behind lines, and the edges as walked, among those that were made of
    the same captures.

    Parameters
    ----------
    lines : QgsVectorLayer
    layers : iterable of QgsVectorLayer

    Returns
    -------
    dict of str to QgsVectorLayer
    """
    origin = lines.customProperty(ORIGIN)
    some = [layer for layer in layers if origin and layer.customProperty(ORIGIN) == origin]
    found = guesses([lines, *some])
    return {part: found[part] for part in BEHIND if part in found}


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
    """File that a layer is in; where that is none, what keeps it, and its group in the tree."""
    provider = layer.providerType()
    if provider == "ogr":
        return layer.source().split("|")[0]
    node = layer.project() and layer.project().layerTreeRoot().findLayer(layer.id())
    return provider, node.parent().name() if node and node.parent() else ""


def _fits(layer, part):
    return isinstance(layer, QgsVectorLayer) and layer.isValid() and parts.can_play(layer, part)


class ChooseLayers(QDialog):
    """One box for each part, with the layers that can play it; what can be told from the fields is
    chosen already."""

    def __init__(self, project=None, parent=None):
        super().__init__(parent)
        self.setWindowTitle(tr("Layers to review"))
        layers = shown_order(project or QgsProject.instance())
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
