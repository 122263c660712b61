"""The plugin object: adds the provider, and a small menu where there is a window."""

from functools import partial

from qgis.core import Qgis, QgsApplication, QgsMessageLog, QgsProject
from qgis.PyQt.QtCore import Qt, QUrl
from qgis.PyQt.QtGui import QDesktopServices, QIcon
from qgis.PyQt.QtWidgets import QAction, QFileDialog, QMenu, QMessageBox, QPushButton

from ..algorithms.base.algorithm import HELP_PAGES, Algorithm
from ..algorithms.host import dependencies
from ..algorithms.host.figures import translate
from . import sample, translation
from .open_dialogue import open_dialogue
from .provider import ALGORITHMS, ICON, IN_ORDER, CurbwrightProvider

MENU = "Curbwright"
# free in the host from 3.22 to 3.40, where it may be changed among the keyboard shortcuts; not with
# Ctrl+Alt, which is AltGr under Windows and writes signs of many keyboards
REVIEW_KEYS = "Ctrl+Shift+K"
ROOM_BESIDE = 330  # pixels at 96 dpi of the message bar that icon, title, button and cross take
ROOM_OF_BUTTON = 85  # of these, what is free where a message has no button
OFFER = "curbwrightOffer"  # property of messages with a button: what that says
LEAST_SHOWN = 20  # letters that a message has at least, however narrow the window is
# after these the message bar offers to review what came of them
REVIEWED = ("processcaptures", "reconstructedges", "compareedges")
EDGES_IN = {"FOLDER", "OUTPUT"}  # outputs of these that hold edges


class CurbwrightPlugin:
    """What QGIS loads: the provider, and in a window the menu, the review and the help.

    Parameters
    ----------
    iface : QgisInterface or None
        None on the command line.
    """

    def __init__(self, iface):
        self.iface = iface  # None on the command line
        self.provider = self.translator = None
        self.actions = []
        self.steps = None  # menu of all algorithms
        self.review = None  # made when it is first asked for

    def tr(self, text):
        return translate("CurbwrightPlugin", text)

    def initProcessing(self):
        """Called alone by QGIS's command line: nothing here may touch a window."""
        self.translator = translation.install()
        provider = CurbwrightProvider()
        if QgsApplication.processingRegistry().addProvider(provider):
            self.provider = provider

    def initGui(self):
        from .field_widget import FieldWidget, LengthWidget  # late: the command line has no widgets

        Algorithm.say_in_window = self.say_warnings
        Algorithm.field_widget, Algorithm.length_widget = FieldWidget, LengthWidget
        Algorithm.brief_help = True
        self.initProcessing()
        self._add(
            self.tr("Reconstruct edges…"), self.open_reconstruct_edges, "reconstructedges.svg"
        )
        self._add_steps()
        review = self._add(self.tr("Review edges…"), self.open_review, "review.svg")
        review.setObjectName("mActionCurbwrightReview")
        self.iface.registerMainWindowAction(review, REVIEW_KEYS)
        self.iface.addVectorToolBarIcon(review)
        self._add(self.tr("Open the sample project…"), self.open_sample, None)
        self._add(self.tr("Check installation"), self.check_installation, None)
        self._add(self.tr("Help"), self.open_help, None)  # last, as in all menus of the host
        self.say_missing()
        Algorithm.offer_in_window = self.offer_review

    def _add(self, text, slot, icon):
        action = QAction(
            QIcon(str(ICON.with_name(icon))) if icon else QIcon(), text, self.iface.mainWindow()
        )
        if slot is not None:
            action.triggered.connect(slot)
        self.iface.addPluginToMenu(MENU, action)
        self.actions.append(action)
        return action

    def _add_steps(self):
        """All algorithms in the order of the job, as a menu of its own."""
        self.steps = QMenu(self.iface.mainWindow())
        for number, some in enumerate(IN_ORDER):
            if number:
                self.steps.addSeparator()
            for kind in some:
                algorithm = kind()
                step = self.steps.addAction(algorithm.icon(), f"{algorithm.displayName()}…")
                step.triggered.connect(partial(self.open_algorithm, algorithm.name()))
        self._add(self.tr("All steps"), None, "curbwright.svg").setMenu(self.steps)

    def unload(self):
        if self.review is not None:
            self.review.close()
            self.review = None
        for action in self.actions:
            if action.objectName():
                self.iface.unregisterMainWindowAction(action)
                self.iface.removeVectorToolBarIcon(action)
            self.iface.removePluginMenu(MENU, action)
            action.deleteLater()
        self.actions = []
        if self.steps is not None:
            self.steps.deleteLater()
            self.steps = None
        Algorithm.say_in_window = Algorithm.offer_in_window = None
        Algorithm.field_widget = Algorithm.length_widget = None
        Algorithm.brief_help = False
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None  # the registry deleted it
        translation.remove(self.translator)
        self.translator = None

    def open_algorithm(self, name, checked=False):
        """Open the dialogue of one of the algorithms."""
        open_dialogue(f"curbwright:{name}", {}, self.iface.mapCanvas())

    def open_help(self, checked=False):
        QDesktopServices.openUrl(QUrl.fromLocalFile(str(HELP_PAGES / "index.html")))

    def open_sample(self, checked=False):
        """Copy the sample project to a folder of the user's choice, and open it there."""
        folder = QFileDialog.getExistingDirectory(
            self.iface.mainWindow(), self.tr("Folder for a copy of the sample project")
        )
        if not folder:
            return
        try:
            project = sample.copy_to(folder)
        except OSError as error:
            self.iface.messageBar().pushCritical(
                MENU,
                self.tr("The sample project cannot be copied to “{}”: {}.").format(
                    folder, error.strerror or error
                ),
            )
            return
        if self.iface.addProject(str(project)):
            self.iface.setActiveLayer(sample.captures(QgsProject.instance()))

    def open_reconstruct_edges(self, checked=False):
        self.open_algorithm("reconstructedges")

    def panel(self):
        """The review of this window."""
        if self.review is None:
            from .review.controller import ReviewController  # late: loading stays quick

            self.review = ReviewController(self.iface)
        return self.review

    def open_review(self, checked=False):
        """Show the review, with what the project shows where nothing is open yet."""
        self.panel().show()

    def offer_review(self, name, results):
        """Offer, in the message bar, to review what came of a run."""
        if name in REVIEWED and EDGES_IN & set(results):
            text = self.tr("See which edges deserve a look.")
            self._push(text, Qgis.MessageLevel.Info, results)

    def _push(self, text, level, results, whole=""):
        """A message with a button that leads to the review of some results."""
        self._push_with(
            text,
            level,
            self.tr("Review…"),
            lambda item: self.review_results(dict(results), item),
            whole,
        )

    def _push_with(self, text, level, title, called, whole=""):
        """A message with a button that calls something with the message; `whole` is its tip."""
        bar = self.iface.messageBar()
        for former in bar.items():
            if former.property(OFFER) == title:
                bar.popWidget(former)  # of the last run alone: several would hide each other
        item = bar.createMessage(MENU, text)
        item.setToolTip(whole)
        item.setProperty(OFFER, title)
        button = QPushButton(title, item)
        # a slot that held the message were a cycle: once its parts are collected, the button calls
        # what is gone, and QGIS ends with signal 11
        button.clicked.connect(partial(self._answer, title, called))
        item.layout().addWidget(button)
        bar.pushWidget(item, level)

    def _answer(self, title, called, checked=False):
        """Call what a button stands for, with the message that it is in."""
        for item in self.iface.messageBar().items():
            if item.property(OFFER) == title:
                called(item)
                return

    def review_results(self, results, item=None):
        """Review the results of a run.

        Parameters
        ----------
        results : dict
            As the algorithm returned them.
        item : QgsMessageBarItem, optional
            That offered it; it is taken away.
        """
        if item is not None:
            self.iface.messageBar().popWidget(item)
        if results.get("FOLDER"):
            self.panel().open_folder(results["FOLDER"])
        else:
            self.panel().open_results([value for value in results.values() if value])

    def say_missing(self):
        """Say once, at the start, which packages are missing and what works without them."""
        missing = dependencies.missing(
            sorted({name for algorithm in ALGORITHMS for name in algorithm.NEEDS})
        )
        if not missing:
            return
        works = [
            algorithm().displayName()
            for algorithm in ALGORITHMS
            if not set(missing) & set(algorithm.NEEDS)
        ]
        names = ", ".join(missing)
        text = self.tr("{} is missing or too old. {} “{}” in the menu says how to get it.").format(
            names,
            self.tr("What works without it: {}.").format(", ".join(works))
            if works
            else self.tr("Nothing works without it."),
            self.tr("Check installation"),
        )
        QgsMessageLog.logMessage(text, MENU, Qgis.MessageLevel.Warning)
        self._push_with(
            self.tr("{} is missing or too old.").format(names),
            Qgis.MessageLevel.Warning,
            self.tr("Check installation"),
            self._check_from,
            text,
        )

    def _check_from(self, item):
        """Answer the message that a package is missing."""
        self.iface.messageBar().popWidget(item)
        self.check_installation()

    def say_warnings(self, name, warnings, ident="", results=()):
        """Show in the message bar that a run gave warnings, the first of them in words; with an
        offer to review what came of it, where there is something to review.

        Parameters
        ----------
        name : str
            Of the algorithm, as people read it.
        warnings : sequence of str
        ident : str, optional
            Its id.
        results : dict, optional
            What it returned, as far as the project shows it.
        """
        more = self.tr(" ({} more in the log)").format(len(warnings) - 1)
        more *= len(warnings) > 1
        bar = self.iface.messageBar()
        reviewed = ident in REVIEWED and EDGES_IN & set(results)
        room = ROOM_BESIDE if reviewed else ROOM_BESIDE - ROOM_OF_BUTTON
        text = self._fitting(name, warnings[0], more, room)
        whole = "\n".join(warnings)
        if reviewed:
            self._push(text, Qgis.MessageLevel.Warning, results, whole)
            return
        item = bar.createMessage(MENU, text)
        item.setToolTip(whole)
        bar.pushWidget(item, Qgis.MessageLevel.Warning)

    def _fitting(self, name, text, more, beside=ROOM_BESIDE):
        """What one line of the message bar holds: the name only where the text has room beside it,
        else as much of the text as there is room for; `more` after it."""
        bar = self.iface.messageBar()
        metrics = bar.fontMetrics()
        least = metrics.averageCharWidth() * LEAST_SHOWN
        # an empty bar is hidden, and then keeps a width from before
        width = bar.parentWidget().width() if bar.parentWidget() is not None else bar.width()
        room = width - int(beside * bar.logicalDpiX() / 96)
        room = max(room - metrics.horizontalAdvance(more), least)
        named = self.tr("{}: {}").format(name, text)
        if metrics.horizontalAdvance(named) <= room:
            return named + more
        return metrics.elidedText(text, Qt.TextElideMode.ElideRight, room) + more

    def check_installation(self, checked=False):
        needed = sorted({name for algorithm in ALGORITHMS for name in algorithm.NEEDS})
        complete, lines = dependencies.report(needed)
        head = (
            self.tr("All that Curbwright needs is here.")
            if complete
            else self.tr("Something that Curbwright needs is missing.")
        )
        box = QMessageBox(self.iface.mainWindow())
        box.setIcon(QMessageBox.Icon.Information if complete else QMessageBox.Icon.Warning)
        box.setWindowTitle(MENU)
        box.setText("\n\n".join([head, *lines] if not complete else [head, "\n".join(lines)]))
        # a command that is to be run in a terminal must be copied without a slip
        box.setTextInteractionFlags(
            Qt.TextInteractionFlag.TextSelectableByMouse
            | Qt.TextInteractionFlag.TextSelectableByKeyboard
        )
        box.exec()
        box.deleteLater()
