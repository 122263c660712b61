"""Engines that do the work: Dask's workers, or this process."""

import hashlib
import logging
import sys
import zipfile
from importlib import import_module
from pathlib import Path

PACKAGE = __package__.split(".")[0]
ROOT = Path(__file__).resolve().parents[2]
WORK = "shared.partitions.work"
ATTEMPTS = 3


def call(package, archive, name, *arguments):
    """Call a function of `work` from an archive of the core, imported under a name of its own.

    This function is sent to the worker by value, so it must not use anything of this module.

    Parameters
    ----------
    package : str
        Name of the core in the worker.
    archive : str
        Path of the zip.
    name : str
        Of the function.
    *arguments
        Of the function.

    Returns
    -------
    object
        What the function returns.
    """
    import importlib
    import sys
    import types

    if package not in sys.modules:
        module = sys.modules[package] = types.ModuleType(package)
        module.__path__ = [archive]
    return getattr(importlib.import_module(f"{package}.shared.partitions.work"), name)(*arguments)


def pack(folder):
    """Write the core into a zip.

    Parameters
    ----------
    folder : path
        Folder that the workers can read.

    Returns
    -------
    path : str
    package : str
        Name that is unique to these sources.
    """
    target, digest = Path(folder, "core.zip"), hashlib.sha256()
    with zipfile.ZipFile(target, "w", zipfile.ZIP_DEFLATED) as archive:
        for path in sorted((ROOT / "shared").rglob("*.py")):
            name, text = path.relative_to(ROOT).as_posix(), path.read_bytes()
            digest.update(f"{name} {len(text)} ".encode() + text)
            archive.writestr(zipfile.ZipInfo(name), text)
    return str(target), f"{PACKAGE}_{digest.hexdigest()[:16]}"


class Here:
    """Runs one partition after another in this process."""

    def __enter__(self):
        return self

    def __exit__(self, *_):
        pass

    def prepare(self, folder):
        """Nothing to do."""

    def run(self, name, job, tasks):
        """Call the function `name` of `work` with the job and each task.

        Yields
        ------
        tuple
            Number of the task, its result and its error, one of them None; in any order.
        """
        function = getattr(import_module(f"{PACKAGE}.{WORK}"), name)
        for number, task in enumerate(tasks):
            try:
                result, error = function(job, task), None
            except Exception as problem:  # whatever it is, the caller names the partition
                result, error = None, problem
            yield number, result, error


class Cluster:
    """Dask's workers: those of a running cluster, or processes on this machine. A context manager.

    Parameters
    ----------
    workers : int
        Processes to start; not used with a scheduler.
    scheduler : str, optional
        Address of the scheduler of a running cluster, whose workers must find the data and the
        results under the same paths.
    memory : str
        Limit for each process, as Dask understands it: ``4GiB``, ``auto``.

    Raises
    ------
    ValueError
        If the scheduler does not answer.
    """

    def __init__(self, workers=2, scheduler=None, memory="auto"):
        from cloudpickle import register_pickle_by_value
        from distributed import Client, LocalCluster

        register_pickle_by_value(sys.modules[__name__])  # a worker does not know this module

        self._own, self._code = None, None
        if scheduler is None:
            self._own = LocalCluster(
                n_workers=workers,
                threads_per_worker=1,
                processes=True,
                memory_limit=memory,
                dashboard_address=None,
                silence_logs=logging.CRITICAL,
            )
        for attempt in range(ATTEMPTS):
            try:
                # not as the default: a client that failed would remain the default
                self._client = Client(
                    self._own if scheduler is None else scheduler, set_as_default=False
                )
                break
            except (OSError, ValueError) as error:
                raise ValueError(f"the scheduler {scheduler} does not answer: {error}") from error
            except AssertionError:
                # on a busy machine a client may get two messages at once where it expects one
                if attempt == ATTEMPTS - 1:
                    raise

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self._client.close()
        if self._own is not None:
            self._own.close()

    def prepare(self, folder):
        """Write the core to where the workers find it."""
        self._code = pack(folder)

    def run(self, name, job, tasks):
        """As `Here.run`; tasks not yet started are cancelled when the caller stops iterating."""
        from distributed import as_completed

        archive, package = self._code
        futures = self._client.map(
            lambda task: call(package, archive, name, job, task), tasks, pure=False
        )
        number_of = {future.key: number for number, future in enumerate(futures)}
        try:
            for future in as_completed(futures, loop=self._client.loop):
                error = future.exception()
                yield number_of[future.key], None if error else future.result(), error
                future.release()
        finally:
            self._client.cancel(futures)
