"""Feedback of one part of a long run."""

from qgis.core import QgsProcessingFeedback
from qgis.PyQt.QtCore import Qt


class Stage(QgsProcessingFeedback):
    """Feedback of one part of the work: its progress is a stretch of the whole, its warnings are
    counted."""

    def __init__(self, whole, start, stop):
        super().__init__(False)
        self.whole, self.start, self.stop, self.warnings = whole, start, stop, 0
        # Direct: the thread at work has no event loop that would deliver a cancel from the window's
        # thread.
        self.progressChanged.connect(self._pass, Qt.ConnectionType.DirectConnection)
        whole.canceled.connect(self.cancel, Qt.ConnectionType.DirectConnection)
        if whole.isCanceled():
            self.cancel()

    def _pass(self, percent):
        self.whole.setProgress(self.start + (self.stop - self.start) * percent / 100)

    def pushInfo(self, text):
        self.whole.pushInfo(text)

    def pushWarning(self, text):
        self.warnings += 1
        self.whole.pushWarning(text)

    def reportError(self, text, fatalError=False):
        self.whole.reportError(text, False)
