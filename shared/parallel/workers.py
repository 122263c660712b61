"""Python processes that work for this one.

The `multiprocessing` module starts its processes by the host's own executable or imports the
caller's script once more; inside QGIS the first opens a second QGIS, and the second runs whatever
the script does. So the interpreter is searched for here, and the two sides talk over pipes: the
functions that are to be called, and what they return, are pickled.

One process loads the modules; on Linux it then forks itself, which takes a few milliseconds where
to load takes a fifth of a second, and its twins share what was loaded. It has one thread at that
time, so that no lock is held in a twin. Elsewhere each process is started by itself.
"""

import contextlib
import os
import pickle
import platform
import select
import signal
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

from ..tuning import POOL

PACKAGE = __package__.rsplit(".", 2)[0]
ROOT = Path(__file__).resolve().parents[2]
FORKS = sys.platform.startswith("linux")  # elsewhere system libraries may not bear it
SET_PIPE_SIZE = 1031  # `fcntl.F_SETPIPE_SZ`, which Python has no name for before 3.10
# Makes the package known under the name that it has here, wherever it lies and whatever its folder
# is called.
START = """
import os, pickle, sys, types
sys.path[:], package, root, preload, twins = pickle.load(sys.stdin.buffer)
module = sys.modules[package] = types.ModuleType(package)
module.__path__ = [root]
from importlib import import_module
serve = import_module(package + ".shared.parallel.workers").serve
for name in preload:
    import_module(package + ".shared." + name)
for read, write in twins:
    if os.fork() == 0:
        os.dup2(read, 0), os.dup2(write, 1)
        break
for end in sum(twins, ()):
    os.close(end)
serve()
"""
# what must be alike on both sides for results to be the same
SAME = (platform.python_version(), np.__version__)


class WorkerError(Exception):
    """The process could not be started, or ended before its time."""


def interpreter():
    """Path of the Python that runs this process, also where an application carries it.

    Returns
    -------
    str or None
        None where it is not found.

    Notes
    -----
    `sys.executable` alone will not do: in an application it is that, or whichever Python comes
    first on the system's path.
    """
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    names = ["python.exe", "python3.exe"] if os.name == "nt" else [f"python{version}", "python3"]
    roots = [Path(sys.exec_prefix), Path(sys.base_exec_prefix)]
    own = Path(sys.executable or "")
    candidates = (
        [own]
        if own.name.lower().startswith("python") and any(root in own.parents for root in roots)
        else []
    )
    candidates += [
        folder / name for root in roots for folder in (root, root / "bin") for name in names
    ]
    return next((str(path) for path in candidates if path.is_file()), None)


def start_workers(count, preload=()):
    """Start processes.

    Parameters
    ----------
    count : int
    preload : tuple of str, optional
        Modules of ``shared`` that they load at once, while the caller does something else.

    Returns
    -------
    list of Worker

    Raises
    ------
    WorkerError
        If there is no interpreter, or the system does not let it start; none is left then.
    """
    workers = []
    try:
        for size in [count] if FORKS else [1] * count:
            workers += _start_twins(size, preload)
    except WorkerError:
        end_workers(workers)
        raise
    return workers


def end_workers(workers):
    """End processes, all that were started together, at once, whatever they are doing.

    Parameters
    ----------
    workers : sequence of Worker
    """
    for worker in workers:
        worker.kill()
    for worker in workers:  # what they held is given back by all at the same time
        worker.wait()


def _start_twins(count, preload):
    """One interpreter, and as many forks of it as there are other ones."""
    python = interpreter()
    if python is None:
        raise WorkerError("no Python interpreter was found next to the one that runs")
    theirs, ours, errors = [], [], None
    how = {"creationflags": subprocess.CREATE_NO_WINDOW} if os.name == "nt" else {}
    try:
        errors = tempfile.TemporaryFile()  # noqa: SIM115, open as long as the processes
        _open_pipes(count - 1, theirs, ours)
        if FORKS:  # a session of their own, to be ended together
            how.update(pass_fds=theirs, start_new_session=True)
        process = subprocess.Popen(  # noqa: S603, the interpreter beside this one, text of our own
            [python, "-c", START],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=errors,
            env=_environment(),
            cwd=ROOT,
            **how,
        )
    except OSError as error:
        for file in ([] if errors is None else [errors]) + ours:
            file.close()
        raise WorkerError(f"{python}: {error}") from error
    finally:
        for end in theirs:
            os.close(end)
    ends = [process.stdin, process.stdout, *ours]
    for end in ends:
        _widen(end)
    workers = [
        Worker(process, write, read, errors, FORKS) for write, read in zip(ends[::2], ends[1::2])
    ]
    twins = list(zip(theirs[::2], theirs[1::2]))
    try:
        workers[0].send((sys.path, PACKAGE, str(ROOT), preload, twins))
    except WorkerError:
        end_workers(workers)
        raise
    return workers


def _open_pipes(twins, theirs, ours):
    """Two pipes for each twin; their ends are put into two lists as they are opened, so that the
    caller can close them where one fails: numbers of a twin's to read, a twin's to write, the next
    one's...; files of what is written to the first one, what comes from it..."""
    for _ in range(twins):
        read, write = os.pipe()
        theirs.append(read)
        ours.append(os.fdopen(write, "wb"))
        read, write = os.pipe()
        theirs.append(write)
        ours.append(os.fdopen(read, "rb"))


def _environment():
    """Variables of the processes: this one's, and what makes many processes of short life fast."""
    # one thread each: the processes share the processors among themselves
    alone = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    # numpy before 1.25 inspects on each call whether an argument is of another library's kind; none
    # is here
    alone["NUMPY_EXPERIMENTAL_ARRAY_FUNCTION"] = "0"
    # glibc gives arrays back to the system one by one, and fetching them anew takes a tenth of the
    # time; the process does not live long
    alone.update(
        MALLOC_MMAP_THRESHOLD_=str(POOL.mmap_threshold),
        MALLOC_TRIM_THRESHOLD_=str(POOL.trim_threshold),
        MALLOC_TOP_PAD_=str(POOL.top_pad),
    )
    return {**os.environ, **alone}


def _widen(pipe):
    """Let a pipe take more at once: a part of a table goes through in a third of the time. Where
    the system does not allow it, it stays as it is."""
    if FORKS:
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(pipe.fileno(), SET_PIPE_SIZE, POOL.pipe_size)


class Worker:
    """One process; it is ready once it has answered.

    Parameters
    ----------
    process : subprocess.Popen
        The one that was started: this one, or what it was forked from.
    write, read : file
        To it and from it.
    errors : file
        What it says besides.
    group : bool
        It is of a group of processes that are ended together.
    """

    def __init__(self, process, write, read, errors, group):
        self._process, self._write, self._read, self._errors, self._group = (
            process,
            write,
            read,
            errors,
            group,
        )
        self._ready = False

    def send(self, message):
        """Send it a message.

        Parameters
        ----------
        message : object
            It is pickled.

        Raises
        ------
        WorkerError
            If the process is gone.
        """
        try:
            pickle.dump(message, self._write, 5)
            self._write.flush()
        except (OSError, ValueError) as error:  # ValueError: closed by `wait`
            raise WorkerError(self._why()) from error

    def _receive(self):
        try:
            return pickle.load(self._read)  # noqa: S301, from a process that this one started
        except (EOFError, OSError, ValueError, pickle.UnpicklingError) as error:
            raise WorkerError(self._why()) from error

    def _why(self):
        """What the process last said before it ended."""
        said = []
        with contextlib.suppress(ValueError):  # closed by `wait`
            self._errors.seek(0)
            said = self._errors.read().decode(errors="replace").strip().splitlines()
        return "a worker process ended before its time" + (f": {said[-1]}" if said else "")

    def run(self, work, part, progress):
        """Run ``work(part, progress)`` in the process.

        Parameters
        ----------
        work : callable
            It is pickled, and so are the part and the result.
        part : object
        progress : callable
            Called here with the share of work done, 0 to 1.

        Returns
        -------
        object
            What the work returns.

        Raises
        ------
        WorkerError
            If the process is gone, or is of another Python or numpy. An error of the work itself is
            raised here too.
        """
        if not self._ready:
            if self._receive() != SAME:
                raise WorkerError(
                    f"{self._process.args[0]} is not the Python, or has not the numpy, that runs"
                    " here"
                )
            self._ready = True
        self.send((work, part))
        while True:
            kind, content = self._receive()
            if kind == "progress":
                progress(content)
            elif kind == "failed":
                raise content
            else:
                return content

    def kill(self):
        """End the process at once, and its twins."""
        if not self._group:
            self._process.kill()
        elif self._process.returncode is None:  # else its number may be another one's by now
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)

    def wait(self):
        """Wait until the killed process has given back what it held."""
        if self._group:  # a twin is no child of ours: its end of the pipe tells
            with contextlib.suppress(OSError, ValueError):
                end = select.poll()
                end.register(self._read.fileno(), 0)  # what was sent stays to be read
                end.poll(POOL.end_wait)
        self._process.wait()
        for pipe in (self._write, self._read):
            with contextlib.suppress(OSError):
                pipe.close()
        self._errors.close()


def serve():
    """What the process does: work, until the pipe is closed."""
    read, write = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    # what a library prints must not get among the answers
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())

    def answer(*message):
        pickle.dump(message, write, 5)
        write.flush()

    answer(*SAME)
    while True:
        try:
            work, part = pickle.load(read)  # noqa: S301, from the process that started this one
        except EOFError:
            return
        try:
            answer("done", work(part, lambda share: answer("progress", share)))
        except Exception as error:
            answer("failed", error)
