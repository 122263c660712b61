"""Existing lines as they were before a table of changes."""

from qgis.core import QgsFeatureRequest, QgsProcessingException

from ..host.feedback import raise_if_cancelled
from ..host.fields import is_null, spelling
from ..host.figures import translate
from ..reading.features import iterate
from .basemap_undo import TakenBack, UndoError
from .update_rows import Outcome

NEEDED = ("what", "undo", "existing_id")  # fields of a table of changes


def tr(text):
    return translate("FormerBasemap", text)


def take_back(existing, undo, label, feedback):
    """Take the changes of a table back.

    Parameters
    ----------
    existing : QgsProcessingFeatureSource
        The updated layer.
    undo : QgsProcessingFeatureSource
        The table of changes.
    label : str
        Of the parameter that gives it, for messages.
    feedback : QgsProcessingFeedback

    Returns
    -------
    outcome : Outcome
        The rows as they were.
    fields : QgsFields
        Those that the layer had.
    whole : QgsFields
        Those that it has, of the rows of `edits`.

    Raises
    ------
    QgsProcessingException
        If it is no such table, or holds nothing that can be taken back.
    """
    back = _changes(undo, label)
    fields = back.fields(existing.fields())
    place = existing.fields().lookupField("update")
    if place >= 0:  # somebody may have emptied it, to begin anew
        back.has_states = not all(map(is_null, existing.uniqueValues(place)))
    for row in iterate(existing, QgsFeatureRequest()):
        raise_if_cancelled(feedback)
        back.take(row, fields)
    back.bring_back_deleted(fields)
    _say(back, existing, undo, feedback)
    return Outcome(updated=back.updated, edits=back.edits), fields, back.whole


def _changes(undo, label):
    """What a table of changes says: `TakenBack`."""
    missing = [name for name in NEEDED if not spelling(undo.fields(), name)]
    if missing:
        raise QgsProcessingException(
            tr("“{}” is no table of changes: it has no field “{}”.").format(
                undo.sourceName(), "”, “".join(missing)
            )
        )
    what, text, ident = (spelling(undo.fields(), name) for name in NEEDED)
    rows = list(iterate(undo, QgsFeatureRequest()))
    texts, names = (
        [row[text] for row in rows],
        [
            tuple("" if is_null(row[one]) else str(row[one]) for one in (what, ident))
            for row in rows
        ],
    )
    if not texts:
        raise QgsProcessingException(
            tr("“{}” (“{}”) holds no change, so there is nothing to take back.").format(
                undo.sourceName(), label
            )
        )
    try:
        return TakenBack(texts, names)
    except UndoError as error:
        raise QgsProcessingException(
            tr(
                "“{}” (“{}”): field “undo” of row {} does not say what was there before, so"
                " nothing is taken back. Give the table of changes as the update wrote it."
            ).format(undo.sourceName(), label, error)
        ) from error


def _say(back, existing, undo, feedback):
    """How many changes were taken back, and what they did not reach."""
    feedback.pushInfo(tr("Changes taken back: {}.").format(back.used))
    if back.left:
        feedback.pushWarning(
            tr(
                "Changes that find no line in “{1}” that is as they left it: {0}. These lines"
                " stay as they are."
            ).format(back.left, existing.sourceName())
        )
    if back.unsaid:
        feedback.pushWarning(
            tr(
                "Lines of “{1}” that an update changed, and of which “{2}” has no change: {0}."
                " They stay as they are. Give the whole table of changes to get all of the former"
                " layer."
            ).format(back.unsaid, existing.sourceName(), undo.sourceName())
        )
