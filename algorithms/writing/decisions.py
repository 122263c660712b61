"""What people decided on lines, put into a layer's own edit buffer."""

from qgis.core import QgsApplication, QgsProcessingException, QgsVectorDataProvider
from qgis.PyQt.QtCore import QDateTime

from ..host.fields import field
from ..host.figures import translate
from .edit_saving import native
from .presentation import DECISIONS, REVIEW

TYPES = dict(zip(REVIEW, ("QString", "QString", "QString", "QDateTime")))


def tr(text):
    return translate("Decisions", text)


def who_decides():
    """Name of the person at work, as the host knows it."""
    return QgsApplication.userFullName() or QgsApplication.userLoginName()


def why_not_decidable(layer):
    """Why nothing can be decided in a layer, in words that name it; empty where it can."""
    if layer is None or not layer.isValid():
        return tr("The layer is not in the project any more.")
    able = layer.dataProvider().capabilities()
    needed = QgsVectorDataProvider.Capability
    missing = any(layer.fields().lookupField(name) < 0 for name in REVIEW)
    if (
        layer.readOnly()
        or not able & needed.ChangeAttributeValues
        or (missing and not able & needed.AddAttributes)
    ):
        return tr(
            "Layer “{}” cannot be edited. Save it under another name and review that one."
        ).format(layer.name())
    return ""


def decide(layer, decisions, title):
    """Put decisions into the edit buffer of a layer, as one undo step.

    Parameters
    ----------
    layer : QgsVectorLayer
        It is left in edit mode; nothing is saved.
    decisions : dict of int to tuple of str
        Decision (empty takes it back) and remark, by feature id.
    title : str
        What the undo step is called.

    Raises
    ------
    QgsProcessingException
        If the layer does not take them; it is as it was then.
    ValueError
        If a decision is none of `presentation.DECISIONS`.
    """
    unknown = {word for word, _ in decisions.values()} - {"", *DECISIONS}
    if unknown:
        raise ValueError(f"decisions are {', '.join(DECISIONS)}, got {', '.join(sorted(unknown))}")
    problem = why_not_decidable(layer)
    if problem:
        raise QgsProcessingException(problem)
    if not layer.isEditable() and not layer.startEditing():
        raise QgsProcessingException(
            tr("Layer “{}” does not open for editing.").format(layer.name())
        )
    layer.beginEditCommand(title)
    if not _put(layer, decisions):
        layer.destroyEditCommand()
        raise QgsProcessingException(
            tr("Layer “{}” refused a decision; it is as it was.").format(layer.name())
        )
    layer.endEditCommand()


def _put(layer, decisions):
    """Whether the layer took all of them."""
    fine = all(
        layer.fields().lookupField(name) >= 0
        or layer.addAttribute(native(field(name, TYPES[name]), layer.dataProvider()))
        for name in REVIEW
    )
    places = [layer.fields().lookupField(name) for name in REVIEW]
    who, when = who_decides(), QDateTime.currentDateTimeUtc()
    for ident, (decision, remark) in decisions.items():
        said = (decision, remark, who, when) if decision or remark else ("", "", "", None)
        values = {place: value or None for place, value in zip(places, said)}
        fine = fine and layer.changeAttributeValues(ident, values)
    return fine


def edited(layer):
    """Whether the edit buffer of a layer holds more than decisions."""
    buffer = layer.editBuffer()
    if buffer is None:
        return False
    own = {layer.fields().lookupField(name) for name in REVIEW}
    return bool(
        buffer.addedFeatures()
        or buffer.deletedFeatureIds()
        or buffer.changedGeometries()
        or buffer.deletedAttributeIds()
        or any(one.name().lower() not in REVIEW for one in buffer.addedAttributes())
        or any(set(values) - own for values in buffer.changedAttributeValues().values())
    )
