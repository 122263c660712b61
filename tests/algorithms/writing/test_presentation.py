"""Result layers present themselves: fields with units, tips, forms, metadata."""

import pytest
from qgis.core import QgsExpression, QgsExpressionContext, QgsFeature, QgsVectorLayer

from curbwright.algorithms.host.fields import NewField, fields_of
from curbwright.algorithms.writing.presentation import About, alias_of, present

pytestmark = pytest.mark.usefixtures("qgis_app")
FIELDS = (
    NewField("edge_id", "LongLong", "Number of the edge."),
    NewField("started", "QDateTime", "First epoch, UTC."),
    NewField("started_unix", "Double", "First epoch.", "s"),
    NewField("sigma_cross", "Double", "Uncertainty across.", "m"),
    NewField("bearing", "Double", "Bearing.", "degrees"),
    NewField("start_reason", "QString", "Why it starts."),
    NewField("decision", "QString", "Decision."),
    NewField("remark", "QString", "Remark."),
    NewField("undo", "QString", "For machines."),
)


@pytest.fixture
def result_layer():
    layer = QgsVectorLayer("LineString?crs=EPSG:32631&field=colour:string", "edges", "memory")
    layer.dataProvider().addAttributes(list(fields_of(FIELDS)))
    layer.updateFields()
    present(layer, FIELDS, About("Edges of north", "Lines.", "Reconstruct edges", "north", "now"))
    return layer


def place(layer, name):
    return layer.fields().lookupField(name)


@pytest.mark.parametrize(
    ("name", "unit", "alias"),
    [("sigma_cross", "m", "Sigma cross (m)"), ("capture", "", "Capture"), ("x", "s", "X (s)")],
)
def test_aliases(name, unit, alias):
    assert alias_of(name, unit) == alias


def test_fields_are_named_with_units_and_have_decimals(result_layer):
    assert result_layer.attributeAlias(place(result_layer, "sigma_cross")) == "Sigma cross (m)"
    assert result_layer.attributeAlias(place(result_layer, "colour")) == ""
    for name, decimals in (("sigma_cross", 3), ("bearing", 2)):
        setup = result_layer.editorWidgetSetup(place(result_layer, name))
        assert (setup.type(), setup.config()["Precision"]) == ("Range", decimals)


def test_what_machines_read_is_hidden(result_layer):
    columns = result_layer.attributeTableConfig().columns()
    hidden = {column.name for column in columns if column.hidden and column.name}
    assert hidden == {"started_unix", "undo"}
    assert result_layer.editorWidgetSetup(place(result_layer, "undo")).type() == "Hidden"


def test_what_is_said_of_epochs_stands_before_their_own_fields():
    epochs = QgsVectorLayer(
        "Point?field=own:int&field=reason:string&field=detail:string", "e", "memory"
    )
    present(epochs, [NewField("reason", "QString", "Why."), NewField("detail", "QString", "How.")])
    columns = [column.name for column in epochs.attributeTableConfig().columns() if column.name]
    assert columns == ["reason", "detail", "own"]
    assert epochs.fields().names() == ["own", "reason", "detail"]


def test_dates_are_read_as_dates_and_columns_are_wide_enough(result_layer):
    setup = result_layer.editorWidgetSetup(place(result_layer, "started"))
    assert (setup.type(), setup.config()["field_format"]) == ("DateTime", "yyyy-MM-dd HH:mm:ss")
    widths = {column.name: column.width for column in result_layer.attributeTableConfig().columns()}
    assert widths["started"] > widths["edge_id"] >= 100 < widths["sigma_cross"]


def test_forms_are_read_only_but_for_the_review(result_layer):
    form = result_layer.editFormConfig()
    writable = [name for name in result_layer.fields().names()
                if not form.readOnly(place(result_layer, name))]  # fmt: skip
    assert writable == ["decision", "remark"]
    choices = result_layer.editorWidgetSetup(place(result_layer, "decision")).config()["map"]
    assert [next(iter(choice.values())) for choice in choices] == ["", "accept", "hold", "reject"]


def test_a_tip_says_what_one_wants_to_know(result_layer):
    feature = QgsFeature(result_layer.fields())
    feature.setAttributes([None, 7, None, 1.7e9, 0.01234, 12.0, "paused", None, None, "{}"])
    context = QgsExpressionContext()
    context.setFeature(feature)
    context.setFields(result_layer.fields())
    tip = QgsExpression.replaceExpressionText(result_layer.mapTipTemplate(), context)
    for part in ("<b>Edge id</b>: 7", "<b>Start reason</b>: paused", "0.012 m"):
        assert part in tip, tip
    assert "Decision" not in tip  # it is empty
    assert result_layer.displayExpression() == '"edge_id"'


def test_metadata_say_what_from_what_and_when(result_layer):
    metadata = result_layer.metadata()
    assert metadata.title() == "Edges of north" and metadata.abstract() == "Lines."
    assert "Reconstruct edges" in metadata.history()[0] and "north" in metadata.history()[0]


def test_a_presented_layer_keeps_all_of_it_in_its_style(result_layer, tmp_path):
    path = str(tmp_path / "style.qml")
    assert result_layer.saveNamedStyle(path)[1]
    again = QgsVectorLayer("LineString?crs=EPSG:32631&field=colour:string", "edges", "memory")
    again.dataProvider().addAttributes(list(fields_of(FIELDS)))
    again.updateFields()
    assert again.loadNamedStyle(path)[1]
    assert again.attributeAlias(place(again, "sigma_cross")) == "Sigma cross (m)"
    assert again.editFormConfig().readOnly(place(again, "sigma_cross"))
