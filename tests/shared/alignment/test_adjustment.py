"""Joint least squares of tangents and arcs: derivatives, and results beside SciPy's general least
squares."""

import numpy as np
import pytest
from handmade import some_curve
from numpy.testing import assert_allclose, assert_array_equal
from scipy.optimize import least_squares

from curbwright.sample_project import simulation as sim
from curbwright.shared.alignment.adjustment import (
    _joints,
    _solve_banded,
    _terms,
    adjust,
    covariances,
)
from curbwright.shared.alignment.moments import Moments
from curbwright.shared.alignment.primitives import Primitives, fit_lines
from curbwright.shared.arrays.ragged import group_index

SIGMA = 0.01


def moved(primitives, element, shift=0.0, turn=0.0, curvature=0.0):
    """The curve with one element shifted to the left, turned to the left about its point, or bent
    more."""
    x, y, ux, uy, k = (
        np.array(column, float)
        for column in (
            primitives.x,
            primitives.y,
            primitives.ux,
            primitives.uy,
            primitives.curvature,
        )
    )
    x[element] -= shift * primitives.uy[element]
    y[element] += shift * primitives.ux[element]
    ux[element], uy[element] = (
        np.cos(turn) * primitives.ux[element] - np.sin(turn) * primitives.uy[element],
        np.cos(turn) * primitives.uy[element] + np.sin(turn) * primitives.ux[element],
    )
    k[element] += curvature
    return Primitives(x, y, ux, uy, k)


# --- one element
# ------------------------------------------------------------------------------------------------


def cloud(primitives, seed, spread=1.5, each=9):
    rng = np.random.default_rng(seed)
    count = len(primitives)
    owner = np.repeat(np.arange(count), each)
    s, n = rng.uniform(-spread, spread, len(owner)), rng.normal(0, 0.2, len(owner))
    x, y, ux, uy = primitives.at(s, owner)
    return x - n * uy, y + n * ux, rng.uniform(0.5, 2.0, len(owner)), each * np.arange(count + 1)


def algebraic(primitives, x, y, owner):
    """The distance that is minimised, worked out position by position; see `Curve`."""
    dx, dy = x - primitives.x[owner], y - primitives.y[owner]
    t, n = (
        primitives.ux[owner] * dx + primitives.uy[owner] * dy,
        primitives.ux[owner] * dy - primitives.uy[owner] * dx,
    )
    return n - primitives.curvature[owner] * (t * t + n * n) / 2


@pytest.mark.parametrize("seed", range(4))
def test_sum_of_squares_and_its_derivatives(seed):
    primitives = some_curve(seed)
    x, y, weight, offsets = cloud(primitives, seed)
    owner, moments = group_index(offsets), Moments.of(x, y, weight, offsets)
    chi, gradient, normal = _terms(moments, primitives)
    assert_allclose(
        chi, np.bincount(owner, weight * algebraic(primitives, x, y, owner) ** 2), rtol=1e-9
    )
    step = 1e-5
    for element in range(len(primitives)):
        columns = []
        for row, name in enumerate(("shift", "turn", "curvature")):
            ahead, back = (moved(primitives, element, **{name: sign * step}) for sign in (1, -1))
            slope = (_terms(moments, ahead)[0] - _terms(moments, back)[0])[element] / (2 * step)
            assert gradient[row, element] == pytest.approx(slope / 2, rel=1e-5, abs=1e-6), name
            columns.append(
                (algebraic(ahead, x, y, owner) - algebraic(back, x, y, owner))
                / (2 * step)
                * (owner == element)
            )
        jacobian = np.array(columns)
        square = (jacobian * weight) @ jacobian.T
        assert_allclose(normal[:, element], square[np.triu_indices(3)], rtol=1e-5, atol=1e-5)


@pytest.mark.parametrize("seed", range(4))
def test_derivatives_of_joints(seed):
    # tangent to arc, arc to tangent, arc to arc of the same and of the other side, the tighter one
    # first and last
    rng = np.random.default_rng(seed)
    curvature = np.array([0.0, 0.3, 0.0, -0.3, 0.2, 0.5, -0.1, -0.4, 0.25])
    angle = rng.uniform(-np.pi, np.pi, len(curvature))
    primitives = Primitives(
        *rng.normal(0, 3, (2, len(curvature))), np.cos(angle), np.sin(angle), curvature
    )
    first, second = np.arange(len(curvature) - 1), np.arange(1, len(curvature))
    miss, by_first, by_second = _joints(primitives, first, second)
    step = 1e-6
    for joint in first:
        for element, derivative in ((joint, by_first), (joint + 1, by_second)):
            for row, name in enumerate(("shift", "turn", "curvature")):
                if name == "curvature" and primitives.curvature[element] == 0:
                    continue  # a tangent has none
                ahead, back = (
                    _joints(moved(primitives, element, **{name: sign * step}), first, second)[0][
                        joint
                    ]
                    for sign in (1, -1)
                )
                assert derivative[row, joint] == pytest.approx(
                    (ahead - back) / (2 * step), rel=1e-5, abs=1e-5
                ), (joint, name)
    assert miss.shape == first.shape


def test_joints_that_fit_miss_nothing():
    truth = sim.chain(
        "x",
        [
            ("line", 9.0),
            ("arc", 5.0, 90.0),
            ("arc", 12.0, 40.0),
            ("arc", 4.0, -70.0),
            ("line", 5.0),
        ],
    )
    primitives = of_truth(truth)
    assert_allclose(_joints(primitives, np.arange(4), np.arange(1, 5))[0], 0, atol=1e-12)


# --- chains beside SciPy's least squares
# -----------------------------------------------------------------------------


def of_truth(truth):
    frames = truth._frames
    return Primitives(
        frames[:, 0],
        frames[:, 1],
        np.cos(frames[:, 2]),
        np.sin(frames[:, 2]),
        truth.curvatures.copy(),
    )


def observed(truth, seed=0, sigma=SIGMA, step=0.7):
    """Positions along each element of a truth with white noise across and along: x, y, weight,
    offsets of the elements."""
    rng = np.random.default_rng(seed)
    s = np.concatenate(
        [
            a + np.arange(step / 2, length, step)
            for a, length in zip(truth.joints[:-1], truth.lengths)
        ]
    )
    x, y, _ = truth.at(s).T
    offsets = np.searchsorted(s, truth.joints)
    weight = rng.uniform(0.5, 1.5, len(s)) / sigma**2
    return x + rng.normal(0, sigma, len(s)), y + rng.normal(0, sigma, len(s)), weight, offsets


CHAINS = {
    "curb return": [("line", 12.0), ("arc", 5.0, 90.0), ("line", 9.0)],
    "tight": [("line", 8.0), ("arc", 1.5, -170.0), ("line", 8.0)],
    "bend": [("line", 20.0), ("arc", 80.0, 30.0), ("line", 20.0)],
    "compound": [("line", 10.0), ("arc", 20.0, 40.0), ("arc", 6.0, 50.0), ("line", 10.0)],
    "reversed": [("arc", 10.0, 60.0), ("arc", 7.0, -80.0), ("line", 10.0)],
    "returns": [
        ("line", 10.0),
        ("arc", 4.0, 90.0),
        ("line", 6.0),
        ("arc", 6.0, -80.0),
        ("line", 10.0),
        ("arc", 9.0, 45.0),
    ],
}


def forward(parameters, truth, arcs):
    """A chain by its first tangent, its lengths and its curvatures: every joint has a common
    direction by construction."""
    count = len(truth.lengths)
    heading = truth.heading + parameters[1]
    lengths, bends = np.append(parameters[2 : count + 1], truth.lengths[-1]), np.zeros(count)
    bends[arcs] = parameters[count + 1 :]
    start = np.array(truth.start) + parameters[0] * np.array(
        [-np.sin(truth.heading), np.cos(truth.heading)]
    )
    return of_truth(sim.Truth("x", tuple(start), heading, lengths, bends, np.zeros(count)))


def rough(truth, seed=1):
    """First estimates as a search leaves them: a little shifted, turned, and bent too much or too
    little."""
    rng, primitives = np.random.default_rng(seed), of_truth(truth)
    for element, k in enumerate(truth.curvatures):
        primitives = moved(
            primitives,
            element,
            rng.normal(0, 0.03),
            rng.normal(0, 0.02),
            0.1 * k * rng.uniform(-1, 1),
        )
    return primitives


@pytest.mark.parametrize("name", CHAINS)
@pytest.mark.parametrize("seed", range(3))
def test_chains_are_those_of_scipys_least_squares(name, seed):
    truth = sim.chain("x", CHAINS[name], heading=0.7)
    x, y, weight, offsets = observed(truth, seed)
    owner, arcs, count = group_index(offsets), np.flatnonzero(truth.curvatures), len(truth.lengths)
    begin = np.concatenate([[0.0, 0.0], truth.lengths[:-1], truth.curvatures[arcs]])
    root = np.sqrt(weight)
    expected = least_squares(
        lambda p: root * algebraic(forward(p, truth, arcs), x, y, owner),
        begin,
        x_scale="jac",
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    moments = Moments.of(x, y, weight, offsets)
    found = adjust(moments, rough(truth, seed), np.ones(count, bool), np.array([0, count]))
    assert found.chi.sum() == pytest.approx(2 * expected.cost, rel=1e-5)
    assert_allclose(
        np.bincount(owner, weight * algebraic(found.primitives, x, y, owner) ** 2),
        found.chi,
        rtol=1e-6,
        atol=1e-9,
    )
    best = forward(expected.x, truth, arcs)
    assert_allclose(found.primitives.curvature, best.curvature, rtol=1e-4, atol=1e-12)
    # the same lines: each point lies on the other's element, in the same direction
    every = np.arange(count)
    assert_allclose(
        best.signed_distance(found.primitives.x, found.primitives.y, every), 0, atol=1e-5
    )
    _, _, ux, uy = best.at(best.along(found.primitives.x, found.primitives.y, every), every)
    assert_allclose(
        np.column_stack([ux, uy]),
        np.column_stack([found.primitives.ux, found.primitives.uy]),
        atol=1e-5,
    )


@pytest.mark.parametrize("name", CHAINS)
def test_the_distance_that_is_minimised_is_next_to_the_true_one(name):
    # (r^2 - d^2) / 2r against r - d: what the squares of the distances differ by is nothing beside
    # the noise
    truth = sim.chain("x", CHAINS[name])
    x, y, weight, offsets = observed(truth)
    owner, arcs, count = group_index(offsets), np.flatnonzero(truth.curvatures), len(truth.lengths)
    begin = np.concatenate([[0.0, 0.0], truth.lengths[:-1], truth.curvatures[arcs]])
    exact = least_squares(
        lambda p: np.sqrt(weight) * forward(p, truth, arcs).signed_distance(x, y, owner),
        begin,
        x_scale="jac",
    )
    found = adjust(
        Moments.of(x, y, weight, offsets), rough(truth), np.ones(count, bool), np.array([0, count])
    )
    best = forward(exact.x, truth, arcs)
    assert (
        np.abs(best.signed_distance(found.primitives.x, found.primitives.y, np.arange(count))).max()
        < 0.05 * SIGMA
    )
    assert_allclose(1 / found.primitives.curvature[arcs], 1 / best.curvature[arcs], rtol=2e-3)


@pytest.mark.parametrize("seed", range(3))
def test_rings_are_those_of_scipys_least_squares(seed):
    # Two arcs and the two tangents that touch both: centres and radii say it all.
    truth = sim.chain(
        "x",
        [("line", 12.0), ("arc", 2.0, 180.0), ("line", 12.0), ("arc", 2.0, 180.0)],
        closed=True,
        heading=0.4,
    )
    x, y, weight, offsets = observed(truth, seed)
    owner, root = group_index(offsets), np.sqrt(weight)

    def ring(p):
        ax, ay, ar, bx, by, br = p
        points = []
        for fx, fy, fr, tx, ty, tr in ((ax, ay, ar, bx, by, br), (bx, by, br, ax, ay, ar)):
            apart = np.hypot(tx - fx, ty - fy)
            # the left normal n of a tangent from the one to the other: n.(to - from) = difference
            # of the radii
            normal = np.arctan2(ty - fy, tx - fx) + np.arccos((tr - fr) / apart)
            nx, ny = np.cos(normal), np.sin(normal)
            points.append((fx - fr * nx, fy - fr * ny, ny, -nx, 0.0))
            points.append((tx - tr * nx, ty - tr * ny, ny, -nx, 1 / tr))
        return Primitives(*np.array(points).T)

    (ax, ay), (bx, by) = (np.column_stack(of_truth(truth).centre)[k] for k in (3, 1))
    expected = least_squares(
        lambda p: root * algebraic(ring(p), x, y, owner),
        [ax, ay, 2.0, bx, by, 2.0],
        xtol=1e-14,
        ftol=1e-14,
        gtol=1e-14,
    )
    moments = Moments.of(x, y, weight, offsets)
    found = adjust(
        moments, rough(truth, seed), np.ones(4, bool), np.array([0, 4]), np.array([True])
    )
    assert found.chi.sum() == pytest.approx(2 * expected.cost, rel=1e-5)
    assert_allclose(found.primitives.curvature, ring(expected.x).curvature, rtol=1e-4, atol=1e-12)
    around = _joints(found.primitives, np.arange(4), np.array([1, 2, 3, 0]))[0]
    assert np.abs(around).max() < 1e-6
    # left open, the last tangent need not touch the first arc
    free = adjust(moments, rough(truth, seed), np.ones(4, bool), np.array([0, 4]))
    assert free.chi.sum() < found.chi.sum()


@pytest.mark.parametrize("name", CHAINS)
def test_joints_have_a_common_tangent(name):
    truth = sim.chain("x", CHAINS[name])
    count = len(truth.lengths)
    x, y, weight, offsets = observed(truth)
    found = adjust(
        Moments.of(x, y, weight, offsets), rough(truth), np.ones(count, bool), np.array([0, count])
    )
    first, second = np.arange(count - 1), np.arange(1, count)
    assert np.abs(_joints(found.primitives, first, second)[0]).max() < 1e-6


def test_a_corner_leaves_both_sides_free():
    truth = sim.chain(
        "x", [("line", 10.0), ("corner", 90.0), ("line", 10.0), ("arc", 5.0, 60.0), ("line", 8.0)]
    )
    x, y, weight, offsets = observed(truth)
    moments, smooth = Moments.of(x, y, weight, offsets), np.array([False, True, True, False])
    whole = adjust(moments, rough(truth), smooth, np.array([0, 4]))
    apart = adjust(moments, rough(truth), smooth, np.array([0, 1, 4]))
    assert_allclose(whole.chi, apart.chi, rtol=1e-9)
    line = fit_lines(moments, of_truth(truth))
    assert_allclose([whole.primitives.ux[0], whole.primitives.uy[0]], [line.ux[0], line.uy[0]])


def many(names, seeds):
    """Chains one after the other: moments, first estimates, smooth, offsets."""
    parts = [
        (sim.chain("x", CHAINS[name], start=(200.0 * k, 0.0)), seed)
        for k, (name, seed) in enumerate(zip(names, seeds))
    ]
    moments = Moments.concatenate([Moments.of(*observed(truth, seed)) for truth, seed in parts])
    curves = [rough(truth, seed) for truth, seed in parts]
    primitives = Primitives(
        *(
            np.concatenate([getattr(one, name) for one in curves])
            for name in ("x", "y", "ux", "uy", "curvature")
        )
    )
    size = [len(truth.lengths) for truth, _ in parts]
    return (
        moments,
        primitives,
        np.ones(len(primitives), bool),
        np.concatenate([[0], np.cumsum(size)]),
    )


def test_chains_at_once_equal_each_alone():
    moments, primitives, smooth, offsets = many(list(CHAINS) * 2, range(12))
    whole = adjust(moments, primitives, smooth, offsets)
    for a, b in zip(offsets[:-1], offsets[1:]):
        own = np.arange(a, b)
        alone = adjust(moments.take(own), primitives.take(own), smooth[own], np.array([0, b - a]))
        # stiff joints cost half of the digits, and the solver cuts a longer system into other
        # blocks
        assert_allclose(whole.primitives.curvature[own], alone.primitives.curvature, rtol=1e-6)
        assert_allclose(whole.primitives.x[own], alone.primitives.x, atol=1e-7)
        assert_allclose(whole.chi[own], alone.chi, rtol=1e-6)


def test_the_same_input_gives_the_same_result():
    arguments = many(CHAINS, range(6))
    one, other = adjust(*arguments), adjust(*arguments)
    for name in ("x", "y", "ux", "uy", "curvature"):
        assert_array_equal(getattr(one.primitives, name), getattr(other.primitives, name))


def test_kinds_and_sides_stay_and_the_bend_keeps_its_limits():
    moments, primitives, smooth, offsets = many(CHAINS, range(6))
    size = np.where(
        primitives.is_arc, np.clip(np.abs(primitives.curvature), 1 / 15.0, 1 / 5.5), 0.0
    )
    primitives = Primitives(
        primitives.x,
        primitives.y,
        primitives.ux,
        primitives.uy,
        np.sign(primitives.curvature) * size,
    )
    found = adjust(moments, primitives, smooth, offsets, None, (1 / 15.0, 1 / 5.5))
    assert_array_equal(np.sign(found.primitives.curvature), np.sign(primitives.curvature))
    radius = 1 / np.abs(found.primitives.curvature[found.primitives.is_arc])
    assert radius.min() >= 5.5 * (1 - 1e-9) and radius.max() <= 15.0 * (1 + 1e-9)


def test_nothing_to_adjust():
    none = np.zeros(0)
    moments = Moments.of(none, none, none, np.array([0]))
    found = adjust(moments, Primitives(none, none, none, none, none), none > 0, np.array([0]))
    assert len(found.primitives) == len(found.chi) == 0
    assert covariances(moments, found.primitives, none > 0, np.array([0])).shape == (0, 3, 3)


@pytest.mark.parametrize("name", ["curb return", "ring"])
def test_elements_without_positions_are_no_harm(name):
    parts = CHAINS.get(
        name, [("line", 12.0), ("arc", 2.0, 180.0), ("line", 12.0), ("arc", 2.0, 180.0)]
    )
    truth = sim.chain("x", parts, closed=name == "ring")
    count = len(truth.lengths)
    x, y, weight, offsets = observed(truth)
    weight[offsets[1] : offsets[2]] = 0.0  # the arc has positions, which do not count
    keep = np.r_[: offsets[1], offsets[2] : len(x)]  # or none at all
    fewer = offsets - np.where(np.arange(count + 1) > 1, offsets[2] - offsets[1], 0)
    for moments in (
        Moments.of(x, y, weight, offsets),
        Moments.of(x[keep], y[keep], weight[keep], fewer),
    ):
        found = adjust(
            moments,
            of_truth(truth),
            np.ones(count, bool),
            np.array([0, count]),
            np.array([truth.closed]),
        )
        for column in ("x", "y", "ux", "uy", "curvature"):
            assert np.isfinite(getattr(found.primitives, column)).all(), column
        first = np.arange(count if truth.closed else count - 1)
        misses = _joints(found.primitives, first, (first + 1) % count)[0]
        assert np.abs(misses).max() < 1e-4 and found.chi[1] == 0


# --- uncertainty
# ------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("parts", "closed"),
    [
        (CHAINS["curb return"], False),
        (CHAINS["compound"], False),
        (CHAINS["reversed"], False),
        ([("line", 12.0)], False),
        ([("line", 12.0), ("arc", 3.0, 180.0), ("line", 12.0), ("arc", 3.0, 180.0)], True),
    ],
)
def test_covariances_are_those_of_repeated_walks(parts, closed):
    truth, walks = sim.chain("x", parts, closed=closed), 1500
    count = len(truth.lengths)
    s = np.concatenate(
        [a + np.arange(0.35, length, 0.7) for a, length in zip(truth.joints[:-1], truth.lengths)]
    )
    number = np.diff(np.searchsorted(s, truth.joints))
    rng = np.random.default_rng(0)
    x, y = (
        np.tile(column, walks) + rng.normal(0, SIGMA, len(s) * walks)
        for column in truth.at(s)[:, :2].T
    )
    bounds = np.concatenate([[0], np.cumsum(np.tile(number, walks))])
    moments = Moments.of(x, y, np.full(len(x), SIGMA**-2), bounds)
    begin, offsets, rings = (
        of_truth(truth).take(np.tile(np.arange(count), walks)),
        count * np.arange(walks + 1),
        np.full(walks, closed),
    )
    smooth = np.ones(count * walks, bool)
    found = adjust(moments, begin, smooth, offsets, rings).primitives
    stated = (
        covariances(moments, found, smooth, offsets, rings).reshape(walks, count, 3, 3).mean(axis=0)
    )
    element = np.arange(len(begin))
    shift = begin.signed_distance(found.x, found.y, element)
    _, _, ux, uy = begin.at(begin.along(found.x, found.y, element), element)
    turn = np.arctan2(ux * found.uy - uy * found.ux, ux * found.ux + uy * found.uy)
    errors = np.stack([shift, turn, found.curvature - begin.curvature], axis=1).reshape(
        walks, count, 3
    )
    for k in range(count):
        seen = np.cov(errors[:, k].T)
        size = np.sqrt(np.diag(seen))
        used = np.arange(3 if truth.curvatures[k] else 2)
        # a variance of 1500 walks is known to 3.7 %
        assert_allclose(np.sqrt(np.diag(stated[k]))[used], size[used], rtol=0.08)
        correlation = (seen / np.outer(np.maximum(size, 1e-12), np.maximum(size, 1e-12)))[
            np.ix_(used, used)
        ]
        root = np.sqrt(np.diag(stated[k]))[used]
        assert_allclose(
            stated[k][np.ix_(used, used)] / np.outer(root, root), correlation, atol=0.12
        )
    assert (stated[truth.curvatures == 0][:, 2] == 0).all()


# --- the banded system
# ------------------------------------------------------------------------------------------------


def banded(count, half, seed=0):
    """A positive definite system as `_solve_banded` takes it: its matrix, the columns of the lower
    triangle, and a right side."""
    rng = np.random.default_rng(seed)
    columns = rng.normal(0, 0.2, (count, half + 1))
    columns[:, 0] = 3.0
    matrix = np.zeros((count, count))
    for column in range(count):
        for down in range(half + 1):
            row = column + down
            if row >= count:
                columns[column, down] = 0.0
            else:
                matrix[row, column] = matrix[column, row] = columns[column, down]
    return matrix, columns, rng.normal(0, 1, count)


@pytest.mark.parametrize("half", [5, 8])
def test_the_banded_system_is_solved(half):
    matrix, columns, load = banded(60, half)
    room = np.vstack([np.zeros((half, half + 1)), columns])
    assert_allclose(_solve_banded(room, load.copy()), np.linalg.solve(matrix, load), rtol=1e-9)


@pytest.mark.parametrize("half", [5, 8])
def test_its_digits_do_not_depend_on_what_lies_before_it(half):
    _, columns, load = banded(60, half)
    outs = []
    for before in range(9):
        room = np.zeros((half + before + 60, half + 1))
        room[half : half + before, 0] = 1.0
        room[half + before :] = columns
        outs.append(_solve_banded(room, np.append(np.zeros(before), load))[before:])
    for out in outs[1:]:
        assert_array_equal(out, outs[0])


def test_a_system_that_is_not_positive_definite():
    room = np.zeros((10, 6))
    room[5:, 0] = [1.0, 1.0, -1.0, 1.0, 1.0]
    with pytest.raises(np.linalg.LinAlgError, match="positive definite"):
        _solve_banded(room, np.ones(5))
