"""The fewest vertices that keep a line within a tolerance of densely sampled curves."""

import numpy as np

from ..tuning import THINNING
from .plane import distance
from .ragged import group_index, offsets_of, ranges
from .thinning import farthest, thin, without_needless

_VERTEX = 1 << 16  # exact: costs are whole numbers, so that rounding decides no tie
_NEVER = 1 << 29  # exact: more than any way costs
_DEAREST = 6.0  # exact: what a chord may cost besides, in vertices; 1,024 of these are less


def fewest(x, y, z, keep, sections, tolerance, up_tolerance):
    """Choose the vertices of lines from densely sampled curves, as few as are worth their place.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (n,)
        Samples of the curves, metres; z may be NaN.
    keep : ndarray of bool, shape (n,)
        Samples that must be vertices, the ends of all sections among them.
    sections : ndarray of int, shape (q, 2)
        First and last sample of each section; sections may share their end samples.
    tolerance, up_tolerance : float
        Greatest distance from a sample to the line, in plan and in height, metres.

    Returns
    -------
    ndarray of bool, shape (n,)

    Notes
    -----
    The shortest path through the graph of all chords that keep the tolerances (Imai and Iri 1988,
    Polygonal approximations of a curve; from memory), by dynamic programming from the last sample
    of each section to its first. A chord costs one vertex and `THINNING.bow` times the square of
    its mean distance from the curve, in tolerances. Halving at the farthest sample (`thin`) takes
    up to twice as many vertices.

    The samples tried are those of a line that is off by `THINNING.fine` of the tolerances, which
    are less by as much. What their directions miss where a curve turns back is seen when the chosen
    chords are checked against all samples; `thin` divides such chords.
    """
    open_chords = sections[sections[:, 1] - sections[:, 0] > 1]
    worst, _ = farthest(x, y, z, open_chords, tolerance, up_tolerance)
    sections = open_chords[worst > 1]
    if not len(sections):
        return keep.copy()
    fine = THINNING.fine
    finely = fine * tolerance, fine * up_tolerance
    tried = np.flatnonzero(without_needless(x, y, z, keep, sections, *finely))
    pieces = _cut(np.searchsorted(tried, sections))
    chosen = keep[tried]
    chosen[pieces] = True
    samples = tuple(axis[tried] for axis in (x, y, z))
    limits = (1 - fine) * tolerance, (1 - fine) * up_tolerance
    for some in _tiles(np.diff(pieces, axis=1)[:, 0] + 1):
        chosen[_fewest_of(samples, pieces[some], *limits)] = True
    out = keep.copy()
    out[tried[chosen]] = True
    return thin(x, y, z, out, _chords(out, sections), tolerance, up_tolerance)


def _chords(chosen, sections):
    """Chords between the samples chosen (mask) inside some sections."""
    vertex = np.flatnonzero(chosen)
    first = np.searchsorted(vertex, sections[:, 0])
    before = ranges(first, np.searchsorted(vertex, sections[:, 1]) - first)
    return np.column_stack([vertex[before], vertex[before + 1]])


def _cut(sections):
    """Sections in pieces of at most `THINNING.longest` samples."""
    size = sections[:, 1] - sections[:, 0]
    pieces = -(-size // THINNING.longest)
    own = np.repeat(np.arange(len(sections)), pieces)
    place = ranges(np.zeros(len(sections), np.int64), pieces)
    first, last = (
        sections[own, 0] + number * size[own] // pieces[own] for number in (place, place + 1)
    )
    return np.column_stack([first, last])


def _tiles(size):
    """Pieces to be worked on together, of like sizes, since the longest decides on the steps."""
    order = np.argsort(size, kind="stable")
    ends = np.cumsum(size[order])
    cuts = np.searchsorted(ends, np.arange(THINNING.tile, ends[-1], THINNING.tile))
    return np.split(order, np.unique(cuts[cuts > 0]))


def _fewest_of(samples, sections, tolerance, up_tolerance):
    """Vertices of some sections of ascending sizes, except their last ones; `samples`: x, y and
    z."""
    size = np.diff(sections, axis=1)[:, 0] + 1
    offsets = offsets_of(size)
    own, section = ranges(sections[:, 0], size), group_index(offsets)
    last = offsets[1:][section] - 1
    x, y, z = (axis.take(own) for axis in samples)
    # samples as far from the end stand side by side, those of the longest section first
    ahead, lane = last - np.arange(len(own)), (len(size) - 1 - section)
    running = len(size) - np.searchsorted(size, np.arange(size[-1]), "right")
    steps = offsets_of(running)
    place = steps[ahead] + lane
    costs = _chord_costs(x, y, z, last, place, (tolerance, up_tolerance))
    total = _cheapest(costs, steps)
    hops = np.arange(len(costs))[:, None]
    at, found = offsets[:-1], []
    while len(at):
        found.append(at)
        ways = costs[:, place[at]] + total[len(costs) - 1 + ahead[at] - hops, lane[at]]
        at = at + 1 + ways.argmin(axis=0)
        at = at[at < last[at]]
    return own[np.concatenate(found)]


def _chord_costs(x, y, z, last, place, tolerances):
    """Costs of the chords from each sample to the next, the one after that..., shape (reach, n),
    with samples in the order of their `place`, shape (n,).

    `last`, shape (n,): last sample of each one's section. Which chords keep the tolerances is told
    by the ranges of directions and grades that pass all samples up to there, one more at a time.
    """
    n, (tolerance, up_tolerance) = len(x), tolerances
    start = np.flatnonzero(last > np.arange(n))
    rows = []
    low, high = np.full(len(start), -np.inf), np.full(len(start), np.inf)
    low_up, high_up = low, high
    area, px, py = np.zeros((3, len(start)))  # between curve and chord; the sample before
    ahead_x, ahead_y = x[start + 1] - x[start], y[start + 1] - y[start]
    while len(start):
        end = start + len(rows) + 1
        dx, dy = x.take(end) - x.take(start), y.take(end) - y.take(start)
        away = np.maximum(distance(dx, dy), 1e-12)  # exact: no division by 0
        area = area + (px * dy - py * dx) / 2
        turn = np.arctan2(ahead_x * dy - ahead_y * dx, ahead_x * dx + ahead_y * dy)
        grade = (z.take(end) - z.take(start)) / away
        good = np.flatnonzero(
            (turn >= low) & (turn <= high) & ~((grade < low_up) | (grade > high_up))
        )
        bow = THINNING.bow * np.square(area.take(good) / (away.take(good) * tolerance))
        row = np.full(n, _NEVER, np.int32)
        row[place.take(start.take(good))] = np.rint(_VERTEX * (1 + np.minimum(bow, _DEAREST)))
        rows.append(row)
        # what chords to farther samples must pass
        half = np.arcsin(np.minimum(tolerance / away, 1.0))
        low, high = np.maximum(low, turn - half), np.minimum(high, turn + half)
        low_up = np.fmax(low_up, grade - up_tolerance / away)
        high_up = np.fmin(high_up, grade + up_tolerance / away)
        go = np.flatnonzero((end < last.take(start)) & (low <= high) & ~(low_up > high_up))
        start, low, high, low_up, high_up, area, px, py, ahead_x, ahead_y = (
            values.take(go)
            for values in (start, low, high, low_up, high_up, area, dx, dy, ahead_x, ahead_y)
        )
    return np.stack(rows)


def _cheapest(costs, steps):
    """What the cheapest way to the end costs, shape (reach + longest, sections): behind `reach`
    rows for places beyond the end, by the number of samples up to there.

    `steps`: the offsets of samples as far from the end, of which longer sections stand first.
    """
    reach, running = len(costs), np.diff(steps)
    total = np.full((reach + len(running), running[0]), _NEVER, np.int32)
    total[reach] = 0
    for step in range(1, len(running)):
        first, on = steps[step], running[step]
        nearer = total[step : step + reach, :on][::-1]
        (costs[:, first : first + on] + nearer).min(axis=0, out=total[reach + step, :on])
    return total
