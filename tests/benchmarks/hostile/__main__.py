"""Tries every hostile case and prints what came of each class of faults.

    .venv/bin/python tests/benchmarks/hostile                      # all cases, a table in Markdown
    .venv/bin/python tests/benchmarks/hostile --only target disk   # cases or groups of these words
    .venv/bin/python tests/benchmarks/hostile --write              # the table into RESULTS.md
    .venv/bin/python tests/benchmarks/hostile --record FILE        # a run to be taken up again

Each case runs in a process that is replaced when it hangs or crashes. It hangs where it has taken
more seconds of the processor than its limit, or `PATIENCE` times as many of the clock: what else is
at work on the machine makes no case hang. The command ends with an error where a case is neither
right nor a clear error. Modules of cases lie beside this file; how to write one: frame.py.
"""

import argparse
import json
import os
import select
import shutil
import signal
import subprocess
import sys
import tempfile
import time
from collections import Counter
from pathlib import Path

HERE = Path(__file__).resolve().parent
ROOT = HERE.parents[2]
for folder in (HERE, HERE.parent, ROOT / "tests", ROOT / "tests" / "algorithms",
               ROOT / "tests" / "shared"):  # fmt: skip
    sys.path.insert(0, str(folder))

from frame import CLASSES, GOOD, HANG, SKIPPED, TRACEBACK, judge, load_cases  # noqa: E402
from measuring import seconds_of, start_host, tree_of  # noqa: E402

PATIENCE = 5.0  # of the clock's seconds for one of the processor's, on a busy machine
START = 30.0  # s of the processor for the host's start, beside the first case
BEGIN, END = "<!-- hostile cases -->", "<!-- end of hostile cases -->"


def work():
    """Take names of cases from standard input, and say what came of each."""
    said = os.fdopen(os.dup(1), "w", encoding="utf-8")
    os.dup2(2, 1)  # whatever the host prints goes elsewhere
    cases, plugin = load_cases(), start_host()
    for line in sys.stdin:
        folder = tempfile.mkdtemp(prefix="hostile-")
        try:
            kind, why = judge(cases[line.strip()], folder)
        finally:
            shutil.rmtree(folder, ignore_errors=True)
        said.write(f"{kind}\t{' '.join(why.split())[-900:]}\n")
        said.flush()
    del plugin
    os._exit(0)  # the host's own end is none of the cases


class Worker:
    """A process that tries cases one by one."""

    def __init__(self):
        self.process = None

    def attempt(self, one):
        """What came of a case, why, and the seconds it took."""
        if self.process is None or self.process.poll() is not None:
            self.process = subprocess.Popen(
                [sys.executable, str(HERE), "--work"], stdin=subprocess.PIPE,
                stdout=subprocess.PIPE, stderr=subprocess.DEVNULL, text=True,
                start_new_session=True,
            )  # fmt: skip
            self._ask("")  # nothing yet: it only has to be there
        start = time.monotonic()
        answer = self._ask(one.name, one.limit)
        took = time.monotonic() - start
        if answer is None:
            self.end()
            return HANG, f"no end after {one.limit:.0f} s of the processor", took
        if not answer:
            code = self.process.wait()
            self.end()
            return TRACEBACK, f"the process ended with {code}", took
        kind, _, why = answer.rstrip("\n").partition("\t")
        return kind, why, took

    def _ask(self, name, limit=0.0):
        if not name:
            return None
        before = sum(seconds_of(tree_of(self.process.pid)).values())
        self.process.stdin.write(name + "\n")
        self.process.stdin.flush()
        start, limit = time.monotonic(), limit + START
        while time.monotonic() - start < PATIENCE * limit:
            ready, _, _ = select.select([self.process.stdout], [], [], 1.0)
            if ready:
                return self.process.stdout.readline()
            if sum(seconds_of(tree_of(self.process.pid)).values()) - before > limit:
                break
        return None

    def end(self):
        """End the process and what it started."""
        if self.process is not None:
            if self.process.poll() is None:
                os.killpg(self.process.pid, signal.SIGKILL)
            self.process.wait()
            self.process = None


class Record:
    """A file of what came of each case at one commit, a line each; nothing where there is none."""

    def __init__(self, path):
        self.path, self.known = path, {}
        self.commit = commit()
        if path is not None and path.is_file() and not self.commit.endswith("dirty"):
            lines = map(json.loads, path.read_text(encoding="utf-8").splitlines())
            self.known = {name: (kind, why, took) for at, name, kind, why, took in lines
                          if at == self.commit}  # fmt: skip

    def of(self, name):
        return self.known.get(name)

    def add(self, name, *what):
        if self.path is None or name in self.known:
            return
        with open(self.path, "a", encoding="utf-8") as file:
            file.write(json.dumps([self.commit, name, *what]) + "\n")


def commit():
    """The commit of the clone, with a mark where files differ from it."""
    return subprocess.run(
        ["git", "-C", str(ROOT), "describe", "--always", "--dirty", "--exclude", "*"],
        capture_output=True, text=True, check=False,
    ).stdout.strip()  # fmt: skip


def table(found):
    """Counts by group and class, as Markdown."""
    groups = list(dict.fromkeys(group for group, *_ in found))
    counts = Counter((group, kind) for group, kind, *_ in found)
    columns = [*CLASSES, *([SKIPPED] if any(kind == SKIPPED for _, kind, *_ in found) else [])]
    lines = [
        "| hostile cases | " + " | ".join(("tried", *columns)) + " |",
        "| --- |" + " ---: |" * (len(columns) + 1),
    ]
    for group in (*groups, "all"):
        row = [
            sum(counts[one, kind] for one in (groups if group == "all" else [group]))
            for kind in columns
        ]
        tried = sum(row[: len(CLASSES)])
        lines.append(f"| {group} | " + " | ".join(map(str, (tried, *row))) + " |")
    return "\n".join(lines)


def write(text):
    """Put the table into RESULTS.md."""
    path = HERE.parent / "RESULTS.md"
    before, _, rest = path.read_text(encoding="utf-8").partition(BEGIN)
    _, _, after = rest.partition(END)
    path.write_text(f"{before}{BEGIN}\n{text}\n{END}{after}", encoding="utf-8")


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", nargs="+", default=(), help="words of names or groups")
    parser.add_argument("--write", action="store_true", help="the table into RESULTS.md")
    parser.add_argument("--each", action="store_true", help="print what came of each case")
    parser.add_argument("--record", type=Path, help="what came of each case; those in it are not"
                        " tried again where the commit is the same")  # fmt: skip
    parser.add_argument("--work", action="store_true", help=argparse.SUPPRESS)
    given = parser.parse_args()
    if given.work:
        work()
        return 0
    chosen = [
        one
        for one in load_cases().values()
        if not given.only or any(word in f"{one.name} {one.group}" for word in given.only)
    ]
    found, worker, record = [], Worker(), Record(given.record)
    try:
        for one in chosen:
            kind, why, took = record.of(one.name) or worker.attempt(one)
            record.add(one.name, kind, why, took)
            found.append((one.group, kind, one.name, why))
            if given.each or kind not in (*GOOD, SKIPPED):
                print(f"{kind:13} {took:5.1f} s  {one.name}: {why}", flush=True)
    finally:
        worker.end()
    text = f"{table(found)}\n\nOne run of {record.commit}."
    print(text)
    if given.write:
        write(text)
    return int(any(kind not in (*GOOD, SKIPPED) for _, kind, *_ in found))


if __name__ == "__main__":
    sys.exit(main())
