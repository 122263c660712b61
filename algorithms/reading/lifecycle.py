"""Fields that say since when and until when a line of a basemap is valid, and its state: found by
name."""

from dataclasses import dataclass

from qgis.PyQt.QtCore import QDate, QDateTime, Qt

from ..host.fields import field as new_field
from ..host.fields import kind
from ..host.figures import translate

FROM, UNTIL, STATE = "from", "until", "state"
# Names without signs, in lower case. Those of life-span versions and of valid time are the ones of
# the INSPIRE data specifications and of ISO 19108; the others are common practice, no source.
NAMES = {
    FROM: (
        "validfrom", "validsince", "beginlifespanversion", "lifespanbegin", "startdate",
        "datestart", "begindate", "datefrom",
    ),
    UNTIL: (
        "validto", "validuntil", "endlifespanversion", "lifespanend", "enddate", "dateend",
        "dateto", "retired", "retiredat", "retiredon", "dateretired",
    ),
    STATE: ("status", "lifecyclestatus", "lifecycle", "lifecyclestate"),
}  # fmt: skip
ADDED = {FROM: "valid_from", UNTIL: "valid_to"}  # where they are asked for
RETIRED = "retired"
DAY = 10  # characters of a date


def tr(text):
    return translate("Lifecycle", text)


@dataclass(frozen=True)
class Lifecycle:
    """Names of the fields of a layer by role; a role that it has not is missing."""

    fields: dict

    def names(self):
        return list(self.fields.values())

    def of_added(self, layer_fields, now):
        """Values of a new line, by field."""
        return self._values(layer_fields, {FROM: now})

    def of_retired(self, layer_fields, now):
        """Values of a line that is gone, by field."""
        return self._values(layer_fields, {UNTIL: now, STATE: RETIRED})

    def _values(self, layer_fields, by_role):
        return {
            name: as_field(by_role[role], layer_fields.field(name))
            for role, name in self.fields.items()
            if role in by_role
        }

    def words(self):
        """For the log; empty where there is none."""
        said = {
            FROM: tr("the day since when a new line is valid"),
            UNTIL: tr("the day until when a line that is gone was valid"),
            STATE: tr("“{}” for a line that is gone").format(RETIRED),
        }
        return "; ".join(
            tr("{} into “{}”").format(said[role], name) for role, name in self.fields.items()
        )


def find_lifecycle(fields, left_out=()):
    """Find the fields that say since when and until when a line is valid, and its state.

    Parameters
    ----------
    fields : QgsFields
    left_out : collection of str
        Fields that have another role.

    Returns
    -------
    Lifecycle
        A field must hold dates, or text that a date or the word fits into; of several, the first.
    """
    found = {}
    for field in fields:
        plain = "".join(sign for sign in field.name().lower() if sign.isalnum())
        for role, names in NAMES.items():
            if plain in names and field.name() not in left_out and _takes(role, field):
                found.setdefault(role, field.name())
    return Lifecycle({role: found[role] for role in NAMES if role in found})


def _takes(role, field):
    longest = len(RETIRED) if role == STATE else DAY
    if kind(field) == "text":
        return field.length() <= 0 or field.length() >= longest
    return role != STATE and kind(field) in ("date", "datetime")


def as_field(value, field):
    """A moment (QDateTime) or a word as a field takes it."""
    if not isinstance(value, QDateTime):
        return value
    if kind(field) == "date":
        return QDate(value.date())
    if kind(field) == "datetime":
        return value
    return value.date().toString(Qt.DateFormat.ISODate)


def with_missing(lifecycle, fields):
    """The same with the fields of validity that a layer lacks, which are added to `fields`."""
    found = dict(lifecycle.fields)
    for role, name in ADDED.items():
        if role not in found:
            if fields.lookupField(name) < 0:
                fields.append(new_field(name, "QDate"))
            found[role] = name
    return Lifecycle({role: found[role] for role in NAMES if role in found})
