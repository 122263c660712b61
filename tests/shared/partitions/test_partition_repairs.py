"""Repairs over partitions: those of the core, whatever the partitions."""

import csv
import json
from importlib.util import find_spec

import numpy as np
import pytest

pytest.importorskip("pyarrow", reason="bash setup.sh cluster")
pytest.importorskip("pyproj", reason="bash setup.sh cluster")

import pyarrow as pa
import pyarrow.parquet as pq
from epochfiles import read, table_of, walks, write

from curbwright.shared.partitions.command import main
from curbwright.shared.partitions.partition_repairs import outcomes_of, read_repairs

# looked for only: it takes a second to load
pytestmark = pytest.mark.skipif(find_spec("distributed") is None, reason="bash setup.sh cluster")
WALKS = walks(3, seed=8)


def moment(capture, row):
    return 1.7e9 + round(float(WALKS[capture].seconds[row]), 3)


def repairs():
    half = len(WALKS[1].seconds) // 2
    return [
        {"capture": "c00", "kind": "leave_out", "time": moment(0, 8), "remark": "a parked car"},
        {"capture": "c01", "kind": "break_here", "time": moment(1, half)},
        {"capture": "c01", "kind": "element", "value": "spline", "time": moment(1, 5),
         "until": moment(1, 12)},
        {"capture": "nobody", "kind": "leave_out", "time": 1.7e9},
    ]  # fmt: skip


def table_of_repairs(path):
    names = ["layer", "capture", "kind", "value", "time", "until", "remark"]
    with open(path, "w", newline="", encoding="utf-8") as file:
        rows = csv.DictWriter(file, names, restval="")
        rows.writeheader()
        rows.writerows(repairs())
    return path


@pytest.fixture(scope="module")
def done(tmp_path_factory):
    """The run with repairs, in one file and in three; and without."""
    folder = tmp_path_factory.mktemp("repaired")
    table = table_of_repairs(folder / "repairs.csv")
    parts = {f"{number}.parquet": table_of([walk]) for number, walk in enumerate(WALKS)}
    one = write(folder / "one", {"all.parquet": table_of(WALKS)})
    three = write(folder / "three", parts)
    out = {}
    for name, source, more in (
        ("one", one, ["--repairs", str(table)]),
        ("three", three, ["--repairs", str(table)]),
        ("plain", one, []),
    ):
        target = folder / f"out_{name}"
        assert main([str(source), str(target), "--workers", "0", "--epochs", *more]) == 0
        out[name] = target
    return out


def test_repairs_do_the_same_whatever_the_partitions(done):
    assert read(done["one"]).equals(read(done["three"]))
    assert not read(done["one"]).equals(read(done["plain"]))


def test_what_became_of_each_repair_is_told(done):
    for name in ("one", "three"):
        found = json.loads((done[name] / "run.json").read_text())["repairs"]
        assert (found["applied"], found["lost"], found["no_effect"]) == (3, 1, 0)
        (left,) = found["not_applied"]
        assert (left["row"], left["capture"], left["state"]) == (4, "nobody", "lost")
        assert left["why"] == "there is no such capture"
    none = json.loads((done["plain"] / "run.json").read_text())["repairs"]
    assert none == {"applied": 0, "lost": 0, "no_effect": 0, "not_applied": []}


def test_epochs_say_what_was_left_out(done):
    epochs = read(done["one"], "epochs")
    reasons = [one for one in epochs["reason"].to_pylist() if one == "left_out"]
    assert reasons == ["left_out"]


def test_a_table_in_parquet_is_read_alike(tmp_path):
    rows = [{"value": None, "until": None, "remark": None, **row} for row in repairs()]
    pq.write_table(pa.Table.from_pylist(rows), tmp_path / "repairs.parquet")
    from_csv = read_repairs(table_of_repairs(tmp_path / "repairs.csv"))
    assert read_repairs(tmp_path / "repairs.parquet") == from_csv
    assert np.isfinite([row["time"] for row in from_csv]).all()


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("capture,kind\nc,corner\n", "no column “time”"),
        ("capture,kind,time\nc,corner,soon\n", "repair 1: time must be a number"),
        ("capture,kind,time\nc,corner,1\nc,mend,1\n", "repair 2: kind must be one of"),
    ],
)
def test_bad_tables_are_named(tmp_path, capsys, text, said):
    path = tmp_path / "repairs.csv"
    path.write_text(text)
    arguments = [str(tmp_path), str(tmp_path / "out"), "--workers", "0", "--repairs", str(path)]
    assert main(arguments) == 1
    told = capsys.readouterr().err
    assert said in told and "repairs.csv" in told


def test_outcomes_are_those_of_all_parts():
    rows = [{"capture": "a", "kind": "corner", "time": 1.0}] * 3
    found = outcomes_of(rows, [[(2, "no_effect", "no")], [], [(0, "applied", "")]])
    assert found["applied"] == found["no_effect"] == found["lost"] == 1
    assert [(one["row"], one["state"]) for one in found["not_applied"]] == [
        (2, "lost"),
        (3, "no_effect"),
    ]
