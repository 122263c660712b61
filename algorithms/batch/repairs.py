"""Repairs kept in the results: read before a run, carried out by it, and written back with what
became of them. No run takes a row out."""

from collections import Counter
from dataclasses import dataclass

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsCoordinateTransform,
    QgsCsException,
    QgsFeature,
    QgsGeometry,
    QgsMultiPoint,
    QgsPoint,
    QgsProcessingException,
    QgsWkbTypes,
)

from ...shared.reconstruction.repairs import APPLIED, LOST, NO_EFFECT, STATES, why_words
from ..host.fields import field, fields_of
from ..host.figures import translate
from ..reading.repair_rows import (
    REPAIR_FIELDS,
    REPAIRS,
    RepairRows,
    in_words,
    moment,
    problem_of,
    record_of,
    repairs_of,
)
from . import run_state
from .gathering import height_unit

SHAPE = QgsWkbTypes.Type.MultiPointZ
NAMES = tuple(one.name for one in REPAIR_FIELDS)
ORDER = {APPLIED: 0, NO_EFFECT: 1, LOST: 2}  # what one layer says of a row that is for any counts


def tr(text):
    return translate("Repairs", text)


@dataclass(frozen=True)
class Given:
    """Repairs for one capture layer.

    Attributes
    ----------
    repairs : Repairs or None
        None where there are none.
    numbers : list of int
        Their rows in the table.
    """

    repairs: object
    numbers: list


class BatchRepairs:
    """The table of repairs of a folder of results.

    Parameters
    ----------
    path : Path
        GeoPackage of the last run.

    Attributes
    ----------
    rows : list of dict
        Values of `REPAIR_FIELDS` by name.
    """

    def __init__(self, path):
        self.path, self.former = path, _read(path)
        self.rows = [
            record_of({name.lower(): value for name, value in row.values.items()})
            for row in self.former
        ]
        self.geometry = [_geometry(row.wkb) for row in self.former]
        self.srs = run_state.srs_of(path, REPAIRS) if self.former else ""
        self.found = {}  # by row: best state so far, its reason, layer, geometry
        self.problems = {
            number: problem for number, row in enumerate(self.rows) if (problem := problem_of(row))
        }

    def of(self, layer):
        """Repairs for a capture layer.

        Parameters
        ----------
        layer : str
            Its name in the results.

        Returns
        -------
        Given
        """
        numbers = [
            number
            for number in RepairRows(self.rows, []).of_layer({layer})
            if number not in self.problems
        ]
        return Given(repairs_of(self.rows[n] for n in numbers) if numbers else None, numbers)

    def take(self, layer, given, outcome, places):
        """Take down what became of repairs.

        Parameters
        ----------
        layer : str
        given : Given
        outcome : RepairOutcome
        places : list of QgsGeometry
            Of each repair, in the CRS of the results.
        """
        words = why_words(outcome.why)
        for number, state, why, place in zip(given.numbers, outcome.state, words, places):
            former = self.found.get(number)
            if former is None or ORDER[int(state)] < ORDER[former[0]]:
                self.found[number] = int(state), why, layer, place

    def refuse_if_changed(self):
        """Raise where somebody changed the table while the run was at work."""
        if _read(self.path) != self.former:
            raise QgsProcessingException(
                tr(
                    "“{}” was changed in “{}” while the run was at work. What it holds is as it"
                    " was; run again."
                ).format(REPAIRS, self.path)
            )

    def layer(self, crs, context, done, failed):
        """The table as it is written: with states, and where each repair acts.

        Parameters
        ----------
        crs : QgsCoordinateReferenceSystem
            Of the results.
        context : QgsCoordinateTransformContext
        done, failed : set of str
            Capture layers of this run.

        Returns
        -------
        fields : QgsFields
            Those of `REPAIR_FIELDS`, and what people added.
        geometry_type : QgsWkbTypes.Type
        features : list of QgsFeature
        """
        fields, extra = fields_of(REPAIR_FIELDS), kinds_of_added(self.former, NAMES)
        for name, kind in extra.items():
            fields.append(field(name, kind))
        way, features = self._way(crs, context), []
        for number, row in enumerate(self.rows):
            place = self._settle(number, row, done, failed)
            if place is None:
                place = _moved(self.geometry[number], way)
            feature = QgsFeature(fields)
            added = self.former[number].values
            feature.setAttributes([row[name] for name in NAMES] + [added[name] for name in extra])
            if not place.isEmpty():
                feature.setGeometry(place)
            features.append(feature)
        return fields, SHAPE, features

    def _settle(self, number, row, done, failed):
        """Put state and reason into a row; the place where it acts, None where that is not
        known."""
        row["at"] = moment(row) if number not in self.problems else row["at"]
        if number in self.problems:
            row["state"], row["state_detail"] = STATES[NO_EFFECT], self.problems[number]
            return None
        if number in self.found:
            state, why, layer, place = self.found[number]
            row["state"], row["state_detail"] = STATES[state], why or None
            if state != LOST:
                row["layer"] = row["layer"] or layer
            return place if state != LOST else None
        if row["layer"] in failed:
            row["state"] = row["state"] or STATES[NO_EFFECT]  # it was not tried before either
            row["state_detail"] = tr("its capture layer failed in the last run")
            return None
        row["state"] = STATES[LOST]
        row["state_detail"] = tr("its capture layer was not part of the last run")
        return None

    def _way(self, crs, context):
        former = QgsCoordinateReferenceSystem.fromWkt(self.srs) if self.srs else crs
        if not former.isValid() or not crs.isValid() or former == crs:
            return None
        return QgsCoordinateTransform(former, crs, context)

    def counts(self):
        """Number of repairs by state, and those that were not carried out among them."""
        return Counter(row["state"] for row in self.rows)

    def words(self):
        """For log and report; empty where there are none."""
        if not self.rows:
            return ""
        number = self.counts()
        return tr("{} applied, {} lost, {} without effect").format(
            *(number[state] for state in STATES)
        )

    def for_report(self):
        """Rows for the report: kind, value, layer, capture, when, who, decided, remark, state,
        reason."""
        names = "kind", "value", "layer", "capture", "at"
        names += "decided_by", "decided_at", "remark", "state", "state_detail"
        return tuple(tuple(str(row[name] or "") for name in names) for row in self.rows)


def kinds_of_added(rows, known):
    """Columns that people added to a table, with a type that holds them.

    Parameters
    ----------
    rows : list of Row
    known : collection of str
        The table's own columns.

    Returns
    -------
    dict of str to str
    """
    known = {name.lower() for name in known}
    extra = {}
    for row in rows:
        for name, value in row.values.items():
            if name.lower() not in known:
                kind = {bool: "Int", int: "LongLong", float: "Double"}.get(type(value))
                before = extra.get(name)
                extra[name] = before if value is None else _wider(before, kind or "QString")
    return {name: kind or "QString" for name, kind in extra.items()}


def _wider(one, other):
    """A type that holds values of two."""
    if one is None or one == other:
        return other
    return "Double" if {one, other} <= {"Int", "LongLong", "Double"} else "QString"


def _read(path):
    return run_state.rows_of(path, REPAIRS) if path.exists() else []


def _geometry(wkb):
    geometry = QgsGeometry()
    if wkb:
        geometry.fromWkb(wkb)
    return geometry


def _moved(geometry, way):
    """A place of a former run in the CRS of this one; none where there is none."""
    if way is None or geometry.isEmpty():
        return geometry
    try:
        geometry.transform(way)
    except QgsCsException:
        return QgsGeometry()
    return geometry


def places_of(found, reason, layer, source_crs, crs, context):
    """Where repairs act: at their epochs, along a stretch at all that are in an edge.

    Parameters
    ----------
    found : FoundRepairs
    reason : ndarray of uint8, shape (n,)
        Of each row of the layer; 0 where it is in an edge.
    layer : EpochLayer
    source_crs, crs : QgsCoordinateReferenceSystem
        Of the layer and of the results.
    context : QgsCoordinateTransformContext

    Returns
    -------
    list of QgsGeometry
        Multi-points with heights; empty where the epoch is lost.
    """
    table, repairs = layer.table, found.repairs
    way = QgsCoordinateTransform(source_crs, crs, context)
    factor = 1 / (height_unit(crs, context) if crs.isValid() else 1.0)
    out = []
    for k in range(len(repairs)):
        rows = found.rows[found.offsets[k] : found.offsets[k + 1]]
        if found.until_row[k] >= 0:
            inside = (table.capture == repairs.capture[k]) & (reason == 0)
            inside &= (table.seconds > repairs.time[k]) & (table.seconds < repairs.until[k])
            inner = np.flatnonzero(inside)
            inner = inner[np.argsort(table.seconds[inner], kind="stable")]
            rows = np.concatenate([rows[:1], inner, found.until_row[k : k + 1]])
        rows = rows[np.isfinite(table.x[rows]) & np.isfinite(table.y[rows])]
        points = QgsMultiPoint()
        for x, y, z in zip(*layer.frame.layer(table.x[rows], table.y[rows]), table.z[rows]):
            points.addGeometry(QgsPoint(float(x), float(y), float(z) * factor))
        geometry = QgsGeometry(points)
        out.append(_moved(geometry, way if way.isValid() else None) if len(rows) else QgsGeometry())
    return out


def lost_sentences(repairs):
    """Warnings, one for each repair that was not carried out."""
    return [
        tr("Repair “{}” of “{}”, capture “{}”, {}: {} ({}).").format(
            row["kind"],
            row["layer"] or "–",
            row["capture"] or "–",
            row["at"] or in_words(row["time"]),
            row["state"],
            row["state_detail"] or "",
        )
        for row in repairs.rows
        if row["state"] != STATES[APPLIED]
    ]
