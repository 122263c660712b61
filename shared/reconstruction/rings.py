"""Rings: runs round an island that come back to their start and may go on along themselves."""

from dataclasses import dataclass

import numpy as np

from ..arrays.plane import distance, steps
from ..arrays.ragged import (
    cumulative,
    group_index,
    group_max,
    group_min,
    group_sum,
    offsets_of,
    ranges,
)
from ..tuning import RINGS


def find_rings(x, y, variance, offsets, spacing):
    """Find runs that close, and the order of their positions along the ring.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
        Positions in metres, in the order walked.
    variance : ndarray of float, shape (m,)
        Of each position and axis, m2.
    offsets : ndarray of int, shape (runs + 1,)
    spacing : ndarray of float, shape (m,)
        Nominal distance of neighbours, metres.

    Returns
    -------
    closed : ndarray of bool, shape (runs,)
    order : ndarray of int, shape (m,)
        Open runs keep their order; in a ring, positions walked a second time are sorted among those
        of the first lap.

    Notes
    -----
    A run closes where it comes back within a few steps of its start and either ends there, heading
    for the start, or goes on along its first positions to its end.
    """
    order, closed = np.arange(len(x)), np.zeros(len(offsets) - 1, bool)
    if not len(x):
        return closed, order
    path = cumulative(steps(x, y, offsets), offsets)
    rings = _Rings.found(x, y, offsets, spacing, path)
    if not len(rings.number):
        return closed, order
    nearest, along = _on_first_lap(x, y, path, rings, spacing)
    allowed = np.maximum(RINGS.beside, RINGS.beside_sigmas * np.sqrt(2 * variance[rings.position]))
    # from the first position that lies on the first lap, all others must lie on it
    place = np.arange(len(rings.position))
    arrived = np.where((along > 0) & (nearest <= allowed), place, len(place))
    arrived = group_min(arrived, rings.tails, len(place))
    second = place >= arrived[rings.of_position]  # the others still head for the start
    near = group_max(np.where(second, nearest - allowed, 0.0), rings.tails, 0.0) <= 0
    onward = _heads_for_start(x, y, rings)
    overlap = group_sum(second.astype(np.int64), rings.tails) > 0
    good = near & _walks_forward(along, second, rings, spacing) & (overlap | onward)
    closed[rings.number[good]] = True
    # chainages of the second lap are those of the first
    place = path.copy()
    moved = second & good[rings.of_position]
    place[rings.position[moved]] = along[moved]
    # positions on their way to the start keep their order
    run = group_index(offsets)
    again = np.flatnonzero(closed[run])
    order[again] = again[np.lexsort((again, place[again], run[again]))]
    return closed, order


@dataclass(frozen=True)
class _Rings:
    """Runs that come back to their start; arrays of shape (rings,) except the last three.

    `number` of the run; positions `start`, `home` (the first one that is back) and `end` (after the
    last one); `lap`, the length up to `home`, metres. The tail of a ring are its positions from
    `home` on: `position`, shape (t,), all of them; `of_position`, the ring of each; `tails`, their
    offsets.
    """

    number: np.ndarray
    start: np.ndarray
    home: np.ndarray
    end: np.ndarray
    lap: np.ndarray
    position: np.ndarray
    of_position: np.ndarray
    tails: np.ndarray

    @classmethod
    def found(cls, x, y, offsets, spacing, path):
        """Candidates among runs; `path`, shape (m,): metres along each run."""
        m, run, first = len(x), group_index(offsets), offsets[:-1]
        apart = distance(x - x[first][run], y - y[first][run])
        walked_enough = path > RINGS.min_steps * np.maximum(spacing, apart)
        back = (apart < RINGS.near * spacing) & walked_enough
        home = group_min(np.where(back, np.arange(m), m), offsets, m).astype(np.int64)
        home[home < first + RINGS.min_positions] = m
        number = np.flatnonzero(home < m)
        lap, end = path[home[number]], offsets[1:][number]
        good = path[end - 1] - lap <= RINGS.max_overlap * lap
        number, lap, end = number[good], lap[good], end[good]
        home = home[number]
        tail = end - home
        return cls(
            number=number,
            start=first[number],
            home=home,
            end=end,
            lap=lap,
            position=ranges(home, tail),
            of_position=np.repeat(np.arange(len(number)), tail),
            tails=offsets_of(tail),
        )


def _on_first_lap(x, y, path, rings, spacing):
    """Distance of each position of the tails from the first lap, and its chainage there, metres.

    Each position is compared with each step of the overlap and a few more.
    """
    start, home, tail = rings.start, rings.home, rings.end - rings.home
    limit = path[rings.end - 1] - rings.lap + RINGS.overlap_steps * spacing[start]
    lap_places = ranges(start, home - start)
    inside = path[lap_places] < np.repeat(limit, home - start)
    head = group_sum(inside.astype(np.int64), offsets_of(home - start))
    head = np.maximum(np.minimum(head, home - 1 - start), 1)  # steps
    # pairs of a position and a step
    position = np.repeat(rings.position, np.repeat(head, tail))
    owner = np.repeat(np.arange(len(start)), tail * head)
    first_pair = offsets_of(tail * head)[:-1]
    step = (np.arange(len(owner)) - np.repeat(first_pair, tail * head)) % head[owner]
    segment = start[owner] + step
    ax, ay = x[segment], y[segment]
    dx, dy = x[segment + 1] - ax, y[segment + 1] - ay
    length2 = np.maximum(dx * dx + dy * dy, 1e-12)
    px, py = x[position] - ax, y[position] - ay
    share = (px * dx + py * dy) / length2
    before = (segment == start[owner]) & (share < 0)
    inside = np.clip(share, 0.0, 1.0)
    off = distance(px - inside * dx, py - inside * dy)
    off = np.where(before, np.abs(px * dy - py * dx) / np.sqrt(length2), off)
    pairs = offsets_of(np.repeat(head, tail))
    nearest = group_min(off, pairs)
    at_nearest = off == np.repeat(nearest, np.diff(pairs))
    which = group_min(np.where(at_nearest, np.arange(len(off)), len(off)), pairs, len(off))
    which = which.astype(np.int64)
    share = np.where(before[which], share[which], inside[which])
    return nearest, path[segment[which]] + share * np.sqrt(length2[which])


def _walks_forward(along, second, rings, spacing):
    """Rings (mask) whose tail never goes back along the first lap by more than part of a step."""
    advance = np.append(np.diff(along), 0.0)
    advance[rings.tails[1:] - 1] = 0.0
    least = group_min(np.where(second, advance, 0.0), rings.tails, 0.0)
    return least > -RINGS.back_steps * spacing[rings.start]


def _heads_for_start(x, y, rings):
    """Rings (mask) whose last step heads for the start and whose first step leads away from the
    end, or whose last position repeats the first."""
    start, end = rings.start, rings.end
    gap_x, gap_y = x[start] - x[end - 1], y[start] - y[end - 1]
    met = distance(gap_x, gap_y) < RINGS.met
    arrives = gap_x * (x[end - 1] - x[end - 2]) + gap_y * (y[end - 1] - y[end - 2]) > 0
    leaves = gap_x * (x[start + 1] - x[start]) + gap_y * (y[start + 1] - y[start]) > 0
    return met | arrives & leaves
