"""How a result layer presents itself: names of fields with units, decimals, forms, tips, metadata.

The styles in `plugin/styles` say how features are drawn; what is said here follows from the field
tables of the algorithms, so that a new field needs no second place.
"""

from dataclasses import dataclass

from qgis.core import (
    QgsEditorWidgetSetup,
    QgsLayerMetadata,
)

from ...shared.reconstruction.repairs import ELEMENTS, KINDS
from ..host.fields import kind
from ..host.figures import translate

# fields that a person fills in; all others are results, and forms show them only
REVIEW = ("decision", "remark", "decided_by", "decided_at")
DECISIONS = ("accept", "hold", "reject")
# of a table of repairs, which is known by `until`, people fill in all but what the run writes
REPAIR_CHOICES = {"kind": KINDS, "value": ELEMENTS[1:]}
REPAIR = (
    "layer",
    "capture",
    "kind",
    "value",
    "time",
    "until",
    "decided_by",
    "decided_at",
    "remark",
)
# seconds since 1970 stand beside a date that people read
MACHINE_SUFFIX = "_unix"
MACHINE = ("undo",)
LONG = ("detail", "remark")  # texts of several lines
DECIMALS = {"m": 3, "m²": 3, "degrees": 2, "s": 3}
# what one wants to know on pointing at a feature, in this order: those that a layer has, where they
# are not empty
TIP = (
    "status", "update", "what", "reason", "detail", "kind", "why", "moved", "moved_azimuth",
    "offset_median", "offset", "offset_max", "allowed", "sigma_cross", "sigma_up", "start_reason",
    "end_reason", "seconds", "metres", "role", "residual_cross", "residual_up", "radius",
    "radius_sigma", "length", "decision", "capture", "layer",
)  # fmt: skip
MOST_IN_TIP = 10
DATE_TIME = "yyyy-MM-dd HH:mm:ss"
CHARACTER, LEAST_WIDTH = 9, 100  # pixels of a column
OF_EPOCHS = {"reason", "residual_cross"}  # one of them in each table of epochs, and of gaps
# a feature is called by the first of these that a layer has
NAMED_BY = ("edge_id", "gap_id", "line_id", "existing_id", "spot_id", "name", "change_id")


def tr(text):
    return translate("Presentation", text)


@dataclass(frozen=True)
class About:
    """What a layer is and where it comes from, for its metadata."""

    title: str
    abstract: str
    made_by: str
    made_from: str
    when: str


def present(layer, definitions, about=None):
    """Name and arrange the fields of a layer, and say what it is.

    Parameters
    ----------
    layer : QgsVectorLayer
    definitions : sequence of NewField
        Fields that the algorithm wrote, with their meanings and units; others are left alone but
        for being read-only in forms.
    about : About, optional
    """
    fields, known = layer.fields(), {field.name.lower(): field for field in definitions}
    form = layer.editFormConfig()
    repairs = fields.lookupField("until") >= 0 and fields.lookupField("state_detail") >= 0
    for place in range(len(fields)):
        name = fields.at(place).name()
        definition = known.get(name.lower())
        if definition is not None:
            layer.setFieldAlias(place, alias_of(name, definition.unit))
        if definition is not None or is_machine(name):
            layer.setEditorWidgetSetup(place, _widget(fields.at(place), definition))
        form.setReadOnly(place, name.lower() not in (REPAIR if repairs else REVIEW))
        if repairs and name.lower() in REPAIR_CHOICES:
            layer.setEditorWidgetSetup(place, _choice(REPAIR_CHOICES[name.lower()]))
    layer.setEditFormConfig(form)
    _arrange_columns(layer, known)
    _name_features(layer, known)
    if about is not None:
        layer.setMetadata(metadata_of(layer, about))


def is_machine(name):
    """True for fields that programs read and people need not."""
    return name.lower().endswith(MACHINE_SUFFIX) or name.lower() in MACHINE


def alias_of(name, unit=""):
    """A field's name in words, with its unit: ``sigma_cross`` is “Sigma cross (m)”."""
    words = name.replace("_", " ").strip()
    words = words[:1].upper() + words[1:]
    return f"{words} ({unit})" if unit else words


def _choice(words):
    """One of some words, or none."""
    return QgsEditorWidgetSetup("ValueMap", {"map": [{word: word} for word in ("", *words)]})


def _widget(field, definition):
    """Widget of a field in forms and tables."""
    if is_machine(field.name()):
        return QgsEditorWidgetSetup("Hidden", {})
    if field.name().lower() == "decision":
        return _choice(DECISIONS)
    if kind(field) == "datetime":
        return QgsEditorWidgetSetup(
            "DateTime",
            {"display_format": DATE_TIME, "field_format": DATE_TIME, "allow_null": True},
        )
    if kind(field) == "bool":
        return QgsEditorWidgetSetup("CheckBox", {})
    if kind(field) == "double":
        decimals = DECIMALS.get(definition.unit, 3)
        return QgsEditorWidgetSetup("Range", {"Precision": decimals, "Style": "SpinBox"})
    return QgsEditorWidgetSetup("TextEdit", {"IsMultiline": field.name().lower() in LONG})


def _arrange_columns(layer, known):
    """Leave columns for programs out of the attribute table, and make the others wide enough; with
    epochs, what a run said of them stands before the fields that they came with."""
    config, fields = layer.attributeTableConfig(), layer.fields()
    config.update(fields)
    columns = config.columns()
    if OF_EPOCHS & set(known):
        columns.sort(key=lambda column: column.name.lower() not in known)
    for column in columns:
        place = fields.lookupField(column.name)
        if place < 0:
            continue
        column.hidden = is_machine(column.name)
        characters = len(fields.at(place).displayName())
        if kind(fields.at(place)) == "datetime":
            characters = max(characters, len(DATE_TIME))
        column.width = max(LEAST_WIDTH, CHARACTER * characters)
    config.setColumns(columns)
    layer.setAttributeTableConfig(config)


def _name_features(layer, known):
    """Display expression and map tip."""
    names = layer.fields().names()
    calls = [name for name in NAMED_BY if name in names]
    if calls:
        layer.setDisplayExpression(f'"{calls[0]}"')
    told = [*calls[:1], *(name for name in TIP if name in names)]
    layer.setMapTipTemplate(
        "".join(_tip_line(name, known.get(name)) for name in told[:MOST_IN_TIP])
    )


def _tip_line(name, definition):
    """A line of the tip; nothing where the value is NULL."""
    unit = definition.unit if definition is not None else ""
    value = f'"{name}"'
    if unit in DECIMALS:
        value = f'format_number("{name}", {DECIMALS[unit]})'
    if unit:
        value += f" || ' {unit}'"
    head = f"<b>{alias_of(name)}</b>: "
    return f"[% if(\"{name}\" IS NULL, '', '{head}' || {value} || '<br>') %]"


def metadata_of(layer, about):
    """Layer metadata: what it is, from what, by what, when.

    Returns
    -------
    QgsLayerMetadata
    """
    metadata = QgsLayerMetadata(layer.metadata())
    metadata.setTitle(about.title)
    metadata.setAbstract(about.abstract)
    metadata.setType("dataset")
    metadata.setCrs(layer.crs())
    metadata.setHistory([lineage_of(about)])
    return metadata


def lineage_of(about):
    """When a layer was made, by what and from what, in a sentence.

    Returns
    -------
    str
    """
    return tr("{}: made by “{}” of Curbwright from {}.").format(
        about.when, about.made_by, about.made_from
    )
