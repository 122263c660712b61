"""Existing linework brought up to date: what moved is replaced, what is new added, what is gone
retired; every id and attribute stays."""

from collections import Counter
from dataclasses import replace

import numpy as np
from qgis.core import (
    QgsFeature,
    QgsFeatureRequest,
    QgsProcessingException,
    QgsProject,
    QgsVectorLayer,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP, QCoreApplication

from ..shared.language import speaking
from .base.outputs import Outputs
from .base.update_parameters import (
    ADD_LIFECYCLE,
    DELETE,
    KEEP,
    LEAVE_LIFECYCLE,
    LIFECYCLE_OPTIONS,
    REPLACE_OPTIONS,
    RETIRE_OPTIONS,
    UpdateParameters,
)
from .host.feedback import CancelledError, cancel_check, looked_through, raise_if_cancelled
from .host.fields import fields_of, is_null
from .host.figures import printed
from .host.versions import producer
from .reading.decisions import decisions_elsewhere, read_decisions
from .reading.features import iterate
from .reading.layer_frame import chosen_field
from .reading.lifecycle import Lifecycle, find_lifecycle, with_missing
from .reading.line_pair import read_pair
from .writing import styles
from .writing.edit_buffer import LayerEdits, apply_edits, why_not_editable
from .writing.edit_saving import own_name, save_edits, saved_whole
from .writing.field_mapping import fitting, same_names, written_mapping
from .writing.former_basemap import take_back
from .writing.update_rows import (
    CHANGE_FIELDS,
    HELD_FIELDS,
    UPDATE_FIELDS,
    Basemap,
    UpdateRows,
    with_update_fields,
)
from .writing.update_words import UpdateWords

MOST_NAMED = 10  # lines that a warning names


class UpdateBasemap(UpdateParameters):
    NAME = "updatebasemap"
    TITLE = QT_TRANSLATE_NOOP("UpdateBasemap", "Update existing linework")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "UpdateBasemap",
        "The basemap again, with what moved replaced, what is new added and what is gone retired;"
        " every id and attribute kept.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "UpdateBasemap",
        "update,basemap,map update,conflate,replace,merge,adopt,curb,kerb,edge,linework,undo,"
        "retire"
        ",as-built,kerbline",
    )
    HELP = QT_TRANSLATE_NOOP(
        "UpdateBasemap",
        "Brings existing lines up to date by edges. A line that is displaced is redrawn where an"
        " edge runs along it, with a transition to the old line where the edge ends; over the rest"
        " it stays as it is. One edge may lie along several lines, and several edges along one.\n\n"
        "Junctions stay junctions: where lines share an end, or one ends on another, they do so"
        " afterwards. The ends of lines that nobody walked follow their neighbours, no farther"
        " than asked. What would cross another line or itself is held back.\n\nEdges without a"
        " counterpart are added, with the attributes that the mapping of fields gives. Lines that"
        " are gone are marked as retired, or deleted where asked; what nobody visited stays as it"
        " is, and what was visited in part is held back. Decisions in a field “decision”"
        " (accept, hold, reject) of either layer, or of the “Status of existing lines” of their"
        " comparison, are kept to.\n\nEvery change is a row of the"
        " table of changes, with the geometry before. Give that table as “Changes to take back”,"
        " with the updated layer as existing lines, to get the former layer again.\n\nThe result is"
        " of mapping grade: no boundary, no as-built certificate, not for stake-out.",
    )
    FIELD_TABLES = {"UPDATED": UPDATE_FIELDS, "CHANGES": CHANGE_FIELDS, "HELD": HELD_FIELDS}
    WITH_SOURCE_FIELDS = ("UPDATED",)

    # what a batch knows better: places of epochs, decisions made elsewhere, which cases are clear,
    # and what the edges are called
    places = edges_decided = lines_decided = clear_rule = edge_keys = None

    # --- work

    def checkParameterValues(self, parameters, context):
        fine, why = super().checkParameterValues(parameters, context)
        if fine and self.parameterAsBool(parameters, self.IN_PLACE, context):
            layer = self.parameterAsVectorLayer(parameters, self.EXISTING, context)
            why = why_not_editable(layer)
        return fine and not why, why

    def prepareAlgorithm(self, parameters, context, feedback):
        self.edits, self.layer_id, self.target = None, "", None
        self.block = self.title_block(parameters, context)
        self.titles = [
            self.title(parameters, name, context)
            for name in (self.EXISTING, self.EDGES)
            if self.wanted(parameters, name)
        ]
        if self.parameterAsBool(parameters, self.IN_PLACE, context):
            layer = self.parameterAsVectorLayer(parameters, self.EXISTING, context)
            self.layer_id = layer.id()
            in_project = QgsProject.instance().mapLayer(self.layer_id) is not None
            if not in_project and not layer.isEditable() and saved_whole(layer):
                self.target = layer.source(), layer.name(), layer.providerType()
        return super().prepareAlgorithm(parameters, context, feedback)

    def postProcessAlgorithm(self, context, feedback):
        """Put the changes into a layer of the project: here, as it belongs to the main thread."""
        if self.edits is not None and self.returned is not None:
            in_project = QgsProject.instance().mapLayer(self.layer_id)
            layer = in_project or context.getMapLayer(self.layer_id)
            try:
                apply_edits(layer, self.edits, in_project is not None, look=cancel_check(feedback))
            except CancelledError:
                feedback.pushWarning(
                    self.tr(
                        "Cancelled: “{}” is as it was. Other results of this run are whole; they"
                        " say what would have changed."
                    ).format(layer.name())
                )
                return {}
            feedback.pushInfo(
                self.tr("“{}” was changed in one step.").format(layer.name())
                + (" " + self.tr("Save its edits to keep them.") if in_project else "")
            )
        return super().postProcessAlgorithm(context, feedback)

    def work(self, parameters, context, feedback):
        existing = self.source(parameters, context, self.EXISTING)
        undo = self.parameterAsSource(parameters, self.UNDO, context)
        if undo is not None:
            outcome, fields, whole = take_back(existing, undo, self.label(self.UNDO), feedback)
            results = self._write(outcome, fields, existing, parameters, context, feedback)
            self._put_in_place(outcome, whole, feedback)
            return results
        edges = self.parameterAsSource(parameters, self.EDGES, context)
        if edges is None:
            raise QgsProcessingException(
                self.tr("“{}” or “{}” is needed.").format(
                    self.label(self.EDGES), self.label(self.UNDO)
                )
            )
        basemap = self._read(existing, edges, parameters, context, feedback)
        fields, lifecycle = self._fields(existing, parameters, context, feedback)
        plan, compared = self._plan(basemap, edges, parameters, context, feedback)
        mapping = self._mapping(basemap, edges, parameters, context, feedback)
        rows = UpdateRows(basemap, plan, compared, fields, mapping, lifecycle)
        delete = self.parameterAsEnum(parameters, self.RETIRE, context) == DELETE
        outcome = rows.build(delete, feedback)
        results = self._write(outcome, fields, existing, parameters, context, feedback)
        report = self.report_targets(parameters, context)
        if report:
            settings = self._settings(parameters, context)
            planned = compared, plan
            results.update(self._report(report, outcome, planned, basemap.pair, existing, settings))
        self._put_in_place(outcome, fields, feedback)
        return results

    def _report(self, asked, outcome, planned, pair, existing, settings):
        from ..shared.report.basemap import UpdateContext, write_update_report

        plan = planned[1]
        words = UpdateWords(outcome, plan, pair, bool(self.key_field))
        context = UpdateContext(
            existing=self.titles[0],
            edges=self.titles[-1],
            crs=self.crs_title(existing),
            made=self.now(),
            unchanged=self._counts(outcome)["UNCHANGED"],
            changes=words.changes(),
            held=words.held(),
            shift=tuple(float(value) for value in plan.shift),
            settings=(*settings, self.named_by(pair, self.key_field)),
            rule=self._rule_words(),
            block=replace(self.block, captured=self.captured),
            edges_crs=self.edges_crs,
            transformed=pair.transformed,
            producer=producer(),
        )
        return self.write_report(asked, lambda path: write_update_report(path, context, *planned))

    def _settings(self, parameters, context):
        """The settings in words, for the report."""
        lengths = (self.MAX_OFFSET, self.EXISTING_SIGMA, self.BLEND, self.FOLLOW)
        flags = (self.REMOVE_SHIFT, self.ADD_NEW, self.NEEDS_DECISION)
        chosen = (
            (self.REPLACE, REPLACE_OPTIONS),
            (self.RETIRE, RETIRE_OPTIONS),
            (self.LIFECYCLE, LIFECYCLE_OPTIONS),
        )
        tr = self.tr

        def figure(name):
            return printed(f"{self.parameterAsDouble(parameters, name, context):g}")

        def flag(name):
            return tr("yes") if self.parameterAsBool(parameters, name, context) else tr("no")

        return (
            *((self.label(name), figure(name)) for name in (*lengths, self.CONFIDENCE)),
            *((self.label(name), flag(name)) for name in flags),
            *(
                (self.label(name), tr(options[self.parameterAsEnum(parameters, name, context)]))
                for name, options in chosen
            ),
            (self.label("AREA"), self.surveyed),
        )

    def _put_in_place(self, outcome, fields, feedback):
        """Save the changes into the source of the layer, or remember what `postProcessAlgorithm`
        puts into its edit buffer. A layer that is no part of the project is saved at once: here,
        where a failure is the run's."""
        if not self.layer_id:
            return
        title = self.tr("Update existing linework")
        edits = LayerEdits(title=title, fields=fields, **outcome.edits)
        if self.target is None:
            self.edits = edits
            return
        layer = QgsVectorLayer(*self.target)  # of this thread
        save_edits(layer, edits, cancel_check(feedback))
        feedback.settled = True
        feedback.pushInfo(self.tr("“{}” was changed, and saved as a whole.").format(layer.name()))

    def _read(self, existing, edges, parameters, context, feedback):
        pair = read_pair(
            edges,
            existing,
            self.parameterAsString(parameters, self.SIGMA_FIELD, context),
            self.label(self.SIGMA_FIELD),
            context.transformContext(),
            feedback,
            self.progress(feedback, 0, 15),
        )
        if not pair.edges.count or not len(pair.edges.x):
            raise QgsProcessingException(
                self.tr(
                    "Layer “{}” holds no line with a length, so there is nothing to update “{}” by."
                    " Choose another layer in “{}”; if a filter or “selected features only” is set,"
                    " check it."
                ).format(edges.sourceName(), existing.sourceName(), self.label(self.EDGES))
            )
        rows = list(self._rows(existing, feedback))
        if not rows:
            feedback.pushWarning(
                self.tr("Layer “{}” (“{}”) holds no line: every edge counts as new.").format(
                    existing.sourceName(), self.label(self.EXISTING)
                )
            )
        if [row.id() for row in rows] != pair.existing_ids.tolist():
            raise QgsProcessingException(
                self.tr("Layer “{}” changed while it was read. Run again.").format(
                    existing.sourceName()
                )
            )
        state = own_name(existing.fields(), "update")
        retired = np.array([bool(state) and row[state] == "retired" for row in rows], bool)
        pair = _without(pair, retired)
        key = self.parameterAsString(parameters, self.KEY_FIELD, context).strip()
        if key:
            key = chosen_field(existing, key, self.label(self.KEY_FIELD))
        self.key_field = key
        self.captured, self.edges_crs = self.captured_between(edges), self.crs_title(edges)
        edge_rows = {row.id(): row for row in self._rows(edges, feedback)}
        return Basemap(
            source=existing,
            pair=pair,
            rows=rows,
            edges=edge_rows,
            retired=retired,
            keys=self._keys(rows, key, existing, feedback),
            edge_keys=self.edge_keys or {},
            edges_decided=read_decisions(edge_rows.values()).merge(self.edges_decided),
            lines_decided=read_decisions(rows)
            .merge(self.lines_decided)
            .merge(self._decided_elsewhere(existing, rows, parameters, context, feedback)),
        )

    def _keys(self, rows, key, existing, feedback):
        """What each existing line is called: by the key where it has one, else by its id."""
        if not key:
            return [str(row.id()) for row in rows]
        keys = [None if is_null(row[key]) else str(row[key]) for row in rows]
        empty = keys.count(None)
        shared = len(keys) - empty - len(set(keys) - {None})
        if empty or shared:
            feedback.pushWarning(
                self.tr(
                    "“{0}”, field “{1}”: lines without a value: {2}, which are called by their"
                    " feature id; lines with the value of another one: {3}."
                ).format(existing.sourceName(), key, empty, shared)
            )
        return [str(row.id()) if one is None else one for row, one in zip(rows, keys)]

    def _decided_elsewhere(self, existing, rows, parameters, context, feedback):
        """Decisions in the status of the existing lines; None without such a layer."""
        source = self.parameterAsSource(parameters, self.DECISIONS, context)
        if source is None:
            return None
        label = self.label(self.DECISIONS)
        return decisions_elsewhere(source, existing, {row.id() for row in rows}, label, feedback)

    @staticmethod
    def _rows(source, feedback):
        """All rows of a layer."""
        return map(QgsFeature, looked_through(iterate(source, QgsFeatureRequest()), feedback))

    def _plan(self, basemap, edges, parameters, context, feedback):
        from ..shared.lines.comparison import compare
        from ..shared.lines.comparison_results import ComparisonSettings
        from ..shared.lines.update import UpdateSettings, plan_update

        def number(name):
            return self.parameterAsDouble(parameters, name, context)

        def flag(name):
            return self.parameterAsBool(parameters, name, context)

        survey, self.surveyed = self.survey(
            basemap.pair, edges, parameters, context, feedback, self.places
        )
        compared = compare(
            basemap.pair.edges,
            basemap.pair.existing,
            ComparisonSettings(
                max_offset=number(self.MAX_OFFSET),
                existing_sigma=number(self.EXISTING_SIGMA),
                remove_shift=flag(self.REMOVE_SHIFT),
                confidence=number(self.CONFIDENCE),
            ),
            self.progress(feedback, 15, 50),
            survey,
        )
        self._accept_clear_cases(basemap, compared)
        ids = [row.id() for row in basemap.rows]
        with speaking(QCoreApplication.translate):  # why something is held back
            plan = plan_update(
                compared,
                UpdateSettings(
                    replace_all=self.parameterAsEnum(parameters, self.REPLACE, context) == 1,
                    add_new=flag(self.ADD_NEW),
                    retire=self.parameterAsEnum(parameters, self.RETIRE, context) != KEEP,
                    needs_decision=flag(self.NEEDS_DECISION),
                    blend=number(self.BLEND),
                    follow=number(self.FOLLOW),
                ),
                edge_decision=basemap.edges_decided.codes(basemap.pair.edge_ids.tolist()),
                line_decision=basemap.lines_decided.codes(ids),
                progress=self.progress(feedback, 50, 80),
            )
        self._say_held(basemap, plan.held, feedback)
        return plan, compared

    def _say_held(self, basemap, held, feedback):
        """How many cases wait for what reason; and what waits although a person accepted it."""
        for why, count in sorted(Counter(one.why for one in held).items()):
            feedback.pushInfo(self.tr("    held back: {} ({})").format(count, why))
        edges, lines = basemap.edges_decided.words, basemap.lines_decided.words
        edge_ids = basemap.pair.edge_ids.tolist()
        accepted = [
            self.tr("edge {} ({})").format(basemap.pair.edge_labels[one.edge], one.why)
            for one in held
            if one.edge >= 0 and edges.get(edge_ids[one.edge]) == "accept"
        ] + [
            self.tr("existing line {} ({})").format(basemap.keys[one.existing], one.why)
            for one in held
            if one.edge < 0 and lines.get(basemap.rows[one.existing].id()) == "accept"
        ]
        if accepted:
            feedback.pushWarning(
                self.tr(
                    "Accepted, and held back all the same: {}. Repair these lines, or draw them by"
                    " hand."
                ).format("; ".join(accepted[:MOST_NAMED]) + "…" * (len(accepted) > MOST_NAMED))
            )

    def _accept_clear_cases(self, basemap, compared):
        """Accept what is clear beyond doubt, where nobody has decided on it."""
        from ..shared.lines.clear_cases import clear_cases

        if self.clear_rule is None:
            return
        decided, basemap.rule = basemap.lines_decided, self._rule_words()
        for row in np.flatnonzero(clear_cases(compared, self.clear_rule)).tolist():
            ident = basemap.rows[row].id()
            if ident not in decided.words:
                decided.add(ident, "accept", basemap.rule)

    def _rule_words(self):
        """What stands in the changes for a person where the rule of clear cases accepted them."""
        if self.clear_rule is None:
            return ""
        return self.tr("clear case: matched over {:.0%}, sigma below {:.3f} m").format(
            self.clear_rule.min_matched, self.clear_rule.max_sigma
        )

    def _fields(self, existing, parameters, context, feedback):
        """The layer's own fields in their order, then those of the update; and which of them say
        since when and until when a line is valid."""
        fields = with_update_fields(existing.fields(), existing.sourceName())
        wish = self.parameterAsEnum(parameters, self.LIFECYCLE, context)
        if wish == LEAVE_LIFECYCLE:
            return fields, Lifecycle({})
        lifecycle = find_lifecycle(existing.fields(), [one.name for one in UPDATE_FIELDS])
        if wish == ADD_LIFECYCLE:
            lifecycle = with_missing(lifecycle, fields)
        if lifecycle.fields:
            feedback.pushInfo(self.tr("Written as well: {}.").format(lifecycle.words()))
        return fields, lifecycle

    def _mapping(self, basemap, edges, parameters, context, feedback):
        """Field of the edges that fills each field of added lines, where it can; one that was asked
        for and cannot stops the run."""
        existing, label = basemap.source, self.label(self.FIELD_MAP)
        text = self.parameterAsString(parameters, self.FIELD_MAP, context).strip()
        reserved = {"fid", *(definition.name for definition in UPDATE_FIELDS)}
        mapping = (
            written_mapping(text, label, existing, edges)
            if text
            else same_names(existing.fields(), edges.fields(), reserved)
        )
        warn = None if text else feedback.pushWarning
        return fitting(mapping, existing, basemap.edges.values(), label, warn)

    # --- output

    def _write(self, outcome, fields, existing, parameters, context, feedback):
        outputs, crs = Outputs(self, parameters, context, feedback), existing.sourceCrs()
        flat = QgsWkbTypes.multiType(existing.wkbType())
        layers = [
            (outputs.writer(name, own_fields, kind, crs, style), rows)
            for name, own_fields, kind, rows, style in (
                (self.UPDATED, fields, existing.wkbType(), outcome.updated, styles.UPDATED),
                (
                    self.CHANGES,
                    fields_of(CHANGE_FIELDS),
                    flat,
                    outcome.changes,
                    styles.BASEMAP_CHANGES,
                ),
                (self.HELD, fields_of(HELD_FIELDS), flat, outcome.held, styles.HELD),
            )
            if name == self.UPDATED or outputs.wanted(name)
        ]
        for writer, rows in layers:
            for row in rows:
                raise_if_cancelled(feedback)
                writer.add(row)
            writer.close()
        counts = self._counts(outcome)
        feedback.pushInfo(
            self.tr("Lines: {}. Held back: {}.").format(
                ", ".join(f"{name.lower()} {counts[name]}" for name, _ in self.NUMBERS[:-1]),
                counts["HELD_BACK"],
            )
        )
        return {**outputs.results, **counts}

    def _counts(self, outcome):
        what = [row["what"] for row in outcome.changes]
        counts = {name: what.count(name.lower()) for name, _ in self.NUMBERS[1:-1]}
        counts["RETIRED"] += what.count("deleted")
        changed = len(what) - counts["ADDED"] - what.count("deleted")
        counts["UNCHANGED"] = len(outcome.updated) - counts["ADDED"] - changed
        counts["HELD_BACK"] = len(outcome.held)
        return counts


def _without(pair, retired):
    """The pair without the lines that an earlier run retired: nothing is compared with them."""
    if not retired.any():
        return pair
    return replace(pair, existing=pair.existing.of_parts(~retired[pair.existing.line]))
