"""The sums that show whether a change changed anything."""

import dataclasses
import sqlite3
from contextlib import closing

import numpy as np
import pytest

from curbwright.sample_project.simulation import trial_set
from curbwright.shared.epochs.settings import Settings
from curbwright.shared.reconstruction.reconstruct import reconstruct
from curbwright.tests.benchmarks import accuracy, fingerprint


@pytest.fixture(scope="module")
def result():
    table = accuracy.epoch_table(trial_set(1, 3))
    return reconstruct(table, Settings(station_spacing=1.0))


def columns_of(record, path=()):
    """Paths to all arrays in a record of records."""
    for column in dataclasses.fields(record):
        value = getattr(record, column.name)
        if dataclasses.is_dataclass(value):
            yield from columns_of(value, (*path, column.name))
        elif isinstance(value, np.ndarray):
            yield (*path, column.name)


def changed(record, path):
    """The record with the last bit of one value changed."""
    name, *rest = path
    value = getattr(record, name)
    if rest:
        return dataclasses.replace(record, **{name: changed(value, rest)})
    value = value.copy()
    value.reshape(-1).view(np.uint8)[0] ^= 1
    return dataclasses.replace(record, **{name: value})


def test_every_bit_of_a_result_counts(result):
    whole = fingerprint.of_result(result)
    paths = [path for path in columns_of(result) if path]
    assert ("reason",) in paths and ("edges", "x") in paths and ("gaps", "reason") in paths
    sums = {whole}
    for path in paths:
        sums.add(fingerprint.of_result(changed(result, path)))
    assert len(sums) == 1 + len(paths)


def test_the_command_prints_the_same_line_for_the_same_set(capsys):
    lines = []
    for more in ((), (), ("--model", "spline"), ("--set", "SCREENING.spike_sigmas=1000000.0")):
        fingerprint.main(["1", "--captures", "6", *more])
        lines.append(capsys.readouterr().out)
    seed, edges, digest = lines[0].split()
    assert seed == "1" and int(edges) >= 6 and len(digest) == 64
    assert lines[0] == lines[1] and len(set(lines)) == 3
    with pytest.raises(SystemExit):
        fingerprint.main(["1", "--set", "SCREENING.spikes=2"])
    assert "SCREENING has no “spikes”" in capsys.readouterr().err


def test_the_sum_of_a_layer(tmp_path, capsys):
    path = tmp_path / "a.gpkg"
    with closing(sqlite3.connect(path)) as database:
        database.execute("CREATE TABLE gpkg_contents (table_name TEXT)")
        for name in ("gaps", "edges", "notes"):
            database.execute("INSERT INTO gpkg_contents VALUES (?)", (name,))
            database.execute(f"CREATE TABLE {name} (fid INTEGER PRIMARY KEY, geom BLOB, text TEXT)")
        database.execute("INSERT INTO edges VALUES (2, x'00', 'a'), (1, x'01', NULL)")
        database.commit()

    def lines():
        fingerprint.main(["--layers", str(tmp_path)])
        return capsys.readouterr().out.splitlines()

    before = lines()
    assert [line.rsplit(" ", 1)[0] for line in before] == ["a.gpkg edges 2", "a.gpkg gaps 0"]
    for change in ("geom = x'02'", "text = 'b'"):
        with closing(sqlite3.connect(path)) as database:
            database.execute(f"UPDATE edges SET {change} WHERE fid = 1")
            database.commit()
        after = lines()
        assert after[0] != before[0] and after[1] == before[1]
        before = after
