"""Only what is new or changed is fitted again, with the result of a whole run."""

import sqlite3
import zlib
from contextlib import closing
from dataclasses import dataclass, fields, is_dataclass

import numpy as np
import pytest
from batchruns import in_degrees, layers_in, moved, process
from linelayers import line_layer
from osgeo import gdal
from qgis.core import QgsFeatureRequest, QgsVectorLayer
from walkedlayers import ORIGIN, Log, layer_of, to_file, walk

from curbwright.algorithms import reconstructedges
from curbwright.algorithms.batch import kept_copies
from curbwright.algorithms.batch.fits import Fits, packed, unpacked
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.epochs.table import EpochTable
from curbwright.shared.reconstruction.reconstruct import reconstruct

pytestmark = pytest.mark.usefixtures("provider", "without_figures", "without_styles")
# what a run says of itself: times, and how many runs there were
OF_RUN = {"run_log", "history"}
SECONDS = "seconds"  # taken by a layer, in the summary
EVERYTHING = {"MERGE_PASSES": True, "FIT_ALIGNMENTS": True}


@pytest.fixture
def fitted(monkeypatch):
    """Numbers of epochs of the tables that are fitted."""
    seen, whole = [], reconstructedges.ReconstructEdges._fitted

    def counted(self, table, *rest):
        seen.append(len(table))
        return whole(self, table, *rest)

    monkeypatch.setattr(reconstructedges.ReconstructEdges, "_fitted", counted)
    return seen


def nights():
    """Three captures; the second one walks the edge of the first again."""
    return [
        layer_of(walk(seed=1), name="monday"),
        layer_of(walk(seed=2), name="tuesday"),
        in_degrees(moved(walk(seed=3, captures=1), 50.0), name="wednesday"),
    ]


def basemap():
    line = np.array([(0.0, 0.1), (25.0, 0.1), (25.0, 38.0)])
    return line_layer([line], origin=ORIGIN, name="basemap")


def everything(folder):
    """All rows and geometries of all layers, in their order."""
    found = {}
    for name in sorted(layers_in(folder) - OF_RUN):
        layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername={name}", name, "ogr")
        names = [one for one in layer.fields().names() if (name, one) != ("summary", SECONDS)]
        found[name] = [
            ([feature[one] for one in names], feature.geometry().asWkb().data().hex())
            for feature in layer.getFeatures()
        ]
    return found


@pytest.mark.parametrize(
    "order",
    [(0, 2, 1), *(pytest.param(order, marks=pytest.mark.long) for order in ((0, 1, 2), (2, 0, 1)))],
)
def test_one_new_capture_gives_what_a_whole_run_gives(tmp_path, fitted, fitted_anew, order):
    """The new one comes between the others, so that some are numbered anew; last, and first."""
    layers, log = nights(), Log()
    process(layers[:2], tmp_path / "nightly", EXISTING=basemap(), **EVERYTHING)
    fitted.clear()
    ordered = [layers[place] for place in order]
    process(ordered, tmp_path / "nightly", log, EXISTING=basemap(), **EVERYTHING)
    assert fitted == [layers[2].featureCount()]
    assert sum("was taken over" in text for text in log.infos) == 2
    process(ordered, tmp_path / "whole", EXISTING=basemap(), **EVERYTHING)
    nightly, whole = everything(tmp_path / "nightly"), everything(tmp_path / "whole")
    assert set(nightly) == set(whole) and {"merged", "comparison", "revisits"} <= set(whole)
    for name, rows in whole.items():
        assert nightly[name] == rows, name


# Kept epochs are copied


@pytest.fixture
def copied(monkeypatch):
    """Names of the layers whose kept epochs are copied from the last run."""
    seen, whole = [], kept_copies.FormerKept.copy

    def counted(self, stretch, *rest):
        seen.append(stretch.name)
        return whole(self, stretch, *rest)

    monkeypatch.setattr(kept_copies.FormerKept, "copy", counted)
    return seen


def as_files(folder, layers):
    folder.mkdir()
    for layer, driver in zip(layers, ("GeoJSON", "GPKG", "GPKG")):
        path = folder / f"{layer.name()}.{driver.lower()}"
        to_file(layer, path, driver)
        yield str(path)


def execute(path, text):
    dataset = gdal.OpenEx(str(path), gdal.OF_VECTOR | gdal.OF_UPDATE)
    dataset.ExecuteSQL(text)
    del dataset


def alike(one, other):
    one, other = everything(one), everything(other)
    assert set(one) == set(other)
    for name, rows in other.items():
        assert one[name] == rows, name


@pytest.mark.one_host
@pytest.mark.parametrize(
    "order",
    [(2, 0, 1), *(pytest.param(order, marks=pytest.mark.long) for order in ((0, 1, 2), (0, 2, 1)))],
)
def test_kept_epochs_of_files_are_copied(tmp_path, copied, order):
    paths = list(as_files(tmp_path / "in", nights()))
    folder = tmp_path / "nightly"
    options = {"LIST_REVISITS": False, "TARGET_CRS": "EPSG:32632"}
    process([paths[place] for place in sorted(order[:2])], folder, **options)
    assert not copied
    ordered = [paths[place] for place in order]
    process(ordered, folder, **options)
    assert len(copied) == 2
    process(ordered, tmp_path / "whole", **options)
    alike(folder, tmp_path / "whole")
    extents = [
        QgsVectorLayer(f"{tmp_path}/{name}/curbwright.gpkg|layername=kept", "kept", "ogr").extent()
        for name in ("nightly", "whole")
    ]
    assert extents[0] == extents[1]
    # the spatial index knows the rows
    layer = QgsVectorLayer(f"{folder}/curbwright.gpkg|layername=kept", "kept", "ogr")
    request = QgsFeatureRequest().setFilterRect(layer.extent().buffered(1.0))
    assert len(list(layer.getFeatures(request))) == layer.featureCount()


@pytest.mark.one_host
def test_what_is_another_in_the_source_is_not_copied(tmp_path, copied):
    """A field that no epoch depends on, and the CRS of the results."""
    paths = list(as_files(tmp_path / "in", nights()[:2]))
    process(paths, tmp_path / "nightly", LIST_REVISITS=False)
    execute(paths[1], "UPDATE tuesday SET h_acc = h_acc WHERE fid = 5")
    process(paths, tmp_path / "nightly", LIST_REVISITS=False)
    assert copied == ["monday", "tuesday"]
    execute(paths[1], "ALTER TABLE tuesday ADD COLUMN note TEXT")
    execute(paths[1], "UPDATE tuesday SET note = 'wet' WHERE fid = 5")
    copied.clear()
    process(paths, tmp_path / "nightly", LIST_REVISITS=False)
    assert copied == ["monday"]  # whose rows leave the new column empty
    execute(paths[1], "UPDATE tuesday SET note = 'dry' WHERE fid = 5")
    process(paths, tmp_path / "nightly", LIST_REVISITS=False)
    assert copied == ["monday", "monday"]
    process(paths, tmp_path / "whole", LIST_REVISITS=False)
    alike(tmp_path / "nightly", tmp_path / "whole")
    copied.clear()
    process(paths, tmp_path / "nightly", LIST_REVISITS=False, TARGET_CRS="EPSG:3857")
    assert copied == []


def test_kept_epochs_that_somebody_changed_are_not_copied(tmp_path, copied):
    paths, log = list(as_files(tmp_path / "in", nights()[:2])), Log()
    process(paths, tmp_path, LIST_REVISITS=False)
    execute(tmp_path / "curbwright.gpkg", "DELETE FROM kept WHERE fid = 3")
    process(paths, tmp_path, log, LIST_REVISITS=False)
    assert copied == [] and "deleted 1" in log.text


def test_what_changed_is_fitted_again(tmp_path, fitted):
    layers = nights()[:2]
    process(layers, tmp_path, LIST_REVISITS=False)
    fitted.clear()
    process(layers, tmp_path, LIST_REVISITS=False)
    assert fitted == []
    provider = layers[1].dataProvider()
    provider.deleteFeatures([next(layers[1].getFeatures()).id()])
    process(layers, tmp_path, LIST_REVISITS=False)
    assert fitted == [layers[1].featureCount()]
    fitted.clear()
    process(layers, tmp_path, LIST_REVISITS=False, TOLERANCE=0.02)
    assert fitted == [layer.featureCount() for layer in layers]


def test_a_damaged_table_of_fits_is_not_used(tmp_path, fitted):
    layers = nights()[:1]
    process(layers, tmp_path / "a", LIST_REVISITS=False)
    process(layers, tmp_path / "whole", LIST_REVISITS=False)
    fitted.clear()
    with closing(sqlite3.connect(str(tmp_path / "a" / "curbwright.gpkg"))) as database, database:
        database.execute("UPDATE fits SET made = substr(made, 1, length(made) - 40)")
    process(layers, tmp_path / "a", LIST_REVISITS=False)
    assert fitted == [layers[0].featureCount()]
    assert everything(tmp_path / "a") == everything(tmp_path / "whole")


@pytest.mark.parametrize("numbers", [True, False])
def test_packed_and_unpacked(numbers):
    rows = walk(seed=4)
    columns = {name: np.array([row[name] for row in rows]) for name in ("x", "y", "z", "seconds")}
    codes = np.unique([row["capture"] for row in rows], return_inverse=True)[1]
    result = reconstruct(
        EpochTable.from_columns(**columns, capture=codes), Settings(), numbers=numbers
    )

    def same(one, other):
        assert type(one) is type(other)
        for column in fields(one):
            first, second = getattr(one, column.name), getattr(other, column.name)
            if is_dataclass(first):
                same(first, second)
            elif isinstance(first, np.ndarray):
                assert first.dtype == second.dtype and first.tobytes() == second.tobytes()
            else:
                assert first == second

    same(result, unpacked(zlib.decompress(packed(result))))


@dataclass(frozen=True)
class Columns:
    first: np.ndarray
    second: np.ndarray


def test_the_same_bytes_in_other_columns_are_another_table(tmp_path):
    fits, digests = Fits(tmp_path / "none.gpkg"), set()
    one, two, three = np.array([1.0]), np.array([1.0, 2.0]), np.array([3.0])
    for table in (
        Columns(one, np.array([2.0, 3.0])),
        Columns(two, three),
        Columns(two, three.view(np.int64)),
    ):
        fits.fitted(table, Settings(), True, lambda table=table: table)
        digests.add(fits.last)
    assert len(digests) == 3
