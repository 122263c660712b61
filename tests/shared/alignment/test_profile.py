"""Vertical profiles: grades, breaks, doubtful heights, gaps and rings."""

import numpy as np
import pytest
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.alignment.profile import fit_heights
from curbwright.shared.arrays.spline import Spline
from curbwright.shared.tuning import PROFILES

STEP = 1.2
NOISE = 0.017  # m, white, of one epoch


def fit(s, z, variance=NOISE**2, offsets=None, **ring):
    offsets = np.array([0, len(s)]) if offsets is None else np.asarray(offsets)
    variance = np.broadcast_to(np.asarray(variance, float), len(s))
    return fit_heights(
        np.asarray(s, float), np.asarray(z, float), variance, offsets, np.full(len(s), STEP), **ring
    )


def walked(shape, seed=0, count=90, noise=NOISE, step=STEP):
    s = step * np.arange(count)
    return s, shape(s) + np.random.default_rng(seed).normal(0, noise, count)


def values(heights):
    return heights.profile.values[:, 0]


def between(heights, s):
    """Profile at any chainage of a single run."""
    knots = heights.profile.s
    k = np.clip(np.searchsorted(knots, s, "right") - 1, 0, len(knots) - 2)
    return heights.profile.at(k, (s - knots[k]) / (knots[k + 1] - knots[k]))[:, 0]


def break_places(heights):
    k = heights.profile.break_interval
    s = heights.profile.s
    return s[k] + heights.profile.break_share * (s[np.minimum(k + 1, len(s) - 1)] - s[k])


def rms(x):
    return np.sqrt(np.mean(np.square(x)))


def plain(s):
    return 3.0 + 0.02 * s


def crest(s):
    return 10.0 + np.interp(s, [0, 50, 108], [0, 2.0, 0.5])


# --- grades
# ------------------------------------------------------------------------------------------------


def test_a_plain_grade_is_smoothed_far():
    fits = [(s, fit(s, z)) for s, z in (walked(plain, seed) for seed in range(20))]
    errors = [values(heights) - plain(s) for s, heights in fits]
    # a line fitted to 90 heights leaves sqrt(2 / 90) of the noise
    assert rms(errors) < 0.25 * NOISE
    assert np.mean([len(heights.profile.break_interval) for _, heights in fits]) < 0.25


def test_slope_rises_in_the_direction_of_travel():
    s, z = walked(plain, 1)
    there, back = fit(s, z), fit(s, z[::-1])
    assert_allclose(there.slope, 0.02, atol=0.001)
    assert_allclose(back.slope, -there.slope[::-1], atol=1e-9)
    assert_allclose(values(back), values(there)[::-1], atol=1e-9)


def test_slope_changes_at_a_break():
    s, z = walked(crest, 2)
    heights = fit(s, z)
    assert_allclose(break_places(heights), [50.0], atol=2.5)
    assert_allclose(heights.profile.break_height, 12.0, atol=0.06)
    assert_allclose(heights.slope[s < 45], 0.04, atol=0.002)
    assert_allclose(heights.slope[s > 55], -1.5 / 58, atol=0.002)
    assert_allclose(
        np.diff(values(heights))[s[:-1] < 45], STEP * heights.slope[:-1][s[:-1] < 45], atol=1e-9
    )


def test_a_profile_is_a_spline_with_its_breaks_between_the_positions():
    s, z = walked(crest, 3, noise=0.001)
    heights = fit(s, z, 0.001**2)
    profile = heights.profile
    assert isinstance(profile, Spline) and profile.values.shape == (90, 1)
    inside = profile.break_share > 0
    assert inside.any() and ((profile.break_share >= 0) & (profile.break_share < 1)).all()
    assert (np.diff(break_places(heights)) > 0).all()
    assert_allclose(
        profile.at(profile.break_interval, profile.break_share)[:, 0],
        profile.break_height,
        atol=1e-9,
    )
    k = np.arange(89)
    assert_allclose(profile.at(k, np.zeros(89)), profile.values[:-1], atol=1e-9)
    assert_allclose(profile.at(k, np.ones(89)), profile.values[1:], atol=1e-9)
    assert_allclose(
        between(heights, np.linspace(0, 105, 999)), crest(np.linspace(0, 105, 999)), atol=0.002
    )


def test_far_from_zero_nothing_changes():
    s, z = walked(crest, 4)
    near, far = fit(s, z), fit(s, z + 8000.0)
    assert_allclose(values(far) - 8000.0, values(near), atol=1e-6)
    assert_allclose(far.sigma, near.sigma, rtol=1e-6)


def test_runs_do_not_touch():
    s, z = walked(crest, 5)
    both = fit(np.r_[s, s[:40], s], np.r_[z, z[:40] + 7, z - 3], offsets=[0, 90, 130, 220])
    assert_allclose(values(both)[:90], values(fit(s, z)), atol=1e-9)
    assert_allclose(values(both)[90:130], values(fit(s[:40], z[:40])) + 7, atol=1e-9)
    assert_allclose(both.slope[130:], both.slope[:90], atol=1e-9)
    assert_allclose(both.sigma[130:], both.sigma[:90], rtol=1e-6)
    size = len(fit(s, z).profile.break_interval)
    assert_array_equal(
        both.profile.break_interval[-size:] - 130, both.profile.break_interval[:size]
    )


# --- dropped curbs
# ------------------------------------------------------------------------------------------------


def dropped(seed, depth=0.12, ramp=1.5, flat=3.0, noise=1.0):
    """A simulated walk at 1 Hz over a dropped curb; its heights, its truth and the fit."""
    rng = np.random.default_rng(seed)
    truth = sim.chain(
        "line",
        [("line", 100.0)],
        ground=(5.0, 0.02, 0.0),
        drops=[(rng.uniform(30, 60), flat, depth, ramp)],
    )
    walk = sim.walk(truth, rng, disturbances=sim.Disturbances.none(), noise=noise)
    heights = fit(walk.true_chainage, walk.z, (noise * sim.UP_FACTOR * sim.WHITE_SIGMA) ** 2)
    knots = truth.drops[:, 0]
    beside = 5.0 + 0.02 * knots.mean()
    middle = between(heights, knots.mean(keepdims=True))[0]
    off = np.abs(break_places(heights)[:, None] - knots).min(axis=0, initial=100.0)
    fine = np.arange(1.0, 99.0, 0.05)
    error = between(heights, fine) - truth.at(fine)[:, 2]
    return beside - middle, off, error[(fine < knots[0] - 2) | (fine > knots[-1] + 2)]


@pytest.mark.one_in(2)
@pytest.mark.parametrize("depth", [0.10, 0.15])
def test_dropped_curb_is_kept(depth):
    # 100 to 150 mm over ramps of 1 to 2 m: common practice, no source. At 1 Hz one or two epochs
    # lie on each ramp; their noise of 17 mm (and 7.5 mm that stays the same all along) puts the
    # limits.
    depths, off, beside = zip(*(dropped(seed, depth) for seed in range(24)))
    error = np.array(depths) - depth
    assert np.abs(error).max() < 0.06
    assert abs(np.mean(error)) < 0.025 and np.std(error) < 0.025
    outer = np.array(off)[:, [0, 3]]  # where the ramps begin and end at full height
    assert np.median(outer) < 0.6 and np.quantile(outer, 0.9) < 1.6 and outer.max() < 4
    assert np.quantile(off, 0.9) < 2.5
    assert rms(np.concatenate(beside)) < 0.65 * sim.UP_FACTOR * 0.0124


@pytest.mark.one_in(2)
@pytest.mark.parametrize("depth", [0.10, 0.15])
def test_most_of_the_shortest_drops_are_kept(depth):
    # Two or three epochs in all, one of them at full depth: hardly to be told from a wrong height.
    depths = np.array([dropped(seed, depth, 1.0, 1.2)[0] for seed in range(40)])
    assert np.mean(depths < depth / 2) <= 0.15
    assert np.median(depths) == pytest.approx(depth, abs=0.02)


def test_with_little_noise_a_dropped_curb_is_exact():
    # The one or two epochs on a ramp leave its ends some room.
    for seed in range(6):
        depth, off, beside = dropped(seed, noise=0.05)
        assert depth == pytest.approx(0.12, abs=0.003)
        assert off[[0, 3]].max() < 0.3 and off.max() < 0.6 and np.abs(beside).max() < 0.003


# --- doubtful heights
# -----------------------------------------------------------------------------------------------


@pytest.mark.one_in(3)
@pytest.mark.parametrize("place", [0, 1, 44, 88, 89])
@pytest.mark.parametrize("size", [0.2, -0.4, 5.0])
def test_a_spike_has_no_say(place, size):
    # Where the neighbours happen to disagree, a spike at an end may pass.
    errors, kept = [], []
    for seed in range(20):
        s, z = walked(plain, seed)
        z[place] = plain(s[place]) + size
        heights = fit(s, z)
        errors.append(np.abs(values(heights) - plain(s)).max())
        kept.append(heights.variance[place] < 4 * NOISE**2)
        assert np.median(np.delete(heights.variance, place)) == pytest.approx(NOISE**2)
    assert np.quantile(errors, 0.85) < 0.04
    assert np.mean(kept) <= 0.15
    assert size < 1 or not any(kept)
    assert place != 44 or np.max(errors) < 0.03


def test_many_spikes():
    rng = np.random.default_rng(7)
    s, z = walked(crest, 7, 300)
    hit = np.sort(rng.choice(np.arange(0, 300, 6), 25, replace=False))
    z[hit] += rng.choice([-1, 1], 25) * rng.uniform(0.15, 1.0, 25)
    assert rms(values(fit(s, z)) - crest(s)) < 0.5 * NOISE


def test_the_last_height_may_be_on_a_ramp():
    s, z = walked(plain, 8, noise=0.002)
    z[-1] -= 0.8 * PROFILES.end_step
    assert_allclose(fit(s, z, 0.002**2).variance[-1], 0.002**2, rtol=1.0)


def test_long_tails_hardly_matter():
    errors = []
    for seed in range(10):
        s = STEP * np.arange(90)
        z = plain(s) + 0.7 * NOISE * np.random.default_rng(seed).standard_t(3, 90)
        errors.append(values(fit(s, z)) - plain(s))
    assert rms(errors) < 0.4 * NOISE


# --- missing heights
# ------------------------------------------------------------------------------------------------


def test_no_heights():
    heights = fit(STEP * np.arange(8), np.full(8, np.nan), offsets=[0, 5, 8])
    for column in (values(heights), heights.sigma, heights.slope):
        assert np.isnan(column).all()
    assert np.isinf(heights.variance).all() and not len(heights.profile.break_interval)
    assert np.isnan(heights.profile.at(np.array([0, 5]), np.array([0.5, 0.5]))).all()


def test_nothing_at_all():
    heights = fit(np.zeros(0), np.zeros(0), offsets=[0])
    assert heights.profile.values.shape == (0, 1) and heights.sigma.shape == (0,)


def test_some_runs_without_heights():
    s, z = walked(crest, 9)
    none = np.full(90, np.nan)
    mixed = fit(np.r_[s, s, s], np.r_[none, z, none], offsets=[0, 90, 180, 270])
    assert_allclose(values(mixed)[90:180], values(fit(s, z)), atol=1e-9)
    assert np.isnan(values(mixed)[:90]).all() and np.isnan(mixed.slope[180:]).all()
    assert (mixed.profile.break_interval >= 90).all() and (mixed.profile.break_interval < 180).all()


@pytest.mark.parametrize("missing", ["z", "variance"])
def test_some_heights(missing):
    s, z = walked(crest, 10)
    rng = np.random.default_rng(10)
    unknown = rng.random(90) < 0.4
    unknown[[0, 89]] = True
    variance = np.full(90, NOISE**2)
    (z if missing == "z" else variance)[unknown] = np.nan
    heights = fit(s, z, variance)
    assert_array_equal(np.isinf(heights.variance), unknown)
    assert rms(values(heights) - crest(s)) < 0.5 * NOISE
    assert np.isfinite(heights.sigma).all() and np.isfinite(heights.slope).all()


def test_uncertainty_grows_where_heights_are_missing():
    s, z = walked(plain, 11)
    z[60:] = np.nan
    sigma = fit(s, z).sigma
    assert (np.diff(sigma[60:]) > 0).all() and sigma[-1] > 2 * sigma[30]


@pytest.mark.parametrize("known", [1, 2, 3])
def test_few_heights(known):
    z = np.full(12, np.nan)
    z[4 : 4 + known] = 7.0
    heights = fit(STEP * np.arange(12), z)
    assert_allclose(values(heights), 7.0, atol=1e-9)
    assert_allclose(heights.slope, 0.0, atol=1e-9)
    assert (heights.sigma >= NOISE / 2).all()


# --- uncertainty
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("shape", "least"),
    [(plain, 0.95), (crest, 0.93), (lambda s: 0.3 * np.cos(s / 12), 0.85)],
    ids=["plain", "crest", "waves"],
)
def test_sigma_holds_the_truth(shape, least):
    # 95 % of it, but for the bends of vertical curves, which straight grades cut. White noise
    # alone: what drifts over a minute is added by the caller.
    share, spread = [], []
    for seed in range(30):
        s, z = walked(shape, seed)
        heights = fit(s, z)
        off = values(heights) - shape(s)
        share.append(np.abs(off) < 1.96 * heights.sigma)
        spread.append((off / heights.sigma) ** 2)
    assert np.mean(share) >= least
    assert 0.3 < np.mean(spread) < 1.7


def test_sigma_is_least_in_the_middle_of_a_long_grade():
    s, z = walked(plain, 12)
    sigma = fit(s, z).sigma
    assert sigma[45] < 0.6 * sigma[0] and sigma[45] < 0.6 * sigma[-1]
    assert sigma[45] == pytest.approx(1.35 * NOISE / np.sqrt(90), rel=0.1)


# --- rings
# ------------------------------------------------------------------------------------------------


def islands(seed, start=0.0, noise=1.0):
    """A simulated walk once round an island on tilted ground, by chainage."""
    rng = np.random.default_rng(seed)
    truth = sim.chain("island", sim.island_parts(20.0, 2.0), closed=True, ground=(4.0, 0.02, 0.015))
    walk = sim.walk(
        truth,
        rng,
        between=(start, start + truth.length - 0.7),
        disturbances=sim.Disturbances.none(),
        noise=noise,
    )
    s = walk.true_chainage - walk.true_chainage[0]
    return s, walk, truth.length - s[-1]


def test_a_ring_is_continuous_at_its_seam():
    for seed in range(6):
        s, walk, closing = islands(seed)
        heights = fit(s, walk.z, closed=np.array([True]), closing=np.array([closing]))
        assert values(heights)[-1] + heights.slope[-1] * closing == pytest.approx(
            values(heights)[0], abs=1e-9
        )
        assert rms(values(heights) - walk.true_z) < 0.85 * sim.UP_FACTOR * 0.0124


def test_a_ring_gains_at_its_ends():
    def ends(**ring):
        out = []
        for seed in range(16):
            s, walk, closing = islands(seed, start=10.0)
            kwargs = (
                {"closed": np.array([True]), "closing": np.array([closing])}
                if ring["closed"]
                else {}
            )
            out.append((values(fit(s, walk.z, **kwargs)) - walk.true_z)[[0, 1, -2, -1]])
        return rms(out)

    assert ends(closed=True) < 0.9 * ends(closed=False)


def test_rings_and_open_runs_side_by_side():
    s, walk, closing = islands(1)
    n = len(s)
    p, q = walked(crest, 13)
    together = fit(
        np.r_[p, s, p],
        np.r_[q, walk.z, q],
        offsets=[0, 90, 90 + n, 180 + n],
        closed=np.array([False, True, False]),
        closing=np.array([np.nan, closing, np.nan]),
    )
    assert_allclose(values(together)[:90], values(fit(p, q)), atol=1e-9)
    assert_allclose(values(together)[90 + n :], values(together)[:90], atol=1e-9)
    ring = fit(s, walk.z, closed=np.array([True]), closing=np.array([closing]))
    assert_allclose(values(together)[90 : 90 + n], values(ring), atol=1e-9)


def test_a_ring_with_unknown_heights_at_its_seam():
    s, walk, closing = islands(2, noise=0.05)
    z = walk.z.copy()
    z[:2] = z[-3:] = np.nan
    variance = (0.05 * sim.UP_FACTOR * sim.WHITE_SIGMA) ** 2
    heights = fit(s, z, variance, closed=np.array([True]), closing=np.array([closing]))
    assert np.abs(values(heights) - walk.true_z).max() < 0.02
    assert values(heights)[-1] + heights.slope[-1] * closing == pytest.approx(
        values(heights)[0], abs=1e-9
    )


def test_the_usual_spacing_closes_a_ring_where_nothing_else_is_said():
    s, walk, _ = islands(3)
    left_out = fit(s, walk.z, closed=np.array([True]))
    given = fit(s, walk.z, closed=np.array([True]), closing=np.array([STEP]))
    assert_allclose(values(left_out), values(given), atol=1e-12)
