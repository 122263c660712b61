"""How parameters are made, each with its help, and what was given in them."""

from qgis.core import (
    QgsProcessingAlgorithm,
    QgsProcessingOutputLayerDefinition,
    QgsProcessingOutputNumber,
    QgsProcessingParameterDefinition,
    QgsProcessingParameterDistance,
    QgsProcessingParameterEnum,
    QgsProcessingParameterFeatureSink,
    QgsProcessingParameterFeatureSource,
    QgsProcessingParameterField,
    QgsProcessingParameterNumber,
    QgsProperty,
    QgsUnitTypes,
)

from ..host.fields import is_null, spelling
from ..host.figures import translate

FOUND_NAMES = {"SIGMA_FIELD": "sigma_cross", "SIGMA_UP_FIELD": "sigma_up"}  # as edges have them


class Parameters(QgsProcessingAlgorithm):
    """Base of `Algorithm`: its parameters and outputs, with help.

    Attributes
    ----------
    FOUND_FIELDS : tuple of str
        Parameters of fields that are found from names and values where they are left empty.
    """

    FOUND_FIELDS = ()
    # set by the plugin: classes of the widgets of a field that may be found, and of a length
    field_widget = length_widget = None

    def __init__(self):
        super().__init__()
        self.labels = {}  # of parameters whose label says more in the dialogue
        # words of the choices of parameters: what `parameterDefinition` returns may be taken for
        # one that stood at the same place of memory before, and of another class
        self.choices = {}

    def initAlgorithm(self, config=None):
        self.add_inputs()
        self.add_settings()
        self.add_outputs()

    def add_inputs(self):
        """Add the layers that are read, and which field is what."""

    def add_settings(self):
        """Add limits and choices."""

    def add_outputs(self):
        """Add what is written and returned."""

    def add(self, parameter, help_text, advanced=False, decimals=None, left_empty=""):
        """Add a parameter with its help; `left_empty` is what its label says it is when empty."""
        if parameter.name() in self.FOUND_FIELDS:
            left_empty = translate("Algorithm", "automatic")
        if left_empty:
            self.labels[parameter.name()] = parameter.description()
            parameter.setDescription(
                translate("Algorithm", "{} (empty: {})").format(parameter.description(), left_empty)
            )
        if parameter.type() == "enum" and isinstance(parameter, QgsProcessingParameterEnum):
            self.choices[parameter.name()] = parameter.options()
        found = parameter.name() in self.FOUND_FIELDS and parameter.type() == "field"
        if found and self.field_widget is not None:
            parameter.setMetadata({"widget_wrapper": {"class": self.field_widget}})
        parameter.setHelp(help_text)
        if advanced:
            parameter.setFlags(
                parameter.flags() | QgsProcessingParameterDefinition.Flag.FlagAdvanced
            )
        if decimals is not None:
            parameter.setMetadata({"widget_wrapper": {"decimals": decimals}})
        self.addParameter(parameter)

    def add_distance(self, name, label, default, help_text, advanced=False, minimum=0.0):
        """A length in metres, whatever the layer's CRS."""
        parameter = QgsProcessingParameterDistance(name, label, default, "", False, minimum)
        parameter.setDefaultUnit(QgsUnitTypes.DistanceUnit.DistanceMeters)
        shown = {"decimals": 3}
        if self.length_widget is not None:
            shown["class"] = self.length_widget
        parameter.setMetadata({"widget_wrapper": shown})
        self.add(parameter, help_text, advanced)

    def add_layer(self, name, label, kinds, help_text, *, optional=False, advanced=False):
        """A layer that is read.

        Parameters
        ----------
        name, label : str
        kinds : list of QgsProcessing.SourceType
        help_text : str
        """
        self.add(
            QgsProcessingParameterFeatureSource(name, label, kinds, None, optional),
            help_text,
            advanced,
        )

    def add_field(self, name, label, layer, help_text, *, several=False, advanced=False):
        """A field, or `several`, of the layer that another parameter gives; it may be left
        empty."""
        parameter = QgsProcessingParameterField(
            name,
            label,
            parentLayerParameterName=layer,
            type=QgsProcessingParameterField.DataType.Any,
            allowMultiple=several,
            optional=True,
        )
        self.add(parameter, help_text, advanced)

    def add_number(self, name, label, default, help_text, **how):
        """A number that is no length; `how` has `low`, `high`, `decimals` and `advanced`. It is a
        whole one where its default is."""
        kinds, whole = QgsProcessingParameterNumber.Type, isinstance(default, int)
        kind = kinds.Integer if whole else kinds.Double
        parameter = QgsProcessingParameterNumber(name, label, kind, default)
        if "low" in how:
            parameter.setMinimum(how["low"])
        if "high" in how:
            parameter.setMaximum(how["high"])
        self.add(parameter, help_text, how.get("advanced", False), how.get("decimals"))

    def add_choice(self, name, label, options, help_text, *, optional=False, advanced=False):
        """One of some words, the first by default; the value is its place."""
        parameter = QgsProcessingParameterEnum(name, label, options, False, 0, optional)
        self.add(parameter, help_text, advanced)

    def add_sink(self, name, label, kind, help_text, *, optional=False, shown=True):
        """A layer that is written; an optional one that is not `shown` is off in the dialogue."""
        self.add(
            QgsProcessingParameterFeatureSink(name, label, kind, None, optional, shown), help_text
        )

    def add_numbers(self, *numbers):
        """Numbers that are returned: pairs of name and label."""
        for name, label in numbers:
            self.addOutput(QgsProcessingOutputNumber(name, label))

    def found_field(self, name, layer):
        """What the parameter of a field takes of a layer where it is left empty, in words.

        Parameters
        ----------
        name : str
            One of `FOUND_FIELDS`.
        layer : QgsVectorLayer

        Returns
        -------
        str
            Empty where nothing can be told beforehand.
        """
        usual = FOUND_NAMES.get(name)
        if usual is None:
            return ""
        return spelling(layer.fields(), usual) or translate("Algorithm", "nothing")

    def label(self, name):
        """What messages call a parameter: its label without what is said of leaving it empty."""
        return self.labels.get(name) or self.parameterDefinition(name).description()

    # What was given

    def wanted(self, parameters, name):
        """True where an optional output is asked for, or an optional layer given."""
        value = parameters.get(name)
        if isinstance(value, QgsProcessingOutputLayerDefinition):
            value = value.sink
        if isinstance(value, QgsProperty):
            value = (
                value.staticValue()
                if value.propertyType() == QgsProperty.Type.StaticProperty
                else name
            )
        return not is_null(value) and value != ""

    def numbers(self, parameters, context, **names):
        """Numbers given, by keyword: `numbers(parameters, context, reach=self.MAX_OFFSET)`."""
        return {
            key: self.parameterAsDouble(parameters, name, context) for key, name in names.items()
        }

    def why_not_less(self, parameters, context, low, high):
        """Why one number may not stand beside another, which must be greater; empty where it
        may."""
        given = self.numbers(parameters, context, low=low, high=high)
        if given["low"] < given["high"]:
            return ""
        return self.tr("“{}” must be less than “{}”.").format(self.label(low), self.label(high))

    def field_names(self, parameters, name, context):
        """Fields that were chosen in a parameter that takes several."""
        # 3.22 has only the latter
        several = getattr(self, "parameterAsStrings", None) or self.parameterAsFields
        return several(parameters, name, context)
