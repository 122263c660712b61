"""What the crew entered with a capture: class, surface, a remark, from the epochs of an edge."""

from collections import Counter

import numpy as np
from qgis.core import QgsFeatureRequest, QgsField, QgsFields

from ..host.fields import fields_of, is_null, kind
from .features import iterate

ASKED = 5  # epochs of an edge that are looked at, evenly spread along it
# What is entered holds for a capture, what is measured changes from epoch to epoch: this share of
# the values must be that of most of their edge. Common practice, no source.
ALIKE = 0.8
KINDS = ("text", "bool", "int", "double", "date")


def crew_attributes(source, layer, edge, count, written):
    """Attributes that edges take over from their epochs.

    Parameters
    ----------
    source : QgsProcessingFeatureSource
    layer : EpochLayer
    edge : ndarray of int, shape (n,)
        Edge of each row of the layer, less than 0 for none.
    count : int
        Number of edges.
    written : collection of str
        Names of fields that our own results have, in lower case: those of a former result do not
        travel beside their successors.

    Returns
    -------
    fields : QgsFields
        Fields whose values hold along the edges; those of the others, such as numbers of epochs or
        of satellites, stay with the epochs.
    columns : list of list
        For each of them, the most frequent value of each edge, None where there is none.
    """
    places = [
        place
        for place, field in enumerate(source.fields())
        if field.name().lower() not in {"fid", *layer.role_fields, *written}
        and kind(field) in KINDS
    ]
    fields, columns = QgsFields(), []
    rows = _asked(edge, count)
    if not places or not len(rows):
        return fields, columns
    values = _values(source, np.unique(layer.ids[rows]).tolist(), places)
    of_edge = [[] for _ in range(count)]
    for number, ident in zip(edge[rows].tolist(), layer.ids[rows].tolist()):
        of_edge[number].append(values.get(ident))
    for column, place in enumerate(places):
        found = [
            [row[column] for row in own if row is not None and row[column] is not None]
            for own in of_edge
        ]
        counts = [Counter(own).most_common() for own in found]
        same = sum(own[0][1] for own in counts if own)
        if same and same >= ALIKE * sum(map(len, found)):
            fields.append(QgsField(source.fields().at(place)))
            columns.append([_most_frequent(own) for own in counts])
    return fields, columns


def followed_by(definitions, entered):
    """Fields of a table of `NewField`, and those that edges took over."""
    fields = fields_of(definitions)
    for field in entered:
        fields.append(field)
    return fields


def _asked(edge, count):
    """Rows that are looked at: some of each edge, the first and the last among them."""
    rows = np.flatnonzero(edge >= 0)
    rows = rows[np.argsort(edge[rows], kind="stable")]
    starts = np.searchsorted(edge[rows], np.arange(count + 1))
    first, last = starts[:-1], starts[1:] - 1
    share = np.linspace(0, 1, ASKED)[:, None]
    picked = np.rint(first + share * (last - first)).astype(np.int64)[:, last >= first]
    return rows[np.unique(picked)]


def _values(source, ids, places):
    """Values of the fields at these places by feature id; NULL as None."""
    request = QgsFeatureRequest().setFilterFids(ids).setSubsetOfAttributes(places)
    request.setFlags(QgsFeatureRequest.Flag.NoGeometry)
    out = {}
    for feature in iterate(source, request):
        row = feature.attributes()
        out[feature.id()] = [
            None if is_null(row[place]) or row[place] == "" else _hashable(row[place])
            for place in places
        ]
    return out


def _hashable(value):
    return value if isinstance(value, (str, bool, int, float)) else _Held(value)


class _Held:
    """A value of Qt that knows no hash, for example a date."""

    def __init__(self, value):
        self.value, self.key = value, value.toString()

    def __eq__(self, other):
        return isinstance(other, _Held) and self.key == other.key

    def __hash__(self):
        return hash(self.key)

    def __lt__(self, other):
        return self.key < other.key


def _most_frequent(counts):
    """The most frequent value; of several, the first in their order."""
    if not counts:
        return None
    value = min(one for one, number in counts if number == counts[0][1])
    return value.value if isinstance(value, _Held) else value
