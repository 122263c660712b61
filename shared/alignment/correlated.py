"""Uncertainty of fitted chains under correlated noise."""

from dataclasses import dataclass, replace

import numpy as np

from ..arrays.ragged import group_index, offsets_of, running_sum
from ..tuning import MEMORY
from .adjustment import PAIRS, covariances, recentre
from .fit import across
from .moments import Moments


@dataclass(frozen=True)
class Noise:
    """Noise of positions across the line: white noise plus a first-order Gauss-Markov process;
    arrays of shape (m,).

    Attributes
    ----------
    white : float
        Variance of the white part, m2.
    remembered : float
        Variance of the Gauss-Markov part, m2.
    kept : float
        Correlation of that part with the position before, 0 to 1; meaningless for the first
        position of a run.
    """

    white: np.ndarray
    remembered: np.ndarray
    kept: np.ndarray


def correlated_sigmas(chains, x, y, weight, noises):
    """1-sigma of chains across their direction, at each position, for each of several noises.

    Parameters
    ----------
    chains : Chains
    x, y : ndarray of float, shape (m,)
        Positions, metres.
    weight : ndarray of float, shape (m,)
        Weights of the fit, 1/m2.
    noises : sequence of Noise

    Returns
    -------
    list of ndarray of float, shape (m,)
        Metres.

    Notes
    -----
    With the normal matrix N = A' W A of a chain and its joints, and the covariance C of the noise,
    the unknowns have the covariance N^-1 (A' W C W A) N^-1. Correlation is propagated within
    elements and between neighbouring ones; beyond these it is neglected.
    """
    offsets, bounds, primitives, smooth = _explaining(chains)
    base = bounds[offsets[:-1]]
    of_run = group_index(offsets)
    near = base[group_index(bounds[offsets])]
    bx, by = x[base][of_run], y[base][of_run]
    x, y = x - x[near], y - y[near]  # far coordinates would cost digits
    moments = Moments.of(x, y, weight, bounds)
    primitives = recentre(replace(primitives, x=primitives.x - bx, y=primitives.y - by), moments)
    gradient = _gradient(primitives, x, y, group_index(bounds)) * weight
    shared = []
    for noise in noises:
        own, onward = _shared_sums(gradient, bounds, noise)
        onward[offsets[1:] - 1] = 0.0  # nor across the seam of a ring, one joint of many
        shared.append((own, onward))
    known = covariances(
        moments, primitives, smooth, offsets, chains.closed, [*map(np.stack, zip(*shared))]
    )
    return across(primitives, bounds, x, y, known)[1]


def _explaining(chains):
    """Offsets, bounds, primitives and tangential joints of the elements that explain positions."""
    some = np.diff(chains.bounds) > 0
    bounds = np.append(chains.bounds[:-1][some], chains.bounds[-1])
    return (
        offsets_of(some)[chains.offsets],
        bounds,
        chains.primitives.take(some),
        chains.smooth[some],
    )


def _shared_sums(gradient, bounds, noise):
    """Covariance of the right-hand side A' W e of the normal equations, of each element and of each
    with the next one, shape (elements, 3, 3) each; `gradient`, (3, m), is weighted.

    A Gauss-Markov process needs no sums over pairs: the covariance of a position with all before
    it follows recursively from that of the position before, by the factor `kept`.
    """
    first, last = bounds[:-1], bounds[1:] - 1
    remembered = gradient * np.sqrt(noise.remembered)
    kept = noise.kept.copy()
    between = kept[first]
    kept[first] = 0.0
    before = _gathered(remembered, kept)
    alone, pairs = gradient * (noise.white + noise.remembered), before - remembered
    own = np.empty((len(first), 3, 3))
    for i, j in PAIRS:
        products = alone[i] * gradient[j] + remembered[i] * pairs[j] + pairs[i] * remembered[j]
        own[:, i, j] = own[:, j, i] = np.add.reduceat(products, first)
    # correlation of each position with the first one of its element
    fading = np.exp(running_sum(np.log(np.maximum(np.where(kept > 0, kept, 1.0), 1e-30)), bounds))
    later = between * np.stack([np.add.reduceat(row * fading, first) for row in remembered])
    onward = np.zeros_like(own)
    onward[:-1] = before[:, last[:-1]].T[:, :, None] * later[:, 1:].T[:, None, :]
    return own, onward


def _gradient(primitives, x, y, owner):
    """Derivatives of the distances of positions by shift, turn and curvature of their elements,
    shape (3, m); 0 for the curvature of a tangent, which is no unknown."""
    ux, uy, k = (getattr(primitives, name)[owner] for name in ("ux", "uy", "curvature"))
    dx, dy = x - primitives.x[owner], y - primitives.y[owner]
    t, n = ux * dx + uy * dy, ux * dy - uy * dx
    return np.stack([k * n - 1, -t, np.where(k != 0, -(t * t + n * n) / 2, 0.0)])


def _gathered(values, kept):
    """Sums y_i = values_i + kept_i y_(i-1) along rows by doubling; `kept` is 0 where a group
    begins."""
    out, reach = values.copy(), 1
    while reach < out.shape[1] and kept.any():
        out[:, reach:] += kept[reach:] * out[:, :-reach]
        kept = np.append(np.zeros(reach), kept[reach:] * kept[:-reach])
        kept[kept < MEMORY.forgotten] = 0.0  # ends the doubling, in each group by itself
        reach *= 2
    return out
