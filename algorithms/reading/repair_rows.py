"""A table of repairs into the plain data that the core takes."""

from dataclasses import dataclass
from datetime import datetime, timezone

import numpy as np
from qgis.core import QgsFeatureRequest, QgsProcessingException

from ...shared.epochs.times import parse_times
from ...shared.reconstruction.repairs import ELEMENTS, KINDS, Repairs
from ..host.fields import NewField, is_null, spelling
from ..host.figures import translate
from .columns import NOT_A_TIME, milliseconds_of

REPAIRS = "repairs"
REPAIR_FIELDS = (
    NewField("layer", "QString", "The capture layer that it is for; left empty, any."),
    NewField("capture", "QString", "The capture, as the field of that name of the edges has it."),
    NewField(
        "kind",
        "QString",
        "What is repaired: `leave_out`, `take_back`, `corner`, `smooth`, `break_here`, `bridge`,"
        " `element`.",
    ),
    NewField("value", "QString", "Of an `element`: `tangent`, `arc` or `spline`."),
    NewField(
        "time",
        "Double",
        "Time of the epoch, or of the first one of a stretch, since 1970; of lines without times"
        " the number of the vertex in its capture, from 0.",
        "s",
        length=20,
        decimals=3,
    ),
    NewField(
        "until",
        "Double",
        "Time of the last epoch of a stretch, or of the first one after a gap; empty otherwise.",
        "s",
        length=20,
        decimals=3,
    ),
    NewField("at", "QString", "The time in words, UTC; the run writes it."),
    NewField("decided_by", "QString", "Who decided."),
    NewField("decided_at", "QString", "When, in any words."),
    NewField("remark", "QString", "Why."),
    NewField(
        "state",
        "QString",
        "What the last run made of it: `applied`, `lost` (there is no such epoch any more),"
        " `no_effect`; the run writes it.",
    ),
    NewField("state_detail", "QString", "The reason, in words; the run writes it."),
)
NEEDED = ("capture", "kind", "time")
TEXTS = ("layer", "capture", "kind", "value", "decided_by", "decided_at", "remark")
EARLIEST = 1e8  # s since 1970: smaller numbers are no dates
LATEST = 253_402_300_799.0  # s since 1970: the end of the year 9999, the last that can be written


def tr(text):
    return translate("Repairs", text)


@dataclass(frozen=True)
class RepairRows:
    """Rows of a table of repairs.

    Attributes
    ----------
    rows : list of dict
        Values of `REPAIR_FIELDS` by name, None for NULL; in the order of `in_order`.
    ids : list of int
        Feature ids.
    """

    rows: list
    ids: list

    def of_layer(self, names):
        """Numbers of the rows that are for a layer that has one of these names; those that name no
        layer are for any."""
        return [
            number
            for number, row in enumerate(self.rows)
            if not row["layer"] or row["layer"] in names
        ]


def read_rows(source):
    """Read a table of repairs.

    Parameters
    ----------
    source : QgsFeatureSource or QgsVectorLayer

    Returns
    -------
    RepairRows

    Raises
    ------
    QgsProcessingException
        If a field that is needed is missing; the text names it.
    """
    fields = source.fields()
    name = source.sourceName() if hasattr(source, "sourceName") else source.name()
    missing = [one for one in NEEDED if not spelling(fields, one)]
    if missing:
        raise QgsProcessingException(
            tr(
                "Repairs “{}”: field “{}” is missing; it has: {}. Take the layer “repairs” of a"
                " folder of results, or a table with the fields {}."
            ).format(
                name,
                missing[0],
                ", ".join(fields.names()) or "–",
                ", ".join(field.name for field in REPAIR_FIELDS),
            )
        )
    features = in_order(source)
    return RepairRows(
        [row_of(feature, fields) for feature in features], [one.id() for one in features]
    )


def in_order(source):
    """Features of a table of repairs, the oldest first: of several repairs of one epoch the last
    one counts.

    Parameters
    ----------
    source : QgsFeatureSource or QgsVectorLayer

    Returns
    -------
    list of QgsFeature
        Without geometry.
    """
    request = QgsFeatureRequest().setFlags(QgsFeatureRequest.Flag.NoGeometry)
    # ids that a layer gives before it is saved count down from -1
    return sorted(source.getFeatures(request), key=lambda one: (one.id() < 0, abs(one.id())))


def row_of(feature, fields):
    """A feature as a record of `REPAIR_FIELDS`; None for what is NULL or not there."""
    places = {definition.name: fields.lookupField(definition.name) for definition in REPAIR_FIELDS}
    return record_of(
        {name: feature.attribute(place) for name, place in places.items() if place >= 0}
    )


def record_of(values):
    """Values by the names of `REPAIR_FIELDS`, some of which may be missing, as a record; None for
    what is NULL or not there. Times are numbers in it, however they were given."""
    row = {}
    for definition in REPAIR_FIELDS:
        value = values.get(definition.name)
        value = None if is_null(value) or value == "" else value
        if definition.name in TEXTS and value is not None:
            value = _text(value)
        row[definition.name] = value
    row["kind"] = (row["kind"] or "").strip().lower()
    row["value"] = (row["value"] or "").strip().lower()
    for name in ("time", "until"):
        row[name] = _seconds(row[name])
    return row


def _text(value):
    """A value as text; dates as ISO 8601 has them."""
    return value.toString("yyyy-MM-ddTHH:mm:ss") if hasattr(value, "toString") else str(value)


def _seconds(value):
    """Seconds since 1970 of a number, a date, a date-time or ISO text, UTC where no zone is given;
    None where it is none."""
    if value is None:
        return None
    if hasattr(value, "date") or hasattr(value, "toJulianDay"):
        found = milliseconds_of(value)
        return None if found == NOT_A_TIME else found / 1000
    try:
        found = float(value)
    except (TypeError, ValueError):
        found = float(parse_times(np.array([str(value)]))[0][0])
    return found if np.isfinite(found) else None


def problem_of(row):
    """What is wrong with a record, in words; empty where it can be used."""
    element = row["kind"] == "element"
    if row["kind"] not in KINDS:
        return tr("“kind” is “{}”; it must be one of {}").format(row["kind"], ", ".join(KINDS))
    if element and row["value"] not in ELEMENTS[1:]:
        return tr("“value” is “{}”; it must be one of {}").format(
            row["value"], ", ".join(ELEMENTS[1:])
        )
    if row["time"] is None:
        return tr("“time” is empty or no number")
    if row["kind"] in ("bridge", "element") and not (
        row["until"] is not None and row["until"] > row["time"]
    ):
        return tr("“until” must be later than “time”")
    return ""


def repairs_of(rows):
    """Records that have no problem as `Repairs`."""
    return Repairs.from_rows(
        {**row, "value": row["value"] if row["kind"] == "element" else ""} for row in rows
    )


def moment(row):
    """When and where a repair acts, for people."""
    said = in_words(row["time"])
    if row["kind"] in ("bridge", "element"):
        said = tr("{} to {}").format(said, in_words(row["until"]))
    return said


def in_words(seconds):
    """A time in words, UTC; a number where it is no date."""
    if seconds is None:
        return ""
    if not EARLIEST <= seconds <= LATEST:
        return f"{seconds:.10g}"
    when = datetime.fromtimestamp(round(seconds, 3), timezone.utc)
    text = when.strftime("%Y-%m-%d %H:%M:%S")
    return text + (f".{when.microsecond // 1000:03d}" if when.microsecond else "")
