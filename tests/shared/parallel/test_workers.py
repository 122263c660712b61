"""Processes that work for this one: how they start, talk and end."""

import os
import subprocess
import sys
from pathlib import Path

import numpy as np
import pytest
from livingprocesses import gone, lives

from curbwright.shared.parallel import workers
from curbwright.shared.parallel.pool import Pool, run_parts
from curbwright.shared.tuning import POOL, override
from curbwright.tests.shared import partworks

TESTS = Path(__file__).resolve().parents[2]


@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="processes are looked up in /proc")
def test_processes_end_when_the_caller_is_killed(start):
    code = f"""
import clone
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
