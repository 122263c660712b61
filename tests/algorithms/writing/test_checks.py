"""What was written is counted, and what is missing is found."""

import pytest
from qgis.core import QgsVectorFileWriter
from walkedlayers import Log, layer_of, to_file, walk

from curbwright.algorithms.writing import checks

pytestmark = pytest.mark.usefixtures("provider")
DRIVERS = {
    "gpkg": "GPKG",
    "shp": QgsVectorFileWriter.driverForExtension("shp"),
    "csv": "CSV",
    "geojson": "GeoJSON",
    "fgb": "FlatGeobuf",
}


@pytest.fixture(scope="module")
def files(tmp_path_factory, provider):
    """A file of each format with 120 rows."""
    folder, layer = tmp_path_factory.mktemp("checked"), layer_of(walk())
    for form, driver in DRIVERS.items():
        to_file(layer, folder / f"rows.{form}", driver)
    return folder


@pytest.mark.parametrize("form", DRIVERS)
def test_what_is_there_is_counted(files, form):
    path = files / f"rows.{form}"
    assert checks.missing_of_file(path, "", 120, Log()) == ""
    assert checks.missing_of_file(path, "", 121, Log()) == "it holds 120 of 121 rows"


@pytest.mark.parametrize("share", [0.0, 0.3, 0.7, 0.95, 0.9999])
@pytest.mark.parametrize("form", DRIVERS)
def test_a_file_that_is_cut_short_is_found_out(files, tmp_path, form, share):
    whole = {path.name: path.read_bytes() for path in files.glob("rows.*")}
    family = ("shp", "shx", "dbf") if form == "shp" else (form,)
    for cut in family:
        for name in family:
            data = whole[f"rows.{name}"]
            if name == cut:
                data = data[: int(share * len(data))]
            (tmp_path / f"rows.{name}").write_bytes(data)
        assert checks.missing_of_file(tmp_path / f"rows.{form}", "", 120, Log()), cut


def test_a_file_that_is_gone_is_named(tmp_path):
    assert "not there" in checks.missing_of_file(tmp_path / "gone.gpkg", "", 1, Log())
