"""What it takes to take a change back, as text."""

import json

import pytest
from qgis.core import QgsFeature, QgsField, QgsFields, QgsGeometry
from qgis.PyQt.QtCore import QByteArray, QDate, QDateTime, Qt, QTime, QVariant

from curbwright.algorithms.writing.basemap_undo import (
    TakenBack,
    geometry_of,
    heard,
    hex_of,
    told,
    undo_text,
)

pytestmark = pytest.mark.usefixtures("qgis_app")
LINE = "LineString(500010.123 7, 500020.456 8.25, 500030.789 9)"


def test_geometries_as_text_lose_nothing():
    geometry = QgsGeometry.fromWkt(LINE)
    assert bytes(geometry_of(hex_of(geometry)).asWkb()) == bytes(geometry.asWkb())
    assert hex_of(None) == hex_of(QgsGeometry()) == "" and geometry_of("").isNull()


def test_what_undo_needs():
    geometry = QgsGeometry.fromWkt(LINE)
    text = undo_text(None, geometry, {"update": "x", "at": None}, ["valid_to"])
    assert json.loads(text) == {
        "before": "",
        "after": hex_of(geometry),
        "former": {"update": "x", "at": None},
        "added_fields": ["valid_to"],
    }


@pytest.mark.parametrize(
    "value",
    [
        None, True, 7, 2**40, 0.1 + 0.2, "Kai “7”", ["a", "b"], {"a": 1},
        QDate(2024, 2, 29), QTime(23, 59, 58, 7), QDateTime(QDate(2024, 2, 29), QTime(1, 2, 3)),
        QDateTime(QDate(2024, 2, 29), QTime(1, 2, 3, 456), Qt.TimeSpec.UTC), QByteArray(b"\0\xff"),
    ],
)  # fmt: skip
def test_values_of_every_kind_come_back(value):
    back = heard(json.loads(json.dumps(told(value))))
    assert back == value and type(back) is type(value)
    if isinstance(value, QDateTime):
        assert back.timeSpec() == value.timeSpec()


def taken_back(states, names):
    """Names and new y of lines that lie one on the other, after changes that moved them from y = 1,
    2, 3... there."""
    fields = QgsFields()
    for name in ("name", "update"):
        fields.append(QgsField(name, QVariant.String))
    here = QgsGeometry.fromWkt("LineString(0 0, 9 0)")
    texts = [
        undo_text(QgsGeometry.fromWkt(f"LineString(0 {y}, 9 {y})"), here, {}, ["update"])
        for y in range(1, len(names) + 1)
    ]
    back, before = TakenBack(texts, names), QgsFields(fields)
    before = back.fields(before)
    for number, state in enumerate(states, 1):
        row = QgsFeature(fields, number)
        row.setGeometry(here)
        row.setAttributes([f"K{number}", state])
        back.take(row, before)
    return [int(row.geometry().vertexAt(0).y()) for row in back.updated], back.left


@pytest.mark.parametrize(
    ("states", "names", "places"),
    [
        (["replaced"] * 3, [("replaced", "")] * 3, [1, 2, 3]),
        (["replaced"] * 2, [("replaced", "K2"), ("replaced", "K1")], [2, 1]),
        (["replaced"] * 2, [("replaced", "2"), ("replaced", "1")], [2, 1]),
        (["unchanged", "retired"], [("retired", "2")], [0, 1]),
        ([None, "retired", "replaced"], [("replaced", "3"), ("retired", "2")], [0, 2, 1]),
    ],
)
def test_lines_one_on_the_other_get_their_own_back(states, names, places):
    assert taken_back(states, names) == (places, 0)
