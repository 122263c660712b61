"""Feet of positions as means over all chains of elements."""

import numpy as np
import pytest
import shapely
from epochwalks import along
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment.mean_feet import with_mean_feet
from curbwright.shared.alignment.search import fit_elements, fit_spans, project
from curbwright.shared.tuning import SEARCH, override

SIGMA = 0.01
BENDS = [part for turn in (5, -5, -5, 5) * 8 for part in (("line", 3.3), ("corner", turn))]


def mean_of(x, y, pieces=None, wanted=None):
    pieces = np.array([0, len(x)]) if pieces is None else pieces
    wanted = np.ones(len(x), bool) if wanted is None else wanted
    variance = np.full(len(x), SIGMA**2)
    return with_mean_feet(np.column_stack([x, y]), x, y, variance, pieces, wanted)


def chains(count):
    """Bounds of all chains of so many positions."""
    for cuts in range(2 ** (count - 1)):
        inner = [k + 1 for k in range(count - 1) if cuts >> k & 1]
        yield np.array([0, *inner, count])


@pytest.mark.parametrize("seed", range(3))
def test_equals_the_mean_over_every_chain(seed):
    x, y = along([("line", 4.3), ("corner", 4.0), ("line", 4.0)], SIGMA, seed, step=1.0)
    weight = np.full(len(x), SIGMA**-2)
    costs, feet = [], []
    with override(SEARCH__arc_penalty=1e9):  # Kasa's circles have no exact sum of squares
        for bounds in chains(len(x)):
            elements = fit_spans(x, y, weight, bounds, SEARCH.radii, geometric=False)
            costs.append(elements.chi.sum() + SEARCH.tangent_penalty * len(elements))
            feet.append(project(elements, x, y))
        share = np.exp((min(costs) - np.array(costs)) / 2)
        expected = np.tensordot(share, np.array(feet), 1) / share.sum()
        assert share.sum() > 1.2  # several are likely
        assert_allclose(mean_of(x, y), expected, atol=0.1 * SIGMA)
        with override(MEAN_FEET__least=0.0):
            assert_allclose(mean_of(x, y), expected, atol=1e-7)


def test_nearer_to_gentle_bends_than_the_chain_that_costs_least():
    truth = shapely.linestrings(np.column_stack(along(BENDS, step=0.05)))
    square = np.zeros(2)
    for seed in range(6):
        x, y = along(BENDS, SIGMA, seed)
        elements = fit_elements(x, y, np.full(len(x), SIGMA**2), np.array([0, len(x)]))
        for number, feet in enumerate((project(elements, x, y), mean_of(x, y))):
            square[number] += (shapely.distance(truth, shapely.points(feet)) ** 2).sum()
    assert square[1] < 0.9 * square[0]


def test_others_keep_their_feet_and_no_element_crosses_a_bound():
    x, y = along(BENDS, SIGMA, 1)
    wanted = np.arange(len(x)) // 7 % 2 == 1
    feet = mean_of(x, y, wanted=wanted)
    assert_array_equal(feet[~wanted], np.column_stack([x, y])[~wanted])
    assert (feet != np.column_stack([x, y]))[wanted].any(axis=1).mean() > 0.9
    apart = mean_of(x, y, np.array([0, 30, len(x)]))
    alone = [mean_of(x[part], y[part]) for part in (slice(30), slice(30, None))]
    assert_allclose(apart, np.concatenate(alone), atol=1e-12)
    assert_array_equal(mean_of(x, y, wanted=np.zeros(len(x), bool)), np.column_stack([x, y]))


def test_a_run_alone_has_the_digits_that_it_has_beside_others():
    rng = np.random.default_rng(1)
    for _ in range(8):
        bent = np.cumsum(np.cumsum(rng.normal(0, 0.1, 40)))
        x, y = np.tile(np.arange(40) * 1.2, 2), np.append(bent, bent[::-1])
        feet, variance, wanted = np.column_stack([x, y]), np.full(80, 1e-4), np.ones(80, bool)
        both = with_mean_feet(feet, x, y, variance, np.array([0, 40, 80]), wanted)
        one = [values[:40] for values in (feet, x, y, variance)]
        alone = with_mean_feet(*one, np.array([0, 40]), wanted[:40])
        assert_array_equal(alone, both[:40])


def test_far_coordinates_lose_no_digits():
    x, y = along(BENDS, SIGMA, 2)
    there = mean_of(x + 5e5, y + 4e6) - [5e5, 4e6]
    assert_allclose(there, mean_of(x, y), atol=1e-7)
