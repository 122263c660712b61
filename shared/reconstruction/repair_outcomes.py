"""What became of repairs: applied, lost, or without effect, and why."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..epochs.reasons import Reason
from ..tuning import REPAIR_LIMITS
from . import shapes
from .repairs import (
    APPLIED,
    ARC,
    BREAK_HERE,
    BRIDGE,
    BROKEN,
    CORNER,
    ELEMENT,
    ENDS_ANYWAY,
    LEAVE_OUT,
    LOST,
    NO_CAPTURE,
    NO_EFFECT,
    NO_EPOCH,
    NO_JOINT,
    NO_POSITION,
    NO_ROOM,
    NOT_FITTED,
    NOT_IN_EDGE,
    NOTHING,
    OTHER_REPAIR,
    REJECTED_ANYWAY,
    SHAPES,
    SMOOTH,
    SPLINE,
    SPLINE_MODEL,
    STILL_OPEN,
    TAKE_BACK,
    TAKEN_BACK_LATER,
    TOO_LONG,
    RepairOutcome,
)


def outcome_of(found, table, result, settings):
    """Find out what became of repairs.

    Parameters
    ----------
    found : FoundRepairs
    table : EpochTable
    result : Reconstruction
        Made with these repairs.
    settings : Settings

    Returns
    -------
    RepairOutcome
        A corner, a smooth joint or an element counts as applied if the result has it.
    """
    repairs = found.repairs
    why = np.zeros(len(repairs), np.uint8)
    why[found.lost] = np.where(repairs.capture[found.lost] < 0, NO_CAPTURE, NO_EPOCH)
    for k in np.flatnonzero(~found.lost).tolist():  # few: they are made by hand
        why[k] = _why(found, k, table, result)
    shaped = np.isin(repairs.kind, (CORNER, SMOOTH)) | (
        (repairs.kind == ELEMENT) & (repairs.value != SPLINE)
    )
    if settings.curve_model == "spline":
        why[shaped & np.isin(why, (NOTHING, OTHER_REPAIR, NO_ROOM, NO_JOINT, NOT_FITTED))] = (
            SPLINE_MODEL
        )
    state = np.where(why == NOTHING, APPLIED, NO_EFFECT)
    state[found.lost] = LOST
    rows, repair = _touched(found, result.reason)
    return RepairOutcome(state.astype(np.uint8), why, rows, repair)


def _why(found, k, table, result):
    """Why a repair whose epochs exist was not applied, an index in `WHY`; `NOTHING` if it was."""
    kind, rows = found.repairs.kind[k], found.rows[found.offsets[k] : found.offsets[k + 1]]
    if kind == LEAVE_OUT:
        return _why_not_out(result.reason[rows])
    if kind == BREAK_HERE:
        own = (table.capture == found.repairs.capture[k]) & (result.edge >= 0)
        after = table.seconds[own] > found.repairs.time[k]
        return NOTHING if after.any() and not after.all() else ENDS_ANYWAY
    why = _why_not(kind, rows, found.until_row[k], table, result.edge)
    return _why_no_shape(found, k, table, result) if why == NOTHING and kind in SHAPES else why


def _why_not_out(reason):
    """Why an epoch, whose rows have these reasons, was not left out; an index in `WHY`."""
    if (reason == Reason.LEFT_OUT).any():
        return NOTHING
    return TAKEN_BACK_LATER if (reason == Reason.KEPT).any() else REJECTED_ANYWAY


def _why_not(kind, rows, last, table, edge):
    """Why a repair of another kind at an epoch with these rows was not applied; an index in
    `WHY`."""
    drawn = edge[rows].max()
    if kind == BRIDGE:
        gap = distance(table.x[last] - table.x[rows], table.y[last] - table.y[rows]).min()
        if gap / table.scale[last] > REPAIR_LIMITS.longest_bridge:
            return TOO_LONG
        if drawn < 0 or edge[last] < 0:
            return NOT_IN_EDGE
        return NOTHING if drawn == edge[last] else STILL_OPEN
    if drawn >= 0:
        return NOTHING
    usable = np.isfinite(table.x[rows]) & np.isfinite(table.y[rows]) & (table.parts[rows] == 1)
    return NOT_IN_EDGE if usable.any() else NO_POSITION


def _why_no_shape(found, k, table, result):
    """Why the result lacks a corner, joint or element: an index in `WHY`, or `NOTHING`."""
    repairs, kind = found.repairs, found.repairs.kind[k]
    rows = found.rows[found.offsets[k] : found.offsets[k + 1]]
    line = _DrawnLine.of(int(result.edge[rows].max()), table, result)
    if kind == ELEMENT:
        inside = (table.capture == repairs.capture[k]) & (result.edge >= 0)
        inside &= (table.seconds >= repairs.time[k]) & (table.seconds <= repairs.until[k])
        if (result.edge[inside] != result.edge[rows].max()).any():
            return BROKEN
        if line.is_one(repairs.time[k], repairs.until[k], repairs.value[k]):
            return NOTHING
        number = len(line.places(repairs.time[k], repairs.until[k]))
        room = number >= REPAIR_LIMITS.fewest + (repairs.value[k] == ARC)
    else:
        place = int(line.places(repairs.time[k], repairs.time[k])[0])
        if kind == CORNER:
            if line.has_corner(place):
                return NOTHING
            room = min(place, line.last - place) >= REPAIR_LIMITS.fewest or line.is_ring
        else:
            state = line.smooth_at(place)
            if state in (NOTHING, NO_JOINT):
                return state
            room = True
    if not room:
        return NO_ROOM
    return OTHER_REPAIR if _others_near(found, k) else NOT_FITTED


def _others_near(found, k):
    """Whether another repair asks for a shape in the same place."""
    repairs = found.repairs
    until = np.where(np.isfinite(repairs.until), repairs.until, repairs.time)
    other = np.isin(repairs.kind, SHAPES) & ~found.lost
    other &= (repairs.capture == repairs.capture[k]) & (np.arange(len(repairs)) != k)
    return bool((other & (repairs.time <= until[k]) & (until >= repairs.time[k])).any())


@dataclass(frozen=True)
class _DrawnLine:
    """What the positions of one edge were drawn as, in order of time.

    Shape (q,): `seconds` of its epochs and `place`, the position of each. `shape`, shape (p,): of
    each position, see `shapes`.
    """

    seconds: np.ndarray
    place: np.ndarray
    shape: np.ndarray
    is_ring: bool

    @classmethod
    def of(cls, edge, table, result):
        """The positions of an edge, given by its number."""
        rows = np.flatnonzero(result.edge == edge)
        rows = rows[np.argsort(table.seconds[rows], kind="stable")]
        shape = result.shape[rows]
        first = (shape & shapes.FIRST) > 0
        return cls(
            table.seconds[rows],
            np.cumsum(first) - 1,
            shape[first],
            bool(result.edges.closed[edge]),
        )

    @property
    def last(self):
        return len(self.shape) - 1

    def places(self, time, until):
        """Positions with epochs between two times."""
        inside = (self.seconds >= time) & (self.seconds <= until)
        return np.unique(self.place[inside])

    def is_one(self, time, until, value):
        """Whether all positions between two times are of one kind, and those of a tangent or an arc
        are one element."""
        shape = self.shape[self.places(time, until)]
        one = value == SPLINE or not (shape[1:] & (shapes.BEGINS | shapes.CORNER)).any()
        return bool(((shape & shapes.KIND) == value).all() and one)

    def _off(self, bits, place, behind=0):
        """Number of positions from a place to the nearest one with any of some bits, large if there
        is none; behind the place, `behind` fewer are counted."""
        some = np.flatnonzero(self.shape & bits)
        off = np.abs(some - place)
        if self.is_ring:
            off = np.minimum(off, len(self.shape) - off)
        off = np.where(some > place, np.maximum(off - behind, 0), off)
        return int(off.min()) if len(off) else len(self.shape) + REPAIR_LIMITS.reach

    def has_corner(self, place):
        """Whether a corner lies within reach of a position."""
        return self._off(shapes.CORNER, place, 1) <= REPAIR_LIMITS.reach

    def smooth_at(self, place):
        """`NOTHING` if the joint nearest to a position is smooth, `NOT_FITTED` if it is a corner,
        `NO_JOINT` if there is none."""
        corner, joint = self._off(shapes.CORNER, place), self._off(shapes.BEGINS, place)
        if corner <= REPAIR_LIMITS.reach and corner <= joint:
            return NOT_FITTED
        # an arc that replaced a corner begins some positions before it
        near = REPAIR_LIMITS.reach + max(REPAIR_LIMITS.smooth_arc)
        return NOTHING if joint <= near else NO_JOINT


def _touched(found, reason):
    """Rows that were left out or taken back in, rising, and the repair that did it (the last one if
    several did)."""
    out, by_out = found.rows_of(LEAVE_OUT)
    back, by_back = found.rows_of(TAKE_BACK)
    gone, some = reason[out] == Reason.LEFT_OUT, reason[back] == Reason.KEPT
    rows = np.concatenate([out[gone], back[some]])
    repair = np.concatenate([by_out[gone], by_back[some]])
    order = np.lexsort((repair, rows))
    rows, repair = rows[order], repair[order]
    last = np.append(rows[1:] != rows[:-1], True)[: len(rows)]
    return rows[last], repair[last]
