"""Run independent parts of the work one after another, or in parallel processes or threads."""

import os
import queue
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from dataclasses import dataclass
from importlib import import_module

from ..tuning import POOL
from .imports import load
from .workers import WorkerError, end_workers, start_workers

SHARED = __package__.rpartition(".")[0]


class Pool:
    """Parallel Python processes, started once and used for several calls of `run_parts`.

    Where arrays are short, Python's global lock lets threads run only one at a time; each process
    has its own lock and leaves the host's free. The pool is a context manager: its processes end
    with the block.

    Parameters
    ----------
    size : int, optional
        Number of processes; by default that of the processors, at most `POOL.most_workers`.
    preload : tuple of str, optional
        Modules of ``shared`` that they load at the start.
    later : bool, optional
        Whether they are started by `start` alone.
    """

    def __init__(self, size=None, preload=(), later=False):
        self.size = size or min(POOL.most_workers, os.cpu_count() or 1)
        self.problem = ""  # why there are no processes, where there are none
        self._preload, self._started = preload, False
        self._idle = queue.SimpleQueue()
        self._workers = []
        if not later:
            self.start()

    def start(self):
        """Start the processes, which then load their modules while the caller goes on; nothing
        where they were started before."""
        if self._started:
            return
        self._started = True
        try:
            if self.size > 1:
                self._workers = start_workers(self.size, self._preload)
        except WorkerError as error:
            self.problem = str(error)
        for worker in self._workers:
            self._idle.put(worker)

    def __enter__(self):
        return self

    def __exit__(self, *_):
        self.close()

    def __bool__(self):
        return bool(self._workers)

    def close(self):
        """End the processes at once, whatever they are doing; none are started afterwards."""
        self._started = True
        workers, self._workers = self._workers, []
        end_workers(workers)

    def run(self, work, part, progress):
        """Run ``work(part, progress)`` in the next idle process and wait for its result.

        Parameters
        ----------
        work : callable
            As in `run_parts`.
        part : object
        progress : callable
            Called in the calling thread with the share of work done, 0 to 1.

        Returns
        -------
        object
            What the work returns.

        Raises
        ------
        WorkerError
            If the process does not start, or ends before its time.
        """
        worker = self._idle.get()
        try:
            return worker.run(work, part, progress)
        finally:
            self._idle.put(worker)


@dataclass(frozen=True)
class Loaded:
    """A function of a module of ``shared`` as work for `run_parts`, imported only where it is
    called: with a pool, in its processes.

    Attributes
    ----------
    module, function : str
        Names.
    options : tuple
        Arguments after the part and the progress callback.
    """

    module: str
    function: str
    options: tuple

    def __call__(self, part, progress):
        name = f"{SHARED}.{self.module}"
        load(name)
        return getattr(import_module(name), self.function)(part, progress, *self.options)


class Threads:
    """Threads of this process in place of a pool's processes, for work on long arrays: numpy
    releases Python's lock there, and sending the arrays to a process would take as long as the
    work."""

    def __init__(self, size):
        self.size = size

    def close(self):
        """Nothing to do: threads end with their part."""

    @staticmethod
    def run(work, part, progress):
        """Run ``work(part, progress)`` in the calling thread.

        Parameters
        ----------
        work : callable
        part : object
        progress : callable
            Called with the share of work done, 0 to 1.

        Returns
        -------
        object
            What the work returns.
        """
        return work(part, progress)


def run_parts(work, parts, progress, pool=None, take=None):
    """Run ``work(part, progress)`` for each part.

    Parameters
    ----------
    work : callable
        Called with a part and with a function that it must call now and then with its share of work
        done, 0 to 1. For a pool it must be a module-level function of this package, a
        `functools.partial` of one, or a `Loaded` one.
    parts : sequence
        Indexed only when a part's turn comes; with a pool, in a thread of its own.
    progress : callable
        Called several times a second with the share of all work done, only in the calling thread.
        It may raise to stop the work, which ends the processes of a pool at once; threads end with
        their part. If a process fails, the pool is closed, its `problem` says why, and the rest of
        the work is done in the calling thread.
    pool : Pool or Threads, optional
        Without one, or if it has no processes, the parts run one after another in the calling
        thread.
    take : callable, optional
        Called with a part's number and its result as soon as that is there, in any order and in
        several threads at once; its return value replaces the result.

    Returns
    -------
    list
        Results in the order of the parts.
    """
    count = len(parts)
    take = take or (lambda number, result: result)
    results = _side_by_side(work, parts, progress, pool, take) if pool and count > 1 else {}
    # what the processes did not do is done here, one part at a time
    for number in range(count):
        if number not in results:
            done = len(results)
            results[number] = take(
                number,
                work(parts[number], lambda share, done=done: progress((done + share) / count)),
            )
    return [results[number] for number in range(count)]


def _side_by_side(work, parts, progress, pool, take):
    """Results of a pool by part number: all of them or, if a process failed, those done by
    then."""
    count = len(parts)
    shares = [0.0] * count

    def run(number):
        def progress_of_part(share):
            shares[number] = share

        return take(number, pool.run(work, parts[number], progress_of_part))

    results = {}
    with ThreadPoolExecutor(pool.size) as threads:
        futures = {threads.submit(run, number): number for number in range(count)}
        try:
            waiting = set(futures)
            while waiting:
                finished, waiting = wait(waiting, POOL.poll, FIRST_COMPLETED)
                results.update((futures[future], future.result()) for future in finished)
                progress(sum(shares) / count)
        except WorkerError as error:
            pool.problem = str(error)
        finally:
            if len(results) < count:
                pool.close()
                for future in futures:
                    future.cancel()
    # parts that were finished while another one failed
    results.update(
        (number, future.result())
        for future, number in futures.items()
        if not future.cancelled() and future.exception() is None
    )
    return results
