"""A Python process that works for this one.

The `multiprocessing` module starts its processes by the host's own executable or imports the caller's script once more; inside
QGIS the first opens a second QGIS, and the second runs whatever the script does. So the interpreter is looked for here, and the
two sides talk over pipes: the functions that are to be called, and what they return, are pickled.
"""

import contextlib
import os
import pickle
import platform
import subprocess
import sys
import tempfile
from pathlib import Path

import numpy as np

PACKAGE = __package__.rpartition(".")[0]
ROOT = Path(__file__).resolve().parents[1]
# Makes the package known under the name that it has here, wherever it lies and whatever its folder is called.
START = """
import pickle, sys, types
sys.path[:], package, root, ahead = pickle.load(sys.stdin.buffer)
module = sys.modules[package] = types.ModuleType(package)
module.__path__ = [root]
from importlib import import_module
serve = import_module(package + ".shared.workers").serve
for name in ahead:
    import_module(package + ".shared." + name)
serve()
"""
SAME = (platform.python_version(), np.__version__)  # what must be alike on both sides for results to be the same


class WorkerError(Exception):
    """The process could not be started, or ended before its time."""


def interpreter():
    """Path of the Python that runs this process, also where an application carries it; None where it is not found.

    `sys.executable` alone will not do: in an application it is that, or whichever Python comes first on the system's path.
    """
    version = f"{sys.version_info.major}.{sys.version_info.minor}"
    names = ["python.exe", "python3.exe"] if os.name == "nt" else [f"python{version}", "python3"]
    roots = [Path(sys.exec_prefix), Path(sys.base_exec_prefix)]
    own = Path(sys.executable or "")
    candidates = [own] if own.name.lower().startswith("python") and any(root in own.parents for root in roots) else []
    candidates += [folder / name for root in roots for folder in (root, root / "bin") for name in names]
    return next((str(path) for path in candidates if path.is_file()), None)


class Worker:
    """One process; it is ready once it has answered.

    Parameters
    ----------
    ahead : tuple of str, optional
        Modules of ``shared`` that it loads at once, while nobody waits for it.

    Raises
    ------
    WorkerError
        If there is no interpreter, or the system does not let it start.
    """

    def __init__(self, ahead=()):
        python = interpreter()
        if python is None:
            raise WorkerError("no Python interpreter was found beside the one that runs")
        # one thread each: the processes share the processors among themselves
        alone = dict.fromkeys(("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS"), "1")
        # numpy before 1.25 looks on each call whether an argument is of another library's kind; none is here
        alone["NUMPY_EXPERIMENTAL_ARRAY_FUNCTION"] = "0"
        # glibc gives arrays back to the system one by one, and fetching them anew takes a tenth of the time; the process does not live long
        alone.update(MALLOC_MMAP_THRESHOLD_=str(32 << 20), MALLOC_TRIM_THRESHOLD_=str(64 << 20), MALLOC_TOP_PAD_=str(16 << 20))
        hidden = {"creationflags": subprocess.CREATE_NO_WINDOW} if os.name == "nt" else {}
        self._errors = tempfile.TemporaryFile()  # noqa: SIM115, open as long as the process
        try:
            self._process = subprocess.Popen(
                [python, "-c", START], stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=self._errors,
                env={**os.environ, **alone}, cwd=ROOT, **hidden)
        except OSError as error:
            raise WorkerError(f"{python}: {error}") from error
        self._ready = False
        self._send((sys.path, PACKAGE, str(ROOT), ahead))

    def _send(self, message):
        try:
            pickle.dump(message, self._process.stdin, 5)
            self._process.stdin.flush()
        except OSError as error:
            raise WorkerError(self._why()) from error

    def _receive(self):
        try:
            return pickle.load(self._process.stdout)
        except (EOFError, OSError, ValueError, pickle.UnpicklingError) as error:  # ValueError: closed by `kill`
            raise WorkerError(self._why()) from error

    def _why(self):
        """What the process last said before it ended."""
        self._errors.seek(0)
        said = self._errors.read().decode(errors="replace").strip().splitlines()
        return "a worker process ended before its time" + (f": {said[-1]}" if said else "")

    def run(self, work, part, ahead):
        """Run ``work(part, ahead)`` in the process; its result. An error of the work is raised here."""
        if not self._ready:
            if self._receive() != SAME:
                raise WorkerError(f"{self._process.args[0]} is not the Python, or has not the numpy, that runs here")
            self._ready = True
        self._send((work, part))
        while True:
            kind, content = self._receive()
            if kind == "ahead":
                ahead(content)
            elif kind == "failed":
                raise content
            else:
                return content

    def kill(self):
        """End the process at once."""
        self._process.kill()
        for pipe in (self._process.stdin, self._process.stdout):
            with contextlib.suppress(OSError):
                pipe.close()

    def wait(self):
        """Wait until the killed process is gone."""
        self._process.wait()
        self._errors.close()


def serve():
    """What the process does: work, until the pipe is closed."""
    read, write = sys.stdin.buffer, os.fdopen(os.dup(sys.stdout.fileno()), "wb")
    os.dup2(sys.stderr.fileno(), sys.stdout.fileno())  # what a library prints must not get among the answers

    def answer(*message):
        pickle.dump(message, write, 5)
        write.flush()

    answer(*SAME)
    while True:
        try:
            work, part = pickle.load(read)
        except EOFError:
            return
        try:
            answer("done", work(part, lambda share: answer("ahead", share)))
        except Exception as error:
            answer("failed", error)
