"""A result is in its place when it is complete, and not before."""

import os
import subprocess
import sys
from pathlib import Path

import pytest
from linelayers import line_layer, straight
from qgis.core import QgsFeedback, QgsProcessingException, QgsVectorLayer
from smalldisks import remount_read_only, small_disk
from walkedlayers import Log, layer_of, run, to_file, walk

from curbwright.algorithms.host import watching
from curbwright.algorithms.writing import sinks, staging
from curbwright.algorithms.writing.staging import Staged

pytestmark = pytest.mark.usefixtures("provider")
FORMATS = ("gpkg", "shp", "csv", "geojson", "fgb")


@pytest.fixture(scope="module")
def long_walk(provider):
    return layer_of(walk(captures=20))


def held(folder):
    return {path.name: path.read_bytes() for path in folder.iterdir() if path.is_file()}


def rows(path):
    return sum(1 for _ in QgsVectorLayer(str(path), "", "ogr").getFeatures())


def fails(*pieces, algorithm="reconstructedges", **parameters):
    with pytest.raises(QgsProcessingException) as raised:
        run(algorithm, {"INPUT": layer_of(walk()), "OUTPUT": "memory:", **parameters})
    for piece in pieces:
        assert str(piece) in str(raised.value)
    return str(raised.value)


@pytest.mark.one_in(2)
@pytest.mark.parametrize("form", FORMATS)
def test_a_result_is_written_whole_in_every_format(tmp_path, form):
    paths = {name: str(tmp_path / f"{name}.{form}") for name in ("OUTPUT", "KEPT", "STATIONS")}
    for _ in range(2):
        result = run("reconstructedges", {"INPUT": layer_of(walk()), **paths})
        assert rows(paths["KEPT"]) == result["EPOCHS_KEPT"]
        assert rows(paths["OUTPUT"]) == result["EDGES"]
        assert result["KEPT"] == paths["KEPT"]
    assert not [path for path in tmp_path.iterdir() if path.name.startswith(".")]


@pytest.mark.one_in(2)
@pytest.mark.parametrize("form", FORMATS)
def test_an_error_after_outputs_were_opened_leaves_the_former_result(tmp_path, form, monkeypatch):
    paths = {"OUTPUT": str(tmp_path / f"a.{form}"), "KEPT": str(tmp_path / f"kept.{form}")}
    run("reconstructedges", {"INPUT": layer_of(walk(captures=1)), **paths})
    before = held(tmp_path)
    write = sinks.pass_on

    def fail(*arguments):
        write(*arguments)
        raise QgsProcessingException("stopped here")

    monkeypatch.setattr("curbwright.algorithms.base.epoch_algorithm.pass_on", fail)
    for folder in (tmp_path, tmp_path / "other"):
        folder.mkdir(exist_ok=True)
        paths = {"OUTPUT": str(folder / f"a.{form}"), "KEPT": str(folder / f"kept.{form}")}
        with pytest.raises(QgsProcessingException, match="stopped here"):
            run("reconstructedges", {"INPUT": layer_of(walk()), **paths})
    assert held(tmp_path) == before
    assert list((tmp_path / "other").iterdir()) == []


def test_a_cancelled_run_leaves_the_former_result(tmp_path):
    path = str(tmp_path / "kept.gpkg")
    run(
        "reconstructedges", {"INPUT": layer_of(walk(captures=1)), "OUTPUT": "memory:", "KEPT": path}
    )
    before = held(tmp_path)
    parameters = {"INPUT": layer_of(walk()), "OUTPUT": "memory:", "KEPT": path}
    run("reconstructedges", parameters, Log(cancel_at=70))
    assert held(tmp_path) == before and len(list(tmp_path.iterdir())) == 1


@pytest.mark.one_in(2)
@pytest.mark.parametrize("form", FORMATS)
def test_a_full_disk_is_an_error_that_names_target_cause_and_remedy(tmp_path, form, long_walk):
    with small_disk(tmp_path / "small", 120) as folder:
        path = folder / f"kept.{form}"
        (folder / "mine.txt").write_text("mine")
        fails("“Kept epochs”", path, "room", "as it was", INPUT=long_walk, KEPT=str(path))
        assert held(folder) == {"mine.txt": b"mine"} and len(list(folder.iterdir())) == 1


def test_a_former_result_stays_where_the_new_one_has_no_room(tmp_path, long_walk):
    with small_disk(tmp_path / "small", 400) as folder:
        path = str(folder / "kept.gpkg")
        run(
            "reconstructedges",
            {"INPUT": layer_of(walk(captures=1)), "OUTPUT": "memory:", "KEPT": path},
        )
        before = held(folder)
        fails("full", INPUT=long_walk, KEPT=path)
        assert held(folder) == before


@pytest.mark.parametrize("kilobytes", [60, 300, 700])
def test_the_batch_on_a_full_disk_leaves_nothing(tmp_path, kilobytes, long_walk):
    with small_disk(tmp_path / "small", kilobytes) as folder:
        with pytest.raises(QgsProcessingException) as raised:
            run("processcaptures", {"LAYERS": [long_walk], **into(folder)})
        assert str(folder) in str(raised.value) and "room" in str(raised.value)
        assert list(folder.iterdir()) == []


def test_the_batch_on_a_full_disk_keeps_the_old_results(tmp_path):
    with small_disk(tmp_path / "larger", 1100) as folder:
        run("processcaptures", {"LAYERS": [layer_of(walk())], **into(folder)})
        before = held(folder)
        with pytest.raises(QgsProcessingException):
            run("processcaptures", {"LAYERS": [layer_of(walk(captures=60))], **into(folder)})
        assert held(folder) == before


def into(folder):
    return {"FOLDER": str(folder), "LIST_REVISITS": False, "LOAD_RESULTS": False}


def test_a_read_only_volume_is_named(tmp_path):
    with small_disk(tmp_path / "small", 400) as folder:
        remount_read_only(folder)
        path = folder / "edges.gpkg"
        fails("“Edges”", path, "Read-only file system", "choose another", OUTPUT=str(path))


@pytest.mark.one_in(2)
@pytest.mark.parametrize("kilobytes", [8, 24])
def test_a_report_cut_short_is_not_left(tmp_path, kilobytes):
    with small_disk(tmp_path / "small", kilobytes) as folder:
        given = dict.fromkeys(("OUTPUT", "EXISTING_STATUS", "STATIONS", "SUMMARY"), "memory:")
        report = folder / "report.html"
        for former in (None, b"<!DOCTYPE html> mine"):
            if former is not None:
                report.write_bytes(former)
            fails(
                "“Report”", report, "No space left", algorithm="compareedges",
                INPUT=line_layer([straight(0.1 + 3 * row) for row in range(9)]),
                EXISTING=line_layer([straight(3.0 * row) for row in range(9)]),
                REPORT=str(report), **{**given, "OUTPUT": "memory:"},
            )  # fmt: skip
            assert held(folder) == ({} if former is None else {"report.html": former})


def test_a_report_to_a_full_device_is_an_error_and_the_device_stays():
    given = dict.fromkeys(("OUTPUT", "EXISTING_STATUS", "STATIONS", "SUMMARY"), "memory:")
    fails(
        "/dev/full", "No space left", algorithm="compareedges", REPORT="/dev/full",
        INPUT=line_layer([straight(0.1)]), EXISTING=line_layer([straight(0.0)]), **given,
    )  # fmt: skip
    assert not os.path.isfile("/dev/full") and os.path.exists("/dev/full")


def test_links_stay_links(tmp_path):
    (tmp_path / "real").mkdir()
    link = tmp_path / "edges.gpkg"
    link.symlink_to(tmp_path / "real" / "edges.gpkg")
    result = run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": str(link)})
    assert link.is_symlink() and rows(tmp_path / "real" / "edges.gpkg") == result["EDGES"]


@pytest.mark.parametrize("moment", ["settle", "commit"])
def test_a_cancel_while_outputs_take_their_places_gives_all_or_none(tmp_path, monkeypatch, moment):
    paths = {name: str(tmp_path / f"{name}.gpkg") for name in ("OUTPUT", "KEPT", "REJECTED")}
    run("reconstructedges", {"INPUT": layer_of(walk(captures=1)), **paths})
    before, log, own = held(tmp_path), Log(), getattr(Staged, moment)

    def then_cancelled(staged, *given):
        own(staged, *given)
        log.cancel()

    monkeypatch.setattr(Staged, moment, then_cancelled)
    result = run("reconstructedges", {"INPUT": layer_of(walk(captures=2)), **paths}, log)
    if moment == "settle":
        assert held(tmp_path) == before and not result.get("OUTPUT")
    else:
        assert rows(paths["KEPT"]) == result["EPOCHS_KEPT"]
        assert rows(paths["OUTPUT"]) == result["EDGES"]
        assert not any(after == before[name] for name, after in held(tmp_path).items())
    assert not [path for path in tmp_path.iterdir() if path.is_dir()]


def test_what_went_with_a_former_file_goes(tmp_path):
    for name in ("walk.qix", "walk.dbf", "walk.cpg", "walked.qix", "walk.txt"):
        (tmp_path / name).write_text("old")
    staged = Staged("Edges", tmp_path / "walk.shp")
    for name in ("walk.shp", "walk.dbf", "walk.shx"):
        (staged.folder / name).write_text("new")
    staged.commit(QgsFeedback())
    assert {name: text.decode() for name, text in held(tmp_path).items()} == {
        "walk.shp": "new", "walk.dbf": "new", "walk.shx": "new", "walked.qix": "old",
        "walk.txt": "old",
    }  # fmt: skip
    assert not staged.folder.exists()


def test_what_cannot_be_replaced_is_named(tmp_path, monkeypatch):
    staged = Staged("Edges", tmp_path / "a.csv")
    staged.path.write_text("x\n")

    def held_open(*_):
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(os, "replace", held_open)
    with pytest.raises(QgsProcessingException, match="“Edges”.*a.csv.*Permission.*close it there"):
        staged.commit(QgsFeedback())


def test_a_killed_run_leaves_nothing_that_looks_like_a_result(tmp_path):
    staged = Staged("Edges", tmp_path / "edges.gpkg")
    staged.path.write_text("half of it")
    assert [path.name[0] for path in tmp_path.iterdir()] == ["."]
    assert staged.discard() and list(tmp_path.iterdir()) == []


KILLED = """
import os, sys
sys.path[:0] = [{tests!r}]
import clone
from curbwright.algorithms.writing.staging import Staged
staged = Staged("Edges", {target!r})
staged.path.write_text("half of it")
os.kill(os.getpid(), 9)
"""


def test_the_next_run_clears_what_a_killed_one_left_and_nothing_else(tmp_path):
    alive = Staged("Edges", tmp_path / "other.gpkg")  # of a run that is under way
    script = KILLED.format(
        tests=str(Path(__file__).resolve().parents[2]), target=str(tmp_path / "edges.gpkg")
    )
    ended = subprocess.run([sys.executable, "-c", script], check=False)
    assert ended.returncode == -9
    for name in (".curbwright-mine0000", ".curbwright-photos"):  # without our lock, or our naming
        (tmp_path / name).mkdir()
        (tmp_path / name / "a.txt").write_text("mine")
    (tmp_path / ".curbwright-photos" / ".in-use").write_text("")
    mine = {".curbwright-mine0000", ".curbwright-photos", alive.folder.name}
    killed = {path.name for path in tmp_path.iterdir()} - mine
    assert len(killed) == 1 and (tmp_path / killed.pop() / "edges.gpkg").is_file()
    run("reconstructedges", {"INPUT": layer_of(walk()), "OUTPUT": str(tmp_path / "edges.gpkg")})
    assert {path.name for path in tmp_path.iterdir()} == {"edges.gpkg", *mine}
    alive.discard()


# A layer of a GeoPackage that holds others


def layers(path):
    """Rows of each layer of a GeoPackage, as text by the name of the layer."""
    data = watching.open_file(path)
    return {
        layer.GetName(): [row.ExportToJson() for row in layer]
        for layer in (data.GetLayer(number) for number in range(data.GetLayerCount()))
    }


@pytest.fixture
def several(tmp_path):
    """A GeoPackage with a layer of the user's and a former result."""
    path = tmp_path / "all.gpkg"
    to_file(layer_of(walk(seed=4), name="notes"), path, layerName="notes")
    run("screenepochs", {"INPUT": layer_of(walk(captures=1)), "REJECTED": "memory:",
                         "OUTPUT": inside(path, "kept")})  # fmt: skip
    return path


def inside(path, layer):
    return f"ogr:dbname='{path}' table=\"{layer}\" (shape)"


@pytest.mark.parametrize("how", ["an error", "cancel", "no room"])
@pytest.mark.parametrize("layer", ["kept", "new"])
def test_a_layer_of_a_geopackage_that_is_not_whole_leaves_all_as_it_was(
    several, monkeypatch, how, layer
):
    before, log = layers(several), Log()
    assert set(before) == {"notes", "kept"} and before["kept"]
    monkeypatch.setattr(staging, "ROWS_PER_LOOK", 10)
    take_over = staging.StagedLayer._take_over

    def fail(self, source, target, said, feedback):
        """At the last moment, when the rows are in the file."""
        if how == "cancel":
            log.cancel()
            return take_over(self, source, target, said, feedback)
        assert take_over(self, source, target, said, feedback)
        if how == "an error":
            raise QgsProcessingException("stopped here")
        said.append("disk full")
        return True

    monkeypatch.setattr(staging.StagedLayer, "_take_over", fail)
    given = {"INPUT": layer_of(walk(captures=3)), "REJECTED": "memory:"}
    given["OUTPUT"] = inside(several, layer)
    if how == "cancel":
        run("screenepochs", given, log)
    else:
        with pytest.raises(QgsProcessingException, match="stopped here|disk full.*as it was"):
            run("screenepochs", given, log)
    assert layers(several) == before
    assert [path.name for path in several.parent.iterdir()] == ["all.gpkg"]


def test_a_layer_of_a_geopackage_is_replaced_and_the_others_stay(several):
    before = layers(several)
    result = run("screenepochs", {"INPUT": layer_of(walk(captures=3)), "REJECTED": "memory:",
                                  "OUTPUT": inside(several, "kept")})  # fmt: skip
    after = layers(several)
    assert after["notes"] == before["notes"]
    assert len(after["kept"]) == result["EPOCHS_KEPT"] > len(before["kept"])
    assert result["OUTPUT"] == f"{several}|layername=kept"
    made = QgsVectorLayer(result["OUTPUT"], "", "ogr")
    assert made.isValid() and made.crs().authid() == "EPSG:32632"
    assert made.featureCount() == result["EPOCHS_KEPT"] and made.hasSpatialIndex() == 2
    assert [path.name for path in several.parent.iterdir()] == ["all.gpkg"]


def test_two_layers_of_a_new_geopackage(tmp_path):
    path = tmp_path / "new.gpkg"
    result = run("screenepochs", {"INPUT": layer_of(walk()), "REJECTED": inside(path, "rejected"),
                                  "OUTPUT": inside(path, "kept")})  # fmt: skip
    found = {name: len(rows) for name, rows in layers(path).items()}
    assert found == {"kept": result["EPOCHS_KEPT"], "rejected": result["EPOCHS_REJECTED"]}
