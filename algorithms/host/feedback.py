"""Progress shown and cancelling noticed: the host's feedback as the core takes it."""

from functools import partial

from qgis.core import QgsProcessingFeedback
from qgis.PyQt.QtCore import Qt

ROWS_PER_LOOK = 1000  # rows worked on between two looks at the cancel button


class CancelledError(Exception):
    """The user pressed cancel."""


def raise_if_cancelled(feedback):
    """Stop the work where the user asked for it.

    Parameters
    ----------
    feedback : QgsFeedback

    Raises
    ------
    CancelledError
    """
    if feedback.isCanceled():
        raise CancelledError


def cancel_check(feedback):
    """A function without arguments that raises CancelledError once the user has cancelled."""
    return partial(raise_if_cancelled, feedback)


def progress_between(feedback, start, stop):
    """The progress callback of one part of the work.

    Parameters
    ----------
    feedback : QgsFeedback
    start, stop : float
        Percentages that the part covers.

    Returns
    -------
    callable
        Takes the share of the part that is done, 0 to 1, and shows it. It raises CancelledError
        once the user has cancelled.
    """

    def progress(share):
        raise_if_cancelled(feedback)
        feedback.setProgress(start + (stop - start) * min(max(share, 0.0), 1.0))

    return progress


class Relay(QgsProcessingFeedback):
    """Feedback that passes progress, sentences and warnings on, and is cancelled with the other.

    Parameters
    ----------
    whole : QgsProcessingFeedback
        That all is passed on to.
    """

    def __init__(self, whole):
        super().__init__(False)
        self.whole = whole
        # Direct: the thread at work has no event loop that would deliver a cancel from the window's
        # thread.
        self.progressChanged.connect(self._pass, Qt.ConnectionType.DirectConnection)
        whole.canceled.connect(self.cancel, Qt.ConnectionType.DirectConnection)
        if whole.isCanceled():
            self.cancel()

    def _pass(self, percent):
        self.whole.setProgress(percent)

    def pushInfo(self, text):
        self.whole.pushInfo(text)

    def pushWarning(self, text):
        self.whole.pushWarning(text)


class Remembering(Relay):
    """Feedback of a whole run that passes all on and remembers the warnings, so that the end of the
    log can repeat them.

    Attributes
    ----------
    warnings : list of str
        In the order in which they were given.
    settled : bool
        True once results are in their place: nobody can cancel them any more.
    """

    def __init__(self, whole):
        self.warnings, self.settled = [], False
        super().__init__(whole)

    def isCanceled(self):
        return not self.settled and self.whole.isCanceled()

    def setProgressText(self, text):
        self.whole.setProgressText(text)

    def pushWarning(self, text):
        self.warnings.append(text)
        super().pushWarning(text)

    def reportError(self, text, fatalError=False):
        self.whole.reportError(text, fatalError)

    def pushDebugInfo(self, text):
        self.whole.pushDebugInfo(text)

    def pushCommandInfo(self, text):
        self.whole.pushCommandInfo(text)

    def pushConsoleInfo(self, text):
        self.whole.pushConsoleInfo(text)


def looked_through(some, feedback):
    """Yield what is in a collection, with a look at the cancel button now and then.

    Raises
    ------
    CancelledError
    """
    for number, one in enumerate(some):
        if number % ROWS_PER_LOOK == 0:
            raise_if_cancelled(feedback)
        yield one
