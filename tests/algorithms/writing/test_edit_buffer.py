"""Edits of a layer: one undo step, and all or nothing."""

import pytest
from qgis.core import (
    QgsFeature,
    QgsFields,
    QgsGeometry,
    QgsProcessingException,
    QgsVectorLayer,
)

from curbwright.algorithms.host.feedback import CancelledError
from curbwright.algorithms.host.fields import NewField
from curbwright.algorithms.writing import edit_saving
from curbwright.algorithms.writing.edit_buffer import LayerEdits, apply_edits, why_not_editable

pytestmark = pytest.mark.usefixtures("qgis_app")


def feature(fields, wkt, *values):
    out = QgsFeature(fields)
    out.setGeometry(QgsGeometry.fromWkt(wkt))
    out.setAttributes(list(values))
    return out


@pytest.fixture
def lines_layer():
    layer = QgsVectorLayer(
        "LineString?crs=EPSG:32631&field=name:string&field=age:integer", "streets", "memory"
    )
    fields = layer.fields()
    rows = [
        feature(fields, "LineString(0 0, 1 0)", "a", 1),
        feature(fields, "LineString(0 5, 1 5)", "b", 2),
    ]
    assert layer.dataProvider().addFeatures(rows)[0]
    return layer


def some_edits():
    """Line 1 moved and named, a new one, line 2 gone, and a field more; `age` is left out."""
    fields = QgsFields()
    for name in ("name", "update"):
        fields.append(NewField(name, "QString", "").field())
    return LayerEdits(
        title="as one",
        fields=fields,
        changed={1: feature(fields, "LineString(0 1, 1 1)", "a", "replaced")},
        added=[feature(fields, "LineString(0 9, 1 9)", "c", "added")],
        deleted=[2],
    )


def content(layer):
    return sorted(
        (row["name"], row["age"] or None, row.geometry().asWkt()) for row in layer.getFeatures()
    )


def test_edits_are_one_step_that_can_be_undone(lines_layer):
    before = content(lines_layer)
    apply_edits(lines_layer, some_edits(), keep_open=True)
    assert lines_layer.isEditable() and lines_layer.undoStack().count() == 1
    assert lines_layer.undoStack().text(0) == "as one"
    rows = {row["name"]: row for row in lines_layer.getFeatures()}
    assert sorted(rows) == ["a", "c"]
    assert (rows["a"]["age"], rows["a"]["update"]) == (1, "replaced")
    assert rows["a"].geometry().asWkt() == "LineString (0 1, 1 1)"
    lines_layer.undoStack().undo()
    assert content(lines_layer) == before
    assert lines_layer.fields().names() == ["name", "age"]


def test_edits_are_saved_where_the_layer_is_not_to_stay_open(lines_layer):
    apply_edits(lines_layer, some_edits(), keep_open=False)
    assert not lines_layer.isEditable()
    assert lines_layer.fields().names() == ["name", "age", "update"]
    assert [row["name"] for row in lines_layer.getFeatures()] == ["a", "c"]


def test_a_layer_in_edit_mode_stays_so_with_earlier_edits(lines_layer):
    lines_layer.startEditing()
    assert lines_layer.changeAttributeValue(1, 1, 99)
    apply_edits(lines_layer, some_edits(), keep_open=False)
    assert lines_layer.isEditable() and lines_layer.undoStack().count() == 2
    assert lines_layer.getFeature(1)["age"] == 99


def refused_deletion(edits):
    edits.deleted = [2, -777]


def line_that_is_gone(edits):
    edits.changed[777] = edits.changed[1]


@pytest.mark.parametrize("spoil", [refused_deletion, line_that_is_gone])
def test_one_refused_change_takes_all_back(lines_layer, spoil):
    before, edits = content(lines_layer), some_edits()
    spoil(edits)
    with pytest.raises(QgsProcessingException, match="streets.*as it was"):
        apply_edits(lines_layer, edits, keep_open=True)
    assert content(lines_layer) == before and not lines_layer.isEditable()


@pytest.mark.parametrize("being_edited", [False, True])
@pytest.mark.parametrize("looks", range(4))
def test_a_cancel_between_rows_leaves_all_as_it_was(lines_layer, looks, being_edited, monkeypatch):
    """At each look: before either line is compared, and before the first one is changed; the fourth
    does not come."""
    monkeypatch.setattr(edit_saving, "AT_ONCE", 1)
    if being_edited:
        lines_layer.startEditing()
        assert lines_layer.changeAttributeValue(2, 1, 99)
    before, steps, edits = content(lines_layer), lines_layer.undoStack().count(), some_edits()
    edits.changed[2], edits.deleted = edits.changed[1], []
    left = iter([None] * looks)

    def look():
        if next(left, "no more") is not None:
            raise CancelledError

    if looks == 3:
        apply_edits(lines_layer, edits, keep_open=True, look=look)
        assert content(lines_layer) != before
        return
    with pytest.raises(CancelledError):
        apply_edits(lines_layer, edits, keep_open=True, look=look)
    assert content(lines_layer) == before and lines_layer.fields().names() == ["name", "age"]
    assert lines_layer.isEditable() == being_edited and lines_layer.undoStack().count() == steps


def test_why_a_layer_cannot_be_edited(lines_layer):
    assert why_not_editable(lines_layer) == ""
    assert "of the project" in why_not_editable(None)
    lines_layer.setReadOnly(True)
    assert "streets" in why_not_editable(lines_layer)
