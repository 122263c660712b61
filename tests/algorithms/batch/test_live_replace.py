"""Results that are open in a project, here or in another process: a run replaces them all the same,
and what is open shows the new ones."""

import os
import signal
import sqlite3
import threading
from contextlib import closing

import pytest
from batchruns import moved, opened, process
from osgeo import gdal
from qgis.core import QgsProcessingException, QgsProject
from walkedlayers import Log, layer_of, table, walk

from curbwright.algorithms.batch import live_replace, result_folder

pytestmark = pytest.mark.usefixtures("provider", "without_figures")
# the first two tests replace styles as well
PLAIN = pytest.mark.usefixtures("without_styles")


def a_walk():
    return [layer_of(walk(seed=1))]


def edited(layer):
    """A row deleted and saved, editing stopped."""
    assert layer.startEditing()
    assert layer.deleteFeature(next(layer.getFeatures()).id())
    assert layer.commitChanges(), layer.commitErrors()
    return layer


def is_whole(folder):
    """SQLite and GDAL find nothing wrong, the spatial indexes included."""
    path = str(folder / "curbwright.gpkg")
    with closing(sqlite3.connect(path)) as database:
        assert database.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        indexes = [
            name
            for (name,) in database.execute(
                "SELECT name FROM sqlite_master WHERE sql LIKE 'CREATE VIRTUAL TABLE%'"
            )
        ]
        assert indexes
        for name in indexes:
            assert database.execute("SELECT rtreecheck(?)", (name,)).fetchone() == ("ok",)
    dataset = gdal.OpenEx(path, gdal.OF_VECTOR | gdal.OF_UPDATE)
    for number in range(dataset.GetLayerCount()):
        layer = dataset.GetLayer(number)
        assert layer.GetFeatureCount() == sum(1 for _ in layer), layer.GetName()
        if layer.GetGeomType() != 100 and layer.GetFeatureCount():
            layer.SetSpatialFilterRect(*(layer.GetExtent()[place] for place in (0, 2, 1, 3)))
            assert layer.GetFeatureCount() > 0
    return True


def test_editing_a_result_does_not_block_the_next_run(former_run, tmp_path, qgis_new_project):
    """The write-ahead log is held by the layers that are open."""
    former_run(tmp_path, a_walk)
    gaps, kept, edges = (opened(tmp_path, name) for name in ("gaps", "kept", "edges"))
    QgsProject.instance().addMapLayers([gaps, kept, edges])
    for layer in (kept, edges):
        edited(layer)
    assert (tmp_path / "curbwright.gpkg-wal").exists()
    # other walks: a layer that holds the same ones is known by another name as well
    process([layer_of(moved(walk(seed=2), 0.0, seconds=7200.0), name="second")], tmp_path)
    assert {row["layer"] for row in table(edges)} == {"second"}  # without being told
    edges.dataProvider().reloadData()
    assert edges.featureCount() == len(table(edges)) >= 4
    assert is_whole(tmp_path)
    process([layer_of(walk(seed=3), name="third")], tmp_path)
    assert {row["layer"] for row in table(gaps)} == {"third"}
    assert edited(edges)  # it can be worked with
    assert is_whole(tmp_path)


def test_a_process_that_ends_meanwhile_is_none_that_holds_a_file(tmp_path, monkeypatch):
    file = tmp_path / "curbwright.gpkg"
    file.touch()
    monkeypatch.setattr(live_replace, "PROCESSES", tmp_path)
    (tmp_path / "1" / "fd").mkdir(parents=True)
    listed = os.scandir

    def ended(path):
        if str(path) == str(tmp_path / "1" / "fd"):
            raise FileNotFoundError(path)
        return listed(path)

    monkeypatch.setattr(os, "scandir", ended)
    assert not live_replace.held(file)
    (tmp_path / "2" / "fd").mkdir(parents=True)
    (tmp_path / "2" / "fd" / "3").symlink_to(file)
    assert live_replace.held(file)


def test_open_layers_are_renewed_though_nothing_is_loaded(tmp_path, qgis_new_project):
    import processing

    def go(name, captures):
        processing.runAndLoadResults(
            "curbwright:processcaptures",
            {
                "LAYERS": [layer_of(walk(captures=captures), name=name)],
                "FOLDER": str(tmp_path),
                "LOAD_RESULTS": False,
            },
            feedback=Log(),
        )

    go("first", 2)
    edges = opened(tmp_path)
    QgsProject.instance().addMapLayer(edges)
    before, repaints = edges.featureCount(), []
    edges.repaintRequested.connect(lambda: repaints.append(1))
    go("second", 1)
    assert edges.featureCount() == len(table(edges)) == before // 2
    assert repaints and len(QgsProject.instance().mapLayers()) == 1


OTHER = """
from qgis.core import QgsVectorLayer
layer = QgsVectorLayer({path!r} + "|layername=edges", "edges", "ogr")
if {edit}:
    layer.startEditing()
    layer.deleteFeature(next(layer.getFeatures()).id())
    assert layer.commitChanges()
else:
    next(layer.getFeatures())
print("open", flush=True)
sys.stdin.readline()
print(sorted({{feature["layer"] for feature in layer.getFeatures()}}), flush=True)
layer.startEditing()
feature = next(layer.getFeatures())
layer.changeAttributeValue(feature.id(), feature.fieldNameIndex("capture"), "from afar")
assert layer.commitChanges()
print("saved", flush=True)
"""


@PLAIN
@pytest.mark.one_host
@pytest.mark.parametrize("edit", [True, pytest.param(False, marks=pytest.mark.long)])
def test_results_open_in_another_process(former_run, twins, tmp_path, edit):
    """It shows the new rows and edits them, not those of a file that is gone."""
    folder = tmp_path / "out"
    former_run(folder, a_walk)
    with twins.twin(OTHER.format(path=str(folder / "curbwright.gpkg"), edit=edit)) as other:
        assert other.stdout.readline() == "open\n"
        process([layer_of(walk(seed=2), name="second")], folder)
        print("go", file=other.stdin, flush=True)
        assert other.stdout.readline() == "['second']\n"
        assert other.stdout.readline() == "saved\n"
    assert "from afar" in {row["capture"] for row in table(opened(folder))}
    assert is_whole(folder)


@PLAIN
def test_somebody_who_is_writing_is_told_of(former_run, tmp_path, monkeypatch):
    monkeypatch.setattr(live_replace, "WAIT", 0.2)
    former_run(tmp_path, a_walk)
    held = opened(tmp_path)
    edited(held)
    with closing(
        sqlite3.connect(str(tmp_path / "curbwright.gpkg"), isolation_level=None)
    ) as editor:
        editor.execute("BEGIN IMMEDIATE")
        with pytest.raises(QgsProcessingException, match="is being edited"):
            process([layer_of(walk(seed=2), name="second")], tmp_path)
        editor.execute("ROLLBACK")
    assert {row["layer"] for row in table(held)} == {"quay walk"}


@PLAIN
def test_a_short_write_is_waited_for(former_run, tmp_path, monkeypatch):
    """Somebody saves just when the results are put in place."""
    former_run(tmp_path, a_walk)
    held = edited(opened(tmp_path))
    editor = sqlite3.connect(
        str(tmp_path / "curbwright.gpkg"), isolation_level=None, check_same_thread=False
    )
    original = result_folder.replace_tables

    def busy(*arguments):
        editor.execute("BEGIN IMMEDIATE")
        threading.Timer(0.5, editor.execute, ("ROLLBACK",)).start()
        original(*arguments)

    monkeypatch.setattr(result_folder, "replace_tables", busy)
    process([layer_of(walk(seed=2), name="second")], tmp_path)
    editor.close()
    assert {row["layer"] for row in table(held)} == {"second"}


KILLED = """
import os, signal
from walkedlayers import Log, layer_of, run, walk
import curbwright.algorithms.batch.live_replace as module
import curbwright.algorithms.batch.result_folder as folder
from curbwright.shared.report import plots
plots.available = bool  # no figures
original, after = module._of_layers, {after}
def stop(*arguments):
    original(*arguments)
    os.kill(os.getpid(), signal.SIGKILL)
def move(source, place):
    os.kill(os.getpid(), signal.SIGKILL)
if after:
    replace_tables = folder.replace_tables
    def done(*arguments):
        replace_tables(*arguments)
        os.kill(os.getpid(), signal.SIGKILL)
    folder.replace_tables = done
else:
    module._of_layers = stop
run("processcaptures", {{"LAYERS": [layer_of(walk(seed=9), name="second")],
                         "FOLDER": {path!r}}}, Log())
"""


@PLAIN
@pytest.mark.one_host
@pytest.mark.skipif(os.name == "nt", reason="kills by signal")
@pytest.mark.parametrize("after", [pytest.param(False, marks=pytest.mark.long), True])
def test_a_run_killed_in_the_middle_of_it(former_run, twins, tmp_path, after):
    """Before it is committed the old results stay, with their report; after it the next run brings
    the new report."""
    folder = tmp_path / "out"
    former_run(folder, a_walk)
    held = edited(opened(folder))
    with twins.twin(KILLED.format(path=str(folder), after=after)) as killed:
        pass
    assert killed.returncode == -signal.SIGKILL
    expected = "second" if after else "quay walk"
    assert {row["layer"] for row in table(held)} == {expected}
    assert is_whole(folder)
    # one that fails itself completes or undoes what it finds
    with pytest.raises(QgsProcessingException, match="failed"):
        process([layer_of([], name="empty")], folder)
    assert f">{expected}<" in (folder / "report.html").read_text(encoding="utf-8")
    assert {row["layer"] for row in table(held)} == {expected}
    process([layer_of(walk(seed=3), name="third")], folder)
    assert {row["layer"] for row in table(held)} == {"third"}


@PLAIN
def test_two_runs_at_once(former_run, tmp_path):
    """The second is refused while the first one is at work, and finds all whole afterwards."""
    former_run(tmp_path, a_walk)
    held = edited(opened(tmp_path))
    refused = pytest.raises(QgsProcessingException, match="Another run is writing")
    with result_folder.ResultFolder(tmp_path), refused:
        process([layer_of(walk(seed=2), name="second")], tmp_path)
    assert {row["layer"] for row in table(held)} == {"quay walk"}
    process([layer_of(walk(seed=2), name="second")], tmp_path, Log())
    assert {row["layer"] for row in table(held)} == {"second"} and is_whole(tmp_path)
