"""Independent parts of the work, side by side on the processor's cores."""

import os
import threading
from concurrent.futures import FIRST_EXCEPTION, ThreadPoolExecutor, wait

import numpy as np

MOST_WORKERS = 4  # more would wait for memory, and each needs its own
POLL = 0.1  # s between looks at whether the work is to stop


class _StoppedError(Exception):
    """Ends a part whose result nobody waits for any more."""


def split_groups(group, most):
    """Split a sequence of groups into parts of whole groups, about `most` members each.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        Members of one group lie side by side.
    most : int

    Returns
    -------
    list of tuple of int
        First member of each part and the one after its last; one empty part where there are no members.
    """
    starts = np.append(np.flatnonzero(np.diff(group, prepend=-1)), len(group))
    bounds, first = [], 0
    while first < len(starts) - 1:
        last = max(int(np.searchsorted(starts, starts[first] + most, "right")) - 1, first + 1)
        if len(group) - starts[first] <= most:
            last = len(starts) - 1
        bounds.append((int(starts[first]), int(starts[last])))
        first = last
    return bounds or [(0, 0)]


def run_parts(work, parts, checkpoint):
    """Run ``work(part, ahead)`` for each part; results in the order of the parts.

    Parameters
    ----------
    work : callable
        Called with a part and with a function that it must call now and then with its share of work done, 0 to 1.
        Parts must not write to the same places.
    parts : sequence
    checkpoint : callable
        Called in the calling thread alone, several times a second, with the share of all work done. It may raise to
        stop the work; the parts then stop at their next call of `ahead`.

    Returns
    -------
    list

    Notes
    -----
    numpy lets go of Python's lock inside its loops, so that threads run side by side without copies of the data.
    """
    if len(parts) == 1:
        return [work(parts[0], checkpoint)]
    done = [0.0] * len(parts)
    stop = threading.Event()

    def run(number):
        def ahead(share):
            if stop.is_set():
                raise _StoppedError
            done[number] = share

        ahead(0.0)
        result = work(parts[number], ahead)
        done[number] = 1.0
        return result

    with ThreadPoolExecutor(min(MOST_WORKERS, os.cpu_count() or 1, max(len(parts), 1))) as pool:
        futures = [pool.submit(run, number) for number in range(len(parts))]
        try:
            waiting = set(futures)
            while waiting:
                finished, waiting = wait(waiting, POLL, FIRST_EXCEPTION)
                for future in finished:
                    future.result()
                checkpoint(sum(done) / len(parts))
        except BaseException:
            stop.set()
            for future in futures:
                future.cancel()
            raise
    return [future.result() for future in futures]
