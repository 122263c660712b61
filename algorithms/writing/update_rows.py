"""Rows of an updated basemap: each line as it becomes, each change, and what is held back."""

from dataclasses import dataclass, field

import numpy as np
from qgis.core import (
    QgsFeature,
    QgsFields,
    QgsGeometry,
    QgsProcessingException,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QDateTime

from ..host.feedback import raise_if_cancelled
from ..host.fields import NewField, fields_of, is_null, kind
from ..host.figures import translate
from ..reading.lifecycle import as_field
from .basemap import BasemapGeometry
from .basemap_undo import undo_text
from .edit_saving import own_name

UPDATE_FIELDS = (
    NewField(
        "update",
        "QString",
        "What became of the line: `unchanged`, `shifted`, `followed` (an end went along with a"
        " neighbour), `partly` (replaced over a part of its length), `replaced`, `added`,"
        " `retired`.",
    ),
    NewField("update_edges", "QString", "Feature ids of the edges that it was drawn from."),
    NewField("updated_at", "QString", "When, UTC, ISO 8601."),
)
CHANGE_FIELDS = (
    NewField("change_id", "LongLong", "Number of the change."),
    NewField("what", "QString", "As `update`; `deleted` for a retired line that was deleted."),
    NewField("existing_id", "QString", "Id of the existing line; empty for an added one."),
    NewField("edge_ids", "QString", "Feature ids of the edges behind it."),
    NewField("length_before", "Double", "On the ground.", "m"),
    NewField("length_after", "Double", "On the ground.", "m"),
    NewField("moved", "Double", "By how much the line moved as a whole.", "m"),
    NewField("moved_azimuth", "Double", "In which direction, from north towards east.", "degrees"),
    NewField("offset_max", "Double", "The maximum offset of its stations.", "m"),
    NewField("decided_by", "QString", "Who accepted it, or the rule of clear cases."),
    NewField("reason", "QString", "Why, in words."),
    NewField("undo", "QString", "What it takes to take the change back."),
)
HELD_FIELDS = (
    NewField("existing_id", "QString", "Id of the existing line, empty where there is none."),
    NewField("edge_id", "LongLong", "Feature id of the edge, NULL where there is none."),
    NewField("why", "QString", "What it waits for, or what speaks against it."),
)
AT, MOMENTS = ("updated_at",), ("date", "datetime")  # which field may be of which kinds as well
MOMENT = "yyyy-MM-dd HH:mm 'UTC'"  # as `Algorithm.now` has it


@dataclass
class Basemap:
    """What is read of the existing layer and of the edges."""

    source: object
    pair: object
    rows: list  # of QgsFeature, in reading order
    edges: dict  # of feature id to QgsFeature
    retired: np.ndarray  # rows (mask) that an earlier run retired
    keys: list  # id of each row, as text
    edge_keys: dict  # what an edge is called, by feature id; those that are missing by their id
    edges_decided: object  # Decisions
    lines_decided: object  # Decisions
    rule: str = ""  # what stands for the name of a person in `lines_decided` where a rule accepted


@dataclass
class Outcome:
    """Rows to write: features of the updated layer, changes and what was held back."""

    updated: list = field(default_factory=list)
    changes: list = field(default_factory=list)
    held: list = field(default_factory=list)
    # of each change, the rows of the existing line and of the edge that it comes from; -1 for none
    places: list = field(default_factory=list)
    # by feature id where there is one: what `IN_PLACE` changes
    edits: dict = field(default_factory=lambda: {"changed": {}, "added": [], "deleted": []})


def tr(text):
    return translate("UpdateRows", text)


def with_update_fields(own, layer):
    """The fields of a layer, then those of the update that it has not already.

    Parameters
    ----------
    own : QgsFields
    layer : str
        What it is called.

    Raises
    ------
    QgsProcessingException
        Where it has one that takes no such value.
    """
    fields = QgsFields(own)
    for definition in UPDATE_FIELDS:
        name = own_name(fields, definition.name)
        if not name:
            fields.append(definition.field())
        elif kind(fields.field(name)) not in ("text", *(MOMENTS if definition.name in AT else ())):
            raise QgsProcessingException(
                tr(
                    "Layer “{}”: its own field “{}” takes no text, which an update writes there."
                    " Give it another name, or leave it out."
                ).format(layer, name)
            )
    return fields


class UpdateRows:
    """Makes the rows of a plan.

    Parameters
    ----------
    basemap : Basemap
    plan : UpdatePlan
    compared : Comparison
    fields : QgsFields
        Of the updated layer.
    mapping : dict of str to str
        Field of the edges that fills each field of added lines.
    lifecycle : Lifecycle
    """

    def __init__(self, basemap, plan, compared, fields, mapping, lifecycle):
        from ...shared.lines.rigid_moves import rigid_moves

        moment = QDateTime.currentDateTimeUtc()
        self.moment, self.now = moment, moment.toString(MOMENT)
        self.basemap, self.plan, self.compared = basemap, plan, compared
        self.fields, self.mapping, self.lifecycle = fields, mapping, lifecycle
        self.change_fields, self.held_fields = fields_of(CHANGE_FIELDS), fields_of(HELD_FIELDS)
        self.geometry = BasemapGeometry(basemap.pair, basemap.source, plan.shift)
        self.move = rigid_moves(
            compared.stations, compared.stations.existing, basemap.pair.existing.count
        )
        self.length = basemap.pair.existing.length()
        own = basemap.source.fields()
        self.own_names = own.names()
        self.added_fields = [name for name in fields.names() if name not in self.own_names]
        self.state, self.from_edges, self.at = (
            own_name(fields, definition.name) for definition in UPDATE_FIELDS
        )
        if kind(fields.field(self.at)) in MOMENTS:  # the layer's own, as many basemaps have it
            self.now = as_field(moment, fields.field(self.at))
        self.outcome, self.straightened = Outcome(), 0

    def build(self, delete, feedback):
        """The rows; `delete`: lines that are gone are deleted, not marked."""
        from ...shared.lines.update import RETIRED, UNCHANGED, WHAT_NAMES

        for number, row in enumerate(self.basemap.rows):
            raise_if_cancelled(feedback)
            what = int(self.plan.what[number])
            nowhere = row.geometry().isEmpty()  # no shift moves it
            if self.basemap.retired[number] or nowhere or what == UNCHANGED:
                self.outcome.updated.append(self._kept(row))
            elif what == RETIRED and delete:
                self._delete(number, row)
            else:
                self._change(number, row, WHAT_NAMES[what])
        for added in self.plan.added:
            self._add(added)
        for held in self.plan.held:
            self._hold(held)
        if self.straightened:
            feedback.pushInfo(
                tr(
                    "Lines with arcs that were redrawn: {}. They keep the arcs outside the redrawn"
                    " stretch; inside it they have those of the edges, else short chords. All other"
                    " lines keep their arcs."
                ).format(self.straightened)
            )
        return self.outcome

    def _new_geometry(self, number, row):
        parts = self.plan.parts.get(number)
        if parts is None:
            return self.geometry.shifted(number, row.geometry())
        self.straightened += QgsWkbTypes.isCurvedType(row.geometry().wkbType())
        return self.geometry.redrawn(
            number, row.geometry(), parts, self._edges(self.plan.edges_of.get(number, []))
        )

    def _edges(self, rows):
        """Rows and geometries of edges."""
        ids, edges = self.basemap.pair.edge_ids, self.basemap.edges
        return [(row, edges[int(ids[row])].geometry()) for row in rows]

    def _kept(self, row):
        """The row as it is, with what an earlier run said of it."""
        out = QgsFeature(self.fields)
        out.setGeometry(row.geometry())
        values = row.attributes()
        out.setAttributes(values + [None] * (len(self.fields) - len(values)))
        if is_null(out[self.state]):
            out[self.state] = "unchanged"
        return out

    def _change(self, number, row, what):
        """A line that stays, changed."""
        edge_ids = self._edge_ids(number)
        out = self._kept(row)
        out.setGeometry(self._new_geometry(number, row))
        written = dict(
            zip((self.state, self.from_edges, self.at), (what, self._listed(edge_ids), self.now))
        )
        if what == "retired":
            written.update(self.lifecycle.of_retired(self.fields, self.moment))
        former = {name: row[name] for name in written if name in self.own_names}
        for name, value in written.items():
            out[name] = value
        self.outcome.updated.append(out)
        self.outcome.edits["changed"][row.id()] = out
        undo = undo_text(row.geometry(), out.geometry(), former, self.added_fields)
        self._say_change(number, row, what, undo)

    def _delete(self, number, row):
        self.outcome.edits["deleted"].append(row.id())
        former = {name: row[name] for name in self.own_names}
        undo = undo_text(row.geometry(), None, former, self.added_fields)
        self._say_change(number, row, "deleted", undo)

    def _listed(self, edge_ids):
        """What edges are called, as text."""
        return ",".join(str(self.basemap.edge_keys.get(ident, ident)) for ident in edge_ids)

    def _edge_ids(self, number):
        return self.basemap.pair.edge_ids[self.plan.edges_of.get(number, [])].tolist()

    def _say_change(self, number, row, what, undo):
        """The row of the table of changes for a line of the basemap."""
        edge_ids = self._edge_ids(number)
        worst = self.compared.existing_statistics.offset_max[number]
        figures = self.move.moved[number], self.move.azimuth[number], worst
        self.outcome.places.append((number, -1))
        self._say(
            (what, self.basemap.keys[number], self._listed(edge_ids)),
            self._lengths(number),
            figures,
            self._decider(edge_ids, row),
            undo,
            row.geometry(),
        )

    def _lengths(self, number):
        lines = self.basemap.pair.existing
        before = float(self.length[number])
        parts = self.plan.parts.get(number)
        if parts is None:
            return before, before
        steps = sum(float(np.hypot(*np.diff(xyz[:, :2], axis=0).T).sum()) for xyz in parts)
        return before, steps / float(lines.scale[number])

    def _decider(self, edge_ids, row=None):
        """Who accepted the change; a rule only where nobody did."""
        basemap = self.basemap
        by_line = basemap.lines_decided.accepted_by([row.id()]) if row is not None else None
        by_edge = basemap.edges_decided.accepted_by(edge_ids)
        return by_edge or by_line if by_line == basemap.rule else by_line or by_edge

    def _say(self, names, lengths, figures, decider, undo, geometry):
        """A row of the table of changes; `names`: what became of which line by which edges."""
        change = QgsFeature(self.change_fields)
        numbers = [None if not np.isfinite(value) else float(value) for value in figures]
        change.setAttributes(
            [len(self.outcome.changes) + 1, *names, *lengths, *numbers, decider,
             _reason(names[0]), undo]
        )  # fmt: skip
        change.setGeometry(_multi(geometry))
        self.outcome.changes.append(change)

    def _add(self, added):
        """A new line, with the attributes that the mapping gives."""
        ident = int(self.basemap.pair.edge_ids[added.edge])
        edge = self.basemap.edges[ident]
        out = QgsFeature(self.fields)
        out.setGeometry(self.geometry.line(added.xyz, self._edges([added.edge])))
        for name, value in self.lifecycle.of_added(self.fields, self.moment).items():
            out[name] = value
        for target, source in self.mapping.items():
            if not is_null(edge[source]):
                out[target] = edge[source]
        for name, value in zip(
            (self.state, self.from_edges, self.at), ("added", self._listed([ident]), self.now)
        ):
            out[name] = value
        self.outcome.updated.append(out)
        self.outcome.edits["added"].append(out)
        length = float(np.hypot(*np.diff(added.xyz[:, :2], axis=0).T).sum())
        length /= float(self.basemap.pair.edges.scale[added.edge])
        undo = undo_text(None, out.geometry(), {}, self.added_fields)
        self.outcome.places.append((-1, added.edge))
        self._say(
            ("added", "", self._listed([ident])),
            (0.0, length),
            (np.nan,) * 3,
            self._decider([ident]),
            undo,
            out.geometry(),
        )

    def _hold(self, held):
        row = QgsFeature(self.held_fields)
        ident = int(self.basemap.pair.edge_ids[held.edge]) if held.edge >= 0 else None
        key = self.basemap.keys[held.existing] if held.existing >= 0 else ""
        row.setAttributes([key, self.basemap.edge_keys.get(ident, ident), held.why])
        if held.existing >= 0:
            row.setGeometry(_multi(self.basemap.rows[held.existing].geometry()))
        else:
            edges = self.basemap.pair.edges
            part = int(np.flatnonzero(edges.line == held.edge)[0])
            inside = slice(edges.offsets[part], edges.offsets[part + 1])
            xyz = np.column_stack([edges.x[inside], edges.y[inside], edges.z[inside]])
            row.setGeometry(_multi(self.geometry.line(xyz)))
        self.outcome.held.append(row)


def _reason(what):
    """Why something was done, in words."""
    return {
        "shifted": tr("the whole layer is shifted"),
        "followed": tr("an end goes along with a neighbour that moved"),
        "partly": tr("displaced along the stretch that was walked"),
        "replaced": tr("displaced along its length"),
        "added": tr("no existing line lies along the edge"),
        "retired": tr("no edge runs along the line"),
        "deleted": tr("no edge runs along the line"),
    }[what]


def _multi(geometry):
    """A copy of the geometry as one of several parts."""
    out = QgsGeometry(geometry)
    out.convertToMultiType()
    return out
