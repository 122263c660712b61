"""Seconds of a nightly run of `curbwright:processcaptures` with one new layer, and of a whole run.

    .venv/bin/python tests/benchmarks/nights.py                   40 layers of 5,000 epochs
    .venv/bin/python tests/benchmarks/nights.py 10 --epochs 20k --repeat 3

All layers but the last are processed into a folder; then all of them into the same folder (the
night) and into an empty one (whole). Each run has a process of its own; seconds, of the clock and
of the processor, do not count the start of QGIS. That both give the same is tested in
`tests/algorithms/batch/test_fits.py`.
"""

import argparse
import json
import os
import shutil
import subprocess
import sys
import tempfile
import time
from pathlib import Path

from host_chain import epochs, start_qgis, write_epochs
from measuring import load_clone, parse_size


def make_layers(folder, layers, size):
    """A GeoPackage of `size` epochs for each layer; their paths."""
    columns, paths = epochs(layers * size), []
    for number in range(layers):
        rows = slice(number * size, (number + 1) * size)
        paths.append(folder / f"day_{number + 1:03d}.gpkg")
        write_epochs(paths[-1], {name: column[rows] for name, column in columns.items()})
    return paths


def child(folder, paths):
    """Run the batch in this process and print its seconds."""
    application = start_qgis()
    plugin = load_clone().classFactory(None)
    plugin.initProcessing()
    import processing

    parameters = {"LAYERS": [f"{path}|layername=epochs" for path in paths], "FOLDER": folder}
    began, worked = time.perf_counter(), time.process_time()
    result = processing.run("curbwright:processcaptures", parameters)
    seconds = time.perf_counter() - began, time.process_time() - worked
    print(json.dumps([seconds, result["LAYERS_DONE"]]), flush=True)
    plugin.unload()
    application.exitQgis()


def measure(folder, paths):
    """Seconds of a run in a process of its own, of the clock and of the processor."""
    with tempfile.TemporaryDirectory() as profile:
        environment = dict(
            os.environ,
            QT_QPA_PLATFORM="offscreen",
            QGIS_CUSTOM_CONFIG_PATH=profile,
            XDG_RUNTIME_DIR=profile,
        )
        command = [sys.executable, __file__, "--child", str(folder), *map(str, paths)]
        done = subprocess.run(command, env=environment, stdout=subprocess.PIPE, text=True)
    if done.returncode != 0:
        raise SystemExit("The run failed; the lines above say why.")
    seconds, layers = json.loads(done.stdout.strip().splitlines()[-1])
    if layers != len(paths):
        raise SystemExit(f"Only {layers} of {len(paths)} layers were processed.")
    return tuple(seconds)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("layers", nargs="?", type=int, default=40)
    parser.add_argument("--epochs", type=parse_size, default=5000, help="of each layer")
    parser.add_argument("--repeat", type=int, default=1, help="runs of each; the best counts")
    parser.add_argument("--child", nargs="+", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    if arguments.child:
        child(arguments.child[0], arguments.child[1:])
        return
    with tempfile.TemporaryDirectory() as work:
        work = Path(work)
        paths = make_layers(work, arguments.layers, arguments.epochs)
        before = work / "before"
        first = measure(before, paths[:-1])
        best = {}
        for turn in range(arguments.repeat):
            for name in ("night", "whole"):
                folder = work / f"{name}_{turn}"
                if name == "night":
                    shutil.copytree(before, folder)
                best[name] = min(best.get(name, (1e9, 1e9)), measure(folder, paths))
        print(f"{arguments.layers} layers of {arguments.epochs:,} epochs; seconds (of processor)")
        for name, (clock, worked) in {"all but the last": first, **best}.items():
            print(f"    {name:18} {clock:7.1f} ({worked:.1f})")


if __name__ == "__main__":
    main()
