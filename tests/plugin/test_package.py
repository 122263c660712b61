"""The zip that users install: what is in it, and that it works from an empty profile."""

import shutil
import subprocess
import zipfile
from pathlib import Path, PurePosixPath

import pytest
from osgeo import ogr, osr

from curbwright.sample_project.host import Host

ROOT = Path(__file__).resolve().parents[2]
TOP_FILES = ("__init__.py", "metadata.txt", "LICENSE", "README.md")
EPOCHS, FLOAT_EPOCHS = 60, (20, 41)


def build(root, target):
    subprocess.run(
        ["bash", str(root / "setup.sh"), "zip", str(target)], check=True, capture_output=True
    )
    with zipfile.ZipFile(target) as archive:
        assert archive.testzip() is None
        return set(archive.namelist())


@pytest.fixture(scope="module")
def package(tmp_path_factory):
    target = tmp_path_factory.mktemp("package") / "curbwright.zip"
    build(ROOT, target)
    return target


@pytest.fixture
def clone(tmp_path):
    """A copy of what goes into the zip and of what builds it, without git."""
    copy = tmp_path / "a clone"
    copy.mkdir()
    for name in (*TOP_FILES, "setup.sh"):
        shutil.copy(ROOT / name, copy)
    for name in (".ci", "algorithms", "plugin", "sample_project", "shared"):
        shutil.copytree(ROOT / name, copy / name, ignore=shutil.ignore_patterns("__pycache__"))
    return copy


def test_only_what_the_plugin_needs_goes_in(package):
    with zipfile.ZipFile(package) as archive:
        paths = [PurePosixPath(name) for name in archive.namelist()]
        # ValueError for a path beside the folder
        inside = {str(path.relative_to("curbwright")) for path in paths}
    assert {*TOP_FILES, "plugin/provider.py"} <= inside
    # what README.md and the help of the algorithms send readers to
    assert {"algorithms/GUIDE.md", "shared/METHOD.md"} <= inside
    assert {path.split("/")[0] for path in inside if "/" in path} == {
        "algorithms",
        "plugin",
        "sample_project",
        "shared",
    }
    # the sample itself, not what builds it
    assert len([path for path in inside if path.startswith("sample_project/")]) == 3
    assert not [
        path
        for path in inside
        if any(part.startswith((".", "__pycache__")) for part in path.split("/"))
    ]
    code = [path for path in inside if not path.startswith("sample_project/")]
    assert not [path for path in code if path.endswith((".pyc", ".gpkg", ".zip", ".sh"))]
    assert [path for path in inside if path.endswith(".csv")] == ["algorithms/reading/roles.csv"]
    assert not [path for path in inside if path.startswith("shared/partitions")]


def test_same_files_give_the_same_bytes(package, tmp_path):
    build(ROOT, tmp_path / "again.zip")
    assert (tmp_path / "again.zip").read_bytes() == package.read_bytes()


def test_a_copy_without_git_gives_the_zip_without_caches(clone, tmp_path):
    before = build(clone, tmp_path / "before.zip")
    cache = clone / "shared" / "__pycache__"
    cache.mkdir()
    (cache / "epochs.cpython-311.pyc").write_bytes(b"")
    (clone / "shared" / "notes.txt").write_text("left lying about")
    assert build(clone, tmp_path / "after.zip") == before


@pytest.mark.skipif(shutil.which("git") is None, reason="git is not installed")
def test_files_that_git_does_not_know_stay_out(clone, tmp_path):
    git = ["git", "-C", str(clone), "-c", "user.name=t", "-c", "user.email=t@example.org"]
    subprocess.run([*git, "init", "--quiet"], check=True)
    subprocess.run([*git, "add", "."], check=True)
    (clone / "plugin" / "trial.py").write_text("left = 'lying about'\n")
    names = build(clone, tmp_path / "zip.zip")
    assert "curbwright/plugin/trial.py" not in names
    assert "curbwright/plugin/provider.py" in names


def test_the_zip_needs_its_licence(clone, tmp_path):
    (clone / "LICENSE").unlink()
    with pytest.raises(subprocess.CalledProcessError) as failure:
        build(clone, tmp_path / "zip.zip")
    assert b"LICENSE" in failure.value.stderr
    assert not (tmp_path / "zip.zip").exists()


def write_walk(path):
    """A straight walk of one epoch a metre and a second, two of them without the fixed solution."""
    reference = osr.SpatialReference()
    reference.ImportFromEPSG(32632)
    dataset = ogr.GetDriverByName("GPKG").CreateDataSource(str(path))
    layer = dataset.CreateLayer("walk", reference, ogr.wkbPoint25D)
    for name, kind in (("time", ogr.OFTString), ("fix", ogr.OFTInteger), ("h_acc", ogr.OFTReal)):
        layer.CreateField(ogr.FieldDefn(name, kind))
    for second in range(EPOCHS):
        feature = ogr.Feature(layer.GetLayerDefn())
        point = ogr.Geometry(ogr.wkbPoint25D)
        point.AddPoint(500000.0 + second, 6200000.0, 3.0)
        feature.SetGeometry(point)
        feature["time"] = f"2025-05-06T08:00:{second:02d}Z"
        feature["fix"] = 5 if second in FLOAT_EPOCHS else 4
        feature["h_acc"] = 0.01
        layer.CreateFeature(feature)


def read(path):
    """Attributes and geometries, as OGR gives them, of the only layer of a file."""
    dataset = ogr.Open(str(path))
    assert dataset.GetLayerCount() == 1
    return [(feature.items(), feature.geometry().Clone()) for feature in dataset.GetLayer(0)]


def installed(package, folder):
    """QGIS's command line with an empty profile but for the plugin."""
    folder.mkdir()
    host = Host(folder)
    host.plugins.mkdir(parents=True)
    with zipfile.ZipFile(package) as archive:
        archive.extractall(host.plugins)
    host.enable()
    return host


@pytest.mark.one_host
def test_installed_in_an_empty_profile_it_does_the_main_job(package, tmp_path):
    host = installed(package, tmp_path / "profile")
    write_walk(tmp_path / "walk.gpkg")
    outputs = {name: tmp_path / f"{name.lower()}.gpkg" for name in ("OUTPUT", "REJECTED", "KEPT")}
    host.run("curbwright:reconstructedges", INPUT=tmp_path / "walk.gpkg", **outputs)
    edges, rejected, kept = (read(outputs[name]) for name in ("OUTPUT", "REJECTED", "KEPT"))
    # Lost fixes of one epoch are bridged: one edge over the whole walk. UTM makes 1 m on the grid
    # 1.0004 m on the ground at the central meridian (scale factor 0.9996 by definition of UTM).
    assert len(edges) == 1
    assert edges[0][0]["length"] == pytest.approx((EPOCHS - 1) / 0.9996, abs=0.01)
    assert edges[0][1].GetGeometryType() == ogr.wkbLineString25D
    assert [attributes["reason"] for attributes, _ in rejected] == ["not_fixed"] * len(FLOAT_EPOCHS)
    assert len(kept) == EPOCHS - len(FLOAT_EPOCHS)


@pytest.mark.long
def test_other_processes_work_from_inside_the_host_too(package, tmp_path, monkeypatch):
    # there, sys.executable is whichever Python comes first on the system's path
    host = installed(package, tmp_path / "profile")
    monkeypatch.syspath_prepend(ROOT / "tests" / "benchmarks")
    from host_chain import epochs, write_epochs

    write_epochs(tmp_path / "epochs.gpkg", epochs(80_000))
    said = host.call(
        "run",
        "curbwright:reconstructedges",
        "--",
        f"INPUT={tmp_path / 'epochs.gpkg'}|layername=epochs",
        f"OUTPUT={tmp_path / 'edges.gpkg'}",
    )
    assert "Edges: " in said
    assert "one process" not in said
