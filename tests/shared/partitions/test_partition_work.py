"""The work on one partition: survey, streams, edges."""

import numpy as np
import pytest

pytest.importorskip("pyarrow", reason="bash setup.sh cluster")
pytest.importorskip("pyproj", reason="bash setup.sh cluster")

from epochfiles import HOME, table_of, walks, write

from curbwright.shared.epochs.vocabulary import fixed_values
from curbwright.shared.partitions import work
from curbwright.shared.partitions.columns import choose
from curbwright.shared.tuning import STREAM

WALKS = walks(3)


@pytest.fixture(scope="module")
def job(tmp_path_factory):
    folder = write(tmp_path_factory.mktemp("epochs"), {"a/b.parquet": table_of(WALKS)})
    names = work.names_of(folder / "a" / "b.parquet", "a/b.parquet")
    return {
        "source": str(folder),
        "taken": choose(names, {}),
        "fixed_values": fixed_values(),
        "crs": None,
        "settings": {"max_h_accuracy": 0.05},
    }


@pytest.mark.parametrize(
    ("name", "keys"),
    [
        ("a.parquet", {}),
        ("capture=7/a.parquet", {"capture": "7"}),
        ("day=2/x/team=a=b/part=1.parquet", {"day": "2", "team": "a=b"}),
        ("=7/a.parquet", {}),
    ],
)
def test_columns_in_names_of_folders(name, keys):
    assert work.folder_keys(name) == keys


def test_survey(job):
    found = work.survey(job, "a/b.parquet")
    assert found["rows"] == sum(map(len, WALKS)) == found["epochs"].sum()
    assert found["captures"].to_pylist() == sorted(str(walk.capture) for walk in WALKS)
    assert found["first"] < found["last"] and found["versions"] == work.versions()
    assert work.CRS.from_user_input(found["crs"]) == work.CRS(HOME)


def test_streams_are_those_of_the_captures(job):
    found = work.survey(job, "a/b.parquet")
    unit = {"name": "a/b.parquet", "without": [], "further": []}
    whole = {**job, "crs_text": found["crs"], "centre": (9.0, 54.0), "origin": found["first"]}
    value, number = work.streams(whole, unit)
    assert value.shape == number.shape == (10 + 2 * STREAM.window_lags, len(WALKS))
    np.testing.assert_allclose(value[0], 1.0, atol=0.1)  # an epoch a second
    assert (number[0] > 20).all()
    first = found["captures"][0].as_py()
    fewer, _ = work.streams(whole, {**unit, "without": [first]})
    np.testing.assert_array_equal(fewer[0], value[0, 1:])
