"""Changes put into a layer's own edit buffer, as one step."""

from dataclasses import dataclass, field

from qgis.core import (
    QgsFeatureRequest,
    QgsFields,
    QgsProcessingException,
    QgsVectorDataProvider,
)

from ..host.figures import translate
from .edit_saving import (
    blocks,
    differs,
    in_layer,
    native,
    own_name,
    places_of,
    returned_rows,
    save_edits,
    saved_whole,
)


def tr(text):
    return translate("EditBuffer", text)


@dataclass
class LayerEdits:
    """What is to change in a layer.

    Attributes
    ----------
    title : str
        What the undo step is called.
    fields : QgsFields
        Of the features below. Fields that the layer lacks are added to it; fields of the layer that
        are not among them stay as they are.
    changed : dict of int to QgsFeature
        New geometry and values by feature id.
    added : list of QgsFeature
    returned : list of QgsFeature
        They come back under the key that they had, unless another row has it by now.
    deleted : list of int
        Feature ids.
    """

    title: str
    fields: QgsFields
    changed: dict = field(default_factory=dict)
    added: list = field(default_factory=list)
    returned: list = field(default_factory=list)
    deleted: list = field(default_factory=list)


def why_not_editable(layer):
    """Why a layer cannot be edited, in words that name it; empty where it can."""
    if layer is None or not layer.isValid():
        return tr("A layer cannot be changed in place unless it is one of the project, or a file.")
    needed = QgsVectorDataProvider.Capability
    wanted = (
        needed.ChangeGeometries
        | needed.ChangeAttributeValues
        | needed.AddFeatures
        | needed.DeleteFeatures
    )
    able = layer.dataProvider().capabilities()
    if layer.readOnly() or (able & wanted) != wanted:
        return tr(
            "Layer “{}” cannot be edited. Save it under another name, or write a copy."
        ).format(layer.name())
    return ""


def apply_edits(layer, edits, keep_open, look=lambda: None):
    """Put edits into a layer: into its edit buffer as one undo step, or into its source.

    Parameters
    ----------
    layer : QgsVectorLayer
    edits : LayerEdits
    keep_open : bool
        Leave the layer in edit mode; else the edits are saved, whole or not at all, unless it is
        being edited already.
    look : callable
        Called between the rows that are read and compared, and before the first one is changed; may
        raise, and the layer is as it was. Then all go in: the host takes 95 s to undo 20,000 rows
        that it took in 0.5 s.

    Raises
    ------
    QgsProcessingException
        If the layer takes one of the edits, or saving them, not; it is as it was then. Only of a
        source that is neither a database with transactions nor files is this not sure.
    """
    was_editable = layer.isEditable()
    to_be_saved = not keep_open and not was_editable
    if to_be_saved and saved_whole(layer):
        save_edits(layer, edits, look)
        return
    refused = QgsProcessingException(
        tr("Layer “{}” refused a change; it is as it was.").format(layer.name())
    )
    changes = _changes(layer, edits, look)
    if changes is None:
        raise refused
    look()
    if not was_editable and not layer.startEditing():
        raise QgsProcessingException(
            tr("Layer “{}” does not open for editing.").format(layer.name())
        )
    layer.beginEditCommand(edits.title)
    if not _put(layer, edits, changes):
        layer.destroyEditCommand()
        if not was_editable:
            layer.rollBack()
        raise refused
    layer.endEditCommand()
    if not to_be_saved:
        layer.triggerRepaint()
    elif not layer.commitChanges():
        reasons = "; ".join(layer.commitErrors())
        layer.rollBack()
        raise QgsProcessingException(
            tr("The changes to “{}” could not be saved: {}. Look at what is there.").format(
                layer.name(), reasons
            )
        )


def _changes(layer, edits, look):
    """What differs by feature id: lists of a field's place among those of the edits, and its old
    and new value. None where a line is gone."""
    places, out = places_of(edits.fields, layer.fields()), {}
    for some in blocks(list(edits.changed), look):
        request = QgsFeatureRequest().setFilterFids(some)
        request.setFlags(QgsFeatureRequest.Flag.NoGeometry)
        for former in layer.getFeatures(request):
            new = edits.changed[former.id()]
            pairs = (
                (number, former.attribute(place) if place >= 0 else None, new.attribute(number))
                for number, place in places
            )
            out[former.id()] = [one for one in pairs if differs(*one[1:])]
    return out if len(out) == len(edits.changed) else None  # somebody deleted one meanwhile


def _put(layer, edits, changes):
    """Whether the edit buffer took everything."""
    fine = _add_missing_fields(layer, edits.fields)
    places = places_of(edits.fields, layer.fields())
    place_of = dict(places)
    for ident, feature in edits.changed.items():
        fine = fine and layer.changeGeometry(ident, feature.geometry())
        for number, old, new in changes[ident]:
            fine = fine and layer.changeAttributeValue(ident, place_of[number], new, old)
    fine = fine and (not edits.deleted or layer.deleteFeatures(edits.deleted))
    added = [in_layer(feature, layer, places) for feature in edits.added]
    added += returned_rows(edits.returned, layer, places)
    return fine and (not added or layer.addFeatures(added))


def _add_missing_fields(layer, fields):
    fine = True
    for definition in fields:
        if not own_name(layer.fields(), definition.name()):
            fine = fine and layer.addAttribute(native(definition, layer.dataProvider()))
    return fine
