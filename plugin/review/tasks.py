"""Work in the host's task manager, with its result handed back in the main thread."""

import time
from threading import Event

from qgis.core import QgsApplication, QgsProcessingException, QgsProcessingFeedback, QgsTask

from ...algorithms.host.feedback import CancelledError
from ...shared.parallel.imports import load
from .words import tr

LONGEST = 10.0  # s that the end of QGIS waits for work to notice that it is to stop

# A task that is not held here is collected while it runs: the manager owns its C++ half alone.
_held = set()


class Work(QgsTask):
    """Calls a function in another thread, and one of two others in the main thread afterwards.

    Parameters
    ----------
    title : str
    function : callable
        Takes a feedback; raises CancelledError once that is cancelled. It must touch no layer and
        no widget.
    done, failed : callable
        Take the result, and a sentence. None of them is called after `drop`.
    """

    def __init__(self, title, function, done, failed):
        # it only reads: nobody need be asked when the project is closed or QGIS is left
        super().__init__(title, QgsTask.Flag.CanCancel | QgsTask.Flag.CancelWithoutPrompt)
        self.function, self.done, self.failed = function, done, failed
        self.feedback = QgsProcessingFeedback(False)
        self.result, self.problem, self.error = None, "", None
        self._dropped, self._over = False, Event()

    def run(self):
        try:
            return not self._dropped and self._work()
        finally:
            self._over.set()

    def _work(self):
        load("scipy.spatial")
        self.feedback.progressChanged.connect(self.setProgress)
        try:
            self.result = self.function(self.feedback)
        except CancelledError:
            return False
        except (QgsProcessingException, ValueError, OSError) as error:
            self.problem = str(error)
            return False
        except Exception as error:  # an error of ours: told in the main thread, with its trace
            self.error = error
            return False
        return True

    def cancel(self):
        self.feedback.cancel()
        super().cancel()

    def drop(self):
        """Stop the work, and hear no more of it."""
        self._dropped = True
        if self in _held:  # else it has ended, and its C++ half may be gone
            self.cancel()

    def wait(self, until):
        """Wait for the thread to be done with it, to a moment of `time.monotonic` at most."""
        if self.status() == QgsTask.TaskStatus.Running:
            self._over.wait(max(until - time.monotonic(), 0.0))

    def finished(self, fine):
        _held.discard(self)
        done, failed = self.done, self.failed
        self.function = self.done = self.failed = None  # nothing of a run hangs in a cycle
        if self._dropped:
            return
        if self.error is not None:
            failed(tr("“{}” broke off: {}.").format(self.description(), self.error))
            raise self.error
        if fine and not self.isCanceled():
            done(self.result)
        elif self.problem:
            failed(self.problem)
        else:
            failed(tr("“{}” was stopped.").format(self.description()))


def start(title, function, done, failed):
    """Put work into the host's task manager.

    Parameters
    ----------
    title : str
    function, done, failed : callable
        See `Work`.

    Returns
    -------
    Work
    """
    work = Work(title, function, done, failed)
    _held.add(work)
    QgsApplication.taskManager().addTask(work)
    return work


def end():
    """Stop all work and wait until no thread is at it: QGIS takes Python away when it is left, and
    a thread that still runs some then ends in a crash."""
    for work in _held.copy():  # one that waits in the queue takes itself out
        work.drop()
    until = time.monotonic() + LONGEST
    for work in _held.copy():
        work.wait(until)
