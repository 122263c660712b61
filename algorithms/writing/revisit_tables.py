"""What places to revisit and the reasons for them hold: fields, and columns of them."""

import numpy as np

from ..host.fields import NewField
from ..host.figures import translate
from ..reading.findings.found import KINDS
from . import sinks

# of GPX 1.1, as GDAL calls them; it refuses others
GPX_FIELDS = (
    NewField("name", "QString", "Name of the waypoint: number and kind."),
    NewField("cmt", "QString", "What is to be done, in short."),
    NewField("desc", "QString", "All findings in words."),
)
PLACE_FIELDS = (
    NewField("order", "Int", "Place in the walking order, from 1."),
    *GPX_FIELDS,
    NewField(
        "kind",
        "QString",
        "The finding that weighs most: `gap`, `no_edge`, `rejected`, `disagreement`, "
        "`uncertain`, `uncertain_up`, `pass_off`, `broken_off`, `left_open`, "
        "`displaced`.",
    ),
    NewField("kinds", "QString", "All kinds found there."),
    NewField("reasons", "Int", "Number of findings."),
    NewField("metres", "Double", "Maximum extent of them on the ground.", "m"),
    NewField("seconds", "Double", "Maximum duration of them.", "s"),
    NewField("epochs", "Int", "Maximum number of epochs of them."),
    NewField("edge_id", "QString", "Edges concerned."),
    NewField("capture", "QString", "Captures concerned."),
    NewField("leg", "Double", "Straight distance from the place before, on the ground.", "m"),
)
REASON_FIELDS = (
    NewField("order", "Int", "The place that the finding belongs to."),
    NewField("kind", "QString", "Kind of the finding."),
    NewField("layer", "QString", "The layer that it was found in."),
    NewField("source_id", "LongLong", "Feature id there."),
    NewField("metres", "Double", "Extent on the ground.", "m"),
    NewField("seconds", "Double", "Duration.", "s"),
    NewField("epochs", "Int", "Number of epochs."),
    NewField("edge_id", "QString", "Edge concerned."),
    NewField("capture", "QString", "Capture concerned."),
    NewField("away", "Double", "Distance from the place on the ground.", "m"),
    NewField("detail", "QString", "The finding in words."),
)


def tr(text):
    return translate("RevisitTables", text)


def place_columns(found, places):
    """Columns of `PLACE_FIELDS` by name; what several findings tell in the order of their
    weight, then of their words."""
    short = {
        "gap": tr("gap"),
        "no_edge": tr("no edge"),
        "rejected": tr("epochs rejected"),
        "disagreement": tr("walks differ"),
        "uncertain": tr("poor position"),
        "uncertain_up": tr("poor heights"),
        "pass_off": tr("walk off the others"),
        "broken_off": tr("edge broke off"),
        "left_open": tr("ends left open"),
        "displaced": tr("existing line displaced"),
    }
    members = [[] for _ in range(len(places))]
    for row in sorted(range(len(found)), key=lambda row: (found.kind[row], found.detail[row])):
        members[places.place[row]].append(row)
    kinds = [list(dict.fromkeys(KINDS[found.kind[row]] for row in rows)) for rows in members]

    def greatest(values):
        return [
            max((values[row] for row in rows if values[row] is not None), default=None)
            for rows in members
        ]

    def all_of(values):
        return [
            ", ".join(
                dict.fromkeys(
                    text for row in rows for text in (values[row] or "").split(", ") if text
                )
            )
            or None
            for rows in members
        ]

    order = list(range(1, len(places) + 1))
    width = len(str(len(places)))
    return {
        "order": order,
        "name": [
            f"{number:0{width}} {short[own[0]]}" + (f" +{len(rows) - 1}" if len(rows) > 1 else "")
            for number, own, rows in zip(order, kinds, members)
        ],
        "cmt": [", ".join(short[kind] for kind in own) for own in kinds],
        "desc": ["; ".join(found.detail[row] for row in rows) for rows in members],
        "kind": [own[0] for own in kinds],
        "kinds": [", ".join(own) for own in kinds],
        "reasons": [len(rows) for rows in members],
        "metres": greatest(found.metres),
        "seconds": greatest(found.seconds),
        "epochs": greatest(found.epochs),
        "edge_id": all_of(found.edge_id),
        "capture": all_of(found.capture),
        "leg": sinks.cells(places.leg),
    }


def reason_columns(found, places):
    """Columns of `REASON_FIELDS`, place by place."""
    x, y, scale = (np.array(values) for values in (found.x, found.y, found.scale))
    at = places.at[places.place] if len(places) else np.zeros(0, np.int64)
    away = np.hypot(x - x[at], y - y[at]) / scale if len(at) else x
    order = np.lexsort(
        (np.array(found.detail, dtype=str), np.array(found.kind, np.int64), places.place)
    ).tolist()
    columns = [
        (places.place + 1).tolist(),
        [KINDS[kind] for kind in found.kind],
        [layer.name for layer in found.layer],
        found.row,
        found.metres,
        found.seconds,
        found.epochs,
        [text or None for text in found.edge_id],
        [text or None for text in found.capture],
        away.tolist(),
        found.detail,
    ]
    return [[column[row] for row in order] for column in columns]
