"""Many runs of each algorithm in one process: memory, open files, threads and processes left, and
whether every run gives the same bytes.

    .venv/bin/python tests/benchmarks/many_runs.py                      100 runs of each
    .venv/bin/python tests/benchmarks/many_runs.py --runs 20 --only joinedges

Each algorithm has a process of its own. Memory is what the process holds after the first tenth of
the runs and at the end (resident, after a search for cycles). The command ends with an error where
an algorithm grows by more than 5 %, leaves anything open or does not give the same bytes. Of a run
of the batch, into an empty folder each time, the bytes are those of its layers but for what says
when it was made; checkaccuracy writes its report and the PDF of it too.
"""

import argparse
import ctypes
import gc
import hashlib
import json
import os
import re
import shutil
import subprocess
import sys
import tempfile
from pathlib import Path

HERE = Path(__file__).resolve().parent
for folder in (HERE, HERE.parent, HERE.parent / "algorithms",
               HERE.parent / "shared"):  # fmt: skip
    sys.path.insert(0, str(folder))

GROWTH = 1.05  # of memory, from which it counts
WHEN = {"history", "run_log", "summary"}  # layers of the batch that say when, and how long it took
MOMENT = re.compile(r"\d{4}-\d{2}-\d{2}T[\d:.]+Z?|QDateTime\([^)]*\)")


def given(folder):
    """Parameters of each algorithm but its outputs, by name."""
    from linelayers import line_layer, straight
    from walkedlayers import layer_of, to_file, walk

    walked = to_file(layer_of(walk(captures=4)), folder / "walk.gpkg")
    other = to_file(layer_of(walk(seed=2, captures=2)), folder / "other.gpkg")
    lines = [straight(3.0 * row + off, (0.0, 30.0)) for row in range(8) for off in (0.0, 0.01)]
    edges = to_file(line_layer(lines, name="edges"), folder / "edges.gpkg")
    base = to_file(line_layer(lines[::2], name="base"), folder / "base.gpkg")
    tops, feet = (
        to_file(line_layer([_at(line, up) for line in lines], name, "LineStringZ"),
                folder / f"{name}.gpkg")
        for name, up in (("tops", 4.12), ("feet", 4.0))
    )  # fmt: skip
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
        "readnmealog": {"INPUT": [_log(folder)]},
        "curbheight": {"INPUT": tops, "FLOW_LINE": feet},
        "checkaccuracy": {"INPUT": tops, "CHECK_POINTS": _check_points(folder),
                          "REPORT": str(folder / "report.html"),
                          "REPORT_PDF": str(folder / "report.pdf")},
        "revisits": {"FOLDER": str(folder / "results"), "MIN_REJECTED": 1},
        "processcaptures": {"LAYERS": [walked, other], "EXISTING": base,
                            "FOLDER": str(folder / "results")},
    }  # fmt: skip


def _at(line, up):
    """A line at a height, 0.05 m aside for each metre of it."""
    import numpy as np

    return np.column_stack([line + (0.0, 0.05 * up), np.full(len(line), up)])


def _log(folder):
    """An NMEA log of five minutes."""
    import nmealogs

    said = [nmealogs.rmc(f"1200{number // 60:02}{number % 60:02}.00"[-9:], "040526")
            + nmealogs.gga(f"12{number // 60:02}{number % 60:02}.00")
            for number in range(300)]  # fmt: skip
    (folder / "log.nmea").write_bytes(b"".join(said))
    return str(folder / "log.nmea")


def _check_points(folder):
    """Points beside the tops of the curbs."""
    from linelayers import ORIGIN
    from qgis.core import QgsGeometry, QgsPoint
    from walkedlayers import layer_of, to_file

    rows = [{"x": 1.5 + at, "y": 3.0 * row + 0.21, "z": 4.13} for row in range(8)
            for at in range(0, 25, 5)]  # fmt: skip
    layer = layer_of(rows, fields=(("name", "string"),), name="check points",
                     place=lambda x, y, z: QgsGeometry(QgsPoint(ORIGIN[0] + x, ORIGIN[1] + y, z)),
                     values=lambda row: [f"{row['x']:.1f} {row['y']:.1f}"])  # fmt: skip
    return to_file(layer, folder / "check.gpkg")


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
    digest = hashlib.sha256()
    for name in sorted(results):
        digest.update(name.encode())
        for layer in _layers_of(results[name]):
            for row in layer.getFeatures():
                digest.update(MOMENT.sub("", repr(row.attributes())).encode())
                digest.update(bytes(row.geometry().asWkb()) if row.hasGeometry() else b"-")
        digest.update(repr(results[name]).encode())
    return digest.hexdigest()


def _layers_of(result):
    """The layers of a GeoPackage, or of that in a folder of results; none of anything else."""
    from qgis.core import QgsVectorLayer

    path = Path(str(result))
    path = path / "curbwright.gpkg" if path.is_dir() else path
    if path.suffix != ".gpkg":
        return
    whole = QgsVectorLayer(str(path), "", "ogr")
    found = whole.dataProvider().subLayers()
    for name in sorted(one.split("!!::!!")[1] for one in found):
        if name not in WHEN:
            yield QgsVectorLayer(f"{path}|layername={name}", name, "ogr")


def child(algorithm, runs):
    """Run one algorithm many times; what came of it as JSON."""
    from measuring import start_host
    from walkedlayers import run

    plugin = start_host()
    with tempfile.TemporaryDirectory() as place:
        folder = Path(place)
        all_given = given(folder)
        parameters = {**all_given[algorithm], **outputs_of(algorithm, folder)}
        if algorithm == "revisits":
            run("processcaptures", all_given["processcaptures"])
        seen, early = set(), None
        for number in range(runs):
            if algorithm == "processcaptures":
                shutil.rmtree(parameters["FOLDER"], ignore_errors=True)
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
        "readnmealog", "curbheight", "checkaccuracy", "revisits", "processcaptures",
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
