"""Work in the host's task manager, with its result handed back in the main thread."""

from qgis.core import QgsApplication, QgsProcessingException, QgsProcessingFeedback, QgsTask

from ...algorithms.host.feedback import CancelledError
from .words import tr

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
        super().__init__(title, QgsTask.Flag.CanCancel)
        self.function, self.done, self.failed = function, done, failed
        self.feedback = QgsProcessingFeedback(False)
        self.result, self.problem, self.error = None, "", None
        self._dropped = False

    def run(self):
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
