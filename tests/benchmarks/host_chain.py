"""Time and memory of `curbwright:reconstructedges` beside the host's own chain, on the same epochs
in the same run.

    .venv/bin/python tests/benchmarks/host_chain.py               one million epochs
    .venv/bin/python tests/benchmarks/host_chain.py 100k 1M 10M   a growing series
    .venv/bin/python tests/benchmarks/host_chain.py --target gpkg --repeat 3
    .venv/bin/python tests/benchmarks/host_chain.py 1M --edges FILE --rates 1 8

The host's chain is what one would do with QGIS alone: extract by expression (fixed solution only),
points to path (by capture, in the order of time), smooth, simplify. It neither screens nor breaks
lines at gaps, so it has less to do. The third line of each size is reading and writing alone: the
same epochs read, the same edges written, nothing in between. Each side runs in a process of its
own, reads the same GeoPackage, and writes either what the dialogs propose (temporary layers,
`--target memory`) or a GeoPackage for every step. Seconds do not count the start of QGIS; the peak
is that of the process and all that it starts, looked at five times a second; what they share counts
once. Seconds of the processor are those of all of them, of workers as last looked at; of reading
and writing alone, with the run that makes the edges beforehand. With `--edges`, walks along the
lines of a file in metres (`real_walks`) are measured too, at each of the rates.
"""

import argparse
import json
import os
import resource
import sqlite3
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from measuring import ROOT, load_clone, memory_of, parse_size, seconds_of, tree_of

CRS = 32632
ORIGIN = (500000.0, 6200000.0)
SIDES = ("host", "curbwright", "bare")


def walks_of(edges, rate):
    """A trial set; walks along every third line of a file where one is given."""
    load_clone()
    if edges:
        from curbwright.tests.benchmarks.real_walks import stretches, walks_along

        return walks_along(stretches(edges)[::3], 1, rate)
    from curbwright.sample_project.simulation import trial_set

    return trial_set(20250506)


def epochs(count, edges=None, rate=1.0):
    """Columns of `count` simulated epochs: one trial set, or walks along lines of a file, repeated
    over a wide grid and over the days.

    Returns
    -------
    dict of numpy.ndarray, shape (count,)
        ``x``, ``y``, ``z`` metres (NaN where absent), ``seconds`` Unix time, ``fix``, ``h_acc``,
        ``v_acc``, and ``capture`` as text.
    """
    walks = walks_of(edges, rate)
    columns = {
        name: np.concatenate([getattr(walk, name) for walk in walks])
        for name in ("x", "y", "z", "seconds", "fix", "h_acc", "v_acc")
    }
    capture = np.concatenate([np.full(len(walk), walk.capture) for walk in walks])
    size = len(capture)
    copies = -(-count // size)
    side = int(np.ceil(np.sqrt(copies)))
    copy = np.repeat(np.arange(copies), size)[:count]
    columns = {name: np.tile(column, copies)[:count] for name, column in columns.items()}
    apart = 4000.0 if edges is None else 25000.0  # m
    columns["x"] = columns["x"] + ORIGIN[0] + apart * (copy % side)
    columns["y"] = columns["y"] + ORIGIN[1] + apart * (copy // side)
    columns["seconds"] = columns["seconds"] + 86400.0 * copy
    columns["capture"] = np.char.add(
        np.char.add(np.char.zfill(copy.astype(str), 5), "-"), np.tile(capture, copies)[:count]
    )
    return columns


def write_epochs(path, columns):
    """Write epochs, columns as of `epochs`, to the layer ``epochs`` of a new GeoPackage."""
    from osgeo import gdal, ogr, osr

    gdal.UseExceptions()
    count = len(columns["x"])
    reference = osr.SpatialReference()
    reference.ImportFromEPSG(CRS)
    dataset = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = dataset.CreateLayer("epochs", reference, ogr.wkbPoint25D, ["SPATIAL_INDEX=NO"])
    for name, kind in (
        ("capture", ogr.OFTString),
        ("time", ogr.OFTDateTime),
        ("fix", ogr.OFTInteger),
        ("h_acc", ogr.OFTReal),
        ("v_acc", ogr.OFTReal),
    ):
        layer.CreateField(ogr.FieldDefn(name, kind))
    layer = dataset = None

    # Rows go in through SQLite, several times faster than feature by feature. GeoPackage 1.3,
    # 2.1.3: a header of 8 bytes (magic, version, flags, reference system), then ISO WKB, here of
    # PointZ.
    blob = np.zeros(
        count,
        dtype=[
            ("magic", "S2"),
            ("version", "u1"),
            ("flags", "u1"),
            ("crs", "<i4"),
            ("order", "u1"),
            ("type", "<u4"),
            ("xyz", "<f8", 3),
        ],
    )
    blob["magic"], blob["flags"], blob["crs"], blob["order"], blob["type"] = b"GP", 1, CRS, 1, 1001
    blob["xyz"] = np.column_stack([columns["x"], columns["y"], columns["z"]])
    packed, width = blob.tobytes(), blob.itemsize
    placed = np.isfinite(columns["x"] + columns["y"]).tolist()
    timed = np.isfinite(columns["seconds"])
    stamps = (np.where(timed, columns["seconds"], 0.0) * 1000).round().astype("M8[ms]")
    texts = np.char.add(np.datetime_as_string(stamps), "Z").tolist()
    rows = zip(
        (packed[width * row : width * (row + 1)] if at else None for row, at in enumerate(placed)),
        columns["capture"].tolist(),
        (text if given else None for text, given in zip(texts, timed.tolist())),
        columns["fix"].tolist(),
        columns["h_acc"].tolist(),
        columns["v_acc"].tolist(),
    )
    connection = sqlite3.connect(path)
    with connection:
        connection.executemany(
            "INSERT INTO epochs (geom, capture, time, fix, h_acc, v_acc) VALUES (?, ?, ?, ?, ?, ?)",
            rows,
        )
        connection.execute(
            "UPDATE gpkg_contents SET min_x = ?, min_y = ?, max_x = ?, max_y = ?",
            (
                np.nanmin(columns["x"]),
                np.nanmin(columns["y"]),
                np.nanmax(columns["x"]),
                np.nanmax(columns["y"]),
            ),
        )
    connection.close()
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE)
    dataset.ExecuteSQL("SELECT CreateSpatialIndex('epochs', 'geom')")


def epochs_file(count, edges=None, rate=1.0):
    """Path of a GeoPackage with `count` epochs, see `epochs`; it is kept in the temporary folder
    and made anew where what it is made from is newer."""
    folder = Path(tempfile.gettempdir()) / f"curbwright-benchmarks-{os.getuid()}"
    folder.mkdir(exist_ok=True)
    sources = [Path(__file__), ROOT / "sample_project" / "simulation.py"]
    name = f"epochs_{count}"
    if edges:
        sources += [Path(edges), Path(__file__).with_name("real_walks.py")]
        name += f"_{Path(edges).stem}_{rate:g}_hz"
    path = folder / f"{name}.gpkg"
    if not path.exists() or path.stat().st_mtime < max(
        source.stat().st_mtime for source in sources
    ):
        print(f"making {count:,} epochs: {path}", file=sys.stderr)
        unfinished = path.with_suffix(".part.gpkg")
        unfinished.unlink(missing_ok=True)
        write_epochs(unfinished, epochs(count, edges, rate))
        unfinished.replace(path)
    return path


def start_qgis():
    from qgis.core import QgsApplication

    application = QgsApplication([], False)
    application.initQgis()
    sys.path.append(str(Path(QgsApplication.pkgDataPath()) / "python" / "plugins"))
    from processing.core.Processing import Processing

    Processing.initialize()
    return application


def host_chain(source, target):
    """The host's four steps; seconds of each, and the lines that come out."""
    import processing

    seconds, layer = {}, source
    for algorithm, parameters in (
        ("native:extractbyexpression", {"EXPRESSION": '"fix" = 4'}),
        ("native:pointstopath", {"GROUP_EXPRESSION": '"capture"', "ORDER_EXPRESSION": '"time"'}),
        ("native:smoothgeometry", {"ITERATIONS": 1, "OFFSET": 0.25, "MAX_ANGLE": 180}),
        ("native:simplifygeometries", {"METHOD": 0, "TOLERANCE": 0.01}),
    ):
        name = algorithm.split(":")[1]
        began = time.perf_counter()
        layer = processing.run(algorithm, {"INPUT": layer, **parameters, "OUTPUT": target(name)})[
            "OUTPUT"
        ]
        seconds[name] = time.perf_counter() - began
    return seconds, layer


def curbwright(source, target):
    """The main job with its defaults, every field found by itself; seconds, and the edges."""
    import processing

    began = time.perf_counter()
    layer = processing.run(
        "curbwright:reconstructedges", {"INPUT": source, "OUTPUT": target("edges")}
    )["OUTPUT"]
    return {"reconstructedges": time.perf_counter() - began}, layer


def bare(source, target):
    """As `curbwright`, but the edges are known beforehand: what reading and writing take by
    themselves."""
    import curbwright.shared.reconstruction.reconstruct as core

    def remember(*arguments, **options):
        known.append(reconstruct(*arguments, **options))
        return known[0]

    known, reconstruct = [], core.reconstruct
    core.reconstruct = remember
    curbwright(source, target)

    def recall(*arguments, **options):
        return known[0]

    core.reconstruct = recall
    seconds, layer = curbwright(source, lambda name: target("again"))
    return {"reading and writing": seconds["reconstructedges"]}, layer


def processor():
    """Seconds of the processor so far, of this process alone."""
    used = resource.getrusage(resource.RUSAGE_SELF)
    return used.ru_utime + used.ru_stime


def child(side, path, kind):
    """Run one side in this process and print what it took as JSON."""
    from qgis.core import QgsVectorLayer

    application = start_qgis()
    if side != "host":
        plugin = load_clone().classFactory(None)
        plugin.initProcessing()
    began = processor()
    with tempfile.TemporaryDirectory() as folder:

        def target(name):
            return "TEMPORARY_OUTPUT" if kind == "memory" else str(Path(folder) / f"{name}.gpkg")

        source = f"{path}|layername=epochs"
        seconds, layer = {"host": host_chain, "curbwright": curbwright, "bare": bare}[side](
            source, target
        )
        if isinstance(layer, str):
            layer = QgsVectorLayer(layer, "result", "ogr")
        features, vertices = 0, 0
        for feature in layer.getFeatures():
            features += 1
            vertices += feature.geometry().constGet().nCoordinates()
        del layer, feature
    if side != "host":
        plugin.unload()
    result = {"seconds": seconds, "lines": features, "vertices": vertices}
    print(json.dumps({**result, "processor": processor() - began}), flush=True)
    application.exitQgis()


def measure(side, path, kind):
    """Run one side in a process of its own; its figures as a dict."""
    with tempfile.TemporaryDirectory() as profile:
        environment = dict(
            os.environ,
            QT_QPA_PLATFORM="offscreen",
            QGIS_CUSTOM_CONFIG_PATH=profile,
            XDG_RUNTIME_DIR=profile,
        )
        environment.pop("PYTHONDONTWRITEBYTECODE", None)  # compiled once, as in a user's QGIS
        process = subprocess.Popen(
            [sys.executable, __file__, "--child", side, str(path), "--target", kind],
            env=environment,
            stdout=subprocess.PIPE,
            text=True,
        )
        peak, taken = 0.0, {}
        while process.poll() is None:
            tree = tree_of(process.pid)
            peak = max(peak, memory_of(tree))
            # a worker's twins end with it and are waited for by nobody: their own count is read
            taken.update(seconds_of(tree[1:]))
            time.sleep(0.2)
    if process.returncode != 0:
        raise SystemExit(f"{side} failed on {path}; the lines above say why.")
    result = json.loads(process.stdout.read().strip().splitlines()[-1])
    result["processor"] += sum(taken.values())
    return {**result, "peak": peak, "total": sum(result["seconds"].values())}


def options():
    """What the command line asks for."""
    parser = argparse.ArgumentParser(description=__doc__.split("\n\n")[0])
    parser.add_argument(
        "epochs", nargs="*", type=parse_size, default=[1_000_000], help="10k, 100k, 1M, 10M..."
    )
    parser.add_argument("--target", choices=("memory", "gpkg"), default="memory")
    parser.add_argument("--repeat", type=int, default=1, help="runs of each side; the best counts")
    parser.add_argument("--only", choices=SIDES, help="measure this side alone")
    parser.add_argument(
        "--edges", metavar="FILE", help="also walks along the LineStrings of a file, metres"
    )
    parser.add_argument(
        "--rates", type=float, nargs="+", default=[1.0, 8.0], help="epochs a second along these"
    )
    parser.add_argument("--child", nargs=2, help=argparse.SUPPRESS)
    return parser.parse_args()


def best_runs(path, sides, arguments):
    """The best of several runs of each side, by turns."""
    with open(path, "rb") as file:  # so that all sides find it in the system's cache
        while file.read(1 << 24):
            pass
    best = {}
    for _ in range(arguments.repeat):
        for side in sides:
            result = measure(side, path, arguments.target)
            if side not in best or result["total"] < best[side]["total"]:
                best[side] = result
    return best


def print_runs(count, best):
    """Print the figures of each side, and how they compare."""
    for side, result in best.items():
        print(
            f"{count:>12,}  {side:10}  {result['total']:8.2f}  {result['processor']:9.2f}"
            f"  {result['peak']:8.0f}  {result['lines']:8,}  {result['vertices']:9,}"
        )
        if len(result["seconds"]) > 1:
            for step, seconds in result["seconds"].items():
                print(f"{'':12}    {step:24} {seconds:8.2f}")
    if not {"host", "curbwright"} <= set(best):
        return
    host, ours = best["host"], best["curbwright"]
    more = (
        f", reading and writing {best['bare']['total'] / ours['total']:.2f} of it"
        if "bare" in best
        else ""
    )
    print(
        f"{'':12}  ratio of seconds {ours['total'] / host['total']:.2f}, of the processor's"
        f" {ours['processor'] / host['processor']:.2f}, of peak memory"
        f" {ours['peak'] / host['peak']:.2f}; {1e6 * ours['total'] / count:.1f} s for each"
        f" million{more}",
        flush=True,
    )


def main():
    arguments = options()
    if arguments.child:
        child(*arguments.child, arguments.target)
        return
    sides = [arguments.only] if arguments.only else SIDES
    layers = [("trial set", None, 1.0)]
    if arguments.edges:
        layers += [(f"outlines, {rate:g} Hz", arguments.edges, rate) for rate in arguments.rates]
    for title, edges, rate in layers:
        print(title)
        print(
            f"{'epochs':>12}  {'':10}  {'seconds':>8}  {'processor':>9}  {'peak MB':>8}"
            f"  {'lines':>8}  {'vertices':>9}"
        )
        for count in arguments.epochs:
            print_runs(count, best_runs(epochs_file(count, edges, rate), sides, arguments))


if __name__ == "__main__":
    main()
