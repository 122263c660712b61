"""Fewer vertices, with a guaranteed distance between the fitted curve and the line written."""

import numpy as np

from ..tuning import THINNING
from .plane import distance
from .ragged import (
    first_of_each,
    group_index,
    offsets_from_starts,
    offsets_of,
    place_in_group,
    ranges,
)


def thin(x, y, z, keep, sections, tolerance, up_tolerance):
    """Choose the vertices of lines from densely sampled curves.

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
    Douglas and Peucker 1973, Algorithms for the reduction of the number of points, The Canadian
    Cartographer 10: split each section at its farthest sample. All sections of a layer are split at
    once, level by level.
    """
    keep = keep.copy()
    active = sections[sections[:, 1] - sections[:, 0] > 1]
    while len(active):
        worst, where = farthest(x, y, z, active, tolerance, up_tolerance)
        split = worst > 1
        middle = where[split]
        keep[middle] = True
        active = active[split]
        halves = np.empty((2 * len(active), 2), np.int64)
        halves[0::2, 0], halves[0::2, 1] = active[:, 0], middle
        halves[1::2, 0], halves[1::2, 1] = middle, active[:, 1]
        active = halves[halves[:, 1] - halves[:, 0] > 1]
    return keep


def without_needless(x, y, z, keep, sections, tolerance, up_tolerance):
    """Leave out samples that hardly lie off the line through those that stay.

    Quicker than `thin` where few samples go, but of samples on an arc it keeps up to twice as many.

    Parameters
    ----------
    x, y, z, keep, sections, tolerance, up_tolerance
        As in `thin`.

    Returns
    -------
    ndarray of bool, shape (n,)
        Samples that stay, with all those to keep.

    Notes
    -----
    Of samples beside each other that may go, every other one goes, until none may. Each adds its
    distance from the chord between its neighbours to what the samples that went before may lie off.
    """
    asked = ranges(sections[:, 0] + 1, sections[:, 1] - sections[:, 0] - 1)
    asked = asked[~keep[asked]]
    out = keep.copy()
    out[asked] = True
    before, after = np.arange(len(x)) - 1, np.arange(len(x)) + 1
    off = np.zeros(len(x))  # of samples that went, from the chord after each sample, in tolerances
    while len(asked):
        a, b = before[asked], after[asked]
        beside = _off_chords(x, y, z, (a, asked, b), (tolerance, up_tolerance))
        beside += np.maximum(off[a], off[asked])
        may = beside < 1
        some = asked[may]
        starts = np.append(True, after[some[:-1]] != some[1:])[: len(some)]
        drop = place_in_group(offsets_from_starts(starts)) % 2 == 0
        gone = some[drop]
        out[gone] = False
        a, b = before[gone], after[gone]
        after[a], before[b], off[a] = b, a, beside[may][drop]
        again = np.zeros(len(x), bool)
        again[a] = again[b] = again[some[~drop]] = True
        asked = np.flatnonzero(again & ~keep)
    return out


def _off_chords(x, y, z, samples, tolerances):
    """Distances of samples from the chord between two others, in tolerances; `samples`: the one
    before each, itself and the one after it."""
    a, k, b = samples
    dx, dy, px, py = x[b] - x[a], y[b] - y[a], x[k] - x[a], y[k] - y[a]
    share = np.clip((px * dx + py * dy) / np.maximum(dx * dx + dy * dy, 1e-24), 0.0, 1.0)
    away = distance(px - share * dx, py - share * dy) / tolerances[0]
    return np.fmax(away, np.abs(z[k] - z[a] - share * (z[b] - z[a])) / tolerances[1])


def farthest(x, y, z, chords, tolerance, up_tolerance, ends=None):
    """The sample inside each chord that is farthest from it, in units of the tolerances.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (n,)
        Samples of the curves, metres; z may be NaN, or None where heights do not count.
    chords : ndarray of int, shape (q, 2)
        First and last sample; at least one sample lies between them.
    tolerance, up_tolerance : float
        Units of the distances in plan and in height, metres.
    ends : tuple of ndarray, optional
        Coordinates (ax, ay, bx, by) of the chords' ends where they are not the samples themselves.

    Returns
    -------
    worst : ndarray of float, shape (q,)
        Greater one of distance in plan / `tolerance` and in height / `up_tolerance`.
    where : ndarray of int, shape (q,)
        The first of those that are equally far, so that rounding does not decide.
    """
    samples = np.cumsum(chords[:, 1] - chords[:, 0] - 1)
    bounds = np.arange(THINNING.block, samples[-1] if len(samples) else 0, THINNING.block)
    cuts = np.unique(np.searchsorted(samples, bounds))
    cuts = cuts[cuts > 0]
    if not cuts.size:
        return _farthest(x, y, z, chords, tolerance, up_tolerance, ends)
    parts = [
        _farthest(
            x,
            y,
            z,
            chords[some],
            tolerance,
            up_tolerance,
            None if ends is None else tuple(end[some] for end in ends),
        )
        for some in np.split(np.arange(len(chords)), cuts)
    ]
    return tuple(np.concatenate(both) for both in zip(*parts))


def _farthest(x, y, z, chords, tolerance, up_tolerance, ends):
    """As `farthest`, for all chords at once."""
    first, last = chords[:, 0], chords[:, 1]
    number = last - first - 1
    inner = ranges(first + 1, number)
    bounds = offsets_of(number)
    own = group_index(bounds)
    ax, ay, bx, by = (x[first], y[first], x[last], y[last]) if ends is None else ends
    dx, dy = bx - ax, by - ay
    square = np.maximum(dx * dx + dy * dy, 1e-24)
    px, py = x.take(inner) - ax.take(own), y.take(inner) - ay.take(own)
    ox, oy = dx.take(own), dy.take(own)
    share = np.clip((px * ox + py * oy) / square.take(own), 0.0, 1.0)
    away = distance(px - share * ox, py - share * oy) / tolerance
    if z is not None:
        rise = (z[last] - z[first]).take(own)
        up = np.abs(z.take(inner) - z[first].take(own) - share * rise) / up_tolerance
        away = np.fmax(away, up)
    worst = np.maximum.reduceat(away, bounds[:-1])
    hit = first_of_each(np.flatnonzero(away >= (worst - THINNING.equal).take(own)), own)
    where = np.zeros(len(chords), np.int64)
    where[own[hit]] = inner[hit]
    return worst, where


def balance(x, y, keep, held, run, tolerance):
    """Move vertices off the curve by part of the sagitta, so that chords lie on both sides of it.

    Chords between points of an arc lie inside it by two thirds of their sagitta on average. Moving
    the vertices outward removes that bias without adding vertices.

    Parameters
    ----------
    x, y : ndarray of float, shape (n,)
        Samples of the curves, metres.
    keep : ndarray of bool, shape (n,)
        Vertices, within the tolerance already.
    held : ndarray of bool, shape (n,)
        Vertices that stay where they are: ends and corners.
    run : ndarray of int, shape (n,)
        Line that each sample belongs to.
    tolerance : float
        Greatest distance of a sample from the line in plan, metres.

    Returns
    -------
    x, y : ndarray of float, shape (vertices,)
        All distances in plan are still within `tolerance`.
    """
    vertex = np.flatnonzero(keep)
    vx, vy = x[vertex].copy(), y[vertex].copy()
    link = run[vertex[1:]] == run[vertex[:-1]]
    if not link.any():
        return vx, vy
    free = ~held[vertex]
    free[0] = free[-1] = False
    free[1:-1] &= link[:-1] & link[1:]
    shift, nx, ny = _outward(x, y, keep, link, np.flatnonzero(free))
    shift = np.clip(shift, -tolerance, tolerance)
    chords = np.column_stack([vertex[:-1], vertex[1:]])
    number = np.flatnonzero(link & (chords[:, 1] - chords[:, 0] > 1))
    while len(number):
        tx, ty = vx + shift * nx, vy + shift * ny
        ends = (tx[number], ty[number], tx[number + 1], ty[number + 1])
        worst, _ = farthest(x, y, None, chords[number], tolerance, np.inf, ends)
        bad = number[(worst > 1) & ((shift[number] != 0) | (shift[number + 1] != 0))]
        if not len(bad):
            break
        shift[bad] = shift[bad + 1] = 0.0
        # only chords that share a moved vertex can have changed
        number = number[np.isin(number, np.concatenate([bad - 1, bad, bad + 1]))]
    return vx + shift * nx, vy + shift * ny


def _outward(x, y, keep, link, inner):
    """How far, and which way, vertices should move: the mean distance between the curve and the
    chords on both sides.

    `link` tells whether a chord joins two vertices of one line; `inner` are the vertices that may
    move.

    Returns
    -------
    shift, nx, ny : ndarray of float, shape (vertices,)
        Metres, + to the left; unit normal to the left.
    """
    vertex = np.flatnonzero(keep)
    # signed area between the samples and each chord, of triangles from its first vertex; + left
    own = vertex[np.cumsum(keep[:-1]) - 1]
    ox, oy = x[:-1] - x[own], y[:-1] - y[own]
    cross = ox * (y[1:] - y[own]) - oy * (x[1:] - x[own])
    dx, dy = np.diff(x[vertex]), np.diff(y[vertex])
    length = np.maximum(distance(dx, dy), 1e-9)
    area = np.add.reduceat(cross, vertex[:-1]) / 2
    # the curve bulges to the left where the area is negative
    mean = np.where(link, -area / length, 0.0)
    shift, nx, ny = np.zeros(len(vertex)), np.zeros(len(vertex)), np.zeros(len(vertex))
    shift[inner] = (mean[inner - 1] + mean[inner]) / 2
    bx, by = (
        dx[inner - 1] / length[inner - 1] + dx[inner] / length[inner],
        dy[inner - 1] / length[inner - 1] + dy[inner] / length[inner],
    )
    norm = np.maximum(distance(bx, by), 1e-9)
    nx[inner], ny[inner] = -by / norm, bx / norm
    return shift, nx, ny
