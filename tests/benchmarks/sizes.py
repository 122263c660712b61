"""Very many lines in one place, very many captures, very long values, one layer far larger than the
other: seconds of the processor and memory at n, 2n and 4n.

    .venv/bin/python tests/benchmarks/sizes.py                       every case
    .venv/bin/python tests/benchmarks/sizes.py --only star           names that hold a word
    .venv/bin/python tests/benchmarks/sizes.py --only walks --times 1 2 4 8
    .venv/bin/python tests/benchmarks/sizes.py --only star-mergepasses --profile

Each run has a process of its own; seconds are those of the run alone, workers included. The
exponent is that of the growth from the second size to the last one: 1 is linear, 2 a square.
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

CASES = {}  # (function, size) by name
ORIGIN = (600000.0, 6200000.0)


def case(size, *names):
    """Decorator: a function of a size and a folder, or of these and each name, that makes the name
    of an algorithm and its parameters."""

    def add(function):
        said = function.__name__.replace("_", "-")
        for name in names or (None,):
            own = function if name is None else _with(function, name)
            CASES[said if name is None else f"{said}-{name}"] = (own, size)
        return function

    return add


def _with(function, name):
    return lambda size, folder: function(size, folder, name)


# Layers


def lines(shapes, name="edges", kind="LineStringZ"):
    """A memory layer of lines with `sigma_cross` from arrays of shape (n, 3)."""
    return _layer(kind, [_line(shape) for shape in shapes], name)


def _line(shape):
    from qgis.core import QgsGeometry, QgsLineString

    x, y, z = np.asarray(shape, float).T
    return QgsGeometry(QgsLineString((x + ORIGIN[0]).tolist(), (y + ORIGIN[1]).tolist(),
                                     z.tolist()))  # fmt: skip


def points(places, name="check points"):
    """A memory layer of points from an array of shape (n, 3)."""
    from qgis.core import QgsGeometry, QgsPoint

    made = [QgsGeometry(QgsPoint(x + ORIGIN[0], y + ORIGIN[1], z)) for x, y, z in places]
    return _layer("PointZ", made, name)


def squares(number, side=10.0):
    """A memory layer of squares, a quarter of the side apart."""
    from qgis.core import QgsGeometry, QgsRectangle

    wide = int(np.ceil(np.sqrt(number)))
    made = []
    for one in range(number):
        x, y = ORIGIN[0] + 1.25 * side * (one % wide), ORIGIN[1] + 1.25 * side * (one // wide)
        made.append(QgsGeometry.fromRect(QgsRectangle(x, y, x + side, y + side)))
    return _layer("Polygon", made, "area")


def _layer(kind, geometries, name):
    from qgis.core import QgsFeature, QgsVectorLayer

    layer = QgsVectorLayer(f"{kind}?crs=EPSG:32632&field=sigma_cross:double", name, "memory")
    features = []
    for geometry in geometries:
        feature = QgsFeature(layer.fields())
        feature.setGeometry(geometry)
        feature.setAttributes([0.006])
        features.append(feature)
    done, _ = layer.dataProvider().addFeatures(features)
    assert done, layer.dataProvider().lastError()
    layer.updateExtents()
    return layer


# Shapes


def star(number, length=30.0):
    """Edges that meet in one point."""
    at = length * np.array([0.0, 1 / 6, 1 / 3, 2 / 3, 1.0])
    turns = 2 * np.pi * np.arange(number) / number
    return [np.column_stack([at * np.cos(t), at * np.sin(t), 4 + 0 * at]) for t in turns]


def cross(number, length=30.0):
    """Lines whose middles lie on one another."""
    at = length * np.array([-0.5, -0.2, 0.2, 0.5])
    turns = np.pi * np.arange(number) / number
    return [np.column_stack([at * np.cos(t), at * np.sin(t), 4 + 0 * at]) for t in turns]


def walks(number, length=20.0):
    """Walks of one edge."""
    rng = np.random.default_rng(7)
    x = np.arange(0.0, length + 1.0, 2.0)
    return [
        np.column_stack([x, 2 * np.sin(x / 15) + rng.normal(0, 0.004), 4 + 0 * x])
        for _ in range(number)
    ]


def grid(number, length=20.0, seed=5):
    """Lines that lie beside one another, in rows of a hundred, as the streets of a town."""
    rng = np.random.default_rng(seed)
    at = np.linspace(0.0, length, 5)
    return [
        np.column_stack([at + 25.0 * (one % 100), 6.0 * (one // 100) + rng.normal(0, 0.01)
                         + 0 * at, 4 + 0 * at])
        for one in range(number)
    ]  # fmt: skip


SHAPES = {"star": star, "cross": cross, "walks": walks}
ONE_LAYER = {
    "mergepasses": {},
    "joinedges": {},
    "offsetedges": {"SECTION": "foot: 0.02 -0.15"},
    "fitalignments": {},
}
TWO_LAYERS = ("estimateshift", "compareedges", "updatebasemap")


def _of_shape(shape, size, algorithm):
    edges = lines(shape(size))
    if algorithm in ONE_LAYER:
        return algorithm, {"INPUT": edges, **ONE_LAYER[algorithm]}
    if algorithm == "revisits":
        return algorithm, {"EDGES": edges, "MAX_SIGMA": 0.001}
    if algorithm == "curbheight":
        return algorithm, {"INPUT": edges, "FLOW_LINE": lines(shape(size), "flow line")}
    if algorithm == "checkaccuracy":
        ends = np.array([one[-1] for one in shape(size)])
        return algorithm, {"INPUT": edges, "CHECK_POINTS": points(ends)}
    edge = "EDGES" if algorithm == "updatebasemap" else "INPUT"
    return algorithm, {edge: edges, "EXISTING": lines(shape(size), "existing")}


ALL = (*ONE_LAYER, *TWO_LAYERS, "revisits", "curbheight", "checkaccuracy")


@case(400, *ALL)
def star_of_edges(size, folder, algorithm):
    return _of_shape(star, size, algorithm)


@case(400, *ALL)
def crossing_in_one_point(size, folder, algorithm):
    return _of_shape(cross, size, algorithm)


@case(500, *ALL)
def walks_over_20_m(size, folder, algorithm):
    return _of_shape(walks, size, algorithm)


def _epochs(size, each):
    """Epochs along one walk, so many of them a capture."""
    from walkedlayers import layer_of, walk

    made = walk(captures=1, epochs=size)
    for number, row in enumerate(made):
        row["capture"] = f"c{number // each}"
    return layer_of(made)


@case(25000, "1", "2")
def captures_of_few_epochs(size, folder, each):
    return "reconstructedges", {
        "INPUT": _epochs(size, int(each)), "CAPTURE_FIELDS": ["capture"],
    }  # fmt: skip


@case(2, "reconstructedges", "screenepochs")
def a_text_of_n_mb(size, folder, algorithm):
    from qgis.core import QgsField
    from qgis.PyQt.QtCore import QVariant
    from walkedlayers import layer_of, to_file, walk

    layer = layer_of(walk(captures=2, epochs=2000))
    layer.dataProvider().addAttributes([QgsField("note", QVariant.Type.String)])
    layer.updateFields()
    place = layer.fields().indexOf("note")
    layer.dataProvider().changeAttributeValues({7: {place: "x" * (size << 20)}})
    return algorithm, {"INPUT": to_file(layer, folder / "walk.gpkg")}


@case(250000, "estimateshift", "compareedges", "updatebasemap")
def one_line_of_n_vertices_as_existing(size, folder, algorithm):
    x = np.arange(size) * 0.25
    long_one = np.column_stack([x, 3 * np.sin(x / 40), 4 + 0 * x])
    edges = [long_one[start : start + 200] + (0.0, 0.05, 0.0) for start in range(0, 10000, 400)]
    edge = "EDGES" if algorithm == "updatebasemap" else "INPUT"
    return algorithm, {edge: lines(edges), "EXISTING": lines([long_one], "existing")}


@case(25000, "estimateshift", "compareedges", "updatebasemap")
def basemap_of_n_lines_against_50_edges(size, folder, algorithm):
    edge = "EDGES" if algorithm == "updatebasemap" else "INPUT"
    return algorithm, {
        edge: lines(grid(50)), "EXISTING": lines(grid(size, seed=6), "existing"),
    }  # fmt: skip


@case(12500)
def check_points(size, folder):
    rng = np.random.default_rng(3)
    places = np.column_stack([rng.uniform(0, 2500, size), rng.uniform(0, 120, size),
                              4 + rng.normal(0, 0.02, size)])  # fmt: skip
    return "checkaccuracy", {"INPUT": lines(grid(2000)), "CHECK_POINTS": points(places)}


@case(2500, "compareedges", "updatebasemap")
def polygons_in_area(size, folder, algorithm):
    edge = "EDGES" if algorithm == "updatebasemap" else "INPUT"
    return algorithm, {
        edge: lines(grid(500)), "EXISTING": lines(grid(500, seed=6), "existing"),
        "AREA": squares(size),
    }  # fmt: skip


@case(1250)
def parallel_edges(size, folder):
    feet = [one + (0.0, -0.3, -0.12) for one in grid(size)]
    return "curbheight", {"INPUT": lines(grid(size)), "FLOW_LINE": lines(feet, "flow line")}


@case(1250)
def parallel_edges_side_by_side(size, folder):
    """A bundle, 0.1 m apart."""
    at = np.linspace(0.0, 20.0, 5)
    made = [np.column_stack([at, 0.1 * one + 0 * at, 4 + 0 * at]) for one in range(size)]
    return "curbheight", {
        "INPUT": lines(made),
        "FLOW_LINE": lines([one + (0.0, -0.05, -0.12) for one in made], "flow line"),
    }


def _filed_epochs(x, y, folder, capture="one", fix=4):
    """A GeoPackage of epochs, a second apart."""
    from host_chain import write_epochs

    many = np.ones(len(x))
    write_epochs(folder / "walk.gpkg", {
        "x": x + ORIGIN[0], "y": y + ORIGIN[1], "z": 4 * many, "h_acc": 0.01 * many,
        "v_acc": 0.02 * many, "seconds": 1777888800.0 + np.arange(len(x)),
        "fix": np.full(len(x), fix), "capture": np.broadcast_to(np.asarray(capture), len(x)),
    })  # fmt: skip
    return f"{folder / 'walk.gpkg'}|layername=epochs"


def _into_files(algorithm, folder):
    """A GeoPackage for each output of rows: millions of rows are none for memory layers."""
    return {name: str(folder / f"{name}.gpkg") for name in outputs_of(algorithm)}


def _headings(size, form):
    """Headings of a walk of a metre a step: a staircase of tangents and arcs, or a free form."""
    s = np.arange(size, dtype=float)
    if form == "free":
        return 1.1 * np.sin(s / 60) + 0.6 * np.sin(s / 23 + 1)
    # 40 m straight, then a quarter of a circle of 8 m, to the left and to the right by turns
    place = s % (2 * (40 + 4 * np.pi))
    up = np.clip((place - 40) / (4 * np.pi), 0, 1) - np.clip((place - 80 - 4 * np.pi)
                                                            / (4 * np.pi), 0, 1)  # fmt: skip
    return 0.5 * np.pi * up


@case(250000, "shape", "free")
def one_capture_of_n_epochs(size, folder, form):
    heading, rng = _headings(size, form), np.random.default_rng(11)
    x, y = (np.cumsum(f(heading)) + rng.normal(0, 0.01, size) for f in (np.cos, np.sin))
    return "reconstructedges", {
        "INPUT": _filed_epochs(x, y, folder), "CAPTURE_FIELDS": ["capture"],
        **_into_files("reconstructedges", folder),
    }  # fmt: skip


@case(50000)
def tiny_captures(size, folder):
    """Of five epochs each, in rows of a thousand."""
    number, step = np.repeat(np.arange(size), 5), np.tile(np.arange(5), size)
    rng = np.random.default_rng(12)
    x = 8.0 * (number % 1000) + step + rng.normal(0, 0.01, 5 * size)
    y = 8.0 * (number // 1000) + rng.normal(0, 0.01, 5 * size)
    return "reconstructedges", {
        "INPUT": _filed_epochs(x, y, folder, np.char.add("c", number.astype(str))),
        "CAPTURE_FIELDS": ["capture"], **_into_files("reconstructedges", folder),
    }  # fmt: skip


@case(1250000, "screenepochs", "reconstructedges")
def rows_that_are_all_rejected(size, folder, algorithm):
    s = np.arange(size, dtype=float)
    return algorithm, {
        "INPUT": _filed_epochs(s % 5000, s // 5000, folder, fix=1),
        **_into_files(algorithm, folder),
    }  # fmt: skip


@case(50)
def logs_of_a_receiver(size, folder):
    """Of 120 epochs each."""
    import nmealogs

    logs = []
    for number in range(size):
        said = []
        for epoch in range(120):
            clock = f"{number % 20:02}{epoch // 60:02}{epoch % 60:02}.00"
            place = (f"5556.{7750000 + 60 * number:07},N", f"00300.{2700000 + 9600 * epoch:07},E")
            day = f"{1 + number // 20:02}0526"
            said.append(nmealogs.rmc(clock, day, position=",".join(place)))
            said.append(nmealogs.gga(clock, *place))
        logs.append(folder / f"log {number:03}.nmea")
        logs[-1].write_bytes(b"".join(said))
    return "readnmealog", {"INPUT": [str(path) for path in logs]}


@case(50)
def layers_in_a_batch(size, folder):
    """Of 120 epochs each, a walk beside the other."""
    rng = np.random.default_rng(13)
    x = np.arange(120) + rng.normal(0, 0.01, (size, 120))
    y = 3.0 * np.arange(size)[:, None] + rng.normal(0, 0.01, (size, 120))
    for number in range(size):
        (folder / "in" / f"{number:03}").mkdir(parents=True)
        own = folder / "in" / f"{number:03}"
        _filed_epochs(x[number], y[number], own)
        (own / "walk.gpkg").rename(own.with_suffix(".gpkg"))
    return "processcaptures", {
        "INTAKE": str(folder / "in" / "*.gpkg"), "FOLDER": str(folder / "results"),
    }  # fmt: skip


# Running


def taken():
    """Seconds of the processor of this process and all it started, those that ended included."""
    from measuring import tree_of

    total = 0
    for member in tree_of(os.getpid()):
        fields = Path(f"/proc/{member}/stat").read_text().rpartition(")")[2].split()
        total += sum(map(int, fields[11:15]))
    return total / os.sysconf("SC_CLK_TCK")


def child(name, size, profile):
    """Run one case at one size; what it took as JSON."""
    import cProfile
    import pstats

    from measuring import peak, start_host
    from qgis.core import QgsProcessingException
    from walkedlayers import Log, run

    plugin, log, error = start_host(), Log(), None
    with tempfile.TemporaryDirectory() as place:
        algorithm, parameters = CASES[name][0](size, Path(place))
        before, start = peak(), taken()
        watch = cProfile.Profile(time.process_time) if profile else None
        if watch:
            watch.enable()
        try:
            run(algorithm, outputs_of(algorithm) | parameters, log)
        except QgsProcessingException as problem:
            error = str(problem)
        if watch:
            watch.disable()
            pstats.Stats(watch, stream=sys.stderr).sort_stats("tottime").print_stats(25)
            pstats.Stats(watch, stream=sys.stderr).sort_stats("cumtime").print_stats(60)
        took = taken() - start
    said = {"seconds": took, "before": before, "peak": peak(), "error": error}
    sys.stdout.write(json.dumps(said) + "\n")
    sys.stdout.flush()
    del plugin
    os._exit(0)


def outputs_of(algorithm):
    """Memory layers for all outputs of rows."""
    from qgis.core import QgsApplication

    made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{algorithm}")
    return {
        one.name(): "memory:"
        for one in made.destinationParameterDefinitions()
        if one.type() in ("sink", "vectorDestination")
    }


def attempt(name, size, profile=False, limit=900):
    """Run one case at one size in a process of its own."""
    try:
        done = subprocess.run(
            [sys.executable, __file__, "--child", name, str(size), *["--profile"] * profile],
            capture_output=not profile, text=True, check=False, timeout=limit,
            **({"stdout": subprocess.PIPE} if profile else {}),
        )  # fmt: skip
    except subprocess.TimeoutExpired:
        return {"seconds": np.nan, "before": np.nan, "peak": np.nan, "error": "no end"}
    if done.returncode or not done.stdout.strip():
        return {"seconds": np.nan, "before": np.nan, "peak": np.nan,
                "error": f"ended with {done.returncode}: {(done.stderr or '')[-300:]}"}  # fmt: skip
    return json.loads(done.stdout.strip().splitlines()[-1])


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--only", nargs="+", default=[""], help="words of names")
    parser.add_argument("--times", nargs="+", type=float, default=[1, 2, 4])
    parser.add_argument("--profile", action="store_true")
    parser.add_argument("--child", nargs=2, help=argparse.SUPPRESS)
    options = parser.parse_args()
    if options.child:
        child(options.child[0], int(options.child[1]), options.profile)
    said = " | ".join(f"{times:g}n" for times in options.times)
    print(f"| case | n | {said} | exponent | MB |\n| --- |" + " ---: |" * (len(options.times) + 3))
    for name, (_, size) in CASES.items():
        if not any(word in name for word in options.only):
            continue
        found = [attempt(name, int(size * times), options.profile) for times in options.times]
        seconds = [one["seconds"] for one in found]
        low = seconds[1 if len(seconds) > 2 else 0]
        steps = options.times[-1] / options.times[1 if len(seconds) > 2 else 0]
        exponent = np.log(seconds[-1] / low) / np.log(steps) if steps > 1 else np.nan
        errors = {one["error"] for one in found} - {None}
        print(
            f"| {name} | {size} | " + " | ".join(f"{one:.2f}" for one in seconds)
            + f" | {exponent:.2f} | {found[-1]['peak']:.0f} |"
            + "".join(f" {' '.join(one.split())[:160]}" for one in errors),
            flush=True,
        )  # fmt: skip


if __name__ == "__main__":
    sys.exit(main())
