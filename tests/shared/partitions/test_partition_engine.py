"""Who does the work: this process, or workers that know the core from a zip."""

import sys
import zipfile

import pytest

pytest.importorskip("pyarrow", reason="bash setup.sh cluster")
pytest.importorskip("pyproj", reason="bash setup.sh cluster")

from curbwright.shared.partitions import work
from curbwright.shared.partitions.engine import Here, call, pack


def test_an_error_stands_for_the_result_and_the_rest_goes_on():
    job = {"source": "no such folder", "crs": None}
    found = list(Here().run("survey", job, ["a.parquet", "b.parquet"]))
    assert [(number, result) for number, result, _ in found] == [(0, None), (1, None)]
    assert all(isinstance(error, FileNotFoundError) for _, _, error in found)


def test_the_core_is_packed_under_a_name_of_its_sources(tmp_path):
    for folder in ("one", "two"):
        (tmp_path / folder).mkdir()
    (path, package), (other, same) = pack(tmp_path / "one"), pack(tmp_path / "two")
    assert package == same and package.isidentifier() and path != other
    with zipfile.ZipFile(path) as archive:
        names = archive.namelist()
    assert "shared/partitions/work.py" in names and "shared/tuning.py" in names
    assert all(name.startswith("shared/") and name.endswith(".py") for name in names)


def test_a_function_is_called_from_the_zip_alone(tmp_path):
    archive, package = pack(tmp_path)
    assert call(package, archive, "folder_keys", "capture=7/a.parquet") == {"capture": "7"}
    assert call(package, archive, "versions") == work.versions()
    assert sys.modules[f"{package}.shared.partitions.work"].__file__.startswith(archive)
