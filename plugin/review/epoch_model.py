"""The raw epochs behind a line, with their reasons, as a table."""

import numpy as np
from qgis.PyQt.QtCore import QAbstractTableModel, QModelIndex, Qt

from ...algorithms.host.figures import printed
from . import marks
from .words import tr
from .worklist_model import RIGHT

WORD, CHAINAGE, ACROSS, UP, HEIGHT, MOMENT, DETAIL, FID = range(8)


class EpochModel(QAbstractTableModel):
    """One row for each epoch, in order of chainage."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.evidence, self.dark = None, False
        self._pictures = {}

    def set_evidence(self, evidence):
        self.beginResetModel()
        self.evidence = evidence
        self.endResetModel()

    def set_dark(self, dark):
        """Draw the marks for a dark or a light ground."""
        self.beginResetModel()
        self.dark, self._pictures = dark, {}
        self.endResetModel()

    def rowCount(self, parent=QModelIndex()):  # noqa: B008 (Qt's signature)
        return 0 if parent.isValid() or self.evidence is None else len(self.evidence.epochs)

    def columnCount(self, parent=QModelIndex()):  # noqa: B008
        return 0 if parent.isValid() else 8

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return (
            tr("Role or reason"), tr("Chainage (m)"), tr("Across (mm)"), tr("Up (mm)"),
            tr("Height (m)"), tr("Time"), tr("Detail"), tr("Feature"),
        )[section]  # fmt: skip

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        if not index.isValid() or self.evidence is None:
            return None
        epochs, place, column = self.evidence.epochs, index.row(), index.column()
        row = int(epochs.rows[place])
        word = str(epochs.word[place])
        if role == Qt.ItemDataRole.DisplayRole:
            return self._text(epochs, place, column, word)
        if role == Qt.ItemDataRole.DecorationRole and column == WORD:
            if word not in self._pictures:
                self._pictures[word] = marks.pixmap(marks.mark_of(word), self.dark, 8)
            return self._pictures[word]
        if role == Qt.ItemDataRole.TextAlignmentRole and column in (CHAINAGE, ACROSS, UP, HEIGHT):
            return RIGHT
        if role == Qt.ItemDataRole.ToolTipRole:
            return self.evidence.table.detail[row] or None
        return None

    def _text(self, epochs, place, column, word):
        if column == WORD:
            return marks.title_of(word)
        number = {
            CHAINAGE: (epochs.chainage, 1, "{:.2f}"),
            ACROSS: (epochs.across, 1000, "{:+.0f}"),
            UP: (epochs.up, 1000, "{:+.0f}"),
            HEIGHT: (epochs.height, 1, "{:.3f}"),
        }.get(column)
        if number is not None:
            values, factor, form = number
            value = float(values[place])
            return printed(form.format(factor * value)) if np.isfinite(value) else ""
        row, table = int(epochs.rows[place]), self.evidence.table
        if column == MOMENT:
            return table.moment[row]
        if column == DETAIL:
            return table.detail[row]
        return f"{table.part[row]} {table.ids[row]}"
