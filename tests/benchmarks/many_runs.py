"""Many runs of each line algorithm in one process: memory, open files, threads and processes left,
and whether every run gives the same bytes.

    .venv/bin/python tests/benchmarks/many_runs.py                      100 runs of each
    .venv/bin/python tests/benchmarks/many_runs.py --runs 20 --only joinedges

Each algorithm has a process of its own. Memory is what the process holds after the first tenth of
the runs and at the end (resident, after a search for cycles). The command ends with an error where
an algorithm grows by more than 5 %, leaves anything open or does not give the same bytes.
"""

import argparse
import ctypes
import gc
import hashlib
import json
import os
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent, HERE.parent / "algorithms",
               HERE.parent / "shared"):  # fmt: skip
    sys.path.insert(0, str(folder))

GROWTH = 1.05  # of memory, from which it counts


def given(folder):
    """Parameters of each algorithm but its outputs, by name."""
    from linelayers import line_layer, straight
    from walkedlayers import layer_of, to_file, walk

    walked = to_file(layer_of(walk(captures=4)), folder / "walk.gpkg")
    lines = [straight(3.0 * row + off, (0.0, 30.0)) for row in range(8) for off in (0.0, 0.01)]
    edges = to_file(line_layer(lines, name="edges"), folder / "edges.gpkg")
    base = to_file(line_layer(lines[::2], name="base"), folder / "base.gpkg")
    return {
        "reconstructedges": {"INPUT": walked},
        "screenepochs": {"INPUT": walked},
        "averageoccupations": {"INPUT": walked},
        "fitalignments": {"INPUT": edges},
        "mergepasses": {"INPUT": edges},
        "joinedges": {"INPUT": edges},
        "offsetedges": {"INPUT": edges, "SECTION": "foot: 0.02 -0.15"},
        "estimateshift": {"INPUT": edges, "EXISTING": base},
        "compareedges": {"INPUT": edges, "EXISTING": base},
        "updatebasemap": {"EDGES": edges, "EXISTING": base},
    }


def outputs_of(algorithm, folder):
    """A GeoPackage for each output of rows."""
    from qgis.core import QgsApplication

    made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    return {
        one.name(): str(folder / f"{one.name()}.gpkg")
        for one in made.destinationParameterDefinitions()
        if one.type() in ("sink", "vectorDestination")
    }


def held():
    """Resident memory in MB, open files, threads and child processes of this process."""
    gc.collect()
    ctypes.CDLL(None).malloc_trim(0)  # what is free goes back to the system
    pages = int(Path("/proc/self/statm").read_text().split()[1])
    tasks = [path.name for path in Path("/proc/self/task").iterdir()]
    children = [
        child
        for task in tasks
        for child in Path(f"/proc/self/task/{task}/children").read_text().split()
    ]
    megabytes = pages * os.sysconf("SC_PAGE_SIZE") / 1e6
    return megabytes, len(os.listdir("/proc/self/fd")), len(tasks), len(children)


def bytes_of(results):
    """A hash of all rows of all outputs, and of the numbers returned."""
    from qgis.core import QgsVectorLayer

    digest = hashlib.sha256()
    for name in sorted(results):
        digest.update(name.encode())
        if not str(results[name]).endswith(".gpkg"):
            digest.update(repr(results[name]).encode())
            continue
        for row in QgsVectorLayer(results[name], "", "ogr").getFeatures():
            digest.update(repr(row.attributes()).encode())
            digest.update(bytes(row.geometry().asWkb()) if row.hasGeometry() else b"-")
    return digest.hexdigest()


def child(algorithm, runs):
    """Run one algorithm many times; what came of it as JSON."""
    from measuring import start_host
    from walkedlayers import run

    plugin = start_host()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        parameters = {**given(folder)[algorithm], **outputs_of(algorithm, folder)}
        seen, early = set(), None
        for number in range(runs):
            seen.add(bytes_of(run(algorithm, parameters)))
            if number + 1 == max(runs // 10, 2):
                early = held()
        late = held()
    sys.stdout.write(json.dumps({"early": early, "late": late, "kinds": len(seen)}) + "\n")
    sys.stdout.flush()
    del plugin
    os._exit(0)


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--runs", type=int, default=100)
    parser.add_argument("--only", nargs="+", help="names of algorithms")
    parser.add_argument("--child", help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        child(options.child, options.runs)
    names = options.only or (
        "reconstructedges", "screenepochs", "averageoccupations", "fitalignments", "mergepasses",
        "joinedges", "offsetedges", "estimateshift", "compareedges", "updatebasemap",
    )  # fmt: skip
    print("| algorithm | runs | MB early | MB late | files | threads | processes | same bytes |")
    print("| --- |" + " ---: |" * 7)
    bad = False
    for name in names:
        done = subprocess.run(
            [sys.executable, __file__, "--child", name, "--runs", str(options.runs)],
            capture_output=True, text=True, check=False,
        )  # fmt: skip
        if done.returncode or not done.stdout.strip():
            print(f"| {name} | failed: {done.stderr.strip().splitlines()[-1:]} |")
            bad = True
            continue
        found = json.loads(done.stdout.strip().splitlines()[-1])
        early, late = found["early"], found["late"]
        left = [f"{after - before:+d}" for before, after in zip(early[1:], late[1:])]
        same = found["kinds"] == 1
        bad |= late[0] > GROWTH * early[0] or any(int(one) > 0 for one in left) or not same
        print(
            f"| `{name}` | {options.runs} | {early[0]:.0f} | {late[0]:.0f} | "
            + " | ".join(left)
            + f" | {'yes' if same else found['kinds']} |",
            flush=True,
        )
    return int(bad)


if __name__ == "__main__":
    sys.exit(main())
