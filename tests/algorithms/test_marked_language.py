"""What algorithms say, in dialogues, logs and reports, can be translated: nothing of it stays in
English where every text is marked."""

import re
from pathlib import Path

import numpy as np
import pytest
from batchruns import process
from linelayers import line_layer, straight
from markedtexts import marking, unmarked
from qgis.core import QgsApplication
from walkedlayers import ORIGIN, Log, layer_of, run, walk

from curbwright.algorithms.batch.basemap import CLEAR_TOO
from curbwright.algorithms.batch.records import RESULTS
from curbwright.shared.epochs.reasons import REASON_NAMES
from curbwright.shared.lines.comparison_results import STATUS_NAMES
from curbwright.shared.lines.point_pairs import STATE_NAMES
from curbwright.shared.report.basemap import WORDS

EAST = 100000.0  # m, of the lines' origin from that of the epochs
pytestmark = [
    pytest.mark.usefixtures("provider", "without_styles", "without_figures"),
    pytest.mark.one_host,
]

# Values of fields and names of layers stay, and so do standards, units, programs and codes.
VALUES = {*REASON_NAMES, *STATUS_NAMES, *STATE_NAMES, *WORDS, *RESULTS, "single", "merged", "gap",
          "no_edge", "left_open", "rejected", "sigma_cross", "sigma_up", "edge_id"}  # fmt: skip
CODES = {"UTC", "EPSG", "WGS", "UTM", "zone", "QGIS", "GDAL", "PROJ", "Python", "numpy", "scipy",
         "shapely", "Curbwright", "mm", "km", "cm", "en"}  # fmt: skip
DATA = {"quay walk", "basemap", "name", "time", "fix", "h_acc", "capture", "checks", "edges",
        "epoch_unix_seconds", "epoch_walk", "old", "here", "walk", "hacc"}  # fmt: skip
ROLES = {"curbwright/roles.csv"}  # a file that users may write
KNOWN = VALUES | CODES | DATA


def said(log, folder):
    """What was said, without places of files, names of fields, and what the host repeats of the
    results."""
    left_out = re.compile(rf"{re.escape(str(folder))}|[\\/]tmp|Results: |→")
    return "\n".join(line for line in log.text.splitlines() if not left_out.search(line))


def words_of_page(path):
    page = Path(path).read_text(encoding="utf-8").split("<body>")[1]
    return re.sub(r"<[^>]*>", "\n", re.sub(r"<style>.*?</style>", "", page, flags=re.DOTALL))


def lines(moved=0.0, name="old"):
    shapes = [straight(0.0), straight(30.0 + moved), straight(60.0 + 3 * moved)]
    return line_layer(
        shapes, name, fields=(("name", "string"),), values=[("a1",), ("a2",), ("a3",)]
    )


@pytest.mark.parametrize("name", ["compareedges", "updatebasemap", "checkaccuracy"])
def test_reports_and_logs(tmp_path, name):
    page, log = tmp_path / "page.html", Log()
    given = {
        "compareedges": {"INPUT": lines(0.8, "edges"), "EXISTING": lines(), "OUTPUT": "memory:"},
        "updatebasemap": {
            "EDGES": lines(0.8, "edges"), "EXISTING": lines(), "UPDATED": "memory:",
            "CHANGES": "memory:",
        },
        "checkaccuracy": {
            "INPUT": lines(0.0, "edges"), "CHECK_POINTS": points(), "OUTPUT": "memory:",
        },
    }[name]  # fmt: skip
    with marking():
        run(name, {**given, "REPORT": str(page)}, log)
    known = {*KNOWN, "a1", "a2", "a3"}
    assert unmarked(words_of_page(page), known) == []
    assert unmarked(said(log, tmp_path), known) == []


def points():
    same = {"y": 0.01, "z": 4.0, "seconds": 0.0, "fix": 4, "h_acc": 0.0, "capture": "c"}
    rows = [{**same, "x": EAST + x} for x in np.linspace(2.0, 30.0, 9).tolist()]
    return layer_of(rows, name="checks")


def test_a_batch(tmp_path):
    basemap = line_layer(
        [np.array([(0, 0.6), (20, 0.6)])], name="basemap", origin=ORIGIN,
        fields=(("name", "string"),), values=[("here",)],
    )  # fmt: skip
    log = Log()
    with marking():
        process(
            [layer_of(walk(seed=1))], tmp_path, log, EXISTING=basemap, MERGE_PASSES=True,
            FIT_ALIGNMENTS=True, UPDATE_BASEMAP=CLEAR_TOO,
        )  # fmt: skip
    assert unmarked(words_of_page(tmp_path / "report.html"), {*KNOWN, tmp_path.name}) == []
    assert unmarked(said(log, tmp_path), KNOWN) == []


def test_dialogues():
    provider = QgsApplication.processingRegistry().providerById("curbwright")
    with marking():
        for one in provider.algorithms():
            if not hasattr(one, "FIELD_TABLES"):
                continue  # a model
            made = one.create()
            told = [made.displayName(), made.group(), made.shortDescription()]
            told += [other.description() for other in made.outputDefinitions()]
            for parameter in made.parameterDefinitions():
                told += [parameter.description(), parameter.help()]
            left = [text for text in told if unmarked(re.sub(r"<[^>]*>", " ", text), ROLES)]
            assert left == [], one.name()
