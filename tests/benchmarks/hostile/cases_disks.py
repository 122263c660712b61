"""Disks that are full or cannot be written to, and places that vanish."""

import contextlib
import os
import subprocess
from functools import cache

from frame import case
from qgis.core import QgsVectorLayer
from walkedlayers import layer_of, walk

FULL, PLACES = "full disks", "places that cannot be written to"
FORMATS = ("gpkg", "shp", "csv", "geojson", "fgb")
SIZES = (40, 200, 600, 1500)  # kB
OUTPUTS = ("OUTPUT", "GAPS", "REJECTED", "KEPT", "STATIONS")


@contextlib.contextmanager
def small_disk(box, kilobytes):
    folder = box.folder / "small"
    folder.mkdir()
    done = subprocess.run(
        ["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "small", str(folder)],
        capture_output=True,
    )
    if done.returncode:
        box.skip("no volume can be mounted")
    try:
        yield folder
    finally:
        subprocess.run(["umount", "--lazy", str(folder)], check=True)


@cache
def long_walk():
    """Some thousand epochs, most of which are kept."""
    return layer_of(walk(captures=60))


def looks_like_a_result(folder):
    return sorted(path.name for path in folder.iterdir() if not path.name.startswith(".old"))


@case(
    FULL,
    each=[
        (output, form, size)
        for output in ("KEPT", "STATIONS")
        for form in FORMATS
        for size in SIZES
    ],
)
def rows_on_a_full_disk(box, output, form, size):
    """All rows, or an error and no file."""
    with small_disk(box, size) as folder:
        path = folder / f"{output.lower()}.{form}"
        outputs = {"OUTPUT": "memory:", output: str(path)}
        outcome = box.run("reconstructedges", INPUT=long_walk(), **outputs)
        if outcome.error is None:
            expected = outcome.results["EPOCHS_KEPT"] if output == "KEPT" else 1
            layer = QgsVectorLayer(str(path), "", "ogr")
            return box.whole(
                layer.isValid() and sum(1 for _ in layer.getFeatures()) >= expected, "rows missing"
            )
        box.whole(not looks_like_a_result(folder), f"left: {looks_like_a_result(folder)}")
        return box.refused(
            outcome, output[:4].lower(), str(path), "room", "full|space|rows|failure"
        )


@case(FULL, each=[(form, size) for form in FORMATS for size in SIZES])
def a_former_result_on_a_disk_that_gets_full(box, form, size):
    """The former result stays where the new one has no room."""
    with small_disk(box, size) as folder:
        path = folder / f"kept.{form}"
        outputs = {"OUTPUT": "memory:", "KEPT": str(path)}
        first = box.run("reconstructedges", INPUT=layer_of(walk()), **outputs)
        if first.error is not None:
            box.skip("no room for the former one")
        before = {one.name: one.read_bytes() for one in folder.iterdir()}
        outcome = box.run("reconstructedges", INPUT=long_walk(), **outputs)
        after = {one.name: one.read_bytes() for one in folder.iterdir()}
        if outcome.error is None:
            layer = QgsVectorLayer(str(path), "", "ogr")
            return box.whole(layer.featureCount() == outcome["EPOCHS_KEPT"], "rows missing")
        box.whole(after == before, f"{sorted(after)} against {sorted(before)}")
        return box.refused(outcome, "kept", str(path), "room", "as it was")


@case(FULL, each=(8, 16, 24, 40))
def a_report_on_a_full_disk(box, size):
    from linelayers import line_layer, straight

    with small_disk(box, size) as folder:
        outcome = box.run(
            "compareedges",
            INPUT=line_layer([straight(0.1 + 3 * row) for row in range(30)]),
            EXISTING=line_layer([straight(3.0 * row) for row in range(30)]),
            OUTPUT="memory:", EXISTING_STATUS="memory:", STATIONS="memory:", SUMMARY="memory:",
            REPORT=str(folder / "report.html"),
        )  # fmt: skip
        if outcome.error is None:
            text = (folder / "report.html").read_text(encoding="utf-8")
            return box.whole(text.endswith("</html>\n"), "cut short")
        box.whole(not looks_like_a_result(folder), "a report is left")
        return box.refused(outcome, "Report", "report.html", "space")


@case(FULL, each=(60, 150, 300, 500, 700, 900, 1200, 1600, 2200))
def the_batch_on_a_full_disk(box, size):
    """The old results stay to the byte, whatever step finds the disk full."""
    with small_disk(box, size) as folder:
        first = box.run("processcaptures", LAYERS=[layer_of(walk())], FOLDER=str(folder))
        before = {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
        if first.error is not None:
            box.whole(not before, f"left: {sorted(before)}")
            return box.refused(
                first, "could not be written|cannot be written", str(folder), "room|space"
            )
        outcome = box.run(
            "processcaptures", LAYERS=[long_walk()], FOLDER=str(folder), FIT_ALIGNMENTS=True
        )
        if outcome.error is None:
            layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=edges", "", "ogr")
            return box.whole(layer.featureCount() == outcome["EDGES"], "edges missing")
        after = {one.name: one.read_bytes() for one in folder.iterdir() if one.is_file()}
        box.whole(after == before, f"{sorted(after)} against {sorted(before)}")
        return box.refused(
            outcome, "could not be written|cannot be written", str(folder), "room|space"
        )


@case(PLACES, each=[(output, form) for output in OUTPUTS for form in FORMATS])
def rows_to_a_read_only_volume(box, output, form):
    with small_disk(box, 400) as folder:
        subprocess.run(["mount", "-o", "remount,ro", str(folder)], check=True)
        path = folder / f"rows.{form}"
        outputs = {"OUTPUT": "memory:", output: str(path)}
        outcome = box.run("reconstructedges", INPUT=layer_of(walk()), **outputs)
        return box.refused(outcome, str(path), "read-only", "choose")


@case(PLACES, each=[(output, form) for output in OUTPUTS for form in FORMATS])
def rows_to_a_folder_that_is_not_there(box, output, form):
    path = box.folder / "gone" / f"rows.{form}"
    outputs = {"OUTPUT": "memory:", output: str(path)}
    outcome = box.run("reconstructedges", INPUT=layer_of(walk()), **outputs)
    return box.refused(outcome, str(path), "no folder", "choose")


@case(PLACES, each=("/dev/full", "/dev/null", "link", "report"))
def results_to_a_device(box, where):
    if where == "report":
        from linelayers import line_layer, straight

        outcome = box.run(
            "compareedges", INPUT=line_layer([straight(0.1)]), EXISTING=line_layer([straight(0)]),
            OUTPUT="memory:", EXISTING_STATUS="memory:", STATIONS="memory:", SUMMARY="memory:",
            REPORT="/dev/full",
        )  # fmt: skip
        return box.refused(outcome, "/dev/full", "space", "choose")
    path = where
    if where == "link":
        path = box.folder / "edges.csv"
        path.symlink_to("/dev/full")
    outcome = box.run("reconstructedges", INPUT=layer_of(walk()), OUTPUT=str(path))
    box.whole(not os.path.exists("/dev/full.gpkg"), "a file among the devices")
    return box.refused(outcome, str(path), "device", "choose")


@case(PLACES, each=FORMATS)
def a_folder_that_vanishes_while_it_is_written_to(box, form):
    """The folder is moved away once the rows have begun to be written."""
    from walkedlayers import Log

    folder = box.folder / "out"
    folder.mkdir()

    class Mover(Log):
        def setProgress(self, percent):
            if percent > 80 and folder.exists():
                folder.rename(box.folder / "moved")
            super().setProgress(percent)

        def pushInfo(self, text):
            if text.startswith("Kept") and folder.exists():
                folder.rename(box.folder / "moved")
            super().pushInfo(text)

    outcome = box.run(
        "reconstructedges", log=Mover(), INPUT=long_walk(), OUTPUT="memory:",
        KEPT=str(folder / f"kept.{form}"),
    )  # fmt: skip
    return box.refused(outcome, "kept", "choose|make")


@case(PLACES, each=FORMATS)
def rows_without_position_in_every_format(box, form):
    """All rows are there, or the error says which are not."""
    rows = walk()
    for row in rows[:7]:
        row["x"] = None
    path = box.folder / f"rejected.{form}"
    outcome = box.run(
        "reconstructedges", INPUT=layer_of(rows), OUTPUT="memory:", REJECTED=str(path)
    )
    if outcome.error is not None:
        return box.refused(outcome, "rows")
    found = sum(1 for _ in QgsVectorLayer(str(path), "", "ogr").getFeatures())
    return box.whole(found == outcome["EPOCHS_REJECTED"], f"{found} rows")
