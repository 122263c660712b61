"""What it takes to take a change of a basemap back, as text, and how it is taken back."""

import json

from qgis.core import QgsFeature, QgsFields, QgsGeometry
from qgis.PyQt.QtCore import QByteArray, QDate, QDateTime, Qt, QTime

from ..host.fields import is_null

# kinds of values that JSON has not: how they are written and read
ISO, ISO_MS = Qt.DateFormat.ISODate, Qt.DateFormat.ISODateWithMs
TYPED = {
    "datetime": (QDateTime, lambda value: value.toString(ISO_MS),
                 lambda text: QDateTime.fromString(text, ISO_MS)),
    "date": (QDate, lambda value: value.toString(ISO), lambda text: QDate.fromString(text, ISO)),
    "time": (QTime, lambda value: value.toString(ISO_MS),
             lambda text: QTime.fromString(text, ISO_MS)),
    "bytes": (QByteArray, lambda value: bytes(value).hex(),
              lambda text: QByteArray(bytes.fromhex(text))),
}  # fmt: skip


ADDED_TO = ("shifted", "followed", "partly", "replaced", "added")  # words of the field “update”


class UndoError(ValueError):
    """What it takes to take a change back cannot be read; the number of its row."""


def hex_of(geometry):
    """Well-known binary as text, empty where there is no geometry."""
    return "" if geometry is None or geometry.isNull() else bytes(geometry.asWkb()).hex()


def geometry_of(text):
    """The geometry of such a text."""
    geometry = QgsGeometry()
    if text:
        geometry.fromWkb(bytes.fromhex(text))
    return geometry


def told(value):
    """A value of a field as JSON takes it."""
    if is_null(value):
        return None
    for kind, (form, write, _) in TYPED.items():
        if isinstance(value, form):
            return {"kind": kind, "value": write(value)}
    return {"kind": "map", "value": value} if isinstance(value, dict) else value


def heard(value):
    """The value of a field from such JSON."""
    if not isinstance(value, dict):
        return value
    kind = TYPED.get(value["kind"])
    return kind[2](value["value"]) if kind else value["value"]


def undo_text(before, after, former, added_fields):
    """What it takes to take a change back, as text.

    Parameters
    ----------
    before, after : QgsGeometry or None
        None for a row that was not there.
    former : dict of str to value
        By field, the values before: all of a row that was deleted, else those of the fields that
        the update writes, where the layer had them.
    added_fields : list of str
        Fields that the layer had not before.
    """
    return json.dumps(
        {
            "before": hex_of(before),
            "after": hex_of(after),
            "former": {name: told(value) for name, value in former.items()},
            "added_fields": added_fields,
        },
        sort_keys=True,
    )


class TakenBack:
    """Rows as they were before the changes of a table.

    Parameters
    ----------
    texts : sequence of str
        What it takes to take each change back.
    names : sequence of tuple of str, optional
        What became of which line, for each change: `what` and `existing_id`. They tell lines apart
        that lie one on the other now.

    Attributes
    ----------
    updated : list of QgsFeature
        All rows, those that were deleted at the end.
    edits : dict
        `changed`, `deleted` and `returned`, as `LayerEdits` has them. Their rows have all fields of
        the layer; those that it had not before are empty.
    used : int
        Number of changes that were taken back.
    unsaid : int
        Number of rows that an update changed and no change of the table is about.
    has_states : bool
        False where no row says what became of it, so that its geometry alone tells.

    Raises
    ------
    UndoError
        If a text is none that `undo_text` made.
    """

    def __init__(self, texts, names=()):
        self.by_after, self.deleted, self.added_fields, self.used = {}, [], set(), 0
        self.unsaid, self.has_states = 0, True
        for row, text in enumerate(texts, 1):
            change = _change_of(text, row)
            change["what"], change["id"] = names[row - 1] if names else ("", "")
            self.added_fields.update(change["added_fields"])
            if change["after"]:
                self.by_after.setdefault(change["after"], []).append(change)
            else:
                self.deleted.append(change)
        self.updated, self.edits = [], {"changed": {}, "returned": [], "deleted": []}
        self.whole = None  # fields of the layer as it is

    @property
    def left(self):
        """Number of changes that find no line which is as they left it."""
        return sum(map(len, self.by_after.values()))

    def fields(self, fields):
        """Fields of the layer without those that it had not before."""
        self.whole = QgsFields(fields)
        for name in self.added_fields:
            place = fields.lookupField(name)
            if place >= 0:
                fields.remove(place)
        return fields

    def take(self, row, fields):
        """A row of the updated layer; `fields` as they were before."""
        place = row.fields().lookupField("update")
        # None where nothing says what became of the row; unchanged ones are empty in place
        told = place >= 0 and self.has_states
        state = None if not told else "" if is_null(row[place]) else row[place]
        change = self._change_of(row, state)
        self.used += change is not None
        self.unsaid += change is None and state in ADDED_TO
        if change is not None and not change["before"]:
            self.edits["deleted"].append(row.id())  # it was added
            return
        back = QgsFeature(fields)
        back.setGeometry(row.geometry() if change is None else geometry_of(change["before"]))
        back.setAttributes([row[name] for name in fields.names()])
        if change is not None:
            _set_former(back, fields, change)
            self.edits["changed"][row.id()] = self._in_whole(back, fields)
        self.updated.append(back)

    def _change_of(self, row, state):
        """The change that left a row as it is, None where there is none: by its geometry, what
        became of it, and where that is so of several by its id, the first of them."""
        changes = self.by_after.get(hex_of(row.geometry()), [])
        fitting = [one for one in changes if state is None or one["what"] in ("", state)]
        if not fitting:
            return None
        change = fitting[0]
        if len(fitting) > 1:
            ids = {str(row.id()), *map(str, row.attributes())}
            change = next((one for one in fitting if one["id"] in ids), change)
        changes.remove(change)
        return change

    def _in_whole(self, back, fields):
        """A row with all fields of the layer as it is: the update's own are emptied in place, since
        a line that is still called retired would be passed over from then on."""
        row = QgsFeature(self.whole)
        row.setGeometry(back.geometry())
        for name in fields.names():
            row.setAttribute(self.whole.lookupField(name), back[name])
        return row

    def bring_back_deleted(self, fields):
        """Rows that were deleted, once all others were taken."""
        for change in self.deleted:
            self.used += 1
            back = QgsFeature(fields)
            back.setGeometry(geometry_of(change["before"]))
            _set_former(back, fields, change)
            self.updated.append(back)
            self.edits["returned"].append(self._in_whole(back, fields))


def _change_of(text, row):
    """The change that a text of `undo_text` is about; `row` is its number."""
    try:
        change = json.loads(text)
        for name in ("before", "after"):
            if change[name] and geometry_of(change[name]).isNull():
                raise UndoError(row)
        if not isinstance(change["former"], dict) or not isinstance(change["added_fields"], list):
            raise UndoError(row)
    except (TypeError, KeyError, ValueError) as error:
        raise UndoError(row) from error
    return change


def _set_former(row, fields, change):
    for name, value in change["former"].items():
        place = fields.lookupField(name)
        if place >= 0:
            row.setAttribute(place, heard(value))
