"""Feedback of one part of a long run."""

from ..host.feedback import Relay


class Stage(Relay):
    """Feedback of one part of the work: its progress is a stretch of the whole, its warnings are
    counted.

    Parameters
    ----------
    whole : QgsProcessingFeedback
    start, stop : float
        Percentages of the whole.
    """

    def __init__(self, whole, start, stop):
        self.start, self.stop, self.warnings = start, stop, 0
        super().__init__(whole)

    def _pass(self, percent):
        self.whole.setProgress(self.start + (self.stop - self.start) * percent / 100)

    def pushWarning(self, text):
        self.warnings += 1
        super().pushWarning(text)

    def reportError(self, text, fatalError=False):
        self.whole.reportError(text, False)
