"""Fall of the ground across runs, from heights where lines turn aside."""

import numpy as np
from numpy.testing import assert_allclose

from curbwright.sample_project import simulation as sim
from curbwright.shared.alignment.profile import fit_heights

NOISE = 0.017  # m, white, of one epoch
FALL = np.array([0.012, -0.02])
RECESSES = [("line", 8.0)] + 6 * [
    ("corner", 90),
    ("line", 1.6),
    ("corner", -90),
    ("line", 1.8),
    ("corner", -90),
    ("line", 1.6),
    ("corner", 90),
    ("line", 7.0),
]


def walked(parts, seed):
    """Chainages, places in plan, true heights on a plane, and observed ones."""
    truth = sim.chain("test", parts)
    s = np.arange(0.0, truth.length)
    places = truth.at(s)[:, :2]
    true = 3.0 + places @ FALL
    return s, places, true, true + np.random.default_rng(seed).normal(0, NOISE, len(s))


def fit(s, z, places=None):
    return fit_heights(
        s, z, np.full(len(s), NOISE**2), np.array([0, len(s)]), np.ones(len(s)), places=places
    )


def heights_of(fitted, places):
    return fitted.profile.values[:, 0] + places @ fitted.fall[0]


def test_sides_across_the_fall_have_the_heights_of_the_ground():
    plain, beside, inside, told = [], [], [], []
    for seed in range(20):
        s, places, true, z = walked(RECESSES, seed)
        fitted = fit(s, z, places)
        off = heights_of(fitted, places) - true
        plain.append(fit(s, z).profile.values[:, 0] - true)
        beside.append(off)
        inside.append(np.abs(off) < 1.96 * fitted.sigma)
        told.append(fitted.fall[0, 1])
    assert np.sqrt(np.mean(np.square(beside))) < 0.6 * np.sqrt(np.mean(np.square(plain)))
    assert np.mean(inside) > 0.93
    # a fall of 2 % across the walk, of which heights of six recesses leave half a percent open
    assert_allclose(np.mean(told), FALL[1], atol=0.004)


def test_a_straight_line_shows_no_fall_across_it():
    s, places, _, z = walked([("line", 90.0)], 1)
    fitted, plain = fit(s, z, places), fit(s, z)
    assert_allclose(fitted.fall, 0.0, atol=1e-9)
    assert_allclose(fitted.profile.values, plain.profile.values, atol=1e-9)


def test_where_it_lies_makes_no_difference():
    s, places, _, z = walked(RECESSES, 2)
    turn = np.array([[0.6, 0.8], [-0.8, 0.6]])
    one, other = fit(s, z, places), fit(s, z, places @ turn + [40.0, -70.0])
    assert_allclose(other.fall[0], one.fall[0] @ turn, atol=1e-9)
    assert_allclose(
        heights_of(other, places @ turn + [40.0, -70.0]), heights_of(one, places), atol=1e-9
    )
    assert_allclose(other.sigma, one.sigma, rtol=1e-6)
