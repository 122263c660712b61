"""Runs as chains of tangents and arcs: what is found, that it holds together, how sure it is, and
what odd input does."""

import dataclasses

import numpy as np
import pytest
from epochwalks import along
from fittedruns import CLOSED, OPEN, SIGMA, check, kinds, runs
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.sample_project import simulation as sim
from curbwright.shared.alignment.fit import FitOptions, fit_chains, ring_start
from curbwright.shared.arrays.ragged import group_index
from curbwright.shared.tuning import override

# --- what is found
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", OPEN)
@pytest.mark.parametrize("sigma", [0.0, 0.006, SIGMA])
def test_elements_of_plain_shapes(name, sigma):
    parts, expected = OPEN[name]
    x, y, variance, offsets = runs([parts], sigma, seed=4)
    chains = fit_chains(x, y, variance, offsets)
    check(chains, x, y, offsets)
    assert kinds(chains) == expected
    truth = sim.chain("x", parts)
    arc = truth.curvatures != 0
    assert_array_equal(chains.turn, np.sign(truth.curvatures))
    assert_allclose(chains.radius[arc], 1 / np.abs(truth.curvatures[arc]), rtol=1e-3 + 4 * sigma)
    joint = (truth.turns == 0) & (np.arange(len(arc)) < len(arc) - 1)
    assert_array_equal(chains.smooth, joint)
    s = np.arange(0.0, truth.length, 0.9)
    assert chains.length.sum() == pytest.approx(s[-1], abs=0.01 + 5 * sigma)
    assert_allclose(chains.chainage, s, atol=0.01 + 6 * sigma)
    assert np.sqrt(np.mean(chains.residual**2)) <= 1.2 * sigma + 1e-4


def test_exact_shapes_come_back_exactly():
    parts = OPEN["block"][0]
    x, y, variance, offsets = runs([parts], 0.0)
    chains = fit_chains(x, y, variance, offsets)
    truth = sim.chain("x", parts, heading=0.3)
    assert_allclose(chains.start[1:], truth.at(truth.joints[1:-1])[:, :2], atol=2e-3)
    assert np.abs(chains.residual).max() < 1e-3


def test_corners_are_where_the_legs_meet():
    parts = OPEN["bay"][0]
    truth = sim.chain("x", parts, heading=0.3)
    found, walks = [], 40
    chains = fit_chains(*runs([parts] * walks, SIGMA))
    for k in range(walks):
        if kinds(chains, k) == "TTT":
            first = chains.offsets[k]
            found.append(
                chains.start[first + 1 : first + 3] - truth.corners[:, :2] - [300.0 * k, 0]
            )
    assert len(found) >= 37  # now and then noise alone bends a leg
    assert np.sqrt(np.mean(np.square(found))) < 1.2 * SIGMA


@pytest.mark.parametrize("degrees", [-90.0, -60.0, -40.0, 40.0, 60.0, 90.0])
@pytest.mark.parametrize("sigma", [0.003, 0.006])
def test_arcs_at_corners(degrees, sigma):
    # a curb return that ends at a driveway's edge; a rounded corner cut off; and both walked the
    # other way
    parts = [("line", 20.0), ("arc", 8.0, 80.0), ("corner", degrees), ("line", 20.0)]
    x, y, variance, offsets = runs([parts], sigma, 4)
    for px, py, expected in ((x, y, [0, 1, 0]), (x[::-1], y[::-1], [0, -1, 0])):
        chains = fit_chains(px, py, variance, offsets)
        check(chains, px, py, offsets)
        assert chains.turn.tolist() == expected
        assert np.abs(chains.residual).max() < 4 * sigma + 1e-3
        assert chains.radius[1] == pytest.approx(8.0, abs=0.005 + 30 * sigma)


@pytest.mark.one_host
def test_no_chain_is_dearer_than_its_elements_alone():
    # What the search finds has a price without any joint; the chain is at least as good an
    # explanation.
    rng, shapes = np.random.default_rng(8), []
    for _ in range(60):
        parts = []
        for _ in range(rng.integers(2, 5)):
            parts.append(
                ("line", rng.uniform(6.0, 20.0))
                if rng.random() < 0.5
                else ("arc", rng.uniform(4.0, 12.0), rng.choice([-1, 1]) * rng.uniform(50.0, 100.0))
            )
            if rng.random() < 0.5:
                parts.append(("corner", rng.choice([-1, 1]) * rng.uniform(40.0, 100.0)))
        shapes.append(parts)
    x, y, variance, offsets = runs(shapes, 0.006, 8)
    chains = fit_chains(x, y, variance, offsets)
    for k, parts in enumerate(shapes):
        own = chains.residual[offsets[k] : offsets[k + 1]]
        assert np.sqrt(np.mean(own**2)) < 0.02, parts


@pytest.mark.parametrize("name", CLOSED)
@pytest.mark.parametrize("seed", range(3))
def test_rings_have_no_kink_at_the_seam(name, seed):
    truth = sim.chain("x", CLOSED[name], closed=True, heading=0.2)
    s = np.arange(0.0, truth.length - 0.4, 0.8)
    rng = np.random.default_rng(seed)
    x, y = (axis + rng.normal(0, SIGMA, len(s)) for axis in truth.at(s)[:, :2].T)
    variance, offsets, closed = np.full(len(s), SIGMA**2), np.array([0, len(s)]), np.array([True])
    order = ring_start(x, y, variance, offsets, closed)
    assert_array_equal(np.sort(order), np.arange(len(s)))
    assert_array_equal(np.diff(order) % len(s), 1)  # turned round, no more
    x, y = x[order], y[order]
    chains = fit_chains(x, y, variance, offsets, closed=closed)
    check(chains, x, y, offsets)
    expected = {"island": "TATA", "round": "A", "square": "TTTT"}[name]
    assert len(chains) == len(expected) and kinds(chains) in 2 * expected
    _, leave = chains.at(np.zeros(len(chains)), np.arange(len(chains)))
    _, arrive = chains.at(chains.length, np.arange(len(chains)))
    turned = np.degrees(
        np.arctan2(arrive[-1, 0] * leave[0, 1] - arrive[-1, 1] * leave[0, 0], arrive[-1] @ leave[0])
    )
    assert turned == pytest.approx(
        90 if name == "square" else 0, abs=1.0 if name == "square" else 0.01
    )
    assert chains.length.sum() == pytest.approx(truth.length, abs=0.05)


@pytest.mark.parametrize("limits", [FitOptions(6.0, 2000.0), FitOptions(0.5, 3.5)])
def test_radii_keep_their_limits(limits):
    x, y, variance, offsets = runs([OPEN["block"][0], OPEN["curb return"][0], OPEN["bend"][0]])
    chains = fit_chains(x, y, variance, offsets, options=limits)
    check(chains, x, y, offsets)
    radius = chains.radius[chains.turn != 0]
    assert (
        (radius >= limits.min_radius * (1 - 1e-9)) & (radius <= limits.max_radius * (1 + 1e-9))
    ).all()


# --- what must not matter
# --------------------------------------------------------------------------------------------


def everything(seed=0):
    return runs([parts for parts, _ in OPEN.values()], SIGMA, seed)


def same(one, other, place, atol=5e-4):
    # the adjustment ends where steps gain next to nothing: a tenth of a millimetre beside noise of
    # a centimetre
    assert_array_equal(one.bounds, other.bounds)
    assert_array_equal(one.smooth, other.smooth)
    arc = one.turn != 0
    assert_allclose(other.radius[arc], one.radius[arc], rtol=1e-3)
    for name in ("start", "end"):
        assert_allclose(getattr(other, name), place(getattr(one, name)), rtol=0, atol=atol)
    assert_allclose(other.chainage, one.chainage, rtol=0, atol=2 * atol)
    assert_allclose(other.sigma, one.sigma, rtol=0.01)


def test_the_same_input_gives_the_same_result():
    one, other = fit_chains(*everything()), fit_chains(*everything())
    for name in vars(one):
        assert_array_equal(getattr(one, name), getattr(other, name), err_msg=name)


def test_runs_may_come_in_any_order():
    x, y, variance, offsets = everything()
    one = fit_chains(x, y, variance, offsets)
    order = np.random.default_rng(5).permutation(len(offsets) - 1)
    index = np.concatenate([np.arange(offsets[k], offsets[k + 1]) for k in order])
    other = fit_chains(
        x[index],
        y[index],
        variance[index],
        np.concatenate([[0], np.cumsum(np.diff(offsets)[order])]),
    )
    assert_allclose(other.residual, one.residual[index], rtol=0, atol=1e-6)
    assert_allclose(other.chainage, one.chainage[index], rtol=0, atol=1e-5)
    assert [kinds(other, k) for k in range(len(order))] == [kinds(one, k) for k in order]


def test_runs_at_once_equal_each_alone():
    x, y, variance, offsets = everything(3)
    whole = fit_chains(x, y, variance, offsets)
    for k, (a, b) in enumerate(zip(offsets[:-1], offsets[1:])):
        alone = fit_chains(x[a:b], y[a:b], variance[a:b], np.array([0, b - a]))
        assert kinds(alone) == kinds(whole, k)
        assert_allclose(alone.residual, whole.residual[a:b], rtol=0, atol=1e-6)


@pytest.mark.parametrize("together", [1, 90, 400])
def test_runs_fitted_in_several_goes_are_the_same_to_the_last_bit(together):
    x, y, variance, offsets = everything()
    # runs without positions among them
    offsets = np.concatenate([[0, 0], offsets[1:3], offsets[2:], offsets[-1:]])
    whole, shares = fit_chains(x, y, variance, offsets), []
    with override(FIT__together=together):
        parts = fit_chains(x, y, variance, offsets, progress=shares.append)
    for column in dataclasses.fields(whole):
        assert_array_equal(getattr(parts, column.name), getattr(whole, column.name), column.name)
    assert shares == sorted(shares) and shares[0] >= 0 and shares[-1] <= 1


@pytest.mark.parametrize("shift", [(0.5, -3.0), (500_000.0, 6_000_000.0)])
def test_shifted(shift):
    x, y, variance, offsets = everything(1)
    x, y = np.round(x, 6), np.round(y, 6)  # so that far coordinates hold the same digits
    same(
        fit_chains(x, y, variance, offsets),
        fit_chains(x + shift[0], y + shift[1], variance, offsets),
        lambda xy: xy + shift,
    )


@pytest.mark.parametrize("degrees", [30.0, 90.0, 171.0])
def test_turned(degrees):
    x, y, variance, offsets = everything(1)
    c, s = np.cos(np.radians(degrees)), np.sin(np.radians(degrees))
    one, other = (
        fit_chains(x, y, variance, offsets),
        fit_chains(c * x - s * y, s * x + c * y, variance, offsets),
    )
    same(one, other, lambda xy: xy @ np.array([[c, s], [-s, c]]))
    assert_array_equal(one.turn, other.turn)
    assert_allclose(one.residual, other.residual, atol=5e-4)


def test_mirrored():
    x, y, variance, offsets = everything(1)
    one, other = fit_chains(x, y, variance, offsets), fit_chains(x, -y, variance, offsets)
    same(one, other, lambda xy: xy * [1, -1])
    assert_array_equal(one.turn, -other.turn)
    assert_allclose(one.residual, -other.residual, atol=5e-4)


def test_walked_the_other_way_round():
    x, y, variance, offsets = everything(1)
    one, other = (
        fit_chains(x, y, variance, offsets),
        fit_chains(x[::-1], y[::-1], variance[::-1], len(x) - offsets[::-1]),
    )
    assert [kinds(other, k) for k in range(len(offsets) - 1)] == [
        kinds(one, k)[::-1] for k in range(len(offsets) - 1)
    ][::-1]
    assert_array_equal(other.turn, -one.turn[::-1])
    arc = one.turn != 0
    assert_allclose(other.radius[::-1][arc], one.radius[arc], rtol=0.01)
    # positions beside a joint may go to either element: the curves are next to each other, not the
    # same to the last digit
    assert_allclose(other.start[::-1], one.end, atol=0.02)
    assert np.sqrt(np.mean((other.residual[::-1] + one.residual) ** 2)) < 0.001


# --- how sure it is
# ------------------------------------------------------------------------------------------------


def test_sigma_of_radii_is_what_repeated_walks_show():
    walks, radius = 300, 5.0
    x, y, variance, offsets = runs(
        [[("line", 15.0), ("arc", radius, 90.0), ("line", 15.0)]] * walks, SIGMA, 100
    )
    chains = fit_chains(x, y, variance, offsets)
    check(chains, x, y, offsets)
    found = np.array([kinds(chains, k) for k in range(walks)])
    right = found == "TAT"
    assert right.mean() > 0.95
    arc = chains.offsets[:-1][right] + 1
    units = (chains.radius[arc] - radius) / chains.radius_sigma[arc]
    assert np.abs(np.mean(chains.radius[arc]) - radius) < 0.01
    assert 0.75 < np.std(units) < 1.15
    assert np.mean(np.abs(units) < 2) > 0.93


@pytest.mark.parametrize("name", ["straight", "curb return", "bay", "block"])
def test_sigma_across_is_what_repeated_walks_show(name):
    parts, expected = OPEN[name]
    walks, step = 150, 0.9
    x, y, variance, offsets = runs([parts] * walks, SIGMA, 500, step)
    chains = fit_chains(x, y, variance, offsets)
    truth = sim.chain("x", parts, heading=0.3)
    s = np.tile(np.arange(0.0, truth.length, step), walks)
    heading = truth.heading_at(s)
    # residual of the position (+ to the right) and its own error give the error of the curve; away
    # from corners
    true = truth.at(s)[:, :2] + np.column_stack([300.0 * group_index(offsets), np.zeros(len(x))])
    error = (
        (x - true[:, 0]) * np.sin(heading) - (y - true[:, 1]) * np.cos(heading) - chains.residual
    )
    near = (
        np.abs(s[:, None] - truth.joints[1:-1]).min(axis=1) < 1.0
        if len(truth.joints) > 2
        else np.zeros(len(s), bool)
    )
    right = (
        np.array([kinds(chains, k) == expected for k in range(walks)])[group_index(offsets)] & ~near
    )
    assert right.sum() > 0.5 * len(s)
    units = error[right] / chains.sigma[right]
    assert 0.7 < np.sqrt(np.mean(units**2)) < 1.1
    assert 0.93 < np.mean(np.abs(units) < 1.96) <= 0.999


def test_less_noise_makes_surer():
    parts = OPEN["curb return"][0]
    coarse, fine = (fit_chains(*runs([parts], sigma, 2)) for sigma in (0.012, 0.003))
    assert fine.radius_sigma[1] == pytest.approx(coarse.radius_sigma[1] / 4, rel=0.1)
    assert fine.sigma.mean() == pytest.approx(coarse.sigma.mean() / 4, rel=0.1)


# --- odd input
# ------------------------------------------------------------------------------------------------


def test_without_uncertainties_all_else_is_the_same():
    x, y, variance, offsets = runs([parts for parts, _ in OPEN.values()], SIGMA, 1)
    with_sigmas = fit_chains(x, y, variance, offsets)
    without = fit_chains(x, y, variance, offsets, options=FitOptions(sigmas=False))
    for column in dataclasses.fields(with_sigmas):
        one, other = (getattr(chains, column.name) for chains in (with_sigmas, without))
        if column.name in ("sigma", "radius_sigma"):
            assert np.isfinite(one).any() and np.isnan(other).all()
        else:
            assert_array_equal(one, other)


def fit(x, y, offsets=None, **options):
    x, y = np.asarray(x, float), np.asarray(y, float)
    offsets = np.array([0, len(x)]) if offsets is None else np.asarray(offsets)
    chains = fit_chains(x, y, np.full(len(x), SIGMA**2), offsets, **options)
    return chains, x, y, offsets


def test_nothing_at_all():
    for offsets in ([0], [0, 0]):
        chains, *_ = fit([], [], offsets)
        assert len(chains) == 0 and len(chains.chainage) == 0
        assert_array_equal(chains.offsets, np.zeros(len(offsets)))


def test_two_positions_are_a_tangent():
    chains, *rest = fit([0, 3], [0, 4])
    check(chains, *rest)
    assert kinds(chains) == "T" and chains.length[0] == pytest.approx(5)
    assert_allclose([chains.ux[0], chains.uy[0]], [0.6, 0.8], atol=1e-9)
    assert_allclose(chains.residual, 0, atol=1e-9)


@pytest.mark.parametrize("count", [3, 4, 5])
def test_few_positions(count):
    x, y = along([("arc", 6.0, 90.0)], 0.01, 1)
    chains, *rest = fit(x[:count], y[:count])
    check(chains, *rest)


@pytest.mark.parametrize("drop", [False, True])
@pytest.mark.parametrize("count", [2, 3, 9, 40])
def test_all_at_one_place(count, drop):
    # A run beside a whole one, so that nothing of it may leak.
    x, y = along(OPEN["curb return"][0], SIGMA, 2, 0.9)
    chains, x, y, offsets = fit(
        np.append(x, np.full(count, 7.0)),
        np.append(y, np.full(count, -2.0)),
        [0, len(x), len(x) + count],
        options=FitOptions(may_reject=np.full(len(x) + count, drop)),
    )
    for name in ("x", "y", "start", "end", "length", "chainage", "residual", "sigma"):
        assert np.isfinite(getattr(chains, name)).all(), name
    assert kinds(chains, 0) == "TAT"
    assert np.abs(chains.residual[offsets[1] :]).max() < 1e-6
    own = slice(chains.offsets[1], chains.offsets[2])
    assert_allclose(chains.start[own], [[7.0, -2.0]] * (own.stop - own.start), atol=1e-6)


def test_positions_twice_over():
    x, y = along(OPEN["block"][0], SIGMA, 2, 0.9)
    once, *_ = fit(x, y)
    chains, *rest = fit(np.repeat(x, 2), np.repeat(y, 2))
    check(chains, *rest)
    assert kinds(chains) == kinds(once) == "TATAT"
    assert_allclose(chains.radius[[1, 3]], once.radius[[1, 3]], rtol=0.01)


def test_there_and_back_again():
    x, y = along([("line", 20.0)], SIGMA, 2, 0.9)
    chains, *_ = fit(np.append(x, x[::-1]), np.append(y, y[::-1]))
    assert (
        np.isfinite(chains.residual).all()
        and np.isfinite(chains.sigma).all()
        and np.isfinite(chains.length).all()
    )


def test_a_wild_scatter():
    rng = np.random.default_rng(0)
    for size in (0.02, 1.0, 50.0):
        x, y = rng.normal(0, size, (2, 60))
        rejecting = FitOptions(may_reject=np.ones(60, bool))
        for options in ({}, {"options": rejecting}, {"closed": np.array([True])}):
            chains, *_ = fit(x, y, **options)
            for name in ("start", "end", "length", "chainage", "residual", "sigma"):
                assert np.isfinite(getattr(chains, name)).all(), (size, name)


def test_shares_of_the_work_are_told_and_may_stop_it():
    x, y, variance, offsets = everything()
    shares = []
    fit_chains(x, y, variance, offsets, progress=shares.append)
    assert len(shares) > 2 and (np.diff(shares) >= 0).all() and shares[0] >= 0 and shares[-1] <= 1

    class StopError(Exception):
        pass

    def stop(share):
        raise StopError

    with pytest.raises(StopError):
        fit_chains(x, y, variance, offsets, progress=stop)


# --- free forms
# ------------------------------------------------------------------------------------------------


def hedge(rng, straight=40.0, wave=25.0, noise=0.012):
    """A tangent, a wavy stretch and a tangent, which no short chain of arcs explains."""
    x = np.arange(0.0, 2 * straight + 2 * wave, 1.1)
    y = (
        1.2 * (1 - np.cos(2 * np.pi * np.clip(x - straight, 0.0, 2 * wave) / wave))
        + 0.4 * np.sin(2 * np.pi * np.clip(x - straight, 0.0, 2 * wave) / 7.0) ** 3
    )
    return x + rng.normal(0, noise, x.size), y + rng.normal(0, noise, x.size)


def test_a_free_form_between_tangents_is_one_spline():
    from curbwright.shared.alignment.fitted_chains import merge_splines

    x, y = hedge(np.random.default_rng(3))
    offsets = np.array([0, x.size])
    fitted = fit_chains(x, y, np.full(x.size, 0.012**2), offsets)
    assert fitted.spline.any()
    chains = merge_splines(fitted)
    assert chains.spline.sum() == 1 and not chains.spline[[0, -1]].any()
    assert chains.bounds[0] == 0 and chains.bounds[-1] == x.size
    assert (np.diff(chains.chainage) >= 0).all() and chains.chainage[
        -1
    ] <= chains.length.sum() + 1e-9
    assert chains.length.sum() == pytest.approx(
        np.hypot(*np.diff(chains.feet, axis=0).T).sum(), rel=0.01
    )
    np.testing.assert_allclose(chains.start[1:], chains.end[:-1], atol=1e-9)
    piece = int(np.flatnonzero(chains.spline)[0])
    assert not chains.smooth[piece] and not chains.smooth[piece - 1]
    assert (
        np.isinf(chains.radius[piece])
        and np.isnan(chains.radius_sigma[piece])
        and chains.turn[piece] == 0
    )
    # feet lie beside their positions, also in the free form
    assert np.hypot(*(fitted.feet - np.column_stack([x, y])).T).max() < 0.1
    # tangents and arcs alone are left as they are
    plain = fit_chains(
        np.arange(40.0),
        np.random.default_rng(1).normal(0, 0.01, 40),
        np.full(40, 1e-4),
        np.array([0, 40]),
    )
    assert merge_splines(plain) is plain


# --- runs that nothing confirms
# -------------------------------------------------------------------------------------


def test_four_positions_that_agree_on_nothing_confirm_nothing():
    # Two slips among four: to the right, back on the line, far to the left. A bend that all four
    # agree on is fine.
    zigzag = np.array([[0.0, 0.0], [1.6, -1.0], [2.4, 0.0], [0.5, 2.0]])
    corner = np.array([[0.0, 0.0], [1.2, 0.0], [2.0, 0.8], [2.0, 2.0]])
    straight = np.column_stack([np.arange(4) * 1.2, np.zeros(4)])
    for points, confirmed in ((zigzag, False), (corner, True), (straight, True)):
        chains = fit_chains(*points.T, np.full(4, 1e-4), np.array([0, 4]))
        assert chains.confirmed().tolist() == [confirmed]
