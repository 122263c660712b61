"""Short sides that stand square to their legs: which of their positions slipped."""

import itertools
from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance
from ..tuning import SQUARE_SIDES
from .headway import stretches

_LEG = 4  # exact: positions of a leg; the two in the middle show whether it is straight


@dataclass(frozen=True)
class Settled:
    """Gross errors beside short sides; arrays of shape (m,).

    `found`: the gross errors, all others as they were; `off`: how far those lie off that were not
    found before, metres, NaN elsewhere; `vouched`: positions on a side and where its legs end, and
    hence none.
    """

    found: np.ndarray
    off: np.ndarray
    vouched: np.ndarray


def settle_square_sides(positions, run, floor, found):
    """Choose the gross errors of the aim beside short sides so that these are square to their legs.

    Parameters
    ----------
    positions : Positions
    run : ndarray of int, shape (m,)
        Run of each position.
    floor : ndarray of float, shape (m,)
        Distance up to which a position lies on a line, metres.
    found : ndarray of bool, shape (m,)
        Suspected gross errors.

    Returns
    -------
    Settled

    Notes
    -----
    Two positions lie on a line also where one of them slipped, so what a short side costs does not
    tell which one did. But most sides of recesses are square to their legs, no leg goes on past the
    side, nobody walks much faster along it, and an aim that slips for two epochs is off alike.
    """
    out = Settled(found.copy(), np.full(len(found), np.nan), np.zeros(len(found), bool))
    first, last = stretches(found, run)
    for length in range(1, SQUARE_SIDES.most_slips + 1):
        some = first[last - first + 1 == length]
        if not some.size:
            continue
        windows = _Windows.of(positions, run, floor, found, some, length)
        best = _Best.of(len(some))
        a, b = windows.stretch.start, windows.stretch.stop
        reach = range(SQUARE_SIDES.reach + 1)
        legs = [_Leg.of(windows, a - before - _LEG) for before in reach]
        others = [_Leg.of(windows, b + after) for after in reach]
        for before, after in itertools.product(reach, repeat=2):
            frame = _frame(windows, a - before, b + after, legs[before], others[after])
            if frame is None:
                continue
            _offer_oblique(frame, best)
            for place in range(1, frame.along.shape[1] - 1):
                _try_place(frame, place, windows.stretch, best)
        for k in np.flatnonzero(best.cost < best.as_found - SQUARE_SIDES.margin):
            index = windows.index[k]
            out.found[index[windows.stretch]] = False
            out.vouched[index[best.low[k] : best.high[k]]] = True
            slips = index[best.first[k] : best.first[k] + best.number[k]]
            out.found[slips], out.vouched[slips] = True, False
            out.off[slips[~found[slips]]] = best.off[k]
    return out


@dataclass(frozen=True)
class _Windows:
    """Suspected stretches with the positions around them that are not suspected, shape (q, w).

    `stretch`: columns of the stretches; `inside`: of the same run; `ended`, `started`, seconds;
    `floor`, metres, of shape (q, 1).
    """

    index: np.ndarray
    x: np.ndarray
    y: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    llr: np.ndarray
    inside: np.ndarray
    floor: np.ndarray
    stretch: slice

    @classmethod
    def of(cls, positions, run, floor, found, first, length):  # parameters: all that a window holds
        """Windows of stretches of one length."""
        margin = SQUARE_SIDES.reach + _LEG
        nowhere = np.full(margin, -1)
        sure = np.concatenate([nowhere, np.flatnonzero(~found), nowhere])
        next_sure = margin + np.searchsorted(sure[margin:-margin], first)[:, None]
        within, around = np.arange(length), np.arange(margin)
        index = np.concatenate(
            [sure[next_sure - margin + around], first[:, None] + within, sure[next_sure + around]],
            axis=1,
        )
        return cls(
            index=index,
            x=positions.x[index],
            y=positions.y[index],
            started=positions.started[index],
            ended=positions.ended[index],
            llr=positions.height_llr[index],
            inside=(index >= 0) & (run[index] == run[first][:, None]),
            floor=floor[first][:, None],
            stretch=slice(margin, margin + length),
        )


@dataclass(frozen=True)
class _Frame:
    """Windows between two legs that are parallel and aside of each other.

    `rows`: of the windows, shape (r,); `start`: column of the last position of the first leg, with
    which other arrays, shape (r, c), begin; they end with the first position of the other leg.
    `along` the legs and `across` them to the other one, metres; `depth` from leg to leg, metres,
    `pace` of the legs, m/s, and `floor`, shape (r, 1).
    """

    rows: np.ndarray
    start: int
    along: np.ndarray
    across: np.ndarray
    started: np.ndarray
    ended: np.ndarray
    llr: np.ndarray
    depth: np.ndarray
    pace: np.ndarray
    floor: np.ndarray


@dataclass(frozen=True)
class _Best:
    """The best account of each window, shape (q,): its cost, squared sigmas; the columns from `low`
    to `high` that it is about; the first gross error, how many there are and how far off they lie,
    metres. `as_found`: cost of leaving things as they are."""

    cost: np.ndarray
    as_found: np.ndarray
    low: np.ndarray
    high: np.ndarray
    first: np.ndarray
    number: np.ndarray
    off: np.ndarray

    @classmethod
    def of(cls, q):
        """None yet."""
        columns = (np.zeros(q, np.int64) for _ in range(4))
        return cls(np.full(q, np.inf), np.full(q, np.inf), *columns, np.zeros(q))

    def offer(self, rows, **account):
        """Take an account of some windows where it costs less than the best one."""
        better = account["cost"] < self.cost[rows]
        for name, values in account.items():
            getattr(self, name)[rows[better]] = values[better]


@dataclass(frozen=True)
class _Leg:
    """A leg of each window, shape (q,): whether it is straight and long enough (`good`), its
    direction, its middle, metres, and the paces of its steps, m/s, shape (q, _LEG - 1)."""

    good: np.ndarray
    ux: np.ndarray
    uy: np.ndarray
    x: np.ndarray
    y: np.ndarray
    paces: np.ndarray

    @classmethod
    def of(cls, windows, low):
        """The leg that starts with column `low`."""
        high = low + _LEG - 1
        x, y = windows.x[:, low : high + 1], windows.y[:, low : high + 1]
        dx, dy = x[:, -1:] - x[:, :1], y[:, -1:] - y[:, :1]
        size = np.maximum(distance(dx, dy), 1e-9)
        bent = np.abs(dx * (y - y[:, :1]) - dy * (x - x[:, :1])).max(axis=1)
        long = (size > SQUARE_SIDES.least_leg)[:, 0] & windows.inside[:, low]
        time = windows.started[:, low + 1 : high + 1] - windows.ended[:, low:high]
        return cls(
            good=long & windows.inside[:, high] & (bent < (windows.floor * size)[:, 0]),
            ux=(dx / size)[:, 0],
            uy=(dy / size)[:, 0],
            x=x.mean(axis=1),
            y=y.mean(axis=1),
            paces=distance(np.diff(x), np.diff(y)) / np.maximum(time, 1e-9),
        )


def _frame(windows, a, b, leg, other):
    """The windows between a leg that ends before column `a` and one that starts with column `b`;
    None where there are none."""
    good = leg.good & other.good
    good &= leg.ux * other.ux + leg.uy * other.uy > np.cos(np.radians(SQUARE_SIDES.parallel))
    if not good.any():
        return None
    ux, uy = leg.ux + other.ux, leg.uy + other.uy
    size = np.maximum(distance(ux, uy), 1e-9)
    ux, uy = ux / size, uy / size
    depth = ux * (other.y - leg.y) - uy * (other.x - leg.x)
    rows = np.flatnonzero(good & (np.abs(depth) > SQUARE_SIDES.least_depth))
    if not rows.size:
        return None
    ux, uy, depth = (values[rows, None] for values in (ux, uy, depth))
    columns = slice(a - 1, b + 1)
    dx = windows.x[rows, columns] - leg.x[rows, None]
    dy = windows.y[rows, columns] - leg.y[rows, None]
    pace = np.sort(np.concatenate([leg.paces[rows], other.paces[rows]], axis=1), axis=1)
    return _Frame(
        rows=rows,
        start=a - 1,
        along=ux * dx + uy * dy,
        across=(ux * dy - uy * dx) * np.sign(depth),
        started=windows.started[rows, columns],
        ended=windows.ended[rows, columns],
        llr=windows.llr[rows, columns],
        depth=np.abs(depth),
        pace=pace[:, _LEG - 1, None],  # exact: in the middle of six
        floor=windows.floor[rows],
    )


def _offer_oblique(frame, best):
    """Let things be where all between the legs lie on one line, square or not, and are three."""
    along, across = frame.along[:, 1:-1], frame.across[:, 1:-1]
    if along.shape[1] < 3:  # exact: two always lie on a line
        return
    dx, dy = along[:, -1:] - along[:, :1], across[:, -1:] - across[:, :1]
    off = np.abs(dx * (across - across[:, :1]) - dy * (along - along[:, :1]))
    straight = (off < frame.floor * distance(dx, dy)).all(axis=1)
    rows = frame.rows[straight]
    best.as_found[rows] = np.minimum(best.as_found[rows], SQUARE_SIDES.oblique)


def _try_place(frame, place, stretch, best):
    """Offer the account in which the side goes through one column and what is off it slipped."""
    along, across, floor = frame.along, frame.across, frame.floor
    side = along[:, place : place + 1]
    on = (np.abs(along - side) < floor) & (across > -floor) & (across < frame.depth + floor)
    slipped = ~on
    slipped[:, [0, -1]] = False
    number, low = slipped.sum(axis=1), slipped.argmax(axis=1)
    row = np.arange(len(low))
    good = on[:, place] & (number <= SQUARE_SIDES.most_slips)
    good &= ((along[:, :1] < side + floor) & (along[:, -1:] > side - floor))[:, 0]
    good &= (number < 2) | slipped[row, low + 1]
    if not good.any():
        return
    timely, off_along, off_across = _by_times(frame, side, slipped)
    apart = distance(np.diff(off_along), np.diff(off_across))[row, low]
    good &= timely & ((number < 2) | (apart < SQUARE_SIDES.alike))
    cost = np.array([0.0, SQUARE_SIDES.slip, SQUARE_SIDES.slip + SQUARE_SIDES.second])
    cost = cost[np.minimum(number, 2)] - np.where(slipped, frame.llr, 0.0).sum(axis=1)

    as_found = (frame.start + low == stretch.start) & (number == stretch.stop - stretch.start)
    rows = frame.rows[good & as_found]
    best.as_found[rows] = np.minimum(best.as_found[rows], cost[good & as_found])
    hit = good & ~as_found
    low, high = (np.full(hit.sum(), frame.start + k) for k in (0, along.shape[1]))
    best.offer(
        frame.rows[hit],
        low=low,
        high=high,
        first=(frame.start + slipped.argmax(axis=1))[hit],
        number=number[hit],
        off=distance(off_along, off_across)[row, slipped.argmax(axis=1)][hit],
        cost=cost[hit],
    )


def _by_times(frame, side, slipped):
    """Windows (mask) in which all that did not slip is in order along leg, side and leg, without
    haste; and how far positions are, along the legs and across them, from where they ought to be by
    their times, metres, shape (r, c)."""
    along, across, depth, floor = frame.along, frame.across, frame.depth, frame.floor
    way = np.clip(across, 0.0, depth)  # from the first corner on
    way[:, :1] = np.minimum(along[:, :1] - side, 0.0)
    way[:, -1:] = depth + np.maximum(along[:, -1:] - side, 0.0)
    before, after = _neighbours(slipped)
    (start, left), (end, until) = (
        (np.take_along_axis(way, place, 1), np.take_along_axis(times, place, 1))
        for place, times in ((before, frame.ended), (after, frame.started))
    )
    step = way[:, 1:] - start[:, :-1]
    most = SQUARE_SIDES.haste * frame.pace * (frame.started[:, 1:] - left[:, :-1])
    wrong = (step > most + floor) | (step < -floor)
    share = np.clip((frame.started - left) / np.maximum(until - left, 1e-9), 0.0, 1.0)
    walked = start + share * (end - start)
    off_along = along - side - np.minimum(walked, 0.0) - np.maximum(walked - depth, 0.0)
    timely = ~(wrong & ~slipped[:, 1:]).any(axis=1)
    return timely, off_along, across - np.clip(walked, 0.0, depth)


def _neighbours(slipped):
    """Columns of the nearest that did not slip, at each column or before it, and at it or after it;
    shape (r, c) each."""
    place = np.arange(slipped.shape[1])
    before = np.maximum.accumulate(np.where(slipped, 0, place), axis=1)
    last = slipped.shape[1] - 1
    after = np.minimum.accumulate(np.where(slipped, last, place)[:, ::-1], axis=1)[:, ::-1]
    return before, after
