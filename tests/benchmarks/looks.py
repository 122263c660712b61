"""How long each algorithm works without a look at the cancel button: the longest delay of a cancel,
whenever it comes.

    .venv/bin/python tests/benchmarks/looks.py                          every algorithm
    .venv/bin/python tests/benchmarks/looks.py --only compareedges --worst 8

One run of some ten seconds for each, outputs into GeoPackages, with report and PDF where there are
any. Seconds are those of the processor of the host's process between two looks (a machine that is
busy adds to them); waiting for workers looks ten times a second. For the longest ones it says after
which line and before which line they lie.
"""

import argparse
import json
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent, HERE.parent / "algorithms"):
    sys.path.insert(0, str(folder))

from sizes import grid, lines, points  # noqa: E402

ROOT = HERE.parents[1]
MOST = 0.5  # s of a quiet processor that may pass without a look


def epochs(captures, each, seed=1, north=0.0):
    """A layer of simulated epochs."""
    from walkedlayers import layer_of, walk

    rows = walk(seed=seed, captures=captures, epochs=each)
    return layer_of([{**row, "y": row["y"] + north} for row in rows])


def filed(layer, folder, name):
    """The layer in a GeoPackage of its own."""
    from walkedlayers import to_file

    return to_file(layer, folder / f"{name}.gpkg")


def _log(folder, number):
    """An NMEA log of so many epochs, ten a second."""
    import nmealogs

    said = []
    for one in range(number):
        seconds = one // 10
        clock = f"{seconds // 3600:02}{seconds // 60 % 60:02}{seconds % 60:02}.{one % 10}0"
        said.append(nmealogs.rmc(clock, "040526") + nmealogs.gga(clock))
    (folder / "log.nmea").write_bytes(b"".join(said))
    return str(folder / "log.nmea")


def _check_points(number):
    rng = np.random.default_rng(3)
    return points(np.column_stack([
        rng.uniform(0, 2500, number), rng.uniform(0, 600, number), 4 + rng.normal(0, 0.02, number),
    ]))  # fmt: skip


def _report(folder):
    return {"REPORT": str(folder / "report.html"), "REPORT_PDF": str(folder / "report.pdf")}


def _batch(folder):
    return {
        "LAYERS": [filed(epochs(30, 600), folder, "one"),
                   filed(epochs(30, 600, 2, 0.02), folder, "two")],
        "EXISTING": filed(_existing(), folder, "base"), "MERGE_PASSES": True,
        "FIT_ALIGNMENTS": True, "UPDATE_BASEMAP": 1, "FOLDER": str(folder / "results"),
        "REPORT_PDF": str(folder / "report.pdf"),
    }  # fmt: skip


def _existing():
    """Lines along the walks of `epochs`, as a basemap has them."""
    from linelayers import line_layer
    from walkedlayers import ORIGIN

    made = []
    for capture in range(30):
        corner = 0.4 * 1.2 * 592
        along = np.linspace(0, corner, 60)
        made.append(np.column_stack([along + 100.0 * capture, 0.3 + 0 * along]))
    return line_layer(made, "base", origin=ORIGIN)


# by algorithm: what is given, from the folder
CASES = {
    "reconstructedges": lambda folder: {"INPUT": filed(epochs(150, 1000), folder, "walk")},
    "screenepochs": lambda folder: {"INPUT": filed(epochs(200, 1000), folder, "walk")},
    "averageoccupations": lambda folder: {"INPUT": filed(epochs(200, 1000), folder, "walk")},
    "fitalignments": lambda folder: {"INPUT": filed(lines(grid(8000)), folder, "edges")},
    "mergepasses": lambda folder: {
        "INPUT": filed(lines(grid(3000) + grid(3000, seed=6)), folder, "edges")},
    "joinedges": lambda folder: {"INPUT": filed(lines(grid(20000)), folder, "edges")},
    "offsetedges": lambda folder: {
        "INPUT": filed(lines(grid(15000)), folder, "edges"), "SECTION": "foot: 0.02 -0.15"},
    "estimateshift": lambda folder: {
        "INPUT": filed(lines(grid(12000)), folder, "edges"),
        "EXISTING": filed(lines(grid(12000, seed=6)), folder, "base")},
    "compareedges": lambda folder: {
        "INPUT": filed(lines(grid(5000)), folder, "edges"),
        "EXISTING": filed(lines(grid(5000, seed=6)), folder, "base"), **_report(folder)},
    "updatebasemap": lambda folder: {
        "EDGES": filed(lines(grid(5000)), folder, "edges"),
        "EXISTING": filed(lines([one + (0, 0.6, 0) for one in grid(5000, seed=6)]), folder, "base"),
        **_report(folder)},
    "readnmealog": lambda folder: {"INPUT": [_log(folder, 150_000)]},
    "curbheight": lambda folder: {
        "INPUT": filed(lines(grid(8000)), folder, "edges"),
        "FLOW_LINE": filed(lines([one + (0, -0.3, -0.12) for one in grid(8000)]), folder, "foot")},
    "checkaccuracy": lambda folder: {
        "INPUT": filed(lines(grid(10000)), folder, "edges"),
        "CHECK_POINTS": filed(_check_points(30000), folder, "check"), **_report(folder)},
    "revisits": lambda folder: {"FOLDER": str(folder / "results"), "MIN_REJECTED": 1},
    "processcaptures": _batch,
    "processcaptures again": _batch,
}  # fmt: skip


def watching_log():
    """A log that keeps the processor's time of each look, and from where it came."""
    from walkedlayers import Log

    class Watching(Log):
        """`gaps`: seconds, after which place, before which."""

        def __init__(self):
            super().__init__()
            self.gaps, self.last, self.place = [], time.process_time(), "the start"

        def isCanceled(self):
            self.look()
            return super().isCanceled()

        def _watch(self, percent):
            self.look()  # whoever says how far the work is has looked; a stage's own look is unseen
            super()._watch(percent)

        def look(self, place=None):
            now = time.process_time()
            took = now - self.last
            if took > 0.1 or place:
                here = place or _place(sys._getframe(2))
                self.gaps.append((took, self.place, here))
                self.place = here
            else:
                self.place = sys._getframe(2)
            self.place = self.place if isinstance(self.place, str) else _place(self.place)
            self.last = time.process_time()

    return Watching()


def _place(frame):
    """The lines that led here, the last ones of this project."""
    found = []
    while frame is not None and len(found) < 4:
        path = frame.f_code.co_filename
        if "/algorithms/" in path or "/shared/" in path:
            name = f"{Path(path).stem}:{frame.f_lineno}"
            if Path(path).stem not in ("feedback", "stage"):
                found.append(name)
        frame = frame.f_back
    return " < ".join(found)


def given(name, folder):
    """An algorithm of `CASES` and its parameters, outputs into a folder; what it needs of a former
    run is made."""
    from sizes import outputs_of
    from walkedlayers import run

    algorithm = name.split()[0]
    if name in ("revisits", "processcaptures again"):
        of_batch = _batch(folder)
        run("processcaptures", of_batch)
    parameters = of_batch if "again" in name else CASES[name](folder)
    targets = {key: str(folder / f"out_{key}.gpkg") for key in outputs_of(algorithm)}
    return algorithm, {**targets, **parameters}


def child(name, worst):
    """Run one algorithm; its longest stretches as JSON."""
    from measuring import start_host
    from walkedlayers import run

    plugin = start_host()
    with tempfile.TemporaryDirectory() as place:
        algorithm, parameters = given(name, Path(place))
        log, start = watching_log(), time.process_time()
        run(algorithm, parameters, log)
        log.look("the end")
        total = time.process_time() - start
    log.gaps.sort(reverse=True)
    sys.stdout.write(json.dumps({"total": total, "gaps": log.gaps[:worst]}) + "\n")
    sys.stdout.flush()
    del plugin
    os._exit(0)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", nargs="+", help="names of algorithms")
    parser.add_argument("--worst", type=int, default=3)
    parser.add_argument("--child", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        child(options.child, options.worst)
    print("| algorithm | run, s | longest without a look, s |\n| --- | ---: | ---: |")
    for name in options.only or CASES:
        done = subprocess.run(
            [sys.executable, __file__, "--child", name, "--worst", str(options.worst)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode or not done.stdout.strip():
            print(f"| {name} | failed: {done.stderr.strip().splitlines()[-1:]} |", flush=True)
            continue
        found = json.loads(done.stdout.strip().splitlines()[-1])
        print(f"| {name} | {found['total']:.1f} | {found['gaps'][0][0]:.2f} |")
        for took, after, before in found["gaps"]:
            if took > MOST / 2:
                print(f"    {took:.2f} s after {after}, before {before}")
        sys.stdout.flush()


if __name__ == "__main__":
    main()
