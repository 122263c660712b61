"""Changes that people made in the results of the last run, brought into those of this one; what has
no place there is kept in the layer `superseded`."""

import json
from dataclasses import dataclass, field

import numpy as np
from osgeo import gdal, ogr
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsFeature,
    QgsFields,
    QgsGeometry,
    QgsProcessingException,
    QgsWkbTypes,
)

from ..host.feedback import looked_through, raise_if_cancelled
from ..host.fields import NewField, fields_of
from ..host.figures import translate
from ..host.watching import open_file
from ..reading.frames import make_frame
from ..reading.repair_rows import REPAIRS
from . import gathering, run_state
from .carry_columns import Columns
from .carry_plan import (
    ADDED,
    DECIDED,
    DELETED,
    EDITED,
    Plan,
    plan_lines,
    plan_return,
    plan_rows,
)
from .result_folder import RUN_LOG

SUPERSEDED = "superseded"
# layers that people decide on, and what they fill in there
REVIEWED = ("edges", "merged", "comparison", "existing_status")
REVIEW_FIELDS = (
    NewField("decision", "QString", "`accept`, `hold` or `reject`; for a person to fill in."),
    NewField("remark", "QString", "For a person to fill in."),
    NewField("decided_by", "QString", "Who decided; for a person to fill in."),
    NewField("decided_at", "QDateTime", "When; for a person to fill in."),
)
SUPERSEDED_FIELDS = (
    NewField("layer", "QString", "The capture layer."),
    NewField("result", "QString", "The layer of the results that was changed."),
    NewField("change", "QString", "`edited`, `deleted` or `added`."),
    NewField("reason", "QString", "Why the new results have no place for it."),
    NewField("row", "QString", "The fields of the row as it was, as JSON."),
    NewField("shape", "QString", "Its geometry as text, where it is no line."),
    NewField("superseded_at", "QString", "Date and time of the run."),
    NewField(
        "returned_at",
        "QString",
        "Date and time of the run in which its line was there again and took it back; what was"
        " decided on the line since stays.",
    ),
)
SHAPE = QgsWkbTypes.Type.MultiLineStringZ
# tables about the runs themselves, and those that keep their rows from run to run
NOT_WATCHED = (RUN_LOG, SUPERSEDED, "history", REPAIRS)


def tr(text):
    return translate("CarryOver", text)


def with_review(fields, features, feedback):
    """Fields and features of a layer with the empty ones that people fill in; those that it has
    already stay."""
    own = {name.lower() for name in fields.names()}
    missing = [one for one in REVIEW_FIELDS if one.name not in own]
    if not missing:
        return fields, features
    fields = QgsFields(fields)
    for one in fields_of(missing):
        fields.append(one)
    rows = []
    for feature in looked_through(features, feedback):
        row = QgsFeature(feature)
        row.setFields(fields, False)
        row.resizeAttributes(len(fields))
        rows.append(row)
    return fields, rows


@dataclass
class Carried:
    """What became of the changes.

    Attributes
    ----------
    counts : dict of str to int
        Number of rows that live on, by what was done.
    superseded : list of tuple
        (layer, what was done, `Row`, why, CRS) of those that do not.
    returned : int
        Rows of `superseded` whose line was there again.
    unknown : bool
        True where the former results do not say what the run wrote.
    """

    counts: dict = field(default_factory=lambda: dict.fromkeys((EDITED, DELETED, ADDED), 0))
    superseded: list = field(default_factory=list)
    returned: int = 0
    unknown: bool = False

    @property
    def total(self):
        return sum(self.counts.values())

    def words(self):
        """For log and report; empty where nothing had been changed."""
        if not self.total and not self.superseded and not self.returned:
            return ""
        said = tr("{} carried over (edited {}, deleted {}, added {})").format(
            self.total, *self.counts.values()
        )
        if self.superseded:
            said += tr(
                "; {} kept in “superseded”, as the new results have no place for them"
            ).format(len(self.superseded))
        if self.returned:
            said += tr("; {} taken back from “superseded”, as their lines are there again").format(
                self.returned
            )
        return said


class CarryOver:
    """Brings the changes in the old GeoPackage of a folder into the new one: call `bring` for the
    layers as they are written, then `finish`.

    Parameters
    ----------
    folder : ResultFolder
    crs : QgsCoordinateReferenceSystem
        Of the results.
    context : QgsCoordinateTransformContext
    feedback : QgsProcessingFeedback
    """

    def __init__(self, folder, crs, context, feedback):
        self.folder, self.crs, self.context, self.feedback = folder, crs, context, feedback
        self.carried, self.layers, self.kept, self.changes = Carried(), [], [], []
        self.returned = set()  # rows of `superseded`, by number
        self.watched = folder.old.exists() and RUN_LOG in folder.watch()
        if self.watched:
            found = run_state.changes(folder.old, self._check)
            self.carried.unknown = found is None
            self.changes = [one for one in found or () if one]
            self.kept = run_state.rows_of(folder.old, SUPERSEDED)

    def bring(self, layers):
        """Bring the changes of layers that are written now.

        Parameters
        ----------
        layers : sequence of str

        Raises
        ------
        QgsProcessingException
            If a row cannot be written.
        CancelledError
        """
        layers = [one for one in layers if one not in NOT_WATCHED]
        run_state.remember(self.folder.new, layers, self._check, anew=not self.layers)
        self.layers += layers
        self._apply([one for one in self.changes if one.layer in layers])
        for layer in layers:
            self._bring_back(layer)

    def finish(self, now):
        """Keep what has no place, and say in the log what was done.

        Parameters
        ----------
        now : str
            Date and time.

        Returns
        -------
        carried : Carried
        counts : dict of str to int
            Rows of each layer afterwards, `superseded` among them where there is one.

        Raises
        ------
        QgsProcessingException
            If a row cannot be written.
        CancelledError
        """
        self._apply([one for one in self.changes if one.layer not in self.layers])
        counts = self._count()
        if self.kept or self.carried.superseded:
            counts[SUPERSEDED] = self._write_superseded(self.kept, now)
        if self.watched:
            run_state.bring_views(self.folder.old, self.folder.new)
        self._say()
        return self.carried, counts

    def _check(self):
        raise_if_cancelled(self.feedback)

    def _say(self):
        words = self.carried.words()
        if self.carried.unknown:
            self.feedback.pushWarning(
                tr(
                    "The former results do not say what their run wrote: changes made in them by"
                    " hand cannot be recognised and are not carried over."
                )
            )
        if words:
            self.feedback.pushInfo(tr("Changes made by hand: {}.").format(words))
        triggers = run_state.own_triggers(self.folder.old, self.layers) if self.watched else ()
        if triggers:
            self.feedback.pushWarning(
                tr(
                    "The results had triggers of your own ({}), which tables made anew cannot keep:"
                    " create them again."
                ).format(", ".join(f"“{name}”" for name in triggers))
            )
        reasons = {}
        for layer, what, _, why, _ in self.carried.superseded:
            reasons[layer, what, why] = reasons.get((layer, what, why), 0) + 1
        for (layer, what, why), number in reasons.items():
            self.feedback.pushWarning(
                tr("“{}”, {}: rows kept in “superseded”: {} ({}).").format(layer, what, number, why)
            )

    def _apply(self, changes):
        if not changes:
            return
        dataset = open_file(self.folder.new, update=True)
        for one in changes:
            raise_if_cancelled(self.feedback)
            layer = dataset.GetLayerByName(one.layer)
            own = run_state.srs_of(self.folder.new, one.layer)
            crs = QgsCoordinateReferenceSystem.fromWkt(own) if own else self.crs
            way = self._way(one.srs, crs)
            homeless = []
            if one.is_gone:
                self._say_gone(one.layer)
                continue
            if layer is None:
                why = tr("the layer is not part of the new results")
                plan = Plan(superseded=[(EDITED, now, why) for _, now in one.edited])
                plan.superseded += [(ADDED, row, why) for row in one.added]
                if one.whole:
                    plan.superseded += [(DELETED, row, why) for row in one.deleted]
            else:
                columns = Columns(self.folder.old, one, layer)
                homeless = columns.take_out()
                plan = self._planned(one, _Places(crs, way, self.context))
                _carry_out(dataset, layer, plan, columns.wanted(), way)
            plan.superseded += homeless
            for what, number in plan.carried.items():
                self.carried.counts[what] += number
            to_results = self._way(one.srs, self.crs)
            self.carried.superseded += [(one.layer, *rest, to_results) for rest in plan.superseded]
        del layer, dataset

    def _planned(self, one, places):
        """Where the changes in a layer of the new results go."""
        if one.whole:
            return plan_lines(one, run_state.rows_of(self.folder.new, one.layer), places)
        marks = run_state.hashes_of(self.folder.new, one.layer, one.columns, self._check)
        return plan_rows(one, marks)

    def _say_gone(self, layer):
        self.feedback.pushWarning(
            tr(
                "“{}” was not in the results of the last run any more: it is made anew. What was"
                " changed in it is not carried over."
            ).format(layer)
        )

    def _bring_back(self, layer):
        """Decisions and deletions that an earlier run had no place for."""
        waiting = [row for row in self.kept if layer in REVIEWED and self._waits(row, layer)]
        if not waiting:
            return
        own = run_state.srs_of(self.folder.new, layer)
        crs = QgsCoordinateReferenceSystem.fromWkt(own) if own else self.crs
        way = self._way(run_state.srs_of(self.folder.old, SUPERSEDED), crs)
        rows = [
            (row.values["change"], run_state.Row(row.fid, said_of(row), row.wkb)) for row in waiting
        ]
        new = run_state.rows_of(self.folder.new, layer)
        plan, returned = plan_return(layer, rows, new, _Places(crs, way, self.context))
        if not returned:
            return
        dataset = open_file(self.folder.new, update=True)
        _carry_out(dataset, dataset.GetLayerByName(layer), plan, (), None)
        del dataset
        self.returned.update(waiting[number].fid for number in returned)
        self.carried.returned += sum(plan.carried.values())

    def _waits(self, row, layer):
        """True where a row of `superseded` may go back into a layer."""
        if row.values.get("result") != layer or row.values.get("returned_at") or row.wkb is None:
            return False
        if row.values.get("change") == DELETED:
            return True
        said = said_of(row)
        return row.values.get("change") == EDITED and any(said.get(name) for name in DECIDED)

    def _way(self, srs, crs):
        """From the CRS of an old layer to that of the new one; None where they are one."""
        former = QgsCoordinateReferenceSystem.fromWkt(srs) if srs else crs
        if not former.isValid() or not crs.isValid() or former == crs:
            return None
        return QgsCoordinateTransform(former, crs, self.context)

    def _count(self):
        dataset = open_file(self.folder.new)
        return {name: dataset.GetLayerByName(name).GetFeatureCount() for name in self.layers}

    def _write_superseded(self, kept, now):
        """Rows of former runs and of this one."""
        fields, features = fields_of(SUPERSEDED_FIELDS), []
        names = fields.names()
        way = self._way(run_state.srs_of(self.folder.old, SUPERSEDED), self.crs)
        for row in kept:
            more = {key: value for key, value in row.values.items() if key not in names and value}
            values = [row.values.get(name) for name in names]
            if more:
                values[names.index("row")] = _as_text({**said_of(row), **more})
            if row.fid in self.returned:
                values[names.index("returned_at")] = now
            features.append(_feature(fields, values, moved(row.wkb, way)))
        for layer, what, row, why, way in self.carried.superseded:
            geometry = moved(row.wkb, way)
            is_line = geometry.type() == QgsWkbTypes.GeometryType.LineGeometry
            values = [
                row.values.get("layer"), layer, what, why, _as_text(row.values),
                None if is_line or geometry.isNull() else geometry.asWkt(), now, None,
            ]  # fmt: skip
            features.append(_feature(fields, values, geometry if is_line else QgsGeometry()))
        writer = gathering.LayerWriter(
            self.folder.new, SUPERSEDED, fields, SHAPE, self.crs, self.context
        )
        return gathering.write_layer(writer, features, self.feedback)


def said_of(row):
    """The fields that a row of `superseded` keeps; what else somebody wrote there, under `row`."""
    text = row.values.get("row") or "{}"
    try:
        said = json.loads(text)
    except ValueError:
        said = None
    return said if isinstance(said, dict) else {"row": text}


def _as_text(values):
    return json.dumps(values, ensure_ascii=False, default=bytes.hex)


def _feature(fields, values, geometry):
    feature = QgsFeature(fields)
    feature.setAttributes(values)
    if not geometry.isNull():
        inner = geometry.constGet().segmentize()
        if not inner.is3D():
            inner.addZValue(float("nan"))
        inner.dropMValue()
        line = QgsGeometry(inner)
        line.convertToMultiType()
        feature.setGeometry(line)
    return feature


def moved(wkb, way):
    """A geometry in the CRS of the new results."""
    geometry = QgsGeometry()
    if wkb:
        geometry.fromWkb(wkb)
        if way is not None and not geometry.isEmpty():
            geometry.transform(way)
    return geometry


class _Places:
    """Lines in metres, those of the old and of the new results in one frame."""

    def __init__(self, crs, way, context):
        self.crs, self.way, self.context, self.frame = crs, way, context, None

    def __call__(self, rows, is_former):
        """Geometries of rows, an array of shape (n,), None for none."""
        import shapely  # late: it may be missing, and the plugin loads all the same

        shapes = [moved(row.wkb, self.way if is_former else None) for row in rows]
        lines = np.array(
            [
                None if one.isEmpty() else shapely.from_wkb(bytes(_straight(one).asWkb()))
                for one in shapes
            ],
            dtype=object,
        )
        lines = shapely.force_2d(lines)
        flat = shapely.get_coordinates(lines)
        if not len(flat):
            return lines
        x, y = flat.T.copy()
        if self.frame is None:
            self.frame = make_frame(self.crs, x, y, None, self.context)
        local = self.frame.local(x, y)[:2]
        return shapely.set_coordinates(lines, np.column_stack(local))


def _straight(geometry):
    return QgsGeometry(geometry.constGet().segmentize())


def _carry_out(dataset, layer, plan, added_columns, way):
    """Change a new layer as planned."""
    for column in added_columns:
        if layer.FindFieldIndex(column.GetName(), True) < 0:
            _check(layer.CreateField(column) == ogr.OGRERR_NONE, layer)
    dataset.StartTransaction()
    for fid in sorted({*plan.fields, *plan.shapes} - plan.removed):
        feature = layer.GetFeature(fid)
        _set(feature, plan.fields.get(fid, {}))
        if fid in plan.shapes:
            feature.SetGeometry(_geometry(plan.shapes[fid], way))
        _check(layer.SetFeature(feature) == ogr.OGRERR_NONE, layer)
    for fid in sorted(plan.removed):
        _check(layer.DeleteFeature(fid) == ogr.OGRERR_NONE, layer)
    for row in plan.copied:
        feature = ogr.Feature(layer.GetLayerDefn())
        _set(feature, row.values)
        feature.SetGeometry(_geometry(row.wkb, way))
        _check(layer.CreateFeature(feature) == ogr.OGRERR_NONE, layer)
    dataset.CommitTransaction()


def _set(feature, values):
    for name, value in values.items():
        place = feature.GetFieldIndex(name)
        if place < 0:
            continue
        if value is None:
            feature.SetFieldNull(place)
        elif isinstance(value, bytes):
            feature.SetFieldBinaryFromHexString(place, value.hex())
        else:
            feature.SetField(place, value)


def _geometry(wkb, way):
    """As GDAL takes it; None for none."""
    if wkb is None:
        return None
    return ogr.CreateGeometryFromWkb(bytes(moved(wkb, way).asWkb()) if way is not None else wkb)


def _check(fine, layer):
    if not fine:
        raise QgsProcessingException(
            tr("A change made by hand cannot be carried over into “{}”: {}.").format(
                layer.GetName(), gdal.GetLastErrorMsg()
            )
        )
