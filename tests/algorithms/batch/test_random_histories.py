"""Random histories of a folder of results: people decide, edit and delete; then nights come with
captures added, corrected, renamed, shared out, in another CRS, with other settings, cancelled. What
somebody said is on the line that was looked at, or in `superseded` with the reason, and nowhere
else; the same night again changes nothing; counts add up."""

import json
import random
import sqlite3
from contextlib import closing

import numpy as np
import pytest
import shapely
from batchruns import UTM, in_degrees, moved, opened, process
from linelayers import line_layer
from qgis.core import (
    NULL,
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsGeometry,
    QgsProcessingException,
    QgsProject,
)
from test_carry_over import Editing, superseded
from walkedlayers import ORIGIN, Log, layer_of, walk

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")
REVIEWED = ("edges", "merged", "comparison", "existing_status")
WORDS = ("accept", "hold", "reject")
BASEMAP = (  # name and line; some lie one on the other
    ("curb", ((0, 0.4), (18, 0.4))),
    ("road", ((0, 0.4), (18, 0.4))),
    ("return", ((18, 0.4), (18, 30))),
    ("gone", ((0, 72), (18, 72))),
    ("far", ((0, 200), (40, 200))),
)
ACTS = {"only_existing": "retire", "displaced": "redraw", "partly": "redraw", "only_new": "add"}
# what each run tells anew of itself, or of the update, which has moments
OF_RUNS = {"run_log", "history", "summary", "superseded", "updated", "changes", "held"}
HAPPENS = (
    "leave_out", "leave_out", "bring_back", "rename", "correct", "shift", "share_out", "reorder",
    "crs", "set", "set",
)  # fmt: skip
SETTINGS = (
    ("TOLERANCE", (0.003, 0.03)),
    ("MAX_TIME_GAP", (2, 60)),
    ("MAX_DISTANCE_GAP", (0, 60)),
    ("DOUBTFUL", (0, 1)),
    ("MERGE_PASSES", (False, True)),
    ("UPDATE_BASEMAP", (0, 1, 2)),
    ("TARGET_CRS", (None, "EPSG:4326", "EPSG:3857")),
)


class Nights:
    """A folder of results, the captures of the day, and what somebody said: the words, by the
    remark that comes with them."""

    def __init__(self, seed, folder):
        self.chance = random.Random(seed)  # noqa: S311 (no secret)
        self.folder, self.said = folder, {}
        self.sources = {
            "quay": walk(seed=1, captures=2, epochs=40),
            "island": moved(walk(seed=2, captures=1, epochs=40), 60.0, 5000.0),
            "quay again": moved(walk(seed=3, captures=1, epochs=40), 0.01, 90000.0),
        }
        self.away, self.degrees = {}, set()
        self.settings = {"WRITE_EPOCHS": False, "LIST_REVISITS": False, "UPDATE_BASEMAP": 1}

    def run(self, log=None):
        layers = [
            in_degrees(rows, name) if name in self.degrees else layer_of(rows, name=name)
            for name, rows in self.sources.items()
        ]
        existing = line_layer(
            [np.array(line, float) for _, line in BASEMAP],
            name="basemap",
            origin=ORIGIN,
            fields=(("name", "string"),),
            values=[[name] for name, _ in BASEMAP],
        )
        return process(layers, self.folder, log, EXISTING=existing, **self.settings)

    def cancelled(self):
        """A run that is cancelled early, midway or late; where that is not too late, all stays."""
        before, share = self.tables(), self.chance.choice((2, 30, 60))
        try:
            self.run(Log(cancel_at=share))
        except QgsProcessingException:
            assert self.tables() == before

    def change(self):
        """Something that happens to the captures, or to the settings."""
        name = self.chance.choice(list(self.sources))
        what = self.chance.choice(HAPPENS)
        rows = self.sources[name]
        if what == "leave_out" and len(self.sources) > 1:
            self.away[name] = self.sources.pop(name)
        elif what == "bring_back":
            self.sources.update(self.away)
            self.away = {}
        elif what == "rename":
            self.sources[name + ", final"] = self.sources.pop(name)
        elif what == "correct":
            self.sources[name] = [row for k, row in enumerate(rows) if k % 7 != 3]
        elif what == "shift":
            self.sources[name] = moved(rows, self.chance.choice((0.012, 0.3)))
        elif what == "share_out":
            first = [row for row in rows if row["capture"] == rows[0]["capture"]]
            if len(first) < len(rows):
                self.sources[name] = first
                self.sources[name + " 2"] = [row for row in rows if row not in first]
        elif what == "reorder":
            self.sources = dict(reversed(self.sources.items()))
        elif what == "crs":
            self.degrees ^= {name}
        elif what == "set":
            setting, values = self.chance.choice(SETTINGS)
            self.settings[setting] = self.chance.choice(values)

    def tables(self):
        with closing(sqlite3.connect(str(self.folder / "curbwright.gpkg"))) as database:
            names = [name for (name,) in database.execute("SELECT table_name FROM gpkg_contents")]
            return {
                name: database.execute(f'SELECT * FROM "{name}" ORDER BY 1').fetchall()
                for name in names
            }

    def rows(self, name):
        """Rows of a layer with their places, metres."""
        layer = opened(self.folder, name)
        way = QgsCoordinateTransform(
            layer.crs(), QgsCoordinateReferenceSystem(UTM), QgsProject.instance().transformContext()
        )
        for row in layer.getFeatures():
            shape = QgsGeometry(row.geometry())
            shape.transform(way)
            yield row, shapely.force_2d(shapely.from_wkb(bytes(shape.asWkb())))

    def work(self):
        """Somebody decides on some lines of each layer, edits a field, deletes a line."""
        for name in sorted(set(REVIEWED) & set(self.tables())):
            places = {row.id(): shape for row, shape in self.rows(name)}
            with Editing(self.folder, name) as edit:
                for row in edit.rows:
                    if self.chance.random() < 0.6:
                        continue
                    self._no_more(row["remark"], name)
                    if self.chance.random() < 0.15:
                        edit.delete(row)
                        continue
                    remark, word = f"remark {len(self.said)}", self.chance.choice(WORDS)
                    edit.set(row, remark=remark, decision=word, decided_by=f"of {remark}")
                    self.said[remark] = (name, word, places[row.id()], row, True)

    def _no_more(self, remark, name):
        """A person wrote something else there; other lines may have it still."""
        if remark != NULL:
            self.said[remark] = (*self.said[remark][:4], False)

    def check(self):
        """All that was said is where it was said of, or kept aside."""
        aside = {json.loads(row["row"]).get("remark") for row in superseded(self.folder)}
        assert all(row["reason"] for row in superseded(self.folder))
        found = set()
        for name in set(REVIEWED) & set(self.tables()):
            for row, shape in self.rows(name):
                assert (row["remark"] == NULL) == (row["decision"] == NULL)
                if row["remark"] != NULL:
                    found.add(row["remark"])
                    self._check_row(name, row, shape)
        lost = {one for one, (*_, holds) in self.said.items() if holds} - found - aside
        assert not lost, {one: self.said[one][:2] for one in lost}

    def _check_row(self, name, row, shape):
        layer, word, looked_at, former, _ = self.said[row["remark"]]
        assert (name, row["decision"], row["decided_by"]) == (layer, word, f"of {row['remark']}")
        points = shapely.line_interpolate_point(shape, np.linspace(0.01, 0.99, 99), normalized=True)
        assert np.mean(shapely.distance(points, looked_at) < 0.053) > 0.78, row["remark"]
        if name == "existing_status":
            assert row["name"] == former["name"]
        if word == "accept" and name in ("existing_status", "comparison"):
            assert ACTS.get(row["status"]) == ACTS.get(former["status"])

    def check_counts(self, before):
        tables, told = self.tables(), {}
        for row in opened(self.folder, "run_log").getFeatures():
            told[row["section"], row["name"]] = row["value"]
        for (section, name), value in told.items():
            assert section != "result" or int(value) == len(tables[name]), name
        more = len(tables.get("superseded", ())) - len(before.get("superseded", ()))
        assert more == int(told["count", "changes_superseded"])


@pytest.mark.long
@pytest.mark.parametrize("seed", range(100, 106))
def test_what_people_said_is_never_lost(seed, tmp_path):
    nights = Nights(seed, tmp_path)
    nights.run()
    for _ in range(4):
        nights.work()
        nights.check()
        for _ in range(nights.chance.choice((0, 1, 2, 3))):
            nights.change()
        if nights.chance.random() < 0.2:
            nights.cancelled()
        before = nights.tables()
        nights.run()
        nights.check()
        nights.check_counts(before)
    once = nights.tables()
    nights.run()
    nights.check()
    again = nights.tables()
    assert len(again.get("superseded", ())) == len(once.get("superseded", ()))
    assert {name for name in again if again[name] != once[name]} <= OF_RUNS
