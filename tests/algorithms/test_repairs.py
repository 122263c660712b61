"""Repairs through the host: the same table gives the same edges from the core, the algorithm and
the batch; what was decided is told, and nothing is lost from run to run."""

import shutil
import sqlite3
from contextlib import closing
from pathlib import Path

import numpy as np
import pytest
from batchruns import in_degrees, moved, process, rows_of
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from walkedlayers import START, Log, layer_of, reconstruct, source_of, table, walk

from curbwright.algorithms.batch.repairs import BatchRepairs
from curbwright.algorithms.reading import roles
from curbwright.algorithms.reading.epoch_fields import Choices
from curbwright.algorithms.reading.epoch_layer import read_epochs
from curbwright.algorithms.reading.layer_stream import file_behind
from curbwright.algorithms.reading.repair_rows import REPAIR_FIELDS
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.reconstruction import reconstruct as core
from curbwright.shared.reconstruction.refit import nominal_of, refit_capture
from curbwright.shared.reconstruction.repairs import Repairs

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")
NAMES = [field.name for field in REPAIR_FIELDS]
SPIKE, FLOAT, ON_LINE, LATER = 38, 26, 10, 16  # epochs of `walk`


def at(epoch, capture=0):
    return START + 1000.0 * capture + epoch


def repair(kind, epoch, capture=0, **more):
    until = more.pop("until", None)
    return {
        "kind": kind,
        "capture": f"walk {capture + 1}",
        "time": at(epoch, capture),
        "until": None if until is None else at(until, capture),
        "decided_by": "A. Hand",
        "decided_at": "2026-05-05",
        "remark": "seen on site",
        **more,
    }


def some_of_each():
    return [
        repair("leave_out", ON_LINE),
        repair("take_back", FLOAT),
        repair("take_back", SPIKE),
        repair("break_here", LATER),
        repair("element", 3, 1, until=9, value="tangent"),
        repair("corner", 20, 1),
    ]


def table_of(rows, without=()):
    """A table of repairs in memory."""
    names = [name for name in NAMES if name not in without]
    kinds = {"time": "double", "until": "double"}
    fields = "&".join(f"field={name}:{kinds.get(name, 'string')}" for name in names)
    layer = QgsVectorLayer(f"None?{fields}", "repairs", "memory")
    features = []
    for row in rows:
        feature = QgsFeature(layer.fields())
        feature.setAttributes([row.get(name) for name in names])
        features.append(feature)
    assert layer.dataProvider().addFeatures(features)[0]
    return layer


def add_to(folder, rows):
    """Rows put into the table of repairs of results, as a person or a panel does."""
    layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=repairs", "repairs", "ogr")
    assert layer.isValid() and layer.startEditing()
    for row in rows:
        feature = QgsFeature(layer.fields())
        for name, value in row.items():
            if value is not None:
                feature.setAttribute(name, value)
        assert layer.addFeature(feature)
    assert layer.commitChanges(), layer.commitErrors()


def take_out(folder):
    """All repairs deleted."""
    layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=repairs", "repairs", "ogr")
    assert layer.startEditing()
    assert layer.deleteFeatures(layer.allFeatureIds()) and layer.commitChanges()


def lines(layer):
    return [feature.geometry().asWkb().data().hex() for feature in layer.getFeatures()]


@pytest.fixture(scope="module")
def quay():
    return layer_of(walk(seed=1), name="quay walk")


@pytest.fixture(scope="module")
def made_once(tmp_path_factory, quay, provider):
    folder = tmp_path_factory.mktemp("repaired") / "out"
    process([quay, in_degrees(moved(walk(seed=2), 50.0))], folder)
    return folder


@pytest.fixture
def results(made_once, tmp_path):
    return Path(shutil.copytree(made_once, tmp_path / "out"))


def read(layer):
    """The layer as the core gets it."""
    parts = roles.TIME, roles.CAPTURE, roles.FIX, roles.H_ACCURACY, roles.V_ACCURACY
    choices = Choices("", [], "", "", "", "", dict.fromkeys(parts, ""), False)
    return read_epochs(
        source_of(layer),
        file_behind(layer, layer),
        choices,
        QgsCoordinateReferenceSystem(),
        QgsProject.instance().transformContext(),
        Log(),
        lambda share: None,
    )


def test_core_panel_algorithm_and_batch_give_the_same_bytes(quay, results, fitted_anew):
    repairs = some_of_each()
    found = reconstruct(quay, REPAIRS=table_of(repairs))
    add_to(results, [{**row, "layer": "quay walk"} for row in repairs])
    process([quay, in_degrees(moved(walk(seed=2), 50.0))], results)
    epochs = read(quay)
    placed = Repairs.from_rows(repairs).placed(epochs.captures, epochs.origin)
    settings = Settings(doubtful="keep")
    whole = core.reconstruct(epochs.table, settings, repairs=placed)
    x, y = epochs.frame.layer(whole.edges.x, whole.edges.y)
    own = np.array(
        [
            [p.x(), p.y(), p.z()]
            for f in found["OUTPUT"].getFeatures()
            for p in f.geometry().vertices()
        ]
    )
    np.testing.assert_array_equal(own, np.column_stack([x, y, whole.edges.z]))
    in_batch = QgsVectorLayer(f"{results}/curbwright.gpkg|layername=edges", "edges", "ogr")
    assert lines(in_batch)[: len(whole.edges)] == lines(found["OUTPUT"])
    nominal = nominal_of(epochs.table, settings)
    for capture in range(2):
        one = refit_capture(epochs.table, capture, nominal, settings, placed)
        edges = whole.edges.take(np.flatnonzero(whole.edges.capture == capture))
        for name in ("x", "y", "z", "sigma_cross", "length", "started"):
            np.testing.assert_array_equal(
                getattr(one.result.edges, name), getattr(edges, name), err_msg=name
            )
        for name in ("reason", "role", "chainage", "residual_cross", "residual_up", "overruled"):
            np.testing.assert_array_equal(
                getattr(one.result, name), getattr(whole, name)[one.rows], err_msg=name
            )


def test_what_was_decided_is_told(quay):
    log = Log()
    found = reconstruct(quay, log, REPAIRS=table_of(some_of_each()))
    (out,) = [row for row in table(found["REJECTED"]) if row["reason"] == "left_out"]
    assert out["detail"] == "left out by hand by A. Hand, 2026-05-05: seen on site"
    back = {row["overruled"]: row for row in table(found["KEPT"]) if row["overruled"]}
    assert set(back) == {"not_fixed", "spike"}
    assert back["spike"]["taken_back"] == "taken back in by A. Hand, 2026-05-05: seen on site"
    assert "break_asked" in {row["reason"] for row in table(found["GAPS"])}
    assert found["EPOCHS_KEPT"] + found["EPOCHS_REJECTED"] == quay.featureCount()
    assert "Repairs: 6 applied, 0 lost, 0 without effect." in log.infos


def test_lost_repairs_are_warned_of(quay):
    log, rows = Log(), [repair("corner", 0.4), repair("leave_out", 5, capture=7)]
    plain = reconstruct(quay)
    found = reconstruct(quay, log, REPAIRS=table_of(rows))
    assert lines(found["OUTPUT"]) == lines(plain["OUTPUT"])
    assert sum("was not carried out" in text for text in log.warnings) == 2
    assert "no such capture" in log.text and "no epoch at that time" in log.text


@pytest.mark.parametrize(
    ("row", "words"),
    [
        ({"kind": "mend"}, "“kind” is “mend”"),
        ({"kind": "element", "until": at(20), "value": "circle"}, "“value” is “circle”"),
        ({"kind": "bridge"}, "“until” must be later"),
        ({"time": None}, "“time” is empty"),
    ],
)
def test_a_bad_row_is_named(quay, row, words):
    rows = [repair("corner", 12), {**repair("corner", 13), **row}]
    with pytest.raises(QgsProcessingException, match=f"Repairs”, row 2: {words}"):
        reconstruct(quay, REPAIRS=table_of(rows))


def test_a_table_without_a_field_is_named(quay):
    with pytest.raises(QgsProcessingException, match=r"“repairs”: field “time” is missing.*until"):
        reconstruct(quay, REPAIRS=table_of([], without=("time",)))


def test_repairs_are_for_their_layer(quay):
    rows = [
        {**repair("leave_out", ON_LINE), "layer": "quay walk"},
        {**repair("leave_out", ON_LINE + 1), "layer": "another walk"},
        repair("leave_out", ON_LINE + 2),
    ]
    found = reconstruct(quay, REPAIRS=table_of(rows))
    reasons = [row["reason"] for row in table(found["REJECTED"])]
    assert reasons.count("left_out") == 2
    # where none names the layer, which may be called otherwise here, capture and time decide
    log = Log()
    found = reconstruct(quay, log, REPAIRS=table_of(rows[1:2]))
    assert [row["reason"] for row in table(found["REJECTED"])].count("left_out") == 1
    assert "found in it: 1." in log.text


def test_a_rerun_carries_repairs_out_again_and_keeps_them(results, quay):
    """With what became of each, where it acts, and the columns that people added."""
    rows = [{**row, "layer": "quay walk"} for row in some_of_each()]
    rows += [repair("leave_out", 0.5), {**repair("corner", 3), "kind": "mend"}]
    rows += [{**repair("corner", 3), "layer": "gone walk"}]
    with closing(sqlite3.connect(str(results / "curbwright.gpkg"))) as database, database:
        database.execute("ALTER TABLE repairs ADD COLUMN ticket TEXT")
    add_to(results, [{**row, "ticket": f"T{number}"} for number, row in enumerate(rows, 1)])
    states = ["applied"] * 6 + ["lost", "no_effect", "lost"]
    layers, first = [quay, in_degrees(moved(walk(seed=2), 50.0))], None
    for _ in range(2):
        log = Log()
        process(layers, results, log)
        found = rows_of(results, "repairs")
        assert [row["state"] for row in found] == states
        assert [row["ticket"] for row in found] == [f"T{n}" for n in range(1, 10)]
        assert "mend" in found[7]["state_detail"] and found[0]["at"] == "2026-05-04 10:00:10"
        assert "Repairs: 6 applied, 2 lost, 1 without effect." in log.infos
        assert sum(text.startswith("Repair “") for text in log.warnings) == 3
        again = lines(QgsVectorLayer(f"{results}/curbwright.gpkg|layername=edges", "e", "ogr"))
        first = first or again
        assert again == first
    layer = QgsVectorLayer(f"{results}/curbwright.gpkg|layername=repairs", "repairs", "ogr")
    assert layer.wkbType() == QgsWkbTypes.Type.MultiPointZ
    numbers = [feature.geometry().constGet().numGeometries() if feature.hasGeometry() else 0
               for feature in layer.getFeatures()]  # fmt: skip
    assert numbers == [1, 1, 1, 1, 7, 1, 0, 0, 0]
    report = (results / "report.html").read_text(encoding="utf-8")
    assert "<h2>Repairs</h2>" in report and "A. Hand, 2026-05-05, seen on site" in report
    # taken out, the former bytes come back
    del layer
    take_out(results)
    process(layers, results)
    plain = reconstruct(quay)
    again = lines(QgsVectorLayer(f"{results}/curbwright.gpkg|layername=edges", "e", "ogr"))
    assert again[: plain["EDGES"]] == lines(plain["OUTPUT"])
    assert rows_of(results, "repairs") == []


def test_only_the_repaired_layer_is_fitted_again(results, quay):
    add_to(results, [{**repair("corner", 12), "layer": "quay walk"}])
    log = Log()
    process([quay, in_degrees(moved(walk(seed=2), 50.0))], results, log)
    assert sum("was taken over" in text for text in log.infos) == 1
    log = Log()
    process([quay, in_degrees(moved(walk(seed=2), 50.0))], results, log)
    assert sum("was taken over" in text for text in log.infos) == 2
    (row,) = rows_of(results, "repairs")
    assert row["state"] == "applied" and row["remark"] == "seen on site"


def test_lines_without_times_count_their_vertices(tmp_path):
    """The number of the vertex stands for the time."""
    from linelayers import line_layer

    rng = np.random.default_rng(4)
    walked = np.column_stack([np.arange(40) * 1.1, rng.normal(0, 0.006, 40)])
    layer = line_layer([walked], name="drawn")
    plain = reconstruct(layer, TAKE_AS_STREAM=True)
    capture = table(plain["OUTPUT"])[0]["capture"]
    row = {"kind": "break_here", "capture": capture, "time": 19.0}
    found = reconstruct(layer, TAKE_AS_STREAM=True, REPAIRS=table_of([row]))
    assert [row["epochs_used"] for row in table(found["OUTPUT"])] == [20, 20]


def test_a_new_repair_of_a_layer_that_failed_has_a_state(tmp_path):
    batch = BatchRepairs(tmp_path / "none.gpkg")
    row = {**dict.fromkeys(NAMES), "layer": "walks", "kind": "leave_out", "time": START}
    batch.rows = [dict(row), {**row, "state": "applied"}]
    for number, one in enumerate(batch.rows):
        batch._settle(number, one, set(), {"walks"})
    assert [one["state"] for one in batch.rows] == ["no_effect", "applied"]
    assert all("failed" in one["state_detail"] for one in batch.rows)
