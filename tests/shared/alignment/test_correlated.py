"""Covariance of chains whose positions share their noise, beside the same by plain matrices."""

import numpy as np
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.correlated import Noise, correlated_sigmas
from curbwright.shared.alignment.fit import fit_chains
from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.tuning import ROBUST, SEARCH

SIGMA = 0.012
STEP = 0.125  # m and s


def bend(count=96, radius=6.0, seed=3):
    """Positions along a tangent, an arc and a tangent, with a little noise, far from the origin."""
    s = (np.arange(count) + 0.5) * STEP
    first = count * STEP / 3
    angle = np.clip((s - first) / radius, 0, first / radius)
    beyond = np.maximum(s - 2 * first, 0)
    x = np.minimum(s, first) + radius * np.sin(angle) + beyond * np.cos(angle)
    y = radius * (1 - np.cos(angle)) + beyond * np.sin(angle)
    off = np.random.default_rng(seed).normal(0, 0.001, (2, count))
    return np.array([x, y]) + off + np.array([[3e5], [6e6]])


def covariance_of(noise):
    """Of the positions of one run, shape (m, m)."""
    fading = np.cumsum(np.log(np.append(1.0, noise.kept[1:])))
    shared = np.exp(-np.abs(fading[:, None] - fading))
    root = np.sqrt(noise.remembered)
    return shared * root * root[:, None] + np.diag(noise.white)


def remembered(count, white=0.3, time=0.5):
    """The noise of a stream of 8 Hz, with one pause and one epoch that is worse."""
    noise = Noise(*(np.full(count, value) for value in (white, 1 - white, np.exp(-STEP / time))))
    noise.white[count // 4] *= 9
    noise.kept[count // 3] **= 8
    return Noise(SIGMA**2 * noise.white, SIGMA**2 * noise.remembered, noise.kept)


def fitted(x, y):
    offsets = np.array([0, x.shape[-1]]) if x.ndim == 1 else np.arange(len(x) + 1) * x.shape[-1]
    variance = np.full(x.size, SIGMA**2)
    return fit_chains(x.ravel(), y.ravel(), variance, offsets), offsets


def correlated_sigma(chains, x, y, weight, noise):
    """Of one noise, with another one beside it."""
    other = remembered(len(x), 0.1, 2.0)
    one, _, again = correlated_sigmas(chains, x, y, weight, [noise, other, noise])
    assert_array_equal(one, again)
    return one


def weights(chains):
    scale = SIGMA * SEARCH.element_noise
    far = np.maximum(np.abs(chains.residual) / scale, 1e-9)
    return np.minimum(ROBUST.huber_sigmas / far, 1.0) / scale**2


def test_white_noise_gives_the_sigma_of_the_adjustment():
    x, y = bend()
    chains, _ = fitted(x, y)
    white = np.full(len(x), (SIGMA * SEARCH.element_noise) ** 2)
    noise = Noise(white, 0 * white, 0 * white + 0.9)
    # joints, which the adjustment takes for observations of 0.1 mm, are exact here
    assert_allclose(correlated_sigma(chains, x, y, weights(chains), noise), chains.sigma, rtol=1e-3)


def test_a_straight_line_has_the_covariance_of_its_normal_equations():
    x, y = np.arange(40) * STEP, np.zeros(40)
    chains, _ = fitted(x, y)
    noise = remembered(40)
    design = np.column_stack([np.ones(40), x - x.mean()])
    hat = design @ np.linalg.inv(design.T @ design) @ design.T
    expected = np.sqrt(np.diag(hat @ covariance_of(noise) @ hat.T))
    assert_allclose(correlated_sigma(chains, x, y, weights(chains), noise), expected, rtol=1e-5)


def test_noise_goes_through_tangents_and_arcs_as_through_their_fit():
    x, y = bend()
    m = len(x)
    chains, _ = fitted(x, y)
    assert list(chains.turn) == [0, 1, 0] and chains.smooth[:2].all()
    noise = remembered(m)
    # how each foot moves across when a position is moved across
    owner = group_index(chains.bounds)
    _, way = chains.at(chains.chainage - np.append(0, np.cumsum(chains.length))[owner], owner)
    normal, push = np.column_stack([-way[:, 1], way[:, 0]]), 1e-4
    moves = push * np.concatenate([np.eye(m), -np.eye(m)])
    both, _ = fitted(x + moves * normal[:, 0], y + moves * normal[:, 1])
    assert (np.diff(both.offsets) == 3).all()
    feet = both.feet.reshape(2, m, m, 2)
    moved = ((feet[0] - feet[1]) * normal).sum(axis=2) / (2 * push)
    expected = np.sqrt(np.diag(moved.T @ covariance_of(noise) @ moved))
    sigma = correlated_sigma(chains, x, y, weights(chains), noise)
    # positions move the elements that they belong to; what these share with the second next is left
    assert_allclose(sigma, expected, rtol=0.01)
    assert np.median(sigma / chains.sigma) > 1.5


def test_runs_do_not_see_each_other():
    x, y = bend()
    noise = remembered(len(x))
    alone, _ = fitted(x, y)
    both, _ = fitted(np.stack([x + 50, x]), np.stack([y, y]))
    twice = Noise(*(np.tile(values, 2) for values in (noise.white, noise.remembered, noise.kept)))
    sigma = correlated_sigma(
        both, np.tile(x, 2) + np.repeat([50, 0], len(x)), np.tile(y, 2), weights(both), twice
    )
    own = correlated_sigma(alone, x, y, weights(alone), noise)
    assert (sigma[len(x) :] == own).all()


def test_rings_are_as_sure_all_round():
    count = 240
    angle = 2 * np.pi * np.arange(count) / count
    x, y = 5 * np.cos(angle), 5 * np.sin(angle)
    chains = fit_chains(x, y, np.full(count, SIGMA**2), np.array([0, count]), np.array([True]))
    sigma = correlated_sigma(chains, x, y, weights(chains), remembered(count))
    assert (sigma > chains.sigma).all() and sigma.max() < 1.2 * sigma.min()
