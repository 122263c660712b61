"""Load packages built with pybind11 in a thread of Python's own, not in one of the host's pool.

The first such module that a program loads stores Python's state for the loading thread in the
thread-local storage of the operating system. In a pool of the host each task gets a Python state of
its own, which is freed with the task, while the thread lives on. The next such module that is
loaded in that thread finds the freed state there, and Python aborts the whole program:
“_PyThreadState_Attach: non-NULL old thread state”. A thread that Python starts ends together with
its state, and the main thread lasts.
"""

import contextlib
import importlib
import threading


def load(*names):
    """Import modules so that any thread may use them; quick if they are loaded already.

    Modules that cannot be imported are skipped: the code that needs them reports the error.

    Parameters
    ----------
    *names : str
        Full names, packages included.
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
