"""What goes wrong in GDAL is heard, and what cannot be stopped is not waited for."""

import contextlib
from concurrent.futures import Future, TimeoutError
from threading import Thread

from osgeo import gdal, ogr, osr

from .feedback import raise_if_cancelled

SECONDS_PER_LOOK = 0.1  # s between two looks at the cancel button


@contextlib.contextmanager
def without_raising():
    """GDAL answers with codes meanwhile, as it does unless somebody had it raise errors; also a
    decorator. The setting is one of the whole process, and any other plugin may have changed it."""
    silenced = []
    for _ in range(3):  # GDAL refuses any but the one that was told to raise last
        for module in (gdal, ogr, osr):
            if module.GetUseExceptions():
                with contextlib.suppress(RuntimeError):
                    module.DontUseExceptions()
                    silenced.append(module)
    try:
        yield
    finally:
        for module in reversed(silenced):
            module.UseExceptions()


def open_file(path, update=False):
    """A file of vector data as GDAL opens it, None where it cannot: the one place where files are
    opened.

    Parameters
    ----------
    path : path
    update : bool
        True to change it.

    Returns
    -------
    osgeo.gdal.Dataset or None
    """
    with without_raising():
        return gdal.OpenEx(
            str(path), gdal.OF_VECTOR | (gdal.OF_UPDATE if update else gdal.OF_READONLY)
        )


@contextlib.contextmanager
def listening():
    """Collects what GDAL says of errors meanwhile in this thread, in the list that it gives.

    Errors are heard, not raised.
    """
    said = []

    def hear(severity, _, text):
        if severity >= gdal.CE_Failure:
            said.append(str(text))

    with without_raising():
        gdal.PushErrorHandler(hear)
        try:
            yield said
        finally:
            gdal.PopErrorHandler()


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
            return future.result(SECONDS_PER_LOOK)
        except TimeoutError:
            if future.done():
                raise
            raise_if_cancelled(feedback)


def in_background(call, feedback):
    """`awaited` of a call that is `started`."""
    return awaited(started(call), feedback)
