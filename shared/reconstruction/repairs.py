"""Repairs: what a person decided about single epochs and stretches, as plain data.

Stored repairs name epochs by capture and time, which stay the same from run to run, whatever the
order of rows and layers. `Repairs.placed` turns them into codes and seconds of a table, by which
the work on a part finds its rows (`part_repairs.PartRepairs`). What became of each repair is found
afterwards (`repair_outcomes.outcome_of`).
"""

from dataclasses import dataclass, fields, replace

import numpy as np

from ..arrays.ragged import offsets_of, ranges
from ..language import marked, tr
from ..tuning import REPAIR_LIMITS

KINDS = ("leave_out", "take_back", "corner", "smooth", "break_here", "bridge", "element")
LEAVE_OUT, TAKE_BACK, CORNER, SMOOTH, BREAK_HERE, BRIDGE, ELEMENT = range(len(KINDS))
ELEMENTS = ("", "tangent", "arc", "spline")
NO_ELEMENT, TANGENT, ARC, SPLINE = range(len(ELEMENTS))
SHAPES = (CORNER, SMOOTH, ELEMENT)  # kinds that ask for a shape of the line
STRETCHES = (BRIDGE, ELEMENT)  # kinds that act from one time to another
STATES = ("applied", "lost", "no_effect")
APPLIED, LOST, NO_EFFECT = range(len(STATES))
WHY = (
    "",
    "no_capture",
    "no_epoch",
    "no_position",
    "not_in_edge",
    "too_long",
    "still_open",
    "spline_model",
    "rejected_anyway",
    "taken_back_later",
    "ends_anyway",
    "broken",
    "other_repair",
    "no_room",
    "no_joint",
    "not_fitted",
)
(
    NOTHING,
    NO_CAPTURE,
    NO_EPOCH,
    NO_POSITION,
    NOT_IN_EDGE,
    TOO_LONG,
    STILL_OPEN,
    SPLINE_MODEL,
    REJECTED_ANYWAY,
    TAKEN_BACK_LATER,
    ENDS_ANYWAY,
    BROKEN,
    OTHER_REPAIR,
    NO_ROOM,
    NO_JOINT,
    NOT_FITTED,
) = range(len(WHY))
_TEXTS = ("capture", "decided_by", "decided_at", "remark")


@dataclass(frozen=True)
class Repairs:
    """Repairs as they are stored, one per row; arrays of shape (k,).

    Attributes
    ----------
    kind : uint8
        Index in `KINDS`.
    capture : str
        Capture of the epoch, as in the capture fields of its layer.
    time : float
        Time of the epoch, or of the first epoch of a stretch: seconds since 1970, or from the
        origin of a stream without dates; in a stream without times, the number of the vertex in its
        capture, from 0. For `break_here` that of the last epoch before the break, for `bridge` of
        the last one before the gap.
    until : float
        Time of the last epoch of a stretch (`element`), or of the first one after the gap
        (`bridge`); else NaN.
    value : uint8
        Index in `ELEMENTS`, for `element` only.
    decided_by, decided_at, remark : str
        Who, when and why, as entered.

    Raises
    ------
    ValueError
        If the columns differ in length or a value is not allowed; the message names it.
    """

    kind: np.ndarray
    capture: np.ndarray
    time: np.ndarray
    until: np.ndarray
    value: np.ndarray
    decided_by: np.ndarray
    decided_at: np.ndarray
    remark: np.ndarray

    def __post_init__(self):
        for column in fields(self):
            if np.shape(getattr(self, column.name)) != (len(self.kind),):
                raise ValueError(
                    f"{column.name} must have shape ({len(self.kind)},) like kind, got"
                    f" {np.shape(getattr(self, column.name))}"
                )
        if (self.kind >= len(KINDS)).any():
            raise ValueError(f"kind must be a place in {', '.join(KINDS)}")
        stretch = np.isin(self.kind, STRETCHES)
        if not np.isfinite(self.time).all():
            raise ValueError("time must be known")
        if not (self.until[stretch] > self.time[stretch]).all():
            raise ValueError("until must be later than time where a repair acts on a stretch")
        element = self.kind == ELEMENT
        if not ((self.value > NO_ELEMENT) & (self.value < len(ELEMENTS)))[element].all():
            raise ValueError(f"the value of an element must be one of {', '.join(ELEMENTS[1:])}")

    def __len__(self):
        return len(self.kind)

    @classmethod
    def from_rows(cls, rows):
        """Build repairs from records.

        Parameters
        ----------
        rows : iterable of dict
            `kind` and, for an element, `value` as words of `KINDS` and `ELEMENTS`; `capture` and
            `time`; `until` for stretches; texts may be missing or None.

        Returns
        -------
        Repairs

        Raises
        ------
        ValueError
            If a word is not known or a number is missing; the message counts rows from 1.
        """
        rows = [_checked(number, row) for number, row in enumerate(rows, 1)]

        def column(name, kind):
            return np.array([row[name] for row in rows], kind)

        return cls(
            kind=column("kind", np.uint8),
            time=column("time", float),
            until=column("until", float),
            value=column("value", np.uint8),
            **{name: column(name, str) for name in _TEXTS},
        )

    def take(self, rows):
        """Some of the repairs, given by a mask or by their numbers."""
        return replace(
            self, **{column.name: getattr(self, column.name)[rows] for column in fields(self)}
        )

    def placed(self, captures, origin):
        """The repairs in terms of the codes and seconds of a table.

        Parameters
        ----------
        captures : sequence of str
            Text of each capture code.
        origin : float
            Seconds from 1970 to the table's zero; NaN if the order of vertices replaces times.

        Returns
        -------
        PlacedRepairs
        """
        code_of = {text: code for code, text in reversed(list(enumerate(captures)))}
        origin = origin if np.isfinite(origin) else 0.0
        return PlacedRepairs(
            kind=self.kind,
            capture=np.array([code_of.get(text, -1) for text in self.capture.tolist()], np.int64),
            time=self.time - origin,
            until=self.until - origin,
            value=self.value,
        )


def _checked(number, row):
    """A record with all columns, and indices instead of words."""
    kind, value, until = row.get("kind"), row.get("value") or "", row.get("until")
    if kind not in KINDS:
        raise ValueError(f"repair {number}: kind must be one of {', '.join(KINDS)}, got {kind!r}")
    element = kind == KINDS[ELEMENT]
    if (value not in ELEMENTS[1:]) if element else value:
        raise ValueError(
            f"repair {number}: value must be one of {', '.join(ELEMENTS[1:])} for an element and"
            f" empty otherwise, got {value!r} for {kind}"
        )
    time = row.get("time")
    if time is None or not np.isfinite(time):
        raise ValueError(f"repair {number}: time is missing")
    stretch = KINDS.index(kind) in STRETCHES
    if stretch and (until is None or not until > time):
        raise ValueError(f"repair {number}: until must be later than time for {kind}")
    return {
        "kind": KINDS.index(kind),
        "time": float(time),
        "until": float(until) if stretch else np.nan,
        "value": ELEMENTS.index(value),
        **{name: str(row.get(name) or "") for name in _TEXTS},
    }


@dataclass(frozen=True)
class PlacedRepairs:
    """Repairs in terms of the codes and seconds of a table; arrays of shape (k,).

    Attributes
    ----------
    kind, value : uint8
        As in `Repairs`.
    capture : int
        Code; -1 if the table has no such capture.
    time, until : float
        The table's seconds.
    """

    kind: np.ndarray
    capture: np.ndarray
    time: np.ndarray
    until: np.ndarray
    value: np.ndarray

    def __len__(self):
        return len(self.kind)

    def of_captures(self, captures):
        """The repairs of some captures, whose codes become 0, 1, 2...

        Parameters
        ----------
        captures : ndarray of int, shape (q,)
            Codes, rising.

        Returns
        -------
        PlacedRepairs or None
            None if there are none.
        """
        place = np.minimum(np.searchsorted(captures, self.capture), max(len(captures) - 1, 0))
        here = np.flatnonzero(captures[place] == self.capture) if len(captures) else place[:0]
        if not here.size:
            return None
        some = {column.name: getattr(self, column.name)[here] for column in fields(self)}
        return PlacedRepairs(**{**some, "capture": place[here]})


@dataclass(frozen=True)
class RepairOutcome:
    """What became of repairs, in their order; arrays of shape (k,).

    Attributes
    ----------
    state : uint8
        Index in `STATES`: applied; lost, if its epoch no longer exists; no effect, if there was
        nothing to change or the result does not have what was asked for.
    why : uint8
        Index in `WHY`: why it was not applied.
    rows : int, shape (q,)
        Source rows that were left out or taken back in, rising.
    repair : int, shape (q,)
        The repair that did it.
    """

    state: np.ndarray
    why: np.ndarray
    rows: np.ndarray
    repair: np.ndarray


_WHY_WORDS = {
    NO_CAPTURE: marked("there is no such capture"),
    NO_EPOCH: marked("the capture has no epoch at that time"),
    NO_POSITION: marked("the epoch has no usable position"),
    NOT_IN_EDGE: marked("the epoch is in no edge"),
    TOO_LONG: marked("the gap is longer than {:.0f} m"),
    STILL_OPEN: marked("the line still breaks there for another reason"),
    SPLINE_MODEL: marked("all edges are splines"),
    REJECTED_ANYWAY: marked("the epoch is rejected in any case"),
    TAKEN_BACK_LATER: marked("a later repair takes the epoch back in"),
    ENDS_ANYWAY: marked("no edge goes on over the epoch"),
    BROKEN: marked("the line breaks inside the stretch"),
    OTHER_REPAIR: marked("another repair asks for something else there"),
    NO_ROOM: marked("there are too few epochs for it, or on one side of it"),
    NO_JOINT: marked("no corner or joint is near the epoch"),
    NOT_FITTED: marked("the fit gives none there"),
}


def why_words(why):
    """Reasons in words why repairs were not applied.

    Parameters
    ----------
    why : array_like of int, shape (k,)
        Indices in `WHY`.

    Returns
    -------
    list of str
        In the language of `language.speaking`; empty for repairs that were applied.
    """
    return [
        tr(_WHY_WORDS[one]).format(REPAIR_LIMITS.longest_bridge) if one else ""
        for one in np.asarray(why).tolist()
    ]


def decided_words(repairs, numbers):
    """Who decided on repairs, when and why, to be appended to what was done.

    Parameters
    ----------
    repairs : Repairs
    numbers : array_like of int, shape (q,)
        Numbers of repairs.

    Returns
    -------
    list of str
        Such as `` by A. Hand, 2026-03-01: a parked car``; empty if nothing is known.
    """

    def words(who, when, remark):
        said = f" by {who}" if who else ""
        said += f", {when}" if when else ""
        return said + (f": {remark}" if remark else "")

    some = repairs.take(np.asarray(numbers, np.int64))
    return [
        words(*one)
        for one in zip(some.decided_by.tolist(), some.decided_at.tolist(), some.remark.tolist())
    ]


@dataclass(frozen=True)
class TimedEpochs:
    """Epochs of some captures in order of capture and time, in which times are looked up.

    Attributes
    ----------
    rows : int, shape (t,)
        Rows with a time.
    capture : int, shape (t,)
    seconds : float, shape (t,)
    """

    rows: np.ndarray
    capture: np.ndarray
    seconds: np.ndarray

    @classmethod
    def of(cls, table, captures):
        """The epochs of some captures.

        Parameters
        ----------
        table : EpochTable
        captures : ndarray of int
            Codes.

        Returns
        -------
        TimedEpochs
        """
        rows = np.flatnonzero(np.isin(table.capture, captures) & np.isfinite(table.seconds))
        order = np.lexsort((rows, table.seconds[rows], table.capture[rows]))
        rows = rows[order]
        return cls(rows, table.capture[rows], table.seconds[rows])

    def find(self, capture, time):
        """Find the epochs at given times.

        Parameters
        ----------
        capture : ndarray of int, shape (k,)
        time : ndarray of float, shape (k,)
            Seconds; NaN for none.

        Returns
        -------
        first, number : ndarray of int, shape (k,)
            Place of the first epoch of the nearest time within `tuning.REPAIR_LIMITS.same_time`,
            and the number of epochs of that time, 0 if there is none.
        """
        first, number = np.zeros(len(capture), np.int64), np.zeros(len(capture), np.int64)
        begins = np.searchsorted(self.capture, capture, "left")
        ends = np.searchsorted(self.capture, capture, "right")
        # a loop: repairs are made by hand, and few
        for k in np.flatnonzero((ends > begins) & np.isfinite(time)).tolist():
            own = self.seconds[begins[k] : ends[k]]
            place = int(np.searchsorted(own, time[k]))
            near = own[max(place - 1, 0) : place + 1]
            nearest = near[np.argmin(np.abs(near - time[k]))]
            if abs(nearest - time[k]) > REPAIR_LIMITS.same_time:
                continue
            low, high = (int(np.searchsorted(own, nearest, side)) for side in ("left", "right"))
            first[k], number[k] = begins[k] + low, high - low
        return first, number


@dataclass(frozen=True)
class FoundRepairs:
    """Repairs with their epochs in a table; arrays of shape (k,) unless said otherwise.

    Attributes
    ----------
    repairs : PlacedRepairs
        With the exact times of the epochs.
    lost : bool
        The table has no such capture, or no epoch at that time.
    offsets : int, shape (k + 1,)
    rows : int, shape (offsets[-1],)
        Rows of the epoch that each repair names; several if they have the same time.
    until_row : int
        First row of the epoch at the end of a stretch; -1 for none.
    """

    repairs: PlacedRepairs
    lost: np.ndarray
    offsets: np.ndarray
    rows: np.ndarray
    until_row: np.ndarray

    @classmethod
    def of(cls, repairs, table):
        """Look up the epochs of repairs.

        Parameters
        ----------
        repairs : PlacedRepairs
        table : EpochTable

        Returns
        -------
        FoundRepairs
        """
        epochs = TimedEpochs.of(table, np.unique(repairs.capture))
        first, number = epochs.find(repairs.capture, repairs.time)
        end, ends = epochs.find(repairs.capture, repairs.until)
        stretch = np.isin(repairs.kind, STRETCHES)
        lost = (number == 0) | (stretch & (ends == 0))
        time, until = repairs.time.copy(), np.where(stretch, repairs.until, np.nan)
        time[~lost] = epochs.seconds[first[~lost]]
        some = stretch & ~lost
        until[some] = epochs.seconds[end[some]]
        until_row = np.full(len(repairs), -1)
        until_row[some] = epochs.rows[end[some]]
        number = np.where(lost, 0, number)
        return cls(
            repairs=replace(repairs, time=time, until=until),
            lost=lost,
            offsets=offsets_of(number),
            rows=epochs.rows[ranges(first, number)],
            until_row=until_row,
        )

    def rows_of(self, kind):
        """Rows that the repairs of a kind name, and the number of the repair for each."""
        owner = np.repeat(np.arange(len(self.repairs)), np.diff(self.offsets))
        own = np.flatnonzero(self.repairs.kind[owner] == kind)
        return self.rows[own], owner[own]
