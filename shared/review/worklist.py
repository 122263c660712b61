"""Which lines deserve a look, worst first: each with one number and one reason.

Findings of different kinds are put on one scale by the ratio of their number to the limit of their
kind. A line appears at most once in the list, with its worst finding.
"""

from dataclasses import dataclass
from enum import IntEnum

import numpy as np

from ..arrays.ragged import group_index
from ..tuning import DAY_CONTROL, JOINS, REVIEW


class Kind(IntEnum):
    """Why a line deserves a look; NOTHING if nothing was found."""

    NOTHING = 0
    DAY_OFF = 1
    MOVED = 2
    DISAGREES = 3
    UNCERTAIN = 4
    DOUBTFUL = 5
    LEFT_OPEN = 6
    NEW = 7
    GONE = 8
    PARTLY = 9


@dataclass(frozen=True)
class Findings:
    """Findings of any kinds; arrays of shape (f,).

    Attributes
    ----------
    subject : ndarray of int
        Index of the line or group of lines.
    kind : ndarray of int
        `Kind`.
    amount : ndarray of float
        The number: metres, or epochs if the kind is DOUBTFUL.
    limit : ndarray of float
        From which on a number of that kind matters, in the same unit.
    ratio : ndarray of float
        On the common scale; 1 is at the limit.
    """

    subject: np.ndarray
    kind: np.ndarray
    amount: np.ndarray
    limit: np.ndarray
    ratio: np.ndarray


@dataclass(frozen=True)
class Worklist:
    """One row per subject; arrays of shape (n,).

    Attributes
    ----------
    kind, amount, limit, ratio
        Of the worst finding; NOTHING, NaN, NaN and 0 for none.
    others : ndarray of int
        Number of further findings.
    order : ndarray of int
        Subjects, worst first; equal ones in the order of the layer.
    """

    kind: np.ndarray
    amount: np.ndarray
    limit: np.ndarray
    ratio: np.ndarray
    others: np.ndarray
    order: np.ndarray

    def __len__(self):
        return len(self.kind)


def make_worklist(findings, count):
    """Put the worst finding of each subject in order.

    Parameters
    ----------
    findings : sequence of Findings
    count : int
        Number of subjects.

    Returns
    -------
    Worklist

    Raises
    ------
    ValueError
        If a finding belongs to no subject.
    """
    found = join_findings(findings)
    if len(found.subject) and not 0 <= found.subject.min() <= found.subject.max() < count:
        raise ValueError(f"findings must belong to subjects 0 to {count - 1}")
    # worst last within each subject; of equal ones the kind that comes first in `Kind`
    order = np.lexsort((-found.kind, found.ratio, found.subject))
    worst = order[np.flatnonzero(np.diff(found.subject[order], append=-1))]
    number = np.bincount(found.subject, minlength=count)
    kind, ratio = np.zeros(count, np.int64), np.zeros(count)
    amount, limit = np.full(count, np.nan), np.full(count, np.nan)
    at = found.subject[worst]
    kind[at], ratio[at] = found.kind[worst], found.ratio[worst]
    amount[at], limit[at] = found.amount[worst], found.limit[worst]
    return Worklist(
        kind,
        amount,
        limit,
        ratio,
        np.maximum(number - 1, 0),
        np.argsort(-ratio, kind="stable"),
    )


def join_findings(findings):
    """Findings of several kinds in one table.

    Parameters
    ----------
    findings : sequence of Findings

    Returns
    -------
    Findings
    """
    types = {"subject": np.int64, "kind": np.int64}
    return Findings(
        **{
            name: np.concatenate(
                [np.zeros(0, types.get(name, float)), *(getattr(one, name) for one in findings)]
            ).astype(types.get(name, float))
            for name in ("subject", "kind", "amount", "limit", "ratio")
        }
    )


def over_limit(kind, subject, amount, limit):
    """Findings of what exceeds a limit.

    Parameters
    ----------
    kind : Kind
    subject : ndarray of int, shape (f,)
    amount : ndarray of float, shape (f,)
        Signs do not matter; NaN is no finding.
    limit : float or ndarray of float, shape (f,)
        In the unit of `amount`; a limit that is not greater than 0 gives no finding.

    Returns
    -------
    Findings
    """
    amount = np.abs(np.asarray(amount, float))
    limit = np.broadcast_to(np.asarray(limit, float), amount.shape)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = amount / limit
        some = np.flatnonzero((limit > 0) & (ratio >= 1))
    return _findings(kind, np.asarray(subject)[some], amount[some], limit[some], ratio[some])


def stated(kind, subject, amount, limit):
    """Findings that hold whatever their number, since a status says so: at least 1 on the scale.

    Parameters
    ----------
    kind : Kind
    subject : ndarray of int, shape (f,)
    amount : ndarray of float, shape (f,)
        NaN where unknown.
    limit : float or ndarray of float, shape (f,)

    Returns
    -------
    Findings
    """
    amount = np.abs(np.asarray(amount, float))
    limit = np.broadcast_to(np.asarray(limit, float), amount.shape)
    with np.errstate(invalid="ignore", divide="ignore"):
        ratio = np.where(limit > 0, amount / limit, 1.0)
    return _findings(kind, np.asarray(subject), amount, limit, np.fmax(ratio, 1.0))


def moved_lines(subject, moved, offset_median, allowed):
    """Lines that a comparison calls displaced.

    Parameters
    ----------
    subject : ndarray of int, shape (f,)
    moved : ndarray of float, shape (f,)
        Length of the rigid move that fits best, metres; NaN for none.
    offset_median : ndarray of float, shape (f,)
        Used if it is greater, metres.
    allowed : ndarray of float, shape (f,)
        Offset that uncertainty explains, metres.

    Returns
    -------
    Findings
    """
    moved = np.fmax(np.abs(moved), np.abs(offset_median))  # a turned line has a small median
    return stated(Kind.MOVED, subject, moved, allowed)


def days_off(subject, plan, up, sigma, sigma_up):
    """Days whose spot points are off the control points.

    Parameters
    ----------
    subject : ndarray of int, shape (f,)
    plan, up : ndarray of float, shape (f,)
        Shift in plan and in height, metres; NaN where unknown.
    sigma, sigma_up : ndarray of float, shape (f,)
        1-sigma of each axis in plan and of the height, metres.

    Returns
    -------
    Findings
        In plan or in height, whichever is worse.

    Notes
    -----
    The limits are those of 95 % for a single day: of the Rayleigh distribution in plan, sqrt(-2 ln
    0.05) sigma, and of the normal distribution in height; but never less than the shift from which
    a day is called off (`DAY_CONTROL`).
    """
    risk = 0.05  # exact: the 95 % of the limits
    normal = 1.959963984540054  # exact: the normal's quantile at 97.5 %
    limit = np.fmax(DAY_CONTROL.least, np.sqrt(-2 * np.log(risk)) * np.asarray(sigma, float))
    limit_up = np.fmax(DAY_CONTROL.least_up, normal * np.asarray(sigma_up, float))
    plan, up = np.abs(plan), np.abs(up)
    higher = np.nan_to_num(up / limit_up) > np.nan_to_num(plan / limit)
    return stated(
        Kind.DAY_OFF, subject, np.where(higher, up, plan), np.where(higher, limit_up, limit)
    )


def open_ends(ends, closed, reach=None):
    """Ends left open near the end of another line, or near their own other end.

    Parameters
    ----------
    ends : ndarray of float, shape (n, 2, 3)
        First and last vertex of each line, metres in a frame true to scale; height NaN where
        unknown, all NaN where there is no line.
    closed : ndarray of bool, shape (n,)
        Rings, which have no ends.
    reach : float, optional
        Maximum distance between two ends, metres; `REVIEW.end_reach` by default.

    Returns
    -------
    Findings
        One per line: its nearest open end. The nearer, the higher on the scale, from 1 to 2.

    Notes
    -----
    Ends that meet, and ends at different heights (top and foot of a curb), do not count.
    """
    from scipy.spatial import cKDTree

    reach = REVIEW.end_reach if reach is None else reach
    ends = np.asarray(ends, float)
    line = np.repeat(np.arange(len(ends)), 2)
    flat = ends.reshape(-1, 3)
    some = np.flatnonzero(np.isfinite(flat[:, :2]).all(axis=1) & ~np.asarray(closed, bool)[line])
    if len(some) < 2:
        return over_limit(Kind.LEFT_OPEN, np.zeros(0, int), np.zeros(0), 1.0)
    pairs = cKDTree(flat[some, :2]).query_pairs(reach, output_type="ndarray")
    first, second = some[pairs[:, 0]], some[pairs[:, 1]]
    apart = np.hypot(*(flat[first, :2] - flat[second, :2]).T)
    step = np.nan_to_num(np.abs(flat[first, 2] - flat[second, 2]))
    meets = np.zeros(len(flat), bool)
    level = step <= REVIEW.end_height
    joined = level & (apart <= JOINS.same)
    meets[first[joined]] = meets[second[joined]] = True
    wanted = level & ~joined & ~meets[first] & ~meets[second]
    both = np.concatenate([line[first[wanted]], line[second[wanted]]])
    gap = np.tile(apart[wanted], 2)
    order = np.lexsort((gap, both))
    nearest = order[np.flatnonzero(np.diff(both[order], prepend=-1))]
    subject, gap = both[nearest], gap[nearest]
    return _findings(Kind.LEFT_OPEN, subject, gap, np.full(len(gap), reach), 2 - gap / reach)


def nearest_in_time(group, seconds, line_group, started, ended):
    """The line during which each epoch was taken, or the nearest one in time, within its capture.

    Parameters
    ----------
    group : ndarray of int, shape (n,)
        Capture of each epoch.
    seconds : ndarray of float, shape (n,)
    line_group : ndarray of int, shape (lines,)
        Capture of each line.
    started, ended : ndarray of float, shape (lines,)
        Seconds; lines of one capture do not overlap in time.

    Returns
    -------
    ndarray of int, shape (n,)
        Index of the line, -1 where the capture has none.
    """
    found = np.full(len(group), -1, np.int64)
    if not len(line_group) or not len(group):
        return found
    order = np.lexsort((started, line_group))
    # sort lines and epochs together by capture and time
    both = np.lexsort(
        (
            np.repeat([0, 1], [len(order), len(group)]),
            np.concatenate([started[order], seconds]),
            np.concatenate([line_group[order], group]),
        )
    )
    is_line = both < len(order)
    before = np.empty(len(both), np.int64)
    before[both] = np.cumsum(is_line) - 1
    before = before[len(order) :]  # place in `order` of the last line that starts before the epoch
    best = np.full(len(group), np.inf)
    for place in (before, before + 1):
        there = (place >= 0) & (place < len(order))
        candidate = order[np.clip(place, 0, len(order) - 1)]
        away = np.maximum(started[candidate] - seconds, seconds - ended[candidate])
        away = np.maximum(away, 0.0)  # NaN stays, and is never nearer
        better = there & (line_group[candidate] == group) & (away < best)
        found[better], best[better] = candidate[better], away[better]
    return found


def number_of_each(offsets, members, counts):
    """Sum of a count over the parts of each line.

    Parameters
    ----------
    offsets : ndarray of int, shape (lines + 1,)
        Where the parts of each line start in `members`.
    members : ndarray of int
        Index of each part in `counts`, -1 if it has none.
    counts : ndarray of float

    Returns
    -------
    ndarray of float, shape (lines,)
    """
    own = np.where(members >= 0, np.append(counts, 0.0)[members], 0.0)
    return np.bincount(group_index(offsets), own, len(offsets) - 1)


def _findings(kind, subject, amount, limit, ratio):
    """Findings of one kind."""
    return Findings(subject, np.full(len(subject), int(kind)), amount, limit, ratio)
