"""Straight grades between breaks that are found."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.alignment import grades as fitted
from curbwright.shared.alignment.grades import fit_grades, refit
from curbwright.shared.tuning import GRADE_BREAKS

NOISE = 0.017


def fit(x, z, noise=NOISE, offsets=None, ring=None):
    offsets = np.array([0, len(x)]) if offsets is None else offsets
    return fit_grades(x, z, np.full(len(x), noise**-2.0), offsets, ring)


def along(grades, x, run=0):
    return grades.along(x, np.full(len(x), run))[0]


def hats(x, at):
    """Values at `x` of linear functions that are 1 at one knot and 0 at the others, shape (n,
    knots)."""
    return np.column_stack([np.interp(x, at, row) for row in np.eye(len(at))])


def cost(x, z, at, noise=NOISE):
    design = hats(x, at) / noise
    rest = z / noise - design @ np.linalg.lstsq(design, z / noise, rcond=None)[0]
    return rest @ rest + GRADE_BREAKS.break_penalty * (len(at) - 2)


def breaks(grades, run=0):
    return grades.at[grades.run == run][1:-1]


def hilly(seed, count=120, noise=NOISE):
    rng = np.random.default_rng(seed)
    x = np.cumsum(rng.uniform(0.4, 1.6, count))
    knots = np.sort(rng.uniform(0.1, 0.9, 5)) * x[-1]
    z = np.interp(x, np.r_[x[0], knots, x[-1]], rng.uniform(-0.4, 0.4, 7))
    return x, z + rng.normal(0, noise, count), z


# --- breaks
# ------------------------------------------------------------------------------------------------


def test_heights_that_are_all_the_same_take_a_few_rounds(monkeypatch):
    """Their breaks earn the same, nothing: one after the other they would go in as many rounds."""
    rounds, solve = [], fitted._solve

    def counted(*given):
        rounds.append(given)
        return solve(*given)

    monkeypatch.setattr(fitted, "_solve", counted)
    x = np.arange(4000.0)
    grades = fit(x, np.where(x < 2000, 0.0, 0.1 * (x - 2000)))
    assert_allclose(breaks(grades), [2000], atol=0.05)
    level = fit(x, np.zeros(4000))
    assert not breaks(level).size
    assert len(rounds) < 60


@pytest.mark.parametrize("place", [40.0, 40.02, 40.3, 40.6667, 40.95])
def test_without_noise_a_break_is_found_where_it_is(place):
    x = np.arange(80.0)
    z = np.interp(x, [0, place, 79], [1.0, 2.0, 0.5])
    grades = fit(x, z, noise=0.001)
    assert_allclose(breaks(grades), [place], atol=0.02)
    assert_allclose(along(grades, x), z, atol=0.001)


def test_one_straight_grade_has_no_break():
    x = np.arange(0.0, 300.0, 1.2)
    grades = fit(x, 0.03 * x)
    assert_allclose(grades.at, x[[0, -1]])
    assert_allclose(along(grades, x), 0.03 * x, atol=1e-9)


def test_noise_alone_makes_few_breaks():
    x = np.arange(0.0, 120.0, 1.2)
    found = [
        len(breaks(fit(x, np.random.default_rng(seed).normal(0, NOISE, len(x)))))
        for seed in range(40)
    ]
    assert np.mean(found) < 0.25


@pytest.mark.parametrize("seed", range(6))
def test_each_break_earns_its_price(seed):
    x, z, _ = hilly(seed)
    at = fit(x, z).at
    whole = cost(x, z, at)
    assert len(at) > 4
    for number in range(1, len(at) - 1):
        assert cost(x, z, np.delete(at, number)) > whole - 1e-6


@pytest.mark.parametrize("seed", range(6))
def test_true_breaks_cost_no_less(seed):
    # Those found explain the noisy heights about as well as the true ones do.
    rng = np.random.default_rng(seed)
    x = np.arange(0.0, 100.0, 1.2)
    true = np.array([0.0, 25.0, 60.0, x[-1]])
    z = np.interp(x, true, [0.0, 0.8, 0.1, 1.2]) + rng.normal(0, NOISE, len(x))
    assert cost(x, z, fit(x, z).at) < cost(x, z, true) + 3


def test_grades_are_no_shorter_than_the_shortest():
    for seed in range(6):
        x, z, _ = hilly(seed)
        assert np.diff(fit(x, z).at).min() >= GRADE_BREAKS.min_length - 1e-9


# --- least squares
# ------------------------------------------------------------------------------------------------


def test_variances_are_those_of_the_normal_equations():
    x, z, _ = hilly(1)
    weight = np.random.default_rng(2).uniform(500, 5000, len(x))
    at = np.array([x[0], x[20], (x[50] + x[51]) / 2, x[90], x[-1]])
    grades = refit(x, z, weight, at, np.zeros(5, int))
    design = hats(x, at)
    inverse = np.linalg.inv(design.T @ (weight[:, None] * design))
    assert_allclose(grades.value, inverse @ design.T @ (weight * z), atol=1e-9)
    assert_allclose(grades.variance, np.diag(inverse), rtol=1e-8)
    assert_allclose(grades.next_covariance[:-1], np.diag(inverse, 1), rtol=1e-7, atol=1e-12)
    _, slope, variance = grades.along(x, np.zeros(len(x), int))
    assert_allclose(variance, np.einsum("ij,jk,ik->i", design, inverse, design), rtol=1e-7)
    assert_allclose(slope[:20], (grades.value[1] - grades.value[0]) / (at[1] - at[0]))


def test_runs_do_not_touch():
    parts = [hilly(seed, count) for seed, count in ((0, 80), (1, 3), (2, 1), (3, 2), (4, 120))]
    shift = np.cumsum([0.0] + [x[-1] + 1.0 for x, _, _ in parts])
    x = np.concatenate([part[0] + lift for part, lift in zip(parts, shift)])
    z = np.concatenate([part[1] for part in parts])
    offsets = np.cumsum([0] + [len(part[0]) for part in parts])
    together = fit(x, z, offsets=offsets)
    for number, (px, pz, _) in enumerate(parts):
        alone = fit(px, pz)
        mine = together.run == number
        assert_allclose(together.at[mine] - shift[number], alone.at, atol=1e-9)
        assert_allclose(together.value[mine], alone.value, atol=1e-9)
        assert_allclose(together.variance[mine], alone.variance, rtol=1e-6)


def test_knots_without_observations_are_named():
    with pytest.raises(ValueError, match="observation"):
        refit(
            np.array([0.0, 1.0, 9.0, 10.0]),
            np.zeros(4),
            np.ones(4),
            np.array([0.0, 3.0, 4.0, 5.0, 10.0]),
            np.zeros(5, int),
        )


def test_ten_epochs_a_second_find_the_same_breaks():
    x = np.arange(0.0, 60.0, 0.12)
    z = np.interp(x, [0, 21.3, 38.7, 60], [0.0, 0.6, 0.2, 0.9]) + np.random.default_rng(0).normal(
        0, NOISE, len(x)
    )
    assert_allclose(breaks(fit(x, z)), [21.3, 38.7], atol=0.5)


def test_beyond_its_ends_a_grade_goes_on():
    grades = fit(np.arange(10.0, 40.0), 0.1 * np.arange(10.0, 40.0))
    assert_allclose(along(grades, np.array([5.0, 50.0])), [0.5, 5.0], atol=1e-9)


@given(
    steps=st.lists(
        st.sampled_from([1e-6, 0.01, 0.3, 0.6, 1.2, 5.0, 40.0]), min_size=1, max_size=40
    ),
    seed=st.integers(0, 99),
    closing=st.sampled_from([None, 1e-6, 0.5, 8.0]),
)
def test_any_spacing_has_a_solution(steps, seed, closing):
    rng = np.random.default_rng(seed)
    x = np.cumsum([0.0, *steps])
    z = np.repeat(rng.normal(0, 0.3, len(x)), 3)[: len(x)] + rng.normal(0, NOISE, len(x))
    ring = None if closing is None or len(x) < 3 else np.array([x[-1] + closing])
    grades = fit(x, z, ring=ring)
    assert np.isfinite(grades.value).all() and (grades.variance > 0).all()
    assert (np.diff(grades.at) > 0).all()
    assert np.isfinite(along(grades, x)).all()


@pytest.mark.parametrize("weight", [0.0, -1.0, np.nan, np.inf])
def test_bad_weights_are_named(weight):
    with pytest.raises(ValueError, match="weights"):
        fit_grades(np.arange(20.0), np.zeros(20), np.full(20, weight), np.array([0, 20]))


# --- rings
# ------------------------------------------------------------------------------------------------


def circuit(seed, length=60.0, count=50, lift=9.0, noise=NOISE):
    rng = np.random.default_rng(seed)
    x = np.sort(rng.uniform(0, length - 1, count))

    def true(s):
        return np.interp((s + lift) % length, [0, 20, 40, length], [0, 0.4, 0.1, 0])

    return x, true(x) + rng.normal(0, noise, count), true


@pytest.mark.parametrize("seed", range(5))
def test_a_ring_closes_without_a_kink(seed):
    x, z, true = circuit(seed)
    ring = np.array([x[0] + 60.0]) - x[0]
    grades = fit(x, z, ring=ring)
    assert grades.at[-1] == pytest.approx(x[0] + 60.0)
    assert grades.value[-1] == pytest.approx(grades.value[0], abs=1e-9)
    assert grades.variance[-1] == pytest.approx(grades.variance[0], rel=1e-6)
    assert np.sqrt(np.mean((along(grades, x) - true(x)) ** 2)) < NOISE
    change = np.diff(grades.value)[[0, -1]] / np.diff(grades.at)[[0, -1]]
    design = hats(x, grades.at)
    tie = np.zeros((1, len(grades.at)))
    tie[0, [0, -1]] = 1, -1
    if abs(change[0] - change[1]) < 1e-9:  # no break at the seam: a second condition
        straight = np.zeros(len(grades.at))
        for knot, share in ((1, 1 / np.diff(grades.at)[0]), (-2, 1 / np.diff(grades.at)[-1])):
            straight[knot] += share
            straight[0] -= share
        tie = np.vstack([tie, straight])
    none = np.zeros((len(tie), len(tie)))
    kkt = np.block([[design.T @ design / NOISE**2, tie.T], [tie, none]])
    solution = np.linalg.solve(kkt, np.r_[design.T @ z / NOISE**2, np.zeros(len(tie))])
    assert_allclose(grades.value, solution[: len(grades.at)], atol=1e-7)
    assert_allclose(grades.variance, np.diag(np.linalg.inv(kkt))[: len(grades.at)], rtol=1e-5)


def test_most_seams_on_a_grade_have_no_kink():
    straight = 0
    for seed in range(20):
        x, z, _ = circuit(seed)
        grades = fit(x, z, ring=np.array([60.0]))
        slope = np.diff(grades.value) / np.diff(grades.at)
        straight += abs(slope[0] - slope[-1]) < 1e-9
    assert straight >= 16


def test_a_break_at_the_seam_is_kept():
    x, z, _ = circuit(0, lift=0.0, noise=0.003)
    grades = fit(x, z, noise=0.003, ring=np.array([60.0]))
    slope = np.diff(grades.value) / np.diff(grades.at)
    assert slope[0] == pytest.approx(0.02, abs=0.005) and slope[-1] == pytest.approx(
        -0.005, abs=0.005
    )


def test_a_ring_beside_an_open_run():
    x, z, _ = circuit(3)
    px, pz, _ = hilly(3)
    offsets = np.array([0, len(px), len(px) + len(x)])
    lift = px[-1] + 1.0
    both = fit(np.r_[px, x + lift], np.r_[pz, z], offsets=offsets, ring=np.array([np.nan, 60.0]))
    assert_allclose(both.value[both.run == 0], fit(px, pz).value, atol=1e-9)
    assert_allclose(both.value[both.run == 1], fit(x, z, ring=np.array([60.0])).value, atol=1e-9)
    assert_array_equal(np.unique(both.run), [0, 1])
