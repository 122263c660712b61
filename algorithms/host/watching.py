"""What goes wrong in GDAL is heard, and what cannot be stopped is not waited for."""

import contextlib
from concurrent.futures import Future, TimeoutError
from threading import Thread

from osgeo import gdal

from .feedback import raise_if_cancelled

LOOK = 0.1  # s between two looks at the cancel button


@contextlib.contextmanager
def listening():
    """Collects what GDAL says of errors meanwhile in this thread, in the list that it gives.

    Errors are heard, not raised: whether GDAL raises is a setting of the whole process, which any
    other plugin may have changed.
    """
    said = []

    def hear(severity, _, text):
        if severity >= gdal.CE_Failure:
            said.append(str(text))

    raises = gdal.GetUseExceptions()
    gdal.DontUseExceptions()
    gdal.PushErrorHandler(hear)
    try:
        yield said
    finally:
        gdal.PopErrorHandler()
        if raises:
            gdal.UseExceptions()


def started(call):
    """Begin a call in a thread of its own; returns what `awaited` takes.

    Parameters
    ----------
    call : callable
        Without arguments; touches nothing of the host's.
    """
    future = Future()

    def work():
        try:
            future.set_result(call())
        except BaseException as error:
            future.set_exception(error)

    # a daemon: the end of the program does not wait for one that was left behind
    Thread(target=work, daemon=True).start()
    return future


def awaited(future, feedback):
    """The result of a call that cannot be stopped; cancelling does not wait for its end.

    Parameters
    ----------
    future : concurrent.futures.Future
        From `started`.
    feedback : QgsFeedback

    Raises
    ------
    CancelledError
    """
    while True:
        try:
            return future.result(LOOK)
        except TimeoutError:
            if future.done():
                raise
            raise_if_cancelled(feedback)


def in_background(call, feedback):
    """`awaited` of a call that is `started`."""
    return awaited(started(call), feedback)
