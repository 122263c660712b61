"""Beside a field that may be found, the dialogue says what would be found in the layer chosen."""

import weakref

import pytest
from processing.gui.wrappers import WidgetWrapperFactory
from qgis.core import QgsApplication, QgsFeature, QgsProcessingContext, QgsProject, QgsVectorLayer
from qgis.gui import QgsProcessingContextGenerator
from qgis.PyQt.QtCore import QCoreApplication
from qgis.PyQt.QtWidgets import QComboBox, QDialog, QDoubleSpinBox

from curbwright.algorithms.base.algorithm import Algorithm
from curbwright.plugin.field_widget import FieldWidget, LengthWidget, WithFound

pytestmark = pytest.mark.usefixtures("provider", "qgis_new_project")
STREAM = "PointZ?crs=EPSG:32632&field=gps_time:datetime&field=fix:string&field=walk:string"
FIELDS = ("TIME_FIELD", "CAPTURE_FIELDS", "FIX_FIELD", "H_ACCURACY_FIELD", "V_ACCURACY_FIELD")


class BatchAlgorithmDialog(QDialog):
    """Called like the host's."""


class Contexts(QgsProcessingContextGenerator):
    """Gives the context of a panel, as the host's panel does."""

    def __init__(self, context):
        super().__init__()
        self.context = context

    def processingContext(self):
        return self.context


class Panel:
    """Widgets of all parameters, as the host's panel makes them."""

    def __init__(self, name):
        made = QgsApplication.processingRegistry().createAlgorithmById(f"curbwright:{name}")
        self.algorithm, self.dialog = made, QDialog()
        self.context = QgsProcessingContext()
        self.context.setProject(QgsProject.instance())
        self.contexts = Contexts(self.context)
        self.wrappers, self.widgets = {}, []  # as a window holds them
        for parameter in made.parameterDefinitions():
            if not parameter.isDestination():
                wrapper = WidgetWrapperFactory.create_wrapper(parameter, self.dialog)
                wrapper.registerProcessingContextGenerator(self.contexts)
                self.widgets.append(wrapper.createWrappedWidget(self.context))
                self.wrappers[parameter.name()] = wrapper
        for wrapper in self.wrappers.values():
            wrapper.postInitialize(list(self.wrappers.values()))

    def choose(self, name, value):
        self.wrappers[name].setParameterValue(value, self.context)
        QCoreApplication.processEvents()

    def said(self, names=FIELDS):
        return {name: self.wrappers[name].line.text().replace("found: ", "") for name in names}


@pytest.fixture(autouse=True)
def in_a_window(monkeypatch):
    monkeypatch.setattr(Algorithm, "field_widget", FieldWidget)
    monkeypatch.setattr(Algorithm, "length_widget", LengthWidget)


def added(definition, name):
    layer = QgsVectorLayer(definition, name, "memory")
    QgsProject.instance().addMapLayer(layer)
    return layer


def test_it_follows_the_layer():
    stream = added(STREAM, "stream")
    other = added("Point?crs=EPSG:32632&field=utc:datetime&field=hrms:double", "other")
    lines = added("LineStringM?crs=EPSG:32632&field=walk:string", "lines")
    panel = Panel("reconstructedges")
    panel.choose("INPUT", stream.id())
    nothing = dict.fromkeys(("H_ACCURACY_FIELD", "V_ACCURACY_FIELD"), "nothing")
    assert panel.said() == {
        "TIME_FIELD": "gps_time",
        "CAPTURE_FIELDS": "walk",
        "FIX_FIELD": "fix",
        **nothing,
    }
    panel.choose("INPUT", other.id())
    assert panel.said(("TIME_FIELD", "CAPTURE_FIELDS", "H_ACCURACY_FIELD")) == {
        "TIME_FIELD": "utc",
        "CAPTURE_FIELDS": "nothing",
        "H_ACCURACY_FIELD": "hrms",
    }
    panel.choose("INPUT", lines.id())
    assert "M of the vertices" in panel.said()["TIME_FIELD"]
    assert panel.said()["CAPTURE_FIELDS"] == "each line"


def test_nothing_is_said_beside_a_field_that_was_chosen():
    layer, panel = added(STREAM, "stream"), Panel("reconstructedges")
    panel.choose("INPUT", layer.id())
    panel.choose("TIME_FIELD", "walk")
    assert panel.wrappers["TIME_FIELD"].parameterValue() == "walk"
    assert panel.said()["TIME_FIELD"] == "" and panel.said()["FIX_FIELD"] == "fix"
    panel.choose("TIME_FIELD", "")
    assert panel.said()["TIME_FIELD"] == "gps_time"
    panel.choose("CAPTURE_FIELDS", ["walk", "fix"])
    assert panel.wrappers["CAPTURE_FIELDS"].parameterValue() == ["walk", "fix"]


def test_rivals_are_named():
    layer = added("Point?crs=EPSG:32632&field=time:string&field=timestamp:string", "rivals")
    rows = [QgsFeature(layer.fields()) for _ in range(12)]
    for number, row in enumerate(rows):
        row.setAttributes([f"2026-05-04T10:{minute:02d}:{number:02d}Z" for minute in (1, 2)])
    layer.dataProvider().addFeatures(rows)
    panel = Panel("reconstructedges")
    panel.choose("INPUT", layer.id())
    said = panel.said()["TIME_FIELD"]
    assert said.endswith("choose one") and "time or timestamp" in said


@pytest.mark.parametrize(
    ("name", "of", "fields"),
    [
        ("compareedges", "INPUT", {"SIGMA_FIELD": "sigma_cross"}),
        ("updatebasemap", "EDGES", {"SIGMA_FIELD": "sigma_cross"}),
        ("mergepasses", "INPUT", {"SIGMA_FIELD": "sigma_cross", "SIGMA_UP_FIELD": "nothing"}),
    ],
)
def test_uncertainties_of_edges(name, of, fields):
    layer = added("LineStringZ?crs=EPSG:32632&field=sigma_cross:double", "edges")
    panel = Panel(name)
    panel.choose(of, layer.id())
    assert panel.said(fields) == fields


def test_places_to_revisit():
    layer, panel = added(STREAM, "stream"), Panel("revisits")
    panel.choose("REJECTED", layer.id())
    assert panel.said(FIELDS[:2]) == {"TIME_FIELD": "gps_time", "CAPTURE_FIELDS": "walk"}


def test_other_dialogues_have_the_widgets_of_the_host():
    made = QgsApplication.processingRegistry().createAlgorithmById("curbwright:reconstructedges")
    parameter = made.parameterDefinition("TIME_FIELD")
    assert isinstance(WidgetWrapperFactory.create_wrapper(parameter, QDialog()), WithFound)
    batch = WidgetWrapperFactory.create_wrapper(parameter, BatchAlgorithmDialog())
    assert not isinstance(batch, WithFound) and batch.parameterDefinition().name() == "TIME_FIELD"


@pytest.mark.parametrize(
    ("name", "label"),
    [
        ("TOLERANCE", "Tolerance of the line written"),
        ("MAX_DISTANCE_GAP", "Maximum step within an edge; 0: automatic"),
    ],
)
def test_the_unit_of_a_length_stands_once(name, label):
    """In a box beside it; in the batch, which has none, in the label."""
    made = QgsApplication.processingRegistry().createAlgorithmById("curbwright:reconstructedges")
    parameter, context = made.parameterDefinition(name), QgsProcessingContext()
    wrapper = WidgetWrapperFactory.create_wrapper(parameter, QDialog())
    widget = wrapper.createWrappedWidget(context)
    assert wrapper.createWrappedLabel().text() == label
    (box,) = [one for one in widget.findChildren(QDoubleSpinBox) if one.decimals() == 3]
    wrapper.setParameterValue(0.25, context)
    assert box.value() == wrapper.parameterValue() == 0.25
    assert widget.findChildren(QComboBox)[0].currentText() == "meters"
    died = weakref.ref(wrapper)
    del wrapper, widget, box
    assert died() is None
    batch = WidgetWrapperFactory.create_wrapper(parameter, BatchAlgorithmDialog())
    assert batch.createWrappedLabel() is None and "(m)" in batch.parameterDefinition().description()


def test_the_command_line_knows_no_widget(monkeypatch):
    monkeypatch.setattr(Algorithm, "field_widget", None)
    monkeypatch.setattr(Algorithm, "length_widget", None)
    made = QgsApplication.processingRegistry().createAlgorithmById("curbwright:reconstructedges")
    assert not made.parameterDefinition("TIME_FIELD").metadata()
