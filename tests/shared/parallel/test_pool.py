"""Parts of the work, one after the other and in processes."""

import os
import subprocess
import sys
import threading
import time
from functools import partial
from pathlib import Path

import numpy as np
import pytest

from curbwright.shared.arrays.ragged import split_groups
from curbwright.shared.parallel import workers
from curbwright.shared.parallel.pool import Pool, Threads, run_parts
from curbwright.shared.tuning import POOL, override
from curbwright.tests.shared import partworks


@pytest.fixture(scope="module")
def pool():
    with Pool(2) as pool:
        assert pool, pool.problem
        yield pool


@pytest.fixture(params=["forked", "each by itself"])
def start(request, monkeypatch):
    """How processes come to be."""
    if request.param == "forked" and not workers.FORKS:
        pytest.skip("processes are not forked on this system")
    monkeypatch.setattr(workers, "FORKS", request.param == "forked")


def lives(process):
    try:
        return Path(f"/proc/{process}/stat").read_text().rpartition(")")[2].split()[0] not in "ZX"
    except OSError:
        return False


def gone(processes, seconds):
    until = time.monotonic() + seconds
    while any(map(lives, processes)) and time.monotonic() < until:
        time.sleep(0.01)
    return not any(map(lives, processes))


TESTS = Path(__file__).resolve().parents[2]


class CancelledError(Exception):
    pass


def test_groups_stay_whole():
    group = np.repeat([0, 1, 2, 5, 6], [3, 4, 1, 9, 2])
    for most in (1, 4, 8, 100):
        bounds = split_groups(group, most)
        assert (
            [low for low, _ in bounds[1:]] == [high for _, high in bounds[:-1]]
            and bounds[0][0] == 0
            and bounds[-1][1] == len(group)
        )
        assert all(group[low - 1] != group[low] for low, _ in bounds[1:])
    assert split_groups(group[:0], 4) == [(0, 0)]


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


def test_what_processes_load_is_not_loaded_here():
    # The host waits for its own imports; those of processes take place while it reads.
    code = """
import sys
import conftest
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


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up in /proc")
def test_processes_end_when_the_caller_is_killed(start):
    code = f"""
import conftest
from curbwright.shared.parallel import workers
from curbwright.shared.parallel.pool import Pool, run_parts
from curbwright.tests.shared import partworks
workers.FORKS = {workers.FORKS}
with Pool(3) as pool:
    done = run_parts(partworks.square, range(8), lambda share: None, pool)
    print(*{{process for _, process in done}}, flush=True)
    input()
"""
    caller = subprocess.Popen(
        [sys.executable, "-c", code],
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        text=True,
        cwd=TESTS,
    )
    processes = caller.stdout.readline().split()
    assert len(processes) == 3 and all(map(lives, processes))
    caller.kill()
    caller.communicate()
    assert gone(processes, 10)


def test_what_a_dead_process_leaves_is_done_here(start):
    with Pool(2) as pool:
        assert run_parts(
            partial(partworks.die, caller=os.getpid()), range(5), lambda share: None, pool
        ) == list(range(5))
        assert "ended before its time" in pool.problem
        assert not pool
        # and the pool does no harm afterwards
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]


def test_without_room_for_files_there_are_no_processes(start, monkeypatch):
    def full(*_, **__):
        raise OSError("no room")

    monkeypatch.setattr(workers.tempfile, "TemporaryFile", full)
    with Pool(2) as pool:
        assert not pool and "no room" in pool.problem


@pytest.mark.skipif(
    not workers.FORKS or not Path("/proc/self/fd").exists(),
    reason="processes are not forked, or open files not told, on this system",
)
@pytest.mark.parametrize("pipes", range(4))
def test_pipes_that_cannot_be_had_leave_none_open(pipes, monkeypatch):
    made, pipe = [], os.pipe

    def few():
        if len(made) == pipes:
            raise OSError("too many open files")
        made.append(pipe())
        return made[-1]

    monkeypatch.setattr(os, "pipe", few)
    with Pool(3) as pool:  # two twins, two pipes for each
        assert not pool and "too many open files" in pool.problem
    ends = {str(end) for pair in made for end in pair}
    assert len(ends) == 2 * pipes and not ends & set(os.listdir("/proc/self/fd"))


@pytest.mark.skipif(not workers.FORKS, reason="pipes have no size to choose on this system")
@pytest.mark.parametrize("size", [POOL.pipe_size, 2**31 - 1])
def test_pipes_are_widened_where_the_system_allows(size):
    fcntl = pytest.importorskip("fcntl")
    wide = size <= int(Path("/proc/sys/fs/pipe-max-size").read_text())
    with override(POOL__pipe_size=size), Pool(2) as pool:
        assert pool, pool.problem
        ends = [end for worker in pool._workers for end in (worker._write, worker._read)]
        assert len(ends) == 4
        # F_GETPIPE_SZ, without a name before Python 3.10
        assert all((fcntl.fcntl(end, 1032) == size) == wide for end in ends)
        parts = [np.arange(n, dtype=float) for n in (10, 300_000)]
        for part, result in zip(parts, run_parts(partworks.twice, parts, lambda share: None, pool)):
            np.testing.assert_array_equal(result, 2 * part)


@pytest.mark.skipif(not workers.FORKS, reason="processes are not forked on this system")
def test_a_process_that_cannot_be_forked_says_why(monkeypatch):
    monkeypatch.setattr(
        workers, "START", workers.START.replace("os.fork()", "sys.exit('no room for a twin')")
    )
    with Pool(3) as pool:
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]
        assert "no room for a twin" in pool.problem


def test_without_an_interpreter_there_are_no_processes(start, monkeypatch):
    monkeypatch.setattr(workers, "interpreter", lambda: None)
    with Pool(2) as pool:
        assert not pool and "no Python interpreter" in pool.problem
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]


def test_another_python_is_not_used(start, monkeypatch):
    monkeypatch.setattr(workers, "SAME", ("2.7.18", np.__version__))
    with Pool(2) as pool:
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]
        assert "is not the Python" in pool.problem


def test_a_process_that_cannot_start_says_why(start, monkeypatch):
    monkeypatch.setattr(workers, "START", "raise SystemExit('no room')")
    with Pool(2) as pool:
        assert run_parts(partworks.fail, [0, 1], lambda share: None, pool) == [0, 1]
        assert "no room" in pool.problem


def test_one_processor_needs_no_processes(monkeypatch):
    monkeypatch.setattr(os, "cpu_count", lambda: 1)
    with Pool() as pool:
        assert not pool and not pool.problem


def test_interpreter_is_the_one_that_runs(monkeypatch, tmp_path):
    def version(python):
        return subprocess.run(
            [python, "-c", "import sys; print(sys.version)"],
            stdout=subprocess.PIPE,
            text=True,
            check=True,
        ).stdout.strip()

    assert version(workers.interpreter()) == sys.version
    # inside an application that carries Python
    monkeypatch.setattr(sys, "executable", "/opt/application/bin/application")
    assert version(workers.interpreter()) == sys.version
    other = tmp_path / "python3"  # another Python that comes first on the system's path
    other.touch()
    monkeypatch.setattr(sys, "executable", str(other))
    assert version(workers.interpreter()) == sys.version
