"""The plugin object: adds the provider, and a small menu where there is a window."""

from qgis.core import Qgis, QgsApplication, QgsMessageLog
from qgis.PyQt.QtCore import QCoreApplication
from qgis.PyQt.QtGui import QIcon
from qgis.PyQt.QtWidgets import QAction, QMessageBox

from ..algorithms.base.algorithm import Algorithm
from ..algorithms.host import dependencies
from .provider import ALGORITHMS, ICON, CurbwrightProvider

MENU = "Curbwright"


class CurbwrightPlugin:
    def __init__(self, iface):
        self.iface = iface  # None on the command line
        self.provider = None
        self.actions = []

    def tr(self, text):
        return QCoreApplication.translate("CurbwrightPlugin", text)

    def initProcessing(self):
        """Called alone by QGIS's command line: nothing here may touch a window."""
        provider = CurbwrightProvider()
        if QgsApplication.processingRegistry().addProvider(provider):
            self.provider = provider

    def initGui(self):
        self.initProcessing()
        self._add(
            self.tr("Reconstruct edges…"), self.open_reconstruct_edges, "reconstructedges.svg"
        )
        self._add(self.tr("Check installation"), self.check_installation, None)
        self.say_missing()
        Algorithm.say_in_window = self.say_warnings

    def _add(self, text, slot, icon):
        action = QAction(
            QIcon(str(ICON.with_name(icon))) if icon else QIcon(), text, self.iface.mainWindow()
        )
        action.triggered.connect(slot)
        self.iface.addPluginToMenu(MENU, action)
        self.actions.append(action)

    def unload(self):
        for action in self.actions:
            self.iface.removePluginMenu(MENU, action)
            action.deleteLater()
        self.actions = []
        Algorithm.say_in_window = None
        if self.provider is not None:
            QgsApplication.processingRegistry().removeProvider(self.provider)
            self.provider = None  # the registry deleted it

    def open_reconstruct_edges(self, checked=False):
        import processing  # late: the Processing plugin may load after this one

        processing.execAlgorithmDialog("curbwright:reconstructedges", {})

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
        text = self.tr("{} is missing or too old. {} “{}” in the menu says how to get it.").format(
            ", ".join(missing),
            self.tr("What works without it: {}.").format(", ".join(works))
            if works
            else self.tr("Nothing works without it."),
            self.tr("Check installation"),
        )
        QgsMessageLog.logMessage(text, MENU, Qgis.MessageLevel.Warning)
        self.iface.messageBar().pushWarning(MENU, text)

    def say_warnings(self, name, warnings):
        """Show in the message bar that a run gave warnings, the first of them in words."""
        text = self.tr("{}: {}").format(name, warnings[0])
        if len(warnings) > 1:
            text += " " + self.tr("({} more at the end of the log.)").format(len(warnings) - 1)
        self.iface.messageBar().pushWarning(MENU, text)

    def check_installation(self, checked=False):
        needed = sorted({name for algorithm in ALGORITHMS for name in algorithm.NEEDS})
        complete, lines = dependencies.report(needed)
        head = (
            self.tr("All that Curbwright needs is here.")
            if complete
            else self.tr("Something that Curbwright needs is missing.")
        )
        show = QMessageBox.information if complete else QMessageBox.warning
        show(self.iface.mainWindow(), MENU, "\n\n".join([head, "\n".join(lines)]))
