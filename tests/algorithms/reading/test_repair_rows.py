"""Repairs as they are read: times however they are given, and the order in which they count."""

import sqlite3
import time
from contextlib import closing

import numpy as np
import pytest
from qgis.core import QgsFeature, QgsVectorLayer
from qgis.PyQt.QtCore import QDate, QDateTime, Qt, QTime

from curbwright.algorithms.batch.repairs import BatchRepairs
from curbwright.algorithms.host.fields import fields_of
from curbwright.algorithms.reading.repair_rows import (
    REPAIR_FIELDS,
    in_words,
    problem_of,
    read_rows,
    row_of,
)


def test_a_time_beyond_all_dates_is_written_as_a_number():
    in_milliseconds = 1.7e12  # 2023 in milliseconds, as some tables hold it
    assert in_words(in_milliseconds) == "1.7e+12"
    assert in_words(1.7e9) == "2023-11-14 22:13:20"


@pytest.mark.parametrize("value", [np.nan, np.inf])
def test_a_time_that_is_no_number_is_a_problem_in_words(value):
    fields = fields_of(REPAIR_FIELDS)
    feature = QgsFeature(fields)
    feature["kind"], feature["time"] = "leave_out", float(value)
    assert "time" in problem_of(row_of(feature, fields))


NOON = QDateTime(QDate(2026, 5, 4), QTime(12, 0))  # 1777896000 in UTC


@pytest.fixture
def in_new_york(monkeypatch):
    """The zone of the process."""
    if not hasattr(time, "tzset"):
        pytest.skip("the zone of a process cannot be changed here")
    monkeypatch.setenv("TZ", "America/New_York")
    time.tzset()
    yield
    monkeypatch.undo()
    time.tzset()


@pytest.mark.parametrize(
    "value",
    [
        1777896000,
        "1777896000",
        "2026-05-04T12:00:00",
        "2026-05-04T14:00:00+02:00",
        NOON,
        QDateTime(NOON.date(), NOON.time(), Qt.TimeSpec.UTC),
        QDateTime(NOON.date(), QTime(14, 0), Qt.TimeSpec.OffsetFromUTC, 7200),
    ],
)
def test_a_time_is_the_same_however_it_is_given(value, in_new_york):
    """No zone means UTC, whatever the machine's zone is."""
    assert QDateTime(NOON.date(), NOON.time()).toSecsSinceEpoch() == 1777896000 + 4 * 3600
    layer = QgsVectorLayer("None?field=time:string", "repairs", "memory")
    feature = QgsFeature(layer.fields())
    feature["time"] = value
    assert row_of(feature, layer.fields())["time"] == 1777896000


def test_the_batch_reads_times_as_the_algorithm_does(tmp_path):
    path = tmp_path / "repairs.gpkg"
    with closing(sqlite3.connect(str(path))) as database, database:
        names = "table_name, column_name, geometry_type_name, srs_id"
        database.execute(f"CREATE TABLE gpkg_geometry_columns ({names})")
        database.execute("CREATE TABLE gpkg_spatial_ref_sys (srs_id, definition)")
        database.execute("CREATE TABLE repairs (fid INTEGER PRIMARY KEY, kind, Time)")
        for moment in ("2026-05-04T12:00:00", "2026-05-04T12:00:00.000Z", np.inf):
            database.execute("INSERT INTO repairs (kind, Time) VALUES ('corner', ?)", (moment,))
    batch = BatchRepairs(path)
    assert [row["time"] for row in batch.rows] == [1777896000, 1777896000, None]
    assert list(batch.problems) == [2]


def test_rows_that_are_not_saved_come_last_in_their_order(qgis_app):
    layer = QgsVectorLayer(
        "None?field=kind:string&field=capture:string&field=time:double", "", "memory"
    )

    def feature(kind):
        made = QgsFeature(layer.fields())
        made["kind"], made["time"] = kind, 1.0
        return made

    layer.dataProvider().addFeature(feature("corner"))
    layer.startEditing()
    layer.addFeature(feature("leave_out"))
    layer.addFeature(feature("take_back"))
    assert [row["kind"] for row in read_rows(layer).rows] == ["corner", "leave_out", "take_back"]
    layer.rollBack()
