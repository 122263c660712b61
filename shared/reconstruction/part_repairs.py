"""Repairs in the work on a part of a table: the rows, positions and steps on which they act."""

from dataclasses import dataclass, replace

import numpy as np

from ..alignment.asked_elements import AskedElements
from ..arrays.plane import distance
from ..arrays.ragged import group_index, group_max, stretch_starts
from ..epochs.reasons import Reason
from ..epochs.screening import screen_stream, unusable
from ..epochs.spared import Spared
from ..tuning import REPAIR_LIMITS
from .repairs import (
    ARC,
    BREAK_HERE,
    BRIDGE,
    CORNER,
    ELEMENT,
    LEAVE_OUT,
    SMOOTH,
    SPLINE,
    TAKE_BACK,
    TANGENT,
    FoundRepairs,
)


@dataclass(frozen=True)
class PartRepairs:
    """Repairs of the captures of a part.

    Attributes
    ----------
    found : FoundRepairs
        Their epochs among the part's rows.
    spared : Spared
        Rows that were taken back in.
    """

    found: FoundRepairs
    spared: Spared

    @classmethod
    def of(cls, repairs, table):
        """Find the epochs of repairs.

        Parameters
        ----------
        repairs : PlacedRepairs
            By the codes of the part.
        table : EpochTable
            Of the part.

        Returns
        -------
        PartRepairs
        """
        return cls(FoundRepairs.of(repairs, table), Spared.none(len(table)))

    # --- rows -----------------------------------------------------------------------------------

    def screened(self, usable, table):
        """Usable rows, with epochs left out and taken back in.

        Parameters
        ----------
        usable : tuple of ndarray
            As `screening.unusable` returns it; its arrays are changed in place.
        table : EpochTable

        Returns
        -------
        tuple of ndarray
            As `usable`.
        """
        reason, amount, order, kept = usable
        out, by_out = self.found.rows_of(LEAVE_OUT)
        back, by_back = self.found.rows_of(TAKE_BACK)
        last = np.full(len(reason), -1)  # the last repair of an epoch is the one that counts
        np.maximum.at(last, out, by_out)
        np.maximum.at(last, back, by_back)
        out, counts = out[last[out] == by_out], last[back] == by_back
        out = out[reason[out] == Reason.KEPT]  # rows rejected already keep their reason
        back = self._one_of_each(back[counts], by_back[counts], usable)
        back = back[np.isfinite(table.x[back]) & np.isfinite(table.y[back])]
        back = back[table.parts[back] == 1]
        self.spared.mask[back] = True
        self.spared.overruled[back] = reason[back]
        use = np.zeros(len(reason), bool)
        use[kept] = use[back] = True
        use[out] = False
        reason[back], amount[back] = Reason.KEPT, np.nan
        reason[out], amount[out] = Reason.LEFT_OUT, np.nan
        return reason, amount, order, order[use[order]]

    @staticmethod
    def _one_of_each(rows, repair, usable):
        """One of the rows that each repair names: the one that is usable anyway, else the first in
        order. There cannot be two positions at one time."""
        reason, _, order, _ = usable
        place = np.empty(len(reason), np.int64)
        place[order] = np.arange(len(order))
        sort = np.lexsort((place[rows], reason[rows] != Reason.KEPT, repair))
        return rows[sort[stretch_starts(repair[sort])]]

    # --- positions ------------------------------------------------------------------------------

    def _in_stretch(self, positions, kind, values=None):
        """Number of the last repair of a kind whose stretch holds each position, -1 for none."""
        out, repairs = np.full(len(positions), -1), self.found.repairs
        for k in np.flatnonzero((repairs.kind == kind) & ~self.found.lost).tolist():
            if values is None or repairs.value[k] in values:
                own = positions.capture == repairs.capture[k]
                own &= positions.ended >= repairs.time[k]
                out[own & (positions.started <= repairs.until[k])] = k
        return out

    def _places(self, positions, kind):
        """Positions at the epochs named by the repairs of a kind, or the last ones before these."""
        repairs, out = self.found.repairs, []
        for k in np.flatnonzero((repairs.kind == kind) & ~self.found.lost).tolist():
            own = np.flatnonzero(
                (positions.capture == repairs.capture[k]) & (positions.started <= repairs.time[k])
            )
            if own.size:
                out.append(int(own[np.argmax(positions.started[own])]))
        return np.array(out, np.int64)

    def taken_back(self, positions):
        """Positions (mask) with an epoch that was taken back in."""
        return group_max(self.spared.mask[positions.rows], positions.offsets, False)

    def _beside(self, positions):
        """Positions (mask) taken back in, and those near them: if a doubtful epoch is right, what
        it made doubtful is right as well."""
        back, capture = self.taken_back(positions), positions.capture
        out = back.copy()
        for shift in range(1, REPAIR_LIMITS.reach + 1):
            same = capture[shift:] == capture[:-shift]
            out[shift:] |= back[:-shift] & same
            out[:-shift] |= back[shift:] & same
        return out

    def held(self, positions):
        """Positions (mask) that count as no gross errors: taken back in, near such a one, or part
        of an element or joint asked for."""
        out = self._beside(positions) | (self._in_stretch(positions, ELEMENT) >= 0)
        for kind in (CORNER, SMOOTH):
            out[self._places(positions, kind)] = True
        return out

    def spare(self, positions, hit, why):
        """The suspected positions (mask) that are rejected, as no repair protects them.

        Parameters
        ----------
        positions : Positions
        hit : ndarray of bool, shape (m,)
        why : Reason

        Returns
        -------
        ndarray of bool, shape (m,)
        """
        self.spared.spare(positions.rows, hit[group_index(positions.offsets)], why)
        return hit & ~self.held(positions)

    def breaks(self, positions):
        """Positions (mask) after which a person asked for a break."""
        out = np.zeros(len(positions), bool)
        out[self._places(positions, BREAK_HERE)] = True
        return out

    def bridged(self, positions):
        """Positions (mask) after which a person asked for the line to go on, if the step is no
        longer than `REPAIR_LIMITS.longest_bridge`.

        Parameters
        ----------
        positions : Positions
            In the order along their lines.

        Returns
        -------
        ndarray of bool, shape (m,)
        """
        out, repairs = np.zeros(len(positions), bool), self.found.repairs
        if len(positions) < 2:
            return out
        step = distance(np.diff(positions.x), np.diff(positions.y))
        near = (step <= REPAIR_LIMITS.longest_bridge) & (np.diff(positions.capture) == 0)
        left = np.minimum(positions.ended[:-1], positions.ended[1:])
        arrived = np.maximum(positions.started[:-1], positions.started[1:])
        for k in np.flatnonzero((repairs.kind == BRIDGE) & ~self.found.lost).tolist():
            own = near & (positions.capture[1:] == repairs.capture[k])
            out[:-1] |= own & (left < repairs.until[k]) & (arrived > repairs.time[k])
        return out

    def inside(self, positions, offsets):
        """Positions (mask) after which the line goes on in any case: a person asked for an element
        over both or for a joint between them, or took epochs back in there."""
        own, beside = self._in_stretch(positions, ELEMENT), self._beside(positions)
        out = (own >= 0) & np.append(own[1:] == own[:-1], False)[: len(own)]
        out |= beside & np.append(beside[1:], False)[: len(own)]
        asked = self.asked(positions, offsets)
        if asked is not None:
            out[:-1] |= asked.starts[1:]
        return out

    # --- elements -------------------------------------------------------------------------------

    def asked(self, positions, offsets):
        """What is asked of the elements of runs.

        Parameters
        ----------
        positions : Positions
        offsets : ndarray of int, shape (runs + 1,)

        Returns
        -------
        AskedElements or None
            None if nothing is.
        """
        stretch = self._in_stretch(positions, ELEMENT, (TANGENT, ARC))
        corners, smooth = self._places(positions, CORNER), self._places(positions, SMOOTH)
        if not (corners.size or smooth.size or (stretch >= 0).any()):
            return None
        arc = self.found.repairs.value[np.maximum(stretch, 0)] == ARC
        return AskedElements.of(positions, offsets, stretch, arc, corners, smooth)

    def free(self, positions, free):
        """Positions of free forms, with those that were asked for or forbidden.

        Parameters
        ----------
        positions : Positions
        free : ndarray of bool, shape (m,)
            Those of the fit.

        Returns
        -------
        ndarray of bool, shape (m,)
        """
        last = self._in_stretch(positions, ELEMENT)
        value = np.where(last >= 0, self.found.repairs.value[np.maximum(last, 0)], 0)
        return (free | (value == SPLINE)) & ~np.isin(value, (TANGENT, ARC))


def screen_part(part, settings, progress):
    """Screen the epochs of a part, with its repairs.

    Parameters
    ----------
    part : tuple of (EpochTable, Stream, PlacedRepairs)
        The last one is None without repairs.
    settings : Settings
    progress : callable
        As of `screening.screen_stream`.

    Returns
    -------
    screening : Screening
    repairs : PartRepairs or None
        None without repairs.
    """
    table, stream, placed = part
    screening = screen_stream(table, unusable(table, settings.max_h_accuracy), stream, progress)
    if placed is None:
        return screening, None
    repairs = PartRepairs.of(placed, table)
    # a second time: nominal values are those of the epochs used without repairs, so that a repair
    # changes no other run
    usable = repairs.screened(unusable(table, settings.max_h_accuracy), table)
    again = screen_stream(table, usable, stream, progress, repairs.spared)
    return replace(again, reference=screening.kept), repairs
