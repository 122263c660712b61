"""Sizes: very many lines in one place, very many captures, very long values; and a cancel at any
moment. Work is judged by the processor's time at two sizes, never by the clock."""

import random
import threading
import time
from pathlib import Path

import looks
import numpy as np
from frame import case
from measuring import tree_of
from qgis.core import QgsField, QgsVectorLayer
from qgis.PyQt.QtCore import QVariant
from walkedlayers import Log, layer_of, to_file, walk

GROUP = "size"
MOST = 1.5  # exponent of the growth, from which it is none near linear; a busy machine adds some
# Of edges from one point ever more lie within reach of each other, until what a station meets is
# bounded: so many edges more, so many neighbours more.
MOST_OF_STAR = 1.9


def _geometries(shapes):
    from linelayers import line_layer

    fields = (("sigma_cross", "double"),)
    return line_layer(shapes, kind="LineStringZ", fields=fields, values=[(0.006,)] * len(shapes))


def walks(number):
    """Walks of one edge of 60 m."""
    rng = np.random.default_rng(7)
    x = np.arange(0.0, 61.0, 2.0)
    return [
        np.column_stack([x, 2 * np.sin(x / 15) + rng.normal(0, 0.004), 4 + 0 * x])
        for _ in range(number)
    ]


def star(number):
    """Edges of 30 m that meet in one point."""
    at = np.array([0.0, 5.0, 10.0, 20.0, 30.0])
    turns = 2 * np.pi * np.arange(number) / number
    return [np.column_stack([at * np.cos(t), at * np.sin(t), 4 + 0 * at]) for t in turns]


def _grows(box, sizes, prepare, most=MOST):
    """Run at two sizes; right where the processor's time grows near linearly."""
    took = []
    for size in sizes:
        algorithm, parameters = prepare(size)
        start = time.process_time()
        box.done(box.run(algorithm, **parameters))
        took.append(time.process_time() - start)
    exponent = np.log(took[1] / took[0]) / np.log(sizes[1] / sizes[0])
    why = f"{took[0]:.1f} s and {took[1]:.1f} s: exponent {exponent:.2f}"
    return box.right(exponent < most, why)


@case(GROUP, limit=240)
def six_hundred_walks_of_one_edge(box):
    return _grows(
        box, (200, 600),
        lambda size: ("mergepasses", {"INPUT": _geometries(walks(size)), "OUTPUT": "memory:"}),
    )  # fmt: skip


@case(GROUP, each=("joinedges", "mergepasses", "compareedges", "updatebasemap"), limit=300)
def edges_that_meet_in_one_point(box, algorithm):
    def prepare(size):
        edges, base = _geometries(star(size)), _geometries(star(size))
        given = {
            "joinedges": {"INPUT": edges, "OUTPUT": "memory:"},
            "mergepasses": {"INPUT": edges, "OUTPUT": "memory:"},
            "compareedges": {"INPUT": edges, "EXISTING": base, "OUTPUT": "memory:"},
            "updatebasemap": {"EDGES": edges, "EXISTING": base, "UPDATED": "memory:",
                              "CHANGES": "memory:"},
        }  # fmt: skip
        return algorithm, given[algorithm]

    return _grows(box, (800, 1600), prepare, MOST_OF_STAR)


@case(GROUP, each=(1, 2), limit=240)
def very_many_captures_of_few_epochs(box, each):
    """Nothing but short runs: an error that says so, or no edge."""

    def rows(size):
        made = walk(captures=1, epochs=size)
        for number, row in enumerate(made):
            row["capture"] = f"c{number // each}"
        return layer_of(made)

    took = []
    for size in (3000, 12000):
        layer, start = rows(size), time.process_time()
        outcome = box.run(
            "reconstructedges", INPUT=layer, OUTPUT="memory:", CAPTURE_FIELDS=["capture"]
        )
        box.right(outcome.error or outcome["EDGES"] == 0, "an edge through captures of one epoch")
        took.append(time.process_time() - start)
    return box.right(took[1] < 4**MOST * took[0], f"{took} s")


@case(GROUP)
def a_text_of_8_mb_in_one_row(box):
    """It must not be made room for in every row."""
    layer = layer_of(walk(captures=2, epochs=2000))
    layer.dataProvider().addAttributes([QgsField("note", QVariant.Type.String)])
    layer.updateFields()
    place = layer.fields().indexOf("note")
    layer.dataProvider().changeAttributeValues({7: {place: "x" * (8 << 20)}})
    source = to_file(layer, box.folder / "walk.gpkg")
    outcome = box.run(
        "reconstructedges", INPUT=source, KEPT=str(box.folder / "kept.gpkg"), OUTPUT="memory:"
    )
    box.done(outcome)
    with open("/proc/self/status", encoding="ascii") as file:
        peak = next(int(line.split()[1]) for line in file if line.startswith("VmHWM")) / 1024
    return box.right(peak < 2500, f"{peak:.0f} MB")


class _Stop(Log):
    """Cancels at a look at the button, and keeps the processor's time from then on."""

    def __init__(self, look):
        super().__init__()
        self.look, self.since = look, None

    def isCanceled(self):
        self.look -= 1
        if self.look <= 0 and self.since is None:
            self.since = time.process_time()
            self.cancel()
        return super().isCanceled()


@case(GROUP, each=("reconstructedges", "mergepasses", "compareedges"), limit=240)
def a_cancel_at_any_moment(box, algorithm):
    """Within a second of the processor's time after it, and nothing is left."""
    given = {
        "reconstructedges": {"INPUT": layer_of(walk(captures=60, epochs=500))},
        "mergepasses": {"INPUT": _geometries(walks(100))},
        "compareedges": {"INPUT": _geometries(walks(60)), "EXISTING": _geometries(star(200))},
    }[algorithm]
    chance, worst = random.Random(3), 0.0  # noqa: S311
    for _ in range(8):
        path = box.folder / "edges.gpkg"
        box.target(path)
        log = _Stop(chance.randint(1, 60))
        box.run(algorithm, log=log, OUTPUT=str(path), **given)
        if log.since is not None:
            worst = max(worst, time.process_time() - log.since)
            box.whole(not list(box.folder.iterdir()), "files are left after a cancel")
        path.unlink(missing_ok=True)
    return box.right(worst < 1.0, f"{worst:.2f} s until it stopped")


def _cancelled_at(box, algorithm, parameters, moment):
    """Run, with a cancel when so many seconds of the processor have passed; what came of it, and
    how many more passed until it ended, None where it ended before."""
    log, start, over = Log(), time.process_time(), threading.Event()

    def press():
        while not over.wait(0.005):
            if time.process_time() - start >= moment:
                log.cancel()
                return

    finger = threading.Thread(target=press, daemon=True)
    finger.start()
    outcome = box.run(algorithm, log=log, **parameters)
    took = time.process_time() - start
    over.set()
    finger.join()
    return outcome, took - moment if log.isCanceled() else None


@case(GROUP, each=tuple(looks.CASES), limit=1200)
def a_cancel_at_ten_moments(box, name):
    """Evenly over a run: within a second of the processor's time, the former results stay, nothing
    else is left, no process either. Once the first result is in its place a cancel is not heard any
    more, and all of them are new."""
    algorithm, parameters = looks.given(name, box.folder)
    start = time.process_time()
    first = box.run(algorithm, **parameters)
    box.done(first)
    whole, worst = time.process_time() - start, 0.0
    before, rows, processes = _files(box.folder), _rows(first.results), len(tree_of("self"))
    for number in range(1, 11):
        outcome, delay = _cancelled_at(box, algorithm, parameters, whole * number / 11)
        when = f"after a cancel at {number}/11"
        if outcome.results:
            box.whole(_rows(outcome.results) == rows, f"rows are missing {when}")
            before = _files(box.folder)
            continue
        worst = max(worst, delay)
        box.whole(_files(box.folder) == before, f"not as before {when}")
        box.right(len(tree_of("self")) <= processes, "a process is left")
    return box.right(worst < 1.0, f"{worst:.2f} s"), f"{worst:.2f} s of a run of {whole:.1f} s"


def _rows(results):
    """How many rows the files among some results hold."""
    return {
        name: QgsVectorLayer(str(path), name, "ogr").featureCount()
        for name, path in results.items()
        if str(path).endswith(".gpkg")
    }


def _files(folder):
    """What the files of a folder hold, those of SQLite's own beside them left out."""
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in sorted(Path(folder).rglob("*"))
        if path.is_file() and not path.name.endswith(("-wal", "-shm"))
    }
