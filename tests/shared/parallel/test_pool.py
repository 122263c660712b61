"""Parts of the work, one after the other and in processes."""

import os
import subprocess
import sys
import threading
import time
from functools import partial
from pathlib import Path

import pytest
from livingprocesses import gone, lives

from curbwright.shared.parallel.pool import Loaded, Pool, Threads, run_parts
from curbwright.tests.shared import partworks

TESTS = Path(__file__).resolve().parents[2]


class CancelledError(Exception):
    pass


@pytest.fixture(scope="module")
def pool():
    with Pool(2) as pool:
        assert pool, pool.problem
        yield pool


@pytest.mark.parametrize("count", [0, 1, 2, 8])
@pytest.mark.parametrize("with_pool", [False, True])
def test_results_in_the_order_of_the_parts(count, with_pool, pool):
    shares = []
    results = run_parts(partworks.square, range(count), shares.append, pool if with_pool else None)
    assert [result for result, _ in results] == [part * part for part in range(count)]
    assert shares == sorted(shares) and all(0 <= share <= 1 for share in shares)
    elsewhere = {process for _, process in results} - {os.getpid()}
    assert len(elsewhere) == (2 if with_pool and count > 1 else 0)


@pytest.mark.parametrize("how", ["one by one", "threads", "pool", "a pool that dies"])
def test_each_result_is_taken_once(how, pool):
    taken = []

    def take(number, result):
        taken.append(number)
        return number, result

    with Pool(2) as mortal:
        where = {
            "one by one": None,
            "threads": Threads(2),
            "pool": pool,
            "a pool that dies": mortal,
        }[how]
        results = run_parts(
            partial(partworks.die, caller=os.getpid()) if where is mortal else partworks.fail,
            [5, 1, 7, 8],
            lambda share: None,
            where,
            take,
        )
        assert bool(mortal.problem) == (where is mortal)
    assert results == [(0, 5), (1, 1), (2, 7), (3, 8)]
    assert sorted(taken) == [0, 1, 2, 3]


def test_threads_are_of_this_process_and_stop_too():
    assert {
        process
        for _, process in run_parts(partworks.square, range(8), lambda share: None, Threads(3))
    } == {os.getpid()}
    with pytest.raises(ZeroDivisionError, match="of the part"):
        run_parts(partworks.fail, range(4), lambda share: None, Threads(2))


def test_modules_can_be_loaded_beforehand():
    with Pool(2, ("arrays.ragged",)) as ready, Pool(2, ("no_such_module",)) as broken:
        assert (
            run_parts(partworks.fail, [0, 1], lambda share: None, ready) == [0, 1]
            and not ready.problem
        )
        assert run_parts(partworks.fail, [0, 1], lambda share: None, broken) == [0, 1]
        assert "no_such_module" in broken.problem


def test_processes_can_be_started_later_and_only_once():
    with Pool(2, later=True) as pool:
        assert not pool
        pool.start()
        first = list(pool._workers)
        pool.start()
        assert pool._workers == first and len(first) == 2
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]
    with Pool(2, later=True) as pool:
        pool.close()
        pool.start()
        assert not pool


def test_what_processes_load_is_not_loaded_here():
    # The host waits for its own imports; those of processes take place while it reads.
    code = """
import sys
import clone
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.parallel.pool import Pool
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.shared.tuning import override

fitting = {"scipy", "curbwright.shared.reconstruction.part"}
table = EpochTable.from_columns(
    list(range(30)) * 2, [0.0] * 60, seconds=range(60), capture=[0] * 30 + [1] * 30
)
with override(EXECUTION__smallest_part=20), Pool(2, ("reconstruction.part",)) as pool:
    assert pool
    assert len(reconstruct(table, pool=pool).edges) == 2
    assert not pool.problem
assert not fitting & set(sys.modules)
assert len(reconstruct(table).edges) == 2
assert fitting <= set(sys.modules)
"""
    subprocess.run([sys.executable, "-c", code], check=True, cwd=TESTS)


@pytest.mark.parametrize("with_pool", [False, True])
def test_progress_is_called_in_the_calling_thread(with_pool, pool):
    seen = set()
    run_parts(
        partworks.square,
        range(4),
        lambda share: seen.add(threading.get_ident()),
        pool if with_pool else None,
    )
    assert seen == {threading.get_ident()}


@pytest.mark.parametrize("with_pool", [False, True])
def test_an_error_of_a_part_comes_through(with_pool):
    with Pool(2) as pool, pytest.raises(ZeroDivisionError, match="of the part"):
        run_parts(partworks.fail, range(4), lambda share: None, pool if with_pool else None)


@pytest.mark.parametrize("with_pool", [False, True])
def test_progress_stops_all_parts(with_pool, start):
    def progress(share):
        raise CancelledError

    with Pool(2) as pool:
        processes = [worker._process for worker in pool._workers]
        began = time.monotonic()
        with pytest.raises(CancelledError):
            run_parts(partworks.linger, range(6), progress, pool if with_pool else None)
        assert time.monotonic() - began < 5  # one part alone takes half a minute
        if with_pool:
            assert all(process.poll() is not None for process in processes)


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up in /proc")
def test_progress_stops_twins_as_well(start):
    def progress(share):
        raise CancelledError

    with Pool(3) as pool:
        processes = {
            process
            for _, process in run_parts(partworks.square, range(8), lambda share: None, pool)
        }
        assert len(processes) == 3 and all(map(lives, processes))
        began = time.monotonic()
        with pytest.raises(CancelledError):
            run_parts(partworks.linger, range(6), progress, pool)
        assert time.monotonic() - began < 5
        assert not pool and gone(processes, 2)


def test_what_a_dead_process_leaves_is_done_here(start):
    with Pool(2) as pool:
        assert run_parts(
            partial(partworks.die, caller=os.getpid()), range(5), lambda share: None, pool
        ) == list(range(5))
        assert "ended before its time" in pool.problem
        assert not pool
        # and the pool does no harm afterwards
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]


def test_one_processor_needs_no_processes(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with Pool() as pool:
        assert not pool and not pool.problem


def test_what_work_needs_is_loaded_so_that_any_thread_may_use_it(monkeypatch):
    asked = []
    monkeypatch.setattr("curbwright.shared.parallel.pool.load", asked.append)
    assert Loaded("arrays.plane", "distance", ())(3.0, 4.0) == 5.0
    assert asked == ["curbwright.shared.arrays.plane"]
