"""The dock: list, evidence, decisions; it knows no layer."""

from qgis.core import QgsApplication
from qgis.gui import QgsDockWidget, QgsMessageBar
from qgis.PyQt.QtCore import QSize, Qt, pyqtSignal
from qgis.PyQt.QtGui import QIcon, QKeySequence
from qgis.PyQt.QtWidgets import (
    QAction,
    QHBoxLayout,
    QLabel,
    QLineEdit,
    QMenu,
    QSizePolicy,
    QSplitter,
    QTabWidget,
    QToolBar,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from . import marks
from .epoch_model import EpochModel
from .evidence_plot import EvidencePlot
from .list_view import ListView
from .tables import plain_table
from .words import decision_icon, tr

NAME = "CurbwrightReview"


class ReviewPanel(QgsDockWidget):
    """List above or beside the evidence, as the dock lies; all can be done by keys.

    Signals
    -------
    decided : str
        `accept`, `hold`, `reject`, or empty to take it back.
    remarked : str
    """

    decided = pyqtSignal(str)
    remarked = pyqtSignal(str)

    def __init__(self, parent=None):
        super().__init__(tr("Review of edges"), parent)
        self.setObjectName(NAME)
        body = QWidget(self)
        self.setWidget(body)
        self.commands = {}
        self.messages = QgsMessageBar(body)
        self.messages.setSizePolicy(QSizePolicy.Policy.Minimum, QSizePolicy.Policy.Fixed)
        self.list = ListView(body)
        self.title = QLabel(body)
        self.title.setTextInteractionFlags(Qt.TextInteractionFlag.TextSelectableByMouse)
        self.title.setSizePolicy(QSizePolicy.Policy.Ignored, QSizePolicy.Policy.Fixed)
        self._make_tabs(body)
        self.splitter = QSplitter(Qt.Orientation.Vertical, body)
        self.splitter.setChildrenCollapsible(False)
        self.splitter.addWidget(self._upper(body))
        self.splitter.addWidget(self._lower(body))
        self.splitter.setStretchFactor(0, 2)
        self.splitter.setStretchFactor(1, 2)
        self.splitter.setSizes([260, 340])
        layout = QVBoxLayout(body)
        layout.setContentsMargins(4, 2, 4, 4)
        layout.setSpacing(3)
        layout.addWidget(self._make_tools(body))
        layout.addWidget(self.splitter, 1)
        self.dockLocationChanged.connect(self._placed)
        self.set_open(False)

    # making

    def action(self, name, text, icon, keys="", checkable=False, tip=""):
        """An action of the panel, with a key that counts wherever the panel has the focus."""
        action = QAction(QgsApplication.getThemeIcon(icon) if icon else QIcon(), text, self)
        action.setCheckable(checkable)
        if keys:
            action.setShortcut(QKeySequence(keys))
            action.setShortcutContext(Qt.ShortcutContext.WidgetWithChildrenShortcut)
        action.setToolTip(f"{tip or text} ({keys})" if keys else tip or text)
        self.widget().addAction(action)
        self.commands[name] = action
        return action

    def _make_tools(self, body):
        bar = QToolBar(body)
        bar.setIconSize(QSize(18, 18))
        opening = QToolButton(bar)
        opening.setIcon(QgsApplication.getThemeIcon("mActionFileOpen.svg"))
        opening.setToolTip(tr("Open results to review"))
        opening.setAccessibleName(opening.toolTip())
        opening.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        menu = QMenu(opening)
        menu.addAction(self.action("folder", tr("Results folder…"), "mIconFolderOpen.svg"))
        menu.addAction(self.action("layers", tr("Layers of the project…"), "mActionAddLayer.svg"))
        opening.setMenu(menu)
        bar.addWidget(opening)
        bar.addAction(self.action("renew", tr("Read the list again"), "mActionRefresh.svg"))
        bar.addSeparator()
        bar.addAction(self.action("previous", tr("Previous"), "mActionArrowUp.svg", "P"))
        bar.addAction(self.action("next", tr("Next"), "mActionArrowDown.svg", "N"))
        bar.addAction(
            self.action("follow", tr("Map follows the list"), "mActionPanToSelected.svg", "F", True)
        )
        self.commands["follow"].setChecked(True)
        bar.addAction(
            self.action("pick", tr("Choose on the map"), "mActionIdentify.svg", "K", True)
        )
        bar.addSeparator()
        bar.addAction(self.action("undo", tr("Undo the last decision"), "mActionUndo.svg", "U"))
        bar.addAction(self.action("redo", tr("Redo the decision"), "mActionRedo.svg", "Shift+U"))
        bar.addAction(
            self.action(
                "save",
                tr("Save the decisions"),
                "mActionSaveEdits.svg",
                "S",
                tip=tr("Save the decisions, and other edits that their layers hold"),
            )
        )
        bar.addSeparator()
        bar.addAction(self.action("print", tr("Print the evidence…"), "mActionFilePrint.svg"))
        bar.addAction(
            self.action(
                "update",
                tr("Update existing linework…"),
                "mActionReshape.svg",
                tip=tr("Go on to “Update existing linework” with these lines"),
            )
        )
        self.action("list", tr("Go to the list"), "", "L")
        self.action("evidence", tr("Go to the evidence"), "", "E")
        return bar

    def _upper(self, body):
        upper = QWidget(body)
        layout = QVBoxLayout(upper)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(3)
        layout.addWidget(self.list, 1)
        layout.addLayout(self._make_decisions(upper))
        return upper

    def _make_decisions(self, body):
        row, below = QHBoxLayout(), QVBoxLayout()
        row.setSpacing(3)
        for name, text, keys in (
            ("accept", tr("Accept"), "A"),
            ("hold", tr("Hold"), "H"),
            ("reject", tr("Reject"), "R"),
        ):
            action = self.action(name, text, "", keys)
            action.setIcon(decision_icon(name))
            action.triggered.connect(lambda checked=False, word=name: self.decided.emit(word))
            button = QToolButton(body)
            button.setDefaultAction(action)
            button.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextBesideIcon)
            button.setText(text)
            button.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            row.addWidget(button)
        clear = self.action("clear", tr("Take the decision back"), "mActionRemove.svg", "C")
        clear.triggered.connect(lambda checked=False: self.decided.emit(""))
        button = QToolButton(body)
        button.setDefaultAction(clear)
        row.addWidget(button)
        self.remark = QLineEdit(body)
        self.remark.setPlaceholderText(tr("Remark (M), Enter to keep"))
        self.remark.setAccessibleName(tr("Remark"))
        self.remark.setClearButtonEnabled(True)
        self.remark.returnPressed.connect(self._remark_done)
        below.setSpacing(3)
        below.addLayout(row)
        below.addWidget(self.remark)
        self.action("remark", tr("Write a remark"), "", "M").triggered.connect(
            lambda checked=False: self.remark.setFocus(Qt.FocusReason.ShortcutFocusReason)
        )
        return below

    def _make_tabs(self, body):
        self.plot = EvidencePlot(body)
        self.epoch_model = EpochModel(self)
        self.epoch_model.set_dark(marks.is_dark(self.palette()))
        self.epochs = plain_table(body, self.epoch_model, tr("Epochs behind the line"))
        self.tabs = QTabWidget(body)
        self.tabs.setDocumentMode(True)
        self.evidence_page = QWidget(self.tabs)
        page = QVBoxLayout(self.evidence_page)
        page.setContentsMargins(0, 0, 0, 0)
        page.setSpacing(2)
        page.addWidget(self.plot, 1)
        self.hint = QLabel(self.evidence_page)
        self.hint.setWordWrap(True)
        self.hint.hide()
        page.addWidget(self.hint)
        self.tabs.addTab(self.evidence_page, tr("Evidence"))
        self.tabs.addTab(self.epochs, tr("Epochs"))

    def add_repairs(self, bar, repairs):
        """Put the buttons of repairs under the plot, and their list among the tabs."""
        self.evidence_page.layout().addWidget(bar)
        self.tabs.addTab(repairs, tr("Repairs"))

    def _lower(self, body):
        lower = QWidget(body)
        layout = QVBoxLayout(lower)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(2)
        layout.addWidget(self.title)
        layout.addWidget(self.tabs, 1)
        # at the bottom: a message that comes or goes must not move a row from under the pointer
        layout.addWidget(self.messages)
        return lower

    # states

    def _placed(self, area):
        """A dock at the side has list over evidence, one above or below has them side by side."""
        areas = Qt.DockWidgetArea
        wide = area in (areas.TopDockWidgetArea, areas.BottomDockWidgetArea)
        self.splitter.setOrientation(Qt.Orientation.Horizontal if wide else Qt.Orientation.Vertical)

    def set_open(self, is_open):
        """Switch what needs a review on or off."""
        for name, action in self.commands.items():
            if name not in ("folder", "layers"):
                action.setEnabled(is_open)
        self.remark.setEnabled(is_open)

    def set_decidable(self, fine, why=""):
        """Switch deciding on or off, and say why it is off."""
        for name in ("accept", "hold", "reject", "clear", "remark"):
            self.commands[name].setEnabled(fine)
        self.remark.setEnabled(fine)
        self.remark.setToolTip(why)

    def _remark_done(self):
        self.remarked.emit(self.remark.text().strip())
        self.list.table.setFocus(Qt.FocusReason.OtherFocusReason)

    def show_evidence(self, evidence, note="", hint=""):
        """Show the evidence of another line in plot and table.

        Parameters
        ----------
        evidence : LineEvidence or None
        note : str, optional
            Stands in the plot's place where there is no evidence.
        hint : str, optional
            Stands below the plot: what is missing in it.
        """
        self.plot.set_evidence(evidence, note)
        self.hint.setText(hint)
        self.hint.setVisible(bool(hint))
        self.epoch_model.set_evidence(evidence)
        count = len(evidence.epochs) if evidence is not None else 0
        self.tabs.setTabText(1, tr("Epochs ({})").format(count) if count else tr("Epochs"))
        if count and not self.epochs.property("wide"):
            self.epochs.resizeColumnsToContents()
            self.epochs.setProperty("wide", True)

    def choose_epoch(self, row):
        """Mark an epoch, by its row in the evidence's table, in plot and list of epochs."""
        evidence = self.plot.evidence
        if evidence is None:
            return
        places = [place for place, one in enumerate(evidence.epochs.rows) if one == row]
        if not places:
            return
        if self.plot.epoch != places[0]:
            self.plot.choose_epoch(places[0])
        if self.epochs.currentIndex().row() != places[0]:
            self.epochs.selectRow(places[0])

    def changeEvent(self, event):
        kinds = type(event).Type
        if event.type() in (kinds.PaletteChange, kinds.StyleChange) and hasattr(self, "plot"):
            self.epoch_model.set_dark(marks.is_dark(self.palette()))
        super().changeEvent(event)
