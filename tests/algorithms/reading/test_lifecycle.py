"""Validity and status fields, found by name and type."""

import pytest
from qgis.core import QgsFields

from curbwright.algorithms.host.fields import NewField, fields_of
from curbwright.algorithms.reading.lifecycle import (
    FROM,
    STATE,
    UNTIL,
    find_lifecycle,
    with_missing,
)

pytestmark = pytest.mark.usefixtures("qgis_app")


@pytest.mark.parametrize(
    ("fields", "found"),
    [
        pytest.param([("validFrom", "QDate"), ("validTo", "QDate")],
                     {FROM: "validFrom", UNTIL: "validTo"}, id="valid time"),
        pytest.param([("beginLifespanVersion", "QDateTime"), ("endLifespanVersion", "QDateTime")],
                     {FROM: "beginLifespanVersion", UNTIL: "endLifespanVersion"}, id="life span"),
        pytest.param([("START DATE", "QString"), ("End-Date", "QString"), ("Status", "QString")],
                     {FROM: "START DATE", UNTIL: "End-Date", STATE: "Status"}, id="texts"),
        pytest.param([("valid_from", "Int"), ("status", "Int")], {}, id="numbers"),
        pytest.param([("retired", "Bool"), ("name", "QString")], {}, id="other"),
    ],
)  # fmt: skip
def test_found_by_name_and_type(fields, found):
    assert find_lifecycle(fields_of([NewField(*one) for one in fields])).fields == found


def test_a_text_must_hold_what_is_written():
    short = fields_of([NewField("status", "QString", length=2)])
    assert find_lifecycle(short).fields == {}
    assert find_lifecycle(fields_of([NewField("status", "QString", length=7)])).fields


def test_missing_ones_are_added():
    fields = QgsFields(fields_of([NewField("valid_to", "QString")]))
    lifecycle = with_missing(find_lifecycle(fields), fields)
    assert lifecycle.fields == {FROM: "valid_from", UNTIL: "valid_to"}
    assert fields.names() == ["valid_to", "valid_from"]
