"""Widgets of parameters that differ from the host's own: of a field that is found where it is left
empty, with what would be found in the layer chosen beneath it, and of a length, whose unit stands
in a box beside it and not in its label as well."""

import weakref
from functools import partial

from qgis.core import QgsProcessingContext, QgsProcessingParameters, QgsProject
from qgis.gui import QgsAbstractProcessingParameterWidgetWrapper, QgsGui, QgsProcessingGui
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtWidgets import QLabel, QVBoxLayout, QWidget

from ..algorithms.host.figures import translate

UNIT = " (m)"  # in labels of lengths, in all languages
KINDS = QgsProcessingGui.WidgetType
# dialogues of the host whose widgets stay as they are, by the name of their class
OTHERS = {"BatchAlgorithmDialog": KINDS.Batch, "ModelerParametersDialog": KINDS.Modeler}


def tr(text):
    return translate("FieldWidget", text)


class FieldWidget:
    """What the host makes where a parameter names a class for its widget."""

    def __new__(cls, parameter, dialog, row=0, col=0, **how):
        registry, name = QgsGui.processingGuiRegistry(), type(dialog).__name__
        if name == "ModelerParametersDialog":
            made = registry.createModelerParameterWidget(
                dialog.model, dialog.childId, parameter, dialog.context
            )
        elif name in OTHERS:
            made = registry.createParameterWidgetWrapper(parameter, OTHERS[name])
        else:
            made = cls.in_dialogue(parameter)
        if hasattr(made, "setDialog"):
            made.setDialog(dialog)
        return made

    @staticmethod
    def in_dialogue(parameter):
        """The widget of the dialogue of one run."""
        return WithFound(parameter)


class LengthWidget(FieldWidget):
    """Likewise for a length: in the dialogue the unit is chosen beside it. The batch and the model
    designer show no unit, so that the label keeps it there."""

    @staticmethod
    def in_dialogue(parameter):
        registry = QgsGui.processingGuiRegistry()
        made = registry.createParameterWidgetWrapper(parameter, KINDS.Standard)
        # the host asks this object for its label; by a weak reference, since a wrapper that holds
        # itself would live on after its dialogue
        made.createWrappedLabel = partial(_label_without_unit, weakref.ref(made))
        return made


def _label_without_unit(wrapper):
    made = wrapper()
    label = type(made).createWrappedLabel(made)
    if label is not None:
        label.setText(label.text().replace(UNIT, "", 1))
    return label


class WithFound(QgsAbstractProcessingParameterWidgetWrapper):
    """The host's own widget of a field, with a line beneath it.

    Parameters
    ----------
    parameter : QgsProcessingParameterField
    """

    def __init__(self, parameter):
        super().__init__(parameter, KINDS.Standard)
        self.inner = QgsGui.processingGuiRegistry().createParameterWidgetWrapper(
            parameter, KINDS.Standard
        )
        self.context = self.parent_wrapper = self.line = None

    # What the host asks of a wrapper, passed on

    def setWidgetContext(self, context):
        super().setWidgetContext(context)
        self.inner.setWidgetContext(context)

    def registerProcessingContextGenerator(self, generator):
        super().registerProcessingContextGenerator(generator)
        self.inner.registerProcessingContextGenerator(generator)

    def createWrappedWidget(self, context):
        self.context = context
        return super().createWrappedWidget(context)

    def createWidget(self):
        holder, self.line = QWidget(), QLabel()
        self.line.setWordWrap(True)
        self.line.setIndent(self.line.fontMetrics().averageCharWidth())
        self.line.setVisible(False)
        layout = QVBoxLayout(holder)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(1)
        layout.addWidget(self.inner.createWrappedWidget(self.context or QgsProcessingContext()))
        layout.addWidget(self.line)
        self.inner.widgetValueHasChanged.connect(self._changed)
        return holder

    def setWidgetValue(self, value, context):
        self.inner.setParameterValue(value, context)

    def widgetValue(self):
        return self.inner.parameterValue()

    def postInitialize(self, wrappers):
        super().postInitialize(wrappers)
        self.inner.postInitialize(wrappers)
        wanted = self.parameterDefinition().parentLayerParameterName()
        for wrapper in wrappers:
            if wrapper.parameterDefinition().name() == wanted:
                self.parent_wrapper = wrapper
                wrapper.widgetValueHasChanged.connect(self._later)
        self._later()

    # The line beneath

    def _changed(self, *_):
        self.widgetValueHasChanged.emit(self)
        self._later()

    def _later(self, *_):
        """Once the dialogue has drawn what was chosen."""
        QTimer.singleShot(0, self._say)

    def _say(self):
        try:
            said = "" if self.widgetValue() else self._found()
            self.line.setText(tr("found: {}").format(said) if said else "")
            self.line.setVisible(bool(said))
        except RuntimeError:
            pass  # the dialogue was closed meanwhile

    def _found(self):
        layer, parameter = self._layer(), self.parameterDefinition()
        algorithm = parameter.algorithm()
        if layer is None or not layer.isValid() or not hasattr(algorithm, "found_field"):
            return ""
        return algorithm.found_field(parameter.name(), layer)

    def _layer(self):
        if self.parent_wrapper is None:
            return None
        context = self.context
        if context is None:
            context = QgsProcessingContext()
            context.setProject(QgsProject.instance())
        definition = self.parent_wrapper.parameterDefinition()
        value = self.parent_wrapper.parameterValue()
        return QgsProcessingParameters.parameterAsVectorLayer(definition, value, context)
