"""Independent parts of the work, one after the other or side by side, in processes of their own or
in threads."""

import os
import queue
from concurrent.futures import FIRST_COMPLETED, ThreadPoolExecutor, wait
from dataclasses import dataclass
from importlib import import_module

from ..tuning import POOL
from .workers import WorkerError, end_workers, start_workers

SHARED = __package__.rpartition(".")[0]


class Pool:
    """Python processes that work side by side, started once and used for one `run_parts` after
    another.

    Python's own lock lets threads run one at a time wherever arrays are short; processes have one
    lock each, and leave the host's free. A context manager: at its end the processes end too.

    Parameters
    ----------
    size : int, optional
        Number of processes; as many as there are processors, `POOL.most_workers` at most, where
        left out.
    preload : tuple of str, optional
        Modules of ``shared`` that they load at once.
    """

    def __init__(self, size=None, preload=()):
        self.size = size or min(POOL.most_workers, os.cpu_count() or 1)
        self.problem = ""  # why there are no processes, where there are none
        self._idle = queue.SimpleQueue()
        self._workers = []
        try:
            if self.size > 1:
                self._workers = start_workers(self.size, preload)
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
        """End the processes, at once, whatever they are doing."""
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
    """A function of a module of ``shared`` as work for `run_parts`: loaded where it is called
    first, which with a pool is in its processes alone.

    Attributes
    ----------
    module, function : str
        Names.
    options : tuple
        What the function is called with besides a part and the progress callback.
    """

    module: str
    function: str
    options: tuple

    def __call__(self, part, progress):
        return getattr(import_module(f"{SHARED}.{self.module}"), self.function)(
            part, progress, *self.options
        )


class Threads:
    """Threads of this process in place of a pool's processes: for work on long arrays, in which
    numpy lets go of Python's lock, that takes no longer than to send the arrays elsewhere."""

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
    """Run ``work(part, progress)`` for each part; results in the order of the parts.

    Parameters
    ----------
    work : callable
        Called with a part and with a function that it must call now and then with its share of work
        done, 0 to 1. For a pool it must be a function of a module of this package, a
        `functools.partial` of one, or one that is `Loaded`.
    parts : sequence
        Indexed only when a part's turn comes, in a thread of its own where there is a pool.
    progress : callable
        Called in the calling thread alone, several times a second, with the share of all work done.
        It may raise to stop the work, which ends the processes of a pool at once; threads end with
        their part. The same happens where one of them fails: then the rest of the work is done in
        the calling thread, and the pool names its problem.
    pool : Pool or Threads, optional
        One part after the other in the calling thread where left out, or where it has no processes.
    take : callable, optional
        Called with a part's number and its result as soon as it is there, in any order and in
        several threads at once; what it returns stands for the result.

    Returns
    -------
    list
    """
    count = len(parts)
    take = take or (lambda number, result: result)
    results = _side_by_side(work, parts, progress, pool, take) if pool and count > 1 else {}
    # what processes did not do is done here, with less memory at a time
    for number in range(count):
        if number not in results:
            done = len(results)
            results[number] = take(
                number,
                work(parts[number], lambda share, done=done: progress((done + share) / count)),
            )
    return [results[number] for number in range(count)]


def _side_by_side(work, parts, progress, pool, take):
    """Results of a pool by the parts' numbers: of all of them, or where a process failed of those
    that were done by then."""
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
    # what was done while another part failed
    results.update(
        (number, future.result())
        for future, number in futures.items()
        if not future.cancelled() and future.exception() is None
    )
    return results
