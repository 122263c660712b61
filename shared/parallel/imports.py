"""Packages made with pybind11 are loaded where no thread of the host's pool keeps their mark.

The first such module that a program loads keeps the state that Python had for its thread, under a
key of that thread of the system. In a thread of a pool each task has a state of its own, which is
freed with the task. The next such module that is loaded in that thread finds the freed state there,
takes it for another one, and Python ends the whole program: “_PyThreadState_Attach: non-NULL old
thread state”. A thread that Python starts ends together with its state, and the main one lasts.
"""

import contextlib
import importlib
import threading


def load(*names):
    """Import modules so that any thread may use them; quick where they are here already.

    What cannot be imported is passed over: whoever needs it will say so.

    Parameters
    ----------
    names : str
        With their packages.
    """
    if threading.current_thread() is threading.main_thread():
        _load(names)
        return
    thread = threading.Thread(target=_load, args=(names,), name="curbwright-imports")
    thread.start()
    thread.join()


def _load(names):
    for name in names:
        with contextlib.suppress(ImportError):
            importlib.import_module(name)
