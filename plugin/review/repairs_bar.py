"""The buttons of repairs under the plot, and the list of those that there are."""

import numpy as np
from qgis.core import QgsApplication
from qgis.PyQt.QtCore import Qt, pyqtSignal
from qgis.PyQt.QtWidgets import (
    QComboBox,
    QHBoxLayout,
    QLabel,
    QListWidget,
    QListWidgetItem,
    QMenu,
    QPushButton,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...algorithms.reading.repair_rows import moment
from .flow import FlowLayout
from .words import tr

POINTS = ("leave_out", "take_back", "corner", "smooth", "break_here", "bridge")
ELEMENTS = ("tangent", "arc", "spline")


def titles():
    """Kinds of repairs as people read them."""
    return {
        "leave_out": tr("Leave out"),
        "take_back": tr("Take back in"),
        "corner": tr("Corner"),
        "smooth": tr("Smooth joint"),
        "break_here": tr("Break after"),
        "bridge": tr("Bridge gap"),
        "tangent": tr("Tangent"),
        "arc": tr("Arc"),
        "spline": tr("Spline"),
    }


def tips():
    """What each repair does."""
    return {
        "leave_out": tr("Leave the chosen epoch out; its reason is kept"),
        "take_back": tr("Take the chosen epoch back in, over its reason"),
        "corner": tr("A corner at the chosen epoch"),
        "smooth": tr("A smooth joint at the chosen epoch"),
        "break_here": tr("End the edge after the chosen epoch"),
        "bridge": tr("Bridge the gap next to the chosen epoch"),
    }


class RepairsBar(QWidget):
    """Switches repairing on, and asks for repairs of the chosen epoch or stretch.

    Signals
    -------
    switched : bool
    asked : str, str
        Kind, and the element of a stretch.
    """

    switched = pyqtSignal(bool)
    asked = pyqtSignal(str, str)

    def __init__(self, panel, parent=None):
        super().__init__(parent)
        self.switch = panel.action(
            "repair", tr("Repair"), "mActionToggleEditing.svg", "G", True,
            tr("Fit this walk anew with repairs; nothing is written to the edges before the"
               " captures are processed again"),
        )  # fmt: skip
        self.switch.toggled.connect(self.switched)
        button = QToolButton(self)
        button.setDefaultAction(self.switch)
        button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
        self.walks = QComboBox(self)
        self.walks.setToolTip(tr("Walk that is repaired"))
        self.walks.setAccessibleName(self.walks.toolTip())
        self.walks.setSizeAdjustPolicy(
            QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
        )
        self.walks.setMinimumContentsLength(10)
        self.say = QLabel(self)
        self.say.setWordWrap(True)
        self._make_tools(panel)
        first = QHBoxLayout()
        first.setSpacing(3)
        first.addWidget(button)
        first.addWidget(self.walks)
        first.addWidget(self.say, 1)
        first.addStretch(0)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(0)
        layout.addLayout(first)
        layout.addWidget(self.tools)
        self.set_on(False)

    def _make_tools(self, panel):
        """The buttons of repairs at a point, and that of a stretch, which opens a menu. They go
        on in a second row where one is too narrow: a bar of tools would hide the last ones."""
        self.tools = QWidget(self)
        row = FlowLayout(self.tools)
        named, told = titles(), tips()
        keys = dict(zip(POINTS, ("X", "T", "Shift+C", "Shift+J", "Shift+B", "Shift+G")))
        short = {"take_back": tr("Take back"), "smooth": tr("Smooth"), "break_here": tr("Break"),
                 "bridge": tr("Bridge")}  # fmt: skip
        for kind in POINTS:
            action = panel.action(
                kind, short.get(kind, named[kind]), "", keys[kind], tip=told[kind]
            )
            action.triggered.connect(lambda checked=False, one=kind: self.asked.emit(one, ""))
            button = QToolButton(self.tools)
            button.setDefaultAction(action)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
            button.setAutoRaise(True)
            row.addWidget(button)
        stretch = QToolButton(self.tools)
        stretch.setText(tr("Stretch"))
        stretch.setToolTip(
            tr("Mark a stretch with Shift and the mouse, or with Shift and the arrow keys")
        )
        stretch.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(stretch)
        for element in ELEMENTS:
            action = menu.addAction(named[element])
            action.triggered.connect(
                lambda checked=False, one=element: self.asked.emit("element", one)
            )
        stretch.setMenu(menu)
        stretch.setAutoRaise(True)
        row.addWidget(stretch)
        self.stretch = stretch

    def resizeEvent(self, event):
        """Ask for the rows of buttons that this width needs: what is above is not covered then."""
        super().resizeEvent(event)
        self.tools.setMinimumHeight(self.tools.layout().heightForWidth(event.size().width()))

    def set_on(self, is_on):
        """Show the tools, or hide them."""
        self.show_tools(is_on)
        self.walks.setVisible(is_on and self.walks.count() > 1)
        self.say.setVisible(is_on)
        if not is_on:
            self.say.clear()

    def show_tools(self, are_shown):
        """Show the buttons of repairs, or hide them."""
        self.tools.setVisible(are_shown)

    def set_walks(self, walks):
        """Offer the walks of a line."""
        self.walks.blockSignals(True)
        self.walks.clear()
        for title, walk in walks:
            self.walks.addItem(title, walk)
        self.walks.blockSignals(False)


class RepairsList(QWidget):
    """Repairs of the capture that is repaired, with what became of them.

    Signals
    -------
    removed : int
        Feature id.
    """

    removed = pyqtSignal(int)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.list = QListWidget(self)
        self.list.setAccessibleName(tr("Repairs of this capture"))
        self.note = QLabel(
            tr("Repairs of the chosen walk stand here. Switch “Repair” on under the evidence."),
            self,
        )
        self.note.setWordWrap(True)
        self.button = QPushButton(
            QgsApplication.getThemeIcon("mActionDeleteSelected.svg"), tr("Remove the repair"), self
        )
        self.button.clicked.connect(self._remove)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 3, 0, 0)
        layout.addWidget(self.note)
        layout.addWidget(self.list, 1)
        layout.addWidget(self.button, 0, Qt.AlignmentFlag.AlignLeft)
        self.show_rows([], [], {})

    def show_rows(self, rows, ids, states):
        """Show repairs.

        Parameters
        ----------
        rows : list of dict
        ids : list of int
        states : dict of int to tuple
            State and why, by place in `rows`; those of other captures have none.
        """
        self.list.clear()
        named = titles()
        for place, (row, ident) in enumerate(zip(rows, ids)):
            if place not in states:
                continue
            state, why = states[place]
            title = named.get(row["value"] or row["kind"], row["kind"])
            text = f"{title}: {moment(row)}"
            if state != "applied":
                text += " – " + tr("without effect") + (f": {why}" if why else "")
            item = QListWidgetItem(text)
            icon = "mIconSuccess.svg" if state == "applied" else "mIconWarning.svg"
            item.setIcon(QgsApplication.getThemeIcon(icon))
            item.setData(Qt.ItemDataRole.UserRole, ident)
            item.setToolTip("\n".join(filter(None, (text, row["decided_by"], row["remark"]))))
            self.list.addItem(item)
        empty = self.list.count() == 0
        self.note.setVisible(empty)
        self.list.setVisible(not empty)
        self.button.setVisible(not empty)

    def _remove(self):
        item = self.list.currentItem() or self.list.item(self.list.count() - 1)
        if item is not None:
            self.removed.emit(int(item.data(Qt.ItemDataRole.UserRole)))


def wanted_repair(kind, plot, gaps):
    """What a repair of the chosen epoch or stretch is written as.

    Parameters
    ----------
    kind : str
    plot : EvidencePlot
        With the evidence of a refit.
    gaps : tuple
        Of the refit: last and first time around the gap before and the one after the edge.

    Returns
    -------
    times : tuple of float or None
        `time` and `until` (None where the kind has none); None where nothing fitting is chosen.
    why : str
        What must be chosen first; empty where all is there.
    """
    evidence = plot.evidence
    if kind == "element":
        if plot.span is None:
            return None, tr("Mark a stretch first: Shift and the mouse, or the right button.")
        epochs = evidence.epochs
        inside = epochs.kept & (epochs.chainage >= plot.span[0]) & (
            epochs.chainage <= plot.span[1]
        )  # fmt: skip
        seconds = evidence.table.seconds[epochs.rows[inside]]
        if len(seconds) < 2 or seconds.min() == seconds.max():
            return None, tr("The stretch must hold two epochs at least.")
        return (float(seconds.min()), float(seconds.max())), ""
    if not 0 <= plot.epoch < len(evidence.epochs):
        return None, tr("Choose an epoch first: click on it, or use the arrow keys in the plot.")
    row = int(evidence.epochs.rows[plot.epoch])
    kept = bool(evidence.epochs.kept[plot.epoch])
    moment_of = float(evidence.table.seconds[row])
    if not np.isfinite(moment_of):
        return None, tr("This epoch has no time, so that no repair can name it.")
    if kind == "take_back" and kept:
        return None, tr("This epoch is in already.")
    if kind != "take_back" and not kept:
        return None, tr("Choose an epoch that is used.")
    if kind != "bridge":
        return (moment_of, None), ""
    later = evidence.epochs.chainage[plot.epoch] > evidence.axis.length / 2
    gap = gaps[1 if later else 0]
    if gap is None:
        return None, tr("There is no other edge of this capture beyond this end.")
    return gap, ""
