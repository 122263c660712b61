"""Where the stream of positions is cut into runs, and why; short ways back."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.plane import distance
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_sum,
    offsets_from_starts,
    place_in_group,
    running_max,
    stretch_starts,
)
from ..epochs.reasons import Reason
from ..tuning import BREAKS, CONFIRMATION

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
    "break_asked",
)
(
    START,
    END,
    PAUSED,
    NOT_FIXED,
    NEW_CAPTURE,
    SPIKE,
    POOR_ACCURACY,
    JUMP,
    TURNED_BACK,
    LOST_EPOCHS,
    BREAK_ASKED,
) = range(len(BREAK_NAMES))


@dataclass(frozen=True)
class Turnings:
    """Reversals of a walk.

    Attributes
    ----------
    walked_back : float, shape (m,)
        How far the position lies inside the part already captured, metres; 0 elsewhere.
    turned : bool, shape (m,)
        The walk turns for good at the position: another run starts with the next one.
    """

    walked_back: np.ndarray
    turned: np.ndarray


def limits_exceeded(positions, stream):
    """Tests by which neighbours belong to different runs.

    Parameters
    ----------
    positions : Positions
    stream : Stream

    Returns
    -------
    other, paused, far : ndarray of bool, shape (m - 1,)
        For each pair of neighbours: different captures, too long a pause, too long a step.
    """
    capture = positions.capture
    other = np.diff(capture) != 0
    pause = positions.started[1:] - positions.ended[:-1]
    step = distance(np.diff(positions.x), np.diff(positions.y))
    paused = pause > stream.time_limit[capture[1:]]
    if stream.own_time_limit:
        straight = _goes_straight_on(positions, other)
        paused &= step > np.where(
            straight,
            _longest(stream, BREAKS.pause_straight_on, BREAKS.unseen_straight_on)[capture[1:]],
            seen_steps(stream)[capture[1:]],
        )
    return other, paused, step > stream.distance_limit[capture[1:]]


def _step_lengths(stream):
    """Length of a step of each capture, which is the same at any rate: its spacing, in fast streams
    the way walked in `BREAKS.step_time`, shape (captures,), metres."""
    return stream.spacing * np.maximum(BREAKS.step_time / stream.interval, 1.0)


def seen_steps(stream):
    """Longest step of each capture along which nothing goes unseen in a pause.

    Parameters
    ----------
    stream : Stream

    Returns
    -------
    ndarray of float, shape (captures,)
        Metres.
    """
    return _longest(stream, BREAKS.pause_on_the_spot, BREAKS.unseen_on_the_spot)


def _longest(stream, spacings, metres):
    """So many spacings of each capture, and in fast streams as many steps, but no more than so many
    metres; shape (captures,)."""
    long = np.minimum(spacings * _step_lengths(stream), metres)
    return np.maximum(spacings * stream.spacing, long)


def _goes_straight_on(positions, other):
    """Pairs of neighbours (mask) whose step has the direction of the steps before and after it."""
    dx, dy = np.diff(positions.x), np.diff(positions.y)
    out = np.zeros(len(dx), bool)
    if len(dx) < 3:
        return out
    size = distance(dx, dy)
    least = np.cos(np.radians(BREAKS.straight_on))
    along = dx[:-1] * dx[1:] + dy[:-1] * dy[1:] > least * size[:-1] * size[1:]
    along &= ~other[:-1] & ~other[1:]
    out[1:-1] = along[:-1] & along[1:]
    return out


def find_turnings(positions, stream):
    """Find short ways back along the same line, and turns for good.

    Parameters
    ----------
    positions : Positions
    stream : Stream

    Returns
    -------
    Turnings

    Notes
    -----
    A reversal is a turn of more than `BREAKS.reversal` after which the path runs back next to
    itself. Measure the way walked with a sign that changes at each reversal: a position is walked
    back if it lies below the running maximum. A way back of more than a few steps is another walk
    and starts a new run. In fast streams steps are as short as the noise and turn at random; there
    only every second position is considered, or every third..., and where somebody stood.
    """
    stride = stream.stride
    if (stride == 1).all():
        return _turnings(positions, stream)
    capture = positions.capture
    number = place_in_group(offsets_from_starts(stretch_starts(capture)))
    some = number % stride[capture] == 0
    some |= np.diff(positions.offsets) >= CONFIRMATION.epochs  # where a walk stands, it turns
    which = np.flatnonzero(some)
    longer = {"spacing": stream.spacing * stride, "interval": stream.interval * stride}
    found = _turnings(positions.take(some), replace(stream, **longer))
    # a position between two of them takes the smaller of their ways back
    before = np.cumsum(some) - 1
    after = np.where(some, before, np.minimum(before + 1, len(which) - 1))
    after = np.where(capture[which[after]] == capture, after, before)
    walked_back = np.minimum(found.walked_back[before], found.walked_back[after])
    turned = np.zeros(len(positions), bool)
    turned[which] = found.turned
    return Turnings(walked_back, turned)


def _turnings(positions, stream):
    """As `find_turnings`, for positions farther apart than the noise."""
    found, overshot = _ways_back(positions, stream)
    for _ in range(BREAKS.overshoot_rounds):
        if not overshot.any():
            break
        # without them the walk of these captures does not turn back there
        own = np.isin(positions.capture, positions.capture[overshot > 0])
        left = np.flatnonzero(own & (overshot == 0))
        again, more = _ways_back(positions.take(own & (overshot == 0)), stream)
        found.walked_back[own] = overshot[own]
        found.walked_back[left], found.turned[left] = again.walked_back, again.turned
        found.turned[own & (overshot > 0)] = False
        if not more.any():
            break
        overshot[left] = more
    return found


def _ways_back(positions, stream):
    """Short ways back and turns for good, and how far positions overshot a place where somebody
    stood then, shape (m,), metres."""
    m = len(positions)
    none = Turnings(np.zeros(m), np.zeros(m, bool)), np.zeros(m)
    if m < 3:
        return none
    other, paused, far = limits_exceeded(positions, stream)
    cut = other | paused | far
    step = np.maximum(distance(np.diff(positions.x), np.diff(positions.y)), 1e-12)
    reversal = _reversals(positions, stream, step, cut)
    if not reversal.any():
        return none
    start = np.append(True, cut)
    # spells run from one reversal to the next and begin with its position
    spells = offsets_from_starts(start | reversal)
    to_next = np.append(np.where(cut, 0.0, step), 0.0)
    step_length = _step_lengths(stream)[positions.capture[spells[:-1]]]
    elsewhere = _leads_elsewhere(positions, stream, np.flatnonzero(reversal), cut)
    length = group_sum(to_next, spells) / step_length
    sign, turned = _spell_signs(reversal, spells, length, elsewhere)
    pieces = offsets_from_starts(start | turned)
    way = cumulative(to_next * sign[group_index(spells)], pieces)
    short = running_max(way, pieces) - way
    walked_back = np.where(short > BREAKS.shortest_way_back, short, 0.0)
    return Turnings(walked_back, turned), _overshoots(positions, pieces, way, walked_back)


def _overshoots(positions, pieces, way, walked_back):
    """How far positions lie beyond one of more epochs right behind them, shape (m,), metres: the
    walk overshot the place where somebody stood then."""
    out, number = np.zeros(len(way)), np.diff(positions.offsets)
    stood = np.flatnonzero((walked_back > 0) & (number >= CONFIRMATION.epochs))
    before = stood[:, None] - 1 - np.arange(BREAKS.overshoot + 1)
    inside = before >= pieces[:-1][group_index(pieces)[stood]][:, None]
    before = np.where(inside, before, 0)
    beyond = np.where(inside, way[before] - way[stood][:, None], 0.0)
    beyond = np.where(np.logical_and.accumulate(beyond > 0, axis=1), beyond, 0.0)
    good = np.where(beyond > 0, number[before], 0).sum(axis=1) < number[stood]
    good &= beyond[:, -1] == 0  # else the walk came back from farther away
    beyond *= good[:, None]
    np.maximum.at(out, before, beyond)
    return out


def _reversals(positions, stream, step, cut):
    """Positions (mask) at which the path turns round and runs back next to itself."""
    dx, dy = np.diff(positions.x), np.diff(positions.y)
    cosine = (dx[:-1] * dx[1:] + dy[:-1] * dy[1:]) / (step[:-1] * step[1:])
    aside = np.abs(dx[:-1] * dy[1:] - dy[:-1] * dx[1:]) / step[:-1]
    noise = stream.noise[positions.capture[1:-1]]
    near = np.maximum(BREAKS.beside, BREAKS.beside_sigmas * noise)
    out = np.zeros(len(positions), bool)
    turned = cosine < np.cos(np.radians(BREAKS.reversal))
    out[1:-1] = turned & (aside < near) & ~cut[:-1] & ~cut[1:]
    return out


def _leads_elsewhere(positions, stream, places, cut):
    """Positions (mask) of some places at which a walk that slows down and settles seems to turn
    back, though its ways there and onward are not next to each other."""
    out = np.zeros(len(positions), bool)
    x, y, capture = positions.x, positions.y, positions.capture[places]
    least = BREAKS.arm * _step_lengths(stream)[capture]
    piece = np.append(0, np.cumsum(cut))
    arms = []
    for way in (-1, 1):
        near = places[:, None] + way * np.arange(1, BREAKS.longest_arm + 1)
        inside = (near >= 0) & (near < len(x))
        near = np.where(inside, near, places[:, None])
        near = np.where(piece[near] == piece[places][:, None], near, places[:, None])
        dx, dy = x[near] - x[places][:, None], y[near] - y[places][:, None]
        far = distance(dx, dy) >= least[:, None]
        row, first = np.arange(len(places)), far.argmax(axis=1)
        arms.append((dx[row, first], dy[row, first], far.any(axis=1)))
    (ax, ay, known), (bx, by, known_too) = arms
    size = np.maximum(distance(ax, ay), 1e-12)
    aside = np.abs(ax * by - ay * bx) / size
    near = np.maximum(BREAKS.beside, BREAKS.beside_sigmas * stream.noise[capture])
    back = (ax * bx + ay * by > 0) & (aside < near)
    out[places[known & known_too & ~back]] = True
    return out


def _spell_signs(reversal, spells, length, elsewhere):
    """Sign of the way in each spell, and positions (mask) where the walk turns for good.

    A long spell is forward; the sign then changes at each reversal. So is one that leads
    `elsewhere`. Lengths are in steps.
    """
    by_reversal, on = reversal[spells[:-1]], elsewhere[spells[:-1]]
    long = (length >= BREAKS.brief_steps) | ~by_reversal | (on & (length >= BREAKS.arm))
    number = np.arange(len(long))
    since = number - np.maximum.accumulate(np.where(long, number, 0))
    sign = np.where(since % 2 == 0, 1.0, -1.0)
    before = np.append(1.0, sign[:-1])
    turned = np.zeros(len(reversal), bool)
    turned[spells[:-1][by_reversal & long & ~on & (before > 0)]] = True
    return sign, turned


def find_runs(positions, stream, turned, bridged=None):
    """Cut the stream of positions into runs.

    Parameters
    ----------
    positions : Positions
        Without those walked back.
    stream : Stream
    turned : ndarray of bool, shape (m,)
        A new run starts after such a position.
    bridged : ndarray of bool, shape (m,), optional
        No run ends after such a position, except with its capture.

    Returns
    -------
    ndarray of int, shape (runs + 1,)
        Offsets of the runs.
    """
    if not len(positions):
        return np.zeros(1, np.int64)
    other, paused, far = limits_exceeded(positions, stream)
    cut = paused | far | turned[:-1]
    if bridged is not None:
        cut &= ~bridged[:-1]
    return offsets_from_starts(np.concatenate([[True], other | cut]))


def may_leave_out(positions, stream, offsets, closed, gone=None):
    """Positions (mask) that can be left out without a step over both limits, of time and of
    distance.

    Parameters
    ----------
    positions : Positions
        Positions of a ring are taken in their order along the ring.
    stream : Stream
    offsets : ndarray of int, shape (runs + 1,)
    closed : ndarray of bool, shape (runs,)
        Runs that are rings: their last position is next to their first.
    gone : ndarray of bool, shape (m,), optional
        Positions to be left out together; only these are tested. By default each position is
        tested by itself.

    Returns
    -------
    ndarray of bool, shape (m,)
    """
    m = len(positions)
    if not m:
        return np.zeros(0, bool)
    run = group_index(offsets)
    place = left = np.arange(m)
    before, after = place - 1, place + 1
    if gone is not None:
        place, left = np.flatnonzero(gone), np.flatnonzero(~gone)
        after = np.searchsorted(left, place)
        before = after - 1
    own = run[place]
    # of what is left of its run, as `before` and `after`
    first, last = (np.searchsorted(left, rim)[own] for rim in (offsets[:-1], offsets[1:]))
    inside = (closed[own] | ((before >= first) & (after < last))) & (last > first)
    before = np.where(before < first, last - 1, before)[inside]
    after = np.where(after >= last, first, after)[inside]
    place, a, b = place[inside], left[before], left[after]
    pause = np.abs(positions.started[b] - positions.ended[a])
    step = distance(positions.x[b] - positions.x[a], positions.y[b] - positions.y[a])
    out = np.ones(m, bool)
    out[place] = (pause <= stream.time_limit[positions.capture[place]]) | (
        step <= stream.distance_limit[positions.capture[place]]
    )
    return out


def break_reasons(rejected, last_place, first_place, pause, time_limit, turned, lost):
    """Reasons why a line stops at one epoch and goes on at another of the same capture.

    Parameters
    ----------
    rejected : dict of Reason to ndarray of int
        Places in the order of time of the rows rejected for each reason, rising.
    last_place, first_place : ndarray of int, shape (g,)
        Places in the same order of the last epoch before the break and of the first one after.
    pause, time_limit : ndarray of float, shape (g,)
        Seconds.
    turned, lost : ndarray of bool, shape (g,)
        The walk turned back for good; a dropout leaves open how the edge goes on
        (`dropouts.open_dropouts`).

    Returns
    -------
    ndarray of uint8, shape (g,)
        Indices in `BREAK_NAMES`. If several apply: turned back, then not fixed, poor accuracy, lost
        epochs, spike, and last a pause or a jump.
    """
    out = np.where(pause > time_limit, PAUSED, JUMP).astype(np.uint8)
    for why, code in (
        (Reason.SPIKE, SPIKE),
        (Reason.POOR_ACCURACY, POOR_ACCURACY),
        (Reason.NOT_FIXED, NOT_FIXED),
    ):
        places = rejected[why]
        up_to_first = np.searchsorted(places, first_place)
        out[up_to_first > np.searchsorted(places, last_place, "right")] = code
        if why == Reason.SPIKE:  # a lone epoch next to a dropout is rejected as a spike as well
            out[lost] = LOST_EPOCHS
    out[turned] = TURNED_BACK
    return out
