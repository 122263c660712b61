"""Walks round an island: where a run comes back to its start and goes on along itself."""

import numpy as np

from ..arrays.plane import distance, steps
from ..arrays.ragged import cumulative, group_index, group_max, group_min, group_sum, ranges

NEAR = 1.5  # usual steps between the start and the first position that is back
LEAST_STEPS = 6  # a ring is so many usual steps long at least
BESIDE, BESIDE_SIGMAS = 0.15, 4.0  # m; how far the second time round may lie off the first one
MET = 1e-6  # m; a line that was closed by hand ends where it starts
MOST_OVERLAP = 0.5  # of a lap that may be walked twice


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
        Usual distance of neighbours, metres.

    Returns
    -------
    closed : ndarray of bool, shape (runs,)
    order : ndarray of int, shape (m,)
        Positions of open runs as they were; of a ring, those that were walked a second time between
        those walked before.

    Notes
    -----
    A run closes where it comes back within `NEAR` steps of its start and either ends there, heading
    for the start, or goes on along its first positions to its end.
    """
    runs = len(offsets) - 1
    m = len(x)
    order = np.arange(m)
    closed = np.zeros(runs, bool)
    if not m:
        return closed, order
    run = group_index(offsets)
    first = offsets[:-1]
    path = cumulative(steps(x, y, offsets), offsets)
    apart = distance(x - x[first][run], y - y[first][run])
    back = (apart < NEAR * spacing) & (path > LEAST_STEPS * np.maximum(spacing, apart))
    # first position that is back
    home = group_min(np.where(back, np.arange(m), m), offsets, m).astype(np.int64)
    home[home < first + 5] = m
    rings = np.flatnonzero(home < m)
    if not rings.size:
        return closed, order
    lap = path[home[rings]]
    end = offsets[1:][rings]
    walked = path[end - 1]
    good = walked - lap <= MOST_OVERLAP * lap
    rings, lap, end = rings[good], lap[good], end[good]
    start, home = first[rings], home[rings]
    # each position from there on against each step of the first lap, as far as the overlap goes and
    # two steps more
    tail = end - home
    limit = path[end - 1] - lap + 3 * spacing[start]
    lap_places = ranges(start, home - start)
    lap_offsets = np.concatenate([[0], np.cumsum(home - start)])
    # steps
    head = np.minimum(
        group_sum(
            (path[lap_places] < np.repeat(limit, home - start)).astype(np.int64), lap_offsets
        ),
        home - 1 - start,
    )
    head = np.maximum(head, 1)
    pair_tail = np.repeat(ranges(home, tail), np.repeat(head, tail))
    owner = np.repeat(np.arange(len(rings)), tail * head)
    segment = (
        start[owner]
        + np.arange(len(owner))
        - np.repeat(np.concatenate([[0], np.cumsum(tail * head)])[:-1], tail * head)
    )
    segment = start[owner] + (segment - start[owner]) % head[owner]
    ax, ay = x[segment], y[segment]
    dx, dy = x[segment + 1] - ax, y[segment + 1] - ay
    length2 = np.maximum(dx * dx + dy * dy, 1e-12)
    px, py = x[pair_tail] - ax, y[pair_tail] - ay
    share = (px * dx + py * dy) / length2
    before = (segment == start[owner]) & (share < 0)
    inside = np.clip(share, 0.0, 1.0)
    off = distance(px - inside * dx, py - inside * dy)
    off = np.where(before, np.abs(px * dy - py * dx) / np.sqrt(length2), off)
    pairs = np.concatenate([[0], np.cumsum(np.repeat(head, tail))])
    nearest = group_min(off, pairs)
    which = group_min(
        np.where(off == np.repeat(nearest, np.diff(pairs)), np.arange(len(off)), len(off)),
        pairs,
        len(off),
    ).astype(np.int64)
    position = ranges(home, tail)
    ring_of = np.repeat(np.arange(len(rings)), tail)
    chain = path[segment[which]] + np.where(before[which], share[which], inside[which]) * np.sqrt(
        length2[which]
    )
    # a run does not jump: from the first position that lies on the first lap, all others must
    own = np.concatenate([[0], np.cumsum(tail)])
    allowed = np.maximum(BESIDE, BESIDE_SIGMAS * np.sqrt(2 * variance[position]))
    place = np.arange(len(position))
    arrived = group_min(
        np.where((chain > 0) & (nearest <= allowed), place, len(place)), own, len(place)
    )
    second = place >= arrived[ring_of]  # the others still head for the start
    beside = group_max(np.where(second, nearest - allowed, 0.0), own, 0.0) <= 0
    progress = np.append(np.diff(chain), 0.0)
    progress[own[1:] - 1] = 0.0
    forward = group_min(np.where(second, progress, 0.0), own, 0.0) > -0.5 * spacing[start]
    # heading for the start at both ends, where nothing overlaps
    gap_x, gap_y = x[start] - x[end - 1], y[start] - y[end - 1]
    met = distance(gap_x, gap_y) < MET
    onward = met | (gap_x * (x[end - 1] - x[end - 2]) + gap_y * (y[end - 1] - y[end - 2]) > 0) & (
        gap_x * (x[start + 1] - x[start]) + gap_y * (y[start + 1] - y[start]) > 0
    )
    overlap = group_sum(second.astype(np.int64), own) > 0
    ok = beside & forward & (overlap | onward)
    closed[rings[ok]] = True
    # places along the ring: the second time round as the first one
    place = path.copy()
    moved = second & ok[ring_of]
    place[position[moved]] = chain[moved]
    # positions that head for the start stay where they are, in the order of their way to it
    again = np.flatnonzero(closed[run])
    order[again] = again[np.lexsort((again, place[again], run[again]))]
    return closed, order
