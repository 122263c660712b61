"""Joins panel, layers and map."""

from functools import partial

import numpy as np
from qgis.core import (
    Qgis,
    QgsGeometry,
    QgsProcessingException,
    QgsProject,
    QgsSettings,
)
from qgis.PyQt.QtCore import QObject, Qt, QTimer
from qgis.PyQt.QtWidgets import QDockWidget, QFileDialog, QMessageBox, QPushButton

from ...algorithms.host.quotes import quoted
from ...algorithms.review import layers as parts
from ...algorithms.review.reading import DAY, EDGE
from ...shared.review.worklist import Kind
from . import tasks
from .choose_layers import ChooseLayers, beside, guesses, shown_order
from .evidence_print import draw_print
from .map_choice import MapChoice
from .map_link import MapLink
from .panel import ReviewPanel
from .repairing import Repairing
from .session import Session
from .updating import Updating
from .words import reason, tr

FOLDER = "curbwright/review/folder"  # setting: where results were opened last
LOOK = 60  # ms that a line must be chosen for before its evidence is read
WIDTH = 430  # pixels of the dock at 96 dpi, to begin with
HEIGHT = 520  # pixels at 96 dpi below which list and plot are too low to work with
BESIDE = (Qt.DockWidgetArea.LeftDockWidgetArea, Qt.DockWidgetArea.RightDockWidgetArea)
TITLE = "Curbwright"


class ReviewController(QObject):
    """The review of one window. It lives from the first opening to the unloading of the plugin.

    Parameters
    ----------
    iface : QgisInterface
    """

    def __init__(self, iface):
        super().__init__(iface.mainWindow())
        self.iface = iface
        self.panel = ReviewPanel(iface.mainWindow())
        self.session = Session(QgsProject.instance(), self)
        self.map = MapLink(iface.mapCanvas(), self)
        self.choice = MapChoice(iface.mapCanvas(), self.session, self.panel.commands["pick"], self)
        self.repairing = Repairing(self)
        self.panel.add_repairs(self.repairing.bar, self.repairing.list)
        self.updating = Updating(self)
        self._settle = QTimer(self)
        self._settle.setSingleShot(True)
        self._settle.setInterval(LOOK)
        self._settle.timeout.connect(self.read_evidence)
        self._was_closed = False
        self._connect()
        iface.addDockWidget(Qt.DockWidgetArea.RightDockWidgetArea, self.panel)
        self._make_room()
        window = iface.mainWindow()
        if hasattr(window, "resizeDocks"):  # the host restores what the user made of it later
            width = int(WIDTH * self.panel.logicalDpiX() / 96)
            window.resizeDocks([self.panel], [width], Qt.Orientation.Horizontal)
        self._say_how_to_begin()

    def _connect(self):
        panel, session = self.panel, self.session
        for name, slot in (
            ("folder", self.ask_folder),
            ("layers", self.ask_layers),
            ("renew", session.renew),
            ("previous", partial(panel.list.step, -1)),
            ("next", partial(panel.list.step, 1)),
            ("undo", self.undo),
            ("redo", partial(self.undo, False)),
            ("save", self.save),
            ("print", self.ask_print),
            ("update", self.updating.begin),
            ("list", panel.list.table.setFocus),
            ("evidence", self._to_evidence),
        ):
            panel.commands[name].triggered.connect(lambda checked=False, call=slot: call())
        panel.commands["follow"].toggled.connect(self._follow)
        panel.decided.connect(self.decide)
        panel.remarked.connect(self.remark)
        panel.list.current.connect(self.look_at)
        panel.plot.pointed.connect(self.map.mark)
        panel.plot.chosen.connect(panel.choose_epoch)
        panel.epochs.selectionModel().currentRowChanged.connect(self._epoch)
        self.map.pointed.connect(panel.plot.set_cursor)
        self.choice.chosen.connect(partial(panel.list.look_at, reveal=True))
        session.opened.connect(self._opened)
        session.failed.connect(self._failed)
        session.changed.connect(self._changed)
        session.evidence_read.connect(self._show_evidence)
        session.saved.connect(self._show_progress)
        session.layers_changed.connect(self._layers_changed)
        session.busy.connect(lambda busy: panel.commands["renew"].setEnabled(not busy))
        session.project.cleared.connect(self.forget)
        panel.closed.connect(self._closed)
        panel.opened.connect(self._reopened)

    def _say_how_to_begin(self):
        self.panel.show_evidence(
            None, tr("Open a folder of results, or layers of the project, to begin (first button).")
        )

    # opening and ending

    def _bring_up(self):
        """Show the panel, with room enough to work in."""
        self._make_room()
        self.panel.setUserVisible(True)

    def _make_room(self):
        """Where other docks above or below leave the panel little height, share their place as a
        tab: else the window would grow beyond a small screen."""
        window, panel = self.iface.mainWindow(), self.panel
        area = window.dockWidgetArea(panel)
        if panel.isFloating() or area not in BESIDE:
            return
        tall = int(HEIGHT * panel.logicalDpiY() / 96)
        height = panel.height() if panel.isVisible() else window.height() - tall
        if height >= tall:
            return
        tabs = window.tabifiedDockWidgets(panel)
        others = [
            dock
            for dock in window.findChildren(QDockWidget)
            if dock is not panel
            and dock.isVisible()
            and not dock.isFloating()
            and dock not in tabs
            and window.dockWidgetArea(dock) == area
        ]
        if others:
            window.tabifyDockWidget(others[-1], panel)
            panel.raise_()

    def show(self):
        """Show the panel; where nothing is open yet, the results that the project shows."""
        self._bring_up()
        if self.session.review is None and not self.session.ids:
            found = guesses(shown_order(self.session.project))
            if parts.LINES in found:
                self.open_layers(found)

    def open_folder(self, folder):
        """Review the results in a folder."""
        self._bring_up()
        QgsSettings().setValue(FOLDER, str(folder))  # where the next one is looked for
        try:
            self.session.open_folder(folder)
        except QgsProcessingException as error:
            self.say_problem(str(error))
            return
        self._say_reading()

    def open_layers(self, chosen):
        """Review layers of the project, by part."""
        self._bring_up()
        self.session.open_layers(chosen)
        self._say_reading()

    def _failed(self, text):
        """Say what could not be read, and where nothing is open for it, how to begin."""
        self.say_problem(text)
        if self.session.review is None:
            self._say_how_to_begin()

    def _say_reading(self):
        """In the plot's place, until it shows the first line: how to begin was answered."""
        self.panel.show_evidence(None, tr("Reading…"))

    def open_results(self, destinations):
        """Review layers that a run wrote.

        Parameters
        ----------
        destinations : list
            Ids or sources of layers; what is no layer of the project is passed over.
        """
        wanted = {str(one) for one in destinations}
        layers = [
            layer
            for layer in shown_order(self.session.project)
            if {layer.id(), layer.source(), layer.source().split("|")[0]} & wanted
        ]
        found = guesses(layers)
        if parts.LINES in found:
            behind = beside(found[parts.LINES], shown_order(self.session.project))
            self.open_layers({**behind, **found})
            return
        self._bring_up()
        self.say_problem(tr("The edges of that run are not in the project any more."))

    def ask_folder(self):
        """Ask for a folder of results."""
        former = QgsSettings().value(FOLDER, "") or self.session.project.homePath()
        folder = QFileDialog.getExistingDirectory(self.panel, tr("Folder of results"), former)
        if folder:
            self.open_folder(folder)

    def ask_layers(self):
        """Ask for layers of the project."""
        dialogue = ChooseLayers(self.session.project, self.panel)
        if dialogue.exec():
            self.open_layers(dialogue.chosen())
        dialogue.deleteLater()

    def forget(self):
        """Leave the review: the project was closed."""
        self._settle.stop()
        self.updating.forget()
        self.repairing.forget()
        self.session.forget()
        self.panel.list.set_review(None)
        self.panel.remark.clear()  # of a line that is gone: it must not go to another one
        self._say_how_to_begin()
        self.panel.title.clear()
        self.panel.messages.clearWidgets()
        self.panel.set_open(False)
        self._clear_map()

    def _closed(self):
        self._was_closed = True
        self._clear_map()

    def _reopened(self):
        """Mark on the map again what is looked at; the host tells of tabs brought to front, too."""
        if self._was_closed and self.session.review is not None:
            self.look_at(self.panel.list.row())
        self._was_closed = False

    def _clear_map(self):
        """Take the marks off the map: the review ends, or its panel is closed."""
        self._settle.stop()
        self.map.set_evidence(None)
        self.map.show_line(None, None)
        self.map.show_refit(None, [])
        self.map.show_change(None, [], [], 1.0)

    def close(self):
        """End for good, and leave nothing in the window."""
        self.forget()
        tasks.end()
        self.session.project.cleared.disconnect(self.forget)
        self.choice.close()
        self.session.close()
        self.map.close()
        self.iface.removeDockWidget(self.panel)
        self.panel.deleteLater()
        self.deleteLater()

    # the list

    def _opened(self, review):
        self.panel.set_open(True)
        self.repairing.renew()
        self.panel.list.set_review(review)
        self._show_progress()
        if self.panel.list.row() < 0:
            self.look_at(-1)
        self._layers_changed()
        self.updating.read()

    def _layers_changed(self):
        """Say which layers are gone, and take in those that are there."""
        missing = self.session.missing()
        self.panel.messages.clearWidgets()
        self.choice.follow()
        if not missing:
            self.panel.set_decidable(self.session.review is not None)
            return
        names = ", ".join(self.session.sources[part][1] for part in missing)
        again = self.session.loadable(missing)
        text = tr("“{}” is not in the project any more.").format(names) + " "
        text += tr("To decide, load it again.") if again else tr("It was a temporary layer.")
        bar = self.panel.messages
        shown = bar.fontMetrics().elidedText(names, Qt.TextElideMode.ElideMiddle, bar.width() // 2)
        item = bar.createMessage("", tr("“{}” was removed.").format(shown))
        item.setToolTip(text)
        if again:
            button = QPushButton(tr("Load again"), item)
            button.clicked.connect(lambda checked=False: self.session.load_again())
            item.layout().addWidget(button)
        bar.pushWidget(item, Qgis.MessageLevel.Warning)
        if parts.LINES in missing:
            self.panel.set_decidable(False, text)
        self.map.show_line(None, None)

    def _changed(self, rows):
        model = self.panel.list.model
        lost = np.zeros(len(model.lost), bool)
        lost[list(self.session.lost)] = True
        if (lost != model.lost).any():
            model.lost = lost
            self.panel.list.apply_filter()
        days = [row for row, some in self.session.review.members.items() if set(rows) & set(some)]
        model.changed([*rows, *days])
        self._show_progress()
        if self.panel.list.row() in rows:
            self._show_remark(self.panel.list.row())

    def _show_progress(self):
        self.panel.list.show_progress(bool(self.session.unsaved()))

    def look_at(self, row):
        """Show a row of the review on the map and, once it stays chosen, its evidence."""
        self._settle.stop()
        self.map.set_evidence(None)
        if row < 0 or self.session.review is None:
            self.panel.title.clear()
            self.panel.show_evidence(None, self._why_empty())
            self.map.show_line(None, None)
            return
        model = self.panel.list.model
        self._show_remark(row)
        index = model.index(max(model.place_of(row), 0), 0)
        tip = model.data(index, Qt.ItemDataRole.ToolTipRole) or ""
        self.panel.title.setText(" ".join(tip.split("\n")[:1]))
        self.panel.title.setToolTip(tip)
        layer, feature = self.session.feature(row)
        if layer is not None:
            self.map.show_line(layer, feature.geometry())
            if self.panel.commands["follow"].isChecked() and not feature.geometry().isNull():
                self.map.go_to(layer, feature.geometry())
        else:
            self.map.show_line(None, None)
            self._show_day(row)
        self._settle.start()

    def _why_empty(self):
        """What to do where the list holds no line; empty where it holds some."""
        model, review = self.panel.list.model, self.session.review
        if review is None or model.rowCount():
            return ""
        if model.progress()[1]:
            return tr(
                "The filters leave no line. The button beside them shows all that deserves a look."
            )
        return tr(
            "Nothing was found that deserves a look (lines: {}). To see them all the same, tick"
            " “{}” in the first filter."
        ).format(len(review), reason(Kind.NOTHING))

    def _show_day(self, row):
        """Show the lines of a day together."""
        if self.session.review.what[row] != DAY:
            return
        members = self.session.lines_of([row])
        edges = [one for one in members if self.session.review.what[one] == EDGE]
        layer = self.session.layer(parts.LINES)
        if layer is None or not edges:
            return
        found = [self.session.feature(one)[1] for one in edges]
        found = [one.geometry() for one in found if one is not None]
        whole = QgsGeometry.collectGeometry(found)
        self.map.show_line(layer, whole)
        if self.panel.commands["follow"].isChecked():
            self.map.go_to(layer, whole)

    def _show_remark(self, row):
        if not self.panel.remark.hasFocus():
            self.panel.remark.setText(self.session.review.remark[row])

    def _follow(self, wanted):
        if wanted:
            self.look_at(self.panel.list.row())

    # the evidence

    def read_evidence(self):
        """Read the evidence of the chosen line; where it is repaired, from its epochs."""
        row = self.panel.list.row()
        if self.repairing.is_on and self.repairing.take(row):
            return
        if row >= 0 and self.session.review is not None:
            self.session.look_at(row)

    def _show_evidence(self, evidence):
        other = evidence is not None and evidence.row != self.panel.list.row()
        if self.repairing.shows_evidence or other:
            return  # another line was chosen meanwhile
        row, note = self.panel.list.row(), ""
        if evidence is None and row >= 0 and self.session.review is not None:
            note = self._why_no_evidence(row)
        self.panel.show_evidence(evidence, note, self._what_is_missing(evidence))
        self.map.set_evidence(evidence)

    def _what_is_missing(self, evidence):
        """How the epochs come into the plot where nobody asked for them."""
        if self.session.path or parts.KEPT in self.session.ids or evidence is None:
            return ""
        if self.session.review.what[evidence.row] != EDGE:
            return ""
        return tr(
            "Kept epochs are not shown. Name an output for them in “Reconstruct edges”, or open"
            " them here with the edges (first button, “Layers of the project…”)."
        )

    def _why_no_evidence(self, row):
        if self.session.review.what[row] == DAY:
            return tr(
                "A decision here goes to all lines of the day. Look at the control points first:"
                " base, antenna height, correction service."
            )
        return tr("There is no evidence for this line: it has no length, or its layer is gone.")

    def _epoch(self, index, former=None):
        evidence = self.panel.plot.evidence
        if evidence is not None and index.isValid():
            self.panel.choose_epoch(int(evidence.epochs.rows[index.row()]))

    def _to_evidence(self):
        self.panel.tabs.setCurrentWidget(self.panel.evidence_page)
        self.panel.plot.setFocus()

    # deciding

    def decide(self, decision):
        """Decide on the selected lines and go on to the next one that is not decided."""
        rows = self.panel.list.rows()
        if not rows or self.session.review is None:
            return
        remark = self.panel.remark.text().strip() if self.panel.remark.isModified() else None
        try:
            self.session.decide(rows, decision, remark)
        except QgsProcessingException as error:
            self.say_problem(str(error))
            return
        self.panel.remark.setModified(False)
        if decision:
            self.panel.list.next_undecided()

    def remark(self, text):
        """Keep a remark on the selected lines."""
        rows = self.panel.list.rows()
        if not rows or self.session.review is None:
            return
        try:
            self.session.decide(rows, None, text)
        except QgsProcessingException as error:
            self.say_problem(str(error))
        self.panel.remark.setModified(False)

    def undo(self, back=True):
        """Take the last decision back, or make it again."""
        try:
            title = self.session.steps.undo(back)
        except QgsProcessingException as error:
            self.say_problem(str(error))
            return
        if title:
            text = tr("Taken back: {}") if back else tr("Decided again: {}")
            self.panel.messages.pushMessage("", text.format(title), Qgis.MessageLevel.Info, 3)

    def save(self):
        """Save the decisions; asks first where other edits would be saved with them."""
        edited = self.session.edited()
        if edited and not self.ask_save([layer.name() for layer in edited]):
            return
        repairs = self.session.layer(parts.REPAIRS)
        repaired = repairs is not None and repairs.isModified()
        passing = [layer.name() for layer in self.session.unsaved() if layer.isTemporary()]
        problems = self.session.save()
        for problem in problems:
            self.say_problem(problem)
        if problems:
            return
        if passing:
            self._say_temporary(passing)
        else:
            self.panel.messages.pushMessage(
                "", tr("Decisions are saved."), Qgis.MessageLevel.Success, 3
            )
        if repaired:
            self.repairing.say_saved()

    def _say_temporary(self, names):
        """Say, as shortly as the panel needs it, that decisions stand in layers that go."""
        bar = self.panel.messages
        item = bar.createMessage(
            "", tr("To keep decisions, right-click the temporary layer: Make Permanent…")
        )
        item.setToolTip(
            tr("Decisions are in temporary layers, which end with the project: {}.").format(
                ", ".join(quoted(name) for name in names)
            )
        )
        bar.pushWidget(item, Qgis.MessageLevel.Warning)

    def ask_save(self, names):
        """Whether layers may be saved with the other edits that they hold."""
        text = tr(
            "{}: the layer holds other unsaved edits beside decisions. A layer can only be saved as"
            " a whole. Save those edits as well?"
        ).format(", ".join(quoted(name) for name in names))
        choices = QMessageBox.StandardButton
        answer = QMessageBox.question(
            self.panel, TITLE, text, choices.Save | choices.Cancel, choices.Cancel
        )
        return answer == choices.Save

    def say_problem(self, text):
        """Say in the panel what went wrong."""
        self.panel.messages.pushMessage("", text, Qgis.MessageLevel.Warning, 0)

    # print

    def ask_print(self):
        """Print the evidence of the chosen line, on paper or into a PDF."""
        from qgis.PyQt.QtPrintSupport import QPrintDialog, QPrinter

        printer = QPrinter(QPrinter.PrinterMode.HighResolution)
        printer.setDocName(self.panel.title.text() or TITLE)
        dialogue = QPrintDialog(printer, self.panel)
        if dialogue.exec():
            self.print_on(printer)
        dialogue.deleteLater()

    def print_on(self, device):
        """Draw title and plot on a page, in black on white.

        Parameters
        ----------
        device : QPagedPaintDevice
        """
        if not draw_print(device, self.panel):
            self.say_problem(
                tr(
                    "Nothing was printed: the printer or the file cannot be opened. Check that the"
                    " printer is ready, or that the PDF is not open elsewhere, and print again."
                )
            )
