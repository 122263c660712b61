"""Where the stream of positions is cut into runs, and why."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import cumulative, group_index, group_sum, offsets_from_starts, running_max
from ..epochs.reasons import Reason

BREAK_NAMES = (
    "start",
    "end",
    "paused",
    "not_fixed",
    "new_capture",
    "spike",
    "poor_accuracy",
    "jump",
    "turned_back",
    "lost_epochs",
)
START, END, PAUSED, NOT_FIXED, NEW_CAPTURE, SPIKE, POOR_ACCURACY, JUMP, TURNED_BACK, LOST_EPOCHS = (
    range(len(BREAK_NAMES))
)

REVERSAL = np.cos(np.radians(150.0))
ON_THE_SPOT = 1.5  # usual steps; whoever pauses and goes on so near has left nothing out
# usual steps; so far it may have gone straight on, as when an epoch or two are lost
ON_THE_WAY = 3.0
STRAIGHT_ON = np.cos(np.radians(30.0))
BRIEF_STEPS = 5.0  # a way back shorter than so many usual steps is a correction, not another walk


@dataclass(frozen=True)
class Turnings:
    """`walked_back`, float (m,): metres inside the part already captured, 0 elsewhere; `turned`,
    bool (m,): True at a position where the walk turns for good, so that another run starts with the
    next one."""

    walked_back: np.ndarray
    turned: np.ndarray


def limits_exceeded(positions, stream):
    """For each pair of neighbours, shape (m - 1,): other capture, pause too long, step too long."""
    capture = positions.capture
    other = np.diff(capture) != 0
    pause = positions.started[1:] - positions.ended[:-1]
    step = distance(np.diff(positions.x), np.diff(positions.y))
    paused = pause > stream.time_limit[capture[1:]]
    if stream.own_time_limit:
        usual = stream.spacing[capture[1:]]
        paused &= (
            step > np.where(_goes_straight_on(positions, other), ON_THE_WAY, ON_THE_SPOT) * usual
        )
    return other, paused, step > stream.distance_limit[capture[1:]]


def _goes_straight_on(positions, other):
    """True for pairs of neighbours whose step runs on in the direction of the steps before and
    after it."""
    dx, dy = np.diff(positions.x), np.diff(positions.y)
    out = np.zeros(len(dx), bool)
    if len(dx) < 3:
        return out
    size = distance(dx, dy)
    along = (
        (dx[:-1] * dx[1:] + dy[:-1] * dy[1:] > STRAIGHT_ON * size[:-1] * size[1:])
        & ~other[:-1]
        & ~other[1:]
    )
    out[1:-1] = along[:-1] & along[1:]
    return out


def find_turnings(positions, stream):
    """Find short ways back over the same line, and turns for good.

    Parameters
    ----------
    positions : Positions
    stream : Stream

    Returns
    -------
    Turnings

    Notes
    -----
    A reversal is a turn of more than 150 degrees after which the path runs back beside itself.
    Counting the way with a sign that changes at each reversal, an epoch is walked back where the
    running maximum was already greater. A way back of more than a few steps is another walk and
    starts a new run.
    """
    m = len(positions)
    walked_back, turned = np.zeros(m), np.zeros(m, bool)
    if m < 3:
        return Turnings(walked_back, turned)
    other, paused, far = limits_exceeded(positions, stream)
    cut = other | paused | far
    dx, dy = np.diff(positions.x), np.diff(positions.y)
    step = np.maximum(distance(dx, dy), 1e-12)
    spacing = stream.spacing[positions.capture]
    cosine = (dx[:-1] * dx[1:] + dy[:-1] * dy[1:]) / (step[:-1] * step[1:])
    aside = np.abs(dx[:-1] * dy[1:] - dy[:-1] * dx[1:]) / step[:-1]
    near = np.maximum(0.15, 6 * stream.noise[positions.capture[1:-1]])
    reversal = np.zeros(m, bool)
    reversal[1:-1] = (cosine < REVERSAL) & (aside < near) & ~cut[:-1] & ~cut[1:]
    if not reversal.any():
        return Turnings(walked_back, turned)

    start = np.concatenate([[True], cut])
    # spells run from one reversal to the next; the position of the reversal begins the spell after
    # it
    spell_start = start | reversal
    spells = offsets_from_starts(spell_start)
    to_next = np.append(np.where(cut, 0.0, step), 0.0)
    length = group_sum(to_next, spells)
    by_reversal = reversal[spells[:-1]]
    long = (length >= BRIEF_STEPS * spacing[spells[:-1]]) | ~by_reversal
    # forward after each long spell, then the other way at each reversal
    number = np.arange(len(long))
    since = number - np.maximum.accumulate(np.where(long, number, 0))
    sign = np.where(since % 2 == 0, 1.0, -1.0)
    before = np.concatenate([[1.0], sign[:-1]])
    turned[spells[:-1][by_reversal & long & (before > 0)]] = True

    piece = start.copy()
    piece |= turned
    pieces = offsets_from_starts(piece)
    signed = to_next * sign[group_index(spells)]
    way = cumulative(signed, pieces)
    short = running_max(way, pieces) - way
    walked_back = np.where(short > 1e-6, short, 0.0)
    return Turnings(walked_back, turned)


def find_runs(positions, stream, turned):
    """Offsets of runs, shape (runs + 1,), over positions whose walked-back ones were taken out.

    Parameters
    ----------
    positions : Positions
    stream : Stream
    turned : ndarray of bool, shape (m,)
        A new run starts after such a position.
    """
    if not len(positions):
        return np.zeros(1, np.int64)
    other, paused, far = limits_exceeded(positions, stream)
    return offsets_from_starts(np.concatenate([[True], other | paused | far | turned[:-1]]))


def may_leave_out(positions, stream, offsets, gone=None):
    """Positions without which no step of a run would exceed both limits, that of time and that of
    distance, shape (m,).

    Parameters
    ----------
    positions : Positions
        Those of a ring are judged as they lie, not as they were walked.
    stream : Stream
    offsets : ndarray of int, shape (runs + 1,)
    gone : ndarray of bool, shape (m,), optional
        Positions that are left out together, of which alone something is said; each alone, where
        not given.
    """
    m = len(positions)
    if not m:
        return np.zeros(0, bool)
    run = group_index(offsets)
    place = np.arange(m) if gone is None else np.flatnonzero(gone)
    before, after = place - 1, place + 1
    if gone is not None:
        left = np.flatnonzero(~gone)
        at = np.searchsorted(left, place)
        before, after = np.append(-1, left)[at], np.append(left, m)[at]
    inside = (before >= offsets[:-1][run[place]]) & (after < offsets[1:][run[place]])
    place, a, b = place[inside], before[inside], after[inside]
    pause = np.abs(positions.started[b] - positions.ended[a])
    step = distance(positions.x[b] - positions.x[a], positions.y[b] - positions.y[a])
    out = np.ones(m, bool)
    out[place] = (pause <= stream.time_limit[positions.capture[place]]) | (
        step <= stream.distance_limit[positions.capture[place]]
    )
    return out


def break_reasons(rejected, last_place, first_place, pause, time_limit, turned, lost):
    """Why a line stops at one epoch and goes on at another one of the same capture.

    Parameters
    ----------
    rejected : dict of Reason to ndarray of int
        Places of the rows rejected for it among all rows in time order, rising.
    last_place, first_place : ndarray of int, shape (g,)
        Places, in the same order, of the last epoch before and of the first one after.
    pause, time_limit : ndarray of float, shape (g,)
        Seconds.
    turned, lost : ndarray of bool, shape (g,)
        The walk turned back for good; a hole leaves open how the edge goes on (`holes.open_holes`).

    Returns
    -------
    ndarray of uint8, shape (g,)
        Places in `BREAK_NAMES`. A lost solution explains more than a hole, a hole
        more than a spike, and that more than a pause.
    """
    out = np.where(pause > time_limit, PAUSED, JUMP).astype(np.uint8)
    for why, code in (
        (Reason.SPIKE, SPIKE),
        (Reason.POOR_ACCURACY, POOR_ACCURACY),
        (Reason.NOT_FIXED, NOT_FIXED),
    ):
        out[
            np.searchsorted(rejected[why], first_place)
            > np.searchsorted(rejected[why], last_place, "right")
        ] = code
        if why == Reason.SPIKE:  # what stood beside the hole alone is a spike, too
            out[lost] = LOST_EPOCHS
    out[turned] = TURNED_BACK
    return out
