"""Where a processor idles in one run of `curbwright:reconstructedges`: stage by stage, what the
host's process and its workers take of the processors.

    .venv/bin/python tests/benchmarks/timeline.py                  300,000 epochs of a trial set
    .venv/bin/python tests/benchmarks/timeline.py 1M --edges FILE --rates 1 8

The first run of a session, into a temporary layer, with the file in the system's cache, as in
`host_chain.py`. A process that is ready to run but has to wait for a processor, since others use
them, counts as working: so shares hold on a busy machine, where seconds are longer. Stages of the
host's main thread follow each other; "idle" is what two processors had left over. Linux only.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from importlib import import_module
from pathlib import Path

from host_chain import epochs_file, start_qgis
from measuring import load_clone, parse_size, tree_of

STEP = 0.01  # s between two looks at the processes
PROCESSORS = 2
# stages: module, its class where it is a method, name, what it is called here
STAGES = (
    ("algorithms.reading.epoch_layer", None, "choose_fields", "which field is what"),
    ("algorithms.reading.epoch_layer", None, "_read", "reading"),
    ("algorithms.reading.epoch_layer", None, "_values", "times, fixes, accuracies"),
    ("algorithms.reading.epoch_layer", None, "_locate", "positions in the frame"),
    ("algorithms.reading.epoch_layer", None, "without_doubtful", "checks of the table"),
    ("algorithms.reading.epoch_layer", None, "one_walk_each", "checks of the table"),
    ("algorithms.reading.epoch_layer", None, "say_copied", "checks of the table"),
    ("shared.reconstruction.reconstruct", None, "_find_streams", "streams"),
    ("shared.reconstruction.reconstruct", None, "_in_order_of_start", "edges in order, gaps"),
    ("shared.reconstruction.reconstruct", None, "_with_gaps", "edges in order, gaps"),
    ("algorithms.reconstructedges", "ReconstructEdges", "_say", "log"),
    ("algorithms.reconstructedges", "ReconstructEdges", "_write", "features"),
)


def child(path):
    """One run in this process; prints the stages with their times as JSON."""
    application = start_qgis()
    plugin = load_clone().classFactory(None)
    plugin.initProcessing()
    import processing

    marks = []

    def marked(function, title):
        def timed(*arguments, **options):
            began = time.perf_counter()
            try:
                return function(*arguments, **options)
            finally:
                marks.append((title, began, time.perf_counter()))

        return timed

    for name, owner, function, title in STAGES:
        place = import_module(f"curbwright.{name}")
        place = getattr(place, owner) if owner else place
        setattr(place, function, marked(getattr(place, function), title))
    core = import_module("curbwright.shared.reconstruction.reconstruct")
    whole = core.run_parts

    def run_parts(work, parts, *given):
        fits = type(parts).__name__ == "SharesWithStreams"
        return (marked(whole, "parts are fitted") if fits else whole)(work, parts, *given)

    core.run_parts = run_parts
    began = time.perf_counter()
    layer = processing.run(
        "curbwright:reconstructedges",
        {"INPUT": f"{path}|layername=epochs", "OUTPUT": "TEMPORARY_OUTPUT"},
    )["OUTPUT"]
    print(json.dumps({"run": (began, time.perf_counter()), "marks": marks}), flush=True)
    del layer
    plugin.unload()
    application.exitQgis()


def wanted_of(process):
    """Seconds in which the threads of a process ran or waited for a processor, by thread."""
    out = {}
    try:
        for thread in Path(f"/proc/{process}/task").iterdir():
            ran, waited, _ = (thread / "schedstat").read_text().split()
            out[thread.name] = (int(ran) + int(waited)) / 1e9
    except OSError:  # ended meanwhile
        pass
    return out


def watched(path):
    """Run a child; its stages, and for each look at its processes the time and what each had wanted
    by then."""
    looks, ended = [], {}
    with tempfile.TemporaryDirectory() as profile:
        environment = dict(
            os.environ,
            QT_QPA_PLATFORM="offscreen",
            QGIS_CUSTOM_CONFIG_PATH=profile,
            XDG_RUNTIME_DIR=profile,
        )
        environment.pop("PYTHONDONTWRITEBYTECODE", None)
        process = subprocess.Popen(
            [sys.executable, __file__, "--child", str(path)],
            env=environment,
            stdout=subprocess.PIPE,
            text=True,
        )
        while process.poll() is None:
            looks.append((time.perf_counter(), _look(process.pid, ended)))
            time.sleep(STEP)
    if process.returncode != 0:
        raise SystemExit("The run failed; the lines above say why.")
    return json.loads(process.stdout.read().strip().splitlines()[-1]), looks


def _look(host, seen):
    """Seconds wanted so far of the host's main thread, its other threads, and each worker; `seen`:
    of each thread when last looked at, so that one that has ended still counts."""
    for number in tree_of(host):
        for thread, seconds in wanted_of(number).items():
            seen[number, thread] = seconds
    out = {"main thread": 0.0, "its other threads": 0.0}
    for (number, thread), seconds in seen.items():
        who = f"worker {number}" if number != host else "its other threads"
        who = "main thread" if thread == str(host) else who
        out[who] = out.get(who, 0.0) + seconds
    return out


def stages_of(told):
    """Title, start and end of each stage, and of what lies between them; neighbours of one title
    together."""
    began, ended = told["run"]
    rows, at = [], began
    for title, start, end in sorted(told["marks"], key=lambda mark: mark[1]):
        if start - at > STEP:
            rows.append(("all else", at, start))
        if rows and rows[-1][0] == title:
            rows[-1] = (title, rows[-1][1], end)
        else:
            rows.append((title, max(at, start), end))
        at = end
    return [*rows, ("all else", at, ended)]


def wanted_between(looks, start, end):
    """What each process wanted between two times, as of the looks next to them."""
    first, last = (
        next((have for when, have in looks if when >= moment), looks[-1][1])
        for moment in (start, end)
    )
    return {who: seconds - first.get(who, 0.0) for who, seconds in last.items()}


def print_timeline(title, path):
    """Print a table of one run."""
    with open(path, "rb") as file:  # so that it lies in the system's cache
        while file.read(1 << 24):
            pass
    told, looks = watched(path)
    rows = stages_of(told)
    # the host starts other processes for a moment, to ask the system something
    workers = [who for who, took in looks[-1][1].items() if who.startswith("worker") and took > 0.1]
    heads = ["main thread", "its other threads", *(f"worker {k + 1}" for k in range(len(workers)))]
    print(f"\n| {title} | from, s | lasts, s | {' | '.join(heads)} | idle |")
    print("| --- |" + " ---: |" * (len(heads) + 3))
    for stage, start, end in [*rows, ("all", *told["run"])]:
        wanted = wanted_between(looks, start, end)
        shares = [wanted.get(who, 0.0) for who in ("main thread", "its other threads", *workers)]
        idle = max(PROCESSORS * (end - start) - sum(shares), 0.0)
        cells = " | ".join(f"{share:.2f}" for share in [*shares, idle])
        print(f"| {stage} | {start - told['run'][0]:.2f} | {end - start:.2f} | {cells} |")


def main():
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument("epochs", nargs="?", type=parse_size, default=300_000)
    parser.add_argument("--edges", metavar="FILE", help="also walks along the lines of a file")
    parser.add_argument("--rates", type=float, nargs="+", default=[1.0])
    parser.add_argument("--child", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        child(options.child)
        return
    print_timeline("trial set", epochs_file(options.epochs))
    for rate in options.rates if options.edges else ():
        title = f"outlines, {rate:g} Hz"
        print_timeline(title, epochs_file(options.epochs, options.edges, rate))


if __name__ == "__main__":
    main()
