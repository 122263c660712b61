"""Progress shown and cancelling noticed: the host's feedback as the core takes it."""

from functools import partial


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
