"""Python processes that work for this one.

The `multiprocessing` module starts its processes with the host's executable, or imports the
caller's script again; inside QGIS the first opens a second QGIS, and the second runs the whole
script. So the interpreter is searched for here, and both sides talk over pipes: functions to call
and their results are pickled.

One process loads the modules. On Linux it then forks itself, which takes a few milliseconds where
loading takes a fifth of a second, and the forks (“twins”) share what was loaded. It has only one
thread at that time, so that no lock is held in a twin. On other systems each process is started
separately.
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
FORKS = sys.platform.startswith("linux")  # system libraries elsewhere may not survive a fork
SET_PIPE_SIZE = 1031  # `fcntl.F_SETPIPE_SZ`, which Python has no name for before 3.10
# registers the package under the name that it has here, whatever its folder is called
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
# versions that must agree on both sides for results to be the same
SAME = (platform.python_version(), np.__version__)


class WorkerError(Exception):
    """The process could not be started, or ended unexpectedly."""


def interpreter():
    """Path of the Python that runs this process, also where an application carries it.

    Returns
    -------
    str or None
        None where it is not found.

    Notes
    -----
    `sys.executable` alone will not do: in an application it is the application's executable, or
    whichever Python comes first on the system's path.
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
        Modules of ``shared`` that they load at the start, while the caller goes on.

    Returns
    -------
    list of Worker

    Raises
    ------
    WorkerError
        If there is no interpreter, or it does not start; no process is left running then.
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
    """End processes that were started together, at once, whatever they are doing.

    Parameters
    ----------
    workers : sequence of Worker
    """
    for worker in workers:
        worker.kill()
    for worker in workers:  # only now, so that all release their memory at the same time
        worker.wait()


def _start_twins(count, preload):
    """Start one interpreter and, through it, ``count - 1`` forks of it."""
    python = interpreter()
    if python is None:
        raise WorkerError("no Python interpreter was found next to the one that runs")
    theirs, ours, errors = [], [], None
    how = {"creationflags": subprocess.CREATE_NO_WINDOW} if os.name == "nt" else {}
    try:
        errors = tempfile.TemporaryFile()  # noqa: SIM115, open as long as the processes run
        _open_pipes(count - 1, theirs, ours)
        if FORKS:  # in a session of their own, so that they can be ended together
            how.update(pass_fds=theirs, start_new_session=True)
        process = subprocess.Popen(  # noqa: S603, the interpreter found above, code of this module
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
    """Open two pipes for each twin and append their ends to two lists as they are opened, so that
    the caller can close them if one fails. `theirs`: for each twin the descriptors that it reads
    from and writes to; `ours`: for each twin the files that this process writes to and reads
    from."""
    for _ in range(twins):
        read, write = os.pipe()
        theirs.append(read)
        ours.append(os.fdopen(write, "wb"))
        read, write = os.pipe()
        theirs.append(write)
        ours.append(os.fdopen(read, "rb"))


def _environment():
    """Environment of the processes: that of this one, tuned for many short-lived processes."""
    # one thread each: the processes share the processors among themselves
    alone = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
    # numpy before 1.25 checks in each call whether an argument overrides the function: none does
    alone["NUMPY_EXPERIMENTAL_ARRAY_FUNCTION"] = "0"
    # glibc returns freed arrays to the system one by one, and fetching them again takes a tenth of
    # the time; these processes do not live long
    alone.update(
        MALLOC_MMAP_THRESHOLD_=str(POOL.mmap_threshold),
        MALLOC_TRIM_THRESHOLD_=str(POOL.trim_threshold),
        MALLOC_TOP_PAD_=str(POOL.top_pad),
    )
    return {**os.environ, **alone}


def _widen(pipe):
    """Enlarge the buffer of a pipe, so that a part of a table goes through in a third of the time.
    If the system does not allow it, the pipe stays as it is."""
    if FORKS:
        import fcntl

        with contextlib.suppress(OSError):
            fcntl.fcntl(pipe.fileno(), SET_PIPE_SIZE, POOL.pipe_size)


class Worker:
    """One process; it is ready once it has sent its versions.

    Parameters
    ----------
    process : subprocess.Popen
        The process that was started: this one, or the one it was forked from.
    write, read : file
        Pipes to it and from it.
    errors : file
        Receives its standard error.
    group : bool
        True if it belongs to a session whose processes are ended together.
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
        """Send a message to the process.

        Parameters
        ----------
        message : object
            Anything that can be pickled.

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
        """The last line that the process wrote to its standard error."""
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
            Called in this process with the share of work done, 0 to 1.

        Returns
        -------
        object
            What the work returns.

        Raises
        ------
        WorkerError
            If the process is gone, or runs another version of Python or numpy. Errors of the work
            itself are raised here as well.
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
        elif self._process.returncode is None:  # else its id may belong to another process by now
            with contextlib.suppress(ProcessLookupError):
                os.killpg(self._process.pid, signal.SIGKILL)

    def wait(self):
        """Wait until the killed process has released its resources."""
        if self._group:  # a twin is no child of this process: only its end of the pipe shows it
            with contextlib.suppress(OSError, ValueError):
                end = select.poll()
                end.register(self._read.fileno(), 0)  # hang-up only: unread data does not count
                end.poll(POOL.end_wait)
        self._process.wait()
        for pipe in (self._write, self._read):
            with contextlib.suppress(OSError):
                pipe.close()
        self._errors.close()


def serve():
    """Main loop of the process: do the work that is sent until the pipe is closed."""
    read, write = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    # what a library prints must not end up among the answers
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
