"""Positions to fit tangents and arcs to, made from the vertices of edges or from epochs in order
along them."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import (
    MAD_TO_SIGMA,
    group_index,
    group_sum,
    offsets_from_starts,
    offsets_of,
    place_in_group,
)
from ..epochs.predictions import cubic_residuals
from ..tuning import SAMPLING, STANDING
from .profile import fit_heights


@dataclass(frozen=True)
class Samples:
    """Positions of runs in order of travel; those of run ``r`` are ``offsets[r]`` to ``offsets[r +
    1] - 1``.

    Arrays of shape (m,): `x`, `y`, `z` in metres (z NaN if unknown), `variance` in m2 per axis.
    `closed`, shape (runs,): rings; their first position is not repeated at the end.
    """

    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    variance: np.ndarray
    offsets: np.ndarray
    closed: np.ndarray

    def __len__(self):
        return len(self.offsets) - 1


def sample_edges(x, y, z, offsets, tolerance, sigma=0.0):
    """Sample edges that are given by vertices.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (v,)
        Vertices, metres; z may be NaN.
    offsets : ndarray of int, shape (runs + 1,)
        Every run has at least two different vertices.
    tolerance : float
        Tolerance with which the edges were drawn for their curves, metres.
    sigma : float or ndarray of float, shape (runs,)
        1-sigma of those curves across, metres; 0 if unknown.

    Returns
    -------
    Samples

    Notes
    -----
    Samples are the vertices and the middle of each segment (of each piece of a long one), weighted
    by Simpson's rule, 1 : 4 : 1. An arc whose vertices were moved outward, so that its chords lie
    on both sides of it, is then found with its true radius. An observation has the variance of a
    uniform distribution within the tolerance, a third of its square, and that of the edge itself.
    """
    run = group_index(offsets)
    kept = np.ones(len(x), bool)
    kept[1:] = (np.hypot(np.diff(x), np.diff(y)) > SAMPLING.same_place) | (run[1:] != run[:-1])
    x, y, z, run = x[kept], y[kept], z[kept], run[kept]
    runs = len(offsets) - 1
    offsets = offsets_of(np.bincount(run, minlength=runs))
    first, last = offsets[:-1], offsets[1:] - 1
    closed = np.hypot(x[first] - x[last], y[first] - y[last]) <= SAMPLING.closed_within
    closed &= last - first > 2
    number, observations = _panels(x, y, run)
    of = np.repeat(np.arange(len(x)), number)
    place = place_in_group(offsets_of(number))
    share = place / number[of]
    weight = _simpson_weights(place, observations[of])
    onward = np.minimum(of + 1, len(x) - 1)
    new_offsets = offsets_of(np.bincount(run, number, runs)).astype(np.int64)
    new_x, new_y = (v[of] + share * (v[onward] - v[of]) for v in (x, y))
    heights = np.where(share > 0, z[of] + share * (z[onward] - z[of]), z[of])
    seam = new_offsets[1:][closed] - 1  # the last vertex of a ring repeats its first
    weight[new_offsets[:-1][closed]] += weight[seam]
    keep = np.ones(len(of), bool)
    keep[seam] = False
    new_offsets = offsets_of(np.diff(new_offsets) - closed)
    one = np.repeat(tolerance**2 / 3 + np.broadcast_to(sigma, (runs,)) ** 2, np.diff(new_offsets))
    return Samples(
        x=new_x[keep],
        y=new_y[keep],
        z=heights[keep],
        variance=one / np.maximum(weight[keep], SAMPLING.min_weight),
        offsets=new_offsets,
        closed=closed,
    )


def _panels(x, y, run):
    """Number of positions from each vertex on (two per panel, its start and its middle; one at the
    last vertex of a run), and the number of observations that each of its panels counts as."""
    start = np.flatnonzero(np.append(run[1:] == run[:-1], False))
    length = np.hypot(x[start + 1] - x[start], y[start + 1] - y[start])
    panels = np.maximum(np.ceil(length / SAMPLING.panel - 1e-9), 1).astype(np.int64)
    number, observations = np.ones(len(x), np.int64), np.zeros(len(x))
    number[start] = 2 * panels
    observations[start] = np.minimum(
        length / panels / SAMPLING.independent, SAMPLING.max_observations
    )
    return number, observations


def _simpson_weights(place, panel):
    """Weights of positions, 1 : 4 : 1 in each panel (Simpson's rule); `place`: number of each
    within its segment; `panel`: weight of the panel that it begins or lies in."""
    middle = place % 2 == 1
    # exact: Simpson's rule
    weight = np.where(middle, 4.0, 1.0) * panel / 6
    # exact: share of the panel that ends here; none does at the start of a run
    weight[1:] += np.where(middle[1:], 0.0, panel[:-1] / 6)
    return weight


def white_noise(x, y, offsets):
    """Estimate the white noise of positions across their run, 1-sigma, from their distances from
    cubics through four neighbours.

    Parameters
    ----------
    x, y : ndarray of float, shape (m,)
    offsets : ndarray of int, shape (runs + 1,)

    Returns
    -------
    float
        Metres.

    Notes
    -----
    Such a distance is a fourth difference (1 -4 6 -4 1) over 6: it holds hardly any curvature, and
    sqrt(70)/6 times the noise of one position. The median is robust against corners and outliers.
    """
    run = group_index(offsets)
    j = np.arange(2, max(len(x) - 2, 2))
    j = j[run[j - 2] == run[j + 2]]
    if len(j) < SAMPLING.few:
        return SAMPLING.default_noise
    deviation = [cubic_residuals(v, j, (j - 1, j + 1), (j - 2, j + 2)) for v in (x, y)]
    dx, dy = x[j + 1] - x[j - 1], y[j + 1] - y[j - 1]
    step = [np.hypot(x[j + k] - x[j + k - 1], y[j + k] - y[j + k - 1]) for k in (-1, 0, 1, 2)]
    even = np.max(step, axis=0) < SAMPLING.even_steps * np.min(step, axis=0)
    even = even if np.count_nonzero(even) >= SAMPLING.few else np.ones(len(j), bool)
    across = np.abs(dx * deviation[1] - dy * deviation[0]) / np.maximum(np.hypot(dx, dy), 1e-9)
    # exact: noise of the cubic's residual, in that of one value
    noise = float(MAD_TO_SIGMA * np.median(across[even]) / np.sqrt(70 / 36))
    return max(noise, SAMPLING.min_noise)


def sample_epochs(x, y, z, chainage, standing, group, noise=None):
    """Make positions from epochs along runs.

    Parameters
    ----------
    x, y, z : ndarray of float, shape (n,)
        Metres; z NaN if there is no usable height.
    chainage : ndarray of float, shape (n,)
        Metres along the run.
    standing : ndarray of bool, shape (n,)
        Taken standing still: those with the same chainage become one position.
    group : ndarray of int, shape (n,)
        Run of each epoch, numbered from 0 without gaps; rows may come in any order.
    noise : float, optional
        1-sigma of one epoch, metres; by default estimated from the epochs.

    Returns
    -------
    samples : Samples
        Heights are those of a fitted profile.
    noise : float
        1-sigma used, metres.
    steps : ndarray of float, shape (runs,)
        Greatest excess of the distance between neighbours over the difference of their chainages,
        metres; large if a run mixes several lines.
    """
    order = np.lexsort((y, x, chainage, group))
    x, y, z, chainage, standing, group = (v[order] for v in (x, y, z, chainage, standing, group))
    same = (
        (group[1:] == group[:-1])
        & standing[1:]
        & standing[:-1]
        & (np.diff(chainage) < SAMPLING.same_place)
    )
    place = offsets_from_starts(np.append(True, ~same))
    count = np.diff(place)
    x, y = _group_means(x, place), _group_means(y, place)
    chainage, group = chainage[place[:-1]], group[place[:-1]]
    heights = group_sum(np.isfinite(z).astype(float), place)
    with np.errstate(invalid="ignore", divide="ignore"):
        z = group_sum(np.where(np.isfinite(z), z, 0.0), place) / heights
    runs = int(group[-1]) + 1
    offsets = offsets_of(np.bincount(group, minlength=runs))
    noise = white_noise(x, y, offsets) if noise is None else noise
    variance = noise**2 * np.where(count > 1, 1 / count + STANDING.lean**2, 1.0)

    inside = group[1:] == group[:-1]
    step = np.hypot(np.diff(x), np.diff(y))
    steps = np.zeros(runs)
    np.maximum.at(steps, group[:-1][inside], (step - np.diff(chainage))[inside])
    typical = np.array(
        [
            np.median(part) if len(part) else 0.0
            for part in np.split(step[inside], np.cumsum(np.diff(offsets) - 1)[:-1])
        ]
    )
    closed = _rings(x, y, chainage, offsets, typical)
    z = _profile(chainage, z, offsets, typical[group])
    return Samples(x, y, z, variance, offsets, closed), noise, steps


def _group_means(values, place):
    """Means of groups, computed about the first value of each: large coordinates cost no digits."""
    first, count = values[place[:-1]], np.diff(place)
    return first + group_sum(values - np.repeat(first, count), place) / count


def _rings(x, y, chainage, offsets, typical):
    """Runs (mask) that end where they began; `typical`: the median step of each."""
    first, last = offsets[:-1], offsets[1:] - 1
    gap = np.hypot(x[first] - x[last], y[first] - y[last])
    closed = (
        (gap <= SAMPLING.ring_steps * typical)
        & (np.diff(offsets) > SAMPLING.ring_epochs)
        & (chainage[last] - chainage[first] > SAMPLING.ring_length * np.maximum(typical, gap))
    )
    # the closing step must continue the direction of travel at both ends: a run that passes its
    # start is no ring
    ring = np.flatnonzero(closed)
    a, b = first[ring], last[ring]
    for here, there in ((b - 2, b), (a, a + 2)):
        along = (x[a] - x[b]) * (x[there] - x[here]) + (y[a] - y[b]) * (y[there] - y[here])
        closed[ring] &= along > 0
    return closed


def _profile(chainage, z, offsets, spacing):
    """Heights of the fitted profile; NaN in runs without any height."""
    known = np.isfinite(z)
    noise = SAMPLING.default_noise
    i = (
        np.flatnonzero(
            known[:-2]
            & known[1:-1]
            & known[2:]
            & (group_index(offsets)[:-2] == group_index(offsets)[2:])
        )
        + 1
    )
    if len(i) >= SAMPLING.few:
        share = (chainage[i] - chainage[i - 1]) / np.maximum(
            chainage[i + 1] - chainage[i - 1], 1e-9
        )
        deviation = np.abs(z[i] - z[i - 1] - share * (z[i + 1] - z[i - 1])) / np.sqrt(
            1 + share**2 + (1 - share) ** 2
        )
        noise = max(MAD_TO_SIGMA * float(np.median(deviation)), SAMPLING.min_noise)
    variance = np.full(len(z), noise**2)
    spacing = np.maximum(spacing, SAMPLING.min_spacing)
    # chainages of a profile must increase noticeably
    apart = SAMPLING.knot_spacing * place_in_group(offsets)
    return fit_heights(chainage + apart, z, variance, offsets, spacing).profile.values[:, 0]
