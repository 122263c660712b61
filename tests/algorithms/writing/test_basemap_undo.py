"""What it takes to take a change back, as text."""

import json

import pytest
from qgis.core import QgsGeometry
from qgis.PyQt.QtCore import QByteArray, QDate, QDateTime, Qt, QTime

from curbwright.algorithms.writing.basemap_undo import geometry_of, heard, hex_of, told, undo_text

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
