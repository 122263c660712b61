"""What an update changed, as a list, with before and after on the map."""

from dataclasses import dataclass

from qgis.core import QgsGeometry
from qgis.PyQt.QtCore import QAbstractTableModel, QModelIndex, Qt, pyqtSignal
from qgis.PyQt.QtWidgets import (
    QAbstractItemView,
    QHBoxLayout,
    QLabel,
    QPushButton,
    QSlider,
    QVBoxLayout,
    QWidget,
)

from ...algorithms.host.feedback import looked_through
from ...algorithms.host.fields import is_null, spelling
from .tables import plain_table
from .words import changed, metres, tr

WHAT, EXISTING, EDGES, MOVED, LENGTH, REASON = range(6)
WHOLE = 100  # steps of the slider
_FIELDS = (
    "what", "existing_id", "edge_ids", "moved", "length_before", "length_after", "offset_max",
    "decided_by", "reason", "change_id",
)  # fmt: skip


@dataclass(frozen=True)
class Change:
    """One change: what it was, and the geometry before and after (a null one for none)."""

    values: dict
    before: QgsGeometry
    after: QgsGeometry


def read_changes(changes, updated, feedback):
    """Changes of an update, with the lines as they are after it.

    Parameters
    ----------
    changes, updated : Snapshot
        `updated` may be None: then nothing is known of after.
    feedback : QgsFeedback

    Returns
    -------
    list of Change

    Raises
    ------
    CancelledError
    """
    own = {name: spelling(changes.fields(), name) for name in _FIELDS}
    rows = []
    for feature in changes.getFeatures():
        values = {
            name: None if not own[name] or is_null(feature[own[name]]) else feature[own[name]]
            for name in _FIELDS
        }
        rows.append((values, QgsGeometry(feature.geometry())))
    after = _after(updated, {str(values["existing_id"]) for values, _ in rows}, feedback)
    return [
        Change(
            values,
            before if values["what"] != "added" else QgsGeometry(),
            after.get(str(values["existing_id"]), QgsGeometry())
            if values["what"] not in ("retired", "deleted")
            else QgsGeometry(),
        )
        for values, before in rows
    ]


def _after(updated, wanted, feedback):
    """Geometries of updated lines by what changes call them: the field that holds those ids."""
    if updated is None:
        return {}
    names = updated.fields().names()
    best, found = 0, {}
    columns = {name: {} for name in names}
    by_id = {}
    for feature in looked_through(updated.getFeatures(), feedback):
        geometry = QgsGeometry(feature.geometry())
        by_id[str(feature.id())] = geometry
        for name in names:
            value = feature[name]
            if not is_null(value) and str(value) in wanted:
                columns[name][str(value)] = geometry
    for candidate in (by_id, *columns.values()):
        hits = len(wanted & set(candidate))
        if hits > best:
            best, found = hits, candidate
    return found


class ChangesModel(QAbstractTableModel):
    """One row a change."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.rows = []

    def set_rows(self, rows):
        self.beginResetModel()
        self.rows = rows
        self.endResetModel()

    def rowCount(self, parent=QModelIndex()):  # noqa: B008 (Qt's signature)
        return 0 if parent.isValid() else len(self.rows)

    def columnCount(self, parent=QModelIndex()):  # noqa: B008
        return 0 if parent.isValid() else 6

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if role != Qt.ItemDataRole.DisplayRole or orientation != Qt.Orientation.Horizontal:
            return None
        return (
            tr("Change"), tr("Line"), tr("Edges"), tr("Moved"), tr("Length"), tr("Reason"),
        )[section]  # fmt: skip

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        if not index.isValid() or role not in (
            Qt.ItemDataRole.DisplayRole,
            Qt.ItemDataRole.ToolTipRole,
        ):
            return None
        values = self.rows[index.row()].values

        def text(name):
            return "" if values[name] is None else str(values[name])

        column = index.column()
        if column == MOVED:
            return "" if values["moved"] is None else metres(float(values["moved"]))
        if column == LENGTH:
            lengths = [values["length_before"], values["length_after"]]
            return " → ".join(
                "–" if one is None else tr("{:.1f} m").format(float(one)) for one in lengths
            )
        if column == WHAT:
            return changed(text("what"))
        return text({EXISTING: "existing_id", EDGES: "edge_ids"}.get(column, "reason"))


class ChangesView(QWidget):
    """The list, and a slider between before and after; while B is held the map shows before.

    Signals
    -------
    faded : float
        Share of after, 0 to 1.
    chosen : object
        Change, or None for all.
    """

    faded = pyqtSignal(float)
    chosen = pyqtSignal(object)

    def __init__(self, update, parent=None):
        super().__init__(parent)
        self.model = ChangesModel(self)
        self.table = plain_table(self, self.model, tr("Changes of the update"))
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.SingleSelection)
        self.table.selectionModel().currentRowChanged.connect(self._current)
        self.table.installEventFilter(self)
        self.slider = QSlider(Qt.Orientation.Horizontal, self)
        self.slider.setRange(0, WHOLE)
        self.slider.setValue(WHOLE)
        self.slider.setAccessibleName(tr("From before to after"))
        self.slider.setToolTip(tr("From before (dashed) to after (solid); hold B to see before"))
        self.slider.valueChanged.connect(lambda value: self.faded.emit(value / WHOLE))
        self.note = QLabel(self)
        self.note.setWordWrap(True)
        self.button = QPushButton(self)
        self.button.setText(update.text())
        self.button.setIcon(update.icon())
        self.button.clicked.connect(update.trigger)
        row = QHBoxLayout()
        row.addWidget(QLabel(tr("Before"), self))
        row.addWidget(self.slider, 1)
        row.addWidget(QLabel(tr("After"), self))
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 3, 0, 0)
        layout.setSpacing(3)
        layout.addWidget(self.note)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        layout.addWidget(self.table, 1)
        layout.addLayout(row)
        self._held = None
        self.set_changes([])

    def set_changes(self, changes):
        """Show the changes of an update, or say that there is none."""
        self.model.set_rows(changes)
        self.note.setVisible(not changes)
        self.button.setVisible(not changes)
        self.table.setVisible(bool(changes))
        self.slider.setEnabled(bool(changes))
        self.note.setText(tr("No update was made yet. Decide on the lines, then run the update."))
        if changes:
            self.table.resizeColumnsToContents()
        self.chosen.emit(None)

    def change(self):
        """The change that is looked at, None for none."""
        index = self.table.currentIndex()
        return self.model.rows[index.row()] if index.isValid() else None

    def _current(self, index, former=None):
        self.chosen.emit(self.model.rows[index.row()] if index.isValid() else None)

    def hold(self, down):
        """Show before while a key is down."""
        if down and self._held is None:
            self._held = self.slider.value()
            self.slider.setValue(0)
        elif not down and self._held is not None:
            value, self._held = self._held, None
            self.slider.setValue(value)

    def eventFilter(self, watched, event):
        return self._key(event) or super().eventFilter(watched, event)

    def _key(self, event):
        kinds = type(event).Type
        if event.type() not in (kinds.KeyPress, kinds.KeyRelease) or event.isAutoRepeat():
            return False
        if event.key() != Qt.Key.Key_B:
            return False
        self.hold(event.type() == kinds.KeyPress)
        return True

    def keyPressEvent(self, event):
        if not self._key(event):
            super().keyPressEvent(event)

    def keyReleaseEvent(self, event):
        if not self._key(event):
            super().keyReleaseEvent(event)
